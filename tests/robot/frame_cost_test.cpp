// What a frame costs where nothing changes: no memory asked for, in any room, beside what ImGui
// itself asks for.

#include "robot/robot.h"
#include "support/allocations.h"
#include "support/catch.h"
#include "support/temp_folder.h"

#include "app/command/screens.h"

#include <fmt/format.h>

using namespace railside;

TEST_CASE("frame: nothing is allocated in a steady frame of any room", "[robot][frame]") {
    if (test::allocations() == 0)
        return; // under a sanitizer, which counts for itself
    const TempFolder folder;
    Robot robot(folder / "bench", {1280, 800, 5.9f});
    const auto id = load_painted_demo_job(robot.bench());
    REQUIRE(id.ok());
    REQUIRE(robot.program().open_job(*id).ok());
    robot.host().settle();
    const auto steady = [&](std::string_view view) {
        // The wheel where nothing scrolls: frames, and nothing else.
        robot.host().wheel(-5, -5, 1);
        robot.host().settle();
        robot.host().wheel(-5, -5, 1);
        const auto before = test::allocations();
        const int frames = robot.host().settle();
        const auto made = test::allocations() - before;
        INFO(view << ": " << made << " in " << frames << " frames");
        CHECK(frames >= 2);
        CHECK(made == 0);
    };
    for (const std::string_view room : {"sheet", "workings", "photos", "steps", "suspects"}) {
        robot.tap("rail/" + std::string(room));
        steady(room);
    }
    for (const Working& working : catalogue()) {
        robot.tap("rail/workings");
        robot.tap("workings/others");
        steady("offers");
        robot.tap("workings/offer/" + std::string(working.key));
        steady(working.key);
    }
    robot.tap("rail/workings");
    robot.tap("workings/others");
    robot.tap("workings/offer/idle");
    robot.tap("workings/plot");
    steady("plot read");
    robot.tap("workings/field/reading");
    steady("keypad");
    robot.tap("keypad/leave");
    for (const std::string_view beside : {"photos", "steps", "kept"}) {
        robot.tap("beside/" + std::string(beside));
        steady(beside);
    }
    robot.tap("rail/sheet");
    for (const std::string_view part : {"positions", "money", "history"}) {
        robot.tap("sheet/part/" + std::string(part));
        steady(part);
    }
    robot.tap("header/job");
    steady("shelf");
    robot.tap("shelf/bench");
    steady("bench");
}
