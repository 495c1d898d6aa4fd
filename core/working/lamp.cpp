// Series lamp: what a filament lamp in series with the mains does to a unit that idles, how it
// looks then, which lamp to take, and what the unit draws when the lamp looks otherwise.
//
// Lamp, transformer and rectifier are those of core/mains/lamp.h; the rail is the one on full mains
// with nothing playing, from which the secondary's peak follows. The intervals are the extremes
// over rail, demand, winding, own power, the filament's gas loss and the demand's shape.
#include "core/mains/lamp.h"
#include "core/quantity/interval.h"
#include "core/quantity/value_code.h"
#include "core/words/words.h"
#include "core/working/entries.h"
#include "core/working/inputs.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <optional>
#include <vector>

namespace railside {

namespace {

constexpr std::array k_shapes{
    Choice{"amplifier", "amplifier, bias by a current source"},
    Choice{"resistor_fed", "amplifier, bias by a resistor"},
    Choice{"resistor", "like a resistor"},
    Choice{"constant", "constant current"},
};
constexpr std::array k_glows{
    Choice{"dark", "dark"},
    Choice{"dim", "dim, red to orange"},
    Choice{"bright", "bright"},
    Choice{"full", "full, as on the mains"},
};

constexpr std::array k_fields{
    Field{.key = "rail",
          .label = "Rail",
          .symbol = "V_CC",
          .help = "Supply of one side to ground on full mains, with nothing playing.",
          .unit = Unit::volt,
          .low = 5,
          .high = 200,
          .usual_low = 15,
          .usual_high = 100,
          .spread = Spread::tolerance,
          .default_spread = 0.02},
    Field{.key = "idle",
          .label = "Idle demand, each rail",
          .symbol = "I_idle",
          .help = "Current from one rail with nothing playing: outputs, drivers and the small "
                  "stages of all channels on this supply.",
          .unit = Unit::ampere,
          .low = 0.001,
          .high = 20,
          .usual_low = 0.02,
          .usual_high = 2,
          .spread = Spread::tolerance,
          .default_spread = 0.1},
    // Read by eye, so it stands with the readings.
    Field{.key = "seen",
          .label = "Lamp seen",
          .help = "How the lamp looks once the flash at switch-on is over.",
          .kind = FieldKind::choice,
          .need = Need::optional,
          .spread = Spread::meter,
          .choices = k_glows},
    Field{.key = "lamp_power",
          .label = "Lamp",
          .symbol = "P_lamp",
          .help = "Watts printed on the filament lamp; lamps in parallel add.",
          .unit = Unit::watt,
          .low = 5,
          .high = 2000,
          .usual_low = 25,
          .usual_high = 300,
          .by_default = "60"},
    Field{.key = "mains",
          .label = "Mains",
          .help = "Mains voltage, rms.",
          .unit = Unit::volt,
          .low = 85,
          .high = 265,
          .usual_low = 100,
          .usual_high = 240,
          .by_default = "230"},
    Field{.key = "lamp_volts",
          .label = "Lamp's voltage",
          .help = "Volts printed on the lamp; leave empty when it is the mains voltage.",
          .need = Need::optional,
          .unit = Unit::volt,
          .low = 85,
          .high = 265,
          .usual_low = 100,
          .usual_high = 240},
    Field{.key = "frequency",
          .label = "Frequency",
          .symbol = "f",
          .help = "Mains frequency, for the ripple.",
          .unit = Unit::hertz,
          .low = 40,
          .high = 70,
          .usual_low = 50,
          .usual_high = 60,
          .by_default = "50"},
    Field{.key = "shape",
          .label = "Demand at lower rails",
          .help = "How the demand falls with the rails: bias fed by a current source keeps most of "
                  "it, bias fed by a resistor from the rail loses it fast.",
          .kind = FieldKind::choice,
          .by_default = "amplifier",
          .choices = k_shapes},
    Field{.key = "winding",
          .label = "Winding resistance",
          .symbol = "R_w",
          .help = "Of one half secondary, with the primary's reflected; 0.3 to 1 ohm for 100 to "
                  "300 VA.",
          .unit = Unit::ohm,
          .low = 0.01,
          .high = 20,
          .usual_low = 0.05,
          .usual_high = 5,
          .by_default = "0R5",
          .spread = Spread::tolerance,
          .default_spread = 0.5},
    Field{.key = "own_power",
          .label = "Own power",
          .symbol = "P_own",
          .help = "What transformer, display and standby take on full mains besides the rails.",
          .unit = Unit::watt,
          .low = 0,
          .high = 100,
          .usual_low = 0,
          .usual_high = 20,
          .by_default = "2 W ±2 W"},
    Field{.key = "reservoir",
          .label = "Reservoir",
          .symbol = "C",
          .help = "Capacitance on one rail; for the ripple and the flash at switch-on.",
          .need = Need::optional,
          .unit = Unit::farad,
          .low = 1e-5,
          .high = 0.5,
          .usual_low = 0.001,
          .usual_high = 0.05,
          .spread = Spread::tolerance,
          .default_spread = 0.2},
};

constexpr std::array k_standard_w{25.0, 40.0, 60.0, 75.0, 100.0, 150.0, 200.0};

// A gas-filled filament loses up to so much of its rated power to the gas.
constexpr double k_most_gas_share = 0.05;
// A healthy unit should still bias itself, and leave the lamp dark enough for a glow to mean
// something.
constexpr double k_enough_rail = 0.85;
constexpr double k_least_rail = 0.75;
constexpr double k_quiet_k = 1000;
constexpr double k_larger_than_needed = 3;
constexpr double k_short_ohm = 0.3;
constexpr double k_shorted_rail = 0.35; // of the full rail: below, a short is the likelier word
constexpr double k_root_two = 1.41421356237309504880;
constexpr int k_points = 41;

std::string volts(double value) { return print_value(value, Unit::volt, 3); }
std::string amps(double value) { return print_value(value, Unit::ampere, 3); }
std::string watts(double value) { return print_short(value, Unit::watt, 3); }
std::string kelvins(double value) {
    return fmt::format("{:.0f}\u2009K", std::round(value / 10) * 10);
}

struct Given {
    double mains_v = 0;
    Interval frequency_hz;
    Lamp lamp;
    Interval rail_v;
    Interval idle_a;
    Interval winding_ohm;
    Interval own_w;
    Interval power; // exponent of the demand
    const Amount* reservoir = nullptr;
    std::optional<Glow> seen;
};

Given given_in(const Inputs& inputs) {
    Given in;
    in.mains_v = amount_of(inputs, "mains").value;
    in.frequency_hz = Interval::from(amount_of(inputs, "frequency"));
    in.lamp.rated_w = amount_of(inputs, "lamp_power").value;
    const Amount* rated = amount_if_given(inputs, "lamp_volts");
    in.lamp.rated_v = rated != nullptr ? rated->value : in.mains_v;
    in.rail_v = Interval::from(amount_of(inputs, "rail"));
    in.idle_a = Interval::from(amount_of(inputs, "idle"));
    in.winding_ohm = Interval::from(amount_of(inputs, "winding"));
    const Interval own = Interval::from(amount_of(inputs, "own_power"));
    in.own_w = {std::max(own.low, 0.0), own.value, own.high};
    const std::string& shape = given(inputs, "shape").word;
    // Fitted to simulated amplifiers; others lie about.
    in.power = shape == "resistor"       ? Interval::exact(1)
               : shape == "constant"     ? Interval::exact(0)
               : shape == "resistor_fed" ? Interval{2.5, 3.5, 4.5}
                                         : Interval{0.35, 0.47, 0.6};
    in.reservoir = amount_if_given(inputs, "reservoir");
    if (const auto seen = inputs.find("seen"); seen != inputs.end()) {
        for (std::size_t i = 0; i < k_glows.size(); ++i) {
            if (k_glows[i].key == seen->second.word) {
                in.seen = static_cast<Glow>(i);
            }
        }
    }
    return in;
}

MainsUnit unit_of(const Given& in, double rail_v, double idle_a, double winding_ohm, double own_w,
                  double power) {
    MainsUnit unit{.mains_v = in.mains_v,
                   .winding_ohm = winding_ohm,
                   .own_w = own_w,
                   .demand = {idle_a, rail_v, power}};
    unit.peak_v = peak_for_rail(rail_v, idle_a, winding_ohm, unit.drop_v);
    return unit;
}

MainsUnit nominal_unit(const Given& in) {
    return unit_of(in, in.rail_v.value, in.idle_a.value, in.winding_ohm.value, in.own_w.value,
                   in.power.value);
}

/// The operating point with its intervals, and the rises when the lamp comes out.
struct Expected {
    Interval filament_k, lamp_v, lamp_a, unit_v, rail_v, rail_a, rail_rise_v, idle_rise_a;
};

void widen(Interval& interval, double end) { interval = hull(interval, Interval::exact(end)); }

Expected expected_of(const Given& in) {
    const LampPoint point = on_lamp(in.lamp, nominal_unit(in));
    const auto exact = &Interval::exact;
    Expected expected{exact(point.filament_k),
                      exact(point.lamp_v),
                      exact(point.lamp_a),
                      exact(point.unit_v),
                      exact(point.rail_v),
                      exact(point.rail_a),
                      exact(in.rail_v.value - point.rail_v),
                      exact(in.idle_a.value - point.rail_a)};
    const auto ends = [](const Interval& interval) {
        return std::array{interval.low, interval.high};
    };
    const std::vector<double> powers = in.power.low < in.power.high
                                           ? std::vector{in.power.low, in.power.high}
                                           : std::vector{in.power.value};
    for (const double rail_v : ends(in.rail_v)) {
        for (const double idle_a : ends(in.idle_a)) {
            for (const double winding_ohm : ends(in.winding_ohm)) {
                for (const double own_w : ends(in.own_w)) {
                    for (const double power : powers) {
                        const MainsUnit unit =
                            unit_of(in, rail_v, idle_a, winding_ohm, own_w, power);
                        for (const double gas : {0.0, k_most_gas_share}) {
                            Lamp lamp = in.lamp;
                            lamp.gas_share = gas;
                            const LampPoint corner = on_lamp(lamp, unit);
                            widen(expected.filament_k, corner.filament_k);
                            widen(expected.lamp_v, corner.lamp_v);
                            widen(expected.lamp_a, corner.lamp_a);
                            widen(expected.unit_v, corner.unit_v);
                            widen(expected.rail_v, corner.rail_v);
                            widen(expected.rail_a, corner.rail_a);
                            widen(expected.rail_rise_v, rail_v - corner.rail_v);
                            widen(expected.idle_rise_a, idle_a - corner.rail_a);
                        }
                    }
                }
            }
        }
    }
    return expected;
}

/// "dark" or "dark to dim".
std::string glow_text(const Interval& filament_k) {
    const std::string_view low = glow_label(glow_of(filament_k.low));
    const std::string_view high = glow_label(glow_of(filament_k.high));
    return low == high ? std::string(low) : worded("{} to {}", low, high);
}

/// One lamp of the usual ratings with this unit.
struct Offer {
    double rated_w = 0;
    LampPoint point;
    bool suits = false;
};

std::array<Offer, k_standard_w.size()> offers_for(const Given& in) {
    const MainsUnit unit = nominal_unit(in);
    std::array<Offer, k_standard_w.size()> offers;
    for (std::size_t i = 0; i < offers.size(); ++i) {
        Lamp lamp = in.lamp;
        lamp.rated_w = k_standard_w[i];
        offers[i] = {k_standard_w[i], on_lamp(lamp, unit), false};
        offers[i].suits = offers[i].point.rail_v >= k_enough_rail * in.rail_v.value &&
                          offers[i].point.filament_k <= k_quiet_k;
    }
    return offers;
}

/// The smallest that suits: a larger one only lets a fault draw more. Null when none does.
const Offer* best_of(const std::array<Offer, k_standard_w.size()>& offers) {
    const auto best =
        std::find_if(offers.begin(), offers.end(), [](const Offer& offer) { return offer.suits; });
    return best == offers.end() ? nullptr : &*best;
}

/// What one rail carries when the lamp looks as it was seen.
struct Drawn {
    Interval rail_a;
    Interval rail_v;
    Interval lamp_a;
};

Drawn drawn_when(const Given& in, Glow seen) {
    const MainsUnit unit = nominal_unit(in);
    const GlowRange range = glow_range(in.lamp, seen);
    const double hottest_k = std::min(range.high_k, filament_at_volts(in.lamp, in.mains_v));
    const double coolest_k = std::min(range.low_k, hottest_k);
    const LampPoint middle = drawn_at(in.lamp, unit, (coolest_k + hottest_k) / 2);
    Drawn drawn{Interval::exact(middle.rail_a), Interval::exact(middle.rail_v),
                Interval::exact(middle.lamp_a)};
    for (const double filament_k : {coolest_k, hottest_k}) {
        for (const double gas : {0.0, k_most_gas_share}) {
            for (const double own_w : {in.own_w.low, in.own_w.high}) {
                Lamp lamp = in.lamp;
                lamp.gas_share = gas;
                MainsUnit corner = unit;
                corner.own_w = own_w;
                const LampPoint point = drawn_at(lamp, corner, filament_k);
                widen(drawn.rail_a, point.rail_a);
                widen(drawn.rail_v, point.rail_v);
                widen(drawn.lamp_a, point.lamp_a);
            }
        }
    }
    return drawn;
}

std::string range_of(const Interval& interval, Unit unit) {
    return print_range(interval.low, interval.high, unit, 2);
}

Verdict against_seen(const Given& in, const Expected& expected, const Drawn& drawn) {
    const Glow seen = *in.seen;
    const GlowRange range = glow_range(in.lamp, seen);
    const std::string_view label = glow_label(seen);
    switch (place(expected.filament_k, range.low_k, range.high_k)) {
    case Placement::inside:
        return {VerdictState::in_window, "as expected",
                worded("A healthy idle leaves this lamp {} ({}), and so it is.",
                       glow_text(expected.filament_k), kelvins(expected.filament_k.value))};
    case Placement::at_low_edge:
    case Placement::at_high_edge:
        return {VerdictState::at_the_edge, "at the edge",
                worded("A healthy idle leaves this lamp {} ({}); {} fits, with {} from each "
                       "rail.",
                       glow_text(expected.filament_k), kelvins(expected.filament_k.value), label,
                       range_of(drawn.rail_a, Unit::ampere))};
    case Placement::below: {
        const bool shorted = drawn.rail_v.value < k_shorted_rail * in.rail_v.value;
        return {VerdictState::outside, shorted ? "looks shorted" : "too bright",
                worded("A {} lamp means {} from each rail at about {}, and a healthy idle {}: "
                       "{}.",
                       label, range_of(drawn.rail_a, Unit::ampere), volts(drawn.rail_v.value),
                       amps(expected.rail_a.value),
                       shorted ? "a shorted output, bridge or reservoir, or the bias hard on; "
                                 "switch off"
                               : "too much bias, a leak or a short on one rail; switch off "
                                 "and find it")};
    }
    case Placement::above:
        break;
    }
    return {VerdictState::outside, "too dark",
            worded("A {} lamp means {} from each rail, and a healthy idle {}: an open fuse, "
                   "a missing rail, or no bias.",
                   label, range_of(drawn.rail_a, Unit::ampere), amps(expected.rail_a.value))};
}

Verdict of_the_choice(const Given& in, const Expected& expected, const Offer* best) {
    const double least_v = k_least_rail * in.rail_v.value;
    const std::string rails = worded("{} leaves ±{} of ±{} at idle", watts(in.lamp.rated_w),
                                     volts(expected.rail_v.value), volts(in.rail_v.value));
    const std::string better = best != nullptr
                                   ? worded("take {}", watts(best->rated_w))
                                   : std::string("take lamps in parallel or a larger one");
    switch (place(expected.rail_v, least_v, 2 * in.rail_v.high)) {
    case Placement::below:
        return {VerdictState::outside, "lamp too small",
                worded("{}, too little to judge the bias by; {}.", rails, better)};
    case Placement::at_low_edge:
        return {VerdictState::at_the_edge, "lamp rather small",
                worded("{}, about the least to work with; {}.", rails, better)};
    case Placement::inside:
    case Placement::at_high_edge:
    case Placement::above:
        break;
    }
    if (best != nullptr && in.lamp.rated_w > k_larger_than_needed * best->rated_w) {
        return {VerdictState::at_the_edge, "larger than needed",
                worded("{}, and so would {}, which lets a fault draw less.", rails,
                       watts(best->rated_w))};
    }
    return {VerdictState::in_window, "lamp suits",
            worded("{}, the lamp {} ({}); brighter than that is a fault.", rails,
                   glow_text(expected.filament_k), kelvins(expected.filament_k.value))};
}

void add_figures(const Given& in, const Expected& expected, const std::optional<Drawn>& drawn,
                 const Offer* best, Outcome& outcome) {
    const auto add = [&outcome](std::string key, std::string label, std::string symbol,
                                const Interval& value, Unit unit) {
        outcome.figures.push_back(
            {std::move(key), std::move(label), std::move(symbol), to_amount(value, unit)});
    };
    add("lamp_current", "Lamp current at a healthy idle", "I_lamp", expected.lamp_a, Unit::ampere);
    if (drawn) {
        add("drawn", "Drawn from each rail, by the glow", "", drawn->rail_a, Unit::ampere);
        add("drawn_rail", "Rail then", "", drawn->rail_v, Unit::volt);
        add("drawn_lamp_current", "Lamp current then", "", drawn->lamp_a, Unit::ampere);
    }
    add("rail_on_lamp", "Rail on the lamp", "", expected.rail_v, Unit::volt);
    add("idle_on_lamp", "Idle on the lamp, each rail", "", expected.rail_a, Unit::ampere);
    add("rail_rise", "Rail rises when the lamp comes out", "", expected.rail_rise_v, Unit::volt);
    add("idle_rise", "Idle rises when the lamp comes out", "", expected.idle_rise_a, Unit::ampere);
    add("lamp_volts_rms", "Volts across the lamp", "V_lamp", expected.lamp_v, Unit::volt);
    add("unit_volts", "Mains left for the unit", "", expected.unit_v, Unit::volt);
    add("filament", "Filament temperature", "T", expected.filament_k, Unit::kelvin);
    if (best != nullptr) {
        add("lamp_to_use", "Lamp to use", "", Interval::exact(best->rated_w), Unit::watt);
    }
    MainsUnit shorted = nominal_unit(in);
    shorted.demand = {in.rail_v.value / k_short_ohm, in.rail_v.value, 1};
    const LampPoint at_short = on_lamp(in.lamp, shorted);
    add("short_lamp_current", "Lamp current with both rails shorted", "",
        Interval::exact(at_short.lamp_a), Unit::ampere);
    add("short_rail_current", "Then from each rail", "", Interval::exact(at_short.rail_a),
        Unit::ampere);
    // Cold filaments measure a tenth to a fifteenth of the hot one.
    const double hot_ohm = lamp_hot_ohm(in.lamp);
    const double peak_v = k_root_two * in.mains_v;
    add("surge", "Most at switch-on, lamp cold", "",
        interval_around<2>(peak_v / lamp_ohm(in.lamp, in.lamp.room_k),
                           {peak_v / (hot_ohm / 10), peak_v / (hot_ohm / 15)}),
        Unit::ampere);
    if (in.reservoir != nullptr) {
        const Interval reservoir = Interval::from(*in.reservoir);
        add("flash", "Flash at switch-on, about", "",
            monotone([&](double farad) { return flash_s(in.lamp, nominal_unit(in), farad); },
                     reservoir),
            Unit::second);
        add("ripple", "Ripple on full mains, peak to peak", "",
            monotone([](double idle_a, double farad,
                        double hertz) { return idle_a / (2 * hertz * farad); },
                     in.idle_a, reservoir, in.frequency_hz),
            Unit::volt);
    }
}

void add_cautions(const Given& in, const Expected& expected, Outcome& outcome) {
    auto& cautions = outcome.cautions;
    cautions.push_back(worded(
        "Mains. The lamp limits the current, it isolates nothing: unplug before you touch, work "
        "behind an isolating transformer, and keep to the local code and to what you are licensed "
        "for. The reservoirs hold ±{} after switch-off: discharge and measure them.",
        volts(expected.rail_v.value)));
    cautions.emplace_back("A filament lamp (halogen counts), never LED or compact fluorescent: "
                          "those neither limit nor show anything.");
    if (expected.rail_v.low < k_least_rail * in.rail_v.value) {
        cautions.emplace_back("At such low rails a protection relay may not pull in and a loop may "
                              "be unstable: judge nothing but the current.");
    }
}

void add_notes(const Given& in, const Expected& expected,
               const std::array<Offer, k_standard_w.size()>& offers, const Offer* best,
               Outcome& outcome) {
    auto& notes = outcome.notes;
    std::string list;
    for (const Offer& offer : offers) {
        list += fmt::format("{}{}: ±{}, {}", list.empty() ? "" : "; ", watts(offer.rated_w),
                            volts(offer.point.rail_v), glow_label(glow_of(offer.point.filament_k)));
    }
    notes.push_back(fmt::format(
        "{} {}.",
        best != nullptr
            ? worded("Take {}: the smallest that leaves {} of the rail and stays nearly dark "
                     "at idle.",
                     watts(best->rated_w), print_short(k_enough_rail, Unit::percent))
            : std::string("None of the usual lamps leaves enough: several in parallel, or a heater "
                          "of some hundred watts."),
        list));
    notes.push_back(worded(
        "When the lamp comes out the rails rise by {} and the idle current by {}: set the bias on "
        "full mains, warm, not on the lamp.",
        volts(expected.rail_rise_v.value), amps(expected.idle_rise_a.value)));
    notes.emplace_back(in.reservoir != nullptr
                           ? "A flash at switch-on is the reservoirs charging; it has to fade."
                           : "A flash at switch-on is the reservoirs charging; it has to fade "
                             "within a second or two. Give the reservoir for how long.");
    if (in.seen) {
        notes.emplace_back("Both rails are taken alike: if one alone is at fault, it draws about "
                           "twice what the glow says.");
    }
    notes.emplace_back("A visible glow takes 800 to 900\u2009K by the eye and the light: shade the "
                       "lamp to judge it. A supply that switches may not start on a lamp at all.");
}

void add_curves(const Given& in, const Expected& expected, Outcome& outcome) {
    const auto curve = [](std::string key, std::string label, CurveRole role) {
        return Curve{std::move(key),
                     std::move(label),
                     role,
                     {"Demand, each rail", Unit::ampere, {}},
                     {"Of full", Unit::percent, {}}};
    };
    Curve rails = curve("rail", "rails, of full", CurveRole::as_found);
    Curve lamp = curve("lamp", "lamp volts, of mains", CurveRole::target);
    Curve glow = curve("glow", "glow begins", CurveRole::limit);
    Curve at = curve("idle", "healthy idle", CurveRole::point);
    MainsUnit unit = nominal_unit(in);
    const double most_a = 5 * in.idle_a.value;
    for (int i = 0; i < k_points; ++i) {
        // Crowded at the low end, where the lamp wakes.
        const double part = static_cast<double>(i) / (k_points - 1);
        const double idle_a = most_a * (0.02 + 0.98 * part * part);
        unit.demand.current_a = idle_a;
        const LampPoint point = on_lamp(in.lamp, unit);
        rails.x.values.push_back(idle_a);
        rails.y.values.push_back(point.rail_v / in.rail_v.value);
        lamp.x.values.push_back(idle_a);
        lamp.y.values.push_back(point.lamp_v / in.mains_v);
    }
    // Volts across the lamp when its filament is just visible.
    const double visible_v =
        std::sqrt(lamp_loss_w(in.lamp, k_visible_k) * lamp_ohm(in.lamp, k_visible_k));
    glow.x.values = {rails.x.values.front(), rails.x.values.back()};
    glow.y.values = {visible_v / in.mains_v, visible_v / in.mains_v};
    at.x.values = {in.idle_a.value, in.idle_a.value};
    at.y.values = {expected.rail_v.value / in.rail_v.value, expected.lamp_v.value / in.mains_v};
    outcome.plot = PlotKind::lines;
    outcome.curves = {std::move(rails), std::move(lamp), std::move(glow), std::move(at)};
}

Result<Outcome> compute(const Inputs& inputs) {
    const Given in = given_in(inputs);
    const Expected expected = expected_of(in);
    const auto offers = offers_for(in);
    const Offer* best = best_of(offers);
    const std::optional<Drawn> drawn =
        in.seen ? std::optional(drawn_when(in, *in.seen)) : std::nullopt;
    Outcome outcome;
    add_figures(in, expected, drawn, best, outcome);
    outcome.headline_note = worded("{}, {}; rails ±{} of ±{}", glow_text(expected.filament_k),
                                   kelvins(expected.filament_k.value), volts(expected.rail_v.value),
                                   volts(in.rail_v.value));
    outcome.verdict =
        drawn ? against_seen(in, expected, *drawn) : of_the_choice(in, expected, best);
    add_cautions(in, expected, outcome);
    add_notes(in, expected, offers, best, outcome);
    add_curves(in, expected, outcome);
    return outcome;
}

} // namespace

Working lamp_working() {
    return {"lamp",   "Series lamp", "How will the lamp glow, and what does its glow say?",
            k_fields, compute,       "Jones and Langmuir's tungsten filament; Schade's rectifier"};
}

} // namespace railside
