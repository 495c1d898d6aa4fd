// ImGui's lists and our textures in the OpenGL context that is current. The hosts that own one add
// how it comes to the screen.
#pragma once

#include "app/hosts/session.h"

#include <cstdint>
#include <vector>

namespace railside {

class GlPainter : public Painter {
  public:
    [[nodiscard]] ImTextureID make(const Pixels& pixels) override;
    void drop(ImTextureID id) override;
    [[nodiscard]] bool renew(ImTextureID id, const Pixels& pixels) override;
    void start() override;
    void stop() override;
    void begin_frame() override;
    void drop_fonts() override;
    void drop_all() override;
    void paint(ImDrawData& data, ImU32 background) override;

  private:
    std::vector<std::uint32_t> textures_; // OpenGL's names
    bool fonts_ = false;
};

} // namespace railside
