#include "app/ui/icons.h"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace railside {

namespace {

/// A square canvas of 24 x 24 units laid into a place.
class Pen {
  public:
    Pen(Ui& ui, Rect place, Ink ink, float largest_mm)
        : list_(ui.list()), colour_(ui.theme().colour(ink)) {
        const float size = std::min({place.width(), place.height(), ui.mm(largest_mm)});
        unit_ = size / 24;
        x_ = place.mid_x() - size / 2;
        y_ = place.mid_y() - size / 2;
        width_ = std::max(1.5f, unit_ * 1.9f);
    }
    ImVec2 at(float x, float y) const { return {x_ + x * unit_, y_ + y * unit_}; }
    void line(float x0, float y0, float x1, float y1) {
        list_.AddLine(at(x0, y0), at(x1, y1), colour_, width_);
    }
    void box(float x0, float y0, float x1, float y1, float r) {
        list_.AddRect(at(x0, y0), at(x1, y1), colour_, r * unit_, 0, width_);
    }
    void solid(float x0, float y0, float x1, float y1, float r) {
        list_.AddRectFilled(at(x0, y0), at(x1, y1), colour_, r * unit_);
    }
    void ring(float x, float y, float r) {
        list_.AddCircle(at(x, y), r * unit_, colour_, 0, width_);
    }
    void disc(float x, float y, float r) { list_.AddCircleFilled(at(x, y), r * unit_, colour_); }
    void path(std::initializer_list<ImVec2> points, bool closed = false) {
        for (const ImVec2& p : points)
            list_.PathLineTo(at(p.x, p.y));
        list_.PathStroke(colour_, closed ? ImDrawFlags_Closed : 0, width_);
    }

  private:
    ImDrawList& list_;
    ImU32 colour_;
    float unit_ = 1, x_ = 0, y_ = 0, width_ = 1;
};

} // namespace

void draw_icon(Ui& ui, Icon icon, Rect place, Ink ink, float largest_mm) {
    Pen pen(ui, place, ink, largest_mm);
    switch (icon) {
    case Icon::shelf: // boards with units standing on them
        pen.line(2, 9, 22, 9);
        pen.line(2, 20, 22, 20);
        pen.box(5, 3, 11, 9, 1);
        pen.box(13, 14, 20, 20, 1);
        pen.line(15, 4, 15, 9);
        pen.line(6, 14, 6, 20);
        break;
    case Icon::sheet: // a page with a turned corner
        pen.path({{5, 2}, {14, 2}, {19, 7}, {19, 22}, {5, 22}}, true);
        pen.line(9, 12, 15, 12);
        pen.line(9, 16, 15, 16);
        break;
    case Icon::workings: // a transfer curve over its axis
        pen.line(2, 17, 22, 17);
        pen.path({{3, 21},
                  {7, 19},
                  {9.5f, 12},
                  {11, 6},
                  {12, 4},
                  {13, 6},
                  {14.5f, 12},
                  {17, 19},
                  {21, 21}});
        break;
    case Icon::photos:
        pen.box(2, 7, 22, 20, 2.5f);
        pen.path({{8, 7}, {9.5f, 4}, {14.5f, 4}, {16, 7}});
        pen.ring(12, 13.5f, 3.8f);
        break;
    case Icon::steps:
        pen.path({{2, 6}, {4, 8}, {8, 3.5f}});
        pen.line(11, 6, 22, 6);
        pen.path({{2, 13}, {4, 15}, {8, 10.5f}});
        pen.line(11, 13, 22, 13);
        pen.line(11, 20, 22, 20);
        pen.ring(5, 20, 1.6f);
        break;
    case Icon::suspects:
        pen.ring(10, 10, 6.5f);
        pen.line(15, 15, 21.5f, 21.5f);
        break;
    case Icon::erase:
        pen.path({{8, 5}, {22, 5}, {22, 19}, {8, 19}, {2, 12}}, true);
        pen.line(11, 9, 18, 15.5f);
        pen.line(18, 9, 11, 15.5f);
        break;
    case Icon::plus:
        pen.line(12, 4, 12, 20);
        pen.line(4, 12, 20, 12);
        break;
    case Icon::back:
        pen.path({{14, 4}, {6, 12}, {14, 20}});
        break;
    case Icon::forward:
        pen.path({{9, 4}, {17, 12}, {9, 20}});
        break;
    case Icon::camera: // a box with a lens and its button
        pen.path({{2, 7}, {7, 7}, {9, 4}, {15, 4}, {17, 7}, {22, 7}, {22, 20}, {2, 20}}, true);
        pen.path({{12, 9}, {15.5f, 11.5f}, {15.5f, 15.5f}, {12, 18}, {8.5f, 15.5f}, {8.5f, 11.5f}},
                 true);
        break;
    case Icon::bench: // a board on two legs with a lamp over it
        pen.line(2, 13, 22, 13);
        pen.line(5, 13, 5, 21);
        pen.line(19, 13, 19, 21);
        pen.path({{8, 13}, {8, 5}, {14, 3}});
        pen.path({{12, 6}, {14, 3}, {18, 6}}, true);
        break;
    case Icon::drawer_up:
        pen.path({{5, 15}, {12, 8}, {19, 15}});
        break;
    case Icon::drawer_down:
        pen.path({{5, 9}, {12, 16}, {19, 9}});
        break;
    case Icon::hand: // two posts and an arrow between: which side the rail stands
        pen.line(3, 4, 3, 20);
        pen.line(21, 4, 21, 20);
        pen.line(7, 12, 17, 12);
        pen.path({{10, 9}, {7, 12}, {10, 15}});
        pen.path({{14, 9}, {17, 12}, {14, 15}});
        break;
    case Icon::warning:
        pen.path({{12, 3}, {22, 20}, {2, 20}}, true);
        pen.line(12, 9, 12, 14);
        pen.disc(12, 17, 1.2f);
        break;
    case Icon::folder:
        pen.path({{2, 5}, {9, 5}, {11, 8}, {22, 8}, {22, 20}, {2, 20}}, true);
        break;
    }
}

