// Preferred values of resistors and capacitors: the steps a parts drawer comes in.
// Source: IEC 60063 (E24, E96). E96 is 10^(i/96) rounded to three digits; E24 keeps its historic
// rounding and is a table.
#pragma once

#include <string_view>

namespace railside {

enum class ESeries {
    e24, // two digits, parts of 5 % and wider
    e96, // three digits, parts of 1 %
};
[[nodiscard]] std::string_view e_series_name(ESeries series); // "E24"

/// Whether a value is one of the series, in any decade (to 1e-6 of it). Values above 0.
[[nodiscard]] bool in_series(double value, ESeries series);

/// The next value of the series above or below `value`; from between two of them the nearer in that
/// direction. `value` 1e-12 to 1e12; others come back unchanged.
[[nodiscard]] double next_in_series(double value, ESeries series);
[[nodiscard]] double previous_in_series(double value, ESeries series);

} // namespace railside
