// The outer form that netlists and model cards share: lines, comments, continuations, words.
//
// A line whose first mark is + continues the one before, * begins a comment line; ; anywhere, and $
// or // at the beginning of a word, begin a comment to the end of the line. Words are parted by
// blanks, commas and round brackets; = is a word of its own; {...} and '...' are one word each.
#pragma once

#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace railside {

/// One line with its continuations, comments removed.
struct SpiceLine {
    std::string text; // never empty; begins with '+' when there was nothing to continue
    int line = 0;     // where it began, counted from 1
};

/// The lines of `text` that say something, the first one counted as `first_line`. Line ends LF,
/// CR LF or CR.
[[nodiscard]] std::vector<SpiceLine> spice_lines(std::string_view text, int first_line = 1);

/// The words of a line, as written.
[[nodiscard]] std::vector<std::string> spice_words(std::string_view text);

/// Letters A to Z made small, all else as it is.
[[nodiscard]] std::string spice_lower(std::string_view text);

/// Equal, letters in either case.
[[nodiscard]] bool spice_equal(std::string_view a, std::string_view b);

/// "models.lib, line 3": how refusals and notes say where.
[[nodiscard]] std::string spice_place(std::string_view source, int line);

/// "a, b and c"
[[nodiscard]] std::string spice_list(std::span<const std::string> words);

} // namespace railside
