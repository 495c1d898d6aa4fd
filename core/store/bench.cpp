#include "core/store/bench.h"

#include "core/store/backup.h"
#include "core/store/bench_file.h"
#include "core/store/disk.h"
#include "core/store/entry_row.h"
#include "core/store/image.h"
#include "core/store/index.h"
#include "core/store/job_file.h"
#include "core/store/resize.h"
#include "core/store/search.h"
#include "core/store/sha256.h"
#include "core/store/sqlite.h"
#include "core/store/vault.h"
#include "core/words/words.h"

#include <fmt/format.h>

#include <algorithm>
#include <chrono>
#include <mutex>
#include <optional>
#include <random>
#include <set>
#include <utility>

#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

namespace railside {

namespace fs = std::filesystem;
using Json = nlohmann::json;

namespace {

constexpr int k_view_longest = 1600;
constexpr int k_thumbnail_longest = 256;
constexpr int k_drawing_quality = 88;
constexpr int k_most_longest = 16384;
constexpr std::size_t k_most_recording = 64'000'000;
constexpr std::size_t k_most_causes = 4;

/// Makes the database under another name and renames it when it is whole, so that bench.db is never
/// half made.
Result<Done> make_database(const fs::path& folder, const std::string& bench) {
    const fs::path draft = folder / "bench.db.part";
    remove_database(draft);
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
        if (Result<Done> made = database->run(k_make_journal); !made.ok())
            return made;
        const std::string numbers = fmt::format("PRAGMA application_id={}; PRAGMA user_version={};",
                                                k_bench_application, k_bench_form);
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
        return Error{
            ErrorCode::failed, folder.string(),
            worded("{} could not be made: {}.", (folder / "bench.db").string(), error.message())};
    return sync_folder(folder);
}

class BenchOnDisk final : public Bench {
  public:
    BenchOnDisk(fs::path folder, Surroundings surroundings, FolderLock lock, Database database,
                std::unique_ptr<Vault> vault, std::string bench)
        : folder_(std::move(folder)), surroundings_(std::move(surroundings)),
          lock_(std::move(lock)), database_(std::move(database)), vault_(std::move(vault)),
          bench_(std::move(bench)), index_(database_) {}

    /// Before anything else: takes in what a program without an index has written.
    Result<Done> prepare() {
        Result<Done> ready = index_.bring_up_to_date();
        // It can be made again; only what cannot is worth a refusal to open.
        if (!ready.ok() && ready.error().code == ErrorCode::damaged)
            ready = index_.make_again();
        return ready;
    }

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
        return mending_index<std::vector<Entry>>([&] { return append_once(job, drafts); });
    }

    Result<int> merge(std::span<const Entry> entries) override {
        for (const Entry& entry : entries) {
            if (Result<Done> sound = check_form(entry); !sound.ok())
                return sound.error();
            if (is_far_ahead(entry.id))
                return Error{
                    ErrorCode::refused, "id",
                    worded("Entry {} claims to be from the far future and is not taken in.",
                           entry.id)};
        }
        const std::lock_guard lock(mutex_);
        return mending_index<int>([&] { return merge_once(entries); });
    }

    Result<std::vector<JobSummary>> jobs() override {
        const std::lock_guard lock(mutex_);
        return index_.jobs();
    }

