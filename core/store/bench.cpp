#include "core/store/bench.h"

#include "core/store/disk.h"
#include "core/store/image.h"
#include "core/store/resize.h"
#include "core/store/sha256.h"
#include "core/store/sqlite.h"
#include "core/store/vault.h"

#include <fmt/format.h>

#include <algorithm>
#include <chrono>
#include <mutex>
#include <optional>
#include <random>
#include <utility>

#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

namespace railside {

namespace fs = std::filesystem;
using Json = nlohmann::json;

namespace {

constexpr std::int64_t k_application = 0x52736964; // "Rsid", at byte 68 of the file
constexpr std::int64_t k_schema = 1;
constexpr int k_view_longest = 1600;
constexpr int k_thumbnail_longest = 256;
constexpr int k_drawing_quality = 88;
constexpr int k_most_longest = 16384;
constexpr int k_first_far_letter = '4'; // an id that begins with it lies past the year 6429

constexpr const char* k_make_schema = R"(
CREATE TABLE entry(
    seq INTEGER PRIMARY KEY,
    id TEXT NOT NULL UNIQUE,
    job TEXT NOT NULL,
    time_ms INTEGER NOT NULL,
    bench TEXT NOT NULL,
    kind TEXT NOT NULL,
    body TEXT NOT NULL
) STRICT;
CREATE INDEX entry_of_job ON entry(job, id);
CREATE TRIGGER entry_stays BEFORE UPDATE ON entry BEGIN SELECT RAISE(ABORT, 'entries are never changed'); END;
CREATE TRIGGER entry_is_kept BEFORE DELETE ON entry BEGIN SELECT RAISE(ABORT, 'entries are never deleted'); END;
CREATE TABLE about(key TEXT PRIMARY KEY, value TEXT NOT NULL) STRICT;
)";

constexpr const char* k_columns = "id, job, time_ms, bench, kind, body";

Error not_a_bench(const fs::path& file) {
    return Error{ErrorCode::damaged, file.string(),
                 fmt::format("{} is not a Railside bench or is damaged; it was left as it is. Take "
                             "the last good copy of the "
                             "bench's folder, or choose another folder.",
                             file.string())};
}
Error too_new(const fs::path& file, std::int64_t schema) {
    return Error{ErrorCode::damaged, file.string(),
                 fmt::format("{} was written by a newer Railside (its form is number {}, this "
                             "program knows up to {}); it was "
                             "left as it is. Open it with the newer program.",
                             file.string(), schema, k_schema)};
}

std::int64_t big_endian(std::span<const std::byte> bytes, std::size_t at) {
    std::int64_t value = 0;
    for (std::size_t i = 0; i < 4; ++i)
        value = value * 256 + std::to_integer<std::int64_t>(bytes[at + i]);
    return value;
}

/// Looks at the file's first 100 bytes (SQLite's header, sqlite.org/fileformat2.html section 1.3)
/// without touching it.
Result<Done> check_header(const fs::path& file) {
    std::vector<std::byte> head(100);
    std::size_t have = 0;
    const int fd = ::open(file.c_str(), O_RDONLY | O_CLOEXEC);
    if (fd < 0)
        return Error{
            ErrorCode::failed, file.string(),
            fmt::format("{} could not be opened: {}.", file.string(), system_reason(errno))};
    while (have < head.size()) {
        const ssize_t n = ::read(fd, head.data() + have, head.size() - have);
        if (n < 0 && errno == EINTR)
            continue;
        if (n <= 0)
            break;
        have += static_cast<std::size_t>(n);
    }
    ::close(fd);
    static constexpr std::string_view k_magic("SQLite format 3\0", 16);
    if (have < head.size() ||
        !std::equal(k_magic.begin(), k_magic.end(), head.begin(), [](char a, std::byte b) {
            return static_cast<unsigned char>(a) == std::to_integer<unsigned char>(b);
        }))
        return not_a_bench(file);
    if (big_endian(head, 68) != k_application)
        return not_a_bench(file);
    if (const std::int64_t schema = big_endian(head, 60); schema > k_schema)
        return too_new(file, schema);
    return Done{};
}

/// Makes the database under another name and renames it when it is whole, so that bench.db is never
/// half made.
Result<Done> make_database(const fs::path& folder, const std::string& bench) {
    const fs::path draft = folder / "bench.db.part";
    for (const char* ending : {"", "-journal", "-wal", "-shm"}) {
        std::error_code ignored;
        fs::remove(draft.string() + ending, ignored);
    }
    {
        Result<Database> database = Database::open(draft, Opening::fresh);
        if (!database.ok())
            return database.error();
        if (Result<Done> set =
                database->run("PRAGMA locking_mode=EXCLUSIVE; PRAGMA synchronous=EXTRA;");
            !set.ok())
            return set;
        Result<Transaction> transaction = Transaction::begin(*database);
        if (!transaction.ok())
            return transaction.error();
        if (Result<Done> made = database->run(k_make_schema); !made.ok())
            return made;
        const std::string numbers = fmt::format("PRAGMA application_id={}; PRAGMA user_version={};",
                                                k_application, k_schema);
        if (Result<Done> set = database->run(numbers.c_str()); !set.ok())
            return set;
        {
            Result<Statement> about =
                database->prepare("INSERT INTO about(key, value) VALUES('bench', ?)");
            if (!about.ok())
                return about.error();
            about->bind(0, bench);
            if (Result<Done> written = about->run(); !written.ok())
                return written;
        }
        if (Result<Done> committed = transaction->commit(); !committed.ok())
            return committed;
    }
    if (Result<Done> synced = sync_file(draft); !synced.ok())
        return synced;
    std::error_code error;
    fs::rename(draft, folder / "bench.db", error);
    if (error)
        return Error{ErrorCode::failed, folder.string(),
                     fmt::format("{} could not be made: {}.", (folder / "bench.db").string(),
                                 error.message())};
    return sync_folder(folder);
}

Entry read_entry(const Statement& row) {
    Entry entry;
    entry.id = row.text(0);
    entry.job = row.text(1);
    entry.time_ms = row.integer(2);
    entry.bench = row.text(3);
    const std::string_view kind = row.text(4);
    if (const std::optional<EntryKind> known = entry_kind_from_key(kind)) {
        entry.kind = *known;
    } else {
        entry.kind = EntryKind::unknown;
        entry.kind_text = kind;
    }
    // A body that cannot be read is null: check_entry refuses it, so the fold passes it over and
    // the history still shows that something was there, rather than the whole job being lost to one
    // bad row.
    entry.body = Json::parse(row.text(5), nullptr, false);
    if (entry.body.is_discarded())
        entry.body = nullptr;
    return entry;
}

class BenchOnDisk final : public Bench {
  public:
    BenchOnDisk(fs::path folder, Surroundings surroundings, FolderLock lock, Database database,
                std::unique_ptr<Vault> vault, std::string bench)
        : folder_(std::move(folder)), surroundings_(std::move(surroundings)),
          lock_(std::move(lock)), database_(std::move(database)), vault_(std::move(vault)),
          bench_(std::move(bench)) {}

