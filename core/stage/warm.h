// The idle current as the stage warms itself, worked out on its circuit: where it settles, whether
// it runs away, and which sink it needs.
//
// Model: the stage at rest, loudspeaker off (core/stage/stage_circuit.h), its temperatures from its
// own heat in the steady state:
//   T_sink = T_amb + R_SA·ΣP,  T_out = T_sink + P·(R_JC + R_CS),
//   T_driver = T_amb + k_d·(T_sink − T_amb) + P_d·R_d,  T_spreader = T_amb + k·(T_sink − T_amb)
// For each junction temperature there is one sink that brings it about; the warm state is the
// coolest one whose sink is the one at hand, and the greatest sink of all is the threshold of
// runaway. Sources: R. Cordell, Designing Audio Power Amplifiers, and D. Self, Audio Power
// Amplifier Design (thermal dynamics). Valid to 200 °C in the junction; beyond that a stage counts
// as run away.
#pragma once

#include "core/stage/stage_circuit.h"

#include <optional>

namespace railside {

/// How heat gets from the devices to the air and back to the bias. K/W and °C.
struct WarmPath {
    double output_sink_k_per_w = 1.5; // R_JC + R_CS of one output device, 0 or more
    double sink_k_per_w = 1;          // R_SA, all the channel's output devices on it, 0 or more
    double tracking = 0;              // k: spreader's rise over the sink's, 0 to 1.2
    double driver_tracking = 0;       // k_d: the same of what the drivers sit on; 1: on the sink
    double driver_k_per_w = 0;        // R_d of one driver, junction to what it sits on
    double ambient_c = 27;            // −40 to 100
};

/// A state of the stage with temperatures that fit its heat.
struct WarmPoint {
    double idle_a = 0;    // through each R_E of the + half
    double reading_v = 0; // across it
    double output_w = 0;  // mean of the two halves' output devices, each
    double driver_w = 0;  // mean of the two drivers
    double sink_c = 0;
    StageTemperatures temperatures;
};

/// What an idle current does as things warm.
struct WarmIdle {
    WarmPoint cold;                // everything at ambient
    std::optional<WarmPoint> warm; // nothing: it runs away
};

/// From cold to warm. The stage's spreader is as it is set (not SpreaderForReading); its own
/// temperatures are not looked at. Good to 0.1 K. Errors: as StageCircuit; out_of_range for a path;
/// refused for a spreader that follows the reading.
[[nodiscard]] Result<WarmIdle> warm_idle(const StageValues& values, const WarmPath& path);

/// The R_SA above which the stage runs away, K/W; nothing when any sink will do. Good to 1 %.
/// Errors: as warm_idle.
[[nodiscard]] Result<std::optional<double>> sink_limit_k_per_w(const StageValues& values,
                                                               const WarmPath& path);

/// How the idle current of one device goes with temperature, each alone, A/K.
struct WarmSlopes {
    double outputs = 0;
    double spreader = 0;
    double drivers = 0;
};
/// At the stage's own temperatures. Errors: as warm_idle.
[[nodiscard]] Result<WarmSlopes> warm_slopes(const StageValues& values);

} // namespace railside
