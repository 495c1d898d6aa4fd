// Where there is no libjpeg: pictures of others are not read in this program at all (who opens the
// bench decodes them, Surroundings::decode), its own drawings are written by stb_image_write.
#include "core/store/jpeg.h"
#include "core/words/words.h"

#include <fmt/format.h>

#include <algorithm>

#define STB_IMAGE_WRITE_IMPLEMENTATION
#define STB_IMAGE_WRITE_STATIC
#define STBI_WRITE_NO_STDIO
#if defined(__GNUC__)
#pragma GCC diagnostic push
#pragma GCC diagnostic ignored "-Wunused-function"
#endif
#include <stb_image_write.h>
#if defined(__GNUC__)
#pragma GCC diagnostic pop
#endif

namespace railside {

namespace {

// From 91 on stb_image_write keeps the full colour resolution: drawn edges stay sharp.
constexpr int k_least_quality = 91;

void add_bytes(void* to, void* data, int size) {
    const auto* bytes = static_cast<const std::byte*>(data);
    auto& all = *static_cast<std::vector<std::byte>*>(to);
    all.insert(all.end(), bytes, bytes + size);
}

} // namespace

Result<Picture> jpeg_decode(std::span<const std::byte>, int, std::string_view file_name) {
    return Error{ErrorCode::refused, std::string(file_name),
                 worded("{} is not read here: there is no JPEG decoder in this build.", file_name)};
}

Result<std::vector<std::byte>> jpeg_encode(const Picture& picture, int quality) {
    std::vector<std::uint8_t> opaque(static_cast<std::size_t>(picture.width) *
                                     static_cast<std::size_t>(picture.height) * 3);
    for (std::size_t i = 0; i < opaque.size(); ++i) {
        const std::uint8_t* pixel = picture.rgba.data() + i / 3 * 4;
        const unsigned alpha = pixel[3];
        opaque[i] =
            static_cast<std::uint8_t>((pixel[i % 3] * alpha + 255U * (255U - alpha) + 127U) / 255U);
    }
    std::vector<std::byte> jpeg;
    if (stbi_write_jpg_to_func(add_bytes, &jpeg, picture.width, picture.height, 3, opaque.data(),
                               std::max(quality, k_least_quality)) == 0)
        return Error{ErrorCode::failed, "picture", "The picture could not be written as JPEG."};
    return jpeg;
}

} // namespace railside
