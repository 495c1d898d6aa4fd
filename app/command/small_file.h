// The text of a file that was named on the command line.
#pragma once

#include "core/result.h"

#include <filesystem>
#include <string>
#include <string_view>

namespace railside {

/// The whole of a file of at most 8 MB. `name` leads the refusal's sentence (empty: nothing does),
/// `shown` how the file was named. Errors: not_found, out_of_range, failed.
[[nodiscard]] Result<std::string> small_text_file(const std::filesystem::path& file,
                                                  std::string_view name, std::string_view shown);

} // namespace railside
