#include "app/command/picture.h"

#include "app/command/contact_sheet.h"
#include "app/command/screens.h"
#include "core/store/image.h"
#include "run_program.h"

#include <algorithm>
#include <cstddef>
#include <filesystem>
#include <set>
#include <span>
#include <string>

using namespace railside;
using namespace railside::testing;

namespace {

Picture read_png(const std::string& file) {
    const std::string text = file_text(file);
    const auto bytes = std::as_bytes(std::span(text));
    const auto facts = sniff_image(bytes, file);
    REQUIRE(facts.ok());
    CHECK(facts->type == ImageType::png);
    auto picture = decode_image(bytes, 16384, file);
    REQUIRE(picture.ok());
    return std::move(picture).value();
}

/// Something is drawn: more than a handful of colours.
bool drawn(const Picture& picture) {
    std::set<std::uint32_t> colours;
    for (std::size_t i = 0; i + 3 < picture.rgba.size() && colours.size() < 20; i += 4) {
        colours.insert(static_cast<std::uint32_t>(picture.rgba[i]) << 16U |
                       static_cast<std::uint32_t>(picture.rgba[i + 1]) << 8U | picture.rgba[i + 2]);
    }
    return colours.size() >= 20;
}

} // namespace

TEST_CASE("picture: a PNG has the screen's real pixels", "[app][command]") {
    const TestFolder folder;
    const std::string file = folder.file("shelf.png");
    const Ran ran = run_program(
        {"picture", "--job", "demo", "--room", "shelf", "--screen", "390x844@3", "--out", file});
    INFO(ran.err);
    REQUIRE(ran.status == 0);
    CHECK(holds(ran.out, "1170 by 2532 pixels"));
    const Picture picture = read_png(file);
    CHECK(picture.width == 1170);
    CHECK(picture.height == 2532);
    CHECK(drawn(picture));
}

TEST_CASE("picture: every room of the demo job is drawn, the same each time, and nothing stays",
          "[app][command]") {
    const TestFolder folder;
    const TestFolder temp;
    const Variable temporary("TMPDIR", temp.path().string());
    std::vector<std::string> seen;
    for (const std::string room : {"shelf", "sheet", "workings", "photos", "steps"}) {
        const std::string file = folder.file(room + ".png");
        const std::vector<std::string> args{"picture",  "--job",   "demo",  "--room", room,
                                            "--screen", "800x480", "--out", file};
        REQUIRE(run(args).status == 0);
        const std::string first = file_text(file);
        CHECK(drawn(read_png(file)));
        if (room == "sheet") {
            CHECK(run(args).status == 0);
            CHECK(file_text(file) == first);
        }
        CHECK(std::find(seen.begin(), seen.end(), first) == seen.end());
        seen.push_back(first);
    }
    CHECK(temp.empty());
}

TEST_CASE("picture: hand, colours, channel, companion and taps change what is drawn",
          "[app][command]") {
    const TestFolder folder;
    const std::string bench = folder.file("bench");
    const auto shot = [&folder, &bench](const std::vector<std::string>& extra) {
        const std::string file = folder.file("x.png");
        std::vector<std::string> args{"picture",  "--bench",  bench,     "--job", "demo", "--room",
                                      "workings", "--screen", "800x480", "--out", file};
        args.insert(args.end(), extra.begin(), extra.end());
        const Ran ran = run(args);
        INFO(ran.err);
        REQUIRE(ran.status == 0);
        return file_text(file);
    };
    const std::string plain = shot({});
    CHECK(shot({"--channel", "left"}) == plain);
    for (const auto& extra : std::vector<std::vector<std::string>>{
             {"--hand", "left"},
             {"--theme", "light"},
             {"--theme", "contrast"},
             {"--channel", "right"},
             {"--beside", "steps"},
             {"--working", "gain"},
             {"--tap", "workings/field/reading"},
             {"--mm-per-unit", "0.2"},
         }) {
        INFO(extra.back());
        CHECK(shot(extra) != plain);
    }
    const std::string keypad = shot({"--tap", "workings/field/reading"});
    CHECK(shot({"--tap", "workings/field/reading", "keypad/7"}) != keypad);
    CHECK(shot({"--tap", "workings/field/reading", "--tap", "keypad/leave"}) == plain);
}

