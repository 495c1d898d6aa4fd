// With real files in a folder of the test's own, and short times.
#include "app/hosts/watched_folder.h"

#include "support/catch.h"
#include "support/temp_folder.h"

#include <algorithm>
#include <atomic>
#include <chrono>
#include <filesystem>
#include <fstream>
#include <string>
#include <thread>
#include <vector>

#include <sys/stat.h>
#include <unistd.h>

using namespace railside;
using namespace std::chrono_literals;
namespace fs = std::filesystem;

namespace {

const std::string k_jpeg("\xFF\xD8\xFF\xE0 picture \xFF\xD9", 15);
const std::string k_png("\x89PNG\r\n\x1A\n pixels \0\0\0\0IEND\xAE\x42\x60\x82", 28);

WatchedFolder::Times quick(bool told) {
    WatchedFolder::Times times;
    times.still = 60ms;
    times.still_without_end = 300ms;
    times.look = 50ms;
    times.told = told;
    return times;
}

void write(const fs::path& path, const std::string& text) {
    std::ofstream(path, std::ios::binary) << text;
}

class Seen {
  public:
    Seen(const fs::path& path, bool told = true)
        : folder_(
              path, [this] { wakes++; }, quick(told)) {
        wait([this] { return wakes > 0; });
        if (folder_.state() == FolderState::watching)
            wait([this] { return wakes > 1; }); // the first look is done
    }
    /// Names below `root` taken until there are `count`, then a little longer for more.
    std::vector<std::string> names(std::size_t count, const fs::path& root) {
        std::vector<std::string> all;
        const auto gather = [&] {
            for (const fs::path& path : folder_.take())
                all.push_back(path.lexically_relative(root).string());
            return all.size() >= count;
        };
        wait(gather);
        std::this_thread::sleep_for(150ms);
        gather();
        return all;
    }
    template <class Condition> bool wait(Condition condition) {
        for (int i = 0; i < 2000; i++) {
            if (condition())
                return true;
            std::this_thread::sleep_for(5ms);
        }
        return false;
    }
    bool becomes(FolderState state) {
        return wait([&] { return folder_.state() == state; });
    }
    WatchedFolder& folder() { return folder_; }
    std::atomic<int> wakes = 0;

  private:
    WatchedFolder folder_;
};

std::vector<std::string> sorted(std::vector<std::string> names) {
    std::sort(names.begin(), names.end());
    return names;
}

} // namespace

TEST_CASE("watched folder: what lies there is already there, what comes is new, once",
          "[app][hosts]") {
    const bool told = GENERATE(true, false);
    const TempFolder temp;
    fs::create_directories(temp / "DCIM/100CAMRA");
    write(temp / "DCIM/100CAMRA/IMG_0001.JPG", k_jpeg);
    write(temp / "old.png", k_png);
    write(temp / "notes.txt", "no picture");
    Seen seen(temp.path(), told);
    CHECK(seen.folder().state() == FolderState::watching);
    CHECK(seen.folder().already_there() == 2);
    CHECK(seen.names(0, temp.path()).empty());
    const int before = seen.wakes;
    write(temp / "DCIM/100CAMRA/IMG_0002.JPG", k_jpeg);
    write(temp / "new.png", k_png);
    CHECK(sorted(seen.names(2, temp.path())) ==
          std::vector<std::string>{"DCIM/100CAMRA/IMG_0002.JPG", "new.png"});
    CHECK(seen.wakes > before);
    const int after = seen.wakes;
    CHECK(seen.names(0, temp.path()).empty());
    CHECK(seen.wakes == after); // nothing happens, nobody is woken
    // Written anew with another content.
    write(temp / "new.png", k_png.substr(0, 12) + k_png.substr(10));
    CHECK(seen.names(1, temp.path()) == std::vector<std::string>{"new.png"});
}

