#include "app/hosts/raster.h"
#include "app/hosts/session.h"

#define SDL_MAIN_HANDLED
#include <SDL.h>
#include <imgui_impl_sdlrenderer2.h>

#include <algorithm>
#include <cmath>
#include <memory>
#include <optional>
#include <string>
#include <vector>

namespace railside {

namespace {

constexpr double k_frame_s = 1.0 / 60;
// Where the display itself sets the pace, this only keeps a window that nobody sees from running
// free.
constexpr double k_least_gap_s = 0.0065;
constexpr double k_hidden_gap_s = 0.5;
// The longest sleep: not a frame, only a look whether a signal came in unnoticed.
constexpr double k_longest_sleep_s = 5;

/// One clock for events and frames, so that neither lies in the other's future: SDL's, to the
/// millisecond.
double clock_s() { return static_cast<double>(SDL_GetTicks64()) * 1e-3; }

double event_s(Uint32 timestamp_ms) {
    const auto age_ms = static_cast<Sint32>(SDL_GetTicks() - timestamp_ms);
    return clock_s() - std::max(0, age_ms) * 1e-3;
}

/// On a display that a graphics device serves.
class DevicePainter final : public Painter {
  public:
    explicit DevicePainter(SDL_Renderer* renderer) : renderer_(renderer) {}

    ImTextureID make(const Pixels& pixels) override {
        if (pixels.rgba == nullptr) {
            return nullptr;
        }
        SDL_Texture* texture =
            SDL_CreateTexture(renderer_, SDL_PIXELFORMAT_RGBA32, SDL_TEXTUREACCESS_STATIC,
                              pixels.width, pixels.height);
        if (texture == nullptr) {
            return nullptr;
        }
        if (SDL_UpdateTexture(texture, nullptr, pixels.rgba, pixels.width * 4) != 0) {
            SDL_DestroyTexture(texture);
            return nullptr;
        }
        SDL_SetTextureBlendMode(texture, SDL_BLENDMODE_BLEND);
        SDL_SetTextureScaleMode(texture, SDL_ScaleModeLinear);
        textures_.push_back(texture);
        return texture;
    }
    void drop(ImTextureID id) override {
        const auto at = std::find(textures_.begin(), textures_.end(), id);
        if (at != textures_.end()) {
            SDL_DestroyTexture(*at);
            textures_.erase(at);
        }
    }
    void start() override { ImGui_ImplSDLRenderer2_Init(renderer_); }
    void stop() override {
        drop_all();
        ImGui_ImplSDLRenderer2_Shutdown();
    }
    void begin_frame() override { ImGui_ImplSDLRenderer2_NewFrame(); }
    void drop_fonts() override { ImGui_ImplSDLRenderer2_DestroyFontsTexture(); }
    void drop_all() override {
        drop_fonts();
        for (SDL_Texture* texture : textures_) {
            SDL_DestroyTexture(texture);
        }
        textures_.clear();
    }
    void paint(ImDrawData& data, ImU32 background) override {
        SDL_SetRenderDrawColor(renderer_, background & 0xFFU, (background >> 8) & 0xFFU,
                               (background >> 16) & 0xFFU, 255);
        SDL_RenderClear(renderer_);
        ImGui_ImplSDLRenderer2_RenderDrawData(&data);
        SDL_RenderPresent(renderer_);
    }

  private:
    SDL_Renderer* renderer_;
    std::vector<SDL_Texture*> textures_;
};

/// On a display without one: our own pixels, handed to the window.
class MemoryPainter final : public Painter {
  public:
    explicit MemoryPainter(SDL_Window* window) : window_(window) {}

    ImTextureID make(const Pixels& pixels) override { return raster_.make(pixels); }
    void drop(ImTextureID id) override { raster_.drop(id); }
    void start() override { raster_.start(); }
    void stop() override { raster_.stop(); }
    void begin_frame() override { raster_.begin_frame(); }
    void drop_fonts() override { raster_.drop_fonts(); }
    void drop_all() override { raster_.drop_all(); }
    void paint(ImDrawData& data, ImU32 background) override {
        SDL_Surface* shown = SDL_GetWindowSurface(window_);
        if (shown == nullptr) {
            return; // between two sizes; the size change that follows draws again
        }
        if (raster_.width() != shown->w || raster_.height() != shown->h) {
            raster_.resize(shown->w, shown->h);
        }
        raster_.paint(data, background);
        if (SDL_LockSurface(shown) == 0) {
            SDL_ConvertPixels(raster_.width(), raster_.height(), SDL_PIXELFORMAT_RGBA32,
                              raster_.pixels().data(), raster_.width() * 4, shown->format->format,
                              shown->pixels, shown->pitch);
            SDL_UnlockSurface(shown);
        }
        SDL_UpdateWindowSurface(window_);
    }

