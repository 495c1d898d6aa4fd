// A transformer and bridge rectifier with reservoirs feeding one rail: how much current flows at
// which rail voltage, and where that meets what the rail's load takes.
//
// Schade's full-wave circuit with a large reservoir: the diodes conduct for the angle theta to each
// side of the peak,
//   cos theta = (V_dc + V_d)/V_pk,
//   I_dc = (2·V_pk/(pi·R_s))·(sin theta − theta·cos theta),
//   I_rms² = (2·V_pk²/(pi·R_s²))·(theta/2 + sin 2theta/4 − 2 sin theta cos theta + theta cos²
//   theta).
// Source: O. H. Schade, Analysis of Rectifier Operation, Proceedings of the IRE 31 (1943). Valid
// while the ripple is a few per cent of the rail; leakage inductance and core saturation are left
// out.
#pragma once

namespace railside {

/// One rail's rectifier; both half-cycles feed it.
struct Rectifier {
    double peak_v = 0;     // of the half winding, above 0
    double source_ohm = 0; // everything in series with one diode, above 0
    double drop_v = 0.75;  // of one diode at its current
};

/// Currents at one rail voltage.
struct Conduction {
    double angle_rad = 0; // theta, 0 to pi/2
    double dc_a = 0;      // mean, into the reservoir
    double rms_a = 0;     // through the winding
};
/// `rail_v` 0 or more; no current where the rail stands above the peak less a drop.
[[nodiscard]] Conduction conduction(const Rectifier& rectifier, double rail_v);

/// What a rail's load takes: current_a at rail_v, elsewhere current_a·(v/rail_v)^power; below 1 V
/// it falls to zero in proportion, for no junction conducts there. power 0: constant current, 1: a
/// resistance; fitted to simulated idling amplifiers: about 0.47 where a current source feeds the
/// bias (within 6 % from a quarter of the rails up), about 3.5 where a resistor does.
struct Demand {
    double current_a = 0; // 0 or more
    double rail_v = 1;    // above 0
    double power = 0;     // 0 to 5
};
[[nodiscard]] double demand_a(const Demand& demand, double rail_v);

/// The rail voltage at which the rectifier gives what the load takes. `start_v`: where it may be,
/// to be there sooner; any value will do.
[[nodiscard]] double rail_volts(const Rectifier& rectifier, const Demand& demand,
                                double start_v = 0);

/// The peak voltage that gives `dc_a` at `rail_v` (above 0) through `source_ohm`.
[[nodiscard]] double peak_for_rail(double rail_v, double dc_a, double source_ohm, double drop_v);

} // namespace railside
