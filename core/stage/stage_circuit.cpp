#include "core/stage/stage_circuit.h"

#include "core/quantity/refusal.h"
#include "core/words/words.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace railside {

struct StageCircuit::Places {
    Drive drive = Drive::regulated;
    StageLoad load;
    Topology topology = Topology::follower;
    StageHalf feed_side = StageHalf::plus;
    Node out = 0;
    Node base_plus = 0;
    Node base_minus = 0;
    std::vector<Node> emitter_plus; // the far end of each R_E
    std::vector<Node> emitter_minus;
    Node driver_plus = 0; // driver emitters
    Node driver_minus = 0;
    ElementId rail_plus = -1;
    ElementId rail_minus = -1;
    ElementId target = -1; // regulated: the output's reference
    ElementId regulator = -1;
    ElementId amplifier = -1;
    ElementId load_element = -1;
    ElementId spread = -1;  // fixed volts
    ElementId reading = -1; // the reading wanted
    ElementId upper = -1;   // multiplier resistors
    ElementId lower = -1;
    ElementId trim = -1; // of a diode string
    ElementId feed = -1; // source transistor or bootstrap resistor
    std::vector<ElementId> output_plus_q;
    std::vector<ElementId> output_minus_q;
    ElementId driver_plus_q = -1;
    ElementId driver_minus_q = -1;
    ElementId limiter_plus_q = -1;
    ElementId limiter_minus_q = -1;
    std::vector<ElementId> drivers; // for temperatures: drivers and pre-drivers
    std::vector<ElementId> spreader;
    std::vector<ElementId> small;
    Node source_emitter = 0;
    Node source_collector = 0;
};

namespace {

/// A range every value of a stage has to be in.
struct Bound {
    std::string_view name;
    double value;
    double low;
    double high;
    std::string_view unit;
};

Result<Done> check(std::initializer_list<Bound> bounds) {
    for (const Bound& bound : bounds) {
        if (!(bound.value >= bound.low && bound.value <= bound.high)) {
            return refusal(ErrorCode::out_of_range, bound.name,
                           worded("{:.6g}\u2009{} is not accepted. Accepted: {:g} to "
                                  "{:g}\u2009{}.",
                                  bound.value, bound.unit, bound.low, bound.high, bound.unit));
        }
    }
    return Done{};
}

Result<Done> check(const LimiterNetwork& limiter, std::string_view which) {
    const auto ohm = [&](double value) { return Bound{which, value, 0.1, 1e8, "Ω"}; };
    return check({ohm(limiter.sense_ohm), ohm(limiter.divider_ohm.value_or(1)),
                  ohm(limiter.ground_ohm.value_or(1)), ohm(limiter.own_rail_ohm.value_or(1)),
                  ohm(limiter.far_rail_ohm.value_or(1)), ohm(limiter.leak_ohm.value_or(1))});
}

Result<Done> check(const StageValues& values) {
    if (auto done = check({
            {"Plus rail", values.rail_plus_v, 3, 200, "V"},
            {"Minus rail", values.rail_minus_v, 3, 200, "V"},
            {"Rail resistance", values.rail_ohm, 0, 10, "Ω"},
            {"Pairs", static_cast<double>(values.pairs), 1, 12, ""},
            {"Emitter resistor", values.emitter_ohm, 1e-3, 100, "Ω"},
            {"Emitter resistor, minus half", values.emitter_minus_ohm.value_or(1), 1e-3, 1e8, "Ω"},
            {"Base stopper", values.stopper_ohm, 0, 1000, "Ω"},
            {"Driver resistor", values.driver_ohm, 1, 1e7, "Ω"},
            {"Pre-driver resistor", values.pre_driver_ohm, 1, 1e7, "Ω"},
            {"Supply current", values.supply_a, 1e-5, 1, "A"},
            {"Greatest amplifier current", values.most_a, values.supply_a, 10, "A"},
            {"Volts across the source's resistor", values.source_drop_v, 0, 20, "V"},
            {"Voltage amplifier's emitter resistor", values.amplifier_ohm, 0, 1e4, "Ω"},
            {"Driver leak, plus half", values.driver_leak_plus_ohm, 0, 1e9, "Ω"},
            {"Driver leak, minus half", values.driver_leak_minus_ohm, 0, 1e9, "Ω"},
        });
        !done) {
        return done;
    }
    if (values.limiter_plus) {
        if (auto done = check(*values.limiter_plus, "Limiter resistor, plus half"); !done) {
            return done;
        }
    }
    if (values.limiter_minus) {
        if (auto done = check(*values.limiter_minus, "Limiter resistor, minus half"); !done) {
            return done;
        }
    }
    if (const auto* multiplier = std::get_if<Multiplier>(&values.spreader)) {
        return check({{"Spreader, upper resistor", multiplier->upper_ohm, 0.1, 1e9, "Ω"},
                      {"Spreader, lower resistor", multiplier->lower_ohm, 0.1, 1e9, "Ω"},
                      {"Spreader, base resistor", multiplier->base_ohm, 0, 1e9, "Ω"},
                      {"Spreader, collector resistor", multiplier->collector_ohm, 0, 1e6, "Ω"}});
    }
    if (const auto* string = std::get_if<DiodeString>(&values.spreader)) {
        return check({{"Diodes", static_cast<double>(string->count), 0, 12, ""},
                      {"Trim", string->trim_ohm, 0, 1e9, "Ω"}});
    }
    if (const auto* reading = std::get_if<SpreaderForReading>(&values.spreader)) {
        return check({{"Reading", reading->reading_v, 0, 20, "V"}});
    }
    return Done{};
}

constexpr double k_wire_ohm = 1e-3;      // where a resistor is absent but the circuit wants one
constexpr double k_idle_ohm = 1e7;       // under a microampere: only settles a node
constexpr double k_resting_base_v = 1.2; // the bootstrapped base node above the output at rest

/// Puts the stage together piece by piece.
class Builder {
  public:
    Builder(Circuit& circuit, const StageValues& values)
        : circuit_(circuit), values_(values), plus_rail_(circuit.node("rail_plus")),
          minus_rail_(circuit.node("rail_minus")) {}

