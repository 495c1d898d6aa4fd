#include "core/store/disk.h"

#include "core/store/file_handle.h"
#include "core/words/words.h"

#include <fmt/format.h>

#include <cerrno>
#include <cstdint>
#include <optional>
#include <system_error>
#include <utility>

#include <fcntl.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

namespace railside {

namespace fs = std::filesystem;

namespace {

/// A file descriptor that closes itself.
int open_again(const fs::path& path, int flags, mode_t mode = 0) {
    int fd = -1;
    do
        fd = ::open(path.c_str(), flags | O_CLOEXEC, mode);
    while (fd < 0 && errno == EINTR);
    return fd;
}

Error refusal(const fs::path& path, std::string_view what, int error_number) {
    const ErrorCode code = error_number == ENOENT ? ErrorCode::not_found : ErrorCode::failed;
    return Error{
        code, path.string(),
        worded("{} could not be {}: {}.", path.string(), what, system_reason(error_number))};
}

/// 0, or the errno.
int sync_handle(int fd) {
    int result = 0;
    do {
#if defined(__APPLE__)
        // There fsync only hands the data to the drive.
        result = ::fcntl(fd, F_FULLFSYNC);
        if (result != 0 && (errno == ENOTSUP || errno == EINVAL || errno == ENOTTY))
            result = ::fsync(fd);
#else
        result = ::fsync(fd);
#endif
    } while (result != 0 && errno == EINTR);
    return result == 0 ? 0 : errno;
}

/// 0, or the errno.
int write_all(int fd, std::span<const std::byte> bytes) {
    while (!bytes.empty()) {
        const ssize_t n = ::write(fd, bytes.data(), bytes.size());
        if (n < 0) {
            if (errno == EINTR)
                continue;
            return errno;
        }
        bytes = bytes.subspan(static_cast<std::size_t>(n));
    }
    return 0;
}

} // namespace

std::string system_reason(int error_number) {
    switch (error_number) {
    case ENOSPC:
    case EDQUOT:
    case EFBIG:
        return "the disk is full";
    case EACCES:
    case EPERM:
        return "there is no permission for it";
    case EROFS:
        return "the disk may only be read";
    case EIO:
        return "the disk does not answer properly";
    case ENOENT:
        return "it is not there";
    default:
        return std::generic_category().message(error_number);
    }
}

Result<Done> sync_folder(const fs::path& folder) {
    const FileHandle handle(
        open_again(folder.empty() ? fs::path(".") : folder, O_RDONLY | O_DIRECTORY));
    if (!handle.ok())
        return refusal(folder, "opened", errno);
    // Some file systems have nothing to sync for a folder and say so with EINVAL.
    if (const int error = sync_handle(handle.get()); error != 0 && error != EINVAL)
        return refusal(folder, "made safe", error);
    return Done{};
}

Result<Done> sync_file(const fs::path& file) {
    const FileHandle handle(open_again(file, O_RDONLY));
    if (!handle.ok())
        return refusal(file, "opened", errno);
    if (const int error = sync_handle(handle.get()); error != 0)
        return refusal(file, "made safe", error);
    return Done{};
}

Result<Done> make_folder(const fs::path& folder) {
    std::error_code error;
    if (folder.empty() || fs::is_directory(folder, error))
        return Done{};
    const fs::path above =
        folder.has_filename() ? folder.parent_path() : folder.parent_path().parent_path();
    if (above != folder)
        if (Result<Done> made = make_folder(above); !made.ok())
            return made;
    if (!folder.has_filename()) // "a/b/" is "a/b"
        return make_folder(folder.parent_path());
    if (::mkdir(folder.c_str(), 0777) != 0 && errno != EEXIST)
        return refusal(folder, "made", errno);
    if (!fs::is_directory(folder, error))
        return refusal(folder, "made", ENOTDIR);
    return sync_folder(above);
}

Result<Done> write_whole(const fs::path& file, const fs::path& draft,
                         std::span<const std::byte> bytes, Keeping keeping) {
    ::unlink(draft.c_str()); // left over from a crash
    {
        const FileHandle handle(open_again(draft, O_WRONLY | O_CREAT | O_EXCL | O_NOFOLLOW, 0666));
        if (!handle.ok())
            return refusal(file, "written", errno);
        int error = write_all(handle.get(), bytes);
        if (error == 0 && keeping == Keeping::durable)
            error = sync_handle(handle.get());
        if (error != 0) {
            ::unlink(draft.c_str());
            return refusal(file, "written", error);
        }
    }
    if (::rename(draft.c_str(), file.c_str()) != 0) {
        const int error = errno;
        ::unlink(draft.c_str());
        return refusal(file, "written", error);
    }
    return keeping == Keeping::durable ? sync_folder(file.parent_path()) : Result<Done>(Done{});
}

Result<std::vector<std::byte>> read_whole(const fs::path& file, std::size_t most) {
    const FileHandle handle(open_again(file, O_RDONLY));
    if (!handle.ok())
        return refusal(file, "read", errno);
    struct stat facts = {};
    if (::fstat(handle.get(), &facts) != 0)
        return refusal(file, "read", errno);
    if (!S_ISREG(facts.st_mode))
        return Error{ErrorCode::refused, file.string(), worded("{} is not a file.", file.string())};
    const Error too_large{
        ErrorCode::refused, file.string(),
        worded("{} is larger than the {} MB accepted here.", file.string(), most / 1'000'000)};
    if (static_cast<std::uintmax_t>(facts.st_size) > most)
        return too_large;
    std::vector<std::byte> bytes(static_cast<std::size_t>(facts.st_size));
    std::size_t have = 0;
    while (true) {
        if (have == bytes.size()) {
            // One byte more than it said it had shows whether it grew.
            std::byte extra{};
            const ssize_t n = ::read(handle.get(), &extra, 1);
            if (n == 0)
                break;
            if (n < 0 && errno == EINTR)
                continue;
            if (n < 0)
                return refusal(file, "read", errno);
            if (bytes.size() == most)
                return too_large;
            bytes.push_back(extra);
            ++have;
            continue;
        }
        const ssize_t n = ::read(handle.get(), bytes.data() + have, bytes.size() - have);
        if (n < 0) {
            if (errno == EINTR)
                continue;
            return refusal(file, "read", errno);
        }
        if (n == 0) {
            bytes.resize(have);
            break;
        }
        have += static_cast<std::size_t>(n);
    }
    return bytes;
}

Result<Done> copy_whole(const fs::path& from, const fs::path& to, std::uintmax_t most) {
    const FileHandle in(open_again(from, O_RDONLY));
    if (!in.ok())
        return refusal(from, "read", errno);
    ::unlink(to.c_str());
    const FileHandle out(open_again(to, O_WRONLY | O_CREAT | O_EXCL | O_NOFOLLOW, 0666));
    if (!out.ok())
        return refusal(to, "written", errno);
    std::vector<std::byte> piece(std::size_t{1} << 20U);
    std::uintmax_t copied = 0;
    while (true) {
        const ssize_t n = ::read(in.get(), piece.data(), piece.size());
        if (n < 0 && errno == EINTR)
            continue;
        if (n < 0)
            return refusal(from, "read", errno);
        if (n == 0)
            break;
        copied += static_cast<std::uintmax_t>(n);
        if (copied > most)
            return Error{ErrorCode::refused, from.string(),
                         worded("{} is larger than the {} MB accepted here.", from.string(),
                                most / 1'000'000)};
        if (const int error = write_all(out.get(), {piece.data(), static_cast<std::size_t>(n)});
            error != 0)
            return refusal(to, "written", error);
    }
    if (const int error = sync_handle(out.get()); error != 0)
        return refusal(to, "made safe", error);
    return Done{};
}

void remove_leftovers(const fs::path& folder, std::string_view ending) {
    std::error_code error;
    fs::directory_iterator it(folder, error);
    while (!error && it != fs::directory_iterator()) {
        const fs::path path = it->path();
        std::error_code ignored;
        if (path.filename().string().ends_with(ending) &&
            it->symlink_status(ignored).type() == fs::file_type::regular)
            fs::remove(path, ignored);
        it.increment(error);
    }
}

Result<FolderLock> FolderLock::take(const fs::path& file) {
#if defined(__EMSCRIPTEN__)
    // A browser page has its file system to itself; two pages are kept apart by the page's own
    // lock.
    static_cast<void>(file);
    return FolderLock(-1);
#else
    const int fd = open_again(file, O_RDWR | O_CREAT, 0666);
    if (fd < 0)
        return refusal(file, "opened", errno);
    FolderLock lock(fd);
    int result = 0;
    do
        result = ::flock(fd, LOCK_EX | LOCK_NB);
    while (result != 0 && errno == EINTR);
    if (result != 0 && errno != EWOULDBLOCK)
        return refusal(file, "locked", errno);
    if (result != 0) {
        char text[24] = {};
        const ssize_t n = ::pread(fd, text, sizeof text - 1, 0);
        std::string holder;
        for (ssize_t i = 0; i < n && text[i] >= '0' && text[i] <= '9'; ++i)
            holder += text[i];
        return Error{
            ErrorCode::busy, file.parent_path().string(),
            worded(
                "Railside is already running on this bench{}. Use that window, or close it first.",
                holder.empty() ? "" : worded(" (process {})", holder))};
    }
    // Who holds it, for the sentence above. The lock is the system's, not this text: failing to
    // write it does no harm.
    const std::string holder = fmt::format("{}\n", ::getpid());
    if (::ftruncate(fd, 0) == 0 && ::pwrite(fd, holder.data(), holder.size(), 0) < 0)
        errno = 0;
    return lock;
#endif
}

FolderLock::FolderLock(FolderLock&& other) noexcept : handle_(std::exchange(other.handle_, -1)) {}
FolderLock& FolderLock::operator=(FolderLock&& other) noexcept {
    std::swap(handle_, other.handle_);
    return *this;
}
FolderLock::~FolderLock() {
    if (handle_ >= 0)
        ::close(handle_);
}

} // namespace railside
