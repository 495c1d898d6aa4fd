// A value as the person wrote it, with its unit: "0.8" volts stays 0.8 V, "12m" becomes 12 mV.
#pragma once

#include "core/quantity/unit.h"

#include <string>
#include <string_view>

namespace railside {

/// The text itself when it is no value of that unit.
[[nodiscard]] std::string typed_text(std::string_view text, Unit unit);

} // namespace railside
