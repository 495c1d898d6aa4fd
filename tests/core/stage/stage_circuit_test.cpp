#include "core/stage/stage_circuit.h"

#include "simulated_stages.h"
#include "support/catch.h"

#include <rapidcheck.h>

#include <cmath>

using namespace railside;

namespace {

BipolarModel bipolar(const std::string& name) { return simulated::transistor(name); }

/// The output stage of netlists/a_ef2.cir at its service setting.
StageValues a_ef2_stage() {
    StageValues values = simulated::stage("a_ef2");
    values.spreader = Multiplier{.upper_ohm = 1800, .lower_ohm = 767.176};
    return values;
}

StagePoint solved(const StageValues& values, Drive drive, const StageLoad& load) {
    auto stage = StageCircuit::build(values, drive, load);
    REQUIRE(stage);
    auto point = stage->solve();
    INFO((point ? std::string() : point.error().message));
    REQUIRE(point);
    return *point;
}

} // namespace

TEST_CASE("stage: the idle point is that of the whole amplifier in simulation", "[core][stage]") {
    // a_ef2 at its service setting: 20.00 mV, spreader 2.35622 V. The whole amplifier's current
    // source gives 5.3717 mA there.
    const StagePoint point = solved(a_ef2_stage(), Drive::regulated, OpenLoad{});
    CHECK(near_abs(point.output_v, 0, 1e-6));
    CHECK(near(point.reading_plus_v[0], 20.0e-3, 0.02));
    CHECK(near(point.spread_v, 2.35622, 0.001));
    CHECK(near(point.driver_spread_v, 1.17945, 0.001));
    CHECK(near(point.output_plus_w, 3.60252, 0.02));
    CHECK(point.feed_left_v > 35);
}

TEST_CASE("stage: the spread that makes a reading is found, and makes it", "[core][stage]") {
    StageValues values = a_ef2_stage();
    values.spreader = SpreaderForReading{0.020};
    const StagePoint wanted = solved(values, Drive::regulated, OpenLoad{});
    CHECK(near(wanted.reading_plus_v[0], 0.020, 1e-6));
    CHECK(near(wanted.spread_v, 2.35622, 1e-4)); // a_ef2 in simulation
    values.spreader = FixedSpreader{wanted.spread_v};
    const StagePoint made = solved(values, Drive::regulated, OpenLoad{});
    CHECK(near(made.reading_plus_v[0], 0.020, 1e-4));
}

TEST_CASE("stage: the gain at zero is that of the simulated output stage", "[core][stage]") {
    StageValues values = a_ef2_stage();
    struct Row {
        double reading_v;
        double gain; // simulated, fixed spreader
    };
    for (const Row& row : {Row{1e-3, 0.73144}, Row{3e-3, 0.87813}, Row{6e-3, 0.92621},
                           Row{10e-3, 0.94711}, Row{20e-3, 0.96355}, Row{40e-3, 0.97212}}) {
        values.spreader = SpreaderForReading{row.reading_v};
        const double spread_v = solved(values, Drive::regulated, OpenLoad{}).spread_v;
        values.spreader = FixedSpreader{spread_v};
        auto stage = StageCircuit::build(values, Drive::regulated, ResistorLoad{8});
        REQUIRE(stage);
        REQUIRE(stage->solve());
        const auto gain = stage->gain();
        REQUIRE(gain);
        CHECK(near(*gain, row.gain, 0.01));
    }
}

TEST_CASE("stage: clip volts per half are the simulated amplifier's", "[core][stage]") {
    const StageValues values = a_ef2_stage();
    CHECK(near(solved(values, Drive::full_plus, ResistorLoad{8}).output_v, 36.668, 0.01));
    CHECK(near(solved(values, Drive::full_plus, ResistorLoad{16}).output_v, 37.580, 0.01));
    CHECK(near(solved(values, Drive::full_minus, ResistorLoad{8}).output_v, -36.636, 0.01));
    StageValues weak = values;
    weak.devices.driver_plus.forward_gain = 12;
    const StagePoint point = solved(weak, Drive::full_plus, ResistorLoad{8});
    CHECK(near(point.output_v, 32.118, 0.06)); // drive, simulated with the bias capacitor's help
    CHECK(point.feed_left_v > 2);              // not the rail
}

TEST_CASE("stage: a dual-slope limiter ends at the simulated currents", "[core][stage]") {
    StageValues values = a_ef2_stage();
    values.limiter_plus = values.limiter_minus = simulated::dual_slope();
    struct Row {
        double output_v;
        double plus_a;
        double minus_a; // at the same output volts
    };
    for (const Row& row : {Row{-20, 3.108, 7.570}, Row{0, 4.235, 4.533}, Row{20, 7.277, 3.409}}) {
        const StagePoint plus = solved(values, Drive::full_plus, ForcedOutput{row.output_v});
        const StagePoint minus = solved(values, Drive::full_minus, ForcedOutput{row.output_v});
        CHECK(near(plus.load_a, row.plus_a, 0.02));
        CHECK(near(-minus.load_a, row.minus_a, 0.02));
    }
}

