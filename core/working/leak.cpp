// Leakage and junctions: what a meter reads across the three pairs of leads, as current and volts
// at the part, and what that says of each junction.
//
// The meter is turned into current and volts by core/device/junction.h, which also judges; the
// limits are rules of thumb for the size of device that sits in the role. A reading that shows
// nothing is an upper bound of the leak, never a zero.
#include "core/device/junction.h"
#include "core/quantity/value_code.h"
#include "core/words/words.h"
#include "core/working/entries.h"
#include "core/working/inputs.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <tuple>

namespace railside {

namespace {

constexpr std::array k_meters{
    Choice{"diode", "diode test"},
    Choice{"ohmmeter", "ohmmeter"},
    Choice{"jig", "leak jig"},
};
constexpr std::array k_leads{
    Choice{"black", "black"},
    Choice{"red", "red"},
    Choice{"unknown", "not known"},
};
constexpr std::array k_ranges{
    Choice{"x1", "×1"},   Choice{"x10", "×10"},   Choice{"x100", "×100"},
    Choice{"x1k", "×1k"}, Choice{"x10k", "×10k"},
};
constexpr std::array k_materials{
    Choice{"silicon", "silicon"},
    Choice{"germanium", "germanium"},
};
constexpr std::array k_insides{
    Choice{"plain", "a plain transistor"},
    Choice{"darlington", "a Darlington"},
    Choice{"be_resistor", "a base-emitter resistor"},
    Choice{"damper", "a damper diode"},
    Choice{"resistor_and_damper", "resistor and damper diode"},
};
constexpr std::array k_polarities{
    Choice{"npn", "npn"},
    Choice{"pnp", "pnp"},
    Choice{"unknown", "not known"},
};
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

constexpr Condition k_with_diode{"meter", "diode"};
constexpr Condition k_with_volts{"meter", "diode jig"};
constexpr Condition k_with_ohms{"meter", "ohmmeter"};
constexpr Condition k_with_jig{"meter", "jig"};

/// Volts across the part, of the diode test and the jig.
constexpr Field volts_field(std::string_view key, std::string_view label, std::string_view help) {
    return Field{.key = key,
                 .label = label,
                 .help = help,
                 .need = Need::optional,
                 .unit = Unit::volt,
                 .low = 0,
                 .high = 1000,
                 .usual_low = 0.0001,
                 .usual_high = 25,
                 .spread = Spread::meter,
                 .when = k_with_volts,
                 .takes_open = true};
}

/// Ohms on the scale, times the range.
constexpr Field ohms_field(std::string_view key, std::string_view label, std::string_view help) {
    return Field{.key = key,
                 .label = label,
                 .help = help,
                 .need = Need::optional,
                 .unit = Unit::ohm,
                 .low = 0,
                 .high = 100e6,
                 .usual_low = 0.1,
                 .usual_high = 10e6,
                 .spread = Spread::meter,
                 .when = k_with_ohms,
                 .takes_open = true};
}

constexpr std::string_view k_volts_help =
    "Volts shown across the part with the leads this way round; OL when it shows none.";
constexpr std::string_view k_ohms_help =
    "Ohms read off the scale times the range, the leads this way round; OL when the needle does "
    "not move.";

constexpr std::array k_fields{
    Field{.key = "meter",
          .label = "Read with",
          .help = "Diode test of a digital meter, a moving-coil ohmmeter, or a supply behind a "
                  "resistor with a voltmeter across the part.",
          .kind = FieldKind::choice,
          .by_default = "diode",
          .choices = k_meters},
    volts_field("be_volt", "B red, E black", k_volts_help),
    volts_field("eb_volt", "E red, B black", k_volts_help),
    volts_field("bc_volt", "B red, C black", k_volts_help),
    volts_field("cb_volt", "C red, B black", k_volts_help),
    volts_field("ce_volt", "C red, E black", k_volts_help),
    volts_field("ec_volt", "E red, C black", k_volts_help),
    ohms_field("be_ohm", "B red, E black", k_ohms_help),
    ohms_field("eb_ohm", "E red, B black", k_ohms_help),
    ohms_field("bc_ohm", "B red, C black", k_ohms_help),
    ohms_field("cb_ohm", "C red, B black", k_ohms_help),
    ohms_field("ce_ohm", "C red, E black", k_ohms_help),
    ohms_field("ec_ohm", "E red, C black", k_ohms_help),
    Field{.key = "test_current",
          .label = "Test current",
          .symbol = "I_test",
          .help = "What the diode test drives through a junction.",
          .unit = Unit::ampere,
          .low = 1e-5,
          .high = 0.02,
          .usual_low = 0.0002,
          .usual_high = 0.003,
          .by_default = "1m",
          .spread = Spread::tolerance,
          .default_spread = 0.2,
          .when = k_with_diode},
    Field{.key = "open_limit",
          .label = "OL above",
          .symbol = "V_OL",
          .help = "Highest voltage the diode test still shows.",
          .unit = Unit::volt,
          .low = 0.5,
          .high = 20,
          .usual_low = 1,
          .usual_high = 4,
          .by_default = "2",
          .when = k_with_diode},
    Field{.key = "battery",
          .label = "Battery",
          .symbol = "V_b",
          .help = "Voltage at the open leads on this range; the highest range often has its own "
                  "battery of 9 to 15 V.",
          .unit = Unit::volt,
          .low = 0.1,
          .high = 50,
          .usual_low = 1,
          .usual_high = 25,
          .by_default = "3",
          .spread = Spread::tolerance,
          .default_spread = 0.05,
          .when = k_with_ohms},
    Field{.key = "mid_scale",
          .label = "Mid-scale, ×1",
          .symbol = "R_m",
          .help = "Ohms printed at the middle of the scale, on range ×1.",
          .unit = Unit::ohm,
          .low = 1,
          .high = 1000,
          .usual_low = 5,
          .usual_high = 100,
          .by_default = "20",
          .when = k_with_ohms},
    Field{.key = "range",
          .label = "Range",
          .help = "Range the readings were taken on.",
          .kind = FieldKind::choice,
          .by_default = "x1",
          .choices = k_ranges,
          .when = k_with_ohms},
    Field{.key = "positive_lead",
          .label = "Positive lead on ohms",
          .help = "Black on many moving-coil meters; try a diode of known direction.",
          .kind = FieldKind::choice,
          .by_default = "black",
          .choices = k_leads,
          .when = k_with_ohms},
    Field{.key = "jig_supply",
          .label = "Jig supply",
          .symbol = "V_s",
          .help = "Voltage of the jig with nothing connected; stay below the part's rating.",
          .unit = Unit::volt,
          .low = 1,
          .high = 500,
          .usual_low = 3,
          .usual_high = 60,
          .by_default = "20",
          .spread = Spread::tolerance,
          .default_spread = 0.01,
          .when = k_with_jig},
    Field{.key = "jig_resistor",
          .label = "Jig resistor",
          .symbol = "R_s",
          .help = "Resistor between the jig's supply and the part.",
          .unit = Unit::ohm,
          .low = 10,
          .high = 10e6,
          .usual_low = 100,
          .usual_high = 1e6,
          .by_default = "1k",
          .spread = Spread::tolerance,
          .default_spread = 0.01,
          .when = k_with_jig},
    Field{.key = "role",
          .label = "Role",
          .help = "What the transistor does in the circuit; it sets its size and which leak "
                  "matters.",
          .kind = FieldKind::choice,
          .by_default = "output",
          .choices = k_roles},
    Field{.key = "material",
          .label = "Material",
          .help = "Germanium drops 0.1 to 0.4 V and leaks by nature.",
          .kind = FieldKind::choice,
          .by_default = "silicon",
          .choices = k_materials},
    Field{.key = "inside",
          .label = "In the case",
          .help = "Resistors and a diode inside read like faults; the data sheet's drawing shows "
                  "them.",
          .kind = FieldKind::choice,
          .by_default = "plain",
          .choices = k_insides},
    Field{.key = "polarity",
          .label = "Polarity",
          .help = "What it ought to be, by its type or the circuit.",
          .kind = FieldKind::choice,
          .by_default = "unknown",
          .choices = k_polarities},
    Field{.key = "temperature",
          .label = "Body temperature",
          .symbol = "T",
          .help = "Temperature of the part while it was read.",
          .unit = Unit::celsius,
          .low = -40,
          .high = 150,
          .usual_low = 10,
          .usual_high = 60,
          .by_default = "25"},
    Field{.key = "warm_volt",
          .label = "Leakiest, warm",
          .help = "The leakiest pair read again the same way after warming the part.",
          .need = Need::optional,
          .unit = Unit::volt,
          .low = 0,
          .high = 1000,
          .usual_low = 0.01,
          .usual_high = 25,
          .spread = Spread::tolerance,
          .default_spread = 0.005,
          .when = k_with_volts},
    Field{.key = "warm_ohm",
          .label = "Leakiest, warm",
          .help = "The leakiest pair read again the same way after warming the part.",
          .need = Need::optional,
          .unit = Unit::ohm,
          .low = 0,
          .high = 100e6,
          .usual_low = 10,
          .usual_high = 10e6,
          .spread = Spread::tolerance,
          .default_spread = 0.02,
          .when = k_with_ohms},
    Field{.key = "warm_temperature",
          .label = "Warm temperature",
          .symbol = "T_warm",
          .help = "Temperature of the part at the warm reading.",
          .unit = Unit::celsius,
          .low = -40,
          .high = 150,
          .usual_low = 30,
          .usual_high = 100,
          .by_default = "50"},
    Field{.key = "doubling",
          .label = "Doubles every",
          .symbol = "D",
          .help = "Rise that doubles a junction's leakage, 8 to 12 K.",
          .unit = Unit::kelvin,
          .low = 5,
          .high = 20,
          .usual_low = 8,
          .usual_high = 12,
          .by_default = "10 K ±2 K"},
    Field{.key = "gain",
          .label = "Gain at that leakage",
          .symbol = "β",
          .help = "Gain at microamperes, well below the data sheet's; it ties C-E leakage to B-C "
                  "leakage.",
          .need = Need::optional,
          .unit = Unit::ratio,
          .low = 0,
          .high = 10000,
          .usual_low = 5,
          .usual_high = 300,
          .spread = Spread::tolerance,
          .default_spread = 0.2},
    Field{.key = "rail",
          .label = "Rail",
          .symbol = "V_CC",
          .help = "Supply of one side; what the part sees in its place at idle.",
          .need = Need::optional,
          .unit = Unit::volt,
          .low = 5,
          .high = 200,
          .usual_low = 15,
          .usual_high = 100,
          .spread = Spread::tolerance,
          .default_spread = 0.02},
};

// What a moving-coil needle may be off, of its arc: class 2.
constexpr double k_arc_error = 0.02;
// A moderate warming that a hair dryer or an iron's tip gives; less proves nothing.
constexpr double k_least_rise_k = 10;
constexpr double k_small_junction_a = 0.05;
constexpr double k_touch_v = 50;
constexpr int k_points = 61;

std::string amps(double current_a) { return print_short(current_a, Unit::ampere, 3); }
std::string volts(double part_v) { return print_short(part_v, Unit::volt, 3); }
std::string ohms(double part_ohm) { return print_short(part_ohm, Unit::ohm, 3); }

enum class Meter { diode, ohmmeter, jig };

/// The instrument and how its readings become a flow.
struct Instrument {
    Meter kind = Meter::diode;
    DiodeTest diode;
    SeriesOhmmeter ohmmeter;
    LeakJig jig;
    std::string_view suffix; // of the readings' keys
    bool red_is_positive = true;
    bool lead_known = true;

