#include "core/device/constants.h"

#include "core/device/gain.h"
#include "core/device/model_card.h"
#include "core/quantity/refusal.h"
#include "core/words/words.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace railside {

namespace {

constexpr double k_generic_gain = 2.5; // either way
constexpr double k_generic_shift_v = 0.04;
constexpr double k_table_shift_v = 0.03;
constexpr double k_card_gain = 1.25;
constexpr double k_card_shift_v = 0.005;
constexpr double k_fitted_shift_v = 0.03;
// The current at which an output device's gain has halved, as a share of its rated current: half of
// it is the ordinary run.
constexpr double k_knee_share = 0.5;

/// Series resistances of a class: base, emitter, collector, ohm, and reverse gain.
struct Resistances {
    double base_ohm = 0;
    double emitter_ohm = 0;
    double collector_ohm = 0;
};
Resistances resistances_of(Role role) {
    switch (role) {
    case Role::output:
        return {2, 0.025, 0.1};
    case Role::driver:
        return {8, 0.1, 0.3};
    case Role::pre_driver:
    case Role::voltage_amplifier:
        return {40, 0.5, 3};
    case Role::limiter:
    case Role::bias_spreader:
    case Role::input_pair:
    case Role::emitter_resistor:
    case Role::trim_pot:
    case Role::other:
        break;
    }
    return {80, 0.5, 1.5};
}

/// Gain of a full card at a working point, outer terminals.
double gain_of(const BipolarModel& model, double collector_a, double collector_base_v,
               double junction_c) {
    return collector_a /
           base_drive(at_temperature(model, junction_c), collector_a, collector_base_v).base_a;
}

DeviceConstants from_table(Role role, const FoundPart& found, std::string_view) {
    DeviceConstants constants = generic_constants(role, found.part->polarity);
    constants.from = ConstantsFrom::table;
    constants.name = found.part->type;
    constants.shift_v = k_table_shift_v;
    if (role == Role::output && found.part->collector_a) {
        constants.model.forward_knee_a = k_knee_share * *found.part->collector_a;
    }
    const GainWindow window = gain_window(*found.part, found.group);
    const double at_a = found.part->gain_a.value_or(generic_device(role).data_sheet_a);
    if (window.low || window.high) {
        // One limit alone is taken for a window of the usual width.
        const double low = window.low ? *window.low : *window.high / (k_generic_gain * 2);
        const double high = window.high ? *window.high : *window.low * k_generic_gain * 2;
        return [&] {
            DeviceConstants fitted =
                fitted_gain(constants, {low, std::sqrt(low * high), high, at_a,
                                        found.part->gain_ce_v.value_or(5), 25});
            fitted.from = ConstantsFrom::table;
            fitted.shift_v = k_table_shift_v;
            return fitted;
        }();
    }
    return constants;
}

} // namespace

DeviceConstants generic_constants(Role role, Polarity polarity) {
    const GenericDevice& generic = generic_device(role);
    const Resistances resistances = resistances_of(role);
    DeviceConstants constants;
    constants.from = ConstantsFrom::generic;
    constants.name = generic.name;
    constants.gain_low = 1 / k_generic_gain;
    constants.gain_high = k_generic_gain;
    constants.shift_v = k_generic_shift_v;
    BipolarModel& model = constants.model;
    model.polarity = polarity;
    model.saturation_a = generic.shape.saturation_a;
    model.forward_gain = generic.shape.ideal_gain;
    model.emitter_leak_a = generic.shape.leak_saturation_a;
    model.emitter_leak_emission = generic.shape.leak_emission;
    model.forward_knee_a = generic.shape.knee_a;
    model.forward_early_v = generic.shape.early_v;
    model.gain_power = generic.shape.temperature_power;
    model.reverse_gain = 3;
    model.base_ohm = resistances.base_ohm;
    model.emitter_ohm = resistances.emitter_ohm;
    model.collector_ohm = resistances.collector_ohm;
    return constants;
}

Result<DeviceConstants> device_constants(Role role, Polarity polarity, std::string_view text,
                                         std::string_view field) {
    if (text.empty()) {
        return generic_constants(role, polarity);
    }
    DeviceConstants constants;
    if (looks_like_card(text)) {
        const auto card = read_bipolar_card(text, field);
        if (!card) {
            return card.error();
        }
        constants.from = ConstantsFrom::card;
        constants.name = card->name;
        constants.model = std::get<BipolarModel>(card->constants);
        constants.gain_low = 1 / k_card_gain;
        constants.gain_high = k_card_gain;
        constants.shift_v = k_card_shift_v;
    } else {
        const auto found = find_part(builtin_parts(), text);
        if (!found) {
            return refusal(ErrorCode::not_found, field,
                           fmt::format("{} is not in the parts table. Accepted: a type of the "
                                       "table, the text of a SPICE .model card, or nothing for a "
                                       "generic device.",
                                       quoted(text)));
        }
        constants = from_table(role, *found, field);
    }
    if (constants.model.polarity != polarity) {
        return refusal(ErrorCode::contradictory, field,
                       worded("{} is {}, this place wants {}.", constants.name,
                              polarity_key(constants.model.polarity), polarity_key(polarity)));
    }
    return constants;
}

DeviceConstants fitted_gain(DeviceConstants constants, const GainReading& reading) {
    const double base_v = std::max(reading.collector_emitter_v - 0.7, 0.0);
    const double base = gain_of(constants.model, reading.collector_a, base_v, reading.junction_c);
    constants.model = moved(constants.model, reading.value / base, 0);
    constants.from = ConstantsFrom::fitted;
    constants.gain_low = std::min(reading.low / reading.value, 1.0);
    constants.gain_high = std::max(reading.high / reading.value, 1.0);
    constants.shift_v = std::max(constants.shift_v, k_fitted_shift_v);
    return constants;
}

BipolarModel moved(const BipolarModel& model, double gain_factor, double shift_v) {
    BipolarModel result = model;
    result.forward_gain *= gain_factor;
    result.emitter_leak_a /= gain_factor;
    if (shift_v != 0) {
        const double thermal_v = k_boltzmann_v_per_k * (model.card_c + k_zero_celsius_k);
        result.saturation_a *= std::exp(-shift_v / (model.forward_emission * thermal_v));
        result.emitter_leak_a *= std::exp(-shift_v / (model.emitter_leak_emission * thermal_v));
    }
    return result;
}

std::string said(std::string_view place, const DeviceConstants& constants) {
    switch (constants.from) {
    case ConstantsFrom::card:
        return worded("{}: card {}", place, constants.name);
    case ConstantsFrom::table:
        return worded("{}: {}, gain from the parts table, junction generic", place, constants.name);
    case ConstantsFrom::fitted:
        return worded("{}: {}, fitted to this unit's reading", place, constants.name);
    case ConstantsFrom::generic:
        break;
    }
    return fmt::format("{}: {}", place, constants.name);
}

} // namespace railside
