#include "app/command/print_working.h"

#include "core/device/parts.h"
#include "run_program.h"

#include <nlohmann/json.hpp>

#include <string>

using namespace railside;
using namespace railside::testing;
using Json = nlohmann::json;

TEST_CASE("parts: a type is told with its traps and source", "[app][command]") {
    // TIP3055: V_CEO 60 V, V_CBO 100 V (ST, onsemi), B C E, TO-218 (kicad-symbols).
    const Ran ran = run({"parts", "tip3055"});
    REQUIRE(ran.status == 0);
    CHECK(ran.err.empty());
    for (const char* part :
         {"TIP3055  npn, silicon, single", "60\u2009V", "100\u2009V", "15\u2009A", "TO-218",
          "B C E", "TIP2955", "! Caution: ", "V_CEO is 60 V", "Rests on: ", "kicad-symbols",
          "data sheet before fitting"}) {
        INFO(part);
        CHECK(holds(ran.out, part));
    }
    CHECK(run_program({"parts", "tip3055"}).out == ran.out);
}

TEST_CASE("parts: a gain group and unknown letters are told", "[app][command]") {
    CHECK(holds(run({"parts", "BC547B"}).out, "Group B: gain 200\u2013450."));
    CHECK(holds(run({"parts", "2SD1047P"}).out, "What \"P\" after 2SD1047 means"));
}

TEST_CASE("parts: JSON holds SI numbers and null for what is not known", "[app][command]") {
    const Ran ran = run({"parts", "BC547C", "--json"});
    REQUIRE(ran.status == 0);
    const Json json = Json::parse(ran.out);
    CHECK(json["type"] == "BC547");
    CHECK(json["group"] == "C");
    CHECK(json["v_ceo"] == 45);
    CHECK(json["i_c"] == 0.1);
    CHECK(json["groups"]["C"] == Json({420, 800}));
    CHECK(json["leads"] == "CBE");
    CHECK(json["r_thjc"].is_null());
    CHECK(json["traps"].size() >= 1);
    CHECK(run({"parts", "--json", "BC547C"}).out == ran.out);
}

TEST_CASE("parts: without a type the whole table is listed", "[app][command]") {
    const Ran ran = run({"parts"});
    REQUIRE(ran.status == 0);
    const Json json = Json::parse(run({"parts", "--json"}).out);
    CHECK(json.size() == builtin_parts().parts.size());
    for (const Part& part : builtin_parts().parts) {
        CHECK(holds(ran.out, '\n' + part.type + ' '));
    }
    CHECK(holds(ran.out, std::to_string(builtin_parts().parts.size()) + " types."));
}

TEST_CASE("parts: what is not in the table is refused with the nearest", "[app][command]") {
    const Ran ran = run({"parts", "BC5470"});
    CHECK(ran.status == 2);
    CHECK(ran.out.empty());
    CHECK(holds(ran.err, "\"BC5470\" is not in the parts table"));
    CHECK(holds(ran.err, "did you mean BC547"));
    CHECK(run({"parts", "BC547", "BC557"}).status == 2);
    CHECK(run({"parts", "--colour"}).status == 2);
}

TEST_CASE("stand-in: the ranking and every margin are printed", "[app][command]") {
    const Ran ran = run({"standin", "--original", "MJL21194", "--rail", "40"});
    REQUIRE(ran.status == 0);
    for (const char* part : {"Candidates, best first", "Against it", "Collector-emitter volts",
                             "Lead order", "data sheet of the very part in hand"}) {
        INFO(part);
        CHECK(holds(ran.out, part));
    }
    const Ran one =
        run({"standin", "--original", "MJL21194", "--rail", "40", "--candidate", "TIP3055"});
    CHECK(holds(one.out, "DOES NOT FIT. TIP3055 falls short in collector-emitter volts"));
}

TEST_CASE("print: a working's tables stand under its figures", "[app][command]") {
    const Working& working = *find_working("gain");
    Outcome outcome;
    outcome.figures.push_back({"a", "First", "", Amount::exact(1, Unit::ratio)});
    outcome.tables.push_back({"t", "Rows", {"Name", "Value"}, {{"one", "1"}, {"longer", "2"}}});
    outcome.notes.emplace_back("A note.");
    const std::string text = outcome_text(working, {}, outcome, "Title");
    CHECK(holds(text, "\n  Rows\n    Name    Value\n    one     1\n    longer  2\n"));
    CHECK(text.find("First") < text.find("Rows"));
    CHECK(text.find("Rows") < text.find("A note."));
}
