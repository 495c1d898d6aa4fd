#include "core/heat/sink.h"

#include "support/catch.h"

#include <rapidcheck.h>

#include <array>
#include <set>
#include <string>

using namespace railside;

TEST_CASE("sink: outputs and drivers on one sink", "[core][heat]") {
    // 35 °C, 0.7 K/W, two outputs 20 W (1.0 + 0.5), two drivers 3 W (4.0 + 1.0): exact arithmetic.
    const std::array devices{Mounted{20, 1.0, 0.5}, Mounted{20, 1.0, 0.5}, Mounted{3, 4.0, 1.0},
                             Mounted{3, 4.0, 1.0}};
    const SinkTemperature at = sink_temperature(35, 0.7, devices);
    CHECK(near(at.sink_c, 67.2, 1e-9));
    REQUIRE(at.devices.size() == 4);
    CHECK(near(at.devices[0].junction_c, 97.2, 1e-9));
    CHECK(near(at.devices[0].case_c, 77.2, 1e-9));
    CHECK(near(at.devices[3].junction_c, 82.2, 1e-9));
    CHECK(sink_temperature(35, 0.7, {}).sink_c == 35);
}

TEST_CASE("sink: its resistance comes back from its temperature", "[core][heat]") {
    CHECK(rc::check([] {
        const double ambient_c = *rc::gen::inRange(-20, 60);
        const double sink_k_per_w = *rc::gen::inRange(1, 1000) / 100.0;
        const double power_w = *rc::gen::inRange(1, 200);
        const std::array device{Mounted{power_w, 1, 1}};
        const auto back = sink_resistance(
            ambient_c, sink_temperature(ambient_c, sink_k_per_w, device).sink_c, power_w);
        RC_ASSERT(back.ok());
        RC_ASSERT(near(*back, sink_k_per_w, 1e-9));
    }));
}

TEST_CASE("sink: no warmer than the air, or no power, is a contradiction", "[core][heat]") {
    CHECK(sink_resistance(25, 25, 10).error().code == ErrorCode::contradictory);
    const auto colder = sink_resistance(25, 20, 10);
    REQUIRE_FALSE(colder.ok());
    CHECK(colder.error().message.find("20\u2009°C") != std::string::npos);
    CHECK(colder.error().message.find("25\u2009°C") != std::string::npos);
    CHECK_FALSE(sink_resistance(25, 60, 0).ok());
}

TEST_CASE(
    "sink: derating runs straight from the rating at 25 °C to nothing at the junction's limit",
    "[core][heat]") {
    // 150 W, 150 °C: 1.2 W/K.
    CHECK(derated_power_w(150, 150, 25) == 150);
    CHECK(derated_power_w(150, 150, -10) == 150);
    CHECK(near(derated_power_w(150, 150, 75), 90, 1e-12));
    CHECK(near(derated_power_w(150, 150, 77.2), 87.36, 1e-9));
    CHECK(derated_power_w(150, 150, 150) == 0);
    CHECK(derated_power_w(150, 150, 300) == 0);
    CHECK(derated_power_w(150, 25, 20) == 0);
    // At the derated power the junction sits at its limit, when R_JC is what the rating implies.
    CHECK(rc::check([] {
        const double rated_w = *rc::gen::inRange(1, 300);
        const double case_c = *rc::gen::inRange(25, 150);
        const double junction_c = case_c + derated_power_w(rated_w, 150, case_c) *
                                               implied_junction_case_k_per_w(rated_w, 150);
        RC_ASSERT(near(junction_c, 150, 1e-9));
    }));
}

TEST_CASE("sink: every washer is named once, in order, and better greased than dry",
          "[core][heat]") {
    std::set<std::string_view> keys;
    for (const WasherInfo& info : washers()) {
        INFO(info.key);
        CHECK(keys.insert(info.key).second);
        CHECK(washer_from_key(info.key) == info.washer);
        CHECK(&washer_info(info.washer) == &info);
        for (const CaseSize size : {CaseSize::large, CaseSize::small}) {
            const Interval& range = case_sink_k_per_w(info.washer, size);
            CHECK(range.low > 0);
            CHECK(range.low < range.value);
            CHECK(range.value < range.high);
        }
        CHECK(info.large_k_per_w.value < info.small_k_per_w.value);
        CHECK((info.washer == Washer::beryllia) == !info.caution.empty());
    }
    CHECK(keys.size() == 7);
    CHECK_FALSE(washer_from_key("paper"));
    const auto large = [](Washer washer) { return case_sink_k_per_w(washer, CaseSize::large); };
    CHECK(large(Washer::bare_grease).value < large(Washer::none).value);
    CHECK(large(Washer::bare_grease).value < large(Washer::mica_grease).value);
    // 0.05 to 0.1 mm of mica, 0.5 W/(m·K), on 450 mm² of a TO-3 and two greased joints of 0.07 K/W
    // each: 0.36 to 0.58 K/W.
    CHECK(large(Washer::mica_grease).low <= 0.36);
    CHECK(large(Washer::mica_grease).high >= 0.58);
    // 0.2 mm of silicone, 0.9 W/(m·K), on 350 mm²: 0.63 K/W and its dry joints.
    CHECK(contains(large(Washer::silicone_pad), 0.63));
}
