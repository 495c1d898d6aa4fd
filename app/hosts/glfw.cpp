#include "app/hosts/gl_painter.h"
#include "app/hosts/session.h"

#include <GLFW/glfw3.h>

#include <algorithm>
#include <csignal>
#include <cstdint>
#include <string>
#include <vector>

namespace railside {

namespace {

// The display sets the pace; this only keeps a window that nobody sees from running free.
constexpr double k_least_gap_s = 0.0065;
constexpr double k_hidden_gap_s = 0.5;
// GLFW sleeps on through signals: the longest sleep is how late a request to stop may be seen. No
// frame is drawn for it.
constexpr double k_longest_sleep_s = 0.5;

/// Shows each picture in the window.
class WindowPainter final : public GlPainter {
  public:
    explicit WindowPainter(GLFWwindow* window) : window_(window) {}
    void paint(ImDrawData& data, ImU32 background) override {
        GlPainter::paint(data, background);
        glfwSwapBuffers(window_);
    }

  private:
    GLFWwindow* window_;
};

struct CodePair {
    int glfw;
    ImGuiKey imgui;
};

constexpr CodePair k_codes[] = {
    {GLFW_KEY_ENTER, ImGuiKey_Enter},    {GLFW_KEY_KP_ENTER, ImGuiKey_KeypadEnter},
    {GLFW_KEY_ESCAPE, ImGuiKey_Escape},  {GLFW_KEY_BACKSPACE, ImGuiKey_Backspace},
    {GLFW_KEY_DELETE, ImGuiKey_Delete},  {GLFW_KEY_TAB, ImGuiKey_Tab},
    {GLFW_KEY_UP, ImGuiKey_UpArrow},     {GLFW_KEY_DOWN, ImGuiKey_DownArrow},
    {GLFW_KEY_LEFT, ImGuiKey_LeftArrow}, {GLFW_KEY_RIGHT, ImGuiKey_RightArrow},
    {GLFW_KEY_PAGE_UP, ImGuiKey_PageUp}, {GLFW_KEY_PAGE_DOWN, ImGuiKey_PageDown},
    {GLFW_KEY_HOME, ImGuiKey_Home},      {GLFW_KEY_END, ImGuiKey_End},
    {GLFW_KEY_INSERT, ImGuiKey_Insert},  {GLFW_KEY_F1, ImGuiKey_F1},
};

/// The number pad steers while Num Lock is off.
constexpr CodePair k_pad_codes[] = {
    {GLFW_KEY_KP_8, ImGuiKey_UpArrow},      {GLFW_KEY_KP_2, ImGuiKey_DownArrow},
    {GLFW_KEY_KP_4, ImGuiKey_LeftArrow},    {GLFW_KEY_KP_6, ImGuiKey_RightArrow},
    {GLFW_KEY_KP_9, ImGuiKey_PageUp},       {GLFW_KEY_KP_3, ImGuiKey_PageDown},
    {GLFW_KEY_KP_7, ImGuiKey_Home},         {GLFW_KEY_KP_1, ImGuiKey_End},
    {GLFW_KEY_KP_DECIMAL, ImGuiKey_Delete},
};

/// Letters by what the keyboard's layout prints on the key, the others by their place.
ImGuiKey imgui_key(int key, int scancode, int modifiers) {
    for (const CodePair& pair : k_codes) {
        if (pair.glfw == key) {
            return pair.imgui;
        }
    }
    if ((modifiers & GLFW_MOD_NUM_LOCK) == 0) {
        for (const CodePair& pair : k_pad_codes) {
            if (pair.glfw == key) {
                return pair.imgui;
            }
        }
    }
    if (key >= GLFW_KEY_A && key <= GLFW_KEY_Z) {
        const char* name = glfwGetKeyName(key, scancode);
        switch (name != nullptr && name[0] != '\0' && name[1] == '\0'
                    ? name[0]
                    : static_cast<char>('a' + key - GLFW_KEY_A)) {
        case 'a':
            return ImGuiKey_A;
        case 'c':
            return ImGuiKey_C;
        case 'v':
            return ImGuiKey_V;
        case 'x':
            return ImGuiKey_X;
        case 'y':
            return ImGuiKey_Y;
        case 'z':
            return ImGuiKey_Z;
        default:
            break;
        }
    }
    return ImGuiKey_None;
}

std::string utf8_of(unsigned int code) {
    std::string text;
    const auto byte = [&](unsigned int value) { text += static_cast<char>(value); };
    if (code < 0x80) {
        byte(code);
    } else if (code < 0x800) {
        byte(0xC0 | (code >> 6));
        byte(0x80 | (code & 0x3F));
    } else if (code < 0x10000) {
        byte(0xE0 | (code >> 12));
        byte(0x80 | ((code >> 6) & 0x3F));
        byte(0x80 | (code & 0x3F));
    } else if (code < 0x110000) {
        byte(0xF0 | (code >> 18));
        byte(0x80 | ((code >> 12) & 0x3F));
        byte(0x80 | ((code >> 6) & 0x3F));
        byte(0x80 | (code & 0x3F));
    }
    return text;
}

volatile std::sig_atomic_t stop_asked = 0;

extern "C" void ask_stop(int) { stop_asked = 1; }

/// SIGTERM and SIGINT end the program as closing the window does.
class StopSignals {
  public:
    StopSignals() {
        stop_asked = 0;
        term_ = std::signal(SIGTERM, ask_stop);
        interrupt_ = std::signal(SIGINT, ask_stop);
    }
    ~StopSignals() {
        std::signal(SIGTERM, term_);
        std::signal(SIGINT, interrupt_);
    }
    StopSignals(const StopSignals&) = delete;
    StopSignals& operator=(const StopSignals&) = delete;

