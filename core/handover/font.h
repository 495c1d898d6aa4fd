// A font file (TrueType or OpenType, one face) as far as a PDF needs it: which characters it has,
// how wide they are, and the font program that goes into the file. Source: ISO/IEC 14496-22 (Open
// Font Format). Every read is checked, so that a damaged file is refused and never read past.
#pragma once

#include "core/result.h"

#include <cstdint>
#include <map>
#include <set>
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace railside {

class FontFace {
  public:
    /// `bytes` must outlive it. Errors: damaged, naming `name` and what is wrong.
    [[nodiscard]] static Result<FontFace> read(std::span<const unsigned char> bytes,
                                               std::string_view name);

    /// 0: the font does not have it.
    [[nodiscard]] unsigned glyph(char32_t character) const;
    /// In thousandths of the size.
    [[nodiscard]] double advance(unsigned glyph) const;

    /// A whole CFF program, or a TrueType program with the outlines of these glyphs (and what they
    /// are made of) alone; glyphs keep their numbers.
    [[nodiscard]] std::string program(const std::set<unsigned>& glyphs) const;
    [[nodiscard]] bool is_cff() const { return is_cff_; }

    [[nodiscard]] const std::string& name() const { return name_; }
    // In thousandths of the size.
    [[nodiscard]] double ascent() const { return ascent_; }
    [[nodiscard]] double descent() const { return descent_; } // below 0
    [[nodiscard]] const double (&box() const)[4] { return box_; }

  private:
    using Bytes = std::span<const unsigned char>;
    FontFace() = default;
    [[nodiscard]] Bytes table(std::string_view tag) const;
    [[nodiscard]] Bytes outline_of(unsigned glyph) const; // TrueType

    std::string name_;
    Bytes bytes_;
    std::map<std::string, Bytes, std::less<>> tables_;
    std::map<char32_t, unsigned> glyphs_;
    double unit_ = 1; // thousandths of the size in one font unit
    double ascent_ = 0;
    double descent_ = 0;
    double box_[4] = {};
    unsigned count_ = 0;   // of glyphs
    unsigned metrics_ = 0; // of glyphs with a width of their own
    bool is_cff_ = false;
    bool long_places_ = false; // loca in four bytes
};

} // namespace railside
