// Where each half of an output stage stops, and what stops it: clip volts into a resistor from the
// stage driven fully, and the closed forms beside it.
//
// The circuit (core/stage/stage_circuit.h) is driven fully towards one half; what is left across
// the feed, the voltage amplifier and the limiter's collector current then say whether the rail,
// the drive or the limiter holds it. Closed forms, for a check and for a bench without constants:
//   drive  I_o where I_B,driver + I_leak = I_available, with n·I_B,output + I_RD out of the driver
//          and the gains taken at their own currents; I_RD = (V_spread − 2·V_BE,driver)/R_D, for
//          the spreader's capacitor holds its volts
//   rail   V_p = V_CC − V_source,sat − V_source,R − V_BE,driver − n·…I_B·R_B − V_BE,output −
//          I_p·(R_E/n + R_rail), followers only
//   power  min(V+, V−)²/(2·R_L); asymmetry (V+ − V−)/((V+ + V−)/2), positive: the minus half clips
//          first
// Sources: Kirchhoff; D. Self, Audio Power Amplifier Design; R. Cordell, Designing Audio Power
// Amplifiers; IEC 60268-3 for what rated power means. Direct current: stiff rails, no supply sag,
// no charge storage. Valid where StageCircuit is.
#pragma once

#include "core/quantity/interval.h"
#include "core/stage/stage_circuit.h"

#include <string_view>

namespace railside {

enum class ClipCause {
    rail,    // no volts left in what feeds the bases, or in the output device
    drive,   // volts left, but no more base current
    limiter, // the limiter takes the drive
};
/// "rail", "drive", "limiter"
[[nodiscard]] std::string_view clip_cause_word(ClipCause cause);

/// What can be given to a half's base node.
struct DriveThere {
    double available_a = 0; // the feed's or the voltage amplifier's current
    double left_v = 0;      // across it before it saturates; below half a volt it has
    double limiter_a = 0;   // taken by the half's limiter
};
/// Of a stage solved with full drive towards `half`.
[[nodiscard]] DriveThere drive_there(const StageValues& values, StageHalf half,
                                     const StagePoint& point);
[[nodiscard]] ClipCause clip_cause(const DriveThere& drive);

/// One half at its end. Sizes.
struct Clip {
    double volts = 0;
    double current_a = 0; // into the load
    ClipCause cause = ClipCause::rail;
    DriveThere drive;
};

/// The clip of one half against the load, one circuit warm from load to load.
class ClipFinder {
  public:
    /// Errors: those of StageCircuit::build. `load_ohm` 1e-3 to 1e9.
    [[nodiscard]] static Result<ClipFinder> create(const StageValues& values, StageHalf half,
                                                   double load_ohm);
    /// Errors: those of StageCircuit::solve.
    [[nodiscard]] Result<Clip> into(double load_ohm);
    /// Other values, the same parts. Errors: those of StageCircuit::change.
    [[nodiscard]] Result<Done> change(const StageValues& values);

  private:
    ClipFinder(const StageValues& values, StageHalf half, StageCircuit circuit)
        : values_(values), half_(half), circuit_(std::move(circuit)) {}
    StageValues values_;
    StageHalf half_;
    StageCircuit circuit_;
};

/// The volts between the bases that leave about `reading_v` across each emitter resistor at rest,
/// from the devices' own curves: what FixedSpreader wants when only full drive is of interest. A
/// few per cent.
[[nodiscard]] double resting_spread_v(const StageValues& values, double reading_v = 0.015);

/// What leads drive away to the output: the limiter transistor's leak behind its diode.
struct DriveLeak {
    double ohm = 0; // 0: none
    double diode_v = 0.65;
};
/// The most current `half` of a follower stage can put out when nothing but base current ends it:
/// `available_a` into the driver's base (or pre-driver's), `collector_v` across the output device
/// (gains rise with it). Channel total, A; 0 when the drive does not reach.
[[nodiscard]] double drive_limited_a(const StageValues& values, StageHalf half, double available_a,
                                     double collector_v, DriveLeak leak = {});
/// The same with two plain gains: (β_o + 1)·((I − I_leak)·(β_d + 1) − I_RD), channel total.
[[nodiscard]] double drive_limited_a(double available_a, double driver_gain, double output_gain,
                                     double driver_resistor_a);

/// Clip volts of a follower half into `load_ohm` when the rail ends it. `feed_v` is lost between
/// rail and base node: the source's emitter resistor and saturation.
[[nodiscard]] double rail_limited_v(const StageValues& values, StageHalf half, double load_ohm,
                                    double feed_v);

/// Volts a stage of that topology loses between rail and load at `peak_a`, nothing else known:
/// low for bootstrapped feeds, high for several drops in the feed.
[[nodiscard]] Interval typical_loss_v(Topology topology, double peak_a, double emitter_ohm,
                                      int pairs);
/// Clip volts that the rail leaves by that loss: V = V_CC − loss(V/R). Not below 0.
[[nodiscard]] Interval clip_by_rail(const Interval& rail_v, Topology topology, double load_ohm,
                                    double emitter_ohm, int pairs);

/// Power of a sine up to the earlier clip, W; sizes in volt, `load_ohm` above 0.
[[nodiscard]] Interval clean_power_w(const Interval& plus_v, const Interval& minus_v,
                                     const Interval& load_ohm);
/// (V+ − V−) over their mean, a fraction; −2 to 2, 0 when both are 0.
[[nodiscard]] Interval clip_asymmetry(const Interval& plus_v, const Interval& minus_v);

} // namespace railside
