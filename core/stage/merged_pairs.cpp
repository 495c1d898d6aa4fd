#include "core/stage/merged_pairs.h"

namespace railside {

BipolarModel merged_devices(const BipolarModel& model, int count) {
    BipolarModel merged = model;
    const double n = count;
    merged.saturation_a *= n;
    merged.forward_knee_a *= n;
    merged.emitter_leak_a *= n;
    merged.collector_leak_a *= n;
    merged.reverse_knee_a *= n;
    merged.base_fall_a *= n;
    merged.base_ohm /= n;
    if (merged.base_least_ohm > 0) {
        merged.base_least_ohm /= n;
    }
    merged.emitter_ohm /= n;
    merged.collector_ohm /= n;
    return merged;
}

StageValues merged_pairs(const StageValues& values) {
    if (values.pairs <= 1) {
        return values;
    }
    StageValues merged = values;
    const double n = values.pairs;
    merged.pairs = 1;
    merged.emitter_ohm /= n;
    if (merged.emitter_minus_ohm) {
        *merged.emitter_minus_ohm /= n;
    }
    merged.stopper_ohm /= n;
    merged.devices.output_plus = merged_devices(values.devices.output_plus, values.pairs);
    merged.devices.output_minus = merged_devices(values.devices.output_minus, values.pairs);
    return merged;
}

} // namespace railside
