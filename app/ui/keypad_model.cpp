#include "app/ui/keypad_model.h"

#include "core/quantity/value_code.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace railside {

namespace {

/// The prefixes a field's range has use for, as key names, smallest first.
std::vector<Prefix> fitting_prefixes(const Field& field) {
    std::vector<Prefix> fitting;
    const double largest = std::max(std::fabs(field.low), std::fabs(field.high));
    for (const Prefix& prefix : unit_info(field.unit).prefixes) {
        if (prefix.exponent == 0)
            continue;
        const double unit = std::pow(10.0, prefix.exponent);
        // 1 to 1000 of it must meet the range, and the usual values must not lie far above it.
        const bool reached = unit <= largest * 1.0001;
        const double usual_top = field.usual_high > 0 ? field.usual_high : largest;
        const double smallest = field.usual_low > 0 ? field.usual_low
                                : field.low > 0     ? field.low
                                                    : usual_top * 1e-6;
        const bool needed = prefix.exponent > 0 ? true : unit * 1000 > smallest;
        if (reached && needed)
            fitting.push_back(prefix);
    }
    return fitting;
}

bool may_follow(const KeypadState& state, std::string_view key) {
    KeypadState copy = state;
    press_key(copy, key);
    return copy.refused.empty();
}

/// Splits "12.0m" and "96.0 mV" before the letters, but leaves 0R22 and 4k7 whole.
std::size_t suffix_start(std::string_view text) {
    std::size_t i = text.size();
    while (i > 0 && !(text[i - 1] >= '0' && text[i - 1] <= '9') && text[i - 1] != '.' &&
           text[i - 1] != ',' && text[i - 1] != '-')
        --i;
    return i;
}

} // namespace

void press_key(KeypadState& state, std::string_view key) {
    state.refused.clear();
    if (key == "clear") {
        state.text.clear();
        state.fresh = false;
        return;
    }
    if (key == "erase") {
        state.fresh = false;
        if (state.field.takes_open && state.text == "OL")
            state.text.clear();
        while (!state.text.empty() &&
               (static_cast<unsigned char>(state.text.back()) & 0xc0) == 0x80)
            state.text.pop_back();
        if (!state.text.empty())
            state.text.pop_back();
        return;
    }
    // "OL" is a whole reading: a letter of it stands for all of it, a digit after it begins anew.
    const bool was_open = state.field.takes_open && state.text == "OL";
    if (state.field.takes_open && (was_open || state.fresh || state.text.empty()) &&
        (key == "O" || key == "o" || key == "L" || key == "l")) {
        state.text = "OL";
        state.fresh = false;
        return;
    }
    std::string next = state.fresh || was_open ? std::string() : state.text;
    if (key == "sign") {
        next = was_open ? std::string() : state.text;
        if (!next.empty() && next.front() == '-')
            next.erase(0, 1);
        else
            next.insert(0, "-");
        if (state.field.low >= 0 && next.front() == '-') {
            state.refused = fmt::format("{} is never negative here: {}.", state.field.label,
                                        accepted_form(state.field));
            return;
        }
    } else {
        next.append(key);
    }
    if (const auto begun = check_beginning(next, state.field.unit, state.field.label); !begun) {
        state.refused = begun.error().message;
        return;
    }
    state.text = std::move(next);
    state.fresh = false;
}

void type_text(KeypadState& state, std::string_view utf8) {
    std::size_t i = 0;
    while (i < utf8.size()) {
        std::size_t n = 1;
        while (i + n < utf8.size() && (static_cast<unsigned char>(utf8[i + n]) & 0xc0) == 0x80)
            ++n;
        const std::string_view character = utf8.substr(i, n);
        if (character == "-" && (state.fresh || state.text.empty() || state.text == "-"))
            press_key(state, "sign");
        else
            press_key(state, character);
        if (!state.refused.empty())
            return;
        i += n;
    }
}

void replace_text(KeypadState& state, std::string_view text) {
    state.refused.clear();
    state.text.assign(text);
    state.fresh = false;
}

KeypadShown make_keypad(const KeypadState& state) {
    KeypadShown shown;
    const bool open = state.field.takes_open && state.text == "OL";
    const std::size_t cut = open ? state.text.size() : suffix_start(state.text);
    shown.typed = state.text.substr(0, cut);
    shown.suffix = state.text.substr(cut);
    shown.set_label = "Set";

    static constexpr std::string_view k_digits[] = {"1", "2", "3", "4", "5", "6", "7", "8", "9"};
    for (const std::string_view digit : k_digits)
        shown.digits.push_back({digit, digit, may_follow(state, digit)});
    shown.digits.push_back({"sign", "±", state.field.low < 0});
    shown.digits.push_back({"0", "0", may_follow(state, "0")});
    shown.digits.push_back({".", ".", may_follow(state, ".")});

    std::vector<Prefix> prefixes = fitting_prefixes(state.field);
    std::reverse(prefixes.begin(), prefixes.end());
    for (const Prefix& prefix : prefixes) {
        std::string_view label = prefix.letter;
        std::string_view key = prefix.letter;
        if (prefix.exponent == -6) {
            label = "µ";
            key = "u";
        }
        shown.prefixes.push_back({key, label, may_follow(state, key)});
    }
    if (state.field.unit == Unit::ohm) {
        const KeypadKey r{"R", "R", may_follow(state, "R")};
        const auto below = std::find_if(prefixes.begin(), prefixes.end(),
                                        [](const Prefix& p) { return p.exponent < 0; });
        shown.prefixes.insert(shown.prefixes.begin() + (below - prefixes.begin()), r);
    }
    if (shown.prefixes.size() > 4)
        shown.prefixes.resize(4);

    if (state.text.empty()) {
        shown.spoken = accepted_form(state.field);
        shown.message = state.refused;
        shown.tone = state.refused.empty() ? KeypadTone::quiet : KeypadTone::refused;
        return shown;
    }
    const auto parsed = parse_value(state.text, state.field.unit, state.field.label);
    const auto input = read_input(state.field, state.text);
    if (parsed)
        shown.spoken = spoken_value(*parsed, state.field.unit);
    else if (open)
        shown.spoken = "no reading: open, or over the range";
    if (!input) {
        // Half-typed text is no fault until Set is wanted.
        shown.message = parsed ? input.error().message : std::string();
        shown.tone = parsed ? KeypadTone::refused : KeypadTone::quiet;
        if (!parsed && shown.spoken.empty())
            shown.spoken = accepted_form(state.field);
    } else {
        const double value = input->amount.value;
        const std::string printed =
            parsed ? print_value(value, state.field.unit, std::max(1, parsed->digits)) : state.text;
        shown.set_label = "Set " + printed;
        shown.tone = KeypadTone::usual;
        std::string unusual = unusual_reason(state.field, value);
        if (unusual.empty() && !open && state.compare != 0 && value != 0) {
            const double ratio = std::fabs(value / state.compare);
            if (ratio >= 5 || ratio <= 0.2)
                unusual =
                    ratio >= 1
                        ? fmt::format("unusual: {:.1f} times {}", ratio, state.compare_name)
                        : fmt::format("unusual: only {:.2f} of {}", ratio, state.compare_name);
        }
        if (!unusual.empty()) {
            shown.tone = KeypadTone::unusual;
            shown.message = unusual;
            shown.set_label = "Hold to set " + printed;
        }
    }
    if (!state.refused.empty()) {
        shown.message = state.refused;
        if (shown.tone == KeypadTone::quiet)
            shown.tone = KeypadTone::refused;
    }
    return shown;
}

} // namespace railside
