// Making pictures smaller and upright: plain area averaging in the stored (gamma-coded) values, and
// EXIF orientation.
#pragma once

#include "core/store/bench.h"

#include <cstdint>
#include <span>

namespace railside {

/// Averages down so that the longer side is at most `longest` (1 or more); a smaller picture comes
/// back as it is.
[[nodiscard]] Picture shrunk(Picture picture, int longest);
/// The same of pixels that lie elsewhere, `width`·`height`·4 bytes of RGBA.
[[nodiscard]] Picture shrunk(std::span<const std::uint8_t> rgba, int width, int height,
                             int longest);

/// Applies an EXIF orientation, 1 to 8 (Exif 2.3, tag 0112); anything else leaves the picture as it
/// is.
[[nodiscard]] Picture upright(Picture picture, int orientation);

/// Lays the picture on white, so that nothing of it is transparent.
void flatten(Picture& picture);

} // namespace railside