    Node node(std::string_view name) { return circuit_.node(name); }
    ElementId resistor(std::string name, Node a, Node b, double ohm) {
        return circuit_.add(std::move(name), Resistor{a, b, std::max(ohm, k_wire_ohm)});
    }
    ElementId volts(std::string name, Node plus, Node minus, double value) {
        VoltageSource source{plus, minus, {}};
        source.value.dc = value;
        return circuit_.add(std::move(name), source);
    }
    ElementId transistor(std::string name, Polarity polarity, Node c, Node b, Node e,
                         BipolarModel model, double junction_c) {
        model.polarity = polarity;
        return circuit_.add(std::move(name), Bipolar{c, b, e, model, 1, junction_c});
    }
    ElementId diode(std::string name, Node anode, Node cathode, double junction_c) {
        return circuit_.add(std::move(name),
                            Diode{anode, cathode, values_.devices.diode, 1, junction_c});
    }
    [[nodiscard]] Node rail(StageHalf half) const {
        return half == StageHalf::plus ? plus_rail_ : minus_rail_;
    }

  private:
    Circuit& circuit_;
    const StageValues& values_;
    Node plus_rail_;
    Node minus_rail_;
};

constexpr std::string_view half_name(StageHalf half) {
    return half == StageHalf::plus ? "plus" : "minus";
}
constexpr Polarity own_polarity(StageHalf half) {
    return half == StageHalf::plus ? Polarity::npn : Polarity::pnp;
}
constexpr Polarity other(Polarity polarity) {
    return polarity == Polarity::npn ? Polarity::pnp : Polarity::npn;
}

} // namespace

