// What every fault would read, as distributions: the table the hunt reasons from, worked out once
// for a circuit.
//
// A sample of the amplifier is one draw of its device constants within their doubt (generic
// devices: gain a factor of 2.5 either way, base-emitter volts 40 mV either way, two standard
// deviations each; a given card: 1.25 and 5 mV; devices of one role and polarity nearly alike),
// with the trim set so that the healthy amplifier idles at the maker's service value. A draw that
// cannot reach it is drawn again: the maker's trim could. Faults with a severity are worked out at
// several steps of it, more where a reading moves by more than three of its standard deviations
// from one to the next, and the readings interpolated between on their comparison scale. What the
// next row is away is added to a row's deviations, so that nothing falls between two rows.
#pragma once

#include "core/suspects/probe.h"

#include <cstdint>
#include <functional>
#include <vector>

namespace railside {

struct PredictionOptions {
    bool generic = false;   // every card replaced by the generic of the position's role
    int samples = 4;        // draws of the constants, 2 to 64
    int severity_steps = 5; // to begin with, 2 to 32; halved where readings move fast
    int most_steps = 16;    //
    int between = 32;       // rows of one sample, denser where readings move fast, 4 to 128
    std::uint32_t seed = 1;
    /// Called before each fault with how many are done, of how many; false stops the work. May be
    /// called from the thread that works.
    std::function<bool(int done, int of)> progress = {};
};

/// What one fault would read, one row for each sample and severity.
struct FaultPrediction {
    Fault fault;
    int rows = 0;
    std::vector<float> severity; // by row
    std::vector<float> weight;   // by row, sums to 1: severities are alike beforehand
    std::vector<float> compared; // rows × probes, on the comparison scale; NaN: cannot be read
    std::vector<float> width;    // rows × probes: standard deviation to compare with
    [[nodiscard]] const float* row(int at) const {
        return compared.data() + at * static_cast<std::ptrdiff_t>(all_probes().size());
    }
    [[nodiscard]] const float* widths(int at) const {
        return width.data() + at * static_cast<std::ptrdiff_t>(all_probes().size());
    }
};

struct Predictions {
    std::vector<FaultPrediction> faults; // as all_faults(), `other` without rows
    std::vector<float> healthy;          // by probe, mean over the samples on the comparison scale
    int circuits = 0;                    // whole amplifiers that were worked out
};

/// Errors: failed, when the healthy amplifier does not settle; refused, when it was stopped.
[[nodiscard]] Result<Predictions> predict(const Amplifier& amplifier,
                                          const PredictionOptions& options);

/// One amplifier with one fault as `options.generic` and a draw have it: what a bench would read.
/// Sample 0 of a run that is not generic is the netlist as it stands. `severity` 0 to 1.
[[nodiscard]] Result<ProbeReadings> simulate(const Amplifier& amplifier, const Fault& fault,
                                             double severity);

} // namespace railside