TEST_CASE("stage: a leaky limiter takes idle current and then the peak", "[core][stage]") {
    StageValues values = a_ef2_stage();
    values.limiter_plus = values.limiter_minus = simulated::dual_slope();
    const double healthy_v = solved(values, Drive::regulated, OpenLoad{}).reading_plus_v[0];
    struct Row {
        double leak_ohm;
        double reading_v; // simulated, trim untouched
        double clip_v;
    };
    for (const Row& row : {Row{10e3, 19.60e-3, 36.648}, Row{4.7e3, 19.19e-3, 36.629},
                           Row{1e3, 16.63e-3, 36.516}, Row{390, 12.20e-3, 31.845}}) {
        values.limiter_plus->leak_ohm = row.leak_ohm;
        const StagePoint idle = solved(values, Drive::regulated, OpenLoad{});
        // The same share of the healthy reading.
        CHECK(near(idle.reading_plus_v[0] / healthy_v, row.reading_v / 20e-3, 0.02));
        CHECK(near(solved(values, Drive::full_plus, ResistorLoad{8}).output_v, row.clip_v, 0.015));
    }
}

TEST_CASE("stage: a bootstrapped stage swings past its rail for drive", "[core][stage]") {
    StageValues values = a_ef2_stage(); // f_lowp: ±25 V, diodes, no stoppers
    values.rail_plus_v = values.rail_minus_v = 25;
    values.emitter_ohm = 0.47;
    values.driver_ohm = 330;
    values.stopper_ohm = 0;
    values.feed = Feed::bootstrap;
    values.supply_a = 5.42e-3;
    values.spreader = DiodeString{3, 50.845};
    CHECK(near(solved(values, Drive::regulated, OpenLoad{}).reading_plus_v[0], 20e-3, 0.05));
    CHECK(near(solved(values, Drive::full_plus, ResistorLoad{8}).output_v, 22.669, 0.01));
    CHECK(near(solved(values, Drive::full_minus, ResistorLoad{8}).output_v, -22.042, 0.02));
}

TEST_CASE("stage: every topology finds its idle point", "[core][stage]") {
    for (const Topology topology : {Topology::follower, Topology::follower_triple, Topology::quasi,
                                    Topology::feedback_pair}) {
        for (const int pairs : {1, 2, 5}) {
            for (const StageHalf feed : {StageHalf::plus, StageHalf::minus}) {
                StageValues values = a_ef2_stage();
                values.topology = topology;
                values.pairs = pairs;
                values.feed_side = feed;
                if (topology == Topology::quasi) {
                    values.devices.output_minus = bipolar("qon");
                    values.driver_ohm = 100;
                } else if (topology == Topology::feedback_pair) {
                    values.devices.output_plus = bipolar("qop");
                    values.devices.output_minus = bipolar("qon");
                    values.driver_ohm = 100;
                }
                for (const double reading_v : {0.5e-3, 8e-3, 50e-3}) {
                    values.spreader = SpreaderForReading{reading_v};
                    const StagePoint point = solved(values, Drive::regulated, ResistorLoad{8});
                    CHECK(near(point.reading_plus_v[0], reading_v, 1e-5));
                    CHECK(near_abs(point.output_v, 0, 1e-6));
                }
            }
        }
    }
}

TEST_CASE("stage: a reading is met by volts between the bases that a stage has", "[core][stage]") {
    // 30 mV once had its answer 10^10 volts away.
    StageValues values = a_ef2_stage();
    values.pairs = 1;
    values.emitter_ohm = 0.44;
    values.rail_plus_v = 22;
    values.rail_minus_v = 29;
    values.supply_a = 2e-3;
    values.most_a = 6e-3;
    values.limiter_plus = simulated::dual_slope();
    double before_v = 2;
    for (int reading_mv = 1; reading_mv <= 60; ++reading_mv) {
        values.spreader = SpreaderForReading{reading_mv / 1000.0};
        const StagePoint point = solved(values, Drive::regulated, OpenLoad{});
        INFO(reading_mv << " mV: " << point.spread_v);
        CHECK(point.spread_v > before_v);
        CHECK(point.spread_v < 2.6);
        CHECK(near(point.reading_plus_v[0], reading_mv / 1000.0, 1e-5));
        before_v = point.spread_v;
    }
}