  private:
    using Handler = void (*)(int);
    Handler term_ = SIG_DFL;
    Handler interrupt_ = SIG_DFL;
};

class Window {
  public:
    Window(GLFWwindow* window, const WindowOptions& options) : options_(options), window_(window) {}

    void run(Program& program) {
        WindowPainter painter(window_);
        Session session(program, painter, measure(), [] { glfwPostEmptyEvent(); });
        session_ = &session;
        ImGuiIO& io = ImGui::GetIO();
        io.ClipboardUserData = window_;
        io.SetClipboardTextFn = [](void* window, const char* text) {
            glfwSetClipboardString(static_cast<GLFWwindow*>(window), text);
        };
        io.GetClipboardTextFn = [](void* window) {
            return glfwGetClipboardString(static_cast<GLFWwindow*>(window));
        };
        listen();

        const StopSignals signals;
        const auto stopped = [&] {
            return stop_asked != 0 || glfwWindowShouldClose(window_) == GLFW_TRUE || program.done();
        };
        while (!stopped()) {
            const double due_s = session.due_in(glfwGetTime(), gap_s());
            if (due_s > 0) {
                glfwWaitEventsTimeout(std::min(due_s, k_longest_sleep_s));
            } else {
                glfwPollEvents();
            }
            session.deliver_news();
            if (stopped()) {
                break;
            }
            const double now_s = glfwGetTime();
            if (session.due_in(now_s, gap_s()) <= 0) {
                session.frame(now_s);
            }
        }
        deafen();
        session_ = nullptr;
    }

  private:
    [[nodiscard]] double gap_s() const { return hidden_ ? k_hidden_gap_s : k_least_gap_s; }

    /// Hidden or closing, the framebuffer may be 0 by 0: the last real size is kept.
    [[nodiscard]] Screen measure() {
        int window_w = 0;
        int window_h = 0;
        int width = 0;
        int height = 0;
        glfwGetWindowSize(window_, &window_w, &window_h);
        glfwGetFramebufferSize(window_, &width, &height);
        if (width > 0 && height > 0 && window_w > 0 && window_h > 0) {
            screen_.width_px = width;
            screen_.height_px = height;
            scale_x_ = static_cast<float>(width) / static_cast<float>(window_w);
            scale_y_ = static_cast<float>(height) / static_cast<float>(window_h);
        }
        screen_.px_per_mm = options_.px_per_mm > 0 ? options_.px_per_mm : density();
        return screen_;
    }

    [[nodiscard]] float density() const {
        float scale_x = 1;
        float scale_y = 1;
        glfwGetWindowContentScale(window_, &scale_x, &scale_y);
        float dots_per_inch = 0;
        if (GLFWmonitor* monitor = monitor_under()) {
            int width_mm = 0;
            int height_mm = 0;
            glfwGetMonitorPhysicalSize(monitor, &width_mm, &height_mm);
            const GLFWvidmode* mode = glfwGetVideoMode(monitor);
            if (mode != nullptr && width_mm > 0) {
                dots_per_inch = static_cast<float>(mode->width) * scale_x_ * 25.4F /
                                static_cast<float>(width_mm);
            }
        }
        return density_px_per_mm(dots_per_inch, scale_x);
    }

