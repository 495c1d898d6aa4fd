#include "core/capture/wav.h"

#include "core/quantity/refusal.h"
#include "core/words/words.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <cstring>
#include <limits>
#include <optional>

namespace railside {

namespace {

constexpr unsigned k_pcm = 1;
constexpr unsigned k_float = 3;
constexpr unsigned k_extensible = 0xfffe;
constexpr std::size_t k_riff_bytes = 12; // "RIFF", size, "WAVE"
constexpr std::size_t k_chunk_bytes = 8; // name, size
constexpr std::uint32_t k_most_rate_hz = 10'000'000;
// No recorder's full scale is this many times its own full scale: the bytes are no samples.
constexpr double k_most_float = 1e6;

std::uint64_t little_endian(std::string_view bytes) {
    std::uint64_t value = 0;
    for (std::size_t i = bytes.size(); i-- > 0;) {
        value = value << 8U | static_cast<unsigned char>(bytes[i]);
    }
    return value;
}

/// What the "fmt " chunk says.
struct Format {
    unsigned encoding = 0; // k_pcm or k_float
    std::size_t channels = 0;
    std::uint32_t rate_hz = 0;
    unsigned bits = 0;       // the container of one sample
    unsigned valid_bits = 0; // of those, from the top, what carries the sample
    std::size_t frame_bytes = 0;
};

Error damaged(std::string_view name, const std::string& sentence) {
    return refusal(ErrorCode::damaged, name, sentence);
}

std::string_view encoding_name(unsigned tag) {
    switch (tag) {
    case 2:
    case 0x11:
        return "ADPCM";
    case 6:
        return "A-law";
    case 7:
        return "µ-law";
    case 0x55:
        return "MP3";
    default:
        return "an encoding that is not known here";
    }
}

Result<Format> read_format(std::string_view chunk, std::string_view name) {
    if (chunk.size() < 16) {
        return damaged(name, worded("its \"fmt \" chunk has {} bytes; 16 or more were "
                                    "expected.",
                                    chunk.size()));
    }
    const auto number = [chunk](std::size_t at, std::size_t bytes) {
        return static_cast<std::uint32_t>(little_endian(chunk.substr(at, bytes)));
    };
    Format format;
    format.encoding = number(0, 2);
    format.channels = number(2, 2);
    format.rate_hz = number(4, 4);
    format.bits = number(14, 2);
    format.valid_bits = format.bits;
    if (format.encoding == k_extensible) {
        if (chunk.size() < 40) {
            return damaged(name, worded("its extensible \"fmt \" chunk has {} bytes; 40 were "
                                        "expected.",
                                        chunk.size()));
        }
        const unsigned valid = number(18, 2);
        format.valid_bits = valid == 0 ? format.bits : valid;
        format.encoding = number(24, 2);
    }
    if (format.encoding != k_pcm && format.encoding != k_float) {
        return refusal(ErrorCode::refused, name,
                       worded("its samples are {} (tag {}). Accepted: PCM or float samples.",
                              encoding_name(format.encoding), format.encoding));
    }
    const bool known = format.encoding == k_pcm ? format.bits == 8 || format.bits == 16 ||
                                                      format.bits == 24 || format.bits == 32
                                                : format.bits == 32 || format.bits == 64;
    if (!known || format.valid_bits > format.bits) {
        return refusal(ErrorCode::refused, name,
                       worded("{} of {} bits. Accepted: PCM of 8, 16, 24 or 32 bits, float of "
                              "32 or 64.",
                              format.encoding == k_pcm ? "PCM" : "float",
                              known ? format.valid_bits : format.bits));
    }
    if (format.channels == 0) {
        return damaged(name, "it has no channels; one or more were expected.");
    }
    if (format.rate_hz == 0 || format.rate_hz > k_most_rate_hz) {
        return damaged(name, worded("its sample rate is {} Hz; 1 to {} were expected.",
                                    format.rate_hz, k_most_rate_hz));
    }
    format.frame_bytes = format.channels * (format.bits / 8);
    return format;
}

/// std::bit_cast, which not every library has yet.
template <class To, class From> To same_bits(From from) {
    static_assert(sizeof(To) == sizeof(From));
    To to{};
    std::memcpy(&to, &from, sizeof to);
    return to;
}

double sample_at(const Format& format, const char* at) {
    const std::uint64_t raw = little_endian({at, format.bits / 8});
    if (format.encoding == k_float) {
        const double value =
            format.bits == 64
                ? same_bits<double>(raw)
                : static_cast<double>(same_bits<float>(static_cast<std::uint32_t>(raw)));
        return std::abs(value) <= k_most_float ? value : std::numeric_limits<double>::quiet_NaN();
    }
    if (format.bits == 8) { // the one that is unsigned
        return (static_cast<double>(raw) - 128) / 128;
    }
    const auto whole = static_cast<std::int64_t>(raw << (64U - format.bits));
    return static_cast<double>(whole) / 9223372036854775808.0; // 2^63
}

} // namespace

bool looks_like_wav(std::string_view bytes) {
    return bytes.starts_with("RIFF") || bytes.starts_with("RIFX") || bytes.starts_with("RF64");
}

Result<Recording> read_wav(std::string_view bytes, std::string_view name) {
    if (!bytes.starts_with("RIFF") || bytes.size() < k_riff_bytes || bytes.substr(8, 4) != "WAVE") {
        return refusal(ErrorCode::refused, name,
                       looks_like_wav(bytes)
                           ? "this is not a WAV file of the usual kind (RIFF with WAVE inside)."
                           : "this is not a WAV file: it does not begin with RIFF.");
    }
    Recording recording;
    recording.scale = SampleScale::full_scale;
    std::optional<Format> format;
    std::optional<std::string_view> data;
    // The container's own size is often wrong; the chunks are followed as far as there are bytes.
    for (std::size_t at = k_riff_bytes; !data && bytes.size() - at >= k_chunk_bytes;) {
        const std::string_view chunk_name = bytes.substr(at, 4);
        const std::uint64_t claimed = little_endian(bytes.substr(at + 4, 4));
        at += k_chunk_bytes;
        const std::size_t there = bytes.size() - at;
        const auto held = static_cast<std::size_t>(std::min<std::uint64_t>(claimed, there));
        if (chunk_name == "fmt ") {
            const auto read = read_format(bytes.substr(at, held), name);
            if (!read) {
                return read.error();
            }
            format = *read;
        } else if (chunk_name == "data" && format) {
            // A recorder that was cut off, or that streams, leaves nought or all ones.
            const bool open = claimed == 0 || claimed == 0xffffffff;
            data = bytes.substr(at, open ? there : held);
            if (claimed > there && !open) {
                recording.notes.push_back(worded(
                    "The file ends early: {} of {} bytes of samples are there.", there, claimed));
            }
        } else if (chunk_name == "data") {
            return damaged(name, "its samples come before the \"fmt \" chunk that explains them.");
        }
        at += std::min(held + held % 2, there); // chunks begin at even places
    }
    if (!format) {
        return damaged(name, "it has no \"fmt \" chunk, so the samples cannot be understood.");
    }
    if (!data) {
        return damaged(name, "it has no \"data\" chunk; the samples were expected there.");
    }
    const std::size_t channels = std::min(format->channels, k_most_channels);
    if (channels < format->channels) {
        recording.notes.push_back(
            worded("Only the first {} of {} channels were read.", channels, format->channels));
    }
    std::size_t frames = data->size() / format->frame_bytes;
    if (frames < 2) {
        return damaged(name, worded("it holds {} samples; two or more were expected.", frames));
    }
    if (frames > k_most_samples / channels) {
        frames = k_most_samples / channels;
        recording.notes.push_back(worded("Only the first {:.3g}\u2009s were read.",
                                         static_cast<double>(frames) / format->rate_hz));
    }
    recording.step_s = 1.0 / format->rate_hz;
    std::size_t left_out = 0;
    for (std::size_t c = 0; c < channels; ++c) {
        CaptureChannel channel;
        channel.name = fmt::format("{}", c + 1);
        if (format->encoding == k_pcm) {
            channel.step = std::ldexp(1.0, 1 - static_cast<int>(format->valid_bits));
        }
        channel.samples.resize(frames);
        const char* at = data->data() + c * (format->bits / 8);
        for (double& sample : channel.samples) {
            sample = sample_at(*format, at);
            at += format->frame_bytes;
            left_out += std::isnan(sample) ? 1 : 0;
            // The outermost codes are where a converter stays when there is more.
            const double top = 1 - 1.5 * channel.step;
            if (format->encoding == k_pcm) {
                channel.over_high += sample >= top ? 1 : 0;
                channel.over_low += sample <= -top ? 1 : 0;
            }
        }
        recording.channels.push_back(std::move(channel));
    }
    if (left_out > 0) {
        recording.notes.push_back(worded("{} samples are no numbers and were left out.", left_out));
    }
    return recording;
}

} // namespace railside
