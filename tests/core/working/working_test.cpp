// Reading what is typed into a field, and the gate before a computation.
#include "core/working/working.h"

#include "core/working/json.h"
#include "support/catch.h"

#include <nlohmann/json.hpp>

#include <string>

using namespace railside;

namespace {

const Field& field_of(std::string_view working, std::string_view key) {
    return *find_field(*find_working(working), key);
}

std::string with_plain_spaces(std::string_view text) {
    constexpr std::string_view k_thin_space = "\u2009";
    std::string plain;
    while (!text.empty()) {
        const bool thin = text.starts_with(k_thin_space);
        plain += thin ? ' ' : text.front();
        text.remove_prefix(thin ? k_thin_space.size() : 1);
    }
    return plain;
}

Inputs typed(const Working& working,
             std::initializer_list<std::pair<const char*, const char*>> texts) {
    Inputs inputs;
    for (const auto& [key, text] : texts) {
        auto input = read_input(*find_field(working, key), text);
        REQUIRE(input.ok());
        inputs.emplace(key, *std::move(input));
    }
    return inputs;
}

constexpr Field k_device{.key = "device",
                         .label = "Device",
                         .help = "What is in the position.",
                         .kind = FieldKind::device};
constexpr Field k_recording{
    .key = "recording", .label = "Recording", .help = "The file.", .kind = FieldKind::recording};
constexpr Field k_both[] = {k_device, k_recording};

/// A working with a device and a recording, which tells what reached it.
const Working& listener() {
    static const Working k_listener{
        "listener", "Listener", "What was given?", k_both,
        [](const Inputs& inputs) -> Result<Outcome> {
            Outcome outcome;
            const std::string& data = *inputs.at("recording").data;
            outcome.figures.push_back(
                {"size", "Size", "", Amount::exact(static_cast<double>(data.size()), Unit::ratio)});
            outcome.headline_note = inputs.at("device").word;
            return outcome;
        }};
    return k_listener;
}

Inputs heard(std::string_view device, std::string_view name,
             std::shared_ptr<const std::string> bytes) {
    Inputs inputs;
    inputs.emplace("device", *read_input(k_device, device));
    Input recording = *read_input(k_recording, name);
    recording.data = std::move(bytes);
    inputs.emplace("recording", std::move(recording));
    return inputs;
}

} // namespace

TEST_CASE("input: a text becomes a value, its interval, and stays as typed", "[core][working]") {
    struct Row {
        const char* working;
        const char* field;
        const char* text;
        double value, low, high;
    };
    const Row table[] = {
        // The resistor's own 5 %.
        {"idle", "emitter_resistor", "0R22", 0.22, 0.209, 0.231},
        {"idle", "emitter_resistor", " R22 ", 0.22, 0.209, 0.231},
        {"idle", "emitter_resistor", "220m", 0.22, 0.209, 0.231},
        // Its own tolerance in the text.
        {"idle", "emitter_resistor", "0R22 ±1 %", 0.22, 0.2178, 0.2222},
        {"idle", "emitter_resistor", "0R22 ±1%", 0.22, 0.2178, 0.2222},
        {"idle", "emitter_resistor", "0R22 +/-10%", 0.22, 0.198, 0.242},
        {"idle", "emitter_resistor", "0R22 5%", 0.22, 0.209, 0.231},
        {"idle", "emitter_resistor", "0R22 5 %", 0.22, 0.209, 0.231},
        {"idle", "emitter_resistor", "0R22\u2009±\u20092\u2009%", 0.22, 0.2156, 0.2244},
        {"idle", "emitter_resistor", "0R22 ±0R01", 0.22, 0.21, 0.23},
        // An ordinary meter: 0.5 % and 3 of the last digit.
        {"idle", "reading", "96.0 mV", 0.096, 0.09522, 0.09678},
        {"idle", "reading", "96 mV", 0.096, 0.09252, 0.09948},
        {"idle", "reading", "20.00m", 0.020, 0.01987, 0.02013},
        {"idle", "reading", "96 mV ±0.8 mV", 0.096, 0.0952, 0.0968},
        {"idle", "reading", "96 mV 1 %", 0.096, 0.09504, 0.09696},
        // A bare 0: the range's last digit is no coarser than the least usual reading, 1 mV.
        {"idle", "reading", "0", 0, -0.003, 0.003},
        {"idle", "reading", "1 mV ±2 mV", 0.001, -0.001, 0.003},
        // No interval unless given.
        {"idle", "load", "8", 8, 8, 8},
        {"idle", "load", "8 ±1 Ω", 8, 7, 9},
        {"idle", "target", "11 mV", 0.011, 0.011, 0.011},
        {"idle", "pairs", "2", 2, 2, 2},
        {"idle", "target_spread", "25 %", 0.25, 0.25, 0.25},
        {"idle", "junction", "−10", -10, -10, -10},
        {"gain", "measured", "80", 80, 76, 84},
        {"gain", "measured", "80 ±2", 80, 78, 82},
        {"gain", "test_current", "10m", 0.01, 0.01, 0.01},
    };
    for (const Row& row : table) {
        const auto input = read_input(field_of(row.working, row.field), row.text);
        INFO(row.field << " " << row.text);
        REQUIRE(input.ok());
        CHECK(near_abs(input->amount.value, row.value, 1e-15));
        CHECK(near_abs(input->amount.low, row.low, 1e-12));
        CHECK(near_abs(input->amount.high, row.high, 1e-12));
        CHECK(input->amount.unit == field_of(row.working, row.field).unit);
        CHECK(input->text == row.text);
        CHECK(input->from == Origin::typed);
    }
}

