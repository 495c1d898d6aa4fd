#include "core/working/working.h"

#include "data/rows.h"
#include "support/catch.h"

#include <rapidcheck.h>

#include <algorithm>
#include <cmath>
#include <fstream>
#include <stdexcept>
#include <string>

using namespace railside;

namespace {

const Working& spreader() { return *find_working("spreader"); }

using Texts = std::vector<std::pair<std::string, std::string>>;

/// One card of the simulated amplifiers, as text.
std::string card(const std::string& name) {
    std::ifstream file(std::string(RAILSIDE_TEST_DATA) + "/netlists/models.lib");
    for (std::string line; std::getline(file, line);) {
        if (line.starts_with(".model " + name + " ")) {
            return line;
        }
    }
    throw std::runtime_error("no card " + name);
}

Inputs typed(const Texts& texts) {
    Inputs inputs;
    for (const auto& [key, text] : texts) {
        auto input = read_input(*find_field(spreader(), key), text);
        INFO(key << " " << text);
        REQUIRE(input.ok());
        inputs.insert_or_assign(key, *std::move(input));
    }
    return inputs;
}

Texts joined(Texts texts, const Texts& more) {
    texts.insert(texts.end(), more.begin(), more.end());
    return texts;
}

/// The simulated a_ef2: resistors to 1 %, trim to 5 %.
Texts a_ef2(const Texts& more = {}) {
    return joined({{"rail", "40"},
                   {"supply_current", "5.372 mA 1%"},
                   {"upper", "1k8 1%"},
                   {"lower", "470R 1%"},
                   {"trim", "500R 5%"},
                   {"temperature", "27"},
                   {"target", "20 mV"}},
                  more);
}
Texts cards(const Texts& more = {}) {
    return joined({{"output_plus", card("qon")},
                   {"output_minus", card("qop")},
                   {"driver_plus", card("qdn")},
                   {"driver_minus", card("qdp")},
                   {"spreader_type", card("qsn")}},
                  more);
}
/// The simulated f_lowp.
Texts f_lowp(const Texts& more = {}) {
    return joined({{"kind", "diodes"},
                   {"diodes", "3"},
                   {"trim", "250R 5%"},
                   {"rail", "25"},
                   {"emitter_resistor", "0R47"},
                   {"base_stopper", "0"},
                   {"driver_resistor", "330R"},
                   {"feed", "bootstrap"},
                   {"supply_current", "5.42 mA 1%"},
                   {"temperature", "27"},
                   {"target", "20 mV"},
                   {"diode_type", card("dsm")},
                   {"output_plus", card("qon")},
                   {"output_minus", card("qop")},
                   {"driver_plus", card("qdn")},
                   {"driver_minus", card("qdp")}},
                  more);
}

Outcome answer(const Texts& texts) {
    auto outcome = run_working(spreader(), typed(texts));
    INFO((outcome ? std::string() : outcome.error().message));
    REQUIRE(outcome.ok());
    return *std::move(outcome);
}

const Amount& figure(const Outcome& outcome, const std::string& key) {
    for (const Figure& each : outcome.figures) {
        if (each.key == key) {
            return each.amount;
        }
    }
    throw std::runtime_error("no figure " + key);
}

bool mentions(const std::vector<std::string>& sentences, const std::string& part) {
    for (const std::string& sentence : sentences) {
        if (sentence.find(part) != std::string::npos) {
            return true;
        }
    }
    return false;
}

/// The row of a fault in the table, or its place from the top.
std::size_t rank_of(const Outcome& outcome, const std::string& fault) {
    const auto& rows = outcome.tables.at(0).rows;
    for (std::size_t i = 0; i < rows.size(); ++i) {
        if (rows[i].at(0).starts_with(fault)) {
            return i;
        }
    }
    throw std::runtime_error("no row " + fault);
}
bool fits(const Outcome& outcome, const std::string& fault) {
    return outcome.tables.at(0).rows.at(rank_of(outcome, fault)).at(3) == "yes";
}

std::string volts(double value) {
    // As a meter of microvolt steps shows it.
    char text[32];
    std::snprintf(text, sizeof text, "%.6f", value);
    return text;
}

} // namespace

