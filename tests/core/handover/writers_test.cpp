#include "core/handover/pdf_writer.h"
#include "core/handover/unicode.h"
#include "core/handover/writer.h"
#include "support/catch.h"
#include "support/temp_folder.h"

#include "fonts.h"
#include "hall.h"

#include <algorithm>
#include <cstdio>
#include <cstdlib>
#include <fstream>

#include <sys/resource.h>

using namespace railside;
using hall::Hall;

namespace {

bool holds(std::string_view text, std::string_view part) {
    return text.find(part) != std::string_view::npos;
}

ReportFonts fonts() {
    return {{k_b612_regular, k_b612_regular_size},
            {k_b612_bold, k_b612_bold_size},
            {k_dejavu_sans, k_dejavu_sans_size}};
}

Result<std::vector<std::byte>> picture(const PhotoRecord&, int) { return hall::jpeg(400, 300); }

ReportOutlets outlets_to(std::string& file, ReportPicture pictures = picture) {
    return {std::move(pictures), [&file](std::string_view bytes) -> Result<Done> {
                file += bytes;
                return Done{};
            }};
}

std::string pdf_of(const Document& document, Paper paper = Paper::a4,
                   const ReportPicture& pictures = picture) {
    std::string file;
    const Result<Done> written = write_pdf(document, paper, fonts(), outlets_to(file, pictures));
    INFO((written.ok() ? "" : written.error().message));
    REQUIRE(written.ok());
    return file;
}

std::string html_of(const Document& document, const ReportPicture& pictures = picture) {
    std::string file;
    REQUIRE(write_html(document, outlets_to(file, pictures)).ok());
    return file;
}

bool has_program(const char* name) {
    return std::system((std::string("command -v ") + name + " >/dev/null 2>&1").c_str()) == 0;
}

std::string output_of(const std::string& command) {
    std::string out;
    FILE* pipe = ::popen(command.c_str(), "r");
    REQUIRE(pipe != nullptr);
    char bytes[4096];
    while (const std::size_t got = std::fread(bytes, 1, sizeof bytes, pipe))
        out.append(bytes, got);
    CHECK(::pclose(pipe) == 0);
    return out;
}

/// Opened tags are closed in turn; attributes are quoted; no bare ampersand.
std::string ill_formed(std::string_view html) {
    std::vector<std::string> open;
    for (std::size_t i = 0; i < html.size(); ++i) {
        if (html[i] == '&' && html.find(';', i) > i + 8)
            return "a bare ampersand";
        if (html[i] != '<' || html.substr(i, 9) == "<!DOCTYPE")
            continue;
        std::size_t end = i + 1;
        for (bool quoted = false; end < html.size() && (quoted || html[end] != '>'); ++end)
            if (html[end] == '"')
                quoted = !quoted;
        const std::string_view tag = html.substr(i + 1, end - i - 1);
        const std::string name(tag.substr(0, tag.find_first_of(" /", 1)));
        if (tag.starts_with('/')) {
            if (open.empty() || "/" + open.back() != tag)
                return std::string(tag);
            open.pop_back();
        } else if (!tag.ends_with('/')) {
            open.push_back(name);
        }
        if (name == "style")
            end = html.find("</style>", end) - 1;
        i = end;
    }
    return open.empty() ? "" : open.back();
}

/// A job whose words are meant to break out of whatever they stand in.
Hall hostile() {
    Hall hall;
    hall.writer.add(EntryKind::job, {{"model", "<script>alert(1)</script> \"&' SA-260"},
                                     {"complaint", "hum & buzz <b>loud</b>\nat 10 % ]]> -->"}});
    return hall;
}

} // namespace

