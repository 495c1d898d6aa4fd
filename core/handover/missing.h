// What is missing before a job can be handed back. Each item may be let pass with a reason, which
// its closing entry records (`overrides`, core/job/journal.md) and the report then says.
#pragma once

#include "core/job/job.h"

#include <string>
#include <vector>

namespace railside {

struct Report;

/// Where an item is mended.
enum class MendIn {
    sheet,     // unit, complaint, state
    positions, // one of them
    money,     // limit, rate, costs
    photos,    //
    steps,     // a list of steps
    apart,     // taken off and put back
    workings,  // a working to keep
    handover,  // closing words, wantings
};
[[nodiscard]] std::string_view mend_in_key(MendIn where); // "sheet"

struct Missing {
    std::string key;      // "unit", "list/first_power", "idle/left": the same in every version
    std::string sentence; // "Closing words are not written."
    MendIn where = MendIn::sheet;
    std::string what; // entry id of the list or position, key of the list or the working
    Channel channel = Channel::none;
    std::string reason; // why it is let pass; empty: it bars
};

/// In the order to mend them in, those that can hurt first.
[[nodiscard]] std::vector<Missing> missing(const Job& job);
/// The same, when the job's report is there already.
[[nodiscard]] std::vector<Missing> missing(const Job& job, const Report& report);

/// Whether nothing bars any more.
[[nodiscard]] bool can_hand_back(const std::vector<Missing>& missing);

} // namespace railside
