#include "app/hosts/raster.h"

#include <algorithm>
#include <chrono>
#include <cmath>
#include <condition_variable>
#include <mutex>
#include <span>

namespace railside {

namespace {

constexpr double k_frame_s = 1.0 / 60;
constexpr int k_most_settling = 240;

/// Paints a frame only when its pixels are asked for: most frames of a robot's are never looked at,
/// and painting them would be nearly all the work. ImGui keeps a frame's lists until the next one.
class WhenAsked final : public Painter {
  public:
    void resize(int width, int height) {
        due_ = nullptr;
        raster_.resize(width, height);
    }
    [[nodiscard]] std::span<const std::uint32_t> pixels() {
        paint_due();
        return raster_.pixels();
    }

    [[nodiscard]] ImTextureID make(const Pixels& pixels) override { return raster_.make(pixels); }
    void drop(ImTextureID id) override {
        // It may be in the lists: they are painted while it is there.
        paint_due();
        raster_.drop(id);
    }
    void start() override { raster_.start(); }
    void stop() override {
        due_ = nullptr;
        raster_.stop();
    }
    void begin_frame() override {
        due_ = nullptr;
        raster_.begin_frame();
    }
    void drop_fonts() override {
        paint_due();
        raster_.drop_fonts();
    }
    void drop_all() override {
        paint_due();
        raster_.drop_all();
    }
    void paint(ImDrawData& data, ImU32 background) override {
        due_ = &data;
        background_ = background;
    }

  private:
    void paint_due() {
        if (due_ != nullptr)
            raster_.paint(*due_, background_);
        due_ = nullptr;
    }

    Raster raster_;
    ImDrawData* due_ = nullptr;
    ImU32 background_ = 0;
};

class MemoryHost final : public Headless {
  public:
    MemoryHost(Program& program, const Screen& screen)
        : session_(program, raster_, screen, [this] { wake(); }) {
        raster_.resize(screen.width_px, screen.height_px);
    }

    int settle(int at_most) override {
        int drawn = 0;
        session_.deliver_news();
        while (drawn < at_most && session_.due_in(now_s_, 0) <= 0) {
            now_s_ += k_frame_s;
            draw();
            drawn++;
            session_.deliver_news();
        }
        return drawn;
    }

    int settle_news(double at_most_s) override {
        {
            const std::lock_guard lock(mutex_);
            woke_ = false; // before the look: a call in between is then seen by one or the other
        }
        if (!session_.news_waiting()) {
            std::unique_lock lock(mutex_);
            woken_.wait_for(lock, std::chrono::duration<double>(std::max(0.0, at_most_s)),
                            [this] { return woke_; });
        }
        return session_.news_waiting() ? settle(k_most_settling) : 0;
    }

    int pass_time(double seconds) override {
        const double end_s = now_s_ + std::max(0.0, seconds);
        int drawn = 0;
        for (;;) {
            session_.deliver_news();
            const double next_s = now_s_ + std::max(session_.due_in(now_s_, 0), k_frame_s);
            if (!(next_s <= end_s)) {
                break;
            }
            now_s_ = next_s;
            draw();
            drawn++;
        }
        now_s_ = end_s;
        return drawn;
    }

    void touch(TouchPhase phase, std::int64_t finger, float x_px, float y_px) override {
        session_.touch({phase, finger, x_px, y_px, now_s_});
    }
    void wheel(float x_px, float y_px, float notches) override {
        session_.wheel(x_px, y_px, notches);
    }
    void key(Key key) override { session_.key(key); }
    void text(std::string_view utf8) override { session_.text(utf8); }
    void drop_file(std::string_view path) override { session_.drop_file(path); }
    void resize(const Screen& screen) override {
        raster_.resize(screen.width_px, screen.height_px);
        session_.resize(screen);
    }

    [[nodiscard]] double now_s() const override { return now_s_; }
    [[nodiscard]] std::string pixels() override {
        const auto bytes = std::as_bytes(raster_.pixels());
        return {reinterpret_cast<const char*>(bytes.data()), bytes.size()};
    }
    [[nodiscard]] const Screen& screen() const override { return session_.screen(); }
    [[nodiscard]] int vertices() const override { return vertices_; }

  private:
    void wake() {
        {
            const std::lock_guard lock(mutex_);
            woke_ = true;
        }
        woken_.notify_one();
    }

    void draw() {
        session_.frame(now_s_);
        vertices_ = ImGui::GetDrawData()->TotalVtxCount;
    }

    WhenAsked raster_;
    std::mutex mutex_;
    std::condition_variable woken_;
    bool woke_ = false;
    Session session_;
    double now_s_ = 0;
    int vertices_ = 0;
};

} // namespace

Result<std::unique_ptr<Headless>> Headless::create(Program& program, const Screen& screen) {
    constexpr int k_most_px = 16384;
    if (screen.width_px < 1 || screen.height_px < 1 || screen.width_px > k_most_px ||
        screen.height_px > k_most_px) {
        return Error{ErrorCode::out_of_range, "screen",
                     "The picture would be " + std::to_string(screen.width_px) + " by " +
                         std::to_string(screen.height_px) +
                         " pixels; each side may be 1 to 16384."};
    }
    return std::unique_ptr<Headless>(std::make_unique<MemoryHost>(program, screen));
}

} // namespace railside
