#include "core/job/job.h"

#include "support/catch.h"

#include "writer.h"

#include <rapidcheck.h>

#include <algorithm>
#include <map>
#include <random>

using namespace railside;
using Json = nlohmann::json;

namespace {

StepList three_steps() {
    StepList list{"first_power", "First power", "Go slowly", {}};
    const auto step = [](const char* key, const char* text, StepKind kind) {
        ListStep made;
        made.key = key;
        made.text = text;
        made.kind = kind;
        return made;
    };
    ListStep look = step("look", "Look it over", StepKind::tick);
    look.hint = "both sides";
    look.bars = true;
    ListStep glow = step("glow", "Lamp settles", StepKind::choice);
    glow.choices = {{"dark", false}, {"dim", false}, {"bright", true}};
    ListStep offset = step("offset", "Offset", StepKind::reading);
    offset.unit = Unit::volt;
    offset.low = -0.05;
    offset.high = 0.05;
    offset.low_text = "-50m";
    offset.high_text = "50m";
    ListStep picture = step("picture", "Picture", StepKind::photo);
    picture.caution = "hot";
    list.steps = {look, glow, offset, picture};
    return list;
}

const std::string_view starting_lamp = "00000000000000000000000004"; // of the bench's book

std::string job_photo_again(Writer& writer, PhotoRecord photo) {
    photo.caption = "the pad as it is now";
    return writer.add(EntryKind::photo, photo_body(photo));
}

const StepRecord& step(const Job& job, const std::string& key) {
    for (const StepRecord& record : job.lists.at(0).steps)
        if (record.step.key == key)
            return record;
    throw std::out_of_range(key);
}

bool same_source(const Source& a, const Source& b) {
    return a.entry == b.entry && a.time_ms == b.time_ms && a.standing == b.standing;
}

/// Everything of a job as text, so that two folds can be compared whole.
std::string told(const Job& job) {
    Json all = {{"id", job.id},
                {"begun", job.begun_ms},
                {"touched", job.touched_ms},
                {"standing", static_cast<int>(job.standing)}};
    all["sheet"] = sheet_body(job.sheet);
    const auto source = [](const Source& s) {
        return Json{s.entry, s.time_ms, static_cast<int>(s.standing)};
    };
    for (const auto& one : job.positions)
        all["positions"].push_back({source(one.source), position_body(one)});
    for (const auto& one : job.readings)
        all["readings"].push_back({source(one.source), reading_body(one)});
    for (const auto& one : job.kept)
        all["kept"].push_back({source(one.source), kept_body(one)});
    for (const auto& one : job.photos)
        all["photos"].push_back({source(one.source), photo_body(one)});
    for (const auto& one : job.notes)
        all["notes"].push_back({source(one.source), one.text});
    for (const auto& one : job.lists)
        for (const auto& s : one.steps)
            all["lists"].push_back({source(one.source), one.key, one.name, one.intro, s.step.key,
                                    static_cast<int>(s.state), s.answer, s.time_ms, s.tick,
                                    s.why_open, s.barred_by, s.refused_tick});
    for (const auto& one : job.marks)
        all["marks"].push_back({source(one.source), mark_body(one)});
    for (const auto& one : job.pairs)
        all["pairs"].push_back({source(one.source), pair_body(one)});
    for (const auto& one : job.recordings)
        all["recordings"].push_back({source(one.source), recording_body(one)});
    for (const auto& one : job.costs)
        all["costs"].push_back({source(one.source), cost_body(one)});
    for (const auto& one : job.taken_off)
        all["taken_off"].push_back({source(one.source), taken_off_body(one)});
    for (const auto& one : job.put_back)
        all["put_back"].push_back({source(one.source), put_back_body(one)});
    for (const auto& one : job.entries)
        all["entries"].push_back({one.id, one.body});
    all["struck"] = job.struck;
    return all.dump();
}

} // namespace

TEST_CASE("fold: without a sheet there is no job", "[core][job]") {
    Writer writer;
    const std::string id = writer.job();
    writer.entries()[0].kind = EntryKind::note;
    writer.entries()[0].body = {{"text", "x"}};
    const Result<Job> job = fold_job(id, writer.entries());
    REQUIRE_FALSE(job.ok());
    CHECK(job.error().code == ErrorCode::not_found);
    CHECK_FALSE(fold_job(id, {}).ok());
}

TEST_CASE("fold: entries of other jobs are passed over", "[core][job]") {
    Writer writer;
    Writer other(1'800'000'000'000);
    other.note("theirs");
    for (const Entry& entry : other.entries())
        writer.entries().push_back(entry);
    const Job job = writer.fold();
    CHECK(job.notes.empty());
    CHECK(job.entries.size() == 1);
}

TEST_CASE("fold: a later sheet changes only the members it names", "[core][job]") {
    Writer writer;
    writer.add(
        EntryKind::job,
        {{"model", "SA-260"}, {"agreed_limit", 140}, {"known", {{"rail", "40"}, {"pairs", "1"}}}});
    writer.add(EntryKind::job, {{"spent", 25.5}, {"known", {{"rail", "41"}, {"load", "8"}}}});
    writer.add(EntryKind::job, {{"model", ""}, {"known", {{"pairs", ""}}}});
    const Job job = writer.fold();
    CHECK(job.sheet.maker == "Orrinvale");
    CHECK(job.sheet.model.empty());
    CHECK(job.sheet.agreed_limit == 140);
    CHECK(job.sheet.spent == 25.5);
    CHECK(job.known("rail") == "41");
    CHECK(job.known("load") == "8");
    CHECK_FALSE(job.known("pairs").has_value());
    CHECK(job.begun_ms == 1'700'000'000'000);
    CHECK(job.touched_ms == 1'700'000'000'003);
}

