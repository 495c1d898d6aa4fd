#include "core/device/stand_in.h"

#include "support/catch.h"

#include <rapidcheck.h>

#include <algorithm>
#include <cmath>
#include <string>

using namespace railside;

namespace {

/// A small table of invented types, so that each rule is seen alone.
const PartsTable& own_table() {
    static const PartsTable k_table = [] {
        const std::string head =
            "type\tpolarity\tkind\tv_ceo\ti_c\tp_d\thfe_min\thfe_max\thfe_at\t"
            "f_t\tc_ob\tt_j\tsafe_area\tpackage\tleads\tinsulated\tcomplement\t"
            "source\n";
        // The original: 140 V, 12 A, 120 W.
        const std::string rows =
            "QA100\tnpn\t\t140\t12\t120\t60\t200\t1\t20M\t200p\t150\t40:3 80:800m\tTO-3P\tBCE\tno\t"
            "QA200\tx\n"
            "QA200\tpnp\t\t140\t12\t120\t60\t200\t1\t20M\t250p\t150\t40:3 80:800m\tTO-3P\tBCE\tno\t"
            "QA100\tx\n"
            // Better in everything.
            "QB100\tnpn\t\t230\t15\t150\t70\t200\t1\t30M\t200p\t150\t40:3.75 "
            "80:1\tTO-247\tBCE\tno\t"
            "QB200\tx\n"
            // As good, and nearer.
            "QC100\tnpn\t\t140\t12\t120\t55\t200\t1\t20M\t220p\t150\t40:3 "
            "80:800m\tTO-3P\tBCE\tno\t\t"
            "x\n"
            // Too few volts.
            "QD100\tnpn\t\t60\t12\t120\t60\t200\t1\t20M\t200p\t150\t40:3\tTO-3P\tBCE\tno\t\tx\n"
            // Nothing known but its volts.
            "QE100\tnpn\t\t140\t\t\t\t\t\t\t\t\t\tTO-3P\tBCE\tno\t\tx\n"
            // Mirrored leads, ten times the capacitance, five times the speed.
            "QF100\tnpn\t\t140\t12\t120\t60\t200\t1\t100M\t2n\t150\t40:3 "
            "80:800m\tTO-3P\tECB\tno\t\t"
            "x\n"
            // A Darlington.
            "QG100\tnpn\tdarlington\t140\t12\t120\t1000\t\t5\t\t\t150\t40:3\tTO-3P\tBCE\tno\t\tx\n";
        return read_parts_table(head + rows, "test").value();
    }();
    REQUIRE(k_table.left_out.empty());
    return k_table;
}

const Part& own(std::string_view type) {
    const auto found = find_part(own_table(), type);
    REQUIRE(found.has_value());
    return *found->part;
}

/// The fictional SA-260: ±40 V, 8 ohm, one pair.
Position output_position(const Part* original) {
    Position position;
    position.role = Role::output;
    position.polarity = Polarity::npn;
    position.rail_v = 40;
    position.load_ohm = 8;
    position.pairs = 1;
    position.original = original;
    return position;
}

const Margin& margin(const Candidate& candidate, Parameter parameter) {
    const auto found =
        std::find_if(candidate.margins.begin(), candidate.margins.end(),
                     [parameter](const Margin& each) { return each.parameter == parameter; });
    REQUIRE(found != candidate.margins.end());
    return *found;
}

Candidate judged(const Position& position, const Part& part, const Drawer& drawer = {}) {
    return judge_part(position, part, std::nullopt, own_table(), drawer);
}

MarginState state(const Candidate& candidate, Parameter parameter) {
    return margin(candidate, parameter).state;
}

} // namespace

