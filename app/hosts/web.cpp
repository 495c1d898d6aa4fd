#include "app/hosts/web.h"

#include "app/hosts/gl_painter.h"
#include "app/hosts/session.h"
#include "app/hosts/web_calls.h"

#include <emscripten.h>
#include <emscripten/html5.h>

#include <cmath>
#include <string>
#include <utility>

namespace railside {

namespace {

constexpr const char* k_canvas = "#screen";
constexpr double k_gap_s = 0.0065; // the display sets the pace
// While something is being written nothing is drawn, so that the screen never shows what is not yet
// safe; the browser needs a few milliseconds. Where it takes so long, the frame says "saving".
constexpr double k_longest_wait_s = 0.25;
constexpr double k_never = -1;

struct KeyName {
    std::string_view dom;
    ImGuiKey key;
};
constexpr KeyName k_keys[] = {
    {"Enter", ImGuiKey_Enter},
    {"Escape", ImGuiKey_Escape},
    {"Backspace", ImGuiKey_Backspace},
    {"Delete", ImGuiKey_Delete},
    {"Tab", ImGuiKey_Tab},
    {"ArrowUp", ImGuiKey_UpArrow},
    {"ArrowDown", ImGuiKey_DownArrow},
    {"ArrowLeft", ImGuiKey_LeftArrow},
    {"ArrowRight", ImGuiKey_RightArrow},
    {"PageUp", ImGuiKey_PageUp},
    {"PageDown", ImGuiKey_PageDown},
    {"Home", ImGuiKey_Home},
    {"End", ImGuiKey_End},
    {"F1", ImGuiKey_F1},
};

class WebWindow {
  public:
    WebWindow(std::unique_ptr<Program> program, const Screen& screen)
        : program_(std::move(program)),
          session_(*program_, painter_, screen, [] { railside_page_wake(); }) {}

    Session& session() { return session_; }
    Program& program() { return *program_; }

    /// Seconds until the next turn is wanted; k_never when nothing changes by itself.
    double turn(double now_s, double gap_s) {
        session_.deliver_news();
        if (lost_)
            return k_never;
        if (must_wait(now_s))
            return waiting_since_s_ + k_longest_wait_s - now_s;
        if (session_.due_in(now_s, gap_s) <= 0) {
            session_.frame(now_s);
            ++frames_;
        }
        const double due_s = session_.due_in(now_s, k_gap_s);
        return std::isfinite(due_s) ? due_s : k_never;
    }
    void context_lost() { lost_ = true; }
    void context_restored() {
        // Every name of the old context is void: nothing of it may be deleted in the new one.
        painter_.stop();
        painter_.start();
        lost_ = false;
        session_.textures_lost();
    }
    [[nodiscard]] int frames() const { return frames_; }

  private:
    bool must_wait(double now_s) {
        if (web_outside().kept()) {
            waiting_ = false;
            return false;
        }
        if (!waiting_) {
            waiting_ = true;
            waiting_since_s_ = now_s;
        }
        return now_s - waiting_since_s_ < k_longest_wait_s;
    }

    std::unique_ptr<Program> program_;
    GlPainter painter_;
    Session session_;
    bool lost_ = false;
    bool waiting_ = false;
    double waiting_since_s_ = 0;
    int frames_ = 0;
};

/// One page, one window; it goes with the page.
std::unique_ptr<WebWindow>& window() {
    static std::unique_ptr<WebWindow> k_window;
    return k_window;
}

void add_quoted(std::string& json, std::string_view text) {
    static constexpr std::string_view k_digits = "0123456789abcdef";
    json += '"';
    for (const char c : text) {
        const auto code = static_cast<unsigned char>(c);
        if (c == '"' || c == '\\') {
            json += '\\';
            json += c;
        } else if (code < 0x20) {
            json += "\\u00";
            json += k_digits[code >> 4U];
            json += k_digits[code & 15U];
        } else {
            json += c;
        }
    }
    json += '"';
}

void add_control(std::string& json, const Control& control) {
    json += "[";
    add_quoted(json, control.name);
    json += ',';
    add_quoted(json, control_role_key(control.role));
    json += ',';
    add_quoted(json, control.label);
    json += ',';
    add_quoted(json, control.value);
    json += control.standing == Answering::dead ? ",1" : ",0";
    json += control.selected ? ",1" : ",0";
    json += control.focused ? ",1" : ",0";
    for (const float side :
         {control.visible.x0, control.visible.y0, control.visible.x1, control.visible.y1}) {
        json += ',';
        json += std::to_string(static_cast<int>(std::lround(side)));
    }
    json += ']';
}

} // namespace

Result<Done> start_web(std::unique_ptr<Program> program, const Screen& screen) {
    EmscriptenWebGLContextAttributes wanted;
    emscripten_webgl_init_context_attributes(&wanted);
    wanted.majorVersion = 2;
    wanted.alpha = EM_FALSE;
    wanted.depth = EM_FALSE;
    wanted.stencil = EM_FALSE;
    wanted.antialias = EM_FALSE;
    wanted.preserveDrawingBuffer = EM_FALSE;
    const EMSCRIPTEN_WEBGL_CONTEXT_HANDLE context =
        emscripten_webgl_create_context(k_canvas, &wanted);
    if (context <= 0 || emscripten_webgl_make_context_current(context) != EMSCRIPTEN_RESULT_SUCCESS)
        return Error{ErrorCode::failed, "window",
                     "This browser has no WebGL 2, which the screen is drawn with. Use a newer "
                     "browser, or allow hardware graphics in this one."};
    window() = std::make_unique<WebWindow>(std::move(program), screen);
    return Done{};
}

} // namespace railside

