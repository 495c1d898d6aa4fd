// A camera through Video4Linux 2 (the kernel's user-space API; libv4l2 where it was there when this
// was built). Motion JPEG is preferred, as its frames are the pictures; else YUYV or RGB.
#pragma once

#include "app/hosts/camera.h"

#include <array>
#include <cstddef>
#include <cstdint>
#include <functional>
#include <string>
#include <vector>

namespace railside {

/// The system's calls, so that tests can be the system. Answers and errno are those of the calls of
/// the same names.
struct V4l2System {
    enum class Ready { frame, nothing, broken };

    std::function<std::vector<std::string>()> devices; // in the order in which they are tried
    std::function<int(const char* path)> open;
    std::function<int(int device)> close;
    std::function<int(int device, unsigned long request, void* argument)> ioctl;
    std::function<void*(int device, std::size_t length, std::int64_t offset)> map; // null: no
    std::function<void(void* start, std::size_t length)> unmap;
    /// Until a frame is there, `stop` can be read, or the time is over.
    std::function<Ready(int device, int stop, int milliseconds)> wait;
};

[[nodiscard]] V4l2System v4l2_system();

class V4l2Camera final : public CameraBase {
  public:
    struct Times {
        std::chrono::milliseconds look{2000};  // between two tries to find or open one
        std::chrono::milliseconds stall{5000}; // without a frame it counts as lost
    };
    static constexpr std::int64_t k_most_pixels = 12'000'000;
    static constexpr double k_least_frames_per_s = 5; // slower is no live picture

    V4l2Camera(std::function<void()> wake, V4l2System system);
    V4l2Camera(std::function<void()> wake, V4l2System system, Times times);
    /// Ends the thread and frees the device at once.
    ~V4l2Camera() override;
    V4l2Camera(const V4l2Camera&) = delete;
    V4l2Camera& operator=(const V4l2Camera&) = delete;

  private:
    struct Buffer {
        void* start = nullptr;
        std::size_t length = 0;
    };
    struct Mode {
        std::uint32_t format = 0;
        int width = 0;
        int height = 0;
        int line_bytes = 0;
        bool full_range = false;
    };
    enum class Opened { live, none, busy, denied };

    void run();
    [[nodiscard]] Opened open_any();
    [[nodiscard]] Opened open_one(const std::string& path);
    [[nodiscard]] bool choose_mode(Mode& mode);
    [[nodiscard]] bool largest_of(std::uint32_t format, Mode& mode);
    [[nodiscard]] double fastest(std::uint32_t format, std::uint32_t width, std::uint32_t height);
    [[nodiscard]] Opened start(Mode mode);
    void stream();
    [[nodiscard]] bool take_frames();
    void use_frame(const Buffer& buffer, std::size_t bytes, Clock::time_point taken);
    void close_device();
    int call(unsigned long request, void* argument);

    const V4l2System system_;
    const Times times_;
    int device_ = -1;
    bool streaming_ = false;
    Mode mode_;
    std::vector<Buffer> buffers_;
    Clock::time_point last_frame_;
    Clock::time_point last_preview_;
    int broken_stills_ = 0;
    int errors_ = 0;
    std::array<int, 2> stop_ = {-1, -1}; // a pipe
    std::atomic<bool> stopping_ = false;
    std::thread thread_;
};

} // namespace railside
