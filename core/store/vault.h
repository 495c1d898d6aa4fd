// The photo vault: originals named by their SHA-256, never changed once there, and the copies made
// of them for showing.
#pragma once

#include "core/result.h"
#include "core/store/bench.h"

#include <cstddef>
#include <filesystem>
#include <functional>
#include <memory>
#include <mutex>
#include <optional>
#include <set>
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace railside {

[[nodiscard]] bool is_photo_hash(std::string_view text); // 64 lower-case hexadecimal digits

class Vault {
  public:
    /// `folder` is the bench's. Makes vault/ and copies/ and clears what a crash left half written.
    [[nodiscard]] static Result<std::unique_ptr<Vault>> open(const std::filesystem::path& folder);

    /// To read only: nothing is made and nothing is cleared.
    [[nodiscard]] static Vault as_it_is(const std::filesystem::path& folder);

    /// Once this has returned, the bytes are on the disk under `hash`, which must be theirs. A
    /// damaged file of that name is replaced by the good bytes.
    [[nodiscard]] Result<Done> keep(std::string_view hash, std::span<const std::byte> bytes);
    /// Errors: not_found (not in the vault), damaged (the bytes are not those of that name).
    [[nodiscard]] Result<std::vector<std::byte>> read(std::string_view hash) const;

    /// The copy made earlier, when it is there and sound.
    [[nodiscard]] std::optional<Picture> copy(std::string_view hash, int longest) const;
    /// Keeps a copy; not being able to is no failure, it can be made again.
    void keep_copy(std::string_view hash, int longest, const Picture& picture);

  private:
    explicit Vault(const std::filesystem::path& folder);
    [[nodiscard]] std::filesystem::path original(std::string_view hash) const;
    [[nodiscard]] std::filesystem::path copy_file(std::string_view hash, int longest) const;

    std::filesystem::path vault_;
    std::filesystem::path copies_;
    std::mutex writing_;
    std::set<std::string, std::less<>>
        safe_; // the folders in vault/ whose names are known to be on the disk
};

} // namespace railside