TEST_CASE("input: the instrument's own accuracy takes the place of the ordinary meter's",
          "[core][working]") {
    // 1 % + 2 counts of 0.1 mV on 96.0 mV: ±1.16 mV.
    const auto input = read_input(field_of("idle", "reading"), "96.0 mV", MeterAccuracy{0.01, 2});
    REQUIRE(input.ok());
    CHECK(near(input->amount.low, 0.09484, 1e-9));
    CHECK(near(input->amount.high, 0.09716, 1e-9));
}

TEST_CASE("input: a choice is taken by key or by label, in any case", "[core][working]") {
    const Field& across = field_of("idle", "across");
    for (const char* text : {"both", "BOTH", "both outer ends", " Both outer ends "}) {
        INFO(text);
        const auto input = read_input(across, text);
        REQUIRE(input.ok());
        CHECK(input->word == "both");
        CHECK(input->text == text);
    }
    CHECK(read_input(field_of("gain", "role"), "bias spreader")->word == "bias_spreader");
}

TEST_CASE("input: a refusal names the field, the value and what is accepted", "[core][working]") {
    struct Row {
        const char* working;
        const char* field;
        const char* text;
        ErrorCode code;
        const char* says; // a part of the message
    };
    const Row table[] = {
        {"idle", "rail", "0", ErrorCode::out_of_range, "5 to 200"},
        {"idle", "rail", "201 V", ErrorCode::out_of_range, "201"},
        {"idle", "pairs", "0", ErrorCode::out_of_range, "1 to 12"},
        {"idle", "pairs", "1.5", ErrorCode::out_of_range, "whole number"},
        {"idle", "pairs", "13", ErrorCode::out_of_range, "13"},
        {"idle", "load", "0", ErrorCode::out_of_range, "1 to 64"},
        {"idle", "emitter_resistor", "0", ErrorCode::out_of_range, "0.01 to 10"},
        {"idle", "emitter_resistor", "220", ErrorCode::out_of_range, "220"},
        {"idle", "reading", "-12 mV", ErrorCode::out_of_range, "swap the meter leads"},
        {"idle", "reading", "−12 mV", ErrorCode::out_of_range, "−12"},
        {"idle", "reading", "6 V", ErrorCode::out_of_range, "0 to 5"},
        {"idle", "reading", "", ErrorCode::missing, "0 to 5"},
        {"idle", "reading", "  ", ErrorCode::missing, "empty"},
        {"idle", "reading", "twelve", ErrorCode::bad_text, "twelve"},
        {"idle", "reading", "12 ohm", ErrorCode::bad_text, "12 ohm"},
        {"idle", "reading", "1,500", ErrorCode::bad_text, "1,500"},
        {"idle", "reading", "12 mV ±", ErrorCode::bad_text, "no number"},
        {"idle", "reading", "12 mV ±0.8", ErrorCode::bad_text, "no unit"},
        {"idle", "reading", "12 mV ±-1 mV", ErrorCode::bad_text, "negative"},
        {"idle", "reading", "12 mV ±x mV", ErrorCode::bad_text, "x mV"},
        {"idle", "emitter_resistor", "0R22 ±100 %", ErrorCode::bad_text, "100 %"},
        {"idle", "emitter_resistor", "0R22 ±0R22", ErrorCode::out_of_range, "zero or below"},
        {"idle", "emitter_resistor", "±5 %", ErrorCode::missing, "empty"},
        {"idle", "pairs", "2 ±1", ErrorCode::bad_text, "no tolerance"},
        {"idle", "target_spread", "25 % ±5 %", ErrorCode::bad_text, "no tolerance"},
        {"idle", "target_spread", "0 %", ErrorCode::out_of_range, "1 to 95"},
        {"idle", "across", "three", ErrorCode::bad_text, "both outer ends"},
        {"idle", "across", "", ErrorCode::missing, "one resistor"},
        {"gain", "test_current", "0", ErrorCode::out_of_range, "1 µA to 50 A"},
        {"gain", "type_minimum", "0", ErrorCode::out_of_range, "1 to 10000"},
    };
    for (const Row& row : table) {
        const Field& field = field_of(row.working, row.field);
        const auto input = read_input(field, row.text);
        INFO(row.field << " \"" << row.text << "\"");
        REQUIRE_FALSE(input.ok());
        const std::string message = with_plain_spaces(input.error().message);
        INFO(message);
        CHECK(input.error().code == row.code);
        CHECK(input.error().field == field.label);
        CHECK(message.find(field.label) != std::string::npos);
        CHECK(message.find(row.says) != std::string::npos);
        CHECK(message.ends_with('.'));
    }
}

