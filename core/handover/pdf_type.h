// The type of a PDF report: which of three fonts has a character, how wide a text is, where its
// lines break, and the fonts' objects at the end.
#pragma once

#include "core/handover/font.h"
#include "core/handover/pdf_file.h"

#include <array>
#include <map>
#include <set>
#include <string>
#include <string_view>
#include <vector>

namespace railside {

enum class Weight { regular, bold };

class PdfType {
  public:
    /// What the regular and bold font lack is taken from the third.
    PdfType(FontFace regular, FontFace bold, FontFace fallback)
        : faces_{std::move(regular), std::move(bold), std::move(fallback)} {}

    [[nodiscard]] double width(std::u32string_view text, double size, Weight weight) const;
    /// Broken at spaces and line ends so that each fits into `width`; a longer word is cut. At
    /// least one line.
    [[nodiscard]] std::vector<std::u32string> lines(std::string_view text, double size,
                                                    Weight weight, double width) const;
    /// The operators that show one line at x, y (its base line); what is used is remembered.
    [[nodiscard]] std::string show(std::u32string_view line, double size, Weight weight, double x,
                                   double y);

    /// Characters that no font has.
    [[nodiscard]] const std::set<char32_t>& missing() const { return missing_; }
    /// Writes the fonts that were used; the dictionary of resources that names them.
    [[nodiscard]] std::string write(PdfFile& file) const;

  private:
    struct Place {
        std::size_t face = 0;
        unsigned glyph = 0;
    };
    [[nodiscard]] Place find(char32_t character, Weight weight) const;
    [[nodiscard]] static bool is_silent(char32_t character);

    std::array<FontFace, 3> faces_;
    std::array<std::map<unsigned, char32_t>, 3> used_; // glyph -> what it stands for
    std::set<char32_t> missing_;
};

} // namespace railside
