// Plain text set in columns and lines. A character counts as one column wide, which holds for the
// letters, signs and thin spaces used here.
#pragma once

#include <cstddef>
#include <string>
#include <string_view>
#include <vector>

namespace railside {

inline constexpr std::size_t k_line_columns = 80;

/// Characters of a UTF-8 text.
[[nodiscard]] std::size_t text_columns(std::string_view text);

/// The text broken at its spaces into lines of at most `columns` (a longer word stands alone), each
/// ended by '\n'. The first line begins with `first`, the others with spaces of the same width.
[[nodiscard]] std::string wrapped_text(std::string_view text, std::string_view first,
                                       std::size_t columns = k_line_columns);

/// Rows of cells; each column is as wide as its widest cell.
class TextTable {
  public:
    void add(std::vector<std::string> cells) { rows_.push_back(std::move(cells)); }
    /// The rows as lines, each begun with `indent` spaces, columns two spaces apart; the last
    /// column wraps.
    [[nodiscard]] std::string text(std::size_t indent, std::size_t columns = k_line_columns) const;

  private:
    std::vector<std::vector<std::string>> rows_;
};

} // namespace railside
