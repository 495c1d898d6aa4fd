#include "run_program.h"

#include "app/rooms/handover_files.h"
#include "core/store/bench.h"

#include <filesystem>
#include <fstream>
#include <iterator>
#include <string>

using namespace railside;
using namespace railside::testing;

namespace {

std::string file_text(const std::string& path) {
    std::ifstream in(path, std::ios::binary);
    return {std::istreambuf_iterator<char>(in), std::istreambuf_iterator<char>()};
}

} // namespace

TEST_CASE("handover: the demo job's report is written as PDF, HTML and text, the same each time",
          "[app][command]") {
    const TestFolder folder;
    for (const char* name : {"r.pdf", "r.html", "r.txt"}) {
        const Ran ran = run({"handover", "--job", "demo", "--out", folder.file(name)});
        INFO(ran.err);
        REQUIRE(ran.status == 0);
        CHECK(holds(ran.out, "for the client"));
        CHECK(holds(ran.out, "! Before it is handed back: The closing words are not written."));
        const std::string first = file_text(folder.file(name));
        REQUIRE(run({"handover", "--job", "demo", "--out", folder.file(name)}).status == 0);
        CHECK(file_text(folder.file(name)) == first);
        CHECK_FALSE(std::filesystem::exists(folder.file(name) + ".part"));
    }
    const std::string text = file_text(folder.file("r.txt"));
    for (const char* part :
         {"Orrinvale SA-260", "R232 left", "Sleeve the wire bridge", "Left side too hot to touch"})
        CHECK(holds(text, part));
    CHECK_FALSE(holds(text, "HISTORY"));
    REQUIRE(run({"handover", "--job", "demo", "--for", "bench", "--out", folder.file("b.txt")})
                .status == 0);
    CHECK(holds(file_text(folder.file("b.txt")), "HISTORY"));
    const std::string html = file_text(folder.file("r.html"));
    CHECK(holds(html, "data:image/jpeg;base64,"));
    CHECK_FALSE(holds(html, "This photo cannot be shown"));
}

TEST_CASE("handover: what is not accepted is named with what is", "[app][command]") {
    const TestFolder folder;
    const auto refused = [&](std::vector<std::string> more) {
        std::vector<std::string> args = {"handover"};
        args.insert(args.end(), more.begin(), more.end());
        const Ran ran = run(args);
        CHECK(ran.status == 2);
        return ran.err;
    };
    const std::string out = folder.file("r.pdf");
    CHECK(holds(refused({"--out", out}), "--job is needed"));
    CHECK(holds(refused({"--job", "demo"}), "--out is needed"));
    CHECK(holds(refused({"--job", "demo", "--out", folder.file("r.doc")}), ".pdf, .html or .txt"));
    CHECK(holds(refused({"--job", "demo", "--out", out, "--for", "dog"}), "client or bench"));
    CHECK(holds(refused({"--job", "demo", "--out", out, "--paper", "a5"}), "a4 or letter"));
    CHECK(holds(refused({"--job", "demo", "--out", folder.file("r.txt"), "--paper", "a4"}),
                "belongs to a PDF"));
    CHECK(holds(refused({"--job", "demo", "--out", folder.file("no/r.pdf")}), "no folder"));
    CHECK(holds(refused({"--job", "x", "--out", out, "--bench", folder.file("nothing")}),
                "no bench"));
    CHECK(folder.empty());
}

TEST_CASE("handover: a stopped report leaves the file that was there", "[app][command]") {
    const TestFolder folder;
    const std::string bench = folder.file("bench");
    REQUIRE(run({"generate", "--bench", bench, "--jobs", "1", "--photos", "3"}).status == 0);
    auto opened = Bench::open(bench, system_surroundings());
    REQUIRE(opened.ok());
    const Job job = (*opened)->job((*opened)->jobs()->front().job).value();
    const BenchBook book = (*opened)->book().value();
    const std::string file = folder.file("r.pdf");
    std::ofstream(file) << "the one before";
    int told = 0;
    const auto stopped =
        write_report(**opened, job, book, {}, file, [&](int, int) { return ++told < 2; });
    REQUIRE_FALSE(stopped.ok());
    CHECK(stopped.error() == report_stopped());
    CHECK(file_text(file) == "the one before");
    CHECK_FALSE(std::filesystem::exists(file + ".part"));
    REQUIRE(write_report(**opened, job, book, {}, file).ok());
    CHECK(file_text(file).starts_with("%PDF"));
    CHECK_FALSE(holds(file_text(file), "Exif"));
}
