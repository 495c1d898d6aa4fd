#include "core/quantity/unit.h"

#include <array>
#include <cstddef>

namespace railside {
namespace {

// SI brochure, 9th edition (2019), table 7; only those the bench meets.
constexpr std::array<Prefix, 7> k_prefixes = {{
    {"p", "pico", -12},
    {"n", "nano", -9},
    {"\u00b5", "micro", -6},
    {"m", "milli", -3},
    {"", "", 0},
    {"k", "kilo", 3},
    {"M", "mega", 6},
}};

enum Place : std::size_t { k_pico, k_nano, k_micro, k_milli, k_none, k_kilo, k_mega };

constexpr std::span<const Prefix> between(Place first, Place last) {
    return std::span<const Prefix>(k_prefixes).subspan(first, last - first + 1);
}

constexpr std::array<UnitInfo, 13> k_units = {{
    {Unit::ratio, "", "", "ratio", between(k_none, k_none)},
    {Unit::percent, "%", "percent", "percent", between(k_none, k_none)},
    {Unit::volt, "V", "volt", "volt", between(k_micro, k_kilo)},
    {Unit::ampere, "A", "ampere", "ampere", between(k_pico, k_none)},
    {Unit::ohm, "\u03a9", "ohm", "ohm", between(k_milli, k_mega)},
    {Unit::watt, "W", "watt", "watt", between(k_micro, k_kilo)},
    {Unit::celsius, "\u00b0C", "degrees Celsius", "celsius", between(k_none, k_none)},
    {Unit::kelvin, "K", "kelvin", "kelvin", between(k_none, k_none)},
    {Unit::second, "s", "second", "second", between(k_nano, k_none)},
    {Unit::hertz, "Hz", "hertz", "hertz", between(k_none, k_mega)},
    {Unit::farad, "F", "farad", "farad", between(k_pico, k_none)},
    {Unit::kelvin_per_watt, "K/W", "kelvin per watt", "kelvin_per_watt", between(k_none, k_none)},
    {Unit::degree, "\u00b0", "degrees", "degree", between(k_none, k_none)},
}};

constexpr bool in_order() {
    for (std::size_t i = 0; i < k_units.size(); ++i) {
        if (static_cast<std::size_t>(k_units[i].unit) != i) {
            return false;
        }
    }
    return true;
}
static_assert(in_order(), "unit_info looks a unit up by its number");

} // namespace

const UnitInfo& unit_info(Unit unit) { return k_units[static_cast<std::size_t>(unit)]; }

std::optional<Unit> unit_from_key(std::string_view key) {
    for (const UnitInfo& info : k_units) {
        if (info.key == key) {
            return info.unit;
        }
    }
    return std::nullopt;
}

std::span<const Prefix> all_prefixes() { return k_prefixes; }

} // namespace railside
