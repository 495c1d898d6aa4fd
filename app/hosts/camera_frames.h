// What a camera's buffers hold, made into pixels for the screen and JPEG files for the job. The
// frames come from an attached device, not from a stranger's file, and only one of fixed form
// (baseline, one scan) is taken: so they are decoded in this process, with libjpeg's errors caught,
// sizes bounded and the work scaled down, and not in a process apart as photos are.
#pragma once

#include "app/hosts/camera.h"
#include "core/result.h"

#include <cstddef>
#include <cstdint>
#include <optional>
#include <span>
#include <string>

namespace railside {

enum class RawForm {
    yuyv,  // Y0 U Y1 V, two bytes a pixel, BT.601
    rgb24, // R G B
};

/// A frame as it comes; `line_bytes` may be more than the pixels of a line need.
struct RawFrame {
    RawForm form = RawForm::yuyv;
    int width = 0;
    int height = 0;
    int line_bytes = 0;
    bool full_range = false; // luma 0 to 255 instead of 16 to 235
    std::span<const std::uint8_t> bytes;
};

constexpr int k_most_frame_side = 16384;
constexpr int k_still_quality = 92;

/// The serial number is 0. Nothing when the buffer is shorter than the frame, or a side is not 1 to
/// k_most_frame_side. Averaged down by a whole number so that the longest side is at most
/// `longest`.
[[nodiscard]] std::optional<CameraFrame> preview_of(const RawFrame& raw, int longest);
/// The same of a JPEG, scaled by eighths. Nothing when it is broken or cut short.
[[nodiscard]] std::optional<CameraFrame> preview_of_jpeg(std::span<const std::uint8_t> jpeg,
                                                         int longest);

/// Errors: damaged as for preview_of, failed when libjpeg cannot write it.
[[nodiscard]] Result<std::string> still_of(const RawFrame& raw);
/// The camera's own bytes up to the end marker where they are a file that every reader takes
/// without complaint. Where the code tables are left out, as motion JPEG allows, the standard ones
/// are put in. A frame with stray bytes inside is written anew. Errors: damaged when the frame is
/// broken or cut short: take the next one.
[[nodiscard]] Result<std::string> still_of_jpeg(std::span<const std::uint8_t> jpeg);

} // namespace railside
