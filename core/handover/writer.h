// What the writers of a report need from outside: pictures one at a time, somewhere to put the
// bytes, and someone who may stop them.
#pragma once

#include "core/handover/document.h"
#include "core/result.h"

#include <cstddef>
#include <functional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace railside {

/// The photo as JPEG, upright, its longer side at most `longest` pixels. Called once for each
/// photo, and each answer is let go before the next call. What cannot be had is an error: the
/// report then says so in its place.
using ReportPicture =
    std::function<Result<std::vector<std::byte>>(const PhotoRecord& photo, int longest)>;

/// Told after each step; `false` stops the writing.
using ReportProgress = std::function<bool(int done, int of)>;

/// Takes the file's bytes in order. An error stops the writing and is passed on.
using ReportSink = std::function<Result<Done>(std::string_view bytes)>;

struct ReportOutlets {
    ReportPicture picture;
    ReportSink sink;
    ReportProgress progress = {};
};

/// "The report was stopped." (refused): what a writer answers when progress said so.
[[nodiscard]] Error report_stopped();
/// How many times progress is told: the photos and one more.
[[nodiscard]] int report_steps(const Document& document);

/// Plain text of at most `columns` columns (20 to 200), for a message: without photos and glossary.
[[nodiscard]] std::string write_text(const Document& document, std::size_t columns = 78);

/// One HTML file that needs nothing else: style inline, pictures inside. Errors: report_stopped,
/// the sink's.
[[nodiscard]] Result<Done> write_html(const Document& document, const ReportOutlets& outlets);

/// A JPEG without what is no picture: EXIF with its place and time, comments, profiles.
struct BareJpeg {
    std::vector<std::byte> bytes;
    int width = 0;
    int height = 0;
    int components = 3; // 1 or 3
};
/// Errors: damaged (not a JPEG, cut short, 4 components).
[[nodiscard]] Result<BareJpeg> bare_jpeg(std::span<const std::byte> bytes);

} // namespace railside
