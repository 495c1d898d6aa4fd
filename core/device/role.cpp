#include "core/device/role.h"

#include <array>

namespace railside {

namespace {

constexpr std::array k_roles{
    RoleInfo{Role::output, "output", "output", true},
    RoleInfo{Role::driver, "driver", "driver", true},
    RoleInfo{Role::pre_driver, "pre_driver", "pre-driver", true},
    RoleInfo{Role::limiter, "limiter", "limiter", true},
    RoleInfo{Role::bias_spreader, "bias_spreader", "bias spreader", true},
    RoleInfo{Role::voltage_amplifier, "voltage_amplifier", "voltage amplifier", true},
    RoleInfo{Role::input_pair, "input_pair", "input pair", true},
    RoleInfo{Role::emitter_resistor, "emitter_resistor", "emitter resistor", false},
    RoleInfo{Role::trim_pot, "trim_pot", "trim pot", false},
    RoleInfo{Role::other, "other", "other", false},
};

} // namespace

std::span<const RoleInfo> all_roles() { return k_roles; }

const RoleInfo& role_info(Role role) {
    for (const RoleInfo& info : k_roles) {
        if (info.role == role) {
            return info;
        }
    }
    return k_roles.back();
}

std::optional<Role> role_from_key(std::string_view key) {
    for (const RoleInfo& info : k_roles) {
        if (info.key == key) {
            return info.role;
        }
    }
    return std::nullopt;
}

std::string_view polarity_key(Polarity polarity) {
    return polarity == Polarity::npn ? "npn" : "pnp";
}

std::optional<Polarity> polarity_from_key(std::string_view key) {
    if (key == "npn") {
        return Polarity::npn;
    }
    if (key == "pnp") {
        return Polarity::pnp;
    }
    return std::nullopt;
}

} // namespace railside
