#include "core/stage/clip.h"

#include "core/stage/stage_circuit.h"
#include "data/rows.h"
#include "simulated_stages.h"
#include "support/catch.h"

#include <rapidcheck.h>

#include <algorithm>
#include <cmath>
#include <string>

using namespace railside;

namespace {

Clip clip_of(const StageValues& values, StageHalf half, double load_ohm) {
    auto finder = ClipFinder::create(values, half, load_ohm);
    REQUIRE(finder.ok());
    const auto clip = finder->into(load_ohm);
    REQUIRE(clip.ok());
    return *clip;
}

double part() { return *rc::gen::inRange(0, 1001) / 1000.0; }

} // namespace

TEST_CASE("clip: every simulated amplifier, load and single fault within 2 %", "[core][stage]") {
    // Circuit simulation (tests/data/clip.csv). Tolerance 2 % for the rail, 6 % for the drive.
    int rows = 0;
    for (const auto& row : test_data::rows_of("clip.csv")) {
        StageValues values = simulated::stage(row.text("stage"));
        simulated::put_fault(values, row.text("fault"));
        const double load_ohm = row.number("load_ohm");
        for (const StageHalf half : {StageHalf::plus, StageHalf::minus}) {
            const bool plus = half == StageHalf::plus;
            if (!plus && row.text("fault") == "plus_stopper_100") {
                continue;
            }
            const Clip clip = clip_of(values, half, load_ohm);
            const double simulated = row.number(plus ? "plus_v" : "minus_v");
            INFO(row.text("stage")
                 << " " << row.text("fault") << " " << load_ohm << (plus ? " +: " : " −: ")
                 << clip.volts << " against " << simulated << ", " << clip_cause_word(clip.cause));
            CHECK(near(clip.volts, simulated, clip.cause == ClipCause::drive ? 0.06 : 0.02));
            CHECK(near(clip.current_a, clip.volts / load_ohm, 1e-12));
            ++rows;
        }
    }
    CHECK(rows > 50);
}

TEST_CASE("clip: the cause is named", "[core][stage]") {
    struct Row {
        const char* stage;
        const char* fault;
        StageHalf half;
        double load_ohm;
        ClipCause cause;
    };
    const Row table[] = {
        {"a_ef2", "none", StageHalf::plus, 8, ClipCause::rail},
        {"a_ef2", "none", StageHalf::minus, 8, ClipCause::rail},
        {"a_ef2", "none", StageHalf::plus, 4, ClipCause::rail},
        {"a_ef2", "none", StageHalf::plus, 10000, ClipCause::rail},
        {"f_lowp", "none", StageHalf::plus, 8, ClipCause::rail}, // bootstrapped: over the rail
        {"f_lowp", "none", StageHalf::minus, 8, ClipCause::rail},
        {"c_quasi", "none", StageHalf::plus, 4, ClipCause::rail},
        {"c_quasi", "none", StageHalf::minus, 4, ClipCause::rail},
        {"a_ef2", "plus_driver_gain_12", StageHalf::plus, 8, ClipCause::drive},
        {"a_ef2", "plus_driver_gain_12", StageHalf::minus, 8, ClipCause::rail},
        {"b2_dual", "none", StageHalf::plus, 8, ClipCause::rail},
        {"b2_dual", "none", StageHalf::plus, 2, ClipCause::limiter},
        {"b2_dual", "none", StageHalf::minus, 2, ClipCause::limiter},
    };
    for (const Row& row : table) {
        StageValues values = simulated::stage(row.stage);
        simulated::put_fault(values, row.fault);
        const Clip clip = clip_of(values, row.half, row.load_ohm);
        INFO(row.stage << " " << row.fault << " " << row.load_ohm << " left " << clip.drive.left_v);
        CHECK(clip_cause_word(clip.cause) == clip_cause_word(row.cause));
    }
    // Nearly a short: two and a half amperes of the + drive at most through a weak driver.
    StageValues weak = simulated::stage("a_ef2");
    simulated::put_fault(weak, "plus_driver_gain_12");
    const Clip shorted = clip_of(weak, StageHalf::plus, 1);
    CHECK(shorted.cause == ClipCause::drive);
    CHECK(shorted.drive.left_v > 20);
}

