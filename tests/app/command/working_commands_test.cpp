#include "app/command/commands.h"

#include "app/command/print_working.h"
#include "core/capture/demo_recording.h"
#include "core/quantity/value_code.h"
#include "core/working/json.h"
#include "run_program.h"

#include <nlohmann/json.hpp>

#include <cmath>
#include <fstream>
#include <memory>
#include <set>
#include <string>
#include <vector>

using namespace railside;
using namespace railside::testing;
using Json = nlohmann::json;

namespace {

/// A recording on the disk for as long as these tests run.
const std::string& recording_file() {
    static const TestFolder k_folder;
    static const std::string k_file = [] {
        const std::string file = k_folder.file("right.csv");
        std::ofstream(file, std::ios::binary) << demo_recording::csv();
        return file;
    }();
    return k_file;
}

/// A value inside the field's range, as typed.
std::string value_for(const Field& field) {
    switch (field.kind) {
    case FieldKind::choice:
        return std::string(field.choices.back().key);
    case FieldKind::text:
    case FieldKind::device:
        return "2N3055";
    case FieldKind::recording:
        return recording_file();
    case FieldKind::amount:
        break;
    }
    if (field.spread == Spread::count) {
        return print_exact(std::ceil((field.low + field.high) / 2), field.unit);
    }
    const bool usual = field.usual_low < field.usual_high;
    return print_exact(usual ? field.usual_high : field.high, field.unit);
}

/// The command with everything it cannot do without, and `extra` last.
std::vector<std::string> command_of(const Working& working, const std::vector<std::string>& extra,
                                    const std::set<std::string_view>& without = {}) {
    std::vector<std::string> args{std::string(working.key)};
    for (const Field& field : working.fields) {
        if (field.need == Need::required && field.by_default.empty() &&
            !without.contains(field.key)) {
            args.push_back(option_of(field));
            args.push_back(value_for(field));
        }
    }
    args.insert(args.end(), extra.begin(), extra.end());
    return args;
}

/// Runs it both ways, which must agree; gives the answer.
Ran run_both(const std::vector<std::string>& args) {
    const Ran here = run(args);
    const Ran there = run_program(args);
    CHECK(here.status == there.status);
    CHECK(here.out == there.out);
    CHECK(here.err == there.err);
    return here;
}

} // namespace

TEST_CASE("idle: 20.00 mV across 0.22 ohm is 90.909 mA", "[app][command]") {
    // Circuit simulation (ngspice 39) gives 90.909 mA, within 0.1 %; Ohm's law gives 20/0.22
    // exactly.
    const Ran ran = run_both(
        {"idle", "--emitter-resistor", "0R22", "--reading", "20.00mV", "--rail", "40", "--json"});
    REQUIRE(ran.status == 0);
    CHECK(ran.err.empty());
    const Json json = Json::parse(ran.out);
    CHECK(json["working"] == "idle");
    const Json& current = json["results"]["idle_current"];
    CHECK(near(current["value"].get<double>(), 0.0909091, 1e-3)); // ngspice
    CHECK(near(current["value"].get<double>(), 0.020 / 0.22, 1e-12));
    CHECK(current["unit"] == "ampere");
    CHECK(current["low"].get<double>() < 0.0909);
    CHECK(current["high"].get<double>() > 0.0910);
    CHECK(json["inputs"]["reading"]["text"] == "20.00mV");
    CHECK(json["inputs"]["reading"]["from"] == "typed");
    CHECK(json["inputs"]["pairs"]["from"] == "default");
}

