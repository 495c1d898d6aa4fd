// One thread behind the screen for what takes long: a picture read from the vault, made smaller,
// put away. What it finds is handed over on the interface thread, so that work and screen share no
// data.
#pragma once

#include <condition_variable>
#include <cstddef>
#include <deque>
#include <functional>
#include <mutex>
#include <string>
#include <string_view>
#include <thread>
#include <vector>

namespace railside {

class Worker {
  public:
    /// Runs on the interface thread with what the work found; may be empty.
    using Delivery = std::function<void()>;
    /// Runs on the worker's thread. It may throw: see take_lost().
    using Work = std::function<Delivery()>;

    enum class Mode {
        own_thread, // as a window wants it
        at_once,    // ask() works and delivers before it returns: the same picture each time
    };

    /// A result that never came, and why: one sentence.
    struct Lost {
        std::string key;
        std::string reason;
    };

    static constexpr std::size_t k_most_asked = 64;

    /// `wake` is called from the worker's thread when something can be delivered. Without threads
    /// (web) the mode is always at_once.
    explicit Worker(std::function<void()> wake, Mode mode = Mode::own_thread);
    /// Calls finish(). The object that owns a Worker and is named in its deliveries declares it
    /// last, so that all else is still there.
    ~Worker();
    Worker(const Worker&) = delete;
    Worker& operator=(const Worker&) = delete;

    /// Work for the screen, newest first. Asked again while it waits, it comes to the front with
    /// the newer work; while it runs or its result waits to be delivered, nothing happens, so a key
    /// names all that the result depends on. Beyond k_most_asked the oldest is dropped without a
    /// word: what is still looked at is asked for again.
    void ask(std::string key, Work work);
    /// Work that must be done (a photo put into the vault): never dropped, first come first served,
    /// each call for itself. Takes turns with what is asked, so that neither holds up the other.
    void must(std::string key, Work work);
    /// What is no longer looked at: dropped if it has not begun. Not for must.
    void forget(std::string_view key);

    /// On the interface thread, from Program::news: runs what is ready. Returns how many.
    int deliver();
    /// What failed since the last call.
    [[nodiscard]] std::vector<Lost> take_lost();
    /// Waiting, running or not yet delivered.
    [[nodiscard]] bool busy() const;

    /// On the interface thread: the running work ends, what was asked is discarded, what must be
    /// done is done and delivered. Afterwards every call works at once.
    void finish();

  private:
    struct Job {
        std::string key;
        Work work;
        bool must = false;
    };
    struct Ready {
        std::string key;
        Delivery delivery;
        bool must = false;
    };

    void run();
    [[nodiscard]] bool next(Job& job); // with mutex_ held
    void work_now(const Job& job);
    [[nodiscard]] Delivery worked(const Job& job);
    void deliver_one(const Ready& ready);
    void lose(const std::string& key, std::string_view what);

    const std::function<void()> wake_;
    mutable std::mutex mutex_;
    std::condition_variable changed_;
    std::deque<Job> asked_; // newest in front
    std::deque<Job> must_;  // oldest in front
    std::deque<Ready> ready_;
    std::vector<Lost> lost_;
    std::string running_;
    bool runs_ = false;
    bool runs_asked_ = false;
    bool must_was_last_ = false;
    bool ending_ = false;
    bool at_once_ = false;
    std::thread thread_;
};

} // namespace railside