TEST_CASE("picture: what cannot be drawn is refused by option", "[app][command]") {
    const TestFolder folder;
    const std::string file = folder.file("x.png");
    struct Row {
        std::vector<std::string> args;
        int status;
        std::string said;
    };
    const std::vector<Row> rows{
        {{}, 2, "--out"},
        {{"--out", file, "--room", "sheet"}, 2, "--job"},
        {{"--out", file, "--beside", "steps"}, 2, "--job"},
        {{"--out", file, "--room", "shed", "--job", "demo"},
         2,
         "shelf, sheet, workings, photos, steps, handover or suspects"},
        {{"--out", file, "--screen", "800"}, 2, "Accepted: "},
        {{"--out", file, "--mm-per-unit", "wide"}, 2, "--mm-per-unit"},
        {{"--out", file, "--hand", "middle"}, 2, "left or right"},
        {{"--out", file, "--theme", "pink"}, 2, "dark, light or contrast"},
        {{"--out", file, "--working", "idel", "--job", "demo"}, 2, "did you mean idle?"},
        {{"--out", file, "--bench", folder.file("none")}, 2, "no bench"},
        {{"--out", file, "--job", "demo", "--tap", "rail/shet"}, 2, "did you mean rail/sheet?"},
        {{"--out", folder.file("no/such/folder.png"), "--job", "demo"},
         2,
         "--out: there is no folder"},
    };
    for (const Row& row : rows) {
        std::vector<std::string> args{"picture"};
        args.insert(args.end(), row.args.begin(), row.args.end());
        const Ran ran = run(args);
        INFO(row.said << " / " << ran.err);
        CHECK(ran.status == row.status);
        CHECK(holds(ran.err, row.said));
        CHECK_FALSE(std::filesystem::exists(file));
    }
    CHECK(folder.empty());
}

TEST_CASE("picture: a control below the edge is scrolled to before it is tapped",
          "[app][command]") {
    const TestFolder folder;
    // The last field of the form lies below a five-inch panel.
    const std::string before = folder.file("before.png");
    const std::string after = folder.file("after.png");
    REQUIRE(run({"picture", "--job", "demo", "--room", "workings", "--screen", "panel-5in", "--out",
                 before})
                .status == 0);
    const Ran ran = run({"picture", "--job", "demo", "--room", "workings", "--screen", "panel-5in",
                         "--tap", "workings/field/internal_resistance", "--out", after});
    INFO(ran.err);
    REQUIRE(ran.status == 0);
    CHECK(file_text(before) != file_text(after));
}

TEST_CASE("demo: words and thirty pictures, and the bench is gone", "[app][command]") {
    const TestFolder folder;
    const TestFolder temp;
    const Variable temporary("TMPDIR", temp.path().string());
    const std::string pictures = folder.file("pictures");
    const Ran ran = run_program({"demo", "--out", pictures});
    INFO(ran.err);
    REQUIRE(ran.status == 0);
    for (const char* part :
         {"Orrinvale SA-260", "Kept with the job", "Idle current, left channel",
          "Idle current, right channel", "Gain window, left channel", "OUTSIDE, HIGH"}) {
        INFO(part);
        CHECK(holds(ran.out, part));
    }
    int found = 0;
    for (const ReferenceScreen& screen : reference_screens()) {
        for (const char* room : {"shelf", "sheet", "workings", "photos", "steps"}) {
            const std::string file =
                pictures + '/' + room + '-' + std::string(screen.name) + ".png";
            INFO(file);
            REQUIRE(std::filesystem::exists(file));
            CHECK(holds(ran.out, file));
            const std::string text = file_text(file);
            const auto facts = sniff_image(std::as_bytes(std::span(text)), file);
            REQUIRE(facts.ok());
            CHECK(facts->width == screen_of(screen).width_px);
            CHECK(facts->height == screen_of(screen).height_px);
            ++found;
        }
    }
    CHECK(found == 30);
    CHECK(temp.empty());
}

#ifndef RAILSIDE_SANITIZED // a minute without them, eight with
TEST_CASE("picture: --all puts every view of every reference screen on one sheet",
          "[app][command]") {
    const TestFolder folder;
    const std::string file = folder.file("sheet.png");
    const Ran ran = run_program({"picture", "--job", "demo", "--all", "--out", file});
    INFO(ran.err);
    REQUIRE(ran.status == 0);
    const Picture picture = read_png(file);
    CHECK(drawn(picture));
    // Six columns of at least 170 pixels, a row for each view.
    CHECK(picture.width > 6 * 170);
    CHECK(picture.height > static_cast<int>(sheet_views().size()) * 300);
    const Ran refused =
        run_program({"picture", "--job", "demo", "--all", "--room", "steps", "--out", file});
    CHECK(refused.status != 0);
    CHECK(holds(refused.err, "--room"));
}
#endif

TEST_CASE("picture: a picture is made smaller by averages and never larger", "[app][command]") {
    Picture picture{4, 2, {}};
    for (int i = 0; i < 8; ++i)
        for (const int byte : {i % 2 == 0 ? 0 : 200, 10, 20, 255})
            picture.rgba.push_back(static_cast<std::uint8_t>(byte));
    const Picture half = shrunk(picture, 2, 2);
    CHECK(half.width == 2);
    CHECK(half.height == 1);
    CHECK(half.rgba == std::vector<std::uint8_t>{100, 10, 20, 255, 100, 10, 20, 255});
    CHECK(shrunk(picture, 100, 100).rgba == picture.rgba);
}
