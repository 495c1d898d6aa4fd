#include "core/suspects/job_hunt.h"
#include "core/suspects/usual.h"

#include "core/job/writer.h"

#include <algorithm>
#include <cmath>
#include <map>

using namespace railside;

namespace {

const nlohmann::json k_known = {{"rail", "40"},
                                {"pairs", "1"},
                                {"emitter_resistor", "0R22"},
                                {"load", "8"},
                                {"target", "11m"},
                                {"upper", "910R"},
                                {"lower", "680R"},
                                {"trim", "1k"},
                                {"trim_place", "upper"},
                                {"sense_resistor", "330R"},
                                {"printed_divider", "330R"},
                                {"slope", "ground_diode"},
                                {"slope_resistor", "15k"},
                                {"second_slope", "own"},
                                {"second_slope_resistor", "27k"}};

using Names = std::vector<std::pair<std::string, std::string>>;

/// A job that knows its values and has taken up the usual circuit.
struct Unit260 {
    Writer writer;

    explicit Unit260(const Names& names = {}) {
        writer.add(EntryKind::job, {{"known", k_known}});
        auto values = usual_values(writer.fold());
        REQUIRE(values.ok());
        CircuitRecord circuit = usual_circuit(*values);
        circuit.names = names;
        writer.add(EntryKind::circuit, circuit_body(circuit));
    }
    std::string reading(std::string what, double value, Unit unit, nlohmann::json more) {
        more["what"] = std::move(what);
        more["amount"] = {{"value", value},
                          {"low", value - 1e-6},
                          {"high", value + 1e-6},
                          {"unit", unit_info(unit).key}};
        return writer.add(EntryKind::reading, std::move(more));
    }
    std::string finding(const char* about, const char* answer, const char* channel) {
        return writer.add(EntryKind::finding,
                          {{"about", about}, {"answer", answer}, {"channel", channel}});
    }
    [[nodiscard]] JobFacts facts(Channel channel) const {
        const Job job = writer.fold();
        const auto amplifier = job_amplifier(job, channel);
        REQUIRE(amplifier.ok());
        return job_facts(job, channel, *amplifier);
    }
};

const nlohmann::json k_mains = {{"power", "mains"}};
const nlohmann::json k_lamp = {{"power", "lamp"}};

const JobEvidence* find(const JobFacts& facts, std::string_view key) {
    for (const JobEvidence& item : facts.items)
        if (item.evidence.key == key)
            return &item;
    return nullptr;
}

/// Few draws and steps: the order of the first few is what is tested.
const Hunt& hunt_of(const Unit260& unit, Channel channel) {
    static std::map<std::string, Hunt> held;
    const Job job = unit.writer.fold();
    const std::string key = table_key(job, channel);
    if (const auto at = held.find(key); at != held.end())
        return at->second;
    auto amplifier = job_amplifier(job, channel);
    REQUIRE(amplifier.ok());
    HuntOptions options;
    options.predictions.generic = true;
    options.predictions.samples = 2;
    options.predictions.severity_steps = 4;
    options.predictions.most_steps = 6;
    auto hunt = Hunt::create(*amplifier, options);
    REQUIRE(hunt.ok());
    return held.emplace(key, std::move(*hunt)).first->second;
}

} // namespace

TEST_CASE("usual circuit: values come from the sheet, what is missing is named",
          "[core][suspects]") {
    Writer writer;
    CHECK(usual_values(writer.fold()).error().field.find("rail") != std::string::npos);
    writer.add(EntryKind::job, {{"known", {{"rail", "40"}}}});
    CHECK(usual_values(writer.fold()).error().message.find("emitter resistor") !=
          std::string::npos);
    writer.add(EntryKind::job, {{"known", k_known}});
    const auto values = usual_values(writer.fold());
    REQUIRE(values.ok());
    CHECK(values->emitter_ohm == 0.22);
    CHECK(values->service_v == 0.011);
    REQUIRE(values->limiter.has_value());
    CHECK(values->limiter->divider_ohm == 330.0);
    CHECK(values->limiter->own_rail_ohm == 27000.0);
    writer.add(EntryKind::job, {{"known", {{"rail", "400"}}}});
    const auto wrong = usual_values(writer.fold());
    REQUIRE_FALSE(wrong.ok());
    CHECK(wrong.error().message.find("5 to 150") != std::string::npos);
}

