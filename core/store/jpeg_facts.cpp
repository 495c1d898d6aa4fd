#include "core/store/jpeg.h"
#include "core/words/words.h"

#include <fmt/format.h>

#include <cstring>
#include <optional>

namespace railside {

namespace {

unsigned byte_at(std::span<const std::byte> bytes, std::size_t at) {
    return std::to_integer<unsigned>(bytes[at]);
}

/// Whole numbers of a TIFF structure; nothing is read outside it.
class Tiff {
  public:
    explicit Tiff(std::span<const std::byte> bytes) : bytes_(bytes) {}

    /// The orientation of the first directory, or 1 when there is none or the structure is broken.
    [[nodiscard]] int orientation() {
        constexpr unsigned k_orientation_tag = 0x0112;
        constexpr unsigned k_short = 3;
        constexpr std::size_t k_entry_bytes = 12;
        if (bytes_.size() < 8)
            return 1;
        if (byte_at(bytes_, 0) == 'I' && byte_at(bytes_, 1) == 'I')
            little_ = true;
        else if (byte_at(bytes_, 0) != 'M' || byte_at(bytes_, 1) != 'M')
            return 1;
        if (two(2) != 42U)
            return 1;
        const std::optional<std::size_t> directory = four(4);
        const std::optional<unsigned> count = directory ? two(*directory) : std::nullopt;
        if (!count)
            return 1;
        for (std::size_t i = 0; i < *count; ++i) {
            const std::size_t at = *directory + 2 + i * k_entry_bytes;
            const std::optional<unsigned> tag = two(at);
            if (!tag)
                return 1;
            if (*tag != k_orientation_tag)
                continue;
            const std::optional<unsigned> value = two(at + 8);
            const bool sound = two(at + 2) == k_short && four(at + 4) == std::size_t{1} && value &&
                               *value >= 1 && *value <= 8;
            return sound ? static_cast<int>(*value) : 1;
        }
        return 1;
    }

  private:
    [[nodiscard]] std::optional<unsigned> two(std::size_t at) const {
        if (at > bytes_.size() || bytes_.size() - at < 2)
            return std::nullopt;
        const unsigned a = byte_at(bytes_, at);
        const unsigned b = byte_at(bytes_, at + 1);
        return little_ ? a | b << 8U : a << 8U | b;
    }
    [[nodiscard]] std::optional<std::size_t> four(std::size_t at) const {
        const std::optional<unsigned> a = two(at);
        const std::optional<unsigned> b = two(at + 2);
        if (!a || !b)
            return std::nullopt;
        return little_ ? std::size_t{*a} | std::size_t{*b} << 16U
                       : std::size_t{*a} << 16U | std::size_t{*b};
    }

    std::span<const std::byte> bytes_;
    bool little_ = false;
};

bool is_frame_marker(unsigned marker) {
    // SOF0 to SOF15 without DHT, JPG and DAC, which lie between them (ITU-T T.81, table B.1).
    return marker >= 0xC0 && marker <= 0xCF && marker != 0xC4 && marker != 0xC8 && marker != 0xCC;
}

} // namespace

Result<ImageFacts> jpeg_facts(std::span<const std::byte> bytes, std::string_view file_name) {
    const Error cut_short{
        ErrorCode::damaged, std::string(file_name),
        worded("{} cannot be used: the picture's data is damaged or cut short. Copy it from the "
               "camera once more.",
               file_name)};
    ImageFacts facts;
    bool turned = false;
    std::size_t at = 2; // after SOI
    while (at + 4 <= bytes.size()) {
        if (byte_at(bytes, at) != 0xFF)
            return cut_short;
        const unsigned marker = byte_at(bytes, at + 1);
        if (marker == 0xFF) { // padding
            ++at;
            continue;
        }
        if (marker == 0x01 || (marker >= 0xD0 && marker <= 0xD7)) { // stand alone
            at += 2;
            continue;
        }
        if (marker == 0xD8 || marker == 0xD9 || marker == 0xDA || marker < 0xC0)
            return cut_short; // no frame before the data or the end
        const std::size_t length = byte_at(bytes, at + 2) << 8U | byte_at(bytes, at + 3);
        if (length < 2 || bytes.size() - at - 2 < length)
            return cut_short;
        const std::span<const std::byte> segment = bytes.subspan(at + 4, length - 2);
        if (is_frame_marker(marker)) {
            if (segment.size() < 6)
                return cut_short;
            facts.height = static_cast<int>(byte_at(segment, 1) << 8U | byte_at(segment, 2));
            facts.width = static_cast<int>(byte_at(segment, 3) << 8U | byte_at(segment, 4));
            return facts;
        }
        static constexpr std::string_view k_exif("Exif\0\0", 6);
        if (marker == 0xE1 && !turned && segment.size() > k_exif.size() &&
            std::memcmp(segment.data(), k_exif.data(), k_exif.size()) == 0) {
            facts.orientation = Tiff(segment.subspan(k_exif.size())).orientation();
            turned = true;
        }
        at += 2 + length;
    }
    return cut_short;
}

} // namespace railside
