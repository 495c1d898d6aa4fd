// A bench whose clock and chance are the test's own, and ways to look at its folder.
#pragma once

#include "core/store/bench.h"
#include "support/catch.h"

#include "pictures.h"

#include <filesystem>
#include <fstream>
#include <iostream>
#include <iterator>
#include <map>
#include <memory>
#include <random>
#include <string>

#include <rapidcheck.h>

#include <sys/resource.h>

#if defined(RAILSIDE_SANITIZED)
constexpr bool k_sanitized = true;
#else
constexpr bool k_sanitized = false;
#endif

/// A clock that goes on by one millisecond a call, from 2023-11-14.
inline railside::Surroundings surroundings(std::uint32_t seed = 1) {
    auto time = std::make_shared<std::int64_t>(1'700'000'000'000);
    auto chance = std::make_shared<std::mt19937>(seed);
    return {[time] { return (*time)++; },
            [chance] {
                std::array<std::uint8_t, 10> bits = {};
                for (std::uint8_t& byte : bits)
                    byte = static_cast<std::uint8_t>((*chance)());
                return bits;
            }};
}

inline std::unique_ptr<railside::Bench> open_bench(const std::filesystem::path& folder,
                                                   std::uint32_t seed = 1) {
    railside::Result<std::unique_ptr<railside::Bench>> bench =
        railside::Bench::open(folder, surroundings(seed));
    INFO((bench.ok() ? "" : bench.error().message));
    REQUIRE(bench.ok());
    return std::move(bench).value();
}

inline railside::Error refusal_to_open(const std::filesystem::path& folder) {
    railside::Result<std::unique_ptr<railside::Bench>> bench =
        railside::Bench::open(folder, surroundings());
    REQUIRE_FALSE(bench.ok());
    return bench.error();
}

inline std::string begin_job(railside::Bench& bench) {
    const railside::Result<railside::Entry> job =
        bench.append("", railside::EntryKind::job, {{"maker", "Orrinvale"}, {"model", "SA-260"}});
    INFO((job.ok() ? "" : job.error().message));
    REQUIRE(job.ok());
    return job->id;
}

/// A property whose every round waits for the disk: fewer rounds than the usual hundred.
template <class Property> bool holds_on_disk(const std::string& what, const Property& property) {
    rc::detail::TestMetadata about;
    about.id = what;
    about.description = what;
    rc::detail::TestParams rounds = rc::detail::configuration().testParams;
    rounds.maxSuccess = 25;
    const rc::detail::TestResult result = rc::detail::checkTestable(property, about, rounds);
    rc::detail::printResultMessage(result, std::cerr);
    std::cerr << '\n';
    return result.template is<rc::detail::SuccessResult>();
}

inline std::string contents(const std::filesystem::path& file) {
    std::ifstream in(file, std::ios::binary);
    return {std::istreambuf_iterator<char>(in), std::istreambuf_iterator<char>()};
}

/// Every file under a folder but the lock, by its relative name.
inline std::map<std::string, std::string> all_contents(const std::filesystem::path& folder) {
    std::map<std::string, std::string> files;
    for (const auto& entry : std::filesystem::recursive_directory_iterator(folder))
        if (entry.is_regular_file() && entry.path().filename() != "bench.lock")
            files[std::filesystem::relative(entry.path(), folder).string()] =
                contents(entry.path());
    return files;
}
