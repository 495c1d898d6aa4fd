// Characters of well-formed UTF-8 text.
#pragma once

#include <string>
#include <string_view>
#include <vector>

namespace railside {

/// The character that stands for one that cannot be shown.
inline constexpr char32_t k_replacement = 0xFFFD;

/// Ill-formed bytes come out as k_replacement, one for each.
[[nodiscard]] std::u32string characters_of(std::string_view text);
[[nodiscard]] std::string utf8_of(std::u32string_view characters);

/// Whether it stands on its own column: not a combining mark, not a control character.
[[nodiscard]] bool takes_room(char32_t character);

/// A line of text in the order it is set from left to right: stretches of Hebrew and Arabic are
/// turned round, numbers inside them are not. A paragraph reads from the left.
[[nodiscard]] std::u32string in_visual_order(std::u32string_view line);

} // namespace railside
