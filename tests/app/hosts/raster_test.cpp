// Checked against a slow painter that asks for each pixel's centre, in doubles, whether it is
// inside.
#include "app/hosts/raster.h"

#include "support/catch.h"

#include <rapidcheck.h>

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <cstdlib>
#include <vector>

using namespace railside;

namespace {

constexpr int k_side = 64;
constexpr std::uint32_t k_black = 0xFF000000U;
constexpr std::uint32_t k_half_white = 0x80FFFFFFU;

/// An ImGui context, a raster and one list to put triangles on.
class Scene {
  public:
    Scene() : context_(ImGui::CreateContext()) {
        ImGui::SetCurrentContext(context_);
        raster.start();
        raster.resize(k_side, k_side);
        list = std::make_unique<ImDrawList>(ImGui::GetDrawListSharedData());
        clear();
    }
    ~Scene() {
        list.reset();
        raster.stop();
        ImGui::DestroyContext(context_);
    }
    Scene(const Scene&) = delete;
    Scene& operator=(const Scene&) = delete;

    void clear() {
        list->_ResetForNewFrame();
        list->PushClipRect(ImVec2(0, 0), ImVec2(k_side, k_side));
        list->PushTextureID(nullptr);
    }
    void triangle(ImDrawVert a, ImDrawVert b, ImDrawVert c) {
        list->PrimReserve(3, 3);
        for (const ImDrawVert& vertex : {a, b, c}) {
            list->PrimVtx(vertex.pos, vertex.uv, vertex.col);
        }
    }
    void paint(std::uint32_t background = k_black) {
        ImDrawData data;
        data.Valid = true;
        data.DisplaySize = ImVec2(k_side, k_side);
        data.FramebufferScale = ImVec2(1, 1);
        data.AddDrawList(list.get());
        raster.paint(data, background);
    }
    [[nodiscard]] std::uint32_t at(int x, int y) const {
        return raster.pixels()[static_cast<std::size_t>(y * k_side + x)];
    }

    Raster raster;
    std::unique_ptr<ImDrawList> list;

  private:
    ImGuiContext* context_;
};

ImDrawVert vertex(float x, float y, std::uint32_t colour, float u = 0, float v = 0) {
    ImDrawVert made{};
    made.pos = ImVec2(x, y);
    made.uv = ImVec2(u, v);
    made.col = colour;
    return made;
}

ImVec2 random_point() {
    // Quarter pixels make centres fall on edges often.
    return {static_cast<float>(*rc::gen::inRange(-40, 300)) * 0.25F,
            static_cast<float>(*rc::gen::inRange(-40, 300)) * 0.25F};
}

double side_of(const ImVec2& a, const ImVec2& b, double x, double y) {
    return (b.x - a.x) * (y - a.y) - (b.y - a.y) * (x - a.x);
}

int channel_of(std::uint32_t colour, int i) {
    return static_cast<int>((colour >> (8 * i)) & 0xFFU);
}

} // namespace

TEST_CASE("raster: a triangle covers exactly the pixels whose centres it holds",
          "[app][hosts][property]") {
    CHECK(rc::check("coverage", [] {
        Scene scene;
        const ImVec2 p[3] = {random_point(), random_point(), random_point()};
        scene.triangle(vertex(p[0].x, p[0].y, 0xFFFFFFFFU), vertex(p[1].x, p[1].y, 0xFFFFFFFFU),
                       vertex(p[2].x, p[2].y, 0xFFFFFFFFU));
        scene.paint();
        for (int y = 0; y < k_side; y++) {
            for (int x = 0; x < k_side; x++) {
                const double s[3] = {side_of(p[0], p[1], x + 0.5, y + 0.5),
                                     side_of(p[1], p[2], x + 0.5, y + 0.5),
                                     side_of(p[2], p[0], x + 0.5, y + 0.5)};
                if (s[0] == 0 || s[1] == 0 || s[2] == 0) {
                    continue; // on an edge: the next test's business
                }
                const bool inside =
                    (s[0] > 0 && s[1] > 0 && s[2] > 0) || (s[0] < 0 && s[1] < 0 && s[2] < 0);
                RC_ASSERT((scene.at(x, y) != k_black) == inside);
            }
        }
    }));
}

TEST_CASE("raster: triangles that share edges leave no gap and no pixel twice",
          "[app][hosts][property]") {
    CHECK(rc::check("seams", [] {
        Scene scene;
        // A square cut into a fan around a point anywhere inside, half transparent: once is 0x80.
        const float cx = static_cast<float>(*rc::gen::inRange(33, 223)) * 0.25F;
        const float cy = static_cast<float>(*rc::gen::inRange(33, 223)) * 0.25F;
        std::vector<ImVec2> ring;
        for (const int side : {0, 1, 2, 3}) {
            int along = 0;
            while (along < 192) { // 8 to 56 px in quarters
                const float a = 8 + static_cast<float>(along) * 0.25F;
                const float b = 64 - a;
                ring.push_back(side == 0   ? ImVec2(a, 8)
                               : side == 1 ? ImVec2(56, a)
                               : side == 2 ? ImVec2(b, 56)
                                           : ImVec2(8, b));
                along += *rc::gen::inRange(1, 100);
            }
        }
        for (std::size_t i = 0; i < ring.size(); i++) {
            const ImVec2& a = ring[i];
            const ImVec2& b = ring[(i + 1) % ring.size()];
            scene.triangle(vertex(cx, cy, k_half_white), vertex(a.x, a.y, k_half_white),
                           vertex(b.x, b.y, k_half_white));
        }
        scene.paint();
        for (int y = 0; y < k_side; y++) {
            for (int x = 0; x < k_side; x++) {
                const bool inside = x >= 8 && x < 56 && y >= 8 && y < 56;
                RC_ASSERT(scene.at(x, y) == (inside ? 0xFF808080U : k_black));
            }
        }
    }));
}

