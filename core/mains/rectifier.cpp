#include "core/mains/rectifier.h"

#include "core/mains/root.h"

#include <algorithm>
#include <cmath>

namespace railside {

namespace {

constexpr double k_pi = 3.14159265358979323846;
constexpr double k_junctions_conduct_v = 1;

} // namespace

Conduction conduction(const Rectifier& rectifier, double rail_v) {
    const double level = (rail_v + rectifier.drop_v) / rectifier.peak_v;
    if (!(level < 1)) {
        return {};
    }
    const double cosine = std::max(level, 0.0);
    const double theta = std::acos(cosine);
    const double sine = std::sqrt((1 - cosine) * (1 + cosine));
    // Near the peak both brackets are small differences of like terms: their series there.
    const double short_angle = theta * theta * theta;
    const double mean =
        theta < 1e-2 ? short_angle / 3 * (1 - theta * theta / 10) : sine - theta * cosine;
    const double square =
        theta < 1e-2 ? short_angle * theta * theta / 15 * 2
                     : theta / 2 + sine * cosine / 2 - 2 * sine * cosine + theta * cosine * cosine;
    const double peak_a = rectifier.peak_v / rectifier.source_ohm;
    return {theta, 2 / k_pi * peak_a * std::max(mean, 0.0),
            peak_a * std::sqrt(2 / k_pi * std::max(square, 0.0))};
}

double demand_a(const Demand& demand, double rail_v) {
    if (rail_v <= 0) {
        return 0;
    }
    const double least_v = std::min(k_junctions_conduct_v, demand.rail_v);
    const double at_v = std::max(rail_v, least_v);
    const double current_a = demand.current_a * std::pow(at_v / demand.rail_v, demand.power);
    return rail_v < least_v ? current_a * rail_v / least_v : current_a;
}

double rail_volts(const Rectifier& rectifier, const Demand& demand, double start_v) {
    const double most_v = rectifier.peak_v - rectifier.drop_v;
    if (!(most_v > 0)) {
        return 0;
    }
    // Newton's steps, for the slope is known (dI_dc/dV = −2·theta/(pi·R_s)) and this is the
    // innermost loop; halving where a step leaves the bracket.
    double low_v = 0;
    double high_v = most_v;
    double rail_v = start_v > low_v && start_v < high_v ? start_v : 0.9 * most_v;
    constexpr int k_most_steps = 100;
    for (int i = 0; i < k_most_steps; ++i) {
        const Conduction given = conduction(rectifier, rail_v);
        const double taken_a = demand_a(demand, rail_v);
        const double excess_a = given.dc_a - taken_a;
        (excess_a > 0 ? low_v : high_v) = rail_v;
        const double taken_slope =
            rail_v > k_junctions_conduct_v ? demand.power * taken_a / rail_v : taken_a / rail_v;
        const double slope = -2 * given.angle_rad / (k_pi * rectifier.source_ohm) - taken_slope;
        double next_v = slope < 0 ? rail_v - excess_a / slope : low_v;
        if (!(next_v > low_v && next_v < high_v)) {
            next_v = (low_v + high_v) / 2;
        }
        const double step_v = std::abs(next_v - rail_v);
        rail_v = next_v;
        if (step_v <= 1e-12 * rectifier.peak_v) {
            break;
        }
    }
    return rail_v;
}

double peak_for_rail(double rail_v, double dc_a, double source_ohm, double drop_v) {
    const double least_v = rail_v + drop_v;
    if (!(dc_a > 0)) {
        return least_v;
    }
    // At twice the level half a cycle conducts at least a third of peak over resistance.
    const double most_v = 2 * least_v + 8 * dc_a * source_ohm;
    return root_between(
        [&](double peak_v) {
            return conduction({peak_v, source_ohm, drop_v}, rail_v).dc_a - dc_a;
        },
        least_v, most_v);
}

} // namespace railside