// ---- what the page calls ------------------------------------------------------------------------

using namespace railside; // NOLINT(google-build-using-namespace): C functions follow

extern "C" {

/// `at_once`: draws now if anything is to be drawn, however short a time after the last frame.
EMSCRIPTEN_KEEPALIVE double web_turn(double now_s, int at_once) {
    return window() ? window()->turn(now_s, at_once != 0 ? 0 : k_gap_s) : k_never;
}

/// Something the program asked the page for, or told it, is done.
EMSCRIPTEN_KEEPALIVE void web_news() {
    if (!window())
        return;
    window()->session().make_current();
    window()->program().news();
    window()->session().redraw();
}

EMSCRIPTEN_KEEPALIVE int web_frames() { return window() ? window()->frames() : 0; }

EMSCRIPTEN_KEEPALIVE void web_resize(int width_px, int height_px, float px_per_mm) {
    const Screen screen{width_px, height_px, px_per_mm};
    if (window() && !(window()->session().screen() == screen))
        window()->session().resize(screen);
}

EMSCRIPTEN_KEEPALIVE void web_touch(int phase, double finger, float x_px, float y_px,
                                    double time_s) {
    if (window())
        window()->session().touch({static_cast<TouchPhase>(phase),
                                   static_cast<std::int64_t>(finger), x_px, y_px, time_s});
}

EMSCRIPTEN_KEEPALIVE void web_wheel(float x_px, float y_px, float notches) {
    if (window())
        window()->session().wheel(x_px, y_px, notches);
}

/// `name` as the browser's KeyboardEvent.key; 1 when the program took it.
EMSCRIPTEN_KEEPALIVE int web_key(const char* name, int shift, int ctrl, int alt, int meta) {
    if (!window())
        return 0;
    for (const KeyName& known : k_keys)
        if (known.dom == name) {
            window()->session().press(known.key, {ctrl != 0, shift != 0, alt != 0, meta != 0});
            return 1;
        }
    return 0;
}

EMSCRIPTEN_KEEPALIVE void web_text(const char* utf8) {
    if (window())
        window()->session().text(utf8);
}

EMSCRIPTEN_KEEPALIVE int web_wants_text() {
    return window() && window()->program().wants_text() ? 1 : 0;
}

/// Good until the next call.
EMSCRIPTEN_KEEPALIVE const char* web_edited_text() {
    static std::string text;
    text = window() ? window()->program().edited_text() : std::string();
    return text.c_str();
}

EMSCRIPTEN_KEEPALIVE void web_replace_text(const char* utf8) {
    if (!window())
        return;
    window()->session().make_current();
    window()->program().set_edited_text(utf8);
    window()->session().redraw();
}

EMSCRIPTEN_KEEPALIVE void web_drop_file(const char* path) {
    if (window())
        window()->session().drop_file(path);
}

EMSCRIPTEN_KEEPALIVE void web_context_lost() {
    if (window())
        window()->context_lost();
}

EMSCRIPTEN_KEEPALIVE void web_context_restored() {
    if (window())
        window()->context_restored();
}

/// The screen's controls, as a JSON array of [name, role, label, value, dead, selected, focused,
/// x0, y0, x1, y1], those of the topmost layer only. Good until the next call.
EMSCRIPTEN_KEEPALIVE const char* web_controls() {
    static std::string json;
    json = "[";
    const ControlMap* map = window() ? window()->program().screen_map() : nullptr;
    if (map != nullptr)
        for (const Control& control : map->controls()) {
            if (control.layer < map->top_layer() || control.visible.width() <= 0 ||
                control.visible.height() <= 0)
                continue;
            if (json.size() > 1)
                json += ',';
            add_control(json, control);
        }
    json += ']';
    return json.c_str();
}

EMSCRIPTEN_KEEPALIVE void web_tap_control(const char* name) {
    if (!window())
        return;
    window()->session().make_current();
    window()->program().tap_control(name);
    window()->session().redraw();
}

} // extern "C"
