// Pull the plug: what was acknowledged survives losing everything that was not synced.
//
// This program's own fsync and fdatasync stand before the system's, also for SQLite. They note what
// each synced file held and what each synced folder listed at that moment. A power cut is then
// played by building a folder of that alone: a file whose name was never synced is gone, one whose
// bytes were never synced is empty. No real disk is as cruel, so none loses more.
#include "core/store/bench.h"

#include "core/store/disk.h"
#include "core/store/sha256.h"
#include "support/catch.h"
#include "support/temp_folder.h"

#include "benches.h"

#include <mutex>
#include <optional>

#include <dirent.h>
#include <fcntl.h>
#include <sys/stat.h>
#include <sys/syscall.h>
#include <unistd.h>

namespace {

namespace fs = std::filesystem;

struct Disk {
    std::mutex mutex;
    bool watching = false;
    std::size_t syncs = 0;
    std::map<ino_t, std::string> files;
    std::map<ino_t, std::map<std::string, ino_t>> folders;
};
Disk& disk() {
    static Disk one;
    return one;
}

std::map<std::string, ino_t> listing(const fs::path& folder) {
    std::map<std::string, ino_t> names;
    for (const auto& entry : fs::directory_iterator(folder)) {
        struct stat facts = {};
        if (::lstat(entry.path().c_str(), &facts) == 0)
            names[entry.path().filename().string()] = facts.st_ino;
    }
    return names;
}

void synced(int fd) {
    const std::lock_guard lock(disk().mutex);
    if (!disk().watching)
        return;
    ++disk().syncs;
    struct stat facts = {};
    if (::fstat(fd, &facts) != 0)
        return;
    const fs::path path = fs::path("/proc/self/fd") / std::to_string(fd);
    if (S_ISDIR(facts.st_mode))
        disk().folders[facts.st_ino] = listing(path);
    else if (S_ISREG(facts.st_mode))
        disk().files[facts.st_ino] = contents(path);
}

/// Notes syncs while it lives.
class Watch {
  public:
    Watch() {
        disk().files.clear();
        disk().folders.clear();
        disk().syncs = 0;
        disk().watching = true;
    }
    Watch(const Watch&) = delete;
    Watch& operator=(const Watch&) = delete;
    ~Watch() { disk().watching = false; }
};

/// What would be left of `from` after a power cut now.
void cut_power(ino_t from, const fs::path& to) {
    fs::create_directories(to);
    const auto names = disk().folders.find(from);
    if (names == disk().folders.end())
        return;
    for (const auto& name : names->second) {
        if (disk().folders.count(name.second) != 0)
            cut_power(name.second, to / name.first);
        else if (name.first.size() == 2 || name.first == "vault" || name.first == "copies")
            // A folder that was never synced itself: empty. Before files, for it may have the
            // number of one that was synced and removed.
            fs::create_directory(to / name.first);
        else if (const auto file = disk().files.find(name.second); file != disk().files.end())
            std::ofstream(to / name.first, std::ios::binary) << file->second;
        else
            std::ofstream(to / name.first, std::ios::binary);
    }
}

ino_t inode(const fs::path& path) {
    struct stat facts = {};
    REQUIRE(::stat(path.c_str(), &facts) == 0);
    return facts.st_ino;
}

} // namespace

extern "C" int fsync(int fd) {
    const int result = static_cast<int>(::syscall(SYS_fsync, fd));
    if (result == 0)
        synced(fd);
    return result;
}
extern "C" int fdatasync(int fd) {
    const int result = static_cast<int>(::syscall(SYS_fdatasync, fd));
    if (result == 0)
        synced(fd);
    return result;
}

using namespace railside;

TEST_CASE("power cut: the play loses what was not synced and keeps what was", "[core][store]") {
    const TempFolder folder;
    const TempFolder after;
    const Watch watch;
    const Bytes bytes = bytes_of("hello");
    REQUIRE(make_folder(folder / "a").ok());
    REQUIRE(write_whole(folder / "a/kept", folder / "a/kept.part", bytes, Keeping::durable).ok());
    REQUIRE(write_whole(folder / "a/lost", folder / "a/lost.part", bytes, Keeping::loose).ok());
    cut_power(inode(folder.path()), after / "x");
    CHECK(contents(after / "x/a/kept") == "hello");
    CHECK_FALSE(fs::exists(after / "x/a/lost"));
    REQUIRE(sync_folder(folder / "a").ok());
    cut_power(inode(folder.path()), after / "y");
    CHECK(fs::exists(after / "y/a/lost"));
    CHECK(contents(after / "y/a/lost").empty());
}

