// Heat of one output device driven by a sine, ideal class B: the closed form.
//
// Model: each half conducts exactly half the cycle, stiff rails, no clipping, n devices share the
// current alike. Per half
//   P = V_CC·V_p/(π·|Z|) − V_p²·cos φ/(4·|Z|) − R·V_p²/(4·|Z|²),   R = R_E/n
//   greatest at V_p = 2·V_CC/(π·(cos φ + R/|Z|)) unless the output clips before,
//   instantaneous (V_CC − V_p·sin θ − R·i)·i with i = V_p/|Z|·sin(θ − φ).
// Sources: A. Sedra & K. Smith, Microelectronic Circuits (class B stage); R. Cordell, Designing
// Audio Power Amplifiers. The device's own idle current is left out: at a tenth of clip that is 15
// % of the heat, near the worst level 3 %; core/stage/cycle.h counts it.
#pragma once

#include "core/device/device_point.h"

namespace railside {

/// A class B output and its load. SI units.
struct ClassB {
    double rail_v = 40;     // one side, loaded; above 0
    double load_ohm = 8;    // |Z|, above 0
    double phase_deg = 0;   // of the load, −90 to 90; inductive and capacitive heat alike
    double emitter_ohm = 0; // R_E of one device, 0 or more
    int pairs = 1;          // devices in parallel per half, 1 or more
};

/// Mean heat of one device over the cycle, W. `level_v` is the peak output, 0 to what the rails
/// allow.
[[nodiscard]] double class_b_heat_w(const ClassB& output, double level_v);

/// Where the mean heat is greatest.
struct LevelHeat {
    double level_v = 0;   // peak output
    double average_w = 0; // of one device
};

/// The worst level from 0 to `clip_v` (0 or more), in closed form.
[[nodiscard]] LevelHeat class_b_worst(const ClassB& output, double clip_v);

/// The greatest instantaneous heat of one device over the cycle, and where on its load line.
struct PeakHeat {
    double peak_w = 0;
    DevicePoint at;
};

/// Good to 1e-9 of itself. At phase 0 two points are equal; the one with the output falling is
/// given. Rises with `level_v`, or stays, so that the clip level bounds it.
[[nodiscard]] PeakHeat class_b_peak(const ClassB& output, double level_v);

} // namespace railside
