// The keypad for values that belong to no working: readings, money, minutes, figures of an
// instrument, the window of a step.
#pragma once

#include "app/rooms/state.h"
#include "core/job/book.h"

namespace railside {

/// Nothing when the target names no value: see intent::KeyIn and program_values.cpp, which sets it.
[[nodiscard]] std::optional<KeypadState> make_value_keypad(const AppState& state, const Job& job,
                                                           const BenchBook& book,
                                                           const std::string& target);

} // namespace railside
