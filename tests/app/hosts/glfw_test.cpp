// GLFW has no driver without a screen: without a display these say so and do nothing.
#include "app/hosts/host.h"

#include "probe.h"
#include "support/catch.h"

#include <GLFW/glfw3.h>

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

bool no_display() {
    if (std::getenv("DISPLAY") != nullptr || std::getenv("WAYLAND_DISPLAY") != nullptr) {
        return false;
    }
    WARN("SKIPPED: no display here, so no GLFW window was opened");
    return true;
}

WindowOptions small() {
    WindowOptions options;
    options.width_px = 400;
    options.height_px = 200;
    options.px_per_mm = 6;
    return options;
}

/// Calls what the host has set as callback, as GLFW would.
template <class Set, class... Arguments> void call(Set set, Arguments... arguments) {
    GLFWwindow* window = glfwGetCurrentContext();
    const auto callback = set(window, nullptr);
    set(window, callback);
    callback(window, arguments...);
}

} // namespace

TEST_CASE("glfw: draws what it is told, and sleeps while nothing changes", "[app][hosts][glfw]") {
    if (no_display()) {
        return;
    }
    Probe probe;
    std::vector<std::uint8_t> green;
    for (int i = 0; i < 16; i++) {
        green.insert(green.end(), {0, 255, 0, 255});
    }
    ImTextureID picture = nullptr;
    struct Seen {
        unsigned char corner[4] = {};
        unsigned char picture[4] = {};
    } seen;
    // Drawn last, so that all the rest is there to be read back.
    const auto look = [](const ImDrawList*, const ImDrawCmd* command) {
        auto& found = *static_cast<Seen*>(command->UserCallbackData);
        int height = 0;
        glfwGetFramebufferSize(glfwGetCurrentContext(), nullptr, &height);
        glReadPixels(15, height - 1 - 15, 1, 1, GL_RGBA, GL_UNSIGNED_BYTE, found.corner);
        glReadPixels(120, height - 1 - 120, 1, 1, GL_RGBA, GL_UNSIGNED_BYTE, found.picture);
    };
    probe.in_frame = [&](int frame) {
        if (frame == 1) {
            picture = probe.textures().make({4, 4, green.data()});
        }
        ImGui::GetBackgroundDrawList()->AddImage(picture, ImVec2(100, 100), ImVec2(140, 140));
        ImGui::GetForegroundDrawList()->AddCallback(look, &seen);
    };
    int settled = 0;
    int after_idle = 0;
    std::thread outside([&] {
        settled = test::wait_until_quiet(probe);
        std::this_thread::sleep_for(3s);
        after_idle = probe.frames;
        if (settled > 0) {
            kill(getpid(), SIGTERM);
        }
    });
    const Result<Done> ran = test::run_on_display(run_glfw, probe, small());
    outside.join();
    INFO((ran.ok() ? "" : ran.error().message));
    REQUIRE(ran.ok());
    CHECK(picture != nullptr);
    CHECK(settled >= 4);
    CHECK(after_idle == settled);
    CHECK(probe.screens[0] == Screen{400, 200, 6});
    CHECK(probe.lost == 1);
    CHECK(static_cast<int>(seen.corner[0]) == 255); // the red rectangle of the probe
    CHECK(static_cast<int>(seen.corner[1]) == 0);
    CHECK(static_cast<int>(seen.picture[0]) == 0);
    CHECK(static_cast<int>(seen.picture[1]) == 255);
}

TEST_CASE("glfw: a thread wakes it out of its sleep, and idle it draws nothing",
          "[app][hosts][glfw]") {
    if (no_display()) {
        return;
    }
    Probe probe;
    std::atomic<int> settled = 0;
    std::atomic<int> woken = 0;
    std::atomic<int> idle = 0;
    std::thread outside([&] {
        settled = test::wait_until_quiet(probe);
        if (settled == 0) {
            return;
        }
        probe.wake();
        for (int i = 0; i < 5000 && probe.news_heard == 0; i++) {
            std::this_thread::sleep_for(1ms);
        }
        woken = test::wait_until_quiet(probe);
        std::this_thread::sleep_for(1s);
        idle = probe.frames.load();
        probe.finished = true;
        probe.wake();
    });
    const Result<Done> ran = test::run_on_display(run_glfw, probe, small());
    outside.join();
    INFO((ran.ok() ? "" : ran.error().message));
    REQUIRE(ran.ok());
    CHECK(woken > settled);
    CHECK(woken <= settled + 4);
    CHECK(idle == woken);
    CHECK(probe.news_heard >= 1);
    probe.wake(); // no window any more
}

