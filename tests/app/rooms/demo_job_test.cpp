#include "app/rooms/demo_job.h"

#include "assets.h"
#include "core/job/money.h"
#include "core/working/json.h"
#include "core/working/working.h"
#include "support/catch.h"

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <random>

#include <fmt/format.h>

using namespace railside;
using Json = nlohmann::json;

namespace {

/// A folder of its own under the system's temporary one, gone afterwards.
class Folder {
  public:
    Folder() {
        std::random_device chance;
        path_ = std::filesystem::temp_directory_path() /
                fmt::format("railside-demo-{:08x}{:08x}", chance(), chance());
    }
    ~Folder() {
        std::error_code ignored;
        std::filesystem::remove_all(path_, ignored);
    }
    Folder(const Folder&) = delete;
    Folder& operator=(const Folder&) = delete;
    [[nodiscard]] const std::filesystem::path& path() const { return path_; }

  private:
    std::filesystem::path path_;
};

std::unique_ptr<Bench> open_bench(const Folder& folder) {
    auto bench = Bench::open(folder.path(), system_surroundings());
    INFO((bench.ok() ? std::string() : bench.error().message));
    REQUIRE(bench.ok());
    return std::move(bench).value();
}

/// Keeps nothing: fills in what a bench would.
Result<PhotoRecord> no_vault(std::string_view name, PhotoRecord photo) {
    photo.hash = std::string(64, char('a' + name.size() % 6));
    photo.type = "jpeg";
    photo.width = 4;
    photo.height = 3;
    photo.bytes = 1;
    return photo;
}

Result<RecordingRecord> no_recordings(RecordingRecord recording) {
    recording.hash = std::string(64, 'a');
    recording.bytes = 1;
    return recording;
}

std::vector<Entry> made(std::int64_t begun_ms) {
    const Asset* file = find_asset("demo/job.json");
    REQUIRE(file != nullptr);
    auto entries = demo_entries(file->bytes, begun_ms, no_vault, no_recordings);
    INFO((entries.ok() ? std::string() : entries.error().message));
    REQUIRE(entries.ok());
    return std::move(entries).value();
}

Job folded(const std::vector<Entry>& entries) {
    auto job = fold_job(entries.front().job, entries);
    REQUIRE(job.ok());
    return std::move(job).value();
}

const ReadingRecord& reading_of(const Job& job, std::string_view what) {
    const auto it =
        std::find_if(job.readings.begin(), job.readings.end(),
                     [&](const ReadingRecord& reading) { return reading.what == what; });
    REQUIRE(it != job.readings.end());
    return *it;
}

} // namespace

TEST_CASE("demo job: it loads into a fresh bench, folds, and its pictures come out of the vault",
          "[app][rooms][demo]") {
    const Folder folder;
    const auto bench = open_bench(folder);
    const auto id = load_demo_job(*bench);
    INFO((id.ok() ? std::string() : id.error().message));
    REQUIRE(id.ok());
    const auto job = bench->job(*id);
    REQUIRE(job.ok());
    CHECK(job->sheet.maker == "Orrinvale");
    CHECK(job->sheet.model == "SA-260");
    CHECK(job->sheet.agreed_limit == 140);
    CHECK(money_of(*job).total == 86);
    CHECK(job->begun_ms == k_demo_begun_ms);
    REQUIRE(job->photos.size() == 8);
    for (const PhotoRecord& photo : job->photos) {
        INFO(photo.caption);
        CHECK(photo.width == 1200);
        CHECK(photo.height == 900);
        const auto bytes = bench->photo_bytes(photo.hash);
        REQUIRE(bytes.ok());
        CHECK(std::int64_t(bytes->size()) == photo.bytes);
        const auto thumbnail = bench->photo_picture(photo.hash, 256);
        REQUIRE(thumbnail.ok());
        CHECK(thumbnail->width == 256);
    }
}

TEST_CASE("demo job: loading it a second time changes nothing, whatever time is given",
          "[app][rooms][demo]") {
    const Folder folder;
    const auto bench = open_bench(folder);
    const auto first = load_demo_job(*bench);
    REQUIRE(first.ok());
    const auto before = bench->entries(*first);
    REQUIRE(before.ok());
    const auto again = load_demo_job(*bench);
    REQUIRE(again.ok());
    CHECK(*again == *first);
    const auto later = load_demo_job(*bench, k_demo_begun_ms + 86'400'000);
    REQUIRE(later.ok());
    CHECK(*later == *first);
    const auto after = bench->entries(*first);
    REQUIRE(after.ok());
    CHECK(*after == *before);
    const auto jobs = bench->jobs();
    REQUIRE(jobs.ok());
    CHECK(jobs->size() == 1);
}

