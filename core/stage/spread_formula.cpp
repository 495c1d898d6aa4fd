#include "core/stage/spread_formula.h"

#include <cmath>

namespace railside {

namespace {

struct Junction {
    double base_emitter_v = 0;
    double base_a = 0;
};

/// Outer V_BE and base current at a collector current in the active region.
Junction junction_at(const BipolarModel& model, double collector_a, double collector_base_v) {
    const double thermal_v = k_boltzmann_v_per_k * (model.card_c + k_zero_celsius_k);
    const double x = collector_a / (1 + collector_base_v / model.forward_early_v);
    const double forward_a = x + x * x / model.forward_knee_a;
    const double inner_v =
        model.forward_emission * thermal_v * std::log(forward_a / model.saturation_a);
    const double base_a =
        forward_a / model.forward_gain +
        model.emitter_leak_a * std::expm1(inner_v / (model.emitter_leak_emission * thermal_v));
    return {inner_v + base_a * model.base_ohm + (collector_a + base_a) * model.emitter_ohm, base_a};
}

/// The point of a rising function where it passes nought, on a logarithmic axis.
template <class F> double crossing(double low, double high, F&& f) {
    for (int step = 0; step < 200 && high > low * (1 + 1e-12); ++step) {
        const double middle = std::sqrt(low * high);
        (f(middle) > 0 ? high : low) = middle;
    }
    return std::sqrt(low * high);
}

} // namespace

double spread_for_idle_v(const FollowerBias& stage, double idle_a) {
    const double collector_base_v = stage.rail_v - 0.7;
    const auto output_at = [&](const BipolarModel& model) {
        // The emitter carries the idle current; collector and base share it.
        Junction junction = junction_at(model, idle_a, collector_base_v);
        for (int turn = 0; turn < 4; ++turn) {
            junction = junction_at(model, idle_a - junction.base_a, collector_base_v);
        }
        return junction;
    };
    const Junction plus = output_at(stage.output_plus);
    const Junction minus = output_at(stage.output_minus);
    const auto half_v = [&](const Junction& output) {
        return output.base_a * stage.stopper_ohm + output.base_emitter_v +
               idle_a * stage.emitter_ohm;
    };
    const double resistor_a = (half_v(plus) + half_v(minus)) / stage.driver_ohm;
    const auto driver_v = [&](const BipolarModel& model, const Junction& output) {
        return junction_at(model, resistor_a + stage.pairs * output.base_a, collector_base_v - 0.7)
            .base_emitter_v;
    };
    return driver_v(stage.driver_plus, plus) + half_v(plus) + half_v(minus) +
           driver_v(stage.driver_minus, minus);
}

double idle_for_spread_a(const FollowerBias& stage, double spread_v) {
    return crossing(1e-12, 100,
                    [&](double idle_a) { return spread_for_idle_v(stage, idle_a) - spread_v; });
}

double multiplier_spread_v(const BipolarModel& transistor, double upper_ohm, double lower_ohm,
                           double total_a) {
    double spread_v = 2;
    // The Early effect wants the answer; it changes little.
    for (int turn = 0; turn < 8; ++turn) {
        const double collector_base_v = spread_v > 0.7 ? spread_v - 0.7 : 0;
        const auto at = [&](double collector_a) {
            return junction_at(transistor, collector_a, collector_base_v);
        };
        const double collector_a = crossing(1e-12, total_a, [&](double amperes) {
            const Junction junction = at(amperes);
            return amperes + junction.base_a + junction.base_emitter_v / lower_ohm - total_a;
        });
        const Junction junction = at(collector_a);
        spread_v = simple_multiplier_spread_v(junction.base_emitter_v, upper_ohm, lower_ohm) +
                   junction.base_a * upper_ohm;
    }
    return spread_v;
}

double simple_multiplier_spread_v(double base_emitter_v, double upper_ohm, double lower_ohm) {
    return base_emitter_v * (1 + upper_ohm / lower_ohm);
}

double string_spread_v(const DiodeModel& diode, int count, double trim_ohm, double total_a) {
    const double thermal_v = k_boltzmann_v_per_k * (diode.card_c + k_zero_celsius_k);
    const double each_v = diode.emission * thermal_v * std::log1p(total_a / diode.saturation_a) +
                          total_a * diode.series_ohm;
    return count * each_v + total_a * trim_ohm;
}

} // namespace railside
