#include "core/heat/safe_area.h"

#include "core/quantity/value_code.h"
#include "core/words/words.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace railside {

std::string_view safe_limit_word(SafeLimit limit) {
    switch (limit) {
    case SafeLimit::current:
        return "current";
    case SafeLimit::power:
        return "power";
    case SafeLimit::second_breakdown:
        return "second breakdown";
    case SafeLimit::volts:
        break;
    }
    return "volts";
}

SafeCurrent safe_current(const SafeArea& area, double collector_v, double case_c) {
    if (collector_v > area.collector_max_v) {
        return {0, SafeLimit::volts};
    }
    const double span_k = area.junction_max_c - 25;
    const double power_left =
        span_k > 0 ? std::clamp((area.junction_max_c - case_c) / span_k, 0.0, 1.0) : 0;
    const double second_left = 1 - (1 - area.second_left) * (1 - power_left);
    SafeCurrent safe{area.current_max_a, SafeLimit::current};
    const auto bound = [&safe](double current_a, SafeLimit limit) {
        if (current_a < safe.current_a) {
            safe = {current_a, limit};
        }
    };
    // At no volts neither line bounds the current; an area that is not stated bounds it nowhere.
    if (collector_v > 0 && std::isfinite(area.power_25_w)) {
        bound(power_left * area.power_25_w / collector_v, SafeLimit::power);
    }
    if (collector_v > 0 && std::isfinite(area.second_a)) {
        bound(second_left * area.second_a *
                  std::pow(collector_v / area.second_v, -area.second_slope),
              SafeLimit::second_breakdown);
    }
    return safe;
}

Result<double> second_breakdown_slope(DevicePoint first, DevicePoint second) {
    const double volts = std::log(second.collector_v / first.collector_v);
    const double current = std::log(first.collector_a / second.collector_a);
    if (!(volts * current > 0)) {
        return Error{
            ErrorCode::contradictory, "Second point, current",
            worded("The safe-area points {} at {} and {} at {} do not fall. Accepted: less "
                   "current at the higher volts.",
                   print_short(first.collector_a, Unit::ampere),
                   print_short(first.collector_v, Unit::volt),
                   print_short(second.collector_a, Unit::ampere),
                   print_short(second.collector_v, Unit::volt))};
    }
    return current / volts;
}

SafeMargin smallest_margin(const SafeArea& area, std::span<const DevicePoint> line, double case_c) {
    SafeMargin least{SafeArea::k_not_stated, {}, SafeLimit::current};
    for (const DevicePoint& point : line) {
        const SafeCurrent safe = safe_current(area, point.collector_v, case_c);
        double ratio = SafeArea::k_not_stated;
        if (safe.limit == SafeLimit::volts) {
            ratio = 0;
        } else if (point.collector_a > 0) {
            ratio = safe.current_a / point.collector_a;
        }
        if (ratio < least.ratio) {
            least = {ratio, point, safe.limit};
        }
    }
    return least;
}

} // namespace railside
