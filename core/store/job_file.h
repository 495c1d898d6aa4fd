// A job file (.railjob): one job as one SQLite file, its entries with the photos and recordings
// they name, to carry between machines. Grammar and recovery rules: job_file.md beside this file.
#pragma once

#include "core/job/entry.h"
#include "core/result.h"
#include "core/store/sqlite.h"

#include <cstddef>
#include <cstdint>
#include <filesystem>
#include <functional>
#include <map>
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace railside {

/// The photo or recording an entry names, as the entry describes it.
struct NamedFile {
    std::string hash;
    std::int64_t bytes = 0;
    std::string type; // "jpeg", "png", or empty for a recording
    int width = 0;    // photos: upright
    int height = 0;
};
/// Those of entries that fit their kind, each hash once.
[[nodiscard]] std::vector<NamedFile> named_files(std::span<const Entry> entries);

/// A job file that has been found sound: everything in it was read and checked once.
class JobFile {
  public:
    /// Reads and checks the whole file, and trusts nothing in it. Errors name the file and what is
    /// wrong: damaged (not SQLite, truncated, another schema, a value too large, bytes that are not
    /// those of their hash, a picture that is not what its entry says), refused (written by a newer
    /// program, entries of another job, too many), failed (it could not be read).
    [[nodiscard]] static Result<JobFile> open(const std::filesystem::path& file);

    [[nodiscard]] const std::string& job() const { return job_; }
    [[nodiscard]] const std::vector<Entry>& entries() const { return entries_; } // sorted by id
    [[nodiscard]] const std::vector<NamedFile>& files() const { return files_; } // those inside
    /// Named by an entry, but not inside.
    [[nodiscard]] const std::vector<NamedFile>& missing() const { return missing_; }
    /// The bytes of one of files(), checked against its hash again. Errors: damaged.
    [[nodiscard]] Result<std::vector<std::byte>> bytes(std::string_view hash);

  private:
    JobFile(std::filesystem::path file, Database database)
        : file_(std::move(file)), database_(std::move(database)) {}
    [[nodiscard]] Result<Done> check();
    [[nodiscard]] Result<Done> check_schema();
    [[nodiscard]] Result<Done> read_entries();
    [[nodiscard]] Result<Done> check_files();
    [[nodiscard]] Error wrong(ErrorCode code, std::string_view what) const;

    std::filesystem::path file_;
    Database database_;
    std::string job_;
    std::vector<Entry> entries_;
    std::vector<NamedFile> files_;
    std::vector<NamedFile> missing_;
    std::map<std::string, std::int64_t, std::less<>> row_of_;
};

/// Where a photo's or recording's bytes come from; not_found and damaged leave it out of the file.
using BytesOf = std::function<Result<std::vector<std::byte>>(std::string_view hash)>;

/// Writes a job file: first under another name beside it, then read back with JobFile::open, then
/// renamed. `entries` are all of one job and fit check_form. Returns how many files are inside.
/// Errors: refused (something that is not a job file has that name), failed (the disk).
[[nodiscard]] Result<int> write_job_file(const std::filesystem::path& file, std::string_view job,
                                         std::span<const Entry> entries, const BytesOf& bytes_of);

} // namespace railside