TEST_CASE("usual circuit: with one pair or three it settles at the maker's idle volts",
          "[core][suspects]") {
    for (const int pairs : {1, 3}) {
        UsualValues values;
        values.pairs = pairs;
        values.service_v = 0.011;
        values.upper_ohm = 910;
        values.limiter = UsualLimiter{330, 330, 15e3, true, 27e3, std::nullopt};
        Job job;
        job.circuits.push_back(usual_circuit(values));
        const auto amplifier = job_amplifier(job, Channel::left);
        REQUIRE(amplifier.ok());
        CHECK(amplifier->has_limiter);
        CHECK(amplifier->emitter[0].has_value());
        CHECK(amplifier->emitter[2].has_value() == (pairs > 1));
        CHECK(amplifier->fuse_a == Approx(4));
        const auto readings = simulate(*amplifier, Fault{}, 0.5);
        REQUIRE(readings.ok());
        const auto at = [&](const char* key) {
            return (*readings)[static_cast<std::size_t>(find_probe(key))];
        };
        CHECK(std::abs(at("idle/offset")) < 0.1);
        CHECK(at("loaded/clip_plus") > 30);
        CHECK(at("loaded/clip_minus") < -30);
        // Less than the trim's end gives, more than its beginning.
        CHECK(at("trim/least") < 0.011);
        CHECK(at("trim/most") > 0.011);
    }
}

TEST_CASE("job hunt: without a circuit it says so", "[core][suspects]") {
    Writer writer;
    const Job job = writer.fold();
    CHECK(job_amplifier(job, Channel::left).error().code == ErrorCode::missing);
    CHECK(table_key(job, Channel::left).empty());
}

TEST_CASE("job hunt: a load known of one channel alone is its circuit's, and its table's",
          "[core][suspects]") {
    Unit260 unit;
    CHECK(table_key(unit.writer.fold(), Channel::left) ==
          table_key(unit.writer.fold(), Channel::right));
    unit.writer.add(EntryKind::job, {{"known", {{"clip.right.load", "4"}}}});
    const Job job = unit.writer.fold();
    CHECK(table_key(job, Channel::left) != table_key(job, Channel::right));
    const auto amplifier = job_amplifier(job, Channel::right);
    REQUIRE(amplifier.ok());
    CHECK(std::get<Resistor>(amplifier->circuit.element(amplifier->load).part).ohm == 4);
}

TEST_CASE("job hunt: positions go by the circuit's names, then by role and half, then its own",
          "[core][suspects]") {
    Unit260 unit(Names{{"left/rd9", "R229"}, {"right/rd9", "R329"}});
    unit.writer.position("Q314", {{"channel", "right"}, {"role", "output"}, {"half", "plus"}});
    unit.writer.position("Q301", {{"channel", "right"}, {"role", "input_pair"}});
    const Job job = unit.writer.fold();
    const auto amplifier = job_amplifier(job, Channel::right);
    REQUIRE(amplifier.ok());
    const auto names = position_names(job, Channel::right, *amplifier);
    const auto name_of = [&](const char* element) {
        return names[static_cast<std::size_t>(amplifier->find(element) -
                                              amplifier->positions.data())];
    };
    CHECK(name_of("rd9") == "R329");
    CHECK(name_of("q14") == "Q314");
    CHECK(name_of("q1") == "Q1"); // two of that role in the circuit: not told apart
    CHECK(name_of("q15") == "Q15");
    CHECK(element_name(job, Channel::right, *amplifier, "R329") == "rd9");
}

