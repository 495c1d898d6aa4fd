#include "small_amplifier.h"

#include <cmath>

using namespace railside;
using namespace railside::testing;

TEST_CASE("amplifier: places follow from the roles", "[core][suspects]") {
    const Amplifier& amplifier = low_power();
    CHECK(amplifier.rail_v == 25);
    CHECK(amplifier.gain == Approx(23));
    REQUIRE(amplifier.trim.has_value());
    CHECK(amplifier.trim->track_ohm == Approx(250)); // 50.845 ohm at position 0.2034
    CHECK(amplifier.circuit.node_name(amplifier.out) == "out");
    CHECK(amplifier.circuit.node_name(amplifier.rail_plus_node) == "vp");
    REQUIRE(amplifier.load >= 0);
    CHECK(amplifier.circuit.element(amplifier.load).name == "rl");
    CHECK(amplifier.find("rl") == nullptr); // the load is no suspect
    CHECK(amplifier.find("rb") != nullptr); // what has no role is one
}

TEST_CASE("amplifier: refusals name the member and what is accepted", "[core][suspects]") {
    const auto message = [](std::string_view positions) {
        const auto amplifier = read_low_power(positions);
        return amplifier ? std::string() : amplifier.error().message;
    };
    CHECK(message("[").find("not a JSON object") != std::string::npos);
    CHECK(message("{}").find("f_lowp") != std::string::npos);
    CHECK(message(R"({"positions": {"q99": {"role": "output"}}})").find("q99") !=
          std::string::npos);
    CHECK(message(R"({"positions": {"q9": {}}})").find("role") != std::string::npos);
    CHECK(message(R"({"positions": {"q9": {"role": "output", "half": "up"}}})").find("up") !=
          std::string::npos);
    CHECK(message(R"({"fuse_A": -1, "positions": {}})").find("0.01 to 1000") != std::string::npos);
}

// ngspice: oracle row F00 (healthy) and F27 (rbt2 at 4700 ohm), 0.5 to 3 % as noted.
TEST_CASE("probes: a bench with the cards reads what circuit simulation reads",
          "[core][suspects]") {
    const Amplifier& amplifier = low_power();
    const auto at = [](const ProbeReadings& readings, std::string_view key) {
        return readings[static_cast<std::size_t>(find_probe(key))];
    };
    const auto healthy = simulate(amplifier, fault_of(amplifier, "", FaultKind::none), 0.5);
    REQUIRE(healthy.ok());
    CHECK(at(*healthy, "idle/v_re1") == Approx(20.0e-3).epsilon(0.01));
    CHECK(at(*healthy, "idle/spreader") == Approx(2.29539).epsilon(0.002));
    CHECK(at(*healthy, "idle/feed") == Approx(11.9244).epsilon(0.002));
    CHECK(at(*healthy, "limited/v_re1") == Approx(13.9458e-3).epsilon(0.01));
    CHECK(at(*healthy, "trim/most") == Approx(384.333e-3).epsilon(0.01));
    CHECK(at(*healthy, "loaded/clip_plus") == Approx(22.6694).epsilon(0.01));
    CHECK(at(*healthy, "loaded/clip_minus") == Approx(-22.0419).epsilon(0.01));
    CHECK(at(*healthy, "loaded/gain") == Approx(23.0253).epsilon(0.01));

    const Fault higher = fault_of(amplifier, "rbt2", FaultKind::higher);
    const double severity = std::log(4700 / 2200.0 / 1.3) / std::log(60 / 1.3);
    CHECK(severity_value(FaultKind::higher, severity) == Approx(4700 / 2200.0));
    const auto changed = simulate(amplifier, higher, severity);
    REQUIRE(changed.ok());
    CHECK(at(*changed, "idle/v_re1") == Approx(2.22524e-3).epsilon(0.02));
    CHECK(at(*changed, "idle/feed") == Approx(16.3083).epsilon(0.002));
    CHECK(at(*changed, "loaded/notch") == Approx(21.5102).epsilon(0.1));
}

