// What a host is to the program, and the program to a host. A host owns a window (or none), turns
// its events into these calls, asks for frames only while the program wants them, and keeps
// textures. Hosts know nothing of jobs.
#pragma once

#include "app/ui/control_map.h"
#include "app/ui/touch.h"
#include "core/result.h"

#include <imgui.h>

#include <cstdint>
#include <functional>
#include <memory>
#include <string>
#include <string_view>

namespace railside {

/// The surface that is drawn on, in real pixels.
struct Screen {
    int width_px = 1280;
    int height_px = 800;
    float px_per_mm = 5.9f; // from the display's density, or given

    friend bool operator==(const Screen&, const Screen&) = default;
};

/// Upright 8-bit RGBA pixels, rows from the top.
struct Pixels {
    int width = 0;
    int height = 0;
    const std::uint8_t* rgba = nullptr;
};

/// Where pictures live while they are shown. Ids stay good until dropped; on a lost device the host
/// tells the program.
class Textures {
  public:
    virtual ~Textures() = default;
    /// 0 when the device has no room.
    [[nodiscard]] virtual ImTextureID make(const Pixels& pixels) = 0;
    virtual void drop(ImTextureID id) = 0;
    /// Other pixels of the same size under the same id. False where the device cannot: make() then.
    [[nodiscard]] virtual bool renew(ImTextureID id, const Pixels& pixels) {
        static_cast<void>(id);
        static_cast<void>(pixels);
        return false;
    }
};

/// Keys that are not text. Text comes through Program::text.
enum class Key {
    enter,
    escape,
    backspace,
    del,
    tab,
    back_tab,
    up,
    down,
    left,
    right,
    page_up,
    page_down,
    home,
    end,
    help
};

class Program {
  public:
    virtual ~Program() = default;

    /// Before start(): what threads call with news, as often as they like, also after the host
    /// ended.
    // NOLINTNEXTLINE(performance-unnecessary-value-param): who overrides it keeps it
    virtual void set_waker(std::function<void()> wake) { static_cast<void>(wake); }
    /// On the interface thread, after one or more calls of the waker and before the next frame is
    /// decided; a frame follows.
    virtual void news() {}

    /// Once, before the first frame, with an ImGui context current and a place for textures that
    /// outlives the program's use.
    virtual void start(Textures& textures) = 0;
    /// Before the first frame and whenever the surface changes (rotation, another monitor). The
    /// program rebuilds fonts when the density changed; the host then renews the font texture:
    /// returns true in that case.
    [[nodiscard]] virtual bool resize(const Screen& screen) = 0;
    /// All textures are gone (device lost): forget them.
    virtual void textures_lost() = 0;

    virtual void touch(const Touch& touch) = 0; // finger or mouse (finger 0 is the mouse)
    virtual void wheel(float x_px, float y_px, float notches) = 0;
    virtual void key(Key key) = 0;
    virtual void text(std::string_view utf8) = 0;
    virtual void drop_file(std::string_view path) = 0;

    /// Before each frame: builds its fonts anew when the person chose another size, and then
    /// returns true; the host renews the font texture.
    [[nodiscard]] virtual bool renew_fonts() { return false; }
    /// Draws the contents of one ImGui frame (between NewFrame and Render). `now_s` is monotonic.
    virtual void frame(double now_s) = 0;
    /// Seconds from `now_s` until the next frame is wanted: 0 at once, infinity when nothing
    /// changes until an event comes.
    [[nodiscard]] virtual double wake_in(double now_s) const = 0;
    [[nodiscard]] virtual bool done() const = 0;
    /// Whether a text field is being edited (hosts raise the system keyboard).
    [[nodiscard]] virtual bool wants_text() const = 0;

    /// For hosts that edit text themselves, in a field of the system's own: what stands there now,
    /// and the text as it is after each change.
    [[nodiscard]] virtual std::string edited_text() const { return {}; }
    virtual void set_edited_text(std::string_view utf8) { static_cast<void>(utf8); }
    /// What is on the screen, for those who cannot see it; null when the program does not say.
    [[nodiscard]] virtual const ControlMap* screen_map() const { return nullptr; }
    /// Taps a control of the map as a finger would.
    virtual void tap_control(std::string_view name) { static_cast<void>(name); }
};

struct WindowOptions {
    std::string title = "Railside";
    int width_px = 0;    // 0: what the display offers
    int height_px = 0;   //
    float px_per_mm = 0; // 0: from the display
    bool full_screen = false;
};

/// Runs the program in a window until it is done. Errors say why no window could be opened.
[[nodiscard]] Result<Done> run_sdl2(Program& program, const WindowOptions& options);
[[nodiscard]] Result<Done> run_glfw(Program& program, const WindowOptions& options);

/// No window: draws into memory by our own raster (raster.h). Used for pictures and for the robot
/// tests.
class Headless {
  public:
    /// Errors: out_of_range when a side is not 1 to 16384 pixels.
    [[nodiscard]] static Result<std::unique_ptr<Headless>> create(Program& program,
                                                                  const Screen& screen);
    virtual ~Headless() = default;

    /// A clock of its own: frames are drawn as a window would (only while wanted), until the
    /// program wants none or `at_most` frames. News already waiting is delivered first. Returns how
    /// many were drawn.
    virtual int settle(int at_most = 240) = 0;
    /// Waits, by the wall clock and at most so long, for the waker to be called, delivers the news
    /// and settles. Returns how many frames were drawn: 0 when nothing came.
    virtual int settle_news(double at_most_s) = 0;
    /// Moves the clock on, drawing the frames that fall due.
    virtual int pass_time(double seconds) = 0;
    virtual void touch(TouchPhase phase, std::int64_t finger, float x_px,
                       float y_px) = 0; // at the clock's time
    virtual void wheel(float x_px, float y_px, float notches) = 0;
    virtual void key(Key key) = 0;
    virtual void text(std::string_view utf8) = 0;
    virtual void drop_file(std::string_view path) = 0;
    virtual void resize(const Screen& screen) = 0;
    [[nodiscard]] virtual double now_s() const = 0;
    /// The last frame drawn, copied: width·height·4 bytes RGBA.
    [[nodiscard]] virtual std::string pixels() = 0;
    [[nodiscard]] virtual const Screen& screen() const = 0;
    /// Vertices of the last frame.
    [[nodiscard]] virtual int vertices() const = 0;
};

} // namespace railside
