#include "app/hosts/watched_folder.h"

#include "core/words/words.h"

#include <algorithm>
#include <array>
#include <atomic>
#include <cerrno>
#include <cstdint>
#include <cstring>
#include <map>
#include <mutex>
#include <optional>
#include <string_view>
#include <thread>
#include <unordered_map>
#include <utility>

#ifndef __EMSCRIPTEN__
#include <dirent.h>
#include <fcntl.h>
#include <poll.h>
#include <sys/stat.h>
#include <unistd.h>
#endif
#ifdef __linux__
#include <sys/inotify.h>
#include <sys/vfs.h>
#endif

namespace railside {

#ifdef __EMSCRIPTEN__

class WatchedFolder::Watch {};

WatchedFolder::WatchedFolder(const std::filesystem::path& folder, std::function<void()>)
    : folder_(folder) {}
WatchedFolder::WatchedFolder(const std::filesystem::path& folder, std::function<void()>, Times)
    : folder_(folder) {}
WatchedFolder::~WatchedFolder() = default;
std::vector<std::filesystem::path> WatchedFolder::take() { return {}; }
FolderState WatchedFolder::state() const { return FolderState::unreadable; }
std::string WatchedFolder::sentence() const {
    return "A page in a browser cannot watch folders. Add the pictures one by one.";
}
std::size_t WatchedFolder::already_there() const { return 0; }

#else

namespace {

using Clock = std::chrono::steady_clock;
using std::chrono::milliseconds;
using namespace std::string_view_literals;

constexpr int k_deepest = 2;
constexpr std::size_t k_most_files = 200'000; // more is no camera's card
constexpr milliseconds k_while_arriving{100};

/// A file descriptor that is closed.
class Handle {
  public:
    explicit Handle(int number = -1) : number_(number) {}
    ~Handle() {
        if (number_ >= 0)
            ::close(number_);
    }
    Handle(Handle&& other) noexcept : number_(std::exchange(other.number_, -1)) {}
    Handle& operator=(Handle&& other) noexcept {
        std::swap(number_, other.number_);
        return *this;
    }
    Handle(const Handle&) = delete;
    Handle& operator=(const Handle&) = delete;
    [[nodiscard]] int get() const { return number_; }
    explicit operator bool() const { return number_ >= 0; }

  private:
    int number_;
};

bool passed_over(std::string_view name) {
    if (name.empty() || name.front() == '.')
        return true;
    std::string plain(name);
    for (char& letter : plain)
        letter = letter >= 'A' && letter <= 'Z' ? static_cast<char>(letter - 'A' + 'a') : letter;
    constexpr std::array k_endings = {".tmp"sv, ".part"sv, ".crdownload"sv, ".partial"sv};
    return std::any_of(k_endings.begin(), k_endings.end(),
                       [&](std::string_view ending) { return plain.ends_with(ending); });
}

enum class Looks {
    no_picture,
    begun,    // a picture's start, without its end
    finished, // start and end
    no_file,  // gone, or not to be read
};

/// By first and last bytes. A link in place of the file is not followed, and a pipe not waited for.
Looks look_at(const std::string& path) {
    const Handle file(::open(path.c_str(), O_RDONLY | O_CLOEXEC | O_NOFOLLOW | O_NONBLOCK));
    struct stat facts = {};
    if (!file || ::fstat(file.get(), &facts) != 0 || !S_ISREG(facts.st_mode))
        return Looks::no_file;
    constexpr std::size_t k_end_bytes = 12; // IEND with length and CRC
    std::array<char, 8> start = {};
    std::array<char, k_end_bytes> end = {};
    const ssize_t begun = ::pread(file.get(), start.data(), start.size(), 0);
    if (begun < 0)
        return Looks::no_file;
    const std::string_view first(start.data(), static_cast<std::size_t>(begun));
    const bool jpeg = first.starts_with("\xFF\xD8\xFF"sv);
    if (!jpeg && first != "\x89PNG\r\n\x1A\n"sv)
        return Looks::no_picture;
    const off_t from = std::max<off_t>(0, facts.st_size - static_cast<off_t>(end.size()));
    const ssize_t read = ::pread(file.get(), end.data(), end.size(), from);
    if (read < 0)
        return Looks::no_file;
    const std::string_view last(end.data(), static_cast<std::size_t>(read));
    const bool whole =
        jpeg ? last.ends_with("\xFF\xD9"sv) : last == "\0\0\0\0IEND\xAE\x42\x60\x82"sv;
    return whole ? Looks::finished : Looks::begun;
}

/// File systems that tell of every change; others may change from elsewhere.
bool tells_all(const std::string& folder) {
#ifdef __linux__
    struct statfs facts = {};
    if (::statfs(folder.c_str(), &facts) != 0)
        return false;
    constexpr std::array<std::uint32_t, 7> k_known = {
        0xEF53,     // ext
        0x9123683E, // btrfs
        0x58465342, // XFS
        0x01021994, // tmpfs
        0xF2F52010, // F2FS
        0x2FC12FC1, // ZFS
        0x794C7630, // overlay
    };
    return std::find(k_known.begin(), k_known.end(), static_cast<std::uint32_t>(facts.f_type)) !=
           k_known.end();
#else
    static_cast<void>(folder);
    return false;
#endif
}

struct Size {
    std::int64_t bytes = 0;
    std::int64_t seconds = 0;
    std::int64_t nanoseconds = 0;

