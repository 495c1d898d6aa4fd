// A circuit: named nodes and elements. It only holds; core/circuit/solver.h works it out.
//
// Elements: resistors, capacitors, inductors, independent and controlled sources, diodes, bipolar
// transistors. Sign conventions are SPICE's: current through an element flows from its first to its
// second node; a source's current enters its positive node; collector, base and emitter currents
// flow into the device.
#pragma once

#include "core/circuit/formula.h"
#include "core/device/semiconductor.h"

#include <map>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

namespace railside {

/// A node's number; 0 is ground.
using Node = int;
/// An element's number, in the order of adding.
using ElementId = int;

/// The value of an independent source over time. Before time runs (operating point) it is dc.
struct Waveform {
    struct Sine { // offset + amplitude·sin(2π·frequency·(t − delay) + phase), after delay
        double offset = 0;
        double amplitude = 0;
        double frequency_hz = 0;
        double delay_s = 0;
        double damping_per_s = 0;
        double phase_deg = 0;
    };
    struct Pulse {
        double low = 0;
        double high = 0;
        double delay_s = 0;
        double rise_s = 0;
        double fall_s = 0;
        double width_s = 0;
        double period_s = 0;
    };
    struct Points { // straight lines between (time, value), times rising
        std::vector<std::pair<double, double>> at;
    };
    double dc = 0;
    std::variant<std::monostate, Sine, Pulse, Points> shape;

    /// The value at `time_s`, 0 or more; dc when there is no shape.
    [[nodiscard]] double at(double time_s) const;
};

struct Resistor {
    Node a = 0;
    Node b = 0;
    double ohm = 1; // not 0; finite
};
struct Capacitor {
    Node a = 0;
    Node b = 0;
    double farad = 0;              // 0 or more
    std::optional<double> start_v; // volts at time 0 when a transient skips the operating point
};
struct Inductor {
    Node a = 0;
    Node b = 0;
    double henry = 0; // 0 or more; its current is an unknown of its own
    std::optional<double> start_a;
};
struct VoltageSource {
    Node plus = 0;
    Node minus = 0;
    Waveform value;
};
struct CurrentSource { // from plus through the source to minus
    Node plus = 0;
    Node minus = 0;
    Waveform value;
};
struct ControlInput {
    enum class Kind {
        volts,  // V(plus) − V(minus)
        current // through `element`, a voltage source, inductor or controlled voltage source
    };
    Kind kind = Kind::volts;
    Node plus = 0;
    Node minus = 0;
    ElementId element = -1;
};
/// A controlled source: what = f(inputs), linear with `slopes` when there is no formula.
struct ControlledSource {
    enum class What {
        voltage, // E, H, B with v=
        current  // G, F, B with i=
    };
    What what = What::voltage;
    Node plus = 0;
    Node minus = 0;
    std::vector<ControlInput> inputs;
    std::vector<double> slopes;     // linear: one for each input
    std::optional<Formula> formula; // else: its inputs in the same order
};
struct Diode {
    Node anode = 0;
    Node cathode = 0;
    DiodeModel model;
    double area = 1;                // above 0
    std::optional<double> junction; // °C; absent: the circuit's
};
struct Bipolar {
    Node collector = 0;
    Node base = 0;
    Node emitter = 0;
    BipolarModel model;
    double area = 1;                // above 0
    std::optional<double> junction; // °C; absent: the circuit's
};

using ElementPart = std::variant<Resistor, Capacitor, Inductor, VoltageSource, CurrentSource,
                                 ControlledSource, Diode, Bipolar>;

struct Element {
    std::string name; // as written
    ElementPart part;
};

class Circuit {
  public:
    Circuit();

    /// The node of that name, made when it is new. "0" and "gnd" are ground. Letters in either
    /// case are the same.
    Node node(std::string_view name);
    [[nodiscard]] std::optional<Node> find_node(std::string_view name) const;
    [[nodiscard]] std::string_view node_name(Node node) const;
    /// Ground included.
    [[nodiscard]] int node_count() const { return static_cast<int>(node_names_.size()); }

    /// Names are unique, letters in either case the same; the caller sees to it (find()).
    ElementId add(std::string name, ElementPart part);
    [[nodiscard]] std::optional<ElementId> find(std::string_view name) const;
    [[nodiscard]] std::span<const Element> elements() const { return elements_; }
    [[nodiscard]] const Element& element(ElementId id) const;
    /// To change values in place; nodes and kinds stay what they were.
    [[nodiscard]] Element& element(ElementId id);

    /// Resistance, capacitance, inductance, or the dc value of a source. Refuses others, and values
    /// out of range, by name: not_found, out_of_range.
    [[nodiscard]] Result<Done> set_value(std::string_view name, double value);

    double temperature_c = k_card_c;    // of every device that has none of its own
    std::map<Node, double> first_guess; // volts the solver starts from (.nodeset)

  private:
    std::vector<std::string> node_names_;
    std::map<std::string, Node, std::less<>> nodes_; // lower case
    std::vector<Element> elements_;
    std::map<std::string, ElementId, std::less<>> by_name_; // lower case
};

} // namespace railside
