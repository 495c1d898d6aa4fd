// The printing half of value_code.h, and plain numbers from files.
#include "core/quantity/value_code.h"

#include "core/quantity/ascii.h"
#include "core/quantity/decimal.h"
#include "core/quantity/refusal.h"
#include "core/words/words.h"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <limits>

namespace railside {
namespace {

constexpr std::string_view k_thin_space = "\u2009";
constexpr std::string_view k_minus = "\u2212";
constexpr std::string_view k_en_dash = "\u2013";

constexpr int k_most_digits = 15;
constexpr int k_most_plain_digits = 17; // enough to tell any two doubles apart
constexpr int k_most_plain_exponent = 99999;

const Prefix k_no_prefix = {"", "", 0};

/// The power of ten from the SI value to what is shown without a prefix.
int shown_shift(Unit unit) { return unit == Unit::percent ? 2 : 0; }

bool is_nought(const Decimal& decimal) { return decimal.digits[0] == '0'; }

/// One to three digits before the mark where the unit has such a prefix. Chosen after rounding, so
/// that 999.96 carries.
const Prefix& engineering_prefix(const Decimal& decimal, Unit unit) {
    // The trade writes 0.22 Ω, not 220 mΩ.
    if (is_nought(decimal) ||
        (unit == Unit::ohm && decimal.exponent >= -1 && decimal.exponent < 3)) {
        return k_no_prefix;
    }
    const auto prefixes = unit_info(unit).prefixes;
    const Prefix* best = &prefixes.front();
    for (const Prefix& prefix : prefixes) {
        if (prefix.exponent <= decimal.exponent) {
            best = &prefix;
        }
    }
    return *best;
}

void append_unit(std::string& text, const Prefix& prefix, Unit unit) {
    const std::string_view symbol = unit_info(unit).symbol;
    if (symbol.empty() && prefix.letter.empty()) {
        return;
    }
    if (unit != Unit::degree) { // SI brochure, 5.4.3: a space before every unit but ° ′ ″
        text += k_thin_space;
    }
    text += prefix.letter;
    text += symbol;
}

std::string not_finite(double value) {
    if (std::isnan(value)) {
        return worded("not a number");
    }
    return (value < 0 ? std::string(k_minus) : std::string()) + worded("infinite");
}

std::string figure(const Decimal& decimal, const Prefix& prefix, Unit unit) {
    return (decimal.negative ? std::string(k_minus) : std::string()) +
           positional(decimal, shown_shift(unit) - prefix.exponent, Grouping::figures);
}

std::string print_decimal(const Decimal& decimal, Unit unit) {
    const Prefix& prefix = engineering_prefix(decimal, unit);
    std::string text = figure(decimal, prefix, unit);
    append_unit(text, prefix, unit);
    return text;
}

void drop_trailing_noughts(Decimal& decimal) {
    decimal.digits.resize(std::max<std::size_t>(decimal.digits.find_last_not_of('0') + 1, 1));
}

} // namespace

std::string print_value(double value, Unit unit, int digits) {
    if (!std::isfinite(value)) {
        return not_finite(value);
    }
    return print_decimal(decimal_to_digits(value, std::clamp(digits, 1, k_most_digits)), unit);
}

std::string print_short(double value, Unit unit, int digits) {
    if (!std::isfinite(value)) {
        return not_finite(value);
    }
    Decimal decimal = decimal_to_digits(value, std::clamp(digits, 1, k_most_digits));
    drop_trailing_noughts(decimal);
    return print_decimal(decimal, unit);
}

std::string print_exact(double value, Unit unit) {
    if (!std::isfinite(value)) {
        return std::isnan(value) ? "not a number" : value < 0 ? "-infinite" : "infinite";
    }
    const Decimal decimal = shortest_decimal(value);
    const Prefix& prefix = engineering_prefix(decimal, unit);
    std::string text(decimal.negative ? "-" : "");
    text += positional(decimal, shown_shift(unit) - prefix.exponent, Grouping::none);
    return text.append(prefix.exponent == -6 ? "u" : prefix.letter);
}

std::string print_code(double value, Unit unit) {
    if (!std::isfinite(value) || (unit != Unit::ohm && unit != Unit::farad)) {
        return print_exact(value, unit);
    }
    const Decimal decimal = shortest_decimal(value);
    const int at = decimal.exponent;
    std::string_view letter;
    int exponent = 0;
    if (unit == Unit::ohm) {
        // R down to 0R01, then milliohms.
        exponent = is_nought(decimal) ? 0 : at >= 6 ? 6 : at >= 3 ? 3 : at >= -2 ? 0 : -3;
        letter = exponent == 6 ? "M" : exponent == 3 ? "k" : exponent == 0 ? "R" : "L";
    } else {
        exponent = is_nought(decimal) ? -12 : at >= -3 ? -3 : at >= -6 ? -6 : at >= -9 ? -9 : -12;
        letter = exponent == -3 ? "m" : exponent == -6 ? "u" : exponent == -9 ? "n" : "p";
    }
    const std::string number = positional(decimal, -exponent, Grouping::none);
    const std::size_t mark = std::min(number.find('.'), number.size());
    std::string text(decimal.negative ? k_minus : "");
    text.append(number, 0, mark).append(letter);
    if (mark < number.size()) {
        text.append(number, mark + 1);
    } else if (mark == 1 && !is_nought(decimal)) {
        // One digit alone would be too easily lost beside its letter: 1M0, but 47k and 470R.
        text += '0';
    }
    return text;
}

std::string print_range(double low, double high, Unit unit, int digits) {
    if (!std::isfinite(low) || !std::isfinite(high)) {
        return worded("{} to {}", print_value(low, unit, digits), print_value(high, unit, digits));
    }
    const int count = std::clamp(digits, 1, k_most_digits);
    const Decimal larger = decimal_to_digits(std::abs(low) > std::abs(high) ? low : high, count);
    const Prefix& prefix = engineering_prefix(larger, unit);
    const int place = larger.exponent - count + 1;
    const int decimals = std::max(prefix.exponent - shown_shift(unit) - place, 0);

    const auto end = [&](double value) {
        std::string text = figure(decimal_to_power(value, place), prefix, unit);
        const std::size_t mark = text.find('.');
        if (mark == std::string::npos && decimals > 0) { // nought
            text.append(1, '.').append(static_cast<std::size_t>(decimals), '0');
        }
        return text;
    };
    const std::string first = end(low);
    const std::string last = end(high);
    std::string text = first;
    if (first != last) {
        // A dash beside a minus sign reads as two of either.
        const bool any_minus = first.starts_with(k_minus) || last.starts_with(k_minus);
        text = any_minus ? worded("{} to {}", first, last) : first + std::string(k_en_dash) + last;
    }
    append_unit(text, prefix, unit);
    return text;
}

Result<double> parse_plain_number(std::string_view text, std::string_view field) {
    const auto refuse = [&](ErrorCode code, const char* reason) {
        return refusal(
            code, field,
            worded("{} {}; a plain number is written as -12.5 or 1.25e-3.", quoted(text), reason));
    };
    std::size_t at = 0;
    const auto here = [&] { return at < text.size() ? text[at] : '\0'; };
    const auto sign = [&] {
        const bool negative = here() == '-';
        at += negative || here() == '+' ? 1 : 0;
        return negative;
    };

    const bool negative = sign();
    std::uint64_t significand = 0;
    int significant = 0;
    std::int64_t exponent = 0;
    int noughts = 0; // held back: they count only when another digit follows
    bool too_many = false;
    const auto take_digits = [&](int per_digit) {
        const std::size_t start = at;
        for (; is_digit(here()); ++at) {
            exponent += per_digit;
            if (here() == '0') {
                noughts += significant > 0 ? 1 : 0;
                continue;
            }
            significant += noughts + 1;
            too_many = too_many || significant > k_most_plain_digits;
            for (; !too_many && noughts > 0; --noughts) {
                significand *= 10;
            }
            noughts = 0;
            significand =
                too_many ? 0 : significand * 10 + static_cast<std::uint64_t>(here() - '0');
        }
        return at > start;
    };
    bool well_formed = take_digits(0);
    if (well_formed && here() == '.') {
        ++at;
        well_formed = take_digits(-1);
    }
    exponent += noughts;
    if (well_formed && (here() == 'e' || here() == 'E')) {
        ++at;
        const bool below = sign();
        const std::size_t start = at;
        int power = 0;
        for (; is_digit(here()); ++at) {
            power = std::min(power * 10 + (here() - '0'), k_most_plain_exponent);
        }
        well_formed = at > start;
        exponent += below ? -power : power;
    }
    if (!well_formed || at != text.size()) {
        return refuse(ErrorCode::bad_text, "is not a plain number");
    }
    if (too_many) {
        return refuse(ErrorCode::bad_text, "has more than 17 significant digits");
    }
    const double magnitude = nearest_double(
        significand, static_cast<int>(std::clamp<std::int64_t>(exponent, -100000, 100000)));
    if (magnitude > std::numeric_limits<double>::max()) {
        return refuse(ErrorCode::out_of_range, "is larger than any number that can be held");
    }
    return negative ? -magnitude : magnitude;
}

} // namespace railside
