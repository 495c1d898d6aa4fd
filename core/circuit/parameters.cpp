#include "core/circuit/parameters.h"

#include "core/circuit/formula.h"
#include "core/device/model_card.h"
#include "core/device/spice_text.h"
#include "core/quantity/ascii.h"
#include "core/quantity/refusal.h"
#include "core/words/words.h"

#include <fmt/format.h>

#include <cmath>

namespace railside {

namespace {

constexpr int k_most_depth = 64;

bool is_letter(char c) { return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || c == '_'; }
bool is_name_char(char c) { return is_letter(c) || is_digit(c); }
bool is_blank(char c) { return c == ' ' || c == '\t'; }

/// Just after the name or number that begins at `from`.
std::size_t end_of_name(std::string_view text, std::size_t from) {
    const bool number = !is_letter(text[from]);
    std::size_t end = from;
    while (end < text.size()) {
        const char c = text[end];
        const bool exponent_sign = (c == '-' || c == '+') && end >= from + 2 &&
                                   (text[end - 1] == 'e' || text[end - 1] == 'E') &&
                                   (is_digit(text[end - 2]) || text[end - 2] == '.');
        if (!is_name_char(c) && !(number && (c == '.' || exponent_sign))) {
            break;
        }
        ++end;
    }
    return end;
}

std::size_t after_blanks(std::string_view text, std::size_t at) {
    while (at < text.size() && is_blank(text[at])) {
        ++at;
    }
    return at;
}

Error with_place(const std::string& place, const Error& error) {
    return {error.code, error.field,
            place.empty() ? error.message : fmt::format("{}: {}", place, error.message)};
}

} // namespace

void Parameters::define(std::string_view name, std::string_view expression,
                        std::string_view place) {
    std::string key = spice_lower(name);
    Held& held = held_[key];
    if (!held.fixed) {
        held = {std::string(expression), std::string(place), std::nullopt, false, false};
        order_.push_back(std::move(key));
    }
}

void Parameters::fix(std::string_view name, double value) {
    held_[spice_lower(name)] = {{}, {}, value, true, false};
}

bool Parameters::holds(std::string_view name) const {
    return held_.contains(spice_lower(name)) || (outer_ != nullptr && outer_->holds(name));
}

Result<double> Parameters::value(std::string_view name, int depth) const {
    const auto found = held_.find(spice_lower(name));
    if (found == held_.end()) {
        if (outer_ != nullptr) {
            return outer_->value(name, depth);
        }
        return Error{ErrorCode::not_found, std::string(name),
                     fmt::format("there is no .param {}.", quoted(name))};
    }
    Held& held = found->second;
    if (held.value) {
        return *held.value;
    }
    if (held.busy || depth >= k_most_depth) {
        return Error{ErrorCode::contradictory, std::string(name),
                     fmt::format("{}: the .param {} {}.", held.place, quoted(name),
                                 held.busy ? "leans on itself" : "leans on too many others")};
    }
    held.busy = true;
    const auto worked_out = evaluate(bare_expression(held.expression), depth + 1);
    held.busy = false;
    if (!worked_out) {
        return with_place(held.place, worked_out.error());
    }
    held.value = *worked_out;
    return *worked_out;
}

Result<std::string> Parameters::substituted(std::string_view expression, int depth) const {
    std::string text;
    for (std::size_t at = 0; at < expression.size();) {
        const char c = expression[at];
        if (!is_name_char(c) && c != '.') {
            text += c;
            ++at;
            continue;
        }
        const std::size_t end = end_of_name(expression, at);
        const std::size_t stop = end == at ? at + 1 : end;
        const std::string_view word = expression.substr(at, stop - at);
        at = stop;
        if (!is_letter(c)) {
            text += word;
            continue;
        }
        const std::size_t next = after_blanks(expression, stop);
        if (next < expression.size() && expression[next] == '(') {
            text += word;
            if (spice_equal(word, "v") || spice_equal(word, "i")) {
                const auto close = expression.find(')', next);
                const std::size_t past =
                    close == std::string_view::npos ? expression.size() : close + 1;
                text += expression.substr(stop, past - stop);
                at = past;
            }
        } else if (holds(word)) {
            const auto number = value(word, depth);
            if (!number) {
                return number.error();
            }
            text += fmt::format("({})", *number);
        } else {
            text += word;
        }
    }
    return text;
}

Result<double> Parameters::evaluate(std::string_view expression, int depth) const {
    const auto text = substituted(expression, depth);
    if (!text) {
        return text.error();
    }
    const auto formula = Formula::parse(*text);
    if (!formula) {
        return formula.error();
    }
    if (!formula->inputs().empty()) {
        return Error{
            ErrorCode::bad_text, "Expression",
            worded("Expression {} must not hold v(...) or i(...) here.", quoted(expression))};
    }
    const double result = formula->evaluate({}, {});
    if (!std::isfinite(result)) {
        return Error{ErrorCode::out_of_range, "Expression",
                     worded("Expression {} has no finite value.", quoted(expression))};
    }
    return result;
}

Result<double> Parameters::value(std::string_view name) const { return value(name, 0); }

Result<std::string> Parameters::substituted(std::string_view expression) const {
    return substituted(expression, 0);
}

Result<double> Parameters::evaluate(std::string_view expression) const {
    return evaluate(expression, 0);
}

Result<std::optional<double>> Parameters::number(std::string_view word) const {
    if (word.starts_with('{') || word.starts_with('\'')) {
        const auto result = evaluate(bare_expression(word));
        if (!result) {
            return result.error();
        }
        return std::optional<double>(*result);
    }
    if (const auto plain = spice_number(word)) {
        return plain;
    }
    if (!holds(word)) {
        return std::optional<double>();
    }
    const auto result = value(word);
    if (!result) {
        return result.error();
    }
    return std::optional<double>(*result);
}

Result<Done> Parameters::check() const {
    for (const std::string& name : order_) {
        if (const auto worked_out = value(name); !worked_out) {
            return worked_out.error();
        }
    }
    return Done{};
}

std::vector<std::pair<std::string, std::string>> assignments(std::string_view text) {
    std::vector<std::pair<std::string, std::string>> pairs;
    std::size_t value_from = 0;
    int braces = 0;
    bool quote = false;
    const auto end_value = [&](std::size_t end) {
        std::string_view value = text.substr(value_from, end - value_from);
        while (!value.empty() && (is_blank(value.back()) || value.back() == ',')) {
            value.remove_suffix(1);
        }
        if (!pairs.empty()) {
            pairs.back().second = bare_expression(value);
        } else if (!bare_expression(value).empty()) {
            pairs.emplace_back("", value);
        }
    };
    for (std::size_t at = 0; at < text.size(); ++at) {
        braces += text[at] == '{' ? 1 : text[at] == '}' ? -1 : 0;
        quote = quote != (text[at] == '\'');
        if (text[at] != '=' || braces > 0 || quote) {
            continue;
        }
        std::size_t name_end = at;
        while (name_end > value_from && is_blank(text[name_end - 1])) {
            --name_end;
        }
        std::size_t name_from = name_end;
        while (name_from > value_from && is_name_char(text[name_from - 1])) {
            --name_from;
        }
        end_value(name_from);
        pairs.emplace_back(text.substr(name_from, name_end - name_from), "");
        value_from = at + 1;
    }
    end_value(text.size());
    return pairs;
}

std::string_view bare_expression(std::string_view text) {
    const auto trim = [&text] {
        while (!text.empty() && is_blank(text.front())) {
            text.remove_prefix(1);
        }
        while (!text.empty() && is_blank(text.back())) {
            text.remove_suffix(1);
        }
    };
    trim();
    const bool braced = text.size() >= 2 && text.front() == '{' && text.back() == '}';
    const bool in_quotes = text.size() >= 2 && text.front() == '\'' && text.back() == '\'';
    if ((braced || in_quotes) &&
        text.substr(1, text.size() - 2).find_first_of("{}'") == std::string_view::npos) {
        text = text.substr(1, text.size() - 2);
        trim();
    }
    return text;
}

} // namespace railside
