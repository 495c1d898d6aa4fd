// What a recorded sine says about the amplifier that made it: period, peaks, clipping, the notch at
// the crossing, harmonics, hum and bursts.
//
// The period is the one at which a few harmonics fit best (core/capture/sine_fit.h). Harmonics 1 to
// 10 are then fitted at once, what they leave over is averaged by phase, and both together are the
// averaged wave that every figure of its shape is read from. A spike in one cycle is outvoted by
// the other readings at its phase. The sine that the stage was following is fitted to the flanks
// alone (a quarter to three quarters of the way to each peak), with an offset of its own for each
// half: a top that stays below it is flattened, a slope at the crossing that stays below its slope
// is a notch. Sources: IEEE Std 1057 (sine fits, noise, effective resolution); IEC 60268-3 (total
// harmonic distortion, amplifier output).
//
// Valid for a repeating wave near a sine with one whole cycle or more in the record and eight
// samples or more in a cycle. All levels are in the recording's own unit.
#pragma once

#include "core/capture/recording.h"
#include "core/quantity/interval.h"

#include <array>
#include <optional>
#include <vector>

namespace railside {

/// What is known besides the samples.
struct AnalysisHints {
    double expected_hz = 0; // look for a tone near this only; 0: take the strongest
};

/// One half of the wave.
struct HalfWave {
    Interval peak;        // signed, against zero of the recording
    Interval intended;    // where the sine of the flanks would have peaked, signed
    Interval flat;        // fraction of the cycle that is cut off, 0 to 0.5
    double bend = 1;      // curvature at the top against the sine's: 1 for a sine, 0 for a plateau
    bool clipped = false; // plainly flat
    bool maybe_clipped = false; // flat within the doubt, or flat but hardly
    std::size_t over_range = 0; // readings beyond the recorder's range
    bool pinned = false; // the plateau is one single code of a recorder that shows noise elsewhere
};

/// One of the two crossings in a cycle.
struct Crossing {
    Interval depth;     // 1 − slope/slope of the sine, where it is least; 0 or more
    double width_s = 0; // time for which it is more than half as deep; 0 where there is none
};

/// One harmonic against the fundamental.
struct Harmonic {
    int order = 2;
    Interval part; // fraction of the fundamental
};

/// Mains hum beside the wave.
struct Hum {
    double line_hz = 50;   // 50 or 60
    Interval level;        // rms of the line and its double together
    Interval part_at_line; // rms of each of the two
    Interval part_at_double;
};

/// A short run of oscillation that sits on one part of the wave.
struct Burst {
    double phase = 0;        // in cycles from the rising crossing: 0.25 is the + peak
    double frequency_hz = 0; // about
    double rms = 0;          // there
};

/// Everything that is read from one channel.
struct WaveFigures {
    bool timed = true; // false: times are counts of samples
    Interval frequency_hz;
    double cycles = 0; // in the stretch that was read
    double span_s = 0; // of that stretch
    std::size_t samples = 0;
    Interval jitter_s; // standard deviation of the crossings against an even beat
    HalfWave plus;
    HalfWave minus;
    Interval offset;      // the middle of the sine of the flanks
    Interval mean;        // over whole cycles
    Interval rms;         // likewise, the mean included
    Interval fundamental; // its peak
    Crossing rising;
    Crossing falling;
    std::vector<Harmonic> harmonics; // 2 to at most 10, those below half the sampling rate
    Interval distortion;             // harmonics 2 to 10 against the fundamental
    Interval distortion_noise;       // all that is not the fundamental against it
    double floor =
        0; // distortion below this cannot be told from the recorder's own steps and noise
    double noise = 0;       // rms, of what does not repeat with the wave
    double step = 0;        // the recorder's resolution; 0 when it does not show
    std::optional<Hum> hum; // where the record is long enough to tell it from the wave
    bool drifts = false;    // something slower than the record moves the wave: hum, most likely
    std::optional<Burst> burst;
    bool is_sine = true;   // false: the flanks are not those of a sine (a square, a triangle)
    double tone_share = 1; // of the record's power that is the fundamental with its harmonics

    // The averaged cycle, from the rising crossing on.
    std::vector<double> phase; // in cycles, 0 to 1
    std::vector<double> wave;
    std::vector<double> flank_sine; // the sine of the flanks
    std::vector<double> residual;   // the wave less its own fundamental and mean
};

/// Reads one channel, from 0. Errors: contradictory (no such channel, no signal, no steady
/// tone, less than a whole cycle, too few samples in a cycle).
[[nodiscard]] Result<WaveFigures> analyse_wave(const Recording& recording, std::size_t channel,
                                               const AnalysisHints& hints = {});

/// The step of the lattice that the values lie on, as a converter of few bits leaves it; 0 when
/// they lie on none.
[[nodiscard]] double lattice_step(std::vector<double> values);

} // namespace railside