    Result<std::vector<Entry>> entries(std::string_view job) override {
        const std::lock_guard lock(mutex_);
        Result<Statement> rows = database_.prepare(
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
        Result<Picture> view = decoded(bytes, k_view_longest);
        if (!view.ok())
            return view.error();
        photo.hash = sha256_hex(bytes);
        photo.type = facts->type == ImageType::png ? "png" : "jpeg";
        const bool on_its_side = facts->orientation >= 5;
        photo.width = on_its_side ? facts->height : facts->width;
        photo.height = on_its_side ? facts->width : facts->height;
        photo.bytes = static_cast<std::int64_t>(bytes.size());
        // The original is safe before the entry names it. Bytes that no entry names do no harm.
        if (Result<Done> kept = keep(photo.hash, bytes); !kept.ok())
            return kept.error();
        Result<Entry> entry = append(job, EntryKind::photo, photo_body(photo));
        if (entry.ok() && !surroundings_.decode) {
            flatten(*view);
            vault_->keep_copy(photo.hash, k_view_longest, *view);
            vault_->keep_copy(photo.hash, k_thumbnail_longest,
                              shrunk(std::move(*view), k_thumbnail_longest));
        }
        return entry;
    }

    Result<RecordingRecord> keep_recording(std::span<const std::byte> bytes,
                                           RecordingRecord recording) override {
        if (bytes.empty() || bytes.size() > k_most_recording)
            return Error{ErrorCode::out_of_range, "recording",
                         worded("The recording has {} bytes; accepted is 1 to {} million.",
                                bytes.size(), k_most_recording / 1'000'000)};
        recording.hash = sha256_hex(bytes);
        recording.bytes = static_cast<std::int64_t>(bytes.size());
        if (Result<Done> kept = keep(recording.hash, bytes); !kept.ok())
            return kept.error();
        return recording;
    }

    Result<Entry> add_recording(std::string_view job, std::span<const std::byte> bytes,
                                RecordingRecord recording) override {
        {
            const std::lock_guard lock(mutex_);
            if (Result<Done> there = check_job(job); !there.ok())
                return there.error();
        }
        const auto kept = keep_recording(bytes, std::move(recording));
        if (!kept.ok())
            return kept.error();
        return append(job, EntryKind::recording, recording_body(*kept));
    }

    Result<std::vector<std::byte>> recording_bytes(std::string_view hash) override {
        return vault_->read(hash);
    }

    Result<Entry> append_bench(EntryKind kind, Json body) override {
        return append(k_bench_book, kind, std::move(body));
    }

    Result<std::vector<Entry>> bench_entries() override { return entries(k_bench_book); }

    Result<BenchBook> book() override {
        const Result<std::vector<Entry>> all = entries(k_bench_book);
        if (!all.ok())
            return all.error();
        return fold_book(*all);
    }

    Result<std::vector<JobFound>> search(std::string_view words, std::size_t most) override {
        const std::lock_guard lock(mutex_);
        return index_.search(words, most);
    }

    Result<std::vector<JobSeen>> seen_before(std::string_view job, std::size_t most) override {
        const Result<Job> folded = this->job(job);
        if (!folded.ok())
            return folded.error();
        Result<std::vector<JobSeen>> seen = [&] {
            const std::lock_guard lock(mutex_);
            return index_.seen_before(*folded, most);
        }();
        if (!seen.ok())
            return seen.error();
        for (JobSeen& one : *seen)
            if (const Result<Job> earlier = this->job(one.job.job); earlier.ok())
                one.causes = causes_found(*earlier, k_most_causes);
        return seen;
    }

    Result<JobFileReport> export_job(std::string_view job, const fs::path& file) override {
        const Result<std::vector<Entry>> all = entries(job);
        if (!all.ok())
            return all.error();
        if (const Result<Job> folded = fold_job(job, *all); !folded.ok() || job == k_bench_book)
            return Error{ErrorCode::not_found, "job",
                         worded("There is no job {:.40} on this bench.", job)};
        std::vector<Entry> sound;
        for (const Entry& entry : *all)
            if (check_form(entry).ok())
                sound.push_back(entry);
        const Result<int> files = write_job_file(
            file, job, sound, [this](std::string_view hash) { return vault_->read(hash); });
        if (!files.ok())
            return files.error();
        JobFileReport report;
        report.job = job;
        report.entries = static_cast<int>(sound.size());
        report.left_out = static_cast<int>(all->size() - sound.size());
        report.files = *files;
        report.missing = static_cast<int>(named_files(sound).size()) - *files;
        return report;
    }

    Result<JobFileReport> import_job(const fs::path& file) override {
        Result<JobFile> opened = JobFile::open(file);
        if (!opened.ok())
            return opened.error();
        const Result<std::vector<Entry>> here = entries(opened->job());
        if (!here.ok())
            return here.error();
        // Two entries of one id are one entry; a file that says otherwise was tampered with, or
        // this bench was.
        for (const Entry& mine : *here) {
            const auto& all = opened->entries();
            const auto theirs =
                std::lower_bound(all.begin(), all.end(), mine.id,
                                 [](const Entry& a, const std::string& id) { return a.id < id; });
            if (theirs != all.end() && theirs->id == mine.id && *theirs != mine &&
                check_form(mine).ok())
                return Error{ErrorCode::refused, file.string(),
                             worded("{} tells entry {} otherwise than this bench does: one of "
                                    "the two was changed. Nothing was taken from it.",
                                    file.string(), mine.id)};
        }
        JobFileReport report;
        report.job = opened->job();
        report.entries = static_cast<int>(opened->entries().size());
        report.files = static_cast<int>(opened->files().size());
        for (const NamedFile& one : opened->files()) {
            const Result<std::vector<std::byte>> bytes = opened->bytes(one.hash);
            if (!bytes.ok())
                return bytes.error();
            if (Result<Done> kept = keep(one.hash, *bytes); !kept.ok())
                return kept.error();
        }
        for (const NamedFile& one : opened->missing())
            report.missing += vault_->read(one.hash).ok() ? 0 : 1;
        const Result<int> added = merge(opened->entries());
        if (!added.ok())
            return added.error();
        report.new_entries = *added;
        return report;
    }

    Result<BackupReport> backup(const fs::path& to) override {
        return make_backup({folder_, bench_, &database_, &mutex_, vault_.get()}, to);
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
        if (Result<Done> kept = keep(photo.hash, *jpeg); !kept.ok())
            return kept.error();
        if (!surroundings_.decode)
            vault_->keep_copy(photo.hash, k_thumbnail_longest,
                              shrunk(picture, k_thumbnail_longest));
        return photo;
    }

    Result<std::vector<std::byte>> photo_bytes(std::string_view hash) override {
        return vault_->read(hash);
    }

    Result<Picture> photo_picture(std::string_view hash, int longest) override {
        if (longest < 1 || longest > k_most_longest)
            return Error{ErrorCode::out_of_range, "longest",
                         worded("A picture of {} pixels was asked for; accepted is 1 to {}.",
                                longest, k_most_longest)};
        if (!is_photo_hash(hash))
            return Error{ErrorCode::not_found, "photo",
                         "A photo is named by 64 hexadecimal digits."};
        if (std::optional<Picture> copy = vault_->copy(hash, longest))
            return std::move(*copy);
        const Result<std::vector<std::byte>> bytes = vault_->read(hash);
        if (!bytes.ok())
            return bytes.error();
        Result<Picture> picture = decoded(*bytes, longest);
        if (picture.ok() && !surroundings_.decode) {
            flatten(*picture);
            vault_->keep_copy(hash, longest, *picture);
        }
        return picture;
    }

    const fs::path& folder() const override { return folder_; }

  private:
    [[nodiscard]] Result<Picture> decoded(std::span<const std::byte> bytes, int longest) const {
        return surroundings_.decode ? surroundings_.decode(bytes, longest)
                                    : decode_apart(decoder_path(), bytes, longest, "photo");
    }

    [[nodiscard]] Result<Done> may_write() const {
        return surroundings_.may_write ? surroundings_.may_write() : Result<Done>(Done{});
    }

    Result<Done> keep(std::string_view hash, std::span<const std::byte> bytes) {
        if (Result<Done> may = may_write(); !may.ok())
            return may;
        Result<Done> kept = vault_->keep(hash, bytes);
        if (kept.ok() && surroundings_.file_written)
            surroundings_.file_written(hash, bytes);
        return kept;
    }

    void tell(std::span<const Entry> entries) const {
        if (surroundings_.entries_written && !entries.empty())
            surroundings_.entries_written(entries);
    }

    /// Does it; should that be refused as damaged, makes the index again and does it once more: the
    /// journal never waits for what can be worked out from it. A damaged journal fails again.
    template <class T, class Work> Result<T> mending_index(const Work& work) {
        Result<T> done = work();
        if (done.ok() || done.error().code != ErrorCode::damaged)
            return done;
        if (Result<Done> made = index_.make_again(); !made.ok())
            return made.error();
        return work();
    }

    Result<std::vector<Entry>> append_once(std::string_view job, std::span<const Draft> drafts) {
        if (Result<Done> may = may_write(); !may.ok())
            return may.error();
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
            if (Result<Done> sound = check_draft(entry, entries); !sound.ok())
                return sound.error();
            entries.push_back(std::move(entry));
        }
        if (Result<std::vector<Entry>> inserted = insert(entries); !inserted.ok())
            return inserted.error();
        if (Result<Done> taken = index_.take(entries.front().job, entries); !taken.ok())
            return taken.error();
        if (Result<Done> sealed = index_.seal(); !sealed.ok())
            return sealed.error();
        if (Result<Done> committed = transaction->commit(); !committed.ok())
            return committed.error();
        tell(entries);
        return entries;
    }

