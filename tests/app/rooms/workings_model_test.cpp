#include "app/rooms/workings_model.h"

#include "core/working/json.h"
#include "support/catch.h"

#include <algorithm>

using namespace railside;

namespace {

/// A job made of a sheet and some entries, folded as the bench would.
class Story {
  public:
    Story() {
        add(EntryKind::job, {{"model", "SA-260"}, {"known", {{"rail", "40"}, {"pairs", "1"}}}});
    }
    void add(EntryKind kind, nlohmann::json body) {
        Entry entry;
        entry.time_ms = 1773325920000 + static_cast<std::int64_t>(entries_.size()) * 60000;
        entry.id = make_entry_id(entry.time_ms, {}, entries_.empty() ? "" : entries_.back().id);
        entry.job = entries_.empty() ? entry.id : entries_.front().id;
        entry.bench = "test";
        entry.kind = kind;
        entry.body = std::move(body);
        entries_.push_back(entry);
    }
    void read(Channel channel, const std::string& text) {
        const Field& field = *find_field(*find_working("idle"), "reading");
        ReadingRecord reading;
        reading.what = "Reading";
        reading.channel = channel;
        reading.field = "reading";
        reading.text = text;
        reading.amount = read_input(field, text).value().amount;
        add(EntryKind::reading, reading_body(reading));
    }
    Job job() const {
        auto folded = fold_job(entries_.front().id, entries_);
        INFO((folded.ok() ? std::string() : folded.error().message));
        REQUIRE(folded.ok());
        return *folded;
    }

  private:
    std::vector<Entry> entries_;
};

AppState on(Channel channel) {
    AppState state;
    state.channel = channel;
    return state;
}

const Clock k_clock{1773325920000 + 3600000, 0};

} // namespace

TEST_CASE("workings: a field stands at its reading, else what was set, else the sheet, else the "
          "usual value",
          "[app][rooms]") {
    const Working& idle = *find_working("idle");
    const Field& reading = *find_field(idle, "reading");
    const Field& resistor = *find_field(idle, "emitter_resistor");
    const Field& rail = *find_field(idle, "rail");
    Story story;
    CHECK(!field_stand(story.job(), idle, reading, Channel::left, k_clock).has_value());
    CHECK(field_stand(story.job(), idle, rail, Channel::left, k_clock)->from == Origin::job);
    CHECK(field_stand(story.job(), idle, resistor, Channel::left, k_clock)->from ==
          Origin::by_default);
    story.read(Channel::left, "96.0m");
    story.read(Channel::left, "12.0m");
    const auto stand = field_stand(story.job(), idle, reading, Channel::left, k_clock);
    REQUIRE(stand.has_value());
    CHECK(stand->text == "12.0m");
    CHECK(stand->from == Origin::measured);
    CHECK(!field_stand(story.job(), idle, reading, Channel::right, k_clock).has_value());
    story.add(EntryKind::job, {{"known", {{known_key(idle, resistor, Channel::left), "0R47"}}}});
    CHECK(field_stand(story.job(), idle, resistor, Channel::left, k_clock)->text == "0R47");
    CHECK(field_stand(story.job(), idle, resistor, Channel::right, k_clock)->text == "0R22");
}

TEST_CASE("workings: without a reading it says what to key in, with one it answers",
          "[app][rooms]") {
    Story story;
    WorkingsShown shown = make_workings(on(Channel::left), story.job(), k_clock);
    CHECK(!shown.answered);
    CHECK(shown.missing.find("Reading") != std::string::npos);
    story.read(Channel::left, "20.00m");
    shown = make_workings(on(Channel::left), story.job(), k_clock);
    REQUIRE(shown.answered);
    // 20.00 mV across 0.22 ohm: 90.909 mA (physics, section 1).
    CHECK(shown.headline == "90.9\u2009mA");
    REQUIRE(!shown.plots.empty());
    CHECK(shown.plots.front().kind == PlotKind::lines);
    CHECK(shown.rows.front().key == "reading");
    CHECK(shown.rows.front().leads);
}

TEST_CASE("workings: what is on the keypad is tried out before it is set", "[app][rooms]") {
    Story story;
    story.read(Channel::left, "20.00m");
    const Job job = story.job();
    AppState state = on(Channel::left);
    const Working& idle = *find_working("idle");
    state.keypad = make_field_keypad(state, job, idle, *find_field(idle, "reading"), k_clock);
    CHECK(state.keypad->text == "20.00m");
    replace_text(*state.keypad, "11.00m");
    CHECK(make_workings(state, job, k_clock).headline == "50.0\u2009mA");
    // A text that is no value leaves the answer as it was.
    replace_text(*state.keypad, "11..");
    CHECK(make_workings(state, job, k_clock).headline == "90.9\u2009mA");
}

