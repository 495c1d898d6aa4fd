#include "app/rooms/layout.h"

#include <algorithm>

namespace railside {

namespace {

/// A share of `whole` that leaves both parts `least`.
float share_of(float whole, float share, float least) {
    const float most = std::max(whole / 2, whole - least);
    return std::clamp(whole * share, std::min(least, most), most);
}

} // namespace

Layout make_layout(Rect screen, float px_per_mm, Hand hand, bool in_job, bool drawer_open,
                   float split) {
    const auto mm = [&](float v) { return v * px_per_mm; };
    Layout layout;
    const float width_mm = screen.width() / px_per_mm;
    const float height_mm = screen.height() / px_per_mm;
    Rect rest = screen;
    const bool wide = screen.width() > screen.height();
    const float gap = mm(1.4f);

    if (in_job) {
        layout.rail_upright = wide;
        if (wide) {
            const float rail = mm(width_mm < 120 ? 15.0f : 18.0f);
            layout.rail = hand == Hand::right ? rest.cut_right(rail) : rest.cut_left(rail);
        } else {
            layout.rail = rest.cut_bottom(mm(13.5f));
        }
    }
    layout.header = rest.cut_top(mm(height_mm < 80 ? 9.6f : 10.5f));
    if (!in_job) {
        layout.room = rest.inset(gap, 0);
        layout.room.y1 -= gap;
        layout.keypad = screen;
        return layout;
    }
    if (wide && width_mm >= 175) {
        layout.form = BesideForm::column;
        if (height_mm >= 100)
            layout.strip = rest.cut_bottom(mm(7.5f));
        rest = rest.inset(gap, 0);
        rest.y1 -= layout.strip.empty() ? gap : 0;
        const float share = share_of(rest.width(), split > 0 ? split : k_wide_split, mm(76));
        layout.room = rest.cut_left(share, gap);
        layout.beside = rest;
        layout.keypad = {layout.room.x1, screen.y0, screen.x1, screen.y1};
    } else if (!wide && width_mm >= 110 && height_mm >= 180) {
        layout.form = BesideForm::below;
        layout.strip = rest.cut_bottom(mm(7.5f));
        rest = rest.inset(gap, 0);
        layout.room =
            rest.cut_top(share_of(rest.height(), split > 0 ? split : k_tall_split, mm(70)), gap);
        layout.beside = rest;
        layout.keypad = {screen.x0, layout.room.y1, screen.x1, screen.y1};
    } else {
        layout.form = BesideForm::drawer;
        layout.keypad = screen;
        if (drawer_open && height_mm < 80) {
            // A low screen gives the drawer all of it below the header.
            layout.beside = rest;
            layout.room = rest.inset(gap, 0);
        } else if (drawer_open) {
            Rect over = rest;
            const float closed = mm(10);
            layout.beside =
                over.cut_bottom(std::max(over.height() * 0.66f, std::min(over.height(), mm(44))));
            layout.handle = layout.beside.cut_top(closed);
            layout.room = rest.inset(gap, 0);
        } else if (height_mm >= 80) {
            layout.handle = rest.cut_bottom(mm(12));
            layout.room = rest.inset(gap, 0);
            layout.room.y1 -= gap;
        } else {
            // Too low for a handle of its own: the header carries it.
            layout.room = rest.inset(gap, 0);
            layout.room.y1 -= gap;
        }
    }
    return layout;
}

} // namespace railside
