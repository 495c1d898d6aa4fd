// Typed values: any text in any unit. The first byte picks the unit.
#include "check.h"
#include "core/quantity/value_code.h"

#include <cmath>
#include <cstdint>
#include <string_view>

using namespace railside;

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
    if (size == 0) {
        return 0;
    }
    const auto unit = static_cast<Unit>(data[0] % 13);
    const std::string_view text(reinterpret_cast<const char*>(data) + 1, size - 1);
    const auto parsed = parse_value(text, unit, "Field");
    if (!parsed) {
        must_hold(!parsed.error().message.empty(), "a refusal says something");
    } else {
        must_hold(std::isfinite(parsed->value) && std::abs(parsed->value) < 1e15, "in range");
        const auto again = parse_value(print_exact(parsed->value, unit), unit, "Field");
        must_hold(again.ok() && again->value == parsed->value, "what is printed reads back");
        must_hold(check_beginning(text, unit, "Field").ok(), "a value is its own beginning");
        must_hold(!spoken_value(*parsed, unit).empty(), "it can be spoken");
    }
    if (const auto number = parse_plain_number(text, "Field")) {
        must_hold(std::isfinite(*number), "a plain number is finite");
    }
    return 0;
}
