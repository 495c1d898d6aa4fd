// Whether bytes are well-formed UTF-8 (RFC 3629: no overlong forms, no surrogates, nothing past
// U+10FFFF).
#pragma once

#include <string_view>

namespace railside {

[[nodiscard]] bool is_utf8(std::string_view text);

} // namespace railside
