#include "core/device/role.h"

#include "support/catch.h"

#include <set>
#include <string>

using namespace railside;

TEST_CASE("role: every key leads back to its role, and no two are alike", "[core][device]") {
    std::set<std::string> keys;
    std::set<std::string> labels;
    for (const RoleInfo& info : all_roles()) {
        CHECK(role_from_key(info.key) == info.role);
        CHECK(role_info(info.role).label == info.label);
        CHECK_FALSE(info.label.empty());
        keys.emplace(info.key);
        labels.emplace(info.label);
    }
    CHECK(all_roles().size() == 10);
    CHECK(keys.size() == all_roles().size());
    CHECK(labels.size() == all_roles().size());
}

TEST_CASE("role: an unknown key is no role", "[core][device]") {
    CHECK_FALSE(role_from_key("bias spreader"));
    CHECK_FALSE(role_from_key(""));
}

TEST_CASE("role: resistors and pots are no transistors", "[core][device]") {
    CHECK(role_info(Role::limiter).is_transistor);
    CHECK_FALSE(role_info(Role::emitter_resistor).is_transistor);
    CHECK_FALSE(role_info(Role::trim_pot).is_transistor);
}

TEST_CASE("polarity: both keys lead back", "[core][device]") {
    for (const Polarity polarity : {Polarity::npn, Polarity::pnp}) {
        CHECK(polarity_from_key(polarity_key(polarity)) == polarity);
    }
    CHECK_FALSE(polarity_from_key("NPN "));
}
