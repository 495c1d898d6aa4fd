// The catalogue as a whole: what holds for every working, so also for one added later.
#include "core/quantity/value_code.h"
#include "core/working/json.h"
#include "core/working/working.h"

#include "core/capture/signals.h"
#include "support/catch.h"

#include <nlohmann/json.hpp>
#include <rapidcheck.h>

#include <algorithm>
#include <cmath>
#include <memory>
#include <set>
#include <string>

using namespace railside;

namespace {

/// A random accepted value of a field, its ends and the usual range among them.
double any_value(const Field& field) {
    switch (*rc::gen::inRange(0, 6)) {
    case 0:
        return field.low;
    case 1:
        return field.high;
    default:
        break;
    }
    const double part = *rc::gen::inRange(0, 100001) / 100000.0;
    double value = 0;
    if (field.low > 0) {
        value = field.low * std::pow(field.high / field.low, part);
    } else {
        value = field.low + (field.high - field.low) * part;
    }
    if (field.spread == Spread::count) {
        value = std::round(value);
    }
    return std::min(std::max(value, field.low), field.high);
}

/// A recording that can be read: a sine with a little of everything, as CSV or WAV.
std::shared_ptr<const std::string> any_recording() {
    signals::Wave wave;
    wave.count = static_cast<std::size_t>(*rc::gen::inRange(260, 2000));
    wave.phase = *rc::gen::inRange(0, 628) / 100.0;
    wave.offset = *rc::gen::inRange(-30, 31) / 10.0;
    wave.clip_plus = *rc::gen::inRange(5, 30);
    wave.dead_zone = *rc::gen::element(0.0, 0.5);
    wave.noise = *rc::gen::element(0.0, 0.1, 1.0);
    wave.step = *rc::gen::element(0.0, 0.2);
    if (*rc::gen::inRange(0, 2) == 0) {
        return std::make_shared<const std::string>(signals::csv_of(wave));
    }
    wave.amplitude = 0.5;
    wave.noise /= 20;
    wave.step /= 20;
    return std::make_shared<const std::string>(
        signals::wav_of(signals::samples_of(wave), wave.rate_hz));
}

Input any_input(const Field& field) {
    Input input;
    if (field.kind == FieldKind::choice) {
        const auto index = *rc::gen::inRange<int>(0, static_cast<int>(field.choices.size()));
        input.word = std::string(field.choices[static_cast<std::size_t>(index)].key);
        input.text = input.word;
        return input;
    }
    if (field.kind == FieldKind::text) {
        input.word = *rc::gen::element<std::string>(
            "x", "TO-3", "2N3055 x 4; Regal 3 \u00b7 \u03a9", "a\nb\tc", "| ; \"", "\u2009");
        input.text = input.word;
        return input;
    }
    if (field.kind == FieldKind::device) {
        input.word = *rc::gen::element<std::string>("2N3055", "MJ15003", "nobody's",
                                                    ".model q npn (is=1e-14 bf=100)");
        input.text = input.word;
        return input;
    }
    if (field.kind == FieldKind::recording) {
        input.word = "right.csv";
        input.text = input.word;
        input.data = any_recording();
        return input;
    }
    const double value = any_value(field);
    double below = 0;
    double above = 0;
    if (field.spread != Spread::count) {
        below = std::abs(value) * (*rc::gen::inRange(0, 990) / 1000.0);
        above = std::abs(value) * (*rc::gen::inRange(0, 2000) / 1000.0);
    }
    input.amount = {value, value - below, value + above, field.unit};
    input.text = print_exact(value, field.unit);
    input.from = *rc::gen::element(Origin::typed, Origin::measured, Origin::job, Origin::table);
    return input;
}

Inputs any_inputs(const Working& working) {
    Inputs inputs;
    for (const Field& field : working.fields) {
        const bool may_lack = field.need == Need::optional || !field.by_default.empty();
        if (!may_lack || *rc::gen::inRange(0, 2) == 0) {
            inputs.emplace(field.key, any_input(field));
        }
    }
    return inputs;
}

bool ordered_and_finite(const Amount& amount) {
    return std::isfinite(amount.low) && std::isfinite(amount.high) && amount.low <= amount.value &&
           amount.value <= amount.high;
}

bool same(const Inputs& a, const Inputs& b) {
    return a.size() == b.size() &&
           std::equal(a.begin(), a.end(), b.begin(), [](const auto& left, const auto& right) {
               return left.first == right.first && left.second.amount == right.second.amount &&
                      left.second.word == right.second.word &&
                      left.second.text == right.second.text &&
                      left.second.from == right.second.from;
           });
}

} // namespace

TEST_CASE("catalogue: the workings are found by key and declare themselves fully",
          "[core][working]") {
    REQUIRE(catalogue().size() >= 2);
    CHECK(find_working("idle") != nullptr);
    CHECK(find_working("gain") != nullptr);
    CHECK(find_working("Idle") == nullptr);
    std::set<std::string_view> keys;
    for (const Working& working : catalogue()) {
        INFO(working.key);
        CHECK(find_working(working.key) == &working);
        CHECK_FALSE(working.name.empty());
        CHECK(working.question.ends_with('?'));
        CHECK(working.compute != nullptr);
        keys.insert(working.key);
    }
    CHECK(keys.size() == catalogue().size());
}

