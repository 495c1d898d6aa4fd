// Running commands, in this process and as the real program.
#pragma once

#include "app/command/command.h"
#include "support/catch.h"

#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <optional>
#include <sstream>
#include <stdlib.h>
#include <string>
#include <string_view>
#include <sys/wait.h>
#include <vector>

namespace railside::testing {

struct Ran {
    int status = -1;
    std::string out;
    std::string err;
};

inline bool holds(std::string_view text, std::string_view part) {
    return text.find(part) != std::string_view::npos;
}

/// In this process.
inline Ran run(const std::vector<std::string>& args) {
    const std::vector<std::string_view> views(args.begin(), args.end());
    std::ostringstream out;
    std::ostringstream err;
    const int status = run_command(views, out, err);
    return {status, out.str(), err.str()};
}

/// A folder that goes away with its test.
class TestFolder {
  public:
    TestFolder() {
        std::string name =
            (std::filesystem::temp_directory_path() / "railside-test-XXXXXX").string();
        REQUIRE(::mkdtemp(name.data()) != nullptr);
        path_ = name;
    }
    TestFolder(const TestFolder&) = delete;
    TestFolder& operator=(const TestFolder&) = delete;
    ~TestFolder() {
        std::error_code ignored;
        std::filesystem::remove_all(path_, ignored);
    }
    [[nodiscard]] const std::filesystem::path& path() const { return path_; }
    [[nodiscard]] std::string file(std::string_view name) const { return (path_ / name).string(); }
    [[nodiscard]] bool empty() const { return std::filesystem::is_empty(path_); }

  private:
    std::filesystem::path path_;
};

/// An environment variable set (or, with nothing, taken away) for the life of this object.
class Variable {
  public:
    Variable(const char* name, const std::optional<std::string>& value) : name_(name) {
        if (const char* before = std::getenv(name)) {
            before_ = before;
        }
        set(value);
    }
    Variable(const Variable&) = delete;
    Variable& operator=(const Variable&) = delete;
    ~Variable() { set(before_); }

  private:
    void set(const std::optional<std::string>& value) const {
        if (value) {
            ::setenv(name_, value->c_str(), 1);
        } else {
            ::unsetenv(name_);
        }
    }
    const char* name_;
    std::optional<std::string> before_;
};

inline std::string file_text(const std::filesystem::path& file) {
    std::ifstream in(file, std::ios::binary);
    return {std::istreambuf_iterator<char>(in), std::istreambuf_iterator<char>()};
}

inline std::string shell_word(const std::string& word) {
    std::string quoted = "'";
    for (const char c : word) {
        quoted += c == '\'' ? std::string("'\\''") : std::string(1, c);
    }
    return quoted + '\'';
}

/// The built program, through a shell. `out_file` takes its standard output instead.
inline Ran run_program(const std::vector<std::string>& args, const std::string& out_file = {}) {
    const char* program = std::getenv("RAILSIDE_PROGRAM");
    REQUIRE(program != nullptr);
    const TestFolder folder;
    std::string line = shell_word(program);
    for (const std::string& arg : args) {
        line += ' ' + shell_word(arg);
    }
    line += " >" + shell_word(out_file.empty() ? folder.file("out") : out_file) + " 2>" +
            shell_word(folder.file("err")) + " </dev/null";
    const int status = std::system(line.c_str());
    REQUIRE(WIFEXITED(status));
    return {WEXITSTATUS(status), file_text(folder.file("out")), file_text(folder.file("err"))};
}

} // namespace railside::testing
