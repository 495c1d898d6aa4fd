// Idle current: from the volts across the emitter resistors to amperes, heat and the crossover
// picture.
//
// The current is Ohm's law (core/stage/idle.h); the picture is the class AB split of
// core/stage/crossover.h. The window is the service target when there is one. Without one it runs
// from where the gain ripple has grown by half below its least, up to Oliver's ceiling; both limits
// carry the doubt about r_int.
#include "core/stage/idle.h"
#include "core/quantity/interval.h"
#include "core/quantity/value_code.h"
#include "core/stage/crossover.h"
#include "core/working/entries.h"
#include "core/working/inputs.h"

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
};

// An open emitter resistor leaves the meter across a base-emitter junction: about one V_BE, or more
// when the loop hunts. No idle setting is meant to drop as much as this.
constexpr double k_open_resistor_v = 0.4;
// Above this each device wants its sink watched while the bench decides.
constexpr double k_hot_device_w = 8;
constexpr int k_points = 161;

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
    const std::string allowed = fmt::format("{} to {}", volts(window.low), volts(window.high));
    switch (place(Interval::from(in.reading_one), window.low, window.high)) {
    case Placement::inside:
        return {VerdictState::in_window, "in window",
                fmt::format("{} times the target of {}, inside {}.", times(ratio),
                            volts(in.target->value), allowed)};
    case Placement::above:
        return {VerdictState::outside, "outside, high",
                heat.value >= k_hot_device_w || ratio > 3
                    ? fmt::format("{} times the target. Idle heat {} a device; switch off before "
                                  "the sink passes 70\u2009°C.",
                                  times(ratio), watts(heat.value))
                    : fmt::format("{} times the target. Idle heat {} a device; turn the trim down "
                                  "and let it settle.",
                                  times(ratio), watts(heat.value))};
    case Placement::below:
        return {VerdictState::outside, "outside, low",
                fmt::format("{} times the target of {}, a notch {} deep at zero; turn the trim up "
                            "in small steps and let it settle.",
                            times(ratio), volts(in.target->value),
                            print_value(std::max(notch, 0.0), Unit::percent, 2))};
    case Placement::at_high_edge:
        return {VerdictState::at_the_edge, "at the edge, high",
                fmt::format("The reading is {}, the window ends at {}; one more digit decides.",
                            volts(Interval::from(in.reading_one)), volts(window.high))};
    case Placement::at_low_edge:
        break;
    }
    return {VerdictState::at_the_edge, "at the edge, low",
            fmt::format("The reading is {}, the window starts at {}; one more digit decides.",
                        volts(Interval::from(in.reading_one)), volts(window.low))};
}

Verdict against_crossover(const Given& in, const CrossoverWindow& window, const Amount& heat,
                          double notch) {
    const Interval reading = Interval::from(in.reading_one);
    if (reading.low > window.ceiling.high) {
        return {VerdictState::outside, "outside, high",
                fmt::format("{} times the crossover ceiling of {} (equal gain at zero and at large "
                            "current). Idle heat {} a device{}.",
                            times(reading.value / window.ceiling.value),
                            volts(window.ceiling.value), watts(heat.value),
                            heat.value >= k_hot_device_w
                                ? "; switch off before the sink passes 70\u2009°C"
                                : "; right only if the maker asks for that much")};
    }
    if (reading.high < window.low.low) {
        return {VerdictState::outside, "outside, low",
                fmt::format("Below {}, where the gain ripple has grown by half over its least: a "
                            "notch {} deep at zero.",
                            volts(window.low.value),
                            print_value(std::max(notch, 0.0), Unit::percent, 2))};
    }
    if (reading.low >= window.low.high && reading.high <= window.ceiling.low) {
        return {VerdictState::in_window, "in window",
                fmt::format("Between {}, where the gain ripple grows, and the crossover ceiling of "
                            "{}; least ripple at {}.",
                            volts(window.low.value), volts(window.ceiling.value),
                            volts(window.best.value))};
    }
    const bool high = reading.value > window.best.value;
    const Interval& limit = high ? window.ceiling : window.low;
    const bool straddles = contains(reading, limit.value);
    if (!in.internal_known && !straddles) {
        return {VerdictState::undecided, "undecided",
                fmt::format("The {} lies somewhere in {} as long as the devices' internal "
                            "resistance is a guess, and {} is within that.",
                            high ? "crossover ceiling" : "low limit", volts(limit),
                            volts(reading.value))};
    }
    return {VerdictState::at_the_edge, high ? "at the edge, high" : "at the edge, low",
            fmt::format("The reading is {}, the {} is {}.", volts(reading),
                        high ? "crossover ceiling" : "low limit, where the gain ripple grows,",
                        limit.low < limit.high ? volts(limit) : volts(limit.value))};
}

