// What a finger asked for. Drawing returns these; apply (program.cpp) is the only place that acts
// on them.
#pragma once

#include "app/rooms/state.h"

#include <string>
#include <variant>
#include <vector>

namespace railside {

namespace intent {
struct GoRoom {
    RoomId room;
};
struct OpenJob {
    std::string job;
};
struct ShowBeside {
    Beside beside;
};
struct ToggleDrawer {};
struct SwitchHand {};
struct SwitchTheme {};
struct NewJob {};
struct EditText {
    std::string target;
    std::string title;
    std::string text;
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
struct PickWord {
    std::string field;
    std::string word;
};
struct LeavePicking {};
struct MovePlotCursor {
    float at;
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
struct FitPhoto {};
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
    intent::SwitchTheme, intent::NewJob, intent::EditText, intent::PickWorking,
    intent::ChooseWorking, intent::PickChannel, intent::OpenField, intent::PickWord,
    intent::LeavePicking, intent::MovePlotCursor, intent::KeepWorking, intent::ShowPhoto,
    intent::ClosePhoto, intent::LookPhoto, intent::FitPhoto, intent::PickStage, intent::ChooseFile,
    intent::LeaveFiles, intent::OpenFolder, intent::ImportFile, intent::TakeUpList,
    intent::OpenList, intent::CloseList, intent::ExpandStep, intent::TickStep, intent::UntickStep,
    intent::AskReading, intent::AskSkip, intent::SkipStep, intent::OpenHistory, intent::StrikeEntry,
    intent::PressKey, intent::TypeQuick, intent::SetValue, intent::LeaveKeypad, intent::PressLetter,
    intent::SetText, intent::LeaveText, intent::ChangeText, intent::DismissMessage>;
using Intents = std::vector<Intent>;

} // namespace railside
