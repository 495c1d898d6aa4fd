#include "core/store/job_file.h"

#include "core/store/disk.h"
#include "core/store/sha256.h"
#include "support/catch.h"
#include "support/temp_folder.h"

#include "benches.h"

#include <rapidcheck.h>
#include <sqlite3.h>

#include <csignal>
#include <set>

#include <sys/stat.h>
#include <unistd.h>

using namespace railside;
namespace fs = std::filesystem;
using Json = nlohmann::json;

namespace {

bool says(const std::string& message, const std::string& part) {
    return message.find(part) != std::string::npos;
}

/// SQL on a file from outside, as someone who tampers with it would.
void tamper(const fs::path& file, const std::string& sql) {
    sqlite3* database = nullptr;
    REQUIRE(sqlite3_open(file.c_str(), &database) == SQLITE_OK);
    sqlite3_db_config(database, SQLITE_DBCONFIG_DEFENSIVE, 0, nullptr);
    char* wrong = nullptr;
    const int code = sqlite3_exec(database, sql.c_str(), nullptr, nullptr, &wrong);
    INFO(sql << ": " << (wrong != nullptr ? wrong : ""));
    CHECK(code == SQLITE_OK);
    sqlite3_free(wrong);
    REQUIRE(sqlite3_close(database) == SQLITE_OK);
}

void overwrite(const fs::path& file, std::uintmax_t at, std::string_view bytes) {
    std::fstream stream(file, std::ios::binary | std::ios::in | std::ios::out);
    stream.seekp(static_cast<std::streamoff>(at));
    stream.write(bytes.data(), static_cast<std::streamsize>(bytes.size()));
}

void write_file(const fs::path& file, const std::string& bytes) {
    std::ofstream(file, std::ios::binary) << bytes;
}

/// A job with a bit of everything: sheet, note, photo, recording, an entry of a later version.
struct Carried {
    std::string job;
    std::string photo;
    std::string recording;
    Bytes jpeg;
    Bytes capture;
};
Carried fill_bench(Bench& bench, unsigned seed = 1) {
    Carried made;
    made.job = begin_job(bench);
    REQUIRE(bench.append(made.job, EntryKind::note, {{"text", "hum on the left"}}).ok());
    made.jpeg = make_jpeg(busy(60, 40, seed));
    made.photo = bench.add_photo(made.job, made.jpeg, PhotoRecord{})->body["hash"];
    made.capture = bytes_of("time,volt\n0,1\n" + std::to_string(seed));
    RecordingRecord recording;
    recording.name = "../../../left.csv"; // a name is only a name
    made.recording = bench.add_recording(made.job, made.capture, recording)->body["hash"];
    return made;
}

int part_files(const fs::path& folder) {
    int found = 0;
    for (const auto& entry : fs::recursive_directory_iterator(folder))
        found += entry.path().filename().string().find(".part") != std::string::npos ? 1 : 0;
    return found;
}

/// No file of this process grows past `bytes` while this lives: to a program it looks like a full
/// disk.
class FullDisk {
  public:
    explicit FullDisk(rlim_t bytes) {
        std::signal(SIGXFSZ, SIG_IGN);
        ::getrlimit(RLIMIT_FSIZE, &before_);
        const rlimit small = {bytes, before_.rlim_max};
        ::setrlimit(RLIMIT_FSIZE, &small);
    }
    FullDisk(const FullDisk&) = delete;
    FullDisk& operator=(const FullDisk&) = delete;
    ~FullDisk() {
        ::setrlimit(RLIMIT_FSIZE, &before_);
        std::signal(SIGXFSZ, SIG_DFL);
    }

  private:
    rlimit before_ = {};
};

} // namespace

