// The handover by touch: what bars it, closing words, photos left out, what is wanting, its files.

#include "robot/robot.h"
#include "support/catch.h"
#include "support/temp_folder.h"

#include "app/command/screens.h"
#include "core/handover/report.h"

#include <algorithm>
#include <chrono>
#include <condition_variable>
#include <filesystem>
#include <fstream>
#include <functional>
#include <mutex>
#include <sstream>
#include <thread>

using namespace railside;

namespace {

class OpenHandover {
  public:
    explicit OpenHandover(const std::function<void(ProgramSurroundings&)>& changed = {})
        : robot_(folder_ / "bench", screen_of(reference_screens().front()), changed) {
        const auto id = load_painted_demo_job(robot_.bench());
        REQUIRE(id.ok());
        REQUIRE(robot_.program().open_job(*id).ok());
        robot_.host().settle();
        robot_.tap("rail/sheet");
        robot_.tap("sheet/handover");
    }

    Robot& hand() { return robot_; }
    [[nodiscard]] const Job& job() const { return *const_cast<Robot&>(robot_).program().job(); }
    [[nodiscard]] std::filesystem::path folder() const { return folder_.path(); }

    void part(const std::string& name) { robot_.tap("handover/part/" + name); }
    void write(std::string_view words) {
        robot_.host().text(words);
        robot_.host().settle();
        robot_.tap("text/set");
    }
    [[nodiscard]] const WantingRecord& wanting(std::string_view title) const {
        for (const WantingRecord& one : job().wanting)
            if (one.title == title)
                return one;
        throw std::runtime_error("nothing wanting of that title");
    }
    /// The whole of the one file of that ending in the folder.
    [[nodiscard]] std::string file(const std::string& ending) const {
        std::string found;
        for (const auto& one : std::filesystem::directory_iterator(folder_ / "out"))
            if (one.path().extension() == ending) {
                REQUIRE(found.empty());
                std::ifstream in(one.path(), std::ios::binary);
                std::stringstream all;
                all << in.rdbuf();
                found = all.str();
            }
        return found;
    }

  private:
    TempFolder folder_;
    Robot robot_;
};

} // namespace

TEST_CASE("handover: refused while something bars, allowed when each is let pass with a reason",
          "[robot][handover]") {
    OpenHandover room;
    Robot& hand = room.hand();
    const std::string state = room.job().sheet.state;
    const std::vector<Missing> before = missing(room.job());
    REQUIRE(before.size() > 2);
    REQUIRE_FALSE(can_hand_back(before));
    hand.tap("handover/missing/hand_back");
    CHECK(hand.program().state().message_tone == AppState::MessageTone::refused);
    CHECK(room.job().sheet.state == state);
    hand.tap("message");
    // The sheet's own word does not go round it.
    hand.tap("rail/sheet");
    hand.tap("sheet/state");
    hand.tap("picker/handed back");
    CHECK(hand.program().state().message_tone == AppState::MessageTone::refused);
    CHECK(room.job().sheet.state == state);
    hand.tap("message");
    hand.tap("sheet/handover");
    for (const Missing& one : before) {
        // What bars first is open already: it was named.
        if (hand.program().state().missing_item != one.key)
            hand.tap("handover/missing/item/" + one.key);
        hand.tap("handover/missing/pass");
        room.write("agreed by telephone");
    }
    CHECK(room.job().closing.overrides.size() == before.size());
    REQUIRE(can_hand_back(missing(room.job())));
    // One taken back bars again.
    hand.tap("handover/missing/item/" + before.front().key);
    hand.tap("handover/missing/bar");
    CHECK_FALSE(can_hand_back(missing(room.job())));
    hand.tap("handover/missing/hand_back");
    CHECK(room.job().sheet.state == state);
    hand.tap("message");
    hand.tap("handover/missing/pass");
    room.write("agreed by telephone");
    hand.tap("handover/missing/hand_back");
    CHECK(room.job().sheet.state == "handed back");
    CHECK(hand.find("handover/missing/hand_back") == nullptr);
}

