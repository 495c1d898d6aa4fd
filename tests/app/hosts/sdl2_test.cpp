// On SDL's dummy driver: a window without a screen, so that these run anywhere. With a real display
// there is one more.
#include "app/hosts/host.h"

#include "probe.h"
#include "support/catch.h"

#define SDL_MAIN_HANDLED
#include <SDL.h>

#include <chrono>
#include <csignal>
#include <cstdlib>
#include <string>
#include <thread>
#include <unistd.h>

using namespace railside;
using test::Probe;
using namespace std::chrono_literals;

namespace {

/// The environment variable, put back afterwards.
class Setting {
  public:
    Setting(const char* name, const char* value) : name_(name) {
        if (const char* before = std::getenv(name)) {
            before_ = before;
            had_ = true;
        }
        setenv(name, value, 1);
    }
    ~Setting() {
        if (had_) {
            setenv(name_, before_.c_str(), 1);
        } else {
            unsetenv(name_);
        }
    }
    Setting(const Setting&) = delete;
    Setting& operator=(const Setting&) = delete;

  private:
    const char* name_;
    std::string before_;
    bool had_ = false;
};

/// SDL handles a signal only where nobody else does, and the test runner does.
class PlainSignal {
  public:
    PlainSignal() : before_(std::signal(SIGTERM, SIG_DFL)) {}
    ~PlainSignal() { std::signal(SIGTERM, before_); }
    PlainSignal(const PlainSignal&) = delete;
    PlainSignal& operator=(const PlainSignal&) = delete;

  private:
    void (*before_)(int);
};

WindowOptions small() {
    WindowOptions options;
    options.width_px = 400;
    options.height_px = 200;
    options.px_per_mm = 6;
    return options;
}

void run_dummy(Probe& probe, const WindowOptions& options = small()) {
    const Setting driver("SDL_VIDEODRIVER", "dummy");
    const Result<Done> ran = run_sdl2(probe, options);
    INFO((ran.ok() ? "" : ran.error().message));
    REQUIRE(ran.ok());
}

void push_finger(Uint32 type, SDL_FingerID finger, float x, float y) {
    SDL_Event event{};
    event.type = type;
    event.tfinger.touchId = 77;
    event.tfinger.fingerId = finger;
    event.tfinger.x = x;
    event.tfinger.y = y;
    SDL_PushEvent(&event);
}

void push_button(Uint32 type, Uint8 button, int x, int y, Uint32 which = 0) {
    SDL_Event event{};
    event.type = type;
    event.button.which = which;
    event.button.button = button;
    event.button.x = x;
    event.button.y = y;
    SDL_PushEvent(&event);
}

void push_key(SDL_Keycode code, Uint16 mod = 0) {
    SDL_Event event{};
    event.type = SDL_KEYDOWN;
    event.key.keysym.sym = code;
    event.key.keysym.mod = mod;
    SDL_PushEvent(&event);
}

void push_text(const char* text) {
    SDL_Event event{};
    event.type = SDL_TEXTINPUT;
    SDL_strlcpy(event.text.text, text, sizeof event.text.text);
    SDL_PushEvent(&event);
}

} // namespace

