#include "core/stage/cycle_circuit.h"

#include "data/rows.h"
#include "simulated_stages.h"
#include "support/catch.h"

#include <rapidcheck.h>

#include <cmath>
#include <numbers>
#include <string>

using namespace railside;

namespace {

CircuitCycle cycle_of(const StageValues& values, const CircuitSine& sine) {
    auto cycle = circuit_cycle(values, sine);
    INFO((cycle ? std::string() : cycle.error().message));
    REQUIRE(cycle);
    return std::move(cycle).value();
}

/// A simulated amplifier's stage with exactly 20 mV across R_E at rest.
StageValues at_service(const std::string& amp) {
    StageValues values = simulated::stage(amp);
    values.spreader = SpreaderForReading{0.020};
    return values;
}

double part() { return *rc::gen::inRange(0, 1001) / 1000.0; }

} // namespace

TEST_CASE("cycle circuit: heat of outputs and drivers, level and phase, as in simulation",
          "[core][stage]") {
    // Outputs 1.5 %, drivers 3 %: base charge at 1 kHz and the loudspeaker's network are left out.
    for (const auto& row : test_data::rows_of("dissipation_circuit.csv")) {
        const CircuitCycle cycle =
            cycle_of(at_service(row.text("amp")), {.level_v = row.number("level_v"),
                                                   .load_ohm = 8,
                                                   .phase_deg = row.number("phase_deg")});
        INFO(row.text("amp") << " " << row.number("level_v") << " V, " << row.number("phase_deg"));
        CHECK(near(cycle.plus.average_w, row.number("plus_w"), 0.015));
        CHECK(near(cycle.minus.average_w, row.number("minus_w"), 0.015));
        CHECK(near(cycle.plus.peak_w, row.number("plus_peak_w"), 0.015));
        CHECK(near(cycle.minus.peak_w, row.number("minus_peak_w"), 0.015));
        CHECK(near(cycle.driver_plus_w, row.number("driver_plus_w"), 0.03));
        CHECK(near(cycle.driver_minus_w, row.number("driver_minus_w"), 0.03));
    }
}

TEST_CASE("cycle circuit: what the supply gives is heat or output", "[core][stage]") {
    // Outputs, drivers, load; the rest, in the driver, emitter and rail resistors and the voltage
    // amplifier's branch, is small.
    const CircuitCycle cycle = cycle_of(at_service("a_ef2"), {.level_v = 20});
    CHECK(near(cycle.load_w, 20.0 * 20 / 16, 1e-3));
    const double devices_w = cycle.plus.average_w + cycle.minus.average_w + cycle.driver_plus_w +
                             cycle.driver_minus_w + cycle.load_w;
    CHECK(devices_w < cycle.supply_w);
    CHECK(near(devices_w, cycle.supply_w, 0.05));
}

TEST_CASE("cycle circuit: at no level it is the idle heat", "[core][stage]") {
    const CircuitCycle cycle = cycle_of(at_service("a_ef2"), {.level_v = 0});
    CHECK(near(cycle.plus.average_w, 3.60252, 0.01)); // simulated
    CHECK(near(cycle.plus.peak_w, cycle.plus.average_w, 1e-6));
    CHECK(cycle.plus.line.size() == 97);
}

TEST_CASE("cycle circuit: pairs share alike", "[core][stage]") {
    StageValues values = at_service("a_ef2");
    values.pairs = 2;
    const CircuitCycle two = cycle_of(values, {.level_v = 20, .load_ohm = 4});
    // Two pairs at 4 ohm do what one does at 8, but for what the drivers and the rail's resistance
    // add: 3 %.
    const CircuitCycle one = cycle_of(at_service("a_ef2"), {.level_v = 20, .load_ohm = 8});
    CHECK(near(two.plus.average_w, one.plus.average_w, 0.03));
    CHECK(near(two.plus.peak_w, one.plus.peak_w, 0.03));
}

TEST_CASE("cycle circuit: beyond clip and out of range are refused", "[core][stage]") {
    const StageValues values = at_service("a_ef2");
    const auto clipped = circuit_cycle(values, {.level_v = 60});
    REQUIRE_FALSE(clipped);
    CHECK(clipped.error().code == ErrorCode::contradictory);
    CHECK(clipped.error().message.find("60") != std::string::npos);
    for (const CircuitSine& sine : {CircuitSine{.level_v = -1}, CircuitSine{.load_ohm = 0},
                                    CircuitSine{.phase_deg = 91}, CircuitSine{.steps = 4}}) {
        const auto refused = circuit_cycle(values, sine);
        REQUIRE_FALSE(refused);
        CHECK(refused.error().code == ErrorCode::out_of_range);
    }
}

TEST_CASE("cycle circuit: leading and lagging heat alike, a closed line of finite points",
          "[core][stage]") {
    CHECK(rc::check([] {
        StageValues values = at_service("a_ef2");
        values.emitter_ohm = 0.1 + 0.4 * part();
        const CircuitSine lag{.level_v = 25 * part(),
                              .load_ohm = 6 + 10 * part(),
                              .phase_deg = 60 * part(),
                              .steps = 48};
        CircuitSine lead = lag;
        lead.phase_deg = -lag.phase_deg;
        const auto a = circuit_cycle(values, lag);
        const auto b = circuit_cycle(values, lead);
        RC_ASSERT(a.ok());
        RC_ASSERT(b.ok());
        RC_ASSERT(near(a->plus.average_w, b->plus.average_w, 1e-4));
        RC_ASSERT(a->plus.peak_w >= a->plus.average_w);
        RC_ASSERT(a->plus.line.front().collector_a == a->plus.line.back().collector_a);
        for (const LoadLinePoint& point : a->plus.line) {
            RC_ASSERT(std::isfinite(point.collector_v));
            RC_ASSERT(std::isfinite(point.collector_a));
        }
    }));
}
