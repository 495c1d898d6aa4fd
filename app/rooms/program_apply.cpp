// What each intent does. Everything that must last becomes an entry, durable before the screen says
// so.

#include "app/rooms/program.h"
#include "core/quantity/value_code.h"
#include "core/working/json.h"

#include <fmt/format.h>

#include <algorithm>
#include <fstream>
#include <system_error>

namespace railside {

namespace {

constexpr std::uintmax_t k_largest_file = 64u << 20;

bool starts_with(std::string_view text, std::string_view start) {
    return text.substr(0, start.size()) == start;
}

std::string lower(std::string text) {
    std::transform(text.begin(), text.end(), text.begin(), [](unsigned char c) {
        return c >= 'A' && c <= 'Z' ? static_cast<char>(c + 32) : static_cast<char>(c);
    });
    return text;
}

bool looks_like_picture(const std::filesystem::path& path) {
    const std::string end = lower(path.extension().string());
    return end == ".jpg" || end == ".jpeg" || end == ".png";
}

bool wanted_file(const std::filesystem::path& path, bool recording) {
    return recording ? looks_like_recording(path) : looks_like_picture(path);
}

std::string size_text(std::uintmax_t bytes) {
    if (bytes >= 1000000)
        return fmt::format("{:.1f} MB", static_cast<double>(bytes) / 1e6);
    return fmt::format("{} kB", (bytes + 999) / 1000);
}

std::string field_text(const Job& job, const Working& working, const Field& field, Channel channel,
                       const Clock& clock) {
    const auto stand = field_stand(job, working, field, channel, clock);
    return stand ? stand->text : std::string();
}

const StepRecord* find_step(const Job& job, std::string_view list, std::string_view step) {
    for (const ListRecord& record : job.lists)
        if (record.source.entry == list)
            for (const StepRecord& s : record.steps)
                if (s.step.key == step)
                    return &s;
    return nullptr;
}

} // namespace

bool looks_like_recording(const std::filesystem::path& path) {
    const std::string end = lower(path.extension().string());
    return end == ".csv" || end == ".txt" || end == ".wav";
}

void RailsideProgram::say(AppState::MessageTone tone, std::string message) {
    state_.message_tone = tone;
    state_.message = std::move(message);
}

bool RailsideProgram::append(EntryKind kind, nlohmann::json body) {
    auto entry = bench_.append(job_.id, kind, std::move(body));
    if (!entry) {
        say(AppState::MessageTone::refused, entry.error().message);
        return false;
    }
    reload_job();
    return true;
}

std::optional<std::vector<std::byte>>
RailsideProgram::read_import(const std::filesystem::path& path, std::string_view kind) {
    std::error_code error;
    const auto size = std::filesystem::file_size(path, error);
    const std::string name = path.filename().string();
    if (error) {
        say(AppState::MessageTone::refused,
            fmt::format("{} cannot be read: {}.", name, error.message()));
        return std::nullopt;
    }
    if (size > k_largest_file) {
        say(AppState::MessageTone::refused,
            fmt::format("{} is {}; a {} may have up to 64 MB.", name, size_text(size), kind));
        return std::nullopt;
    }
    std::vector<std::byte> bytes(static_cast<std::size_t>(size));
    std::ifstream file(path, std::ios::binary);
    file.read(reinterpret_cast<char*>(bytes.data()), static_cast<std::streamsize>(bytes.size()));
    if (!file || file.gcount() != static_cast<std::streamsize>(bytes.size())) {
        say(AppState::MessageTone::refused, fmt::format("{} could not be read to its end.", name));
        return std::nullopt;
    }
    return bytes;
}

void RailsideProgram::import_recording(const std::filesystem::path& path) {
    const auto bytes = read_import(path, "recording");
    if (!bytes)
        return;
    RecordingRecord recording;
    recording.name = path.filename().string();
    recording.channel = state_.channel;
    const auto entry = bench_.add_recording(job_.id, *bytes, recording);
    if (!entry) {
        say(AppState::MessageTone::refused,
            fmt::format("{}: {}", recording.name, entry.error().message));
        return;
    }
    state_.choosing_file = false;
    reload_job();
    say(AppState::MessageTone::kept, fmt::format("{} is kept with the {} channel.", recording.name,
                                                 channel_label(state_.channel)));
}

void RailsideProgram::import_file(const std::filesystem::path& path) {
    const auto bytes = read_import(path, "photo");
    if (!bytes)
        return;
    const std::string name = path.filename().string();
    PhotoRecord photo;
    photo.stage = state_.stage;
    auto entry = bench_.add_photo(job_.id, *bytes, photo);
    if (!entry) {
        say(AppState::MessageTone::refused, fmt::format("{}: {}", name, entry.error().message));
        return;
    }
    state_.photo = entry->id;
    state_.photo_look = {};
    state_.choosing_file = false;
    reload_job();
    say(AppState::MessageTone::kept,
        fmt::format("{} is kept with this job, as: {}.", name, photo_stage_label(state_.stage)));
}

void RailsideProgram::read_folder(const std::filesystem::path& folder) {
    FilesShown files;
    files.pictures = !state_.file_is_recording;
    std::error_code error;
    const std::filesystem::path whole = std::filesystem::absolute(folder, error);
    files.folder = whole.string();
    if (whole.has_parent_path() && whole.parent_path() != whole)
        files.parent = whole.parent_path().string();
    std::filesystem::directory_iterator it(
        whole, std::filesystem::directory_options::skip_permission_denied, error);
    if (error) {
        files.empty = fmt::format("This folder cannot be read: {}.", error.message());
    } else {
        for (const auto end = std::filesystem::directory_iterator(); it != end;
             it.increment(error)) {
            if (error)
                break;
            const auto& path = it->path();
            std::error_code ignored;
            const bool is_folder = it->is_directory(ignored);
            const std::string name = path.filename().string();
            if (name.empty() || name.front() == '.')
                continue;
            if (is_folder)
                files.rows.push_back({path.string(), name, {}, true});
            else if (wanted_file(path, state_.file_is_recording))
                files.rows.push_back(
                    {path.string(), name, size_text(it->file_size(ignored)), false});
        }
        std::sort(files.rows.begin(), files.rows.end(), [](const FileRow& a, const FileRow& b) {
            return a.folder != b.folder ? a.folder : lower(a.name) < lower(b.name);
        });
        if (files.rows.empty())
            files.empty = state_.file_is_recording ? "No recordings (CSV or WAV) in this folder."
                                                   : "No pictures (JPEG or PNG) in this folder.";
    }
    state_.folder = files.folder;
    shown_.files = std::move(files);
}

void RailsideProgram::keep_working() {
    const Working* working = find_working(state_.working);
    if (working == nullptr)
        return;
    const GatheredInputs gathered = gather_inputs(
        job_, *working, state_.channel, surroundings_.clock(), nullptr, recording_source_);
    if (!gathered.refused.empty()) {
        say(AppState::MessageTone::refused, gathered.refused.front().second.message);
        return;
    }
    const auto outcome = run_working(*working, gathered.inputs);
    if (!outcome) {
        say(AppState::MessageTone::refused, outcome.error().message);
        return;
    }
    KeptWorking kept;
    kept.working = working->key;
    kept.channel = state_.channel;
    kept.record = working_to_json(*working, with_defaults(*working, gathered.inputs), *outcome);
    kept.record.erase("curves");
    if (const KeptWorking* before = job_.last_kept(working->key, state_.channel))
        kept.replaces = before->source.entry;
    if (append(EntryKind::working, kept_body(kept)))
        say(AppState::MessageTone::kept, fmt::format("{} is kept with the {} channel.",
                                                     working->name, channel_label(state_.channel)));
}

void RailsideProgram::set_value() {
    KeypadState& keypad = *state_.keypad;
    if (starts_with(keypad.target, "field/")) {
        const Working* working = find_working(state_.working);
        const Field* field =
            working ? find_field(*working, std::string_view(keypad.target).substr(6)) : nullptr;
        if (field == nullptr)
            return;
        const auto input = read_input(*field, keypad.text);
        if (!input) {
            keypad.refused = input.error().message;
            return;
        }
        bool kept = false;
        if (field->spread == Spread::meter) {
            ReadingRecord reading;
            reading.what = field->label;
            reading.channel = state_.channel;
            reading.field = field->key;
            reading.amount = input->amount;
            reading.text = keypad.text;
            kept = append(EntryKind::reading, reading_body(reading));
        } else {
            kept =
                append(EntryKind::job,
                       {{"known", {{known_key(*working, *field, state_.channel), keypad.text}}}});
        }
        if (kept) {
            state_.keypad.reset();
            state_.plot_cursor = -1;
        }
        return;
    }
    // "step/<list>/<step>"
    const std::string target = keypad.target.substr(5);
    const auto cut = target.find('/');
    const std::string list = target.substr(0, cut);
    const std::string step = target.substr(cut + 1);
    if (const auto input = read_input(keypad.field, keypad.text); !input) {
        keypad.refused = input.error().message;
        return;
    }
    if (append(EntryKind::tick, tick_body(list, step, StepState::done, keypad.text))) {
        state_.keypad.reset();
        state_.expanded_step.clear();
        state_.follow_step = true;
    }
}

void RailsideProgram::set_text() {
    TextEntry entry = *state_.text;
    while (!entry.text.empty() && entry.text.back() == ' ')
        entry.text.pop_back();
    if (starts_with(entry.target, "field/")) {
        set_word(entry.target.substr(6), entry.text);
        return;
    }
    if (entry.text.empty())
        return;
    if (entry.target == "new/model") {
        Sheet sheet;
        sheet.model = entry.text;
        sheet.state = "on the bench";
        auto made = bench_.append({}, EntryKind::job, sheet_body(sheet));
        if (!made) {
            say(AppState::MessageTone::refused, made.error().message);
            return;
        }
        const std::string id = made->job;
        if (const auto opened = open_job(id); !opened) {
            say(AppState::MessageTone::refused, opened.error().message);
            return;
        }
        state_.text =
            TextEntry{"job/complaint", "The complaint, in the client's words", {}, true, false};
        return;
    }
    bool kept = false;
    if (entry.target == "job/complaint")
        kept = append(EntryKind::job, {{"complaint", entry.text}});
    else if (entry.target == "note")
        kept = append(EntryKind::note, {{"text", entry.text}});
    else if (starts_with(entry.target, "skip/")) {
        const ListRecord* list = open_list(state_, job_);
        if (list != nullptr)
            kept = append(EntryKind::tick, tick_body(list->source.entry, entry.target.substr(5),
                                                     StepState::skipped, entry.text));
        if (kept)
            state_.skipping = false;
    }
    if (kept)
        state_.text.reset();
}

void RailsideProgram::set_word(std::string_view key, const std::string& word) {
    const Working* working = find_working(state_.working);
    const Field* field = working ? find_field(*working, key) : nullptr;
    if (field == nullptr)
        return;
    // Emptied: the field is as if it had never been given.
    if (!word.empty())
        if (const auto input = read_input(*field, word); !input) {
            say(AppState::MessageTone::refused, input.error().message);
            return;
        }
    if (append(EntryKind::job,
               {{"known", {{known_key(*working, *field, state_.channel), word}}}})) {
        state_.text.reset();
        state_.picking.clear();
    }
}

/// One call for each intent.
struct RailsideProgram::Apply {
    RailsideProgram& program;
    AppState& state = program.state_;
    Job& job = program.job_;

