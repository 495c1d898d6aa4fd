#include "app/hosts/host.h"

#include "probe.h"
#include "support/catch.h"

#include <chrono>
#include <cmath>
#include <memory>
#include <thread>
#include <utility>

using namespace railside;
using test::Probe;

namespace {

constexpr Screen k_screen{200, 120, 6};

std::unique_ptr<Headless> open(Probe& probe, const Screen& screen = k_screen) {
    Result<std::unique_ptr<Headless>> made = Headless::create(probe, screen);
    REQUIRE(made.ok());
    return std::move(made).value();
}

std::uint32_t pixel(const std::string& pixels, const Screen& screen, int x, int y) {
    const auto at = static_cast<std::size_t>(4 * (y * screen.width_px + x));
    std::uint32_t all = 0;
    for (std::size_t i = 0; i < 4; i++) {
        all |= static_cast<std::uint32_t>(static_cast<unsigned char>(pixels[at + i])) << (8 * i);
    }
    return all;
}

} // namespace

TEST_CASE("headless: draws until nothing is wanted, then nothing", "[app][hosts]") {
    Probe probe;
    const auto host = open(probe);
    CHECK(host->settle() > 0);
    const int drawn = probe.frames;
    CHECK(host->settle() == 0);
    CHECK(host->pass_time(10) == 0);
    CHECK(probe.frames == drawn);
}

TEST_CASE("headless: every event draws at least one frame", "[app][hosts]") {
    Probe probe;
    const auto host = open(probe);
    host->settle();
    const int which = GENERATE(0, 1, 2, 3, 4, 5);
    CAPTURE(which);
    switch (which) {
    case 0:
        host->touch(TouchPhase::begin, 1, 5, 5);
        break;
    case 1:
        host->wheel(5, 5, 1);
        break;
    case 2:
        host->key(Key::down);
        break;
    case 3:
        host->text("4");
        break;
    case 4:
        host->drop_file("board.jpg");
        break;
    default:
        host->resize({300, 120, 6});
        break;
    }
    const int drawn = host->settle();
    CHECK(drawn >= 1);
    CHECK(drawn <= 8);
}

TEST_CASE("headless: a tap arrives where and when it was made", "[app][hosts]") {
    Probe probe;
    const auto host = open(probe);
    host->settle();
    const double began_s = host->now_s();
    host->touch(TouchPhase::begin, 3, 40, 50);
    host->settle();
    host->touch(TouchPhase::end, 3, 40, 50);
    host->settle();
    REQUIRE(probe.touches.size() == 2);
    CHECK(probe.touches[0].time_s == began_s);
    CHECK(probe.touches[1].time_s > began_s);
    CHECK(probe.touches[0].finger == 3);
    CHECK(probe.kinds() == std::vector{GestureKind::press, GestureKind::tap});
    CHECK(probe.gestures[1].x_px == 40);
    CHECK(probe.gestures[1].y_px == 50);
}

TEST_CASE("headless: time that passes brings the long press when it is due", "[app][hosts]") {
    Probe probe;
    const auto host = open(probe);
    host->touch(TouchPhase::begin, 1, 40, 50);
    host->settle();
    host->pass_time(0.4);
    CHECK(probe.kinds() == std::vector{GestureKind::press});
    const int before = probe.frames;
    host->pass_time(0.2);
    CHECK(probe.kinds() == std::vector{GestureKind::press, GestureKind::hold});
    CHECK(probe.frames == before + 1);
}

TEST_CASE("headless: momentum keeps frames coming at 60 a second and then ends", "[app][hosts]") {
    Probe probe;
    const auto host = open(probe);
    host->settle();
    host->touch(TouchPhase::begin, 1, 50, 100);
    for (int i = 1; i <= 6; i++) {
        host->pass_time(1.0 / 60);
        host->touch(TouchPhase::move, 1, 50, 100 - 10.0F * static_cast<float>(i));
    }
    host->touch(TouchPhase::end, 1, 50, 40);
    const double began_s = host->now_s();
    const int drawn = host->settle(1000);
    // 600 px/s = 100 mm/s comes to rest after 0.33·ln(100/3.3) = 1.13 s
    CHECK(near_abs(host->now_s() - began_s, 1.13, 0.1));
    CHECK(near_abs(drawn, 1.13 * 60, 6));
    CHECK(probe.gestures.back().kind == GestureKind::fling);
}

