#include "app/rooms/demo_pictures.h"

#include "app/rooms/demo_painter.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

namespace railside {

namespace {

using namespace paint;

constexpr float k_pi = std::numbers::pi_v<float>;

constexpr Rgb k_solder = rgb(0xb9bcb8);
constexpr Rgb k_copper = rgb(0xb9773c);
constexpr Rgb k_silk = rgb(0xdcd9c4);
constexpr Rgb k_wire_steel = rgb(0xb4b2aa);

// What every board has

/// Glass-fibre board under green lacquer, copper showing through as a lighter green.
void green_board(const Brush& sheet) {
    sheet.fill(
        {0, 0}, {1600, 1200}, 0,
        [](Point) {
            return Near{-9, {}};
        },
        [](Point p, const Near&) {
            const auto thread = [](float at) {
                return std::abs(at / 11.4F - float(int(at / 11.4F)) - 0.5F) * 4 - 1;
            };
            const float weave = thread(p.x) * thread(p.y);
            const float tone = 0.90F + 0.14F * mottle(p.x, p.y, 170, 3) +
                               0.05F * mottle(p.x, p.y, 23, 4) + 0.018F * weave;
            return Paint{rgb(0x1d4a35) * tone};
        });
}

/// Paper board, solder side: brown, with copper under a thin greenish lacquer.
void brown_board(const Brush& sheet) {
    sheet.fill(
        {0, 0}, {1600, 1200}, 0,
        [](Point) {
            return Near{-9, {}};
        },
        [](Point p, const Near&) {
            const float fibre = mottle(p.x, p.y * 6, 40, 8) + 0.6F * mottle(p.x * 5, p.y, 60, 9);
            return Paint{rgb(0x704a22) *
                         (0.84F + 0.12F * fibre + 0.12F * mottle(p.x, p.y, 210, 10))};
        });
}

struct Track {
    std::vector<Point> points;
    float width = 0;
};

/// All edges before all faces, so that tracks that meet run into each other.
void green_tracks(const Brush& b, const std::vector<Track>& tracks) {
    for (const Track& t : tracks) {
        b.track(t.points, t.width + 5, {rgb(0x143525)});
    }
    for (const Track& t : tracks) {
        b.track(t.points, t.width, {rgb(0x2c6b4a)});
    }
}

void copper_tracks(const Brush& b, const std::vector<Track>& tracks) {
    for (const Track& t : tracks) {
        b.track(t.points, t.width + 6, {rgb(0x4f3317)});
    }
    for (const Track& t : tracks) {
        b.track(t.points, t.width, {rgb(0xb07f3e)});
    }
    for (const Track& t : tracks) {
        b.track(t.points, t.width * 0.45F, {rgb(0xbf9049)});
    }
}

/// A soldered joint seen from above.
void joint(const Brush& b, Point at, float radius) {
    b.disc(at, radius * 1.28F, {k_copper * 0.85F, 1, Sheen::dome, 0.2F});
    b.disc(at, radius, {k_solder, 1, Sheen::dome, 0.9F});
    b.disc(at + Point{radius * 0.08F, radius * 0.06F}, radius * 0.30F,
           {rgb(0x8f928f), 1, Sheen::dome, 0.9F});
}

void screw(const Brush& b, Point at, float radius, float turn) {
    b.shadow_disc(at + Point{radius * 0.22F, radius * 0.28F}, radius * 1.02F, radius * 0.4F, 0.5F);
    b.disc(at, radius, {rgb(0xa9abaa), 1, Sheen::dome, 0.9F});
    const Brush head = b.at(at, turn);
    head.box({}, {radius * 1.25F, radius * 0.26F}, 2, {rgb(0x3a3b3c)});
    head.box({}, {radius * 0.26F, radius * 1.25F}, 2, {rgb(0x3a3b3c)});
}

/// A small plastic transistor (flat towards the turn), seen from above.
void small_transistor(const Brush& b, Point at, float radius, float turn) {
    const Brush part = b.at(at, turn);
    part.shadow_disc({radius * 0.3F, radius * 0.35F}, radius, radius * 0.5F, 0.5F);
    part.fill(
        {-radius, -radius}, {radius, radius}, 0,
        [&](Point p) {
            const Near near = near_disc(p, radius);
            return Near{std::max(near.d, p.y - radius * 0.55F), near.n};
        },
        [](Point, const Near& near) {
            return Paint{lit({rgb(0x26272a), 1, Sheen::dome, 0.35F}, near.n)};
        });
}

void electrolytic(const Brush& b, Point at, float radius, Rgb sleeve, float turn) {
    b.shadow_disc(at + Point{radius * 0.22F, radius * 0.28F}, radius, radius * 0.4F, 0.55F);
    b.disc(at, radius, {sleeve, 1, Sheen::dome, 0.25F});
    b.disc(at, radius * 0.86F, {rgb(0xb6b8b8), 1, Sheen::dome, 0.35F});
    const Brush top = b.at(at, turn);
    for (const float a : {0.0F, k_pi / 3, 2 * k_pi / 3}) {
        const Point out = Point{std::cos(a), std::sin(a)} * (radius * 0.55F);
        top.line(out * -1, out, radius * 0.05F, {rgb(0x7d8080)});
    }
}

/// An axial resistor lying along x, its middle at the brush's origin.
void banded_resistor(const Brush& b, float body, double ohm, Rgb coat) {
    const float high = body * 0.29F;
    const float reach = body * 0.80F;
    b.shadow_box({body * 0.02F, high * 0.42F}, {body * 1.02F, high * 0.9F}, high * 0.45F,
                 high * 0.30F, 0.55F);
    b.shadow_box({0, high * 0.24F}, {2 * reach, high * 0.12F}, 3, high * 0.10F, 0.4F);
    b.box({0, 0}, {2 * reach, high * 0.105F}, high * 0.05F, {k_wire_steel, 1, Sheen::tube, 0.9F});
    // the ends swell where the caps sit under the coat
    const auto shape = [&](Point p) {
        const Near middle = near_box(p, {body / 2, high * 0.43F}, high * 0.35F);
        const Near left =
            near_box(p - Point{-body * 0.39F, 0}, {body * 0.11F, high / 2}, high * 0.30F);
        const Near right =
            near_box(p - Point{body * 0.39F, 0}, {body * 0.11F, high / 2}, high * 0.30F);
        const float ends = std::min(left.d, right.d);
        const float k = std::clamp(0.5F + 0.5F * (middle.d - ends) / (high * 0.16F), 0.0F, 1.0F);
        const float d = middle.d + (ends - middle.d) * k - high * 0.16F * k * (1 - k);
        return Near{d, {p.x / (body / 2), p.y / (high * 0.49F)}};
    };
    const auto bands = resistor_bands(ohm);
    b.fill({-body / 2, -high * 0.6F}, {body / 2, high * 0.6F}, 0, shape,
           [&](Point p, const Near& near) {
               Rgb colour = coat * (0.97F + 0.06F * mottle(p.x, p.y, 14, 21));
               float gloss = 0.5F;
               for (int i = 0; bands && i < int(bands->size()); ++i) {
                   if (std::abs(p.x / body - band_place(i)) < 0.036F) {
                       const BandColour band = (*bands)[std::size_t(i)];
                       colour = rgb(band_paint(band));
                       gloss =
                           band == BandColour::gold || band == BandColour::silver ? 0.95F : 0.5F;
                   }
               }
               const float ends = 1 - 0.22F * std::max(0.0F, std::abs(near.n.x) - 0.88F) / 0.12F;
               return Paint{lit({colour * ends, 1, Sheen::tube, gloss}, near.n)};
           });
}

// The pictures

void draw_front(const Brush& sheet) {
    // wall and bench
    sheet.fill(
        {0, 0}, {1600, 1200}, 0,
        [](Point) {
            return Near{-9, {}};
        },
        [](Point p, const Near&) {
            if (p.y < 560) {
                return Paint{rgb(0x59564f) *
                             (0.80F + 0.0006F * p.y + 0.08F * mottle(p.x, p.y, 260, 5))};
            }
            // boards 150 apart, each with its own tone and a grain that runs along it
            const float board = float(int((p.y - 560) / 150));
            const float run = p.x + 390 * board;
            const float grain = 0.55F * mottle(run * 0.05F, p.y * 2.6F, 9, 6) +
                                0.35F * mottle(run * 0.3F, p.y * 4, 7, 7) +
                                0.5F * mottle(run * 0.07F, p.y, 26, 15);
            const float gap = std::abs(p.y - 560 - 150 * board) < 2.5F ? 0.55F : 1.0F;
            const float tone =
                0.64F + 0.08F * mottle(board, 3, 1, 16) + 0.28F * grain + 0.00012F * (p.y - 560);
            return Paint{rgb(0x805c3a) * (tone * gap)};
        });
    sheet.shadow_box({800, 562}, {1700, 10}, 2, 16, 0.35F);
    const Brush b = sheet.at({800, 640}, -0.012F);
    b.shadow_box({14, 258}, {1270, 60}, 30, 46, 0.8F);
    // the lid, seen a little from above, with its slots
    const Point lid[] = {{-560, -330}, {560, -330}, {640, -222}, {-640, -222}};
    b.polygon(lid, {rgb(0x3a3d40), 1, Sheen::satin});
    for (int row = 0; row < 3; ++row) {
        for (int i = -11; i <= 11; ++i) {
            const float y = -308 + 26 * float(row);
            b.box({float(i) * (41 + 2.2F * float(row)), y}, {30, 9}, 4.5F, {rgb(0x141618)});
        }
    }
    for (const float x : {-470.0F, 470.0F}) {
        b.shadow_box({x + 6, 238}, {120, 26}, 6, 10, 0.6F);
        b.box({x, 232}, {110, 36}, 8, {rgb(0x17181a)});
    }
    // front plate
    b.box({0, 0}, {1300, 450}, 8, {rgb(0x24272a)});
    b.fill(
        {-646, -221}, {646, 221}, 0,
        [](Point p) {
            return near_box(p, {644, 219}, 6);
        },
        [](Point p, const Near& near) {
            const float brushed = mottle(p.x * 0.05F, p.y * 2.2F, 2.6F, 11);
            return Paint{lit({rgb(0x4a4f54) * (0.90F + 0.16F * brushed), 1, Sheen::satin}, near.n)};
        });
    // wear, under what stands out from the plate
    for (int i = 0; i < 16; ++i) {
        const auto any = [i](int what) {
            return mottle(float(i * 7 + what), 0.5F, 1, std::uint32_t(41 + what));
        };
        const Point from = {-560 + 1120 * any(1), -190 + 380 * any(2)};
        const float way = k_pi * (any(3) - 0.5F);
        b.line(from, from + Point{std::cos(way), std::sin(way)} * (12 + 50 * any(4)), 1.4F,
               {rgb(0xb9bcbd), 0.25F});
    }
    for (const float x : {-606.0F, 606.0F}) {
        screw(b, {x, -176}, 15, 0.4F + x);
        screw(b, {x, 176}, 15, 1.1F + x);
        b.shadow_box({x + 14, 14}, {34, 250}, 16, 14, 0.55F);
        b.box({x, 0}, {34, 256}, 16, {rgb(0x8d9194), 1, Sheen::satin});
        b.box({x - 7, 0}, {6, 220}, 3, {rgb(0xd4d7d8), 0.7F});
    }
    // maker's plate
    b.shadow_box({-413, -124}, {270, 100}, 6, 6, 0.5F);
    b.box({-415, -128}, {270, 100}, 6, {rgb(0xc9c6ba), 1, Sheen::satin});
    b.letters({-530, -138}, 30, 4.6F, "ORRINVALE", {rgb(0x25272a)});
    b.letters({-530, -94}, 26, 4, "SA-260", {rgb(0x7d2f26)});
    // power switch
    b.box({-480, 90}, {92, 132}, 10, {rgb(0x121315)});
    b.box({-480, 60}, {76, 56}, 6, {rgb(0x2a2c2f), 1, Sheen::satin});
    b.box({-480, 118}, {76, 58}, 6, {rgb(0x1b1c1e), 1, Sheen::satin});
    b.ring({-480, 62}, 11, 4, {k_silk * 0.9F});
    b.line({-480, 106}, {-480, 130}, 4, {k_silk * 0.9F});
    b.letters({-520, 190}, 20, 3, "POWER", {k_silk * 0.9F});
    // level knobs
    for (int i = 0; i < 2; ++i) {
        const Point at = {-150.0F + 320.0F * float(i), 4};
        for (int t = 0; t <= 10; ++t) {
            const float a = k_pi * (0.75F + 0.15F * float(t));
            const Point out = {std::cos(a), std::sin(a)};
            b.line(at + out * 118, at + out * (t % 5 == 0 ? 138.0F : 130.0F), 4, {k_silk * 0.9F});
        }
        b.shadow_disc(at + Point{16, 22}, 96, 30, 0.65F);
        b.disc(at, 98, {rgb(0x1a1b1d), 1, Sheen::dome, 0.12F});
        for (int t = 0; t < 36; ++t) {
            const float a = 2 * k_pi * float(t) / 36;
            const Point out = {std::cos(a), std::sin(a)};
            b.line(at + out * 84, at + out * 96, 5, {rgb(0x0c0d0e)});
        }
        b.disc(at, 78, {rgb(0x2d2f32), 1, Sheen::dome, 0.3F});
        const float a = i == 0 ? k_pi * 1.62F : k_pi * 1.70F;
        const Point out = {std::cos(a), std::sin(a)};
        b.line(at + out * 34, at + out * 80, 8, {rgb(0xe8e4d6)});
        b.letters(at + Point{-8, 178}, 26, 4, i == 0 ? "L" : "R", {k_silk * 0.9F});
    }
    // clip and ready lamps
    const std::array<std::string_view, 3> words = {"CLIP", "CLIP", "READY"};
    for (int i = 0; i < 3; ++i) {
        const Point at = {366 + 84.0F * float(i), -134};
        b.disc(at, 19, {rgb(0x101112)});
        b.disc(at, 14, {i == 2 ? rgb(0x3c9a55) : rgb(0x6a1d1a), 1, Sheen::dome, 0.9F});
        b.letters(at + Point{i == 2 ? -34.0F : -25.0F, 46}, 16, 2.6F, words[std::size_t(i)],
                  {k_silk * 0.85F});
    }
    // the hall's own tape over the left knob
    const Brush tape = b.at({438, 96}, -0.05F);
    tape.shadow_box({4, 6}, {262, 96}, 3, 7, 0.45F);
    tape.fill(
        {-132, -49}, {132, 49}, 0,
        [](Point p) {
            const float torn = 5 * mottle(0, p.y, 7, 31) * (p.x < 0 ? 1.0F : 0.4F);
            return near_box(p, {130 - torn, 47}, 2);
        },
        [](Point p, const Near&) {
            return Paint{rgb(0xd8c796) * (0.92F + 0.10F * mottle(p.x, p.y, 9, 32)), 0.96F};
        });
    tape.letters({-112, -6}, 29, 5, "LEFT SIDE", {rgb(0x23324f), 0.9F});
    tape.letters({-88, 36}, 29, 5, "TOO HOT", {rgb(0x23324f), 0.9F});
}

/// A finned sink with its devices, seen from above; fins to the left of the brush's origin.
void sink_from_above(const Brush& b, float high) {
    b.shadow_box({10, 10}, {190, high}, 6, 22, 0.5F);
    for (float y = -high / 2 + 11; y < high / 2 - 4; y += 26) {
        b.box({-40, y}, {112, 12}, 3, {rgb(0x2a2c2e), 1, Sheen::tube, 0.3F});
    }
    b.box({30, 0}, {38, high}, 4, {rgb(0x3a3d40), 1, Sheen::satin});
    for (int i = 0; i < 4; ++i) {
        const bool driver = i == 1 || i == 2;
        const float y = (float(i) - 1.5F) * high * 0.235F;
        const float wide = driver ? 62.0F : 104.0F;
        b.shadow_box({68, y + 8}, {34, wide}, 4, 10, 0.5F);
        b.box({54, y}, {9, wide + 12}, 1, {rgb(0xd9d3c5), 0.9F});
        b.box({70, y}, {26, wide}, 3, {rgb(0x1d1e20), 1, Sheen::satin});
        b.box({59, y}, {6, wide - 8}, 1, {rgb(0xa8a9a7)});
        for (const float leg : {-0.3F, 0.0F, 0.3F}) {
            b.line({82, y + leg * wide}, {112, y + leg * wide}, 6, {k_wire_steel, 1, Sheen::tube});
        }
    }
}

void draw_inside(const Brush& sheet) {
    sheet.fill(
        {0, 0}, {1600, 1200}, 0,
        [](Point) {
            return Near{-9, {}};
        },
        [](Point p, const Near&) {
            return Paint{rgb(0x3b4a46) * (0.85F + 0.2F * mottle(p.x, p.y, 190, 51))};
        });
    const Brush b = sheet.at({800, 600}, 0.014F);
    b.shadow_box({16, 22}, {1420, 1060}, 16, 40, 0.75F);
    b.box({0, 0}, {1420, 1060}, 14, {rgb(0x7d8185), 1, Sheen::satin});
    b.fill(
        {-690, -510}, {690, 510}, 0,
        [](Point p) {
            return near_box(p, {688, 508}, 8);
        },
        [](Point p, const Near&) {
            return Paint{rgb(0x9aa09f) * (0.88F + 0.12F * mottle(p.x, p.y, 300, 52))};
        });
    b.shadow_box({0, -500}, {1380, 20}, 4, 26, 0.5F);
    b.shadow_box({-684, 0}, {18, 1010}, 4, 26, 0.5F);
    // mains transformer, a ring core under its tape
    const Point core = {-300, -240};
    b.shadow_disc(core + Point{22, 28}, 222, 46, 0.6F);
    b.disc(core, 222, {rgb(0xb99838), 1, Sheen::dome, 0.1F});
    b.fill(
        core - Point{222, 222}, core + Point{222, 222}, 0,
        [&](Point p) {
            const Near near = near_disc(p - core, 142);
            return Near{std::abs(near.d) - 79, near.n};
        },
        [&](Point p, const Near&) {
            const Point q = p - core;
            const float around = std::atan2(q.y, q.x) * 34 / (2 * k_pi) + length(q) * 0.004F;
            const float tape = around - std::floor(around);
            const float round = 1 - std::abs(length(q) - 142) / 79;
            return Paint{rgb(0xd8b445) * ((0.55F + 0.5F * std::sqrt(std::max(0.0F, round))) *
                                          (0.86F + 0.16F * tape)),
                         0.92F};
        });
    b.disc(core, 66, {rgb(0x4a4d4f), 1, Sheen::satin});
    b.disc(core, 62, {rgb(0x8b8f91), 1, Sheen::dome, 0.4F});
    screw(b, core, 26, 0.3F);
    // inlet, fuse, switch wiring at the back
    b.box({-560, -486}, {150, 46}, 4, {rgb(0x1b1c1e)});
    b.shadow_box({-552, -440}, {130, 58}, 8, 12, 0.5F);
    b.box({-560, -448}, {128, 52}, 8, {rgb(0x2b2d30), 1, Sheen::satin});
    b.box({-372, -490}, {110, 34}, 6, {rgb(0x26282a)});
    b.disc({-372, -474}, 22, {rgb(0x1a1b1c), 1, Sheen::dome, 0.4F});
    const auto wire = [&](std::initializer_list<Point> ends, float width, Rgb colour) {
        // a soft bend through the given points (Catmull-Rom, twelve pieces each)
        std::vector<Point> way;
        const std::vector<Point> p(ends);
        for (std::size_t i = 0; i + 1 < p.size(); ++i) {
            const Point p0 = p[i == 0 ? 0 : i - 1], p1 = p[i], p2 = p[i + 1],
                        p3 = p[std::min(i + 2, p.size() - 1)];
            for (int s = 0; s < 12; ++s) {
                const float t = float(s) / 12;
                way.push_back((p1 * 2 + (p2 - p0) * t + (p0 * 2 - p1 * 5 + p2 * 4 - p3) * (t * t) +
                               (p1 * 3 - p0 - p2 * 3 + p3) * (t * t * t)) *
                              0.5F);
            }
        }
        way.push_back(p.back());
        std::vector<Point> below(way);
        for (Point& q : below) {
            q = q + Point{5, 8};
        }
        b.shadow_path(below, width, 7, 0.45F);
        b.path(way, width, {colour, 1, Sheen::tube, 0.4F});
    };
    wire({{-590, -430}, {-640, -300}, {-600, -120}, {-672, 40}, {-672, 330}, {-640, 500}}, 15,
         rgb(0x6b4226));
    wire({{-562, -430}, {-604, -300}, {-566, -120}, {-634, 30}, {-650, 330}, {-612, 500}}, 15,
         rgb(0x3a5f9e));
    wire({{-520, -436}, {-480, -430}, {-440, -470}}, 15, rgb(0x7f9a35));
    b.box({-440, -474}, {30, 22}, 4, {rgb(0xb8babb), 1, Sheen::dome, 0.6F});
    // bridge rectifier and reservoirs
    b.shadow_box({10, -318}, {118, 118}, 8, 18, 0.5F);
    b.box({0, -330}, {116, 116}, 8, {rgb(0x222427), 1, Sheen::satin});
    screw(b, {0, -330}, 20, 0.9F);
    for (const Point at : {Point{190, -330}, Point{400, -330}}) {
        electrolytic(b, at, 92, rgb(0x22355c), at.x);
    }
    wire({{-110, -200}, {-40, -210}, {-20, -280}}, 14, rgb(0xa33129));
    wire({{-100, -170}, {0, -180}, {26, -276}}, 14, rgb(0xa33129));
    wire({{-90, -130}, {40, -140}, {190, -150}, {250, -226}}, 14, rgb(0x26282b));
    // amplifier boards, left and right, and their sinks
    for (int side = 0; side < 2; ++side) {
        const float m = side == 0 ? -1.0F : 1.0F;
        const Brush sink = b.at({m * 572, side == 0 ? 240.0F : 150.0F}, side == 0 ? 0.0F : k_pi);
        const Point board = {m * 318, side == 0 ? 250.0F : 150.0F};
        b.shadow_box(board + Point{12, 16}, {356, 460}, 4, 20, 0.5F);
        b.fill(
            board - Point{180, 232}, board + Point{180, 232}, 0,
            [&](Point p) {
                return near_box(p - board, {178, 230}, 4);
            },
            [&](Point p, const Near&) {
                return Paint{rgb(0x1f5039) * (0.88F + 0.2F * mottle(p.x, p.y, 50, 53))};
            });
        sink_from_above(sink, 470);
        for (int i = 0; i < 2; ++i) {
            const Brush r = b.at(board + Point{m * -78, -86.0F + 172.0F * float(i)}, k_pi / 2);
            banded_resistor(r, 96, side == 0 && i == 1 ? 0.47 : 0.22,
                            side == 0 && i == 1 ? rgb(0x8fa3ad) : rgb(0xc9b58d));
        }
        for (int i = 0; i < 12; ++i) {
            const int row = i / 3;
            const Brush r = b.at(
                board + Point{m * (-10.0F + 52.0F * float(i % 3)), -190.0F + 56.0F * float(row)},
                i % 2 == 0 ? 0.0F : k_pi / 2);
            if (i == 10) {
                continue; // the trim pot stands here
            }
            const std::array<double, 6> values = {100, 4700, 220, 1000, 47000, 330};
            banded_resistor(r, 34, values[std::size_t(i) % 6], rgb(0xcbb68c));
        }
        small_transistor(b, board + Point{m * -20, 80}, 20, 0.2F);
        small_transistor(b, board + Point{m * 40, 84}, 20, 2.9F);
        small_transistor(b, board + Point{m * 96, 70}, 20, 1.2F);
        electrolytic(b, board + Point{m * 110, 170}, 34, rgb(0x1d2b25), 0.5F);
        electrolytic(b, board + Point{m * 20, 176}, 26, rgb(0x1d2b25), 0.9F);
        // trims: the left one is of another make
        if (side == 0) {
            b.shadow_box(board + Point{-40, 0}, {44, 44}, 4, 8, 0.5F);
            b.box(board + Point{-46, -8}, {44, 44}, 4, {rgb(0x2f62a8), 1, Sheen::satin});
            b.disc(board + Point{-40, -2}, 11, {rgb(0xd8c36a), 1, Sheen::dome});
        } else {
            b.shadow_disc(board + Point{50, 0}, 23, 8, 0.5F);
            b.disc(board + Point{44, -8}, 23, {rgb(0xd6d2c4), 1, Sheen::dome});
            b.line(board + Point{34, -14}, board + Point{54, -2}, 7, {rgb(0x3d3b36)});
        }
    }
    // the output board: relay, coils, terminals
    const Point out = {20, 400};
    b.shadow_box(out + Point{10, 14}, {210, 170}, 4, 18, 0.5F);
    b.fill(
        out - Point{106, 86}, out + Point{106, 86}, 0,
        [&](Point p) {
            return near_box(p - out, {105, 85}, 4);
        },
        [](Point p, const Near&) {
            return Paint{rgb(0x8a6331) * (0.85F + 0.2F * mottle(p.x, p.y * 3, 50, 54))};
        });
    b.shadow_box(out + Point{6, -16}, {84, 66}, 4, 12, 0.5F);
    b.box(out + Point{0, -24}, {84, 66}, 4, {rgb(0x1b3358), 1, Sheen::satin});
    b.box(out + Point{0, -24}, {60, 30}, 2, {rgb(0xcfd3d6), 0.25F});
    for (const float x : {-70.0F, 70.0F}) {
        for (int i = 0; i < 6; ++i) {
            b.box(out + Point{x, 16 + 8.0F * float(i)}, {40, 9}, 4,
                  {rgb(0xa9542c), 1, Sheen::tube, 0.8F});
        }
    }
    b.box(out + Point{0, 64}, {96, 24}, 3, {rgb(0x2f6f4a), 1, Sheen::satin});
    for (const float x : {-36.0F, -12.0F, 12.0F, 36.0F}) {
        b.disc(out + Point{x, 64}, 8, {rgb(0xc4c6c4), 1, Sheen::dome, 0.8F});
    }
    wire({{-200, 470}, {-140, 486}, {-120, 440}, {-72, 404}}, 13, rgb(0xd8d3c4));
    wire({{210, 360}, {190, 430}, {130, 440}, {94, 406}}, 13, rgb(0xb9782b));
    wire({{300, -250}, {220, -160}, {40, -40}, {-170, 40}}, 15, rgb(0xa33129));
    wire({{330, -250}, {250, -120}, {190, -60}, {180, 20}}, 15, rgb(0xa33129));
    wire({{290, -240}, {100, -90}, {20, 60}, {-150, 120}}, 15, rgb(0x2b4f8f));
    wire({{420, -240}, {300, -110}, {236, -80}, {230, 0}}, 15, rgb(0x2b4f8f));
    for (const Point at : {Point{60, -60}, Point{236, -112}}) {
        b.box(at, {14, 52}, 4, {rgb(0xe3dfd2), 0.9F});
    }
    for (const Point at :
         {Point{-655, -475}, Point{655, -475}, Point{-655, 475}, Point{655, 475}}) {
        screw(b, at, 16, at.x + at.y);
    }
}

/// The solder side: a red wire carries what a lifted land no longer does.
void draw_bridge(const Brush& sheet) {
    brown_board(sheet);
    const Brush b = sheet.at({800, 600}, -0.05F);
    copper_tracks(b, {{{{-900, -420}, {-420, -420}, {-250, -250}}, 54},
                      {{{-250, -250}, {-250, 40}}, 54},
                      {{{260, 36}, {560, 36}, {900, -100}}, 54},
                      {{{-900, 300}, {-300, 300}, {-120, 470}, {-120, 760}}, 44},
                      {{{340, 760}, {340, 330}, {900, 330}}, 44},
                      {{{60, -760}, {60, -330}, {420, -330}, {560, -470}, {900, -470}}, 44},
                      {{{-900, -40}, {-470, -40}, {-470, 140}, {-900, 140}}, 30}});
    // burnt lacquer about the joint that got too much iron
    b.shadow_disc({220, 50}, 150, 130, 0.62F);
    b.shadow_disc({236, 60}, 74, 60, 0.55F);
    b.fill(
        {60, -120}, {420, 230}, 60,
        [](Point p) {
            return near_disc(p - Point{240, 50}, 120 + 40 * mottle(p.x, p.y, 40, 61));
        },
        [](Point p, const Near&) {
            return Paint{rgb(0x8a5a1c), 0.25F + 0.25F * mottle(p.x, p.y, 16, 62)};
        });
    for (const Point at :
         {Point{-470, 140}, Point{-300, 300}, Point{340, 330}, Point{420, -330}, Point{60, -330},
          Point{-420, -420}, Point{-620, -40}, Point{620, 330}, Point{-120, 520}}) {
        joint(b, at, 31);
    }
    // the land lifted: it stands off the board on the stump of its track, with the hole bare beside
    // it
    b.disc({196, 40}, 54, {rgb(0x5a3c1c)});
    b.disc({196, 40}, 20, {rgb(0x0d0a07)});
    const Brush land = b.at({226, 14}, -0.42F);
    land.shadow_disc({10, 44}, 60, 22, 0.75F);
    land.fill(
        {-70, -40}, {110, 40}, 0,
        [](Point p) {
            const Near ring = near_disc({p.x, p.y * 1.75F}, 58);
            const Near hole = near_disc({p.x, p.y * 1.75F}, 20);
            const Near stump = near_box(p - Point{74, 6}, {30, 15}, 3);
            return Near{std::max(std::min(ring.d * 0.7F, stump.d), -hole.d * 0.7F),
                        {p.x / 58, p.y / 34}};
        },
        [](Point, const Near& near) {
            return Paint{lit({rgb(0xc08a48), 1, Sheen::dome, 0.7F}, near.n)};
        });
    b.line({290, 20}, {312, 62}, 5, {rgb(0x2a1a0b), 0.9F});
    // the bridge
    joint(b, {-250, 40}, 46);
    joint(b, {420, 36}, 44);
    std::vector<Point> way;
    std::vector<Point> below;
    for (int i = 0; i <= 26; ++i) {
        const float t = float(i) / 26;
        const float lift = std::sin(k_pi * t);
        const Point p = {-250 + 670 * t, 40 - 205 * lift + 22 * std::sin(2 * k_pi * t)};
        way.push_back(p);
        below.push_back({p.x + 26 * lift, p.y + 84 * lift + 6});
    }
    b.shadow_path(below, 26, 15, 0.6F);
    b.path(std::span(way).subspan(0, 5), 15, {rgb(0xc0784a), 1, Sheen::tube, 0.9F});
    b.path(std::span(way).subspan(22), 15, {rgb(0xc0784a), 1, Sheen::tube, 0.9F});
    b.path(std::span(way).subspan(3, 21), 30, {rgb(0xb5362b), 1, Sheen::tube, 0.6F});
    b.disc({-250, 44}, 36, {k_solder, 1, Sheen::dome, 0.9F});
    b.disc({420, 40}, 36, {k_solder, 1, Sheen::dome, 0.9F});
    // drops of flux
    for (int i = 0; i < 9; ++i) {
        const Point at = {320 + 190 * mottle(float(i) * 7, 2, 1, 64),
                          -20 + 170 * mottle(float(i) * 7, 6, 1, 65)};
        b.disc(at, 6 + 9 * mottle(float(i) * 7, 8, 1, 66),
               {rgb(0x9a6a1e), 0.45F, Sheen::dome, 0.9F});
    }
    b.letters({-690, -490}, 44, 6, "OUT L", {rgb(0xd8c9a0), 0.75F});
    b.letters({480, 460}, 38, 5, "L201", {rgb(0xd8c9a0), 0.75F});
}

constexpr std::array k_drawn = {
    DrawnResistor{"R231", 0.22, 770, 400, 560, -0.03F},
    DrawnResistor{"R232", 0.47, 800, 812, 560, 0.035F},
};

constexpr std::array k_drawn_after = {
    DrawnResistor{"R231", 0.22, 770, 400, 560, -0.03F},
    DrawnResistor{"R232", 0.22, 785, 822, 560, -0.02F},
};

void draw_resistors(const Brush& sheet, std::span<const DrawnResistor> resistors) {
    green_board(sheet);
    const Brush b = sheet.at({0, 0}, -0.02F);
    green_tracks(b, {{{{-40, 150}, {250, 150}, {320, 414}}, 70},
                     {{{1210, 400}, {1380, 260}, {1700, 260}}, 70},
                     {{{1210, 440}, {1210, 800}}, 90},
                     {{{-40, 1060}, {220, 1060}, {330, 830}}, 70},
                     {{{1240, 640}, {1700, 640}}, 90},
                     {{{520, 1300}, {520, 1010}, {1100, 1010}, {1180, 1090}, {1700, 1090}}, 34},
                     {{{480, -40}, {480, 120}, {900, 120}, {960, 180}, {1120, 180}}, 34}});
    for (const DrawnResistor& drawn : resistors) {
        const Brush r = sheet.at({drawn.x, drawn.y}, drawn.turn);
        const float reach = drawn.length * 0.80F;
        // printed outline
        for (const float y : {-104.0F, 104.0F}) {
            r.line({-reach * 0.72F, y}, {reach * 0.72F, y}, 5, {k_silk, 0.85F});
        }
        if (drawn.ohm > 0.4) {
            // the later solder: flux about both joints
            for (const float x : {-reach, reach}) {
                r.fill(
                    {x - 110, -110}, {x + 110, 110}, 26,
                    [&](Point p) {
                        return near_disc(p - Point{x, 0}, 70 + 34 * mottle(p.x, p.y, 30, 71));
                    },
                    [](Point p, const Near&) {
                        return Paint{rgb(0x9c6f22), 0.55F + 0.2F * mottle(p.x, p.y, 12, 72)};
                    });
            }
        }
        for (const float x : {-reach, reach}) {
            joint(r, {x, 0}, drawn.ohm > 0.4 ? 54.0F : 42.0F);
        }
        banded_resistor(r, drawn.length, drawn.ohm,
                        drawn.ohm > 0.4 ? rgb(0x86a0ad) : rgb(0xcdb78c));
        for (const float x : {-reach, reach}) {
            r.disc({x, 0}, drawn.ohm > 0.4 ? 40.0F : 28.0F, {k_solder, 1, Sheen::dome, 0.9F});
        }
    }
    b.letters({430, 262}, 52, 7, "R231", {k_silk, 0.95F});
    b.letters({900, 262}, 52, 7, "0R22", {k_silk, 0.95F});
    b.letters({450, 688}, 52, 7, "R232", {k_silk, 0.95F});
    b.letters({900, 688}, 52, 7, "0R22", {k_silk, 0.95F});
    b.letters({1330, 150}, 46, 6, "Q214", {k_silk, 0.9F});
    b.letters({1330, 1000}, 46, 6, "Q215", {k_silk, 0.9F});
    small_transistor(b, {1452, 420}, 60, 0.4F);
    b.letters({1400, 540}, 40, 5, "Q209", {k_silk, 0.9F});
    small_transistor(b, {1440, 830}, 60, 0.2F);
    electrolytic(b, {110, 610}, 118, rgb(0x1b2a4a), 0.3F);
}

void draw_emitter_resistors(const Brush& sheet) { draw_resistors(sheet, k_drawn); }
void draw_emitter_resistors_after(const Brush& sheet) { draw_resistors(sheet, k_drawn_after); }

enum class Washer { there, missing };

/// A plastic power transistor screwed to the sink, legs down; the middle of its body at the brush's
/// origin.
void power_transistor(const Brush& b, Washer washer, std::uint32_t seed) {
    const Point half = {116, 176};
    if (washer == Washer::there) {
        // paste pressed out all round, then the washer
        b.fill(
            half * -1.3F, half * 1.3F, 3,
            [&](Point p) {
                const float squeezed =
                    26 * mottle(p.x, p.y, 46, seed) + 7 * mottle(p.x, p.y, 12, seed + 1) - 16;
                return Near{near_box(p, half, 8).d - squeezed, {}};
            },
            [&](Point p, const Near&) {
                return Paint{rgb(0xe9e7de) * (0.86F + 0.14F * mottle(p.x, p.y, 14, seed + 2)),
                             0.93F};
            });
        b.shadow_box({4, 6}, half * 2, 6, 7, 0.35F);
        b.box({0, 0}, half * 2, 6, {rgb(0xcfc3a6), 0.86F});
        b.box({-3, -3}, half * 2 - Point{10, 10}, 4, {rgb(0xe4dabf), 0.6F});
    } else {
        // what is left of the old paste shows where a washer once lay
        b.fill(
            half * -1.2F, half * 1.2F, 10,
            [&](Point p) {
                const Near edge = near_box(p - Point{-6, 4}, half * 0.98F, 10);
                return Near{std::abs(edge.d) - 12 * mottle(p.x, p.y, 34, seed), {}};
            },
            [&](Point p, const Near&) {
                return Paint{rgb(0xa9aaa2), 0.10F + 0.3F * mottle(p.x, p.y, 20, seed + 1)};
            });
    }
    b.shadow_box({14, 20}, {200, 300}, 8, 20, 0.6F);
    for (const float x : {-68.0F, 0.0F, 68.0F}) {
        b.box({x, 190}, {40, 96}, 4, {k_wire_steel * 0.95F, 1, Sheen::satin});
    }
    b.box({0, 0}, {204, 312}, 10, {rgb(0x101113)});
    b.fill(
        {-99, -153}, {99, 153}, 0,
        [](Point p) {
            return near_box(p, {98, 152}, 7);
        },
        [](Point p, const Near& near) {
            return Paint{
                lit({rgb(0x2a2b2e) * (0.92F + 0.12F * mottle(p.x, p.y, 5, 85)), 1, Sheen::satin},
                    near.n)};
        });
    b.ring({0, -84}, 46, 5, {rgb(0x17181a)});
    screw(b, {0, -84}, 42, 0.3F * float(seed % 7));
    b.disc({-66, 118}, 11, {rgb(0x1a1b1d), 1, Sheen::dome, 0.1F});
}

void draw_washers(const Brush& sheet) {
    // the sink's face, its fins seen at the top
    sheet.fill(
        {0, 0}, {1600, 1200}, 0,
        [](Point) {
            return Near{-9, {}};
        },
        [](Point p, const Near&) {
            const float brushed = mottle(p.x * 0.04F, p.y * 2, 2.4F, 86);
            return Paint{rgb(0x5a5f63) * (0.90F + 0.10F * brushed +
                                          0.14F * mottle(p.x, p.y, 330, 87) - 0.00008F * p.y)};
        });
    for (int i = 0; i < 27; ++i) {
        const float x = 10 + 60 * float(i);
        sheet.box({x, 66}, {34, 180}, 4, {rgb(0x33373a), 1, Sheen::satin});
        sheet.box({x - 12, 66}, {7, 176}, 3, {rgb(0x7d8387), 0.7F});
        sheet.box({x + 26, 66}, {20, 176}, 2, {rgb(0x121416)});
    }
    sheet.shadow_box({800, 168}, {1700, 16}, 2, 18, 0.6F);
    // the board's edge below, where the legs go in
    sheet.shadow_box({800, 1030}, {1700, 40}, 2, 40, 0.6F);
    sheet.fill(
        {0, 1030}, {1600, 1200}, 0,
        [](Point p) {
            return Near{1034 - p.y, {}};
        },
        [](Point p, const Near&) {
            return Paint{rgb(0x1d4a35) * (0.85F + 0.2F * mottle(p.x, p.y, 120, 88))};
        });
    sheet.box({800, 1036}, {1700, 10}, 2, {rgb(0xa8a06a)});
    struct Device {
        std::string_view name;
        float x, y, turn, zoom;
        Washer washer;
    };
    constexpr std::array k_devices = {
        Device{"Q214", 240, 540, -0.008F, 1, Washer::there},
        Device{"Q211", 640, 590, 0.006F, 0.78F, Washer::there},
        Device{"Q212", 985, 596, 0.045F, 0.78F, Washer::missing},
        Device{"Q215", 1370, 540, -0.012F, 1, Washer::there},
    };
    std::uint32_t seed = 80;
    for (const Device& device : k_devices) {
        const Brush b = sheet.at({device.x, device.y}, device.turn, device.zoom);
        for (const float leg : {-68.0F, 0.0F, 68.0F}) {
            const Point foot = {device.x + leg * device.zoom, 1092};
            const Point from = b.on_sheet({leg, 200});
            const float width = 24 * device.zoom;
            const Point below[] = {from + Point{12, 10}, foot + Point{12, -60}};
            sheet.shadow_path(below, width, 9, 0.45F);
            joint(sheet, foot, 28 * device.zoom);
            sheet.line(from, foot, width, {k_wire_steel * 0.92F});
            sheet.line(from + Point{-width * 0.22F, 0}, foot + Point{-width * 0.22F, -10},
                       width * 0.2F, {rgb(0xefede6), 0.8F});
            sheet.disc(foot, 21 * device.zoom, {k_solder, 1, Sheen::dome, 0.9F});
        }
        power_transistor(b, device.washer, seed);
        seed += 10;
        sheet.letters({device.x - 62, 1178}, 34, 5, device.name, {k_silk, 0.9F});
    }
}

void draw_trims(const Brush& sheet) {
    green_board(sheet);
    const Brush b = sheet.at({0, 0}, 0.025F);
    green_tracks(b, {{{{-40, 380}, {300, 380}, {300, 560}}, 40},
                     {{{470, 560}, {470, 250}, {1040, 250}, {1100, 190}, {1700, 190}}, 40},
                     {{{385, 760}, {385, 980}, {820, 980}, {820, 1300}}, 40},
                     {{{1060, 560}, {1060, 470}, {840, 470}, {840, 980}}, 34},
                     {{{1240, 560}, {1240, 400}, {1700, 400}}, 40},
                     {{{1150, 760}, {1150, 1000}, {1700, 1000}}, 40}});
    // printed outlines: both were meant to take the round kind
    for (const float x : {385.0F, 1150.0F}) {
        b.ring({x, 640}, 158, 6, {k_silk, 0.85F});
    }
    // scorch under the resistor above the left one
    b.shadow_disc({650, 420}, 190, 170, 0.75F);
    b.shadow_disc({660, 420}, 96, 80, 0.75F);
    const Brush burnt = b.at({655, 418}, 0.05F);
    banded_resistor(burnt, 210, 2200, rgb(0x6b5536));
    for (const float x : {-168.0F, 168.0F}) {
        joint(burnt, {x, 0}, 24);
    }
    burnt.fill(
        {-120, -40}, {120, 40}, 14,
        [](Point p) {
            return near_disc(p - Point{20, 0}, 48 + 30 * mottle(p.x, p.y, 22, 91));
        },
        [](Point p, const Near&) {
            return Paint{rgb(0x0f0b07), 0.55F + 0.3F * mottle(p.x, p.y, 9, 92)};
        });
    // left: a square blue one, put in across the old holes
    for (const Point at : {Point{300, 740}, Point{470, 540}, Point{385, 790}}) {
        b.fill(
            at - Point{90, 90}, at + Point{90, 90}, 24,
            [&](Point p) { return near_disc(p - at, 48 + 26 * mottle(p.x, p.y, 24, 93)); },
            [](Point p, const Near&) {
                return Paint{rgb(0x9c6f22), 0.45F + 0.2F * mottle(p.x, p.y, 12, 94)};
            });
        joint(b, at, 25);
    }
    const Brush blue = b.at({385, 642}, 0.09F);
    blue.shadow_box({20, 28}, {246, 246}, 14, 26, 0.6F);
    blue.box({0, 0}, {246, 246}, 12, {rgb(0x1f4a86), 1, Sheen::satin});
    blue.box({-4, -4}, {224, 224}, 9, {rgb(0x2f68b4), 1, Sheen::satin});
    blue.disc({40, 34}, 62, {rgb(0x1d4277)});
    blue.disc({40, 34}, 54, {rgb(0xd9c06a), 1, Sheen::dome, 0.6F});
    const Brush slot = blue.at({40, 34}, 0.7F);
    slot.box({0, 0}, {92, 15}, 3, {rgb(0x5d4b1c)});
    blue.letters({-92, -66}, 30, 4.4F, "1K", {rgb(0xe8eef5), 0.9F});
    // right: the maker's, round and open, its wiper on a carbon track
    const Brush round = b.at({1150, 640}, 0);
    round.shadow_disc({18, 26}, 138, 28, 0.6F);
    round.disc({0, 0}, 138, {rgb(0xcfc9b8), 1, Sheen::dome, 0.2F});
    round.fill(
        {-112, -112}, {112, 112}, 0,
        [](Point p) {
            const Near near = near_disc(p, 88);
            // open at the bottom, where the ends come out
            return Near{std::max(std::abs(near.d) - 18, p.y - 62 - 0.2F * std::abs(p.x)), near.n};
        },
        [](Point p, const Near&) {
            return Paint{rgb(0x2b2a28) * (0.9F + 0.25F * mottle(p.x, p.y, 8, 95))};
        });
    round.disc({0, 0}, 58, {rgb(0xe4decb), 1, Sheen::dome, 0.4F});
    const Brush wiper = round.at({0, 0}, -0.95F);
    const Point arm[] = {{-16, -20}, {60, -16}, {100, 0}, {60, 16}, {-16, 20}};
    wiper.shadow_box({44, 10}, {120, 30}, 6, 8, 0.4F);
    wiper.polygon(arm, {rgb(0xc8cac8), 1, Sheen::satin});
    wiper.box({0, 0}, {78, 16}, 3, {rgb(0x4b4d4c)});
    for (const Point at : {Point{1062, 742}, Point{1238, 742}, Point{1150, 800}}) {
        joint(b, at, 24);
    }
    b.letters({300, 900}, 50, 7, "VR201", {k_silk, 0.95F});
    b.letters({1065, 900}, 50, 7, "VR301", {k_silk, 0.95F});
    b.letters({86, 520}, 44, 6, "Q207", {k_silk, 0.9F});
    small_transistor(b, {150, 620}, 64, 0.5F);
    small_transistor(b, {1440, 620}, 64, -0.4F);
    b.letters({1385, 520}, 44, 6, "Q307", {k_silk, 0.9F});
    const Brush film = b.at({760, 700}, 0.02F);
    film.shadow_box({12, 18}, {130, 240}, 12, 18, 0.55F);
    film.box({0, 0}, {130, 240}, 16, {rgb(0x8c3f22), 1, Sheen::dome, 0.35F});
    film.letters({-40, 16}, 30, 4.2F, "47N", {rgb(0xe6d7bd), 0.7F});
    for (const Point at : {Point{960, 1110}, Point{1290, 1100}}) {
        const Brush r = b.at(at, at.x > 1000 ? 0.02F : -0.03F);
        banded_resistor(r, 150, at.x > 1000 ? 470 : 1000, rgb(0xcbb68c));
        joint(r, {-120, 0}, 19);
        joint(r, {120, 0}, 19);
    }
}

void draw_scope(const Brush& sheet) {
    sheet.fill(
        {0, 0}, {1600, 1200}, 0,
        [](Point) {
            return Near{-9, {}};
        },
        [](Point p, const Near&) {
            return Paint{rgb(0xb7b1a2) *
                         (0.84F + 0.10F * mottle(p.x, p.y, 200, 101) + 0.00006F * p.y)};
        });
    const Brush b = sheet.at({640, 590}, 0.010F);
    b.shadow_box({0, 8}, {1130, 940}, 40, 22, 0.5F);
    b.box({0, 0}, {1120, 930}, 36, {rgb(0x2c2e2f), 1, Sheen::satin});
    b.box({0, 0}, {1052, 862}, 26, {rgb(0x1a1b1c)});
    // tube face: ten by eight
    constexpr float step = 100;
    b.fill(
        {-512, -418}, {512, 418}, 0,
        [](Point p) {
            return near_box(p, {510, 416}, 22);
        },
        [](Point p, const Near& near) {
            const float middle = 1 - 0.35F * (near.n.x * near.n.x + near.n.y * near.n.y);
            return Paint{rgb(0x0c211b) *
                         (0.75F + 0.5F * middle + 0.08F * mottle(p.x, p.y, 90, 102))};
        });
    const Paint grid = {rgb(0x7fae97), 0.34F};
    for (int i = -5; i <= 5; ++i) {
        b.box({float(i) * step, 0}, {i == 0 ? 3.0F : 2.0F, 8 * step}, 0, grid);
    }
    for (int i = -4; i <= 4; ++i) {
        b.box({0, float(i) * step}, {10 * step, i == 0 ? 3.0F : 2.0F}, 0, grid);
    }
    for (int i = -25; i <= 25; ++i) {
        b.box({float(i) * step / 5, 0}, {2, 14}, 0, grid);
        b.box({0, float(i) * step / 5 * 0.8F}, {14, 2}, 0, grid);
    }
    // two cycles and a half; the upper half held flat, the lower one whole. The corner is soft: a
    // limiter's, not a rail's.
    const auto volts = [](float x) {
        const float wave = 330 * std::sin(2 * k_pi * (x + 500) / 400);
        constexpr float held = 218, softness = 14; // 10 V a division: 21.8 V against 33 V
        if (wave < held - 80) {
            return wave;
        }
        return held - softness * std::log1p(std::exp(-(wave - held) / softness));
    };
    std::vector<Point> trace;
    for (int x = -500; x <= 500; x += 5) {
        trace.push_back({float(x), -volts(float(x))});
    }
    // only the pieces within reach of a place are asked; the glow is laid on from wide and faint to
    // narrow
    const auto near_trace = [&](Point p) {
        const auto piece = [](float x) {
            return std::size_t(std::clamp((x + 500) / 5, 0.0F, 199.0F));
        };
        const std::size_t first = piece(p.x - 60);
        return near_path(p, std::span(trace).subspan(first, piece(p.x + 60) - first + 2), 1);
    };
    for (const float glow : {34.0F, 16.0F}) {
        const float strength = 1.6F / glow;
        b.fill<Far::skip>({-500, -380}, {500, 380}, glow, near_trace, [&](Point, const Near&) {
            return Paint{rgb(0x4dff9a), strength + 0.08F};
        });
    }
    b.fill<Far::skip>(
        {-500, -380}, {500, 380}, 0,
        [&](Point p) {
            return Near{near_trace(p).d - 2.6F, {}};
        },
        [](Point, const Near&) { return Paint{rgb(0xb6ffd6)}; });
    // a window's light on the glass
    const Point glare[] = {{-470, -396}, {-180, -396}, {-420, 60}, {-496, 60}, {-496, -370}};
    b.polygon(glare, {rgb(0xffffff), 0.05F});
    // controls
    const std::array<float, 3> heights = {-330, -60, 210};
    const std::array<std::string_view, 3> words = {"V/DIV", "TIME", "LEVEL"};
    for (int i = 0; i < 3; ++i) {
        const Point at = {760, heights[std::size_t(i)]};
        for (int t = 0; t <= 12; ++t) {
            const float a = k_pi * (0.75F + 0.125F * float(t));
            const Point out = {std::cos(a), std::sin(a)};
            b.line(at + out * 92, at + out * 104, 4, {rgb(0x3b3a37)});
        }
        b.shadow_disc(at + Point{12, 18}, 80, 24, 0.5F);
        b.disc(at, 80, {rgb(0x3a3c3e), 1, Sheen::dome, 0.25F});
        b.disc(at, 56, {rgb(0x54575a), 1, Sheen::dome, 0.4F});
        const float a = k_pi * (1.1F + 0.23F * float(i));
        b.line(at + Point{std::cos(a), std::sin(a)} * 26, at + Point{std::cos(a), std::sin(a)} * 74,
               8, {rgb(0xf0ece0)});
        b.letters(at + Point{-54, 142}, 24, 3.6F, words[std::size_t(i)], {rgb(0x33322f)});
    }
    b.shadow_disc({766, 442}, 44, 14, 0.5F);
    b.disc({760, 434}, 44, {rgb(0xb8b9b6), 1, Sheen::dome, 0.8F});
    b.disc({760, 434}, 22, {rgb(0x26282a), 1, Sheen::dome, 0.3F});
    b.disc({760, 434}, 8, {rgb(0xd2b35a)});
    b.letters({-510, 520}, 26, 4, "20 MHZ DUAL", {rgb(0x33322f)});
}

struct Scene {
    std::string_view name;
    void (*draw)(const Brush&);
};
constexpr std::array k_scenes = {
    Scene{"front", draw_front},
    Scene{"inside", draw_inside},
    Scene{"early_clip", draw_scope},
    Scene{"wire_bridge", draw_bridge},
    Scene{"emitter_resistors", draw_emitter_resistors},
    Scene{"trim_pots", draw_trims},
    Scene{"washers", draw_washers},
    Scene{"emitter_resistors_after", draw_emitter_resistors_after},
};
constexpr auto k_names = [] {
    std::array<std::string_view, k_scenes.size()> names;
    for (std::size_t i = 0; i < names.size(); ++i) {
        names[i] = k_scenes[i].name;
    }
    return names;
}();

} // namespace

std::optional<std::vector<BandColour>> resistor_bands(double ohm) {
    if (!(ohm >= 0.1 && ohm < 99.5e6)) {
        return std::nullopt;
    }
    int exponent = int(std::floor(std::log10(ohm) + 1e-9)) - 1;
    const double figures = ohm / std::pow(10.0, exponent);
    const int rounded = int(std::lround(figures));
    if (std::abs(figures - rounded) > 1e-6 * figures) {
        return std::nullopt; // four bands cannot carry a third figure
    }
    constexpr std::array k_multipliers = {BandColour::silver, BandColour::gold};
    return std::vector<BandColour>{BandColour(rounded / 10), BandColour(rounded % 10),
                                   exponent < 0 ? k_multipliers[exponent == -2 ? 0 : 1]
                                                : BandColour(exponent),
                                   BandColour::gold};
}

std::span<const DrawnResistor> drawn_resistors() { return k_drawn; }

float band_place(int band) {
    constexpr std::array k_places = {-0.36F, -0.19F, -0.04F, 0.22F};
    return k_places[std::size_t(std::clamp(band, 0, 3))];
}

std::uint32_t band_paint(BandColour colour) {
    constexpr std::array<std::uint32_t, 12> k_paint = {0x1b1a19, 0x6a3a1c, 0xb3261e, 0xe0701c,
                                                       0xe9bf2e, 0x2f7d3a, 0x2a4fa0, 0x6f3a94,
                                                       0x85878a, 0xeeebe2, 0xb38a2e, 0xa3a8ab};
    return k_paint[std::size_t(colour)];
}

std::span<const std::string_view> demo_picture_names() { return k_names; }

std::optional<Picture> demo_picture(std::string_view name, int width) {
    if (width < 160 || width > 3200) {
        return std::nullopt;
    }
    std::uint32_t seed = 1000;
    for (const Scene& scene : k_scenes) {
        ++seed;
        if (scene.name == name) {
            Picture picture;
            picture.width = width;
            picture.height = width * 3 / 4;
            const Brush sheet(picture, {40, 40, 40});
            scene.draw(sheet);
            sheet.develop(seed);
            return picture;
        }
    }
    return std::nullopt;
}

} // namespace railside
