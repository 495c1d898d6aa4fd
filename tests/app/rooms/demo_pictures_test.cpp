#include "app/rooms/demo_pictures.h"

#include "support/catch.h"

#include <algorithm>
#include <array>
#include <cmath>

using namespace railside;

namespace {

struct Colour {
    double r = 0, g = 0, b = 0;
};

/// Mean over a small square about a point given in 1/1600 of the width.
Colour around(const Picture& picture, double x, double y, int reach) {
    const double scale = picture.width / 1600.0;
    const int cx = int(x * scale);
    const int cy = int(y * scale);
    Colour sum;
    int count = 0;
    for (int dy = -reach; dy <= reach; ++dy) {
        for (int dx = -reach; dx <= reach; ++dx) {
            const std::size_t at =
                (std::size_t(cy + dy) * std::size_t(picture.width) + std::size_t(cx + dx)) * 4;
            sum.r += picture.rgba[at];
            sum.g += picture.rgba[at + 1];
            sum.b += picture.rgba[at + 2];
            ++count;
        }
    }
    return {sum.r / count, sum.g / count, sum.b / count};
}

/// The band colour whose paint is nearest in hue and saturation, whatever the light does to its
/// brightness.
BandColour nearest(Colour seen) {
    const auto normal = [](Colour c) {
        const double most = std::max({c.r, c.g, c.b, 1.0});
        return Colour{c.r / most, c.g / most, c.b / most};
    };
    const Colour wanted = normal(seen);
    double best = 1e9;
    BandColour found = BandColour::black;
    // the coloured ones; black, grey, white and silver differ in brightness only
    for (const BandColour colour : {BandColour::brown, BandColour::red, BandColour::orange,
                                    BandColour::yellow, BandColour::green, BandColour::blue,
                                    BandColour::violet, BandColour::gold, BandColour::silver}) {
        const std::uint32_t hex = band_paint(colour);
        const Colour c =
            normal({double(hex >> 16 & 255), double(hex >> 8 & 255), double(hex & 255)});
        const double apart = std::hypot(c.r - wanted.r, c.g - wanted.g, c.b - wanted.b);
        if (apart < best) {
            best = apart;
            found = colour;
        }
    }
    return found;
}

} // namespace

TEST_CASE("resistor bands: figures, multiplier and tolerance after IEC 60062",
          "[app][rooms][demo]") {
    using enum BandColour;
    struct Row {
        double ohm;
        std::vector<BandColour> bands;
    };
    const std::array rows = {
        Row{0.22, {red, red, silver, gold}},   Row{0.47, {yellow, violet, silver, gold}},
        Row{1, {brown, black, gold, gold}},    Row{2.2, {red, red, gold, gold}},
        Row{10, {brown, black, black, gold}},  Row{330, {orange, orange, brown, gold}},
        Row{1000, {brown, black, red, gold}},  Row{4700, {yellow, violet, red, gold}},
        Row{82000, {grey, red, orange, gold}}, Row{560000, {green, blue, yellow, gold}},
        Row{10e6, {brown, black, blue, gold}},
    };
    for (const Row& row : rows) {
        INFO(row.ohm);
        const auto bands = resistor_bands(row.ohm);
        REQUIRE(bands);
        CHECK(*bands == row.bands);
    }
    for (const double ohm : {0.0, -1.0, 0.05, 1e9, 127.0, 0.221, std::nan("")}) {
        INFO(ohm);
        CHECK_FALSE(resistor_bands(ohm));
    }
}

TEST_CASE("the drawn emitter resistors wear the bands of their values", "[app][rooms][demo]") {
    const auto picture = demo_picture("emitter_resistors", 1200);
    REQUIRE(picture);
    REQUIRE(drawn_resistors().size() == 2);
    CHECK(drawn_resistors()[0].ohm == 0.22);
    CHECK(drawn_resistors()[1].ohm == 0.47);
    for (const DrawnResistor& drawn : drawn_resistors()) {
        const auto bands = resistor_bands(drawn.ohm);
        REQUIRE(bands);
        for (int band = 0; band < 4; ++band) {
            INFO(drawn.designator << " band " << band);
            const double along = band_place(band) * drawn.length;
            // a little below the middle, clear of the highlight
            const double across = drawn.length * 0.04;
            const double x = drawn.x + along * std::cos(drawn.turn) - across * std::sin(drawn.turn);
            const double y = drawn.y + along * std::sin(drawn.turn) + across * std::cos(drawn.turn);
            CHECK(nearest(around(*picture, x, y, 2)) == (*bands)[std::size_t(band)]);
        }
    }
}

TEST_CASE("demo pictures: seven, all different, opaque, 4:3 and the same each time",
          "[app][rooms][demo]") {
    REQUIRE(demo_picture_names().size() == 8);
    std::vector<Picture> seen;
    for (const std::string_view name : demo_picture_names()) {
        INFO(name);
        const auto picture = demo_picture(name, 320);
        REQUIRE(picture);
        CHECK(picture->width == 320);
        CHECK(picture->height == 240);
        REQUIRE(picture->rgba.size() == 320U * 240U * 4U);
        bool opaque = true;
        double light = 0;
        for (std::size_t i = 0; i < picture->rgba.size(); i += 4) {
            opaque = opaque && picture->rgba[i + 3] == 255;
            light += picture->rgba[i + 1];
        }
        CHECK(opaque);
        // neither black nor blank: a mean green of 20 to 200
        CHECK(light / (320 * 240) > 20);
        CHECK(light / (320 * 240) < 200);
        CHECK(demo_picture(name, 320)->rgba == picture->rgba);
        for (const Picture& other : seen) {
            CHECK(other.rgba != picture->rgba);
        }
        seen.push_back(*picture);
    }
    CHECK_FALSE(demo_picture("none", 320));
    CHECK_FALSE(demo_picture("front", 100));
    CHECK_FALSE(demo_picture("front", 4000));
}

TEST_CASE("the scope picture shows the + half held at two thirds of the − half",
          "[app][rooms][demo]") {
    // 21.8 V against 33 V, as the demo job's readings say; the trace is the brightest green of its
    // column
    const auto picture = demo_picture("early_clip", 1600);
    REQUIRE(picture);
    const auto rows = [&](int from, int to) {
        int best_row = 0;
        int best = -1;
        for (int x = 200; x < 1080; x += 1) {
            for (int y = from; y < to; ++y) {
                const std::size_t at = (std::size_t(y) * 1600 + std::size_t(x)) * 4;
                if (picture->rgba[at] > 130 && picture->rgba[at + 1] > 190) {
                    const int off = std::abs(y - 590);
                    if (off > best) {
                        best = off;
                        best_row = y;
                    }
                }
            }
        }
        return best_row;
    };
    const double up = 590 - rows(200, 590);
    const double down = rows(590, 980) - 590;
    CHECK(up / down == Approx(21.8 / 33).margin(0.05)); // the picture is tilted by 0.01
}
