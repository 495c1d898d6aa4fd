// What the output devices and drivers go through in a cycle of a sine, worked out on the stage's
// circuit.
//
// Model: the stage solved at each instant of the cycle with its output held at V_p·sin θ and the
// load's current V_p/|Z|·sin(θ − φ) drawn from it (core/stage/stage_circuit.h), the spread kept at
// what it is at rest by its bypass capacitor. Slow against everything that stores charge; stiff
// rails behind their own resistance. The closed form beside it is core/stage/cycle.h, which takes
// both halves for alike. Sources: B. M. Oliver, Hewlett-Packard Journal, Feb 1971; R. Cordell,
// Designing Audio Power Amplifiers. Valid below clip, for the stage's own ranges.
#pragma once

#include "core/stage/stage_circuit.h"

#include <vector>

namespace railside {

/// A sine at the output.
struct CircuitSine {
    double level_v = 10;  // peak, 0 or more, below clip
    double load_ohm = 8;  // |Z|, above 0
    double phase_deg = 0; // of the load, −90 to 90; positive: current lags
    int steps = 96;       // instants of the cycle, 8 to 1000
};

/// One instant of one output device.
struct LoadLinePoint {
    double collector_v = 0; // V_CE, size
    double collector_a = 0; // I_C, size
};

/// One output device of a half over the cycle, the first pair's.
struct CircuitDeviceCycle {
    double average_w = 0;
    double peak_w = 0;
    LoadLinePoint peak;              // where that is
    std::vector<LoadLinePoint> line; // from θ = −90° on, steps + 1 points, closed
};

/// A cycle of the whole stage.
struct CircuitCycle {
    double level_v = 0;
    CircuitDeviceCycle plus;
    CircuitDeviceCycle minus;
    double driver_plus_w = 0; // means
    double driver_minus_w = 0;
    double load_w = 0;
    double supply_w = 0; // from both rails, the stage alone
};

/// The cycle. Errors: as StageCircuit; out_of_range for the sine; contradictory where the stage
/// cannot be driven as far as that (it clips).
[[nodiscard]] Result<CircuitCycle> circuit_cycle(const StageValues& values,
                                                 const CircuitSine& sine);

} // namespace railside
