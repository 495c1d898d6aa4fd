#include "core/working/working.h"

#include "data/rows.h"
#include "support/catch.h"

#include <rapidcheck.h>

#include <cmath>
#include <string>

using namespace railside;

namespace {

const Working& leak() { return *find_working("leak"); }

using Texts = std::vector<std::pair<std::string, std::string>>;

Inputs typed(const Texts& texts) {
    Inputs inputs;
    for (const auto& [key, text] : texts) {
        const Field* field = find_field(leak(), key);
        INFO(key << " " << text);
        REQUIRE(field != nullptr);
        auto input = read_input(*field, text);
        REQUIRE(input.ok());
        inputs.insert_or_assign(key, *std::move(input));
    }
    return inputs;
}

Outcome answer(const Texts& texts) {
    auto outcome = run_working(leak(), typed(texts));
    INFO((outcome.ok() ? std::string() : outcome.error().message));
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
    for (const std::string& sentence : sentences) {
        if (sentence.find(part) != std::string::npos) {
            return true;
        }
    }
    return false;
}

const Curve* curve(const Outcome& outcome, const std::string& key) {
    for (const Curve& each : outcome.curves) {
        if (each.key == key) {
            return &each;
        }
    }
    return nullptr;
}

/// A healthy npn on the diode test, and something more.
Texts healthy(Texts more = {}) {
    Texts texts{{"be_volt", "0.650"}, {"eb_volt", "OL"}, {"bc_volt", "0.640"},
                {"cb_volt", "OL"},    {"ce_volt", "OL"}, {"ec_volt", "OL"}};
    texts.insert(texts.end(), more.begin(), more.end());
    return texts;
}

} // namespace

TEST_CASE("leak working: a series ohmmeter's reading becomes current and volts",
          "[core][working]") {
    struct Row {
        const char *battery, *mid, *range, *reading;
        double current_a, part_v;
    };
    // V_b/(R_m + R); tolerance 0.01 %.
    const Row table[] = {
        {"3", "20", "x1", "1k", 2.9412e-3, 2.9412},  {"3", "20", "x1", "100", 25.000e-3, 2.5},
        {"3", "20", "x100", "10k", 0.25000e-3, 2.5}, {"12", "20", "x10k", "1M", 10.000e-6, 10},
        {"1.5", "12", "x1", "60", 20.833e-3, 1.25},
    };
    for (const Row& row : table) {
        const Outcome outcome = answer({{"meter", "ohmmeter"},
                                        {"battery", row.battery},
                                        {"mid_scale", row.mid},
                                        {"range", row.range},
                                        {"ce_ohm", row.reading}});
        INFO(row.battery << " V, " << row.range << ", reads " << row.reading);
        CHECK(outcome.figures.front().key == "worst_leak");
        CHECK(near(figure(outcome, "ce_leak")->value, row.current_a, 1e-4));
        CHECK(near(figure(outcome, "ce_leak_volts")->value, row.part_v, 1e-4));
        // The battery's 5 % and the needle's 2 % of arc are in the interval.
        CHECK(figure(outcome, "ce_leak")->low < 0.95 * row.current_a);
        CHECK(figure(outcome, "ce_leak")->high > 1.05 * row.current_a);
    }
}

TEST_CASE("leak working: the leak jig of 20 V behind 1 kΩ", "[core][working]") {
    // 390 Ω, 1 kΩ and 10 kΩ; circuit simulation, 0.1 % with the voltmeter's digits.
    struct Row {
        const char* reading;
        double current_a, leak_ohm;
    };
    const Row table[] = {
        {"5.6115", 14.388e-3, 390}, {"10.000", 10.000e-3, 1e3}, {"18.182", 1.8182e-3, 10e3}};
    for (const Row& row : table) {
        const Outcome outcome = answer(
            {{"meter", "jig"}, {"role", "driver"}, {"polarity", "npn"}, {"ce_volt", row.reading}});
        INFO(row.reading);
        CHECK(near(outcome.figures.front().amount.value, row.current_a, 1e-3));
        CHECK(near(figure(outcome, "ce_leak_ohm")->value, row.leak_ohm, 1e-3));
        CHECK(outcome.verdict.state == VerdictState::outside);
        CHECK(outcome.verdict.word == "C-E leaky");
    }
}

