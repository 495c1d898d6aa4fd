#include "core/circuit/solver.h"

#include "core/circuit/elimination.h"
#include "core/quantity/refusal.h"
#include "core/words/words.h"

#include <Eigen/Dense>
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

namespace railside {

namespace {

using Three = Eigen::Matrix<double, 3, 1>;
using Three3 = Eigen::Matrix<double, 3, 3>;

/// SPICE's limit on how far a junction may move in one step (Nagel, SPICE2). True when it bit.
bool limit_junction(double& volts, double before_v, double thermal_v, double critical_v) {
    const double wanted = volts;
    if (volts > critical_v && std::abs(volts - before_v) > 2 * thermal_v) {
        if (before_v > 0) {
            const double argument = 1 + (volts - before_v) / thermal_v;
            volts = argument > 0 ? before_v + thermal_v * std::log(argument) : critical_v;
        } else {
            volts = thermal_v * std::log(volts / thermal_v);
        }
    } else if (volts < 0) {
        const double lowest = before_v > 0 ? -before_v - 1 : 2 * before_v - 1;
        volts = std::max(volts, lowest);
    }
    return volts != wanted;
}

double critical_volts(double thermal_v, double saturation_a) {
    return thermal_v * std::log(thermal_v / (std::numbers::sqrt2 * saturation_a));
}

// Unknowns are numbered 0..n-1; ground is −1.
using Unknown = int;

struct TwoEnds {
    Unknown a = -1;
    Unknown b = -1;
};

struct ResistorWork : TwoEnds {
    double ohm = 1;
};
struct CapacitorWork : TwoEnds {
    double farad = 0;
    std::optional<double> start_v;
    // transient
    double volts = 0;    // at the last accepted time
    double current = 0;  //
    double before_v = 0; // one accepted time earlier
};
struct InductorWork : TwoEnds {
    Unknown branch = -1;
    double henry = 0;
    std::optional<double> start_a;
    double volts = 0;
    double current = 0;
    double before_a = 0;
};
struct VoltageWork : TwoEnds {
    Unknown branch = -1;
    Waveform value;
};
struct CurrentWork : TwoEnds {
    Waveform value;
};
struct ControlledWork : TwoEnds {
    Unknown branch = -1;                        // voltage kind
    std::vector<std::array<Unknown, 2>> inputs; // a current input has −1 as its second and negates
    std::vector<double> slopes;
    std::optional<Formula> formula;
    std::vector<double> values; // scratch
    double now = 0;             // f at the last linearisation
};
struct DiodeWork {
    Unknown anode = -1;
    Unknown cathode = -1;
    DiodeModel card; // as given, scaled by area
    DiodeModel model;
    double thermal_v = 0;
    double critical_v = 0;
    double junction_v = 0; // linearised there
    // linearisation: i = slope·v + offset, outer
    double slope = 0;
    double offset = 0;
    double inner_slope = 0;
    double inner_offset = 0;
};
struct BipolarWork {
    std::array<Unknown, 3> at{-1, -1, -1}; // collector, base, emitter
    double sign = 1;                       // −1 for pnp
    BipolarModel card;
    BipolarModel model;
    double thermal_v = 0;
    double critical_v = 0;
    double be_v = 0; // linearised there, as of an npn
    double bc_v = 0;
    Three3 inner = Three3::Zero(); // inner currents = inner·v + inner_offset
    Three inner_offset = Three::Zero();
    Three3 to_inner = Three3::Zero(); // inner volts = to_inner·(outer volts − drop)
    Three drop = Three::Zero();
    Three flows = Three::Zero(); // terminal currents, actual sign
};

DiodeModel scaled(DiodeModel model, double area) {
    model.saturation_a *= area;
    model.recombination_a *= area;
    model.knee_a *= area;
    model.breakdown_a *= area;
    model.series_ohm /= area;
    return model;
}

BipolarModel scaled(BipolarModel model, double area) {
    for (double* current : {&model.saturation_a, &model.forward_knee_a, &model.reverse_knee_a,
                            &model.emitter_leak_a, &model.collector_leak_a, &model.base_fall_a}) {
        *current *= area;
    }
    for (double* ohm :
         {&model.base_ohm, &model.base_least_ohm, &model.emitter_ohm, &model.collector_ohm}) {
        *ohm /= area;
    }
    return model;
}

/// What an element's id points at.
struct Slot {
    std::size_t kind = 0; // index into ElementPart
    std::size_t at = 0;   // into the vector of that kind
};

} // namespace

struct Solver::Work {
    // --- the circuit, flat
    Circuit circuit;
    int nodes = 1;
    Unknown unknowns = 0;
    std::vector<Slot> slots;
    std::vector<ResistorWork> resistors;
    std::vector<CapacitorWork> capacitors;
    std::vector<InductorWork> inductors;
    std::vector<VoltageWork> voltages;
    std::vector<CurrentWork> currents;
    std::vector<ControlledWork> controlled;
    std::vector<DiodeWork> diodes;
    std::vector<BipolarWork> bipolars;
    std::vector<std::pair<Unknown, double>> guesses;
    std::string unreachable; // the first node with no way to ground

    // --- numbers
    Eigen::MatrixXd matrix;
    Eigen::VectorXd right;
    Eigen::VectorXd x;
    Eigen::VectorXd next;
    Eigen::VectorXd anchor; // pseudo-transient
    Elimination elimination;
    bool solved = false; // x holds an answer
    Unknown worst = -1;  // moved most in the last step
    int steps = 0;

