// Reaching into checked inputs from a working's own file.
#pragma once

#include "core/quantity/interval.h"
#include "core/working/working.h"

#include <cassert>

namespace railside {

/// The input of a field that is there for certain: required, or with a default.
[[nodiscard]] inline const Input& given(const Inputs& inputs, std::string_view key) {
    const auto held = inputs.find(key);
    assert(held != inputs.end());
    return held->second;
}

/// The amount of a field that is there for certain.
[[nodiscard]] inline const Amount& amount_of(const Inputs& inputs, std::string_view key) {
    return given(inputs, key).amount;
}

/// The amount of an optional field, or null.
[[nodiscard]] inline const Amount* amount_if_given(const Inputs& inputs, std::string_view key) {
    const auto held = inputs.find(key);
    return held == inputs.end() ? nullptr : &held->second.amount;
}

} // namespace railside