    Result<Entry> append(std::string_view job, EntryKind kind, Json body) override {
        const Draft draft{kind, std::move(body)};
        Result<std::vector<Entry>> written = append_all(job, {&draft, 1});
        if (!written.ok())
            return written.error();
        return std::move(written->front());
    }

    Result<std::vector<Entry>> append_all(std::string_view job,
                                          std::span<const Draft> drafts) override {
        if (drafts.empty())
            return std::vector<Entry>();
        if (job.empty() && drafts.front().kind != EntryKind::job)
            return Error{ErrorCode::refused, "job", "A new job begins with its sheet."};
        const std::lock_guard lock(mutex_);
        Result<Transaction> transaction = Transaction::begin(database_);
        if (!transaction.ok())
            return transaction.error();
        if (!job.empty())
            if (Result<Done> there = check_job(job); !there.ok())
                return there.error();
        Result<std::string> last = database_.text("SELECT max(id) FROM entry");
        if (!last.ok())
            return last.error();
        std::vector<Entry> entries;
        for (const Draft& draft : drafts) {
            Entry entry;
            entry.time_ms = std::max<std::int64_t>(surroundings_.now_ms(), 0);
            entry.id = make_entry_id(entry.time_ms, surroundings_.chance(), *last);
            *last = entry.id;
            entry.job = !job.empty()      ? std::string(job)
                        : entries.empty() ? entry.id
                                          : entries.front().id;
            entry.bench = bench_;
            entry.kind = draft.kind;
            entry.body = draft.body;
            if (Result<Done> sound = check_draft(entry); !sound.ok())
                return sound.error();
            entries.push_back(std::move(entry));
        }
        if (Result<int> inserted = insert(entries); !inserted.ok())
            return inserted.error();
        if (Result<Done> committed = transaction->commit(); !committed.ok())
            return committed.error();
        return entries;
    }

