// Which name was meant: the nearest one to a mistyped word.
#pragma once

#include <span>
#include <string>
#include <string_view>

namespace railside {

/// Fewest single letters to put in, take out, change, or swap with their neighbour (optimal string
/// alignment), by bytes.
[[nodiscard]] int letters_apart(std::string_view a, std::string_view b);

/// The name nearest to `word`, the first of equals; empty when none is near enough to have been
/// meant (more than a third of the word's letters differ, 2 at least) and none begins with it.
[[nodiscard]] std::string nearest_name(std::string_view word, std::span<const std::string> names);

} // namespace railside
