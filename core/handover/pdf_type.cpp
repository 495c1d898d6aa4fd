#include "core/handover/pdf_type.h"

#include "core/handover/unicode.h"

#include <fmt/format.h>

#include <algorithm>

namespace railside {

namespace {

constexpr std::size_t k_fallback = 2;
constexpr char32_t k_thin_space = 0x2009;

} // namespace

bool PdfType::is_silent(char32_t c) {
    return c < 0x20 || c == 0x7F || (c >= 0x80 && c < 0xA0) || (c >= 0x200B && c <= 0x200F) ||
           (c >= 0x2060 && c <= 0x2064) || (c >= 0xFE00 && c <= 0xFE0F) || c == 0xFEFF;
}

PdfType::Place PdfType::find(char32_t c, Weight weight) const {
    const std::size_t first = weight == Weight::bold ? 1 : 0;
    for (const std::size_t face : {first, k_fallback})
        if (const unsigned glyph = faces_[face].glyph(c); glyph != 0)
            return {face, glyph};
    if (c == 0xA0 || c == 0x202F || c == k_thin_space)
        return {first, faces_[first].glyph(' ')};
    return {k_fallback, 0};
}

double PdfType::width(std::u32string_view text, double size, Weight weight) const {
    double sum = 0;
    for (const char32_t c : text) {
        if (is_silent(c))
            continue;
        Place place = find(c, weight);
        if (place.glyph == 0)
            place = find(k_replacement, weight);
        sum += faces_[place.face].advance(place.glyph);
    }
    return sum * size / 1000;
}

std::vector<std::u32string> PdfType::lines(std::string_view text, double size, Weight weight,
                                           double width) const {
    std::vector<std::u32string> all;
    const std::u32string characters = characters_of(text);
    const double space = this->width(U" ", size, weight);
    std::size_t begin = 0;
    while (begin <= characters.size()) {
        const std::size_t end = std::min(characters.find(U'\n', begin), characters.size());
        std::u32string line;
        double used = 0;
        for (std::size_t at = begin; at < end;) {
            if (characters[at] == U' ' || characters[at] == U'\t') {
                ++at;
                continue;
            }
            std::size_t past = at;
            while (past < end && characters[past] != U' ' && characters[past] != U'\t')
                ++past;
            std::u32string word = characters.substr(at, past - at);
            at = past;
            double wide = this->width(word, size, weight);
            if (!line.empty() && used + space + wide > width) {
                all.push_back(std::move(line));
                line.clear();
                used = 0;
            }
            while (wide > width && word.size() > 1) {
                std::size_t fits = word.size() - 1;
                // A cut after a stroke or hyphen reads better than one anywhere.
                double part = 0;
                std::size_t best = 0;
                for (std::size_t i = 0; i < word.size(); ++i) {
                    part += this->width(word.substr(i, 1), size, weight);
                    if (part > width) {
                        fits = std::max<std::size_t>(i, 1);
                        break;
                    }
                    if (word[i] == U'/' || word[i] == U'-')
                        best = i + 1;
                }
                if (best != 0)
                    fits = best;
                all.push_back(word.substr(0, fits));
                word.erase(0, fits);
                wide = this->width(word, size, weight);
            }
            if (!line.empty()) {
                line += U' ';
                used += space;
            }
            line += word;
            used += wide;
        }
        all.push_back(std::move(line));
        begin = end + 1;
    }
    return all;
}

std::string PdfType::show(std::u32string_view line, double size, Weight weight, double x,
                          double y) {
    std::string glyphs;
    std::size_t face = faces_.size();
    for (const char32_t c : in_visual_order(line)) {
        if (is_silent(c))
            continue;
        Place place = find(c, weight);
        char32_t stands_for = c;
        if (place.glyph == 0) {
            missing_.insert(c);
            place = find(k_replacement, weight);
            stands_for = k_replacement;
        }
        used_[place.face].emplace(place.glyph, stands_for);
        if (place.face != face) {
            glyphs += fmt::format("{}/F{} {:.2f} Tf <", face == faces_.size() ? "" : "> Tj ",
                                  place.face, size);
            face = place.face;
        }
        glyphs += fmt::format("{:04X}", place.glyph);
    }
    if (glyphs.empty())
        return {};
    return fmt::format("BT 1 0 0 1 {:.2f} {:.2f} Tm {}> Tj ET\n", x, y, glyphs);
}

std::string PdfType::write(PdfFile& file) const {
    std::string resources = "/Font <<";
    for (std::size_t i = 0; i < faces_.size(); ++i) {
        const auto& used = used_[i];
        if (used.empty())
            continue;
        const FontFace& face = faces_[i];
        std::set<unsigned> glyphs;
        std::string widths;
        std::string meanings;
        std::size_t in_block = 0;
        std::size_t left = used.size();
        for (const auto& [glyph, character] : used) {
            glyphs.insert(glyph);
            widths += fmt::format("{} [{:.1f}] ", glyph, face.advance(glyph));
            if (in_block == 0) // at most 100 lines stand in one block
                meanings += fmt::format("{} beginbfchar\n", std::min<std::size_t>(left, 100));
            std::string sixteen = pdf_text(utf8_of(std::u32string(1, character)));
            sixteen.erase(1, 4);
            meanings += fmt::format("<{:04X}> {}\n", glyph, sixteen);
            --left;
            if (++in_block == 100 || left == 0) {
                meanings += "endbfchar\n";
                in_block = 0;
            }
        }
        const bool is_cff = face.is_cff();
        const std::string program = face.program(glyphs);
        const int program_number = file.stream(is_cff ? std::string("/Subtype /CIDFontType0C")
                                                      : fmt::format("/Length1 {}", program.size()),
                                               program, PdfFile::Packing::pack);
        const int map_number = file.stream(
            "",
            fmt::format("/CIDInit /ProcSet findresource begin\n12 dict begin\nbegincmap\n"
                        "/CIDSystemInfo << /Registry (Adobe) /Ordering (UCS) /Supplement 0 >> def\n"
                        "/CMapName /Adobe-Identity-UCS def\n/CMapType 2 def\n"
                        "1 begincodespacerange\n<0000> <FFFF>\nendcodespacerange\n{}endcmap\n"
                        "CMapName currentdict /CMap defineresource pop\nend\nend\n",
                        meanings),
            PdfFile::Packing::pack);
        // Six letters before the name say that only a part of the font is here.
        const std::string name =
            is_cff ? face.name()
                   : fmt::format("RAILS{}+{}", static_cast<char>('A' + i), face.name());
        const auto& box = face.box();
        const int described = file.object(fmt::format(
            "<< /Type /FontDescriptor /FontName /{} /Flags 4 /FontBBox [{:.0f} {:.0f} {:.0f} "
            "{:.0f}] /ItalicAngle 0 /Ascent {:.0f} /Descent {:.0f} /CapHeight {:.0f} /StemV {} "
            "/{} {} 0 R >>",
            name, box[0], box[1], box[2], box[3], face.ascent(), face.descent(),
            face.ascent() * 0.75, i == 1 ? 140 : 80, is_cff ? "FontFile3" : "FontFile2",
            program_number));
        const int descendant = file.object(fmt::format(
            "<< /Type /Font /Subtype /{} /BaseFont /{} /CIDSystemInfo << /Registry (Adobe) "
            "/Ordering (Identity) /Supplement 0 >> /FontDescriptor {} 0 R /DW 1000 /W [{}]{} >>",
            is_cff ? "CIDFontType0" : "CIDFontType2", name, described, widths,
            is_cff ? "" : " /CIDToGIDMap /Identity"));
        const int font = file.object(
            fmt::format("<< /Type /Font /Subtype /Type0 /BaseFont /{}{} /Encoding /Identity-H "
                        "/DescendantFonts [{} 0 R] /ToUnicode {} 0 R >>",
                        name, is_cff ? "-Identity-H" : "", descendant, map_number));
        resources += fmt::format(" /F{} {} 0 R", i, font);
    }
    return resources + " >>";
}

} // namespace railside
