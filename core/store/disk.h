// Files that are on the disk when the call returns, the lock that keeps a second copy out, and what
// the system says, as sentences.
#pragma once

#include "core/result.h"

#include <cstddef>
#include <cstdint>
#include <filesystem>
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace railside {

/// "the disk is full", "there is no permission", ... for an errno.
[[nodiscard]] std::string system_reason(int error_number);

/// Makes the folder and those above it that are missing; each is durable.
[[nodiscard]] Result<Done> make_folder(const std::filesystem::path& folder);

/// What the folder lists now survives a power cut.
[[nodiscard]] Result<Done> sync_folder(const std::filesystem::path& folder);
/// What the file holds now survives a power cut.
[[nodiscard]] Result<Done> sync_file(const std::filesystem::path& file);

enum class Keeping {
    durable, // survives a power cut once the call returns
    loose,   // may be lost or torn by one; for what can be made again
};

/// Writes `file` as a whole: first to `draft` (in a folder of the same disk), then renamed into
/// place, so that `file` is never seen half written. A draft that is left over may be deleted. On
/// failure `file` is as before.
[[nodiscard]] Result<Done> write_whole(const std::filesystem::path& file,
                                       const std::filesystem::path& draft,
                                       std::span<const std::byte> bytes, Keeping keeping);

/// Errors: not_found, failed, refused (more than `most` bytes).
[[nodiscard]] Result<std::vector<std::byte>> read_whole(const std::filesystem::path& file,
                                                        std::size_t most);

/// Copies a file of at most `most` bytes to a new one, synced, a piece at a time. On failure the
/// new one may be left half written.
[[nodiscard]] Result<Done> copy_whole(const std::filesystem::path& from,
                                      const std::filesystem::path& to, std::uintmax_t most);

/// Removes the plain files of that folder whose names end so; failures are let be.
void remove_leftovers(const std::filesystem::path& folder, std::string_view ending);

/// Held for the life of a bench; the system lets go of it when the process ends, however it ends.
class FolderLock {
  public:
    /// Error busy names the process that holds it.
    [[nodiscard]] static Result<FolderLock> take(const std::filesystem::path& file);
    FolderLock(FolderLock&& other) noexcept;
    FolderLock& operator=(FolderLock&& other) noexcept;
    FolderLock(const FolderLock&) = delete;
    FolderLock& operator=(const FolderLock&) = delete;
    ~FolderLock();

  private:
    explicit FolderLock(int handle) : handle_(handle) {}
    int handle_ = -1;
};

} // namespace railside
