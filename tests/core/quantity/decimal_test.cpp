#include "core/quantity/decimal.h"

#include "support/catch.h"

#include <rapidcheck.h>

#include <array>
#include <bit>
#include <cmath>
#include <cstdint>
#include <cstdio>
#include <cstdlib>
#include <limits>
#include <string>

using namespace railside;

namespace {

constexpr double k_infinity = std::numeric_limits<double>::infinity();

// The second way: the C library's conversions, rounded right in glibc and musl. The tests run in
// the "C" locale.
double c_read(std::uint64_t digits, int exponent) {
    return std::strtod((std::to_string(digits) + "e" + std::to_string(exponent)).c_str(), nullptr);
}

Decimal c_round(double value, int count) {
    std::array<char, 64> text{};
    std::snprintf(text.data(), text.size(), "%.*e", count - 1, std::abs(value));
    const std::string s = text.data();
    const auto e = s.find('e');
    Decimal result;
    result.digits = s.substr(0, 1) + (count > 1 ? s.substr(2, e - 2) : "");
    result.exponent = value == 0 ? 0 : std::atoi(s.c_str() + e + 1);
    result.negative = value < 0;
    return result;
}

double any_finite_double() {
    const auto value = std::bit_cast<double>(*rc::gen::arbitrary<std::uint64_t>());
    return std::isfinite(value) ? value : 1.0;
}

double bench_double() {
    return std::ldexp(
        static_cast<double>(*rc::gen::inRange<std::int64_t>(1, std::int64_t{1} << 53)),
        *rc::gen::inRange(-110, 5));
}

} // namespace

TEST_CASE("decimal: hard cases of reading round right", "[core][quantity]") {
    // Known to defeat sloppy conversions: halfway cases and the borders of the subnormals (IEEE
    // 754-2019, 3.3).
    struct Row {
        std::uint64_t digits;
        int exponent;
        double value;
    };
    const Row rows[] = {
        {0, 0, 0.0},
        {1, 0, 1.0},
        {5, -324, std::numeric_limits<double>::denorm_min()},
        {2, -324, 0.0},
        {3, -324, std::numeric_limits<double>::denorm_min()},
        {22250738585072014U, -324, std::numeric_limits<double>::min()},
        {22250738585072011U, -324, 0x0.fffffffffffffp-1022},
        {17976931348623157U, 292, std::numeric_limits<double>::max()},
        {18U, 307, k_infinity},
        {9007199254740993U, 0, 9007199254740992.0}, // 2^53 + 1: a tie, to even
        {9007199254740995U, 0, 9007199254740996.0}, // 2^53 + 3: a tie, to even
        {1, 23, 1e23},
        {8, 22, 8e22},
        {1, -400, 0.0},
        {1, -2000000000, 0.0},
        {1, 2000000000, k_infinity},
        {std::numeric_limits<std::uint64_t>::max(), 0, 18446744073709551616.0},
    };
    for (const Row& row : rows) {
        CAPTURE(row.digits, row.exponent);
        CHECK(nearest_double(row.digits, row.exponent) == row.value);
    }
}

TEST_CASE("decimal: reading agrees with the C library for any digits and power",
          "[core][quantity]") {
    CHECK(rc::check("any 64-bit digits", [] {
        const auto digits = *rc::gen::arbitrary<std::uint64_t>() >> *rc::gen::inRange(0U, 64U);
        const int exponent = *rc::gen::inRange(-350, 320);
        RC_ASSERT(nearest_double(digits, exponent) == c_read(digits, exponent));
    }));
    CHECK(rc::check("the fast range and its borders", [] {
        const auto digits = *rc::gen::inRange<std::uint64_t>(1, std::uint64_t{1} << 54);
        const int exponent = *rc::gen::inRange(-25, 26);
        RC_ASSERT(nearest_double(digits, exponent) == c_read(digits, exponent));
    }));
}

TEST_CASE("decimal: rounding to digits agrees with the C library", "[core][quantity]") {
    CHECK(decimal_to_digits(0, 3) == Decimal{"000", 0, false});
    CHECK(decimal_to_digits(-0.0, 3) == Decimal{"000", 0, false});
    CHECK(decimal_to_digits(0.5, 1) == Decimal{"5", -1, false});
    CHECK(decimal_to_digits(2.5, 1) == Decimal{"2", 0, false}); // ties to even
    CHECK(decimal_to_digits(3.5, 1) == Decimal{"4", 0, false});
    CHECK(decimal_to_digits(-999.96, 3) == Decimal{"100", 3, true});
    CHECK(decimal_to_digits(1.005, 3) == Decimal{"100", 0, false}); // the double lies below 1.005
    CHECK(rc::check("any double", [] {
        const double value = any_finite_double();
        const int count = *rc::gen::inRange(1, 18);
        RC_ASSERT(decimal_to_digits(value, count) == c_round(value, count));
    }));
    CHECK(rc::check("short binary fractions, where ties happen", [] {
        const double value = std::ldexp(static_cast<double>(*rc::gen::inRange(-4096, 4097)),
                                        *rc::gen::inRange(-6, 3));
        const int count = *rc::gen::inRange(1, 5);
        RC_ASSERT(decimal_to_digits(value, count) == c_round(value, count));
    }));
}

