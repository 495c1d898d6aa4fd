// Pictures that arrive by themselves: the camera, the watched folder; the thread behind the screen.

#include "robot/robot.h"
#include "support/catch.h"
#include "support/temp_folder.h"

#include "app/command/screens.h"
#include "core/store/photo_out.h"

#include <chrono>

using namespace railside;

namespace {

Screen small_screen() { return screen_of(reference_screens().front()); }

std::vector<std::byte> png_bytes(int width, int height) {
    Picture picture;
    picture.width = width;
    picture.height = height;
    for (int i = 0; i < width * height; ++i)
        for (const int byte : {i % 251, i % 83, i % 17, 255})
            picture.rgba.push_back(static_cast<std::uint8_t>(byte));
    auto png = encode_png(picture);
    REQUIRE(png.ok());
    return std::move(*png);
}

void write(const std::filesystem::path& path, std::span<const std::byte> bytes) {
    std::ofstream(path, std::ios::binary)
        .write(reinterpret_cast<const char*>(bytes.data()),
               static_cast<std::streamsize>(bytes.size()));
}

std::string demo(Robot& robot) {
    const auto id = load_painted_demo_job(robot.bench());
    REQUIRE(id.ok());
    REQUIRE(robot.program().open_job(*id).ok());
    robot.host().settle();
    return *id;
}

/// Lets real time pass, news by news, until it holds; at most 20 s.
template <class Holds> bool wait_until(Robot& robot, const Holds& holds) {
    const auto end = std::chrono::steady_clock::now() + std::chrono::seconds(20);
    while (!holds() && std::chrono::steady_clock::now() < end)
        robot.host().settle_news(0.2);
    return holds();
}

} // namespace

TEST_CASE("pictures: they are read and put away behind the screen, and come when they are ready",
          "[robot][pictures]") {
    const TempFolder folder;
    Robot robot(folder / "bench", small_screen(),
                [](ProgramSurroundings& around) { around.work_at_once = false; });
    demo(robot);
    const auto before = robot.program().job()->photos.size();
    const auto path = folder / "late.png";
    write(path, png_bytes(400, 300));
    robot.host().drop_file(path.string());
    // Not yet said to be kept, and said to be on its way.
    CHECK(robot.program().job()->photos.size() == before);
    robot.program().refresh();
    CHECK(robot.program().shown().header.saving);
    REQUIRE(wait_until(robot, [&] { return robot.program().job()->photos.size() == before + 1; }));
    CHECK_FALSE(robot.program().shown().header.saving);
    CHECK(robot.value("header/saved") == "saved");
    CHECK(robot.program().state().message_tone == AppState::MessageTone::kept);
    // When nothing more comes, nothing is drawn.
    robot.tap("rail/photos");
    robot.host().settle_news(3);
    robot.host().settle();
    CHECK(robot.host().pass_time(10) == 0);
}

TEST_CASE("pictures: a program that ends first puts away what was given to it",
          "[robot][pictures]") {
    const TempFolder folder;
    std::string job;
    std::size_t before = 0;
    {
        Robot robot(folder / "bench", small_screen(),
                    [](ProgramSurroundings& around) { around.work_at_once = false; });
        job = demo(robot);
        before = robot.program().job()->photos.size();
        for (int i = 0; i < 5; ++i) {
            const auto path = folder / ("photo " + std::to_string(i) + ".png");
            write(path, png_bytes(300 + i, 200));
            robot.host().drop_file(path.string());
        }
    }
    Robot robot(folder / "bench", small_screen());
    REQUIRE(robot.program().open_job(job).ok());
    CHECK(robot.program().job()->photos.size() == before + 5);
}

