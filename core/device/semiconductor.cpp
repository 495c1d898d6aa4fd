#include "core/device/semiconductor.h"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace railside {

namespace {

constexpr double k_celsius_least = -200;
constexpr double k_celsius_most = 400;

/// exp() that goes on straight where it would leave all sense, so that a wild Newton step stays
/// finite. `slope` is its derivative.
struct Exponential {
    double value = 0;
    double slope = 0;
};
Exponential bounded_exp(double x) {
    constexpr double k_end = 150;
    if (x <= k_end) {
        const double value = std::exp(x);
        return {value, value};
    }
    static const double k_value = std::exp(k_end);
    return {k_value * (1 + x - k_end), k_value};
}

double kelvin(double celsius) {
    return std::clamp(celsius, k_celsius_least, k_celsius_most) + k_zero_celsius_k;
}

/// Saturation current of a junction and its slope. Well below zero the exponential gives way to the
/// cubic that circuit simulators use, which keeps a slope.
DiodeCurrent junction_current(double saturation_a, double scale_v, double volts) {
    if (volts >= -3 * scale_v) {
        const Exponential e = bounded_exp(volts / scale_v);
        return {saturation_a * (e.value - 1), saturation_a * e.slope / scale_v};
    }
    const double ratio = 3 * scale_v / (volts * std::numbers::e);
    const double cube = ratio * ratio * ratio;
    return {-saturation_a * (1 + cube), saturation_a * 3 * cube / volts};
}

/// What the exponent of a saturation current gains from the card's temperature to another one.
double saturation_exponent(double gap_ev, double power, double from_k, double to_k) {
    return (to_k / from_k - 1) * gap_ev / (k_boltzmann_v_per_k * to_k) +
           power * std::log(to_k / from_k);
}

} // namespace

BipolarModel at_temperature(const BipolarModel& model, double junction_c) {
    const double from_k = kelvin(model.card_c);
    const double to_k = kelvin(junction_c);
    BipolarModel moved = model;
    moved.card_c = to_k - k_zero_celsius_k;
    if (from_k == to_k) {
        return moved;
    }
    const double exponent = saturation_exponent(model.gap_ev, model.saturation_power, from_k, to_k);
    const double gain = std::pow(to_k / from_k, model.gain_power);
    moved.saturation_a *= std::exp(exponent);
    moved.forward_gain *= gain;
    moved.reverse_gain *= gain;
    moved.emitter_leak_a *= std::exp(exponent / model.emitter_leak_emission) / gain;
    moved.collector_leak_a *= std::exp(exponent / model.collector_leak_emission) / gain;
    return moved;
}

DiodeModel at_temperature(const DiodeModel& model, double junction_c) {
    const double from_k = kelvin(model.card_c);
    const double to_k = kelvin(junction_c);
    DiodeModel moved = model;
    moved.card_c = to_k - k_zero_celsius_k;
    if (from_k == to_k) {
        return moved;
    }
    const double exponent = saturation_exponent(model.gap_ev, model.saturation_power, from_k, to_k);
    moved.saturation_a *= std::exp(exponent / model.emission);
    moved.recombination_a *= std::exp(exponent / model.recombination_emission);
    return moved;
}

BipolarCurrents bipolar_currents(const BipolarModel& model, double base_emitter_v,
                                 double base_collector_v, double leak_s) {
    const double thermal_v = k_boltzmann_v_per_k * kelvin(model.card_c);
    DiodeCurrent forward =
        junction_current(model.saturation_a, model.forward_emission * thermal_v, base_emitter_v);
    DiodeCurrent reverse =
        junction_current(model.saturation_a, model.reverse_emission * thermal_v, base_collector_v);
    forward.current_a += leak_s * base_emitter_v;
    forward.slope_s += leak_s;
    reverse.current_a += leak_s * base_collector_v;
    reverse.slope_s += leak_s;
    DiodeCurrent forward_leak;
    if (model.emitter_leak_a > 0) {
        forward_leak = junction_current(model.emitter_leak_a,
                                        model.emitter_leak_emission * thermal_v, base_emitter_v);
    }
    DiodeCurrent reverse_leak;
    if (model.collector_leak_a > 0) {
        reverse_leak = junction_current(
            model.collector_leak_a, model.collector_leak_emission * thermal_v, base_collector_v);
    }

    // Base charge: q1 from the Early effect, q2 from high injection.
    const double forward_early = 1 / model.forward_early_v;
    const double reverse_early = 1 / model.reverse_early_v;
    constexpr double k_least = 1e-3; // a Newton step may pass the pole
    const double early =
        std::max(1 - base_collector_v * forward_early - base_emitter_v * reverse_early, k_least);
    const double q1 = 1 / early;
    double charge = q1;
    double charge_by_be = q1 * q1 * reverse_early;
    double charge_by_bc = q1 * q1 * forward_early;
    const double forward_knee = 1 / model.forward_knee_a;
    const double reverse_knee = 1 / model.reverse_knee_a;
    if (forward_knee > 0 || reverse_knee > 0) {
        const double q2 = forward_knee * forward.current_a + reverse_knee * reverse.current_a;
        const double inner = std::max(1 + 4 * q2, 0.0);
        const double root =
            inner > 0
                ? (model.knee_power == 0.5 ? std::sqrt(inner) : std::pow(inner, model.knee_power))
                : 0;
        const double by_q2 = inner > 0 ? 4 * model.knee_power * root / inner : 0;
        charge = q1 * (1 + root) / 2;
        charge_by_be = q1 * (charge * reverse_early + by_q2 * forward_knee * forward.slope_s / 2);
        charge_by_bc = q1 * (charge * forward_early + by_q2 * reverse_knee * reverse.slope_s / 2);
    }
    charge = std::max(charge, k_least);

    BipolarCurrents currents;
    currents.charge = charge;
    const double transport = (forward.current_a - reverse.current_a) / charge;
    currents.collector_a =
        transport - reverse.current_a / model.reverse_gain - reverse_leak.current_a;
    currents.base_a = forward.current_a / model.forward_gain + forward_leak.current_a +
                      reverse.current_a / model.reverse_gain + reverse_leak.current_a;
    currents.collector_by_be_s = (forward.slope_s - transport * charge_by_be) / charge;
    currents.collector_by_bc_s = (-reverse.slope_s - transport * charge_by_bc) / charge -
                                 reverse.slope_s / model.reverse_gain - reverse_leak.slope_s;
    currents.base_by_be_s = forward.slope_s / model.forward_gain + forward_leak.slope_s;
    currents.base_by_bc_s = reverse.slope_s / model.reverse_gain + reverse_leak.slope_s;
    return currents;
}

