// The circuit that most amplifiers of the trade have, with a job's own values: for a job whose
// netlist nobody has.
//
// Two rails, complementary followers (outputs, drivers), a V_BE multiplier with its trim pot,
// limiters where the job tells of them, a voltage amplifier under a current source, an input pair
// under a tail source. What stands around the output stage is scaled from the rails: reference
// about 2 mA, tail about 2.4 mA, voltage amplifier about 10 mA. Every device is a generic one.
#pragma once

#include "core/job/job.h"
#include "core/result.h"

#include <optional>
#include <string>

namespace railside {

/// A limiter of each half, ohms; an absent one is not fitted.
struct UsualLimiter {
    double sense_ohm = 330;
    std::optional<double> divider_ohm;
    std::optional<double> ground_ohm; // base to ground
    bool ground_diode = true;         // in series with it
    std::optional<double> own_rail_ohm;
    std::optional<double> far_rail_ohm;
};

struct UsualValues {
    double rail_v = 40; // each, 5 to 150
    int pairs = 1;      // of outputs, 1 to 6
    double emitter_ohm = 0.22;
    double load_ohm = 8;     // rated
    double service_v = 0.02; // across one emitter resistor
    // Spreader: collector to base, base to emitter, the trim in one of the arms.
    double upper_ohm = 1000;
    double lower_ohm = 680;
    double trim_ohm = 1000; // end to end
    bool trim_above = true; // in the upper arm
    std::optional<UsualLimiter> limiter;
};

/// What the job's sheet knows of the output stage; the maker's values, as printed. Errors: missing
/// (rail, emitter resistor), out_of_range, naming the field and the range.
[[nodiscard]] Result<UsualValues> usual_values(const Job& job);

/// Netlist and positions, ready for the journal but for `names`.
[[nodiscard]] CircuitRecord usual_circuit(const UsualValues& values);

} // namespace railside
