// What the working about heat and sink is told: its fields, and the inputs as one checked whole.
#pragma once

#include "core/heat/sink.h"
#include "core/quantity/interval.h"
#include "core/working/working.h"

#include <optional>
#include <span>

namespace railside {

/// The level the temperatures are judged at.
enum class HeatUse {
    worst,  // the steady level at which the devices run hottest
    music,  // a sine of 1/8 of clip power
    speech, // a sine of 1/40 of clip power
    output, // at the output volts given
};

[[nodiscard]] std::span<const Field> heat_fields();

/// The inputs of the working, SI units, defaults and generic values in the place of what was not
/// given.
struct HeatGiven {
    Interval rail_v;
    Interval load_ohm;
    Interval phase_deg;
    int pairs = 1;
    Interval emitter_ohm;
    Interval internal_ohm;
    Interval gain;
    Interval idle_a;
    bool idle_known = false;
    bool idle_warm = false;
    HeatUse use = HeatUse::worst;
    bool output_missing = false;
    Interval output_v;
    Interval clip_v;
    bool clip_known = false;
    Washer washer = Washer::mica_grease;
    Interval case_sink_k_per_w;
    bool case_sink_known = false;
    std::optional<Interval> junction_case_k_per_w;
    bool junction_case_implied = false;
    std::optional<Interval> sink_k_per_w;
    std::optional<Interval> sink_reading_c;
    std::optional<Interval> sink_power_w;
    int devices = 2;
    Interval ambient_c;
    Interval junction_max_c;
    std::optional<Interval> rated_w;
    std::optional<Interval> current_max_a;
    std::optional<Interval> collector_max_v;
    std::optional<Interval> safe_v_1;
    std::optional<Interval> safe_a_1;
    std::optional<Interval> safe_v_2;
    std::optional<Interval> safe_a_2;
    Interval tracking;

    [[nodiscard]] bool has_safe_area() const {
        return rated_w || current_max_a || collector_max_v || (safe_v_1 && safe_a_1);
    }
};

/// Errors: contradictory, for values that cannot hold together; names the field.
[[nodiscard]] Result<HeatGiven> heat_given(const Inputs& inputs);

/// The range cut off below `least` and above `most`.
[[nodiscard]] Interval not_below(const Interval& range, double least);
[[nodiscard]] Interval not_above(const Interval& range, double most);

} // namespace railside
