#include "core/store/apart.h"

#include "core/job/utf8.h"
#include "core/store/disk.h"
#include "core/store/file_handle.h"
#include "core/store/image.h"
#include "core/words/words.h"

#include <fmt/format.h>

#include <algorithm>
#include <cerrno>
#include <chrono>
#include <csignal>
#include <cstdlib>
#include <string>

#if defined(__EMSCRIPTEN__)
#define RAILSIDE_CHILD_PROCESSES 0
#else
#define RAILSIDE_CHILD_PROCESSES 1
#include <fcntl.h>
#include <poll.h>
#include <spawn.h>
#include <sys/socket.h>
#include <sys/wait.h>
#include <unistd.h>
#if defined(__APPLE__)
#include <mach-o/dyld.h>
#endif
extern char** environ;
#endif

namespace railside {

namespace fs = std::filesystem;

namespace apart {

std::array<std::byte, k_header_bytes> pack(const Header& header) {
    std::array<std::byte, k_header_bytes> bytes = {};
    for (std::size_t i = 0; i < k_magic.size(); ++i)
        bytes[i] = static_cast<std::byte>(k_magic[i]);
    const std::uint32_t numbers[] = {header.status, header.a, header.b};
    for (std::size_t n = 0; n < 3; ++n)
        for (std::size_t i = 0; i < 4; ++i)
            bytes[4 + 4 * n + i] = static_cast<std::byte>(numbers[n] >> (8 * i) & 0xFFU);
    return bytes;
}

bool unpack(const std::array<std::byte, k_header_bytes>& bytes, Header& header) {
    for (std::size_t i = 0; i < k_magic.size(); ++i)
        if (bytes[i] != static_cast<std::byte>(k_magic[i]))
            return false;
    std::uint32_t* const numbers[] = {&header.status, &header.a, &header.b};
    for (std::size_t n = 0; n < 3; ++n) {
        *numbers[n] = 0;
        for (std::size_t i = 0; i < 4; ++i)
            *numbers[n] |= std::to_integer<std::uint32_t>(bytes[4 + 4 * n + i]) << (8 * i);
    }
    return true;
}

} // namespace apart

#if !RAILSIDE_CHILD_PROCESSES

fs::path decoder_path() { return {}; }

Result<Picture> decode_apart(const fs::path&, std::span<const std::byte>, int,
                             std::string_view file_name) {
    return Error{ErrorCode::failed, std::string(file_name),
                 worded("{} cannot be read here: in a browser the page itself prepares pictures.",
                        file_name)};
}

#else

namespace {

using Clock = std::chrono::steady_clock;

/// A file descriptor that closes itself.
/// A socket pair, closed on exec. Sockets, because writing to one can be told not to raise SIGPIPE.
bool make_pair(FileHandle& ours, FileHandle& theirs) {
    int pair[2] = {-1, -1};
#if defined(SOCK_CLOEXEC)
    if (::socketpair(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0, pair) != 0)
        return false;
#else
    if (::socketpair(AF_UNIX, SOCK_STREAM, 0, pair) != 0)
        return false;
    ::fcntl(pair[0], F_SETFD, FD_CLOEXEC);
    ::fcntl(pair[1], F_SETFD, FD_CLOEXEC);
#endif
    ours.hold(pair[0]);
    theirs.hold(pair[1]);
#if defined(SO_NOSIGPIPE)
    const int on = 1;
    ::setsockopt(pair[0], SOL_SOCKET, SO_NOSIGPIPE, &on, sizeof on);
#endif
    return ::fcntl(pair[0], F_SETFL, O_NONBLOCK) == 0;
}

#if defined(MSG_NOSIGNAL)
constexpr int k_send_flags = MSG_NOSIGNAL;
#else
constexpr int k_send_flags = 0;
#endif

/// The running decoder; ended and waited for whatever happens.
class Child {
  public:
    Child() = default;
    Child(const Child&) = delete;
    Child& operator=(const Child&) = delete;
    ~Child() { end(); }