  private:
    SDL_Window* window_;
    Raster raster_;
};

struct CodePair {
    SDL_Keycode sdl;
    ImGuiKey imgui;
};

constexpr CodePair k_codes[] = {
    {SDLK_RETURN, ImGuiKey_Enter},
    {SDLK_KP_ENTER, ImGuiKey_KeypadEnter},
    {SDLK_ESCAPE, ImGuiKey_Escape},
    {SDLK_AC_BACK, ImGuiKey_Escape},
    {SDLK_BACKSPACE, ImGuiKey_Backspace},
    {SDLK_DELETE, ImGuiKey_Delete},
    {SDLK_TAB, ImGuiKey_Tab},
    {SDLK_UP, ImGuiKey_UpArrow},
    {SDLK_DOWN, ImGuiKey_DownArrow},
    {SDLK_LEFT, ImGuiKey_LeftArrow},
    {SDLK_RIGHT, ImGuiKey_RightArrow},
    {SDLK_PAGEUP, ImGuiKey_PageUp},
    {SDLK_PAGEDOWN, ImGuiKey_PageDown},
    {SDLK_HOME, ImGuiKey_Home},
    {SDLK_END, ImGuiKey_End},
    {SDLK_INSERT, ImGuiKey_Insert},
    {SDLK_F1, ImGuiKey_F1},
    {SDLK_a, ImGuiKey_A},
    {SDLK_c, ImGuiKey_C},
    {SDLK_v, ImGuiKey_V},
    {SDLK_x, ImGuiKey_X},
    {SDLK_y, ImGuiKey_Y},
    {SDLK_z, ImGuiKey_Z},
};

/// The number pad steers while Num Lock is off.
constexpr CodePair k_pad_codes[] = {
    {SDLK_KP_8, ImGuiKey_UpArrow},     {SDLK_KP_2, ImGuiKey_DownArrow},
    {SDLK_KP_4, ImGuiKey_LeftArrow},   {SDLK_KP_6, ImGuiKey_RightArrow},
    {SDLK_KP_9, ImGuiKey_PageUp},      {SDLK_KP_3, ImGuiKey_PageDown},
    {SDLK_KP_7, ImGuiKey_Home},        {SDLK_KP_1, ImGuiKey_End},
    {SDLK_KP_PERIOD, ImGuiKey_Delete},
};

ImGuiKey imgui_key(const SDL_Keysym& key) {
    for (const CodePair& pair : k_codes) {
        if (pair.sdl == key.sym) {
            return pair.imgui;
        }
    }
    if ((key.mod & KMOD_NUM) == 0) {
        for (const CodePair& pair : k_pad_codes) {
            if (pair.sdl == key.sym) {
                return pair.imgui;
            }
        }
    }
    return ImGuiKey_None;
}

Modifiers modifiers_of(Uint16 mod) {
    Modifiers all;
    // AltGr types characters; some keyboards report it as Ctrl and Alt.
    const bool alt_gr = (mod & KMOD_RALT) != 0 || (mod & KMOD_MODE) != 0;
    all.ctrl = (mod & KMOD_CTRL) != 0 && !alt_gr;
    all.shift = (mod & KMOD_SHIFT) != 0;
    all.alt = (mod & KMOD_LALT) != 0;
    all.super = (mod & KMOD_GUI) != 0;
    return all;
}

class Window {
  public:
    Window(SDL_Window* window, SDL_Renderer* renderer, const WindowOptions& options)
        : options_(options), window_(window), renderer_(renderer) {}