TEST_CASE("headless: what is drawn is in the pixels, opaque and exact", "[app][hosts]") {
    Probe probe;
    const auto host = open(probe);
    host->settle();
    const std::string shown = host->pixels();
    REQUIRE(shown.size() == 200U * 120U * 4U);
    const std::uint32_t ground = pixel(shown, k_screen, 100, 100);
    for (int y = 5; y < 25; y++) {
        for (int x = 5; x < 25; x++) {
            const bool inside = x >= 10 && x < 20 && y >= 10 && y < 20;
            CHECK(pixel(shown, k_screen, x, y) == (inside ? 0xFF0000FFU : ground));
        }
    }
    int lit = 0;
    for (int y = 10; y < 24; y++) {
        for (int x = 30; x < 90; x++) {
            lit += pixel(shown, k_screen, x, y) == 0xFFFFFFFFU ? 1 : 0;
        }
    }
    CHECK(lit > 60); // "Railside" in the built-in 13 px font, whose strokes are whole pixels
    CHECK(host->vertices() == 4 + 4 * 8);
}

TEST_CASE("headless: the same steps give the same pixels", "[app][hosts]") {
    const auto play = [] {
        Probe probe;
        const auto host = open(probe);
        host->touch(TouchPhase::begin, 1, 15, 15);
        host->pass_time(1);
        host->key(Key::down);
        host->settle();
        return std::pair(host->pixels(), host->now_s());
    };
    CHECK(play() == play());
}

TEST_CASE("headless: resizing changes the surface and asks for fonts only when the density changed",
          "[app][hosts]") {
    Probe probe;
    const auto host = open(probe);
    host->settle();
    host->resize({120, 200, 6});
    host->settle();
    CHECK(host->pixels().size() == 120U * 200U * 4U);
    host->resize({120, 200, 12}); // new fonts
    host->settle();
    REQUIRE(probe.screens.size() == 3);
    CHECK(probe.screens[2] == Screen{120, 200, 12});
    CHECK(host->screen() == Screen{120, 200, 12});
    CHECK(pixel(host->pixels(), host->screen(), 15, 15) == 0xFF0000FFU);
}

TEST_CASE("headless: keys and text reach the program and the field being edited", "[app][hosts]") {
    Probe probe;
    probe.with_field = true;
    const auto host = open(probe, {400, 300, 6});
    host->settle();
    host->text("4k7\xC2\xB5?");
    host->settle();
    CHECK(std::string(probe.field) == "4k7\xC2\xB5?");
    // Several at once, before a frame is drawn.
    host->key(Key::backspace);
    host->key(Key::backspace);
    host->key(Key::left);
    host->text("00");
    host->key(Key::end);
    host->text("x");
    host->settle();
    CHECK(std::string(probe.field) == "4k007x");
    CHECK(probe.typed == "4k7\xC2\xB5?00x");
    CHECK(probe.keys == std::vector{Key::backspace, Key::backspace, Key::left, Key::end});
}

TEST_CASE("headless: ? asks for help unless text is being edited", "[app][hosts]") {
    Probe probe;
    const auto host = open(probe);
    host->text("?");
    CHECK(probe.keys == std::vector{Key::help});
    CHECK(probe.typed.empty());
    probe.with_field = true;
    host->text("?");
    CHECK(probe.typed == "?");
}

TEST_CASE("headless: every key arrives as itself", "[app][hosts]") {
    Probe probe;
    const auto host = open(probe);
    const std::vector<Key> all{Key::enter,    Key::escape,    Key::backspace, Key::del,  Key::tab,
                               Key::back_tab, Key::up,        Key::down,      Key::left, Key::right,
                               Key::page_up,  Key::page_down, Key::home,      Key::end,  Key::help};
    for (const Key key : all) {
        host->key(key);
    }
    host->settle();
    CHECK(probe.keys == all);
}

TEST_CASE("headless: a picture is shown texel for pixel and goes when dropped", "[app][hosts]") {
    Probe probe;
    const auto host = open(probe);
    std::vector<std::uint8_t> rgba;
    for (int i = 0; i < 16 * 16; i++) {
        rgba.insert(rgba.end(),
                    {static_cast<std::uint8_t>(i), static_cast<std::uint8_t>(255 - i), 7, 255});
    }
    const ImTextureID id = probe.textures().make({16, 16, rgba.data()});
    REQUIRE(id != nullptr);
    probe.in_frame = [&](int) {
        ImGui::GetBackgroundDrawList()->AddImage(id, ImVec2(100, 50), ImVec2(116, 66));
    };
    host->settle();
    const std::string shown = host->pixels();
    for (int i = 0; i < 16 * 16; i++) {
        const auto expected = 0xFF070000U | static_cast<std::uint32_t>((255 - i) << 8) |
                              static_cast<std::uint32_t>(i);
        CHECK(pixel(shown, k_screen, 100 + i % 16, 50 + i / 16) == expected);
    }
    probe.in_frame = nullptr;
    probe.textures().drop(id);
    host->key(Key::down);
    CHECK(host->settle() > 0);
    CHECK(probe.textures().make({0, 16, rgba.data()}) == nullptr);
    CHECK(probe.textures().make({16, 16, nullptr}) == nullptr);
}

