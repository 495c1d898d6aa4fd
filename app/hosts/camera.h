// A live camera: a small moving picture for the screen, a full one when asked. No camera is a state
// like any other, not an error.
#pragma once

#include "core/result.h"

#include <atomic>
#include <chrono>
#include <cstdint>
#include <deque>
#include <functional>
#include <memory>
#include <mutex>
#include <string>
#include <thread>
#include <utility>
#include <vector>

namespace railside {

enum class CameraState {
    none,    // none is connected; looked for again and again
    opening, // found, no picture yet
    live,
    busy,   // another program has it
    denied, // this user may not use it
    lost,   // it was live and is gone, or gives no pictures
};

/// What to tell the person, and what to do.
[[nodiscard]] std::string camera_sentence(CameraState state);

/// Upright RGBA pixels, rows from the top.
struct CameraFrame {
    int width = 0;
    int height = 0;
    std::vector<std::uint8_t> rgba;
    std::uint64_t serial = 0; // counts up by one for each new frame
};

class CameraSource {
  public:
    static constexpr int k_longest_preview = 1280;
    static constexpr int k_most_previews_per_s = 15;

    /// A whole JPEG file, or why there is none.
    using Got = std::function<void(Result<std::string>)>;

    virtual ~CameraSource() = default;

    [[nodiscard]] virtual CameraState state() const = 0;
    [[nodiscard]] virtual std::string sentence() const = 0;
    /// The newest preview, shared and not copied; null before the first and while not live.
    [[nodiscard]] virtual std::shared_ptr<const CameraFrame> latest() const = 0;
    /// The next full picture, taken after this call. `got` runs within take_ready(), once for each
    /// call: also when the camera is not live, is lost meanwhile or is closed.
    virtual void take_picture(Got got) = 0;
    /// On the interface thread, from Program::news: hands over what is ready. Returns how many.
    virtual int take_ready() = 0;
};

/// What all cameras share: the state that two threads see. `wake` is called from whichever thread
/// changes something: a state, a preview, a picture.
class CameraBase : public CameraSource {
  public:
    explicit CameraBase(std::function<void()> wake) : wake_(std::move(wake)) {}

    [[nodiscard]] CameraState state() const override;
    [[nodiscard]] std::string sentence() const override;
    [[nodiscard]] std::shared_ptr<const CameraFrame> latest() const override;
    void take_picture(Got got) override;
    int take_ready() override;

  protected:
    using Clock = std::chrono::steady_clock;

    void set_state(CameraState state);
    void show(CameraFrame frame);
    /// Since when the oldest picture not yet taken has been asked for.
    [[nodiscard]] bool asked(Clock::time_point& since) const;
    /// Answers the oldest one asked for.
    void give(Result<std::string> picture);
    /// At the end, when no thread of its own runs any more: answers everybody, on this thread.
    void close();

  private:
    struct Asked {
        Got got;
        Clock::time_point since;
    };
    struct Ready {
        Got got;
        Result<std::string> picture;
    };
    void call() const;
    [[nodiscard]] Error no_picture() const; // with mutex_ held

    const std::function<void()> wake_;
    mutable std::mutex mutex_;
    CameraState state_ = CameraState::opening;
    std::shared_ptr<const CameraFrame> latest_;
    std::uint64_t serial_ = 0;
    std::deque<Asked> asked_;
    std::deque<Ready> ready_;
};

/// A camera of the program's own, for tests and for looking at rooms: a moving pattern.
class FakeCamera final : public CameraBase {
  public:
    enum class Pace {
        by_hand, // step() by step()
        alive,   // 15 frames a second from a thread of its own
    };
    FakeCamera(std::function<void()> wake, int width, int height, Pace pace = Pace::by_hand);
    ~FakeCamera() override;

    /// As if it were unplugged, taken by another program, forbidden, broken (lost), or itself again
    /// (opening; live with the next step).
    void become(CameraState state);
    /// The next frame, and the picture that was asked for; nothing in any other state.
    void step();
    /// How many frames there were.
    [[nodiscard]] int steps() const { return steps_; }

  private:
    [[nodiscard]] std::vector<std::uint8_t> pattern(int step) const; // RGB

    const int width_;
    const int height_;
    std::atomic<int> steps_ = 0;
    std::atomic<bool> stopping_ = false;
    std::thread thread_;
};

/// The camera of this machine: the first that V4L2 offers on Linux, elsewhere one that is always
/// `none`. It starts at once; destroying it frees the device.
[[nodiscard]] std::unique_ptr<CameraSource> open_camera(std::function<void()> wake);

} // namespace railside
