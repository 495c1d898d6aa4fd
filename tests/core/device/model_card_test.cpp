#include "core/device/model_card.h"

#include "support/catch.h"

#include <rapidcheck.h>

#include <cmath>
#include <fstream>
#include <iterator>
#include <string>

using namespace railside;

namespace {

BipolarModel bipolar(std::string_view text) {
    const auto card = read_bipolar_card(text, "test");
    if (!card) {
        FAIL(card.error().message);
    }
    return std::get<BipolarModel>(card->constants);
}

DiodeModel diode(std::string_view text) {
    const auto cards = read_model_cards(text, "test");
    if (!cards) {
        FAIL(cards.error().message);
    }
    REQUIRE(cards->cards.size() == 1);
    return std::get<DiodeModel>(cards->cards.front().constants);
}

Error refused(std::string_view text) {
    const auto cards = read_model_cards(text, "a.lib");
    REQUIRE_FALSE(cards.ok());
    return cards.error();
}

bool holds(std::string_view text, std::string_view part) {
    return text.find(part) != std::string_view::npos;
}

} // namespace

TEST_CASE("model card: numbers with scale factors and units", "[core][device]") {
    // Each is the double nearest to what is written.
    struct Row {
        std::string_view text;
        double value;
    };
    for (const Row& row : {Row{"4.7k", 4700},
                           {"100meg", 1e8},
                           {"100MEGohm", 1e8},
                           {"1M", 1e-3},
                           {"22u", 22e-6},
                           {"22\u00b5F", 22e-6},
                           {"22\u03bcF", 22e-6},
                           {"22\xb5"
                            "F",
                            22e-6},
                           {"10pF", 10e-12},
                           {"1e-12", 1e-12},
                           {"1.2E+3", 1200},
                           {"1.5d3", 1500},
                           {"1e3k", 1e6},
                           {"5V", 5},
                           {"5e", 5},
                           {"5eV", 5},
                           {"-.5", -0.5},
                           {"+3.", 3},
                           {"2t", 2e12},
                           {"2g", 2e9},
                           {"3n", 3e-9},
                           {"3f", 3e-15},
                           {"10mil", 10 * 25.4e-6},
                           {"0", 0},
                           {"1e-400", 0},
                           {"325.269119", 325.269119},
                           {"12345678901234567890123", 1.2345678901234567890e22},
                           {"0.00000000000000000000000123456789012345678", 1.23456789012345678e-24},
                           {"0.29999999999999999", 0.3}}) {
        INFO(row.text);
        const auto value = spice_number(row.text);
        REQUIRE(value.has_value());
        CHECK(near(*value, row.value, row.text == "10mil" ? 1e-15 : 0));
    }
    for (const std::string_view text :
         {"", "-", ".", "k", "e5", "4k7", "1.2.3", "1e400", "--1", "1 2", "1,5", "nan", "inf",
          "1e3e3e", "0x10", "5%", "+-3", "1e309", "1e99999999999999999999"}) {
        INFO(text);
        if (text == "1e3e3e") {
            CHECK_FALSE(spice_number("1e3e3").has_value());
        } else {
            CHECK_FALSE(spice_number(text).has_value());
        }
    }
}

TEST_CASE("model card: a transistor's constants, with what is absent at its default",
          "[core][device]") {
    const BipolarModel model = bipolar(
        ".MODEL QON NPN (IS=2e-11 bf = 90 Nf=1, vaf=120\n"
        "+ ikf=7 nkf=0.6 ise=2e-11 ne=1.8 br=4 nr=1.1 var=30 ikr=0.5 isc=1e-12 nc=1.9\n"
        "+ rb=1.5 irb=10m rbm=0.3 re=0.02 rc=80m cje=1.5n xtb=1.5 eg=1.12 xti=3.5 tnom=25)");
    BipolarModel expected;
    expected.polarity = Polarity::npn;
    expected.saturation_a = 2e-11;
    expected.forward_gain = 90;
    expected.forward_early_v = 120;
    expected.forward_knee_a = 7;
    expected.knee_power = 0.6;
    expected.emitter_leak_a = 2e-11;
    expected.emitter_leak_emission = 1.8;
    expected.reverse_gain = 4;
    expected.reverse_emission = 1.1;
    expected.reverse_early_v = 30;
    expected.reverse_knee_a = 0.5;
    expected.collector_leak_a = 1e-12;
    expected.collector_leak_emission = 1.9;
    expected.base_ohm = 1.5;
    expected.base_fall_a = 10e-3;
    expected.base_least_ohm = 0.3;
    expected.emitter_ohm = 0.02;
    expected.collector_ohm = 80e-3;
    expected.gain_power = 1.5;
    expected.gap_ev = 1.12;
    expected.saturation_power = 3.5;
    expected.card_c = 25;
    CHECK(model == expected);

    BipolarModel empty;
    empty.polarity = Polarity::pnp;
    CHECK(bipolar(".model q pnp") == empty);
    CHECK(bipolar(".model q pnp()") == empty);
}

