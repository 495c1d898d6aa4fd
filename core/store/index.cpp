#include "core/store/index.h"

#include "core/job/money.h"
#include "core/store/entry_row.h"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <cmath>
#include <map>
#include <set>

namespace railside {

using Json = nlohmann::json;

namespace {

/// Raised whenever what is kept here changes its form or meaning: it is then made anew.
constexpr int k_index_form = 3;

constexpr const char* k_make_shelf = R"(
CREATE TABLE IF NOT EXISTS shelf(
    number INTEGER PRIMARY KEY,
    job TEXT NOT NULL UNIQUE,
    entries INTEGER NOT NULL,
    last TEXT NOT NULL,
    touched_ms INTEGER NOT NULL,
    photos INTEGER NOT NULL,
    hundredths INTEGER NOT NULL,
    begun INTEGER NOT NULL,
    struck INTEGER NOT NULL,
    sheet TEXT NOT NULL
) STRICT;
)";
constexpr const char* k_make_text = R"(
CREATE VIRTUAL TABLE IF NOT EXISTS job_text USING fts5(
    unit, complaint, positions, words, verdicts,
    tokenize = 'unicode61 remove_diacritics 2', prefix = '2 3');
)";

constexpr std::size_t k_most_text = 500'000; // of one column of one job
constexpr std::size_t k_ranked = 2000;       // more finds than this are shown latest first
constexpr std::size_t k_most_common = 3000;  // a word in more jobs than this tells nothing

const char* const k_columns[k_search_columns] = {"unit", "complaint", "positions", "words",
                                                 "verdicts"};

/// A sheet kept as its body and read back through the fold, so that there is one reading of it.
Sheet sheet_of(std::string_view job, std::int64_t time_ms, std::span<const Json> bodies) {
    std::vector<Entry> entries;
    for (const Json& body : bodies) {
        Entry entry;
        entry.id =
            make_entry_id(0, {}, entries.empty() ? job : std::string_view(entries.back().id));
        if (entries.empty())
            entry.id = job;
        entry.job = job;
        entry.time_ms = time_ms;
        entry.bench = "index";
        entry.kind = EntryKind::job;
        entry.body = body;
        entries.push_back(std::move(entry));
    }
    const Result<Job> folded = fold_job(job, entries);
    return folded.ok() ? folded->sheet : Sheet();
}

bool is_empty(const SearchText& text) {
    return std::all_of(text.begin(), text.end(),
                       [](const std::string& one) { return one.empty(); });
}

} // namespace

Result<Done> Index::make_tables() {
    const Result<std::int64_t> fts5 =
        database_->integer("SELECT count(*) FROM pragma_module_list WHERE name = 'fts5'");
    if (!fts5.ok())
        return fts5.error();
    has_text_ = *fts5 > 0;
    if (Result<Done> made = database_->run(k_make_shelf); !made.ok())
        return made;
    return has_text_ ? database_->run(k_make_text) : Result<Done>(Done{});
}

Result<Done> Index::drop_tables() {
    if (Result<Done> dropped = database_->run("DROP TABLE IF EXISTS shelf"); !dropped.ok())
        return dropped;
    Result<Done> dropped = database_->run("DROP TABLE IF EXISTS job_text");
    if (dropped.ok() || dropped.error().code != ErrorCode::damaged)
        return dropped;
    if (Result<Done> forgotten = database_->forget_virtual_table("job_text"); !forgotten.ok())
        return forgotten;
    return database_->run(
        "DROP TABLE IF EXISTS job_text_data; DROP TABLE IF EXISTS job_text_idx;"
        "DROP TABLE IF EXISTS job_text_content; DROP TABLE IF EXISTS job_text_docsize;"
        "DROP TABLE IF EXISTS job_text_config;");
}

