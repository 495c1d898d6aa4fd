#include "run_program.h"

#include "data/rows.h"

#include <nlohmann/json.hpp>

#include <algorithm>
#include <cmath>
#include <fstream>
#include <string>

using namespace railside::testing;
using Json = nlohmann::json;

namespace {

// 10 V over 1 kohm and 3 kohm: 7.5 V, 2.5 mA, worked by hand.
constexpr const char* k_divider = "A divider for tests\n"
                                  "V1 in 0 10\n"
                                  "R1 in out {top}\n"
                                  "R2 out 0 3k\n"
                                  ".param top=1k\n"
                                  ".options reltol=1e-4\n"
                                  ".end\n";

std::string write(const TestFolder& folder, const std::string& name, const std::string& text) {
    std::ofstream(folder.file(name), std::ios::binary) << text;
    return folder.file(name);
}

std::string example(const std::string& name) {
    return std::string(RAILSIDE_TEST_DATA) + "/netlists/" + name;
}

Json answer(const std::vector<std::string>& args) {
    const Ran ran = run(args);
    INFO(ran.err);
    REQUIRE(ran.status == 0);
    return Json::parse(ran.out);
}

} // namespace

TEST_CASE("circuit command: the operating point as JSON, in SI units", "[app][command]") {
    const TestFolder folder;
    const Json json = answer({"circuit", write(folder, "d.cir", k_divider), "--json"});
    CHECK(json["title"] == "A divider for tests");
    CHECK(json["temperature_c"] == 27);
    CHECK(json["way"] == "newton");
    CHECK(json["iterations"].get<int>() >= 1);
    CHECK(near(json["nodes"]["out"], 7.5, 1e-9));
    CHECK(near(json["nodes"]["in"], 10, 1e-9));
    CHECK_FALSE(json["nodes"].contains("0"));
    CHECK(near(json["elements"]["R1"]["current"], 2.5e-3, 1e-9));
    CHECK(near(json["elements"]["R1"]["power"], 6.25e-3, 1e-9));
    CHECK(near(json["elements"]["V1"]["current"], -2.5e-3, 1e-9));
    CHECK(near(json["elements"]["V1"]["power"], -25e-3, 1e-9));
    CHECK(json["notes"] == Json::array({"d.cir, line 6: .options is passed over."}));
}

TEST_CASE("circuit command: the operating point as a table", "[app][command]") {
    const TestFolder folder;
    const Ran ran = run({"circuit", write(folder, "d.cir", k_divider)});
    CHECK(ran.status == 0);
    const std::string& out = ran.out;
    CHECK(out.starts_with("A divider for tests\n"
                          "Operating point at 27\u2009\u00b0C, found by plain Newton ("));
    CHECK(holds(out, " steps)\n"
                     "\n"
                     "Node  Volts to ground\n"
                     "in    10\u2009V\n"
                     "out   7.5\u2009V\n"
                     "\n"
                     "Element  Current  Volts  Power\n"
                     "V1       \u22122.5\u2009mA  10\u2009V   \u221225\u2009mW\n"
                     "R1       2.5\u2009mA   2.5\u2009V  6.25\u2009mW\n"
                     "R2       2.5\u2009mA   7.5\u2009V  18.75\u2009mW\n"
                     "\n"
                     "Notes\n"
                     "  d.cir, line 6: .options is passed over.\n"));
}

TEST_CASE("circuit command: values are set, the temperature too", "[app][command]") {
    const TestFolder folder;
    const std::string file = write(folder, "d.cir", k_divider);
    CHECK(near(
        answer({"circuit", file, "--json", "--set", "V1=20", "--set", "r2=1k"})["nodes"]["out"], 10,
        1e-9));
    CHECK(near(answer({"circuit", file, "--json", "--set", "top=3k"})["nodes"]["out"], 5, 1e-9));
    CHECK(near(
        answer({"circuit", file, "--json", "--set", "R1=4k7", "--set=R2=4.7k"})["nodes"]["out"], 5,
        1e-9));
    CHECK(answer({"circuit", file, "--json", "--temperature", "60"})["temperature_c"] == 60);
}

