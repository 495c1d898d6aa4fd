// The output stage as a circuit, built from what a technician can read off the board and the
// schematic.
//
// Model: everything from the voltage amplifier's collector to the loudspeaker, as real devices
// (core/device/semiconductor.h) solved by core/circuit. The voltage amplifier's load is a
// transistor current source with an emitter resistor, or a bootstrapped resistor; the amplifying
// transistor at the other end is either whatever the feedback loop makes of it (regulated: it takes
// the current that puts the output where it is wanted) or driven fully on or off. Direct current
// only: charge storage, the loop's own dynamics and supply sag stay out. Rails 3 to 200 V, 1 to 12
// pairs. Sources for the topologies: D. Self, Audio Power Amplifier Design; R. Cordell, Designing
// Audio Power Amplifiers; B. Oliver, Hewlett-Packard Journal, Feb 1971.
#pragma once

#include "core/circuit/solver.h"
#include "core/device/semiconductor.h"

#include <memory>
#include <optional>
#include <string>
#include <variant>
#include <vector>

namespace railside {

/// How the output half is put together.
enum class Topology {
    follower,        // complementary emitter followers, one driver stage
    follower_triple, // complementary emitter followers, pre-drivers and drivers
    quasi,           // quasi-complementary: both outputs npn, the lower half a feedback pair
    feedback_pair,   // complementary feedback pairs: the outputs' collectors face the load
};

enum class StageHalf { plus, minus };

/// Volts between the bases held fixed; ohms of the source in series.
struct FixedSpreader {
    double volts = 2.3; // any
};
/// Whatever spread gives this reading across one emitter resistor of the plus half, V.
struct SpreaderForReading {
    double reading_v = 0.02; // 0 or more
};
/// A V_BE multiplier.
struct Multiplier {
    double upper_ohm = 1800;          // collector to base, above 0
    double lower_ohm = 760;           // base to emitter, trim included, above 0
    double base_ohm = 0;              // in series with the base, 0 or more
    double collector_ohm = 0;         // in series with the collector, 0 or more
    bool transistor_there = true;     // false: open
    double collector_emitter_ohm = 0; // above 0: a leak or short across the transistor
};
/// A string of diodes with a trim resistor.
struct DiodeString {
    int count = 3;       // 0 to 12
    double trim_ohm = 0; // 0 or more
};
using Spreader = std::variant<FixedSpreader, SpreaderForReading, Multiplier, DiodeString>;

/// The protection transistor of one half and its network, from its base node: to the emitter
/// resistor, to the output, and slope resistors to ground (through a diode or not), to its own rail
/// and to the opposite one. Ohms; absent: not fitted.
struct LimiterNetwork {
    double sense_ohm = 330;             // base to the emitter end of R_E, above 0
    std::optional<double> divider_ohm;  // base to output
    std::optional<double> ground_ohm;   // base to ground
    bool ground_diode = true;           // in series with ground_ohm
    std::optional<double> own_rail_ohm; // base to the half's own rail
    std::optional<double> far_rail_ohm; // base to the opposite rail
    bool collector_diode = true;        // in series with the collector
    std::optional<double> leak_ohm;     // collector to emitter inside the transistor
};

/// Device constants by place. A pnp's are a pnp's own card.
struct StageDevices {
    BipolarModel output_plus;
    BipolarModel output_minus; // npn in a quasi-complementary stage
    BipolarModel driver_plus;
    BipolarModel driver_minus;
    BipolarModel pre_driver_plus;
    BipolarModel pre_driver_minus;
    BipolarModel spreader;      // npn
    BipolarModel limiter_plus;  // npn
    BipolarModel limiter_minus; // pnp
    BipolarModel source;        // the current source: pnp when it hangs on the plus rail
    BipolarModel amplifier;     // the voltage amplifier: npn when it stands on the minus rail
    DiodeModel diode;           // of diode strings, limiters
};

/// Junction temperatures, °C.
struct StageTemperatures {
    double output_c = 27;
    double driver_c = 27;
    double spreader_c = 27;
    double small_c = 27; // limiters, source, voltage amplifier
};

/// How current gets into the base node that the voltage amplifier does not hold.
enum class Feed {
    current_source, // a transistor with an emitter resistor
    bootstrap,      // a resistor whose far end rides on the output
};

struct StageValues {
    Topology topology = Topology::follower;
    double rail_plus_v = 40;                 // 3 to 200
    double rail_minus_v = 40;                // its size, 3 to 200
    double rail_ohm = 0.05;                  // fuse and wiring, each rail, 0 or more
    int pairs = 1;                           // 1 to 12
    double emitter_ohm = 0.22;               // R_E, above 0
    std::optional<double> emitter_minus_ohm; // of the minus half when it differs
    double stopper_ohm = 2.2;                // in each output's base, 0 or more
    double driver_ohm = 220;      // between driver emitters; quasi and feedback pair: the
                                  // resistor across each output's base and emitter
    double pre_driver_ohm = 1000; // between pre-driver emitters
    double supply_a = 5e-3;       // standing current of the voltage amplifier
    double most_a = 15e-3;        // the most the voltage amplifier can take, above supply_a
    double source_drop_v = 0.6;   // across the source's emitter resistor
    double amplifier_ohm = 33;    // in the voltage amplifier's emitter
    Feed feed = Feed::current_source;
    StageHalf feed_side = StageHalf::plus; // the rail the feed hangs on
    Spreader spreader = FixedSpreader{};
    std::optional<LimiterNetwork> limiter_plus;
    std::optional<LimiterNetwork> limiter_minus;
    double driver_leak_plus_ohm = 0; // collector-emitter leak of the plus driver; 0: none
    double driver_leak_minus_ohm = 0;
    StageDevices devices;
    StageTemperatures temperatures;
};

/// What the voltage amplifier does.
enum class Drive {
    regulated, // the output is held at output_v
    full_plus, // everything the stage can be given towards the plus rail
    full_minus,
};

/// What hangs on the output.
struct OpenLoad {};
struct ResistorLoad {
    double ohm = 8; // above 0
};
struct CurrentLoad { // drawn from the output whatever its volts
    double amperes = 0;
};
struct ForcedOutput { // a source of no resistance holds it
    double volts = 0;
};
using StageLoad = std::variant<OpenLoad, ResistorLoad, CurrentLoad, ForcedOutput>;

/// One solved state, in the trade's terms.
struct StagePoint {
    double output_v = 0;
    double load_a = 0;                   // out of the stage
    std::vector<double> reading_plus_v;  // across each R_E, positive when it conducts
    std::vector<double> reading_minus_v; //
    double spread_v = 0;                 // between the two base nodes
    double base_plus_v = 0;              // the base nodes against ground
    double base_minus_v = 0;             //
    double output_plus_w = 0;            // dissipation of one output device (the first pair)
    double output_minus_w = 0;
    double driver_plus_w = 0;
    double driver_minus_w = 0;
    double output_plus_a = 0;      // collector current of one output device, its size
    double output_minus_a = 0;     //
    double output_plus_vce_v = 0;  // its collector-emitter volts, size
    double output_minus_vce_v = 0; //
    double driver_spread_v = 0;    // between the driver emitters (follower stages)
    double feed_a = 0;             // current of the source or bootstrap
    double feed_left_v = 0;        // volts left across the source transistor (bootstrap: 0)
    double amplifier_a = 0;        // taken by the voltage amplifier
    double limiter_plus_a = 0;     // collector currents, sizes
    double limiter_minus_a = 0;
    double rail_plus_a = 0; // drawn from each rail by the stage
    double rail_minus_a = 0;
};

/// The stage as one circuit with one drive and one kind of load; values change between solves,
/// kinds do not. solve() is warm-started from the last answer.
class StageCircuit {
  public:
    /// Errors: out_of_range, naming the value. `load` may be changed later, not its kind.
    [[nodiscard]] static Result<StageCircuit> build(const StageValues& values, Drive drive,
                                                    const StageLoad& load);