TEST_CASE("glfw: mouse, wheel, keys, text and files arrive", "[app][hosts][glfw]") {
    if (no_display()) {
        return;
    }
    Probe probe;
    probe.with_field = true;
    probe.in_frame = [&](int frame) {
        if (frame == 3) {
            call(glfwSetCursorPosCallback, 30.0, 40.0);
            call(glfwSetMouseButtonCallback, GLFW_MOUSE_BUTTON_RIGHT, GLFW_PRESS, 0);
            call(glfwSetMouseButtonCallback, GLFW_MOUSE_BUTTON_LEFT, GLFW_PRESS, 0);
            call(glfwSetCursorPosCallback, 31.0, 40.0);
            call(glfwSetMouseButtonCallback, GLFW_MOUSE_BUTTON_LEFT, GLFW_RELEASE, 0);
            call(glfwSetCursorPosCallback, 32.0, 40.0);
            call(glfwSetScrollCallback, 0.0, 1.0);
            for (const unsigned int code :
                 {0x34U, 0xB5U, 0x2126U, 0x1F50BU}) { // 4, micro, ohm, battery
                call(glfwSetCharCallback, code);
            }
            const char* files[] = {"one.jpg", "two.csv"};
            call(glfwSetDropCallback, 2, static_cast<const char**>(files));
        }
        if (frame == 6) {
            call(glfwSetKeyCallback, GLFW_KEY_BACKSPACE, 0, GLFW_PRESS, 0);
            call(glfwSetKeyCallback, GLFW_KEY_BACKSPACE, 0, GLFW_REPEAT, 0);
            call(glfwSetKeyCallback, GLFW_KEY_BACKSPACE, 0, GLFW_RELEASE, 0);
            call(glfwSetKeyCallback, GLFW_KEY_TAB, 0, GLFW_PRESS, GLFW_MOD_SHIFT);
            call(glfwSetKeyCallback, GLFW_KEY_KP_4, 0, GLFW_PRESS, 0);
            call(glfwSetKeyCallback, GLFW_KEY_KP_4, 0, GLFW_PRESS, GLFW_MOD_NUM_LOCK);
        }
        probe.finished = frame >= 16;
    };
    const Result<Done> ran = test::run_on_display(run_glfw, probe, small());
    INFO((ran.ok() ? "" : ran.error().message));
    REQUIRE(ran.ok());
    REQUIRE(probe.touches.size() == 3);
    CHECK(probe.touches[0].finger == 0);
    CHECK(probe.touches[0].x_px == 30);
    CHECK(probe.touches[1].x_px == 31);
    CHECK(probe.touches[2].phase == TouchPhase::end);
    CHECK(probe.kinds() == std::vector{GestureKind::press, GestureKind::tap});
    REQUIRE(probe.wheels.size() == 1);
    CHECK(probe.wheels[0].x_px == 32);
    CHECK(probe.wheels[0].notches == 1);
    CHECK(probe.typed == "4\xC2\xB5\xE2\x84\xA6\xF0\x9F\x94\x8B");
    CHECK(std::string(probe.field) == "4\xC2\xB5");
    CHECK(probe.files == std::vector<std::string>{"one.jpg", "two.csv"});
    CHECK(probe.keys == std::vector{Key::backspace, Key::backspace, Key::back_tab, Key::left});
}

TEST_CASE("glfw: a new size reaches the program and closing ends it", "[app][hosts][glfw]") {
    if (no_display()) {
        return;
    }
    Probe probe;
    probe.in_frame = [&](int frame) {
        if (frame == 2) {
            glfwSetWindowSize(glfwGetCurrentContext(), 300, 350);
        }
        if (probe.screens.size() > 1) {
            glfwSetWindowShouldClose(glfwGetCurrentContext(), GLFW_TRUE);
        }
        probe.finished = frame > 500;
    };
    const Result<Done> ran = test::run_on_display(run_glfw, probe, small());
    INFO((ran.ok() ? "" : ran.error().message));
    REQUIRE(ran.ok());
    REQUIRE(probe.screens.size() == 2);
    CHECK(probe.screens[1] == Screen{300, 350, 6});
}
