#include "app/hosts/show_file.h"

#include "core/words/words.h"

#include <cerrno>
#include <cstring>
#include <filesystem>
#include <spawn.h>
#include <sys/wait.h>
#include <thread>

extern char** environ; // NOLINT(readability-redundant-declaration): not every system declares it

namespace railside {

Result<Done> show_file(const std::string& path) {
    std::error_code error;
    if (!std::filesystem::exists(path, error))
        return Error{ErrorCode::not_found, "file", worded("{} is not there any more.", path)};
    std::string opener = "xdg-open";
    // A path that begins with a dash would be an option.
    std::string what = std::filesystem::absolute(path, error).string();
    char* arguments[] = {opener.data(), what.data(), nullptr};
    pid_t child = 0;
    const int failed = ::posix_spawnp(&child, opener.c_str(), nullptr, nullptr, arguments, environ);
    if (failed != 0)
        return Error{ErrorCode::not_found, "file",
                     worded("This system has nothing to open it with ({}: {}). It is at {}.",
                            opener, std::strerror(failed), path)};
    std::thread([child] {
        while (::waitpid(child, nullptr, 0) < 0 && errno == EINTR) {
        }
    }).detach();
    return Done{};
}

} // namespace railside
