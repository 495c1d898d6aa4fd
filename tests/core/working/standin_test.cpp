#include "core/working/working.h"

#include "core/working/json.h"
#include "support/catch.h"

#include <nlohmann/json.hpp>

#include <algorithm>
#include <string>

using namespace railside;

namespace {

const Working& standin() { return *find_working("standin"); }

using Texts = std::vector<std::pair<std::string, std::string>>;

Result<Outcome> result(const Texts& texts) {
    Inputs inputs;
    for (const auto& [key, text] : texts) {
        auto input = read_input(*find_field(standin(), key), text);
        INFO(key << " " << text);
        REQUIRE(input.ok());
        inputs.insert_or_assign(key, *std::move(input));
    }
    return run_working(standin(), inputs);
}

Outcome answer(const Texts& texts) {
    auto outcome = result(texts);
    INFO((outcome.ok() ? "" : outcome.error().message));
    REQUIRE(outcome.ok());
    return *std::move(outcome);
}

const Amount* figure(const Outcome& outcome, const std::string& key) {
    for (const Figure& each : outcome.figures) {
        if (each.key == key) {
            return &each.amount;
        }
    }
    return nullptr;
}

bool mentions(const std::vector<std::string>& sentences, const std::string& part) {
    return std::any_of(sentences.begin(), sentences.end(), [&part](const std::string& each) {
        return each.find(part) != std::string::npos;
    });
}

const OutcomeTable* table(const Outcome& outcome, const std::string& key) {
    for (const OutcomeTable& each : outcome.tables) {
        if (each.key == key) {
            return &each;
        }
    }
    return nullptr;
}

/// The row of a candidate's table, by its first cell.
const std::vector<std::string>& row_of(const OutcomeTable& table, const std::string& first) {
    const auto row = std::find_if(table.rows.begin(), table.rows.end(),
                                  [&first](const auto& each) { return each.front() == first; });
    REQUIRE(row != table.rows.end());
    return *row;
}

constexpr const char* k_sheet = "data sheet of the very part in hand";

} // namespace

TEST_CASE("stand-in working: candidates are ranked with every margin", "[core][working]") {
    const Outcome outcome = answer({{"original", "MJL21194"}, {"rail", "40 ±0 V"}});
    CHECK(outcome.figures.front().key == "candidates_passing");
    // Both rails with mains 10 % high and 2 V of catch diodes. Exact.
    CHECK(near(figure(outcome, "need_ceo")->value, 90, 1e-9));
    CHECK(near(figure(outcome, "need_ceo")->low, 80, 1e-9));
    const OutcomeTable* ranking = table(outcome, "ranking");
    REQUIRE(ranking != nullptr);
    CHECK(ranking->rows.size() > 1);
    CHECK(ranking->rows.size() <= 8);
    for (const auto& row : ranking->rows) {
        CHECK(row.size() == ranking->columns.size());
        CHECK(row[1] != "MJL21194");
        CHECK(row.back().find("fails") == std::string::npos);
    }
    const OutcomeTable* first = table(outcome, "candidate_1");
    REQUIRE(first != nullptr);
    CHECK(first->title.starts_with(ranking->rows.front()[1]));
    for (const char* parameter :
         {"Polarity", "Collector-emitter volts", "Collector current", "Dissipation", "Safe area",
          "Least gain", "Speed", "Output capacitance", "Body", "Lead order"}) {
        CHECK(row_of(*first, parameter).size() == first->columns.size());
    }
    CHECK(row_of(*first, "Polarity")[2] == "npn");
    CHECK(outcome.headline_note.find(ranking->rows.front()[1]) != std::string::npos);
    CHECK(mentions(outcome.notes, k_sheet));
    CHECK(mentions(outcome.cautions, "collector to sink"));
}

TEST_CASE("stand-in working: the faster pair of a slow output is warned of", "[core][working]") {
    // MJL21194 4 MHz min (Motorola), MJL3281A 30 MHz typ: more than four times.
    const Outcome outcome =
        answer({{"original", "MJL21194"}, {"rail", "40"}, {"candidate", "MJL3281A"}});
    CHECK(mentions(outcome.cautions, "oscillation"));
    CHECK(outcome.figures.front().key == "smallest_margin");
    const OutcomeTable* margins = table(outcome, "candidate_1");
    REQUIRE(margins != nullptr);
    CHECK(row_of(*margins, "Lead order")[4] == "pass");
    CHECK(row_of(*margins, "Collector-emitter volts")[2] == "260\u2009V");
    CHECK(mentions(outcome.cautions, "200 V")); // older issue of its sheet
    CHECK(mentions(outcome.notes, "MJL1302A"));
}