    [[nodiscard]] Flow open() const {
        switch (kind) {
        case Meter::diode:
            return through_diode_test_open(diode);
        case Meter::ohmmeter:
            return through_ohmmeter_open(ohmmeter);
        case Meter::jig:
            break;
        }
        return through_jig_open(jig);
    }
    [[nodiscard]] Flow through(const Interval& reading) const {
        switch (kind) {
        case Meter::diode:
            return through_diode_test(diode, reading);
        case Meter::ohmmeter:
            return through_ohmmeter(ohmmeter, reading);
        case Meter::jig:
            break;
        }
        return through_jig(jig, reading);
    }
};

double range_factor(std::string_view word) {
    double factor = 1;
    for (const Choice& choice : k_ranges) {
        if (choice.key == word) {
            return factor;
        }
        factor *= 10;
    }
    return 1;
}

Instrument instrument_in(const Inputs& inputs) {
    Instrument instrument;
    const std::string& kind = given(inputs, "meter").word;
    if (kind == "ohmmeter") {
        instrument.kind = Meter::ohmmeter;
        instrument.suffix = "ohm";
        instrument.ohmmeter = {Interval::from(amount_of(inputs, "battery")),
                               Interval::from(amount_of(inputs, "mid_scale")) *
                                   range_factor(given(inputs, "range").word),
                               k_arc_error};
        const std::string& lead = given(inputs, "positive_lead").word;
        instrument.red_is_positive = lead != "black";
        instrument.lead_known = lead != "unknown";
        return instrument;
    }
    instrument.suffix = "volt";
    if (kind == "jig") {
        instrument.kind = Meter::jig;
        instrument.jig = {Interval::from(amount_of(inputs, "jig_supply")),
                          Interval::from(amount_of(inputs, "jig_resistor"))};
        return instrument;
    }
    instrument.diode = {Interval::from(amount_of(inputs, "test_current")),
                        amount_of(inputs, "open_limit").value};
    return instrument;
}

std::optional<Flow> flow_in(const Inputs& inputs, const Instrument& instrument,
                            std::string_view pair) {
    const std::string key = fmt::format("{}_{}", pair, instrument.suffix);
    const Amount* reading = amount_if_given(inputs, key);
    if (reading == nullptr) {
        return std::nullopt;
    }
    const auto field = std::find_if(k_fields.begin(), k_fields.end(),
                                    [&key](const Field& each) { return each.key == key; });
    return is_open(*field, *reading) ? instrument.open()
                                     : instrument.through(Interval::from(*reading));
}

PartReadings readings_in(const Inputs& inputs, const Instrument& instrument) {
    const auto ways = [&](std::string_view red_first, std::string_view red_second) {
        BothWays both{flow_in(inputs, instrument, red_first),
                      flow_in(inputs, instrument, red_second)};
        if (!instrument.red_is_positive) {
            std::swap(both.first_positive, both.second_positive);
        }
        return both;
    };
    return {ways("be", "eb"), ways("bc", "cb"), ways("ce", "ec"), instrument.lead_known};
}

TestedPart kind_in(const Inputs& inputs) {
    TestedPart kind;
    kind.role = role_from_key(given(inputs, "role").word).value_or(Role::other);
    kind.material =
        given(inputs, "material").word == "germanium" ? Material::germanium : Material::silicon;
    const std::string& inside = given(inputs, "inside").word;
    for (std::size_t i = 0; i < k_insides.size(); ++i) {
        if (k_insides[i].key == inside) {
            kind.inside = static_cast<Inside>(i);
        }
    }
    kind.claimed = polarity_from_key(given(inputs, "polarity").word);
    kind.body_c = amount_of(inputs, "temperature").value;
    return kind;
}

/// Everything found out before it is put into words.
struct Found {
    Instrument instrument;
    TestedPart kind;
    PartFinding part;
    std::optional<Path> worst_path; // none when nothing was read
    int read = 0;
    std::optional<Interval> share; // of the worst leak that doubles with heat
    std::optional<Flow> warm;
    double warm_c = 0;
    Interval doubling_k;