TEST_CASE("sdl2: fingers arrive in pixels, in order, and are no mouse", "[app][hosts][sdl2]") {
    Probe probe;
    probe.in_frame = [&](int frame) {
        if (frame == 2) {
            push_finger(SDL_FINGERDOWN, 0, 0.25F, 0.5F); // numbered 0, as some systems do
            push_finger(SDL_FINGERUP, 0, 0.25F, 0.5F);
            push_finger(SDL_FINGERDOWN, 5, 0.5F, 0.9F);
            push_finger(SDL_FINGERMOTION, 5, 0.5F, 0.4F);
            push_finger(SDL_FINGERDOWN, 6, 0.75F, 0.5F);
            push_finger(SDL_FINGERUP, 5, 0.5F, 0.4F);
            push_finger(SDL_FINGERUP, 6, 0.75F, 0.5F);
        }
        probe.finished =
            frame >= 12 || (frame > 2 && probe.reader.wake_in(0) > 0 && !probe.reader.held());
    };
    run_dummy(probe);
    REQUIRE(probe.touches.size() == 7);
    CHECK(probe.touches[0].phase == TouchPhase::begin);
    CHECK(probe.touches[0].x_px == 100);
    CHECK(probe.touches[0].y_px == 100);
    CHECK(probe.touches[0].finger != 0);
    CHECK(probe.touches[1].phase == TouchPhase::end);
    CHECK(probe.touches[2].finger != probe.touches[0].finger);
    CHECK(probe.touches[3].y_px == 80);
    for (std::size_t i = 1; i < probe.touches.size(); i++) {
        CHECK(probe.touches[i].time_s >= probe.touches[i - 1].time_s);
    }
    CHECK(probe.kinds() == std::vector{GestureKind::press, GestureKind::tap, GestureKind::press,
                                       GestureKind::release, GestureKind::scroll});
}

TEST_CASE("sdl2: the left mouse button is finger 0, the others and mere motion are nothing",
          "[app][hosts][sdl2]") {
    Probe probe;
    probe.in_frame = [&](int frame) {
        if (frame == 2) {
            SDL_Event motion{};
            motion.type = SDL_MOUSEMOTION;
            motion.motion.x = 10;
            SDL_PushEvent(&motion);
            push_button(SDL_MOUSEBUTTONDOWN, SDL_BUTTON_RIGHT, 20, 20);
            push_button(SDL_MOUSEBUTTONDOWN, SDL_BUTTON_LEFT, 20, 20, SDL_TOUCH_MOUSEID);
            push_button(SDL_MOUSEBUTTONUP, SDL_BUTTON_LEFT, 20, 20, SDL_TOUCH_MOUSEID);
            push_button(SDL_MOUSEBUTTONDOWN, SDL_BUTTON_LEFT, 30, 40);
            motion.motion.x = 31;
            motion.motion.y = 40;
            SDL_PushEvent(&motion);
            push_button(SDL_MOUSEBUTTONUP, SDL_BUTTON_LEFT, 31, 40);
            SDL_Event wheel{};
            wheel.type = SDL_MOUSEWHEEL;
            wheel.wheel.preciseY = -1.5F;
            SDL_PushEvent(&wheel);
        }
        probe.finished = frame >= 6;
    };
    run_dummy(probe);
    REQUIRE(probe.touches.size() == 3);
    CHECK(probe.touches[0].finger == 0);
    CHECK(probe.touches[0].x_px == 30);
    CHECK(probe.touches[1].phase == TouchPhase::move);
    CHECK(probe.kinds() == std::vector{GestureKind::press, GestureKind::tap});
    REQUIRE(probe.wheels.size() == 1);
    CHECK(probe.wheels[0].notches == -1.5F);
}

TEST_CASE("sdl2: keys, text and files arrive; a field can be edited, copied and pasted",
          "[app][hosts][sdl2]") {
    Probe probe;
    probe.with_field = true;
    probe.in_frame = [&](int frame) {
        switch (frame) {
        case 3:
            push_text("0R22");
            break;
        case 6:
            push_key(SDLK_a, KMOD_LCTRL);
            push_key(SDLK_c, KMOD_LCTRL);
            push_key(SDLK_END);
            push_key(SDLK_v, KMOD_LCTRL);
            push_key(SDLK_BACKSPACE);
            push_key(SDLK_TAB, KMOD_LSHIFT);
            push_key(SDLK_F1);
            break;
        case 20: {
            SDL_Event drop{};
            drop.type = SDL_DROPFILE;
            drop.drop.file = SDL_strdup("board.jpg");
            SDL_PushEvent(&drop);
            break;
        }
        default:
            break;
        }
        probe.finished = !probe.files.empty();
    };
    run_dummy(probe);
    CHECK(std::string(probe.field) == "0R220R2");
    CHECK(probe.typed == "0R22");
    CHECK(probe.keys == std::vector{Key::end, Key::backspace, Key::back_tab, Key::help});
    CHECK(probe.files == std::vector<std::string>{"board.jpg"});
}