TEST_CASE("handover: each thing missing leads to where it is mended", "[robot][handover]") {
    OpenHandover room;
    Robot& hand = room.hand();
    for (const Missing& one : missing(room.job())) {
        INFO(one.key);
        hand.tap("rail/sheet");
        hand.tap("sheet/handover");
        room.part("missing");
        hand.tap("handover/missing/item/" + one.key);
        hand.tap("handover/missing/mend");
        const AppState& state = hand.program().state();
        switch (one.where) {
        case MendIn::sheet:
        case MendIn::money:
        case MendIn::positions:
            CHECK(state.room == RoomId::sheet);
            break;
        case MendIn::photos:
            CHECK(state.room == RoomId::photos);
            break;
        case MendIn::steps:
            CHECK(state.room == RoomId::steps);
            CHECK_FALSE(state.apart);
            break;
        case MendIn::apart:
            CHECK(state.room == RoomId::steps);
            CHECK(state.apart);
            break;
        case MendIn::workings:
            CHECK(state.room == RoomId::workings);
            CHECK(state.working == one.what);
            CHECK(state.channel == one.channel);
            break;
        case MendIn::handover:
            CHECK(state.room == RoomId::handover);
            CHECK(state.handover_part ==
                  (one.what.empty() ? HandoverPart::words : HandoverPart::wanting));
            break;
        }
    }
}

TEST_CASE("handover: closing words, a photo left out and something wanting reach the report",
          "[robot][handover]") {
    OpenHandover room;
    Robot& hand = room.hand();
    room.part("words");
    hand.tap("handover/words/words");
    room.write("Runs cool at both sides.");
    hand.tap("handover/words/cause");
    room.write("Wrong pair fitted");
    hand.tap("handover/words/cure");
    room.write("Pair replaced");
    CHECK(room.job().closing.words == "Runs cool at both sides.");
    CHECK(room.job().closing.cause == "Wrong pair fitted");
    CHECK(room.job().closing.cure == "Pair replaced");

    room.part("photos");
    const std::size_t all = make_report(room.job(), {}, {}).photos.size();
    REQUIRE(all > 1);
    const std::string first = make_report(room.job(), {}, {}).photos.front().photo.source.entry;
    hand.tap("handover/photos/photo/" + first);
    REQUIRE(room.job().closing.photos.has_value());
    CHECK(room.job().closing.photos->size() == all - 1);
    hand.tap("handover/photos/photo/" + first);
    REQUIRE(room.job().closing.photos->size() == all);
    CHECK(room.job().closing.photos->back() == first);

    room.part("wanting");
    hand.tap("handover/wanting/add");
    room.write("New mains lead");
    hand.tap("wanting/rank/safety");
    hand.tap("wanting/why");
    room.write("Its sheath is cut");
    hand.tap("wanting/parts");
    hand.key_in("12");
    hand.tap("keypad/set");
    hand.tap("wanting/minutes");
    hand.key_in("15");
    hand.tap("keypad/set");
    const WantingRecord lead = room.wanting("New mains lead");
    CHECK(lead.rank == WantingRank::safety);
    CHECK(lead.why == "Its sheath is cut");
    CHECK(lead.parts == 12);
    CHECK(lead.minutes == 15);
    const Report report = make_report(room.job(), {}, {});
    const auto line =
        std::find_if(report.wanting.begin(), report.wanting.end(),
                     [](const ReportWanting& one) { return one.record.title == "New mains lead"; });
    REQUIRE(line != report.wanting.end());
    CHECK(line->estimate >= 12);

    hand.tap("wanting/back");
    room.part("preview");
    const auto says = [&](std::string_view words) {
        const auto& rows = hand.program().shown().handover.rows;
        return std::any_of(rows.begin(), rows.end(), [&](const PageRow& row) {
            return (row.label + row.value + row.more).find(words) != std::string::npos;
        });
    };
    CHECK(says("Runs cool at both sides."));
    CHECK(says("New mains lead"));
    CHECK(hand.program().shown().handover.rows.size() > 30);
    room.part("wanting");
    hand.tap("handover/wanting/item/" + lead.source.entry);
    hand.tap("wanting/state/declined");
    CHECK(room.wanting("New mains lead").state == WantingState::declined);
}