TEST_CASE("stand-in: what an output position asks", "[core][device]") {
    const Needs needs = needs_of(output_position(nullptr));
    // 2·40 V; with mains 10 % high and 2 V of catch diodes 90 V. Exact.
    CHECK(near(needs.ceo_v->bare, 80, 1e-12));
    CHECK(near(needs.ceo_v->wanted, 90, 1e-12));
    // 40/8; 44/6.4 (IEC 60268-5: down to 80 % of nominal). Exact.
    CHECK(near(needs.collector_a->bare, 5, 1e-12));
    CHECK(near(needs.collector_a->wanted, 6.875, 1e-12));
    // Worst mean dissipation, resistive, of a 40 V stage into 8 ohm: 20.264 W; at 45° 28.658 W
    // (closed form of Sedra & Smith), times 1.21/0.8 for the reserve. 0.1 %.
    CHECK(near(needs.power_w->bare, 20.264, 1e-3));
    CHECK(near(needs.power_w->wanted, 28.658 * 1.21 / 0.8, 1e-3));
    CHECK(needs.gain->wanted > 0);
    CHECK_FALSE(needs.transit_hz);
}

TEST_CASE("stand-in: pairs share current and dissipation, not volts", "[core][device]") {
    Position position = output_position(nullptr);
    const Needs one = needs_of(position);
    position.pairs = 2;
    const Needs two = needs_of(position);
    CHECK(two.ceo_v->wanted == one.ceo_v->wanted);
    CHECK(near(two.collector_a->wanted * 2, one.collector_a->wanted, 1e-12));
    CHECK(near(two.power_w->wanted * 2, one.power_w->wanted, 1e-12));
}

TEST_CASE("stand-in: every role has its volts", "[core][device]") {
    struct Row {
        Role role;
        double bare;
    };
    // 40 V rails: both rails where the stage swings the output, one at an input pair, a few volts
    // across limiter and spreader.
    const Row rows[] = {{Role::output, 80},       {Role::driver, 80},
                        {Role::pre_driver, 80},   {Role::voltage_amplifier, 80},
                        {Role::input_pair, 40},   {Role::limiter, 6},
                        {Role::bias_spreader, 5}, {Role::other, 80}};
    for (const Row& row : rows) {
        Position position = output_position(nullptr);
        position.role = row.role;
        const Needs needs = needs_of(position);
        INFO(role_info(row.role).key);
        REQUIRE(needs.ceo_v);
        CHECK(needs.ceo_v->bare == row.bare);
        CHECK(needs.ceo_v->wanted > needs.ceo_v->bare);
    }
    // A driver carries the outputs' base current: 5 A over a gain of 50 to 20.
    Position driver = output_position(nullptr);
    driver.role = Role::driver;
    CHECK(near(needs_of(driver).collector_a->bare, 0.1, 1e-12));
    CHECK(near(needs_of(driver).collector_a->wanted, 6.875 / 20, 1e-12));
}

TEST_CASE("stand-in: with an original its gain, speed and capacitance are the measure",
          "[core][device]") {
    const Needs needs = needs_of(output_position(&own("QA100")));
    CHECK(needs.gain->bare == 30);
    CHECK(needs.gain->wanted == 48);
    CHECK(needs.gain_a == 1);
    CHECK(near(needs.transit_hz->wanted, 14e6, 1e-12));
    CHECK(near(*needs.most_output_f, 400e-12, 1e-12));

    Position grouped = output_position(&own("QA100"));
    grouped.original_group = GainGroup{"Y", 100, 200};
    CHECK(needs_of(grouped).gain->wanted == 80);
}

TEST_CASE("stand-in: a part as good as the original passes", "[core][device]") {
    const Candidate candidate = judged(output_position(&own("QA100")), own("QC100"));
    CHECK(candidate.fails == 0);
    CHECK(candidate.unknowns == 0);
    CHECK(candidate.tights == 0);
    CHECK(candidate.passes());
    CHECK(candidate.leads == LeadOrder::same);
    REQUIRE(candidate.smallest);
    for (const Margin& each : candidate.margins) {
        if (each.ratio) {
            CHECK(*candidate.smallest->ratio <= *each.ratio);
        }
    }
}

TEST_CASE("stand-in: dissipation is that at working temperature", "[core][device]") {
    // 120 W at 25 °C, junction 150 °C: 120·(150 − 75)/(150 − 25) = 72 W. Exact.
    const Candidate candidate = judged(output_position(&own("QA100")), own("QC100"));
    const Margin& power = margin(candidate, Parameter::power);
    CHECK(power.has.starts_with("72\u2009W"));
    CHECK(near(*power.ratio, 72 / (28.658 * 1.21 / 0.8), 1e-3));
}

