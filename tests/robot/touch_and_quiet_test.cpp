// Scrolling, second fingers and quiet, through the whole program.

#include "robot/robot.h"
#include "support/catch.h"
#include "support/temp_folder.h"

#include "app/command/screens.h"

using namespace railside;

namespace {

const ScrollArea* area_of(Robot& robot, std::string_view name) {
    for (const ScrollArea& area : robot.program().ui().scroll_areas())
        if (area.name == name)
            return &area;
    return nullptr;
}

void open_demo(Robot& robot) {
    const auto id = load_painted_demo_job(robot.bench());
    REQUIRE(id.ok());
    REQUIRE(robot.program().open_job(*id).ok());
    robot.host().settle();
}

} // namespace

TEST_CASE("robot: a drag that begins on a field scrolls by the finger's way and opens nothing",
          "[robot][touch]") {
    const TempFolder folder;
    Robot robot(folder / "bench", screen_of(reference_screens().front()));
    open_demo(robot);
    robot.tap("rail/workings");
    const Control field = robot.need("workings/field/reading");
    const float px_per_mm = robot.host().screen().px_per_mm;
    const ScrollArea* area = area_of(robot, "workings/form");
    REQUIRE(area != nullptr);
    REQUIRE(area->most() > 20 * px_per_mm);
    const float way = 18 * px_per_mm;
    robot.drag(field.visible.mid_x(), field.visible.mid_y(), field.visible.mid_x(),
               field.visible.mid_y() - way);
    CHECK(!robot.program().state().keypad.has_value());
    area = area_of(robot, "workings/form");
    REQUIRE(area != nullptr);
    CHECK(near_abs(area->offset, way, 1.5));
}

TEST_CASE("robot: a second finger never touches what lies under it or under the first",
          "[robot][touch]") {
    const TempFolder folder;
    Robot robot(folder / "bench", screen_of(reference_screens().front()));
    open_demo(robot);
    robot.tap("rail/workings");
    const Control keep = robot.need("workings/keep");
    const Control others = robot.need("workings/others");
    const auto kept = robot.program().job()->kept.size();
    robot.host().touch(TouchPhase::begin, 1, keep.rect.mid_x(), keep.rect.mid_y());
    robot.host().pass_time(0.05);
    robot.host().touch(TouchPhase::begin, 2, others.rect.mid_x(), others.rect.mid_y());
    robot.host().pass_time(0.05);
    robot.host().touch(TouchPhase::end, 2, others.rect.mid_x(), others.rect.mid_y());
    robot.host().pass_time(0.05);
    robot.host().touch(TouchPhase::end, 1, keep.rect.mid_x(), keep.rect.mid_y());
    robot.host().settle();
    CHECK(robot.program().job()->kept.size() == kept);
    CHECK(!robot.program().state().choosing_working);
}

TEST_CASE("robot: nothing is drawn while nothing changes", "[robot][quiet]") {
    const TempFolder folder;
    Robot robot(folder / "bench", screen_of(reference_screens().front()));
    open_demo(robot);
    for (const std::string_view room : {"sheet", "workings", "photos", "steps"}) {
        INFO(room);
        robot.tap("rail/" + std::string(room));
        CHECK(robot.host().pass_time(10) == 0);
    }
    robot.tap("rail/workings");
    robot.tap("workings/field/reading");
    CHECK(robot.host().pass_time(10) == 0);
}

TEST_CASE("robot: a photo is zoomed with two fingers and moved with one", "[robot][touch]") {
    const TempFolder folder;
    Robot robot(folder / "bench", screen_of(reference_screens().front()));
    open_demo(robot);
    robot.tap("rail/photos");
    robot.tap("photos/thumb/" + robot.program().job()->photos.front().source.entry);
    const Rect picture = robot.need("photos/picture").rect;
    const float x = picture.mid_x();
    const float y = picture.mid_y();
    const float d = picture.height() / 8;
    robot.host().touch(TouchPhase::begin, 1, x - d, y);
    robot.host().touch(TouchPhase::begin, 2, x + d, y);
    for (int i = 1; i <= 10; ++i) {
        robot.host().pass_time(0.016);
        const float wide = d * (1 + 0.1f * static_cast<float>(i));
        robot.host().touch(TouchPhase::move, 1, x - wide, y);
        robot.host().touch(TouchPhase::move, 2, x + wide, y);
    }
    robot.host().touch(TouchPhase::end, 1, x - 2 * d, y);
    robot.host().touch(TouchPhase::end, 2, x + 2 * d, y);
    robot.host().settle();
    // The fingers went twice as far apart.
    CHECK(near(robot.program().state().photo_look.zoom, 2.0, 0.03));
    const float before = robot.program().state().photo_look.pan_x;
    robot.drag(x, y, x + picture.width() / 5, y);
    CHECK(near_abs(robot.program().state().photo_look.pan_x - before, 0.2, 0.02));
}
