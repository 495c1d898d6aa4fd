#include "app/hosts/camera.h"

#include "app/hosts/camera_frames.h"
#ifdef __linux__
#include "app/hosts/camera_v4l2.h"
#endif
#include "core/words/words.h"

#include <algorithm>
#include <cstddef>
#include <optional>
#include <utility>

namespace railside {

std::string camera_sentence(CameraState state) {
    switch (state) {
    case CameraState::none:
        return "No camera is connected. Plug one in, or add pictures from a file or a folder.";
    case CameraState::opening:
        return "The camera is starting.";
    case CameraState::live:
        return "The camera is live.";
    case CameraState::busy:
        return "Another program is using the camera. Close it there; it is tried again every 2 "
               "seconds.";
    case CameraState::denied:
        return "This user may not use the camera. Add the user to the group video and log in "
               "again.";
    case CameraState::lost:
        return "The camera is gone or gives no pictures. Plug it in again; it is looked for every "
               "2 seconds.";
    }
    return {};
}

CameraState CameraBase::state() const {
    const std::lock_guard lock(mutex_);
    return state_;
}

std::string CameraBase::sentence() const { return camera_sentence(state()); }

std::shared_ptr<const CameraFrame> CameraBase::latest() const {
    const std::lock_guard lock(mutex_);
    return latest_;
}

void CameraBase::take_picture(Got got) {
    {
        const std::lock_guard lock(mutex_);
        if (state_ == CameraState::live) {
            asked_.push_back({std::move(got), Clock::now()});
            return;
        }
        ready_.push_back({std::move(got), no_picture()});
    }
    call();
}

int CameraBase::take_ready() {
    std::deque<Ready> ready;
    {
        const std::lock_guard lock(mutex_);
        ready.swap(ready_);
    }
    for (Ready& one : ready) {
        if (one.got) {
            one.got(std::move(one.picture));
        }
    }
    return static_cast<int>(ready.size());
}

void CameraBase::set_state(CameraState state) {
    {
        const std::lock_guard lock(mutex_);
        if (state_ == state) {
            return;
        }
        state_ = state;
        if (state != CameraState::live) {
            latest_ = nullptr;
            for (Asked& one : asked_) {
                ready_.push_back({std::move(one.got), no_picture()});
            }
            asked_.clear();
        }
    }
    call();
}

void CameraBase::show(CameraFrame frame) {
    auto shown = std::make_shared<CameraFrame>(std::move(frame));
    {
        const std::lock_guard lock(mutex_);
        shown->serial = ++serial_;
        latest_ = std::move(shown);
        state_ = CameraState::live;
    }
    call();
}

bool CameraBase::asked(Clock::time_point& since) const {
    const std::lock_guard lock(mutex_);
    if (asked_.empty()) {
        return false;
    }
    since = asked_.front().since;
    return true;
}

void CameraBase::give(Result<std::string> picture) {
    {
        const std::lock_guard lock(mutex_);
        if (asked_.empty()) {
            return;
        }
        ready_.push_back({std::move(asked_.front().got), std::move(picture)});
        asked_.pop_front();
    }
    call();
}

void CameraBase::close() {
    {
        const std::lock_guard lock(mutex_);
        for (Asked& one : asked_) {
            ready_.push_back(
                {std::move(one.got), Error{ErrorCode::refused, "camera",
                                           "The camera was closed before the picture was taken."}});
        }
        asked_.clear();
    }
    take_ready();
}

void CameraBase::call() const {
    if (wake_) {
        wake_();
    }
}

Error CameraBase::no_picture() const {
    return Error{state_ == CameraState::busy ? ErrorCode::busy : ErrorCode::failed, "camera",
                 worded("No picture was taken. {}", words(camera_sentence(state_)))};
}

// ---- the program's own --------------------------------------------------------------------------

FakeCamera::FakeCamera(std::function<void()> wake, int width, int height, Pace pace)
    : CameraBase(std::move(wake)), width_(std::clamp(width, 1, k_most_frame_side)),
      height_(std::clamp(height, 1, k_most_frame_side)) {
#ifndef __EMSCRIPTEN__
    if (pace == Pace::alive) {
        thread_ = std::thread([this] {
            while (!stopping_) {
                step();
                std::this_thread::sleep_for(std::chrono::milliseconds(1000) /
                                            k_most_previews_per_s);
            }
        });
    }
#else
    static_cast<void>(pace);
#endif
}

FakeCamera::~FakeCamera() {
    stopping_ = true;
    if (thread_.joinable()) {
        thread_.join();
    }
    close();
}

void FakeCamera::become(CameraState state) { set_state(state); }

void FakeCamera::step() {
    const CameraState now = state();
    if (now != CameraState::live && now != CameraState::opening) {
        return;
    }
    const std::vector<std::uint8_t> pixels = pattern(steps_++);
    const RawFrame raw{RawForm::rgb24, width_, height_, width_ * 3, true, pixels};
    Clock::time_point since;
    if (asked(since)) {
        give(still_of(raw));
    }
    if (std::optional<CameraFrame> frame = preview_of(raw, k_longest_preview)) {
        show(*std::move(frame));
    }
}

std::vector<std::uint8_t> FakeCamera::pattern(int step) const {
    std::vector<std::uint8_t> pixels;
    pixels.reserve(static_cast<std::size_t>(width_) * static_cast<std::size_t>(height_) * 3);
    const int bar = std::max(1, width_ / 8);
    const int at = step * bar / 4 % width_;
    for (int y = 0; y < height_; y++) {
        for (int x = 0; x < width_; x++) {
            const bool moving = x >= at && x < at + bar;
            const int colour = x / bar;
            const auto level = static_cast<std::uint8_t>(255 * y / height_);
            for (int channel = 0; channel < 3; channel++) {
                const bool on = (colour >> channel & 1) != 0;
                pixels.push_back(moving ? 255 : on ? level : 32);
            }
        }
    }
    return pixels;
}

// ---- the machine's ------------------------------------------------------------------------------

#ifndef __linux__

namespace {

class NoCamera final : public CameraBase {
  public:
    explicit NoCamera(std::function<void()> wake) : CameraBase(std::move(wake)) {
        set_state(CameraState::none);
    }
    ~NoCamera() override { close(); }
};

} // namespace

#endif

std::unique_ptr<CameraSource> open_camera(std::function<void()> wake) {
#ifdef __linux__
    return std::make_unique<V4l2Camera>(std::move(wake), v4l2_system());
#else
    return std::make_unique<NoCamera>(std::move(wake));
#endif
}

} // namespace railside