TEST_CASE("stand-in: under the bare need a part fails", "[core][device]") {
    const Candidate candidate = judged(output_position(&own("QA100")), own("QD100"));
    CHECK(state(candidate, Parameter::ceo) == MarginState::fail);
    CHECK(margin(candidate, Parameter::ceo).has == "60\u2009V");
    CHECK(margin(candidate, Parameter::ceo).needed == "90\u2009V");
    CHECK(candidate.fails >= 1);
}

TEST_CASE("stand-in: between bare and wanted it is tight, unless the original was no better",
          "[core][device]") {
    Position position = output_position(nullptr);
    position.rail_v = 65; // 130 V bare, 145 V wanted
    CHECK(state(judged(position, own("QC100")), Parameter::ceo) == MarginState::tight);
    position.original = &own("QA100"); // 140 V as well
    CHECK(state(judged(position, own("QC100")), Parameter::ceo) == MarginState::pass);
    position.original = &own("QB100"); // 230 V
    CHECK(state(judged(position, own("QC100")), Parameter::ceo) == MarginState::tight);
}

TEST_CASE("stand-in: what is unknown never passes", "[core][device]") {
    const Candidate candidate = judged(output_position(&own("QA100")), own("QE100"));
    for (const Parameter parameter : {Parameter::collector, Parameter::power, Parameter::safe_area,
                                      Parameter::gain, Parameter::transit, Parameter::output_cap}) {
        INFO(parameter_label(parameter));
        CHECK(state(candidate, parameter) == MarginState::unknown);
        CHECK(margin(candidate, parameter).has == "not known");
    }
    CHECK(candidate.unknowns == 6);
    CHECK_FALSE(candidate.passes());
}

TEST_CASE("stand-in: a SPICE card's volts and gain fail or stay unknown", "[core][device]") {
    Part card;
    card.type = "QX";
    card.from_card = true;
    card.ceo_v = 230;
    card.collector_a = 15;
    card.card_gain = 100;
    card.card_gain_a = 1.5;
    const Candidate candidate = judged(output_position(&own("QA100")), card);
    CHECK(state(candidate, Parameter::ceo) == MarginState::unknown);
    CHECK(margin(candidate, Parameter::ceo).reason.find("V_CBO") != std::string::npos);
    CHECK(state(candidate, Parameter::gain) == MarginState::unknown);
    CHECK(state(candidate, Parameter::collector) == MarginState::pass);
    card.ceo_v = 60;
    card.card_gain = 10;
    CHECK(state(judged(output_position(&own("QA100")), card), Parameter::ceo) == MarginState::fail);
    CHECK(state(judged(output_position(&own("QA100")), card), Parameter::gain) ==
          MarginState::fail);
}

TEST_CASE("stand-in: mirrored leads, a fast part and a big capacitance are warned of",
          "[core][device]") {
    const Candidate candidate = judged(output_position(&own("QA100")), own("QF100"));
    CHECK(candidate.leads == LeadOrder::mirrored);
    CHECK(state(candidate, Parameter::leads) == MarginState::tight);
    CHECK(state(candidate, Parameter::output_cap) == MarginState::tight);
    const auto warned = [&candidate](std::string_view of) {
        return std::any_of(
            candidate.warnings.begin(), candidate.warnings.end(),
            [of](const std::string& each) { return each.find(of) != std::string::npos; });
    };
    CHECK(warned("oscillation"));
    CHECK(warned("mirrored"));
    CHECK(warned("capacitance, 10 times")); // 2 nF against 200 pF
    CHECK(candidate.fails == 0);
}

TEST_CASE("stand-in: polarity and kind have to be the original's", "[core][device]") {
    CHECK(state(judged(output_position(&own("QA100")), own("QA200")), Parameter::polarity) ==
          MarginState::fail);
    CHECK(state(judged(output_position(&own("QA100")), own("QG100")), Parameter::kind) ==
          MarginState::fail);
    CHECK(state(judged(output_position(nullptr), own("QG100")), Parameter::kind) ==
          MarginState::unknown);
    Position unknown = output_position(nullptr);
    unknown.polarity = std::nullopt;
    CHECK(state(judged(unknown, own("QA100")), Parameter::polarity) == MarginState::unknown);
}