TEST_CASE("catalogue: every field is whole, its default and usual range inside what it accepts",
          "[core][working]") {
    for (const Working& working : catalogue()) {
        std::set<std::string_view> keys;
        for (const Field& field : working.fields) {
            INFO(working.key << "." << field.key);
            CHECK(keys.insert(field.key).second);
            CHECK(find_field(working, field.key) == &field);
            CHECK_FALSE(field.label.empty());
            CHECK(field.help.ends_with('.'));
            CHECK_FALSE(accepted_form(field).empty());
            if (field.kind == FieldKind::amount) {
                CHECK(field.low < field.high);
                CHECK(field.usual_low < field.usual_high);
                CHECK(field.usual_low >= field.low);
                CHECK(field.usual_high <= field.high);
                CHECK((field.spread == Spread::tolerance) == (field.default_spread > 0));
            }
            if (field.kind == FieldKind::choice) {
                CHECK(field.choices.size() > 1);
            }
            if (!field.by_default.empty()) {
                const auto input = read_input(field, field.by_default);
                REQUIRE(input.ok());
                CHECK(unusual_reason(field, input->amount.value).empty());
            }
        }
    }
}

TEST_CASE("catalogue: the words of origins, verdicts and curve roles lead back",
          "[core][working]") {
    for (const Origin origin :
         {Origin::typed, Origin::measured, Origin::job, Origin::by_default, Origin::table}) {
        CHECK(origin_from_key(origin_key(origin)) == origin);
    }
    for (const VerdictState state : {VerdictState::in_window, VerdictState::at_the_edge,
                                     VerdictState::outside, VerdictState::undecided}) {
        CHECK(verdict_from_key(verdict_key(state)) == state);
    }
    CHECK_FALSE(origin_from_key("guessed"));
    CHECK_FALSE(verdict_from_key("fine"));
    CHECK(curve_role_key(CurveRole::as_found) == "as_found");
    CHECK(curve_role_key(CurveRole::point) == "point");
}

TEST_CASE("catalogue: no accepted input gives a number that is not one", "[core][working]") {
    for (const Working& working : catalogue()) {
        CHECK(rc::check(std::string(working.key), [&working] {
            const Inputs inputs = any_inputs(working);
            const Result<Outcome> outcome = run_working(working, inputs);
            if (!outcome) {
                // Only values that cannot hold together may be refused here, and then in a
                // sentence.
                RC_ASSERT(outcome.error().code == ErrorCode::contradictory);
                RC_ASSERT(outcome.error().message.ends_with('.'));
                RC_ASSERT(outcome.error().field != working.name);
                return;
            }
            RC_ASSERT(!outcome->figures.empty());
            for (const Figure& figure : outcome->figures) {
                RC_ASSERT(ordered_and_finite(figure.amount));
            }
            for (const Curve& curve : outcome->curves) {
                RC_ASSERT(curve.x.values.size() == curve.y.values.size());
                RC_ASSERT(!curve.x.values.empty());
                for (std::size_t i = 0; i < curve.x.values.size(); ++i) {
                    RC_ASSERT(std::isfinite(curve.x.values[i]));
                    RC_ASSERT(std::isfinite(curve.y.values[i]));
                }
            }
            RC_ASSERT(!outcome->verdict.word.empty());
            RC_ASSERT(outcome->verdict.reason.ends_with('.'));
            RC_ASSERT(!outcome->headline_note.empty());
        }));
    }
}

TEST_CASE("catalogue: a figure's key names one figure", "[core][working]") {
    for (const Working& working : catalogue()) {
        CHECK(rc::check(std::string(working.key), [&working] {
            const Result<Outcome> outcome = run_working(working, any_inputs(working));
            if (outcome) {
                std::set<std::string> keys;
                for (const Figure& figure : outcome->figures) {
                    RC_ASSERT(keys.insert(figure.key).second);
                    RC_ASSERT(!figure.label.empty());
                }
            }
        }));
    }
}

TEST_CASE("json: inputs come back as they went, through text as well", "[core][working]") {
    for (const Working& working : catalogue()) {
        CHECK(rc::check(std::string(working.key), [&working] {
            const Inputs inputs = any_inputs(working);
            const std::string text = inputs_to_json(working, inputs).dump();
            const Result<Inputs> back = inputs_from_json(working, nlohmann::json::parse(text));
            RC_ASSERT(back.ok());
            RC_ASSERT(same(inputs, *back));
        }));
    }
}

