// The program itself: holds the bench and what the person looks at, turns intents into entries, and
// draws when something changed.
#pragma once

#include "app/hosts/camera.h"
#include "app/hosts/host.h"
#include "app/hosts/outside.h"
#include "app/hosts/watched_folder.h"
#include "app/hosts/worker.h"
#include "app/rooms/frame_draw.h"
#include "app/rooms/intent.h"
#include "app/rooms/state.h"
#include "app/ui/ui.h"
#include "core/store/bench.h"
#include "core/suspects/hunt.h"

#include <array>
#include <atomic>
#include <filesystem>
#include <functional>
#include <map>
#include <memory>
#include <set>
#include <vector>

namespace railside {

/// Every fault of one circuit, worked out or on the way. `hunt` and `failed` belong to the
/// interface's thread, the rest to both.
struct HuntTable {
    std::shared_ptr<const Hunt> hunt;
    std::string failed;
    std::atomic<int> done{0}; // faults
    std::atomic<int> of{0};
    std::atomic<bool> stop{false};
};
struct ChannelHunt;
struct HuntTables {
    std::map<std::string, std::shared_ptr<HuntTable>> tables; // by table_key()
};

/// What differs from run to run and is not the bench's: the clock, the lists that came with the
/// program, where files are looked for.
struct ProgramSurroundings {
    std::function<Clock()> clock;
    std::vector<StepList> lists;
    std::string start_folder; // where From file begins
    /// Opens the camera; empty: this machine is taken to have none.
    std::function<std::unique_ptr<CameraSource>(std::function<void()> wake)> camera = {};
    /// Pictures are read and put away before the call that wants it returns, so that the same
    /// touches always make the same screens.
    bool work_at_once = false;
    /// Whether what is chosen (hand, colours, what stands beside) is written to the bench.
    bool keep_settings = true;
    /// Files, pictures and the lasting storage, where they are not this program's own (a browser's
    /// page); null: they are. Outlives the program.
    Outside* outside = nullptr;
    /// Shows a file that was written with the program the system has for it; empty: nothing can.
    std::function<Result<Done>(const std::string& path)> show_file = {};
    /// Puts the demo job on the bench and returns its id; empty: it is not offered.
    std::function<Result<std::string>(Bench&)> demo = {};
    /// Tables of the hunt, kept from program to program; empty: this program's own.
    std::shared_ptr<HuntTables> tables = {};
};

/// Whether a file's name says it is a capture of a scope or sound card (.csv, .txt, .wav).
[[nodiscard]] bool looks_like_recording(const std::filesystem::path& path);
/// Whether its name says it is a netlist (.cir).
[[nodiscard]] bool looks_like_netlist(const std::filesystem::path& path);
/// Whether its name says it is a job file (.railjob).
[[nodiscard]] bool looks_like_job_file(const std::filesystem::path& path);

/// Kept beside the bench in settings.json; a missing or damaged file means the defaults.
struct Settings {
    Hand hand = Hand::right;
    ThemeKind theme = ThemeKind::dark;
    std::string watched;    // folder whose new pictures come to the open job; empty: none
    float size = 1;         // of everything, to what the display says of itself; 0.6 to 1.6
    int text_percent = 100; // of the text alone, 100 to 130
    struct JobBeside {
        Beside shows = Beside::photos;
        float split = 0; // as AppState::split
    };
    std::map<std::string, JobBeside> beside; // by job: what stood beside it, and how wide
    std::string bench_name;                  // who hands back, in the reports; may be empty
    Paper paper = Paper::a4;
};
[[nodiscard]] Settings load_settings(const std::filesystem::path& bench_folder);
[[nodiscard]] Result<Done> save_settings(const std::filesystem::path& bench_folder,
                                         const Settings& settings);

class RailsideProgram : public Program {
  public:
    RailsideProgram(Bench& bench, ProgramSurroundings surroundings);
    ~RailsideProgram() override;
    RailsideProgram(const RailsideProgram&) = delete;
    RailsideProgram& operator=(const RailsideProgram&) = delete;

