// Netlists: any text. Included files are the text itself or a few cards.
#include "check.h"
#include "core/circuit/netlist.h"

#include <cmath>
#include <cstdint>
#include <string>
#include <string_view>

using namespace railside;

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
    const std::string_view text(reinterpret_cast<const char*>(data), size);
    const auto include = [&text](std::string_view name) -> Result<std::string> {
        if (name == "self") {
            return std::string(text);
        }
        if (name == "models.lib") {
            return std::string(".model qsn npn(is=1e-14 bf=100)\n.model dsm d(is=1e-9)\n");
        }
        return Error{ErrorCode::not_found, std::string(name), "there is no such file."};
    };
    const auto netlist = read_netlist(text, "fuzz", include);
    if (!netlist) {
        must_hold(!netlist.error().message.empty(), "a refusal says something");
        return 0;
    }
    const Circuit& circuit = netlist->circuit;
    must_hold(!circuit.elements().empty(), "a netlist has elements");
    for (const Element& element : circuit.elements()) {
        must_hold(circuit.find(element.name).has_value(), "an element is found by its name");
        if (const auto* resistor = std::get_if<Resistor>(&element.part)) {
            must_hold(resistor->ohm != 0 && std::isfinite(resistor->ohm), "a resistance is one");
        } else if (const auto* source = std::get_if<ControlledSource>(&element.part)) {
            must_hold(source->inputs.size() == (source->formula ? source->formula->inputs().size()
                                                                : source->slopes.size()),
                      "a controlled source has its inputs");
        }
    }
    return 0;
}
