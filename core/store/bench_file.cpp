#include "core/store/bench_file.h"

#include "core/store/disk.h"
#include "core/words/words.h"

#include <fmt/format.h>

#include <algorithm>
#include <cerrno>
#include <span>
#include <string_view>
#include <vector>

#include <fcntl.h>
#include <unistd.h>

namespace railside {

namespace fs = std::filesystem;

namespace {

std::int64_t big_endian(std::span<const std::byte> bytes, std::size_t at) {
    std::int64_t value = 0;
    for (std::size_t i = 0; i < 4; ++i)
        value = value * 256 + std::to_integer<std::int64_t>(bytes[at + i]);
    return value;
}

} // namespace

Error not_a_bench(const fs::path& file) {
    return Error{ErrorCode::damaged, file.string(),
                 worded("{} is not a Railside bench or is damaged; it was left as it is. Take "
                        "the last good copy of the "
                        "bench's folder, or choose another folder.",
                        file.string())};
}
Error too_new_a_bench(const fs::path& file, std::int64_t form) {
    return Error{ErrorCode::damaged, file.string(),
                 worded("{} was written by a newer Railside (its form is number {}, this "
                        "program knows up to {}); it was "
                        "left as it is. Open it with the newer program.",
                        file.string(), form, k_bench_form)};
}

Result<Done> check_bench_header(const fs::path& file) {
    std::vector<std::byte> head(100);
    std::size_t have = 0;
    const int fd = ::open(file.c_str(), O_RDONLY | O_CLOEXEC);
    if (fd < 0)
        return Error{ErrorCode::failed, file.string(),
                     worded("{} could not be opened: {}.", file.string(), system_reason(errno))};
    while (have < head.size()) {
        const ssize_t n = ::read(fd, head.data() + have, head.size() - have);
        if (n < 0 && errno == EINTR)
            continue;
        if (n <= 0)
            break;
        have += static_cast<std::size_t>(n);
    }
    ::close(fd);
    static constexpr std::string_view k_magic("SQLite format 3\0", 16);
    if (have < head.size() ||
        !std::equal(k_magic.begin(), k_magic.end(), head.begin(), [](char a, std::byte b) {
            return static_cast<unsigned char>(a) == std::to_integer<unsigned char>(b);
        }))
        return not_a_bench(file);
    if (big_endian(head, 68) != k_bench_application)
        return not_a_bench(file);
    if (const std::int64_t form = big_endian(head, 60); form > k_bench_form)
        return too_new_a_bench(file, form);
    return Done{};
}

} // namespace railside