/// Gain against output voltage, the points crowded round zero where the crossover is.
Curve gain_curve(std::string key, std::string label, CurveRole role, const OutputStage& stage,
                 double idle_a, double span_a) {
    constexpr double k_crowding = 3;
    Curve curve{std::move(key),
                std::move(label),
                role,
                {"Output", Unit::volt, {}},
                {"Incremental gain", Unit::ratio, {}}};
    curve.x.values.resize(k_points);
    curve.y.values.resize(k_points);
    constexpr int k_middle = k_points / 2;
    for (int i = 0; i <= k_middle; ++i) {
        const double part = static_cast<double>(i) / k_middle;
        const double output_a = span_a * std::sinh(k_crowding * part) / std::sinh(k_crowding);
        const double output_v = output_a * stage.load_ohm;
        const double gain = incremental_gain(stage, idle_a, output_a);
        curve.x.values[k_middle + i] = output_v;
        curve.x.values[k_middle - i] = -output_v;
        curve.y.values[k_middle + i] = gain;
        curve.y.values[k_middle - i] = gain;
    }
    return curve;
}

std::vector<Curve> gain_curves(const Given& in, const CrossoverWindow& window) {
    const OutputStage stage = stage_of(in, in.emitter.value, in.internal.value, in.junction.value);
    const double found_v = in.reading_one.value;
    const double best_v = window.best.value;
    double widest_v = std::max(found_v, best_v);
    if (in.target != nullptr) {
        widest_v = std::max(widest_v, in.target->value);
    }
    const double idle_a = widest_v / stage.emitter_ohm;
    const double span_a =
        std::min(std::max(1.0, 4 * in.pairs * idle_a), 0.9 * in.rail.value / stage.load_ohm);
    const auto curve = [&](std::string key, std::string_view name, CurveRole role, double volt) {
        return gain_curve(std::move(key), fmt::format("{}, {}", name, volts(volt)), role, stage,
                          volt / stage.emitter_ohm, span_a);
    };
    std::vector<Curve> curves;
    curves.push_back(curve("as_found", "as found", CurveRole::as_found, found_v));
    if (in.target != nullptr) {
        curves.push_back(curve("target", "target", CurveRole::target, in.target->value));
    }
    curves.push_back(curve("optimum", "least ripple", CurveRole::optimum, best_v));
    return curves;
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
        cautions.push_back(fmt::format(
            "{} is about one base-emitter drop or more: an open emitter resistor reads like this. "
            "Switch off, let the reservoirs discharge and measure the resistor before anything "
            "else.",
            volts(in.reading.value)));
    }
    cautions.push_back(fmt::format("Clip the leads on and off with the power off; the reservoirs "
                                   "hold ±{} after switch-off.",
                                   print_short(in.rail.value, Unit::volt)));
    if (verdict.word == "outside, high" || open) {
        cautions.emplace_back("Turn the trim to its least before the next power-up.");
    }
    if (heat.value >= k_hot_device_w && !open) {
        cautions.push_back(
            fmt::format("The sink takes {} from this channel with nothing playing: hot within "
                        "minutes.",
                        watts(2 * in.pairs * heat.value)));
    }
}

