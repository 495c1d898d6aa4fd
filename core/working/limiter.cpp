// Limiter threshold: at what current each half's protection takes hold, over the whole swing, and
// what sine it lets into the load.
//
// Each half is driven fully as a circuit with its output held (core/stage/limit.h); the sines are
// geometry on that locus. The doubts go through the closed form (core/stage/limiter_formula.h),
// which is the same Kirchhoff and costs nothing: what each moves in it moves the circuit's answer.
// A limiter transistor nobody named is good to 30 % at best (simulated limiters against textbook
// constants), however narrow its own doubts come out.
#include "core/quantity/interval.h"
#include "core/quantity/refusal.h"
#include "core/quantity/value_code.h"
#include "core/stage/limit.h"
#include "core/stage/limiter_formula.h"
#include "core/words/words.h"
#include "core/working/entries.h"
#include "core/working/inputs.h"
#include "core/working/limiter_fields.h"
#include "core/working/part_safe_area.h"
#include "core/working/stage_fields.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <optional>

namespace railside {

namespace {

constexpr std::array k_leaks{
    Choice{"none", "none"},
    Choice{"plus", "+ half"},
    Choice{"minus", "− half"},
};

constexpr Field junction_field() {
    Field field = stage_field::k_junction;
    field.key = "limiter_junction";
    field.label = "Limiter, temperature";
    field.symbol = "T_lim";
    field.help =
        "Of the limiter transistors, near that of the air in the unit; the threshold falls "
        "by 0.3 % for each kelvin.";
    return field;
}

constexpr std::array k_fields{
    stage_field::k_topology,
    stage_field::k_emitter,
    stage_field::k_pairs,
    limiter_field::k_sense,
    limiter_field::k_divider,
    limiter_field::k_slope,
    limiter_field::k_slope_resistor,
    limiter_field::k_second_slope,
    limiter_field::k_second_slope_resistor,
    limiter_field::k_alike_field,
    limiter_field::k_sense_minus,
    limiter_field::k_divider_minus,
    limiter_field::k_slope_minus,
    limiter_field::k_second_slope_minus,
    limiter_field::resistor("printed_sense", "Sense resistor, printed", "R_1",
                            "What the board or the diagram says, where something else is fitted.",
                            Need::optional),
    limiter_field::resistor("printed_divider", "Divider resistor, printed", "R_2",
                            "What the board or the diagram says, where something else is fitted.",
                            Need::optional),
    stage_field::k_rail,
    stage_field::k_load,
    Field{.key = "phase",
          .label = "Load phase",
          .symbol = "φ",
          .help = "0 for a dummy load; loudspeakers reach 30° to 60° beside their resonances. "
                  "Inductive and capacitive loads pull alike.",
          .unit = Unit::degree,
          .low = 0,
          .high = 85,
          .usual_low = 0,
          .usual_high = 60,
          .by_default = "0"},
    Field{.key = "leaky",
          .label = "Leaky limiter",
          .help = "A limiter transistor that reads collector to emitter out of the circuit.",
          .kind = FieldKind::choice,
          .by_default = "none",
          .choices = k_leaks},
    Field{.key = "leak",
          .label = "Its leak",
          .symbol = "R_CE",
          .help = "Resistance read from collector to emitter, transistor out of the circuit.",
          .unit = Unit::ohm,
          .low = 10,
          .high = 1e7,
          .usual_low = 100,
          .usual_high = 1e6,
          .spread = Spread::tolerance,
          .default_spread = 0.1,
          .when = {"leaky", "plus minus"}},
    stage_field::k_supply_current,
    stage_field::k_feed_side,
    junction_field(),
    Field{.key = "case",
          .label = "Case",
          .symbol = "T_case",
          .help = "Case temperature of the output devices at which their safe area is drawn.",
          .unit = Unit::celsius,
          .low = 0,
          .high = 150,
          .usual_low = 20,
          .usual_high = 100,
          .by_default = "60"},
    stage_field::k_limiter_plus,
    stage_field::k_limiter_minus,
    stage_field::k_output_plus,
    stage_field::k_output_minus,
    stage_field::k_driver_plus,
    stage_field::k_driver_minus,
};

constexpr int k_points = 24;
// Within so much of what the rail allows a half counts as free: both answers are that good.
constexpr double k_free = 0.985;
constexpr double k_blind = 0.30;
constexpr double k_pi = 3.14159265358979323846;
// The voltage amplifier's end: nobody reads it off the board, so from half to twice the guess.
constexpr double k_most_doubt = 2;

std::string volts(double value) { return print_value(value, Unit::volt, 3); }
std::string amps(double value) { return print_value(value, Unit::ampere, 2); }
std::string watts(double value) { return print_value(value, Unit::watt, 2); }
std::string ohms(double value) { return print_short(value, Unit::ohm, 3); }
std::string_view sign(StageHalf half) { return half == StageHalf::plus ? "+" : "−"; }
std::string_view key(StageHalf half) { return half == StageHalf::plus ? "plus" : "minus"; }
double toward(StageHalf half) { return half == StageHalf::plus ? 1 : -1; }
StageHalf opposite(StageHalf half) {
    return half == StageHalf::plus ? StageHalf::minus : StageHalf::plus;
}

Error in_contradiction(const Error& error) {
    if (error.code == ErrorCode::failed) {
        return {ErrorCode::contradictory, "Output stage",
                "Output stage: these values together give no circuit that can be worked out; look "
                "for a value of the wrong size."};
    }
    return {ErrorCode::contradictory, error.field.empty() ? "Output stage" : error.field,
            error.message};
}

const std::optional<LimiterNetwork>& network_of(const StageValues& values, StageHalf half) {
    return half == StageHalf::plus ? values.limiter_plus : values.limiter_minus;
}
std::optional<LimiterNetwork>& network_of(StageValues& values, StageHalf half) {
    return half == StageHalf::plus ? values.limiter_plus : values.limiter_minus;
}
double rail_of(const StageValues& values, StageHalf half) {
    return half == StageHalf::plus ? values.rail_plus_v : values.rail_minus_v;
}

/// The inputs as the stage with its doubts.
struct Given {
    StageGiven stage;
    std::vector<std::size_t> drive_doubts; // those that move what the drive alone allows
    SineLoad load;
    std::optional<StageHalf> leaky;
    double leak_ohm = 0;
    std::optional<LimiterNetwork> printed; // of the + half
    std::array<bool, 2> blind{};           // by half: the limiter transistor is nobody's
    double case_c = 60;
};

Result<Given> given_in(const Inputs& inputs) {
    auto stage = stage_given(inputs);
    if (!stage) {
        return stage.error();
    }
    Given in;
    in.stage = std::move(stage).value();
    StageGiven& given = in.stage;
    const double small_c = amount_of(inputs, "limiter_junction").value;
    everywhere(given, [&](StageValues& v) { v.temperatures.small_c = small_c; });
    for (std::size_t i = 0; i < given.doubts.size(); ++i) {
        in.drive_doubts.push_back(i);
    }
    if (auto done = add_limiters(given, inputs); !done) {
        return done.error();
    }
    add_doubt(given, "greatest current of the voltage amplifier", 1 / k_most_doubt, k_most_doubt,
              [](StageValues& v, double factor) {
                  v.most_a = std::max(v.most_a * factor, 1.2 * v.supply_a);
              });
    const std::string& leaky = railside::given(inputs, "leaky").word;
    if (leaky != "none") {
        in.leaky = leaky == "plus" ? StageHalf::plus : StageHalf::minus;
        const Amount& leak = amount_of(inputs, "leak");
        in.leak_ohm = leak.value;
        const auto set = [&](StageValues& v, double ohm) {
            network_of(v, *in.leaky)->leak_ohm = ohm;
        };
        everywhere(given, [&](StageValues& v) { set(v, leak.value); });
        in.drive_doubts.push_back(given.doubts.size());
        add_doubt(given, "leak", leak.low, leak.high, set);
        if (given.doubts.size() == in.drive_doubts.back()) {
            in.drive_doubts.pop_back(); // known exactly
        }
    }
    if (auto done = add_limiter_devices(given, inputs); !done) {
        return done.error();
    }
    in.blind = {!inputs.contains("limiter_plus"), !inputs.contains("limiter_minus")};
    given.values.spreader = FixedSpreader{resting_spread_v(given.values)};

    in.load = {amount_of(inputs, "load").value, amount_of(inputs, "phase").value};
    in.case_c = amount_of(inputs, "case").value;
    const Amount* printed_sense = amount_if_given(inputs, "printed_sense");
    const Amount* printed_divider = amount_if_given(inputs, "printed_divider");
    if (printed_sense != nullptr || printed_divider != nullptr) {
        in.printed = given.values.limiter_plus;
        in.printed->leak_ohm.reset();
        if (printed_sense != nullptr) {
            in.printed->sense_ohm = printed_sense->value;
        }
        if (printed_divider != nullptr) {
            in.printed->divider_ohm = printed_divider->value;
        }
    }
    return in;
}

/// What one half does.
struct HalfAnswer {
    StageHalf half = StageHalf::plus;
    std::vector<LocusPoint> locus;
    Interval trip; // final current at 0 V
    std::optional<double> onset_a;
    GreatestSine sine; // as found
    Interval swing;    // its peak
    Clip reach;        // without any limiter or leak, where the load's real part is
    Interval at_peak;  // what the limiter allows where the load takes most
    std::optional<double> locked_v;
};

/// What a network other than the fitted one would do.
struct Reference {
    std::string label;
    StageHalf half = StageHalf::plus;
    std::vector<LocusPoint> locus;
    double trip_a = 0;
    GreatestSine sine;
};

/// How far the closed form moves at each output of the grid.
struct Moves {
    std::vector<double> outputs; // from the own rail down
    std::vector<Interval> formula;

