// The positions of a job, and one of them beside the same one in the other channel.
#pragma once

#include "app/rooms/page.h"
#include "core/job/book.h"

namespace railside {

/// "emitter resistor, +" for a role and a half; empty when neither is known.
[[nodiscard]] std::string role_words(const PositionRecord& position);
/// "printed 0R22 · fitted 0R47, earlier shop".
[[nodiscard]] std::string type_words(const PositionRecord& position);
/// "R214 left".
[[nodiscard]] std::string position_words(const PositionRecord& position);

/// All of them, or the one that is opened.
[[nodiscard]] Page make_positions(const AppState& state, const Job& job, const Clock& clock);

/// Positions to choose from, for photos and marks; the first word is none.
[[nodiscard]] PickList pick_position(const Job& job, std::string target, std::string title,
                                     std::string now);

} // namespace railside
