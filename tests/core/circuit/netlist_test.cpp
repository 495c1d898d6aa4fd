#include "core/circuit/netlist.h"

#include "support/catch.h"

#include <rapidcheck.h>

#include <algorithm>
#include <fstream>
#include <iterator>
#include <string>
#include <vector>

using namespace railside;

namespace {

bool holds(std::string_view text, std::string_view part) {
    return text.find(part) != std::string_view::npos;
}

Result<std::string> from_test_data(std::string_view name) {
    std::ifstream file(std::string(RAILSIDE_TEST_DATA) + "/netlists/" + std::string(name));
    if (!file) {
        return Error{ErrorCode::not_found, std::string(name), "there is no such file."};
    }
    return std::string{std::istreambuf_iterator<char>(file), {}};
}

Result<std::string> no_file(std::string_view name) {
    return Error{ErrorCode::not_found, std::string(name), "there is no such file."};
}

/// The lines after a title.
Netlist read(const std::string& lines, const NetlistSettings& settings = {}) {
    auto netlist = read_netlist("title\n" + lines, "a.cir", no_file, settings);
    if (!netlist) {
        FAIL(netlist.error().message);
    }
    return std::move(netlist).value();
}

Error refused(const std::string& lines, const NetlistSettings& settings = {}) {
    const auto netlist = read_netlist("title\n" + lines, "a.cir", no_file, settings);
    INFO(lines);
    REQUIRE_FALSE(netlist.ok());
    return netlist.error();
}

template <class Kind> const Kind& part(const Netlist& netlist, std::string_view name) {
    const auto id = netlist.circuit.find(name);
    INFO(name);
    REQUIRE(id.has_value());
    const Kind* part = std::get_if<Kind>(&netlist.circuit.element(*id).part);
    REQUIRE(part != nullptr);
    return *part;
}

bool noted(const Netlist& netlist, std::string_view words) {
    return std::any_of(netlist.notes.begin(), netlist.notes.end(),
                       [words](const std::string& note) { return holds(note, words); });
}

constexpr const char* k_cards = ".model qn npn(bf=100)\n.model dd d(is=1e-9)\n";

} // namespace

TEST_CASE("netlist: the example amplifiers are read unchanged", "[core][circuit]") {
    struct Row {
        std::string name;
        std::size_t elements; // counted in the files
        std::string title;
    };
    for (const Row& row :
         {Row{"a_ef2", 47,
              "(a) EF2 complementary, +-40 V, 8 ohm, Vbe multiplier (trim in lower arm)"},
          Row{"b2_dual", 61,
              "(b2) EF2 with dual-slope V-I limiter (own-rail resistor + diode/resistor to "
              "ground)"},
          Row{"c_quasi", 50,
              "(c) quasi-complementary, +-35 V, 8 ohm, three-terminal trim (wiper to base)"},
          Row{"f_lowp", 38,
              "(f) low power, +-25 V, 8 ohm, diode-string bias, bootstrapped VAS load"}}) {
        INFO(row.name);
        const auto text = from_test_data(row.name + ".cir");
        REQUIRE(text.ok());
        const auto netlist = read_netlist(*text, row.name + ".cir", from_test_data);
        REQUIRE(netlist.ok());
        CHECK(netlist->title == row.title);
        CHECK(netlist->circuit.elements().size() == row.elements);
        CHECK(netlist->circuit.first_guess.size() == 5);
        CHECK(netlist->circuit.temperature_c == 27);
        CHECK(netlist->notes.size() == 2);
        CHECK(noted(*netlist, ".options is passed over."));
        CHECK(noted(*netlist, "the commands of .control to line"));
        CHECK(part<Bipolar>(*netlist, "q9").model.forward_gain == 90);
        CHECK(part<Bipolar>(*netlist, "Q9").model.polarity == Polarity::npn);
        CHECK(part<Resistor>(*netlist, "rl").ohm == 8);
        CHECK(part<Inductor>(*netlist, "ll").henry == 1e-9);
    }
}