TEST_CASE("sdl2: the number pad steers only while Num Lock is off", "[app][hosts][sdl2]") {
    Probe probe;
    probe.in_frame = [&](int frame) {
        if (frame == 2) {
            push_key(SDLK_KP_8);
            push_key(SDLK_KP_8, KMOD_NUM);
            push_key(SDLK_KP_ENTER, KMOD_NUM);
        }
        probe.finished = frame >= 4;
    };
    run_dummy(probe);
    CHECK(probe.keys == std::vector{Key::up, Key::enter});
}

TEST_CASE("sdl2: nothing is drawn while nothing changes, and closing ends it at once",
          "[app][hosts][sdl2]") {
    Probe probe;
    int settled = 0;
    int after_idle = 0;
    std::chrono::steady_clock::time_point asked;
    std::thread outside([&] {
        settled = test::wait_until_quiet(probe);
        std::this_thread::sleep_for(3s);
        after_idle = probe.frames;
        SDL_Event quit{};
        quit.type = SDL_QUIT;
        asked = std::chrono::steady_clock::now();
        SDL_PushEvent(&quit);
    });
    run_dummy(probe);
    const auto ended = std::chrono::steady_clock::now();
    outside.join();
    CHECK(settled > 0);
    CHECK(settled <= 12);
    CHECK(after_idle == settled);
    CHECK(ended - asked < 3s);
    CHECK(probe.lost == 1);
}

TEST_CASE("sdl2: a held finger wakes the sleeping window for the long press",
          "[app][hosts][sdl2]") {
    Probe probe;
    probe.in_frame = [&](int frame) {
        if (frame == 2) {
            push_finger(SDL_FINGERDOWN, 1, 0.5F, 0.5F);
        }
        probe.finished = probe.reader.wake_in(1e9) > 0 && frame > 2;
    };
    run_dummy(probe);
    CHECK(probe.frames < 16); // it slept in between
    CHECK(probe.kinds() == std::vector{GestureKind::press, GestureKind::hold});
}

TEST_CASE("sdl2: a new size reaches the program", "[app][hosts][sdl2]") {
    Probe probe;
    // The window's number counts up within a process: ask for the newest instead of 1.
    probe.in_frame = [&](int frame) {
        if (frame == 2) {
            for (Uint32 id = 1; id < 100; id++) {
                if (SDL_Window* window = SDL_GetWindowFromID(id)) {
                    SDL_SetWindowSize(window, 300, 350);
                }
            }
            push_finger(SDL_FINGERDOWN, 1, 1, 1);
        }
        probe.finished = frame >= 4;
    };
    run_dummy(probe);
    REQUIRE(probe.screens.size() == 2);
    CHECK(probe.screens[0] == Screen{400, 200, 6});
    CHECK(probe.screens[1] == Screen{300, 350, 6});
    REQUIRE(probe.touches.size() == 1);
    CHECK(probe.touches[0].y_px == 350);
}

TEST_CASE("sdl2: a lost device makes the program forget its textures and draw again",
          "[app][hosts][sdl2]") {
    Probe probe;
    int lost_while_running = 0;
    probe.in_frame = [&](int frame) {
        if (frame == 4) {
            SDL_Event reset{};
            reset.type = SDL_RENDER_DEVICE_RESET;
            SDL_PushEvent(&reset);
        }
        lost_while_running = probe.lost;
        probe.finished = frame >= 6;
    };
    run_dummy(probe);
    CHECK(lost_while_running == 1);
}

