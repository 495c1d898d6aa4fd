// A job's report as a file: its pictures from the bench, its fonts from the program.
#pragma once

#include "app/rooms/state.h"
#include "core/handover/document.h"
#include "core/handover/pdf_writer.h"
#include "core/store/bench.h"

#include <filesystem>
#include <optional>
#include <string_view>

namespace railside {

[[nodiscard]] std::string_view report_form_ending(ReportForm form); // ".pdf"
/// By the ending of the file's name, in letters of either size; ".htm" as well.
[[nodiscard]] std::optional<ReportForm> report_form_of(const std::filesystem::path& file);

struct ReportWanted {
    ReportForm form = ReportForm::pdf;
    Audience audience = Audience::client;
    Paper paper = Paper::a4; // PDF
    Clock clock;             // stands when it is made
    std::string bench = {};  // who hands it back
};

/// The bench's photos as a report takes them: from the view copies, made anew as JPEG, so that
/// nothing of the original's EXIF is in them. `bench` must outlive it.
[[nodiscard]] ReportPicture report_pictures(Bench& bench);
[[nodiscard]] ReportFonts report_fonts();

/// The report as plain text, for a message.
[[nodiscard]] std::string report_message(const Job& job, const BenchBook& book,
                                         const ReportWanted& wanted);

/// Writes it whole or not at all; a file of that name is replaced. `progress` answers false to
/// stop. Errors: report_stopped, refused (a folder has that name), failed (the disk).
[[nodiscard]] Result<Done> write_report(Bench& bench, const Job& job, const BenchBook& book,
                                        const ReportWanted& wanted,
                                        const std::filesystem::path& file,
                                        const ReportProgress& progress = {});

} // namespace railside
