// The shelf's search and the bench's own room.

#include "app/rooms/apply.h"
#include "app/rooms/bench_model.h"
#include "core/words/words.h"

#include <fmt/format.h>

#include <algorithm>

namespace railside {

void RailsideProgram::Apply::operator()(const intent::Search&) {
    state.text = TextEntry{"search", "Units, complaints, positions, types, notes", state.search,
                           false, false};
}

void RailsideProgram::Apply::operator()(const intent::ClearSearch&) { state.search.clear(); }

void RailsideProgram::Apply::operator()(const intent::ShowBench& show) {
    state.room = RoomId::bench;
    state.bench_part = show.part;
    state.instrument.clear();
}

void RailsideProgram::Apply::operator()(const intent::OpenInstrument& open) {
    state.instrument = open.id;
}

void RailsideProgram::Apply::operator()(const intent::AddInstrument& add) {
    const std::size_t before = program.book_.instruments.size();
    if (program.append_book(EntryKind::instrument, instrument_body(new_instrument(add.type))) &&
        program.book_.instruments.size() > before)
        state.instrument = program.book_.instruments.back().source.entry;
}

void RailsideProgram::Apply::operator()(const intent::StrikeInstrument& strike) {
    if (program.append_book(EntryKind::strike, strike_body(strike.id, strike.standing)))
        state.instrument.clear();
}

void RailsideProgram::Apply::operator()(const intent::EditList& edit) {
    if (edit.key.empty()) {
        if (state.list_draft && state.list_draft->changed) {
            // A first touch asks, a second one lets go.
            state.list_draft->changed = false;
            program.say(AppState::MessageTone::refused,
                        "The changes are not kept yet. Touch Keep it so, or go back once more to "
                        "let them go.");
            return;
        }
        state.list_draft.reset();
        return;
    }
    state.list_draft =
        ListDraft{list_of_bench(program.book_, program.surroundings_.lists, edit.key), -1, false};
}

void RailsideProgram::Apply::operator()(const intent::OpenDraftStep& open) {
    if (state.list_draft)
        state.list_draft->step = open.step;
}

void RailsideProgram::Apply::operator()(const intent::MoveDraftStep& move) {
    if (!state.list_draft)
        return;
    std::vector<ListStep>& steps = state.list_draft->list.steps;
    const auto n = static_cast<int>(steps.size());
    int at = move.step;
    switch (move.move) {
    case intent::DraftMove::add_after: {
        ListStep step;
        step.text = "New step";
        at = std::min(at + 1, n);
        steps.insert(steps.begin() + at, step);
        break;
    }
    case intent::DraftMove::up:
    case intent::DraftMove::down: {
        const int to = at + (move.move == intent::DraftMove::up ? -1 : 1);
        if (at < 0 || at >= n || to < 0 || to >= n)
            return;
        std::swap(steps[static_cast<std::size_t>(at)], steps[static_cast<std::size_t>(to)]);
        at = to;
        break;
    }
    case intent::DraftMove::remove:
        if (at < 0 || at >= n)
            return;
        steps.erase(steps.begin() + at);
        at = -1;
        break;
    }
    state.list_draft->step = at;
    state.list_draft->changed = true;
}

void RailsideProgram::Apply::operator()(const intent::KeepList&) {
    if (!state.list_draft)
        return;
    StepList list = state.list_draft->list;
    // A new step's key is made of its text; those of old ones stay, so that ticks keep their sense.
    for (std::size_t i = 0; i < list.steps.size(); ++i) {
        if (!list.steps[i].key.empty())
            continue;
        const std::string made = list_key_of(list.steps[i].text);
        std::string key = made;
        const auto taken = [&](const std::string& wanted) {
            return std::any_of(list.steps.begin(), list.steps.end(),
                               [&](const ListStep& other) { return other.key == wanted; });
        };
        for (int n = 2; taken(key); ++n)
            key = fmt::format("{}_{}", made.substr(0, 36), n);
        list.steps[i].key = key;
    }
    const std::string text = print_list(list);
    if (const auto read = parse_list(text, list.name); !read) {
        program.say(AppState::MessageTone::refused, read.error().message);
        return;
    }
    if (!program.append_book(EntryKind::list_text, list_text_body(list.key, text)))
        return;
    program.say(AppState::MessageTone::kept,
                worded("{} is kept. Jobs that take it up from now on have it so.", list.name));
    state.list_draft.reset();
}

void RailsideProgram::Apply::operator()(const intent::DeliveredList& delivered) {
    (void)program.append_book(EntryKind::list_text, list_text_body(delivered.key, {}));
}

void RailsideProgram::Apply::operator()(const intent::StopWatching&) {
    program.settings_.watched.clear();
    save();
    program.watch();
}

} // namespace railside