    friend bool operator==(const Size&, const Size&) = default;
};

std::filesystem::path without_last_slash(const std::filesystem::path& folder) {
    return folder.has_filename() || !folder.has_relative_path() ? folder : folder.parent_path();
}

Size size_of(const struct stat& facts) {
#ifdef __APPLE__
    return {facts.st_size, facts.st_mtimespec.tv_sec, facts.st_mtimespec.tv_nsec};
#else
    return {facts.st_size, facts.st_mtim.tv_sec, facts.st_mtim.tv_nsec};
#endif
}

} // namespace

class WatchedFolder::Watch {
  public:
    Watch(std::string folder, std::function<void()> wake, Times times)
        : folder_(std::move(folder)), wake_(std::move(wake)), times_(times) {
        int ends[2] = {-1, -1};
        if (::pipe(ends) == 0) {
            stop_out_ = Handle(ends[0]);
            stop_in_ = Handle(ends[1]);
            ::fcntl(ends[0], F_SETFD, FD_CLOEXEC);
            ::fcntl(ends[1], F_SETFD, FD_CLOEXEC);
        }
        thread_ = std::thread([this] { run(); });
    }
    ~Watch() {
        stopping_ = true;
        stop_in_ = Handle(); // closed: the other end sees it at once
        thread_.join();
    }
    Watch(const Watch&) = delete;
    Watch& operator=(const Watch&) = delete;

    std::vector<std::filesystem::path> take() {
        const std::lock_guard lock(mutex_);
        return std::exchange(new_, {});
    }
    FolderState state() const {
        const std::lock_guard lock(mutex_);
        return state_;
    }
    std::size_t already_there() const {
        const std::lock_guard lock(mutex_);
        return already_there_;
    }
    std::string sentence() const {
        const std::lock_guard lock(mutex_);
        switch (state_) {
        case FolderState::watching:
            break;
        case FolderState::missing:
            return worded("The folder {} is not there. Put the card in or switch the phone's sync "
                          "on; it is looked for all the time.",
                          folder_);
        case FolderState::unreadable:
            return worded("The folder {} cannot be read ({}). Give this user the right to read it, "
                          "or choose another.",
                          folder_, why_);
        }
        if (unread_ == 0)
            return worded("Pictures that arrive in {} are taken up.", folder_);
        if (unread_ == 1)
            return worded("Pictures that arrive in {} are taken up. One file there cannot be read.",
                          folder_);
        return worded("Pictures that arrive in {} are taken up. {} files there cannot be read.",
                      folder_, unread_);
    }