TEST_CASE("fold: a position of the same designator and channel is the same position",
          "[core][job]") {
    Writer writer;
    const std::string first = writer.position(
        "Q214", {{"channel", "left"}, {"role", "output"}, {"printed_type", "2SC5200"}});
    writer.position("Q214", {{"channel", "right"}, {"role", "output"}});
    const std::string later = writer.position("Q214", {{"channel", "left"}, {"state", "bad"}});
    writer.add(EntryKind::reading,
               {{"what", "gain"},
                {"position", later},
                {"amount", {{"value", 90}, {"low", 88}, {"high", 92}, {"unit", "ratio"}}}});
    const Job job = writer.fold();
    REQUIRE(job.positions.size() == 2);
    CHECK(job.positions[0].source.entry == first);
    CHECK(job.positions[0].role == "output");
    CHECK(job.positions[0].printed_type == "2SC5200");
    CHECK(job.positions[0].state == "bad");
    CHECK(job.positions[1].channel == Channel::right);
    CHECK(job.positions[1].state.empty());
    // A record that speaks of any entry of a position speaks of the position.
    CHECK(job.readings.at(0).position == first);
}

TEST_CASE("fold: a position's struck change is withdrawn, a struck position stays as struck",
          "[core][job]") {
    Writer writer;
    const std::string first = writer.position("R1", {{"printed_type", "0R22"}});
    const std::string change =
        writer.position("R1", {{"fitted_type", "0R47"}, {"fitted_by", "earlier shop"}});
    SECTION("the change") {
        writer.strike(change);
        const Job job = writer.fold();
        REQUIRE(job.positions.size() == 1);
        CHECK(job.positions[0].fitted_type.empty());
        CHECK(job.positions[0].source.standing == Standing::valid);
    }
    SECTION("the position") {
        writer.strike(first);
        const Job job = writer.fold();
        REQUIRE(job.positions.size() == 2);
        CHECK(job.positions[0].source.standing == Standing::struck);
        CHECK(job.positions[0].fitted_type.empty());
        CHECK(job.positions[1].source.entry == change);
        CHECK(job.positions[1].source.standing == Standing::valid);
        writer.strike(first, Standing::valid);
        const Job back = writer.fold();
        REQUIRE(back.positions.size() == 1);
        CHECK(back.positions[0].fitted_type == "0R47");
    }
}

TEST_CASE("fold: a strike retracts an entry, which stays visible, and another brings it back",
          "[core][job]") {
    Writer writer;
    const std::string note = writer.note("hum on the left");
    writer.strike(note);
    Job job = writer.fold();
    REQUIRE(job.notes.size() == 1);
    CHECK(job.notes[0].source.standing == Standing::struck);
    CHECK(job.struck == std::vector<std::string>{note});
    writer.strike(note, Standing::valid);
    job = writer.fold();
    CHECK(job.notes[0].source.standing == Standing::valid);
    CHECK(job.struck.empty());
    writer.strike(note);
    CHECK(writer.fold().struck.size() == 1);
}

TEST_CASE("fold: striking a strike undoes it, and that can be struck as well", "[core][job]") {
    Writer writer;
    const std::string note = writer.note("x");
    const std::string first = writer.strike(note);
    const std::string second = writer.strike(first);
    Job job = writer.fold();
    CHECK(job.notes[0].source.standing == Standing::valid);
    CHECK(job.struck == std::vector<std::string>{first});
    writer.strike(second);
    job = writer.fold();
    CHECK(job.notes[0].source.standing == Standing::struck);
    CHECK(job.struck == std::vector<std::string>{note, second});
}

TEST_CASE("fold: a struck strike lets the one before it speak", "[core][job]") {
    Writer writer;
    const std::string note = writer.note("x");
    writer.strike(note);
    const std::string back = writer.strike(note, Standing::valid);
    writer.strike(back);
    CHECK(writer.fold().notes[0].source.standing == Standing::struck);
}

TEST_CASE("fold: a strike acts only on entries before it, and on none of another job",
          "[core][job]") {
    Writer writer;
    Writer other(1'600'000'000'000);
    const std::string theirs = other.note("theirs");
    const std::string later = make_entry_id(1'700'000'000'009, {9, 8, 7, 6, 5, 4, 3, 2, 1, 0}, "");
    writer.strike(later);
    writer.strike(theirs);
    while (writer.note("fill") != later) {
    }
    const Job job = writer.fold();
    CHECK(job.struck.empty());
    CHECK(job.notes.back().source.standing == Standing::valid);
}

TEST_CASE("fold: striking the first entry strikes the job and leaves its sheet readable",
          "[core][job]") {
    Writer writer;
    const std::string change = writer.add(EntryKind::job, {{"model", "SA-260"}});
    writer.strike(writer.job());
    Job job = writer.fold();
    CHECK(job.standing == Standing::struck);
    CHECK(job.sheet.maker == "Orrinvale");
    CHECK(job.sheet.model == "SA-260");
    writer.strike(writer.job(), Standing::valid);
    writer.strike(change);
    job = writer.fold();
    CHECK(job.standing == Standing::valid);
    CHECK(job.sheet.model.empty());
}

TEST_CASE("fold: entries that do not fit their kind stay in the history and change nothing",
          "[core][job]") {
    Writer writer;
    writer.note("good");
    const std::string before = told(writer.fold());
    writer.add(EntryKind::note, {{"words", "no text"}});
    writer.add(EntryKind::job, {{"maker", 5}});
    Entry unreadable = writer.entries().back();
    unreadable.id = make_entry_id(1'700'000'000'100, {}, "");
    unreadable.body = nullptr;
    writer.entries().push_back(unreadable);
    Entry later = writer.entries().front();
    later.id = make_entry_id(1'700'000'000'200, {}, "");
    later.kind = EntryKind::unknown;
    later.kind_text = "torque";
    later.body = {{"newton_metre", 0.6}};
    writer.entries().push_back(later);
    Job job = writer.fold();
    REQUIRE(job.entries.size() == 6);
    CHECK(job.entries.back() == later);
    CHECK(job.notes.size() == 1);
    CHECK(job.sheet.maker == "Orrinvale");
    job.entries.resize(2);
    job.touched_ms = job.entries.back().time_ms;
    CHECK(told(job) == before);
}