    void operator()(const intent::GoRoom& go) {
        state.room = go.room;
        state.choosing_file = false;
        state.drawer_open = false;
        state.photo_large = false;
        state.history_entry.clear();
        state.follow_step = go.room == RoomId::steps;
    }
    void operator()(const intent::OpenJob& open) {
        if (const auto opened = program.open_job(open.job); !opened)
            program.say(AppState::MessageTone::refused, opened.error().message);
    }
    void operator()(const intent::ShowBeside& show) {
        state.beside = show.beside;
        state.follow_step = show.beside == Beside::steps;
    }
    void operator()(const intent::ToggleDrawer&) { state.drawer_open = !state.drawer_open; }
    void operator()(const intent::SwitchHand&) {
        program.settings_.hand = program.settings_.hand == Hand::right ? Hand::left : Hand::right;
        save();
    }
    void operator()(const intent::SwitchTheme&) {
        ThemeKind& theme = program.settings_.theme;
        theme = theme == ThemeKind::dark    ? ThemeKind::light
                : theme == ThemeKind::light ? ThemeKind::contrast
                                            : ThemeKind::dark;
        save();
    }
    void save() {
        if (const auto saved = save_settings(program.bench_.folder(), program.settings_); !saved)
            program.say(AppState::MessageTone::refused, saved.error().message);
    }
    void operator()(const intent::NewJob&) {
        state.text = TextEntry{
            "new/model", "Which unit is it? Maker and model, as on its plate", {}, true, false};
    }
    void operator()(const intent::EditText& edit) {
        state.text = TextEntry{edit.target, edit.title, edit.text, edit.text.empty(), false};
    }

