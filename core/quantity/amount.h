// A value with its interval and unit, as fields, readings, results and entries carry it.
#pragma once

#include "core/quantity/unit.h"
#include "core/result.h"

#include <string>
#include <string_view>

namespace railside {

/// SI base units, full double precision. low <= value <= high; all equal when exact.
struct Amount {
    double value = 0;
    double low = 0;
    double high = 0;
    Unit unit = Unit::ratio;

    [[nodiscard]] static Amount exact(double value, Unit unit) {
        return {value, value, value, unit};
    }

    friend bool operator==(const Amount&, const Amount&) = default;
};

/// value·(1 ± tolerance), tolerance as a fraction, 0 or more. Order is kept for negative values.
[[nodiscard]] Amount with_tolerance(double value, double tolerance, Unit unit);

/// A meter's accuracy as its sheet states it: "±0.5 % + 3 counts".
struct MeterAccuracy {
    double of_reading = 0; // fraction of the reading, 0.005 for 0.5 %
    double counts = 0;     // in steps of the last digit shown

    friend bool operator==(const MeterAccuracy&, const MeterAccuracy&) = default;
};

/// Reads "±0.5 % + 3 counts", "0.5%+3", "1 %", "3 counts" (also "digits", "dgt", a decimal comma).
/// Refuses anything else, naming the text and the accepted form. of_reading 0 to 1, counts 0 to
/// 1e6.
[[nodiscard]] Result<MeterAccuracy> parse_accuracy(std::string_view text, std::string_view field);

/// "±0.5 % + 3 counts"
[[nodiscard]] std::string print_accuracy(const MeterAccuracy& accuracy);

/// The interval of a reading of that meter. `step` is the value of the last digit shown, in SI
/// units, 0 or more.
[[nodiscard]] Amount with_accuracy(double value, double step, const MeterAccuracy& accuracy,
                                   Unit unit);

} // namespace railside