TEST_CASE("job hunt: readings are bound by position, power and words", "[core][suspects]") {
    Unit260 unit;
    const std::string plus = unit.writer.position(
        "R231", {{"channel", "left"}, {"role", "emitter_resistor"}, {"half", "plus"}});
    const std::string minus = unit.writer.position("R232", {{"channel", "left"},
                                                            {"role", "emitter_resistor"},
                                                            {"half", "minus"},
                                                            {"printed_type", "0R22"},
                                                            {"fitted_type", "0R47"}});
    const std::string spreader =
        unit.writer.position("Q207", {{"channel", "left"}, {"role", "bias_spreader"}});
    const auto at = [](const std::string& position, const nlohmann::json& when) {
        return nlohmann::json{{"channel", "left"}, {"position", position}, {"when", when}};
    };
    unit.reading("idle volts", 0.096, Unit::volt, at(plus, k_mains));
    unit.reading("idle volts", 0.2048, Unit::volt, at(minus, k_mains));
    unit.reading("on the lamp", 0.05, Unit::volt, at(plus, k_lamp));
    unit.reading("spread", 2.69, Unit::volt, at(spreader, k_mains));
    unit.reading("some volts", 0.3, Unit::volt, at(plus, nlohmann::json::object()));
    const nlohmann::json left = {{"channel", "left"}, {"when", k_mains}};
    unit.reading("Offset, left output", 0.0142, Unit::volt, left);
    unit.reading("Offset, right output", 0.3, Unit::volt,
                 {{"channel", "right"}, {"when", k_mains}});
    unit.reading("+ rail current", 0.03, Unit::ampere, {{"channel", "left"}, {"when", k_lamp}});
    unit.reading("hum", 0.1, Unit::volt, left);
    nlohmann::json peak = left;
    peak["kind"] = "peak_volts";
    unit.reading("Greatest + peak", 21.8, Unit::volt, peak);
    peak["conditions"] = "not yet clipping";
    unit.reading("− peak", -33, Unit::volt, peak);
    nlohmann::json asked = left;
    asked["field"] = hunt_field("idle/tail");
    unit.reading("asked", 0.65, Unit::volt, asked);

    const JobFacts facts = unit.facts(Channel::left);
    const auto value = [&](std::string_view key) {
        const JobEvidence* item = find(facts, key);
        return item == nullptr ? std::nan("") : item->evidence.value.value_or(std::nan(""));
    };
    CHECK(value("idle/v_re1") == 0.096);
    // 0R47 stands where the circuit has 0R22: the current is what tells.
    CHECK(value("idle/v_re2") == Approx(0.2048 * 0.22 / 0.47));
    CHECK(value("limited/v_re1") == 0.05);
    CHECK(value("idle/spreader") == 2.69);
    CHECK(value("idle/offset") == 0.0142);
    CHECK(value("limited/i_plus") == 0.03);
    CHECK(value("loaded/clip_plus") == 21.8);
    CHECK(find(facts, "loaded/clip_minus") == nullptr);
    CHECK(value("idle/tail") == 0.65);
    for (const JobEvidence& item : facts.items)
        CHECK(item.why_not.empty() == !item.evidence.key.empty());
    const auto why = [&](std::string_view words) {
        for (const JobEvidence& item : facts.items)
            if (item.words.find(words) != std::string::npos)
                return item.why_not;
        return std::string("not there");
    };
    CHECK(why("some volts").find("lamp or full mains") != std::string::npos);
    CHECK(why("− peak").find("bound") != std::string::npos);
    CHECK(why("hum").find("place") != std::string::npos);
}

TEST_CASE("job hunt: ohms tell of a part what parallel paths cannot feign", "[core][suspects]") {
    struct Case {
        double ohm;
        const char* conditions;
        std::optional<PartState> state;
    };
    // Printed 330R.
    for (const Case& one :
         {Case{998, "in circuit", PartState::changed}, Case{329, "in circuit", PartState::good},
          Case{150, "in circuit", std::nullopt}, Case{150, "out of circuit", PartState::changed},
          Case{5e6, "in circuit", PartState::open}}) {
        INFO(one.ohm << " " << one.conditions);
        Unit260 unit(Names{{"right/rd9", "R329"}});
        const std::string position = unit.writer.position(
            "R329", {{"channel", "right"}, {"printed_type", "330R"}, {"fitted_type", "1k"}});
        unit.reading("R329", one.ohm, Unit::ohm,
                     {{"channel", "right"},
                      {"position", position},
                      {"when", {{"power", "off"}}},
                      {"conditions", one.conditions}});
        const JobFacts facts = unit.facts(Channel::right);
        const JobEvidence* item = find(facts, "part/R329");
        CHECK((item != nullptr) == one.state.has_value());
        if (item != nullptr)
            CHECK(item->evidence.part == one.state);
    }
}

