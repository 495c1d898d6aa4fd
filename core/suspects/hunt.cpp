#include "core/suspects/hunt.h"

#include "core/device/spice_text.h"
#include "core/quantity/amount.h"
#include "core/words/words.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <numbers>
#include <numeric>

namespace railside {

namespace {

constexpr double k_setup_share = 0.5; // of getting into a setup, charged to the first reading there
constexpr int k_most_bins = 80;

// A client's word. Thresholds: those the symptoms are named by (core/suspects/hunt.md); widths are
// how sharply a person notices.
constexpr double k_client_makes_up = 0.03;
constexpr double k_client_tells = 0.85;
constexpr double k_dc_v = 3;
constexpr double k_hot_times = 5;
constexpr double k_clip_share = 0.96;
constexpr double k_limit_share = 0.8;
constexpr double k_notch_pct = 10;
constexpr double k_gain_share = 0.05;
constexpr double k_distortion_pct = 0.15;
constexpr double k_distortion_times = 3;

// What a tester says of a part that has been taken out.
constexpr double k_part_right = 0.9;
constexpr double k_part_missed = 0.04; // a faulty one tests good (it breaks down at volts or heat)
constexpr double k_part_false = 0.03;  // a good one tests bad
constexpr int k_bad_states = 5;

constexpr std::size_t k_complaints = 10;
constexpr std::array<std::string_view, 7> k_part_states{"good",     "shorted", "leaky", "open",
                                                        "low_gain", "changed", "bad"};
// Hum is of reservoirs, rectifier and grounds, which are not in the list; a bias fault may let a
// little of it through.
constexpr double k_hum_of_the_circuit = 0.05;
constexpr double k_hum_of_the_rest = 0.6;
constexpr double k_rest_tells = 0.3; // any other complaint, said or denied, by what is not listed
constexpr double k_marked = 2;       // prior of what an earlier shop fitted

double phi(double x) { return 0.5 * std::erfc(-x / std::sqrt(2.0)); }

std::string_view after(std::string_view key, std::string_view head) {
    return key.starts_with(head) ? key.substr(head.size()) : std::string_view();
}

std::string shown(double value, std::string_view unit) {
    if (unit == "%")
        return fmt::format("{:.2g} %", value);
    if (unit.empty())
        return fmt::format("{:.3g}", value);
    const double size = std::abs(value);
    if (size > 0 && size < 0.9995) {
        if (size < 5e-5)
            return fmt::format("0 {}", unit);
        return fmt::format("{:.3g} m{}", value * 1e3, unit);
    }
    return fmt::format("{:.3g} {}", value, unit);
}

std::string percent(double share) {
    if (share > 0.995)
        return worded("over 99 %");
    return share < 0.005 ? worded("under 1 %") : fmt::format("{:.0f} %", share * 100);
}

double entropy_bits(double p) { return p > 0 ? -p * std::log2(p) : 0; }

} // namespace

std::string_view complaint_key(Complaint complaint) {
    constexpr std::array<std::string_view, k_complaints> k_keys{
        "blows_fuse",      "dc", "hot", "breaks_up", "rough", "weak", "distorted", "breaks_up_plus",
        "breaks_up_minus", "hum"};
    return k_keys[static_cast<std::size_t>(complaint)];
}

std::string_view complaint_words(Complaint complaint) {
    constexpr std::array<std::string_view, k_complaints> k_words{"blows its fuse",
                                                                 "DC at the output",
                                                                 "hot with nothing playing",
                                                                 "breaks up when loud",
                                                                 "rough when quiet",
                                                                 "much too quiet",
                                                                 "sounds distorted",
                                                                 "breaks up when loud, + half",
                                                                 "breaks up when loud, \u2212 half",
                                                                 "hums"};
    return k_words[static_cast<std::size_t>(complaint)];
}

std::optional<Complaint> complaint_from_key(std::string_view key) {
    for (std::size_t i = 0; i < k_complaints; ++i)
        if (complaint_key(static_cast<Complaint>(i)) == key)
            return static_cast<Complaint>(i);
    return std::nullopt;
}

std::string_view part_state_key(PartState state) {
    return k_part_states[static_cast<std::size_t>(state)];
}

std::optional<PartState> part_state_from_key(std::string_view key) {
    for (std::size_t i = 0; i < k_part_states.size(); ++i)
        if (k_part_states[i] == key)
            return static_cast<PartState>(i);
    return std::nullopt;
}

PartState part_state_of(FaultKind kind) {
    switch (kind) {
    case FaultKind::short_circuit:
        return PartState::shorted;
    case FaultKind::leak:
        return PartState::leaky;
    case FaultKind::open:
    case FaultKind::open_base:
    case FaultKind::open_emitter:
    case FaultKind::open_collector:
    case FaultKind::wiper_open:
        return PartState::open;
    case FaultKind::low_gain:
        return PartState::low_gain;
    case FaultKind::higher:
    case FaultKind::lower:
    case FaultKind::one_too_many:
        return PartState::changed;
    case FaultKind::none:
    case FaultKind::other:
        break;
    }
    return PartState::good;
}

std::string confirming_words(const SuspectPosition& position, FaultKind kind) {
    switch (kind) {
    case FaultKind::short_circuit:
        return position.kind == ElementKind::transistor
                   ? "collector to emitter below 10 \u03a9 both ways out of circuit"
                   : "below 10 \u03a9 with one lead lifted";
    case FaultKind::leak:
        return "more than 0.1 mA from 20 V through 1 k\u03a9, collector to emitter, base open "
               "(silicon: next to none)";
    case FaultKind::open:
        return position.kind == ElementKind::capacitor
                   ? "less than half its capacitance with one lead lifted"
                   : "no conduction with one lead lifted";
    case FaultKind::open_base:
        return "diode test: no drop from base to emitter nor to collector";
    case FaultKind::open_emitter:
        return "diode test: base to collector conducts, base to emitter does not";
    case FaultKind::open_collector:
        return "diode test: base to emitter conducts, base to collector does not";
    case FaultKind::low_gain:
        return "gain below a third of the type's least at the tester's current, leakage subtracted";
    case FaultKind::higher:
    case FaultKind::lower:
        return "more than 10 % off its marking with one lead lifted";
    case FaultKind::wiper_open:
        return "wiper to either end open while the track reads its value";
    case FaultKind::one_too_many:
        return "count the diodes of the string against the schematic";
    case FaultKind::none:
    case FaultKind::other:
        break;
    }
    return "";
}

// ---------------------------------------------------------------------------------------------

struct Hunt::Belief {
    std::vector<double> fault;            // posterior, sums to 1
    std::vector<std::vector<double>> row; // within a fault, sums to 1
    std::vector<double> position;         // by position; then "no fault", "something else"
    std::map<std::string, const Evidence*, std::less<>> known;
    Setup setup = Setup::off; // where the unit is now
    bool begun = false;