TEST_CASE("probes: a reading comes back from the comparison scale", "[core][suspects]") {
    for (const ProbeSpec& probe : all_probes())
        for (const double value : {-30.0, -1e-3, 0.0, 2e-3, 12.0})
            CHECK(uncompared(probe, compared(probe, value)) ==
                  Approx(value).epsilon(1e-9).margin(1e-12));
}

TEST_CASE("minutes: the table reads back as it was written", "[core][suspects]") {
    Minutes minutes;
    minutes.output = 20;
    minutes.into[static_cast<std::size_t>(Setup::loaded)] = 6.5;
    const auto read = read_minutes(minutes_text(minutes), "bench");
    REQUIRE(read.ok());
    CHECK(read->output == 20);
    CHECK(minutes_text(*read) == minutes_text(minutes));
    CHECK(read_minutes("pull_output 15 # clips\n", "bench")->output == 15);
}

TEST_CASE("minutes: a line is found by its name and keeps to its range", "[core][suspects]") {
    const auto lines = minutes_lines(Minutes{});
    CHECK(lines.size() == 17);
    for (const MinutesLine& line : lines) {
        CHECK_FALSE(line.label.empty());
        const auto changed = with_line(Minutes{}, line.name, line.minutes + 1.25);
        REQUIRE(changed.ok());
        const auto after = minutes_lines(*changed);
        for (std::size_t i = 0; i < lines.size(); ++i)
            CHECK(after[i].minutes == lines[i].minutes + (lines[i].name == line.name ? 1.25 : 0));
    }
    CHECK(with_line(Minutes{}, "pull_output", 0).error().code == ErrorCode::out_of_range);
    CHECK(with_line(Minutes{}, "pull_output", 601).error().code == ErrorCode::out_of_range);
    CHECK(with_line(Minutes{}, "pull_all", 1).error().code == ErrorCode::not_found);
}

TEST_CASE("minutes: refusals name the line and the range", "[core][suspects]") {
    const auto wrong = read_minutes("into_off 1\npull_output -3\n", "bench");
    REQUIRE_FALSE(wrong.ok());
    CHECK(wrong.error().message.find("line 2") != std::string::npos);
    CHECK(wrong.error().message.find("0.05 to 600") != std::string::npos);
    CHECK_FALSE(read_minutes("pull_everything 3", "bench").ok());
}

TEST_CASE("answers: quotes, empty cells and refusals", "[core][suspects]") {
    const auto rows = read_answers(
        "id,amp,symptom,clip_pos_V\nA1,x,\"none, \"\"really\"\"\",\nA2,x,none,12.5\n", "a.csv");
    REQUIRE(rows.ok());
    REQUIRE(rows->size() == 2);
    CHECK((*rows)[0].text("symptom") == "none, \"really\"");
    CHECK_FALSE((*rows)[0].number("clip_pos_V").has_value());
    CHECK((*rows)[1].number("clip_pos_V") == 12.5);
    CHECK_FALSE(read_answers("amp\nx\n", "a.csv").ok());
    CHECK_FALSE(read_answers("", "a.csv").ok());
    CHECK_FALSE(read_answers("id,x\nA,1,2\n", "a.csv").ok());
    CHECK_FALSE(read_answers("id\n\"A\n", "a.csv").ok());
}

TEST_CASE("answers: what a part shows out of circuit", "[core][suspects]") {
    const SuspectPosition& q9 = *low_power().find("q9");
    const auto state = [&](std::initializer_list<std::pair<const char*, const char*>> cells) {
        AnswerRow row;
        for (const auto& [column, value] : cells)
            row.cells.emplace(column, value);
        return part_state_of(row, q9);
    };
    CHECK(state({{"part_hfe", "short"}}) == PartState::shorted);
    CHECK(state({{"part_hfe", "none"}, {"part_v_be_V", "OL"}}) == PartState::open);
    CHECK(state({{"part_hfe", "90"}, {"part_i_ce_20V_mA", "10"}}) == PartState::leaky);
    CHECK(state({{"part_hfe", "12"}, {"part_i_ce_20V_mA", "0"}}) == PartState::low_gain);
    CHECK(state({{"part_hfe", "90"}, {"part_i_ce_20V_mA", "0"}}) == PartState::good);
    CHECK_FALSE(state({}).has_value());
}