TEST_CASE("model card: 0 stands for no Early effect, no knee and no breakdown", "[core][device]") {
    CHECK(bipolar(".model q npn(vaf=0 ikf=0 var=0 ikr=0 irb=0)") == BipolarModel());
    CHECK(diode(".model d d(bv=0 ikf=0)") == DiodeModel());
}

TEST_CASE("model card: other spellings and leaks as multiples of IS", "[core][device]") {
    BipolarModel expected;
    expected.saturation_a = 1e-15;
    expected.forward_early_v = 80;
    expected.reverse_early_v = 20;
    expected.forward_knee_a = 0.1;
    expected.knee_power = 0.7;
    expected.emitter_leak_a = 1e-12;
    expected.collector_leak_a = 2e-15;
    expected.saturation_power = 4;
    // C2 stands before IS: it is a multiple all the same.
    CHECK(
        bipolar(".model q npn(c2=1000 is=1e-15 va=80 vb=20 ik=0.1 nk=0.7 c4=2 pt=4 pe=0.7 ps=1)") ==
        expected);
}

TEST_CASE("model card: a diode's constants", "[core][device]") {
    DiodeModel expected;
    expected.saturation_a = 3e-9;
    expected.emission = 1.8;
    expected.series_ohm = 0.6;
    expected.breakdown_v = 100;
    expected.breakdown_a = 1e-5;
    expected.breakdown_emission = 2;
    expected.knee_a = 0.5;
    expected.recombination_a = 1e-10;
    expected.recombination_emission = 2.1;
    expected.gap_ev = 1.2;
    expected.saturation_power = 2;
    expected.card_c = 20;
    CHECK(diode(".model dsm d is=3e-9 n=1.8 rs=0.6 cjo=3p tt=5n eg=1.2 xti=2 bv=100 ibv=10u nbv=2 "
                "ikf=0.5 isr=1e-10 nr=2.1 tnom=20") == expected);
}

TEST_CASE("model card: what is not used is named, not refused", "[core][device]") {
    const auto cards = read_model_cards("first line\n"
                                        ".model q1 npn(is=1e-14 cje=12p mfg=Somebody Vceo=45 kf)\n"
                                        ".model m1 nmos(vto=2)\n"
                                        ".model q2 npn(level=4 is=1e-14)\n"
                                        ".model q3 ako:q1 npn(bf=50)\n"
                                        "R1 a b 1k\n",
                                        "a.lib");
    REQUIRE(cards.ok());
    REQUIRE(cards->cards.size() == 1);
    CHECK(cards->cards[0].name == "q1");
    CHECK(cards->cards[0].line == 2);
    CHECK(cards->cards[0].ignored == std::vector<std::string>{"cje", "mfg", "Vceo", "kf"});
    REQUIRE(cards->notes.size() == 3);
    CHECK(cards->notes[0] ==
          "a.lib, line 3: the card \"m1\" is of the type \"nmos\"; npn, pnp and d are used.");
    CHECK(holds(cards->notes[1], "line 4: the card \"q2\" is of another level"));
    CHECK(holds(cards->notes[2], "\"q3\""));
}

TEST_CASE("model card: a constant that cannot be is refused with line, card, value and range",
          "[core][device]") {
    const Error error = refused("* a library\n.model qon npn(is=2e-11 bf=-5)");
    CHECK(error.code == ErrorCode::out_of_range);
    CHECK(error.field == "bf");
    CHECK(error.message == "a.lib, line 2: in the card \"qon\" the parameter bf is \"-5\". "
                           "Accepted: a number above 0, to 1e+06.");
    for (const std::string_view parameter :
         {"is=0",     "is=-1e-14", "is=2",       "bf=0",  "bf=1e7",  "br=0",          "nf=0",
          "vaf=-1",   "ikf=-1",    "ise=-1e-15", "rb=-1", "re=-0.1", "rc=-1",         "eg=0",
          "xti=1000", "tnom=-300", "ne=0",       "nkf=0", "c2=-1",   "is=0.1 c2=1000"}) {
        INFO(parameter);
        CHECK(refused(".model q npn(" + std::string(parameter) + ")").code ==
              ErrorCode::out_of_range);
    }
    for (const std::string_view parameter :
         {"is=0", "n=0", "rs=-1", "bv=-5", "ibv=0", "isr=-1", "tnom=1000"}) {
        INFO(parameter);
        CHECK(refused(".model q d(" + std::string(parameter) + ")").code ==
              ErrorCode::out_of_range);
    }
    for (const std::string_view parameter :
         {"is=nan", "is=", "is", "bf=4k7", "vaf=inf", "is=1e999"}) {
        INFO(parameter);
        CHECK(refused(".model q npn(" + std::string(parameter) + ")").code == ErrorCode::bad_text);
    }
    CHECK(holds(refused(".model q").message, "Accepted: .model NAME TYPE"));
    CHECK(refused(".model").code == ErrorCode::bad_text);
}

