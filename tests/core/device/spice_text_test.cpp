#include "core/device/spice_text.h"

#include "support/catch.h"

#include <string>
#include <vector>

using namespace railside;

TEST_CASE("spice text: lines are joined, comments taken away, numbers kept", "[core][device]") {
    const auto lines = spice_lines("* comment\n"
                                   "R1 a b 1k ; the load\r\n"
                                   "\r\n"
                                   ".model q npn(is=1e-14\n"
                                   "* between\n"
                                   "+ bf=100 $ gain\n"
                                   "  +nf=1)\r"
                                   "C1 a$b 0 1u // small\n"
                                   "  * indented comment",
                                   2);
    REQUIRE(lines.size() == 3);
    CHECK(lines[0].text == "R1 a b 1k");
    CHECK(lines[0].line == 3);
    CHECK(lines[1].text == ".model q npn(is=1e-14  bf=100 nf=1)");
    CHECK(lines[1].line == 5);
    CHECK(lines[2].text == "C1 a$b 0 1u");
    CHECK(lines[2].line == 9);
    CHECK(spice_lines("").empty());
    CHECK(spice_lines("+ bf=100").front().text == "+ bf=100");
}

TEST_CASE("spice text: words are parted by blanks, commas and brackets", "[core][device]") {
    CHECK(spice_words("Vin a,b sin(0 1\t1k) R={2*(x + 1)} S='a b'") ==
          std::vector<std::string>{"Vin", "a", "b", "sin", "0", "1", "1k", "R", "=", "{2*(x + 1)}",
                                   "S", "=", "'a b'"});
    CHECK(spice_words("a={b{c}d}e") == std::vector<std::string>{"a", "=", "{b{c}d}", "e"});
    CHECK(spice_words("a={open (") == std::vector<std::string>{"a", "=", "{open ("});
    CHECK(spice_words(" ( , ) ").empty());
}

TEST_CASE("spice text: letters in either case are equal, other bytes are themselves",
          "[core][device]") {
    CHECK(spice_lower("QON_\u00b5Z") == "qon_\u00b5z");
    CHECK(spice_equal("Q1", "q1"));
    CHECK_FALSE(spice_equal("Q1", "q"));
    CHECK(spice_place("a.cir", 7) == "a.cir, line 7");
    CHECK(spice_list(std::vector<std::string>{"a", "b", "c"}) == "a, b and c");
}
