// One whole job by touch, and the plug pulled: what the screen acknowledged is there again.

#include "robot/robot.h"
#include "support/catch.h"
#include "support/temp_folder.h"

#include "app/command/screens.h"

#include <algorithm>
#include <chrono>
#include <csignal>
#include <random>
#include <thread>

#include <sys/wait.h>
#include <unistd.h>

using namespace railside;

namespace {

Screen small_screen() { return screen_of(reference_screens().front()); }

std::string demo(Robot& robot) {
    const auto id = load_painted_demo_job(robot.bench());
    if (!id.ok() || !robot.program().open_job(*id).ok())
        throw std::runtime_error("the demo job could not be opened");
    robot.host().settle();
    return *id;
}

/// In a child of the test, where the test's own checks have nobody to tell.
void expect(bool holds, const std::string& found) {
    if (!holds)
        throw std::runtime_error("found instead: " + found);
}

const StepRow* live_step(Robot& robot) {
    for (const StepRow& row : robot.program().shown().steps.rows)
        if (row.look == StepLook::live)
            return &row;
    return nullptr;
}

/// Does whatever the live step asks for: a tick, a word that does not stop, a reading in its
/// window.
void do_live_step(Robot& robot) {
    const StepRow* found = live_step(robot);
    if (found == nullptr)
        throw std::runtime_error("no live step");
    const StepRow row = *found;
    switch (row.kind) {
    case StepKind::tick:
        robot.tap("steps/done/" + row.key);
        break;
    case StepKind::photo:
        robot.tap("steps/done/" + row.key);
        break;
    case StepKind::choice:
        for (const StepChoice& choice : row.choices)
            if (!choice.stops) {
                robot.tap("steps/answer/" + row.key + "/" + choice.word);
                break;
            }
        break;
    case StepKind::reading: {
        robot.tap("steps/read/" + row.key);
        const Field& field = robot.program().state().keypad->field;
        // The middle of the window, typed in millis.
        double middle = 0;
        for (const ListRecord& list : robot.program().job()->lists)
            for (const StepRecord& step : list.steps)
                if (step.step.text == field.label)
                    middle = (step.step.low + step.step.high) / 2;
        robot.key_in(middle == 0 ? "5m" : std::to_string(static_cast<int>(middle * 1000)) + "m");
        robot.tap("keypad/set");
        break;
    }
    }
}

std::filesystem::path write_photo(const std::filesystem::path& folder) {
    Picture picture;
    picture.width = 64;
    picture.height = 48;
    for (int i = 0; i < 64 * 48; ++i)
        for (const int byte : {i % 251, i % 83, i % 17, 255})
            picture.rgba.push_back(static_cast<std::uint8_t>(byte));
    const auto png = encode_png(picture);
    REQUIRE(png.ok());
    const auto path = folder / "bench photo.png";
    std::ofstream(path, std::ios::binary)
        .write(reinterpret_cast<const char*>(png->data()),
               static_cast<std::streamsize>(png->size()));
    return path;
}

/// Runs `work` in a child that is killed without warning as soon as it writes its last byte, or
/// after `after` bytes. Returns what it wrote.
template <class Work>
std::string run_and_kill(Work work, std::size_t after, std::chrono::microseconds wait = {}) {
    int ends[2] = {};
    REQUIRE(::pipe(ends) == 0);
    const pid_t child = ::fork();
    REQUIRE(child >= 0);
    if (child == 0) {
        ::close(ends[0]);
        try {
            work([&](char c) { return ::write(ends[1], &c, 1) == 1; });
        } catch (const std::exception& wrong) {
            const std::string words = std::string("!") + wrong.what();
            [[maybe_unused]] const auto ignored = ::write(ends[1], words.data(), words.size());
        } catch (...) {
            [[maybe_unused]] const auto ignored = ::write(ends[1], "!test", 5);
        }
        // Not a return: nothing is tidied up. The pipe's end tells the parent not to wait for more.
        ::close(ends[1]);
        while (true)
            ::pause();
    }
    ::close(ends[1]);
    std::string written;
    char c = 0;
    while (written.size() < after && ::read(ends[0], &c, 1) == 1) {
        written += c;
        if (c == '!')
            after = written.size() + 400;
    }
    if (wait.count() > 0)
        std::this_thread::sleep_for(wait);
    ::kill(child, SIGKILL);
    int status = 0;
    ::waitpid(child, &status, 0);
    while (::read(ends[0], &c, 1) == 1)
        written += c;
    ::close(ends[0]);
    REQUIRE(WIFSIGNALED(status));
    return written;
}

} // namespace

