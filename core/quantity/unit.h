// The units a field, a reading or a result can have, with their symbols and the SI prefixes that
// make sense.
#pragma once

#include <optional>
#include <span>
#include <string_view>

namespace railside {

enum class Unit {
    ratio,           // plain number, no unit (gain, count of pairs)
    percent,         // shown and typed in percent, held as a fraction (0.05 for 5 %)
    volt,            // V
    ampere,          // A
    ohm,             // Ω
    watt,            // W
    celsius,         // °C, a temperature
    kelvin,          // K, a difference of temperatures
    second,          // s
    hertz,           // Hz
    farad,           // F
    kelvin_per_watt, // K/W
    degree,          // °, a phase angle
};

/// One SI prefix: its letter ("" for none), its word ("milli") and its power of ten.
struct Prefix {
    std::string_view letter;
    std::string_view word;
    int exponent = 0;
};

/// What is known of a unit.
struct UnitInfo {
    Unit unit = Unit::ratio;
    std::string_view symbol;          // "Ω"; empty for ratio
    std::string_view word;            // "ohm"
    std::string_view key;             // "ohm": plain ASCII, used in JSON and files
    std::span<const Prefix> prefixes; // those used for this unit, smallest first; always holds ""
};

[[nodiscard]] const UnitInfo& unit_info(Unit unit);

/// The unit of a JSON key ("kelvin_per_watt"), if there is one.
[[nodiscard]] std::optional<Unit> unit_from_key(std::string_view key);

/// All SI prefixes known here, pico to mega, smallest first.
[[nodiscard]] std::span<const Prefix> all_prefixes();

} // namespace railside
