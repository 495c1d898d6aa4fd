#include "core/job/reading.h"

#include "support/catch.h"

#include <set>

using namespace railside;

TEST_CASE("reading: every kind has a key that leads back and a label", "[core][job]") {
    std::set<std::string_view> keys;
    for (const ReadingKindInfo& info : all_reading_kinds()) {
        CHECK(reading_kind_from_key(info.key) == info.kind);
        CHECK(&reading_kind_info(info.kind) == &info);
        CHECK_FALSE(info.label.empty());
        keys.insert(info.key);
    }
    CHECK(keys.size() == 10);
    CHECK(reading_kind_from_key("torque") == ReadingKind::other);
    CHECK(reading_kind_info(ReadingKind::gain).unit == Unit::ratio);
    CHECK_FALSE(reading_kind_info(ReadingKind::other).unit.has_value());
}

TEST_CASE("reading: conditions are words and minutes, said in one line", "[core][job]") {
    CHECK(print_conditions({}).empty());
    CHECK(print_conditions({Power::lamp, "", Warmth::warm, 12}) ==
          "on the lamp, warm, 12\u2009min after power-up");
    CHECK(print_conditions({Power::mains, "", Warmth::unsaid, std::nullopt}) == "on full mains");
    CHECK(print_conditions({Power::off, "", Warmth::cold, std::nullopt}) == "power off, cold");
    CHECK(print_conditions({Power::unsaid, "", Warmth::unsaid, 0.5}) ==
          "0.5\u2009min after power-up");
    for (const Power power : {Power::unsaid, Power::off, Power::lamp, Power::mains})
        CHECK(power_from_key(power_key(power)) == power);
    for (const Warmth warmth : {Warmth::unsaid, Warmth::cold, Warmth::warm})
        CHECK(warmth_from_key(warmth_key(warmth)) == warmth);
    CHECK_FALSE(power_from_key("solar").has_value());
    CHECK_FALSE(warmth_from_key("tepid").has_value());
}