TEST_CASE("workings: the answer in words names inputs, headline and verdict", "[app][command]") {
    const Ran ran = run_both({"idle", "--emitter-resistor", "0R22", "--reading=96.0mV", "--rail",
                              "40 V", "--target", "20mV"});
    REQUIRE(ran.status == 0);
    CHECK(holds(ran.out, "Idle current\n"));
    // 96.0/0.22 = 436.4 mA; ±5 % on the resistor is part of the interval.
    CHECK(holds(ran.out, "436\u2009mA"));
    CHECK(holds(ran.out, "96.0\u2009mV"));
    CHECK(holds(ran.out, "0.209\u20130.231\u2009Ω  given"));
    CHECK(holds(ran.out, " usual"));
    // 96 mV is 4.8 times the 20 mV target
    CHECK(holds(ran.out, "OUTSIDE, HIGH. 4.8 times the target"));
    CHECK(holds(ran.out, "! Caution: "));
    for (std::size_t begin = 0; begin < ran.out.size();) {
        const std::size_t end = ran.out.find('\n', begin);
        const std::string line = ran.out.substr(begin, end - begin);
        INFO(line);
        CHECK_FALSE(line.ends_with(' '));
        begin = end + 1;
    }
}

TEST_CASE("workings: an unusual value is said to be so", "[app][command]") {
    const Ran ran = run({"idle", "--reading", "96mV", "--rail", "40", "--load", "40"});
    REQUIRE(ran.status == 0);
    CHECK(holds(ran.out, "Load 40\u2009Ω is unusual"));
}

TEST_CASE("workings: every field of every working is an option", "[app][command]") {
    for (const Working& working : catalogue()) {
        const Ran help = run({std::string(working.key), "--help"});
        CHECK(help.status == 0);
        for (const Field& field : working.fields) {
            const std::string text = value_for(field);
            INFO(working.key << ' ' << option_of(field) << ' ' << text);
            const Ran ran =
                run(command_of(working, {option_of(field), text, "--json"}, {field.key}));
            // A value in range may contradict the others, but is never misread.
            if (ran.status == 0) {
                const Json input = Json::parse(ran.out)["inputs"][std::string(field.key)];
                CHECK(input["text"] == text);
                CHECK(input["from"] == "typed");
            } else {
                CHECK(ran.status == 2);
                CHECK_FALSE(holds(ran.err, "no option"));
                CHECK_FALSE(holds(ran.err, "is needed"));
            }
            CHECK(holds(help.out, option_of(field)));
            CHECK(holds(help.out, field.label));
            CHECK(holds(help.out, field.symbol));
            if (!field.by_default.empty()) {
                CHECK(holds(help.out, default_text(field)));
            }
        }
    }
}

TEST_CASE("workings: an option of a working never hides one of the command", "[app][command]") {
    for (const Command& command : working_commands()) {
        std::set<std::string> names{"--help"};
        for (const OptionSpec& option : command.spec.options) {
            INFO(command.spec.name << ' ' << option.name);
            CHECK(names.insert(option.name).second);
        }
    }
}

TEST_CASE("workings: a value out of range is refused with option, label and range",
          "[app][command]") {
    for (const Working& working : catalogue()) {
        for (const Field& field : working.fields) {
            if (field.kind != FieldKind::amount) {
                continue;
            }
            const double over = field.high + std::abs(field.high);
            const double under = field.low - std::abs(field.low) - 1;
            for (const double value : {over, under}) {
                const std::string text = print_exact(value, field.unit);
                INFO(working.key << ' ' << option_of(field) << ' ' << text);
                const Ran ran = run(command_of(working, {option_of(field), text}, {field.key}));
                CHECK(ran.status == 2);
                CHECK(ran.out.empty());
                CHECK(holds(ran.err, option_of(field) + ": "));
                CHECK(holds(ran.err, field.label));
                CHECK(holds(ran.err, accepted_form(field)));
            }
        }
    }
}

