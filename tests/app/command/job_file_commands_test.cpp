#include "run_program.h"

#include "core/store/bench.h"

#include <filesystem>
#include <string>

using namespace railside;
using namespace railside::testing;

namespace {

/// The id of the demo job on that bench.
std::string demo_id(const std::string& bench) {
    auto opened = Bench::open(bench, system_surroundings());
    REQUIRE(opened.ok());
    return (*opened)->jobs()->front().job;
}

} // namespace

TEST_CASE("export and import: a job goes to another bench by a file, once and only once",
          "[app][command]") {
    const TestFolder folder;
    const std::string one = folder.file("one");
    const std::string two = folder.file("two");
    const std::string file = folder.file("hall.railjob");
    REQUIRE(run({"generate", "--bench", one, "--jobs", "1", "--photos", "2"}).status == 0);
    const std::string job = demo_id(one);
    const Ran out = run({"export", job, "--out", file, "--bench", one});
    INFO(out.err);
    REQUIRE(out.status == 0);
    CHECK(holds(out.out, "2 photos and recordings. Read back and checked."));
    const Ran in = run({"import", file, "--bench", two});
    INFO(in.err);
    REQUIRE(in.status == 0);
    CHECK(holds(in.out, job));
    CHECK_FALSE(holds(in.out, " 0 new here"));
    const Ran again = run({"import", file, "--bench", two});
    CHECK(again.status == 0);
    CHECK(holds(again.out, " 0 new here"));
    CHECK(demo_id(two) == job);
}

TEST_CASE("export and import: what is missing or wrong is said, with status 1 or 2",
          "[app][command]") {
    const TestFolder folder;
    const std::string bench = folder.file("bench");
    REQUIRE(run({"generate", "--bench", bench, "--jobs", "1", "--photos", "0"}).status == 0);
    const Ran nowhere = run({"export", demo_id(bench), "--bench", bench});
    CHECK(nowhere.status == 2);
    CHECK(holds(nowhere.err, "--out is missing"));
    const Ran no_job = run({"export", "nosuchjob", "--out", folder.file("x"), "--bench", bench});
    CHECK(no_job.status == 2);
    CHECK(holds(no_job.err, "no such job"));
    const Ran no_bench =
        run({"export", "demo", "--out", folder.file("x"), "--bench", folder.file("nothing")});
    CHECK(no_bench.status == 2);
    CHECK_FALSE(std::filesystem::exists(folder.file("nothing"))); // asking made none
    std::ofstream(folder.file("letter.txt")) << "dear client";
    const Ran letter = run({"import", folder.file("letter.txt"), "--bench", bench});
    CHECK(letter.status == 1);
    CHECK(holds(letter.err, "is not a job file"));
    CHECK(run({"import", folder.file("nothing.railjob"), "--bench", bench}).status == 2);
}

TEST_CASE("backup and restore: the bench comes back in an empty folder and nowhere else",
          "[app][command]") {
    const TestFolder folder;
    const std::string bench = folder.file("bench");
    const std::string backup = folder.file("backup");
    REQUIRE(run({"generate", "--bench", bench, "--jobs", "3", "--photos", "4"}).status == 0);
    const Ran made = run({"backup", "--out", backup, "--bench", bench});
    INFO(made.err);
    REQUIRE(made.status == 0);
    CHECK(holds(made.out, "3 jobs"));
    CHECK(holds(made.out, "4 photos and recordings (4 copied now)"));
    const Ran again = run({"backup", "--out", backup, "--bench", bench});
    CHECK(holds(again.out, "(0 copied now)"));
    const Ran back = run({"restore", backup, "--bench", folder.file("restored")});
    INFO(back.err);
    REQUIRE(back.status == 0);
    CHECK(run({"jobs", "--bench", folder.file("restored")}).out ==
          run({"jobs", "--bench", bench}).out);
    const Ran onto = run({"restore", backup, "--bench", bench});
    CHECK(onto.status == 2);
    CHECK(holds(onto.err, "is not empty"));
}

TEST_CASE("search: the jobs that have every word are printed with what was found",
          "[app][command]") {
    const TestFolder folder;
    const std::string bench = folder.file("bench");
    REQUIRE(run({"generate", "--bench", bench, "--jobs", "20", "--photos", "0"}).status == 0);
    const Ran found = run({"search", "client", "cable", "--bench", bench});
    INFO(found.err);
    REQUIRE(found.status == 0);
    CHECK(holds(found.out, "[cable]"));
    const Ran none = run({"search", "zither", "--bench", bench});
    CHECK(none.status == 0);
    CHECK(holds(none.out, "No job has \"zither\""));
    CHECK(run({"search", "--bench", bench}).status == 2);
    CHECK(run({"search", "-", "--bench", bench}).status == 2);
}

TEST_CASE("generate: the same jobs every time, and never among others", "[app][command]") {
    const TestFolder folder;
    const auto make = [&](const std::string& name) {
        return run({"generate", "--bench", folder.file(name), "--jobs", "5", "--photos", "12"});
    };
    REQUIRE(make("a").status == 0);
    REQUIRE(make("b").status == 0);
    const auto jobs = [&](const std::string& name) {
        auto bench = Bench::open(folder.file(name), system_surroundings());
        REQUIRE(bench.ok());
        int photos = 0;
        std::string told;
        for (const JobSummary& job : (*bench)->jobs().value()) {
            photos += job.photos;
            for (const Entry& entry : (*bench)->entries(job.job).value())
                told += entry.id + entry.body.dump();
        }
        CHECK(photos == 12);
        return told;
    };
    CHECK(jobs("a") == jobs("b"));
    CHECK(make("a").status == 2);
    const Ran unnamed = run({"generate", "--jobs", "5"});
    CHECK(unnamed.status == 2);
    CHECK(holds(unnamed.err, "--bench is missing"));
    CHECK(run({"generate", "--bench", folder.file("c"), "--jobs", "0"}).status == 2);
}