Result<StageCircuit> StageCircuit::build(const StageValues& values, Drive drive,
                                         const StageLoad& load) {
    if (auto done = check(values); !done) {
        return done.error();
    }
    StageCircuit stage;
    auto made = std::make_shared<Places>();
    Places& at = *made;
    at.drive = drive;
    at.load = load;
    at.topology = values.topology;
    at.feed_side = values.feed_side;
    Circuit& circuit = stage.circuit_;
    Builder build(circuit, values);
    const StageDevices& devices = values.devices;
    const StageTemperatures& warm = values.temperatures;

    // Rails.
    const Node supply_plus = build.node("supply_plus");
    const Node supply_minus = build.node("supply_minus");
    at.rail_plus = build.volts("v_plus", supply_plus, 0, values.rail_plus_v);
    at.rail_minus = build.volts("v_minus", supply_minus, 0, -values.rail_minus_v);
    build.resistor("r_rail_plus", supply_plus, build.rail(StageHalf::plus), values.rail_ohm);
    build.resistor("r_rail_minus", supply_minus, build.rail(StageHalf::minus), values.rail_ohm);

    at.out = build.node("out");
    at.base_plus = build.node("base_plus");
    at.base_minus = build.node("base_minus");
    const auto base_of = [&](StageHalf half) {
        return half == StageHalf::plus ? at.base_plus : at.base_minus;
    };
    const bool triple = values.topology == Topology::follower_triple;
    const bool follower = values.topology == Topology::follower || triple;

    // Each half.
    for (const StageHalf half : {StageHalf::plus, StageHalf::minus}) {
        const bool plus = half == StageHalf::plus;
        const std::string name(half_name(half));
        const Node rail = build.rail(half);
        const double emitter_ohm =
            plus ? values.emitter_ohm : values.emitter_minus_ohm.value_or(values.emitter_ohm);
        auto& emitters = plus ? at.emitter_plus : at.emitter_minus;
        auto& outputs = plus ? at.output_plus_q : at.output_minus_q;
        for (int k = 1; k <= values.pairs; ++k) {
            const Node emitter = build.node(fmt::format("emitter_{}_{}", name, k));
            emitters.push_back(emitter);
            build.resistor(fmt::format("r_emitter_{}_{}", name, k), emitter, at.out, emitter_ohm);
        }
        const BipolarModel& output = plus ? devices.output_plus : devices.output_minus;
        const BipolarModel& driver = plus ? devices.driver_plus : devices.driver_minus;
        const double leak_ohm = plus ? values.driver_leak_plus_ohm : values.driver_leak_minus_ohm;
        auto& driver_q = plus ? at.driver_plus_q : at.driver_minus_q;
        auto& driver_node = plus ? at.driver_plus : at.driver_minus;
        Node driver_base = base_of(half);
        if (triple) {
            const Node pre = build.node("pre_" + name);
            at.drivers.push_back(build.transistor(
                "q_pre_" + name, own_polarity(half), rail, driver_base, pre,
                plus ? devices.pre_driver_plus : devices.pre_driver_minus, warm.driver_c));
            driver_base = pre;
        }
        driver_node = build.node("driver_" + name);
        // A feedback pair: the driver's emitter sits at the output side, its collector turns the
        // output device on. The lower half of a quasi-complementary stage is one.
        const bool pair = values.topology == Topology::feedback_pair ||
                          (values.topology == Topology::quasi && !plus);
        const Node driver_collector = pair ? driver_node : rail;
        const Node driver_emitter = pair ? emitters.front() : driver_node;
        driver_q = build.transistor("q_driver_" + name, own_polarity(half), driver_collector,
                                    driver_base, driver_emitter, driver, warm.driver_c);
        at.drivers.push_back(driver_q);
        if (leak_ohm > 0) {
            build.resistor("r_driver_leak_" + name, driver_collector, driver_emitter, leak_ohm);
        }
        if (!follower) {
            build.resistor("r_driver_" + name, driver_node, pair ? rail : emitters.front(),
                           values.driver_ohm);
        }
        for (int k = 1; k <= values.pairs; ++k) {
            const Node emitter = emitters[static_cast<std::size_t>(k) - 1];
            const Node base = build.node(fmt::format("output_base_{}_{}", name, k));
            build.resistor(fmt::format("r_stopper_{}_{}", name, k), driver_node, base,
                           values.stopper_ohm);
            outputs.push_back(pair ? build.transistor(fmt::format("q_output_{}_{}", name, k),
                                                      other(own_polarity(half)), emitter, base,
                                                      rail, output, warm.output_c)
                                   : build.transistor(fmt::format("q_output_{}_{}", name, k),
                                                      own_polarity(half), rail, base, emitter,
                                                      output, warm.output_c));
        }
    }
    if (follower) {
        build.resistor("r_drivers", at.driver_plus, at.driver_minus, values.driver_ohm);
    }
    if (triple) {
        build.resistor("r_pre_drivers", build.node("pre_plus"), build.node("pre_minus"),
                       values.pre_driver_ohm);
    }

    // Spreader.
    if (const auto* fixed = std::get_if<FixedSpreader>(&values.spreader)) {
        at.spread = build.volts("v_spread", at.base_plus, at.base_minus, fixed->volts);
    } else if (const auto* reading = std::get_if<SpreaderForReading>(&values.spreader)) {
        // The volts between the bases become what brings the reading about: the source's own volts
        // cancel out of its equation, which leaves reading − wanted = 0.
        const Node wanted = build.node("wanted_reading");
        at.reading = build.volts("v_reading", wanted, 0, reading->reading_v);
        stage.reading_v_ = reading->reading_v;
        ControlledSource source;
        source.plus = at.base_plus;
        source.minus = at.base_minus;
        source.inputs = {
            {ControlInput::Kind::volts, at.base_plus, at.base_minus, -1},
            {ControlInput::Kind::volts, at.emitter_plus.front(), at.out, -1},
            {ControlInput::Kind::volts, wanted, 0, -1},
        };
        source.slopes = {1, 1, -1};
        circuit.add("e_spread", source);
    } else if (const auto* multiplier = std::get_if<Multiplier>(&values.spreader)) {
        const Node sense = build.node("spreader_sense");
        at.upper = build.resistor("r_spreader_upper", at.base_plus, sense, multiplier->upper_ohm);
        at.lower = build.resistor("r_spreader_lower", sense, at.base_minus, multiplier->lower_ohm);
        Node base = sense;
        if (multiplier->base_ohm > 0) {
            base = build.node("spreader_base");
            build.resistor("r_spreader_base", sense, base, multiplier->base_ohm);
        }
        Node collector = at.base_plus;
        if (multiplier->collector_ohm > 0) {
            collector = build.node("spreader_collector");
            build.resistor("r_spreader_collector", at.base_plus, collector,
                           multiplier->collector_ohm);
        }
        if (multiplier->transistor_there) {
            at.spreader.push_back(build.transistor("q_spreader", Polarity::npn, collector, base,
                                                   at.base_minus, devices.spreader,
                                                   warm.spreader_c));
        }
        if (multiplier->collector_emitter_ohm > 0) {
            build.resistor("r_spreader_leak", collector, at.base_minus,
                           multiplier->collector_emitter_ohm);
        }
    } else if (const auto* string = std::get_if<DiodeString>(&values.spreader)) {
        Node top = at.base_plus;
        for (int k = 1; k <= string->count; ++k) {
            const Node below = build.node(fmt::format("string_{}", k));
            at.spreader.push_back(
                build.diode(fmt::format("d_spreader_{}", k), top, below, warm.spreader_c));
            top = below;
        }
        at.trim = build.resistor("r_trim", top, at.base_minus, string->trim_ohm);
    }

    // Limiters.
    for (const StageHalf half : {StageHalf::plus, StageHalf::minus}) {
        const bool plus = half == StageHalf::plus;
        const auto& limiter = plus ? values.limiter_plus : values.limiter_minus;
        if (!limiter) {
            continue;
        }
        const std::string name(half_name(half));
        const Node base = build.node("limiter_base_" + name);
        Node collector = base_of(half);
        if (limiter->collector_diode) {
            const Node below = build.node("limiter_collector_" + name);
            at.small.push_back(build.diode("d_limiter_" + name, plus ? collector : below,
                                           plus ? below : collector, warm.small_c));
            // Between two junctions that are both off nothing else says where this node lies.
            build.resistor("r_limiter_idle_" + name, below, at.out, k_idle_ohm);
            collector = below;
        }
        auto& limiter_q = plus ? at.limiter_plus_q : at.limiter_minus_q;
        limiter_q =
            build.transistor("q_limiter_" + name, own_polarity(half), collector, base, at.out,
                             plus ? devices.limiter_plus : devices.limiter_minus, warm.small_c);
        at.small.push_back(limiter_q);
        build.resistor("r_sense_" + name, (plus ? at.emitter_plus : at.emitter_minus).front(), base,
                       limiter->sense_ohm);
        if (limiter->divider_ohm) {
            build.resistor("r_divider_" + name, base, at.out, *limiter->divider_ohm);
        }
        if (limiter->ground_ohm) {
            Node end = 0;
            if (limiter->ground_diode) {
                end = build.node("limiter_ground_" + name);
                at.small.push_back(
                    build.diode("d_ground_" + name, plus ? end : 0, plus ? 0 : end, warm.small_c));
            }
            build.resistor("r_ground_" + name, base, end, *limiter->ground_ohm);
        }
        if (limiter->own_rail_ohm) {
            build.resistor("r_own_rail_" + name, base, build.rail(half), *limiter->own_rail_ohm);
        }
        if (limiter->far_rail_ohm) {
            build.resistor("r_far_rail_" + name, base,
                           build.rail(plus ? StageHalf::minus : StageHalf::plus),
                           *limiter->far_rail_ohm);
        }
        if (limiter->leak_ohm) {
            build.resistor("r_limiter_leak_" + name, collector, at.out, *limiter->leak_ohm);
        }
    }

    if (std::holds_alternative<SpreaderForReading>(values.spreader) && drive != Drive::regulated) {
        return refusal(ErrorCode::contradictory, "Spreader",
                       "a reading is only there to be met while the output is held.");
    }

    // Feed and voltage amplifier.
    const StageHalf feed_half = values.feed_side;
    const StageHalf amplifier_half =
        feed_half == StageHalf::plus ? StageHalf::minus : StageHalf::plus;
    const double up = feed_half == StageHalf::plus ? 1 : -1;
    if (values.feed == Feed::current_source) {
        BipolarModel model = at_temperature(devices.source, warm.small_c);
        const double rail_v =
            feed_half == StageHalf::plus ? values.rail_plus_v : values.rail_minus_v;
        const double resting_v = std::max(rail_v - values.source_drop_v - 2, 1.0);
        const BaseDrive drive_there = base_drive(model, values.supply_a, resting_v);
        const double emitter_a = values.supply_a + drive_there.base_a;
        const Node emitter = build.node("source_emitter");
        const Node base = build.node("source_base");
        build.resistor("r_source", build.rail(feed_half), emitter,
                       values.source_drop_v / emitter_a);
        build.volts("v_source", base, build.rail(feed_half),
                    -up * (values.source_drop_v + drive_there.base_emitter_v));
        at.feed = build.transistor("q_source", other(own_polarity(feed_half)), base_of(feed_half),
                                   base, emitter, devices.source, warm.small_c);
        at.small.push_back(at.feed);
        at.source_emitter = emitter;
        at.source_collector = base_of(feed_half);
    } else if (drive == Drive::regulated && std::holds_alternative<OpenLoad>(load)) {
        // At rest the bootstrap capacitor carries nothing: both resistors in series to the rail.
        const double rail_v =
            feed_half == StageHalf::plus ? values.rail_plus_v : values.rail_minus_v;
        at.feed = build.resistor("r_bootstrap", build.rail(feed_half), base_of(feed_half),
                                 (rail_v - k_resting_base_v) / values.supply_a);
    } else {
        // The bootstrap capacitor holds the resistor's far end a fixed way above the output: half
        // of what lies between rail and output at rest, as with two equal resistors.
        const double rail_v =
            feed_half == StageHalf::plus ? values.rail_plus_v : values.rail_minus_v;
        const double half_v = (rail_v - k_resting_base_v) / 2;
        const Node boot = build.node("bootstrap");
        const Node above = build.node("bootstrap_volts");
        build.volts("v_bootstrap", above, 0, up * (half_v + k_resting_base_v));
        ControlledSource ride; // out of ground: the rail feeds the resistor, not the output
        ride.plus = boot;
        ride.inputs = {{ControlInput::Kind::volts, at.out, 0, -1},
                       {ControlInput::Kind::volts, above, 0, -1}};
        ride.slopes = {1, 1};
        circuit.add("e_bootstrap", ride);
        at.feed = build.resistor("r_bootstrap", boot, base_of(feed_half), half_v / values.supply_a);
    }
    const Node held = base_of(amplifier_half);
    const bool toward_amplifier =
        (drive == Drive::full_plus) == (amplifier_half == StageHalf::plus);
    if (drive == Drive::regulated) {
        const Node target = build.node("target");
        at.target = build.volts("v_target", target, 0, 0);
        ControlledSource source; // its own volts cancel, which leaves output − target = 0
        source.plus = held;
        source.inputs = {{ControlInput::Kind::volts, held, 0, -1},
                         {ControlInput::Kind::volts, at.out, target, -1}};
        source.slopes = {1, 1};
        at.regulator = circuit.add("e_amplifier", source);
    } else if (toward_amplifier) {
        BipolarModel model = at_temperature(devices.amplifier, warm.small_c);
        const BaseDrive drive_there = base_drive(model, values.most_a, 10);
        constexpr double k_base_ohm = 1000;
        const Node base = build.node("amplifier_base");
        const Node pushed = build.node("amplifier_drive");
        const Node emitter = build.node("amplifier_emitter");
        const double down = amplifier_half == StageHalf::minus ? 1 : -1;
        build.resistor("r_amplifier", emitter, build.rail(amplifier_half), values.amplifier_ohm);
        build.resistor("r_amplifier_base", pushed, base, k_base_ohm);
        build.volts("v_amplifier", pushed, build.rail(amplifier_half),
                    down * (drive_there.base_emitter_v +
                            values.amplifier_ohm * (values.most_a + drive_there.base_a) +
                            k_base_ohm * drive_there.base_a));
        at.amplifier = build.transistor("q_amplifier", other(own_polarity(amplifier_half)), held,
                                        base, emitter, devices.amplifier, warm.small_c);
        at.small.push_back(at.amplifier);
    }

    // Load.
    double guess_v = 0;
    if (const auto* resistor = std::get_if<ResistorLoad>(&load)) {
        if (auto done = check({{"Load", resistor->ohm, 1e-3, 1e9, "Ω"}}); !done) {
            return done.error();
        }
        at.load_element = build.resistor("r_load", at.out, 0, resistor->ohm);
    } else if (const auto* current = std::get_if<CurrentLoad>(&load)) {
        CurrentSource source{at.out, 0, {}};
        source.value.dc = current->amperes;
        at.load_element = circuit.add("i_load", source);
    } else if (const auto* forced = std::get_if<ForcedOutput>(&load)) {
        at.load_element = build.volts("v_output", at.out, 0, forced->volts);
        guess_v = forced->volts;
    }
    if (drive == Drive::full_plus && !std::holds_alternative<ForcedOutput>(load)) {
        guess_v = values.rail_plus_v * 0.8;
    } else if (drive == Drive::full_minus && !std::holds_alternative<ForcedOutput>(load)) {
        guess_v = -values.rail_minus_v * 0.8;
    }
    circuit.first_guess[at.out] = guess_v;
    const double reach = triple ? 1.8 : 1.2;
    circuit.first_guess[at.base_plus] =
        guess_v + (values.topology == Topology::feedback_pair ? 0.6 : reach);
    circuit.first_guess[at.base_minus] = guess_v - (values.topology == Topology::follower ? 1.2
                                                    : triple                              ? 1.8
                                                                                          : 0.6);

    stage.places_ = std::move(made);
    stage.solver_.emplace(circuit);
    return stage;
}

