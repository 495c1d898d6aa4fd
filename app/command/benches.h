// Which bench a command works on, and what the program on it is surrounded by.
#pragma once

#include "app/command/options.h"
#include "app/rooms/program.h"
#include "core/result.h"
#include "core/store/bench.h"

#include <filesystem>
#include <memory>
#include <optional>
#include <string>
#include <string_view>

namespace railside {

/// $RAILSIDE_BENCH, else railside in $XDG_DATA_HOME, else ~/.local/share/railside. Errors: missing
/// when none of these is set.
[[nodiscard]] Result<std::filesystem::path> default_bench_folder();

/// --bench
[[nodiscard]] OptionSpec bench_option();
/// The folder --bench names, else the default one.
[[nodiscard]] Result<std::filesystem::path> bench_folder(const Options& options);

/// Whether a bench was ever made there.
[[nodiscard]] bool holds_bench(const std::filesystem::path& folder);

/// From here on the program speaks by that folder's words.po, where there is one. Errors: those of
/// read_whole and Catalogue::read.
[[nodiscard]] Result<Done> speak_as(const std::filesystem::path& folder);

/// A bench held open for a command.
class BenchInUse {
  public:
    /// Errors: those of Bench::open.
    [[nodiscard]] static Result<BenchInUse> open(const std::filesystem::path& folder);
    /// An empty one, removed with this object. Errors: failed.
    [[nodiscard]] static Result<BenchInUse> temporary();

    BenchInUse(BenchInUse&& other) noexcept;
    BenchInUse& operator=(BenchInUse&& other) = delete;
    BenchInUse(const BenchInUse&) = delete;
    BenchInUse& operator=(const BenchInUse&) = delete;
    ~BenchInUse();

    [[nodiscard]] Bench& bench() { return *bench_; }
    [[nodiscard]] bool is_temporary() const { return !remove_.empty(); }

  private:
    explicit BenchInUse(std::filesystem::path remove) : remove_(std::move(remove)) {}
    std::unique_ptr<Bench> bench_;
    std::filesystem::path remove_;
};

/// The id of the job that --job names: an id, or "demo", which puts the demo job on the bench when
/// it is not there. Errors: not_found names the option; what the bench refuses.
[[nodiscard]] Result<std::string> job_named(Bench& bench, std::string_view name);

/// Local time.
[[nodiscard]] Clock system_clock();
/// A clock that stands a minute after the job was last touched, so that pictures of it are the same
/// on every day.
[[nodiscard]] Result<Clock> clock_after(Bench& bench, std::string_view job);

/// The lists that come with the program, the clock, the folder files are looked for in.
[[nodiscard]] ProgramSurroundings surroundings_with(std::function<Clock()> clock);

} // namespace railside
