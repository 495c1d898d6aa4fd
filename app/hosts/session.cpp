#include "app/hosts/session.h"

#include <algorithm>
#include <limits>
#include <optional>
#include <string>
#include <utility>

namespace railside {

namespace {

// ImGui takes up to three frames to act on what was queued, and a window that opens from it needs
// one more to find its size.
constexpr int k_frames_after_event = 4;
// News queues nothing in ImGui: one frame to show it, one for what finds its size from the first.
// Live pictures come 15 times a second, and more frames would be drawn for nothing.
constexpr int k_frames_after_news = 2;
// Down and up of one key are taken in two frames; several may be queued before the first is drawn.
constexpr int k_frames_per_key = 2;
constexpr int k_most_owed = 240;

// After a long rest ImGui must not believe that one frame took so long.
constexpr double k_least_step_s = 1e-4;
constexpr double k_most_step_s = 0.1;

constexpr double k_never = std::numeric_limits<double>::infinity();

struct KeyPair {
    Key key;
    ImGuiKey imgui;
    bool shift;
};

constexpr KeyPair k_keys[] = {
    {Key::enter, ImGuiKey_Enter, false},
    {Key::enter, ImGuiKey_KeypadEnter, false},
    {Key::escape, ImGuiKey_Escape, false},
    {Key::backspace, ImGuiKey_Backspace, false},
    {Key::del, ImGuiKey_Delete, false},
    {Key::back_tab, ImGuiKey_Tab, true},
    {Key::tab, ImGuiKey_Tab, false},
    {Key::up, ImGuiKey_UpArrow, false},
    {Key::down, ImGuiKey_DownArrow, false},
    {Key::left, ImGuiKey_LeftArrow, false},
    {Key::right, ImGuiKey_RightArrow, false},
    {Key::page_up, ImGuiKey_PageUp, false},
    {Key::page_down, ImGuiKey_PageDown, false},
    {Key::home, ImGuiKey_Home, false},
    {Key::end, ImGuiKey_End, false},
    {Key::help, ImGuiKey_F1, false},
};

std::optional<Key> program_key(ImGuiKey key, Modifiers modifiers) {
    if (modifiers.ctrl || modifiers.alt || modifiers.super) {
        return std::nullopt;
    }
    for (const KeyPair& pair : k_keys) {
        if (pair.imgui == key && (!pair.shift || modifiers.shift)) {
            return pair.key;
        }
    }
    return std::nullopt;
}

void set_modifiers(ImGuiIO& io, Modifiers modifiers) {
    io.AddKeyEvent(ImGuiMod_Ctrl, modifiers.ctrl);
    io.AddKeyEvent(ImGuiMod_Shift, modifiers.shift);
    io.AddKeyEvent(ImGuiMod_Alt, modifiers.alt);
    io.AddKeyEvent(ImGuiMod_Super, modifiers.super);
}

} // namespace

Session::Session(Program& program, Painter& painter, const Screen& screen,
                 std::function<void()> wake)
    : wake_(std::move(wake)), program_(program), painter_(painter),
      context_(ImGui::CreateContext()), screen_(screen) {
    make_current(); // creating a second context leaves the first one current
    ImGuiIO& io = ImGui::GetIO();
    io.IniFilename = nullptr;
    io.LogFilename = nullptr;
    io.ConfigInputTextCursorBlink = false;
    io.BackendPlatformName = "railside";
    painter_.start();
    program_.set_waker(wake_.function());
    program_.start(painter_);
    resize(screen);
}

Session::~Session() {
    make_current();
    program_.textures_lost(); // it may live on: nothing of ours may be named any more
    painter_.stop();
    ImGui::DestroyContext(context_);
}

void Session::make_current() const { ImGui::SetCurrentContext(context_); }

void Session::want(int frames) { owed_ = std::min(std::max(owed_, frames), k_most_owed); }

void Session::resize(const Screen& screen) {
    make_current();
    screen_ = screen;
    ImGui::GetIO().DisplaySize =
        ImVec2(static_cast<float>(screen.width_px), static_cast<float>(screen.height_px));
    if (program_.resize(screen)) {
        painter_.drop_fonts();
    }
    want(k_frames_after_event);
}

void Session::textures_lost() {
    make_current();
    painter_.drop_all();
    program_.textures_lost();
    want(k_frames_after_event);
}

void Session::touch(const Touch& touch) {
    make_current();
    program_.touch(touch);
    want(k_frames_after_event);
}

void Session::wheel(float x_px, float y_px, float notches) {
    make_current();
    program_.wheel(x_px, y_px, notches);
    want(k_frames_after_event);
}

void Session::press(ImGuiKey key, Modifiers modifiers) {
    make_current();
    ImGuiIO& io = ImGui::GetIO();
    set_modifiers(io, modifiers);
    io.AddKeyEvent(key, true);
    io.AddKeyEvent(key, false);
    set_modifiers(io, {}); // or a Ctrl of long ago would still count for the next touch
    if (const std::optional<Key> known = program_key(key, modifiers)) {
        program_.key(*known);
    }
    want(std::max(k_frames_after_event, owed_ + k_frames_per_key));
}

void Session::key(Key key) {
    for (const KeyPair& pair : k_keys) {
        if (pair.key == key) {
            Modifiers modifiers;
            modifiers.shift = pair.shift;
            press(pair.imgui, modifiers);
            return;
        }
    }
}

void Session::text(std::string_view utf8) {
    if (utf8.empty()) {
        return;
    }
    make_current();
    if (utf8 == "?" && !program_.wants_text()) {
        key(Key::help);
        return;
    }
    program_.text(utf8);
    ImGui::GetIO().AddInputCharactersUTF8(std::string(utf8).c_str());
    want(std::max(k_frames_after_event, owed_ + k_frames_per_key));
}

void Session::drop_file(std::string_view path) {
    make_current();
    program_.drop_file(path);
    want(k_frames_after_event);
}

void Session::redraw() { want(1); }

void Session::deliver_news() {
    if (wake_.take()) {
        make_current();
        program_.news();
        want(k_frames_after_news);
    }
}

double Session::due_in(double now_s, double gap_s) const {
    const double wake_s = owed_ > 0 ? 0.0 : program_.wake_in(now_s);
    if (!(wake_s < k_never)) {
        return k_never;
    }
    // A frame may bear the time of a touch that is ahead of the clock: that is not waited for.
    const double gap_left_s = drawn_ ? std::min(gap_s, last_frame_s_ + gap_s - now_s) : 0.0;
    return std::max({0.0, wake_s, gap_left_s});
}

void Session::frame(double now_s) {
    make_current();
    ImGuiIO& io = ImGui::GetIO();
    const double step_s = drawn_ ? now_s - last_frame_s_ : 1.0 / 60;
    io.DeltaTime = static_cast<float>(std::clamp(step_s, k_least_step_s, k_most_step_s));
    last_frame_s_ = now_s;
    drawn_ = true;
    owed_ = std::max(0, owed_ - 1);
    if (program_.renew_fonts()) {
        painter_.drop_fonts();
    }
    painter_.begin_frame();
    ImGui::NewFrame();
    program_.frame(now_s);
    ImGui::Render();
    ImVec4 background = ImGui::GetStyle().Colors[ImGuiCol_WindowBg];
    background.w = 1;
    painter_.paint(*ImGui::GetDrawData(), ImGui::ColorConvertFloat4ToU32(background));
}

float density_px_per_mm(float dots_per_inch, float system_scale) {
    constexpr float k_mm_per_inch = 25.4F;
    constexpr float k_least_dpi = 60; // a large television
    constexpr float k_most_dpi = 700; // the finest phone
    if (dots_per_inch >= k_least_dpi && dots_per_inch <= k_most_dpi) {
        return dots_per_inch / k_mm_per_inch;
    }
    const float scale = system_scale >= 0.5F && system_scale <= 8 ? system_scale : 1;
    return 96 * scale / k_mm_per_inch;
}

} // namespace railside
