// The numbers are those of the recogniser's contract: slop 1.6 mm (2.5 mm once rested), long press
// 0.5 s, drag slop 0.8 mm, repeats after 0.45 s and then every 0.08 s, momentum with a time
// constant of 0.33 s down to 3.3 mm/s.
#include "app/ui/touch.h"

#include "support/catch.h"

#include <rapidcheck.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <string>
#include <vector>

using namespace railside;

namespace {

constexpr float k_density = 10; // px per mm: distances in the tests are easy to read in millimetres
constexpr auto b = TouchPhase::begin;
constexpr auto m = TouchPhase::move;
constexpr auto e = TouchPhase::end;
constexpr auto c = TouchPhase::cancel;

struct Step {
    double time_s;
    TouchPhase phase;
    std::int64_t finger;
    float x_px, y_px;
};

const char* word(GestureKind kind) {
    switch (kind) {
    case GestureKind::press:
        return "press";
    case GestureKind::release:
        return "release";
    case GestureKind::tap:
        return "tap";
    case GestureKind::hold:
        return "hold";
    case GestureKind::repeat:
        return "repeat";
    case GestureKind::scroll:
        return "scroll";
    case GestureKind::fling:
        return "fling";
    case GestureKind::drag_begin:
        return "drag_begin";
    case GestureKind::drag:
        return "drag";
    case GestureKind::drag_end:
        return "drag_end";
    case GestureKind::pinch:
        return "pinch";
    }
    return "?";
}

std::string words(std::span<const Gesture> gestures) {
    std::string all;
    for (const Gesture& gesture : gestures) {
        all += all.empty() ? "" : " ";
        all += word(gesture.kind);
    }
    return all;
}

TouchReader reader() {
    TouchReader made;
    made.set_density(k_density);
    return made;
}

void play(TouchReader& touch, const std::vector<Step>& steps, Grip grip = Grip::scroll) {
    for (const Step& step : steps) {
        touch.feed({step.phase, step.finger, step.x_px, step.y_px, step.time_s}, grip);
    }
}

int count(std::span<const Gesture> gestures, GestureKind kind) {
    return static_cast<int>(std::count_if(gestures.begin(), gestures.end(),
                                          [&](const Gesture& g) { return g.kind == kind; }));
}

double total_dy(std::span<const Gesture> gestures, GestureKind kind) {
    double sum = 0;
    for (const Gesture& gesture : gestures) {
        sum += gesture.kind == kind ? gesture.dy_px : 0.0F;
    }
    return sum;
}

/// A swipe upwards of 40 mm in 0.1 s, the finger leaving while it moves.
const std::vector<Step> k_swipe = {
    {0, b, 1, 300, 900},    {0.02, m, 1, 300, 820}, {0.04, m, 1, 300, 740}, {0.06, m, 1, 300, 660},
    {0.08, m, 1, 300, 580}, {0.1, m, 1, 300, 500},  {0.1, e, 1, 300, 500}};

} // namespace

