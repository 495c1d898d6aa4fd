#include "core/circuit/solver.h"

#include "support/allocations.h"
#include "support/catch.h"

#include <rapidcheck.h>

#include <algorithm>
#include <cmath>
#include <numbers>

using namespace railside;

namespace {

VoltageSource volts(Node plus, Node minus, double value) {
    VoltageSource source{plus, minus, {}};
    source.value.dc = value;
    return source;
}

CurrentSource amperes(Node plus, Node minus, double value) {
    CurrentSource source{plus, minus, {}};
    source.value.dc = value;
    return source;
}

BipolarModel plain(Polarity polarity) {
    BipolarModel model;
    model.polarity = polarity;
    model.saturation_a = 1e-14;
    model.forward_gain = 100;
    model.reverse_gain = 3;
    return model;
}

BipolarModel full(Polarity polarity) {
    BipolarModel model = plain(polarity);
    model.forward_early_v = 80;
    model.forward_knee_a = 0.1;
    model.emitter_leak_a = 1e-14;
    model.emitter_leak_emission = 1.6;
    model.base_ohm = 100;
    model.emitter_ohm = 0.5;
    model.collector_ohm = 2;
    model.gain_power = 1.5;
    return model;
}

} // namespace

TEST_CASE("solver: a divider divides, and its source delivers what the resistors take",
          "[core][circuit]") {
    Circuit circuit;
    const Node top = circuit.node("top");
    const Node middle = circuit.node("middle");
    const ElementId source = circuit.add("V1", volts(top, 0, 10));
    circuit.add("R1", Resistor{top, middle, 3000});
    const ElementId low = circuit.add("R2", Resistor{middle, 0, 1000});
    const auto point = operating_point(circuit);
    REQUIRE(point);
    CHECK(point->volts(middle) == Approx(2.5).epsilon(1e-12)); // Kirchhoff
    CHECK(point->element(source).current_a == Approx(-2.5e-3).epsilon(1e-12));
    CHECK(point->element(source).power_w == Approx(-25e-3).epsilon(1e-12));
    CHECK(point->element(low).power_w == Approx(6.25e-3).epsilon(1e-12));
}

TEST_CASE("solver: a diode behind a resistor meets Shockley's law", "[core][circuit]") {
    Circuit circuit;
    const Node top = circuit.node("top");
    const Node anode = circuit.node("a");
    circuit.add("V1", volts(top, 0, 5));
    circuit.add("R1", Resistor{top, anode, 1000});
    DiodeModel model;
    model.saturation_a = 3e-9;
    model.emission = 1.8;
    model.series_ohm = 0.6;
    const ElementId diode = circuit.add("D1", Diode{anode, 0, model, 1, {}});
    const auto point = operating_point(circuit);
    REQUIRE(point);
    // Bisection on the same law, written the other way round.
    const double thermal_v = 8.617333262e-5 * 300.15 * 1.8;
    double low = 0;
    double high = 5e-3;
    for (int i = 0; i < 200; ++i) {
        const double i_a = (low + high) / 2;
        const double v = thermal_v * std::log1p(i_a / 3e-9) + 0.6 * i_a + 1000 * i_a;
        (v < 5 ? low : high) = i_a;
    }
    CHECK(point->element(diode).current_a == Approx(low).epsilon(1e-7));
}

TEST_CASE("solver: in breakdown a diode holds its voltage", "[core][circuit]") {
    Circuit circuit;
    const Node top = circuit.node("top");
    const Node cathode = circuit.node("k");
    circuit.add("V1", volts(top, 0, 20));
    circuit.add("R1", Resistor{top, cathode, 1000});
    DiodeModel model;
    model.breakdown_v = 6.2;
    model.breakdown_a = 5e-3;
    circuit.add("D1", Diode{0, cathode, model, 1, {}});
    const auto point = operating_point(circuit);
    REQUIRE(point);
    // 5 mA at 6.2 V by the card; 13.8 mA here lie one decade-fraction of kT/q higher.
    CHECK(point->volts(cathode) == Approx(6.2 + 0.02587 * std::log(13.8 / 5)).margin(2e-3));
}

