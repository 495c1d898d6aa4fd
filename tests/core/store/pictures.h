// Pictures for the store's tests, made here: plain ones, JPEGs of every orientation and of many
// scans, PNGs of great size.
#pragma once

#include "core/store/bench.h"
#include "core/store/image.h"

#include <cstddef>
#include <cstdint>
#include <cstdio>
#include <cstdlib>
#include <span>
#include <stdexcept>
#include <string>
#include <string_view>
#include <vector>

#include <jpeglib.h>

using Bytes = std::vector<std::byte>;

inline Bytes bytes_of(std::string_view text) {
    const auto* data = reinterpret_cast<const std::byte*>(text.data());
    return {data, data + text.size()};
}

/// Four quarters: red, green on top, blue, white below; nothing in it is symmetric.
inline railside::Picture quarters(int width, int height) {
    railside::Picture picture{width, height, {}};
    for (int y = 0; y < height; ++y)
        for (int x = 0; x < width; ++x) {
            const bool right = x >= width / 2;
            const bool low = y >= height / 2;
            const std::uint8_t red = right == low ? 230 : 20;
            const std::uint8_t green = right ? 230 : 20;
            const std::uint8_t blue = low ? 230 : 20;
            picture.rgba.insert(picture.rgba.end(), {red, green, blue, 255});
        }
    return picture;
}

/// A picture with detail everywhere, so that no part of its data is idle.
inline railside::Picture busy(int width, int height, unsigned seed = 1) {
    railside::Picture picture{width, height, {}};
    std::uint32_t state = seed * 2654435761U + 1;
    for (int y = 0; y < height; ++y)
        for (int x = 0; x < width; ++x) {
            state = state * 1664525U + 1013904223U;
            const auto noise = static_cast<std::uint8_t>(state >> 26U);
            picture.rgba.push_back(static_cast<std::uint8_t>((x * 5 + noise) & 255));
            picture.rgba.push_back(static_cast<std::uint8_t>((y * 7 + noise) & 255));
            picture.rgba.push_back(static_cast<std::uint8_t>((x * y + noise) & 255));
            picture.rgba.push_back(255);
        }
    return picture;
}

enum class Scans { one, progressive, very_many };

/// Written with libjpeg itself, not with what is tested.
inline Bytes make_jpeg(const railside::Picture& picture, Scans scans = Scans::one,
                       J_COLOR_SPACE space = JCS_YCbCr) {
    jpeg_compress_struct library = {};
    jpeg_error_mgr errors = {};
    library.err = jpeg_std_error(&errors);
    jpeg_create_compress(&library);
    unsigned char* data = nullptr;
    unsigned long size = 0;
    jpeg_mem_dest(&library, &data, &size);
    library.image_width = static_cast<JDIMENSION>(picture.width);
    library.image_height = static_cast<JDIMENSION>(picture.height);
    const bool ink = space == JCS_CMYK;
    library.input_components = ink ? 4 : 3;
    library.in_color_space = ink ? JCS_CMYK : JCS_RGB;
    jpeg_set_defaults(&library);
    jpeg_set_colorspace(&library, space);
    jpeg_set_quality(&library, 95, TRUE);
    std::vector<jpeg_scan_info> script;
    if (scans == Scans::progressive)
        jpeg_simple_progression(&library);
    if (scans == Scans::very_many) {
        // One scan for all the means, then one for every other coefficient of every component: 1 +
        // 3·63.
        script.push_back({3, {0, 1, 2, 0}, 0, 0, 0, 0});
        for (int component = 0; component < 3; ++component)
            for (int k = 1; k < 64; ++k)
                script.push_back({1, {component, 0, 0, 0}, k, k, 0, 0});
        library.scan_info = script.data();
        library.num_scans = static_cast<int>(script.size());
    }
    jpeg_start_compress(&library, TRUE);
    std::vector<unsigned char> line;
    while (library.next_scanline < library.image_height) {
        line.clear();
        for (int x = 0; x < picture.width; ++x) {
            const std::size_t at =
                4 * (library.next_scanline * static_cast<std::size_t>(picture.width) +
                     static_cast<std::size_t>(x));
            for (std::size_t c = 0; c < 3; ++c) // Adobe's inks: 255 is none
                line.push_back(picture.rgba[at + c]);
            if (ink)
                line.push_back(255);
        }
        unsigned char* row = line.data();
        jpeg_write_scanlines(&library, &row, 1);
    }
    jpeg_finish_compress(&library);
    const auto* begin = reinterpret_cast<const std::byte*>(data);
    Bytes bytes(begin, begin + size);
    jpeg_destroy_compress(&library);
    std::free(data);
    return bytes;
}