TEST_CASE("json: the whole answer has the declared form", "[core][working]") {
    const Working& working = *find_working("idle");
    Inputs inputs;
    inputs.emplace("reading", *read_input(*find_field(working, "reading"), "20.0 mV"));
    inputs.emplace("rail", *read_input(*find_field(working, "rail"), "40 V"));
    const Result<Outcome> outcome = run_working(working, inputs);
    REQUIRE(outcome.ok());
    const auto json = working_to_json(working, with_defaults(working, inputs), *outcome);
    CHECK(json.at("working") == "idle");
    CHECK(json.at("headline") == "idle_current");
    CHECK(json.at("results").at("idle_current").at("unit") == "ampere");
    CHECK(json.at("results").at("idle_current").at("value").get<double>() ==
          outcome->figures.front().amount.value);
    CHECK(json.at("inputs").at("reading").at("text") == "20.0 mV");
    CHECK(json.at("inputs").at("across").at("word") == "one");
    CHECK(json.at("inputs").at("across").at("from") == "default");
    CHECK(verdict_from_key(json.at("verdict").at("state").get<std::string>()) ==
          outcome->verdict.state);
    CHECK(json.at("verdict").at("reason") == outcome->verdict.reason);
    CHECK(json.at("curves").at("as_found").at("role") == "as_found");
    CHECK(json.at("curves").at("as_found").at("x").at("unit") == "volt");
    CHECK(json.at("curves").at("as_found").at("y").at("values").size() == 161);
    CHECK(json.at("cautions").is_array());
    CHECK(json.at("notes").is_array());
}

TEST_CASE("json: the catalogue tells every field", "[core][working]") {
    const auto json = catalogue_to_json();
    REQUIRE(json.size() == catalogue().size());
    const auto& idle = json.at(0);
    CHECK(idle.at("working") == "idle");
    CHECK(idle.at("fields").size() == find_working("idle")->fields.size());
    const auto& emitter = idle.at("fields").at(0);
    CHECK(emitter.at("key") == "emitter_resistor");
    CHECK(emitter.at("unit") == "ohm");
    CHECK(emitter.at("low") == 0.01);
    CHECK(emitter.at("high") == 10);
    CHECK(emitter.at("default") == "0R22");
    CHECK(emitter.at("need") == "required");
    CHECK_NOTHROW(json.dump());
}

TEST_CASE("json: what is not an input of the working is refused by name", "[core][working]") {
    const Working& working = *find_working("idle");
    struct Bad {
        const char* json;
        ErrorCode code;
        const char* named;
    };
    const Bad table[] = {
        {R"([1])", ErrorCode::bad_text, "Idle current"},
        {R"({"speed": "3"})", ErrorCode::not_found, "speed"},
        {R"({"rail": 40})", ErrorCode::bad_text, "Rail"},
        {R"({"rail": {"value": "40"}})", ErrorCode::bad_text, "value"},
        {R"({"rail": {"value": 40, "volts": 40}})", ErrorCode::not_found, "volts"},
        {R"({"rail": {"value": 40, "unit": "ohm"}})", ErrorCode::contradictory, "ohm"},
        {R"({"rail": {"value": 40, "unit": "furlong"}})", ErrorCode::bad_text, "furlong"},
        {R"({"rail": {"value": 40, "from": "dream"}})", ErrorCode::bad_text, "dream"},
        {R"({"rail": {"value": 40, "low": 41, "high": 42}})", ErrorCode::contradictory, "Rail"},
        {R"({"rail": {"value": 40, "low": 39}})", ErrorCode::bad_text, "high"},
        {R"({"rail": {"value": 40, "low": -1, "high": 42}})", ErrorCode::out_of_range, "Rail"},
        {R"({"rail": {"value": 0}})", ErrorCode::out_of_range, "5 to 200"},
        {R"({"rail": {"value": 40, "text": 40}})", ErrorCode::bad_text, "text"},
        {R"({"pairs": {"value": 1.5}})", ErrorCode::out_of_range, "whole number"},
        {R"({"pairs": {"value": 2, "low": 1, "high": 3}})", ErrorCode::out_of_range, "Pairs"},
        {R"({"across": {"word": "three"}})", ErrorCode::out_of_range, "three"},
        {R"({"across": {"value": 1}})", ErrorCode::not_found, "value"},
        {R"({"rail": "forty"})", ErrorCode::bad_text, "forty"},
    };
    for (const Bad& bad : table) {
        const auto inputs = inputs_from_json(working, nlohmann::json::parse(bad.json));
        INFO(bad.json);
        REQUIRE_FALSE(inputs.ok());
        CHECK(inputs.error().code == bad.code);
        INFO(inputs.error().message);
        CHECK((inputs.error().message + inputs.error().field).find(bad.named) != std::string::npos);
    }
}

TEST_CASE("json: a text or a bare value stands for a whole input", "[core][working]") {
    const Working& working = *find_working("idle");
    const auto inputs = inputs_from_json(
        working,
        nlohmann::json::parse(
            R"({"emitter_resistor": "0R22 5%", "rail": {"value": 40}, "across": {"word": "both"}})"));
    REQUIRE(inputs.ok());
    CHECK(near(inputs->at("emitter_resistor").amount.low, 0.209, 1e-12));
    CHECK(near(inputs->at("rail").amount.high, 40.8, 1e-12)); // the field's own 2 %
    CHECK(inputs->at("rail").text == "40");
    CHECK(inputs->at("across").word == "both");
}
