#include "small_amplifier.h"

#include <algorithm>
#include <array>
#include <cmath>

using namespace railside;
using namespace railside::testing;

namespace {

double probability(const std::vector<Suspect>& ranking, std::string_view name) {
    for (const Suspect& suspect : ranking)
        if (suspect.name == name)
            return suspect.probability;
    return -1;
}

/// The row a bench would write; its devices are the netlist's cards, which the hunt does not know.
AnswerRow row_of(std::string_view position, FaultKind kind, double severity) {
    const Amplifier& amplifier = low_power();
    const auto healthy = simulate(amplifier, fault_of(amplifier, "", FaultKind::none), 0.5);
    const Fault fault = fault_of(amplifier, position, kind);
    const auto readings = simulate(amplifier, fault, severity);
    REQUIRE(healthy.ok());
    REQUIRE(readings.ok());
    return answer_row(amplifier, fault, severity, *readings, *healthy, std::string(position));
}

} // namespace

TEST_CASE("hunt: priors and probabilities sum to 1", "[core][suspects]") {
    double sum = 0;
    for (const Fault& fault : all_faults(low_power()))
        sum += fault.prior;
    CHECK(sum == Approx(1).epsilon(1e-9));
    sum = 0;
    for (const Suspect& suspect : low_power_hunt().rank({reading("limited/i_plus", 0.04)}))
        sum += suspect.probability;
    CHECK(sum == Approx(1).epsilon(1e-9));
}

TEST_CASE("hunt: a struck piece of evidence does not count", "[core][suspects]") {
    std::vector<Evidence> evidence{reading("limited/spreader", 0.17),
                                   reading("limited/v_re1", 0.186)};
    const double with = probability(low_power_hunt().rank(evidence), "q8");
    CHECK(with > 0.5);
    evidence[0].struck = evidence[1].struck = true;
    CHECK(probability(low_power_hunt().rank(evidence), "q8") ==
          Approx(probability(low_power_hunt().rank({}), "q8")));
}

TEST_CASE("hunt: one wild reading costs a suspect no more than the broad tail",
          "[core][suspects]") {
    const AnswerRow row = row_of("rt", FaultKind::open, 0.5);
    std::vector<Evidence> evidence;
    for (const char* key : {"limited/offset", "limited/spreader", "limited/i_plus",
                            "limited/i_minus", "idle/tail", "idle/feed"}) {
        const ProbeSpec& probe = all_probes()[static_cast<std::size_t>(find_probe(key))];
        evidence.push_back(reading(key, *row.number(probe.column) * probe.scale));
    }
    const double before = probability(low_power_hunt().rank(evidence), "rt");
    CHECK(before > 0.9);
    evidence.push_back(reading("idle/driver_emitters", 20)); // a slip of the probe
    CHECK(probability(low_power_hunt().rank(evidence), "rt") > 0.5);
    CHECK(low_power_hunt().unexplained("rt", evidence) == std::vector<std::size_t>{6});
}

TEST_CASE("hunt: readings nothing in the list explains bring up something else",
          "[core][suspects]") {
    // Volts that contradict each other for every single fault.
    const std::vector<Evidence> evidence{
        reading("limited/spreader", 11), reading("limited/offset", 9),
        reading("limited/v_re1", 4),     reading("limited/v_re2", -3),
        reading("limited/i_plus", 3e-4), reading("limited/i_minus", 0.9)};
    CHECK(low_power_hunt().rank(evidence).front().name == "something else");
}

TEST_CASE("hunt: hum speaks for what is not in the list, and readings outweigh it",
          "[core][suspects]") {
    const Evidence hum{"", "complaint/hum", 1.0, std::nullopt, false};
    const auto rest = [](const std::vector<Evidence>& evidence) {
        return probability(low_power_hunt().rank(evidence), "something else");
    };
    CHECK(rest({hum}) > 4 * rest({}));
    Evidence denied = hum;
    denied.value = 0.0;
    CHECK(rest({denied}) < rest({}));
    // An amplifier that also pushes half its rail out has more than that.
    const std::vector<Evidence> broken{hum, reading("limited/offset", 6),
                                       reading("limited/i_plus", 0.4)};
    CHECK(low_power_hunt().rank(broken).front().name != "something else");
}

