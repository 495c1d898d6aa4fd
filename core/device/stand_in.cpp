#include "core/device/stand_in.h"

#include "core/device/gain.h"
#include "core/quantity/value_code.h"
#include "core/words/words.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

namespace railside {

namespace {

constexpr double k_pi = 3.14159265358979323846;
constexpr double k_mains_high = 1.1;    // EN 50160
constexpr double k_impedance_dip = 0.8; // IEC 60268-5
constexpr double k_phase_rad = k_pi / 4;
constexpr double k_catch_v = 2; // a reactive load kicks past the rail into the catch diodes
constexpr double k_case_c = 75;
constexpr double k_ambient_c = 50;
constexpr double k_sheet_c = 25;
constexpr double k_mount_c = 70;
constexpr double k_least_junction_c = 150; // taken where a silicon sheet's is not known
constexpr double k_germanium_junction_c = 90;

// A driver feeds outputs whose gain at the peak lies between a good one and a poor one: power
// transistors' sheets promise 15 to 50 there. The driver's own, feeding a pre-driver, 30 to 100.
constexpr double k_good_output_gain = 50;
constexpr double k_poor_output_gain = 20;
constexpr double k_good_driver_gain = 100;
constexpr double k_poor_driver_gain = 30;

// Stages before the drivers carry their standing current, whatever the load: bare and with
// reserve, from the usual few milliamperes and what a limiter is forced to take.
struct StandingNeed {
    Role role = Role::other;
    double volts_per_rail = 0; // of the greatest V_CE
    FigureNeed ceo_v;          // instead, where it does not follow the rails
    FigureNeed collector_a;
    FigureNeed power_per_rail_w; // watt for each volt of rail
    FigureNeed power_w;          // instead
    FigureNeed gain;             // least gain when the original's is not known
};
constexpr std::array<StandingNeed, 8> k_standing{{
    {Role::output, 2, {}, {}, {}, {}, {15, 25}},
    {Role::driver, 2, {}, {}, {}, {}, {25, 40}},
    {Role::pre_driver, 2, {}, {}, {0.002, 0.01}, {}, {40, 80}},
    {Role::limiter, 0, {6, 20}, {0.015, 0.05}, {}, {0.02, 0.1}, {30, 60}},
    {Role::bias_spreader, 0, {5, 15}, {0.01, 0.05}, {}, {0.03, 0.15}, {30, 60}},
    {Role::voltage_amplifier, 2, {}, {0.005, 0.03}, {0.005, 0.01}, {}, {40, 80}},
    {Role::input_pair, 1, {}, {0.001, 0.005}, {0.001, 0.003}, {}, {80, 150}},
    {Role::other, 2, {}, {}, {}, {}, {}},
}};

const StandingNeed& standing(Role role) {
    for (const StandingNeed& each : k_standing) {
        if (each.role == role) {
            return each;
        }
    }
    return k_standing.back();
}

const std::optional<double> k_nothing;

std::optional<FigureNeed> given(const FigureNeed& need) {
    return need.wanted > 0 ? std::optional(need) : std::nullopt;
}

/// Worst mean dissipation of one half over all levels, sine (see the header).
double worst_power_w(double rail_v, double load_ohm, double phase_rad) {
    return rail_v * rail_v / (k_pi * k_pi * load_ohm * std::cos(phase_rad));
}

/// Dissipation allowed where the part works.
std::optional<double> derated_power_w(const Part& part, double case_c) {
    if (!part.power_w) {
        return std::nullopt;
    }
    const double usual =
        part.material == Material::germanium ? k_germanium_junction_c : k_least_junction_c;
    const double junction_c = part.junction_c.value_or(usual);
    double rated_c = k_sheet_c;
    double works_c = case_c;
    switch (part.power_at) {
    case PowerAt::case_25:
        break;
    case PowerAt::ambient_25:
        works_c = std::min(case_c, k_ambient_c);
        break;
    case PowerAt::mount_70:
        rated_c = k_mount_c;
        break;
    }
    if (junction_c <= rated_c) {
        return 0;
    }
    return *part.power_w * std::clamp((junction_c - works_c) / (junction_c - rated_c), 0.0, 1.0);
}

/// The least of what is allowed over what flows, along the load line; second_known is false when
/// the sheet's points took no part.
struct LineMargin {
    double ratio = 0;
    bool second_known = false;
};
std::optional<LineMargin> along_the_line(const Position& position, const Part& part,
                                         double phase_rad) {
    constexpr int k_steps = 180;
    std::optional<LineMargin> least;
    for (int i = 0; i <= k_steps; ++i) {
        // The half conducts while the current is positive.
        const double angle = phase_rad + k_pi * i / k_steps;
        const double amperes =
            position.rail_v / (position.load_ohm * position.pairs) * std::sin(angle - phase_rad);
        const double volts = position.rail_v * (1 - std::sin(angle));
        if (amperes <= 0 || volts <= 0) {
            continue;
        }
        const auto limit = safe_limit(part, volts, k_case_c);
        if (!limit) {
            return std::nullopt;
        }
        const double ratio = limit->amperes / amperes;
        if (!least || ratio < least->ratio) {
            least = {ratio, limit->second_known};
        }
    }
    return least;
}

bool has_sink_face(Mount mount) {
    switch (mount) {
    case Mount::to92:
    case Mount::can:
    case Mount::surface:
    case Mount::unknown:
        return false;
    case Mount::to3:
    case Mount::to3_small:
    case Mount::large:
    case Mount::plate:
    case Mount::multi:
    case Mount::to220:
    case Mount::to126:
        break;
    }
    return true;
}

std::string figure(double value, Unit unit) { return print_short(value, unit, 3); }

std::string_view kind_words(const Part& part) {
    if (part.material == Material::germanium) {
        return "germanium";
    }
    switch (part.kind) {
    case PartKind::single:
        return "single, silicon";
    case PartKind::darlington:
        return "Darlington";
    case PartKind::base_resistors:
        break;
    }
    return "with base resistors";
}

/// The part's least gain, carried to the current at which the need holds.
std::optional<double> gain_at_need(const Position& position, const Part& part,
                                   std::optional<double> gain, std::optional<double> from_a,
                                   std::optional<double> to_a) {
    if (!gain || !from_a || !to_a || part.kind != PartKind::single || *from_a == *to_a) {
        return gain;
    }
    // A window holds over a range of currents; what differs less than that is not carried.
    if (*to_a < *from_a * 3 && *from_a < *to_a * 3) {
        return gain;
    }
    const GainFactor factor =
        gain_factor(generic_device(position.role), {*from_a, k_sheet_c}, {*to_a, k_sheet_c});
    return *gain * std::min(factor.value, 1.0);
}

/// What is asked against what is there.
class Judge {
  public:
    Judge(const Position& position, const Part& part, const std::optional<GainGroup>& group,
          Candidate& candidate)
        : position_(position), part_(part), group_(group), needs_(needs_of(position)),
          candidate_(candidate) {}

