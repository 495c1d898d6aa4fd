// The accuracy table: what the engine works out, beside circuit simulation of the same thing (rows
// of tests/data). "model": fed with the simulated circuits' own device cards. "blind": textbook or
// generic constants, what a bench without a card can expect. Exit status 1 when a row misses its
// tolerance.
//   accuracy           every row
//   accuracy --worst   the worst row of each case
#include "core/circuit/netlist.h"
#include "core/device/constants.h"
#include "core/mains/lamp.h"
#include "core/stage/clip.h"
#include "core/stage/crossover.h"
#include "core/stage/crossover_circuit.h"
#include "core/stage/cycle.h"
#include "core/stage/cycle_circuit.h"
#include "core/stage/idle.h"
#include "core/stage/limit.h"
#include "core/stage/limiter_formula.h"
#include "core/stage/spread.h"
#include "core/stage/spread_formula.h"
#include "core/stage/warm.h"

#include "../core/stage/simulated_stages.h"
#include "data/rows.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <fstream>
#include <iterator>
#include <map>
#include <string>
#include <string_view>
#include <vector>

using namespace railside;
using test_data::rows_of;

namespace {

/// One line of the table. A row is within when |ours − simulated| is within either tolerance.
struct Line {
    std::string kind; // "model", "blind"
    std::string what; // "limiter, b2_dual +"
    std::string at;   // "output 20 V"
    std::string unit;
    double simulated = 0;
    double ours = 0;
    double relative = 0; // tolerance
    double absolute = 0; // tolerance

