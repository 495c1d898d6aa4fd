#ifdef __linux__

#include "app/hosts/camera_v4l2.h"

#include "app/hosts/camera_frames.h"

#include <algorithm>
#include <cerrno>
#include <cstdlib>
#include <cstring>
#include <optional>
#include <span>
#include <string_view>
#include <utility>

#include <dirent.h>
#include <fcntl.h>
#include <linux/videodev2.h>
#include <poll.h>
#include <sys/ioctl.h>
#include <sys/mman.h>
#include <unistd.h>
#ifdef RAILSIDE_LIBV4L2
#include <libv4l2.h>
#endif

namespace railside {

namespace {

constexpr std::uint32_t k_buffers = 4;
constexpr int k_most_listed = 256; // formats, sizes and rates a driver may name of each
constexpr int k_most_broken_stills = 10;
constexpr int k_most_errors = 30; // frames in a row that the driver calls broken
constexpr std::size_t k_most_buffer_bytes = std::size_t{1} << 27U;

std::vector<std::string> video_devices() {
    std::vector<std::pair<long, std::string>> found;
    DIR* folder = ::opendir("/dev");
    if (folder == nullptr) {
        return {};
    }
    constexpr std::string_view k_name = "video";
    while (const dirent* entry = ::readdir(folder)) {
        const std::string_view name = entry->d_name;
        if (name.starts_with(k_name) && name.size() > k_name.size() &&
            name.find_first_not_of("0123456789", k_name.size()) == std::string_view::npos) {
            found.emplace_back(std::strtol(entry->d_name + k_name.size(), nullptr, 10),
                               "/dev/" + std::string(name));
        }
    }
    ::closedir(folder);
    std::sort(found.begin(), found.end());
    std::vector<std::string> paths;
    paths.reserve(found.size());
    for (auto& one : found) {
        paths.push_back(std::move(one.second));
    }
    return paths;
}

V4l2System::Ready wait_for(int device, int stop, int milliseconds) {
    pollfd waited[2] = {{stop, POLLIN, 0}, {device, POLLIN, 0}};
    const int count = ::poll(waited, device >= 0 ? 2 : 1, milliseconds);
    if (count <= 0 || waited[0].revents != 0 || device < 0) {
        return V4l2System::Ready::nothing;
    }
    return (waited[1].revents & POLLIN) != 0 ? V4l2System::Ready::frame : V4l2System::Ready::broken;
}

template <class T> T zeroed() {
    T value = {};
    std::memset(&value, 0, sizeof value);
    return value;
}

} // namespace

V4l2System v4l2_system() {
    V4l2System system;
    system.devices = video_devices;
    constexpr int k_flags = O_RDWR | O_NONBLOCK | O_CLOEXEC;
#ifdef RAILSIDE_LIBV4L2
    system.open = [](const char* path) { return ::v4l2_open(path, k_flags); };
    system.close = [](int device) { return ::v4l2_close(device); };
    system.ioctl = [](int device, unsigned long request, void* argument) {
        return ::v4l2_ioctl(device, request, argument);
    };
    system.map = [](int device, std::size_t length, std::int64_t offset) -> void* {
        void* start =
            ::v4l2_mmap(nullptr, length, PROT_READ | PROT_WRITE, MAP_SHARED, device, offset);
        return start == MAP_FAILED ? nullptr : start;
    };
    system.unmap = [](void* start, std::size_t length) { ::v4l2_munmap(start, length); };
#else
    system.open = [](const char* path) { return ::open(path, k_flags); };
    system.close = [](int device) { return ::close(device); };
    system.ioctl = [](int device, unsigned long request, void* argument) {
        return ::ioctl(device, request, argument);
    };
    system.map = [](int device, std::size_t length, std::int64_t offset) -> void* {
        void* start = ::mmap(nullptr, length, PROT_READ | PROT_WRITE, MAP_SHARED, device, offset);
        return start == MAP_FAILED ? nullptr : start;
    };
    system.unmap = [](void* start, std::size_t length) { ::munmap(start, length); };
#endif
    system.wait = wait_for;
    return system;
}

V4l2Camera::V4l2Camera(std::function<void()> wake, V4l2System system)
    : V4l2Camera(std::move(wake), std::move(system), Times()) {}

V4l2Camera::V4l2Camera(std::function<void()> wake, V4l2System system, Times times)
    : CameraBase(std::move(wake)), system_(std::move(system)), times_(times) {
    if (::pipe2(stop_.data(), O_CLOEXEC) != 0) {
        stop_ = {-1, -1}; // the thread then sees its end only after a wait
    }
    thread_ = std::thread([this] { run(); });
}

V4l2Camera::~V4l2Camera() {
    stopping_ = true;
    if (stop_[1] >= 0) {
        ::close(stop_[1]);
    }
    thread_.join();
    if (stop_[0] >= 0) {
        ::close(stop_[0]);
    }
    close();
}

int V4l2Camera::call(unsigned long request, void* argument) {
    int answer = 0;
    do {
        answer = system_.ioctl(device_, request, argument);
    } while (answer == -1 && errno == EINTR && !stopping_);
    return answer;
}

void V4l2Camera::run() {
    bool was_live = false;
    while (!stopping_) {
        const Opened opened = open_any();
        switch (opened) {
        case Opened::live:
            set_state(CameraState::opening);
            stream();
            was_live = true; // also when it never gave a frame: it is not absent, it fails
            break;
        case Opened::busy:
            set_state(CameraState::busy);
            break;
        case Opened::denied:
            set_state(CameraState::denied);
            break;
        case Opened::none:
            set_state(was_live ? CameraState::lost : CameraState::none);
            break;
        }
        close_device();
        if (opened == Opened::live && !stopping_) {
            set_state(CameraState::lost);
        }
        if (!stopping_) {
            static_cast<void>(system_.wait(-1, stop_[0], static_cast<int>(times_.look.count())));
        }
    }
}

/// The first that goes live; else what stood in the way of the most hopeful one.
V4l2Camera::Opened V4l2Camera::open_any() {
    Opened best = Opened::none;
    for (const std::string& path : system_.devices()) {
        if (stopping_) {
            break;
        }
        const Opened opened = open_one(path);
        if (opened == Opened::live) {
            return opened;
        }
        close_device();
        if (opened == Opened::busy || best == Opened::none) {
            best = opened;
        }
    }
    return best;
}

V4l2Camera::Opened V4l2Camera::open_one(const std::string& path) {
    const auto why = [] {
        return errno == EBUSY                      ? Opened::busy
               : errno == EACCES || errno == EPERM ? Opened::denied
                                                   : Opened::none;
    };
    device_ = system_.open(path.c_str());
    if (device_ < 0) {
        return why();
    }
    auto facts = zeroed<v4l2_capability>();
    if (call(VIDIOC_QUERYCAP, &facts) != 0) {
        return why();
    }
    const std::uint32_t can =
        (facts.capabilities & V4L2_CAP_DEVICE_CAPS) != 0 ? facts.device_caps : facts.capabilities;
    if ((can & V4L2_CAP_VIDEO_CAPTURE) == 0 || (can & V4L2_CAP_STREAMING) == 0) {
        return Opened::none; // the same camera's other device, a tuner, a scaler
    }
    Mode mode;
    if (!choose_mode(mode)) {
        return Opened::none;
    }
    return start(mode);
}

bool V4l2Camera::choose_mode(Mode& mode) {
    std::vector<std::uint32_t> offered;
    for (int i = 0; i < k_most_listed; i++) {
        auto format = zeroed<v4l2_fmtdesc>();
        format.type = V4L2_BUF_TYPE_VIDEO_CAPTURE;
        format.index = static_cast<std::uint32_t>(i);
        if (call(VIDIOC_ENUM_FMT, &format) != 0) {
            break;
        }
        offered.push_back(format.pixelformat);
    }
    for (const std::uint32_t wanted :
         {V4L2_PIX_FMT_MJPEG, V4L2_PIX_FMT_JPEG, V4L2_PIX_FMT_YUYV, V4L2_PIX_FMT_RGB24}) {
        if (std::find(offered.begin(), offered.end(), wanted) != offered.end() &&
            largest_of(wanted, mode)) {
            return true;
        }
    }
    return false;
}

/// The most pixels within k_most_pixels at a usable rate; where no rate is, the most pixels; where
/// sizes are not told, the one that is set.
bool V4l2Camera::largest_of(std::uint32_t format, Mode& mode) {
    struct Size {
        std::uint32_t width;
        std::uint32_t height;
    };
    std::vector<Size> sizes;
    for (int i = 0; i < k_most_listed; i++) {
        auto size = zeroed<v4l2_frmsizeenum>();
        size.index = static_cast<std::uint32_t>(i);
        size.pixel_format = format;
        if (call(VIDIOC_ENUM_FRAMESIZES, &size) != 0) {
            break;
        }
        if (size.type == V4L2_FRMSIZE_TYPE_DISCRETE) {
            sizes.push_back({size.discrete.width, size.discrete.height});
            continue;
        }
        // A range: its end, or what common sensors have.
        const v4l2_frmsize_stepwise& range = size.stepwise;
        sizes.push_back({range.max_width, range.max_height});
        for (const Size usual : {Size{4000, 3000}, Size{3840, 2160}, Size{1920, 1080},
                                 Size{1280, 720}, Size{640, 480}}) {
            if (usual.width >= range.min_width && usual.width <= range.max_width &&
                usual.height >= range.min_height && usual.height <= range.max_height) {
                sizes.push_back(usual);
            }
        }
        break;
    }
    std::int64_t most = 0;
    bool most_is_usable = false;
    for (const Size& size : sizes) {
        const std::int64_t pixels = std::int64_t{size.width} * size.height;
        if (size.width < 1 || size.height < 1 || size.width > k_most_frame_side ||
            size.height > k_most_frame_side || pixels > k_most_pixels) {
            continue;
        }
        const double rate = fastest(format, size.width, size.height);
        const bool usable = rate <= 0 || rate >= k_least_frames_per_s;
        if (usable > most_is_usable || (usable == most_is_usable && pixels > most)) {
            most = pixels;
            most_is_usable = usable;
            mode.width = static_cast<int>(size.width);
            mode.height = static_cast<int>(size.height);
        }
    }
    mode.format = format;
    if (most > 0) {
        return true;
    }
    auto set = zeroed<v4l2_format>();
    set.type = V4L2_BUF_TYPE_VIDEO_CAPTURE;
    if (!sizes.empty() || call(VIDIOC_G_FMT, &set) != 0) {
        return false;
    }
    mode.width = static_cast<int>(set.fmt.pix.width);
    mode.height = static_cast<int>(set.fmt.pix.height);
    return true;
}

/// Frames per second; 0 when the driver does not tell.
double V4l2Camera::fastest(std::uint32_t format, std::uint32_t width, std::uint32_t height) {
    double most = 0;
    for (int i = 0; i < k_most_listed; i++) {
        auto rate = zeroed<v4l2_frmivalenum>();
        rate.index = static_cast<std::uint32_t>(i);
        rate.pixel_format = format;
        rate.width = width;
        rate.height = height;
        if (call(VIDIOC_ENUM_FRAMEINTERVALS, &rate) != 0) {
            break;
        }
        const bool discrete = rate.type == V4L2_FRMIVAL_TYPE_DISCRETE;
        const v4l2_fract& time = discrete ? rate.discrete : rate.stepwise.min;
        if (time.numerator > 0) {
            most = std::max(most, static_cast<double>(time.denominator) / time.numerator);
        }
        if (!discrete) {
            break;
        }
    }
    return most;
}

V4l2Camera::Opened V4l2Camera::start(Mode mode) {
    const auto why = [] { return errno == EBUSY ? Opened::busy : Opened::none; };
    auto set = zeroed<v4l2_format>();
    set.type = V4L2_BUF_TYPE_VIDEO_CAPTURE;
    set.fmt.pix.width = static_cast<std::uint32_t>(mode.width);
    set.fmt.pix.height = static_cast<std::uint32_t>(mode.height);
    set.fmt.pix.pixelformat = mode.format;
    set.fmt.pix.field = V4L2_FIELD_NONE;
    if (call(VIDIOC_S_FMT, &set) != 0) {
        return why();
    }
    const v4l2_pix_format& got = set.fmt.pix;
    if (got.pixelformat != mode.format || got.width < 1 || got.height < 1 ||
        got.width > k_most_frame_side || got.height > k_most_frame_side) {
        return Opened::none;
    }
    mode.width = static_cast<int>(got.width);
    mode.height = static_cast<int>(got.height);
    const int pixel = mode.format == V4L2_PIX_FMT_RGB24 ? 3 : 2;
    mode.line_bytes =
        std::max(static_cast<int>(std::min(got.bytesperline, 1U << 20U)), mode.width * pixel);
    mode.full_range =
        got.quantization == V4L2_QUANTIZATION_FULL_RANGE || got.colorspace == V4L2_COLORSPACE_JPEG;
    mode_ = mode;

    auto request = zeroed<v4l2_requestbuffers>();
    request.count = k_buffers;
    request.type = V4L2_BUF_TYPE_VIDEO_CAPTURE;
    request.memory = V4L2_MEMORY_MMAP;
    if (call(VIDIOC_REQBUFS, &request) != 0) {
        return why();
    }
    for (std::uint32_t i = 0; i < std::min(request.count, 4 * k_buffers); i++) {
        auto buffer = zeroed<v4l2_buffer>();
        buffer.type = V4L2_BUF_TYPE_VIDEO_CAPTURE;
        buffer.memory = V4L2_MEMORY_MMAP;
        buffer.index = i;
        if (call(VIDIOC_QUERYBUF, &buffer) != 0 || buffer.length > k_most_buffer_bytes) {
            return Opened::none;
        }
        void* start = system_.map(device_, buffer.length, buffer.m.offset);
        if (start == nullptr) {
            return Opened::none;
        }
        buffers_.push_back({start, buffer.length});
        if (call(VIDIOC_QBUF, &buffer) != 0) {
            return Opened::none;
        }
    }
    if (buffers_.empty()) {
        return Opened::none;
    }
    int type = V4L2_BUF_TYPE_VIDEO_CAPTURE;
    if (call(VIDIOC_STREAMON, &type) != 0) {
        return why();
    }
    streaming_ = true;
    return Opened::live;
}

/// Until the device is gone, gives nothing any more, or the end.
void V4l2Camera::stream() {
    last_frame_ = Clock::now();
    last_preview_ = {};
    broken_stills_ = 0;
    errors_ = 0;
    while (!stopping_) {
        const V4l2System::Ready ready =
            system_.wait(device_, stop_[0], static_cast<int>(times_.stall.count()));
        if (stopping_ || ready == V4l2System::Ready::broken) {
            return;
        }
        if (ready == V4l2System::Ready::frame && !take_frames()) {
            return;
        }
        if (Clock::now() - last_frame_ >= times_.stall) {
            return;
        }
    }
}

/// Uses the newest of the frames that wait; those before it are given back, as a picture of a
/// moment ago is of no use. False when the device is gone.
bool V4l2Camera::take_frames() {
    std::optional<v4l2_buffer> newest;
    bool sound = true;
    for (std::size_t i = 0; i <= buffers_.size(); i++) {
        auto buffer = zeroed<v4l2_buffer>();
        buffer.type = V4L2_BUF_TYPE_VIDEO_CAPTURE;
        buffer.memory = V4L2_MEMORY_MMAP;
        if (call(VIDIOC_DQBUF, &buffer) != 0) {
            // EIO is one frame lost on the wire.
            sound = errno == EAGAIN || (errno == EIO && ++errors_ < k_most_errors);
            break;
        }
        if (buffer.index >= buffers_.size()) {
            return false;
        }
        const bool broken = (buffer.flags & V4L2_BUF_FLAG_ERROR) != 0;
        errors_ = broken ? errors_ + 1 : 0;
        if (errors_ >= k_most_errors) {
            return false;
        }
        if (broken) {
            sound = call(VIDIOC_QBUF, &buffer) == 0;
        } else {
            if (newest) {
                sound = call(VIDIOC_QBUF, &*newest) == 0;
            }
            newest = buffer;
        }
        if (!sound) {
            break;
        }
    }
    if (!newest) {
        return sound;
    }
    last_frame_ = Clock::now();
    Clock::time_point taken = last_frame_;
    if ((newest->flags & V4L2_BUF_FLAG_TIMESTAMP_MASK) == V4L2_BUF_FLAG_TIMESTAMP_MONOTONIC) {
        taken = Clock::time_point(std::chrono::seconds(newest->timestamp.tv_sec) +
                                  std::chrono::microseconds(newest->timestamp.tv_usec));
    }
    const Buffer& buffer = buffers_[newest->index];
    use_frame(buffer, std::min<std::size_t>(newest->bytesused, buffer.length), taken);
    return sound && call(VIDIOC_QBUF, &*newest) == 0;
}

void V4l2Camera::use_frame(const Buffer& buffer, std::size_t bytes, Clock::time_point taken) {
    const bool jpeg = mode_.format == V4L2_PIX_FMT_MJPEG || mode_.format == V4L2_PIX_FMT_JPEG;
    const std::span<const std::uint8_t> data(static_cast<const std::uint8_t*>(buffer.start), bytes);
    const RawFrame raw{mode_.format == V4L2_PIX_FMT_RGB24 ? RawForm::rgb24 : RawForm::yuyv,
                       mode_.width,
                       mode_.height,
                       mode_.line_bytes,
                       mode_.full_range,
                       data};
    Clock::time_point since;
    if (asked(since) && taken >= since) {
        Result<std::string> picture = jpeg ? still_of_jpeg(data) : still_of(raw);
        if (picture.ok() || ++broken_stills_ >= k_most_broken_stills) {
            broken_stills_ = 0;
            give(std::move(picture));
        }
    }
    const auto now = Clock::now();
    // A little less than the time of a frame, so that an uneven 30 a second gives 15 and not 10.
    constexpr std::chrono::milliseconds k_gap{1000 / k_most_previews_per_s - 6};
    if (now - last_preview_ < k_gap) {
        return;
    }
    std::optional<CameraFrame> frame =
        jpeg ? preview_of_jpeg(data, k_longest_preview) : preview_of(raw, k_longest_preview);
    if (frame) {
        last_preview_ = now;
        show(*std::move(frame));
    }
}

void V4l2Camera::close_device() {
    if (device_ < 0) {
        return;
    }
    if (streaming_) {
        int type = V4L2_BUF_TYPE_VIDEO_CAPTURE;
        call(VIDIOC_STREAMOFF, &type);
        streaming_ = false;
    }
    for (const Buffer& buffer : buffers_) {
        system_.unmap(buffer.start, buffer.length);
    }
    buffers_.clear();
    system_.close(device_);
    device_ = -1;
}

} // namespace railside

#endif
