// The program in a browser's page. The page (app/web) owns the canvas, the listeners, the storage
// and the camera; it calls the functions of web.cpp by name, and these hosts call it through
// web_calls.h. No loop runs: the page asks for a turn after each event and when a frame falls due.
#pragma once

#include "app/hosts/camera.h"
#include "app/hosts/host.h"
#include "app/hosts/outside.h"

#include <functional>
#include <memory>
#include <optional>
#include <span>
#include <string_view>

namespace railside {

/// The page's files, pictures and storage.
class WebOutside : public Outside {
  public:
    /// What must last: lines for the page's journal, and files by their names. It is on its way
    /// when these return, and kept() when all of it has arrived.
    virtual void write_line(std::string_view line) = 0;
    virtual void write_file(std::string_view hash, std::span<const std::byte> bytes) = 0;
    /// Whether this page may write at all: false in a second one.
    [[nodiscard]] virtual bool may_write() const = 0;
    /// The picture the browser decoded from exactly these bytes a moment ago; nothing when it did
    /// not.
    [[nodiscard]] virtual std::optional<Image> decoded(std::span<const std::byte> bytes) = 0;
};
[[nodiscard]] WebOutside& web_outside();

/// Shows the program in the page's canvas, until the page goes. The program lives as long.
/// Errors: failed (no WebGL 2).
[[nodiscard]] Result<Done> start_web(std::unique_ptr<Program> program, const Screen& screen);

/// The camera the browser offers, once the person has allowed it.
[[nodiscard]] std::unique_ptr<CameraSource> open_web_camera(std::function<void()> wake);

} // namespace railside
