#include "app/command/screens.h"

#include "support/catch.h"

#include <cmath>
#include <string>
#include <tuple>

using namespace railside;

TEST_CASE("screens: the reference screens have their real sizes", "[app][command]") {
    // The diagonals the panels and tablets are sold by, 0.166 mm a unit for the phone,
    // 0.25 mm a pixel for the desktop. A diagonal is of square pixels, 25.4 mm an inch.
    using Row = std::tuple<int, int, double, double>;
    const std::vector<Row> rows{{800, 480, 1, 5},     {1024, 600, 1, 7},    {1280, 800, 1, 10.1},
                                {800, 1280, 1, 10.1}, {1600, 1000, 1, 0.0}, {390, 844, 3, 0.0}};
    REQUIRE(reference_screens().size() == rows.size());
    for (const auto& [width, height, density, inches] : rows) {
        const ReferenceScreen* found = nullptr;
        for (const ReferenceScreen& screen : reference_screens()) {
            if (screen.width == width && screen.height == height) {
                found = &screen;
            }
        }
        INFO(width << " x " << height);
        REQUIRE(found != nullptr);
        CHECK(found->density == density);
        if (inches > 0) {
            CHECK(near(std::hypot(width, height) * found->mm_per_unit / 25.4, inches, 1e-12));
        }
        const Screen surface = screen_of(*found);
        CHECK(surface.width_px == width * density);
        CHECK(surface.height_px == height * density);
        CHECK(near(surface.px_per_mm, density / found->mm_per_unit, 1e-6)); // a float
    }
}

TEST_CASE("screens: a text gives size, density and millimetres", "[app][command]") {
    using Row = std::tuple<const char*, int, int, double>;
    // Pixels a millimetre: density over the width of a unit (reference table, else 0.166 above a
    // density of 1 and 0.17 at others).
    const auto row = GENERATE(table<const char*, int, int, double>({
        Row{"390x844@3", 1170, 2532, 3 / 0.166}, Row{"390x844", 390, 844, 1 / 0.166},
        Row{"phone", 1170, 2532, 3 / 0.166}, Row{"1600x1000", 1600, 1000, 4},
        Row{"1600\u00d71000", 1600, 1000, 4}, Row{"1024X768", 1024, 768, 1 / 0.17},
        Row{"412x915@2.625", 1082, 2402, 2.625 / 0.166}, // 1081.5 and 2401.875, rounded
    }));
    const auto screen = parse_screen(std::get<0>(row));
    REQUIRE(screen.ok());
    CHECK(screen->width_px == std::get<1>(row));
    CHECK(screen->height_px == std::get<2>(row));
    CHECK(near(screen->px_per_mm, std::get<3>(row), 1e-6));
}

TEST_CASE("screens: the millimetres may be given", "[app][command]") {
    const auto screen = parse_screen("390x844@3", 0.2);
    REQUIRE(screen.ok());
    CHECK(near(screen->px_per_mm, 15, 1e-6));
    for (const double mm : {0.0, -1.0, 0.01, 9.0, std::nan("")}) {
        const auto refused = parse_screen("800x480", mm);
        REQUIRE_FALSE(refused.ok());
        CHECK(refused.error().code == ErrorCode::out_of_range);
        CHECK(refused.error().field == "--mm-per-unit");
        CHECK(refused.error().message.find("0.025 to 0.5 mm") != std::string::npos);
    }
}

TEST_CASE("screens: what is no screen is refused with what is accepted", "[app][command]") {
    const std::string text =
        GENERATE("", "800", "800x", "x480", "800x480x1", "800x480@", "800x480@two", "big", "phonee",
                 "800.5x480", "-800x480", "nanxnan", "800x480@0.1", "800x480@9", "100x480",
                 "800x9000", "1e9x1e9", "4000x4000@8", "\xff\xfe");
    INFO(text);
    const auto screen = parse_screen(text);
    REQUIRE_FALSE(screen.ok());
    CHECK(screen.error().message.find("Accepted: ") != std::string::npos);
}

TEST_CASE("screens: a window's size is two whole numbers", "[app][command]") {
    const auto size = parse_pixel_size("1280x800");
    REQUIRE(size.ok());
    CHECK(size->width == 1280);
    CHECK(size->height == 800);
    for (const char* text : {"1280", "1280x", "12.5x800", "1280x80", "9999x800", "axb"}) {
        INFO(text);
        CHECK_FALSE(parse_pixel_size(text).ok());
    }
}
