#include "core/stage/idle.h"

#include <algorithm>

namespace railside {

namespace {

double class_a_power_w(double idle_a, int pairs, double load_ohm, double rail_v) {
    const double peak_v = std::min(2 * pairs * idle_a * load_ohm, rail_v);
    return peak_v * peak_v / (2 * load_ohm);
}

double dissipation_w(double reading_v, double emitter_ohm, double rail_v) {
    return reading_v / emitter_ohm * std::max(rail_v - reading_v, 0.0);
}

} // namespace

Amount reading_of_one(const Amount& reading, Across across) {
    const double share = across == Across::both ? 0.5 : 1.0;
    return {std::max(reading.value, 0.0) * share, std::max(reading.low, 0.0) * share,
            std::max(reading.high, 0.0) * share, Unit::volt};
}

Amount idle_current(const Amount& reading_one, const Amount& emitter) {
    return {reading_one.value / emitter.value, reading_one.low / emitter.high,
            reading_one.high / emitter.low, Unit::ampere};
}

Amount idle_dissipation(const Amount& reading_one, const Amount& emitter, const Amount& rail) {
    // Over V_RE the heat rises to V_CC/2 and falls again; over R_E and V_CC it only falls or only
    // rises.
    const double turn_v = std::clamp(rail.high / 2, reading_one.low, reading_one.high);
    return {dissipation_w(reading_one.value, emitter.value, rail.value),
            std::min(dissipation_w(reading_one.low, emitter.high, rail.low),
                     dissipation_w(reading_one.high, emitter.high, rail.low)),
            dissipation_w(turn_v, emitter.low, rail.high), Unit::watt};
}

Amount class_a_power(const Amount& idle, int pairs, const Amount& load, const Amount& rail) {
    // Over the load it rises until the rail limits and falls beyond; the turn is where 2·n·I_q·R_L
    // = V_CC.
    const double value_w = class_a_power_w(idle.value, pairs, load.value, rail.value);
    const double low_w = std::min(class_a_power_w(idle.low, pairs, load.low, rail.low),
                                  class_a_power_w(idle.low, pairs, load.high, rail.low));
    double high_w = std::max(class_a_power_w(idle.high, pairs, load.low, rail.high),
                             class_a_power_w(idle.high, pairs, load.high, rail.high));
    if (idle.high > 0) {
        const double turn_ohm =
            std::clamp(rail.high / (2 * pairs * idle.high), load.low, load.high);
        high_w = std::max(high_w, class_a_power_w(idle.high, pairs, turn_ohm, rail.high));
    }
    return {value_w, low_w, high_w, Unit::watt};
}

Amount generic_internal_resistance() { return {0.05, 0.02, 0.12, Unit::ohm}; }

} // namespace railside