TEST_CASE("circuit command: an example amplifier idles as simulated, includes found beside it",
          "[app][command]") {
    // tests/data/circuit_nodes.csv; tolerance 0.1 % or 0.1 mV.
    const Json json = answer({"circuit", example("a_ef2.cir"), "--set", "rl=100k", "--json"});
    int looked = 0;
    for (const auto& row : test_data::rows_of("circuit_nodes.csv")) {
        if (row.text("amp") == "a_ef2") {
            INFO(row.text("node"));
            const double volts = json["nodes"][row.text("node")];
            CHECK(std::abs(volts - row.number("v")) <=
                  std::max(1e-4, 1e-3 * std::abs(row.number("v"))));
            ++looked;
        }
    }
    CHECK(looked == 31);
    const Json& output = json["elements"]["q9"];
    CHECK(near(output["emitter_current"].get<double>(),
               -output["current"].get<double>() - output["base_current"].get<double>(), 1e-9));
    const Ran table = run({"circuit", example("a_ef2.cir"), "--set", "rl=100k"});
    CHECK(table.status == 0);
    CHECK(holds(table.out, "Transistor  Collector"));
    CHECK(holds(table.out, "rep      90.909\u2009mA"));
    CHECK(holds(table.out, "the commands of .control to line 68 are passed over."));
}

TEST_CASE("circuit command: a sweep over a source, a resistor, a parameter and temperature",
          "[app][command]") {
    const TestFolder folder;
    const std::string file = write(folder, "d.cir", k_divider);
    const Json source = answer({"circuit", file, "--json", "--sweep", "v1", "-4", "4", "4"});
    CHECK(source["sweep"]["source"] == "v1");
    CHECK(source["sweep"]["unit"] == "volt");
    CHECK(source["sweep"]["values"] == Json::array({-4.0, -2.0, 0.0, 2.0, 4.0}));
    REQUIRE(source["nodes"]["out"].size() == 5);
    CHECK(near(source["nodes"]["out"][0], -3, 1e-9));
    CHECK(near(source["nodes"]["out"][4], 3, 1e-9));
    CHECK(near(source["elements"]["R2"]["current"][4], 1e-3, 1e-9));
    CHECK(near(source["elements"]["R2"]["power"][4], 3e-3, 1e-9));

    const Json resistor = answer({"circuit", file, "--json", "--sweep", "R2", "1k", "3k", "1"});
    CHECK(resistor["sweep"]["unit"] == "ohm");
    CHECK(near(resistor["nodes"]["out"][0], 5, 1e-9));
    CHECK(near(resistor["nodes"]["out"][1], 7.5, 1e-9));

    const Json parameter = answer({"circuit", file, "--json", "--sweep", "top", "1k", "3k", "2"});
    CHECK(near(parameter["nodes"]["out"][2], 5, 1e-9));

    const std::string diode =
        write(folder, "diode.cir", "One diode\nI1 0 a 1m\nD1 a 0 dd\n.model dd d(is=1e-14)\n");
    const Json warm =
        answer({"circuit", diode, "--json", "--sweep", "temperature", "27", "127", "1"});
    CHECK(warm["sweep"]["unit"] == "celsius");
    // Shockley's law at 27 degrees: V_T ln(I/I_S + 1), the gmin of 1e-12 S aside.
    CHECK(near(warm["nodes"]["a"][0], 8.617333262145179e-5 * 300.15 * std::log(1e-3 / 1e-14 + 1),
               1e-6));
    // About −2 mV/K for silicon (Sedra & Smith), 15 %.
    CHECK(near((warm["nodes"]["a"][1].get<double>() - warm["nodes"]["a"][0].get<double>()) / 100,
               -1.9e-3, 0.15));

    const Ran table = run({"circuit", file, "--sweep", "V1", "0", "10", "2"});
    CHECK(holds(table.out, "Volts of every node over V1\n\nV1    in    out\n"));
    CHECK(holds(table.out, "5\u2009V   5\u2009V   3.75\u2009V\n"));
}

