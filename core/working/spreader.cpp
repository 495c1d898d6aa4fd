// Bias spreader: what the trim can reach, and which single fault the readings fit.
//
// The stage is solved as a circuit over the trim's travel (core/stage/spread.h), whole and with
// each fault. Idle current is exponential in the volts between the bases, so every doubt is first
// turned into the spread volts that would do the same, those are added up, and the sum is turned
// back into a reading over the stage's own characteristic.
#include "core/device/model_card.h"
#include "core/quantity/interval.h"
#include "core/quantity/refusal.h"
#include "core/quantity/value_code.h"
#include "core/stage/merged_pairs.h"
#include "core/stage/spread.h"
#include "core/words/words.h"
#include "core/working/entries.h"
#include "core/working/inputs.h"
#include "core/working/stage_fields.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

namespace railside {

namespace {

constexpr std::array k_kinds{
    Choice{"multiplier", "V_BE multiplier"},
    Choice{"diodes", "diode string"},
};
constexpr std::array k_places{
    Choice{"lower", "base to emitter"},
    Choice{"upper", "collector to base"},
    Choice{"divider", "between, wiper to base"},
};

constexpr Condition k_with_multiplier{"kind", "multiplier"};
constexpr Condition k_with_diodes{"kind", "diodes"};

constexpr Field only(Field field, Condition when) {
    field.when = when;
    return field;
}

constexpr Field arm_field(std::string_view key, std::string_view label, std::string_view symbol,
                          std::string_view help) {
    return {.key = key,
            .label = label,
            .symbol = symbol,
            .help = help,
            .unit = Unit::ohm,
            .low = 10,
            .high = 1e5,
            .usual_low = 100,
            .usual_high = 10000,
            .spread = Spread::tolerance,
            .default_spread = 0.05,
            .when = k_with_multiplier};
}

constexpr Field reading_field(std::string_view key, std::string_view label, std::string_view symbol,
                              std::string_view help) {
    return {.key = key,
            .label = label,
            .symbol = symbol,
            .help = help,
            .need = Need::optional,
            .unit = Unit::volt,
            .low = 0,
            .high = 40,
            .usual_low = 0,
            .usual_high = 1,
            .spread = Spread::meter};
}

constexpr std::array k_fields{
    Field{.key = "kind",
          .label = "Spreader",
          .help = "A transistor with a divider round it, or diodes in a row.",
          .kind = FieldKind::choice,
          .by_default = "multiplier",
          .choices = k_kinds},
    only({.key = "trim_place",
          .label = "Trim",
          .help = "Where the trim pot sits in the divider; between, with its wiper to the base, "
                  "when all three of its ends are used.",
          .kind = FieldKind::choice,
          .by_default = "lower",
          .choices = k_places},
         k_with_multiplier),
    arm_field("upper", "Upper resistor", "R_U", "Fixed resistor from collector to base."),
    arm_field("lower", "Lower resistor", "R_L", "Fixed resistor from base to emitter."),
    only({.key = "diodes",
          .label = "Diodes",
          .symbol = "N",
          .help = "Diodes in the string, as the board was made.",
          .unit = Unit::ratio,
          .low = 1,
          .high = 8,
          .usual_low = 2,
          .usual_high = 5,
          .by_default = "3",
          .spread = Spread::count},
         k_with_diodes),
    Field{.key = "trim",
          .label = "Trim pot",
          .symbol = "R_T",
          .help = "Its whole track; 0 where there is none.",
          .unit = Unit::ohm,
          .low = 0,
          .high = 1e5,
          .usual_low = 50,
          .usual_high = 5000,
          .spread = Spread::tolerance,
          .default_spread = 0.2},
    Field{.key = "position",
          .label = "Trim stands at",
          .help = "Part of its travel from least bias to most, if it can be seen.",
          .need = Need::optional,
          .unit = Unit::percent,
          .low = 0,
          .high = 1,
          .usual_low = 0,
          .usual_high = 1},
    stage_field::k_topology,
    stage_field::k_rail,
    stage_field::k_emitter,
    stage_field::k_pairs,
    stage_field::k_supply_current,
    stage_field::k_feed,
    stage_field::k_driver_resistor,
    stage_field::k_base_stopper,
    Field{.key = "temperature",
          .label = "Unit's temperature",
          .symbol = "T",
          .help = "Of all its transistors: the room's when it has only just been switched on.",
          .unit = Unit::celsius,
          .low = -20,
          .high = 125,
          .usual_low = 10,
          .usual_high = 60,
          .by_default = "25"},
    Field{.key = "fuse",
          .label = "Rail fuse",
          .help = "Its rating; a fault that draws more is told as a blown fuse.",
          .unit = Unit::ampere,
          .low = 0.1,
          .high = 50,
          .usual_low = 0.5,
          .usual_high = 15,
          .by_default = "4"},
    Field{.key = "target",
          .label = "Target",
          .symbol = "V_target",
          .help = "Volts across one emitter resistor that the service manual asks for.",
          .need = Need::optional,
          .unit = Unit::volt,
          .low = 0.0001,
          .high = 2,
          .usual_low = 0.002,
          .usual_high = 0.1},
    reading_field("spread_reading", "Spread, read", "V_s",
                  "Volts between the two base nodes, with the trim as it stands."),
    reading_field("reading", "Reading", "V_RE",
                  "Volts across one emitter resistor, with the trim as it stands."),
    reading_field("reading_least", "Reading, least bias", "V_RE,low",
                  "Volts across one emitter resistor with the trim at its least."),
    reading_field("reading_most", "Reading, most bias", "V_RE,high",
                  "Volts across one emitter resistor with the trim at its most; stop where it gets "
                  "hot."),
    stage_field::k_output_plus,
    stage_field::k_output_minus,
    stage_field::k_driver_plus,
    stage_field::k_driver_minus,
    only(stage_field::k_pre_driver_plus, {"topology", "triple"}),
    only(stage_field::k_pre_driver_minus, {"topology", "triple"}),
    only(stage_field::k_spreader_type, k_with_multiplier),
    only({.key = "diode_type",
          .label = "Diodes' type",
          .help = "A SPICE .model card of one diode; empty for a generic one.",
          .kind = FieldKind::device,
          .need = Need::optional},
         k_with_diodes),
};

// A small silicon diode: 0.66 V at 5 mA, give or take.
constexpr DiodeModel k_generic_diode{.saturation_a = 2.5e-9, .emission = 1.75, .series_ohm = 0.6};
constexpr double k_generic_diode_shift_v = 0.04;
constexpr double k_card_diode_shift_v = 0.005;
constexpr double k_leak_ohm = 1000; // the leak that the table supposes
// The leaks that readings are held against.
constexpr std::array k_leaks_ohm{1000.0, 390.0, 2200.0, 4700.0, 10000.0};
// Of the travel: where a pot's ends begin, and a setting is neither fine nor lasting.
constexpr double k_end_of_travel = 0.05;
// A meter on its lowest range shows less as nothing.
constexpr double k_nothing_v = 1e-4;
// What a series lamp lets through each rail at the least, once it is bright.
constexpr double k_lamp_a = 0.15;
constexpr int k_points = 33;
constexpr int k_fault_points = 9;

std::string volts(double value) { return print_value(value, Unit::volt, 3); }
std::string reading_text(double value) {
    return value < k_nothing_v ? worded("under 0.1\u2009mV") : volts(value);
}
std::string reading_range(double low, double high) {
    return low < k_nothing_v ? worded("{} to {}", reading_text(low), reading_text(high))
                             : print_range(low, high, Unit::volt, 3);
}
std::string travel(double position) { return print_value(position, Unit::percent, 2); }

/// The stage and its spreader with all typical, or with one doubt at one end.
struct Case {
    StageValues values;
    SpreaderParts parts;
};
struct Doubt {
    Case low;
    Case high;
    bool in_spreader = false; // a doubt about the spreader, not about what it drives
};

/// Everything a computation wants from the inputs.
struct Given {
    Case typical;
    std::vector<Doubt> doubts;
    StageGiven stage;
    bool multiplier = true;
    TrimPlace place = TrimPlace::lower_arm;
    double rail_v = 0;
    double fuse_a = 0;
    const Amount* target = nullptr;
    const Amount* position = nullptr;
    const Amount* spread = nullptr;
    const Amount* reading = nullptr;
    const Amount* least = nullptr;
    const Amount* most = nullptr;
    std::string diode; // which diode constants

