// What a position asks of a transistor, and how far each part meets it.
//
// The stress comes from rails, load and pairs:
//   V_CE   2·V_CC where the stage swings the output (it stands at the other rail), V_CC at an input
//          pair, a few volts across a limiter or spreader
//   I_C    V_CC/(R_L·n) at an output; a driver's is that over the outputs' gain
//   P      V_CC²/(π²·|Z|·cos φ)/n, sine, worst level, resistive and at φ = 45°
//   safe area   i = (V_p/|Z|)·sin(θ − φ) at v_CE = V_CC − V_p·sin θ with V_p = V_CC, for φ = 0 and
//          45°, against min(I_C; k·P/V; the sheet's points), k = (T_j,max − T_c)/(T_j,max − 25)
// Each has a bare need (as computed, resistive load) and a wanted one with reserve: mains 10 % high
// (EN 50160), a loudspeaker's impedance down to 80 % of nominal (IEC 60268-5), 45° of phase, and
// 2 V of catch diodes. Under the bare need a part fails; between the two it is tight, unless the
// original itself was no better. Case 75 °C, ambient 50 °C. Sources of the formulas: Sedra & Smith,
// Microelectronic Circuits; Cordell, Designing Audio Power Amplifiers; the safe-area notes of
// power-transistor data sheets. Valid for class B and AB, 5 to 200 V rails, 1 to 64 ohm.
#pragma once

#include "core/device/drawer.h"
#include "core/device/parts.h"
#include "core/device/role.h"
#include "core/quantity/unit.h"

#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace railside {

/// Where the part is to go.
struct Position {
    Role role = Role::output;
    std::optional<Polarity> polarity; // not known: not judged
    double rail_v = 0;                // one side to ground, 5 to 200
    double load_ohm = 0;              // 1 to 64
    double pairs = 1;                 // outputs in parallel in a half, 1 to 12
    const Part* original = nullptr;   // may be unknown
    std::optional<GainGroup> original_group;
    std::string package; // what must fit; empty: the original's, if known
};

enum class Parameter {
    polarity,
    kind,       // single, Darlington; silicon, germanium
    ceo,        // collector-emitter volts
    collector,  // collector current
    power,      // dissipation at working temperature
    safe_area,  // along the load line; outputs only
    gain,       // least gain
    transit,    // f_T
    output_cap, // C_ob
    body,       // package and fixing
    leads,      // lead order
    insulation, // of the mounting face
};
/// "Collector-emitter volts"
[[nodiscard]] std::string_view parameter_label(Parameter parameter);
/// "V_CEO", or empty
[[nodiscard]] std::string_view parameter_symbol(Parameter parameter);
/// The symbol, or one or two words where there is none: for lists.
[[nodiscard]] std::string_view parameter_short(Parameter parameter);

enum class MarginState {
    pass,    // meets the wanted need, or the bare one no worse than the original
    tight,   // meets the bare need without the reserve, or needs a hand: another body, turned leads
    unknown, // a figure is not known; never a pass
    fail,    // does not meet the bare need
};
/// "pass", "tight", "unknown", "fail"
[[nodiscard]] std::string_view margin_key(MarginState state);

/// What is asked of a figure. Both unknown: it cannot be judged.
struct FigureNeed {
    double bare = 0;   // under it nothing goes
    double wanted = 0; // with reserve; at least bare
};

/// The needs of a position that are figures, SI units; dissipation at working temperature.
struct Needs {
    std::optional<FigureNeed> ceo_v;
    std::optional<FigureNeed> collector_a;
    std::optional<FigureNeed> power_w;
    std::optional<FigureNeed> gain; // at gain_a when that is known
    std::optional<double> gain_a;
    std::optional<FigureNeed> transit_hz;
    std::optional<double> most_output_f; // no more output capacitance than this
};
[[nodiscard]] Needs needs_of(const Position& position);

/// One parameter of one candidate.
struct Margin {
    Parameter parameter = Parameter::polarity;
    MarginState state = MarginState::unknown;
    std::string needed;          // "101 V"
    std::string has;             // "260 V"; "not known"
    std::optional<double> ratio; // has over wanted, or wanted over has: 1 or more is good
    std::string reason;          // a sentence where there is more to say
};

struct Candidate {
    const Part* part = nullptr;
    std::optional<GainGroup> group;
    std::vector<Margin> margins; // in the order of Parameter
    LeadOrder leads = LeadOrder::unknown;
    std::vector<std::string> warnings; // sentences: oscillation, turned leads, ...
    Stock stock;
    bool complement_known = false; // its opposite number is in the table
    Stock complement_stock;
    int fails = 0;
    int unknowns = 0;
    int tights = 0;
    std::optional<Margin> smallest; // the least ratio among the known figures
    double distance = 0;            // how far from the original, or from what is wanted

    [[nodiscard]] bool passes() const { return fails == 0 && unknowns == 0 && tights == 0; }
};

/// Judges one part for a position. `part` must outlive the answer.
[[nodiscard]] Candidate judge_part(const Position& position, const Part& part,
                                   const std::optional<GainGroup>& group, const PartsTable& table,
                                   const Drawer& drawer);

/// Every part of the table but the original itself, best first: fewest fails, then fewest doubts
/// (unknown or tight), of as many doubts the fewest unknown, then what is in the drawer, then the
/// nearest to the original. Parts of the wrong polarity or kind are left out.
[[nodiscard]] std::vector<Candidate> rank_parts(const Position& position, const PartsTable& table,
                                                const Drawer& drawer);

/// What has to be replaced together with it, a sentence each.
[[nodiscard]] std::vector<std::string> together_with(const Position& position,
                                                     const Candidate& candidate);

/// The greatest current the part may carry at that voltage for long, at a case of `case_c`; nothing
/// when the table does not know. `second_known` says whether the sheet's second-breakdown points
/// took part.
struct SafeCurrent {
    double amperes = 0;
    bool second_known = false;
};
[[nodiscard]] std::optional<SafeCurrent> safe_limit(const Part& part, double volts, double case_c);

} // namespace railside