    Result<int> merge(std::span<const Entry> entries) override {
        for (const Entry& entry : entries) {
            if (Result<Done> sound = check_form(entry); !sound.ok())
                return sound.error();
            if (entry.id[0] >= k_first_far_letter)
                return Error{
                    ErrorCode::refused, "id",
                    fmt::format("Entry {} claims to be from the far future and is not taken in.",
                                entry.id)};
        }
        const std::lock_guard lock(mutex_);
        Result<Transaction> transaction = Transaction::begin(database_);
        if (!transaction.ok())
            return transaction.error();
        const Result<int> added = insert(entries);
        if (!added.ok())
            return added.error();
        if (Result<Done> committed = transaction->commit(); !committed.ok())
            return committed.error();
        return *added;
    }

    Result<std::vector<JobSummary>> jobs() override {
        const std::lock_guard lock(mutex_);
        // Only what the sheet and the count of photos rest on is read; the rest of a job may be a
        // thousand entries.
        Result<Statement> rows = database_.prepare(fmt::format(
            "SELECT {} FROM entry WHERE kind IN ('job', 'photo', 'strike') ORDER BY job, id",
            k_columns));
        Result<Statement> counts =
            database_.prepare("SELECT count(*), max(id), (SELECT time_ms FROM entry WHERE job = ?1 "
                              "ORDER BY id DESC LIMIT 1) "
                              "FROM entry WHERE job = ?1");
        if (!rows.ok())
            return rows.error();
        if (!counts.ok())
            return counts.error();
        std::vector<std::pair<std::string, JobSummary>> by_last;
        std::vector<Entry> entries;
        const auto finish = [&]() -> Result<Done> {
            if (entries.empty())
                return Done{};
            const std::string id = entries.front().job;
            const Result<Job> folded = fold_job(id, entries);
            entries.clear();
            if (!folded.ok())
                return Done{}; // entries of a job whose sheet has not come here
            counts->bind(0, id);
            const Result<bool> row = counts->step();
            if (!row.ok())
                return row.error();
            JobSummary summary;
            summary.job = id;
            summary.sheet = folded->sheet;
            summary.standing = folded->standing;
            summary.photos = static_cast<int>(std::count_if(
                folded->photos.begin(), folded->photos.end(),
                [](const PhotoRecord& photo) { return photo.source.standing == Standing::valid; }));
            summary.entries = static_cast<int>(counts->integer(0));
            summary.touched_ms = counts->integer(2);
            by_last.emplace_back(counts->text(1), std::move(summary));
            counts->reset();
            return Done{};
        };
        while (true) {
            const Result<bool> row = rows->step();
            if (!row.ok())
                return row.error();
            if (!*row)
                break;
            Entry entry = read_entry(*rows);
            if (!entries.empty() && entries.front().job != entry.job)
                if (Result<Done> finished = finish(); !finished.ok())
                    return finished.error();
            entries.push_back(std::move(entry));
        }
        if (Result<Done> finished = finish(); !finished.ok())
            return finished.error();
        std::sort(by_last.begin(), by_last.end(),
                  [](const auto& a, const auto& b) { return a.first > b.first; });
        std::vector<JobSummary> summaries;
        summaries.reserve(by_last.size());
        for (auto& one : by_last)
            summaries.push_back(std::move(one.second));
        return summaries;
    }

    Result<std::vector<Entry>> entries(std::string_view job) override {
        const std::lock_guard lock(mutex_);
        Result<Statement> rows = database_.prepare(
            fmt::format("SELECT {} FROM entry WHERE job = ? ORDER BY id", k_columns));
        if (!rows.ok())
            return rows.error();
        rows->bind(0, job);
        std::vector<Entry> entries;
        while (true) {
            const Result<bool> row = rows->step();
            if (!row.ok())
                return row.error();
            if (!*row)
                return entries;
            entries.push_back(read_entry(*rows));
        }
    }

    Result<Job> job(std::string_view job) override {
        const Result<std::vector<Entry>> all = entries(job);
        if (!all.ok())
            return all.error();
        return fold_job(job, *all);
    }

    Result<Entry> add_photo(std::string_view job, std::span<const std::byte> bytes,
                            PhotoRecord photo) override {
        {
            // Before the work, so that a photo of no job leaves nothing in the vault.
            const std::lock_guard lock(mutex_);
            if (Result<Done> there = check_job(job); !there.ok())
                return there.error();
        }
        const Result<ImageFacts> facts = sniff_image(bytes, "photo");
        if (!facts.ok())
            return facts.error();
        Result<Picture> view = decode_apart(decoder_path(), bytes, k_view_longest, "photo");
        if (!view.ok())
            return view.error();
        photo.hash = sha256_hex(bytes);
        photo.type = facts->type == ImageType::png ? "png" : "jpeg";
        const bool on_its_side = facts->orientation >= 5;
        photo.width = on_its_side ? facts->height : facts->width;
        photo.height = on_its_side ? facts->width : facts->height;
        photo.bytes = static_cast<std::int64_t>(bytes.size());
        // The original is safe before the entry names it. Bytes that no entry names do no harm.
        if (Result<Done> kept = vault_->keep(photo.hash, bytes); !kept.ok())
            return kept.error();
        Result<Entry> entry = append(job, EntryKind::photo, photo_body(photo));
        if (entry.ok()) {
            flatten(*view);
            vault_->keep_copy(photo.hash, k_view_longest, *view);
            vault_->keep_copy(photo.hash, k_thumbnail_longest,
                              shrunk(std::move(*view), k_thumbnail_longest));
        }
        return entry;
    }

