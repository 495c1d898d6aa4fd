#include "core/store/backup.h"

#include "support/catch.h"
#include "support/temp_folder.h"

#include "benches.h"

#include <sqlite3.h>

#include <algorithm>
#include <csignal>
#include <fstream>
#include <thread>

using namespace railside;
namespace fs = std::filesystem;

namespace {

bool says(const std::string& message, const std::string& part) {
    return message.find(part) != std::string::npos;
}

std::string fill(Bench& bench, unsigned photos) {
    const std::string job = begin_job(bench);
    for (unsigned i = 0; i < photos; ++i)
        REQUIRE(bench.add_photo(job, make_jpeg(busy(40, 30, i)), PhotoRecord{}).ok());
    RecordingRecord recording;
    recording.name = "left.csv";
    REQUIRE(bench.add_recording(job, bytes_of("1,2\n"), recording).ok());
    REQUIRE(bench.append_bench(EntryKind::drawer, drawer_body("BD139 x 4\n")).ok());
    return job;
}

} // namespace

TEST_CASE("backup: the whole bench comes back from it, photos, recordings and book",
          "[core][store]") {
    const TempFolder folder;
    std::vector<Entry> written;
    std::vector<Entry> book;
    std::string job;
    {
        const auto bench = open_bench(folder / "bench");
        job = fill(*bench, 3);
        written = bench->entries(job).value();
        book = bench->bench_entries().value();
        const Result<BackupReport> made = bench->backup(folder / "stick/backup");
        INFO((made.ok() ? "" : made.error().message));
        REQUIRE(made.ok());
        CHECK(made->jobs == 1);
        CHECK(made->entries == 6); // sheet, three photos, recording, drawer
        CHECK(made->files == 4);
        CHECK(made->copied == 4);
        CHECK(made->missing == 0);
        CHECK(made->bytes > 4);
        // It goes on working, and the backup is of its moment.
        REQUIRE(bench->append(job, EntryKind::note, {{"text", "after"}}).ok());
    }
    const auto kept = all_contents(folder / "stick/backup");
    const Result<BackupReport> restored =
        restore_backup(folder / "stick/backup", folder / "new/bench");
    INFO((restored.ok() ? "" : restored.error().message));
    REQUIRE(restored.ok());
    CHECK(restored->entries == 6);
    CHECK(restored->files == 4);
    CHECK(all_contents(folder / "stick/backup") == kept); // only read
    const auto bench = open_bench(folder / "new/bench", 5);
    CHECK(bench->entries(job).value() == written);
    CHECK(bench->bench_entries().value() == book);
    CHECK(bench->book()->drawer == "BD139 x 4\n");
    for (const Entry& entry : written)
        if (entry.body.contains("hash"))
            CHECK(bench->photo_bytes(entry.body["hash"].get<std::string>()).ok());
    CHECK(bench->jobs()->front().photos == 3);
    CHECK(bench->append(job, EntryKind::note, {{"text", "next day"}})->bench == written[0].bench);
}

TEST_CASE("backup: a second one to the same folder copies only what is new", "[core][store]") {
    const TempFolder folder;
    const auto bench = open_bench(folder / "bench");
    const std::string job = fill(*bench, 3);
    REQUIRE(bench->backup(folder / "backup").ok());
    REQUIRE(bench->add_photo(job, make_jpeg(busy(40, 30, 99)), PhotoRecord{}).ok());
    // One of the earlier ones has gone bad on the stick.
    const std::string hash = bench->entries(job)->at(1).body["hash"];
    std::ofstream(folder / "backup/vault" / hash.substr(0, 2) / hash, std::ios::binary) << "bad";
    const Result<BackupReport> again = bench->backup(folder / "backup");
    REQUIRE(again.ok());
    CHECK(again->entries == 7);
    CHECK(again->files == 5);
    CHECK(again->copied == 2);
    REQUIRE(restore_backup(folder / "backup", folder / "restored").ok());
    CHECK(open_bench(folder / "restored")->photo_bytes(hash).ok());
}

