#include "core/device/junction.h"

#include "data/rows.h"
#include "support/catch.h"

#include <rapidcheck.h>

#include <cmath>
#include <string>

using namespace railside;

namespace {

SeriesOhmmeter ohmmeter(double battery_v, double mid_ohm) {
    return {Interval::exact(battery_v), Interval::exact(mid_ohm), 0};
}

Flow flow(double current_a, double part_v) {
    return {Interval::exact(current_a), Interval::exact(part_v), false};
}

Flow nothing(double hidden_a, double part_v) {
    return {{0, 0, hidden_a}, Interval::exact(part_v), true};
}

/// By value: the finding may be of a passing part.
JunctionFinding of(const PartFinding& part, Path path) {
    return part.junctions[static_cast<std::size_t>(path)];
}

/// A healthy npn on a meter that shows leaks down to 0.1 µA.
PartReadings healthy() {
    const Flow drop = flow(1e-3, 0.62);
    const Flow none = nothing(1e-8, 3);
    return {{drop, none}, {drop, none}, {none, none}, true};
}

constexpr LeakJig k_drop_jig{{3, 3, 3}, {2000, 2000, 2000}};

/// 3 V behind 2 kΩ; "OL" blocks.
Flow on_drop_jig(const std::string& text) {
    return text == "OL" ? through_jig_open(k_drop_jig)
                        : through_jig(k_drop_jig, Interval::exact(std::stod(text)));
}

} // namespace

TEST_CASE("junction: a series ohmmeter's reading is current and volts at the part",
          "[core][device]") {
    struct Row {
        double battery_v, mid_ohm, reading_ohm, current_a, part_v;
    };
    // V_b/(R_m + R) and I·R; tolerance 0.01 %.
    const Row table[] = {
        {3, 20, 1000, 2.9412e-3, 2.9412}, {3, 20, 100, 25.000e-3, 2.5},
        {3, 2000, 10e3, 0.25000e-3, 2.5}, {12, 200e3, 1e6, 10.000e-6, 10},
        {1.5, 12, 60, 20.833e-3, 1.25},   {3, 20, 0, 150e-3, 0},
    };
    for (const Row& row : table) {
        const SeriesOhmmeter meter = ohmmeter(row.battery_v, row.mid_ohm);
        const Flow read = through_ohmmeter(meter, Interval::exact(row.reading_ohm));
        INFO(row.battery_v << " V, mid " << row.mid_ohm << ", reads " << row.reading_ohm);
        CHECK(near(read.current_a.value, row.current_a, 1e-4));
        CHECK(near_abs(read.part_v.value, row.part_v, 1e-3));
        // The same by the needle.
        const Flow needle =
            through_needle(meter, Interval::exact(row.mid_ohm / (row.mid_ohm + row.reading_ohm)));
        CHECK(near(needle.current_a.value, read.current_a.value, 1e-12));
    }
    const Flow open = through_ohmmeter_open(ohmmeter(3, 20));
    CHECK(open.open);
    CHECK(open.current_a.value == 0);
    CHECK(open.part_v.value == 3);
}

TEST_CASE("junction: ten times the range is a tenth of the current", "[core][device]") {
    const Flow low = through_ohmmeter(ohmmeter(3, 20), Interval::exact(47));
    const Flow high = through_ohmmeter(ohmmeter(3, 200), Interval::exact(470));
    CHECK(near(high.current_a.value, low.current_a.value / 10, 1e-12));
    CHECK(near(high.part_v.value, low.part_v.value, 1e-12));
}

TEST_CASE("junction: a needle at rest hides what its arc error is worth", "[core][device]") {
    SeriesOhmmeter meter = ohmmeter(3, 20);
    meter.arc_error = 0.02;
    // 2 % of 150 mA.
    CHECK(near(through_ohmmeter_open(meter).current_a.high, 3e-3, 1e-12));
    // And at mid-scale 2 % of the arc is 4 % of the current.
    const Flow middle = through_ohmmeter(meter, Interval::exact(20));
    CHECK(near(middle.current_a.low, 0.075 * 0.96, 1e-9));
    CHECK(near(middle.current_a.high, 0.075 * 1.04, 1e-9));
}

