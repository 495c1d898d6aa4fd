// The bench's keeping: the journal in SQLite and the photos in a vault beside it. What a call has
// acknowledged is on the disk.
//
// Folder: bench.db (journal), vault/ab/abcdef... (originals, named by SHA-256), copies/ (view
// copies and thumbnails, may be deleted at any time), bench.lock. Grammar and recovery rules:
// bench.md beside this file.
#pragma once

#include "core/job/book.h"
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

/// A photo made ready: upright pixels, 8-bit RGBA, rows top to bottom.
struct Picture {
    int width = 0;
    int height = 0;
    std::vector<std::uint8_t> rgba;
};

/// Where time and chance come from; hosts give the real ones, tests their own.
struct Surroundings {
    std::function<std::int64_t()> now_ms;
    std::function<std::array<std::uint8_t, 10>()> chance;

    // Where the folder is not what lasts (a page in a browser keeps it in memory and writes
    // everything on); all may be empty.
    /// Asked before anything is written; an error is the caller's, and nothing is written.
    std::function<Result<Done>()> may_write = {};
    /// Entries that were new, once they are in the database.
    std::function<void(std::span<const Entry>)> entries_written = {};
    /// A file that the vault was given, before the entry that names it.
    std::function<void(std::string_view hash, std::span<const std::byte>)> file_written = {};
    /// Decodes pictures in place of decode_apart (image.h), upright and at most `longest` a side;
    /// copies for showing are then its own affair too.
    std::function<Result<Picture>(std::span<const std::byte>, int longest)> decode = {};
};
[[nodiscard]] Surroundings system_surroundings();

/// What the shelf shows of a job.
struct JobSummary {
    std::string job;
    Sheet sheet;
    std::int64_t touched_ms = 0;
    double total = 0; // what it has cost so far, all counted (core/job/money.h)
    int photos = 0;   // valid ones
    int entries = 0;
    Standing standing = Standing::valid; // struck: off the shelf
};

/// A job that a search has found.
struct JobFound {
    JobSummary job;
    std::string excerpt; // what was found, in its surroundings, the words in [square brackets]
};

enum class SeenBy {
    unit,             // the same maker and model
    symptom,          // words of the complaint that were said, found or decided there
    unit_and_symptom, //
};

/// An earlier job that resembles this one.
struct JobSeen {
    JobSummary job;
    SeenBy by = SeenBy::unit;
    std::vector<std::string> words;  // of the complaint, found there
    std::vector<std::string> causes; // what was bad or replaced there: "VR201 left, trim pot, bad"
};

/// What an export has carried, or an import taken in.
struct JobFileReport {
    std::string job;
    int entries = 0;     // in the file
    int new_entries = 0; // import: those that were not here yet
    int files = 0;       // photos and recordings in the file
    int missing = 0;  // named by an entry, but gone from the vault (import: also not in the file)
    int left_out = 0; // export: entries that are damaged on this disk
};

/// What a backup holds, or a restore has brought back.
struct BackupReport {
    int jobs = 0;
    int entries = 0;
    int files = 0;          // photos and recordings
    int copied = 0;         // those that were not in the folder yet
    std::int64_t bytes = 0; // of all files
    int missing = 0;        // named by an entry, but gone or damaged in the vault
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
    /// Keeps a capture of a scope or sound card: any bytes, 1 to 64 000 000, written and synced
    /// into the vault before the entry names them. `recording` gives the name and what it is of;
    /// hash and size are filled in. Errors: out_of_range (too large or empty), not_found (no such
    /// job).
    [[nodiscard]] virtual Result<Entry> add_recording(std::string_view job,
                                                      std::span<const std::byte> bytes,
                                                      RecordingRecord recording) = 0;
    /// Puts a recording that came with the program into the vault and returns `recording` with hash
    /// and size filled in. No entry is written, as with keep_drawing. Errors: as add_recording.
    [[nodiscard]] virtual Result<RecordingRecord> keep_recording(std::span<const std::byte> bytes,
                                                                 RecordingRecord recording) = 0;
    /// As photo_bytes, for a recording.
    [[nodiscard]] virtual Result<std::vector<std::byte>> recording_bytes(std::string_view hash) = 0;

    /// The bench's own entries (core/job/book.h): instruments, drawer, edited lists. append_bench
    /// is append for them; bodies are made by instrument_body, drawer_body, list_text_body.
    [[nodiscard]] virtual Result<Entry> append_bench(EntryKind kind, nlohmann::json body) = 0;
    [[nodiscard]] virtual Result<std::vector<Entry>> bench_entries() = 0;
    [[nodiscard]] virtual Result<BenchBook> book() = 0;

    /// Jobs in which every word stands, as the beginning of one, best first; `most` at most, struck
    /// jobs among them. Errors: bad_text (nothing to look for).
    [[nodiscard]] virtual Result<std::vector<JobFound>> search(std::string_view words,
                                                               std::size_t most) = 0;
    /// Other jobs of the same unit, or with at least two telling words of the complaint, likest
    /// first. Errors: not_found.
    [[nodiscard]] virtual Result<std::vector<JobSeen>> seen_before(std::string_view job,
                                                                   std::size_t most) = 0;

    /// Writes the job with its photos and recordings as a job file (job_file.md), read back and
    /// checked before it gets its name; a job file of that name is replaced, another file is not.
    /// Errors: not_found (no such job), refused (something else has that name), failed (the disk).
    [[nodiscard]] virtual Result<JobFileReport> export_job(std::string_view job,
                                                           const std::filesystem::path& file) = 0;
    /// Takes in a job file: the union of its entries and those here. Errors: damaged or refused
    /// (not a sound job file; nothing was taken), failed (the disk; doing it again goes on).
    [[nodiscard]] virtual Result<JobFileReport> import_job(const std::filesystem::path& file) = 0;

    /// Copies the whole bench, while in use, to `to`: an empty or new folder, or one that holds an
    /// earlier backup of this bench, of which only what is new is copied. Read back and checked.
    /// Bring it back with restore_backup (backup.h). Errors: refused (the folder holds something
    /// else), failed (the disk).
    [[nodiscard]] virtual Result<BackupReport> backup(const std::filesystem::path& to) = 0;

    /// The original bytes. not_found / damaged when the vault no longer has them or their hash
    /// differs.
    [[nodiscard]] virtual Result<std::vector<std::byte>> photo_bytes(std::string_view hash) = 0;
    /// Upright picture whose longer side is at most `longest` pixels (thumbnail 256, view 1600),
    /// from the copies when there.
    [[nodiscard]] virtual Result<Picture> photo_picture(std::string_view hash, int longest) = 0;

    [[nodiscard]] virtual const std::filesystem::path& folder() const = 0;
};

} // namespace railside
