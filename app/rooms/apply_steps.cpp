// Lists of steps, and what was taken off.

#include "app/rooms/apart_model.h"
#include "app/rooms/apply.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace railside {

namespace {

const StepRecord* find_step(const Job& job, std::string_view list, std::string_view step) {
    for (const ListRecord& record : job.lists)
        if (record.source.entry == list)
            for (const StepRecord& s : record.steps)
                if (s.step.key == step)
                    return &s;
    return nullptr;
}

} // namespace

void RailsideProgram::Apply::operator()(const intent::TakeUpList& take) {
    for (const StepList& list : program.lists_)
        if (list.key == take.key) {
            if (program.append(EntryKind::list, list_body(list)) && !job.lists.empty())
                state.list = job.lists.back().source.entry;
            return;
        }
}

void RailsideProgram::Apply::operator()(const intent::OpenList& open) {
    state.list = open.entry;
    state.expanded_step.clear();
    state.follow_step = true;
    state.skipping = false;
}

void RailsideProgram::Apply::operator()(const intent::CloseList&) { state.list = "none"; }

void RailsideProgram::Apply::operator()(const intent::ExpandStep& expand) {
    state.expanded_step = state.expanded_step == expand.step ? "none" : expand.step;
    state.skipping = false;
}

void RailsideProgram::Apply::tick(const std::string& step, StepState to,
                                  const std::string& answer) {
    const ListRecord* list = open_list(state, job);
    if (list == nullptr)
        return;
    // The list stays the open one even when this was its last step.
    state.list = list->source.entry;
    if (program.append(EntryKind::tick, tick_body(list->source.entry, step, to, answer))) {
        state.expanded_step.clear();
        state.skipping = false;
        state.follow_step = true;
    }
}

void RailsideProgram::Apply::operator()(const intent::TickStep& step) {
    tick(step.step, StepState::done, step.answer);
}

void RailsideProgram::Apply::operator()(const intent::UntickStep& step) {
    tick(step.step, StepState::open, {});
}

void RailsideProgram::Apply::operator()(const intent::SkipStep& step) {
    tick(step.step, StepState::skipped, step.reason);
}

void RailsideProgram::Apply::operator()(const intent::AskSkip& ask) {
    state.expanded_step = ask.step;
    state.skipping = true;
}

void RailsideProgram::Apply::operator()(const intent::AskReading& ask) {
    const ListRecord* list = open_list(state, job);
    const StepRecord* record = list ? find_step(job, list->source.entry, ask.step) : nullptr;
    if (record == nullptr)
        return;
    state.list = list->source.entry;
    KeypadState keypad;
    keypad.target = fmt::format("step/{}/{}", list->source.entry, ask.step);
    keypad.title = list->name;
    // A step's window decides whether it is ticked, not what may be written down.
    keypad.own_label = std::make_shared<const std::string>(record->step.text);
    keypad.field.label = *keypad.own_label;
    keypad.field.unit = record->step.unit;
    const double reach = std::max({std::abs(record->step.low), std::abs(record->step.high), 1e-3});
    keypad.field.low = record->step.unit == Unit::celsius ? -273.15 : -1000 * reach;
    keypad.field.high = 1000 * reach;
    keypad.field.usual_low = record->step.low - 5 * reach;
    keypad.field.usual_high = record->step.high + 5 * reach;
    keypad.field.spread = Spread::meter;
    state.keypad = std::move(keypad);
    program.unusual_confirmed_ = false;
}

void RailsideProgram::Apply::operator()(const intent::ShowApart& show) {
    state.apart = show.shown;
    state.apart_line.clear();
}

void RailsideProgram::Apply::operator()(const intent::TakeOff& take) {
    (void)program.take_off(take.what);
}

void RailsideProgram::Apply::operator()(const intent::OpenApart& open) {
    state.apart_line = open.item;
}

void RailsideProgram::Apply::operator()(const intent::PutBack& back) {
    // A line may stand for several entries: what came off last goes back first.
    for (const ApartLine& line : apart_lines(job)) {
        if (line.items.front().item != back.item)
            continue;
        std::vector<Bench::Draft> drafts;
        int left = back.count;
        for (const ReassemblyLine& item : line.items) {
            const int n = std::min(left, item.still);
            if (n <= 0)
                continue;
            PutBackRecord record;
            record.item = item.item;
            record.count = n;
            drafts.push_back({EntryKind::put_back, put_back_body(record)});
            left -= n;
        }
        if (!drafts.empty())
            (void)program.append_all(std::move(drafts));
        return;
    }
}

} // namespace railside