TEST_CASE("raster: an upright rectangle is the same as its two triangles",
          "[app][hosts][property]") {
    CHECK(rc::check("rectangles", [] {
        Scene scene;
        const ImVec2 a = random_point();
        const ImVec2 c(a.x + static_cast<float>(*rc::gen::inRange(1, 200)) * 0.25F,
                       a.y + static_cast<float>(*rc::gen::inRange(1, 200)) * 0.25F);
        const auto colour = static_cast<std::uint32_t>(*rc::gen::arbitrary<std::uint32_t>());
        scene.list->PrimReserve(6, 4);
        scene.list->PrimRect(a, c, colour);
        scene.paint(0xFF204060U);
        const std::vector<std::uint32_t> quick(scene.raster.pixels().begin(),
                                               scene.raster.pixels().end());
        scene.clear();
        scene.triangle(vertex(a.x, a.y, colour), vertex(c.x, a.y, colour),
                       vertex(c.x, c.y, colour));
        scene.triangle(vertex(a.x, a.y, colour), vertex(c.x, c.y, colour),
                       vertex(a.x, c.y, colour));
        scene.paint(0xFF204060U);
        RC_ASSERT(std::equal(quick.begin(), quick.end(), scene.raster.pixels().begin()));
    }));
}

TEST_CASE("raster: colours change evenly over a triangle", "[app][hosts][property]") {
    CHECK(rc::check("gradients", [] {
        Scene scene;
        const ImVec2 p[3] = {random_point(), random_point(), random_point()};
        const double area = side_of(p[0], p[1], p[2].x, p[2].y);
        RC_PRE(std::abs(area) > 4);
        std::uint32_t colours[3];
        for (std::uint32_t& colour : colours) {
            colour = *rc::gen::arbitrary<std::uint32_t>() | k_black;
        }
        scene.triangle(vertex(p[0].x, p[0].y, colours[0]), vertex(p[1].x, p[1].y, colours[1]),
                       vertex(p[2].x, p[2].y, colours[2]));
        scene.paint(0x00000000U);
        for (int y = 0; y < k_side; y++) {
            for (int x = 0; x < k_side; x++) {
                const double w[3] = {side_of(p[1], p[2], x + 0.5, y + 0.5) / area,
                                     side_of(p[2], p[0], x + 0.5, y + 0.5) / area,
                                     side_of(p[0], p[1], x + 0.5, y + 0.5) / area};
                if (w[0] <= 0 || w[1] <= 0 || w[2] <= 0) {
                    continue;
                }
                for (int i = 0; i < 3; i++) {
                    const double expected = w[0] * channel_of(colours[0], i) +
                                            w[1] * channel_of(colours[1], i) +
                                            w[2] * channel_of(colours[2], i);
                    // Rounded once: half a step, and a little for the fixed point.
                    RC_ASSERT(std::abs(channel_of(scene.at(x, y), i) - expected) < 0.6);
                }
            }
        }
    }));
}

