// Whatever the bytes of a WAV file are, it is read or refused, within its bound, and what is read
// can be analysed.
#include "check.h"
#include "core/capture/analysis.h"
#include "core/capture/wav.h"

#include <cstddef>
#include <cstdint>
#include <string_view>

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
    using namespace railside;
    const auto recording =
        read_wav(std::string_view(reinterpret_cast<const char*>(data), size), "fuzz.wav");
    if (!recording) {
        must_hold(recording.error().message.ends_with('.'), "a refusal is a sentence");
        return 0;
    }
    must_hold(!recording->channels.empty() && recording->channels.size() <= k_most_channels,
              "one to four channels");
    must_hold(recording->size() >= 2 &&
                  recording->size() * recording->channels.size() <= k_most_samples,
              "two samples or more, within the bound");
    for (std::size_t c = 0; c < recording->channels.size(); ++c) {
        must_hold(recording->channels[c].samples.size() == recording->size(),
                  "channels are equally long");
        const auto figures = analyse_wave(*recording, c);
        must_hold(figures.ok() || figures.error().message.ends_with('.'),
                  "a refusal is a sentence");
    }
    return 0;
}