    /// The monitor that the middle of the window lies on.
    [[nodiscard]] GLFWmonitor* monitor_under() const {
        if (GLFWmonitor* whole = glfwGetWindowMonitor(window_)) {
            return whole;
        }
        int x = 0;
        int y = 0;
        int width = 0;
        int height = 0;
        glfwGetWindowPos(window_, &x, &y);
        glfwGetWindowSize(window_, &width, &height);
        x += width / 2;
        y += height / 2;
        int count = 0;
        GLFWmonitor** monitors = glfwGetMonitors(&count);
        for (int i = 0; i < count; i++) {
            int left = 0;
            int top = 0;
            glfwGetMonitorPos(monitors[i], &left, &top);
            const GLFWvidmode* mode = glfwGetVideoMode(monitors[i]);
            if (mode != nullptr && x >= left && y >= top && x < left + mode->width &&
                y < top + mode->height) {
                return monitors[i];
            }
        }
        return glfwGetPrimaryMonitor();
    }

    void measure_again() {
        const Screen before = screen_;
        if (measure() == before) {
            session_->redraw();
        } else {
            session_->resize(screen_);
        }
    }

    void mouse(TouchPhase phase) {
        mouse_down_ = phase == TouchPhase::begin || phase == TouchPhase::move;
        session_->touch({phase, 0, mouse_x_, mouse_y_, glfwGetTime()});
    }

    void mouse_is_at(double x, double y) {
        mouse_x_ = static_cast<float>(x) * scale_x_;
        mouse_y_ = static_cast<float>(y) * scale_y_;
    }

    static Window& of(GLFWwindow* window) {
        return *static_cast<Window*>(glfwGetWindowUserPointer(window));
    }

    void listen() {
        glfwSetWindowUserPointer(window_, this);
        glfwSetInputMode(window_, GLFW_LOCK_KEY_MODS, GLFW_TRUE);
        double x = 0;
        double y = 0;
        glfwGetCursorPos(window_, &x, &y);
        mouse_is_at(x, y);
        glfwSetMouseButtonCallback(window_, [](GLFWwindow* w, int button, int action, int) {
            Window& self = of(w);
            if (button != GLFW_MOUSE_BUTTON_LEFT) {
                return;
            }
            if (action == GLFW_PRESS) {
                self.mouse(TouchPhase::begin);
            } else if (self.mouse_down_) {
                self.mouse(TouchPhase::end);
            }
        });
        glfwSetCursorPosCallback(window_, [](GLFWwindow* w, double x, double y) {
            of(w).mouse_is_at(x, y);
            if (of(w).mouse_down_) {
                of(w).mouse(TouchPhase::move);
            }
        });
        glfwSetScrollCallback(window_, [](GLFWwindow* w, double, double notches) {
            const Window& self = of(w);
            self.session_->wheel(self.mouse_x_, self.mouse_y_, static_cast<float>(notches));
        });
        glfwSetKeyCallback(window_,
                           [](GLFWwindow* w, int code, int scancode, int action, int mods) {
                               const ImGuiKey key = imgui_key(code, scancode, mods);
                               if (action == GLFW_RELEASE || key == ImGuiKey_None) {
                                   return;
                               }
                               Modifiers modifiers;
                               modifiers.ctrl = (mods & GLFW_MOD_CONTROL) != 0;
                               modifiers.shift = (mods & GLFW_MOD_SHIFT) != 0;
                               modifiers.alt = (mods & GLFW_MOD_ALT) != 0;
                               modifiers.super = (mods & GLFW_MOD_SUPER) != 0;
                               of(w).session_->press(key, modifiers);
                           });
        glfwSetCharCallback(
            window_, [](GLFWwindow* w, unsigned int code) { of(w).session_->text(utf8_of(code)); });
        glfwSetDropCallback(window_, [](GLFWwindow* w, int count, const char** paths) {
            for (int i = 0; i < count; i++) {
                of(w).session_->drop_file(paths[i]);
            }
        });
        glfwSetFramebufferSizeCallback(window_,
                                       [](GLFWwindow* w, int, int) { of(w).measure_again(); });
        glfwSetWindowContentScaleCallback(
            window_, [](GLFWwindow* w, float, float) { of(w).measure_again(); });
        glfwSetWindowPosCallback(window_, [](GLFWwindow* w, int, int) {
            const Screen before = of(w).screen_;
            if (!(of(w).measure() == before)) { // another monitor
                of(w).session_->resize(of(w).screen_);
            }
        });
        glfwSetWindowRefreshCallback(window_, [](GLFWwindow* w) { of(w).session_->redraw(); });
        glfwSetWindowIconifyCallback(window_, [](GLFWwindow* w, int iconified) {
            of(w).hidden_ = iconified == GLFW_TRUE;
            of(w).session_->redraw();
        });
        glfwSetWindowFocusCallback(window_, [](GLFWwindow* w, int focused) {
            if (focused == GLFW_FALSE && of(w).mouse_down_) {
                of(w).mouse(TouchPhase::cancel); // its release may go to another window
            }
        });
    }