TEST_CASE("spreader working: reach and the trim's place as simulated", "[core][working]") {
    // a_ef2 in simulation: 0.130 to 322.5 mV, spread 2.022 to 3.350 V, service value at 0.4056 of
    // the travel. The card and 1 % parts: 5 % on the reading's typical value, 0.3 % on the
    // spread's.
    const Outcome outcome = answer(joined(a_ef2(), cards()));
    CHECK(outcome.figures.front().key == "reading_most");
    CHECK(near(figure(outcome, "reading_most").value, 0.322468, 0.05));
    CHECK(near(figure(outcome, "reading_least").value, 0.000129917, 0.05));
    CHECK(near(figure(outcome, "spread_least").value, 2.02225, 0.003));
    CHECK(near(figure(outcome, "spread_most").value, 3.35013, 0.003));
    CHECK(near_abs(figure(outcome, "target_position").value, 0.405647, 0.005));
    CHECK(outcome.verdict.state == VerdictState::in_window);
    CHECK(outcome.verdict.word == "in reach");
    CHECK(mentions(outcome.notes, "card qon"));
    CHECK(mentions(outcome.cautions, "its most resistance"));
    CHECK(mentions(outcome.cautions, "series lamp"));
    CHECK(mentions(outcome.cautions, "±40\u2009V"));

    const Outcome string = answer(f_lowp());
    CHECK(near(figure(string, "reading_most").value, 0.384333, 0.05));
    CHECK(near_abs(figure(string, "target_position").value, 0.20338, 0.005));
    CHECK(mentions(string.cautions, "its least resistance"));
    CHECK(mentions(string.cautions, "open wiper here is the most bias"));
}

TEST_CASE("spreader working: the divider of the simulated quasi-complementary stage",
          "[core][working]") {
    const Outcome outcome = answer({{"topology", "quasi"},
                                    {"trim_place", "divider"},
                                    {"upper", "1k 1%"},
                                    {"lower", "470R 1%"},
                                    {"trim", "1k 5%"},
                                    {"rail", "35"},
                                    {"driver_resistor", "100R"},
                                    {"supply_current", "5.372 mA 1%"},
                                    {"temperature", "27"},
                                    {"target", "20 mV"},
                                    {"output_plus", card("qon")},
                                    {"output_minus", card("qon")},
                                    {"driver_plus", card("qdn")},
                                    {"driver_minus", card("qdp")},
                                    {"spreader_type", card("qsn")}});
    CHECK(near_abs(figure(outcome, "target_position").value, 0.494605, 0.005));
    CHECK(near(figure(outcome, "reading_most").value, 0.730701, 0.05));
    CHECK(mentions(outcome.cautions, "lets go of the transistor's base"));
    const auto& row = outcome.tables.at(0).rows.at(rank_of(outcome, "trim wiper open"));
    CHECK(row.at(1).find("rail fuse blows") != std::string::npos);
}

TEST_CASE("spreader working: a target beyond the travel is told", "[core][working]") {
    Texts high = joined(a_ef2(), cards());
    for (auto& [key, text] : high) {
        text = key == "target" ? "900 mV" : text;
    }
    const Outcome beyond = answer(high);
    CHECK(beyond.verdict.state == VerdictState::outside);
    CHECK(beyond.verdict.reason.find("at its most") != std::string::npos);
    // A trim too small: its least is still too much.
    Texts low = joined(a_ef2(), cards());
    for (auto& [key, text] : low) {
        text = key == "trim" ? "47R 5%" : key == "lower" ? "510R 1%" : text;
    }
    const Outcome above = answer(low);
    CHECK(above.verdict.state == VerdictState::outside);
    CHECK(above.verdict.reason.find("at its least") != std::string::npos);
}

