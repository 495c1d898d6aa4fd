// The example amplifiers worked out and held against a general circuit simulator's answers, node by
// node and device by device.
#include "core/circuit/netlist.h"
#include "core/circuit/solver.h"

#include "data/rows.h"
#include "support/catch.h"

#include <algorithm>
#include <fstream>
#include <iterator>
#include <map>
#include <optional>
#include <string>

using namespace railside;

namespace {

// The simulator's own tolerance was 1e-4, its printed digits six; 0.1 % or the absolute figure,
// whichever is wider, is what is asked of the same equations.
constexpr double k_relative = 1e-3;
constexpr double k_node_v = 1e-4;
constexpr double k_difference_v = 2e-6; // across an emitter resistor
constexpr double k_device_a = 10e-9;
constexpr double k_no_load_ohm = 1e5;

Result<std::string> file_text(std::string_view name) {
    std::ifstream file(std::string(RAILSIDE_TEST_DATA) + "/netlists/" + std::string(name));
    if (!file) {
        return Error{ErrorCode::not_found, std::string(name), "there is no such file."};
    }
    return std::string{std::istreambuf_iterator<char>(file), {}};
}

Circuit amplifier(const std::string& name, NetlistSettings settings = {}) {
    settings["rl"] = k_no_load_ohm;
    const auto text = file_text(name + ".cir");
    REQUIRE(text.ok());
    auto netlist = read_netlist(*text, name + ".cir", file_text, settings);
    REQUIRE(netlist.ok());
    return std::move(netlist->circuit);
}

OperatingPoint solved(const Circuit& circuit) {
    auto point = operating_point(circuit);
    if (!point) {
        FAIL(point.error().message);
    }
    return std::move(point).value();
}

double volts(const Circuit& circuit, const OperatingPoint& point, std::string_view a,
             std::string_view b = "0") {
    const auto first = circuit.find_node(a);
    const auto second = circuit.find_node(b);
    REQUIRE((first && second));
    return point.volts(*first, *second);
}

double current(const Circuit& circuit, const OperatingPoint& point, std::string_view name) {
    const auto id = circuit.find(name);
    REQUIRE(id.has_value());
    return point.element(*id).current_a;
}

bool agrees(double ours, double expected, double absolute) {
    return std::abs(ours - expected) <= std::max(absolute, k_relative * std::abs(expected));
}

/// The trim's resistors at a position, 0 to 1, as tests/data/circuit_trim.csv states them.
NetlistSettings trim_at(const std::string& amplifier, double position) {
    const auto ohm = [](double value) { return std::max(value, 0.5); };
    if (amplifier == "c_quasi") {
        return {{"rta", ohm(1000 * position)}, {"rtb", ohm(1000 * (1 - position))}};
    }
    if (amplifier == "f_lowp") {
        return {{"rtrim", ohm(250 * position)}};
    }
    return {{"rtrim", ohm(500 * (1 - position))}};
}

/// All amplifiers at idle, worked out once.
std::map<std::string, std::pair<Circuit, OperatingPoint>> at_idle() {
    std::map<std::string, std::pair<Circuit, OperatingPoint>> all;
    for (const std::string name : {"a_ef2", "b2_dual", "c_quasi", "f_lowp"}) {
        Circuit circuit = amplifier(name);
        OperatingPoint point = solved(circuit);
        all.emplace(name, std::pair(std::move(circuit), std::move(point)));
    }
    return all;
}

} // namespace

TEST_CASE("circuit: every node of the example amplifiers is where the simulation has it",
          "[core][circuit]") {
    const auto amplifiers = at_idle();
    std::size_t looked = 0;
    for (const auto& row : test_data::rows_of("circuit_nodes.csv")) {
        const auto& [circuit, point] = amplifiers.at(row.text("amp"));
        const double ours = volts(circuit, point, row.text("node"));
        INFO(row.text("amp") << " " << row.text("node") << ": " << ours << " V, expected "
                             << row.text("v"));
        CHECK(agrees(ours, row.number("v"), k_node_v));
        ++looked;
    }
    CHECK(looked == 125);
}

