// The screens Railside is made for, and reading a screen from a text such as "390x844@3".
//
// A screen has its own units (what its system calls a pixel), each so many real pixels (density)
// and so many millimetres wide; real pixels per millimetre = density / mm_per_unit.
#pragma once

#include "app/hosts/host.h"
#include "core/result.h"

#include <optional>
#include <span>
#include <string_view>

namespace railside {

struct ReferenceScreen {
    std::string_view name; // "phone": names files, and may be given instead of a size
    int width = 0;         // units
    int height = 0;        // units
    double density = 1;    // real pixels per unit
    double mm_per_unit = 0.17;
};

/// Smallest first.
[[nodiscard]] std::span<const ReferenceScreen> reference_screens();

/// The surface of that screen, in real pixels.
[[nodiscard]] Screen screen_of(const ReferenceScreen& screen);

/// "800x480", "390x844@3" or the name of a reference screen. Width and height in units; density 0.5
/// to 8, 1 when not given; each side 160 to 8192 real pixels. `mm_per_unit` when not given: that of
/// the reference screen of this size; else 0.166 at a density above 1 and 0.17 at others. Accepted
/// are 2 to 40 real pixels per millimetre. Errors: bad_text, out_of_range.
[[nodiscard]] Result<Screen> parse_screen(std::string_view text,
                                          std::optional<double> mm_per_unit = std::nullopt);

/// A whole number of pixels by another: "1280x800", also with ×. Each 160 to 8192. Errors:
/// bad_text, out_of_range.
struct PixelSize {
    int width = 0;
    int height = 0;
};
[[nodiscard]] Result<PixelSize> parse_pixel_size(std::string_view text);

} // namespace railside
