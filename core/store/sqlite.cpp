#include "core/store/sqlite.h"

#include "core/store/disk.h"
#include "core/words/words.h"

#include <fmt/format.h>
#include <sqlite3.h>

#include <cerrno>
#include <cstring>
#include <set>
#include <utility>

namespace railside {

namespace {

bool is_full(int system) { return system == ENOSPC || system == EDQUOT || system == EFBIG; }

/// What the system said last about the database's file or its log; sqlite3_system_errno has often
/// been overwritten by then.
int last_errno(sqlite3* database) {
    int of_file = 0;
    sqlite3_file_control(database, "main", SQLITE_FCNTL_LAST_ERRNO, &of_file);
    sqlite3_file* log = nullptr;
    int of_log = 0;
    if (sqlite3_file_control(database, "main", SQLITE_FCNTL_JOURNAL_POINTER, &log) == SQLITE_OK &&
        log != nullptr && log->pMethods != nullptr)
        log->pMethods->xFileControl(log, SQLITE_FCNTL_LAST_ERRNO, &of_log);
    if (of_log != 0)
        return of_log;
    return of_file != 0 ? of_file : sqlite3_system_errno(database);
}

Error translated(sqlite3* database, int code, const std::string& file) {
    const int main_code = code & 0xFF;
    const bool asked =
        database != nullptr && (main_code == SQLITE_IOERR || main_code == SQLITE_CANTOPEN);
    const int system = asked ? last_errno(database) : 0;
    // SQLite itself takes only ENOSPC for a full disk; a quota and a file's size limit are the same
    // to the person.
    const bool full = main_code == SQLITE_FULL || (main_code == SQLITE_IOERR && is_full(system));
    const auto error = [&](ErrorCode kind, std::string message) {
        return Error{kind, file, std::move(message)};
    };
    if (full)
        return error(ErrorCode::failed, worded("The disk is full: {} could not grow, and "
                                               "nothing was written. Free some space, then "
                                               "do it again.",
                                               file));
    switch (main_code) {
    case SQLITE_IOERR:
        return error(ErrorCode::failed,
                     worded("The disk under {} does not answer properly ({}), and nothing was "
                            "written. Check the "
                            "disk or card, then do it again.",
                            file,
                            system != 0 ? system_reason(system) : worded("SQLite error {}", code)));
    case SQLITE_BUSY:
    case SQLITE_LOCKED:
        return error(
            ErrorCode::busy,
            worded("Another program is using {}. Close it there, then do it again.", file));
    case SQLITE_READONLY:
    case SQLITE_PERM:
    case SQLITE_AUTH:
        return error(
            ErrorCode::failed,
            worded(
                "{} may not be written to, and nothing was written. Check the permissions of the "
                "file and its folder.",
                file));
    case SQLITE_CANTOPEN:
        return error(ErrorCode::failed, worded("{} could not be opened{}.", file,
                                               system != 0 ? ": " + system_reason(system) : ""));
    case SQLITE_CORRUPT:
    case SQLITE_NOTADB:
        return error(
            ErrorCode::damaged,
            worded(
                "{} is damaged. Make a copy of the bench's folder before anything else, then take "
                "the last good copy of it into use.",
                file));
    case SQLITE_NOMEM:
        return error(ErrorCode::failed,
                     worded("There is not enough memory to work with {}.", file));
    case SQLITE_TOOBIG:
        return error(ErrorCode::refused,
                     worded("What was to be written to {} is too large.", file));
    default:
        return error(ErrorCode::failed,
                     worded("{}: {} (SQLite error {}).", file,
                            database != nullptr ? sqlite3_errmsg(database) : "no answer", code));
    }
}

/// What a foreign database may be asked, and for how long.
struct ForeignGuard {
    std::set<std::string, std::less<>> tables;
    std::int64_t ticks = 0;
};

constexpr int k_steps_in_a_tick = 10'000;
constexpr std::int64_t k_most_ticks =
    100'000; // 1e9 steps: minutes, where a real file takes seconds

int authorize_foreign(void* context, int action, const char* first, const char* second, const char*,
                      const char*) {
    const auto& guard = *static_cast<const ForeignGuard*>(context);
    switch (action) {
    case SQLITE_SELECT:
        return SQLITE_OK;
    case SQLITE_READ:
        return first != nullptr &&
                       (guard.tables.contains(first) || std::strcmp(first, "sqlite_master") == 0 ||
                        std::strcmp(first, "sqlite_schema") == 0)
                   ? SQLITE_OK
                   : SQLITE_DENY;
    case SQLITE_PRAGMA:
        return first != nullptr && (std::strcmp(first, "quick_check") == 0 ||
                                    (second == nullptr && std::strcmp(first, "page_count") == 0))
                   ? SQLITE_OK
                   : SQLITE_DENY;
    case SQLITE_FUNCTION:
        return second != nullptr && std::strcmp(second, "count") == 0 ? SQLITE_OK : SQLITE_DENY;
    default:
        return SQLITE_DENY;
    }
}

int count_ticks(void* context) {
    return ++static_cast<ForeignGuard*>(context)->ticks > k_most_ticks ? 1 : 0;
}

/// A path as SQLite's file: form wants it (sqlite.org/uri.html, section 3.1).
std::string as_uri(const std::filesystem::path& file) {
    std::string uri = "file:";
    for (const char c : file.string()) {
        if (c == '%' || c == '?' || c == '#')
            uri += fmt::format("%{:02X}", static_cast<unsigned>(static_cast<unsigned char>(c)));
        else
            uri += c;
    }
    return uri + "?mode=ro&immutable=1";
}

constexpr const char* k_guards =
    "PRAGMA trusted_schema=OFF; PRAGMA cell_size_check=ON; PRAGMA foreign_keys=OFF;"
    "PRAGMA mmap_size=0; PRAGMA temp_store=MEMORY;";

} // namespace

void Statement::Close::operator()(sqlite3_stmt* statement) const { sqlite3_finalize(statement); }
void Database::Close::operator()(sqlite3* database) const { sqlite3_close_v2(database); }

void Statement::bind(int parameter, std::string_view text) {
    // A null pointer would bind NULL instead of an empty text.
    sqlite3_bind_text64(statement_.get(), parameter + 1, text.data() != nullptr ? text.data() : "",
                        text.size(), SQLITE_STATIC, SQLITE_UTF8);
}
void Statement::bind(int parameter, std::int64_t value) {
    sqlite3_bind_int64(statement_.get(), parameter + 1, value);
}

void Statement::bind(int parameter, std::span<const std::byte> bytes) {
    sqlite3_bind_blob64(statement_.get(), parameter + 1,
                        bytes.data() != nullptr ? static_cast<const void*>(bytes.data()) : "",
                        bytes.size(), SQLITE_STATIC);
}

std::span<const std::byte> Statement::blob(int column) const {
    const auto* bytes =
        static_cast<const std::byte*>(sqlite3_column_blob(statement_.get(), column));
    const int size = sqlite3_column_bytes(statement_.get(), column);
    return bytes == nullptr || size <= 0
               ? std::span<const std::byte>()
               : std::span<const std::byte>(bytes, static_cast<std::size_t>(size));
}

ColumnType Statement::type(int column) const {
    switch (sqlite3_column_type(statement_.get(), column)) {
    case SQLITE_INTEGER:
        return ColumnType::integer;
    case SQLITE_FLOAT:
        return ColumnType::real;
    case SQLITE_TEXT:
        return ColumnType::text;
    case SQLITE_BLOB:
        return ColumnType::blob;
    default:
        return ColumnType::nothing;
    }
}

Result<bool> Statement::step() {
    const int code = sqlite3_step(statement_.get());
    if (code == SQLITE_ROW)
        return true;
    if (code == SQLITE_DONE)
        return false;
    Error error = translated(sqlite3_db_handle(statement_.get()), code, file_);
    sqlite3_reset(statement_.get());
    return error;
}

Result<Done> Statement::run() {
    const Result<bool> stepped = step();
    reset();
    if (!stepped.ok())
        return stepped.error();
    return Done{};
}

void Statement::reset() { sqlite3_reset(statement_.get()); }

std::string_view Statement::text(int column) const {
    const auto* data = reinterpret_cast<const char*>(sqlite3_column_text(statement_.get(), column));
    if (data == nullptr)
        return {};
    return {data, static_cast<std::size_t>(sqlite3_column_bytes(statement_.get(), column))};
}
std::int64_t Statement::integer(int column) const {
    return sqlite3_column_int64(statement_.get(), column);
}

Result<Database> Database::open(const std::filesystem::path& file, Opening opening) {
    Database opened(file.string());
    int flags = SQLITE_OPEN_READWRITE | SQLITE_OPEN_FULLMUTEX | SQLITE_OPEN_PRIVATECACHE;
    if (opening == Opening::fresh)
        flags |= SQLITE_OPEN_CREATE;
    sqlite3* raw = nullptr;
    const int code = sqlite3_open_v2(file.c_str(), &raw, flags, nullptr);
    opened.database_.reset(raw);
    if (code != SQLITE_OK)
        return translated(raw, code, opened.file_);
    sqlite3_extended_result_codes(raw, 1);
    sqlite3_db_config(raw, SQLITE_DBCONFIG_DEFENSIVE, 1, nullptr);
    sqlite3_db_config(raw, SQLITE_DBCONFIG_DQS_DDL, 0, nullptr);
    sqlite3_db_config(raw, SQLITE_DBCONFIG_DQS_DML, 0, nullptr);
    sqlite3_limit(raw, SQLITE_LIMIT_ATTACHED, 0);
    if (Result<Done> guarded = opened.run(k_guards); !guarded.ok())
        return guarded.error();
    return opened;
}

Result<Database> Database::open_foreign(const std::filesystem::path& file,
                                        std::span<const std::string_view> tables, int most_bytes) {
    Database opened(file.string());
    auto guard = std::make_shared<ForeignGuard>();
    for (const std::string_view table : tables)
        guard->tables.emplace(table);
    opened.guard_ = guard;
    sqlite3* raw = nullptr;
    const int code =
        sqlite3_open_v2(as_uri(file).c_str(), &raw,
                        SQLITE_OPEN_READONLY | SQLITE_OPEN_URI | SQLITE_OPEN_PRIVATECACHE, nullptr);
    opened.database_.reset(raw);
    if (code != SQLITE_OK)
        return translated(raw, code, opened.file_);
    sqlite3_extended_result_codes(raw, 1);
    for (const int off :
         {SQLITE_DBCONFIG_ENABLE_TRIGGER, SQLITE_DBCONFIG_ENABLE_VIEW,
          SQLITE_DBCONFIG_TRUSTED_SCHEMA, SQLITE_DBCONFIG_DQS_DDL, SQLITE_DBCONFIG_DQS_DML,
          SQLITE_DBCONFIG_ENABLE_FTS3_TOKENIZER, SQLITE_DBCONFIG_ENABLE_LOAD_EXTENSION})
        sqlite3_db_config(raw, off, 0, nullptr);
    sqlite3_db_config(raw, SQLITE_DBCONFIG_DEFENSIVE, 1, nullptr);
    const std::pair<int, int> limits[] = {
        {SQLITE_LIMIT_LENGTH, most_bytes},
        {SQLITE_LIMIT_SQL_LENGTH, 10'000},
        {SQLITE_LIMIT_COLUMN, 32},
        {SQLITE_LIMIT_EXPR_DEPTH, 20},
        {SQLITE_LIMIT_COMPOUND_SELECT, 3},
        {SQLITE_LIMIT_VDBE_OP, 25'000},
        {SQLITE_LIMIT_FUNCTION_ARG, 8},
        {SQLITE_LIMIT_ATTACHED, 0},
        {SQLITE_LIMIT_LIKE_PATTERN_LENGTH, 50},
        {SQLITE_LIMIT_VARIABLE_NUMBER, 10},
        {SQLITE_LIMIT_TRIGGER_DEPTH, 1},
        {SQLITE_LIMIT_WORKER_THREADS, 0},
    };
    for (const auto& limit : limits)
        sqlite3_limit(raw, limit.first, limit.second);
    if (Result<Done> guarded = opened.run(k_guards); !guarded.ok())
        return guarded.error();
    sqlite3_progress_handler(raw, k_steps_in_a_tick, count_ticks, guard.get());
    sqlite3_set_authorizer(raw, authorize_foreign, guard.get());
    return opened;
}

Result<OnlineCopy> OnlineCopy::begin(Database& from, Database& to) {
    sqlite3_backup* backup =
        sqlite3_backup_init(to.database_.get(), "main", from.database_.get(), "main");
    if (backup == nullptr)
        return translated(to.database_.get(), sqlite3_extended_errcode(to.database_.get()),
                          to.file_);
    return OnlineCopy(backup, to);
}

Result<bool> OnlineCopy::step(int pages) {
    const int code = sqlite3_backup_step(backup_.get(), pages);
    if (code == SQLITE_OK)
        return false;
    if (code == SQLITE_DONE)
        return true;
    return translated(to_->database_.get(), code, to_->file_);
}

void OnlineCopy::Finish::operator()(sqlite3_backup* backup) const { sqlite3_backup_finish(backup); }

Result<Done> Database::run(const char* sql) {
    const int code = sqlite3_exec(database_.get(), sql, nullptr, nullptr, nullptr);
    if (code != SQLITE_OK)
        return translated(database_.get(), code, file_);
    return Done{};
}

Result<Statement> Database::prepare(std::string_view sql) {
    sqlite3_stmt* raw = nullptr;
    const int code = sqlite3_prepare_v3(database_.get(), sql.data(), static_cast<int>(sql.size()),
                                        0, &raw, nullptr);
    if (code != SQLITE_OK)
        return translated(database_.get(), code, file_);
    return Statement(raw, file_);
}

Result<std::int64_t> Database::integer(std::string_view sql) {
    Result<Statement> statement = prepare(sql);
    if (!statement.ok())
        return statement.error();
    const Result<bool> row = statement->step();
    if (!row.ok())
        return row.error();
    return *row ? statement->integer(0) : 0;
}

Result<std::string> Database::text(std::string_view sql) {
    Result<Statement> statement = prepare(sql);
    if (!statement.ok())
        return statement.error();
    const Result<bool> row = statement->step();
    if (!row.ok())
        return row.error();
    return *row ? std::string(statement->text(0)) : std::string();
}

int Database::changed() const { return sqlite3_changes(database_.get()); }

Result<Done> Database::forget_virtual_table(std::string_view name) {
    sqlite3_db_config(database_.get(), SQLITE_DBCONFIG_DEFENSIVE, 0, nullptr);
    Result<Done> done = run("PRAGMA writable_schema=ON");
    if (done.ok()) {
        Result<Statement> row =
            prepare("DELETE FROM sqlite_schema WHERE type = 'table' AND name = ?");
        if (row.ok()) {
            row->bind(0, name);
            done = row->run();
        } else {
            done = row.error();
        }
    }
    const Result<Done> back = run("PRAGMA writable_schema=RESET");
    sqlite3_db_config(database_.get(), SQLITE_DBCONFIG_DEFENSIVE, 1, nullptr);
    return done.ok() ? back : done;
}

void Database::leave_files_alone() {
    sqlite3_db_config(database_.get(), SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, 1, nullptr);
}

void Database::fold_in_on_close() {
    sqlite3_db_config(database_.get(), SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, 0, nullptr);
}

Result<Transaction> Transaction::begin(Database& database) {
    if (Result<Done> begun = database.run("BEGIN IMMEDIATE"); !begun.ok())
        return begun.error();
    return Transaction(database);
}

Result<Done> Transaction::commit() {
    Result<Done> committed = database_->run("COMMIT");
    if (committed.ok())
        database_ = nullptr;
    return committed;
}

Transaction::Transaction(Transaction&& other) noexcept
    : database_(std::exchange(other.database_, nullptr)) {}

Transaction::~Transaction() {
    // SQLite rolls some failures back by itself; what is left is for us.
    if (database_ != nullptr && sqlite3_get_autocommit(database_->database_.get()) == 0)
        sqlite3_exec(database_->database_.get(), "ROLLBACK", nullptr, nullptr, nullptr);
}

void remove_database(const std::filesystem::path& file) {
    for (const char* ending : {"", "-journal", "-wal", "-shm"}) {
        std::error_code ignored;
        std::filesystem::remove(file.string() + ending, ignored);
    }
}

} // namespace railside