TEST_CASE("headless: two at once do not disturb each other", "[app][hosts]") {
    Probe first;
    Probe second;
    const auto one = open(first);
    const auto two = open(second, {300, 200, 10});
    one->settle();
    two->settle();
    one->touch(TouchPhase::begin, 1, 5, 5);
    two->key(Key::down);
    one->settle();
    two->settle();
    CHECK(first.keys.empty());
    CHECK(second.touches.empty());
    CHECK(one->pixels().size() == 200U * 120U * 4U);
    CHECK(two->pixels().size() == 300U * 200U * 4U);
}

TEST_CASE("headless: at its end the program is told that its textures are gone", "[app][hosts]") {
    Probe probe;
    {
        const auto host = open(probe);
        host->settle();
        CHECK(probe.lost == 0);
    }
    CHECK(probe.lost == 1);
}

TEST_CASE("headless: a screen without pixels is refused with the accepted range", "[app][hosts]") {
    Probe probe;
    const Result<std::unique_ptr<Headless>> made = Headless::create(probe, {0, 480, 6});
    REQUIRE_FALSE(made.ok());
    CHECK(made.error().code == ErrorCode::out_of_range);
    CHECK(made.error().message.find("0 by 480") != std::string::npos);
    CHECK(made.error().message.find("1 to 16384") != std::string::npos);
}

TEST_CASE("headless: news from a thread is waited for, delivered and drawn", "[app][hosts]") {
    using namespace std::chrono_literals;
    Probe probe;
    const auto host = open(probe);
    REQUIRE(probe.wake);
    CHECK_FALSE(probe.started_before_waker);
    host->settle();
    const int before = probe.frames;
    std::thread elsewhere([&] {
        std::this_thread::sleep_for(30ms);
        probe.wake();
        probe.wake();
    });
    const int drawn = host->settle_news(10);
    elsewhere.join();
    host->settle(); // the second call may have come after the first was taken
    CHECK(drawn > 0);
    CHECK(drawn <= 4);
    CHECK(probe.news_heard >= 1);
    CHECK(probe.news_heard <= 2);
    CHECK(probe.frames > before);
    CHECK(probe.frames_at_news >= before);
    // Nothing more comes of it.
    const int after = probe.frames;
    CHECK(host->settle() == 0);
    CHECK(host->settle_news(0.02) == 0);
    CHECK(host->pass_time(10) == 0);
    CHECK(probe.frames == after);
}

TEST_CASE("headless: news already waiting is delivered by settle and by passing time",
          "[app][hosts]") {
    Probe probe;
    const auto host = open(probe);
    host->settle();
    probe.wake();
    CHECK(probe.news_heard == 0); // never within the waker itself
    CHECK(host->settle() > 0);
    CHECK(probe.news_heard == 1);
    probe.wake();
    CHECK(host->pass_time(1) > 0);
    CHECK(probe.news_heard == 2);
    probe.wake();
    const auto began = std::chrono::steady_clock::now();
    CHECK(host->settle_news(10) > 0);
    CHECK(std::chrono::steady_clock::now() - began < std::chrono::seconds(5));
    CHECK(probe.news_heard == 3);
    // What was delivered by settle does not end the next wait early.
    probe.wake();
    host->settle();
    const auto again = std::chrono::steady_clock::now();
    CHECK(host->settle_news(0.05) == 0);
    CHECK(std::chrono::steady_clock::now() - again >= std::chrono::milliseconds(40));
}

TEST_CASE("headless: a wake from within a frame brings news after that frame", "[app][hosts]") {
    Probe probe;
    const auto host = open(probe);
    probe.in_frame = [&](int frame) {
        if (frame == 2) {
            probe.wake();
        }
    };
    host->settle();
    CHECK(probe.news_heard == 1);
    CHECK(probe.frames_at_news == 2);
}

TEST_CASE("headless: the waker may be called after the host's end, and from many threads",
          "[app][hosts]") {
    Probe probe;
    std::atomic<bool> stop = false;
    std::vector<std::thread> callers;
    {
        const auto host = open(probe);
        callers.reserve(4);
        for (int i = 0; i < 4; i++) {
            callers.emplace_back([&stop, wake = probe.wake] {
                while (!stop) {
                    wake();
                }
            });
        }
        for (int i = 0; i < 20; i++) {
            CHECK(host->settle_news(10) > 0);
        }
    }
    stop = true;
    for (std::thread& caller : callers) {
        caller.join();
    }
    probe.wake();
    CHECK(probe.news_heard >= 20);
}
