#include "core/device/model_card.h"
#include "core/working/working.h"

#include "../stage/simulated_stages.h"
#include "data/rows.h"
#include "support/catch.h"

#include <rapidcheck.h>

#include <algorithm>
#include <cmath>
#include <string>

using namespace railside;

namespace {

const Working& clip() { return *find_working("clip"); }

using Texts = std::vector<std::pair<std::string, std::string>>;

Inputs typed(const Texts& texts) {
    Inputs inputs;
    for (const auto& [key, text] : texts) {
        auto input = read_input(*find_field(clip(), key), text);
        INFO(key << " " << text);
        REQUIRE(input.ok());
        inputs.insert_or_assign(key, *std::move(input));
    }
    return inputs;
}

Outcome answer(const Texts& texts) {
    auto outcome = run_working(clip(), typed(texts));
    INFO((outcome.ok() ? std::string() : outcome.error().message));
    REQUIRE(outcome.ok());
    return *std::move(outcome);
}

Texts read(const std::string& plus, const std::string& minus, const std::string& rail,
           Texts more = {}) {
    more.insert(more.begin(), {{"plus", plus}, {"minus", minus}, {"rail", rail}});
    return more;
}

/// The values of a_ef2 with the cards it was simulated with.
Texts ef2(const std::string& plus, const std::string& minus, Texts more = {}) {
    Texts texts = read(plus, minus, "40", std::move(more));
    texts.emplace_back("expect_from", "stage");
    texts.emplace_back("supply_current", "5.4 mA");
    for (const auto& [place, name] :
         {std::pair{"output_plus", "qon"}, std::pair{"output_minus", "qop"},
          std::pair{"driver_plus", "qdn"}, std::pair{"driver_minus", "qdp"}}) {
        texts.emplace_back(place, print_card(name, simulated::transistor(name)));
    }
    return texts;
}

const Amount& figure(const Outcome& outcome, const std::string& key) {
    for (const Figure& each : outcome.figures) {
        if (each.key == key) {
            return each.amount;
        }
    }
    throw std::runtime_error("no figure " + key);
}

bool has_figure(const Outcome& outcome, const std::string& key) {
    return std::any_of(outcome.figures.begin(), outcome.figures.end(),
                       [&](const Figure& each) { return each.key == key; });
}

bool mentions(const std::vector<std::string>& sentences, const std::string& part) {
    return std::any_of(sentences.begin(), sentences.end(), [&](const std::string& each) {
        return each.find(part) != std::string::npos;
    });
}

bool holds(const Amount& amount, double value) {
    return amount.low <= value && value <= amount.high;
}

} // namespace

TEST_CASE("clip working: power to the earlier clip, shortfall and asymmetry", "[core][working]") {
    // Analytic vectors: 83.906 W, +0.082 %; 64.481 W, −13.147 %; 52.942 W into 4 ohm; 0.1 %.
    const Outcome even = answer(read("36.67", "36.64", "40", {{"rated_power", "70"}}));
    CHECK(even.figures.front().key == "clean_power");
    CHECK(near(figure(even, "clean_power").value, 83.9056, 1e-4));
    CHECK(near(figure(even, "asymmetry").value, 0.000818442, 1e-3));
    CHECK(near(figure(even, "against_rated").value, 10 * std::log10(83.9056 / 70), 1e-3));
    CHECK(even.verdict.state == VerdictState::in_window);
    const Outcome weak = answer(read("32.12", "36.64", "40"));
    CHECK(near(figure(weak, "clean_power").value, 64.4809, 1e-4));
    CHECK(near(figure(weak, "asymmetry").value, -0.131472, 1e-3));
    CHECK(weak.verdict.word == "early on +");
    CHECK_FALSE(has_figure(weak, "against_rated"));
    const Outcome low =
        answer(read("21.18", "20.58", "25", {{"load", "4"}, {"emitter_resistor", "0R47"}}));
    CHECK(near(figure(low, "clean_power").value, 52.942, 1e-4));
    CHECK(low.verdict.state == VerdictState::in_window);
    CHECK(near(figure(low, "peak_current_plus").value, 21.18 / 4, 1e-9));
}

