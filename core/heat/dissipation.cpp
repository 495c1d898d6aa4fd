#include "core/heat/dissipation.h"

#include <boost/math/tools/minima.hpp>

#include <algorithm>
#include <cmath>
#include <numbers>

namespace railside {

namespace {

constexpr double k_pi = std::numbers::pi;

double phase_rad(const ClassB& output) { return std::abs(output.phase_deg) * k_pi / 180; }

/// cos φ, free of the 6e-17 that a right angle leaves.
double power_factor(const ClassB& output) {
    return std::abs(output.phase_deg) >= 90 ? 0 : std::cos(phase_rad(output));
}

} // namespace

double class_b_heat_w(const ClassB& output, double level_v) {
    const double share_ohm = output.emitter_ohm / output.pairs;
    const double peak_a = level_v / output.load_ohm;
    const double half_w = output.rail_v * peak_a / k_pi -
                          level_v * peak_a * power_factor(output) / 4 -
                          share_ohm * peak_a * peak_a / 4;
    return half_w / output.pairs;
}

LevelHeat class_b_worst(const ClassB& output, double clip_v) {
    const double fall = power_factor(output) + output.emitter_ohm / output.pairs / output.load_ohm;
    const double free_v = 2 * output.rail_v / (k_pi * fall);
    const double level_v = fall > 0 ? std::min(clip_v, free_v) : clip_v;
    return {level_v, class_b_heat_w(output, level_v)};
}

PeakHeat class_b_peak(const ClassB& output, double level_v) {
    const double phase = phase_rad(output);
    const double share_ohm = output.emitter_ohm / output.pairs;
    const auto point = [&](double angle) {
        const double half_a = level_v / output.load_ohm * std::max(std::sin(angle - phase), 0.0);
        const double collector_v = output.rail_v - level_v * std::sin(angle) - share_ohm * half_a;
        return DevicePoint{std::max(collector_v, 0.0), half_a / output.pairs};
    };
    const auto lacking_w = [&](double angle) {
        const DevicePoint at = point(angle);
        return -at.collector_v * at.collector_a;
    };
    // With the output past its top the device carries the lagging current at more volts than on the
    // way up, so the greatest heat lies there; the product has a single top in that stretch.
    constexpr int k_bits = 40;
    const auto [angle, least] =
        boost::math::tools::brent_find_minima(lacking_w, k_pi / 2, k_pi + phase, k_bits);
    return {-least, point(angle)};
}

} // namespace railside
