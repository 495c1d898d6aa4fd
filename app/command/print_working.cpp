#include "app/command/print_working.h"

#include "app/command/text_layout.h"
#include "core/quantity/value_code.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace railside {

namespace {

// More than anybody types: nothing is rounded away.
constexpr int k_every_digit = 15;

std::string_view origin_words(Origin from) {
    switch (from) {
    case Origin::typed:
        return "given";
    case Origin::measured:
        return "reading";
    case Origin::job:
        return "from the sheet";
    case Origin::by_default:
        return "usual"; // beside "given"; a longer word would be wrapped away from its row
    case Origin::table:
        return "from the table";
    }
    return "";
}

std::string range_of(const Amount& amount) {
    return amount.low < amount.high ? print_range(amount.low, amount.high, amount.unit, 3)
                                    : std::string();
}

/// With the digits it was typed with.
std::string value_of(const Field& field, const Input& input) {
    if (field.kind == FieldKind::choice) {
        for (const Choice& choice : field.choices)
            if (choice.key == input.word)
                return std::string(choice.label);
        return input.word;
    }
    if (field.kind != FieldKind::amount)
        return input.word;
    if (is_open(field, input.amount))
        return "OL";
    const auto typed = parse_value(input.text, field.unit, field.label);
    if (typed && typed->value == input.amount.value)
        return print_value(typed->value, field.unit, std::clamp(typed->digits, 1, k_every_digit));
    return print_short(input.amount.value, field.unit, k_every_digit);
}

std::string capitals(std::string text) {
    std::transform(text.begin(), text.end(), text.begin(), [](char c) {
        return c >= 'a' && c <= 'z' ? static_cast<char>(c - 'a' + 'A') : c;
    });
    return text;
}

std::vector<std::string> figure_row(const Figure& figure) {
    const Amount& amount = figure.amount;
    const bool count = amount.unit == Unit::ratio && amount.low == amount.high &&
                       amount.value == std::floor(amount.value);
    return {figure.label, figure.symbol,
            count ? print_short(amount.value, amount.unit, k_every_digit)
                  : print_value(amount.value, amount.unit, 3),
            range_of(amount)};
}

/// The rows in columns; where the last column would be squeezed its words stand under the row.
std::string table_text(const OutcomeTable& table) {
    constexpr std::size_t k_indent = 4;
    constexpr std::size_t k_least_last = 24;
    std::vector<std::vector<std::string>> rows{table.columns};
    rows.insert(rows.end(), table.rows.begin(), table.rows.end());
    std::vector<std::size_t> widths(table.columns.size(), 0);
    for (const std::vector<std::string>& row : rows)
        for (std::size_t i = 0; i < row.size() && i < widths.size(); ++i)
            widths[i] = std::max(widths[i], text_columns(row[i]));
    std::size_t before = k_indent;
    for (std::size_t i = 0; i + 1 < widths.size(); ++i)
        before += widths[i] + 2;
    const bool under =
        widths.size() > 2 && before + std::min(widths.back(), k_least_last) > k_line_columns;
    if (!under) {
        TextTable columns;
        for (std::vector<std::string>& row : rows)
            columns.add(std::move(row));
        return columns.text(k_indent);
    }
    std::string text;
    for (const std::vector<std::string>& row : rows) {
        std::string line(k_indent, ' ');
        for (std::size_t i = 0; i + 1 < row.size(); ++i) {
            line += row[i];
            line.append(widths[i] - text_columns(row[i]) + 2, ' ');
        }
        line.erase(line.find_last_not_of(' ') + 1);
        text += line + '\n';
        if (!row.back().empty())
            text += wrapped_text(row.back(), "        ");
    }
    return text;
}

} // namespace

std::string option_of(const Field& field) {
    std::string name = fmt::format("--{}", field.key);
    std::replace(name.begin(), name.end(), '_', '-');
    return name;
}

std::string default_text(const Field& field) {
    if (field.by_default.empty())
        return {};
    for (const Choice& choice : field.choices)
        if (choice.key == field.by_default)
            return std::string(choice.label);
    if (field.kind == FieldKind::amount && field.spread == Spread::tolerance)
        return fmt::format("{}, \u00b1{}", field.by_default,
                           print_short(field.default_spread, Unit::percent));
    return std::string(field.by_default);
}

std::string outcome_text(const Working& working, const Inputs& inputs, const Outcome& outcome,
                         std::string_view title) {
    std::string text = wrapped_text(title, "");
    text += wrapped_text(working.question, "");

    TextTable given;
    std::vector<std::string> unusual;
    for (const Field& field : working.fields) {
        const auto held = inputs.find(field.key);
        if (held == inputs.end())
            continue;
        const Input& input = held->second;
        const bool amount = field.kind == FieldKind::amount;
        given.add({std::string(field.label), std::string(field.symbol), value_of(field, input),
                   amount ? range_of(input.amount) : std::string(),
                   std::string(origin_words(input.from))});
        if (std::string reason = amount ? unusual_reason(field, input.amount.value) : std::string();
            !reason.empty())
            unusual.push_back(std::move(reason));
    }
    text += '\n' + given.text(2);
    for (const std::string& reason : unusual)
        text += wrapped_text(reason, "  ? ");

    text += '\n';
    if (!outcome.figures.empty()) {
        TextTable headline;
        std::vector<std::string> row = figure_row(outcome.figures.front());
        if (outcome.headline_note.find(row.back()) != std::string::npos)
            row.pop_back(); // the note says the range already
        headline.add(std::move(row));
        text += headline.text(2);
        if (!outcome.headline_note.empty())
            text += wrapped_text(outcome.headline_note, "  ");
    }
    text += wrapped_text(
        fmt::format("{}. {}", capitals(outcome.verdict.word), outcome.verdict.reason), "  ");

    if (outcome.figures.size() > 1) {
        TextTable figures;
        for (std::size_t i = 1; i < outcome.figures.size(); ++i)
            figures.add(figure_row(outcome.figures[i]));
        text += '\n' + figures.text(2);
    }
    for (const OutcomeTable& table : outcome.tables)
        text += '\n' + wrapped_text(table.title, "  ") + table_text(table);
    if (!outcome.notes.empty() || !outcome.cautions.empty())
        text += '\n';
    for (const std::string& note : outcome.notes)
        text += wrapped_text(note, "  - ");
    for (const std::string& caution : outcome.cautions)
        text += wrapped_text(caution, "  ! Caution: ");
    return text;
}

} // namespace railside