TEST_CASE("job file: what is exported comes back whole on another bench", "[core][store]") {
    const TempFolder folder;
    const auto one = open_bench(folder / "one", 1);
    const auto two = open_bench(folder / "two", 2);
    const Carried carried = fill_bench(*one);
    const Result<JobFileReport> out = one->export_job(carried.job, folder / "a b%#?.railjob");
    INFO((out.ok() ? "" : out.error().message));
    REQUIRE(out.ok());
    CHECK(out->entries == 4);
    CHECK(out->files == 2);
    CHECK(out->missing == 0);
    CHECK(part_files(folder.path()) == 0);
    const Result<JobFileReport> in = two->import_job(folder / "a b%#?.railjob");
    INFO((in.ok() ? "" : in.error().message));
    REQUIRE(in.ok());
    CHECK(in->job == carried.job);
    CHECK(in->new_entries == 4);
    CHECK(in->files == 2);
    CHECK(in->missing == 0);
    CHECK(two->entries(carried.job).value() == one->entries(carried.job).value());
    CHECK(two->photo_bytes(carried.photo).value() == carried.jpeg);
    CHECK(two->recording_bytes(carried.recording).value() == carried.capture);
    CHECK(two->jobs()->front().photos == 1);
    CHECK(two->search("hum", 10)->size() == 1);
    // The recording's name led nowhere.
    CHECK_FALSE(fs::exists(folder.path().parent_path() / "left.csv"));
    CHECK_FALSE(fs::exists(folder / "left.csv"));
}

TEST_CASE("job file: the file is one file, of the form job_file.md gives", "[core][store]") {
    const TempFolder folder;
    const auto bench = open_bench(folder / "bench");
    const Carried carried = fill_bench(*bench);
    const fs::path file = folder / "x.railjob";
    REQUIRE(bench->export_job(carried.job, file).ok());
    const std::string bytes = contents(file);
    CHECK(bytes.substr(0, 15) == "SQLite format 3");
    CHECK(bytes.substr(68, 4) == "Rsjf");
    CHECK(bytes.substr(60, 4) == std::string("\0\0\0\1", 4));
    CHECK(bytes[18] == 1); // no write-ahead log
    for (const char* ending : {"-journal", "-wal", "-shm", ".part"})
        CHECK_FALSE(fs::exists(file.string() + ending));
    // Reading it leaves nothing beside it and changes nothing in it, also where nothing may be
    // written.
    fs::permissions(file, fs::perms::owner_read);
    CHECK(JobFile::open(file).ok());
    CHECK(contents(file) == bytes);
    CHECK(std::distance(fs::directory_iterator(folder.path()), fs::directory_iterator()) == 2);
}

TEST_CASE("job file: an export replaces a job file of that name and nothing else",
          "[core][store]") {
    const TempFolder folder;
    const auto bench = open_bench(folder / "bench");
    const Carried carried = fill_bench(*bench);
    const fs::path file = folder / "x.railjob";
    REQUIRE(bench->export_job(carried.job, file).ok());
    REQUIRE(bench->append(carried.job, EntryKind::note, {{"text", "more"}}).ok());
    CHECK(bench->export_job(carried.job, file)->entries == 5);
    write_file(folder / "letter.txt", "dear client");
    const Result<JobFileReport> refused = bench->export_job(carried.job, folder / "letter.txt");
    REQUIRE_FALSE(refused.ok());
    CHECK(refused.error().code == ErrorCode::refused);
    CHECK(says(refused.error().message, "is not a job file"));
    CHECK(contents(folder / "letter.txt") == "dear client");
    CHECK_FALSE(bench->export_job(carried.job, folder / "bench").ok()); // a folder
    CHECK_FALSE(bench->export_job(carried.job, folder / "bench/bench.db").ok());
    CHECK_FALSE(bench->export_job(carried.job, folder / "no/such/folder/x").ok());
    CHECK(bench->export_job("nonsense", file).error().code == ErrorCode::not_found);
    CHECK(bench->export_job(k_bench_book, file).error().code == ErrorCode::not_found);
    CHECK(bench->entries(carried.job)->size() == 5);
}

