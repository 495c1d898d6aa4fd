#include "app/rooms/shelf_model.h"

#include "app/rooms/header_model.h"
#include "app/rooms/money_model.h"
#include "core/words/words.h"

#include <fmt/format.h>

#include <algorithm>

namespace railside {

namespace {

ShelfCard make_card(const JobSummary& summary, const Clock& clock) {
    const Sheet& sheet = summary.sheet;
    ShelfCard card;
    card.job = summary.job;
    card.title = sheet.maker.empty()   ? sheet.model
                 : sheet.model.empty() ? sheet.maker
                                       : sheet.maker + " " + sheet.model;
    if (card.title.empty())
        card.title = "Unnamed unit";
    card.complaint = sheet.complaint;
    const JobState state = job_state_from_word(sheet.state);
    card.state = sheet.state.empty() ? std::string(job_state_word(JobState::waiting)) : sheet.state;
    card.closed = is_closed(state);
    card.touched = time_text(summary.touched_ms, clock);
    if (sheet.agreed_limit > 0) {
        card.money = worded("{} of {}", print_money(summary.total, {}),
                            print_money(sheet.agreed_limit, sheet.currency));
        card.money_part =
            static_cast<float>(std::clamp(summary.total / sheet.agreed_limit, 0.0, 1.0));
        card.money_state = money_state(summary.total, sheet.agreed_limit);
    } else if (summary.total > 0) {
        card.money = print_money(summary.total, sheet.currency);
    }
    card.counts = fmt::format(
        "{} · {}", summary.photos == 1 ? worded("1 photo") : worded("{} photos", summary.photos),
        summary.entries == 1 ? worded("1 entry") : worded("{} entries", summary.entries));
    if (summary.standing == Standing::struck)
        card.state += words(", off the shelf");
    return card;
}

/// An excerpt for people: without the brackets round what was found, keys as words.
std::string plain_words(std::string_view excerpt) {
    std::string words;
    words.reserve(excerpt.size());
    for (const char c : excerpt)
        if (c != '[' && c != ']')
            words += c == '_' ? ' ' : c;
    return words;
}

} // namespace

ShelfShown make_shelf(std::span<const JobSummary> jobs, const Clock& clock) {
    ShelfShown shown;
    shown.cards.reserve(jobs.size());
    for (const JobSummary& summary : jobs)
        if (summary.standing == Standing::valid)
            shown.cards.push_back(make_card(summary, clock));
    std::stable_partition(shown.cards.begin(), shown.cards.end(),
                          [](const ShelfCard& card) { return !card.closed; });
    if (shown.cards.empty())
        shown.empty = "No jobs yet. Touch New job when a unit comes in.";
    if (jobs.empty())
        shown.first = {
            {RoomId::sheet, "Sheet", "The unit, the complaint, what was measured where."},
            {RoomId::workings, "Workings", "Key in a reading: the answer, its limits and why."},
            {RoomId::photos, "Photos", "As received, taken off, fitted; marks on what matters."},
            {RoomId::steps, "Steps", "Lists that bar what is not yet safe; what came off."}};
    return shown;
}

ShelfShown make_found(std::span<const JobFound> found, std::string_view words, const Clock& clock) {
    ShelfShown shown;
    shown.cards.reserve(found.size());
    for (const JobFound& one : found) {
        ShelfCard card = make_card(one.job, clock);
        if (!one.excerpt.empty())
            card.counts = plain_words(one.excerpt);
        shown.cards.push_back(std::move(card));
    }
    shown.heading = found.size() == 1
                        ? worded("1 job with “{}”", std::string(words))
                        : worded("{} jobs with “{}”", found.size(), std::string(words));
    if (found.empty())
        shown.empty = "No job has all of these words. Fewer words, or the beginning of one, find "
                      "more.";
    return shown;
}

} // namespace railside