    void operator()(const intent::PickWorking& pick) {
        state.working = pick.working;
        state.choosing_working = false;
        state.plot_cursor = -1;
    }
    void operator()(const intent::ChooseWorking&) { state.choosing_working = true; }
    void operator()(const intent::PickChannel& pick) {
        state.channel = pick.channel;
        state.plot_cursor = -1;
    }
    void operator()(const intent::OpenField& open) {
        const Working* working = find_working(state.working);
        const Field* field = working ? find_field(*working, open.field) : nullptr;
        if (field == nullptr)
            return;
        program.unusual_confirmed_ = false;
        if (field->kind == FieldKind::amount)
            state.keypad =
                make_field_keypad(state, job, *working, *field, program.surroundings_.clock());
        else if (field->kind == FieldKind::choice)
            state.picking = open.field;
        else if (field->kind == FieldKind::recording)
            choose_file(true);
        else
            state.text = TextEntry{
                fmt::format("field/{}", field->key),
                fmt::format("{}. {}", field->label, field->help),
                field_text(job, *working, *field, state.channel, program.surroundings_.clock()),
                true, false};
    }
    void operator()(const intent::PickWord& pick) { program.set_word(pick.field, pick.word); }
    void operator()(const intent::LeavePicking&) { state.picking.clear(); }
    void operator()(const intent::MovePlotCursor& move) { state.plot_cursor = move.at; }
    void operator()(const intent::KeepWorking&) { program.keep_working(); }

