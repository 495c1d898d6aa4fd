// Where header, rail, room, companion and drawer lie on a screen. Pure: sizes in, rectangles out.
#pragma once

#include "app/ui/hand.h"
#include "app/ui/rect.h"

namespace railside {

enum class BesideForm {
    none,   // shelf
    column, // at the other side of a wide screen
    below,  // under the room on a tall tablet
    drawer, // pulled up over the lower half
};

struct Layout {
    Rect header;
    Rect rail;
    bool rail_upright = false; // a column of rooms at the side; else a row at the foot
    Rect room;
    Rect beside; // empty when a closed drawer
    Rect handle; // the drawer's handle with what was last kept; empty when there is none
    Rect keypad; // where the keypad comes up
    Rect strip;  // one line with what was last kept; empty when the handle or the header shows it
    BesideForm form = BesideForm::none;
};

/// `in_job`: a job is open (rail and companion are there).
/// `split`: the room's share of what it and its companion have together, 0 for the usual; each
/// keeps enough to be used.
[[nodiscard]] Layout make_layout(Rect screen, float px_per_mm, Hand hand, bool in_job,
                                 bool drawer_open, float split = 0);

/// The usual share, where the companion stands at the side and where it stands below.
inline constexpr float k_wide_split = 0.54f;
inline constexpr float k_tall_split = 0.6f;

} // namespace railside