TEST_CASE(
    "solver: a transistor's currents add up to nothing and its power is what the sources give",
    "[core][circuit]") {
    for (const Polarity polarity : {Polarity::npn, Polarity::pnp}) {
        const double sign = polarity == Polarity::npn ? 1 : -1;
        Circuit circuit;
        const Node supply = circuit.node("supply");
        const Node collector = circuit.node("c");
        const Node base = circuit.node("b");
        const Node emitter = circuit.node("e");
        const ElementId source = circuit.add("V1", volts(supply, 0, sign * 12));
        circuit.add("RC", Resistor{supply, collector, 1000});
        circuit.add("RB", Resistor{supply, base, 220e3});
        circuit.add("RE", Resistor{emitter, 0, 100});
        const ElementId q =
            circuit.add("Q1", Bipolar{collector, base, emitter, full(polarity), 1, {}});
        const auto point = operating_point(circuit);
        REQUIRE(point);
        const ElementState& state = point->element(q);
        CHECK(state.current_a + state.base_a + state.emitter_a == Approx(0).margin(1e-15));
        CHECK(sign * state.current_a > 1e-3);
        double power = 0;
        for (const ElementState& element : point->elements) {
            power += element.power_w;
        }
        CHECK(power == Approx(0).margin(1e-12)); // Tellegen
        CHECK(point->element(source).power_w < 0);
        // The same base drive from the closed search.
        const double cb_v = sign * (point->volts(collector) - point->volts(base));
        const BaseDrive drive = base_drive(full(polarity), sign * state.current_a, cb_v);
        CHECK(sign * point->volts(base, emitter) == Approx(drive.base_emitter_v).margin(1e-8));
        CHECK(sign * state.base_a == Approx(drive.base_a).epsilon(1e-6));
    }
}

TEST_CASE("solver: a pnp circuit is the npn one mirrored", "[core][circuit]") {
    CHECK(rc::check("node by node", [] {
        const double rc_ohm = *rc::gen::inRange(50, 5000);
        const double rb_ohm = *rc::gen::inRange(1000, 500000);
        const double re_ohm = *rc::gen::inRange(1, 500);
        std::array<std::vector<double>, 2> found;
        for (const Polarity polarity : {Polarity::npn, Polarity::pnp}) {
            Circuit circuit;
            const Node supply = circuit.node("supply");
            const Node collector = circuit.node("c");
            const Node base = circuit.node("b");
            const Node emitter = circuit.node("e");
            circuit.add("V1", volts(supply, 0, polarity == Polarity::npn ? 20 : -20));
            circuit.add("RC", Resistor{supply, collector, rc_ohm});
            circuit.add("RB", Resistor{supply, base, rb_ohm});
            circuit.add("RE", Resistor{emitter, 0, re_ohm});
            circuit.add("Q1", Bipolar{collector, base, emitter, full(polarity), 1, {}});
            const auto point = operating_point(circuit);
            RC_ASSERT(point.ok());
            found[polarity == Polarity::npn ? 0 : 1] = point->node_v;
        }
        for (std::size_t i = 0; i < found[0].size(); ++i) {
            RC_ASSERT(std::abs(found[0][i] + found[1][i]) < 1e-9);
        }
    }));
}

TEST_CASE("solver: base currents without series resistances agree with those nearly without",
          "[core][circuit]") {
    const auto base_volts = [](double ohm) {
        Circuit circuit;
        const Node supply = circuit.node("supply");
        const Node base = circuit.node("b");
        circuit.add("V1", volts(supply, 0, 10));
        circuit.add("I1", amperes(supply, base, 20e-6));
        BipolarModel model = plain(Polarity::npn);
        model.base_ohm = model.emitter_ohm = model.collector_ohm = ohm;
        circuit.add("Q1", Bipolar{supply, base, 0, model, 1, {}});
        const auto point = operating_point(circuit);
        REQUIRE(point);
        return point->volts(base);
    };
    CHECK(base_volts(0) == Approx(base_volts(1e-6)).margin(1e-8));
}