TEST_CASE("html: it is well formed, needs nothing from outside, and holds every word",
          "[core][handover]") {
    for (const Hall& hall : {Hall(), hostile()})
        for (const Audience audience : {Audience::client, Audience::bench}) {
            const Document document = make_document(hall.report(), audience);
            const std::string html = html_of(document);
            CHECK(ill_formed(html).empty());
            // Pictures are base 64, in which anything may stand.
            const std::string words =
                html.substr(0, html.find("base64,")) + html.substr(html.find("</figure>"));
            for (const char* outside :
                 {"http:", "https:", "src=\"//", "url(", "<script", "<link", "@import"})
                CHECK_FALSE(holds(words, outside));
            CHECK(holds(html, "scope=\"col\""));
            CHECK(holds(html, "scope=\"row\""));
            CHECK(holds(html, "width=device-width"));
            CHECK(holds(html, "data:image/jpeg;base64,/9j/"));
            CHECK(holds(html, "<ellipse"));
            CHECK(holds(html, "Both sides play again."));
        }
    CHECK(holds(html_of(make_document(hostile().report(), Audience::client)),
                "&lt;script&gt;alert(1)&lt;/script&gt; &quot;&amp;&#39; SA-260"));
    if (!has_program("xmllint"))
        return;
    const TempFolder folder;
    const std::string file = (folder.path() / "r.html").string();
    std::ofstream(file, std::ios::binary)
        << html_of(make_document(hostile().report(), Audience::bench));
    output_of("xmllint --noout --nonet '" + file + "'");
}

TEST_CASE("text: no line is longer than its columns, and every caution and sum is there",
          "[core][handover]") {
    for (const std::size_t columns : {std::size_t{40}, std::size_t{78}}) {
        const std::string text =
            write_text(make_document(hostile().report(), Audience::client), columns);
        std::size_t begin = 0;
        while (begin < text.size()) {
            const std::size_t end = text.find('\n', begin);
            const std::u32string line = characters_of(text.substr(begin, end - begin));
            CHECK(std::count_if(line.begin(), line.end(), takes_room) <=
                  static_cast<std::ptrdiff_t>(columns));
            begin = end + 1;
        }
    }
    const std::string text = write_text(make_document(Hall().report(), Audience::client));
    for (const char* part : {"STILL WANTING", "Sleeve the bridge", "! ", "64.80 EUR"})
        CHECK(holds(text, part));
    CHECK_FALSE(holds(text, "WORDS OF THE TRADE"));
}

TEST_CASE("pdf: its text comes out again on both papers, with pages counted", "[core][handover]") {
    const TempFolder folder;
    const std::string file = (folder.path() / "r.pdf").string();
    for (const Paper paper : {Paper::a4, Paper::letter}) {
        const std::string pdf = pdf_of(make_document(Hall().report(), Audience::bench), paper);
        CHECK(pdf.starts_with("%PDF-1.7"));
        CHECK(pdf.ends_with("%%EOF\n"));
        // The table of places names where each object begins.
        const std::size_t table = std::stoul(pdf.substr(pdf.rfind("startxref") + 10));
        REQUIRE(pdf.substr(table, 5) == "xref\n");
        const std::size_t first = std::stoul(pdf.substr(pdf.find('\n', table + 5) + 21, 10));
        CHECK(pdf.substr(first, 7) == "1 0 obj");
        if (!has_program("pdftotext") || !has_program("pdftoppm"))
            continue;
        std::ofstream(file, std::ios::binary) << pdf;
        const std::string text = output_of("pdftotext -layout '" + file + "' - 2>&1");
        for (const char* part :
             {"Both sides play again.", "Sleeve the bridge", "1 of ", "4 Ω", "What was found",
              "All readings", "bare wire", "Bench by the river", "96.0"})
            CHECK(holds(text, part));
        const std::string info = output_of("pdfinfo '" + file + "' 2>&1");
        CHECK(holds(info, paper == Paper::a4 ? "A4" : "letter"));
        CHECK_FALSE(holds(info, "Error"));
        // Something is drawn on every page: more than paper white.
        output_of("pdftoppm -r 20 -gray '" + file + "' '" + (folder.path() / "p").string() +
                  "' 2>&1");
        std::size_t pages = 0;
        for (const auto& one : std::filesystem::directory_iterator(folder.path()))
            if (one.path().extension() == ".pgm") {
                ++pages;
                std::ifstream in(one.path(), std::ios::binary);
                const std::string bytes{std::istreambuf_iterator<char>(in), {}};
                CHECK(std::count_if(bytes.begin() + 20, bytes.end(), [](char c) {
                          return static_cast<unsigned char>(c) < 200;
                      }) > 20);
                std::filesystem::remove(one.path());
            }
        CHECK(holds(text, std::to_string(pages) + " of " + std::to_string(pages)));
    }
}

