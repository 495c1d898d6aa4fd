// The way from any thread into a host's loop. What is called late, after the host's end, does
// nothing.
#pragma once

#include <functional>
#include <memory>

namespace railside {

class WakeCall {
  public:
    /// `post` ends the host's sleep; it is called from any thread, once until the next take().
    explicit WakeCall(std::function<void()> post);
    /// Afterwards `post` is not called any more, nor is it running.
    ~WakeCall();
    WakeCall(const WakeCall&) = delete;
    WakeCall& operator=(const WakeCall&) = delete;

    /// What the program's threads call. It may outlive this object.
    [[nodiscard]] std::function<void()> function() const;
    /// Whether it was called since the last time.
    [[nodiscard]] bool take();
    [[nodiscard]] bool waiting() const;

  private:
    struct Shared;
    std::shared_ptr<Shared> shared_;
};

} // namespace railside
