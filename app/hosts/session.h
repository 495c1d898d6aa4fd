// The part of a host that is the same everywhere: the ImGui context, when a frame is drawn, and how
// keys and text reach both the program and ImGui's own text fields. Mouse and touch are never given
// to ImGui here: the program does its own hit testing.
#pragma once

#include "app/hosts/host.h"
#include "app/hosts/wake.h"

#include <functional>
#include <string_view>

namespace railside {

/// Draws ImGui's lists and keeps the textures they name.
class Painter : public Textures {
  public:
    /// Once the ImGui context is current, and before it goes.
    virtual void start() = 0;
    virtual void stop() = 0;
    /// Before each ImGui frame: the font texture exists afterwards.
    virtual void begin_frame() = 0;
    /// The fonts changed: the next begin_frame makes their texture anew.
    virtual void drop_fonts() = 0;
    /// The device was lost: every texture goes, the fonts' too.
    virtual void drop_all() = 0;
    virtual void paint(ImDrawData& data, ImU32 background) = 0;
};

struct Modifiers {
    bool ctrl = false;
    bool shift = false;
    bool alt = false;
    bool super = false;
};

class Session {
  public:
    /// Starts the program. Both must outlive the session. `wake` ends the host's sleep, from any
    /// thread.
    Session(Program& program, Painter& painter, const Screen& screen, std::function<void()> wake);
    ~Session();
    Session(const Session&) = delete;
    Session& operator=(const Session&) = delete;

    /// Where several sessions live in one process, each call to ImGui needs its own context.
    void make_current() const;

    void resize(const Screen& screen);
    void textures_lost();
    void touch(const Touch& touch);
    void wheel(float x_px, float y_px, float notches);
    /// One press, down and up, also for each repeat of the keyboard: ImGui then never waits for a
    /// key that is held, which would need frames. Without ctrl, alt or super the program gets it
    /// too when it is one of its keys.
    void press(ImGuiKey key, Modifiers modifiers);
    void key(Key key);
    void text(std::string_view utf8);
    void drop_file(std::string_view path);
    /// What the window showed is gone (uncovered, restored): draw again.
    void redraw();
    /// Tells the program when its threads have called the waker since the last time. For each turn
    /// of the host's loop.
    void deliver_news();
    [[nodiscard]] bool news_waiting() const { return wake_.waiting(); }

    /// Seconds until a frame is to be drawn, infinity for none. Frames lie at least `gap_s` apart.
    [[nodiscard]] double due_in(double now_s, double gap_s) const;
    void frame(double now_s);

    [[nodiscard]] const Screen& screen() const { return screen_; }

  private:
    void want(int frames);

    WakeCall wake_;
    Program& program_;
    Painter& painter_;
    ImGuiContext* context_ = nullptr;
    Screen screen_;
    int owed_ = 0; // frames still to draw after an event
    double last_frame_s_ = 0;
    bool drawn_ = false;
};

/// A density the eye can trust: the display's dots per inch when they are possible for a screen,
/// else 96 times the system's scale.
[[nodiscard]] float density_px_per_mm(float dots_per_inch, float system_scale);

} // namespace railside
