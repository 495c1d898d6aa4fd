#include "core/stage/crossover_circuit.h"

#include "core/stage/crossover.h"
#include "data/rows.h"
#include "simulated_stages.h"
#include "support/catch.h"

#include <rapidcheck.h>

#include <cmath>
#include <string>

using namespace railside;

namespace {

CrossoverCircuit circuit_of(const StageValues& values, double load_ohm = 8) {
    auto circuit = CrossoverCircuit::build(values, load_ohm);
    REQUIRE(circuit);
    return std::move(circuit).value();
}

double part() { return *rc::gen::inRange(0, 1001) / 1000.0; }

} // namespace

TEST_CASE("crossover circuit: gain against output is that of the simulated bare stages",
          "[core][stage]") {
    // Rows from 3 mV up: 0.1 %. Below, the reading was taken there with the load connected and the
    // output not quite at nought: 0.001 away from the middle.
    std::string now;
    std::optional<CrossoverCircuit> circuit;
    int rows = 0;
    for (const auto& row : test_data::rows_of("crossover_wingspread.csv")) {
        const std::string key = row.text("stage") + " " + row.text("v_re");
        if (key != now) {
            now = key;
            circuit.emplace(circuit_of(simulated::stage(row.text("stage"))));
            REQUIRE(circuit->set_reading(row.number("v_re")));
        }
        if (row.number("v_re") < 0.003 && std::abs(row.number("v_out")) < 2) {
            continue;
        }
        const auto gain = circuit->gain_at(row.number("v_out"));
        REQUIRE(gain);
        INFO(key << " at " << row.number("v_out") << ": " << *gain);
        CHECK(near_abs(*gain, row.number("gain"), 0.001));
        ++rows;
    }
    CHECK(rows > 500);
}

TEST_CASE("crossover circuit: the halves of a quasi-complementary stage differ as simulated",
          "[core][stage]") {
    // 0.002. Under-biased the notch at nought is narrower than the simulation's steps: left out.
    CrossoverCircuit circuit = circuit_of(simulated::stage("c_quasi"));
    for (const auto& row : test_data::rows_of("crossover_quasi_wingspread.csv")) {
        if (row.number("v_spread") < 1.7 && std::abs(row.number("v_out")) < 0.3) {
            continue;
        }
        circuit.set_spread(row.number("v_spread"));
        const auto gain = circuit.gain_at(row.number("v_out"));
        REQUIRE(gain);
        INFO(row.number("v_spread") << " V at " << row.number("v_out") << ": " << *gain);
        CHECK(near_abs(*gain, row.number("gain"), 0.002));
    }
}

TEST_CASE("crossover circuit: gain at zero and ripple over the bias scan", "[core][stage]") {
    // Gain 0.1 %, ripple 10 % of itself: sampled at fewer points than there.
    std::string now;
    std::optional<CrossoverCircuit> circuit;
    for (const auto& row : test_data::rows_of("crossover_bias_scan.csv")) {
        if (row.number("v_re") < 0.005) {
            continue; // see above
        }
        if (row.text("stage") != now) {
            now = row.text("stage");
            circuit.emplace(circuit_of(simulated::stage(now)));
        }
        const auto at = circuit->at_reading(row.number("v_re"));
        REQUIRE(at);
        const auto ripple = circuit->ripple();
        REQUIRE(ripple);
        INFO(now << " " << row.number("v_re") << ": " << at->gain_zero << ", ripple " << *ripple);
        CHECK(near(at->gain_zero, row.number("gain_at_zero"), 1e-3));
        CHECK(near_abs(*ripple, row.number("ripple"), 0.10 * row.number("ripple")));
    }
}

TEST_CASE("crossover circuit: least ripple where simulation finds it", "[core][stage]") {
    // Simulated on a grid of 2 mV: a_ef2 16 mV, f_lowp 22 mV. The closed split says 17.0 and 21.5.
    struct Row {
        const char* stage;
        double best_v;
    };
    for (const Row& row : {Row{"a_ef2", 0.016}, Row{"f_lowp", 0.022}}) {
        CrossoverCircuit circuit = circuit_of(simulated::stage(row.stage));
        const auto window = circuit.window();
        REQUIRE(window);
        REQUIRE(window->has_value());
        INFO(row.stage << " " << (*window)->low_v << " " << (*window)->best_v << " "
                       << (*window)->high_v);
        CHECK(near_abs((*window)->best_v, row.best_v, 0.001));
        // What the limits promise: the ripple there is 1.5 times the least.
        for (const double limit_v : {(*window)->low_v, (*window)->high_v}) {
            REQUIRE(circuit.set_reading(limit_v));
            const auto ripple = circuit.ripple();
            REQUIRE(ripple);
            CHECK(near(*ripple, 1.5 * (*window)->ripple, 0.06));
        }
    }
}

TEST_CASE("crossover circuit: a quasi-complementary stage has no clear best, a feedback pair a low "
          "one",
          "[core][stage]") {
    const auto quasi = circuit_of(simulated::stage("c_quasi")).window();
    REQUIRE(quasi);
    CHECK_FALSE(quasi->has_value());

    StageValues pair = simulated::stage("a_ef2");
    pair.topology = Topology::feedback_pair;
    pair.driver_ohm = 100;
    std::swap(pair.devices.output_plus, pair.devices.output_minus);
    const auto window = circuit_of(pair).window();
    REQUIRE(window);
    REQUIRE(window->has_value());
    // The local loop makes the emitter side stiff: a few millivolts, where the follower of the same
    // parts wants 16.
    CHECK((*window)->best_v > 0.001);
    CHECK((*window)->best_v < 0.005);
    CHECK((*window)->low_v < (*window)->best_v);
    CHECK((*window)->high_v > (*window)->best_v);
}

TEST_CASE("crossover circuit: as the closed split with the stage's own internal resistance",
          "[core][stage]") {
    // 0.061 ohm (physics of the simulated a_ef2): gain at zero within 0.5 % from 6 mV.
    CrossoverCircuit circuit = circuit_of(simulated::stage("a_ef2"));
    const OutputStage stage{.emitter_ohm = 0.22, .internal_ohm = 0.061, .load_ohm = 8};
    for (const double reading_v : {0.006, 0.01, 0.02, 0.04}) {
        const auto at = circuit.at_reading(reading_v);
        REQUIRE(at);
        CHECK(near(at->gain_zero, gain_at_zero(stage, reading_v / 0.22), 0.005));
    }
}

TEST_CASE("crossover circuit: gain is between nought and one, and rises at zero with the bias",
          "[core][stage]") {
    CHECK(rc::check([] {
        StageValues values = simulated::stage("a_ef2");
        values.emitter_ohm = 0.1 * std::pow(5, part());
        values.pairs = *rc::gen::inRange(1, 5);
        values.topology = *rc::gen::element(Topology::follower, Topology::follower_triple);
        auto circuit = CrossoverCircuit::build(values, 2 * std::pow(8, part()));
        RC_ASSERT(circuit.ok());
        const double reading_v = 0.001 * std::pow(50, part());
        const auto at = circuit->at_reading(reading_v);
        RC_ASSERT(at.ok());
        RC_ASSERT(at->gain_zero > 0);
        RC_ASSERT(at->gain_zero < 1);
        RC_ASSERT(at->gain_large > 0);
        RC_ASSERT(at->gain_large < 1);
        const auto more = circuit->at_reading(reading_v * 1.2);
        RC_ASSERT(more.ok());
        RC_ASSERT(more->gain_zero > at->gain_zero);
        RC_ASSERT(more->spread_v > at->spread_v);
    }));
}