TEST_CASE("model card: the last card of a name counts, letters in either case", "[core][device]") {
    const auto cards = read_model_cards(".model Q npn(bf=10)\n.model q npn(bf=20)\n", "a");
    REQUIRE(cards.ok());
    const ModelCard* card = find_card(cards->cards, "q");
    REQUIRE(card != nullptr);
    CHECK(std::get<BipolarModel>(card->constants).forward_gain == 20);
    CHECK(find_card(cards->cards, "r") == nullptr);
}

TEST_CASE("model card: a transistor's card is found by name, or the first is taken",
          "[core][device]") {
    const std::string_view text = ".model d1 d(is=1e-9)\n.model a npn(bf=10)\n.model b pnp(bf=20)";
    CHECK(read_bipolar_card(text, "x")->name == "a");
    CHECK(read_bipolar_card(text, "x", "B")->name == "b");
    const auto absent = read_bipolar_card(text, "x", "d1");
    REQUIRE_FALSE(absent.ok());
    CHECK(absent.error().code == ErrorCode::not_found);
    CHECK(holds(read_bipolar_card("nothing", "x").error().message, "x holds no card"));
    CHECK(holds(read_bipolar_card(".model m nmos()", "x").error().message, "nmos"));
}

TEST_CASE("model card: the library of the example circuits is read whole", "[core][device]") {
    std::ifstream file(std::string(RAILSIDE_TEST_DATA) + "/netlists/models.lib");
    const std::string text{std::istreambuf_iterator<char>(file), {}};
    const auto cards = read_model_cards(text, "models.lib");
    REQUIRE(cards.ok());
    CHECK(cards->cards.size() == 20);
    CHECK(cards->notes.empty());
    const ModelCard* qon = find_card(cards->cards, "QON");
    REQUIRE(qon != nullptr);
    CHECK(std::get<BipolarModel>(qon->constants).forward_knee_a == 7);
}

TEST_CASE("model card: what is printed reads back as the same constants", "[core][device]") {
    CHECK(rc::check("print_card, read_bipolar_card", [] {
        const auto part = [](double low, double high) {
            const double where = *rc::gen::inRange(0, 1'000'001) / 1e6;
            return low * std::pow(high / low, where);
        };
        BipolarModel model;
        model.polarity = *rc::gen::arbitrary<bool>() ? Polarity::npn : Polarity::pnp;
        model.saturation_a = part(1e-18, 1e-8);
        model.forward_gain = part(1, 1000);
        if (*rc::gen::arbitrary<bool>()) {
            model.forward_early_v = part(5, 1000);
            model.forward_knee_a = part(1e-3, 100);
            model.base_least_ohm = part(1e-3, 10);
        }
        model.emitter_leak_a = part(1e-18, 1e-8);
        model.base_ohm = part(1e-3, 500);
        model.gap_ev = part(0.6, 1.3);
        model.card_c = part(1, 100);
        const auto card = read_bipolar_card(print_card("q 1", model), "printed");
        RC_ASSERT(card.ok());
        RC_ASSERT(card->name == "q_1");
        RC_ASSERT(std::get<BipolarModel>(card->constants) == model);
    }));
}

TEST_CASE("model card: no text of any kind does worse than be refused", "[core][device]") {
    using namespace std::string_literals;
    const std::string marks =
        ".model npn pnp d(is=1e-14,bf)\n+*;$={}'\"\r\0\xc2\xb5kKmMgG0123456789-."s;
    CHECK(rc::check("bytes", [&marks] {
        const auto bytes = *rc::gen::container<std::string>(rc::gen::elementOf(marks));
        const auto cards = read_model_cards(".model " + bytes, "noise");
        if (!cards) {
            RC_ASSERT(!cards.error().message.empty());
        }
        RC_ASSERT(std::isfinite(spice_number(bytes).value_or(0)));
    }));
    CHECK_FALSE(read_model_cards(std::string((4U << 20U) + 1, 'x'), "long").ok());
}
