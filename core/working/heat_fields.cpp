#include "core/working/heat_fields.h"

#include "core/quantity/value_code.h"
#include "core/stage/crossover.h"
#include "core/stage/idle.h"
#include "core/words/words.h"
#include "core/working/inputs.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <limits>
#include <string>

namespace railside {

namespace {

constexpr std::array k_taken{
    Choice{"cold", "cold"},
    Choice{"warm", "warm"},
};

constexpr std::array k_washer_choices{
    Choice{"mica", "mica, greased"},
    Choice{"silicone", "silicone pad"},
    Choice{"alumina", "aluminium oxide, greased"},
    Choice{"polyimide", "polyimide film"},
    Choice{"beryllia", "beryllia, greased"},
    Choice{"bare", "no washer, greased"},
    Choice{"none", "nothing, dry"},
};

constexpr std::array k_cases{
    Choice{"large", "large"},
    Choice{"small", "small"},
};

constexpr std::array k_uses{
    Choice{"worst", "worst steady level"},
    Choice{"music", "loud music, 1/8 of clip power"},
    Choice{"speech", "speech, 1/40 of clip power"},
    Choice{"output", "the output volts given"},
};

constexpr std::array k_fields{
    Field{.key = "rail",
          .label = "Rail, loaded",
          .symbol = "V_CC",
          .help = "Supply of one side to ground while the output is driven; the idle value errs on "
                  "the hot side.",
          .unit = Unit::volt,
          .low = 5,
          .high = 200,
          .usual_low = 15,
          .usual_high = 100,
          .spread = Spread::tolerance,
          .default_spread = 0.02},
    Field{.key = "load",
          .label = "Load",
          .symbol = "|Z|",
          .help = "Size of the load's impedance; a loudspeaker falls to 0.8 of its nominal value.",
          .unit = Unit::ohm,
          .low = 1,
          .high = 64,
          .usual_low = 2,
          .usual_high = 16,
          .by_default = "8"},
    Field{.key = "phase",
          .label = "Load phase",
          .symbol = "φ",
          .help = "0 for a dummy load; loudspeakers reach 30° to 60° beside their resonances. "
                  "Inductive and capacitive heat alike.",
          .unit = Unit::degree,
          .low = 0,
          .high = 90,
          .usual_low = 0,
          .usual_high = 60,
          .by_default = "0"},
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
    Field{.key = "idle_reading",
          .label = "Idle reading",
          .symbol = "V_RE",
          .help = "Volts across one emitter resistor with nothing playing.",
          .need = Need::optional,
          .unit = Unit::volt,
          .low = 0,
          .high = 5,
          .usual_low = 0.001,
          .usual_high = 0.1,
          .spread = Spread::meter},
    Field{.key = "idle_current",
          .label = "Idle current",
          .symbol = "I_q",
          .help = "Idle current of one output device, where that is known instead.",
          .need = Need::optional,
          .unit = Unit::ampere,
          .low = 0,
          .high = 10,
          .usual_low = 0.005,
          .usual_high = 1,
          .spread = Spread::tolerance,
          .default_spread = 0.05},
    Field{
        .key = "idle_taken",
        .label = "Idle read",
        .help =
            "Whether the sink was still cold when the idle current was read, or warm and settled.",
        .kind = FieldKind::choice,
        .by_default = "cold",
        .choices = k_taken},
    Field{.key = "use",
          .label = "Level of use",
          .help = "The level the temperatures are judged at; as a steady sine of the same power.",
          .kind = FieldKind::choice,
          .by_default = "worst",
          .choices = k_uses},
    Field{.key = "output",
          .label = "Output",
          .symbol = "V_p",
          .help = "Peak output volts of one half, for the level of use \"the output volts given\".",
          .need = Need::optional,
          .unit = Unit::volt,
          .low = 0,
          .high = 200,
          .usual_low = 1,
          .usual_high = 100,
          .spread = Spread::meter,
          .when = {"use", "output"}},
    Field{.key = "clip",
          .label = "Clip",
          .symbol = "V_clip",
          .help = "Peak output volts where clipping starts into this load; empty: taken from the "
                  "rail.",
          .need = Need::optional,
          .unit = Unit::volt,
          .low = 0.5,
          .high = 200,
          .usual_low = 5,
          .usual_high = 100,
          .spread = Spread::tolerance,
          .default_spread = 0.02},
    Field{.key = "washer",
          .label = "Washer",
          .help = "What lies between the device and its sink.",
          .kind = FieldKind::choice,
          .by_default = "mica",
          .choices = k_washer_choices},
    Field{.key = "case_size",
          .label = "Case",
          .help = "How large the device's face on the sink is: TO-3, TO-3P and TO-247 are large, "
                  "TO-220 and TO-126 small.",
          .kind = FieldKind::choice,
          .by_default = "large",
          .choices = k_cases},
    Field{.key = "case_sink",
          .label = "Case to sink",
          .symbol = "R_thCS",
          .help = "Thermal resistance of washer and grease, where it is known better than by kind.",
          .need = Need::optional,
          .unit = Unit::kelvin_per_watt,
          .low = 0.001,
          .high = 20,
          .usual_low = 0.05,
          .usual_high = 3,
          .spread = Spread::tolerance,
          .default_spread = 0.2},
    Field{.key = "junction_case",
          .label = "Junction to case",
          .symbol = "R_thJC",
          .help = "From the data sheet; empty: taken from the rated power when that is given.",
          .need = Need::optional,
          .unit = Unit::kelvin_per_watt,
          .low = 0.05,
          .high = 50,
          .usual_low = 0.3,
          .usual_high = 5},
    Field{.key = "sink",
          .label = "Sink",
          .symbol = "R_thSA",
          .help = "Thermal resistance of the whole sink to the air.",
          .need = Need::optional,
          .unit = Unit::kelvin_per_watt,
          .low = 0.01,
          .high = 50,
          .usual_low = 0.1,
          .usual_high = 10,
          .spread = Spread::tolerance,
          .default_spread = 0.2},
    Field{.key = "sink_reading",
          .label = "Sink reading",
          .symbol = "T_sink",
          .help = "Settled temperature of the sink, read near a device at a known power; it tells "
                  "the sink's resistance.",
          .need = Need::optional,
          .unit = Unit::celsius,
          .low = -20,
          .high = 200,
          .usual_low = 25,
          .usual_high = 100,
          .spread = Spread::meter},
    Field{.key = "sink_power",
          .label = "Power at that reading",
          .symbol = "P_sink",
          .help = "Heat of all devices on the sink while it was read; empty: their idle heat.",
          .need = Need::optional,
          .unit = Unit::watt,
          .low = 0.01,
          .high = 5000,
          .usual_low = 1,
          .usual_high = 500,
          .spread = Spread::tolerance,
          .default_spread = 0.1},
    Field{.key = "devices",
          .label = "Devices on the sink",
          .help = "Output devices bolted to the same sink, the other channel's as well; empty: "
                  "those of one channel.",
          .need = Need::optional,
          .unit = Unit::ratio,
          .low = 1,
          .high = 48,
          .usual_low = 1,
          .usual_high = 24,
          .spread = Spread::count},
    Field{.key = "ambient",
          .label = "Ambient",
          .symbol = "T_amb",
          .help = "Air round the sink; inside a closed rack it is 10 to 15 K above the room.",
          .unit = Unit::celsius,
          .low = -20,
          .high = 80,
          .usual_low = 10,
          .usual_high = 50,
          .by_default = "25"},
    Field{.key = "junction_max",
          .label = "Junction limit",
          .symbol = "T_j,max",
          .help =
              "Greatest junction temperature of the type: 150 °C for most plastic cases, 200 °C "
              "for most metal ones.",
          .unit = Unit::celsius,
          .low = 75,
          .high = 250,
          .usual_low = 125,
          .usual_high = 200,
          .by_default = "150"},
    Field{.key = "rated_power",
          .label = "Rated power",
          .symbol = "P_D",
          .help = "Power the data sheet allows one device at a case of 25 °C.",
          .need = Need::optional,
          .unit = Unit::watt,
          .low = 0.5,
          .high = 1000,
          .usual_low = 10,
          .usual_high = 300},
    Field{.key = "current_max",
          .label = "Current limit",
          .symbol = "I_C,max",
          .help = "Greatest collector current of the type.",
          .need = Need::optional,
          .unit = Unit::ampere,
          .low = 0.1,
          .high = 200,
          .usual_low = 1,
          .usual_high = 50},
    Field{.key = "collector_max",
          .label = "Volts limit",
          .symbol = "V_CEO",
          .help = "Greatest collector to emitter volts of the type.",
          .need = Need::optional,
          .unit = Unit::volt,
          .low = 10,
          .high = 1000,
          .usual_low = 40,
          .usual_high = 400},
    Field{.key = "safe_volts_1",
          .label = "First point, volts",
          .symbol = "V_SB1",
          .help = "A point on the steep second-breakdown line of the direct-current safe area: its "
                  "volts.",
          .need = Need::optional,
          .unit = Unit::volt,
          .low = 2,
          .high = 1000,
          .usual_low = 10,
          .usual_high = 300},
    Field{.key = "safe_current_1",
          .label = "First point, current",
          .symbol = "I_SB1",
          .help = "The current of that point.",
          .need = Need::optional,
          .unit = Unit::ampere,
          .low = 0.001,
          .high = 200,
          .usual_low = 0.05,
          .usual_high = 30},
    Field{.key = "safe_volts_2",
          .label = "Second point, volts",
          .symbol = "V_SB2",
          .help = "A second point on the same line gives its slope; empty: a slope of 1.5 to 2.5.",
          .need = Need::optional,
          .unit = Unit::volt,
          .low = 2,
          .high = 1000,
          .usual_low = 10,
          .usual_high = 300},
    Field{.key = "safe_current_2",
          .label = "Second point, current",
          .symbol = "I_SB2",
          .help = "The current of the second point.",
          .need = Need::optional,
          .unit = Unit::ampere,
          .low = 0.001,
          .high = 200,
          .usual_low = 0.05,
          .usual_high = 30},
    Field{.key = "tracking",
          .label = "Spreader tracking",
          .symbol = "k",
          .help = "How much of the sink's rise the bias spreader sees: 0 on the board, 0.5 to 0.9 "
                  "bolted to the sink.",
          .unit = Unit::ratio,
          .low = 0,
          .high = 1.2,
          .usual_low = 0,
          .usual_high = 1,
          .by_default = "0.6",
          .spread = Spread::tolerance,
          .default_spread = 0.3},
    Field{.key = "gain",
          .label = "Output gain",
          .symbol = "h_FE",
          .help = "Gain of the output devices at the peak current; the base's share heats no "
                  "collector.",
          .need = Need::optional,
          .unit = Unit::ratio,
          .low = 5,
          .high = 1000,
          .usual_low = 15,
          .usual_high = 250,
          .spread = Spread::tolerance,
          .default_spread = 0.2},
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

// A generic power output device near its peak current; an infinite gain bounds it on the hot side.
constexpr Interval k_generic_gain{30, 60, std::numeric_limits<double>::infinity()};
// What a follower with one driver stage loses between rail and load besides the emitter resistor.
constexpr double k_usual_loss_v = 2.5;
constexpr double k_most_loss_v = 6;

std::string volts(double value) { return print_value(value, Unit::volt, 3); }
std::string amps(double value) { return print_value(value, Unit::ampere, 3); }

Error contradiction(std::string field, std::string message) {
    return {ErrorCode::contradictory, std::move(field), std::move(message)};
}

HeatUse use_of(const std::string& word) {
    return word == "music"    ? HeatUse::music
           : word == "speech" ? HeatUse::speech
           : word == "output" ? HeatUse::output
                              : HeatUse::worst;
}

std::optional<Interval> interval_if_given(const Inputs& inputs, std::string_view key) {
    const Amount* amount = amount_if_given(inputs, key);
    return amount != nullptr ? std::optional(Interval::from(*amount)) : std::nullopt;
}

/// The idle current from whichever was given; the usual setting when neither was.
Result<Done> find_idle(const Inputs& inputs, HeatGiven& in) {
    const auto current = interval_if_given(inputs, "idle_current");
    const Amount* reading = amount_if_given(inputs, "idle_reading");
    in.idle_known = current || reading != nullptr;
    if (!in.idle_known) {
        // From a dark stage to Oliver's ceiling; four fifths of that is what most are set to.
        const Interval ceiling = monotone(
            [](double emitter_ohm, double internal_ohm) {
                return thermal_voltage_v(27) / (emitter_ohm + internal_ohm);
            },
            in.emitter_ohm, in.internal_ohm);
        in.idle_a = {0, 0.8 * ceiling.value, ceiling.high};
        return Done{};
    }
    if (reading != nullptr) {
        in.idle_a = Interval::from(idle_current(reading_of_one(*reading, Across::one),
                                                amount_of(inputs, "emitter_resistor")));
    }
    if (current) {
        const Interval stated = not_below(*current, 0);
        if (reading != nullptr && (stated.low > in.idle_a.high || stated.high < in.idle_a.low)) {
            return contradiction(
                "Idle current",
                worded("Idle current {} does not go with {} across {}, which is {}. Accepted: "
                       "one of the two, or two that agree.",
                       amps(stated.value), volts(reading->value),
                       print_value(in.emitter_ohm.value, Unit::ohm, 3),
                       print_range(in.idle_a.low, in.idle_a.high, Unit::ampere, 3)));
        }
        in.idle_a = stated;
    }
    if (in.idle_a.value * in.emitter_ohm.value > 0.5 * in.rail_v.value) {
        return contradiction(
            reading != nullptr ? "Idle reading" : "Idle current",
            worded("An idle of {} drops {} in the emitter resistor, more than half of the {} "
                   "rail. Accepted: an idle that leaves the device its volts.",
                   amps(in.idle_a.value), volts(in.idle_a.value * in.emitter_ohm.value),
                   volts(in.rail_v.value)));
    }
    // A tolerance may not reach where nothing is left either.
    in.idle_a =
        not_above(in.idle_a, std::max(in.idle_a.value, 0.5 * in.rail_v.low / in.emitter_ohm.high));
    return Done{};
}

/// Where the output clips.
Result<Done> find_clip(const Inputs& inputs, HeatGiven& in) {
    const auto clip_v = interval_if_given(inputs, "clip");
    in.clip_known = clip_v.has_value();
    if (clip_v) {
        if (clip_v->value > in.rail_v.high) {
            return contradiction("Clip",
                                 worded("Clip {} lies beyond the rail of {}. Accepted: a peak "
                                        "of {} or less, or the rail as it is at that level.",
                                        volts(clip_v->value), volts(in.rail_v.value),
                                        volts(in.rail_v.high)));
        }
        in.clip_v = not_above(*clip_v, std::max(in.rail_v.high, clip_v->value));
        return Done{};
    }
    const auto left = [&in](double rail_v, double loss_v) {
        const double divider =
            in.load_ohm.value / (in.load_ohm.value + in.emitter_ohm.value / in.pairs);
        return std::max(rail_v - loss_v, 0.5 * rail_v) * divider;
    };
    in.clip_v = {left(in.rail_v.low, k_most_loss_v), left(in.rail_v.value, k_usual_loss_v),
                 in.rail_v.high};
    return Done{};
}

Result<Done> find_output(const Inputs& inputs, HeatGiven& in) {
    in.use = use_of(given(inputs, "use").word);
    if (in.use != HeatUse::output) {
        return Done{};
    }
    const auto output_v = interval_if_given(inputs, "output");
    if (!output_v) {
        in.use = HeatUse::worst;
        in.output_missing = true;
        return Done{};
    }
    if (output_v->value > in.clip_v.high) {
        return contradiction(
            "Output", worded("Output {} lies beyond {} of {}. Accepted: a peak of {} or less.",
                             volts(output_v->value), in.clip_known ? "the clip" : "the rail",
                             volts(in.clip_known ? in.clip_v.value : in.rail_v.value),
                             volts(in.clip_v.high)));
    }
    in.output_v = not_above(not_below(*output_v, 0), std::max(in.clip_v.high, output_v->value));
    return Done{};
}

} // namespace

std::span<const Field> heat_fields() { return k_fields; }

Interval not_below(const Interval& range, double least) {
    return {std::max(range.low, least), std::max(range.value, least), std::max(range.high, least)};
}

Interval not_above(const Interval& range, double most) {
    return {std::min(range.low, most), std::min(range.value, most), std::min(range.high, most)};
}

Result<HeatGiven> heat_given(const Inputs& inputs) {
    HeatGiven in;
    in.rail_v = Interval::from(amount_of(inputs, "rail"));
    in.load_ohm = Interval::from(amount_of(inputs, "load"));
    in.phase_deg = not_above(not_below(Interval::from(amount_of(inputs, "phase")), 0), 90);
    in.pairs = static_cast<int>(amount_of(inputs, "pairs").value);
    in.emitter_ohm = Interval::from(amount_of(inputs, "emitter_resistor"));
    const Amount* internal = amount_if_given(inputs, "internal_resistance");
    in.internal_ohm = not_below(
        Interval::from(internal != nullptr ? *internal : generic_internal_resistance()), 0);
    in.gain = interval_if_given(inputs, "gain").value_or(k_generic_gain);
    if (auto found = find_idle(inputs, in); !found) {
        return found.error();
    }
    in.idle_warm = given(inputs, "idle_taken").word == "warm";
    if (auto found = find_clip(inputs, in); !found) {
        return found.error();
    }
    if (auto found = find_output(inputs, in); !found) {
        return found.error();
    }
    in.washer = washer_from_key(given(inputs, "washer").word).value_or(Washer::mica_grease);
    const auto case_sink = interval_if_given(inputs, "case_sink");
    in.case_sink_known = case_sink.has_value();
    in.case_sink_k_per_w = case_sink.value_or(case_sink_k_per_w(
        in.washer, given(inputs, "case_size").word == "small" ? CaseSize::small : CaseSize::large));
    in.ambient_c = Interval::from(amount_of(inputs, "ambient"));
    in.junction_max_c = Interval::from(amount_of(inputs, "junction_max"));
    in.rated_w = interval_if_given(inputs, "rated_power");
    in.junction_case_k_per_w = interval_if_given(inputs, "junction_case");
    if (!in.junction_case_k_per_w && in.rated_w) {
        in.junction_case_implied = true;
        in.junction_case_k_per_w =
            not_below(monotone(implied_junction_case_k_per_w, *in.rated_w, in.junction_max_c), 0);
    }
    in.sink_k_per_w = interval_if_given(inputs, "sink");
    in.sink_reading_c = interval_if_given(inputs, "sink_reading");
    in.sink_power_w = interval_if_given(inputs, "sink_power");
    const Amount* devices = amount_if_given(inputs, "devices");
    in.devices = devices != nullptr ? static_cast<int>(devices->value) : 2 * in.pairs;
    in.current_max_a = interval_if_given(inputs, "current_max");
    in.collector_max_v = interval_if_given(inputs, "collector_max");
    in.safe_v_1 = interval_if_given(inputs, "safe_volts_1");
    in.safe_a_1 = interval_if_given(inputs, "safe_current_1");
    in.safe_v_2 = interval_if_given(inputs, "safe_volts_2");
    in.safe_a_2 = interval_if_given(inputs, "safe_current_2");
    in.tracking = not_below(Interval::from(amount_of(inputs, "tracking")), 0);
    return in;
}

} // namespace railside
