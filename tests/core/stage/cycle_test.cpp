#include "core/stage/cycle.h"

#include "data/rows.h"
#include "support/catch.h"

#include <rapidcheck.h>

#include <algorithm>
#include <chrono>
#include <cmath>
#include <numbers>
#include <string>

using namespace railside;

namespace {

constexpr double k_pi = std::numbers::pi;

double part() { return *rc::gen::inRange(0, 1001) / 1000.0; }

// The simulated amplifiers: r_int and gain from their own device constants (gain halves at 6 to
// 7 A), 0.05 ohm fuses, 20 mV across each emitter resistor.
DrivenStage simulated(const test_data::Row& row) {
    const bool low_power = row.text("amp") == "f_lowp";
    DrivenStage driven;
    driven.stage = {row.number("emitter_ohm"), low_power ? 0.037 : 0.061, row.number("load_ohm"), 1,
                    27};
    driven.idle_a = 0.020 / row.number("emitter_ohm");
    driven.rail_v = row.number("rail_v");
    driven.phase_deg = row.number("phase_deg");
    return driven;
}

DrivenStage with_losses(DrivenStage driven) {
    driven.base = {85, 6.5};
    driven.rail_ohm = 0.05;
    return driven;
}

DrivenStage any_driven() {
    DrivenStage driven;
    driven.stage = {0.1 * std::pow(10, part()), 0.12 * part(), 2 * std::pow(8, part()),
                    *rc::gen::inRange(1, 7), 27 + 60 * part()};
    driven.idle_a = *rc::gen::inRange(0, 8) == 0 ? 0 : 0.001 * std::pow(1000, part());
    driven.rail_v = 15 * std::pow(6, part());
    driven.rail_ohm = 0.1 * part();
    driven.phase_deg = 90 * part();
    if (*rc::gen::inRange(0, 2) == 0) {
        driven.base = {20 + 100 * part(), 2 + 10 * part()};
    }
    return driven;
}

// The slow way: the mean over many equal steps of the cycle.
double mean_by_steps(const DrivenStage& driven, double level_v) {
    constexpr int k_steps = 200000;
    double sum = 0;
    for (int i = 0; i < k_steps; ++i) {
        const double angle = 2 * k_pi * (i + 0.5) / k_steps;
        const double load_a =
            level_v / driven.stage.load_ohm * std::sin(angle - driven.phase_deg * k_pi / 180);
        const double emitter_a =
            split_current(driven.stage, driven.idle_a, load_a).upper_a / driven.stage.pairs;
        const double collector_a = emitter_a * collector_share(driven.base, emitter_a);
        sum += (driven.rail_v - driven.rail_ohm * driven.stage.pairs * collector_a -
                level_v * std::sin(angle) - emitter_a * driven.stage.emitter_ohm) *
               collector_a;
    }
    return sum / k_steps;
}

} // namespace

TEST_CASE("cycle: the split model's own figures", "[core][stage]") {
    // Closed forms computed independently for one amplifier at 40 V, 8 ohm: tolerance 0.3 %; with
    // base current and fuse 1 %, since the gain's fall-off is put simply here.
    struct Row {
        double phase_deg, level_v, plain_w, lossy_w;
    };
    for (const Row& row :
         {Row{0, 3.66136, 6.09697, 6.03111}, Row{0, 18.2831, 18.4971, 18.2097},
          Row{0, 21.9298, 19.5703, 19.2346}, Row{0, 36.4237, 15.4372, 14.9781},
          Row{45, 21.9588, 23.9889, 23.5959}, Row{45, 36.3621, 27.5852, 26.9468}}) {
        DrivenStage driven;
        driven.stage = {0.22, 0.061, 8, 1, 27};
        driven.idle_a = 0.020 / 0.22;
        driven.phase_deg = row.phase_deg;
        INFO(row.phase_deg << " deg, " << row.level_v << " V");
        CHECK(near(average_heat_w(driven, row.level_v), row.plain_w, 3e-3));
        CHECK(near(average_heat_w(with_losses(driven), row.level_v), row.lossy_w, 1e-2));
    }
}

TEST_CASE("cycle: mean heat of the simulated amplifiers within 3 %, without gain and fuse 6 %",
          "[core][stage]") {
    int checked = 0;
    for (const auto& row : test_data::rows_of("dissipation.csv")) {
        const DrivenStage driven = simulated(row);
        const double level_v = row.number("level_v");
        const double simulated_w =
            (row.number("average_upper_w") + row.number("average_lower_w")) / 2;
        INFO(row.text("amp") << " " << row.text("phase_deg") << " deg " << level_v << " V");
        CHECK(near(average_heat_w(driven, level_v), simulated_w, 0.06));
        CHECK(near(average_heat_w(with_losses(driven), level_v), simulated_w, 0.03));
        ++checked;
    }
    CHECK(checked == 80);
}

