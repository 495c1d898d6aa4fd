#include "core/store/vault.h"

#include "core/store/disk.h"
#include "core/store/image.h"
#include "core/store/sha256.h"
#include "core/words/words.h"

#include <fmt/format.h>

#include <algorithm>

namespace railside {

namespace fs = std::filesystem;

namespace {

constexpr std::size_t k_photo_bytes = 64'000'000;
constexpr std::size_t k_copy_bytes = 32'000'000;
constexpr int k_copy_quality = 90;
constexpr std::string_view k_draft = ".part";

} // namespace

bool is_photo_hash(std::string_view text) {
    return text.size() == 64 &&
           text.find_first_not_of("0123456789abcdef") == std::string_view::npos;
}

Vault::Vault(const fs::path& folder) : vault_(folder / "vault"), copies_(folder / "copies") {}

Result<std::unique_ptr<Vault>> Vault::open(const fs::path& folder) {
    std::unique_ptr<Vault> vault(new Vault(folder));
    for (const fs::path& part : {vault->vault_, vault->copies_}) {
        if (Result<Done> made = make_folder(part); !made.ok())
            return made.error();
        remove_leftovers(part, k_draft);
    }
    return vault;
}

Vault Vault::as_it_is(const fs::path& folder) { return Vault(folder); }

fs::path Vault::original(std::string_view hash) const { return vault_ / hash.substr(0, 2) / hash; }

fs::path Vault::copy_file(std::string_view hash, int longest) const {
    return copies_ / fmt::format("{}-{}.jpg", hash, longest);
}

Result<Done> Vault::keep(std::string_view hash, std::span<const std::byte> bytes) {
    const std::lock_guard lock(writing_);
    const fs::path file = original(hash);
    if (!safe_.contains(hash.substr(0, 2))) {
        if (Result<Done> made = make_folder(file.parent_path()); !made.ok())
            return made;
        // It may have been made just before this program was last ended, and its name not be safe
        // yet.
        if (Result<Done> synced = sync_folder(vault_); !synced.ok())
            return synced;
        safe_.emplace(hash.substr(0, 2));
    }
    if (const Result<std::vector<std::byte>> here = read_whole(file, k_photo_bytes);
        here.ok() && std::equal(here->begin(), here->end(), bytes.begin(), bytes.end())) {
        // It may have been written just before a crash and not be safe yet.
        if (Result<Done> synced = sync_file(file); !synced.ok())
            return synced;
        return sync_folder(file.parent_path());
    }
    return write_whole(file, vault_ / fmt::format("{}{}", hash, k_draft), bytes, Keeping::durable);
}

Result<std::vector<std::byte>> Vault::read(std::string_view hash) const {
    if (!is_photo_hash(hash))
        return Error{ErrorCode::not_found, "photo", "A photo is named by 64 hexadecimal digits."};
    const fs::path file = original(hash);
    Result<std::vector<std::byte>> bytes = read_whole(file, k_photo_bytes);
    if (!bytes.ok() && bytes.error().code == ErrorCode::not_found)
        return Error{
            ErrorCode::not_found, "photo",
            worded(
                "The photo {:.8} is not in the vault any more. It may be in a copy of the bench's "
                "folder, as {}.",
                hash, file.string())};
    if (bytes.ok() && sha256_hex(*bytes) != hash)
        return Error{
            ErrorCode::damaged, "photo",
            worded("The photo {:.8} has changed on the disk since it was added and is not shown as "
                   "the "
                   "original. Adding the same picture once more mends it; the damaged file is {}.",
                   hash, file.string())};
    return bytes;
}

std::optional<Picture> Vault::copy(std::string_view hash, int longest) const {
    const Result<std::vector<std::byte>> bytes = read_whole(copy_file(hash, longest), k_copy_bytes);
    if (!bytes.ok())
        return std::nullopt;
    const Result<ImageFacts> facts = sniff_image(*bytes, "copy");
    if (!facts.ok() || facts->type != ImageType::jpeg ||
        std::max(facts->width, facts->height) > longest)
        return std::nullopt;
    Result<Picture> picture = decode_image(*bytes, longest, "copy");
    if (!picture.ok())
        return std::nullopt;
    return std::move(picture).value();
}

void Vault::keep_copy(std::string_view hash, int longest, const Picture& picture) {
    const Result<std::vector<std::byte>> jpeg = encode_jpeg(picture, k_copy_quality);
    if (!jpeg.ok())
        return;
    const std::lock_guard lock(writing_);
    const fs::path file = copy_file(hash, longest);
    fs::path draft = file;
    draft += k_draft;
    static_cast<void>(write_whole(file, draft, *jpeg, Keeping::loose));
}

} // namespace railside
