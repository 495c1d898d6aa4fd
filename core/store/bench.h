// The bench's keeping: the journal in SQLite and the photos in a vault beside it. What a call has
// acknowledged is on the disk.
//
// Folder: bench.db (journal), vault/ab/abcdef... (originals, named by SHA-256), copies/ (view
// copies and thumbnails, may be deleted at any time), bench.lock. Grammar and recovery rules:
// bench.md beside this file.
#pragma once

#include "core/job/entry.h"
#include "core/job/job.h"
#include "core/result.h"

#include <cstddef>
#include <filesystem>
#include <functional>
#include <memory>
#include <span>
#include <string>
#include <vector>

namespace railside {

/// Where time and chance come from; hosts give the real ones, tests their own.
struct Surroundings {
    std::function<std::int64_t()> now_ms;
    std::function<std::array<std::uint8_t, 10>()> chance;
};
[[nodiscard]] Surroundings system_surroundings();

/// What the shelf shows of a job.
struct JobSummary {
    std::string job;
    Sheet sheet;
    std::int64_t touched_ms = 0;
    int photos = 0; // valid ones
    int entries = 0;
    Standing standing = Standing::valid; // struck: off the shelf
};

/// A photo made ready: upright pixels, 8-bit RGBA, rows top to bottom.
struct Picture {
    int width = 0;
    int height = 0;
    std::vector<std::uint8_t> rgba;
};

class Bench {
  public:
    /// Opens, or makes, the bench in that folder. Errors: busy (another running copy has it: the
    /// message says so and what to do), damaged (not a bench, or written by a newer version),
    /// failed (permission, disk full).
    [[nodiscard]] static Result<std::unique_ptr<Bench>> open(const std::filesystem::path& folder,
                                                             Surroundings surroundings);
    virtual ~Bench() = default;

    /// Writes one entry of `job` and returns it once it is durable (SQLite FULL synchronous, fsync
    /// done). An empty `job` with kind job begins a new one. On failure nothing is written and
    /// nothing is acknowledged.
    [[nodiscard]] virtual Result<Entry> append(std::string_view job, EntryKind kind,
                                               nlohmann::json body) = 0;
    /// Several entries as one transaction: all or none.
    struct Draft {
        EntryKind kind;
        nlohmann::json body;
    };
    [[nodiscard]] virtual Result<std::vector<Entry>> append_all(std::string_view job,
                                                                std::span<const Draft> drafts) = 0;
    /// Adds entries made elsewhere (demo job, job files). Those already here by id are left alone.
    [[nodiscard]] virtual Result<int> merge(std::span<const Entry> entries) = 0;

    [[nodiscard]] virtual Result<std::vector<JobSummary>> jobs() = 0; // latest touched first
    [[nodiscard]] virtual Result<std::vector<Entry>> entries(std::string_view job) = 0;
    [[nodiscard]] virtual Result<Job> job(std::string_view job) = 0;

    /// Checks the bytes are a JPEG or PNG that decodes, writes and syncs them into the vault, then
    /// appends the photo entry. `photo` gives stage, caption, channel, position; hash, type, size
    /// are filled in. Errors: damaged (not an image, too large, damaged: the message says which and
    /// what to do).
    [[nodiscard]] virtual Result<Entry>
    add_photo(std::string_view job, std::span<const std::byte> bytes, PhotoRecord photo) = 0;
    /// Puts a picture that the program drew itself into the vault, as a JPEG, with its thumbnail,
    /// and returns `photo` with hash, type and size filled in. No entry is written: the caller's
    /// own, merged after, names it (the demo job). Errors: failed (the disk).
    [[nodiscard]] virtual Result<PhotoRecord> keep_drawing(const Picture& picture,
                                                           PhotoRecord photo) = 0;
    /// The original bytes. not_found / damaged when the vault no longer has them or their hash
    /// differs.
    [[nodiscard]] virtual Result<std::vector<std::byte>> photo_bytes(std::string_view hash) = 0;
    /// Upright picture whose longer side is at most `longest` pixels (thumbnail 256, view 1600),
    /// from the copies when there.
    [[nodiscard]] virtual Result<Picture> photo_picture(std::string_view hash, int longest) = 0;

    [[nodiscard]] virtual const std::filesystem::path& folder() const = 0;
};

} // namespace railside