void draw_mark(Ui& ui, Mark mark, Rect place, Ink ink) {
    ImDrawList& list = ui.list();
    const ImU32 colour = ui.theme().colour(ink);
    const float r = std::min(place.width(), place.height()) / 2;
    const float x = place.mid_x();
    const float y = place.mid_y();
    const float width = std::max(1.5f, r * 0.34f);
    constexpr float pi = std::numbers::pi_v<float>;
    switch (mark) {
    case Mark::round:
        list.AddCircleFilled({x, y}, r, colour);
        break;
    case Mark::half:
        list.AddCircle({x, y}, r - width / 2, colour, 0, width);
        list.PathArcTo({x, y}, r, pi / 2, 3 * pi / 2);
        list.PathFillConvex(colour);
        break;
    case Mark::cross:
        list.AddLine({x - r * 0.8f, y - r * 0.8f}, {x + r * 0.8f, y + r * 0.8f}, colour, width);
        list.AddLine({x + r * 0.8f, y - r * 0.8f}, {x - r * 0.8f, y + r * 0.8f}, colour, width);
        break;
    case Mark::ring:
        list.AddCircle({x, y}, r - width / 2, colour, 0, width);
        break;
    case Mark::tick:
        list.PathLineTo({x - r * 0.85f, y + r * 0.05f});
        list.PathLineTo({x - r * 0.2f, y + r * 0.7f});
        list.PathLineTo({x + r * 0.9f, y - r * 0.7f});
        list.PathStroke(colour, 0, width);
        break;
    }
}

Ink verdict_ink(VerdictState state) {
    switch (state) {
    case VerdictState::in_window:
        return Ink::inside;
    case VerdictState::at_the_edge:
        return Ink::edge;
    case VerdictState::outside:
        return Ink::outside;
    case VerdictState::undecided:
        break;
    }
    return Ink::soft;
}

Mark verdict_mark(VerdictState state) {
    switch (state) {
    case VerdictState::in_window:
        return Mark::round;
    case VerdictState::at_the_edge:
        return Mark::half;
    case VerdictState::outside:
        return Mark::cross;
    case VerdictState::undecided:
        break;
    }
    return Mark::ring;
}

} // namespace railside
