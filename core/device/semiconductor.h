// The constants of junction diodes and bipolar transistors, direct-current part, as a SPICE .model
// card states them, and what becomes of them at a temperature.
//
// Model: Gummel & Poon, An Integral Charge Control Model of Bipolar Transistors, Bell System
// Technical Journal 49 (1970); diode: Shockley's law with emission coefficient, series resistance
// and breakdown. Temperature: saturation currents with E_G and X_TI, gains with X_TB, the usual
// rules of circuit simulation (Antognetti & Massobrio, Semiconductor Device Modeling with SPICE,
// 2nd ed., 1993, chapters 1 and 2). Defaults are those an empty card has. Valid −55 to 250 °C;
// charge storage, substrate and quasi-saturation are left out.
#pragma once

#include "core/device/role.h"

#include <limits>

namespace railside {

/// Boltzmann's constant over the elementary charge, V/K (CODATA 2018, both exact).
inline constexpr double k_boltzmann_v_per_k = 8.617333262145179e-5;
/// 0 °C in kelvin.
inline constexpr double k_zero_celsius_k = 273.15;
/// The temperature at which a card's constants hold unless it says otherwise, °C.
inline constexpr double k_card_c = 27;

/// A bipolar transistor's card. SI units; the card's own name in brackets.
struct BipolarModel {
    Polarity polarity = Polarity::npn;
    double saturation_a = 1e-16;        // (IS) above 0
    double forward_gain = 100;          // (BF) above 0
    double forward_emission = 1;        // (NF) above 0
    double forward_early_v = k_never;   // (VAF) above 0; infinite when the card has none or 0
    double forward_knee_a = k_never;    // (IKF) above 0; infinite when the card has none or 0
    double knee_power = 0.5;            // (NKF)
    double emitter_leak_a = 0;          // (ISE) 0 or more
    double emitter_leak_emission = 1.5; // (NE) above 0
    double reverse_gain = 1;            // (BR) above 0
    double reverse_emission = 1;        // (NR) above 0
    double reverse_early_v = k_never;   // (VAR)
    double reverse_knee_a = k_never;    // (IKR)
    double collector_leak_a = 0;        // (ISC) 0 or more
    double collector_leak_emission = 2; // (NC) above 0
    double base_ohm = 0;                // (RB) 0 or more
    double base_fall_a = k_never;       // (IRB) current at which the base resistance has halved
    double base_least_ohm = -1;         // (RBM) below 0: as base_ohm
    double emitter_ohm = 0;             // (RE) 0 or more
    double collector_ohm = 0;           // (RC) 0 or more
    double gain_power = 0;              // (XTB)
    double gap_ev = 1.11;               // (EG)
    double saturation_power = 3;        // (XTI)
    double card_c = k_card_c;           // (TNOM) °C

    static constexpr double k_never = std::numeric_limits<double>::infinity();

    friend bool operator==(const BipolarModel&, const BipolarModel&) = default;
};

/// A diode's card.
struct DiodeModel {
    double saturation_a = 1e-14;                                  // (IS) above 0
    double emission = 1;                                          // (N) above 0
    double series_ohm = 0;                                        // (RS) 0 or more
    double gap_ev = 1.11;                                         // (EG)
    double saturation_power = 3;                                  // (XTI)
    double breakdown_v = std::numeric_limits<double>::infinity(); // (BV) above 0
    double breakdown_a = 1e-3;                                    // (IBV) current at breakdown_v
    double breakdown_emission = 1;                                // (NBV)
    double knee_a = std::numeric_limits<double>::infinity();      // (IKF) high-injection knee
    double recombination_a = 0;                                   // (ISR)
    double recombination_emission = 2;                            // (NR)
    double card_c = k_card_c;                                     // (TNOM) °C

    friend bool operator==(const DiodeModel&, const DiodeModel&) = default;
};

/// The same transistor at `junction_c`: saturation currents, gains and leaks moved; card_c becomes
/// junction_c. Valid −200 to 400 °C.
[[nodiscard]] BipolarModel at_temperature(const BipolarModel& model, double junction_c);
[[nodiscard]] DiodeModel at_temperature(const DiodeModel& model, double junction_c);

/// Currents at the inner junctions, into collector and base of an npn (a pnp is mirrored by the
/// caller), and their slopes.
struct BipolarCurrents {
    double collector_a = 0;
    double base_a = 0;
    double collector_by_be_s = 0; // d collector / d V_BE
    double collector_by_bc_s = 0;
    double base_by_be_s = 0;
    double base_by_bc_s = 0;
    double charge = 1; // normalised base charge q_B
};

/// The inner transistor without its three series resistances, at its card's temperature. Junction
/// volts are the inner ones (V_BE, V_BC of an npn). `leak_s` is a conductance across each junction,
/// 0 or more (gmin).
[[nodiscard]] BipolarCurrents bipolar_currents(const BipolarModel& model, double base_emitter_v,
                                               double base_collector_v, double leak_s);

/// Base series resistance at that inner base current and charge, ohm.
[[nodiscard]] double base_resistance_ohm(const BipolarModel& model, double base_a, double charge);

struct DiodeCurrent {
    double current_a = 0;
    double slope_s = 0;
};
/// The inner diode without its series resistance, at its card's temperature.
[[nodiscard]] DiodeCurrent diode_current(const DiodeModel& model, double junction_v, double leak_s);

/// Where a transistor of known terminal currents sits: the outer V_BE at `collector_a` and V_CB
/// (0 or more), with all series resistances, and the base current there. Volts of an npn. Solved to
/// 1 nV. Valid 1 pA to 100 A.
struct BaseDrive {
    double base_emitter_v = 0;
    double base_a = 0;
};
[[nodiscard]] BaseDrive base_drive(const BipolarModel& model, double collector_a,
                                   double collector_base_v);

} // namespace railside