TEST_CASE("stage: turned over, it does the same the other way up", "[core][stage]") {
    CHECK(rc::check("idle, gain, clip", [] {
        StageValues values = a_ef2_stage();
        values.pairs = *rc::gen::inRange(1, 5);
        values.emitter_ohm = *rc::gen::inRange(10, 100) / 100.0;
        values.rail_plus_v = *rc::gen::inRange(15, 90);
        values.rail_minus_v = *rc::gen::inRange(15, 90);
        values.supply_a = *rc::gen::inRange(2, 20) / 1000.0;
        values.most_a = 3 * values.supply_a;
        values.spreader = SpreaderForReading{*rc::gen::inRange(1, 60) / 1000.0};
        values.limiter_plus = simulated::dual_slope();
        auto rest = StageCircuit::build(values, Drive::regulated, OpenLoad{});
        RC_ASSERT(rest.ok());
        const auto at_rest = rest->solve();
        RC_ASSERT(at_rest.ok());
        StageValues fixed = values;
        fixed.spreader = FixedSpreader{at_rest->spread_v};
        const StageValues turned = simulated::turned_over(fixed);
        auto a = StageCircuit::build(fixed, Drive::regulated, ResistorLoad{8});
        auto b = StageCircuit::build(turned, Drive::regulated, ResistorLoad{8});
        RC_ASSERT(a.ok() && b.ok());
        a->set_output(3);
        b->set_output(-3);
        const auto pa = a->solve();
        const auto pb = b->solve();
        RC_ASSERT(pa.ok() && pb.ok());
        RC_ASSERT(near(pa->output_plus_a, pb->output_minus_a, 1e-6));
        RC_ASSERT(near(pa->output_minus_a, pb->output_plus_a, 1e-6));
        const auto ga = a->gain();
        const auto gb = b->gain();
        RC_ASSERT(ga.ok() && gb.ok() && near(*ga, *gb, 1e-6));
        auto c = StageCircuit::build(fixed, Drive::full_plus, ResistorLoad{8});
        auto d = StageCircuit::build(turned, Drive::full_minus, ResistorLoad{8});
        RC_ASSERT(c.ok() && d.ok());
        const auto pc = c->solve();
        const auto pd = d->solve();
        RC_ASSERT(pc.ok() && pd.ok());
        RC_ASSERT(near(pc->output_v, -pd->output_v, 1e-5));
    }));
}

TEST_CASE("stage: more emitter resistance never means more idle current", "[core][stage]") {
    CHECK(rc::check("at a fixed spread", [] {
        StageValues values = a_ef2_stage();
        values.spreader = FixedSpreader{*rc::gen::inRange(2000, 2800) / 1000.0};
        const double ohm = *rc::gen::inRange(5, 200) / 100.0;
        values.emitter_ohm = ohm;
        auto less = StageCircuit::build(values, Drive::regulated, OpenLoad{});
        values.emitter_ohm = ohm * 1.3;
        auto more = StageCircuit::build(values, Drive::regulated, OpenLoad{});
        RC_ASSERT(less.ok() && more.ok());
        const auto a = less->solve();
        const auto b = more->solve();
        RC_ASSERT(a.ok() && b.ok());
        RC_ASSERT(b->output_plus_a <= a->output_plus_a * (1 + 1e-9));
    }));
}

TEST_CASE("stage: values that make no stage are refused by name", "[core][stage]") {
    StageValues values = a_ef2_stage();
    const auto refused = [&](const StageValues& wrong, std::string_view name) {
        const auto stage = StageCircuit::build(wrong, Drive::regulated, OpenLoad{});
        REQUIRE_FALSE(stage);
        CHECK(stage.error().field == name);
        CHECK(stage.error().message.find("Accepted") != std::string::npos);
    };
    StageValues wrong = values;
    wrong.rail_plus_v = 0;
    refused(wrong, "Plus rail");
    wrong = values;
    wrong.pairs = 0;
    refused(wrong, "Pairs");
    wrong = values;
    wrong.emitter_ohm = std::nan("");
    refused(wrong, "Emitter resistor");
    wrong = values;
    wrong.most_a = 1e-3;
    refused(wrong, "Greatest amplifier current");
    const auto load = StageCircuit::build(values, Drive::regulated, ResistorLoad{0});
    REQUIRE_FALSE(load);
    CHECK(load.error().field == "Load");
    wrong = values;
    wrong.spreader = SpreaderForReading{0.02};
    CHECK_FALSE(StageCircuit::build(wrong, Drive::full_plus, OpenLoad{}));
}

TEST_CASE("stage: an output the drive cannot reach is said to be out of reach", "[core][stage]") {
    auto stage = StageCircuit::build(a_ef2_stage(), Drive::regulated, ResistorLoad{8});
    REQUIRE(stage);
    stage->set_output(30);
    CHECK(stage->solve());
    stage->set_output(39);
    const auto beyond = stage->solve();
    REQUIRE_FALSE(beyond);
    CHECK(beyond.error().code == ErrorCode::contradictory);
}
