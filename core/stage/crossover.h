// How the two halves of a class AB output stage share the current, and what that does to the gain
// round zero.
//
// Model: complementary emitter followers with a fixed spreader, both halves alike, n pairs in
// parallel.
//   V_T·ln(i1·i2/I_q²) + R·(i1 + i2 − 2·I_q) = 0,  i1 − i2 = i_o,  R = (R_E + r_int)/n,  I_q ->
//   n·I_q gain  A = R_L/(R_L + 1/(g1 + g2)),  g_k = 1/(V_T/i_k + R) V_T = 8.617333e-5 V/K·(T +
//   273.15 K)
// Sources: B. M. Oliver, Distortion in Complementary-Pair Class-B Amplifiers, Hewlett-Packard
// Journal, Feb 1971; D. Self, Audio Power Amplifier Design; R. Cordell, Designing Audio Power
// Amplifiers. Valid at low frequency, idle 1 nA to 50 A, output current to ±50 A. Not for
// complementary-feedback pairs, nor for quasi-complementary stages, whose halves differ.
#pragma once

namespace railside {

/// An output stage as the crossover sees it.
struct OutputStage {
    double emitter_ohm = 0.22;  // R_E of one device, above 0
    double internal_ohm = 0.05; // r_int of one device, 0 or more
    double load_ohm = 8;        // R_L, above 0
    int pairs = 1;              // devices in parallel per half, 1 or more
    double junction_c = 27;     // junction temperature
};

/// Emitter-side internal resistance of one device: r_int = Re + (R_B + R_stopper + r_driver)/(hFE +
/// 1). All ohms 0 or more; gain above 0.
[[nodiscard]] double internal_resistance_ohm(double inner_emitter_ohm, double base_ohm,
                                             double stopper_ohm, double driver_ohm, double gain);

/// kT/q in volts.
[[nodiscard]] double thermal_voltage_v(double junction_c);

/// Currents of the whole upper and lower half.
struct Split {
    double upper_a = 0;
    double lower_a = 0;
};

/// Splits `output_a` (positive = upper half delivers) between the halves at `idle_a` per device. An
/// idle of 0 counts as 1 pA, where both halves are off round zero. Each current to about 1e-11 of
/// itself; below the smallest double it is 0.
[[nodiscard]] Split split_current(const OutputStage& stage, double idle_a, double output_a);

/// dVout/dVin at that output current; 0 to 1, even in output_a.
[[nodiscard]] double incremental_gain(const OutputStage& stage, double idle_a, double output_a);

/// A(0), closed form.
[[nodiscard]] double gain_at_zero(const OutputStage& stage, double idle_a);

/// The gain with one half alone at a large current, R_L/(R_L + R).
[[nodiscard]] double gain_large(const OutputStage& stage);

/// 1 − A(0)/A(large): the notch when positive, a hump when negative (both halves on lift the gain).
[[nodiscard]] double notch_depth(const OutputStage& stage, double idle_a);

/// Volts across one R_E at which A(0) = A(large): V_T·R_E/(R_E + r_int). A ceiling: above it the
/// gain humps at zero.
[[nodiscard]] double oliver_reading_v(const OutputStage& stage);

/// The output current within which ripple is judged: 1 A, or four times n·V_T/(R_E + r_int) where
/// that is more, since with many pairs or very small resistors the crossover itself is wider than 1
/// A.
[[nodiscard]] double ripple_span_a(const OutputStage& stage);

/// (greatest − least gain)/greatest for output currents from 0 to `span_a` (above 0).
[[nodiscard]] double gain_ripple(const OutputStage& stage, double idle_a, double span_a);

/// Where the ripple is least, and how low the reading may go before it has grown by half.
struct BestBias {
    double reading_v = 0;     // volts across one R_E at the least ripple
    double low_reading_v = 0; // below reading_v: the ripple is 1.5 times the least
    double ripple = 0;        // the least ripple, a fraction
};

/// The idle current of least ripple within ripple_span_a(). Readings good to 0.1 %.
[[nodiscard]] BestBias best_bias(const OutputStage& stage);

/// Total harmonic distortion (fraction) of the bare stage, no feedback, driven by a sine to
/// `output_peak_v` (above 0).
[[nodiscard]] double open_loop_thd(const OutputStage& stage, double idle_a, double output_peak_v);

} // namespace railside
