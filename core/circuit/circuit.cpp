#include "core/circuit/circuit.h"

#include "core/quantity/refusal.h"
#include "core/words/words.h"

#include <fmt/format.h>

#include <algorithm>
#include <cassert>
#include <cmath>
#include <numbers>

namespace railside {

namespace {

std::string lower(std::string_view text) {
    std::string result(text);
    std::transform(result.begin(), result.end(), result.begin(), [](char c) {
        return c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c;
    });
    return result;
}

double sine_at(const Waveform::Sine& sine, double time_s) {
    const double phase = sine.phase_deg * std::numbers::pi / 180;
    const double late = time_s - sine.delay_s;
    if (late <= 0) {
        return sine.offset + sine.amplitude * std::sin(phase);
    }
    return sine.offset + sine.amplitude * std::exp(-sine.damping_per_s * late) *
                             std::sin(2 * std::numbers::pi * sine.frequency_hz * late + phase);
}

double pulse_at(const Waveform::Pulse& pulse, double time_s) {
    double late = time_s - pulse.delay_s;
    if (late < 0) {
        return pulse.low;
    }
    if (pulse.period_s > 0) {
        late = std::fmod(late, pulse.period_s);
    }
    if (late < pulse.rise_s) {
        return pulse.low + (pulse.high - pulse.low) * late / pulse.rise_s;
    }
    late -= pulse.rise_s;
    if (late < pulse.width_s) {
        return pulse.high;
    }
    late -= pulse.width_s;
    if (late < pulse.fall_s) {
        return pulse.high + (pulse.low - pulse.high) * late / pulse.fall_s;
    }
    return pulse.low;
}

double points_at(const Waveform::Points& points, double time_s) {
    const auto& at = points.at;
    if (at.empty()) {
        return 0;
    }
    const auto after =
        std::find_if(at.begin(), at.end(), [&](const auto& point) { return point.first > time_s; });
    if (after == at.begin()) {
        return after->second;
    }
    const auto before = after - 1;
    if (after == at.end()) {
        return before->second;
    }
    return before->second + (after->second - before->second) * (time_s - before->first) /
                                (after->first - before->first);
}

} // namespace

double Waveform::at(double time_s) const {
    if (const auto* sine = std::get_if<Sine>(&shape)) {
        return sine_at(*sine, time_s);
    }
    if (const auto* pulse = std::get_if<Pulse>(&shape)) {
        return pulse_at(*pulse, time_s);
    }
    if (const auto* points = std::get_if<Points>(&shape)) {
        return points_at(*points, time_s);
    }
    return dc;
}

Circuit::Circuit() : node_names_{"0"}, nodes_{{"0", 0}, {"gnd", 0}} {}

Node Circuit::node(std::string_view name) {
    std::string key = lower(name);
    if (const auto held = nodes_.find(key); held != nodes_.end()) {
        return held->second;
    }
    const Node made = node_count();
    node_names_.push_back(key);
    nodes_.emplace(std::move(key), made);
    return made;
}

std::optional<Node> Circuit::find_node(std::string_view name) const {
    const auto held = nodes_.find(lower(name));
    return held == nodes_.end() ? std::nullopt : std::optional<Node>(held->second);
}

std::string_view Circuit::node_name(Node node) const {
    return node_names_[static_cast<std::size_t>(node)];
}

ElementId Circuit::add(std::string name, ElementPart part) {
    const auto id = static_cast<ElementId>(elements_.size());
    [[maybe_unused]] const bool fresh = by_name_.emplace(lower(name), id).second;
    assert(fresh);
    elements_.push_back({std::move(name), std::move(part)});
    return id;
}

std::optional<ElementId> Circuit::find(std::string_view name) const {
    const auto held = by_name_.find(lower(name));
    return held == by_name_.end() ? std::nullopt : std::optional<ElementId>(held->second);
}

const Element& Circuit::element(ElementId id) const {
    return elements_[static_cast<std::size_t>(id)];
}
Element& Circuit::element(ElementId id) { return elements_[static_cast<std::size_t>(id)]; }

Result<Done> Circuit::set_value(std::string_view name, double value) {
    const auto id = find(name);
    if (!id) {
        return refusal(ErrorCode::not_found, name, "there is no element of that name.");
    }
    const auto refuse = [&](std::string_view accepted) {
        return refusal(ErrorCode::out_of_range, name,
                       worded("{:.6g} is not accepted. Accepted: {}.", value, accepted));
    };
    if (!std::isfinite(value)) {
        return refuse("a finite number");
    }
    ElementPart& part = element(*id).part;
    if (auto* resistor = std::get_if<Resistor>(&part)) {
        if (value == 0) {
            return refuse("a resistance that is not 0 ohm");
        }
        resistor->ohm = value;
    } else if (auto* capacitor = std::get_if<Capacitor>(&part)) {
        if (value < 0) {
            return refuse("0 F or more");
        }
        capacitor->farad = value;
    } else if (auto* inductor = std::get_if<Inductor>(&part)) {
        if (value < 0) {
            return refuse("0 H or more");
        }
        inductor->henry = value;
    } else if (auto* volts = std::get_if<VoltageSource>(&part)) {
        volts->value.dc = value;
    } else if (auto* current = std::get_if<CurrentSource>(&part)) {
        current->value.dc = value;
    } else {
        return refusal(ErrorCode::out_of_range, name,
                       "has no single value to set. Accepted: a resistor, capacitor, inductor or "
                       "independent source.");
    }
    return Done{};
}

} // namespace railside
