// The Workings room.

#include "app/rooms/apply.h"
#include "core/words/words.h"
#include "core/working/json.h"

#include <fmt/format.h>

namespace railside {

namespace {

std::string field_text(const Job& job, const Working& working, const Field& field, Channel channel,
                       const Clock& clock) {
    const auto stand = field_stand(job, working, field, channel, clock);
    return stand ? stand->text : std::string();
}

PickList pick_of(const Field& field, std::string now) {
    PickList pick{fmt::format("field/{}", field.key), std::string(field.label), std::move(now), {}};
    for (const Choice& choice : field.choices)
        pick.words.emplace_back(choice.key, choice.label);
    return pick;
}

} // namespace

void RailsideProgram::Apply::operator()(const intent::PickWorking& pick) {
    state.working = pick.working;
    state.choosing_working = false;
    state.plots = {};
}

void RailsideProgram::Apply::operator()(const intent::ChooseWorking&) {
    state.choosing_working = true;
}

void RailsideProgram::Apply::operator()(const intent::PickChannel& pick) {
    state.channel = pick.channel;
    state.plots = {};
}

void RailsideProgram::Apply::operator()(const intent::OpenField& open) {
    const Working* working = find_working(state.working);
    const Field* field = working ? find_field(*working, open.field) : nullptr;
    if (field == nullptr)
        return;
    program.unusual_confirmed_ = false;
    if (field->kind == FieldKind::amount)
        state.keypad = make_field_keypad(state, job, *working, *field,
                                         program.surroundings_.clock(), &program.book_);
    else if (field->kind == FieldKind::choice)
        state.pick = pick_of(*field, field_text(job, *working, *field, state.channel,
                                                program.surroundings_.clock()));
    else if (field->kind == FieldKind::recording)
        choose_file(FileWanted::recording);
    else
        state.text = TextEntry{
            fmt::format("field/{}", field->key), worded("{}. {}", field->label, field->help),
            field_text(job, *working, *field, state.channel, program.surroundings_.clock()), true,
            false};
}

void RailsideProgram::Apply::operator()(const intent::MovePlotCursor& move) {
    if (move.plot < state.plots.size())
        state.plots[move.plot].cursor = move.at;
}

void RailsideProgram::Apply::operator()(const intent::ZoomPlot& zoom) {
    if (zoom.plot >= state.plots.size())
        return;
    PlotView& view = state.plots[zoom.plot];
    view = zoomed(view, zoom.at, zoom.by, zoom.pan);
}

void RailsideProgram::Apply::operator()(const intent::WholePlot& whole) {
    if (whole.plot < state.plots.size())
        state.plots[whole.plot] = {};
}

void RailsideProgram::Apply::operator()(const intent::KeepWorking&) { program.keep_working(); }

void RailsideProgram::keep_working() {
    const Working* working = find_working(state_.working);
    if (working == nullptr)
        return;
    const GatheredInputs gathered =
        gather_inputs(job_, *working, state_.channel, surroundings_.clock(), nullptr,
                      recording_source_, {&book_, state_.reading.instrument});
    if (!gathered.refused.empty()) {
        say(AppState::MessageTone::refused, gathered.refused.front().second.message);
        return;
    }
    const auto outcome = run_working(*working, gathered.inputs);
    if (!outcome) {
        say(AppState::MessageTone::refused, outcome.error().message);
        return;
    }
    KeptWorking kept;
    kept.working = working->key;
    kept.channel = state_.channel;
    kept.record = working_to_json(*working, with_defaults(*working, gathered.inputs), *outcome);
    kept.record.erase("curves");
    kept.uses = gathered.readings;
    if (const KeptWorking* before = job_.last_kept(working->key, state_.channel))
        kept.replaces = before->source.entry;
    if (append(EntryKind::working, kept_body(kept)))
        say(AppState::MessageTone::kept, worded("{} is kept with the {} channel.", working->name,
                                                channel_label(state_.channel)));
}

} // namespace railside
