// What one output device goes through in a cycle of a sine: its mean and peak heat, its load line,
// and the level at which it runs hottest.
//
// Model: the class AB split of core/stage/crossover.h at each instant of the load's current,
//   P = mean of (V_CC − R_rail·n·i_C − v − i_E·R_E)·i_C,   i_C = i_E·β(i_E)/(1 + β(i_E)),
//   v = V_p·sin θ,  i_load = V_p/|Z|·sin(θ − φ),  β(i) = β_0/(1 + i/I_knee)
// The smaller of the two half currents is an even function of the load current, so the mean needs
// only a quarter of the cycle, and the phase enters as cos φ alone; the quarter is integrated by
// Gauss and Legendre's rule in two parts, the crossover and the rest, to 0.05 % of the mean (1e-6
// but for idles of most of an ampere). Sources: B. M. Oliver, Hewlett-Packard Journal, Feb 1971
// (split); A. Sedra & K. Smith, Microelectronic Circuits (dissipation). Against simulation within 3
// % with gain and fuse given, 6 % without. Valid for a sine below clip on rails that do not sag
// within the cycle, halves alike.
#pragma once

#include "core/device/device_point.h"
#include "core/stage/crossover.h"

#include <limits>
#include <vector>

namespace railside {

/// How much of the emitter current does not come through the collector.
struct BaseShare {
    double gain = std::numeric_limits<double>::infinity();   // β_0, above 0; infinite: no base
    double knee_a = std::numeric_limits<double>::infinity(); // I_knee, where it has halved; above 0
};

/// i_C/i_E at that emitter current of one device, 0 to 1.
[[nodiscard]] double collector_share(const BaseShare& base, double emitter_a);

/// A stage that drives a load. stage.load_ohm is |Z|. SI units.
struct DrivenStage {
    OutputStage stage;
    double idle_a = 0;    // per device, 0 or more
    double rail_v = 40;   // one side, loaded; above 0
    double rail_ohm = 0;  // fuse and wiring in each rail, 0 or more
    double phase_deg = 0; // of the load, −90 to 90; inductive and capacitive heat alike
    BaseShare base;
};

/// One device of the + half over a whole cycle.
struct DeviceCycle {
    double level_v = 0;   // peak output
    double average_w = 0; // mean heat
    double peak_w = 0;    // greatest heat at one instant
    DevicePoint peak;     // where that is
    // From the lowest output over the highest back to the lowest, 2·steps + 1 points; the first
    // steps + 1 with the output rising. Volts of nought are saturation.
    std::vector<DevicePoint> line;
};

/// Mean heat of one device, W. `level_v` 0 to what the rails allow; 0 is the idle heat.
[[nodiscard]] double average_heat_w(const DrivenStage& driven, double level_v);

/// The whole cycle; `steps` 8 or more for each of its two halves. The peak is good to 1e-6 of
/// itself, whatever the steps.
[[nodiscard]] DeviceCycle device_cycle(const DrivenStage& driven, double level_v, int steps);

/// A level and the mean heat of one device there.
struct HeatAtLevel {
    double level_v = 0;
    double average_w = 0;
};

/// The coolest and the hottest level of a stretch.
struct HeatRange {
    HeatAtLevel least;
    HeatAtLevel most;
};

/// Both extremes between `low_v` and `high_v` (0 <= low_v <= high_v), levels to 0.1 %. A stage with
/// rich idle can be hottest with nothing playing.
[[nodiscard]] HeatRange heat_range(const DrivenStage& driven, double low_v, double high_v);

/// The level between nothing and `clip_v` at which a device runs hottest, to 0.1 %.
[[nodiscard]] HeatAtLevel worst_level(const DrivenStage& driven, double clip_v);

} // namespace railside
