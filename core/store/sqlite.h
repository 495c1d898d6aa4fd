// The one place that speaks to SQLite: a database, a statement, a transaction, and its errors as
// sentences for the person.
#pragma once

#include "core/result.h"

#include <cstdint>
#include <filesystem>
#include <memory>
#include <string>
#include <string_view>

struct sqlite3;
struct sqlite3_stmt;

namespace railside {

class Statement {
  public:
    /// Parameters and columns count from 0. Bound text must live until the statement is done or
    /// reset.
    void bind(int parameter, std::string_view text);
    void bind(int parameter, std::int64_t value);
    /// True while there is a row to read.
    [[nodiscard]] Result<bool> step();
    /// Steps once and starts over: for statements that give no rows.
    [[nodiscard]] Result<Done> run();
    void reset();
    [[nodiscard]] std::string_view text(int column) const; // until the next step or reset
    [[nodiscard]] std::int64_t integer(int column) const;

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

enum class Opening {
    existing, // not_found when it is not there
    fresh,    // made when it is not there
};

class Database {
  public:
    /// Opens with the guards this program always wants (no trust in the file's schema, cell checks,
    /// no double-quoted strings). Nothing of the file is read or changed yet.
    [[nodiscard]] static Result<Database> open(const std::filesystem::path& file, Opening opening);
    /// One or more statements whose rows do not matter.
    [[nodiscard]] Result<Done> run(const char* sql);
    [[nodiscard]] Result<Statement> prepare(std::string_view sql);
    /// The first column of the first row.
    [[nodiscard]] Result<std::int64_t> integer(std::string_view sql);
    [[nodiscard]] Result<std::string> text(std::string_view sql);
    /// The number of rows the last statement changed.
    [[nodiscard]] int changed() const;
    /// Closing will leave the files as they are (no write-ahead log folded in).
    void leave_files_alone();
    /// The usual way again: closing folds the log into the file.
    void fold_in_on_close();

  private:
    friend class Transaction;
    struct Close {
        void operator()(sqlite3* database) const;
    };
    explicit Database(std::string file) : file_(std::move(file)) {}
    std::unique_ptr<sqlite3, Close> database_;
    std::string file_;
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
