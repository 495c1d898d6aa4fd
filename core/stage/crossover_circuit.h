// The crossover of an output stage worked out on its circuit: incremental gain against output
// volts, the least gain ripple, and the window round it.
//
// Model: the bare output stage of core/stage/stage_circuit.h between a fixed spreader and a
// resistive load, slow signals; gain is d(output)/d(mean of the bases). Ripple is (greatest − least
// gain) / greatest within a span of output current both ways. Good where the closed split of
// core/stage/crossover.h is not: feedback pairs, halves that differ, drivers that carry part of the
// load. Source of the criteria: B. M. Oliver, Distortion in Complementary-Pair Class-B Amplifiers,
// Hewlett-Packard Journal, Feb 1971. Valid for the stage's own ranges, readings of 1 µV or more.
#pragma once

#include "core/stage/stage_circuit.h"

#include <array>

namespace railside {

/// The picture at one setting.
struct CrossoverAt {
    double reading_v = 0;  // across one R_E
    double spread_v = 0;   // between the bases
    double gain_zero = 0;  // at no output
    double gain_large = 0; // mean of both halves well out of the crossover
    /// The notch when positive, a hump when negative.
    [[nodiscard]] double notch() const { return 1 - gain_zero / gain_large; }
};

/// Where the ripple is least, and the window round it. Volts across one R_E.
struct BiasWindow {
    double low_v = 0;  // below: a notch makes the ripple half as large again
    double best_v = 0; // least ripple
    double high_v = 0; // above: a hump does, or the gain has stopped to change
    double ripple = 0; // the least, a fraction
};

class CrossoverCircuit {
  public:
    /// `load_ohm` above 0. The stage's own spreader and supply current are not looked at. Errors:
    /// as StageCircuit::build.
    [[nodiscard]] static Result<CrossoverCircuit> build(const StageValues& values, double load_ohm);

    /// Sets the spread for a reading at rest, V (above 0), and gives it. Errors: as
    /// StageCircuit::solve.
    [[nodiscard]] Result<double> set_reading(double reading_v);

    /// Sets the spread itself, V.
    void set_spread(double spread_v);

    /// The incremental gain at that output, V, at the setting. Errors: as StageCircuit::solve;
    /// contradictory when the stage cannot be driven there.
    [[nodiscard]] Result<double> gain_at(double output_v);

    /// Sets a reading and gives the picture there.
    [[nodiscard]] Result<CrossoverAt> at_reading(double reading_v);

    /// The ripple at the setting within span_a().
    [[nodiscard]] Result<double> ripple();

    /// Least ripple to 1 %, the limits to 4 %. Nothing when there is no clear best: a
    /// quasi-complementary stage, whose halves differ, or a gain that never rises to that of the
    /// halves alone. Leaves another setting behind.
    [[nodiscard]] Result<std::optional<BiasWindow>> window();

    /// Output current either way within which ripple is judged, A.
    [[nodiscard]] double span_a() const { return span_a_; }

  private:
    CrossoverCircuit(StageCircuit reader, StageCircuit stage)
        : reader_(std::move(reader)), stage_(std::move(stage)) {}
    [[nodiscard]] Result<std::array<double, 3>> three_gains(double output_v);

    StageCircuit reader_; // held at rest with the reading wanted
    StageCircuit stage_;  // fixed spreader, loaded
    Topology topology_ = Topology::follower;
    double load_ohm_ = 8;
    double span_a_ = 1;
    double large_a_ = 3;
    double thermal_v_ = 0.026;
    double at_v_ = 0; // where the output was last
    bool warm_ = false;
};

} // namespace railside
