#include "core/mains/lamp.h"

#include "core/mains/root.h"

#include <algorithm>
#include <cmath>

namespace railside {

namespace {

constexpr double k_tungsten_power = 1.21;
constexpr double k_plain_k = 1500;
constexpr double k_full_k = 2300;
constexpr double k_blur_k = 50;
constexpr double k_root_two = 1.41421356237309504880;

double fourth(double x) { return x * x * x * x; }

/// The mains side with that much lamp resistance and that rail voltage.
struct Primary {
    double lamp_a = 0;
    double unit_v = 0;
    Conduction rail;
};

Rectifier rectifier_behind(const MainsUnit& unit, double lamp_resistance) {
    const double own_s = unit.own_w / (unit.mains_v * unit.mains_v);
    const double divided = 1 + lamp_resistance * own_s;
    const double ratio = unit.mains_v * k_root_two / unit.peak_v;
    return {unit.peak_v / divided,
            2 * lamp_resistance / divided / (ratio * ratio) + unit.winding_ohm, unit.drop_v};
}

Primary primary_at(const MainsUnit& unit, double lamp_resistance, double rail_v) {
    Primary side;
    side.rail = conduction(rectifier_behind(unit, lamp_resistance), rail_v);
    const double own_s = unit.own_w / (unit.mains_v * unit.mains_v);
    const double ratio = unit.mains_v * k_root_two / unit.peak_v;
    const double reflected_a = 2 * side.rail.rms_a / ratio;
    const double rectified_w = 2 * (side.rail.dc_a * (rail_v + unit.drop_v) +
                                    side.rail.rms_a * side.rail.rms_a * unit.winding_ohm);
    const double divided = 1 + lamp_resistance * own_s;
    // From the power balance of the mains, the lamp and the rest.
    const double lost = lamp_resistance * reflected_a;
    const double unit_v2 =
        (unit.mains_v * unit.mains_v - lost * lost - 2 * lamp_resistance * rectified_w * divided) /
        (divided * divided);
    side.unit_v = std::sqrt(std::max(unit_v2, 0.0));
    side.lamp_a =
        std::sqrt(reflected_a * reflected_a + unit_v2 * own_s * own_s + 2 * rectified_w * own_s);
    if (!(side.lamp_a >= 0)) {
        side.lamp_a = reflected_a;
    }
    return side;
}

LampPoint point_of(const MainsUnit& unit, double filament_k, double lamp_resistance,
                   double rail_v) {
    const Primary side = primary_at(unit, lamp_resistance, rail_v);
    return {filament_k,    side.lamp_a * lamp_resistance, side.lamp_a, side.unit_v, rail_v,
            side.rail.dc_a};
}

} // namespace

double lamp_hot_ohm(const Lamp& lamp) { return lamp.rated_v * lamp.rated_v / lamp.rated_w; }

double lamp_ohm(const Lamp& lamp, double filament_k) {
    return lamp_hot_ohm(lamp) * std::pow(filament_k / lamp.hot_k, k_tungsten_power);
}

double lamp_loss_w(const Lamp& lamp, double filament_k) {
    const double radiated =
        (fourth(filament_k) - fourth(lamp.room_k)) / (fourth(lamp.hot_k) - fourth(lamp.room_k));
    const double conducted = (filament_k - lamp.room_k) / (lamp.hot_k - lamp.room_k);
    return lamp.rated_w * ((1 - lamp.gas_share) * radiated + lamp.gas_share * conducted);
}

double filament_at_volts(const Lamp& lamp, double lamp_v) {
    // Never hotter than a lamp whose resistance stayed at the cold value: four times is ample.
    return root_between(
        [&](double filament_k) {
            return lamp_v * lamp_v / lamp_ohm(lamp, filament_k) - lamp_loss_w(lamp, filament_k);
        },
        lamp.room_k, lamp.hot_k * (1 + std::sqrt(lamp_v / lamp.rated_v)));
}

std::string_view glow_label(Glow glow) {
    switch (glow) {
    case Glow::dark:
        return "dark";
    case Glow::dim:
        return "dim";
    case Glow::bright:
        return "bright";
    case Glow::full:
        break;
    }
    return "full";
}

Glow glow_of(double filament_k) {
    return filament_k < k_visible_k ? Glow::dark
           : filament_k < k_plain_k ? Glow::dim
           : filament_k < k_full_k  ? Glow::bright
                                    : Glow::full;
}

GlowRange glow_range(const Lamp& lamp, Glow glow) {
    switch (glow) {
    case Glow::dark:
        return {lamp.room_k, k_visible_k + k_blur_k};
    case Glow::dim:
        return {k_visible_k - k_blur_k, k_plain_k + k_blur_k};
    case Glow::bright:
        return {k_plain_k - k_blur_k, k_full_k + k_blur_k};
    case Glow::full:
        break;
    }
    return {k_full_k - k_blur_k, std::max(lamp.hot_k, k_full_k)};
}

LampPoint on_lamp(const Lamp& lamp, const MainsUnit& unit) {
    double last_v = 0;
    const auto rail_at = [&](double lamp_resistance) {
        last_v = rail_volts(rectifier_behind(unit, lamp_resistance), unit.demand, last_v);
        return last_v;
    };
    const double filament_k = root_between(
        [&](double at_k) {
            const double resistance = lamp_ohm(lamp, at_k);
            const double lamp_a = primary_at(unit, resistance, rail_at(resistance)).lamp_a;
            return lamp_a * lamp_a * resistance - lamp_loss_w(lamp, at_k);
        },
        lamp.room_k, filament_at_volts(lamp, unit.mains_v) + 1);
    const double resistance = lamp_ohm(lamp, filament_k);
    return point_of(unit, filament_k, resistance, rail_at(resistance));
}

LampPoint without_lamp(const MainsUnit& unit) {
    const double rail_v = rail_volts(rectifier_behind(unit, 0), unit.demand);
    LampPoint point = point_of(unit, 0, 0, rail_v);
    point.unit_v = unit.mains_v;
    return point;
}

LampPoint drawn_at(const Lamp& lamp, const MainsUnit& unit, double filament_k) {
    const double resistance = lamp_ohm(lamp, filament_k);
    const double lamp_a = std::sqrt(std::max(lamp_loss_w(lamp, filament_k), 0.0) / resistance);
    const double most_v = std::max(rectifier_behind(unit, resistance).peak_v - unit.drop_v, 0.0);
    const auto excess = [&](double rail_v) {
        return primary_at(unit, resistance, rail_v).lamp_a - lamp_a;
    };
    const double rail_v = excess(most_v) >= 0 ? most_v
                          : excess(0) <= 0    ? 0
                                              : root_between(excess, 0, most_v);
    LampPoint point = point_of(unit, filament_k, resistance, rail_v);
    return point;
}

double flash_s(const Lamp& lamp, const MainsUnit& unit, double reservoir_f) {
    const double settled_v = on_lamp(lamp, unit).rail_v;
    constexpr int k_steps = 24;
    const double step_v = 0.9 * settled_v / k_steps;
    double time_s = 0;
    for (int i = 0; i < k_steps; ++i) {
        const double rail_v = (i + 0.5) * step_v;
        const double filament_k = root_between(
            [&](double at_k) {
                const double resistance = lamp_ohm(lamp, at_k);
                const double lamp_a = primary_at(unit, resistance, rail_v).lamp_a;
                return lamp_a * lamp_a * resistance - lamp_loss_w(lamp, at_k);
            },
            lamp.room_k, filament_at_volts(lamp, unit.mains_v) + 1);
        const double charging_a = primary_at(unit, lamp_ohm(lamp, filament_k), rail_v).rail.dc_a -
                                  demand_a(unit.demand, rail_v);
        // Never nothing below where it settles; the floor is for rounding.
        time_s += reservoir_f * step_v / std::max(charging_a, 1e-6);
    }
    return time_s;
}

} // namespace railside
