// What a part does in the amplifier, and which way round a transistor is.
#pragma once

#include <optional>
#include <span>
#include <string_view>

namespace railside {

/// The place of a part in the circuit.
enum class Role {
    output,            // carries the load current
    driver,            // feeds the bases of the outputs
    pre_driver,        // feeds the drivers
    limiter,           // takes drive away when the output current is too great
    bias_spreader,     // holds the two halves' bases apart
    voltage_amplifier, // swings the full rail-to-rail voltage, or loads the one that does
    input_pair,        // compares input and feedback
    emitter_resistor,  // shares and senses the output current
    trim_pot,          // sets the idle current
    other,             // anything else
};

/// What is known of a role.
struct RoleInfo {
    Role role = Role::other;
    std::string_view key;       // "bias_spreader": JSON, commands, files
    std::string_view label;     // "bias spreader": on the screen
    bool is_transistor = false; // false for resistors, pots and what is unknown
};

/// All roles, from the output back to the input.
[[nodiscard]] std::span<const RoleInfo> all_roles();
[[nodiscard]] const RoleInfo& role_info(Role role);
[[nodiscard]] std::optional<Role> role_from_key(std::string_view key);

enum class Polarity {
    npn,
    pnp,
};
[[nodiscard]] std::string_view polarity_key(Polarity polarity);
[[nodiscard]] std::optional<Polarity> polarity_from_key(std::string_view key);

} // namespace railside
