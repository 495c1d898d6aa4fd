#include "app/rooms/handover_files.h"

#include "core/store/disk.h"
#include "core/store/image.h"
#include "core/store/resize.h"
#include "core/words/words.h"

#include "fonts.h"

#include <fmt/format.h>

#include <array>
#include <cerrno>
#include <fstream>
#include <utility>

namespace railside {

namespace fs = std::filesystem;

namespace {

constexpr int k_view = 1600; // the longer side of the bench's view copies
constexpr int k_quality = 82;

constexpr std::pair<std::string_view, ReportForm> k_endings[] = {
    {".pdf", ReportForm::pdf},
    {".html", ReportForm::html},
    {".txt", ReportForm::text},
    {".htm", ReportForm::html},
};

Document document_of(const Job& job, const BenchBook& book, const ReportWanted& wanted) {
    const ReportFacts facts{wanted.clock.now_ms, wanted.clock.utc_offset_minutes, wanted.bench};
    return make_document(make_report(job, book, facts), wanted.audience);
}

Result<Done> write_form(const Document& document, const ReportWanted& wanted,
                        const ReportOutlets& outlets) {
    switch (wanted.form) {
    case ReportForm::pdf:
        return write_pdf(document, wanted.paper, report_fonts(), outlets);
    case ReportForm::html:
        return write_html(document, outlets);
    case ReportForm::text:
        if (outlets.progress && !outlets.progress(0, 1))
            return report_stopped();
        return outlets.sink(write_text(document));
    }
    return Done{};
}

} // namespace

std::string_view report_form_ending(ReportForm form) {
    for (const auto& known : k_endings)
        if (known.second == form)
            return known.first;
    return {};
}

std::optional<ReportForm> report_form_of(const fs::path& file) {
    std::string ending = file.extension().string();
    for (char& c : ending)
        c = c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c;
    for (const auto& known : k_endings)
        if (known.first == ending)
            return known.second;
    return std::nullopt;
}

ReportPicture report_pictures(Bench& bench) {
    return [&bench](const PhotoRecord& photo, int longest) -> Result<std::vector<std::byte>> {
        Result<Picture> picture = bench.photo_picture(photo.hash, k_view);
        if (!picture.ok())
            return picture.error();
        return encode_jpeg(shrunk(std::move(picture).value(), longest), k_quality);
    };
}

ReportFonts report_fonts() {
    return {{k_b612_regular, k_b612_regular_size},
            {k_b612_bold, k_b612_bold_size},
            {k_dejavu_sans, k_dejavu_sans_size}};
}

std::string report_message(const Job& job, const BenchBook& book, const ReportWanted& wanted) {
    return write_text(document_of(job, book, wanted));
}

Result<Done> write_report(Bench& bench, const Job& job, const BenchBook& book,
                          const ReportWanted& wanted, const fs::path& file,
                          const ReportProgress& progress) {
    std::error_code error;
    if (fs::is_directory(file, error))
        return Error{ErrorCode::refused, file.string(),
                     worded("{} is a folder; a report needs the name of a file.", file.string())};
    fs::path draft = file;
    draft += ".part";
    std::ofstream out(draft, std::ios::binary | std::ios::trunc);
    const auto failed = [&] {
        const int why = errno;
        out.close();
        fs::remove(draft, error);
        return Error{ErrorCode::failed, file.string(),
                     worded("{} could not be written: {}.", file.string(), system_reason(why))};
    };
    if (!out)
        return failed();
    const ReportSink sink = [&](std::string_view bytes) -> Result<Done> {
        out.write(bytes.data(), static_cast<std::streamsize>(bytes.size()));
        return out ? Result<Done>(Done{})
                   : Result<Done>(Error{ErrorCode::failed, file.string(), "full"});
    };
    const Result<Done> written = write_form(document_of(job, book, wanted), wanted,
                                            {report_pictures(bench), sink, progress});
    if (!out || !out.flush())
        return failed();
    out.close();
    if (!written.ok()) {
        fs::remove(draft, error);
        return written.error();
    }
    if (const Result<Done> synced = sync_file(draft); !synced.ok()) {
        fs::remove(draft, error);
        return synced.error();
    }
    fs::rename(draft, file, error);
    if (error) {
        std::error_code ignored;
        fs::remove(draft, ignored);
        return Error{
            ErrorCode::failed, file.string(),
            worded("{} could not be written: {}.", file.string(), system_reason(error.value()))};
    }
    return Done{};
}

} // namespace railside
