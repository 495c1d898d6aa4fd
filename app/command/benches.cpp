#include "app/command/benches.h"

#include "app/rooms/builtin_lists.h"
#include "app/rooms/demo_job.h"
#include "core/quantity/refusal.h"
#include "core/store/disk.h"
#include "core/words/words.h"

#include <fmt/format.h>
#include <iostream>

#include <cerrno>
#include <chrono>
#include <cstdlib>
#include <ctime>
#include <unistd.h>
#include <utility>

namespace railside {

namespace fs = std::filesystem;

namespace {

/// The folder an environment variable names, or empty.
fs::path folder_in(const char* variable) {
    const char* value = std::getenv(variable);
    return value == nullptr ? fs::path() : fs::path(value);
}

} // namespace

Result<fs::path> default_bench_folder() {
    if (const fs::path own = folder_in("RAILSIDE_BENCH"); !own.empty())
        return own;
    // The XDG base directory specification has relative paths ignored.
    if (const fs::path data = folder_in("XDG_DATA_HOME"); data.is_absolute())
        return data / "railside";
    if (const fs::path home = folder_in("HOME"); !home.empty())
        return home / ".local" / "share" / "railside";
    return Error{ErrorCode::missing, "--bench",
                 "There is no home folder to keep the bench in; name a folder with --bench."};
}

OptionSpec bench_option() {
    return {"--bench", "FOLDER",
            "The folder the bench is kept in. Not given: $RAILSIDE_BENCH, else railside in "
            "$XDG_DATA_HOME, else ~/.local/share/railside.",
            ""};
}

Result<fs::path> bench_folder(const Options& options) {
    if (const auto named = options.text("--bench")) {
        if (named->empty())
            return Error{ErrorCode::bad_text, "--bench", "--bench is empty. Accepted: a folder."};
        return fs::path(*named);
    }
    return default_bench_folder();
}

bool holds_bench(const fs::path& folder) {
    std::error_code error;
    return fs::exists(folder / "bench.db", error);
}

Result<Done> speak_as(const fs::path& folder) {
    constexpr std::size_t k_most_bytes = 4'000'000;
    const fs::path file = folder / "words.po";
    std::error_code none;
    if (!fs::exists(file, none))
        return Done{};
    const auto bytes = read_whole(file, k_most_bytes);
    if (!bytes)
        return bytes.error();
    auto catalogue = Catalogue::read({reinterpret_cast<const char*>(bytes->data()), bytes->size()},
                                     file.string());
    if (!catalogue)
        return catalogue.error();
    set_catalogue(std::make_shared<const Catalogue>(std::move(catalogue).value()));
    return Done{};
}

Result<BenchInUse> BenchInUse::open(const fs::path& folder) {
    // Words that cannot be used keep nobody from the bench.
    if (const auto spoken = speak_as(folder); !spoken)
        std::cerr << spoken.error().message << "\n";
    auto bench = Bench::open(folder, system_surroundings());
    if (!bench)
        return bench.error();
    BenchInUse held{fs::path()};
    held.bench_ = std::move(bench).value();
    return held;
}

Result<BenchInUse> BenchInUse::temporary() {
    std::error_code error;
    const fs::path base = fs::temp_directory_path(error);
    std::string name = (base / "railside-XXXXXX").string();
    if (error || ::mkdtemp(name.data()) == nullptr)
        return Error{ErrorCode::failed, "bench",
                     fmt::format("A temporary folder could not be made: {}.",
                                 error ? error.message() : system_reason(errno))};
    BenchInUse held{fs::path(name)};
    auto bench = Bench::open(name, system_surroundings());
    if (!bench)
        return bench.error();
    held.bench_ = std::move(bench).value();
    return held;
}

BenchInUse::BenchInUse(BenchInUse&& other) noexcept
    : bench_(std::move(other.bench_)), remove_(std::exchange(other.remove_, fs::path())) {}

BenchInUse::~BenchInUse() {
    bench_.reset();
    if (!remove_.empty()) {
        std::error_code ignored; // the system empties its temporary folder
        fs::remove_all(remove_, ignored);
    }
}

Result<std::string> job_named(Bench& bench, std::string_view name) {
    if (name == "demo")
        return load_demo_job(bench);
    const auto jobs = bench.jobs();
    if (!jobs)
        return jobs.error();
    for (const JobSummary& job : *jobs)
        if (job.job == name)
            return job.job;
    return Error{ErrorCode::not_found, "--job",
                 fmt::format("--job {}: this bench has no such job. Accepted: demo, or an id that "
                             "\"railside jobs\" lists.",
                             railside::quoted(name))};
}

Clock system_clock() {
    const auto now = std::chrono::system_clock::now();
    const std::time_t seconds = std::chrono::system_clock::to_time_t(now);
    std::tm local = {};
    ::localtime_r(&seconds, &local);
    return {std::chrono::duration_cast<std::chrono::milliseconds>(now.time_since_epoch()).count(),
            static_cast<int>(local.tm_gmtoff / 60)};
}

Result<Clock> clock_after(Bench& bench, std::string_view job) {
    constexpr std::int64_t k_minute_ms = 60'000;
    const auto found = bench.job(job);
    if (!found)
        return found.error();
    return Clock{found->touched_ms + k_minute_ms, 0};
}

ProgramSurroundings surroundings_with(std::function<Clock()> clock) {
    const auto lists = builtin_lists();
    std::error_code error;
    fs::path start = folder_in("HOME");
    if (start.empty())
        start = fs::current_path(error);
    return {std::move(clock), {lists.begin(), lists.end()}, start.string(), {}, false};
}

} // namespace railside