TEST_CASE("job file: an original that is gone is left out, counted, and may come from elsewhere",
          "[core][store]") {
    const TempFolder folder;
    const auto one = open_bench(folder / "one", 1);
    const auto two = open_bench(folder / "two", 2);
    const Carried carried = fill_bench(*one);
    REQUIRE(one->export_job(carried.job, folder / "whole.railjob").ok());
    fs::remove(folder / "one/vault" / carried.photo.substr(0, 2) / carried.photo);
    const Result<JobFileReport> out = one->export_job(carried.job, folder / "x.railjob");
    REQUIRE(out.ok());
    CHECK(out->files == 1);
    CHECK(out->missing == 1);
    const Result<JobFileReport> in = two->import_job(folder / "x.railjob");
    REQUIRE(in.ok());
    CHECK(in->new_entries == 4);
    CHECK(in->missing == 1);
    CHECK_FALSE(two->photo_bytes(carried.photo).ok());
    const Result<JobFileReport> again = two->import_job(folder / "whole.railjob");
    CHECK(again->new_entries == 0);
    CHECK(again->missing == 0);
    CHECK(two->photo_bytes(carried.photo).value() == carried.jpeg);
}

TEST_CASE("job file: a row that is damaged on this disk does not keep the rest from travelling",
          "[core][store]") {
    const TempFolder folder;
    Carried carried;
    {
        const auto bench = open_bench(folder / "bench");
        carried = fill_bench(*bench);
    }
    tamper(folder / "bench/bench.db",
           "INSERT INTO entry(id, job, time_ms, bench, kind, body) SELECT "
           "'01HZZZZZZZ0000000000000000', job, 1, bench, 'note', '{bad' FROM entry LIMIT 1");
    const auto bench = open_bench(folder / "bench");
    CHECK(bench->entries(carried.job)->size() == 5);
    const Result<JobFileReport> out = bench->export_job(carried.job, folder / "x.railjob");
    INFO((out.ok() ? "" : out.error().message));
    REQUIRE(out.ok());
    CHECK(out->entries == 4);
    CHECK(out->left_out == 1);
}

