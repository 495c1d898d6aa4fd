// Power cuts under the journal: what was not synced is lost, kept or torn in any mixture.
//
// A VFS of SQLite (sqlite.org/vfs.html) that passes everything on to the system's and writes down
// every write, truncation, sync and removal of the files of one folder. A power cut after any of
// these is then played: each file is what it was at its last sync, plus those later writes that
// chance lets through, whole, cut at a sector or with its sectors in any mixture. The folder so
// left is opened as a bench.
#include "core/store/bench.h"

#include "core/store/disk.h"
#include "core/store/sqlite.h"
#include "support/catch.h"
#include "support/temp_folder.h"

#include "benches.h"

#include <sqlite3.h>

#include <algorithm>
#include <chrono>
#include <cstring>
#include <string>
#include <vector>

using namespace railside;
namespace fs = std::filesystem;

namespace {

constexpr std::size_t k_sector = 512;

struct Action {
    enum class What { write, truncate, sync, remove } what = What::write;
    std::string file; // its name in the folder
    std::int64_t at = 0;
    std::string bytes;
};

/// What has happened to the files of `folder`, and how much of the disk is left.
struct Recorder {
    std::string folder;
    bool recording = false;
    std::vector<Action> actions;
    std::int64_t room = -1; // bytes that may still be written; -1: no end
};
Recorder& recorder() {
    static Recorder one;
    return one;
}

void note(Action action) {
    if (recorder().recording)
        recorder().actions.push_back(std::move(action));
}

/// One open file: SQLite's part, its name, then the system's own file behind it.
struct Spied {
    sqlite3_file base;
    std::string* name;
    sqlite3_file* real() { return reinterpret_cast<sqlite3_file*>(this + 1); }
};
Spied* spied(sqlite3_file* file) { return reinterpret_cast<Spied*>(file); }

int spy_close(sqlite3_file* file) {
    Spied* one = spied(file);
    const int code = one->real()->pMethods->xClose(one->real());
    delete one->name;
    one->name = nullptr;
    return code;
}
int spy_read(sqlite3_file* file, void* to, int bytes, sqlite3_int64 at) {
    return spied(file)->real()->pMethods->xRead(spied(file)->real(), to, bytes, at);
}
int spy_write(sqlite3_file* file, const void* from, int bytes, sqlite3_int64 at) {
    Spied* one = spied(file);
    if (recorder().room >= 0 && !one->name->empty()) {
        if (recorder().room < bytes)
            return SQLITE_FULL;
        recorder().room -= bytes;
    }
    const int code = one->real()->pMethods->xWrite(one->real(), from, bytes, at);
    if (code == SQLITE_OK && !one->name->empty())
        note({Action::What::write, *one->name, at,
              std::string(static_cast<const char*>(from), static_cast<std::size_t>(bytes))});
    return code;
}
int spy_truncate(sqlite3_file* file, sqlite3_int64 size) {
    Spied* one = spied(file);
    const int code = one->real()->pMethods->xTruncate(one->real(), size);
    if (code == SQLITE_OK && !one->name->empty())
        note({Action::What::truncate, *one->name, size, {}});
    return code;
}
int spy_sync(sqlite3_file* file, int flags) {
    Spied* one = spied(file);
    // The real one is not waited for: this play decides what is on the disk.
    static_cast<void>(flags);
    if (!one->name->empty())
        note({Action::What::sync, *one->name, 0, {}});
    return SQLITE_OK;
}
int spy_size(sqlite3_file* file, sqlite3_int64* size) {
    return spied(file)->real()->pMethods->xFileSize(spied(file)->real(), size);
}
int spy_lock(sqlite3_file* file, int kind) {
    return spied(file)->real()->pMethods->xLock(spied(file)->real(), kind);
}
int spy_unlock(sqlite3_file* file, int kind) {
    return spied(file)->real()->pMethods->xUnlock(spied(file)->real(), kind);
}
int spy_reserved(sqlite3_file* file, int* result) {
    return spied(file)->real()->pMethods->xCheckReservedLock(spied(file)->real(), result);
}
int spy_control(sqlite3_file* file, int what, void* with) {
    return spied(file)->real()->pMethods->xFileControl(spied(file)->real(), what, with);
}
int spy_sector(sqlite3_file*) { return static_cast<int>(k_sector); }
int spy_traits(sqlite3_file*) { return 0; } // nothing is promised: neither order nor whole sectors

// Version 1: without shared memory, which the bench's exclusive locking does not need.
const sqlite3_io_methods k_methods = {
    1,        spy_close,  spy_read,     spy_write,   spy_truncate, spy_sync,   spy_size,
    spy_lock, spy_unlock, spy_reserved, spy_control, spy_sector,   spy_traits, nullptr,
    nullptr,  nullptr,    nullptr,      nullptr,     nullptr,
};

sqlite3_vfs* real_vfs() {
    static sqlite3_vfs* real = sqlite3_vfs_find(nullptr);
    return real;
}

std::string name_in_folder(const char* path) {
    if (path == nullptr || recorder().folder.empty())
        return {};
    const fs::path file(path);
    return file.parent_path() == recorder().folder ? file.filename().string() : std::string();
}

int spy_open(sqlite3_vfs*, const char* path, sqlite3_file* file, int flags, int* out) {
    Spied* one = spied(file);
    one->base.pMethods = nullptr;
    one->name = nullptr;
    const int code = real_vfs()->xOpen(real_vfs(), path, one->real(), flags, out);
    if (code != SQLITE_OK)
        return code;
    one->name = new std::string(name_in_folder(path));
    one->base.pMethods = &k_methods;
    return SQLITE_OK;
}
int spy_delete(sqlite3_vfs*, const char* path, int sync) {
    const int code = real_vfs()->xDelete(real_vfs(), path, sync);
    if (code == SQLITE_OK && !name_in_folder(path).empty())
        note({Action::What::remove, name_in_folder(path), 0, {}});
    return code;
}

/// Stands before the system's VFS while it lives.
class Spy {
  public:
    explicit Spy(const fs::path& folder) {
        vfs_ = *real_vfs();
        vfs_.zName = "railside-test-spy";
        vfs_.pNext = nullptr;
        vfs_.szOsFile = static_cast<int>(sizeof(Spied)) + real_vfs()->szOsFile;
        vfs_.xOpen = spy_open;
        vfs_.xDelete = spy_delete;
        recorder() = {};
        recorder().folder = folder.string();
        REQUIRE(sqlite3_vfs_register(&vfs_, 1) == SQLITE_OK);
    }
    Spy(const Spy&) = delete;
    Spy& operator=(const Spy&) = delete;
    ~Spy() {
        recorder() = {};
        sqlite3_vfs_register(real_vfs(), 1);
        sqlite3_vfs_unregister(&vfs_);
    }