TEST_CASE("leak working: what may be the emitter breaking down is a leak when it passes both ways",
          "[core][working]") {
    // 390 Ω in the jig stands at 5.6 V, where a reversed emitter of unknown polarity would too.
    const Outcome one = answer({{"meter", "jig"}, {"ce_volt", "5.61"}});
    CHECK(one.verdict.state == VerdictState::undecided);
    CHECK(one.verdict.reason.find("the other way too") != std::string::npos);
    const Outcome both = answer({{"meter", "jig"}, {"ce_volt", "5.61"}, {"ec_volt", "5.61"}});
    CHECK(both.verdict.word == "C-E leaky");
}

TEST_CASE("leak working: simulated faulty transistors get their word", "[core][working]") {
    int judged = 0;
    for (const auto& row : test_data::rows_of("part_readings.csv")) {
        const std::string& fault = row.text("fault");
        const auto volts = [&row](const char* column) {
            const std::string& text = row.text(column);
            return text == "OL" || text.size() < 6 ? text : text.substr(0, 6);
        };
        const Outcome outcome = answer({{"meter", "jig"},
                                        {"jig_supply", "3"},
                                        {"jig_resistor", "2k"},
                                        {"role", row.text("role")},
                                        {"be_volt", volts("be_v")},
                                        {"eb_volt", "OL"},
                                        {"bc_volt", volts("bc_v")},
                                        {"cb_volt", "OL"},
                                        {"ce_volt", volts("ce_v")},
                                        {"ec_volt", volts("ce_v")}});
        INFO(row.text("id") << " " << fault << ": " << outcome.verdict.word << ", "
                            << outcome.verdict.reason);
        const std::string expected = fault == "ce_short"         ? "C-E shorted"
                                     : fault == "ce_leak"        ? "C-E leaky"
                                     : fault == "open_emitter"   ? "B-E open"
                                     : fault == "open_collector" ? "B-C open"
                                     : fault == "open_base"      ? "B-C open"
                                                                 : "";
        if (expected.empty()) {
            // Low gain shows in no junction.
            CHECK(outcome.verdict.state != VerdictState::outside);
        } else {
            CHECK(outcome.verdict.word == expected);
            CHECK(outcome.verdict.state == VerdictState::outside);
        }
        ++judged;
    }
    CHECK(judged == 60);
}

TEST_CASE("leak working: a simple diode test sees a short and a hard leak", "[core][working]") {
    // Circuit simulation of 0.2 Ω, 390 Ω and 1 kΩ from collector to emitter.
    CHECK(answer(healthy({{"ce_volt", "0.000"}, {"ec_volt", "0.000"}})).verdict.word ==
          "C-E shorted");
    CHECK(answer(healthy({{"ce_volt", "0.490"}, {"ec_volt", "0.490"}})).verdict.word ==
          "C-E leaky");
    CHECK(answer(healthy({{"ce_volt", "1.000"}, {"ec_volt", "1.000"}})).verdict.word ==
          "C-E leaky");
}

TEST_CASE("leak working: a diode test alone clears an output, not a driver", "[core][working]") {
    const Outcome output = answer(healthy({{"role", "output"}}));
    CHECK(output.verdict.state == VerdictState::in_window);
    CHECK(output.verdict.word == "good");
    const Outcome driver = answer(healthy({{"role", "driver"}}));
    CHECK(driver.verdict.state == VerdictState::undecided);
    CHECK(driver.verdict.word == "no fault seen");
    // 2 V at 1.2 mA, the most the test may drive.
    CHECK(near(driver.figures.front().amount.high, 1.2e-3, 1e-9));
    CHECK(driver.figures.front().amount.low == 0);
    CHECK(mentions(driver.notes, "For a smaller leak"));
    CHECK(mentions(driver.notes, "B-E (drop 650\u2009mV) and B-C"));
}