    // --- how the present solve is bent
    double source_share = 1;
    double diagonal_s = 0; // from every node to ground
    double anchor_s = 0;   // from every node to its anchor
    double guess_s = 0;    // holds guesses
    double gmin_s = 1e-12;
    double time_s = -1;     // below 0: operating point
    double step_s = 0;      // transient: of the step being solved
    bool trapezoid = false; // else backward Euler

    explicit Work(const Circuit& from) { build(from); }

    [[nodiscard]] bool at_dc() const { return time_s < 0; }
    [[nodiscard]] static double value(const Eigen::VectorXd& v, Unknown at) {
        return at < 0 ? 0 : v[at];
    }

    void build(const Circuit& from) {
        circuit = from;
        nodes = from.node_count();
        unknowns = nodes - 1;
        slots.clear();
        for (const Element& element : from.elements()) {
            add(element);
        }
        // Controlled sources may read branches that came later.
        std::size_t at = 0;
        for (const Element& element : from.elements()) {
            if (const auto* source = std::get_if<ControlledSource>(&element.part)) {
                wire(controlled[at++], *source);
            }
        }
        take_values(from);
        matrix.setZero(unknowns, unknowns);
        right.setZero(unknowns);
        x.setZero(unknowns);
        next.setZero(unknowns);
        anchor.setZero(unknowns);
        elimination.begin(static_cast<int>(unknowns));
        find_unreachable();
    }

    void add(const Element& element) {
        const auto kind = element.part.index();
        const auto slot = [&](std::size_t at) { slots.push_back({kind, at}); };
        const auto ends = [](Node a, Node b) { return TwoEnds{a - 1, b - 1}; };
        if (const auto* r = std::get_if<Resistor>(&element.part)) {
            slot(resistors.size());
            resistors.push_back({ends(r->a, r->b), r->ohm});
        } else if (const auto* c = std::get_if<Capacitor>(&element.part)) {
            slot(capacitors.size());
            capacitors.push_back({ends(c->a, c->b), c->farad, c->start_v});
        } else if (const auto* l = std::get_if<Inductor>(&element.part)) {
            slot(inductors.size());
            inductors.push_back({ends(l->a, l->b), unknowns++, l->henry, l->start_a});
        } else if (const auto* v = std::get_if<VoltageSource>(&element.part)) {
            slot(voltages.size());
            voltages.push_back({ends(v->plus, v->minus), unknowns++, v->value});
        } else if (const auto* i = std::get_if<CurrentSource>(&element.part)) {
            slot(currents.size());
            currents.push_back({ends(i->plus, i->minus), i->value});
        } else if (const auto* s = std::get_if<ControlledSource>(&element.part)) {
            slot(controlled.size());
            ControlledWork work;
            work.a = s->plus - 1;
            work.b = s->minus - 1;
            if (s->what == ControlledSource::What::voltage) {
                work.branch = unknowns++;
            }
            work.formula = s->formula;
            controlled.push_back(std::move(work));
        } else if (const auto* d = std::get_if<Diode>(&element.part)) {
            slot(diodes.size());
            DiodeWork work;
            work.anode = d->anode - 1;
            work.cathode = d->cathode - 1;
            diodes.push_back(work);
        } else if (const auto* q = std::get_if<Bipolar>(&element.part)) {
            slot(bipolars.size());
            BipolarWork work;
            work.at = {q->collector - 1, q->base - 1, q->emitter - 1};
            bipolars.push_back(work);
        }
    }

    [[nodiscard]] Unknown branch_of(ElementId id) const {
        const Slot& slot = slots[static_cast<std::size_t>(id)];
        switch (slot.kind) {
        case 2:
            return inductors[slot.at].branch;
        case 3:
            return voltages[slot.at].branch;
        case 5:
            return controlled[slot.at].branch;
        default:
            return -1;
        }
    }

    void wire(ControlledWork& work, const ControlledSource& source) {
        for (const ControlInput& input : source.inputs) {
            if (input.kind == ControlInput::Kind::volts) {
                work.inputs.push_back({input.plus - 1, input.minus - 1});
            } else {
                work.inputs.push_back({branch_of(input.element), -1});
            }
        }
        work.slopes.resize(work.inputs.size());
        work.values.resize(work.inputs.size());
        if (!work.formula) {
            std::copy_n(source.slopes.begin(), std::min(source.slopes.size(), work.slopes.size()),
                        work.slopes.begin());
        }
    }

    /// Values only; places stay.
    void take_values(const Circuit& from) {
        for (std::size_t id = 0; id < slots.size(); ++id) {
            const ElementPart& part = from.elements()[id].part;
            const std::size_t at = slots[id].at;
            if (const auto* r = std::get_if<Resistor>(&part)) {
                resistors[at].ohm = r->ohm;
            } else if (const auto* c = std::get_if<Capacitor>(&part)) {
                capacitors[at].farad = c->farad;
                capacitors[at].start_v = c->start_v;
            } else if (const auto* l = std::get_if<Inductor>(&part)) {
                inductors[at].henry = l->henry;
                inductors[at].start_a = l->start_a;
            } else if (const auto* v = std::get_if<VoltageSource>(&part)) {
                voltages[at].value = v->value;
            } else if (const auto* i = std::get_if<CurrentSource>(&part)) {
                currents[at].value = i->value;
            } else if (const auto* d = std::get_if<Diode>(&part)) {
                diodes[at].card = scaled(d->model, d->area);
                warm(diodes[at], d->junction.value_or(from.temperature_c));
            } else if (const auto* q = std::get_if<Bipolar>(&part)) {
                bipolars[at].card = scaled(q->model, q->area);
                bipolars[at].sign = q->model.polarity == Polarity::npn ? 1 : -1;
                warm(bipolars[at], q->junction.value_or(from.temperature_c));
            }
        }
        guesses.clear();
        for (const CapacitorWork& capacitor : capacitors) {
            if (capacitor.start_v && capacitor.b < 0 && capacitor.a >= 0) {
                guesses.emplace_back(capacitor.a, *capacitor.start_v);
            }
        }
        for (const auto& [node, volts] : from.first_guess) {
            if (node > 0) {
                guesses.emplace_back(node - 1, volts);
            }
        }
    }