TEST_CASE("touch: what a sequence of touches means", "[app][touch]") {
    struct Row {
        std::string name;
        Grip grip;
        std::vector<Step> steps;
        std::string expected;
    };
    const Row row = GENERATE(values<Row>({
        {"a tap of 5 ms", Grip::scroll, {{0, b, 1, 50, 50}, {0.005, e, 1, 50, 50}}, "press tap"},
        {"down and up at one moment",
         Grip::scroll,
         {{0, b, 1, 50, 50}, {0, e, 1, 50, 50}},
         "press tap"},
        {"a slow press", Grip::scroll, {{0, b, 1, 50, 50}, {0.49, e, 1, 50, 50}}, "press tap"},
        {"a tap that rolls 1.5 mm",
         Grip::scroll,
         {{0, b, 1, 50, 50}, {0.05, m, 1, 50, 65}, {0.1, e, 1, 50, 65}},
         "press tap"},
        {"a rested finger that rolls 2.4 mm",
         Grip::scroll,
         {{0, b, 1, 50, 50}, {0.3, m, 1, 50, 74}, {0.4, e, 1, 50, 74}},
         "press tap"},
        {"a held finger",
         Grip::scroll,
         {{0, b, 1, 50, 50}, {0.6, e, 1, 50, 50}},
         "press hold release"},
        {"a held finger that rolls 2.4 mm",
         Grip::scroll,
         {{0, b, 1, 50, 50}, {0.3, m, 1, 74, 50}, {0.6, e, 1, 74, 50}},
         "press hold release"},
        {"movement after the long press does not scroll",
         Grip::scroll,
         {{0, b, 1, 50, 50}, {0.6, m, 1, 50, 400}, {0.7, e, 1, 50, 400}},
         "press hold release"},
        {"a drag scrolls",
         Grip::scroll,
         {{0, b, 1, 50, 50}, {0.1, m, 1, 50, 70}, {0.5, m, 1, 50, 90}, {1, e, 1, 50, 90}},
         "press release scroll scroll"},
        {"a scroll that comes back to its start is no tap",
         Grip::scroll,
         {{0, b, 1, 50, 50}, {0.1, m, 1, 50, 90}, {0.3, m, 1, 50, 50}, {0.6, e, 1, 50, 50}},
         "press release scroll scroll"},
        {"a finger that leaves far away without having been reported on the way",
         Grip::scroll,
         {{0, b, 1, 50, 50}, {1e-3, e, 1, 50, 350}},
         "press release scroll"},
        {"a cancelled press",
         Grip::scroll,
         {{0, b, 1, 50, 50}, {0.1, c, 1, 50, 50}},
         "press release"},
        {"a cancelled scroll has no momentum",
         Grip::scroll,
         {{0, b, 1, 50, 50}, {0.05, m, 1, 50, 250}, {0.06, c, 1, 50, 250}},
         "press release scroll"},
        {"a cancelled long press",
         Grip::scroll,
         {{0, b, 1, 50, 50}, {0.7, c, 1, 50, 50}},
         "press hold release"},
        {"a second finger cancels the first and pinches",
         Grip::scroll,
         {{0, b, 1, 50, 50},
          {0.05, b, 2, 150, 50},
          {0.1, m, 2, 250, 50},
          {0.2, e, 1, 50, 50},
          {0.3, e, 2, 250, 50}},
         "press release pinch"},
        {"two fingers down and up are nothing",
         Grip::scroll,
         {{0, b, 1, 50, 50}, {0.01, b, 2, 150, 50}, {0.05, e, 2, 150, 50}, {0.06, e, 1, 50, 50}},
         "press release"},
        {"after a pinch the finger that stays does nothing",
         Grip::scroll,
         {{0, b, 1, 50, 50},
          {0.01, b, 2, 150, 50},
          {0.05, e, 2, 150, 50},
          {0.06, m, 1, 50, 450},
          {1.5, m, 1, 50, 50},
          {2, e, 1, 50, 50}},
         "press release"},
        {"after a pinch a new second finger does nothing until all are up",
         Grip::scroll,
         {{0, b, 1, 50, 50},
          {0.01, b, 2, 150, 50},
          {0.05, e, 2, 150, 50},
          {0.06, b, 3, 150, 50},
          {0.1, m, 3, 300, 50},
          {0.2, e, 3, 300, 50},
          {0.3, e, 1, 50, 50}},
         "press release"},
        {"once all are up a tap counts again",
         Grip::scroll,
         {{0, b, 1, 50, 50},
          {0.01, b, 2, 150, 50},
          {0.05, e, 2, 150, 50},
          {0.06, e, 1, 50, 50},
          {0.1, b, 1, 50, 50},
          {0.15, e, 1, 50, 50}},
         "press release press tap"},
        {"a third finger does not disturb a pinch",
         Grip::scroll,
         {{0, b, 1, 50, 50},
          {0.01, b, 2, 150, 50},
          {0.02, b, 3, 400, 400},
          {0.03, m, 3, 420, 400},
          {0.04, m, 2, 250, 50},
          {0.05, e, 3, 420, 400},
          {0.06, m, 2, 300, 50}},
         "press release pinch pinch"},
        {"a second finger ends a scroll without momentum",
         Grip::scroll,
         {{0, b, 1, 50, 50},
          {0.05, m, 1, 50, 250},
          {0.06, b, 2, 150, 50},
          {0.1, e, 1, 50, 250},
          {0.1, e, 2, 150, 50}},
         "press release scroll"},
        {"a lost end is not a tap",
         Grip::scroll,
         {{0, b, 1, 50, 50}, {0.2, b, 1, 60, 60}, {0.3, e, 1, 60, 60}},
         "press release press tap"},
        {"unknown fingers are nothing",
         Grip::scroll,
         {{0, m, 7, 50, 50}, {0.1, e, 7, 50, 50}, {0.2, c, 7, 1, 1}},
         ""},
        {"coordinates that are no numbers are nothing",
         Grip::scroll,
         {{0, b, 1, std::numeric_limits<float>::quiet_NaN(), 50}, {0.1, e, 1, 50, 50}},
         ""},
        {"a drag belongs to the control",
         Grip::drag,
         {{0, b, 1, 50, 50}, {0.1, m, 1, 59, 50}, {0.2, m, 1, 69, 50}, {0.3, e, 1, 69, 50}},
         "press drag_begin drag drag drag_end"},
        {"a touch without movement on a drag control is a tap",
         Grip::drag,
         {{0, b, 1, 50, 50}, {0.1, m, 1, 57, 50}, {0.2, e, 1, 57, 50}},
         "press tap"},
        {"a long press on a drag control",
         Grip::drag,
         {{0, b, 1, 50, 50}, {0.6, m, 1, 90, 50}, {0.7, e, 1, 90, 50}},
         "press hold release"},
        {"a drag that is cancelled is not kept",
         Grip::drag,
         {{0, b, 1, 50, 50}, {0.1, m, 1, 69, 50}, {0.3, c, 1, 69, 50}},
         "press drag_begin drag release"},
        {"a second finger cancels a drag and pinches",
         Grip::drag,
         {{0, b, 1, 50, 50}, {0.1, m, 1, 69, 50}, {0.3, b, 2, 200, 50}, {0.4, m, 2, 300, 50}},
         "press drag_begin drag release pinch"},
        {"a repeat key acts at once and gives no tap",
         Grip::repeat,
         {{0, b, 1, 50, 50}, {0.1, e, 1, 50, 50}},
         "press repeat release"},
        {"a repeat key may be rolled on",
         Grip::repeat,
         {{0, b, 1, 50, 50}, {0.1, m, 1, 90, 50}, {0.2, e, 1, 90, 50}},
         "press repeat release"},
        {"a cancelled repeat key",
         Grip::repeat,
         {{0, b, 1, 50, 50}, {0.1, c, 1, 50, 50}},
         "press repeat release"},
        {"sliding off a repeat key stops it",
         Grip::repeat,
         {{0, b, 1, 50, 50}, {0.1, m, 1, 150, 50}, {3, e, 1, 150, 50}},
         "press repeat release"},
        {"the mouse is finger 0",
         Grip::scroll,
         {{0, b, 0, 50, 50}, {0.1, e, 0, 50, 50}},
         "press tap"},
    }));
    INFO(row.name);
    TouchReader touch = reader();
    play(touch, row.steps, row.grip);
    CHECK(words(touch.gestures()) == row.expected);
}

