#include "core/heat/runaway.h"

#include "data/rows.h"
#include "support/catch.h"

#include <rapidcheck.h>

#include <cmath>
#include <optional>

using namespace railside;

namespace {

// The simulated complete amplifier: 40 V rails, 0.22 ohm, r_int 0.061 ohm, set to 20 mV at 27 °C.
constexpr double k_cold_a = 0.020 / 0.22;

HeatPath path_of(double sink_k_per_w, double tracking) {
    HeatPath path;
    path.junction_sink_k_per_w = 1.5;
    path.sink_k_per_w = sink_k_per_w;
    path.tracking = tracking;
    return path;
}

IdleLoop loop_of(const HeatPath& path) { return {40, 0.22, 0.061, warming_v_per_w(path), 27}; }

double part() { return *rc::gen::inRange(0, 1001) / 1000.0; }

HeatPath any_path() {
    HeatPath path;
    path.junction_sink_k_per_w = 5 * part();
    path.sink_k_per_w = 20 * part();
    path.tracking = 1.2 * part();
    return path;
}

IdleLoop any_loop() {
    return {5 * std::pow(40, part()), 0.05 * std::pow(20, part()), 0.2 * part(),
            warming_v_per_w(any_path()), 27};
}

/// What the equation lacks, volts.
double lacking_v(const IdleLoop& loop, double cold_a, double idle_a) {
    const double thermal_v = 8.617333e-5 * (loop.set_c + 273.15);
    return thermal_v * std::log(idle_a / cold_a) +
           (loop.emitter_ohm + loop.internal_ohm) * (idle_a - cold_a) -
           loop.warming_v_per_w * idle_a * (loop.rail_v - idle_a * loop.emitter_ohm);
}

} // namespace

TEST_CASE("runaway: warm idle against the simulation within 15 %", "[core][heat]") {
    for (const auto& row : test_data::rows_of("idle_warm.csv")) {
        const IdleLoop loop = loop_of(path_of(row.number("sink_k_per_w"), row.number("tracking")));
        const auto warm_a = warm_idle_a(loop, k_cold_a);
        INFO(row.text("sink_k_per_w") << " K/W, tracking " << row.text("tracking"));
        if (row.text("warm_v") == "runaway") {
            CHECK_FALSE(warm_a);
        } else {
            REQUIRE(warm_a);
            CHECK(near(*warm_a * 0.22, row.number("warm_v"), 0.15));
        }
    }
}

TEST_CASE("runaway: threshold of the sink without tracking", "[core][heat]") {
    // Simulation 2.847 K/W, the same law with other constants 2.742: tolerance 10 and 5 %.
    const auto limit = sink_limit_k_per_w(loop_of(path_of(0, 0)), path_of(0, 0), k_cold_a);
    REQUIRE(limit);
    CHECK(near(*limit, 2.84667, 0.10));
    CHECK(near(*limit, 2.74201, 0.05));
    CHECK(warm_idle_a(loop_of(path_of(*limit * 0.999, 0)), k_cold_a));
    CHECK_FALSE(warm_idle_a(loop_of(path_of(*limit * 1.001, 0)), k_cold_a));
    // A spreader that follows the sink well needs no threshold.
    CHECK_FALSE(sink_limit_k_per_w(loop_of(path_of(0, 0.9)), path_of(0, 0.9), k_cold_a));
}

TEST_CASE("runaway: loop gain at the cold point", "[core][heat]") {
    // gm' = 1/(0.281 + 0.025865/0.090909) = 1.7688 S; G = 40·2.1 mV/K·3.5 K/W·gm' = 0.520, and 0.1
    // % less by the drop in R_E. Tolerance 0.2 %.
    HeatPath path = path_of(2, 0);
    path.device_v_per_k = 2.1e-3;
    CHECK(near(thermal_loop_gain(loop_of(path), k_cold_a), 0.520, 2e-3));
}

