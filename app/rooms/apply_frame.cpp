// Moving about, choosing words, the keypad and the letters.

#include "app/rooms/apply.h"
#include "app/rooms/values_model.h"

#include <fmt/format.h>

#include <algorithm>
#include <cstdlib>

namespace railside {

namespace {

// How far the size may be moved from what the display says; beyond it the buttons that bring it
// back would not be found.
constexpr float k_least_size = 0.6f;
constexpr float k_most_size = 1.6f;
// Jobs whose companion is remembered.
constexpr std::size_t k_most_beside = 300;

} // namespace

void RailsideProgram::Apply::operator()(const intent::GoRoom& go) {
    state.room = go.room;
    state.choosing_file = false;
    state.drawer_open = false;
    state.photo_large = false;
    state.about_photo = false;
    state.mark_tool.reset();
    state.mark_points.clear();
    state.pair_before.clear();
    state.history_entry.clear();
    state.position.clear();
    state.photo_position.clear();
    state.cost.reset();
    state.missing_item.clear();
    state.wanting.clear();
    state.follow_step = go.room == RoomId::steps;
    if (state.camera_open)
        (*this)(intent::OpenCamera{false});
}

void RailsideProgram::Apply::operator()(const intent::OpenJob& open) {
    if (open.job == intent::k_demo && program.surroundings_.demo) {
        const auto demo = program.surroundings_.demo(program.bench_);
        if (!demo)
            program.say(AppState::MessageTone::refused, demo.error().message);
        else
            (*this)(intent::OpenJob{*demo});
        return;
    }
    if (const auto opened = program.open_job(open.job); !opened)
        program.say(AppState::MessageTone::refused, opened.error().message);
}

void RailsideProgram::Apply::operator()(const intent::ShowBeside& show) {
    state.beside = show.beside;
    state.follow_step = show.beside == Beside::steps;
    remember_beside();
}

void RailsideProgram::Apply::operator()(const intent::ToggleDrawer&) {
    state.drawer_open = !state.drawer_open;
}

void RailsideProgram::Apply::operator()(const intent::SwitchHand&) {
    program.settings_.hand = program.settings_.hand == Hand::right ? Hand::left : Hand::right;
    save();
}

void RailsideProgram::Apply::operator()(const intent::SwitchTheme&) {
    ThemeKind& theme = program.settings_.theme;
    theme = theme == ThemeKind::dark    ? ThemeKind::light
            : theme == ThemeKind::light ? ThemeKind::contrast
                                        : ThemeKind::dark;
    save();
}

void RailsideProgram::Apply::operator()(const intent::ShowHelp& show) { state.help = show.shown; }

void RailsideProgram::Apply::operator()(const intent::SizeScreen& size) {
    float& now = state.size_draft;
    now = std::clamp((now > 0 ? now : 1) * size.by, k_least_size / program.settings_.size,
                     k_most_size / program.settings_.size);
    if (!size.done)
        return;
    program.settings_.size = std::clamp(program.settings_.size * now, k_least_size, k_most_size);
    now = 0;
    program.fonts_due_ = true;
    save();
}

void RailsideProgram::Apply::operator()(const intent::UsualSize&) {
    program.settings_.size = 1;
    state.size_draft = 0;
    program.fonts_due_ = true;
    save();
}

void RailsideProgram::Apply::operator()(const intent::SizeText& size) {
    program.settings_.text_percent = std::clamp(size.percent, 100, 130);
    program.fonts_due_ = true;
    save();
}

void RailsideProgram::Apply::operator()(const intent::MoveSplit& move) {
    const float now = state.split > 0 ? state.split : program.usual_split();
    state.split = std::clamp(now + move.by, 0.2f, 0.8f);
    if (move.done)
        remember_beside();
}

void RailsideProgram::Apply::remember_beside() {
    if (!program.in_job_)
        return;
    program.settings_.beside[job.id] = {state.beside, state.split};
    // Ids are in the order of time: the oldest jobs go first.
    while (program.settings_.beside.size() > k_most_beside)
        program.settings_.beside.erase(program.settings_.beside.begin());
    save();
}

void RailsideProgram::Apply::save() {
    if (!program.surroundings_.keep_settings)
        return;
    if (const auto saved = save_settings(program.bench_.folder(), program.settings_); !saved)
        program.say(AppState::MessageTone::refused, saved.error().message);
}

void RailsideProgram::Apply::operator()(const intent::NewJob&) {
    state.text = TextEntry{
        "new/model", "Which unit is it? Maker and model, as on its plate", {}, true, false};
}

void RailsideProgram::Apply::operator()(const intent::EditText& edit) {
    // Designators and type numbers are capitals and figures throughout.
    state.text = TextEntry{edit.target, edit.title, edit.text, edit.text.empty(), false};
}

void RailsideProgram::Apply::operator()(const intent::ChooseWord& choose) {
    state.pick = choose.pick;
}

void RailsideProgram::Apply::operator()(const intent::SetWord& set) {
    const bool done = program.set_member(set.target, set.word);
    if (done)
        state.pick.reset();
}

void RailsideProgram::Apply::operator()(const intent::LeavePicking&) { state.pick.reset(); }

void RailsideProgram::Apply::operator()(const intent::KeyIn& key) {
    program.unusual_confirmed_ = false;
    if (auto keypad = make_value_keypad(state, job, program.book_, key.target))
        state.keypad = std::move(*keypad);
}

void RailsideProgram::Apply::operator()(const intent::PressKey& press) {
    if (state.keypad)
        press_key(*state.keypad, press.key);
    program.unusual_confirmed_ = false;
}

void RailsideProgram::Apply::operator()(const intent::TypeQuick& quick) {
    if (state.keypad)
        press_quick(*state.keypad, quick.text);
    program.unusual_confirmed_ = false;
}

void RailsideProgram::Apply::operator()(const intent::StepValue& step) {
    for (int i = 0; state.keypad && i < std::abs(step.steps); ++i)
        step_value(*state.keypad, step.steps > 0 ? StepWay::up : StepWay::down);
    program.unusual_confirmed_ = false;
}

void RailsideProgram::Apply::operator()(const intent::SetValue&) {
    if (state.keypad)
        program.set_value();
}

void RailsideProgram::Apply::operator()(const intent::LeaveKeypad&) { state.keypad.reset(); }

void RailsideProgram::Apply::operator()(const intent::PressLetter& press) {
    if (!state.text)
        return;
    TextEntry& entry = *state.text;
    if (press.letter == "shift") {
        entry.capitals = !entry.capitals;
    } else if (press.letter == "figures") {
        entry.figures = !entry.figures;
    } else if (press.letter == "erase") {
        entry.pending += '\b';
    } else {
        entry.pending += press.letter;
        entry.capitals = false;
    }
}

void RailsideProgram::Apply::operator()(const intent::SetText&) {
    if (state.text)
        program.set_text();
}

void RailsideProgram::Apply::operator()(const intent::LeaveText&) {
    state.text.reset();
    state.mark_points.clear(); // a note that got no words
}

void RailsideProgram::Apply::operator()(const intent::ChangeText&) {}

void RailsideProgram::Apply::operator()(const intent::DismissMessage&) {}

void RailsideProgram::apply(const Intent& wanted) {
    // What was said last goes with the next thing done.
    state_.message.clear();
    state_.message_tone = AppState::MessageTone::none;
    std::visit(Apply{*this}, wanted);
}

} // namespace railside
