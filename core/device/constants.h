// Where the constants of a transistor come from, best first: a SPICE .model card, the parts table,
// readings of this unit, or a named generic device; and how far each may be from the device on the
// bench.
//
// A card is taken for a typical device of its type. A table row fixes the gain; the junction is the
// generic one of the role. Spreads: base-emitter volts at one current scatter by tens of millivolts
// between devices of one class (Gray & Meyer, Analysis and Design of Analog Integrated Circuits: 10
// mV within a type's lots; wider over types and dice); gain as the data sheet's window, or by the
// usual factor of 2.5 either way where there is none.
#pragma once

#include "core/device/parts.h"
#include "core/device/role.h"
#include "core/device/semiconductor.h"
#include "core/result.h"

#include <string>
#include <string_view>

namespace railside {

enum class ConstantsFrom {
    card,    // a SPICE .model card
    table,   // the parts table
    fitted,  // readings of this unit
    generic, // nobody's: typical for the role
};

/// A transistor's constants with their doubt.
struct DeviceConstants {
    ConstantsFrom from = ConstantsFrom::generic;
    std::string name;    // "2SC5200", the card's name, or the generic's
    BipolarModel model;  // typical
    double gain_low = 1; // the true gain is from gain_low times the typical one, above 0, at most 1
    double gain_high = 1; // to gain_high times, 1 or more
    double shift_v = 0;   // base-emitter volts at one current, either way
};

/// The generic device of a role as a full card.
[[nodiscard]] DeviceConstants generic_constants(Role role, Polarity polarity);

/// Constants for a place. `text` is empty (generic), a type number of the parts table, or the text
/// of a .model card. Errors: not_found for a type that is in neither, contradictory for the wrong
/// polarity, those of read_bipolar_card.
[[nodiscard]] Result<DeviceConstants>
device_constants(Role role, Polarity polarity, std::string_view text, std::string_view field);

/// The same device with its gain fitted to a reading: `gain` (low, value, high) at `collector_a`,
/// `collector_emitter_v` and `junction_c`. Gains above 0.
struct GainReading {
    double low = 0;
    double value = 0;
    double high = 0;
    double collector_a = 0;
    double collector_emitter_v = 5;
    double junction_c = 25;
};
[[nodiscard]] DeviceConstants fitted_gain(DeviceConstants constants, const GainReading& reading);

/// The card moved within its doubt: gain times `gain_factor`, base-emitter volts at one current
/// higher by `shift_v`.
[[nodiscard]] BipolarModel moved(const BipolarModel& model, double gain_factor, double shift_v);

/// "output +: 2SC5200 from the parts table"
[[nodiscard]] std::string said(std::string_view place, const DeviceConstants& constants);

} // namespace railside