TEST_CASE("fold: a tick binds to the list's entry and the step's key, and the last one decides",
          "[core][job]") {
    Writer writer;
    const std::string list = writer.add(EntryKind::list, list_body(three_steps()));
    const std::string twin = writer.add(EntryKind::list, list_body(three_steps()));
    writer.add(EntryKind::tick, tick_body(list, "look", StepState::done, ""));
    Job job = writer.fold();
    CHECK(step(job, "look").state == StepState::done);
    CHECK(job.lists[1].steps[0].state == StepState::open);
    CHECK(job.lists[0].done() == 1);
    const std::string back =
        writer.add(EntryKind::tick, tick_body(list, "look", StepState::open, ""));
    job = writer.fold();
    CHECK(step(job, "look").state == StepState::open);
    CHECK(step(job, "look").tick == back);
    const std::string skip =
        writer.add(EntryKind::tick, tick_body(list, "look", StepState::skipped, "seen before"));
    job = writer.fold();
    CHECK(step(job, "look").state == StepState::skipped);
    CHECK(step(job, "look").answer == "seen before");
    CHECK(job.lists[0].done() == 1);
    // A struck tick never was.
    writer.strike(skip);
    CHECK(step(writer.fold(), "look").state == StepState::open);
    // Ticks of steps or lists that are not there change nothing.
    writer.add(EntryKind::tick, tick_body(list, "dance", StepState::done, ""));
    writer.add(EntryKind::tick, tick_body(writer.job(), "look", StepState::done, ""));
    CHECK(writer.fold().lists[0].done() == 0);
    CHECK(writer.fold().lists[1].source.entry == twin);
}

TEST_CASE("fold: an open barring step bars all after it, done or skipped it bars none",
          "[core][job]") {
    Writer writer;
    const std::string list = writer.add(EntryKind::list, list_body(three_steps()));
    Job job = writer.fold();
    CHECK(step(job, "look").barred_by.empty());
    for (const char* key : {"glow", "offset", "picture"})
        CHECK(step(job, key).barred_by == "Look it over");
    const std::string done =
        writer.add(EntryKind::tick, tick_body(list, "look", StepState::done, ""));
    job = writer.fold();
    for (const char* key : {"glow", "offset", "picture"})
        CHECK(step(job, key).barred_by.empty());
    writer.strike(done);
    CHECK(step(writer.fold(), "picture").barred_by == "Look it over");
    writer.add(EntryKind::tick, tick_body(list, "look", StepState::skipped, "no time"));
    CHECK(step(writer.fold(), "picture").barred_by.empty());
}

TEST_CASE("fold: a choice answered with a stopping word is not ticked and bars what follows",
          "[core][job]") {
    Writer writer;
    const std::string list = writer.add(EntryKind::list, list_body(three_steps()));
    writer.add(EntryKind::tick, tick_body(list, "look", StepState::done, ""));
    writer.add(EntryKind::tick, tick_body(list, "glow", StepState::done, "bright"));
    Job job = writer.fold();
    CHECK(step(job, "glow").state == StepState::open);
    CHECK(step(job, "glow").answer == "bright");
    CHECK(step(job, "glow").why_open == "\"bright\" means stop: the steps after this one wait.");
    CHECK(step(job, "glow").barred_by.empty());
    CHECK(step(job, "offset").barred_by == "Lamp settles");
    CHECK(step(job, "picture").barred_by == "Lamp settles");
    writer.add(EntryKind::tick, tick_body(list, "glow", StepState::done, "dim"));
    job = writer.fold();
    CHECK(step(job, "glow").state == StepState::done);
    CHECK(step(job, "glow").why_open.empty());
    CHECK(step(job, "offset").barred_by.empty());
    writer.add(EntryKind::tick, tick_body(list, "glow", StepState::done, "purple"));
    job = writer.fold();
    CHECK(step(job, "glow").state == StepState::open);
    CHECK(step(job, "glow").why_open.find("purple") != std::string::npos);
    CHECK(step(job, "offset").barred_by.empty());
}

TEST_CASE("fold: a reading ticks its step only inside the window, ends included", "[core][job]") {
    Writer writer;
    const std::string list = writer.add(EntryKind::list, list_body(three_steps()));
    writer.add(EntryKind::tick, tick_body(list, "look", StepState::done, ""));
    const auto answered = [&](const std::string& text) {
        writer.add(EntryKind::tick, tick_body(list, "offset", StepState::done, text));
        return step(writer.fold(), "offset");
    };
    CHECK(answered("12m").state == StepState::done);
    CHECK(answered("50m").state == StepState::done);
    CHECK(answered("\xE2\x88\x92"
                   "50 mV")
              .state == StepState::done);
    const StepRecord outside = answered("51m");
    CHECK(outside.state == StepState::open);
    CHECK(outside.answer == "51m");
    CHECK(outside.why_open.find("lies outside") != std::string::npos);
    CHECK(answered("many").state == StepState::open);
    CHECK_FALSE(answered("many").why_open.empty());
    CHECK(answered("").state == StepState::open);
}

