// Sentences that refuse a text: how what was typed is quoted, and how the field's name leads the
// sentence.
#pragma once

#include "core/result.h"

#include <string>
#include <string_view>

namespace railside {

/// `text` as it can stand in any message: well-formed UTF-8 (RFC 3629; broken bytes and control
/// characters become U+FFFD), at most 40 characters and then an ellipsis.
[[nodiscard]] std::string printable(std::string_view text);

/// Whether bytes are well-formed UTF-8 (RFC 3629): what JSON and a screen can carry.
[[nodiscard]] bool well_formed(std::string_view text);

/// printable() in straight double quotes.
[[nodiscard]] std::string quoted(std::string_view text);

/// An Error whose message is "field: sentence", or the sentence alone when there is no field.
[[nodiscard]] Error refusal(ErrorCode code, std::string_view field, const std::string& sentence);

} // namespace railside