TEST_CASE("pictures: a large shutter takes what the camera sees; its loss is told",
          "[robot][pictures]") {
    const TempFolder folder;
    FakeCamera* camera = nullptr;
    Robot robot(folder / "bench", small_screen(), [&](ProgramSurroundings& around) {
        around.camera = [&](std::function<void()> wake) {
            auto made = std::make_unique<FakeCamera>(std::move(wake), 640, 480);
            camera = made.get();
            return made;
        };
    });
    demo(robot);
    const auto photos = [&] { return robot.program().job()->photos.size(); };
    const auto before = photos();
    robot.tap("rail/photos");
    robot.tap("photos/stage/fitted");
    robot.tap("photos/camera");
    REQUIRE(camera != nullptr);
    CHECK(robot.need("camera/shutter").standing == Answering::dead);
    camera->step();
    robot.host().settle();
    CHECK(robot.need("camera/shutter").standing != Answering::dead);
    const auto& shutter = robot.need("camera/shutter").rect;
    CHECK(shutter.width() / robot.host().screen().px_per_mm >= 14);
    CHECK(shutter.height() / robot.host().screen().px_per_mm >= 14);
    robot.tap("camera/shutter");
    camera->step();
    robot.host().settle();
    REQUIRE(photos() == before + 1);
    const PhotoRecord& taken = robot.program().job()->photos.back();
    CHECK(taken.stage == PhotoStage::fitted);
    CHECK(taken.width == 640);
    CHECK(taken.height == 480);
    // The camera stays open for the next one; its loss is a state that says what to do.
    camera->become(CameraState::lost);
    robot.host().settle();
    CHECK(!robot.value("camera/state").empty());
    CHECK(robot.need("camera/shutter").standing == Answering::dead);
    camera->become(CameraState::opening);
    camera->step();
    robot.host().settle();
    CHECK(robot.value("camera/state").empty());
    // Asked for and closed before it came: told, and nothing is added.
    robot.tap("camera/shutter");
    robot.tap("camera/leave");
    CHECK(photos() == before + 1);
    CHECK(robot.program().state().message_tone == AppState::MessageTone::refused);
    CHECK(robot.find("photos/camera") != nullptr);
}

TEST_CASE("pictures: new ones in the watched folder come to the open job, or wait for one",
          "[robot][pictures]") {
    const TempFolder folder;
    const auto card = folder / "card";
    std::filesystem::create_directories(card / "DCIM" / "100RAIL");
    write(card / "DCIM" / "100RAIL" / "old.png", png_bytes(40, 30));
    Robot robot(folder / "bench", small_screen());
    const std::string job = demo(robot);
    const auto photos = [&] { return robot.program().job()->photos.size(); };
    const auto before = photos();
    robot.tap("header/job");
    robot.tap("shelf/bench");
    robot.tap("bench/part/copies");
    robot.tap("bench/copies/watch");
    robot.tap("files/up");
    robot.tap("files/card");
    robot.tap("files/use");
    CHECK(robot.program().settings().watched == card.string());
    // What was there when the watching began stays where it is; on the bench page a new one waits.
    robot.host().settle_news(1);
    write(card / "DCIM" / "100RAIL" / "one.png", png_bytes(60, 40));
    robot.host().settle_news(10);
    REQUIRE(robot.program().open_job(job).ok());
    robot.host().settle();
    robot.tap("rail/photos");
    REQUIRE(wait_until(
        robot, [&] { return robot.find("photos/waiting") != nullptr || photos() == before + 1; }));
    if (robot.find("photos/waiting") != nullptr)
        robot.tap("photos/waiting");
    REQUIRE(photos() == before + 1);
    CHECK(robot.program().job()->photos.back().width == 60);
    // With the job open it comes by itself.
    write(card / "two.png", png_bytes(70, 40));
    REQUIRE(wait_until(robot, [&] { return photos() == before + 2; }));
    CHECK(robot.program().job()->photos.back().width == 70);
    // And the folder is remembered.
    CHECK(load_settings(robot.bench().folder()).watched == card.string());
}

TEST_CASE("pictures: a copy of a photo is written out beside the original, which stays as it was",
          "[robot][pictures]") {
    const TempFolder folder;
    std::filesystem::create_directories(folder / "out");
    Robot robot(folder / "bench", small_screen());
    demo(robot);
    const PhotoRecord photo = robot.program().job()->photos[2];
    robot.tap("rail/photos");
    robot.tap("photos/thumb/" + photo.source.entry);
    robot.tap("photos/about");
    for (int i = 0; i < 2; ++i) {
        robot.tap("about/copy");
        robot.tap("files/up");
        robot.tap("files/out");
        robot.tap("files/use");
        INFO(robot.program().state().message);
        CHECK(robot.program().state().message_tone == AppState::MessageTone::kept);
    }
    int copies = 0;
    for (const auto& entry : std::filesystem::directory_iterator(folder / "out")) {
        ++copies;
        std::ifstream file(entry.path(), std::ios::binary);
        const std::string bytes((std::istreambuf_iterator<char>(file)),
                                std::istreambuf_iterator<char>());
        const auto again = strip_location(bytes);
        REQUIRE(again.ok());
        const bool clean = *again == bytes;
        CHECK(clean);
        CHECK(entry.path().extension() == (photo.type == "png" ? ".png" : ".jpg"));
    }
    CHECK(copies == 2);
    CHECK(robot.bench().photo_bytes(photo.hash).ok());
}
