// railside-decoder: reads one untrusted picture on its standard input and gives back plain pixels,
// with its hands tied.
//
// It is started by decode_apart (core/store/image.h) and speaks the protocol of core/store/apart.h.
// Before it looks at the first byte of the picture it has limited its memory, processor time and
// files, and on Linux it has given up every system call but those that reading, writing and memory
// need. A fault in a picture decoder then ends this process and nothing else.

#include "core/store/apart.h"
#include "core/store/image.h"

#include <cerrno>
#include <charconv>
#include <cstddef>
#include <cstdint>
#include <cstring>
#include <new>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include <sys/resource.h>
#include <unistd.h>

#if defined(__linux__)
#include <linux/audit.h>
#include <linux/filter.h>
#include <linux/seccomp.h>
#include <sys/mman.h>
#include <sys/prctl.h>
#include <sys/syscall.h>
#endif

// The sanitizers reserve terabytes of addresses, open pipes and make system calls of their own.
#if defined(__SANITIZE_ADDRESS__)
#define RAILSIDE_SANITIZED 1
#elif defined(__has_feature)
#if __has_feature(address_sanitizer)
#define RAILSIDE_SANITIZED 1
#endif
#endif
#ifndef RAILSIDE_SANITIZED
#define RAILSIDE_SANITIZED 0
#endif

