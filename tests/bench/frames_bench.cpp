// What a frame costs: every room at 1280x800 with the demo job and with a heavy one, CPU
// microseconds per frame and per thousand vertices, beside Dear ImGui's own demo window in the same
// run; heap allocations of a steady frame; frames drawn in ten idle seconds; peak memory.
//   frames_bench demo|heavy   (one process each, so that the peak is its own)
#include "app/hosts/host.h"
#include "app/rooms/builtin_lists.h"
#include "app/rooms/demo_job.h"
#include "app/rooms/program.h"
#include "core/store/bench.h"
#include "support/allocations.h"

#include <fmt/format.h>

#include <sys/resource.h>

#include <algorithm>
#include <ctime>
#include <filesystem>
#include <functional>
#include <limits>
#include <memory>
#include <stdexcept>
#include <string>
#include <vector>

using namespace railside;

namespace {

constexpr Screen k_screen{1280, 800, 5.9f};
constexpr int k_rounds = 60;
constexpr int k_heavy_entries = 500;
constexpr int k_heavy_photos = 200;

double cpu_us() {
    timespec at{};
    clock_gettime(CLOCK_THREAD_CPUTIME_ID, &at);
    return static_cast<double>(at.tv_sec) * 1e6 + static_cast<double>(at.tv_nsec) * 1e-3;
}

/// Dear ImGui's demo window, as it opens, over the whole screen.
class DemoWindow : public Program {
  public:
    void start(Textures&) override {}
    bool resize(const Screen&) override { return true; }
    void textures_lost() override {}
    void touch(const Touch&) override {}
    void wheel(float, float, float) override {}
    void key(Key) override {}
    void text(std::string_view) override {}
    void drop_file(std::string_view) override {}
    void frame(double) override {
        ImGui::SetNextWindowPos(ImVec2(0, 0));
        ImGui::SetNextWindowSize(ImVec2(k_screen.width_px, k_screen.height_px));
        ImGui::ShowDemoWindow();
    }
    [[nodiscard]] double wake_in(double) const override {
        return std::numeric_limits<double>::infinity();
    }
    [[nodiscard]] bool done() const override { return false; }
    [[nodiscard]] bool wants_text() const override { return false; }
};

struct Cost {
    double frame_us = 0; // the median of the rounds
    int vertices = 0;
    double allocations = 0; // a frame
    [[nodiscard]] double per_thousand() const { return frame_us * 1000 / std::max(1, vertices); }
};

/// Frames as a window would draw them, without painting: an event that changes nothing asks for
/// each few.
Cost measure(Headless& host) {
    for (int i = 0; i < 3; ++i) {
        host.wheel(-5, -5, 1);
        host.settle();
    }
    std::vector<double> times;
    times.reserve(k_rounds);
    unsigned long long made = 0;
    int frames = 0;
    for (int i = 0; i < k_rounds; ++i) {
        host.wheel(-5, -5, 1);
        const auto before = test::allocations();
        const double from = cpu_us();
        const int drawn = host.settle();
        times.push_back((cpu_us() - from) / std::max(1, drawn));
        made += test::allocations() - before;
        frames += drawn;
    }
    std::nth_element(times.begin(), times.begin() + k_rounds / 2, times.end());
    return {times[k_rounds / 2], host.vertices(), static_cast<double>(made) / std::max(1, frames)};
}

template <class T> T must(Result<T> result) {
    if (!result)
        throw std::runtime_error(result.error().message);
    return std::move(*result);
}

Picture drawing(int number) {
    Picture picture{96, 64, {}};
    picture.rgba.reserve(96 * 64 * 4);
    for (int i = 0; i < 96 * 64; ++i)
        for (const int byte : {i * 7 + number, i / 96 * 4, number * 3, 255})
            picture.rgba.push_back(static_cast<std::uint8_t>(byte & 255));
    return picture;
}

void make_heavy(Bench& bench, const std::string& job) {
    std::vector<Bench::Draft> drafts;
    for (int i = 0; i < k_heavy_photos; ++i) {
        PhotoRecord photo;
        photo.stage = i % 2 == 0 ? PhotoStage::as_received : PhotoStage::taken_off;
        photo.caption = fmt::format("Drawn photo {}", i);
        drafts.push_back(
            {EntryKind::photo, photo_body(must(bench.keep_drawing(drawing(i), photo)))});
    }
    for (int i = k_heavy_photos; i < k_heavy_entries; ++i)
        drafts.push_back(
            {EntryKind::note, {{"text", fmt::format("Note {} of a long repair.", i)}}});
    must(bench.append_all(job, drafts));
}

int run(bool heavy) {
    const auto folder = std::filesystem::temp_directory_path() /
                        fmt::format("railside-frames-{}", static_cast<long>(::time(nullptr)));
    {
        auto bench = must(Bench::open(folder, system_surroundings()));
        const std::string job = must(load_demo_job(*bench));
        if (heavy)
            make_heavy(*bench, job);
        DemoWindow demo;
        Cost own;
        {
            const auto host = must(Headless::create(demo, k_screen));
            own = measure(*host);
        }
        fmt::print("{:<26}{:>9}{:>10}{:>12}{:>8}{:>9}{:>12}\n", heavy ? "heavy job" : "demo job",
                   "us/frame", "vertices", "us/1000 v", "ratio", "allocs", "idle frames");
        const auto line = [&own](std::string_view name, const Cost& cost, int idle) {
            fmt::print("{:<26}{:>9.1f}{:>10}{:>12.1f}{:>8.2f}{:>9.2f}{:>12}\n", name, cost.frame_us,
                       cost.vertices, cost.per_thousand(), cost.per_thousand() / own.per_thousand(),
                       cost.allocations, idle);
        };
        line("ImGui's demo window", own, 0);

        ProgramSurroundings around;
        around.clock = [] { return Clock{system_surroundings().now_ms(), 0}; };
        around.lists.assign(builtin_lists().begin(), builtin_lists().end());
        around.work_at_once = true;
        RailsideProgram program(*bench, std::move(around));
        must(program.open_job(job));
        const auto host = must(Headless::create(program, k_screen));
        host->settle(2000);
        const auto look = [&](std::string_view name, const std::vector<Intent>& wanted) {
            for (const Intent& one : wanted)
                program.apply(one);
            program.refresh();
            host->wheel(-5, -5, 1);
            host->settle(2000);
            const Cost cost = measure(*host);
            line(name, cost, host->pass_time(10));
        };
        look("sheet", {intent::GoRoom{RoomId::sheet}});
        look("sheet, positions", {intent::ShowSheet{SheetPart::positions}});
        look("sheet, history", {intent::ShowSheet{SheetPart::history}});
        for (const Working& working : catalogue())
            look(working.name,
                 {intent::GoRoom{RoomId::workings}, intent::PickWorking{std::string(working.key)}});
        look("keypad", {intent::PickWorking{"idle"}, intent::OpenField{"reading"}});
        look("photos", {intent::LeaveKeypad{}, intent::GoRoom{RoomId::photos}});
        look("steps", {intent::GoRoom{RoomId::steps}});
        look("suspects", {intent::GoRoom{RoomId::suspects}});
        look("handover", {intent::GoRoom{RoomId::handover}});
        look("shelf", {intent::GoRoom{RoomId::shelf}});
        look("bench", {intent::ShowBench{BenchPart::instruments}});
    }
    std::filesystem::remove_all(folder);
    rusage used{};
    getrusage(RUSAGE_SELF, &used);
    fmt::print("peak memory: {:.0f} MB (goal 96)\n\n", static_cast<double>(used.ru_maxrss) / 1024);
    return 0;
}

} // namespace

int main(int argc, char** argv) {
    const std::string which = argc > 1 ? argv[1] : "demo";
    if (which != "demo" && which != "heavy") {
        fmt::print(stderr, "frames_bench demo|heavy\n");
        return 2;
    }
    // What ImGui itself asks for counts too.
    ImGui::SetAllocatorFunctions([](std::size_t size, void*) { return ::operator new(size); },
                                 [](void* memory, void*) { ::operator delete(memory); });
    try {
        return run(which == "heavy");
    } catch (const std::exception& failed) {
        fmt::print(stderr, "frames_bench: {}\n", failed.what());
        return 1;
    }
}
