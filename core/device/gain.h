// Current gain of a bipolar transistor against collector current and temperature, and how far a
// gain read at one current can be carried to another.
//
// Model (Gummel & Poon, An Integral Charge Control Model of Bipolar Transistors, Bell System
// Technical Journal 1970):
//   x   = I_C / (1 + V_CB/V_AF)            collector current without base-width modulation
//   I_F = x + x²/I_KF                      forward current, with the fall-off at high current
//   I_B = I_F/B_F + I_SE·((I_F/I_S + 1)^(1/N_E) − 1)
//   hFE = I_C/I_B,   hFE(T) = hFE(T0)·(T/T0)^X_TB, absolute temperatures, T0 = 27 °C
// Valid 1 µA to the rated current, V_CB 0 to the rated voltage, −55 to 200 °C.
#pragma once

#include "core/device/role.h"

#include <string_view>

namespace railside {

/// The constants that shape the gain curve; SI units. The names in brackets are those of a SPICE
/// .model card.
struct GainShape {
    double saturation_a = 0;        // transport saturation current (IS)
    double ideal_gain = 0;          // gain in the middle of the range (BF)
    double leak_saturation_a = 0;   // base-emitter leakage saturation current (ISE)
    double leak_emission = 1.5;     // its emission coefficient (NE)
    double knee_a = 0;              // current at which the gain has about halved (IKF)
    double early_v = 0;             // forward Early voltage (VAF)
    double temperature_power = 1.5; // exponent of the absolute temperature (XTB)
};

/// hFE at `collector_a` (above 0), `collector_base_v` (0 or more) and `junction_c`.
[[nodiscard]] double gain_at(const GainShape& shape, double collector_a, double collector_base_v,
                             double junction_c);

/// A stand-in for device constants nobody has: typical ones for a role, and how far real devices
/// stray from them.
struct GenericDevice {
    std::string_view name;   // "generic power output, 15 A class"
    GainShape shape;         // typical
    double knee_low_a = 0;   // real devices of this class: knee from here
    double knee_high_a = 0;  // to here
    double leak_spread = 5;  // leakage from typical/leak_spread to typical·leak_spread
    double power_low = 0.9;  // temperature_power: 0.3 %/K at 25 °C
    double power_high = 3.0; // 1 %/K
    double data_sheet_a = 0; // current at which data sheets usually state the gain
    double believable_high =
        0; // a single (not Darlington) device reads no more than this unless it leaks
};

/// The generic device of a role. Roles that are no transistor get the small-signal one.
[[nodiscard]] const GenericDevice& generic_device(Role role);

/// Where a gain holds.
struct GainCondition {
    double collector_a = 0;
    double junction_c = 25;
};

/// A factor with its interval, low <= value <= high.
struct GainFactor {
    double value = 1;
    double low = 1;
    double high = 1;
};

/// hFE(to)/hFE(from) with known constants; the same collector voltage at both. Exact: low = value =
/// high.
[[nodiscard]] GainFactor gain_factor(const GainShape& shape, GainCondition from, GainCondition to);

/// The same without a model card: the generic's typical value, widened over the devices of its
/// class. Between equal conditions the factor is exactly 1.
[[nodiscard]] GainFactor gain_factor(const GenericDevice& generic, GainCondition from,
                                     GainCondition to);

} // namespace railside
