#include "core/stage/crossover_circuit.h"

#include "core/stage/crossover.h"
#include "core/stage/merged_pairs.h"

#include <algorithm>
#include <array>
#include <cmath>

namespace railside {

namespace {

/// The point where a rising function passes nought between two ends on a logarithmic axis, to
/// `close` of itself; nothing when it does not. False position, the stuck end's weight halved.
template <class F>
Result<std::optional<double>> crossing(double low, double high, double close, F&& f) {
    Result<double> low_f = f(low);
    if (!low_f) {
        return low_f.error();
    }
    Result<double> high_f = f(high);
    if (!high_f) {
        return high_f.error();
    }
    if (*low_f > 0 || *high_f < 0) {
        return std::optional<double>{};
    }
    double a = std::log(low);
    double b = std::log(high);
    int kept = 0;
    while (b - a > close) {
        const double margin = std::min(0.1 * (b - a), 0.4 * close);
        const double part = *high_f > *low_f ? -*low_f / (*high_f - *low_f) : 0.5;
        const double middle = std::clamp(a + part * (b - a), a + margin, b - margin);
        const Result<double> there = f(std::exp(middle));
        if (!there) {
            return there.error();
        }
        if (*there < 0) {
            a = middle;
            low_f = *there;
            if (kept == -1) {
                *high_f /= 2;
            }
            kept = -1;
        } else {
            b = middle;
            high_f = *there;
            if (kept == 1) {
                *low_f /= 2;
            }
            kept = 1;
        }
    }
    return std::optional<double>{std::exp((a + b) / 2)};
}

} // namespace

Result<CrossoverCircuit> CrossoverCircuit::build(const StageValues& values, double load_ohm) {
    StageValues bare = merged_pairs(values);
    // The bases are driven as hard as they ask for.
    bare.supply_a = std::min(10 * values.supply_a, 0.5);
    bare.most_a = std::max(values.most_a, 2 * bare.supply_a);
    bare.limiter_plus.reset();
    bare.limiter_minus.reset();
    bare.spreader = SpreaderForReading{1e-3};
    auto reader = StageCircuit::build(bare, Drive::regulated, OpenLoad{});
    if (!reader) {
        return reader.error();
    }
    bare.spreader = FixedSpreader{1};
    auto stage = StageCircuit::build(bare, Drive::regulated, ResistorLoad{load_ohm});
    if (!stage) {
        return stage.error();
    }
    CrossoverCircuit result(std::move(reader).value(), std::move(stage).value());
    result.topology_ = values.topology;
    result.load_ohm_ = load_ohm;
    result.thermal_v_ = thermal_voltage_v(values.temperatures.output_c);
    const double most_a = 0.7 * std::min(values.rail_plus_v, values.rail_minus_v) / load_ohm;
    result.span_a_ = std::min(ripple_span_a({values.emitter_ohm, 0, load_ohm, values.pairs,
                                             values.temperatures.output_c}),
                              0.5 * most_a);
    result.large_a_ = std::min(3 * result.span_a_, most_a);
    return result;
}

Result<double> CrossoverCircuit::set_reading(double reading_v) {
    reader_.set_reading(reading_v);
    const auto point = reader_.solve();
    if (!point) {
        return point.error();
    }
    stage_.set_spread(point->spread_v);
    return point->spread_v;
}

void CrossoverCircuit::set_spread(double spread_v) { stage_.set_spread(spread_v); }

Result<double> CrossoverCircuit::gain_at(double output_v) {
    if (!warm_) {
        // The first answer is easiest to find at rest; from there the next is a step away.
        warm_ = true;
        if (const auto rest = gain_at(0); !rest || output_v == 0) {
            return rest;
        }
    }
    stage_.set_output(output_v);
    at_v_ = output_v;
    const auto point = stage_.solve();
    if (!point) {
        return point.error();
    }
    return stage_.gain();
}

/// Gains at one end, at nought and at the other end. From whichever end is nearer, so that no step
/// is larger than the span.
Result<std::array<double, 3>> CrossoverCircuit::three_gains(double output_v) {
    std::array<double, 3> gains{};
    const double side = at_v_ < 0 ? -1 : 1;
    const std::array outputs_v{side * output_v, 0.0, -side * output_v};
    for (std::size_t i = 0; i < gains.size(); ++i) {
        const auto gain = gain_at(outputs_v[i]);
        if (!gain) {
            return gain.error();
        }
        gains[i] = *gain;
    }
    return gains;
}

Result<CrossoverAt> CrossoverCircuit::at_reading(double reading_v) {
    const auto spread = set_reading(reading_v);
    if (!spread) {
        return spread.error();
    }
    const auto gains = three_gains(large_a_ * load_ohm_);
    if (!gains) {
        return gains.error();
    }
    return CrossoverAt{reading_v, *spread, (*gains)[1], ((*gains)[0] + (*gains)[2]) / 2};
}

Result<double> CrossoverCircuit::ripple() {
    constexpr int k_side = 7;
    std::array<double, 2 * k_side + 1> gain{};
    const int side = at_v_ < 0 ? -1 : 1;
    std::size_t at = gain.size();
    for (int i = k_side; i >= -k_side; --i) {
        // Squared, so that the points crowd where the notch is.
        const double part = static_cast<double>(i) / k_side;
        const auto there = gain_at(side * part * std::abs(part) * span_a_ * load_ohm_);
        if (!there) {
            return there.error();
        }
        gain[--at] = *there;
    }
    double least = gain.front();
    double greatest = gain.front();
    for (std::size_t i = 0; i < gain.size(); ++i) {
        double extreme = gain[i];
        if (i > 0 && i + 1 < gain.size() && (gain[i] > gain[i - 1]) == (gain[i] > gain[i + 1]) &&
            gain[i] != gain[i - 1]) {
            // The top, or the bottom, of the parabola through the three: the true one lies between.
            const double before = gain[i - 1] - gain[i];
            const double after = gain[i + 1] - gain[i];
            const double slope = (after - before) / 2;
            extreme -= slope * slope / (2 * (before + after));
        }
        least = std::min(least, extreme);
        greatest = std::max(greatest, extreme);
    }
    return (greatest - least) / greatest;
}

Result<std::optional<BiasWindow>> CrossoverCircuit::window() {
    if (topology_ == Topology::quasi) {
        return std::optional<BiasWindow>{};
    }
    // Below the best bias the gain is least at nought, above it at the ends of the span.
    const double lowest_v = thermal_v_ / 200;
    const double highest_v = 2 * thermal_v_;
    const auto best = crossing(lowest_v, highest_v, 0.01, [this](double reading_v) {
        const auto spread = set_reading(reading_v);
        if (!spread) {
            return Result<double>(spread.error());
        }
        const auto gains = three_gains(span_a_ * load_ohm_);
        return gains ? Result<double>((*gains)[1] - std::min((*gains)[0], (*gains)[2]))
                     : Result<double>(gains.error());
    });
    if (!best) {
        return best.error();
    }
    if (!*best) {
        return std::optional<BiasWindow>{};
    }
    BiasWindow window;
    window.best_v = **best;
    const auto over_limit = [this, &window](double reading_v) -> Result<double> {
        const auto spread = set_reading(reading_v);
        if (!spread) {
            return spread.error();
        }
        const auto there = ripple();
        return there ? Result<double>(*there / (1.5 * window.ripple) - 1) : there;
    };
    window.ripple = 1; // for the moment
    const auto least = over_limit(window.best_v);
    if (!least) {
        return least.error();
    }
    window.ripple = 1.5 * (*least + 1);
    constexpr double k_close = 0.04;
    const double lowest_limit_v = window.best_v / 3;
    const auto low =
        crossing(lowest_limit_v, window.best_v, k_close, [&over_limit](double reading_v) {
            const auto over = over_limit(reading_v);
            return over ? Result<double>(-*over) : over;
        });
    if (!low) {
        return low.error();
    }
    window.low_v = low->value_or(lowest_limit_v);
    const double highest_limit_v = 2 * window.best_v;
    const auto high = crossing(window.best_v, highest_limit_v, k_close, over_limit);
    if (!high) {
        return high.error();
    }
    window.high_v = high->value_or(highest_limit_v);
    return std::optional<BiasWindow>{window};
}

} // namespace railside