TEST_CASE("clip working: one reading for both halves", "[core][working]") {
    const Outcome pp = answer({{"read_as", "pp"}, {"reading", "73.28"}, {"rail", "40"}});
    CHECK(near(figure(pp, "clean_power").value, 36.64 * 36.64 / 16, 1e-6));
    CHECK_FALSE(has_figure(pp, "asymmetry"));
    CHECK(mentions(pp.notes, "read each peak"));
    const Outcome rms = answer({{"read_as", "rms"}, {"reading", "25.91"}, {"rail", "40"}});
    CHECK(near(figure(rms, "clean_power").value, 25.91 * 25.91 / 8, 1e-6)); // V²/R
    CHECK(near(figure(rms, "clip_plus").value, 36.642, 1e-3));
    CHECK(answer({{"read_as", "rms"}, {"reading", "18"}, {"rail", "40"}}).verdict.word == "early");
}

TEST_CASE("clip working: every healthy simulated amplifier is as it should be from its rails",
          "[core][working]") {
    for (const auto& row : test_data::rows_of("clip.csv")) {
        if (row.text("fault") != "none" || row.number("load_ohm") > 20) {
            continue;
        }
        const std::string stage = row.text("stage");
        const bool low_power = stage == "f_lowp";
        const Outcome outcome =
            answer(read(row.text("plus_v"), row.text("minus_v"),
                        low_power            ? "25"
                        : stage == "c_quasi" ? "35"
                                             : "40",
                        {{"load", row.text("load_ohm")},
                         {"topology", stage == "c_quasi" ? "quasi" : "follower"},
                         {"emitter_resistor", low_power ? "0R47" : "0R22"}}));
        INFO(stage << " " << row.text("load_ohm") << ": " << outcome.verdict.word << ", "
                   << outcome.verdict.reason);
        CHECK(outcome.verdict.state == VerdictState::in_window);
        CHECK(holds(figure(outcome, "expected_plus"), row.number("plus_v")));
        CHECK(holds(figure(outcome, "expected_minus"), row.number("minus_v")));
    }
}

TEST_CASE("clip working: the stage's values foretell the clip within the model's tolerance",
          "[core][working]") {
    // Circuit simulation of a_ef2: 2 %.
    for (const auto& row : test_data::rows_of("clip.csv")) {
        if (row.text("stage") != "a_ef2" || row.text("fault") != "none" ||
            row.number("load_ohm") > 20) {
            continue;
        }
        const Outcome outcome =
            answer(ef2(row.text("plus_v"), row.text("minus_v"), {{"load", row.text("load_ohm")}}));
        INFO(row.text("load_ohm"));
        CHECK(near(figure(outcome, "expected_plus").value, row.number("plus_v"), 0.02));
        CHECK(near(figure(outcome, "expected_minus").value, row.number("minus_v"), 0.02));
        CHECK(holds(figure(outcome, "expected_plus"), row.number("plus_v")));
        CHECK(holds(figure(outcome, "expected_minus"), row.number("minus_v")));
        CHECK(outcome.verdict.state == VerdictState::in_window);
        CHECK(mentions(outcome.notes, "by the rail"));
    }
}

TEST_CASE("clip working: blind, the interval is wide and holds the simulation", "[core][working]") {
    const Outcome outcome = answer(read("36.67", "36.64", "40", {{"expect_from", "stage"}}));
    CHECK(holds(figure(outcome, "expected_plus"), 36.668));
    CHECK(holds(figure(outcome, "expected_minus"), 36.636));
    CHECK(mentions(outcome.notes, "No types were given"));
}

