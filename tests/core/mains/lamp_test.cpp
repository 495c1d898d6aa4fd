#include "core/mains/lamp.h"

#include "data/rows.h"
#include "support/catch.h"

#include <rapidcheck.h>

#include <cmath>
#include <string>

using namespace railside;

namespace {

/// The simulated unit: 2 x 29.5 V, 0.15 ohm each, 47 kohm across the primary.
MainsUnit simulated(double load_ohm) {
    return {.mains_v = 230,
            .peak_v = 29.5 * std::sqrt(2.0),
            .winding_ohm = 0.15,
            .own_w = 230.0 * 230.0 / 47000,
            .demand = {40 / load_ohm, 40, 1}};
}

MainsUnit any_unit() {
    const auto part = [] { return *rc::gen::inRange(0, 1001) / 1000.0; };
    MainsUnit unit;
    unit.mains_v = 100 + 140 * part();
    unit.winding_ohm = 0.05 * std::pow(100, part());
    unit.own_w = 20 * part();
    const double rail_v = 15 + 85 * part();
    const double idle_a = 0.01 * std::pow(300, part());
    unit.demand = {idle_a, rail_v, 3 * part()};
    unit.peak_v = peak_for_rail(rail_v, idle_a, unit.winding_ohm, unit.drop_v);
    return unit;
}

Lamp any_lamp(double mains_v) {
    Lamp lamp;
    lamp.rated_w = 15 * std::pow(20, *rc::gen::inRange(0, 1001) / 1000.0);
    lamp.rated_v = mains_v;
    lamp.gas_share = 0.05 * *rc::gen::inRange(0, 2);
    return lamp;
}

} // namespace

TEST_CASE("lamp: resistance and temperature against volts", "[core][mains]") {
    const Lamp lamp{60, 230};
    for (const auto& row : test_data::rows_of("lamp_filament.csv")) {
        const double filament_k = filament_at_volts(lamp, 230 * row.number("part_of_volts"));
        INFO(row.text("part_of_volts"));
        CHECK(near(filament_k, row.number("kelvin"), 1e-4));
        CHECK(near(lamp_ohm(lamp, filament_k), row.number("ohm"), 1e-4));
    }
    CHECK(near(lamp_hot_ohm(lamp), 881.667, 1e-5));
    // Cold, about a fifteenth.
    CHECK(near(lamp_hot_ohm(lamp) / lamp_ohm(lamp, 300), 14.6, 5e-3));
    CHECK(filament_at_volts(lamp, 0) == 300);
}

TEST_CASE("lamp: heat carried off by the gas lowers the resistance where it hardly glows",
          "[core][mains]") {
    const Lamp vacuum{60, 230};
    Lamp gas = vacuum;
    gas.gas_share = 0.03;
    // 10 to 20 % below a tenth of rated volts, nothing at rated volts.
    const auto ratio = [&](double part) {
        return lamp_ohm(gas, filament_at_volts(gas, 230 * part)) /
               lamp_ohm(vacuum, filament_at_volts(vacuum, 230 * part));
    };
    CHECK(ratio(0.06) < 0.90);
    CHECK(ratio(0.06) > 0.80);
    CHECK(near(ratio(1), 1, 1e-9));
}

TEST_CASE("lamp: the simulated lamp, transformer and rectifier", "[core][mains]") {
    // Circuit simulation; 3 % lamp, 0.5 % rail. Stated for the textbook form: 5 and 3 %.
    for (const auto& row : test_data::rows_of("lamp_points.csv")) {
        const LampPoint point =
            on_lamp({row.number("lamp_w"), 230}, simulated(row.number("load_ohm")));
        INFO(row.text("lamp_w") << " W, " << row.text("load_ohm") << " ohm");
        CHECK(near(point.lamp_v, row.number("lamp_v"), 0.04));
        CHECK(near(point.lamp_a, row.number("lamp_a"), 0.03));
        CHECK(near(point.rail_v, row.number("rail_v"), 0.005));
        CHECK(near(point.filament_k, row.number("filament_k"), 0.01));
        CHECK(near_abs(point.unit_v, row.number("unit_v"), 2));
    }
}

