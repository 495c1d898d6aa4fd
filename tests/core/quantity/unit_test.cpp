#include "core/quantity/unit.h"

#include "support/catch.h"

#include <cmath>
#include <set>
#include <string>

using namespace railside;

namespace {
constexpr int k_unit_count = 13;
}

TEST_CASE("unit: every unit has a key of its own that leads back to it", "[core][quantity]") {
    std::set<std::string> keys;
    for (int i = 0; i < k_unit_count; ++i) {
        const UnitInfo& info = unit_info(static_cast<Unit>(i));
        CAPTURE(i, info.key);
        CHECK(info.unit == static_cast<Unit>(i));
        CHECK(keys.insert(std::string(info.key)).second);
        CHECK(info.key.find_first_not_of("abcdefghijklmnopqrstuvwxyz_") == std::string_view::npos);
        CHECK(unit_from_key(info.key) == info.unit);
        CHECK(info.word.empty() == (info.unit == Unit::ratio));
        CHECK(info.symbol.empty() == (info.unit == Unit::ratio));
    }
    CHECK_FALSE(unit_from_key("").has_value());
    CHECK_FALSE(unit_from_key("Volt").has_value());
    CHECK_FALSE(unit_from_key("volt ").has_value());
}

TEST_CASE("unit: prefixes rise, always hold none, and are SI's", "[core][quantity]") {
    // SI brochure, 9th edition, table 7: each name has one letter and one power.
    const auto all = all_prefixes();
    REQUIRE(all.size() == 7);
    CHECK(all.front().letter == "p");
    CHECK(all.front().exponent == -12);
    CHECK(all.front().word == "pico");
    CHECK(all[2].letter == "\u00b5");
    CHECK(all[2].exponent == -6);
    CHECK(all[4].letter.empty());
    CHECK(all.back().letter == "M");
    CHECK(all.back().exponent == 6);
    CHECK(all.back().word == "mega");
    for (int i = 0; i < k_unit_count; ++i) {
        const auto prefixes = unit_info(static_cast<Unit>(i)).prefixes;
        CAPTURE(i);
        int nones = 0;
        for (std::size_t j = 0; j < prefixes.size(); ++j) {
            nones += prefixes[j].exponent == 0 && prefixes[j].letter.empty() ? 1 : 0;
            CHECK((j == 0 || prefixes[j - 1].exponent < prefixes[j].exponent));
        }
        CHECK(nones == 1);
    }
}

TEST_CASE("unit: temperatures, percentages, angles and plain numbers take no prefix",
          "[core][quantity]") {
    for (const Unit unit : {Unit::ratio, Unit::percent, Unit::celsius, Unit::kelvin,
                            Unit::kelvin_per_watt, Unit::degree}) {
        CHECK(unit_info(unit).prefixes.size() == 1);
    }
    CHECK(unit_info(Unit::ohm).prefixes.front().letter == "m");
    CHECK(unit_info(Unit::ohm).prefixes.back().letter == "M");
    CHECK(unit_info(Unit::farad).prefixes.front().letter == "p");
}
