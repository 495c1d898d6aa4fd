// The bench, the program and the page put together. The page calls web_start once, when it has laid
// the bench's files where they belong and read its journal.
#include "app/hosts/web.h"
#include "app/rooms/builtin_lists.h"
#include "app/rooms/demo_job.h"
#include "app/rooms/program.h"
#include "core/store/bench.h"
#include "core/words/words.h"

#include <emscripten.h>
#include <fmt/format.h>

#include <chrono>
#include <ctime>
#include <string>
#include <sys/stat.h>

namespace railside {

namespace {

constexpr const char* k_folder = "/bench";
// The demo made here is another job than the one a desktop makes: their pictures are drawn alike
// but packed by different encoders.
constexpr std::int64_t k_demo_later_ms = 60'000;

std::string& failure() {
    static std::string k_failure;
    return k_failure;
}

std::unique_ptr<Bench>& bench() {
    static std::unique_ptr<Bench> k_bench;
    return k_bench;
}

bool& replaying() {
    static bool k_replaying = false;
    return k_replaying;
}

Clock clock() {
    const auto now = std::chrono::system_clock::now();
    const std::time_t seconds = std::chrono::system_clock::to_time_t(now);
    std::tm local = {};
    ::localtime_r(&seconds, &local);
    return {std::chrono::duration_cast<std::chrono::milliseconds>(now.time_since_epoch()).count(),
            static_cast<int>(local.tm_gmtoff / 60)};
}

/// One line of the page's journal: entries as a JSON array of objects with the columns of the
/// journal (core/store/bench.md).
std::string line_of(std::span<const Entry> entries) {
    nlohmann::json line = nlohmann::json::array();
    for (const Entry& entry : entries)
        line.push_back({{"id", entry.id},
                        {"job", entry.job},
                        {"time_ms", entry.time_ms},
                        {"bench", entry.bench},
                        {"kind", written_kind(entry)},
                        {"body", entry.body}});
    return line.dump();
}

std::optional<Entry> entry_of(const nlohmann::json& row) {
    if (!row.is_object())
        return std::nullopt;
    Entry entry;
    try {
        entry.id = row.at("id").get<std::string>();
        entry.job = row.at("job").get<std::string>();
        entry.time_ms = row.at("time_ms").get<std::int64_t>();
        entry.bench = row.at("bench").get<std::string>();
        const auto kind = row.at("kind").get<std::string>();
        if (const auto known = entry_kind_from_key(kind)) {
            entry.kind = *known;
        } else {
            entry.kind = EntryKind::unknown;
            entry.kind_text = kind;
        }
        entry.body = row.at("body");
    } catch (const nlohmann::json::exception&) {
        return std::nullopt;
    }
    return entry;
}

/// Takes the page's journal in, a line at a time. A line that cannot be read is let be: the page
/// keeps it.
Result<Done> replay(std::string_view journal) {
    std::vector<Entry> entries;
    while (!journal.empty()) {
        const std::string_view line = journal.substr(0, journal.find('\n'));
        journal.remove_prefix(std::min(journal.size(), line.size() + 1));
        const nlohmann::json rows = nlohmann::json::parse(line, nullptr, false);
        for (const nlohmann::json& row : rows)
            if (auto entry = entry_of(row); entry && check_form(*entry).ok())
                entries.push_back(std::move(*entry));
    }
    replaying() = true;
    const auto merged = bench()->merge(entries);
    replaying() = false;
    if (!merged)
        return merged.error();
    return Done{};
}

Surroundings bench_surroundings() {
    Surroundings around = system_surroundings();
    around.may_write = []() -> Result<Done> {
        if (replaying())
            return Done{};
        if (!web_outside().may_write())
            return Error{ErrorCode::busy, "bench",
                         "Railside is open in another tab or window of this browser, and only one "
                         "may write. Nothing was written here; go on there, or close it and load "
                         "this page again."};
        if (const std::string trouble = web_outside().trouble(); !trouble.empty())
            return Error{ErrorCode::failed, "bench", trouble};
        return Done{};
    };
    around.entries_written = [](std::span<const Entry> entries) {
        if (!replaying())
            web_outside().write_line(line_of(entries));
    };
    around.file_written = [](std::string_view hash, std::span<const std::byte> bytes) {
        web_outside().write_file(hash, bytes);
    };
    around.decode = [](std::span<const std::byte> bytes, int longest) -> Result<Picture> {
        auto image = web_outside().decoded(bytes);
        if (!image)
            return Error{ErrorCode::damaged, "photo",
                         "The browser could not read this picture: it is damaged, or of a kind it "
                         "does not know. Take it once more, or save it as JPEG."};
        static_cast<void>(longest);
        return Picture{image->width, image->height, std::move(image->rgba)};
    };
    return around;
}

Result<Done> start(std::string_view journal, std::string_view job, const Screen& screen) {
    for (const char* folder : {k_folder, "/in", "/out"})
        ::mkdir(folder, 0777);
    auto opened = Bench::open(k_folder, bench_surroundings());
    if (!opened)
        return opened.error();
    bench() = std::move(opened).value();
    if (auto taken = replay(journal); !taken)
        return taken;

    const auto lists = builtin_lists();
    ProgramSurroundings around{clock, {lists.begin(), lists.end()}, "/in", {}, true};
    around.camera = open_web_camera;
    around.outside = &web_outside();
    around.demo = [](Bench& on) { return load_demo_job(on, k_demo_begun_ms + k_demo_later_ms); };
    auto program = std::make_unique<RailsideProgram>(*bench(), std::move(around));
    if (job == intent::k_demo)
        program->apply(intent::OpenJob{std::string(job)});
    else if (!job.empty())
        static_cast<void>(program->open_job(job)); // gone: then the shelf
    program->refresh();
    return start_web(std::move(program), screen);
}

} // namespace

} // namespace railside

extern "C" {

/// Before web_start. From here on the program speaks by this PO file's text (core/words). Returns
/// what is wrong with it, or an empty text.
EMSCRIPTEN_KEEPALIVE const char* web_speak(const char* po) {
    railside::failure().clear();
    if (auto catalogue = railside::Catalogue::read(po, "words.po"))
        railside::set_catalogue(
            std::make_shared<const railside::Catalogue>(std::move(catalogue).value()));
    else
        railside::failure() = catalogue.error().message;
    return railside::failure().c_str();
}

/// The words for these as the program speaks now; they live as long as its catalogue, or as these.
EMSCRIPTEN_KEEPALIVE const char* web_words(const char* english) {
    return railside::words(english).data();
}

/// `journal`: lines of line_of. `job`: the one to open, "demo", or empty. Returns what is wrong, or
/// an empty text.
EMSCRIPTEN_KEEPALIVE const char* web_start(const char* journal, const char* job, int width_px,
                                           int height_px, float px_per_mm) {
    railside::failure().clear();
    if (const auto started = railside::start(journal, job, {width_px, height_px, px_per_mm});
        !started)
        railside::failure() = started.error().message;
    return railside::failure().c_str();
}

} // extern "C"

int main() { return 0; }