    Result<PhotoRecord> keep_drawing(const Picture& picture, PhotoRecord photo) override {
        const Result<std::vector<std::byte>> jpeg = encode_jpeg(picture, k_drawing_quality);
        if (!jpeg.ok())
            return jpeg.error();
        photo.hash = sha256_hex(*jpeg);
        photo.type = "jpeg";
        photo.width = picture.width;
        photo.height = picture.height;
        photo.bytes = static_cast<std::int64_t>(jpeg->size());
        if (Result<Done> kept = vault_->keep(photo.hash, *jpeg); !kept.ok())
            return kept.error();
        vault_->keep_copy(photo.hash, k_thumbnail_longest, shrunk(picture, k_thumbnail_longest));
        return photo;
    }

    Result<std::vector<std::byte>> photo_bytes(std::string_view hash) override {
        return vault_->read(hash);
    }

    Result<Picture> photo_picture(std::string_view hash, int longest) override {
        if (longest < 1 || longest > k_most_longest)
            return Error{ErrorCode::out_of_range, "longest",
                         fmt::format("A picture of {} pixels was asked for; accepted is 1 to {}.",
                                     longest, k_most_longest)};
        if (!is_photo_hash(hash))
            return Error{ErrorCode::not_found, "photo",
                         "A photo is named by 64 hexadecimal digits."};
        if (std::optional<Picture> copy = vault_->copy(hash, longest))
            return std::move(*copy);
        const Result<std::vector<std::byte>> bytes = vault_->read(hash);
        if (!bytes.ok())
            return bytes.error();
        Result<Picture> picture = decode_apart(decoder_path(), *bytes, longest, "photo");
        if (picture.ok()) {
            flatten(*picture);
            vault_->keep_copy(hash, longest, *picture);
        }
        return picture;
    }

    const fs::path& folder() const override { return folder_; }

  private:
    Result<Done> check_job(std::string_view job) {
        Result<Statement> statement =
            database_.prepare("SELECT 1 FROM entry WHERE job = ? AND kind = 'job' LIMIT 1");
        if (!statement.ok())
            return statement.error();
        statement->bind(0, job);
        const Result<bool> row = statement->step();
        if (!row.ok())
            return row.error();
        if (!*row)
            return Error{ErrorCode::not_found, "job",
                         fmt::format("There is no job {:.40} on this bench.", job)};
        return Done{};
    }

    /// What this program writes fits its own grammar and speaks only of what is there.
    Result<Done> check_draft(const Entry& entry) {
        if (entry.kind == EntryKind::unknown)
            return Error{ErrorCode::refused, "kind",
                         "An entry of unknown kind can be carried along but not written."};
        if (Result<Done> sound = check_entry(entry); !sound.ok())
            return sound;
        const char* member = entry.kind == EntryKind::strike ? "entry"
                             : entry.kind == EntryKind::tick ? "list"
                                                             : nullptr;
        if (member == nullptr)
            return Done{};
        Result<Statement> statement =
            database_.prepare("SELECT kind FROM entry WHERE id = ? AND job = ?");
        if (!statement.ok())
            return statement.error();
        const auto& target = entry.body[member].get_ref<const std::string&>();
        statement->bind(0, target);
        statement->bind(1, entry.job);
        const Result<bool> row = statement->step();
        if (!row.ok())
            return row.error();
        if (!*row || (entry.kind == EntryKind::tick &&
                      statement->text(0) != entry_kind_key(EntryKind::list)))
            return Error{ErrorCode::not_found, member,
                         fmt::format("This job has no {} {}.",
                                     entry.kind == EntryKind::tick ? "list" : "entry", target)};
        return Done{};
    }