    [[nodiscard]] bool has_readings() const {
        return spread != nullptr || reading != nullptr || least != nullptr || most != nullptr;
    }
};

TrimPlace place_of(std::string_view word) {
    return word == "upper"     ? TrimPlace::upper_arm
           : word == "divider" ? TrimPlace::divider
                               : TrimPlace::lower_arm;
}

std::string_view device_text(const Inputs& inputs, std::string_view key) {
    const auto held = inputs.find(key);
    return held == inputs.end() ? std::string_view{} : std::string_view(held->second.word);
}

/// A doubt about the spreader itself.
template <class Set> void doubt(Given& in, double low, double high, Set&& set) {
    if (low < high) {
        Doubt each{in.typical, in.typical, true};
        set(each.low, low);
        set(each.high, high);
        in.doubts.push_back(each);
    }
}

DiodeModel shifted(DiodeModel model, double shift_v) {
    const double thermal_v = k_boltzmann_v_per_k * (model.card_c + k_zero_celsius_k);
    model.saturation_a *= std::exp(-shift_v / (model.emission * thermal_v));
    return model;
}

Result<DiodeModel> diode_of(std::string_view text) {
    constexpr std::string_view k_name = "Diodes' type";
    if (!looks_like_card(text)) {
        return refusal(ErrorCode::not_found, k_name,
                       worded("{} is not a card. Accepted: the text of a SPICE .model card of "
                              "a diode, or nothing for a generic one.",
                              quoted(text)));
    }
    const auto cards = read_model_cards(text, k_name);
    if (!cards) {
        return cards.error();
    }
    for (const ModelCard& card : cards->cards) {
        if (const auto* model = std::get_if<DiodeModel>(&card.constants)) {
            return *model;
        }
    }
    return refusal(ErrorCode::contradictory, k_name, "the card is not a diode's.");
}

Result<Given> given_in(const Inputs& inputs) {
    auto stage = stage_given(inputs);
    if (!stage) {
        return stage.error();
    }
    Given in;
    in.stage = std::move(stage).value();
    in.multiplier = given(inputs, "kind").word != "diodes";
    in.rail_v = amount_of(inputs, "rail").value;
    in.fuse_a = amount_of(inputs, "fuse").value;
    in.target = amount_if_given(inputs, "target");
    in.position = amount_if_given(inputs, "position");
    in.spread = amount_if_given(inputs, "spread_reading");
    in.reading = amount_if_given(inputs, "reading");
    in.least = amount_if_given(inputs, "reading_least");
    in.most = amount_if_given(inputs, "reading_most");

    const double celsius = amount_of(inputs, "temperature").value;
    const auto prepare = [celsius](StageValues& values) {
        values.temperatures = {celsius, celsius, celsius, celsius};
        values.devices.diode = k_generic_diode;
    };
    prepare(in.stage.values);
    double diode_shift_v = k_generic_diode_shift_v;
    const Amount& trim = amount_of(inputs, "trim");
    if (in.multiplier) {
        in.place = place_of(given(inputs, "trim_place").word);
        in.typical.parts = MultiplierParts{amount_of(inputs, "upper").value,
                                           amount_of(inputs, "lower").value, trim.value, in.place};
    } else {
        in.typical.parts =
            StringParts{static_cast<int>(amount_of(inputs, "diodes").value), trim.value};
        const std::string_view text = device_text(inputs, "diode_type");
        if (!text.empty()) {
            const auto diode = diode_of(text);
            if (!diode) {
                return diode.error();
            }
            in.stage.values.devices.diode = *diode;
            diode_shift_v = k_card_diode_shift_v;
            in.diode = "diodes: card";
        } else {
            in.diode = "diodes: generic small silicon";
        }
    }
    in.typical.values = in.stage.values;

    const DiodeModel diode = in.typical.values.devices.diode;
    for (const StageGiven::Ends& ends : in.stage.doubts) {
        Doubt each{{ends.low, in.typical.parts}, {ends.high, in.typical.parts}, false};
        for (StageValues* values : {&each.low.values, &each.high.values}) {
            prepare(*values);
            values->devices.diode = diode;
        }
        in.doubts.push_back(each);
    }
    doubt(in, trim.low, trim.high, [](Case& each, double ohm) {
        std::visit([ohm](auto& parts) { parts.trim_ohm = ohm; }, each.parts);
    });
    if (!in.multiplier) {
        doubt(in, -diode_shift_v, diode_shift_v, [&diode](Case& each, double shift_v) {
            each.values.devices.diode = shifted(diode, shift_v);
        });
        return in;
    }
    const Amount& upper = amount_of(inputs, "upper");
    const Amount& lower = amount_of(inputs, "lower");
    doubt(in, upper.low, upper.high,
          [](Case& each, double ohm) { std::get<MultiplierParts>(each.parts).upper_ohm = ohm; });
    doubt(in, lower.low, lower.high,
          [](Case& each, double ohm) { std::get<MultiplierParts>(each.parts).lower_ohm = ohm; });
    const std::string_view text = device_text(inputs, "spreader_type");
    const auto spreader =
        device_constants(Role::bias_spreader, Polarity::npn, text, "Spreader transistor");
    if (!spreader) {
        return spreader.error();
    }
    if (text.empty()) {
        in.stage.constants.push_back(said("spreader", *spreader));
    }
    doubt(in, -spreader->shift_v, spreader->shift_v, [&](Case& each, double shift_v) {
        each.values.devices.spreader = moved(spreader->model, 1, shift_v);
    });
    doubt(in, spreader->gain_low, spreader->gain_high, [&](Case& each, double gain) {
        each.values.devices.spreader = moved(spreader->model, gain, 0);
    });
    return in;
}

/// The stage's reading against the volts between its bases: both ways, rising.
class Characteristic {
  public:
    static Result<Characteristic> of(const StageValues& values, double low_v, double high_v) {
        StageValues fixed = merged_pairs(values);
        fixed.spreader = FixedSpreader{low_v};
        auto circuit = StageCircuit::build(fixed, Drive::regulated, OpenLoad{});
        if (!circuit) {
            return circuit.error();
        }
        Characteristic result;
        // Finer where the current turns from exponential to straight.
        constexpr int k_steps = 36;
        for (int i = 0; i <= k_steps; ++i) {
            const double spread_v = low_v + (high_v - low_v) * i / k_steps;
            circuit->set_spread(spread_v);
            const auto point = circuit->solve();
            if (!point) {
                break; // no further: the stage cannot hold its output
            }
            const double reading_v = std::max(point->reading_plus_v.front(), k_least_v);
            if (!result.spread_v_.empty() && std::log(reading_v) <= result.log_.back()) {
                continue; // dark: leakage only
            }
            result.spread_v_.push_back(spread_v);
            result.log_.push_back(std::log(reading_v));
        }
        if (result.log_.size() < 2) {
            return refusal(ErrorCode::contradictory, "Supply current",
                           "the stage cannot hold its output at rest with these values.");
        }
        return result;
    }

