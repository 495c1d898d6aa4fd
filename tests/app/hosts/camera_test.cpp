#include "app/hosts/camera.h"

#include "app/hosts/camera_frames.h"
#include "support/catch.h"

#include <algorithm>
#include <array>
#include <atomic>
#include <chrono>
#include <cstdint>
#include <optional>
#include <random>
#include <string>
#include <thread>
#include <utility>
#include <vector>

using namespace railside;
using namespace std::chrono_literals;

namespace {

using Bytes = std::vector<std::uint8_t>;

/// Grey luma from left to right, with the colour differences given.
Bytes yuyv(int width, int height, std::uint8_t u, std::uint8_t v, int padding = 0) {
    Bytes bytes;
    for (int y = 0; y < height; y++) {
        for (int x = 0; x < width; x += 2) {
            bytes.push_back(static_cast<std::uint8_t>(16 + 219 * x / width));
            bytes.push_back(u);
            bytes.push_back(static_cast<std::uint8_t>(16 + 219 * (x + 1) / width));
            bytes.push_back(v);
        }
        bytes.insert(bytes.end(), static_cast<std::size_t>(padding), 0xEE);
    }
    return bytes;
}

RawFrame frame_of(const Bytes& bytes, int width, int height, int line_bytes) {
    return {RawForm::yuyv, width, height, line_bytes, false, bytes};
}

Bytes noisy_rgb(int width, int height) {
    std::mt19937 chance(3);
    Bytes bytes;
    for (int i = 0; i < width * height * 3; i++) {
        bytes.push_back(static_cast<std::uint8_t>(chance() >> 24U));
    }
    return bytes;
}

Bytes jpeg_of(int width, int height) {
    const Bytes rgb = noisy_rgb(width, height);
    const Result<std::string> jpeg =
        still_of({RawForm::rgb24, width, height, width * 3, true, rgb});
    REQUIRE(jpeg.ok());
    return {jpeg->begin(), jpeg->end()};
}

/// Without its code tables, as many cameras send it.
Bytes without_tables(const Bytes& jpeg) {
    Bytes bytes(jpeg.begin(), jpeg.begin() + 2);
    std::size_t at = 2;
    while (jpeg[at + 1] != 0xDA) {
        const std::size_t length = 2 + (std::size_t{jpeg[at + 2]} << 8U | jpeg[at + 3]);
        if (jpeg[at + 1] != 0xC4) {
            bytes.insert(bytes.end(), jpeg.begin() + static_cast<std::ptrdiff_t>(at),
                         jpeg.begin() + static_cast<std::ptrdiff_t>(at + length));
        }
        at += length;
    }
    bytes.insert(bytes.end(), jpeg.begin() + static_cast<std::ptrdiff_t>(at), jpeg.end());
    return bytes;
}

std::string text_of(const Bytes& bytes) { return {bytes.begin(), bytes.end()}; }

} // namespace

TEST_CASE("camera frames: YUYV becomes the colours of BT.601", "[app][hosts]") {
    // Limited range: black 16, white 235; red is Y 81, U 90, V 240.
    struct Case {
        Bytes pair;
        bool full;
        int red, green, blue;
    };
    const std::vector<Case> cases = {
        {{16, 128, 235, 128}, false, 0, 0, 0},       {{235, 128, 16, 128}, false, 255, 255, 255},
        {{81, 90, 81, 240}, false, 255, 0, 0},       {{145, 54, 145, 34}, false, 0, 255, 0},
        {{41, 240, 41, 110}, false, 0, 0, 255},      {{0, 128, 0, 128}, true, 0, 0, 0},
        {{255, 128, 255, 128}, true, 255, 255, 255}, {{76, 85, 76, 255}, true, 255, 0, 0},
        {{0, 0, 255, 255}, false, 179, 0, 0}, // far outside: held, not wrapped round
    };
    for (const Case& one : cases) {
        RawFrame raw = frame_of(one.pair, 2, 1, 4);
        raw.full_range = one.full;
        const std::optional<CameraFrame> frame = preview_of(raw, 100);
        REQUIRE(frame);
        REQUIRE(frame->rgba.size() == 8);
        CAPTURE(one.pair, one.full);
        CHECK(std::abs(frame->rgba[0] - one.red) <= 8);
        CHECK(std::abs(frame->rgba[1] - one.green) <= 3);
        CHECK(std::abs(frame->rgba[2] - one.blue) <= 3);
        CHECK(frame->rgba[3] == 255);
    }
}

TEST_CASE("camera frames: a preview is averaged down and padding at line ends is left out",
          "[app][hosts]") {
    const Bytes bytes = yuyv(64, 32, 128, 128, 12);
    const std::optional<CameraFrame> frame = preview_of(frame_of(bytes, 64, 32, 140), 16);
    REQUIRE(frame);
    CHECK(frame->width == 16);
    CHECK(frame->height == 8);
    REQUIRE(frame->rgba.size() == 16U * 8U * 4U);
    for (int x = 0; x < 16; x++) {
        const int expected = 255 * (8 * x + 3) / 128; // the middle of four
        CHECK(std::abs(frame->rgba[static_cast<std::size_t>(4 * x)] - expected) <= 3);
        CHECK(frame->rgba[static_cast<std::size_t>(4 * x)] ==
              frame->rgba[static_cast<std::size_t>(4 * (7 * 16 + x))]);
    }
}