    Result<int> insert(std::span<const Entry> entries) {
        Result<Statement> statement = database_.prepare(
            fmt::format("INSERT INTO entry({}) VALUES(?, ?, ?, ?, ?, ?) ON CONFLICT(id) DO NOTHING",
                        k_columns));
        if (!statement.ok())
            return statement.error();
        int added = 0;
        for (const Entry& entry : entries) {
            const std::string body = entry.body.dump();
            statement->bind(0, entry.id);
            statement->bind(1, entry.job);
            statement->bind(2, entry.time_ms);
            statement->bind(3, entry.bench);
            statement->bind(4, written_kind(entry));
            statement->bind(5, body);
            if (Result<Done> written = statement->run(); !written.ok())
                return written.error();
            added += database_.changed();
        }
        return added;
    }

    fs::path folder_;
    Surroundings surroundings_;
    FolderLock lock_;
    Database database_; // closed before the lock is let go
    std::unique_ptr<Vault> vault_;
    std::string bench_;
    std::mutex mutex_; // one user of the database at a time
};

} // namespace

Surroundings system_surroundings() {
    return {[] {
                const auto now = std::chrono::system_clock::now().time_since_epoch();
                return static_cast<std::int64_t>(
                    std::chrono::duration_cast<std::chrono::milliseconds>(now).count());
            },
            [] {
                std::array<std::uint8_t, 10> bits = {};
                if (::getentropy(bits.data(), bits.size()) != 0) {
                    // A kernel without it: the processor's own chance, as far as the library finds
                    // one.
                    std::random_device device;
                    for (std::uint8_t& byte : bits)
                        byte = static_cast<std::uint8_t>(device());
                }
                return bits;
            }};
}

Result<std::unique_ptr<Bench>> Bench::open(const fs::path& folder, Surroundings surroundings) {
    if (Result<Done> made = make_folder(folder); !made.ok())
        return made.error();
    Result<FolderLock> lock = FolderLock::take(folder / "bench.lock");
    if (!lock.ok())
        return lock.error();

    const fs::path file = folder / "bench.db";
    const fs::path log = folder / "bench.db-wal";
    std::error_code error;
    if (fs::symlink_status(file, error).type() == fs::file_type::not_found) {
        if (fs::file_size(log, error) > 0 && !error)
            return not_a_bench(file); // a log without its database: someone took the database away
        const std::string bench = make_entry_id(surroundings.now_ms(), surroundings.chance(), "");
        if (Result<Done> made = make_database(folder, bench); !made.ok())
            return made.error();
    }
    if (Result<Done> known = check_header(file); !known.ok())
        return known.error();
    const std::uintmax_t left_over = fs::file_size(log, error);
    const bool clean = error || left_over == 0;

    Result<Database> database = Database::open(file, Opening::existing);
    if (!database.ok())
        return database.error();
    database->leave_files_alone(); // until it is known to be ours to work with
    if (Result<Done> set = database->run("PRAGMA locking_mode=EXCLUSIVE; PRAGMA synchronous=EXTRA;"
                                         "PRAGMA fullfsync=ON; PRAGMA checkpoint_fullfsync=ON;");
        !set.ok())
        return set.error();
    const Result<std::int64_t> schema = database->integer("PRAGMA user_version");
    if (!schema.ok())
        return schema.error();
    if (*schema > k_schema)
        return too_new(file, *schema); // said only in the log: a newer program crashed here
    if (*schema < 1)
        return not_a_bench(file);
    if (!clean) {
        // The last run ended without closing. SQLite has put the log right; see whether the disk
        // has kept its word.
        const Result<std::string> sound = database->text("PRAGMA quick_check(1)");
        if (!sound.ok())
            return sound.error();
        if (*sound != "ok")
            return Error{ErrorCode::damaged, file.string(),
                         fmt::format("{} is damaged ({}). Make a copy of the bench's folder before "
                                     "anything else, then "
                                     "take the last good copy of it into use.",
                                     file.string(), *sound)};
    }
    const Result<std::string> mode = database->text("PRAGMA journal_mode=WAL");
    if (!mode.ok())
        return mode.error();
    const Result<std::string> bench = database->text("SELECT value FROM about WHERE key = 'bench'");
    if (!bench.ok())
        return bench.error();
    if (bench->empty())
        return not_a_bench(file);
    database->fold_in_on_close();
    Result<std::unique_ptr<Vault>> vault = Vault::open(folder);
    if (!vault.ok())
        return vault.error();
    // An earlier run may have been ended between making something here and syncing its name.
    if (Result<Done> synced = sync_folder(folder); !synced.ok())
        return synced.error();
    return std::unique_ptr<Bench>(
        std::make_unique<BenchOnDisk>(folder, std::move(surroundings), std::move(*lock),
                                      std::move(*database), std::move(*vault), *bench));
}

} // namespace railside
