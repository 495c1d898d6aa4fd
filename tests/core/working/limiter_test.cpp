#include "core/device/model_card.h"
#include "core/stage/limit.h"
#include "core/stage/limiter_formula.h"
#include "core/working/limiter_fields.h"
#include "core/working/working.h"

#include "data/rows.h"
#include "support/catch.h"

#include "../stage/simulated_stages.h"

#include <rapidcheck.h>

#include <algorithm>
#include <cmath>
#include <string>

using namespace railside;

namespace {

const Working& limiter() { return *find_working("limiter"); }

using Texts = std::vector<std::pair<std::string, std::string>>;

Inputs typed(const Texts& texts) {
    Inputs inputs;
    for (const auto& [key, text] : texts) {
        auto input = read_input(*find_field(limiter(), key), text);
        INFO(key << " " << text);
        REQUIRE(input.ok());
        inputs.insert_or_assign(key, *std::move(input));
    }
    return inputs;
}

/// The simulated stage with dual-slope limiters as it is typed in, nothing known of its devices.
Texts dual(const Texts& more = {}) {
    Texts texts{{"emitter_resistor", "0R22"},
                {"sense_resistor", "330R"},
                {"divider_resistor", "330R"},
                {"slope", "own"},
                {"slope_resistor", "27k"},
                {"second_slope", "ground_diode"},
                {"second_slope_resistor", "15k"},
                {"rail", "40"},
                {"load", "8"},
                {"supply_current", "5.4 mA"}};
    for (const auto& each : more) {
        std::erase_if(texts, [&](const auto& held) { return held.first == each.first; });
        texts.push_back(each);
    }
    return texts;
}

/// The cards it was simulated with.
Texts with_cards(Texts texts) {
    const std::pair<const char*, const char*> k_places[] = {
        {"limiter_plus", "qsn"}, {"limiter_minus", "qsp"}, {"output_plus", "qon"},
        {"output_minus", "qop"}, {"driver_plus", "qdn"},   {"driver_minus", "qdp"}};
    for (const auto& [place, name] : k_places) {
        texts.emplace_back(place, print_card(name, simulated::transistor(name)));
    }
    return texts;
}

Outcome answer(const Texts& texts) {
    auto outcome = run_working(limiter(), typed(texts));
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
    return std::any_of(sentences.begin(), sentences.end(), [&](const std::string& each) {
        return each.find(part) != std::string::npos;
    });
}

const Curve* curve(const Outcome& outcome, const std::string& key) {
    for (const Curve& each : outcome.curves) {
        if (each.key == key) {
            return &each;
        }
    }
    return nullptr;
}

bool holds(const Amount& amount, double value) {
    return amount.low <= value && value <= amount.high;
}

} // namespace

TEST_CASE("limiter working: the simulated stage with its own cards", "[core][working]") {
    // Circuit simulation at 0 V: 4.235 A on +, 4.533 A on −; where 1 mA flows 3.777 and 3.722 A.
    // Tolerance 10 %, as the voltage amplifier's end is guessed.
    const Outcome outcome = answer(with_cards(dual()));
    CHECK(outcome.figures.front().key == "trip");
    CHECK(near(figure(outcome, "trip_plus").value, 4.23488, 0.02));
    CHECK(near(figure(outcome, "trip_minus").value, 4.53315, 0.10));
    CHECK(near(figure(outcome, "onset_plus").value, 3.77678, 0.05));
    CHECK(near(figure(outcome, "onset_minus").value, 3.72189, 0.05));
    CHECK(figure(outcome, "trip").value == figure(outcome, "trip_plus").value);
    CHECK(holds(figure(outcome, "trip_plus"), 4.23488));
    CHECK(holds(figure(outcome, "trip_minus"), 4.53315));
    // Into 8 ohm the simulated stage clips at 36.67 and 36.63 V with or without its limiters: 2 %.
    CHECK(near(figure(outcome, "swing_plus").value, 36.666, 0.02));
    CHECK(near(figure(outcome, "swing_minus").value, 36.634, 0.02));
    CHECK(near(figure(outcome, "power").value, 83.88, 0.04));
    CHECK(outcome.verdict.state == VerdictState::in_window);
    CHECK(outcome.verdict.word == "clear of it");
    CHECK(mentions(outcome.notes, "card qsn"));
    CHECK_FALSE(mentions(outcome.notes, "good to 30"));
}