TEST_CASE("fold: a tick made while an earlier step bars does not count and says so",
          "[core][job]") {
    Writer writer;
    const std::string list = writer.add(EntryKind::list, list_body(three_steps()));
    const std::string early =
        writer.add(EntryKind::tick, tick_body(list, "picture", StepState::done, ""));
    Job job = writer.fold();
    CHECK(step(job, "picture").state == StepState::open);
    CHECK(step(job, "picture").refused_tick == early);
    CHECK(step(job, "picture").tick.empty());
    CHECK(step(job, "picture").why_open ==
          "It was ticked while \"Look it over\" was still open, which bars it: that tick does not "
          "count.");
    CHECK(job.lists[0].done() == 0);
    SECTION("not even once the barring step is done; ticked again it counts") {
        writer.add(EntryKind::tick, tick_body(list, "look", StepState::done, ""));
        job = writer.fold();
        CHECK(step(job, "picture").state == StepState::open);
        CHECK(step(job, "picture").barred_by.empty());
        writer.add(EntryKind::tick, tick_body(list, "picture", StepState::done, ""));
        job = writer.fold();
        CHECK(step(job, "picture").state == StepState::done);
        CHECK(step(job, "picture").refused_tick.empty());
        CHECK(step(job, "picture").why_open.empty());
    }
    SECTION("a stopping word bars in the same way") {
        writer.add(EntryKind::tick, tick_body(list, "look", StepState::done, ""));
        writer.add(EntryKind::tick, tick_body(list, "glow", StepState::done, "bright"));
        const std::string later =
            writer.add(EntryKind::tick, tick_body(list, "picture", StepState::done, ""));
        job = writer.fold();
        CHECK(step(job, "picture").state == StepState::open);
        CHECK(step(job, "picture").refused_tick == later);
    }
    SECTION("a tick made before keeps counting when the barring step is opened again") {
        writer.add(EntryKind::tick, tick_body(list, "look", StepState::done, ""));
        const std::string good =
            writer.add(EntryKind::tick, tick_body(list, "picture", StepState::done, ""));
        writer.add(EntryKind::tick, tick_body(list, "look", StepState::open, ""));
        const std::string again =
            writer.add(EntryKind::tick, tick_body(list, "picture", StepState::done, ""));
        job = writer.fold();
        CHECK(step(job, "picture").state == StepState::done);
        CHECK(step(job, "picture").tick == good);
        CHECK(step(job, "picture").refused_tick == again);
        CHECK(step(job, "picture").barred_by == "Look it over");
    }
    SECTION("skipping with a reason and taking back count, for the report shows them") {
        writer.add(EntryKind::tick, tick_body(list, "picture", StepState::skipped, "no camera"));
        CHECK(step(writer.fold(), "picture").state == StepState::skipped);
        writer.add(EntryKind::tick, tick_body(list, "picture", StepState::open, ""));
        CHECK(step(writer.fold(), "picture").state == StepState::open);
    }
    SECTION("a struck barring tick never was, and what hung on it does not count") {
        const std::string look =
            writer.add(EntryKind::tick, tick_body(list, "look", StepState::done, ""));
        writer.add(EntryKind::tick, tick_body(list, "picture", StepState::done, ""));
        CHECK(step(writer.fold(), "picture").state == StepState::done);
        writer.strike(look);
        CHECK(step(writer.fold(), "picture").state == StepState::open);
    }
}

TEST_CASE("fold: what points at a photo follows it when its entry is written anew", "[core][job]") {
    Writer writer;
    PhotoRecord photo;
    photo.hash = std::string(64, 'b');
    photo.type = "jpeg";
    photo.width = photo.height = 10;
    photo.bytes = 99;
    const std::string first = writer.add(EntryKind::photo, photo_body(photo));
    photo.hash = std::string(64, 'd');
    const std::string other = writer.add(EntryKind::photo, photo_body(photo));
    writer.add(EntryKind::mark,
               {{"photo", first}, {"shape", "note"}, {"text", "here"}, {"points", {{0.5, 0.5}}}});
    writer.add(EntryKind::pair, {{"before", first}, {"after", other}});
    writer.add(EntryKind::taken_off, {{"what", "screw"}, {"photo", first}});
    CHECK(writer.fold().marks.at(0).photo == first);
    photo.hash = std::string(64, 'b');
    photo.caption = "another caption";
    writer.strike(first);
    // Struck and not written anew: it still names what it named.
    CHECK(writer.fold().marks.at(0).photo == first);
    const std::string anew = writer.add(EntryKind::photo, photo_body(photo));
    const Job job = writer.fold();
    CHECK(job.marks.at(0).photo == anew);
    CHECK(job.pairs.at(0).before == anew);
    CHECK(job.pairs.at(0).after == other);
    CHECK(job.taken_off.at(0).photo == anew);
    CHECK(job.taken_off.at(0).count == 1); // not said: one
}

TEST_CASE("fold: entries of the bench's book change nothing in a job", "[core][job]") {
    Writer writer;
    writer.note("x");
    const std::string before = told(writer.fold());
    writer.add(EntryKind::drawer, {{"text", "BD139 x 2"}});
    writer.add(EntryKind::instrument, {{"type", "other"}, {"name", "Thing"}});
    writer.add(EntryKind::list_text, {{"key", "intake"}});
    Job job = writer.fold();
    CHECK(job.entries.size() == 5);
    job.entries.resize(2);
    job.touched_ms = job.entries.back().time_ms;
    CHECK(told(job) == before);
}

TEST_CASE("fold: entries written before these members and kinds still mean what they meant",
          "[core][job]") {
    Writer writer;
    writer.add(EntryKind::reading,
               {{"what", "idle volts"},
                {"conditions", "on the lamp"},
                {"amount", {{"value", 0.1}, {"low", 0.1}, {"high", 0.1}, {"unit", "volt"}}}});
    writer.add(EntryKind::working, {{"working", "idle"}, {"record", Json::object()}});
    writer.position("Q1", {{"channel", "left"}});
    const Job job = writer.fold();
    CHECK(job.readings.at(0).kind == ReadingKind::other);
    CHECK(job.readings.at(0).conditions == "on the lamp");
    CHECK(job.readings.at(0).when == Conditions{});
    CHECK(job.kept.at(0).uses.empty());
    CHECK(job.positions.at(0).half == Half::none);
    CHECK(job.sheet.hourly_rate == 0);
}