TEST_CASE("touch: a tap is given where the finger went down", "[app][touch]") {
    TouchReader touch = reader();
    play(touch, {{0, b, 1, 50, 60}, {0.1, e, 1, 60, 66}});
    const Gesture tap = touch.gestures().back();
    CHECK(tap.kind == GestureKind::tap);
    CHECK(tap.x_px == 50);
    CHECK(tap.y_px == 60);
}

TEST_CASE("touch: thresholds are millimetres on every screen", "[app][touch]") {
    const float density = GENERATE(1.0F, 5.9F, 24.0F, 100.0F);
    const auto moved = [&](float mm, Grip grip) {
        TouchReader touch;
        touch.set_density(density);
        play(touch, {{0, b, 1, 500, 500}, {0.1, m, 1, 500 + mm * density, 500}}, grip);
        return touch.gestures().size() > 1;
    };
    CHECK_FALSE(moved(1.5F, Grip::scroll));
    CHECK(moved(1.8F, Grip::scroll));
    CHECK_FALSE(moved(0.7F, Grip::drag));
    CHECK(moved(0.9F, Grip::drag));
}

TEST_CASE("touch: a density that makes no sense is brought into range", "[app][touch]") {
    TouchReader touch;
    touch.set_density(0); // acts as 1 px per mm
    play(touch, {{0, b, 1, 50, 50}, {0.1, m, 1, 53, 50}});
    CHECK(words(touch.gestures()) == "press release scroll");
    touch.set_density(std::numeric_limits<float>::quiet_NaN()); // keeps the last
    touch.clear();
    play(touch, {{0.2, m, 1, 55, 50}});
    CHECK(touch.gestures()[0].dx_px == 2);
}

