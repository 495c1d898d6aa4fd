#include "core/suspects/predictions.h"

#include "core/device/constants.h"
#include "core/quantity/refusal.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <map>

namespace railside {

namespace {

constexpr float k_nan = std::numeric_limits<float>::quiet_NaN();

/// Standard deviations of a draw.
struct Doubt {
    double log_gain = 0;
    double shift_v = 0;
};
constexpr double k_two = 2; // a stated limit is two standard deviations
constexpr Doubt k_card_doubt{0.2231 / k_two, 0.005 / k_two}; // ln 1.25
constexpr Doubt k_one_of_a_kind{0.1, 0.003};                 // between devices of one role
constexpr double k_resistor_doubt = 0.01;                    // 2 % parts, two deviations
constexpr double k_diode_shift_v = 0.02;
constexpr double k_reached = 1.25; // of the service value, when the trim's end falls short
constexpr int k_draws = 60;

const DiodeModel k_generic_diode{.saturation_a = 2.5e-9, .emission = 1.75, .series_ohm = 0.6};
const DiodeModel k_generic_power_diode{.saturation_a = 2e-9, .emission = 1.6, .series_ohm = 0.04};

/// Numbers that are the same on every machine, which those of <random> are not.
class Draw {
  public:
    explicit Draw(std::uint32_t seed) : state_(seed * 2654435761U + 88172645463325252ULL) {}
    double uniform() {
        state_ ^= state_ << 13U;
        state_ ^= state_ >> 7U;
        state_ ^= state_ << 17U;
        return (static_cast<double>(state_ >> 11U) + 0.5) / 9007199254740992.0;
    }
    /// Mean 0, deviation 1; nothing beyond 2.5.
    double normal() {
        while (true) {
            double sum = -6;
            for (int i = 0; i < 12; ++i)
                sum += uniform();
            if (std::abs(sum) < 2.5)
                return sum;
        }
    }