TEST_CASE("lamp: what the simulated unit draws is read back from its filament", "[core][mains]") {
    for (const auto& row : test_data::rows_of("lamp_points.csv")) {
        const double load_ohm = row.number("load_ohm");
        if (load_ohm > 1000 || load_ohm < 1) {
            continue; // the lamp says little at both ends
        }
        const LampPoint drawn =
            drawn_at({row.number("lamp_w"), 230}, simulated(load_ohm), row.number("filament_k"));
        INFO(row.text("lamp_w") << " W, " << load_ohm << " ohm");
        CHECK(near_abs(drawn.rail_v, row.number("rail_v"), 0.4)); // 1 % of the full rail
        CHECK(near(drawn.rail_a, row.number("rail_v") / load_ohm, 0.02));
    }
}

TEST_CASE("lamp: power is neither made nor lost", "[core][mains]") {
    CHECK(rc::check([] {
        const MainsUnit unit = any_unit();
        const Lamp lamp = any_lamp(unit.mains_v);
        const LampPoint point = on_lamp(lamp, unit);
        RC_ASSERT(near_abs(point.lamp_v * point.lamp_a, lamp_loss_w(lamp, point.filament_k),
                           1e-6 * lamp.rated_w));
        RC_ASSERT(point.lamp_v <= unit.mains_v * 1.0001);
        RC_ASSERT(point.unit_v <= unit.mains_v * 1.0001);
        RC_ASSERT(near_abs(point.rail_a, demand_a(unit.demand, point.rail_v),
                           1e-6 + 1e-4 * point.rail_a));
        // Series parts: each less than the mains, together no less.
        RC_ASSERT(point.lamp_v + point.unit_v >= unit.mains_v * 0.999);
    }));
}

TEST_CASE("lamp: more demand burns brighter and leaves less; a larger lamp leaves more",
          "[core][mains]") {
    CHECK(rc::check([] {
        const MainsUnit unit = any_unit();
        const Lamp lamp = any_lamp(unit.mains_v);
        const LampPoint point = on_lamp(lamp, unit);
        MainsUnit hungrier = unit;
        hungrier.demand.current_a *= 1.4;
        const LampPoint more = on_lamp(lamp, hungrier);
        RC_ASSERT(more.filament_k >= point.filament_k - 1e-6);
        RC_ASSERT(more.rail_v <= point.rail_v + 1e-6);
        Lamp larger = lamp;
        larger.rated_w *= 1.5;
        RC_ASSERT(on_lamp(larger, unit).rail_v >= point.rail_v - 1e-6);
        // The lamp only ever takes.
        RC_ASSERT(without_lamp(unit).rail_v >= point.rail_v - 1e-6);
        RC_ASSERT(near(without_lamp(unit).rail_v, unit.demand.rail_v, 1e-6));
    }));
}

TEST_CASE("lamp: what is drawn and what it makes of the lamp lead back to each other",
          "[core][mains]") {
    CHECK(rc::check([] {
        const MainsUnit unit = any_unit();
        const Lamp lamp = any_lamp(unit.mains_v);
        const LampPoint point = on_lamp(lamp, unit);
        RC_PRE(point.rail_v > 0.5);
        const LampPoint drawn = drawn_at(lamp, unit, point.filament_k);
        RC_ASSERT(near_abs(drawn.rail_v, point.rail_v, 1e-4 * unit.demand.rail_v));
    }));
}

TEST_CASE("lamp: glow by temperature, and the eye's blur at each border", "[core][mains]") {
    CHECK(glow_of(300) == Glow::dark);
    CHECK(glow_of(1000) == Glow::dim);
    CHECK(glow_of(1800) == Glow::bright);
    CHECK(glow_of(2700) == Glow::full);
    const Lamp lamp;
    // Visible from 800 to 900 K.
    CHECK(glow_range(lamp, Glow::dark).high_k == 900);
    CHECK(glow_range(lamp, Glow::dim).low_k == 800);
    for (const Glow glow : {Glow::dark, Glow::dim, Glow::bright}) {
        const auto next = static_cast<Glow>(static_cast<int>(glow) + 1);
        CHECK(glow_range(lamp, glow).high_k > glow_range(lamp, next).low_k);
        CHECK_FALSE(glow_label(glow).empty());
    }
}

TEST_CASE("lamp: the flash lasts longer with more to charge and a smaller lamp", "[core][mains]") {
    const MainsUnit unit = simulated(400);
    const double usual_s = flash_s({60, 230}, unit, 0.01);
    CHECK(near(flash_s({60, 230}, unit, 0.02), 2 * usual_s, 1e-9));
    CHECK(flash_s({40, 230}, unit, 0.01) > usual_s);
    // The charge of 33 V in 10 mF at the most the lamp lets through, 0.89 A, and more.
    CHECK(usual_s > 0.33 / 0.89);
    CHECK(usual_s < 3);
}
