// Reading single members out of an entry's body.
#pragma once

#include <nlohmann/json.hpp>

#include <string>

namespace railside {

/// The text of the body's member of that name; empty when there is none, or it is no text.
[[nodiscard]] std::string text_member(const nlohmann::json& body, const char* name);

} // namespace railside