    void run() {
        polarity();
        kind();
        ceo();
        numbers(Parameter::collector, needs_.collector_a, part_.collector_a, Unit::ampere,
                original() ? original()->collector_a : k_nothing);
        power();
        if (position_.role == Role::output) {
            safe_area();
        }
        gain();
        if (fast_matters()) {
            transit();
            output_cap();
        }
        body();
        leads();
        insulation();
        count();
    }

  private:
    [[nodiscard]] const Part* original() const { return position_.original; }
    [[nodiscard]] bool fast_matters() const {
        return position_.role != Role::limiter && position_.role != Role::bias_spreader;
    }

    void add(Parameter parameter, MarginState state, std::string needed, std::string has,
             std::string reason = {}, std::optional<double> ratio = std::nullopt) {
        candidate_.margins.push_back(
            {parameter, state, std::move(needed), std::move(has), ratio, std::move(reason)});
    }

    void polarity() {
        if (!position_.polarity) {
            return add(Parameter::polarity, MarginState::unknown, "not known",
                       std::string(polarity_key(part_.polarity)));
        }
        add(Parameter::polarity,
            part_.polarity == *position_.polarity ? MarginState::pass : MarginState::fail,
            std::string(polarity_key(*position_.polarity)),
            std::string(polarity_key(part_.polarity)));
    }