void add_notes(const Given& in, const CrossoverWindow& window, bool open, Outcome& outcome) {
    auto& notes = outcome.notes;
    if (open) {
        notes.emplace_back("The current shown holds only if the resistor is whole; the interval "
                           "starts at zero for that reason.");
    }
    const double doubt = (in.reading.high - in.reading.low) / 2;
    if (in.reading.value > 0 && doubt > 0.03 * in.reading.value) {
        notes.push_back(fmt::format("The reading is good to ±{} only: type every digit the meter "
                                    "shows, or use a lower range.",
                                    print_value(doubt / in.reading.value, Unit::percent, 2)));
    }
    if (in.across == Across::both) {
        notes.push_back(fmt::format("Across both, {} for each resistor if they are alike; halves "
                                    "that differ only show one by one.",
                                    volts(in.reading_one.value)));
    }
    if (!in.internal_known) {
        notes.push_back(fmt::format(
            "No device constants: internal resistance taken as {}, {} for a generic output device. "
            "Only the crossover figures rest on it, not the current.",
            print_value(in.internal.value, Unit::ohm, 2),
            print_range(in.internal.low, in.internal.high, Unit::ohm, 2)));
    }
    if (in.target == nullptr) {
        notes.push_back(fmt::format("No service value: judged by the crossover of a complementary "
                                    "emitter follower, least ripple {}. A complementary-feedback "
                                    "pair wants far less, a quasi-complementary stage has no clear "
                                    "best.",
                                    volts(window.best)));
    }
}

Result<Outcome> compute(const Inputs& inputs) {
    const Given in = given_in(inputs);
    const bool open = looks_open(in);
    const CrossoverWindow window = crossover_window(in);

    // With the resistor in doubt the reading says nothing certain about the current.
    const auto in_doubt = [open](Amount amount) {
        amount.low = open ? 0 : amount.low;
        return amount;
    };
    const Amount idle = in_doubt(idle_current(in.reading_one, in.emitter));
    const Amount heat = in_doubt(idle_dissipation(in.reading_one, in.emitter, in.rail));
    const Amount class_a = in_doubt(class_a_power(idle, in.pairs, in.load, in.rail));
    const Interval zero = of_stage(
        in, [](const OutputStage& stage, double idle_a) { return gain_at_zero(stage, idle_a); });
    const Interval large =
        of_stage(in, [](const OutputStage& stage, double) { return gain_large(stage); });
    const Interval notch = of_stage(
        in, [](const OutputStage& stage, double idle_a) { return notch_depth(stage, idle_a); });

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
    add("optimum_reading", "Least gain ripple", "V_RE,best", to_amount(window.best, Unit::volt));
    add("low_reading", "Ripple grows below", "V_RE,low", to_amount(window.low, Unit::volt));
    add("ceiling_reading", "Crossover ceiling", "V_RE,max", to_amount(window.ceiling, Unit::volt));
    add("gain_at_zero", "Gain at zero", "A_0", to_amount(zero, Unit::ratio));
    add("gain_large", "Gain at large current", "A", to_amount(large, Unit::ratio));
    add("notch_depth", "Notch depth", "", to_amount(notch, Unit::percent));

    outcome.headline_note =
        fmt::format("{} each, {} {}", print_range(idle.low, idle.high, Unit::ampere, 3), in.pairs,
                    in.pairs == 1 ? "pair" : "pairs");
    outcome.verdict = in.target != nullptr ? against_target(in, heat, notch.value)
                                           : against_crossover(in, window, heat, notch.value);
    if (open) {
        outcome.verdict.reason =
            fmt::format("{} is far above the window: an open emitter resistor reads like this, or "
                        "the bias has run away; switch off and measure the resistor.",
                        volts(in.reading.value));
    }
    add_cautions(in, outcome.verdict, heat, open, outcome);
    add_notes(in, window, open, outcome);
    outcome.plot = PlotKind::lines;
    outcome.curves = gain_curves(in, window);
    return outcome;
}

} // namespace

Working idle_working() {
    return {"idle", "Idle current", "How much current flows with nothing playing?", k_fields,
            compute};
}

} // namespace railside