    static void warm(DiodeWork& diode, double junction_c) {
        diode.model = at_temperature(diode.card, junction_c);
        diode.thermal_v =
            diode.model.emission * k_boltzmann_v_per_k * (diode.model.card_c + k_zero_celsius_k);
        diode.critical_v = critical_volts(diode.thermal_v, diode.model.saturation_a);
    }
    static void warm(BipolarWork& bipolar, double junction_c) {
        bipolar.model = at_temperature(bipolar.card, junction_c);
        bipolar.thermal_v = k_boltzmann_v_per_k * (bipolar.model.card_c + k_zero_celsius_k);
        bipolar.critical_v = critical_volts(bipolar.thermal_v, bipolar.model.saturation_a);
    }

    void find_unreachable() {
        std::vector<int> parent(static_cast<std::size_t>(nodes));
        for (int i = 0; i < nodes; ++i) {
            parent[static_cast<std::size_t>(i)] = i;
        }
        const auto root = [&](int i) {
            while (parent[static_cast<std::size_t>(i)] != i) {
                i = parent[static_cast<std::size_t>(i)];
            }
            return i;
        };
        const auto join = [&](Unknown a, Unknown b) {
            parent[static_cast<std::size_t>(root(a + 1))] = root(b + 1);
        };
        for (const auto& r : resistors) {
            join(r.a, r.b);
        }
        for (const auto& l : inductors) {
            join(l.a, l.b);
        }
        for (const auto& v : voltages) {
            join(v.a, v.b);
        }
        for (const auto& s : controlled) {
            // A controlled current may hold a node by itself (a thermal one, say).
            join(s.a, s.b);
        }
        for (const auto& d : diodes) {
            join(d.anode, d.cathode);
        }
        for (const auto& q : bipolars) {
            join(q.at[0], q.at[1]);
            join(q.at[1], q.at[2]);
        }
        unreachable.clear();
        for (int i = 1; i < nodes && unreachable.empty(); ++i) {
            if (root(i) != root(0)) {
                unreachable = circuit.node_name(i);
            }
        }
    }

    // --- stamping

    void conduct(Unknown a, Unknown b, double siemens) {
        if (a >= 0) {
            matrix(a, a) += siemens;
            if (b >= 0) {
                matrix(a, b) -= siemens;
            }
        }
        if (b >= 0) {
            matrix(b, b) += siemens;
            if (a >= 0) {
                matrix(b, a) -= siemens;
            }
        }
    }
    /// A current that flows from a to b inside the element.
    void draw(Unknown a, Unknown b, double amperes) {
        if (a >= 0) {
            right[a] -= amperes;
        }
        if (b >= 0) {
            right[b] += amperes;
        }
    }
    /// The rows of an element with a current of its own.
    void branch(const TwoEnds& ends, Unknown at) {
        if (ends.a >= 0) {
            matrix(ends.a, at) += 1;
            matrix(at, ends.a) += 1;
        }
        if (ends.b >= 0) {
            matrix(ends.b, at) -= 1;
            matrix(at, ends.b) -= 1;
        }
    }

    [[nodiscard]] double level(const Waveform& value) const {
        return (at_dc() ? value.dc : value.at(time_s)) * source_share;
    }

    void stamp_linear() {
        for (const auto& r : resistors) {
            conduct(r.a, r.b, 1 / r.ohm);
        }
        for (const auto& v : voltages) {
            branch(v, v.branch);
            right[v.branch] += level(v.value);
        }
        for (const auto& i : currents) {
            draw(i.a, i.b, level(i.value));
        }
        for (const auto& l : inductors) {
            branch(l, l.branch);
            if (!at_dc() && l.henry > 0) {
                const double ohm = (trapezoid ? 2 : 1) * l.henry / step_s;
                matrix(l.branch, l.branch) -= ohm;
                right[l.branch] -= ohm * l.current + (trapezoid ? l.volts : 0);
            }
        }
        if (!at_dc()) {
            for (const auto& c : capacitors) {
                const double siemens = (trapezoid ? 2 : 1) * c.farad / step_s;
                conduct(c.a, c.b, siemens);
                draw(c.a, c.b, -siemens * c.volts - (trapezoid ? c.current : 0));
            }
        }
        const double ground = diagonal_s + anchor_s;
        if (ground > 0) {
            for (Unknown i = 0; i < nodes - 1; ++i) {
                matrix(i, i) += ground;
                right[i] += anchor_s * anchor[i];
            }
        }
        if (guess_s > 0) {
            for (const auto& [at, volts] : guesses) {
                matrix(at, at) += guess_s;
                right[at] += guess_s * volts;
            }
        }
    }

