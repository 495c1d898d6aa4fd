// JPEG through libjpeg-turbo. Its errors end in a longjmp, which never leaves jpeg.cpp; its
// warnings count as damage.
#pragma once

#include "core/result.h"
#include "core/store/image.h"

#include <cstddef>
#include <span>
#include <string_view>
#include <vector>

namespace railside {

/// Walks the markers up to the first scan: sides and EXIF orientation. `facts` beyond these is not
/// touched.
[[nodiscard]] Result<ImageFacts> jpeg_facts(std::span<const std::byte> bytes,
                                            std::string_view file_name);

/// As stored (not turned), scaled by the decoder so that the longer side is at least `longest` if
/// the original's is, and less than twice that. Errors (damaged): any warning of the decoder, more
/// than 100 scans, more than 5 s of work, 12-bit samples.
[[nodiscard]] Result<Picture> jpeg_decode(std::span<const std::byte> bytes, int longest,
                                          std::string_view file_name);

/// `picture` has 1 to 16384 pixels a side; transparent parts become white. quality 1 to 100.
[[nodiscard]] Result<std::vector<std::byte>> jpeg_encode(const Picture& picture, int quality);

} // namespace railside
