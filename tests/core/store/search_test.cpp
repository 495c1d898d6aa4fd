#include "core/store/search.h"

#include "core/job/money.h"
#include "core/store/index.h"
#include "support/catch.h"
#include "support/temp_folder.h"

#include "benches.h"

#include <rapidcheck.h>
#include <sqlite3.h>

#include <algorithm>
#include <chrono>
#include <set>

using namespace railside;
namespace fs = std::filesystem;
using Json = nlohmann::json;

namespace {

bool says(const std::string& message, const std::string& part) {
    return message.find(part) != std::string::npos;
}

void outside(const fs::path& file, const std::string& sql) {
    sqlite3* database = nullptr;
    REQUIRE(sqlite3_open(file.c_str(), &database) == SQLITE_OK);
    char* wrong = nullptr;
    const int code = sqlite3_exec(database, sql.c_str(), nullptr, nullptr, &wrong);
    INFO(sql << ": " << (wrong != nullptr ? wrong : ""));
    CHECK(code == SQLITE_OK);
    sqlite3_free(wrong);
    sqlite3_close(database);
}

std::string add_job(Bench& bench, Json sheet) {
    const Result<Entry> job = bench.append("", EntryKind::job, std::move(sheet));
    REQUIRE(job.ok());
    return job->id;
}

/// The jobs found, in the order of their ids.
std::set<std::string> found(Bench& bench, const std::string& words) {
    const Result<std::vector<JobFound>> jobs = bench.search(words, 100);
    INFO(words << ": " << (jobs.ok() ? "" : jobs.error().message));
    REQUIRE(jobs.ok());
    std::set<std::string> ids;
    for (const JobFound& one : *jobs)
        ids.insert(one.job.job);
    return ids;
}

using Ids = std::set<std::string>;

/// The shelf as text, so that two can be compared whole.
std::string told(const std::vector<JobSummary>& shelf) {
    Json all = Json::array();
    for (const JobSummary& one : shelf)
        all.push_back({one.job, sheet_body(one.sheet), one.total, one.touched_ms, one.photos,
                       one.entries, static_cast<int>(one.standing)});
    return all.dump();
}

/// The shelf worked out the slow way, from all entries.
std::string slowly(Bench& bench, const std::vector<std::string>& jobs) {
    std::vector<std::pair<std::string, JobSummary>> all;
    for (const std::string& id : jobs) {
        const Result<Job> job = bench.job(id);
        if (!job.ok())
            continue;
        JobSummary one;
        one.job = id;
        one.sheet = job->sheet;
        one.touched_ms = job->touched_ms;
        one.entries = static_cast<int>(job->entries.size());
        one.standing = job->standing;
        one.total = money_of(*job).total;
        for (const PhotoRecord& photo : job->photos)
            one.photos += photo.source.standing == Standing::valid ? 1 : 0;
        all.emplace_back(job->entries.back().id, std::move(one));
    }
    std::sort(all.begin(), all.end(),
              [](const auto& a, const auto& b) { return a.first > b.first; });
    std::vector<JobSummary> shelf;
    for (auto& one : all)
        shelf.push_back(std::move(one.second));
    return told(shelf);
}

} // namespace