TEST_CASE("netlist: the example of a series lamp is read unchanged", "[core][circuit]") {
    const auto netlist = read_netlist(*from_test_data("g_dimbulb.cir"), "g_dimbulb.cir", no_file);
    REQUIRE(netlist.ok());
    CHECK(netlist->circuit.elements().size() == 22);
    const auto& mains = part<VoltageSource>(*netlist, "vm").value;
    const auto* sine = std::get_if<Waveform::Sine>(&mains.shape);
    REQUIRE(sine != nullptr);
    CHECK(sine->amplitude == 325.269119);
    CHECK(sine->frequency_hz == 50);
    CHECK(mains.dc == 0);
    CHECK(part<Capacitor>(*netlist, "cth").start_v == 300.0);
    CHECK(part<Diode>(*netlist, "d1").model.emission == 1.7);

    const auto& winding = part<ControlledSource>(*netlist, "ep1");
    CHECK(winding.what == ControlledSource::What::voltage);
    REQUIRE(winding.inputs.size() == 1);
    CHECK(winding.inputs[0].kind == ControlInput::Kind::volts);
    CHECK(winding.inputs[0].plus == netlist->circuit.find_node("p"));
    CHECK(winding.slopes == std::vector<double>{0.12826087});

    const auto& back = part<ControlledSource>(*netlist, "fp1");
    CHECK(back.what == ControlledSource::What::current);
    REQUIRE(back.inputs.size() == 1);
    CHECK(back.inputs[0].kind == ControlInput::Kind::current);
    CHECK(back.inputs[0].element == netlist->circuit.find("vs1"));

    const auto& lamp = part<ControlledSource>(*netlist, "blamp");
    CHECK(lamp.what == ControlledSource::What::current);
    REQUIRE(lamp.formula.has_value());
    REQUIRE(lamp.inputs.size() == 2);
    CHECK(lamp.inputs[0].plus == netlist->circuit.find_node("a"));
    CHECK(lamp.inputs[0].minus == netlist->circuit.find_node("b"));
    CHECK(lamp.inputs[1].plus == netlist->circuit.find_node("t"));
    CHECK(lamp.inputs[1].minus == 0);
}

TEST_CASE("netlist: resistors, capacitors and inductors", "[core][circuit]") {
    const Netlist netlist = read("R1 a b 4.7k\n"
                                 "r2 a gnd R=100 m=4\n"
                                 "R3 b 0 1k tc1=0.001 tc2=0\n"
                                 "C1 a 0 100p ic=-5\n"
                                 "C2 a 0 C=1u\n"
                                 "L1 b 0 1m IC=2\n"
                                 "L2 b 0 0\n");
    CHECK(part<Resistor>(netlist, "R1").ohm == 4700);
    CHECK(part<Resistor>(netlist, "R1").a == netlist.circuit.find_node("A"));
    CHECK(part<Resistor>(netlist, "R2").ohm == 25);
    CHECK(part<Resistor>(netlist, "R2").b == 0);
    CHECK(part<Capacitor>(netlist, "C1").farad == 100e-12);
    CHECK(part<Capacitor>(netlist, "C1").start_v == -5);
    CHECK(part<Capacitor>(netlist, "C2").farad == 1e-6);
    CHECK_FALSE(part<Capacitor>(netlist, "C2").start_v.has_value());
    CHECK(part<Inductor>(netlist, "L1").start_a == 2);
    CHECK(part<Inductor>(netlist, "L2").henry == 0);
    CHECK(noted(netlist, "R3 keeps its resistance"));
    CHECK(netlist.circuit.element(0).name == "R1");
}

TEST_CASE("netlist: 0 ohm is 1 milliohm and 1M is one too, with a note", "[core][circuit]") {
    const Netlist netlist = read("R1 a 0 0\nR2 a 0 1M\nR3 a 0 1MEG\nR4 a 0 R=2M\n");
    CHECK(part<Resistor>(netlist, "R1").ohm == 1e-3);
    CHECK(part<Resistor>(netlist, "R2").ohm == 1e-3);
    CHECK(part<Resistor>(netlist, "R3").ohm == 1e6);
    CHECK(netlist.notes == std::vector<std::string>{
                               "a.cir, line 2: R1 has 0 ohm; 1 milliohm is taken.",
                               "a.cir, line 3: 1M of R2 is milliohms, as M is milli in SPICE; a "
                               "megohm is 1MEG.",
                               "a.cir, line 5: 2M of R4 is milliohms, as M is milli in SPICE; a "
                               "megohm is 1MEG."});
}

