// An entry as a row of SQLite, in bench.db and in job files alike.
#pragma once

#include "core/job/entry.h"
#include "core/store/sqlite.h"

namespace railside {

/// The columns read_entry and bind_entry count on, in their order.
inline constexpr const char* k_entry_columns = "id, job, time_ms, bench, kind, body";

/// A body that is not JSON is null: check_entry refuses it, so the fold passes it over and the
/// history still shows that something was there, rather than the whole job being lost to one bad
/// row.
[[nodiscard]] Entry read_entry(const Statement& row);

/// Binds parameters 0 to 5. `body` is the entry's body as text and must outlive the step.
void bind_entry(Statement& statement, const Entry& entry, const std::string& body);

} // namespace railside