double base_resistance_ohm(const BipolarModel& model, double base_a, double charge) {
    const double least = model.base_least_ohm < 0 ? model.base_ohm : model.base_least_ohm;
    const double falling = model.base_ohm - least;
    if (falling == 0) {
        return least;
    }
    if (std::isinf(model.base_fall_a)) {
        return least + falling / charge;
    }
    // Emitter crowding: z solves the usual approximation with 144/π² = 14.59025.
    const double ratio = std::max(base_a / model.base_fall_a, 1e-9);
    const double z = (-1 + std::sqrt(1 + 14.59025 * ratio)) / 2.4317 / std::sqrt(ratio);
    const double tangent = std::tan(z);
    return least + 3 * falling * (tangent - z) / (z * tangent * tangent);
}

DiodeCurrent diode_current(const DiodeModel& model, double junction_v, double leak_s) {
    const double thermal_v = k_boltzmann_v_per_k * kelvin(model.card_c);
    const double scale_v = model.emission * thermal_v;
    DiodeCurrent result;
    double breakdown_v = model.breakdown_v;
    if (std::isfinite(breakdown_v)) {
        // Moved so that breakdown_a flows at breakdown_v, as the card means it.
        const double brk_v = model.breakdown_emission * thermal_v;
        const double least_a = model.saturation_a * model.breakdown_v / thermal_v;
        if (model.breakdown_a > least_a) {
            breakdown_v =
                model.breakdown_v - brk_v * std::log(1 + model.breakdown_a / model.saturation_a);
            for (int i = 0; i < 25; ++i) {
                const double next =
                    model.breakdown_v - brk_v * std::log(model.breakdown_a / model.saturation_a +
                                                         1 - breakdown_v / brk_v);
                if (std::abs(next - breakdown_v) < 1e-9 * model.breakdown_v) {
                    break;
                }
                breakdown_v = next;
            }
        }
    }
    if (junction_v >= -breakdown_v || std::isinf(breakdown_v)) {
        result = junction_current(model.saturation_a, scale_v, junction_v);
        if (std::isfinite(model.knee_a) && result.current_a > 1e-18) {
            const double root = std::sqrt(result.current_a / model.knee_a);
            const double bent = result.current_a / (1 + root);
            result.slope_s *= (1 + root / 2) / ((1 + root) * (1 + root));
            result.current_a = bent;
        }
        if (model.recombination_a > 0) {
            const DiodeCurrent recombined = junction_current(
                model.recombination_a, model.recombination_emission * thermal_v, junction_v);
            result.current_a += recombined.current_a;
            result.slope_s += recombined.slope_s;
        }
    } else {
        const double brk_v = model.breakdown_emission * thermal_v;
        const Exponential e = bounded_exp(-(breakdown_v + junction_v) / brk_v);
        result = {-model.saturation_a * e.value, model.saturation_a * e.slope / brk_v};
    }
    result.current_a += leak_s * junction_v;
    result.slope_s += leak_s;
    return result;
}

BaseDrive base_drive(const BipolarModel& model, double collector_a, double collector_base_v) {
    const double thermal_v = model.forward_emission * k_boltzmann_v_per_k * kelvin(model.card_c);
    double be_v = thermal_v * std::log1p(collector_a / model.saturation_a);
    double bc_v = -collector_base_v;
    double base_ohm = model.base_ohm;
    BipolarCurrents now;
    for (int i = 0; i < 100; ++i) {
        now = bipolar_currents(model, be_v, bc_v, 0);
        if (!(now.collector_a > 0)) {
            be_v += thermal_v;
            continue;
        }
        // Newton on the logarithm, which is nearly straight.
        const double step = std::clamp(std::log(collector_a / now.collector_a) * now.collector_a /
                                           std::max(now.collector_by_be_s, 1e-30),
                                       -0.1, 0.1);
        be_v += step;
        base_ohm = base_resistance_ohm(model, now.base_a, now.charge);
        const double before = bc_v;
        bc_v = -collector_base_v - now.base_a * base_ohm + collector_a * model.collector_ohm;
        // Saturated by its own collector resistance: the junction clamps there.
        bc_v = std::min(bc_v, be_v);
        if (std::abs(step) < 1e-10 && std::abs(bc_v - before) < 1e-9) {
            break;
        }
    }
    return {be_v + now.base_a * base_ohm + (collector_a + now.base_a) * model.emitter_ohm,
            now.base_a};
}

} // namespace railside
