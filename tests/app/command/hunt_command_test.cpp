#include "run_program.h"

#include <nlohmann/json.hpp>

using namespace railside;
using namespace railside::testing;

namespace {

std::string netlist_file() { return std::string(RAILSIDE_TEST_DATA) + "/netlists/f_lowp.cir"; }

void write(const std::string& file, const std::string& text) {
    std::ofstream(file, std::ios::binary) << text;
}

constexpr const char* k_positions = R"({"service_v_re_mV": 20, "fuse_A": 2.5, "positions": {
 "q4": {"role": "voltage amplifier", "half": "-"}, "q1": {"role": "input pair"},
 "q2": {"role": "input pair"}, "q7": {"role": "driver", "half": "+"},
 "q8": {"role": "driver", "half": "-"}, "q9": {"role": "output", "half": "+"},
 "q10": {"role": "output", "half": "-"}, "rep": {"role": "emitter resistor", "half": "+"},
 "ren": {"role": "emitter resistor", "half": "-"}, "rtrim": {"role": "trim pot"},
 "rfp": {"role": "rail fuse", "half": "+"}, "rfn": {"role": "rail fuse", "half": "-"},
 "rt": {"role": "tail resistor"}, "rf": {"role": "feedback resistor"},
 "rg": {"role": "feedback shunt resistor"}}})";

// An open tail resistor and the + fuse, as circuit simulation reads them.
constexpr const char* k_answers =
    "id,amp,fault_class,part,idle_offset_mV,idle_i_pos_mA,idle_i_neg_mA,idle_v_tail_re3_V,"
    "prot_v_re1_mV,prot_v_re2_mV,prot_offset_mV,prot_v_spreader_V,prot_rail_pos_V,prot_rail_neg_V,"
    "prot_i_pos_mA,prot_i_neg_mA,part_ohm,symptom\n"
    "F30,f_lowp,res_open,rt,24181.3,0.24184,2.678e-05,24.639,0.113599,0,24169.9,0.00727688,"
    "24.9886,-25,0.241726,2.677e-05,OL,dc_at_output\n"
    "F34,f_lowp,rail_fuse_open,rfp,0.773618,2.46694e-05,1.68948e-05,0.000222899,0,0,0.773572,"
    "0.00242936,0.330554,-25,2.46694e-05,1.68953e-05,OL,gain_wrong+distorted\n";

} // namespace

TEST_CASE("hunt command: plays a row and adds up all of them", "[app][command]") {
    TestFolder folder;
    write(folder.file("positions.json"), k_positions);
    write(folder.file("answers.csv"), k_answers);
    const std::vector<std::string> files{"hunt",
                                         "--circuit",
                                         netlist_file(),
                                         "--positions",
                                         folder.file("positions.json"),
                                         "--answers",
                                         folder.file("answers.csv"),
                                         "--generic",
                                         "--samples",
                                         "2"};
    std::vector<std::string> args = files;
    args.insert(args.end(), {"--row", "F30"});
    const Ran one = run(args);
    CHECK(one.err.empty());
    REQUIRE(one.status == 0);
    CHECK(holds(one.out, "DC at the output"));
    CHECK(holds(one.out, "rt, open"));

    args = files;
    args.insert(args.end(), {"--all", "--json"});
    const Ran all = run(args);
    REQUIRE(all.status == 0);
    const auto json = nlohmann::json::parse(all.out);
    CHECK(json["hunts"].size() == 2);
    CHECK(json["hunts"][0]["ranking"][0]["position"] == "rt");
    CHECK(json["hunts"][1]["ranking"][0]["position"] == "rfp");
    CHECK(json["summary"]["top_1"] == 1.0);
    CHECK(json["hunts"][0]["tests"][0]["why"].get<std::string>().size() > 10);
}

TEST_CASE("hunt command: refuses what is missing or not there", "[app][command]") {
    TestFolder folder;
    write(folder.file("positions.json"), k_positions);
    write(folder.file("answers.csv"), k_answers);
    CHECK(holds(run({"hunt", "--all"}).err, "--circuit"));
    const std::vector<std::string> files{"hunt",
                                         "--circuit",
                                         netlist_file(),
                                         "--positions",
                                         folder.file("positions.json"),
                                         "--answers",
                                         folder.file("answers.csv")};
    const Ran neither = run(files);
    CHECK(neither.status == 2);
    CHECK(holds(neither.err, "--row ID and --all"));
    std::vector<std::string> args = files;
    args.insert(args.end(), {"--row", "X9"});
    CHECK(holds(run(args).err, "X9"));
    write(folder.file("minutes"), "pull_output fast\n");
    args.insert(args.end(), {"--minutes", folder.file("minutes")});
    CHECK(holds(run(args).err, "0.05 to 600"));
}
