// Showing a finished file with whatever the system opens such files with.
#pragma once

#include "core/result.h"

#include <string>

namespace railside {

/// Starts the desktop's own opener (xdg-open) on the file and does not wait for it. Errors:
/// not_found when the file or the opener is not there.
[[nodiscard]] Result<Done> show_file(const std::string& path);

} // namespace railside
