// A backup of a whole bench: its journal copied while it is in use, and the photos and recordings
// its entries name. What lies in the folder and how it comes to be: bench.md beside this file.
#pragma once

#include "core/result.h"
#include "core/store/bench.h"
#include "core/store/sqlite.h"
#include "core/store/vault.h"

#include <filesystem>
#include <mutex>
#include <string>

namespace railside {

/// What of a bench in use a backup is made of.
struct BackupSource {
    std::filesystem::path folder; // the bench's
    std::string bench;            // its id
    Database* journal;
    std::mutex* using_journal; // held only for a few pages at a time
    const Vault* vault;
};

/// Bench::backup.
[[nodiscard]] Result<BackupReport> make_backup(const BackupSource& source,
                                               const std::filesystem::path& to);

/// Makes a bench of a backup in `to`, which must be empty or not there yet. The backup is checked
/// first and is left as it is; bench.db gets its name last, so that a restore that was cut off is
/// no bench. Errors: not_found or damaged (no backup, or not a sound one), refused (the folder is
/// not empty), failed (the disk).
[[nodiscard]] Result<BackupReport> restore_backup(const std::filesystem::path& from,
                                                  const std::filesystem::path& to);

} // namespace railside
