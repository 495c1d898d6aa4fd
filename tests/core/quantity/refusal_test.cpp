#include "core/quantity/refusal.h"

#include "support/catch.h"

using namespace railside;

TEST_CASE("refusal: what was typed is quoted so that any message stays well-formed",
          "[core][quantity]") {
    CHECK(quoted("4k7k") == "\"4k7k\"");
    CHECK(printable("12 \u00b5V \u2212 \U0001f50c") == "12 \u00b5V \u2212 \U0001f50c");
    CHECK(printable("a\nb\x7f") == "a\ufffdb\ufffd");
    CHECK(printable("\xff") == "\ufffd");
    CHECK(printable("\xc2") == "\ufffd");                               // cut short
    CHECK(printable("\xc0\x80") == "\ufffd\ufffd");                     // longer than needed
    CHECK(printable("\xed\xa0\x80") == "\ufffd\ufffd\ufffd");           // half a surrogate pair
    CHECK(printable("\xe0\x80\x80") == "\ufffd\ufffd\ufffd");           // longer than needed
    CHECK(printable("\xf4\x90\x80\x80") == "\ufffd\ufffd\ufffd\ufffd"); // beyond U+10FFFF
    CHECK(printable("\xf0\x8f\xbf\xbf") == "\ufffd\ufffd\ufffd\ufffd"); // longer than needed
    CHECK(printable(std::string(41, 'x')) == std::string(40, 'x') + "\u2026");
    CHECK(printable(std::string(40, 'x')) == std::string(40, 'x'));
}

TEST_CASE("refusal: the field leads the sentence when there is one", "[core][quantity]") {
    CHECK(refusal(ErrorCode::bad_text, "Load", "\"x\" is wrong.") ==
          Error{ErrorCode::bad_text, "Load", "Load: \"x\" is wrong."});
    CHECK(refusal(ErrorCode::refused, "", "No.") == Error{ErrorCode::refused, "", "No."});
}

TEST_CASE("refusal: well-formed text is told from bytes", "[core][quantity]") {
    CHECK(well_formed(""));
    CHECK(well_formed("12 \u00b5V \u2212 \U0001f50c\n"));
    CHECK_FALSE(well_formed("a\xff"));
    CHECK_FALSE(well_formed("\xc2"));
    CHECK_FALSE(well_formed("\xed\xa0\x80"));
}
