// The whole screen of one frame: header, rail, room, companion, drawer, and what lies over them.
#pragma once

#include "app/rooms/layout.h"
#include "app/rooms/panels.h"

namespace railside {

/// Everything that is shown, made ready when something changed and drawn as often as needed.
struct Shown {
    bool in_job = false;
    HeaderShown header;
    ShelfShown shelf;
    SheetShown sheet;
    Page bench;
    Page reading; // how the next reading is taken
    Page help;    // the keys of a keyboard
    Page apart;
    Page handover;
    Page suspects;
    WorkingsShown workings;
    PhotosShown photos;
    FilesShown files;
    StepsShown steps;
    std::vector<KeptLine> kept; // newest first
    KeypadShown keypad;
};

void draw_frame(Ui& ui, Rect screen, Hand hand, const Shown& shown, AppState& state,
                const ShotSource& shots, Intents& out);

} // namespace railside
