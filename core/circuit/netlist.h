// Reads a SPICE netlist into a Circuit.
//
// Taken: R, C, L, V, I, D, Q, and the controlled sources E, F, G, H, B; .model, .include, .lib
// (whole file), .nodeset, .ic, .temp, .param with numbers, .end. Values dc, sin(), pulse(), pwl().
// Devices take area, m, temp, dtemp, off. The first line is the title. .options and other commands
// of analysis are passed over with a note; .control ... .endc likewise. Everything else is refused
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

/// Names given from outside: `--set NAME=VALUE` names an element's value or a .param.
using NetlistSettings = std::map<std::string, double, std::less<>>;

/// Errors: bad_text, not_found, out_of_range, naming the line, what stood there, and what is
/// accepted. Includes nest at most 16 deep; a text has at most 8 MB.
[[nodiscard]] Result<Netlist> read_netlist(std::string_view text, std::string_view source,
                                           const IncludeReader& include,
                                           const NetlistSettings& settings = {});

} // namespace railside
