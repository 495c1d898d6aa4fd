// The one place that speaks to SQLite: a database, a statement, a transaction, and its errors as
// sentences for the person.
#pragma once

#include "core/result.h"

#include <cstddef>
#include <cstdint>
#include <filesystem>
#include <memory>
#include <span>
#include <string>
#include <string_view>

struct sqlite3;
struct sqlite3_backup;
struct sqlite3_stmt;

namespace railside {

enum class ColumnType { nothing, integer, real, text, blob };

class Statement {
  public:
    /// Parameters and columns count from 0. Bound text must live until the statement is done or
    /// reset.
    void bind(int parameter, std::string_view text);
    void bind(int parameter, std::int64_t value);
    void bind(int parameter, std::span<const std::byte> bytes); // lives as long as a text must
    /// True while there is a row to read.
    [[nodiscard]] Result<bool> step();
    /// Steps once and starts over: for statements that give no rows.
    [[nodiscard]] Result<Done> run();
    void reset();
    [[nodiscard]] std::string_view text(int column) const; // until the next step or reset
    [[nodiscard]] std::int64_t integer(int column) const;
    [[nodiscard]] std::span<const std::byte> blob(int column) const; // until the next step or reset
    [[nodiscard]] ColumnType type(int column) const;

  private:
    friend class Database;
    struct Close {
        void operator()(sqlite3_stmt* statement) const;
    };
    Statement(sqlite3_stmt* statement, std::string file)
        : statement_(statement), file_(std::move(file)) {}
    std::unique_ptr<sqlite3_stmt, Close> statement_;
    std::string file_;
};

/// Removes a database's file and the files SQLite keeps beside it; what is not there is let be.
void remove_database(const std::filesystem::path& file);

enum class Opening {
    existing, // not_found when it is not there
    fresh,    // made when it is not there
};

class Database {
  public:
    /// Opens with the guards this program always wants (no trust in the file's schema, cell checks,
    /// no double-quoted strings). Nothing of the file is read or changed yet.
    [[nodiscard]] static Result<Database> open(const std::filesystem::path& file, Opening opening);
    /// Opens a file that someone else may have made, to read it only: nothing in its folder is
    /// touched (no journal, no log), no trigger, view or function of it runs, and only reading
    /// `tables` and SQLite's own schema is possible. A value over `most_bytes` is refused, and so
    /// is a file that keeps SQLite busy for an unreasonable time.
    [[nodiscard]] static Result<Database> open_foreign(const std::filesystem::path& file,
                                                       std::span<const std::string_view> tables,
                                                       int most_bytes);
    /// One or more statements whose rows do not matter.
    [[nodiscard]] Result<Done> run(const char* sql);
    [[nodiscard]] Result<Statement> prepare(std::string_view sql);
    /// The first column of the first row.
    [[nodiscard]] Result<std::int64_t> integer(std::string_view sql);
    [[nodiscard]] Result<std::string> text(std::string_view sql);
    /// The number of rows the last statement changed.
    [[nodiscard]] int changed() const;
    /// Takes a virtual table out of the schema without asking its module, which refuses to when
    /// what it keeps is damaged. Its shadow tables become plain ones, for the caller to drop. In
    /// the caller's transaction.
    [[nodiscard]] Result<Done> forget_virtual_table(std::string_view name);
    /// Closing will leave the files as they are (no write-ahead log folded in).
    void leave_files_alone();
    /// The usual way again: closing folds the log into the file.
    void fold_in_on_close();

  private:
    friend class Transaction;
    friend class OnlineCopy;
    struct Close {
        void operator()(sqlite3* database) const;
    };
    explicit Database(std::string file) : file_(std::move(file)) {}
    std::shared_ptr<void> guard_; // what a foreign file may be asked; outlives the connection
    std::unique_ptr<sqlite3, Close> database_;
    std::string file_;
};

/// Copies a database page by page while it is in use through the same Database.
class OnlineCopy {
  public:
    [[nodiscard]] static Result<OnlineCopy> begin(Database& from, Database& to);
    /// Copies at most `pages` more; true when all are there and on the disk.
    [[nodiscard]] Result<bool> step(int pages);

  private:
    struct Finish {
        void operator()(sqlite3_backup* backup) const;
    };
    OnlineCopy(sqlite3_backup* backup, Database& to) : backup_(backup), to_(&to) {}
    std::unique_ptr<sqlite3_backup, Finish> backup_;
    Database* to_;
};

/// All or nothing; rolled back unless committed.
class Transaction {
  public:
    [[nodiscard]] static Result<Transaction> begin(Database& database);
    /// Once this has returned Done, what was written is on the disk.
    [[nodiscard]] Result<Done> commit();
    Transaction(Transaction&& other) noexcept;
    Transaction& operator=(Transaction&&) = delete;
    Transaction(const Transaction&) = delete;
    Transaction& operator=(const Transaction&) = delete;
    ~Transaction();

  private:
    explicit Transaction(Database& database) : database_(&database) {}
    Database* database_;
};

} // namespace railside
