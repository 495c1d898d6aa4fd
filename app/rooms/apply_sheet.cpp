// The Sheet: positions, readings, money, the time line.

#include "app/rooms/apply.h"
#include "app/rooms/reading_model.h"

#include <algorithm>

namespace railside {

void RailsideProgram::Apply::operator()(const intent::ShowSheet& show) {
    state.room = RoomId::sheet;
    state.sheet_part = show.part;
    state.position.clear();
    state.history_entry.clear();
    state.cost.reset();
}

void RailsideProgram::Apply::operator()(const intent::AddPosition&) {
    state.text = TextEntry{"new/position", "Designator, as printed on the board", {}, true, false};
}

void RailsideProgram::Apply::operator()(const intent::OpenPosition& open) {
    state.room = RoomId::sheet;
    state.sheet_part = SheetPart::positions;
    state.position = open.entry;
    state.photo_position.clear();
    // What is added next is most often of the same channel.
    for (const PositionRecord& position : job.positions)
        if (position.source.entry == open.entry && position.channel != Channel::none)
            state.channel = position.channel;
}

void RailsideProgram::Apply::operator()(const intent::OpenReading& open) {
    state.reading_open = true;
    state.reading_to_key = open.to_key;
    if (!open.to_key)
        return;
    if (state.reading.position != open.position)
        state.reading.what.clear();
    state.reading.position = open.position;
    if (state.reading.kind == ReadingKind::other)
        state.reading.kind = ReadingKind::volts;
}

void RailsideProgram::Apply::operator()(const intent::LeaveReading&) { state.reading_open = false; }

void RailsideProgram::Apply::operator()(const intent::AddCost&) {
    state.cost = CostDraft{};
    state.text = TextEntry{"cost/what", "What part?", {}, true, false};
}

void RailsideProgram::Apply::operator()(const intent::KeepCost&) {
    if (!state.cost || state.cost->what.empty())
        return;
    CostRecord cost;
    cost.type = CostType::part;
    cost.what = state.cost->what;
    cost.count = state.cost->count;
    cost.each = state.cost->each;
    cost.position = state.position;
    if (program.append(EntryKind::cost, cost_body(cost)))
        state.cost.reset();
}

void RailsideProgram::Apply::operator()(const intent::LeaveCost&) { state.cost.reset(); }

void RailsideProgram::Apply::operator()(const intent::AddMinutes& add) {
    CostRecord cost;
    cost.type = CostType::work;
    cost.what = "Work at the bench";
    cost.minutes = add.minutes;
    (void)program.append(EntryKind::cost, cost_body(cost));
}

void RailsideProgram::Apply::operator()(const intent::FilterHistory& filter) {
    state.history_filter = filter.filter;
    state.history_entry.clear();
}

void RailsideProgram::Apply::operator()(const intent::OpenHistory& open) {
    state.history_entry = open.entry;
}

void RailsideProgram::Apply::operator()(const intent::OpenSource& open) {
    state.room = RoomId::sheet;
    state.sheet_part = SheetPart::history;
    state.history_filter = HistoryFilter::all;
    state.history_entry = open.entry;
    state.follow_history = true;
}

void RailsideProgram::Apply::operator()(const intent::StrikeEntry& strike) {
    if (!program.append(EntryKind::strike, strike_body(strike.entry, strike.standing)))
        return;
    state.history_entry.clear();
    state.apart_line.clear();
    if (state.position == strike.entry)
        state.position.clear();
    if (state.wanting == strike.entry)
        state.wanting.clear();
    if (state.photo == strike.entry) {
        state.photo.clear();
        state.about_photo = false;
        state.photo_large = false;
    }
}

void RailsideProgram::Apply::operator()(const intent::ExportJob&) {
    choose_file(FileWanted::export_folder);
}

} // namespace railside