TEST_CASE("cycle: peak heat of the simulated amplifiers within 5 %", "[core][stage]") {
    for (const auto& row : test_data::rows_of("dissipation.csv")) {
        const DeviceCycle cycle =
            device_cycle(with_losses(simulated(row)), row.number("level_v"), 48);
        INFO(row.text("amp") << " " << row.text("phase_deg") << " deg " << row.text("level_v"));
        CHECK(near(cycle.peak_w, row.number("peak_upper_w"), 0.05));
    }
}

TEST_CASE("cycle: the quadrature agrees with 200000 equal steps", "[core][stage]") {
    CHECK(rc::check([] {
        const DrivenStage driven = any_driven();
        const double level_v = driven.rail_v * 0.95 * part();
        RC_ASSERT(near(average_heat_w(driven, level_v), mean_by_steps(driven, level_v), 5e-4) ||
                  near_abs(average_heat_w(driven, level_v), mean_by_steps(driven, level_v), 1e-5));
    }));
}

TEST_CASE("cycle: nothing playing is the idle heat, and a dark stage is class B", "[core][stage]") {
    DrivenStage driven;
    driven.stage = {0.22, 0.061, 8, 2, 27};
    driven.idle_a = 0.0909091;
    // 0.0909091·(40 − 0.02) = 3.63455 W each, whatever the pairs.
    CHECK(near(average_heat_w(driven, 0), 3.63455, 1e-5));
    driven.idle_a = 0;
    // 40·20/(8π) − 20²/32 − 0.11·20²/256 = 19.1588 W, shared by two.
    CHECK(near(average_heat_w(driven, 20), 19.1589 / 2, 1e-4));
}

TEST_CASE("cycle: the load line runs from the lowest output over the highest and back",
          "[core][stage]") {
    DrivenStage driven;
    driven.stage = {0.22, 0.061, 8, 1, 27};
    driven.idle_a = 0.020 / 0.22;
    const DeviceCycle cycle = device_cycle(driven, 36, 50);
    REQUIRE(cycle.line.size() == 101);
    CHECK(near(cycle.line.front().collector_v, 76, 1e-3));
    CHECK(cycle.line.front().collector_a < 1e-6);
    CHECK(near(cycle.line[50].collector_a, 4.5, 1e-6));
    CHECK(near(cycle.line[50].collector_v, 40 - 36 - 4.5 * 0.22, 1e-6));
    for (std::size_t i = 0; i <= 50; ++i) {
        CHECK(near_abs(cycle.line[i].collector_v, cycle.line[100 - i].collector_v, 1e-9));
        CHECK(near_abs(cycle.line[i].collector_a, cycle.line[100 - i].collector_a, 1e-9));
    }
    // 40²/(4·8.22) = 48.66 W at half the rail, class B with the emitter resistor.
    CHECK(near(cycle.peak_w, 48.66, 1e-2));
    CHECK(cycle.average_w == average_heat_w(driven, 36));
}

TEST_CASE("cycle: the peak is no less than any point of the line", "[core][stage]") {
    CHECK(rc::check([] {
        const DrivenStage driven = any_driven();
        const double level_v = driven.rail_v * 0.95 * part();
        const DeviceCycle coarse = device_cycle(driven, level_v, 16);
        const DeviceCycle fine = device_cycle(driven, level_v, 2000);
        for (const DevicePoint& point : fine.line) {
            RC_ASSERT(point.collector_v * point.collector_a <= coarse.peak_w * (1 + 1e-5) + 1e-12);
        }
        RC_ASSERT(near(coarse.peak.collector_v * coarse.peak.collector_a, coarse.peak_w, 1e-9));
        RC_ASSERT(coarse.peak_w >= coarse.average_w * (1 - 1e-9));
    }));
}

TEST_CASE("cycle: the worst level agrees with a fine scan, in rich idle as well", "[core][stage]") {
    CHECK(rc::check([] {
        const DrivenStage driven = any_driven();
        const double clip_v = driven.rail_v * (0.3 + 0.65 * part());
        const HeatAtLevel worst = worst_level(driven, clip_v);
        const HeatRange range = heat_range(driven, 0, clip_v);
        RC_ASSERT(range.most.average_w == worst.average_w);
        RC_ASSERT(near(average_heat_w(driven, worst.level_v), worst.average_w, 1e-12));
        for (int i = 0; i <= 200; ++i) {
            const double heat_w = average_heat_w(driven, clip_v * i / 200);
            RC_ASSERT(heat_w <= worst.average_w * (1 + 1e-5));
            RC_ASSERT(heat_w >= range.least.average_w * (1 - 1e-5) - 1e-9);
        }
    }));
}

