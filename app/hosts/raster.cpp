#include "app/hosts/raster.h"

#include <algorithm>
#include <bit>
#include <cmath>
#include <cstring>

namespace railside {

namespace {

static_assert(IM_COL32_R_SHIFT == 0 && IM_COL32_A_SHIFT == 24);
static_assert(std::endian::native == std::endian::little, "colours are written as whole words");

constexpr std::uint32_t k_opaque = 0xFF000000U;
constexpr int k_most_side = 16384;

// Corners lie on a grid of 1/256 pixel, as on graphics devices; so neighbours share edges exactly.
constexpr std::int64_t k_grid = 256;
constexpr float k_most_coordinate = 1e6F; // products of two stay far inside 64 bits

constexpr int k_fraction_bits = 16;
constexpr std::int32_t k_one = 1 << k_fraction_bits;

std::uint32_t times255(std::uint32_t a, std::uint32_t b) {
    const std::uint32_t t = a * b + 128;
    return (t + (t >> 8)) >> 8;
}

std::uint32_t over(std::uint32_t below, std::uint32_t colour, std::uint32_t alpha) {
    const std::uint32_t rest = 255 - alpha;
    std::uint32_t rb = (colour & 0xFF00FFU) * alpha + (below & 0xFF00FFU) * rest + 0x800080U;
    rb = ((rb + ((rb >> 8) & 0xFF00FFU)) >> 8) & 0xFF00FFU;
    std::uint32_t g = ((colour >> 8) & 0xFFU) * alpha + ((below >> 8) & 0xFFU) * rest + 0x80U;
    g = ((g + (g >> 8)) >> 8) & 0xFFU;
    return rb | (g << 8) | k_opaque;
}

std::uint32_t modulate(std::uint32_t a, std::uint32_t b) {
    if (a == 0xFFFFFFFFU) {
        return b;
    }
    if (b == 0xFFFFFFFFU) {
        return a;
    }
    std::uint32_t all = 0;
    for (int shift = 0; shift < 32; shift += 8) {
        all |= times255((a >> shift) & 0xFFU, (b >> shift) & 0xFFU) << shift;
    }
    return all;
}

/// Weights of 256; both halves of the word at once.
std::uint32_t mix(std::uint32_t a, std::uint32_t b, std::uint32_t weight) {
    const std::uint32_t rest = 256 - weight;
    const std::uint32_t low = ((a & 0xFF00FFU) * rest + (b & 0xFF00FFU) * weight + 0x800080U) >> 8;
    const std::uint32_t high =
        ((a >> 8) & 0xFF00FFU) * rest + ((b >> 8) & 0xFF00FFU) * weight + 0x800080U;
    return (low & 0xFF00FFU) | (high & 0xFF00FF00U);
}

void fill(std::uint32_t* from, std::size_t count, std::uint32_t colour) {
    const std::uint32_t alpha = colour >> 24;
    if (alpha == 255) {
        std::fill_n(from, count, colour);
    } else if (alpha != 0) {
        // Four pixels as sixteen bytes: what compilers turn into vector instructions. The same
        // rounding as over().
        constexpr std::size_t k_block = 4;
        const auto rest = static_cast<std::uint16_t>(255 - alpha);
        std::uint16_t added[4 * k_block];
        for (std::size_t i = 0; i < 4 * k_block; i++) {
            const std::uint32_t part = ((colour | k_opaque) >> (8 * (i % 4))) & 0xFFU;
            added[i] = static_cast<std::uint16_t>(part * alpha + 128);
        }
        std::size_t done = 0;
        for (; done + k_block <= count; done += k_block) {
            std::uint8_t bytes[4 * k_block];
            std::memcpy(bytes, from + done, sizeof bytes);
            for (std::size_t i = 0; i < 4 * k_block; i++) {
                const auto sum = static_cast<std::uint16_t>(bytes[i] * rest + added[i]);
                bytes[i] =
                    static_cast<std::uint8_t>(static_cast<std::uint16_t>(sum + (sum >> 8)) >> 8);
            }
            std::memcpy(from + done, bytes, sizeof bytes);
        }
        for (; done < count; done++) {
            from[done] = over(from[done], colour, alpha);
        }
    }
}

std::int64_t floor_div(std::int64_t a, std::int64_t b) {
    const std::int64_t q = a / b;
    return q - ((a % b != 0) && ((a < 0) != (b < 0)) ? 1 : 0);
}

/// The first pixel whose centre is not left of x.
int first_centre(float x) {
    return static_cast<int>(
        floor_div(std::lround(x * static_cast<float>(k_grid)) - k_grid / 2 + k_grid - 1, k_grid));
}

bool in_reach(const ImVec2& at) {
    return std::abs(at.x) <= k_most_coordinate && std::abs(at.y) <= k_most_coordinate;
}

/// A quantity that changes evenly over a triangle, as 16.16 fixed point along a row.
struct Slope {
    double at_first = 0; // at the first corner
    double per_x = 0;
    double per_y = 0;