    /// The spread volts that give a reading; the nearest end beyond the table.
    [[nodiscard]] double spread_for(double reading_v) const {
        return between(log_, spread_v_, std::log(std::max(reading_v, k_least_v)));
    }
    /// The reading at spread volts.
    [[nodiscard]] double reading_at(double spread_v) const {
        return std::exp(between(spread_v_, log_, spread_v));
    }
    [[nodiscard]] double low_v() const { return spread_v_.front(); }
    [[nodiscard]] double high_v() const { return spread_v_.back(); }

  private:
    static constexpr double k_least_v = 1e-9;

    static double between(const std::vector<double>& x, const std::vector<double>& y, double at) {
        if (at <= x.front()) {
            return y.front();
        }
        if (at >= x.back()) {
            return y.back();
        }
        const auto above = std::upper_bound(x.begin(), x.end(), at);
        const auto i = static_cast<std::size_t>(above - x.begin());
        const double part = (at - x[i - 1]) / (x[i] - x[i - 1]);
        return y[i - 1] + part * (y[i] - y[i - 1]);
    }

    std::vector<double> spread_v_;
    std::vector<double> log_;
};

/// A trim's place with everything that is not certain about it.
struct Reach {
    double position = 0;
    Interval spread_v;
    Interval bias_v; // the spread that would give the typical stage this reading
    Interval reading_v;
    Interval feed_a;
    Interval stage_v; // bias_v with the doubts about the stage alone
};

/// What the working knows before it judges.
struct Answer {
    std::vector<SpreadPoint> curve;
    std::vector<double> bias_v; // along the curve
    std::vector<Reach> reach;   // least bias, the target's place, most bias, the one shown
    std::optional<double> target_position;
    Interval target_travel; // where the trim may have to stand for the target
    bool target_reached = false;

