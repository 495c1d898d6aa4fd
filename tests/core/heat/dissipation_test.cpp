#include "core/heat/dissipation.h"

#include "data/rows.h"
#include "support/catch.h"

#include <rapidcheck.h>

#include <boost/math/tools/minima.hpp>

#include <algorithm>
#include <cmath>
#include <numbers>

using namespace railside;

namespace {

double part() { return *rc::gen::inRange(0, 1001) / 1000.0; }

ClassB any_output() {
    return {5 * std::pow(40, part()), std::pow(64, part()), 90 * part(), part(),
            *rc::gen::inRange(1, 13)};
}

} // namespace

TEST_CASE("dissipation: the closed form's own figures", "[core][heat]") {
    // 40 V, 8 ohm, 0.22 ohm, by hand: 40·3.66136/(8π) − 3.66136²/32 − 0.22·3.66136²/256 = 5.3968 W.
    const ClassB output{40, 8, 0, 0.22, 1};
    CHECK(near(class_b_heat_w(output, 3.66136), 5.39679, 1e-4));
    CHECK(near(class_b_heat_w(output, 18.2831), 18.3652, 1e-4));
    CHECK(near(class_b_heat_w({40, 8, 45, 0.22, 1}, 21.9588), 23.8792, 1e-4));
    CHECK(class_b_heat_w(output, 0) == 0);
}

TEST_CASE("dissipation: the simulated amplifiers, within 6 %, at a tenth of clip within 15 %",
          "[core][heat]") {
    // Tolerances as stated for the class B form; below a third of clip the idle current still adds.
    int checked = 0;
    for (const auto& row : test_data::rows_of("dissipation.csv")) {
        const ClassB output{row.number("rail_v"), row.number("load_ohm"), row.number("phase_deg"),
                            row.number("emitter_ohm"), 1};
        const double level_v = row.number("level_v");
        const double simulated_w =
            (row.number("average_upper_w") + row.number("average_lower_w")) / 2;
        INFO(row.text("amp") << " " << row.text("phase_deg") << " deg " << level_v << " V");
        CHECK(near(class_b_heat_w(output, level_v), simulated_w,
                   level_v < 0.25 * output.rail_v ? 0.15 : 0.06));
        // Peaks: 10 %, since base current and fuse take a little and at low level the idle current
        // gives some.
        CHECK(near(class_b_peak(output, level_v).peak_w, row.number("peak_upper_w"),
                   level_v < 0.25 * output.rail_v ? 0.15 : 0.10));
        ++checked;
    }
    CHECK(checked == 80);
}

TEST_CASE("dissipation: worst level and heat, with and without clip", "[core][heat]") {
    // Analytic, 40 V, |Z| 8 ohm, clip 36.6 V: tolerance 0.1 %.
    struct Row {
        double phase_deg, level_v, average_w;
    };
    for (const Row& row : {Row{0, 25.465, 20.264}, Row{45, 36.013, 28.658}, Row{60, 36.6, 37.320},
                           Row{90, 36.6, 58.251}}) {
        const LevelHeat worst = class_b_worst({40, 8, row.phase_deg, 0, 1}, 36.6);
        INFO(row.phase_deg);
        CHECK(near(worst.level_v, row.level_v, 1e-3));
        CHECK(near(worst.average_w, row.average_w, 1e-3));
    }
    // 0.1013·V_CC²/R_L at 0.637·V_CC.
    const LevelHeat free = class_b_worst({40, 8, 0, 0, 1}, 40);
    CHECK(near(free.level_v, 2 / std::numbers::pi * 40, 1e-12));
    CHECK(near(free.average_w, 0.10132 * 1600 / 8, 1e-4));
}

