// Gain window: one measured hFE against the type, against what the circuit needs at its peak, and
// against the mate.
//
// A gain holds at one current and one temperature. It is carried to the data sheet's current at 25
// °C, and to the peak current, with the fall-off of a generic device of the role
// (core/device/gain.h), widened over the devices of that class. The need is peak current over base
// drive.
#include "core/device/gain.h"
#include "core/device/role.h"
#include "core/quantity/interval.h"
#include "core/quantity/value_code.h"
#include "core/words/words.h"
#include "core/working/entries.h"
#include "core/working/inputs.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>

namespace railside {

namespace {

constexpr std::array k_roles{
    Choice{"output", "output"},
    Choice{"driver", "driver"},
    Choice{"pre_driver", "pre-driver"},
    Choice{"limiter", "limiter"},
    Choice{"bias_spreader", "bias spreader"},
    Choice{"voltage_amplifier", "voltage amplifier"},
    Choice{"input_pair", "input pair"},
    Choice{"other", "other"},
};

constexpr std::array k_fields{
    Field{.key = "role",
          .label = "Role",
          .help = "What the transistor does in the circuit; it picks the fall-off of gain with "
                  "current.",
          .kind = FieldKind::choice,
          .by_default = "output",
          .choices = k_roles},
    Field{.key = "measured",
          .label = "Measured gain",
          .symbol = "h_FE",
          .help = "What the tester shows for this device.",
          .unit = Unit::ratio,
          .low = 0,
          .high = 100000,
          .usual_low = 10,
          .usual_high = 1000,
          .spread = Spread::tolerance,
          .default_spread = 0.05},
    Field{.key = "test_current",
          .label = "Test current",
          .symbol = "I_C",
          .help = "Collector current of the tester; a gain means nothing without it.",
          .unit = Unit::ampere,
          .low = 1e-6,
          .high = 50,
          .usual_low = 1e-4,
          .usual_high = 5},
    Field{.key = "temperature",
          .label = "Device temperature",
          .symbol = "T",
          .help = "Temperature of the device while it was measured.",
          .unit = Unit::celsius,
          .low = -40,
          .high = 175,
          .usual_low = 10,
          .usual_high = 60,
          .by_default = "25"},
    Field{.key = "type_minimum",
          .label = "Type minimum",
          .symbol = "h_FE,min",
          .help = "Least gain the data sheet or the gain group allows.",
          .need = Need::optional,
          .unit = Unit::ratio,
          .low = 1,
          .high = 10000,
          .usual_low = 10,
          .usual_high = 500},
    Field{.key = "type_maximum",
          .label = "Type maximum",
          .symbol = "h_FE,max",
          .help = "Greatest gain the data sheet or the gain group allows.",
          .need = Need::optional,
          .unit = Unit::ratio,
          .low = 1,
          .high = 10000,
          .usual_low = 30,
          .usual_high = 900},
    Field{.key = "type_current",
          .label = "Data-sheet current",
          .symbol = "I_C,type",
          .help = "Collector current at which the data sheet states the gain.",
          .need = Need::optional,
          .unit = Unit::ampere,
          .low = 1e-6,
          .high = 50,
          .usual_low = 1e-4,
          .usual_high = 8},
    Field{.key = "peak_current",
          .label = "Peak current",
          .symbol = "I_peak",
          .help = "What this one device carries at the peak; for an output the peak load current "
                  "divided by the pairs.",
          .need = Need::optional,
          .unit = Unit::ampere,
          .low = 1e-6,
          .high = 50,
          .usual_low = 1e-3,
          .usual_high = 15},
    Field{.key = "drive_available",
          .label = "Drive available",
          .symbol = "I_B",
          .help = "Base current the stage before can give this device at the peak.",
          .need = Need::optional,
          .unit = Unit::ampere,
          .low = 1e-7,
          .high = 10,
          .usual_low = 1e-4,
          .usual_high = 1},
    Field{.key = "needed",
          .label = "Gain needed",
          .help = "Least gain this position needs at its peak, when known directly.",
          .need = Need::optional,
          .unit = Unit::ratio,
          .low = 1,
          .high = 10000,
          .usual_low = 10,
          .usual_high = 500},
    Field{.key = "mate",
          .label = "Mate's gain",
          .symbol = "h_FE,mate",
          .help = "Gain of the complementary or parallel device, same tester, same current.",
          .need = Need::optional,
          .unit = Unit::ratio,
          .low = 1,
          .high = 100000,
          .usual_low = 10,
          .usual_high = 1000,
          .spread = Spread::tolerance,
          .default_spread = 0.05},
    Field{.key = "mate_spread",
          .label = "Mate window",
          .help = "How far from its mate a gain may lie.",
          .unit = Unit::percent,
          .low = 0.01,
          .high = 0.95,
          .usual_low = 0.05,
          .usual_high = 0.5,
          .by_default = "30 %"},
};

constexpr double k_data_sheet_c = 25;
constexpr double k_no_limit = std::numeric_limits<double>::infinity();

std::string gain_text(double gain) { return print_value(gain, Unit::ratio, gain < 1000 ? 3 : 4); }
std::string short_gain(double gain) { return print_short(gain, Unit::ratio, 4); }
std::string gain_range(const Interval& gain) {
    return print_range(gain.low, gain.high, Unit::ratio, gain.high < 1000 ? 3 : 4);
}
std::string amps(double current_a) { return print_short(current_a, Unit::ampere, 3); }

/// One of the three comparisons.
struct Finding {
    Placement placement = Placement::inside;
    std::string reason;
};

/// In rising order of trouble.
int trouble(Placement placement) {
    switch (placement) {
    case Placement::inside:
        return 0;
    case Placement::at_low_edge:
    case Placement::at_high_edge:
        return 1;
    case Placement::below:
    case Placement::above:
        break;
    }
    return 2;
}

Verdict verdict_of(const Finding& finding) {
    switch (finding.placement) {
    case Placement::inside:
        return {VerdictState::in_window, "in window", finding.reason};
    case Placement::at_low_edge:
        return {VerdictState::at_the_edge, "at the edge, low", finding.reason};
    case Placement::at_high_edge:
        return {VerdictState::at_the_edge, "at the edge, high", finding.reason};
    case Placement::below:
        return {VerdictState::outside, "outside, low", finding.reason};
    case Placement::above:
        break;
    }
    return {VerdictState::outside, "outside, high", finding.reason};
}

std::string_view where(Placement placement) {
    switch (placement) {
    case Placement::inside:
        return "inside";
    case Placement::at_low_edge:
        return "at the low edge of";
    case Placement::at_high_edge:
        return "at the high edge of";
    case Placement::below:
        return "below";
    case Placement::above:
        break;
    }
    return "above";
}

struct Given {
    const GenericDevice* generic = nullptr;
    bool is_output = false;
    std::string_view role_label;
    Interval measured;
    Interval test_a;
    Interval temperature_c;
    const Amount* type_minimum = nullptr;
    const Amount* type_maximum = nullptr;
    const Amount* type_a = nullptr;
    const Amount* peak_a = nullptr;
    const Amount* drive_a = nullptr;
    const Amount* needed = nullptr;
    const Amount* mate = nullptr;
    double mate_spread = 0;