TEST_CASE("solver: warm junctions drop about two millivolts a kelvin", "[core][circuit]") {
    const auto base_volts = [](double celsius) {
        Circuit circuit;
        circuit.temperature_c = celsius;
        const Node base = circuit.node("b");
        circuit.add("I1", amperes(0, base, 1e-3));
        circuit.add("Q1", Bipolar{base, base, 0, plain(Polarity::npn), 1, {}});
        const auto point = operating_point(circuit);
        REQUIRE(point);
        return point->volts(base);
    };
    const double slope = (base_volts(37) - base_volts(27)) / 10;
    CHECK(slope < -1.5e-3);
    CHECK(slope > -2.5e-3);
    // A device may have a temperature of its own.
    Circuit circuit;
    const Node base = circuit.node("b");
    circuit.add("I1", amperes(0, base, 1e-3));
    circuit.add("Q1", Bipolar{base, base, 0, plain(Polarity::npn), 1, 37.0});
    const auto point = operating_point(circuit);
    REQUIRE(point);
    CHECK(point->volts(base) == Approx(base_volts(37)).margin(1e-9));
}

TEST_CASE("solver: slopes agree with a small step", "[core][circuit]") {
    Circuit circuit;
    const Node supply = circuit.node("supply");
    const Node collector = circuit.node("c");
    const Node base = circuit.node("b");
    const Node in = circuit.node("in");
    circuit.add("V1", volts(supply, 0, 12));
    const ElementId drive = circuit.add("V2", volts(in, 0, 0.7));
    const ElementId load = circuit.add("RC", Resistor{supply, collector, 1000});
    const ElementId inject = circuit.add("I1", amperes(supply, collector, 1e-4));
    circuit.add("RB", Resistor{in, base, 1000});
    circuit.add("Q1", Bipolar{collector, base, 0, full(Polarity::npn), 1, {}});
    Solver solver(circuit);
    OperatingPoint point;
    REQUIRE(solver.solve(point));
    std::vector<double> slopes(static_cast<std::size_t>(circuit.node_count()));
    struct Step {
        ElementId id;
        double at;
        double by;
    };
    for (const Step& step :
         {Step{drive, 0.7, 1e-6}, Step{load, 1000, 1e-3}, Step{inject, 1e-4, 1e-9}}) {
        REQUIRE(solver.slopes(step.id, slopes));
        const double predicted = slopes[static_cast<std::size_t>(collector)];
        OperatingPoint up;
        OperatingPoint down;
        solver.set_value(step.id, step.at + step.by);
        REQUIRE(solver.resolve(up));
        solver.set_value(step.id, step.at - step.by);
        REQUIRE(solver.resolve(down));
        solver.set_value(step.id, step.at);
        REQUIRE(solver.resolve(point));
        const double stepped = (up.volts(collector) - down.volts(collector)) / (2 * step.by);
        CHECK(predicted == Approx(stepped).epsilon(1e-4));
    }
    const auto refused = solver.slopes(*circuit.find("Q1"), slopes);
    REQUIRE_FALSE(refused);
    CHECK(refused.error().code == ErrorCode::not_found);
}

