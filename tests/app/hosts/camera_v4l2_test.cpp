// The camera's thread against a driver of the test's own: what a device answers, and how it goes.
#ifdef __linux__

#include "app/hosts/camera_v4l2.h"

#include "app/hosts/camera_frames.h"
#include "support/catch.h"

#include <algorithm>
#include <atomic>
#include <cerrno>
#include <chrono>
#include <cstdint>
#include <cstring>
#include <deque>
#include <map>
#include <mutex>
#include <string>
#include <thread>
#include <utility>
#include <vector>

#include <linux/videodev2.h>
#include <poll.h>

using namespace railside;
using namespace std::chrono_literals;

namespace {

using Bytes = std::vector<std::uint8_t>;

struct Offer {
    std::uint32_t format;
    std::uint32_t width;
    std::uint32_t height;
    std::uint32_t frames_per_s;
};

/// One device, /dev/video2, behind one that only tells facts.
class Driver {
  public:
    std::vector<Offer> offers;
    std::atomic<bool> there = true;
    std::atomic<int> open_error = 0;
    std::atomic<int> format_error = 0;
    std::atomic<bool> silent = false;
    std::atomic<bool> flag_errors = false;
    std::atomic<bool> bad_index = false;
    std::atomic<int> opened = 0;
    std::atomic<int> closed = 0;
    std::atomic<int> mapped = 0;
    std::atomic<bool> on = false;
    std::uint32_t set_format = 0;
    std::uint32_t set_width = 0;
    std::uint32_t set_height = 0;

    void send(Bytes frame) {
        const std::lock_guard lock(mutex_);
        frame_ = std::move(frame);
    }

    V4l2System system() {
        V4l2System calls;
        calls.devices = [this] {
            return there ? std::vector<std::string>{"/dev/video0", "/dev/video2"}
                         : std::vector<std::string>{"/dev/video0"};
        };
        calls.open = [this](const char* path) {
            if (std::string(path) == "/dev/video0")
                return 7;
            if (open_error != 0) {
                errno = open_error;
                return -1;
            }
            opened++;
            return 8;
        };
        calls.close = [this](int device) {
            closed += device == 8 ? 1 : 0;
            return 0;
        };
        calls.ioctl = [this](int device, unsigned long request, void* argument) {
            errno = 0;
            const int error = answer(device, request, argument);
            errno = error;
            return error == 0 ? 0 : -1;
        };
        calls.map = [this](int, std::size_t length, std::int64_t offset) -> void* {
            const std::lock_guard lock(mutex_);
            mapped++;
            Bytes& buffer = buffers_[offset];
            buffer.assign(length, 0);
            return buffer.data();
        };
        calls.unmap = [this](void*, std::size_t) { mapped--; };
        calls.wait = [this](int device, int stop, int milliseconds) {
            pollfd end{stop, POLLIN, 0};
            if (device < 0 || silent || !there) {
                const bool ended = ::poll(&end, 1, there || device < 0 ? milliseconds : 0) > 0;
                return !ended && device >= 0 && !there ? V4l2System::Ready::broken
                                                       : V4l2System::Ready::nothing;
            }
            return ::poll(&end, 1, 5) > 0 ? V4l2System::Ready::nothing : V4l2System::Ready::frame;
        };
        return calls;
    }

