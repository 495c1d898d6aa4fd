// A filament lamp in series with the mains of a unit under repair: how bright it burns, what is
// left for the unit, and what the unit draws when the lamp looks like that.
//
// Filament: R = R_h·(T/T_h)^1.21, R_h = V_r²/P_r, T_h about 2750 K; it loses
//   P = P_r·[(1 − s)·(T⁴ − T_a⁴)/(T_h⁴ − T_a⁴) + s·(T − T_a)/(T_h − T_a)],
// s the share that the filling gas conducts away at rated power: 0 for a vacuum lamp, a few per
// cent in a gas-filled one, which below a tenth of the rated volts is 10 to 20 % lower in
// resistance for it. Sources: H. A. Jones and I. Langmuir, The Characteristics of Tungsten
// Filaments as Functions of Temperature, General Electric Review 30 (1927); the Stefan-Boltzmann
// law; M. Carla, American Journal of Physics 81 (2013), for the two-term loss. Valid 300 to 2900 K.
//
// Unit: transformer of ratio N = V_mains/V_half, a centre-tapped bridge with both rails loaded
// alike (core/mains/rectifier.h) and an in-phase own power P_own taken before it, G = P_own/V²:
//   R_s = 2·R_lamp'/N² + R_winding,  R_lamp' = R_lamp/(1 + R_lamp·G),  V' = V_mains/(1 + R_lamp·G),
//   I² = (2·I_rms/N)² + V_p²·G² + 2·P_rect·G.
// The point is where I²·R_lamp(T) = P(T). A real magnetising current adds in quadrature and is left
// out.
#pragma once

#include "core/mains/rectifier.h"

#include <string_view>

namespace railside {

/// A filament lamp. LED and compact fluorescent lamps follow no such law.
struct Lamp {
    double rated_w = 60;  // above 0
    double rated_v = 230; // above 0
    double hot_k = 2750;  // filament at rated volts
    double gas_share = 0; // s, 0 to 0.2
    double room_k = 300;
};
[[nodiscard]] double lamp_hot_ohm(const Lamp& lamp);
/// `filament_k` above 0.
[[nodiscard]] double lamp_ohm(const Lamp& lamp, double filament_k);
[[nodiscard]] double lamp_loss_w(const Lamp& lamp, double filament_k);
/// The filament's temperature with `lamp_v` across it, 0 or more; room temperature at 0.
[[nodiscard]] double filament_at_volts(const Lamp& lamp, double lamp_v);

/// How it looks in a lit workshop.
enum class Glow {
    dark,   // nothing to see
    dim,    // dull red to orange
    bright, // plainly lit
    full,   // as on the mains alone
};
[[nodiscard]] std::string_view glow_label(Glow glow);
/// Below it a filament looks dark; 800 to 900 K by the eye and the light.
inline constexpr double k_visible_k = 850;
/// Dark below k_visible_k, dim to 1500 K, bright to 2300 K.
[[nodiscard]] Glow glow_of(double filament_k);
/// Filament temperatures that may be called so; the eye and the light of the room blur each border
/// by 50 K. From room temperature for dark, to the rated one for full.
struct GlowRange {
    double low_k = 0;
    double high_k = 0;
};
[[nodiscard]] GlowRange glow_range(const Lamp& lamp, Glow glow);

/// The unit as its mains lead sees it. Both rails alike.
struct MainsUnit {
    double mains_v = 230;   // rms
    double peak_v = 0;      // peak of one half winding on full mains
    double winding_ohm = 0; // of one half winding with what the primary adds, above 0
    double own_w = 0;       // taken before the rectifier on full mains, 0 or more
    double drop_v = 0.75;   // diode
    Demand demand;          // of one rail
};

/// One operating point.
struct LampPoint {
    double filament_k = 0;
    double lamp_v = 0; // rms
    double lamp_a = 0; // rms
    double unit_v = 0; // rms left at the primary
    double rail_v = 0; // one rail to ground
    double rail_a = 0; // one rail
};
[[nodiscard]] LampPoint on_lamp(const Lamp& lamp, const MainsUnit& unit);
/// The same unit straight on the mains (lamp figures 0).
[[nodiscard]] LampPoint without_lamp(const MainsUnit& unit);

/// What the rails carry when the filament is at `filament_k`; the unit's own demand is not used.
/// No current when the unit's own power alone makes it as hot, a dead short (0 V) when it is hotter
/// than any load makes it.
[[nodiscard]] LampPoint drawn_at(const Lamp& lamp, const MainsUnit& unit, double filament_k);

/// How long the lamp flashes while it charges `reservoir_f` on each rail from empty to 90 % of
/// where the rail settles, s; the filament taken to follow at once.
[[nodiscard]] double flash_s(const Lamp& lamp, const MainsUnit& unit, double reservoir_f);

} // namespace railside