TEST_CASE("stand-in: the body asked for must fit, the original's is only preferred",
          "[core][device]") {
    Part small = own("QC100");
    small.package = "TO-220";
    Position position = output_position(&own("QA100"));
    CHECK(state(judged(position, small), Parameter::body) == MarginState::tight);
    position.package = "TO-3P";
    CHECK(state(judged(position, small), Parameter::body) == MarginState::fail);
    position.package = "TO220";
    CHECK(state(judged(position, small), Parameter::body) == MarginState::pass);
    // Nothing to screw down.
    small.package = "TO-92";
    position.package = "";
    CHECK(state(judged(position, small), Parameter::body) == MarginState::fail);
    small.package = "TO-247"; // the same fixing as TO-3P
    position.package = "TO-3P";
    CHECK(state(judged(position, small), Parameter::body) == MarginState::pass);
    small.package = "";
    CHECK(state(judged(position, small), Parameter::body) == MarginState::unknown);
}

TEST_CASE("stand-in: a bare face in the place of an insulated one asks for a washer",
          "[core][device]") {
    Part molded = own("QA100");
    molded.insulated = Insulation::yes;
    const Candidate bare = judged(output_position(&molded), own("QC100"));
    CHECK(state(bare, Parameter::insulation) == MarginState::tight);
    CHECK(bare.warnings.size() == 1);
    Part also = own("QC100");
    also.insulated = Insulation::yes;
    CHECK(state(judged(output_position(&molded), also), Parameter::insulation) ==
          MarginState::pass);
}

TEST_CASE("stand-in: the safe limit against known points", "[core][device]") {
    Part part;
    part.collector_a = 15;
    part.power_w = 150;
    part.junction_c = 150;
    part.ceo_v = 120;
    // One point and a slope of 1.8 as two points.
    part.safe = {{40, 3.75}, {80, 3.75 * std::pow(2.0, -1.8)}};
    struct Row {
        double volts, case_c, amperes;
    };
    // min(I_C; k·P/V; k·I·(V/V0)^−1.8), k = (150 − T)/125. Tolerance 0.1 %.
    const Row rows[] = {{10, 25, 15},     {40, 25, 3.75},     {40, 75, 2.25},
                        {60, 75, 1.0845}, {80, 100, 0.43076}, {121, 25, 0}};
    for (const Row& row : rows) {
        const auto limit = safe_limit(part, row.volts, row.case_c);
        INFO(row.volts << " V, " << row.case_c << " °C");
        REQUIRE(limit);
        CHECK(near(limit->amperes, row.amperes, 1e-3));
        CHECK(limit->second_known);
    }
    part.safe.clear();
    CHECK_FALSE(safe_limit(part, 40, 25)->second_known);
    part.power_w.reset();
    CHECK_FALSE(safe_limit(part, 40, 25));
}

TEST_CASE("stand-in: the load line against the limit, by hand", "[core][device]") {
    // ±40 V into 8 ohm resistive: i = 5·sin θ, v = 40·(1 − sin θ), product greatest at sin θ = 1/2:
    // 20 V, 2.5 A = 50 W. With 72 W at 75 °C and the points far away the least ratio there is 1.44.
    Part part = own("QA100");
    part.safe = {{120, 0.6}};
    const Candidate candidate = judged(output_position(&own("QA100")), part);
    CHECK(margin(candidate, Parameter::safe_area).has.find("1.4 resistive") != std::string::npos);
    part.power_w = 60; // 36 W at 75 °C: 0.72
    CHECK(state(judged(output_position(&own("QA100")), part), Parameter::safe_area) ==
          MarginState::fail);
}

TEST_CASE("stand-in: without second-breakdown points the safe area is unknown", "[core][device]") {
    Part part = own("QC100");
    part.safe.clear();
    CHECK(state(judged(output_position(&own("QA100")), part), Parameter::safe_area) ==
          MarginState::unknown);
}

