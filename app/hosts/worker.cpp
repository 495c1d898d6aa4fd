#include "app/hosts/worker.h"

#include "core/words/words.h"

#include <algorithm>
#include <exception>
#include <iterator>
#include <utility>

namespace railside {

Worker::Worker(std::function<void()> wake, Mode mode)
    : wake_(std::move(wake)), at_once_(mode == Mode::at_once) {
#ifdef __EMSCRIPTEN__
    at_once_ = true;
#endif
    if (!at_once_) {
        thread_ = std::thread([this] { run(); });
    }
}

Worker::~Worker() { finish(); }

void Worker::ask(std::string key, Work work) {
    if (at_once_) {
        work_now({std::move(key), std::move(work), false});
        return;
    }
    std::deque<Job> dropped; // ends outside the lock: what a closure holds may be anything
    {
        const std::lock_guard lock(mutex_);
        const bool runs = runs_asked_ && running_ == key;
        const bool is_ready = std::any_of(ready_.begin(), ready_.end(), [&](const Ready& ready) {
            return !ready.must && ready.key == key;
        });
        if (runs || is_ready) {
            return;
        }
        const auto same = std::find_if(asked_.begin(), asked_.end(),
                                       [&](const Job& job) { return job.key == key; });
        if (same != asked_.end()) {
            dropped.push_back(std::move(*same));
            asked_.erase(same);
        }
        asked_.push_front({std::move(key), std::move(work), false});
        if (asked_.size() > k_most_asked) {
            dropped.push_back(std::move(asked_.back()));
            asked_.pop_back();
        }
    }
    changed_.notify_all();
}

void Worker::must(std::string key, Work work) {
    if (at_once_) {
        work_now({std::move(key), std::move(work), true});
        return;
    }
    {
        const std::lock_guard lock(mutex_);
        must_.push_back({std::move(key), std::move(work), true});
    }
    changed_.notify_all();
}

void Worker::forget(std::string_view key) {
    Job dropped;
    const std::lock_guard lock(mutex_);
    const auto same =
        std::find_if(asked_.begin(), asked_.end(), [&](const Job& job) { return job.key == key; });
    if (same != asked_.end()) {
        dropped = std::move(*same);
        asked_.erase(same);
    }
}

int Worker::deliver() {
    std::deque<Ready> ready;
    {
        const std::lock_guard lock(mutex_);
        ready.swap(ready_);
    }
    for (const Ready& one : ready) {
        deliver_one(one);
    }
    return static_cast<int>(ready.size());
}

std::vector<Worker::Lost> Worker::take_lost() {
    const std::lock_guard lock(mutex_);
    return std::exchange(lost_, {});
}

bool Worker::busy() const {
    const std::lock_guard lock(mutex_);
    return runs_ || !asked_.empty() || !must_.empty() || !ready_.empty();
}

void Worker::finish() {
    if (at_once_) {
        return;
    }
    std::deque<Job> dropped;
    {
        const std::lock_guard lock(mutex_);
        dropped.swap(asked_);
        ending_ = true;
    }
    changed_.notify_all();
    thread_.join();
    at_once_ = true;
    std::deque<Ready> ready;
    ready.swap(ready_);
    for (const Ready& one : ready) {
        if (one.must) {
            deliver_one(one);
        }
    }
}

bool Worker::next(Job& job) {
    if (!must_.empty() && (asked_.empty() || !must_was_last_)) {
        job = std::move(must_.front());
        must_.pop_front();
        must_was_last_ = true;
        return true;
    }
    if (!asked_.empty()) {
        job = std::move(asked_.front());
        asked_.pop_front();
        must_was_last_ = false;
        return true;
    }
    return false;
}

void Worker::run() {
    for (;;) {
        Job job;
        {
            std::unique_lock lock(mutex_);
            changed_.wait(lock, [this] { return ending_ || !asked_.empty() || !must_.empty(); });
            if (!next(job)) {
                return; // ending, and nothing left that must be done
            }
            runs_ = true;
            runs_asked_ = !job.must;
            running_ = job.key;
        }
        Delivery delivery = worked(job);
        bool something = false;
        {
            const std::lock_guard lock(mutex_);
            runs_ = false;
            runs_asked_ = false;
            if (delivery) {
                ready_.push_back({job.key, std::move(delivery), job.must});
            }
            something = !ready_.empty() || !lost_.empty();
        }
        if (something && wake_) {
            wake_();
        }
    }
}

void Worker::work_now(const Job& job) {
    const Delivery delivery = worked(job);
    if (delivery) {
        deliver_one({job.key, delivery, job.must});
    }
}

Worker::Delivery Worker::worked(const Job& job) {
    try {
        return job.work ? job.work() : Delivery();
    } catch (const std::exception& error) {
        lose(job.key, error.what());
    } catch (...) {
        lose(job.key, "no reason given");
    }
    return {};
}

void Worker::deliver_one(const Ready& ready) {
    try {
        ready.delivery();
    } catch (const std::exception& error) {
        lose(ready.key, error.what());
    } catch (...) {
        lose(ready.key, "no reason given");
    }
}

void Worker::lose(const std::string& key, std::string_view what) {
    constexpr std::size_t k_most_told = 256; // nobody asks: the first ones say enough
    while (what.ends_with('.')) {
        what.remove_suffix(1);
    }
    const std::lock_guard lock(mutex_);
    if (lost_.size() < k_most_told) {
        lost_.push_back({key, worded("{} could not be finished: {}.", key, std::string(what))});
    }
}

} // namespace railside