Result<Done> Index::bring_up_to_date() {
    const Result<std::string> sealed =
        database_->text("SELECT value FROM about WHERE key = 'indexed'");
    if (!sealed.ok())
        return sealed.error();
    const Result<std::int64_t> last = database_->integer("SELECT max(seq) FROM entry");
    if (!last.ok())
        return last.error();
    const std::string form = fmt::format("{} ", k_index_form);
    const Result<std::int64_t> tables = database_->integer(
        "SELECT count(*) FROM sqlite_schema WHERE name IN ('shelf', 'job_text')");
    if (!tables.ok())
        return tables.error();
    const Result<std::int64_t> fts5 =
        database_->integer("SELECT count(*) FROM pragma_module_list WHERE name = 'fts5'");
    if (!fts5.ok())
        return fts5.error();
    has_text_ = *fts5 > 0;
    if (*tables != (has_text_ ? 2 : 1) || !sealed->starts_with(form))
        return make_again();
    std::int64_t upto = -1;
    const char* end = sealed->data() + sealed->size();
    const auto read = std::from_chars(sealed->data() + form.size(), end, upto);
    if (read.ec != std::errc() || read.ptr != end || upto > *last)
        return make_again(); // unreadable, or of another journal
    if (upto == *last)
        return Done{};
    Result<Transaction> transaction = Transaction::begin(*database_);
    if (!transaction.ok())
        return transaction.error();
    if (Result<Done> filled =
            fill(fmt::format("WHERE job IN (SELECT DISTINCT job FROM entry WHERE seq > {})", upto));
        !filled.ok())
        return filled;
    if (Result<Done> sealing = seal(); !sealing.ok())
        return sealing;
    return transaction->commit();
}

Result<Done> Index::make_again() {
    Result<Transaction> transaction = Transaction::begin(*database_);
    if (!transaction.ok())
        return transaction.error();
    if (Result<Done> dropped = drop_tables(); !dropped.ok())
        return dropped;
    if (Result<Done> made = make_tables(); !made.ok())
        return made;
    if (Result<Done> filled = fill(""); !filled.ok())
        return filled;
    if (Result<Done> sealing = seal(); !sealing.ok())
        return sealing;
    return transaction->commit();
}

Result<Done> Index::fill(std::string_view where) {
    Result<Statement> rows = database_->prepare(
        fmt::format("SELECT {} FROM entry {} ORDER BY job, id", k_entry_columns, where));
    if (!rows.ok())
        return rows.error();
    std::vector<Entry> entries;
    while (true) {
        const Result<bool> row = rows->step();
        if (!row.ok())
            return row.error();
        const bool ends = !*row || (!entries.empty() && entries.front().job != rows->text(1));
        if (ends && !entries.empty()) {
            const std::string job = entries.front().job;
            if (Result<Done> replaced = replace(job, entries); !replaced.ok())
                return replaced;
            entries.clear();
        }
        if (!*row)
            return Done{};
        entries.push_back(read_entry(*rows));
    }
}

Result<Done> Index::rebuild(std::string_view job) {
    Result<Statement> rows = database_->prepare(
        fmt::format("SELECT {} FROM entry WHERE job = ? ORDER BY id", k_entry_columns));
    if (!rows.ok())
        return rows.error();
    rows->bind(0, job);
    std::vector<Entry> entries;
    while (true) {
        const Result<bool> row = rows->step();
        if (!row.ok())
            return row.error();
        if (!*row)
            break;
        entries.push_back(read_entry(*rows));
    }
    return replace(job, entries);
}