TEST_CASE("clip working: a half that stops early is laid at a part, with the value it would need",
          "[core][working]") {
    // Simulated single faults: a driver of gain 12 (typical 115) ends + at 32.118 V; R_E of 2.2 ohm
    // ends it at 29.681 V. The gain that explains it within a quarter, the resistor within 10 %.
    const Outcome driver = answer(ef2("32.118", "36.644"));
    CHECK(driver.verdict.word == "early on +");
    CHECK(driver.verdict.reason.find("These values give 36.") != std::string::npos);
    REQUIRE(driver.tables.size() == 1);
    const OutcomeTable& table = driver.tables.front();
    CHECK(table.columns.size() == 3);
    double gain = 0;
    for (const auto& row : table.rows) {
        REQUIRE(row.size() == 3);
        if (row.front() == "Gain, + driver") {
            gain = std::stod(row.back());
        }
    }
    CHECK(near(gain, 12, 0.25));
    const Outcome resistor = answer(ef2("29.681", "36.636"));
    double ohm = 0;
    for (const auto& row : resistor.tables.front().rows) {
        if (row.front() == "Emitter resistor, + half") {
            ohm = std::stod(row.back());
        }
    }
    CHECK(near(ohm, 2.2, 0.10));
    // On the − half the source's current explains nothing.
    const Outcome minus = answer(ef2("36.668", "30.0"));
    CHECK(minus.verdict.word == "early on −");
    for (const auto& row : minus.tables.front().rows) {
        CHECK(row.front() != "Supply current");
    }
}

TEST_CASE("clip working: limiters end a low load", "[core][working]") {
    Texts texts = ef2("14.8", "15.8", {{"load", "2"}});
    for (const auto& given :
         {std::pair{"expect_from", "limited"}, std::pair{"sense_resistor", "330R"},
          std::pair{"divider_resistor", "220R"}}) {
        std::erase_if(texts, [&](const auto& held) { return held.first == given.first; });
        texts.emplace_back(given.first, given.second);
    }
    const Outcome outcome = answer(texts);
    CHECK(mentions(outcome.notes, "by the limiter"));
    // Flat: V_b·(1 + 330/220)/0.22 into 2 ohm, 15.9 V with 0.7 V; 10 %.
    CHECK(near(figure(outcome, "expected_plus").value, 2 * 0.7 * 2.5 / 0.22, 0.10));
    CHECK(outcome.verdict.state != VerdictState::outside);
}

TEST_CASE("clip working: words of the verdict", "[core][working]") {
    struct Row {
        Texts texts;
        VerdictState state;
        const char* word;
    };
    const Row table[] = {
        {read("36.7", "36.6", "40"), VerdictState::in_window, "as it should"},
        {read("36.7", "36.6", "40", {{"rated_power", "80"}}), VerdictState::in_window,
         "as it should"},
        {read("36.7", "36.6", "40", {{"rated_power", "84"}}), VerdictState::at_the_edge,
         "at the edge"},
        {read("36.7", "36.6", "40", {{"rated_power", "120"}}), VerdictState::outside,
         "short of power"},
        {read("28.0", "27.8", "40"), VerdictState::outside, "early on both"},
        {read("36.7", "27.8", "40"), VerdictState::outside, "early on −"},
        {read("35.0 ±0.1 V", "37.4 ±0.1 V", "40"), VerdictState::outside,
         "early on +"}, // 6.6 % apart
        {read("35.8 ±0.5 V", "37.4 ±0.5 V", "40"), VerdictState::at_the_edge, "at the edge, +"},
        {read("0.02", "36.6", "40"), VerdictState::outside, "early on +"}, // a dead half
        {read("34.6", "26.5", "38", {{"rail_minus", "30"}}), VerdictState::in_window,
         "as it should"},
    };
    for (const Row& row : table) {
        const Outcome outcome = answer(row.texts);
        INFO(outcome.verdict.word << ": " << outcome.verdict.reason);
        CHECK(outcome.verdict.state == row.state);
        CHECK(outcome.verdict.word == row.word);
        CHECK(outcome.verdict.reason.ends_with('.'));
    }
}

