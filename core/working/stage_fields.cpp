#include "core/working/stage_fields.h"

#include "core/words/words.h"
#include "core/working/inputs.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace railside {

namespace {

std::string_view word_of(const Inputs& inputs, std::string_view key) {
    const auto held = inputs.find(key);
    return held == inputs.end() ? std::string_view{} : std::string_view(held->second.word);
}

Topology topology_of(std::string_view word) {
    return word == "triple"  ? Topology::follower_triple
           : word == "quasi" ? Topology::quasi
           : word == "pair"  ? Topology::feedback_pair
                             : Topology::follower;
}

/// Puts an amount in its place, and its ends among the doubts.
template <class Set>
void put(StageGiven& given, const Inputs& inputs, std::string_view key, std::string_view what,
         Set set) {
    if (const Amount* amount = amount_if_given(inputs, key)) {
        set(given.values, amount->value);
        for (StageGiven::Ends& ends : given.doubts) {
            set(ends.low, amount->value);
            set(ends.high, amount->value);
        }
        add_doubt(given, std::string(what), amount->low, amount->high, set);
    }
}

struct Place {
    std::string_view field;
    std::string_view name;
    Role role;
    Polarity polarity;
    BipolarModel StageDevices::*model;
    bool told = true; // named among the constants even when generic
};

} // namespace

Result<StageGiven> stage_given(const Inputs& inputs) {
    StageGiven given;
    StageValues& values = given.values;
    values.topology = topology_of(word_of(inputs, "topology"));
    values.feed = word_of(inputs, "feed") == "bootstrap" ? Feed::bootstrap : Feed::current_source;
    values.feed_side = word_of(inputs, "feed_side") == "minus" ? StageHalf::minus : StageHalf::plus;
    if (const Amount* pairs = amount_if_given(inputs, "pairs")) {
        values.pairs = static_cast<int>(pairs->value);
    }
    if (const Amount* junction = amount_if_given(inputs, "junction")) {
        values.temperatures.output_c = junction->value;
    }

    const bool triple = values.topology == Topology::follower_triple;
    const bool pair = values.topology == Topology::feedback_pair;
    const bool quasi = values.topology == Topology::quasi;
    const bool plus_feed = values.feed_side == StageHalf::plus;
    constexpr Polarity npn = Polarity::npn;
    constexpr Polarity pnp = Polarity::pnp;
    using D = StageDevices;
    const std::array places{
        Place{"output_plus", "output +", Role::output, pair ? pnp : npn, &D::output_plus},
        Place{"output_minus", "output −", Role::output, pair || quasi ? npn : pnp,
              &D::output_minus},
        Place{"driver_plus", "driver +", Role::driver, npn, &D::driver_plus},
        Place{"driver_minus", "driver −", Role::driver, pnp, &D::driver_minus},
        Place{"pre_driver_plus", "pre-driver +", Role::pre_driver, npn, &D::pre_driver_plus,
              triple},
        Place{"pre_driver_minus", "pre-driver −", Role::pre_driver, pnp, &D::pre_driver_minus,
              triple},
        Place{"spreader_type", "spreader", Role::bias_spreader, npn, &D::spreader, false},
        Place{"limiter_plus", "limiter +", Role::limiter, npn, &D::limiter_plus, false},
        Place{"limiter_minus", "limiter −", Role::limiter, pnp, &D::limiter_minus, false},
        Place{"source_type", "current source", Role::voltage_amplifier, plus_feed ? pnp : npn,
              &D::source, false},
        Place{"amplifier_type", "voltage amplifier", Role::voltage_amplifier, plus_feed ? npn : pnp,
              &D::amplifier, false},
    };
    given.blind = true;
    std::vector<std::pair<const Place*, DeviceConstants>> found;
    for (const Place& place : places) {
        const std::string_view text = word_of(inputs, place.field);
        auto constants = device_constants(place.role, place.polarity, text, place.name);
        if (!constants) {
            return constants.error();
        }
        if (!text.empty()) {
            given.blind = false;
        }
        if (place.role == Role::output || place.role == Role::driver) {
            const bool output = place.role == Role::output;
            if (const Amount* gain =
                    amount_if_given(inputs, output ? "output_gain" : "driver_gain")) {
                const Amount* at =
                    amount_if_given(inputs, output ? "output_gain_current" : "driver_gain_current");
                GainReading reading{gain->low, gain->value, gain->high};
                reading.collector_a = at != nullptr ? at->value : output ? 0.1 : 0.01;
                constants = fitted_gain(std::move(constants).value(), reading);
                given.blind = false;
            }
        }
        if (!text.empty() || place.told) {
            given.constants.push_back(said(place.name, *constants));
        }
        values.devices.*place.model = constants->model;
        found.emplace_back(&place, std::move(constants).value());
    }

    put(given, inputs, "rail", "rail",
        [](StageValues& v, double volts) { v.rail_plus_v = v.rail_minus_v = volts; });
    put(given, inputs, "rail_minus", "− rail",
        [](StageValues& v, double volts) { v.rail_minus_v = volts; });
    put(given, inputs, "emitter_resistor", "emitter resistor",
        [](StageValues& v, double ohm) { v.emitter_ohm = ohm; });
    put(given, inputs, "supply_current", "supply current", [](StageValues& v, double amperes) {
        v.supply_a = amperes;
        v.most_a = std::max(3 * amperes, 0.01);
        // About half a volt across the amplifier's emitter resistor when it takes all it can.
        v.amplifier_ohm = 0.5 / v.most_a;
    });
    put(given, inputs, "driver_resistor", "driver resistor",
        [](StageValues& v, double ohm) { v.driver_ohm = ohm; });
    put(given, inputs, "base_stopper", "base stopper",
        [](StageValues& v, double ohm) { v.stopper_ohm = ohm; });

    // Devices last, so that their ends carry the values above. Devices of one role come from one
    // bin: they move together, which is also what widens the answer most.
    const auto doubt_of = [&](Role role, std::string_view plural) {
        double low = 1;
        double high = 1;
        double shift_v = 0;
        for (const auto& [place, constants] : found) {
            if (place->role == role) {
                low = std::min(low, constants.gain_low);
                high = std::max(high, constants.gain_high);
                shift_v = std::max(shift_v, constants.shift_v);
            }
        }
        const auto move = [&found, role](StageValues& v, double gain, double shift) {
            for (const auto& [place, constants] : found) {
                if (place->role == role) {
                    const double own = std::clamp(gain, constants.gain_low, constants.gain_high);
                    const double own_shift =
                        std::clamp(shift, -constants.shift_v, constants.shift_v);
                    v.devices.*place->model = moved(constants.model, own, own_shift);
                }
            }
        };
        add_doubt(given, worded("gain of the {}", plural), low, high,
                  [&](StageValues& v, double gain) { move(v, gain, 0); });
        add_doubt(given, worded("base-emitter volts of the {}", plural), -shift_v, shift_v,
                  [&](StageValues& v, double shift) { move(v, 1, shift); });
    };
    doubt_of(Role::output, "outputs");
    doubt_of(Role::driver, "drivers");
    if (triple) {
        doubt_of(Role::pre_driver, "pre-drivers");
    }
    return given;
}

std::string constants_note(const StageGiven& given) {
    std::string text = "Device constants: ";
    for (std::size_t i = 0; i < given.constants.size(); ++i) {
        text += (i > 0 ? "; " : "") + given.constants[i];
    }
    text += '.';
    if (given.blind) {
        text += " No types were given, so the interval is wide.";
    }
    return text;
}

} // namespace railside