TEST_CASE("runaway: idle at imposed temperatures against the simulation", "[core][heat]") {
    // Output devices hot, spreader at t_spreader, drivers cold. The law within 5 % with the
    // spreader cold; the spreader's own constants (three amplifiers, two kinds of spreader) within
    // 35 %.
    int cold = 0;
    for (const auto& row : test_data::rows_of("idle_thermal.csv")) {
        const double emitter_ohm = row.number("emitter_ohm");
        const bool low_power = row.text("amp") == "f_lowp";
        const IdleLoop loop{row.number("rail_v"), emitter_ohm, low_power ? 0.037 : 0.061, 0, 27};
        const HeatPath path;
        const double rise_k = row.number("output_c") - 27;
        const double spreader_k = row.number("spreader_c") - 27;
        const double extra_v = path.device_v_per_k * rise_k -
                               path.spreader_v_per_k * path.spreader_multiplier / 2 * spreader_k;
        const double idle_v = emitter_ohm * shifted_idle_a(loop, 0.020 / emitter_ohm, extra_v);
        INFO(row.text("amp") << " output " << rise_k << " K, spreader " << spreader_k
                             << " K: " << idle_v);
        if (spreader_k == 0) {
            CHECK(near(idle_v, row.number("idle_v"), 0.05));
            ++cold;
        } else if (!low_power) { // whose spreader is a string of diodes
            CHECK(near(idle_v, row.number("idle_v"), 0.35));
        }
    }
    CHECK(cold == 15);
}

TEST_CASE("runaway: drivers on the sink add to the loop", "[core][heat]") {
    HeatPath path = path_of(2, 0.6);
    const double cold_drivers = warming_v_per_w(path);
    path.driver_tracking = 0.5;
    CHECK(near(warming_v_per_w(path) - cold_drivers, path.device_v_per_k * 0.5 * 2, 1e-9));
}

TEST_CASE("runaway: the warm current balances the equation with a loop gain below 1",
          "[core][heat]") {
    CHECK(rc::check([] {
        const IdleLoop loop = any_loop();
        const double cold_a = 1e-3 * std::pow(1000, part());
        RC_PRE(cold_a * loop.emitter_ohm < loop.rail_v / 2);
        const auto warm_a = warm_idle_a(loop, cold_a);
        if (!warm_a) {
            RC_ASSERT(loop.warming_v_per_w > 0);
            return;
        }
        RC_ASSERT(std::abs(lacking_v(loop, cold_a, *warm_a)) < 1e-7);
        RC_ASSERT(thermal_loop_gain(loop, *warm_a) < 1 + 1e-6);
        RC_ASSERT((*warm_a >= cold_a * (1 - 1e-9)) == (loop.warming_v_per_w >= 0) ||
                  near(*warm_a, cold_a, 1e-6));
        // And back; at the very edge the curve is level and the way back is not.
        RC_ASSERT(near(cold_idle_a(loop, *warm_a), cold_a, 1e-6));
    }));
}

TEST_CASE("runaway: more sink resistance, less tracking, more rail never makes it cooler",
          "[core][heat]") {
    CHECK(rc::check([] {
        const HeatPath path = any_path();
        IdleLoop loop = any_loop();
        loop.warming_v_per_w = warming_v_per_w(path);
        const double cold_a = 1e-3 * std::pow(300, part());
        const double none = 1e9;
        const double warm_a = warm_idle_a(loop, cold_a).value_or(none);
        HeatPath looser = path;
        looser.tracking *= 0.9;
        IdleLoop loose = loop;
        loose.warming_v_per_w = warming_v_per_w(looser);
        RC_ASSERT(warm_idle_a(loose, cold_a).value_or(none) >= warm_a * (1 - 1e-9));
        IdleLoop stiffer = loop;
        stiffer.emitter_ohm *= 1.2;
        if (loop.warming_v_per_w > 0) {
            RC_ASSERT(warm_idle_a(stiffer, cold_a).value_or(none) <= warm_a * (1 + 1e-9) ||
                      cold_a * stiffer.emitter_ohm > loop.rail_v / 4);
        }
        RC_ASSERT(std::isfinite(thermal_loop_gain(loop, cold_a)));
    }));
}