TEST_CASE("leak working: OL is typed, and any reading above the display's limit is one",
          "[core][working]") {
    const Field& field = *find_field(leak(), "eb_volt");
    for (const char* text : {"OL", "ol", "open", "∞"}) {
        const auto input = read_input(field, text);
        REQUIRE(input.ok());
        CHECK(is_open(field, input->amount));
        CHECK(input->amount.low == input->amount.high);
        CHECK(input->text == text);
    }
    CHECK(accepted_form(field) == "0 to 1000\u2009V, or OL");
    CHECK(unusual_reason(field, field.high).empty());
    CHECK_FALSE(read_input(*find_field(leak(), "battery"), "OL").ok());
    const auto seen = [](const char* text) {
        return answer({{"be_volt", "0.650"}, {"eb_volt", text}}).figures.front().amount;
    };
    CHECK(seen("OL") == seen("2.5"));
}

TEST_CASE("leak working: the black lead is positive on many ohmmeters", "[core][working]") {
    // Conducts with black on the base: npn when black is positive.
    const Texts base{{"meter", "ohmmeter"}, {"be_ohm", "OL"}, {"eb_ohm", "20"},
                     {"bc_ohm", "OL"},      {"cb_ohm", "18"}, {"battery", "1.5"}};
    const auto with = [&base](const char* lead) {
        Texts texts = base;
        texts.emplace_back("positive_lead", lead);
        return answer(texts);
    };
    CHECK(mentions(with("black").notes, "npn by the way"));
    CHECK(mentions(with("red").notes, "pnp by the way"));
    CHECK(mentions(with("unknown").notes, "cannot be told"));
    Texts claimed = base;
    claimed.emplace_back("polarity", "pnp");
    CHECK(answer(claimed).verdict.word == "wrong polarity");
}

TEST_CASE("leak working: a low range does not clear a leak that a high one shows",
          "[core][working]") {
    // 2 % of the arc of 150 mA is 3 mA.
    const Outcome low = answer({{"meter", "ohmmeter"},
                                {"range", "x1"},
                                {"ce_ohm", "OL"},
                                {"ec_ohm", "OL"},
                                {"role", "driver"}});
    CHECK(low.verdict.state == VerdictState::undecided);
    CHECK(low.figures.front().amount.high > 3e-3);
    CHECK(mentions(low.cautions, "150\u2009mA"));
    const Outcome high = answer({{"meter", "ohmmeter"},
                                 {"range", "x1k"},
                                 {"ce_ohm", "15k"},
                                 {"ec_ohm", "15k"},
                                 {"role", "driver"}});
    CHECK(high.verdict.word == "C-E leaky");
}

TEST_CASE("leak working: a high battery across base and emitter shows no leak", "[core][working]") {
    // 12 V, mid-scale 200 kΩ: reads 220 kΩ at 6.3 V across the part, inside the 5 to 7 V.
    const Outcome outcome = answer({{"meter", "ohmmeter"},
                                    {"battery", "12"},
                                    {"range", "x10k"},
                                    {"positive_lead", "red"},
                                    {"be_ohm", "10k"},
                                    {"eb_ohm", "220k"}});
    CHECK(outcome.verdict.state == VerdictState::undecided);
    CHECK(outcome.verdict.reason.find("breaks down at 5 to 7") != std::string::npos);
    CHECK(mentions(outcome.cautions, "breaks it down"));
    CHECK(outcome.plot != PlotKind::lines);
}

