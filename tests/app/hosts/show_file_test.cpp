#include "app/hosts/show_file.h"

#include "support/catch.h"
#include "support/temp_folder.h"

#include <chrono>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <string>
#include <thread>

using namespace railside;

namespace {

/// Nothing but this folder is looked through for programs while it lives.
class OnlyPath {
  public:
    explicit OnlyPath(const std::filesystem::path& folder) : before_(::getenv("PATH")) {
        ::setenv("PATH", folder.c_str(), 1);
    }
    ~OnlyPath() { ::setenv("PATH", before_.c_str(), 1); }
    OnlyPath(const OnlyPath&) = delete;
    OnlyPath& operator=(const OnlyPath&) = delete;

  private:
    std::string before_;
};

} // namespace

TEST_CASE("show file: the system's opener gets the whole path, and is told of when there is none",
          "[app][hosts]") {
    const TempFolder folder;
    const auto report = folder / "two words; and more.pdf";
    const auto told = folder / "told";
    std::ofstream(report) << "report";
    const auto programs = folder / "programs";
    std::filesystem::create_directory(programs);
    const OnlyPath only(programs);

    const auto refused = show_file(report.string());
    REQUIRE_FALSE(refused.ok());
    CHECK(refused.error().code == ErrorCode::not_found);
    CHECK(refused.error().message.find(report.string()) != std::string::npos);

    const auto opener = programs / "xdg-open";
    std::ofstream(opener) << "#!/bin/sh\nprintf %s \"$1\" > '" << told.string()
                          << ".part'\n/bin/mv '" << told.string() << ".part' '" << told.string()
                          << "'\n";
    std::filesystem::permissions(opener, std::filesystem::perms::owner_all);
    REQUIRE(show_file(report.string()).ok());
    for (int i = 0; i < 1000 && !std::filesystem::exists(told); ++i)
        std::this_thread::sleep_for(std::chrono::milliseconds(10));
    std::ifstream in(told);
    std::string what;
    std::getline(in, what);
    CHECK(what == report.string());

    CHECK_FALSE(show_file((folder / "never written.pdf").string()).ok());
}
