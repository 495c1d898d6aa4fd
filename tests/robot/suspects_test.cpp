// The hunt by touch: from an empty job to the next test, its answer, a strike, and the demo job's
// cure.

#include "robot/robot.h"

#include "app/command/screens.h"
#include "support/catch.h"
#include "support/temp_folder.h"

#include <algorithm>

using namespace railside;

namespace {

std::size_t count(const Job& job, EntryKind kind) {
    return static_cast<std::size_t>(
        std::count_if(job.entries.begin(), job.entries.end(),
                      [&](const Entry& one) { return one.kind == kind; }));
}

std::string all_words(const Page& page) {
    std::string words;
    for (const PageRow& row : page.rows)
        words +=
            row.label + "|" + row.value + "|" + row.other + "|" + row.more + "|" + row.note + "\n";
    return words;
}

/// A job of which nothing is known but the values of its circuit, in the room, by touch.
void begin_hunt(Robot& robot) {
    robot.tap("shelf/new");
    robot.host().text("SA-260");
    robot.host().settle();
    robot.tap("text/set");
    robot.tap("text/leave"); // the complaint in the client's words: not now

    robot.tap("rail/suspects");
    // Nothing is known: it says what is wanted.
    CHECK(all_words(robot.program().shown().suspects).find("rail") != std::string::npos);
    robot.tap("suspects/next/usual");
    CHECK(robot.program().job()->circuit() == nullptr);

    // What the workings know.
    for (const auto& [field, text] : {std::pair{"rail", "40"},
                                      {"emitter_resistor", "0R22"},
                                      {"target", "11m"},
                                      {"upper", "910R"},
                                      {"lower", "680R"},
                                      {"trim", "1k"},
                                      {"trim_place", "upper"}}) {
        const auto done = robot.bench().append(robot.program().job()->id, EntryKind::job,
                                               {{"known", {{field, text}}}});
        REQUIRE(done.ok());
    }
    REQUIRE(robot.program().open_job(std::string(robot.program().job()->id)).ok());
    robot.host().settle();
    robot.tap("rail/suspects");
    robot.tap("suspects/next/usual");
}

} // namespace

TEST_CASE("suspects: from an empty job to a test answered on the keypad, by touch",
          "[robot][suspects]") {
    const TempFolder folder;
    Robot robot(folder / "bench", screen_of(reference_screens().front()));
    begin_hunt(robot);
    REQUIRE(robot.program().job()->circuit() != nullptr);
    CHECK(all_words(robot.program().shown().suspects).find("No complaint yet") !=
          std::string::npos);

    robot.tap("suspects/next/complaint/hot");
    CHECK(count(*robot.program().job(), EntryKind::finding) == 1);
    // Full mains is not safe yet: the lamp comes first.
    const std::string before = all_words(robot.program().shown().suspects);
    CHECK(before.find("current-limited") != std::string::npos);
    robot.tap("suspects/next/reading");
    REQUIRE(robot.program().state().keypad.has_value());
    const std::string asked = robot.program().state().keypad->target;
    CHECK(asked.rfind("hunt/limited/", 0) == 0);
    robot.key_in("60m");
    robot.tap("keypad/set");
    REQUIRE(robot.program().job()->readings.size() == 1);
    const ReadingRecord& reading = robot.program().job()->readings.front();
    CHECK(reading.field == asked);
    CHECK(reading.amount.value == Approx(0.06));
    CHECK(reading.when.power == Power::lamp);
    CHECK(all_words(robot.program().shown().suspects) != before);

    // Struck, it counts no more; brought back, it does.
    robot.tap("suspects/part/evidence");
    const std::string line = "suspects/evidence/item/2";
    robot.tap(line);
    CHECK(robot.program().job()->readings.front().source.standing == Standing::struck);
    CHECK(robot.value(line) == "struck");
    robot.tap(line);
    CHECK(robot.program().job()->readings.front().source.standing == Standing::valid);

    // What cannot be had is not asked for again.
    robot.tap("suspects/part/next");
    robot.tap("suspects/next/reading");
    const std::string next = robot.program().state().keypad->target;
    robot.tap("keypad/leave");
    robot.tap("suspects/next/not_had");
    if (robot.find("suspects/next/reading") != nullptr) {
        robot.tap("suspects/next/reading");
        CHECK(robot.program().state().keypad->target != next);
        robot.tap("keypad/leave");
    }

    // Why the first of them: for and against, and what would prove it.
    const std::string first = [&] {
        for (const PageRow& row : robot.program().shown().suspects.rows)
            if (row.kind == RowKind::gauge)
                return row.name;
        return std::string();
    }();
    robot.tap("suspects/next/" + first);
    CHECK(all_words(robot.program().shown().suspects).find("hot with nothing playing") !=
          std::string::npos);
}