TEST_CASE("limiter working: blind, the interval holds the simulated locus and is as wide as blind "
          "is",
          "[core][working]") {
    // 30 % is the tolerance of textbook constants; nothing known must not look better known.
    const Outcome outcome = answer(dual());
    for (const char* key : {"trip_plus", "trip_minus"}) {
        const Amount& trip = figure(outcome, key);
        CHECK(holds(trip, std::string(key) == "trip_plus" ? 4.23488 : 4.53315));
        CHECK(trip.low <= 0.7001 * trip.value);
        CHECK(trip.high >= 1.2999 * trip.value);
    }
    CHECK(mentions(outcome.notes, "good to 30"));
    CHECK(mentions(outcome.notes, "No types were given"));
    for (const auto& row : test_data::rows_of("limiter_locus.csv")) {
        const double output_v = row.number("output_v");
        const bool plus = row.text("half") == "plus";
        const double toward_v = plus ? output_v : -output_v;
        if (toward_v > 30) {
            continue;
        }
        const Curve* locus = curve(outcome, row.text("half"));
        REQUIRE(locus != nullptr);
        // The typical curve itself, by its volts across the device: 30 %.
        const double across_v = 40 - toward_v;
        const auto& xs = locus->x.values;
        const auto at =
            static_cast<std::size_t>(std::lower_bound(xs.begin(), xs.end(), across_v) - xs.begin());
        REQUIRE(at > 0);
        REQUIRE(at < xs.size());
        const double part = (across_v - xs[at - 1]) / (xs[at] - xs[at - 1]);
        const double current_a =
            locus->y.values[at - 1] + part * (locus->y.values[at] - locus->y.values[at - 1]);
        INFO(row.text("half") << " " << output_v);
        CHECK(near(current_a, row.number("final_a"), 0.30));
    }
}

TEST_CASE("limiter working: the closed form's doubts are the circuit's", "[core][working]") {
    // The interval comes from the closed form moved by each doubt; the circuit moved by each is the
    // slower way. 20 % of the interval's width.
    Inputs inputs = with_defaults(limiter(), typed(with_cards(dual())));
    auto given = stage_given(inputs);
    REQUIRE(given.ok());
    REQUIRE(add_limiters(*given, inputs).ok());
    REQUIRE(add_limiter_devices(*given, inputs).ok());
    given->values.spreader = FixedSpreader{resting_spread_v(given->values)};
    for (const StageHalf half : {StageHalf::plus, StageHalf::minus}) {
        for (const double toward_v : {-20.0, 0.0, 15.0}) {
            const double output_v = half == StageHalf::plus ? toward_v : -toward_v;
            const auto circuit =
                over_doubts<1>(*given, [&](const StageValues& v) -> Result<std::array<double, 1>> {
                    StageValues there = v;
                    there.spreader = given->values.spreader;
                    const auto trip = trip_current_a(there, half, output_v);
                    if (!trip) {
                        return trip.error();
                    }
                    return std::array{*trip};
                });
            const auto formula =
                over_doubts<1>(*given, [&](const StageValues& v) -> Result<std::array<double, 1>> {
                    return std::array{
                        limit_a(half == StageHalf::plus ? *v.limiter_plus : *v.limiter_minus,
                                limiter_conditions(v, half), toward_v)};
                });
            REQUIRE(circuit.ok());
            REQUIRE(formula.ok());
            const Interval a = (*circuit)[0];
            const Interval b = (*formula)[0];
            INFO((half == StageHalf::plus ? "+ " : "− ")
                 << toward_v << ": " << a.low << ", " << a.value << ", " << a.high << " against "
                 << b.low << ", " << b.value << ", " << b.high);
            CHECK(near_abs(a.high - a.value, b.high - b.value, 0.2 * width(b)));
            CHECK(near_abs(a.value - a.low, b.value - b.low, 0.2 * width(b)));
        }
    }
}