TEST_CASE("robot: a reading is keyed, kept, a photo taken in, two steps ticked, the plug pulled, "
          "and all is there",
          "[robot]") {
    const TempFolder folder;
    const auto photo = write_photo(folder.path());
    const auto bench = folder / "bench";

    const std::string told = run_and_kill(
        [&](auto tell) {
            Robot robot(bench, small_screen());
            demo(robot);
            robot.tap("rail/workings");
            robot.tap("workings/field/reading");
            robot.key_in("12.0m");
            // The value is spoken back while it is typed.
            expect(robot.value("keypad/spoken") == "12.0 millivolt = 0.0120\u2009V",
                   robot.value("keypad/spoken"));
            robot.tap("keypad/set");
            // 12 mV across 0.22 ohm: 54.5 mA (physics: I = V/R).
            expect(robot.value("workings/headline") == "54.5\u2009mA",
                   robot.value("workings/headline"));
            expect(robot.value("workings/verdict") == "in window", robot.value("workings/verdict"));
            robot.tap("workings/keep");
            robot.host().drop_file(photo.string());
            robot.host().settle();
            robot.tap("rail/steps");
            do_live_step(robot);
            do_live_step(robot);
            tell('k');
        },
        1);
    INFO(told);
    REQUIRE(told == "k");

    Robot robot(bench, small_screen());
    // The shelf shows the job; a touch opens it.
    REQUIRE(robot.program().shown().shelf.cards.size() == 1);
    robot.tap("shelf/job/" + robot.program().shown().shelf.cards.front().job);
    const Job* job = robot.program().job();
    REQUIRE(job != nullptr);
    CHECK(job->readings.back().text == "12.0m");
    CHECK(near(job->readings.back().amount.value, 0.012, 1e-12));
    CHECK(job->kept.size() == 6);
    CHECK(job->kept.back().channel == Channel::left);
    CHECK(near(job->kept.back().record["results"]["idle_current"]["value"].get<double>(),
               0.012 / 0.22, 1e-9));
    CHECK(job->photos.size() == 9);
    const auto bytes = robot.bench().photo_bytes(job->photos.back().hash);
    REQUIRE(bytes.ok());
    std::ifstream original(photo, std::ios::binary);
    const std::string as_given((std::istreambuf_iterator<char>(original)),
                               std::istreambuf_iterator<char>());
    const bool same =
        as_given == std::string(reinterpret_cast<const char*>(bytes->data()), bytes->size());
    CHECK(same);
    robot.tap("rail/steps");
    CHECK(robot.program().shown().steps.progress == "6 of 11");
    // And on the screen of the working.
    robot.tap("rail/workings");
    CHECK(robot.value("workings/headline") == "54.5\u2009mA");
    CHECK(robot.need("workings/keep").standing == Answering::dead);
}