    /// 0, or the errno. `input` and `output` become its standard input and output.
    int start(const fs::path& program, int longest, std::string_view file_name, int input,
              int output) {
        std::string name = program.string();
        std::string argument = std::to_string(longest);
        std::string shown(file_name);
        char* arguments[] = {name.data(), argument.data(), shown.data(), nullptr};
        posix_spawn_file_actions_t actions;
        posix_spawnattr_t attributes;
        if (const int error = ::posix_spawn_file_actions_init(&actions); error != 0)
            return error;
        if (const int error = ::posix_spawnattr_init(&attributes); error != 0) {
            ::posix_spawn_file_actions_destroy(&actions);
            return error;
        }
        ::posix_spawn_file_actions_adddup2(&actions, input, 0);
        ::posix_spawn_file_actions_adddup2(&actions, output, 1);
        sigset_t none;
        sigset_t all_default;
        ::sigemptyset(&none);
        ::sigemptyset(&all_default);
        ::sigaddset(&all_default, SIGPIPE);
        ::sigaddset(&all_default, SIGXCPU);
        ::posix_spawnattr_setsigmask(&attributes, &none);
        ::posix_spawnattr_setsigdefault(&attributes, &all_default);
        ::posix_spawnattr_setflags(&attributes, POSIX_SPAWN_SETSIGMASK | POSIX_SPAWN_SETSIGDEF);
        const int error =
            ::posix_spawn(&pid_, name.c_str(), &actions, &attributes, arguments, environ);
        if (error != 0)
            pid_ = -1;
        ::posix_spawn_file_actions_destroy(&actions);
        ::posix_spawnattr_destroy(&attributes);
        return error;
    }

    void end() {
        if (pid_ <= 0)
            return;
        ::kill(pid_, SIGKILL);
        int status = 0;
        while (::waitpid(pid_, &status, 0) < 0 && errno == EINTR) {
        }
        pid_ = -1;
    }

  private:
    pid_t pid_ = -1;
};

/// The decoder's answer as it comes in. It never holds more than the header has announced and the
/// picture may have.
class Answer {
  public:
    explicit Answer(int longest) : longest_(static_cast<std::uint32_t>(longest)) {}

    enum class State { wanting, whole, wrong };
    [[nodiscard]] State state() const { return state_; }

    /// Where the next bytes go.
    [[nodiscard]] std::span<std::byte> room() {
        if (have_ < apart::k_header_bytes)
            return std::span(head_).subspan(have_);
        return std::span(body_).subspan(have_ - apart::k_header_bytes);
    }

    void took(std::size_t count) {
        const bool had_header = have_ >= apart::k_header_bytes;
        have_ += count;
        if (!had_header && have_ == apart::k_header_bytes)
            take_header();
        else if (had_header && have_ - apart::k_header_bytes == body_.size())
            state_ = State::whole;
    }

    [[nodiscard]] Result<Picture> result(std::string_view file_name) const {
        if (header_.status == apart::k_picture) {
            Picture picture;
            picture.width = static_cast<int>(header_.a);
            picture.height = static_cast<int>(header_.b);
            const auto* data = reinterpret_cast<const std::uint8_t*>(body_.data());
            picture.rgba.assign(data, data + body_.size());
            return picture;
        }
        const std::string_view said(reinterpret_cast<const char*>(body_.data()), body_.size());
        const bool readable = is_utf8(said) && std::none_of(said.begin(), said.end(), [](char c) {
                                  return static_cast<unsigned char>(c) < 0x20;
                              });
        return Error{ErrorCode::damaged, std::string(file_name),
                     readable ? std::string(said)
                              : worded("{} cannot be used as a picture.", file_name)};
    }

  private:
    void take_header() {
        state_ = State::wrong;
        if (!apart::unpack(head_, header_))
            return;
        if (header_.status == apart::k_picture && header_.a >= 1 && header_.b >= 1 &&
            header_.a <= longest_ && header_.b <= longest_)
            body_.resize(std::size_t{header_.a} * header_.b * 4);
        else if (header_.status == apart::k_refused && header_.a >= 1 &&
                 header_.a <= apart::k_most_message)
            body_.resize(header_.a);
        else
            return;
        state_ = State::wanting;
    }