    void stamp_controlled() {
        for (auto& s : controlled) {
            for (std::size_t i = 0; i < s.inputs.size(); ++i) {
                s.values[i] = value(x, s.inputs[i][0]) - value(x, s.inputs[i][1]);
            }
            double offset = 0; // f − Σ slope·input
            if (s.formula) {
                s.now = s.formula->evaluate(s.values, s.slopes);
                offset = s.now;
                for (std::size_t i = 0; i < s.inputs.size(); ++i) {
                    offset -= s.slopes[i] * s.values[i];
                }
            }
            if (s.branch >= 0) {
                branch(s, s.branch);
                right[s.branch] += offset;
                for (std::size_t i = 0; i < s.inputs.size(); ++i) {
                    if (s.inputs[i][0] >= 0) {
                        matrix(s.branch, s.inputs[i][0]) -= s.slopes[i];
                    }
                    if (s.inputs[i][1] >= 0) {
                        matrix(s.branch, s.inputs[i][1]) += s.slopes[i];
                    }
                }
            } else {
                draw(s.a, s.b, offset);
                const auto add = [&](Unknown row, Unknown column, double siemens) {
                    if (row >= 0 && column >= 0) {
                        matrix(row, column) += siemens;
                    }
                };
                for (std::size_t i = 0; i < s.inputs.size(); ++i) {
                    add(s.a, s.inputs[i][0], s.slopes[i]);
                    add(s.a, s.inputs[i][1], -s.slopes[i]);
                    add(s.b, s.inputs[i][0], -s.slopes[i]);
                    add(s.b, s.inputs[i][1], s.slopes[i]);
                }
            }
        }
    }

    void stamp(DiodeWork& d) {
        const DiodeCurrent now = diode_current(d.model, d.junction_v, gmin_s);
        d.inner_slope = now.slope_s;
        d.inner_offset = now.current_a - now.slope_s * d.junction_v;
        // v = v_inner + r·i, i = g·v_inner + c  =>  i = (g·v + c)/(1 + g·r)
        const double shrink = 1 / (1 + d.inner_slope * d.model.series_ohm);
        d.slope = d.inner_slope * shrink;
        d.offset = d.inner_offset * shrink;
        conduct(d.anode, d.cathode, d.slope);
        draw(d.anode, d.cathode, d.offset);
    }

    void stamp(BipolarWork& q) {
        const BipolarCurrents now = bipolar_currents(q.model, q.be_v, q.bc_v, gmin_s);
        const double base_ohm = base_resistance_ohm(q.model, now.base_a, now.charge);
        // Rows: collector, base, emitter; columns: inner volts of the same.
        const double c_be = now.collector_by_be_s;
        const double c_bc = now.collector_by_bc_s;
        const double b_be = now.base_by_be_s;
        const double b_bc = now.base_by_bc_s;
        q.inner << -c_bc, c_be + c_bc, -c_be, //
            -b_bc, b_be + b_bc, -b_be,        //
            c_bc + b_bc, -(c_be + c_bc + b_be + b_bc), c_be + b_be;
        const double collector_offset = now.collector_a - c_be * q.be_v - c_bc * q.bc_v;
        const double base_offset = now.base_a - b_be * q.be_v - b_bc * q.bc_v;
        q.inner_offset << collector_offset, base_offset, -collector_offset - base_offset;
        // v = v_inner + R·i, i = Y·v_inner + c  =>  v_inner = (1 + R·Y)⁻¹·(v − R·c)
        const Three ohms(q.model.collector_ohm, base_ohm, q.model.emitter_ohm);
        Three3 coupled = ohms.asDiagonal() * q.inner;
        coupled.diagonal().array() += 1;
        q.to_inner = coupled.inverse();
        q.drop = ohms.cwiseProduct(q.inner_offset);
        const Three3 outer = q.inner * q.to_inner;
        const Three offset = q.inner_offset - outer * q.drop;
        for (int row = 0; row < 3; ++row) {
            const Unknown r = q.at[static_cast<std::size_t>(row)];
            if (r < 0) {
                continue;
            }
            right[r] -= q.sign * offset[row];
            for (int column = 0; column < 3; ++column) {
                const Unknown c = q.at[static_cast<std::size_t>(column)];
                if (c >= 0) {
                    matrix(r, c) += outer(row, column);
                }
            }
        }
    }

    /// Moves the junctions to where the new node volts put them, within limits. True when a limit
    /// bit or a current is not yet where its slope said.
    bool settle(DiodeWork& d, const SolveOptions& options) {
        const double outer = value(next, d.anode) - value(next, d.cathode);
        const double current = d.slope * outer + d.offset;
        double volts = outer - d.model.series_ohm * current;
        const bool limited = breaking(d, volts)
                                 ? false
                                 : limit_junction(volts, d.junction_v, d.thermal_v, d.critical_v);
        d.junction_v = volts;
        const DiodeCurrent now = diode_current(d.model, volts, gmin_s);
        return limited || std::abs(now.current_a - current) >
                              1e-6 * std::abs(current) + options.absolute_a * 10;
    }
    static bool breaking(const DiodeWork& d, double& volts) {
        if (std::isinf(d.model.breakdown_v) || volts > -d.model.breakdown_v / 2) {
            return false;
        }
        // The same limit, mirrored round the breakdown.
        double mirrored = -(volts + d.model.breakdown_v);
        const double before = -(d.junction_v + d.model.breakdown_v);
        if (mirrored > 0 && std::abs(mirrored - before) > 0.5) {
            mirrored = std::min(mirrored, std::max(before, 0.0) + 0.1);
        }
        volts = -mirrored - d.model.breakdown_v;
        return true;
    }