    void run(Program& program) {
        std::unique_ptr<Painter> painter;
        if (renderer_ != nullptr) {
            painter = std::make_unique<DevicePainter>(renderer_);
        } else {
            painter = std::make_unique<MemoryPainter>(window_);
        }
        // One kind of event for every window of this process; where SDL has none left, the loop
        // sees the news at its next turn.
        static const Uint32 k_news = SDL_RegisterEvents(1);
        Session session(program, *painter, measure(), [] {
            SDL_Event event{};
            event.type = k_news;
            SDL_PushEvent(&event);
        });
        session_ = &session;
        ImGuiIO& io = ImGui::GetIO();
        io.ClipboardUserData = this;
        io.SetClipboardTextFn = [](void*, const char* text) { SDL_SetClipboardText(text); };
        io.GetClipboardTextFn = [](void* self) { return static_cast<Window*>(self)->pasted(); };
        io.SetPlatformImeDataFn = [](ImGuiViewport*, ImGuiPlatformImeData* data) {
            const SDL_Rect beside{static_cast<int>(data->InputPos.x),
                                  static_cast<int>(data->InputPos.y), 1,
                                  static_cast<int>(data->InputLineHeight)};
            SDL_SetTextInputRect(&beside);
        };
        SDL_EventState(SDL_DROPFILE, SDL_ENABLE);
        raise_keyboard(SDL_HasScreenKeyboardSupport() == SDL_FALSE);

        while (!quit_ && !program.done()) {
            const double due_s = session.due_in(clock_s(), gap_s());
            if (due_s > 0) {
                sleep(std::min(due_s, k_longest_sleep_s));
            }
            SDL_Event event;
            while (!quit_ && SDL_PollEvent(&event) != 0) {
                handle(event);
            }
            session.deliver_news();
            if (quit_ || program.done()) {
                break;
            }
            const double now_s = clock_s();
            if (session.due_in(now_s, gap_s()) <= 0) {
                session.frame(now_s);
                if (SDL_HasScreenKeyboardSupport() == SDL_TRUE) {
                    raise_keyboard(program.wants_text());
                }
            }
        }
        session_ = nullptr;
    }

  private:
    /// Milliseconds are rounded up: a frame due in 0.3 ms must not be waited for in a spin.
    void sleep(double seconds) {
        SDL_Event event;
        if (SDL_WaitEventTimeout(&event, static_cast<int>(std::ceil(seconds * 1e3))) != 0) {
            handle(event);
        }
    }

    [[nodiscard]] double gap_s() const {
        if (hidden_) {
            return k_hidden_gap_s;
        }
        return renderer_ != nullptr && paced_ ? k_least_gap_s : k_frame_s;
    }

    [[nodiscard]] Screen measure() {
        Screen screen;
        SDL_GetWindowSize(window_, &window_w_, &window_h_);
        screen.width_px = window_w_;
        screen.height_px = window_h_;
#if SDL_VERSION_ATLEAST(2, 26, 0)
        SDL_GetWindowSizeInPixels(window_, &screen.width_px, &screen.height_px);
#endif
        if (renderer_ != nullptr) {
            SDL_GetRendererOutputSize(renderer_, &screen.width_px, &screen.height_px);
            SDL_RendererInfo info;
            paced_ = SDL_GetRendererInfo(renderer_, &info) == 0 &&
                     (info.flags & SDL_RENDERER_PRESENTVSYNC) != 0;
        }
        screen.width_px = std::max(1, screen.width_px);
        screen.height_px = std::max(1, screen.height_px);
        scale_x_ = static_cast<float>(screen.width_px) / static_cast<float>(std::max(1, window_w_));
        scale_y_ =
            static_cast<float>(screen.height_px) / static_cast<float>(std::max(1, window_h_));
        screen_ = screen;
        if (options_.px_per_mm > 0) {
            screen_.px_per_mm = options_.px_per_mm;
        } else {
            float dots_per_inch = 0;
            if (SDL_GetDisplayDPI(std::max(0, SDL_GetWindowDisplayIndex(window_)), &dots_per_inch,
                                  nullptr, nullptr) != 0) {
                dots_per_inch = 0;
            }
            screen_.px_per_mm = density_px_per_mm(dots_per_inch, scale_x_);
        }
        return screen_;
    }

    void measure_again() {
        const Screen before = screen_;
        if (measure() == before) {
            session_->redraw();
        } else {
            session_->resize(screen_);
        }
    }

    const char* pasted() {
        char* text = SDL_GetClipboardText();
        pasted_ = text != nullptr ? text : "";
        SDL_free(text);
        return pasted_.c_str();
    }

    void raise_keyboard(bool wanted) {
        if (wanted != (SDL_IsTextInputActive() == SDL_TRUE)) {
            if (wanted) {
                SDL_StartTextInput();
            } else {
                SDL_StopTextInput();
            }
        }
    }

