#include "core/device/gain.h"

#include "data/rows.h"
#include "support/catch.h"

#include <rapidcheck.h>

#include <cmath>

using namespace railside;

namespace {

// The constants the simulated devices were built with; hFE is checked against their simulation.
GainShape simulated_device(const std::string& name) {
    if (name == "qsn") {
        return {1.2e-14, 220, 1e-14, 1.6, 0.12, 100, 1.5};
    }
    if (name == "qdn") {
        return {6e-13, 120, 8e-13, 1.7, 1.2, 150, 1.5};
    }
    if (name == "qon") {
        return {2e-11, 90, 2e-11, 1.8, 7, 120, 1.5};
    }
    return {2.4e-11, 80, 2.4e-11, 1.8, 6, 100, 1.5};
}

Role role_of(const std::string& name) {
    if (name == "qsn") {
        return Role::limiter;
    }
    return name == "qdn" ? Role::driver : Role::output;
}

double between(int parts, double low, double high) {
    return low * std::pow(high / low, parts / 1000.0);
}

} // namespace

TEST_CASE("gain: the model with the device's own constants follows the simulation",
          "[core][device]") {
    // Circuit simulation; tolerance 1 % at 27 °C, 5 % at 100 °C as the table states.
    for (const auto& row : test_data::rows_of("gain_vectors.csv")) {
        const double model = gain_at(simulated_device(row.text("device")),
                                     row.number("collector_a"), 5, row.number("junction_c"));
        INFO(row.text("device") << " " << row.text("junction_c") << " C, "
                                << row.text("collector_a") << " A: " << model);
        CHECK(near(model, row.number("hfe"), row.number("tolerance")));
    }
}

TEST_CASE("gain: carried blind from one current to another, the interval holds the simulation",
          "[core][device]") {
    // Every pair of currents of one device at one temperature and across temperatures. Blind: a
    // generic of the role.
    const auto rows = test_data::rows_of("gain_vectors.csv");
    for (const auto& from : rows) {
        for (const auto& to : rows) {
            if (from.text("device") != to.text("device")) {
                continue;
            }
            const GainFactor factor =
                gain_factor(generic_device(role_of(from.text("device"))),
                            {from.number("collector_a"), from.number("junction_c")},
                            {to.number("collector_a"), to.number("junction_c")});
            const double truth = to.number("hfe") / from.number("hfe");
            INFO(from.text("device")
                 << " " << from.text("collector_a") << " A to " << to.text("collector_a")
                 << " A: " << truth << " in " << factor.low << " to " << factor.high);
            // 0.5 %: what the simulation's own last step leaves between neighbouring currents.
            CHECK(truth >= factor.low * 0.995);
            CHECK(truth <= factor.high * 1.005);
        }
    }
}

TEST_CASE("gain: between equal conditions nothing changes", "[core][device]") {
    for (const RoleInfo& info : all_roles()) {
        const GainFactor factor = gain_factor(generic_device(info.role), {0.01, 25}, {0.01, 25});
        CHECK(factor.low == 1);
        CHECK(factor.value == 1);
        CHECK(factor.high == 1);
    }
}

TEST_CASE("gain: 27 to 100 °C raises it by 1.386 with the exponent 1.5", "[core][device]") {
    // (373.15/300.15)^1.5 = 1.3862; tolerance 0.01 %.
    const GainShape shape = simulated_device("qon");
    CHECK(near(gain_factor(shape, {1, 27}, {1, 100}).value, 1.3862, 1e-4));
}

TEST_CASE("gain: at the knee the high-current fall has halved it", "[core][device]") {
    // BF/(1 + Ic/IKF) with no leakage and no base-width modulation; tolerance 1e-9.
    GainShape shape{1e-12, 100, 0, 1.5, 2, 1e12, 1.5};
    CHECK(near(gain_at(shape, 2, 5, 27), 50, 1e-9));
}

TEST_CASE("gain: finite and inside its own interval for every role, current and temperature",
          "[core][device]") {
    CHECK(rc::check([] {
        const auto roles = all_roles();
        const auto index = *rc::gen::inRange<int>(0, static_cast<int>(roles.size()));
        const GenericDevice& generic = generic_device(roles[static_cast<std::size_t>(index)].role);
        const GainCondition from{between(*rc::gen::inRange(0, 1001), 1e-6, 50),
                                 static_cast<double>(*rc::gen::inRange(-40, 176))};
        const GainCondition to{between(*rc::gen::inRange(0, 1001), 1e-6, 50),
                               static_cast<double>(*rc::gen::inRange(-40, 176))};
        const GainFactor factor = gain_factor(generic, from, to);
        RC_ASSERT(std::isfinite(factor.high));
        RC_ASSERT(factor.low > 0);
        RC_ASSERT(factor.low <= factor.value);
        RC_ASSERT(factor.value <= factor.high);
        const double there_and_back = factor.value * gain_factor(generic, to, from).value;
        RC_ASSERT(near(there_and_back, 1, 1e-12));
    }));
}