TEST_CASE("demo job: the same text and time give the same ids, in order", "[app][rooms][demo]") {
    const auto one = made(k_demo_begun_ms);
    const auto two = made(k_demo_begun_ms);
    CHECK(one == two);
    for (std::size_t i = 1; i < one.size(); ++i) {
        CHECK(one[i - 1].id < one[i].id);
        CHECK(one[i - 1].time_ms <= one[i].time_ms);
    }
    const auto moved = made(k_demo_begun_ms + 60'000);
    CHECK(moved.front().id != one.front().id);
    CHECK(moved.front().time_ms - one.front().time_ms == 60'000);
}

TEST_CASE("demo job: every entry counts; none is passed over by the fold", "[app][rooms][demo]") {
    const auto entries = made(k_demo_begun_ms);
    const Job job = folded(entries);
    const auto of_kind = [&](EntryKind kind) {
        return std::size_t(std::count_if(entries.begin(), entries.end(),
                                         [&](const Entry& entry) { return entry.kind == kind; }));
    };
    CHECK(job.readings.size() == of_kind(EntryKind::reading));
    CHECK(job.kept.size() == of_kind(EntryKind::working));
    CHECK(job.photos.size() == of_kind(EntryKind::photo));
    CHECK(job.recordings.size() == of_kind(EntryKind::recording));
    CHECK(job.recordings.size() == 1);
    CHECK(job.notes.size() == of_kind(EntryKind::note));
    CHECK(job.lists.size() == of_kind(EntryKind::list));
    std::size_t ticked = 0;
    for (const ListRecord& list : job.lists) {
        ticked += std::size_t(
            list.done()); // a tick whose step or answer is wrong would leave its step open
    }
    CHECK(ticked == of_kind(EntryKind::tick));
    CHECK(job.positions.size() == 21);
    for (const ReadingRecord& reading : job.readings) {
        INFO(reading.what);
        CHECK((reading.position.empty() || std::any_of(job.positions.begin(), job.positions.end(),
                                                       [&](const PositionRecord& position) {
                                                           return position.source.entry ==
                                                                  reading.position;
                                                       })));
    }
}

TEST_CASE("demo job: first power stands at 4 of 11 with the lamp next", "[app][rooms][demo]") {
    const Job job = folded(made(k_demo_begun_ms));
    const auto list = std::find_if(job.lists.begin(), job.lists.end(),
                                   [](const ListRecord& one) { return one.key == "first_power"; });
    REQUIRE(list != job.lists.end());
    CHECK(list->done() == 4);
    CHECK(list->steps.size() == 11);
    CHECK(list->steps[4].step.key == "glow");
    CHECK(list->steps[4].state == StepState::open);
    CHECK(list->steps[4].barred_by.empty());
    CHECK_FALSE(list->steps[5].barred_by.empty());
}

TEST_CASE("demo job: what was kept is what the catalogue computes from the inputs kept with it",
          "[app][rooms][demo]") {
    const Job job = folded(made(k_demo_begun_ms));
    REQUIRE(job.kept.size() == 5);
    for (const KeptWorking& kept : job.kept) {
        INFO(kept.working);
        const Working* working = find_working(kept.working);
        REQUIRE(working != nullptr);
        const auto inputs = inputs_from_json(*working, kept.record["inputs"]);
        INFO((inputs.ok() ? std::string() : inputs.error().message));
        REQUIRE(inputs.ok());
        const auto outcome = run_working(*working, *inputs);
        REQUIRE(outcome.ok());
        Json again = working_to_json(*working, *inputs, *outcome);
        again.erase("curves");
        CHECK(again["results"] == kept.record["results"]);
        CHECK(again["verdict"] == kept.record["verdict"]);
    }
    const KeptWorking* last = job.last_kept();
    REQUIRE(last != nullptr);
    CHECK(last->working == "idle");
    CHECK(last->channel == Channel::right);
    // 11.4 mV across 0.22 ohm, Ohm's law: 51.8 mA; 8.25 to 13.75 mV is right for a target of 11 mV
    CHECK(last->record["results"]["idle_current"]["value"].get<double>() ==
          Approx(0.0114 / 0.22).epsilon(1e-12));
    CHECK(last->record["verdict"]["state"] == "in_window");
}

TEST_CASE("demo job: the readings agree with one another", "[app][rooms][demo]") {
    const Job job = folded(made(k_demo_begun_ms));
    // the two halves of a channel carry the same idle current but for the base current of the
    // stage: within 2 %
    const double upper_a = reading_of(job, "Idle volts across R231").amount.value / 0.22;
    const double lower_a =
        reading_of(job, "Idle volts across R232, 0R47 fitted").amount.value / 0.47;
    CHECK(upper_a == Approx(lower_a).epsilon(0.02));
    // right, + half into 4 ohm. Limiter base from the emitter end of R_E through 330, to the output
    // through 1k instead of 330, to its own rail through 27k, to ground through a diode and 15k;
    // V_BE 0.70 V, diode 0.65 V: Kirchhoff at the base. I = (Vb + R1*i)/R_E with i = Vb/R2 + (V +
    // Vb - Vd)/R3 - (Vcc - V - Vb)/R4, and V = 4*I at the limit.
    const auto limit_v = [](double r2) {
        double v = 0;
        for (int i = 0; i < 300; ++i) {
            const double current = 0.70 / r2 + (v + 0.05) / 15e3 - (40 - v - 0.70) / 27e3;
            v = 0.9 * v + 0.1 * 4 * (0.70 + 330 * current) / 0.22;
        }
        return v;
    };
    const double peak = reading_of(job, "Greatest + peak into 4 Ω").amount.value;
    CHECK(peak == Approx(limit_v(1000)).epsilon(0.10));
    // with the right resistor the limit lies beyond the rail: it never acts into 4 ohm
    CHECK(limit_v(330) > 40);
    // the - half is not held: farther out than the + half, inside the rail
    const double other = reading_of(job, "− peak at the same level").amount.value;
    CHECK(-other > peak * 1.3);
    CHECK(-other < 40);
}

TEST_CASE("demo job: a text that is not one is refused by the entry's number",
          "[app][rooms][demo]") {
    const auto refused = [](std::string_view text) {
        const auto entries = demo_entries(text, 0, no_vault, no_recordings);
        REQUIRE_FALSE(entries.ok());
        CHECK(entries.error().code == ErrorCode::damaged);
        return entries.error().message;
    };
    CHECK_FALSE(refused("{").empty());
    CHECK_FALSE(refused("[]").empty());
    CHECK_FALSE(refused(R"({"entries": 3})").empty());
    const std::string sheet = R"({"minutes": 5, "kind": "job", "body": {"model": "x"}})";
    const auto second = [&](std::string_view draft) {
        return refused(fmt::format(R"({{"bench": "demo", "entries": [{}, {}]}})", sheet, draft));
    };
    for (
        const std::string_view draft : {
            R"(7)",
            R"({"minutes": 4, "kind": "note", "body": {"text": "back in time"}})",
            R"({"minutes": 6, "kind": "letter", "body": {}})",
            R"({"minutes": 6, "kind": "note", "body": 5})",
            R"({"minutes": 6, "kind": "list", "list": "none"})",
            R"({"minutes": 6, "kind": "tick", "list": "first_power", "step": "lamp"})",
            R"({"minutes": 6, "kind": "reading", "body": {"what": "x", "text": "much", "unit": "volt"}})",
            R"({"minutes": 6, "kind": "reading", "position": "Q1", "body": {"what": "x", "text": "1", "unit": "volt"}})",
            R"({"minutes": 6, "kind": "working", "working": "none", "inputs": {}})",
            R"({"minutes": 6, "kind": "working", "working": "idle", "inputs": {"depth": {"text": "3"}}})",
            R"({"minutes": 6, "kind": "working", "working": "idle", "inputs": {}})",
            R"({"minutes": 6, "kind": "photo", "picture": "front", "body": {"stage": "never"}})",
        }) {
        INFO(draft);
        CHECK(second(draft).find("Entry 2 ") == 0);
    }
}
