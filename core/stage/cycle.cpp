#include "core/stage/cycle.h"

#include <boost/math/quadrature/gauss.hpp>
#include <boost/math/tools/minima.hpp>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdint>
#include <numbers>

namespace railside {

namespace {

constexpr double k_pi = std::numbers::pi;
constexpr double k_half_pi = k_pi / 2;

double phase_rad(const DrivenStage& driven) { return std::abs(driven.phase_deg) * k_pi / 180; }

/// cos φ, free of the 6e-17 that a right angle leaves.
double power_factor(const DrivenStage& driven) {
    return std::abs(driven.phase_deg) >= 90 ? 0 : std::cos(phase_rad(driven));
}

/// Emitter current of one device of the + half at that load current.
double emitter_a(const DrivenStage& driven, double load_a) {
    return split_current(driven.stage, driven.idle_a, load_a).upper_a / driven.stage.pairs;
}

DevicePoint point_at(const DrivenStage& driven, double level_v, double angle) {
    const double load_a = level_v / driven.stage.load_ohm * std::sin(angle - phase_rad(driven));
    const double device_a = emitter_a(driven, load_a);
    const double collector_a = device_a * collector_share(driven.base, device_a);
    const double collector_v = driven.rail_v - driven.rail_ohm * driven.stage.pairs * collector_a -
                               level_v * std::sin(angle) - device_a * driven.stage.emitter_ohm;
    return {std::max(collector_v, 0.0), collector_a};
}

double heat_w(const DevicePoint& point) { return point.collector_v * point.collector_a; }

/// Means over the cycle of what one device carries; rails and phase do not enter.
struct Means {
    double collector_a = 0;       // i_C
    double with_load_a = 0;       // i_C·sin, sin that of the load current
    double emitter_collector = 0; // i_E·i_C
    double collector_squared = 0; // i_C²
};

void add(const DrivenStage& driven, double device_a, double sine, double weight, Means& means) {
    const double collector_a = device_a * collector_share(driven.base, device_a);
    means.collector_a += weight * collector_a;
    means.with_load_a += weight * collector_a * sine;
    means.emitter_collector += weight * device_a * collector_a;
    means.collector_squared += weight * collector_a * collector_a;
}

Means means_of(const DrivenStage& driven, double level_v) {
    const OutputStage& stage = driven.stage;
    const double peak_a = level_v / stage.load_ohm;
    Means means;
    // At angle u and −u of the load current the device carries the larger and the smaller current.
    const auto take = [&](double angle, double weight) {
        const double sine = std::sin(angle);
        const Split split = split_current(stage, driven.idle_a, peak_a * sine);
        add(driven, split.upper_a / stage.pairs, sine, weight / (2 * k_half_pi), means);
        add(driven, split.lower_a / stage.pairs, -sine, weight / (2 * k_half_pi), means);
    };
    const auto rule = [&](const auto& nodes, const auto& weights, auto&& part) {
        // The rules here have an even count: the nodes of one side, none in the middle.
        for (std::size_t i = 0; i < nodes.size(); ++i) {
            part((1 + nodes[i]) / 2, weights[i] / 2);
            part((1 - nodes[i]) / 2, weights[i] / 2);
        }
    };
    // Up to here the idle half still carries something; squared, so that the nodes crowd at zero.
    const double ohm = (stage.emitter_ohm + stage.internal_ohm) / stage.pairs;
    const double crossover_a =
        16 * thermal_voltage_v(stage.junction_c) / ohm + 4 * stage.pairs * driven.idle_a;
    const double border = crossover_a < peak_a ? std::asin(crossover_a / peak_a) : k_half_pi;
    using Fine = boost::math::quadrature::gauss<double, 20>;
    rule(Fine::abscissa(), Fine::weights(), [&](double part, double weight) {
        take(border * part * part, weight * border * 2 * part);
    });
    if (border < k_half_pi) {
        using Coarse = boost::math::quadrature::gauss<double, 10>;
        const double rest = k_half_pi - border;
        rule(Coarse::abscissa(), Coarse::weights(),
             [&](double part, double weight) { take(border + rest * part, weight * rest); });
    }
    return means;
}

/// The extreme of the mean heat within a stretch: a coarse look, then Brent's search round the best
/// of it. `sign` 1 seeks the hottest, −1 the coolest.
HeatAtLevel extreme(const DrivenStage& driven, double low_v, double high_v, int sign) {
    constexpr int k_looks = 8;
    std::array<double, k_looks + 1> seen{};
    const auto level_at = [&](double part) { return low_v + (high_v - low_v) * part; };
    int best = 0;
    for (int look = 0; look <= k_looks; ++look) {
        seen[look] = sign * average_heat_w(driven, level_at(static_cast<double>(look) / k_looks));
        best = seen[look] > seen[best] ? look : best;
    }
    HeatAtLevel found{level_at(static_cast<double>(best) / k_looks), sign * seen[best]};
    if (low_v < high_v) {
        constexpr int k_bits = 14;
        std::uintmax_t most_steps = 20;
        const auto [level_v, lacking_w] = boost::math::tools::brent_find_minima(
            [&](double level) { return -sign * average_heat_w(driven, level); },
            level_at(std::max(best - 1, 0) / static_cast<double>(k_looks)),
            level_at(std::min(best + 1, k_looks) / static_cast<double>(k_looks)), k_bits,
            most_steps);
        if (-lacking_w > sign * found.average_w) {
            found = {level_v, -sign * lacking_w};
        }
    }
    return found;
}

} // namespace

double collector_share(const BaseShare& base, double emitter_a) {
    return std::isinf(base.gain) ? 1 : base.gain / (base.gain + 1 + emitter_a / base.knee_a);
}

double average_heat_w(const DrivenStage& driven, double level_v) {
    const Means means = means_of(driven, level_v);
    return driven.rail_v * means.collector_a - level_v * power_factor(driven) * means.with_load_a -
           driven.stage.emitter_ohm * means.emitter_collector -
           driven.rail_ohm * driven.stage.pairs * means.collector_squared;
}

DeviceCycle device_cycle(const DrivenStage& driven, double level_v, int steps) {
    DeviceCycle cycle;
    cycle.level_v = level_v;
    cycle.average_w = average_heat_w(driven, level_v);
    cycle.line.reserve(2 * static_cast<std::size_t>(steps) + 1);
    const auto angle_at = [steps](int step) { return -k_half_pi + k_pi * step / steps; };
    int hottest = 0;
    for (int step = 0; step <= 2 * steps; ++step) {
        cycle.line.push_back(point_at(driven, level_v, angle_at(step)));
        if (heat_w(cycle.line.back()) > heat_w(cycle.line[static_cast<std::size_t>(hottest)])) {
            hottest = step;
        }
    }
    constexpr int k_bits = 20;
    const auto [angle, lacking_w] = boost::math::tools::brent_find_minima(
        [&](double at) { return -heat_w(point_at(driven, level_v, at)); }, angle_at(hottest - 1),
        angle_at(hottest + 1), k_bits);
    cycle.peak = point_at(driven, level_v, angle);
    cycle.peak_w = -lacking_w;
    if (const DevicePoint& seen = cycle.line[static_cast<std::size_t>(hottest)];
        heat_w(seen) > cycle.peak_w) {
        cycle.peak = seen;
        cycle.peak_w = heat_w(seen);
    }
    return cycle;
}

HeatRange heat_range(const DrivenStage& driven, double low_v, double high_v) {
    return {extreme(driven, low_v, high_v, -1), extreme(driven, low_v, high_v, 1)};
}

HeatAtLevel worst_level(const DrivenStage& driven, double clip_v) {
    return extreme(driven, 0, clip_v, 1);
}

} // namespace railside