TEST_CASE("handover: the report is written as PDF, web page and text", "[robot][handover]") {
    OpenHandover room;
    Robot& hand = room.hand();
    std::filesystem::create_directory(room.folder() / "out");
    hand.program().state().folder = (room.folder() / "out").string();
    room.part("write");
    hand.tap("handover/write/paper/letter");
    CHECK(hand.program().settings().paper == Paper::letter);
    CHECK(load_settings(room.folder() / "bench").paper == Paper::letter);
    hand.tap("handover/write/bench");
    room.write("Bench by the river");
    for (const std::string form : {"pdf", "html", "text"}) {
        hand.tap("handover/write/" + form);
        hand.tap("files/use");
        INFO(hand.program().state().message);
        CHECK(hand.program().state().message_tone == AppState::MessageTone::kept);
    }
    const std::string pdf = room.file(".pdf");
    CHECK(pdf.size() > 20'000);
    CHECK(pdf.starts_with("%PDF"));
    CHECK(pdf.find("/MediaBox") != std::string::npos);
    const std::string html = room.file(".html");
    CHECK(html.size() > 20'000);
    CHECK(html.find("<html") != std::string::npos);
    CHECK(html.find("Bench by the river") != std::string::npos);
    CHECK(room.file(".txt").find("SA-260") != std::string::npos);
    // Once more it does not go over the first.
    hand.tap("handover/write/text");
    hand.tap("files/use");
    CHECK(std::distance(std::filesystem::directory_iterator(room.folder() / "out"), {}) == 4);
}

TEST_CASE("handover: a folder that is gone is told of and the room stays", "[robot][handover]") {
    OpenHandover room;
    Robot& hand = room.hand();
    std::filesystem::create_directory(room.folder() / "gone");
    hand.program().state().folder = (room.folder() / "gone").string();
    room.part("write");
    hand.tap("handover/write/pdf");
    std::filesystem::remove(room.folder() / "gone");
    hand.tap("files/use");
    CHECK(hand.program().state().message_tone == AppState::MessageTone::refused);
    CHECK(hand.find("handover/write/pdf") != nullptr);
}

TEST_CASE("handover: the report written last is opened, or said why not", "[robot][handover]") {
    std::string opened;
    OpenHandover room([&](ProgramSurroundings& around) {
        around.show_file = [&](const std::string& path) -> Result<Done> {
            if (!opened.empty())
                return Error{ErrorCode::not_found, "file", "Nothing opens it here."};
            opened = path;
            return Done{};
        };
    });
    Robot& hand = room.hand();
    std::filesystem::create_directory(room.folder() / "out");
    hand.program().state().folder = (room.folder() / "out").string();
    room.part("write");
    CHECK(hand.find("handover/write/open") == nullptr);
    hand.tap("handover/write/html");
    hand.tap("files/use");
    hand.tap("message");
    hand.tap("handover/write/open");
    CHECK(std::filesystem::path(opened).extension() == ".html");
    CHECK(std::filesystem::exists(opened));
    hand.tap("handover/write/open");
    CHECK(hand.program().state().message_tone == AppState::MessageTone::refused);
    CHECK(hand.program().state().message == "Nothing opens it here.");
}

TEST_CASE("handover: writing tells how far it is, and stopped it leaves no file",
          "[robot][handover]") {
    OpenHandover room([](ProgramSurroundings& around) { around.work_at_once = false; });
    Robot& hand = room.hand();
    std::filesystem::create_directory(room.folder() / "out");
    hand.program().state().folder = (room.folder() / "out").string();
    room.part("write");
    // The thread that writes stands still at the first part it tells of until the finger was there.
    std::mutex mutex;
    std::condition_variable changed;
    bool waits = false;
    bool goes_on = false;
    const auto here = std::this_thread::get_id();
    hand.program().set_waker([&] {
        if (std::this_thread::get_id() == here)
            return;
        std::unique_lock lock(mutex);
        waits = true;
        changed.notify_all();
        changed.wait(lock, [&] { return goes_on; });
    });
    hand.tap("handover/write/pdf");
    hand.tap("files/use");
    {
        std::unique_lock lock(mutex);
        REQUIRE(changed.wait_for(lock, std::chrono::seconds(60), [&] { return waits; }));
    }
    hand.program().refresh();
    hand.host().settle();
    CHECK(hand.find("handover/write/pdf") == nullptr);
    const auto& rows = hand.program().shown().handover.rows;
    REQUIRE(rows.front().kind == RowKind::gauge);
    CHECK(rows.front().value.find(" of ") != std::string::npos);
    hand.tap("handover/write/stop");
    CHECK(hand.find("handover/write/stop") == nullptr);
    {
        const std::lock_guard lock(mutex);
        goes_on = true;
    }
    changed.notify_all();
    for (int i = 0; i < 6000 && hand.program().shown().handover.rows.front().kind == RowKind::gauge;
         ++i) {
        std::this_thread::sleep_for(std::chrono::milliseconds(10));
        hand.program().news();
    }
    hand.host().settle();
    CHECK(hand.find("handover/write/pdf") != nullptr);
    CHECK(hand.program().state().message_tone == AppState::MessageTone::refused);
    CHECK(std::filesystem::is_empty(room.folder() / "out"));
    hand.program().set_waker({});
}