TEST_CASE("power cut: every acknowledged entry and photo survives it at once", "[core][store]") {
    const TempFolder folder;
    const Watch watch;
    const ino_t above = inode(folder.path());
    auto bench = open_bench(folder / "shop/bench");
    std::string job;
    std::vector<Entry> acknowledged;
    int cut = 0;
    const auto check = [&] {
        const TempFolder after;
        cut_power(above, after / "left");
        disk().watching = false;
        {
            // Notes of the opening below do not belong to the play.
            Result<std::unique_ptr<Bench>> again =
                Bench::open(after / "left/shop/bench", surroundings(99));
            INFO("cut " << cut << ": " << (again.ok() ? "" : again.error().message));
            REQUIRE(again.ok());
            const std::vector<Entry> there = (*again)->entries(job).value();
            REQUIRE(there == acknowledged);
            for (const Entry& entry : there)
                if (entry.kind == EntryKind::photo) {
                    const Result<Bytes> bytes =
                        (*again)->photo_bytes(entry.body["hash"].get<std::string>());
                    REQUIRE(bytes.ok());
                }
        }
        disk().watching = true;
        ++cut;
    };
    check(); // a bench just made is a bench
    const auto took = [&](const Result<Entry>& entry) {
        INFO((entry.ok() ? "" : entry.error().message));
        REQUIRE(entry.ok());
        acknowledged.push_back(*entry);
        check();
    };
    const std::size_t before = disk().syncs;
    const Result<Entry> begun = bench->append("", EntryKind::job, {{"maker", "Orrinvale"}});
    REQUIRE(begun.ok());
    CHECK(disk().syncs > before); // SQLite's syncs do come by here
    job = begun->id;
    took(begun);
    for (int i = 0; i < 12; ++i) {
        took(bench->append(job, EntryKind::note, {{"text", "note " + std::to_string(i)}}));
        if (i % 4 == 1)
            took(bench->add_photo(job, make_jpeg(busy(40, 30, static_cast<unsigned>(i))),
                                  PhotoRecord{}));
        // Enough now and then that SQLite folds its log into the file.
        if (i % 4 == 3)
            for (int k = 0; k < 3; ++k)
                took(bench->append(job, EntryKind::note,
                                   {{"text", "large"},
                                    {"fill", std::string(900'000, static_cast<char>('a' + k))}}));
    }
    // The same picture again: its file is there, but nothing says so until it is synced.
    took(bench->add_photo(job, make_jpeg(busy(40, 30, 1)), PhotoRecord{}));
    // And after a clean end and a new beginning.
    bench.reset();
    check();
    bench = open_bench(folder / "shop/bench");
    took(bench->append(job, EntryKind::note, {{"text", "next day"}}));
    CHECK(cut > 25);
}

TEST_CASE("power cut: a photo left by an earlier cut is synced before an entry names it",
          "[core][store]") {
    const TempFolder folder;
    const Watch watch;
    const ino_t above = inode(folder.path());
    const auto bench = open_bench(folder / "bench");
    const std::string job = begin_job(*bench);
    const Bytes jpeg = make_jpeg(quarters(40, 30));
    const std::string hash = sha256_hex(jpeg);
    // Written, but neither it nor its name is safe: as after a crash of the program between the
    // two.
    const fs::path place = folder / "bench/vault" / hash.substr(0, 2);
    fs::create_directory(place);
    std::ofstream(place / hash, std::ios::binary)
        .write(reinterpret_cast<const char*>(jpeg.data()),
               static_cast<std::streamsize>(jpeg.size()));
    REQUIRE(bench->add_photo(job, jpeg, PhotoRecord{}).ok());
    const TempFolder after;
    cut_power(above, after / "left");
    CHECK(contents(after.path() / "left/bench/vault" / hash.substr(0, 2) / hash).size() ==
          jpeg.size());
}
