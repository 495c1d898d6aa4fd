// The safe operating area of a power transistor at a case temperature, and how far a load line
// stays inside it.
//
// Model: I_C,max(V_CE) = min(I_C,max; k_P·P_25/V_CE; k_S·I_SB·(V_CE/V_SB)^−m), 0 beyond V_CEO.
//   k_P = (T_j,max − T_case)/(T_j,max − 25 °C), held within 0 to 1
//   k_S = 1 − (1 − r)·(1 − k_P), r the fraction of second-breakdown current left at T_j,max
// The direct-current area: a shorter pulse may carry more, a half cycle at 20 Hz (25 ms) hardly.
// Source: safe-area notes on the data sheets of bipolar power transistors. r = 0 (second breakdown
// derated as the power is) is the safe side; sheets that state it leave 0.4 to 0.6.
#pragma once

#include "core/device/device_point.h"
#include "core/result.h"

#include <limits>
#include <span>
#include <string_view>

namespace railside {

/// What a data sheet states; what it does not state is infinite. SI units.
struct SafeArea {
    static constexpr double k_not_stated = std::numeric_limits<double>::infinity();

    double current_max_a = k_not_stated;   // I_C,max, above 0
    double power_25_w = k_not_stated;      // P_25 at a case of 25 °C, above 0
    double junction_max_c = 150;           // above 25
    double collector_max_v = k_not_stated; // V_CEO, above 0
    double second_v = 1;                   // V_SB, a point on the second-breakdown line, above 0
    double second_a = k_not_stated;        // I_SB at V_SB, above 0
    double second_slope = 2;               // m, usually 1.5 to 2.5
    double second_left = 0;                // r, 0 to 1
};

/// Which line of the area is the nearest.
enum class SafeLimit {
    current,          // bond wires
    power,            // heat of the die
    second_breakdown, //
    volts,            // V_CEO
};
/// "current", "power", "second breakdown", "volts"
[[nodiscard]] std::string_view safe_limit_word(SafeLimit limit);

struct SafeCurrent {
    double current_a = 0; // infinite when the sheet states nothing that bounds it
    SafeLimit limit = SafeLimit::current;
};

/// The most a device may carry at `collector_v` (0 or more) and `case_c`.
[[nodiscard]] SafeCurrent safe_current(const SafeArea& area, double collector_v, double case_c);

/// m from two points of the second-breakdown line. Errors: contradictory unless the current falls
/// as the volts rise.
[[nodiscard]] Result<double> second_breakdown_slope(DevicePoint first, DevicePoint second);

/// Where a load line comes nearest to the edge.
struct SafeMargin {
    double ratio = 0; // limit over load; below 1 it is outside. Infinite when nothing bounds it
    DevicePoint at;
    SafeLimit limit = SafeLimit::current;
};

/// The smallest ratio over all points of a load line. A point that stands off more than V_CEO has
/// ratio 0 whatever it carries. No points: infinite.
[[nodiscard]] SafeMargin smallest_margin(const SafeArea& area, std::span<const DevicePoint> line,
                                         double case_c);

} // namespace railside
