// Fingers as SDL reports them, through the SDL2 host into the whole program: a window of SDL's
// dummy driver, events pushed into its queue, by the wall clock.

#include "app/command/screens.h"
#include "app/hosts/host.h"
#include "app/rooms/builtin_lists.h"
#include "app/rooms/program.h"
#include "core/store/bench.h"
#include "support/catch.h"
#include "support/demo.h"
#include "support/temp_folder.h"

#define SDL_MAIN_HANDLED
#include <SDL.h>

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <deque>
#include <functional>
#include <memory>

using namespace railside;

namespace {

constexpr float k_px_per_mm = 5.9f;

/// The program with a script: each step waits, then does something from within a frame, as the
/// window's own thread would.
class Scripted : public Program {
  public:
    Scripted(const std::filesystem::path& folder) {
        auto bench = Bench::open(folder, system_surroundings());
        REQUIRE(bench.ok());
        bench_ = std::move(*bench);
        ProgramSurroundings around;
        around.clock = [] { return Clock{system_surroundings().now_ms(), 0}; };
        for (const StepList& list : builtin_lists())
            around.lists.push_back(list);
        around.work_at_once = true;
        inner_ = std::make_unique<RailsideProgram>(*bench_, std::move(around));
        const auto id = load_painted_demo_job(*bench_);
        REQUIRE(id.ok());
        REQUIRE(inner_->open_job(*id).ok());
    }

    RailsideProgram& program() { return *inner_; }

    /// Adds a step that comes `after_s` behind the one before it.
    void then(double after_s, std::function<void()> step) {
        steps_.push_back({after_s, std::move(step)});
    }
    /// `ago_s`: when it happened, as a slow machine would hear of it late.
    void finger(Uint32 type, SDL_FingerID id, float x, float y, double ago_s = 0) {
        SDL_Event event{};
        event.type = type;
        event.tfinger.timestamp = SDL_GetTicks() - static_cast<Uint32>(ago_s * 1000);
        event.tfinger.touchId = 77;
        event.tfinger.fingerId = id;
        event.tfinger.x = x / static_cast<float>(screen_.width_px);
        event.tfinger.y = y / static_cast<float>(screen_.height_px);
        // As a driver does it: SDL_PushEvent would set the time anew.
        SDL_PeepEvents(&event, 1, SDL_ADDEVENT, 0, 0);
    }
    /// A finger goes down on a control, a way in `moves` moves of 16 ms each, and up after
    /// `rest_s`.
    void drag(std::string name, float dx_mm, float dy_mm, int moves, double rest_s) {
        then(0.1, [=, this] {
            const Control on = control(name);
            x_ = on.visible.mid_x();
            y_ = on.visible.mid_y();
            finger(SDL_FINGERDOWN, 1, x_, y_, 0.016 * (moves + 1));
            for (int i = 1; i <= moves; ++i) {
                const float t = k_px_per_mm * static_cast<float>(i) / static_cast<float>(moves);
                finger(SDL_FINGERMOTION, 1, x_ + dx_mm * t, y_ + dy_mm * t,
                       0.016 * (moves - i + 1));
            }
            if (rest_s < 0.02)
                lift(dx_mm, dy_mm);
        });
        if (rest_s >= 0.02)
            then(rest_s, [=, this] { lift(dx_mm, dy_mm); });
    }
    void lift(float dx_mm, float dy_mm) {
        finger(SDL_FINGERUP, 1, x_ + dx_mm * k_px_per_mm, y_ + dy_mm * k_px_per_mm);
    }
    void tap(std::string name) { drag(std::move(name), 0, 0, 0, 0.05); }

    void run() {
        setenv("SDL_VIDEODRIVER", "dummy", 1);
        WindowOptions options;
        options.width_px = 1280;
        options.height_px = 800;
        options.px_per_mm = k_px_per_mm;
        then(0.2, [this] { done_ = true; });
        const Result<Done> ran = run_sdl2(*this, options);
        INFO((ran.ok() ? "" : ran.error().message));
        REQUIRE(ran.ok());
        REQUIRE(steps_.empty());
    }

    [[nodiscard]] float offset(std::string_view name) const {
        for (const ScrollArea& area : inner_->ui().scroll_areas())
            if (area.name == name)
                return area.offset;
        return -1;
    }
    [[nodiscard]] Control control(std::string_view name) const {
        const Control* found = inner_->controls().find(name);
        REQUIRE(found != nullptr);
        return *found;
    }