TEST_CASE("workings: the keypad offers the other channel's reading and compares with it",
          "[app][rooms]") {
    Story story;
    story.read(Channel::right, "11.4m");
    const Job job = story.job();
    const Working& idle = *find_working("idle");
    const KeypadState keypad =
        make_field_keypad(on(Channel::left), job, idle, *find_field(idle, "reading"), k_clock);
    REQUIRE(!keypad.quick.empty());
    CHECK(keypad.quick.front().text == "11.4m");
    CHECK(near(keypad.compare, 0.0114, 1e-12));
}

TEST_CASE("workings: kept is said only while the inputs are those that were kept", "[app][rooms]") {
    Story story;
    story.read(Channel::left, "20.00m");
    Job job = story.job();
    CHECK(!make_workings(on(Channel::left), job, k_clock).kept_already);
    const Working& idle = *find_working("idle");
    const Inputs inputs =
        with_defaults(idle, gather_inputs(job, idle, Channel::left, k_clock).inputs);
    KeptWorking kept;
    kept.working = "idle";
    kept.channel = Channel::left;
    kept.record = working_to_json(idle, inputs, run_working(idle, inputs).value());
    story.add(EntryKind::working, kept_body(kept));
    CHECK(make_workings(on(Channel::left), story.job(), k_clock).kept_already);
    CHECK(!make_workings(on(Channel::right), story.job(), k_clock).kept_already);
    story.read(Channel::left, "21.00m");
    CHECK(!make_workings(on(Channel::left), story.job(), k_clock).kept_already);
}

TEST_CASE("workings: only the fields of the chosen meter are asked for, the meter first",
          "[app][rooms]") {
    const Working& leak = *find_working("leak");
    const auto set = [&leak](Story& story, const char* key, const char* text) {
        story.add(EntryKind::job,
                  {{"known", {{known_key(leak, *find_field(leak, key), Channel::left), text}}}});
    };
    const auto row_of = [](const WorkingsShown& shown, std::string_view key) {
        return std::find_if(shown.rows.begin(), shown.rows.end(),
                            [key](const FieldRow& row) { return row.key == key; });
    };
    AppState state = on(Channel::left);
    state.working = "leak";
    Story story;
    set(story, "be_volt", "0.62");
    set(story, "eb_volt", "OL");
    const WorkingsShown diode = make_workings(state, story.job(), k_clock);
    CHECK(diode.rows.front().key == "meter");
    CHECK(diode.rows.front().leads);
    CHECK(diode.rows[1].key == "be_volt");
    CHECK(row_of(diode, "be_ohm") == diode.rows.end());
    CHECK(row_of(diode, "battery") == diode.rows.end());
    CHECK(row_of(diode, "eb_volt")->value == "OL");
    CHECK(row_of(diode, "eb_volt")->spread.empty());
    CHECK(diode.answered);
    // The other meter's readings wait until it is chosen again.
    set(story, "meter", "ohmmeter");
    const WorkingsShown ohmmeter = make_workings(state, story.job(), k_clock);
    CHECK(row_of(ohmmeter, "be_volt") == ohmmeter.rows.end());
    REQUIRE(row_of(ohmmeter, "be_ohm") != ohmmeter.rows.end());
    CHECK(row_of(ohmmeter, "be_ohm")->value.empty());
    CHECK(ohmmeter.answered);
    CHECK(ohmmeter.notes.size() <= diode.notes.size()); // no word of what was not asked
    set(story, "meter", "diode");
    const WorkingsShown again = make_workings(state, story.job(), k_clock);
    CHECK(row_of(again, "be_volt")->value.find("0.62") == 0);
}

TEST_CASE("workings: a field that takes OL offers it for one tap", "[app][rooms]") {
    const Working& leak = *find_working("leak");
    AppState state = on(Channel::left);
    state.working = "leak";
    const Job job = Story().job();
    const KeypadState keypad =
        make_field_keypad(state, job, leak, *find_field(leak, "ce_volt"), k_clock);
    REQUIRE(!keypad.quick.empty());
    CHECK(keypad.quick.front().text == "OL");
    const KeypadState battery =
        make_field_keypad(state, job, leak, *find_field(leak, "battery"), k_clock);
    for (const QuickValue& quick : battery.quick)
        CHECK(quick.text != "OL");
}