TEST_CASE("clip: closed forms of drive and rail", "[core][stage]") {
    const StageValues ef2 = simulated::stage("a_ef2");
    StageValues weak = ef2;
    simulated::put_fault(weak, "plus_driver_gain_12");
    // Simulated 32.118 V into 8 ohm; gains at their own currents 6 %, one gain each 15 %.
    CHECK(near(8 * drive_limited_a(weak, StageHalf::plus, 5.372e-3, 8), 32.118, 0.06));
    CHECK(near(8 * drive_limited_a(5.372e-3, 12, 62, 0.877 / 220), 33.1886, 0.01));
    CHECK(near(8 * drive_limited_a(5.372e-3, 12, 62, 0.877 / 220), 32.118, 0.15));
    // The healthy driver's limit lies beyond what the rail allows.
    CHECK(drive_limited_a(ef2, StageHalf::plus, 5.372e-3, 4) > 36.7 / 8);
    CHECK(drive_limited_a(ef2, StageHalf::plus, 1e-7, 4) == 0);
    // Rail: source saturation 0.1 V, its resistor nearly without current; simulated 36.668, 37.580;
    // 2 %.
    CHECK(near(rail_limited_v(ef2, StageHalf::plus, 8, 0.2), 36.668, 0.02));
    CHECK(near(rail_limited_v(ef2, StageHalf::plus, 16, 0.2), 37.580, 0.02));
    CHECK(near(rail_limited_v(ef2, StageHalf::minus, 8, 0.35), 36.636, 0.02));
}

TEST_CASE("clip: closed form and circuit agree where the drive ends it", "[core][stage]") {
    // The second way to compute it: one circuit, one bisection over two devices' curves. 6 %.
    CHECK(rc::check([] {
        StageValues values = simulated::stage("a_ef2");
        values.supply_a = 2e-3 + 4e-3 * part();
        values.most_a = 18e-3;
        values.devices.driver_plus.forward_gain = 4 + 20 * part();
        values.devices.driver_plus.emitter_leak_a = 0;
        const double load_ohm = 2 + 6 * part();
        double limit_v = 20;
        for (int i = 0; i < 5; ++i) {
            limit_v = load_ohm * drive_limited_a(values, StageHalf::plus, values.supply_a,
                                                 std::max(40 - limit_v, 2.0));
        }
        RC_PRE(limit_v > 3 && limit_v < 30);
        auto finder = ClipFinder::create(values, StageHalf::plus, load_ohm);
        RC_ASSERT(finder.ok());
        const auto clip = finder->into(load_ohm);
        RC_ASSERT(clip.ok());
        RC_ASSERT(clip->cause == ClipCause::drive);
        RC_ASSERT(near(clip->volts, limit_v, 0.06));
    }));
}

TEST_CASE("clip: more supply current never lowers the clip, nor the drive limit", "[core][stage]") {
    CHECK(rc::check([] {
        StageValues values = simulated::stage("a_ef2");
        values.devices.driver_plus.forward_gain = 5 + 100 * part();
        const double less_a = 1e-3 + 6e-3 * part();
        const double more_a = less_a * (1 + part());
        const double collector_v = 2 + 40 * part();
        RC_ASSERT(drive_limited_a(values, StageHalf::plus, more_a, collector_v) >=
                  drive_limited_a(values, StageHalf::plus, less_a, collector_v));
        const double load_ohm = 2 + 14 * part();
        values.supply_a = less_a;
        auto finder = ClipFinder::create(values, StageHalf::plus, load_ohm);
        RC_ASSERT(finder.ok());
        const auto low = finder->into(load_ohm);
        values.supply_a = more_a;
        RC_ASSERT(finder->change(values).ok());
        const auto high = finder->into(load_ohm);
        RC_ASSERT(low.ok());
        RC_ASSERT(high.ok());
        RC_ASSERT(high->volts >= low->volts * (1 - 1e-3));
    }));
}

TEST_CASE("clip: a stage turned over clips turned over", "[core][stage]") {
    CHECK(rc::check([] {
        StageValues values = simulated::stage("b2_dual");
        values.rail_plus_v = 20 + 40 * part();
        values.rail_minus_v = 20 + 40 * part();
        values.emitter_ohm = 0.1 + 0.4 * part();
        const double load_ohm = 2 + 14 * part();
        for (const StageHalf half : {StageHalf::plus, StageHalf::minus}) {
            auto here = ClipFinder::create(values, half, load_ohm);
            auto there = ClipFinder::create(
                simulated::turned_over(values),
                half == StageHalf::plus ? StageHalf::minus : StageHalf::plus, load_ohm);
            RC_ASSERT(here.ok());
            RC_ASSERT(there.ok());
            const auto a = here->into(load_ohm);
            const auto b = there->into(load_ohm);
            RC_ASSERT(a.ok());
            RC_ASSERT(b.ok());
            RC_ASSERT(near(a->volts, b->volts, 1e-5));
            RC_ASSERT(a->cause == b->cause);
        }
    }));
}