TEST_CASE("fold: the bodies made here lead back to the records they were made of", "[core][job]") {
    Writer writer;
    Sheet sheet;
    sheet.model = "SA-260";
    sheet.serial = "0042";
    sheet.complaint = "left side too hot";
    sheet.state = "on the bench";
    sheet.currency = "EUR";
    sheet.year = "about 1981";
    sheet.accessories = "two leads";
    sheet.condition = "dent at the left";
    sheet.hourly_rate = 48;
    sheet.agreed_limit = 140;
    sheet.spent = 0.1;
    sheet.known = {{"load", "8"}, {"rail", "40"}};
    writer.add(EntryKind::job, sheet_body(sheet));
    PositionRecord position;
    position.designator = "VR3";
    position.channel = Channel::right;
    position.role = "trim pot";
    position.printed_type = "470R";
    position.fitted_type = "500R";
    position.fitted_by = "earlier shop";
    position.state = "suspect";
    position.note = "other make";
    position.half = Half::minus;
    position.sister = writer.job(); // whatever it names is kept
    const std::string position_id = writer.add(EntryKind::position, position_body(position));
    ReadingRecord reading;
    reading.what = "idle volts";
    reading.channel = Channel::left;
    reading.position = position_id;
    reading.field = "reading";
    reading.amount = {0.096, 0.0952, 0.0968, Unit::volt};
    reading.text = "96m";
    reading.conditions = "on the lamp";
    reading.instrument = "meter";
    writer.add(EntryKind::reading, reading_body(reading));
    KeptWorking kept;
    kept.working = "idle";
    kept.channel = Channel::left;
    kept.record = {
        {"working", "idle"}, {"curves", {{"big", 1}}}, {"verdict", {{"state", "outside"}}}};
    const std::string kept_id = writer.add(EntryKind::working, kept_body(kept));
    kept.replaces = kept_id;
    const std::string kept_later = writer.add(EntryKind::working, kept_body(kept));
    PhotoRecord photo;
    photo.hash = std::string(64, 'b');
    photo.type = "png";
    photo.width = 3;
    photo.height = 4;
    photo.bytes = 99;
    photo.stage = PhotoStage::earlier_work;
    photo.caption = "a wire bridging a lifted pad";
    photo.position = position_id;
    photo.channel = Channel::right;
    writer.add(EntryKind::photo, photo_body(photo));
    const StepList list = three_steps();
    writer.add(EntryKind::list, list_body(list));
    const std::string photo_id = writer.add(EntryKind::photo, photo_body(photo));
    ReadingRecord full = reading;
    full.kind = ReadingKind::millivolts;
    full.when = {Power::lamp, std::string(starting_lamp), Warmth::warm, 12.5};
    full.instrument_id = starting_lamp;
    const std::string full_id = writer.add(EntryKind::reading, reading_body(full));
    kept.uses = {full_id};
    writer.add(EntryKind::working, kept_body(kept));
    MarkRecord mark;
    mark.photo = photo_id;
    mark.shape = MarkShape::arrow;
    mark.points = {{0, 0.25}, {1, 0.5}};
    mark.text = "bridge";
    mark.position = position_id;
    writer.add(EntryKind::mark, mark_body(mark));
    const PairRecord pair{{}, photo_id, job_photo_again(writer, photo), "pad mended"};
    writer.add(EntryKind::pair, pair_body(pair));
    RecordingRecord recording;
    recording.hash = std::string(64, 'c');
    recording.name = "left.csv";
    recording.bytes = 5;
    recording.channel = Channel::left;
    recording.what = "output at the clip";
    recording.when.power = Power::mains;
    recording.conditions = "8 ohm";
    recording.position = position_id;
    recording.instrument_id = starting_lamp;
    writer.add(EntryKind::recording, recording_body(recording));
    CostRecord part{{}, CostType::part, "trim pot", 2, 1.25, 0, std::nullopt, position_id};
    writer.add(EntryKind::cost, cost_body(part));
    CostRecord work{{}, CostType::work, "looking", 1, 0, 30, 48.0, ""};
    writer.add(EntryKind::cost, cost_body(work));
    TakenOffRecord item{{}, "mica washer", "Q214", 2, photo_id, Channel::left, position_id, "thin"};
    const std::string item_id = writer.add(EntryKind::taken_off, taken_off_body(item));
    const PutBackRecord back_again{{}, item_id, 2, "new ones"};
    writer.add(EntryKind::put_back, put_back_body(back_again));

    const Job job = writer.fold();
    sheet.maker = "Orrinvale";
    CHECK(sheet_change(sheet, job.sheet) == Json::object());
    CHECK(job.sheet.year == "about 1981");
    CHECK(job.sheet.accessories == "two leads");
    CHECK(job.sheet.condition == "dent at the left");
    CHECK(job.sheet.hourly_rate == 48);
    REQUIRE(job.marks.size() == 1);
    CHECK(mark_body(job.marks[0]) == mark_body(mark));
    CHECK(job.marks[0].points == mark.points);
    REQUIRE(job.pairs.size() == 1);
    CHECK(pair_body(job.pairs[0]) == pair_body(pair));
    REQUIRE(job.recordings.size() == 1);
    CHECK(recording_body(job.recordings[0]) == recording_body(recording));
    CHECK(job.recordings[0].when.power == Power::mains);
    REQUIRE(job.costs.size() == 2);
    CHECK(cost_body(job.costs[0]) == cost_body(part));
    CHECK(cost_body(job.costs[1]) == cost_body(work));
    CHECK(job.costs[1].rate == 48.0);
    REQUIRE(job.taken_off.size() == 1);
    CHECK(taken_off_body(job.taken_off[0]) == taken_off_body(item));
    REQUIRE(job.put_back.size() == 1);
    CHECK(put_back_body(job.put_back[0]) == put_back_body(back_again));
    REQUIRE(job.positions.size() == 1);
    CHECK(position_body(job.positions[0]) == position_body(position));
    CHECK(job.positions[0].channel == Channel::right);
    CHECK(job.positions[0].note == "other make");
    REQUIRE(job.readings.size() == 2);
    CHECK(reading_body(job.readings[1]) == reading_body(full));
    CHECK(job.readings[1].when == full.when);
    CHECK(reading_body(job.readings[0]) == reading_body(reading));
    CHECK(job.readings[0].amount == reading.amount);
    CHECK(job.readings[0].instrument == "meter");
    REQUIRE(job.kept.size() == 3);
    CHECK(job.kept[2].uses == std::vector<std::string>{full_id});
    CHECK(job.kept[1].uses.empty());
    CHECK_FALSE(job.kept[0].record.contains("curves"));
    CHECK(job.kept[0].record["verdict"]["state"] == "outside");
    CHECK(job.kept[1].replaces == kept_id);
    REQUIRE(job.photos.size() == 3);
    CHECK(photo_body(job.photos[0]) == photo_body(photo));
    CHECK(job.photos[0].stage == PhotoStage::earlier_work);
    REQUIRE(job.lists.size() == 1);
    CHECK(job.lists[0].intro == "Go slowly");
    StepList back{job.lists[0].key, job.lists[0].name, job.lists[0].intro, {}};
    for (const StepRecord& record : job.lists[0].steps)
        back.steps.push_back(record.step);
    CHECK(list_body(back) == list_body(list));
    CHECK(back.steps[2].low_text == "-50m");
    CHECK(
        same_source(job.kept[1].source, {kept_later, job.kept[1].source.time_ms, Standing::valid}));
}