    void kind() {
        const std::string has(kind_words(part_));
        if (original() == nullptr) {
            const bool plain =
                part_.kind == PartKind::single && part_.material == Material::silicon;
            return add(Parameter::kind, plain ? MarginState::pass : MarginState::unknown,
                       "single, silicon", has, plain ? "" : "What the original was is not known.");
        }
        const bool alike = part_.kind == original()->kind && part_.material == original()->material;
        add(Parameter::kind, alike ? MarginState::pass : MarginState::fail,
            std::string(kind_words(*original())), has,
            alike ? "" : "Its base-emitter volts differ, so the bias would be far off.");
    }

    /// More is better: under bare it fails, from wanted on it passes, and between them it passes
    /// where the original was no better.
    void numbers(Parameter parameter, const std::optional<FigureNeed>& need,
                 std::optional<double> has, Unit unit, const std::optional<double>& original_has,
                 std::string reason = {}) {
        const std::string has_text = has ? figure(*has, unit) : "not known";
        if (!need) {
            return add(parameter, MarginState::unknown, "not known", has_text,
                       "There is nothing to judge it by.");
        }
        const std::string needed = figure(need->wanted, unit);
        if (!has) {
            return add(parameter, MarginState::unknown, needed, has_text, std::move(reason));
        }
        const double ratio = *has / need->wanted;
        if (*has < need->bare) {
            return add(parameter, MarginState::fail, needed, has_text,
                       worded("Under the {} without any reserve.{}{}", figure(need->bare, unit),
                              reason.empty() ? "" : " ", reason),
                       ratio);
        }
        if (*has >= need->wanted) {
            return add(parameter, MarginState::pass, needed, has_text, std::move(reason), ratio);
        }
        if (original_has && *has >= *original_has) {
            return add(parameter, MarginState::pass, needed, has_text,
                       worded("Less reserve than wanted, but no less than the original's {}.",
                              figure(*original_has, unit)),
                       ratio);
        }
        add(parameter, MarginState::tight, needed, has_text,
            worded("Over the {} without reserve, short of the reserve.", figure(need->bare, unit)),
            ratio);
    }

    void ceo() {
        const bool known = original() != nullptr && !original()->from_card;
        numbers(Parameter::ceo, needs_.ceo_v, part_.ceo_v, Unit::volt,
                known ? original()->ceo_v : k_nothing);
        Margin& margin = candidate_.margins.back();
        if (part_.from_card && margin.state != MarginState::fail) {
            margin.state = MarginState::unknown;
            margin.reason = "A card's Vceo is often the V_CBO: read the sheet.";
        }
    }

    void power() {
        const auto here = derated_power_w(part_, k_case_c);
        const auto of_original = original() ? derated_power_w(*original(), k_case_c) : k_nothing;
        numbers(Parameter::power, needs_.power_w, here, Unit::watt, of_original);
        if (here) {
            Margin& margin = candidate_.margins.back();
            const bool in_air = part_.power_at == PowerAt::ambient_25;
            margin.has += worded(" at {}", in_air ? "50\u2009\u00b0C air" : "75\u2009\u00b0C case");
            if (!part_.junction_c) {
                margin.reason += worded("{}Junction taken as {}.", margin.reason.empty() ? "" : " ",
                                        part_.material == Material::germanium ? "90\u2009\u00b0C"
                                                                              : "150\u2009\u00b0C");
            }
        }
    }

