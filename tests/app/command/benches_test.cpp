#include "app/command/benches.h"

#include "app/rooms/demo_job.h"
#include "run_program.h"

#include <filesystem>
#include <string>

using namespace railside;
using namespace railside::testing;

TEST_CASE("benches: the folder comes from the environment in its order", "[app][command]") {
    const Variable own("RAILSIDE_BENCH", "/own/bench");
    const Variable data("XDG_DATA_HOME", "/data");
    const Variable home("HOME", "/home/bench");
    CHECK(default_bench_folder().value() == "/own/bench");
    const Variable no_own("RAILSIDE_BENCH", std::nullopt);
    CHECK(default_bench_folder().value() == "/data/railside");
    {
        // XDG base directory specification 0.8: "All paths set in these environment variables must
        // be absolute", a relative one is ignored.
        const Variable relative("XDG_DATA_HOME", "data");
        CHECK(default_bench_folder().value() == "/home/bench/.local/share/railside");
    }
    const Variable no_data("XDG_DATA_HOME", "");
    CHECK(default_bench_folder().value() == "/home/bench/.local/share/railside");
    const Variable no_home("HOME", std::nullopt);
    CHECK(default_bench_folder().error().field == "--bench");
}

TEST_CASE("benches: a temporary bench leaves nothing", "[app][command]") {
    const TestFolder folder;
    const Variable temp("TMPDIR", folder.path().string());
    {
        auto held = BenchInUse::temporary();
        REQUIRE(held.ok());
        CHECK(held->is_temporary());
        CHECK(holds_bench(held->bench().folder()));
        CHECK(held->bench().folder().parent_path() == folder.path());
        BenchInUse moved = std::move(*held);
        CHECK(moved.bench().jobs().ok());
    }
    CHECK(folder.empty());
}

TEST_CASE("benches: jobs are found by id and demo makes its own", "[app][command]") {
    auto held = BenchInUse::temporary();
    REQUIRE(held.ok());
    const auto unknown = job_named(held->bench(), "nosuchjob");
    REQUIRE_FALSE(unknown.ok());
    CHECK(unknown.error().code == ErrorCode::not_found);
    CHECK(holds(unknown.error().message, "--job"));
    const auto demo = job_named(held->bench(), "demo");
    REQUIRE(demo.ok());
    CHECK(job_named(held->bench(), "demo").value() == *demo);
    CHECK(job_named(held->bench(), *demo).value() == *demo);
    CHECK(held->bench().jobs()->size() == 1);
    CHECK(clock_after(held->bench(), *demo)->now_ms > k_demo_begun_ms);
}

TEST_CASE("benches: jobs lists what the bench holds and makes none", "[app][command]") {
    const TestFolder folder;
    const std::string bench = folder.file("bench");
    {
        const Variable own("RAILSIDE_BENCH", bench);
        const Ran none = run({"jobs"});
        CHECK(none.status == 0);
        CHECK(none.out == "No jobs yet.\n");
    }
    CHECK_FALSE(std::filesystem::exists(bench));
    const Ran missing = run({"jobs", "--bench", bench});
    CHECK(missing.status == 2);
    CHECK(holds(missing.err, "--bench"));
    {
        auto held = BenchInUse::open(bench);
        REQUIRE(held.ok());
        REQUIRE(held->bench().jobs()->empty());
        REQUIRE(load_demo_job(held->bench()).ok());
        // While it is open here, the program is kept out.
        const Ran busy = run_program({"jobs", "--bench", bench});
        CHECK(busy.status == 1);
        CHECK(busy.out.empty());
        CHECK(holds(busy.err, "railside jobs: "));
    }
    const Ran listed = run_program({"jobs", "--bench", bench});
    CHECK(listed.status == 0);
    CHECK(holds(listed.out, "Orrinvale SA-260"));
    CHECK(holds(listed.out, "photo"));
}

TEST_CASE("open: without a display it says so and does not hang", "[app][command]") {
    const TestFolder folder;
    const Variable display("DISPLAY", std::nullopt);
    const Variable wayland("WAYLAND_DISPLAY", std::nullopt);
    const Variable driver("SDL_VIDEODRIVER", "x11");
    for (const char* window : {"sdl2", "glfw"}) {
        const Ran ran = run_program({"open", "--bench", folder.file("bench"), "--window", window});
        INFO(window << ran.err);
        CHECK(ran.status == 1);
        // Our message is a line of its own and the last thing said; a display library may have
        // said something before it.
        const auto ours = ("\n" + ran.err).rfind("\nrailside open: ");
        REQUIRE(ours != std::string::npos);
        CHECK(ran.err.find("\nrailside", ours) == std::string::npos);
        CHECK(ran.err.size() - ours > std::string("railside open: ").size() + 1);
    }
}

TEST_CASE("open: bad options are refused before a bench is made", "[app][command]") {
    const TestFolder folder;
    const std::string bench = folder.file("bench");
    const std::vector<std::vector<std::string>> rows{
        {"--window", "gtk"},  {"--size", "big"},      {"--size", "10x10"},
        {"--density", "100"}, {"--density", "dense"}, {"--full-screen=yes"},
    };
    for (const auto& row : rows) {
        std::vector<std::string> args{"open", "--bench", bench};
        args.insert(args.end(), row.begin(), row.end());
        const Ran ran = run(args);
        INFO(row.front());
        CHECK(ran.status == 2);
        CHECK(holds(ran.err, row.front().substr(0, row.front().find('='))));
        CHECK_FALSE(std::filesystem::exists(bench));
    }
    CHECK(run({"open", "--bench", ""}).status == 2);
}