    [[nodiscard]] bool has_type() const {
        return type_minimum != nullptr || type_maximum != nullptr;
    }
};

Given given_in(const Inputs& inputs) {
    const Role role = role_from_key(given(inputs, "role").word).value_or(Role::other);
    Given in;
    in.generic = &generic_device(role);
    in.is_output = role == Role::output;
    in.role_label = role_info(role).label;
    in.measured = Interval::from(amount_of(inputs, "measured"));
    in.measured.low = std::max(in.measured.low, 0.0);
    in.test_a = Interval::from(amount_of(inputs, "test_current"));
    in.temperature_c = Interval::from(amount_of(inputs, "temperature"));
    in.type_minimum = amount_if_given(inputs, "type_minimum");
    in.type_maximum = amount_if_given(inputs, "type_maximum");
    in.type_a = amount_if_given(inputs, "type_current");
    in.peak_a = amount_if_given(inputs, "peak_current");
    in.drive_a = amount_if_given(inputs, "drive_available");
    in.needed = amount_if_given(inputs, "needed");
    in.mate = amount_if_given(inputs, "mate");
    in.mate_spread = amount_of(inputs, "mate_spread").value;
    return in;
}

/// The measured gain carried to another current at 25 °C.
Interval carried(const Given& in, const Interval& to_a) {
    Interval factor{k_no_limit, 1, 0};
    // The factor rises or falls with each of these over any tolerance a current is typed with.
    for (const double from : {in.test_a.low, in.test_a.value, in.test_a.high}) {
        for (const double to : {to_a.low, to_a.value, to_a.high}) {
            for (const double temperature :
                 {in.temperature_c.low, in.temperature_c.value, in.temperature_c.high}) {
                const GainFactor corner =
                    gain_factor(*in.generic, {from, temperature}, {to, k_data_sheet_c});
                factor.low = std::min(factor.low, corner.low);
                factor.high = std::max(factor.high, corner.high);
            }
        }
    }
    factor.value = gain_factor(*in.generic, {in.test_a.value, in.temperature_c.value},
                               {to_a.value, k_data_sheet_c})
                       .value;
    return in.measured * factor;
}

Finding against_type(const Given& in, const Interval& corrected, double at_a) {
    const double low = in.type_minimum != nullptr ? in.type_minimum->value : 0;
    const double high = in.type_maximum != nullptr ? in.type_maximum->value : k_no_limit;
    const Placement placement = place(corrected, low, high);
    std::string window;
    if (in.type_minimum == nullptr) {
        window = worded("the type's maximum of {}", short_gain(high));
    } else if (in.type_maximum == nullptr) {
        window = worded("the type's minimum of {}", short_gain(low));
    } else {
        window = worded("the type's {} to {}", short_gain(low), short_gain(high));
    }
    const bool one_sided = in.type_minimum == nullptr || in.type_maximum == nullptr;
    const std::string_view side = placement == Placement::inside && one_sided
                                      ? (in.type_minimum == nullptr ? "under" : "over")
                                      : where(placement);
    return {placement, worded("{} ({}) at {} and 25\u2009°C, {} {}.", gain_text(corrected.value),
                              gain_range(corrected), amps(at_a), side, window)};
}

Finding against_need(const Interval& at_peak, const Interval& need, double at_a) {
    // Both are intervals: their quotient against 1 is the honest comparison.
    const Interval margin{at_peak.low / need.high, at_peak.value / need.value,
                          at_peak.high / need.low};
    const Placement placement = place(margin, 1, k_no_limit);
    const std::string_view side = placement == Placement::inside  ? "enough for"
                                  : placement == Placement::below ? "short of"
                                                                  : "at the edge of";
    return {placement,
            worded("At {} it has {} ({}), {} the {} this position needs.", amps(at_a),
                   gain_text(at_peak.value), gain_range(at_peak), side, gain_text(need.value))};
}

Finding against_mate(const Given& in, const Interval& ratio) {
    const double low = 1 - in.mate_spread;
    const double high = 1 + in.mate_spread;
    const Placement placement = place(ratio, low, high);
    return {placement,
            worded("{} times its mate ({}), {} {} to {}.", print_value(ratio.value, Unit::ratio, 3),
                   print_range(ratio.low, ratio.high, Unit::ratio, 3), where(placement),
                   print_short(low, Unit::ratio), print_short(high, Unit::ratio))};
}

std::optional<Finding> unbelievable(const Given& in) {
    if (in.measured.value < 1) {
        return Finding{Placement::below,
                       worded("{} is no gain: open, shorted, or the leads are crossed.",
                              short_gain(in.measured.value))};
    }
    const bool type_allows =
        in.type_maximum != nullptr && in.measured.value <= in.type_maximum->value;
    if (in.measured.value > in.generic->believable_high && !type_allows) {
        return Finding{Placement::above,
                       worded("{} is more than a single {} device has: leakage reads as gain "
                              "on a simple tester.",
                              gain_text(in.measured.value), in.role_label)};
    }
    return std::nullopt;
}

Curve bar(std::string key, std::string label, CurveRole role, std::vector<double> gains,
          double row) {
    std::vector<double> rows(gains.size(), row);
    return {std::move(key),
            std::move(label),
            role,
            {"Gain", Unit::ratio, std::move(gains)},
            {"", Unit::ratio, std::move(rows)}};
}

Error contradiction(std::string field, std::string message) {
    return {ErrorCode::contradictory, std::move(field), std::move(message)};
}

std::optional<Error> contradiction_in(const Given& in) {
    if (in.type_minimum != nullptr && in.type_maximum != nullptr &&
        in.type_minimum->value > in.type_maximum->value) {
        return contradiction(
            "Type minimum",
            worded("Type minimum {} is more than Type maximum {}. Accepted: a minimum of {} "
                   "or less, or a maximum of {} or more.",
                   short_gain(in.type_minimum->value), short_gain(in.type_maximum->value),
                   short_gain(in.type_maximum->value), short_gain(in.type_minimum->value)));
    }
    if (in.peak_a != nullptr && in.drive_a != nullptr && in.drive_a->value > in.peak_a->value) {
        return contradiction(
            "Drive available",
            worded("Drive available {} is more than Peak current {}, so no gain would be "
                   "needed. Accepted: a drive of {} or less.",
                   amps(in.drive_a->value), amps(in.peak_a->value), amps(in.peak_a->value)));
    }
    return std::nullopt;
}

/// The least gain at the peak, if anything says so.
std::optional<Interval> need_of(const Given& in) {
    std::optional<Interval> need;
    if (in.peak_a != nullptr && in.drive_a != nullptr) {
        const Result<Interval> ratio = Interval::from(*in.peak_a) / Interval::from(*in.drive_a);
        if (ratio) {
            need = *ratio;
        }
    }
    if (in.needed != nullptr && (!need || in.needed->value > need->value)) {
        need = Interval::from(*in.needed);
    }
    return need;
}

Result<Outcome> compute(const Inputs& inputs) {
    const Given in = given_in(inputs);
    if (auto error = contradiction_in(in)) {
        return *std::move(error);
    }
    Outcome outcome;
    const auto add = [&outcome](std::string key, std::string label, std::string symbol,
                                const Interval& value, Unit unit = Unit::ratio) {
        outcome.figures.push_back(
            {std::move(key), std::move(label), std::move(symbol), to_amount(value, unit)});
    };
    std::vector<Finding> findings;
    auto& notes = outcome.notes;

    // Against the type, at the data sheet's current; without one only the temperature is corrected.
    const double type_a = in.type_a != nullptr ? in.type_a->value : in.test_a.value;
    Interval corrected = carried(in, in.type_a != nullptr ? Interval::from(*in.type_a)
                                                          : Interval::exact(in.test_a.value));
    if (in.type_a == nullptr && in.has_type()) {
        const double usual_a = in.generic->data_sheet_a;
        corrected = hull(corrected, carried(in, Interval::exact(usual_a)));
        notes.push_back(worded("No data-sheet current given: compared at the test current of "
                               "{}, widened to what {}, the usual one for this role, would "
                               "show.",
                               amps(in.test_a.value), amps(usual_a)));
    }
    add("gain_corrected", worded("Gain at {}, 25\u2009°C", amps(type_a)), "h_FE", corrected);
    if (in.has_type()) {
        findings.push_back(against_type(in, corrected, type_a));
    }

    // Against the circuit, at the peak.
    const double peak_a = in.peak_a != nullptr ? in.peak_a->value : in.test_a.value;
    const Interval at_peak = in.peak_a != nullptr ? carried(in, Interval::from(*in.peak_a))
                                                  : carried(in, Interval::exact(in.test_a.value));
    if (in.peak_a != nullptr) {
        add("gain_at_peak", worded("Gain at the peak, {}", amps(peak_a)), "h_FE,pk", at_peak);
    }
    const std::optional<Interval> need = need_of(in);
    if (need) {
        add("need", "Gain needed at the peak", "", *need);
        add("need_margin", "Gain at the peak over need", "",
            {at_peak.low / need->high, at_peak.value / need->value, at_peak.high / need->low});
        findings.push_back(against_need(at_peak, *need, peak_a));
        if (in.peak_a == nullptr) {
            notes.push_back(worded("No peak current given: the need is compared with the gain "
                                   "at {}; at a higher current the gain is less.",
                                   amps(in.test_a.value)));
        }
    } else if (in.peak_a != nullptr || in.drive_a != nullptr) {
        notes.push_back(
            worded("{} as well, and the gain needed at the peak can be judged.",
                   in.peak_a != nullptr ? "Give the drive available" : "Give the peak current"));
    }

    // Against the mate, both as measured.
    std::optional<Interval> ratio;
    if (in.mate != nullptr) {
        const Result<Interval> quotient = in.measured / Interval::from(*in.mate);
        if (!quotient) {
            return quotient.error();
        }
        ratio = *quotient;
        add("mate_ratio", "Times its mate", "", *ratio);
        findings.push_back(against_mate(in, *ratio));
    }

    const std::optional<Finding> strange = unbelievable(in);
    if (strange) {
        outcome.verdict = verdict_of(*strange);
        outcome.cautions.emplace_back(
            in.measured.value < 1
                ? "Test its junctions both ways before it goes anywhere near a supply."
                : "Test collector to emitter for leakage with the base open before it goes back; a "
                  "Darlington is the only innocent explanation.");
    } else if (findings.empty()) {
        outcome.verdict = {VerdictState::undecided, "undecided",
                           worded("{} at {} with nothing to judge it by: give the type's "
                                  "limits, the need, or the mate's gain.",
                                  gain_text(in.measured.value), amps(in.test_a.value))};
    } else {
        const auto worst =
            std::max_element(findings.begin(), findings.end(), [](const auto& a, const auto& b) {
                return trouble(a.placement) < trouble(b.placement);
            });
        outcome.verdict = verdict_of(*worst);
        for (auto finding = findings.begin(); finding != findings.end(); ++finding) {
            if (finding != worst) {
                notes.push_back(finding->reason);
            }
        }
    }
    if (in.type_maximum != nullptr && !strange && corrected.low > 1.5 * in.type_maximum->value) {
        outcome.cautions.emplace_back("Far above the type's maximum: leakage reads as gain on a "
                                      "simple tester, and a wrong or relabelled part does too.");
    }
    if (in.is_output && ratio &&
        place(*ratio, 1 - in.mate_spread, 1 + in.mate_spread) != Placement::inside) {
        notes.emplace_back("Parallel outputs of unlike gain share the current by their emitter "
                           "resistors; complementary ones clip unevenly.");
    }
    const GainShape& shape = in.generic->shape;
    notes.push_back(
        worded("No model card: carried from {} with a {} (gain halves at {}, {} in "
               "its class; 0.3 to 1\u2009% a kelvin).",
               amps(in.test_a.value), in.generic->name, amps(shape.knee_a),
               print_range(in.generic->knee_low_a, in.generic->knee_high_a, Unit::ampere, 2)));

    outcome.headline_note =
        worded("{} at {}, measured {} at {}", gain_range(corrected), amps(type_a),
               short_gain(in.measured.value), amps(in.test_a.value));

    outcome.plot = PlotKind::bars;
    auto& curves = outcome.curves;
    double row = 0;
    if (in.has_type()) {
        const double low = in.type_minimum != nullptr ? in.type_minimum->value : 0;
        const double high = in.type_maximum != nullptr
                                ? in.type_maximum->value
                                : std::max(corrected.high, in.type_minimum->value) * 1.25;
        curves.push_back(bar("type", "type", CurveRole::window, {low, high}, row));
    }
    curves.push_back(
        bar("corrected", worded("at {}", amps(type_a)), CurveRole::point, {corrected.value}, row));
    if (need) {
        row += 1;
        curves.push_back(bar("need", "circuit needs", CurveRole::limit, {need->value}, row));
        curves.push_back(
            bar("at_peak", worded("at {}", amps(peak_a)), CurveRole::point, {at_peak.value}, row));
    }
    if (in.mate != nullptr) {
        row += 1;
        curves.push_back(bar(
            "mate", "mate", CurveRole::window,
            {in.mate->value * (1 - in.mate_spread), in.mate->value * (1 + in.mate_spread)}, row));
        curves.push_back(bar("measured", worded("measured at {}", amps(in.test_a.value)),
                             CurveRole::point, {in.measured.value}, row));
    }
    return outcome;
}

} // namespace

Working gain_working() {
    return {"gain",
            "Gain window",
            "Is this transistor's gain good enough here?",
            k_fields,
            compute,
            "h_FE = I_C/I_B, carried to the data-sheet current by Gummel and Poon's transistor"};
}

} // namespace railside