TEST_CASE("cycle: class A is hottest with nothing playing", "[core][stage]") {
    DrivenStage driven;
    driven.stage = {0.33, 0.05, 8, 1, 60};
    driven.idle_a = 1.5;
    driven.rail_v = 24;
    CHECK(worst_level(driven, 20).level_v == 0);
    // 1.5·(24 − 0.495) = 35.26 W.
    CHECK(near(worst_level(driven, 20).average_w, 35.2575, 1e-4));
}

TEST_CASE("cycle: worst levels of the ideal stage", "[core][stage]") {
    // Analytic, 40 V, |Z| 8 ohm, clip 36.6 V, no emitter resistor to speak of: tolerance 0.1 %.
    struct Row {
        double phase_deg, level_v, average_w;
    };
    for (const Row& row : {Row{0, 25.465, 20.264}, Row{45, 36.013, 28.658}, Row{60, 36.6, 37.320},
                           Row{90, 36.6, 58.251}}) {
        DrivenStage driven;
        driven.stage = {1e-6, 0.05, 8, 1, 27};
        driven.phase_deg = row.phase_deg;
        const HeatAtLevel worst = worst_level(driven, 36.6);
        INFO(row.phase_deg);
        CHECK(near(worst.level_v, row.level_v, 5e-3)); // the top is flat
        CHECK(near(worst.average_w, row.average_w, 1e-3));
    }
}

TEST_CASE("cycle: more rail, idle or phase is more heat; more resistance or load is less",
          "[core][stage]") {
    CHECK(rc::check([] {
        const DrivenStage driven = any_driven();
        const double level_v = driven.rail_v * 0.8 * part();
        RC_PRE(2 * driven.idle_a * driven.stage.emitter_ohm < 0.1 * driven.rail_v);
        const double heat_w = average_heat_w(driven, level_v);
        const auto than = [&](auto&& change) {
            DrivenStage other = driven;
            change(other);
            return average_heat_w(other, level_v) - heat_w;
        };
        const double slack = 1e-6 * heat_w;
        RC_ASSERT(than([](auto& d) { d.rail_v *= 1.1; }) >= -slack);
        RC_ASSERT(than([](auto& d) { d.idle_a *= 1.1; }) >= -slack);
        RC_ASSERT(than([](auto& d) { d.phase_deg = std::min(90.0, d.phase_deg + 5); }) >= -slack);
        RC_ASSERT(than([](auto& d) { d.stage.emitter_ohm *= 1.1; }) <= slack);
        RC_ASSERT(than([](auto& d) { d.stage.internal_ohm += 0.01; }) <= slack);
        RC_ASSERT(than([](auto& d) { d.rail_ohm += 0.05; }) <= slack);
        DrivenStage mirrored = driven;
        mirrored.phase_deg = -driven.phase_deg;
        RC_ASSERT(average_heat_w(mirrored, level_v) == heat_w);
    }));
}

TEST_CASE("cycle: the collector's share", "[core][stage]") {
    CHECK(collector_share({}, 5) == 1);
    CHECK(near(collector_share({50, BaseShare{}.knee_a}, 5), 50.0 / 51, 1e-12));
    // Gain 80 halves at 4 A: at 4 A 40, share 40/41.
    CHECK(near(collector_share({80, 4}, 4), 40.0 / 41, 1e-12));
}

TEST_CASE("cycle: a worst level is found in under 0.5 ms", "[core][stage]") {
    DrivenStage driven;
    driven.stage = {0.22, 0.061, 8, 1, 27};
    driven.idle_a = 0.020 / 0.22;
    double sum = 0;
    const auto start = std::chrono::steady_clock::now();
    constexpr int k_runs = 50;
    for (int i = 0; i < k_runs; ++i) {
        sum += worst_level(driven, 36.6).average_w;
    }
    const std::chrono::duration<double> each = (std::chrono::steady_clock::now() - start) / k_runs;
    CHECK(sum > 0);
    INFO(each.count());
#if defined(RAILSIDE_SANITIZED) || !defined(NDEBUG)
    CHECK(each.count() < 0.02);
#else
    CHECK(each.count() < 0.0005);
#endif
}