    bool settle(BipolarWork& q, const SolveOptions& options) {
        const Three outer(value(next, q.at[0]), value(next, q.at[1]), value(next, q.at[2]));
        const Three inner = q.to_inner * (q.sign * outer - q.drop);
        const Three flows = q.inner * inner + q.inner_offset;
        q.flows = q.sign * flows;
        double be_v = inner[1] - inner[2];
        double bc_v = inner[1] - inner[0];
        bool limited = limit_junction(be_v, q.be_v, q.thermal_v, q.critical_v);
        limited |= limit_junction(bc_v, q.bc_v, q.thermal_v, q.critical_v);
        q.be_v = be_v;
        q.bc_v = bc_v;
        if (limited) {
            return true;
        }
        const BipolarCurrents now = bipolar_currents(q.model, be_v, bc_v, gmin_s);
        return std::abs(now.collector_a - flows[0]) >
                   1e-6 * std::abs(flows[0]) + options.absolute_a * 10 ||
               std::abs(now.base_a - flows[1]) >
                   1e-6 * std::abs(flows[1]) + options.absolute_a * 10;
    }

    /// One linear solve into next. False when the matrix is singular.
    bool linear() {
        if (!elimination.factor(matrix)) {
            return false;
        }
        elimination.solve(right, next);
        return next.allFinite();
    }

    enum class Ended { converged, too_many, singular };

    Ended newton(const SolveOptions& options, int most) {
        for (int i = 0; i < most; ++i) {
            ++steps;
            matrix.setZero();
            right.setZero();
            stamp_linear();
            stamp_controlled();
            for (auto& d : diodes) {
                stamp(d);
            }
            for (auto& q : bipolars) {
                stamp(q);
            }
            if (!linear()) {
                return Ended::singular;
            }
            bool moving = false;
            for (auto& d : diodes) {
                moving |= settle(d, options);
            }
            for (auto& q : bipolars) {
                moving |= settle(q, options);
            }
            double most_moved = 0;
            for (Unknown at = 0; at < unknowns; ++at) {
                const double least = at < nodes - 1 ? options.absolute_v : options.absolute_a * 1e3;
                const double allowed =
                    options.relative * std::max(std::abs(next[at]), std::abs(x[at])) + least;
                const double moved = std::abs(next[at] - x[at]) / allowed;
                if (moved > most_moved) {
                    most_moved = moved;
                    worst = at;
                }
            }
            x.swap(next);
            const bool straight = diodes.empty() && bipolars.empty() && all_linear();
            if (straight || (most_moved <= 1 && !moving && i > 0)) {
                return Ended::converged;
            }
        }
        return Ended::too_many;
    }

    [[nodiscard]] bool all_linear() const {
        return std::none_of(controlled.begin(), controlled.end(),
                            [](const auto& s) { return s.formula.has_value(); });
    }

    /// Junctions where Newton likes to begin: conducting base-emitter and diodes, the rest off.
    void begin() {
        x.setZero();
        for (const auto& [at, volts] : guesses) {
            x[at] = volts;
        }
        for (auto& d : diodes) {
            d.junction_v = d.critical_v;
        }
        for (auto& q : bipolars) {
            q.be_v = q.critical_v;
            q.bc_v = 0;
        }
    }

    bool plain(const SolveOptions& options) {
        begin();
        if (!guesses.empty()) {
            guess_s = 1e3;
            const Ended held = newton(options, 100);
            guess_s = 0;
            if (held != Ended::converged) {
                begin();
            }
        }
        return newton(options, options.iterations) == Ended::converged;
    }

    bool by_gmin(const SolveOptions& options) {
        begin();
        Eigen::VectorXd good = x;
        std::vector<DiodeWork> good_diodes = diodes;
        std::vector<BipolarWork> good_bipolars = bipolars;
        double factor = 10;
        double last = 0;
        diagonal_s = 1e-2;
        bool any = false;
        for (int i = 0; i < 200; ++i) {
            const bool end = diagonal_s < 1e-13;
            if (end) {
                diagonal_s = 0;
            }
            if (newton(options, 100) == Ended::converged) {
                if (end) {
                    return true;
                }
                good = x;
                good_diodes = diodes;
                good_bipolars = bipolars;
                any = true;
                last = diagonal_s;
                factor = std::min(factor * 1.5, 10.0);
                diagonal_s = last / factor;
            } else {
                if (!any) {
                    if (diagonal_s > 1e3) {
                        break;
                    }
                    begin();
                    diagonal_s *= 10;
                    continue;
                }
                x = good;
                diodes = good_diodes;
                bipolars = good_bipolars;
                factor = std::pow(factor, 0.4);
                if (factor < 1.0005) {
                    break;
                }
                diagonal_s = last / factor;
            }
        }
        diagonal_s = 0;
        return false;
    }

    bool by_sources(const SolveOptions& options) {
        begin();
        for (auto& d : diodes) {
            d.junction_v = 0;
        }
        for (auto& q : bipolars) {
            q.be_v = 0;
        }
        Eigen::VectorXd good = x;
        std::vector<DiodeWork> good_diodes = diodes;
        std::vector<BipolarWork> good_bipolars = bipolars;
        double done = 0;
        double stride = 0.02;
        for (int i = 0; i < 400; ++i) {
            source_share = std::min(1.0, done + stride);
            if (newton(options, 100) == Ended::converged) {
                done = source_share;
                if (done >= 1) {
                    return true;
                }
                good = x;
                good_diodes = diodes;
                good_bipolars = bipolars;
                stride *= 1.7;
            } else {
                x = good;
                diodes = good_diodes;
                bipolars = good_bipolars;
                stride /= 5;
                if (stride < 1e-7) {
                    break;
                }
            }
        }
        source_share = 1;
        return false;
    }