TEST_CASE("netlist: independent sources and their shapes", "[core][circuit]") {
    const Netlist netlist = read("V1 a 0 5\n"
                                 "V2 b 0 DC 5 AC 1 90\n"
                                 "V3 c 0 sin(1 2 1k 1m 10 90)\n"
                                 "V4 d 0 dc 3 PULSE(0 5 1m 1u 2u 3m 10m)\n"
                                 "I1 a b pwl(0 0, 1m 2, 2m 1)\n"
                                 "V6 e 0\n"
                                 "V7 f 0 pulse(2 5)\n"
                                 "R1 a b 1\nR2 c d 1\nR3 e f 1\n");
    CHECK(part<VoltageSource>(netlist, "V1").value.dc == 5);
    CHECK(part<VoltageSource>(netlist, "V2").value.dc == 5);
    const auto& sine = part<VoltageSource>(netlist, "V3").value;
    CHECK(sine.dc == sine.at(0));
    CHECK(near(sine.dc, 1 + 2 * std::sin(std::acos(-1) / 2), 1e-15)); // 90 degrees before the delay
    const auto& pulse = part<VoltageSource>(netlist, "V4").value;
    CHECK(pulse.dc == 3);
    CHECK(pulse.at(0) == 0);
    CHECK(pulse.at(2e-3) == 5);
    CHECK(pulse.at(5e-3) == 0);
    CHECK(pulse.at(12e-3) == 5);
    CHECK(near(part<CurrentSource>(netlist, "I1").value.at(1.5e-3), 1.5, 1e-12));
    CHECK(part<VoltageSource>(netlist, "V6").value.dc == 0);
    CHECK(part<VoltageSource>(netlist, "V7").value.dc == 2);
    CHECK(part<VoltageSource>(netlist, "V7").value.at(1) == 5);
}

TEST_CASE("netlist: controlled sources may name a source that stands later", "[core][circuit]") {
    const Netlist netlist = read("F1 a 0 Vs 10\n"
                                 "H1 b 0 l1 2k\n"
                                 "G1 a 0 b 0 1m\n"
                                 "E1 c 0 value={2*v(a) + gain*i(H1)}\n"
                                 "G2 a 0 cur='v(b,a)/1k'\n"
                                 "B1 d 0 V = tanh(v(a))\n"
                                 "B2 d 0 i={v(d)/gain}\n"
                                 "Vs a b 0\nL1 c d 1\nR1 a 0 1\n"
                                 ".param gain=5\n");
    CHECK(part<ControlledSource>(netlist, "F1").inputs[0].element == netlist.circuit.find("vs"));
    CHECK(part<ControlledSource>(netlist, "H1").inputs[0].element == netlist.circuit.find("L1"));
    CHECK(part<ControlledSource>(netlist, "H1").what == ControlledSource::What::voltage);
    CHECK(part<ControlledSource>(netlist, "G1").what == ControlledSource::What::current);
    const auto& gain = part<ControlledSource>(netlist, "E1");
    REQUIRE(gain.inputs.size() == 2);
    CHECK(gain.inputs[1].element == netlist.circuit.find("H1"));
    std::vector<double> slopes(2);
    CHECK(gain.formula->evaluate(std::vector<double>{3, 4}, slopes) == 26);
    CHECK(part<ControlledSource>(netlist, "G2").what == ControlledSource::What::current);
    CHECK(part<ControlledSource>(netlist, "B1").what == ControlledSource::What::voltage);
    slopes.resize(1);
    CHECK(
        part<ControlledSource>(netlist, "B2").formula->evaluate(std::vector<double>{10}, slopes) ==
        2);
}