TEST_CASE("search: units, complaints, positions, types, notes and verdicts are found",
          "[core][store]") {
    const TempFolder folder;
    const auto bench = open_bench(folder.path());
    const std::string hall =
        add_job(*bench, {{"maker", "Orrinvale"},
                         {"model", "SA-260"},
                         {"serial", "26-0417"},
                         {"complaint", "Left side too hot to touch with nothing playing"}});
    const std::string pub = add_job(*bench, {{"maker", "Feldmark"}, {"complaint", "hums"}});
    const auto add = [&](const std::string& job, EntryKind kind, const Json& body) {
        const Result<Entry> entry = bench->append(job, kind, body);
        REQUIRE(entry.ok());
        return entry->id;
    };
    add(hall, EntryKind::position,
        {{"designator", "VR201"}, {"fitted_type", "1k, square"}, {"note", "wiper open"}});
    add(pub, EntryKind::position, {{"designator", "Q5"}, {"printed_type", "2SC5200-O"}});
    add(pub, EntryKind::note,
        {{"text", "Elko 4700 \xC2\xB5"
                  "F gewölbt"}});
    add(hall, EntryKind::working,
        {{"working", "idle"},
         {"record", {{"verdict", {{"state", "outside"}, {"reason", "Twelve times the target"}}}}}});
    add(pub, EntryKind::taken_off, {{"what", "mica washer"}, {"where", "rear sink"}});
    add(hall, EntryKind::cost, {{"type", "work"}, {"what", "tracing"}, {"minutes", 30}});

    for (const char* words : {"orrinvale", "SA-260", "26-0417", "ORRIN", "hot", "vr201", "VR2",
                              "square", "wiper", "twelve", "outside", "tracing"})
        CHECK(found(*bench, words) == Ids{hall});
    for (const char* words : {"feldmark", "hum", "2SC5200", "2sc52", "q5", "gewolbt", "gewölbt",
                              "4700", "mica", "rear sink"})
        CHECK(found(*bench, words) == Ids{pub});
    CHECK(found(*bench, "5200").empty()); // not the beginning of a word
    // Every word must be there, wherever in the job it stands.
    CHECK(found(*bench, "orrinvale wiper twelve") == Ids{hall});
    CHECK(found(*bench, "orrinvale mica").empty());
    // Side by side within one word as typed.
    CHECK(found(*bench, "SA-261").empty());
    const std::vector<JobFound> one = bench->search("wiper", 10).value();
    REQUIRE(one.size() == 1);
    CHECK(says(one[0].excerpt, "[wiper] open"));
    CHECK(one[0].job.sheet.model == "SA-260");
}

TEST_CASE("search: nothing typed can be an operator, and nothing at all is said to be nothing",
          "[core][store]") {
    const TempFolder folder;
    const auto bench = open_bench(folder.path());
    const std::string job = add_job(*bench, {{"complaint", "hum AND buzz NOT hiss"}});
    CHECK(found(*bench, "hum AND buzz") == Ids{job});
    CHECK(found(*bench, "NOT hiss") == Ids{job});
    CHECK(found(*bench, "complaint:hum").empty());
    CHECK(found(*bench, "\"hum").size() == 1);
    CHECK(found(*bench, "hum*") == Ids{job});
    CHECK(found(*bench, "(hum) -") == Ids{job});
    for (const char* words : {"", "   ", "- \" * ( )", "\xFF\xFE"}) {
        const Result<std::vector<JobFound>> none = bench->search(words, 10);
        REQUIRE_FALSE(none.ok());
        CHECK(none.error().code == ErrorCode::bad_text);
    }
    CHECK(rc::check("any text is a query or refused", [&] {
        const auto words = *rc::gen::arbitrary<std::string>();
        const Result<std::vector<JobFound>> jobs = bench->search(words, 10);
        RC_ASSERT((jobs.ok() || jobs.error().code == ErrorCode::bad_text));
    }));
    CHECK(bench->search("±", 10)->empty()); // a word of symbols alone
}

TEST_CASE("search: what is struck is not found until it is brought back, a struck job is marked",
          "[core][store]") {
    const TempFolder folder;
    const auto bench = open_bench(folder.path());
    const std::string job = add_job(*bench, {{"maker", "Orrinvale"}});
    const std::string note = bench->append(job, EntryKind::note, {{"text", "rumble"}})->id;
    CHECK(found(*bench, "rumble") == Ids{job});
    const std::string strike =
        bench->append(job, EntryKind::strike, strike_body(note, Standing::struck))->id;
    CHECK(found(*bench, "rumble").empty());
    REQUIRE(bench->append(job, EntryKind::strike, strike_body(strike, Standing::struck)).ok());
    CHECK(found(*bench, "rumble") == Ids{job});
    REQUIRE(bench->append(job, EntryKind::strike, strike_body(job, Standing::struck)).ok());
    CHECK(found(*bench, "orrinvale") == Ids{job});
    CHECK(bench->search("orrinvale", 1)->front().job.standing == Standing::struck);
    CHECK(bench->jobs()->front().standing == Standing::struck);
}

