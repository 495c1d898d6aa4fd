#include "app/rooms/program.h"

#include "app/rooms/apart_model.h"
#include "app/rooms/bench_model.h"
#include "app/rooms/handover_model.h"
#include "app/rooms/help_model.h"
#include "app/rooms/reading_model.h"
#include "core/words/words.h"

#include <fmt/format.h>

#include <algorithm>
#include <limits>
#include <utility>

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
            if (surroundings_.outside == nullptr)
                read_recording(hash);
            else
                with_files({hash}, [this, hash] {
                    if (hash == recording_hash_)
                        read_recording(hash);
                    refresh();
                });
        }
        return recording_;
    };
    tables_ = surroundings_.tables ? surroundings_.tables : std::make_shared<HuntTables>();
    worker_ = std::make_unique<Worker>(std::function<void()>(), Worker::Mode::at_once);
    state_.outside = surroundings_.outside != nullptr;
    hunter_ = std::make_unique<Worker>(std::function<void()>(), Worker::Mode::at_once);
    reload_book();
    refresh();
}

void RailsideProgram::read_recording(const std::string& hash) {
    if (const auto bytes = bench_.recording_bytes(hash))
        recording_ = std::make_shared<const std::string>(
            reinterpret_cast<const char*>(bytes->data()), bytes->size());
    else
        say(AppState::MessageTone::refused, bytes.error().message);
}

void RailsideProgram::set_waker(std::function<void()> wake) {
    wake_ = std::move(wake);
    worker_->finish();
    worker_ = std::make_unique<Worker>(
        wake_, surroundings_.work_at_once ? Worker::Mode::at_once : Worker::Mode::own_thread);
    hunter_ = std::make_unique<Worker>(
        wake_, surroundings_.work_at_once ? Worker::Mode::at_once : Worker::Mode::own_thread);
    watch();
}

void RailsideProgram::news() {
    worker_->deliver();
    hunter_->deliver();
    tell_lost();
    hear_of_keeping();
    if (folder_)
        for (std::filesystem::path& path : folder_->take())
            waiting_.push_back(std::move(path));
    if (!waiting_.empty() && in_job_ && state_.room != RoomId::shelf &&
        state_.room != RoomId::bench)
        take_waiting();
    if (camera_) {
        camera_->take_ready();
        show_live();
    }
    refresh();
    frames_left_ = std::max(frames_left_, 2);
}

void RailsideProgram::tell_lost() {
    for (const Worker::Lost& lost : worker_->take_lost()) {
        if (!lost.key.starts_with("shot/"))
            putting_away_ = std::max(0, putting_away_ - 1);
        if (writing_ && lost.key == writing_->name)
            writing_.reset();
        say(AppState::MessageTone::refused, lost.reason);
    }
}