TEST_CASE("junction: a leak jig of 20 V behind 1 kΩ", "[core][device]") {
    const LeakJig jig{Interval::exact(20), Interval::exact(1000)};
    for (const auto& [leak_ohm, current_a] :
         {std::pair{390.0, 14.388e-3}, {1000.0, 10e-3}, {10e3, 1.8182e-3}}) {
        const Flow read = through_jig(jig, Interval::exact(20 * leak_ohm / (leak_ohm + 1000)));
        CHECK(near(read.current_a.value, current_a, 1e-4));
        CHECK(near(read.ohm(), leak_ohm, 1e-9));
    }
    // No more than the supply, no less than nothing.
    CHECK(through_jig(jig, Interval::exact(25)).current_a.value == 0);
}

TEST_CASE("junction: a diode test drives its current until the display runs out",
          "[core][device]") {
    const DiodeTest test{{0.8e-3, 1e-3, 1.2e-3}, 2};
    const Flow drop = through_diode_test(test, Interval::exact(0.6));
    CHECK_FALSE(drop.open);
    CHECK(drop.current_a.value == 1e-3);
    CHECK(near(drop.ohm(), 600, 1e-12));
    const Flow over = through_diode_test(test, Interval::exact(2.3));
    CHECK(over.open);
    // A leak above 2 V/1.2 mA stays unseen.
    CHECK(near(over.least_ohm(), 2 / 1.2e-3, 1e-9));
}

TEST_CASE("junction: leakage against temperature and with the base open", "[core][device]") {
    // Closed form, 0.1 %.
    CHECK(near(leak_at_temperature(0.1e-6, 25, 100, 10), 18.102e-6, 1e-3));
    CHECK(near(leak_at_temperature(2e-6, 25, 60, 8), 41.499e-6, 1e-3));
    CHECK(near(open_base_leak_a(0.5e-6, 100), 50.5e-6, 1e-9));
}

TEST_CASE("junction: the heat test parts a junction's leak from a resistive one",
          "[core][device]") {
    const Interval doubling{8, 10, 12};
    const auto share = [&](double cold_a, double hot_a) {
        return doubling_share(Interval::exact(cold_a), Interval::exact(hot_a), 30, doubling);
    };
    CHECK(near(share(1e-6, 8e-6).value, 1, 1e-12)); // three doublings
    CHECK(share(1e-6, 8e-6).low < 0.6);             // D 8 K would make 13.5 of it
    CHECK(share(1e-6, 1e-6).value == 0);
    CHECK(share(1e-6, 1e-6).high == 0);
    CHECK(near(share(1e-6, 4.5e-6).value, 0.5, 1e-12));
    // No warming says nothing.
    CHECK(doubling_share(Interval::exact(1e-6), Interval::exact(1e-6), 0, doubling).low == 0);
    CHECK(doubling_share(Interval::exact(1e-6), Interval::exact(1e-6), 0, doubling).high == 1);
}

TEST_CASE("junction: limits by size, material and temperature", "[core][device]") {
    // Rules of thumb at 25 °C: power silicon below 10 µA, small silicon nanoamperes.
    CHECK(near(leak_limits(Material::silicon, Role::output, Path::base_collector, 25).good_a, 1e-5,
               1e-12));
    CHECK(leak_limits(Material::silicon, Role::input_pair, Path::base_collector, 25).good_a <=
          1e-7);
    // Milliamperes are normal in a germanium power device, bad in a silicon one.
    CHECK(leak_limits(Material::germanium, Role::output, Path::base_collector, 25).good_a >= 1e-3);
    CHECK(leak_limits(Material::silicon, Role::output, Path::collector_emitter, 25).bad_a < 1e-3);
    // Twice as much 10 K on.
    CHECK(near(leak_limits(Material::silicon, Role::driver, Path::base_emitter, 35).good_a,
               2 * leak_limits(Material::silicon, Role::driver, Path::base_emitter, 25).good_a,
               1e-12));
}