    bool by_pseudo_transient(const SolveOptions& options) {
        begin();
        for (auto& d : diodes) {
            d.junction_v = 0;
        }
        for (auto& q : bipolars) {
            q.be_v = 0;
        }
        x.setZero();
        anchor_s = 10;
        anchor = x;
        for (int i = 0; i < 400; ++i) {
            std::vector<DiodeWork> good_diodes = diodes;
            std::vector<BipolarWork> good_bipolars = bipolars;
            if (newton(options, 60) == Ended::converged) {
                const double moved = (x - anchor).cwiseAbs().maxCoeff();
                anchor = x;
                anchor_s /= moved < 0.5 ? 3 : 1.2;
                if (anchor_s < 1e-11) {
                    anchor_s = 0;
                    return newton(options, options.iterations) == Ended::converged;
                }
            } else {
                x = anchor;
                diodes = good_diodes;
                bipolars = good_bipolars;
                anchor_s *= 8;
                if (anchor_s > 1e9) {
                    break;
                }
            }
        }
        anchor_s = 0;
        return false;
    }

    /// The name of what an unknown stands for.
    [[nodiscard]] std::string name_of(Unknown at) const {
        if (at >= 0 && at < nodes - 1) {
            return worded("node {}", circuit.node_name(at + 1));
        }
        for (std::size_t id = 0; id < slots.size(); ++id) {
            if (branch_of(static_cast<ElementId>(id)) == at && at >= 0) {
                return worded("the current of {}", circuit.elements()[id].name);
            }
        }
        return "the circuit";
    }

    Result<Done> find(SolveReport& report, const SolveOptions& options) {
        gmin_s = options.gmin_s;
        source_share = 1;
        diagonal_s = anchor_s = guess_s = 0;
        steps = 0;
        solved = false;
        if (at_dc() && !unreachable.empty()) {
            return refusal(ErrorCode::contradictory, "circuit",
                           worded("node {} has no way to ground for direct current. Join it "
                                  "through a resistor.",
                                  unreachable));
        }
        using Way = SolveReport::Way;
        const std::array ways{std::pair{Way::newton, &Work::plain},
                              std::pair{Way::gmin_steps, &Work::by_gmin},
                              std::pair{Way::source_steps, &Work::by_sources},
                              std::pair{Way::pseudo_transient, &Work::by_pseudo_transient}};
        for (const auto& [way, attempt] : ways) {
            if ((this->*attempt)(options)) {
                report = {steps, way};
                solved = true;
                return Done{};
            }
        }
        begin();
        report.iterations = steps;
        if (newton(options, 1) == Ended::singular) {
            return refusal(
                ErrorCode::contradictory, "circuit",
                "the equations have no single answer: a loop of voltage sources or inductors, or "
                "a part that only current sources feed.");
        }
        newton(options, options.iterations);
        return refusal(ErrorCode::failed, "circuit",
                       worded("no operating point was found in {} steps; {} would not settle.",
                              steps, name_of(worst)));
    }

    void fill(OperatingPoint& point) {
        point.node_v.resize(static_cast<std::size_t>(nodes));
        point.node_v[0] = 0;
        for (Unknown i = 0; i < nodes - 1; ++i) {
            point.node_v[static_cast<std::size_t>(i) + 1] = x[i];
        }
        point.elements.resize(slots.size());
        for (std::size_t id = 0; id < slots.size(); ++id) {
            point.elements[id] = state(slots[id]);
        }
    }

    [[nodiscard]] ElementState state(const Slot& slot) const {
        const auto across = [this](const TwoEnds& ends) {
            return value(x, ends.a) - value(x, ends.b);
        };
        ElementState result;
        switch (slot.kind) {
        case 0: {
            const auto& r = resistors[slot.at];
            result.current_a = across(r) / r.ohm;
            result.power_w = result.current_a * across(r);
            break;
        }
        case 1: {
            const auto& c = capacitors[slot.at];
            result.current_a = at_dc() ? 0 : c.current;
            result.power_w = result.current_a * across(c);
            break;
        }
        case 2: {
            const auto& l = inductors[slot.at];
            result.current_a = x[l.branch];
            result.power_w = result.current_a * across(l);
            break;
        }
        case 3: {
            const auto& v = voltages[slot.at];
            result.current_a = x[v.branch];
            result.power_w = result.current_a * across(v);
            break;
        }
        case 4: {
            const auto& i = currents[slot.at];
            result.current_a = level(i.value);
            result.power_w = result.current_a * across(i);
            break;
        }
        case 5: {
            const auto& s = controlled[slot.at];
            if (s.branch >= 0) {
                result.current_a = x[s.branch];
            } else {
                double offset = s.formula ? s.now : 0;
                for (std::size_t i = 0; i < s.inputs.size(); ++i) {
                    const double input = value(x, s.inputs[i][0]) - value(x, s.inputs[i][1]);
                    offset += s.slopes[i] * (s.formula ? input - s.values[i] : input);
                }
                result.current_a = offset;
            }
            result.power_w = result.current_a * across(s);
            break;
        }
        case 6: {
            const auto& d = diodes[slot.at];
            const double volts = value(x, d.anode) - value(x, d.cathode);
            result.current_a = d.slope * volts + d.offset;
            result.power_w = result.current_a * volts;
            break;
        }
        case 7: {
            const auto& q = bipolars[slot.at];
            result.current_a = q.flows[0];
            result.base_a = q.flows[1];
            result.emitter_a = q.flows[2];
            for (int i = 0; i < 3; ++i) {
                result.power_w += q.flows[i] * value(x, q.at[static_cast<std::size_t>(i)]);
            }
            break;
        }
        default:
            break;
        }
        return result;
    }