TEST_CASE("job file: importing is the union: idempotent, commutative, associative",
          "[core][store]") {
    // Three benches share a beginning and then write on their own; their files reach a fourth in
    // any order, any number of times, and by way of each other.
    CHECK(holds_on_disk("random histories", [] {
        const TempFolder folder;
        std::vector<std::unique_ptr<Bench>> benches;
        for (std::uint32_t i = 0; i < 3; ++i)
            benches.push_back(open_bench(folder / ("bench" + std::to_string(i)), i + 1));
        const Carried carried = fill_bench(*benches[0]);
        const std::string& job = carried.job;
        const fs::path begun = folder / "begun.railjob";
        REQUIRE(benches[0]->export_job(job, begun).ok());
        for (std::size_t i = 1; i < 3; ++i)
            REQUIRE(benches[i]->import_job(begun).ok());
        std::vector<fs::path> files;
        for (std::size_t i = 0; i < 3; ++i) {
            Bench& bench = *benches[i];
            for (int n = *rc::gen::inRange(0, 4); n > 0; --n) {
                const std::vector<Entry> here = bench.entries(job).value();
                const std::string some = here[*rc::gen::inRange<std::size_t>(0, here.size())].id;
                switch (*rc::gen::inRange(0, 4)) {
                case 0:
                    REQUIRE(bench
                                .append(job, EntryKind::strike,
                                        strike_body(some, *rc::gen::element(Standing::struck,
                                                                            Standing::valid)))
                                .ok());
                    break;
                case 1:
                    REQUIRE(
                        bench.append(job, EntryKind::job, {{"spent", *rc::gen::inRange(0, 100)}})
                            .ok());
                    break;
                case 2: {
                    RecordingRecord recording;
                    recording.name = "x";
                    REQUIRE(bench
                                .add_recording(job,
                                               bytes_of(std::to_string(*rc::gen::inRange(0, 5))),
                                               recording)
                                .ok());
                    break;
                }
                default:
                    REQUIRE(bench.append(job, EntryKind::note, {{"text", "x"}}).ok());
                }
            }
            files.push_back(folder / (std::to_string(i) + ".railjob"));
            REQUIRE(bench.export_job(job, files.back()).ok());
        }
        const auto take = [&](Bench& bench, std::size_t file) {
            const Result<JobFileReport> taken = bench.import_job(files[file]);
            INFO((taken.ok() ? "" : taken.error().message));
            REQUIRE(taken.ok());
        };
        // (0 + 1) + 2, and 2 + 1 + 0 with each taken twice.
        const auto forth = open_bench(folder / "forth", 11);
        const auto back = open_bench(folder / "back", 12);
        for (std::size_t i = 0; i < 3; ++i) {
            take(*forth, i);
            take(*back, 2 - i);
            take(*back, 2 - i);
        }
        // 0 + (1 + 2): by way of a bench that has merged the other two.
        take(*benches[1], 2);
        const fs::path both = folder / "both.railjob";
        REQUIRE(benches[1]->export_job(job, both).ok());
        take(*benches[0], 0); // its own: changes nothing
        REQUIRE(benches[0]->import_job(both).ok());
        std::set<std::string> ids;
        for (std::size_t i = 0; i < 3; ++i) {
            Result<JobFile> file = JobFile::open(files[i]);
            for (const Entry& entry : file->entries())
                ids.insert(entry.id);
        }
        const std::vector<Entry> all = forth->entries(job).value();
        RC_ASSERT(all.size() == ids.size());
        RC_ASSERT(back->entries(job).value() == all);
        RC_ASSERT(benches[0]->entries(job).value() == all);
        for (const NamedFile& file : named_files(all)) {
            RC_ASSERT(forth->recording_bytes(file.hash).ok());
            RC_ASSERT(forth->recording_bytes(file.hash).value() ==
                      benches[0]->recording_bytes(file.hash).value());
        }
        RC_ASSERT(forth->jobs()->front().entries == static_cast<int>(all.size()));
    }));
}

