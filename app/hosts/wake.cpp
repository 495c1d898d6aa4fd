#include "app/hosts/wake.h"

#include <mutex>
#include <utility>

namespace railside {

struct WakeCall::Shared {
    std::mutex mutex; // also held while post runs, so that the host's end waits for it
    std::function<void()> post;
    bool called = false;
};

WakeCall::WakeCall(std::function<void()> post) : shared_(std::make_shared<Shared>()) {
    shared_->post = std::move(post);
}

WakeCall::~WakeCall() {
    const std::lock_guard lock(shared_->mutex);
    shared_->post = nullptr;
}

std::function<void()> WakeCall::function() const {
    return [shared = shared_] {
        const std::lock_guard lock(shared->mutex);
        if (!shared->called && shared->post) {
            shared->called = true;
            shared->post();
        }
    };
}

bool WakeCall::take() {
    const std::lock_guard lock(shared_->mutex);
    return std::exchange(shared_->called, false);
}

bool WakeCall::waiting() const {
    const std::lock_guard lock(shared_->mutex);
    return shared_->called;
}

} // namespace railside