TEST_CASE("search: the index goes with the journal, also through merges, and is made again when "
          "it is missing or behind",
          "[core][store]") {
    const TempFolder folder;
    std::string job;
    std::string shelf;
    Entry elsewhere;
    {
        const auto bench = open_bench(folder.path());
        job = add_job(*bench, {{"maker", "Orrinvale"}});
        elsewhere = bench->entries(job)->front();
        elsewhere.id = make_entry_id(1'700'000'100'000, {1}, "");
        elsewhere.kind = EntryKind::note;
        elsewhere.body = {{"text", "crackle"}};
        REQUIRE(bench->merge({&elsewhere, 1}).ok());
        CHECK(found(*bench, "crackle") == Ids{job});
        shelf = told(bench->jobs().value());
    }
    SECTION("missing") { outside(folder / "bench.db", "DROP TABLE job_text; DROP TABLE shelf"); }
    SECTION("half missing") { outside(folder / "bench.db", "DROP TABLE shelf"); }
    SECTION("its mark missing or of another form") {
        outside(folder / "bench.db", "UPDATE about SET value = '0 5' WHERE key = 'indexed'");
    }
    SECTION("its mark unreadable") {
        outside(folder / "bench.db", "UPDATE about SET value = '1 five' WHERE key = 'indexed'");
    }
    SECTION("of a longer journal than this") {
        outside(folder / "bench.db",
                "DELETE FROM shelf; UPDATE about SET value = '1 500' WHERE key "
                "= 'indexed'");
    }
    SECTION("behind: a program without an index has written") {
        outside(folder / "bench.db",
                "INSERT INTO entry(id, job, time_ms, bench, kind, body) SELECT "
                "'01HZZZZZZZ0000000000000000', job, 5, bench, 'note', '{\"text\":\"whistle\"}' "
                "FROM entry LIMIT 1");
        const auto bench = open_bench(folder.path());
        CHECK(found(*bench, "whistle") == Ids{job});
        CHECK(bench->jobs()->front().entries == 3);
        return;
    }
    const auto bench = open_bench(folder.path());
    CHECK(found(*bench, "crackle") == Ids{job});
    CHECK(told(bench->jobs().value()) == shelf);
}

TEST_CASE("search: a damaged index is made again and never keeps an entry from being written",
          "[core][store]") {
    const TempFolder folder;
    std::string job;
    {
        const auto bench = open_bench(folder.path());
        job = add_job(*bench, {{"maker", "Orrinvale"}});
        REQUIRE(bench->append(job, EntryKind::note, {{"text", "before"}}).ok());
    }
    // Its own tables emptied and filled with nonsense, as a failing card might.
    outside(folder / "bench.db", "UPDATE job_text_data SET block = x'FFFFFFFFFFFFFFFF'");
    const auto bench = open_bench(folder.path());
    const Result<Entry> after = bench->append(job, EntryKind::note, {{"text", "afterwards"}});
    INFO((after.ok() ? "" : after.error().message));
    REQUIRE(after.ok());
    CHECK(found(*bench, "before") == Ids{job});
    CHECK(found(*bench, "afterwards") == Ids{job});
    CHECK(bench->entries(job)->size() == 3);
}