TEST_CASE("raster: textures are filtered between the four nearest texels",
          "[app][hosts][property]") {
    CHECK(rc::check("bilinear", [] {
        constexpr int k_texels = 5;
        Scene scene;
        std::vector<std::uint32_t> texels(k_texels * k_texels);
        for (std::uint32_t& texel : texels) {
            texel = *rc::gen::arbitrary<std::uint32_t>() | k_black;
        }
        const ImTextureID id = scene.raster.make(
            {k_texels, k_texels, reinterpret_cast<const std::uint8_t*>(texels.data())});
        const float size = static_cast<float>(*rc::gen::inRange(4, 220)) * 0.25F;
        scene.list->PushTextureID(id);
        const bool upright = *rc::gen::arbitrary<bool>();
        if (upright) {
            scene.list->PrimReserve(6, 4);
            scene.list->PrimRectUV(ImVec2(3, 3), ImVec2(3 + size, 3 + size), ImVec2(0, 0),
                                   ImVec2(1, 1), 0xFFFFFFFFU);
        } else { // one triangle over the upper left half
            scene.triangle(vertex(3, 3, 0xFFFFFFFFU, 0, 0), vertex(3 + size, 3, 0xFFFFFFFFU, 1, 0),
                           vertex(3, 3 + size, 0xFFFFFFFFU, 0, 1));
        }
        scene.paint();
        const auto texel = [&](int x, int y, int i) {
            x = std::clamp(x, 0, k_texels - 1);
            y = std::clamp(y, 0, k_texels - 1);
            return channel_of(texels[static_cast<std::size_t>(y * k_texels + x)], i);
        };
        for (int y = 3; y < k_side; y++) {
            for (int x = 3; x < k_side; x++) {
                const double u = (x + 0.5 - 3) / size;
                const double v = (y + 0.5 - 3) / size;
                if (u >= 1 || v >= 1 || (!upright && u + v >= 1)) {
                    continue;
                }
                const double tx = u * k_texels - 0.5;
                const double ty = v * k_texels - 0.5;
                const int x0 = static_cast<int>(std::floor(tx));
                const int y0 = static_cast<int>(std::floor(ty));
                const double fx = tx - x0;
                const double fy = ty - y0;
                for (int i = 0; i < 3; i++) {
                    const double expected =
                        (texel(x0, y0, i) * (1 - fx) + texel(x0 + 1, y0, i) * fx) * (1 - fy) +
                        (texel(x0, y0 + 1, i) * (1 - fx) + texel(x0 + 1, y0 + 1, i) * fx) * fy;
                    // Weights are in 1/256 (half a step of up to 255 each way) and rounded twice.
                    RC_ASSERT(std::abs(channel_of(scene.at(x, y), i) - expected) < 2.5);
                }
            }
        }
    }));
}

TEST_CASE("raster: nothing is drawn outside the clip rectangle", "[app][hosts][property]") {
    CHECK(rc::check("clip", [] {
        Scene scene;
        const ImVec2 low(static_cast<float>(*rc::gen::inRange(-10, 70)),
                         static_cast<float>(*rc::gen::inRange(-10, 70)));
        const ImVec2 high(low.x + static_cast<float>(*rc::gen::inRange(0, 60)),
                          low.y + static_cast<float>(*rc::gen::inRange(0, 60)));
        scene.list->PushClipRect(low, high);
        scene.list->PrimReserve(6, 4);
        scene.list->PrimRect(ImVec2(-50, -50), ImVec2(200, 200), 0xFFFFFFFFU);
        scene.triangle(vertex(-500, -500, 0xFF0000FFU), vertex(900, 0, 0xFF00FFFFU),
                       vertex(0, 900, 0xFFFF00FFU));
        scene.paint();
        for (int y = 0; y < k_side; y++) {
            for (int x = 0; x < k_side; x++) {
                const auto fx = static_cast<float>(x);
                const auto fy = static_cast<float>(y);
                const bool inside = fx >= low.x && fx < high.x && fy >= low.y && fy < high.y;
                RC_ASSERT((scene.at(x, y) != k_black) == inside);
            }
        }
    }));
}

TEST_CASE("raster: shapes far outside and coordinates that are no numbers do no harm",
          "[app][hosts]") {
    Scene scene;
    const float far = GENERATE(1e5F, 1e9F, INFINITY, NAN);
    scene.triangle(vertex(far, 1, 0xFFFFFFFFU), vertex(2, far, 0xFF00FF00U),
                   vertex(-far, -far, 0xFFFFFFFFU));
    scene.list->PrimReserve(6, 4);
    scene.list->PrimRect(ImVec2(-far, 1), ImVec2(far, 2), 0xFFFFFFFFU);
    scene.paint();
    CHECK((scene.at(0, 0) >> 24) == 255);
}

TEST_CASE("raster: lists are painted in order and blend by their alpha", "[app][hosts]") {
    Scene scene;
    scene.list->PrimReserve(12, 8);
    scene.list->PrimRect(ImVec2(0, 0), ImVec2(10, 10), 0xFF0000FFU);
    scene.list->PrimRect(ImVec2(0, 0), ImVec2(10, 10), 0x40FF0000U);
    scene.paint();
    // 255·(255−64)/255 = 191 red left, 64 blue on it
    CHECK(scene.at(5, 5) == 0xFF4000BFU);
    CHECK(scene.at(10, 5) == k_black);
}

TEST_CASE("raster: every colour blends to the nearest step", "[app][hosts][property]") {
    CHECK(rc::check("blend", [] {
        Scene scene;
        const auto colour = *rc::gen::arbitrary<std::uint32_t>();
        const auto ground = *rc::gen::arbitrary<std::uint32_t>() | k_black;
        const int width = *rc::gen::inRange(1, 40);
        scene.list->PrimReserve(6, 4);
        scene.list->PrimRect(ImVec2(1, 1), ImVec2(1 + static_cast<float>(width), 2), colour);
        scene.paint(ground);
        const double alpha = channel_of(colour, 3) / 255.0;
        for (int x = 0; x < width; x++) {
            for (int i = 0; i < 3; i++) {
                const double expected =
                    channel_of(colour, i) * alpha + channel_of(ground, i) * (1 - alpha);
                RC_ASSERT(std::abs(channel_of(scene.at(1 + x, 1), i) - expected) <= 0.5 + 1e-9);
            }
            RC_ASSERT(channel_of(scene.at(1 + x, 1), 3) == 255);
        }
    }));
}