Result<Done> Index::replace(std::string_view job, std::span<const Entry> entries) {
    if (job == k_bench_book || entries.empty())
        return Done{};
    const Result<Job> folded = fold_job(job, entries);
    const std::vector<std::string> struck = struck_entries(entries);
    SearchText text;
    for (const Entry& entry : entries)
        // Striking the first entry takes the job off the shelf, not out of the search.
        if (entry.id == job || !std::binary_search(struck.begin(), struck.end(), entry.id))
            add_search_text(text, entry);
    const std::int64_t photos =
        folded.ok() ? std::count_if(folded->photos.begin(), folded->photos.end(),
                                    [](const PhotoRecord& photo) {
                                        return photo.source.standing == Standing::valid;
                                    })
                    : 0;
    Result<Statement> row = database_->prepare(
        "INSERT INTO shelf(job, entries, last, touched_ms, photos, begun, struck, sheet, "
        "hundredths) VALUES(?, ?, ?, ?, ?, ?, ?, ?, ?) ON CONFLICT(job) DO UPDATE SET "
        "entries = excluded.entries, last = excluded.last, touched_ms = excluded.touched_ms, "
        "photos = excluded.photos, begun = excluded.begun, struck = excluded.struck, "
        "sheet = excluded.sheet, hundredths = excluded.hundredths RETURNING number");
    if (!row.ok())
        return row.error();
    const std::string sheet = folded.ok() ? sheet_body(folded->sheet).dump() : "{}";
    row->bind(0, job);
    row->bind(1, static_cast<std::int64_t>(entries.size()));
    row->bind(2, entries.back().id);
    row->bind(3, entries.back().time_ms);
    row->bind(4, photos);
    row->bind(5, std::int64_t{folded.ok() ? 1 : 0});
    row->bind(6, std::int64_t{folded.ok() && folded->standing == Standing::struck ? 1 : 0});
    row->bind(7, sheet);
    row->bind(8, std::int64_t{folded.ok() ? std::llround(money_of(*folded).total * 100) : 0});
    const Result<bool> got = row->step();
    if (!got.ok())
        return got.error();
    const std::int64_t number = row->integer(0);
    row->reset();
    if (!has_text_)
        return Done{};
    Result<Statement> written = database_->prepare(
        "INSERT OR REPLACE INTO job_text(rowid, unit, complaint, positions, words, verdicts) "
        "VALUES(?, ?, ?, ?, ?, ?)");
    if (!written.ok())
        return written.error();
    written->bind(0, number);
    for (std::size_t i = 0; i < text.size(); ++i) {
        text[i].resize(std::min(text[i].size(), k_most_text));
        written->bind(static_cast<int>(i) + 1, text[i]);
    }
    return written->run();
}

Result<Done> Index::take(std::string_view job, std::span<const Entry> entries) {
    if (job == k_bench_book || entries.empty())
        return Done{};
    const bool changes_much = std::any_of(entries.begin(), entries.end(), [](const Entry& entry) {
        return entry.kind == EntryKind::strike || entry.kind == EntryKind::cost ||
               (entry.kind == EntryKind::job &&
                (entry.body.contains("spent") || entry.body.contains("hourly_rate")));
    });
    Result<Statement> here =
        database_->prepare("SELECT number, sheet, photos, begun FROM shelf WHERE job = ?");
    if (!here.ok())
        return here.error();
    here->bind(0, job);
    const Result<bool> row = here->step();
    if (!row.ok())
        return row.error();
    // A strike can change anything, a rate all money; the job is worked out anew.
    if (changes_much || !*row || here->integer(3) == 0) {
        here->reset();
        return rebuild(job);
    }
    const std::int64_t number = here->integer(0);
    std::vector<Json> sheets = {Json::parse(here->text(1), nullptr, false)};
    std::int64_t photos = here->integer(2);
    here->reset();
    SearchText text;
    for (const Entry& entry : entries) {
        if (entry.kind == EntryKind::job)
            sheets.push_back(entry.body);
        photos += entry.kind == EntryKind::photo ? 1 : 0;
        add_search_text(text, entry);
    }
    Result<Statement> changed = database_->prepare(
        "UPDATE shelf SET entries = entries + ?, last = ?, touched_ms = ?, photos = ?, "
        "sheet = CASE WHEN ?6 = '' THEN sheet ELSE ?6 END WHERE number = ?5");
    if (!changed.ok())
        return changed.error();
    const std::string sheet =
        sheets.size() == 1 ? std::string()
                           : sheet_body(sheet_of(job, entries.back().time_ms, sheets)).dump();
    changed->bind(0, static_cast<std::int64_t>(entries.size()));
    changed->bind(1, entries.back().id);
    changed->bind(2, entries.back().time_ms);
    changed->bind(3, photos);
    changed->bind(4, number);
    changed->bind(5, sheet);
    if (Result<Done> written = changed->run(); !written.ok())
        return written;
    if (!has_text_ || is_empty(text))
        return Done{};
    std::string set;
    for (const char* column : k_columns)
        set += fmt::format("{0}{1} = substr({1} || ?, 1, {2})", set.empty() ? "" : ", ", column,
                           k_most_text);
    Result<Statement> added =
        database_->prepare(fmt::format("UPDATE job_text SET {} WHERE rowid = ?", set));
    if (!added.ok())
        return added.error();
    for (std::size_t i = 0; i < text.size(); ++i)
        added->bind(static_cast<int>(i), text[i]);
    added->bind(static_cast<int>(k_search_columns), number);
    return added->run();
}

