// What a reading is a reading of, and under which conditions it was taken, in words the program
// can act on.
#pragma once

#include "core/quantity/unit.h"

#include <optional>
#include <span>
#include <string>
#include <string_view>

namespace railside {

enum class ReadingKind {
    volts,       // a DC or RMS voltage
    millivolts,  // the small voltage across a resistor that tells its current
    ohms,        //
    diode_test,  // the drop a meter's diode test shows
    gain,        // of a transistor, out of circuit
    leakage,     // current through what should block
    temperature, //
    peak_volts,  // read off a scope, one half
    current,     // through an ammeter or a clamp
    other,       // anything else, and what entries of other versions say
};

/// What is known of a kind of reading.
struct ReadingKindInfo {
    ReadingKind kind = ReadingKind::other;
    std::string_view key;     // "diode_test": in entries
    std::string_view label;   // "diode test": on the screen
    std::optional<Unit> unit; // the one it is read in; none: any
};
/// All of them, in the order they are offered.
[[nodiscard]] std::span<const ReadingKindInfo> all_reading_kinds();
[[nodiscard]] const ReadingKindInfo& reading_kind_info(ReadingKind kind);
/// A key not known here is `other`.
[[nodiscard]] ReadingKind reading_kind_from_key(std::string_view key);

/// What fed the unit while it was read.
enum class Power {
    unsaid, //
    off,    // plug out, reservoirs empty
    lamp,   // through the series lamp
    mains,  // full mains
};
[[nodiscard]] std::string_view power_key(Power power); // "", "off", "lamp", "mains"
[[nodiscard]] std::optional<Power> power_from_key(std::string_view key);

enum class Warmth {
    unsaid, //
    cold,   // as it came from the shelf
    warm,   // settled after running
};
[[nodiscard]] std::string_view warmth_key(Warmth warmth); // "", "cold", "warm"
[[nodiscard]] std::optional<Warmth> warmth_from_key(std::string_view key);

/// The conditions of a reading or a recording.
struct Conditions {
    Power power = Power::unsaid;
    std::string lamp; // entry id of the lamp in the bench's book, or empty
    Warmth warmth = Warmth::unsaid;
    std::optional<double> minutes; // since power-up, 0 to 1e6

    friend bool operator==(const Conditions&, const Conditions&) = default;
};
/// "on the lamp, warm, 12 min after power-up"; empty when nothing is said.
[[nodiscard]] std::string print_conditions(const Conditions& conditions);

} // namespace railside
