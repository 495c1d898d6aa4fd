// Kill it anywhere: what was acknowledged is there. RAILSIDE_LONG=1 in the environment makes more
// rounds.
#include "core/store/bench.h"

#include "core/store/sha256.h"
#include "support/catch.h"
#include "support/temp_folder.h"

#include "benches.h"

#include <chrono>
#include <csignal>
#include <cstdlib>
#include <thread>

#include <sys/wait.h>
#include <unistd.h>

using namespace railside;

namespace {

/// Each acknowledged entry as one line: its id, and for photos the hash after it.
void acknowledge(int pipe, const std::string& line) {
    const std::string text = line + "\n";
    if (::write(pipe, text.data(), text.size()) != static_cast<ssize_t>(text.size()))
        ::_exit(3);
}

[[noreturn]] void write_until_killed(const std::filesystem::path& folder, std::uint32_t round,
                                     int pipe) {
    const Result<std::unique_ptr<Bench>> opened = Bench::open(folder, surroundings(round + 1));
    if (!opened.ok())
        ::_exit(4);
    Bench& bench = **opened;
    const Result<std::vector<JobSummary>> jobs = bench.jobs();
    std::string job;
    if (jobs.ok() && !jobs->empty()) {
        job = jobs->front().job;
    } else {
        const Result<Entry> begun = bench.append("", EntryKind::job, {{"maker", "Orrinvale"}});
        if (!begun.ok())
            ::_exit(5);
        job = begun->id;
        acknowledge(pipe, job);
    }
    for (int i = 0;; ++i) {
        if (i % 5 == 4) {
            const Bytes jpeg = make_jpeg(busy(60, 40, round * 1000 + static_cast<unsigned>(i)));
            const Result<Entry> photo = bench.add_photo(job, jpeg, PhotoRecord{});
            if (!photo.ok())
                ::_exit(6);
            acknowledge(pipe, photo->id + " " + photo->body["hash"].get<std::string>());
            continue;
        }
        const Result<Entry> note = bench.append(
            job, EntryKind::note,
            {{"text", "note " + std::to_string(i)}, {"fill", std::string(i * 37 % 3000, 'x')}});
        if (!note.ok())
            ::_exit(7);
        acknowledge(pipe, note->id);
    }
}

} // namespace

TEST_CASE("kill: every acknowledged entry and photo is there after a kill at any moment",
          "[core][store]") {
    const bool is_long = std::getenv("RAILSIDE_LONG") != nullptr;
    const unsigned rounds = is_long ? 200 : 25;
    const auto seed =
        static_cast<unsigned>(std::chrono::steady_clock::now().time_since_epoch().count());
    INFO("seed " << seed);
    std::mt19937 chance(seed);
    const TempFolder folder;
    std::map<std::string, std::string> acknowledged; // id to hash, or to nothing
    std::size_t found_more = 0;
    for (unsigned round = 0; round < rounds; ++round) {
        int ends[2] = {};
        REQUIRE(::pipe(ends) == 0);
        const pid_t child = ::fork();
        REQUIRE(child >= 0);
        if (child == 0) {
            ::close(ends[0]);
            write_until_killed(folder.path(), round, ends[1]);
        }
        ::close(ends[1]);
        std::thread killer([child, wait = chance() % 60'000] {
            std::this_thread::sleep_for(std::chrono::microseconds(wait));
            ::kill(child, SIGKILL);
        });
        std::string said;
        char part[4096];
        for (ssize_t n = 0; (n = ::read(ends[0], part, sizeof part)) > 0;)
            said.append(part, static_cast<std::size_t>(n));
        killer.join();
        ::close(ends[0]);
        int status = 0;
        REQUIRE(::waitpid(child, &status, 0) == child);
        REQUIRE(WIFSIGNALED(status));
        for (std::size_t at = 0, end = 0; (end = said.find('\n', at)) != std::string::npos;
             at = end + 1) {
            const std::string line = said.substr(at, end - at);
            acknowledged[line.substr(0, 26)] = line.size() > 27 ? line.substr(27) : "";
        }

        const auto bench = open_bench(folder.path());
        std::map<std::string, Entry> there;
        const std::vector<JobSummary> jobs = bench->jobs().value();
        REQUIRE(jobs.size() <= 1);
        if (!jobs.empty())
            for (const Entry& entry : bench->entries(jobs.front().job).value()) {
                REQUIRE(check_entry(entry).ok());
                there[entry.id] = entry;
            }
        for (const auto& one : acknowledged) {
            REQUIRE(there.count(one.first) == 1);
            if (!one.second.empty()) {
                const Result<Bytes> bytes = bench->photo_bytes(one.second);
                REQUIRE(bytes.ok());
                REQUIRE(sha256_hex(*bytes) == one.second);
            }
        }
        // Nor is there an entry of a photo that is not in the vault, acknowledged or not.
        for (const auto& one : there)
            if (one.second.kind == EntryKind::photo)
                REQUIRE(bench->photo_bytes(one.second.body["hash"].get<std::string>()).ok());
        found_more += there.size() - acknowledged.size();
        for (const auto& one : there)
            acknowledged.emplace(one.first, "");
    }
    // Most rounds must have come as far as writing, or nothing was tried.
    CHECK(acknowledged.size() > rounds);
    CHECK(found_more <= rounds);
}