TEST_CASE("backup: it can be made while another thread writes, and is of one moment",
          "[core][store]") {
    const TempFolder folder;
    const auto bench = open_bench(folder / "bench");
    const std::string job = fill(*bench, 1);
    for (int i = 0; i < 40; ++i) // enough pages for several steps of the copy
        REQUIRE(
            bench
                ->append(job, EntryKind::note,
                         {{"text", std::string(19'000, 'x')}, {"fill", std::string(200'000, 'y')}})
                .ok());
    std::atomic<bool> stop = false;
    std::atomic<int> wrote = 0;
    std::thread writer([&] {
        while (!stop) {
            const bool fine = bench->append(job, EntryKind::note, {{"text", "meanwhile"}}).ok() &&
                              bench
                                  ->add_recording(job, bytes_of(std::to_string(wrote)),
                                                  [] {
                                                      RecordingRecord one;
                                                      one.name = "x";
                                                      return one;
                                                  }())
                                  .ok();
            wrote += fine ? 1 : 0;
        }
    });
    while (wrote < 3)
        std::this_thread::yield();
    const Result<BackupReport> made = bench->backup(folder / "backup");
    const int at_end = wrote;
    stop = true;
    writer.join();
    INFO((made.ok() ? "" : made.error().message));
    REQUIRE(made.ok());
    CHECK(made->missing == 0);
    CHECK(at_end >= 3);
    REQUIRE(restore_backup(folder / "backup", folder / "restored").ok());
    const auto restored = open_bench(folder / "restored");
    const std::vector<Entry> theirs = restored->entries(job).value();
    const std::vector<Entry> ours = bench->entries(job).value();
    REQUIRE(theirs.size() >= 43);
    REQUIRE(theirs.size() <= ours.size());
    CHECK(std::equal(theirs.begin(), theirs.end(), ours.begin())); // a beginning of it, no gaps
    for (const Entry& entry : theirs)
        if (entry.kind == EntryKind::recording)
            REQUIRE(restored->recording_bytes(entry.body["hash"].get<std::string>()).ok());
}

TEST_CASE("backup: a folder that holds something else is left alone", "[core][store]") {
    const TempFolder folder;
    const auto bench = open_bench(folder / "bench", 1);
    fill(*bench, 1);
    const auto refused = [&](const fs::path& to) {
        const auto before = all_contents(to);
        const Result<BackupReport> made = bench->backup(to);
        REQUIRE_FALSE(made.ok());
        CHECK(made.error().code == ErrorCode::refused);
        CHECK(says(made.error().message, "nothing was written"));
        CHECK(all_contents(to) == before);
    };
    fs::create_directory(folder / "photos");
    std::ofstream(folder / "photos/cat.jpg") << "cat";
    refused(folder / "photos");
    refused(folder / "bench");
    refused(folder.path()); // the bench lies in it
    fs::create_directory(folder / "bench/inside");
    refused(folder / "bench/inside");
    const auto other = open_bench(folder / "other", 2);
    fill(*other, 1);
    refused(folder / "other"); // another bench, in use
    REQUIRE(other->backup(folder / "others backup").ok());
    refused(folder / "others backup");
}

TEST_CASE("backup: the first one, cut off before its mark was whole, is begun again",
          "[core][store]") {
    const TempFolder folder;
    const auto bench = open_bench(folder / "bench");
    begin_job(*bench);
    fs::create_directory(folder / "stick");
    std::ofstream(folder / "stick/backup.json.part") << "{\"back";
    std::ofstream(folder / "stick/else") << "something";
    CHECK_FALSE(bench->backup(folder / "stick").ok());
    fs::remove(folder / "stick/else");
    REQUIRE(bench->backup(folder / "stick").ok());
    CHECK_FALSE(fs::exists(folder / "stick/backup.json.part"));
    CHECK(restore_backup(folder / "stick", folder / "again").ok());
}