    void safe_area() {
        const auto bare = along_the_line(position_, part_, 0);
        const auto wanted = along_the_line(position_, part_, k_phase_rad);
        const std::string needed = "load line at 45\u00b0";
        if (!bare || !wanted) {
            return add(Parameter::safe_area, MarginState::unknown, needed, "not known");
        }
        const std::string has =
            worded("{} at 45\u00b0, {} resistive", print_value(wanted->ratio, Unit::ratio, 2),
                   print_value(bare->ratio, Unit::ratio, 2));
        if (bare->ratio < 1) {
            return add(Parameter::safe_area, MarginState::fail, needed, has,
                       "Even a resistive load passes through what it may not carry for long.",
                       wanted->ratio);
        }
        if (part_.safe.empty()) {
            return add(Parameter::safe_area, MarginState::unknown, needed, has,
                       "Its second-breakdown line is not in the table; current and dissipation "
                       "alone were looked at.",
                       wanted->ratio);
        }
        if (wanted->ratio >= 1) {
            return add(Parameter::safe_area, MarginState::pass, needed, has, {}, wanted->ratio);
        }
        const auto of_original = original() != nullptr && !original()->safe.empty()
                                     ? along_the_line(position_, *original(), k_phase_rad)
                                     : std::optional<LineMargin>();
        const bool no_worse = of_original && wanted->ratio >= of_original->ratio;
        add(Parameter::safe_area, no_worse ? MarginState::pass : MarginState::tight, needed, has,
            no_worse
                ? "Short of the direct-current line at 45\u00b0, but no worse than the original."
                : "At 45\u00b0 it goes past the direct-current line; only the shortness of a "
                  "half cycle covers it.",
            wanted->ratio);
    }

    void gain() {
        if (part_.kind == PartKind::base_resistors) {
            return add(Parameter::gain, MarginState::unknown, "not known", "not known",
                       "With resistors at its base a gain means nothing.");
        }
        if (part_.from_card) {
            const auto here =
                gain_at_need(position_, part_, part_.card_gain, part_.card_gain_a, needs_.gain_a);
            numbers(Parameter::gain, needs_.gain, here, Unit::ratio, k_nothing);
            Margin& margin = candidate_.margins.back();
            if (margin.state != MarginState::fail) {
                margin.state = MarginState::unknown;
                margin.reason = "A card's gain is the typical one, not the least.";
            }
            return;
        }
        const std::optional<double> least = gain_window(part_, group_).low;
        numbers(Parameter::gain, needs_.gain,
                gain_at_need(position_, part_, least, part_.gain_a, needs_.gain_a), Unit::ratio,
                k_nothing);
        if (least && part_.gain_a) {
            candidate_.margins.back().has += worded(" ({} at {})", figure(*least, Unit::ratio),
                                                    figure(*part_.gain_a, Unit::ampere));
        }
    }

    void transit() {
        const std::optional<double>& of_original = original() ? original()->transit_hz : k_nothing;
        numbers(Parameter::transit, needs_.transit_hz, part_.transit_hz, Unit::hertz, of_original);
        Margin& margin = candidate_.margins.back();
        if (!of_original || !part_.transit_hz) {
            return;
        }
        if (part_.transit_is != original()->transit_is) {
            margin.reason +=
                worded("{}One is a minimum, the other typical.", margin.reason.empty() ? "" : " ");
        }
        if (*part_.transit_hz > 4 * *of_original) {
            candidate_.warnings.push_back(
                worded("{} is {} times as fast as the original: look for oscillation with a "
                       "scope at full level and with a capacitive load.",
                       part_.type, print_value(*part_.transit_hz / *of_original, Unit::ratio, 2)));
        }
    }

