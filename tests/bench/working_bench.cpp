// Microseconds per working, with all its figures, tables and curves, on ordinary inputs.
#include "core/working/working.h"

#include <benchmark/benchmark.h>

#include <algorithm>
#include <cmath>
#include <memory>
#include <numbers>
#include <stdexcept>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

using namespace railside;

namespace {

using Typed = std::vector<std::pair<std::string_view, std::string_view>>;

struct Case {
    std::string name; // the working's key, or that and what is special
    std::string_view working;
    Typed typed;
};

const std::vector<Case>& cases() {
    static const std::vector<Case> k_cases{
        {"idle", "idle", {{"reading", "20.0m"}, {"rail", "40"}, {"target", "20m"}}},
        {"idle_of_types",
         "idle",
         {{"reading", "20.0m"},
          {"rail", "40"},
          {"output_plus", "2SC5200"},
          {"output_minus", "2SA1943"}}},
        {"gain", "gain", {{"measured", "85"}, {"test_current", "10m"}}},
        {"heat", "heat", {{"rail", "40"}}},
        {"limiter",
         "limiter",
         {{"rail", "40"},
          {"sense_resistor", "330R"},
          {"divider_resistor", "330R"},
          {"slope", "ground_diode"},
          {"slope_resistor", "15k"},
          {"second_slope", "own"},
          {"second_slope_resistor", "27k"}}},
        {"clip", "clip", {{"rail", "40"}, {"plus", "21.8"}, {"minus", "33.0"}}},
        {"clip_of_stage",
         "clip",
         {{"rail", "40"}, {"plus", "21.8"}, {"minus", "33.0"}, {"expect_from", "stage"}}},
        {"leak", "leak", {{"be_volt", "0.58"}, {"bc_volt", "0.57"}}},
        {"standin", "standin", {{"original", "2SC5200"}, {"rail", "40"}}},
        {"spreader",
         "spreader",
         {{"upper", "1k8"},
          {"lower", "470R"},
          {"trim", "500R"},
          {"rail", "40"},
          {"target", "20m"},
          {"reading", "190m"}}},
        {"lamp", "lamp", {{"rail", "40"}, {"idle", "0.1"}}},
        {"capture", "capture", {{"recording", "sine.csv"}}},
    };
    return k_cases;
}

/// Ten turns of a clipped sine, 10,000 samples.
std::string recording() {
    std::string text = "time,volts\n";
    for (int i = 0; i < 10000; ++i) {
        const double wave = 30 * std::sin(2 * std::numbers::pi * i / 1000.0);
        text += std::to_string(i * 1e-6) + ',' + std::to_string(std::min(wave, 24.0)) + '\n';
    }
    return text;
}

void work(benchmark::State& state, const Case& asked) {
    const Working* working = find_working(asked.working);
    Inputs inputs;
    for (const auto& [key, text] : asked.typed) {
        const Field* field = find_field(*working, key);
        if (field == nullptr) {
            state.SkipWithError("no such field");
            return;
        }
        auto input = read_input(*field, text);
        if (!input) {
            state.SkipWithError(input.error().message.c_str());
            return;
        }
        if (field->kind == FieldKind::recording) {
            input->data = std::make_shared<const std::string>(recording());
        }
        inputs.emplace(key, std::move(input).value());
    }
    for (auto _ : state) {
        const auto outcome = run_working(*working, inputs);
        if (!outcome) {
            state.SkipWithError(outcome.error().message.c_str());
            return;
        }
        benchmark::DoNotOptimize(outcome->figures.data());
    }
}

} // namespace

int main(int argc, char** argv) {
    for (const Case& asked : cases()) {
        benchmark::RegisterBenchmark(asked.name.c_str(), [&asked](benchmark::State& state) {
            work(state, asked);
        })->Unit(benchmark::kMicrosecond);
    }
    benchmark::Initialize(&argc, argv);
    benchmark::RunSpecifiedBenchmarks();
    return 0;
}