TEST_CASE("stand-in: no fails first, then fewest doubts, then the drawer, then the nearest",
          "[core][device]") {
    const Position position = output_position(&own("QA100"));
    const auto order = [&position](const Drawer& drawer) {
        std::string types;
        for (const Candidate& each : rank_parts(position, own_table(), drawer)) {
            types += each.part->type + " ";
        }
        return types;
    };
    // QC is nearer than QB; QF is tight; QE is mostly unknown; QD fails. The original and what is
    // of another polarity or kind are not there.
    CHECK(order({}) == "QC100 QB100 QF100 QE100 QD100 ");
    CHECK(order({{"QB100", 2, "box"}}) == "QB100 QC100 QF100 QE100 QD100 ");
    CHECK(order({{"QD100", 9, "box"}}) == "QC100 QB100 QF100 QE100 QD100 ");
}

TEST_CASE("stand-in: stock of a part and of its complement is told", "[core][device]") {
    const Drawer drawer{{"QB100", 2, "box"}, {"QA200", 3, ""}};
    const Position position = output_position(&own("QC100"));
    const Candidate big = judged(position, own("QB100"), drawer);
    CHECK(big.stock.count == 2);
    CHECK_FALSE(big.complement_known); // QB200 is not in the table
    const Candidate first = judged(position, own("QA100"), drawer);
    CHECK(first.complement_known);
    CHECK(first.complement_stock.count == 3);
}

TEST_CASE("stand-in: what has to be replaced with it", "[core][device]") {
    Position position = output_position(&own("QA100"));
    position.pairs = 3;
    const auto said = together_with(position, judged(position, own("QB100")));
    REQUIRE(said.size() == 2);
    CHECK(said[0].find("all 3 devices") != std::string::npos);
    CHECK(said[1].find("QB200") != std::string::npos);
    position.pairs = 1;
    const auto none = together_with(position, judged(position, own("QC100")));
    REQUIRE(none.size() == 1);
    CHECK(none[0].find("No complement of QC100") != std::string::npos);
    CHECK(together_with(position, judged(position, own("QA100"))).empty());
    position.role = Role::input_pair;
    CHECK(together_with(position, judged(position, own("QC100")))[0].find("matched") !=
          std::string::npos);
    position.role = Role::limiter;
    CHECK(together_with(position, judged(position, own("QC100"))).empty());
}

TEST_CASE("stand-in: higher rails never make a part fit better", "[core][device]") {
    CHECK(rc::check([] {
        const auto& parts = builtin_parts().parts;
        const Part& part =
            parts[static_cast<std::size_t>(*rc::gen::inRange(0, static_cast<int>(parts.size())))];
        Position position = output_position(nullptr);
        position.polarity = part.polarity;
        position.rail_v = *rc::gen::inRange(5, 150);
        position.load_ohm = *rc::gen::element(2.0, 4.0, 8.0, 16.0);
        position.pairs = *rc::gen::inRange(1, 6);
        const Candidate low = judge_part(position, part, std::nullopt, builtin_parts(), {});
        position.rail_v += *rc::gen::inRange(1, 50);
        const Candidate high = judge_part(position, part, std::nullopt, builtin_parts(), {});
        RC_ASSERT(low.fails <= high.fails);
        RC_ASSERT(low.margins.size() == high.margins.size());
        for (std::size_t i = 0; i < low.margins.size(); ++i) {
            if (low.margins[i].ratio && high.margins[i].ratio) {
                RC_ASSERT(*low.margins[i].ratio >= *high.margins[i].ratio * (1 - 1e-12));
            }
        }
    }));
}

TEST_CASE("stand-in: names of parameters and states", "[core][device]") {
    CHECK(parameter_symbol(Parameter::ceo) == "V_CEO");
    CHECK(parameter_symbol(Parameter::leads).empty());
    CHECK(parameter_short(Parameter::leads) == "leads");
    CHECK(parameter_short(Parameter::ceo) == "V_CEO");
    CHECK(parameter_label(Parameter::insulation) == "Mounting face");
    CHECK(margin_key(MarginState::pass) == "pass");
    CHECK(margin_key(MarginState::tight) == "tight");
    CHECK(margin_key(MarginState::unknown) == "unknown");
    CHECK(margin_key(MarginState::fail) == "fail");
}