TEST_CASE("hunt: fitted by an earlier shop is a prior, not a proof", "[core][suspects]") {
    const double before = probability(low_power_hunt().rank({}), "rt");
    const double after = probability(
        low_power_hunt().rank({{"", "mark/rt", std::nullopt, std::nullopt, false}}), "rt");
    CHECK(after > 1.8 * before);
    CHECK(after < 2.01 * before);
}

TEST_CASE("hunt: no full mains before the lamp has been dim", "[core][suspects]") {
    const Hunt& hunt = low_power_hunt();
    CHECK(hunt.unsafe(Setup::limited, {}).empty());
    CHECK_FALSE(hunt.unsafe(Setup::idle, {}).empty());
    CHECK_FALSE(hunt.unsafe(Setup::idle, {reading("limited/i_plus", 0.04)}).empty());
    const std::vector<Evidence> dim{reading("limited/i_plus", 0.04),
                                    reading("limited/i_minus", 0.04)};
    CHECK(hunt.unsafe(Setup::idle, dim).empty());
    CHECK_FALSE(hunt.unsafe(Setup::trim, dim).empty());
    const std::vector<Evidence> bright{reading("limited/i_plus", 0.4),
                                       reading("limited/i_minus", 0.04)};
    CHECK_FALSE(hunt.unsafe(Setup::idle, bright).empty());
    std::vector<Evidence> struck = dim;
    struck[1].struck = true;
    CHECK_FALSE(hunt.unsafe(Setup::idle, struck).empty());
}

TEST_CASE("hunt: no load with DC at the output, nor before it is known", "[core][suspects]") {
    const Hunt& hunt = low_power_hunt();
    std::vector<Evidence> evidence{reading("limited/i_plus", 0.04),
                                   reading("limited/i_minus", 0.04)};
    CHECK_FALSE(hunt.unsafe(Setup::loaded, evidence).empty());
    evidence.push_back(reading("idle/offset", -2.5));
    CHECK_FALSE(hunt.unsafe(Setup::loaded, evidence).empty());
    evidence.push_back(reading("idle/offset", -0.02));
    CHECK(hunt.unsafe(Setup::loaded, evidence).empty());
}

TEST_CASE("hunt: no proposal of any played hunt was unsafe when it was made", "[core][suspects]") {
    const Hunt& hunt = low_power_hunt();
    AnswerRow without_lamp = row_of("rt", FaultKind::open, 0.5);
    std::erase_if(without_lamp.cells,
                  [](const auto& cell) { return cell.first.starts_with("prot_"); });
    for (const AnswerRow& row :
         {without_lamp, row_of("q8", FaultKind::leak, 0.6),
          row_of("q7", FaultKind::short_circuit, 0.5), row_of("rt", FaultKind::open, 0.5),
          row_of("cbt", FaultKind::open, 0.5)}) {
        const Played played = play(hunt, row, nullptr);
        std::vector<Evidence> so_far = complaints_of(row);
        for (const PlayedStep& step : played.steps) {
            CHECK(hunt.unsafe(step.proposal.setup, so_far).empty());
            CHECK_FALSE(step.proposal.why.empty());
            CHECK_FALSE(step.proposal.outcomes.empty());
            so_far.push_back(step.answer);
        }
    }
}

TEST_CASE("hunt: a part found bad ends it", "[core][suspects]") {
    const std::vector<Evidence> evidence{reading("limited/spreader", 0.17),
                                         {"", "part/q8", std::nullopt, PartState::leaky, false}};
    CHECK_FALSE(low_power_hunt().next_test(evidence).has_value());
    const HuntStanding standing = low_power_hunt().standing(evidence);
    CHECK(standing.stop == HuntStop::confirmed);
    CHECK(standing.confirm.find("q8") != std::string::npos);
}