  private:
    /// A file that is not settled yet.
    struct Arriving {
        Size size;
        Clock::time_point since;
    };

    void run() {
        while (!stopping_) {
            if (!same_folder())
                begin_again();
            if (watching_ && (rescan_ || (!told_ && Clock::now() >= next_look_)))
                scan();
            check_arriving();
            wait();
        }
    }

    /// Whether the folder is still the one that is watched: a card mounted anew lies over it.
    bool same_folder() {
        struct stat facts = {};
        const bool there = ::stat(folder_.c_str(), &facts) == 0;
        return watching_ && there && S_ISDIR(facts.st_mode) && facts.st_dev == device_ &&
               facts.st_ino == node_;
    }

    void begin_again() {
        watching_ = false;
        folders_.clear();
        arriving_.clear();
        inotify_ = Handle();
        struct stat facts = {};
        if (::stat(folder_.c_str(), &facts) != 0) {
            const bool gone = errno == ENOENT || errno == ENOTDIR;
            set_state(gone ? FolderState::missing : FolderState::unreadable, std::strerror(errno));
            return;
        }
        if (!S_ISDIR(facts.st_mode)) {
            set_state(FolderState::unreadable, "it is a file");
            return;
        }
        DIR* open = ::opendir(folder_.c_str());
        if (open == nullptr) {
            set_state(FolderState::unreadable, std::strerror(errno));
            return;
        }
        ::closedir(open);
        device_ = facts.st_dev;
        node_ = facts.st_ino;
        watching_ = true;
        told_ = false;
#ifdef __linux__
        if (times_.told) {
            inotify_ = Handle(::inotify_init1(IN_NONBLOCK | IN_CLOEXEC));
            told_ = inotify_.get() >= 0 && tells_all(folder_);
        }
#endif
        rescan_ = true;
        set_state(FolderState::watching, "");
    }

    void set_state(FolderState state, const char* why) {
        {
            const std::lock_guard lock(mutex_);
            if (state_ == state && why_ == why && state_told_)
                return;
            state_ = state;
            why_ = why;
            // The first state and all later changes are news.
            state_told_ = true;
        }
        call();
    }

    void call() const {
        if (wake_)
            wake_();
    }

    void scan() {
        rescan_ = false;
        std::size_t left = k_most_files;
        scan_folder(folder_, 0, left);
        next_look_ = Clock::now() + times_.look;
        if (watching_ && !first_look_done_) {
            first_look_done_ = true;
            call(); // how many are already there is known
        }
    }

    void scan_folder(const std::string& folder, int depth, std::size_t& left) {
        // Watched before it is read, so that nothing falls in between.
        watch(folder, depth);
        DIR* open = ::opendir(folder.c_str());
        if (open == nullptr) {
            if (depth == 0)
                watching_ = false; // gone, or forbidden by now: begin_again tells which
            return;
        }
        std::vector<std::string> below;
        while (!stopping_ && left > 0) {
            const dirent* entry = ::readdir(open);
            if (entry == nullptr)
                break;
            const std::string_view name = entry->d_name;
            if (passed_over(name))
                continue;
            struct stat facts = {};
            if (::fstatat(::dirfd(open), entry->d_name, &facts, AT_SYMLINK_NOFOLLOW) != 0)
                continue;
            --left;
            std::string path = folder;
            path += '/';
            path += name;
            if (S_ISDIR(facts.st_mode)) {
                if (depth < k_deepest)
                    below.push_back(std::move(path));
            } else if (S_ISREG(facts.st_mode)) {
                meet(path, facts);
            }
        }
        ::closedir(open);
        for (const std::string& one : below) {
            if (stopping_)
                return;
            scan_folder(one, depth + 1, left);
        }
    }

