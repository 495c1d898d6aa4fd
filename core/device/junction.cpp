#include "core/device/junction.h"

#include "core/quantity/value_code.h"
#include "core/words/words.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>

namespace railside {

namespace {

constexpr double k_infinite = std::numeric_limits<double>::infinity();
constexpr double k_room_c = 25;
constexpr double k_usual_doubling_k = 10;
// A dead short and its leads; a resistor built into the case starts at some tens of ohms.
constexpr double k_short_ohm = 20;
constexpr double k_short_beside_resistor_ohm = 5;
constexpr double k_darlington_resistor_ohm = 50;
// Base-emitter breakdown: 5 to 7 V, with room for a meter and for odd types.
constexpr double k_breakdown_low_v = 4.5;
constexpr double k_breakdown_high_v = 9;
// One way conducts at least so much better than the other for a junction to have a direction.
constexpr double k_one_way = 1.5;
// What a voltmeter across the part cannot tell from the jig's full supply.
constexpr double k_jig_blind = 0.01;

Interval not_negative(const Interval& x) {
    return {std::max(x.low, 0.0), std::max(x.value, 0.0), std::max(x.high, 0.0)};
}

Interval cap(const Interval& x, double most) {
    return {std::min(x.low, most), std::min(x.value, most), std::min(x.high, most)};
}

std::string amps(double current_a) { return print_short(current_a, Unit::ampere, 3); }
std::string volts(double part_v) { return print_short(part_v, Unit::volt, 3); }
std::string ohms(double part_ohm) { return print_short(part_ohm, Unit::ohm, 2); }

enum class Size { small, medium, power };

Size size_of(Role role) {
    switch (role) {
    case Role::output:
        return Size::power;
    case Role::driver:
    case Role::pre_driver:
    case Role::voltage_amplifier:
        return Size::medium;
    case Role::limiter:
    case Role::bias_spreader:
    case Role::input_pair:
    case Role::emitter_resistor:
    case Role::trim_pot:
    case Role::other:
        break;
    }
    return Size::small;
}

bool has_resistor(Inside inside) {
    return inside == Inside::darlington || inside == Inside::be_resistor ||
           inside == Inside::resistor_and_damper;
}

/// The reading says no more than that nothing was seen.
bool blocks(const Flow& flow) { return flow.open || flow.current_a.value <= 0; }

double ends_leak_that_matters_ohm(Role role) {
    switch (role) {
    case Role::output:
        return 1e3;
    case Role::limiter:
        return 4.7e3;
    case Role::bias_spreader:
        return 10e3;
    case Role::driver:
        return 22e3;
    case Role::pre_driver:
    case Role::voltage_amplifier:
        return 100e3;
    case Role::input_pair:
    case Role::emitter_resistor:
    case Role::trim_pot:
    case Role::other:
        break;
    }
    return 1e6;
}

const BothWays& ways_of(const PartReadings& readings, Path path) {
    switch (path) {
    case Path::base_emitter:
        return readings.base_emitter;
    case Path::base_collector:
        return readings.base_collector;
    case Path::collector_emitter:
        break;
    }
    return readings.collector_emitter;
}

bool within(const DropWindow& window, const Interval& drop_v) {
    return drop_v.high >= window.low_v && drop_v.low <= window.high_v;
}

/// +1: the base conducts as the positive end (npn), −1: as the negative one, 0: no direction.
int direction(const BothWays& ways, const TestedPart& kind, Path path) {
    if (ways.first_positive && ways.second_positive) {
        const double first = blocks(*ways.first_positive) ? k_infinite : ways.first_positive->ohm();
        const double second =
            blocks(*ways.second_positive) ? k_infinite : ways.second_positive->ohm();
        if (first * k_one_way < second) {
            return 1;
        }
        return second * k_one_way < first ? -1 : 0;
    }
    // One way only: a drop like a junction's is its direction.
    const std::optional<Flow>& only =
        ways.first_positive ? ways.first_positive : ways.second_positive;
    if (!only || blocks(*only) ||
        !within(forward_window(kind, path, only->current_a.value), only->part_v)) {
        return 0;
    }
    return ways.first_positive ? 1 : -1;
}

std::string flow_text(const Flow& flow) {
    return worded("{} at {}", amps(flow.current_a.value), volts(flow.part_v.value));
}

std::string hidden_text(const Flow& flow) {
    return worded("no reading, which hides a leak of up to {} at {} (above {})",
                  amps(flow.current_a.high), volts(flow.part_v.value), ohms(flow.least_ohm()));
}

/// Fills in state and reason from the direction that should block.
void judge_leak(JunctionFinding& finding, const Flow& leak, const TestedPart& kind,
                bool may_break_down) {
    finding.leak = leak;
    const std::string_view path = path_label(finding.path);
    const LeakLimits limits = leak_limits(kind.material, kind.role, finding.path, kind.body_c);
    const double matters_ohm = leak_that_matters_ohm(kind.role, finding.path);
    if (leak.current_a.high <= limits.good_a) {
        finding.state = JunctionState::good;
        finding.reason = blocks(leak) ? worded("{} blocks: less than {}, good below {}.", path,
                                               amps(leak.current_a.high), amps(limits.good_a))
                                      : worded("{} leaks {}, good below {}.", path, flow_text(leak),
                                               amps(limits.good_a));
        return;
    }
    if (leak.open) {
        const bool harmless = leak.least_ohm() >= matters_ohm;
        finding.state = harmless ? JunctionState::good : JunctionState::undecided;
        finding.reason = fmt::format("{} shows {}; {} {}.", path, hidden_text(leak),
                                     harmless ? "in this role one shows only below"
                                              : "in this role one matters below",
                                     ohms(matters_ohm));
        return;
    }
    if (may_break_down && leak.part_v.high >= k_breakdown_low_v &&
        leak.part_v.low <= k_breakdown_high_v) {
        finding.breakdown = true;
        finding.state = JunctionState::undecided;
        finding.reason =
            worded("{} passes {}: a base-emitter junction breaks down at 5 to 7\u2009V, so "
                   "this voltage shows a leak that may not be there; read it {}below 4\u2009V.",
                   path, flow_text(leak),
                   finding.path == Path::collector_emitter ? "the other way too, and " : "");
        return;
    }
    if (leak.current_a.low > limits.bad_a) {
        finding.state = JunctionState::leaky;
        finding.reason =
            worded("{} leaks {} ({}), good below {}, bad above {}.", path, flow_text(leak),
                   ohms(leak.ohm()), amps(limits.good_a), amps(limits.bad_a));
        return;
    }
    finding.state = JunctionState::undecided;
    finding.at_edge = true;
    finding.reason =
        worded("{} leaks {}, between {} of a good one and {} of a bad one; read it again warm.",
               path, flow_text(leak), amps(limits.good_a), amps(limits.bad_a));
}

JunctionFinding judge_junction(Path path, const BothWays& ways, const TestedPart& kind,
                               int part_direction) {
    JunctionFinding finding;
    finding.path = path;
    const std::string_view name = path_label(path);
    if (!ways.first_positive && !ways.second_positive) {
        return finding;
    }
    finding.state = JunctionState::undecided;
    const bool resistor_here = path == Path::base_emitter && has_resistor(kind.inside);
    const double short_ohm = resistor_here ? k_short_beside_resistor_ohm : k_short_ohm;
    for (const auto* way : {&ways.first_positive, &ways.second_positive}) {
        // A junction drops some tenths of a volt; without them it is none, whichever way.
        if (*way && !(*way)->open && (*way)->ohm() < short_ohm && (*way)->part_v.value < 0.1) {
            finding.state = JunctionState::shorted;
            finding.leak = **way;
            finding.reason =
                worded("{} passes {} ({}): shorted.", name, flow_text(**way), ohms((*way)->ohm()));
            return finding;
        }
    }
    const bool both = ways.first_positive && ways.second_positive;
    if (both && blocks(*ways.first_positive) && blocks(*ways.second_positive)) {
        finding.state = JunctionState::open;
        finding.leak = ways.first_positive->current_a.high > ways.second_positive->current_a.high
                           ? ways.first_positive
                           : ways.second_positive;
        finding.reason = worded("{} conducts neither way: open.", name);
        return finding;
    }
    const int own = direction(ways, kind, path);
    if (!both) {
        const Flow& only = ways.first_positive ? *ways.first_positive : *ways.second_positive;
        const int shown = ways.first_positive ? 1 : -1;
        if (own == shown) {
            finding.forward = only;
            finding.reason = worded("{} drops {}, as a junction does; read it the other way "
                                    "for leakage.",
                                    name, volts(only.part_v.value));
            return finding;
        }
        if (part_direction == -shown) {
            judge_leak(finding, only, kind, path == Path::base_emitter);
            if (finding.state == JunctionState::good) {
                finding.state = JunctionState::undecided;
                finding.reason = worded("{} blocks one way; read it the other way to see "
                                        "whether it conducts at all.",
                                        name);
            }
            return finding;
        }
        finding.reason = worded("{} was read one way only ({}); read it the other way too.", name,
                                blocks(only) ? std::string("no reading") : flow_text(only));
        return finding;
    }
    const bool first_conducts =
        own != 0 ? own > 0 : ways.first_positive->ohm() <= ways.second_positive->ohm();
    const Flow& forward = first_conducts ? *ways.first_positive : *ways.second_positive;
    const Flow& blocked = first_conducts ? *ways.second_positive : *ways.first_positive;
    finding.forward = forward;
    if (resistor_here && !blocks(blocked) &&
        blocked.ohm() >= (kind.inside == Inside::darlington ? k_darlington_resistor_ohm
                                                            : k_short_beside_resistor_ohm)) {
        finding.leak = blocked;
        finding.state = own != 0 ? JunctionState::good : JunctionState::undecided;
        finding.reason =
            own != 0 ? worded("{} passes {} the blocking way: the resistor inside, no fault.", name,
                              flow_text(blocked))
                     : worded("{} passes the same both ways ({}): the resistor inside hides "
                              "the junction from this current.",
                              name, ohms(blocked.ohm()));
        return finding;
    }
    judge_leak(finding, blocked, kind, path == Path::base_emitter);
    if (finding.state == JunctionState::leaky || finding.breakdown) {
        return finding;
    }
    // Blocks well enough; does it conduct as this kind should?
    const DropWindow window = forward_window(kind, path, forward.current_a.value);
    if (within(window, forward.part_v)) {
        if (finding.state == JunctionState::good) {
            finding.reason = worded("{} drops {} and {}", name, volts(forward.part_v.value),
                                    finding.reason.substr(name.size() + 1));
        }
        return finding;
    }
    finding.state = JunctionState::undecided;
    finding.at_edge = false;
    const std::string expected = worded("{} to {}", volts(window.low_v), volts(window.high_v));
    if (forward.part_v.value < window.low_v) {
        finding.reason =
            worded("{} drops {} at {}, less than the {} of {}.", name, volts(forward.part_v.value),
                   amps(forward.current_a.value), expected,
                   kind.material == Material::silicon ? "silicon: germanium, or two leads mixed up"
                                                      : "germanium: nearly shorted");
    } else {
        finding.reason = worded(
            "{} drops {} at {}, more than the {} of {}.", name, volts(forward.part_v.value),
            amps(forward.current_a.value), expected,
            kind.material == Material::germanium ? "germanium: silicon, or a poor contact"
            : kind.inside == Inside::darlington  ? "a Darlington: a poor contact or bond"
                                                 : "one junction: a Darlington, or a poor contact");
    }
    return finding;
}

JunctionFinding judge_ends(const BothWays& ways, const TestedPart& kind, int part_direction) {
    JunctionFinding finding;
    finding.path = Path::collector_emitter;
    if (!ways.first_positive && !ways.second_positive) {
        return finding;
    }
    finding.state = JunctionState::undecided;
    for (const auto* way : {&ways.first_positive, &ways.second_positive}) {
        if (*way && !(*way)->open && (*way)->ohm() < k_short_ohm && (*way)->part_v.value < 0.1) {
            finding.state = JunctionState::shorted;
            finding.leak = **way;
            finding.reason =
                worded("C-E passes {} ({}): shorted.", flow_text(**way), ohms((*way)->ohm()));
            return finding;
        }
    }
    TestedPart diode = kind;
    diode.inside = Inside::plain;
    const auto like_a_diode = [&](const std::optional<Flow>& way,
                                  const std::optional<Flow>& other) {
        return way && !blocks(*way) && other && (blocks(*other) || other->ohm() > 3 * way->ohm()) &&
               within(forward_window(diode, Path::base_collector, way->current_a.value),
                      way->part_v);
    };
    const bool first_diode = like_a_diode(ways.first_positive, ways.second_positive);
    const bool second_diode = like_a_diode(ways.second_positive, ways.first_positive);
    // Emitter to collector in an npn, collector to emitter in a pnp.
    const bool innocent_second = second_diode && part_direction >= 0;
    const bool innocent_first = first_diode && part_direction <= 0;
    if (kind.inside != Inside::plain && (innocent_first || innocent_second)) {
        const Flow& blocked = innocent_second ? *ways.first_positive : *ways.second_positive;
        judge_leak(finding, blocked, kind, false);
        if (finding.state == JunctionState::good) {
            finding.reason = worded("C-E conducts one way like the diode inside, no fault; {}",
                                    finding.reason.substr(std::string_view("C-E ").size()));
        }
        return finding;
    }
    if (kind.inside == Inside::plain && (innocent_first || innocent_second)) {
        const Flow& conducting = innocent_second ? *ways.second_positive : *ways.first_positive;
        finding.leak = conducting;
        finding.reason = worded(
            "C-E drops {} one way only, like a diode: a damper inside, a Darlington, or base and "
            "another lead mixed up.",
            volts(conducting.part_v.value));
        return finding;
    }
    // A breakdown passes one way only; what passes both ways alike is a leak.
    const auto passes_back = [](const std::optional<Flow>& back, const Flow& way) {
        return back && !blocks(*back) && back->ohm() < 3 * way.ohm();
    };
    std::optional<JunctionFinding> worst;
    int way_sign = 1;
    for (const auto* way : {&ways.first_positive, &ways.second_positive}) {
        if (*way) {
            const auto& back = way_sign > 0 ? ways.second_positive : ways.first_positive;
            JunctionFinding one = finding;
            // The emitter's junction is the reversed one with the emitter positive in an npn.
            judge_leak(one, **way, kind, part_direction != way_sign && !passes_back(back, **way));
            const auto rank = [](const JunctionFinding& f) {
                return std::pair(static_cast<int>(f.state), f.leak->current_a.value);
            };
            if (!worst || rank(one) > rank(*worst)) {
                worst = one;
            }
        }
        way_sign = -1;
    }
    return *worst;
}

} // namespace

double Flow::ohm() const {
    return current_a.value > 0 ? part_v.value / current_a.value : k_infinite;
}

double Flow::least_ohm() const {
    return current_a.high > 0 ? part_v.low / current_a.high : k_infinite;
}

Flow through_needle(const SeriesOhmmeter& meter, const Interval& fraction) {
    const Interval needle{std::clamp(fraction.low - meter.arc_error, 0.0, 1.0),
                          std::clamp(fraction.value, 0.0, 1.0),
                          std::clamp(fraction.high + meter.arc_error, 0.0, 1.0)};
    const auto current = [](double battery_v, double mid_ohm, double needle_part) {
        return battery_v / mid_ohm * needle_part;
    };
    return {monotone(current, meter.battery_v, meter.mid_scale_ohm, needle),
            meter.battery_v * (Interval::exact(1) - needle), false};
}

Flow through_ohmmeter(const SeriesOhmmeter& meter, const Interval& reading_ohm) {
    // The scale is printed for the nominal mid-scale resistance.
    const double mid_ohm = meter.mid_scale_ohm.value;
    const Interval read = not_negative(reading_ohm);
    const auto needle = [mid_ohm](double ohm) { return mid_ohm / (mid_ohm + ohm); };
    return through_needle(meter, {needle(read.high), needle(read.value), needle(read.low)});
}

Flow through_ohmmeter_open(const SeriesOhmmeter& meter) {
    Flow flow = through_needle(meter, Interval::exact(0));
    flow.open = true;
    return flow;
}

Flow through_diode_test(const DiodeTest& test, const Interval& reading_v) {
    if (reading_v.value >= test.open_v) {
        return through_diode_test_open(test);
    }
    return {test.current_a, not_negative(reading_v), false};
}

Flow through_diode_test_open(const DiodeTest& test) {
    return {{0, 0, test.current_a.high}, Interval::exact(test.open_v), true};
}

Flow through_jig(const LeakJig& jig, const Interval& part_v) {
    const Interval across = cap(not_negative(part_v), jig.supply_v.high);
    const auto current = [](double supply_v, double series_ohm, double volt) {
        return (supply_v - volt) / series_ohm;
    };
    return {not_negative(monotone(current, jig.supply_v, jig.series_ohm, across)), across, false};
}

Flow through_jig_open(const LeakJig& jig) {
    return {{0, 0, k_jig_blind * jig.supply_v.high / jig.series_ohm.low}, jig.supply_v, true};
}

std::string_view path_key(Path path) {
    switch (path) {
    case Path::base_emitter:
        return "be";
    case Path::base_collector:
        return "bc";
    case Path::collector_emitter:
        break;
    }
    return "ce";
}

std::string_view path_label(Path path) {
    switch (path) {
    case Path::base_emitter:
        return "B-E";
    case Path::base_collector:
        return "B-C";
    case Path::collector_emitter:
        break;
    }
    return "C-E";
}

std::string_view state_label(JunctionState state) {
    switch (state) {
    case JunctionState::not_read:
        return "not read";
    case JunctionState::good:
        return "good";
    case JunctionState::undecided:
        return "undecided";
    case JunctionState::leaky:
        return "leaky";
    case JunctionState::open:
        return "open";
    case JunctionState::shorted:
        break;
    }
    return "shorted";
}

PartFinding judge_part(const PartReadings& readings, const TestedPart& kind) {
    PartFinding part;
    const int emitter = direction(readings.base_emitter, kind, Path::base_emitter);
    const int collector = direction(readings.base_collector, kind, Path::base_collector);
    // The two must not speak against each other.
    const int found = emitter == 0 || collector == 0 ? emitter + collector
                      : emitter == collector         ? emitter
                                                     : 0;
    int used = found;
    if (found != 0 && readings.lead_polarity_known) {
        part.polarity = found > 0 ? Polarity::npn : Polarity::pnp;
        part.wrong_polarity = kind.claimed && *kind.claimed != *part.polarity;
    } else if (found == 0 && kind.claimed && readings.lead_polarity_known) {
        used = *kind.claimed == Polarity::npn ? 1 : -1;
    }
    for (const Path path : {Path::base_emitter, Path::base_collector}) {
        part.junctions[static_cast<std::size_t>(path)] =
            judge_junction(path, ways_of(readings, path), kind, used);
    }
    part.junctions[static_cast<std::size_t>(Path::collector_emitter)] =
        judge_ends(readings.collector_emitter, kind, used);
    return part;
}

LeakLimits leak_limits(Material material, Role role, Path path, double body_c) {
    double good_a = 0;
    switch (size_of(role)) {
    case Size::small:
        good_a = material == Material::silicon ? 1e-7 : 1e-5;
        break;
    case Size::medium:
        good_a = material == Material::silicon ? 1e-6 : 1e-4;
        break;
    case Size::power:
        good_a = material == Material::silicon ? 1e-5 : 1e-3;
        break;
    }
    // With the base open the leak is amplified; gain is low at such currents, in germanium less so.
    if (path == Path::collector_emitter) {
        good_a *= material == Material::silicon ? 5 : 30;
    }
    good_a = leak_at_temperature(good_a, k_room_c, body_c, k_usual_doubling_k);
    return {good_a, 10 * good_a};
}

double leak_that_matters_ohm(Role role, Path path) {
    return ends_leak_that_matters_ohm(role) * (path == Path::base_emitter ? 0.1 : 1);
}

DropWindow forward_window(const TestedPart& kind, Path path, double current_a) {
    const bool silicon = kind.material == Material::silicon;
    // At 1 mA, 25 °C; 60 mV a decade, above it more by bulk resistance; −2 mV/K.
    const double decades = std::log10(std::clamp(current_a, 1e-8, 1.0) / 1e-3);
    const double warmth = -0.002 * (kind.body_c - k_room_c);
    const double spread = decades > 0 ? 0.12 * decades + 3 * std::min(current_a, 1.0) : 0;
    double low_v = (silicon ? 0.40 : 0.08) + 0.06 * std::min(decades, 0.0);
    double high_v = (silicon ? 0.85 : 0.50) + 0.03 * std::min(decades, 0.0) + spread;
    if (kind.inside == Inside::darlington && path == Path::base_emitter) {
        // Two junctions, but the resistors may carry a small current past one of them.
        high_v *= 2;
    }
    low_v = std::max(low_v + warmth, 0.02);
    return {low_v, std::max(high_v + warmth, low_v + 0.05)};
}

double leak_at_temperature(double leak_a, double from_c, double to_c, double doubling_k) {
    return leak_a * std::exp2((to_c - from_c) / doubling_k);
}

double open_base_leak_a(double collector_base_leak_a, double gain) {
    return (gain + 1) * collector_base_leak_a;
}

Interval doubling_share(const Interval& cold_a, const Interval& hot_a, double rise_k,
                        const Interval& doubling_k) {
    const auto share = [rise_k](double cold, double hot, double doubling) {
        const double times = std::exp2(rise_k / doubling);
        // No current or no rise says nothing: all of it may be either.
        if (!(cold > 0) || !(std::abs(times - 1) > 1e-9)) {
            return 0.5;
        }
        return std::clamp((hot / cold - 1) / (times - 1), 0.0, 1.0);
    };
    if (!(cold_a.low > 0) || !(std::abs(rise_k) > 1e-6)) {
        return {0, share(cold_a.value, hot_a.value, doubling_k.value), 1};
    }
    return monotone(share, cold_a, hot_a, doubling_k);
}

} // namespace railside
