#include "core/suspects/fault.h"

#include <cmath>

namespace railside {

namespace {

constexpr double k_open_ohm = 1e9;
constexpr double k_open_beside_meter_ohm = 1e7; // an open emitter resistor with a meter across it
constexpr double k_junction_short_ohm = 0.2;
constexpr double k_short_ohm = 0.05;

/// Sums to 1 with what the listed faults have.
constexpr double k_prior_none = 0.02;
constexpr double k_prior_other = 0.03;

bool says(std::string_view role, std::string_view words) {
    return role.find(words) != std::string_view::npos;
}

/// How often a part in that place fails, relative to a small transistor's 1: power and heat first,
/// then what moves (pots) and what dries out (electrolytics), small resistors and films last.
double failing(const SuspectPosition& position) {
    const std::string& role = position.role;
    switch (position.kind) {
    case ElementKind::transistor:
        switch (position.device) {
        case Role::output:
            return 3;
        case Role::driver:
        case Role::pre_driver:
            return 2;
        case Role::voltage_amplifier:
            return 1.5;
        default:
            return 1;
        }
    case ElementKind::diode:
        return says(role, "catch") ? 0.3 : 0.7;
    case ElementKind::capacitor:
        return role == "part" ? 0.2 : 0.5;
    case ElementKind::resistor:
        break;
    }
    if (says(role, "fuse"))
        return 1;
    if (says(role, "trim pot"))
        return 1;
    if (role == "emitter resistor")
        return 1;
    return role == "part" ? 0.3 : 0.5;
}

struct Share {
    FaultKind kind;
    double share;
};

std::vector<Share> shares(const SuspectPosition& position) {
    using enum FaultKind;
    switch (position.kind) {
    case ElementKind::transistor:
        return {{short_circuit, 0.3}, {leak, 0.25},        {low_gain, 0.15},
                {open_base, 0.1},     {open_emitter, 0.1}, {open_collector, 0.1}};
    case ElementKind::diode:
        if (says(position.role, "bias"))
            return {{short_circuit, 0.4}, {open, 0.4}, {one_too_many, 0.2}};
        return {{short_circuit, 0.5}, {open, 0.5}};
    case ElementKind::capacitor:
        return {{short_circuit, 0.5}, {open, 0.5}};
    case ElementKind::resistor:
        break;
    }
    if (says(position.role, "fuse"))
        return {{open, 1}};
    if (position.role == "trim pot" || position.role == "bias trim")
        return {{open, 0.4}, {wiper_open, 0.6}};
    if (says(position.role, "trim pot"))
        return {{open, 1}};
    return {{open, 0.45}, {higher, 0.4}, {lower, 0.15}};
}

struct Range {
    double from = 1;
    double to = 1;
};
Range range_of(FaultKind kind) {
    switch (kind) {
    case FaultKind::leak:
        return {22e3, 100};
    case FaultKind::low_gain:
        return {1.0 / 3, 1.0 / 30};
    case FaultKind::higher:
        return {1.3, 60};
    case FaultKind::lower:
        return {1 / 1.3, 1.0 / 50};
    default:
        return {};
    }
}

/// A lead of a part opened: the part gets a node of its own behind 1 Gohm.
void open_lead(Circuit& circuit, Node& lead) {
    const Node inner = circuit.node("open#lead");
    circuit.add("open#fault", Resistor{lead, inner, k_open_ohm});
    lead = inner;
}

} // namespace

std::string_view fault_words(FaultKind kind) {
    switch (kind) {
    case FaultKind::none:
        return "no fault";
    case FaultKind::other:
        return "something that is not in the list";
    case FaultKind::short_circuit:
        return "shorted";
    case FaultKind::leak:
        return "leaky";
    case FaultKind::open:
        return "open";
    case FaultKind::open_base:
        return "base open";
    case FaultKind::open_emitter:
        return "emitter open";
    case FaultKind::open_collector:
        return "collector open";
    case FaultKind::low_gain:
        return "low gain";
    case FaultKind::higher:
        return "value gone up";
    case FaultKind::lower:
        return "value gone down";
    case FaultKind::wiper_open:
        return "wiper open";
    case FaultKind::one_too_many:
        return "one diode too many";
    }
    return "";
}

std::string_view fault_key(FaultKind kind) {
    switch (kind) {
    case FaultKind::none:
        return "none";
    case FaultKind::other:
        return "other";
    case FaultKind::short_circuit:
        return "short";
    case FaultKind::leak:
        return "leak";
    case FaultKind::open:
        return "open";
    case FaultKind::open_base:
        return "open_base";
    case FaultKind::open_emitter:
        return "open_emitter";
    case FaultKind::open_collector:
        return "open_collector";
    case FaultKind::low_gain:
        return "low_gain";
    case FaultKind::higher:
        return "higher";
    case FaultKind::lower:
        return "lower";
    case FaultKind::wiper_open:
        return "wiper_open";
    case FaultKind::one_too_many:
        return "one_too_many";
    }
    return "";
}

bool has_severity(FaultKind kind) {
    return kind == FaultKind::leak || kind == FaultKind::low_gain || kind == FaultKind::higher ||
           kind == FaultKind::lower;
}

double severity_value(FaultKind kind, double severity) {
    const Range range = range_of(kind);
    return range.from * std::pow(range.to / range.from, severity);
}

std::vector<Fault> all_faults(const Amplifier& amplifier) {
    std::vector<Fault> faults;
    double sum = 0;
    for (std::size_t at = 0; at < amplifier.positions.size(); ++at) {
        const SuspectPosition& position = amplifier.positions[at];
        const double weight = failing(position);
        for (const Share& share : shares(position)) {
            faults.push_back({static_cast<int>(at), share.kind, weight * share.share});
            sum += weight * share.share;
        }
    }
    for (Fault& fault : faults)
        fault.prior *= (1 - k_prior_none - k_prior_other) / sum;
    faults.push_back({-1, FaultKind::none, k_prior_none});
    faults.push_back({-1, FaultKind::other, k_prior_other});
    return faults;
}

FaultyCircuit with_fault(const Amplifier& amplifier, const Fault& fault) {
    FaultyCircuit faulty{amplifier.circuit};
    if (fault.position < 0)
        return faulty;
    Circuit& circuit = faulty.circuit;
    const SuspectPosition& position = amplifier.positions[static_cast<std::size_t>(fault.position)];
    // By value: adding elements moves them.
    ElementPart part = circuit.element(position.element).part;
    const auto bridge = [&](Node a, Node b, double ohm) {
        return circuit.add("bridge#fault", Resistor{a, b, ohm});
    };
    if (auto* q = std::get_if<Bipolar>(&part)) {
        switch (fault.kind) {
        case FaultKind::short_circuit:
            bridge(q->collector, q->emitter, k_junction_short_ohm);
            break;
        case FaultKind::leak:
            faulty.severity_element =
                bridge(q->collector, q->emitter, severity_value(fault.kind, 0.5));
            break;
        case FaultKind::open_base:
            open_lead(circuit, q->base);
            break;
        case FaultKind::open_emitter:
            open_lead(circuit, q->emitter);
            break;
        case FaultKind::open_collector:
            open_lead(circuit, q->collector);
            break;
        case FaultKind::low_gain:
            faulty.severity_element = position.element;
            break;
        default:
            break;
        }
    } else if (auto* d = std::get_if<Diode>(&part)) {
        if (fault.kind == FaultKind::short_circuit) {
            bridge(d->anode, d->cathode, k_short_ohm);
        } else if (fault.kind == FaultKind::open) {
            open_lead(circuit, d->anode);
        } else if (fault.kind == FaultKind::one_too_many) {
            const Node between = circuit.node("extra#node");
            circuit.add("extra#fault", Diode{between, d->cathode, d->model, d->area, d->junction});
            d->cathode = between;
        }
    } else if (auto* c = std::get_if<Capacitor>(&part)) {
        if (fault.kind == FaultKind::short_circuit)
            bridge(c->a, c->b, k_short_ohm);
        else
            c->farad = 0;
    } else if (auto* r = std::get_if<Resistor>(&part)) {
        if (fault.kind == FaultKind::open)
            r->ohm = position.role == "emitter resistor" ? k_open_beside_meter_ohm : k_open_ohm;
        else if (fault.kind == FaultKind::wiper_open)
            r->ohm = amplifier.trim ? amplifier.trim->track_ohm : r->ohm * 2;
        else
            faulty.severity_element = position.element;
    }
    circuit.element(position.element).part = std::move(part);
    return faulty;
}

void set_severity(Circuit& circuit, const Circuit& healthy, const Amplifier& amplifier,
                  const Fault& fault, ElementId severity_element, double severity) {
    if (severity_element < 0)
        return;
    const double value = severity_value(fault.kind, severity);
    ElementPart& part = circuit.element(severity_element).part;
    if (fault.kind == FaultKind::leak) {
        std::get<Resistor>(part).ohm = value;
        return;
    }
    const ElementId element = amplifier.positions[static_cast<std::size_t>(fault.position)].element;
    const ElementPart& good = healthy.element(element).part;
    if (auto* r = std::get_if<Resistor>(&part))
        r->ohm = std::get<Resistor>(good).ohm * value;
    else if (auto* q = std::get_if<Bipolar>(&part))
        q->model.forward_gain = std::get<Bipolar>(good).model.forward_gain * value;
}

} // namespace railside
