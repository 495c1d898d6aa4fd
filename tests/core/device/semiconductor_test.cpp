#include "core/device/semiconductor.h"

#include "support/catch.h"

#include <rapidcheck.h>

#include <cmath>

using namespace railside;

namespace {

BipolarModel output_card() {
    BipolarModel model;
    model.saturation_a = 2e-11;
    model.forward_gain = 90;
    model.forward_early_v = 120;
    model.forward_knee_a = 7;
    model.emitter_leak_a = 2e-11;
    model.emitter_leak_emission = 1.8;
    model.reverse_gain = 4;
    model.base_ohm = 1.5;
    model.emitter_ohm = 0.02;
    model.collector_ohm = 0.08;
    model.gain_power = 1.5;
    return model;
}

double gain(double collector_a, double celsius) {
    return collector_a / base_drive(at_temperature(output_card(), celsius), collector_a, 5).base_a;
}

} // namespace

TEST_CASE("semiconductor: gain against current and temperature is that of simulation",
          "[core][device]") {
    // Simulated with the same card at V_CB 5 V; 1 %, since the drop in the collector is counted.
    struct Row {
        double collector_a;
        double cold;
        double hot;
    };
    for (const Row& row :
         {Row{1e-3, 90.58, 126.1}, Row{10e-3, 92.46, 128.2}, Row{0.1, 92.08, 127.6},
          Row{1, 82.39, 114.2}, Row{3, 66.54, 92.10}, Row{5, 55.82, 77.19}}) {
        CHECK(gain(row.collector_a, 27) == Approx(row.cold).epsilon(0.01));
        CHECK(gain(row.collector_a, 100) == Approx(row.hot).epsilon(0.01));
    }
}

TEST_CASE("semiconductor: slopes are those of a small step", "[core][device]") {
    CHECK(rc::check("both junctions", [] {
        const double be_v = *rc::gen::inRange(-2000, 900) / 1000.0;
        const double bc_v = *rc::gen::inRange(-40000, 800) / 1000.0;
        BipolarModel model = output_card();
        model.reverse_early_v = 30;
        model.reverse_knee_a = 2;
        model.collector_leak_a = 1e-12;
        const BipolarCurrents at = bipolar_currents(model, be_v, bc_v, 1e-12);
        const double step = 1e-6;
        const auto near = [](double slope, double up, double down, double size) {
            const double stepped = (up - down) / (2e-6);
            return std::abs(slope - stepped) <=
                   1e-4 * std::abs(stepped) + 1e-9 * std::abs(size) / 1e-6 + 1e-12;
        };
        const auto be_up = bipolar_currents(model, be_v + step, bc_v, 1e-12);
        const auto be_down = bipolar_currents(model, be_v - step, bc_v, 1e-12);
        const auto bc_up = bipolar_currents(model, be_v, bc_v + step, 1e-12);
        const auto bc_down = bipolar_currents(model, be_v, bc_v - step, 1e-12);
        RC_ASSERT(
            near(at.collector_by_be_s, be_up.collector_a, be_down.collector_a, at.collector_a));
        RC_ASSERT(
            near(at.collector_by_bc_s, bc_up.collector_a, bc_down.collector_a, at.collector_a));
        RC_ASSERT(near(at.base_by_be_s, be_up.base_a, be_down.base_a, at.base_a));
        RC_ASSERT(near(at.base_by_bc_s, bc_up.base_a, bc_down.base_a, at.base_a));
    }));
}

TEST_CASE("semiconductor: nothing a solver may ask gives a NaN", "[core][device]") {
    CHECK(rc::check("any junction volts, any temperature", [] {
        const double be_v = *rc::gen::inRange(-1000000, 1000000) / 1000.0;
        const double bc_v = *rc::gen::inRange(-1000000, 1000000) / 1000.0;
        const double celsius = *rc::gen::inRange(-300, 600);
        const auto warm = at_temperature(output_card(), celsius);
        const auto at = bipolar_currents(warm, be_v, bc_v, 1e-12);
        RC_ASSERT(std::isfinite(at.collector_a) && std::isfinite(at.base_a));
        RC_ASSERT(std::isfinite(at.collector_by_be_s) && std::isfinite(at.base_by_bc_s));
        DiodeModel diode;
        diode.breakdown_v = 50;
        diode.knee_a = 1;
        diode.recombination_a = 1e-12;
        const auto current = diode_current(at_temperature(diode, celsius), be_v, 1e-12);
        RC_ASSERT(std::isfinite(current.current_a) && std::isfinite(current.slope_s));
    }));
}

TEST_CASE("semiconductor: a diode's current rises without a step through breakdown and zero",
          "[core][device]") {
    DiodeModel diode;
    diode.breakdown_v = 6;
    diode.knee_a = 0.1;
    double before = -INFINITY;
    for (double v = -7; v < 0.9; v += 0.001) {
        const double now = diode_current(diode, v, 1e-12).current_a;
        CHECK(now >= before);
        before = now;
    }
}

TEST_CASE("semiconductor: warming there and back changes nothing", "[core][device]") {
    const BipolarModel back = at_temperature(at_temperature(output_card(), 120), 27);
    CHECK(back.saturation_a == Approx(2e-11).epsilon(1e-9));
    CHECK(back.forward_gain == Approx(90).epsilon(1e-12));
    CHECK(back.emitter_leak_a == Approx(2e-11).epsilon(1e-9));
}

TEST_CASE("semiconductor: base resistance falls with crowding, from RB towards RBM",
          "[core][device]") {
    BipolarModel model = output_card();
    model.base_ohm = 10;
    model.base_least_ohm = 1;
    CHECK(base_resistance_ohm(model, 1e-3, 1) == Approx(10));
    CHECK(base_resistance_ohm(model, 1e-3, 3) == Approx(1 + 9 / 3.0));
    model.base_fall_a = 0.01;
    CHECK(base_resistance_ohm(model, 1e-9, 1) == Approx(10).epsilon(1e-3));
    CHECK(base_resistance_ohm(model, 0.01, 1) == Approx(1 + 9 * 0.5).epsilon(0.02)); // halved
    CHECK(base_resistance_ohm(model, 10, 1) < 2);
}
