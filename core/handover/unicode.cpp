#include "core/handover/unicode.h"

#include <algorithm>
#include <cstdint>

namespace railside {

namespace {

/// Strong right-to-left letters of the blocks Hebrew to Arabic Extended, and their presentation
/// forms.
bool reads_left(char32_t c) {
    return (c >= 0x0590 && c <= 0x08FF && !(c >= 0x0660 && c <= 0x0669)) ||
           (c >= 0xFB1D && c <= 0xFDFF) || (c >= 0xFE70 && c <= 0xFEFC);
}

bool is_figure(char32_t c) { return (c >= '0' && c <= '9') || (c >= 0x0660 && c <= 0x0669); }

bool reads_right(char32_t c) {
    return !reads_left(c) && ((c >= 'A' && c <= 'Z') || (c >= 'a' && c <= 'z') ||
                              (c >= 0xC0 && c < 0x2000) || c > 0x2BFF);
}

char32_t mirrored(char32_t c) {
    constexpr std::u32string_view k_pairs = U"()[]{}<>«»";
    const auto at = k_pairs.find(c);
    return at == std::u32string_view::npos ? c : k_pairs[at ^ 1U];
}

} // namespace

std::u32string characters_of(std::string_view text) {
    std::u32string all;
    all.reserve(text.size());
    for (std::size_t i = 0; i < text.size();) {
        const auto lead = static_cast<unsigned char>(text[i]);
        const std::size_t length = lead < 0x80    ? 1
                                   : lead >= 0xF0 ? 4
                                   : lead >= 0xE0 ? 3
                                   : lead >= 0xC2 ? 2
                                                  : 0;
        char32_t c = length == 1 ? lead : lead & (0x7FU >> length);
        bool sound = length != 0 && lead < 0xF5 && i + length <= text.size();
        for (std::size_t k = 1; sound && k < length; ++k) {
            const auto next = static_cast<unsigned char>(text[i + k]);
            sound = (next & 0xC0U) == 0x80;
            c = c << 6U | (next & 0x3FU);
        }
        all += sound ? c : k_replacement;
        i += sound ? length : 1;
    }
    return all;
}

std::string utf8_of(std::u32string_view characters) {
    std::string text;
    text.reserve(characters.size());
    const auto put = [&](char32_t bits) { text += static_cast<char>(bits); };
    for (const char32_t c : characters) {
        if (c < 0x80) {
            put(c);
        } else if (c < 0x800) {
            put(0xC0U | c >> 6U);
            put(0x80U | (c & 0x3FU));
        } else if (c < 0x10000) {
            put(0xE0U | c >> 12U);
            put(0x80U | (c >> 6U & 0x3FU));
            put(0x80U | (c & 0x3FU));
        } else {
            put(0xF0U | c >> 18U);
            put(0x80U | (c >> 12U & 0x3FU));
            put(0x80U | (c >> 6U & 0x3FU));
            put(0x80U | (c & 0x3FU));
        }
    }
    return text;
}

bool takes_room(char32_t c) {
    return c >= 0x20 && c != 0x7F && !(c >= 0x80 && c < 0xA0) && !(c >= 0x0300 && c <= 0x036F) &&
           !(c >= 0x0591 && c <= 0x05BD) && !(c >= 0x064B && c <= 0x065F) &&
           !(c >= 0x200B && c <= 0x200F) && !(c >= 0x2060 && c <= 0x2064) &&
           !(c >= 0xFE00 && c <= 0xFE0F) && c != 0xFEFF;
}

std::u32string in_visual_order(std::u32string_view line) {
    std::u32string text(line);
    for (std::size_t i = 0; i < text.size(); ++i) {
        if (!reads_left(text[i]))
            continue;
        std::size_t end = i + 1; // past the last one that reads left before one that reads right
        for (std::size_t k = i; k < text.size() && !reads_right(text[k]); ++k)
            if (reads_left(text[k]))
                end = k + 1;
        const auto begin = text.begin() + static_cast<std::ptrdiff_t>(i);
        const auto past = text.begin() + static_cast<std::ptrdiff_t>(end);
        std::reverse(begin, past);
        std::transform(begin, past, begin, mirrored);
        for (auto it = begin; it != past;) {
            const auto figures_end = std::find_if_not(it, past, is_figure);
            std::reverse(it, figures_end);
            it = figures_end == it ? it + 1 : figures_end;
        }
        i = end - 1;
    }
    return text;
}

} // namespace railside
