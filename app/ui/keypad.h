// The keypad on the screen: covers the room, shows the value as understood, and gives it back when
// it is set.
#pragma once

#include "app/ui/hand.h"
#include "app/ui/keypad_model.h"
#include "app/ui/ui.h"

namespace railside {

enum class KeypadOutcome {
    open,  // still typing (a key may have been pressed: `key` says which)
    set,   // take the value
    leave, // forget it
};

struct KeypadAnswer {
    KeypadOutcome outcome = KeypadOutcome::open;
    std::string_view key;              // pressed key, to hand to press_key
    const QuickValue* quick = nullptr; // quick value tapped
    int steps = 0;                     // steps wanted by keys or by a finger: up above 0
};

/// Draws over `area` on a layer of its own: the whole of a small screen, the companion's side of a
/// large one, so that the working stays in view and follows what is typed. `shown` is
/// make_keypad(state).
[[nodiscard]] KeypadAnswer draw_keypad(Ui& ui, Rect area, Hand hand, const KeypadState& state,
                                       const KeypadShown& shown);

} // namespace railside