TEST_CASE("camera frames: a raw frame that is not whole is refused", "[app][hosts]") {
    const Bytes bytes = yuyv(8, 4, 128, 128);
    REQUIRE(preview_of(frame_of(bytes, 8, 4, 16), 100));
    for (std::size_t size = 0; size < bytes.size(); size++) {
        const Bytes cut(bytes.begin(), bytes.begin() + static_cast<std::ptrdiff_t>(size));
        CHECK_FALSE(preview_of(frame_of(cut, 8, 4, 16), 100));
        CHECK_FALSE(still_of(frame_of(cut, 8, 4, 16)).ok());
    }
    for (const auto& [width, height, line] : std::vector<std::array<int, 3>>{{0, 4, 16},
                                                                             {8, 0, 16},
                                                                             {-8, 4, 16},
                                                                             {7, 4, 16},
                                                                             {8, 4, 15},
                                                                             {8, 4, -16},
                                                                             {8, 4, 2147483647},
                                                                             {20000, 4, 40000}}) {
        CHECK_FALSE(preview_of(frame_of(bytes, width, height, line), 100));
        CHECK_FALSE(still_of(frame_of(bytes, width, height, line)).ok());
    }
    CHECK_FALSE(preview_of(frame_of(bytes, 8, 4, 16), 0));
}

TEST_CASE("camera frames: a still from YUYV is a JPEG of full size", "[app][hosts]") {
    const Bytes bytes = yuyv(64, 32, 90, 200);
    const Result<std::string> jpeg = still_of(frame_of(bytes, 64, 32, 128));
    REQUIRE(jpeg.ok());
    const Bytes file(jpeg->begin(), jpeg->end());
    const std::optional<CameraFrame> read = preview_of_jpeg(file, 64);
    const std::optional<CameraFrame> direct = preview_of(frame_of(bytes, 64, 32, 128), 64);
    REQUIRE(read);
    REQUIRE(direct);
    REQUIRE(read->rgba.size() == direct->rgba.size());
    int most = 0;
    for (std::size_t i = 0; i < read->rgba.size(); i++) {
        most = std::max(most, std::abs(read->rgba[i] - direct->rgba[i]));
    }
    CHECK(most <= 16);
}

TEST_CASE("camera frames: a JPEG frame is kept byte for byte, without what fills up the buffer",
          "[app][hosts]") {
    const Bytes jpeg = jpeg_of(64, 48);
    Bytes buffer = jpeg;
    buffer.resize(buffer.size() + 500, 0);
    const Result<std::string> still = still_of_jpeg(buffer);
    REQUIRE(still.ok());
    CHECK((*still == text_of(jpeg)));
    const std::optional<CameraFrame> preview = preview_of_jpeg(buffer, 40);
    REQUIRE(preview);
    CHECK(preview->width == 32);
    CHECK(preview->height == 24);
}

TEST_CASE("camera frames: code tables that were left out are put in, and nothing else is changed",
          "[app][hosts]") {
    const Bytes jpeg = jpeg_of(64, 48);
    const Bytes bare = without_tables(jpeg);
    REQUIRE(bare.size() < jpeg.size());
    CHECK(preview_of_jpeg(bare, 64));
    const Result<std::string> still = still_of_jpeg(bare);
    REQUIRE(still.ok());
    CHECK(still->size() == jpeg.size());
    const auto pixels = [](const Bytes& bytes) {
        const std::optional<CameraFrame> frame = preview_of_jpeg(bytes, 64);
        REQUIRE(frame);
        return frame->rgba;
    };
    CHECK((pixels(Bytes(still->begin(), still->end())) == pixels(jpeg)));
}

TEST_CASE("camera frames: stray bytes inside are mended, a cut or damaged frame is refused",
          "[app][hosts]") {
    const Bytes jpeg = jpeg_of(48, 32);
    Bytes stray = jpeg;
    stray.insert(stray.end() - 2, 40, 0x12); // more than the decoder reads ahead
    const Result<std::string> mended = still_of_jpeg(stray);
    REQUIRE(mended.ok());
    CHECK((*mended != text_of(stray)));
    const Bytes file(mended->begin(), mended->end());
    const Result<std::string> again = still_of_jpeg(file);
    REQUIRE(again.ok());
    CHECK((*again == *mended));
    int accepted = 0;
    for (std::size_t size = 0; size < jpeg.size(); size++) {
        const Bytes cut(jpeg.begin(), jpeg.begin() + static_cast<std::ptrdiff_t>(size));
        accepted += still_of_jpeg(cut).ok() ? 1 : 0;
        if (size + 2 < jpeg.size() * 9 / 10) {
            CHECK_FALSE(preview_of_jpeg(cut, 48));
        }
    }
    CHECK(accepted == 0);
    CHECK(still_of_jpeg(Bytes{}).error().code == ErrorCode::damaged);
}

