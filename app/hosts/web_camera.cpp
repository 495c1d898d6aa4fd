#include "app/hosts/web.h"
#include "app/hosts/web_calls.h"

#include <emscripten.h>

#include <string>
#include <utility>

namespace railside {

namespace {

class WebCamera;
WebCamera*& open_one() {
    static WebCamera* k_open = nullptr;
    return k_open;
}

class WebCamera final : public CameraBase {
  public:
    explicit WebCamera(std::function<void()> wake) : CameraBase(std::move(wake)) {
        open_one() = this;
        railside_page_camera(1);
    }
    ~WebCamera() override {
        if (open_one() == this)
            open_one() = nullptr;
        railside_page_camera(0);
        close();
    }
    WebCamera(const WebCamera&) = delete;
    WebCamera& operator=(const WebCamera&) = delete;

    [[nodiscard]] std::string sentence() const override {
        switch (state()) {
        case CameraState::none:
            return "The browser finds no camera. From file takes pictures in that exist already.";
        case CameraState::denied:
            return "The browser may not use the camera. From file takes pictures in, and the "
                   "system's camera too; or allow the camera in the browser's settings for this "
                   "page.";
        case CameraState::busy:
            return "Another program is using the camera. Close it there, then open the camera "
                   "again; or take pictures in with From file.";
        case CameraState::lost:
            return "The camera is gone or gives no pictures. Open it again, or take pictures in "
                   "with From file.";
        case CameraState::opening:
        case CameraState::live:
            break;
        }
        return CameraBase::sentence();
    }
    void take_picture(Got got) override {
        CameraBase::take_picture(std::move(got));
        if (state() == CameraState::live)
            railside_page_shutter();
    }

    using CameraBase::give;
    using CameraBase::set_state;
    using CameraBase::show;
};

} // namespace

std::unique_ptr<CameraSource> open_web_camera(std::function<void()> wake) {
    return std::make_unique<WebCamera>(std::move(wake));
}

} // namespace railside

using namespace railside; // NOLINT(google-build-using-namespace): C functions follow

extern "C" {

EMSCRIPTEN_KEEPALIVE void web_camera_state(int state) {
    if (open_one() != nullptr)
        open_one()->set_state(static_cast<CameraState>(state));
}

EMSCRIPTEN_KEEPALIVE void web_camera_frame(int width, int height, const std::uint8_t* rgba) {
    if (open_one() == nullptr)
        return;
    CameraFrame frame;
    frame.width = width;
    frame.height = height;
    frame.rgba.assign(rgba, rgba + static_cast<std::size_t>(width) *
                                       static_cast<std::size_t>(height) * 4);
    open_one()->show(std::move(frame));
}

/// A whole JPEG file; size 0: `why` there is none.
EMSCRIPTEN_KEEPALIVE void web_camera_picture(const char* bytes, int size, const char* why) {
    if (open_one() == nullptr)
        return;
    if (size > 0)
        open_one()->give(std::string(bytes, static_cast<std::size_t>(size)));
    else
        open_one()->give(Error{ErrorCode::failed, "camera", why});
}

} // extern "C"