Result<Done> RailsideProgram::open_job(std::string_view job) {
    auto found = bench_.job(job);
    if (!found)
        return found.error();
    camera_.reset();
    let_go(live_);
    live_serial_ = 0;
    job_ = std::move(*found);
    in_job_ = true;
    // What belongs to the bench and the hand stays from job to job.
    AppState fresh;
    fresh.room = RoomId::sheet;
    fresh.folder = state_.folder;
    fresh.outside = state_.outside;
    fresh.search = state_.search;
    fresh.reading = state_.reading;
    fresh.reading.position.clear();
    fresh.reading.when = {};
    if (const auto kept = settings_.beside.find(job_.id); kept != settings_.beside.end()) {
        fresh.beside = kept->second.shows;
        fresh.split = kept->second.split;
    }
    state_ = std::move(fresh);
    look_back();
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

void RailsideProgram::look_back() {
    seen_.clear();
    if (auto seen = bench_.seen_before(job_.id, 4))
        seen_ = std::move(*seen);
}

void RailsideProgram::reload_book() {
    auto book = bench_.book();
    if (!book) {
        say(AppState::MessageTone::refused, book.error().message);
        return;
    }
    book_ = std::move(*book);
    lists_.clear();
    for (const StepList& list : surroundings_.lists)
        lists_.push_back(list_of_bench(book_, surroundings_.lists, list.key));
}

void RailsideProgram::refresh_shelf(const Clock& clock) {
    if (!state_.search.empty()) {
        if (auto found = bench_.search(state_.search, 50)) {
            shown_.shelf = make_found(*found, state_.search, clock);
            return;
        }
    }
    if (auto jobs = bench_.jobs()) {
        shown_.shelf = make_shelf(*jobs, clock);
        shown_.shelf.demo = shown_.shelf.cards.empty() && surroundings_.demo;
    } else
        say(AppState::MessageTone::refused, jobs.error().message);
}

void RailsideProgram::refresh() {
    const Clock clock = surroundings_.clock();
    shown_.in_job = in_job_ && state_.room != RoomId::shelf && state_.room != RoomId::bench;
    if (state_.room == RoomId::shelf)
        refresh_shelf(clock);
    if (state_.room == RoomId::bench) {
        BenchFacts facts;
        facts.folder = bench_.folder().string();
        if (surroundings_.outside != nullptr)
            facts.safety = surroundings_.outside->safety();
        facts.watched = settings_.watched;
        if (folder_)
            facts.watch_state = folder_->sentence();
        facts.hand = settings_.hand == Hand::right ? "at the right hand: change"
                                                   : "at the left hand: change";
        facts.theme = settings_.theme == ThemeKind::dark    ? "dark bench: change"
                      : settings_.theme == ThemeKind::light ? "light bench: change"
                                                            : "high contrast: change";
        facts.size = settings_.size;
        facts.size_draft = state_.size_draft;
        facts.text_percent = settings_.text_percent;
        shown_.bench = make_bench(state_, book_, surroundings_.lists, facts);
    }
    if (state_.help)
        shown_.help = make_help_page();
    if (state_.reading_open)
        shown_.reading = make_reading_page(state_, job_, book_);
    if (in_job_) {
        shown_.header = make_header(state_, job_, clock);
        shown_.header.saving = putting_away_ > 0 ||
                               (surroundings_.outside != nullptr && !surroundings_.outside->kept());
        shown_.sheet = make_sheet(state_, job_, book_, seen_, clock);
        // A working solves circuits: only when it is looked at.
        if (state_.room == RoomId::workings) {
            shown_.workings = make_workings(state_, job_, clock, recording_source_, &book_);
            if (const Working* working = find_working(state_.working))
                for (const Field& field : working->fields)
                    if (field.spread == Spread::meter && field.kind == FieldKind::amount)
                        shown_.workings.read_with = reading_way(state_.reading, book_);
        }
        shown_.photos = make_photos(state_, job_);
        if (!waiting_.empty())
            shown_.photos.waiting = worded("{} new in the watched folder: take {} in",
                                           waiting_.size(), waiting_.size() == 1 ? "it" : "them");
        shown_.steps = make_steps(state_, job_, lists_, clock);
        if (state_.room == RoomId::handover)
            refresh_handover(clock);
        if (state_.room == RoomId::suspects)
            refresh_suspects();
        if (state_.apart)
            shown_.apart = make_apart(state_, job_);
        shown_.kept.clear();
        for (auto it = job_.kept.rbegin(); it != job_.kept.rend(); ++it)
            if (it->source.standing == Standing::valid)
                shown_.kept.push_back(make_kept_line(*it, clock));
        // Nothing is called kept that would not outlast the page.
        const bool safe = surroundings_.outside == nullptr || surroundings_.outside->kept();
        if (safe || safe_job_ != job_.id) {
            safe_job_ = job_.id;
            safe_until_ = job_.entries.empty() ? std::string() : job_.entries.back().id;
        }
        const auto mark = [&](KeptLine& line) {
            if (line.entry > safe_until_) {
                line.state = VerdictState::undecided;
                line.word = "saving";
            }
        };
        mark(shown_.header.kept);
        for (KeptLine& line : shown_.kept)
            mark(line);
    }
    if (state_.keypad) {
        shown_.keypad = make_keypad(*state_.keypad);
        const WorkingsShown& solved = shown_.workings;
        // What is refused or half typed is not what was solved.
        const bool taken =
            shown_.keypad.tone == KeypadTone::usual || shown_.keypad.tone == KeypadTone::unusual;
        if (taken && in_job_ && state_.room == RoomId::workings && solved.answered &&
            state_.keypad->target.starts_with("field/")) {
            shown_.keypad.answer = worded("{} · {}", solved.headline, words(solved.word));
            shown_.keypad.answer_state = solved.state;
        }
    }
}

void RailsideProgram::refresh_handover(const Clock& clock) {
    HandoverFacts facts;
    facts.report =
        make_report(job_, book_, {clock.now_ms, clock.utc_offset_minutes, settings_.bench_name});
    facts.bench = settings_.bench_name;
    facts.paper = settings_.paper;
    if (writing_) {
        facts.writing = writing_->name;
        facts.done = writing_->done;
        facts.of = writing_->of;
        facts.stopping = writing_->stop;
    }
    if (surroundings_.outside != nullptr)
        facts.open_label = "Share or save it again";
    else if (surroundings_.show_file)
        facts.open_label = "Open it";
    shown_.handover = make_handover(state_, job_, facts);
}

void RailsideProgram::say(AppState::MessageTone tone, std::string message) {
    if (tone == AppState::MessageTone::kept && surroundings_.outside != nullptr &&
        !surroundings_.outside->kept()) {
        kept_words_ = std::move(message);
        return;
    }
    state_.message_tone = tone;
    state_.message = std::move(message);
}

void RailsideProgram::hear_of_keeping() {
    const Outside* outside = surroundings_.outside;
    if (outside == nullptr)
        return;
    if (const std::string trouble = outside->trouble(); !trouble.empty()) {
        kept_words_.clear();
        say(AppState::MessageTone::refused, trouble);
    } else if (!kept_words_.empty() && outside->kept()) {
        say(AppState::MessageTone::kept, std::exchange(kept_words_, {}));
    }
}

bool RailsideProgram::append(EntryKind kind, nlohmann::json body) {
    const bool sheet = kind == EntryKind::job && !body.contains("known");
    auto entry = bench_.append(job_.id, kind, std::move(body));
    if (!entry) {
        say(AppState::MessageTone::refused, entry.error().message);
        return false;
    }
    reload_job();
    if (sheet)
        look_back();
    return true;
}

std::optional<std::vector<Entry>> RailsideProgram::append_all(std::vector<Bench::Draft> drafts) {
    auto written = bench_.append_all(job_.id, drafts);
    if (!written) {
        say(AppState::MessageTone::refused, written.error().message);
        return std::nullopt;
    }
    reload_job();
    return std::move(*written);
}

bool RailsideProgram::append_book(EntryKind kind, nlohmann::json body) {
    auto entry = bench_.append_bench(kind, std::move(body));
    if (!entry) {
        say(AppState::MessageTone::refused, entry.error().message);
        return false;
    }
    reload_book();
    return true;
}

void RailsideProgram::start(Textures& textures) { textures_ = &textures; }

bool RailsideProgram::resize(const Screen& screen) {
    const bool fonts =
        screen.px_per_mm != screen_.px_per_mm || ui_.theme().font(Face::body) == nullptr;
    screen_ = screen;
    frames_left_ = 2;
    fonts_due_ = fonts_due_ || fonts;
    return renew_fonts();
}

bool RailsideProgram::renew_fonts() {
    if (!fonts_due_)
        return false;
    fonts_due_ = false;
    // What the theme's fonts can be built for.
    const float px_per_mm = std::clamp(screen_.px_per_mm * settings_.size, 2.0f, 40.0f);
    ui_.theme().build_fonts(px_per_mm, static_cast<float>(settings_.text_percent) / 100);
    frames_left_ = std::max(frames_left_, 2);
    return true;
}

float RailsideProgram::usual_split() const {
    return screen_.width_px > screen_.height_px ? k_wide_split : k_tall_split;
}

void RailsideProgram::textures_lost() {
    live_ = {};
    live_serial_ = 0;
    let_go_.clear();
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
    if (state_.help)
        apply(intent::ShowHelp{false});
    else if (state_.pick)
        apply(intent::LeavePicking{});
    else if (state_.reading_open)
        apply(intent::LeaveReading{});
    else if (state_.drawer_open)
        apply(intent::ToggleDrawer{});
    else if (state_.choosing_file)
        apply(intent::LeaveFiles{});
    else if (state_.camera_open)
        apply(intent::OpenCamera{false});
    else if (state_.room == RoomId::photos && state_.about_photo)
        apply(intent::AboutPhoto{false});
    else if (state_.room == RoomId::photos && state_.mark_tool)
        apply(intent::PickMark{std::nullopt});
    else if (state_.room == RoomId::photos && state_.photo_large)
        apply(intent::ClosePhoto{});
    else if (state_.room == RoomId::sheet && state_.cost)
        apply(intent::LeaveCost{});
    else if (state_.room == RoomId::handover && !state_.wanting.empty())
        apply(intent::OpenWanting{});
    else if (state_.room == RoomId::handover)
        apply(intent::GoRoom{RoomId::sheet});
    else if (state_.room == RoomId::sheet && !state_.position.empty())
        apply(intent::OpenPosition{});
    else if (state_.room == RoomId::bench && state_.list_draft && state_.list_draft->step >= 0)
        apply(intent::OpenDraftStep{-1});
    else if (state_.room == RoomId::bench && state_.list_draft)
        apply(intent::EditList{});
    else if (state_.room == RoomId::bench && !state_.instrument.empty())
        apply(intent::OpenInstrument{});
    else if (state_.room == RoomId::steps && state_.apart)
        apply(intent::ShowApart{false});
    else if (state_.room == RoomId::workings && state_.choosing_working)
        apply(intent::PickWorking{state_.working});
    else if (state_.room != RoomId::shelf)
        apply(intent::GoRoom{RoomId::shelf});
}

void RailsideProgram::key(Key key) {
    frames_left_ = std::max(frames_left_, 4);
    if (key == Key::help) {
        apply(intent::ShowHelp{!state_.help});
    } else if (state_.text) {
        if (key == Key::enter && may_be_set(*state_.text))
            apply(intent::SetText{});
        else if (key == Key::escape)
            apply(intent::LeaveText{});
    } else if (state_.keypad) {
        if (key == Key::backspace)
            apply(intent::PressKey{"erase"});
        else if (key == Key::del)
            apply(intent::PressKey{"clear"});
        else if (key == Key::up || key == Key::down)
            apply(intent::StepValue{key == Key::up ? 1 : -1});
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
    } else if (!state_.text) {
        shortcut(utf8);
        refresh();
    }
    frames_left_ = std::max(frames_left_, 3);
}

void RailsideProgram::drop_file(std::string_view path) {
    if (looks_like_job_file(std::filesystem::path(path)))
        import_job_file(std::filesystem::path(path));
    else if (!in_job_ || state_.room == RoomId::shelf || state_.room == RoomId::bench)
        say(AppState::MessageTone::refused,
            "Open a job first, then drop the file again. Nothing was taken in.");
    else if (looks_like_recording(std::filesystem::path(path)))
        import_recording(std::filesystem::path(path));
    else if (looks_like_netlist(std::filesystem::path(path)))
        import_circuit(std::filesystem::path(path));
    else
        import_file(std::filesystem::path(path));
    refresh();
    frames_left_ = 2;
}

Shot RailsideProgram::shot_for(const std::string& hash, int longest) {
    if (hash == k_live_shot)
        return live_;
    // By hand, for a key to look up would ask for memory in every frame.
    const auto it = std::find_if(shots_.begin(), shots_.end(), [&](const auto& one) {
        return one.first.second == longest && one.first.first == hash;
    });
    if (it != shots_.end()) {
        it->second.used = frame_count_;
        return it->second.shot;
    }
    const auto key = std::make_pair(hash, longest);
    if (std::find(wanted_.begin(), wanted_.end(), key) == wanted_.end())
        wanted_.push_back(key);
    return {};
}

void RailsideProgram::ask_for_shots() {
    if (textures_ == nullptr)
        return;
    for (const auto& key : wanted_)
        if (surroundings_.outside != nullptr)
            ask_outside(key);
        else
            worker_->ask(fmt::format("shot/{}/{}", key.first, key.second),
                         [this, key]() -> Worker::Delivery {
                             auto picture = std::make_shared<Result<Picture>>(
                                 bench_.photo_picture(key.first, key.second));
                             return [this, key, picture] { take_shot(key, *picture); };
                         });
    wanted_.clear();
}

void RailsideProgram::ask_outside(const std::pair<std::string, int>& key) {
    if (!asked_outside_.insert(key).second)
        return;
    surroundings_.outside->picture(
        key.first, key.second, [this, key](Result<Outside::Image> image) {
            asked_outside_.erase(key);
            if (image)
                take_shot(key, Picture{image->width, image->height, std::move(image->rgba)});
            else
                take_shot(key, image.error());
        });
}

void RailsideProgram::take_shot(const std::pair<std::string, int>& key,
                                const Result<Picture>& picture) {
    if (textures_ == nullptr)
        return;
    Loaded loaded;
    loaded.used = frame_count_;
    if (picture) {
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

void RailsideProgram::let_go(Shot& shot) {
    if (shot.texture)
        let_go_.push_back(shot.texture);
    shot = {};
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
        let_go(oldest->second.shot);
        shots_.erase(oldest);
    }
}

std::string RailsideProgram::edited_text() const { return state_.text ? state_.text->text : ""; }

void RailsideProgram::set_edited_text(std::string_view utf8) {
    if (!state_.text)
        return;
    state_.text->text = utf8;
    refresh();
    frames_left_ = std::max(frames_left_, 2);
}

void RailsideProgram::tap_control(std::string_view name) {
    ui_.tap_name(name);
    frames_left_ = std::max(frames_left_, 2);
}

void RailsideProgram::frame(double now_s) {
    ++frame_count_;
    frames_left_ = std::max(0, frames_left_ - 1);
    for (const ImTextureID texture : let_go_)
        textures_->drop(texture);
    let_go_.clear();
    ui_.theme().set_kind(settings_.theme);
    const Rect screen{0, 0, static_cast<float>(screen_.width_px),
                      static_cast<float>(screen_.height_px)};
    ui_.begin_frame(screen, now_s);
    intents_.clear();
    draw_frame(ui_, screen, settings_.hand, shown_, state_, shot_source_, intents_);
    ui_.end_frame();
    state_.follow_step = shown_.steps.follow = false;
    if (std::exchange(state_.follow_history, false))
        shown_.sheet.history.follow.clear();
    if (!intents_.empty()) {
        const bool was_text = state_.text.has_value();
        for (const Intent& wanted : intents_)
            apply(wanted);
        refresh();
        frames_left_ = std::max(frames_left_, state_.text && !was_text ? 4 : 2);
    }
    ask_for_shots();
}

double RailsideProgram::wake_in(double now_s) const {
    if (frames_left_ > 0 || !wanted_.empty())
        return 0;
    return ui_.wake_in(now_s);
}

} // namespace railside