    void output_cap() {
        const std::string has = part_.output_f ? figure(*part_.output_f, Unit::farad) : "not known";
        if (!needs_.most_output_f) {
            return add(Parameter::output_cap, MarginState::unknown, "not known", has,
                       "The original's is not known.");
        }
        const std::string needed = worded("to {}", figure(*needs_.most_output_f, Unit::farad));
        if (!part_.output_f) {
            return add(Parameter::output_cap, MarginState::unknown, needed, has);
        }
        const double ratio = *needs_.most_output_f / *part_.output_f;
        add(Parameter::output_cap, ratio >= 1 ? MarginState::pass : MarginState::tight, needed, has,
            {}, ratio);
        if (ratio < 1) {
            candidate_.warnings.push_back(worded(
                "{} has {} of output capacitance, {} times the original's: less treble power and "
                "less phase margin; look at a square wave before it goes out.",
                part_.type, has, print_value(2 / ratio, Unit::ratio, 2)));
        }
    }

    void body() {
        const bool asked = !position_.package.empty();
        const std::string needed =
            asked ? position_.package : (original() != nullptr ? original()->package : "");
        const std::string has = part_.package.empty() ? "not known" : part_.package;
        if (needed.empty() || part_.package.empty()) {
            return add(Parameter::body, MarginState::unknown, needed.empty() ? "not known" : needed,
                       has);
        }
        if (same_package(needed, part_.package)) {
            return add(Parameter::body, MarginState::pass, needed, has);
        }
        const Mount mount = mount_of(needed);
        const Mount own = mount_of(part_.package);
        if (mount == Mount::unknown || own == Mount::unknown) {
            return add(Parameter::body, MarginState::unknown, needed, has,
                       "Whether it fits the fixing is not known.");
        }
        if (mount == own) {
            return add(Parameter::body, MarginState::pass, needed, has,
                       "Same kind of fixing; compare hole and outline.");
        }
        if (has_sink_face(mount) && !has_sink_face(own)) {
            return add(Parameter::body, MarginState::fail, needed, has,
                       "It has no face for the sink the place was made for.");
        }
        add(Parameter::body, asked ? MarginState::fail : MarginState::tight, needed, has,
            "It does not go onto the same fixing.");
    }

    void leads() {
        const std::string has = leads_text(part_);
        if (original() == nullptr) {
            return add(Parameter::leads, MarginState::unknown, "not known", has);
        }
        candidate_.leads = compare_leads(*original(), part_);
        const std::string needed = leads_text(*original());
        switch (candidate_.leads) {
        case LeadOrder::same:
            return add(Parameter::leads, MarginState::pass, needed, has);
        case LeadOrder::mirrored:
            add(Parameter::leads, MarginState::tight, needed, has, "Mirrored: it goes in turned.");
            candidate_.warnings.push_back(
                worded("Leads of {} are mirrored, {} against {}: fitted like the original, "
                       "collector and emitter or base and emitter are crossed.",
                       part_.type, has, needed));
            return;
        case LeadOrder::different:
            add(Parameter::leads, MarginState::tight, needed, has,
                "Another order: the leads have to be crossed.");
            candidate_.warnings.push_back(
                worded("Leads of {} stand in another order, {} against {}: they have to be "
                       "crossed and sleeved.",
                       part_.type, has, needed));
            return;
        case LeadOrder::unknown:
            break;
        }
        add(Parameter::leads, MarginState::unknown, needed, has,
            "Measure both before one goes in.");
    }

    /// Only an original that needed no washer makes a difference.
    void insulation() {
        if (original() == nullptr || original()->insulated != Insulation::yes ||
            mount_of(original()->package) == Mount::to92) {
            return;
        }
        switch (part_.insulated) {
        case Insulation::yes:
            return add(Parameter::insulation, MarginState::pass, "insulated", "insulated");
        case Insulation::unknown:
            return add(Parameter::insulation, MarginState::unknown, "insulated", "not known");
        case Insulation::no:
            break;
        }
        add(Parameter::insulation, MarginState::tight, "insulated", "collector bare",
            "It needs a washer and a bush that the original did without.");
        candidate_.warnings.push_back(
            worded("The mounting face of {} is its collector, and the original needed no "
                   "washer: fit one with a bush, and measure collector to sink.",
                   part_.type));
    }

