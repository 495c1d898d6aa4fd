// One root of a continuous function between two points, by Boost's TOMS 748 (Alefeld, Potra and
// Shi, ACM Transactions on Mathematical Software 21, 1995).
#pragma once

#include <boost/math/tools/roots.hpp>

#include <cstdint>

namespace railside {

/// Where f changes its sign between `low` and `high`, to about 1e-12 of the value. Without a change
/// of sign the end where f is nearer to zero.
template <class F> [[nodiscard]] double root_between(F&& f, double low, double high) {
    const double at_low = f(low);
    const double at_high = f(high);
    if (at_low == 0 || at_high == 0 || (at_low > 0) == (at_high > 0)) {
        const auto size = [](double x) { return x < 0 ? -x : x; };
        return size(at_low) <= size(at_high) ? low : high;
    }
    std::uintmax_t most = 60;
    const auto ends = boost::math::tools::toms748_solve(
        f, low, high, at_low, at_high, boost::math::tools::eps_tolerance<double>(40), most);
    return (ends.first + ends.second) / 2;
}

} // namespace railside
