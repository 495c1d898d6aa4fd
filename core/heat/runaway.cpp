#include "core/heat/runaway.h"

#include <algorithm>
#include <cmath>

namespace railside {

namespace {

constexpr double k_boltzmann_v_per_k = 8.617333e-5;
constexpr double k_zero_c_k = 273.15;

double thermal_v(const IdleLoop& loop) { return k_boltzmann_v_per_k * (loop.set_c + k_zero_c_k); }

double heat_w(const IdleLoop& loop, double idle_a) {
    return idle_a * (loop.rail_v - idle_a * loop.emitter_ohm);
}

/// The bias a current asks for beyond that of `cold_a`, less what its heat gives; it settles where
/// this is nought.
double lacking_v(const IdleLoop& loop, double cold_a, double idle_a) {
    return thermal_v(loop) * std::log(idle_a / cold_a) +
           (loop.emitter_ohm + loop.internal_ohm) * (idle_a - cold_a) -
           loop.warming_v_per_w * heat_w(loop, idle_a);
}

/// The current up to which lacking_v rises from zero current on: its first level place, or, where
/// it never turns, that at which the emitter resistor takes half the rail.
double turning_a(const IdleLoop& loop) {
    const double most_a = loop.rail_v / (2 * loop.emitter_ohm);
    // d/dI = V_T/I + R − W·(V_CC − 2·I·R_E): nought where q·I² + b·I + V_T is.
    const double q = 2 * loop.warming_v_per_w * loop.emitter_ohm;
    const double b = loop.emitter_ohm + loop.internal_ohm - loop.warming_v_per_w * loop.rail_v;
    const double below = b * b - 4 * q * thermal_v(loop);
    if (!(loop.warming_v_per_w > 0) || b >= 0 || below <= 0) {
        return most_a;
    }
    return std::min(most_a, 2 * thermal_v(loop) / (-b + std::sqrt(below)));
}

} // namespace

double warming_v_per_w(const HeatPath& path) {
    const double given_back = path.spreader_v_per_k * path.spreader_multiplier / 2 * path.tracking;
    return path.device_v_per_k *
               (path.junction_sink_k_per_w + (1 + path.driver_tracking) * path.sink_k_per_w) -
           given_back * path.sink_k_per_w;
}

double thermal_loop_gain(const IdleLoop& loop, double idle_a) {
    const double slope_w_per_a = loop.rail_v - 2 * idle_a * loop.emitter_ohm;
    return loop.warming_v_per_w * slope_w_per_a /
           (loop.emitter_ohm + loop.internal_ohm + thermal_v(loop) / idle_a);
}

std::optional<double> warm_idle_a(const IdleLoop& loop, double cold_a) {
    double low_a = cold_a;
    double high_a = cold_a;
    if (loop.warming_v_per_w <= 0) {
        while (lacking_v(loop, cold_a, low_a) > 0) {
            low_a /= 2;
        }
    } else {
        high_a = turning_a(loop);
        // Set where the loop gain is already past 1, or no current short of there balances.
        if (!(cold_a < high_a) || lacking_v(loop, cold_a, high_a) < 0) {
            return std::nullopt;
        }
    }
    for (int step = 0; step < 200 && high_a - low_a > 1e-10 * high_a; ++step) {
        const double middle_a = std::sqrt(low_a * high_a);
        (lacking_v(loop, cold_a, middle_a) < 0 ? low_a : high_a) = middle_a;
    }
    return std::sqrt(low_a * high_a);
}

double shifted_idle_a(const IdleLoop& loop, double idle_a, double extra_v) {
    // V_T·ln(I) + R·I rises with I: halve the stretch of its logarithm that surely holds it.
    const double ohm = loop.emitter_ohm + loop.internal_ohm;
    const auto over_v = [&](double log_part) {
        return thermal_v(loop) * log_part + ohm * idle_a * (std::exp(log_part) - 1) - extra_v;
    };
    double low = std::min(0.0, extra_v / thermal_v(loop));
    double high = std::max(0.0, extra_v / thermal_v(loop));
    for (int step = 0; step < 200 && high - low > 1e-11; ++step) {
        const double middle = (low + high) / 2;
        (over_v(middle) < 0 ? low : high) = middle;
    }
    return idle_a * std::exp((low + high) / 2);
}

double cold_idle_a(const IdleLoop& loop, double warm_a) {
    return shifted_idle_a(loop, warm_a, -loop.warming_v_per_w * heat_w(loop, warm_a));
}

std::optional<double> sink_limit_k_per_w(IdleLoop loop, HeatPath path, double cold_a) {
    constexpr double k_any_sink_k_per_w = 1e4;
    const auto settles = [&](double sink_k_per_w) {
        path.sink_k_per_w = sink_k_per_w;
        loop.warming_v_per_w = warming_v_per_w(path);
        return warm_idle_a(loop, cold_a).has_value();
    };
    if (settles(k_any_sink_k_per_w)) {
        return std::nullopt;
    }
    double low = 0;
    double high = k_any_sink_k_per_w;
    if (!settles(low)) {
        return 0;
    }
    while (high - low > 1e-7 * std::max(1.0, high)) {
        const double middle = (low + high) / 2;
        (settles(middle) ? low : high) = middle;
    }
    return (low + high) / 2;
}

} // namespace railside
