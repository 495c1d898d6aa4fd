// Our own icons and marks, drawn as shapes; always shown with a word beside or below.
#pragma once

#include "app/ui/ui.h"
#include "core/working/working.h"

namespace railside {

enum class Icon {
    shelf,
    sheet,
    workings,
    photos,
    steps,
    erase,
    plus,
    back,
    forward,
    camera,
    bench,
    drawer_up,
    drawer_down,
    hand,
    warning,
    folder,
    suspects
};

/// Inside `place`, centred, as large as fits up to 6 mm.
void draw_icon(Ui& ui, Icon icon, Rect place, Ink ink, float largest_mm = 5.5f);

/// The shape that goes with a verdict.
enum class Mark {
    round, // in window
    half,  // at the edge, unusual
    cross, // outside, refused
    ring,  // undecided
    tick,  // done, saved
};
void draw_mark(Ui& ui, Mark mark, Rect place, Ink ink);

[[nodiscard]] Ink verdict_ink(VerdictState state);
[[nodiscard]] Mark verdict_mark(VerdictState state);

} // namespace railside
