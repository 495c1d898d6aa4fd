// A hypothesis: a position with a way of failing; and the amplifier with it.
//
// Opens are 1 Gohm in a lead, shorts 0.2 ohm (junctions) or 0.05 ohm. What nobody can know
// beforehand (how leaky, changed to what) is a severity from 0 to 1, spread over the range that the
// trade meets, on a logarithmic scale: leaks 100 ohm to 22 kohm, low gain 1/30 to 1/3, resistors up
// 1.3 to 60 times or down to 1/50 to 1/1.3.
#pragma once

#include "core/suspects/amplifier.h"

#include <string>
#include <string_view>
#include <vector>

namespace railside {

enum class FaultKind {
    none,           // everything as it should be
    other,          // something that is not in the list
    short_circuit,  // collector to emitter; or a diode or capacitor short
    leak,           // collector to emitter
    open,           // resistor, diode, capacitor, fuse, a pot's track
    open_base,      //
    open_emitter,   //
    open_collector, //
    low_gain,       //
    higher,         // a resistor
    lower,          // a resistor
    wiper_open,     // of a variable resistor: its whole track stays in
    one_too_many,   // a bias diode more than there should be
};
/// "low gain"
[[nodiscard]] std::string_view fault_words(FaultKind kind);
[[nodiscard]] std::string_view fault_key(FaultKind kind); // "low_gain": JSON

struct Fault {
    int position = -1; // index into Amplifier::positions; −1: none, other
    FaultKind kind = FaultKind::none;
    double prior = 0; // sums to 1 over all faults
};

/// Whether how bad it is matters.
[[nodiscard]] bool has_severity(FaultKind kind);
/// What the severity stands for: ohm, or a factor.
[[nodiscard]] double severity_value(FaultKind kind, double severity);

/// Every fault of the amplifier, `none` and `other` last. Priors: how often a part of that role
/// fails times the share of that kind, as the trade's common experience has it; a position marked
/// "fitted by an earlier shop" counts double later (core/suspects/hunt.h).
[[nodiscard]] std::vector<Fault> all_faults(const Amplifier& amplifier);

/// The circuit with the fault built in. `severity_element` is what set_severity() changes, or −1.
struct FaultyCircuit {
    Circuit circuit;
    ElementId severity_element = -1;
};
[[nodiscard]] FaultyCircuit with_fault(const Amplifier& amplifier, const Fault& fault);
/// Changes the circuit to that severity, 0 to 1. `healthy` gives nominal values and devices.
void set_severity(Circuit& circuit, const Circuit& healthy, const Amplifier& amplifier,
                  const Fault& fault, ElementId severity_element, double severity);

} // namespace railside
