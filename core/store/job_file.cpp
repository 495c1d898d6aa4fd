#include "core/store/job_file.h"

#include "core/store/disk.h"
#include "core/store/entry_row.h"
#include "core/store/image.h"
#include "core/store/sha256.h"
#include "core/store/vault.h"
#include "core/words/words.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <fstream>
#include <set>

namespace railside {

namespace fs = std::filesystem;
using Json = nlohmann::json;

namespace {

constexpr std::int64_t k_application = 0x52736A66; // "Rsjf", at byte 68 of the file
constexpr std::int64_t k_form = 1;
constexpr int k_most_row = 64'500'000; // a file of 64 MB and its row
constexpr std::size_t k_most_body = 1'000'000;
constexpr std::size_t k_most_entries = 100'000;
constexpr std::size_t k_most_bodies = 256'000'000; // bytes of all bodies
constexpr std::size_t k_most_files = 20'000;
constexpr std::string_view k_tables[] = {"about", "entry", "file"};

/// What stands in sqlite_schema, word for word, sorted by name. A file whose schema differs in a
/// letter is not one of ours.
struct SchemaRow {
    std::string_view type;
    std::string_view name;
    std::string_view table;
    std::string_view sql;
};
constexpr SchemaRow k_schema[] = {
    {"table", "about", "about",
     "CREATE TABLE about(key TEXT NOT NULL, value TEXT NOT NULL) STRICT"},
    {"table", "entry", "entry",
     "CREATE TABLE entry(id TEXT NOT NULL, job TEXT NOT NULL, time_ms INTEGER NOT NULL, bench TEXT "
     "NOT NULL, kind TEXT NOT NULL, body TEXT NOT NULL) STRICT"},
    {"table", "file", "file", "CREATE TABLE file(hash TEXT NOT NULL, bytes BLOB NOT NULL) STRICT"},
};

std::int64_t big_endian(std::span<const char> bytes, std::size_t at) {
    std::int64_t value = 0;
    for (std::size_t i = 0; i < 4; ++i)
        value = value * 256 + static_cast<unsigned char>(bytes[at + i]);
    return value;
}

enum class Header { none, other, old_or_ours, newer, not_rollback };

/// SQLite's header: sqlite.org/fileformat2.html, section 1.3.
Header header_of(const fs::path& file) {
    std::array<char, 100> head = {};
    std::ifstream in(file, std::ios::binary);
    if (!in)
        return Header::none;
    in.read(head.data(), head.size());
    static constexpr std::string_view k_magic("SQLite format 3\0", 16);
    if (in.gcount() < static_cast<std::streamsize>(head.size()) ||
        !std::equal(k_magic.begin(), k_magic.end(), head.begin()) ||
        big_endian(head, 68) != k_application)
        return Header::other;
    if (big_endian(head, 60) > k_form)
        return Header::newer;
    // 1: a rollback journal. With a write-ahead log what counts could lie in another file.
    return head[18] == 1 && head[19] == 1 ? Header::old_or_ours : Header::not_rollback;
}

} // namespace

std::vector<NamedFile> named_files(std::span<const Entry> entries) {
    std::vector<NamedFile> files;
    std::set<std::string, std::less<>> seen;
    for (const Entry& entry : entries) {
        if ((entry.kind != EntryKind::photo && entry.kind != EntryKind::recording) ||
            !check_entry(entry).ok())
            continue;
        const Json& body = entry.body;
        NamedFile file;
        file.hash = body["hash"].get<std::string>();
        file.bytes = body["bytes"].get<std::int64_t>();
        if (entry.kind == EntryKind::photo) {
            file.type = body["type"].get<std::string>();
            file.width = body["width"].get<int>();
            file.height = body["height"].get<int>();
        }
        if (seen.insert(file.hash).second)
            files.push_back(std::move(file));
    }
    return files;
}

Error JobFile::wrong(ErrorCode code, std::string_view what) const {
    return Error{code, file_.string(),
                 worded("{} {}. Nothing was taken from it.", file_.string(), what)};
}

Result<JobFile> JobFile::open(const fs::path& file) {
    const auto refuse = [&](ErrorCode code, std::string_view what) {
        return Error{code, file.string(),
                     worded("{} {}. Nothing was taken from it.", file.string(), what)};
    };
    std::error_code error;
    const fs::file_status status = fs::status(file, error);
    if (status.type() == fs::file_type::not_found)
        return Error{ErrorCode::not_found, file.string(),
                     worded("There is no file {}.", file.string())};
    if (error || status.type() != fs::file_type::regular)
        return refuse(ErrorCode::refused, "is not a file");
    switch (header_of(file)) {
    case Header::none:
        return refuse(ErrorCode::failed, "could not be read: check its permissions");
    case Header::other:
        return refuse(ErrorCode::damaged, "is not a job file");
    case Header::newer:
        return refuse(ErrorCode::refused, "was written by a newer Railside; open it with that one");
    case Header::not_rollback:
        return refuse(
            ErrorCode::damaged,
            "is not a job file as Railside writes it: part of it may lie in another file");
    case Header::old_or_ours:
        break;
    }
    Result<Database> database = Database::open_foreign(file, k_tables, k_most_row);
    if (!database.ok())
        return refuse(ErrorCode::damaged, "could not be opened as a job file");
    JobFile opened(file, std::move(*database));
    if (Result<Done> sound = opened.check(); !sound.ok()) {
        // SQLite's own findings are about a database; the person has a file in hand.
        const Error& found = sound.error();
        if (found.message.find("Nothing was taken") == std::string::npos)
            return refuse(ErrorCode::damaged, found.code == ErrorCode::refused
                                                  ? "holds a value that is too large"
                                                  : "is damaged or was not written by Railside");
        return found;
    }
    return opened;
}

Result<Done> JobFile::check() {
    if (Result<Done> schema = check_schema(); !schema.ok())
        return schema;
    {
        const Result<std::string> sound = database_.text("PRAGMA quick_check(1)");
        if (!sound.ok())
            return sound.error();
        if (*sound != "ok")
            return wrong(ErrorCode::damaged, "is damaged");
    }
    if (Result<Done> read = read_entries(); !read.ok())
        return read;
    return check_files();
}

Result<Done> JobFile::check_schema() {
    Result<Statement> rows =
        database_.prepare("SELECT type, name, tbl_name, sql FROM sqlite_schema ORDER BY name");
    if (!rows.ok())
        return rows.error();
    const auto other = [this] {
        return wrong(ErrorCode::damaged, "does not have the tables of a job file, and only these");
    };
    for (const SchemaRow& expected : k_schema) {
        const Result<bool> row = rows->step();
        if (!row.ok())
            return row.error();
        if (!*row || rows->text(0) != expected.type || rows->text(1) != expected.name ||
            rows->text(2) != expected.table || rows->text(3) != expected.sql)
            return other();
    }
    const Result<bool> more = rows->step();
    if (!more.ok())
        return more.error();
    return *more ? Result<Done>(other()) : Result<Done>(Done{});
}

Result<Done> JobFile::read_entries() {
    {
        Result<Statement> about = database_.prepare("SELECT key, value FROM about");
        if (!about.ok())
            return about.error();
        while (true) {
            const Result<bool> row = about->step();
            if (!row.ok())
                return row.error();
            if (!*row)
                break;
            if (about->text(0) == "job" && job_.empty())
                job_ = about->text(1);
        }
    }
    if (!is_entry_id(job_) || job_ == k_bench_book)
        return wrong(ErrorCode::damaged, "does not say which job it holds");
    Result<Statement> rows =
        database_.prepare(fmt::format("SELECT {} FROM entry", k_entry_columns));
    if (!rows.ok())
        return rows.error();
    std::size_t bodies = 0;
    while (true) {
        const Result<bool> row = rows->step();
        if (!row.ok())
            return row.error();
        if (!*row)
            break;
        for (const int column : {0, 1, 3, 4, 5})
            if (rows->type(column) != ColumnType::text)
                return wrong(ErrorCode::damaged, "holds an entry that is not one");
        const std::size_t length = rows->text(5).size();
        bodies += length;
        if (rows->type(2) != ColumnType::integer || length > k_most_body)
            return wrong(ErrorCode::damaged, "holds an entry that is not one");
        if (entries_.size() == k_most_entries || bodies > k_most_bodies)
            return wrong(ErrorCode::refused,
                         worded("holds more than the {} entries or {} MB accepted here",
                                k_most_entries, k_most_bodies / 1'000'000));
        Entry entry = read_entry(*rows);
        if (const Result<Done> sound = check_form(entry); !sound.ok())
            return wrong(ErrorCode::damaged,
                         worded("holds an entry that is not one: {}", sound.error().message));
        if (entry.job != job_)
            return wrong(ErrorCode::refused, "holds entries of another job beside its own");
        if (is_far_ahead(entry.id))
            return wrong(ErrorCode::refused,
                         "holds an entry that claims to be from the far future");
        entries_.push_back(std::move(entry));
    }
    std::sort(entries_.begin(), entries_.end(),
              [](const Entry& a, const Entry& b) { return a.id < b.id; });
    if (std::adjacent_find(entries_.begin(), entries_.end(), [](const Entry& a, const Entry& b) {
            return a.id == b.id;
        }) != entries_.end())
        return wrong(ErrorCode::damaged, "holds two entries of one id");
    if (!fold_job(job_, entries_).ok())
        return wrong(ErrorCode::damaged, "holds no sheet for its job");
    return Done{};
}

Result<Done> JobFile::check_files() {
    std::map<std::string, NamedFile, std::less<>> named;
    for (NamedFile& file : named_files(entries_))
        named.emplace(file.hash, file);
    Result<Statement> rows = database_.prepare("SELECT rowid, hash, bytes FROM file");
    if (!rows.ok())
        return rows.error();
    while (true) {
        const Result<bool> row = rows->step();
        if (!row.ok())
            return row.error();
        if (!*row)
            break;
        if (rows->type(1) != ColumnType::text || rows->type(2) != ColumnType::blob ||
            !is_photo_hash(rows->text(1)))
            return wrong(ErrorCode::damaged, "holds a photo or recording without its name");
        const std::string hash(rows->text(1));
        const auto entry = named.find(hash);
        if (entry == named.end())
            return wrong(ErrorCode::refused,
                         worded("holds bytes ({:.8}) that no entry names", hash));
        if (files_.size() == k_most_files)
            return wrong(ErrorCode::refused,
                         worded("holds more than the {} photos accepted here", k_most_files));
        if (!row_of_.emplace(hash, rows->integer(0)).second)
            return wrong(ErrorCode::damaged, "holds two photos or recordings of one name");
        const std::span<const std::byte> bytes = rows->blob(2);
        if (static_cast<std::int64_t>(bytes.size()) != entry->second.bytes ||
            sha256_hex(bytes) != hash)
            return wrong(
                ErrorCode::damaged,
                worded("holds a photo or recording ({:.8}) whose bytes have changed", hash));
        if (!entry->second.type.empty()) {
            // No more than its first bytes are read here; decoding happens apart, when it is shown.
            const Result<ImageFacts> facts = sniff_image(bytes, "photo");
            const bool turned = facts.ok() && facts->orientation >= 5;
            if (!facts.ok() ||
                (facts->type == ImageType::png ? "png" : "jpeg") != entry->second.type ||
                (turned ? facts->height : facts->width) != entry->second.width ||
                (turned ? facts->width : facts->height) != entry->second.height)
                return wrong(ErrorCode::damaged,
                             worded("holds a photo ({:.8}) that is not what its entry says", hash));
        }
        files_.push_back(entry->second);
    }
    for (auto& one : named)
        if (row_of_.find(one.first) == row_of_.end())
            missing_.push_back(one.second);
    return Done{};
}

Result<std::vector<std::byte>> JobFile::bytes(std::string_view hash) {
    const auto row_id = row_of_.find(hash);
    if (row_id == row_of_.end())
        return wrong(ErrorCode::not_found, worded("holds no photo or recording {:.8}", hash));
    Result<Statement> rows = database_.prepare("SELECT bytes FROM file WHERE rowid = ?");
    if (!rows.ok())
        return rows.error();
    rows->bind(0, row_id->second);
    const Result<bool> row = rows->step();
    if (!row.ok())
        return row.error();
    const std::span<const std::byte> bytes = *row ? rows->blob(0) : std::span<const std::byte>();
    if (sha256_hex(bytes) != hash)
        return wrong(ErrorCode::damaged, "changed while it was read");
    return std::vector<std::byte>(bytes.begin(), bytes.end());
}

namespace {

Result<int> fill(const fs::path& draft, std::string_view job, std::span<const Entry> entries,
                 const BytesOf& bytes_of) {
    Result<Database> database = Database::open(draft, Opening::fresh);
    if (!database.ok())
        return database.error();
    if (Result<Done> set = database->run("PRAGMA journal_mode=DELETE; PRAGMA synchronous=FULL;");
        !set.ok())
        return set.error();
    Result<Transaction> transaction = Transaction::begin(*database);
    if (!transaction.ok())
        return transaction.error();
    for (const SchemaRow& table : k_schema)
        if (Result<Done> made = database->run(std::string(table.sql).c_str()); !made.ok())
            return made.error();
    const std::string numbers =
        fmt::format("PRAGMA application_id={}; PRAGMA user_version={};", k_application, k_form);
    if (Result<Done> set = database->run(numbers.c_str()); !set.ok())
        return set.error();
    {
        Result<Statement> about =
            database->prepare("INSERT INTO about(key, value) VALUES('job', ?)");
        if (!about.ok())
            return about.error();
        about->bind(0, job);
        if (Result<Done> written = about->run(); !written.ok())
            return written.error();
        Result<Statement> row = database->prepare(
            fmt::format("INSERT INTO entry({}) VALUES(?, ?, ?, ?, ?, ?)", k_entry_columns));
        if (!row.ok())
            return row.error();
        for (const Entry& entry : entries) {
            const std::string body = entry.body.dump();
            bind_entry(*row, entry, body);
            if (Result<Done> written = row->run(); !written.ok())
                return written.error();
        }
    }
    int files = 0;
    {
        Result<Statement> row = database->prepare("INSERT INTO file(hash, bytes) VALUES(?, ?)");
        if (!row.ok())
            return row.error();
        for (const NamedFile& file : named_files(entries)) {
            const Result<std::vector<std::byte>> bytes = bytes_of(file.hash);
            if (!bytes.ok() && (bytes.error().code == ErrorCode::not_found ||
                                bytes.error().code == ErrorCode::damaged))
                continue;
            if (!bytes.ok())
                return bytes.error();
            row->bind(0, file.hash);
            row->bind(1, std::span<const std::byte>(*bytes));
            if (Result<Done> written = row->run(); !written.ok())
                return written.error();
            ++files;
        }
    }
    if (Result<Done> committed = transaction->commit(); !committed.ok())
        return committed.error();
    return files;
}

} // namespace

Result<int> write_job_file(const fs::path& file, std::string_view job,
                           std::span<const Entry> entries, const BytesOf& bytes_of) {
    std::error_code error;
    if (fs::symlink_status(file, error).type() != fs::file_type::not_found) {
        const Header header = header_of(file);
        if (!fs::is_regular_file(file, error) || header == Header::none || header == Header::other)
            return Error{ErrorCode::refused, file.string(),
                         worded("{} is there already and is not a job file; it was left as it "
                                "is. Choose another name.",
                                file.string())};
    }
    const fs::path draft = file.string() + ".part";
    remove_database(draft);
    const Result<int> files = fill(draft, job, entries, bytes_of);
    if (!files.ok()) {
        remove_database(draft);
        return files.error();
    }
    {
        // What cannot be read back is no copy.
        Result<JobFile> again = JobFile::open(draft);
        if (!again.ok() || again->job() != job || again->entries().size() != entries.size() ||
            static_cast<int>(again->files().size()) != *files) {
            remove_database(draft);
            return Error{ErrorCode::failed, file.string(),
                         worded("{} could not be read back as it was written{}", file.string(),
                                again.ok() ? std::string(". Check the disk or card.")
                                           : ": " + again.error().message)};
        }
    }
    if (Result<Done> synced = sync_file(draft); !synced.ok()) {
        remove_database(draft);
        return synced.error();
    }
    fs::rename(draft, file, error);
    if (error) {
        remove_database(draft);
        return Error{ErrorCode::failed, file.string(),
                     worded("{} could not be written: {}.", file.string(), error.message())};
    }
    if (Result<Done> synced = sync_folder(file.parent_path()); !synced.ok())
        return synced.error();
    return *files;
}

} // namespace railside