    void finger(const SDL_TouchFingerEvent& event, TouchPhase phase) {
        const SDL_TouchDeviceType kind = SDL_GetTouchDeviceType(event.touchId);
        if (kind == SDL_TOUCH_DEVICE_INDIRECT_ABSOLUTE ||
            kind == SDL_TOUCH_DEVICE_INDIRECT_RELATIVE) {
            return; // a touchpad: its pointer comes as the mouse
        }
        SDL_ShowCursor(SDL_DISABLE); // until the mouse is used
        // Some systems number fingers from 0, which is the mouse's number here.
        const std::int64_t id = event.fingerId >= 0 ? event.fingerId + 1 : event.fingerId;
        session_->touch({phase, id, event.x * static_cast<float>(screen_.width_px),
                         event.y * static_cast<float>(screen_.height_px),
                         event_s(event.timestamp)});
    }

    void mouse(Sint32 x, Sint32 y, TouchPhase phase, Uint32 timestamp_ms) {
        mouse_x_ = static_cast<float>(x) * scale_x_;
        mouse_y_ = static_cast<float>(y) * scale_y_;
        mouse_down_ = phase == TouchPhase::begin || phase == TouchPhase::move;
        session_->touch({phase, 0, mouse_x_, mouse_y_, event_s(timestamp_ms)});
    }

    void handle(const SDL_Event& event) {
        switch (event.type) {
        case SDL_QUIT:
            quit_ = true;
            break;
        case SDL_FINGERDOWN:
            finger(event.tfinger, TouchPhase::begin);
            break;
        case SDL_FINGERMOTION:
            finger(event.tfinger, TouchPhase::move);
            break;
        case SDL_FINGERUP:
            finger(event.tfinger, TouchPhase::end);
            break;
        case SDL_MOUSEBUTTONDOWN:
            if (event.button.button == SDL_BUTTON_LEFT && event.button.which != SDL_TOUCH_MOUSEID) {
                mouse(event.button.x, event.button.y, TouchPhase::begin, event.button.timestamp);
            }
            break;
        case SDL_MOUSEMOTION:
            SDL_ShowCursor(SDL_ENABLE);
            if (mouse_down_ && event.motion.which != SDL_TOUCH_MOUSEID) {
                mouse(event.motion.x, event.motion.y, TouchPhase::move, event.motion.timestamp);
            }
            break;
        case SDL_MOUSEBUTTONUP:
            if (mouse_down_ && event.button.button == SDL_BUTTON_LEFT &&
                event.button.which != SDL_TOUCH_MOUSEID) {
                mouse(event.button.x, event.button.y, TouchPhase::end, event.button.timestamp);
            }
            break;
        case SDL_MOUSEWHEEL: {
            int x = 0;
            int y = 0;
            SDL_GetMouseState(&x, &y);
            const float turned = event.wheel.direction == SDL_MOUSEWHEEL_FLIPPED ? -1.0F : 1.0F;
            session_->wheel(static_cast<float>(x) * scale_x_, static_cast<float>(y) * scale_y_,
                            event.wheel.preciseY * turned);
            break;
        }
        case SDL_KEYDOWN: {
            const ImGuiKey key = imgui_key(event.key.keysym);
            if (key != ImGuiKey_None) {
                session_->press(key, modifiers_of(event.key.keysym.mod));
            }
            break;
        }
        case SDL_TEXTINPUT:
            session_->text(event.text.text);
            break;
        case SDL_DROPFILE:
            if (event.drop.file != nullptr) {
                session_->drop_file(event.drop.file);
            }
            SDL_free(event.drop.file);
            break;
        case SDL_DROPTEXT:
            SDL_free(event.drop.file);
            break;
        case SDL_RENDER_TARGETS_RESET:
        case SDL_RENDER_DEVICE_RESET:
            session_->textures_lost();
            break;
        case SDL_WINDOWEVENT:
            window_event(event.window);
            break;
        default:
            break;
        }
    }

    void window_event(const SDL_WindowEvent& event) {
        switch (event.event) {
        case SDL_WINDOWEVENT_CLOSE:
            quit_ = true;
            break;
        case SDL_WINDOWEVENT_SIZE_CHANGED:
        case SDL_WINDOWEVENT_DISPLAY_CHANGED:
            measure_again();
            break;
        case SDL_WINDOWEVENT_MINIMIZED:
        case SDL_WINDOWEVENT_HIDDEN:
            hidden_ = true;
            break;
        case SDL_WINDOWEVENT_SHOWN:
        case SDL_WINDOWEVENT_RESTORED:
        case SDL_WINDOWEVENT_MAXIMIZED:
        case SDL_WINDOWEVENT_EXPOSED:
            hidden_ = false;
            session_->redraw();
            break;
        case SDL_WINDOWEVENT_FOCUS_LOST:
            if (mouse_down_) { // its release may go to another window
                mouse_down_ = false;
                session_->touch({TouchPhase::cancel, 0, mouse_x_, mouse_y_, clock_s()});
            }
            break;
        default:
            break;
        }
    }