    [[nodiscard]] const Reach& least() const { return reach.front(); }
    [[nodiscard]] const Reach& most() const { return reach[2]; }
};

Error in_contradiction(const Error& error) {
    return {ErrorCode::contradictory, error.field.empty() ? "Spreader" : error.field,
            error.message.ends_with('.')
                ? error.message
                : "Spreader: the stage cannot be solved with these values."};
}

/// A quantity along the curve, from its position; the nearest end beyond.
template <class F> double along(const std::vector<SpreadPoint>& curve, double position, F&& y) {
    const auto above = std::find_if(curve.begin(), curve.end(), [position](const auto& point) {
        return point.position >= position;
    });
    if (above == curve.begin()) {
        return y(0);
    }
    if (above == curve.end()) {
        return y(curve.size() - 1);
    }
    const auto i = static_cast<std::size_t>(above - curve.begin());
    const double part =
        (position - curve[i - 1].position) / (curve[i].position - curve[i - 1].position);
    return y(i - 1) + part * (y(i) - y(i - 1));
}

/// Where along a rising curve of bias it passes `bias_v`; the end of the travel when beyond.
double position_of(const Answer& answer, double bias_v) {
    const auto& bias = answer.bias_v;
    if (bias_v <= bias.front()) {
        return 0;
    }
    for (std::size_t i = 1; i < bias.size(); ++i) {
        if (bias[i] >= bias_v && bias[i] > bias[i - 1]) {
            const double part = (bias_v - bias[i - 1]) / (bias[i] - bias[i - 1]);
            return answer.curve[i - 1].position +
                   part * (answer.curve[i].position - answer.curve[i - 1].position);
        }
    }
    return 1;
}

Result<Characteristic> characteristic_of(const Given& in, const Answer& answer) {
    constexpr double k_beyond_v = 0.9;
    return Characteristic::of(
        in.typical.values, std::max(answer.curve.front().spread_v - k_beyond_v, 0.2),
        std::max(answer.curve.back().spread_v, answer.curve.front().spread_v) + k_beyond_v);
}

/// The places of the trim with the doubts added up.
Result<std::vector<Reach>> reach_of(const Given& in, const Characteristic& stage,
                                    std::span<const double> positions) {
    const auto typical = spread_over_trim(in.typical.values, in.typical.parts, positions);
    if (!typical) {
        return typical.error();
    }
    std::vector<Reach> reach;
    for (const SpreadPoint& point : *typical) {
        reach.push_back({point.position, Interval::exact(point.spread_v),
                         Interval::exact(stage.spread_for(point.reading_v)),
                         Interval::exact(point.reading_v), Interval::exact(point.feed_a),
                         Interval::exact(stage.spread_for(point.reading_v))});
    }
    const auto grow = [](Interval& interval, double below, double above) {
        interval.low += below;
        interval.high += above;
    };
    for (const Doubt& each : in.doubts) {
        const auto low = spread_over_trim(each.low.values, each.low.parts, positions);
        const auto high = spread_over_trim(each.high.values, each.high.parts, positions);
        for (std::size_t i = 0; i < reach.size(); ++i) {
            double spread_down = 0;
            double spread_up = 0;
            double bias_down = 0;
            double bias_up = 0;
            double feed_down = 0;
            double feed_up = 0;
            for (const auto* end : {&low, &high}) {
                if (!*end) {
                    continue;
                }
                const SpreadPoint& there = (**end)[i];
                const double spread = there.spread_v - reach[i].spread_v.value;
                const double bias = stage.spread_for(there.reading_v) - reach[i].bias_v.value;
                const double feed = there.feed_a - reach[i].feed_a.value;
                spread_down = std::min(spread_down, spread);
                spread_up = std::max(spread_up, spread);
                bias_down = std::min(bias_down, bias);
                bias_up = std::max(bias_up, bias);
                feed_down = std::min(feed_down, feed);
                feed_up = std::max(feed_up, feed);
            }
            grow(reach[i].spread_v, spread_down, spread_up);
            grow(reach[i].bias_v, bias_down, bias_up);
            grow(reach[i].feed_a, feed_down, feed_up);
            if (!each.in_spreader) {
                grow(reach[i].stage_v, bias_down, bias_up);
            }
        }
    }
    for (Reach& each : reach) {
        each.spread_v.low = std::max(each.spread_v.low, 0.0);
        each.reading_v.low = std::min(stage.reading_at(each.bias_v.low), each.reading_v.value);
        each.reading_v.high = std::max(stage.reading_at(each.bias_v.high), each.reading_v.value);
    }
    return reach;
}

// --- Readings against faults ---------------------------------------------------------------------

bool is_leak(SpreadFault fault) {
    return fault == SpreadFault::collector_leak || fault == SpreadFault::driver_leak;
}

/// A fault, what it shows, and how far the readings are from that.
struct Fit {
    FaultReading shown;
    double leak_ohm = k_leak_ohm;
    double gap_v = 0; // volts of bias between what it would read and what was read, beyond doubt
    double distance_v = 0; // the same from middle to middle
    double position = 0;   // of the trim where it fits best

    [[nodiscard]] bool fits() const { return gap_v <= 0; }
    /// A leak can be of any size, so that it fits nearly anything: others come first.
    [[nodiscard]] double handicap_v() const { return is_leak(shown.fault) ? 0.03 : 0; }
    /// Less is better; steps of what a meter tells apart, so that among equals the likelier stays
    /// first.
    [[nodiscard]] std::pair<bool, double> rank() const {
        constexpr double k_step_v = 0.005;
        return {!fits(), std::round((fits() ? distance_v + handicap_v() : gap_v) / k_step_v)};
    }
};

struct Apart {
    double gap_v = 0;
    double distance_v = 0;

