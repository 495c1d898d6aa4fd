#include "core/store/backup.h"

#include "core/store/bench_file.h"
#include "core/store/disk.h"
#include "core/store/entry_row.h"
#include "core/store/job_file.h"
#include "core/store/sha256.h"
#include "core/words/words.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cstdint>
#include <set>
#include <utility>

namespace railside {

namespace fs = std::filesystem;
using Json = nlohmann::json;

namespace {

constexpr int k_pages_at_once = 256;
constexpr std::size_t k_most_marker = 10'000;
constexpr std::size_t k_most_journal = std::size_t{16} << 30U;
constexpr int k_most_entry_row = 64'500'000;
constexpr const char* k_marker = "backup.json";
constexpr const char* k_marker_draft = "backup.json.part";
constexpr std::string_view k_backup_tables[] = {"about", "entry"};

/// What a backup's marker says; empty when there is none that can be read.
std::string marked_bench(const fs::path& folder) {
    const Result<std::vector<std::byte>> bytes = read_whole(folder / k_marker, k_most_marker);
    if (!bytes.ok())
        return {};
    const auto* begin = reinterpret_cast<const char*>(bytes->data());
    const Json marker = Json::parse(begin, begin + bytes->size(), nullptr, false);
    if (!marker.is_object())
        return {};
    const auto bench = marker.find("bench");
    return bench != marker.end() && bench->is_string() ? bench->get<std::string>() : std::string();
}

Result<Done> write_marker(const fs::path& folder, const std::string& bench) {
    const std::string text =
        Json({{"backup_of_a_railside_bench", 1}, {"bench", bench}}).dump(2) + "\n";
    const auto* data = reinterpret_cast<const std::byte*>(text.data());
    return write_whole(folder / k_marker, folder / k_marker_draft, {data, text.size()},
                       Keeping::durable);
}

bool is_empty_or_absent(const fs::path& folder) {
    std::error_code error;
    if (fs::symlink_status(folder, error).type() == fs::file_type::not_found)
        return true;
    return fs::is_directory(folder, error) && fs::is_empty(folder, error) && !error;
}

/// Whether a first backup was cut off before it had its marker.
bool only_begun(const fs::path& folder) {
    std::error_code error;
    fs::directory_iterator files(folder, error);
    if (error || files == fs::directory_iterator())
        return false;
    const bool draft = files->path().filename() == k_marker_draft;
    files.increment(error);
    return draft && !error && files == fs::directory_iterator();
}

/// Whether one folder is the other or lies in it.
bool overlap(const fs::path& a, const fs::path& b) {
    std::error_code error;
    const fs::path one = fs::weakly_canonical(a, error);
    const fs::path two = fs::weakly_canonical(b, error);
    const auto within = [](const fs::path& inner, const fs::path& outer) {
        return std::mismatch(outer.begin(), outer.end(), inner.begin(), inner.end()).first ==
               outer.end();
    };
    return within(one, two) || within(two, one);
}

/// What a journal's file holds.
struct Contents {
    std::string bench;
    int jobs = 0;
    int entries = 0;
    std::vector<NamedFile> files;
};

/// Reads a copy of bench.db without touching it, and trusts nothing in it.
Result<Contents> read_journal(const fs::path& file) {
    if (Result<Done> known = check_bench_header(file); !known.ok())
        return known.error();
    Result<Database> database = Database::open_foreign(file, k_backup_tables, k_most_entry_row);
    if (!database.ok())
        return database.error();
    {
        const Result<std::string> sound = database->text("PRAGMA quick_check(1)");
        if (!sound.ok())
            return sound.error();
        if (*sound != "ok")
            return not_a_bench(file);
    }
    {
        // The journal's own two triggers and no others: a third could change what is written later.
        Result<Statement> extras = database->prepare(
            "SELECT name, type FROM sqlite_schema WHERE type IN ('trigger', 'view')");
        if (!extras.ok())
            return extras.error();
        while (true) {
            const Result<bool> row = extras->step();
            if (!row.ok())
                return row.error();
            if (!*row)
                break;
            if (extras->text(0) != "entry_stays" && extras->text(0) != "entry_is_kept")
                return not_a_bench(file);
        }
    }
    Contents contents;
    const Result<std::string> bench = database->text("SELECT value FROM about WHERE key = 'bench'");
    if (!bench.ok())
        return bench.error();
    if (bench->empty())
        return not_a_bench(file);
    contents.bench = *bench;
    Result<Statement> rows =
        database->prepare(fmt::format("SELECT {} FROM entry ORDER BY seq", k_entry_columns));
    if (!rows.ok())
        return rows.error();
    std::set<std::string, std::less<>> jobs;
    std::set<std::string, std::less<>> seen;
    while (true) {
        const Result<bool> row = rows->step();
        if (!row.ok())
            return row.error();
        if (!*row)
            break;
        ++contents.entries;
        const std::optional<EntryKind> kind = entry_kind_from_key(rows->text(4));
        if (kind == EntryKind::job)
            jobs.emplace(rows->text(1));
        if (kind != EntryKind::photo && kind != EntryKind::recording)
            continue;
        const Entry entry = read_entry(*rows);
        for (NamedFile& named : named_files({&entry, 1}))
            if (seen.insert(named.hash).second)
                contents.files.push_back(std::move(named));
    }
    contents.jobs = static_cast<int>(jobs.size());
    return contents;
}

/// Brings over what `to` does not have yet; what is there is read and compared with its name.
Result<Done> copy_files(const Contents& contents, const Vault& from, Vault& to,
                        BackupReport& report) {
    for (const NamedFile& file : contents.files) {
        Result<std::vector<std::byte>> bytes = to.read(file.hash);
        if (!bytes.ok()) {
            bytes = from.read(file.hash);
            if (!bytes.ok()) {
                ++report.missing;
                continue;
            }
            if (Result<Done> kept = to.keep(file.hash, *bytes); !kept.ok())
                return kept;
            ++report.copied;
        }
        ++report.files;
        report.bytes += static_cast<std::int64_t>(bytes->size());
    }
    return Done{};
}

Result<Done> copy_journal(const BackupSource& source, const fs::path& draft) {
    remove_database(draft);
    Result<Database> copy = Database::open(draft, Opening::fresh);
    if (!copy.ok())
        return copy.error();
    if (Result<Done> set = copy->run("PRAGMA locking_mode=EXCLUSIVE; PRAGMA synchronous=FULL;");
        !set.ok())
        return set;
    {
        Result<OnlineCopy> pages = [&] {
            const std::lock_guard lock(*source.using_journal);
            return OnlineCopy::begin(*source.journal, *copy);
        }();
        if (!pages.ok())
            return pages.error();
        while (true) {
            const std::lock_guard lock(*source.using_journal);
            const Result<bool> all = pages->step(k_pages_at_once);
            if (!all.ok())
                return all.error();
            if (*all)
                break;
        }
        const std::lock_guard lock(*source.using_journal);
        const OnlineCopy finished = std::move(*pages);
    }
    // The copy says it has a write-ahead log, as its original does; on its own it has none.
    const Result<std::string> mode = copy->text("PRAGMA journal_mode=DELETE");
    if (!mode.ok())
        return mode.error();
    return sync_file(draft);
}

Result<Done> named(const fs::path& draft, const fs::path& file) {
    std::error_code error;
    fs::rename(draft, file, error);
    if (error)
        return Error{ErrorCode::failed, file.string(),
                     worded("{} could not be made: {}.", file.string(), error.message())};
    return sync_folder(file.parent_path());
}

BackupReport begun_report(const Contents& contents) {
    BackupReport report;
    report.jobs = contents.jobs;
    report.entries = contents.entries;
    return report;
}

} // namespace

Result<BackupReport> make_backup(const BackupSource& source, const fs::path& to) {
    const auto refuse = [&](std::string_view why) {
        return Error{ErrorCode::refused, to.string(),
                     worded("{} {}; nothing was written to it. Choose an empty folder for the "
                            "backup, on another disk.",
                            to.string(), why)};
    };
    if (to.empty() || overlap(source.folder, to))
        return refuse("is the bench's own folder, or one lies in the other");
    if (!is_empty_or_absent(to) && !only_begun(to)) {
        const std::string bench = marked_bench(to);
        if (bench.empty())
            return refuse("holds something else");
        if (bench != source.bench)
            return refuse("holds the backup of another bench");
    }
    if (Result<Done> made = make_folder(to); !made.ok())
        return made.error();
    if (Result<Done> marked = write_marker(to, source.bench); !marked.ok())
        return marked.error();
    const fs::path draft = to / "bench.db.part";
    if (Result<Done> copied = copy_journal(source, draft); !copied.ok()) {
        remove_database(draft);
        return copied.error();
    }
    // From the copy, so that every photo it names was in the vault before its entry.
    const Result<Contents> contents = read_journal(draft);
    if (!contents.ok()) {
        remove_database(draft);
        return contents.error();
    }
    Result<std::unique_ptr<Vault>> vault = Vault::open(to);
    if (!vault.ok())
        return vault.error();
    BackupReport report = begun_report(*contents);
    if (Result<Done> copied = copy_files(*contents, *source.vault, **vault, report); !copied.ok()) {
        remove_database(draft);
        return copied.error();
    }
    // Last, so that the journal in the backup never names what is not there.
    if (Result<Done> done = named(draft, to / "bench.db"); !done.ok())
        return done.error();
    return report;
}

Result<BackupReport> restore_backup(const fs::path& from, const fs::path& to) {
    std::error_code error;
    if (marked_bench(from).empty() || !fs::is_regular_file(from / "bench.db", error))
        return Error{ErrorCode::not_found, from.string(),
                     worded("{} holds no finished backup of a bench.", from.string())};
    if (to.empty() || overlap(from, to) || !is_empty_or_absent(to))
        return Error{ErrorCode::refused, to.string(),
                     worded("{} is not empty, or lies in the backup; it was left as it is. "
                            "Choose an empty folder for the bench.",
                            to.string())};
    const Result<Contents> contents = read_journal(from / "bench.db");
    if (!contents.ok())
        return contents.error();
    // Opening the vault of a backup would tidy it up; it may be on a disk that can only be read.
    const Vault backup = Vault::as_it_is(from);
    if (Result<Done> made = make_folder(to); !made.ok())
        return made.error();
    Result<std::unique_ptr<Vault>> vault = Vault::open(to);
    if (!vault.ok())
        return vault.error();
    BackupReport report = begun_report(*contents);
    if (Result<Done> copied = copy_files(*contents, backup, **vault, report); !copied.ok())
        return copied.error();
    const fs::path draft = to / "bench.db.part";
    if (Result<Done> copied = copy_whole(from / "bench.db", draft, k_most_journal); !copied.ok()) {
        remove_database(draft);
        return copied.error();
    }
    const Result<Contents> again = read_journal(draft);
    if (!again.ok() || again->entries != contents->entries || again->bench != contents->bench) {
        remove_database(draft);
        return again.ok() ? Error{ErrorCode::failed, to.string(),
                                  worded("{} could not be read back as it was written. Check "
                                         "the disk.",
                                         to.string())}
                          : again.error();
    }
    if (Result<Done> done = named(draft, to / "bench.db"); !done.ok())
        return done.error();
    return report;
}

} // namespace railside