    const WindowOptions& options_;
    SDL_Window* window_;
    SDL_Renderer* renderer_;
    Session* session_ = nullptr;
    Screen screen_;
    std::string pasted_;
    int window_w_ = 1, window_h_ = 1;
    float scale_x_ = 1, scale_y_ = 1;
    float mouse_x_ = 0, mouse_y_ = 0;
    bool mouse_down_ = false;
    bool paced_ = false;
    bool hidden_ = false;
    bool quit_ = false;
};

/// Runs a function when the scope ends.
template <class F> class Finally {
  public:
    explicit Finally(F done) : done_(std::move(done)) {}
    ~Finally() { done_(); }
    Finally(const Finally&) = delete;
    Finally& operator=(const Finally&) = delete;

  private:
    F done_;
};

/// Null where there is no graphics device: SDL's own software renderer leaves lines and curves
/// jagged, our raster does not.
SDL_Renderer* device_renderer(SDL_Window* window) {
    const char* named = SDL_GetHint(SDL_HINT_RENDER_DRIVER);
    if (named != nullptr && SDL_strcasecmp(named, "software") == 0) {
        return nullptr;
    }
    return SDL_CreateRenderer(window, -1, SDL_RENDERER_ACCELERATED | SDL_RENDERER_PRESENTVSYNC);
}

Error no_window(const std::string& step) {
    return Error{ErrorCode::failed, "window",
                 "No window could be opened: " + step + " failed in SDL (" + SDL_GetError() + ")."};
}

} // namespace

Result<Done> run_sdl2(Program& program, const WindowOptions& options) {
    SDL_SetMainReady();
    SDL_SetHint(SDL_HINT_TOUCH_MOUSE_EVENTS, "0");
    SDL_SetHint(SDL_HINT_MOUSE_TOUCH_EVENTS, "0");
    SDL_SetHint(SDL_HINT_MOUSE_FOCUS_CLICKTHROUGH, "1"); // the first tap on the window counts
    SDL_SetHint(SDL_HINT_VIDEO_X11_NET_WM_BYPASS_COMPOSITOR, "0");
    SDL_SetHint(SDL_HINT_IME_SHOW_UI, "1");
    SDL_SetHint(SDL_HINT_APP_NAME, options.title.c_str());
    if (SDL_InitSubSystem(SDL_INIT_VIDEO | SDL_INIT_EVENTS) != 0) {
        return no_window("starting the display");
    }
    const Finally quit([] { SDL_QuitSubSystem(SDL_INIT_VIDEO | SDL_INIT_EVENTS); });

    Uint32 flags = SDL_WINDOW_RESIZABLE | SDL_WINDOW_ALLOW_HIGHDPI;
    SDL_Rect usable{0, 0, 1280, 800};
    SDL_GetDisplayUsableBounds(0, &usable);
    int width = options.width_px;
    int height = options.height_px;
    if (options.full_screen) {
        flags |= SDL_WINDOW_FULLSCREEN_DESKTOP;
    } else if (width <= 0 && height <= 0) {
        flags |= SDL_WINDOW_MAXIMIZED;
    }
    width = width > 0 ? width : usable.w;
    height = height > 0 ? height : usable.h;
    SDL_Window* window = SDL_CreateWindow(options.title.c_str(), SDL_WINDOWPOS_CENTERED,
                                          SDL_WINDOWPOS_CENTERED, width, height, flags);
    if (window == nullptr) {
        return no_window("making the window");
    }
    const Finally close([&] { SDL_DestroyWindow(window); });

    SDL_Renderer* renderer = device_renderer(window);
    const Finally release([&] {
        if (renderer != nullptr) {
            SDL_DestroyRenderer(renderer);
        }
    });
    if (renderer == nullptr && SDL_GetWindowSurface(window) == nullptr) {
        return no_window("drawing in the window");
    }
    Window(window, renderer, options).run(program);
    return Done{};
}

} // namespace railside
