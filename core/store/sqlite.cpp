#include "core/store/sqlite.h"

#include "core/store/disk.h"

#include <fmt/format.h>
#include <sqlite3.h>

#include <cerrno>
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
        return error(ErrorCode::failed, fmt::format("The disk is full: {} could not grow, and "
                                                    "nothing was written. Free some space, then "
                                                    "do it again.",
                                                    file));
    switch (main_code) {
    case SQLITE_IOERR:
        return error(ErrorCode::failed,
                     fmt::format("The disk under {} does not answer properly ({}), and nothing was "
                                 "written. Check the "
                                 "disk or card, then do it again.",
                                 file,
                                 system != 0 ? system_reason(system)
                                             : fmt::format("SQLite error {}", code)));
    case SQLITE_BUSY:
    case SQLITE_LOCKED:
        return error(
            ErrorCode::busy,
            fmt::format("Another program is using {}. Close it there, then do it again.", file));
    case SQLITE_READONLY:
    case SQLITE_PERM:
    case SQLITE_AUTH:
        return error(
            ErrorCode::failed,
            fmt::format(
                "{} may not be written to, and nothing was written. Check the permissions of the "
                "file and its folder.",
                file));
    case SQLITE_CANTOPEN:
        return error(ErrorCode::failed,
                     fmt::format("{} could not be opened{}.", file,
                                 system != 0 ? ": " + system_reason(system) : ""));
    case SQLITE_CORRUPT:
    case SQLITE_NOTADB:
        return error(
            ErrorCode::damaged,
            fmt::format(
                "{} is damaged. Make a copy of the bench's folder before anything else, then take "
                "the last good copy of it into use.",
                file));
    case SQLITE_NOMEM:
        return error(ErrorCode::failed,
                     fmt::format("There is not enough memory to work with {}.", file));
    case SQLITE_TOOBIG:
        return error(ErrorCode::refused,
                     fmt::format("What was to be written to {} is too large.", file));
    default:
        return error(ErrorCode::failed,
                     fmt::format("{}: {} (SQLite error {}).", file,
                                 database != nullptr ? sqlite3_errmsg(database) : "no answer",
                                 code));
    }
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

} // namespace railside