void StageCircuit::set_output(double volts) {
    if (places_->target >= 0) {
        solver_->set_value(places_->target, volts);
    }
}

void StageCircuit::set_load(double value) {
    if (places_->load_element >= 0) {
        solver_->set_value(places_->load_element, value);
    }
}

void StageCircuit::set_spread(double volts) {
    if (places_->spread >= 0) {
        solver_->set_value(places_->spread, volts);
    }
}

void StageCircuit::set_reading(double volts) {
    if (places_->reading >= 0) {
        reading_v_ = volts;
        solver_->set_value(places_->reading, volts);
    }
}

void StageCircuit::set_spreader(double upper_ohm, double lower_ohm) {
    if (places_->upper >= 0) {
        solver_->set_value(places_->upper, std::max(upper_ohm, k_wire_ohm));
        solver_->set_value(places_->lower, std::max(lower_ohm, k_wire_ohm));
    }
}

void StageCircuit::set_trim(double ohm) {
    if (places_->trim >= 0) {
        solver_->set_value(places_->trim, std::max(ohm, k_wire_ohm));
    }
}

void StageCircuit::set_temperatures(const StageTemperatures& temperatures) {
    const auto warm = [&](const std::vector<ElementId>& ids, double celsius) {
        for (const ElementId id : ids) {
            solver_->set_junction(id, celsius);
        }
    };
    warm(places_->output_plus_q, temperatures.output_c);
    warm(places_->output_minus_q, temperatures.output_c);
    warm(places_->drivers, temperatures.driver_c);
    warm(places_->spreader, temperatures.spreader_c);
    warm(places_->small, temperatures.small_c);
}