    std::uint32_t longest_;
    std::array<std::byte, apart::k_header_bytes> head_ = {};
    apart::Header header_;
    std::vector<std::byte> body_;
    std::size_t have_ = 0;
    State state_ = State::wanting;
};

enum class Ending { answered, closed, late };

/// Gives the bytes and takes the answer, both as they go, until the answer is whole or the time is
/// over.
Ending talk(FileHandle& input, FileHandle& output, std::span<const std::byte> bytes,
            Answer& answer) {
    const Clock::time_point until = Clock::now() + std::chrono::seconds(apart::k_time_limit_s);
    while (true) {
        const auto left =
            std::chrono::duration_cast<std::chrono::milliseconds>(until - Clock::now()).count();
        if (left <= 0)
            return Ending::late;
        pollfd waits[2] = {{output.get(), POLLIN, 0}, {input.get(), POLLOUT, 0}};
        const int ready = ::poll(waits, input.ok() ? 2 : 1, static_cast<int>(left));
        if (ready < 0 && errno != EINTR)
            return Ending::closed;
        if (ready <= 0)
            continue;
        if (input.ok() && waits[1].revents != 0) {
            const ssize_t n = ::send(input.get(), bytes.data(),
                                     std::min<std::size_t>(bytes.size(), 1U << 20U), k_send_flags);
            if (n > 0)
                bytes = bytes.subspan(static_cast<std::size_t>(n));
            // A decoder that has heard enough closes its end; its answer says why.
            const bool given_up =
                n < 0 && errno != EAGAIN && errno != EWOULDBLOCK && errno != EINTR;
            if (bytes.empty() || given_up)
                input.close();
        }
        if (waits[0].revents != 0) {
            const std::span<std::byte> room = answer.room();
            const ssize_t n = ::recv(output.get(), room.data(), room.size(), 0);
            if (n == 0)
                return Ending::closed;
            if (n < 0 && errno != EAGAIN && errno != EWOULDBLOCK && errno != EINTR)
                return Ending::closed;
            if (n > 0)
                answer.took(static_cast<std::size_t>(n));
            if (answer.state() == Answer::State::whole)
                return Ending::answered;
            if (answer.state() == Answer::State::wrong)
                return Ending::closed;
        }
    }
}

} // namespace

fs::path decoder_path() {
    constexpr const char* k_name = "railside-decoder";
    if (const char* named = std::getenv("RAILSIDE_DECODER"); named != nullptr && *named != '\0')
        return named;
    std::error_code error;
#if defined(__APPLE__)
    char own[4096] = {};
    std::uint32_t size = sizeof own;
    const fs::path program =
        ::_NSGetExecutablePath(own, &size) == 0 ? fs::canonical(own, error) : fs::path();
#else
    const fs::path program = fs::read_symlink("/proc/self/exe", error);
#endif
    return error ? fs::path(k_name) : program.parent_path() / k_name;
}

Result<Picture> decode_apart(const fs::path& decoder, std::span<const std::byte> bytes, int longest,
                             std::string_view file_name) {
    // What can be told without decoding needs no child: sizes, foreign kinds, a broken header.
    if (const Result<ImageFacts> facts = sniff_image(bytes, file_name); !facts.ok())
        return facts.error();
    if (longest < 1 || longest > 16384)
        return Error{
            ErrorCode::out_of_range, "longest",
            worded("A picture of {} pixels was asked for; accepted is 1 to 16384.", longest)};
    std::error_code error;
    if (!fs::is_regular_file(decoder, error))
        return Error{
            ErrorCode::failed, std::string(file_name),
            worded("{} could not be read: the program {} is missing. Install Railside once more.",
                   file_name, decoder.string())};
    FileHandle input;
    FileHandle their_input;
    FileHandle output;
    FileHandle their_output;
    Child child;
    int failed = 0;
    if (!make_pair(input, their_input) || !make_pair(output, their_output))
        failed = errno;
    else
        failed = child.start(decoder, longest, file_name, their_input.get(), their_output.get());
    if (failed != 0)
        return Error{ErrorCode::failed, std::string(file_name),
                     worded("{} could not be read: {} did not start ({}).", file_name,
                            decoder.string(), system_reason(failed))};
    their_input.close();
    their_output.close();
    Answer answer(longest);
    switch (talk(input, output, bytes, answer)) {
    case Ending::answered:
        return answer.result(file_name);
    case Ending::late:
        return Error{ErrorCode::damaged, std::string(file_name),
                     worded("{} is not accepted: reading it takes more than {} seconds. Save "
                            "it smaller, then add it "
                            "again.",
                            file_name, apart::k_time_limit_s)};
    case Ending::closed:
        break;
    }
    return Error{
        ErrorCode::damaged, std::string(file_name),
        worded("{} cannot be used: reading it as a picture failed, or asked for more memory "
               "or time than a "
               "picture may take. Save it smaller, or copy it from the camera once more.",
               file_name)};
}

#endif

} // namespace railside
