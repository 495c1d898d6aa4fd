// The Sheet: a job's front page, its positions side by side, and everything that happened, newest
// first.
#pragma once

#include "app/rooms/header_model.h"
#include "app/rooms/state.h"

namespace railside {

struct PositionRow {
    std::string designator;
    std::string role;
    std::string channel;
    std::string types; // "printed 0R22 · fitted 0R47, earlier shop"
    std::string state; // "suspect"
    std::string note;
    bool odd = false; // fitted differs from printed
};

struct HistoryRow {
    std::string entry;
    std::string time;
    std::string what; // "Reading · left · 96.0 mV"
    std::string more; // note or conditions
    bool struck = false;
    bool can_strike = true;
};

struct SheetShown {
    HeaderShown header;
    std::string serial;
    std::string state;
    std::vector<PositionRow> positions;
    std::vector<HistoryRow> history; // newest first
    std::string opened;              // entry of history opened by long press
};

[[nodiscard]] SheetShown make_sheet(const AppState& state, const Job& job, const Clock& clock);

/// One entry in one line, as the history shows it.
[[nodiscard]] HistoryRow make_history_row(const Job& job, const Entry& entry, const Clock& clock);

} // namespace railside
