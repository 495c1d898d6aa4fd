// What tells bench.db from other files, and its journal's form; shared by the bench, its backups
// and the way back from them. Grammar: bench.md beside this file.
#pragma once

#include "core/result.h"

#include <cstdint>
#include <filesystem>

namespace railside {

inline constexpr std::int64_t k_bench_application = 0x52736964; // "Rsid", at byte 68 of the file
inline constexpr std::int64_t k_bench_form = 1;

/// The journal's tables, its index and the triggers that keep entries from being changed.
inline constexpr const char* k_make_journal = R"(
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

[[nodiscard]] Error not_a_bench(const std::filesystem::path& file);
[[nodiscard]] Error too_new_a_bench(const std::filesystem::path& file, std::int64_t form);

/// Looks at the file's first 100 bytes (SQLite's header, sqlite.org/fileformat2.html section 1.3)
/// without touching it. Errors: damaged, failed.
[[nodiscard]] Result<Done> check_bench_header(const std::filesystem::path& file);

} // namespace railside
