// The demo job's scope recording: the right channel into 4 ohm at 1 kHz, 33.0 V peak asked for. The
// limiter of the + half acts at about half its proper current and holds that half at 21.8 V with a
// soft corner (a transistor that turns on over a volt or so of output); the − half is whole.
#pragma once

#include "core/capture/signals.h"

namespace demo_recording {

inline constexpr double k_peak_v = 33.0;
inline constexpr double k_held_v = 21.8;
inline constexpr double k_corner_v = 0.6; // softness of the corner
inline constexpr double k_step_v = 0.4;   // 10 V a division, 25 steps a division
inline constexpr double k_noise_v = 0.15; // rms
inline constexpr double k_rate_hz = 250'000;
inline constexpr int k_count = 500; // 2 ms, triggered in the middle

/// The wave before noise and converter, `time_s` from the trigger.
inline double volts_at(double time_s) {
    const double asked = k_peak_v * std::sin(signals::k_turn * 1000 * time_s);
    return k_held_v - k_corner_v * std::log1p(std::exp((k_held_v - asked) / k_corner_v));
}

/// The file, every byte of it. The noise is a plain sum of twelve even parts of a fixed sequence,
/// so that it is the same on every machine.
inline std::string csv() {
    std::string text = "Sample interval,4.0E-06,s\nVertical scale,10,V\nTime (s),Right (V)\n";
    std::uint32_t random = 20310405;
    const auto part = [&random] {
        random = random * 1664525U + 1013904223U;
        return static_cast<double>(random >> 8U) / 16777216.0;
    };
    for (int i = 0; i < k_count; ++i) {
        const double time_s = (i - k_count / 2) / k_rate_hz;
        double noise = -6;
        for (int k = 0; k < 12; ++k) {
            noise += part();
        }
        const double steps = std::round((volts_at(time_s) + k_noise_v * noise) / k_step_v);
        text += fmt::format("{:.6f},{:.1f}\n", time_s, steps == 0 ? 0.0 : steps * k_step_v);
    }
    return text;
}

} // namespace demo_recording
