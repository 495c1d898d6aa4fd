// A small painter for the demo job's pictures: every shape is a signed distance, its edge one pixel
// soft, so that nothing but arithmetic is needed and the same code gives the same picture.
// Coordinates are those of a 1600 x 1200 sheet, y down; colours are sRGB components 0 to 255. Valid
// for pictures of 16 pixels or more on each side.
#pragma once

#include "core/store/bench.h"

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <span>
#include <string_view>

namespace railside::paint {

struct Rgb {
    float r = 0, g = 0, b = 0;
};
[[nodiscard]] constexpr Rgb rgb(std::uint32_t hex) {
    return {float((hex >> 16) & 255), float((hex >> 8) & 255), float(hex & 255)};
}
[[nodiscard]] constexpr Rgb operator*(Rgb c, float f) { return {c.r * f, c.g * f, c.b * f}; }
[[nodiscard]] constexpr Rgb mix(Rgb a, Rgb b, float t) {
    return {a.r + (b.r - a.r) * t, a.g + (b.g - a.g) * t, a.b + (b.b - a.b) * t};
}

struct Point {
    float x = 0, y = 0;
};
[[nodiscard]] constexpr Point operator+(Point a, Point b) { return {a.x + b.x, a.y + b.y}; }
[[nodiscard]] constexpr Point operator-(Point a, Point b) { return {a.x - b.x, a.y - b.y}; }
[[nodiscard]] constexpr Point operator*(Point a, float f) { return {a.x * f, a.y * f}; }
[[nodiscard]] constexpr float dot(Point a, Point b) { return a.x * b.x + a.y * b.y; }
[[nodiscard]] inline float length(Point a) { return std::sqrt(dot(a, a)); }

/// Where a shape says a point lies: d below 0 inside; n runs from −1 to 1 across the shape, for
/// shading.
struct Near {
    float d = 0;
    Point n;
};
[[nodiscard]] inline Near near_disc(Point p, float radius) {
    return {length(p) - radius, p * (1 / radius)};
}
[[nodiscard]] inline Near near_box(Point p, Point half, float radius) {
    const Point q = {std::abs(p.x) - half.x + radius, std::abs(p.y) - half.y + radius};
    const Point out = {std::max(q.x, 0.0F), std::max(q.y, 0.0F)};
    return {length(out) + std::min(std::max(q.x, q.y), 0.0F) - radius,
            {p.x / half.x, p.y / half.y}};
}
[[nodiscard]] Near near_path(Point p, std::span<const Point> points, float half_width);
[[nodiscard]] Near near_polygon(Point p, std::span<const Point> corners);

/// How a surface takes the light, which comes from the upper left.
enum class Sheen {
    flat,  // paper, lacquer
    dome,  // solder, caps, knobs
    tube,  // a body that is round across its height
    satin, // metal plate: a soft run of light from top to bottom
};

struct Paint {
    Rgb colour;
    float alpha = 1;
    Sheen sheen = Sheen::flat;
    float gloss = 0.5F; // strength of the highlight, 0 to 1
};
[[nodiscard]] Rgb lit_round(const Paint& paint, Point n);
[[nodiscard]] inline Rgb lit(const Paint& paint, Point n) {
    return paint.sheen == Sheen::flat ? paint.colour : lit_round(paint, n);
}

/// Smooth chance, 0 to 1, from lattice points `cell` apart; the same for the same place and seed.
[[nodiscard]] float mottle(float x, float y, float cell, std::uint32_t seed);

/// What fill does about places far from the shape.
enum class Far {
    look, // asks at every pixel
    skip, // passes over whole tiles; only where d is a true distance
};

/// A sheet being painted, and the place on it (moved, turned) that shapes are given in.
class Brush {
  public:
    Brush(Picture& picture, Rgb ground);

    /// The same sheet, drawn to about `origin`, turned by `turn` radians (clockwise on the sheet)
    /// and `zoom` times as large.
    [[nodiscard]] Brush at(Point origin, float turn = 0, float zoom = 1) const;
    /// Where a point of this brush lies on the whole sheet.
    [[nodiscard]] Point on_sheet(Point p) const {
        return {x_ + (p.x * cos_ - p.y * sin_) * zoom_, y_ + (p.x * sin_ + p.y * cos_) * zoom_};
    }

    void disc(Point centre, float radius, Paint paint) const;
    void ring(Point centre, float radius, float width, Paint paint) const;
    void box(Point centre, Point size, float radius, Paint paint) const;
    void path(std::span<const Point> points, float width, Paint paint) const;
    void line(Point a, Point b, float width, Paint paint) const;
    /// Paints one straight piece after the other: for opaque tracks, cheaper than path.
    void track(std::span<const Point> points, float width, Paint paint) const;
    void polygon(std::span<const Point> corners, Paint paint) const;