TEST_CASE("workings: what is no value is refused with its field", "[app][command]") {
    struct Row {
        std::vector<std::string> args;
        std::vector<std::string> said;
    };
    const std::vector<Row> rows{
        {{"idle"},
         {"--reading: Reading is needed. Accepted: 0 to 5\u2009V.", "--rail: Rail is needed"}},
        {{"idle", "--reading", "12mA", "--rail", "40"}, {"--reading: ", "Reading"}},
        {{"idle", "--reading", "", "--rail", "40"}, {"--reading: ", "is empty", "0 to 5"}},
        {{"idle", "--reading", "1,500", "--rail", "40"}, {"--reading: ", "Reading"}},
        {{"idle", "--reading", "twelve", "--rail", "40"}, {"--reading: ", "Reading"}},
        {{"idle", "--reading", "-12mV", "--rail", "40"},
         {"--reading: ", "\u221212\u2009mV is negative", "0 to 5\u2009V"}},
        {{"idle", "--reading=-12mV", "--rail", "40"},
         {"--reading: ", "\u221212\u2009mV is negative", "0 to 5\u2009V"}},
        {{"idle", "--reading", "12mV", "--rail", "40", "--pairs", "1.5"},
         {"--pairs: ", "whole number, 1 to 12"}},
        {{"idle", "--reading", "12mV", "--rail", "40", "--across", "all"},
         {"--across: ", "one resistor or both outer ends"}},
        {{"idle", "--reading", "12mV", "--rail", "40", "--accuracy", "good"},
         {"--accuracy: ", "good"}},
        {{"idle", "--reading", "9V", "--rail", "900", "--across", "all"},
         {"--reading: ", "--rail: ", "--across: "}}, // all of them at once
        {{"idle", "--reading", "12mV\xff", "--rail", "40"}, {"--reading: "}},
    };
    for (const Row& row : rows) {
        INFO(row.args.back());
        const Ran ran = run_both(row.args);
        CHECK(ran.status == 2);
        CHECK(ran.out.empty());
        for (const std::string& part : row.said) {
            INFO(ran.err);
            CHECK(holds(ran.err, part));
        }
    }
}

TEST_CASE("workings: a choice takes its key or its label", "[app][command]") {
    for (const std::string word : {"both", "both outer ends", "Both"}) {
        const Ran ran =
            run({"idle", "--reading", "40mV", "--rail", "40", "--across", word, "--json"});
        REQUIRE(ran.status == 0);
        const Json json = Json::parse(ran.out);
        CHECK(json["inputs"]["across"]["word"] == "both");
        // 40 mV across two resistors of 0.22 ohm in series
        CHECK(near(json["results"]["idle_current"]["value"].get<double>(), 0.040 / 0.44, 1e-12));
    }
}

TEST_CASE("workings: the meter's accuracy sets the interval of the reading", "[app][command]") {
    const auto reading = [](const std::vector<std::string>& extra) {
        std::vector<std::string> args{"idle", "--reading", "20.0mV", "--rail", "40", "--json"};
        args.insert(args.end(), extra.begin(), extra.end());
        const Ran ran = run(args);
        REQUIRE(ran.status == 0);
        return Json::parse(ran.out)["inputs"]["reading"];
    };
    // ±1 % + 2 counts of 0.1 mV on 20.0 mV: 0.2 + 0.2 mV
    const Json given = reading({"--accuracy", "±1 % + 2 counts"});
    CHECK(near(given["low"].get<double>(), 0.0196, 1e-12));
    CHECK(near(given["high"].get<double>(), 0.0204, 1e-12));
    // and the usual ±0.5 % + 3 counts: 0.1 + 0.3 mV
    const Json usual = reading({});
    CHECK(near(usual["low"].get<double>(), 0.0196, 1e-12));
    const Json fine = reading({"--accuracy", "0.1%+1"}); // 0.02 + 0.1 mV
    CHECK(near(fine["low"].get<double>(), 0.01988, 1e-12));
    CHECK(near(fine["high"].get<double>(), 0.02012, 1e-12));
}

TEST_CASE("workings: JSON reads back to the same inputs and the same answer", "[app][command]") {
    for (const Working& working : catalogue()) {
        const Ran ran = run_both(command_of(working, {"--json"}));
        INFO(working.key << ran.err);
        REQUIRE(ran.status == 0);
        const Json json = Json::parse(ran.out);
        auto inputs = inputs_from_json(working, json["inputs"]);
        REQUIRE(inputs.ok());
        for (const Field& field : working.fields) {
            if (const auto held = inputs->find(field.key);
                held != inputs->end() && field.kind == FieldKind::recording) {
                // Only its name is kept.
                CHECK(run_working(working, *inputs).error().code == ErrorCode::missing);
                held->second.data = std::make_shared<const std::string>(demo_recording::csv());
            }
        }
        CHECK(inputs_to_json(working, *inputs) == json["inputs"]);
        const auto outcome = run_working(working, *inputs);
        REQUIRE(outcome.ok());
        CHECK(working_to_json(working, *inputs, *outcome) == json);
    }
}