TEST_CASE("dissipation: the closed-form worst level is where a search finds it", "[core][heat]") {
    CHECK(rc::check([] {
        const ClassB output = any_output();
        const double clip_v = output.rail_v * (0.3 + 0.7 * part());
        const LevelHeat worst = class_b_worst(output, clip_v);
        const auto [level_v, lacking_w] = boost::math::tools::brent_find_minima(
            [&](double level) { return -class_b_heat_w(output, level); }, 0.0, clip_v, 40);
        RC_ASSERT(near(worst.average_w, -lacking_w, 1e-9));
        RC_ASSERT(near(worst.level_v, level_v, 1e-4));
    }));
}

TEST_CASE("dissipation: peak heat along the load line", "[core][heat]") {
    // Analytic, 40 V, 36.6 V peak into |Z| 8 ohm: tolerance 0.1 %.
    struct Row {
        double phase_deg, peak_w, collector_v, collector_a;
    };
    for (const Row& row : {Row{0, 50, 20.0127, 2.49842}, Row{30, 99.1564, 32.328, 3.0672},
                           Row{45, 129.567, 38.8823, 3.3323}, Row{60, 162.587, 45.4414, 3.57795},
                           Row{75, 196.912, 51.7949, 3.80175}, Row{90, 231.056, 57.744, 4.00139}}) {
        const PeakHeat peak = class_b_peak({40, 8, row.phase_deg, 0, 1}, 36.6);
        INFO(row.phase_deg);
        CHECK(near(peak.peak_w, row.peak_w, 1e-4));
        CHECK(near(peak.at.collector_v, row.collector_v, 1e-3));
        CHECK(near(peak.at.collector_a, row.collector_a, 1e-3));
    }
    // Driven to the rails: factors of V_CC²/|Z|.
    for (const auto& [phase_deg, factor] :
         {std::pair{0.0, 0.25}, {30.0, 0.5312}, {45.0, 0.7071}, {60.0, 0.8991}, {90.0, 1.2990}}) {
        CHECK(near(class_b_peak({40, 8, phase_deg, 0, 1}, 40).peak_w, factor * 1600 / 8, 2e-4));
    }
}

TEST_CASE("dissipation: the peak agrees with a fine scan of the cycle", "[core][heat]") {
    CHECK(rc::check([] {
        const ClassB output = any_output();
        const double level_v = output.rail_v * part();
        double scanned_w = 0;
        for (int i = 0; i <= 20000; ++i) {
            const double angle = 2 * std::numbers::pi * i / 20000;
            const double half_a =
                std::max(level_v / output.load_ohm *
                             std::sin(angle - output.phase_deg * std::numbers::pi / 180),
                         0.0);
            const double collector_v = output.rail_v - level_v * std::sin(angle) -
                                       output.emitter_ohm / output.pairs * half_a;
            scanned_w = std::max(scanned_w, collector_v * half_a / output.pairs);
        }
        RC_ASSERT(near(class_b_peak(output, level_v).peak_w, scanned_w, 1e-6));
    }));
}

TEST_CASE("dissipation: more rail, more phase or less load is more heat; capacitive as inductive",
          "[core][heat]") {
    CHECK(rc::check([] {
        const ClassB output = any_output();
        const double level_v = output.rail_v * 0.9 * part();
        const double heat_w = class_b_heat_w(output, level_v);
        const auto hotter = [&](const ClassB& other) {
            return class_b_heat_w(other, level_v) >= heat_w - 1e-12 &&
                   class_b_peak(other, level_v).peak_w >=
                       class_b_peak(output, level_v).peak_w * (1 - 1e-9);
        };
        ClassB more_rail = output;
        more_rail.rail_v *= 1.1;
        ClassB more_phase = output;
        more_phase.phase_deg = std::min(90.0, output.phase_deg + 5);
        RC_ASSERT(hotter(more_rail));
        RC_ASSERT(hotter(more_phase));
        ClassB mirrored = output;
        mirrored.phase_deg = -output.phase_deg;
        RC_ASSERT(class_b_heat_w(mirrored, level_v) == heat_w);
        RC_ASSERT(class_b_worst(output, level_v).average_w >= heat_w - 1e-12);
    }));
}
