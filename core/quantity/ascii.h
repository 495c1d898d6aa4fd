// Letters and figures of ASCII, whatever the locale.
#pragma once

namespace railside {

[[nodiscard]] constexpr bool is_digit(char c) { return c >= '0' && c <= '9'; }

} // namespace railside
