// Works out a circuit: operating point, sweeps, small-signal slopes, and a small transient.
//
// Method: modified nodal analysis (Ho, Ruehli & Brennan, IEEE Trans. Circuits and Systems 22, 1975)
// with Newton's iteration; junction volts are limited from step to step (Nagel, SPICE2, Memorandum
// ERL-M520, 1975). A device's series resistances are eliminated inside the device (a Schur
// complement), so the matrix holds outer nodes only. When plain Newton fails: gmin stepping, then
// source stepping, then a pseudo-transient. Dense LU by Eigen. Capacitors are open and inductors
// short in the operating point; the transient uses trapezoidal steps with error control and takes
// charge in capacitors and inductors only, not in junctions.
#pragma once

#include "core/circuit/circuit.h"
#include "core/result.h"

#include <memory>
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace railside {

/// How closely and how hard to try.
struct SolveOptions {
    double relative = 1e-9;    // of a node's volts
    double absolute_v = 1e-9;  // V
    double absolute_a = 1e-13; // A
    double gmin_s = 1e-12;     // across every junction
    int iterations = 60;       // Newton steps before another way is tried
};

/// How the answer was found.
struct SolveReport {
    int iterations = 0; // Newton steps, all ways together
    enum class Way { newton, gmin_steps, source_steps, pseudo_transient } way = Way::newton;
};

/// What flows in one element.
struct ElementState {
    double current_a = 0; // first to second node; transistors: collector; diodes: anode
    double base_a = 0;    // transistors
    double emitter_a = 0; // transistors
    double power_w = 0;   // taken up by the element (sources: negative when they deliver)
};

/// One solved state of a circuit.
struct OperatingPoint {
    std::vector<double> node_v; // by Node; [0] = 0
    std::vector<ElementState> elements;
    SolveReport report;

    [[nodiscard]] double volts(Node a, Node b = 0) const {
        return node_v[static_cast<std::size_t>(a)] - node_v[static_cast<std::size_t>(b)];
    }
    [[nodiscard]] const ElementState& element(ElementId id) const {
        return elements[static_cast<std::size_t>(id)];
    }
};

/// One transient answer: node volts and source/inductor currents at each kept time.
struct Transient {
    std::vector<double> time_s;
    std::vector<Node> nodes;                               // that were asked for
    std::vector<std::vector<double>> node_v;               // by asked node, then time
    std::vector<ElementId> elements;                       // that were asked for
    std::vector<std::vector<ElementState>> element_states; // by asked element, then time
};
struct TransientOptions {
    double stop_s = 0;        // above 0
    double step_s = 0;        // longest step, above 0
    double keep_from_s = 0;   // times before are not kept
    double relative = 1e-4;   // local error of a step
    double absolute_v = 1e-6; //
    enum class Start {
        operating_point,
        given // capacitors and inductors start as they say, 0 when they do not (uic)
    } start = Start::operating_point;
    long most_steps = 2'000'000;
};

/// Works out one circuit again and again; its values may change between calls, its nodes and
/// elements may not. Keeps its memory: solve() and resolve() do not allocate once warm, as long as
/// the operating point they are given has been filled before.
class Solver {
  public:
    explicit Solver(const Circuit& circuit);
    ~Solver();
    Solver(Solver&&) noexcept;
    Solver& operator=(Solver&&) noexcept;

    /// Takes up changed values (resistances, sources, temperatures, models, guesses).
    void take(const Circuit& circuit);

    /// From scratch (and the circuit's first guess). Errors: contradictory (a loop of sources, a
    /// node with no way to ground), failed (did not converge, naming the node or device that moved
    /// most). Elements are filled in.
    [[nodiscard]] Result<Done> solve(OperatingPoint& point, const SolveOptions& options = {});

    /// From the last answer, for sweeps; falls back to solve() when that fails.
    [[nodiscard]] Result<Done> resolve(OperatingPoint& point, const SolveOptions& options = {});

    /// d(node volts)/d(value) at the last answer, for a source or resistor. `slopes` has node_count
    /// entries. Errors: not_found for other elements.
    [[nodiscard]] Result<Done> slopes(ElementId element, std::span<double> slopes);

    /// Changes one value without going through the circuit (sources: dc; resistors: ohm).
    void set_value(ElementId element, double value);
    /// Changes the junction temperature of one diode or transistor.
    void set_junction(ElementId element, double junction_c);

    [[nodiscard]] Result<Transient> transient(const TransientOptions& options,
                                              std::span<const Node> nodes,
                                              std::span<const ElementId> elements);

  private:
    struct Work;
    std::unique_ptr<Work> work_;
};

/// Operating point of a circuit in one call.
[[nodiscard]] Result<OperatingPoint> operating_point(const Circuit& circuit,
                                                     const SolveOptions& options = {});

} // namespace railside
