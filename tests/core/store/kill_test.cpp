// Kill it anywhere: what was acknowledged is there, and no job file or backup is half a one. The
// short form runs with the tests; `store_tests "[torture]"` is the long one, of 300 kills and more.
#include "core/store/bench.h"

#include "core/store/backup.h"
#include "core/store/job_file.h"
#include "core/store/sha256.h"
#include "support/catch.h"
#include "support/temp_folder.h"

#include "benches.h"

#include <algorithm>
#include <chrono>
#include <csignal>
#include <cstdio>
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

/// The child could not do what it was to.
[[noreturn]] void end(int status, const Error& error) {
    static_cast<void>(std::fprintf(stderr, "could not go on: %s\n", error.message.c_str()));
    ::_exit(status);
}

std::filesystem::path job_file(const std::filesystem::path& folder) {
    return folder.parent_path() / "ours.railjob";
}

[[noreturn]] void write_until_killed(const std::filesystem::path& folder, std::uint32_t round,
                                     const std::string& theirs, int pipe) {
    const Result<std::unique_ptr<Bench>> opened = Bench::open(folder, surroundings(round + 1));
    if (!opened.ok())
        end(4, opened.error());
    Bench& bench = **opened;
    const Result<std::vector<JobSummary>> jobs = bench.jobs();
    std::string job;
    if (jobs.ok())
        for (const JobSummary& one : *jobs)
            if (one.job != theirs)
                job = one.job;
    if (job.empty()) {
        const Result<Entry> begun = bench.append("", EntryKind::job, {{"maker", "Orrinvale"}});
        if (!begun.ok())
            end(5, begun.error());
        job = begun->id;
        acknowledge(pipe, job);
    }
    for (int i = 0;; ++i) {
        const unsigned seed = round * 1000 + static_cast<unsigned>(i);
        switch (i % 8) {
        case 3: {
            const Result<Entry> photo =
                bench.add_photo(job, make_jpeg(busy(60, 40, seed)), PhotoRecord{});
            if (!photo.ok())
                end(6, photo.error());
            acknowledge(pipe, photo->id + " " + photo->body["hash"].get<std::string>());
            break;
        }
        case 4: {
            RecordingRecord record;
            record.name = "left.csv";
            const Result<Entry> recording =
                bench.add_recording(job, Bytes(20'000, static_cast<std::byte>(seed)), record);
            if (!recording.ok())
                end(8, recording.error());
            acknowledge(pipe, recording->id + " " + recording->body["hash"].get<std::string>());
            break;
        }
        case 5:
            if (const auto written = bench.export_job(job, job_file(folder)); !written.ok())
                end(9, written.error());
            acknowledge(pipe, "exported");
            break;
        case 6: {
            // A job of another bench, the same one again and again.
            const Result<JobFileReport> imported = bench.import_job(folder / "theirs.railjob");
            if (!imported.ok())
                end(10, imported.error());
            acknowledge(pipe, "imported");
            break;
        }
        case 7:
            if (const auto copied = bench.backup(folder.parent_path() / "backup"); !copied.ok())
                end(11, copied.error());
            acknowledge(pipe, "backed up");
            break;
        default: {
            const Result<Entry> note = bench.append(
                job, EntryKind::note,
                {{"text", "note " + std::to_string(i)}, {"fill", std::string(i * 37 % 3000, 'x')}});
            if (!note.ok())
                end(7, note.error());
            acknowledge(pipe, note->id);
        }
        }
    }
}

/// What is not lost by a kill: all rounds of them.
void kill_and_look(unsigned rounds) {
    const auto seed =
        static_cast<unsigned>(std::chrono::steady_clock::now().time_since_epoch().count());
    INFO("seed " << seed);
    std::mt19937 chance(seed);
    const TempFolder place;
    const std::filesystem::path folder = place / "bench";
    std::filesystem::create_directory(folder);
    std::string theirs;
    std::vector<Entry> their_entries;
    {
        const auto other = open_bench(place / "other", 77);
        theirs = begin_job(*other);
        for (unsigned i = 0; i < 3; ++i)
            REQUIRE(other->add_photo(theirs, make_jpeg(busy(50, 40, 900 + i)), PhotoRecord{}).ok());
        REQUIRE(other->export_job(theirs, folder / "theirs.railjob").ok());
        their_entries = other->entries(theirs).value();
    }
    std::map<std::string, std::string> acknowledged; // id to hash, or to nothing
    std::size_t found_more = 0;
    bool exported = false;
    bool imported = false;
    bool backed_up = false;
    for (unsigned round = 0; round < rounds; ++round) {
        int ends[2] = {};
        REQUIRE(::pipe(ends) == 0);
        const pid_t child = ::fork();
        REQUIRE(child >= 0);
        if (child == 0) {
            ::close(ends[0]);
            write_until_killed(folder, round, theirs, ends[1]);
        }
        ::close(ends[1]);
        // After so many words of the child, and then at any moment of what it does next: so the
        // rounds are spread over all it does on a slow machine as well.
        const auto words = static_cast<std::ptrdiff_t>(chance() % 12);
        const std::chrono::microseconds wait(chance() % 40'000);
        bool killed = false;
        std::string said;
        char part[4096];
        while (true) {
            if (!killed && std::count(said.begin(), said.end(), '\n') >= words) {
                std::this_thread::sleep_for(wait);
                REQUIRE(::kill(child, SIGKILL) == 0);
                killed = true;
            }
            const ssize_t n = ::read(ends[0], part, sizeof part);
            if (n <= 0)
                break;
            said.append(part, static_cast<std::size_t>(n));
        }
        ::close(ends[0]);
        int status = 0;
        REQUIRE(::waitpid(child, &status, 0) == child);
        INFO("exit status " << (WIFEXITED(status) ? WEXITSTATUS(status) : -1));
        REQUIRE(WIFSIGNALED(status));
        for (std::size_t at = 0, end = 0; (end = said.find('\n', at)) != std::string::npos;
             at = end + 1) {
            const std::string line = said.substr(at, end - at);
            exported = exported || line == "exported";
            imported = imported || line == "imported";
            backed_up = backed_up || line == "backed up";
            if (line.size() >= 26)
                acknowledged[line.substr(0, 26)] = line.size() > 27 ? line.substr(27) : "";
        }

        const auto bench = open_bench(folder);
        std::map<std::string, Entry> there;
        std::string own;
        for (const JobSummary& job : bench->jobs().value())
            if (job.job != theirs) {
                REQUIRE(own.empty());
                own = job.job;
            }
        if (!own.empty())
            for (const Entry& entry : bench->entries(own).value()) {
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
            if (one.second.body.contains("hash"))
                REQUIRE(bench->photo_bytes(one.second.body["hash"].get<std::string>()).ok());
        // Another's job is here whole, with its photos, or not at all; once acknowledged it is.
        const std::vector<Entry> carried = bench->entries(theirs).value();
        REQUIRE((carried == their_entries || (carried.empty() && !imported)));
        for (const Entry& entry : carried)
            if (entry.kind == EntryKind::photo)
                REQUIRE(bench->photo_bytes(entry.body["hash"].get<std::string>()).ok());
        // A job file is a whole one, or is not there and never was.
        Result<JobFile> file = JobFile::open(job_file(folder));
        REQUIRE((file.ok() || (!exported && file.error().code == ErrorCode::not_found)));
        if (file.ok())
            for (const Entry& entry : file->entries())
                REQUIRE(there.at(entry.id) == entry);
        // So is a backup.
        std::filesystem::remove_all(place / "restored");
        const Result<BackupReport> restored = restore_backup(place / "backup", place / "restored");
        REQUIRE((restored.ok() || (!backed_up && restored.error().code == ErrorCode::not_found)));
        if (restored.ok()) {
            REQUIRE(restored->missing == 0);
            backed_up = true;
        }
        found_more += there.size() - acknowledged.size();
        for (const auto& one : there)
            acknowledged.emplace(one.first, "");
    }
    // Most rounds must have come as far as writing, or nothing was tried.
    CHECK(acknowledged.size() > rounds);
    CHECK(found_more <= rounds);
    CHECK((exported && imported && backed_up));
}

} // namespace

TEST_CASE("kill: every acknowledged entry and photo is there after a kill at any moment, and every "
          "job file and backup is whole",
          "[core][store]") {
    kill_and_look(15);
}

TEST_CASE("kill: so it is over three hundred kills", "[.slow][torture][store]") {
    kill_and_look(300);
}
