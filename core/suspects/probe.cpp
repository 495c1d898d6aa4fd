#include "core/suspects/probe.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>

namespace railside {

namespace {

constexpr double k_nan = std::numeric_limits<double>::quiet_NaN();
constexpr double k_limited_ohm = 47;
constexpr double k_off_ohm = 1e-3;  // a switch closed
constexpr double k_held_ohm = 0.01; // of what holds the output
constexpr double k_away_ohm = 1e12;
constexpr double k_unloaded_ohm = 1e5;
constexpr double k_hold_below_ohm = 100;
constexpr double k_audio_hz = 1000;
constexpr double k_overdrive = 1.35; // input peak, as a share of what would reach the rail
constexpr double k_signal_v = 4;     // peak at the output, for gain and distortion
constexpr int k_wave_points = 7;     // over half a cycle, ends included
constexpr double k_dc_v = 3;         // beyond it no load is put on

// Accuracies: meter 1 % and a digit, resistors 5 % parts within 2 %, and the model's own error as
// the accuracy table of the circuit room has it (a few per cent in volts, more in currents that
// hang on an exponential, most in distortion, which the quasi-static run only orders).
constexpr std::array k_probes{
    ProbeSpec{"limited/v_re1", "prot_v_re1_mV", 1e-3, Setup::limited, 4e-3, 0.1,
              "volts across the + emitter resistor", "V"},
    ProbeSpec{"limited/v_re2", "prot_v_re2_mV", 1e-3, Setup::limited, 4e-3, 0.1,
              "volts across the \u2212 emitter resistor", "V"},
    ProbeSpec{"limited/offset", "prot_offset_mV", 1e-3, Setup::limited, 0.25, 0.08,
              "volts at the output", "V"},
    ProbeSpec{"limited/spreader", "prot_v_spreader_V", 1, Setup::limited, 0.5, 0.02,
              "volts between the driver bases", "V"},
    ProbeSpec{"limited/rail_plus", "prot_rail_pos_V", 1, Setup::limited, 4, 0.04,
              "the + rail behind its fuse", "V"},
    ProbeSpec{"limited/rail_minus", "prot_rail_neg_V", 1, Setup::limited, 4, 0.04,
              "the \u2212 rail behind its fuse", "V"},
    ProbeSpec{"limited/i_plus", "prot_i_pos_mA", 1e-3, Setup::limited, 0.01, 0.1,
              "current in the + rail", "A"},
    ProbeSpec{"limited/i_minus", "prot_i_neg_mA", 1e-3, Setup::limited, 0.01, 0.1,
              "current in the \u2212 rail", "A"},

    ProbeSpec{"idle/v_re1", "idle_v_re1_mV", 1e-3, Setup::idle, 4e-3, 0.08,
              "volts across the + emitter resistor", "V"},
    ProbeSpec{"idle/v_re2", "idle_v_re2_mV", 1e-3, Setup::idle, 4e-3, 0.08,
              "volts across the \u2212 emitter resistor", "V"},
    ProbeSpec{"idle/v_re3", "idle_v_re3_mV", 1e-3, Setup::idle, 4e-3, 0.12,
              "volts across the second + emitter resistor", "V"},
    ProbeSpec{"idle/v_re4", "idle_v_re4_mV", 1e-3, Setup::idle, 4e-3, 0.12,
              "volts across the second \u2212 emitter resistor", "V"},
    ProbeSpec{"idle/offset", "idle_offset_mV", 1e-3, Setup::idle, 0.25, 0.08, "volts at the output",
              "V"},
    ProbeSpec{"idle/spreader", "idle_v_spreader_V", 1, Setup::idle, 0.5, 0.02,
              "volts between the driver bases", "V"},
    ProbeSpec{"idle/base_plus", "idle_v_bp_V", 1, Setup::idle, 0.5, 0.04,
              "volts at the + driver's base", "V"},
    ProbeSpec{"idle/base_minus", "idle_v_bn_V", 1, Setup::idle, 0.5, 0.04,
              "volts at the \u2212 driver's base", "V"},
    ProbeSpec{"idle/feed", "idle_v_re5_or_rbt2_V", 1, Setup::idle, 0.3, 0.04,
              "volts across the resistor that feeds the + driver's base", "V"},
    ProbeSpec{"idle/amplifier_base", "idle_v_vas_base_V", 1, Setup::idle, 0.3, 0.04,
              "volts at the voltage amplifier's base against its rail", "V"},
    ProbeSpec{"idle/tail", "idle_v_tail_re3_V", 1, Setup::idle, 0.3, 0.04,
              "volts across the input pair's tail resistor", "V"},
    ProbeSpec{"idle/driver_emitters", "idle_v_rdd_V", 1, Setup::idle, 0.3, 0.03,
              "volts between the driver emitters", "V"},
    ProbeSpec{"idle/i_plus", "idle_i_pos_mA", 1e-3, Setup::idle, 0.01, 0.08,
              "current in the + rail", "A"},
    ProbeSpec{"idle/i_minus", "idle_i_neg_mA", 1e-3, Setup::idle, 0.01, 0.08,
              "current in the \u2212 rail", "A"},

    ProbeSpec{"trim/least", "trim_v_re1_min_mV", 1e-3, Setup::trim, 4e-3, 0.2,
              "least volts across the + emitter resistor over the trim", "V"},
    ProbeSpec{"trim/most", "trim_v_re1_max_mV", 1e-3, Setup::trim, 4e-3, 0.2,
              "most volts across the + emitter resistor over the trim", "V"},

    ProbeSpec{"loaded/clip_plus", "clip_pos_V", 1, Setup::loaded, 5, 0.02,
              "peak volts at which the + half clips", "V"},
    ProbeSpec{"loaded/clip_minus", "clip_neg_V", 1, Setup::loaded, 5, 0.02,
              "peak volts at which the \u2212 half clips", "V"},
    ProbeSpec{"loaded/gain", "gain_1k", 1, Setup::loaded, 5, 0.04, "gain at 1 kHz, 4 V peak", ""},
    ProbeSpec{"loaded/distortion", "thd_1k_4Vpk_pct", 1, Setup::loaded, 0.03, 0.6,
              "distortion at 1 kHz, 4 V peak", "%"},
    ProbeSpec{"loaded/notch", "notch_pct", 1, Setup::loaded, 20, 0.3,
              "depth of the crossover notch", "%"},

    ProbeSpec{"held/plus_0", "limit_pos_A_at_0V", 1, Setup::held, 1, 0.12,
              "current the + half gives at 0 V", "A"},
    ProbeSpec{"held/minus_0", "limit_neg_A_at_0V", 1, Setup::held, 1, 0.12,
              "current the \u2212 half gives at 0 V", "A"},
    ProbeSpec{"held/plus_20", "limit_pos_A_at_p20V", 1, Setup::held, 1, 0.12,
              "current the + half gives at +20 V", "A"},
    ProbeSpec{"held/minus_20", "limit_neg_A_at_m20V", 1, Setup::held, 1, 0.12,
              "current the \u2212 half gives at \u221220 V", "A"},
    ProbeSpec{"held/plus_reverse", "limit_pos_A_at_m15V", 1, Setup::held, 1, 0.15,
              "current the + half gives at \u221215 V", "A"},
    ProbeSpec{"held/minus_reverse", "limit_neg_A_at_p15V", 1, Setup::held, 1, 0.15,
              "current the \u2212 half gives at +15 V", "A"},
};

/// A tenth of what any meter resolves.
constexpr SolveOptions k_closeness{
    .relative = 1e-6, .absolute_v = 1e-7, .absolute_a = 1e-11, .gmin_s = 1e-12, .iterations = 60};

void put(ProbeReadings& readings, std::string_view key, double value) {
    readings[static_cast<std::size_t>(find_probe(key))] = value;
}

Circuit with_switches(const Amplifier& amplifier, const Circuit& faulty, ElementId& drop_plus,
                      ElementId& drop_minus, ElementId& force_ohm, ElementId& force_a) {
    Circuit circuit = faulty;
    for (const bool plus : {true, false}) {
        const ElementId id = plus ? amplifier.rail_plus : amplifier.rail_minus;
        auto source = std::get<VoltageSource>(circuit.element(id).part);
        Node& live = source.minus == 0 ? source.plus : source.minus;
        const Node inner = circuit.node(plus ? "supply#plus" : "supply#minus");
        (plus ? drop_plus : drop_minus) =
            circuit.add(plus ? "drop#plus" : "drop#minus", Resistor{inner, live, k_off_ohm});
        live = inner;
        circuit.element(id).part = source;
    }
    // A voltage behind a resistor, as a current beside it: no unknowns of its own.
    force_ohm = circuit.add("held#ohm", Resistor{amplifier.out, 0, k_away_ohm});
    force_a = circuit.add("held#a", CurrentSource{0, amplifier.out, {}});
    if (amplifier.load >= 0)
        std::get<Resistor>(circuit.element(amplifier.load).part).ohm = k_unloaded_ohm;
    return circuit;
}

} // namespace

std::string_view setup_key(Setup setup) {
    constexpr std::array<std::string_view, 6> k_keys{"off",  "limited", "idle",
                                                     "trim", "loaded",  "held"};
    return k_keys[static_cast<std::size_t>(setup)];
}

std::string_view setup_words(Setup setup) {
    constexpr std::array<std::string_view, 6> k_words{
        "switched off and discharged",
        "on current-limited rails (lamp or 47 \u03a9 in each), no load",
        "idle on full rails, no load",
        "idle on full rails, the trim turned slowly from end to end",
        "1 kHz into the rated dummy load",
        "output held at a voltage, one half driven fully, supply current-limited"};
    return k_words[static_cast<std::size_t>(setup)];
}

std::span<const ProbeSpec> all_probes() { return k_probes; }

int find_probe(std::string_view key) {
    for (std::size_t i = 0; i < k_probes.size(); ++i)
        if (k_probes[i].key == key)
            return static_cast<int>(i);
    return -1;
}

double compared(const ProbeSpec& probe, double value) { return std::asinh(value / probe.floor); }
double uncompared(const ProbeSpec& probe, double value) { return std::sinh(value) * probe.floor; }

TrialBench::TrialBench(const Amplifier& amplifier, FaultyCircuit faulty)
    : amplifier_(&amplifier), circuit_([&] {
          Circuit circuit = with_switches(amplifier, faulty.circuit, drop_plus_, drop_minus_,
                                          force_ohm_, force_a_);
          const auto count = static_cast<ElementId>(circuit.elements().size());
          for (ElementId id = 0; id < count; ++id) {
              const auto* found = std::get_if<Capacitor>(&circuit.element(id).part);
              if (found == nullptr || found->farad <= 0)
                  continue;
              const Capacitor capacitor = *found;
              const double ohm = 1 / (2 * std::numbers::pi * k_audio_hz * capacitor.farad);
              if (ohm > k_hold_below_ohm)
                  continue;
              const std::string name = "hold#" + circuit.element(id).name;
              Hold hold;
              hold.capacitor = id;
              hold.ohm = ohm;
              hold.resistor = circuit.add(name, Resistor{capacitor.a, capacitor.b, k_away_ohm});
              hold.source = circuit.add(name + "#a", CurrentSource{capacitor.b, capacitor.a, {}});
              holds_.push_back(hold);
          }
          return circuit;
      }()),
      severity_element_(faulty.severity_element), solver_(circuit_) {
    if (amplifier.load >= 0)
        load_ohm_ = std::get<Resistor>(amplifier.circuit.element(amplifier.load).part).ohm;
}

bool TrialBench::solve(bool afresh) {
    const auto done = afresh || !warm_ ? solver_.solve(point_, k_closeness)
                                       : solver_.resolve(point_, k_closeness);
    warm_ = done.ok();
    return warm_;
}

double TrialBench::volts(const std::optional<MeterPlace>& place) const {
    return place ? point_.volts(place->plus, place->minus) : k_nan;
}

void TrialBench::set_trim(double share) {
    if (!amplifier_->trim)
        return;
    const BiasTrim& trim = *amplifier_->trim;
    const double low = std::max(trim.track_ohm * share, 0.5);
    const double high = std::max(trim.track_ohm * (1 - share), 0.5);
    std::get<Resistor>(circuit_.element(trim.lower).part).ohm = low;
    if (trim.upper >= 0)
        std::get<Resistor>(circuit_.element(trim.upper).part).ohm = high;
}

void TrialBench::trim_to(double share) {
    const BiasTrim& trim = *amplifier_->trim;
    solver_.set_value(trim.lower, std::max(trim.track_ohm * share, 0.5));
    if (trim.upper >= 0)
        solver_.set_value(trim.upper, std::max(trim.track_ohm * (1 - share), 0.5));
}

double TrialBench::idle_reading() {
    solver_.take(circuit_);
    if (!solve(!warm_))
        return k_nan;
    double sum = 0;
    int count = 0;
    for (std::size_t i = 0; i < 2; ++i)
        if (amplifier_->emitter[i]) {
            sum += volts(amplifier_->emitter[i]);
            ++count;
        }
    return count > 0 ? sum / count : k_nan;
}

ProbeReadings TrialBench::read(Depth depth) {
    ProbeReadings readings(k_probes.size(), k_nan);
    solver_.take(circuit_);
    limited(readings);
    idle(readings);
    if (std::isnan(readings[static_cast<std::size_t>(find_probe("idle/offset"))]))
        return readings;
    const OperatingPoint rest = point_;
    if (amplifier_->trim)
        trim_ends(readings);
    if (depth == Depth::idle)
        return readings;
    const double plus_a = readings[static_cast<std::size_t>(find_probe("idle/i_plus"))];
    const double minus_a = readings[static_cast<std::size_t>(find_probe("idle/i_minus"))];
    if (std::max(plus_a, minus_a) > amplifier_->fuse_a ||
        std::abs(rest.volts(amplifier_->out)) > k_dc_v || amplifier_->input < 0)
        return readings;
    for (Hold& hold : holds_) {
        const auto& c = std::get<Capacitor>(circuit_.element(hold.capacitor).part);
        hold.volts = rest.volts(c.a, c.b);
    }
    if (amplifier_->load >= 0)
        audio(readings);
    if (amplifier_->has_limiter)
        held(readings);
    return readings;
}

void TrialBench::limited(ProbeReadings& readings) {
    solver_.set_value(drop_plus_, k_limited_ohm);
    solver_.set_value(drop_minus_, k_limited_ohm);
    if (solve(false)) {
        put(readings, "limited/v_re1", volts(amplifier_->emitter[0]));
        put(readings, "limited/v_re2", volts(amplifier_->emitter[1]));
        put(readings, "limited/offset", point_.volts(amplifier_->out));
        put(readings, "limited/spreader", volts(amplifier_->spreader));
        put(readings, "limited/rail_plus", point_.volts(amplifier_->rail_plus_node));
        put(readings, "limited/rail_minus", point_.volts(amplifier_->rail_minus_node));
        put(readings, "limited/i_plus", std::abs(point_.element(drop_plus_).current_a));
        put(readings, "limited/i_minus", std::abs(point_.element(drop_minus_).current_a));
    }
    solver_.set_value(drop_plus_, k_off_ohm);
    solver_.set_value(drop_minus_, k_off_ohm);
}

void TrialBench::idle(ProbeReadings& readings) {
    if (!solve(false))
        return;
    put(readings, "idle/v_re1", volts(amplifier_->emitter[0]));
    put(readings, "idle/v_re2", volts(amplifier_->emitter[1]));
    put(readings, "idle/v_re3", volts(amplifier_->emitter[2]));
    put(readings, "idle/v_re4", volts(amplifier_->emitter[3]));
    put(readings, "idle/offset", point_.volts(amplifier_->out));
    put(readings, "idle/spreader", volts(amplifier_->spreader));
    put(readings, "idle/base_plus", volts(amplifier_->base_plus));
    put(readings, "idle/base_minus", volts(amplifier_->base_minus));
    put(readings, "idle/feed", volts(amplifier_->feed));
    put(readings, "idle/amplifier_base", volts(amplifier_->amplifier_base));
    put(readings, "idle/tail", volts(amplifier_->tail));
    put(readings, "idle/driver_emitters", volts(amplifier_->driver_emitters));
    put(readings, "idle/i_plus", std::abs(point_.element(drop_plus_).current_a));
    put(readings, "idle/i_minus", std::abs(point_.element(drop_minus_).current_a));
}

void TrialBench::trim_ends(ProbeReadings& readings) {
    const BiasTrim& trim = *amplifier_->trim;
    // A trim that is itself open, or whose wiper is, does nothing when turned.
    const double nominal = std::get<Resistor>(amplifier_->circuit.element(trim.lower).part).ohm;
    const double now = std::get<Resistor>(circuit_.element(trim.lower).part).ohm;
    const double upper_now =
        trim.upper < 0 ? 0 : std::get<Resistor>(circuit_.element(trim.upper).part).ohm;
    const bool dead = now > trim.track_ohm * 1.01 || upper_now > trim.track_ohm * 1.01 ||
                      (trim.upper < 0 && now >= trim.track_ohm * 0.999 && now > nominal * 1.01);
    double least = volts(amplifier_->emitter[0]);
    double most = least;
    if (!dead) {
        for (const double share : {0.0, 1.0}) {
            trim_to(share);
            if (solve(false)) {
                least = std::min(least, volts(amplifier_->emitter[0]));
                most = std::max(most, volts(amplifier_->emitter[0]));
            }
        }
        solver_.set_value(trim.lower, now);
        if (trim.upper >= 0)
            solver_.set_value(trim.upper, upper_now);
        if (!solve(false))
            return;
    }
    put(readings, "trim/least", least);
    put(readings, "trim/most", most);
}

void TrialBench::audio_on(bool on) {
    for (const Hold& hold : holds_) {
        solver_.set_value(hold.resistor, on ? hold.ohm : k_away_ohm);
        solver_.set_value(hold.source, on ? hold.volts / hold.ohm : 0);
    }
}

void TrialBench::audio(ProbeReadings& readings) {
    solver_.set_value(amplifier_->load, load_ohm_);
    audio_on(true);
    const ElementId input = amplifier_->input;
    const double full = k_overdrive * amplifier_->rail_v / amplifier_->gain;
    const double peak = k_signal_v / amplifier_->gain;

    std::array<double, k_wave_points> wave{};
    std::vector<double> slopes(point_.node_v.size());
    double notch_least = k_nan;
    double beside = 0;
    int beside_count = 0;
    bool good = solve(false);
    for (int k = 0; k < k_wave_points && good; ++k) {
        solver_.set_value(input, peak * std::cos(std::numbers::pi * k / (k_wave_points - 1)));
        good = solve(false);
        const double out = point_.volts(amplifier_->out);
        wave[static_cast<std::size_t>(k)] = out;
        if (!good || !amplifier_->spreader || !solver_.slopes(input, slopes))
            continue;
        const auto slope = [&](Node node) { return slopes[static_cast<std::size_t>(node)]; };
        const double drive =
            (slope(amplifier_->spreader->plus) + slope(amplifier_->spreader->minus)) / 2;
        if (std::abs(drive) < 1e-9)
            continue;
        const double through = slope(amplifier_->out) / drive;
        if (std::abs(out) < 1.2)
            notch_least = std::isnan(notch_least) ? through : std::min(notch_least, through);
        else if (std::abs(out) > 1.8 && std::abs(out) < 3.2) {
            beside += through;
            ++beside_count;
        }
    }
    if (good) {
        // Harmonics of a wave that is even about its peaks, by the trapezoidal rule.
        constexpr int n = k_wave_points - 1;
        double fundamental = 0;
        double rest = 0;
        for (int h = 1; h < n; ++h) {
            double sum = 0;
            for (int k = 0; k <= n; ++k)
                sum += (k == 0 || k == n ? 0.5 : 1) * wave[static_cast<std::size_t>(k)] *
                       std::cos(std::numbers::pi * h * k / n);
            sum *= 2.0 / n;
            if (h == 1)
                fundamental = sum;
            else
                rest += sum * sum;
        }
        put(readings, "loaded/gain", fundamental / peak);
        if (std::abs(fundamental) > 1e-6)
            put(readings, "loaded/distortion",
                std::min(100 * std::sqrt(rest) / std::abs(fundamental), 200.0));
        if (beside_count > 0 && beside / beside_count > 0.2 && !std::isnan(notch_least))
            put(readings, "loaded/notch", 100 * (1 - notch_least / (beside / beside_count)));
    }
    for (const bool plus : {true, false}) {
        solver_.set_value(input, plus ? full : -full);
        if (solve(false))
            put(readings, plus ? "loaded/clip_plus" : "loaded/clip_minus",
                point_.volts(amplifier_->out));
        solver_.set_value(input, 0);
    }
    // Back to rest, where the next sweep begins.
    warm_ = warm_ && solve(false);
    solver_.set_value(amplifier_->load, k_unloaded_ohm);
    audio_on(false);
}

void TrialBench::held(ProbeReadings& readings) {
    audio_on(true);
    const ElementId input = amplifier_->input;
    const double full = k_overdrive * amplifier_->rail_v / amplifier_->gain;
    if (amplifier_->load >= 0)
        solver_.set_value(amplifier_->load, k_unloaded_ohm);
    solver_.set_value(force_ohm_, k_held_ohm);
    struct Point {
        std::string_view key;
        double at_v;
        bool plus;
    };
    for (const Point& p : {Point{"held/plus_reverse", -15, true}, Point{"held/plus_0", 0, true},
                           Point{"held/plus_20", 20, true}, Point{"held/minus_reverse", 15, false},
                           Point{"held/minus_0", 0, false}, Point{"held/minus_20", -20, false}}) {
        if (std::abs(p.at_v) > amplifier_->rail_v * 0.9)
            continue;
        solver_.set_value(force_a_, p.at_v / k_held_ohm);
        // Enough to win over the feedback, which sees the held output.
        solver_.set_value(input, p.plus ? full + std::abs(p.at_v) / amplifier_->gain
                                        : -full - std::abs(p.at_v) / amplifier_->gain);
        if (solve(false)) {
            const double amps = (point_.volts(amplifier_->out) - p.at_v) / k_held_ohm;
            put(readings, p.key, std::abs(amps));
        }
    }
    solver_.set_value(force_ohm_, k_away_ohm);
    solver_.set_value(force_a_, 0);
    solver_.set_value(input, 0);
    warm_ = warm_ && solve(false);
    audio_on(false);
}

} // namespace railside
