// The bias spreader over its trim's travel, whole and with each single fault.
//
// Model: the stage as a circuit (core/stage/stage_circuit.h) at rest, loudspeaker off, output held
// at nought, everything at the temperatures given. A V_BE multiplier with its trim in the lower
// arm, in the upper arm, or as a divider between the arms with the wiper to the base; or a string
// of diodes with a trim in series. A rheostat's wiper is taken to be tied to one end of its track,
// so that an open wiper leaves the whole track in place and an open track opens the arm. Sources:
// A. Sedra & K. Smith, Microelectronic Circuits (class AB biasing); D. Self, Audio Power Amplifier
// Design (bias generators). Valid for the stage's own ranges.
#pragma once

#include "core/stage/stage_circuit.h"

#include <span>
#include <string_view>
#include <variant>
#include <vector>

namespace railside {

/// Where the trim of a V_BE multiplier sits.
enum class TrimPlace {
    lower_arm, // rheostat between base and emitter
    upper_arm, // rheostat between collector and base
    divider,   // the track joins the two arms, the wiper goes to the base
};

/// A V_BE multiplier as drawn. Ohms.
struct MultiplierParts {
    double upper_ohm = 1800; // fixed, collector to base, 0 or more
    double lower_ohm = 470;  // fixed, base to emitter, 0 or more
    double trim_ohm = 500;   // the whole track, 0 or more
    TrimPlace trim = TrimPlace::lower_arm;
};

/// A diode string as drawn.
struct StringParts {
    int diodes = 3;        // 1 to 11
    double trim_ohm = 250; // the whole track, in series, 0 or more
};

using SpreaderParts = std::variant<MultiplierParts, StringParts>;

/// One thing wrong with the spreader.
enum class SpreadFault {
    none,
    wiper_open,
    track_open,       // rheostats and strings; divider: on the upper arm's side of the wiper
    track_open_low,   // divider only: on the lower arm's side
    upper_open,       // the upper arm's fixed resistor
    lower_open,       // the lower arm's
    transistor_open,  // the multiplier's transistor, or its base lead
    base_shorted,     // its base to its emitter
    collector_leak,   // its collector to its emitter, fault_ohm
    collector_short,  // its collector to its emitter
    bypass_shorted,   // the capacitor across the spreader
    diode_short,      // one diode shorted, or one too few
    two_diodes_short, // two, or two too few
    diode_more,       // one too many
    diode_open,       // one open
    driver_leak,      // not the spreader: the + driver, collector to emitter, fault_ohm
};
/// "trim wiper open", or "no fault".
[[nodiscard]] std::string_view fault_name(SpreadFault fault);

/// The faults that such a spreader can have, the likely ones first; `none` and driver_leak not
/// among them.
[[nodiscard]] std::vector<SpreadFault> faults_of(const SpreaderParts& parts);

/// The stage with the whole spreader, its trim at `position`: 0 least bias, 1 most.
[[nodiscard]] StageValues with_spreader(const StageValues& values, const SpreaderParts& parts,
                                        double position);
/// The same with one fault. `fault_ohm` is the size of a leak, above 0.
[[nodiscard]] StageValues with_fault(const StageValues& values, const SpreaderParts& parts,
                                     SpreadFault fault, double position, double fault_ohm);

/// The stage at rest with its trim at one place.
struct SpreadPoint {
    double position = 0;  // of the trim, 0 least bias, 1 most
    double spread_v = 0;  // between the bases
    double reading_v = 0; // across one R_E of the + half
    double feed_a = 0;    // what the spreader is fed with
    double output_w = 0;  // the hotter output device
    double rail_a = 0;    // the greater rail current of the stage
};

/// What one fault shows over the trim's travel.
struct FaultReading {
    SpreadFault fault = SpreadFault::none;
    std::vector<SpreadPoint> over_trim; // where the trim was put; empty: see below
    // The stage cannot hold its output with such a spreader: the halves fight each other at all
    // the current that the rails give.
    bool lost_hold = false;

    /// Whether the trim moves the reading by more than a twentieth.
    [[nodiscard]] bool trim_moves() const;
};

/// The whole spreader with its trim at each of `positions` (ascending, 0 to 1). The stage's own
/// spreader is not looked at. Errors: as StageCircuit.
[[nodiscard]] Result<std::vector<SpreadPoint>> spread_over_trim(const StageValues& values,
                                                                const SpreaderParts& parts,
                                                                std::span<const double> positions);

/// The same with a fault. Errors: out_of_range as StageCircuit::build; an unsolvable state is
/// lost_hold.
[[nodiscard]] Result<FaultReading> reading_with_fault(const StageValues& values,
                                                      const SpreaderParts& parts, SpreadFault fault,
                                                      double fault_ohm,
                                                      std::span<const double> positions);

/// Where the trim has to stand for `reading_v` (above 0) across one R_E, to 1e-4 of the travel;
/// nothing when the travel does not reach it. Errors: as StageCircuit.
[[nodiscard]] Result<std::optional<double>>
trim_for_reading(const StageValues& values, const SpreaderParts& parts, double reading_v);

} // namespace railside
