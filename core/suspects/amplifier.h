// An amplifier as the hunt sees it: its circuit, what each position is there for, and the places a
// technician's meter goes to.
//
// The positions file (core/suspects/hunt.md) gives each position its role in words; where a meter
// goes follows from the roles and the circuit, not from names, except that nodes called out, bp, bn
// are taken at their word. Elements without a role are suspects too. Whole amplifiers on two rails;
// direct-coupled output.
#pragma once

#include "core/circuit/circuit.h"
#include "core/device/role.h"
#include "core/result.h"

#include <array>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace railside {

/// What a position's element is.
enum class ElementKind { transistor, diode, resistor, capacitor };

/// Which half of the amplifier a position belongs to.
enum class SuspectHalf { both, plus, minus };

/// A place that can be at fault.
struct SuspectPosition {
    std::string name; // as in the netlist
    std::string role; // in words: "voltage amplifier"; "part" when the file does not say
    SuspectHalf half = SuspectHalf::both;
    ElementKind kind = ElementKind::resistor;
    ElementId element = -1;
    Role device = Role::other; // transistors: the class their generic constants come from
};

/// How the idle current is set.
struct BiasTrim {
    ElementId upper = -1; // a three-terminal pot's upper part; −1: a variable resistor
    ElementId lower = -1; // its lower part, or the variable resistor
    double track_ohm = 0; // end to end
};

/// A voltage between two nodes.
struct MeterPlace {
    Node plus = 0;
    Node minus = 0;
};

struct Amplifier {
    Circuit circuit;
    std::vector<SuspectPosition> positions;

    ElementId rail_plus = -1; // voltage sources
    ElementId rail_minus = -1;
    ElementId input = -1; // voltage source, or −1
    ElementId load = -1;  // resistor, or −1
    Node out = 0;
    Node rail_plus_node = 0; // behind the fuses
    Node rail_minus_node = 0;
    double rail_v = 0; // the smaller of the two
    double gain = 20;  // that the feedback sets
    std::optional<BiasTrim> trim;
    std::optional<double> service_v; // across one emitter resistor, V
    double fuse_a = 5;
    bool has_limiter = false;

    // Absent where the amplifier has no such place.
    std::array<std::optional<MeterPlace>, 4> emitter; // +, −, second +, second −
    std::optional<MeterPlace> spreader;               // between the bases
    std::optional<MeterPlace> base_plus;
    std::optional<MeterPlace> base_minus;
    std::optional<MeterPlace> feed; // load source's emitter resistor, or bootstrap resistor
    std::optional<MeterPlace> amplifier_base; // against its rail
    std::optional<MeterPlace> tail;
    std::optional<MeterPlace> driver_emitters;

    [[nodiscard]] const SuspectPosition* find(std::string_view name) const;
};

/// What the positions file says of one amplifier. `netlist_name` ("a_ef2.cir") picks among several
/// in one file; `netlist_text` is searched for "trim position 0.4", which tells a variable
/// resistor's track. Errors: bad_text, missing, not_found, naming the member.
[[nodiscard]] Result<Amplifier>
read_amplifier(const Circuit& circuit, std::string_view netlist_name, std::string_view netlist_text,
               std::string_view positions_text, std::string_view positions_name);

} // namespace railside
