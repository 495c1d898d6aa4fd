#include "core/quantity/amount.h"

#include "core/quantity/decimal.h"
#include "core/quantity/refusal.h"
#include "core/quantity/value_code.h"
#include "core/words/words.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <optional>

namespace railside {
namespace {

constexpr double k_most_counts = 1e6;
constexpr std::string_view k_plus_minus = "\u00b1";
constexpr std::string_view k_thin_space = "\u2009";
constexpr std::string_view k_no_break_space = "\u00a0";

constexpr std::array<std::string_view, 9> k_count_words = {
    "counts", "count", "digits", "digit", "dgts", "dgt", "cts", "dig", "d"};
constexpr std::array<std::string_view, 4> k_reading_words = {"of reading", "reading", "of rdg",
                                                             "rdg"};

Amount around(double value, double half_width, Unit unit) {
    return {value, value - half_width, value + half_width, unit};
}

std::string_view trimmed(std::string_view text) {
    constexpr std::array<std::string_view, 4> k_spaces = {" ", "\t", k_thin_space,
                                                          k_no_break_space};
    for (bool again = true; again;) {
        again = false;
        for (const std::string_view space : k_spaces) {
            if (text.starts_with(space)) {
                text.remove_prefix(space.size());
                again = true;
            }
            if (text.ends_with(space)) {
                text.remove_suffix(space.size());
                again = true;
            }
        }
    }
    return text;
}

template <std::size_t N>
bool is_one_of(std::string_view word, const std::array<std::string_view, N>& words) {
    return std::find(words.begin(), words.end(), word) != words.end();
}

enum class TermKind {
    percent,
    counts,
    bare, // a number alone: counts, where a percentage came before it
};

struct Term {
    std::string_view number;
    TermKind kind = TermKind::bare;
};

std::optional<Term> split_term(std::string_view text) {
    text = trimmed(text);
    const std::size_t end = std::min(text.find_first_not_of("0123456789.,"), text.size());
    const std::string_view number = text.substr(0, end);
    std::string_view word = trimmed(text.substr(end));
    if (word.empty()) {
        return Term{number, TermKind::bare};
    }
    if (is_one_of(word, k_count_words)) {
        return Term{number, TermKind::counts};
    }
    if (word.starts_with('%')) {
        word = trimmed(word.substr(1));
        if (word.empty() || is_one_of(word, k_reading_words)) {
            return Term{number, TermKind::percent};
        }
    }
    return std::nullopt;
}

} // namespace

Amount with_tolerance(double value, double tolerance, Unit unit) {
    return around(value, std::abs(value) * tolerance, unit);
}

Amount with_accuracy(double value, double step, const MeterAccuracy& accuracy, Unit unit) {
    return around(value, std::abs(value) * accuracy.of_reading + step * accuracy.counts, unit);
}

Result<MeterAccuracy> parse_accuracy(std::string_view text, std::string_view field) {
    const auto refuse = [&](ErrorCode code, std::string_view reason) {
        return refusal(code, field,
                       worded("{} {}; write an accuracy as 0.5 % + 3 counts, 1 % or 3 counts.",
                              quoted(text), reason));
    };
    std::string_view rest = trimmed(text);
    for (const std::string_view sign :
         {k_plus_minus, std::string_view("+/-"), std::string_view("+-")}) {
        if (rest.starts_with(sign)) {
            rest.remove_prefix(sign.size());
            break;
        }
    }
    MeterAccuracy accuracy;
    bool has_percent = false;
    bool has_counts = false;
    for (bool last = false; !last;) {
        const std::size_t plus = rest.find('+');
        last = plus == std::string_view::npos;
        const auto term = split_term(rest.substr(0, plus));
        rest.remove_prefix(last ? rest.size() : plus + 1);
        if (!term) {
            return refuse(ErrorCode::bad_text, "is not an accuracy");
        }
        if (term->kind == TermKind::bare && !has_percent) {
            return refuse(ErrorCode::bad_text, "does not say whether it is percent or counts");
        }
        bool& seen = term->kind == TermKind::percent ? has_percent : has_counts;
        if (seen) {
            return refuse(ErrorCode::bad_text, "gives the same part twice");
        }
        seen = true;
        const Unit unit = term->kind == TermKind::percent ? Unit::percent : Unit::ratio;
        const auto number = parse_value(term->number, unit, field);
        if (!number) {
            return number.error();
        }
        (term->kind == TermKind::percent ? accuracy.of_reading : accuracy.counts) = number->value;
    }
    if (accuracy.of_reading > 1) {
        return refuse(ErrorCode::out_of_range, "is more than 100 % of the reading");
    }
    if (accuracy.counts > k_most_counts) {
        return refuse(ErrorCode::out_of_range, "is more than 1000000 counts");
    }
    return accuracy;
}

std::string print_accuracy(const MeterAccuracy& accuracy) {
    std::string text(k_plus_minus);
    if (accuracy.of_reading != 0 || accuracy.counts == 0) {
        text += print_exact(accuracy.of_reading, Unit::percent);
        text.append(k_thin_space).append("%");
    }
    if (accuracy.counts != 0) {
        text += accuracy.of_reading != 0 ? " + " : "";
        text += print_exact(accuracy.counts, Unit::ratio);
        text += accuracy.counts == 1 ? " count" : " counts";
    }
    return text;
}

} // namespace railside
