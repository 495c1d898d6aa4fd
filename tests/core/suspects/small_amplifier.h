// Amplifiers from tests/data, read once, and the hunts over them.
#pragma once

#include "core/circuit/netlist.h"
#include "core/suspects/play.h"
#include "support/catch.h"

#include <fstream>
#include <sstream>
#include <string>

namespace railside::testing {

inline std::string netlist_text(const std::string& name) {
    std::ifstream file(std::string(RAILSIDE_TEST_DATA) + "/netlists/" + name);
    std::ostringstream text;
    text << file.rdbuf();
    return text.str();
}

/// Roles of tests/data/netlists/f_lowp.cir.
inline constexpr const char* k_low_power_positions = R"({"service_v_re_mV": 20, "fuse_A": 2.5,
"positions": {
 "q1": {"role": "input pair"}, "q2": {"role": "input pair"},
 "q4": {"role": "voltage amplifier", "half": "-"},
 "q7": {"role": "driver", "half": "+"}, "q8": {"role": "driver", "half": "-"},
 "q9": {"role": "output", "half": "+"}, "q10": {"role": "output", "half": "-"},
 "rep": {"role": "emitter resistor", "half": "+"}, "ren": {"role": "emitter resistor", "half": "-"},
 "rtrim": {"role": "trim pot"}, "c6": {"role": "spreader bypass"},
 "rfp": {"role": "rail fuse", "half": "+"}, "rfn": {"role": "rail fuse", "half": "-"},
 "rc1": {"role": "input collector load"}, "rf": {"role": "feedback resistor"},
 "rg": {"role": "feedback shunt resistor"}, "cg": {"role": "feedback capacitor"},
 "cdom": {"role": "compensation capacitor"}, "rdd": {"role": "driver emitter resistor"},
 "dcp": {"role": "catch diode", "half": "+"}, "dcn": {"role": "catch diode", "half": "-"},
 "rt": {"role": "tail resistor"}, "rbt1": {"role": "bootstrap resistor", "half": "+"},
 "rbt2": {"role": "bootstrap resistor", "half": "+"},
 "cbt": {"role": "bootstrap capacitor", "half": "+"},
 "d6a": {"role": "bias diode"}, "d6b": {"role": "bias diode"}, "d6c": {"role": "bias diode"}}})";

inline Result<Amplifier> read_low_power(std::string_view positions = k_low_power_positions) {
    const std::string text = netlist_text("f_lowp.cir");
    const auto netlist = read_netlist(text, "f_lowp.cir", [](std::string_view included) {
        return Result<std::string>(netlist_text(std::string(included)));
    });
    if (!netlist)
        return netlist.error();
    return read_amplifier(netlist->circuit, "f_lowp.cir", text, positions, "positions.json");
}

inline const Amplifier& low_power() {
    static const Amplifier held = [] {
        auto amplifier = read_low_power();
        REQUIRE(amplifier.ok());
        return std::move(amplifier).value();
    }();
    return held;
}

/// From the schematic's values alone: generic devices. Worked out once.
inline const Hunt& low_power_hunt() {
    static const Hunt held = [] {
        HuntOptions options;
        options.predictions.generic = true;
        options.predictions.samples = 3;
        options.predictions.most_steps = 8;
        auto hunt = Hunt::create(low_power(), options);
        REQUIRE(hunt.ok());
        return std::move(hunt).value();
    }();
    return held;
}

inline Fault fault_of(const Amplifier& amplifier, std::string_view position, FaultKind kind) {
    for (const Fault& fault : all_faults(amplifier))
        if (fault.kind == kind &&
            (fault.position < 0 ||
             amplifier.positions[static_cast<std::size_t>(fault.position)].name == position))
            return fault;
    FAIL("no such fault");
    return {};
}

inline Evidence reading(std::string key, double value) {
    return {"", std::move(key), value, std::nullopt, false};
}

} // namespace railside::testing
