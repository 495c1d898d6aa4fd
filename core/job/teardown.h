// The list for putting together: what was taken off, in reverse order, with counts and what is
// still off.
#pragma once

#include "core/job/job.h"

#include <string>
#include <vector>

namespace railside {

/// One taken-off item on its way back.
struct ReassemblyLine {
    std::string item; // entry id of what was taken off
    std::string what;
    std::string where;
    std::string photo;    // entry id or empty
    std::string position; // entry id or empty
    Channel channel = Channel::none;
    int off = 0;   // how many came off
    int back = 0;  // how many went back
    int still = 0; // off − back, at least 0
    int over = 0;  // more went back than came off: one of the two counts is wrong
};

/// Valid items, what came off last first. A put-back counts when it names a valid item and is not
/// struck itself.
[[nodiscard]] std::vector<ReassemblyLine> reassembly_list(const Job& job);

/// How many pieces are still off.
[[nodiscard]] int pieces_still_off(const std::vector<ReassemblyLine>& lines);

/// The bar at power-up: "5 pieces are not back yet: 4 mica washer (Q214), 1 bracket." At most three
/// kinds are named. Empty when all is back.
[[nodiscard]] std::string still_off_sentence(const std::vector<ReassemblyLine>& lines);

} // namespace railside
