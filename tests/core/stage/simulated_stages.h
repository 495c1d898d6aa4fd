// The simulated amplifiers of tests/data/netlists as stages, with the cards they were simulated
// with.
#pragma once

#include "core/device/model_card.h"
#include "core/stage/clip.h"
#include "core/stage/stage_circuit.h"

#include <fstream>
#include <sstream>
#include <stdexcept>
#include <string>

namespace simulated {

inline const railside::ModelCards& cards() {
    static const railside::ModelCards k_cards = [] {
        std::ifstream file(std::string(RAILSIDE_TEST_DATA) + "/netlists/models.lib");
        std::stringstream text;
        text << file.rdbuf();
        auto read = railside::read_model_cards(text.str(), "models.lib");
        if (!read) {
            throw std::runtime_error(read.error().message);
        }
        return std::move(read).value();
    }();
    return k_cards;
}

inline const railside::ModelCard& card(const std::string& name) {
    const railside::ModelCard* found = railside::find_card(cards().cards, name);
    if (found == nullptr) {
        throw std::runtime_error("no card " + name);
    }
    return *found;
}

inline railside::BipolarModel transistor(const std::string& name) {
    return std::get<railside::BipolarModel>(card(name).constants);
}

inline railside::StageDevices devices() {
    railside::StageDevices d;
    d.output_plus = transistor("qon");
    d.output_minus = transistor("qop");
    d.driver_plus = transistor("qdn");
    d.driver_minus = transistor("qdp");
    d.pre_driver_plus = transistor("qvn");
    d.pre_driver_minus = transistor("qvp");
    d.spreader = transistor("qsn");
    d.limiter_plus = transistor("qsn");
    d.limiter_minus = transistor("qsp");
    d.source = transistor("qvp");
    d.amplifier = transistor("qvn");
    d.diode = std::get<railside::DiodeModel>(card("dsm").constants);
    return d;
}

/// The dual-slope network of b2_dual.
inline railside::LimiterNetwork dual_slope() {
    railside::LimiterNetwork network;
    network.sense_ohm = 330;
    network.divider_ohm = 330;
    network.own_rail_ohm = 27e3;
    network.ground_ohm = 15e3;
    return network;
}

/// "a_ef2", "b2_dual", "c_quasi", "f_lowp"; 20 mV across R_E at rest.
inline railside::StageValues stage(const std::string& name) {
    railside::StageValues v;
    v.devices = devices();
    v.supply_a = 5.372e-3; // simulated, at rest
    v.most_a = 18e-3;      // its clamp over the 33 ohm in its emitter
    if (name == "b2_dual") {
        v.limiter_plus = v.limiter_minus = dual_slope();
    } else if (name == "c_quasi") {
        v.topology = railside::Topology::quasi;
        v.rail_plus_v = v.rail_minus_v = 35;
        v.driver_ohm = 100;
        v.devices.output_minus = transistor("qon");
    } else if (name == "f_lowp") {
        v.rail_plus_v = v.rail_minus_v = 25;
        v.emitter_ohm = 0.47;
        v.driver_ohm = 330;
        v.stopper_ohm = 0;
        v.feed = railside::Feed::bootstrap;
        v.supply_a = 5.42e-3;
        v.amplifier_ohm = 0;
    } else if (name != "a_ef2") {
        throw std::runtime_error("no stage " + name);
    }
    v.spreader = railside::FixedSpreader{railside::resting_spread_v(v, 0.02)};
    return v;
}

/// One fault of tests/data/clip.csv put into a stage.
inline void put_fault(railside::StageValues& v, const std::string& fault) {
    if (fault == "minus_driver_leak_1000") {
        v.driver_leak_minus_ohm = 1000;
    } else if (fault == "plus_driver_gain_12") {
        v.devices.driver_plus = transistor("qdnlo");
    } else if (fault == "minus_driver_gain_11") {
        v.devices.driver_minus = transistor("qdplo");
    } else if (fault == "plus_output_gain_14") {
        v.devices.output_plus = transistor("qonlo");
    } else if (fault == "minus_output_gain_13") {
        v.devices.output_minus = transistor("qoplo");
    } else if (fault == "plus_emitter_2R2") {
        v.emitter_minus_ohm = v.emitter_ohm;
        v.emitter_ohm = 2.2;
    } else if (fault == "minus_emitter_0R47") {
        v.emitter_minus_ohm = 0.47;
    } else if (fault == "minus_emitter_4R7") {
        v.emitter_minus_ohm = 4.7;
    } else if (fault == "driver_resistor_2200") {
        v.driver_ohm = 2200;
    } else if (fault == "plus_stopper_100") {
        v.stopper_ohm = 100; // both here: the minus half is not looked at
    } else if (fault != "none") {
        throw std::runtime_error("no fault " + fault);
    }
}

/// The stage turned over: each half's values and mirrored cards in the place of the other's.
inline railside::StageValues turned_over(railside::StageValues v) {
    const auto flipped = [](railside::BipolarModel model) {
        model.polarity = model.polarity == railside::Polarity::npn ? railside::Polarity::pnp
                                                                   : railside::Polarity::npn;
        return model;
    };
    railside::StageDevices& d = v.devices;
    const railside::StageDevices was = d;
    d.output_plus = flipped(was.output_minus);
    d.output_minus = flipped(was.output_plus);
    d.driver_plus = flipped(was.driver_minus);
    d.driver_minus = flipped(was.driver_plus);
    d.pre_driver_plus = flipped(was.pre_driver_minus);
    d.pre_driver_minus = flipped(was.pre_driver_plus);
    d.limiter_plus = flipped(was.limiter_minus);
    d.limiter_minus = flipped(was.limiter_plus);
    d.source = flipped(was.source);
    d.amplifier = flipped(was.amplifier);
    std::swap(v.rail_plus_v, v.rail_minus_v);
    std::swap(v.limiter_plus, v.limiter_minus);
    std::swap(v.driver_leak_plus_ohm, v.driver_leak_minus_ohm);
    const double minus_ohm = v.emitter_minus_ohm.value_or(v.emitter_ohm);
    v.emitter_minus_ohm = v.emitter_ohm;
    v.emitter_ohm = minus_ohm;
    v.feed_side = v.feed_side == railside::StageHalf::plus ? railside::StageHalf::minus
                                                           : railside::StageHalf::plus;
    return v;
}

} // namespace simulated