TEST_CASE("sdl2: SIGTERM ends it cleanly, even out of its sleep", "[app][hosts][sdl2]") {
    const PlainSignal plain;
    Probe probe;
    std::chrono::steady_clock::time_point asked;
    std::thread outside([&] {
        test::wait_until_quiet(probe);
        asked = std::chrono::steady_clock::now();
        kill(getpid(), SIGTERM);
    });
    run_dummy(probe);
    const auto ended = std::chrono::steady_clock::now();
    outside.join();
    CHECK(ended - asked < 3s);
    CHECK(probe.lost == 1);
}

TEST_CASE("sdl2: a thread wakes it out of its sleep, and idle it draws nothing",
          "[app][hosts][sdl2]") {
    Probe probe;
    std::atomic<int> settled = 0;
    std::atomic<int> woken = 0;
    std::atomic<int> idle = 0;
    std::chrono::steady_clock::duration took{};
    std::thread outside([&] {
        settled = test::wait_until_quiet(probe);
        const auto called = std::chrono::steady_clock::now();
        probe.wake();
        while (probe.news_heard == 0 && std::chrono::steady_clock::now() - called < 5s) {
            std::this_thread::sleep_for(1ms);
        }
        took = std::chrono::steady_clock::now() - called;
        woken = test::wait_until_quiet(probe);
        std::this_thread::sleep_for(1s);
        idle = probe.frames.load();
        probe.finished = true;
        probe.wake();
    });
    run_dummy(probe);
    outside.join();
    CHECK(settled > 0);
    CHECK(took < 1s);
    CHECK(woken > settled);
    CHECK(woken <= settled + 4);
    CHECK(idle == woken);
    CHECK(probe.news_heard == 2);
    probe.wake(); // no window any more
    CHECK(probe.news_heard == 2);
}

TEST_CASE("sdl2: without any display the answer is a sentence", "[app][hosts][sdl2]") {
    const Setting driver("SDL_VIDEODRIVER", "no-such-driver");
    Probe probe;
    const Result<Done> ran = run_sdl2(probe, small());
    REQUIRE_FALSE(ran.ok());
    CHECK(ran.error().code == ErrorCode::failed);
    CHECK(ran.error().message.find("No window could be opened") == 0);
}

TEST_CASE("sdl2: a real window draws, sleeps and ends", "[app][hosts][sdl2]") {
    if (std::getenv("DISPLAY") == nullptr && std::getenv("WAYLAND_DISPLAY") == nullptr) {
        WARN("SKIPPED: no display here, so no real SDL window was opened");
        return;
    }
    Probe probe;
    const PlainSignal plain;
    std::vector<std::uint8_t> white(16 * 16 * 4, 255);
    bool made = false;
    probe.in_frame = [&](int frame) {
        if (frame == 1) {
            const ImTextureID id = probe.textures().make({16, 16, white.data()});
            made = id != nullptr;
            probe.textures().drop(id);
            SDL_Event reset{};
            reset.type = SDL_RENDER_DEVICE_RESET;
            SDL_PushEvent(&reset);
        }
    };
    int settled = 0;
    int after_idle = 0;
    std::chrono::steady_clock::time_point asked;
    std::thread outside([&] {
        settled = test::wait_until_quiet(probe);
        std::this_thread::sleep_for(2s);
        after_idle = probe.frames;
        if (settled == 0) {
            return;
        }
        asked = std::chrono::steady_clock::now();
        kill(getpid(), SIGTERM);
    });
    const Result<Done> ran = test::run_on_display(run_sdl2, probe, small());
    const auto ended = std::chrono::steady_clock::now();
    outside.join();
    CHECK(ended - asked < 3s);
    REQUIRE(ran.ok());
    CHECK(made);
    CHECK(settled > 0);
    CHECK(after_idle == settled);
    CHECK(probe.lost == 2);
}
