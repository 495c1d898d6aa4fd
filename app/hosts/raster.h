// Draws ImGui's lists into memory by the rules of a graphics device: pixel centres, top-left fill
// rule, bilinear textures, straight alpha. SDL's own software renderer knows neither the soft edges
// of lines nor filtered textures. The same pixels on every machine.
#pragma once

#include "app/hosts/session.h"

#include <cstddef>
#include <cstdint>
#include <memory>
#include <span>
#include <vector>

namespace railside {

class Raster final : public Painter {
  public:
    Raster();
    ~Raster() override;

    /// 1 to 16384 each; what was drawn is lost.
    void resize(int width, int height);

    [[nodiscard]] ImTextureID make(const Pixels& pixels) override;
    void drop(ImTextureID id) override;
    void start() override;
    void stop() override;
    void begin_frame() override;
    void drop_fonts() override;
    void drop_all() override;
    /// The background must be opaque; so are all pixels afterwards.
    void paint(ImDrawData& data, ImU32 background) override;

    [[nodiscard]] int width() const { return width_; }
    [[nodiscard]] int height() const { return height_; }
    /// Rows from the top; in memory R, G, B, A bytes.
    [[nodiscard]] std::span<const std::uint32_t> pixels() const { return pixels_; }

  private:
    struct Texture;
    struct Clip {
        int left = 0, top = 0, right = 0, bottom = 0;
    };
    struct Column {
        int left = 0, right = 0;  // texels beside the pixel's centre
        std::uint32_t weight = 0; // of the right one, of 256
    };

    void triangle(const ImDrawVert& a, const ImDrawVert& b, const ImDrawVert& c,
                  const Texture* texture, const Clip& clip);
    /// Whether the six indices were an upright rectangle of one colour, and so have been drawn.
    bool rectangle(const ImDrawVert* vertices, const ImDrawIdx* indices, const Texture* texture,
                   const Clip& clip);

    int width_ = 0;
    int height_ = 0;
    std::vector<std::uint32_t> pixels_;
    std::vector<std::unique_ptr<Texture>> textures_;
    Texture* fonts_ = nullptr;
    std::vector<Column> columns_; // scratch of rectangle()
};

} // namespace railside