TEST_CASE("fold: the worked example of journal.md adds up to what it says", "[core][job]") {
    const char* const lines[][3] = {
        {"01HF7YAT00ZS91D7K2V0M4XQ8E", "job",
         R"({"maker":"Orrinvale","model":"SA-260","agreed_limit":140,"known":{"rail":"40"}})"},
        {"01HF7YB3K4R8W6T1N5C9J0P2GD", "position",
         R"({"designator":"VR3","channel":"left","role":"trim pot","state":"suspect"})"},
        {"01HF7YBQ7H3M0S5V8X2D6K4E1T", "reading",
         R"({"what":"idle volts","channel":"left","text":"96m",
             "amount":{"value":0.096,"low":0.0952,"high":0.0968,"unit":"volt"}})"},
        {"01HF7YC1ZN6P9B4G7Q0A3W5R8J", "position",
         R"({"designator":"VR3","channel":"left","state":"bad"})"},
        {"01HF7YC8D2T5E1K6M9V4H7S0XN", "strike",
         R"({"entry":"01HF7YBQ7H3M0S5V8X2D6K4E1T","standing":"struck"})"},
    };
    std::vector<Entry> entries;
    for (const auto& line : lines) {
        Entry entry;
        entry.id = line[0];
        entry.job = lines[0][0];
        entry.bench = "bench";
        entry.kind = entry_kind_from_key(line[1]).value();
        entry.body = Json::parse(line[2]);
        const Result<Done> sound = check_entry(entry);
        INFO((sound.ok() ? "" : sound.error().message));
        REQUIRE(sound.ok());
        entries.push_back(entry);
    }
    const Job job = fold_job(lines[0][0], entries).value();
    CHECK(job.sheet.agreed_limit == 140);
    CHECK(job.known("rail") == "40");
    REQUIRE(job.positions.size() == 1);
    CHECK(job.positions[0].role == "trim pot");
    CHECK(job.positions[0].state == "bad");
    REQUIRE(job.readings.size() == 1);
    CHECK(job.readings[0].source.standing == Standing::struck);
}

TEST_CASE("fold: the last kept working is the latest that is not struck", "[core][job]") {
    Writer writer;
    const auto keep = [&](const char* working, Channel channel) {
        KeptWorking kept;
        kept.working = working;
        kept.channel = channel;
        kept.record = Json::object();
        return writer.add(EntryKind::working, kept_body(kept));
    };
    CHECK(writer.fold().last_kept() == nullptr);
    const std::string left = keep("idle", Channel::left);
    const std::string right = keep("idle", Channel::right);
    const std::string gain = keep("gain", Channel::left);
    Job job = writer.fold();
    CHECK(job.last_kept()->source.entry == gain);
    CHECK(job.last_kept("idle", Channel::left)->source.entry == left);
    CHECK(job.last_kept("lamp", Channel::left) == nullptr);
    writer.strike(gain);
    job = writer.fold();
    CHECK(job.last_kept()->source.entry == right);
    CHECK(job.last_kept("gain", Channel::left) == nullptr);
}

TEST_CASE("fold: a change names only what differs, and clears what became empty", "[core][job]") {
    Sheet before;
    before.maker = "Orrinvale";
    before.serial = "1";
    before.known = {{"pairs", "1"}, {"rail", "40"}};
    Sheet after = before;
    after.serial = "";
    after.spent = 3;
    after.known = {{"load", "8"}, {"rail", "40"}};
    CHECK(sheet_change(before, after) ==
          Json({{"serial", ""}, {"spent", 3.0}, {"known", {{"load", "8"}, {"pairs", ""}}}}));
    CHECK(sheet_change(before, before) == Json::object());
    PositionRecord here;
    here.designator = "Q1";
    here.channel = Channel::left;
    here.state = "suspect";
    PositionRecord there = here;
    there.state = "good";
    CHECK(position_change(here, there) ==
          Json({{"designator", "Q1"}, {"channel", "left"}, {"state", "good"}}));
}

