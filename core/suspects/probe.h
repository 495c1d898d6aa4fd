// What a technician can read off the amplifier from outside, and the solver's answer to each.
//
// Conditions: rails through 47 ohm each (or a series lamp), idle on full rails, the trim at both
// ends, 1 kHz into the rated load, and the output held while a half is driven fully. At 1 kHz a
// capacitor whose reactance is below 100 ohm holds its idle volts and is otherwise its reactance in
// series; smaller ones are open: the audio runs are quasi-static sweeps of the operating point, so
// charge storage and the loop's own phase stay out. With the trim's range, 5 positions are not
// taken but the two ends.
#pragma once

#include "core/circuit/solver.h"
#include "core/suspects/fault.h"

#include <array>
#include <memory>
#include <span>
#include <string_view>
#include <vector>

namespace railside {

/// What the unit must be put into for a reading.
enum class Setup {
    off,     // plug out, reservoirs empty
    limited, // rails through 47 ohm each, or the series lamp; no load
    idle,    // full rails, no load, no signal
    trim,    // the same, the trim turned to both ends
    loaded,  // full rails, rated load (not the loudspeaker), 1 kHz
    held,    // full rails, output held, input overdriven, current limited outside
};
/// "limited": JSON, the table of minutes.
[[nodiscard]] std::string_view setup_key(Setup setup);
/// "on current-limited rails"
[[nodiscard]] std::string_view setup_words(Setup setup);

/// A place to read, and how well that can be predicted and read. A reading v is compared as
/// asinh(v/floor): below the floor by difference, above it by ratio; `relative` is one standard
/// deviation there, meter and what the model leaves out together.
struct ProbeSpec {
    std::string_view key;    // "idle/v_re1": JSON, evidence
    std::string_view column; // of the answers file
    double scale = 1;        // column to SI
    Setup setup = Setup::idle;
    double floor = 1;
    double relative = 0.1;
    std::string_view what; // "volts across the first emitter resistor of the + half"
    std::string_view unit; // "V", "A", "", "%"
};
/// All of them; their index is a probe's number.
[[nodiscard]] std::span<const ProbeSpec> all_probes();
/// −1 when there is none.
[[nodiscard]] int find_probe(std::string_view key);

/// The reading on its comparison scale.
[[nodiscard]] double compared(const ProbeSpec& probe, double value);
[[nodiscard]] double uncompared(const ProbeSpec& probe, double value);

/// One value for each probe, SI; NaN where it cannot be read (the amplifier has no such place, the
/// fuse blows, DC at the output).
using ProbeReadings = std::vector<double>;

/// Works out all readings of one circuit again and again.
class TrialBench {
  public:
    /// `faulty` as with_fault() gives it; the conditions' switches are added to it.
    TrialBench(const Amplifier& amplifier, FaultyCircuit faulty);

    /// The circuit whose devices and values may be changed before read(); nodes stay.
    [[nodiscard]] Circuit& circuit() { return circuit_; }
    [[nodiscard]] ElementId severity_element() const { return severity_element_; }

    enum class Depth {
        idle,  // limited, idle and trim
        whole, // and the audio runs
    };
    /// Trim as in circuit(). Never fails: what does not settle is NaN.
    [[nodiscard]] ProbeReadings read(Depth depth);
    /// Mean volts across the first emitter resistors at idle; NaN when it does not settle.
    [[nodiscard]] double idle_reading();
    /// Sets the trim to a share of its track, 0 to 1, in the circuit.
    void set_trim(double share);

  private:
    struct Hold {
        ElementId capacitor = -1;
        ElementId source = -1;
        ElementId resistor = -1;
        double ohm = 0;   // reactance
        double volts = 0; // held
    };
    [[nodiscard]] bool solve(bool afresh);
    [[nodiscard]] double volts(const std::optional<MeterPlace>& place) const;
    void trim_to(double share);
    void limited(ProbeReadings& readings);
    void idle(ProbeReadings& readings);
    void trim_ends(ProbeReadings& readings);
    void audio(ProbeReadings& readings);
    void held(ProbeReadings& readings);
    void audio_on(bool on);

    const Amplifier* amplifier_;
    // Filled while circuit_ is made, so before it.
    ElementId drop_plus_ = -1;
    ElementId drop_minus_ = -1;
    ElementId force_ohm_ = -1;
    ElementId force_a_ = -1;
    std::vector<Hold> holds_;
    Circuit circuit_;
    ElementId severity_element_ = -1;
    double load_ohm_ = 8;
    Solver solver_;
    OperatingPoint point_;
    bool warm_ = false;
};

} // namespace railside
