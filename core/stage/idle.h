// From the volts across the emitter resistors to the idle current and what it costs, as intervals.
//
// Model: I_q = V_RE/R_E; across the two outer ends V = I_q·(R_E,top + R_E,bottom). Heat per device
// P = I_q·(V_CC − V_RE). Class A power: with i1 + i2 = 2·n·I_q held, the idle half reaches zero at
// an output current of 2·n·I_q, hence P = (2·n·I_q)²·R_L/2, and no more than V_CC²/(2·R_L), where
// the output meets the rail. With emitter resistors the sum is not held quite: at I_q·(R_E + r_int)
// = V_T the other half still carries a quarter of I_q there, so the figure is the usual rating, not
// the point of cut-off. Source: Kirchhoff; A. Sedra & K. Smith, Microelectronic Circuits (class A
// and AB stages). Every function here is monotonic in each input (the heat has one turn, which is
// taken in), so that the values at the corners of the input intervals bound the result.
#pragma once

#include "core/quantity/amount.h"

namespace railside {

/// Where the meter leads sit.
enum class Across {
    one,  // across one emitter resistor
    both, // across the two outer ends, through both resistors in series
};

/// Volts across one resistor. A reading cannot be below zero here: the low end stops at 0.
[[nodiscard]] Amount reading_of_one(const Amount& reading, Across across);

/// Idle current of one device. `reading_one` in volt, `emitter` in ohm with low above 0.
[[nodiscard]] Amount idle_current(const Amount& reading_one, const Amount& emitter);

/// Heat of one output device with nothing playing; `rail` in volt, one side. Not below 0.
[[nodiscard]] Amount idle_dissipation(const Amount& reading_one, const Amount& emitter,
                                      const Amount& rail);

/// Greatest power into `load` (ohm) before one half switches off. `idle` in ampere per device,
/// `pairs` 1 or more.
[[nodiscard]] Amount class_a_power(const Amount& idle, int pairs, const Amount& load,
                                   const Amount& rail);

/// r_int of an output device nobody has a model of: 0.05 ohm, 0.02 to 0.12. From an inner emitter
/// resistance of 0.01 to 0.04 ohm and 1 to 8 ohm of base, stopper and driver resistance seen
/// through a gain of 50 to 120.
[[nodiscard]] Amount generic_internal_resistance();

} // namespace railside
