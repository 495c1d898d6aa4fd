// The lines that stand over every room of a job: which unit, what the client says, the money, the
// last kept result.
#pragma once

#include "app/rooms/state.h"

namespace railside {

/// A kept working in one line.
struct KeptLine {
    std::string entry;
    std::string time;    // "14:32"
    std::string name;    // "Idle current · right"
    std::string figures; // "11.4 mV → 51.8 mA"
    VerdictState state = VerdictState::undecided;
    std::string word; // "in window"
};

struct HeaderShown {
    std::string title;       // "Orrinvale SA-260"
    std::string short_title; // "SA-260"
    std::string complaint;   // the client's words
    std::string money;       // "86 of 140"
    float money_part = -1;   // 0..1; below 0: nothing agreed
    bool money_high = false; // 80 % or more
    bool has_kept = false;
    KeptLine kept;
    bool saving = false;      // a photo or a copy is on its way to the disk
    std::string photos_label; // "Photos 7"
    std::string steps_label;  // "Steps 4 of 11"
    std::string kept_label;   // "Kept 5"
};

[[nodiscard]] KeptLine make_kept_line(const KeptWorking& kept, const Clock& clock);
[[nodiscard]] HeaderShown make_header(const AppState& state, const Job& job, const Clock& clock);

/// The list that is open, or else the one being worked through, or null.
[[nodiscard]] const ListRecord* open_list(const AppState& state, const Job& job);

} // namespace railside