    void operator()(const intent::ShowPhoto& show) {
        if (state.photo != show.entry)
            state.photo_look = {};
        state.photo = show.entry;
        if (show.large) {
            state.room = RoomId::photos;
            state.photo_large = true;
            state.drawer_open = false;
        }
    }
    void operator()(const intent::ClosePhoto&) {
        state.photo_large = false;
        state.photo_look = {};
    }
    void operator()(const intent::LookPhoto& look) {
        PhotoLook& now = state.photo_look;
        const float zoom = std::clamp(now.zoom * look.zoom_by, 1.0f, 12.0f);
        // Zooming keeps the middle of the pane where it is.
        const float grown = zoom / now.zoom;
        now.pan_x = now.pan_x * grown + look.pan_x;
        now.pan_y = now.pan_y * grown + look.pan_y;
        now.zoom = zoom;
        const float most = (zoom - 1) / 2;
        now.pan_x = std::clamp(now.pan_x, -most, most);
        now.pan_y = std::clamp(now.pan_y, -most, most);
    }
    void operator()(const intent::FitPhoto&) { state.photo_look = {}; }
    void operator()(const intent::PickStage& pick) { state.stage = pick.stage; }
    void operator()(const intent::ChooseFile&) { choose_file(false); }
    void choose_file(bool recording) {
        state.choosing_file = true;
        state.file_is_recording = recording;
        state.drawer_open = false;
        program.read_folder(state.folder.empty() ? program.surroundings_.start_folder
                                                 : state.folder);
    }
    void operator()(const intent::LeaveFiles&) { state.choosing_file = false; }
    void operator()(const intent::OpenFolder& open) { program.read_folder(open.folder); }
    void operator()(const intent::ImportFile& import) {
        if (state.file_is_recording)
            program.import_recording(import.path);
        else
            program.import_file(import.path);
    }