Result<Done> StageCircuit::change(const StageValues& values) {
    auto other = build(values, places_->drive, places_->load);
    if (!other) {
        return other.error();
    }
    const auto same_kind = [](const Element& a, const Element& b) {
        return a.part.index() == b.part.index();
    };
    const auto before = circuit_.elements();
    const auto after = other->circuit_.elements();
    if (other->circuit_.node_count() != circuit_.node_count() ||
        !std::equal(before.begin(), before.end(), after.begin(), after.end(), same_kind)) {
        return refusal(ErrorCode::contradictory, "Stage",
                       "other values have to be of the same parts.");
    }
    circuit_ = std::move(other->circuit_);
    places_ = std::move(other->places_);
    reading_v_ = other->reading_v_;
    solver_->take(circuit_);
    return Done{};
}

Result<Done> StageCircuit::settle() {
    const Places& at = *places_;
    const auto believable = [&] {
        const auto rail = [&](ElementId id) {
            return point_.volts(std::get<VoltageSource>(circuit_.element(id).part).plus);
        };
        const double most_v = rail(at.rail_plus) - rail(at.rail_minus);
        return std::abs(point_.volts(at.base_plus, at.base_minus)) < most_v;
    };
    auto done = solver_->resolve(point_);
    if (at.reading < 0 || (done && believable())) {
        return done;
    }
    // The volts between the bases are free here, and far away there are answers that no stage has:
    // from a reading near by back to the one wanted.
    const double wanted_v = reading_v_;
    for (const double share : {0.8, 1.25, 0.5, 2.0}) {
        solver_->set_value(at.reading, share * wanted_v);
        const bool near_by = solver_->solve(point_).ok() && believable();
        solver_->set_value(at.reading, wanted_v);
        if (near_by && solver_->resolve(point_).ok() && believable()) {
            return Done{};
        }
    }
    return refusal(
        ErrorCode::failed, "Spreader",
        worded("no volts between the bases were found that give a reading of {:.4g}\u2009mV.",
               1e3 * wanted_v));
}

