#include "core/working/part_safe_area.h"

#include "core/device/parts.h"
#include "core/heat/safe_area.h"

#include <algorithm>
#include <cmath>

namespace railside {

std::optional<PartSafeArea> part_safe_area(std::string_view text,
                                           std::span<const double> collector_v, double case_c) {
    if (text.empty() || looks_like_card(text)) {
        return std::nullopt;
    }
    const auto found = find_part(builtin_parts(), text);
    if (!found) {
        return std::nullopt;
    }
    const Part& part = *found->part;
    SafeArea area;
    area.current_max_a = part.collector_a.value_or(SafeArea::k_not_stated);
    if (part.power_at == PowerAt::case_25) {
        area.power_25_w = part.power_w.value_or(SafeArea::k_not_stated);
    }
    if (!std::isfinite(area.power_25_w) && !std::isfinite(area.current_max_a)) {
        return std::nullopt;
    }
    area.junction_max_c = std::max(part.junction_c.value_or(area.junction_max_c), 26.0);
    area.collector_max_v = part.ceo_v.value_or(SafeArea::k_not_stated);
    if (part.safe.size() >= 2) {
        // The two points furthest out lie on the second-breakdown line if any do: there the
        // allowed power falls.
        const SafePoint& a = part.safe[part.safe.size() - 2];
        const SafePoint& b = part.safe.back();
        const auto slope = second_breakdown_slope({a.volts, a.amperes}, {b.volts, b.amperes});
        if (slope && *slope > 1) {
            area.second_v = a.volts;
            area.second_a = a.amperes;
            area.second_slope = *slope;
        }
    }
    PartSafeArea answer;
    answer.type = part.type;
    for (const double volts : collector_v) {
        const SafeCurrent most = safe_current(area, volts, case_c);
        answer.currents.push_back({most.current_a, std::string(safe_limit_word(most.limit))});
    }
    return answer;
}

} // namespace railside