TEST_CASE("netlist: devices take area, m, temperatures, off and a substrate", "[core][circuit]") {
    const Netlist netlist = read(std::string(k_cards) + "Q1 c b e QN\n"
                                                        "Q2 c b e qn 2 off m=3 temp=60\n"
                                                        "Q3 c b e sub qn area=4 dtemp=10\n"
                                                        "Q4 c b e qn ic=0.6,5 area=2\n"
                                                        "D1 c 0 dd 2 temp=-20 ic=0.5\n"
                                                        "R1 b e 1\n"
                                                        ".temp 50\n");
    const auto& plain = part<Bipolar>(netlist, "Q1");
    CHECK(plain.collector == netlist.circuit.find_node("c"));
    CHECK(plain.base == netlist.circuit.find_node("b"));
    CHECK(plain.emitter == netlist.circuit.find_node("e"));
    CHECK(plain.area == 1);
    CHECK_FALSE(plain.junction.has_value());
    CHECK(plain.model.forward_gain == 100);
    CHECK(part<Bipolar>(netlist, "Q2").area == 6);
    CHECK(part<Bipolar>(netlist, "Q2").junction == 60);
    CHECK(part<Bipolar>(netlist, "Q3").area == 4);
    CHECK(part<Bipolar>(netlist, "Q3").junction == 60);
    CHECK(noted(netlist, "the substrate node sub of Q3 is passed over"));
    CHECK(part<Bipolar>(netlist, "Q4").area == 2);
    CHECK(part<Diode>(netlist, "D1").area == 2);
    CHECK(part<Diode>(netlist, "D1").junction == -20);
    CHECK(netlist.circuit.temperature_c == 50);
}

TEST_CASE("netlist: parameters, wherever they stand", "[core][circuit]") {
    const Netlist netlist = read("R1 a 0 {2*load}\n"
                                 "R2 a 0 'load + temper'\n"
                                 "R3 a 0 load\n"
                                 ".model qn npn(bf={gain*2} is=1e-15)\n"
                                 "Q1 a a 0 qn\n"
                                 ".param gain=50 load=8\n",
                                 {{"LOAD", 4}, {"temperature", 30}});
    CHECK(part<Resistor>(netlist, "R1").ohm == 8);
    CHECK(part<Resistor>(netlist, "R2").ohm == 34);
    CHECK(part<Resistor>(netlist, "R3").ohm == 4);
    CHECK(part<Bipolar>(netlist, "Q1").model.forward_gain == 100);
    CHECK(netlist.circuit.temperature_c == 30);
}

TEST_CASE("netlist: a setting changes an element's value", "[core][circuit]") {
    const std::string lines = "V1 a 0 5\nR1 a b 1\nC1 b 0 1u\nL1 b 0 1\nI1 a 0 1\nE1 c 0 a 0 2\n"
                              "R2 c 0 1\n";
    const Netlist netlist =
        read(lines, {{"v1", 7}, {"R1", 0}, {"C1", 2e-6}, {"L1", 0}, {"i1", -1}});
    CHECK(part<VoltageSource>(netlist, "V1").value.dc == 7);
    CHECK(part<Resistor>(netlist, "R1").ohm == 1e-3);
    CHECK(part<Capacitor>(netlist, "C1").farad == 2e-6);
    CHECK(part<Inductor>(netlist, "L1").henry == 0);
    CHECK(part<CurrentSource>(netlist, "I1").value.dc == -1);
    CHECK(noted(netlist, "R1 has 0 ohm"));
    CHECK(refused(lines, {{"R9", 1}}).code == ErrorCode::not_found);
    CHECK(refused(lines, {{"C1", -1}}).code == ErrorCode::out_of_range);
    CHECK(refused(lines, {{"E1", 1}}).code == ErrorCode::out_of_range);
    CHECK(refused(lines, {{"R1", std::nan("")}}).code == ErrorCode::out_of_range);
    CHECK(refused(lines, {{"temperature", -300}}).message ==
          "temperature: \u2212300 \u00b0C is not accepted. Accepted: \u2212200 to 400 \u00b0C.");
}

