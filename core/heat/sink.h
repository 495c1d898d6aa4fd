// From heat to temperatures: several devices on one sink, what lies between case and sink, and the
// derating of a device's power.
//
// Model, steady state (JEDEC JESD51 definitions):
//   T_sink = T_amb + R_SA·ΣP_k,   T_case = T_sink + P·R_CS,   T_j = T_case + P·R_JC
//   P_allowed = P_25·(T_j,max − T_case)/(T_j,max − 25 °C), at most P_25
// A linear R_SA holds to about 20 % (in free convection it falls roughly as the fourth root of the
// temperature rise). Mean power may be used while a period is far below the die's time constant of
// about 10 ms; below 20 Hz the peak counts.
#pragma once

#include "core/quantity/interval.h"
#include "core/result.h"

#include <optional>
#include <span>
#include <string_view>
#include <vector>

namespace railside {

/// A device on the sink.
struct Mounted {
    double power_w = 0;               // its mean heat, 0 or more
    double junction_case_k_per_w = 0; // R_JC
    double case_sink_k_per_w = 0;     // R_CS, washer and grease
};

struct MountedTemperature {
    double case_c = 0;
    double junction_c = 0;
};

struct SinkTemperature {
    double sink_c = 0;
    std::vector<MountedTemperature> devices; // in the order given
};

/// Temperatures of a sink of `sink_k_per_w` (0 or more) with those devices on it.
[[nodiscard]] SinkTemperature sink_temperature(double ambient_c, double sink_k_per_w,
                                               std::span<const Mounted> devices);

/// R_SA from the sink's temperature at a known power (W, all devices on it together). Errors:
/// contradictory when the sink is no warmer than the air, or the power is 0 or less.
[[nodiscard]] Result<double> sink_resistance(double ambient_c, double sink_c, double power_w);

/// What a device rated `rated_w` at a case of 25 °C may dissipate at `case_c`; 0 to rated_w.
[[nodiscard]] double derated_power_w(double rated_w, double junction_max_c, double case_c);

/// R_JC as the rating implies it: (T_j,max − 25 °C)/P_25. `rated_w` above 0, junction_max_c above
/// 25.
[[nodiscard]] double implied_junction_case_k_per_w(double rated_w, double junction_max_c);

/// What lies between a device and its sink.
enum class Washer {
    bare_grease,     // metal on metal with grease
    mica_grease,     // mica, both sides greased
    silicone_pad,    // silicone rubber pad, dry
    aluminium_oxide, // alumina ceramic, both sides greased
    polyimide,       // polyimide film, greased or with its own coating
    beryllia,        // beryllium oxide ceramic, both sides greased
    none,            // metal on metal, dry
};

/// How large the face is that meets the sink.
enum class CaseSize {
    large, // TO-3, TO-3P, TO-247, TO-264: 250 to 550 mm²
    small, // TO-220, TO-126: 80 to 150 mm²
};

/// What is known of a washer.
struct WasherInfo {
    Washer washer = Washer::mica_grease;
    std::string_view key;     // "mica"
    std::string_view label;   // "mica, greased"
    Interval large_k_per_w;   // R_CS of the large cases
    Interval small_k_per_w;   // R_CS of the small ones
    std::string_view caution; // empty when it needs none
};

/// Every washer. Typical values with the spread of flatness, screw torque, grease and thickness:
/// semiconductor makers' mounting notes, and thickness/(conductivity·area) with 0.05 to 0.1 mm mica
/// (0.5 W/(m·K)), 0.15 to 0.25 mm silicone (0.9), 1 to 1.6 mm alumina (25) or beryllia (250),
/// 0.05 mm polyimide (0.2 to 0.4), and 0.03 to 0.1 cm²·K/W·10 a greased joint.
[[nodiscard]] std::span<const WasherInfo> washers();
[[nodiscard]] const WasherInfo& washer_info(Washer washer);
[[nodiscard]] std::optional<Washer> washer_from_key(std::string_view key);

/// R_CS of a washer under a case of that size.
[[nodiscard]] const Interval& case_sink_k_per_w(Washer washer, CaseSize size);

} // namespace railside