  private:
    sqlite3_vfs vfs_ = {};
};

void write_into(std::string& file, std::int64_t at, std::string_view bytes) {
    const auto begin = static_cast<std::size_t>(at);
    if (file.size() < begin + bytes.size())
        file.resize(begin + bytes.size(), '\0');
    std::copy(bytes.begin(), bytes.end(), file.begin() + at);
}

/// A file as it was last synced, and what has been asked of it since.
struct OnDisk {
    bool there = false;
    std::string safe;
    std::vector<const Action*> loose;
};

/// What chance leaves of one file.
std::string left_of(const OnDisk& file, std::mt19937& chance) {
    std::string left = file.safe;
    for (const Action* action : file.loose) {
        switch (chance() % 4) {
        case 0: // lost
            break;
        case 1: // whole
            if (action->what == Action::What::truncate)
                left.resize(static_cast<std::size_t>(action->at), '\0');
            else
                write_into(left, action->at, action->bytes);
            break;
        case 2: // a beginning of it
            if (action->what == Action::What::write && !action->bytes.empty())
                write_into(
                    left, action->at,
                    std::string_view(action->bytes).substr(0, chance() % action->bytes.size()));
            break;
        default: // some of its sectors
            if (action->what == Action::What::write)
                for (std::size_t at = 0; at < action->bytes.size(); at += k_sector)
                    if (chance() % 2 == 0)
                        write_into(left, action->at + static_cast<std::int64_t>(at),
                                   std::string_view(action->bytes).substr(at, k_sector));
        }
    }
    return left;
}

/// A session of appends, each with how many actions had been taken when it was acknowledged.
struct Session {
    std::map<std::string, std::string> begun; // the folder's files when it began, all safe
    std::vector<Action> actions;
    std::string job;
    std::vector<std::pair<std::size_t, Entry>> acknowledged;
};

Session play(const fs::path& folder, unsigned entries) {
    Session session;
    const Spy spy(folder);
    {
        const auto bench = open_bench(folder);
        session.job = begin_job(*bench);
    }
    const auto bench = open_bench(folder, 2);
    for (const auto& entry : fs::directory_iterator(folder))
        if (entry.is_regular_file())
            session.begun[entry.path().filename().string()] = contents(entry.path());
    recorder().recording = true;
    std::mt19937 chance(4711);
    for (unsigned i = 0; i < entries; ++i) {
        // Now and then enough that SQLite folds its log into the file.
        const std::size_t fill = i % 9 == 8 ? 900'000 : chance() % 6000;
        const Result<Entry> entry =
            i % 7 == 6 ? bench->append(session.job, EntryKind::strike,
                                       strike_body(session.job,
                                                   i % 2 == 0 ? Standing::struck : Standing::valid))
                       : bench->append(session.job, EntryKind::note,
                                       {{"text", "note " + std::to_string(i)},
                                        {"fill", std::string(fill, 'x')}});
        INFO((entry.ok() ? "" : entry.error().message));
        REQUIRE(entry.ok());
        session.acknowledged.emplace_back(recorder().actions.size(), *entry);
    }
    session.actions = std::move(recorder().actions);
    recorder().actions.clear();
    recorder().recording = false;
    return session;
}

/// Cuts the power after every `step`th action, `tries` times each; returns how many cuts.
unsigned cut_everywhere(const Session& session, std::size_t step, unsigned tries,
                        std::mt19937& chance) {
    unsigned cuts = 0;
    for (std::size_t cut = 0; cut <= session.actions.size(); cut += 1 + chance() % step) {
        std::map<std::string, OnDisk> disk;
        for (const auto& file : session.begun)
            disk[file.first] = {true, file.second, {}};
        for (std::size_t i = 0; i < cut; ++i) {
            const Action& action = session.actions[i];
            OnDisk& file = disk[action.file];
            switch (action.what) {
            case Action::What::write:
            case Action::What::truncate:
                file.there = true;
                file.loose.push_back(&action);
                break;
            case Action::What::sync:
                for (const Action* done : file.loose) {
                    if (done->what == Action::What::truncate)
                        file.safe.resize(static_cast<std::size_t>(done->at), '\0');
                    else
                        write_into(file.safe, done->at, done->bytes);
                }
                file.loose.clear();
                break;
            case Action::What::remove:
                file = {};
                break;
            }
        }
        for (unsigned t = 0; t < tries; ++t, ++cuts) {
            const TempFolder after;
            for (const auto& file : disk)
                if (file.second.there)
                    std::ofstream(after / file.first, std::ios::binary)
                        << left_of(file.second, chance);
            fs::create_directory(after / "vault");
            fs::create_directory(after / "copies");
            const Spy no_waiting(after.path()); // its syncs cost nothing
            Result<std::unique_ptr<Bench>> bench = Bench::open(after.path(), surroundings(99));
            INFO("cut after " << cut << " of " << session.actions.size() << ": "
                              << (bench.ok() ? "" : bench.error().message));
            REQUIRE(bench.ok());
            const std::vector<Entry> there = (*bench)->entries(session.job).value();
            // All that was acknowledged, and at most the one that was being written.
            std::size_t acknowledged = 1; // the sheet
            while (acknowledged <= session.acknowledged.size() &&
                   session.acknowledged[acknowledged - 1].first <= cut) {
                REQUIRE(there.size() > acknowledged);
                REQUIRE(there[acknowledged] == session.acknowledged[acknowledged - 1].second);
                ++acknowledged;
            }
            REQUIRE(there.size() <= acknowledged + 1);
            // Shelf and search say what the journal says.
            REQUIRE((*bench)->jobs()->front().entries == static_cast<int>(there.size()));
            REQUIRE((*bench)->search("orrinvale", 5)->size() == 1);
            const Result<Entry> on =
                (*bench)->append(session.job, EntryKind::note, {{"text", "next day"}});
            REQUIRE(on.ok());
        }
    }
    return cuts;
}

} // namespace