TEST_CASE("netlist: subcircuits are laid out flat, with their own parameters and cards",
          "[core][circuit]") {
    const Netlist netlist = read(".model qn npn(bf=10)\n"
                                 ".subckt follower in out params: re=100 gain=1\n"
                                 ".model qn npn(bf={20*gain})\n"
                                 "Q1 vcc in out qn\n"
                                 "Re out 0 {re*2}\n"
                                 "Xd in deep half m1=3\n"
                                 "Bx deep 0 v=v(in)*i(Vm)\n"
                                 "Vm deep 0 0\n"
                                 ".ends\n"
                                 ".subckt half a b m1=1\n"
                                 "R1 a b {m1}\n"
                                 ".ends half\n"
                                 ".global vcc\n"
                                 "X1 a b follower re=50 gain=2\n"
                                 "X2 b c follower\n"
                                 "Q9 a b 0 qn\n"
                                 "V1 vcc 0 10\n");
    CHECK(part<Bipolar>(netlist, "x1.Q1").model.forward_gain == 40);
    CHECK(part<Bipolar>(netlist, "x2.q1").model.forward_gain == 20);
    CHECK(part<Bipolar>(netlist, "q9").model.forward_gain == 10);
    CHECK(part<Resistor>(netlist, "x1.re").ohm == 100);
    CHECK(part<Resistor>(netlist, "x2.re").ohm == 200);
    CHECK(part<Resistor>(netlist, "x1.xd.r1").ohm == 3);
    CHECK(part<Resistor>(netlist, "x1.xd.r1").a == netlist.circuit.find_node("a"));
    CHECK(part<Resistor>(netlist, "x1.xd.r1").b == netlist.circuit.find_node("x1.deep"));
    CHECK(part<Bipolar>(netlist, "x2.q1").collector == netlist.circuit.find_node("vcc"));
    CHECK(part<Bipolar>(netlist, "x2.q1").base == netlist.circuit.find_node("b"));
    const auto& behaviour = part<ControlledSource>(netlist, "x2.bx");
    CHECK(behaviour.inputs[0].plus == netlist.circuit.find_node("b"));
    CHECK(behaviour.inputs[1].element == netlist.circuit.find("x2.vm"));
}

TEST_CASE("netlist: files are included, in quotes or without", "[core][circuit]") {
    const auto files = [](std::string_view name) -> Result<std::string> {
        if (name == "parts/my models.lib") {
            return std::string("* cards\n.model qn npn(bf=33)\n.include deeper.inc\n.end\nnothing");
        }
        if (name == "deeper.inc") {
            return std::string("R1 a 0 5\n");
        }
        if (name == "self.inc") {
            return std::string(".include self.inc\n");
        }
        if (name == "bad.inc") {
            return std::string("R7 a 0 1\n\nR8 a 0\n");
        }
        return no_file(name);
    };
    const auto netlist = read_netlist(
        "t\n.LIB \"parts/my models.lib\"\nQ1 a a 0 qn\n.include 'deeper2.inc'\n", "a.cir", files);
    REQUIRE_FALSE(netlist.ok());
    CHECK(holds(netlist.error().message, "a.cir, line 4: there is no such file."));
    const auto sound =
        read_netlist("t\n.inc \"parts/my models.lib\"\nQ1 a a 0 qn\n", "a.cir", files);
    REQUIRE(sound.ok());
    CHECK(part<Bipolar>(*sound, "q1").model.forward_gain == 33);
    CHECK(part<Resistor>(*sound, "r1").ohm == 5);
    CHECK(holds(read_netlist("t\n.include self.inc\nR1 a 0 1\n", "a.cir", files).error().message,
                "nest too deep"));
    CHECK(holds(read_netlist("t\n.include bad.inc\n", "a.cir", files).error().message,
                "bad.inc, line 3: the resistance of \"R8\" is missing."));
    CHECK(holds(read_netlist("t\n.lib models.lib typical\n", "a.cir", files).error().message,
                "a section of a library is not taken"));
}

TEST_CASE("netlist: what is passed over is noted", "[core][circuit]") {
    const Netlist netlist = read("R1 a 0 1\nV1 a 0 1\n"
                                 ".tran 1u 1m uic\n"
                                 ".options reltol=1e-4 temp=40\n"
                                 ".ic v(a)=2\n"
                                 ".model m1 nmos(vto=1)\n"
                                 ".model broken npn(bf=-1)\n"
                                 ".control\nR1 nonsense\nquit\n.endc\n"
                                 ".end\n"
                                 "Z9 nothing is read here");
    CHECK(netlist.notes ==
          std::vector<std::string>{
              "a.cir, line 9: the commands of .control to line 12 are passed over.",
              "a.cir, line 7: the card \"m1\" is of the type \"nmos\"; npn, pnp and d are used.",
              "a.cir, line 4: .tran is passed over.", "a.cir, line 5: .options is passed over.",
              "a.cir, line 6: .ic is taken as where the operating point begins, as .nodeset is.",
              "not used: a.cir, line 8: in the card \"broken\" the parameter bf is \"-1\". "
              "Accepted: a number above 0, to 1e+06."});
    CHECK(netlist.circuit.temperature_c == 40);
    CHECK(netlist.circuit.first_guess.at(*netlist.circuit.find_node("a")) == 2);

    const auto titled = read_netlist("R1 a 0 1k\nV1 a 0 1\nR2 a 0 1\n", "a.cir", no_file);
    REQUIRE(titled.ok());
    CHECK_FALSE(titled->circuit.find("R1").has_value());
    CHECK(
        noted(*titled, "the first line is the title, though \"R1 a 0 1k\" looks like an element."));
}