    void operator()(const intent::TakeUpList& take) {
        for (const StepList& list : program.surroundings_.lists)
            if (list.key == take.key) {
                if (program.append(EntryKind::list, list_body(list)) && !job.lists.empty())
                    state.list = job.lists.back().source.entry;
                return;
            }
    }
    void operator()(const intent::OpenList& open) {
        state.list = open.entry;
        state.expanded_step.clear();
        state.follow_step = true;
        state.skipping = false;
    }
    void operator()(const intent::CloseList&) { state.list = "none"; }
    void operator()(const intent::ExpandStep& expand) {
        state.expanded_step = state.expanded_step == expand.step ? "none" : expand.step;
        state.skipping = false;
    }
    void tick(const std::string& step, StepState to, const std::string& answer) {
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
    void operator()(const intent::TickStep& step) { tick(step.step, StepState::done, step.answer); }
    void operator()(const intent::UntickStep& step) { tick(step.step, StepState::open, {}); }
    void operator()(const intent::SkipStep& step) {
        tick(step.step, StepState::skipped, step.reason);
    }
    void operator()(const intent::AskSkip& ask) {
        state.expanded_step = ask.step;
        state.skipping = true;
    }
    void operator()(const intent::AskReading& ask) {
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
        const double reach =
            std::max({std::abs(record->step.low), std::abs(record->step.high), 1e-3});
        keypad.field.low = record->step.unit == Unit::celsius ? -273.15 : -1000 * reach;
        keypad.field.high = 1000 * reach;
        keypad.field.usual_low = record->step.low - 5 * reach;
        keypad.field.usual_high = record->step.high + 5 * reach;
        keypad.field.spread = Spread::meter;
        state.keypad = std::move(keypad);
        program.unusual_confirmed_ = false;
    }

    void operator()(const intent::OpenHistory& open) { state.history_entry = open.entry; }
    void operator()(const intent::StrikeEntry& strike) {
        if (program.append(EntryKind::strike, strike_body(strike.entry, strike.standing)))
            state.history_entry.clear();
    }

    void operator()(const intent::PressKey& press) {
        if (state.keypad)
            press_key(*state.keypad, press.key);
        program.unusual_confirmed_ = false;
    }
    void operator()(const intent::TypeQuick& quick) {
        if (state.keypad)
            replace_text(*state.keypad, quick.text);
    }
    void operator()(const intent::SetValue&) {
        if (state.keypad)
            program.set_value();
    }
    void operator()(const intent::LeaveKeypad&) { state.keypad.reset(); }
    void operator()(const intent::PressLetter& press) {
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
    void operator()(const intent::SetText&) {
        if (state.text)
            program.set_text();
    }
    void operator()(const intent::LeaveText&) { state.text.reset(); }
    void operator()(const intent::ChangeText&) {}
    void operator()(const intent::DismissMessage&) {}
};

void RailsideProgram::apply(const Intent& wanted) {
    // What was said last goes with the next thing done.
    state_.message.clear();
    state_.message_tone = AppState::MessageTone::none;
    std::visit(Apply{*this}, wanted);
}

Settings load_settings(const std::filesystem::path& bench_folder) {
    Settings settings;
    std::ifstream file(bench_folder / "settings.json");
    if (!file)
        return settings;
    const nlohmann::json json = nlohmann::json::parse(file, nullptr, false);
    if (!json.is_object())
        return settings;
    if (json.contains("hand") && json["hand"] == "left")
        settings.hand = Hand::left;
    if (json.contains("theme") && json["theme"].is_string())
        for (const ThemeKind kind : {ThemeKind::dark, ThemeKind::light, ThemeKind::contrast})
            if (json["theme"] == std::string(theme_key(kind)))
                settings.theme = kind;
    return settings;
}

Result<Done> save_settings(const std::filesystem::path& bench_folder, const Settings& settings) {
    const nlohmann::json json = {{"hand", settings.hand == Hand::left ? "left" : "right"},
                                 {"theme", std::string(theme_key(settings.theme))}};
    const std::filesystem::path target = bench_folder / "settings.json";
    const std::filesystem::path fresh = bench_folder / "settings.json.new";
    {
        std::ofstream file(fresh, std::ios::trunc);
        file << json.dump(1) << '\n';
        if (!file.flush())
            return Error{ErrorCode::failed, "settings",
                         "The settings could not be written beside the bench; they hold until "
                         "Railside is closed."};
    }
    std::error_code error;
    std::filesystem::rename(fresh, target, error);
    if (error)
        return Error{ErrorCode::failed, "settings",
                     fmt::format("The settings could not be written beside the bench: {}.",
                                 error.message())};
    return Done{};
}

} // namespace railside