TEST_CASE("clip: changed values give what a fresh circuit gives, other parts are refused",
          "[core][stage]") {
    StageValues values = simulated::stage("b2_dual");
    auto finder = ClipFinder::create(values, StageHalf::plus, 8);
    REQUIRE(finder.ok());
    REQUIRE(finder->into(8).ok());
    values.rail_plus_v = 33;
    values.limiter_plus->divider_ohm = 150;
    REQUIRE(finder->change(values).ok());
    CHECK(near(finder->into(4)->volts, clip_of(values, StageHalf::plus, 4).volts, 1e-6));
    values.limiter_plus.reset();
    const auto refused = finder->change(values);
    REQUIRE_FALSE(refused.ok());
    CHECK(refused.error().code == ErrorCode::contradictory);
}

TEST_CASE("clip: the spread at rest leaves about the reading asked for", "[core][stage]") {
    // Against the circuit itself at rest. The reading moves by a factor for 60 mV: 35 %.
    for (const char* name : {"a_ef2", "b2_dual", "c_quasi", "f_lowp"}) {
        StageValues values = simulated::stage(name);
        auto stage = StageCircuit::build(values, Drive::regulated, OpenLoad{});
        REQUIRE(stage.ok());
        const auto point = stage->solve();
        REQUIRE(point.ok());
        INFO(name << " " << point->reading_plus_v.front());
        CHECK(near(point->reading_plus_v.front(), 0.02, 0.35));
    }
    StageValues triple = simulated::stage("a_ef2");
    triple.topology = Topology::follower_triple;
    triple.pairs = 3;
    triple.spreader = FixedSpreader{resting_spread_v(triple, 0.02)};
    auto stage = StageCircuit::build(triple, Drive::regulated, OpenLoad{});
    REQUIRE(stage.ok());
    CHECK(near(stage->solve()->reading_plus_v.front(), 0.02, 0.5));
}

TEST_CASE("clip: what the rail leaves, nothing else known, holds every healthy amplifier",
          "[core][stage]") {
    for (const auto& row : test_data::rows_of("clip.csv")) {
        if (row.text("fault") != "none") {
            continue;
        }
        const StageValues values = simulated::stage(row.text("stage"));
        const Interval range =
            clip_by_rail(Interval::exact(values.rail_plus_v), values.topology,
                         row.number("load_ohm"), values.emitter_ohm, values.pairs);
        INFO(row.text("stage") << " " << row.text("load_ohm") << ": " << range.low << " to "
                               << range.high);
        CHECK(contains(range, row.number("plus_v")));
        CHECK(contains(range, row.number("minus_v")));
        CHECK(near(range.value, row.number("plus_v"), 0.06));
    }
}

TEST_CASE("clip: power to the earlier clip and asymmetry", "[core][stage]") {
    struct Row {
        double plus_v, minus_v, load_ohm, power_w, asymmetry;
    };
    // Analytic vectors, 0.1 %.
    const Row table[] = {{36.67, 36.64, 8, 83.9056, 0.000818442},
                         {32.12, 36.64, 8, 64.4809, -0.131472},
                         {21.18, 20.58, 4, 52.942, 0.0287356}};
    for (const Row& row : table) {
        const auto exact = &Interval::exact;
        CHECK(near(clean_power_w(exact(row.plus_v), exact(row.minus_v), exact(row.load_ohm)).value,
                   row.power_w, 1e-4));
        CHECK(
            near(clip_asymmetry(exact(row.plus_v), exact(row.minus_v)).value, row.asymmetry, 1e-4));
    }
    CHECK(clip_asymmetry(Interval::exact(0), Interval::exact(0)).value == 0);
    const Interval wide = clean_power_w({35, 36, 37}, {36, 37, 38}, {7.9, 8, 8.1});
    CHECK(near(wide.low, 35.0 * 35 / 16.2, 1e-12));
    CHECK(near(wide.high, 37.0 * 37 / 15.8, 1e-12));
}