TEST_CASE("limiter working: a wrong divider halves the threshold, and the board says so",
          "[core][working]") {
    const Outcome outcome = answer(with_cards({{"sense_resistor", "330R"},
                                               {"divider_resistor", "1k8"},
                                               {"printed_divider", "220R"},
                                               {"rail", "40"},
                                               {"load", "4"},
                                               {"supply_current", "5.4 mA"}}));
    // Flat: V_b·(1 + R1/R2)/R_E, so (1 + 330/1800)/(1 + 330/220) = 0.473 of what it should be;
    // 8 % for the base's own current.
    CHECK(near(figure(outcome, "printed_share").value, 0.4733, 0.08));
    CHECK(outcome.verdict.state == VerdictState::outside);
    CHECK(outcome.verdict.word == "early on both");
    CHECK(mentions(outcome.notes, "fit what the board says"));
    REQUIRE(curve(outcome, "printed") != nullptr);
    CHECK(curve(outcome, "printed")->role == CurveRole::target);
    // Into 4 ohm: V_p = 4·I.
    CHECK(near(figure(outcome, "swing_plus").value, 4 * figure(outcome, "trip_plus").value, 0.03));
    CHECK(near(figure(outcome, "power_plus").value,
               std::pow(figure(outcome, "swing_plus").value, 2) / 8, 1e-9));
}

TEST_CASE("limiter working: words of the verdict", "[core][working]") {
    struct Row {
        Texts texts;
        VerdictState state;
        const char* word;
    };
    const Row table[] = {
        {with_cards(dual()), VerdictState::in_window, "clear of it"},
        {with_cards(dual({{"load", "2"}})), VerdictState::outside, "early on both"},
        {with_cards(dual({{"halves", "own"}, {"sense_minus", "150R"}, {"load", "4"}})),
         VerdictState::outside, "early on −"},
        {with_cards(dual({{"phase", "60"}, {"load", "4"}})), VerdictState::outside,
         "early on both"},
        // The leak of 390 ohm ends the + half at 31.8 V.
        {with_cards(dual({{"leaky", "plus"}, {"leak", "390R ±1 %"}})), VerdictState::outside,
         "early on +"},
        {with_cards(dual({{"leaky", "minus"}, {"leak", "390R"}})), VerdictState::in_window,
         "clear of it"},
        // Flat 8.4 A at 0 V against the 9 A that 4 ohm take, within the doubts.
        {dual({{"load", "4"}}), VerdictState::at_the_edge, "at the edge, +"},
    };
    for (const Row& row : table) {
        const Outcome outcome = answer(row.texts);
        INFO(outcome.verdict.word << ": " << outcome.verdict.reason);
        CHECK(outcome.verdict.state == row.state);
        CHECK(outcome.verdict.word == row.word);
        CHECK(outcome.verdict.reason.ends_with('.'));
    }
}

TEST_CASE("limiter working: a leak is set beside the whole transistor", "[core][working]") {
    const Outcome outcome = answer(with_cards(dual({{"leaky", "plus"}, {"leak", "390R ±1 %"}})));
    // Circuit simulation 31.845 V against 36.665 V; 5 %.
    CHECK(near(figure(outcome, "swing_plus").value, 31.845, 0.05));
    CHECK(near(figure(outcome, "whole_swing").value, 36.665, 0.02));
    CHECK(holds(figure(outcome, "swing_plus"), 31.845));
    CHECK(mentions(outcome.notes, "takes so much drive"));
    CHECK(outcome.verdict.reason.find("by the leak, which takes the drive") != std::string::npos);
    REQUIRE(curve(outcome, "whole") != nullptr);
    const Outcome lower = answer(with_cards(dual({{"leaky", "minus"}, {"leak", "390R"}})));
    CHECK(mentions(lower.notes, "hardly shows in the circuit"));
}

TEST_CASE("limiter working: a locked-out half and a short beyond the safe area are cautions",
          "[core][working]") {
    const Outcome locked = answer(with_cards({{"sense_resistor", "330R"},
                                              {"divider_resistor", "330R"},
                                              {"slope", "own"},
                                              {"slope_resistor", "14k"},
                                              {"rail", "40"}}));
    CHECK(mentions(locked.cautions, "locked out"));
    CHECK(figure(locked, "locked_plus").value < 0);
    CHECK(figure(locked, "locked_minus").value > 0);
    const Outcome typed_outputs =
        answer(dual({{"output_plus", "2N3055"}, {"case", "80"}, {"rail", "45"}}));
    // 115 W at 25 °C: 45 V and over 4 A are 190 W.
    CHECK(mentions(typed_outputs.cautions, "Into a short each + device"));
    REQUIRE(curve(typed_outputs, "safe_area") != nullptr);
    CHECK(curve(typed_outputs, "safe_area")->role == CurveRole::limit);
}