TEST_CASE("torn writes: every acknowledged entry survives a power cut at any moment, whatever of "
          "the unsynced is lost or torn",
          "[core][store]") {
    const TempFolder folder;
    const Session session = play(folder.path(), 20);
    CHECK(session.actions.size() > 300);
    std::mt19937 chance(20'231'114);
    CHECK(cut_everywhere(session, 30, 1, chance) > 20);
}

TEST_CASE("torn writes: so it is over thousands of power cuts", "[.slow][torture][store]") {
    const auto seed =
        static_cast<unsigned>(std::chrono::steady_clock::now().time_since_epoch().count());
    INFO("seed " << seed);
    const TempFolder folder;
    const Session session = play(folder.path(), 40);
    std::mt19937 chance(seed);
    unsigned cuts = 0;
    while (cuts < 3000)
        cuts += cut_everywhere(session, 3, 2, chance);
    CHECK(cuts >= 3000);
}

TEST_CASE(
    "torn writes: on a disk that fills at any byte nothing acknowledged is lost, and work goes "
    "on when there is room",
    "[core][store]") {
    std::mt19937 chance(31);
    for (int round = 0; round < 12; ++round) {
        const TempFolder folder;
        const Spy spy(folder.path());
        std::vector<Entry> acknowledged;
        std::string job;
        {
            const auto bench = open_bench(folder.path());
            job = begin_job(*bench);
            acknowledged = bench->entries(job).value();
            recorder().room = static_cast<std::int64_t>(chance() % 400'000);
            int refused = 0;
            for (int i = 0; i < 40 && refused < 3; ++i) {
                const Result<Entry> entry =
                    bench->append(job, EntryKind::note, {{"text", std::string(4000, 'x')}});
                if (entry.ok()) {
                    acknowledged.push_back(*entry);
                    continue;
                }
                CHECK(entry.error().message.find("The disk is full") != std::string::npos);
                ++refused;
            }
            CHECK(refused == 3);
            CHECK(bench->entries(job).value() == acknowledged);
            recorder().room = -1;
            const Result<Entry> after = bench->append(job, EntryKind::note, {{"text", "room"}});
            INFO((after.ok() ? "" : after.error().message));
            REQUIRE(after.ok());
            acknowledged.push_back(*after);
        }
        const auto bench = open_bench(folder.path(), 3);
        CHECK(bench->entries(job).value() == acknowledged);
        CHECK(bench->search("room", 5)->size() == 1);
    }
}
