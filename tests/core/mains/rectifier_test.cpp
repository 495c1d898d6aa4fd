#include "core/mains/rectifier.h"

#include "data/rows.h"
#include "support/catch.h"

#include <rapidcheck.h>

#include <algorithm>
#include <cmath>
#include <string>

using namespace railside;

namespace {

/// The same currents by adding up a half cycle in 20000 steps.
Conduction by_steps(const Rectifier& rectifier, double rail_v) {
    constexpr int k_steps = 20000;
    double sum = 0;
    double square = 0;
    for (int i = 0; i < k_steps; ++i) {
        const double angle = M_PI * (i + 0.5) / k_steps;
        const double current_a = std::max(
            (rectifier.peak_v * std::sin(angle) - rail_v - rectifier.drop_v) / rectifier.source_ohm,
            0.0);
        sum += current_a;
        square += current_a * current_a;
    }
    return {0, sum / k_steps, std::sqrt(square / k_steps)};
}

} // namespace

TEST_CASE("rectifier: Schade's currents are those of the half cycle added up", "[core][mains]") {
    CHECK(rc::check([] {
        const auto part = [] { return *rc::gen::inRange(0, 1001) / 1000.0; };
        const Rectifier rectifier{10 + 90 * part(), 0.1 * std::pow(1000, part()), 0.75};
        const double rail_v = (rectifier.peak_v - rectifier.drop_v) * 0.995 * part();
        const Conduction exact = conduction(rectifier, rail_v);
        const Conduction steps = by_steps(rectifier, rail_v);
        // 0.1 %: what the steps leave near the edges of the pulse.
        RC_ASSERT(near(exact.dc_a, steps.dc_a, 1e-3));
        RC_ASSERT(near(exact.rms_a, steps.rms_a, 1e-3));
    }));
}

TEST_CASE("rectifier: nothing flows above the peak, and next to it no digit is lost",
          "[core][mains]") {
    const Rectifier rectifier{41.72, 1, 0.75};
    CHECK(conduction(rectifier, 40.97).dc_a == 0);
    CHECK(conduction(rectifier, 60).dc_a == 0);
    // theta³/3 and 2·theta⁵/15 are the first terms; compared at theta 0.0099 and 0.0101, either
    // side of where the series takes over.
    const auto at = [&](double theta) {
        return conduction(rectifier, rectifier.peak_v * std::cos(theta) - rectifier.drop_v);
    };
    CHECK(near(at(0.0101).dc_a / at(0.0099).dc_a, std::pow(0.0101 / 0.0099, 3), 1e-3));
    CHECK(near(at(0.0101).rms_a / at(0.0099).rms_a, std::pow(0.0101 / 0.0099, 2.5), 1e-3));
}

TEST_CASE("rectifier: the rail settles where both currents meet", "[core][mains]") {
    CHECK(rc::check([] {
        const auto part = [] { return *rc::gen::inRange(0, 1001) / 1000.0; };
        const Rectifier rectifier{10 + 90 * part(), 0.1 * std::pow(1000, part()), 0.75};
        const Demand demand{std::pow(10, -3 + 4 * part()), rectifier.peak_v, 5 * part()};
        const double rail_v = rail_volts(rectifier, demand);
        RC_ASSERT(rail_v >= 0);
        RC_ASSERT(rail_v <= rectifier.peak_v - rectifier.drop_v);
        RC_ASSERT(near_abs(conduction(rectifier, rail_v).dc_a, demand_a(demand, rail_v),
                           1e-6 * rectifier.peak_v / rectifier.source_ohm));
        // More demand, less rail.
        Demand more = demand;
        more.current_a *= 1.3;
        RC_ASSERT(rail_volts(rectifier, more) <= rail_v + 1e-9);
    }));
}

TEST_CASE("rectifier: the peak found for a rail gives that rail back", "[core][mains]") {
    CHECK(rc::check([] {
        const auto part = [] { return *rc::gen::inRange(0, 1001) / 1000.0; };
        const double rail_v = 5 + 195 * part();
        const double dc_a = std::pow(10, -3 + 4 * part());
        const double source_ohm = 0.01 * std::pow(1000, part());
        const double peak_v = peak_for_rail(rail_v, dc_a, source_ohm, 0.75);
        RC_ASSERT(near(rail_volts({peak_v, source_ohm, 0.75}, {dc_a, rail_v, 0}), rail_v, 1e-6));
    }));
    CHECK(peak_for_rail(40, 0, 0.5, 0.75) == 40.75);
}

TEST_CASE("rectifier: an idling amplifier's demand follows the fitted law", "[core][mains]") {
    // Circuit simulation of complete amplifiers; current-source bias within 6 % from a quarter of
    // the rails up, resistor-fed bias (f_lowp) far steeper.
    const auto rows = test_data::rows_of("rail_sweep.csv");
    int checked = 0;
    for (const auto& row : rows) {
        const std::string& amp = row.text("amp");
        double full_v = 0;
        double full_a = 0;
        for (const auto& other : rows) {
            if (other.text("amp") == amp && other.number("rail_v") > full_v) {
                full_v = other.number("rail_v");
                full_a = other.number("plus_a");
            }
        }
        const double rail_v = row.number("rail_v");
        if (rail_v < full_v / 4) {
            continue;
        }
        INFO(amp << " at " << rail_v);
        if (amp == "f_lowp") {
            CHECK(row.number("plus_a") <= demand_a({full_a, full_v, 2.5}, rail_v) * 1.01);
        } else {
            CHECK(near(row.number("plus_a"), demand_a({full_a, full_v, 0.47}, rail_v), 0.06));
        }
        ++checked;
    }
    CHECK(checked == 36);
}

TEST_CASE("rectifier: below a volt no junction conducts", "[core][mains]") {
    const Demand demand{0.1, 40, 0};
    CHECK(demand_a(demand, 40) == 0.1);
    CHECK(demand_a(demand, 1) == 0.1);
    CHECK(near(demand_a(demand, 0.5), 0.05, 1e-12));
    CHECK(demand_a(demand, 0) == 0);
}