    // --- transient

    void remember() {
        for (auto& c : capacitors) {
            const double volts = value(x, c.a) - value(x, c.b);
            const double current = trapezoid ? 2 * c.farad / step_s * (volts - c.volts) - c.current
                                             : c.farad / step_s * (volts - c.volts);
            c.before_v = c.volts;
            c.volts = volts;
            c.current = current;
        }
        for (auto& l : inductors) {
            l.before_a = l.current;
            l.current = x[l.branch];
            l.volts = value(x, l.a) - value(x, l.b);
        }
    }

    /// How far the step's ends stray from the straight line of the one before, against what is
    /// allowed; about 1 at the limit. The straight line's error is of second order, so that half
    /// the difference, over a further 6 for the trapezoid's own order, is a safe measure.
    [[nodiscard]] double step_error(const TransientOptions& options, double last_step) const {
        double worst_error = 0;
        const double stretch = step_s / last_step;
        const auto take = [&](double now, double then, double before, double scale, double least) {
            const double predicted = then + (then - before) * stretch;
            const double allowed =
                options.relative * std::max({std::abs(now), std::abs(then), scale}) + least;
            worst_error = std::max(worst_error, std::abs(now - predicted) / (12 * allowed));
        };
        for (const auto& c : capacitors) {
            if (c.farad > 0) {
                take(value(x, c.a) - value(x, c.b), c.volts, c.before_v, 0, options.absolute_v);
            }
        }
        for (const auto& l : inductors) {
            if (l.henry > 0) {
                take(x[l.branch], l.current, l.before_a, 0, 1e-9);
            }
        }
        return worst_error;
    }

    /// The next corner of a source after `from_s`, or `stop_s`.
    [[nodiscard]] double next_corner(double from_s, double stop_s) const {
        double corner = stop_s;
        const double soon = from_s + 1e-9 * stop_s;
        const auto consider = [&](double at) {
            if (at > soon && at < corner) {
                corner = at;
            }
        };
        const auto look = [&](const Waveform& wave) {
            if (const auto* points = std::get_if<Waveform::Points>(&wave.shape)) {
                for (const auto& point : points->at) {
                    consider(point.first);
                }
            } else if (const auto* sine = std::get_if<Waveform::Sine>(&wave.shape)) {
                consider(sine->delay_s);
            } else if (const auto* pulse = std::get_if<Waveform::Pulse>(&wave.shape)) {
                double start = pulse->delay_s;
                if (pulse->period_s > 0 && from_s > start) {
                    start += std::floor((from_s - start) / pulse->period_s) * pulse->period_s;
                }
                for (int turn = 0; turn < (pulse->period_s > 0 ? 2 : 1); ++turn) {
                    double at = start + turn * pulse->period_s;
                    for (const double length :
                         {0.0, pulse->rise_s, pulse->width_s, pulse->fall_s}) {
                        at += length;
                        consider(at);
                    }
                }
            }
        };
        for (const auto& v : voltages) {
            look(v.value);
        }
        for (const auto& i : currents) {
            look(i.value);
        }
        return corner;
    }