Result<StagePoint> StageCircuit::solve() {
    if (auto done = settle(); !done) {
        return done.error();
    }
    const Places& at = *places_;
    const OperatingPoint& p = point_;
    StagePoint result;
    result.output_v = p.volts(at.out);
    for (const Node emitter : at.emitter_plus) {
        result.reading_plus_v.push_back(p.volts(emitter, at.out));
    }
    for (const Node emitter : at.emitter_minus) {
        result.reading_minus_v.push_back(p.volts(at.out, emitter));
    }
    result.base_plus_v = p.volts(at.base_plus);
    result.base_minus_v = p.volts(at.base_minus);
    result.spread_v = result.base_plus_v - result.base_minus_v;
    const auto power = [&](ElementId id) { return p.element(id).power_w; };
    const auto size = [&](ElementId id) { return std::abs(p.element(id).current_a); };
    const auto vce = [&](ElementId id) {
        const auto& q = std::get<Bipolar>(circuit_.element(id).part);
        return std::abs(p.volts(q.collector, q.emitter));
    };
    const ElementId plus = at.output_plus_q.front();
    const ElementId minus = at.output_minus_q.front();
    result.output_plus_w = power(plus);
    result.output_minus_w = power(minus);
    result.driver_plus_w = power(at.driver_plus_q);
    result.driver_minus_w = power(at.driver_minus_q);
    result.output_plus_a = size(plus);
    result.output_minus_a = size(minus);
    result.output_plus_vce_v = vce(plus);
    result.output_minus_vce_v = vce(minus);
    result.driver_spread_v = p.volts(at.driver_plus, at.driver_minus);
    result.feed_a = size(at.feed);
    if (std::holds_alternative<Bipolar>(circuit_.element(at.feed).part)) {
        result.feed_left_v = vce(at.feed);
    }
    const double down = at.feed_side == StageHalf::plus ? 1 : -1;
    if (at.regulator >= 0) {
        // Into the source's first node: out of the base node when positive.
        result.amplifier_a = down * p.element(at.regulator).current_a;
        if (result.amplifier_a < -1e-7) {
            return refusal(ErrorCode::contradictory, "Output",
                           worded("the stage cannot hold its output at {:.4g}\u2009V: the "
                                  "supply current does not reach.",
                                  result.output_v));
        }
    } else if (at.amplifier >= 0) {
        result.amplifier_a = size(at.amplifier);
    }
    if (at.limiter_plus_q >= 0) {
        result.limiter_plus_a = size(at.limiter_plus_q);
    }
    if (at.limiter_minus_q >= 0) {
        result.limiter_minus_a = size(at.limiter_minus_q);
    }
    result.rail_plus_a = -p.element(at.rail_plus).current_a;
    result.rail_minus_a = p.element(at.rail_minus).current_a;
    if (at.load_element >= 0) {
        result.load_a = p.element(at.load_element).current_a;
    }
    return result;
}

Result<double> StageCircuit::gain() {
    if (places_->target < 0) {
        return refusal(ErrorCode::contradictory, "Gain",
                       "only a stage whose output is held has one.");
    }
    slopes_.resize(static_cast<std::size_t>(circuit_.node_count()));
    if (auto done = solver_->slopes(places_->target, slopes_); !done) {
        return done.error();
    }
    const double mean = (slopes_[static_cast<std::size_t>(places_->base_plus)] +
                         slopes_[static_cast<std::size_t>(places_->base_minus)]) /
                        2;
    return 1 / mean;
}

} // namespace railside
