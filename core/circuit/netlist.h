// Reads a SPICE netlist into a Circuit. The form is core/circuit/netlist.md.
//
// Taken: R, C, L, V, I, D, Q, the controlled sources E, F, G, H, B, and X; .model, .include, .lib
// (whole file), .subckt, .nodeset, .ic, .temp, .param, .global, .end. Values dc, sin(), pulse(),
// pwl(). Devices take area, m, temp, dtemp, off. The first line is the title. Commands of analysis
// and .options are passed over with a note; .control ... .endc likewise. Everything else is refused
// by line.
#pragma once

#include "core/circuit/circuit.h"
#include "core/result.h"

#include <functional>
#include <map>
#include <string>
#include <string_view>
#include <vector>

namespace railside {

struct Netlist {
    std::string title;
    Circuit circuit;
    std::vector<std::string> notes; // what was passed over, a sentence each
};

/// Gives the text of an included file, by the name in the netlist. The core opens no files.
using IncludeReader = std::function<Result<std::string>(std::string_view name)>;

/// Values given from outside, by the name of a .param or of an element (its resistance,
/// capacitance, inductance or dc value), letters in either case. "temperature" is the circuit's,
/// °C, and wins over the netlist's own.
using NetlistSettings = std::map<std::string, double, std::less<>>;

/// Errors: bad_text, not_found, out_of_range, contradictory, naming the line, what stood there, and
/// what is accepted; and those of `include`. Includes nest at most 16 deep; all texts together have
/// at most 8 MB; at most 10 000 elements. A resistance of 0 is taken as 1 milliohm with a note.
[[nodiscard]] Result<Netlist> read_netlist(std::string_view text, std::string_view source,
                                           const IncludeReader& include,
                                           const NetlistSettings& settings = {});

} // namespace railside
