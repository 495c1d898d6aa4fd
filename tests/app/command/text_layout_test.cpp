#include "app/command/text_layout.h"

#include "support/catch.h"

#include <sstream>

using namespace railside;

TEST_CASE("text layout: a character of several bytes is one column", "[app][command]") {
    CHECK(text_columns("") == 0);
    CHECK(text_columns("12 mV") == 5);
    CHECK(text_columns("±0.22\u2009Ω") == 7);
    CHECK(text_columns("\u22121") == 2);
}

TEST_CASE("text layout: lines break at spaces, never inside a value with its unit",
          "[app][command]") {
    CHECK(wrapped_text("one two three", "", 8) == "one two\nthree\n");
    CHECK(wrapped_text("one two", "- ", 5) == "- one\n  two\n");
    CHECK(wrapped_text("96\u2009mV or 436\u2009mA", "", 8) == "96\u2009mV or\n436\u2009mA\n");
    CHECK(wrapped_text("unbreakable", "", 4) == "unbreakable\n");
    CHECK(wrapped_text("", "  ", 10) == "\n");
    CHECK(wrapped_text("  spaces   fall away ", "", 40) == "spaces fall away\n");
}

TEST_CASE("text layout: columns line up by characters and the last one wraps", "[app][command]") {
    TextTable table;
    table.add({"Ω", "", "x", "last words here"});
    table.add({"ohm", "", "yy", "z"});
    // "  " + 3 + 2 + 2 + 2 = 11 columns stand before the last one; the empty column takes none
    CHECK(table.text(2, 22) == "  Ω    x   last words\n           here\n  ohm  yy  z\n");
    CHECK(TextTable().text(2).empty());
}