TEST_CASE("fold: a later wanting of the same id describes it anew, and struck is withdrawn",
          "[core][job]") {
    Writer writer;
    WantingRecord wanting;
    wanting.title = "Reservoirs";
    wanting.why = "They bulge.";
    wanting.rank = WantingRank::reliability;
    wanting.parts = 34.5;
    wanting.minutes = 40;
    wanting.position = writer.position("C201");
    const std::string first = writer.add(EntryKind::wanting, wanting_body(wanting));
    wanting.why.clear();
    wanting.state = WantingState::declined;
    const std::string change = writer.add(EntryKind::wanting, wanting_change(first, wanting));
    writer.add(EntryKind::wanting, wanting_change(writer.job(), wanting)); // of no wanting
    Job job = writer.fold();
    REQUIRE(job.wanting.size() == 1);
    CHECK(job.wanting[0].source.entry == first);
    CHECK(job.wanting[0].described == change);
    CHECK(job.wanting[0].why.empty());
    CHECK(job.wanting[0].state == WantingState::declined);
    CHECK(job.wanting[0].parts == 34.5);
    CHECK(job.wanting[0].minutes == 40);
    CHECK(job.wanting[0].position == wanting.position);
    writer.strike(change);
    job = writer.fold();
    CHECK(job.wanting[0].why == "They bulge.");
    CHECK(job.wanting[0].state == WantingState::open);
    writer.strike(first);
    CHECK(writer.fold().wanting[0].source.standing == Standing::struck);
}

TEST_CASE("fold: the last circuit that is not struck counts", "[core][job]") {
    Writer writer;
    CHECK(writer.fold().circuit() == nullptr);
    CircuitRecord circuit;
    circuit.name = "as drawn";
    circuit.netlist = "title\n.end\n";
    circuit.positions = "{}";
    circuit.names = {{"left/q9", "Q214"}, {"right/q9", "Q314"}};
    writer.add(EntryKind::circuit, circuit_body(circuit));
    circuit.name = "corrected";
    const std::string second = writer.add(EntryKind::circuit, circuit_body(circuit));
    Job job = writer.fold();
    REQUIRE(job.circuit() != nullptr);
    CHECK(job.circuit()->name == "corrected");
    CHECK(job.circuit()->netlist == circuit.netlist);
    CHECK(job.circuit()->names == circuit.names);
    writer.strike(second);
    job = writer.fold();
    REQUIRE(job.circuit() != nullptr);
    CHECK(job.circuit()->name == "as drawn");
}

TEST_CASE("fold: findings are kept with their channel and half, struck ones as struck",
          "[core][job]") {
    Writer writer;
    FindingRecord finding;
    finding.about = "complaint/breaks_up";
    finding.answer = "yes";
    finding.channel = Channel::right;
    finding.half = Half::plus;
    const std::string id = writer.add(EntryKind::finding, finding_body(finding));
    Job job = writer.fold();
    REQUIRE(job.findings.size() == 1);
    CHECK(job.findings[0].about == finding.about);
    CHECK(job.findings[0].answer == "yes");
    CHECK(job.findings[0].channel == Channel::right);
    CHECK(job.findings[0].half == Half::plus);
    writer.strike(id);
    CHECK(writer.fold().findings[0].source.standing == Standing::struck);
}

TEST_CASE("fold: each closing changes the members it names, each override by itself",
          "[core][job]") {
    Writer writer;
    const PhotoRecord photo{{}, std::string(64, 'a'), "jpeg", 4,  3,
                            9,  PhotoStage::fitted,   "",     "", Channel::none};
    const std::string shown = writer.add(EntryKind::photo, photo_body(photo));
    CHECK_FALSE(writer.fold().closing.photos.has_value());
    ClosingRecord before;
    ClosingRecord after;
    after.words = "It works.";
    after.cause = "wiper open";
    after.photos = {shown};
    after.overrides = {{"unit", "no plate"}, {"limit", "agreed by telephone"}};
    writer.add(EntryKind::closing, closing_change(before, after));
    before = writer.fold().closing;
    CHECK(before.words == "It works.");
    after.words = "It works again.";
    after.cure = "new trim pot";
    after.overrides = {{"unit", "plate gone"}};
    const std::string second = writer.add(EntryKind::closing, closing_change(before, after));
    const std::string again = job_photo_again(writer, photo);
    writer.strike(shown);
    Job job = writer.fold();
    CHECK(job.closing.words == "It works again.");
    CHECK(job.closing.cause == "wiper open");
    CHECK(job.closing.cure == "new trim pot");
    CHECK(job.closing.photos == std::vector<std::string>{again});
    CHECK(job.closing.overrides ==
          std::vector<std::pair<std::string, std::string>>{{"unit", "plate gone"}});
    CHECK(job.closing.entries.size() == 2);
    writer.strike(second);
    job = writer.fold();
    CHECK(job.closing.words == "It works.");
    CHECK(job.closing.cure.empty());
    CHECK(job.closing.overrides.size() == 2);
    CHECK(closing_change(job.closing, job.closing).empty());
}

