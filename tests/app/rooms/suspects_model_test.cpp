#include "app/rooms/suspects_model.h"

#include "core/suspects/usual.h"
#include "support/catch.h"

#include <algorithm>

using namespace railside;

namespace {

std::string all_words(const Page& page) {
    std::string words;
    for (const PageRow& row : page.rows)
        words +=
            row.label + "|" + row.value + "|" + row.other + "|" + row.more + "|" + row.note + "\n";
    return words;
}

const PageButton* button_of(const Page& page, std::string_view name) {
    for (const PageRow& row : page.rows)
        for (const PageButton& button : row.buttons)
            if (button.name == name)
                return &button;
    for (const PageButton& button : page.foot)
        if (button.name == name)
            return &button;
    return nullptr;
}

bool says(const Page& page, std::string_view words) {
    return all_words(page).find(words) != std::string::npos;
}

/// A channel weighed: a limiter suspected, a test of a part next.
ChannelHunt weighed() {
    ChannelHunt hunt;
    hunt.ready = true;
    hunt.roles = {"limiter, +", "trim pot"};
    hunt.kinds = {ElementKind::transistor, ElementKind::resistor};
    hunt.elements = {"q9", "rtrim"};
    Suspect first;
    first.position = 0;
    first.name = "Q309";
    first.kind = FaultKind::leak;
    first.probability = 0.83;
    hunt.ranking = {first};
    JobEvidence hot;
    hot.evidence = {"01HF7YAT000000000000000000", "complaint/hot", 1.0, std::nullopt, false};
    hot.words = "hot with nothing playing";
    hunt.facts.items = {hot};
    hunt.standing.sentence = "Q309, leaky: 83 %.";
    Proposal next;
    next.key = "part/Q309";
    next.position = 0;
    next.setup = Setup::off;
    next.minutes = 5;
    next.what = "Q309 (limiter) out of circuit";
    next.why = "Q309 is 83 % to be it.";
    next.outcomes = {{0.8, "bad", "Q309: replace it"}, {0.2, "good", "R329 (60 %)"}};
    hunt.next = next;
    return hunt;
}

} // namespace

TEST_CASE("suspects: without a circuit the room says how to give it one", "[app][rooms]") {
    SuspectsFacts facts;
    facts.why_no_usual = "rail: The rail is not known yet.";
    const Page page = make_suspects({}, {}, facts);
    CHECK(says(page, "must know the circuit"));
    CHECK(says(page, "The rail is not known yet"));
    REQUIRE(button_of(page, "usual") != nullptr);
    CHECK(button_of(page, "usual")->kind == ButtonKind::plain);
    facts.why_no_usual.clear();
    const Page ready = make_suspects({}, {}, facts);
    CHECK(button_of(ready, "usual")->kind == ButtonKind::primary);
    CHECK(button_of(ready, "file") != nullptr);
}

TEST_CASE("suspects: while the table is worked out it shows how far, and takes complaints",
          "[app][rooms]") {
    SuspectsFacts facts;
    facts.circuit = "usual";
    facts.left.table = {30, 120, {}};
    const Page page = make_suspects({}, {}, facts);
    CHECK(says(page, "30 of 120"));
    CHECK(button_of(page, "complaint/hot") != nullptr);
    facts.left.table.failed = "The healthy amplifier does not settle.";
    CHECK(says(make_suspects({}, {}, facts), "does not settle"));
}

TEST_CASE("suspects: a complaint that was told is chosen, and a touch strikes it", "[app][rooms]") {
    SuspectsFacts facts;
    facts.circuit = "usual";
    Job job;
    FindingRecord told;
    told.source.entry = "01HF7YAT000000000000000000";
    told.about = "complaint/breaks_up";
    told.answer = "yes";
    told.channel = Channel::left;
    told.half = Half::plus;
    job.findings = {told};
    const Page page = make_suspects({}, job, facts);
    const PageButton* plus = button_of(page, "complaint/breaks_up_plus");
    REQUIRE(plus != nullptr);
    CHECK(plus->kind == ButtonKind::chosen);
    const auto* strike = std::get_if<intent::StrikeEntry>(&plus->does);
    REQUIRE(strike != nullptr);
    CHECK(strike->entry == told.source.entry);
    const PageButton* both = button_of(page, "complaint/breaks_up");
    CHECK(both->kind == ButtonKind::choice);
    CHECK(std::get<intent::SayFound>(both->does).about == "complaint/breaks_up");
}

