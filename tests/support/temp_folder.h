// A folder of a test's own, gone with everything in it when the test ends.
#pragma once

#include <cstdlib>
#include <filesystem>
#include <stdexcept>
#include <string>
#include <system_error>

#include <unistd.h>

class TempFolder {
  public:
    TempFolder() {
        std::string form =
            (std::filesystem::temp_directory_path() / "railside-test-XXXXXX").string();
        if (::mkdtemp(form.data()) == nullptr)
            throw std::runtime_error("no temporary folder could be made");
        path_ = form;
        owner_ = ::getpid();
    }
    TempFolder(const TempFolder&) = delete;
    TempFolder& operator=(const TempFolder&) = delete;
    ~TempFolder() {
        // A child that a test forks must not take the folder away from its parent.
        std::error_code ignored;
        if (owner_ == ::getpid())
            std::filesystem::remove_all(path_, ignored);
    }

    [[nodiscard]] const std::filesystem::path& path() const { return path_; }
    [[nodiscard]] std::filesystem::path operator/(const std::string& name) const {
        return path_ / name;
    }

  private:
    std::filesystem::path path_;
    pid_t owner_ = 0;
};