    Result<Done> start(const TransientOptions& options) {
        SolveReport report;
        if (options.start == TransientOptions::Start::operating_point) {
            time_s = -1;
            if (auto found = find(report, {}); !found) {
                return found.error();
            }
            for (auto& c : capacitors) {
                c.volts = c.before_v = value(x, c.a) - value(x, c.b);
                c.current = 0;
            }
            for (auto& l : inductors) {
                l.current = l.before_a = x[l.branch];
                l.volts = 0;
            }
            return Done{};
        }
        for (auto& c : capacitors) {
            c.volts = c.before_v = c.start_v.value_or(0);
            c.current = 0;
        }
        for (auto& l : inductors) {
            l.current = l.before_a = l.start_a.value_or(0);
            l.volts = 0;
        }
        begin();
        for (auto& d : diodes) {
            d.junction_v = 0;
        }
        for (auto& q : bipolars) {
            q.be_v = 0;
        }
        return Done{};
    }
};

Solver::Solver(const Circuit& circuit) : work_(std::make_unique<Work>(circuit)) {}
Solver::~Solver() = default;
Solver::Solver(Solver&&) noexcept = default;
Solver& Solver::operator=(Solver&&) noexcept = default;

void Solver::take(const Circuit& circuit) { work_->take_values(circuit); }

Result<Done> Solver::solve(OperatingPoint& point, const SolveOptions& options) {
    work_->time_s = -1;
    if (auto found = work_->find(point.report, options); !found) {
        return found.error();
    }
    work_->fill(point);
    return Done{};
}

Result<Done> Solver::resolve(OperatingPoint& point, const SolveOptions& options) {
    Work& work = *work_;
    if (work.solved && work.at_dc()) {
        work.steps = 0;
        work.gmin_s = options.gmin_s;
        constexpr int k_warm_steps = 60;
        if (work.newton(options, k_warm_steps) == Work::Ended::converged) {
            point.report = {work.steps, SolveReport::Way::newton};
            work.fill(point);
            return Done{};
        }
    }
    return solve(point, options);
}

Result<Done> Solver::slopes(ElementId element, std::span<double> slopes) {
    Work& work = *work_;
    work.right.setZero();
    const Slot& slot = work.slots[static_cast<std::size_t>(element)];
    if (slot.kind == 3) {
        work.right[work.voltages[slot.at].branch] = 1;
    } else if (slot.kind == 4) {
        work.draw(work.currents[slot.at].a, work.currents[slot.at].b, 1);
    } else if (slot.kind == 0) {
        const auto& r = work.resistors[slot.at];
        const double volts = Work::value(work.x, r.a) - Work::value(work.x, r.b);
        work.draw(r.a, r.b, -volts / (r.ohm * r.ohm));
    } else {
        return refusal(ErrorCode::not_found, work.circuit.element(element).name,
                       "has no value a slope could be taken by. Accepted: an independent source "
                       "or a resistor.");
    }
    work.elimination.solve(work.right, work.next);
    slopes[0] = 0;
    for (Unknown i = 0; i < work.nodes - 1; ++i) {
        slopes[static_cast<std::size_t>(i) + 1] = work.next[i];
    }
    return Done{};
}

void Solver::set_value(ElementId element, double value) {
    const Slot& slot = work_->slots[static_cast<std::size_t>(element)];
    switch (slot.kind) {
    case 0:
        work_->resistors[slot.at].ohm = value;
        break;
    case 3:
        work_->voltages[slot.at].value.dc = value;
        break;
    case 4:
        work_->currents[slot.at].value.dc = value;
        break;
    default:
        assert(false);
    }
}

void Solver::set_junction(ElementId element, double junction_c) {
    const Slot& slot = work_->slots[static_cast<std::size_t>(element)];
    if (slot.kind == 6) {
        Work::warm(work_->diodes[slot.at], junction_c);
    } else if (slot.kind == 7) {
        Work::warm(work_->bipolars[slot.at], junction_c);
    } else {
        assert(false);
    }
}

Result<Transient> Solver::transient(const TransientOptions& options, std::span<const Node> nodes,
                                    std::span<const ElementId> elements) {
    Work& work = *work_;
    if (!(options.stop_s > 0) || !(options.step_s > 0) || options.keep_from_s < 0) {
        return refusal(ErrorCode::out_of_range, "transient",
                       "the stop and step times must be above 0 s.");
    }
    if (auto started = work.start(options); !started) {
        return started.error();
    }
    Transient result;
    result.nodes.assign(nodes.begin(), nodes.end());
    result.elements.assign(elements.begin(), elements.end());
    result.node_v.resize(nodes.size());
    result.element_states.resize(elements.size());
    const auto keep = [&](double time_s) {
        result.time_s.push_back(time_s);
        for (std::size_t i = 0; i < nodes.size(); ++i) {
            result.node_v[i].push_back(Work::value(work.x, nodes[i] - 1));
        }
        for (std::size_t i = 0; i < elements.size(); ++i) {
            result.element_states[i].push_back(
                work.state(work.slots[static_cast<std::size_t>(elements[i])]));
        }
    };
    SolveOptions solve;
    solve.relative = 1e-6;
    solve.absolute_v = 1e-7;
    work.gmin_s = solve.gmin_s;
    const bool from_point = options.start == TransientOptions::Start::operating_point;
    work.time_s = 0;
    if (from_point && options.keep_from_s <= 0) {
        keep(0);
    }
    double now = 0;
    double step = std::min(options.step_s, options.stop_s) / 100;
    double last_step = 0; // 0: a corner lies behind, so no trapezoid
    const double least = options.stop_s * 1e-13;
    Eigen::VectorXd held = work.x;
    for (long count = 0; count < options.most_steps; ++count) {
        if (now >= options.stop_s * (1 - 1e-12)) {
            work.time_s = -1;
            return result;
        }
        const double corner = work.next_corner(now, options.stop_s);
        bool to_corner = false;
        double trial = std::min(step, options.step_s);
        if (now + trial >= corner - least) {
            trial = corner - now;
            to_corner = true;
        }
        held = work.x;
        work.step_s = trial;
        work.time_s = now + trial;
        work.trapezoid = last_step > 0;
        const auto ended = work.newton(solve, 40);
        if (ended != Work::Ended::converged) {
            work.x = held;
            step = trial / 8;
            last_step = 0;
            if (step < least) {
                work.time_s = -1;
                work.solved = false;
                return refusal(ErrorCode::failed, "transient",
                               worded("no answer at {:.6g} s; {} would not settle.", now + trial,
                                      work.name_of(work.worst)));
            }
            continue;
        }
        const double error = last_step > 0 ? work.step_error(options, last_step) : 0;
        if (error > 1.5 && trial > least * 16) {
            work.x = held;
            step = trial * std::max(0.2, 0.8 / std::sqrt(error));
            continue;
        }
        work.remember();
        now = to_corner ? corner : now + trial;
        if (now >= options.keep_from_s) {
            keep(now);
        }
        last_step = to_corner ? 0 : trial;
        const double growth = error > 0 ? std::min(2.0, 0.9 / std::sqrt(error)) : 2.0;
        step = to_corner ? std::min(std::max(trial, options.step_s / 100), options.step_s / 10)
                         : trial * std::max(growth, 0.3);
    }
    work.time_s = -1;
    return refusal(
        ErrorCode::failed, "transient",
        worded("{} steps were not enough to reach {:.6g} s.", options.most_steps, options.stop_s));
}

Result<OperatingPoint> operating_point(const Circuit& circuit, const SolveOptions& options) {
    Solver solver(circuit);
    OperatingPoint point;
    if (auto found = solver.solve(point, options); !found) {
        return found.error();
    }
    return point;
}

} // namespace railside