    /// Opens a job, at its sheet. not_found when the bench has none of that id.
    [[nodiscard]] Result<Done> open_job(std::string_view job);
    [[nodiscard]] AppState& state() { return state_; }
    [[nodiscard]] const ControlMap& controls() const { return ui_.controls(); }
    [[nodiscard]] const Ui& ui() const { return ui_; }
    void watch_inks(std::vector<InkUse>* into) { ui_.watch_inks(into); }
    [[nodiscard]] const Job* job() const { return in_job_ ? &job_ : nullptr; }
    [[nodiscard]] const Shown& shown() const { return shown_; }
    [[nodiscard]] Settings& settings() { return settings_; }
    /// Does one thing as a finger would ask for it; the only way anything changes.
    void apply(const Intent& wanted);
    /// Makes everything shown anew.
    void refresh();

    // Program
    void set_waker(std::function<void()> wake) override;
    void news() override;
    void start(Textures& textures) override;
    [[nodiscard]] bool resize(const Screen& screen) override;
    void textures_lost() override;
    void touch(const Touch& touch) override;
    void wheel(float x_px, float y_px, float notches) override;
    void key(Key key) override;
    void text(std::string_view utf8) override;
    void drop_file(std::string_view path) override;
    void frame(double now_s) override;
    [[nodiscard]] bool renew_fonts() override;
    [[nodiscard]] double wake_in(double now_s) const override;
    [[nodiscard]] bool done() const override { return done_; }
    [[nodiscard]] bool wants_text() const override { return state_.text.has_value(); }
    [[nodiscard]] std::string edited_text() const override;
    void set_edited_text(std::string_view utf8) override;
    [[nodiscard]] const ControlMap* screen_map() const override { return &ui_.controls(); }
    void tap_control(std::string_view name) override;

  private:
    struct Loaded {
        Shot shot;
        std::uint64_t used = 0; // frame it was last drawn in
    };
    Shot shot_for(const std::string& hash, int longest);
    void ask_for_shots();
    void ask_outside(const std::pair<std::string, int>& key);
    void read_recording(const std::string& hash);
    void take_shot(const std::pair<std::string, int>& key, const Result<Picture>& picture);
    void drop_shots();
    void show_live();
    void let_go(Shot& shot);
    [[nodiscard]] float usual_split() const;
    void shortcut(std::string_view utf8);
    /// A digit typed at a field in the ring opens its keypad.
    [[nodiscard]] bool value_begun(std::string_view utf8);
    void tell_lost(); // work that failed without an answer of its own

    [[nodiscard]] bool append(EntryKind kind, nlohmann::json body);
    [[nodiscard]] std::optional<std::vector<Entry>> append_all(std::vector<Bench::Draft> drafts);
    [[nodiscard]] bool append_book(EntryKind kind, nlohmann::json body);
    void reload_job();
    void reload_book();
    void look_back();
    void refresh_shelf(const Clock& clock);
    void say(AppState::MessageTone tone, std::string message);

    // Setting what was keyed, written or chosen (program_values.cpp). True when it is set and the
    // keypad or the letters may go.
    void set_value();
    void set_text();
    [[nodiscard]] bool set_member(const std::string& target, const std::string& text);
    [[nodiscard]] bool set_job_member(const std::string& member, const std::string& text);
    [[nodiscard]] bool set_position_member(const std::string& rest, const std::string& text);
    [[nodiscard]] bool set_photo_member(const std::string& rest, const std::string& text);
    /// What was drawn on the photo, as an entry.
    [[nodiscard]] bool keep_mark(const std::string& text);
    [[nodiscard]] bool set_mark_member(const std::string& rest, const std::string& text);
    [[nodiscard]] bool set_closing(bool pass, const std::string& which, const std::string& text);
    [[nodiscard]] bool set_wanting_member(const std::string& rest, const std::string& text);
    [[nodiscard]] bool set_report_member(const std::string& member, const std::string& text);
    [[nodiscard]] bool set_draft_member(const std::string& member, const std::string& text);
    [[nodiscard]] bool set_instrument_member(const std::string& rest, const std::string& text);
    [[nodiscard]] bool set_drawer_line(const std::string& which, const std::string& text);
    [[nodiscard]] bool set_list_member(const std::string& target, const std::string& text);
    [[nodiscard]] bool set_field(std::string_view field, const std::string& word);
    [[nodiscard]] bool begin_job(const std::string& model);
    [[nodiscard]] bool begin_position(const std::string& designator);
    [[nodiscard]] bool set_keyed(const KeypadState& keypad);
    [[nodiscard]] bool take_off(const std::string& what);