TEST_CASE("watched folder: a picture written in pieces is told when it is whole", "[app][hosts]") {
    const bool told = GENERATE(true, false);
    const TempFolder temp;
    Seen seen(temp.path(), told);
    std::ofstream slow(temp / "slow.jpg", std::ios::binary);
    for (std::size_t i = 0; i < k_jpeg.size() - 1; i++) {
        slow << k_jpeg[i] << std::flush;
        std::this_thread::sleep_for(i % 4 == 0 ? 100ms : 10ms); // longer than `still`
        REQUIRE(seen.folder().take().empty());
    }
    slow << k_jpeg.back() << std::flush;
    slow.close();
    CHECK(seen.names(1, temp.path()) == std::vector<std::string>{"slow.jpg"});
}

TEST_CASE("watched folder: one whose end is not the picture's waits longer", "[app][hosts]") {
    const TempFolder temp;
    Seen seen(temp.path());
    const auto began = std::chrono::steady_clock::now();
    write(temp / "motion.jpg", k_jpeg + "ftyp video");
    CHECK(seen.wait([&] { return !seen.folder().take().empty(); }));
    CHECK(std::chrono::steady_clock::now() - began >= 290ms);
}

TEST_CASE("watched folder: renamed into place, and names of unfinished files", "[app][hosts]") {
    const bool told = GENERATE(true, false);
    const TempFolder temp;
    Seen seen(temp.path(), told);
    for (const char* name : {".hidden.jpg", "a.tmp", "b.jpg.part", "c.CRDOWNLOAD", "d.partial"})
        write(temp / name, k_jpeg);
    CHECK(seen.names(0, temp.path()).empty());
    fs::rename(temp / "b.jpg.part", temp / "b.jpg");
    fs::rename(temp / ".hidden.jpg", temp / "shown.jpg");
    CHECK(sorted(seen.names(2, temp.path())) == std::vector<std::string>{"b.jpg", "shown.jpg"});
}

TEST_CASE("watched folder: folders made or moved in later, two deep and no deeper",
          "[app][hosts]") {
    const bool told = GENERATE(true, false);
    const TempFolder temp;
    const TempFolder elsewhere;
    Seen seen(temp.path(), told);
    fs::create_directories(temp / "DCIM/101CAMRA/too/deep");
    write(temp / "DCIM/101CAMRA/IMG_1.JPG", k_jpeg);
    write(temp / "DCIM/101CAMRA/too/IMG_2.JPG", k_jpeg);
    write(temp / "DCIM/101CAMRA/too/deep/IMG_3.JPG", k_jpeg);
    CHECK(seen.names(1, temp.path()) == std::vector<std::string>{"DCIM/101CAMRA/IMG_1.JPG"});
    fs::create_directories(elsewhere / "in");
    write(elsewhere / "in/a.jpg", k_jpeg);
    fs::rename(elsewhere / "in", temp / "in");
    CHECK(seen.names(1, temp.path()) == std::vector<std::string>{"in/a.jpg"});
    write(temp / "in/b.jpg", k_jpeg);
    CHECK(seen.names(1, temp.path()) == std::vector<std::string>{"in/b.jpg"});
}

TEST_CASE("watched folder: taken away and put back", "[app][hosts]") {
    const bool told = GENERATE(true, false);
    const TempFolder temp;
    fs::create_directories(temp / "card/DCIM");
    write(temp / "card/DCIM/1.jpg", k_jpeg);
    Seen seen(temp / "card", told);
    CHECK(seen.folder().already_there() == 1);
    fs::rename(temp / "card", temp / "pulled");
    REQUIRE(seen.becomes(FolderState::missing));
    CHECK(seen.folder().sentence().find("is not there. Put the card in") != std::string::npos);
    write(temp / "pulled/DCIM/2.jpg", k_jpeg); // taken while the card was in the camera
    fs::rename(temp / "pulled", temp / "card");
    REQUIRE(seen.becomes(FolderState::watching));
    CHECK(seen.names(1, temp / "card") == std::vector<std::string>{"DCIM/2.jpg"});
    fs::remove_all(temp / "card");
    REQUIRE(seen.becomes(FolderState::missing));
    fs::create_directories(temp / "card");
    REQUIRE(seen.becomes(FolderState::watching));
    write(temp / "card/3.jpg", k_jpeg);
    CHECK(seen.names(1, temp / "card") == std::vector<std::string>{"3.jpg"});
}