    void count() {
        double distance = 0;
        for (const Margin& margin : candidate_.margins) {
            candidate_.fails += margin.state == MarginState::fail ? 1 : 0;
            candidate_.unknowns += margin.state == MarginState::unknown ? 1 : 0;
            candidate_.tights += margin.state == MarginState::tight ? 1 : 0;
            if (margin.ratio &&
                (!candidate_.smallest || *margin.ratio < *candidate_.smallest->ratio)) {
                candidate_.smallest = margin;
            }
        }
        const auto apart = [&distance](std::optional<double> a, std::optional<double> b) {
            if (a && b && *a > 0 && *b > 0) {
                distance += std::abs(std::log(*a / *b));
            }
        };
        if (const Part* first = original()) {
            apart(part_.ceo_v, first->ceo_v);
            apart(part_.collector_a, first->collector_a);
            apart(part_.power_w, first->power_w);
            apart(part_.gain_low, first->gain_low);
            apart(part_.transit_hz, first->transit_hz);
            apart(part_.output_f, first->output_f);
        } else {
            apart(part_.ceo_v, needs_.ceo_v ? std::optional(needs_.ceo_v->wanted) : std::nullopt);
            apart(part_.collector_a,
                  needs_.collector_a ? std::optional(needs_.collector_a->wanted) : std::nullopt);
        }
        candidate_.distance = distance;
    }

