#include "core/stage/idle.h"

#include "support/catch.h"

#include <rapidcheck.h>

#include <algorithm>
#include <cmath>

using namespace railside;

namespace {

double between(int parts, double low, double high) {
    return low * std::pow(high / low, parts / 1000.0);
}

/// An amount with a random tolerance of up to 20 %.
Amount any_amount(double low, double high, Unit unit) {
    const double value = between(*rc::gen::inRange(0, 1001), low, high);
    const double tolerance = *rc::gen::inRange(0, 201) / 1000.0;
    return {value, value * (1 - tolerance), value * (1 + tolerance), unit};
}

/// A point inside an amount.
double any_point(const Amount& amount) {
    return amount.low + (amount.high - amount.low) * (*rc::gen::inRange(0, 1001) / 1000.0);
}

bool holds(const Amount& amount, double value) {
    const double slack = 1e-12 * std::abs(value);
    return amount.low - slack <= value && value <= amount.high + slack;
}

} // namespace

TEST_CASE("idle: 20 mV across 0.22 ohm is 90.909 mA", "[core][stage]") {
    // Circuit simulation 90.909 mA; tolerance 0.1 %.
    const Amount idle =
        idle_current(Amount::exact(0.020, Unit::volt), Amount::exact(0.22, Unit::ohm));
    CHECK(near(idle.value, 0.090909, 1e-3));
    CHECK(idle.unit == Unit::ampere);
}

TEST_CASE("idle: the reading across both ends is shared by both resistors", "[core][stage]") {
    const Amount reading{0.040, 0.038, 0.042, Unit::volt};
    const Amount one = reading_of_one(reading, Across::both);
    CHECK(one == Amount{0.020, 0.019, 0.021, Unit::volt});
    CHECK(reading_of_one(reading, Across::one) == reading);
}

TEST_CASE("idle: a meter that may read below zero still means no current below zero",
          "[core][stage]") {
    const Amount one = reading_of_one({0.0005, -0.0025, 0.0035, Unit::volt}, Across::one);
    CHECK(one.low == 0);
    CHECK(one.value == 0.0005);
}

TEST_CASE("idle: resistor tolerance and meter accuracy both widen the current", "[core][stage]") {
    // 96 mV ±1 % across 0.22 ohm ±5 %: 95.04/0.231 = 411.4 mA to 96.96/0.209 = 463.9 mA, exact
    // arithmetic.
    const Amount idle =
        idle_current({0.096, 0.09504, 0.09696, Unit::volt}, {0.22, 0.209, 0.231, Unit::ohm});
    CHECK(near(idle.low, 0.411429, 1e-5));
    CHECK(near(idle.value, 0.436364, 1e-5));
    CHECK(near(idle.high, 0.463923, 1e-5));
}

TEST_CASE("idle: heat is the current times what the rail leaves", "[core][stage]") {
    // Circuit simulation of the 40 V stage at 20 mV gives 3.60252 W of collector heat; Iq·(Vcc −
    // V_RE) = 3.6345 W counts the fuse and the base current as well. Tolerance 2 %.
    const Amount heat =
        idle_dissipation(Amount::exact(0.020, Unit::volt), Amount::exact(0.22, Unit::ohm),
                         Amount::exact(40, Unit::volt));
    CHECK(near(heat.value, 3.60252, 0.02));
    CHECK(near(heat.value, 0.020 / 0.22 * 39.98, 1e-12));
}

TEST_CASE("idle: class A power is (2·n·Iq)²·RL/2 until the rail limits", "[core][stage]") {
    const Amount load = Amount::exact(8, Unit::ohm);
    const Amount rail = Amount::exact(40, Unit::volt);
    // 2·2·0.1 A = 0.4 A peak into 8 ohm: 0.64 W.
    CHECK(near(class_a_power(Amount::exact(0.1, Unit::ampere), 2, load, rail).value, 0.64, 1e-12));
    // 20 A peak into 8 ohm cannot be: 40²/16 = 100 W.
    CHECK(near(class_a_power(Amount::exact(10, Unit::ampere), 1, load, rail).value, 100, 1e-12));
}

TEST_CASE("idle: every interval holds what any values inside the inputs give", "[core][stage]") {
    CHECK(rc::check([] {
        const Amount reading = any_amount(1e-5, 5, Unit::volt);
        const Amount emitter = any_amount(0.01, 10, Unit::ohm);
        const Amount rail = any_amount(5, 200, Unit::volt);
        const Amount load = any_amount(1, 64, Unit::ohm);
        const int pairs = *rc::gen::inRange(1, 13);
        const double reading_v = any_point(reading);
        const double emitter_ohm = any_point(emitter);
        const double rail_v = any_point(rail);
        const double load_ohm = any_point(load);

        const Amount idle = idle_current(reading, emitter);
        const double idle_a = reading_v / emitter_ohm;
        RC_ASSERT(idle.low <= idle.value);
        RC_ASSERT(idle.value <= idle.high);
        RC_ASSERT(holds(idle, idle_a));

        const Amount heat = idle_dissipation(reading, emitter, rail);
        RC_ASSERT(heat.low <= heat.value);
        RC_ASSERT(heat.value <= heat.high);
        RC_ASSERT(holds(heat, idle_a * std::max(rail_v - reading_v, 0.0)));

        const Amount power = class_a_power(idle, pairs, load, rail);
        const double peak_v = std::min(2 * pairs * idle_a * load_ohm, rail_v);
        RC_ASSERT(power.low <= power.value);
        RC_ASSERT(power.value <= power.high);
        RC_ASSERT(holds(power, peak_v * peak_v / (2 * load_ohm)));
    }));
}

TEST_CASE("idle: more resistance never means more current", "[core][stage]") {
    CHECK(rc::check([] {
        const Amount reading = any_amount(1e-5, 5, Unit::volt);
        const Amount emitter = any_amount(0.01, 10, Unit::ohm);
        const double more = 1 + *rc::gen::inRange(1, 1000) / 100.0;
        const Amount larger{emitter.value * more, emitter.low * more, emitter.high * more,
                            Unit::ohm};
        const Amount idle = idle_current(reading, emitter);
        const Amount less = idle_current(reading, larger);
        RC_ASSERT(less.value <= idle.value);
        RC_ASSERT(less.low <= idle.low);
        RC_ASSERT(less.high <= idle.high);
    }));
}

TEST_CASE("idle: the generic internal resistance holds both simulated stages", "[core][stage]") {
    // 0.061 and 0.037 ohm from the devices' own constants.
    const Amount internal = generic_internal_resistance();
    CHECK(internal.low < 0.037);
    CHECK(internal.high > 0.061);
    CHECK(internal.low < internal.value);
    CHECK(internal.value < internal.high);
}
