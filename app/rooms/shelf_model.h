// The Shelf: every job of the bench, the one touched last first.
#pragma once

#include "app/rooms/state.h"
#include "core/job/money.h"
#include "core/store/bench.h"

namespace railside {

struct ShelfCard {
    std::string job;
    std::string title;
    std::string complaint;
    std::string state;
    std::string touched; // "today 14:32"
    std::string money;
    float money_part = -1;
    MoneyState money_state = MoneyState::no_limit;
    std::string counts;  // "7 photos · 41 entries", or where the words stand that were looked for
    bool closed = false; // handed back or returned
};

/// A line of the first run: what a part of the program is for.
struct FirstLine {
    RoomId room; // gives the icon
    std::string head;
    std::string words;
};

struct ShelfShown {
    std::vector<FirstLine> first; // while no job has ever been: what this is
    std::vector<ShelfCard> cards;
    std::string empty;   // what to do when there is none
    bool demo = false;   // the demo job is offered
    std::string heading; // "3 jobs with “hum”", or empty
};

/// Struck jobs are left out; those that have left the bench's care stand last.
[[nodiscard]] ShelfShown make_shelf(std::span<const JobSummary> jobs, const Clock& clock);
/// What a search has found, best first.
[[nodiscard]] ShelfShown make_found(std::span<const JobFound> found, std::string_view words,
                                    const Clock& clock);

} // namespace railside