TEST_CASE("job file: a hostile file is refused and changes nothing", "[core][store]") {
    const TempFolder folder;
    const auto bench = open_bench(folder / "bench", 1);
    const auto other = open_bench(folder / "other", 2);
    fill_bench(*bench, 7);
    const Carried carried = fill_bench(*other, 8);
    const fs::path good = folder / "good.railjob";
    const fs::path file = folder / "hostile.railjob";
    REQUIRE(other->export_job(carried.job, good).ok());
    const auto before = all_contents(folder / "bench");
    const std::string whole = contents(good);
    /// Refused, with these words, and the bench is byte for byte as it was.
    const auto refused = [&](const std::string& words) {
        const Result<JobFileReport> report = bench->import_job(file);
        INFO(words << (report.ok() ? " was taken in" : ": " + report.error().message));
        REQUIRE_FALSE(report.ok());
        CHECK(says(report.error().message, words));
        CHECK(says(report.error().message, "Nothing was taken from it."));
        CHECK(all_contents(folder / "bench") == before);
        for (const char* ending : {"-journal", "-wal", "-shm"})
            CHECK_FALSE(fs::exists(file.string() + ending));
    };
    const auto tampered = [&](const std::string& sql, const std::string& words) {
        write_file(file, whole);
        tamper(file, sql);
        for (const char* ending : {"-journal", "-wal", "-shm"})
            fs::remove(file.string() + ending);
        refused(words);
    };

    SECTION("not SQLite, empty, or another kind of SQLite file") {
        for (const std::string& bytes :
             {std::string(), std::string("hello"), std::string(5000, '\0'), whole.substr(0, 99)}) {
            write_file(file, bytes);
            refused("is not a job file");
        }
        fs::copy_file(folder / "bench/bench.db", file, fs::copy_options::overwrite_existing);
        refused("is not a job file");
        fs::remove(file);
        fs::create_directory(file);
        refused("is not a file");
        fs::remove(file);
        REQUIRE(::mkfifo(file.c_str(), 0600) == 0); // would wait for ever
        refused("is not a file");
        fs::remove(file);
        CHECK(bench->import_job(file).error().code == ErrorCode::not_found);
    }
    SECTION("truncated at any place") {
        const std::size_t page = 4096;
        for (std::size_t at = page; at < whole.size(); at += page / 2 + 1) {
            write_file(file, whole.substr(0, at));
            refused("");
        }
    }
    SECTION("a byte changed anywhere is found or changes nothing that counts") {
        // Unused bytes of a page may be anything; what is taken in must then be the same.
        const auto bench_2 = open_bench(folder / "bench 2", 3);
        const std::vector<Entry> expected = other->entries(carried.job).value();
        std::mt19937 chance(20'231'114);
        for (int i = 0; i < 150; ++i) {
            std::string bytes = whole;
            bytes[chance() % bytes.size()] ^= static_cast<char>(1U << chance() % 8U);
            write_file(file, bytes);
            Result<JobFile> opened = JobFile::open(file);
            if (opened.ok()) {
                CHECK(opened->job() == carried.job);
                for (const NamedFile& named : opened->files())
                    CHECK(opened->bytes(named.hash).ok());
            }
        }
    }
    SECTION("written by a newer program") { tampered("PRAGMA user_version=2", "newer Railside"); }
    SECTION("part of it in a write-ahead log") {
        tampered("PRAGMA journal_mode=WAL", "part of it may lie in another file");
    }
    SECTION("another schema: triggers, views, tables, columns, indexes") {
        for (const char* sql :
             {"CREATE TRIGGER t AFTER INSERT ON entry BEGIN SELECT 1; END",
              "CREATE VIEW v AS SELECT * FROM entry", "CREATE TABLE extra(x)",
              "CREATE INDEX i ON entry(id)", "DROP TABLE file",
              "ALTER TABLE file ADD COLUMN x TEXT", "ALTER TABLE entry RENAME COLUMN body TO text",
              "DROP TABLE file; CREATE VIEW file AS SELECT 'x' AS hash, x'00' AS bytes",
              "DROP TABLE entry; CREATE VIRTUAL TABLE entry USING fts5(id, job)",
              "DROP TABLE file; CREATE TABLE file(hash TEXT NOT NULL, bytes BLOB NOT NULL)",
              "PRAGMA writable_schema=ON; UPDATE sqlite_schema SET sql = sql || ' '",
              "PRAGMA writable_schema=ON; INSERT INTO sqlite_schema VALUES('trigger','t','entry',0,"
              "'CREATE TRIGGER t AFTER INSERT ON entry BEGIN SELECT 1; END')"})
            tampered(sql, "");
        // A view that never ends would be felt if it ran.
        tampered(
            "DROP TABLE entry; CREATE VIEW entry AS WITH RECURSIVE c(id) AS (SELECT 1 UNION ALL "
            "SELECT id + 1 FROM c) SELECT id, id AS job, id AS time_ms, id AS bench, id AS "
            "kind, id AS body FROM c",
            "tables of a job file");
        tampered("PRAGMA writable_schema=ON; UPDATE sqlite_schema SET sql = 'nonsense'", "");
    }
    SECTION("no job, two jobs, or entries of another job") {
        tampered("DELETE FROM about", "does not say which job");
        tampered("UPDATE about SET value = '" + std::string(k_bench_book) + "'",
                 "does not say which job");
        tampered("UPDATE about SET value = '../../etc'", "does not say which job");
        tampered("UPDATE entry SET job = '01HF7YAT000000000000000000' WHERE kind = 'note'",
                 "entries of another job");
        tampered("UPDATE entry SET kind = 'note' WHERE kind = 'job'", "no sheet");
        tampered("DELETE FROM entry", "no sheet");
    }
    SECTION("entries that are none") {
        tampered("UPDATE entry SET body = 'hello'", "must be an object");
        tampered("UPDATE entry SET body = '[1]'", "must be an object");
        tampered("UPDATE entry SET id = 'x' WHERE kind = 'note'", "an entry that is not one");
        tampered("UPDATE entry SET time_ms = -1 WHERE kind = 'note'", "an entry that is not one");
        tampered("UPDATE entry SET bench = '' WHERE kind = 'note'", "an entry that is not one");
        tampered("UPDATE entry SET id = '7' || substr(id, 2) WHERE kind = 'note'", "far future");
        tampered("INSERT INTO entry SELECT * FROM entry WHERE kind = 'note'",
                 "two entries of one id");
        // Nested deeper than a parser's own stack would bear.
        tampered(
            "UPDATE entry SET body = '{\"text\":' || replace(hex(zeroblob(200000)), '00', '[') "
            "|| '}' WHERE kind = 'note'",
            "an entry that is not one");
        tampered(
            "UPDATE entry SET body = '{\"text\":\"' || hex(zeroblob(600000)) || '\"}' WHERE kind "
            "= 'note'",
            "an entry that is not one");
        tampered("UPDATE entry SET body = CAST(x'7B2274657874223A22FF227D' AS TEXT) WHERE kind = "
                 "'note'",
                 "an entry that is not one");
    }
    SECTION("bytes that are not those of their hash, of no entry, or not a picture") {
        tampered("UPDATE file SET bytes = CAST(x'00' || substr(bytes, 2) AS BLOB)",
                 "whose bytes have changed");
        tampered("UPDATE file SET bytes = zeroblob(1)", "whose bytes have changed");
        tampered("UPDATE file SET hash = '" + std::string(64, 'a') + "'", "that no entry names");
        tampered("UPDATE file SET hash = '../../../../etc/passwd'", "without its name");
        tampered("INSERT INTO file SELECT * FROM file", "two photos or recordings of one name");
        // An entry that says a photo is something else than its bytes are.
        tampered("UPDATE entry SET body = replace(body, '\"width\":60', '\"width\":61')",
                 "not what its entry says");
        tampered("UPDATE entry SET body = replace(body, '\"jpeg\"', '\"png\"')",
                 "not what its entry says");
        const Bytes script = bytes_of("#!/bin/sh\necho not a picture");
        const std::string hash = sha256_hex(script);
        tampered("UPDATE entry SET body = replace(replace(body, '" + carried.photo + "', '" + hash +
                     "'), '\"bytes\":" + std::to_string(carried.jpeg.size()) + "', '\"bytes\":" +
                     std::to_string(script.size()) + "'); UPDATE file SET hash = '" + hash +
                     "', bytes = CAST('#!/bin/sh\necho not a picture' AS BLOB) WHERE hash = '" +
                     carried.photo + "'",
                 "not what its entry says");
    }
    SECTION("a value larger than any photo may be") {
        tampered("UPDATE file SET bytes = zeroblob(70000000)", "too large");
        tampered("UPDATE entry SET body = CAST(zeroblob(70000000) AS TEXT) WHERE kind = 'note'",
                 "too large");
    }
    SECTION("a header that promises a gigabyte") {
        // The row's own length says 1 GB, the file has a few pages: found before anything of that
        // size is asked for.
        std::string bytes = whole;
        const std::size_t body = bytes.find("hum on the left");
        REQUIRE(body != std::string::npos);
        for (std::size_t i = body; i-- > body - 200;) {
            std::string lie = whole;
            lie.replace(i, 5, "\x84\x80\x80\x80\x00", 5);
            write_file(file, lie);
            static_cast<void>(JobFile::open(file).ok());
        }
        overwrite(file, 28, std::string("\x00\x04\x00\x00", 4)); // pages in the file: 262144
        refused("");
    }
    // A sound one still goes in after all that.
    write_file(file, whole);
    CHECK(bench->import_job(file)->new_entries == 4);
}

