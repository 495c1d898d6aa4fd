// The junctions of a transistor out of circuit: what a meter's reading means in amperes and volts
// at the part, and whether each junction is good, leaky, open or shorted.
//
// Series ohmmeter: a battery V_b behind R_m, the mid-scale resistance of the range in use, so that
//   needle = R_m/(R_m + R),  I = (V_b/R_m)·needle,  V_part = V_b·(1 − needle).
// A junction is no resistor: only the current at that voltage means anything. Diode test: about 1
// mA until the display runs out. Leak jig: a supply behind a resistor, I = (V_s − V_part)/R_s.
// Leakage: I_CBO(T) = I_CBO(T0)·2^((T − T0)/D), D 8 to 12 K; I_CEO = (β + 1)·I_CBO with β at that
// tiny current; a surface or resistive leak hardly changes with temperature. Sources: J. Millman
// and C. Halkias, Integrated Electronics, 1972; A. Sedra and K. Smith, Microelectronic Circuits;
// Ohm's law. Valid −40 to 175 °C for bipolar parts; the limits are rules of thumb at 25 °C. The
// base-emitter breakdown of 5 to 7 V is known, that of collector to emitter is not.
#pragma once

#include "core/device/parts.h"
#include "core/device/role.h"
#include "core/quantity/interval.h"

#include <array>
#include <optional>
#include <string>
#include <string_view>

namespace railside {

/// What the leads put through a part: current and volts at it, both 0 or more.
struct Flow {
    Interval current_a;
    Interval part_v;
    bool open = false; // nothing shown: current_a runs from 0 to what would still stay hidden

    /// Volts over amperes; infinite where no current flows.
    [[nodiscard]] double ohm() const;
    /// The least resistance that agrees with the reading.
    [[nodiscard]] double least_ohm() const;
};

/// A moving-coil ohmmeter on one range.
struct SeriesOhmmeter {
    Interval battery_v;     // above 0
    Interval mid_scale_ohm; // on that range, above 0
    double arc_error = 0;   // fraction of the arc the needle may be off, 0 to 0.2
};
/// From the ohms read, 0 or more.
[[nodiscard]] Flow through_ohmmeter(const SeriesOhmmeter& meter, const Interval& reading_ohm);
/// From how far the needle goes: 0 at rest (open) to 1 (leads together).
[[nodiscard]] Flow through_needle(const SeriesOhmmeter& meter, const Interval& fraction);
/// The needle did not move.
[[nodiscard]] Flow through_ohmmeter_open(const SeriesOhmmeter& meter);

/// A digital meter's diode test.
struct DiodeTest {
    Interval current_a; // it drives, above 0
    double open_v = 2;  // highest volts it shows; above is "OL"
};
/// `reading_v` at or above open_v counts as OL.
[[nodiscard]] Flow through_diode_test(const DiodeTest& test, const Interval& reading_v);
[[nodiscard]] Flow through_diode_test_open(const DiodeTest& test);

/// A supply behind a resistor, a voltmeter across the part.
struct LeakJig {
    Interval supply_v;   // above 0
    Interval series_ohm; // above 0
};
/// Volts across the part, 0 or more; more than the supply counts as the supply.
[[nodiscard]] Flow through_jig(const LeakJig& jig, const Interval& part_v);
[[nodiscard]] Flow through_jig_open(const LeakJig& jig);

/// What else is in the case between the three leads.
enum class Inside {
    plain,               // a single transistor
    darlington,          // two, mostly with base-emitter resistors and a damper diode
    be_resistor,         // a resistor from base to emitter
    damper,              // a diode across collector and emitter
    resistor_and_damper, // both
};

/// A pair of leads.
enum class Path {
    base_emitter,
    base_collector,
    collector_emitter,
};
[[nodiscard]] std::string_view path_key(Path path);   // "be"
[[nodiscard]] std::string_view path_label(Path path); // "B-E"

/// Read with the positive lead on the first and on the second letter of the path.
struct BothWays {
    std::optional<Flow> first_positive;
    std::optional<Flow> second_positive;
};

struct PartReadings {
    BothWays base_emitter;
    BothWays base_collector;
    BothWays collector_emitter;
    bool lead_polarity_known = true; // false: which lead is positive is a guess
};

struct TestedPart {
    Role role = Role::other;
    Material material = Material::silicon;
    Inside inside = Inside::plain;
    std::optional<Polarity> claimed = {}; // by type number or circuit
    double body_c = 25;
};

/// In rising order of trouble.
enum class JunctionState {
    not_read,
    good,
    undecided, // the readings do not say, or lie between good and leaky
    leaky,
    open,
    shorted,
};
[[nodiscard]] std::string_view state_label(JunctionState state); // "leaky"

struct JunctionFinding {
    Path path = Path::base_emitter;
    JunctionState state = JunctionState::not_read;
    bool at_edge = false;        // undecided because it lies between good and leaky
    bool breakdown = false;      // what flows is the base-emitter breakdown, no leak
    std::optional<Flow> forward; // the way it conducts; none for collector to emitter
    std::optional<Flow> leak;    // the way it should block (C-E: the worse of both)
    std::string reason;          // one sentence with figures; empty when not read
};

struct PartFinding {
    std::array<JunctionFinding, 3> junctions; // in the order of Path
    std::optional<Polarity> polarity;         // by which way the base conducts
    bool wrong_polarity = false;              // it is not the claimed one
};

/// Judges what was read; every finding rests on that path's readings and the polarity of the rest.
[[nodiscard]] PartFinding judge_part(const PartReadings& readings, const TestedPart& kind);

/// Leakage of a path that is still good, and that is surely bad, at the body temperature.
struct LeakLimits {
    double good_a = 0;
    double bad_a = 0;
};
/// Rules of thumb for the size of device that sits in that role (at 25 °C: small silicon 0.1 µA
/// and 1 µA, power silicon 10 µA and 100 µA; power germanium 1 mA and 10 mA; C-E more by a low
/// gain), doubling every 10 K. `body_c` −40 to 175.
[[nodiscard]] LeakLimits leak_limits(Material material, Role role, Path path, double body_c);

/// The leak resistance under which the role shows an effect in circuit: collector to emitter (and
/// base to collector) from circuit simulation of a 40 V stage, order of magnitude; base to emitter,
/// where only V_BE stands, a tenth of it.
[[nodiscard]] double leak_that_matters_ohm(Role role, Path path);

/// The window of a junction's forward drop at `current_a`, V.
struct DropWindow {
    double low_v = 0;
    double high_v = 0;
};
[[nodiscard]] DropWindow forward_window(const TestedPart& kind, Path path, double current_a);

/// I·2^((to − from)/D). `doubling_k` above 0.
[[nodiscard]] double leak_at_temperature(double leak_a, double from_c, double to_c,
                                         double doubling_k);
/// I_CEO from I_CBO and the gain at that tiny current.
[[nodiscard]] double open_base_leak_a(double collector_base_leak_a, double gain);

/// Share of a leakage that doubles with temperature (the junction's own), 0 to 1; the rest is
/// surface or resistive. From I_hot = I_cold·(s·k + 1 − s), k = 2^(rise/D).
[[nodiscard]] Interval doubling_share(const Interval& cold_a, const Interval& hot_a, double rise_k,
                                      const Interval& doubling_k);

/// What the fault does in that role, one or two sentences; empty for a good one. Figures are from
/// circuit simulation of complete amplifiers at 20 mV across the emitter resistors.
[[nodiscard]] std::string_view fault_effect(Role role, Path path, JunctionState state);

} // namespace railside