TEST_CASE("leak working: the role says what the fault does", "[core][working]") {
    const auto notes = [](const char* role) {
        return answer({{"meter", "jig"}, {"role", role}, {"ce_volt", "10.00"}}).notes;
    };
    CHECK(mentions(notes("driver"), "59\u2009mV"));
    CHECK(mentions(notes("limiter"), "almost invisible in circuit"));
    CHECK(mentions(notes("output"), "23\u2009mV"));
    CHECK(mentions(notes("bias_spreader"), "8\u2009mV"));
    CHECK(mentions(notes("voltage_amplifier"), "13\u2009V"));
    CHECK(mentions(notes("input_pair"), "30\u2009V"));
    CHECK(mentions(notes("pre_driver"), "pre-driver"));
    CHECK(mentions(notes("other"), "the rail divided by its resistance"));
}

TEST_CASE("leak working: the rail drives a resistive leak harder than the meter",
          "[core][working]") {
    // 4.7 kΩ in simulation: 3.50877 mA in the jig, 40 V/4.7 kΩ = 8.51 mA in the amplifier.
    const Outcome outcome =
        answer({{"meter", "jig"}, {"role", "driver"}, {"ce_volt", "16.491"}, {"rail", "40 ±0 V"}});
    CHECK(near(figure(outcome, "ce_leak")->value, 3.50877e-3, 1e-3));
    CHECK(near(figure(outcome, "rail_leak")->value, 40 / 4.7e3, 1e-3));
    CHECK(figure(outcome, "rail_leak")->low <= figure(outcome, "ce_leak")->value);
}

TEST_CASE("leak working: the heat test tells a junction's leak from a damaged part",
          "[core][working]") {
    const auto warmed = [](const char* warm) {
        // 26.7 µA in a small germanium device: between good and bad.
        return answer({{"meter", "jig"},
                       {"jig_supply", "6 ±0 V"},
                       {"jig_resistor", "10k 0%"},
                       {"material", "germanium"},
                       {"role", "input_pair"},
                       {"cb_volt", "5.733 ±0.001 V"},
                       {"bc_volt", "0.150 ±0.001 V"},
                       {"temperature", "25"},
                       {"warm_temperature", "45"},
                       {"warm_volt", warm}});
    };
    // Twice two doublings: 106.8 µA, 4.932 V.
    const Outcome own = warmed("4.932 ±0.001 V");
    CHECK(own.verdict.state == VerdictState::at_the_edge);
    CHECK(near(figure(own, "doubling_share")->value, 1, 0.02));
    CHECK(mentions(own.notes, "doubles as a junction's own"));
    const Outcome resistive = warmed("5.720 ±0.001 V");
    CHECK(figure(resistive, "doubling_share")->high < 0.1);
    CHECK(resistive.verdict.word == "B-C leaky");
    CHECK(resistive.verdict.reason.find("surface or resistive") != std::string::npos);
    REQUIRE(curve(resistive, "read") != nullptr);
    CHECK(curve(resistive, "read")->x.values == std::vector<double>{25, 45});
}

TEST_CASE("leak working: collector-base and open-base leakage are tied by the gain",
          "[core][working]") {
    // 0.5 µA and beta 100: 50.5 µA.
    const Outcome outcome = answer({{"meter", "jig"},
                                    {"jig_supply", "6 ±0 V"},
                                    {"jig_resistor", "1M 0%"},
                                    {"cb_volt", "5.5 ±0 V"},
                                    {"bc_volt", "0.45 ±0 V"},
                                    {"gain", "100 0%"}});
    REQUIRE(figure(outcome, "open_base_expected") != nullptr);
    CHECK(near(figure(outcome, "open_base_expected")->value, 50.5e-6, 1e-9));
}