TEST_CASE("fold: the same entries in any order, and twice over, give the same job", "[core][job]") {
    CHECK(rc::check("order does not matter", [] {
        Writer writer;
        std::vector<std::string> ids = {writer.job()};
        std::vector<std::string> lists;
        for (int n = *rc::gen::inRange(5, 40); n > 0; --n) {
            const auto some = [&] { return ids[*rc::gen::inRange<std::size_t>(0, ids.size())]; };
            switch (*rc::gen::inRange(0, 9)) {
            case 0:
                ids.push_back(writer.add(EntryKind::job, {{"spent", *rc::gen::inRange(0, 100)},
                                                          {"known",
                                                           {{*rc::gen::element("rail", "load"),
                                                             *rc::gen::element("", "8", "40")}}}}));
                break;
            case 1:
                ids.push_back(writer.position(
                    *rc::gen::element("Q1", "Q2"),
                    {{*rc::gen::element("state", "note"), *rc::gen::element("a", "b")}}));
                break;
            case 2:
                ids.push_back(writer.note("x"));
                break;
            case 3:
                lists.push_back(writer.add(EntryKind::list, list_body(three_steps())));
                ids.push_back(lists.back());
                break;
            case 4:
                ids.push_back(writer.add(
                    EntryKind::taken_off,
                    {{"what", "washer"}, {"count", *rc::gen::inRange(1, 5)}, {"photo", some()}}));
                break;
            case 5:
                ids.push_back(writer.add(EntryKind::put_back, {{"item", some()}}));
                break;
            case 6:
                ids.push_back(writer.add(EntryKind::photo,
                                         {{"hash", std::string(64, *rc::gen::element('a', 'b'))},
                                          {"type", "png"},
                                          {"width", 1},
                                          {"height", 1},
                                          {"bytes", 1},
                                          {"stage", "fitted"}}));
                break;
            case 7:
                if (!lists.empty())
                    ids.push_back(writer.add(
                        EntryKind::tick,
                        tick_body(lists[*rc::gen::inRange<std::size_t>(0, lists.size())],
                                  *rc::gen::element("look", "glow", "offset"), StepState::done,
                                  *rc::gen::element("", "dim", "bright", "12m", "2"))));
                break;
            default:
                ids.push_back(
                    writer.strike(some(), *rc::gen::element(Standing::struck, Standing::valid)));
            }
        }
        std::vector<Entry> entries = writer.entries();
        const std::string once = told(fold_job(writer.job(), entries).value());
        entries.insert(entries.end(), writer.entries().begin(), writer.entries().end());
        std::mt19937 order(*rc::gen::arbitrary<std::uint32_t>());
        std::shuffle(entries.begin(), entries.end(), order);
        RC_ASSERT(told(fold_job(writer.job(), entries).value()) == once);
    }));
}

TEST_CASE("fold: standings agree with a slow reading of the rule", "[core][job]") {
    // The rule of journal.md, written as it is spoken: an entry is struck when the last of the
    // strikes that name it, come after it and are not struck themselves says so.
    CHECK(rc::check("against recursion", [] {
        Writer writer;
        std::vector<std::string> ids = {writer.note("x"), writer.note("y")};
        for (int n = *rc::gen::inRange(0, 25); n > 0; --n)
            ids.push_back(writer.strike(ids[*rc::gen::inRange<std::size_t>(0, ids.size())],
                                        *rc::gen::element(Standing::struck, Standing::valid)));
        struct Slow {
            const std::vector<Entry>& entries;
            bool struck(const std::string& id) const {
                for (auto it = entries.rbegin(); it != entries.rend(); ++it)
                    if (it->kind == EntryKind::strike && it->body["entry"] == id && it->id > id &&
                        !struck(it->id))
                        return it->body["standing"] == "struck";
                return false;
            }
        };
        std::vector<std::string> expected;
        for (const std::string& id : ids)
            if (Slow{writer.entries()}.struck(id))
                expected.push_back(id);
        RC_ASSERT(writer.fold().struck == expected);
    }));
}

TEST_CASE("job: the words of a sheet's state lead back to it", "[core][job]") {
    for (const JobState state : all_job_states()) {
        CHECK(job_state_from_word(job_state_word(state)) == state);
        CHECK_FALSE(job_state_word(state).empty());
    }
    CHECK(all_job_states().size() == 7);
    CHECK(job_state_from_word("") == JobState::waiting);
    CHECK(job_state_from_word("on the bench") == JobState::on_the_bench);
    CHECK(job_state_from_word("lent to a friend") == JobState::other);
    CHECK(is_closed(JobState::handed_back));
    CHECK(is_closed(JobState::returned_unrepaired));
    CHECK_FALSE(is_closed(JobState::ready));
}

TEST_CASE("job: halves and marks have keys that lead back", "[core][job]") {
    for (const Half half : {Half::none, Half::plus, Half::minus})
        CHECK(half_from_key(half_key(half)) == half);
    CHECK_FALSE(half_from_key("upper").has_value());
    for (const MarkShape shape :
         {MarkShape::ring, MarkShape::arrow, MarkShape::line, MarkShape::note})
        CHECK(mark_shape_from_key(mark_shape_key(shape)) == shape);
    CHECK_FALSE(mark_shape_from_key("cloud").has_value());
}

TEST_CASE("job: channels and photo stages have keys that lead back", "[core][job]") {
    for (const Channel channel : {Channel::none, Channel::left, Channel::right})
        CHECK(channel_from_key(channel_key(channel)) == channel);
    CHECK_FALSE(channel_from_key("centre").has_value());
    for (const PhotoStage stage :
         {PhotoStage::as_received, PhotoStage::earlier_work, PhotoStage::taken_off,
          PhotoStage::fitted, PhotoStage::finished}) {
        CHECK(photo_stage_from_key(photo_stage_key(stage)) == stage);
        CHECK_FALSE(photo_stage_label(stage).empty());
    }
    CHECK(photo_stage_label(PhotoStage::earlier_work) == "earlier work");
    CHECK_FALSE(photo_stage_from_key("").has_value());
}