TEST_CASE("spreader working: blind, the intervals hold the simulation and nothing is promised",
          "[core][working]") {
    // The same amplifier without its cards: generic devices, a factor of several in current.
    const Outcome outcome = answer(a_ef2());
    for (const auto& [key, simulated] :
         {std::pair{"reading_most", 0.322468}, std::pair{"reading_least", 0.000129917},
          std::pair{"spread_least", 2.02225}, std::pair{"spread_most", 3.35013},
          std::pair{"target_position", 0.405647}}) {
        const Amount& amount = figure(outcome, key);
        INFO(key);
        CHECK(amount.low <= simulated);
        CHECK(amount.high >= simulated);
    }
    // Never an idle current from spread volts alone closer than that.
    CHECK(figure(outcome, "reading_there").high > 3 * figure(outcome, "reading_there").value);
    CHECK(outcome.verdict.state == VerdictState::at_the_edge);
    CHECK(mentions(outcome.notes, "order of magnitude"));
    CHECK(mentions(outcome.notes, "generic"));
}

TEST_CASE("spreader working: the simulated faults are picked out by their readings",
          "[core][working]") {
    struct Row {
        const char* id;
        const char* fault;
        std::size_t at_most; // its place in the table, from 0; alike faults share it
    };
    // A45 to F23 of the simulation, each with the readings of one who measures spread, V_RE and
    // both ends of the trim.
    const Row table[] = {
        {"A45", "trim wiper open", 0},          {"A46", "trim track open", 1},
        {"A50", "bypass capacitor shorted", 1}, {"A08", "driver C-E leaky, 1\u2009kΩ", 0},
        {"F17", "one diode shorted", 0},        {"F18", "one diode too many", 0},
        {"F19", "two diodes shorted", 0},       {"F22", "trim wiper open", 0},
        {"F23", "bypass capacitor shorted", 0},
    };
    const auto rows = test_data::rows_of("spreader_faults.csv");
    for (const Row& row : table) {
        const auto found = std::find_if(rows.begin(), rows.end(), [&row](const auto& each) {
            return each.text("id") == row.id;
        });
        REQUIRE(found != rows.end());
        const Texts readings{{"spread_reading", volts(found->number("v_spread"))},
                             {"reading", volts(found->number("v_re"))},
                             {"reading_least", volts(found->number("v_re_least"))},
                             {"reading_most", volts(found->number("v_re_most"))}};
        const bool ef2 = found->text("amp") == "a_ef2";
        const Outcome outcome =
            answer(ef2 ? joined(joined(a_ef2(), cards()), readings) : f_lowp(readings));
        INFO(row.id << ": " << outcome.verdict.word << ", " << outcome.verdict.reason);
        CHECK(fits(outcome, row.fault));
        CHECK(rank_of(outcome, row.fault) <= row.at_most);
        CHECK_FALSE(fits(outcome, "no fault"));
        CHECK(outcome.verdict.state == VerdictState::outside);
    }
}

TEST_CASE("spreader working: healthy readings fit the whole spreader", "[core][working]") {
    // a_ef2 as simulated.
    const Outcome outcome = answer(joined(joined(a_ef2(), cards()), {{"spread_reading", "2.356"},
                                                                     {"reading", "20.0 mV"},
                                                                     {"reading_least", "0.13 mV"},
                                                                     {"reading_most", "322 mV"}}));
    INFO(outcome.verdict.reason);
    CHECK(rank_of(outcome, "no fault") == 0);
    CHECK(fits(outcome, "no fault"));
    CHECK(outcome.verdict.state == VerdictState::in_window);
    CHECK(outcome.verdict.reason.find("fit a whole spreader with its trim at 41") !=
          std::string::npos);
    CHECK_FALSE(fits(outcome, "trim wiper open"));
    CHECK_FALSE(fits(outcome, "transistor C-E shorted"));
}

TEST_CASE("spreader working: one reading alone cannot tell, and the answer says what would",
          "[core][working]") {
    const Outcome dark = answer(joined(joined(a_ef2(), cards()), {{"reading", "0.00 mV"}}));
    INFO(dark.verdict.reason);
    CHECK(fits(dark, "trim track open"));
    CHECK(fits(dark, "bypass capacitor shorted"));
    CHECK(fits(dark, "trim wiper open"));
    CHECK(dark.verdict.reason.find("both ends of the trim") != std::string::npos);
    CHECK(dark.verdict.state != VerdictState::in_window);

    // A current that the spread does not explain is not the spreader's.
    const Outcome leak = answer(
        joined(joined(a_ef2(), cards()), {{"reading", "514 mV"}, {"spread_reading", "2.350"}}));
    CHECK(leak.verdict.word == "not the spreader");
    CHECK(leak.verdict.reason.find("driver C-E leaky") != std::string::npos);

    // Readings that no single fault gives.
    const Outcome odd = answer(
        joined(joined(a_ef2(), cards()), {{"reading", "120 mV"}, {"spread_reading", "1.413"}}));
    CHECK(odd.verdict.word == "nothing fits");
    CHECK(odd.verdict.state == VerdictState::undecided);
}