    void add(const Interval& predicted, const Interval& read) {
        gap_v = std::max({gap_v, predicted.low - read.high, read.low - predicted.high});
        distance_v = std::max(distance_v, std::abs(predicted.value - read.value));
    }
};

/// How far a prediction may be off, volts: of the spread and of the bias.
struct Blur {
    double spread_part = 0; // of the spread, a fraction
    double bias_v = 0;      // of the reading alone
    double stage_v = 0;     // of the reading when the spread is read as well
};

Blur blur_of(const std::vector<Reach>& reach) {
    Blur blur;
    for (const Reach& each : reach) {
        const double spread_v = std::max(each.spread_v.value, 0.1);
        blur.spread_part = std::max(blur.spread_part, width(each.spread_v) / 2 / spread_v);
        blur.bias_v = std::max(blur.bias_v, width(each.bias_v) / 2);
        blur.stage_v = std::max(blur.stage_v, width(each.stage_v) / 2);
    }
    return blur;
}

class Readings {
  public:
    Readings(const Given& in, const Characteristic& stage, Blur blur)
        : in_(in), stage_(stage), blur_(blur) {}

    void judge(Fit& fit) const {
        if (fit.shown.over_trim.empty()) {
            fit.gap_v = fit.distance_v = 10; // nothing to compare with
            return;
        }
        const SpreadPoint& first = fit.shown.over_trim.front();
        const SpreadPoint& last = fit.shown.over_trim.back();
        Apart ends;
        if (in_.least != nullptr) {
            ends.add(bias_of(first), read(*in_.least));
        }
        if (in_.most != nullptr) {
            ends.add(bias_of(last), read(*in_.most));
        }
        // With the trim as it stands: at its known place, or wherever it fits best.
        Apart best{1e3, 1e3};
        const auto consider = [&](double position) {
            const SpreadPoint point = point_at(fit.shown, position);
            Apart here;
            if (in_.spread != nullptr) {
                here.add(spread_of(point), Interval::from(*in_.spread));
            }
            if (in_.reading != nullptr && in_.spread != nullptr) {
                here.add(bias_for_spread(point), read(*in_.reading));
            } else if (in_.reading != nullptr) {
                here.add(bias_of(point), read(*in_.reading));
            }
            if (here.gap_v < best.gap_v ||
                (here.gap_v <= best.gap_v && here.distance_v < best.distance_v)) {
                best = here;
                fit.position = position;
            }
        };
        if (in_.position != nullptr) {
            consider(in_.position->value);
        } else {
            constexpr int k_places = 100;
            for (int i = 0; i <= k_places; ++i) {
                consider(static_cast<double>(i) / k_places);
            }
        }
        fit.gap_v = std::max(ends.gap_v, best.gap_v);
        fit.distance_v = std::max(ends.distance_v, best.distance_v);
    }

  private:
    [[nodiscard]] SpreadPoint point_at(const FaultReading& shown, double position) const {
        const auto& curve = shown.over_trim;
        SpreadPoint point;
        point.position = position;
        point.spread_v = along(curve, position, [&](std::size_t i) { return curve[i].spread_v; });
        point.rail_a = along(curve, position, [&](std::size_t i) { return curve[i].rail_a; });
        const double bias_v = along(
            curve, position, [&](std::size_t i) { return stage_.spread_for(curve[i].reading_v); });
        point.reading_v = stage_.reading_at(bias_v);
        return point;
    }
    [[nodiscard]] bool limited(const SpreadPoint& point) const { return point.rail_a > in_.fuse_a; }
    /// The bias of the lamp's current: with a fuse out or a lamp in series nothing more is read.
    [[nodiscard]] double lamp_bias_v() const {
        return stage_.spread_for(k_lamp_a * in_.typical.values.emitter_ohm);
    }
    [[nodiscard]] Interval bias_of(const SpreadPoint& point) const {
        const double bias_v = stage_.spread_for(point.reading_v);
        const double low_v =
            limited(point) ? std::min(lamp_bias_v(), bias_v) : bias_v - blur_.bias_v;
        return {low_v, bias_v, bias_v + blur_.bias_v};
    }
    /// With the spread read, what the stage makes of it: the spreader's own doubts are out.
    [[nodiscard]] Interval bias_for_spread(const SpreadPoint& point) const {
        const double apart_v = stage_.spread_for(point.reading_v) -
                               std::clamp(point.spread_v, stage_.low_v(), stage_.high_v());
        const auto clamped = [this, apart_v](double spread_v) {
            return std::clamp(spread_v, stage_.low_v(), stage_.high_v()) + apart_v;
        };
        return {clamped(in_.spread->low) - blur_.stage_v, clamped(in_.spread->value),
                clamped(in_.spread->high) + blur_.stage_v};
    }
    [[nodiscard]] Interval spread_of(const SpreadPoint& point) const {
        constexpr double k_own_v = 0.02; // what a shorted or leaky part adds of its own
        const double blur_v = blur_.spread_part * point.spread_v + k_own_v;
        const double low_v = limited(point)
                                 ? std::min(lamp_bias_v() - blur_.stage_v, point.spread_v)
                                 : point.spread_v - blur_v;
        return {low_v, point.spread_v, point.spread_v + blur_v};
    }
    /// A reading as bias; nothing on the meter is anything below what it shows.
    [[nodiscard]] Interval read(const Amount& amount) const {
        Interval bias{stage_.spread_for(amount.low), stage_.spread_for(amount.value),
                      stage_.spread_for(amount.high)};
        if (amount.low <= k_nothing_v) {
            bias.low = -1;
            bias.high = std::max(bias.high, stage_.spread_for(k_nothing_v));
        }
        return bias;
    }