    [[nodiscard]] const JunctionFinding* worst() const {
        return worst_path ? &part.junctions[static_cast<std::size_t>(*worst_path)] : nullptr;
    }
};

bool is_leak(const JunctionFinding& finding) {
    return finding.leak && !finding.leak->open && finding.state != JunctionState::shorted &&
           finding.leak->current_a.value > 0;
}

/// Conducts as it should; a leak too small for this meter is not ruled out.
bool passes_blind(const JunctionFinding& finding) {
    return finding.state == JunctionState::undecided && finding.leak && finding.leak->open;
}

bool worse(const JunctionFinding& a, const JunctionFinding& b) {
    const auto rank = [](const JunctionFinding& finding) {
        return std::tuple(static_cast<int>(finding.state), finding.at_edge,
                          finding.leak && !finding.leak->open ? finding.leak->current_a.value
                                                              : -1.0,
                          static_cast<int>(finding.path));
    };
    return rank(b) < rank(a);
}

void heat_test(const Inputs& inputs, Found& found) {
    const Amount* warm = amount_if_given(inputs, fmt::format("warm_{}", found.instrument.suffix));
    found.warm_c = amount_of(inputs, "warm_temperature").value;
    found.doubling_k = Interval::from(amount_of(inputs, "doubling"));
    if (warm == nullptr || found.worst() == nullptr || !is_leak(*found.worst())) {
        return;
    }
    found.warm = found.instrument.through(Interval::from(*warm));
    found.share = doubling_share(found.worst()->leak->current_a, found.warm->current_a,
                                 found.warm_c - found.kind.body_c, found.doubling_k);
    // Between good and bad, the heat test decides one way: a good junction's own leak doubles.
    JunctionFinding& judged = found.part.junctions[static_cast<std::size_t>(found.worst()->path)];
    if (judged.at_edge && found.share->high < 0.5) {
        judged.state = JunctionState::leaky;
        judged.at_edge = false;
        judged.reason =
            worded("{} leaks {} at {} and hardly more at {}: a surface or resistive leak, not the "
                   "junction's own.",
                   path_label(judged.path), amps(judged.leak->current_a.value),
                   volts(judged.leak->part_v.value), print_short(found.warm_c, Unit::celsius));
    }
}

Found find(const Inputs& inputs) {
    Found found;
    found.instrument = instrument_in(inputs);
    found.kind = kind_in(inputs);
    found.part = judge_part(readings_in(inputs, found.instrument), found.kind);
    for (const JunctionFinding& junction : found.part.junctions) {
        if (junction.state == JunctionState::not_read) {
            continue;
        }
        ++found.read;
        if (found.worst() == nullptr || worse(junction, *found.worst())) {
            found.worst_path = junction.path;
        }
    }
    heat_test(inputs, found);
    return found;
}

Verdict verdict_of(const Found& found) {
    if (found.worst() == nullptr) {
        return {VerdictState::undecided, "nothing read",
                worded("Read each pair of leads both ways; this setting shows a leak from {} "
                       "at {}.",
                       amps(found.instrument.open().current_a.high),
                       volts(found.instrument.open().part_v.value))};
    }
    const JunctionFinding& worst = *found.worst();
    switch (worst.state) {
    case JunctionState::shorted:
    case JunctionState::open:
    case JunctionState::leaky:
        return {VerdictState::outside,
                worded("{} {}", path_label(worst.path), state_label(worst.state)), worst.reason};
    case JunctionState::not_read:
    case JunctionState::good:
    case JunctionState::undecided:
        break;
    }
    if (found.part.wrong_polarity) {
        return {VerdictState::outside, "wrong polarity",
                worded("The base conducts like a {}, and it ought to be a {}.",
                       polarity_key(*found.part.polarity), polarity_key(*found.kind.claimed))};
    }
    if (passes_blind(worst) && found.read == 3) {
        return {VerdictState::undecided, "no fault seen", worst.reason};
    }
    if (worst.state == JunctionState::undecided) {
        return {worst.at_edge ? VerdictState::at_the_edge : VerdictState::undecided,
                worst.at_edge ? worded("{} at the edge", path_label(worst.path)) : "undecided",
                worst.reason};
    }
    if (found.read < 3) {
        std::string wanting;
        for (const JunctionFinding& junction : found.part.junctions) {
            if (junction.state == JunctionState::not_read) {
                wanting +=
                    worded("{}{}", wanting.empty() ? "" : " and ", path_label(junction.path));
            }
        }
        return {VerdictState::undecided, "no fault yet",
                worded("Nothing wrong in what was read; {} still to be read.", wanting)};
    }
    return {VerdictState::in_window, "good",
            worded("Both junctions conduct one way and block the other, and C-E blocks: {}",
                   worst.reason)};
}

void add_headline(const Found& found, Outcome& outcome) {
    const Flow open = found.instrument.open();
    const auto bound = [](const Flow& flow) {
        return Amount{flow.current_a.high, 0, flow.current_a.high, Unit::ampere};
    };
    if (found.worst() == nullptr || !found.worst()->leak) {
        outcome.figures.push_back(
            {"worst_leak", "Least leak this setting shows", "I_leak", bound(open)});
        outcome.headline_note =
            worded("at {}: a leak of {} or less", volts(open.part_v.value), ohms(open.least_ohm()));
        return;
    }
    const JunctionFinding& worst = *found.worst();
    const Flow& leak = *worst.leak;
    const std::string_view path = path_label(worst.path);
    if (leak.open) {
        outcome.figures.push_back(
            {"worst_leak", worded("Leakage {}, less than", path), "I_leak", bound(leak)});
        outcome.headline_note = worded("{}: less than that at {}, above {}", path,
                                       volts(leak.part_v.value), ohms(leak.least_ohm()));
        return;
    }
    outcome.figures.push_back(
        {"worst_leak",
         worded("{} {}", worst.state == JunctionState::shorted ? "Current through" : "Leakage",
                path),
         "I_leak", to_amount(leak.current_a, Unit::ampere)});
    outcome.headline_note =
        leak.current_a.value > 0
            ? worded("{} at {}, {}", path, volts(leak.part_v.value), ohms(leak.ohm()))
            : worded("{} at {}", path, volts(leak.part_v.value));
}

void add_figures(const Inputs& inputs, const Found& found, Outcome& outcome) {
    const auto add = [&outcome](std::string key, std::string label, std::string symbol,
                                const Interval& value, Unit unit) {
        outcome.figures.push_back(
            {std::move(key), std::move(label), std::move(symbol), to_amount(value, unit)});
    };
    for (const JunctionFinding& junction : found.part.junctions) {
        const std::string_view key = path_key(junction.path);
        const std::string_view label = path_label(junction.path);
        if (junction.forward) {
            add(fmt::format("{}_drop", key), worded("{} drop", label),
                junction.path == Path::base_emitter ? "V_BE" : "V_BC", junction.forward->part_v,
                Unit::volt);
            add(fmt::format("{}_current", key), worded("{} current at that drop", label), "",
                junction.forward->current_a, Unit::ampere);
        }
        if (!junction.leak) {
            continue;
        }
        const Flow& leak = *junction.leak;
        const Interval shown =
            leak.open ? Interval{0, leak.current_a.high, leak.current_a.high} : leak.current_a;
        add(fmt::format("{}_leak", key),
            leak.open ? worded("{} leakage, less than", label) : worded("{} leakage", label), "",
            shown, Unit::ampere);
        add(fmt::format("{}_leak_volts", key), worded("{} volts at the leakage", label), "",
            leak.part_v, Unit::volt);
        if (const auto resistance = leak.part_v / leak.current_a; !leak.open && resistance) {
            add(fmt::format("{}_leak_ohm", key), worded("{} leak as a resistance", label), "",
                *resistance, Unit::ohm);
        }
    }
    const auto leak_of = [&found](Path path) -> const Flow* {
        const JunctionFinding& junction = found.part.junctions[static_cast<std::size_t>(path)];
        return is_leak(junction) && !junction.breakdown ? &*junction.leak : nullptr;
    };
    const Flow* ends = leak_of(Path::collector_emitter);
    const Flow* collector = leak_of(Path::base_collector);
    if (const Amount* gain = amount_if_given(inputs, "gain")) {
        const Interval beta{std::max(gain->low, 0.0), gain->value, gain->high};
        if (collector != nullptr) {
            add("open_base_expected", "C-E leakage that B-C leakage would make", "I_CEO",
                monotone(open_base_leak_a, collector->current_a, beta), Unit::ampere);
        }
        if (ends != nullptr) {
            add("collector_base_behind", "B-C leakage that would make the C-E leakage", "I_CBO",
                monotone([](double ceo_a, double b) { return ceo_a / (b + 1); }, ends->current_a,
                         beta),
                Unit::ampere);
        }
    }
    if (const Amount* rail = amount_if_given(inputs, "rail"); rail != nullptr && ends != nullptr) {
        // A junction's leak is the same at any voltage, a resistive one grows with it.
        const auto times = Interval::from(*rail) / ends->part_v;
        if (times) {
            const Interval resistive = ends->current_a * *times;
            add("rail_leak", "C-E leakage at the rail, if resistive", "",
                hull(resistive, ends->current_a), Unit::ampere);
        }
    }
    if (found.share) {
        add("doubling_share", "Share of the leak that doubles with heat", "", *found.share,
            Unit::percent);
        add("warm_leak", "Leakage warm", "", found.warm->current_a, Unit::ampere);
    }
}

void add_notes(const Inputs& inputs, const Found& found, Outcome& outcome) {
    auto& notes = outcome.notes;
    for (const JunctionFinding& junction : found.part.junctions) {
        if (const std::string_view effect =
                fault_effect(found.kind.role, junction.path, junction.state);
            !effect.empty() && std::find(notes.begin(), notes.end(), effect) == notes.end()) {
            notes.emplace_back(effect);
        }
    }
    std::string likewise;
    const JunctionFinding* const worst = found.worst();
    for (const JunctionFinding& junction : found.part.junctions) {
        if (worst == nullptr || &junction == worst || junction.reason.empty()) {
            continue;
        }
        if (passes_blind(junction) && passes_blind(*worst)) {
            likewise += worded("{}{}", likewise.empty() ? "" : " and ", path_label(junction.path));
            if (junction.forward) {
                likewise += worded(" (drop {})", volts(junction.forward->part_v.value));
            }
        } else {
            notes.push_back(junction.reason);
        }
    }
    if (!likewise.empty()) {
        notes.push_back(
            worded("{} likewise: nothing wrong, a small leak not ruled out.", likewise));
    }
    if (found.part.polarity) {
        notes.push_back(worded("{} by the way the base conducts{}.",
                               polarity_key(*found.part.polarity),
                               found.kind.claimed ? "" : "; check it against the type"));
    } else if (!found.instrument.lead_known && found.read > 0) {
        notes.emplace_back("Which lead is positive is not known, so npn and pnp cannot be told "
                           "apart; try the leads on a diode.");
    }
    const bool hidden =
        std::any_of(found.part.junctions.begin(), found.part.junctions.end(), passes_blind);
    if (hidden) {
        notes.emplace_back(found.instrument.kind == Meter::diode
                               ? "For a smaller leak: the highest ohms range whose battery stays "
                                 "below 5\u2009V, or 20\u2009V behind 1\u2009kΩ and a voltmeter "
                                 "(base-emitter not above 4\u2009V)."
                               : "For a smaller leak: a higher range, or a larger jig resistor.");
    }
    if (found.share) {
        const double rise_k = found.warm_c - found.kind.body_c;
        const Interval& share = *found.share;
        notes.push_back(
            rise_k < k_least_rise_k
                ? worded("Only {} warmer: warm it by {} or more for the heat test.",
                         print_short(rise_k, Unit::kelvin), print_short(20, Unit::kelvin))
            : share.low > 0.5 ? std::string("The leak doubles as a junction's own does.")
            : share.high < 0.5
                ? std::string("The leak hardly grows with heat: surface or resistive, a damaged "
                              "part.")
                : worded("Between {} and {} of the leak doubles with heat: warm it further "
                         "to tell.",
                         print_value(share.low, Unit::percent, 2),
                         print_value(share.high, Unit::percent, 2)));
    } else if (amount_if_given(inputs, fmt::format("warm_{}", found.instrument.suffix)) !=
               nullptr) {
        notes.emplace_back("The warm reading was not used: nothing leaked visibly when cold.");
    }
    const LeakLimits ends = leak_limits(found.kind.material, found.kind.role,
                                        Path::collector_emitter, found.kind.body_c);
    const LeakLimits junction =
        leak_limits(found.kind.material, found.kind.role, Path::base_collector, found.kind.body_c);
    notes.push_back(worded(
        "Rule of thumb for {} of this size at {}: junctions good below {}, C-E good below {}, bad "
        "above ten times that.",
        found.kind.material == Material::silicon ? "silicon" : "germanium",
        print_short(found.kind.body_c, Unit::celsius), amps(junction.good_a), amps(ends.good_a)));
    if (found.kind.role == Role::limiter) {
        notes.emplace_back("A leak in the limiter of the side that the voltage amplifier pulls is "
                           "almost invisible in circuit: only this reading finds it.");
    }
}

void add_cautions(const Found& found, Outcome& outcome) {
    auto& cautions = outcome.cautions;
    cautions.emplace_back("Judge the part out of the board, or with two leads lifted. Switch off "
                          "and discharge the reservoirs before an ohmmeter goes anywhere near it.");
    const Instrument& instrument = found.instrument;
    if (instrument.kind == Meter::ohmmeter) {
        const double most_a =
            instrument.ohmmeter.battery_v.value / instrument.ohmmeter.mid_scale_ohm.value;
        if (most_a > k_small_junction_a) {
            cautions.push_back(worded("This range drives up to {}: too much for a small "
                                      "junction, use ×10 or ×100.",
                                      amps(most_a)));
        }
        if (instrument.ohmmeter.battery_v.high > 4.5 && found.kind.material == Material::silicon) {
            cautions.push_back(worded("{} across a reversed base-emitter junction breaks it "
                                      "down at 5 to 7\u2009V: what it shows there is no leak.",
                                      volts(instrument.ohmmeter.battery_v.value)));
        }
    }
    if (instrument.kind == Meter::jig && instrument.jig.supply_v.high > k_touch_v) {
        cautions.push_back(worded("The jig's leads carry {}: clip them on with it off.",
                                  volts(instrument.jig.supply_v.value)));
    }
    if (found.kind.material == Material::germanium) {
        cautions.emplace_back("Germanium leaks by nature and twice as much when warm from the "
                              "fingers: let it lie for some minutes before reading.");
    }
}

Curve line(std::string key, std::string label, CurveRole role) {
    return {std::move(key),
            std::move(label),
            role,
            {"Body temperature", Unit::celsius, {}},
            {"Leakage", Unit::ampere, {}}};
}

/// The leak over temperature if it is the junction's own, and if it is resistive.
void plot_leak(const Found& found, Outcome& outcome) {
    const double cold_c = found.kind.body_c;
    const double cold_a = found.worst()->leak->current_a.value;
    const double from_c = cold_c - 10;
    const double to_c =
        std::min(std::max(cold_c + 40, found.share ? found.warm_c + 5 : cold_c), cold_c + 80);
    const LeakLimits limits =
        leak_limits(found.kind.material, found.kind.role, found.worst()->path, cold_c);
    Curve own = line("junction", "if the junction's own", CurveRole::as_found);
    Curve resistive = line("resistive", "if resistive", CurveRole::target);
    Curve limit = line("limit", "bad above", CurveRole::limit);
    for (int i = 0; i < k_points; ++i) {
        const double at_c = from_c + (to_c - from_c) * i / (k_points - 1);
        for (Curve* curve : {&own, &resistive, &limit}) {
            curve->x.values.push_back(at_c);
        }
        own.y.values.push_back(leak_at_temperature(cold_a, cold_c, at_c, found.doubling_k.value));
        resistive.y.values.push_back(cold_a);
        limit.y.values.push_back(leak_at_temperature(limits.bad_a, cold_c, at_c, 10));
    }
    outcome.plot = PlotKind::lines;
    // A limit far above or below would flatten what was read.
    const bool near = limits.bad_a < 30 * cold_a && cold_a < 30 * limits.bad_a;
    outcome.curves.push_back(std::move(own));
    outcome.curves.push_back(std::move(resistive));
    if (near) {
        outcome.curves.push_back(std::move(limit));
    }
    if (found.share && found.warm_c >= from_c && found.warm_c <= to_c) {
        Curve read = line("read", "as read", CurveRole::point);
        read.x.values = {cold_c, found.warm_c};
        read.y.values = {cold_a, found.warm->current_a.value};
        outcome.curves.push_back(std::move(read));
    }
}

/// The drops against their windows.
void plot_drops(const Found& found, Outcome& outcome) {
    double row = 0;
    for (const JunctionFinding& junction : found.part.junctions) {
        if (!junction.forward) {
            continue;
        }
        const DropWindow window =
            forward_window(found.kind, junction.path, junction.forward->current_a.value);
        const auto bar = [&](std::string key, std::string label, CurveRole role,
                             std::vector<double> drops_v) {
            std::vector<double> rows(drops_v.size(), row);
            outcome.curves.push_back({std::move(key),
                                      std::move(label),
                                      role,
                                      {"Forward drop", Unit::volt, std::move(drops_v)},
                                      {"", Unit::ratio, std::move(rows)}});
        };
        const std::string_view label = path_label(junction.path);
        bar(fmt::format("{}_window", path_key(junction.path)), worded("{} drops", label),
            CurveRole::window, {window.low_v, window.high_v});
        bar(fmt::format("{}_read", path_key(junction.path)), worded("{} read", label),
            CurveRole::point, {junction.forward->part_v.value});
        row += 1;
    }
    outcome.plot = outcome.curves.empty() ? PlotKind::none : PlotKind::bars;
}

std::optional<Error> contradiction_in(const Inputs& inputs, const Instrument& instrument) {
    if (instrument.kind != Meter::jig) {
        return std::nullopt;
    }
    for (const Field& field : k_fields) {
        const Amount* reading = amount_if_given(inputs, field.key);
        const bool across = field.unit == Unit::volt && applies(field, inputs) &&
                            (field.takes_open || field.key == "warm_volt");
        if (across && reading != nullptr && !is_open(field, *reading) &&
            reading->low > instrument.jig.supply_v.high) {
            return Error{ErrorCode::contradictory, std::string(field.label),
                         worded("{} {} is more than the jig's supply of {}. Accepted: no more "
                                "than the supply, or OL.",
                                field.label, volts(reading->value),
                                volts(instrument.jig.supply_v.value))};
        }
    }
    return std::nullopt;
}

Result<Outcome> compute(const Inputs& inputs) {
    const Found found = find(inputs);
    if (auto error = contradiction_in(inputs, found.instrument)) {
        return *std::move(error);
    }
    Outcome outcome;
    add_headline(found, outcome);
    add_figures(inputs, found, outcome);
    outcome.verdict = verdict_of(found);
    add_cautions(found, outcome);
    add_notes(inputs, found, outcome);
    if (found.worst() != nullptr && is_leak(*found.worst()) &&
        found.worst()->state != JunctionState::good && !found.worst()->breakdown) {
        plot_leak(found, outcome);
    } else {
        plot_drops(found, outcome);
    }
    return outcome;
}

} // namespace

Working leak_working() {
    return {"leak",
            "Leakage and junctions",
            "Is this transistor good, leaky, open or shorted?",
            k_fields,
            compute,
            "Series ohmmeter, R = R_mid·(1/x − 1); Shockley's junction"};
}

} // namespace railside