TEST_CASE("netlist: what is not taken is refused by line", "[core][circuit]") {
    struct Row {
        std::string lines;
        std::string_view part;
    };
    const std::string cards = k_cards;
    for (const Row& row : std::vector<Row>{
             {"M1 d g s b mod\n",
              "a.cir, line 2: \"M1\" is no element that is taken. Accepted: R C"},
             {"R1 a 0 1\n\nJ1 a b c j\n", "a.cir, line 4: \"J1\""},
             {".func f(x)={x}\n", "\".func\" is not taken here. Accepted: .model"},
             {"R1 a 0\n", "line 2: the resistance of \"R1\" is missing."},
             {"R1 a\n", "\"R1\" lacks a node."},
             {"R1 a 0 4k7\n",
              "the resistance of \"R1\" is \"4k7\". Accepted: a number such as 4.7k"},
             {"R1 a 0 1 foo=3\n", "\"R1\" takes no \"foo\". Accepted: r resistance m"},
             {"R1 a 0 1 2\n", "in \"R1\" the word \"2\" is not understood."},
             {"R1 a 0 1\nr1 a 0 2\n", "line 3: there are two elements \"r1\""},
             {"R1 a 0 1 m=0\n", "Accepted: a finite number of ohms"},
             {"C1 a 0 -1u\n", "the capacitance of \"C1\" is \u22121e-06. Accepted: 0 F or more."},
             {"L1 a 0 -1u\n", "Accepted: 0 H or more."},
             {"L1 a 0 ic=1\n", "the inductance of \"L1\" is missing."},
             {"V1 a 0 sin(0 1)\n",
              "the shape sin of \"V1\" has the wrong values. Accepted: sin(OFFSET"},
             {"V1 a 0 pulse(0 1 -1)\n", "no time below 0"},
             {"V1 a 0 pwl(0 1 0 2)\n", "rising times"},
             {"V1 a 0 exp(0 1)\n", "Accepted: a number, dc, ac, sin(...)"},
             {"V1 a 0 1 2\n", "the word \"2\" is not understood"},
             {"E1 a 0 poly(1) b 0 0 1\n", "IN+ IN\u2212 GAIN"},
             {"F1 a 0 V9 2\nR1 a 0 1\n",
              "\"F1\" looks at the current of \"V9\". Accepted: the name"},
             {"F1 a 0 R1 2\nR1 a 0 1\n", "\"F1\" looks at the current of \"R1\"."},
             {"B1 a 0 v=v(zz)\nR1 a 0 1\n",
              "\"B1\" looks at the node \"zz\", which no element joins."},
             {"B1 a 0 v=1+\nR1 a 0 1\n", "a.cir, line 2: Expression: \"1+\" is not understood"},
             {"B1 a 0 7\n", "Accepted: v=EXPRESSION or i=EXPRESSION."},
             {"Q1 a b c nomodel\n", "there is none called \"nomodel\""},
             {"Q1 a b c\n", "there is none called \"\""},
             {cards + "Q1 a b c dd\n", "\"Q1\" needs the card of a transistor"},
             {cards + "D1 a b qn\n", "\"D1\" needs the card of a diode"},
             {cards + "Q1 a b c qn area=0\n", "the area of \"Q1\", times m, is 0."},
             {cards + "Q1 a b c qn temp=-300\n", "the junction of \"Q1\" has \u2212300 \u00b0C."},
             {cards + "Q1 a b c qn 1 2\n", "the word \"2\""},
             {".model bad npn(bf=0)\nQ1 a b c bad\n",
              "in the card \"bad\" the parameter bf is \"0\""},
             {".model bad\n", "is not a card"},
             {".temp cold\n", "Accepted: a number, \u2212200 to 400 \u00b0C."},
             {".temp -300\nR1 a 0 1\n", "\u2212200 to 400"},
             {".param 1a=2\n", "Accepted: .param NAME=VALUE"},
             {".param a=b b=a\nR1 x 0 1\n", "leans on itself"},
             {"R1 a 0 {1/0}\n", "has no finite value"},
             {".nodeset a=1\n", "Accepted: v(NODE)=VOLTS."},
             {".subckt s a b\nR1 a b 1\n", "the .subckt \"s\" has no .ends."},
             {".ends\n", ".ends stands without a .subckt"},
             {"X1 a b nothing\n", "there is no .subckt \"nothing\"."},
             {".subckt s a b\nR1 a b 1\n.ends\nX1 a s\n",
              "1 nodes are given; the .subckt \"s\" has 2."},
             {".subckt s a\nX1 a s\n.ends\nX1 a s\n", "nest too deep"},
             {"+ 5\n", "the + continues nothing."},
             {"()\n", "is not understood"},
             {"* only a comment\n", "a.cir holds no element."},
             {".include\n", "needs the name of a file"}}) {
        const Error error = refused(row.lines);
        INFO(row.lines << error.message);
        CHECK(holds(error.message, row.part));
        CHECK_FALSE(error.field.empty());
    }
}

