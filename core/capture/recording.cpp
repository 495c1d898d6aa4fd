#include "core/capture/recording.h"

#include "core/capture/csv.h"
#include "core/capture/wav.h"
#include "core/quantity/refusal.h"
#include "core/words/words.h"

#include <fmt/format.h>

#include <array>
#include <utility>

namespace railside {

namespace {

// Files that are often picked by mistake, by their first bytes.
constexpr std::array<std::pair<std::string_view, std::string_view>, 9> k_others{{
    {{"\x89PNG", 4}, "a picture"},
    {{"\xff\xd8\xff", 3}, "a picture"},
    {{"GIF8", 4}, "a picture"},
    {{"BM", 2}, "a picture"},
    {{"PK\x03\x04", 4}, "a spreadsheet or an archive"},
    {{"\xd0\xcf\x11\xe0", 4}, "an old spreadsheet"},
    {{"fLaC", 4}, "compressed sound"},
    {{"OggS", 4}, "compressed sound"},
    {{"ID3", 3}, "compressed sound"},
}};

} // namespace

Result<Recording> read_recording(std::string_view bytes, std::string_view name) {
    if (bytes.empty()) {
        return refusal(ErrorCode::refused, name,
                       "the file is empty. Accepted: a CSV or a WAV file with samples.");
    }
    if (looks_like_wav(bytes)) {
        return read_wav(bytes, name);
    }
    for (const auto& [begin, kind] : k_others) {
        if (bytes.starts_with(begin)) {
            return refusal(ErrorCode::refused, name,
                           worded("this is {}. Accepted: the samples, saved as CSV or WAV.", kind));
        }
    }
    return read_csv(bytes, name);
}

} // namespace railside
