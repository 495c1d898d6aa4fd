// How long each step of a hunt takes, for weighing what it tells against what it costs. Every bench
// has its own; the table is text that can be edited (core/suspects/hunt.md).
#pragma once

#include "core/result.h"
#include "core/suspects/probe.h"

#include <array>
#include <string>
#include <string_view>
#include <vector>

namespace railside {

struct Minutes {
    /// To get the unit into a setup from another one, by Setup; and one reading there.
    std::array<double, 6> into{1, 3, 2, 1, 4, 8};
    std::array<double, 6> reading{0.5, 0.5, 0.5, 2, 1, 1};
    // Out of circuit, tested and back (or its lead lifted), unit switched off and discharged.
    double output = 12; // screws, washer, grease
    double driver = 7;  // mostly on the sink as well
    double small_transistor = 4;
    double two_leads = 2; // one lead of a resistor, diode, capacitor lifted
    double pot = 4;
    double fuse = 0.5;
};

/// The table as lines "name minutes", # begins a remark; names are those of minutes_text(). What is
/// not named keeps its default. Errors: bad_text, out_of_range (0.05 to 600), naming the line.
[[nodiscard]] Result<Minutes> read_minutes(std::string_view text, std::string_view source);
[[nodiscard]] std::string minutes_text(const Minutes& minutes);

/// One line of the table.
struct MinutesLine {
    std::string name;       // in the text
    std::string_view label; // "An output transistor out, tested and back"
    double minutes = 0;
};
inline constexpr double k_least_minutes = 0.05;
inline constexpr double k_most_minutes = 600;
/// All lines, in the order of the text.
[[nodiscard]] std::vector<MinutesLine> minutes_lines(const Minutes& minutes);
/// Errors: not_found; out_of_range (k_least_minutes to k_most_minutes).
[[nodiscard]] Result<Minutes> with_line(Minutes minutes, std::string_view name, double value);

/// One position out of circuit, without the switching off.
[[nodiscard]] double pull_minutes(const Minutes& minutes, const SuspectPosition& position);

} // namespace railside