TEST_CASE("robot: killed at any moment between touches, nothing that was shown as set is lost",
          "[robot]") {
    std::mt19937 chance(20240611);
    for (int round = 0; round < 4; ++round) {
        const TempFolder folder;
        const auto bench = folder / "bench";
        const std::size_t after = 1 + chance() % 5;
        const std::string told = run_and_kill(
            [&](auto tell) {
                Robot robot(bench, small_screen());
                demo(robot);
                robot.tap("rail/workings");
                for (int i = 0; i < 9; ++i) {
                    robot.tap("workings/field/reading");
                    robot.key_in(std::to_string(10 + i) + "m");
                    robot.tap("keypad/set");
                    if (robot.find("keypad/set") == nullptr)
                        tell(static_cast<char>('0' + i));
                }
            },
            after, std::chrono::microseconds(chance() % 60000));
        INFO(told);
        REQUIRE(!told.empty());
        REQUIRE(told.find('!') == std::string::npos);
        Robot robot(bench, small_screen());
        const auto jobs = robot.bench().jobs();
        REQUIRE(jobs.ok());
        const auto job = robot.bench().job(jobs->front().job);
        REQUIRE(job.ok());
        for (const char c : told) {
            const std::string text = std::to_string(10 + (c - '0')) + "m";
            const bool there = std::any_of(job->readings.begin(), job->readings.end(),
                                           [&](const ReadingRecord& r) { return r.text == text; });
            CHECK(there);
        }
    }
}

TEST_CASE("robot: what is out of range or far from the other channel is not set by a tap",
          "[robot]") {
    const TempFolder folder;
    Robot robot(folder / "bench", small_screen());
    demo(robot);
    const auto readings = [&] { return robot.program().job()->readings.size(); };
    robot.tap("rail/workings");
    const auto before = readings();
    robot.tap("workings/field/reading");
    robot.key_in("960");
    // 960 V is impossible here: the message names the field, the value and the range.
    CHECK(robot.value("keypad/message").find("960") != std::string::npos);
    CHECK(robot.value("keypad/message").find("5") != std::string::npos);
    CHECK(robot.need("keypad/set").standing == Answering::dead);
    robot.tap("keypad/set");
    CHECK(readings() == before);
    // 96 mV is 8.4 times the right channel's 11.4 mV: a tap does not set it, holding does.
    robot.tap("keypad/clear");
    robot.key_in("96m");
    CHECK(robot.value("keypad/message").find("8.4") != std::string::npos);
    robot.tap("keypad/set");
    CHECK(readings() == before);
    robot.hold("keypad/set");
    CHECK(readings() == before + 1);
    CHECK(robot.find("keypad/set") == nullptr);
}

TEST_CASE("robot: an answer that means stop bars the steps after it", "[robot]") {
    const TempFolder folder;
    Robot robot(folder / "bench", small_screen());
    demo(robot);
    robot.tap("rail/steps");
    const StepRow* live = live_step(robot);
    REQUIRE(live != nullptr);
    REQUIRE(live->kind == StepKind::choice);
    const std::string key = live->key;
    robot.tap("steps/answer/" + key + "/bright");
    CHECK(robot.program().shown().steps.progress == "4 of 11");
    bool after = false;
    int barred = 0;
    for (const StepRow& row : robot.program().shown().steps.rows) {
        if (after)
            barred += row.look == StepLook::barred ? 1 : 0;
        after = after || row.key == key;
    }
    CHECK(barred == 6);
}

TEST_CASE("robot: an entry is struck from the history, stays visible, and is brought back",
          "[robot]") {
    const TempFolder folder;
    Robot robot(folder / "bench", screen_of(reference_screens().front()));
    demo(robot);
    robot.tap("rail/sheet");
    const std::size_t kept = robot.program().shown().kept.size();
    std::string entry;
    robot.tap("sheet/part/history");
    for (const Entry& one : robot.program().job()->entries)
        if (one.kind == EntryKind::working && one.body["working"] == "idle")
            entry = one.id;
    REQUIRE(!entry.empty());
    robot.tap("sheet/history/" + entry);
    robot.tap("sheet/history/strike/" + entry);
    CHECK(robot.program().shown().kept.size() == kept - 1);
    CHECK(robot.value("sheet/history/" + entry) == "struck");
    robot.tap("sheet/history/" + entry);
    robot.tap("sheet/history/strike/" + entry);
    CHECK(robot.program().shown().kept.size() == kept);
}

