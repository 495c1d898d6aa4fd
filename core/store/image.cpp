#include "core/store/image.h"

#include "core/store/jpeg.h"
#include "core/store/png.h"
#include "core/store/resize.h"
#include "core/words/words.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cstring>
#include <optional>

namespace railside {

namespace {

constexpr std::size_t k_most_bytes = 64'000'000;
constexpr int k_most_side = 16384;
constexpr std::int64_t k_most_pixels = 100'000'000;

bool has(std::span<const std::byte> bytes, std::size_t at, std::string_view signature) {
    return bytes.size() >= at + signature.size() &&
           std::memcmp(bytes.data() + at, signature.data(), signature.size()) == 0;
}

/// The names of what people's cameras and programs write, where it is not what is read here.
std::optional<std::string_view> foreign_kind(std::span<const std::byte> bytes) {
    if (has(bytes, 4, "ftyp")) {
        for (const std::string_view brand :
             {"heic", "heix", "heim", "heis", "hevc", "hevx", "mif1", "msf1"})
            if (has(bytes, 8, brand))
                return "HEIC";
        if (has(bytes, 8, "avif") || has(bytes, 8, "avis"))
            return "AVIF";
        return "video";
    }
    if (has(bytes, 0, "RIFF") && has(bytes, 8, "WEBP"))
        return "WebP";
    if (has(bytes, 0, "GIF8"))
        return "GIF";
    if (has(bytes, 0, std::string_view("II*\0", 4)) || has(bytes, 0, std::string_view("MM\0*", 4)))
        return "TIFF or raw";
    if (has(bytes, 0, "%PDF"))
        return "PDF";
    if (has(bytes, 0, "BM"))
        return "BMP";
    return std::nullopt;
}

Result<Done> check_encodable(const Picture& picture) {
    const std::int64_t pixels = std::int64_t{picture.width} * picture.height;
    if (picture.width < 1 || picture.height < 1 || picture.width > k_most_side ||
        picture.height > k_most_side || pixels > k_most_pixels ||
        picture.rgba.size() != static_cast<std::size_t>(pixels) * 4)
        return Error{
            ErrorCode::out_of_range, "picture",
            worded("A picture of {} x {} pixels cannot be written; accepted is 1 to {} a side.",
                   picture.width, picture.height, k_most_side)};
    return Done{};
}

} // namespace

Result<ImageFacts> sniff_image(std::span<const std::byte> bytes, std::string_view file_name) {
    const auto refuse = [&](std::string message) {
        return Error{ErrorCode::damaged, std::string(file_name), std::move(message)};
    };
    if (bytes.size() > k_most_bytes)
        return refuse(
            worded("{} is {} MB; at most {} MB are accepted. Save it smaller, then add it again.",
                   file_name, (bytes.size() + 999'999) / 1'000'000, k_most_bytes / 1'000'000));
    std::optional<Result<ImageFacts>> read;
    if (has(bytes, 0, "\xFF\xD8\xFF"))
        read = jpeg_facts(bytes, file_name);
    else if (has(bytes, 0, "\x89PNG\r\n\x1A\n"))
        read = png_facts(bytes, file_name);
    if (!read) {
        const std::optional<std::string_view> kind = foreign_kind(bytes);
        if (kind == "HEIC")
            return refuse(worded("{} is a HEIC picture, which is not read here. Set the "
                                 "camera to \"Most compatible\" "
                                 "(JPEG), or export it as JPEG, then add it again.",
                                 file_name));
        if (kind)
            return refuse(worded("{} is a {} file, which is not read here. Export it as JPEG "
                                 "or PNG, then add it again.",
                                 file_name, *kind));
        return refuse(worded("{} is not a picture; JPEG and PNG are accepted.", file_name));
    }
    if (!read->ok())
        return *read;
    const ImageFacts& facts = **read;
    if (facts.width < 1 || facts.height < 1)
        return refuse(worded("{} cannot be used: it says it is {} x {} pixels.", file_name,
                             facts.width, facts.height));
    if (facts.width > k_most_side || facts.height > k_most_side ||
        std::int64_t{facts.width} * facts.height > k_most_pixels)
        return refuse(worded(
            "{} is {} x {} pixels; accepted are at most {} a side and {} million in all. Save it "
            "smaller, then add it again.",
            file_name, facts.width, facts.height, k_most_side, k_most_pixels / 1'000'000));
    return facts;
}

Result<Picture> decode_image(std::span<const std::byte> bytes, int longest,
                             std::string_view file_name) {
    if (longest < 1 || longest > k_most_side)
        return Error{ErrorCode::out_of_range, "longest",
                     worded("A picture of {} pixels was asked for; accepted is 1 to {}.", longest,
                            k_most_side)};
    const Result<ImageFacts> facts = sniff_image(bytes, file_name);
    if (!facts.ok())
        return facts.error();
    Result<Picture> picture = facts->type == ImageType::jpeg
                                  ? jpeg_decode(bytes, longest, file_name)
                                  : png_decode(bytes, longest, file_name);
    if (!picture.ok())
        return picture;
    return upright(shrunk(std::move(picture).value(), longest), facts->orientation);
}

Result<std::vector<std::byte>> encode_png(const Picture& picture) {
    if (Result<Done> fine = check_encodable(picture); !fine.ok())
        return fine.error();
    return png_encode(picture);
}

Result<std::vector<std::byte>> encode_jpeg(const Picture& picture, int quality) {
    if (Result<Done> fine = check_encodable(picture); !fine.ok())
        return fine.error();
    if (quality < 1 || quality > 100)
        return Error{ErrorCode::out_of_range, "quality",
                     worded("A JPEG quality of {} was given; accepted is 1 to 100.", quality)};
    return jpeg_encode(picture, quality);
}

} // namespace railside