TEST_CASE("touch: the long press is asked for in time and comes once", "[app][touch]") {
    TouchReader touch = reader();
    CHECK(std::isinf(touch.wake_in(0)));
    CHECK_FALSE(touch.held());
    play(touch, {{10, b, 1, 50, 50}});
    CHECK(touch.held());
    CHECK(near(touch.wake_in(10), 0.5, 1e-6));
    CHECK(near(touch.wake_in(10.4), 0.1, 1e-6));
    CHECK(touch.wake_in(11) == 0);
    touch.tick(10.499);
    CHECK(words(touch.gestures()) == "press");
    touch.tick(10.5);
    touch.tick(10.6);
    CHECK(words(touch.gestures()) == "press hold");
    CHECK(std::isinf(touch.wake_in(10.6)));
    play(touch, {{11, e, 1, 50, 50}});
    CHECK(words(touch.gestures()) == "press hold release");
    CHECK_FALSE(touch.held());
}

TEST_CASE("touch: a held repeat key repeats after 0.45 s and then every 0.08 s", "[app][touch]") {
    TouchReader touch = reader();
    play(touch, {{0, b, 1, 50, 50}}, Grip::repeat);
    std::vector<double> at;
    for (int frame = 0; frame <= 1000; frame++) {
        touch.clear();
        touch.tick(frame * 0.001);
        if (count(touch.gestures(), GestureKind::repeat) > 0) {
            at.push_back(frame * 0.001);
        }
    }
    REQUIRE(at.size() == 7); // 0.45, 0.53, ... 0.93
    for (std::size_t i = 0; i < at.size(); i++) {
        CHECK(
            near_abs(at[i], 0.45 + 0.08 * static_cast<double>(i), 0.0011)); // one step late at most
    }
    CHECK(near_abs(touch.wake_in(1.0), 0.01, 1e-9));
}

TEST_CASE("touch: a frame that took long does not make a burst of repeats", "[app][touch]") {
    TouchReader touch = reader();
    play(touch, {{0, b, 1, 50, 50}}, Grip::repeat);
    touch.clear();
    touch.tick(5);
    CHECK(words(touch.gestures()) == "repeat");
    CHECK(near(touch.wake_in(5), 0.08, 1e-6));
}

TEST_CASE("touch: momentum goes as far as v0·τ·(1−e^(−t/τ)) says, at any frame rate",
          "[app][touch]") {
    // 400 px in 0.1 s: v0 = 4000 px/s up; it ends at 33 px/s, so the way is (4000 − 33)·0.33 =
    // 1309.1 px.
    const double frame_s = GENERATE(1.0 / 240, 1.0 / 60, 1.0 / 7, 10.0);
    TouchReader touch = reader();
    play(touch, k_swipe);
    CHECK(near(total_dy(touch.gestures(), GestureKind::scroll), -400, 1e-6));
    touch.clear();
    double now_s = 0.1;
    while (touch.wake_in(now_s) == 0 && now_s < 60) {
        now_s += frame_s;
        touch.tick(now_s);
    }
    CHECK(std::isinf(touch.wake_in(now_s)));
    CHECK(near_abs(total_dy(touch.gestures(), GestureKind::fling), -1309.1, 0.5));
    // ln(4000/33)·0.33 s = 1.583 s
    CHECK(now_s <= 0.1 + 1.583 + frame_s + 1e-6);
    CHECK(now_s >= 0.1 + 1.583 - 1e-3);
    CHECK(touch.gestures()[0].x_px == 300);
    CHECK(touch.gestures()[0].y_px == 900);
}

