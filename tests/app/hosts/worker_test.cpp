#include "app/hosts/worker.h"

#include "support/catch.h"

#include <algorithm>
#include <atomic>
#include <chrono>
#include <condition_variable>
#include <memory>
#include <mutex>
#include <stdexcept>
#include <string>
#include <thread>
#include <vector>

using namespace railside;
using namespace std::chrono_literals;

namespace {

/// Holds the worker's thread until it is opened.
class Gate {
  public:
    void open() {
        {
            const std::lock_guard lock(mutex_);
            open_ = true;
        }
        changed_.notify_all();
    }
    void pass() {
        std::unique_lock lock(mutex_);
        entered_ = true;
        changed_.notify_all();
        changed_.wait(lock, [this] { return open_; });
    }
    void wait_entered() {
        std::unique_lock lock(mutex_);
        changed_.wait(lock, [this] { return entered_; });
    }

  private:
    std::mutex mutex_;
    std::condition_variable changed_;
    bool open_ = false;
    bool entered_ = false;
};

/// Delivers until the worker is at rest; false when that takes more than 10 s.
bool rest(Worker& worker) {
    for (int i = 0; i < 10000; i++) {
        worker.deliver();
        if (!worker.busy()) {
            return true;
        }
        std::this_thread::sleep_for(1ms);
    }
    return false;
}

} // namespace

TEST_CASE("worker: work runs elsewhere, its result arrives here, and the waker is called",
          "[app][hosts]") {
    std::atomic<int> wakes = 0;
    Worker worker([&] { wakes++; });
    std::thread::id worked_in;
    std::thread::id delivered_in;
    worker.ask("a", [&]() -> Worker::Delivery {
        worked_in = std::this_thread::get_id();
        return [&] { delivered_in = std::this_thread::get_id(); };
    });
    for (int i = 0; i < 10000 && wakes == 0; i++) {
        std::this_thread::sleep_for(1ms);
    }
    CHECK(wakes == 1);
    CHECK(delivered_in == std::thread::id());
    CHECK(worker.deliver() == 1);
    CHECK(worker.deliver() == 0);
    CHECK(delivered_in == std::this_thread::get_id());
    CHECK(worked_in != delivered_in);
}

TEST_CASE("worker: the newest is done first, and asking again brings to the front",
          "[app][hosts]") {
    Worker worker({});
    Gate gate;
    std::vector<std::string> done;
    const auto name = [&](std::string what) -> Worker::Work {
        return
            [&done, what]() -> Worker::Delivery { return [&done, what] { done.push_back(what); }; };
    };
    worker.ask("gate", [&]() -> Worker::Delivery {
        gate.pass();
        return {};
    });
    gate.wait_entered();
    worker.ask("a", name("a"));
    worker.ask("b", name("b"));
    worker.ask("c", name("c"));
    worker.ask("a", name("a anew"));
    worker.ask("d", name("d"));
    worker.forget("d");
    worker.forget("no such");
    gate.open();
    REQUIRE(rest(worker));
    CHECK(done == std::vector<std::string>{"a anew", "c", "b"});
}

TEST_CASE("worker: what runs or waits to be delivered is not done twice", "[app][hosts]") {
    Worker worker({});
    Gate gate;
    std::atomic<int> worked = 0;
    const Worker::Work work = [&]() -> Worker::Delivery {
        gate.pass();
        worked++;
        return [] {};
    };
    worker.ask("a", work);
    gate.wait_entered();
    worker.ask("a", work);
    gate.open();
    for (int i = 0; i < 10000 && worked == 0; i++) {
        std::this_thread::sleep_for(1ms);
    }
    std::this_thread::sleep_for(20ms);
    worker.ask("a", work); // ready, not yet delivered
    std::this_thread::sleep_for(20ms);
    CHECK(worked == 1);
    CHECK(worker.deliver() == 1);
    worker.ask("a", work);
    REQUIRE(rest(worker));
    CHECK(worked == 2);
}

TEST_CASE("worker: beyond its bound the oldest is dropped, but never what must be done",
          "[app][hosts]") {
    Worker worker({});
    Gate gate;
    std::vector<int> asked;
    std::vector<int> must;
    worker.ask("gate", [&]() -> Worker::Delivery {
        gate.pass();
        return {};
    });
    gate.wait_entered();
    for (int i = 0; i < 200; i++) {
        worker.ask(std::to_string(i),
                   [&, i]() -> Worker::Delivery { return [&, i] { asked.push_back(i); }; });
        worker.must("the same key",
                    [&, i]() -> Worker::Delivery { return [&, i] { must.push_back(i); }; });
    }
    gate.open();
    REQUIRE(rest(worker));
    REQUIRE(asked.size() == Worker::k_most_asked);
    CHECK(asked.front() == 199);
    CHECK(asked.back() == 200 - static_cast<int>(Worker::k_most_asked));
    REQUIRE(must.size() == 200);
    for (int i = 0; i < 200; i++) {
        CHECK(must[static_cast<std::size_t>(i)] == i);
    }
}