    void deafen() {
        glfwSetMouseButtonCallback(window_, nullptr);
        glfwSetCursorPosCallback(window_, nullptr);
        glfwSetScrollCallback(window_, nullptr);
        glfwSetKeyCallback(window_, nullptr);
        glfwSetCharCallback(window_, nullptr);
        glfwSetDropCallback(window_, nullptr);
        glfwSetFramebufferSizeCallback(window_, nullptr);
        glfwSetWindowContentScaleCallback(window_, nullptr);
        glfwSetWindowPosCallback(window_, nullptr);
        glfwSetWindowRefreshCallback(window_, nullptr);
        glfwSetWindowIconifyCallback(window_, nullptr);
        glfwSetWindowFocusCallback(window_, nullptr);
    }

    const WindowOptions& options_;
    GLFWwindow* window_;
    Session* session_ = nullptr;
    Screen screen_;
    float scale_x_ = 1, scale_y_ = 1;
    float mouse_x_ = 0, mouse_y_ = 0;
    bool mouse_down_ = false;
    bool hidden_ = false;
};

/// GLFW, from its start to its end.
class Library {
  public:
    [[nodiscard]] bool start() { return started_ = glfwInit() == GLFW_TRUE; }
    Library() = default;
    ~Library() {
        if (started_) {
            glfwTerminate();
        }
    }
    Library(const Library&) = delete;
    Library& operator=(const Library&) = delete;

  private:
    bool started_ = false;
};

Error no_window(const std::string& step) {
    const char* why = nullptr;
    glfwGetError(&why);
    return Error{ErrorCode::failed, "window",
                 "No window could be opened: " + step + " failed in GLFW (" +
                     (why != nullptr ? why : "no reason given") + ")."};
}

} // namespace

Result<Done> run_glfw(Program& program, const WindowOptions& options) {
    Library library;
    if (!library.start()) {
        return no_window("starting the display");
    }
    glfwDefaultWindowHints();
#ifdef __APPLE__
    glfwWindowHint(GLFW_CONTEXT_VERSION_MAJOR, 3);
    glfwWindowHint(GLFW_CONTEXT_VERSION_MINOR, 2);
    glfwWindowHint(GLFW_OPENGL_PROFILE, GLFW_OPENGL_CORE_PROFILE);
    glfwWindowHint(GLFW_OPENGL_FORWARD_COMPAT, GLFW_TRUE);
#else
    glfwWindowHint(GLFW_CONTEXT_VERSION_MAJOR, 3);
    glfwWindowHint(GLFW_CONTEXT_VERSION_MINOR, 0);
#endif
    glfwWindowHint(GLFW_FOCUS_ON_SHOW, GLFW_TRUE);

    GLFWmonitor* monitor = glfwGetPrimaryMonitor();
    int width = 1280;
    int height = 800;
    if (monitor != nullptr) {
        int x = 0;
        int y = 0;
        if (const GLFWvidmode* mode = options.full_screen ? glfwGetVideoMode(monitor) : nullptr) {
            // The display's own mode, so that nothing is switched.
            width = mode->width;
            height = mode->height;
            glfwWindowHint(GLFW_RED_BITS, mode->redBits);
            glfwWindowHint(GLFW_GREEN_BITS, mode->greenBits);
            glfwWindowHint(GLFW_BLUE_BITS, mode->blueBits);
            glfwWindowHint(GLFW_REFRESH_RATE, mode->refreshRate);
        } else {
            glfwGetMonitorWorkarea(monitor, &x, &y, &width, &height);
        }
    }
    if (!options.full_screen) {
        if (options.width_px <= 0 && options.height_px <= 0) {
            glfwWindowHint(GLFW_MAXIMIZED, GLFW_TRUE);
        }
        width = options.width_px > 0 ? options.width_px : width;
        height = options.height_px > 0 ? options.height_px : height;
    }
    GLFWwindow* window =
        glfwCreateWindow(std::max(1, width), std::max(1, height), options.title.c_str(),
                         options.full_screen ? monitor : nullptr, nullptr);
    if (window == nullptr) {
        return no_window("making a window with OpenGL 3");
    }
    glfwMakeContextCurrent(window);
    glfwSwapInterval(1);
    Window(window, options).run(program);
    glfwDestroyWindow(window);
    return Done{};
}

} // namespace railside