    Result<int> merge_once(std::span<const Entry> entries) {
        if (Result<Done> may = may_write(); !may.ok())
            return may.error();
        Result<Transaction> transaction = Transaction::begin(database_);
        if (!transaction.ok())
            return transaction.error();
        const Result<std::vector<Entry>> added = insert(entries);
        if (!added.ok())
            return added.error();
        std::set<std::string> jobs;
        for (const Entry& entry : *added)
            jobs.insert(entry.job);
        for (const std::string& job : jobs)
            if (Result<Done> rebuilt = index_.rebuild(job); !rebuilt.ok())
                return rebuilt.error();
        if (Result<Done> sealed = index_.seal(); !sealed.ok())
            return sealed.error();
        if (Result<Done> committed = transaction->commit(); !committed.ok())
            return committed.error();
        tell(*added);
        return static_cast<int>(added->size());
    }

    Result<Done> check_job(std::string_view job) {
        if (job == k_bench_book)
            return Done{};
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
                         worded("There is no job {:.40} on this bench.", job)};
        return Done{};
    }

    /// What this program writes fits its own grammar, stands where it belongs and speaks only of
    /// what is there. `before` are those of the same call.
    Result<Done> check_draft(const Entry& entry, std::span<const Entry> before) {
        if (entry.kind == EntryKind::unknown)
            return Error{ErrorCode::refused, "kind",
                         "An entry of unknown kind can be carried along but not written."};
        if (Result<Done> sound = check_entry(entry); !sound.ok())
            return sound;
        const bool in_book = entry.job == k_bench_book;
        if (in_book ? !belongs_in_book(entry.kind) : !belongs_in_job(entry.kind))
            return Error{ErrorCode::refused, "kind",
                         worded("An entry of kind \"{}\" belongs {}.", entry_kind_key(entry.kind),
                                in_book ? "in a job" : "in the bench's book")};
        struct Target {
            const char* member = nullptr;
            std::optional<EntryKind> kind; // it must be of; none: any
            const char* what = nullptr;
        };
        const auto check = [&](const Target& target) {
            return check_target(entry, before, target.member, target.kind, target.what);
        };
        switch (entry.kind) {
        case EntryKind::strike:
            return check({"entry", std::nullopt, "entry"});
        case EntryKind::tick:
            return check({"list", EntryKind::list, "list"});
        case EntryKind::put_back:
            return check({"item", EntryKind::taken_off, "taken-off item"});
        case EntryKind::mark:
            return check({"photo", EntryKind::photo, "photo"});
        case EntryKind::pair:
            if (Result<Done> first = check({"before", EntryKind::photo, "photo"}); !first.ok())
                return first;
            return check({"after", EntryKind::photo, "photo"});
        case EntryKind::instrument:
            return entry.body.contains("of") ? check({"of", EntryKind::instrument, "instrument"})
                                             : Result<Done>(Done{});
        default:
            return Done{};
        }
    }