TEST_CASE("touch: a finger that rests before it leaves gives no momentum", "[app][touch]") {
    TouchReader touch = reader();
    play(touch, {{0, b, 1, 300, 900}, {0.05, m, 1, 300, 600}, {0.3, e, 1, 300, 600}});
    CHECK(std::isinf(touch.wake_in(0.3)));
}

TEST_CASE("touch: a touch stops momentum at once and does not tap", "[app][touch]") {
    const Grip grip = GENERATE(Grip::scroll, Grip::drag, Grip::repeat);
    TouchReader touch = reader();
    play(touch, k_swipe);
    touch.tick(0.2);
    REQUIRE(touch.wake_in(0.2) == 0);
    touch.clear();
    play(touch, {{0.2, b, 1, 300, 500}}, grip);
    CHECK(std::isinf(touch.wake_in(0.2)));
    touch.tick(0.3);
    CHECK(touch.gestures().empty());

    SECTION("lifted again, nothing") {
        play(touch, {{0.3, e, 1, 300, 500}}, grip);
        CHECK(touch.gestures().empty());
        SECTION("and the next touch taps") {
            play(touch, {{0.5, b, 1, 300, 500}, {0.55, e, 1, 300, 500}});
            CHECK(words(touch.gestures()) == "press tap");
        }
    }
    SECTION("held long, nothing") {
        play(touch, {{2, e, 1, 300, 500}}, grip);
        CHECK(touch.gestures().empty());
    }
    SECTION("moved, it moves things on") {
        play(touch, {{0.3, m, 1, 300, 400}}, grip);
        CHECK(words(touch.gestures()) == (grip == Grip::drag ? "drag_begin drag" : "scroll"));
    }
}

TEST_CASE("touch: where nothing scrolls a swipe has no momentum, and the next touch taps",
          "[app][touch]") {
    TouchReader touch = reader();
    play(touch, k_swipe, Grip::still);
    CHECK(touch.gestures().back().kind == GestureKind::scroll);
    CHECK(std::isinf(touch.wake_in(0.1)));
    touch.clear();
    play(touch, {{0.11, b, 1, 300, 500}, {0.15, e, 1, 300, 500}});
    CHECK(words(touch.gestures()) == "press tap");
}

TEST_CASE("touch: momentum that is stopped is over, and the next touch taps", "[app][touch]") {
    TouchReader touch = reader();
    play(touch, k_swipe);
    REQUIRE(touch.wake_in(0.1) == 0);
    touch.stop();
    CHECK(std::isinf(touch.wake_in(0.1)));
    touch.clear();
    play(touch, {{0.11, b, 1, 300, 500}, {0.15, e, 1, 300, 500}});
    CHECK(words(touch.gestures()) == "press tap");
}

TEST_CASE("touch: a touch after momentum ran out taps, however seldom frames come",
          "[app][touch]") {
    TouchReader touch = reader();
    play(touch, k_swipe);
    touch.clear();
    play(touch, {{5, b, 1, 300, 500}, {5.05, e, 1, 300, 500}});
    CHECK(words(touch.gestures()) == "fling press tap");
}

TEST_CASE("touch: pinch gives the middle's movement and the change of scale", "[app][touch]") {
    TouchReader touch = reader();
    play(touch, {{0, b, 1, 100, 100}, {0.1, b, 2, 200, 100}});
    touch.clear();
    play(touch,
         {{0.2, m, 2, 300, 100}, {0.2, m, 1, 0, 100}, {0.3, m, 1, 0, 140}, {0.3, m, 2, 300, 140}});
    double scale = 1;
    double dx = 0;
    double dy = 0;
    for (const Gesture& gesture : touch.gestures()) {
        REQUIRE(gesture.kind == GestureKind::pinch);
        scale *= gesture.scale;
        dx += gesture.dx_px;
        dy += gesture.dy_px;
    }
    CHECK(near(scale, 3, 1e-6)); // 100 px apart, then 300
    CHECK(near_abs(dx, 0, 1e-4));
    CHECK(near(dy, 40, 1e-6));
    CHECK(touch.gestures().back().x_px == 150);
    CHECK(touch.gestures().back().y_px == 140);
}

