#include "core/device/gain.h"

#include <algorithm>
#include <array>
#include <cmath>

namespace railside {

namespace {

constexpr double k_nominal_k = 300.15;
constexpr double k_zero_c_k = 273.15;
// The collector voltage cancels in a factor; simple gain testers use a few volts.
constexpr double k_tester_v = 5;

// Typical constants by class, from the ordinary run of data sheets: mid-range gain, the current at
// which it has halved, and the slight fall below a milliampere.
constexpr GenericDevice k_output{.name = "generic power output, 15 A class",
                                 .shape = {.saturation_a = 2e-11,
                                           .ideal_gain = 80,
                                           .leak_saturation_a = 2e-11,
                                           .leak_emission = 1.8,
                                           .knee_a = 8,
                                           .early_v = 120},
                                 .knee_low_a = 3,
                                 .knee_high_a = 25,
                                 .data_sheet_a = 1,
                                 .believable_high = 1000};
constexpr GenericDevice k_driver{.name = "generic driver, 2 to 8 A class",
                                 .shape = {.saturation_a = 6e-13,
                                           .ideal_gain = 120,
                                           .leak_saturation_a = 8e-13,
                                           .leak_emission = 1.7,
                                           .knee_a = 1.2,
                                           .early_v = 150},
                                 .knee_low_a = 0.4,
                                 .knee_high_a = 5,
                                 .data_sheet_a = 0.15,
                                 .believable_high = 1000};
constexpr GenericDevice k_medium{.name = "generic high-voltage small device, 0.1 to 1 A class",
                                 .shape = {.saturation_a = 2e-14,
                                           .ideal_gain = 130,
                                           .leak_saturation_a = 2e-14,
                                           .leak_emission = 1.6,
                                           .knee_a = 0.2,
                                           .early_v = 200},
                                 .knee_low_a = 0.06,
                                 .knee_high_a = 0.8,
                                 .data_sheet_a = 0.01,
                                 .believable_high = 1500};
constexpr GenericDevice k_small{.name = "generic small-signal device, 0.1 A class",
                                .shape = {.saturation_a = 1.2e-14,
                                          .ideal_gain = 220,
                                          .leak_saturation_a = 1e-14,
                                          .leak_emission = 1.6,
                                          .knee_a = 0.12,
                                          .early_v = 100},
                                .knee_low_a = 0.04,
                                .knee_high_a = 0.5,
                                .data_sheet_a = 0.002,
                                .believable_high = 2000};

double ratio_of(const GainShape& shape, GainCondition from, GainCondition to) {
    return gain_at(shape, to.collector_a, k_tester_v, to.junction_c) /
           gain_at(shape, from.collector_a, k_tester_v, from.junction_c);
}

} // namespace

double gain_at(const GainShape& shape, double collector_a, double collector_base_v,
               double junction_c) {
    const double x_a = collector_a / (1 + collector_base_v / shape.early_v);
    const double forward_a = x_a + x_a * x_a / shape.knee_a;
    const double leak_a =
        shape.leak_saturation_a *
        std::expm1(std::log1p(forward_a / shape.saturation_a) / shape.leak_emission);
    const double base_a = forward_a / shape.ideal_gain + leak_a;
    const double warmth =
        std::pow((junction_c + k_zero_c_k) / k_nominal_k, shape.temperature_power);
    return collector_a / base_a * warmth;
}

const GenericDevice& generic_device(Role role) {
    switch (role) {
    case Role::output:
        return k_output;
    case Role::driver:
        return k_driver;
    case Role::pre_driver:
    case Role::voltage_amplifier:
        return k_medium;
    case Role::limiter:
    case Role::bias_spreader:
    case Role::input_pair:
    case Role::emitter_resistor:
    case Role::trim_pot:
    case Role::other:
        break;
    }
    return k_small;
}

GainFactor gain_factor(const GainShape& shape, GainCondition from, GainCondition to) {
    const double factor = ratio_of(shape, from, to);
    return {factor, factor, factor};
}

GainFactor gain_factor(const GenericDevice& generic, GainCondition from, GainCondition to) {
    const double typical = ratio_of(generic.shape, from, to);
    GainFactor factor{typical, typical, typical};
    for (const double knee_a : {generic.knee_low_a, generic.knee_high_a}) {
        for (const double leak : {1 / generic.leak_spread, generic.leak_spread}) {
            for (const double power : {generic.power_low, generic.power_high}) {
                GainShape shape = generic.shape;
                shape.knee_a = knee_a;
                shape.leak_saturation_a *= leak;
                shape.temperature_power = power;
                const double corner = ratio_of(shape, from, to);
                factor.low = std::min(factor.low, corner);
                factor.high = std::max(factor.high, corner);
            }
        }
    }
    return factor;
}

} // namespace railside