TEST_CASE("workings: the example in a working's help answers", "[app][command]") {
    for (const Command& command : working_commands()) {
        std::vector<std::string> words;
        std::string word;
        bool within = false;
        for (const char c : command.spec.example + ' ') {
            if (c == '"') {
                within = !within;
            } else if (c == ' ' && !within) {
                words.push_back(word == "right.csv" ? recording_file() : word);
                word.clear();
            } else {
                word += c;
            }
        }
        INFO(command.spec.example);
        REQUIRE(words.size() > 1);
        CHECK(words.front() == "railside");
        const Ran ran = run({words.begin() + 1, words.end()});
        INFO(ran.err);
        CHECK(ran.status == 0);
    }
}

TEST_CASE("workings: the catalogue is listed in words and as JSON", "[app][command]") {
    const Ran words = run_both({"workings"});
    CHECK(words.status == 0);
    const Ran ran = run_both({"workings", "--json"});
    REQUIRE(ran.status == 0);
    CHECK(Json::parse(ran.out) == catalogue_to_json());
    for (const Working& working : catalogue()) {
        CHECK(holds(words.out, working.name));
        for (const Field& field : working.fields) {
            CHECK(holds(words.out, option_of(field)));
            CHECK(holds(words.out, field.label));
        }
    }
}

TEST_CASE("capture: a file is read from the disk and answered", "[app][command]") {
    const Ran ran = run_both(
        {"capture", "--recording", recording_file(), "--load", "4", "--rail", "40 V", "--json"});
    REQUIRE(ran.status == 0);
    const Json json = Json::parse(ran.out);
    CHECK(json["verdict"]["word"] == "clips, + first");
    CHECK(
        near(json["results"]["peak_plus"]["value"].get<double>(), demo_recording::k_held_v, 0.01));
    const Json& recording = json["inputs"]["recording"];
    CHECK(recording["word"] == "right.csv"); // without its folders
    CHECK(recording["text"] == recording_file());
    CHECK(recording["bytes"] == demo_recording::csv().size());
    const Ran words = run({"capture", "--recording", recording_file(), "--load", "4"});
    CHECK(holds(words.out, "CLIPS, + FIRST."));
    CHECK(holds(words.out, "right.csv"));
}

TEST_CASE("capture: a file that is not there or cannot be read is refused by its option",
          "[app][command]") {
    const TestFolder folder;
    const auto refused = [](const std::string& file) {
        const Ran ran = run_both({"capture", "--recording", file});
        INFO(ran.err);
        CHECK(ran.status != 0);
        CHECK(ran.out.empty());
        return ran.err;
    };
    CHECK(holds(refused(folder.file("none.csv")), "--recording: "));
    CHECK(holds(refused(folder.file("none.csv")), "could not be read"));
    CHECK(holds(refused(folder.path().string()), "is not a file"));
    CHECK(holds(refused(""), "is empty. Accepted: a CSV or WAV file"));
    std::ofstream(folder.file("letter.csv")) << "Dear technician,\n";
    CHECK(holds(refused(folder.file("letter.csv")), "letter.csv: line 1, column 1"));
    std::ofstream(folder.file("empty.csv"));
    CHECK(holds(refused(folder.file("empty.csv")), "empty.csv: the file is empty"));
    // Larger than is taken: a file of holes.
    std::ofstream(folder.file("large.wav"));
    std::filesystem::resize_file(folder.file("large.wav"), k_most_recording_bytes + 1);
    CHECK(holds(refused(folder.file("large.wav")), "larger than the 64 MB accepted"));
}