TEST_CASE("input: accepted forms read as the bench says them", "[core][working]") {
    CHECK(accepted_form(field_of("idle", "emitter_resistor")) == "0.01 to 10\u2009Ω");
    CHECK(accepted_form(field_of("idle", "pairs")) == "a whole number, 1 to 12");
    CHECK(accepted_form(field_of("idle", "across")) == "one resistor or both outer ends");
    CHECK(accepted_form(field_of("idle", "junction")) == "−20 to 175\u2009°C");
    CHECK(accepted_form(field_of("idle", "target_spread")) == "1 to 95\u2009%");
}

TEST_CASE("input: an unusual value is named, a usual one passes in silence", "[core][working]") {
    const Field& emitter = field_of("idle", "emitter_resistor");
    CHECK(unusual_reason(emitter, 0.22).empty());
    CHECK(unusual_reason(emitter, 0.1).empty());
    const std::string reason = unusual_reason(emitter, 4.7);
    CHECK(reason.find("4.7") != std::string::npos);
    CHECK(reason.find("0.1 to 1") != std::string::npos);
    CHECK(with_plain_spaces(unusual_reason(field_of("idle", "reading"), 0.5)) ==
          "Reading 500 mV is unusual: it is mostly 1 mV to 100 mV.");
    CHECK(unusual_reason(field_of("idle", "across"), 7).empty());
}

TEST_CASE("run: defaults fill what is absent and are marked as such", "[core][working]") {
    const Working& idle = *find_working("idle");
    const Inputs full = with_defaults(idle, typed(idle, {{"load", "4"}}));
    CHECK(full.at("load").amount.value == 4);
    CHECK(full.at("load").from == Origin::typed);
    CHECK(full.at("emitter_resistor").amount.value == 0.22);
    CHECK(full.at("emitter_resistor").text == "0R22");
    CHECK(full.at("emitter_resistor").from == Origin::by_default);
    CHECK_FALSE(full.contains("reading"));
    CHECK_FALSE(full.contains("target"));
}

TEST_CASE("run: a missing, an unknown and a forged input are refused", "[core][working]") {
    const Working& idle = *find_working("idle");
    const auto missing = run_working(idle, typed(idle, {{"rail", "40"}}));
    REQUIRE_FALSE(missing.ok());
    CHECK(missing.error().code == ErrorCode::missing);
    CHECK(missing.error().field == "Reading");

    Inputs unknown = typed(idle, {{"rail", "40"}, {"reading", "20m"}});
    unknown.emplace("speed", Input{});
    const auto refused = run_working(idle, unknown);
    REQUIRE_FALSE(refused.ok());
    CHECK(refused.error().code == ErrorCode::not_found);
    CHECK(refused.error().field == "speed");

    Inputs forged = typed(idle, {{"rail", "40"}, {"reading", "20m"}});
    forged.at("rail").amount.value = std::nan("");
    CHECK_FALSE(run_working(idle, forged).ok());
    forged.at("rail").amount = Amount::exact(0, Unit::volt);
    CHECK_FALSE(run_working(idle, forged).ok());
    forged.at("rail").amount = Amount::exact(40, Unit::ohm);
    CHECK_FALSE(run_working(idle, forged).ok());
}

TEST_CASE("run: a tolerance from nowhere near a real part is an error, not an infinity",
          "[core][working]") {
    const Working& idle = *find_working("idle");
    Inputs inputs = typed(idle, {{"rail", "40"}, {"reading", "5 V"}, {"emitter_resistor", "0R01"}});
    inputs.at("emitter_resistor").amount.low = 1e-308;
    const auto outcome = run_working(idle, inputs);
    REQUIRE_FALSE(outcome.ok());
    CHECK(outcome.error().code == ErrorCode::contradictory);
}

