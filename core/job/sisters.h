// The same position in the other channel, and where the two differ. A stereo amplifier carries its
// own reference: what is odd on one side only is where to look first.
#pragma once

#include "core/job/job.h"

#include <string>
#include <vector>

namespace railside {

enum class SisterBy {
    named,      // one of the two names the other
    place,      // the only one of that role and half in the other channel, and so is this one
    designator, // of several, the only one whose designator has the same letters and the same last
                // two figures (Q214 and Q314): a guess, say so
};

struct Sister {
    const PositionRecord* position = nullptr; // of the job given
    SisterBy by = SisterBy::place;
};

/// The sister of a valid position that has a channel; no position when there is none or several
/// could be. Positions without a channel have none, nor do those of role "" or "other" unless
/// named. Designators alone never make a sister: boards are not numbered alike. `position` must be
/// one of `job.positions`.
[[nodiscard]] Sister sister_of(const Job& job, const PositionRecord& position);

/// One thing that is not alike.
struct SisterDifference {
    std::string what;   // "fitted type", "printed type", "state", or what the reading is of
    std::string mine;   // "0R47"
    std::string theirs; // "0R22"
};

/// Printed type, fitted type, a state of bad or suspect on one side only; and readings of the same
/// kind, words and conditions whose intervals do not meet (of each, the latest valid one). A type
/// not known on one side is no difference.
[[nodiscard]] std::vector<SisterDifference>
sister_differences(const Job& job, const PositionRecord& mine, const PositionRecord& theirs);

} // namespace railside
