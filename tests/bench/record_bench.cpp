// The record at its largest: a bench of 1,000 jobs and 20,000 photos from nothing to its first
// frame, one job opened, and words looked for in 10,000 jobs. The benches are made by
// tests/bench/run.sh with "railside generate"; their folders come in the environment.
#include "app/hosts/host.h"
#include "app/rooms/builtin_lists.h"
#include "app/rooms/program.h"
#include "core/store/bench.h"

#include <benchmark/benchmark.h>

#include <array>
#include <cstdlib>
#include <memory>
#include <stdexcept>
#include <string>

using namespace railside;

namespace {

std::string folder(const char* name) {
    const char* found = std::getenv(name);
    if (found == nullptr)
        throw std::runtime_error(std::string(name) + " must name a bench's folder");
    return found;
}

std::unique_ptr<Bench> open(const std::string& at) {
    auto bench = Bench::open(at, system_surroundings());
    if (!bench)
        throw std::runtime_error(bench.error().message);
    return std::move(*bench);
}

std::unique_ptr<RailsideProgram> program_of(Bench& bench) {
    ProgramSurroundings around;
    around.clock = [] { return Clock{system_surroundings().now_ms(), 0}; };
    around.lists.assign(builtin_lists().begin(), builtin_lists().end());
    return std::make_unique<RailsideProgram>(bench, std::move(around));
}

std::unique_ptr<Headless> first_frame(RailsideProgram& program) {
    auto host = Headless::create(program, {1280, 800, 5.9f});
    if (!host)
        throw std::runtime_error(host.error().message);
    (*host)->settle(1);
    return std::move(*host);
}

/// Bench opened, shelf read, fonts made, one frame of 1280x800 drawn in memory.
void open_to_first_frame(benchmark::State& state) {
    const std::string at = folder("RAILSIDE_BENCH_1000");
    for ([[maybe_unused]] auto _ : state) {
        const auto bench = open(at);
        const auto program = program_of(*bench);
        const auto host = first_frame(*program);
        benchmark::DoNotOptimize(host->vertices());
        state.PauseTiming();
        if (program->shown().shelf.cards.size() < 1000)
            state.SkipWithError("the shelf does not show 1,000 jobs");
        state.ResumeTiming();
    }
}
BENCHMARK(open_to_first_frame)->Unit(benchmark::kMillisecond);

/// A job of that bench opened from the shelf, to its first frame.
void open_a_job(benchmark::State& state) {
    const auto bench = open(folder("RAILSIDE_BENCH_1000"));
    const auto program = program_of(*bench);
    const auto host = first_frame(*program);
    const auto jobs = bench->jobs();
    std::size_t next = 0;
    for ([[maybe_unused]] auto _ : state) {
        const auto& job = (*jobs)[next++ % jobs->size()].job;
        if (!program->open_job(job).ok())
            state.SkipWithError("a job cannot be opened");
        host->settle(1);
    }
}
BENCHMARK(open_a_job)->Unit(benchmark::kMillisecond);

/// Words of every kind, each answered with its fifty best jobs.
void search_10000(benchmark::State& state) {
    const auto bench = open(folder("RAILSIDE_BENCH_10000"));
    constexpr std::array<std::string_view, 6> words = {"hum",     "2SC5200", "hot idle",
                                                       "crackle", "washer",  "SA"};
    std::size_t next = 0;
    for ([[maybe_unused]] auto _ : state) {
        const auto found = bench->search(words[next++ % words.size()], 50);
        if (!found.ok())
            state.SkipWithError("the search was refused");
        benchmark::DoNotOptimize(found);
    }
}
BENCHMARK(search_10000)->Unit(benchmark::kMillisecond);

} // namespace

BENCHMARK_MAIN();