    [[nodiscard]] std::int32_t at(double dx, double dy, double most) const {
        const double value = at_first + per_x * dx + per_y * dy;
        return static_cast<std::int32_t>(std::clamp(value, -1.0, most + 1) * k_one);
    }
    [[nodiscard]] std::int32_t step() const {
        return static_cast<std::int32_t>(std::clamp(per_x, -32000.0, 32000.0) * k_one);
    }
};

std::uint32_t channel(std::int32_t value) {
    return static_cast<std::uint32_t>(
        std::clamp((value + k_one / 2) >> k_fraction_bits, std::int32_t{0}, std::int32_t{255}));
}

} // namespace

struct Raster::Texture {
    int width = 0;
    int height = 0;
    std::vector<std::uint32_t> rgba;  // empty when white throughout
    std::vector<std::uint8_t> alphas; // white with this alpha: what fonts are

    /// `x` and `y` in texels from the first texel's centre, times 256; beyond the edge the edge's
    /// texel.
    [[nodiscard]] std::uint32_t sample(std::int64_t x, std::int64_t y) const {
        const auto fx = static_cast<std::uint32_t>(x & 255);
        const auto fy = static_cast<std::uint32_t>(y & 255);
        const int x0 = inside(x >> 8, width);
        const int x1 = inside((x >> 8) + 1, width);
        const std::size_t row0 = row(inside(y >> 8, height));
        const std::size_t row1 = row(inside((y >> 8) + 1, height));
        return sample_rows(row0, row1, x0, x1, fx, fy);
    }

    [[nodiscard]] std::uint32_t sample_rows(std::size_t row0, std::size_t row1, int x0, int x1,
                                            std::uint32_t fx, std::uint32_t fy) const {
        const auto left = static_cast<std::size_t>(x0);
        const auto right = static_cast<std::size_t>(x1);
        if (rgba.empty()) {
            const std::uint32_t above =
                alphas[row0 + left] * (256 - fx) + alphas[row0 + right] * fx;
            const std::uint32_t below =
                alphas[row1 + left] * (256 - fx) + alphas[row1 + right] * fx;
            return (((above * (256 - fy) + below * fy + 0x8000U) >> 16) << 24) | 0xFFFFFFU;
        }
        return mix(mix(rgba[row0 + left], rgba[row0 + right], fx),
                   mix(rgba[row1 + left], rgba[row1 + right], fx), fy);
    }

