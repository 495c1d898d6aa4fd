// PNG through stb_image and stb_image_write, with the checks stb_image leaves out: every chunk's
// CRC and the end chunk.
#pragma once

#include "core/result.h"
#include "core/store/image.h"

#include <cstddef>
#include <span>
#include <string_view>
#include <vector>

namespace railside {

/// Reads the header chunk (PNG, third edition, section 11.2.1).
[[nodiscard]] Result<ImageFacts> png_facts(std::span<const std::byte> bytes,
                                           std::string_view file_name);
/// Averaged down so that the longer side is at most `longest`. Errors (damaged): a wrong CRC, no
/// end chunk, too much memory.
[[nodiscard]] Result<Picture> png_decode(std::span<const std::byte> bytes, int longest,
                                         std::string_view file_name);
/// `picture` has 1 to 16384 pixels a side and at most 100 million in all.
[[nodiscard]] Result<std::vector<std::byte>> png_encode(const Picture& picture);

} // namespace railside