TEST_CASE("search: shelf and index agree with the journal read slowly, after any history",
          "[core][store]") {
    CHECK(holds_on_disk("random histories", [] {
        static const char* const words[] = {"alpha", "bravo", "charlie", "delta"};
        const TempFolder folder;
        std::vector<std::string> jobs;
        const auto check = [&](Bench& bench) {
            RC_ASSERT(told(bench.jobs().value()) == slowly(bench, jobs));
            for (const char* word : words) {
                Ids expected;
                for (const std::string& id : jobs) {
                    const Job job = bench.job(id).value();
                    SearchText text;
                    for (const Entry& entry : job.entries)
                        if (entry.id == id ||
                            !std::binary_search(job.struck.begin(), job.struck.end(), entry.id))
                            add_search_text(text, entry);
                    for (const std::string& column : text)
                        if (says(column, word))
                            expected.insert(id);
                }
                RC_ASSERT(found(bench, word) == expected);
            }
        };
        {
            const auto bench = open_bench(folder.path());
            for (int n = *rc::gen::inRange(1, 25); n > 0; --n) {
                const std::string word = *rc::gen::elementOf(
                    std::vector<std::string>(std::begin(words), std::end(words)));
                if (jobs.empty() || *rc::gen::inRange(0, 6) == 0) {
                    jobs.push_back(add_job(*bench, {{"maker", word}}));
                    continue;
                }
                const std::string job = *rc::gen::elementOf(jobs);
                const std::vector<Entry> here = bench->entries(job).value();
                switch (*rc::gen::inRange(0, 6)) {
                case 5:
                    REQUIRE(bench
                                ->append(job, EntryKind::cost,
                                         {{"type", "work"}, {"what", word}, {"minutes", 20}})
                                .ok());
                    REQUIRE(bench
                                ->append(job, EntryKind::job,
                                         {{"hourly_rate", *rc::gen::inRange(0, 60)}})
                                .ok());
                    break;
                case 0:
                    REQUIRE(
                        bench->append(job, EntryKind::job, {{"model", word}, {"spent", 3}}).ok());
                    break;
                case 1:
                    REQUIRE(
                        bench
                            ->append(
                                job, EntryKind::strike,
                                strike_body(here[*rc::gen::inRange<std::size_t>(0, here.size())].id,
                                            *rc::gen::element(Standing::struck, Standing::valid)))
                            .ok());
                    break;
                case 2:
                    REQUIRE(bench
                                ->append(job, EntryKind::photo,
                                         {{"hash", std::string(64, 'a')},
                                          {"type", "png"},
                                          {"width", 1},
                                          {"height", 1},
                                          {"bytes", 1},
                                          {"stage", "fitted"},
                                          {"caption", word}})
                                .ok());
                    break;
                case 3: {
                    Entry early = here.front();
                    early.kind = EntryKind::note;
                    early.body = {{"text", word}};
                    early.id =
                        make_entry_id(1'600'000'000'000 + *rc::gen::inRange(0, 1000), {1}, "");
                    REQUIRE(bench->merge({&early, 1}).ok());
                    break;
                }
                default:
                    REQUIRE(bench->append(job, EntryKind::note, {{"text", word}}).ok());
                }
            }
            check(*bench);
        }
        check(*open_bench(folder.path()));
    }));
}

TEST_CASE("search: a job is said to be seen before by its unit and by telling words",
          "[core][store]") {
    const TempFolder folder;
    const auto bench = open_bench(folder.path());
    const std::string old = add_job(*bench, {{"maker", "Orrinvale"},
                                             {"model", "SA-260"},
                                             {"complaint", "Crackles when warm, then cuts out"}});
    REQUIRE(bench
                ->append(old, EntryKind::position,
                         {{"designator", "VR201"},
                          {"channel", "left"},
                          {"role", "trim_pot"},
                          {"state", "bad"}})
                .ok());
    const std::string other = add_job(
        *bench,
        {{"maker", "Feldmark"}, {"model", "12"}, {"complaint", "cuts out once it is warm"}});
    const std::string unlike =
        add_job(*bench, {{"maker", "Feldmark"}, {"model", "13"}, {"complaint", "it hums"}});
    add_job(*bench, {{"maker", "Orrinvale"}, {"model", "SA-120"}, {"complaint", "no sound, warm"}});
    const std::string now =
        add_job(*bench, {{"maker", "orrinvale"},
                         {"model", "sa-260"},
                         {"complaint", "The client says it cuts out after the hall is warm."}});
    const Result<std::vector<JobSeen>> seen = bench->seen_before(now, 10);
    REQUIRE(seen.ok());
    REQUIRE(seen->size() == 2);
    CHECK(seen->at(0).job.job == old);
    CHECK(seen->at(0).by == SeenBy::unit_and_symptom);
    CHECK(seen->at(0).words == std::vector<std::string>{"cuts", "warm"});
    CHECK(seen->at(0).causes == std::vector<std::string>{"VR201 left, trim pot, bad"});
    CHECK(seen->at(1).job.job == other);
    CHECK(seen->at(1).by == SeenBy::symptom);
    CHECK(seen->at(1).causes.empty());
    REQUIRE(bench
                ->append(old, EntryKind::closing,
                         {{"cause", "trim wiper open"}, {"cure", "ten-turn trim pot"}})
                .ok());
    CHECK(bench->seen_before(now, 10)->at(0).causes ==
          std::vector<std::string>{"trim wiper open; cured: ten-turn trim pot",
                                   "VR201 left, trim pot, bad"});
    REQUIRE(bench->search("ten-turn", 5)->size() == 1);
    CHECK(bench->search("ten-turn", 5)->at(0).job.job == old);
    CHECK(bench->seen_before(unlike, 10)->empty());
    CHECK(bench->seen_before("nonsense", 10).error().code == ErrorCode::not_found);
    // A struck job was a mistake; it is no precedent.
    REQUIRE(bench->append(old, EntryKind::strike, strike_body(old, Standing::struck)).ok());
    CHECK(bench->seen_before(now, 10)->size() == 1);
}

