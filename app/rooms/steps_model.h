// The Steps room: the lists of a job, and one of them with its live step open.
#pragma once

#include "app/rooms/state.h"

namespace railside {

enum class StepLook {
    done,
    skipped,
    live,   // the next one to do: open
    open,   // may be done now
    barred, // waits for another
};

struct StepRow {
    std::string key;
    std::string text;
    std::string hint;
    std::string caution;
    std::string answer; // "0.8 V · 14:20", "skipped: not fitted"
    StepLook look = StepLook::open;
    StepKind kind = StepKind::tick;
    std::vector<StepChoice> choices;
    std::string window;  // "−50 mV to 50 mV"
    std::string refused; // an answer that did not tick it: "bright: stop"
    std::string barred_by;
    bool opened = false; // shows hint, caution and answers
};

struct ListCard {
    std::string entry; // taken up: entry id; else empty
    std::string key;
    std::string name;
    std::string progress; // "4 of 11"
    float part = 0;
    bool finished = false;
};

struct StepsShown {
    bool has_list = false;
    std::string entry;
    std::string name;
    std::string progress;
    float part = 0;
    std::string intro;
    std::vector<StepRow> rows;
    std::string bar; // "Barred: …" sentence, or empty
    bool skipping = false;
    bool follow = false;              // bring the opened step into view
    std::vector<std::string> reasons; // offered for skipping
    std::vector<ListCard> lists;      // taken up first, then those that can be
    std::string apart;                // what is taken off: "5 pieces off"
    bool apart_left = false;          // something is not back yet
    std::string still_off;            // the bar over a list that puts power on; empty: all is back
};

[[nodiscard]] StepsShown make_steps(const AppState& state, const Job& job,
                                    std::span<const StepList> available, const Clock& clock);

} // namespace railside
