#include "core/stage/limit.h"

#include "core/stage/merged_pairs.h"

#include <algorithm>
#include <cmath>
#include <limits>

namespace railside {

namespace {

constexpr double k_pi = 3.14159265358979323846;
constexpr double k_locked_share = 0.01;

double toward(StageHalf half) { return half == StageHalf::plus ? 1 : -1; }

Drive full(StageHalf half) {
    return half == StageHalf::plus ? Drive::full_plus : Drive::full_minus;
}

/// The least sine over a stretch of locus, and where.
struct Touch {
    double peak_v = std::numeric_limits<double>::infinity();
    double part = 0; // along the stretch, 0 to 1
};

Touch touch(SineLoad load, double v0, double i0, double v1, double i1) {
    Touch best;
    const auto consider = [&](double part) {
        const double peak_v = sine_through_v(load, v0 + part * (v1 - v0), i0 + part * (i1 - i0));
        if (peak_v < best.peak_v) {
            best = {peak_v, part};
        }
    };
    const double phase = std::abs(load.phase_deg) * k_pi / 180;
    const double sine = std::sin(phase);
    if (sine < 1e-6) {
        // The load line is crossed where i·|Z| − v changes sign.
        const double from = i0 * load.ohm - v0;
        const double to = i1 * load.ohm - v1;
        if ((from <= 0) != (to <= 0)) {
            const double part = from / (from - to);
            const double v = v0 + part * (v1 - v0);
            if (v >= 0) {
                best = {v, part};
            }
        }
        return best;
    }
    consider(0);
    consider(1);
    // V_p² is a parabola along the stretch.
    const double dv = v1 - v0;
    const double a = (i0 * load.ohm - v0 * std::cos(phase)) / sine;
    const double da = ((i1 - i0) * load.ohm - dv * std::cos(phase)) / sine;
    const double square = dv * dv + da * da;
    if (square > 0) {
        consider(std::clamp(-(v0 * dv + a * da) / square, 0.0, 1.0));
    }
    return best;
}

void insert(std::vector<LocusPoint>& locus, StageHalf half, const LocusPoint& point) {
    const auto place = std::find_if(locus.begin(), locus.end(), [&](const LocusPoint& each) {
        return toward(half) * each.output_v < toward(half) * point.output_v;
    });
    locus.insert(place, point);
}

} // namespace

Result<FullDrive> FullDrive::create(const StageValues& values, StageHalf half) {
    auto circuit = StageCircuit::build(merged_pairs(values), full(half), ForcedOutput{0});
    if (!circuit) {
        return circuit.error();
    }
    FullDrive drive(values, half, std::move(circuit).value());
    // From 0 V the solver finds its way; from there it walks.
    if (auto first = drive.at(0); !first) {
        return first.error();
    }
    return drive;
}

Result<Done> FullDrive::change(const StageValues& values) {
    if (auto done = circuit_.change(merged_pairs(values)); !done) {
        return done.error();
    }
    values_ = values;
    return Done{};
}

Result<LocusPoint> FullDrive::at(double output_v) {
    circuit_.set_load(output_v);
    const auto point = circuit_.solve();
    if (!point) {
        return point.error();
    }
    const DriveThere drive = drive_there(values_, half_, *point);
    LocusPoint result;
    result.output_v = output_v;
    // The source that holds the output takes up what the stage gives.
    result.current_a = std::max(toward(half_) * point->load_a, 0.0);
    result.limiter_a = drive.limiter_a;
    result.cause = clip_cause(drive);
    return result;
}

Result<std::vector<LocusPoint>> FullDrive::locus(std::span<const double> outputs_v) {
    std::vector<LocusPoint> points;
    points.reserve(outputs_v.size());
    for (const double output_v : outputs_v) {
        auto point = at(output_v);
        if (!point) {
            return point.error();
        }
        points.push_back(*point);
    }
    return points;
}

std::vector<double> locus_outputs(const StageValues& values, StageHalf half, int points) {
    const bool plus = half == StageHalf::plus;
    const double own_v = plus ? values.rail_plus_v : values.rail_minus_v;
    const double far_v = plus ? values.rail_minus_v : values.rail_plus_v;
    // A third of the points on the last fifth before the own rail; the far end stops where the
    // other half's device would be saturated.
    constexpr double k_from = 0.8;
    constexpr double k_far = 0.95;
    const int crowded = std::max(points / 3, 3);
    const int spread = std::max(points - crowded, 5);
    std::vector<double> outputs;
    outputs.reserve(static_cast<std::size_t>(crowded) + static_cast<std::size_t>(spread) + 2);
    for (int i = 0; i < crowded; ++i) {
        outputs.push_back(own_v * (1 - (1 - k_from) * i / crowded));
    }
    // Zero is one of them: limiters with a diode have their corner there.
    const double span_v = k_from * own_v + k_far * far_v;
    const int above = std::clamp(
        static_cast<int>(std::lround((spread - 1) * k_from * own_v / span_v)), 1, spread - 2);
    for (int i = 0; i < above; ++i) {
        outputs.push_back(k_from * own_v * (1 - static_cast<double>(i) / above));
    }
    const int below = spread - above - 1;
    for (int i = 0; i <= below; ++i) {
        outputs.push_back(-k_far * far_v * i / below);
    }
    for (double& output : outputs) {
        output *= toward(half);
    }
    return outputs;
}

Result<double> trip_current_a(const StageValues& values, StageHalf half, double output_v) {
    auto drive = FullDrive::create(values, half);
    if (!drive) {
        return drive.error();
    }
    const auto point = drive->at(output_v);
    if (!point) {
        return point.error();
    }
    return point->current_a;
}

Result<std::optional<double>> onset_current_a(const StageValues& values, StageHalf half,
                                              double output_v, double final_a, double limiter_a) {
    const auto& network = half == StageHalf::plus ? values.limiter_plus : values.limiter_minus;
    if (!network || !(final_a > 0)) {
        return std::optional<double>{};
    }
    auto stage = StageCircuit::build(merged_pairs(values), Drive::regulated, CurrentLoad{0});
    if (!stage) {
        return stage.error();
    }
    stage->set_output(output_v);
    // How far above (over 0) or below the wanted limiter current, on a logarithmic scale: the
    // limiter's own law. Where the stage no longer follows it is taken for far above.
    const auto over = [&](double load_a) {
        stage->set_load(toward(half) * load_a);
        const auto point = stage->solve();
        if (!point) {
            return std::numeric_limits<double>::infinity();
        }
        const double carried_a =
            half == StageHalf::plus ? point->limiter_plus_a : point->limiter_minus_a;
        return std::log(std::max(carried_a, 1e-15) / limiter_a);
    };
    double low = 0;
    double high = final_a;
    double over_low = over(low);
    if (over_low >= 0) {
        return std::optional<double>{};
    }
    // From below, so that the solver walks along an answer it has.
    double next = final_a / 2;
    double over_high = std::numeric_limits<double>::infinity();
    for (int i = 0; i < 40 && high - low > 1e-4 * final_a; ++i) {
        const double there = over(next);
        if (there < 0) {
            low = next;
            over_low = there;
        } else {
            high = next;
            over_high = there;
        }
        const double across = low + (high - low) * -over_low / (over_high - over_low);
        const double middle = (low + high) / 2;
        // A straight line on the logarithm, kept off the ends; halves where that does not help.
        next = std::isfinite(over_high) && i % 3 != 2
                   ? std::clamp(across, low + 0.02 * (high - low), high - 0.02 * (high - low))
                   : middle;
    }
    if (!std::isfinite(over_high)) {
        return std::optional<double>{};
    }
    return std::optional<double>{(low + high) / 2};
}

double sine_through_v(SineLoad load, double toward_v, double current_a) {
    const double phase = std::abs(load.phase_deg) * k_pi / 180;
    const double sine = std::sin(phase);
    const double across = current_a * load.ohm - toward_v * std::cos(phase);
    if (sine < 1e-6) {
        return std::abs(across) <= 1e-9 * std::max(std::abs(toward_v), 1.0)
                   ? std::abs(toward_v)
                   : std::numeric_limits<double>::infinity();
    }
    return std::hypot(toward_v, across / sine);
}

double sine_power_w(SineLoad load, double peak_v) {
    return peak_v * peak_v * std::cos(load.phase_deg * k_pi / 180) / (2 * load.ohm);
}

GreatestSine greatest_sine(std::span<const LocusPoint> locus, StageHalf half, SineLoad load) {
    GreatestSine result;
    result.peak_v = std::numeric_limits<double>::infinity();
    const double sign = toward(half);
    for (std::size_t i = 1; i < locus.size(); ++i) {
        const LocusPoint& a = locus[i - 1];
        const LocusPoint& b = locus[i];
        const Touch there =
            touch(load, sign * a.output_v, a.current_a, sign * b.output_v, b.current_a);
        if (there.peak_v < result.peak_v) {
            result.peak_v = there.peak_v;
            const LocusPoint& nearer = there.part < 0.5 ? a : b;
            result.at = nearer;
            result.at.output_v = a.output_v + there.part * (b.output_v - a.output_v);
            result.at.current_a = a.current_a + there.part * (b.current_a - a.current_a);
        }
    }
    if (!std::isfinite(result.peak_v)) {
        // A resistive load line that no stretch crosses: the half gives nothing at all.
        result.peak_v = 0;
        result.at = locus.empty() ? LocusPoint{} : locus.front();
    }
    result.power_w = sine_power_w(load, result.peak_v);
    return result;
}

Result<GreatestSine> greatest_sine(FullDrive& drive, std::vector<LocusPoint>& locus, SineLoad load,
                                   double relative) {
    GreatestSine best = greatest_sine(locus, drive.half(), load);
    constexpr int k_rounds = 8;
    for (int i = 0; i < k_rounds; ++i) {
        const auto point = drive.at(best.at.output_v);
        if (!point) {
            return point.error();
        }
        const bool known = std::any_of(locus.begin(), locus.end(), [&](const LocusPoint& each) {
            return each.output_v == point->output_v;
        });
        if (known) {
            break;
        }
        insert(locus, drive.half(), *point);
        const GreatestSine next = greatest_sine(locus, drive.half(), load);
        const bool settled = std::abs(next.peak_v - best.peak_v) <= relative * best.peak_v;
        best = next;
        best.at.cause = point->cause;
        best.at.limiter_a = point->limiter_a;
        if (settled) {
            break;
        }
    }
    return best;
}

std::optional<double> lock_out_v(std::span<const LocusPoint> locus, StageHalf half) {
    double most_a = 0;
    for (const LocusPoint& point : locus) {
        most_a = std::max(most_a, point.current_a);
    }
    for (const LocusPoint& point : locus) {
        if (toward(half) * point.output_v <= 0 && point.current_a < k_locked_share * most_a) {
            return point.output_v;
        }
    }
    return std::nullopt;
}

double current_at(std::span<const LocusPoint> locus, StageHalf half, double output_v) {
    const double sign = toward(half);
    for (std::size_t i = 0; i < locus.size(); ++i) {
        if (sign * locus[i].output_v <= sign * output_v) {
            if (i == 0) {
                return locus[i].current_a;
            }
            const LocusPoint& a = locus[i - 1];
            const LocusPoint& b = locus[i];
            const double part = (output_v - a.output_v) / (b.output_v - a.output_v);
            return a.current_a + part * (b.current_a - a.current_a);
        }
    }
    return locus.empty() ? 0 : locus.back().current_a;
}

} // namespace railside