TEST_CASE("touch: fingers on one spot pinch by finite scales", "[app][touch]") {
    TouchReader touch = reader();
    play(
        touch,
        {{0, b, 1, 100, 100}, {0.1, b, 2, 100, 100}, {0.2, m, 2, 140, 100}, {0.3, m, 2, 100, 100}});
    double scale = 1;
    for (const Gesture& gesture : touch.gestures()) {
        REQUIRE(std::isfinite(gesture.scale));
        scale *= gesture.kind == GestureKind::pinch ? gesture.scale : 1.0F;
    }
    CHECK(near(scale, 1, 1e-6));
}

TEST_CASE("touch: drag carries the whole way and where the finger is", "[app][touch]") {
    TouchReader touch = reader();
    play(touch, {{0, b, 1, 50, 50}, {0.1, m, 1, 53, 50}, {0.2, m, 1, 70, 50}, {0.3, e, 1, 71, 55}},
         Grip::drag);
    float dx = 0;
    float dy = 0;
    for (const Gesture& gesture : touch.gestures()) {
        if (gesture.kind == GestureKind::drag) {
            dx += gesture.dx_px;
            dy += gesture.dy_px;
        }
    }
    CHECK(dx == 21);
    CHECK(dy == 5);
    CHECK(touch.gestures().back().kind == GestureKind::drag_end);
    CHECK(touch.gestures().back().x_px == 71);
    CHECK(touch.gestures().back().y_px == 55);
}

TEST_CASE("touch: once warm, reading touches does not allocate", "[app][touch]") {
    TouchReader touch = reader();
    const Gesture* where = nullptr;
    for (int round = 0; round < 20; round++) {
        touch.clear();
        play(touch, k_swipe);
        if (round > 0) {
            CHECK(touch.gestures().data() == where);
        }
        where = touch.gestures().data();
        touch.tick(100);
    }
}

namespace {

struct Played {
    TouchReader touch;
    int begins = 0;
    double now_s = 0;
    bool tapped_with_more =
        false; // a tap while another finger was down or had been since all were up
    std::vector<Gesture> all;
};

/// Any touches at all: fingers 0 to 3, any phase in any order, time mostly forward and now and then
/// back.
Played random_touches() {
    Played played;
    played.touch = reader();
    std::vector<std::int64_t> down;
    bool had_more = false;
    const int steps = *rc::gen::inRange(1, 120);
    for (int i = 0; i < steps; i++) {
        const auto phase = static_cast<TouchPhase>(*rc::gen::inRange(0, 4));
        const std::int64_t finger = *rc::gen::inRange(0, 4);
        const auto x = static_cast<float>(*rc::gen::inRange(0, 300));
        const auto y = static_cast<float>(*rc::gen::inRange(0, 300));
        const auto grip = static_cast<Grip>(*rc::gen::inRange(0, 3));
        played.now_s += *rc::gen::inRange(-3, 200) * 0.001;
        const auto known = std::find(down.begin(), down.end(), finger);
        if (phase == TouchPhase::begin) {
            played.begins++;
            // A finger that begins again has left in between, only its end was lost; if it was the
            // last one down, all were up.
            if (known != down.end()) {
                down.erase(known);
                had_more = had_more && !down.empty();
            }
            down.push_back(finger);
            had_more = had_more || down.size() > 1;
        }
        if (*rc::gen::inRange(0, 3) == 0) {
            played.touch.tick(played.now_s);
        }
        const std::size_t before = played.touch.gestures().size();
        played.touch.feed({phase, finger, x, y, played.now_s}, grip);
        const auto fresh = played.touch.gestures().subspan(before);
        if (had_more && count(fresh, GestureKind::tap) > 0) {
            played.tapped_with_more = true;
        }
        if (phase == TouchPhase::end || phase == TouchPhase::cancel) {
            std::erase(down, finger);
        }
        if (down.empty()) {
            had_more = false;
        }
        RC_ASSERT(played.touch.held() == !down.empty());
    }
    for (std::int64_t finger = 0; finger < 4; finger++) {
        played.touch.feed({TouchPhase::cancel, finger, 0, 0, played.now_s}, Grip::scroll);
    }
    played.all.assign(played.touch.gestures().begin(), played.touch.gestures().end());
    return played;
}

} // namespace

