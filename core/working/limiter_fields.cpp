#include "core/working/limiter_fields.h"

#include "core/quantity/refusal.h"
#include "core/words/words.h"
#include "core/working/inputs.h"

#include <fmt/format.h>

#include <optional>
#include <string>
#include <vector>

namespace railside {

namespace {

enum class Place { sense, divider, ground, own, far };

/// One resistor as fitted.
struct Fitted {
    Place place = Place::sense;
    bool diode = false; // in series, to ground
    std::string_view name;
    Interval ohm;
};

std::string word_of(const Inputs& inputs, std::string_view key) {
    const auto held = inputs.find(key);
    return held == inputs.end() ? "none" : held->second.word;
}

const Amount* either(const Inputs& inputs, std::string_view first, std::string_view second) {
    const Amount* found = first.empty() ? nullptr : amount_if_given(inputs, first);
    return found != nullptr ? found : amount_if_given(inputs, second);
}

/// Resistors of one half; a key of its own, when there is one, goes before the common one.
std::vector<Fitted> fitted_in(const Inputs& inputs, bool own) {
    std::vector<Fitted> fitted;
    const auto add = [&](Place place, bool diode, std::string_view name, std::string_view own_key,
                         std::string_view key) {
        if (const Amount* amount = either(inputs, own ? own_key : "", key)) {
            fitted.push_back({place, diode, name, Interval::from(*amount)});
        }
    };
    add(Place::sense, false, "sense resistor", "sense_minus", "sense_resistor");
    add(Place::divider, false, "divider resistor", "divider_minus", "divider_resistor");
    const auto slope = [&](std::string_view choice, std::string_view name, std::string_view own_key,
                           std::string_view key) {
        const std::string word = word_of(inputs, choice);
        if (word != "none") {
            add(word == "own"   ? Place::own
                : word == "far" ? Place::far
                                : Place::ground,
                word == "ground_diode", name, own_key, key);
        }
    };
    slope("slope", "slope resistor", "slope_minus", "slope_resistor");
    slope("second_slope", "second slope resistor", "second_slope_minus", "second_slope_resistor");
    return fitted;
}

/// The network with one resistor (by its number) at `ohm`, the others as they are.
LimiterNetwork network_of(const std::vector<Fitted>& fitted, std::size_t moved, double ohm) {
    LimiterNetwork network;
    // Two to one place stand in parallel.
    const auto beside = [](std::optional<double>& held, double other) {
        held = held ? 1 / (1 / *held + 1 / other) : other;
    };
    for (std::size_t i = 0; i < fitted.size(); ++i) {
        const double value = i == moved ? ohm : fitted[i].ohm.value;
        switch (fitted[i].place) {
        case Place::sense:
            network.sense_ohm = value;
            break;
        case Place::divider:
            beside(network.divider_ohm, value);
            break;
        case Place::ground:
            beside(network.ground_ohm, value);
            network.ground_diode = fitted[i].diode;
            break;
        case Place::own:
            beside(network.own_rail_ohm, value);
            break;
        case Place::far:
            beside(network.far_rail_ohm, value);
            break;
        }
    }
    return network;
}

} // namespace

Result<Done> add_limiters(StageGiven& given, const Inputs& inputs) {
    const bool own = word_of(inputs, "halves") == "own";
    const std::vector<Fitted> plus = fitted_in(inputs, false);
    const std::vector<Fitted> minus = fitted_in(inputs, own);
    int ground = 0;
    int diodes = 0;
    for (const Fitted& each : plus) {
        ground += each.place == Place::ground ? 1 : 0;
        diodes += each.diode ? 1 : 0;
    }
    if (ground == 2 && diodes == 1) {
        return refusal(ErrorCode::contradictory, "Second slope to",
                       "both slope resistors go to ground and only one through a diode. Accepted: "
                       "two alike, or two that return to different places.");
    }
    everywhere(given, [&](StageValues& v) {
        v.limiter_plus = network_of(plus, plus.size(), 0);
        v.limiter_minus = network_of(minus, minus.size(), 0);
    });
    for (std::size_t i = 0; i < plus.size(); ++i) {
        // Both halves' move together where they are the same part: one reel, one doubt.
        add_doubt(given, std::string(plus[i].name), plus[i].ohm.low, plus[i].ohm.high,
                  [&](StageValues& v, double ohm) {
                      v.limiter_plus = network_of(plus, i, ohm);
                      if (!own) {
                          v.limiter_minus = network_of(minus, i, ohm);
                      }
                  });
    }
    for (std::size_t i = 0; own && i < minus.size(); ++i) {
        add_doubt(given, worded("{}, − half", minus[i].name), minus[i].ohm.low, minus[i].ohm.high,
                  [&](StageValues& v, double ohm) { v.limiter_minus = network_of(minus, i, ohm); });
    }
    return Done{};
}

Result<Done> add_limiter_devices(StageGiven& given, const Inputs& inputs) {
    struct Side {
        std::string_view field;
        std::string_view name;
        Polarity polarity;
        BipolarModel StageDevices::*model;
    };
    const std::array sides{
        Side{"limiter_plus", "limiter +", Polarity::npn, &StageDevices::limiter_plus},
        Side{"limiter_minus", "limiter −", Polarity::pnp, &StageDevices::limiter_minus},
    };
    for (const Side& side : sides) {
        const auto held = inputs.find(side.field);
        const auto constants = device_constants(
            Role::limiter, side.polarity,
            held == inputs.end() ? std::string_view{} : std::string_view(held->second.word),
            side.name);
        if (!constants) {
            return constants.error();
        }
        const BipolarModel model = constants->model;
        add_doubt(given, worded("base-emitter volts of the {}", side.name), -constants->shift_v,
                  constants->shift_v, [&](StageValues& v, double shift_v) {
                      v.devices.*side.model = moved(model, 1, shift_v);
                  });
        add_doubt(
            given, worded("gain of the {}", side.name), constants->gain_low, constants->gain_high,
            [&](StageValues& v, double gain) { v.devices.*side.model = moved(model, gain, 0); });
    }
    return Done{};
}

} // namespace railside