TEST_CASE("circuit: every transistor of the example amplifiers carries the simulation's currents",
          "[core][circuit]") {
    const auto amplifiers = at_idle();
    for (const auto& row : test_data::rows_of("circuit_devices.csv")) {
        const auto& [circuit, point] = amplifiers.at(row.text("amp"));
        const auto id = circuit.find(row.text("device"));
        REQUIRE(id.has_value());
        const ElementState& state = point.element(*id);
        INFO(row.text("amp") << " " << row.text("device") << ": collector " << state.current_a
                             << " A, base " << state.base_a << " A, " << state.power_w << " W");
        CHECK(agrees(state.current_a, row.number("ic"), k_device_a));
        CHECK(agrees(state.base_a, row.number("ib"), k_device_a));
        CHECK(agrees(state.power_w, row.number("p"), 40 * k_device_a));
    }
}

TEST_CASE("circuit: idle readings of the example amplifiers", "[core][circuit]") {
    const auto amplifiers = at_idle();
    for (const auto& row : test_data::rows_of("circuit_idle.csv")) {
        const auto& [circuit, point] = amplifiers.at(row.text("amp"));
        INFO(row.text("amp"));
        CHECK(agrees(volts(circuit, point, "ep", "out"), row.number("v_rep"), k_difference_v));
        CHECK(agrees(volts(circuit, point, "out", "en"), row.number("v_ren"), k_difference_v));
        CHECK(agrees(volts(circuit, point, "out"), row.number("offset"), 10e-6));
        CHECK(agrees(volts(circuit, point, "bp", "bn"), row.number("v_spreader"), k_node_v));
        CHECK(agrees(-current(circuit, point, "vpos"), row.number("i_pos_rail"), k_device_a));
        CHECK(agrees(current(circuit, point, "vneg"), row.number("i_neg_rail"), k_device_a));
    }
}

TEST_CASE("circuit: the trim over its travel", "[core][circuit]") {
    for (const auto& row : test_data::rows_of("circuit_trim.csv")) {
        const Circuit circuit =
            amplifier(row.text("amp"), trim_at(row.text("amp"), row.number("position")));
        const OperatingPoint point = solved(circuit);
        INFO(row.text("amp") << " at " << row.text("position"));
        CHECK(agrees(volts(circuit, point, "ep", "out"), row.number("v_rep"), k_difference_v));
        CHECK(agrees(volts(circuit, point, "out", "en"), row.number("v_ren"), k_difference_v));
        CHECK(agrees(volts(circuit, point, "bp", "bn"), row.number("v_spreader"), k_node_v));
        CHECK(agrees(-current(circuit, point, "vpos"), row.number("i_pos_rail"), k_device_a));
    }
}

TEST_CASE("circuit: both rails over their range, from scratch and brought down step by step",
          "[core][circuit]") {
    const auto check = [](const Circuit& circuit, const OperatingPoint& point, const auto& row) {
        CHECK(agrees(volts(circuit, point, "ep", "out"), row.number("v_rep"), k_difference_v));
        CHECK(agrees(volts(circuit, point, "out"), row.number("offset"), 10e-6));
        CHECK(agrees(-current(circuit, point, "vpos"), row.number("i_pos_rail"), k_device_a));
        CHECK(agrees(current(circuit, point, "vneg"), row.number("i_neg_rail"), k_device_a));
    };
    auto rows = test_data::rows_of("circuit_rail_sweep.csv");
    std::reverse(rows.begin(), rows.end()); // from the full rails down
    std::string of;
    std::optional<Circuit> circuit;
    std::optional<Solver> solver;
    OperatingPoint stepped;
    for (const auto& row : rows) {
        const std::string& name = row.text("amp");
        const double rail_v = row.number("rail_v");
        INFO(name << " at " << rail_v << " V");
        Circuit fresh = amplifier(name, {{"vpos", rail_v}, {"vneg", -rail_v}});
        // At 4 V these two have a second state, the output near the rail; from scratch either may
        // be found.
        if (rail_v > 4 || (name != "a_ef2" && name != "b2_dual")) {
            check(fresh, solved(fresh), row);
        }
        if (name != of) {
            of = name;
            circuit = std::move(fresh);
            solver.emplace(*circuit);
            REQUIRE(solver->solve(stepped).ok());
        } else {
            solver->set_value(*circuit->find("vpos"), rail_v);
            solver->set_value(*circuit->find("vneg"), -rail_v);
            REQUIRE(solver->resolve(stepped).ok());
        }
        check(*circuit, stepped, row);
    }
}
