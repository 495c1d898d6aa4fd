// Samples from a table of text, in whatever dialect a scope or a spreadsheet wrote it.
//
// The dialect (separator, decimal mark, which columns hold numbers) is taken from the middle of the
// file, where there are only samples, and then has to hold from the first line of samples to the
// last. Numbers are read to 15 significant digits. The rules stand in recording.md.
#pragma once

#include "core/capture/recording.h"

namespace railside {

/// Reads a table of samples; `name` leads the refusals. Errors: bad_text (names line, column and
/// what was expected), refused (no samples at all).
[[nodiscard]] Result<Recording> read_csv(std::string_view bytes, std::string_view name);

} // namespace railside
