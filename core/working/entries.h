// The maker of each working; catalogue.cpp lists them in the order they are offered. A new working
// has its own file, a line here and a line there.
#pragma once

#include "core/working/working.h"

namespace railside {

[[nodiscard]] Working idle_working();     // idle.cpp
[[nodiscard]] Working gain_working();     // gain.cpp
[[nodiscard]] Working heat_working();     // heat.cpp
[[nodiscard]] Working limiter_working();  // limiter.cpp
[[nodiscard]] Working clip_working();     // clip.cpp
[[nodiscard]] Working leak_working();     // leak.cpp
[[nodiscard]] Working spreader_working(); // spreader.cpp
[[nodiscard]] Working lamp_working();     // lamp.cpp
[[nodiscard]] Working standin_working();  // standin.cpp
[[nodiscard]] Working capture_working();  // capture.cpp

} // namespace railside
