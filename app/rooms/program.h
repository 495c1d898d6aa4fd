// The program itself: holds the bench and what the person looks at, turns intents into entries, and
// draws when something changed.
#pragma once

#include "app/hosts/host.h"
#include "app/rooms/frame_draw.h"
#include "app/rooms/intent.h"
#include "app/rooms/state.h"
#include "app/ui/ui.h"
#include "core/store/bench.h"

#include <filesystem>
#include <functional>
#include <map>
#include <memory>
#include <vector>

namespace railside {

/// What differs from run to run and is not the bench's: the clock, the lists that came with the
/// program, where files are looked for.
struct ProgramSurroundings {
    std::function<Clock()> clock;
    std::vector<StepList> lists;
    std::string start_folder; // where From file begins
};

/// Whether a file's name says it is a capture of a scope or sound card (.csv, .txt, .wav).
[[nodiscard]] bool looks_like_recording(const std::filesystem::path& path);

/// Kept beside the bench in settings.json; a missing or damaged file means the defaults.
struct Settings {
    Hand hand = Hand::right;
    ThemeKind theme = ThemeKind::dark;
};
[[nodiscard]] Settings load_settings(const std::filesystem::path& bench_folder);
[[nodiscard]] Result<Done> save_settings(const std::filesystem::path& bench_folder,
                                         const Settings& settings);

class RailsideProgram : public Program {
  public:
    RailsideProgram(Bench& bench, ProgramSurroundings surroundings);

    /// Opens a job, at its sheet. not_found when the bench has none of that id.
    [[nodiscard]] Result<Done> open_job(std::string_view job);
    [[nodiscard]] AppState& state() { return state_; }
    [[nodiscard]] const ControlMap& controls() const { return ui_.controls(); }
    [[nodiscard]] const Ui& ui() const { return ui_; }
    [[nodiscard]] const Job* job() const { return in_job_ ? &job_ : nullptr; }
    [[nodiscard]] const Shown& shown() const { return shown_; }
    [[nodiscard]] Settings& settings() { return settings_; }
    /// Does one thing as a finger would ask for it; the only way anything changes.
    void apply(const Intent& wanted);
    /// Makes everything shown anew.
    void refresh();

    // Program
    void start(Textures& textures) override;
    [[nodiscard]] bool resize(const Screen& screen) override;
    void textures_lost() override;
    void touch(const Touch& touch) override;
    void wheel(float x_px, float y_px, float notches) override;
    void key(Key key) override;
    void text(std::string_view utf8) override;
    void drop_file(std::string_view path) override;
    void frame(double now_s) override;
    [[nodiscard]] double wake_in(double now_s) const override;
    [[nodiscard]] bool done() const override { return done_; }
    [[nodiscard]] bool wants_text() const override { return state_.text.has_value(); }

  private:
    struct Loaded {
        Shot shot;
        std::uint64_t used = 0; // frame it was last drawn in
    };
    Shot shot_for(const std::string& hash, int longest);
    void load_wanted();
    void drop_shots();

    [[nodiscard]] bool append(EntryKind kind, nlohmann::json body);
    void reload_job();
    void say(AppState::MessageTone tone, std::string message);
    void set_value();
    void set_text();
    void set_word(std::string_view field, const std::string& word);
    void import_file(const std::filesystem::path& path);
    void import_recording(const std::filesystem::path& path);
    [[nodiscard]] std::optional<std::vector<std::byte>>
    read_import(const std::filesystem::path& path, std::string_view kind);
    void read_folder(const std::filesystem::path& folder);
    void escape();
    void keep_working();

    // One for each intent (program_apply.cpp).
    struct Apply;
    friend struct Apply;

    Bench& bench_;
    ProgramSurroundings surroundings_;
    Settings settings_;
    AppState state_;
    Job job_;
    bool in_job_ = false;
    Shown shown_;
    Ui ui_;
    Screen screen_;
    Textures* textures_ = nullptr;
    std::map<std::pair<std::string, int>, Loaded> shots_;
    std::vector<std::pair<std::string, int>> wanted_;
    std::uint64_t frame_count_ = 0;
    ShotSource shot_source_;
    RecordingSource recording_source_;
    std::string recording_hash_; // of the bytes held
    std::shared_ptr<const std::string> recording_;
    Intents intents_;
    int frames_left_ = 2;
    bool unusual_confirmed_ = false;
    bool done_ = false;
};

} // namespace railside
