// What is worked out from the journal and kept beside it in bench.db, so that the shelf opens and a
// search answers at once however many jobs there are: one row of each job for the shelf, and one
// document of each job in a full-text index. Both can be dropped and made again at any time.
#pragma once

#include "core/job/entry.h"
#include "core/store/bench.h"
#include "core/store/search.h"
#include "core/store/sqlite.h"

#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace railside {

/// Not for two threads at once; the bench sees to that. Calls that say so stand in the caller's
/// transaction, so that journal and index are never apart.
class Index {
  public:
    explicit Index(Database& database) : database_(&database) {}

    /// Makes what is missing and takes in what a program without an index has written meanwhile; in
    /// its own transaction. Cheap when nothing is to be done.
    [[nodiscard]] Result<Done> bring_up_to_date();
    /// Drops it and makes it again, in its own transaction.
    [[nodiscard]] Result<Done> make_again();

    /// In the caller's transaction: entries just written, all of one job, in order of their ids,
    /// which are the latest of that job.
    [[nodiscard]] Result<Done> take(std::string_view job, std::span<const Entry> entries);
    /// In the caller's transaction: works that job out anew from its entries.
    [[nodiscard]] Result<Done> rebuild(std::string_view job);
    /// In the caller's transaction, last: the journal is indexed up to its end.
    [[nodiscard]] Result<Done> seal();

    [[nodiscard]] Result<std::vector<JobSummary>> jobs(); // latest touched first
    [[nodiscard]] Result<std::vector<JobFound>> search(std::string_view words, std::size_t most);
    /// `causes` are left empty.
    [[nodiscard]] Result<std::vector<JobSeen>> seen_before(const Job& job, std::size_t most);

  private:
    [[nodiscard]] Result<Done> make_tables();
    [[nodiscard]] Result<Done> drop_tables();
    [[nodiscard]] Result<Done> fill(std::string_view where);
    [[nodiscard]] Result<Done> replace(std::string_view job, std::span<const Entry> entries);
    [[nodiscard]] Result<std::vector<std::int64_t>> matches(const std::string& query,
                                                            std::size_t most);
    [[nodiscard]] Result<JobSummary> summary(std::int64_t number);

    Database* database_;
    bool has_text_ = true; // a SQLite without FTS5 still keeps the shelf
};

} // namespace railside
