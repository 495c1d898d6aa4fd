// Interval arithmetic on plain SI doubles: a value with the lowest and highest it can be.
//
// Every operation takes the extremes over the ends of its operands, which is exact for + − · / and
// for any function that is monotone in each argument (Moore, Kearfott, Cloud, "Introduction to
// Interval Analysis", SIAM 2009, chapters 2 and 5). Operands are taken as independent, so x − x is
// wider than zero: an interval is never too narrow. Round-to-nearest keeps order, so low <= value
// <= high holds in every result. A NaN anywhere makes all three NaN.
#pragma once

#include "core/quantity/amount.h"
#include "core/result.h"

#include <array>
#include <cmath>
#include <cstddef>
#include <limits>
#include <utility>

namespace railside {

/// low <= value <= high, SI units.
struct Interval {
    double low = 0;
    double value = 0;
    double high = 0;

    [[nodiscard]] static constexpr Interval exact(double value) { return {value, value, value}; }
    [[nodiscard]] static constexpr Interval from(const Amount& amount) {
        return {amount.low, amount.value, amount.high};
    }

    friend bool operator==(const Interval&, const Interval&) = default;
};

[[nodiscard]] constexpr Amount to_amount(const Interval& interval, Unit unit) {
    return {interval.value, interval.low, interval.high, unit};
}

/// The smallest interval round `value` that holds all of `ends`; all NaN when any of them is.
template <std::size_t N>
[[nodiscard]] Interval interval_around(double value, const std::array<double, N>& ends) {
    Interval result = Interval::exact(value);
    for (const double end : ends) {
        if (std::isnan(end) || std::isnan(value)) {
            return Interval::exact(std::numeric_limits<double>::quiet_NaN());
        }
        result.low = end < result.low ? end : result.low;
        result.high = end > result.high ? end : result.high;
    }
    return result;
}

[[nodiscard]] inline Interval operator-(const Interval& a) { return {-a.high, -a.value, -a.low}; }
[[nodiscard]] inline Interval operator+(const Interval& a, const Interval& b) {
    return interval_around<2>(a.value + b.value, {a.low + b.low, a.high + b.high});
}
[[nodiscard]] inline Interval operator-(const Interval& a, const Interval& b) {
    return interval_around<2>(a.value - b.value, {a.low - b.high, a.high - b.low});
}
[[nodiscard]] inline Interval operator*(const Interval& a, const Interval& b) {
    return interval_around<4>(a.value * b.value,
                              {a.low * b.low, a.low * b.high, a.high * b.low, a.high * b.high});
}
[[nodiscard]] inline Interval operator*(const Interval& a, double factor) {
    return a * Interval::exact(factor);
}
[[nodiscard]] inline Interval operator*(double factor, const Interval& a) {
    return a * Interval::exact(factor);
}

/// Errors: contradictory when the divisor's interval holds zero (or is NaN).
[[nodiscard]] inline Result<Interval> operator/(const Interval& a, const Interval& b) {
    if (!(b.low > 0 || b.high < 0)) {
        return Error{
            ErrorCode::contradictory, "divisor",
            "The value to divide by may be zero within its tolerance, so there is no answer."};
    }
    return interval_around<4>(a.value / b.value,
                              {a.low / b.low, a.low / b.high, a.high / b.low, a.high / b.high});
}

/// The interval of f(x, y, ...) for an f that is monotone (rising or falling) in each argument;
/// calls f at the values and at all 2^n corners.
template <class F, class... Intervals>
[[nodiscard]] Interval monotone(F&& f, const Intervals&... arguments) {
    constexpr std::size_t n = sizeof...(Intervals);
    const std::array<Interval, n> held = {arguments...};
    const auto call = [&]<std::size_t... I>(std::size_t corner, std::index_sequence<I...>) {
        return static_cast<double>(f(((corner >> I) & 1U ? held[I].high : held[I].low)...));
    };
    std::array<double, std::size_t{1} << n> ends{};
    for (std::size_t corner = 0; corner < ends.size(); ++corner) {
        ends[corner] = call(corner, std::make_index_sequence<n>{});
    }
    return interval_around(static_cast<double>(f(arguments.value...)), ends);
}

/// The smallest interval that holds both; the value is that of `a`.
[[nodiscard]] inline Interval hull(const Interval& a, const Interval& b) {
    return interval_around<2>(a.value,
                              {a.low < b.low ? a.low : b.low, a.high > b.high ? a.high : b.high});
}

/// Both ends belong to the interval.
[[nodiscard]] inline bool contains(const Interval& interval, double x) {
    return interval.low <= x && x <= interval.high;
}

[[nodiscard]] inline double width(const Interval& interval) { return interval.high - interval.low; }

/// Where an interval lies against a window. Straddling a limit is at that edge, never inside.
enum class Placement {
    below,        // all of it under the low limit
    at_low_edge,  // on both sides of the low limit
    inside,       // all of it within the window, limits included
    at_high_edge, // on both sides of the high limit
    above,        // all of it over the high limit
};

/// `low` <= `high`; an infinite one is a limit that is not there. An interval that straddles both
/// limits is at the edge nearer to its value; one that is NaN is at the low edge, so that it is
/// never inside.
[[nodiscard]] inline Placement place(const Interval& interval, double low, double high) {
    if (interval.high < low) {
        return Placement::below;
    }
    if (interval.low > high) {
        return Placement::above;
    }
    const bool over_low = interval.low >= low;
    const bool under_high = interval.high <= high;
    if (over_low && under_high) {
        return Placement::inside;
    }
    if (over_low) {
        return Placement::at_high_edge;
    }
    if (under_high) {
        return Placement::at_low_edge;
    }
    return std::abs(interval.value - high) < std::abs(interval.value - low)
               ? Placement::at_high_edge
               : Placement::at_low_edge;
}

} // namespace railside
