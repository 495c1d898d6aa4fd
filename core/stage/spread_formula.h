// Bias in closed form: what a spreader makes, and what an emitter follower stage needs between its
// bases for an idle current. For checking the circuit by a second way.
//
// Model:
//   V_BE(I) = V_T·ln(I_F/I_S) + I_B·R_B + I_E·R_e,  I_F = x + x²/I_KF,  x = I_C/(1 + V_CB/V_AF)
//   I_B = I_F/β_F + I_SE·(exp(V_BE,inner/(N_E·V_T)) − 1)
//   stage     V_s = both halves of [V_BE,driver(I_D + n·I_B) + I_B·R_stopper + V_BE,output +
//   I_q·R_E] multiplier V_s = V_BE·(1 + R_up/R_low) + I_B·R_up,  I = I_C + I_B + V_BE/R_low diodes
//   V_s = N·(n·V_T·ln(I/I_S + 1) + I·R_s) + I·R_trim
// Sources: P. Gray & R. Meyer, Analysis and Design of Analog Integrated Circuits; H. Gummel & H.
// Poon, Bell System Technical Journal 49 (1970); A. Sedra & K. Smith, Microelectronic Circuits
// (class AB biasing). Valid 1 µA to the rated current, devices in their active region, at the
// temperature of their cards. Against simulation: idle from volts 5 %, multiplier 2 %.
#pragma once

#include "core/device/semiconductor.h"

namespace railside {

/// A follower stage with one driver stage as the closed form sees it.
struct FollowerBias {
    BipolarModel output_plus;
    BipolarModel output_minus;
    BipolarModel driver_plus;
    BipolarModel driver_minus;
    double rail_v = 40;        // one side
    double emitter_ohm = 0.22; // R_E, 0 or more
    double stopper_ohm = 2.2;  // 0 or more
    double driver_ohm = 220;   // between the driver emitters, above 0
    int pairs = 1;             // 1 or more
};

/// Volts between the bases for `idle_a` (above 0) through each output device.
[[nodiscard]] double spread_for_idle_v(const FollowerBias& stage, double idle_a);

/// The idle current of each output device at `spread_v` between the bases, A, to 1e-9 of itself;
/// from 1 pA to 100 A.
[[nodiscard]] double idle_for_spread_a(const FollowerBias& stage, double spread_v);

/// Volts a multiplier holds with `total_a` (above 0) through it. Resistors above 0.
[[nodiscard]] double multiplier_spread_v(const BipolarModel& transistor, double upper_ohm,
                                         double lower_ohm, double total_a);

/// The textbook's: one V_BE times 1 + R_up/R_low. 10 % low or so, since a busy V_BE is more than
/// 0.65 V and the base draws through R_up.
[[nodiscard]] double simple_multiplier_spread_v(double base_emitter_v, double upper_ohm,
                                                double lower_ohm);

/// Volts of `count` diodes and a trim with `total_a` (0 or more) through them.
[[nodiscard]] double string_spread_v(const DiodeModel& diode, int count, double trim_ohm,
                                     double total_a);

} // namespace railside
