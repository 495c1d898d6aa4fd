#include "core/job/json_text.h"

namespace railside {

std::string text_member(const nlohmann::json& body, const char* name) {
    if (!body.is_object())
        return {};
    const auto it = body.find(name);
    return it != body.end() && it->is_string() ? it->get<std::string>() : std::string();
}

} // namespace railside