TEST_CASE("robot: a new job is written with our own letters", "[robot]") {
    const TempFolder folder;
    for (const ReferenceScreen& screen : reference_screens()) {
        INFO(screen.name);
        Robot robot(folder / std::string(screen.name), screen_of(screen));
        robot.tap("shelf/new");
        for (const char c : std::string("ov"))
            robot.tap(std::string("text/") + c);
        robot.tap("text/set");
        REQUIRE(robot.program().job() != nullptr);
        CHECK(robot.program().job()->sheet.model == "Ov");
        for (const char c : std::string("hum"))
            robot.tap(std::string("text/") + c);
        robot.tap("text/set");
        CHECK(robot.program().job()->sheet.complaint == "Hum");
    }
}

TEST_CASE("robot: a file that is no picture is refused with the reason and changes nothing",
          "[robot]") {
    const TempFolder folder;
    Robot robot(folder / "bench", small_screen());
    demo(robot);
    const auto photos = robot.program().job()->photos.size();
    const auto path = folder / "list.jpg";
    std::ofstream(path) << "these are words";
    robot.host().drop_file(path.string());
    robot.host().settle();
    CHECK(robot.program().job()->photos.size() == photos);
    CHECK(robot.program().state().message_tone == AppState::MessageTone::refused);
    CHECK(robot.program().state().message.find("list.jpg") != std::string::npos);
}

TEST_CASE("robot: a photo is taken in from a file by touch", "[robot]") {
    const TempFolder folder;
    write_photo(folder.path());
    // The robot's file list begins in the bench's folder; the photo lies one above.
    Robot robot(folder / "bench", small_screen());
    demo(robot);
    const auto photos = robot.program().job()->photos.size();
    robot.tap("rail/photos");
    robot.tap("photos/stage/taken_off");
    robot.tap("photos/import");
    robot.tap("files/up");
    robot.tap("files/bench photo.png");
    const Job& job = *robot.program().job();
    REQUIRE(job.photos.size() == photos + 1);
    CHECK(job.photos.back().stage == PhotoStage::taken_off);
    CHECK(job.photos.back().width == 64);
    CHECK(robot.program().state().message_tone == AppState::MessageTone::kept);
}

TEST_CASE("robot: a hardware keyboard keys, sets and leaves as fingers do", "[robot]") {
    const TempFolder folder;
    Robot robot(folder / "bench", small_screen());
    demo(robot);
    robot.tap("rail/workings");
    robot.tap("workings/field/reading");
    robot.host().text("12.0 mV");
    robot.host().settle();
    CHECK(robot.value("keypad/typed") == "12.0 mV");
    robot.host().key(Key::enter);
    robot.host().settle();
    CHECK(robot.find("keypad/set") == nullptr);
    CHECK(robot.value("workings/headline") == "54.5\u2009mA");
    // Tab walks the controls, Enter touches the one it is on.
    const auto focus_on = [&](std::string_view name) {
        for (int i = 0; i < 60 && !robot.program().ui().has_focus(name); ++i) {
            robot.host().key(Key::tab);
            robot.host().settle();
        }
        return robot.program().ui().has_focus(name);
    };
    REQUIRE(focus_on("workings/keep"));
    const auto kept = robot.program().job()->kept.size();
    robot.host().key(Key::enter);
    robot.host().settle();
    CHECK(robot.program().job()->kept.size() == kept + 1);
    // What is unusual asks once more.
    robot.tap("workings/field/reading");
    robot.host().text("96m");
    robot.host().key(Key::enter);
    robot.host().settle();
    CHECK(robot.find("keypad/set") != nullptr);
    robot.host().key(Key::enter);
    robot.host().settle();
    CHECK(robot.find("keypad/set") == nullptr);
    CHECK(robot.program().job()->readings.back().text == "96m");
}