TEST_CASE("watched folder: another folder over the same name is found", "[app][hosts]") {
    const TempFolder temp;
    fs::create_directories(temp / "card");
    fs::create_directories(temp / "other");
    write(temp / "other/1.jpg", k_jpeg);
    Seen seen(temp / "card");
    fs::rename(temp / "card", temp / "gone");
    fs::rename(temp / "other", temp / "card");
    CHECK(seen.names(1, temp / "card") == std::vector<std::string>{"1.jpg"});
}

TEST_CASE("watched folder: not there at first", "[app][hosts]") {
    const TempFolder temp;
    Seen seen(temp / "card");
    CHECK(seen.folder().state() == FolderState::missing);
    fs::create_directories(temp / "card");
    REQUIRE(seen.becomes(FolderState::watching));
    std::this_thread::sleep_for(100ms);
    write(temp / "card/1.jpg", k_jpeg);
    CHECK(seen.names(1, temp / "card") == std::vector<std::string>{"1.jpg"});
}

TEST_CASE("watched folder: two hundred at once, each once", "[app][hosts]") {
    const bool told = GENERATE(true, false);
    const TempFolder temp;
    fs::create_directories(temp / "DCIM/100");
    Seen seen(temp.path(), told);
    std::vector<std::string> written;
    for (int i = 0; i < 200; i++) {
        written.push_back("DCIM/100/IMG_" + std::to_string(1000 + i) + ".JPG");
        write(temp / written.back(), k_jpeg);
    }
    CHECK(sorted(seen.names(200, temp.path())) == written);
}

TEST_CASE("watched folder: what is no picture is passed over, links too", "[app][hosts]") {
    const bool told = GENERATE(true, false);
    const TempFolder temp;
    const TempFolder outside;
    write(outside / "secret.jpg", k_jpeg);
    fs::create_directories(outside / "sub");
    write(outside / "sub/secret.jpg", k_jpeg);
    Seen seen(temp.path(), told);
    write(temp / "empty.jpg", "");
    write(temp / "text.jpg", "no picture at all");
    write(temp / "gif.png", "GIF89a");
    fs::create_symlink(outside / "secret.jpg", temp / "link.jpg");
    fs::create_directory_symlink(outside / "sub", temp / "sub");
    REQUIRE(::mkfifo((temp / "pipe.jpg").c_str(), 0600) == 0);
    CHECK(seen.names(0, temp.path()).empty());
    std::this_thread::sleep_for(400ms);
    CHECK(seen.folder().take().empty());
    // An empty one that is filled after all.
    write(temp / "empty.jpg", k_jpeg);
    CHECK(seen.names(1, temp.path()) == std::vector<std::string>{"empty.jpg"});
}

TEST_CASE("watched folder: a file in its place cannot be watched, and it says so", "[app][hosts]") {
    const TempFolder temp;
    write(temp / "card", "x");
    Seen seen(temp / "card");
    REQUIRE(seen.becomes(FolderState::unreadable));
    CHECK(seen.folder().sentence().find("cannot be read (it is a file)") != std::string::npos);
    fs::remove(temp / "card");
    fs::create_directories(temp / "card");
    CHECK(seen.becomes(FolderState::watching));
    CHECK(seen.folder().sentence().find("are taken up.") != std::string::npos);
}

TEST_CASE("watched folder: it ends at once", "[app][hosts]") {
    const TempFolder temp;
    for (int i = 0; i < 30; i++) {
        WatchedFolder folder(i % 2 == 0 ? temp.path() : temp / "none", {}); // its usual long times
        if (i % 3 == 0)
            std::this_thread::sleep_for(5ms);
        const auto began = std::chrono::steady_clock::now();
        { const WatchedFolder other(temp.path(), {}); }
        CHECK(std::chrono::steady_clock::now() - began < 500ms);
    }
}
