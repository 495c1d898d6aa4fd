// What the letters of a hardware keyboard do while nothing is being typed.

#include "app/rooms/help_model.h"
#include "app/rooms/program.h"

namespace railside {

namespace {

constexpr std::string_view k_field = "workings/field/";

bool begins_value(std::string_view utf8) {
    return !utf8.empty() && ((utf8[0] >= '0' && utf8[0] <= '9') || utf8[0] == '.' ||
                             utf8[0] == '-' || utf8[0] == ',');
}

Beside next_beside(const AppState& state) {
    switch (state.beside) {
    case Beside::photos:
        return Beside::steps;
    case Beside::steps:
        return Beside::kept;
    case Beside::kept:
        break;
    }
    return Beside::photos;
}

} // namespace

bool RailsideProgram::value_begun(std::string_view utf8) {
    const std::string_view ring = ui_.focus();
    if (!begins_value(utf8) || state_.room != RoomId::workings || !ring.starts_with(k_field))
        return false;
    apply(intent::OpenField{std::string(ring.substr(k_field.size()))});
    if (!state_.keypad)
        return false;
    type_text(*state_.keypad, utf8);
    return true;
}

void RailsideProgram::shortcut(std::string_view utf8) {
    const bool covered = state_.pick || state_.reading_open || state_.choosing_file || state_.help;
    if (covered || value_begun(utf8) || utf8.size() != 1)
        return;
    const Shortcut* found = nullptr;
    for (const Shortcut& one : shortcuts())
        if (one.letter == utf8[0])
            found = &one;
    if (found == nullptr)
        return;
    const bool in_job = shown_.in_job;
    const auto go = [&](RoomId room) {
        if (in_job)
            apply(intent::GoRoom{room});
    };
    const bool working = in_job && state_.room == RoomId::workings;
    switch (found->action) {
    case ShortcutAction::sheet:
        return go(RoomId::sheet);
    case ShortcutAction::workings:
        return go(RoomId::workings);
    case ShortcutAction::photos:
        return go(RoomId::photos);
    case ShortcutAction::suspects:
        return go(RoomId::suspects);
    case ShortcutAction::steps:
        return go(RoomId::steps);
    case ShortcutAction::handover:
        return go(RoomId::handover);
    case ShortcutAction::shelf:
        return apply(intent::GoRoom{RoomId::shelf});
    case ShortcutAction::companion:
        if (in_job && ui_.controls().find("beside/photos") == nullptr &&
            ui_.controls().find("beside/kept") == nullptr)
            apply(intent::ToggleDrawer{});
        else if (in_job)
            apply(intent::ShowBeside{next_beside(state_)});
        return;
    case ShortcutAction::other_channel:
        if (working)
            apply(intent::PickChannel{state_.channel == Channel::left ? Channel::right
                                                                      : Channel::left});
        return;
    case ShortcutAction::keep:
        if (working && shown_.workings.answered && !shown_.workings.kept_already)
            apply(intent::KeepWorking{});
        return;
    case ShortcutAction::other_workings:
        if (working)
            apply(intent::ChooseWorking{});
        return;
    case ShortcutAction::new_job:
        if (state_.room == RoomId::shelf)
            apply(intent::NewJob{});
        return;
    case ShortcutAction::search:
        if (state_.room == RoomId::shelf)
            apply(intent::Search{});
        return;
    }
}

} // namespace railside
