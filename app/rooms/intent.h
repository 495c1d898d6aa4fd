// What a finger asked for. Drawing returns these; apply (program.cpp) is the only place that acts
// on them.
#pragma once

#include "app/rooms/state.h"
#include "core/job/book.h"

#include <optional>
#include <string>
#include <variant>
#include <vector>

namespace railside {

namespace intent {
struct GoRoom {
    RoomId room;
};
struct OpenJob {
    std::string job; // or k_demo
};
inline constexpr std::string_view k_demo = "demo";
struct ShowBeside {
    Beside beside;
};
struct ToggleDrawer {};
struct SwitchHand {};
struct SwitchTheme {};
struct ShowHelp {
    bool shown;
};
/// Everything on the screen grows with it: factor to the size that stands, and whether the finger
/// has let go.
struct SizeScreen {
    float by;
    bool done;
};
struct UsualSize {}; // as the display says
struct SizeText {
    int percent; // 100 to 130
};
/// The border between the room and what stands beside it, as the room's share of both.
struct MoveSplit {
    float by;
    bool done;
};
struct NewJob {};
struct EditText {
    std::string target;
    std::string title;
    std::string text;
};
/// Offers words for a target.
struct ChooseWord {
    PickList pick;
};
/// Sets a target to a word: a chip, or a row of what ChooseWord offered.
struct SetWord {
    std::string target;
    std::string word;
};
struct LeavePicking {};
/// Opens the keypad for a target that is no field of a working.
struct KeyIn {
    std::string target;
};

struct ShowSheet {
    SheetPart part;
};
struct AddPosition {};
struct OpenPosition {
    std::string entry; // empty: all of them
};
struct OpenReading {
    std::string position; // what it is a reading of; empty: nothing in particular
    bool to_key;          // a value is wanted; else only the way it is taken
};
struct LeaveReading {};
struct AddCost {};
struct KeepCost {};
struct LeaveCost {};
struct AddMinutes {
    double minutes;
};
struct FilterHistory {
    HistoryFilter filter;
};
struct ExportJob {};

struct ShowHandover {
    HandoverPart part;
};
struct OpenMissing {
    std::string key; // empty: none opened
};
/// Goes where something missing is mended.
struct Mend {
    Missing missing;
};
struct ChooseReportPhoto {
    std::string entry;
    bool shown;
};
struct AddWanting {};
struct OpenWanting {
    std::string entry; // empty: all of them
};
struct WriteReport {
    ReportForm form;
};
struct StopReport {};
/// Shows the report written last, or hands it out again.
struct OpenReport {};
struct HandBack {};

struct ShowSuspects {
    SuspectsPart part;
};
struct OpenSuspect {
    std::string name; // on the board; empty: none opened
};
struct TakeUsualCircuit {};
/// Something found in the channel on the screen (FindingRecord).
struct SayFound {
    std::string about;
    std::string answer;
    Half half;
};

struct Search {}; // asks for the words
struct ClearSearch {};
struct ShowBench {
    BenchPart part;
};
struct OpenInstrument {
    std::string id; // empty: all of them
};
struct AddInstrument {
    InstrumentType type;
};
struct StrikeInstrument {
    std::string id;
    Standing standing;
};
struct EditList {
    std::string key; // empty: leave it
};
struct OpenDraftStep {
    int step; // -1: the list itself
};
enum class DraftMove {
    add_after, // a new step after this one
    up,        //
    down,      //
    remove,    //
};
struct MoveDraftStep {
    int step;
    DraftMove move;
};
struct KeepList {};
struct DeliveredList {
    std::string key;
};
struct ChooseFileFor {
    FileWanted wanted;
};
struct UseFolder {}; // the one the file list stands in
struct StopWatching {};

struct ShowApart {
    bool shown;
};
struct TakeOff {
    std::string what;
};
struct OpenApart {
    std::string item;
};
struct PutBack {
    std::string item;
    int count;
};

struct PickWorking {
    std::string working;
};
struct ChooseWorking {};
struct PickChannel {
    Channel channel;
};
struct OpenField {
    std::string field;
}; // of the working on the screen
struct MovePlotCursor {
    std::size_t plot;
    float at; // fraction of what is in view
};
/// Two fingers: see zoomed() in plot_model.h.
struct ZoomPlot {
    std::size_t plot;
    float at;
    float by;
    float pan;
};
struct WholePlot {
    std::size_t plot;
};
struct KeepWorking {};

struct ShowPhoto {
    std::string entry;
    bool large;
};
struct ClosePhoto {};
struct LookPhoto {
    float zoom_by;
    float pan_x;
    float pan_y;
};
struct AboutPhoto {
    bool shown;
};
struct PickMark {
    std::optional<MarkShape> shape; // none: fingers move the picture again
};
/// A finger on the photo with a mark chosen, fractions of the picture.
struct DrawMark {
    enum class Part { first, next, last, whole } part; // whole: put down and lifted in one place
    MarkPoint at;
};
/// A touch on the photo with no tool chosen: opens the mark there. `reach` and `aspect` as in
/// mark_near.
struct TouchPhoto {
    MarkPoint at;
    double reach;
    double aspect;
};
struct UndoMark {};
struct LeavePair {};
struct OpenMark {
    std::string entry;
};
struct StrikeMark {
    std::string entry;
};
struct StartPair {
    std::string before;
};
struct OpenCamera {
    bool open;
};
struct Shutter {};
struct TakeWaiting {}; // what lies in the watched folder
struct PickStage {
    PhotoStage stage;
};
struct ChooseFile {};
struct LeaveFiles {};
struct OpenFolder {
    std::string folder;
};
struct ImportFile {
    std::string path;
};

struct TakeUpList {
    std::string key;
};
struct OpenList {
    std::string entry;
};
struct CloseList {};
struct ExpandStep {
    std::string step;
};
struct TickStep {
    std::string step;
    std::string answer;
};
struct UntickStep {
    std::string step;
};
struct AskReading {
    std::string step;
};
struct AskSkip {
    std::string step;
};
struct SkipStep {
    std::string step;
    std::string reason;
};

struct OpenHistory {
    std::string entry;
};
/// Where a value came from: its entry in the history, in view.
struct OpenSource {
    std::string entry;
};
struct StrikeEntry {
    std::string entry;
    Standing standing;
};

struct PressKey {
    std::string key;
};
struct TypeQuick {
    std::string text;
};
struct StepValue {
    int steps; // up above 0
};
struct SetValue {};
struct LeaveKeypad {};
struct PressLetter {
    std::string letter;
};
struct SetText {};
struct LeaveText {};
struct ChangeText {};
struct DismissMessage {};
} // namespace intent

using Intent = std::variant<
    intent::GoRoom, intent::OpenJob, intent::ShowBeside, intent::ToggleDrawer, intent::SwitchHand,
    intent::SwitchTheme, intent::ShowHelp, intent::SizeScreen, intent::UsualSize, intent::SizeText,
    intent::MoveSplit, intent::NewJob, intent::EditText, intent::ChooseWord, intent::SetWord,
    intent::LeavePicking, intent::KeyIn, intent::ShowSheet, intent::AddPosition,
    intent::OpenPosition, intent::OpenReading, intent::LeaveReading, intent::AddCost,
    intent::KeepCost, intent::LeaveCost, intent::AddMinutes, intent::FilterHistory,
    intent::ExportJob, intent::ShowHandover, intent::OpenMissing, intent::Mend,
    intent::ChooseReportPhoto, intent::AddWanting, intent::OpenWanting, intent::WriteReport,
    intent::StopReport, intent::OpenReport, intent::HandBack, intent::ShowSuspects,
    intent::OpenSuspect, intent::TakeUsualCircuit, intent::SayFound, intent::Search,
    intent::ClearSearch, intent::ShowBench, intent::OpenInstrument, intent::AddInstrument,
    intent::StrikeInstrument, intent::EditList, intent::OpenDraftStep, intent::MoveDraftStep,
    intent::KeepList, intent::DeliveredList, intent::ChooseFileFor, intent::UseFolder,
    intent::StopWatching, intent::ShowApart, intent::TakeOff, intent::OpenApart, intent::PutBack,
    intent::PickWorking, intent::ChooseWorking, intent::PickChannel, intent::OpenField,
    intent::MovePlotCursor, intent::ZoomPlot, intent::WholePlot, intent::KeepWorking,
    intent::ShowPhoto, intent::ClosePhoto, intent::LookPhoto, intent::AboutPhoto, intent::PickMark,
    intent::DrawMark, intent::TouchPhoto, intent::UndoMark, intent::LeavePair, intent::OpenMark,
    intent::StrikeMark, intent::StartPair, intent::OpenCamera, intent::Shutter, intent::TakeWaiting,
    intent::PickStage, intent::ChooseFile, intent::LeaveFiles, intent::OpenFolder,
    intent::ImportFile, intent::TakeUpList, intent::OpenList, intent::CloseList, intent::ExpandStep,
    intent::TickStep, intent::UntickStep, intent::AskReading, intent::AskSkip, intent::SkipStep,
    intent::OpenHistory, intent::OpenSource, intent::StrikeEntry, intent::PressKey,
    intent::TypeQuick, intent::StepValue, intent::SetValue, intent::LeaveKeypad,
    intent::PressLetter, intent::SetText, intent::LeaveText, intent::ChangeText,
    intent::DismissMessage>;
using Intents = std::vector<Intent>;

} // namespace railside
