// What was taken off while taking apart, and putting it back: the same page both ways.
#pragma once

#include "app/rooms/page.h"
#include "core/job/teardown.h"

namespace railside {

/// Alike things from the same place, taken one after the other, stand in one line.
struct ApartLine {
    std::vector<ReassemblyLine> items; // latest first
    [[nodiscard]] int off() const;
    [[nodiscard]] int still() const;
};
[[nodiscard]] std::vector<ApartLine> apart_lines(const Job& job);

[[nodiscard]] Page make_apart(const AppState& state, const Job& job);

/// Whether a list is one that must not begin while something is still off, and so shows the bar:
/// those that put power on, or hand the unit back.
[[nodiscard]] bool wants_all_back(std::string_view list_key);

} // namespace railside