  private:
    int answer(int device, unsigned long request, void* argument) {
        const std::lock_guard lock(mutex_);
        if (!there)
            return ENODEV;
        switch (request) {
        case VIDIOC_QUERYCAP: {
            auto& facts = *static_cast<v4l2_capability*>(argument);
            facts.capabilities = V4L2_CAP_DEVICE_CAPS | V4L2_CAP_VIDEO_CAPTURE | V4L2_CAP_STREAMING;
            facts.device_caps = device == 8 ? V4L2_CAP_VIDEO_CAPTURE | V4L2_CAP_STREAMING
                                            : V4L2_CAP_META_CAPTURE | V4L2_CAP_STREAMING;
            return 0;
        }
        case VIDIOC_ENUM_FMT: {
            auto& format = *static_cast<v4l2_fmtdesc*>(argument);
            std::vector<std::uint32_t> all;
            for (const Offer& offer : offers)
                if (std::find(all.begin(), all.end(), offer.format) == all.end())
                    all.push_back(offer.format);
            if (format.index >= all.size())
                return EINVAL;
            format.pixelformat = all[format.index];
            return 0;
        }
        case VIDIOC_ENUM_FRAMESIZES: {
            auto& size = *static_cast<v4l2_frmsizeenum*>(argument);
            std::uint32_t index = 0;
            for (const Offer& offer : offers)
                if (offer.format == size.pixel_format && index++ == size.index) {
                    size.type = V4L2_FRMSIZE_TYPE_DISCRETE;
                    size.discrete = {offer.width, offer.height};
                    return 0;
                }
            return EINVAL;
        }
        case VIDIOC_ENUM_FRAMEINTERVALS: {
            auto& rate = *static_cast<v4l2_frmivalenum*>(argument);
            for (const Offer& offer : offers)
                if (offer.format == rate.pixel_format && offer.width == rate.width &&
                    rate.index == 0) {
                    rate.type = V4L2_FRMIVAL_TYPE_DISCRETE;
                    rate.discrete = {1, offer.frames_per_s};
                    return 0;
                }
            return EINVAL;
        }
        case VIDIOC_S_FMT: {
            if (format_error != 0)
                return format_error;
            auto& format = *static_cast<v4l2_format*>(argument);
            set_format = format.fmt.pix.pixelformat;
            set_width = format.fmt.pix.width;
            set_height = format.fmt.pix.height;
            format.fmt.pix.bytesperline = 0;
            return 0;
        }
        case VIDIOC_REQBUFS:
            static_cast<v4l2_requestbuffers*>(argument)->count = 3;
            return 0;
        case VIDIOC_QUERYBUF: {
            auto& buffer = *static_cast<v4l2_buffer*>(argument);
            buffer.length = 1U << 20U;
            buffer.m.offset = buffer.index << 20U;
            return 0;
        }
        case VIDIOC_QBUF:
            queued_.push_back(static_cast<v4l2_buffer*>(argument)->index);
            return 0;
        case VIDIOC_STREAMON:
            on = true;
            return 0;
        case VIDIOC_STREAMOFF:
            on = false;
            queued_.clear();
            return 0;
        case VIDIOC_DQBUF: {
            // Every second call there is nothing more.
            dequeues_++;
            if (queued_.empty() || frame_.empty() || dequeues_ % 2 == 0)
                return EAGAIN;
            auto& buffer = *static_cast<v4l2_buffer*>(argument);
            buffer.index = bad_index ? 99 : queued_.front();
            Bytes& memory = buffers_[static_cast<std::int64_t>(queued_.front()) << 20];
            queued_.pop_front();
            std::copy(frame_.begin(), frame_.end(), memory.begin());
            buffer.bytesused = static_cast<std::uint32_t>(frame_.size());
            buffer.flags = flag_errors ? V4L2_BUF_FLAG_ERROR : 0;
            return 0;
        }
        default:
            return EINVAL;
        }
    }

    std::mutex mutex_;
    Bytes frame_;
    std::map<std::int64_t, Bytes> buffers_;
    std::deque<std::uint32_t> queued_;
    int dequeues_ = 0;
};

Bytes jpeg_frame(int width, int height) {
    Bytes rgb;
    for (int i = 0; i < width * height * 3; i++)
        rgb.push_back(static_cast<std::uint8_t>(i * 7));
    const Result<std::string> jpeg =
        still_of({RawForm::rgb24, width, height, width * 3, true, rgb});
    REQUIRE(jpeg.ok());
    return {jpeg->begin(), jpeg->end()};
}

template <class Condition> bool wait(Condition condition) {
    for (int i = 0; i < 2000; i++) {
        if (condition())
            return true;
        std::this_thread::sleep_for(5ms);
    }
    return false;
}

V4l2Camera::Times quick() {
    V4l2Camera::Times times;
    times.look = 20ms;
    times.stall = 200ms;
    return times;
}

} // namespace

TEST_CASE("v4l2: motion JPEG of the largest usable size, and its pictures byte for byte",
          "[app][hosts]") {
    Driver driver;
    driver.offers = {{V4L2_PIX_FMT_YUYV, 640, 480, 30},   {V4L2_PIX_FMT_MJPEG, 1280, 720, 30},
                     {V4L2_PIX_FMT_MJPEG, 64, 48, 30},    {V4L2_PIX_FMT_MJPEG, 3840, 2160, 2},
                     {V4L2_PIX_FMT_MJPEG, 1920, 1080, 5}, {V4L2_PIX_FMT_MJPEG, 8000, 6000, 30}};
    const Bytes frame = jpeg_frame(64, 48);
    driver.send(frame);
    {
        std::atomic<int> wakes = 0;
        V4l2Camera camera([&] { wakes++; }, driver.system(), quick());
        REQUIRE(wait([&] { return camera.state() == CameraState::live; }));
        CHECK(driver.set_format == V4L2_PIX_FMT_MJPEG);
        CHECK(driver.set_width == 1920);
        CHECK(driver.set_height == 1080);
        REQUIRE(camera.latest());
        CHECK(camera.latest()->width == 64);
        std::string got;
        camera.take_picture([&](const Result<std::string>& picture) {
            REQUIRE(picture.ok());
            got = *picture;
        });
        REQUIRE(wait([&] { return camera.take_ready() == 1; }));
        CHECK((got == std::string(frame.begin(), frame.end())));
        // No more than about 15 a second, though the driver gives far more.
        const auto serial = [&] { return camera.latest()->serial; };
        const std::uint64_t before = serial();
        std::this_thread::sleep_for(500ms);
        CHECK(serial() > before);
        CHECK(serial() <= before + 9);
    }
    CHECK(driver.opened == 1);
    CHECK(driver.closed == 1);
    CHECK(driver.mapped == 0);
    CHECK_FALSE(driver.on);
}

