// A point in a transistor's output plane: what it stands off and what it carries at one instant.
#pragma once

namespace railside {

/// Sizes, whatever the polarity. SI units.
struct DevicePoint {
    double collector_v = 0; // V_CE, 0 or more
    double collector_a = 0; // I_C, 0 or more

    friend bool operator==(const DevicePoint&, const DevicePoint&) = default;
};

} // namespace railside
