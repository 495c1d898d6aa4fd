// A report as a PDF: A4 or Letter, its own fonts inside, pages counted, tables that go on over the
// page with their head, photos in a grid with their marks drawn.
#pragma once

#include "core/handover/writer.h"

#include <optional>
#include <span>
#include <string_view>

namespace railside {

enum class Paper { a4, letter };
[[nodiscard]] std::string_view paper_key(Paper paper);
[[nodiscard]] std::optional<Paper> paper_from_key(std::string_view key);

/// Font files, TrueType or OpenType. What the first two lack is taken from the third; what it lacks
/// as well is shown as U+FFFD and named at the end of the report.
struct ReportFonts {
    std::span<const unsigned char> regular;
    std::span<const unsigned char> bold;
    std::span<const unsigned char> fallback;
};

/// Holds one picture at a time, and the text of the pages until their number is known. Errors:
/// damaged (a font), report_stopped, the sink's.
[[nodiscard]] Result<Done> write_pdf(const Document& document, Paper paper,
                                     const ReportFonts& fonts, const ReportOutlets& outlets);

} // namespace railside
