#include "app/hosts/gl_painter.h"

#include <imgui_impl_opengl3.h>
#ifdef __EMSCRIPTEN__
#include <GLES3/gl3.h>
#else
#include <GLFW/glfw3.h>
#endif

#include <algorithm>

namespace railside {

namespace {

#ifndef GL_CLAMP_TO_EDGE
constexpr GLint GL_CLAMP_TO_EDGE = 0x812F;
#endif

ImTextureID id_of(GLuint texture) {
    return reinterpret_cast<ImTextureID>(static_cast<std::uintptr_t>(texture));
}

} // namespace

ImTextureID GlPainter::make(const Pixels& pixels) {
    GLint most = 0;
    glGetIntegerv(GL_MAX_TEXTURE_SIZE, &most);
    if (pixels.rgba == nullptr || pixels.width < 1 || pixels.height < 1 || pixels.width > most ||
        pixels.height > most) {
        return nullptr;
    }
    while (glGetError() != GL_NO_ERROR) {
    }
    GLuint texture = 0;
    glGenTextures(1, &texture);
    glBindTexture(GL_TEXTURE_2D, texture);
    glTexParameteri(GL_TEXTURE_2D, GL_TEXTURE_MIN_FILTER, GL_LINEAR);
    glTexParameteri(GL_TEXTURE_2D, GL_TEXTURE_MAG_FILTER, GL_LINEAR);
    glTexParameteri(GL_TEXTURE_2D, GL_TEXTURE_WRAP_S, GL_CLAMP_TO_EDGE);
    glTexParameteri(GL_TEXTURE_2D, GL_TEXTURE_WRAP_T, GL_CLAMP_TO_EDGE);
    glPixelStorei(GL_UNPACK_ALIGNMENT, 4);
    glTexImage2D(GL_TEXTURE_2D, 0, GL_RGBA, pixels.width, pixels.height, 0, GL_RGBA,
                 GL_UNSIGNED_BYTE, pixels.rgba);
    glBindTexture(GL_TEXTURE_2D, 0);
    if (texture == 0 || glGetError() != GL_NO_ERROR) {
        glDeleteTextures(1, &texture);
        return nullptr;
    }
    textures_.push_back(texture);
    return id_of(texture);
}

void GlPainter::drop(ImTextureID id) {
    const auto at = std::find_if(textures_.begin(), textures_.end(),
                                 [&](GLuint texture) { return id_of(texture) == id; });
    if (at != textures_.end()) {
        glDeleteTextures(1, &*at);
        textures_.erase(at);
    }
}

bool GlPainter::renew(ImTextureID id, const Pixels& pixels) {
    const auto at = std::find_if(textures_.begin(), textures_.end(),
                                 [&](GLuint texture) { return id_of(texture) == id; });
    if (at == textures_.end() || pixels.rgba == nullptr) {
        return false;
    }
    // No error is asked for: the answer would wait until all that was drawn before is done.
    glBindTexture(GL_TEXTURE_2D, *at);
    glPixelStorei(GL_UNPACK_ALIGNMENT, 4);
    glTexSubImage2D(GL_TEXTURE_2D, 0, 0, 0, pixels.width, pixels.height, GL_RGBA, GL_UNSIGNED_BYTE,
                    pixels.rgba);
    glBindTexture(GL_TEXTURE_2D, 0);
    return true;
}

void GlPainter::start() { ImGui_ImplOpenGL3_Init(); }

void GlPainter::stop() {
    drop_all();
    ImGui_ImplOpenGL3_Shutdown();
}

void GlPainter::begin_frame() {
    ImGui_ImplOpenGL3_NewFrame();
    if (!fonts_) {
        ImGui_ImplOpenGL3_DestroyFontsTexture(); // NewFrame makes its own the first time
        fonts_ = ImGui_ImplOpenGL3_CreateFontsTexture();
    }
}

void GlPainter::drop_fonts() { fonts_ = false; }

void GlPainter::drop_all() {
    drop_fonts();
    if (!textures_.empty()) {
        glDeleteTextures(static_cast<GLsizei>(textures_.size()), textures_.data());
    }
    textures_.clear();
}

void GlPainter::paint(ImDrawData& data, ImU32 background) {
    glViewport(0, 0, static_cast<GLsizei>(data.DisplaySize.x * data.FramebufferScale.x),
               static_cast<GLsizei>(data.DisplaySize.y * data.FramebufferScale.y));
    const auto part = [&](int shift) {
        return static_cast<float>((background >> shift) & 0xFFU) / 255.0F;
    };
    glClearColor(part(0), part(8), part(16), 1);
    glClear(GL_COLOR_BUFFER_BIT);
    ImGui_ImplOpenGL3_RenderDrawData(&data);
}

} // namespace railside
