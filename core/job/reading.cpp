#include "core/job/reading.h"

#include "core/quantity/value_code.h"
#include "core/words/words.h"

#include <fmt/format.h>

#include <utility>

namespace railside {

namespace {

constexpr ReadingKindInfo k_reading_kinds[] = {
    {ReadingKind::volts, "volts", "volts", Unit::volt},
    {ReadingKind::millivolts, "millivolts", "millivolts across a resistor", Unit::volt},
    {ReadingKind::ohms, "ohms", "ohms", Unit::ohm},
    {ReadingKind::diode_test, "diode_test", "diode test", Unit::volt},
    {ReadingKind::gain, "gain", "gain", Unit::ratio},
    {ReadingKind::leakage, "leakage", "leakage", Unit::ampere},
    {ReadingKind::temperature, "temperature", "temperature", Unit::celsius},
    {ReadingKind::peak_volts, "peak_volts", "peak volts", Unit::volt},
    {ReadingKind::current, "current", "current", Unit::ampere},
    {ReadingKind::other, "other", "other", std::nullopt},
};

constexpr std::pair<Power, std::string_view> k_powers[] = {
    {Power::unsaid, ""},
    {Power::off, "off"},
    {Power::lamp, "lamp"},
    {Power::mains, "mains"},
};

constexpr std::pair<Warmth, std::string_view> k_warmths[] = {
    {Warmth::unsaid, ""},
    {Warmth::cold, "cold"},
    {Warmth::warm, "warm"},
};

} // namespace

std::span<const ReadingKindInfo> all_reading_kinds() { return k_reading_kinds; }

const ReadingKindInfo& reading_kind_info(ReadingKind kind) {
    for (const ReadingKindInfo& info : k_reading_kinds)
        if (info.kind == kind)
            return info;
    return k_reading_kinds[std::size(k_reading_kinds) - 1];
}

ReadingKind reading_kind_from_key(std::string_view key) {
    for (const ReadingKindInfo& info : k_reading_kinds)
        if (info.key == key)
            return info.kind;
    return ReadingKind::other;
}

std::string_view power_key(Power power) {
    for (const auto& known : k_powers)
        if (known.first == power)
            return known.second;
    return {};
}
std::optional<Power> power_from_key(std::string_view key) {
    for (const auto& known : k_powers)
        if (known.second == key)
            return known.first;
    return std::nullopt;
}

std::string_view warmth_key(Warmth warmth) {
    for (const auto& known : k_warmths)
        if (known.first == warmth)
            return known.second;
    return {};
}
std::optional<Warmth> warmth_from_key(std::string_view key) {
    for (const auto& known : k_warmths)
        if (known.second == key)
            return known.first;
    return std::nullopt;
}

std::string print_conditions(const Conditions& conditions) {
    std::string text;
    const auto add = [&text](std::string_view part) {
        if (!text.empty())
            text += ", ";
        text += part;
    };
    switch (conditions.power) {
    case Power::unsaid:
        break;
    case Power::off:
        add("power off");
        break;
    case Power::lamp:
        add("on the lamp");
        break;
    case Power::mains:
        add("on full mains");
        break;
    }
    if (conditions.warmth != Warmth::unsaid)
        add(warmth_key(conditions.warmth));
    if (conditions.minutes)
        add(worded("{}\u2009min after power-up", print_short(*conditions.minutes, Unit::ratio, 4)));
    return text;
}

} // namespace railside
