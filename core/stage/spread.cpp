#include "core/stage/spread.h"

#include "core/stage/merged_pairs.h"

#include <algorithm>
#include <array>
#include <cmath>

namespace railside {

namespace {

constexpr double k_open_ohm = 1e8;
constexpr double k_short_ohm = 0.2;     // a failed junction
constexpr double k_bridge_ohm = 0.1;    // a shorted capacitor, a lead to a lead
constexpr double k_least_arm_ohm = 0.5; // what a pot keeps at its end

struct Arms {
    double upper_ohm = 0;
    double lower_ohm = 0;
};

Arms arms_of(const MultiplierParts& parts, double position) {
    const double up = position * parts.trim_ohm;
    const double down = (1 - position) * parts.trim_ohm;
    Arms arms{parts.upper_ohm, parts.lower_ohm};
    switch (parts.trim) {
    case TrimPlace::lower_arm:
        arms.lower_ohm += down;
        break;
    case TrimPlace::upper_arm:
        arms.upper_ohm += up;
        break;
    case TrimPlace::divider:
        arms.upper_ohm += up;
        arms.lower_ohm += down;
        break;
    }
    return {std::max(arms.upper_ohm, k_least_arm_ohm), std::max(arms.lower_ohm, k_least_arm_ohm)};
}

Multiplier faulty(const MultiplierParts& parts, SpreadFault fault, double position,
                  double fault_ohm) {
    const Arms arms = arms_of(parts, position);
    Multiplier multiplier{arms.upper_ohm, arms.lower_ohm};
    const bool lower = parts.trim == TrimPlace::lower_arm;
    switch (fault) {
    case SpreadFault::wiper_open:
        if (parts.trim == TrimPlace::divider) {
            multiplier.transistor_there = false; // nothing holds its base
        } else {
            const Arms whole = arms_of(parts, lower ? 0 : 1);
            multiplier.upper_ohm = whole.upper_ohm;
            multiplier.lower_ohm = whole.lower_ohm;
        }
        break;
    case SpreadFault::track_open:
        (lower ? multiplier.lower_ohm : multiplier.upper_ohm) = k_open_ohm;
        break;
    case SpreadFault::track_open_low:
    case SpreadFault::lower_open:
        multiplier.lower_ohm = k_open_ohm;
        break;
    case SpreadFault::upper_open:
        multiplier.upper_ohm = k_open_ohm;
        break;
    case SpreadFault::transistor_open:
        multiplier.transistor_there = false;
        break;
    case SpreadFault::base_shorted:
        multiplier.transistor_there = false;
        multiplier.lower_ohm = k_short_ohm;
        break;
    case SpreadFault::collector_leak:
        multiplier.collector_emitter_ohm = fault_ohm;
        break;
    case SpreadFault::collector_short:
        multiplier.collector_emitter_ohm = k_short_ohm;
        break;
    case SpreadFault::bypass_shorted:
        multiplier.collector_emitter_ohm = k_bridge_ohm;
        break;
    case SpreadFault::none:
    case SpreadFault::diode_short:
    case SpreadFault::two_diodes_short:
    case SpreadFault::diode_more:
    case SpreadFault::diode_open:
    case SpreadFault::driver_leak:
        break;
    }
    return multiplier;
}

DiodeString faulty(const StringParts& parts, SpreadFault fault, double position) {
    DiodeString string{parts.diodes, position * parts.trim_ohm};
    switch (fault) {
    case SpreadFault::wiper_open:
        string.trim_ohm = parts.trim_ohm;
        break;
    case SpreadFault::track_open:
    case SpreadFault::diode_open:
        string.trim_ohm = k_open_ohm;
        break;
    case SpreadFault::bypass_shorted:
        string = {0, k_bridge_ohm};
        break;
    case SpreadFault::diode_short:
        string.count = std::max(parts.diodes - 1, 0);
        break;
    case SpreadFault::two_diodes_short:
        string.count = std::max(parts.diodes - 2, 0);
        break;
    case SpreadFault::diode_more:
        string.count = parts.diodes + 1;
        break;
    case SpreadFault::none:
    case SpreadFault::track_open_low:
    case SpreadFault::upper_open:
    case SpreadFault::lower_open:
    case SpreadFault::transistor_open:
    case SpreadFault::base_shorted:
    case SpreadFault::collector_leak:
    case SpreadFault::collector_short:
    case SpreadFault::driver_leak:
        break;
    }
    return string;
}

/// One circuit whose trim moves.
class TrimmedStage {
  public:
    static Result<TrimmedStage> build(const StageValues& values, const SpreaderParts& parts,
                                      SpreadFault fault, double fault_ohm, double position) {
        auto circuit =
            StageCircuit::build(merged_pairs(with_fault(values, parts, fault, position, fault_ohm)),
                                Drive::regulated, OpenLoad{});
        if (!circuit) {
            return circuit.error();
        }
        return TrimmedStage(parts, fault, fault_ohm, values.pairs, std::move(circuit).value());
    }

