// Idle current: from the volts across the emitter resistors to amperes, heat and the crossover
// picture.
//
// The current is Ohm's law (core/stage/idle.h). The picture is the stage's circuit
// (core/stage/crossover_circuit.h) once devices are given or the stage is no plain follower, and
// the closed class AB split of core/stage/crossover.h otherwise. The window is the service target
// when there is one. Without one it runs from where the gain ripple has grown by half below its
// least, up to the ceiling of equal gain; both limits carry the doubt about the devices.
#include "core/stage/idle.h"
#include "core/quantity/interval.h"
#include "core/quantity/value_code.h"
#include "core/stage/crossover.h"
#include "core/stage/crossover_circuit.h"
#include "core/words/words.h"
#include "core/working/entries.h"
#include "core/working/inputs.h"
#include "core/working/stage_fields.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

namespace railside {

namespace {

constexpr std::array k_across{
    Choice{"one", "one resistor"},
    Choice{"both", "both outer ends"},
};

constexpr Condition k_with_triple{"topology", "triple"};

constexpr Field with(Field field, Condition when) {
    field.when = when;
    return field;
}

constexpr std::array k_fields{
    Field{.key = "emitter_resistor",
          .label = "Emitter resistor",
          .symbol = "R_E",
          .help = "Value printed on one emitter resistor of the output devices.",
          .unit = Unit::ohm,
          .low = 0.01,
          .high = 10,
          .usual_low = 0.1,
          .usual_high = 1,
          .by_default = "0R22",
          .spread = Spread::tolerance,
          .default_spread = 0.05},
    Field{.key = "reading",
          .label = "Reading",
          .symbol = "V_RE",
          .help = "Volts on the meter with nothing playing and no loudspeaker; type every digit it "
                  "shows.",
          .unit = Unit::volt,
          .low = 0,
          .high = 5,
          .usual_low = 0.001,
          .usual_high = 0.1,
          .spread = Spread::meter},
    Field{.key = "across",
          .label = "Leads across",
          .help = "One emitter resistor, or the two outer ends so that both are read in series.",
          .kind = FieldKind::choice,
          .by_default = "one",
          .choices = k_across},
    Field{.key = "pairs",
          .label = "Pairs",
          .symbol = "n",
          .help = "Output devices in parallel in each half of this channel.",
          .unit = Unit::ratio,
          .low = 1,
          .high = 12,
          .usual_low = 1,
          .usual_high = 6,
          .by_default = "1",
          .spread = Spread::count},
    Field{.key = "rail",
          .label = "Rail",
          .symbol = "V_CC",
          .help = "Supply of one side to ground, with nothing playing.",
          .unit = Unit::volt,
          .low = 5,
          .high = 200,
          .usual_low = 15,
          .usual_high = 100,
          .spread = Spread::tolerance,
          .default_spread = 0.02},
    Field{.key = "load",
          .label = "Load",
          .symbol = "R_L",
          .help = "Nominal resistance of the loudspeaker or dummy load.",
          .unit = Unit::ohm,
          .low = 1,
          .high = 64,
          .usual_low = 2,
          .usual_high = 16,
          .by_default = "8"},
    Field{.key = "target",
          .label = "Target",
          .symbol = "V_target",
          .help = "Volts across one emitter resistor that the service manual asks for.",
          .need = Need::optional,
          .unit = Unit::volt,
          .low = 0.0001,
          .high = 2,
          .usual_low = 0.002,
          .usual_high = 0.1},
    Field{.key = "target_spread",
          .label = "Target window",
          .help = "How far from the target is still right; a target typed with its own tolerance "
                  "overrides it.",
          .unit = Unit::percent,
          .low = 0.01,
          .high = 0.95,
          .usual_low = 0.05,
          .usual_high = 0.5,
          .by_default = "25 %"},
    Field{.key = "junction",
          .label = "Junction",
          .symbol = "T_j",
          .help =
              "Temperature of the output devices' junctions; it moves the best setting by 0.3 % "
              "for each kelvin.",
          .unit = Unit::celsius,
          .low = -20,
          .high = 175,
          .usual_low = 15,
          .usual_high = 100,
          .by_default = "27"},
    Field{.key = "internal_resistance",
          .label = "Internal resistance",
          .symbol = "r_int",
          .help = "Emitter-side resistance of one output device, from its model; leave empty when "
                  "not known.",
          .need = Need::optional,
          .unit = Unit::ohm,
          .low = 0,
          .high = 1,
          .usual_low = 0.01,
          .usual_high = 0.2,
          .spread = Spread::tolerance,
          .default_spread = 0.2},
    stage_field::k_topology,
    stage_field::k_output_plus,
    stage_field::k_output_minus,
    stage_field::k_driver_plus,
    stage_field::k_driver_minus,
    with(stage_field::k_pre_driver_plus, k_with_triple),
    with(stage_field::k_pre_driver_minus, k_with_triple),
    stage_field::k_driver_resistor,
    stage_field::k_base_stopper,
};

// An open emitter resistor leaves the meter across a base-emitter junction: about one V_BE, or more
// when the loop hunts. No idle setting is meant to drop as much as this.
constexpr double k_open_resistor_v = 0.4;
// Above this each device wants its sink watched while the bench decides.
constexpr double k_hot_device_w = 8;
constexpr int k_points = 161;
constexpr int k_circuit_points = 81;
constexpr double k_visible_notch = 0.002;
// A reading of nothing still has to be a spread.
constexpr double k_least_reading_v = 1e-6;

std::string volts(double value) { return print_value(value, Unit::volt, 3); }
std::string volts(const Interval& range) {
    return print_range(range.low, range.high, Unit::volt, 3);
}
std::string watts(double value) { return print_value(value, Unit::watt, 3); }
// Near the target two digits would hide which side it lies on.
std::string times(double ratio) {
    return print_value(ratio, Unit::ratio, ratio >= 2 && ratio < 100 ? 2 : 3);
}

struct Given {
    Across across = Across::one;
    int pairs = 1;
    Amount reading;     // as the meter shows it
    Amount reading_one; // across one resistor
    Amount emitter;
    Amount rail;
    Amount load;
    Amount junction;
    Amount internal;
    bool internal_known = false;
    const Amount* target = nullptr;
    double target_spread = 0;
    Topology topology = Topology::follower;
};

Given given_in(const Inputs& inputs) {
    Given in;
    in.across = given(inputs, "across").word == "both" ? Across::both : Across::one;
    in.pairs = static_cast<int>(amount_of(inputs, "pairs").value);
    in.reading = amount_of(inputs, "reading");
    in.reading_one = reading_of_one(in.reading, in.across);
    in.emitter = amount_of(inputs, "emitter_resistor");
    in.rail = amount_of(inputs, "rail");
    in.load = amount_of(inputs, "load");
    in.junction = amount_of(inputs, "junction");
    const Amount* internal = amount_if_given(inputs, "internal_resistance");
    in.internal_known = internal != nullptr;
    in.internal = internal != nullptr ? *internal : generic_internal_resistance();
    in.target = amount_if_given(inputs, "target");
    in.target_spread = amount_of(inputs, "target_spread").value;
    return in;
}

OutputStage stage_of(const Given& in, double emitter_ohm, double internal_ohm, double junction_c) {
    return {.emitter_ohm = emitter_ohm,
            .internal_ohm = internal_ohm,
            .load_ohm = in.load.value,
            .pairs = in.pairs,
            .junction_c = junction_c};
}

/// What the crossover alone asks for, volts across one resistor.
struct CrossoverWindow {
    Interval low;     // below: the notch shows
    Interval best;    // least ripple
    Interval ceiling; // above: both halves lift the gain round zero
    std::string_view ceiling_means = "equal gain at zero and at large current";
};

CrossoverWindow crossover_window(const Given& in) {
    // All three rise with R_E and temperature and fall with r_int, so two corners bound them.
    const std::array stages{
        stage_of(in, in.emitter.value, in.internal.value, in.junction.value),
        stage_of(in, in.emitter.low, in.internal.high, in.junction.low),
        stage_of(in, in.emitter.high, in.internal.low, in.junction.high),
    };
    std::array<BestBias, 3> best;
    std::transform(stages.begin(), stages.end(), best.begin(), best_bias);
    const auto around = [](double value, double a, double b) {
        return interval_around<2>(value, {a, b});
    };
    return {around(best[0].low_reading_v, best[1].low_reading_v, best[2].low_reading_v),
            around(best[0].reading_v, best[1].reading_v, best[2].reading_v),
            around(oliver_reading_v(stages[0]), oliver_reading_v(stages[1]),
                   oliver_reading_v(stages[2]))};
}

Interval target_window(const Given& in) {
    const Amount& target = *in.target;
    if (target.low < target.high) {
        return Interval::from(target);
    }
    return {target.value * (1 - in.target_spread), target.value,
            target.value * (1 + in.target_spread)};
}

/// A figure of the crossover at the reading, with the interval of everything that goes into it.
template <class F> Interval of_stage(const Given& in, F&& figure) {
    return monotone(
        [&](double reading_v, double emitter_ohm, double internal_ohm, double load_ohm,
            double junction_c) {
            OutputStage stage = stage_of(in, emitter_ohm, internal_ohm, junction_c);
            stage.load_ohm = load_ohm;
            return figure(stage, reading_v / emitter_ohm);
        },
        Interval::from(in.reading_one), Interval::from(in.emitter), Interval::from(in.internal),
        Interval::from(in.load), Interval::from(in.junction));
}

Verdict against_target(const Given& in, const Amount& heat, double notch) {
    const Interval window = target_window(in);
    const double ratio = in.reading_one.value / in.target->value;
    const std::string allowed = worded("{} to {}", volts(window.low), volts(window.high));
    switch (place(Interval::from(in.reading_one), window.low, window.high)) {
    case Placement::inside:
        return {VerdictState::in_window, "in window",
                worded("{} times the target of {}, inside {}.", times(ratio),
                       volts(in.target->value), allowed)};
    case Placement::above:
        return {VerdictState::outside, "outside, high",
                heat.value >= k_hot_device_w || ratio > 3
                    ? worded("{} times the target. Idle heat {} a device; switch off before "
                             "the sink passes 70\u2009°C.",
                             times(ratio), watts(heat.value))
                    : worded("{} times the target. Idle heat {} a device; turn the trim down "
                             "and let it settle.",
                             times(ratio), watts(heat.value))};
    case Placement::below:
        return {VerdictState::outside, "outside, low",
                worded("{} times the target of {}, a notch {} deep at zero; turn the trim up "
                       "in small steps and let it settle.",
                       times(ratio), volts(in.target->value),
                       print_value(std::max(notch, 0.0), Unit::percent, 2))};
    case Placement::at_high_edge:
        return {VerdictState::at_the_edge, "at the edge, high",
                worded("The reading is {}, the window ends at {}; one more digit decides.",
                       volts(Interval::from(in.reading_one)), volts(window.high))};
    case Placement::at_low_edge:
        break;
    }
    return {VerdictState::at_the_edge, "at the edge, low",
            worded("The reading is {}, the window starts at {}; one more digit decides.",
                   volts(Interval::from(in.reading_one)), volts(window.low))};
}

Verdict against_crossover(const Given& in, const CrossoverWindow& window, bool devices_known,
                          const Amount& heat, double notch) {
    const Interval reading = Interval::from(in.reading_one);
    if (reading.low > window.ceiling.high) {
        return {VerdictState::outside, "outside, high",
                worded("{} times the crossover ceiling of {} ({}). Idle heat {} a device{}.",
                       times(reading.value / window.ceiling.value), volts(window.ceiling.value),
                       window.ceiling_means, watts(heat.value),
                       heat.value >= k_hot_device_w
                           ? "; switch off before the sink passes 70\u2009°C"
                           : "; right only if the maker asks for that much")};
    }
    if (reading.high < window.low.low) {
        return {VerdictState::outside, "outside, low",
                worded("Below {}, where the gain ripple has grown by half over its least: a "
                       "notch {} deep at zero.",
                       volts(window.low.value),
                       print_value(std::max(notch, 0.0), Unit::percent, 2))};
    }
    if (reading.low >= window.low.high && reading.high <= window.ceiling.low) {
        return {VerdictState::in_window, "in window",
                worded("Between {}, where the gain ripple grows, and the crossover ceiling of "
                       "{}; least ripple at {}.",
                       volts(window.low.value), volts(window.ceiling.value),
                       volts(window.best.value))};
    }
    const bool high = reading.value > window.best.value;
    const Interval& limit = high ? window.ceiling : window.low;
    const bool straddles = contains(reading, limit.value);
    if (!devices_known && !straddles) {
        return {VerdictState::undecided, "undecided",
                worded("The {} lies somewhere in {} as long as the devices' internal "
                       "resistance is a guess, and {} is within that.",
                       high ? "crossover ceiling" : "low limit", volts(limit),
                       volts(reading.value))};
    }
    return {VerdictState::at_the_edge, high ? "at the edge, high" : "at the edge, low",
            worded("The reading is {}, the {} is {}.", volts(reading),
                   high ? "crossover ceiling" : "low limit, where the gain ripple grows,",
                   limit.low < limit.high ? volts(limit) : volts(limit.value))};
}

Curve empty_gain_curve(std::string key, std::string label, CurveRole role) {
    return {std::move(key),
            std::move(label),
            role,
            {"Output", Unit::volt, {}},
            {"Incremental gain", Unit::ratio, {}}};
}

/// `part` of the way out, −1 to 1; the points crowd round zero where the crossover is.
double crowded(double part) {
    constexpr double k_crowding = 3;
    return std::sinh(k_crowding * part) / std::sinh(k_crowding);
}

/// Gain against output voltage by the closed split.
Curve gain_curve(std::string key, std::string label, CurveRole role, const OutputStage& stage,
                 double idle_a, double span_a) {
    Curve curve = empty_gain_curve(std::move(key), std::move(label), role);
    curve.x.values.resize(k_points);
    curve.y.values.resize(k_points);
    constexpr int k_middle = k_points / 2;
    for (int i = 0; i <= k_middle; ++i) {
        const double output_a = span_a * crowded(static_cast<double>(i) / k_middle);
        const double output_v = output_a * stage.load_ohm;
        const double gain = incremental_gain(stage, idle_a, output_a);
        curve.x.values[k_middle + i] = output_v;
        curve.x.values[k_middle - i] = -output_v;
        curve.y.values[k_middle + i] = gain;
        curve.y.values[k_middle - i] = gain;
    }
    return curve;
}

/// The curves that there are; `curve(key, label, role, reading_v, span_a)` makes one.
template <class F>
std::vector<Curve> gain_curves(const Given& in, std::optional<double> best_v, double most_of_rail,
                               F&& curve) {
    const double found_v = in.reading_one.value;
    double widest_v = std::max(found_v, best_v.value_or(0));
    if (in.target != nullptr) {
        widest_v = std::max(widest_v, in.target->value);
    }
    const double idle_a = widest_v / in.emitter.value;
    const double span_a = std::min(std::max(1.0, 4 * in.pairs * idle_a),
                                   most_of_rail * in.rail.value / in.load.value);
    std::vector<Curve> curves;
    const auto add = [&](std::string key, std::string_view name, CurveRole role, double volt) {
        curves.push_back(
            curve(std::move(key), worded("{}, {}", name, volts(volt)), role, volt, span_a));
    };
    add("as_found", "as found", CurveRole::as_found, found_v);
    if (in.target != nullptr) {
        add("target", "target", CurveRole::target, in.target->value);
    }
    if (best_v) {
        add("optimum", "least ripple", CurveRole::optimum, *best_v);
    }
    return curves;
}

/// The crossover at the reading, however it was worked out.
struct Picture {
    std::optional<CrossoverWindow> window; // none: no clear best
    Interval zero;
    Interval large;
    Interval notch;
    std::vector<Curve> curves;
    bool devices_known = false;
    std::vector<std::string> notes; // how it was worked out
};

Picture closed_picture(const Given& in) {
    Picture picture;
    picture.window = crossover_window(in);
    picture.zero = of_stage(
        in, [](const OutputStage& stage, double idle_a) { return gain_at_zero(stage, idle_a); });
    picture.large =
        of_stage(in, [](const OutputStage& stage, double) { return gain_large(stage); });
    picture.notch = of_stage(
        in, [](const OutputStage& stage, double idle_a) { return notch_depth(stage, idle_a); });
    picture.devices_known = in.internal_known;
    constexpr double k_most_of_rail = 0.9;
    const OutputStage stage = stage_of(in, in.emitter.value, in.internal.value, in.junction.value);
    picture.curves = gain_curves(
        in, picture.window->best.value, k_most_of_rail,
        [&](std::string key, std::string label, CurveRole role, double volt, double span_a) {
            return gain_curve(std::move(key), std::move(label), role, stage,
                              volt / stage.emitter_ohm, span_a);
        });
    if (in.internal_known) {
        picture.notes.emplace_back("Crossover by the closed class AB split with that internal "
                                   "resistance; give the devices' types for the circuit's own.");
    } else {
        picture.notes.push_back(worded(
            "No device constants: internal resistance taken as {}, {} for a generic output device. "
            "Only the crossover figures rest on it (closed class AB split), not the current.",
            print_value(in.internal.value, Unit::ohm, 2),
            print_range(in.internal.low, in.internal.high, Unit::ohm, 2)));
    }
    return picture;
}

/// Whether the crossover is asked of the circuit.
bool circuit_wanted(const Given& in, const StageGiven& stage) {
    return !stage.blind || in.topology != Topology::follower;
}

/// Gain at nought, gain well out, notch, and how the best bias goes: volts of one V_T over the
/// share of R_E in the whole emitter resistance.
constexpr std::size_t k_figures = 4;
using CircuitFigures = std::array<double, k_figures>;

CircuitFigures figures_of(const StageValues& values, double load_ohm, const CrossoverAt& at) {
    const double whole_ohm = values.pairs * load_ohm * (1 / at.gain_large - 1);
    return {at.gain_zero, at.gain_large, at.notch(),
            thermal_voltage_v(values.temperatures.output_c) * values.emitter_ohm /
                std::max(whole_ohm, 0.1 * values.emitter_ohm)};
}

Interval scaled(double value, const Interval& like, double margin) {
    return {value * like.low / like.value * (1 - margin), value,
            value * like.high / like.value * (1 + margin)};
}

Result<Picture> circuit_picture(const Given& in, StageGiven stage) {
    const double reading_v = std::max(in.reading_one.value, k_least_reading_v);
    const auto at = [&](const StageValues& values, double volt,
                        double load_ohm) -> Result<CircuitFigures> {
        auto circuit = CrossoverCircuit::build(values, load_ohm);
        if (!circuit) {
            return circuit.error();
        }
        const auto there = circuit->at_reading(std::max(volt, k_least_reading_v));
        if (!there) {
            return there.error();
        }
        return figures_of(values, load_ohm, *there);
    };
    // What does not move the gain at a given reading costs time and tells nothing.
    std::erase_if(stage.doubts, [](const StageGiven::Ends& ends) {
        return ends.what != "emitter resistor" && !ends.what.starts_with("gain of");
    });
    add_doubt(stage, "junction", in.junction.low, in.junction.high,
              [](StageValues& values, double celsius) { values.temperatures.output_c = celsius; });
    auto figures = over_doubts<k_figures>(
        stage, [&](const StageValues& values) { return at(values, reading_v, in.load.value); });
    if (!figures) {
        return figures.error();
    }
    const CircuitFigures typical{(*figures)[0].value, (*figures)[1].value, (*figures)[2].value,
                                 (*figures)[3].value};
    const auto widen = [&](const Result<CircuitFigures>& end) {
        for (std::size_t i = 0; end && i < k_figures; ++i) {
            const double moved = (*end)[i] - typical[i];
            (*figures)[i].low += std::min(moved, 0.0);
            (*figures)[i].high += std::max(moved, 0.0);
        }
    };
    for (const double volt : {in.reading_one.low, in.reading_one.high}) {
        if (volt != in.reading_one.value) {
            widen(at(stage.values, volt, in.load.value));
        }
    }
    for (const double ohm : {in.load.low, in.load.high}) {
        if (ohm != in.load.value) {
            widen(at(stage.values, reading_v, ohm));
        }
    }

    Picture picture;
    picture.zero = (*figures)[0];
    picture.large = (*figures)[1];
    picture.notch = (*figures)[2];
    picture.devices_known = !stage.blind;
    auto circuit = CrossoverCircuit::build(stage.values, in.load.value);
    if (!circuit) {
        return circuit.error();
    }
    const auto window = circuit->window();
    if (!window) {
        return window.error();
    }
    if (*window) {
        // Besides the devices' doubt: simulation is matched to a twentieth; a generic feedback
        // pair's own loop is anybody's guess.
        const double margin = stage.blind && in.topology == Topology::feedback_pair ? 0.3 : 0.05;
        const Interval& like = (*figures)[3];
        picture.window = CrossoverWindow{
            scaled((*window)->low_v, like, margin), scaled((*window)->best_v, like, margin),
            scaled((*window)->high_v, like, margin), "a hump makes the ripple half as large again"};
    }
    const std::optional<double> best_v = *window ? std::optional((*window)->best_v) : std::nullopt;
    constexpr double k_most_of_rail = 0.75; // beyond, the bare stage has no volts left
    picture.curves = gain_curves(
        in, best_v, k_most_of_rail,
        [&](std::string key, std::string label, CurveRole role, double volt, double span_a) {
            Curve curve = empty_gain_curve(std::move(key), std::move(label), role);
            if (!circuit->set_reading(std::max(volt, k_least_reading_v))) {
                return curve;
            }
            constexpr int k_middle = k_circuit_points / 2;
            for (int i = -k_middle; i <= k_middle; ++i) {
                const double output_v =
                    span_a * in.load.value * crowded(static_cast<double>(i) / k_middle);
                if (const auto gain = circuit->gain_at(output_v)) {
                    curve.x.values.push_back(output_v);
                    curve.y.values.push_back(*gain);
                }
            }
            return curve;
        });
    std::erase_if(picture.curves, [](const Curve& curve) { return curve.x.values.empty(); });
    picture.notes.push_back(constants_note(stage));
    picture.notes.emplace_back("Crossover worked out on the stage's circuit, both halves as they "
                               "are.");
    return picture;
}

bool looks_open(const Given& in) {
    if (in.reading.value < k_open_resistor_v) {
        return false;
    }
    return in.target == nullptr || in.reading_one.low > target_window(in).high;
}

void add_cautions(const Given& in, const Verdict& verdict, const Amount& heat, bool open,
                  Outcome& outcome) {
    auto& cautions = outcome.cautions;
    if (open) {
        cautions.push_back(worded(
            "{} is about one base-emitter drop or more: an open emitter resistor reads like this. "
            "Switch off, let the reservoirs discharge and measure the resistor before anything "
            "else.",
            volts(in.reading.value)));
    }
    cautions.push_back(worded("Clip the leads on and off with the power off; the reservoirs "
                              "hold ±{} after switch-off.",
                              print_short(in.rail.value, Unit::volt)));
    if (verdict.word == "outside, high" || open) {
        cautions.emplace_back("Turn the trim to its least before the next power-up.");
    }
    if (heat.value >= k_hot_device_w && !open) {
        cautions.push_back(
            worded("The sink takes {} from this channel with nothing playing: hot within "
                   "minutes.",
                   watts(2 * in.pairs * heat.value)));
    }
}

std::string_view topology_words(Topology topology) {
    switch (topology) {
    case Topology::follower:
        return "a complementary emitter follower";
    case Topology::follower_triple:
        return "a complementary emitter follower with two drivers";
    case Topology::quasi:
        return "a quasi-complementary stage";
    case Topology::feedback_pair:
        break;
    }
    return "complementary feedback pairs, which want far less than emitter followers";
}

void add_notes(const Given& in, const Picture& picture, bool open, Outcome& outcome) {
    auto& notes = outcome.notes;
    if (open) {
        notes.emplace_back("The current shown holds only if the resistor is whole; the interval "
                           "starts at zero for that reason.");
    }
    const double doubt = (in.reading.high - in.reading.low) / 2;
    if (in.reading.value > 0 && doubt > 0.03 * in.reading.value) {
        notes.push_back(worded("The reading is good to ±{} only: type every digit the meter "
                               "shows, or use a lower range.",
                               print_value(doubt / in.reading.value, Unit::percent, 2)));
    }
    if (in.across == Across::both) {
        notes.push_back(worded("Across both, {} for each resistor if they are alike; halves "
                               "that differ only show one by one.",
                               volts(in.reading_one.value)));
    }
    notes.insert(notes.end(), picture.notes.begin(), picture.notes.end());
    if (!picture.window) {
        notes.emplace_back("The halves of a quasi-complementary stage differ: the ripple only "
                           "falls as the bias rises, so there is no best setting; keep to the "
                           "maker's value.");
    } else if (in.target == nullptr) {
        notes.push_back(worded(
            "No service value: judged by the crossover of {}, least ripple {}.{}",
            topology_words(in.topology), volts(picture.window->best),
            in.topology == Topology::follower
                ? " A complementary-feedback pair wants far less, a quasi-complementary stage has "
                  "no clear best."
                : ""));
    }
}

Result<Outcome> compute(const Inputs& inputs) {
    Given in = given_in(inputs);
    const auto stage = stage_given(inputs);
    if (!stage) {
        return Error{ErrorCode::contradictory, stage.error().field, stage.error().message};
    }
    in.topology = stage->values.topology;
    const bool open = looks_open(in);
    std::optional<Picture> picture;
    if (circuit_wanted(in, *stage)) {
        if (auto worked_out = circuit_picture(in, *stage)) {
            picture = std::move(worked_out).value();
        }
    }
    if (!picture) {
        picture = closed_picture(in);
        if (circuit_wanted(in, *stage)) {
            picture->notes.emplace_back("The stage's circuit has no answer at this reading; the "
                                        "crossover figures are those of a generic emitter "
                                        "follower.");
        }
    }

    // With the resistor in doubt the reading says nothing certain about the current.
    const auto in_doubt = [open](Amount amount) {
        amount.low = open ? 0 : amount.low;
        return amount;
    };
    const Amount idle = in_doubt(idle_current(in.reading_one, in.emitter));
    const Amount heat = in_doubt(idle_dissipation(in.reading_one, in.emitter, in.rail));
    const Amount class_a = in_doubt(class_a_power(idle, in.pairs, in.load, in.rail));

    Outcome outcome;
    const auto add = [&outcome](std::string key, std::string label, std::string symbol,
                                const Amount& amount) {
        outcome.figures.push_back({std::move(key), std::move(label), std::move(symbol), amount});
    };
    const Interval idle_range = Interval::from(idle);
    const Interval heat_range = Interval::from(heat);
    add("idle_current", "Idle current, each device", "I_q", idle);
    add("idle_channel", "Idle current, all pairs", "n·I_q",
        to_amount(in.pairs * idle_range, Unit::ampere));
    if (in.target != nullptr) {
        const Interval target_v = target_window(in);
        const auto target_a = target_v / Interval::from(in.emitter);
        const auto ratio = Interval::from(in.reading_one) / Interval::exact(in.target->value);
        if (!target_a || !ratio) {
            return !target_a ? target_a.error() : ratio.error();
        }
        add("target_current", "Target current, each device", "I_target",
            to_amount(*target_a, Unit::ampere));
        add("ratio_to_target", "Times the target", "", to_amount(*ratio, Unit::ratio));
    }
    add("idle_dissipation", "Idle heat, each device", "P_q", heat);
    add("idle_dissipation_channel", "Idle heat, channel", "",
        to_amount(2.0 * in.pairs * heat_range, Unit::watt));
    add("class_a_power", "Class A power, peak", "P_A", class_a);
    if (picture->window) {
        const CrossoverWindow& window = *picture->window;
        add("optimum_reading", "Least gain ripple", "V_RE,best",
            to_amount(window.best, Unit::volt));
        add("low_reading", "Ripple grows below", "V_RE,low", to_amount(window.low, Unit::volt));
        add("ceiling_reading", "Crossover ceiling", "V_RE,max",
            to_amount(window.ceiling, Unit::volt));
    }
    add("gain_at_zero", "Gain at zero", "A_0", to_amount(picture->zero, Unit::ratio));
    add("gain_large", "Gain at large current", "A", to_amount(picture->large, Unit::ratio));
    add("notch_depth", "Notch depth", "", to_amount(picture->notch, Unit::percent));

    outcome.headline_note =
        worded("{} each, {} {}", print_range(idle.low, idle.high, Unit::ampere, 3), in.pairs,
               in.pairs == 1 ? "pair" : "pairs");
    const double notch = picture->notch.value;
    if (in.target != nullptr) {
        outcome.verdict = against_target(in, heat, notch);
    } else if (picture->window) {
        outcome.verdict =
            against_crossover(in, *picture->window, picture->devices_known, heat, notch);
    } else {
        outcome.verdict = {
            VerdictState::undecided, "no clear best",
            worded("A quasi-complementary stage has no best setting of its "
                   "own. At {} {}; type the maker's value.",
                   volts(in.reading_one.value),
                   notch > k_visible_notch
                       ? worded("the gain at zero is {} low", print_value(notch, Unit::percent, 2))
                       : "there is no notch at zero")};
    }
    if (open) {
        outcome.verdict.reason =
            worded("{} is far above the window: an open emitter resistor reads like this, or "
                   "the bias has run away; switch off and measure the resistor.",
                   volts(in.reading.value));
    }
    add_cautions(in, outcome.verdict, heat, open, outcome);
    add_notes(in, *picture, open, outcome);
    outcome.plot = PlotKind::lines;
    outcome.curves = std::move(picture->curves);
    return outcome;
}

} // namespace

Working idle_working() {
    return {
        "idle",
        "Idle current",
        "How much current flows with nothing playing?",
        k_fields,
        compute,
        "Ohm's law across R_E; class AB split of the output pair on Gummel and Poon's transistor"};
}

} // namespace railside