TEST_CASE("pdf: a table that breaks repeats its head, and a cell longer than a page goes on",
          "[core][handover]") {
    Hall hall;
    std::string endless;
    for (int i = 0; i < 1500; ++i)
        endless += "word" + std::to_string(i) + " ";
    hall.writer.note(endless);
    for (int i = 0; i < 120; ++i)
        hall.writer.note("line " + std::to_string(i));
    const std::string pdf = pdf_of(make_document(hall.report(), Audience::bench));
    if (!has_program("pdftotext"))
        return;
    const TempFolder folder;
    const std::string file = (folder.path() / "r.pdf").string();
    std::ofstream(file, std::ios::binary) << pdf;
    const std::string text = output_of("pdftotext -layout '" + file + "' -");
    CHECK(holds(text, "word0 "));
    CHECK(holds(text, "word1499"));
    std::size_t heads = 0;
    for (std::size_t at = text.find("Entry\n"); at != std::string::npos;
         at = text.find("Entry\n", at + 1))
        ++heads;
    CHECK(heads >= 3);
}

TEST_CASE("pdf: signs of the trade and other scripts are set, what no font has is marked and named",
          "[core][handover]") {
    Hall hall;
    hall.writer.add(EntryKind::closing, {{"words", "4 Ω, 12 µA, 3 °C/W, θ ± 5 − Ärger Łódź Ελλάδα "
                                                   "Киев שלום 水 🧷"}});
    const std::string pdf = pdf_of(make_document(hall.report(), Audience::client));
    if (!has_program("pdftotext"))
        return;
    const TempFolder folder;
    const std::string file = (folder.path() / "r.pdf").string();
    std::ofstream(file, std::ios::binary) << pdf;
    const std::string text = output_of("pdftotext -layout '" + file + "' -");
    INFO(text);
    for (const char* part :
         {"4 Ω", "12 µA", "θ ± 5", "Ärger Łódź Ελλάδα Киев", "U+6C34", "U+1F9F7"})
        CHECK(holds(text, part));
    CHECK_FALSE(holds(text, "水"));
}

TEST_CASE("unicode: right-to-left stretches turn round and their numbers do not",
          "[core][handover]") {
    CHECK(in_visual_order(U"ab אבג cd") == U"ab גבא cd");
    CHECK(in_visual_order(U"x אב 12 ג") == U"x ג 12 בא");
    CHECK(in_visual_order(U"(plain)") == U"(plain)");
    CHECK(utf8_of(characters_of("aΩ水😀")) == "aΩ水😀");
    CHECK(characters_of("a\xFF"
                        "b") == std::u32string{U'a', k_replacement, U'b'});
}

TEST_CASE("photos: what is no picture is taken out of the JPEG, place and time with it",
          "[core][handover]") {
    const std::vector<std::byte> plain = hall::jpeg(40, 30);
    const std::string secret = std::string("Exif\0\0", 6) + "GPSLatitude 52.5 N";
    const std::size_t length = secret.size() + 2;
    const std::string head = {'\xFF', '\xE1', static_cast<char>(length >> 8U),
                              static_cast<char>(length & 0xFFU)};
    std::string with(reinterpret_cast<const char*>(plain.data()), 2);
    with += head + secret;
    with.append(reinterpret_cast<const char*>(plain.data()) + 2, plain.size() - 2);
    std::vector<std::byte> bytes(with.size());
    std::transform(with.begin(), with.end(), bytes.begin(),
                   [](char c) { return static_cast<std::byte>(c); });
    const Result<BareJpeg> bare = bare_jpeg(bytes);
    REQUIRE(bare.ok());
    CHECK(bare->bytes == plain);
    CHECK(bare->width == 40);
    CHECK(bare->height == 30);
    const ReportPicture leaking = [&](const PhotoRecord&, int) {
        return Result<std::vector<std::byte>>(bytes);
    };
    const std::string pdf =
        pdf_of(make_document(Hall().report(), Audience::client), Paper::a4, leaking);
    CHECK(holds(pdf, "/DCTDecode"));
    CHECK_FALSE(holds(pdf, "GPSLatitude"));
    for (std::size_t cut = 0; cut + 200 < bytes.size(); ++cut)
        static_cast<void>(bare_jpeg(std::span(bytes).first(cut)));
    CHECK(bare_jpeg(std::span(bytes).first(30)).error().code == ErrorCode::damaged);
}