TEST_CASE("circuit command: a transient follows the circuit in time", "[app][command]") {
    const TestFolder folder;
    // 1 kohm and 1 uF: 1 − e^(−t/1 ms) of 5 V, worked by hand; 0.1 %.
    const std::string file =
        write(folder, "rc.cir", "Charging\nV1 in 0 5\nR1 in out 1k\nC1 out 0 1u ic=0\n");
    const Json json = answer({"circuit", file, "--json", "--transient", "10u", "2m", "--uic"});
    CHECK(json["transient"]["unit"] == "second");
    const auto& times = json["transient"]["values"];
    REQUIRE(times.size() == json["nodes"]["out"].size());
    CHECK(near(times.back(), 2e-3, 1e-9));
    for (std::size_t i = 0; i < times.size(); ++i) {
        const double expected = 5 * (1 - std::exp(-times[i].get<double>() / 1e-3));
        CHECK(near_abs(json["nodes"]["out"][i], expected, 5e-3));
    }
    CHECK(near_abs(json["elements"]["V1"]["current"].back(), -5e-3 * std::exp(-2), 5e-6));
    const Ran table = run({"circuit", file, "--transient", "0.5m", "2m"});
    CHECK(table.status == 0);
    CHECK(holds(table.out, "1.5\u2009ms")); // from the operating point all stays at 5 V
}

TEST_CASE("circuit command: what is not accepted is refused by name", "[app][command]") {
    const TestFolder folder;
    const std::string file = write(folder, "d.cir", k_divider);
    const std::string bad = write(folder, "bad.cir", "t\nR1 a 0 4k7\n");
    const std::string alone = write(folder, "alone.cir", "t\n.include none.lib\nR1 a 0 1\n");
    struct Row {
        std::vector<std::string> args;
        std::string_view message;
    };
    for (const Row& row : std::vector<Row>{
             {{}, "FILE is missing. The netlist."},
             {{"none.cir"}, "FILE: there is no file \"none.cir\"."},
             {{folder.path().string()}, "FILE: there is no file"},
             {{bad}, "bad.cir, line 2: the resistance of \"R1\" is \"4k7\"."},
             {{alone}, "alone.cir, line 2: there is no file \"none.lib\"."},
             {{file, "--temperature", "-300"},
              "--temperature \"-300\" is not accepted. Accepted: a "
              "number, -200 to 400 \u00b0C."},
             {{file, "--set", "R1"}, "--set \"R1\" is not accepted. Accepted: NAME=VALUE"},
             {{file, "--set", "R1=x"}, "--set \"R1=x\" is not accepted."},
             {{file, "--set", "R9=1"}, "\"r9\" is neither an element nor a .param"},
             {{file, "--set", "R1=1", "--set", "r1=2"}, "Accepted: each name once."},
             {{file, "--sweep", "V1", "0", "1", "0"}, "a whole number of steps, 1 to 10000."},
             {{file, "--sweep", "V1", "0", "x", "2"}, "--sweep \"x\" is not accepted."},
             {{file, "--sweep", "V9", "0", "1", "2"}, "V9 at 0: \"v9\" is neither"},
             {{file, "--sweep", "V1", "0", "1"}, "--sweep needs 4 values: NAME FROM TO STEPS."},
             {{file, "--sweep", "temperature", "-300", "1", "2"},
              "--sweep \"-300\" is not accepted"},
             {{file, "--transient", "0", "1"}, "a step above 0 s"},
             {{file, "--transient", "1u", "10"}, "an end of 1 to 100000 steps"},
             {{file, "--uic"}, "--transient STEP STOP is missing."},
             {{file, "--transient", "1m", "2m", "--sweep", "V1", "0", "1", "2"},
              "one of them is accepted"}}) {
        std::vector<std::string> args{"circuit"};
        args.insert(args.end(), row.args.begin(), row.args.end());
        const Ran ran = run(args);
        INFO(ran.err);
        CHECK(ran.status == 2);
        CHECK(ran.out.empty());
        CHECK(holds(ran.err, "railside circuit: "));
        CHECK(holds(ran.err, row.message));
    }
}

TEST_CASE("circuit command: the program itself prints what the function does", "[app][command]") {
    const std::vector<std::string> args{"circuit", example("f_lowp.cir"), "--json"};
    const Ran ran = run_program(args);
    CHECK(ran.status == 0);
    CHECK(ran.out == run(args).out);
}