TEST_CASE("decimal: rounding to a power of ten", "[core][quantity]") {
    CHECK(decimal_to_power(0, -2) == Decimal{});
    CHECK(decimal_to_power(12.3456, -2) == Decimal{"1235", 1, false});
    CHECK(decimal_to_power(12.3456, 0) == Decimal{"12", 1, false});
    CHECK(decimal_to_power(12.3456, 1) == Decimal{"1", 1, false});
    CHECK(decimal_to_power(12.3456, 2) == Decimal{});
    CHECK(decimal_to_power(50.1, 2) == Decimal{"1", 2, false});
    CHECK(decimal_to_power(50, 2) == Decimal{}); // a tie, to even
    CHECK(decimal_to_power(-9.99, -1) == Decimal{"100", 1, true});
    CHECK(decimal_to_power(4, -3) == Decimal{"4000", 0, false});
    CHECK(decimal_to_power(1e-9, 3) == Decimal{});
    CHECK(rc::check("fixed-point printing of the C library", [] {
        const double value = std::ldexp(static_cast<double>(*rc::gen::inRange(-400000, 400001)),
                                        *rc::gen::inRange(-12, 3));
        const int places = *rc::gen::inRange(0, 5);
        std::array<char, 64> text{};
        std::snprintf(text.data(), text.size(), "%.*f", places, std::abs(value));
        const Decimal decimal = decimal_to_power(value, -places);
        if (decimal.digits != "0") {
            RC_ASSERT(positional(decimal, 0, Grouping::none) == text.data());
        } else {
            RC_ASSERT(std::string(text.data()).find_first_not_of("0.") == std::string::npos);
        }
    }));
}

TEST_CASE("decimal: the shortest digits read back and none are spare", "[core][quantity]") {
    CHECK(shortest_decimal(0) == Decimal{});
    CHECK(shortest_decimal(0.1) == Decimal{"1", -1, false});
    CHECK(shortest_decimal(-0.22) == Decimal{"22", -1, true});
    CHECK(shortest_decimal(0.1 + 0.2) == Decimal{"30000000000000004", -1, false});
    CHECK(shortest_decimal(1e23) == Decimal{"1", 23, false});
    for (const auto& draw : {any_finite_double, bench_double}) {
        CHECK(rc::check("reads back", [draw] {
            const double value = draw();
            const Decimal decimal = shortest_decimal(value);
            const int count = static_cast<int>(decimal.digits.size());
            const auto back = c_read(std::stoull(decimal.digits), decimal.exponent - count + 1);
            RC_ASSERT(back == std::abs(value));
            if (count > 1) {
                const Decimal fewer = c_round(value, count - 1);
                RC_ASSERT(c_read(std::stoull(fewer.digits), fewer.exponent - count + 2) !=
                          std::abs(value));
            }
        }));
    }
}

TEST_CASE("decimal: written out with and without groups", "[core][quantity]") {
    const Decimal d{"12345", 4, false};
    CHECK(positional(d, 0, Grouping::none) == "12345");
    CHECK(positional(d, 0, Grouping::figures) == "12\u2009345");
    CHECK(positional(d, -1, Grouping::figures) == "1234.5");
    CHECK(positional(d, -1, Grouping::sentence) == "1\u2009234.5");
    CHECK(positional(d, 3, Grouping::figures) == "12\u2009345\u2009000");
    CHECK(positional(d, -5, Grouping::figures) == "0.12345");
    CHECK(positional(d, -5, Grouping::sentence) == "0.123\u200945");
    CHECK(positional(d, -6, Grouping::sentence) == "0.012\u2009345");
    CHECK(positional(d, -7, Grouping::none) == "0.0012345");
    CHECK(positional({"96", -2, false}, 0, Grouping::sentence) == "0.096");
    CHECK(positional({"960", -2, false}, 0, Grouping::sentence) == "0.0960");
    CHECK(positional({"000", 0, false}, 5, Grouping::none) == "0.00");
}