    /// Regulated: where the output is held. Ignored otherwise.
    void set_output(double volts);
    /// The load's value (ohm, ampere or volt, as built).
    void set_load(double value);
    /// Between the bases; only a stage built with FixedSpreader.
    void set_spread(double volts);
    /// Only a stage built with SpreaderForReading.
    void set_reading(double volts);
    /// Multiplier resistors, or the diode string's trim.
    void set_spreader(double upper_ohm, double lower_ohm);
    void set_trim(double ohm);
    void set_temperatures(const StageTemperatures& temperatures);

    /// Takes up other values of the same kinds and goes on from the last answer: the way through a
    /// list of doubts. Output and load go back to those it was built with. Errors: as build();
    /// contradictory when the parts differ.
    [[nodiscard]] Result<Done> change(const StageValues& values);

    /// Errors: as Solver::solve; contradictory when a regulated output cannot be reached.
    [[nodiscard]] Result<StagePoint> solve();

    /// d(output volts)/d(mean of the two base nodes' volts) at the last answer of a regulated
    /// stage: the incremental gain of the output stage, 0 to about 1.
    [[nodiscard]] Result<double> gain();

    [[nodiscard]] const Circuit& circuit() const { return circuit_; }

  private:
    StageCircuit() = default;
    struct Places; // nodes and elements, by what they are
    Result<Done> settle();
    Circuit circuit_;
    std::shared_ptr<const Places> places_;
    std::optional<Solver> solver_;
    OperatingPoint point_;
    double reading_v_ = 0; // wanted, of a stage built with SpreaderForReading
    std::vector<double> slopes_;
};

} // namespace railside
