// Rectangles in pixels, and cutting them up: the whole layout of every room is made of these.
#pragma once

#include <algorithm>

namespace railside {

struct Rect {
    float x0 = 0;
    float y0 = 0;
    float x1 = 0;
    float y1 = 0;

    [[nodiscard]] float width() const { return x1 - x0; }
    [[nodiscard]] float height() const { return y1 - y0; }
    [[nodiscard]] float mid_x() const { return (x0 + x1) / 2; }
    [[nodiscard]] float mid_y() const { return (y0 + y1) / 2; }
    [[nodiscard]] bool empty() const { return x1 <= x0 || y1 <= y0; }
    [[nodiscard]] bool holds(float x, float y) const {
        return x >= x0 && x < x1 && y >= y0 && y < y1;
    }

    /// Takes a slice off one side and returns it; the rest stays here, less `gap`.
    Rect cut_top(float size, float gap = 0) {
        const Rect slice{x0, y0, x1, std::min(y0 + size, y1)};
        y0 = std::min(y0 + size + gap, y1);
        return slice;
    }
    Rect cut_bottom(float size, float gap = 0) {
        const Rect slice{x0, std::max(y1 - size, y0), x1, y1};
        y1 = std::max(y1 - size - gap, y0);
        return slice;
    }
    Rect cut_left(float size, float gap = 0) {
        const Rect slice{x0, y0, std::min(x0 + size, x1), y1};
        x0 = std::min(x0 + size + gap, x1);
        return slice;
    }
    Rect cut_right(float size, float gap = 0) {
        const Rect slice{std::max(x1 - size, x0), y0, x1, y1};
        x1 = std::max(x1 - size - gap, x0);
        return slice;
    }
    [[nodiscard]] Rect inset(float dx, float dy) const {
        return {x0 + dx, y0 + dy, x1 - dx, y1 - dy};
    }
    [[nodiscard]] Rect inset(float d) const { return inset(d, d); }
    [[nodiscard]] Rect cross(const Rect& other) const {
        return {std::max(x0, other.x0), std::max(y0, other.y0), std::min(x1, other.x1),
                std::min(y1, other.y1)};
    }
    /// The i-th of n equal columns with gaps between.
    [[nodiscard]] Rect column(int i, int n, float gap) const {
        const float w = (width() - gap * static_cast<float>(n - 1)) / static_cast<float>(n);
        const float left = x0 + static_cast<float>(i) * (w + gap);
        return {left, y0, left + w, y1};
    }
    [[nodiscard]] Rect row(int i, int n, float gap) const {
        const float h = (height() - gap * static_cast<float>(n - 1)) / static_cast<float>(n);
        const float top = y0 + static_cast<float>(i) * (h + gap);
        return {x0, top, x1, top + h};
    }

    friend bool operator==(const Rect&, const Rect&) = default;
};

} // namespace railside
