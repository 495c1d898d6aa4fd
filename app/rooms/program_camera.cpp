// The live camera and the watched folder.

#include "app/rooms/apply.h"

#include <fmt/format.h>

namespace railside {

void RailsideProgram::watch() {
    if (settings_.watched.empty() || !wake_) {
        folder_.reset();
        return;
    }
    if (!folder_ || folder_->folder() != settings_.watched)
        folder_ = std::make_unique<WatchedFolder>(settings_.watched, wake_);
}

void RailsideProgram::show_live() {
    state_.camera_sentence = camera_->state() == CameraState::live ? "" : camera_->sentence();
    const auto frame = camera_->latest();
    const std::uint64_t serial = frame ? frame->serial : 0;
    if (textures_ == nullptr || serial == live_serial_)
        return;
    live_serial_ = serial;
    const Pixels pixels =
        frame ? Pixels{frame->width, frame->height, frame->rgba.data()} : Pixels{};
    if (live_.texture && live_.width == pixels.width && live_.height == pixels.height &&
        textures_->renew(live_.texture, pixels))
        return;
    let_go(live_);
    if (frame)
        live_ = {textures_->make(pixels), frame->width, frame->height};
}

void RailsideProgram::Apply::operator()(const intent::OpenCamera& open) {
    state.camera_open = open.open;
    if (open.open && program.surroundings_.camera) {
        program.camera_ = program.surroundings_.camera(program.wake_);
        program.show_live();
        return;
    }
    // What was asked of the camera is answered as it closes.
    const std::unique_ptr<CameraSource> closing = std::move(program.camera_);
    state.camera_sentence = open.open ? camera_sentence(CameraState::none) : "";
    program.let_go(program.live_);
    program.live_serial_ = 0;
}

void RailsideProgram::Apply::operator()(const intent::Shutter&) {
    Outside* outside = program.surroundings_.outside;
    if (outside != nullptr && (!program.camera_ || program.camera_->state() != CameraState::live)) {
        outside->ask_files(Outside::Ask::shot);
        return;
    }
    if (!program.camera_)
        return;
    program.camera_->take_picture([&program = program](Result<std::string> picture) {
        if (!picture) {
            program.say(AppState::MessageTone::refused, picture.error().message);
            return;
        }
        auto bytes = std::make_shared<const std::string>(std::move(*picture));
        program.import_picture(
            [bytes]() -> Result<Bytes> {
                const auto all = std::as_bytes(std::span(*bytes));
                return Bytes(all.begin(), all.end());
            },
            "The photo");
    });
}

void RailsideProgram::Apply::operator()(const intent::TakeWaiting&) { program.take_waiting(); }

} // namespace railside