TEST_CASE("stand-in working: a candidate's verdict has its reason", "[core][working]") {
    struct Row {
        Texts texts;
        VerdictState state;
        const char* word;
        const char* reason;
    };
    const std::vector<Row> table{
        // 60 V against the 80 V that ±40 V rails need.
        {{{"original", "MJL21194"}, {"rail", "40"}, {"candidate", "TIP3055"}},
         VerdictState::outside,
         "does not fit",
         "collector-emitter volts"},
        {{{"original", "MJL21194"}, {"rail", "40"}, {"candidate", "MJL21193"}},
         VerdictState::outside,
         "does not fit",
         "polarity"},
        {{{"original", "BC547B"}, {"role", "limiter"}, {"rail", "40"}, {"candidate", "2N5551"}},
         VerdictState::at_the_edge,
         "at the edge",
         "lead order"},
        {{{"original", "BC546B"}, {"role", "limiter"}, {"rail", "40"}, {"candidate", "BC547B"}},
         VerdictState::in_window,
         "fits",
         "smallest margin"},
        {{{"rail", "40"}, {"candidate", "XQ9999"}}, VerdictState::undecided, "not known", "XQ9999"},
        {{{"rail", "40"}}, VerdictState::undecided, "not enough known", "polarity"},
    };
    for (const Row& row : table) {
        const Outcome outcome = answer(row.texts);
        INFO(row.texts.back().second << ": " << outcome.verdict.word << ", "
                                     << outcome.verdict.reason);
        CHECK(outcome.verdict.state == row.state);
        CHECK(outcome.verdict.word == row.word);
        CHECK(outcome.verdict.reason.find(row.reason) != std::string::npos);
        CHECK(mentions(outcome.notes, k_sheet));
    }
}

TEST_CASE("stand-in working: mirrored leads are a caution", "[core][working]") {
    // BC547 C B E (Fairchild, kicad-symbols), 2N5551 E B C (onsemi).
    const Outcome outcome = answer(
        {{"original", "BC547B"}, {"role", "limiter"}, {"rail", "40"}, {"candidate", "2N5551"}});
    CHECK(mentions(outcome.cautions, "mirrored"));
    CHECK(row_of(*table(outcome, "candidate_1"), "Lead order")[2] == "E B C");
}

TEST_CASE("stand-in working: a polarity alone is enough", "[core][working]") {
    const Outcome outcome = answer({{"polarity", "PNP"}, {"rail", "30"}});
    REQUIRE(table(outcome, "ranking") != nullptr);
    for (const auto& row : table(outcome, "candidate_1")->rows) {
        if (row.front() == "Polarity") {
            CHECK(row[2] == "pnp");
        }
    }
    // The original's polarity is overridden when the wrong part stands there.
    const Outcome other = answer({{"original", "MJL21194"}, {"polarity", "PNP"}, {"rail", "30"}});
    CHECK(row_of(*table(other, "candidate_1"), "Polarity")[2] == "pnp");
}

TEST_CASE("stand-in working: what is in the drawer goes first among equals", "[core][working]") {
    const Texts base{{"original", "BC547B"}, {"role", "limiter"}, {"rail", "40"}};
    const Outcome without = answer(base);
    Texts more = base;
    more.emplace_back("drawer", "BC550C x 12; tin | BC547B x 3");
    const Outcome with = answer(more);
    CHECK(table(with, "ranking")->rows.front()[1] == "BC550");
    CHECK(table(with, "ranking")->rows.front()[2] == "12");
    CHECK(with.headline_note.find("12 in tin") != std::string::npos);
    CHECK(mentions(with.notes, "original type itself is in the drawer: 3"));
    CHECK(table(without, "ranking")->rows.front()[2].empty());
}

TEST_CASE("stand-in working: a drawer that cannot be read does not bar the answer",
          "[core][working]") {
    const Outcome outcome =
        answer({{"original", "BC547"}, {"rail", "40"}, {"drawer", "ten of those"}});
    CHECK(mentions(outcome.notes, "Drawer, line 1"));
    CHECK(mentions(outcome.notes, "not looked at"));
    CHECK(table(outcome, "ranking") != nullptr);
}