TEST_CASE("clip working: what cannot be is refused by name", "[core][working]") {
    const auto over = run_working(clip(), typed(read("73.3", "73.3", "40")));
    REQUIRE_FALSE(over.ok());
    CHECK(over.error().code == ErrorCode::contradictory);
    CHECK(over.error().field == "Clip, + half");
    CHECK(over.error().message.find("73.3") != std::string::npos);
    Texts texts = ef2("36.6", "36.6");
    std::erase_if(texts, [](const auto& held) { return held.first == "expect_from"; });
    texts.insert(texts.end(),
                 {{"expect_from", "limited"}, {"sense_resistor", "330R"}, {"slope", "own"}});
    const auto slope = run_working(clip(), typed(texts));
    REQUIRE_FALSE(slope.ok());
    CHECK(slope.error().code == ErrorCode::contradictory);
    CHECK(slope.error().field == "Slope resistor");
    CHECK(run_working(clip(), typed({{"plus", "36"}, {"rail", "40"}})).error().code ==
          ErrorCode::missing);
}

TEST_CASE("clip working: the picture tells current from volts", "[core][working]") {
    const Outcome outcome = answer(read("32.12", "36.64", "40"));
    CHECK(outcome.plot == PlotKind::lines);
    REQUIRE(outcome.curves.size() == 5);
    for (const Curve& curve : outcome.curves) {
        if (curve.key == "found_plus") {
            CHECK(curve.role == CurveRole::point);
            CHECK(curve.x.values == std::vector<double>{8});
            CHECK(near(curve.y.values.front(), 32.12, 1e-12));
        }
        if (curve.key == "plus") {
            CHECK(curve.role == CurveRole::plus);
            // StageHalf the load, half the volts, if a current ends it.
            CHECK(near(curve.y.values.front(), 32.12 / 4, 1e-9));
        }
    }
    const Outcome known = answer(ef2("36.668", "36.636"));
    for (const Curve& curve : known.curves) {
        if (curve.key == "plus" || curve.key == "minus") {
            for (std::size_t i = 1; i < curve.y.values.size(); ++i) {
                CHECK(curve.y.values[i] > curve.y.values[i - 1]); // less load, more volts
            }
        }
    }
}

TEST_CASE("clip working: intervals hold their values, less read is never more power",
          "[core][working]") {
    CHECK(rc::check([] {
        const auto part = [] { return *rc::gen::inRange(0, 1001) / 1000.0; };
        const auto about = [](double value, double tolerance, Unit unit) {
            Input input;
            input.amount = with_tolerance(value, tolerance, unit);
            return input;
        };
        const double rail_v = 15 + 80 * part();
        Inputs inputs;
        inputs["rail"] = about(rail_v, 0.02, Unit::volt);
        inputs["load"] = about(2 + 14 * part(), 0, Unit::ohm);
        const double plus_v = rail_v * part();
        inputs["plus"] = about(plus_v, 0.02, Unit::volt);
        inputs["minus"] = about(rail_v * part(), 0.02, Unit::volt);
        const auto more = run_working(clip(), inputs);
        RC_ASSERT(more.ok());
        for (const Figure& each : more->figures) {
            RC_ASSERT(each.amount.low <= each.amount.value);
            RC_ASSERT(each.amount.value <= each.amount.high);
        }
        inputs["plus"] = about(plus_v * part(), 0.02, Unit::volt);
        const auto less = run_working(clip(), inputs);
        RC_ASSERT(less.ok());
        RC_ASSERT(figure(*less, "clean_power").value <= figure(*more, "clean_power").value);
        // Turned over, the power is the same and the asymmetry the other way.
        std::swap(inputs["plus"], inputs["minus"]);
        const auto over = run_working(clip(), inputs);
        RC_ASSERT(over.ok());
        RC_ASSERT(figure(*over, "clean_power") == figure(*less, "clean_power"));
        RC_ASSERT(near(figure(*over, "asymmetry").value, -figure(*less, "asymmetry").value, 1e-12));
    }));
}
