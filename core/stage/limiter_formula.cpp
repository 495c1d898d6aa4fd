#include "core/stage/limiter_formula.h"

#include <algorithm>

namespace railside {

double limit_a(const LimiterNetwork& network, const LimiterConditions& at, double output_v) {
    const double node_v = output_v + at.base_v;
    double into_a = at.base_a;
    if (network.divider_ohm) {
        into_a += at.base_v / *network.divider_ohm;
    }
    if (network.ground_ohm) {
        const double diode_v = network.ground_diode ? at.diode_v : 0;
        if (!network.ground_diode || node_v > diode_v) {
            into_a += (node_v - diode_v) / *network.ground_ohm;
        }
    }
    if (network.own_rail_ohm) {
        into_a -= (at.own_rail_v - node_v) / *network.own_rail_ohm;
    }
    if (network.far_rail_ohm) {
        into_a += (node_v + at.far_rail_v) / *network.far_rail_ohm;
    }
    return at.pairs * ((at.base_v + network.sense_ohm * into_a) / at.emitter_ohm + into_a);
}

std::optional<double> lock_out_v(const LimiterNetwork& network, const LimiterConditions& at) {
    double low = -at.far_rail_v;
    double high = 0;
    if (limit_a(network, at, low) > 0) {
        return std::nullopt;
    }
    if (limit_a(network, at, high) <= 0) {
        return high;
    }
    for (int i = 0; i < 60; ++i) {
        const double middle = (low + high) / 2;
        (limit_a(network, at, middle) <= 0 ? low : high) = middle;
    }
    return low;
}

LimiterConditions limiter_conditions(const StageValues& values, StageHalf half) {
    const bool plus = half == StageHalf::plus;
    LimiterConditions at;
    at.own_rail_v = plus ? values.rail_plus_v : values.rail_minus_v;
    at.far_rail_v = plus ? values.rail_minus_v : values.rail_plus_v;
    at.emitter_ohm =
        plus ? values.emitter_ohm : values.emitter_minus_ohm.value_or(values.emitter_ohm);
    at.pairs = values.pairs;
    // The voltage amplifier first has to take the feed's own current.
    const double forced_a =
        half == values.feed_side ? values.supply_a : values.most_a - values.supply_a;
    constexpr double k_collector_base_v = 1.2;
    const BaseDrive drive =
        base_drive(at_temperature(plus ? values.devices.limiter_plus : values.devices.limiter_minus,
                                  values.temperatures.small_c),
                   std::max(forced_a, 1e-5), k_collector_base_v);
    at.base_v = drive.base_emitter_v;
    at.base_a = drive.base_a;
    return at;
}

} // namespace railside