TEST_CASE("backup: what is gone from the vault is counted and does not stop it", "[core][store]") {
    const TempFolder folder;
    const auto bench = open_bench(folder / "bench");
    const std::string job = fill(*bench, 2);
    const std::string hash = bench->entries(job)->at(1).body["hash"];
    fs::remove(folder / "bench/vault" / hash.substr(0, 2) / hash);
    const Result<BackupReport> made = bench->backup(folder / "backup");
    REQUIRE(made.ok());
    CHECK(made->missing == 1);
    CHECK(made->files == 2);
    CHECK(restore_backup(folder / "backup", folder / "restored")->missing == 1);
}

TEST_CASE("backup: only a finished, sound backup is restored, and only into an empty folder",
          "[core][store]") {
    const TempFolder folder;
    {
        const auto bench = open_bench(folder / "bench");
        fill(*bench, 2);
        REQUIRE(bench->backup(folder / "backup").ok());
    }
    const auto refused = [&](const fs::path& from, ErrorCode code) {
        const Result<BackupReport> restored = restore_backup(from, folder / "restored");
        REQUIRE_FALSE(restored.ok());
        INFO(restored.error().message);
        CHECK(restored.error().code == code);
        CHECK_FALSE(fs::exists(folder / "restored/bench.db"));
    };
    refused(folder / "nothing", ErrorCode::not_found);
    refused(folder / "bench", ErrorCode::not_found); // a bench, not a backup
    SECTION("one that was cut off has no bench.db yet") {
        fs::remove(folder / "backup/bench.db");
        refused(folder / "backup", ErrorCode::not_found);
    }
    SECTION("a journal that is not one") {
        std::ofstream(folder / "backup/bench.db", std::ios::binary) << "hello";
        refused(folder / "backup", ErrorCode::damaged);
    }
    SECTION("a truncated journal") {
        fs::resize_file(folder / "backup/bench.db", fs::file_size(folder / "backup/bench.db") / 2);
        refused(folder / "backup", ErrorCode::damaged);
    }
    SECTION("a trigger that is not the journal's own") {
        sqlite3* database = nullptr;
        REQUIRE(sqlite3_open((folder / "backup/bench.db").c_str(), &database) == SQLITE_OK);
        REQUIRE(sqlite3_exec(database, "CREATE TRIGGER t AFTER INSERT ON about BEGIN SELECT 1; END",
                             nullptr, nullptr, nullptr) == SQLITE_OK);
        sqlite3_close(database);
        refused(folder / "backup", ErrorCode::damaged);
    }
    SECTION("a folder with something in it, the backup itself, one inside it") {
        for (const fs::path& to : {folder / "bench", folder / "backup", folder / "backup/inside"})
            CHECK(restore_backup(folder / "backup", to).error().code == ErrorCode::refused);
    }
    SECTION("a photo that has gone bad is counted") {
        for (const auto& entry : fs::recursive_directory_iterator(folder / "backup/vault"))
            if (entry.is_regular_file()) {
                std::ofstream(entry.path(), std::ios::binary) << "bad";
                break;
            }
        CHECK(restore_backup(folder / "backup", folder / "restored")->missing == 1);
    }
}

TEST_CASE("backup: on a full disk it fails with that sentence and the earlier one stays good",
          "[core][store]") {
    const TempFolder folder;
    const auto bench = open_bench(folder / "bench");
    const std::string job = fill(*bench, 1);
    REQUIRE(bench->backup(folder / "backup").ok());
    RecordingRecord recording;
    recording.name = "big";
    REQUIRE(bench->add_recording(job, Bytes(900'000, std::byte{1}), recording).ok());
    {
        std::signal(SIGXFSZ, SIG_IGN);
        rlimit before = {};
        ::getrlimit(RLIMIT_FSIZE, &before);
        const rlimit small = {500'000, before.rlim_max};
        ::setrlimit(RLIMIT_FSIZE, &small);
        const Result<BackupReport> made = bench->backup(folder / "backup");
        ::setrlimit(RLIMIT_FSIZE, &before);
        std::signal(SIGXFSZ, SIG_DFL);
        REQUIRE_FALSE(made.ok());
        CHECK(says(made.error().message, "disk is full"));
    }
    CHECK(restore_backup(folder / "backup", folder / "restored")->entries == 4);
    CHECK(bench->backup(folder / "backup")->entries == 5);
}
