#include "app/rooms/typed_text.h"

#include "core/quantity/value_code.h"

#include <algorithm>

namespace railside {

std::string typed_text(std::string_view text, Unit unit) {
    const auto parsed = parse_value(text, unit, "value");
    if (!parsed)
        return std::string(text);
    const bool plain = std::all_of(text.begin(), text.end(), [](char c) {
        return (c >= '0' && c <= '9') || c == '.' || c == '-';
    });
    if (!plain || unit == Unit::percent)
        return print_value(parsed->value, unit, std::max(1, parsed->digits));
    std::string shown(text);
    if (shown.front() == '-')
        shown.replace(0, 1, "−");
    if (const std::string_view symbol = unit_info(unit).symbol; !symbol.empty())
        shown.append(unit == Unit::degree ? "" : "\u2009").append(symbol);
    return shown;
}

} // namespace railside