    using Bytes = std::vector<std::byte>;
    /// Puts a picture away behind the screen, as the next photo of the open job; `read` brings its
    /// bytes.
    void import_picture(std::function<Result<Bytes>()> read, const std::string& name);
    void import_file(const std::filesystem::path& path);
    void take_waiting();
    void write_photo_copy(const std::filesystem::path& folder);
    /// Work that must be done, told of while it lasts; what it returns runs when it is done.
    void put_away(const std::string& name, Worker::Work work);
    /// `then`, once the files of those names can be read; at once where they always can.
    void with_files(const std::vector<std::string>& hashes, std::function<void()> then,
                    Outside::Bring what = Outside::Bring::files);
    [[nodiscard]] std::vector<std::string> files_of_job() const;
    /// Hands a file that was written to the person, where there is no folder of theirs to write to.
    void hand_out(const std::filesystem::path& file);
    /// What was written has become safe, or will not.
    void hear_of_keeping();
    void import_recording(const std::filesystem::path& path);
    void import_job_file(const std::filesystem::path& path);
    /// The report, as state and settings want it, behind the screen.
    void write_handover(const std::filesystem::path& folder);
    void refresh_handover(const Clock& clock);
    void refresh_suspects();
    /// The table of that channel's circuit, asked for when it is not there.
    HuntTable& table_for(const std::string& key, Channel channel);
    void take_circuit(const CircuitRecord& circuit);
    void import_circuit(const std::filesystem::path& path);
    void export_job(const std::filesystem::path& folder);
    void backup(const std::filesystem::path& folder);
    /// Where there is no folder to back up into: every job as a job file, one after the other.
    void hand_out_all_jobs(const std::filesystem::path& outbox);
    void watch(); // begins, changes or ends it, as the settings say
    void read_folder(const std::filesystem::path& folder);
    void escape();
    void keep_working();

    // One for each intent (apply_*.cpp).
    struct Apply;
    friend struct Apply;

    Bench& bench_;
    ProgramSurroundings surroundings_;
    Settings settings_;
    AppState state_;
    Job job_;
    bool in_job_ = false;
    BenchBook book_;
    std::vector<StepList> lists_; // the delivered ones, or this bench's own in their place
    std::vector<JobSeen> seen_;   // earlier jobs like the open one
    std::vector<std::filesystem::path> waiting_; // new in the watched folder, not taken in yet
    struct Writing {
        std::string name;
        std::atomic<int> done{0};
        std::atomic<int> of{0};
        std::atomic<bool> stop{false};
    };
    std::shared_ptr<Writing> writing_; // the report on its way to the disk, or none
    std::string kept_words_;           // said once what they tell of is safe
    std::string safe_job_;             // the job of safe_until_
    std::string safe_until_;           // its last entry known to outlast the program
    struct WeighedChannel {
        std::string key; // of what it was made of
        std::shared_ptr<const ChannelHunt> hunt;
    };
    std::array<WeighedChannel, 2> weighed_; // left, right
    std::shared_ptr<HuntTables> tables_;
    int putting_away_ = 0; // photos and copies on their way to the disk
    Shown shown_;
    Ui ui_;
    Screen screen_;
    Textures* textures_ = nullptr;
    std::map<std::pair<std::string, int>, Loaded> shots_;
    std::vector<std::pair<std::string, int>> wanted_;
    std::set<std::pair<std::string, int>> asked_outside_; // pictures on their way
    std::uint64_t frame_count_ = 0;
    ShotSource shot_source_;
    RecordingSource recording_source_;
    std::string recording_hash_; // of the bytes held
    std::shared_ptr<const std::string> recording_;
    Intents intents_;
    int frames_left_ = 2;
    bool unusual_confirmed_ = false;
    bool fonts_due_ = false; // the size was changed: new fonts before the next frame
    bool done_ = false;
    Shot live_;                       // the camera's picture
    std::vector<ImTextureID> let_go_; // still named by the frame that is being painted
    std::uint64_t live_serial_ = 0;
    // Threads of their own, which end before anything above does.
    std::function<void()> wake_;
    std::unique_ptr<Worker> worker_;
    std::unique_ptr<Worker> hunter_; // works out tables: half a minute each
    std::unique_ptr<WatchedFolder> folder_;
    std::unique_ptr<CameraSource> camera_;
};

} // namespace railside