TEST_CASE("leak working: the plot is the leak over temperature, or the drops in their windows",
          "[core][working]") {
    const Outcome leaky = answer({{"meter", "jig"}, {"role", "output"}, {"ce_volt", "19.0"}});
    CHECK(leaky.plot == PlotKind::lines);
    const Curve* own = curve(leaky, "junction");
    REQUIRE(own != nullptr);
    // Doubles every 10 K: the curve spans 50 K.
    CHECK(near(own->y.values.back() / own->y.values.front(), 32, 1e-9));
    CHECK(curve(leaky, "resistive")->y.values.front() ==
          curve(leaky, "resistive")->y.values.back());
    const Outcome drops = answer(healthy());
    CHECK(drops.plot == PlotKind::bars);
    CHECK(curve(drops, "be_read")->x.values == std::vector<double>{0.65});
    CHECK(curve(drops, "be_window")->x.values.size() == 2);
    CHECK(curve(drops, "bc_window")->y.values.front() == 1);
}

TEST_CASE("leak working: nothing read asks for readings, part read for the rest",
          "[core][working]") {
    CHECK(answer({}).verdict.word == "nothing read");
    CHECK(answer({}).figures.size() == 1);
    const Outcome part = answer({{"ce_volt", "OL"}, {"ec_volt", "OL"}});
    CHECK(part.verdict.word == "no fault yet");
    CHECK(part.verdict.reason.find("B-E and B-C still to be read") != std::string::npos);
}

TEST_CASE("leak working: a reading of another meter is kept, not used, and said so",
          "[core][working]") {
    const Outcome outcome = answer(healthy({{"ce_ohm", "100"}}));
    CHECK(outcome.verdict.word == "good");
    CHECK(mentions(outcome.notes, "C red, E black was given but not used"));
    const Inputs full = with_defaults(leak(), typed({{"meter", "jig"}}));
    CHECK(full.contains("jig_supply"));
    CHECK_FALSE(full.contains("battery"));
    CHECK_FALSE(full.contains("test_current"));
    CHECK(applies(*find_field(leak(), "ce_volt"), full));
    CHECK_FALSE(applies(*find_field(leak(), "ce_ohm"), full));
}

TEST_CASE("leak working: more than the jig's supply is refused by name", "[core][working]") {
    const auto outcome = run_working(leak(), typed({{"meter", "jig"}, {"ce_volt", "24"}}));
    REQUIRE_FALSE(outcome.ok());
    CHECK(outcome.error().code == ErrorCode::contradictory);
    CHECK(outcome.error().field == "C red, E black");
    CHECK(outcome.error().message.find("20") != std::string::npos);
}

TEST_CASE("leak working: cautions of the part out of circuit, and of germanium",
          "[core][working]") {
    const Outcome outcome = answer({{"material", "germanium"}});
    CHECK(mentions(outcome.cautions, "discharge the reservoirs"));
    CHECK(mentions(outcome.cautions, "Germanium leaks by nature"));
    CHECK(mentions(answer({{"meter", "jig"}, {"jig_supply", "100"}}).cautions, "100\u2009V"));
}

TEST_CASE("leak working: more leak never looks better", "[core][working]") {
    CHECK(rc::check([] {
        const auto rank = [](double part_v) {
            Inputs inputs = typed({{"meter", "jig"}, {"role", "driver"}, {"polarity", "npn"}});
            Input reading;
            reading.amount = {part_v, part_v * 0.999, part_v * 1.001, Unit::volt};
            inputs.emplace("ce_volt", reading);
            const auto outcome = run_working(leak(), inputs);
            RC_ASSERT(outcome.ok());
            const VerdictState state = outcome->verdict.state;
            return std::pair(state == VerdictState::outside       ? 3
                             : state == VerdictState::at_the_edge ? 2
                                                                  : 1,
                             outcome->figures.front().amount.value);
        };
        // Less voltage across the part, more current through it.
        const double part_v = 0.2 + *rc::gen::inRange(0, 1960) / 100.0;
        RC_ASSERT(rank(part_v * 0.98) >= rank(part_v));
    }));
}
