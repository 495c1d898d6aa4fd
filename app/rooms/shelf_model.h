// The Shelf: every job of the bench, the one touched last first.
#pragma once

#include "app/rooms/state.h"
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
    std::string counts; // "7 photos · 41 entries"
};

struct ShelfShown {
    std::vector<ShelfCard> cards;
    std::string empty; // what to do when there is none
};

[[nodiscard]] ShelfShown make_shelf(std::span<const JobSummary> jobs, const Clock& clock);

} // namespace railside
