// The closed form of a V-I limiter: at what output current its transistor begins to take the drive.
//
// Base node x = V_out + V_b, V_out counted towards the half's own rail. The sense resistor R1 runs
// from the emitter end of R_E, and into x flow
//   i = V_b/R2 + (V_out + V_b − V_d)/R3 − (V_own − V_out − V_b)/R4 + (V_out + V_b + V_far)/R5 + I_B
//   I = n·((V_b + R1·i)/R_E + i)
// R2 to the output, R3 to ground (through a diode it counts only while V_out + V_b > V_d), R4 to
// the own rail, R5 to the opposite one. The sensed R_E carries 1/n of the load current. Without
// slope resistors I = n·V_b·(1 + R1/R2)/R_E. Sources: Kirchhoff; D. Self, Audio Power Amplifier
// Design; R. Cordell, Designing Audio Power Amplifiers (V-I limiting). Good to 1 % on average with
// V_b of the limiter's own card at the current it is given, 30 % with a textbook 0.65 V; sharp,
// where the real onset is soft. The rail and the drive are left out.
#pragma once

#include "core/stage/stage_circuit.h"

#include <optional>

namespace railside {

/// What stands round the network. Sizes.
struct LimiterConditions {
    double own_rail_v = 40; // above 0
    double far_rail_v = 40;
    double emitter_ohm = 0.22; // R_E, above 0
    int pairs = 1;
    double base_v = 0.65;  // V_b
    double base_a = 0;     // I_B, 0 or more
    double diode_v = 0.45; // of the diode in series with R3, where it begins to count
};

/// Channel current at which the half is held, A; below 0 it is locked out. `output_v` towards the
/// half's own rail.
[[nodiscard]] double limit_a(const LimiterNetwork& network, const LimiterConditions& at,
                             double output_v);

/// Where the half is locked out: the highest output (towards its own rail) from −`far_rail_v` to 0
/// at which limit_a is 0 or below.
[[nodiscard]] std::optional<double> lock_out_v(const LimiterNetwork& network,
                                               const LimiterConditions& at);

/// The conditions of one half of a stage: V_b and I_B from its limiter's card at the current the
/// drive can force into it.
[[nodiscard]] LimiterConditions limiter_conditions(const StageValues& values, StageHalf half);

} // namespace railside