TEST_CASE("touch: no more taps than touches, and never with two fingers down",
          "[app][touch][property]") {
    CHECK(rc::check("taps", [] {
        const Played played = random_touches();
        RC_ASSERT(count(played.all, GestureKind::tap) <= played.begins);
        RC_ASSERT(count(played.all, GestureKind::press) <= played.begins);
        RC_ASSERT(!played.tapped_with_more);
    }));
}

TEST_CASE("touch: every press is closed exactly once", "[app][touch][property]") {
    CHECK(rc::check("presses", [] {
        const Played played = random_touches();
        bool open = false;
        bool held = false;
        for (const Gesture& gesture : played.all) {
            switch (gesture.kind) {
            case GestureKind::press:
                RC_ASSERT(!open);
                open = true;
                held = false;
                break;
            case GestureKind::tap:
                RC_ASSERT(open && !held);
                open = false;
                break;
            case GestureKind::release:
            case GestureKind::drag_end:
                RC_ASSERT(open);
                open = false;
                break;
            case GestureKind::hold:
                RC_ASSERT(open && !held);
                held = true;
                break;
            case GestureKind::repeat:
            case GestureKind::drag:
                RC_ASSERT(open);
                break;
            case GestureKind::drag_begin:
                RC_ASSERT(!held);
                open = true; // after momentum was stopped there was no press
                break;
            case GestureKind::scroll:
            case GestureKind::fling:
            case GestureKind::pinch:
                RC_ASSERT(!open);
                break;
            }
        }
        RC_ASSERT(!open);
    }));
}

TEST_CASE("touch: momentum always ends and then nothing is wanted", "[app][touch][property]") {
    CHECK(rc::check("ends", [] {
        Played played = random_touches();
        // The fastest flick allowed, 2500 mm/s, takes 0.33·ln(2500/3.3) = 2.19 s.
        double now_s = played.now_s;
        int frames = 0;
        while (!std::isinf(played.touch.wake_in(now_s)) && frames < 1000) {
            now_s += 1.0 / 60;
            played.touch.tick(now_s);
            frames++;
        }
        RC_ASSERT(frames <= 133);
    }));
}

TEST_CASE("touch: a scroll follows the finger to the pixel", "[app][touch][property]") {
    CHECK(rc::check("fidelity", [] {
        TouchReader touch = reader();
        double now_s = 0;
        float x = 500;
        float y = 500;
        touch.feed({TouchPhase::begin, 1, x, y, now_s}, Grip::scroll);
        const int steps = *rc::gen::inRange(1, 200);
        for (int i = 0; i < steps; i++) {
            x += static_cast<float>(*rc::gen::inRange(-400, 400)) * 0.1F;
            y += static_cast<float>(*rc::gen::inRange(-400, 400)) * 0.1F;
            now_s += *rc::gen::inRange(0, 20) * 0.001;
            touch.feed({TouchPhase::move, 1, x, y, now_s}, Grip::scroll);
            if (i % 7 == 0) {
                touch.tick(now_s);
            }
        }
        const auto gestures = touch.gestures();
        RC_PRE(count(gestures, GestureKind::scroll) > 0);
        double dx = 0;
        double dy = 0;
        for (const Gesture& gesture : gestures) {
            if (gesture.kind == GestureKind::scroll) {
                dx += gesture.dx_px;
                dy += gesture.dy_px;
                RC_ASSERT(gesture.x_px == 500 && gesture.y_px == 500);
            }
        }
        RC_ASSERT(std::abs(dx - (x - 500)) < 1);
        RC_ASSERT(std::abs(dy - (y - 500)) < 1);
    }));
}
