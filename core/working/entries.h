// The maker of each working; catalogue.cpp lists them in the order they are offered. A new working
// has its own file, a line here and a line there.
#pragma once

#include "core/working/working.h"

namespace railside {

[[nodiscard]] Working idle_working(); // idle.cpp
[[nodiscard]] Working gain_working(); // gain.cpp

} // namespace railside
