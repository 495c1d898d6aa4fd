#include "core/handover/writer.h"

namespace railside {

Error report_stopped() {
    return {ErrorCode::refused, "report", "The report was stopped; nothing was written."};
}

int report_steps(const Document& document) {
    int steps = 1;
    for (const Block& block : document.blocks)
        steps += static_cast<int>(block.photos.size());
    return steps;
}

Result<BareJpeg> bare_jpeg(std::span<const std::byte> bytes) {
    const auto damaged = [](const char* why) { return Error{ErrorCode::damaged, "photo", why}; };
    const auto at = [&](std::size_t i) { return std::to_integer<unsigned>(bytes[i]); };
    if (bytes.size() < 4 || at(0) != 0xFF || at(1) != 0xD8)
        return damaged("The picture for the report is not a JPEG.");
    BareJpeg bare;
    bare.bytes.reserve(bytes.size());
    bare.bytes.insert(bare.bytes.end(), bytes.begin(), bytes.begin() + 2);
    for (std::size_t i = 2; i + 4 <= bytes.size();) {
        if (at(i) != 0xFF)
            return damaged("The picture for the report is a damaged JPEG.");
        const unsigned marker = at(i + 1);
        if (marker == 0xFF) { // fill
            ++i;
            continue;
        }
        const std::size_t length = at(i + 2) << 8U | at(i + 3);
        if (length < 2 || i + 2 + length > bytes.size())
            return damaged("The picture for the report is cut short.");
        const auto segment = bytes.subspan(i, 2 + length);
        const bool is_frame =
            marker >= 0xC0 && marker <= 0xCF && marker != 0xC4 && marker != 0xC8 && marker != 0xCC;
        if (is_frame && length >= 8) {
            bare.height = static_cast<int>(at(i + 5) << 8U | at(i + 6));
            bare.width = static_cast<int>(at(i + 7) << 8U | at(i + 8));
            bare.components = static_cast<int>(at(i + 9));
        }
        // APP0 says JFIF and APP14 how the colours are coded; the others are not the picture's.
        const bool is_aside =
            (marker >= 0xE1 && marker <= 0xEF && marker != 0xEE) || marker == 0xFE;
        if (marker == 0xDA) {
            if (bare.width <= 0 || bare.height <= 0 ||
                (bare.components != 1 && bare.components != 3))
                return damaged("The picture for the report is not grey or in three colours.");
            const auto rest = bytes.subspan(i);
            bare.bytes.insert(bare.bytes.end(), rest.begin(), rest.end());
            return bare;
        }
        if (!is_aside)
            bare.bytes.insert(bare.bytes.end(), segment.begin(), segment.end());
        i += 2 + length;
    }
    return damaged("The picture for the report is cut short.");
}

} // namespace railside
