#include "core/stage/warm.h"

#include "core/quantity/refusal.h"
#include "core/stage/merged_pairs.h"

#include <algorithm>
#include <cmath>
#include <vector>

namespace railside {

namespace {

constexpr double k_hottest_c = 200;

Result<Done> check(const StageValues& values, const WarmPath& path) {
    if (std::holds_alternative<SpreaderForReading>(values.spreader)) {
        return refusal(ErrorCode::refused, "Spreader",
                       "a spreader that follows the reading cannot warm; give it its parts or its "
                       "volts.");
    }
    const auto in = [](double value, double low, double high) {
        return value >= low && value <= high;
    };
    if (!in(path.output_sink_k_per_w, 0, 1000) || !in(path.sink_k_per_w, 0, 1000) ||
        !in(path.tracking, 0, 1.2) || !in(path.driver_tracking, 0, 1.2) ||
        !in(path.driver_k_per_w, 0, 1000) || !in(path.ambient_c, -40, 100)) {
        return refusal(ErrorCode::out_of_range, "Heat path",
                       "thermal resistances have to be 0 to 1000 K/W, tracking 0 to 1.2, ambient "
                       "−40 to 100 °C.");
    }
    return Done{};
}

/// One stage held at rest while its temperatures change.
class Heated {
  public:
    static Result<Heated> build(const StageValues& values, const WarmPath& path) {
        if (auto done = check(values, path); !done) {
            return done.error();
        }
        StageValues cold = merged_pairs(values);
        cold.temperatures = {path.ambient_c, path.ambient_c, path.ambient_c, path.ambient_c};
        auto circuit = StageCircuit::build(cold, Drive::regulated, OpenLoad{});
        if (!circuit) {
            return circuit.error();
        }
        return Heated(path, values.pairs, values.emitter_ohm, std::move(circuit).value());
    }

    /// The state at a junction temperature, the others following from its heat. `near` is a state
    /// close by.
    Result<WarmPoint> at(double output_c, const WarmPoint& near) {
        WarmPoint point = near;
        for (int turn = 0; turn < k_turns; ++turn) {
            point.sink_c = output_c - point.output_w * path_.output_sink_k_per_w;
            const double rise_k = point.sink_c - path_.ambient_c;
            const StageTemperatures warm{output_c,
                                         path_.ambient_c + path_.driver_tracking * rise_k +
                                             point.driver_w * path_.driver_k_per_w,
                                         path_.ambient_c + path_.tracking * rise_k,
                                         path_.ambient_c};
            const double before_w = point.output_w;
            const double driver_before_w = point.driver_w;
            if (auto done = solve(warm, point); !done) {
                return done.error();
            }
            if (std::abs(point.output_w - before_w) <= 1e-5 * point.output_w + 1e-9 &&
                std::abs(point.driver_w - driver_before_w) <= 1e-5 * point.driver_w + 1e-9) {
                break;
            }
        }
        point.sink_c = output_c - point.output_w * path_.output_sink_k_per_w;
        return point;
    }

    Result<WarmPoint> cold() {
        WarmPoint point;
        point.sink_c = path_.ambient_c;
        const double c = path_.ambient_c;
        if (auto done = solve({c, c, c, c}, point); !done) {
            return done.error();
        }
        return point;
    }

    /// The sink that makes this state its own; below 0 where the junction is cooler than its heat
    /// alone would have it.
    [[nodiscard]] double sink_wanted(const WarmPoint& point) const {
        const double drivers_w = path_.driver_tracking > 0 ? 2 * point.driver_w : 0;
        const double heat_w = 2 * pairs_ * point.output_w + drivers_w;
        return (point.sink_c - path_.ambient_c) / std::max(heat_w, 1e-12);
    }

  private:
    static constexpr int k_turns = 12;

    Heated(const WarmPath& path, int pairs, double emitter_ohm, StageCircuit circuit)
        : path_(path), pairs_(pairs), emitter_ohm_(emitter_ohm), circuit_(std::move(circuit)) {}

    Result<Done> solve(const StageTemperatures& warm, WarmPoint& point) {
        circuit_.set_temperatures(warm);
        const auto solved = circuit_.solve();
        if (!solved) {
            return solved.error();
        }
        point.temperatures = warm;
        point.reading_v = solved->reading_plus_v.front();
        point.idle_a = point.reading_v / emitter_ohm_;
        point.output_w = (solved->output_plus_w + solved->output_minus_w) / 2 / pairs_;
        point.driver_w = (solved->driver_plus_w + solved->driver_minus_w) / 2;
        return Done{};
    }

