// Microseconds per operating point: from scratch, and warm along a sweep of the trim.
#include "core/circuit/netlist.h"
#include "core/circuit/solver.h"

#include <benchmark/benchmark.h>

#include <fstream>
#include <sstream>
#include <string>

using namespace railside;

namespace {

std::string text_of(const std::string& name) {
    std::ifstream file(std::string(RAILSIDE_TEST_DATA) + "/netlists/" + name);
    std::ostringstream text;
    text << file.rdbuf();
    return text.str();
}

Netlist netlist(const std::string& name) {
    auto read = read_netlist(text_of(name), name, [](std::string_view included) {
        return Result<std::string>(text_of(std::string(included)));
    });
    if (!read) {
        throw std::runtime_error(read.error().message);
    }
    return std::move(read).value();
}

void cold(benchmark::State& state, const std::string& name) {
    Netlist held = netlist(name);
    Solver solver(held.circuit);
    OperatingPoint point;
    for (auto _ : state) {
        if (!solver.solve(point)) {
            state.SkipWithError("no operating point");
            break;
        }
    }
    state.counters["steps"] = point.report.iterations;
}

void warm(benchmark::State& state, const std::string& name, const std::string& resistor) {
    Netlist held = netlist(name);
    const ElementId trim = *held.circuit.find(resistor);
    const double ohm = std::get<Resistor>(held.circuit.element(trim).part).ohm;
    Solver solver(held.circuit);
    OperatingPoint point;
    if (!solver.solve(point)) {
        state.SkipWithError("no operating point");
        return;
    }
    int turn = 0;
    for (auto _ : state) {
        solver.set_value(trim, ohm * (1 + 0.001 * (turn++ % 100)));
        if (!solver.resolve(point)) {
            state.SkipWithError("no operating point");
            break;
        }
    }
}

} // namespace

BENCHMARK_CAPTURE(cold, a_ef2, std::string("a_ef2.cir"))->Unit(benchmark::kMicrosecond);
BENCHMARK_CAPTURE(cold, b2_dual, std::string("b2_dual.cir"))->Unit(benchmark::kMicrosecond);
BENCHMARK_CAPTURE(cold, c_quasi, std::string("c_quasi.cir"))->Unit(benchmark::kMicrosecond);
BENCHMARK_CAPTURE(cold, f_lowp, std::string("f_lowp.cir"))->Unit(benchmark::kMicrosecond);
BENCHMARK_CAPTURE(warm, a_ef2, std::string("a_ef2.cir"), std::string("rtrim"))
    ->Unit(benchmark::kMicrosecond);
BENCHMARK_CAPTURE(warm, b2_dual, std::string("b2_dual.cir"), std::string("rtrim"))
    ->Unit(benchmark::kMicrosecond);
BENCHMARK_CAPTURE(warm, c_quasi, std::string("c_quasi.cir"), std::string("rtb"))
    ->Unit(benchmark::kMicrosecond);
BENCHMARK_CAPTURE(warm, f_lowp, std::string("f_lowp.cir"), std::string("rtrim"))
    ->Unit(benchmark::kMicrosecond);

BENCHMARK_MAIN();
