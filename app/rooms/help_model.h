// The keys of a hardware keyboard, as one page: what F1 and "?" show, and what the letters do.
#pragma once

#include "app/rooms/page.h"

#include <span>

namespace railside {

/// What a letter does while nothing is being typed.
enum class ShortcutAction {
    sheet,
    workings,
    photos,
    suspects,
    steps,
    handover,
    shelf,
    companion,      // opens or closes the drawer, or shows the next thing beside
    other_channel,  //
    keep,           // the working on the screen
    other_workings, //
    new_job,        //
    search,         // on the shelf
};
struct Shortcut {
    char letter;
    ShortcutAction action;
    std::string_view label;
};
[[nodiscard]] std::span<const Shortcut> shortcuts();

[[nodiscard]] Page make_help_page();

} // namespace railside
