// The demo job's photographs, drawn by the program: a fictional amplifier, its boards and what an
// earlier repair left in it.
#pragma once

#include "core/store/bench.h"

#include <optional>
#include <span>
#include <string_view>
#include <vector>

namespace railside {

enum class BandColour {
    black,
    brown,
    red,
    orange,
    yellow,
    green,
    blue,
    violet,
    grey,
    white,
    gold,
    silver
};

/// The four bands of a resistor after IEC 60062: two figures, multiplier, tolerance (5 %, gold).
/// ohm 0.1 to 99e6 and two significant figures, else nothing.
[[nodiscard]] std::optional<std::vector<BandColour>> resistor_bands(double ohm);

/// A resistor in the picture "emitter_resistors", where a test (or a mark) can find it: middle and
/// length of its body in 1/1600 of the picture's width, turn in radians.
struct DrawnResistor {
    std::string_view designator;
    double ohm = 0;
    float x = 0;
    float y = 0;
    float length = 0;
    float turn = 0;
};
[[nodiscard]] std::span<const DrawnResistor> drawn_resistors();
/// Where a band's middle lies along the body, −0.5 to 0.5 of its length, for bands 0 to 3.
[[nodiscard]] float band_place(int band);
/// The colour a band is painted with, 0xRRGGBB, before the lens adds its own.
[[nodiscard]] std::uint32_t band_paint(BandColour colour);

/// Names of the pictures, in the order they were taken.
[[nodiscard]] std::span<const std::string_view> demo_picture_names();

/// The picture of that name, 4:3, `width` pixels wide (160 to 3200), opaque; always the same
/// pixels. Nothing for another name or width.
[[nodiscard]] std::optional<Picture> demo_picture(std::string_view name, int width);

} // namespace railside
