#include "app/rooms/shelf_model.h"

#include "app/rooms/header_model.h"

#include <fmt/format.h>

namespace railside {

ShelfShown make_shelf(std::span<const JobSummary> jobs, const Clock& clock) {
    ShelfShown shown;
    for (const JobSummary& summary : jobs) {
        Job job;
        job.sheet = summary.sheet;
        const HeaderShown header = make_header(AppState{}, job, clock);
        ShelfCard card;
        card.job = summary.job;
        card.title = header.title;
        card.complaint = summary.sheet.complaint;
        card.state = summary.sheet.state.empty() ? "waiting" : summary.sheet.state;
        card.touched = time_text(summary.touched_ms, clock);
        card.money = header.money;
        card.money_part = header.money_part;
        card.counts =
            fmt::format("{} photo{} · {} entr{}", summary.photos, summary.photos == 1 ? "" : "s",
                        summary.entries, summary.entries == 1 ? "y" : "ies");
        shown.cards.push_back(std::move(card));
    }
    if (shown.cards.empty())
        shown.empty = "No jobs yet. Touch New job when a unit comes in.";
    return shown;
}

} // namespace railside
