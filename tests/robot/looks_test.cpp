// Size, text, the border between the panes and the keyboard, through the whole program.

#include "robot/robot.h"
#include "support/catch.h"
#include "support/temp_folder.h"

#include "app/command/screens.h"
#include "app/rooms/help_model.h"

#include <string>
#include <vector>

using namespace railside;

namespace {

constexpr Screen k_wide{1280, 800, 5.9f};

std::string open_demo(Robot& robot) {
    const auto id = load_painted_demo_job(robot.bench());
    REQUIRE(id.ok());
    REQUIRE(robot.program().open_job(*id).ok());
    robot.host().settle();
    return *id;
}

} // namespace

TEST_CASE("looks: the ruler sizes everything, the text alone grows, and both are remembered",
          "[robot][looks]") {
    const TempFolder folder;
    {
        Robot robot(folder / "bench", k_wide);
        robot.tap("shelf/bench");
        robot.tap("bench/part/screen");
        const Rect ruler = robot.need("bench/screen/ruler").visible;
        // The line of 50 mm is dragged 5 mm longer: a tenth more of everything.
        robot.drag(ruler.x0 + 200, ruler.mid_y(), ruler.x0 + 200 + 5 * 5.9f, ruler.mid_y());
        CHECK(near(robot.program().settings().size, 1.1, 0.02));
        CHECK(near(robot.program().ui().theme().px_per_mm(), 5.9 * robot.program().settings().size,
                   1e-4));
        const float before = robot.program().ui().theme().font(Face::body)->FontSize;
        robot.tap("bench/screen/text/130");
        const float after = robot.program().ui().theme().font(Face::body)->FontSize;
        CHECK(near(after / before, 1.3, 0.03));
        robot.tap("bench/screen/size/usual");
        CHECK(robot.program().settings().size == 1);
        robot.tap("bench/screen/size/smaller");
    }
    Robot again(folder / "bench", k_wide);
    CHECK(near(again.program().settings().size, 0.96, 1e-4));
    CHECK(again.program().settings().text_percent == 130);
    CHECK(near(again.program().ui().theme().px_per_mm(), 5.9 * 0.96, 1e-4));
}

TEST_CASE("looks: what stands beside a job and how wide comes back with the job",
          "[robot][looks]") {
    const TempFolder folder;
    std::string job;
    float split = 0;
    {
        Robot robot(folder / "bench", k_wide);
        job = open_demo(robot);
        robot.tap("rail/workings");
        const Rect grip = robot.need("beside/split").visible;
        robot.drag(grip.mid_x(), grip.mid_y(), grip.mid_x() + 60, grip.mid_y());
        split = robot.program().state().split;
        CHECK(split > k_wide_split + 0.03f);
        CHECK(near_abs(robot.need("beside/split").visible.x0 - grip.x0, 60, 3));
        robot.tap("beside/kept");
    }
    Robot again(folder / "bench", k_wide);
    REQUIRE(again.program().open_job(job).ok());
    CHECK(again.program().state().beside == Beside::kept);
    CHECK(near(again.program().state().split, split, 1e-6));
}

TEST_CASE("looks: letters go to the rooms, a digit keys the field in the ring, F1 lists the keys",
          "[robot][looks]") {
    const TempFolder folder;
    Robot robot(folder / "bench", k_wide);
    open_demo(robot);
    const auto type = [&](std::string_view text) {
        robot.host().text(text);
        robot.host().settle();
    };
    type("w");
    CHECK(robot.program().state().room == RoomId::workings);
    const Channel channel = robot.program().state().channel;
    type("c");
    CHECK(robot.program().state().channel != channel);
    type("p");
    CHECK(robot.program().state().room == RoomId::photos);
    type("w");
    for (int i = 0; i < 60 && robot.program().ui().focus() != "workings/field/reading"; ++i) {
        robot.host().key(Key::tab);
        robot.host().settle();
    }
    type("12.0m");
    REQUIRE(robot.program().state().keypad.has_value());
    CHECK(robot.program().state().keypad->text == "12.0m");
    robot.host().key(Key::up);
    robot.host().settle();
    CHECK(robot.program().state().keypad->text == "12.1m");
    robot.host().key(Key::escape);
    robot.host().key(Key::help);
    robot.host().settle();
    CHECK(robot.program().state().help);
    // Every letter stands on the page, and does nothing while the page is up.
    for (const Shortcut& one : shortcuts()) {
        bool told = false;
        for (const PageRow& row : robot.program().shown().help.rows)
            told = told || (row.value == std::string(1, one.letter) && row.label == one.label);
        CHECK(told);
    }
    type("p");
    CHECK(robot.program().state().room == RoomId::workings);
    robot.host().key(Key::escape);
    robot.host().settle();
    CHECK(!robot.program().state().help);
}