TEST_CASE("hunt: a part found good leaves room for the others", "[core][suspects]") {
    std::vector<Evidence> evidence{reading("limited/spreader", 0.17)};
    const double before = probability(low_power_hunt().rank(evidence), "q8");
    evidence.push_back({"", "part/q8", std::nullopt, PartState::good, false});
    CHECK(probability(low_power_hunt().rank(evidence), "q8") < before);
}

TEST_CASE("hunt: what no reading outside parts is said to be so", "[core][suspects]") {
    // A string of three alike diodes: which one is open shows nowhere but out of circuit.
    HuntOptions options = low_power_hunt().options();
    options.from_outside_only = true;
    const Hunt outside = low_power_hunt().with(options);
    const Played played = play(outside, row_of("d6b", FaultKind::open, 0.5), nullptr);
    CHECK(probability(played.ranking, "d6a") ==
          Approx(probability(played.ranking, "d6c")).epsilon(0.2));
    const HuntStanding standing = low_power_hunt().standing(played.evidence);
    CHECK(standing.only_out_of_circuit);
    CHECK_FALSE(standing.also_fits.empty());
}

TEST_CASE("hunt: an answer the row lacks counts its minutes and tells nothing",
          "[core][suspects]") {
    AnswerRow row = row_of("rt", FaultKind::open, 0.5);
    std::erase_if(row.cells, [](const auto& cell) {
        return cell.first.starts_with("prot_") || cell.first == "part";
    });
    const Played played = play(low_power_hunt(), row, nullptr);
    CHECK(played.minutes > 0);
    for (const PlayedStep& step : played.steps) {
        CHECK_FALSE(step.answer.value.has_value());
        CHECK_FALSE(step.answer.part.has_value());
        CHECK((step.proposal.setup == Setup::off || step.proposal.setup == Setup::limited));
    }
}

// Rows from the cards of tests/data/netlists/models.lib, hunted with generic devices.
TEST_CASE("hunt: faults are found from the schematic's values alone", "[core][suspects]") {
    struct Case {
        const char* position;
        FaultKind kind;
        double severity;
    };
    int first = 0;
    double minutes = 0;
    double fixed = 0;
    const std::array cases{
        Case{"q9", FaultKind::short_circuit, 0.5},  Case{"q10", FaultKind::open_emitter, 0.5},
        Case{"q8", FaultKind::leak, 0.6},           Case{"q7", FaultKind::low_gain, 0.7},
        Case{"q4", FaultKind::open_collector, 0.5}, Case{"q1", FaultKind::leak, 0.4},
        Case{"rtrim", FaultKind::wiper_open, 0.5},  Case{"c6", FaultKind::short_circuit, 0.5},
        Case{"rbt2", FaultKind::higher, 0.2},       Case{"ren", FaultKind::higher, 0.6},
        Case{"rf", FaultKind::open, 0.5},           Case{"d6a", FaultKind::one_too_many, 0.5},
        Case{"rfp", FaultKind::open, 0.5},          Case{"cbt", FaultKind::open, 0.5}};
    for (const Case& one : cases) {
        const AnswerRow row = row_of(one.position, one.kind, one.severity);
        const Played played = play(low_power_hunt(), row, nullptr);
        INFO(one.position << " " << fault_words(one.kind) << " rank " << played.truth_rank);
        CHECK(played.truth_rank >= 1);
        CHECK(played.truth_rank <= 3);
        first += played.truth_rank == 1 ? 1 : 0;
        minutes +=
            played.isolated ? played.isolated_minutes : played.minutes + played.fixed_minutes;
        fixed += played.fixed_minutes;
    }
    CHECK(first >= 12);
    CHECK(minutes < 0.6 * fixed);
}

TEST_CASE("hunt: a circuit that is as it should be is not accused", "[core][suspects]") {
    const AnswerRow row = row_of("", FaultKind::none, 0.5);
    const Played played = play(low_power_hunt(), row, nullptr);
    CHECK(played.ranking.front().name == "no fault");
}