TEST_CASE("solver: what has no answer is refused by name", "[core][circuit]") {
    SECTION("a node that only a capacitor reaches") {
        Circuit circuit;
        const Node top = circuit.node("top");
        const Node island = circuit.node("island");
        circuit.add("V1", volts(top, 0, 1));
        circuit.add("C1", Capacitor{top, island, 1e-6, {}});
        const auto point = operating_point(circuit);
        REQUIRE_FALSE(point);
        CHECK(point.error().code == ErrorCode::contradictory);
        CHECK(point.error().message.find("island") != std::string::npos);
    }
    SECTION("two sources that disagree") {
        Circuit circuit;
        const Node top = circuit.node("top");
        circuit.add("V1", volts(top, 0, 1));
        circuit.add("V2", volts(top, 0, 2));
        const auto point = operating_point(circuit);
        REQUIRE_FALSE(point);
        CHECK(point.error().code == ErrorCode::contradictory);
        CHECK(point.error().message.find("loop") != std::string::npos);
    }
    SECTION("an equation without a root does not pass for solved") {
        Circuit circuit;
        const Node node = circuit.node("n");
        circuit.add("R1", Resistor{node, 0, 1e6});
        auto formula = Formula::parse("1+v(n)^2");
        REQUIRE(formula);
        ControlledSource source;
        source.what = ControlledSource::What::current;
        source.plus = node;
        source.inputs = {{ControlInput::Kind::volts, node, 0, -1}};
        source.formula = *formula;
        circuit.add("B1", source);
        const auto point = operating_point(circuit);
        REQUIRE_FALSE(point);
        CHECK(point.error().code == ErrorCode::failed);
        CHECK(point.error().message.find("node n") != std::string::npos);
    }
}

TEST_CASE("solver: controlled sources do what their letters mean", "[core][circuit]") {
    Circuit circuit;
    const Node in = circuit.node("in");
    const Node e = circuit.node("e");
    const Node f = circuit.node("f");
    const Node g = circuit.node("g");
    const Node h = circuit.node("h");
    const ElementId source = circuit.add("V1", volts(in, 0, 2));
    circuit.add("R1", Resistor{in, 0, 1000}); // V1 carries −2 mA
    const auto add = [&](std::string name, ControlledSource::What what, Node plus,
                         ControlInput::Kind kind, double slope) {
        ControlledSource s;
        s.what = what;
        s.plus = plus;
        s.inputs = {{kind, in, 0, source}};
        s.slopes = {slope};
        circuit.add(std::move(name), s);
    };
    using What = ControlledSource::What;
    using Kind = ControlInput::Kind;
    add("E1", What::voltage, e, Kind::volts, 3);
    add("F1", What::current, f, Kind::current, 5);
    add("G1", What::current, g, Kind::volts, 1e-3);
    add("H1", What::voltage, h, Kind::current, 100);
    for (const Node node : {e, f, g, h}) {
        circuit.add("R" + std::string(circuit.node_name(node)), Resistor{node, 0, 1000});
    }
    const auto point = operating_point(circuit);
    REQUIRE(point);
    CHECK(point->volts(e) == Approx(6));
    CHECK(point->volts(f) == Approx(10)); // −5·(−2 mA) into 1 kΩ
    CHECK(point->volts(g) == Approx(-2)); // 2 mA drawn out of it
    CHECK(point->volts(h) == Approx(-0.2));
}

TEST_CASE("solver: a warm solve allocates nothing", "[core][circuit]") {
    Circuit circuit;
    const Node supply = circuit.node("supply");
    const Node collector = circuit.node("c");
    const Node base = circuit.node("b");
    circuit.add("V1", volts(supply, 0, 12));
    const ElementId load = circuit.add("RC", Resistor{supply, collector, 1000});
    circuit.add("RB", Resistor{supply, base, 470e3});
    circuit.add("Q1", Bipolar{collector, base, 0, full(Polarity::npn), 1, {}});
    DiodeModel model;
    circuit.add("D1", Diode{collector, supply, model, 1, {}});
    Solver solver(circuit);
    OperatingPoint point;
    REQUIRE(solver.solve(point));
    std::vector<double> slopes(static_cast<std::size_t>(circuit.node_count()));
    const auto before = test::allocations();
    bool all = true;
    for (int i = 0; i < 50; ++i) {
        solver.set_value(load, 500 + 10 * i);
        all &= solver.resolve(point).ok();
        all &= solver.slopes(load, slopes).ok();
        all &= solver.solve(point).ok();
    }
    CHECK(all);
    CHECK(test::allocations() == before);
}