namespace {

namespace apart = railside::apart;

void limit(decltype(RLIMIT_CPU) what, rlim_t most) {
    const rlimit both = {most, most};
    // Where a limit cannot be set the others, and the caller's clock, still hold.
    if (::setrlimit(what, &both) != 0)
        errno = 0;
}

#if defined(__linux__) &&                                                                          \
    (defined(__x86_64__) || defined(__aarch64__) || defined(__i386__) || defined(__arm__))
#define RAILSIDE_FILTER 1
#if defined(__x86_64__)
constexpr std::uint32_t k_processor = AUDIT_ARCH_X86_64;
#elif defined(__aarch64__)
constexpr std::uint32_t k_processor = AUDIT_ARCH_AARCH64;
#elif defined(__i386__)
constexpr std::uint32_t k_processor = AUDIT_ARCH_I386;
#else
constexpr std::uint32_t k_processor = AUDIT_ARCH_ARM;
#endif

/// Allows what reading, writing and memory need; every other system call ends the process at once.
void give_up_system_calls() {
    std::vector<sock_filter> program;
    const auto add = [&](unsigned code, std::uint32_t k, std::size_t if_true = 0,
                         std::size_t if_false = 0) {
        program.push_back({static_cast<std::uint16_t>(code), static_cast<std::uint8_t>(if_true),
                           static_cast<std::uint8_t>(if_false), k});
    };
    constexpr unsigned k_load = BPF_LD | BPF_W | BPF_ABS;
    constexpr unsigned k_equal = BPF_JMP | BPF_JEQ | BPF_K;
    constexpr unsigned k_return = BPF_RET | BPF_K;
    // Calls of another processor mode have other numbers: they end it as well.
    add(k_load, offsetof(seccomp_data, arch));
    add(k_equal, k_processor, 1, 0);
    add(k_return, SECCOMP_RET_KILL_PROCESS);
    add(k_load, offsetof(seccomp_data, nr));
    // On x86-64 the numbers of the 32-bit-pointer mode are past 0x40000000 and equal none of these.
    const auto allow = [&](long number) {
        add(k_equal, static_cast<std::uint32_t>(number), 0, 1);
        add(k_return, SECCOMP_RET_ALLOW);
    };
    // New memory, but none that could be run. The third argument's low half; every processor above
    // is little-endian here.
    const auto allow_unless_executable = [&](long number) {
        add(k_equal, static_cast<std::uint32_t>(number), 0, 4);
        add(k_load, offsetof(seccomp_data, args) + 2 * sizeof(std::uint64_t));
        add(BPF_JMP | BPF_JSET | BPF_K, PROT_EXEC, 0, 1);
        add(k_return, SECCOMP_RET_KILL_PROCESS);
        add(k_return, SECCOMP_RET_ALLOW);
    };
    for (const long number : {
             long{__NR_read},
             long{__NR_write},
             long{__NR_close},
             long{__NR_munmap},
             long{__NR_brk},
             long{__NR_mremap},
             long{__NR_madvise},
             long{__NR_futex},
             long{__NR_exit},
             long{__NR_exit_group},
             long{__NR_rt_sigreturn},
             long{__NR_clock_gettime},
             long{__NR_getrandom},
#ifdef __NR_clock_gettime64
             long{__NR_clock_gettime64},
#endif
#ifdef __NR_futex_time64
             long{__NR_futex_time64},
#endif
         })
        allow(number);
#ifdef __NR_mmap
    allow_unless_executable(__NR_mmap);
#endif
#ifdef __NR_mmap2
    allow_unless_executable(__NR_mmap2);
#endif
    allow_unless_executable(__NR_mprotect);
    add(k_return, SECCOMP_RET_KILL_PROCESS);
    const sock_fprog filter = {static_cast<unsigned short>(program.size()), program.data()};
    // A kernel without it leaves us with the limits.
    if (::prctl(PR_SET_NO_NEW_PRIVS, 1, 0, 0, 0) != 0 ||
        ::prctl(PR_SET_SECCOMP, SECCOMP_MODE_FILTER, &filter) != 0)
        errno = 0;
}
#endif

void tie_hands() {
    limit(RLIMIT_CPU, apart::k_time_limit_s);
    limit(RLIMIT_CORE, 0);
    limit(RLIMIT_FSIZE, 0); // pipes and sockets are not files
    if (!RAILSIDE_SANITIZED) {
        limit(RLIMIT_NOFILE, 0); // nothing more can be opened
        limit(RLIMIT_AS, apart::k_memory_limit);
#ifdef RAILSIDE_FILTER
        give_up_system_calls();
#endif
    }
}

/// Whatever else the starting program had open is closed here; 0, 1 and 2 stay.
void close_the_rest() {
#if defined(__linux__) && defined(__NR_close_range)
    if (::syscall(__NR_close_range, 3U, ~0U, 0U) == 0)
        return;
#endif
    for (int fd = 3; fd < 1024; ++fd)
        ::close(fd);
}

bool read_all(std::vector<std::byte>& bytes) {
    bytes.resize(apart::k_most_input + 1);
    std::size_t have = 0;
    while (have < bytes.size()) {
        const ssize_t n = ::read(0, bytes.data() + have, bytes.size() - have);
        if (n < 0 && errno == EINTR)
            continue;
        if (n < 0)
            return false;
        if (n == 0)
            break;
        have += static_cast<std::size_t>(n);
    }
    bytes.resize(have);
    return have <= apart::k_most_input;
}

bool write_all(std::span<const std::byte> bytes) {
    while (!bytes.empty()) {
        const ssize_t n = ::write(1, bytes.data(), bytes.size());
        if (n < 0 && errno == EINTR)
            continue;
        if (n <= 0)
            return false;
        bytes = bytes.subspan(static_cast<std::size_t>(n));
    }
    return true;
}

bool refuse(std::string message) {
    if (message.size() > apart::k_most_message)
        message = "The picture cannot be used.";
    return write_all(
               apart::pack({apart::k_refused, static_cast<std::uint32_t>(message.size()), 0})) &&
           write_all(std::as_bytes(std::span(message)));
}

bool decode(int longest, std::string_view file_name) {
    std::vector<std::byte> bytes;
    if (!read_all(bytes))
        return refuse("The picture is larger than the 64 MB accepted.");
    const railside::Result<railside::Picture> picture =
        railside::decode_image(bytes, longest, file_name);
    if (!picture.ok())
        return refuse(picture.error().message);
    return write_all(apart::pack({apart::k_picture, static_cast<std::uint32_t>(picture->width),
                                  static_cast<std::uint32_t>(picture->height)})) &&
           write_all(std::as_bytes(std::span(picture->rgba)));
}

} // namespace

int main(int argument_count, char** arguments) {
    const std::string_view text = argument_count == 3 ? arguments[1] : "";
    int longest = 0;
    const auto [end, wrong] = std::from_chars(text.data(), text.data() + text.size(), longest);
    if (wrong != std::errc() || end != text.data() + text.size() || longest < 1) {
        constexpr std::string_view k_usage =
            "railside-decoder belongs to Railside and is started by it.\n";
        return ::write(2, k_usage.data(), k_usage.size()) < 0 ? 3 : 2;
    }
    close_the_rest();
    tie_hands();
    bool answered = false;
    try {
        answered = decode(longest, arguments[2]);
    } catch (const std::bad_alloc&) {
        answered = refuse("The picture cannot be used: it asks for more memory than a picture may "
                          "take. Save it smaller, then add "
                          "it again.");
    }
    // No clean-up: it would ask for system calls that are not allowed any more.
    ::_exit(answered ? 0 : 1);
}