TEST_CASE("job file: one that tells an entry otherwise than the bench does is refused",
          "[core][store]") {
    const TempFolder folder;
    const auto one = open_bench(folder / "one", 1);
    const auto two = open_bench(folder / "two", 2);
    const Carried carried = fill_bench(*one);
    const fs::path file = folder / "x.railjob";
    REQUIRE(one->export_job(carried.job, file).ok());
    REQUIRE(two->import_job(file).ok());
    tamper(file, "UPDATE entry SET body = '{\"text\":\"hum on the right\"}' WHERE kind = 'note'");
    const Result<JobFileReport> report = two->import_job(file);
    REQUIRE_FALSE(report.ok());
    CHECK(report.error().code == ErrorCode::refused);
    CHECK(says(report.error().message, "one of the two was changed"));
    CHECK(two->entries(carried.job).value() == one->entries(carried.job).value());
}

TEST_CASE("job file: entries of a later version are carried along", "[core][store]") {
    const TempFolder folder;
    const auto one = open_bench(folder / "one", 1);
    const auto two = open_bench(folder / "two", 2);
    const std::string job = begin_job(*one);
    Entry later;
    later.id = make_entry_id(1'700'000'100'000, {1}, "");
    later.job = job;
    later.time_ms = 1'700'000'100'000;
    later.bench = "later";
    later.kind = EntryKind::unknown;
    later.kind_text = "torque";
    later.body = {{"newton_metre", 0.6}};
    REQUIRE(one->merge({&later, 1}).ok());
    REQUIRE(one->export_job(job, folder / "x.railjob").ok());
    REQUIRE(two->import_job(folder / "x.railjob").ok());
    CHECK(two->entries(job)->back() == later);
}