TEST_CASE("transient: a capacitor charges through a resistor as the exponential says",
          "[core][circuit]") {
    Circuit circuit;
    const Node top = circuit.node("top");
    const Node out = circuit.node("out");
    VoltageSource source{top, 0, {}};
    source.value.shape = Waveform::Pulse{0, 10, 0, 1e-9, 1e-9, 1, 0};
    circuit.add("V1", source);
    circuit.add("R1", Resistor{top, out, 1000});
    circuit.add("C1", Capacitor{out, 0, 1e-6, {}});
    Solver solver(circuit);
    TransientOptions options;
    options.stop_s = 5e-3;
    options.step_s = 1e-4;
    const auto run = solver.transient(options, std::array{out}, {});
    REQUIRE(run);
    REQUIRE(run->time_s.back() == Approx(5e-3));
    for (std::size_t i = 0; i < run->time_s.size(); ++i) {
        CHECK(run->node_v[0][i] ==
              Approx(10 * (1 - std::exp(-run->time_s[i] / 1e-3))).margin(0.01));
    }
}

TEST_CASE("transient: a tuned circuit rings at its frequency and keeps its amplitude",
          "[core][circuit]") {
    Circuit circuit;
    const Node top = circuit.node("top");
    circuit.add("C1", Capacitor{top, 0, 1e-6, 1.0});
    circuit.add("L1", Inductor{top, 0, 1e-3, {}});
    circuit.add("R1", Resistor{top, 0, 1e9});
    Solver solver(circuit);
    TransientOptions options;
    options.stop_s = 2e-3;
    options.step_s = 1e-6;
    options.relative = 1e-6;
    options.start = TransientOptions::Start::given;
    const auto run = solver.transient(options, std::array{top}, {});
    REQUIRE(run);
    const double omega = 1 / std::sqrt(1e-6 * 1e-3);
    double worst = 0;
    for (std::size_t i = 0; i < run->time_s.size(); ++i) {
        worst = std::max(worst, std::abs(run->node_v[0][i] - std::cos(omega * run->time_s[i])));
    }
    CHECK(worst < 0.01); // ten turns: trapezoidal steps lose no amplitude
}

TEST_CASE("transient: a rectifier keeps its reservoir near the peak", "[core][circuit]") {
    Circuit circuit;
    const Node in = circuit.node("in");
    const Node out = circuit.node("out");
    VoltageSource source{in, 0, {}};
    source.value.shape = Waveform::Sine{0, 10, 50, 0, 0, 0};
    circuit.add("V1", source);
    circuit.add("D1", Diode{in, out, {}, 1, {}});
    circuit.add("C1", Capacitor{out, 0, 1000e-6, {}});
    const ElementId load = circuit.add("R1", Resistor{out, 0, 1000});
    Solver solver(circuit);
    TransientOptions options;
    options.stop_s = 0.1;
    options.step_s = 1e-3;
    options.keep_from_s = 0.06;
    const auto run = solver.transient(options, std::array{out}, std::array{load});
    REQUIRE(run);
    const auto [low, high] = std::minmax_element(run->node_v[0].begin(), run->node_v[0].end());
    CHECK(*high > 8.9); // a drop of about 0.8 V
    CHECK(*high < 9.6);
    // 9 mA for most of a turn out of 1000 µF.
    CHECK(*high - *low == Approx(9e-3 * 0.019 / 1e-3).margin(0.03));
    CHECK(run->element_states[0].back().current_a == Approx(run->node_v[0].back() / 1000));
}

TEST_CASE("transient: times that make no sense are refused", "[core][circuit]") {
    Circuit circuit;
    circuit.add("R1", Resistor{circuit.node("a"), 0, 1});
    Solver solver(circuit);
    const auto run = solver.transient({}, {}, {});
    REQUIRE_FALSE(run);
    CHECK(run.error().code == ErrorCode::out_of_range);
}