Result<Done> Index::seal() {
    const std::string sql = fmt::format(
        "INSERT INTO about(key, value) SELECT 'indexed', '{} ' || ifnull(max(seq), 0) FROM entry "
        "WHERE true ON CONFLICT(key) DO UPDATE SET value = excluded.value",
        k_index_form);
    return database_->run(sql.c_str());
}

namespace {

constexpr const char* k_summary_columns =
    "job, sheet, touched_ms, photos, entries, struck, hundredths";

JobSummary read_summary(const Statement& row) {
    JobSummary summary;
    summary.job = row.text(0);
    const Json body = Json::parse(row.text(1), nullptr, false);
    summary.touched_ms = row.integer(2);
    summary.sheet = sheet_of(summary.job, summary.touched_ms, {&body, 1});
    summary.photos = static_cast<int>(row.integer(3));
    summary.entries = static_cast<int>(row.integer(4));
    summary.total = static_cast<double>(row.integer(6)) / 100;
    summary.standing = row.integer(5) != 0 ? Standing::struck : Standing::valid;
    return summary;
}

} // namespace

Result<std::vector<JobSummary>> Index::jobs() {
    Result<Statement> rows = database_->prepare(
        fmt::format("SELECT {} FROM shelf WHERE begun = 1 ORDER BY last DESC", k_summary_columns));
    if (!rows.ok())
        return rows.error();
    std::vector<JobSummary> summaries;
    while (true) {
        const Result<bool> row = rows->step();
        if (!row.ok())
            return row.error();
        if (!*row)
            return summaries;
        summaries.push_back(read_summary(*rows));
    }
}

Result<JobSummary> Index::summary(std::int64_t number) {
    Result<Statement> row =
        database_->prepare(fmt::format("SELECT {} FROM shelf WHERE number = ?", k_summary_columns));
    if (!row.ok())
        return row.error();
    row->bind(0, number);
    const Result<bool> got = row->step();
    if (!got.ok())
        return got.error();
    return *got ? read_summary(*row) : JobSummary();
}

Result<std::vector<std::int64_t>> Index::matches(const std::string& query, std::size_t most) {
    Result<Statement> rows =
        database_->prepare("SELECT rowid FROM job_text WHERE job_text MATCH ? LIMIT ?");
    if (!rows.ok())
        return rows.error();
    rows->bind(0, query);
    rows->bind(1, static_cast<std::int64_t>(most));
    std::vector<std::int64_t> numbers;
    while (true) {
        const Result<bool> row = rows->step();
        if (!row.ok())
            return row.error();
        if (!*row)
            return numbers;
        numbers.push_back(rows->integer(0));
    }
}

Result<std::vector<JobFound>> Index::search(std::string_view words, std::size_t most) {
    if (!has_text_)
        return Error{ErrorCode::refused, "search",
                     "This program was built without full-text search."};
    const std::string query = search_query(words);
    if (query.empty())
        return Error{
            ErrorCode::bad_text, "search",
            "Type a word to look for: a maker, a type number, a designator or what was said."};
    // Ranking reads every find; where there are very many, none is special, and the latest are
    // wanted.
    const Result<std::vector<std::int64_t>> some = matches(query, k_ranked + 1);
    if (!some.ok())
        return some.error();
    const char* order = some->size() > k_ranked ? "rowid DESC" : "rank";
    Result<Statement> rows = database_->prepare(
        fmt::format("SELECT job_text.rowid, snippet(job_text, -1, '[', ']', '…', 12) FROM job_text "
                    "WHERE job_text MATCH ?1 AND rank MATCH 'bm25(10.0, 5.0, 4.0, 2.0, 3.0)' "
                    "ORDER BY {} LIMIT ?2",
                    order));
    if (!rows.ok())
        return rows.error();
    rows->bind(0, query);
    rows->bind(1, static_cast<std::int64_t>(most));
    std::vector<std::pair<std::int64_t, std::string>> found;
    while (true) {
        const Result<bool> row = rows->step();
        if (!row.ok())
            return row.error();
        if (!*row)
            break;
        std::string excerpt(rows->text(1));
        std::replace(excerpt.begin(), excerpt.end(), '\n', ' ');
        found.emplace_back(rows->integer(0), std::move(excerpt));
    }
    std::vector<JobFound> jobs;
    for (auto& one : found) {
        Result<JobSummary> of_job = summary(one.first);
        if (!of_job.ok())
            return of_job.error();
        jobs.push_back({std::move(*of_job), std::move(one.second)});
    }
    return jobs;
}

