// A stretch of samples as a scope or a sound card saved it, read from the bytes of its file.
//
// The forms taken are CSV in all its dialects (csv.h) and WAV (wav.h); recording.md describes both.
// Nothing a file claims about itself is believed without the bytes to show for it: what is kept
// never exceeds k_most_samples values, whatever a header says.
#pragma once

#include "core/result.h"

#include <cstddef>
#include <string>
#include <string_view>
#include <vector>

namespace railside {

/// Values kept of one recording, all channels together.
inline constexpr std::size_t k_most_samples = 4'000'000;
/// Channels kept of one recording.
inline constexpr std::size_t k_most_channels = 4;

/// What the samples are in.
enum class SampleScale {
    volt,       // the file says volts
    unsaid,     // numbers without a unit
    full_scale, // fractions of the recorder's full scale, −1 to 1
};

/// One channel. All channels of a recording are equally long.
struct CaptureChannel {
    std::string name;            // as the file has it, or "1", "2"
    std::vector<double> samples; // NaN where the file says that there was no reading
    double step = 0;             // the recorder's own resolution where the form tells it, else 0
    std::size_t over_high = 0;   // readings beyond the recorder's range on the + side
    std::size_t over_low = 0;    // and on the − side
};

/// Time of sample i: start_s + i·step_s, or times_s[i] where that is not empty.
struct Recording {
    std::vector<CaptureChannel> channels; // one to k_most_channels, each with two samples or more
    SampleScale scale = SampleScale::unsaid;
    bool timed = true;  // false: the file does not say how fast it was sampled; step_s is 1
    double start_s = 0; //
    double step_s = 1;  // above 0
    std::vector<double> times_s;    // rising; empty when the samples are evenly spaced
    std::vector<std::string> notes; // whole sentences: what was assumed, what was left out

    [[nodiscard]] std::size_t size() const {
        return channels.empty() ? 0 : channels.front().samples.size();
    }
};

/// Reads the bytes of a recording, whichever form they have. `name` is the file's name, for the
/// refusals. Errors: damaged (the form is known, the content does not hold), bad_text (a table that
/// is not understood: names line, column and what was expected), refused (another kind of file, or
/// one with no samples).
[[nodiscard]] Result<Recording> read_recording(std::string_view bytes, std::string_view name);

} // namespace railside