TEST_CASE("v4l2: YUYV where there is no motion JPEG", "[app][hosts]") {
    Driver driver;
    driver.offers = {{V4L2_PIX_FMT_YUYV, 64, 48, 30}};
    Bytes frame;
    for (int i = 0; i < 64 * 48 / 2; i++)
        frame.insert(frame.end(), {81, 90, 81, 240});
    driver.send(frame);
    V4l2Camera camera({}, driver.system(), quick());
    REQUIRE(wait([&] { return camera.latest() != nullptr; }));
    const auto shown = camera.latest();
    REQUIRE(shown);
    CHECK(shown->width == 64);
    CHECK(shown->rgba[0] > 240);
    CHECK(shown->rgba[1] < 15);
    bool got = false;
    camera.take_picture([&](const Result<std::string>& picture) { got = picture.ok(); });
    REQUIRE(wait([&] { return camera.take_ready() == 1; }));
    CHECK(got);
}

TEST_CASE("v4l2: broken frames are passed over, and a picture is asked for in vain no longer than "
          "ten of them",
          "[app][hosts]") {
    Driver driver;
    driver.offers = {{V4L2_PIX_FMT_MJPEG, 64, 48, 30}};
    const Bytes frame = jpeg_frame(64, 48);
    driver.send(frame);
    V4l2Camera camera({}, driver.system(), quick());
    REQUIRE(wait([&] { return camera.state() == CameraState::live; }));
    driver.send(Bytes(frame.begin(), frame.begin() + 300));
    std::this_thread::sleep_for(50ms);
    std::string refusal;
    camera.take_picture(
        [&](const Result<std::string>& picture) { refusal = picture.error().message; });
    REQUIRE(wait([&] { return camera.take_ready() == 1; }));
    CHECK(refusal.find("came damaged") != std::string::npos);
    CHECK(camera.state() == CameraState::live);
    bool got = false;
    camera.take_picture([&](const Result<std::string>& picture) { got = picture.ok(); });
    driver.send(frame);
    REQUIRE(wait([&] { return camera.take_ready() == 1; }));
    CHECK(got);
}

TEST_CASE("v4l2: unplugged it is lost and lets go; plugged in again it is live", "[app][hosts]") {
    Driver driver;
    driver.offers = {{V4L2_PIX_FMT_MJPEG, 64, 48, 30}};
    driver.send(jpeg_frame(64, 48));
    V4l2Camera camera({}, driver.system(), quick());
    REQUIRE(wait([&] { return camera.state() == CameraState::live; }));
    driver.there = false;
    REQUIRE(wait([&] { return camera.state() == CameraState::lost; }));
    CHECK(wait([&] { return driver.closed == 1 && driver.mapped == 0; }));
    CHECK(camera.latest() == nullptr);
    std::this_thread::sleep_for(100ms);
    CHECK(camera.state() == CameraState::lost);
    driver.there = true;
    REQUIRE(wait([&] { return camera.state() == CameraState::live; }));
}

TEST_CASE("v4l2: absent, busy, forbidden and silent are states of their own", "[app][hosts]") {
    Driver driver;
    driver.offers = {{V4L2_PIX_FMT_MJPEG, 64, 48, 30}};
    driver.there = false;
    driver.silent = true;
    driver.send(jpeg_frame(64, 48));
    V4l2Camera camera({}, driver.system(), quick());
    const auto becomes = [&](CameraState state) {
        return wait([&] { return camera.state() == state; });
    };
    CHECK(becomes(CameraState::none));
    driver.open_error = EACCES;
    driver.there = true;
    CHECK(becomes(CameraState::denied));
    driver.open_error = EBUSY;
    CHECK(becomes(CameraState::busy));
    driver.format_error = EBUSY;
    driver.open_error = 0;
    std::this_thread::sleep_for(100ms);
    CHECK(camera.state() == CameraState::busy);
    CHECK(driver.opened == driver.closed);
    driver.format_error = 0;
    CHECK(becomes(CameraState::opening));
    CHECK(becomes(CameraState::lost)); // no frame within the time
    driver.silent = false;
    CHECK(becomes(CameraState::live));
    driver.flag_errors = true; // frame after frame is broken
    CHECK(becomes(CameraState::lost));
    driver.flag_errors = false;
    CHECK(becomes(CameraState::live));
    driver.bad_index = true; // a driver that names a buffer there is not
    CHECK(becomes(CameraState::lost));
}

TEST_CASE("v4l2: it ends at once in every state", "[app][hosts]") {
    const int state = GENERATE(0, 1, 2);
    Driver driver;
    driver.offers = {{V4L2_PIX_FMT_MJPEG, 64, 48, 30}};
    driver.send(jpeg_frame(64, 48));
    driver.there = state != 0;
    driver.silent = state == 1;
    std::chrono::steady_clock::time_point began;
    {
        V4l2Camera camera({}, driver.system()); // its usual long times
        std::this_thread::sleep_for(60ms);
        began = std::chrono::steady_clock::now();
    }
    CHECK(std::chrono::steady_clock::now() - began < 500ms);
    CHECK(driver.opened == driver.closed);
    CHECK(driver.mapped == 0);
}

#endif
