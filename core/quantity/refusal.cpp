#include "core/quantity/refusal.h"

#include "core/words/words.h"

#include <algorithm>
#include <cstddef>
#include <utility>

namespace railside {
namespace {

/// The length of the well-formed UTF-8 sequence at the start, 0 when there is none.
std::size_t sequence_length(std::string_view s) {
    const auto at = [&](std::size_t i) -> unsigned {
        return i < s.size() ? static_cast<unsigned char>(s[i]) : 0U;
    };
    const auto follows = [&](std::size_t i) { return (at(i) & 0xc0U) == 0x80U; };
    const unsigned lead = at(0);
    if (lead < 0x80) {
        return s.empty() ? 0 : 1;
    }
    if (lead >= 0xc2 && lead <= 0xdf) {
        return follows(1) ? 2 : 0;
    }
    if (lead >= 0xe0 && lead <= 0xef) {
        // Neither a longer form than needed nor half of a surrogate pair.
        const bool fits = (lead != 0xe0 || at(1) >= 0xa0) && (lead != 0xed || at(1) <= 0x9f);
        return fits && follows(1) && follows(2) ? 3 : 0;
    }
    if (lead >= 0xf0 && lead <= 0xf4) {
        const bool fits = (lead != 0xf0 || at(1) >= 0x90) && (lead != 0xf4 || at(1) <= 0x8f);
        return fits && follows(1) && follows(2) && follows(3) ? 4 : 0;
    }
    return 0;
}

} // namespace

std::string printable(std::string_view text) {
    constexpr int k_most = 40;
    std::string result;
    for (int n = 0; !text.empty(); ++n) {
        if (n == k_most) {
            result += "\u2026";
            break;
        }
        const std::size_t length = sequence_length(text);
        if (length == 0 ||
            (length == 1 && (static_cast<unsigned char>(text[0]) < 0x20 || text[0] == 0x7f))) {
            result += "\ufffd";
        } else {
            result += text.substr(0, length);
        }
        text.remove_prefix(std::max<std::size_t>(length, 1));
    }
    return result;
}

bool well_formed(std::string_view text) {
    while (!text.empty()) {
        const std::size_t length = sequence_length(text);
        if (length == 0) {
            return false;
        }
        text.remove_prefix(length);
    }
    return true;
}

std::string quoted(std::string_view text) { return '"' + printable(text) + '"'; }

Error refusal(ErrorCode code, std::string_view field, const std::string& sentence) {
    std::string label = printable(field);
    std::string message = label.empty() ? sentence : fmt::format("{}: {}", words(label), sentence);
    return Error{code, std::move(label), std::move(message)};
}

} // namespace railside
