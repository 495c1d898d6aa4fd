#include "core/stage/crossover.h"

#include <algorithm>
#include <array>
#include <cmath>

namespace railside {

namespace {

// An idle of exactly zero has no logarithm; a picoampere is as dark as a stage gets.
constexpr double k_least_idle_a = 1e-12;

// The parallel devices of one half as a single one.
struct GainHalf {
    double idle_a;
    double ohm;
    double thermal_v;
};

GainHalf merged(const OutputStage& stage, double idle_a) {
    return {std::max(idle_a, k_least_idle_a) * stage.pairs,
            (stage.emitter_ohm + stage.internal_ohm) / stage.pairs,
            thermal_voltage_v(stage.junction_c)};
}

// For output_a >= 0. The unknown is x = ln(i2/Iq). f(x) is convex and rising, and f(0) >= 0, so
// Newton's steps from x = 0 run down to the root without ever passing it.
Split split_positive(const GainHalf& half, double output_a) {
    double x = 0;
    double lower_a = half.idle_a;
    for (int step = 0; step < 100; ++step) {
        const double upper_a = output_a + lower_a;
        const double f = half.thermal_v * (std::log(upper_a / half.idle_a) + x) +
                         half.ohm * (output_a + 2 * (lower_a - half.idle_a));
        if (f <= 0) {
            break;
        }
        const double slope = half.thermal_v * (1 + lower_a / upper_a) + 2 * half.ohm * lower_a;
        const double down = f / slope;
        x -= down;
        lower_a = half.idle_a * std::exp(x);
        if (down < 1e-13 * std::max(1.0, -x)) {
            break;
        }
    }
    return {output_a + lower_a, lower_a};
}

double conductance(const GainHalf& half, double current_a) {
    return current_a > 0 ? 1 / (half.thermal_v / current_a + half.ohm) : 0;
}

double gain_of(const GainHalf& half, double load_ohm, double output_a) {
    const Split split = split_positive(half, std::abs(output_a));
    const double both = conductance(half, split.upper_a) + conductance(half, split.lower_a);
    return load_ohm * both / (load_ohm * both + 1);
}

} // namespace

double internal_resistance_ohm(double inner_emitter_ohm, double base_ohm, double stopper_ohm,
                               double driver_ohm, double gain) {
    return inner_emitter_ohm + (base_ohm + stopper_ohm + driver_ohm) / (gain + 1);
}

double thermal_voltage_v(double junction_c) { return 8.617333e-5 * (junction_c + 273.15); }

Split split_current(const OutputStage& stage, double idle_a, double output_a) {
    const Split split = split_positive(merged(stage, idle_a), std::abs(output_a));
    return output_a < 0 ? Split{split.lower_a, split.upper_a} : split;
}

double incremental_gain(const OutputStage& stage, double idle_a, double output_a) {
    return gain_of(merged(stage, idle_a), stage.load_ohm, output_a);
}

double gain_at_zero(const OutputStage& stage, double idle_a) {
    const GainHalf half = merged(stage, idle_a);
    return stage.load_ohm / (stage.load_ohm + (half.thermal_v / half.idle_a + half.ohm) / 2);
}

double gain_large(const OutputStage& stage) {
    return stage.load_ohm /
           (stage.load_ohm + (stage.emitter_ohm + stage.internal_ohm) / stage.pairs);
}

double notch_depth(const OutputStage& stage, double idle_a) {
    return 1 - gain_at_zero(stage, idle_a) / gain_large(stage);
}

double oliver_reading_v(const OutputStage& stage) {
    return thermal_voltage_v(stage.junction_c) * stage.emitter_ohm /
           (stage.emitter_ohm + stage.internal_ohm);
}

double ripple_span_a(const OutputStage& stage) {
    const double crossover_a = stage.pairs * thermal_voltage_v(stage.junction_c) /
                               (stage.emitter_ohm + stage.internal_ohm);
    return std::max(1.0, 4 * crossover_a);
}

double gain_ripple(const OutputStage& stage, double idle_a, double span_a) {
    const GainHalf half = merged(stage, idle_a);
    constexpr int k_points = 32;
    std::array<double, k_points + 1> gain{};
    for (int point = 0; point <= k_points; ++point) {
        // Squared, so that the points crowd where the notch is.
        const double part = static_cast<double>(point) / k_points;
        gain[point] = gain_of(half, stage.load_ohm, span_a * part * part);
    }
    const auto [lowest, highest] = std::minmax_element(gain.begin(), gain.end());
    const double least = *lowest;
    double greatest = *highest;
    if (highest != gain.begin() && highest != gain.end() - 1) {
        // The top of the parabola through the three highest points: the true top lies between them.
        const double before = highest[-1] - greatest;
        const double after = highest[1] - greatest;
        const double bend = before + after;
        if (bend < 0) {
            const double slope = (after - before) / 2;
            greatest -= slope * slope / (2 * bend);
        }
    }
    return (greatest - least) / greatest;
}

BestBias best_bias(const OutputStage& stage) {
    const double span_a = ripple_span_a(stage);
    const double oliver_v = oliver_reading_v(stage);
    const auto idle_at = [&](double part) { return part * oliver_v / stage.emitter_ohm; };

    // Below the best bias the gain is least at zero, above it at the far end of the span: the best
    // lies where the two are equal. At a twentieth of the ceiling zero is surely the least; at the
    // ceiling A(0) = A(large), and the gain at the end of the span is still a little less.
    double low = 0.05;
    double high = 1;
    while (high - low > 1e-6) {
        const double middle = (low + high) / 2;
        const double idle_a = idle_at(middle);
        const bool notched = gain_at_zero(stage, idle_a) < incremental_gain(stage, idle_a, span_a);
        (notched ? low : high) = middle;
    }
    const double best = (low + high) / 2;
    const double least = gain_ripple(stage, idle_at(best), span_a);

    // The ripple falls steadily up to there: halve the stretch in which it passes 1.5 times the
    // least.
    low = 0.05;
    high = best;
    while (high - low > 1e-3 * best) {
        const double middle = (low + high) / 2;
        (gain_ripple(stage, idle_at(middle), span_a) > 1.5 * least ? low : high) = middle;
    }
    return {best * oliver_v, (low + high) / 2 * oliver_v, least};
}

double open_loop_thd(const OutputStage& stage, double idle_a, double output_peak_v) {
    const GainHalf half = merged(stage, idle_a);
    const auto follower_drop_v = [&half](double upper_a) {
        return half.thermal_v * std::log(upper_a / half.idle_a) +
               half.ohm * (upper_a - half.idle_a);
    };
    const double peak_a = output_peak_v / stage.load_ohm;
    const double drive_peak_v =
        output_peak_v + follower_drop_v(split_positive(half, peak_a).upper_a);
    // Both halves alike: the output is odd and half-wave symmetric, so a quarter of the cycle tells
    // all.
    constexpr int k_points = 128;
    constexpr double k_quarter = 1.5707963267948966;
    double squares = 0;
    double fundamental = 0;
    double output_a = 0;
    for (int point = 0; point < k_points; ++point) {
        const double sine = std::sin(k_quarter * (point + 0.5) / k_points);
        const double drive_v = drive_peak_v * sine;
        // The drive needed for an output current rises with it, and is at least the drop in the
        // load alone.
        double low_a = output_a;
        double high_a = drive_v / stage.load_ohm;
        for (int step = 0; step < 60; ++step) {
            const Split split = split_positive(half, output_a);
            const double over_v =
                output_a * stage.load_ohm + follower_drop_v(split.upper_a) - drive_v;
            (over_v > 0 ? high_a : low_a) = output_a;
            const double both = conductance(half, split.upper_a) + conductance(half, split.lower_a);
            double next_a = output_a - over_v / (stage.load_ohm + 1 / both);
            if (!(next_a > low_a && next_a < high_a)) {
                next_a = (low_a + high_a) / 2;
            }
            const double moved_a = std::abs(next_a - output_a);
            output_a = next_a;
            if (moved_a <= 1e-13 * high_a) {
                break;
            }
        }
        const double output_v = output_a * stage.load_ohm;
        squares += output_v * output_v;
        fundamental += output_v * sine;
    }
    fundamental *= 2.0 / k_points;
    const double harmonics = 2 * squares / k_points - fundamental * fundamental;
    return fundamental > 0 ? std::sqrt(std::max(harmonics, 0.0)) / fundamental : 0;
}

} // namespace railside