    void watch(const std::string& folder, int depth) {
#ifdef __linux__
        if (!inotify_)
            return;
        std::uint32_t wanted =
            IN_CLOSE_WRITE | IN_MOVED_TO | IN_CREATE | IN_ONLYDIR | IN_DELETE_SELF | IN_MOVE_SELF;
        if (depth > 0)
            wanted |= IN_DONT_FOLLOW;
        const int number = ::inotify_add_watch(inotify_.get(), folder.c_str(), wanted);
        if (number >= 0)
            folders_[number] = {folder, depth};
        else if (errno != ENOENT && errno != ENOTDIR)
            told_ = false; // no watches left: looked at from now on
#else
        static_cast<void>(folder);
        static_cast<void>(depth);
#endif
    }

    /// A file was seen, by looking or by being told.
    void meet(const std::string& path, const struct stat& facts) {
        const Size size = size_of(facts);
        if (!first_look_done_) {
            if (settle_first(path))
                known_[path] = size.bytes;
            else
                arriving_.try_emplace(path, Arriving{size, Clock::now()});
            return;
        }
        const auto known = known_.find(path);
        if (known != known_.end() && known->second == size.bytes)
            return;
        arriving_.try_emplace(path, Arriving{size, Clock::now()});
    }

    /// At the first look: whether it is a whole picture or none at all. What is only begun is
    /// arriving just now.
    bool settle_first(const std::string& path) {
        const Looks looks = look_at(path);
        if (looks == Looks::begun) {
            struct stat facts = {};
            // Old and without an end: other data follows the picture; it lay there all the same.
            const bool old = ::lstat(path.c_str(), &facts) == 0 &&
                             std::chrono::system_clock::now() -
                                     std::chrono::system_clock::from_time_t(facts.st_mtime) >
                                 std::chrono::seconds(60);
            if (!old)
                return false;
        }
        if (looks == Looks::finished || looks == Looks::begun) {
            const std::lock_guard lock(mutex_);
            ++already_there_;
        }
        return true;
    }

    void check_arriving() {
        const auto now = Clock::now();
        std::vector<std::filesystem::path> finished;
        std::size_t unread = 0;
        for (auto at = arriving_.begin(); at != arriving_.end() && !stopping_;) {
            const std::string& path = at->first;
            struct stat facts = {};
            if (::lstat(path.c_str(), &facts) != 0 || !S_ISREG(facts.st_mode)) {
                at = arriving_.erase(at);
                continue;
            }
            const Size size = size_of(facts);
            if (!(size == at->second.size)) {
                at->second = {size, now};
                ++at;
                continue;
            }
            const auto still = now - at->second.since;
            // An empty one is only kept in mind as long as a slow writer needs; it is met again
            // when it grows.
            if (still < times_.still || (size.bytes == 0 && still < times_.still_without_end)) {
                ++at;
                continue;
            }
            const Looks looks = size.bytes == 0 ? Looks::no_picture : look_at(path);
            if (looks == Looks::finished ||
                (looks == Looks::begun && still >= times_.still_without_end)) {
                known_[path] = size.bytes;
                finished.emplace_back(path);
            } else if (looks == Looks::no_picture) {
                known_[path] = size.bytes; // until it changes
            } else if (looks == Looks::no_file && still >= times_.still_without_end) {
                known_[path] = size.bytes;
                ++unread;
            } else {
                ++at;
                continue;
            }
            at = arriving_.erase(at);
        }
        if (finished.empty() && unread == 0)
            return;
        {
            const std::lock_guard lock(mutex_);
            unread_ += unread;
            // Those of one look by name: cameras count up.
            std::sort(finished.begin(), finished.end());
            for (std::filesystem::path& path : finished)
                new_.push_back(std::move(path));
        }
        call();
    }

    /// Until something is told, a file may be finished, or it is time to look.
    void wait() {
        milliseconds time = times_.look;
        if (!watching_)
            time = std::min(time, milliseconds(1000));
        if (rescan_)
            time = milliseconds(0);
        else if (!arriving_.empty())
            time = std::min({time, k_while_arriving, times_.still});
        std::array<pollfd, 2> waited = {pollfd{stop_out_.get(), POLLIN, 0},
                                        pollfd{inotify_.get(), POLLIN, 0}};
        const nfds_t count = inotify_ ? 2 : 1;
        if (::poll(waited.data(), count, static_cast<int>(time.count())) <= 0)
            return;
        if (count == 2 && waited[1].revents != 0)
            read_told();
    }

