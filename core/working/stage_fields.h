// The fields that every working about the output stage shares, declared once, and the way from the
// inputs to the stage as a circuit with its doubts.
#pragma once

#include "core/device/constants.h"
#include "core/quantity/interval.h"
#include "core/stage/stage_circuit.h"
#include "core/working/working.h"

#include <array>
#include <string>
#include <string_view>
#include <vector>

namespace railside {

namespace stage_field {

inline constexpr std::array k_topologies{
    Choice{"follower", "emitter followers, one driver"},
    Choice{"triple", "emitter followers, two drivers"},
    Choice{"quasi", "quasi-complementary"},
    Choice{"pair", "complementary feedback pairs"},
};
inline constexpr std::array k_feeds{
    Choice{"source", "current source"},
    Choice{"bootstrap", "bootstrapped resistor"},
};
inline constexpr std::array k_sides{
    Choice{"plus", "on the + rail"},
    Choice{"minus", "on the − rail"},
};

inline constexpr Field k_topology{
    .key = "topology",
    .label = "Output stage",
    .help = "How the outputs are driven; both outputs npn means quasi-complementary, load on the "
            "outputs' collectors means feedback pairs.",
    .kind = FieldKind::choice,
    .by_default = "follower",
    .choices = k_topologies};
inline constexpr Field k_emitter{.key = "emitter_resistor",
                                 .label = "Emitter resistor",
                                 .symbol = "R_E",
                                 .help =
                                     "Value printed on one emitter resistor of the output devices.",
                                 .unit = Unit::ohm,
                                 .low = 0.01,
                                 .high = 10,
                                 .usual_low = 0.1,
                                 .usual_high = 1,
                                 .by_default = "0R22",
                                 .spread = Spread::tolerance,
                                 .default_spread = 0.05};
inline constexpr Field k_pairs{.key = "pairs",
                               .label = "Pairs",
                               .symbol = "n",
                               .help = "Output devices in parallel in each half of this channel.",
                               .unit = Unit::ratio,
                               .low = 1,
                               .high = 12,
                               .usual_low = 1,
                               .usual_high = 6,
                               .by_default = "1",
                               .spread = Spread::count};
inline constexpr Field k_rail{
    .key = "rail",
    .label = "Rail",
    .symbol = "V_CC",
    .help = "Supply of one side to ground; the loaded value where the output is driven.",
    .unit = Unit::volt,
    .low = 5,
    .high = 200,
    .usual_low = 15,
    .usual_high = 100,
    .spread = Spread::tolerance,
    .default_spread = 0.02};
inline constexpr Field k_load{.key = "load",
                              .label = "Load",
                              .symbol = "R_L",
                              .help = "Nominal resistance of the loudspeaker or dummy load.",
                              .unit = Unit::ohm,
                              .low = 1,
                              .high = 64,
                              .usual_low = 2,
                              .usual_high = 16,
                              .by_default = "8"};
inline constexpr Field k_supply_current{
    .key = "supply_current",
    .label = "Supply current",
    .symbol = "I_VA",
    .help = "Standing current of the voltage amplifier: volts across its source's emitter resistor "
            "over that resistor.",
    .unit = Unit::ampere,
    .low = 0.0003,
    .high = 0.2,
    .usual_low = 0.002,
    .usual_high = 0.03,
    .by_default = "6 mA",
    .spread = Spread::tolerance,
    .default_spread = 0.05};
inline constexpr Field k_feed{
    .key = "feed",
    .label = "Supplied by",
    .help = "What feeds the standing current: a transistor source, or two resistors with a "
            "capacitor from the output to their middle.",
    .kind = FieldKind::choice,
    .by_default = "source",
    .choices = k_feeds};
inline constexpr Field k_feed_side{
    .key = "feed_side",
    .label = "Its place",
    .help = "The rail the current source or bootstrap hangs on; the voltage amplifier is at the "
            "other.",
    .kind = FieldKind::choice,
    .by_default = "plus",
    .choices = k_sides};
inline constexpr Field k_driver_resistor{
    .key = "driver_resistor",
    .label = "Driver resistor",
    .symbol = "R_D",
    .help = "Between the driver emitters; in feedback pairs and quasi-complementary stages across "
            "the output's base and emitter.",
    .unit = Unit::ohm,
    .low = 10,
    .high = 1e5,
    .usual_low = 47,
    .usual_high = 1000,
    .by_default = "220R",
    .spread = Spread::tolerance,
    .default_spread = 0.05};
inline constexpr Field k_base_stopper{
    .key = "base_stopper",
    .label = "Base stopper",
    .symbol = "R_B",
    .help = "In series with each output's base; 0 where there is none.",
    .unit = Unit::ohm,
    .low = 0,
    .high = 100,
    .usual_low = 0,
    .usual_high = 22,
    .by_default = "2R2",
    .spread = Spread::tolerance,
    .default_spread = 0.05};
inline constexpr Field k_junction{.key = "junction",
                                  .label = "Junction",
                                  .symbol = "T_j",
                                  .help = "Temperature of the output devices' junctions.",
                                  .unit = Unit::celsius,
                                  .low = -20,
                                  .high = 175,
                                  .usual_low = 15,
                                  .usual_high = 100,
                                  .by_default = "27"};

constexpr Field device(std::string_view key, std::string_view label) {
    return {.key = key,
            .label = label,
            .help = "Type number of the parts table, or a SPICE .model card; empty for a generic "
                    "device.",
            .kind = FieldKind::device,
            .need = Need::optional};
}
inline constexpr Field k_output_plus = device("output_plus", "Output, + half");
inline constexpr Field k_output_minus = device("output_minus", "Output, − half");
inline constexpr Field k_driver_plus = device("driver_plus", "Driver, + half");
inline constexpr Field k_driver_minus = device("driver_minus", "Driver, − half");
inline constexpr Field k_pre_driver_plus = device("pre_driver_plus", "Pre-driver, + half");
inline constexpr Field k_pre_driver_minus = device("pre_driver_minus", "Pre-driver, − half");
inline constexpr Field k_spreader_type = device("spreader_type", "Spreader transistor");
inline constexpr Field k_limiter_plus = device("limiter_plus", "Limiter transistor, + half");
inline constexpr Field k_limiter_minus = device("limiter_minus", "Limiter transistor, − half");
inline constexpr Field k_amplifier_type = device("amplifier_type", "Voltage amplifier");
inline constexpr Field k_source_type = device("source_type", "Current source transistor");

constexpr Field gain_read(std::string_view key, std::string_view label) {
    return {.key = key,
            .label = label,
            .symbol = "h_FE",
            .help = "Current gain read on this unit's own device; the constants are fitted to it.",
            .need = Need::optional,
            .unit = Unit::ratio,
            .low = 2,
            .high = 2000,
            .usual_low = 20,
            .usual_high = 400,
            .spread = Spread::tolerance,
            .default_spread = 0.1};
}
constexpr Field gain_current(std::string_view key, std::string_view label, std::string_view usual) {
    return {.key = key,
            .label = label,
            .symbol = "I_C",
            .help = "Collector current at which that gain was read.",
            .unit = Unit::ampere,
            .low = 1e-6,
            .high = 30,
            .usual_low = 1e-4,
            .usual_high = 10,
            .by_default = usual};
}
inline constexpr Field k_output_gain = gain_read("output_gain", "Gain read, outputs");
inline constexpr Field k_output_gain_current =
    gain_current("output_gain_current", "At a current of, outputs", "100 mA");
inline constexpr Field k_driver_gain = gain_read("driver_gain", "Gain read, drivers");
inline constexpr Field k_driver_gain_current =
    gain_current("driver_gain_current", "At a current of, drivers", "10 mA");

} // namespace stage_field

/// The stage with everything typical, and once for each doubt alone at its ends.
struct StageGiven {
    StageValues values;
    struct Ends {
        std::string what; // "Rail", "gain of the drivers"
        StageValues low;
        StageValues high;
    };
    std::vector<Ends> doubts;
    std::vector<std::string> constants; // which device constants were used, a phrase a place
    bool blind = false;                 // every place is generic
};

/// Builds the stage from whichever of the fields above a working has; those it has not are the
/// StageValues' own. Errors: those of device_constants.
[[nodiscard]] Result<StageGiven> stage_given(const Inputs& inputs);

/// "Device constants: output +: ...; ..." as one note, and the warning that belongs to blind ones.
[[nodiscard]] std::string constants_note(const StageGiven& given);

/// Adds a doubt: `set(values, end)` puts one quantity at its low or high end.
template <class Set>
void add_doubt(StageGiven& given, std::string what, double low, double high, Set&& set) {
    if (low < high) {
        StageGiven::Ends ends{std::move(what), given.values, given.values};
        set(ends.low, low);
        set(ends.high, high);
        given.doubts.push_back(std::move(ends));
    }
}

/// The intervals of N figures over the stage's doubts: each doubt alone at both ends, what each
/// moves added up. `figures(values)` gives Result<std::array<double, N>>. Right where the figures
/// are near enough straight in each doubt; contains the typical result always. An end that has no
/// answer (a stage that cannot hold its output) is passed over.
template <std::size_t N, class F>
[[nodiscard]] Result<std::array<Interval, N>> over_doubts(const StageGiven& given, F&& figures) {
    const Result<std::array<double, N>> typical = figures(given.values);
    if (!typical) {
        return typical.error();
    }
    std::array<Interval, N> result;
    for (std::size_t i = 0; i < N; ++i) {
        result[i] = Interval::exact((*typical)[i]);
    }
    for (const StageGiven::Ends& ends : given.doubts) {
        std::array<double, N> down{};
        std::array<double, N> up{};
        for (const StageValues* end : {&ends.low, &ends.high}) {
            const Result<std::array<double, N>> there = figures(*end);
            if (!there) {
                continue;
            }
            for (std::size_t i = 0; i < N; ++i) {
                const double moved = (*there)[i] - (*typical)[i];
                down[i] = moved < down[i] ? moved : down[i];
                up[i] = moved > up[i] ? moved : up[i];
            }
        }
        for (std::size_t i = 0; i < N; ++i) {
            result[i].low += down[i];
            result[i].high += up[i];
        }
    }
    return result;
}

} // namespace railside