    WarmPath path_;
    int pairs_;
    double emitter_ohm_;
    StageCircuit circuit_;
};

/// A walk up the junction temperature: which sink each state wants.
struct Step {
    double sink_k_per_w = 0;
    WarmPoint point;
};

/// The states from cold upwards. Ends where `enough` says so, at k_hottest_c, or where the stage
/// has no answer any more.
template <class F>
Result<std::vector<Step>> walk(Heated& heated, const WarmPoint& cold, F&& enough) {
    std::vector<Step> steps;
    WarmPoint near = cold;
    double output_c = cold.temperatures.output_c;
    // Small steps while the stage is near its cold state, whatever the size of its heat.
    double step_k = std::clamp(cold.output_w, 0.05, 2.0);
    while (true) {
        const auto point = heated.at(output_c, near);
        if (!point) {
            if (steps.empty()) {
                return point.error();
            }
            break;
        }
        near = *point;
        steps.push_back({heated.sink_wanted(near), near});
        if (enough(steps) || output_c >= k_hottest_c) {
            break;
        }
        output_c = std::min(output_c + step_k, k_hottest_c);
        step_k = std::min(step_k * 1.25, 5.0);
    }
    return steps;
}

} // namespace

Result<WarmIdle> warm_idle(const StageValues& values, const WarmPath& path) {
    auto heated = Heated::build(values, path);
    if (!heated) {
        return heated.error();
    }
    const auto cold = heated->cold();
    if (!cold) {
        return cold.error();
    }
    WarmIdle idle;
    idle.cold = *cold;
    const double sink = path.sink_k_per_w;
    const auto steps = walk(*heated, *cold, [sink](const std::vector<Step>& walked) {
        return walked.back().sink_k_per_w >= sink;
    });
    if (!steps) {
        return steps.error();
    }
    const Step& last = steps->back();
    if (last.sink_k_per_w < sink) {
        // The greatest sink may lie between two steps.
        const auto top =
            std::max_element(steps->begin(), steps->end(), [](const Step& a, const Step& b) {
                return a.sink_k_per_w < b.sink_k_per_w;
            });
        if (top == steps->begin() || top + 1 == steps->end()) {
            return idle;
        }
        double low_c = top[-1].point.temperatures.output_c;
        double high_c = top[1].point.temperatures.output_c;
        WarmPoint near = top->point;
        constexpr int k_thirds = 12;
        for (int i = 0; i < k_thirds; ++i) {
            const double a_c = low_c + (high_c - low_c) / 3;
            const double b_c = high_c - (high_c - low_c) / 3;
            const auto a = heated->at(a_c, near);
            const auto b = heated->at(b_c, near);
            if (!a || !b) {
                return idle;
            }
            if (heated->sink_wanted(*a) >= sink) {
                idle.warm = *a;
                return idle;
            }
            (heated->sink_wanted(*a) < heated->sink_wanted(*b) ? low_c : high_c) =
                heated->sink_wanted(*a) < heated->sink_wanted(*b) ? a_c : b_c;
        }
        return idle;
    }
    if (steps->size() == 1) {
        idle.warm = last.point;
        return idle;
    }
    // Halve the step in which the sink at hand is passed.
    WarmPoint low = (*steps)[steps->size() - 2].point;
    WarmPoint high = last.point;
    while (high.temperatures.output_c - low.temperatures.output_c > 0.02) {
        const auto middle =
            heated->at((low.temperatures.output_c + high.temperatures.output_c) / 2, low);
        if (!middle) {
            return middle.error();
        }
        (heated->sink_wanted(*middle) >= sink ? high : low) = *middle;
    }
    idle.warm = high;
    return idle;
}

Result<std::optional<double>> sink_limit_k_per_w(const StageValues& values, const WarmPath& path) {
    auto heated = Heated::build(values, path);
    if (!heated) {
        return heated.error();
    }
    const auto cold = heated->cold();
    if (!cold) {
        return cold.error();
    }
    const auto steps = walk(*heated, *cold, [](const std::vector<Step>& walked) {
        // Well past the top.
        double top = 0;
        for (const Step& step : walked) {
            top = std::max(top, step.sink_k_per_w);
        }
        return top > 0 && walked.back().sink_k_per_w < 0.9 * top;
    });
    if (!steps) {
        return steps.error();
    }
    std::size_t top = 0;
    for (std::size_t i = 1; i < steps->size(); ++i) {
        if ((*steps)[i].sink_k_per_w > (*steps)[top].sink_k_per_w) {
            top = i;
        }
    }
    if (top + 1 == steps->size()) {
        return std::optional<double>{};
    }
    double most = (*steps)[top].sink_k_per_w;
    if (top > 0) {
        // The top of the parabola through the three.
        const auto x = [&](std::size_t i) { return (*steps)[i].point.temperatures.output_c; };
        const double before =
            ((*steps)[top].sink_k_per_w - (*steps)[top - 1].sink_k_per_w) / (x(top) - x(top - 1));
        const double after =
            ((*steps)[top + 1].sink_k_per_w - (*steps)[top].sink_k_per_w) / (x(top + 1) - x(top));
        const double bend = (after - before) / (x(top + 1) - x(top - 1));
        if (bend < 0) {
            const double slope = before + bend * (x(top) - x(top - 1));
            most -= slope * slope / (4 * bend);
        }
    }
    return std::optional<double>{most};
}

Result<WarmSlopes> warm_slopes(const StageValues& values) {
    if (auto done = check(values, {}); !done) {
        return done.error();
    }
    const StageValues merged = merged_pairs(values);
    auto circuit = StageCircuit::build(merged, Drive::regulated, OpenLoad{});
    if (!circuit) {
        return circuit.error();
    }
    const auto slope = [&](double StageTemperatures::*which) -> Result<double> {
        constexpr double k_half_k = 0.5;
        double idle_a[2] = {0, 0};
        for (const int end : {0, 1}) {
            StageTemperatures warm = merged.temperatures;
            warm.*which += end == 0 ? -k_half_k : k_half_k;
            circuit->set_temperatures(warm);
            const auto solved = circuit->solve();
            if (!solved) {
                return solved.error();
            }
            idle_a[end] = solved->reading_plus_v.front() / values.emitter_ohm;
        }
        return (idle_a[1] - idle_a[0]) / (2 * k_half_k);
    };
    WarmSlopes slopes;
    for (const auto& [which, to] :
         {std::pair{&StageTemperatures::output_c, &WarmSlopes::outputs},
          std::pair{&StageTemperatures::spreader_c, &WarmSlopes::spreader},
          std::pair{&StageTemperatures::driver_c, &WarmSlopes::drivers}}) {
        const auto found = slope(which);
        if (!found) {
            return found.error();
        }
        slopes.*to = *found;
    }
    return slopes;
}

} // namespace railside
