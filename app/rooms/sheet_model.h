// The Sheet: a job's front page, its positions, its money, and everything that happened, newest
// first.
#pragma once

#include "app/rooms/header_model.h"
#include "app/rooms/page.h"
#include "core/store/bench.h"

namespace railside {

struct HistoryRow {
    std::string entry;
    std::string time;
    std::string what; // "Reading · left · 96.0 mV"
    std::string more; // note or conditions
    bool struck = false;
    bool can_strike = true;
};

struct SheetShown {
    Page page;    // the part that is chosen
    Page history; // beside it, where there is room
};

/// `seen`: earlier jobs that resemble this one.
[[nodiscard]] SheetShown make_sheet(const AppState& state, const Job& job, const BenchBook& book,
                                    std::span<const JobSeen> seen, const Clock& clock);

/// The time line, as the filter has it; the entry in state.history_entry is opened.
[[nodiscard]] Page make_history(const AppState& state, const Job& job, const Clock& clock);

/// One entry in one line, as the history shows it.
[[nodiscard]] HistoryRow make_history_row(const Job& job, const Entry& entry, const Clock& clock);

} // namespace railside