TEST_CASE("looks: a first run says what the rooms are for, on one screen", "[robot][looks]") {
    const TempFolder folder;
    for (const Screen& screen : {Screen{800, 480, 7.34f}, k_wide, Screen{1170, 2532, 18.07f}}) {
        Robot robot(folder / std::to_string(screen.width_px), screen);
        for (const std::string_view room : {"sheet", "workings", "photos", "steps"}) {
            INFO(room);
            const Control& line = robot.need("shelf/first/" + std::string(room));
            CHECK(line.visible.height() >= line.rect.height() - 1);
        }
        CHECK(robot.find("shelf/new") != nullptr);
    }
}

TEST_CASE("looks: the keypad of a phone keeps its parts apart however low the browser leaves it",
          "[robot][looks]") {
    const TempFolder folder;
    for (const int height : {844, 760, 700, 664, 620, 560}) {
        INFO(height);
        Robot robot(folder / std::to_string(height), screen_of({"phone", 390, height, 3, 0.166}));
        open_demo(robot);
        robot.tap("rail/workings");
        robot.tap("workings/field/reading");
        float keys = 0;
        for (const std::string_view typed : {"12m", "1m", "99"}) { // as it was, unusual, too much
            INFO(typed);
            robot.tap("keypad/clear");
            robot.key_in(typed);
            std::vector<const Control*> parts;
            for (const Control& control : robot.program().controls().controls())
                if (control.name.starts_with("keypad/") && control.name != "keypad/drag" &&
                    control.name != "keypad/spoken" && control.visible.height() > 0)
                    parts.push_back(&control);
            CHECK(parts.size() > 18);
            // What is refused has no answer: the one there was is another value's.
            CHECK((robot.find("keypad/answer") != nullptr) == (typed != "99"));
            for (const Control* a : parts)
                for (const Control* b : parts) {
                    const bool apart =
                        a->visible.x1 <= b->visible.x0 || b->visible.x1 <= a->visible.x0 ||
                        a->visible.y1 <= b->visible.y0 || b->visible.y1 <= a->visible.y0;
                    INFO(a->name << ", " << b->name);
                    CHECK((a == b || apart));
                }
            // What comes and goes above leaves the keys where they are.
            const Rect key = robot.need("keypad/5").rect;
            CHECK(key.height() >= robot.program().ui().mm(9.9f));
            if (keys == 0)
                keys = key.y0;
            CHECK(key.y0 == keys);
            // A message goes before the quick values.
            if (height >= 700 || (height >= 660 && typed == "12m"))
                CHECK(robot.find("keypad/quick/1") != nullptr);
        }
    }
}

TEST_CASE("looks: a tap right after a swipe that moves nothing is no lost tap", "[robot][looks]") {
    const TempFolder folder;
    Robot robot(folder / "bench", screen_of({"phone", 390, 844, 3, 0.166}));
    open_demo(robot);
    const auto swipe = [&](float x, float from, float to) {
        robot.host().touch(TouchPhase::begin, 1, x, from);
        for (int i = 1; i <= 4; ++i) {
            robot.host().pass_time(0.008);
            robot.host().touch(TouchPhase::move, 1, x, from + (to - from) * float(i) / 4);
        }
        robot.host().touch(TouchPhase::end, 1, x, to);
    };
    const auto tap_now = [&](std::string_view name) {
        const Rect place = robot.need(name).visible;
        robot.host().touch(TouchPhase::begin, 1, place.mid_x(), place.mid_y());
        robot.host().pass_time(0.03);
        robot.host().touch(TouchPhase::end, 1, place.mid_x(), place.mid_y());
        robot.host().settle();
    };
    // Over the keypad, where nothing scrolls.
    robot.tap("rail/workings");
    robot.tap("workings/field/reading");
    robot.tap("keypad/clear");
    const Rect five = robot.need("keypad/5").visible;
    swipe(five.mid_x(), five.mid_y() + 120, five.mid_y());
    tap_now("keypad/7");
    CHECK(robot.value("keypad/typed") == "7");
    robot.tap("keypad/leave");
    // At the foot of a list that scrolls.
    robot.tap("rail/steps");
    const float x = float(robot.host().screen().width_px) / 2;
    const float y = float(robot.host().screen().height_px) / 2;
    for (int i = 0; i < 12; ++i) {
        swipe(x, y + 300, y - 300);
        robot.host().settle();
    }
    swipe(x, y + 300, y - 300);
    robot.host().pass_time(0.05);
    tap_now("rail/sheet");
    CHECK(robot.program().state().room == RoomId::sheet);
}

TEST_CASE("looks: taps that come while one frame is drawn are all heard, in order",
          "[robot][looks]") {
    const TempFolder folder;
    Robot robot(folder / "bench", screen_of({"phone", 390, 844, 3, 0.166}));
    open_demo(robot);
    robot.tap("rail/workings");
    robot.tap("workings/field/reading");
    robot.tap("keypad/clear");
    for (const std::string_view key : {"keypad/8", "keypad/8", "keypad/1", "keypad/7"}) {
        const Rect place = robot.need(key).visible;
        robot.host().touch(TouchPhase::begin, 1, place.mid_x(), place.mid_y());
        robot.host().touch(TouchPhase::end, 1, place.mid_x(), place.mid_y());
    }
    robot.host().settle();
    CHECK(robot.value("keypad/typed") == "8817");
}