    [[nodiscard]] Interval at(StageHalf half, double output_v) const {
        for (std::size_t i = 1; i < outputs.size(); ++i) {
            if (toward(half) * outputs[i] <= toward(half) * output_v) {
                const double part = std::clamp(
                    (output_v - outputs[i - 1]) / (outputs[i] - outputs[i - 1]), 0.0, 1.0);
                const Interval& a = formula[i - 1];
                const Interval& b = formula[i];
                const auto between = [part](double from, double to) {
                    return from + part * (to - from);
                };
                return {between(a.low, b.low), between(a.value, b.value), between(a.high, b.high)};
            }
        }
        return formula.back();
    }
};

Moves moves_of(const Given& in, StageHalf half) {
    Moves moves;
    moves.outputs = locus_outputs(in.stage.values, half, k_points);
    const auto formula = [&](const StageValues& v) -> Result<std::array<double, k_points>> {
        const LimiterConditions at = limiter_conditions(v, half);
        std::array<double, k_points> currents{};
        for (std::size_t i = 0; i < currents.size(); ++i) {
            currents[i] = limit_a(*network_of(v, half), at, toward(half) * moves.outputs[i]);
        }
        return currents;
    };
    const auto over = over_doubts<k_points>(in.stage, formula); // the closed form always answers
    moves.formula.assign(over->begin(), over->end());
    return moves;
}

/// What the doubts about devices and supply do to a current that only the drive limits, as factors.
Interval drive_factor(const Given& in, FullDrive& drive) {
    StageGiven only;
    only.values = in.stage.values;
    for (const std::size_t i : in.drive_doubts) {
        only.doubts.push_back(in.stage.doubts[i]);
    }
    const auto found =
        over_doubts<1>(only, [&](const StageValues& v) -> Result<std::array<double, 1>> {
            StageValues there = v;
            there.spreader = in.stage.values.spreader;
            if (auto done = drive.change(there); !done) {
                return done.error();
            }
            const auto point = drive.at(0);
            if (!point) {
                return point.error();
            }
            return std::array{point->current_a};
        });
    (void)drive.change(in.stage.values);
    if (!found || !((*found)[0].value > 0)) {
        return {0.5, 1, 2};
    }
    const Interval& at = (*found)[0];
    return {std::max(at.low, 0.0) / at.value, 1, at.high / at.value};
}

enum class End { low, high };

/// The locus with every doubt at its worst or its best.
std::vector<LocusPoint> bound_locus(const HalfAnswer& answer, const Moves& moves, bool blind,
                                    const Interval& drive, End end) {
    std::vector<LocusPoint> bound = answer.locus;
    for (LocusPoint& point : bound) {
        const Interval formula = moves.at(answer.half, point.output_v);
        const double moved =
            end == End::low ? formula.low - formula.value : formula.high - formula.value;
        const auto with_doubt = [&](double current_a) {
            const double floor = blind ? k_blind * std::abs(current_a) : 0;
            return std::max(
                current_a + (end == End::low ? std::min(moved, -floor) : std::max(moved, floor)),
                0.0);
        };
        switch (point.cause) {
        case ClipCause::limiter:
            point.current_a = with_doubt(point.current_a);
            break;
        case ClipCause::drive:
            point.current_a *= end == End::low ? drive.low : drive.high;
            break;
        case ClipCause::rail: {
            if (end == End::high) {
                break; // the rail stays where it is
            }
            // The limiter lies somewhere above; where, the closed form says, set right by the
            // nearest point at which the circuit shows it.
            double bias_a = 0;
            double nearest_v = std::numeric_limits<double>::infinity();
            for (const LocusPoint& other : answer.locus) {
                const double away_v = std::abs(other.output_v - point.output_v);
                if (other.cause == ClipCause::limiter && away_v < nearest_v) {
                    nearest_v = away_v;
                    bias_a = other.current_a - moves.at(answer.half, other.output_v).value;
                }
            }
            point.current_a = std::min(point.current_a, with_doubt(formula.value + bias_a));
            break;
        }
        }
    }
    return bound;
}

Interval ordered(double low, double value, double high) {
    return {std::min(low, value), value, std::max(high, value)};
}

Result<HalfAnswer> answer_of(const Given& in, StageHalf half) {
    const StageValues& values = in.stage.values;
    HalfAnswer answer;
    answer.half = half;
    auto drive = FullDrive::create(values, half);
    if (!drive) {
        return drive.error();
    }
    const Moves moves = moves_of(in, half);
    auto locus = drive->locus(moves.outputs);
    if (!locus) {
        return locus.error();
    }
    answer.locus = std::move(locus).value();
    const double trip_a = current_at(answer.locus, half, 0);
    const auto sine = greatest_sine(*drive, answer.locus, in.load);
    if (!sine) {
        return sine.error();
    }
    answer.sine = *sine;
    answer.locked_v = lock_out_v(answer.locus, half);

    // Without limiters: where the sine's peak meets the rail the load takes V·cos φ/|Z|.
    StageValues bare = values;
    bare.limiter_plus.reset();
    bare.limiter_minus.reset();
    const double cosine = std::cos(in.load.phase_deg * k_pi / 180);
    const double real_ohm = std::min(in.load.ohm / cosine, 1e6);
    auto finder = ClipFinder::create(bare, half, real_ohm);
    if (!finder) {
        return finder.error();
    }
    const auto reach = finder->into(real_ohm);
    if (!reach) {
        return reach.error();
    }
    answer.reach = *reach;
    // No sine is greater than the bare stage allows; the two ways there differ by a trifle.
    answer.sine.peak_v = std::min(answer.sine.peak_v, answer.reach.volts);
    answer.sine.power_w = sine_power_w(in.load, answer.sine.peak_v);

    const bool blind = in.blind[half == StageHalf::plus ? 0 : 1];
    const bool driven = std::any_of(answer.locus.begin(), answer.locus.end(),
                                    [](const auto& p) { return p.cause == ClipCause::drive; });
    const Interval factor = driven ? drive_factor(in, *drive) : Interval::exact(1);
    const auto low = bound_locus(answer, moves, blind, factor, End::low);
    const auto high = bound_locus(answer, moves, blind, factor, End::high);
    answer.trip = ordered(current_at(low, half, 0), trip_a, current_at(high, half, 0));
    answer.swing = ordered(greatest_sine(low, half, in.load).peak_v, answer.sine.peak_v,
                           std::min(greatest_sine(high, half, in.load).peak_v, answer.reach.volts));

    const double peak_v = toward(half) * answer.reach.volts * cosine;
    const Interval formula = moves.at(half, peak_v);
    const LocusPoint* nearest = nullptr;
    for (const LocusPoint& point : answer.locus) {
        if (point.cause == ClipCause::limiter &&
            (nearest == nullptr ||
             std::abs(point.output_v - peak_v) < std::abs(nearest->output_v - peak_v))) {
            nearest = &point;
        }
    }
    const double bias_a =
        nearest != nullptr ? nearest->current_a - moves.at(half, nearest->output_v).value : 0;
    const double at_peak = std::max(formula.value + bias_a, 0.0);
    const double floor = blind ? k_blind * at_peak : 0;
    answer.at_peak = ordered(std::max(at_peak + std::min(formula.low - formula.value, -floor), 0.0),
                             at_peak, at_peak + std::max(formula.high - formula.value, floor));

    const auto onset = onset_current_a(values, half, 0, trip_a);
    if (onset && *onset && **onset < trip_a) {
        answer.onset_a = **onset;
    }
    return answer;
}

Result<Reference> reference_of(const Given& in, StageHalf half, std::string label,
                               const LimiterNetwork& network) {
    StageValues values = in.stage.values;
    network_of(values, half) = network;
    Reference reference;
    reference.label = std::move(label);
    reference.half = half;
    auto drive = FullDrive::create(values, half);
    if (!drive) {
        return drive.error();
    }
    auto locus = drive->locus(locus_outputs(values, half, k_points / 2));
    if (!locus) {
        return locus.error();
    }
    reference.locus = std::move(locus).value();
    reference.trip_a = current_at(reference.locus, half, 0);
    const auto sine = greatest_sine(*drive, reference.locus, in.load);
    if (!sine) {
        return sine.error();
    }
    reference.sine = *sine;
    return reference;
}

enum class Acts { never, perhaps, early };

Acts acts(const HalfAnswer& answer) {
    const double free_v = k_free * answer.reach.volts;
    if (answer.swing.high < free_v) {
        return Acts::early;
    }
    return answer.swing.low < free_v ? Acts::perhaps : Acts::never;
}

/// "8 Ω", "8 Ω at 45°"
std::string load_text(SineLoad load) {
    return load.phase_deg > 0
               ? worded("{} at {}", ohms(load.ohm), print_short(load.phase_deg, Unit::degree))
               : ohms(load.ohm);
}

std::string_view holder(const Given& in, const HalfAnswer& answer) {
    if (answer.sine.at.cause != ClipCause::drive) {
        return "the limiter";
    }
    return in.leaky == answer.half ? "the leak, which takes the drive" : "too little drive";
}

Verdict verdict_of(const Given& in, const std::array<HalfAnswer, 2>& halves) {
    const std::string into = load_text(in.load);
    const std::array states{acts(halves[0]), acts(halves[1])};
    const auto held = [&](const HalfAnswer& answer) {
        return worded("{} half is held to {} ({}), {}", sign(answer.half),
                      volts(answer.sine.peak_v),
                      print_range(answer.swing.low, answer.swing.high, Unit::volt, 2),
                      watts(answer.sine.power_w));
    };
    for (const std::size_t i : {std::size_t{0}, std::size_t{1}}) {
        if (states[i] != Acts::early) {
            continue;
        }
        const HalfAnswer& answer = halves[i];
        const HalfAnswer& other = halves[1 - i];
        if (states[1 - i] == Acts::early) {
            const HalfAnswer& worse = answer.sine.peak_v <= other.sine.peak_v ? answer : other;
            const HalfAnswer& better = &worse == &answer ? other : answer;
            return {VerdictState::outside, "early on both",
                    worded("Into {} the {}; the {}. Without a limiter {}.", into, held(worse),
                           held(better), volts(worse.reach.volts))};
        }
        return {VerdictState::outside, worded("early on {}", sign(answer.half)),
                worded("Into {} the {}, by {}. The {} half allows {}.", into, held(answer),
                       holder(in, answer), sign(other.half), watts(other.sine.power_w))};
    }
    for (const std::size_t i : {std::size_t{0}, std::size_t{1}}) {
        if (states[i] == Acts::perhaps) {
            const HalfAnswer& answer = halves[i];
            return {VerdictState::at_the_edge, worded("at the edge, {}", sign(answer.half)),
                    worded("Into {} the {} half reaches {} at best; within the doubts the "
                           "limiter acts from {} on.",
                           into, sign(answer.half), volts(answer.reach.volts),
                           volts(answer.swing.low))};
        }
    }
    const HalfAnswer& nearer =
        halves[0].at_peak.value <= halves[1].at_peak.value ? halves[0] : halves[1];
    return {VerdictState::in_window, "clear of it",
            worded("Into {} both halves reach what the rails allow, {} and {}: the load takes "
                   "{} at most, the {} limiter holds at {} there.",
                   into, volts(halves[0].reach.volts), volts(halves[1].reach.volts),
                   amps(nearer.reach.volts / in.load.ohm), sign(nearer.half),
                   amps(nearer.at_peak.value))};
}

/// The safe area of an output type of the parts table, where the sheet states one: at the rail (a
/// short) and along twice the rail.
struct Safe {
    StageHalf half = StageHalf::plus;
    std::vector<double> collector_v; // the rail first
    PartSafeArea area;
};

std::optional<Safe> safe_of(const Given& in, const Inputs& inputs, StageHalf half) {
    const auto held = inputs.find(half == StageHalf::plus ? "output_plus" : "output_minus");
    if (held == inputs.end()) {
        return std::nullopt;
    }
    constexpr int k_steps = 40;
    const double rail_v = rail_of(in.stage.values, half);
    Safe safe;
    safe.half = half;
    safe.collector_v.push_back(rail_v);
    for (int i = 1; i <= k_steps; ++i) {
        safe.collector_v.push_back(2 * rail_v * i / k_steps);
    }
    auto area = part_safe_area(held->second.word, safe.collector_v, in.case_c);
    if (!area) {
        return std::nullopt;
    }
    safe.area = *std::move(area);
    return safe;
}

Curve empty_curve(std::string curve_key, std::string label, CurveRole role) {
    return {std::move(curve_key),
            std::move(label),
            role,
            {"Collector-emitter", Unit::volt, {}},
            {"Output current", Unit::ampere, {}}};
}

void add_point(Curve& curve, double collector_v, double current_a) {
    curve.x.values.push_back(collector_v);
    curve.y.values.push_back(current_a);
}

Curve locus_curve(std::string curve_key, std::string label, CurveRole role, StageHalf half,
                  std::span<const LocusPoint> locus, double rail_v) {
    Curve curve = empty_curve(std::move(curve_key), std::move(label), role);
    for (const LocusPoint& point : locus) {
        add_point(curve, rail_v - toward(half) * point.output_v, point.current_a);
    }
    return curve;
}

/// The load's line, as far as the rails allow: its rising branch, and for a reactive load the one
/// back.
void add_load_curves(const Given& in, double peak_v, double rail_v, std::vector<Curve>& curves) {
    const double phase = in.load.phase_deg * k_pi / 180;
    constexpr int k_steps = 32;
    const auto branch = [&](double to) {
        Curve curve = empty_curve("load_line", load_text(in.load), CurveRole::as_found);
        for (int i = 0; i <= k_steps; ++i) {
            const double angle = to * i / k_steps;
            const double current_a = peak_v / in.load.ohm * std::cos(angle - phase);
            add_point(curve, rail_v - peak_v * std::cos(angle), std::max(current_a, 0.0));
        }
        return curve;
    };
    curves.push_back(branch(phase + k_pi / 2));
    if (phase > 0) {
        Curve back = branch(phase - k_pi / 2);
        back.key = "load_line_back";
        curves.push_back(std::move(back));
    }
}

void add_safe_curve(const Safe& safe, const Given& in, double most_a, std::vector<Curve>& curves) {
    Curve curve = empty_curve("safe_area",
                              worded("safe area, case {}", print_short(in.case_c, Unit::celsius)),
                              CurveRole::limit);
    for (std::size_t i = 1; i < safe.collector_v.size(); ++i) {
        // Cut where it would only push the rest of the picture down.
        add_point(curve, safe.collector_v[i],
                  std::min(in.stage.values.pairs * safe.area.currents[i].current_a, 1.1 * most_a));
    }
    curves.push_back(std::move(curve));
}

void add_figures(const Given& in, const std::array<HalfAnswer, 2>& halves,
                 const std::vector<Reference>& references, Outcome& outcome) {
    const auto add = [&outcome](std::string figure_key, std::string label, std::string symbol,
                                const Amount& amount) {
        outcome.figures.push_back(
            {std::move(figure_key), std::move(label), std::move(symbol), amount});
    };
    const HalfAnswer& smaller =
        halves[0].trip.value <= halves[1].trip.value ? halves[0] : halves[1];
    add("trip", worded("Held at 0\u2009V, {} half", sign(smaller.half)), "I_lim",
        to_amount(smaller.trip, Unit::ampere));
    const auto each = [&](std::string_view stem, std::string_view label, std::string_view symbol,
                          auto&& amount) {
        for (const HalfAnswer& answer : halves) {
            if (const std::optional<Amount> figure = amount(answer)) {
                add(fmt::format("{}_{}", stem, key(answer.half)),
                    worded("{}, {} half", label, sign(answer.half)), std::string(symbol), *figure);
            }
        }
    };
    using Maybe = std::optional<Amount>;
    each("trip", "Held at 0\u2009V", "I_lim",
         [](const HalfAnswer& answer) -> Maybe { return to_amount(answer.trip, Unit::ampere); });
    each("onset", "Begins at 0\u2009V", "", [](const HalfAnswer& answer) -> Maybe {
        if (!answer.onset_a) {
            return std::nullopt;
        }
        // Its distance from the final current is the limiter's own softness; the doubts are those
        // of the final current.
        const double below_a = answer.trip.value - *answer.onset_a;
        return to_amount(ordered(std::max(answer.trip.low - below_a, 0.0), *answer.onset_a,
                                 answer.trip.high - below_a),
                         Unit::ampere);
    });
    const Interval power = interval_around<2>(
        std::min(halves[0].sine.power_w, halves[1].sine.power_w),
        {sine_power_w(in.load, std::min(halves[0].swing.low, halves[1].swing.low)),
         sine_power_w(in.load, std::min(halves[0].swing.high, halves[1].swing.high))});
    add("power", "Clean power it allows", "P", to_amount(power, Unit::watt));
    each("power", "Clean power", "P", [&](const HalfAnswer& answer) -> Maybe {
        return to_amount(ordered(sine_power_w(in.load, answer.swing.low), answer.sine.power_w,
                                 sine_power_w(in.load, answer.swing.high)),
                         Unit::watt);
    });
    each("swing", "Greatest sine, peak", "V_p",
         [](const HalfAnswer& answer) -> Maybe { return to_amount(answer.swing, Unit::volt); });
    each("reach", "Without a limiter", "V_clip", [](const HalfAnswer& answer) -> Maybe {
        return Amount::exact(answer.reach.volts, Unit::volt);
    });
    add("load_peak", "Load takes at its peak", "",
        Amount::exact(std::max(halves[0].reach.volts, halves[1].reach.volts) / in.load.ohm,
                      Unit::ampere));
    each("at_peak", "Allowed at the load's peak", "",
         [](const HalfAnswer& answer) -> Maybe { return to_amount(answer.at_peak, Unit::ampere); });
    for (const HalfAnswer& answer : halves) {
        if (answer.locked_v) {
            add(fmt::format("locked_{}", key(answer.half)),
                worded("Locked out beyond, {} half", sign(answer.half)), "",
                Amount::exact(*answer.locked_v, Unit::volt));
        }
    }
    for (const Reference& reference : references) {
        const std::string stem = reference.label == "printed" ? "printed" : "whole";
        const HalfAnswer& found = halves[reference.half == StageHalf::plus ? 0 : 1];
        add(stem + "_trip", worded("Held at 0\u2009V, {}", reference.label), "I_lim",
            Amount::exact(reference.trip_a, Unit::ampere));
        add(stem + "_swing", worded("Greatest sine, {}", reference.label), "V_p",
            Amount::exact(std::min(reference.sine.peak_v, found.reach.volts), Unit::volt));
        if (reference.trip_a > 0) {
            // The doubts are common to both, so the share is better known than either.
            add(stem + "_share",
                worded("Held, share of {}",
                       stem == "printed" ? "what is printed" : "what a whole one holds"),
                "", Amount::exact(found.trip.value / reference.trip_a, Unit::percent));
        }
    }
}

void add_words(const Given& in, const std::array<HalfAnswer, 2>& halves,
               const std::vector<Reference>& references, const std::vector<Safe>& safes,
               Outcome& outcome) {
    for (const Reference& reference : references) {
        const HalfAnswer& found = halves[reference.half == StageHalf::plus ? 0 : 1];
        if (reference.label == "printed" && reference.trip_a > 0) {
            const double share = found.trip.value / reference.trip_a;
            outcome.notes.push_back(
                worded("As printed the limiter would hold at {} at 0\u2009V; as fitted at {}, "
                       "{} of that{}",
                       amps(reference.trip_a), amps(found.trip.value),
                       print_value(share, Unit::percent, 2),
                       share < 0.8    ? ": fit what the board says."
                       : share > 1.25 ? ": it protects too little; fit what the board says."
                                      : ", which makes little odds."));
        }
    }
    if (in.leaky) {
        const HalfAnswer& leaky = halves[*in.leaky == StageHalf::plus ? 0 : 1];
        const bool spare = *in.leaky != in.stage.values.feed_side;
        outcome.notes.push_back(worded(
            "The leak of {} in the {} half {}. Replace it: a leak grows.", ohms(in.leak_ohm),
            sign(*in.leaky),
            leaky.sine.at.cause == ClipCause::drive
                ? "takes so much drive that it, not the limiter, ends the half"
            : spare
                ? "hardly shows in the circuit, for the voltage amplifier has current to spare; "
                  "only the reading out of the circuit finds it"
                : "takes some of the drive and pulls the idle current down, but does not end "
                  "the half"));
    }
    for (const HalfAnswer& answer : halves) {
        if (answer.locked_v) {
            outcome.cautions.push_back(worded(
                "With the output at {} or beyond the {} half is locked out: a reactive load then "
                "kicks the output into the catch diodes. Test with a resistor first.",
                volts(*answer.locked_v), sign(answer.half)));
        }
    }
    for (const Safe& safe : safes) {
        const HalfAnswer& answer = halves[safe.half == StageHalf::plus ? 0 : 1];
        const double rail_v = rail_of(in.stage.values, safe.half);
        const double device_a = answer.trip.value / in.stage.values.pairs;
        const PartSafeCurrent& allowed = safe.area.currents.front();
        if (device_a > allowed.current_a) {
            outcome.cautions.push_back(worded(
                "Into a short each {} device would carry {} at {}; the {} stands {} there with the "
                "case at {} ({}). Never hold a short longer than a moment.",
                sign(safe.half), amps(device_a), volts(rail_v), safe.area.type,
                amps(allowed.current_a), print_short(in.case_c, Unit::celsius), allowed.limit));
        }
    }
    outcome.cautions.emplace_back(
        "Never prove a limiter by shorting the output: the devices live on "
        "its being right. Use a dummy load and a short burst.");
    for (const HalfAnswer& answer : halves) {
        if (answer.reach.cause == ClipCause::drive) {
            outcome.notes.push_back(worded(
                "Even without a limiter the {} half ends at {}: its drive, not the rail, does it.",
                sign(answer.half), volts(answer.reach.volts)));
        }
    }
    if (in.blind[0] || in.blind[1]) {
        outcome.notes.emplace_back("A limiter transistor without a type is good to 30\u2009%; give "
                                   "its type or card for a closer answer.");
    }
    outcome.notes.emplace_back(
        "Limiters act softly: distortion begins where \"begins\" says, a good "
        "deal under the current they hold.");
    outcome.notes.push_back(constants_note(in.stage));
}

Result<Outcome> compute(const Inputs& inputs) {
    const auto given = given_in(inputs);
    if (!given) {
        return in_contradiction(given.error());
    }
    const Given& in = *given;
    std::array<HalfAnswer, 2> halves;
    for (const StageHalf half : {StageHalf::plus, StageHalf::minus}) {
        auto answer = answer_of(in, half);
        if (!answer) {
            return in_contradiction(answer.error());
        }
        halves[half == StageHalf::plus ? 0 : 1] = std::move(answer).value();
    }
    std::vector<Reference> references;
    const HalfAnswer& smaller =
        halves[0].trip.value <= halves[1].trip.value ? halves[0] : halves[1];
    if (in.printed) {
        auto reference = reference_of(in, smaller.half, "printed", *in.printed);
        if (!reference) {
            return in_contradiction(reference.error());
        }
        references.push_back(std::move(reference).value());
    }
    if (in.leaky) {
        LimiterNetwork whole = *network_of(in.stage.values, *in.leaky);
        whole.leak_ohm.reset();
        auto reference = reference_of(in, *in.leaky, "without the leak", whole);
        if (!reference) {
            return in_contradiction(reference.error());
        }
        references.push_back(std::move(reference).value());
    }
    std::vector<Safe> safes;
    for (const StageHalf half : {StageHalf::plus, StageHalf::minus}) {
        if (auto safe = safe_of(in, inputs, half)) {
            safes.push_back(*std::move(safe));
        }
    }

    Outcome outcome;
    add_figures(in, halves, references, outcome);
    outcome.headline_note =
        worded("+ {}, − {} at 0\u2009V", amps(halves[0].trip.value), amps(halves[1].trip.value));
    outcome.verdict = verdict_of(in, halves);
    add_words(in, halves, references, safes, outcome);

    outcome.plot = PlotKind::lines;
    double most_a = 0;
    for (const HalfAnswer& answer : halves) {
        const bool plus = answer.half == StageHalf::plus;
        outcome.curves.push_back(locus_curve(std::string(key(answer.half)),
                                             worded("{} half", sign(answer.half)),
                                             plus ? CurveRole::plus : CurveRole::minus, answer.half,
                                             answer.locus, rail_of(in.stage.values, answer.half)));
        for (const LocusPoint& point : answer.locus) {
            most_a = std::max(most_a, point.current_a);
        }
    }
    for (const Reference& reference : references) {
        outcome.curves.push_back(locus_curve(reference.label == "printed" ? "printed" : "whole",
                                             worded("{} {}", sign(reference.half), reference.label),
                                             CurveRole::target, reference.half, reference.locus,
                                             rail_of(in.stage.values, reference.half)));
    }
    const HalfAnswer& longer = halves[opposite(smaller.half) == StageHalf::plus ? 0 : 1];
    add_load_curves(in, std::max(smaller.reach.volts, longer.reach.volts),
                    rail_of(in.stage.values, smaller.half), outcome.curves);
    if (!safes.empty()) {
        add_safe_curve(safes.front(), in, most_a, outcome.curves);
    }
    return outcome;
}

} // namespace

Working limiter_working() {
    return {"limiter",
            "Limiter threshold",
            "At what current does the protection take hold?",
            k_fields,
            compute,
            "V_BE across the sense divider (Kirchhoff); protection locus against load lines"};
}

} // namespace railside