  private:
    std::uint64_t state_;
};

/// The device constants of one sample, by element.
struct Devices {
    std::map<ElementId, BipolarModel> bipolars;
    std::map<ElementId, DiodeModel> diodes;
    std::map<ElementId, double> ohms;
    double trim_share = -1; // below 0: as the netlist stands
};

Devices as_given(const Amplifier& amplifier, bool generic) {
    Devices devices;
    for (const SuspectPosition& position : amplifier.positions) {
        const ElementPart& part = amplifier.circuit.element(position.element).part;
        if (const auto* q = std::get_if<Bipolar>(&part)) {
            devices.bipolars[position.element] =
                generic ? generic_constants(position.device, q->model.polarity).model : q->model;
        } else if (const auto* d = std::get_if<Diode>(&part)) {
            const bool power = position.role.find("catch") != std::string::npos;
            devices.diodes[position.element] =
                generic ? (power ? k_generic_power_diode : k_generic_diode) : d->model;
        } else if (const auto* r = std::get_if<Resistor>(&part)) {
            devices.ohms[position.element] = r->ohm;
        }
    }
    return devices;
}

Devices drawn(const Amplifier& amplifier, bool generic, Draw& draw) {
    Devices devices = as_given(amplifier, generic);
    std::map<std::pair<Role, Polarity>, Doubt> kinds; // one draw for all of a kind
    const auto kind_of = [&](Role role, Polarity polarity) {
        const auto [at, fresh] = kinds.try_emplace({role, polarity});
        if (fresh) {
            const DeviceConstants constants = generic_constants(role, polarity);
            const Doubt doubt =
                generic ? Doubt{std::log(constants.gain_high) / k_two, constants.shift_v / k_two}
                        : k_card_doubt;
            at->second = {doubt.log_gain * draw.normal(), doubt.shift_v * draw.normal()};
        }
        return at->second;
    };
    double diode_shift_v = (generic ? k_diode_shift_v : k_card_doubt.shift_v) * draw.normal();
    for (const SuspectPosition& position : amplifier.positions) {
        const ElementId id = position.element;
        if (auto q = devices.bipolars.find(id); q != devices.bipolars.end()) {
            const Doubt kind = kind_of(position.device, q->second.polarity);
            q->second =
                moved(q->second, std::exp(kind.log_gain + k_one_of_a_kind.log_gain * draw.normal()),
                      kind.shift_v + k_one_of_a_kind.shift_v * draw.normal());
        } else if (auto d = devices.diodes.find(id); d != devices.diodes.end()) {
            const double thermal_v =
                k_boltzmann_v_per_k * (d->second.card_c + k_zero_celsius_k) * d->second.emission;
            d->second.saturation_a *= std::exp(-diode_shift_v / thermal_v);
        } else if (auto r = devices.ohms.find(id); r != devices.ohms.end()) {
            const bool trim =
                amplifier.trim && (id == amplifier.trim->lower || id == amplifier.trim->upper);
            if (!trim)
                r->second *= std::exp(k_resistor_doubt * draw.normal());
        }
    }
    return devices;
}

/// Only what is not the faulty part's own fault: the fault has been built on nominal values.
void fit(Circuit& circuit, const Devices& devices, const Amplifier& amplifier, const Fault& fault) {
    const ElementId faulty =
        fault.position < 0 ? -1
                           : amplifier.positions[static_cast<std::size_t>(fault.position)].element;
    for (const auto& [id, model] : devices.bipolars)
        std::get<Bipolar>(circuit.element(id).part).model = model;
    for (const auto& [id, model] : devices.diodes)
        std::get<Diode>(circuit.element(id).part).model = model;
    for (const auto& [id, ohm] : devices.ohms)
        if (id != faulty)
            std::get<Resistor>(circuit.element(id).part).ohm = ohm;
    if (const auto extra = circuit.find("extra#fault"); extra && faulty >= 0)
        std::get<Diode>(circuit.element(*extra).part).model = devices.diodes.at(faulty);
}

void fit_trim(TrialBench& bench, const Devices& devices, const Amplifier& amplifier,
              const Fault& fault) {
    if (devices.trim_share < 0 || !amplifier.trim)
        return;
    const ElementId faulty =
        fault.position < 0 ? -1
                           : amplifier.positions[static_cast<std::size_t>(fault.position)].element;
    Circuit& circuit = bench.circuit();
    const auto held = [&](ElementId id) {
        return id < 0 ? 0.0 : std::get<Resistor>(circuit.element(id).part).ohm;
    };
    const double lower = held(amplifier.trim->lower);
    const double upper = held(amplifier.trim->upper);
    bench.set_trim(devices.trim_share);
    if (faulty == amplifier.trim->lower)
        std::get<Resistor>(circuit.element(faulty).part).ohm = lower;
    else if (faulty >= 0 && faulty == amplifier.trim->upper)
        std::get<Resistor>(circuit.element(faulty).part).ohm = upper;
}

/// Sets the sample's trim so that the healthy bench idles at the service value. What is left, as a
/// ratio of 1 or more; infinite when it does not settle.
double adjust(TrialBench& healthy, Devices& devices, const Amplifier& amplifier) {
    constexpr double k_never = std::numeric_limits<double>::infinity();
    const auto off_by = [](double off) {
        return std::isnan(off) ? k_never : std::exp(std::abs(off));
    };
    if (!amplifier.service_v)
        return std::isnan(healthy.idle_reading()) ? k_never : 1;
    const auto idle = [&] {
        return std::log(std::max(healthy.idle_reading(), 1e-9) / *amplifier.service_v);
    };
    // Without a trim the maker's own spread is what it is.
    constexpr double k_untrimmed = 3;
    if (!amplifier.trim)
        return std::max(off_by(idle()) / k_untrimmed, 1.0);
    const auto at = [&](double share) {
        healthy.set_trim(share);
        return idle();
    };
    double low = 0;
    double high = 1;
    const double low_off = at(low);
    const double high_off = at(high);
    if (std::isnan(low_off) || std::isnan(high_off))
        return k_never;
    if (low_off * high_off > 0) {
        devices.trim_share = std::abs(low_off) < std::abs(high_off) ? low : high;
        return off_by(std::min(std::abs(low_off), std::abs(high_off)));
    }
    for (int i = 0; i < 30; ++i) {
        const double middle = (low + high) / 2;
        const double off = at(middle);
        if (std::abs(off) < 0.005 || std::isnan(off)) {
            low = high = middle;
            break;
        }
        (off * low_off > 0 ? low : high) = middle;
    }
    devices.trim_share = (low + high) / 2;
    return 1;
}

Result<std::vector<Devices>> draw_samples(const Amplifier& amplifier,
                                          const PredictionOptions& options) {
    std::vector<Devices> samples;
    const Fault none;
    TrialBench healthy(amplifier, with_fault(amplifier, none));
    Draw draw(options.seed);
    // The maker's value may be out of reach with constants as far off as generic ones: then those
    // that come nearest.
    std::vector<std::pair<double, Devices>> others;
    for (int turn = 0; turn < k_draws + options.samples; ++turn) {
        if (static_cast<int>(samples.size()) == options.samples)
            break;
        Devices devices = drawn(amplifier, options.generic, draw);
        fit(healthy.circuit(), devices, amplifier, none);
        const double off = adjust(healthy, devices, amplifier);
        if (off <= k_reached)
            samples.push_back(std::move(devices));
        else if (std::isfinite(off))
            others.emplace_back(off, std::move(devices));
    }
    std::stable_sort(others.begin(), others.end(),
                     [](const auto& a, const auto& b) { return a.first < b.first; });
    for (auto& other : others)
        if (static_cast<int>(samples.size()) < options.samples)
            samples.push_back(std::move(other.second));
    if (samples.empty())
        return refusal(ErrorCode::failed, "circuit",
                       "the healthy amplifier does not settle, so no fault can be told from it.");
    return samples;
}

std::vector<float> on_scale(const ProbeReadings& readings) {
    std::vector<float> result;
    result.reserve(readings.size());
    const auto probes = all_probes();
    for (std::size_t i = 0; i < readings.size(); ++i)
        result.push_back(static_cast<float>(compared(probes[i], readings[i])));
    return result;
}

/// The deviation to compare with: the probe's own, and half of what the samples scatter by, which
/// smooths between so few of them; samples in two states are not smoothed together.
std::vector<float> widths(const std::vector<std::vector<float>>& samples) {
    constexpr double k_smooth = 0.5;
    constexpr double k_most = 3; // of the probe's own
    const auto probes = all_probes();
    std::vector<float> result;
    result.reserve(probes.size());
    for (std::size_t p = 0; p < probes.size(); ++p) {
        double sum = 0;
        double squares = 0;
        int count = 0;
        for (const auto& row : samples)
            if (!std::isnan(row[p])) {
                sum += row[p];
                squares += static_cast<double>(row[p]) * row[p];
                ++count;
            }
        double scatter = 0;
        if (count > 1) {
            const double mean = sum / count;
            scatter = std::sqrt(std::max(squares / count - mean * mean, 0.0));
        }
        const double own = probes[p].relative;
        result.push_back(
            static_cast<float>(std::hypot(own, std::min(k_smooth * scatter, k_most * own))));
    }
    return result;
}

/// One severity of a graded fault, by sample.
struct Step {
    double severity = 0.5;
    std::vector<std::vector<float>> samples;
};

/// How many of its standard deviations the fastest reading moves between two steps; a reading that
/// can be had at one of them only counts as far.
double moves(const Step& a, const Step& b) {
    constexpr double k_far = 100;
    const auto probes = all_probes();
    double most = 0;
    for (std::size_t s = 0; s < a.samples.size(); ++s)
        for (std::size_t p = 0; p < probes.size(); ++p) {
            const float from = a.samples[s][p];
            const float to = b.samples[s][p];
            if (std::isnan(from) != std::isnan(to))
                most = std::max(most, k_far);
            else if (!std::isnan(from))
                most = std::max(most, std::abs(to - from) / probes[p].relative);
        }
    return most;
}

/// Where a row stands between two steps, and the share of the severities it stands for.
struct RowPlace {
    std::size_t step = 0;
    double share = 0;
    double severity = 0;
    double weight = 0;
};

/// Rows over the severities: half of them spread evenly, half by how far the readings move.
std::vector<RowPlace> row_places(const std::vector<Step>& steps, int rows) {
    constexpr double k_jump = 20; // standard deviations: a jump between two states is no slope
    std::vector<double> lengths;
    std::vector<double> moved;
    lengths.reserve(steps.size());
    moved.reserve(steps.size());
    double all_moved = 1e-9;
    for (std::size_t i = 0; i + 1 < steps.size(); ++i) {
        lengths.push_back(steps[i + 1].severity - steps[i].severity);
        moved.push_back(std::min(moves(steps[i], steps[i + 1]), k_jump));
        all_moved += moved.back();
    }
    std::vector<RowPlace> places;
    for (std::size_t i = 0; i < lengths.size(); ++i) {
        const double part = 0.5 * lengths[i] + 0.5 * moved[i] / all_moved;
        const int count = std::max(1, static_cast<int>(std::lround(part * rows)));
        for (int k = 0; k < count; ++k) {
            const double share = (k + 0.5) / count;
            places.push_back(
                {i, share, steps[i].severity + share * lengths[i], lengths[i] / count});
        }
    }
    return places;
}

FaultPrediction predict_one(const Amplifier& amplifier, const Fault& fault,
                            const std::vector<Devices>& samples, const PredictionOptions& options,
                            int& circuits) {
    FaultPrediction prediction;
    prediction.fault = fault;
    const bool graded = has_severity(fault.kind);
    TrialBench bench(amplifier, with_fault(amplifier, fault));
    const auto work_out = [&](double severity) {
        Step step{severity, {}};
        for (const Devices& devices : samples) {
            fit(bench.circuit(), devices, amplifier, fault);
            fit_trim(bench, devices, amplifier, fault);
            if (graded) {
                // A changed resistor is scaled from its nominal value, a gain from the sample's.
                const Circuit sample = bench.circuit();
                set_severity(bench.circuit(),
                             fault.kind == FaultKind::low_gain ? sample : amplifier.circuit,
                             amplifier, fault, bench.severity_element(), severity);
            }
            step.samples.push_back(on_scale(bench.read(TrialBench::Depth::whole)));
            ++circuits;
        }
        return step;
    };
    std::vector<Step> steps;
    if (!graded) {
        steps.push_back(work_out(0.5));
    } else {
        for (int i = 0; i < options.severity_steps; ++i)
            steps.push_back(work_out(static_cast<double>(i) / (options.severity_steps - 1)));
        constexpr double k_far_apart = 3; // standard deviations
        constexpr double k_jump = 20;
        constexpr double k_least_step = 1.0 / 80;
        while (static_cast<int>(steps.size()) < options.most_steps) {
            std::size_t worst = 0;
            double most = 0;
            for (std::size_t i = 0; i + 1 < steps.size(); ++i) {
                const double length = steps[i + 1].severity - steps[i].severity;
                const double moved = moves(steps[i], steps[i + 1]);
                // The longest first among those that jump.
                if (moved > k_far_apart && length > k_least_step &&
                    length * std::min(moved, k_jump) > most) {
                    most = length * std::min(moved, k_jump);
                    worst = i;
                }
            }
            if (most <= 0)
                break;
            steps.insert(steps.begin() + static_cast<std::ptrdiff_t>(worst) + 1,
                         work_out((steps[worst].severity + steps[worst + 1].severity) / 2));
        }
    }
    const auto probes = all_probes();
    if (!graded) {
        const std::vector<float> width = widths(steps.front().samples);
        for (std::size_t s = 0; s < samples.size(); ++s) {
            prediction.severity.push_back(0.5F);
            prediction.weight.push_back(1 / static_cast<float>(samples.size()));
            const std::vector<float>& sample = steps.front().samples[s];
            prediction.compared.insert(prediction.compared.end(), sample.begin(), sample.end());
            prediction.width.insert(prediction.width.end(), width.begin(), width.end());
            ++prediction.rows;
        }
        return prediction;
    }
    const std::vector<RowPlace> places = row_places(steps, options.between);
    std::vector<std::vector<float>> width;
    width.reserve(steps.size());
    for (const Step& step : steps)
        width.push_back(widths(step.samples));
    constexpr float k_two_states = 60; // standard deviations; then a row is one or the other
    constexpr float k_most_stride = 4;
    for (std::size_t s = 0; s < samples.size(); ++s) {
        for (const RowPlace& place : places) {
            const std::vector<float>& a = steps[place.step].samples[s];
            const std::vector<float>& b = steps[place.step + 1].samples[s];
            const auto share = static_cast<float>(place.share);
            const auto nearer = share < 0.5F ? place.step : place.step + 1;
            // Half the way to the next row.
            const auto reach = static_cast<float>(
                std::min(0.5, 0.5 * place.weight /
                                  (steps[place.step + 1].severity - steps[place.step].severity)));
            bool two_states = false;
            for (std::size_t p = 0; p < probes.size(); ++p)
                two_states |= std::isnan(a[p]) != std::isnan(b[p]) ||
                              std::abs(b[p] - a[p]) > k_two_states * probes[p].relative;
            prediction.severity.push_back(static_cast<float>(place.severity));
            prediction.weight.push_back(static_cast<float>(place.weight) /
                                        static_cast<float>(samples.size()));
            for (std::size_t p = 0; p < probes.size(); ++p) {
                const bool between = !two_states && !std::isnan(a[p]);
                prediction.compared.push_back(between        ? a[p] + (b[p] - a[p]) * share
                                              : share < 0.5F ? a[p]
                                                             : b[p]);
                const float own = static_cast<float>(probes[p].relative);
                const float stride =
                    between ? std::min(std::abs(b[p] - a[p]) * reach, k_most_stride * own) : 0;
                prediction.width.push_back(std::hypot(width[nearer][p], stride));
            }
            ++prediction.rows;
        }
    }
    return prediction;
}

} // namespace

Result<Predictions> predict(const Amplifier& amplifier, const PredictionOptions& options) {
    const auto samples = draw_samples(amplifier, options);
    if (!samples)
        return samples.error();
    Predictions predictions;
    const std::vector<Fault> faults = all_faults(amplifier);
    for (const Fault& fault : faults) {
        if (options.progress && !options.progress(static_cast<int>(predictions.faults.size()),
                                                  static_cast<int>(faults.size())))
            return refusal(ErrorCode::refused, "circuit", "the work was stopped.");
        if (fault.kind == FaultKind::other) {
            FaultPrediction nothing;
            nothing.fault = fault;
            predictions.faults.push_back(std::move(nothing));
            continue;
        }
        predictions.faults.push_back(
            predict_one(amplifier, fault, *samples, options, predictions.circuits));
    }
    for (const FaultPrediction& prediction : predictions.faults) {
        if (prediction.fault.kind != FaultKind::none)
            continue;
        predictions.healthy.assign(all_probes().size(), k_nan);
        for (std::size_t p = 0; p < predictions.healthy.size(); ++p) {
            double sum = 0;
            int count = 0;
            for (int row = 0; row < prediction.rows; ++row)
                if (const float value = prediction.row(row)[p]; !std::isnan(value)) {
                    sum += value;
                    ++count;
                }
            if (count > 0)
                predictions.healthy[p] = static_cast<float>(sum / count);
        }
    }
    return predictions;
}

Result<ProbeReadings> simulate(const Amplifier& amplifier, const Fault& fault, double severity) {
    TrialBench bench(amplifier, with_fault(amplifier, fault));
    set_severity(bench.circuit(), amplifier.circuit, amplifier, fault, bench.severity_element(),
                 severity);
    ProbeReadings readings = bench.read(TrialBench::Depth::whole);
    if (std::isnan(readings[static_cast<std::size_t>(find_probe("idle/offset"))]))
        return refusal(ErrorCode::failed, "circuit", "the faulty amplifier does not settle.");
    return readings;
}

} // namespace railside
