#include "app/rooms/steps_model.h"

#include "app/rooms/apart_model.h"
#include "app/rooms/header_model.h"
#include "app/rooms/typed_text.h"
#include "core/quantity/value_code.h"
#include "core/words/words.h"

#include <fmt/format.h>

namespace railside {

namespace {

std::string window_text(const ListStep& step) {
    if (step.kind != StepKind::reading)
        return {};
    return worded("{} to {}", print_short(step.low, step.unit, 4),
                  print_short(step.high, step.unit, 4));
}

std::string answer_text(const StepRecord& record, const Clock& clock) {
    std::string answer = record.answer;
    if (record.step.kind == StepKind::reading && record.state == StepState::done)
        answer = typed_text(record.answer, record.step.unit);
    const std::string time = record.time_ms > 0 ? time_text(record.time_ms, clock) : std::string();
    if (record.state == StepState::skipped)
        return worded("skipped: {} · {}", answer, time);
    if (answer.empty())
        return time;
    return time.empty() ? answer : fmt::format("{} · {}", answer, time);
}

} // namespace

StepsShown make_steps(const AppState& state, const Job& job, std::span<const StepList> available,
                      const Clock& clock) {
    StepsShown shown;
    for (const ListRecord& list : job.lists) {
        if (list.source.standing == Standing::struck)
            continue;
        const int n = static_cast<int>(list.steps.size());
        const int done = list.done();
        shown.lists.push_back({list.source.entry, list.key, list.name, worded("{} of {}", done, n),
                               n > 0 ? static_cast<float>(done) / static_cast<float>(n) : 0,
                               done == n});
    }
    for (const StepList& list : available) {
        bool taken = false;
        for (const ListRecord& have : job.lists)
            taken = taken || (have.key == list.key && have.source.standing == Standing::valid &&
                              have.done() < static_cast<int>(have.steps.size()));
        if (!taken)
            shown.lists.push_back(
                {{}, list.key, list.name, worded("{} steps", list.steps.size()), 0, false});
    }
    const auto pieces = reassembly_list(job);
    const int off = pieces_still_off(pieces);
    shown.apart_left = off > 0;
    shown.apart = pieces.empty() ? std::string("nothing yet")
                  : off == 0     ? std::string("all back")
                                 : worded("{} still off", off);
    const ListRecord* list = state.list == "none" ? nullptr : open_list(state, job);
    if (list == nullptr)
        return shown;
    shown.has_list = true;
    if (wants_all_back(list->key))
        shown.still_off = still_off_sentence(pieces);
    shown.entry = list->source.entry;
    shown.name = list->name;
    const int n = static_cast<int>(list->steps.size());
    shown.progress = worded("{} of {}", list->done(), n);
    shown.part = n > 0 ? static_cast<float>(list->done()) / static_cast<float>(n) : 0;
    bool live_found = false;
    for (const StepRecord& record : list->steps) {
        StepRow row;
        row.key = record.step.key;
        row.text = record.step.text;
        row.hint = record.step.hint;
        row.caution = record.step.caution;
        row.kind = record.step.kind;
        row.choices = record.step.choices;
        row.window = window_text(record.step);
        row.barred_by = record.barred_by;
        if (record.state == StepState::done) {
            row.look = StepLook::done;
            row.answer = answer_text(record, clock);
        } else if (record.state == StepState::skipped) {
            row.look = StepLook::skipped;
            row.answer = answer_text(record, clock);
        } else if (!record.barred_by.empty()) {
            row.look = StepLook::barred;
        } else if (!live_found) {
            row.look = StepLook::live;
            live_found = true;
        } else {
            row.look = StepLook::open;
        }
        if (record.state == StepState::open && !record.answer.empty()) {
            row.refused =
                record.step.kind == StepKind::reading
                    ? worded("{} lies outside {}. Not ticked.", record.answer, row.window)
                    : worded("“{}” stops this list here. Switch off, discharge, find out why.",
                             record.answer);
            shown.bar = row.refused;
        }
        if (record.state == StepState::open && !record.refused_tick.empty() &&
            row.refused.empty() && record.barred_by.empty())
            row.refused = "Ticked while it was barred: that does not count. Do it now.";
        row.opened = state.expanded_step.empty() ? row.look == StepLook::live
                                                 : state.expanded_step == row.key;
        if (row.opened && row.look == StepLook::barred)
            row.hint = worded("Waits for: {}", record.barred_by);
        shown.rows.push_back(std::move(row));
    }
    shown.skipping = state.skipping;
    shown.follow = state.follow_step;
    if (state.skipping)
        shown.reasons = {"not fitted in this unit", "done earlier today", "no instrument for it",
                         "client declined"};
    return shown;
}

} // namespace railside