    /// Darkens softly, as something above would: `soft` is how far the edge runs out.
    void shadow_box(Point centre, Point size, float radius, float soft, float strength) const;
    void shadow_disc(Point centre, float radius, float soft, float strength) const;
    void shadow_path(std::span<const Point> points, float width, float soft, float strength) const;

    /// Drawn letters: A to Z, 0 to 9, and - + / . Height of a capital; stroke width; returns the
    /// width of the text.
    float letters(Point left_base, float height, float stroke, std::string_view text,
                  Paint paint) const;

    /// Anything else: `distance(p)` gives a Near, `shade(p, near)` a Paint (its sheen is not
    /// applied again).
    template <Far far = Far::look, class Distance, class Shade>
    void fill(Point low, Point high, float soft, const Distance& distance,
              const Shade& shade) const;

    /// Grain, fall of light to the corners and a little warmth: what a lens adds. Last of all.
    void develop(std::uint32_t seed) const;

  private:
    Picture* picture_ = nullptr;
    float x_ = 0, y_ = 0, cos_ = 1, sin_ = 0;
    float zoom_ = 1;  // sheet units per unit of this brush
    float scale_ = 1; // pixels per unit of the 1600-wide sheet
};

template <Far far, class Distance, class Shade>
void Brush::fill(Point low, Point high, float soft, const Distance& distance,
                 const Shade& shade) const {
    const Point corners[] = {on_sheet(low), on_sheet({high.x, low.y}), on_sheet(high),
                             on_sheet({low.x, high.y})};
    float left = corners[0].x, right = left, top = corners[0].y, bottom = top;
    for (const Point c : corners) {
        left = std::min(left, c.x);
        right = std::max(right, c.x);
        top = std::min(top, c.y);
        bottom = std::max(bottom, c.y);
    }
    const float margin = soft * zoom_ * scale_ + 1;
    const int x0 = std::max(0, int(left * scale_ - margin));
    const int x1 = std::min(picture_->width, int(right * scale_ + margin) + 1);
    const int y0 = std::max(0, int(top * scale_ - margin));
    const int y1 = std::min(picture_->height, int(bottom * scale_ + margin) + 1);
    const auto here = [&](float x, float y) {
        const float dx = (x / scale_ - x_) / zoom_;
        const float dy = (y / scale_ - y_) / zoom_;
        return Point{dx * cos_ + dy * sin_, dy * cos_ - dx * sin_};
    };
    const auto paint_rows = [&](int from_x, int to_x, int from_y, int to_y) {
        for (int y = from_y; y < to_y; ++y) {
            std::uint8_t* pixel =
                picture_->rgba.data() +
                (std::size_t(y) * std::size_t(picture_->width) + std::size_t(from_x)) * 4;
            for (int x = from_x; x < to_x; ++x, pixel += 4) {
                const Point p = here(float(x) + 0.5F, float(y) + 0.5F);
                const Near near = distance(p);
                float cover = 0;
                if (soft > 0) {
                    const float t = std::clamp(0.5F - 0.5F * near.d / soft, 0.0F, 1.0F);
                    cover = t * t * (3 - 2 * t);
                } else {
                    cover = std::clamp(0.5F - near.d * zoom_ * scale_, 0.0F, 1.0F);
                }
                if (cover <= 0) {
                    continue;
                }
                const Paint paint = shade(p, near);
                const float a = cover * paint.alpha;
                const auto blend = [a](std::uint8_t& under, float over) {
                    const float was = float(under);
                    under = std::uint8_t(std::clamp(was + (over - was) * a + 0.5F, 0.0F, 255.0F));
                };
                blend(pixel[0], paint.colour.r);
                blend(pixel[1], paint.colour.g);
                blend(pixel[2], paint.colour.b);
            }
        }
    };
    if constexpr (far == Far::look) {
        paint_rows(x0, x1, y0, y1);
    } else {
        constexpr int tile = 24;
        const float reach = soft + (tile * 0.71F + 1) / (zoom_ * scale_);
        for (int y = y0; y < y1; y += tile) {
            for (int x = x0; x < x1; x += tile) {
                if (distance(here(float(x) + tile / 2.0F, float(y) + tile / 2.0F)).d < reach) {
                    paint_rows(x, std::min(x + tile, x1), y, std::min(y + tile, y1));
                }
            }
        }
    }
}

} // namespace railside::paint
