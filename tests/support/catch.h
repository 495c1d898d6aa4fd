// The one include of Catch2 for tests, whichever of v2 and v3 is installed, and how near two
// numbers have to be.
#pragma once

#if __has_include(<catch2/catch_all.hpp>)
#include <catch2/catch_all.hpp>
using Catch::Approx; // where v2 has it
#else
#include <catch2/catch.hpp>
#endif

#include <algorithm>
#include <cmath>

/// |a − b| is at most `rel` times the larger magnitude. Equal infinities are near; a NaN is near
/// nothing.
[[nodiscard]] inline bool near(double a, double b, double rel) {
    return a == b || (std::isfinite(a) && std::isfinite(b) &&
                      std::abs(a - b) <= rel * std::max(std::abs(a), std::abs(b)));
}

/// |a − b| is at most `abs`, in the unit of a and b. Equal infinities are near; a NaN is near
/// nothing.
[[nodiscard]] inline bool near_abs(double a, double b, double abs) {
    return a == b || (std::isfinite(a) && std::isfinite(b) && std::abs(a - b) <= abs);
}
