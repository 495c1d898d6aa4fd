// What the parts table says an output device may carry, point by point.
//
// The direct-current safe area of core/heat/safe_area.h with the figures of the type's sheet; what
// the sheet does not state bounds nothing.
#pragma once

#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace railside {

/// The most at one collector-emitter voltage.
struct PartSafeCurrent {
    double current_a = 0; // infinite where nothing stated bounds it
    std::string limit;    // "power", "second breakdown", ...
};
struct PartSafeArea {
    std::string type;
    std::vector<PartSafeCurrent> currents; // as the volts asked for
};

/// `text` as a device field holds it. Nothing for a card, an unknown type, or one whose sheet
/// states neither current nor power. `collector_v` 0 or more each.
[[nodiscard]] std::optional<PartSafeArea>
part_safe_area(std::string_view text, std::span<const double> collector_v, double case_c);

} // namespace railside
