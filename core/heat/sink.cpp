#include "core/heat/sink.h"

#include "core/quantity/value_code.h"
#include "core/words/words.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cassert>

namespace railside {

namespace {

constexpr double k_rating_case_c = 25;

constexpr std::string_view k_beryllia =
    "Beryllia dust is poisonous to breathe: never file, sand, drill, break or scrape such a washer "
    "or a part that holds one. Wipe it with a damp cloth, bag a broken one whole, wash your hands.";

constexpr std::array k_washers{
    WasherInfo{
        Washer::bare_grease, "bare", "no washer, greased", {0.05, 0.1, 0.2}, {0.4, 0.8, 1.2}, {}},
    WasherInfo{Washer::mica_grease, "mica", "mica, greased", {0.25, 0.4, 0.7}, {1.0, 1.6, 2.2}, {}},
    WasherInfo{
        Washer::silicone_pad, "silicone", "silicone pad", {0.35, 0.7, 1.2}, {1.2, 2.2, 3.5}, {}},
    WasherInfo{Washer::aluminium_oxide,
               "alumina",
               "aluminium oxide, greased",
               {0.2, 0.3, 0.5},
               {0.6, 0.9, 1.4},
               {}},
    WasherInfo{
        Washer::polyimide, "polyimide", "polyimide film", {0.3, 0.45, 0.8}, {1.0, 1.6, 2.4}, {}},
    WasherInfo{Washer::beryllia,
               "beryllia",
               "beryllia, greased",
               {0.1, 0.15, 0.25},
               {0.4, 0.6, 1.0},
               k_beryllia},
    WasherInfo{Washer::none, "none", "nothing, dry", {0.2, 0.4, 0.7}, {0.8, 1.2, 1.8}, {}},
};

} // namespace

SinkTemperature sink_temperature(double ambient_c, double sink_k_per_w,
                                 std::span<const Mounted> devices) {
    double total_w = 0;
    for (const Mounted& device : devices) {
        total_w += device.power_w;
    }
    SinkTemperature result;
    result.sink_c = ambient_c + sink_k_per_w * total_w;
    for (const Mounted& device : devices) {
        const double case_c = result.sink_c + device.power_w * device.case_sink_k_per_w;
        result.devices.push_back({case_c, case_c + device.power_w * device.junction_case_k_per_w});
    }
    return result;
}

Result<double> sink_resistance(double ambient_c, double sink_c, double power_w) {
    if (!(sink_c > ambient_c)) {
        return Error{ErrorCode::contradictory, "Sink reading",
                     worded("A sink at {} is no warmer than the air at {}, so nothing heats "
                            "it. Accepted: a sink reading above the ambient.",
                            print_short(sink_c, Unit::celsius, 4),
                            print_short(ambient_c, Unit::celsius, 4))};
    }
    if (!(power_w > 0)) {
        return Error{ErrorCode::contradictory, "Power at that reading",
                     "The power at which the sink was read is zero. Accepted: more than 0 W."};
    }
    return (sink_c - ambient_c) / power_w;
}

double derated_power_w(double rated_w, double junction_max_c, double case_c) {
    if (!(junction_max_c > k_rating_case_c)) {
        return 0;
    }
    const double part = (junction_max_c - case_c) / (junction_max_c - k_rating_case_c);
    return rated_w * std::clamp(part, 0.0, 1.0);
}

double implied_junction_case_k_per_w(double rated_w, double junction_max_c) {
    return (junction_max_c - k_rating_case_c) / rated_w;
}

std::span<const WasherInfo> washers() { return k_washers; }

const WasherInfo& washer_info(Washer washer) {
    const auto found = std::find_if(k_washers.begin(), k_washers.end(),
                                    [washer](const auto& info) { return info.washer == washer; });
    assert(found != k_washers.end());
    return *found;
}

std::optional<Washer> washer_from_key(std::string_view key) {
    for (const WasherInfo& info : k_washers) {
        if (info.key == key) {
            return info.washer;
        }
    }
    return std::nullopt;
}

const Interval& case_sink_k_per_w(Washer washer, CaseSize size) {
    const WasherInfo& info = washer_info(washer);
    return size == CaseSize::large ? info.large_k_per_w : info.small_k_per_w;
}

} // namespace railside
