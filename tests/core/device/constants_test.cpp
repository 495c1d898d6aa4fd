#include "core/device/constants.h"

#include "support/catch.h"

#include <cmath>

using namespace railside;

namespace {

double gain(const BipolarModel& model, double collector_a) {
    return collector_a / base_drive(at_temperature(model, 25), collector_a, 4.3).base_a;
}

double base_v(const BipolarModel& model, double collector_a) {
    return base_drive(model, collector_a, 4.3).base_emitter_v;
}

} // namespace

TEST_CASE("constants: nothing given is the generic of the role, with a wide doubt",
          "[core][device]") {
    const auto found = device_constants(Role::output, Polarity::pnp, "", "Output");
    REQUIRE(found);
    CHECK(found->from == ConstantsFrom::generic);
    CHECK(found->model.polarity == Polarity::pnp);
    CHECK(found->gain_low < 0.5);
    CHECK(found->gain_high > 2);
    // A power transistor's ordinary base-emitter volts at 0.1 A.
    CHECK(base_v(found->model, 0.1) > 0.55);
    CHECK(base_v(found->model, 0.1) < 0.7);
}

TEST_CASE("constants: a card leads, and is taken as it stands", "[core][device]") {
    const auto found = device_constants(
        Role::driver, Polarity::npn,
        ".model mine npn(is=6e-13 bf=120 vaf=150 ikf=1.2 ise=8e-13 ne=1.7)", "Driver");
    REQUIRE(found);
    CHECK(found->from == ConstantsFrom::card);
    CHECK(found->name == "mine");
    CHECK(found->model.forward_gain == 120);
    CHECK(said("driver +", *found) == "driver +: card mine");
}

TEST_CASE("constants: a type of the table brings its gain window", "[core][device]") {
    const auto found = device_constants(Role::output, Polarity::npn, "2N3055", "Output");
    REQUIRE(found);
    CHECK(found->from == ConstantsFrom::table);
    const Part& part = *find_part(builtin_parts(), "2N3055")->part;
    REQUIRE(part.gain_a);
    REQUIRE(part.gain_low);
    REQUIRE(part.gain_high);
    const double low = gain(moved(found->model, found->gain_low, 0), *part.gain_a);
    const double high = gain(moved(found->model, found->gain_high, 0), *part.gain_a);
    CHECK(near(low, *part.gain_low, 0.06));
    CHECK(near(high, *part.gain_high, 0.06));
}

TEST_CASE("constants: what is nobody's type, or the wrong way round, is refused",
          "[core][device]") {
    const auto unknown = device_constants(Role::output, Polarity::npn, "XYZZY-1", "Output, + half");
    REQUIRE_FALSE(unknown);
    CHECK(unknown.error().code == ErrorCode::not_found);
    CHECK(unknown.error().message.find("XYZZY-1") != std::string::npos);
    const auto wrong = device_constants(Role::output, Polarity::pnp, "2N3055", "Output, − half");
    REQUIRE_FALSE(wrong);
    CHECK(wrong.error().code == ErrorCode::contradictory);
    CHECK(wrong.error().field == "Output, − half");
}

TEST_CASE("constants: a gain read in this unit is fitted at its current", "[core][device]") {
    const DeviceConstants fitted =
        fitted_gain(generic_constants(Role::output, Polarity::npn), {45, 50, 55, 0.5, 5, 25});
    CHECK(fitted.from == ConstantsFrom::fitted);
    CHECK(near(gain(fitted.model, 0.5), 50, 0.02));
    CHECK(near(fitted.gain_low, 0.9, 1e-9));
    CHECK(near(fitted.gain_high, 1.1, 1e-9));
}

TEST_CASE("constants: moving shifts the volts at one current and scales the gain",
          "[core][device]") {
    const BipolarModel model = generic_constants(Role::driver, Polarity::npn).model;
    const BipolarModel up = moved(model, 1, 0.03);
    CHECK(near_abs(base_v(up, 10e-3) - base_v(model, 10e-3), 0.03, 1e-3));
    CHECK(near(gain(up, 10e-3), gain(model, 10e-3), 0.01));
    CHECK(near(gain(moved(model, 2, 0), 10e-3), 2 * gain(model, 10e-3), 1e-3));
}
