#include "core/working/working.h"

#include "core/mains/rectifier.h"
#include "core/quantity/value_code.h"
#include "data/rows.h"
#include "support/catch.h"

#include <fmt/format.h>
#include <rapidcheck.h>

#include <cmath>
#include <string>

using namespace railside;

namespace {

const Working& lamp() { return *find_working("lamp"); }

using Texts = std::vector<std::pair<std::string, std::string>>;

Inputs typed(const Texts& texts) {
    Inputs inputs;
    for (const auto& [key, text] : texts) {
        const Field* field = find_field(lamp(), key);
        INFO(key << " " << text);
        REQUIRE(field != nullptr);
        auto input = read_input(*field, text);
        REQUIRE(input.ok());
        inputs.insert_or_assign(key, *std::move(input));
    }
    return inputs;
}

Outcome answer(const Texts& texts) {
    auto outcome = run_working(lamp(), typed(texts));
    INFO((outcome.ok() ? std::string() : outcome.error().message));
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

const Curve& curve(const Outcome& outcome, const std::string& key) {
    for (const Curve& each : outcome.curves) {
        if (each.key == key) {
            return each;
        }
    }
    throw std::runtime_error("no curve " + key);
}

/// The simulated amplifier: 40 V rails, 106 mA from each at idle.
Texts stage(Texts more = {}) {
    Texts texts{{"rail", "40"}, {"idle", "106 mA"}};
    texts.insert(texts.end(), more.begin(), more.end());
    return texts;
}

Inputs any_inputs() {
    const auto part = [] { return *rc::gen::inRange(0, 1001) / 1000.0; };
    const auto amount = [](double value, double spread, Unit unit) {
        Input input;
        input.amount = with_tolerance(value, spread, unit);
        return input;
    };
    Inputs inputs;
    inputs.emplace("rail", amount(15 + 85 * part(), 0.02, Unit::volt));
    inputs.emplace("idle", amount(0.02 * std::pow(50, part()), 0.1, Unit::ampere));
    inputs.emplace("lamp_power", amount(25 * std::pow(8, part()), 0, Unit::watt));
    inputs.emplace("own_power", amount(5 * part(), 0.5, Unit::watt));
    inputs.emplace("winding", amount(0.1 * std::pow(20, part()), 0.5, Unit::ohm));
    return inputs;
}

} // namespace

TEST_CASE("lamp working: the simulated lamp, transformer and resistors", "[core][working]") {
    // Circuit simulation, 5 % lamp, 3 % rail. The rail on full mains is that of the same
    // transformer without the lamp.
    int checked = 0;
    for (const auto& row : test_data::rows_of("lamp_points.csv")) {
        const double load_ohm = row.number("load_ohm");
        const Rectifier direct{29.5 * std::sqrt(2.0), 0.15, 0.75};
        const double rail_v = rail_volts(direct, {40 / load_ohm, 40, 1});
        if (rail_v / load_ohm > 20) {
            continue; // a short is no idle demand
        }
        const Outcome outcome =
            answer({{"rail", print_exact(std::round(rail_v * 1e6) / 1e6, Unit::volt)},
                    {"idle", print_exact(std::round(rail_v / load_ohm * 1e9) / 1e9, Unit::ampere)},
                    {"shape", "resistor"},
                    {"lamp_power", row.text("lamp_w")},
                    {"winding", "0R15"},
                    {"own_power", "1.1255 W"}});
        INFO(row.text("lamp_w") << " W, " << load_ohm << " ohm");
        CHECK(near(figure(outcome, "lamp_volts_rms").value, row.number("lamp_v"), 0.05));
        CHECK(near(figure(outcome, "lamp_current").value, row.number("lamp_a"), 0.05));
        CHECK(near(figure(outcome, "rail_on_lamp").value, row.number("rail_v"), 0.03));
        CHECK(near(figure(outcome, "filament").value, row.number("filament_k"), 0.02));
        // And its intervals hold it.
        CHECK(figure(outcome, "rail_on_lamp").low <= row.number("rail_v"));
        CHECK(figure(outcome, "rail_on_lamp").high >= row.number("rail_v"));
        CHECK(figure(outcome, "lamp_current").low <= row.number("lamp_a"));
        CHECK(figure(outcome, "lamp_current").high >= row.number("lamp_a"));
        ++checked;
    }
    CHECK(checked == 15);
}

TEST_CASE("lamp working: a lamp on a dead short is nearly on the mains", "[core][working]") {
    // Circuit simulation with 0.3 ohm on each rail: 254.95 mA in a 60 W lamp, 0.89 A a rail.
    const Outcome outcome =
        answer({{"rail", "40.97"}, {"idle", "5 mA"}, {"winding", "0R15"}, {"own_power", "1.13 W"}});
    CHECK(near(figure(outcome, "short_lamp_current").value, 0.25495, 0.01));
    CHECK(near(figure(outcome, "short_rail_current").value, 0.266997 / 0.3, 0.02));
}

TEST_CASE("lamp working: a healthy idle leaves 60 W hardly glowing, and suits", "[core][working]") {
    const Outcome outcome = answer(stage());
    CHECK(outcome.figures.front().key == "lamp_current");
    CHECK(outcome.verdict.state == VerdictState::in_window);
    CHECK(outcome.verdict.word == "lamp suits");
    // About 880 K at 0.09 A, a little more here.
    CHECK(figure(outcome, "filament").value > 850);
    CHECK(figure(outcome, "filament").value < 1000);
    CHECK(figure(outcome, "lamp_to_use").value == 60);
    // When the lamp comes out the rail is the full one again, and so is the idle.
    CHECK(
        near(figure(outcome, "rail_on_lamp").value + figure(outcome, "rail_rise").value, 40, 1e-9));
    CHECK(near(figure(outcome, "idle_on_lamp").value + figure(outcome, "idle_rise").value, 0.106,
               1e-9));
    // The simulated stage idles at 100.9 mA on 36 V: on the lamp within the interval.
    CHECK(near(figure(outcome, "idle_on_lamp").value, 0.1009, 0.02));
    CHECK(mentions(outcome.notes, "set the bias on full mains"));
}

TEST_CASE("lamp working: surge through the cold filament", "[core][working]") {
    // 230·√2/(881.7 ohm/14.6) = 5.39 A; measured cold lamps are a tenth to a fifteenth.
    const Amount surge = figure(answer(stage()), "surge");
    CHECK(near(surge.value, 5.386, 2e-3));
    CHECK(near(surge.low, 230 * std::sqrt(2.0) / 88.1667, 1e-6));
    CHECK(near(surge.high, 230 * std::sqrt(2.0) / 58.7778, 1e-4));
}

TEST_CASE("lamp working: what is seen against what a healthy idle would show", "[core][working]") {
    struct Row {
        const char *seen, *lamp;
        VerdictState state;
        const char* word;
    };
    const Row table[] = {
        {"dark", "200", VerdictState::in_window, "as expected"},
        {"dim", "60", VerdictState::at_the_edge, "at the edge"},
        {"bright", "60", VerdictState::outside, "too bright"},
        {"full", "60", VerdictState::outside, "looks shorted"},
        {"dark", "25", VerdictState::outside, "too dark"},
    };
    for (const Row& row : table) {
        const Outcome outcome = answer(stage({{"seen", row.seen}, {"lamp_power", row.lamp}}));
        INFO(row.seen << " " << row.lamp << ": " << outcome.verdict.word << ", "
                      << outcome.verdict.reason);
        CHECK(outcome.verdict.state == row.state);
        CHECK(outcome.verdict.word == row.word);
        CHECK(figure(outcome, "drawn").low >= 0);
    }
    // A plainly lit 60 W lamp means 0.3 A from each rail or more (simulated: 1533 K at 0.283 A).
    const Outcome bright = answer(stage({{"seen", "bright"}}));
    CHECK(figure(bright, "drawn").low > 0.2);
    CHECK(figure(bright, "drawn").low < 0.3);
    CHECK(mentions(bright.notes, "twice"));
}

TEST_CASE("lamp working: the simulated glow gives the simulated draw", "[core][working]") {
    for (const auto& row : test_data::rows_of("lamp_points.csv")) {
        const double filament_k = row.number("filament_k");
        const char* seen = filament_k < 850    ? "dark"
                           : filament_k < 1500 ? "dim"
                           : filament_k < 2300 ? "bright"
                                               : "full";
        const Outcome outcome = answer({{"rail", "40.97"},
                                        {"idle", "100 mA"},
                                        {"winding", "0R15"},
                                        {"own_power", "1.1255 W ±0.1 W"},
                                        {"lamp_power", row.text("lamp_w")},
                                        {"seen", seen}});
        const Amount drawn = figure(outcome, "drawn");
        const double rail_a = row.number("rail_v") / row.number("load_ohm");
        INFO(row.text("lamp_w") << " W, " << row.text("load_ohm") << " ohm: " << drawn.low << " to "
                                << drawn.high);
        CHECK(drawn.low <= rail_a * 1.02);
        CHECK(drawn.high >= rail_a * 0.98);
    }
}

TEST_CASE("lamp working: too small and too large a lamp are told so", "[core][working]") {
    const Texts big{{"rail", "60"}, {"idle", "500 mA"}};
    const auto with = [](Texts texts, const char* watts) {
        texts.emplace_back("lamp_power", watts);
        return answer(texts).verdict;
    };
    CHECK(with(big, "60").word == "lamp too small");
    CHECK(with(big, "60").state == VerdictState::outside);
    CHECK(with(stage(), "500").word == "larger than needed");
    CHECK(with(stage(), "40").word == "lamp suits");
    CHECK(with(stage(), "25").word == "lamp rather small");
    CHECK(mentions(answer({{"rail", "90"}, {"idle", "2 A"}}).notes, "several in parallel"));
}

TEST_CASE("lamp working: on 120 V the lamp of the mains is taken", "[core][working]") {
    const Outcome outcome = answer(stage({{"mains", "120"}, {"frequency", "60"}}));
    // 60 W at 120 V is 240 ohm hot: the same watts, twice the current. The same unit behaves alike.
    CHECK(near(figure(outcome, "rail_on_lamp").value, figure(answer(stage()), "rail_on_lamp").value,
               1e-6));
    CHECK(near(figure(outcome, "lamp_current").value,
               figure(answer(stage()), "lamp_current").value * 230 / 120, 1e-6));
    // A 230 V lamp there is far more of a resistor.
    CHECK(figure(answer(stage({{"mains", "120"}, {"lamp_volts", "230"}})), "rail_on_lamp").value <
          figure(outcome, "rail_on_lamp").value);
}

TEST_CASE("lamp working: bias fed by a resistor falls away on the lamp", "[core][working]") {
    // Simulated 25 V stage with resistor-fed bias: 53 mA at 25 V, 22.4 mA at 20 V.
    const Outcome fed = answer(stage({{"shape", "resistor_fed"}}));
    const Outcome source = answer(stage());
    CHECK(figure(fed, "idle_rise").value > 3 * figure(source, "idle_rise").value);
}

TEST_CASE("lamp working: the reservoir gives flash and ripple", "[core][working]") {
    const Outcome outcome = answer(stage({{"reservoir", "10m 0%"}}));
    // I/(2·f·C) = 0.106/(100·0.01).
    CHECK(near(figure(outcome, "ripple").value, 0.106, 1e-9));
    CHECK(figure(outcome, "flash").value > 0.2);
    CHECK(figure(outcome, "flash").value < 3);
    CHECK_THROWS(figure(answer(stage()), "flash"));
}

TEST_CASE("lamp working: the curves pass through the idle point", "[core][working]") {
    const Outcome outcome = answer(stage());
    CHECK(outcome.plot == PlotKind::lines);
    const Curve& rails = curve(outcome, "rail");
    const Curve& volts = curve(outcome, "lamp");
    for (std::size_t i = 1; i < rails.x.values.size(); ++i) {
        CHECK(rails.x.values[i] > rails.x.values[i - 1]);
        CHECK(rails.y.values[i] <= rails.y.values[i - 1]);
        CHECK(volts.y.values[i] >= volts.y.values[i - 1]);
    }
    CHECK(curve(outcome, "idle").y.values.front() == figure(outcome, "rail_on_lamp").value / 40);
    CHECK(curve(outcome, "glow").role == CurveRole::limit);
    // The lamp's own energy balance at 850 K: 60 W·(850⁴ − 300⁴)/(2750⁴ − 300⁴) in 212.8 ohm.
    CHECK(near(curve(outcome, "glow").y.values.front() * 230, std::sqrt(0.5396 * 212.8), 5e-3));
}

TEST_CASE("lamp working: cautions of the mains come first", "[core][working]") {
    const Outcome outcome = answer(stage());
    REQUIRE_FALSE(outcome.cautions.empty());
    CHECK(outcome.cautions.front().find("isolates nothing") != std::string::npos);
    CHECK(mentions(outcome.cautions, "discharge"));
    CHECK(mentions(outcome.cautions, "local code"));
    CHECK(mentions(outcome.cautions, "never LED"));
}

TEST_CASE("lamp working: intervals hold what any values inside them give", "[core][working]") {
    CHECK(rc::check([] {
        Inputs inputs = any_inputs();
        const auto wide = run_working(lamp(), inputs);
        RC_ASSERT(wide.ok());
        for (const char* key : {"rail", "idle", "own_power", "winding"}) {
            Amount& amount = inputs.at(key).amount;
            amount = Amount::exact(amount.low + (amount.high - amount.low) *
                                                    (*rc::gen::inRange(0, 1001) / 1000.0),
                                   amount.unit);
        }
        const auto known = run_working(lamp(), inputs);
        RC_ASSERT(known.ok());
        for (const char* key : {"lamp_current", "rail_on_lamp", "idle_on_lamp", "lamp_volts_rms",
                                "unit_volts", "filament", "rail_rise", "idle_rise"}) {
            const Amount& range = figure(*wide, key);
            const double value = figure(*known, key).value;
            const double slack = 1e-6 * std::abs(value) + 1e-9;
            RC_ASSERT(range.low - slack <= value);
            RC_ASSERT(value <= range.high + slack);
        }
    }));
}

TEST_CASE("lamp working: more demand never leaves more rail or a darker lamp", "[core][working]") {
    CHECK(rc::check([] {
        Inputs inputs = any_inputs();
        const auto first = run_working(lamp(), inputs);
        Amount& idle = inputs.at("idle").amount;
        idle = with_tolerance(idle.value * 1.3, 0.1, Unit::ampere);
        const auto second = run_working(lamp(), inputs);
        RC_ASSERT(first.ok());
        RC_ASSERT(second.ok());
        RC_ASSERT(figure(*second, "rail_on_lamp").value <=
                  figure(*first, "rail_on_lamp").value + 1e-6);
        RC_ASSERT(figure(*second, "filament").value >= figure(*first, "filament").value - 1e-6);
    }));
}
