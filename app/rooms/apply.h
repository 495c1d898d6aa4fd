// One call for each intent. Defined in apply_*.cpp, a file for each room.
#pragma once

#include "app/rooms/program.h"

namespace railside {

struct RailsideProgram::Apply {
    RailsideProgram& program;
    AppState& state = program.state_;
    Job& job = program.job_;

    // apply_frame.cpp: moving about, keypad, letters
    void operator()(const intent::GoRoom& go);
    void operator()(const intent::OpenJob& open);
    void operator()(const intent::ShowBeside& show);
    void operator()(const intent::ToggleDrawer&);
    void operator()(const intent::SwitchHand&);
    void operator()(const intent::SwitchTheme&);
    void operator()(const intent::ShowHelp& show);
    void operator()(const intent::SizeScreen& size);
    void operator()(const intent::UsualSize&);
    void operator()(const intent::SizeText& size);
    void operator()(const intent::MoveSplit& move);
    void operator()(const intent::NewJob&);
    void operator()(const intent::EditText& edit);
    void operator()(const intent::ChooseWord& choose);
    void operator()(const intent::SetWord& set);
    void operator()(const intent::LeavePicking&);
    void operator()(const intent::KeyIn& key);
    void operator()(const intent::PressKey& press);
    void operator()(const intent::TypeQuick& quick);
    void operator()(const intent::StepValue& step);
    void operator()(const intent::SetValue&);
    void operator()(const intent::LeaveKeypad&);
    void operator()(const intent::PressLetter& press);
    void operator()(const intent::SetText&);
    void operator()(const intent::LeaveText&);
    void operator()(const intent::ChangeText&);
    void operator()(const intent::DismissMessage&);

    // apply_sheet.cpp
    void operator()(const intent::ShowSheet& show);
    void operator()(const intent::AddPosition&);
    void operator()(const intent::OpenPosition& open);
    void operator()(const intent::OpenReading& open);
    void operator()(const intent::LeaveReading&);
    void operator()(const intent::AddCost&);
    void operator()(const intent::KeepCost&);
    void operator()(const intent::LeaveCost&);
    void operator()(const intent::AddMinutes& add);
    void operator()(const intent::FilterHistory& filter);
    void operator()(const intent::OpenHistory& open);
    void operator()(const intent::OpenSource& open);
    void operator()(const intent::StrikeEntry& strike);
    void operator()(const intent::ExportJob&);

    // apply_handover.cpp
    void operator()(const intent::ShowHandover& show);
    void operator()(const intent::OpenMissing& open);
    void operator()(const intent::Mend& mend);
    void operator()(const intent::ChooseReportPhoto& choose);
    void operator()(const intent::AddWanting&);
    void operator()(const intent::OpenWanting& open);
    void operator()(const intent::WriteReport& write);
    void operator()(const intent::StopReport&);
    void operator()(const intent::OpenReport&);
    void operator()(const intent::HandBack&);

    // apply_suspects.cpp
    void operator()(const intent::ShowSuspects& show);
    void operator()(const intent::OpenSuspect& open);
    void operator()(const intent::TakeUsualCircuit&);
    void operator()(const intent::SayFound& said);

    // apply_bench.cpp: the shelf's search and the bench's own room
    void operator()(const intent::Search&);
    void operator()(const intent::ClearSearch&);
    void operator()(const intent::ShowBench& show);
    void operator()(const intent::OpenInstrument& open);
    void operator()(const intent::AddInstrument& add);
    void operator()(const intent::StrikeInstrument& strike);
    void operator()(const intent::EditList& edit);
    void operator()(const intent::OpenDraftStep& open);
    void operator()(const intent::MoveDraftStep& move);
    void operator()(const intent::KeepList&);
    void operator()(const intent::DeliveredList& delivered);
    void operator()(const intent::StopWatching&);

    // apply_workings.cpp
    void operator()(const intent::PickWorking& pick);
    void operator()(const intent::ChooseWorking&);
    void operator()(const intent::PickChannel& pick);
    void operator()(const intent::OpenField& open);
    void operator()(const intent::MovePlotCursor& move);
    void operator()(const intent::ZoomPlot& zoom);
    void operator()(const intent::WholePlot& whole);
    void operator()(const intent::KeepWorking&);

    // apply_photos.cpp: photos and files
    void operator()(const intent::ShowPhoto& show);
    void operator()(const intent::ClosePhoto&);
    void operator()(const intent::LookPhoto& look);
    void operator()(const intent::AboutPhoto& about);
    void operator()(const intent::PickMark& pick);
    void operator()(const intent::DrawMark& draw);
    void operator()(const intent::TouchPhoto& touch);
    void operator()(const intent::UndoMark&);
    void operator()(const intent::LeavePair&);
    void operator()(const intent::OpenMark& open);
    void operator()(const intent::StrikeMark& strike);
    void operator()(const intent::StartPair& start);
    void operator()(const intent::OpenCamera& open);
    void operator()(const intent::Shutter&);
    void operator()(const intent::TakeWaiting&);
    void operator()(const intent::PickStage& pick);
    void operator()(const intent::ChooseFile&);
    void operator()(const intent::ChooseFileFor& choose);
    void operator()(const intent::UseFolder&);
    void operator()(const intent::LeaveFiles&);
    void operator()(const intent::OpenFolder& open);
    void operator()(const intent::ImportFile& import);

    // apply_steps.cpp: lists, and what was taken off
    void operator()(const intent::TakeUpList& take);
    void operator()(const intent::OpenList& open);
    void operator()(const intent::CloseList&);
    void operator()(const intent::ExpandStep& expand);
    void operator()(const intent::TickStep& step);
    void operator()(const intent::UntickStep& step);
    void operator()(const intent::AskReading& ask);
    void operator()(const intent::AskSkip& ask);
    void operator()(const intent::SkipStep& step);
    void operator()(const intent::ShowApart& show);
    void operator()(const intent::TakeOff& take);
    void operator()(const intent::OpenApart& open);
    void operator()(const intent::PutBack& back);

  private:
    void save();
    void remember_beside();
    void tick(const std::string& step, StepState to, const std::string& answer);
    void choose_file(FileWanted wanted);
    void ask_outside(FileWanted wanted);
};

} // namespace railside