TEST_CASE("input: a device is a type number or a card, of at most 4096 bytes", "[core][working]") {
    const auto number = read_input(k_device, " 2N3055 ");
    REQUIRE(number.ok());
    CHECK(number->word == "2N3055");
    CHECK(number->text == " 2N3055 ");
    const std::string card = ".model q1 npn (bf=100\n+ is=1e-14)";
    CHECK(read_input(k_device, card)->word == card);
    CHECK(read_input(k_device, std::string(4096, 'x')).ok());
    const auto longer = read_input(k_device, std::string(4097, 'x'));
    REQUIRE_FALSE(longer.ok());
    CHECK(longer.error().code == ErrorCode::out_of_range);
    CHECK(longer.error().message ==
          "Device: 4097 bytes are too many. Accepted: a type number, or a .model card of at most "
          "4096 bytes.");
    CHECK(read_input(k_device, "  ").error().code == ErrorCode::missing);
    CHECK(check_input(k_device, Input{}).error().code == ErrorCode::missing);
}

TEST_CASE("input: a recording is a name with its bytes beside it, of at most 64 MB",
          "[core][working]") {
    const auto named = read_input(k_recording, "right.csv");
    REQUIRE(named.ok());
    CHECK(named->word == "right.csv");
    CHECK(named->data == nullptr);
    CHECK(check_input(k_recording, *named).ok());
    CHECK(read_input(k_recording, "").error().code == ErrorCode::missing);
    CHECK(accepted_form(k_recording) == "a CSV or WAV file of at most 64\u2009MB");
    Input large = *named;
    large.data = std::make_shared<const std::string>(k_most_recording_bytes, '0');
    CHECK(check_input(k_recording, large).ok());
    large.data = std::make_shared<const std::string>(k_most_recording_bytes + 1, '0');
    const auto refused = check_input(k_recording, large);
    REQUIRE_FALSE(refused.ok());
    CHECK(refused.error().code == ErrorCode::out_of_range);
    CHECK(refused.error().message.find("64000001 bytes") != std::string::npos);
}

TEST_CASE("run: a recording that is only a name is refused as not here", "[core][working]") {
    const auto outcome = run_working(listener(), heard("2N3055", "right.csv", nullptr));
    REQUIRE_FALSE(outcome.ok());
    CHECK(outcome.error().code == ErrorCode::missing);
    CHECK(outcome.error().field == "Recording");
    CHECK(
        with_plain_spaces(outcome.error().message) ==
        "Recording \"right.csv\" is not here: only its name was kept. Accepted: a CSV or WAV file "
        "of at most 64 MB.");
}

TEST_CASE("json: a recording is kept as name and size, and comes back without its bytes",
          "[core][working]") {
    const auto bytes = std::make_shared<const std::string>("0;1\n1;2\n");
    const Inputs given = heard("2N3055", "right.csv", bytes);
    const auto outcome = run_working(listener(), given);
    REQUIRE(outcome.ok());
    CHECK(outcome->figures.front().amount.value == 8);
    CHECK(outcome->headline_note == "2N3055");
    const auto json = inputs_to_json(listener(), given);
    CHECK(json.at("recording") ==
          nlohmann::json{
              {"word", "right.csv"}, {"bytes", 8}, {"text", "right.csv"}, {"from", "typed"}});
    CHECK(json.at("device") ==
          nlohmann::json{{"word", "2N3055"}, {"text", "2N3055"}, {"from", "typed"}});
    const auto back = inputs_from_json(listener(), json);
    REQUIRE(back.ok());
    CHECK(back->at("recording").word == "right.csv");
    CHECK(back->at("recording").data == nullptr);
    CHECK(run_working(listener(), *back).error().code == ErrorCode::missing);
    CHECK_FALSE(inputs_to_json(listener(), *back).at("recording").contains("bytes"));

    const auto bad = [](const char* text) {
        return inputs_from_json(listener(), nlohmann::json::parse(text)).error().code;
    };
    CHECK(bad(R"({"recording": {"word": "a", "bytes": -1}})") == ErrorCode::bad_text);
    CHECK(bad(R"({"recording": {"bytes": 1}})") == ErrorCode::missing);
    CHECK(bad(R"({"device": {"word": "a", "bytes": 1}})") == ErrorCode::not_found);
    CHECK(bad(R"({"device": ""})") == ErrorCode::missing);
}

TEST_CASE("input: bytes that are no text are refused", "[core][working]") {
    const Field text{.key = "t", .label = "Text", .help = "A text.", .kind = FieldKind::text};
    const auto refused = read_input(text, "TO-3\xff");
    REQUIRE_FALSE(refused.ok());
    CHECK(refused.error().code == ErrorCode::bad_text);
    CHECK(refused.error().message.find("no text") != std::string::npos);
    CHECK(read_input(text, "TO-3 \u03a9").ok());
}
