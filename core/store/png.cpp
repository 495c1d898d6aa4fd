#include "core/store/png.h"

#include "core/store/resize.h"
#include "core/words/words.h"

#include <fmt/format.h>

#include <array>
#include <climits>
#include <cstdint>
#include <cstdlib>
#include <cstring>
#include <memory>

namespace {

// The largest single piece stb_image may ask for: 100 million pixels of 4 bytes and their filter
// bytes. Without this a small file could make it ask for gigabytes.
constexpr std::size_t k_most_piece = 450'000'000;

void* limited_malloc(std::size_t size) { return size > k_most_piece ? nullptr : std::malloc(size); }
void* limited_realloc(void* piece, std::size_t size) {
    return size > k_most_piece ? nullptr : std::realloc(piece, size);
}

} // namespace

// 2.30 or later (app/setup/third_party.cmake sees to it): the JPEG reader of earlier ones writes
// out of bounds, which is beside the point here, but their PNG reader's size checks have gaps too.
#define STB_IMAGE_IMPLEMENTATION
#define STB_IMAGE_STATIC
#define STBI_ONLY_PNG
#define STBI_NO_STDIO
#define STBI_MAX_DIMENSIONS 16384
#define STBI_MALLOC(size) limited_malloc(size)
#define STBI_REALLOC(piece, size) limited_realloc(piece, size)
#define STBI_FREE(piece) std::free(piece)
#define STB_IMAGE_WRITE_IMPLEMENTATION
#define STB_IMAGE_WRITE_STATIC
#define STBI_WRITE_NO_STDIO
#if defined(__GNUC__)
#pragma GCC diagnostic push
#pragma GCC diagnostic ignored "-Wunused-function"
#endif
#include <stb_image.h>
#include <stb_image_write.h>
#if defined(__GNUC__)
#pragma GCC diagnostic pop
#endif

namespace railside {

namespace {

constexpr std::size_t k_signature_bytes = 8;
constexpr std::size_t k_chunk_frame = 12; // length, name, CRC

std::uint32_t four_at(std::span<const std::byte> bytes, std::size_t at) {
    std::uint32_t value = 0;
    for (std::size_t i = 0; i < 4; ++i)
        value = value << 8U | std::to_integer<std::uint32_t>(bytes[at + i]);
    return value;
}

/// PNG, third edition, annex D: the CRC of ISO 3309.
std::uint32_t crc(std::span<const std::byte> bytes) {
    static constexpr std::array<std::uint32_t, 256> k_table = [] {
        std::array<std::uint32_t, 256> table = {};
        for (std::uint32_t n = 0; n < table.size(); ++n) {
            std::uint32_t c = n;
            for (int k = 0; k < 8; ++k)
                c = (c & 1U) != 0 ? 0xEDB88320U ^ c >> 1U : c >> 1U;
            table[n] = c;
        }
        return table;
    }();
    std::uint32_t c = 0xFFFFFFFFU;
    for (const std::byte byte : bytes)
        c = k_table[(c ^ std::to_integer<std::uint32_t>(byte)) & 0xFFU] ^ c >> 8U;
    return ~c;
}

Error damaged(std::string_view file_name) {
    return Error{ErrorCode::damaged, std::string(file_name),
                 worded("{} cannot be used: the picture's data is damaged or cut short. Copy "
                        "it from where it was made "
                        "once more.",
                        file_name)};
}

/// Whether all chunks up to the end chunk are there and have kept their CRC. What follows the end
/// is not looked at.
bool chunks_sound(std::span<const std::byte> bytes) {
    std::size_t at = k_signature_bytes;
    while (at <= bytes.size() && bytes.size() - at >= k_chunk_frame) {
        const std::size_t length = four_at(bytes, at);
        if (length > bytes.size() - at - k_chunk_frame)
            return false;
        if (crc(bytes.subspan(at + 4, length + 4)) != four_at(bytes, at + 8 + length))
            return false;
        if (std::memcmp(bytes.data() + at + 4, "IEND", 4) == 0)
            return true;
        at += length + k_chunk_frame;
    }
    return false;
}

struct Free {
    void operator()(void* piece) const { std::free(piece); }
};

} // namespace

Result<ImageFacts> png_facts(std::span<const std::byte> bytes, std::string_view file_name) {
    constexpr std::size_t k_header_length = 13;
    if (bytes.size() < k_signature_bytes + k_chunk_frame + k_header_length ||
        four_at(bytes, 8) != k_header_length || std::memcmp(bytes.data() + 12, "IHDR", 4) != 0)
        return damaged(file_name);
    constexpr std::uint32_t k_past_any = 0x7FFFFFFF;
    const std::uint32_t width = four_at(bytes, 16);
    const std::uint32_t height = four_at(bytes, 20);
    if (width > k_past_any || height > k_past_any)
        return damaged(file_name);
    return ImageFacts{ImageType::png, static_cast<int>(width), static_cast<int>(height), 1};
}

Result<Picture> png_decode(std::span<const std::byte> bytes, int longest,
                           std::string_view file_name) {
    if (bytes.size() > INT_MAX || !chunks_sound(bytes))
        return damaged(file_name);
    int width = 0;
    int height = 0;
    int channels = 0;
    const std::unique_ptr<stbi_uc, Free> pixels(
        stbi_load_from_memory(reinterpret_cast<const stbi_uc*>(bytes.data()),
                              static_cast<int>(bytes.size()), &width, &height, &channels, 4));
    if (pixels == nullptr) {
        // Where the memory for inflating cannot be had no reason is given.
        const char* const reason = stbi_failure_reason();
        if (reason == nullptr || std::string_view(reason) == "outofmem")
            return Error{ErrorCode::damaged, std::string(file_name),
                         worded("{} cannot be used: it asks for more memory than a picture "
                                "may take. Save it smaller, "
                                "then add it again.",
                                file_name)};
        return damaged(file_name);
    }
    // Straight from the decoder's own piece: a second one of that size would be too much for the
    // largest pictures.
    const std::size_t size = static_cast<std::size_t>(width) * static_cast<std::size_t>(height) * 4;
    return shrunk(std::span<const std::uint8_t>(pixels.get(), size), width, height, longest);
}

Result<std::vector<std::byte>> png_encode(const Picture& picture) {
    int size = 0;
    const std::unique_ptr<unsigned char, Free> data(stbi_write_png_to_mem(
        picture.rgba.data(), picture.width * 4, picture.width, picture.height, 4, &size));
    if (data == nullptr)
        return Error{ErrorCode::failed, "picture",
                     "There is not enough memory to write the picture as PNG."};
    const auto* bytes = reinterpret_cast<const std::byte*>(data.get());
    return std::vector<std::byte>(bytes, bytes + size);
}

} // namespace railside