TEST_CASE("job hunt: complaints, parts tested and what could not be had", "[core][suspects]") {
    Unit260 unit(Names{{"left/q14", "Q214"}});
    unit.finding("complaint/hot", "yes", "left");
    unit.finding("complaint/early_clip", "no", "left");
    unit.finding("complaint/hum", "yes", "left");
    unit.writer.add(EntryKind::finding, {{"about", "complaint/breaks_up"},
                                         {"answer", "yes"},
                                         {"channel", "right"},
                                         {"half", "plus"}});
    unit.finding("part/q14", "leaky", "left");
    unit.finding("part/q99", "good", "left");
    unit.finding("reading/idle/tail", "unknown", "left");
    const std::string wrong = unit.finding("complaint/dc", "yes", "left");
    unit.writer.strike(wrong);

    const JobFacts left = unit.facts(Channel::left);
    CHECK(find(left, "complaint/hot")->evidence.value == 1.0);
    CHECK(find(left, "complaint/breaks_up")->evidence.value == 0.0);
    CHECK(find(left, "complaint/hum")->evidence.value == 1.0);
    CHECK(find(left, "part/Q214")->evidence.part == PartState::leaky);
    CHECK(find(left, "part/Q214")->position == "q14");
    REQUIRE(find(left, "idle/tail") != nullptr);
    CHECK_FALSE(find(left, "idle/tail")->evidence.value.has_value());
    CHECK(find(left, "complaint/dc")->evidence.struck);
    for (const Evidence& one : left.evidence())
        CHECK(one.key != "complaint/dc");
    const JobFacts right = unit.facts(Channel::right);
    REQUIRE(find(right, "complaint/breaks_up_plus") != nullptr);
    CHECK(find(right, "complaint/hot") == nullptr);
}

TEST_CASE("job hunt: what an earlier shop fitted is marked, what is good or bad counts",
          "[core][suspects]") {
    Unit260 unit;
    unit.writer.position("VR201", {{"channel", "left"},
                                   {"role", "trim_pot"},
                                   {"fitted_by", "earlier shop"},
                                   {"state", "suspect"}});
    const std::string output =
        unit.writer.position("Q214", {{"channel", "left"}, {"role", "output"}, {"half", "plus"}});
    unit.writer.position("Q214", {{"channel", "left"}, {"state", "good"}});
    unit.writer.position(
        "Q215", {{"channel", "left"}, {"role", "output"}, {"half", "minus"}, {"state", "bad"}});
    const std::string photo = unit.writer.add(EntryKind::photo, {{"hash", std::string(64, 'a')},
                                                                 {"type", "jpeg"},
                                                                 {"width", 4},
                                                                 {"height", 3},
                                                                 {"bytes", 9},
                                                                 {"stage", "earlier_work"}});
    unit.writer.add(EntryKind::mark, {{"photo", photo},
                                      {"shape", "note"},
                                      {"points", {{0.5, 0.5}}},
                                      {"text", "resoldered"},
                                      {"position", output}});
    const JobFacts facts = unit.facts(Channel::left);
    CHECK(find(facts, "mark/VR201") != nullptr);
    CHECK(find(facts, "part/VR201") == nullptr);
    CHECK(find(facts, "part/Q214")->evidence.part == PartState::good);
    CHECK(find(facts, "part/Q215")->evidence.part == PartState::bad);
    CHECK(find(facts, "mark/Q214") != nullptr);
    CHECK(find(facts, "mark/Q215") == nullptr);
}

