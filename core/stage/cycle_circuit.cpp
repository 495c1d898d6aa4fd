#include "core/stage/cycle_circuit.h"

#include "core/quantity/refusal.h"
#include "core/stage/merged_pairs.h"
#include "core/words/words.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>

namespace railside {

namespace {

Result<Done> check(const CircuitSine& sine) {
    const auto refused = [](std::string_view name, double value, std::string_view accepted) {
        return refusal(ErrorCode::out_of_range, name,
                       worded("{:.6g} is not accepted. Accepted: {}.", value, accepted));
    };
    if (!(sine.level_v >= 0 && sine.level_v <= 200)) {
        return refused("Level", sine.level_v, "0 to 200\u2009V");
    }
    if (!(sine.load_ohm >= 0.1 && sine.load_ohm <= 1e6)) {
        return refused("Load", sine.load_ohm, "0.1\u2009Ω to 1\u2009MΩ");
    }
    if (!(std::abs(sine.phase_deg) <= 90)) {
        return refused("Phase", sine.phase_deg, "−90 to 90\u2009°");
    }
    if (sine.steps < 8 || sine.steps > 1000) {
        return refused("Steps", sine.steps, "8 to 1000");
    }
    return Done{};
}

} // namespace

Result<CircuitCycle> circuit_cycle(const StageValues& values, const CircuitSine& sine) {
    if (auto done = check(sine); !done) {
        return done.error();
    }
    StageValues held = merged_pairs(values);
    const double n = values.pairs;
    if (!std::holds_alternative<FixedSpreader>(held.spreader)) {
        auto rest = StageCircuit::build(held, Drive::regulated, OpenLoad{});
        if (!rest) {
            return rest.error();
        }
        const auto point = rest->solve();
        if (!point) {
            return point.error();
        }
        held.spreader = FixedSpreader{point->spread_v};
    }
    auto circuit = StageCircuit::build(held, Drive::regulated, CurrentLoad{});
    if (!circuit) {
        return circuit.error();
    }

    CircuitCycle cycle;
    cycle.level_v = sine.level_v;
    const double lag = sine.phase_deg * std::numbers::pi / 180;
    const double peak_a = sine.level_v / sine.load_ohm;
    const auto count = static_cast<std::size_t>(sine.steps);
    std::vector<StagePoint> points(count);
    // Starting where the output is highest or lowest would be a cold start far from rest: begin at
    // the rise through nought, where the answer is known from before, and go round from there.
    const std::size_t first = count / 4;
    for (std::size_t k = 0; k < count; ++k) {
        const std::size_t i = (first + k) % count;
        const double angle =
            2 * std::numbers::pi * static_cast<double>(i) / sine.steps - std::numbers::pi / 2;
        circuit->set_output(sine.level_v * std::sin(angle));
        circuit->set_load(peak_a * std::sin(angle - lag));
        auto point = circuit->solve();
        if (!point) {
            return refusal(ErrorCode::contradictory, "Level",
                           worded("{:.4g}\u2009V peak into {:.4g}\u2009Ω is past what the "
                                  "stage can be driven to.",
                                  sine.level_v, sine.load_ohm));
        }
        points[i] = std::move(point).value();
    }

    const auto take = [n](CircuitDeviceCycle& device, double heat_w, double collector_v,
                          double collector_a) {
        const LoadLinePoint point{collector_v, collector_a / n};
        device.average_w += heat_w / n;
        if (device.line.empty() || heat_w / n > device.peak_w) {
            device.peak_w = heat_w / n;
            device.peak = point;
        }
        device.line.push_back(point);
    };
    for (std::size_t i = 0; i < count; ++i) {
        const StagePoint& point = points[i];
        take(cycle.plus, point.output_plus_w, point.output_plus_vce_v, point.output_plus_a);
        take(cycle.minus, point.output_minus_w, point.output_minus_vce_v, point.output_minus_a);
        cycle.driver_plus_w += point.driver_plus_w;
        cycle.driver_minus_w += point.driver_minus_w;
        cycle.load_w += point.output_v * point.load_a;
        cycle.supply_w +=
            values.rail_plus_v * point.rail_plus_a + values.rail_minus_v * point.rail_minus_a;
    }
    for (CircuitDeviceCycle* device : {&cycle.plus, &cycle.minus}) {
        device->average_w /= sine.steps;
        device->line.push_back(device->line.front());
    }
    for (double* mean :
         {&cycle.driver_plus_w, &cycle.driver_minus_w, &cycle.load_w, &cycle.supply_w}) {
        *mean /= sine.steps;
    }
    return cycle;
}

} // namespace railside