/// A JPEG with this segment put in after its first marker.
inline Bytes with_segment(const Bytes& jpeg, int marker, std::string_view body) {
    Bytes all(jpeg.begin(), jpeg.begin() + 2);
    const std::size_t length = body.size() + 2;
    for (const std::size_t value :
         {std::size_t{0xFF}, static_cast<std::size_t>(marker), length >> 8U, length & 0xFFU})
        all.push_back(static_cast<std::byte>(value));
    const Bytes middle = bytes_of(body);
    all.insert(all.end(), middle.begin(), middle.end());
    all.insert(all.end(), jpeg.begin() + 2, jpeg.end());
    return all;
}

enum class ByteOrder { little, big };

/// The body of an Exif segment that holds an orientation after another tag.
inline std::string exif_orientation(int orientation, ByteOrder order) {
    std::string text("Exif\0\0", 6);
    const auto put = [&](unsigned value, int bytes) {
        for (int i = 0; i < bytes; ++i) {
            const int shift = order == ByteOrder::little ? 8 * i : 8 * (bytes - 1 - i);
            text += static_cast<char>(value >> shift & 0xFFU);
        }
    };
    text += order == ByteOrder::little ? "II" : "MM";
    put(42, 2);
    put(8, 4);
    put(2, 2);
    put(0x0100, 2); // image width, a LONG
    put(4, 2);
    put(1, 4);
    put(640, 4);
    put(0x0112, 2); // orientation, a SHORT
    put(3, 2);
    put(1, 4);
    put(static_cast<unsigned>(orientation), 2);
    put(0, 2);
    put(0, 4);
    return text;
}

/// A PNG of nothing but zero bytes: 8 or 16 bits a sample, colour type as in the format (0 grey, 2
/// RGB, 6 RGBA). Its data is one deflate block with the fixed codes (RFC 1951, 3.2.6): a zero, then
/// matches of 258 bytes at distance 1.
inline Bytes make_zero_png(std::uint32_t width, std::uint32_t height, int bits, int colour_type) {
    const auto crc = [](std::string_view text) {
        std::uint32_t c = 0xFFFFFFFFU;
        for (const char letter : text) {
            c ^= static_cast<unsigned char>(letter);
            for (int k = 0; k < 8; ++k)
                c = (c & 1U) != 0 ? 0xEDB88320U ^ c >> 1U : c >> 1U;
        }
        return ~c;
    };
    const auto four = [](std::uint32_t value) {
        std::string text;
        for (int shift = 24; shift >= 0; shift -= 8)
            text += static_cast<char>(value >> shift & 0xFFU);
        return text;
    };
    std::string file("\x89PNG\r\n\x1A\n", 8);
    const auto chunk = [&](const std::string& name, const std::string& body) {
        file +=
            four(static_cast<std::uint32_t>(body.size())) + name + body + four(crc(name + body));
    };
    const int samples = colour_type == 0 ? 1 : colour_type == 2 ? 3 : 4;
    chunk("IHDR", four(width) + four(height) + static_cast<char>(bits) +
                      static_cast<char>(colour_type) + std::string(3, '\0'));

    std::string data = "\x78\x01";
    unsigned held = 0;
    int count = 0;
    const auto bit = [&](unsigned value) {
        held |= value << count;
        if (++count == 8) {
            data += static_cast<char>(held);
            held = 0;
            count = 0;
        }
    };
    const auto code = [&](unsigned value, int length) {
        for (int i = length - 1; i >= 0; --i)
            bit(value >> i & 1U);
    };
    std::uint64_t left =
        height * (std::uint64_t{1} + width * static_cast<std::uint64_t>(samples * bits / 8));
    bit(1);
    bit(1);
    bit(0);
    const auto zero = [&] {
        code(0x30, 8); // literal 0
        --left;
    };
    zero();
    while (left >= 258) {
        code(0xC5, 8); // length 258: symbol 285, the last of the codes from 11000000
        code(0, 5);    // distance 1
        left -= 258;
    }
    while (left > 0)
        zero();
    code(0, 7); // end of block
    while (count != 0)
        bit(0);
    data += four(0); // the checksum of zlib, which PNG readers leave to the CRC
    chunk("IDAT", data);
    chunk("IEND", "");
    return bytes_of(file);
}