TEST_CASE("junction: a healthy transistor is good, its polarity found", "[core][device]") {
    PartReadings readings = healthy();
    const PartFinding npn = judge_part(readings, {.role = Role::driver});
    CHECK(npn.polarity == Polarity::npn);
    for (const JunctionFinding& junction : npn.junctions) {
        INFO(junction.reason);
        CHECK(junction.state == JunctionState::good);
        CHECK(junction.reason.ends_with('.'));
    }
    std::swap(readings.base_emitter.first_positive, readings.base_emitter.second_positive);
    std::swap(readings.base_collector.first_positive, readings.base_collector.second_positive);
    const PartFinding pnp = judge_part(readings, {.role = Role::driver, .claimed = Polarity::npn});
    CHECK(pnp.polarity == Polarity::pnp);
    CHECK(pnp.wrong_polarity);
    readings.lead_polarity_known = false;
    CHECK_FALSE(judge_part(readings, {}).polarity);
}

TEST_CASE("junction: simulated faulty transistors are told apart out of circuit",
          "[core][device]") {
    int leaky = 0;
    for (const auto& row : test_data::rows_of("part_readings.csv")) {
        const std::string& fault = row.text("fault");
        const Flow none = through_jig_open(k_drop_jig);
        const PartReadings readings{{on_drop_jig(row.text("be_v")), none},
                                    {on_drop_jig(row.text("bc_v")), none},
                                    {on_drop_jig(row.text("ce_v")), none},
                                    true};
        const PartFinding part = judge_part(readings, {.role = *role_from_key(row.text("role"))});
        const JunctionFinding ends = of(part, Path::collector_emitter);
        INFO(row.text("id") << " " << fault << ": " << of(part, Path::base_emitter).reason << " "
                            << of(part, Path::base_collector).reason << " " << ends.reason);
        CHECK((of(part, Path::base_emitter).state == JunctionState::open) ==
              (fault == "open_emitter" || fault == "open_base"));
        CHECK((of(part, Path::base_collector).state == JunctionState::open) ==
              (fault == "open_collector" || fault == "open_base"));
        CHECK((ends.state == JunctionState::shorted) == (fault == "ce_short"));
        CHECK((ends.state == JunctionState::leaky) == (fault == "ce_leak"));
        if (fault == "ce_leak") {
            ++leaky;
            CHECK(near(ends.leak->ohm(), row.number("leak_ohm"), 2e-3));
        }
        if (fault == "low_beta") {
            CHECK(part.polarity == Polarity::npn);
            CHECK(of(part, Path::base_emitter).state != JunctionState::leaky);
        }
    }
    CHECK(leaky == 15);
}

TEST_CASE("junction: the jig's 20 V current is that of the simulated leak", "[core][device]") {
    const LeakJig jig{Interval::exact(20), Interval::exact(1000)};
    for (const auto& row : test_data::rows_of("part_readings.csv")) {
        if (row.text("fault") != "ce_leak") {
            continue;
        }
        const double current_a = row.number("ce_20v_a");
        const Flow read = through_jig(jig, Interval::exact(20 - current_a * 1000));
        INFO(row.text("id"));
        // The junctions' own leakage is not simulated: 0.1 %.
        CHECK(near(read.ohm(), row.number("leak_ohm"), 1e-3));
    }
}

TEST_CASE("junction: no reading on a coarse meter is no proof where a small leak matters",
          "[core][device]") {
    PartReadings readings = healthy();
    const Flow blind = nothing(1.2e-3, 2); // a diode test: above 1.7 kΩ
    readings.base_emitter.second_positive = blind;
    readings.base_collector.second_positive = blind;
    readings.collector_emitter = {blind, blind};
    // 4.7 kΩ in a driver raises the idle three times; in an output 1 kΩ hardly shows.
    const PartFinding driver = judge_part(readings, {.role = Role::driver});
    CHECK(of(driver, Path::collector_emitter).state == JunctionState::undecided);
    CHECK_FALSE(of(driver, Path::collector_emitter).at_edge);
    const PartFinding output = judge_part(readings, {.role = Role::output});
    CHECK(of(output, Path::collector_emitter).state == JunctionState::good);
}