TEST_CASE("camera frames: random changes give a picture or a refusal", "[app][hosts]") {
    const Bytes jpeg = jpeg_of(48, 32);
    std::mt19937 chance(11);
    int read = 0;
    int refused = 0;
    for (int i = 0; i < 4000; i++) {
        Bytes bytes = i % 2 == 0 ? jpeg : without_tables(jpeg);
        for (std::size_t n = 1 + chance() % 5; n > 0; n--) {
            // Half of them among the markers.
            const std::size_t end = chance() % 2 == 0 ? bytes.size() : std::size_t{200};
            bytes[chance() % end] = static_cast<std::uint8_t>(chance());
        }
        const std::optional<CameraFrame> frame = preview_of_jpeg(bytes, 64);
        if (frame) {
            REQUIRE(frame->rgba.size() == static_cast<std::size_t>(frame->width) *
                                              static_cast<std::size_t>(frame->height) * 4);
        }
        (frame ? read : refused)++;
        static_cast<void>(still_of_jpeg(bytes).ok());
    }
    CHECK(read > 100);
    CHECK(refused > 100);
}

TEST_CASE("fake camera: from opening to live, and the picture moves", "[app][hosts]") {
    int wakes = 0;
    FakeCamera camera([&] { wakes++; }, 2000, 1500);
    CHECK(camera.state() == CameraState::opening);
    CHECK(camera.latest() == nullptr);
    camera.step();
    CHECK(camera.state() == CameraState::live);
    CHECK(wakes == 1);
    const auto first = camera.latest();
    REQUIRE(first);
    CHECK(first->width == 1000);
    CHECK(first->height == 750);
    CHECK(first->serial == 1);
    camera.step();
    const auto second = camera.latest();
    CHECK(second->serial == 2);
    CHECK((second->rgba != first->rgba));
    CHECK(camera.latest() == second); // shared, not copied
}

TEST_CASE("fake camera: a picture is of full size and comes with the next frame", "[app][hosts]") {
    FakeCamera camera({}, 640, 480);
    camera.step();
    int got = 0;
    Bytes file;
    camera.take_picture([&](const Result<std::string>& picture) {
        got++;
        REQUIRE(picture.ok());
        file.assign(picture->begin(), picture->end());
    });
    CHECK(camera.take_ready() == 0);
    camera.step();
    CHECK(got == 0); // only within take_ready
    CHECK(camera.take_ready() == 1);
    CHECK(got == 1);
    const std::optional<CameraFrame> read = preview_of_jpeg(file, 640);
    REQUIRE(read);
    CHECK(read->width == 640);
    camera.step();
    CHECK(camera.take_ready() == 0);
}

TEST_CASE("fake camera: whatever stands in the way is a state, and answers who asked",
          "[app][hosts]") {
    const auto state =
        GENERATE(CameraState::none, CameraState::busy, CameraState::denied, CameraState::lost);
    FakeCamera camera({}, 64, 48);
    camera.step();
    std::string before;
    std::string after;
    camera.take_picture(
        [&](const Result<std::string>& picture) { before = picture.error().message; });
    camera.become(state);
    CHECK(camera.state() == state);
    CHECK(camera.latest() == nullptr);
    CHECK(camera.sentence() == camera_sentence(state));
    camera.step();
    CHECK(camera.state() == state);
    camera.take_picture(
        [&](const Result<std::string>& picture) { after = picture.error().message; });
    CHECK(camera.take_ready() == 2);
    CHECK(before == "No picture was taken. " + camera_sentence(state));
    CHECK(after == before);
    camera.become(CameraState::opening);
    camera.step();
    CHECK(camera.state() == CameraState::live);
}

TEST_CASE("fake camera: at its end everybody is answered, and what was taken is handed over",
          "[app][hosts]") {
    int pictures = 0;
    int refusals = 0;
    {
        FakeCamera camera({}, 64, 48);
        camera.step();
        const auto got = [&](const Result<std::string>& picture) {
            (picture.ok() ? pictures : refusals)++;
        };
        camera.take_picture(got);
        camera.step();
        camera.take_picture(got);
    }
    CHECK(pictures == 1);
    CHECK(refusals == 1);
}

TEST_CASE("fake camera: alive it runs by itself and ends at once", "[app][hosts]") {
    std::atomic<int> wakes = 0;
    FakeCamera camera([&] { wakes++; }, 64, 48, FakeCamera::Pace::alive);
    for (int i = 0; i < 2000 && wakes < 5; i++) {
        std::this_thread::sleep_for(5ms);
    }
    CHECK(wakes >= 5);
    CHECK(camera.state() == CameraState::live);
}

TEST_CASE("camera: this machine's is in a clear state and closes at once", "[app][hosts]") {
    const auto began = std::chrono::steady_clock::now();
    {
        const std::unique_ptr<CameraSource> camera = open_camera({});
        std::this_thread::sleep_for(50ms);
        CHECK(camera->sentence() == camera_sentence(camera->state()));
        CHECK_FALSE(camera->sentence().empty());
    }
    CHECK(std::chrono::steady_clock::now() - began < 1500ms);
}
