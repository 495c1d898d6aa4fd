// The lists that travel with the program (assets/lists), read and ready to be taken up.
#pragma once

#include "core/job/list.h"

#include <span>
#include <string_view>

namespace railside {

/// In the order a job needs them: from taking in to handing back.
[[nodiscard]] std::span<const StepList> builtin_lists();

/// The one of that key ("first_power"), or null.
[[nodiscard]] const StepList* find_builtin_list(std::string_view key);

} // namespace railside