TEST_CASE("netlist: length and number have limits", "[core][circuit]") {
    CHECK(refused(std::string((8U << 20U) + 1, '\n')).code == ErrorCode::out_of_range);
    std::string many;
    for (int i = 0; i < 10'001; ++i) {
        many += "R" + std::to_string(i) + " a 0 1\n";
    }
    CHECK(holds(refused(many).message, "at most 10 000"));
    // Sixteen levels of two calls each would be 65 536 calls.
    std::string nested = ".subckt s0 a\nR1 a 0 1\n.ends\n";
    for (int i = 1; i < 16; ++i) {
        const std::string below = "s" + std::to_string(i - 1);
        nested +=
            ".subckt s" + std::to_string(i) + " a\nX1 a " + below + "\nX2 a " + below + "\n.ends\n";
    }
    CHECK(refused(nested + "X1 a s15\n").code == ErrorCode::out_of_range);
}

TEST_CASE("netlist: any text is read or refused with a sentence", "[core][circuit]") {
    const std::vector<std::string> pieces = {
        "R1",   "Q1",  "D1",     "E1",   "B1",       "X1",    "V1",     " a",      " b",
        " 0",   " 1k", "=",      "(",    ")",        "{",     "}",      "'",       "v(",
        "i=",   "\n",  "\n+",    "\n*",  ".model ",  "npn(",  "bf=",    ".subckt", ".ends",
        " sin", "dc",  ".param", " {a}", ".control", ".endc", ".temp ", " temp=",  "\r\n",
        "pwl",  "qn",  "-",      "$",    ";",        "\xff",  ".ic v(", "ic=",     "params:"};
    CHECK(rc::check("pieces", [&pieces] {
        const auto chosen =
            *rc::gen::container<std::vector<std::string>>(rc::gen::elementOf(pieces));
        std::string text;
        for (const std::string& piece : chosen) {
            text += piece;
        }
        const auto netlist = read_netlist(text, "noise", no_file);
        if (!netlist) {
            RC_ASSERT(!netlist.error().message.empty());
        }
    }));
}

TEST_CASE("netlist: the worked example of its page is read as the page says", "[core][circuit]") {
    std::ifstream file(std::string(RAILSIDE_TEST_DATA) + "/../../core/circuit/netlist.md");
    const std::string page{std::istreambuf_iterator<char>(file), {}};
    const auto heading = page.find("## A worked example");
    REQUIRE(heading != std::string::npos);
    const auto from = page.find("```\n", heading) + 4;
    const std::string text = page.substr(from, page.find("```", from) - from);
    const auto netlist = read_netlist(text, "example.cir", no_file, {{"rail", 10}, {"Rl", 2000}});
    REQUIRE(netlist.ok());
    CHECK(netlist->title == "One transistor as a current source");
    CHECK(netlist->circuit.elements().size() == 7);
    CHECK(netlist->circuit.node_count() == 1 + 5);
    CHECK(netlist->notes.empty());
    CHECK(part<VoltageSource>(*netlist, "Vcc").value.dc == 10);
    CHECK(part<Resistor>(*netlist, "Rl").ohm == 2000);
    CHECK(part<Bipolar>(*netlist, "Q1").junction == 40);
}