Result<std::vector<JobSeen>> Index::seen_before(const Job& job, std::size_t most) {
    if (!has_text_)
        return std::vector<JobSeen>();
    Result<Statement> own = database_->prepare("SELECT number FROM shelf WHERE job = ?");
    if (!own.ok())
        return own.error();
    own->bind(0, job.id);
    const Result<bool> there = own->step();
    if (!there.ok())
        return there.error();
    const std::int64_t self = *there ? own->integer(0) : -1;
    own->reset();
    const Result<std::int64_t> all = database_->integer("SELECT count(*) FROM shelf");
    if (!all.ok())
        return all.error();

    struct Seen {
        bool unit = false;
        double weight = 0;
        std::vector<std::string> words;
    };
    std::map<std::int64_t, Seen> seen;
    if (!job.sheet.model.empty()) {
        std::string query = "unit : " + quoted_phrase(job.sheet.model);
        if (!job.sheet.maker.empty())
            query += " AND unit : " + quoted_phrase(job.sheet.maker);
        const Result<std::vector<std::int64_t>> same = matches(query, k_most_common);
        if (!same.ok())
            return same.error();
        for (const std::int64_t number : *same)
            seen[number].unit = true;
    }
    const std::vector<std::string> words = telling_words(job.sheet.complaint);
    for (const std::string& word : words) {
        const Result<std::vector<std::int64_t>> having =
            matches("{complaint words verdicts} : " + quoted_phrase(word), k_most_common + 1);
        if (!having.ok())
            return having.error();
        if (having->size() > k_most_common)
            continue;
        const double weight =
            std::log(1 + static_cast<double>(*all) /
                             static_cast<double>(std::max<std::size_t>(having->size(), 1)));
        for (const std::int64_t number : *having) {
            Seen& one = seen[number];
            one.weight += weight;
            one.words.push_back(word);
        }
    }
    // One word in common is chance, unless the complaint has only one to offer.
    const std::size_t least = std::min<std::size_t>(2, words.size());
    std::vector<std::pair<std::int64_t, Seen>> ordered;
    for (auto& one : seen)
        if (one.first != self && (one.second.unit || one.second.words.size() >= least))
            ordered.emplace_back(one.first, std::move(one.second));
    const auto worth = [](const std::pair<std::int64_t, Seen>& one) {
        return one.second.weight + (one.second.unit ? 5.0 : 0.0);
    };
    std::sort(ordered.begin(), ordered.end(), [&](const auto& a, const auto& b) {
        return worth(a) != worth(b) ? worth(a) > worth(b) : a.first > b.first;
    });
    std::vector<JobSeen> jobs;
    for (auto& one : ordered) {
        if (jobs.size() == most)
            break;
        Result<JobSummary> of_job = summary(one.first);
        if (!of_job.ok())
            return of_job.error();
        if (of_job->standing == Standing::struck)
            continue;
        const bool symptom = one.second.words.size() >= least && !one.second.words.empty();
        jobs.push_back({std::move(*of_job),
                        one.second.unit && symptom ? SeenBy::unit_and_symptom
                        : one.second.unit          ? SeenBy::unit
                                                   : SeenBy::symptom,
                        std::move(one.second.words),
                        {}});
    }
    return jobs;
}

} // namespace railside