    Result<SpreadPoint> at(double position) {
        if (const auto* multiplier = std::get_if<MultiplierParts>(&parts_)) {
            const Multiplier set = faulty(*multiplier, fault_, position, fault_ohm_);
            circuit_.set_spreader(set.upper_ohm, set.lower_ohm);
        } else {
            circuit_.set_trim(faulty(std::get<StringParts>(parts_), fault_, position).trim_ohm);
        }
        const auto solved = circuit_.solve();
        if (!solved) {
            return solved.error();
        }
        return SpreadPoint{position,
                           solved->spread_v,
                           solved->reading_plus_v.front(),
                           solved->feed_a,
                           std::max(solved->output_plus_w, solved->output_minus_w) / pairs_,
                           std::max(solved->rail_plus_a, solved->rail_minus_a)};
    }

  private:
    TrimmedStage(const SpreaderParts& parts, SpreadFault fault, double fault_ohm, int pairs,
                 StageCircuit circuit)
        : parts_(parts), fault_(fault), fault_ohm_(fault_ohm), pairs_(pairs),
          circuit_(std::move(circuit)) {}

    SpreaderParts parts_;
    SpreadFault fault_;
    double fault_ohm_;
    int pairs_;
    StageCircuit circuit_;
};

bool has_trim(const SpreaderParts& parts) {
    return std::visit([](const auto& each) { return each.trim_ohm > 0; }, parts);
}

} // namespace

std::string_view fault_name(SpreadFault fault) {
    switch (fault) {
    case SpreadFault::none:
        return "no fault";
    case SpreadFault::wiper_open:
        return "trim wiper open";
    case SpreadFault::track_open:
        return "trim track open";
    case SpreadFault::track_open_low:
        return "trim track open, lower arm's side";
    case SpreadFault::upper_open:
        return "upper resistor open";
    case SpreadFault::lower_open:
        return "lower resistor open";
    case SpreadFault::transistor_open:
        return "transistor or its base open";
    case SpreadFault::base_shorted:
        return "transistor B-E shorted";
    case SpreadFault::collector_leak:
        return "transistor C-E leaky";
    case SpreadFault::collector_short:
        return "transistor C-E shorted";
    case SpreadFault::bypass_shorted:
        return "bypass capacitor shorted";
    case SpreadFault::diode_short:
        return "one diode shorted or too few";
    case SpreadFault::two_diodes_short:
        return "two diodes shorted or too few";
    case SpreadFault::diode_more:
        return "one diode too many";
    case SpreadFault::diode_open:
        return "one diode open";
    case SpreadFault::driver_leak:
        break;
    }
    return "driver C-E leaky";
}

std::vector<SpreadFault> faults_of(const SpreaderParts& parts) {
    using enum SpreadFault;
    std::vector<SpreadFault> faults;
    if (has_trim(parts)) {
        faults = {wiper_open, track_open};
    }
    if (const auto* multiplier = std::get_if<MultiplierParts>(&parts)) {
        if (multiplier->trim == TrimPlace::divider && has_trim(parts)) {
            faults.push_back(track_open_low);
        }
        faults.insert(faults.end(), {collector_short, transistor_open, base_shorted, collector_leak,
                                     upper_open, lower_open, bypass_shorted});
        return faults;
    }
    faults.insert(faults.end(), {diode_short, diode_open, diode_more});
    if (std::get<StringParts>(parts).diodes > 1) {
        faults.push_back(two_diodes_short);
    }
    faults.push_back(bypass_shorted);
    return faults;
}

StageValues with_spreader(const StageValues& values, const SpreaderParts& parts, double position) {
    return with_fault(values, parts, SpreadFault::none, position, k_open_ohm);
}

StageValues with_fault(const StageValues& values, const SpreaderParts& parts, SpreadFault fault,
                       double position, double fault_ohm) {
    StageValues result = values;
    if (const auto* multiplier = std::get_if<MultiplierParts>(&parts)) {
        result.spreader = faulty(*multiplier, fault, position, fault_ohm);
    } else {
        result.spreader = faulty(std::get<StringParts>(parts), fault, position);
    }
    if (fault == SpreadFault::driver_leak) {
        result.driver_leak_plus_ohm = fault_ohm;
    }
    return result;
}

bool FaultReading::trim_moves() const {
    if (over_trim.size() < 2) {
        return false;
    }
    constexpr double k_least_v = 1e-4; // less than a meter shows
    const double first = over_trim.front().reading_v;
    const double last = over_trim.back().reading_v;
    return std::abs(last - first) > 0.05 * std::max(std::abs(first), k_least_v);
}

Result<std::vector<SpreadPoint>> spread_over_trim(const StageValues& values,
                                                  const SpreaderParts& parts,
                                                  std::span<const double> positions) {
    std::vector<SpreadPoint> points;
    if (positions.empty()) {
        return points;
    }
    auto stage =
        TrimmedStage::build(values, parts, SpreadFault::none, k_open_ohm, positions.front());
    if (!stage) {
        return stage.error();
    }
    points.reserve(positions.size());
    for (const double position : positions) {
        const auto point = stage->at(position);
        if (!point) {
            return point.error();
        }
        points.push_back(*point);
    }
    return points;
}

Result<FaultReading> reading_with_fault(const StageValues& values, const SpreaderParts& parts,
                                        SpreadFault fault, double fault_ohm,
                                        std::span<const double> positions) {
    FaultReading reading;
    reading.fault = fault;
    if (positions.empty()) {
        return reading;
    }
    auto stage = TrimmedStage::build(values, parts, fault, fault_ohm, positions.front());
    if (!stage) {
        return stage.error();
    }
    for (const double position : positions) {
        const auto point = stage->at(position);
        if (!point) {
            reading.lost_hold = true;
            break;
        }
        reading.over_trim.push_back(*point);
    }
    return reading;
}

Result<std::optional<double>> trim_for_reading(const StageValues& values,
                                               const SpreaderParts& parts, double reading_v) {
    auto stage = TrimmedStage::build(values, parts, SpreadFault::none, k_open_ohm, 0);
    if (!stage) {
        return stage.error();
    }
    // The reading grows exponentially with the position, then straight: false position on its
    // logarithm, the stuck end's weight halved (the Illinois rule).
    constexpr double k_least_v = 1e-12;
    const auto over = [&](double position) -> Result<double> {
        const auto point = stage->at(position);
        if (!point) {
            return point.error();
        }
        return std::log(std::max(point->reading_v, k_least_v) / reading_v);
    };
    double low = 0;
    double high = 1;
    const auto first = over(low);
    if (!first) {
        return first.error();
    }
    const auto last = over(high);
    if (!last) {
        return last.error();
    }
    double low_over = *first;
    double high_over = *last;
    if (low_over > 0 || high_over < 0) {
        return std::optional<double>{};
    }
    int kept = 0;
    while (high - low > 1e-4 && high_over > low_over) {
        const double middle = std::clamp(low - low_over * (high - low) / (high_over - low_over),
                                         low + 0.01 * (high - low), high - 0.01 * (high - low));
        const auto there = over(middle);
        if (!there) {
            return there.error();
        }
        if (std::abs(*there) < 1e-6) {
            return std::optional<double>{middle};
        }
        if (*there < 0) {
            low = middle;
            low_over = *there;
            high_over *= kept == -1 ? 0.5 : 1;
            kept = -1;
        } else {
            high = middle;
            high_over = *there;
            low_over *= kept == 1 ? 0.5 : 1;
            kept = 1;
        }
    }
    return std::optional<double>{(low + high) / 2};
}

} // namespace railside
