// The handover: what is missing, what the report shows, its files, and handing back.

#include "app/rooms/apply.h"
#include "core/words/words.h"

#include <fmt/format.h>

#include <algorithm>

namespace railside {

void RailsideProgram::Apply::operator()(const intent::ShowHandover& show) {
    state.room = RoomId::handover;
    state.handover_part = show.part;
    state.missing_item.clear();
    state.wanting.clear();
}

void RailsideProgram::Apply::operator()(const intent::OpenMissing& open) {
    state.missing_item = open.key;
}

void RailsideProgram::Apply::operator()(const intent::Mend& mend) {
    const Missing& one = mend.missing;
    switch (one.where) {
    case MendIn::sheet:
        (*this)(intent::ShowSheet{SheetPart::unit});
        break;
    case MendIn::positions:
        (*this)(intent::OpenPosition{one.what});
        break;
    case MendIn::money:
        (*this)(intent::ShowSheet{SheetPart::money});
        break;
    case MendIn::photos:
        (*this)(intent::GoRoom{RoomId::photos});
        break;
    case MendIn::steps: {
        (*this)(intent::GoRoom{RoomId::steps});
        (*this)(intent::ShowApart{false});
        const bool taken_up =
            std::any_of(job.lists.begin(), job.lists.end(),
                        [&](const ListRecord& list) { return list.source.entry == one.what; });
        if (taken_up)
            (*this)(intent::OpenList{one.what});
        else
            (*this)(intent::CloseList{});
        break;
    }
    case MendIn::apart:
        (*this)(intent::GoRoom{RoomId::steps});
        (*this)(intent::ShowApart{true});
        break;
    case MendIn::workings:
        (*this)(intent::GoRoom{RoomId::workings});
        (*this)(intent::PickWorking{one.what});
        if (one.channel != Channel::none)
            (*this)(intent::PickChannel{one.channel});
        break;
    case MendIn::handover:
        if (one.what.empty()) {
            (*this)(intent::ShowHandover{HandoverPart::words});
        } else {
            (*this)(intent::ShowHandover{HandoverPart::wanting});
            state.wanting = one.what;
        }
        break;
    }
}

void RailsideProgram::Apply::operator()(const intent::ChooseReportPhoto& choose) {
    // Not chosen yet, it is all of them in their order.
    ClosingRecord after = job.closing;
    std::vector<std::string> shown;
    for (const ReportPhoto& one : make_report(job, program.book_, {}).photos)
        if (one.photo.source.entry != choose.entry)
            shown.push_back(one.photo.source.entry);
    if (choose.shown)
        shown.push_back(choose.entry);
    after.photos = std::move(shown);
    (void)program.append(EntryKind::closing, closing_change(job.closing, after));
}

void RailsideProgram::Apply::operator()(const intent::AddWanting&) {
    state.text = TextEntry{"wanting/new", "What still wants doing", {}, true, false};
}

void RailsideProgram::Apply::operator()(const intent::OpenWanting& open) {
    state.wanting = open.entry;
}

void RailsideProgram::Apply::operator()(const intent::WriteReport& write) {
    state.report_form = write.form;
    choose_file(FileWanted::report_folder);
}

void RailsideProgram::Apply::operator()(const intent::StopReport&) {
    if (program.writing_)
        program.writing_->stop = true;
}

void RailsideProgram::Apply::operator()(const intent::OpenReport&) {
    if (program.surroundings_.outside != nullptr) {
        program.hand_out(state.report_written);
        return;
    }
    if (!program.surroundings_.show_file)
        return;
    if (const auto shown = program.surroundings_.show_file(state.report_written); !shown)
        program.say(AppState::MessageTone::refused, shown.error().message);
}

void RailsideProgram::Apply::operator()(const intent::HandBack&) {
    const std::vector<Missing> all = missing(job);
    const auto barring =
        std::find_if(all.begin(), all.end(), [](const Missing& one) { return one.reason.empty(); });
    if (barring != all.end()) {
        state.missing_item = barring->key;
        program.say(AppState::MessageTone::refused,
                    worded("It is not handed back: {} Mend it, or let it pass with a reason.",
                           barring->sentence));
        return;
    }
    if (program.append(EntryKind::job,
                       {{"state", std::string(job_state_word(JobState::handed_back))}}))
        program.say(AppState::MessageTone::kept, "The unit is handed back.");
}

} // namespace railside