TEST_CASE("junction: base-emitter breakdown under a high battery is no leak", "[core][device]") {
    PartReadings readings = healthy();
    readings.base_emitter.second_positive = flow(50e-6, 6.2);
    readings.collector_emitter.second_positive = flow(45e-6, 6.9);
    const PartFinding part = judge_part(readings, {.role = Role::driver});
    for (const Path path : {Path::base_emitter, Path::collector_emitter}) {
        CHECK(of(part, path).state == JunctionState::undecided);
        CHECK(of(part, path).breakdown);
        CHECK(of(part, path).reason.find("5 to 7") != std::string::npos);
    }
    // From collector to emitter an npn reverses its collector junction: that one is a leak.
    readings = healthy();
    readings.collector_emitter.first_positive = flow(100e-6, 6.2);
    CHECK(of(judge_part(readings, {.role = Role::driver}), Path::collector_emitter).state ==
          JunctionState::leaky);
    // And below the breakdown it is one too.
    readings = healthy();
    readings.base_emitter.second_positive = flow(100e-6, 2.5);
    CHECK(of(judge_part(readings, {.role = Role::driver}), Path::base_emitter).state ==
          JunctionState::leaky);
}

TEST_CASE("junction: what a Darlington and a damper carry inside is no fault", "[core][device]") {
    PartReadings readings = healthy();
    readings.base_emitter.second_positive = flow(0.35e-3, 2.8); // 8 kΩ inside
    readings.collector_emitter.second_positive = flow(1e-3, 0.55);
    const PartFinding plain = judge_part(readings, {.role = Role::output});
    CHECK(of(plain, Path::base_emitter).state == JunctionState::leaky);
    CHECK(of(plain, Path::collector_emitter).state == JunctionState::undecided);
    CHECK(of(plain, Path::collector_emitter).reason.find("damper") != std::string::npos);
    const PartFinding darlington =
        judge_part(readings, {.role = Role::output, .inside = Inside::darlington});
    CHECK(of(darlington, Path::base_emitter).state == JunctionState::good);
    CHECK(of(darlington, Path::collector_emitter).state == JunctionState::good);
    // 40 Ω from base to emitter hides the junction from 1 mA, both ways; a dead short still shows.
    readings = healthy();
    readings.base_emitter = {flow(1e-3, 0.04), flow(1e-3, 0.04)};
    CHECK(of(judge_part(readings, {.inside = Inside::resistor_and_damper}), Path::base_emitter)
              .state == JunctionState::undecided);
    readings.base_emitter = {flow(1e-3, 0.001), flow(1e-3, 0.001)};
    CHECK(of(judge_part(readings, {.inside = Inside::resistor_and_damper}), Path::base_emitter)
              .state == JunctionState::shorted);
}

TEST_CASE("junction: germanium drops less and leaks more than silicon", "[core][device]") {
    PartReadings readings;
    readings.base_emitter = {flow(1e-3, 0.22), flow(0.4e-3, 1.5)};
    const TestedPart germanium{.role = Role::output, .material = Material::germanium};
    CHECK(of(judge_part(readings, germanium), Path::base_emitter).state == JunctionState::good);
    const PartFinding silicon = judge_part(readings, {.role = Role::output});
    CHECK(of(silicon, Path::base_emitter).state == JunctionState::leaky);
    readings.base_emitter.second_positive = nothing(1e-8, 3);
    CHECK(of(judge_part(readings, {.role = Role::output}), Path::base_emitter)
              .reason.find("germanium") != std::string::npos);
}

