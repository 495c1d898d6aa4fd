// Colours, type and sizes of the bench. Everything a finger or an eye must find is sized in
// millimetres.
#pragma once

#include <imgui.h>

#include <array>
#include <string_view>

namespace railside {

enum class ThemeKind {
    dark,     // dark bench: the default
    light,    // light bench: daylight on the screen
    contrast, // high contrast
};
[[nodiscard]] std::string_view theme_key(ThemeKind kind);

enum class Ink {
    ground,  // behind everything
    rail,    // header and thumb rail
    pane,    // cards
    raised,  // keys, buttons
    line,    // rules, axes and marks, 3:1 on the pane
    faint,   // grid
    ink,     // figures, names
    soft,    // notes, units, labels
    plus,    // + half, always with its sign
    minus,   // − half, always with its sign
    inside,  // in window
    edge,    // at the edge, and cautions
    outside, // outside
    primary, // ground of the one primary action
    on_primary,
    special,    // prefix keys
    on_verdict, // word and shape on a verdict's colour
    on_photo,   // words on the black that lies under them on a photo
    count_,
};

/// 8-bit red, green, blue as 0xRRGGBB.
[[nodiscard]] unsigned theme_rgb(ThemeKind kind, Ink ink);
/// Contrast ratio of WCAG 2 (relative luminance), 1 to 21.
[[nodiscard]] double contrast_ratio(unsigned rgb_a, unsigned rgb_b);

enum class Face {
    note,     // labels, units: 2.0 mm capitals
    body,     // what is read at arm's length: 2.8 mm
    strong,   // the same, bold
    value,    // values in a form: 3.2 mm bold
    headline, // the one figure: 6 mm bold
    count_,
};
/// Height of a capital letter, millimetres.
[[nodiscard]] float face_cap_mm(Face face);

class Theme {
  public:
    /// Adds the fonts for this density to ImGui's atlas (cleared first). px_per_mm 2 to 40.
    /// `text_scale` 1 to 1.6.
    void build_fonts(float px_per_mm, float text_scale);
    void set_kind(ThemeKind kind) { kind_ = kind; }

    [[nodiscard]] float mm(float millimetres) const { return millimetres * px_per_mm_; }
    [[nodiscard]] float px_per_mm() const { return px_per_mm_; }
    [[nodiscard]] float text_scale() const { return text_scale_; }
    [[nodiscard]] ImFont* font(Face face) const { return fonts_[static_cast<std::size_t>(face)]; }
    /// Line pitch in pixels.
    [[nodiscard]] float pitch(Face face) const;
    [[nodiscard]] ImU32 colour(Ink ink, float alpha = 1) const;
    [[nodiscard]] ThemeKind kind() const { return kind_; }

  private:
    ThemeKind kind_ = ThemeKind::dark;
    float px_per_mm_ = 6;
    float text_scale_ = 1;
    std::array<ImFont*, static_cast<std::size_t>(Face::count_)> fonts_{};
};

} // namespace railside
