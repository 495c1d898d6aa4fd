#include "core/store/bench.h"

#include "core/store/sha256.h"
#include "support/catch.h"
#include "support/temp_folder.h"

#include "benches.h"

#include <rapidcheck.h>
#include <sqlite3.h>

#include <algorithm>
#include <csignal>
#include <set>
#include <thread>

#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

using namespace railside;
namespace fs = std::filesystem;
using Json = nlohmann::json;

namespace {

bool says(const std::string& message, const std::string& part) {
    return message.find(part) != std::string::npos;
}

/// SQL on a bench's file from outside.
void outside(const fs::path& file, const std::string& sql, bool leave_log = false) {
    sqlite3* database = nullptr;
    REQUIRE(sqlite3_open(file.c_str(), &database) == SQLITE_OK);
    if (leave_log)
        sqlite3_db_config(database, SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, 1, nullptr);
    char* wrong = nullptr;
    const int code = sqlite3_exec(database, sql.c_str(), nullptr, nullptr, &wrong);
    INFO((wrong != nullptr ? wrong : ""));
    CHECK(code == SQLITE_OK);
    sqlite3_free(wrong);
    sqlite3_close(database);
}

std::string asked(const fs::path& file, const std::string& sql) {
    sqlite3* database = nullptr;
    REQUIRE(sqlite3_open(file.c_str(), &database) == SQLITE_OK);
    std::string answer;
    sqlite3_exec(
        database, sql.c_str(),
        [](void* to, int, char** columns, char**) {
            *static_cast<std::string*>(to) += columns[0] != nullptr ? columns[0] : "";
            return 0;
        },
        &answer, nullptr);
    sqlite3_close(database);
    return answer;
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

PhotoRecord photo(PhotoStage stage, const std::string& caption) {
    PhotoRecord record;
    record.stage = stage;
    record.caption = caption;
    return record;
}

} // namespace

TEST_CASE("bench: a new folder, levels above included, becomes a bench", "[core][store]") {
    const TempFolder folder;
    const fs::path place = folder / "shop/benches/one";
    {
        const auto bench = open_bench(place);
        CHECK(bench->folder() == place);
        CHECK(bench->jobs().value().empty());
    }
    CHECK(fs::is_regular_file(place / "bench.db"));
    CHECK(fs::is_directory(place / "vault"));
    CHECK_FALSE(fs::exists(place / "bench.db.part"));
    // bench.md: what tells the file from others, and that it is whole in itself once the program
    // has ended.
    CHECK(asked(place / "bench.db", "PRAGMA application_id") == std::to_string(0x52736964));
    CHECK(asked(place / "bench.db", "PRAGMA user_version") == "1");
    CHECK(asked(place / "bench.db", "PRAGMA journal_mode") == "wal");
    CHECK_FALSE(fs::exists(place / "bench.db-wal"));
}

TEST_CASE("bench: what was appended is there when it is opened again, member for member",
          "[core][store]") {
    const TempFolder folder;
    std::vector<Entry> written;
    std::string job;
    {
        const auto bench = open_bench(folder.path());
        job = begin_job(*bench);
        written.push_back(bench->entries(job).value().front());
        const Json bodies[] = {{{"text", "hum, −3 dB, \"quoted\", \xE2\x82\xAC, \n"}},
                               {{"text", std::string("zero\0inside", 11)},
                                {"more", {1, 2.5, nullptr, true, {{"deep", -1e-300}}}}}};
        for (const Json& body : bodies) {
            const Result<Entry> entry = bench->append(job, EntryKind::note, body);
            REQUIRE(entry.ok());
            CHECK(entry->body == body);
            written.push_back(*entry);
        }
    }
    const auto bench = open_bench(folder.path());
    CHECK(bench->entries(job).value() == written);
    const Job folded = bench->job(job).value();
    CHECK(folded.notes.size() == 2);
    CHECK(folded.sheet.model == "SA-260");
}

TEST_CASE("bench: every number keeps its last bit", "[core][store]") {
    const TempFolder folder;
    const auto bench = open_bench(folder.path());
    const std::string job = begin_job(*bench);
    CHECK(rc::check("doubles through the journal", [&] {
        const auto value = *rc::gen::suchThat(rc::gen::arbitrary<double>(),
                                              [](double x) { return std::isfinite(x); });
        const Result<Entry> entry =
            bench->append(job, EntryKind::note, {{"text", "x"}, {"value", value}});
        RC_ASSERT(entry.ok());
        RC_ASSERT(bench->entries(job).value().back().body["value"].get<double>() == value);
    }));
}

TEST_CASE("bench: ids rise, also when the clock goes back, and after entries from elsewhere",
          "[core][store]") {
    const TempFolder folder;
    auto time = std::make_shared<std::int64_t>(1'700'000'000'000);
    Surroundings own = surroundings();
    own.now_ms = [time] { return *time -= 1000; };
    Result<std::unique_ptr<Bench>> opened = Bench::open(folder.path(), own);
    REQUIRE(opened.ok());
    Bench& bench = **opened;
    const std::string job = begin_job(bench);
    std::string last = job;
    const auto next = [&] {
        const Result<Entry> entry = bench.append(job, EntryKind::note, {{"text", "x"}});
        REQUIRE(entry.ok());
        CHECK(entry->id > last);
        CHECK(entry->time_ms == *time); // the clock's word stays as it was
        last = entry->id;
    };
    next();
    next();
    Entry elsewhere = bench.entries(job).value().back();
    elsewhere.id = make_entry_id(1'900'000'000'000, {1}, "");
    REQUIRE(bench.merge({&elsewhere, 1}).value() == 1);
    last = elsewhere.id;
    next();
}

TEST_CASE("bench: several entries are written all or none", "[core][store]") {
    const TempFolder folder;
    const auto bench = open_bench(folder.path());
    const Bench::Draft good[] = {{EntryKind::job, {{"maker", "Orrinvale"}}},
                                 {EntryKind::note, {{"text", "a"}}},
                                 {EntryKind::note, {{"text", "b"}}}};
    const Result<std::vector<Entry>> written = bench->append_all("", good);
    REQUIRE(written.ok());
    REQUIRE(written->size() == 3);
    const std::string job = written->front().id;
    CHECK(written->at(1).job == job);
    CHECK(written->at(0).id < written->at(1).id);
    CHECK(written->at(1).id < written->at(2).id);

    const Bench::Draft bad[] = {{EntryKind::note, {{"text", "c"}}},
                                {EntryKind::note, {{"words", "d"}}}};
    const Result<std::vector<Entry>> refused = bench->append_all(job, bad);
    REQUIRE_FALSE(refused.ok());
    CHECK(refused.error().field == "text");
    CHECK(bench->entries(job).value() == *written);
    CHECK(bench->append_all(job, {}).value().empty());
}

TEST_CASE("bench: what does not fit the journal is refused and writes nothing", "[core][store]") {
    const TempFolder folder;
    const auto bench = open_bench(folder.path());
    const std::string job = begin_job(*bench);
    const std::string other = begin_job(*bench);
    const std::string note = bench->append(job, EntryKind::note, {{"text", "x"}})->id;
    const auto code = [&](std::string_view to, EntryKind kind, const Json& body) {
        const Result<Entry> entry = bench->append(to, kind, body);
        REQUIRE_FALSE(entry.ok());
        return entry.error().code;
    };
    CHECK(code("", EntryKind::note, {{"text", "x"}}) == ErrorCode::refused);
    CHECK(code(note, EntryKind::note, {{"text", "x"}}) == ErrorCode::not_found);
    CHECK(code("nonsense", EntryKind::job, Json::object()) == ErrorCode::not_found);
    CHECK(code(job, EntryKind::note, nullptr) == ErrorCode::bad_text);
    CHECK(code(job, EntryKind::note, {{"text", "\xFF"}}) == ErrorCode::bad_text);
    CHECK(code(job, EntryKind::unknown, {{"text", "x"}}) == ErrorCode::refused);
    CHECK(code(job, EntryKind::strike, strike_body(make_entry_id(5, {}, ""), Standing::struck)) ==
          ErrorCode::not_found);
    CHECK(code(other, EntryKind::strike, strike_body(note, Standing::struck)) ==
          ErrorCode::not_found);
    CHECK(code(job, EntryKind::tick, tick_body(note, "a", StepState::done, "")) ==
          ErrorCode::not_found);
    CHECK(bench->entries(job).value().size() == 2);
    CHECK(bench->entries(other).value().size() == 1);
    // And it goes on working.
    CHECK(bench->append(job, EntryKind::strike, strike_body(note, Standing::struck)).ok());
    CHECK(bench->job(job)->struck == std::vector<std::string>{note});
}

TEST_CASE("bench: merging is the union by id, and twice is once", "[core][store]") {
    const TempFolder here;
    const TempFolder there;
    const auto one = open_bench(here.path(), 1);
    const auto two = open_bench(there.path(), 2);
    const std::string job = begin_job(*one);
    REQUIRE(one->append(job, EntryKind::note, {{"text", "a"}}).ok());
    CHECK(two->merge(one->entries(job).value()).value() == 2);
    CHECK(two->merge(one->entries(job).value()).value() == 0);
    REQUIRE(two->append(job, EntryKind::note, {{"text", "b"}}).ok());
    REQUIRE(one->append(job, EntryKind::note, {{"text", "c"}}).ok());
    CHECK(one->merge(two->entries(job).value()).value() == 1);
    CHECK(two->merge(one->entries(job).value()).value() == 1);
    CHECK(one->entries(job).value() == two->entries(job).value());
    CHECK(one->job(job)->notes.size() == 3);
    std::set<std::string> benches;
    for (const Entry& entry : one->entries(job).value())
        benches.insert(entry.bench);
    CHECK(benches.size() == 2);
    // The same id with other words is the same entry: the first stays.
    Entry changed = one->entries(job)->back();
    changed.body["text"] = "d";
    CHECK(one->merge({&changed, 1}).value() == 0);
    CHECK(one->entries(job)->back().body["text"] != "d");
}

TEST_CASE("bench: entries of a later version survive merging, closing and merging on",
          "[core][store]") {
    const TempFolder here;
    const TempFolder there;
    Entry later;
    Entry odd;
    std::string job;
    {
        const auto bench = open_bench(here.path());
        job = begin_job(*bench);
        later.id = make_entry_id(1'700'000'100'000, {1}, "");
        later.job = job;
        later.time_ms = 1'700'000'100'000;
        later.bench = "later";
        later.kind = EntryKind::unknown;
        later.kind_text = "torque";
        later.body = {{"newton_metre", 0.6}};
        odd = later;
        odd.id = make_entry_id(1'700'000'100'001, {1}, "");
        odd.kind = EntryKind::photo; // a kind known here, of a form that is not
        odd.kind_text = "";
        odd.body = {{"layers", {1, 2}}};
        const Entry both[] = {later, odd};
        REQUIRE(bench->merge(both).value() == 2);
    }
    const auto bench = open_bench(here.path());
    const auto next = open_bench(there.path(), 2);
    REQUIRE(next->merge(bench->entries(job).value()).value() == 3);
    const std::vector<Entry> all = next->entries(job).value();
    REQUIRE(all.size() == 3);
    CHECK(all[1] == later);
    CHECK(all[2] == odd);
    CHECK(next->job(job)->photos.empty());
    CHECK(next->jobs()->front().entries == 3);
}

TEST_CASE("bench: merging refuses what cannot stand in a journal, and then takes in nothing",
          "[core][store]") {
    const TempFolder folder;
    const auto bench = open_bench(folder.path());
    const std::string job = begin_job(*bench);
    Entry good = bench->entries(job)->front();
    good.id = make_entry_id(1'700'000'100'000, {1}, "");
    Entry bad = good;
    bad.id =
        "4ZZZZZZZZZZZZZZZZZZZZZZZZZ"; // past the year 6429: every later id would have to follow it
    for (int i = 0; i < 3; ++i) {
        const Entry both[] = {good, bad};
        CHECK_FALSE(bench->merge(both).ok());
        bad = good;
        if (i == 0)
            bad.body = "text";
        else
            bad.bench = "";
    }
    CHECK(bench->entries(job)->size() == 1);
}

TEST_CASE("bench: the shelf shows the jobs, latest touched first", "[core][store]") {
    const TempFolder folder;
    const auto bench = open_bench(folder.path());
    const std::string first = begin_job(*bench);
    const std::string second = begin_job(*bench);
    REQUIRE(bench->append(first, EntryKind::job, {{"complaint", "hum"}}).ok());
    const Result<Entry> one =
        bench->add_photo(first, make_jpeg(quarters(40, 30)), photo(PhotoStage::fitted, "x"));
    REQUIRE(one.ok());
    REQUIRE(
        bench->add_photo(first, make_jpeg(quarters(50, 30)), photo(PhotoStage::fitted, "y")).ok());
    REQUIRE(bench->append(first, EntryKind::strike, strike_body(one->id, Standing::struck)).ok());
    const Entry last = bench->append(first, EntryKind::note, {{"text", "x"}}).value();
    std::vector<JobSummary> shelf = bench->jobs().value();
    REQUIRE(shelf.size() == 2);
    CHECK(shelf[0].job == first);
    CHECK(shelf[0].sheet.complaint == "hum");
    CHECK(shelf[0].sheet.maker == "Orrinvale");
    CHECK(shelf[0].photos == 1);
    CHECK(shelf[0].entries == 6);
    CHECK(shelf[0].touched_ms == last.time_ms);
    CHECK(shelf[0].standing == Standing::valid);
    CHECK(shelf[1].job == second);
    REQUIRE(bench->append(second, EntryKind::strike, strike_body(second, Standing::struck)).ok());
    shelf = bench->jobs().value();
    CHECK(shelf[0].job == second);
    CHECK(shelf[0].standing == Standing::struck);
    // Entries whose sheet has not come here wait unseen.
    Entry alone = last;
    alone.id = make_entry_id(1'800'000'000'000, {1}, "");
    alone.job = alone.id;
    REQUIRE(bench->merge({&alone, 1}).ok());
    CHECK(bench->jobs()->size() == 2);
    CHECK(bench->job(alone.id).error().code == ErrorCode::not_found);
    CHECK(bench->entries(alone.id)->size() == 1);
}

TEST_CASE("bench: many threads write at once and nothing is lost", "[core][store]") {
    const TempFolder folder;
    const auto bench = open_bench(folder.path());
    const std::string job = begin_job(*bench);
    std::vector<std::thread> threads;
    std::vector<std::vector<std::string>> ids(4);
    for (std::size_t t = 0; t < ids.size(); ++t)
        threads.emplace_back([&, t] {
            for (int i = 0; i < 25; ++i) {
                const Result<Entry> entry =
                    bench->append(job, EntryKind::note, {{"text", std::to_string(t)}});
                if (entry.ok())
                    ids[t].push_back(entry->id);
            }
        });
    for (std::thread& thread : threads)
        thread.join();
    std::set<std::string> all;
    for (const auto& some : ids)
        all.insert(some.begin(), some.end());
    CHECK(all.size() == 100);
    CHECK(bench->job(job)->notes.size() == 100);
}

TEST_CASE("bench: a second copy is refused by name until the first one ends", "[core][store]") {
    const TempFolder folder;
    int ready[2] = {};
    REQUIRE(::pipe(ready) == 0);
    const pid_t child = ::fork();
    REQUIRE(child >= 0);
    if (child == 0) {
        const Result<std::unique_ptr<Bench>> bench = Bench::open(folder.path(), surroundings());
        const char answer = bench.ok() ? 'y' : 'n';
        if (::write(ready[1], &answer, 1) != 1)
            ::_exit(1);
        while (true)
            ::pause();
    }
    char answer = 0;
    CHECK(::read(ready[0], &answer, 1) == 1);
    CHECK(answer == 'y');
    const Error busy = refusal_to_open(folder.path());
    CHECK(busy.code == ErrorCode::busy);
    CHECK(busy.message == "Railside is already running on this bench (process " +
                              std::to_string(child) + "). Use that window, or close it first.");
    ::kill(child, SIGKILL);
    ::waitpid(child, nullptr, 0);
    ::close(ready[0]);
    ::close(ready[1]);
    const auto bench = open_bench(folder.path());
    // Nor twice in one process.
    CHECK(refusal_to_open(folder.path()).code == ErrorCode::busy);
}

TEST_CASE("bench: on a full disk nothing acknowledged is lost, the sentence says so, and it works "
          "again after",
          "[core][store]") {
    const TempFolder folder;
    std::vector<std::string> written;
    std::string job;
    std::optional<Error> error;
    std::optional<Error> photo_error;
    const Bytes jpeg = make_jpeg(busy(300, 200));
    {
        const auto bench = open_bench(folder.path());
        job = begin_job(*bench);
        const auto append = [&]() -> Result<Entry> {
            return bench->append(job, EntryKind::note, {{"text", std::string(3000, 'x')}});
        };
        written.push_back(append()->id);
        {
            const FullDisk full(fs::file_size(folder / "bench.db-wal") + 300'000);
            for (int i = 0; i < 100 && !error; ++i) {
                const Result<Entry> entry = append();
                if (entry.ok())
                    written.push_back(entry->id);
                else
                    error = entry.error();
            }
        }
        {
            const FullDisk full(jpeg.size() / 2);
            const Result<Entry> entry = bench->add_photo(job, jpeg, photo(PhotoStage::fitted, ""));
            if (!entry.ok())
                photo_error = entry.error();
        }
        REQUIRE(error);
        INFO(error->message);
        CHECK(error->code == ErrorCode::failed);
        CHECK(says(error->message, "The disk is full"));
        CHECK(says(error->message, "nothing was written"));
        REQUIRE(photo_error);
        INFO(photo_error->message);
        CHECK(photo_error->code == ErrorCode::failed);
        CHECK(says(photo_error->message, "the disk is full"));
        CHECK(written.size() > 2);
        CHECK(bench->job(job)->notes.size() == written.size());
        CHECK(bench->job(job)->photos.empty());
        for (const auto& entry : fs::recursive_directory_iterator(folder / "vault"))
            CHECK_FALSE(entry.is_regular_file());

        const Result<Entry> after = append();
        REQUIRE(after.ok());
        written.push_back(after->id);
        CHECK(bench->add_photo(job, jpeg, photo(PhotoStage::fitted, "")).ok());
    }
    const Job folded = open_bench(folder.path())->job(job).value();
    REQUIRE(folded.notes.size() == written.size());
    for (std::size_t i = 0; i < written.size(); ++i)
        CHECK(folded.notes[i].source.entry == written[i]);
    CHECK(folded.photos.size() == 1);
}

TEST_CASE("bench: a new bench on a full disk is refused and can be made later", "[core][store]") {
    const TempFolder folder;
    std::optional<Error> error;
    {
        const FullDisk full(5000);
        const Result<std::unique_ptr<Bench>> bench = Bench::open(folder / "b", surroundings());
        if (!bench.ok())
            error = bench.error();
    }
    REQUIRE(error);
    CHECK(says(error->message, "disk is full"));
    CHECK_FALSE(fs::exists(folder / "b/bench.db"));
    CHECK(begin_job(*open_bench(folder / "b")).size() == 26);
}

TEST_CASE("bench: a folder that cannot be written is a sentence", "[core][store]") {
    const TempFolder folder;
    std::ofstream(folder / "file") << "x";
    const Error error = refusal_to_open(folder / "file/bench");
    CHECK(error.code == ErrorCode::failed);
    CHECK(says(error.message, "could not be"));
    if (::geteuid() != 0) {
        fs::create_directory(folder / "shut");
        fs::permissions(folder / "shut", fs::perms::owner_read | fs::perms::owner_exec);
        CHECK(says(refusal_to_open(folder / "shut").message, "no permission"));
        fs::permissions(folder / "shut", fs::perms::owner_all);
    }
}

TEST_CASE("bench: what is not a bench is refused and left as it is", "[core][store]") {
    const TempFolder folder;
    const fs::path file = folder / "bench.db";
    const auto refuse = [&] {
        const std::string before = contents(file);
        const Error error = refusal_to_open(folder.path());
        CHECK(error.code == ErrorCode::damaged);
        CHECK(says(error.message, "it was left as it is"));
        CHECK(contents(file) == before);
        return error.message;
    };
    std::mt19937 chance(3);
    std::string garbage(20'000, '\0');
    for (char& c : garbage)
        c = static_cast<char>(chance());
    for (const std::string& text :
         {garbage, std::string(), std::string("SQLite format 3"), std::string(5000, '\0')}) {
        std::ofstream(file, std::ios::binary | std::ios::trunc) << text;
        CHECK(says(refuse(), "is not a Railside bench"));
    }
    fs::remove(file);
    outside(file, "CREATE TABLE mine(x); INSERT INTO mine VALUES(1)");
    CHECK(says(refuse(), "is not a Railside bench"));
    CHECK(asked(file, "SELECT x FROM mine") == "1");
    // A log without its database.
    fs::remove(file);
    std::ofstream(folder / "bench.db-wal") << "log";
    CHECK(refusal_to_open(folder.path()).code == ErrorCode::damaged);
    CHECK_FALSE(fs::exists(file));
}

TEST_CASE("bench: a newer program's bench is refused politely and left as it is", "[core][store]") {
    const TempFolder folder;
    begin_job(*open_bench(folder.path()));
    SECTION("said in the file") { outside(folder / "bench.db", "PRAGMA user_version=2"); }
    SECTION("said only in the log of one that crashed") {
        outside(folder / "bench.db", "PRAGMA user_version=2", true);
        REQUIRE(fs::file_size(folder / "bench.db-wal") > 0);
    }
    fs::remove(folder / "bench.db-shm");
    const auto before = all_contents(folder.path());
    const Error error = refusal_to_open(folder.path());
    CHECK(error.code == ErrorCode::damaged);
    CHECK(says(error.message, "written by a newer Railside"));
    CHECK(says(error.message, "number 2"));
    CHECK(all_contents(folder.path()) == before);
}

TEST_CASE("bench: a damaged page is found after an unclean end", "[core][store]") {
    const TempFolder folder;
    const TempFolder copy;
    std::string job;
    {
        const auto bench = open_bench(folder.path());
        job = begin_job(*bench);
        for (int i = 0; i < 60; ++i)
            REQUIRE(bench->append(job, EntryKind::note, {{"text", std::string(2000, 'n')}}).ok());
    }
    const auto bench = open_bench(folder.path());
    REQUIRE(bench->append(job, EntryKind::note, {{"text", "last"}}).ok());
    // As the power might have left it: the log not folded in, and pages of the file gone bad, more
    // than the log holds anew.
    fs::copy(folder.path(), copy.path(),
             fs::copy_options::recursive | fs::copy_options::overwrite_existing);
    REQUIRE(fs::file_size(copy / "bench.db-wal") > 0);
    {
        std::fstream file(copy / "bench.db", std::ios::binary | std::ios::in | std::ios::out);
        file.seekp(4096 * 3);
        file << std::string(4096 * 20, '\xFF');
    }
    const Error error = refusal_to_open(copy.path());
    CHECK(error.code == ErrorCode::damaged);
    CHECK(says(error.message, "is damaged"));
    CHECK(says(error.message, "copy of the bench's folder"));
}

TEST_CASE("bench: a log cut off anywhere gives the entries before the cut", "[core][store]") {
    const TempFolder folder;
    const auto bench = open_bench(folder.path());
    const std::string job = begin_job(*bench);
    for (int i = 0; i < 20; ++i)
        REQUIRE(bench->append(job, EntryKind::note, {{"text", "note " + std::to_string(i)}}).ok());
    const std::vector<Entry> whole = bench->entries(job).value();
    const std::string database = contents(folder / "bench.db");
    const std::string log = contents(folder / "bench.db-wal");
    std::mt19937 chance(11);
    std::set<std::size_t> seen;
    for (int round = 0; round < 40; ++round) {
        const TempFolder copy;
        std::ofstream(copy / "bench.db", std::ios::binary) << database;
        std::string torn = log.substr(0, round == 0 ? log.size() : chance() % log.size());
        if (round % 3 == 1) // the rest of a torn write: rubbish rather than nothing
            torn += std::string(chance() % 9000, '\xA5');
        std::ofstream(copy / "bench.db-wal", std::ios::binary) << torn;
        const auto again = open_bench(copy.path());
        const std::vector<Entry> left = again->entries(job).value();
        REQUIRE(left.size() <= whole.size());
        CHECK(std::equal(left.begin(), left.end(), whole.begin()));
        seen.insert(left.size());
        // And it goes on.
        CHECK(again->append(left.empty() ? "" : job, EntryKind::job, Json::object()).ok());
    }
    CHECK(seen.count(whole.size()) == 1);
    CHECK(seen.size() > 5);
}

TEST_CASE("bench: the file itself refuses to change or delete an entry", "[core][store]") {
    const TempFolder folder;
    const std::string job = begin_job(*open_bench(folder.path()));
    sqlite3* database = nullptr;
    REQUIRE(sqlite3_open((folder / "bench.db").c_str(), &database) == SQLITE_OK);
    CHECK(sqlite3_exec(database, "UPDATE entry SET body='{}'", nullptr, nullptr, nullptr) ==
          SQLITE_CONSTRAINT);
    CHECK(std::string(sqlite3_errmsg(database)) == "entries are never changed");
    CHECK(sqlite3_exec(database, "DELETE FROM entry", nullptr, nullptr, nullptr) ==
          SQLITE_CONSTRAINT);
    sqlite3_close(database);
    CHECK(open_bench(folder.path())->job(job).ok());
}

TEST_CASE("bench: a row whose body cannot be read stays in the history and spoils nothing else",
          "[core][store]") {
    const TempFolder folder;
    std::string job;
    {
        const auto bench = open_bench(folder.path());
        job = begin_job(*bench);
        REQUIRE(bench->append(job, EntryKind::note, {{"text", "good"}}).ok());
        REQUIRE(bench->append(job, EntryKind::note, {{"text", "spoiled"}}).ok());
    }
    outside(folder / "bench.db",
            "DROP TRIGGER entry_stays; UPDATE entry SET body='{\"text\":' WHERE seq=3");
    const auto bench = open_bench(folder.path());
    const Job folded = bench->job(job).value();
    CHECK(folded.notes.size() == 1);
    REQUIRE(folded.entries.size() == 3);
    CHECK(folded.entries[2].body == nullptr);
    CHECK(bench->jobs()->size() == 1);
}

TEST_CASE("bench: a photo is in the vault under its hash, and its entry says what it is",
          "[core][store]") {
    const TempFolder folder;
    const auto bench = open_bench(folder.path());
    const std::string job = begin_job(*bench);
    const Bytes jpeg =
        with_segment(make_jpeg(busy(640, 400)), 0xE1, exif_orientation(6, ByteOrder::big));
    const Result<Entry> entry =
        bench->add_photo(job, jpeg, photo(PhotoStage::earlier_work, "bridged pad"));
    INFO((entry.ok() ? "" : entry.error().message));
    REQUIRE(entry.ok());
    const Job folded = bench->job(job).value();
    REQUIRE(folded.photos.size() == 1);
    const PhotoRecord& record = folded.photos[0];
    CHECK(record.hash == sha256_hex(jpeg));
    CHECK(record.type == "jpeg");
    CHECK(record.width == 400); // upright
    CHECK(record.height == 640);
    CHECK(record.bytes == static_cast<std::int64_t>(jpeg.size()));
    CHECK(record.stage == PhotoStage::earlier_work);
    CHECK(record.caption == "bridged pad");
    CHECK(bench->photo_bytes(record.hash).value() == jpeg);
    const fs::path original = folder / "vault" / record.hash.substr(0, 2) / record.hash;
    CHECK(fs::file_size(original) == jpeg.size());
    CHECK(fs::exists(folder / "copies" / (record.hash + "-1600.jpg")));
    CHECK(fs::exists(folder / "copies" / (record.hash + "-256.jpg")));

    const Picture thumbnail = bench->photo_picture(record.hash, 256).value();
    CHECK(thumbnail.height == 256);
    CHECK(thumbnail.width == 160);
    const Picture view = bench->photo_picture(record.hash, 1600).value();
    CHECK(view.height == 640);
    const Picture other = bench->photo_picture(record.hash, 100).value();
    CHECK(other.height == 100);
    CHECK_FALSE(bench->photo_picture(record.hash, 0).ok());
    CHECK_FALSE(bench->photo_picture("../../bench.db", 256).ok());
    CHECK_FALSE(bench->photo_bytes("../../bench.db").ok());
}

TEST_CASE("bench: the same picture twice is two entries and one file", "[core][store]") {
    const TempFolder folder;
    const auto bench = open_bench(folder.path());
    const std::string job = begin_job(*bench);
    const Bytes jpeg = make_jpeg(quarters(40, 30));
    REQUIRE(bench->add_photo(job, jpeg, photo(PhotoStage::taken_off, "a")).ok());
    REQUIRE(bench->add_photo(job, jpeg, photo(PhotoStage::fitted, "b")).ok());
    CHECK(bench->job(job)->photos.size() == 2);
    int files = 0;
    for (const auto& entry : fs::recursive_directory_iterator(folder / "vault"))
        files += entry.is_regular_file() ? 1 : 0;
    CHECK(files == 1);
}

TEST_CASE("bench: what is no sound picture, or belongs to no job, leaves nothing behind",
          "[core][store]") {
    const TempFolder folder;
    const auto bench = open_bench(folder.path());
    const std::string job = begin_job(*bench);
    Bytes cut = make_jpeg(busy(100, 80));
    cut.resize(cut.size() / 2);
    for (const Bytes& bytes : {cut, bytes_of("hello"), Bytes()}) {
        const Result<Entry> entry = bench->add_photo(job, bytes, photo(PhotoStage::fitted, ""));
        REQUIRE_FALSE(entry.ok());
        CHECK(entry.error().code == ErrorCode::damaged);
    }
    const Result<Entry> homeless = bench->add_photo(
        make_entry_id(1, {}, ""), make_jpeg(quarters(8, 8)), photo(PhotoStage::fitted, ""));
    REQUIRE_FALSE(homeless.ok());
    CHECK(homeless.error().code == ErrorCode::not_found);
    CHECK(bench->entries(job)->size() == 1);
    for (const char* place : {"vault", "copies"})
        CHECK(fs::is_empty(folder / place));
}

TEST_CASE(
    "bench: an original that changed on the disk is reported, and adding it once more mends it",
    "[core][store]") {
    const TempFolder folder;
    const auto bench = open_bench(folder.path());
    const std::string job = begin_job(*bench);
    const Bytes jpeg = make_jpeg(busy(64, 48));
    REQUIRE(bench->add_photo(job, jpeg, photo(PhotoStage::fitted, "")).ok());
    const std::string hash = sha256_hex(jpeg);
    const fs::path original = folder / "vault" / hash.substr(0, 2) / hash;
    std::string text = contents(original);
    text[text.size() / 2] ^= 1;
    std::ofstream(original, std::ios::binary | std::ios::trunc) << text;
    const Result<Bytes> changed = bench->photo_bytes(hash);
    REQUIRE_FALSE(changed.ok());
    CHECK(changed.error().code == ErrorCode::damaged);
    CHECK(says(changed.error().message, "has changed on the disk"));
    REQUIRE(bench->add_photo(job, jpeg, photo(PhotoStage::fitted, "")).ok());
    CHECK(bench->photo_bytes(hash).value() == jpeg);

    fs::remove(original);
    const Result<Bytes> gone = bench->photo_bytes(hash);
    REQUIRE_FALSE(gone.ok());
    CHECK(gone.error().code == ErrorCode::not_found);
    // The copies still show it.
    CHECK(bench->photo_picture(hash, 256).ok());
    CHECK_FALSE(bench->photo_picture(hash, 300).ok());
}

TEST_CASE("bench: a damaged or missing copy is made again", "[core][store]") {
    const TempFolder folder;
    const auto bench = open_bench(folder.path());
    const std::string job = begin_job(*bench);
    const Bytes jpeg = make_jpeg(busy(640, 400));
    REQUIRE(bench->add_photo(job, jpeg, photo(PhotoStage::fitted, "")).ok());
    const std::string hash = sha256_hex(jpeg);
    const fs::path copy = folder / "copies" / (hash + "-256.jpg");
    const std::string good = contents(copy);
    for (const std::string& bad : {std::string(), good.substr(0, good.size() / 2),
                                   std::string(good.size(), '\0'), std::string("hello")}) {
        std::ofstream(copy, std::ios::binary | std::ios::trunc) << bad;
        const Result<Picture> picture = bench->photo_picture(hash, 256);
        REQUIRE(picture.ok());
        CHECK(picture->width == 256);
        CHECK(contents(copy) != bad);
    }
    fs::remove_all(folder / "copies");
    CHECK(bench->photo_picture(hash, 256).ok());
}

TEST_CASE("bench: half-written files of a crash are cleared at opening, originals are not",
          "[core][store]") {
    const TempFolder folder;
    begin_job(*open_bench(folder.path()));
    const std::string hash(64, 'c');
    std::ofstream(folder / ("vault/" + hash + ".part")) << "half";
    std::ofstream(folder / ("copies/" + hash + "-256.jpg.part")) << "half";
    fs::create_directory(folder / "vault/cc");
    std::ofstream(folder / ("vault/cc/" + hash)) << "an original that no entry names";
    std::ofstream(folder / "bench.db.part") << "half";
    open_bench(folder.path());
    CHECK_FALSE(fs::exists(folder / ("vault/" + hash + ".part")));
    CHECK_FALSE(fs::exists(folder / ("copies/" + hash + "-256.jpg.part")));
    CHECK(fs::exists(folder / ("vault/cc/" + hash)));
    // Of a bench whose making was cut off: the next opening makes it.
    fs::remove(folder / "bench.db");
    open_bench(folder.path());
    CHECK(fs::exists(folder / "bench.db"));
    CHECK_FALSE(fs::exists(folder / "bench.db.part"));
}

TEST_CASE("bench: the system's surroundings give the time of today and chance that differs",
          "[core][store]") {
    const Surroundings system = system_surroundings();
    CHECK(system.now_ms() > 1'700'000'000'000);
    CHECK(system.chance() != system.chance());
}