TEST_CASE("limiter working: the picture is both halves over the device's volts, with the load's "
          "line",
          "[core][working]") {
    const Outcome outcome = answer(with_cards(dual({{"phase", "45"}})));
    CHECK(outcome.plot == PlotKind::lines);
    CHECK(curve(outcome, "plus")->role == CurveRole::plus);
    CHECK(curve(outcome, "minus")->role == CurveRole::minus);
    for (const char* key : {"plus", "minus", "load_line", "load_line_back"}) {
        const Curve* each = curve(outcome, key);
        REQUIRE(each != nullptr);
        for (std::size_t i = 1; i < each->x.values.size(); ++i) {
            CHECK(each->x.values[i] >= each->x.values[i - 1]); // the cursor reads along x
        }
    }
    CHECK(curve(answer(with_cards(dual())), "load_line_back") == nullptr);
}

TEST_CASE("limiter working: two slope resistors to ground, one through a diode, are refused",
          "[core][working]") {
    const auto outcome = run_working(
        limiter(), typed(dual({{"slope", "ground"}, {"second_slope", "ground_diode"}})));
    REQUIRE_FALSE(outcome.ok());
    CHECK(outcome.error().code == ErrorCode::contradictory);
    CHECK(outcome.error().field == "Second slope to");
    const auto wrong = run_working(
        limiter(), typed(dual({{"limiter_plus", print_card("q", simulated::transistor("qsp"))}})));
    REQUIRE_FALSE(wrong.ok());
    CHECK(wrong.error().message.find("npn") != std::string::npos);
}

TEST_CASE("limiter working: warmer limiters act earlier, more pairs carry more",
          "[core][working]") {
    const double cool = figure(answer(with_cards(dual())), "trip_plus").value;
    const double warm =
        figure(answer(with_cards(dual({{"limiter_junction", "57"}}))), "trip_plus").value;
    // V_b falls 2 mV a kelvin and counts (1 + R1/R2)/R_E times: 30 K are 0.545 A; 25 %.
    CHECK(near(cool - warm, 0.06 * 2 / 0.22, 0.25));
    const double pairs = figure(answer(with_cards(dual({{"pairs", "3"}}))), "trip_plus").value;
    CHECK(near(pairs, 3 * cool, 0.05));
}

TEST_CASE("limiter working: intervals hold their values, a leak never raises the threshold",
          "[core][working]") {
    CHECK(rc::check([] {
        const auto part = [] { return *rc::gen::inRange(0, 1001) / 1000.0; };
        const auto about = [](double value, double tolerance, Unit unit) {
            Input input;
            input.amount = with_tolerance(value, tolerance, unit);
            return input;
        };
        Inputs inputs;
        inputs["emitter_resistor"] = about(0.1 + 0.4 * part(), 0.05, Unit::ohm);
        inputs["sense_resistor"] = about(100 + 400 * part(), 0.05, Unit::ohm);
        inputs["divider_resistor"] = about(100 + 900 * part(), 0.05, Unit::ohm);
        inputs["rail"] = about(20 + 60 * part(), 0.02, Unit::volt);
        inputs["load"] = about(2 + 14 * part(), 0, Unit::ohm);
        inputs["phase"] = about(60 * part(), 0, Unit::degree);
        const auto whole = run_working(limiter(), inputs);
        RC_ASSERT(whole.ok());
        for (const Figure& each : whole->figures) {
            RC_ASSERT(each.amount.low <= each.amount.value);
            RC_ASSERT(each.amount.value <= each.amount.high);
        }
        Input leaky;
        leaky.word = "plus";
        inputs["leaky"] = leaky;
        inputs["leak"] = about(100 * std::pow(100, part()), 0.1, Unit::ohm);
        const auto leaking = run_working(limiter(), inputs);
        RC_ASSERT(leaking.ok());
        RC_ASSERT(figure(*leaking, "trip_plus").value <=
                  figure(*whole, "trip_plus").value * 1.005 + 0.03);
    }));
}
