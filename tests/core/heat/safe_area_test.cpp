#include "core/heat/safe_area.h"

#include "support/catch.h"

#include <rapidcheck.h>

#include <cmath>
#include <vector>

using namespace railside;

namespace {

// 15 A, 150 W, 150 °C, 3.75 A at 40 V falling with the power 1.8, 120 V.
SafeArea known_area() { return {15, 150, 150, 120, 40, 3.75, 1.8, 0}; }

double part() { return *rc::gen::inRange(0, 1001) / 1000.0; }

std::vector<DevicePoint> any_line() {
    std::vector<DevicePoint> line;
    for (int i = 0; i < 12; ++i) {
        line.push_back({130 * part(), 10 * part()});
    }
    return line;
}

} // namespace

TEST_CASE("safe area: each line in its turn", "[core][heat]") {
    // Analytic; tolerance 0.1 %.
    struct Row {
        double collector_v, case_c, current_a;
        SafeLimit limit;
    };
    for (const Row& row :
         {Row{10, 25, 15, SafeLimit::current}, Row{40, 25, 3.75, SafeLimit::power},
          Row{40, 75, 2.25, SafeLimit::power}, Row{60, 75, 1.08447, SafeLimit::second_breakdown},
          Row{80, 100, 0.430762, SafeLimit::second_breakdown}, Row{121, 25, 0, SafeLimit::volts},
          Row{10, 150, 0, SafeLimit::power}, Row{0, 25, 15, SafeLimit::current}}) {
        const SafeCurrent safe = safe_current(known_area(), row.collector_v, row.case_c);
        INFO(row.collector_v << " V, " << row.case_c << " °C");
        CHECK(near(safe.current_a, row.current_a, 1e-3));
        CHECK(safe.limit == row.limit);
    }
}

TEST_CASE("safe area: what a sheet leaves out bounds nothing", "[core][heat]") {
    const SafeArea nothing;
    CHECK(std::isinf(safe_current(nothing, 60, 75).current_a));
    const std::vector<DevicePoint> line{{40, 3}};
    CHECK(std::isinf(smallest_margin(nothing, line, 75).ratio));
    CHECK(std::isinf(smallest_margin(known_area(), {}, 75).ratio));
    SafeArea power_only;
    power_only.power_25_w = 150;
    CHECK(near(safe_current(power_only, 60, 75).current_a, 1.5, 1e-12));
}

TEST_CASE("safe area: second breakdown may be derated less than the power", "[core][heat]") {
    SafeArea area = known_area();
    area.power_25_w = SafeArea::k_not_stated;
    area.second_left = 0.5;
    // At the junction's limit half is left: 3.75/2 at 40 V; halfway there three quarters.
    CHECK(near(safe_current(area, 40, 150).current_a, 1.875, 1e-12));
    CHECK(near(safe_current(area, 40, 87.5).current_a, 2.8125, 1e-12));
}

TEST_CASE("safe area: the slope through two points", "[core][heat]") {
    const auto slope = second_breakdown_slope({40, 3.75}, {80, 3.75 * std::pow(2, -1.8)});
    REQUIRE(slope.ok());
    CHECK(near(*slope, 1.8, 1e-12));
    CHECK(near(*second_breakdown_slope({80, 1}, {40, 4}), 2, 1e-12)); // either order
    CHECK(second_breakdown_slope({40, 2}, {80, 3}).error().code == ErrorCode::contradictory);
    CHECK_FALSE(second_breakdown_slope({40, 2}, {40, 1}).ok());
    CHECK_FALSE(second_breakdown_slope({40, 2}, {80, 2}).ok());
}

TEST_CASE("safe area: the margin is the smallest ratio, and where", "[core][heat]") {
    // 40 V rails into 8 ohm: 20 V, 2.5 A at the top of the hyperbola; 90 W left at 75 °C: 4.5 A.
    std::vector<DevicePoint> line;
    for (int volts = 0; volts <= 40; ++volts) {
        line.push_back({40.0 - volts, volts / 8.0});
    }
    const SafeMargin margin = smallest_margin(known_area(), line, 75);
    CHECK(near(margin.ratio, 1.8, 1e-9));
    CHECK(margin.at == DevicePoint{20, 2.5});
    CHECK(margin.limit == SafeLimit::power);
    // Off, but beyond V_CEO.
    const std::vector<DevicePoint> off{{20, 1}, {130, 0}};
    CHECK(smallest_margin(known_area(), off, 25).ratio == 0);
    CHECK(smallest_margin(known_area(), off, 25).limit == SafeLimit::volts);
}

TEST_CASE("safe area: a hotter case, more volts or more current never widens the margin",
          "[core][heat]") {
    CHECK(rc::check([] {
        const SafeArea area = known_area();
        const double case_c = 160 * part();
        const double volts = 130 * part();
        RC_ASSERT(safe_current(area, volts + 5, case_c).current_a <=
                  safe_current(area, volts, case_c).current_a);
        RC_ASSERT(safe_current(area, volts, case_c + 10).current_a <=
                  safe_current(area, volts, case_c).current_a);
        const auto line = any_line();
        const SafeMargin margin = smallest_margin(area, line, case_c);
        RC_ASSERT(!std::isnan(margin.ratio));
        RC_ASSERT(smallest_margin(area, line, case_c + 10).ratio <= margin.ratio);
        auto more = line;
        for (DevicePoint& point : more) {
            point.collector_a *= 2;
        }
        const double halved = smallest_margin(area, more, case_c).ratio;
        RC_ASSERT(near(halved, margin.ratio / 2, 1e-12));
        for (const DevicePoint& point : line) {
            RC_ASSERT(point.collector_a == 0 ||
                      point.collector_a * margin.ratio <=
                          safe_current(area, point.collector_v, case_c).current_a * (1 + 1e-12));
        }
    }));
}