TEST_CASE("junction: one way read only is not judged beyond it", "[core][device]") {
    PartReadings readings;
    readings.base_emitter.first_positive = flow(1e-3, 0.62);
    const PartFinding forward = judge_part(readings, {.role = Role::driver});
    CHECK(of(forward, Path::base_emitter).state == JunctionState::undecided);
    CHECK(forward.polarity == Polarity::npn);
    CHECK(of(forward, Path::base_collector).state == JunctionState::not_read);
    readings.base_emitter.first_positive = nothing(1e-8, 3);
    CHECK(of(judge_part(readings, {}), Path::base_emitter).state == JunctionState::undecided);
    // But nothing drops no volts except a short.
    readings.base_emitter.first_positive = flow(1e-3, 0.002);
    CHECK(of(judge_part(readings, {}), Path::base_emitter).state == JunctionState::shorted);
}

TEST_CASE("junction: every fault of every role has its sentence", "[core][device]") {
    for (const RoleInfo& role : all_roles()) {
        for (const Path path :
             {Path::base_emitter, Path::base_collector, Path::collector_emitter}) {
            for (const JunctionState state : {JunctionState::leaky, JunctionState::shorted}) {
                INFO(role.key << " " << path_label(path) << " " << state_label(state));
                CHECK(fault_effect(role.role, path, state).ends_with('.'));
            }
            CHECK(fault_effect(role.role, path, JunctionState::good).empty());
        }
        CHECK_FALSE(fault_effect(role.role, Path::base_emitter, JunctionState::open).empty());
    }
    CHECK(fault_effect(Role::driver, Path::collector_emitter, JunctionState::leaky).find("59") !=
          std::string_view::npos);
    CHECK(fault_effect(Role::limiter, Path::collector_emitter, JunctionState::leaky)
              .find("invisible") != std::string_view::npos);
}

TEST_CASE("junction: more ohms never mean more current, and intervals hold their ends",
          "[core][device]") {
    CHECK(rc::check([] {
        const auto part = [] { return *rc::gen::inRange(0, 1001) / 1000.0; };
        SeriesOhmmeter meter = ohmmeter(1 + 20 * part(), std::pow(10, 1 + 4 * part()));
        meter.arc_error = 0.03 * part();
        const double reading_ohm = std::pow(10, 6 * part());
        const Interval wide{reading_ohm * 0.9, reading_ohm, reading_ohm * 1.1};
        const Flow read = through_ohmmeter(meter, wide);
        const Flow more =
            through_ohmmeter(meter, {wide.low * 1.5, wide.value * 1.5, wide.high * 1.5});
        RC_ASSERT(more.current_a.value <= read.current_a.value);
        RC_ASSERT(more.part_v.value >= read.part_v.value);
        for (const double end : {wide.low, wide.high}) {
            const Flow corner = through_ohmmeter(meter, Interval::exact(end));
            RC_ASSERT(contains(read.current_a, corner.current_a.value));
            RC_ASSERT(contains(read.part_v, corner.part_v.value));
        }
        RC_ASSERT(read.current_a.low >= 0);
    }));
}

TEST_CASE("junction: a leak grows from good through the edge to leaky, never back",
          "[core][device]") {
    CHECK(rc::check([] {
        const double at_v = 0.5 + *rc::gen::inRange(0, 300) / 100.0; // below any breakdown
        const auto state_at = [at_v](double leak_a) {
            PartReadings readings = healthy();
            readings.base_emitter.second_positive = flow(leak_a, at_v);
            readings.base_emitter.first_positive = flow(10 * leak_a, 0.6);
            const JunctionFinding found =
                of(judge_part(readings, {.role = Role::driver}), Path::base_emitter);
            return found.state;
        };
        const double leak_a = 1e-8 * std::pow(1e5, *rc::gen::inRange(0, 1001) / 1000.0);
        RC_ASSERT(static_cast<int>(state_at(leak_a * 2)) >= static_cast<int>(state_at(leak_a)));
    }));
}
