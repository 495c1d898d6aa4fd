#include "app/ui/keypad_model.h"

#include "core/quantity/e_series.h"
#include "core/quantity/value_code.h"
#include "core/words/words.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <optional>

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

/// What was said of the last key goes with the next one.
void forget_said(KeypadState& state) {
    state.refused.clear();
    state.compared.clear();
    state.comparison.clear();
}

std::string printed(const ParsedValue& value, Unit unit) {
    return print_value(value.value, unit, std::max(1, value.digits));
}

/// "8.4 times", "0.12 of"
std::string factor_text(double ratio) {
    return ratio >= 1 ? worded("{:.1f} times", ratio) : worded("only {:.2f} of", ratio);
}

// Further from what the job expects than this is asked about: half of a slip by ten.
constexpr double k_far = 5;

/// Why a value is unusual, with the factor; empty when it is not.
std::string why_unusual(const KeypadState& state, double value) {
    const Field& field = state.field;
    std::string why = unusual_reason(field, value);
    const bool open = field.takes_open && value >= field.high;
    if (why.empty()) {
        if (open || state.compare == 0 || value == 0)
            return {};
        const double ratio = std::fabs(value / state.compare);
        return ratio >= k_far || ratio <= 1 / k_far
                   ? worded("unusual: {} {}", factor_text(ratio), state.compare_name)
                   : std::string();
    }
    const double bound = value > field.usual_high ? field.usual_high : field.usual_low;
    if (bound > 0 && value > 0) {
        const double ratio = value / bound;
        if (ratio >= 2 || ratio <= 0.5)
            why += worded(" This is {} {}.", factor_text(ratio), print_short(bound, field.unit, 4));
    }
    return why;
}

bool in_range(const Field& field, double value) {
    return value >= field.low && value <= field.high;
}

/// E96 for parts of 1 % and for values that are of it alone.
ESeries series_for(const Field& field, double value) {
    const bool fine = field.spread == Spread::tolerance && field.default_spread > 0 &&
                      field.default_spread <= 0.011;
    return fine || (in_series(value, ESeries::e96) && !in_series(value, ESeries::e24))
               ? ESeries::e96
               : ESeries::e24;
}

bool steps_along_series(const Field& field, double value) {
    return field.unit == Unit::ohm && field.spread != Spread::meter && value > 0;
}

/// The typed text with its last digit moved by one: prefix, mark and letters stay where they are.
/// Nothing when it holds no digit, or more than a whole number takes.
std::optional<std::string> digit_stepped(std::string_view text, StepWay way) {
    std::string digits;
    for (const char c : text)
        if (c >= '0' && c <= '9')
            digits += c;
    if (digits.empty() || digits.size() > 15)
        return std::nullopt;
    bool negative = text.front() == '-' || text.substr(0, 3) == "\u2212";
    long long whole = 0;
    for (const char c : digits)
        whole = whole * 10 + (c - '0');
    whole = (negative ? -whole : whole) + (way == StepWay::up ? 1 : -1);
    negative = whole < 0;
    std::string stepped = fmt::format("{:0{}}", negative ? -whole : whole, digits.size());
    std::string out = negative ? "-" : "";
    // A digit more than before goes to the front.
    std::size_t next = stepped.size() - digits.size();
    bool first = true;
    for (const char c : text) {
        if (c >= '0' && c <= '9') {
            if (first)
                out += stepped.substr(0, next);
            first = false;
            out += stepped[next++];
        } else if (c != '-' && (!first || (static_cast<unsigned char>(c) & 0x80) == 0)) {
            // The minus is written already; the only other sign is a micro sign behind the digits.
            out += c;
        }
    }
    return out;
}

} // namespace

void press_key(KeypadState& state, std::string_view key) {
    forget_said(state);
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
            state.refused = worded("{} is never negative here: {}.", state.field.label,
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
    forget_said(state);
    state.text.assign(text);
    state.fresh = false;
}

void press_quick(KeypadState& state, std::string_view text) {
    const Unit unit = state.field.unit;
    const auto typed = parse_value(state.text, unit, state.field.label);
    const auto other = parse_value(text, unit, state.field.label);
    if (state.fresh || !typed || !other || state.compared == text || state.text == text) {
        replace_text(state, text);
        return;
    }
    forget_said(state);
    state.compared.assign(text);
    const std::string both = worded("{} beside {}", printed(*typed, unit), printed(*other, unit));
    const double apart = typed->value - other->value;
    const std::string difference =
        apart == 0
            ? worded("no difference")
            : worded("{} {}", print_short(std::fabs(apart), unit, 3), apart > 0 ? "more" : "less");
    state.comparison = other->value == 0
                           ? worded("{}: {}. Tap it again to take it.", both, difference)
                           : worded("{}: {:.3g} times, {}. Tap it again to take it.", both,
                                    std::fabs(typed->value / other->value), difference);
}

void step_value(KeypadState& state, StepWay way) {
    forget_said(state);
    const Field& field = state.field;
    const auto value = parse_value(state.text, field.unit, field.label);
    if (!value) {
        state.refused =
            state.text == "OL"
                ? worded("OL has no next value: key in {}.", accepted_form(field))
                : worded("There is nothing to step from: key in {}.", accepted_form(field));
        return;
    }
    std::optional<std::string> stepped;
    if (steps_along_series(field, value->value)) {
        const ESeries series = series_for(field, value->value);
        const double next = way == StepWay::up ? next_in_series(value->value, series)
                                               : previous_in_series(value->value, series);
        stepped = print_code(next, field.unit);
    } else {
        stepped = digit_stepped(state.text, way);
    }
    const auto next =
        stepped ? parse_value(*stepped, field.unit, field.label) : Result<ParsedValue>(value);
    if (!stepped || !next || !in_range(field, next->value)) {
        state.refused = worded("{} ends there: {}.", field.label, accepted_form(field));
        return;
    }
    state.text = std::move(*stepped);
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

    if (const auto now = parse_value(state.text, state.field.unit, state.field.label))
        shown.steps = steps_along_series(state.field, now->value)
                          ? std::string(e_series_name(series_for(state.field, now->value)))
                          : print_short(now->step, state.field.unit, 3);
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
        shown.set_label = worded("Set {}", printed);
        shown.tone = KeypadTone::usual;
        std::string unusual = why_unusual(state, value);
        if (!unusual.empty()) {
            shown.tone = KeypadTone::unusual;
            shown.message = std::move(unusual);
            shown.set_label = worded("Hold to set {}", printed);
        }
    }
    if (!state.comparison.empty())
        shown.message = state.comparison;
    if (!state.refused.empty()) {
        shown.message = state.refused;
        if (shown.tone == KeypadTone::quiet)
            shown.tone = KeypadTone::refused;
    }
    return shown;
}

} // namespace railside
