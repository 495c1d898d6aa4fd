#include "app/rooms/program.h"

#include <fmt/format.h>

#include <algorithm>
#include <limits>

namespace railside {

namespace {

// Pictures on the device are dropped, oldest first, beyond this.
constexpr std::uint64_t k_most_shot_bytes = 48u << 20;

std::uint64_t bytes_of(const Shot& shot) {
    return static_cast<std::uint64_t>(shot.width) * static_cast<std::uint64_t>(shot.height) * 4;
}

} // namespace

RailsideProgram::RailsideProgram(Bench& bench, ProgramSurroundings surroundings)
    : bench_(bench), surroundings_(std::move(surroundings)),
      settings_(load_settings(bench.folder())) {
    shot_source_ = [this](const std::string& hash, int longest) { return shot_for(hash, longest); };
    recording_source_ = [this](const std::string& hash) {
        if (hash != recording_hash_) {
            recording_hash_ = hash;
            recording_.reset();
            if (const auto bytes = bench_.recording_bytes(hash))
                recording_ = std::make_shared<const std::string>(
                    reinterpret_cast<const char*>(bytes->data()), bytes->size());
            else
                say(AppState::MessageTone::refused, bytes.error().message);
        }
        return recording_;
    };
    refresh();
}

Result<Done> RailsideProgram::open_job(std::string_view job) {
    auto found = bench_.job(job);
    if (!found)
        return found.error();
    job_ = std::move(*found);
    in_job_ = true;
    const std::string folder = state_.folder;
    state_ = AppState{};
    state_.room = RoomId::sheet;
    state_.folder = folder;
    refresh();
    frames_left_ = 2;
    return Done{};
}

void RailsideProgram::reload_job() {
    if (!in_job_)
        return;
    auto found = bench_.job(job_.id);
    if (found)
        job_ = std::move(*found);
    else
        say(AppState::MessageTone::refused, found.error().message);
}

void RailsideProgram::refresh() {
    const Clock clock = surroundings_.clock();
    shown_.in_job = in_job_ && state_.room != RoomId::shelf;
    if (state_.room == RoomId::shelf) {
        if (auto jobs = bench_.jobs())
            shown_.shelf = make_shelf(*jobs, clock);
        else
            say(AppState::MessageTone::refused, jobs.error().message);
    }
    if (in_job_) {
        shown_.header = make_header(state_, job_, clock);
        shown_.sheet = make_sheet(state_, job_, clock);
        shown_.workings = make_workings(state_, job_, clock, recording_source_);
        shown_.photos = make_photos(state_, job_);
        shown_.steps = make_steps(state_, job_, surroundings_.lists, clock);
        shown_.kept.clear();
        for (auto it = job_.kept.rbegin(); it != job_.kept.rend(); ++it)
            if (it->source.standing == Standing::valid)
                shown_.kept.push_back(make_kept_line(*it, clock));
    }
    if (state_.keypad)
        shown_.keypad = make_keypad(*state_.keypad);
}

void RailsideProgram::start(Textures& textures) { textures_ = &textures; }

bool RailsideProgram::resize(const Screen& screen) {
    const bool fonts =
        screen.px_per_mm != screen_.px_per_mm || ui_.theme().font(Face::body) == nullptr;
    screen_ = screen;
    frames_left_ = 2;
    if (fonts)
        ui_.theme().build_fonts(screen.px_per_mm, 1.0f);
    return fonts;
}

void RailsideProgram::textures_lost() {
    shots_.clear();
    wanted_.clear();
    frames_left_ = 2;
}

void RailsideProgram::touch(const Touch& touch) {
    ui_.touch(touch);
    frames_left_ = std::max(frames_left_, 2);
}

void RailsideProgram::wheel(float x_px, float y_px, float notches) {
    ui_.wheel(x_px, y_px, notches);
    frames_left_ = std::max(frames_left_, 2);
}

void RailsideProgram::escape() {
    if (!state_.picking.empty())
        apply(intent::LeavePicking{});
    else if (state_.drawer_open)
        apply(intent::ToggleDrawer{});
    else if (state_.choosing_file)
        apply(intent::LeaveFiles{});
    else if (state_.room == RoomId::photos && state_.photo_large)
        apply(intent::ClosePhoto{});
    else if (state_.room == RoomId::workings && state_.choosing_working)
        apply(intent::PickWorking{state_.working});
    else if (state_.room != RoomId::shelf)
        apply(intent::GoRoom{RoomId::shelf});
}

void RailsideProgram::key(Key key) {
    frames_left_ = std::max(frames_left_, 4);
    if (state_.text) {
        if (key == Key::enter && may_be_set(*state_.text))
            apply(intent::SetText{});
        else if (key == Key::escape)
            apply(intent::LeaveText{});
    } else if (state_.keypad) {
        if (key == Key::backspace)
            apply(intent::PressKey{"erase"});
        else if (key == Key::del)
            apply(intent::PressKey{"clear"});
        else if (key == Key::escape)
            apply(intent::LeaveKeypad{});
        else if (key == Key::enter) {
            // Out of the usual: a first Enter asks, a second one sets.
            if (shown_.keypad.tone == KeypadTone::usual ||
                (shown_.keypad.tone == KeypadTone::unusual && unusual_confirmed_)) {
                apply(intent::SetValue{});
            } else if (shown_.keypad.tone == KeypadTone::unusual) {
                unusual_confirmed_ = true;
                shown_.keypad.message += " Enter once more sets it all the same.";
                return;
            }
        }
    } else {
        switch (key) {
        case Key::tab:
        case Key::down:
        case Key::right:
            ui_.move_focus(Ui::Step::next);
            break;
        case Key::back_tab:
        case Key::up:
        case Key::left:
            ui_.move_focus(Ui::Step::previous);
            break;
        case Key::enter:
            ui_.tap_focus();
            break;
        case Key::escape:
            escape();
            break;
        case Key::page_up:
        case Key::page_down: {
            const float notches = key == Key::page_up ? 4.0f : -4.0f;
            ui_.wheel(static_cast<float>(screen_.width_px) * 0.3f,
                      static_cast<float>(screen_.height_px) * 0.5f, notches);
            break;
        }
        default:
            break;
        }
    }
    refresh();
}

void RailsideProgram::text(std::string_view utf8) {
    if (state_.keypad && !state_.text) {
        type_text(*state_.keypad, utf8);
        unusual_confirmed_ = false;
        refresh();
    }
    frames_left_ = std::max(frames_left_, 3);
}

void RailsideProgram::drop_file(std::string_view path) {
    if (!in_job_ || state_.room == RoomId::shelf)
        say(AppState::MessageTone::refused,
            "Open a job first; then drop the picture again. Nothing was taken in.");
    else if (looks_like_recording(std::filesystem::path(path)))
        import_recording(std::filesystem::path(path));
    else
        import_file(std::filesystem::path(path));
    refresh();
    frames_left_ = 2;
}

Shot RailsideProgram::shot_for(const std::string& hash, int longest) {
    const auto key = std::make_pair(hash, longest);
    const auto it = shots_.find(key);
    if (it != shots_.end()) {
        it->second.used = frame_count_;
        return it->second.shot;
    }
    if (std::find(wanted_.begin(), wanted_.end(), key) == wanted_.end())
        wanted_.push_back(key);
    return {};
}

void RailsideProgram::load_wanted() {
    if (wanted_.empty() || textures_ == nullptr)
        return;
    const auto key = wanted_.front();
    wanted_.erase(wanted_.begin());
    Loaded loaded;
    loaded.used = frame_count_;
    if (auto picture = bench_.photo_picture(key.first, key.second)) {
        loaded.shot.width = picture->width;
        loaded.shot.height = picture->height;
        loaded.shot.texture =
            textures_->make({picture->width, picture->height, picture->rgba.data()});
    } else {
        say(AppState::MessageTone::refused, picture.error().message);
    }
    shots_[key] = loaded;
    drop_shots();
    frames_left_ = std::max(frames_left_, 1);
}

void RailsideProgram::drop_shots() {
    std::uint64_t total = 0;
    for (const auto& [key, loaded] : shots_)
        total += bytes_of(loaded.shot);
    while (total > k_most_shot_bytes) {
        auto oldest = shots_.end();
        for (auto it = shots_.begin(); it != shots_.end(); ++it)
            if (it->second.shot.texture && it->second.used != frame_count_ &&
                (oldest == shots_.end() || it->second.used < oldest->second.used))
                oldest = it;
        if (oldest == shots_.end())
            return;
        total -= bytes_of(oldest->second.shot);
        textures_->drop(oldest->second.shot.texture);
        shots_.erase(oldest);
    }
}

void RailsideProgram::frame(double now_s) {
    ++frame_count_;
    frames_left_ = std::max(0, frames_left_ - 1);
    ui_.theme().set_kind(settings_.theme);
    const Rect screen{0, 0, static_cast<float>(screen_.width_px),
                      static_cast<float>(screen_.height_px)};
    ui_.begin_frame(screen, now_s);
    intents_.clear();
    draw_frame(ui_, screen, settings_.hand, shown_, state_, shot_source_, intents_);
    ui_.end_frame();
    state_.follow_step = shown_.steps.follow = false;
    if (!intents_.empty()) {
        const bool was_text = state_.text.has_value();
        for (const Intent& wanted : intents_)
            apply(wanted);
        refresh();
        frames_left_ = std::max(frames_left_, state_.text && !was_text ? 4 : 2);
    }
    load_wanted();
}

double RailsideProgram::wake_in(double now_s) const {
    if (frames_left_ > 0 || !wanted_.empty())
        return 0;
    return ui_.wake_in(now_s);
}

} // namespace railside