    Result<Done> check_target(const Entry& entry, std::span<const Entry> before, const char* member,
                              std::optional<EntryKind> kind, std::string_view what) {
        const auto& target = entry.body[member].get_ref<const std::string&>();
        const auto fits = [&](std::string_view found) {
            return !kind || found == entry_kind_key(*kind);
        };
        const std::span<const Entry> starting =
            entry.job == k_bench_book ? starting_entries() : std::span<const Entry>();
        for (const std::span<const Entry> some : {before, starting})
            for (const Entry& one : some)
                if (one.id == target && fits(written_kind(one)))
                    return Done{};
        Result<Statement> statement =
            database_.prepare("SELECT kind FROM entry WHERE id = ? AND job = ?");
        if (!statement.ok())
            return statement.error();
        statement->bind(0, target);
        statement->bind(1, entry.job);
        const Result<bool> row = statement->step();
        if (!row.ok())
            return row.error();
        if (!*row || !fits(statement->text(0)))
            return Error{ErrorCode::not_found, member,
                         worded("{} has no {} {}.",
                                entry.job == k_bench_book ? "This bench" : "This job", what,
                                target)};
        return Done{};
    }

    /// Those that were new.
    Result<std::vector<Entry>> insert(std::span<const Entry> entries) {
        Result<Statement> statement = database_.prepare(
            fmt::format("INSERT INTO entry({}) VALUES(?, ?, ?, ?, ?, ?) ON CONFLICT(id) DO NOTHING",
                        k_entry_columns));
        if (!statement.ok())
            return statement.error();
        std::vector<Entry> added;
        for (const Entry& entry : entries) {
            const std::string body = entry.body.dump();
            bind_entry(*statement, entry, body);
            if (Result<Done> written = statement->run(); !written.ok())
                return written.error();
            if (database_.changed() > 0)
                added.push_back(entry);
        }
        return added;
    }

    fs::path folder_;
    Surroundings surroundings_;
    FolderLock lock_;
    Database database_; // closed before the lock is let go
    std::unique_ptr<Vault> vault_;
    std::string bench_;
    Index index_;
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
    if (Result<Done> known = check_bench_header(file); !known.ok())
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
    if (*schema > k_bench_form)
        return too_new_a_bench(file, *schema); // said only in the log: a newer program crashed here
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
                         worded("{} is damaged ({}). Make a copy of the bench's folder before "
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
    auto opened = std::make_unique<BenchOnDisk>(folder, std::move(surroundings), std::move(*lock),
                                                std::move(*database), std::move(*vault), *bench);
    if (Result<Done> ready = opened->prepare(); !ready.ok())
        return ready.error();
    return std::unique_ptr<Bench>(std::move(opened));
}

} // namespace railside