    // Program
    void set_waker(std::function<void()> wake) override { inner_->set_waker(std::move(wake)); }
    void news() override { inner_->news(); }
    void start(Textures& textures) override { inner_->start(textures); }
    bool resize(const Screen& screen) override {
        screen_ = screen;
        return inner_->resize(screen);
    }
    void textures_lost() override { inner_->textures_lost(); }
    void touch(const Touch& touch) override { inner_->touch(touch); }
    void wheel(float x, float y, float notches) override { inner_->wheel(x, y, notches); }
    void key(Key key) override { inner_->key(key); }
    void text(std::string_view utf8) override { inner_->text(utf8); }
    void drop_file(std::string_view path) override { inner_->drop_file(path); }
    bool renew_fonts() override { return inner_->renew_fonts(); }
    void frame(double now_s) override {
        inner_->frame(now_s);
        ++frames;
        inner_wake_s = inner_->wake_in(now_s);
        if (next_s_ < 0)
            next_s_ = now_s + (steps_.empty() ? 0 : steps_.front().after_s);
        // Longer waits are for what the program still draws, however slow the machine is.
        const bool busy =
            !steps_.empty() && steps_.front().after_s >= 0.05 && inner_->wake_in(now_s) <= 0;
        if (steps_.empty() || now_s < next_s_ || busy)
            return;
        const auto step = std::move(steps_.front().does);
        steps_.pop_front();
        next_s_ = now_s + (steps_.empty() ? 0 : steps_.front().after_s);
        step();
    }
    [[nodiscard]] double wake_in(double now_s) const override {
        // The script needs frames to stand in.
        return std::min(inner_->wake_in(now_s), std::max(0.0, next_s_ - now_s));
    }
    [[nodiscard]] bool done() const override { return done_; }
    [[nodiscard]] bool wants_text() const override { return inner_->wants_text(); }

    int frames = 0;
    double inner_wake_s = 0; // what the program itself wanted last

  private:
    struct Step {
        double after_s = 0;
        std::function<void()> does;
    };
    std::unique_ptr<Bench> bench_;
    std::unique_ptr<RailsideProgram> inner_;
    std::deque<Step> steps_;
    Screen screen_;
    double next_s_ = -1;
    float x_ = 0, y_ = 0; // where the finger went down
    bool done_ = false;
};

} // namespace

TEST_CASE(
    "sdl touch: a drag over fields and buttons scrolls by the finger's way and clicks nothing",
    "[robot][sdl][touch]") {
    const TempFolder folder;
    Scripted script(folder / "bench");
    script.tap("rail/workings");
    float before = 0;
    float after = 0;
    script.then(0.2, [&] { before = script.offset("workings/form"); });
    script.drag("workings/field/reading", 0, -20, 12, 0.3);
    script.then(0.3, [&] { after = script.offset("workings/form"); });
    script.run();
    INFO(before << " to " << after);
    CHECK(before == 0);
    CHECK(near_abs(after, 20 * k_px_per_mm, 1.5));
    CHECK(!script.program().state().keypad.has_value());
    CHECK(!script.program().state().pick.has_value());
}

TEST_CASE("sdl touch: momentum goes on after the finger and ends by itself",
          "[robot][sdl][touch]") {
    const TempFolder folder;
    Scripted script(folder / "bench");
    script.tap("rail/workings");
    float lifted = 0;
    float early = 0;
    float late = 0;
    bool ended = false;
    script.drag("workings/field/reading", 0, -6, 6, 0.005);
    script.then(0.001, [&] { lifted = script.offset("workings/form"); });
    script.then(2.5, [&] { early = script.offset("workings/form"); });
    script.then(0.5, [&] {
        late = script.offset("workings/form");
        ended = std::isinf(script.inner_wake_s) || script.inner_wake_s > 1;
    });
    script.run();
    INFO(lifted << ", " << early << ", " << late);
    CHECK(early > lifted + 2 * k_px_per_mm);
    CHECK(late == early);
    CHECK(ended);
    CHECK(!script.program().state().keypad.has_value());
}

