#include "core/stage/clip.h"

#include "core/stage/merged_pairs.h"

#include <algorithm>
#include <cmath>

namespace railside {

namespace {

// Less than this across a source or amplifier and it is going into saturation.
constexpr double k_saturated_v = 0.5;
// The limiter is what holds the half once it takes a tenth of the drive.
constexpr double k_limiting_share = 0.1;

/// The devices of one half, and what its output has in the base.
struct HalfDevices {
    const BipolarModel* output = nullptr;
    const BipolarModel* driver = nullptr;
    const BipolarModel* pre_driver = nullptr; // triples only
    double emitter_ohm = 0;
};

HalfDevices devices_of(const StageValues& values, StageHalf half) {
    const StageDevices& devices = values.devices;
    const bool plus = half == StageHalf::plus;
    const bool triple = values.topology == Topology::follower_triple;
    return {plus ? &devices.output_plus : &devices.output_minus,
            plus ? &devices.driver_plus : &devices.driver_minus,
            !triple ? nullptr
            : plus  ? &devices.pre_driver_plus
                    : &devices.pre_driver_minus,
            plus ? values.emitter_ohm : values.emitter_minus_ohm.value_or(values.emitter_ohm)};
}

/// The chain from the base node to the load of a follower half at `output_a` out of a device's
/// emitter.
struct Chain {
    double base_a = 0; // into the base node
    double base_v = 0; // base node above the output
};

/// As base_drive, but by the emitter's current.
BaseDrive emitter_drive(const BipolarModel& model, double emitter_a, double collector_base_v) {
    double collector_a = emitter_a;
    BaseDrive drive;
    for (int i = 0; i < 4; ++i) { // the gain hardly moves: each round is nearer by that much
        drive = base_drive(model, collector_a, collector_base_v);
        const double gain = collector_a / drive.base_a;
        collector_a = emitter_a * gain / (gain + 1);
    }
    return drive;
}

/// What the resistor between the driver emitters takes while the spreader holds its volts: the
/// other half's driver stays on through it.
double driver_resistor_a(const StageValues& values, StageHalf half, double driver_v,
                         double output_v) {
    const auto* fixed = std::get_if<FixedSpreader>(&values.spreader);
    const double spread_v = fixed != nullptr ? fixed->volts : resting_spread_v(values);
    const HalfDevices other =
        devices_of(values, half == StageHalf::plus ? StageHalf::minus : StageHalf::plus);
    const double other_v =
        emitter_drive(at_temperature(*other.driver, values.temperatures.driver_c),
                      output_v / values.driver_ohm, 10)
            .base_emitter_v;
    const bool triple = other.pre_driver != nullptr;
    return std::max(spread_v - (triple ? 2 : 1) * (driver_v + other_v), output_v) /
           values.driver_ohm;
}

Chain chain_at(const StageValues& values, StageHalf half, double output_a, double collector_v) {
    const HalfDevices devices = devices_of(values, half);
    const double base_v = std::max(collector_v - 0.7, 0.0);
    const BaseDrive out = emitter_drive(
        at_temperature(*devices.output, values.temperatures.output_c), output_a, base_v);
    const double stopper_v = out.base_a * values.stopper_ohm;
    const double outputs_a = values.pairs * out.base_a;
    const double base_out_v = out.base_emitter_v + stopper_v;
    const BipolarModel warm_driver = at_temperature(*devices.driver, values.temperatures.driver_c);
    const double driver_v =
        emitter_drive(warm_driver, outputs_a + base_out_v / values.driver_ohm, base_v)
            .base_emitter_v;
    const double driver_a = outputs_a + driver_resistor_a(values, half, driver_v, base_out_v);
    const BaseDrive driver = emitter_drive(warm_driver, driver_a, base_v);
    Chain chain{driver.base_a, output_a * devices.emitter_ohm + base_out_v + driver.base_emitter_v};
    if (devices.pre_driver != nullptr) {
        const double pre_a = driver.base_a + driver.base_emitter_v / values.pre_driver_ohm;
        const BaseDrive pre = emitter_drive(
            at_temperature(*devices.pre_driver, values.temperatures.driver_c), pre_a, base_v);
        chain.base_a = pre.base_a;
        chain.base_v += pre.base_emitter_v;
    }
    return chain;
}

} // namespace

std::string_view clip_cause_word(ClipCause cause) {
    switch (cause) {
    case ClipCause::rail:
        return "rail";
    case ClipCause::drive:
        return "drive";
    case ClipCause::limiter:
        break;
    }
    return "limiter";
}

DriveThere drive_there(const StageValues& values, StageHalf half, const StagePoint& point) {
    const bool plus = half == StageHalf::plus;
    const double rail_v = plus ? values.rail_plus_v - values.rail_ohm * point.rail_plus_a
                               : values.rail_minus_v - values.rail_ohm * point.rail_minus_a;
    const double base_v = plus ? point.base_plus_v : -point.base_minus_v;
    DriveThere drive;
    drive.limiter_a = plus ? point.limiter_plus_a : point.limiter_minus_a;
    if (half != values.feed_side) {
        drive.available_a = point.amplifier_a;
        drive.left_v = rail_v - base_v - point.amplifier_a * values.amplifier_ohm;
    } else {
        drive.available_a = point.feed_a;
        // A bootstrap rides over the rail: the driver ends it when its base meets the rail.
        drive.left_v = values.feed == Feed::current_source ? point.feed_left_v : rail_v - base_v;
    }
    return drive;
}

ClipCause clip_cause(const DriveThere& drive) {
    if (drive.left_v < k_saturated_v) {
        return ClipCause::rail;
    }
    return drive.limiter_a > k_limiting_share * drive.available_a ? ClipCause::limiter
                                                                  : ClipCause::drive;
}

Result<ClipFinder> ClipFinder::create(const StageValues& values, StageHalf half, double load_ohm) {
    auto circuit = StageCircuit::build(
        merged_pairs(values), half == StageHalf::plus ? Drive::full_plus : Drive::full_minus,
        ResistorLoad{load_ohm});
    if (!circuit) {
        return circuit.error();
    }
    return ClipFinder(values, half, std::move(circuit).value());
}

Result<Done> ClipFinder::change(const StageValues& values) {
    if (auto done = circuit_.change(merged_pairs(values)); !done) {
        return done.error();
    }
    values_ = values;
    return Done{};
}

Result<Clip> ClipFinder::into(double load_ohm) {
    circuit_.set_load(load_ohm);
    const auto point = circuit_.solve();
    if (!point) {
        return point.error();
    }
    const double toward = half_ == StageHalf::plus ? 1 : -1;
    Clip clip;
    clip.volts = std::max(toward * point->output_v, 0.0);
    clip.current_a = clip.volts / load_ohm;
    clip.drive = drive_there(values_, half_, *point);
    clip.cause = clip_cause(clip.drive);
    return clip;
}

double resting_spread_v(const StageValues& values, double reading_v) {
    constexpr double k_rest_v = 10; // collector to base: flat enough anywhere
    const auto of_driver = [&](const BipolarModel& model, double collector_a) {
        return base_drive(at_temperature(model, values.temperatures.driver_c), collector_a,
                          k_rest_v);
    };
    double spread_v = 0;
    for (const StageHalf half : {StageHalf::plus, StageHalf::minus}) {
        const HalfDevices devices = devices_of(values, half);
        const BaseDrive out =
            base_drive(at_temperature(*devices.output, values.temperatures.output_c),
                       std::max(reading_v / devices.emitter_ohm, 1e-4), k_rest_v);
        const double output_v = out.base_emitter_v + out.base_a * values.stopper_ohm;
        const double driver_a = output_v / values.driver_ohm + values.pairs * out.base_a;
        const BaseDrive driver = of_driver(*devices.driver, driver_a);
        const bool pair = values.topology == Topology::feedback_pair ||
                          (values.topology == Topology::quasi && half == StageHalf::minus);
        spread_v += reading_v + driver.base_emitter_v + (pair ? 0 : output_v);
        if (devices.pre_driver != nullptr) {
            const double pre_a = driver.base_a + driver.base_emitter_v / values.pre_driver_ohm;
            spread_v += of_driver(*devices.pre_driver, pre_a).base_emitter_v;
        }
    }
    return spread_v;
}

double drive_limited_a(const StageValues& values, StageHalf half, double available_a,
                       double collector_v, DriveLeak leak) {
    const auto wanted_a = [&](double output_a) {
        const Chain chain = chain_at(values, half, output_a, collector_v);
        const double leak_a =
            leak.ohm > 0 ? std::max(chain.base_v - leak.diode_v, 0.0) / leak.ohm : 0;
        return chain.base_a + leak_a;
    };
    double low = 1e-4;
    double high = 100;
    if (wanted_a(low) > available_a) {
        return 0;
    }
    for (int i = 0; i < 60 && high / low > 1 + 1e-9; ++i) {
        const double middle = std::sqrt(low * high);
        (wanted_a(middle) < available_a ? low : high) = middle;
    }
    return low * values.pairs;
}

double drive_limited_a(double available_a, double driver_gain, double output_gain,
                       double driver_resistor_a) {
    return std::max((output_gain + 1) * (available_a * (driver_gain + 1) - driver_resistor_a), 0.0);
}

double rail_limited_v(const StageValues& values, StageHalf half, double load_ohm, double feed_v) {
    const double rail_v = half == StageHalf::plus ? values.rail_plus_v : values.rail_minus_v;
    const auto left_v = [&](double peak_v) {
        const double load_a = peak_v / load_ohm;
        const Chain chain = chain_at(values, half, std::max(load_a / values.pairs, 1e-6), 2);
        return rail_v - feed_v - load_a * values.rail_ohm - chain.base_v - peak_v;
    };
    double low = 0;
    double high = rail_v;
    for (int i = 0; i < 60; ++i) {
        const double middle = (low + high) / 2;
        (left_v(middle) > 0 ? low : high) = middle;
    }
    return low;
}

Interval typical_loss_v(Topology topology, double peak_a, double emitter_ohm, int pairs) {
    // Idle part from simulated stages into an open load (source-fed followers 1.4 V, bootstrapped
    // 0.5, quasi 0.9 and 1.4), with room for a cascode or a two-diode feed.
    Interval idle{0.4, 1.4, 2.6};
    switch (topology) {
    case Topology::follower:
        break;
    case Topology::follower_triple:
        idle = {0.9, 2.1, 3.4};
        break;
    case Topology::quasi:
        idle = {0.5, 1.3, 2.4};
        break;
    case Topology::feedback_pair:
        idle = {0.4, 1.0, 2.2};
        break;
    }
    // Besides R_E: base-emitter volts that grow with current, fuse and wiring.
    const Interval slope = (Interval::exact(emitter_ohm) + Interval{0.1, 0.2, 0.4}) * (1.0 / pairs);
    return idle + peak_a * slope;
}

Interval clip_by_rail(const Interval& rail_v, Topology topology, double load_ohm,
                      double emitter_ohm, int pairs) {
    // The loss is straight in the current: V·(1 + r/R) = V_CC − loss at rest.
    const Interval idle = typical_loss_v(topology, 0, emitter_ohm, pairs);
    const Interval one = typical_loss_v(topology, 1, emitter_ohm, pairs);
    const auto clip = [&](double volts, double idle_v, double one_v) {
        return std::max(volts - idle_v, 0.0) / (1 + (one_v - idle_v) / load_ohm);
    };
    return {clip(rail_v.low, idle.high, one.high), clip(rail_v.value, idle.value, one.value),
            clip(rail_v.high, idle.low, one.low)};
}

Interval clean_power_w(const Interval& plus_v, const Interval& minus_v, const Interval& load_ohm) {
    return monotone(
        [](double plus, double minus, double ohm) {
            const double earlier = std::min(plus, minus);
            return earlier * earlier / (2 * ohm);
        },
        plus_v, minus_v, load_ohm);
}

Interval clip_asymmetry(const Interval& plus_v, const Interval& minus_v) {
    return monotone(
        [](double plus, double minus) {
            const double mean = (plus + minus) / 2;
            return mean > 0 ? (plus - minus) / mean : 0.0;
        },
        plus_v, minus_v);
}

} // namespace railside
