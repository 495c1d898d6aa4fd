#include "core/working/working.h"

#include "core/quantity/refusal.h"
#include "core/quantity/value_code.h"
#include "core/words/words.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

namespace railside {

namespace {

constexpr MeterAccuracy k_plain_meter{0.005, 3};
constexpr std::string_view k_thin_space = "\u2009";

std::string_view trimmed(std::string_view text) {
    const auto first = text.find_first_not_of(" \t");
    if (first == std::string_view::npos) {
        return {};
    }
    return text.substr(first, text.find_last_not_of(" \t") - first + 1);
}

char lower(char c) { return c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c; }

bool same_word(std::string_view a, std::string_view b) {
    return std::equal(a.begin(), a.end(), b.begin(), b.end(),
                      [](char x, char y) { return lower(x) == lower(y); });
}

/// The spaces that layout and phones put in become plain ones.
std::string plain_spaces(std::string_view text) {
    constexpr std::array<std::string_view, 3> k_spaces{"\u2009", "\u00a0", "\u202f"};
    std::string result;
    while (!text.empty()) {
        const auto space = std::find_if(k_spaces.begin(), k_spaces.end(), [text](auto candidate) {
            return text.starts_with(candidate);
        });
        if (space != k_spaces.end()) {
            result += ' ';
            text.remove_prefix(space->size());
        } else {
            result += text.front();
            text.remove_prefix(1);
        }
    }
    return result;
}

/// "0R22 ±5 %" in its two parts; the second is empty when there is no tolerance.
struct ToleranceText {
    std::string_view value;
    std::string_view tolerance;
    bool marked = false; // a ± was there, so that something must follow
};

ToleranceText split_tolerance(std::string_view text, Unit unit) {
    for (const std::string_view mark : {"\u00b1", "+/-", "+-", "+/\u2212", "+\u2212"}) {
        if (const auto at = text.find(mark); at != std::string_view::npos) {
            return {trimmed(text.substr(0, at)), trimmed(text.substr(at + mark.size())), true};
        }
    }
    // "0R22 5%": a second number with a percent sign, set off by a space.
    if (unit != Unit::percent && text.ends_with('%')) {
        const std::string_view number = trimmed(text.substr(0, text.size() - 1));
        const auto space = number.find_last_of(" \t");
        if (space != std::string_view::npos) {
            return {trimmed(number.substr(0, space)), text.substr(space + 1), false};
        }
    }
    return {text, {}, false};
}

std::string plain_number(double value) {
    return fmt::format("{}{:.10g}", value < 0 ? "\u2212" : "", std::abs(value));
}

std::string range_text(double low, double high, Unit unit) {
    const double scale = unit == Unit::percent ? 100 : 1;
    const auto small = [](double value) { return value != 0 && std::abs(value) < 0.001; };
    const bool below_one = unit != Unit::percent && unit != Unit::ratio && std::abs(high) < 1;
    const bool noughts = unit == Unit::ohm && high >= 1e6; // "100 MΩ" counts itself
    if (small(low) || small(high) || below_one || noughts) {
        return worded("{} to {}", print_short(low, unit), print_short(high, unit));
    }
    const std::string_view symbol = unit_info(unit).symbol;
    return worded("{} to {}{}{}", plain_number(low * scale), plain_number(high * scale),
                  symbol.empty() ? std::string_view{} : k_thin_space, symbol);
}

/// What meters show, and people write, for no reading.
bool is_open_word(std::string_view text) {
    constexpr std::array<std::string_view, 4> k_words{"ol", "open", "inf", "\u221e"};
    return std::any_of(k_words.begin(), k_words.end(),
                       [text](std::string_view word) { return same_word(text, word); });
}

Error refuse(ErrorCode code, const Field& field, std::string message) {
    return {code, std::string(field.label), std::move(message)};
}

Error out_of_range(const Field& field, double value) {
    const std::string shown = print_short(value, field.unit, 6);
    if (field.spread == Spread::meter && field.low == 0 && value < 0) {
        return refuse(ErrorCode::out_of_range, field,
                      worded("{} {} is negative: swap the meter leads or give the size "
                             "without its sign. Accepted: {}.",
                             field.label, shown, accepted_form(field)));
    }
    return refuse(
        ErrorCode::out_of_range, field,
        worded("{} {} is not accepted. Accepted: {}.", field.label, shown, accepted_form(field)));
}

bool takes_tolerance(const Field& field) {
    return field.spread == Spread::tolerance || field.spread == Spread::meter ||
           (field.spread == Spread::exact && field.unit != Unit::ratio &&
            field.unit != Unit::percent);
}

/// The half width that a tolerance text stands for round `value`.
Result<double> read_tolerance(const Field& field, std::string_view text, double value) {
    const auto refused = [&](std::string_view why) {
        return refuse(ErrorCode::bad_text, field,
                      worded("{}: the tolerance \"{}\" {}. Accepted: ±5{}%, or an amount with "
                             "its unit.",
                             field.label, text, why, k_thin_space));
    };
    if (!takes_tolerance(field)) {
        return refuse(
            ErrorCode::bad_text, field,
            worded("{} takes no tolerance. Accepted: {}.", field.label, accepted_form(field)));
    }
    if (text.empty()) {
        return refused("has no number");
    }
    const bool relative = text.ends_with('%') && field.unit != Unit::percent;
    if (!relative && field.unit != Unit::ratio &&
        text.find_first_not_of("0123456789.,+- ") == std::string_view::npos) {
        return refused("has no unit");
    }
    auto parsed = parse_value(text, relative ? Unit::percent : field.unit, field.label);
    if (!parsed) {
        return refused("is not understood");
    }
    if (parsed->value < 0) {
        return refused("is negative");
    }
    if (relative && parsed->value >= 1) {
        return refused("is 100 % or more");
    }
    return relative ? std::abs(value) * parsed->value : parsed->value;
}

Result<Input> read_amount(const Field& field, std::string_view text,
                          std::optional<MeterAccuracy> accuracy) {
    const std::string plain = plain_spaces(text);
    const ToleranceText parts = split_tolerance(trimmed(plain), field.unit);
    if (parts.value.empty()) {
        return refuse(ErrorCode::missing, field,
                      worded("{} is empty. Accepted: {}.", field.label, accepted_form(field)));
    }
    if (field.takes_open && !parts.marked && is_open_word(trimmed(plain))) {
        Input input;
        input.text = std::string(text);
        input.amount = Amount::exact(field.high, field.unit);
        return input;
    }
    auto parsed = parse_value(parts.value, field.unit, field.label);
    if (!parsed) {
        return parsed.error();
    }
    const double value = parsed->value;
    Input input;
    input.text = std::string(text);
    input.amount = Amount::exact(value, field.unit);
    if (value < field.low || value > field.high) {
        return out_of_range(field, value);
    }
    if (parts.marked || !parts.tolerance.empty()) {
        const Result<double> half = read_tolerance(field, parts.tolerance, value);
        if (!half) {
            return half.error();
        }
        input.amount = {value, value - *half, value + *half, field.unit};
    } else if (field.spread == Spread::tolerance) {
        input.amount = with_tolerance(value, field.default_spread, field.unit);
    } else if (field.spread == Spread::meter) {
        // Nobody reads it on a range whose last digit is coarser than the least usual reading: a
        // bare "0" is no reading to ±3 V.
        const double step =
            field.usual_low > 0 ? std::min(parsed->step, field.usual_low) : parsed->step;
        input.amount = with_accuracy(value, step, accuracy.value_or(k_plain_meter), field.unit);
    }
    if (auto checked = check_input(field, input); !checked) {
        return checked.error();
    }
    return input;
}

/// Of a device's text and of a recording, which nothing else is asked of here.
Result<Done> check_size(const Field& field, const Input& input) {
    if (field.kind == FieldKind::device && input.word.size() > k_most_device_bytes) {
        return refuse(ErrorCode::out_of_range, field,
                      worded("{}: {} bytes are too many. Accepted: {}.", field.label,
                             input.word.size(), accepted_form(field)));
    }
    if (input.word.empty()) {
        return refuse(ErrorCode::missing, field,
                      worded("{} is empty. Accepted: {}.", field.label, accepted_form(field)));
    }
    if (input.data != nullptr && input.data->size() > k_most_recording_bytes) {
        return refuse(ErrorCode::out_of_range, field,
                      worded("{} {} has {} bytes, which is too many. Accepted: {}.", field.label,
                             quoted(input.word), input.data->size(), accepted_form(field)));
    }
    return Done{};
}

bool all_finite(const std::vector<double>& values) {
    return std::all_of(values.begin(), values.end(), [](double v) { return std::isfinite(v); });
}

bool all_finite(const Outcome& outcome) {
    for (const Figure& figure : outcome.figures) {
        const Amount& amount = figure.amount;
        if (!std::isfinite(amount.value) || !std::isfinite(amount.low) ||
            !std::isfinite(amount.high)) {
            return false;
        }
    }
    return std::all_of(outcome.curves.begin(), outcome.curves.end(), [](const Curve& curve) {
        return all_finite(curve.x.values) && all_finite(curve.y.values);
    });
}

} // namespace

std::string figure_text(const Amount& amount) {
    constexpr double k_most = 1e6;
    if (amount.unit == Unit::ratio && amount.low == amount.high &&
        amount.value == std::round(amount.value) && std::abs(amount.value) < k_most) {
        return fmt::format("{}{:.0f}", amount.value < 0 ? "\u2212" : "", std::abs(amount.value));
    }
    return print_value(amount.value, amount.unit, 3);
}

std::string accepted_form(const Field& field) {
    switch (field.kind) {
    case FieldKind::text:
        return "any text";
    case FieldKind::device:
        return worded("a type number, or a .model card of at most {} bytes", k_most_device_bytes);
    case FieldKind::recording:
        return worded("a CSV or WAV file of at most {}\u2009MB",
                      k_most_recording_bytes / 1'000'000);
    case FieldKind::choice: {
        std::string form;
        for (std::size_t i = 0; i < field.choices.size(); ++i) {
            if (i > 0) {
                form += i + 1 == field.choices.size() ? " or " : ", ";
            }
            form += field.choices[i].label;
        }
        return form;
    }
    case FieldKind::amount:
        break;
    }
    const std::string range =
        range_text(field.low, field.high, field.unit) + (field.takes_open ? ", or OL" : "");
    return field.spread == Spread::count ? worded("a whole number, {}", range) : range;
}

std::string unusual_reason(const Field& field, double value) {
    if (field.kind != FieldKind::amount || !(field.usual_low < field.usual_high) ||
        (value >= field.usual_low && value <= field.usual_high) ||
        (field.takes_open && value >= field.high)) {
        return {};
    }
    return worded("{} {} is unusual: it is mostly {}.", field.label,
                  print_short(value, field.unit, 6),
                  range_text(field.usual_low, field.usual_high, field.unit));
}

Result<Done> check_input(const Field& field, const Input& input) {
    if (field.kind != FieldKind::amount && !well_formed(input.word)) {
        return refuse(ErrorCode::bad_text, field,
                      worded("{} {} holds bytes that are no text. Accepted: {}.", field.label,
                             quoted(input.word), accepted_form(field)));
    }
    if (field.kind == FieldKind::text) {
        return Done{};
    }
    if (field.kind == FieldKind::device || field.kind == FieldKind::recording) {
        return check_size(field, input);
    }
    if (field.kind == FieldKind::choice) {
        for (const Choice& choice : field.choices) {
            if (choice.key == input.word) {
                return Done{};
            }
        }
        return refuse(ErrorCode::out_of_range, field,
                      worded("{} \"{}\" is not accepted. Accepted: {}.", field.label, input.word,
                             accepted_form(field)));
    }
    const Amount& amount = input.amount;
    if (amount.unit != field.unit) {
        return refuse(ErrorCode::contradictory, field,
                      worded("{} is in {}, not in {}.", field.label, unit_info(field.unit).word,
                             unit_info(amount.unit).word));
    }
    if (!std::isfinite(amount.value) || !std::isfinite(amount.low) || !std::isfinite(amount.high) ||
        amount.low > amount.value || amount.value > amount.high) {
        return refuse(ErrorCode::contradictory, field,
                      worded("{}: its lowest, nominal and highest value are not finite numbers "
                             "in rising order. Accepted: {}.",
                             field.label, accepted_form(field)));
    }
    if (amount.value < field.low || amount.value > field.high) {
        return out_of_range(field, amount.value);
    }
    if (field.spread == Spread::count &&
        (amount.value != std::floor(amount.value) || amount.low != amount.high)) {
        return refuse(ErrorCode::out_of_range, field,
                      worded("{} {} is not a whole number. Accepted: {}.", field.label,
                             print_short(amount.value, field.unit, 6), accepted_form(field)));
    }
    if (field.low > 0 && amount.low <= 0) {
        return refuse(ErrorCode::out_of_range, field,
                      worded("{} {}: its tolerance reaches to zero or below. Accepted: {}, with "
                             "a tolerance less than the value.",
                             field.label, print_short(amount.value, field.unit, 6),
                             accepted_form(field)));
    }
    return Done{};
}

Result<Input> read_input(const Field& field, std::string_view text,
                         std::optional<MeterAccuracy> accuracy) {
    if (field.kind == FieldKind::amount) {
        return read_amount(field, text, accuracy);
    }
    Input input;
    input.text = std::string(text);
    const std::string_view word = trimmed(text);
    if (word.empty()) {
        return refuse(ErrorCode::missing, field,
                      worded("{} is empty. Accepted: {}.", field.label, accepted_form(field)));
    }
    if (field.kind == FieldKind::text || field.kind == FieldKind::device ||
        field.kind == FieldKind::recording) {
        input.word = std::string(word);
        if (auto checked = check_input(field, input); !checked) {
            return checked.error();
        }
        return input;
    }
    for (const Choice& choice : field.choices) {
        if (same_word(word, choice.key) || same_word(word, choice.label)) {
            input.word = std::string(choice.key);
            return input;
        }
    }
    return refuse(ErrorCode::bad_text, field,
                  worded("{} \"{}\" is not accepted. Accepted: {}.", field.label, word,
                         accepted_form(field)));
}

bool applies(const Field& field, const Inputs& inputs) {
    if (field.when.field.empty()) {
        return true;
    }
    const auto held = inputs.find(field.when.field);
    if (held == inputs.end()) {
        return false;
    }
    std::string_view words = field.when.words;
    while (!words.empty()) {
        const std::string_view word = words.substr(0, words.find(' '));
        if (word == held->second.word) {
            return true;
        }
        words.remove_prefix(std::min(words.size(), word.size() + 1));
    }
    return false;
}

Inputs with_defaults(const Working& working, Inputs inputs) {
    const auto fill = [&inputs](const Field& field) {
        if (field.by_default.empty() || inputs.contains(field.key)) {
            return;
        }
        auto input = read_input(field, field.by_default);
        assert(input.ok()); // a default outside its own field is our bug; a test reads every one
        if (input) {
            input->from = Origin::by_default;
            inputs.emplace(field.key, *std::move(input));
        }
    };
    // First what the conditions of the others look at.
    for (const Field& field : working.fields) {
        if (field.when.field.empty()) {
            fill(field);
        }
    }
    for (const Field& field : working.fields) {
        if (!field.when.field.empty() && applies(field, inputs)) {
            fill(field);
        }
    }
    return inputs;
}

Result<Outcome> run_working(const Working& working, const Inputs& inputs) {
    for (const auto& [key, input] : inputs) {
        if (find_field(working, key) == nullptr) {
            return Error{ErrorCode::not_found, key,
                         worded("\"{}\" has no field \"{}\".", working.name, key)};
        }
    }
    const Inputs full = with_defaults(working, inputs);
    for (const Field& field : working.fields) {
        const auto held = full.find(field.key);
        if (held == full.end()) {
            if (field.need == Need::required && applies(field, full)) {
                return refuse(
                    ErrorCode::missing, field,
                    worded("{} is needed. Accepted: {}.", field.label, accepted_form(field)));
            }
            continue;
        }
        if (auto checked = check_input(field, held->second); !checked) {
            return checked.error();
        }
        if (field.kind == FieldKind::recording && held->second.data == nullptr) {
            return refuse(ErrorCode::missing, field,
                          worded("{} {} is not here: only its name was kept. Accepted: {}.",
                                 field.label, quoted(held->second.word), accepted_form(field)));
        }
    }
    Result<Outcome> outcome = working.compute(full);
    if (outcome) {
        for (const Field& field : working.fields) {
            if (inputs.contains(field.key) && !applies(field, full)) {
                outcome->notes.push_back(
                    worded("{} was given but not used: it goes with another {}.", field.label,
                           find_field(working, field.when.field)->label));
            }
        }
    }
    if (outcome && !all_finite(*outcome)) {
        return Error{ErrorCode::contradictory, std::string(working.name),
                     "These values together give no finite answer; one of them or its tolerance "
                     "is far from any real part."};
    }
    return outcome;
}

} // namespace railside