TEST_CASE("worker: many photos to put away do not hold up a picture to show", "[app][hosts]") {
    Worker worker({});
    Gate gate;
    std::vector<std::string> done;
    worker.must("gate", [&]() -> Worker::Delivery {
        gate.pass();
        return {};
    });
    gate.wait_entered();
    for (int i = 0; i < 5; i++) {
        worker.must("m", [&]() -> Worker::Delivery { return [&] { done.emplace_back("must"); }; });
    }
    worker.ask("a", [&]() -> Worker::Delivery { return [&] { done.emplace_back("asked"); }; });
    gate.open();
    REQUIRE(rest(worker));
    REQUIRE(done.size() == 6);
    CHECK(done[0] == "asked");
}

TEST_CASE("worker: a throw loses that result alone, with its reason", "[app][hosts]") {
    const auto mode = GENERATE(Worker::Mode::own_thread, Worker::Mode::at_once);
    Worker worker({}, mode);
    int delivered = 0;
    worker.ask("photo 1", []() -> Worker::Delivery { throw std::runtime_error("disk gone."); });
    worker.must("photo 2", []() -> Worker::Delivery { throw 7; });
    worker.must("photo 3",
                []() -> Worker::Delivery { return [] { throw std::runtime_error("no room"); }; });
    worker.must("photo 4", [&]() -> Worker::Delivery { return [&] { delivered++; }; });
    REQUIRE(rest(worker));
    CHECK(delivered == 1);
    const auto lost = worker.take_lost();
    REQUIRE(lost.size() == 3);
    std::vector<std::string> reasons;
    for (const Worker::Lost& one : lost) {
        reasons.push_back(one.reason);
    }
    const auto told = [&](const std::string& reason) {
        return std::find(reasons.begin(), reasons.end(), reason) != reasons.end();
    };
    CHECK(told("photo 1 could not be finished: disk gone."));
    CHECK(told("photo 2 could not be finished: no reason given."));
    CHECK(told("photo 3 could not be finished: no room."));
    CHECK(worker.take_lost().empty());
}

TEST_CASE("worker: at its end what was asked is discarded and what must be done is done",
          "[app][hosts]") {
    Gate gate;
    int asked = 0;
    int must = 0;
    std::thread opener;
    {
        Worker worker({});
        worker.must("gate", [&]() -> Worker::Delivery {
            gate.pass();
            return {};
        });
        gate.wait_entered();
        for (int i = 0; i < 20; i++) {
            worker.ask(std::to_string(i), [&]() -> Worker::Delivery { return [&] { asked++; }; });
            worker.must("m", [&]() -> Worker::Delivery { return [&] { must++; }; });
        }
        opener = std::thread([&] {
            std::this_thread::sleep_for(30ms);
            gate.open();
        });
    }
    opener.join();
    CHECK(asked == 0);
    CHECK(must == 20);
}

TEST_CASE("worker: at once, the result is there when ask returns", "[app][hosts]") {
    int wakes = 0;
    Worker worker([&] { wakes++; }, Worker::Mode::at_once);
    std::vector<std::string> done;
    worker.ask("outer", [&]() -> Worker::Delivery {
        return [&] {
            worker.ask("inner",
                       [&]() -> Worker::Delivery { return [&] { done.emplace_back("inner"); }; });
            done.emplace_back("outer");
        };
    });
    CHECK(done == std::vector<std::string>{"inner", "outer"});
    CHECK(worker.deliver() == 0);
    CHECK_FALSE(worker.busy());
    CHECK(wakes == 0);
}

TEST_CASE("worker: deliveries may ask for more, and after finish() all is done at once",
          "[app][hosts]") {
    Worker worker({});
    int seen = 0;
    worker.ask("a", [&]() -> Worker::Delivery {
        return [&] {
            seen++;
            worker.ask("a", [&]() -> Worker::Delivery { return [&] { seen++; }; });
        };
    });
    REQUIRE(rest(worker));
    CHECK(seen == 2);
    worker.finish();
    worker.finish();
    worker.ask("b", [&]() -> Worker::Delivery { return [&] { seen++; }; });
    CHECK(seen == 3);
}
