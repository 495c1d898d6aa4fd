#include "app/ui/theme.h"

#include "fonts.h"

#include <cmath>

namespace railside {

namespace {

constexpr std::size_t k_inks = static_cast<std::size_t>(Ink::count_);
using Palette = std::array<unsigned, k_inks>;

// In the order of Ink.
constexpr Palette k_dark = {0x121517, 0x0b0d0e, 0x1a1f22, 0x252c30, 0x6b767c, 0x2b3337,
                            0xf4f0e6, 0xb9c0c4, 0xffb454, 0x7cc0ff, 0x68d8ac, 0xffd75e,
                            0xff8a7a, 0xf4f0e6, 0x14171a, 0x33424c, 0x14171a, 0xffffff};
constexpr Palette k_light = {0xe9e6dd, 0xdcd8cc, 0xf7f5ef, 0xdedacd, 0x6f7370, 0xd5d2c8,
                             0x14181a, 0x40474b, 0x6f3f00, 0x0b4a80, 0x0a5236, 0x5c4400,
                             0x8a1c10, 0x14181a, 0xf7f5ef, 0xcbd5dc, 0xf7f5ef, 0xffffff};
constexpr Palette k_contrast = {0x000000, 0x0c0c0c, 0x000000, 0x1c1c1c, 0x9a9a9a, 0x3a3a3a,
                                0xffffff, 0xe2e2e2, 0xffc46b, 0x9dd2ff, 0x7fffc8, 0xffe96b,
                                0xffa296, 0xffffff, 0x000000, 0x26384a, 0x000000, 0xffffff};

const Palette& palette(ThemeKind kind) {
    switch (kind) {
    case ThemeKind::light:
        return k_light;
    case ThemeKind::contrast:
        return k_contrast;
    case ThemeKind::dark:
        break;
    }
    return k_dark;
}

double linear(unsigned byte) {
    const double c = byte / 255.0;
    return c <= 0.04045 ? c / 12.92 : std::pow((c + 0.055) / 1.055, 2.4);
}

double luminance(unsigned rgb) {
    return 0.2126 * linear(rgb >> 16 & 255) + 0.7152 * linear(rgb >> 8 & 255) +
           0.0722 * linear(rgb & 255);
}

// Capitals of B612 measure this part of ascent plus descent, which is what ImGui calls the size.
constexpr float k_cap_of_size = 0.626f;

} // namespace

std::string_view theme_key(ThemeKind kind) {
    switch (kind) {
    case ThemeKind::light:
        return "light";
    case ThemeKind::contrast:
        return "contrast";
    case ThemeKind::dark:
        break;
    }
    return "dark";
}

unsigned theme_rgb(ThemeKind kind, Ink ink) { return palette(kind)[static_cast<std::size_t>(ink)]; }

double contrast_ratio(unsigned rgb_a, unsigned rgb_b) {
    const double a = luminance(rgb_a);
    const double b = luminance(rgb_b);
    return (std::fmax(a, b) + 0.05) / (std::fmin(a, b) + 0.05);
}

float face_cap_mm(Face face) {
    switch (face) {
    case Face::note:
        return 2.0f;
    case Face::body:
    case Face::strong:
        return 2.8f;
    case Face::value:
        return 3.2f;
    case Face::headline:
        return 6.0f;
    case Face::count_:
        break;
    }
    return 0;
}

void Theme::build_fonts(float px_per_mm, float text_scale) {
    px_per_mm_ = px_per_mm;
    text_scale_ = text_scale;
    ImFontAtlas& atlas = *ImGui::GetIO().Fonts;
    atlas.Clear();
    atlas.Flags |= ImFontAtlasFlags_NoMouseCursors;
    atlas.TexGlyphPadding = 1;

    // Latin with its extensions for names, Greek, punctuation, arrows, mathematics and a few marks.
    static constexpr ImWchar k_text[] = {0x20,   0x17f,  0x370,  0x3ff,  0x2009, 0x2026, 0x202f,
                                         0x202f, 0x20ac, 0x20ac, 0x2126, 0x2126, 0x2190, 0x2193,
                                         0x2212, 0x221e, 0x2248, 0x2265, 0};
    static constexpr ImWchar k_figures[] = {0x20,   0x7e,   0xa0,   0xb7,   0x3a9,
                                            0x3a9,  0x3bc,  0x3bc,  0x2009, 0x2014,
                                            0x2126, 0x2126, 0x2212, 0x2212, 0};
    static constexpr ImWchar k_marks[] = {0x2009, 0x2009, 0x202f, 0x202f, 0x2126, 0x2126, 0};

    for (std::size_t i = 0; i < fonts_.size(); ++i) {
        const Face face = static_cast<Face>(i);
        const float size = std::round(face_cap_mm(face) * px_per_mm * text_scale / k_cap_of_size);
        const bool bold = face == Face::strong || face == Face::value || face == Face::headline;
        ImFontConfig config;
        config.FontDataOwnedByAtlas = false;
        config.OversampleH = size > 40 ? 1 : 2;
        config.OversampleV = 1;
        config.PixelSnapH = true;
        const ImWchar* range = face == Face::headline ? k_figures : k_text;
        const unsigned char* data = bold ? k_b612_bold : k_b612_regular;
        const unsigned bytes = bold ? k_b612_bold_size : k_b612_regular_size;
        // ImGui takes a writable pointer but does not write when it does not own the data.
        fonts_[i] = atlas.AddFontFromMemoryTTF(const_cast<unsigned char*>(data),
                                               static_cast<int>(bytes), size, &config, range);
        config.MergeMode = true;
        atlas.AddFontFromMemoryTTF(const_cast<unsigned char*>(k_dejavu_sans),
                                   static_cast<int>(k_dejavu_sans_size), size, &config, k_marks);
    }
    atlas.Build();
}

float Theme::pitch(Face face) const { return std::round(font(face)->FontSize * 1.18f); }

ImU32 Theme::colour(Ink ink, float alpha) const {
    const unsigned rgb = theme_rgb(kind_, ink);
    return IM_COL32(rgb >> 16 & 255, rgb >> 8 & 255, rgb & 255,
                    static_cast<int>(std::lround(alpha * 255.0f)));
}

} // namespace railside