    const Given& in_;
    const Characteristic& stage_;
    Blur blur_;
};

std::vector<double> even_positions(int count) {
    std::vector<double> positions(static_cast<std::size_t>(count));
    for (int i = 0; i < count; ++i) {
        positions[static_cast<std::size_t>(i)] = static_cast<double>(i) / (count - 1);
    }
    return positions;
}

/// What a fault shows: the two ends of the trim, and more of its travel where it matters.
std::optional<Fit> shown_by(const Given& in, SpreadFault fault, double leak_ohm) {
    static constexpr std::array k_ends{0.0, 1.0};
    const auto at = [&](std::span<const double> positions) {
        return reading_with_fault(in.typical.values, in.typical.parts, fault, leak_ohm, positions);
    };
    auto reading = at(k_ends);
    if (reading && reading->trim_moves()) {
        reading = at(even_positions(k_fault_points));
    }
    if (!reading) {
        return std::nullopt;
    }
    return Fit{std::move(reading).value(), leak_ohm};
}

/// The whole spreader and every fault, against the readings when there are any: best fit first.
std::vector<Fit> hypotheses(const Given& in, const Characteristic& stage, const Answer& answer) {
    const Readings readings(in, stage, blur_of(answer.reach));
    std::vector<Fit> fits;
    Fit whole;
    whole.shown.over_trim = answer.curve;
    if (in.has_readings()) {
        readings.judge(whole);
    }
    fits.push_back(std::move(whole));
    std::vector<SpreadFault> faults = faults_of(in.typical.parts);
    faults.push_back(SpreadFault::driver_leak);
    for (const SpreadFault fault : faults) {
        const std::size_t sizes = in.has_readings() && is_leak(fault) ? k_leaks_ohm.size() : 1;
        std::optional<Fit> best;
        for (std::size_t i = 0; i < sizes; ++i) {
            auto fit = shown_by(in, fault, k_leaks_ohm[i]);
            if (fit && in.has_readings()) {
                readings.judge(*fit);
            }
            if (fit && (!best || fit->gap_v < best->gap_v ||
                        (fit->gap_v <= best->gap_v && fit->distance_v < best->distance_v))) {
                best = std::move(fit);
            }
        }
        if (best) {
            fits.push_back(*std::move(best));
        }
    }
    if (in.has_readings()) {
        std::stable_sort(fits.begin(), fits.end(),
                         [](const Fit& a, const Fit& b) { return a.rank() < b.rank(); });
    }
    return fits;
}

// --- Words ---------------------------------------------------------------------------------------

bool too_much(const Given& in, const SpreadPoint& point) { return point.rail_a > in.fuse_a; }

std::string would_read(const Given& in, const FaultReading& shown, double position) {
    if (shown.over_trim.empty()) {
        return "rail fuse blows, series lamp full on";
    }
    const auto& curve = shown.over_trim;
    const auto of = [&](auto member) {
        return along(curve, position, [&](std::size_t i) { return curve[i].*member; });
    };
    const double rail_a = of(&SpreadPoint::rail_a);
    if (shown.lost_hold || rail_a > in.fuse_a) {
        return worded("rail fuse blows, series lamp full on; spread {}",
                      volts(of(&SpreadPoint::spread_v)));
    }
    const double reading_v = std::exp(along(curve, position, [&](std::size_t i) {
        return std::log(std::max(curve[i].reading_v, 1e-12));
    }));
    std::string text =
        worded("{}, spread {}", reading_text(reading_v), volts(of(&SpreadPoint::spread_v)));
    const double heat_w = of(&SpreadPoint::output_w);
    constexpr double k_felt_w = 0.1;
    if (heat_w >= k_felt_w) {
        text += worded(", {} a device", print_value(heat_w, Unit::watt, 2));
    }
    return text;
}

std::string over_the_trim(const Given& in, const FaultReading& shown) {
    if (shown.over_trim.empty()) {
        return "does not matter";
    }
    if (!shown.trim_moves()) {
        return "does nothing";
    }
    const SpreadPoint& first = shown.over_trim.front();
    const SpreadPoint& last = shown.over_trim.back();
    if (too_much(in, first) && too_much(in, last)) {
        return "does not matter";
    }
    if (too_much(in, last) || shown.lost_hold) {
        return worded("{} to a blown fuse", reading_text(first.reading_v));
    }
    return reading_range(first.reading_v, last.reading_v);
}

std::string name_of(const Fit& fit) {
    std::string name(fault_name(fit.shown.fault));
    if (is_leak(fit.shown.fault)) {
        name += fmt::format(", {}", print_short(fit.leak_ohm, Unit::ohm));
    }
    return name;
}

OutcomeTable table_of(const Given& in, const std::vector<Fit>& fits, double position) {
    OutcomeTable table{
        "faults", "With each single fault", {"Fault", "Would read", "Over the trim"}, {}};
    if (in.has_readings()) {
        table.title = "Faults against the readings, best fit first";
        table.columns.emplace_back("Fits");
    }
    for (const Fit& fit : fits) {
        std::vector<std::string> row{name_of(fit), would_read(in, fit.shown, position),
                                     over_the_trim(in, fit.shown)};
        if (in.has_readings()) {
            constexpr double k_near_v = 0.03;
            row.emplace_back(fit.fits() ? "yes" : fit.gap_v < k_near_v ? "nearly" : "no");
        }
        table.rows.push_back(std::move(row));
    }
    return table;
}

std::string least_bias_words(const Given& in) {
    if (!in.multiplier || in.place == TrimPlace::upper_arm) {
        return "its least resistance";
    }
    return in.place == TrimPlace::lower_arm ? "its most resistance"
                                            : "its wiper at the collector's end";
}

std::string reach_text(const Answer& answer) {
    return reading_range(answer.least().reading_v.value, answer.most().reading_v.value);
}

Verdict verdict_of_reach(const Given& in, const Answer& answer) {
    const Reach& least = answer.least();
    const Reach& most = answer.most();
    if (in.target == nullptr) {
        return {VerdictState::undecided, "no target",
                worded("The trim covers {}; type the service value to have it judged.",
                       reach_text(answer))};
    }
    const Amount& target = *in.target;
    if (least.reading_v.low > target.high) {
        return {VerdictState::outside, "not reached",
                worded("Even at its least the trim leaves {}, above the target of {}.",
                       volts(least.reading_v.value), volts(target.value))};
    }
    if (most.reading_v.high < target.low) {
        return {VerdictState::outside, "not reached",
                worded("Even at its most the trim gives {}, below the target of {}.",
                       reading_text(most.reading_v.value), volts(target.value))};
    }
    const Interval& at = answer.target_travel;
    const bool inside = answer.target_reached && least.reading_v.high < target.low &&
                        most.reading_v.low > target.high;
    if (inside && at.value >= k_end_of_travel && at.value <= 1 - k_end_of_travel) {
        return {VerdictState::in_window, "in reach",
                worded("The target of {} lies at {} of the travel, {} by the parts' tolerances; "
                       "both ends clear it.",
                       volts(target.value), travel(at.value),
                       print_range(at.low, at.high, Unit::percent, 2))};
    }
    if (!answer.target_reached) {
        return {VerdictState::at_the_edge, "at the edge",
                worded("The trim covers {}; the target of {} is within the doubt beyond that.",
                       reach_text(answer), volts(target.value))};
    }
    return {VerdictState::at_the_edge, "at the edge",
            worded("The target of {} lies at {} of the travel, but {} within the doubt: near "
                   "or beyond its end.",
                   volts(target.value), travel(at.value),
                   print_range(at.low, at.high, Unit::percent, 2))};
}

/// "trim wiper open, C-E shorted or bypass capacitor shorted"
std::string names_of(const std::vector<const Fit*>& fits) {
    constexpr std::size_t k_most = 3;
    std::string text;
    const std::size_t shown = std::min(fits.size(), k_most);
    for (std::size_t i = 0; i < shown; ++i) {
        text += i == 0 ? "" : i + 1 == shown && shown == fits.size() ? " or " : ", ";
        text += name_of(*fits[i]);
    }
    if (fits.size() > shown) {
        text += worded(" or {} more", fits.size() - shown);
    }
    return text;
}

Verdict verdict_of_readings(const Given& in, const Answer& answer, const std::vector<Fit>& fits) {
    const Verdict reach = verdict_of_reach(in, answer);
    if (!in.has_readings()) {
        return reach;
    }
    const Fit* whole = nullptr;
    std::vector<const Fit*> faults;
    for (const Fit& fit : fits) {
        if (fit.shown.fault == SpreadFault::none) {
            whole = &fit;
        } else if (fit.fits()) {
            faults.push_back(&fit);
        }
    }
    if (whole->fits()) {
        const std::string_view tell = in.least == nullptr || in.most == nullptr
                                          ? "; read at both ends of the trim to tell"
                                          : "";
        if (whole != &fits.front()) {
            return {VerdictState::undecided, "undecided",
                    worded("A whole spreader could read so with its trim at {}, but closer "
                           "come {}{}.",
                           travel(whole->position), names_of(faults), tell)};
        }
        std::string reason = worded("The readings fit a whole spreader with its trim at {}.",
                                    travel(whole->position));
        if (in.target != nullptr) {
            reason += ' ' + reach.reason;
        }
        if (!faults.empty()) {
            reason += worded(" So could read: {}{}.", names_of(faults), tell);
        }
        return {in.target == nullptr ? VerdictState::undecided : reach.state,
                in.target == nullptr ? "fits, no target" : reach.word, reason};
    }
    if (faults.size() == 1 && faults.front()->shown.fault == SpreadFault::driver_leak) {
        return {VerdictState::outside, "not the spreader",
                worded("The spread is as it should be and the current does not come from it: "
                       "{}.",
                       names_of(faults))};
    }
    if (!faults.empty()) {
        return {VerdictState::outside, faults.size() == 1 ? "one fault fits" : "faulty",
                worded("Not a whole spreader by these values; fits: {}.", names_of(faults))};
    }
    return {VerdictState::undecided, "nothing fits",
            "Neither a whole spreader nor any single fault of it reads like this; check the values "
            "and look past the spreader, at drivers, outputs and emitter resistors."};
}

void add_curves(const Given& in, const Answer& answer, const std::vector<Fit>& fits,
                Outcome& outcome) {
    outcome.plot = PlotKind::lines;
    const auto line = [](std::string key, std::string label, CurveRole role) {
        return Curve{std::move(key),
                     std::move(label),
                     role,
                     {"Trim, least to most bias", Unit::percent, {}},
                     {"Across one R_E", Unit::volt, {}}};
    };
    Curve whole = line("whole", "by its values", CurveRole::as_found);
    for (const SpreadPoint& point : answer.curve) {
        whole.x.values.push_back(point.position);
        whole.y.values.push_back(point.reading_v);
    }
    outcome.curves.push_back(std::move(whole));
    if (in.target != nullptr) {
        Curve target =
            line("target", worded("target, {}", volts(in.target->value)), CurveRole::target);
        target.x.values = {0, 1};
        target.y.values = {in.target->value, in.target->value};
        outcome.curves.push_back(std::move(target));
    }
    if (!in.has_readings()) {
        return;
    }
    // The fault that fits best, unless it would blow the picture up with the fuse.
    const Fit& best = fits.front();
    if (best.fits() && best.shown.fault != SpreadFault::none && !best.shown.lost_hold &&
        !best.shown.over_trim.empty() && !too_much(in, best.shown.over_trim.back())) {
        Curve fault = line("fault", std::string(fault_name(best.shown.fault)), CurveRole::limit);
        for (const SpreadPoint& point : best.shown.over_trim) {
            fault.x.values.push_back(point.position);
            fault.y.values.push_back(point.reading_v);
        }
        outcome.curves.push_back(std::move(fault));
    }
    Curve read = line("read", "as read", CurveRole::point);
    const auto mark = [&read](double position, const Amount* amount) {
        if (amount != nullptr) {
            read.x.values.push_back(position);
            read.y.values.push_back(amount->value);
        }
    };
    mark(0, in.least);
    mark(in.position != nullptr ? in.position->value : best.position, in.reading);
    mark(1, in.most);
    if (!read.x.values.empty()) {
        outcome.curves.push_back(std::move(read));
    }
}

void add_words(const Given& in, const Answer& answer, Outcome& outcome) {
    auto& cautions = outcome.cautions;
    cautions.push_back(
        worded("Before power set the trim to least bias: {}. First power through a series lamp.",
               least_bias_words(in)));
    const double most_v = answer.most().reading_v.value;
    if (!in.multiplier || in.place == TrimPlace::upper_arm) {
        cautions.push_back(worded("An open wiper here is the most bias, {}; an open track is "
                                  "all the current the rails give.",
                                  volts(most_v)));
    } else if (in.place == TrimPlace::divider) {
        cautions.emplace_back("An open wiper lets go of the transistor's base here: all the "
                              "current the rails give.");
    } else {
        cautions.emplace_back("An open wiper is the least bias here, but an open upper resistor or "
                              "transistor still gives all the current the rails have.");
    }
    cautions.push_back(worded("Clip the leads on and off with the power off; the reservoirs "
                              "hold ±{} after switch-off.",
                              print_short(in.rail_v, Unit::volt)));

    auto& notes = outcome.notes;
    StageGiven told = in.stage;
    if (!in.diode.empty()) {
        told.constants.push_back(in.diode);
    }
    notes.push_back(constants_note(told));
    if (in.stage.blind) {
        notes.emplace_back("Without the devices' constants idle current cannot be foretold from "
                           "spread volts; only the order of magnitude holds. Set by the reading.");
    }
    notes.emplace_back("Readings as just switched on, all at one temperature, loudspeaker off. A "
                       "rheostat's wiper is taken to be tied to its track's end; where it is not, "
                       "an open wiper reads like an open track.");
}

Result<Outcome> compute(const Inputs& inputs) {
    const auto read = given_in(inputs);
    if (!read) {
        return in_contradiction(read.error());
    }
    const Given& in = *read;

    Answer answer;
    auto curve = spread_over_trim(in.typical.values, in.typical.parts, even_positions(k_points));
    if (!curve) {
        return in_contradiction(curve.error());
    }
    answer.curve = std::move(curve).value();
    const auto stage = characteristic_of(in, answer);
    if (!stage) {
        return in_contradiction(stage.error());
    }
    for (const SpreadPoint& point : answer.curve) {
        answer.bias_v.push_back(stage->spread_for(point.reading_v));
    }
    if (in.target != nullptr) {
        const auto position =
            trim_for_reading(in.typical.values, in.typical.parts, in.target->value);
        if (!position) {
            return in_contradiction(position.error());
        }
        answer.target_position = *position;
        answer.target_reached = position->has_value();
    }
    const double shown_position =
        in.position != nullptr ? in.position->value : answer.target_position.value_or(0.5);
    std::vector<double> places{0, answer.target_position.value_or(shown_position), 1};
    if (places[1] != shown_position) {
        places.push_back(shown_position);
    }
    auto reach = reach_of(in, *stage, places);
    if (!reach) {
        return in_contradiction(reach.error());
    }
    answer.reach = std::move(reach).value();
    const Reach& least = answer.least();
    const Reach& at_target = answer.reach[1];
    const Reach& most = answer.most();
    const Reach& there = places.size() > 3 ? answer.reach[3] : at_target;
    if (answer.target_reached) {
        const Interval& bias = at_target.bias_v;
        answer.target_travel = {position_of(answer, bias.value - (bias.high - bias.value)),
                                *answer.target_position,
                                position_of(answer, bias.value + (bias.value - bias.low))};
        answer.target_travel.low = std::min(answer.target_travel.low, answer.target_travel.value);
        answer.target_travel.high = std::max(answer.target_travel.high, answer.target_travel.value);
    }

    const std::vector<Fit> fits = hypotheses(in, *stage, answer);

    Outcome outcome;
    const auto add = [&outcome](std::string key, std::string label, std::string symbol,
                                const Amount& amount) {
        outcome.figures.push_back({std::move(key), std::move(label), std::move(symbol), amount});
    };
    add("reading_most", "Reading, trim at its most", "V_RE", to_amount(most.reading_v, Unit::volt));
    add("reading_least", "Reading, trim at its least", "V_RE",
        to_amount(least.reading_v, Unit::volt));
    if (answer.target_reached) {
        add("target_position", "Trim for the target", "",
            to_amount(answer.target_travel, Unit::percent));
    }
    add("spread_least", "Spread, trim at its least", "V_s", to_amount(least.spread_v, Unit::volt));
    add("spread_most", "Spread, trim at its most", "V_s", to_amount(most.spread_v, Unit::volt));
    if (in.position != nullptr || answer.target_reached) {
        add("spread_there", "Spread, trim there", "V_s", to_amount(there.spread_v, Unit::volt));
        add("reading_there", "Reading, trim there", "V_RE", to_amount(there.reading_v, Unit::volt));
    }
    add("supply", "Supply to the spreader", "I_VA", to_amount(there.feed_a, Unit::ampere));
    outcome.headline_note = worded(
        "{} over the trim; spread {}", reading_range(least.reading_v.value, most.reading_v.value),
        print_range(std::min(least.spread_v.value, most.spread_v.value),
                    std::max(least.spread_v.value, most.spread_v.value), Unit::volt, 3));
    outcome.verdict = verdict_of_readings(in, answer, fits);
    outcome.tables.push_back(table_of(in, fits, shown_position));
    if (in.has_readings() && in.position == nullptr && in.reading != nullptr) {
        outcome.notes.push_back(worded(
            "The trim's place was not given; each fault is taken where it fits best, and told for "
            "{} of the travel.",
            travel(shown_position)));
    }
    add_words(in, answer, outcome);
    add_curves(in, answer, fits, outcome);
    return outcome;
}

} // namespace

Working spreader_working() {
    return {"spreader", "Bias spreader", "What can the trim reach, and is the spreader whole?",
            k_fields,   compute,         "V_BE multiplier, V = V_BE·(1 + R_upper/R_lower)"};
}

} // namespace railside