TEST_CASE("sdl touch: a second finger clicks neither what lies under it nor under the first",
          "[robot][sdl][touch]") {
    const TempFolder folder;
    Scripted script(folder / "bench");
    script.tap("rail/workings");
    const auto press = [&](Uint32 type, SDL_FingerID id, const char* name) {
        script.then(0.05, [&script, type, id, name] {
            const Rect at = script.control(name).visible;
            script.finger(type, id, at.mid_x(), at.mid_y());
        });
    };
    script.then(0.2, [] {});
    press(SDL_FINGERDOWN, 1, "workings/others");
    press(SDL_FINGERDOWN, 2, "rail/photos");
    press(SDL_FINGERUP, 2, "rail/photos");
    press(SDL_FINGERUP, 1, "workings/others");
    script.then(0.2, [] {});
    script.run();
    CHECK(!script.program().state().choosing_working);
    CHECK(script.program().state().room == RoomId::workings);
}

TEST_CASE("sdl touch: a tap taps once, a long press holds and does not tap",
          "[robot][sdl][touch]") {
    const TempFolder folder;
    Scripted script(folder / "bench");
    script.tap("rail/workings");
    script.tap("workings/field/reading");
    bool open = false;
    bool still_open = false;
    script.then(0.2, [&] {
        open = script.program().state().keypad.has_value();
        replace_text(*script.program().state().keypad, "96m");
        script.program().refresh();
    });
    const auto readings = script.program().job()->readings.size();
    script.tap("keypad/set"); // 8.4 times the other channel's: a tap is not enough
    script.then(0.2, [&] { still_open = script.program().state().keypad.has_value(); });
    script.drag("keypad/set", 0, 0, 0, 0.8);
    script.then(0.3, [] {});
    script.run();
    CHECK(open);
    CHECK(still_open);
    CHECK(!script.program().state().keypad.has_value());
    CHECK(script.program().job()->readings.size() == readings + 1);
}

TEST_CASE("sdl touch: two fingers bring a plot closer, a double tap brings it back",
          "[robot][sdl][touch]") {
    const TempFolder folder;
    Scripted script(folder / "bench");
    script.tap("rail/workings");
    script.then(0.2, [] {});
    Rect at; // where it lies before it is brought closer
    script.then(0.05, [&] { at = script.control("workings/plot").visible; });
    for (int i = 0; i <= 10; ++i)
        script.then(0.016, [&script, &at, i] {
            const float apart = at.width() / 8 * (1 + 0.1f * static_cast<float>(i));
            const Uint32 type = i == 0 ? SDL_FINGERDOWN : SDL_FINGERMOTION;
            script.finger(type, 1, at.mid_x() - apart, at.mid_y());
            script.finger(type, 2, at.mid_x() + apart, at.mid_y());
        });
    PlotView pinched;
    float cursor = -1;
    script.then(0.05, [&] {
        pinched = script.program().state().plots[0];
        script.finger(SDL_FINGERUP, 1, at.mid_x(), at.mid_y());
        script.finger(SDL_FINGERUP, 2, at.mid_x(), at.mid_y());
    });
    // A finger that drags reads the curves out.
    script.drag("workings/plot", 5, 0, 6, 0.1);
    script.then(0.1, [&] { cursor = script.program().state().plots[0].cursor; });
    script.then(0.6, [] {});
    script.tap("workings/plot");
    script.tap("workings/plot");
    script.then(0.2, [] {});
    script.run();
    INFO(pinched.from << " to " << pinched.to << ", cursor " << cursor);
    // The fingers went twice as far apart: half of the width is in view.
    CHECK(near_abs(pinched.to - pinched.from, 0.5, 0.06));
    CHECK(cursor > 0.5f);
    CHECK(!script.program().state().plots[0].zoomed());
}

TEST_CASE("sdl touch: a slider and the keyed value keep their drags", "[robot][sdl][touch]") {
    const TempFolder folder;
    Scripted script(folder / "bench");
    script.tap("rail/workings");
    script.then(0.2, [] {});
    script.drag("beside/split", 12, 0, 8, 0.1);
    script.tap("workings/field/emitter_resistor");
    script.then(0.2, [] {});
    std::string before;
    script.then(0.1, [&] { before = script.program().state().keypad->text; });
    // 4 mm a step: three steps along E24.
    script.drag("keypad/drag", 12.5f, 0, 10, 0.1);
    script.then(0.2, [] {});
    script.run();
    CHECK(script.program().state().split > 0.56f);
    REQUIRE(script.program().state().keypad.has_value());
    CHECK(before == "0R22");
    CHECK(script.program().state().keypad->text == "0R3");
}