TEST_CASE("job hunt: a part replaced begins a new time once something was read after it",
          "[core][suspects]") {
    Unit260 unit;
    unit.finding("complaint/hot", "yes", "left");
    const std::string plus = unit.writer.position(
        "R231", {{"channel", "left"}, {"role", "emitter_resistor"}, {"half", "plus"}});
    const nlohmann::json more = {{"channel", "left"}, {"position", plus}, {"when", k_mains}};
    unit.reading("idle volts", 0.096, Unit::volt, more);
    unit.writer.position("VR201", {{"channel", "left"}, {"role", "trim_pot"}, {"state", "bad"}});
    unit.writer.position("VR201", {{"channel", "left"}, {"state", "replaced"}});
    const JobFacts before = unit.facts(Channel::left);
    CHECK(before.cured == std::vector<std::string>{"VR201"});
    CHECK(before.since.empty());
    CHECK(find(before, "idle/v_re1")->evidence.value == 0.096);
    CHECK(find(before, "part/VR201")->evidence.part == PartState::bad);

    unit.reading("idle volts", 0.0113, Unit::volt, more);
    const JobFacts after = unit.facts(Channel::left);
    CHECK(after.cured.empty());
    CHECK(after.since == "VR201");
    CHECK(find(after, "idle/v_re1")->evidence.value == 0.0113);
    CHECK(find(after, "complaint/hot") == nullptr);
    CHECK(find(after, "part/VR201")->evidence.part == PartState::good);
}

TEST_CASE("job hunt: from what is read outside, an open wiper and a wrong divider come first",
          "[core][suspects]") {
    // Left: too hot, both halves carry 0.44 A at idle. Right: idles as it should, its + half gives
    // up at 21.8 V into 4 ohm.
    Unit260 unit(Names{{"left/rtrim", "VR201"}, {"right/rd9", "R329"}});
    unit.writer.add(EntryKind::job, {{"known", {{"clip.right.load", "4"}}}});
    unit.finding("complaint/hot", "yes", "left");
    unit.finding("complaint/breaks_up", "yes", "right");
    for (const bool left : {true, false})
        for (const bool plus : {true, false}) {
            const char* channel = left ? "left" : "right";
            const std::string position =
                unit.writer.position(std::string(left ? "R2" : "R3") + (plus ? "31" : "32"),
                                     {{"channel", channel},
                                      {"role", "emitter_resistor"},
                                      {"half", plus ? "plus" : "minus"}});
            unit.reading("idle volts", left ? 0.096 : 0.0114, Unit::volt,
                         {{"channel", channel}, {"position", position}, {"when", k_mains}});
        }
    unit.reading("Greatest + peak", 21.8, Unit::volt,
                 {{"channel", "right"}, {"when", k_mains}, {"kind", "peak_volts"}});
    unit.reading("offset", -0.006, Unit::volt, {{"channel", "right"}, {"when", k_mains}});
    unit.reading("offset", 0.0142, Unit::volt, {{"channel", "left"}, {"when", k_mains}});

    const auto ranking = [&](Channel channel) {
        const Job job = unit.writer.fold();
        const Hunt& table = hunt_of(unit, channel);
        const Hunt hunt = table.named(position_names(job, channel, table.amplifier()));
        const auto evidence = unit.facts(channel).evidence();
        for (const char* cause : {"VR201", "R329"})
            if (hunt.amplifier().find(cause) != nullptr)
                CHECK(hunt.unexplained(cause, evidence).empty());
        return hunt.rank(evidence);
    };
    CHECK(ranking(Channel::left).front().name == "VR201");
    CHECK(ranking(Channel::left).front().kind == FaultKind::wiper_open);

    // What else lies around that limiter reads alike from outside, and a short of the filter at the
    // output as well: the cause is among them, and first once its ohms were read.
    const auto outside = ranking(Channel::right);
    const auto at = std::find_if(outside.begin(), outside.end(),
                                 [](const Suspect& one) { return one.name == "R329"; });
    REQUIRE(at != outside.end());
    CHECK(at - outside.begin() < 6);
    double others = 0;
    for (const Suspect& one : outside)
        if (one.name == "Q14" || one.name == "Q11" || one.name == "VR301" || one.name == "no fault")
            others += one.probability;
    CHECK(others < 0.05);
    const std::string divider = unit.writer.position(
        "R329", {{"channel", "right"}, {"printed_type", "330R"}, {"fitted_type", "1k"}});
    unit.reading("R329, one leg lifted", 998, Unit::ohm,
                 {{"channel", "right"}, {"position", divider}, {"when", {{"power", "off"}}}});
    CHECK(ranking(Channel::right).front().name == "R329");
    CHECK(ranking(Channel::right).front().kind == FaultKind::higher);
}