TEST_CASE("search: telling words are the rarer ones, each once, small", "[core][store]") {
    CHECK(telling_words("Left side too HOT; it crackles, crackles when Warm. With hiss") ==
          std::vector<std::string>{"crackles", "warm", "hiss"});
    CHECK(telling_words("").empty());
    CHECK(telling_words("brüllt schön") == std::vector<std::string>{"brüllt", "schön"});
}

TEST_CASE("search: over ten thousand jobs, the time each kind of query takes", "[.benchmark]") {
    const TempFolder folder;
    const auto bench = open_bench(folder.path());
    std::mt19937 chance(7);
    const char* const said[] = {"hum",  "crackle",  "distorts", "cuts out", "too hot", "buzz",
                                "dead", "whistles", "low",      "smokes",   "pops",    "fuse"};
    for (int batch = 0; batch < 100; ++batch) {
        std::vector<Entry> entries;
        for (int i = 0; i < 100; ++i) {
            Entry entry;
            entry.bench = "b";
            entry.id = entry.job =
                make_entry_id(1'600'000'000'000 + batch * 100'000 + i * 100, {9}, "");
            entry.kind = EntryKind::job;
            entry.body = {{"maker", "Orrinvale"},
                          {"model", "SA-" + std::to_string(chance() % 900)},
                          {"complaint", std::string(said[chance() % 12]) + " and " +
                                            said[chance() % 12] + " on the left"}};
            entries.push_back(entry);
            for (int k = 1; k < 12; ++k) {
                entry.id =
                    make_entry_id(1'600'000'000'000 + batch * 100'000 + i * 100 + k, {9}, "");
                entry.kind = k % 2 == 0 ? EntryKind::note : EntryKind::position;
                entry.body =
                    k % 2 == 0
                        ? Json{{"text", "measured " + std::to_string(chance() % 5000) + " and it " +
                                            said[chance() % 12]}}
                        : Json{{"designator", "Q" + std::to_string(chance() % 900)},
                               {"fitted_type", "2SC" + std::to_string(1000 + chance() % 4000)},
                               {"role", "output"}};
                entries.push_back(entry);
            }
        }
        REQUIRE(bench->merge(entries).ok());
    }
    using Clock = std::chrono::steady_clock;
    const auto milliseconds_since = [](Clock::time_point from) {
        const std::chrono::duration<double, std::milli> took = Clock::now() - from;
        return took.count();
    };
    for (const char* words :
         {"2SC1815", "q214 hum", "sa-260", "orrinvale", "orrinvale smokes left", "o", "2sc"}) {
        double best = 1e9;
        std::size_t shown = 0;
        for (int i = 0; i < 20; ++i) {
            const auto from = Clock::now();
            shown = bench->search(words, 50)->size();
            best = std::min(best, milliseconds_since(from));
        }
        WARN("search \"" << words << "\": " << best << " ms; " << shown << " shown");
    }
    const std::string some = bench->jobs()->at(5000).job;
    const auto seen_from = Clock::now();
    const std::size_t seen = bench->seen_before(some, 10)->size();
    WARN("seen before: " << milliseconds_since(seen_from) << " ms; " << seen << " shown");
    const auto shelf_from = Clock::now();
    const std::size_t shelf = bench->jobs()->size();
    WARN("shelf of " << shelf << " jobs: " << milliseconds_since(shelf_from) << " ms");
}