TEST_CASE("stand-in working: an original that is not in the table is told", "[core][working]") {
    const Outcome outcome = answer({{"original", "XQ9999"}, {"polarity", "NPN"}, {"rail", "40"}});
    CHECK(mentions(outcome.notes, "XQ9999"));
    CHECK(table(outcome, "ranking") != nullptr);
    CHECK(row_of(*table(outcome, "candidate_1"), "Lead order")[4] == "unknown");
}

TEST_CASE("stand-in working: letters that are not known are said to be so", "[core][working]") {
    const Outcome outcome =
        answer({{"original", "MJL21194"}, {"rail", "40"}, {"candidate", "2SD1047P"}});
    CHECK(mentions(outcome.notes, "read as 2SD1047"));
    CHECK(mentions(outcome.cautions, "120 W instead of 100 W")); // Sanyo
}

TEST_CASE("stand-in working: a SPICE card can be the original or the candidate",
          "[core][working]") {
    const char* card = ".model QX NPN(IS=1e-11 BF=120 IKF=6 VAF=100 Vceo=230 Icrating=15)";
    const Outcome outcome = answer({{"original", "MJL21194"}, {"rail", "40"}, {"candidate", card}});
    CHECK(outcome.verdict.state == VerdictState::undecided);
    CHECK(row_of(*table(outcome, "candidate_1"), "Collector-emitter volts")[4] == "unknown");
    CHECK(mentions(outcome.notes, "collector-base rating"));
    const Outcome original = answer({{"original", card}, {"rail", "40"}});
    CHECK(table(original, "ranking") != nullptr);
    CHECK(mentions(original.notes, "SPICE card"));

    const auto bad = result({{"original", ".model Q NPN(BF=none)"}, {"rail", "40"}});
    REQUIRE_FALSE(bad.ok());
    CHECK(bad.error().message.find("Original") != std::string::npos);
}

TEST_CASE("stand-in working: an original that is itself too weak is pointed out",
          "[core][working]") {
    // TIP3055: 60 V (ST, onsemi) on ±40 V rails.
    CHECK(mentions(answer({{"original", "TIP3055"}, {"rail", "40"}}).notes,
                   "original itself falls short in collector-emitter volts"));
    CHECK_FALSE(mentions(answer({{"original", "MJL21194"}, {"rail", "40"}}).notes,
                         "original itself falls short"));
}

TEST_CASE("stand-in working: old metal cans bring the caution of beryllia", "[core][working]") {
    CHECK(mentions(answer({{"original", "MJ15003"}, {"rail", "40"}}).cautions, "beryllia"));
    CHECK_FALSE(mentions(
        answer({{"original", "BC547"}, {"role", "limiter"}, {"rail", "40"}}).cautions, "beryllia"));
}

TEST_CASE("stand-in working: the worse end of rail and load is taken", "[core][working]") {
    const Outcome exact = answer({{"polarity", "NPN"}, {"rail", "40 ±0 V"}});
    const Outcome wide = answer({{"polarity", "NPN"}, {"rail", "40 ±10 %"}});
    CHECK(near(figure(wide, "need_ceo")->value, 2 * 44 * 1.1 + 2, 1e-9));
    CHECK(near(figure(exact, "need_collector")->value, 6.875, 1e-9));
}

TEST_CASE("stand-in working: a bar for each of the first candidates", "[core][working]") {
    const Outcome outcome = answer({{"original", "MJL21194"}, {"rail", "40"}});
    CHECK(outcome.plot == PlotKind::bars);
    REQUIRE(outcome.curves.size() >= 2);
    CHECK(outcome.curves.front().role == CurveRole::window);
    CHECK(outcome.curves.front().label == table(outcome, "ranking")->rows.front()[1]);
    CHECK(outcome.curves.back().key == "needed");
    CHECK(outcome.curves.back().x.values == std::vector<double>{1});
}

TEST_CASE("stand-in working: its tables are in the JSON", "[core][working]") {
    Inputs inputs;
    inputs.emplace("original", *read_input(*find_field(standin(), "original"), "MJL21194"));
    inputs.emplace("rail", *read_input(*find_field(standin(), "rail"), "40"));
    const auto outcome = run_working(standin(), inputs);
    REQUIRE(outcome.ok());
    const auto json = working_to_json(standin(), with_defaults(standin(), inputs), *outcome);
    const auto& ranking = json.at("tables").at("ranking");
    CHECK(ranking.at("title") == "Candidates, best first");
    CHECK(ranking.at("columns").size() == ranking.at("rows").at(0).size());
    CHECK(json.at("tables").at("candidate_1").at("rows").size() >= 10);
}