TEST_CASE("suspects: on the demo job the causes come first and are said to explain it",
          "[robot][suspects]") {
    const TempFolder folder;
    Robot robot(folder / "bench", screen_of(reference_screens().front()));
    const auto demo = load_painted_demo_job(robot.bench());
    REQUIRE(demo.ok());
    REQUIRE(robot.program().open_job(*demo).ok());
    robot.host().settle();
    robot.tap("rail/suspects");
    const auto first = [&] {
        for (const PageRow& row : robot.program().shown().suspects.rows)
            if (row.kind == RowKind::gauge)
                return row.label;
        return std::string();
    };
    CHECK(first() == "VR201, wiper open");
    CHECK(all_words(robot.program().shown().suspects).find("VR201 explains all") !=
          std::string::npos);
    robot.tap("suspects/next/channel/right");
    CHECK(first() == "R329, value gone up");
    CHECK(all_words(robot.program().shown().suspects).find("R329 explains all") !=
          std::string::npos);

    // Read again after the cure: a new time begins, and the old readings are out of it.
    robot.tap("suspects/next/again/loaded/clip_plus");
    robot.key_in("33.5");
    robot.tap("keypad/set");
    CHECK(all_words(robot.program().shown().suspects).find("R329 explains all") ==
          std::string::npos);
    robot.tap("suspects/part/evidence");
    CHECK(all_words(robot.program().shown().suspects).find("From before R329 was replaced.") !=
          std::string::npos);

    robot.tap("suspects/part/channels");
    CHECK(all_words(robot.program().shown().suspects).find("96") != std::string::npos);
}

TEST_CASE("suspects: a screen that stays costs no weighing", "[robot][suspects]") {
    const TempFolder folder;
    Robot robot(folder / "bench", screen_of(reference_screens().front()));
    const auto demo = load_painted_demo_job(robot.bench());
    REQUIRE(demo.ok());
    REQUIRE(robot.program().open_job(*demo).ok());
    robot.host().settle();
    robot.tap("rail/suspects");
    robot.host().settle();
    CHECK(robot.program().wake_in(1e6) > 1);
}

TEST_CASE("suspects: minutes keyed at the bench are what the hunt counts with",
          "[robot][suspects]") {
    const TempFolder folder;
    Robot robot(folder / "bench", screen_of(reference_screens().front()));
    robot.tap("shelf/bench");
    robot.tap("bench/part/lists");
    CHECK(robot.value("bench/lists/minutes/into_limited") == "3 min");
    robot.tap("bench/lists/minutes/into_limited");
    robot.tap("keypad/clear");
    robot.key_in("601");
    robot.tap("keypad/set"); // refused: the keypad stays
    REQUIRE(robot.program().state().keypad.has_value());
    robot.tap("keypad/clear");
    robot.key_in("4");
    robot.tap("keypad/set");
    CHECK(robot.value("bench/lists/minutes/into_limited") == "4 min");
    CHECK(all_words(robot.program().shown().bench).find("it came as 3") != std::string::npos);

    robot.tap("header/shelf");
    begin_hunt(robot);
    robot.tap("suspects/next/complaint/hot");
    // On the lamp first, which takes its 4 minutes and a reading.
    CHECK(all_words(robot.program().shown().suspects).find("4.5 min") != std::string::npos);

    // Another circuit takes the place of the first.
    robot.tap("suspects/part/evidence");
    const std::size_t before = robot.program().job()->circuits.size();
    robot.tap("suspects/evidence/usual");
    CHECK(robot.program().job()->circuits.size() == before + 1);
}
