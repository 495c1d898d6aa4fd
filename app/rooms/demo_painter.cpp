#include "app/rooms/demo_painter.h"

#include <algorithm>
#include <array>
#include <cctype>
#include <cmath>
#include <limits>

namespace railside::paint {

namespace {

constexpr float k_sheet_width = 1600;

std::uint32_t scramble(std::uint32_t x, std::uint32_t y, std::uint32_t seed) {
    std::uint32_t h = x * 0x9E3779B1U ^ (y * 0x85EBCA77U + seed * 0xC2B2AE3DU);
    h ^= h >> 15;
    h *= 0x2C1B3C6DU;
    h ^= h >> 12;
    h *= 0x297A2D39U;
    return h ^ (h >> 15);
}

float chance(int x, int y, std::uint32_t seed) {
    return float(scramble(std::uint32_t(x), std::uint32_t(y), seed) >> 8) / 16777216.0F;
}

/// A letter's strokes on a field 4 wide and 6 high with the base line at 0: pairs of digits x, y; a
/// blank lifts the pen.
struct Glyph {
    char letter;
    std::string_view strokes;
};
constexpr std::array k_glyphs = {
    Glyph{'0', "010516364541301001 1135"},
    Glyph{'1', "142620 1030"},
    Glyph{'2', "05163645440040"},
    Glyph{'3', "05163645443313 334241301001"},
    Glyph{'4', "30360242"},
    Glyph{'5', "460604344341301001"},
    Glyph{'6', "453616050110304142331302"},
    Glyph{'7', "064610"},
    Glyph{'8', "13040516364544331302011030414233"},
    Glyph{'9', "011030414536160504133344"},
    Glyph{'A', "002640 1232"},
    Glyph{'B', "00063645443303 3342413000"},
    Glyph{'C', "4536160501103041"},
    Glyph{'D', "00062644422000"},
    Glyph{'E', "46060040 0333"},
    Glyph{'F', "460600 0333"},
    Glyph{'G', "45361605011030414323"},
    Glyph{'H', "0006 4046 0343"},
    Glyph{'I', "2026"},
    Glyph{'J', "4641301001"},
    Glyph{'K', "0006 460340"},
    Glyph{'L', "060040"},
    Glyph{'M', "0006234640"},
    Glyph{'N', "00064046"},
    Glyph{'O', "010516364541301001"},
    Glyph{'P', "00063645443303"},
    Glyph{'Q', "010516364541301001 2240"},
    Glyph{'R', "00063645443303 2340"},
    Glyph{'S', "453616050413334241301001"},
    Glyph{'T', "0646 2620"},
    Glyph{'U', "060110304146"},
    Glyph{'V', "062046"},
    Glyph{'W', "0610243046"},
    Glyph{'X', "0046 0640"},
    Glyph{'Y', "062346 2320"},
    Glyph{'Z', "06460040"},
    Glyph{'-', "0343"},
    Glyph{'+', "0343 2125"},
    Glyph{'/', "0046"},
    Glyph{'.', "2020"},
};

} // namespace

Near near_path(Point p, std::span<const Point> points, float half_width) {
    float best = std::numeric_limits<float>::max();
    Point away;
    for (std::size_t i = 0; i + 1 < points.size(); ++i) {
        const Point along = points[i + 1] - points[i];
        const float whole = std::max(dot(along, along), 1e-9F);
        const float t = std::clamp(dot(p - points[i], along) / whole, 0.0F, 1.0F);
        const Point off = p - (points[i] + along * t);
        const float squared = dot(off, off);
        if (squared < best) {
            best = squared;
            away = off;
        }
    }
    return {std::sqrt(best) - half_width, away * (1 / half_width)};
}

Near near_polygon(Point p, std::span<const Point> corners) {
    float best = std::numeric_limits<float>::max();
    bool inside = false;
    for (std::size_t i = 0, j = corners.size() - 1; i < corners.size(); j = i++) {
        const Point a = corners[j];
        const Point b = corners[i];
        const Point along = b - a;
        const float t =
            std::clamp(dot(p - a, along) / std::max(dot(along, along), 1e-9F), 0.0F, 1.0F);
        const Point off = p - (a + along * t);
        best = std::min(best, dot(off, off));
        if ((a.y > p.y) != (b.y > p.y) && p.x < a.x + (p.y - a.y) / (b.y - a.y) * along.x) {
            inside = !inside;
        }
    }
    return {inside ? -std::sqrt(best) : std::sqrt(best), {0, 0}};
}

Rgb lit_round(const Paint& paint, Point n) {
    const auto with = [&](float light, float shine) {
        return mix(paint.colour * light, {255, 252, 244},
                   std::clamp(shine * paint.gloss, 0.0F, 1.0F));
    };
    switch (paint.sheen) {
    case Sheen::dome: {
        const Point to_light = n - Point{-0.35F, -0.42F};
        const float shine = std::max(0.0F, 1 - dot(to_light, to_light) * 7);
        return with(1.02F - 0.24F * (0.6F * n.x + 0.8F * n.y) - 0.25F * std::min(dot(n, n), 1.0F),
                    shine * shine);
    }
    case Sheen::tube: {
        const float v = std::clamp(n.y, -1.0F, 1.0F);
        const float shine = std::max(0.0F, 1 - std::abs(v + 0.45F) * 4.5F);
        return with(0.48F + 0.60F * std::sqrt(1 - v * v) - 0.16F * v, 0.75F * shine * shine);
    }
    case Sheen::satin:
        return with(1.0F - 0.13F * n.y - 0.05F * n.x,
                    0.16F * std::max(0.0F, 1 - std::abs(n.y + 0.5F * n.x + 0.35F) * 2));
    case Sheen::flat:
        break;
    }
    return paint.colour;
}

float mottle(float x, float y, float cell, std::uint32_t seed) {
    const float fx = x / cell;
    const float fy = y / cell;
    // rounding down by a whole offset: std::floor is a library call on plain x86-64 and this runs
    // for every pixel
    constexpr int k_offset = 1 << 16;
    const int cx = int(fx + float(k_offset)) - k_offset;
    const int cy = int(fy + float(k_offset)) - k_offset;
    float tx = fx - float(cx);
    float ty = fy - float(cy);
    tx = tx * tx * (3 - 2 * tx);
    ty = ty * ty * (3 - 2 * ty);
    const float top = chance(cx, cy, seed) * (1 - tx) + chance(cx + 1, cy, seed) * tx;
    const float low = chance(cx, cy + 1, seed) * (1 - tx) + chance(cx + 1, cy + 1, seed) * tx;
    return top * (1 - ty) + low * ty;
}

Brush::Brush(Picture& picture, Rgb ground)
    : picture_(&picture), scale_(float(picture.width) / k_sheet_width) {
    picture.rgba.resize(std::size_t(picture.width) * std::size_t(picture.height) * 4);
    for (std::size_t i = 0; i < picture.rgba.size(); i += 4) {
        picture.rgba[i] = std::uint8_t(ground.r);
        picture.rgba[i + 1] = std::uint8_t(ground.g);
        picture.rgba[i + 2] = std::uint8_t(ground.b);
        picture.rgba[i + 3] = 255;
    }
}

Brush Brush::at(Point origin, float turn, float zoom) const {
    Brush moved = *this;
    const Point at = on_sheet(origin);
    moved.x_ = at.x;
    moved.y_ = at.y;
    moved.zoom_ = zoom_ * zoom;
    const float c = std::cos(turn);
    const float s = std::sin(turn);
    moved.cos_ = cos_ * c - sin_ * s;
    moved.sin_ = sin_ * c + cos_ * s;
    return moved;
}

void Brush::disc(Point centre, float radius, Paint paint) const {
    fill(
        centre - Point{radius, radius}, centre + Point{radius, radius}, 0,
        [&](Point p) { return near_disc(p - centre, radius); },
        [&](Point, const Near& near) {
            return Paint{lit(paint, near.n), paint.alpha};
        });
}

void Brush::ring(Point centre, float radius, float width, Paint paint) const {
    const float outer = radius + width / 2;
    fill(
        centre - Point{outer, outer}, centre + Point{outer, outer}, 0,
        [&](Point p) {
            const Near near = near_disc(p - centre, radius);
            return Near{std::abs(near.d) - width / 2, near.n};
        },
        [&](Point, const Near& near) {
            return Paint{lit(paint, near.n), paint.alpha};
        });
}

void Brush::box(Point centre, Point size, float radius, Paint paint) const {
    const Point half = size * 0.5F;
    fill(
        centre - half, centre + half, 0,
        [&](Point p) { return near_box(p - centre, half, radius); },
        [&](Point, const Near& near) {
            return Paint{lit(paint, near.n), paint.alpha};
        });
}

namespace {

struct Bounds {
    Point low, high;
};
Bounds bounds_of(std::span<const Point> points, float margin) {
    Bounds bounds = {points[0], points[0]};
    for (const Point p : points) {
        bounds.low = {std::min(bounds.low.x, p.x), std::min(bounds.low.y, p.y)};
        bounds.high = {std::max(bounds.high.x, p.x), std::max(bounds.high.y, p.y)};
    }
    return {bounds.low - Point{margin, margin}, bounds.high + Point{margin, margin}};
}

} // namespace

void Brush::path(std::span<const Point> points, float width, Paint paint) const {
    const Bounds bounds = bounds_of(points, width / 2);
    fill<Far::skip>(
        bounds.low, bounds.high, 0, [&](Point p) { return near_path(p, points, width / 2); },
        [&](Point, const Near& near) {
            // a wire is round across its width whichever way it runs: the light is read off its own
            // normal
            const Point n =
                paint.sheen == Sheen::tube ? Point{0, 0.55F * near.n.x + 0.83F * near.n.y} : near.n;
            return Paint{lit(paint, n), paint.alpha};
        });
}

void Brush::line(Point a, Point b, float width, Paint paint) const {
    const Point ends[] = {a, b};
    path(ends, width, paint);
}

void Brush::track(std::span<const Point> points, float width, Paint paint) const {
    for (std::size_t i = 0; i + 1 < points.size(); ++i) {
        line(points[i], points[i + 1], width, paint);
    }
}

void Brush::polygon(std::span<const Point> corners, Paint paint) const {
    const Bounds bounds = bounds_of(corners, 0);
    const Point middle = (bounds.low + bounds.high) * 0.5F;
    const Point half = (bounds.high - bounds.low) * 0.5F;
    fill(
        bounds.low, bounds.high, 0, [&](Point p) { return near_polygon(p, corners); },
        [&](Point p, const Near&) {
            return Paint{lit(paint, {(p.x - middle.x) / half.x, (p.y - middle.y) / half.y}),
                         paint.alpha};
        });
}

void Brush::shadow_box(Point centre, Point size, float radius, float soft, float strength) const {
    const Point half = size * 0.5F;
    fill(
        centre - half, centre + half, soft,
        [&](Point p) { return near_box(p - centre, half, radius); },
        [&](Point, const Near&) {
            return Paint{{0, 0, 0}, strength};
        });
}

void Brush::shadow_disc(Point centre, float radius, float soft, float strength) const {
    fill(
        centre - Point{radius, radius}, centre + Point{radius, radius}, soft,
        [&](Point p) { return near_disc(p - centre, radius); },
        [&](Point, const Near&) {
            return Paint{{0, 0, 0}, strength};
        });
}

void Brush::shadow_path(std::span<const Point> points, float width, float soft,
                        float strength) const {
    const Bounds bounds = bounds_of(points, width / 2);
    fill<Far::skip>(
        bounds.low, bounds.high, soft, [&](Point p) { return near_path(p, points, width / 2); },
        [&](Point, const Near&) {
            return Paint{{0, 0, 0}, strength};
        });
}

float Brush::letters(Point left_base, float height, float stroke, std::string_view text,
                     Paint paint) const {
    const float unit = height / 6;
    float x = 0;
    for (const char raw : text) {
        const char letter = char(std::toupper(static_cast<unsigned char>(raw)));
        const bool narrow = letter == 'I' || letter == '.';
        const float from = narrow ? x - 1.6F * unit : x; // they stand in the middle of their field
        const auto* glyph = std::find_if(k_glyphs.begin(), k_glyphs.end(),
                                         [&](const Glyph& g) { return g.letter == letter; });
        if (glyph != k_glyphs.end()) {
            std::array<Point, 20> points;
            std::size_t count = 0;
            const std::string_view strokes = glyph->strokes;
            for (std::size_t i = 0; i < strokes.size();) {
                points[count++] = left_base + Point{from + float(strokes[i] - '0') * unit,
                                                    -float(strokes[i + 1] - '0') * unit};
                i += 2;
                if (i == strokes.size() || strokes[i] == ' ') {
                    path(std::span(points.data(), count), stroke, paint);
                    count = 0;
                    ++i;
                }
            }
        }
        x += (narrow ? 2.4F : letter == ' ' ? 4.0F : 5.6F) * unit;
    }
    return x;
}

void Brush::develop(std::uint32_t seed) const {
    const float w = float(picture_->width);
    const float h = float(picture_->height);
    std::uint8_t* pixel = picture_->rgba.data();
    for (int y = 0; y < picture_->height; ++y) {
        const float v = (float(y) + 0.5F) / h - 0.46F;
        for (int x = 0; x < picture_->width; ++x, pixel += 4) {
            const float u = (float(x) + 0.5F) / w - 0.45F;
            const float light = 1.06F - 0.62F * (u * u + v * v) - 0.07F * (u + v);
            const std::uint32_t h1 = scramble(std::uint32_t(x), std::uint32_t(y), seed);
            // the sum of three even chances is close to the bell shape of a sensor's grain
            const float grain =
                float(int((h1 & 7) + ((h1 >> 8) & 7) + ((h1 >> 16) & 7)) - 10) * 0.42F;
            pixel[0] = std::uint8_t(
                std::clamp(float(pixel[0]) * light * 1.01F + grain + 1.5F, 0.0F, 255.0F));
            pixel[1] =
                std::uint8_t(std::clamp(float(pixel[1]) * light + grain + 1.0F, 0.0F, 255.0F));
            pixel[2] =
                std::uint8_t(std::clamp(float(pixel[2]) * light * 0.97F + grain, 0.0F, 255.0F));
        }
    }
}

} // namespace railside::paint