    [[nodiscard]] double missed() const { // in tolerances; above 1 is outside
        const double error = std::abs(ours - simulated);
        return error / std::max(relative * std::abs(simulated), absolute);
    }
};

std::vector<Line> g_lines;

void add(std::string kind, std::string what, std::string at, std::string unit, double simulated,
         double ours, double relative, double absolute = 1e-300) {
    g_lines.push_back({std::move(kind), std::move(what), std::move(at), std::move(unit), simulated,
                       ours, relative, absolute});
}

template <class T> T taken(Result<T> result) {
    if (!result) {
        throw std::runtime_error(result.error().message);
    }
    return std::move(result).value();
}

Result<std::string> netlist_text(std::string_view name) {
    std::ifstream file(std::string(RAILSIDE_TEST_DATA) + "/netlists/" + std::string(name));
    if (!file) {
        return Error{ErrorCode::not_found, std::string(name), "there is no such file."};
    }
    return std::string{std::istreambuf_iterator<char>(file), {}};
}

void circuit_nodes() {
    std::map<std::string, std::pair<Circuit, OperatingPoint>> solved;
    for (const auto& row : rows_of("circuit_nodes.csv")) {
        const std::string amp = row.text("amp");
        if (!solved.contains(amp)) {
            const auto netlist = taken(
                read_netlist(taken(netlist_text(amp + ".cir")), amp, netlist_text, {{"rl", 1e5}}));
            solved.emplace(amp,
                           std::pair{netlist.circuit, taken(operating_point(netlist.circuit))});
        }
        const auto& [circuit, point] = solved.at(amp);
        add("model", "circuit, node volts of " + amp, "node " + row.text("node"), "V",
            row.number("v"), point.volts(circuit.find_node(row.text("node")).value()), 1e-3, 1e-4);
    }
}

StageValues blind(StageValues values) {
    const auto generic = [](Role role, const BipolarModel& held) {
        return generic_constants(role, held.polarity).model;
    };
    StageDevices& d = values.devices;
    for (BipolarModel* output : {&d.output_plus, &d.output_minus}) {
        *output = generic(Role::output, *output);
    }
    for (BipolarModel* driver : {&d.driver_plus, &d.driver_minus}) {
        *driver = generic(Role::driver, *driver);
    }
    for (BipolarModel* small : {&d.limiter_plus, &d.limiter_minus, &d.spreader}) {
        *small = generic(Role::limiter, *small);
    }
    for (BipolarModel* medium : {&d.source, &d.amplifier}) {
        *medium = generic(Role::voltage_amplifier, *medium);
    }
    return values;
}

void idle_from_spread() {
    for (const auto& row : rows_of("spreader_vectors.csv")) {
        if (row.text("kind") != "idle") {
            continue;
        }
        StageValues values = simulated::stage(row.text("stage"));
        values.spreader = FixedSpreader{row.number("v_spread")};
        auto stage = taken(StageCircuit::build(values, Drive::regulated, OpenLoad{}));
        const StagePoint point = taken(stage.solve());
        add("model", "idle current from spreader volts, " + row.text("stage"),
            row.text("v_spread") + " V", "A", row.number("simulated"),
            point.reading_plus_v.front() / values.emitter_ohm, 0.05);
    }
}

void crossover() {
    for (const auto& row : rows_of("crossover_bias_scan.csv")) {
        const std::string name = row.text("stage");
        if (name == "c_quasi") {
            continue; // its halves differ: no figure at zero that one reading stands for
        }
        const double reading_v = row.number("v_re");
        if (reading_v < 1e-3) {
            continue; // the notch is narrower there than the simulated sweep's own steps
        }
        auto circuit = taken(CrossoverCircuit::build(simulated::stage(name), 8));
        (void)taken(circuit.set_reading(reading_v));
        const std::string at = fmt::format("V_RE {:.3g} mV", reading_v * 1e3);
        add("model", "crossover gain at zero, " + name, at, "1", row.number("gain_at_zero"),
            taken(circuit.gain_at(0)), 0.04);
        const double ohm = name == "f_lowp" ? 0.47 : 0.22;
        const OutputStage split{ohm, generic_internal_resistance().value, 8, 1, 27};
        add("blind", "crossover gain at zero, " + name, at, "1", row.number("gain_at_zero"),
            gain_at_zero(split, reading_v / ohm), 0.10);
    }
}

void clip() {
    for (const auto& row : rows_of("clip.csv")) {
        const std::string fault = row.text("fault");
        StageValues values = simulated::stage(row.text("stage"));
        simulated::put_fault(values, fault);
        const double ohm = row.number("load_ohm");
        for (const StageHalf half : {StageHalf::plus, StageHalf::minus}) {
            const bool plus = half == StageHalf::plus;
            if (!plus && fault == "plus_stopper_100") {
                continue; // put into both halves here
            }
            const std::string at = fmt::format("{}, {:g} ohm, {}", fault, ohm, plus ? "+" : "-");
            const double simulated_v = row.number(plus ? "plus_v" : "minus_v");
            auto finder = taken(ClipFinder::create(values, half, ohm));
            const Clip found = taken(finder.into(ohm));
            add("model", "clip, " + row.text("stage"), at, "V", simulated_v, found.volts,
                found.cause == ClipCause::rail ? 0.02 : 0.06);
            if (fault == "none") {
                const StageValues unknown = blind(values);
                auto guess = taken(ClipFinder::create(unknown, half, ohm));
                add("blind", "clip, " + row.text("stage"), at, "V", simulated_v,
                    taken(guess.into(ohm)).volts, 0.10);
            }
        }
    }
}

void limiter() {
    const StageValues values = simulated::stage("b2_dual");
    for (const auto& row : rows_of("limiter_locus.csv")) {
        const StageHalf half = row.text("half") == "plus" ? StageHalf::plus : StageHalf::minus;
        const double output_v = row.number("output_v");
        if (std::abs(output_v) > 30) {
            continue; // held by the rail there
        }
        const std::string what =
            fmt::format("limiter final current, b2_dual {}", half == StageHalf::plus ? "+" : "-");
        const std::string at = fmt::format("output {:g} V", output_v);
        add("model", what, at, "A", row.number("final_a"),
            taken(trip_current_a(values, half, output_v)), 0.10, 0.15);
        LimiterConditions textbook;
        const double toward = half == StageHalf::plus ? output_v : -output_v;
        add("blind", what, at, "A", row.number("final_a"),
            limit_a(simulated::dual_slope(), textbook, toward), 0.30, 0.15);
    }
    for (const auto& row : rows_of("limiter_leak.csv")) {
        StageValues leaky = values;
        leaky.limiter_plus->leak_ohm = row.number("leak_ohm");
        auto finder = taken(ClipFinder::create(leaky, StageHalf::plus, 8));
        add("model", "clip with a leaky limiter, b2_dual", row.text("leak_ohm") + " ohm", "V",
            row.number("plus_v"), taken(finder.into(8)).volts, 0.05);
    }
}

void heat() {
    for (const auto& row : rows_of("dissipation_circuit.csv")) {
        StageValues values = simulated::stage(row.text("amp"));
        values.spreader = SpreaderForReading{0.020};
        CircuitSine sine;
        sine.level_v = row.number("level_v");
        sine.phase_deg = row.number("phase_deg");
        const auto cycle = circuit_cycle(values, sine);
        if (!cycle) {
            continue; // so near to clip that a stiff circuit does not follow: tested elsewhere
        }
        const std::string at = fmt::format("{:.4g} V, {:g} deg", sine.level_v, sine.phase_deg);
        add("model", "heat of an output device, " + row.text("amp"), at, "W", row.number("plus_w"),
            cycle->plus.average_w, 0.03);
        if (row.text("amp") != "c_quasi") {
            DrivenStage driven;
            driven.stage = {values.emitter_ohm, generic_internal_resistance().value, 8, 1, 27};
            driven.idle_a = 0.020 / values.emitter_ohm;
            driven.rail_v = values.rail_plus_v;
            driven.phase_deg = sine.phase_deg;
            add("blind", "heat of an output device, " + row.text("amp"), at, "W",
                row.number("plus_w"), average_heat_w(driven, sine.level_v), 0.06);
        }
    }
}

void warm() {
    const SpreaderParts parts = MultiplierParts{1800, 470, 500, TrimPlace::lower_arm};
    const StageValues bare = simulated::stage("a_ef2");
    const auto position = taken(trim_for_reading(bare, parts, 0.020));
    const StageValues values = with_spreader(bare, parts, position.value());
    for (const auto& row : rows_of("idle_warm.csv")) {
        if (row.text("warm_v") == "runaway") {
            continue;
        }
        const auto idle = taken(warm_idle(values, {.output_sink_k_per_w = 1.5,
                                                   .sink_k_per_w = row.number("sink_k_per_w") / 2,
                                                   .tracking = row.number("tracking")}));
        add("model", "warm idle reading, a_ef2",
            fmt::format("{} K/W, tracking {}", row.text("sink_k_per_w"), row.text("tracking")), "V",
            row.number("warm_v"), idle.warm ? idle.warm->reading_v : NAN, 0.15);
    }
}

void gain() {
    for (const auto& row : rows_of("gain_vectors.csv")) {
        const double collector_a = row.number("collector_a");
        const BipolarModel card =
            at_temperature(simulated::transistor(row.text("device")), row.number("junction_c"));
        add("model", "gain of " + row.text("device"),
            fmt::format("{:.3g} A, {} C", collector_a, row.text("junction_c")), "1",
            row.number("hfe"), collector_a / base_drive(card, collector_a, 5).base_a,
            row.number("tolerance"));
    }
}

void lamp() {
    for (const auto& row : rows_of("lamp_points.csv")) {
        const double load_ohm = row.number("load_ohm");
        const MainsUnit unit{.mains_v = 230,
                             .peak_v = 29.5 * std::sqrt(2.0),
                             .winding_ohm = 0.15,
                             .own_w = 230.0 * 230.0 / 47000,
                             .demand = {40 / load_ohm, 40, 1}};
        const LampPoint point = on_lamp({row.number("lamp_w"), 230}, unit);
        const std::string at =
            fmt::format("{} W lamp, {:g} ohm a rail", row.text("lamp_w"), load_ohm);
        add("model", "series lamp, volts", at, "V", row.number("lamp_v"), point.lamp_v, 0.05);
        add("model", "series lamp, current", at, "A", row.number("lamp_a"), point.lamp_a, 0.05);
        add("model", "series lamp, rail", at, "V", row.number("rail_v"), point.rail_v, 0.03);
    }
}

void print(const Line& line) {
    fmt::print("{:<6} {:<46} {:<34} {:>12.6g} {:>12.6g} {:<3} {:>8.3f} % {}\n", line.kind,
               line.what, line.at, line.simulated, line.ours, line.unit,
               100 * (line.ours - line.simulated) / line.simulated,
               line.missed() <= 1 ? "" : "  OUTSIDE");
}

} // namespace

