// Every working there is, in the order they are offered. A new one adds its line here and its own
// file.
#pragma once

#include "core/working/working.h"

namespace railside {

#define RAILSIDE_WORKINGS(entry) entry(idle) entry(gain)

// Each `name` has a file name.cpp that defines `Working name_working();`.
#define RAILSIDE_DECLARE_WORKING(name) [[nodiscard]] Working name##_working();
RAILSIDE_WORKINGS(RAILSIDE_DECLARE_WORKING)
#undef RAILSIDE_DECLARE_WORKING

} // namespace railside