TEST_CASE("suspects: the next test is a card with its minutes, its reason and what each outcome "
          "means",
          "[app][rooms]") {
    SuspectsFacts facts;
    facts.circuit = "usual";
    facts.left = weighed();
    const Page page = make_suspects({}, {}, facts);
    for (const char* words : {"Next: Q309 (limiter) out of circuit", "5 min", "83 % to be it",
                              "R329 (60 %)", "Plug out", "Q309, leaky"})
        CHECK(says(page, words));
    // Its answer is one touch away, and is filed under the netlist's name.
    const PageButton* leaky = button_of(page, "answer/leaky");
    REQUIRE(leaky != nullptr);
    CHECK(std::get<intent::SayFound>(leaky->does).about == "part/q9");
    CHECK(button_of(page, "answer/changed") == nullptr); // no word for a transistor

    facts.left.next->position = -1;
    facts.left.next->probe = find_probe("limited/offset");
    facts.left.next->key = "limited/offset";
    facts.left.next->setup = Setup::limited;
    const Page reading = make_suspects({}, {}, facts);
    REQUIRE(button_of(reading, "reading") != nullptr);
    CHECK(std::get<intent::KeyIn>(button_of(reading, "reading")->does).target ==
          "hunt/limited/offset");
    CHECK(says(reading, "one hand"));
}

TEST_CASE("suspects: a bar is as long as its number says, and opens to the reasons",
          "[app][rooms]") {
    SuspectsFacts facts;
    facts.circuit = "usual";
    facts.left = weighed();
    facts.left.reasons = {"hot with nothing playing: it fits."};
    facts.left.proof = "more than 0.1 mA";
    const auto gauge = [](const Page& page) {
        return *std::find_if(page.rows.begin(), page.rows.end(),
                             [](const PageRow& row) { return row.kind == RowKind::gauge; });
    };
    const Page closed = make_suspects({}, {}, facts);
    CHECK(gauge(closed).value == "83 %");
    CHECK(gauge(closed).part == Approx(0.83));
    CHECK_FALSE(says(closed, "it fits"));
    AppState state;
    state.suspect = "Q309";
    const Page opened = make_suspects(state, {}, facts);
    CHECK(says(opened, "it fits"));
    CHECK(says(opened, "limiter, +"));
    CHECK(says(opened, "Proof: more than 0.1 mA"));
}

TEST_CASE("suspects: what is not weighed is listed with the reason, what is struck comes back",
          "[app][rooms]") {
    SuspectsFacts facts;
    facts.circuit = "usual";
    facts.left = weighed();
    JobEvidence not_weighed;
    not_weighed.evidence.id = "01HF7YAT000000000000000001";
    not_weighed.words = "hum";
    not_weighed.why_not = "The circuit says nothing about it.";
    facts.left.facts.items.push_back(not_weighed);
    facts.left.facts.items.front().evidence.struck = true;
    AppState state;
    state.suspects_part = SuspectsPart::evidence;
    const Page page = make_suspects(state, {}, facts);
    CHECK(says(page, "The circuit says nothing about it."));
    std::vector<PageRow> lines;
    std::copy_if(page.rows.begin(), page.rows.end(), std::back_inserter(lines),
                 [](const PageRow& row) { return row.kind == RowKind::line; });
    REQUIRE(lines.size() == 2);
    CHECK(lines[0].struck);
    CHECK(std::get<intent::StrikeEntry>(*lines[0].does).standing == Standing::valid);
    CHECK(std::get<intent::StrikeEntry>(*lines[1].does).standing == Standing::struck);
}

TEST_CASE("suspects: both channels stand beside each other", "[app][rooms]") {
    SuspectsFacts facts;
    facts.circuit = "usual";
    facts.left = weighed();
    facts.right.ready = true;
    JobEvidence volts;
    volts.evidence = {"x", "idle/offset", 0.0142, std::nullopt, false};
    volts.words = "Offset: 14.2 mV";
    facts.right.facts.items = {volts};
    AppState state;
    state.suspects_part = SuspectsPart::channels;
    const Page page = make_suspects(state, {}, facts);
    bool found = false;
    for (const PageRow& row : page.rows)
        if (row.label.find("volts at the output") != std::string::npos) {
            found = true;
            CHECK(row.value == "\u2014");
            CHECK(row.other == "14.2 mV");
        }
    CHECK(found);
    CHECK(says(page, "Q309, leaky 83 %"));
}

TEST_CASE("suspects: the keypad of a reading the hunt asks for takes that place's unit and sign",
          "[app][rooms]") {
    const auto offset = make_hunt_keypad("idle/offset");
    REQUIRE(offset.has_value());
    CHECK(offset->field.unit == Unit::volt);
    CHECK(offset->field.low < 0);
    CHECK(make_hunt_keypad("idle/i_plus")->field.unit == Unit::ampere);
    CHECK(make_hunt_keypad("loaded/distortion")->field.unit == Unit::percent);
    CHECK_FALSE(make_hunt_keypad("idle/nothing").has_value());
    CHECK(hunt_reading_kind("idle/v_re1") == ReadingKind::millivolts);
    CHECK(hunt_reading_kind("loaded/clip_plus") == ReadingKind::peak_volts);
}
