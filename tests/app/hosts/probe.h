// A small program for the hosts to run: draws a known picture, keeps what it was told, and can act
// from within a frame.
#pragma once

#include "app/hosts/host.h"

#include <atomic>
#include <chrono>
#include <cstdint>
#include <functional>
#include <string>
#include <thread>
#include <utility>
#include <vector>

namespace railside::test {

/// A virtual display restarts when its last client has left, and refuses who comes in just then:
/// such a refusal is asked again.
template <class Run>
Result<Done> run_on_display(Run run, Program& program, const WindowOptions& options) {
    for (int tries = 0;; tries++) {
        Result<Done> ran = run(program, options);
        if (ran.ok() || tries == 20 ||
            ran.error().message.find("starting the display") == std::string::npos) {
            return ran;
        }
        std::this_thread::sleep_for(std::chrono::milliseconds(50));
    }
}

class Probe : public Program {
  public:
    void set_waker(std::function<void()> wake_host) override {
        started_before_waker = textures_ != nullptr;
        wake = std::move(wake_host);
    }
    void news() override {
        news_heard++;
        frames_at_news = frames;
    }
    void start(Textures& textures) override { textures_ = &textures; }
    bool resize(const Screen& screen) override {
        screens.push_back(screen);
        reader.set_density(screen.px_per_mm);
        if (screens.size() == 1 || screens[screens.size() - 2].px_per_mm != screen.px_per_mm) {
            ImGui::GetIO().Fonts->Clear();
            ImGui::GetIO().Fonts->AddFontDefault();
            return true;
        }
        return false;
    }
    void textures_lost() override { lost++; }
    void touch(const Touch& touch) override {
        touches.push_back(touch);
        reader.feed(touch, grip);
    }
    void wheel(float x_px, float y_px, float notches) override {
        wheels.push_back({x_px, y_px, notches});
    }
    void key(Key key) override { keys.push_back(key); }
    void text(std::string_view utf8) override { typed += utf8; }
    void drop_file(std::string_view path) override { files.emplace_back(path); }
    void frame(double now_s) override {
        frames++;
        reader.tick(now_s);
        for (const Gesture& gesture : reader.gestures()) {
            gestures.push_back(gesture);
        }
        reader.clear();
        ImDrawList& list = *ImGui::GetBackgroundDrawList();
        list.AddRectFilled(ImVec2(10, 10), ImVec2(20, 20), IM_COL32(255, 0, 0, 255));
        list.AddText(ImVec2(30, 10), IM_COL32(255, 255, 255, 255), "Railside");
        if (with_field) {
            ImGui::Begin("field");
            if (frames == 1) {
                ImGui::SetKeyboardFocusHere();
            }
            ImGui::InputText("text", field, sizeof field);
            ImGui::End();
        }
        if (in_frame) {
            in_frame(frames);
        }
    }
    [[nodiscard]] double wake_in(double now_s) const override { return reader.wake_in(now_s); }
    [[nodiscard]] bool done() const override { return finished; }
    [[nodiscard]] bool wants_text() const override { return with_field; }

    [[nodiscard]] Textures& textures() { return *textures_; }
    [[nodiscard]] std::vector<GestureKind> kinds() const {
        std::vector<GestureKind> all;
        for (const Gesture& gesture : gestures) {
            all.push_back(gesture.kind);
        }
        return all;
    }

    struct Wheel {
        float x_px, y_px, notches;
    };
    Grip grip = Grip::scroll;
    TouchReader reader;
    std::vector<Screen> screens;
    std::vector<Touch> touches;
    std::vector<Gesture> gestures;
    std::vector<Wheel> wheels;
    std::vector<Key> keys;
    std::vector<std::string> files;
    std::string typed;
    std::function<void(int frame)> in_frame;
    std::function<void()> wake;
    bool started_before_waker = false;
    std::atomic<int> news_heard = 0;
    int frames_at_news = 0;
    char field[64] = "";
    bool with_field = false;
    int lost = 0;
    std::atomic<int> frames = 0;
    std::atomic<bool> finished = false;

  private:
    Textures* textures_ = nullptr;
};

/// From another thread: waits until the probe has drawn and then drawn nothing more for half a
/// second, and says how many frames that took; 0 when that does not come within 20 s, for instance
/// because no window opened.
inline int wait_until_quiet(const Probe& probe) {
    using namespace std::chrono_literals;
    int last = 0;
    int same = 0;
    for (int step = 0; step < 400; step++) {
        std::this_thread::sleep_for(50ms);
        const int now = probe.frames;
        same = now == last ? same + 1 : 0;
        last = now;
        if (last > 0 && same >= 10) {
            return last;
        }
    }
    return 0;
}

} // namespace railside::test