TEST_CASE("job file: on a full disk an export leaves nothing and works once there is room",
          "[core][store]") {
    const TempFolder folder;
    const auto bench = open_bench(folder / "bench");
    const std::string job = begin_job(*bench);
    for (unsigned i = 0; i < 5; ++i) {
        RecordingRecord recording;
        recording.name = "x";
        REQUIRE(
            bench->add_recording(job, Bytes(100'000, static_cast<std::byte>(i)), recording).ok());
    }
    const fs::path file = folder / "x.railjob";
    REQUIRE(bench->export_job(job, file).ok());
    const std::string before = contents(file);
    REQUIRE(bench->append(job, EntryKind::note, {{"text", "more"}}).ok());
    {
        const FullDisk full(300'000);
        const Result<JobFileReport> refused = bench->export_job(job, file);
        REQUIRE_FALSE(refused.ok());
        CHECK(says(refused.error().message, "disk is full"));
    }
    CHECK(contents(file) == before);
    CHECK(part_files(folder.path()) == 0);
    CHECK(bench->export_job(job, file)->entries == 7);
}

TEST_CASE("job file: on a full disk an import takes nothing in and goes on once there is room",
          "[core][store]") {
    const TempFolder folder;
    const auto one = open_bench(folder / "one", 1);
    const auto two = open_bench(folder / "two", 2);
    const std::string job = begin_job(*one);
    RecordingRecord recording;
    recording.name = "x";
    REQUIRE(one->add_recording(job, Bytes(500'000, std::byte{7}), recording).ok());
    REQUIRE(one->export_job(job, folder / "x.railjob").ok());
    {
        const FullDisk full(300'000);
        const Result<JobFileReport> refused = two->import_job(folder / "x.railjob");
        REQUIRE_FALSE(refused.ok());
        CHECK(says(refused.error().message, "disk is full"));
    }
    CHECK(two->jobs()->empty());
    CHECK(two->import_job(folder / "x.railjob")->new_entries == 2);
}
