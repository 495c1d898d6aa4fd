// Pictures in and out: JPEG (libjpeg-turbo, DCT-scaled) and PNG (stb_image 2.30 or later) in, PNG
// and JPEG out, EXIF orientation. Untrusted bytes are decoded in a child process with limits (see
// decode_apart); the in-process form serves that child and the fuzzers.
#pragma once

#include "core/result.h"
#include "core/store/bench.h"

#include <cstddef>
#include <filesystem>
#include <span>
#include <string_view>
#include <vector>

namespace railside {

enum class ImageType { jpeg, png };

/// What the first bytes say, without decoding.
struct ImageFacts {
    ImageType type = ImageType::jpeg;
    int width = 0; // as stored
    int height = 0;
    int orientation = 1; // EXIF 1..8
};

/// Signature and size checks only. Errors (damaged): not JPEG or PNG (HEIC and others named, with
/// what to do), over 64 MB, a side over 16384, over 100 million pixels, truncated header.
[[nodiscard]] Result<ImageFacts> sniff_image(std::span<const std::byte> bytes,
                                             std::string_view file_name);

/// Decodes upright (orientation applied) so that the longer side is at most `longest`. Damaged
/// files (any decoder warning) are refused.
[[nodiscard]] Result<Picture> decode_image(std::span<const std::byte> bytes, int longest,
                                           std::string_view file_name);

/// The same in a child process with limited memory, processor time and no access to files.
/// `decoder` is the program railside-decoder. Where child processes do not exist (web) or the
/// program is missing it is an error, never a silent fallback.
[[nodiscard]] Result<Picture> decode_apart(const std::filesystem::path& decoder,
                                           std::span<const std::byte> bytes, int longest,
                                           std::string_view file_name);

/// Where railside-decoder lies: beside the running program, or RAILSIDE_DECODER.
[[nodiscard]] std::filesystem::path decoder_path();

[[nodiscard]] Result<std::vector<std::byte>> encode_png(const Picture& picture);
[[nodiscard]] Result<std::vector<std::byte>> encode_jpeg(const Picture& picture, int quality);

} // namespace railside