TEST_CASE("spreader working: a place of the trim that is given is used", "[core][working]") {
    const Outcome outcome = answer(joined(joined(a_ef2(), cards()), {{"position", "50 %"}}));
    // Simulated at half travel: 42.0 mV, 2.46042 V.
    CHECK(near(figure(outcome, "reading_there").value, 0.0420044, 0.05));
    CHECK(near(figure(outcome, "spread_there").value, 2.46042, 0.003));
}

TEST_CASE("spreader working: curves and tables are whole", "[core][working]") {
    const Outcome outcome = answer(
        joined(joined(a_ef2(), cards()),
               {{"reading", "322 mV"}, {"reading_most", "322 mV"}, {"reading_least", "322 mV"}}));
    CHECK(outcome.plot == PlotKind::lines);
    REQUIRE(outcome.curves.size() >= 3);
    CHECK(outcome.curves.front().key == "whole");
    const Curve& whole = outcome.curves.front();
    for (std::size_t i = 1; i < whole.x.values.size(); ++i) {
        CHECK(whole.x.values[i] > whole.x.values[i - 1]);
        CHECK(whole.y.values[i] >= whole.y.values[i - 1]);
    }
    CHECK(outcome.curves.back().role == CurveRole::point);
    CHECK(outcome.curves.back().x.values.size() == 3);
    REQUIRE(outcome.tables.size() == 1);
    for (const auto& row : outcome.tables.front().rows) {
        CHECK(row.size() == outcome.tables.front().columns.size());
    }
}

TEST_CASE("spreader working: a card of the wrong kind is refused in words", "[core][working]") {
    const auto refused = [](const Texts& texts) {
        const auto outcome = run_working(spreader(), typed(texts));
        REQUIRE_FALSE(outcome.ok());
        CHECK(outcome.error().code == ErrorCode::contradictory);
        return outcome.error().message;
    };
    CHECK(refused(a_ef2({{"output_plus", card("qop")}})).find("is pnp") != std::string::npos);
    CHECK(refused(f_lowp({{"diode_type", card("qon")}})).find("not a diode") != std::string::npos);
    CHECK(refused(f_lowp({{"diode_type", "1N4148"}})).find("1N4148") != std::string::npos);
}

TEST_CASE("spreader working: the interval holds what parts inside their tolerance give",
          "[core][working]") {
    CHECK(rc::check([] {
        const auto within = [](const char* text, const char* key) {
            Input input = *read_input(*find_field(spreader(), key), text);
            const double part = *rc::gen::inRange(0, 1001) / 1000.0;
            const double value = input.amount.low + (input.amount.high - input.amount.low) * part;
            input.amount = Amount::exact(value, input.amount.unit);
            return input;
        };
        const Texts texts = joined(a_ef2(), cards());
        static const Outcome k_wide = answer(texts);
        Inputs inputs = typed(texts);
        inputs.insert_or_assign("upper", within("1k8 1%", "upper"));
        inputs.insert_or_assign("lower", within("470R 1%", "lower"));
        inputs.insert_or_assign("trim", within("500R 5%", "trim"));
        inputs.insert_or_assign("supply_current", within("5.372 mA 1%", "supply_current"));
        const auto narrow = run_working(spreader(), inputs);
        RC_ASSERT(narrow.ok());
        for (const char* key : {"reading_most", "reading_least", "spread_least", "spread_most"}) {
            const double value = figure(*narrow, key).value;
            const Amount& wide = figure(k_wide, key);
            RC_ASSERT(wide.low <= value);
            RC_ASSERT(value <= wide.high);
        }
    }));
}
