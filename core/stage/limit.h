// What the limiters of an output stage let through: the current each half gives at every output
// voltage when it is driven fully, and the sines that stay below it.
//
// The stage as a circuit (core/stage/stage_circuit.h) with its output held and full drive towards
// one half: the final current, whichever of limiter, drive and rail holds it. A sine of peak V_p
// into |Z| at φ runs through all (v, i) with
//   V_p² = v² + ((i·|Z| − v·cos φ)/sin φ)²    (φ = 0: i·|Z| = v)
// so the greatest one that a half follows is the least V_p over the points of its locus; a lagging
// and a leading load run through the same points. Quasi-static: right while the period is long
// against the limiter's own speed. Sources: D. Self, Audio Power Amplifier Design; R. Cordell,
// Designing Audio Power Amplifiers (V-I limiting and reactive loads). Closed form:
// core/stage/limiter_formula.h.
#pragma once

#include "core/stage/clip.h"

#include <optional>
#include <span>
#include <vector>

namespace railside {

/// One point of a half's locus.
struct LocusPoint {
    double output_v = 0;  // against ground
    double current_a = 0; // out of the half into the output, channel total; 0 or more
    double limiter_a = 0; // its limiter's collector current
    ClipCause cause = ClipCause::limiter;
};

/// One half, driven fully, its output held where it is asked for.
class FullDrive {
  public:
    /// `values` need a FixedSpreader (resting_spread_v) or a real one. Errors: those of
    /// StageCircuit::build and solve.
    [[nodiscard]] static Result<FullDrive> create(const StageValues& values, StageHalf half);
    /// Errors: those of StageCircuit::solve.
    [[nodiscard]] Result<LocusPoint> at(double output_v);
    /// Other values, the same parts. Errors: those of StageCircuit::change.
    [[nodiscard]] Result<Done> change(const StageValues& values);
    /// The points at `outputs_v`, in their order.
    [[nodiscard]] Result<std::vector<LocusPoint>> locus(std::span<const double> outputs_v);

    [[nodiscard]] StageHalf half() const { return half_; }
    [[nodiscard]] const StageValues& values() const { return values_; }

  private:
    FullDrive(const StageValues& values, StageHalf half, StageCircuit circuit)
        : values_(values), half_(half), circuit_(std::move(circuit)) {}
    StageValues values_;
    StageHalf half_;
    StageCircuit circuit_;
};

/// Outputs worth a point, from the half's own rail down to the far one: crowded near the own rail,
/// where the current falls away. `points` 8 or more.
[[nodiscard]] std::vector<double> locus_outputs(const StageValues& values, StageHalf half,
                                                int points);

/// The final current at one output, A.
[[nodiscard]] Result<double> trip_current_a(const StageValues& values, StageHalf half,
                                            double output_v = 0);

/// The load current at which the half's limiter begins to carry `limiter_a` while the stage still
/// follows its input; nothing when the half ends before, or has no limiter. `final_a` is the final
/// current there.
[[nodiscard]] Result<std::optional<double>> onset_current_a(const StageValues& values,
                                                            StageHalf half, double output_v,
                                                            double final_a,
                                                            double limiter_a = 1e-3);

/// What a sine is put into.
struct SineLoad {
    double ohm = 8;       // |Z|, above 0
    double phase_deg = 0; // −90 to 90, either sign alike
};

/// The greatest sine a half follows.
struct GreatestSine {
    double peak_v = 0;
    double power_w = 0; // into the load's real part
    LocusPoint at;      // where it touches the locus
};
/// Peak of the sine through one point of a locus; infinite when none runs through it.
[[nodiscard]] double sine_through_v(SineLoad load, double toward_v, double current_a);
/// V²·cos φ/(2·|Z|)
[[nodiscard]] double sine_power_w(SineLoad load, double peak_v);

/// Over a locus, straight between its points (at least 2, in the order of locus_outputs).
[[nodiscard]] GreatestSine greatest_sine(std::span<const LocusPoint> locus, StageHalf half,
                                         SineLoad load);
/// The same with the touching point worked out to `relative`; points found on the way are added to
/// the locus. Errors: those of FullDrive::at.
[[nodiscard]] Result<GreatestSine> greatest_sine(FullDrive& drive, std::vector<LocusPoint>& locus,
                                                 SineLoad load, double relative = 5e-4);

/// The output nearest to ground, at it or on the far side, at which the half gives less than a
/// hundredth of the most it gives anywhere; nothing when it always gives more.
[[nodiscard]] std::optional<double> lock_out_v(std::span<const LocusPoint> locus, StageHalf half);

/// The current of a locus at an output, straight between its points, its ends held.
[[nodiscard]] double current_at(std::span<const LocusPoint> locus, StageHalf half, double output_v);

} // namespace railside