    const Position& position_;
    const Part& part_;
    const std::optional<GainGroup>& group_;
    Needs needs_;
    Candidate& candidate_;
};

} // namespace

std::string_view parameter_label(Parameter parameter) {
    switch (parameter) {
    case Parameter::polarity:
        return "Polarity";
    case Parameter::kind:
        return "Kind";
    case Parameter::ceo:
        return "Collector-emitter volts";
    case Parameter::collector:
        return "Collector current";
    case Parameter::power:
        return "Dissipation";
    case Parameter::safe_area:
        return "Safe area";
    case Parameter::gain:
        return "Least gain";
    case Parameter::transit:
        return "Speed";
    case Parameter::output_cap:
        return "Output capacitance";
    case Parameter::body:
        return "Body";
    case Parameter::leads:
        return "Lead order";
    case Parameter::insulation:
        break;
    }
    return "Mounting face";
}

std::string_view parameter_symbol(Parameter parameter) {
    switch (parameter) {
    case Parameter::ceo:
        return "V_CEO";
    case Parameter::collector:
        return "I_C";
    case Parameter::power:
        return "P_D";
    case Parameter::gain:
        return "h_FE";
    case Parameter::transit:
        return "f_T";
    case Parameter::output_cap:
        return "C_ob";
    case Parameter::polarity:
    case Parameter::kind:
    case Parameter::safe_area:
    case Parameter::body:
    case Parameter::leads:
    case Parameter::insulation:
        break;
    }
    return {};
}

std::string_view parameter_short(Parameter parameter) {
    switch (parameter) {
    case Parameter::polarity:
        return "polarity";
    case Parameter::kind:
        return "kind";
    case Parameter::safe_area:
        return "safe area";
    case Parameter::body:
        return "body";
    case Parameter::leads:
        return "leads";
    case Parameter::insulation:
        return "face";
    case Parameter::ceo:
    case Parameter::collector:
    case Parameter::power:
    case Parameter::gain:
    case Parameter::transit:
    case Parameter::output_cap:
        break;
    }
    return parameter_symbol(parameter);
}

std::string_view margin_key(MarginState state) {
    switch (state) {
    case MarginState::pass:
        return "pass";
    case MarginState::tight:
        return "tight";
    case MarginState::unknown:
        return "unknown";
    case MarginState::fail:
        break;
    }
    return "fail";
}

Needs needs_of(const Position& position) {
    const StandingNeed& fixed = standing(position.role);
    const double rail_v = position.rail_v;
    Needs needs;
    if (fixed.volts_per_rail > 0) {
        const double bare = fixed.volts_per_rail * rail_v;
        needs.ceo_v = FigureNeed{bare, bare * k_mains_high + k_catch_v};
    } else {
        needs.ceo_v = given(fixed.ceo_v);
    }

    const double load_a = rail_v / position.load_ohm;
    const double reserve = k_mains_high / k_impedance_dip;
    const double high_v = rail_v * k_mains_high;
    const double bare_w = worst_power_w(rail_v, position.load_ohm, 0);
    const double wanted_w = worst_power_w(high_v, position.load_ohm * k_impedance_dip, k_phase_rad);
    if (position.role == Role::output) {
        needs.collector_a = FigureNeed{load_a / position.pairs, load_a * reserve / position.pairs};
        needs.power_w = FigureNeed{bare_w / position.pairs, wanted_w / position.pairs};
    } else if (position.role == Role::driver) {
        // One driver feeds all outputs of its half.
        needs.collector_a =
            FigureNeed{load_a / k_good_output_gain, load_a * reserve / k_poor_output_gain};
        needs.power_w = FigureNeed{bare_w / k_good_output_gain, wanted_w / k_poor_output_gain};
    } else if (position.role == Role::pre_driver) {
        needs.collector_a =
            FigureNeed{load_a / (k_good_output_gain * k_good_driver_gain),
                       load_a * reserve / (k_poor_output_gain * k_poor_driver_gain)};
    } else {
        needs.collector_a = given(fixed.collector_a);
    }
    if (!needs.power_w) {
        const FigureNeed& each = fixed.power_per_rail_w;
        needs.power_w = each.wanted > 0 ? FigureNeed{each.bare * rail_v, each.wanted * high_v}
                                        : given(fixed.power_w);
    }

    needs.gain = given(fixed.gain);
    const Part* original = position.original;
    if (original == nullptr) {
        return needs;
    }
    const auto least = original->from_card ? original->card_gain
                                           : gain_window(*original, position.original_group).low;
    // A limiter or spreader needs enough, not as much as the original.
    const bool any_will_do = position.role == Role::limiter || position.role == Role::bias_spreader;
    if (least && !any_will_do) {
        // Half the gain takes twice the drive, which few stages have to spare.
        needs.gain = FigureNeed{*least / 2, *least * 0.8};
        needs.gain_a =
            original->from_card ? std::optional(original->card_gain_a) : original->gain_a;
    }
    if (original->transit_hz) {
        needs.transit_hz = FigureNeed{*original->transit_hz / 4, *original->transit_hz * 0.7};
    }
    if (original->output_f) {
        needs.most_output_f = 2 * *original->output_f;
    }
    // Where nothing is computed the original is the measure.
    const auto as_original = [](std::optional<FigureNeed>& need, std::optional<double> has) {
        if (!need && has) {
            need = FigureNeed{*has / 2, *has};
        }
    };
    as_original(needs.collector_a, original->collector_a);
    as_original(needs.power_w, derated_power_w(*original, k_case_c));
    return needs;
}

std::optional<SafeCurrent> safe_limit(const Part& part, double volts, double case_c) {
    const auto power_w = derated_power_w(part, case_c);
    if (!power_w || !part.collector_a || !part.ceo_v) {
        return std::nullopt;
    }
    if (volts > *part.ceo_v) {
        return SafeCurrent{0, !part.safe.empty()};
    }
    SafeCurrent limit{*part.collector_a, !part.safe.empty()};
    if (volts > 0) {
        limit.amperes = std::min(limit.amperes, *power_w / volts);
    }
    if (part.safe.empty() || volts <= part.safe.front().volts) {
        return limit;
    }
    // Between the points a straight line on double-logarithmic paper; past the last as steep as
    // between the last two, or as the second power where there is one point.
    const double derating = part.power_w && *part.power_w > 0 ? *power_w / *part.power_w : 1;
    const auto next = std::find_if(part.safe.begin() + 1, part.safe.end(),
                                   [volts](const SafePoint& p) { return p.volts >= volts; });
    const auto high = next == part.safe.end() ? part.safe.end() - 1 : next;
    double slope = 2;
    if (part.safe.size() > 1) {
        const auto low = high - 1;
        slope = std::log(low->amperes / high->amperes) / std::log(high->volts / low->volts);
    }
    const double second_a = derating * high->amperes * std::pow(volts / high->volts, -slope);
    limit.amperes = std::min(limit.amperes, second_a);
    return limit;
}

Candidate judge_part(const Position& position, const Part& part,
                     const std::optional<GainGroup>& group, const PartsTable& table,
                     const Drawer& drawer) {
    Candidate candidate;
    candidate.part = &part;
    candidate.group = group;
    Judge(position, part, group, candidate).run();
    candidate.stock = stock_of(drawer, table, part, std::nullopt);
    if (!part.complement.empty()) {
        if (const auto other = find_part(table, part.complement)) {
            candidate.complement_known = true;
            candidate.complement_stock = stock_of(drawer, table, *other->part, std::nullopt);
        }
    }
    return candidate;
}

std::vector<Candidate> rank_parts(const Position& position, const PartsTable& table,
                                  const Drawer& drawer) {
    std::vector<Candidate> ranked;
    for (const Part& part : table.parts) {
        if (position.original != nullptr && same_type(part.type, position.original->type)) {
            continue;
        }
        Candidate candidate = judge_part(position, part, std::nullopt, table, drawer);
        const bool wrong = std::any_of(candidate.margins.begin(), candidate.margins.end(),
                                       [](const Margin& margin) {
                                           return margin.state == MarginState::fail &&
                                                  (margin.parameter == Parameter::polarity ||
                                                   margin.parameter == Parameter::kind);
                                       });
        if (!wrong) {
            ranked.push_back(std::move(candidate));
        }
    }
    std::stable_sort(ranked.begin(), ranked.end(), [](const Candidate& a, const Candidate& b) {
        if (a.fails != b.fails) {
            return a.fails < b.fails;
        }
        if (a.unknowns + a.tights != b.unknowns + b.tights) {
            return a.unknowns + a.tights < b.unknowns + b.tights;
        }
        if (a.unknowns != b.unknowns) {
            return a.unknowns < b.unknowns;
        }
        if ((a.stock.count > 0) != (b.stock.count > 0)) {
            return a.stock.count > 0;
        }
        return a.distance < b.distance;
    });
    return ranked;
}

std::vector<std::string> together_with(const Position& position, const Candidate& candidate) {
    std::vector<std::string> sentences;
    const Part& part = *candidate.part;
    if (position.role == Role::output && position.pairs > 1) {
        sentences.push_back(worded(
            "Replace all {} devices of this half with {} of one gain group: unlike ones share the "
            "current unevenly.",
            print_short(position.pairs, Unit::ratio), part.type));
    }
    if (position.original != nullptr && same_type(position.original->type, part.type)) {
        return sentences;
    }
    const bool both_halves = position.role == Role::output || position.role == Role::driver ||
                             position.role == Role::input_pair;
    if (!both_halves) {
        return sentences;
    }
    if (position.role == Role::input_pair) {
        sentences.push_back(worded("Replace both devices of the pair with {} matched in gain "
                                   "and base-emitter volts.",
                                   part.type));
    } else if (part.complement.empty()) {
        sentences.push_back(worded("No complement of {} is known here: the other half keeps "
                                   "another type, and clips and crosses over unlike.",
                                   part.type));
    } else {
        sentences.push_back(worded(
            "Where gain or speed differ from the original's, replace the other half as well, with "
            "{}{}.",
            part.complement,
            candidate.complement_stock.count > 0
                ? worded(" (in the drawer: {})", candidate.complement_stock.where)
                : ""));
    }
    return sentences;
}

} // namespace railside
