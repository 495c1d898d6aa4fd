// Heat and sink: what the output devices dissipate against level, how warm sink and junctions get,
// and whether rating, safe area and bias stand it.
//
// Heat is the mean over a cycle of the class AB split (core/stage/cycle.h), temperatures the steady
// state of one sink (core/heat/sink.h), the load line at the greatest level is held against the
// direct-current safe area at the case temperature (core/heat/safe_area.h), and the idle current
// is followed as it warms its own devices (core/heat/runaway.h). Every input pushes the heat one
// way only, so the hottest and the coolest corner bound the answer. Drivers are not counted.
#include "core/heat/runaway.h"
#include "core/heat/safe_area.h"
#include "core/quantity/interval.h"
#include "core/quantity/value_code.h"
#include "core/stage/cycle.h"
#include "core/words/words.h"
#include "core/working/entries.h"
#include "core/working/heat_fields.h"
#include "core/working/inputs.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <iterator>
#include <limits>

namespace railside {

namespace {

using Given = HeatGiven;
using Use = HeatUse;

// The split hardly depends on it; devices at work are about as warm as this.
constexpr double k_split_c = 60;
// Tempco of the output devices, of the spreader's transistor, and what the spreader multiplies by.
constexpr Interval k_device_v_per_k{1.8e-3, 1.92e-3, 2.1e-3};
constexpr Interval k_spreader_v_per_k{1.4e-3, 1.5e-3, 2.0e-3};
constexpr Interval k_spreader_multiplier{3, 3.35, 4};
// Slope of a second-breakdown line of which only one point is known.
constexpr Interval k_generic_slope{1.5, 2, 2.5};
// Bare metal burns skin within ten seconds from here (ISO 13732-1).
constexpr double k_burning_c = 55;
constexpr int k_level_points = 61;
constexpr int k_line_steps = 60;
constexpr double k_no_limit = std::numeric_limits<double>::infinity();

std::string volts(double value) { return print_value(value, Unit::volt, 3); }
std::string watts(double value) { return print_value(value, Unit::watt, 3); }
std::string amps(double value) { return print_value(value, Unit::ampere, 3); }
/// Whole kelvins are all that a sink deserves.
std::string degrees(double value) {
    const double whole = std::round(value);
    return print_value(whole, Unit::celsius,
                       std::abs(whole) < 100    ? 2
                       : std::abs(whole) < 1000 ? 3
                                                : 4);
}
std::string degrees(const Interval& range) {
    return print_range(range.low, range.high, Unit::celsius, range.high < 100 ? 2 : 3);
}
std::string times(double ratio) { return print_value(ratio, Unit::ratio, ratio < 100 ? 2 : 3); }
std::string times(const Interval& ratio) {
    return print_range(ratio.low, ratio.high, Unit::ratio, ratio.high < 100 ? 2 : 3);
}

Error contradiction(std::string field, std::string message) {
    return {ErrorCode::contradictory, std::move(field), std::move(message)};
}

std::string_view use_words(Use use) {
    switch (use) {
    case Use::music:
        return "loud music";
    case Use::speech:
        return "speech";
    case Use::output:
        return "that output";
    case Use::worst:
        break;
    }
    return "the worst level";
}

/// Which end of every interval: the nominal, or that which makes it cooler or hotter.
enum class Corner { nominal, cool, hot };

DrivenStage driven_at(const Given& in, Corner corner) {
    const auto rising = [corner](const Interval& range) {
        return corner == Corner::nominal ? range.value
               : corner == Corner::hot   ? range.high
                                         : range.low;
    };
    const auto falling = [corner](const Interval& range) {
        return corner == Corner::nominal ? range.value
               : corner == Corner::hot   ? range.low
                                         : range.high;
    };
    DrivenStage driven;
    driven.stage = {falling(in.emitter_ohm), falling(in.internal_ohm), falling(in.load_ohm),
                    in.pairs, k_split_c};
    driven.idle_a = rising(in.idle_a);
    driven.rail_v = rising(in.rail_v);
    driven.phase_deg = rising(in.phase_deg);
    driven.base.gain = rising(in.gain);
    return driven;
}

double clip_at(const Given& in, Corner corner) {
    return corner == Corner::nominal ? in.clip_v.value
           : corner == Corner::hot   ? in.clip_v.high
                                     : in.clip_v.low;
}

/// The heat of one device, W, and the levels, V.
struct Heat {
    Interval idle_w;
    Interval worst_w;
    Interval worst_v;
    Interval use_w;
    Interval use_v;
    Interval peak_w;
    DeviceCycle nominal; // at the clip
    DeviceCycle cool;
    DeviceCycle hot;
};

Heat heat_of(const Given& in) {
    const std::array driven{driven_at(in, Corner::nominal), driven_at(in, Corner::cool),
                            driven_at(in, Corner::hot)};
    const std::array clip_v{clip_at(in, Corner::nominal), clip_at(in, Corner::cool),
                            clip_at(in, Corner::hot)};
    const auto around = [](double value, double cool, double hot) {
        // Where the devices are starved of volts the corners may say less than nothing.
        return not_below(interval_around<2>(value, {cool, hot}), 0);
    };
    Heat heat;
    heat.idle_w = around(average_heat_w(driven[0], 0), average_heat_w(driven[1], 0),
                         average_heat_w(driven[2], 0));
    std::array<HeatAtLevel, 3> worst;
    for (std::size_t i = 0; i < worst.size(); ++i) {
        worst[i] = worst_level(driven[i], clip_v[i]);
    }
    heat.worst_w = around(worst[0].average_w, worst[1].average_w, worst[2].average_w);
    heat.worst_v = around(worst[0].level_v, worst[1].level_v, worst[2].level_v);
    if (in.use == Use::worst) {
        heat.use_w = heat.worst_w;
        heat.use_v = heat.worst_v;
    } else {
        // 1/8 and 1/40 of the power are 1/√8 and 1/√40 of the volts.
        heat.use_v = in.use == Use::output  ? in.output_v
                     : in.use == Use::music ? in.clip_v * std::sqrt(1.0 / 8)
                                            : in.clip_v * std::sqrt(1.0 / 40);
        heat.use_w = around(average_heat_w(driven[0], heat.use_v.value),
                            heat_range(driven[1], heat.use_v.low, heat.use_v.high).least.average_w,
                            heat_range(driven[2], heat.use_v.low, heat.use_v.high).most.average_w);
    }
    heat.nominal = device_cycle(driven[0], clip_v[0], k_line_steps);
    heat.cool = device_cycle(driven[1], clip_v[1], k_line_steps);
    heat.hot = device_cycle(driven[2], clip_v[2], k_line_steps);
    heat.peak_w = around(heat.nominal.peak_w, heat.cool.peak_w, heat.hot.peak_w);
    return heat;
}

/// How the sink's resistance is known.
enum class SinkKnown { no, stated, read, read_at_idle };

struct Thermal {
    SinkKnown known = SinkKnown::no;
    Interval sink_k_per_w;
    Interval sink_c; // at the level of use
    Interval case_c;
    Interval sink_idle_c;
    std::optional<Interval> junction_c;
};

Interval sink_at(const Given& in, const Thermal& thermal, const Interval& device_w) {
    return in.ambient_c + thermal.sink_k_per_w * (static_cast<double>(in.devices) * device_w);
}

Result<Thermal> thermal_of(const Given& in, const Heat& heat) {
    Thermal thermal;
    if (in.sink_reading_c) {
        const bool at_idle = !in.sink_power_w;
        const Interval power_w = in.sink_power_w.value_or(in.devices * heat.idle_w);
        const auto read = sink_resistance(in.ambient_c.value, in.sink_reading_c->value,
                                          std::max(power_w.value, 1e-9));
        if (!read) {
            return read.error();
        }
        // At idle the power has to be known for certain; an idle that may be zero tells nothing.
        if (!at_idle || (in.idle_known && power_w.low > 0)) {
            thermal.known = at_idle ? SinkKnown::read_at_idle : SinkKnown::read;
            thermal.sink_k_per_w =
                not_below(monotone([](double sink_c, double ambient_c,
                                      double heat_w) { return (sink_c - ambient_c) / heat_w; },
                                   *in.sink_reading_c, in.ambient_c, power_w),
                          0);
            if (in.sink_k_per_w) {
                const double ratio = thermal.sink_k_per_w.value / in.sink_k_per_w->value;
                if (ratio > 2 || ratio < 0.5) {
                    return contradiction(
                        "Sink",
                        worded("Sink {} does not go with {} at {}, which makes {}. Accepted: "
                               "one of the two, or two that agree within a factor of two.",
                               print_value(in.sink_k_per_w->value, Unit::kelvin_per_watt, 3),
                               degrees(in.sink_reading_c->value), watts(power_w.value),
                               print_value(thermal.sink_k_per_w.value, Unit::kelvin_per_watt, 3)));
                }
            }
        }
    }
    if (thermal.known == SinkKnown::no && in.sink_k_per_w) {
        thermal.known = SinkKnown::stated;
        thermal.sink_k_per_w = *in.sink_k_per_w;
    }
    if (thermal.known == SinkKnown::no) {
        return thermal;
    }
    thermal.sink_c = sink_at(in, thermal, heat.use_w);
    thermal.sink_idle_c = sink_at(in, thermal, heat.idle_w);
    thermal.case_c = thermal.sink_c + heat.use_w * in.case_sink_k_per_w;
    if (in.junction_case_k_per_w) {
        thermal.junction_c =
            thermal.sink_c + heat.use_w * (in.case_sink_k_per_w + *in.junction_case_k_per_w);
    }
    return thermal;
}

/// The case temperature at which rating and safe area are looked up.
Interval judged_case_c(const Thermal& thermal) {
    return thermal.known == SinkKnown::no ? Interval::exact(25) : thermal.case_c;
}

/// The areas between which the true one lies: nominal first, then those of the low and high ends.
Result<std::vector<SafeArea>> areas_of(const Given& in) {
    Interval slope = k_generic_slope;
    const bool two_points = in.safe_v_1 && in.safe_a_1 && in.safe_v_2 && in.safe_a_2;
    if (two_points) {
        const auto through = [&](double first_a, double second_a) {
            return second_breakdown_slope({in.safe_v_1->value, first_a},
                                          {in.safe_v_2->value, second_a});
        };
        const auto nominal = through(in.safe_a_1->value, in.safe_a_2->value);
        if (!nominal) {
            return nominal.error();
        }
        slope = Interval::exact(*nominal);
    }
    const auto area = [&](auto&& end, double slope_end) {
        SafeArea made;
        made.junction_max_c = end(in.junction_max_c);
        made.current_max_a = in.current_max_a ? end(*in.current_max_a) : k_no_limit;
        made.power_25_w = in.rated_w ? end(*in.rated_w) : k_no_limit;
        made.collector_max_v = in.collector_max_v ? end(*in.collector_max_v) : k_no_limit;
        if (in.safe_v_1 && in.safe_a_1) {
            made.second_v = in.safe_v_1->value;
            made.second_a = end(*in.safe_a_1);
            made.second_slope = slope_end;
        }
        return made;
    };
    const auto low = [](const Interval& range) { return range.low; };
    const auto high = [](const Interval& range) { return range.high; };
    return std::vector{area([](const Interval& range) { return range.value; }, slope.value),
                       area(low, slope.low), area(low, slope.high), area(high, slope.low),
                       area(high, slope.high)};
}

struct SafeFinding {
    Interval ratio; // limit over load, the least along the load line
    SafeMargin nominal;
};

/// More than this in hand says nothing more.
constexpr double k_most_ratio = 1000;

SafeFinding safe_finding(const Heat& heat, const std::vector<SafeArea>& areas,
                         const Interval& case_c) {
    SafeFinding found;
    found.nominal = smallest_margin(areas[0], heat.nominal.line, case_c.value);
    std::array<double, 4> ends{};
    for (std::size_t i = 0; i < ends.size(); ++i) {
        const bool low = i < 2;
        ends[i] = std::min(smallest_margin(areas[i + 1], low ? heat.hot.line : heat.cool.line,
                                           low ? case_c.high : case_c.low)
                               .ratio,
                           k_most_ratio);
    }
    found.ratio = interval_around(std::min(found.nominal.ratio, k_most_ratio), ends);
    return found;
}

/// How the bias answers to its own heat.
struct BiasFinding {
    Interval gain;                   // loop gain at the idle current given
    std::optional<Interval> other_a; // warm current of a cold reading, cold one of a warm reading
    bool settles = false;            // at the nominal values
    bool always_settles = false;     // at every corner
};

std::optional<BiasFinding> bias_finding(const Given& in, const Thermal& thermal) {
    if (thermal.known == SinkKnown::no || !in.junction_case_k_per_w || !(in.idle_a.low > 0)) {
        return std::nullopt;
    }
    const Interval junction_sink = *in.junction_case_k_per_w + in.case_sink_k_per_w;
    const Interval warming = monotone(
        [&in](double junction_sink_k_per_w, double sink_k_per_w, double tracking, double device,
              double spreader, double multiplier) {
            return warming_v_per_w({junction_sink_k_per_w, sink_k_per_w * in.devices, tracking, 0,
                                    device, spreader, multiplier});
        },
        junction_sink, thermal.sink_k_per_w, in.tracking, k_device_v_per_k, k_spreader_v_per_k,
        k_spreader_multiplier);
    const auto over = [&](auto&& figure) {
        return monotone(
            [&](double idle_a, double rail_v, double warming_v_per_w, double emitter_ohm,
                double internal_ohm) {
                return figure(IdleLoop{rail_v, emitter_ohm, internal_ohm, warming_v_per_w,
                                       in.ambient_c.value},
                              idle_a);
            },
            in.idle_a, in.rail_v, warming, in.emitter_ohm, in.internal_ohm);
    };
    BiasFinding found;
    found.gain = over(thermal_loop_gain);
    if (in.idle_warm) {
        found.settles = found.gain.value < 1;
        found.always_settles = found.gain.high < 1;
        found.other_a = over(cold_idle_a);
        return found;
    }
    const auto warm_or_nan = [](const IdleLoop& loop, double idle_a) {
        return warm_idle_a(loop, idle_a).value_or(std::numeric_limits<double>::quiet_NaN());
    };
    found.settles = warm_idle_a({in.rail_v.value, in.emitter_ohm.value, in.internal_ohm.value,
                                 warming.value, in.ambient_c.value},
                                in.idle_a.value)
                        .has_value();
    // Where a corner runs away there is no upper end to tell.
    const Interval warm_a = over(warm_or_nan);
    found.always_settles = !std::isnan(warm_a.value);
    if (found.always_settles) {
        found.other_a = warm_a;
    }
    return found;
}

/// One thing judged.
struct Finding {
    Verdict verdict;
    bool on_load_line = false; // the load line is the picture that belongs to it
};

int trouble(const Finding& finding) {
    switch (finding.verdict.state) {
    case VerdictState::in_window:
        return 1;
    case VerdictState::at_the_edge:
        return 2;
    case VerdictState::outside:
        return 3;
    case VerdictState::undecided:
        break;
    }
    return 0;
}

/// A margin against the least it may be.
Verdict judged(const Interval& margin, double least, std::string_view edge_word,
               std::string_view outside_word, std::string reason) {
    switch (place(margin, least, k_no_limit)) {
    case Placement::inside:
        return {VerdictState::in_window, "in window", std::move(reason)};
    case Placement::below:
        return {VerdictState::outside, std::string(outside_word), std::move(reason)};
    default:
        return {VerdictState::at_the_edge, std::string(edge_word), std::move(reason)};
    }
}

Finding junction_finding(const Given& in, const Thermal& thermal) {
    const Interval room_k = in.junction_max_c - *thermal.junction_c;
    const std::string at = worded("Junction {} ({}) at {}", degrees(thermal.junction_c->value),
                                  degrees(*thermal.junction_c), use_words(in.use));
    std::string reason;
    switch (place(room_k, 0, k_no_limit)) {
    case Placement::inside:
        reason = worded("{}, under its limit of {}.", at, degrees(in.junction_max_c.value));
        break;
    case Placement::below:
        reason = worded("{}, over its limit of {}: better cooling, more pairs or less level.", at,
                        degrees(in.junction_max_c.value));
        break;
    default:
        reason =
            worded("{}, with its limit of {} inside that.", at, degrees(in.junction_max_c.value));
    }
    return {judged(room_k, 0, "at the edge, hot", "outside, too hot", std::move(reason))};
}

Finding rating_finding(const Heat& heat, const Interval& allowed_w, const Interval& room_w,
                       const Interval& case_c) {
    return {judged(room_w, 0, "at the edge, rating", "outside, over rating",
                   worded("{} ({}) against {} allowed at a case of {}.", watts(heat.use_w.value),
                          print_range(heat.use_w.low, heat.use_w.high, Unit::watt, 3),
                          watts(allowed_w.value), degrees(case_c.value)))};
}

Finding safe_verdict(const SafeFinding& safe, const Thermal& thermal, const Interval& case_c) {
    std::string reason =
        safe.nominal.ratio > 0
            ? worded("At full level the load line keeps {} times ({}) the safe area at a case "
                     "of {}, nearest at {} and {}: {}.",
                     times(safe.ratio.value), times(safe.ratio), degrees(case_c.value),
                     volts(safe.nominal.at.collector_v), amps(safe.nominal.at.collector_a),
                     safe_limit_word(safe.nominal.limit))
            : worded("At full level the load line leaves the safe area at {} and {}: {}.",
                     volts(safe.nominal.at.collector_v), amps(safe.nominal.at.collector_a),
                     safe_limit_word(safe.nominal.limit));
    Finding finding{judged(safe.ratio, 1, "at the edge, area", "outside, safe area", reason), true};
    if (thermal.known == SinkKnown::no && finding.verdict.state == VerdictState::in_window) {
        finding.verdict = {VerdictState::undecided, "undecided",
                           worded("{} A warm case allows less: give the sink.", reason)};
    }
    return finding;
}

Finding bias_verdict(const BiasFinding& bias, const Given& in) {
    const std::string gain =
        worded("thermal loop gain {} ({})", times(bias.gain.value), times(bias.gain));
    if (!bias.settles) {
        return {{VerdictState::outside, "outside, runs away",
                 worded("The idle current of {} does not settle, {}: less idle, a better sink "
                        "or a spreader in closer touch with it.",
                        amps(in.idle_a.value), gain)}};
    }
    if (!bias.always_settles) {
        return {{VerdictState::at_the_edge, "at the edge, bias",
                 worded("The idle current of {} may run away, {}: watch it until the sink has "
                        "settled.",
                        amps(in.idle_a.value), gain)}};
    }
    if (in.idle_warm) {
        return {{VerdictState::in_window, "in window",
                 worded("The idle current holds at {} warm, {}.", amps(in.idle_a.value), gain)}};
    }
    return {{VerdictState::in_window, "in window",
             worded("The idle current settles from {} cold at {} ({}) warm, {}.",
                    amps(in.idle_a.value), amps(bias.other_a->value),
                    print_range(bias.other_a->low, bias.other_a->high, Unit::ampere, 3), gain)}};
}

Curve line_curve(std::string key, std::string label, CurveRole role, const Axis& x, const Axis& y) {
    return {std::move(key), std::move(label), role, x, y};
}

Axis level_axis() { return {"Peak output", Unit::volt, {}}; }

/// Heat against level, and with a sink the temperatures.
void add_level_curves(const Given& in, const Heat& heat, const Thermal& thermal,
                      std::vector<Curve>& heats, std::vector<Curve>& temperatures) {
    const DrivenStage driven = driven_at(in, Corner::nominal);
    const bool sink = thermal.known != SinkKnown::no;
    const Axis watt{"Heat, each device", Unit::watt, {}};
    const Axis celsius{"Temperature", Unit::celsius, {}};
    Curve average =
        line_curve("heat", "heat, each device", CurveRole::as_found, level_axis(), watt);
    Curve allowed = line_curve("allowed", "allowed", CurveRole::limit, level_axis(), watt);
    Curve junction = line_curve("junction", "junction", CurveRole::as_found, level_axis(), celsius);
    Curve sinks = line_curve("sink", "sink", CurveRole::target, level_axis(), celsius);
    for (int i = 0; i < k_level_points; ++i) {
        const double level_v = in.clip_v.value * i / (k_level_points - 1);
        const double heat_w = std::max(average_heat_w(driven, level_v), 0.0);
        const auto add = [level_v](Curve& curve, double y) {
            curve.x.values.push_back(level_v);
            curve.y.values.push_back(y);
        };
        add(average, heat_w);
        if (!sink) {
            continue;
        }
        const double sink_c = in.ambient_c.value + thermal.sink_k_per_w.value * in.devices * heat_w;
        const double case_c = sink_c + heat_w * in.case_sink_k_per_w.value;
        add(sinks, sink_c);
        if (in.junction_case_k_per_w) {
            add(junction, case_c + heat_w * in.junction_case_k_per_w->value);
        }
        if (in.rated_w) {
            add(allowed, derated_power_w(in.rated_w->value, in.junction_max_c.value, case_c));
        }
    }
    const auto point = [&watt](std::string key, std::string label, CurveRole role, double level_v,
                               double heat_w) {
        Curve curve = line_curve(std::move(key), std::move(label), role, level_axis(), watt);
        curve.x.values = {level_v};
        curve.y.values = {heat_w};
        return curve;
    };
    heats.push_back(std::move(average));
    if (!allowed.x.values.empty()) {
        heats.push_back(std::move(allowed));
    }
    heats.push_back(point("worst", worded("worst, {}", volts(heat.worst_v.value)), CurveRole::point,
                          heat.worst_v.value, heat.worst_w.value));
    if (in.use != Use::worst) {
        heats.push_back(point("use", std::string(use_words(in.use)), CurveRole::point,
                              heat.use_v.value, heat.use_w.value));
    }
    if (sink) {
        if (!junction.x.values.empty()) {
            Curve limit = line_curve("junction_limit", "junction limit", CurveRole::limit,
                                     level_axis(), celsius);
            limit.x.values = {0, in.clip_v.value};
            limit.y.values = {in.junction_max_c.value, in.junction_max_c.value};
            temperatures.push_back(std::move(junction));
            temperatures.push_back(std::move(limit));
        }
        temperatures.push_back(std::move(sinks));
    }
}

/// The load line at the clip, each way with rising volts, and the safe area round it.
std::vector<Curve> load_line_curves(const Given& in, const Heat& heat, const SafeArea& area,
                                    double case_c) {
    const Axis across{"V_CE", Unit::volt, {}};
    const Axis through{"I_C, each device", Unit::ampere, {}};
    const auto branch = [&](std::string key, std::string label, auto first, auto last) {
        std::vector<DevicePoint> points(first, last);
        std::stable_sort(points.begin(), points.end(), [](const auto& a, const auto& b) {
            return a.collector_v < b.collector_v;
        });
        Curve curve =
            line_curve(std::move(key), std::move(label), CurveRole::as_found, across, through);
        for (const DevicePoint& point : points) {
            curve.x.values.push_back(point.collector_v);
            curve.y.values.push_back(point.collector_a);
        }
        return curve;
    };
    const auto& line = heat.nominal.line;
    std::vector<Curve> curves;
    if (in.phase_deg.value > 0) {
        curves.push_back(branch("load_line_falling", "load line, output falling",
                                line.begin() + k_line_steps, line.end()));
        curves.push_back(branch("load_line_rising", "load line, output rising", line.begin(),
                                line.begin() + k_line_steps + 1));
    } else {
        curves.push_back(branch("load_line", "load line", line.begin() + k_line_steps, line.end()));
    }
    if (in.has_safe_area()) {
        Curve limit = line_curve("safe_area", worded("safe area, case {}", degrees(case_c)),
                                 CurveRole::limit, across, through);
        double greatest_a = 0;
        for (const DevicePoint& point : line) {
            greatest_a = std::max(greatest_a, point.collector_a);
        }
        // Far above the load line the limit would only squeeze the picture.
        const double ceiling_a =
            std::max(3 * greatest_a, std::isfinite(area.current_max_a) ? area.current_max_a : 0.0);
        const double most_v = std::min(2.1 * in.rail_v.value, area.collector_max_v);
        constexpr int k_points = 60;
        for (int i = 0; i <= k_points; ++i) {
            const double collector_v = std::pow(most_v, static_cast<double>(i) / k_points);
            const double current_a = safe_current(area, collector_v, case_c).current_a;
            if (current_a <= ceiling_a) {
                limit.x.values.push_back(collector_v);
                limit.y.values.push_back(current_a);
            }
        }
        if (std::isfinite(area.collector_max_v) && most_v == area.collector_max_v) {
            limit.x.values.push_back(most_v);
            limit.y.values.push_back(0);
        }
        if (!limit.x.values.empty()) {
            curves.push_back(std::move(limit));
        }
    }
    return curves;
}

void add_cautions(const Inputs& inputs, const Given& in, const Thermal& thermal,
                  const std::vector<Finding>& findings, Outcome& outcome) {
    auto& cautions = outcome.cautions;
    const bool runs_away =
        std::any_of(findings.begin(), findings.end(), [](const Finding& finding) {
            return finding.verdict.word == "outside, runs away";
        });
    if (runs_away) {
        cautions.emplace_back("Stay with it: turn the trim to its least, feed it through the "
                              "series lamp, and switch off when the idle current keeps climbing.");
    }
    if (thermal.known != SinkKnown::no && thermal.sink_c.high >= k_burning_c) {
        cautions.push_back(worded("The sink reaches {}: metal from {} up burns skin.",
                                  degrees(thermal.sink_c.value), degrees(k_burning_c)));
    }
    if (const std::string_view caution = washer_info(in.washer).caution; !caution.empty()) {
        cautions.emplace_back(caution);
    }
    if (in.washer == Washer::bare_grease || in.washer == Washer::none) {
        cautions.push_back(worded("Without a washer the sink carries collector volts, up to "
                                  "±{} to ground.",
                                  print_short(in.rail_v.value, Unit::volt)));
    }
    const bool live = in.sink_reading_c || inputs.contains("output") ||
                      amount_if_given(inputs, "idle_reading") != nullptr;
    if (live) {
        cautions.push_back(worded("These readings are taken with the unit live: mains, and "
                                  "reservoirs that hold ±{} after switch-off. Fix probes and "
                                  "thermocouple with the power off.",
                                  print_short(in.rail_v.value, Unit::volt)));
    }
}

void add_notes(const Inputs& inputs, const Given& in, const Thermal& thermal, Outcome& outcome) {
    auto& notes = outcome.notes;
    if (in.output_missing) {
        notes.emplace_back("No output volts given: judged at the worst level.");
    }
    if (!in.idle_known) {
        notes.push_back(worded("No idle current given: taken as {}, from none to the crossover "
                               "ceiling. It matters little at the worst level, much at low "
                               "level.",
                               amps(in.idle_a.value)));
    }
    if (!in.clip_known) {
        notes.push_back(worded("Clip taken from the rail, {} ({}).", volts(in.clip_v.value),
                               print_range(in.clip_v.low, in.clip_v.high, Unit::volt, 3)));
    }
    if (!in.case_sink_known && thermal.known != SinkKnown::no) {
        notes.push_back(worded("Washer: {}, {} case to sink, typical of its kind.",
                               washer_info(in.washer).label,
                               print_range(in.case_sink_k_per_w.low, in.case_sink_k_per_w.high,
                                           Unit::kelvin_per_watt, 2)));
    }
    if (in.junction_case_implied) {
        notes.push_back(
            worded("Junction to case taken from the rating: {}.",
                   print_value(in.junction_case_k_per_w->value, Unit::kelvin_per_watt, 2)));
    }
    switch (thermal.known) {
    case SinkKnown::no:
        if (in.sink_reading_c) {
            notes.emplace_back("A sink reading tells its resistance only with the power at that "
                               "reading, or with the idle current.");
        } else {
            notes.emplace_back("Give the sink's resistance, or its temperature at a known power, "
                               "and the temperatures follow.");
        }
        break;
    case SinkKnown::read_at_idle:
        notes.push_back(worded("Sink taken as read with {} devices idling; drivers on it make "
                               "it look worse than it is.",
                               in.devices));
        break;
    case SinkKnown::read:
        if (in.sink_k_per_w) {
            notes.emplace_back("The sink's reading is used, not its stated resistance.");
        }
        break;
    case SinkKnown::stated:
        break;
    }
    if (thermal.known != SinkKnown::no) {
        notes.push_back(worded("{} devices heat the sink alike; drivers are not counted. Good "
                               "to about 20\u2009% in free air.",
                               in.devices));
        if (!in.junction_case_k_per_w) {
            notes.emplace_back(
                "Give junction to case or the rated power, and the junction follows.");
        }
    }
    const auto half_given = [&](std::string_view a, std::string_view b) {
        return inputs.contains(a) != inputs.contains(b);
    };
    if (half_given("safe_volts_1", "safe_current_1") ||
        half_given("safe_volts_2", "safe_current_2")) {
        notes.emplace_back("A safe-area point needs its volts and its current; half of one is not "
                           "used.");
    } else if (in.safe_v_2 && !in.safe_v_1) {
        notes.emplace_back("The second safe-area point is used only beside the first.");
    }
    if (in.has_safe_area()) {
        notes.emplace_back("Held against the direct-current area: short peaks may go beyond it as "
                           "far as the data sheet's pulse lines, bass may not.");
    }
    if (!inputs.contains("gain")) {
        notes.push_back(worded("Output gain taken as {} or more, for a generic output device.",
                               print_short(in.gain.low, Unit::ratio)));
    }
}

Result<Outcome> compute(const Inputs& inputs) {
    const Result<Given> checked = heat_given(inputs);
    if (!checked) {
        return checked.error();
    }
    const Given& in = *checked;
    const Result<std::vector<SafeArea>> areas = areas_of(in);
    if (!areas) {
        return areas.error();
    }
    const Heat heat = heat_of(in);
    const Result<Thermal> settled = thermal_of(in, heat);
    if (!settled) {
        return settled.error();
    }
    const Thermal& thermal = *settled;
    const Interval case_c = judged_case_c(thermal);

    Outcome outcome;
    const auto add = [&outcome](std::string key, std::string label, std::string symbol,
                                const Interval& value, Unit unit) {
        outcome.figures.push_back(
            {std::move(key), std::move(label), std::move(symbol), to_amount(value, unit)});
    };
    std::vector<Finding> findings;

    if (const auto bias = bias_finding(in, thermal)) {
        findings.push_back(bias_verdict(*bias, in));
        add("loop_gain", "Thermal loop gain of the bias", "G", bias->gain, Unit::ratio);
        if (bias->other_a) {
            add(in.idle_warm ? "idle_cold" : "idle_warm",
                in.idle_warm ? "Idle current when cold" : "Idle current when warm", "I_q",
                *bias->other_a, Unit::ampere);
        }
    }
    if (thermal.junction_c) {
        findings.push_back(junction_finding(in, thermal));
    }
    if (in.rated_w && thermal.known != SinkKnown::no) {
        const Interval allowed_w =
            monotone(derated_power_w, *in.rated_w, in.junction_max_c, case_c);
        const Interval room_w = allowed_w - heat.use_w;
        findings.push_back(rating_finding(heat, allowed_w, room_w, case_c));
        add("allowed", worded("Allowed at a case of {}", degrees(case_c.value)), "P_max", allowed_w,
            Unit::watt);
        add("rating_margin", "Left under the derated rating", "", room_w, Unit::watt);
    }
    if (in.has_safe_area()) {
        const SafeFinding safe = safe_finding(heat, *areas, case_c);
        findings.push_back(safe_verdict(safe, thermal, case_c));
        add("safe_margin", "Safe area over load line, least", "", safe.ratio, Unit::ratio);
    }

    // The headline leads; what was found on the way stands behind the heat and the temperatures.
    std::vector<Figure> judged_figures = std::move(outcome.figures);
    outcome.figures.clear();
    if (thermal.junction_c) {
        add("junction", worded("Junction at {}", use_words(in.use)), "T_j", *thermal.junction_c,
            Unit::celsius);
    }
    add("dissipation", worded("Heat, each device, at {}", use_words(in.use)), "P", heat.use_w,
        Unit::watt);
    if (in.use != Use::worst) {
        add("level", worded("Peak output at {}", use_words(in.use)), "V_p", heat.use_v, Unit::volt);
    }
    if (thermal.known != SinkKnown::no) {
        add("sink_temperature", worded("Sink at {}", use_words(in.use)), "T_sink", thermal.sink_c,
            Unit::celsius);
        add("case_temperature", worded("Case at {}", use_words(in.use)), "T_case", thermal.case_c,
            Unit::celsius);
    }
    add("worst_dissipation", "Heat, each device, worst level", "P_max", heat.worst_w, Unit::watt);
    add("worst_level", "Worst level, peak output", "V_p", heat.worst_v, Unit::volt);
    add("idle_dissipation", "Heat, each device, nothing playing", "P_q", heat.idle_w, Unit::watt);
    add("peak_dissipation", "Peak heat, each device, full level", "P_pk", heat.peak_w, Unit::watt);
    outcome.figures.insert(outcome.figures.end(), judged_figures.begin(), judged_figures.end());
    if (thermal.known != SinkKnown::no) {
        add("sink_resistance", "Sink to air", "R_thSA", thermal.sink_k_per_w,
            Unit::kelvin_per_watt);
        add("sink_idle", "Sink with nothing playing", "", thermal.sink_idle_c, Unit::celsius);
    }

    outcome.headline_note =
        thermal.junction_c
            ? worded("{}, {} each at {} peak, sink {}", degrees(*thermal.junction_c),
                     watts(heat.use_w.value), volts(heat.use_v.value),
                     degrees(thermal.sink_c.value))
            : worded("{} each at {} peak, {} {}",
                     print_range(heat.use_w.low, heat.use_w.high, Unit::watt, 3),
                     volts(heat.use_v.value), in.pairs, in.pairs == 1 ? "pair" : "pairs");

    bool load_line_first = false;
    if (findings.empty()) {
        outcome.verdict = {VerdictState::undecided, "undecided",
                           worded("{} each at {} with nothing to judge it by: give the sink "
                                  "and the device's rating.",
                                  watts(heat.use_w.value), use_words(in.use))};
    } else {
        const auto worst = std::max_element(
            findings.begin(), findings.end(),
            [](const Finding& a, const Finding& b) { return trouble(a) < trouble(b); });
        outcome.verdict = worst->verdict;
        load_line_first = worst->on_load_line;
        for (auto finding = findings.begin(); finding != findings.end(); ++finding) {
            if (finding != worst) {
                outcome.notes.push_back(finding->verdict.reason);
            }
        }
    }
    add_cautions(inputs, in, thermal, findings, outcome);
    add_notes(inputs, in, thermal, outcome);

    // The first curve's axes are those of the picture: the load line where that decides.
    outcome.plot = PlotKind::lines;
    std::vector<Curve> heats;
    std::vector<Curve> temperatures;
    add_level_curves(in, heat, thermal, heats, temperatures);
    std::vector<Curve> line = load_line_curves(in, heat, areas->front(), case_c.value);
    auto& curves = outcome.curves;
    const auto append = [&curves](std::vector<Curve>& group) {
        std::move(group.begin(), group.end(), std::back_inserter(curves));
    };
    if (load_line_first) {
        append(line);
    }
    append(heats);
    append(temperatures);
    if (!load_line_first) {
        append(line);
    }
    return outcome;
}

} // namespace

Working heat_working() {
    return {"heat",
            "Heat and sink",
            "How hot do the output devices get, and do they stand it?",
            heat_fields(),
            compute,
            "Class B dissipation over a sine; thermal Ohm's law; data-sheet safe area"};
}

} // namespace railside