int main(int argc, char** argv) {
    const bool only_worst = argc > 1 && std::string_view(argv[1]) == "--worst";
    try {
        for (const auto part :
             {circuit_nodes, idle_from_spread, crossover, clip, limiter, heat, warm, gain, lamp}) {
            part();
        }
    } catch (const std::exception& error) {
        fmt::print(stderr, "accuracy: {}\n", error.what());
        return 2;
    }
    std::map<std::string, const Line*> worst; // by kind and case
    std::map<std::string, int> count;
    std::size_t outside = 0;
    fmt::print("{:<6} {:<46} {:<34} {:>12} {:>12} {:<3} {:>10}\n", "", "case", "at", "simulated",
               "ours", "", "error");
    for (const Line& line : g_lines) {
        const std::string key = line.kind + line.what;
        ++count[key];
        if (!worst.contains(key) || line.missed() > worst[key]->missed()) {
            worst[key] = &line;
        }
        outside += line.missed() <= 1 ? 0 : 1; // a NaN is outside
        if (!only_worst) {
            print(line);
        }
    }
    for (const char* kind : {"model", "blind"}) {
        fmt::print("\nworst of each case, {}\n", kind);
        for (const auto& [key, line] : worst) {
            if (line->kind == kind) {
                print(*line);
            }
        }
    }
    fmt::print("\n{} rows, {} outside their tolerance\n", g_lines.size(), outside);
    return outside == 0 ? 0 : 1;
}
