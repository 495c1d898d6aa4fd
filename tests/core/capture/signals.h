// Waves whose every figure is known, and the files that hold them.
#pragma once

#include "core/capture/recording.h"

#include <fmt/format.h>

#include <algorithm>
#include <bit>
#include <cmath>
#include <cstdint>
#include <functional>
#include <numbers>
#include <random>
#include <string>
#include <utility>
#include <vector>

namespace signals {

inline constexpr double k_turn = 2 * std::numbers::pi;

/// A sine and what an amplifier and a recorder do to it, in that order.
struct Wave {
    double frequency_hz = 1000;
    double amplitude = 20;
    double phase = 0.3; // radians at the first sample
    double offset = 0;
    double clip_plus = 1e9;   // level, above zero
    double clip_minus = -1e9; // level, below zero
    double dead_zone = 0;     // the crossover: this much of the sine is lost round zero, each side
    std::vector<double> harmonics; // from the second on, parts of the amplitude, as sines
    double hum = 0;                // peak, at hum_hz
    double hum_hz = 50;
    double noise = 0; // rms
    double step = 0;  // of the converter
    double rate_hz = 250'000;
    std::size_t count = 500;
    unsigned seed = 1;
};

/// The wave at a time, before noise and converter.
inline double value_at(const Wave& wave, double time_s) {
    const double angle = k_turn * wave.frequency_hz * time_s + wave.phase;
    double v = wave.amplitude * std::sin(angle);
    for (std::size_t i = 0; i < wave.harmonics.size(); ++i) {
        v += wave.amplitude * wave.harmonics[i] * std::sin(static_cast<double>(i + 2) * angle);
    }
    v = std::abs(v) <= wave.dead_zone ? 0 : v - std::copysign(wave.dead_zone, v);
    v = std::clamp(v + wave.offset, wave.clip_minus, wave.clip_plus);
    return v + wave.hum * std::sin(k_turn * wave.hum_hz * time_s + 0.7);
}

inline std::vector<double> samples_of(const Wave& wave) {
    std::mt19937 random(wave.seed);
    std::normal_distribution<double> normal(0, 1);
    std::vector<double> samples(wave.count);
    for (std::size_t i = 0; i < wave.count; ++i) {
        double v = value_at(wave, static_cast<double>(i) / wave.rate_hz);
        v += wave.noise > 0 ? wave.noise * normal(random) : 0;
        samples[i] = wave.step > 0 ? wave.step * std::round(v / wave.step) : v;
    }
    return samples;
}

inline railside::Recording recording_of(const Wave& wave) {
    railside::Recording recording;
    recording.scale = railside::SampleScale::volt;
    recording.step_s = 1 / wave.rate_hz;
    recording.channels.push_back({"1", samples_of(wave), 0, 0, 0});
    return recording;
}

/// A plain CSV in seconds and volts.
inline std::string csv_of(const Wave& wave, int digits = 6) {
    std::string text = "Time (s),CH1 (V)\n";
    const auto samples = samples_of(wave);
    for (std::size_t i = 0; i < samples.size(); ++i) {
        text += fmt::format("{:.9e},{:.{}g}\n", static_cast<double>(i) / wave.rate_hz, samples[i],
                            digits);
    }
    return text;
}

inline std::string little_endian(std::uint64_t value, int bytes) {
    std::string text;
    for (int i = 0; i < bytes; ++i) {
        text += static_cast<char>(value >> (8 * i) & 0xff);
    }
    return text;
}

struct WavForm {
    unsigned tag = 1; // 1 PCM, 3 float
    int bits = 16;
    int channels = 1;
    bool extensible = false;
    std::string before;          // chunks before "fmt "
    std::string between;         // and before "data"
    std::uint64_t data_size = 0; // what the file claims; 0 for the truth
    bool claims_nothing = false; // a size of nought
};

/// A chunk with its padding.
inline std::string chunk(const std::string& name, const std::string& content) {
    return name + little_endian(content.size(), 4) + content +
           (content.size() % 2 ? std::string(1, '\0') : std::string());
}

/// Samples as fractions of full scale, the same in every channel but with the sign turned round in
/// the odd ones.
inline std::string wav_of(const std::vector<double>& samples, double rate_hz,
                          const WavForm& form = {}) {
    std::string data;
    for (const double v : samples) {
        for (int c = 0; c < form.channels; ++c) {
            const double value = c % 2 == 0 ? v : -v;
            if (form.tag == 3) {
                data +=
                    form.bits == 64
                        ? little_endian(std::bit_cast<std::uint64_t>(value), 8)
                        : little_endian(std::bit_cast<std::uint32_t>(static_cast<float>(value)), 4);
            } else if (form.bits == 8) {
                data += little_endian(static_cast<std::uint64_t>(
                                          std::clamp(std::lround(value * 128) + 128, 0L, 255L)),
                                      1);
            } else {
                const double full = std::ldexp(1.0, form.bits - 1);
                const auto whole = static_cast<std::int64_t>(
                    std::clamp(std::round(value * full), -full, full - 1));
                data += little_endian(static_cast<std::uint64_t>(whole), form.bits / 8);
            }
        }
    }
    const int frame = form.channels * form.bits / 8;
    const auto rate = static_cast<std::uint64_t>(rate_hz);
    std::string format = little_endian(form.extensible ? 0xfffe : form.tag, 2) +
                         little_endian(static_cast<std::uint64_t>(form.channels), 2) +
                         little_endian(rate, 4) +
                         little_endian(rate * static_cast<std::uint64_t>(frame), 4) +
                         little_endian(static_cast<std::uint64_t>(frame), 2) +
                         little_endian(static_cast<std::uint64_t>(form.bits), 2);
    if (form.extensible) {
        format += little_endian(22, 2) + little_endian(static_cast<std::uint64_t>(form.bits), 2) +
                  little_endian(0, 4) + little_endian(form.tag, 2) +
                  std::string("\x00\x00\x00\x00\x10\x00\x80\x00\x00\xaa\x00\x38\x9b\x71", 14);
    }
    const std::uint64_t claimed = form.claims_nothing ? 0
                                  : form.data_size    ? form.data_size
                                                      : data.size();
    const std::string body = form.before + chunk("fmt ", format) + form.between + "data" +
                             little_endian(claimed, 4) + data;
    return "RIFF" + little_endian(body.size() + 4, 4) + "WAVE" + body;
}

} // namespace signals
