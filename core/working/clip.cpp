// Power and clipping: the clean power that the clip of each half leaves, and what sets it.
//
// A reading per half (or one for both) becomes power up to the earlier clip. What to expect comes
// from the rails and the usual loss of the topology, or, when the stage's values are given, from
// the stage driven fully as a circuit (core/stage/clip.h), which also names what ends each half. A
// half that stops early is then held against each single part that would stop it there. Rated power
// is stated at a distortion (IEC 60268-3), visible clip lies a little above it.
#include "core/stage/clip.h"
#include "core/quantity/interval.h"
#include "core/quantity/refusal.h"
#include "core/quantity/value_code.h"
#include "core/words/words.h"
#include "core/working/entries.h"
#include "core/working/inputs.h"
#include "core/working/limiter_fields.h"
#include "core/working/stage_fields.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <optional>

namespace railside {

namespace {

constexpr std::array k_ways{
    Choice{"peak", "peak of each half"},
    Choice{"pp", "peak to peak"},
    Choice{"rms", "rms of a sine"},
};
constexpr std::array k_depths{
    Choice{"rails", "the rails alone"},
    Choice{"stage", "the stage's values"},
    Choice{"limited", "the stage and its limiters"},
};

constexpr Condition k_peak{"read_as", "peak"};
constexpr Condition k_whole{"read_as", "pp rms"};
constexpr Condition k_stage{"expect_from", "stage limited"};
constexpr Condition k_limited{"expect_from", "limited"};

constexpr Field only(Field field, Condition when) {
    field.when = when;
    return field;
}
constexpr Field no_longer_needed(Field field) {
    field.need = Need::optional;
    return field;
}

constexpr Field peak_field(std::string_view key, std::string_view label, std::string_view symbol) {
    return {.key = key,
            .label = label,
            .symbol = symbol,
            .help = "Volts from zero to where the top goes flat, without the sign; 1 kHz, scope at "
                    "the load.",
            .unit = Unit::volt,
            .low = 0,
            .high = 250,
            .usual_low = 3,
            .usual_high = 100,
            .spread = Spread::meter,
            .when = k_peak};
}

constexpr std::array k_fields{
    Field{.key = "read_as",
          .label = "Read as",
          .help = "How the clip was read; only the two peaks tell which half goes first.",
          .kind = FieldKind::choice,
          .by_default = "peak",
          .choices = k_ways},
    peak_field("plus", "Clip, + half", "V_+"),
    peak_field("minus", "Clip, − half", "V_−"),
    Field{.key = "reading",
          .label = "Reading",
          .help = "Volts at the load where clipping just begins.",
          .unit = Unit::volt,
          .low = 0,
          .high = 500,
          .usual_low = 3,
          .usual_high = 200,
          .spread = Spread::meter,
          .when = k_whole},
    stage_field::k_load,
    stage_field::k_rail,
    Field{.key = "rail_minus",
          .label = "− rail",
          .symbol = "V_EE",
          .help = "Its size under load, where it differs from the + rail.",
          .need = Need::optional,
          .unit = Unit::volt,
          .low = 5,
          .high = 200,
          .usual_low = 15,
          .usual_high = 100,
          .spread = Spread::tolerance,
          .default_spread = 0.02},
    Field{.key = "rated_power",
          .label = "Rated power",
          .symbol = "P_rated",
          .help = "What the maker states for this load, one channel.",
          .need = Need::optional,
          .unit = Unit::watt,
          .low = 0.1,
          .high = 5000,
          .usual_low = 5,
          .usual_high = 1000},
    stage_field::k_topology,
    stage_field::k_emitter,
    stage_field::k_pairs,
    Field{.key = "expect_from",
          .label = "Expect from",
          .help = "How much of the stage is known; with its values the program says what ends each "
                  "half.",
          .kind = FieldKind::choice,
          .by_default = "rails",
          .choices = k_depths},
    only(stage_field::k_supply_current, k_stage),
    only(stage_field::k_feed, k_stage),
    only(stage_field::k_feed_side, k_stage),
    only(stage_field::k_driver_resistor, k_stage),
    only(stage_field::k_base_stopper, k_stage),
    only(stage_field::k_output_plus, k_stage),
    only(stage_field::k_output_minus, k_stage),
    only(stage_field::k_driver_plus, k_stage),
    only(stage_field::k_driver_minus, k_stage),
    only(limiter_field::k_sense, k_limited),
    only(limiter_field::k_divider, k_limited),
    only(limiter_field::k_slope, k_limited),
    no_longer_needed(limiter_field::k_slope_resistor),
    only(stage_field::k_limiter_plus, k_limited),
    only(stage_field::k_limiter_minus, k_limited),
};

// The halves of healthy stages differ by up to 3 %: one has the source, the other the amplifier.
constexpr double k_uneven = 0.05;
// How close the circuit comes to simulated amplifiers, by what ends the half.
constexpr double k_rail_doubt = 0.02;
constexpr double k_drive_doubt = 0.06;
constexpr double k_limiter_doubt = 0.10;
// A reactive load or a rail that sags with the music can carry the output a little over the rail
// that was read.
constexpr double k_over_rail_v = 2.5;
constexpr int k_curve_points = 13;

std::string volts(double value) { return print_value(value, Unit::volt, 3); }
std::string watts(double value) { return print_value(value, Unit::watt, 3); }
std::string per_cent(double value) { return print_value(value, Unit::percent, 2); }
std::string_view sign(StageHalf half) { return half == StageHalf::plus ? "+" : "−"; }
std::string_view key(StageHalf half) { return half == StageHalf::plus ? "plus" : "minus"; }
std::size_t index(StageHalf half) { return half == StageHalf::plus ? 0 : 1; }
constexpr std::array k_halves{StageHalf::plus, StageHalf::minus};

Error in_contradiction(const Error& error) {
    if (error.code == ErrorCode::failed) {
        return {ErrorCode::contradictory, "Output stage",
                "Output stage: these values together give no circuit that can be worked out; look "
                "for a value of the wrong size."};
    }
    return {ErrorCode::contradictory, error.field.empty() ? "Output stage" : error.field,
            error.message};
}

struct Given {
    bool by_halves = true;
    std::array<Interval, 2> found; // by half
    Interval load;
    std::array<Interval, 2> rail;
    const Amount* rated = nullptr;
    Topology topology = Topology::follower;
    double emitter_ohm = 0.22;
    int pairs = 1;
    bool stage_known = false;
    bool limited = false;
    StageGiven stage;
    std::size_t stage_doubts = 0; // how many of its doubts are not about limiters
};

Result<Given> given_in(const Inputs& inputs) {
    Given in;
    const std::string& way = given(inputs, "read_as").word;
    in.by_halves = way == "peak";
    if (in.by_halves) {
        in.found = {Interval::from(amount_of(inputs, "plus")),
                    Interval::from(amount_of(inputs, "minus"))};
    } else {
        constexpr double k_root_two = 1.41421356237309504880;
        const Interval peak =
            Interval::from(amount_of(inputs, "reading")) * (way == "pp" ? 0.5 : k_root_two);
        in.found = {peak, peak};
    }
    for (Interval& each : in.found) {
        each.low = std::max(each.low, 0.0);
    }
    in.load = Interval::from(amount_of(inputs, "load"));
    const Interval rail = Interval::from(amount_of(inputs, "rail"));
    const Amount* minus = amount_if_given(inputs, "rail_minus");
    in.rail = {rail, minus != nullptr ? Interval::from(*minus) : rail};
    in.rated = amount_if_given(inputs, "rated_power");
    in.emitter_ohm = amount_of(inputs, "emitter_resistor").value;
    in.pairs = static_cast<int>(amount_of(inputs, "pairs").value);
    const std::string& depth = given(inputs, "expect_from").word;
    in.stage_known = depth != "rails";
    in.limited = depth == "limited";
    for (const StageHalf half : k_halves) {
        const Interval& found = in.found[index(half)];
        const Interval& own = in.rail[index(half)];
        if (found.low > own.high + k_over_rail_v) {
            return refusal(
                ErrorCode::contradictory,
                in.by_halves ? (half == StageHalf::plus ? "Clip, + half" : "Clip, − half")
                             : "Reading",
                worded("{} of peak is more than a rail of {} can give. Check how it was read, "
                       "or the rail.",
                       volts(found.value), volts(own.value)));
        }
    }
    // Whatever is known of the topology is read by the one that builds stages.
    auto stage = stage_given(in.stage_known ? inputs : [&] {
        Inputs bare;
        for (const std::string_view each :
             {"topology", "rail", "rail_minus", "emitter_resistor", "pairs"}) {
            if (const auto held = inputs.find(each); held != inputs.end()) {
                bare.insert(*held);
            }
        }
        return bare;
    }());
    if (!stage) {
        return stage.error();
    }
    in.stage = std::move(stage).value();
    in.topology = in.stage.values.topology;
    in.stage_doubts = in.stage.doubts.size();
    if (in.limited) {
        if (railside::given(inputs, "slope").word != "none" && !inputs.contains("slope_resistor")) {
            return refusal(ErrorCode::contradictory, "Slope resistor",
                           "it returns somewhere but has no value. Accepted: its value, or \"not "
                           "fitted\" for where it returns.");
        }
        if (auto done = add_limiters(in.stage, inputs); !done) {
            return done.error();
        }
        if (auto done = add_limiter_devices(in.stage, inputs); !done) {
            return done.error();
        }
    }
    in.stage.values.spreader = FixedSpreader{resting_spread_v(in.stage.values)};
    return in;
}

/// What a half should do.
struct Expected {
    Interval volts;
    std::optional<Clip> clip; // when the stage is known
};

double circuit_doubt(ClipCause cause) {
    switch (cause) {
    case ClipCause::rail:
        return k_rail_doubt;
    case ClipCause::drive:
        return k_drive_doubt;
    case ClipCause::limiter:
        break;
    }
    return k_limiter_doubt;
}

Result<Expected> expected_of(const Given& in, StageHalf half) {
    if (!in.stage_known) {
        return Expected{clip_by_rail(in.rail[index(half)], in.topology, in.load.value,
                                     in.emitter_ohm, in.pairs),
                        std::nullopt};
    }
    auto finder = ClipFinder::create(in.stage.values, half, in.load.value);
    if (!finder) {
        return finder.error();
    }
    const auto typical = finder->into(in.load.value);
    if (!typical) {
        return typical.error();
    }
    // What moves the limiters alone matters only where they act.
    StageGiven only = in.stage;
    if (typical->cause != ClipCause::limiter) {
        only.doubts.resize(in.stage_doubts);
    }
    const auto volts_of = [&](const StageValues& v) -> Result<std::array<double, 1>> {
        if (&v == &only.values) {
            return std::array{typical->volts};
        }
        StageValues there = v;
        there.spreader = in.stage.values.spreader;
        if (auto done = finder->change(there); !done) {
            return done.error();
        }
        const auto clip = finder->into(in.load.value);
        if (!clip) {
            return clip.error();
        }
        return std::array{clip->volts};
    };
    const auto ranges = over_doubts<1>(only, volts_of);
    if (!ranges) {
        return ranges.error();
    }
    Interval range = (*ranges)[0];
    const double least = circuit_doubt(typical->cause) * range.value;
    range.low = std::max(std::min(range.low, range.value - least), 0.0);
    range.high = std::max(range.high, range.value + least);
    return Expected{range, *typical};
}

/// One part that alone would stop a half where it was found.
struct Explains {
    std::string part;
    std::string given;
    std::string wanted;
};

std::vector<Explains> explanations(const Given& in, StageHalf half) {
    std::vector<Explains> found;
    const StageValues& values = in.stage.values;
    const double wanted_v = in.found[index(half)].value;
    auto finder = ClipFinder::create(values, half, in.load.value);
    if (!finder) {
        return found;
    }
    const bool plus = half == StageHalf::plus;
    const double output_a = wanted_v / in.load.value / in.pairs;
    const auto gain_of = [&](const BipolarModel& model, double collector_a) {
        return collector_a / base_drive(model, std::max(collector_a, 1e-4), 5).base_a;
    };
    const BipolarModel& output = plus ? values.devices.output_plus : values.devices.output_minus;
    const double output_gain = gain_of(output, output_a);
    const double driver_a = in.pairs * output_a / std::max(output_gain, 1.0);
    const BipolarModel& driver = plus ? values.devices.driver_plus : values.devices.driver_minus;
    struct Candidate {
        std::string part;
        Unit unit;
        double now;
        double furthest; // as a factor
        void (*set)(StageValues&, bool plus, double factor);
    };
    const double own_ohm =
        plus ? values.emitter_ohm : values.emitter_minus_ohm.value_or(values.emitter_ohm);
    const std::array candidates{
        Candidate{worded("Gain, {} driver", sign(half)), Unit::ratio, gain_of(driver, driver_a),
                  0.01,
                  [](StageValues& v, bool p, double f) {
                      auto& model = p ? v.devices.driver_plus : v.devices.driver_minus;
                      model = moved(model, f, 0);
                  }},
        Candidate{worded("Gain, {} output", sign(half)), Unit::ratio, output_gain, 0.01,
                  [](StageValues& v, bool p, double f) {
                      auto& model = p ? v.devices.output_plus : v.devices.output_minus;
                      model = moved(model, f, 0);
                  }},
        Candidate{"Supply current", Unit::ampere, values.supply_a, 0.02,
                  [](StageValues& v, bool, double f) { v.supply_a *= f; }},
        Candidate{worded("Emitter resistor, {} half", sign(half)), Unit::ohm, own_ohm, 100,
                  [](StageValues& v, bool p, double f) {
                      const double minus = v.emitter_minus_ohm.value_or(v.emitter_ohm);
                      v.emitter_minus_ohm = p ? minus : minus * f;
                      v.emitter_ohm *= p ? f : 1;
                  }},
    };
    for (const Candidate& candidate : candidates) {
        const auto clip_at = [&](double factor) -> std::optional<double> {
            StageValues there = values;
            candidate.set(there, plus, factor);
            if (!finder->change(there)) {
                return std::nullopt;
            }
            const auto clip = finder->into(in.load.value);
            return clip ? std::optional(clip->volts) : std::nullopt;
        };
        const auto worst = clip_at(candidate.furthest);
        if (!worst || *worst > wanted_v) {
            continue; // even then it would go further: not this one
        }
        double near = 0; // logarithms
        double far = std::log(candidate.furthest);
        bool whole = true;
        constexpr int k_halvings = 9;
        for (int i = 0; i < k_halvings && whole; ++i) {
            const double middle = (near + far) / 2;
            const auto there = clip_at(std::exp(middle));
            whole = there.has_value();
            if (whole) {
                (*there > wanted_v ? near : far) = middle;
            }
        }
        if (whole) {
            found.push_back(
                {candidate.part, print_short(candidate.now, candidate.unit, 2),
                 print_short(candidate.now * std::exp((near + far) / 2), candidate.unit, 2)});
        }
    }
    return found;
}

enum class Standing { as_expected, perhaps_early, early };

struct Judged {
    std::array<Standing, 2> standing{};
    Interval asymmetry;
    bool uneven = false;               // certainly
    bool perhaps_uneven = false;       // within the readings
    StageHalf first = StageHalf::plus; // clips first
};

Judged judged(const Given& in, const std::array<Expected, 2>& expected) {
    Judged result;
    for (const StageHalf half : k_halves) {
        const Interval& found = in.found[index(half)];
        const Interval& range = expected[index(half)].volts;
        result.standing[index(half)] = found.high < range.low  ? Standing::early
                                       : found.low < range.low ? Standing::perhaps_early
                                                               : Standing::as_expected;
    }
    result.asymmetry = clip_asymmetry(in.found[0], in.found[1]);
    result.first = result.asymmetry.value <= 0 ? StageHalf::plus : StageHalf::minus;
    // Only what is not there by design: the rails may differ.
    const double by_design = clip_asymmetry(Interval::exact(expected[0].volts.value),
                                            Interval::exact(expected[1].volts.value))
                                 .value;
    const double low = result.asymmetry.low - by_design;
    const double high = result.asymmetry.high - by_design;
    result.uneven = in.by_halves && (low > k_uneven || high < -k_uneven);
    result.perhaps_uneven = in.by_halves && !result.uneven && (high > k_uneven || low < -k_uneven);
    return result;
}

/// What most likely ends a half where it was found, as a sentence.
std::string mechanism(const Given& in, StageHalf half, const Expected& expected,
                      Standing standing) {
    const std::string current =
        print_value(in.found[index(half)].value / in.load.value, Unit::ampere, 2);
    if (!expected.clip) {
        return standing == Standing::as_expected
                   ? "The rail ends it."
                   : worded("Likely drive or limiter at {}, or a resistance in its path.", current);
    }
    const std::string_view cause = expected.clip->cause == ClipCause::rail    ? "the rail"
                                   : expected.clip->cause == ClipCause::drive ? "too little drive"
                                                                              : "the limiter";
    return standing == Standing::as_expected
               ? worded("Ended by {}, as these values have it.", cause)
               : worded("These values give {}, by {}: look for a weak gain, a limiter or a "
                        "resistance that ends it at {}.",
                        volts(expected.volts.value), cause, current);
}

Verdict verdict_of(const Given& in, const std::array<Expected, 2>& expected, const Judged& judged,
                   const Interval& power) {
    const auto at = [&](StageHalf half) {
        return worded("{} {}", sign(half), volts(in.found[index(half)].value));
    };
    const StageHalf first = judged.first;
    const StageHalf second = first == StageHalf::plus ? StageHalf::minus : StageHalf::plus;
    const auto short_by = [&](StageHalf half) {
        return 1 - in.found[index(half)].value / std::max(expected[index(half)].volts.value, 1e-9);
    };
    const std::string of_rated =
        in.rated != nullptr ? worded(" {} of {} rated.", watts(power.value), watts(in.rated->value))
                            : worded(" {} clean.", watts(power.value));
    const Standing one = judged.standing[index(first)];
    const Standing other = judged.standing[index(second)];
    if (one == Standing::early && other == Standing::early) {
        return {VerdictState::outside, in.by_halves ? "early on both" : "early",
                worded("{} and {}, {} and {} under what is expected: rails that sag, both "
                       "drives short, or the wrong load.{}",
                       at(first), at(second), per_cent(short_by(first)), per_cent(short_by(second)),
                       of_rated)};
    }
    if (one == Standing::early || judged.uneven) {
        return {VerdictState::outside, worded("early on {}", sign(first)),
                worded("{} against {}: {} first, {} lower. {}{}", at(first), at(second),
                       sign(first), per_cent(std::abs(judged.asymmetry.value)),
                       mechanism(in, first, expected[index(first)], Standing::early), of_rated)};
    }
    const std::string halves_text =
        in.by_halves ? worded("{} and {}", at(StageHalf::plus), at(StageHalf::minus))
                     : worded("{} either way", volts(in.found[0].value));
    if (in.rated != nullptr) {
        const double rated_w = in.rated->value;
        if (power.high < rated_w) {
            return {VerdictState::outside, "short of power",
                    worded("{}: {} of {} rated, and the halves are alike. {}", halves_text,
                           watts(power.value), watts(rated_w),
                           expected[0].volts.value * expected[0].volts.value / (2 * in.load.value) <
                                   rated_w
                               ? "These rails cannot give more: mains, transformer and rails "
                                 "first."
                               : "Look at what both halves share.")};
        }
        if (power.low < rated_w) {
            return {VerdictState::at_the_edge, "at the edge",
                    worded("{} to {} clean, {} rated; a closer reading decides.", watts(power.low),
                           watts(power.high), watts(rated_w))};
        }
    }
    if (one == Standing::perhaps_early || other == Standing::perhaps_early ||
        judged.perhaps_uneven) {
        const StageHalf half =
            one == Standing::perhaps_early || judged.perhaps_uneven ? first : second;
        const Interval& range = expected[index(half)].volts;
        if (judged.perhaps_uneven) {
            const double most =
                std::max(std::abs(judged.asymmetry.low), std::abs(judged.asymmetry.high));
            return {VerdictState::at_the_edge, worded("at the edge, {}", sign(half)),
                    worded("{}: within the readings the halves may be {} apart, and 5\u2009% "
                           "is a fault; type every digit.",
                           halves_text, per_cent(most))};
        }
        return {VerdictState::at_the_edge, worded("at the edge, {}", sign(half)),
                worded("{}; {} to {} is expected on {}.", halves_text, volts(range.low),
                       volts(range.high), sign(half))};
    }
    return {VerdictState::in_window, "as it should",
            worded("{}. {}{}", halves_text,
                   mechanism(in, first, expected[index(first)], Standing::as_expected), of_rated)};
}

void add_figures(const Given& in, const std::array<Expected, 2>& expected, const Judged& judged,
                 const Interval& power, Outcome& outcome) {
    const auto add = [&outcome](std::string figure_key, std::string label, std::string symbol,
                                const Amount& amount) {
        outcome.figures.push_back(
            {std::move(figure_key), std::move(label), std::move(symbol), amount});
    };
    add("clean_power", "Clean power", "P", to_amount(power, Unit::watt));
    const auto decibels = [](double watts_now, double watts_then) {
        // Nothing at all is as far down as any meter sees.
        return 10 * std::log10(std::max(watts_now, 1e-9) / std::max(watts_then, 1e-9));
    };
    if (in.rated != nullptr) {
        add("against_rated", "Against rated power, dB", "",
            to_amount(monotone(decibels, power, Interval::from(*in.rated)), Unit::ratio));
    }
    const Interval allowed = clean_power_w(expected[0].volts, expected[1].volts, in.load);
    add("expected_power", in.stage_known ? "Power these values give" : "Power the rails allow", "",
        to_amount(allowed, Unit::watt));
    add("against_expected", in.stage_known ? "Against these values, dB" : "Against the rails, dB",
        "", to_amount(monotone(decibels, power, allowed), Unit::ratio));
    for (const StageHalf half : k_halves) {
        add(fmt::format("clip_{}", key(half)), worded("Clip, {} half", sign(half)),
            half == StageHalf::plus ? "V_+" : "V_−", to_amount(in.found[index(half)], Unit::volt));
    }
    for (const StageHalf half : k_halves) {
        add(fmt::format("expected_{}", key(half)), worded("Expected, {} half", sign(half)), "",
            to_amount(expected[index(half)].volts, Unit::volt));
    }
    if (in.by_halves) {
        add("asymmetry", "Asymmetry", "", to_amount(judged.asymmetry, Unit::percent));
    }
    for (const StageHalf half : k_halves) {
        const auto current = in.found[index(half)] / in.load; // a load is never 0
        add(fmt::format("peak_current_{}", key(half)), worded("Peak current, {} half", sign(half)),
            "I_p", to_amount(current ? *current : Interval{}, Unit::ampere));
    }
}

Curve against_load(std::string curve_key, std::string label, CurveRole role) {
    return {std::move(curve_key),
            std::move(label),
            role,
            {"Load", Unit::ohm, {}},
            {"Clip", Unit::volt, {}}};
}

std::vector<double> loads_round(double load_ohm) {
    std::vector<double> loads;
    loads.reserve(k_curve_points);
    for (int i = 0; i < k_curve_points; ++i) {
        loads.push_back(load_ohm * std::pow(2, -2 + 4.0 * i / (k_curve_points - 1)));
    }
    return loads;
}

Result<Done> add_curves(const Given& in, const Judged& judged, Outcome& outcome) {
    const std::vector<double> loads = loads_round(in.load.value);
    Curve rails = against_load("rails", "what the rails allow", CurveRole::target);
    const double rail_v = std::min(in.rail[0].value, in.rail[1].value);
    for (const double load_ohm : loads) {
        rails.x.values.push_back(load_ohm);
        rails.y.values.push_back(
            clip_by_rail(Interval::exact(rail_v), in.topology, load_ohm, in.emitter_ohm, in.pairs)
                .value);
    }
    for (const StageHalf half : k_halves) {
        const bool plus = half == StageHalf::plus;
        const bool early = judged.standing[index(half)] == Standing::early ||
                           (judged.uneven && judged.first == half);
        Curve line = against_load(std::string(key(half)),
                                  worded("{} {}", sign(half),
                                         in.stage_known ? "expected"
                                         : early        ? "if current ends it"
                                                        : "at other loads"),
                                  plus ? CurveRole::plus : CurveRole::minus);
        line.x.values = loads;
        if (in.stage_known) {
            auto finder = ClipFinder::create(in.stage.values, half, loads.back());
            if (!finder) {
                return finder.error();
            }
            line.y.values.resize(loads.size());
            for (std::size_t i = loads.size(); i-- > 0;) {
                const auto clip = finder->into(loads[i]);
                if (!clip) {
                    return clip.error();
                }
                line.y.values[i] = clip->volts;
            }
        } else {
            // A half that stops early is taken to be held by a current, up to what the rails allow;
            // one that does not loses what the rails do.
            const double found_v = in.found[index(half)].value;
            const double allowed_v = clip_by_rail(Interval::exact(rail_v), in.topology,
                                                  in.load.value, in.emitter_ohm, in.pairs)
                                         .value;
            for (std::size_t i = 0; i < loads.size(); ++i) {
                const double by_rail_v =
                    allowed_v > 0 ? rails.y.values[i] * found_v / allowed_v : 0;
                line.y.values.push_back(
                    early ? std::min(found_v * loads[i] / in.load.value, rails.y.values[i])
                          : by_rail_v);
            }
        }
        outcome.curves.push_back(std::move(line));
    }
    outcome.curves.push_back(std::move(rails));
    for (const StageHalf half : k_halves) {
        Curve found = against_load(fmt::format("found_{}", key(half)),
                                   worded("{} found", sign(half)), CurveRole::point);
        found.x.values.push_back(in.load.value);
        found.y.values.push_back(in.found[index(half)].value);
        outcome.curves.push_back(std::move(found));
    }
    outcome.plot = PlotKind::lines;
    return Done{};
}

void add_words(const Given& in, const std::array<Expected, 2>& expected, const Judged& judged,
               Outcome& outcome) {
    outcome.cautions.emplace_back(
        "Drive into clip only for seconds, into a dummy load that can take "
        "the power; watch the sink.");
    const bool early = judged.standing[0] == Standing::early ||
                       judged.standing[1] == Standing::early || judged.uneven;
    if (early) {
        outcome.notes.emplace_back(
            "Read it again into twice the load: if the volts rise in proportion a current ends it, "
            "drive or limiter; if they hardly move, it is volts.");
        if (in.stage_known && expected[index(judged.first)].clip) {
            OutcomeTable table{"explains",
                               worded("What alone would end the {} half there", sign(judged.first)),
                               {"Part", "As given", "Would have to be"},
                               {}};
            for (Explains& each : explanations(in, judged.first)) {
                table.rows.push_back(
                    {std::move(each.part), std::move(each.given), std::move(each.wanted)});
            }
            if (!table.rows.empty()) {
                outcome.tables.push_back(std::move(table));
            } else {
                outcome.notes.emplace_back(
                    "No gain, current or emitter resistor alone explains it: "
                    "suspect an open device or a limiter.");
            }
        }
    }
    if (!in.by_halves) {
        outcome.notes.emplace_back("One reading takes the halves for alike; read each peak to see "
                                   "which clips first.");
    }
    if (in.rated != nullptr) {
        outcome.notes.emplace_back("Rated power is stated at a distortion, often 0.1 or 1\u2009%, "
                                   "which is reached a little before the top goes flat; state the "
                                   "load and whether one or all channels were driven.");
    }
    if (in.stage_known) {
        for (const StageHalf half : k_halves) {
            const Clip& clip = *expected[index(half)].clip;
            outcome.notes.push_back(worded(
                "These values end the {} half at {} by {}{}.", sign(half), volts(clip.volts),
                clip.cause == ClipCause::rail    ? "the rail"
                : clip.cause == ClipCause::drive ? "too little drive"
                                                 : "the limiter",
                clip.cause == ClipCause::rail
                    ? std::string()
                    : worded(", with {} to spare", volts(std::max(clip.drive.left_v, 0.0)))));
        }
        outcome.notes.push_back(constants_note(in.stage));
    } else {
        outcome.notes.emplace_back(
            "Expected from the rails and the usual loss of such a stage; with "
            "the stage's values the program says what ends each half.");
    }
}

Result<Outcome> compute(const Inputs& inputs) {
    const auto given = given_in(inputs);
    if (!given) {
        return in_contradiction(given.error());
    }
    const Given& in = *given;
    std::array<Expected, 2> expected;
    for (const StageHalf half : k_halves) {
        auto found = expected_of(in, half);
        if (!found) {
            return in_contradiction(found.error());
        }
        expected[index(half)] = *found;
    }
    const Judged halves = judged(in, expected);
    const Interval power = clean_power_w(in.found[0], in.found[1], in.load);
    Outcome outcome;
    add_figures(in, expected, halves, power, outcome);
    outcome.headline_note =
        in.by_halves ? worded("{} first, {}", sign(halves.first),
                              print_range(power.low, power.high, Unit::watt, 3))
                     : worded("{} into {}", print_range(power.low, power.high, Unit::watt, 3),
                              print_short(in.load.value, Unit::ohm));
    outcome.verdict = verdict_of(in, expected, halves, power);
    if (auto done = add_curves(in, halves, outcome); !done) {
        return in_contradiction(done.error());
    }
    add_words(in, expected, halves, outcome);
    return outcome;
}

} // namespace

Working clip_working() {
    return {"clip",
            "Power and clipping",
            "How much clean power is there, and what ends it?",
            k_fields,
            compute,
            "Kirchhoff's loop from rail to load; P = V²/2R of a sine"};
}

} // namespace railside