TEST_CASE("photos: one that cannot be had leaves a frame that says so", "[core][handover]") {
    const ReportPicture gone = [](const PhotoRecord&, int) -> Result<std::vector<std::byte>> {
        return Error{ErrorCode::not_found, "photo", "It is gone from the vault."};
    };
    const Document document = make_document(Hall().report(), Audience::client);
    CHECK(holds(html_of(document, gone), "This photo cannot be shown. It is gone from the vault."));
    CHECK_FALSE(holds(pdf_of(document, Paper::a4, gone), "/DCTDecode"));
}

TEST_CASE("photos: 200 are taken one at a time in bounded memory, told of, and can be stopped",
          "[core][handover]") {
    Hall hall;
    for (int i = 0; i < 200; ++i)
        hall.writer.add(EntryKind::photo,
                        {{"hash", std::string(60, 'd') + std::to_string(1000 + i)},
                         {"type", "jpeg"},
                         {"width", 4000},
                         {"height", 3000},
                         {"bytes", 9},
                         {"stage", "fitted"},
                         {"caption", "number " + std::to_string(i)}});
    const Document document = make_document(hall.report(), Audience::client);
    // 1 MB each, so that holding all of them would show.
    const std::vector<std::byte> small = hall::jpeg(700, 525);
    const ReportPicture large = [&](const PhotoRecord&, int longest) {
        CHECK(longest <= 1000);
        std::vector<std::byte> bytes = small;
        bytes.resize(1'000'000);
        return Result<std::vector<std::byte>>(std::move(bytes));
    };
    for (const bool pdf : {true, false}) {
        std::size_t written = 0;
        std::vector<int> told;
        int stop_at = -1;
        ReportOutlets outlets{large,
                              [&](std::string_view bytes) -> Result<Done> {
                                  written += bytes.size();
                                  return Done{};
                              },
                              [&](int done, int of) {
                                  CHECK(of == 202);
                                  told.push_back(done);
                                  return done != stop_at;
                              }};
        const auto write = [&] {
            return pdf ? write_pdf(document, Paper::a4, fonts(), outlets)
                       : write_html(document, outlets);
        };
        rusage before = {};
        ::getrusage(RUSAGE_SELF, &before);
        REQUIRE(write().ok());
        rusage after = {};
        ::getrusage(RUSAGE_SELF, &after);
        CHECK(written > 200'000'000);
#ifndef RAILSIDE_SANITIZED // which keep what was given back, to see it touched again
        CHECK(after.ru_maxrss - before.ru_maxrss < 40'000); // kB
#endif
        CHECK(told.size() >= 202);
        CHECK(told.back() == 202);
        CHECK(std::is_sorted(told.begin(), told.end()));
        stop_at = 50;
        const Result<Done> stopped = write();
        REQUIRE_FALSE(stopped.ok());
        CHECK(stopped.error() == report_stopped());
        CHECK(told.back() == 50);
    }
}

TEST_CASE("pdf: a sink that fails stops the writing with its own words", "[core][handover]") {
    int calls = 0;
    const ReportOutlets outlets{picture, [&](std::string_view) -> Result<Done> {
                                    if (++calls < 5)
                                        return Done{};
                                    return Error{ErrorCode::failed, "file", "the disk is full"};
                                }};
    const Result<Done> written =
        write_pdf(make_document(Hall().report(), Audience::client), Paper::a4, fonts(), outlets);
    REQUIRE_FALSE(written.ok());
    CHECK(written.error().message == "the disk is full");
    CHECK(calls == 5);
}

TEST_CASE("font: damaged files are refused and never read past", "[core][handover]") {
    const std::vector<unsigned char> whole(k_dejavu_sans, k_dejavu_sans + k_dejavu_sans_size);
    for (const std::size_t cut : {0U, 3U, 11U, 12U, 40U, 300U, 5000U, 200'000U}) {
        ReportFonts cut_fonts = fonts();
        cut_fonts.fallback = std::span(whole).first(cut);
        std::string file;
        const Result<Done> written = write_pdf(make_document(Hall().report(), Audience::client),
                                               Paper::a4, cut_fonts, outlets_to(file));
        REQUIRE_FALSE(written.ok());
        CHECK(holds(written.error().message, "DejaVuSans"));
    }
}