    [[nodiscard]] const Evidence* find(std::string_view key) const {
        const auto at = known.find(key);
        return at == known.end() ? nullptr : at->second;
    }
    [[nodiscard]] std::optional<double> value(std::string_view key) const {
        const Evidence* evidence = find(key);
        return evidence == nullptr ? std::nullopt : evidence->value;
    }
};

namespace {

std::size_t slot_of(const Fault& fault, std::size_t positions) {
    if (fault.position >= 0)
        return static_cast<std::size_t>(fault.position);
    return positions + (fault.kind == FaultKind::other ? 1 : 0);
}

} // namespace

Result<Hunt> Hunt::create(Amplifier amplifier, const HuntOptions& options) {
    auto table = predict(amplifier, options.predictions);
    if (!table)
        return table.error();
    Hunt hunt;
    hunt.amplifier_ = std::make_shared<Amplifier>(std::move(amplifier));
    hunt.predictions_ = std::make_shared<Predictions>(std::move(table).value());
    hunt.options_ = options;
    hunt.options_.predictions.progress = nullptr; // what it tells may be gone by then
    auto told = std::make_shared<std::vector<std::vector<float>>>();
    for (const FaultPrediction& fault : hunt.predictions_->faults) {
        std::vector<float> rows;
        rows.reserve(static_cast<std::size_t>(fault.rows) * k_complaints);
        for (int row = 0; row < fault.rows; ++row)
            for (std::size_t c = 0; c < k_complaints; ++c)
                rows.push_back(
                    static_cast<float>(hunt.would_tell(static_cast<Complaint>(c), fault, row)));
        told->push_back(std::move(rows));
    }
    hunt.told_ = std::move(told);
    return hunt;
}

Hunt Hunt::with(const HuntOptions& options) const {
    Hunt hunt = *this;
    hunt.options_ = options;
    return hunt;
}

Hunt Hunt::named(const std::vector<std::string>& names) const {
    Hunt hunt = *this;
    auto amplifier = std::make_shared<Amplifier>(*amplifier_);
    for (std::size_t i = 0; i < std::min(names.size(), amplifier->positions.size()); ++i)
        if (!names[i].empty())
            amplifier->positions[i].name = names[i];
    hunt.amplifier_ = std::move(amplifier);
    return hunt;
}

double Hunt::would_tell(Complaint complaint, const FaultPrediction& fault, int row) const {
    const auto probes = all_probes();
    const float* there = fault.row(row);
    const auto read = [&](std::string_view key) {
        const auto p = static_cast<std::size_t>(find_probe(key));
        return uncompared(probes[p], there[p]);
    };
    const auto healthy = [&](std::string_view key) {
        const auto p = static_cast<std::size_t>(find_probe(key));
        return uncompared(probes[p], predictions_->healthy[p]);
    };
    const auto sure = [](double x) { return std::isnan(x) ? 0.5 : x; };
    const double amps = std::max(read("idle/i_plus"), read("idle/i_minus"));
    const double blows = sure(phi(std::log(std::max(amps, 1e-9) / amplifier_->fuse_a) / 0.3));
    const double dc =
        (1 - blows) *
        sure(phi(std::log(std::max(std::abs(read("idle/offset")), 1e-9) / k_dc_v) / 0.3));
    const double plays = (1 - blows) * (1 - dc);
    const auto half_cut = [&](bool plus) {
        double most = 0;
        const double clip = plus ? read("loaded/clip_plus") / healthy("loaded/clip_plus")
                                 : read("loaded/clip_minus") / healthy("loaded/clip_minus");
        if (!std::isnan(clip))
            most = phi((k_clip_share - clip) / 0.015);
        for (const char* at : {"0", "20"}) {
            const std::string key = std::string(plus ? "held/plus_" : "held/minus_") + at;
            const double share = read(key) / healthy(key);
            if (!std::isnan(share))
                most = std::max(most, phi((k_limit_share - share) / 0.08));
        }
        return most;
    };
    double p = 0;
    switch (complaint) {
    case Complaint::blows_fuse:
        p = blows;
        break;
    case Complaint::dc:
        p = dc;
        break;
    case Complaint::hot: {
        const double most = std::max(read("idle/v_re1"), read("idle/v_re2"));
        const double usual = std::max(healthy("idle/v_re1"), 1e-4);
        p = (1 - blows) * (1 - dc) *
            sure(phi(std::log(std::max(most, 1e-9) / (k_hot_times * usual)) / 0.3));
        break;
    }
    case Complaint::breaks_up:
        p = plays * std::max(half_cut(true), half_cut(false));
        break;
    case Complaint::breaks_up_plus:
    case Complaint::breaks_up_minus: {
        // Who sees one half cut would have told of both.
        const bool plus = complaint == Complaint::breaks_up_plus;
        p = plays * half_cut(plus) * (1 - half_cut(!plus) / 2);
        break;
    }
    case Complaint::rough: {
        const double notch = read("loaded/notch");
        p = plays *
            (std::isnan(notch) ? 0.1 : phi(std::log(std::max(notch, 0.1) / k_notch_pct) / 0.4));
        break;
    }
    case Complaint::weak: {
        const double off = std::abs(read("loaded/gain") / healthy("loaded/gain") - 1);
        p = plays * sure(phi(std::log(std::max(off, 1e-6) / k_gain_share) / 0.4));
        break;
    }
    case Complaint::distorted: {
        const double limit =
            std::max(k_distortion_pct, k_distortion_times * healthy("loaded/distortion"));
        p = plays * sure(phi(std::log(std::max(read("loaded/distortion"), 1e-6) / limit) / 0.8));
        break;
    }
    case Complaint::hum:
        p = k_hum_of_the_circuit;
        break;
    }
    return k_client_makes_up + (k_client_tells - k_client_makes_up) * p;
}

Hunt::Belief Hunt::believe(const std::vector<Evidence>& evidence) const {
    const auto& faults = predictions_->faults;
    const auto probes = all_probes();
    const std::size_t positions = amplifier_->positions.size();
    Belief belief;
    for (const Evidence& item : evidence) {
        if (item.struck)
            continue;
        belief.known[item.key] = &item;
        if (const int p = find_probe(item.key); p >= 0) {
            belief.setup = probes[static_cast<std::size_t>(p)].setup;
            belief.begun = true;
        } else if (item.key.starts_with("part/")) {
            belief.setup = Setup::off;
            belief.begun = true;
        }
    }

    belief.fault.resize(faults.size());
    belief.row.resize(faults.size());
    std::vector<double> logs(faults.size());
    const double broad = std::log(1 / options_.tail_width);
    for (std::size_t f = 0; f < faults.size(); ++f) {
        const FaultPrediction& fault = faults[f];
        const bool anything = fault.fault.kind == FaultKind::other;
        double whole = std::log(fault.fault.prior); // does not hang on the row
        std::vector<double> by_row(static_cast<std::size_t>(anything ? 1 : fault.rows), 0.0);
        for (std::size_t r = 0; r < by_row.size() && !anything; ++r)
            by_row[r] = std::log(fault.weight[r]);
        for (const auto& [key, item] : belief.known) {
            if (const int at = find_probe(key); at >= 0) {
                const auto p = static_cast<std::size_t>(at);
                if (!item->value || std::isnan(predictions_->healthy[p]))
                    continue;
                const double seen = compared(probes[p], *item->value);
                if (anything) {
                    whole += broad;
                    continue;
                }
                for (std::size_t r = 0; r < by_row.size(); ++r) {
                    const double width = fault.widths(static_cast<int>(r))[p] * options_.width;
                    const double top =
                        (1 - options_.tail) / (width * std::sqrt(2 * std::numbers::pi));
                    const double there = fault.row(static_cast<int>(r))[p];
                    const double off = (seen - there) / width;
                    const double fits = std::isnan(there) ? 0 : top * std::exp(-off * off / 2);
                    by_row[r] += std::log(fits + options_.tail / options_.tail_width);
                }
            } else if (const auto name = after(key, "complaint/"); !name.empty()) {
                const auto complaint = complaint_from_key(name);
                if (!complaint || !item->value)
                    continue;
                if (anything) {
                    const double tell =
                        *complaint == Complaint::hum ? k_hum_of_the_rest : k_rest_tells;
                    const bool is = *item->value > 0.5 || *complaint != Complaint::hum;
                    whole += std::log(is ? tell : 1 - tell);
                    continue;
                }
                const auto& tells = (*told_)[f];
                const bool reported = *item->value > 0.5;
                for (std::size_t r = 0; r < by_row.size(); ++r) {
                    const double tell =
                        tells[r * k_complaints + static_cast<std::size_t>(*complaint)];
                    by_row[r] += std::log(reported ? tell : 1 - tell);
                }
            } else if (const auto part = after(key, "part/"); !part.empty()) {
                const SuspectPosition* position = amplifier_->find(part);
                if (position == nullptr || !item->part)
                    continue;
                const bool here =
                    fault.fault.position >= 0 &&
                    &amplifier_->positions[static_cast<std::size_t>(fault.fault.position)] ==
                        position;
                double p = 0;
                if (!here && *item->part == PartState::bad)
                    p = k_part_false;
                else if (!here)
                    p = *item->part == PartState::good ? 1 - k_part_false
                                                       : k_part_false / k_bad_states;
                else if (*item->part == PartState::bad)
                    p = 1 - k_part_missed;
                else if (*item->part == part_state_of(fault.fault.kind))
                    p = k_part_right;
                else
                    p = *item->part == PartState::good
                            ? k_part_missed
                            : (1 - k_part_right - k_part_missed) / (k_bad_states - 1);
                whole += std::log(p);
            } else if (const auto mark = after(key, "mark/"); !mark.empty()) {
                if (fault.fault.position >= 0 &&
                    spice_equal(
                        amplifier_->positions[static_cast<std::size_t>(fault.fault.position)].name,
                        mark))
                    whole += std::log(k_marked);
            }
        }
        const double most = *std::max_element(by_row.begin(), by_row.end());
        double sum = 0;
        for (double& value : by_row) {
            value = std::exp(value - most);
            sum += value;
        }
        for (double& value : by_row)
            value /= sum;
        logs[f] = whole + most + std::log(sum);
        belief.row[f] = std::move(by_row);
    }
    const double most = *std::max_element(logs.begin(), logs.end());
    double sum = 0;
    for (const double value : logs)
        sum += std::exp(value - most);
    belief.position.assign(positions + 2, 0);
    for (std::size_t f = 0; f < faults.size(); ++f) {
        belief.fault[f] = (1 - options_.floor) * std::exp(logs[f] - most) / sum +
                          options_.floor * faults[f].fault.prior;
        belief.position[slot_of(faults[f].fault, positions)] += belief.fault[f];
    }
    return belief;
}

std::vector<Suspect> Hunt::rank(const std::vector<Evidence>& evidence) const {
    const Belief belief = believe(evidence);
    const auto& faults = predictions_->faults;
    const std::size_t positions = amplifier_->positions.size();
    std::vector<Suspect> suspects(positions + 2);
    for (std::size_t f = 0; f < faults.size(); ++f) {
        const std::size_t slot = slot_of(faults[f].fault, positions);
        Suspect& suspect = suspects[slot];
        if (slot < positions) {
            suspect.position = static_cast<int>(slot);
            suspect.name = amplifier_->positions[slot].name;
        } else {
            suspect.name = slot == positions ? "no fault" : "something else";
        }
        suspect.probability += belief.fault[f];
        if (belief.fault[f] <= suspect.kind_probability)
            continue;
        suspect.kind_probability = belief.fault[f];
        suspect.kind = faults[f].fault.kind;
        suspect.severity_value.reset();
        if (has_severity(suspect.kind)) {
            double severity = 0;
            for (std::size_t r = 0; r < belief.row[f].size(); ++r)
                severity += belief.row[f][r] * faults[f].severity[r];
            suspect.severity_value = severity_value(suspect.kind, severity);
        }
    }
    for (Suspect& suspect : suspects)
        if (suspect.probability > 0)
            suspect.kind_probability /= suspect.probability;
    std::stable_sort(suspects.begin(), suspects.end(), [](const Suspect& a, const Suspect& b) {
        return a.probability > b.probability;
    });
    return suspects;
}

std::string Hunt::unsafe(Setup setup, const std::vector<Evidence>& evidence) const {
    if (setup == Setup::off || setup == Setup::limited)
        return "";
    const auto value = [&](std::string_view key) {
        std::optional<double> last;
        for (const Evidence& item : evidence)
            if (!item.struck && item.key == key && item.value)
                last = item.value;
        return last;
    };
    for (const char* key : {"limited/i_plus", "limited/i_minus"}) {
        const auto amps = value(key);
        if (!amps)
            return "Full mains only after the lamp has been dim: both rail currents on limited "
                   "rails are not known yet.";
        if (*amps > options_.lamp_dim_a)
            return worded("The lamp is bright ({} in a rail, dim is below {}): no full mains.",
                          shown(*amps, "A"), shown(options_.lamp_dim_a, "A"));
    }
    if (setup == Setup::idle)
        return "";
    for (const char* key : {"idle/i_plus", "idle/i_minus"})
        if (const auto amps = value(key); amps && *amps > amplifier_->fuse_a / 2)
            return worded("{} flow at idle on full mains: not for longer than a reading.",
                          shown(*amps, "A"));
    if (setup == Setup::trim)
        return value("idle/v_re1") || value("idle/v_re2")
                   ? ""
                   : "The trim is turned only while the volts across an emitter resistor are "
                     "watched: read them first.";
    const auto offset = value("idle/offset");
    if (!offset)
        return "No load before the volts at the output are known.";
    if (std::abs(*offset) > options_.offset_safe_v)
        return worded("{} at the output: no load.", shown(*offset, "V"));
    return "";
}

double Hunt::probe_bits(int probe, const Belief& belief) const {
    const auto p = static_cast<std::size_t>(probe);
    if (std::isnan(predictions_->healthy[p]))
        return 0;
    const auto& faults = predictions_->faults;
    const std::size_t positions = amplifier_->positions.size();
    const double step = all_probes()[p].relative * options_.width;
    double low = std::numeric_limits<double>::infinity();
    double high = -low;
    constexpr double k_negligible = 1e-5;
    for (std::size_t f = 0; f < faults.size(); ++f) {
        if (belief.fault[f] < k_negligible)
            continue;
        for (std::size_t r = 0; r < belief.row[f].size() && faults[f].rows > 0; ++r) {
            const double at = faults[f].row(static_cast<int>(r))[p];
            if (belief.fault[f] * belief.row[f][r] > k_negligible / 10 && !std::isnan(at)) {
                low = std::min(low, at);
                high = std::max(high, at);
            }
        }
    }
    if (!(high >= low))
        return 0;
    low -= 2 * step;
    high += 2 * step;
    const int bins = std::clamp(static_cast<int>((high - low) / step) + 1, 3, k_most_bins);
    const double width = (high - low) / bins;
    const auto columns = static_cast<std::size_t>(bins) + 1; // the last: cannot be read
    std::vector<double> table((positions + 2) * columns, 0.0);
    for (std::size_t f = 0; f < faults.size(); ++f) {
        if (belief.fault[f] < k_negligible)
            continue;
        double* into = table.data() + slot_of(faults[f].fault, positions) * columns;
        if (faults[f].rows == 0) {
            for (std::size_t b = 0; b < columns; ++b)
                into[b] += belief.fault[f] / static_cast<double>(columns);
            continue;
        }
        for (std::size_t r = 0; r < belief.row[f].size(); ++r) {
            const double weight = belief.fault[f] * belief.row[f][r];
            if (weight < k_negligible / 10)
                continue;
            const double at = faults[f].row(static_cast<int>(r))[p];
            if (std::isnan(at)) {
                into[columns - 1] += weight;
                continue;
            }
            const double sigma =
                std::max(faults[f].widths(static_cast<int>(r))[p] * options_.width, width / 3);
            const int from =
                std::clamp(static_cast<int>((at - 2.5 * sigma - low) / width), 0, bins - 1);
            const int to =
                std::clamp(static_cast<int>((at + 2.5 * sigma - low) / width), 0, bins - 1);
            std::array<double, k_most_bins> share{};
            double sum = 0;
            for (int b = from; b <= to; ++b) {
                const double off = (low + (b + 0.5) * width - at) / sigma;
                share[static_cast<std::size_t>(b)] = std::exp(-off * off / 2);
                sum += share[static_cast<std::size_t>(b)];
            }
            if (sum <= 0)
                continue;
            for (int b = from; b <= to; ++b)
                into[static_cast<std::size_t>(b)] +=
                    weight * share[static_cast<std::size_t>(b)] / sum;
        }
    }
    // I(position; bin) = H(position) + H(bin) − H(both)
    double both = 0;
    double by_bin = 0;
    double by_position = 0;
    double total = 0;
    for (const double value : table)
        total += value;
    for (std::size_t b = 0; b < columns; ++b) {
        double sum = 0;
        for (std::size_t i = 0; i < positions + 2; ++i)
            sum += table[i * columns + b];
        by_bin += entropy_bits(sum / total);
    }
    for (std::size_t i = 0; i < positions + 2; ++i) {
        double sum = 0;
        for (std::size_t b = 0; b < columns; ++b) {
            sum += table[i * columns + b];
            both += entropy_bits(table[i * columns + b] / total);
        }
        by_position += entropy_bits(sum / total);
    }
    return std::max(by_position + by_bin - both, 0.0) * (1 - options_.tail);
}

double Hunt::part_bits(int position, const Belief& belief) const {
    const double p = belief.position[static_cast<std::size_t>(position)];
    // Good or bad; how it is bad says nothing more about where.
    const double bad_here = 1 - k_part_missed;
    const double bad = p * bad_here + (1 - p) * k_part_false;
    const auto two = [](double x) { return entropy_bits(x) + entropy_bits(1 - x); };
    return std::max(two(bad) - p * two(bad_here) - (1 - p) * two(k_part_false), 0.0);
}

std::vector<Proposal> Hunt::tests(const std::vector<Evidence>& evidence,
                                  const Belief& belief) const {
    const auto probes = all_probes();
    const Minutes& minutes = options_.minutes;
    std::vector<Proposal> found;
    const auto into = [&](Setup setup) {
        return belief.begun && belief.setup == setup
                   ? 0
                   : minutes.into[static_cast<std::size_t>(setup)];
    };
    for (std::size_t p = 0; p < probes.size(); ++p) {
        const ProbeSpec& probe = probes[p];
        if (belief.find(probe.key) != nullptr || std::isnan(predictions_->healthy[p]))
            continue;
        Proposal proposal;
        proposal.key = probe.key;
        proposal.probe = static_cast<int>(p);
        proposal.setup = probe.setup;
        proposal.minutes =
            into(probe.setup) + minutes.reading[static_cast<std::size_t>(probe.setup)];
        proposal.bits = probe_bits(static_cast<int>(p), belief);
        found.push_back(std::move(proposal));
    }
    for (std::size_t at = 0; at < amplifier_->positions.size() && !options_.from_outside_only;
         ++at) {
        const SuspectPosition& position = amplifier_->positions[at];
        const std::string key = "part/" + position.name;
        if (belief.find(key) != nullptr)
            continue;
        Proposal proposal;
        proposal.key = key;
        proposal.position = static_cast<int>(at);
        proposal.setup = Setup::off;
        proposal.minutes = into(Setup::off) + pull_minutes(minutes, position);
        proposal.bits = part_bits(static_cast<int>(at), belief);
        found.push_back(std::move(proposal));
    }
    (void)evidence;
    return found;
}

namespace {

/// Minutes to weigh a test by: a setup is seldom made for one reading alone.
double weighed(const Proposal& proposal, const Minutes& minutes) {
    const double reading = proposal.probe >= 0
                               ? minutes.reading[static_cast<std::size_t>(proposal.setup)]
                               : proposal.minutes;
    return reading + k_setup_share * (proposal.minutes - reading);
}

} // namespace

std::optional<Proposal> Hunt::next_test(const std::vector<Evidence>& evidence) const {
    const Belief belief = believe(evidence);
    const std::size_t positions = amplifier_->positions.size();
    for (std::size_t at = 0; at < positions; ++at) {
        const Evidence* part = belief.find("part/" + amplifier_->positions[at].name);
        if (part != nullptr && part->part && *part->part != PartState::good &&
            belief.position[at] > 0.5)
            return std::nullopt;
    }
    std::vector<Proposal> all = tests(evidence, belief);
    const auto finish = [&](Proposal proposal) {
        tell(proposal, belief);
        return proposal;
    };
    const auto find = [&](std::string_view key) {
        return std::find_if(all.begin(), all.end(),
                            [key](const Proposal& proposal) { return proposal.key == key; });
    };
    // A name that is sure is proved out of circuit, whatever that still tells.
    const auto leading = static_cast<std::size_t>(
        std::max_element(belief.position.begin(), belief.position.end()) - belief.position.begin());
    if (belief.position[leading] >= options_.sure) {
        if (leading >= positions)
            return std::nullopt;
        const auto proof = find("part/" + amplifier_->positions[leading].name);
        if (proof == all.end())
            return std::nullopt;
        return finish(*proof);
    }

    // What has to be read before a setup is safe, and can be.
    const auto key_to = [&](Setup setup) -> std::string {
        if (setup == Setup::off || setup == Setup::limited)
            return "";
        for (const char* key : {"limited/i_plus", "limited/i_minus"})
            if (belief.find(key) == nullptr)
                return key;
        if (setup == Setup::trim && belief.find("idle/v_re1") == nullptr)
            return "idle/v_re1";
        if ((setup == Setup::loaded || setup == Setup::held) &&
            belief.find("idle/offset") == nullptr)
            return "idle/offset";
        return "";
    };
    const Proposal* best = nullptr;
    std::string best_key;
    double best_rate = 0;
    for (const Proposal& proposal : all) {
        if (proposal.bits < options_.worth_bits)
            continue;
        double minutes = weighed(proposal, options_.minutes);
        std::string key;
        if (!unsafe(proposal.setup, evidence).empty()) {
            key = key_to(proposal.setup);
            const auto first = find(key);
            if (key.empty() || first == all.end() || !unsafe(first->setup, evidence).empty())
                continue; // not to be made safe
            minutes += weighed(*find(key), options_.minutes);
        }
        if (proposal.bits / minutes > best_rate) {
            best_rate = proposal.bits / minutes;
            best = &proposal;
            best_key = key;
        }
    }
    if (best == nullptr)
        return std::nullopt;
    if (best_key.empty())
        return finish(*best);
    Proposal first = finish(*find(best_key));
    first.why = worded("It must be known before it is safe to go on ({}). {}",
                       setup_words(best->setup), first.why);
    return first;
}

void Hunt::tell(Proposal& proposal, const Belief& belief) const {
    const std::size_t positions = amplifier_->positions.size();
    const auto name = [&](std::size_t slot) {
        return slot < positions ? amplifier_->positions[slot].name
                                : std::string(slot == positions ? "no fault" : "something else");
    };
    const auto leaders = [&](const std::vector<double>& weights) {
        std::vector<std::size_t> order(weights.size());
        std::iota(order.begin(), order.end(), 0);
        std::sort(order.begin(), order.end(),
                  [&](std::size_t a, std::size_t b) { return weights[a] > weights[b]; });
        const double sum = std::accumulate(weights.begin(), weights.end(), 0.0);
        std::string text;
        for (std::size_t i = 0; i < std::min<std::size_t>(3, order.size()); ++i)
            if (sum > 0 && weights[order[i]] / sum > 0.05)
                text += worded("{}{} ({})", text.empty() ? "" : ", ", name(order[i]),
                               percent(weights[order[i]] / sum));
        return text.empty() ? std::string("nothing stands out") : text;
    };
    if (proposal.position >= 0) {
        const auto at = static_cast<std::size_t>(proposal.position);
        const SuspectPosition& position = amplifier_->positions[at];
        FaultKind kind = FaultKind::none;
        double most = -1;
        for (std::size_t f = 0; f < predictions_->faults.size(); ++f)
            if (predictions_->faults[f].fault.position == proposal.position &&
                belief.fault[f] > most) {
                most = belief.fault[f];
                kind = predictions_->faults[f].fault.kind;
            }
        proposal.what = worded("{} ({}) out of circuit", position.name, position.role);
        proposal.where = std::string(setup_words(Setup::off));
        const double p = belief.position[at];
        proposal.why = worded("{} is {} to be it, most likely {}; proof: {}.", position.name,
                              percent(p), fault_words(kind), confirming_words(position, kind));
        std::vector<double> others = belief.position;
        others[at] = p * k_part_missed;
        const double bad = p * (1 - k_part_missed) + (1 - p) * k_part_false;
        proposal.outcomes = {
            {bad, "bad", worded("{}: replace it", position.name)},
            {1 - bad, "good", leaders(others)},
        };
        return;
    }
    const auto p = static_cast<std::size_t>(proposal.probe);
    const ProbeSpec& probe = all_probes()[p];
    proposal.what = std::string(probe.what);
    proposal.where = std::string(setup_words(probe.setup));
    // ProbeReadings sorted, cut where the leading position changes.
    struct Point {
        double at;
        double weight;
        std::size_t slot;
    };
    std::vector<Point> points;
    double unreadable = 0;
    for (std::size_t f = 0; f < predictions_->faults.size(); ++f) {
        const FaultPrediction& fault = predictions_->faults[f];
        if (belief.fault[f] < 1e-4)
            continue;
        for (int r = 0; r < fault.rows; ++r) {
            const double weight = belief.fault[f] * belief.row[f][static_cast<std::size_t>(r)];
            const double at = fault.row(r)[p];
            if (std::isnan(at))
                unreadable += weight;
            else if (weight > 1e-6)
                points.push_back({at, weight, slot_of(fault.fault, positions)});
        }
    }
    std::sort(points.begin(), points.end(),
              [](const Point& a, const Point& b) { return a.at < b.at; });
    // Parted at gaps of three deviations and, where there is none, into quarters.
    double whole = 0;
    for (const Point& point : points)
        whole += point.weight;
    std::size_t begin = 0;
    while (begin < points.size()) {
        std::size_t end = begin + 1;
        double sum = points[begin].weight;
        std::vector<double> weights(positions + 2, 0);
        weights[points[begin].slot] += points[begin].weight;
        while (end < points.size() && points[end].at - points[end - 1].at < 3 * probe.relative &&
               (sum < whole / 4 || points[end].at - points[end - 1].at < probe.relative / 20)) {
            weights[points[end].slot] += points[end].weight;
            sum += points[end].weight;
            ++end;
        }
        const double low = uncompared(probe, points[begin].at - probe.relative / 2);
        const double high = uncompared(probe, points[end - 1].at + probe.relative / 2);
        proposal.outcomes.push_back(
            {sum, worded("{} to {}", shown(low, probe.unit), shown(high, probe.unit)),
             leaders(weights)});
        begin = end;
    }
    if (unreadable > 0.01)
        proposal.outcomes.push_back({unreadable, "cannot be read",
                                     "a fuse blows, or DC stands at "
                                     "the output"});
    std::sort(
        proposal.outcomes.begin(), proposal.outcomes.end(),
        [](const TestOutcome& a, const TestOutcome& b) { return a.probability > b.probability; });
    constexpr std::size_t k_most = 4;
    if (proposal.outcomes.size() > k_most)
        proposal.outcomes.resize(k_most);
    proposal.why = worded("It tells most for its time: {:.2f} bit about the place in {:g} min; "
                          "so far {}.",
                          proposal.bits, proposal.minutes, leaders(belief.position));
}

HuntStanding Hunt::standing(const std::vector<Evidence>& evidence) const {
    const Belief belief = believe(evidence);
    const auto suspects = rank(evidence);
    HuntStanding standing;
    const Suspect& first = suspects.front();
    const bool next = next_test(evidence).has_value();
    bool confirmed = false;
    if (first.position >= 0) {
        const SuspectPosition& position =
            amplifier_->positions[static_cast<std::size_t>(first.position)];
        const Evidence* part = belief.find("part/" + position.name);
        confirmed = part != nullptr && part->part && *part->part != PartState::good &&
                    first.probability > 0.5;
        standing.confirm = worded("{}: {}", position.name, confirming_words(position, first.kind));
    }
    if (confirmed)
        standing.stop = HuntStop::confirmed;
    else if (!next)
        standing.stop =
            first.probability >= options_.sure ? HuntStop::sure : HuntStop::nothing_tells;
    for (std::size_t i = 1; i < suspects.size(); ++i)
        if (suspects[i].probability > 0.05)
            standing.also_fits.push_back(worded("{} ({}, {})", suspects[i].name,
                                                fault_words(suspects[i].kind),
                                                percent(suspects[i].probability)));
    double outside = 0;
    for (const Proposal& proposal : tests(evidence, belief))
        if (proposal.probe >= 0 && unsafe(proposal.setup, evidence).empty())
            outside = std::max(outside, proposal.bits);
    standing.only_out_of_circuit = !confirmed && first.probability < options_.sure &&
                                   outside < options_.worth_bits && belief.begun;
    standing.sentence =
        first.position >= 0
            ? worded("{}, {}: {}.", first.name, fault_words(first.kind),
                     confirmed ? "found bad out of circuit" : percent(first.probability))
            : worded("{}: {}.", first.name, percent(first.probability));
    if (standing.only_out_of_circuit)
        standing.sentence += " Nothing outside can tell these apart: pull one.";
    if (first.position >= 0)
        for (const std::size_t at : unexplained(first.name, evidence)) {
            const int probe = find_probe(evidence[at].key);
            standing.unexplained.push_back(
                probe >= 0 ? worded("{}: {}", all_probes()[static_cast<std::size_t>(probe)].what,
                                    shown(*evidence[at].value,
                                          all_probes()[static_cast<std::size_t>(probe)].unit))
                           : evidence[at].key);
        }
    return standing;
}

std::vector<std::size_t> Hunt::unexplained(std::string_view name,
                                           const std::vector<Evidence>& evidence) const {
    const Belief belief = believe(evidence);
    const auto& faults = predictions_->faults;
    const SuspectPosition* position = amplifier_->find(name);
    std::vector<std::size_t> result;
    if (position == nullptr)
        return result;
    // The likeliest way this position fails, at its likeliest row.
    std::size_t best = faults.size();
    for (std::size_t f = 0; f < faults.size(); ++f)
        if (faults[f].fault.position >= 0 &&
            &amplifier_->positions[static_cast<std::size_t>(faults[f].fault.position)] ==
                position &&
            (best == faults.size() || belief.fault[f] > belief.fault[best]))
            best = f;
    if (best == faults.size())
        return result;
    const auto row =
        static_cast<int>(std::max_element(belief.row[best].begin(), belief.row[best].end()) -
                         belief.row[best].begin());
    constexpr double k_far = 3.5; // deviations
    for (std::size_t i = 0; i < evidence.size(); ++i) {
        const Evidence& item = evidence[i];
        if (item.struck || !item.value)
            continue;
        if (const int at = find_probe(item.key); at >= 0) {
            const auto p = static_cast<std::size_t>(at);
            if (std::isnan(predictions_->healthy[p]))
                continue;
            const double there = faults[best].row(row)[p];
            const double off = (compared(all_probes()[p], *item.value) - there) /
                               (faults[best].widths(row)[p] * options_.width);
            if (std::isnan(there) || std::abs(off) > k_far)
                result.push_back(i);
        } else if (const auto complaint = complaint_from_key(after(item.key, "complaint/"))) {
            if (*item.value > 0.5 && would_tell(*complaint, faults[best], row) < 0.15)
                result.push_back(i);
        }
    }
    return result;
}

std::vector<std::string> Hunt::explain(std::string_view name,
                                       const std::vector<Evidence>& evidence) const {
    const Belief belief = believe(evidence);
    const auto& faults = predictions_->faults;
    const SuspectPosition* position = amplifier_->find(name);
    std::vector<std::string> result;
    if (position == nullptr)
        return result;
    const auto missing = unexplained(name, evidence);
    for (std::size_t i = 0; i < evidence.size(); ++i) {
        const Evidence& item = evidence[i];
        if (item.struck)
            continue;
        const bool fits = std::find(missing.begin(), missing.end(), i) == missing.end();
        if (const int at = find_probe(item.key); at >= 0 && item.value) {
            const auto p = static_cast<std::size_t>(at);
            const ProbeSpec& probe = all_probes()[p];
            double low = std::numeric_limits<double>::infinity();
            double high = -low;
            for (std::size_t f = 0; f < faults.size(); ++f) {
                if (faults[f].fault.position < 0 ||
                    &amplifier_->positions[static_cast<std::size_t>(faults[f].fault.position)] !=
                        position)
                    continue;
                for (int r = 0; r < faults[f].rows; ++r)
                    if (const double there = faults[f].row(r)[p];
                        !std::isnan(there) &&
                        belief.fault[f] * belief.row[f][static_cast<std::size_t>(r)] >
                            0.01 * belief.position[static_cast<std::size_t>(
                                       position - amplifier_->positions.data())]) {
                        low = std::min(low, there);
                        high = std::max(high, there);
                    }
            }
            const std::string seen = shown(*item.value, probe.unit);
            if (high < low)
                result.push_back(worded("{}, {}: {} was read; with {} bad it could not be "
                                        "read.",
                                        probe.what, setup_words(probe.setup), seen, name));
            else
                result.push_back(
                    worded("{}, {}: {} was read; with {} bad {} to {}: {}. Healthy: {}.",
                           probe.what, setup_words(probe.setup), seen, name,
                           shown(uncompared(probe, low - probe.relative), probe.unit),
                           shown(uncompared(probe, high + probe.relative), probe.unit),
                           fits ? "it fits" : "not explained",
                           shown(uncompared(probe, predictions_->healthy[p]), probe.unit)));
        } else if (const auto complaint = complaint_from_key(after(item.key, "complaint/"));
                   complaint && item.value && *item.value > 0.5) {
            result.push_back(
                worded("{}: {}.", complaint_words(*complaint), fits ? "it fits" : "not explained"));
        } else if (item.key == "part/" + position->name && item.part) {
            result.push_back(
                worded("{} out of circuit: {}.", position->name, part_state_key(*item.part)));
        } else if (item.key == "mark/" + position->name) {
            result.push_back(worded("{} was fitted by an earlier shop.", position->name));
        }
    }
    return result;
}

} // namespace railside
