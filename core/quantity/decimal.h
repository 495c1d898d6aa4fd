// Exact conversion between doubles and decimal digits, free of any locale.
//
// Both directions work on whole numbers of any length, so every result is the nearest there is: a
// double is m·2^e, and m·5^(−e) (or m·2^e) has its decimal digits; a decimal D·10^E is divided out
// bit by bit. Where D < 2^53 and |E| <= 22 both are exact doubles and one multiplication or
// division rounds right (W. D. Clinger, "How to read floating point numbers accurately", PLDI
// 1990). Ties go to even (IEEE 754-2019, 4.3.1).
#pragma once

#include <cstdint>
#include <string>

namespace railside {

/// 0.d1d2d3... written as digits with the power of ten of the first: "1234" with exponent 1
/// is 12.34.
struct Decimal {
    std::string digits = "0"; // at least one; the first is not '0' unless the number is zero
    int exponent = 0;         // 0 for zero
    bool negative = false;    // never for zero

    friend bool operator==(const Decimal&, const Decimal&) = default;
};

/// The double nearest to digits·10^exponent, infinity when too large, zero or a subnormal when too
/// small.
[[nodiscard]] double nearest_double(std::uint64_t digits, int exponent);

/// `value` (finite) to exactly `count` significant digits, 1 to 17, trailing zeros kept.
[[nodiscard]] Decimal decimal_to_digits(double value, int count);

/// `value` (finite) to a multiple of 10^power; "0" when it rounds to nothing. Trailing zeros down
/// to 10^power are kept.
[[nodiscard]] Decimal decimal_to_power(double value, int power);

/// The fewest digits, at most 17, whose nearest double is `value` (finite).
[[nodiscard]] Decimal shortest_decimal(double value);

/// Where thin spaces (U+2009) part the digits into threes.
enum class Grouping {
    none,
    figures,  // whole part from five digits up: "12 345" but "1500"
    sentence, // whole part from four digits up, decimals from five: "4 700", "0.000 003 3"
};

/// Written out without an exponent, times 10^shift, magnitude only: "0.0123", "12300".
[[nodiscard]] std::string positional(const Decimal& decimal, int shift, Grouping grouping);

} // namespace railside