    [[nodiscard]] std::size_t row(int y) const {
        return static_cast<std::size_t>(y) * static_cast<std::size_t>(width);
    }
    static int inside(std::int64_t at, int size) {
        return static_cast<int>(std::clamp<std::int64_t>(at, 0, size - 1));
    }
    static std::int64_t texel(float coordinate, int size) {
        const float reach = std::clamp(coordinate, -1.0F, 2.0F);
        return std::lround((reach * static_cast<float>(size) - 0.5F) * 256);
    }
    [[nodiscard]] std::uint32_t at(const ImVec2& uv) const {
        return sample(texel(uv.x, width), texel(uv.y, height));
    }
};

Raster::Raster() = default;
Raster::~Raster() = default;

void Raster::resize(int width, int height) {
    width_ = std::clamp(width, 1, k_most_side);
    height_ = std::clamp(height, 1, k_most_side);
    pixels_.assign(static_cast<std::size_t>(width_) * static_cast<std::size_t>(height_), k_opaque);
}

ImTextureID Raster::make(const Pixels& pixels) {
    if (pixels.rgba == nullptr || pixels.width < 1 || pixels.height < 1 ||
        pixels.width > k_most_side || pixels.height > k_most_side) {
        return nullptr;
    }
    auto texture = std::make_unique<Texture>();
    texture->width = pixels.width;
    texture->height = pixels.height;
    const std::size_t count =
        static_cast<std::size_t>(pixels.width) * static_cast<std::size_t>(pixels.height);
    texture->rgba.resize(count);
    std::memcpy(texture->rgba.data(), pixels.rgba, count * 4);
    if (std::all_of(texture->rgba.begin(), texture->rgba.end(),
                    [](std::uint32_t texel) { return (texel & 0xFFFFFFU) == 0xFFFFFFU; })) {
        texture->alphas.reserve(count);
        for (const std::uint32_t texel : texture->rgba) {
            texture->alphas.push_back(static_cast<std::uint8_t>(texel >> 24));
        }
        texture->rgba = {};
    }
    textures_.push_back(std::move(texture));
    return textures_.back().get();
}

void Raster::drop(ImTextureID id) {
    std::erase_if(textures_, [&](const auto& texture) { return texture.get() == id; });
}

void Raster::start() {
    ImGuiIO& io = ImGui::GetIO();
    io.BackendRendererName = "railside raster";
    io.BackendFlags |= ImGuiBackendFlags_RendererHasVtxOffset;
}

void Raster::stop() { drop_all(); }

void Raster::drop_all() {
    drop_fonts();
    textures_.clear();
}

void Raster::begin_frame() {
    if (fonts_ != nullptr) {
        return;
    }
    ImFontAtlas& atlas = *ImGui::GetIO().Fonts;
    Pixels pixels;
    unsigned char* rgba = nullptr;
    atlas.GetTexDataAsRGBA32(&rgba, &pixels.width, &pixels.height);
    pixels.rgba = rgba;
    fonts_ = static_cast<Texture*>(make(pixels));
    atlas.SetTexID(fonts_);
}

void Raster::drop_fonts() {
    if (fonts_ != nullptr) {
        ImGui::GetIO().Fonts->SetTexID(nullptr);
        drop(fonts_);
        fonts_ = nullptr;
    }
}

void Raster::paint(ImDrawData& data, ImU32 background) {
    std::fill(pixels_.begin(), pixels_.end(), background | k_opaque);
    for (const ImDrawList* list : data.CmdLists) {
        for (const ImDrawCmd& command : list->CmdBuffer) {
            if (command.UserCallback != nullptr) {
                if (command.UserCallback != ImDrawCallback_ResetRenderState) {
                    command.UserCallback(list, &command);
                }
                continue;
            }
            const auto limit = [](float value, int most) {
                return static_cast<int>(std::clamp(value, 0.0F, static_cast<float>(most)));
            };
            const ImVec4& box = command.ClipRect;
            const Clip clip{limit(box.x - data.DisplayPos.x, width_),
                            limit(box.y - data.DisplayPos.y, height_),
                            limit(box.z - data.DisplayPos.x, width_),
                            limit(box.w - data.DisplayPos.y, height_)};
            if (clip.left >= clip.right || clip.top >= clip.bottom) {
                continue;
            }
            const auto* texture = static_cast<const Texture*>(command.GetTexID());
            const ImDrawVert* vertices = list->VtxBuffer.Data + command.VtxOffset;
            const ImDrawIdx* indices = list->IdxBuffer.Data + command.IdxOffset;
            for (unsigned int i = 0; i + 3 <= command.ElemCount; i += 3) {
                if (i + 6 <= command.ElemCount && rectangle(vertices, indices + i, texture, clip)) {
                    i += 3;
                    continue;
                }
                triangle(vertices[indices[i]], vertices[indices[i + 1]], vertices[indices[i + 2]],
                         texture, clip);
            }
        }
    }
}

bool Raster::rectangle(const ImDrawVert* vertices, const ImDrawIdx* indices, const Texture* texture,
                       const Clip& clip) {
    if (indices[0] != indices[3] || indices[2] != indices[4]) {
        return false;
    }
    const ImDrawVert& a = vertices[indices[0]];
    const ImDrawVert& b = vertices[indices[1]];
    const ImDrawVert& c = vertices[indices[2]];
    const ImDrawVert& d = vertices[indices[5]];
    if (a.pos.y != b.pos.y || b.pos.x != c.pos.x || c.pos.y != d.pos.y || d.pos.x != a.pos.x ||
        a.uv.y != b.uv.y || b.uv.x != c.uv.x || c.uv.y != d.uv.y || d.uv.x != a.uv.x ||
        a.col != b.col || a.col != c.col || a.col != d.col || !(a.pos.x <= c.pos.x) ||
        !(a.pos.y <= c.pos.y) || !in_reach(a.pos) || !in_reach(c.pos)) {
        return false;
    }
    const int left = std::max(clip.left, first_centre(a.pos.x));
    const int right = std::min(clip.right, first_centre(c.pos.x));
    const int top = std::max(clip.top, first_centre(a.pos.y));
    const int bottom = std::min(clip.bottom, first_centre(c.pos.y));
    if (left >= right || top >= bottom || (a.col >> 24) == 0) {
        return true;
    }
    const auto count = static_cast<std::size_t>(right - left);
    std::uint32_t* row =
        pixels_.data() + static_cast<std::size_t>(top) * static_cast<std::size_t>(width_) + left;
    if (texture == nullptr || (a.uv.x == c.uv.x && a.uv.y == c.uv.y)) {
        const std::uint32_t colour =
            texture == nullptr ? a.col : modulate(a.col, texture->at(a.uv));
        for (int y = top; y < bottom; y++, row += width_) {
            fill(row, count, colour);
        }
        return true;
    }
    const float du = (c.uv.x - a.uv.x) / (c.pos.x - a.pos.x);
    const float dv = (c.uv.y - a.uv.y) / (c.pos.y - a.pos.y);
    columns_.clear();
    for (int x = left; x < right; x++) {
        const float u = a.uv.x + (static_cast<float>(x) + 0.5F - a.pos.x) * du;
        const std::int64_t at = Texture::texel(u, texture->width);
        columns_.push_back({Texture::inside(at >> 8, texture->width),
                            Texture::inside((at >> 8) + 1, texture->width),
                            static_cast<std::uint32_t>(at & 255)});
    }
    const bool white = texture->rgba.empty();
    const std::uint32_t alpha = a.col >> 24;
    for (int y = top; y < bottom; y++, row += width_) {
        const float v = a.uv.y + (static_cast<float>(y) + 0.5F - a.pos.y) * dv;
        const std::int64_t at = Texture::texel(v, texture->height);
        const std::size_t row0 = texture->row(Texture::inside(at >> 8, texture->height));
        const std::size_t row1 = texture->row(Texture::inside((at >> 8) + 1, texture->height));
        const auto weight = static_cast<std::uint32_t>(at & 255);
        for (std::size_t i = 0; i < count; i++) {
            const Column& column = columns_[i];
            const std::uint32_t texel =
                texture->sample_rows(row0, row1, column.left, column.right, column.weight, weight);
            if (white) {
                const std::uint32_t cover = times255(texel >> 24, alpha);
                if (cover != 0) {
                    row[i] = over(row[i], a.col, cover);
                }
            } else {
                const std::uint32_t colour = modulate(a.col, texel);
                row[i] = over(row[i], colour, colour >> 24);
            }
        }
    }
    return true;
}

void Raster::triangle(const ImDrawVert& first, const ImDrawVert& second, const ImDrawVert& third,
                      const Texture* texture, const Clip& clip) {
    if (!in_reach(first.pos) || !in_reach(second.pos) || !in_reach(third.pos)) {
        return;
    }
    struct Corner {
        std::int64_t x, y;
    };
    const auto corner = [](const ImDrawVert& vertex) {
        return Corner{std::lround(vertex.pos.x * static_cast<float>(k_grid)),
                      std::lround(vertex.pos.y * static_cast<float>(k_grid))};
    };
    const ImDrawVert* v[3] = {&first, &second, &third};
    Corner p[3] = {corner(first), corner(second), corner(third)};
    std::int64_t area =
        (p[1].x - p[0].x) * (p[2].y - p[0].y) - (p[2].x - p[0].x) * (p[1].y - p[0].y);
    if (area == 0) {
        return;
    }
    if (area < 0) {
        std::swap(v[1], v[2]);
        std::swap(p[1], p[2]);
        area = -area;
    }
    const auto [low_y, high_y] = std::minmax({p[0].y, p[1].y, p[2].y});
    const auto [low_x, high_x] = std::minmax({p[0].x, p[1].x, p[2].x});
    const std::int64_t half = k_grid / 2;
    const int top = static_cast<int>(
        std::max<std::int64_t>(clip.top, floor_div(low_y - half + k_grid - 1, k_grid)));
    const int bottom =
        static_cast<int>(std::min<std::int64_t>(clip.bottom, floor_div(high_y - half, k_grid) + 1));
    if (top >= bottom || high_x < clip.left * k_grid || low_x > clip.right * k_grid) {
        return;
    }

    // Inside of an edge from a to b: (b−a)×(p−a) ≥ 0, and > 0 unless it is a top or a left edge.
    struct Edge {
        std::int64_t value; // at the centre of pixel 0 of the row
        std::int64_t per_x, per_y;
    };
    Edge edges[3];
    for (int i = 0; i < 3; i++) {
        const Corner& a = p[i];
        const Corner& b = p[(i + 1) % 3];
        const std::int64_t dx = b.x - a.x;
        const std::int64_t dy = b.y - a.y;
        const bool top_left = dy < 0 || (dy == 0 && dx > 0);
        edges[i] = {dx * (top * k_grid + half - a.y) - dy * (half - a.x) - (top_left ? 0 : 1),
                    -dy * k_grid, dx * k_grid};
    }

    const bool one_colour = v[0]->col == v[1]->col && v[0]->col == v[2]->col;
    const bool one_texel =
        texture == nullptr || (v[0]->uv.x == v[1]->uv.x && v[0]->uv.x == v[2]->uv.x &&
                               v[0]->uv.y == v[1]->uv.y && v[0]->uv.y == v[2]->uv.y);
    const std::uint32_t texel =
        one_texel ? (texture == nullptr ? 0xFFFFFFFFU : texture->at(v[0]->uv)) : 0;
    const std::uint32_t colour = modulate(v[0]->col, texel);
    if (one_colour && (v[0]->col >> 24) == 0) {
        return;
    }

    const double grid = k_grid;
    const double abx = static_cast<double>(p[1].x - p[0].x) / grid;
    const double aby = static_cast<double>(p[1].y - p[0].y) / grid;
    const double acx = static_cast<double>(p[2].x - p[0].x) / grid;
    const double acy = static_cast<double>(p[2].y - p[0].y) / grid;
    const double inverse = grid * grid / static_cast<double>(area);
    const auto slope = [&](double at_a, double at_b, double at_c) {
        return Slope{at_a, ((at_b - at_a) * acy - (at_c - at_a) * aby) * inverse,
                     ((at_c - at_a) * abx - (at_b - at_a) * acx) * inverse};
    };
    Slope colours[4];
    if (!one_colour) {
        for (int i = 0; i < 4; i++) {
            const auto byte = [&](const ImDrawVert* vertex) {
                return static_cast<double>((vertex->col >> (8 * i)) & 0xFFU);
            };
            colours[i] = slope(byte(v[0]), byte(v[1]), byte(v[2]));
        }
    }
    Slope u;
    Slope w;
    if (!one_texel) {
        u = slope(v[0]->uv.x, v[1]->uv.x, v[2]->uv.x);
        w = slope(v[0]->uv.y, v[1]->uv.y, v[2]->uv.y);
    }

    for (int y = top; y < bottom; y++) {
        std::int64_t left = clip.left;
        std::int64_t right = clip.right;
        for (Edge& edge : edges) {
            if (edge.per_x > 0) {
                left = std::max(left, -floor_div(edge.value, edge.per_x));
            } else if (edge.per_x < 0) {
                right = std::min(right, floor_div(edge.value, -edge.per_x) + 1);
            } else if (edge.value < 0) {
                right = left;
            }
            edge.value += edge.per_y;
        }
        if (left >= right) {
            continue;
        }
        std::uint32_t* at = pixels_.data() +
                            static_cast<std::size_t>(y) * static_cast<std::size_t>(width_) +
                            static_cast<std::size_t>(left);
        const auto count = static_cast<std::size_t>(right - left);
        if (one_colour && one_texel) {
            fill(at, count, colour);
            continue;
        }
        const double dx = static_cast<double>(left) + 0.5 - static_cast<double>(p[0].x) / grid;
        const double dy = static_cast<double>(y) + 0.5 - static_cast<double>(p[0].y) / grid;
        std::int32_t now[4] = {};
        std::int32_t step[4] = {};
        if (!one_colour) {
            for (int i = 0; i < 4; i++) {
                now[i] = colours[i].at(dx, dy, 255);
                step[i] = colours[i].step();
            }
        }
        for (std::size_t i = 0; i < count; i++) {
            std::uint32_t shade = v[0]->col;
            if (!one_colour) {
                shade = channel(now[0]) | (channel(now[1]) << 8) | (channel(now[2]) << 16) |
                        (channel(now[3]) << 24);
                for (int j = 0; j < 4; j++) {
                    // Stays in range: the last pixel's centre lies inside, one step beyond it is
                    // not read.
                    now[j] = static_cast<std::int32_t>(static_cast<std::uint32_t>(now[j]) +
                                                       static_cast<std::uint32_t>(step[j]));
                }
            }
            std::uint32_t sampled = texel;
            if (!one_texel) {
                const double along = dx + static_cast<double>(i);
                const auto tu = static_cast<float>(u.at_first + u.per_x * along + u.per_y * dy);
                const auto tw = static_cast<float>(w.at_first + w.per_x * along + w.per_y * dy);
                sampled = texture->at(ImVec2(tu, tw));
            }
            const std::uint32_t source = modulate(shade, sampled);
            at[i] = over(at[i], source, source >> 24);
        }
    }
}

} // namespace railside