    void read_told() {
#ifdef __linux__
        alignas(inotify_event) std::array<char, 16384> buffer = {};
        for (;;) {
            const ssize_t read = ::read(inotify_.get(), buffer.data(), buffer.size());
            if (read <= 0)
                return;
            for (std::size_t at = 0;
                 at + sizeof(inotify_event) <= static_cast<std::size_t>(read);) {
                inotify_event event = {};
                std::memcpy(&event, buffer.data() + at, sizeof event);
                const char* name = buffer.data() + at + sizeof event;
                heard(event, event.len > 0 ? std::string_view(name) : std::string_view());
                at += sizeof event + event.len;
            }
        }
#endif
    }

#ifdef __linux__
    void heard(const inotify_event& event, std::string_view name) {
        if ((event.mask & IN_Q_OVERFLOW) != 0) {
            rescan_ = true;
            return;
        }
        const auto in = folders_.find(event.wd);
        if (in == folders_.end())
            return;
        const auto [folder, depth] = in->second;
        if ((event.mask & (IN_DELETE_SELF | IN_MOVE_SELF | IN_UNMOUNT)) != 0) {
            // Names below a folder that was moved are no longer true: all watches are made anew.
            if ((event.mask & IN_MOVE_SELF) != 0 || depth == 0)
                watching_ = false;
            return;
        }
        if ((event.mask & IN_IGNORED) != 0) {
            folders_.erase(in);
            return;
        }
        if (name.empty() || passed_over(name))
            return;
        std::string path = folder;
        path += '/';
        path += name;
        struct stat facts = {};
        if (::lstat(path.c_str(), &facts) != 0)
            return;
        if (S_ISDIR(facts.st_mode)) {
            if (depth < k_deepest) {
                std::size_t left = k_most_files;
                scan_folder(path, depth + 1, left);
            }
        } else if (S_ISREG(facts.st_mode)) {
            meet(path, facts);
        }
    }
#endif

    const std::string folder_;
    const std::function<void()> wake_;
    const Times times_;

    // The thread's own.
    struct Place {
        std::string path;
        int depth = 0;
    };
    std::unordered_map<int, Place> folders_;
    std::unordered_map<std::string, std::int64_t> known_; // size when it was settled
    std::map<std::string, Arriving> arriving_;
    dev_t device_ = 0;
    ino_t node_ = 0;
    bool watching_ = false;
    bool told_ = false; // the system tells of every change
    bool rescan_ = false;
    bool first_look_done_ = false;
    Clock::time_point next_look_;
    Handle inotify_;

    mutable std::mutex mutex_;
    std::vector<std::filesystem::path> new_;
    FolderState state_ = FolderState::missing;
    std::string why_;
    bool state_told_ = false;
    std::size_t already_there_ = 0;
    std::size_t unread_ = 0;

    Handle stop_out_;
    Handle stop_in_;
    std::atomic<bool> stopping_ = false;
    std::thread thread_;
};

WatchedFolder::WatchedFolder(const std::filesystem::path& folder, std::function<void()> wake)
    : WatchedFolder(folder, std::move(wake), Times()) {}

WatchedFolder::WatchedFolder(const std::filesystem::path& folder, std::function<void()> wake,
                             Times times)
    : folder_(without_last_slash(folder)),
      watch_(std::make_unique<Watch>(folder_.string(), std::move(wake), times)) {}

WatchedFolder::~WatchedFolder() = default;

std::vector<std::filesystem::path> WatchedFolder::take() { return watch_->take(); }
FolderState WatchedFolder::state() const { return watch_->state(); }
std::string WatchedFolder::sentence() const { return watch_->sentence(); }
std::size_t WatchedFolder::already_there() const { return watch_->already_there(); }

#endif

} // namespace railside
