#include "core/capture/analysis.h"

#include "core/capture/sine_fit.h"
#include "core/words/words.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <complex>
#include <numbers>
#include <numeric>

namespace railside {

namespace {

constexpr double k_turn = 2 * std::numbers::pi;
constexpr double k_degree = k_turn / 360;

constexpr std::size_t k_most_read = 131'072; // samples that are read; the middle of a longer record
constexpr double k_plenty_a_cycle = 2000; // samples in a cycle beyond which means are taken first
constexpr double k_plenty_s = 4;          // a longer record tells no more,
constexpr double k_plenty_cycles = 100;   // if it has so many cycles
constexpr double k_least_a_cycle = 8;     // samples in a cycle
constexpr double k_least_share = 0.5;     // of the power, for a tone to be steady
constexpr double k_least_share_expected = 0.1; // likewise, where its frequency is known
constexpr std::size_t k_most_order = 10;       // highest harmonic
constexpr std::size_t k_period_orders = 3;     // harmonics beside which the period is sought
constexpr std::size_t k_few_cycles_orders = 7; // and in a record of a few cycles
constexpr std::size_t k_most_bins = 360;       // of the averaged cycle
constexpr double k_time_base = 1e-4;           // accuracy of a recorder's clock, usual for scopes
constexpr double k_hum_cycles = 1.5;           // of 50 Hz in the record, for hum to be told apart
constexpr double k_hum_rate_hz = 500;          // and samples in a second
constexpr double k_apart_cycles = 1.2;         // over the record, between a harmonic and the line
// A top that stays at least this far below its sine is taken for clipped: the plateau is then 5 %
// of the cycle, about the least that shows on a screen of 8 bits.
constexpr double k_clip_ratio = 0.988;
constexpr double k_plateau_bend = 0.5;  // of the sine's curvature, below which a top is a plateau
constexpr double k_bowed = 0.7;         // above which it is none, however uncertain
constexpr double k_model_doubt = 0.002; // of the amplitude: what the flanks cannot know of the top

Error contradictory(const std::string& message) {
    return {ErrorCode::contradictory, "Recording", message};
}

/// The samples that are read, with what was known of them before the stretch was chosen.
struct Prepared {
    std::vector<double> values;
    std::vector<double> times_s; // empty when evenly spaced
    double step_s = 1;
    double resolution = 0;
    double lag_s = 0; // of the first mean against the first sample it was made of

    [[nodiscard]] SampleView view() const { return {values, times_s, step_s}; }
};

/// Means over groups of `group` samples; what is left at the end is dropped.
Prepared in_groups(const Prepared& all, std::size_t group) {
    if (group < 2) {
        return all;
    }
    Prepared result;
    result.resolution = all.resolution;
    result.step_s = all.step_s * static_cast<double>(group);
    const std::size_t count = all.values.size() / group;
    const auto mean = [group](const std::vector<double>& of, std::size_t i) {
        const auto begin = of.begin() + static_cast<std::ptrdiff_t>(i * group);
        return std::accumulate(begin, begin + static_cast<std::ptrdiff_t>(group), 0.0) /
               static_cast<double>(group);
    };
    for (std::size_t i = 0; i < count; ++i) {
        result.values.push_back(mean(all.values, i));
        if (!all.times_s.empty()) {
            result.times_s.push_back(mean(all.times_s, i));
        }
    }
    result.lag_s = all.times_s.empty() ? all.step_s * static_cast<double>(group - 1) / 2
                                       : result.times_s.front() - all.times_s.front();
    return result;
}

Prepared finite_samples(const Recording& recording, const CaptureChannel& channel) {
    Prepared result;
    result.step_s = recording.step_s;
    const auto count = static_cast<std::size_t>(std::count_if(
        channel.samples.begin(), channel.samples.end(), [](double v) { return std::isfinite(v); }));
    const bool gaps = count < channel.samples.size();
    result.values.reserve(count);
    for (std::size_t i = 0; i < channel.samples.size(); ++i) {
        if (!std::isfinite(channel.samples[i])) {
            continue;
        }
        result.values.push_back(channel.samples[i]);
        if (!recording.times_s.empty()) {
            result.times_s.push_back(recording.times_s[i]);
        } else if (gaps) {
            result.times_s.push_back(recording.start_s + recording.step_s * static_cast<double>(i));
        }
    }
    constexpr std::size_t k_looked_at = 4096;
    std::vector<double> some;
    const std::size_t stride = std::max<std::size_t>(1, count / k_looked_at);
    for (std::size_t i = 0; i < count; i += stride) {
        some.push_back(result.values[i]);
    }
    result.resolution = channel.step > 0 ? channel.step : lattice_step(std::move(some));
    return result;
}

/// A stretch that is short enough to be read at once, from the middle.
Prepared stretch_of(Prepared all, double frequency_hz, bool timed) {
    const auto cut = [](Prepared& part, std::size_t most) {
        if (part.values.size() <= most) {
            return;
        }
        const auto first = static_cast<std::ptrdiff_t>((part.values.size() - most) / 2);
        for (std::vector<double>* v : {&part.values, &part.times_s}) {
            if (!v->empty()) {
                v->erase(v->begin(), v->begin() + first);
                v->resize(most);
            }
        }
    };
    const double span_s = all.view().span_s();
    const double plenty_s = std::max(k_plenty_s, k_plenty_cycles / frequency_hz);
    if (timed && span_s > plenty_s) {
        cut(all, static_cast<std::size_t>(
                     std::ceil(static_cast<double>(all.values.size()) * plenty_s / span_s)));
    }
    if (all.values.size() <= k_most_read) {
        return all;
    }
    const double a_cycle =
        static_cast<double>(all.values.size()) / (all.view().span_s() * frequency_hz);
    const auto spare = static_cast<std::size_t>(std::max(1.0, a_cycle / k_plenty_a_cycle));
    const std::size_t wanted = (all.values.size() + k_most_read - 1) / k_most_read;
    Prepared result = in_groups(all, std::min(spare, wanted));
    cut(result, k_most_read);
    return result;
}

/// How many slow terms the record can bear: none where hum is fitted as what it is.
int slow_degree(double cycles, bool hum_is_fitted) {
    if (hum_is_fitted || cycles < 1.8) {
        return 0;
    }
    return cycles < 2.5 ? 1 : 2;
}

Result<FrequencyFit> period_of(const Prepared& all, double start_hz, bool hum_is_fitted) {
    const double span_s = all.view().span_s();
    const double cycles = start_hz * span_s;
    // Enough samples a cycle for the fundamental; means lose nothing else of it.
    const double wanted = std::max(1024.0, 12 * cycles);
    const auto group =
        static_cast<std::size_t>(std::max(1.0, static_cast<double>(all.values.size()) / wanted));
    const Prepared means = in_groups(all, group);
    const SampleView view = means.view();
    const int degree = slow_degree(cycles, hum_is_fitted);
    std::optional<FrequencyFit> best;
    // With few cycles the spectrum's peak may be off by a good part of one.
    std::vector<double> starts{0};
    if (cycles < 4) {
        starts = {0, -0.3, 0.3};
    }
    for (const double start : starts) {
        const auto fit = fit_frequency(view, start_hz + start / span_s, 1, degree);
        if (fit && (!best || fit->left_over < best->left_over)) {
            best = fit;
        }
    }
    const double a_cycle = static_cast<double>(view.size()) / std::max(cycles, 1e-9);
    // Few cycles: what the harmonics left out would pull at the period.
    const std::size_t wanted_orders = cycles < 8 ? k_few_cycles_orders : k_period_orders;
    const auto orders = std::min(wanted_orders, static_cast<std::size_t>(0.45 * a_cycle));
    if (best && orders > 1) {
        if (const auto finer = fit_frequency(view, best->frequency_hz, orders, degree)) {
            best = finer;
        }
    }
    if (!best) {
        return contradictory("The recording holds no steady tone: no sine fits it. Record a steady "
                             "sine, two cycles or more.");
    }
    return *best;
}

/// The mean of the middle half: spikes and the odd wrong reading do not count.
double middle_mean(std::span<double> values) {
    const std::size_t count = values.size();
    if (count < 4) {
        std::sort(values.begin(), values.end());
        return count == 3 ? values[1]
                          : std::accumulate(values.begin(), values.end(), 0.0) /
                                static_cast<double>(count);
    }
    const auto low = values.begin() + static_cast<std::ptrdiff_t>(count / 4);
    const auto high = values.end() - static_cast<std::ptrdiff_t>(count / 4);
    std::nth_element(values.begin(), low, values.end());
    if (high != values.end()) {
        std::nth_element(low, high, values.end());
    }
    return std::accumulate(low, high, 0.0) / static_cast<double>(high - low);
}

double median(std::vector<double>& values) {
    if (values.empty()) {
        return 0;
    }
    const auto middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
    std::nth_element(values.begin(), middle, values.end());
    return *middle;
}

/// y = a0 + a1·x + a2·x² through evenly spaced points, x from the middle one.
struct Parabola {
    double a0 = 0;
    double a1 = 0;
    double a2 = 0;
};

/// One averaged cycle by phase, as a ring.
class Ring {
  public:
    /// `shift` of a bin: where in its bin each value stands, from the middle.
    Ring(std::vector<double> values, double shift) : values_(std::move(values)), shift_(shift) {}
    [[nodiscard]] std::size_t size() const { return values_.size(); }
    [[nodiscard]] double pitch() const { return k_turn / static_cast<double>(values_.size()); }
    [[nodiscard]] double angle(std::ptrdiff_t i) const {
        return pitch() * (static_cast<double>(i) + 0.5 + shift_);
    }
    [[nodiscard]] std::ptrdiff_t nearest(double angle) const {
        return static_cast<std::ptrdiff_t>(std::floor(angle / pitch() - shift_));
    }
    [[nodiscard]] double operator[](std::ptrdiff_t i) const {
        const auto count = static_cast<std::ptrdiff_t>(values_.size());
        return values_[static_cast<std::size_t>((i % count + count) % count)];
    }
    /// Bins on each side of the middle one that span `half_width`, at least `least`.
    [[nodiscard]] std::ptrdiff_t reach(double half_width, std::ptrdiff_t least) const {
        return std::max(least, static_cast<std::ptrdiff_t>(std::lround(half_width / pitch())));
    }
    [[nodiscard]] double smooth(std::ptrdiff_t middle, std::ptrdiff_t reach) const {
        double sum = 0;
        for (std::ptrdiff_t j = -reach; j <= reach; ++j) {
            sum += (*this)[middle + j];
        }
        return sum / static_cast<double>(2 * reach + 1);
    }
    [[nodiscard]] double slope(std::ptrdiff_t middle, std::ptrdiff_t reach) const {
        double sum = 0;
        double squares = 0;
        for (std::ptrdiff_t j = 1; j <= reach; ++j) {
            const double x = pitch() * static_cast<double>(j);
            sum += x * ((*this)[middle + j] - (*this)[middle - j]);
            squares += 2 * x * x;
        }
        return sum / squares;
    }
    [[nodiscard]] Parabola parabola(std::ptrdiff_t middle, std::ptrdiff_t reach) const {
        double s0 = 0;
        double s2 = 0;
        double s4 = 0;
        double y0 = 0;
        double y1 = 0;
        double y2 = 0;
        for (std::ptrdiff_t j = -reach; j <= reach; ++j) {
            const double x = pitch() * static_cast<double>(j);
            const double y = (*this)[middle + j];
            s0 += 1;
            s2 += x * x;
            s4 += x * x * x * x;
            y0 += y;
            y1 += x * y;
            y2 += x * x * y;
        }
        const double det = s0 * s4 - s2 * s2;
        return {(s4 * y0 - s2 * y2) / det, y1 / s2, (s0 * y2 - s2 * y0) / det};
    }

  private:
    std::vector<double> values_;
    double shift_;
};

/// The level at the top of one half (sign +1) or at the bottom of the other (−1), as the mean over
/// a few degrees.
struct Top {
    double level = 0;
    double factor = 1;      // standard deviation against that of one bin
    double mean_square = 0; // of the angles the mean was taken over, for the bow in between
};

Top top_of(const Ring& wave, int sign) {
    const std::ptrdiff_t reach = wave.reach(2.5 * k_degree, 1);
    std::ptrdiff_t best = 0;
    double highest = sign * wave.smooth(0, reach);
    for (std::ptrdiff_t i = 1; i < static_cast<std::ptrdiff_t>(wave.size()); ++i) {
        const double here = sign * wave.smooth(i, reach);
        if (here > highest) {
            highest = here;
            best = i;
        }
    }
    // The top lies between bins: at the crown of the bow through three of the means.
    const double before = sign * wave.smooth(best - 1, reach);
    const double after = sign * wave.smooth(best + 1, reach);
    const double bow = 2 * highest - before - after;
    const double crown = bow > 0 ? (after - before) * (after - before) / (8 * bow) : 0;
    const auto m = static_cast<double>(reach);
    return {sign * (highest + crown), 1 / std::sqrt(2 * m + 1),
            wave.pitch() * wave.pitch() * m * (m + 1) / 3};
}

/// The sine through the flanks: middle and amplitude of each half, one phase for both.
struct Flanks {
    bool found = false;
    double plus_middle = 0;
    double minus_middle = 0;
    double plus_sine = 0;
    double minus_sine = 0;
    double cosine = 0;
    double left_over = 0;   // rms, of the bins
    double plus_factor = 1; // standard deviation of the intended peak against that of one bin
    double minus_factor = 1;
    double middle_factor = 1;

    [[nodiscard]] double plus_amplitude() const { return std::hypot(plus_sine, cosine); }
    [[nodiscard]] double minus_amplitude() const { return std::hypot(minus_sine, cosine); }
    [[nodiscard]] double amplitude() const { return (plus_amplitude() + minus_amplitude()) / 2; }
    [[nodiscard]] double middle() const { return (plus_middle + minus_middle) / 2; }
    [[nodiscard]] double lead() const { // of the sine, against the phase of the ring
        return std::atan2(cosine, (plus_sine + minus_sine) / 2);
    }
};

Flanks flanks_of(const Ring& wave, double plus_v, double minus_v, double middle_v) {
    constexpr double k_from = 0.25;
    constexpr double k_to = 0.75;
    constexpr int k_least_bins = 3;
    Flanks result;
    NormalMatrix normal(5);
    std::array<double, 5> x{};
    std::vector<std::array<double, 6>> rows;
    int plus_count = 0;
    int minus_count = 0;
    for (std::ptrdiff_t i = 0; i < static_cast<std::ptrdiff_t>(wave.size()); ++i) {
        const double angle = wave.angle(i);
        const bool plus = wave[i] > middle_v;
        const double part = (wave[i] - middle_v) / (plus ? plus_v - middle_v : minus_v - middle_v);
        if (!(part > k_from) || !(part < k_to)) {
            continue;
        }
        (plus ? plus_count : minus_count) += 1;
        const double sine = std::sin(angle);
        rows.push_back({plus ? 1.0 : 0.0, plus ? 0.0 : 1.0, plus ? sine : 0.0, plus ? 0.0 : sine,
                        std::cos(angle), wave[i]});
        const auto& row = rows.back();
        for (std::size_t a = 0; a < 5; ++a) {
            x[a] += row[a] * row[5];
            for (std::size_t b = 0; b <= a; ++b) {
                normal.at(a, b) += row[a] * row[b];
            }
        }
    }
    if (plus_count < k_least_bins || minus_count < k_least_bins || !normal.factor()) {
        return result;
    }
    normal.solve(x);
    result.plus_middle = x[0];
    result.minus_middle = x[1];
    result.plus_sine = x[2];
    result.minus_sine = x[3];
    result.cosine = x[4];
    for (const auto& row : rows) {
        double model = 0;
        for (std::size_t a = 0; a < 5; ++a) {
            model += row[a] * x[a];
        }
        result.left_over += (row[5] - model) * (row[5] - model);
    }
    result.left_over = std::sqrt(result.left_over / static_cast<double>(rows.size()));
    result.plus_factor = std::sqrt(normal.inverse_form(std::array{1.0, 0.0, 1.0, 0.0, 0.0}));
    result.minus_factor = std::sqrt(normal.inverse_form(std::array{0.0, 1.0, 0.0, -1.0, 0.0}));
    result.middle_factor = std::sqrt(normal.inverse_form(std::array{0.5, 0.5, 0.0, 0.0, 0.0}));
    result.found = result.plus_sine > 0 && result.minus_sine > 0;
    return result;
}

/// What every reading of the shape rests on.
struct Doubt {
    double sample = 0; // standard deviation of one sample: noise or steps, whichever is more
    double bin = 0;    // of one bin of the averaged cycle
    double step = 0;   // the recorder's resolution
    double coarse = 0; // likewise, unless noise carries the readings across the steps
};

double flat_fraction(double ratio) {
    return std::acos(std::clamp(ratio, -1.0, 1.0)) / std::numbers::pi;
}

HalfWave half_of(const Ring& wave, const Flanks& flanks, const Doubt& doubt, int sign,
                 bool is_sine) {
    HalfWave half;
    const Top top = top_of(wave, sign);
    const double top_doubt = 2 * top.factor * doubt.bin + doubt.step / 4;
    const auto peak_at = [&](double level) {
        half.peak = {level - top_doubt, level, level + top_doubt};
    };
    peak_at(top.level);
    if (!flanks.found) {
        half.intended = half.peak;
        half.flat = Interval{0, 0, 0.5};
        return half;
    }
    const double middle = sign > 0 ? flanks.plus_middle : flanks.minus_middle;
    const double amplitude = sign > 0 ? flanks.plus_amplitude() : flanks.minus_amplitude();
    const double factor = sign > 0 ? flanks.plus_factor : flanks.minus_factor;
    const double intended_doubt = 2 * factor * doubt.bin + doubt.step / 4;
    const double intended = middle + sign * amplitude;
    half.intended = {intended - intended_doubt, intended, intended + intended_doubt};

    // The curvature is taken over the whole plateau, where there is one.
    double ratio = sign * (top.level - middle) / amplitude;
    const double half_width =
        std::clamp(std::numbers::pi * flat_fraction(ratio), 10 * k_degree, 40 * k_degree);
    const std::ptrdiff_t centre = wave.nearest(sign * std::numbers::pi / 2 - flanks.lead());
    const Parabola bow = wave.parabola(centre, wave.reach(half_width, 2));
    half.bend = -sign * 2 * bow.a2 / amplitude;
    const bool plateau = half.bend < k_plateau_bend;
    if (plateau && flat_fraction(ratio) * 180 > 10) {
        // Its level is that of its middle; at its ends the wave may ring.
        peak_at(wave.smooth(centre, wave.reach(half_width / 2, 1)));
    } else {
        peak_at(top.level + sign * std::max(0.0, half.bend) * amplitude * top.mean_square / 2);
    }
    ratio = sign * (half.peak.value - middle) / amplitude;
    const double around = std::hypot(top_doubt, intended_doubt) / amplitude + k_model_doubt;
    if (is_sine) {
        half.clipped = plateau && ratio + around < k_clip_ratio;
        half.maybe_clipped = !half.clipped && ratio - around < k_clip_ratio &&
                             ratio < 1 - k_model_doubt && half.bend < k_bowed;
    }
    if (half.clipped || half.maybe_clipped) {
        half.flat = {flat_fraction(ratio + around), flat_fraction(ratio),
                     flat_fraction(ratio - around)};
    } else {
        half.flat = {0, 0, flat_fraction(1 - around)};
    }
    return half;
}

Crossing crossing_of(const Ring& wave, const Flanks& flanks, const Doubt& doubt, double angle,
                     double frequency_hz) {
    constexpr double k_search = 15 * k_degree;
    constexpr double k_widest = 60 * k_degree;
    constexpr double k_enough = 0.06; // of the slope: how sure it has to be
    const double amplitude = flanks.amplitude();
    const double lead = flanks.lead();
    std::ptrdiff_t reach = 1;
    double sigma = 0;
    for (;; ++reach) {
        double squares = 0;
        for (std::ptrdiff_t j = 1; j <= reach; ++j) {
            const double x = wave.pitch() * static_cast<double>(j);
            squares += 2 * x * x;
        }
        const double width = 2 * wave.pitch() * static_cast<double>(reach);
        sigma = (doubt.bin / std::sqrt(squares) + 0.3 * doubt.coarse / width) / amplitude;
        if (width / 2 >= 10 * k_degree || (sigma <= k_enough && width / 2 >= 0.99 * k_degree)) {
            break;
        }
    }
    const auto shortfall = [&](std::ptrdiff_t i) {
        return 1 - wave.slope(i, reach) / (amplitude * std::cos(wave.angle(i) + lead));
    };
    const std::ptrdiff_t middle = wave.nearest(angle - lead);
    const std::ptrdiff_t search = wave.reach(k_search, 1);
    std::ptrdiff_t deepest = middle;
    double depth = shortfall(middle);
    for (std::ptrdiff_t i = middle - search; i <= middle + search; ++i) {
        if (shortfall(i) > depth) {
            depth = shortfall(i);
            deepest = i;
        }
    }
    Crossing result;
    const double least = depth - 3 * sigma - 0.02;
    result.depth = {std::max(0.0, least), std::max(0.0, depth), std::max(0.0, depth) + 2 * sigma};
    if (least > 0) {
        const std::ptrdiff_t most = wave.reach(k_widest, 1);
        std::ptrdiff_t from = deepest;
        std::ptrdiff_t to = deepest;
        while (from > middle - most && shortfall(from - 1) > depth / 2) {
            --from;
        }
        while (to < middle + most && shortfall(to + 1) > depth / 2) {
            ++to;
        }
        // A slope over twice the width shows how much of it the width itself hides.
        const double wider =
            1 - wave.slope(deepest, 2 * reach) / (amplitude * std::cos(wave.angle(deepest) + lead));
        const double hidden = 3 * std::max(0.0, depth - wider);
        result.depth.high = std::max(depth, std::min(1.0, result.depth.high + hidden));
        result.width_s =
            static_cast<double>(to - from + 1) / static_cast<double>(wave.size()) / frequency_hz;
    }
    return result;
}

/// Two sines at a mains frequency and its double in what the wave leaves over.
struct LineFit {
    double line_hz = 0;
    std::complex<double> at_line;
    std::complex<double> at_double;
    double middle_s = 0;

    [[nodiscard]] double power() const { return std::norm(at_line) + std::norm(at_double); }
};

LineFit line_fit(const SampleView& view, double line_hz) {
    const auto fit = fit_harmonics(view, line_hz, 2, 0);
    if (!fit) {
        return {line_hz, 0, 0, 0};
    }
    return {line_hz, fit->harmonics[0], fit->harmonics[1], fit->middle_s};
}

/// Hum in what the wave leaves over, taken out of it.
std::optional<Hum> take_hum(Prepared& left_over, double frequency_hz, std::size_t orders) {
    const double span_s = left_over.view().span_s();
    const auto group = static_cast<std::size_t>(
        std::max(1.0, std::floor(static_cast<double>(left_over.values.size()) / (span_s * 2000))));
    const Prepared slow = in_groups(left_over, group);
    std::optional<LineFit> best;
    double nominal_hz = 0;
    for (const double line_hz : {50.0, 60.0}) {
        for (std::size_t k = 1; k <= orders; ++k) {
            const double harmonic_hz = frequency_hz * static_cast<double>(k);
            for (const double part_hz : {line_hz, 2 * line_hz}) {
                if (std::abs(harmonic_hz - part_hz) * span_s < k_apart_cycles) {
                    return std::nullopt;
                }
            }
        }
        const LineFit fit = line_fit(slow.view(), line_hz);
        if (!best || fit.power() > best->power()) {
            best = fit;
            nominal_hz = line_hz;
        }
    }
    // The mains wander by a few tenths of a hertz, which a long record shows.
    constexpr double k_wander_hz = 0.6;
    const double pace_hz = 0.5 / span_s;
    for (double off_hz = pace_hz; off_hz < k_wander_hz; off_hz += pace_hz) {
        for (const double here_hz : {nominal_hz - off_hz, nominal_hz + off_hz}) {
            const LineFit fit = line_fit(slow.view(), here_hz);
            best = fit.power() > best->power() ? fit : best;
        }
    }
    const auto finer = fit_frequency(slow.view(), best->line_hz, 2, 0);
    if (finer && std::abs(finer->frequency_hz - nominal_hz) < k_wander_hz) {
        best = line_fit(slow.view(), finer->frequency_hz);
    }
    const SampleView view = left_over.view();
    double squares = 0;
    Phasor phasor(view, best->line_hz, best->middle_s + slow.lag_s);
    for (std::size_t i = 0; i < view.size(); ++i) {
        const std::complex<double> once = phasor.next();
        const std::complex<double> twice = product(once, once);
        const double hum = best->at_line.real() * once.real() + best->at_line.imag() * once.imag() +
                           best->at_double.real() * twice.real() +
                           best->at_double.imag() * twice.imag();
        left_over.values[i] -= hum;
    }
    const Prepared rest = in_groups(left_over, group);
    for (const double v : rest.values) {
        squares += v * v;
    }
    const auto count = static_cast<double>(rest.values.size());
    const double doubt = 2 * std::sqrt(squares / count) / std::sqrt(count);
    const auto level = [doubt](double rms) {
        return Interval{std::max(0.0, rms - doubt), rms, rms + doubt};
    };
    return Hum{nominal_hz, level(std::sqrt(best->power() / 2)),
               level(std::abs(best->at_line) / std::numbers::sqrt2),
               level(std::abs(best->at_double) / std::numbers::sqrt2)};
}

/// Oscillation that sits on one part of the wave: many swings to both sides within a tenth of the
/// cycle, far above what the rest of the cycle has. A kink or a spike swings once or twice.
std::optional<Burst> find_burst(const Prepared& left_over, const std::vector<double>& phases,
                                double a_cycle, double cycles, double step) {
    constexpr std::size_t k_sectors = 36;
    constexpr double k_least_samples = 120; // in a cycle
    constexpr double k_contrast = 4;
    constexpr double k_least_swings = 5; // in one sector and one cycle
    if (!left_over.times_s.empty() || a_cycle < k_least_samples) {
        return std::nullopt;
    }
    const std::vector<double>& r = left_over.values;
    std::optional<Burst> found;
    for (std::size_t lag = 1; static_cast<double>(lag) <= a_cycle / 100; lag *= 2) {
        if (r.size() < 4 * lag) {
            break;
        }
        const auto bent = [&](std::size_t i) { return r[i] - (r[i - lag] + r[i + lag]) / 2; };
        const auto sector_of = [&](std::size_t i) {
            return std::min(k_sectors - 1,
                            static_cast<std::size_t>(phases[i] * static_cast<double>(k_sectors)));
        };
        std::array<double, k_sectors> power{};
        std::array<double, k_sectors> count{};
        for (std::size_t i = lag; i + lag < r.size(); ++i) {
            const double h = bent(i);
            power[sector_of(i)] += h * h;
            count[sector_of(i)] += 1;
        }
        std::vector<double> levels;
        for (std::size_t s = 0; s < k_sectors; ++s) {
            power[s] = count[s] > 0 ? power[s] / count[s] : 0;
            levels.push_back(power[s]);
        }
        const double usual = std::max(std::sqrt(median(levels)), step / 4);
        const auto loudest =
            static_cast<std::size_t>(std::max_element(power.begin(), power.end()) - power.begin());
        const double loud = std::sqrt(power[loudest]);
        if (loud < k_contrast * usual || (found && loud <= found->rms)) {
            continue;
        }
        // Swings from one side to the other, each well above the usual.
        double swings = 0;
        double swung_s = 0;
        double last = 0;
        std::size_t last_at = 0;
        double phase_x = 0;
        double phase_y = 0;
        for (std::size_t i = lag; i + lag < r.size(); ++i) {
            const double h = bent(i);
            if (std::abs(h) < std::max(3 * usual, loud / 3)) {
                continue;
            }
            const bool same_run =
                i - last_at <
                std::max<std::size_t>(8 * lag, static_cast<std::size_t>(a_cycle / k_sectors));
            if (last != 0 && same_run && (h > 0) != (last > 0)) {
                const std::size_t s = sector_of(i);
                const std::size_t apart = (s + k_sectors - loudest) % k_sectors;
                if (apart <= 1 || apart == k_sectors - 1) {
                    swings += 1;
                    swung_s += static_cast<double>(i - last_at) * left_over.step_s;
                    phase_x += std::cos(k_turn * phases[i]);
                    phase_y += std::sin(k_turn * phases[i]);
                }
            }
            if (last == 0 || (h > 0) != (last > 0) || !same_run) {
                last_at = i;
            }
            last = h;
        }
        if (swings >= k_least_swings * std::max(1.0, std::floor(cycles))) {
            const double turn = std::atan2(phase_y, phase_x) / k_turn;
            found = Burst{turn < 0 ? turn + 1 : turn, swings / (2 * swung_s), loud};
        }
    }
    return found;
}

/// Whether the plateau is one code of a recorder that shows noise everywhere else.
bool is_pinned(const Prepared& all, double extreme, double flat, double noise, int sign) {
    if (!(all.resolution > 0) || noise < 0.35 * all.resolution || flat < 0.02) {
        return false;
    }
    const auto count =
        static_cast<double>(std::count_if(all.values.begin(), all.values.end(), [&](double v) {
            return sign * (v - extreme) >= -0.01 * all.resolution;
        }));
    return count >= 0.85 * flat * static_cast<double>(all.values.size());
}

} // namespace

double lattice_step(std::vector<double> values) {
    const std::size_t count = values.size();
    std::sort(values.begin(), values.end());
    if (count < 3 || !(values.front() < values.back())) {
        return 0;
    }
    const double hair = 1e-9 * (values.back() - values.front());
    values.erase(std::unique(values.begin(), values.end(),
                             [hair](double a, double b) { return b - a <= hair; }),
                 values.end());
    if (values.size() < 3 ||
        static_cast<double>(values.size()) > 0.75 * static_cast<double>(count)) {
        return 0; // hardly a value comes twice
    }
    std::vector<double> gaps;
    for (std::size_t i = 1; i < values.size(); ++i) {
        gaps.push_back(values[i] - values[i - 1]);
    }
    std::vector<double> sorted = gaps;
    double step = median(sorted);
    // Values are printed to few digits: the small gaps together tell the step better than any one.
    double sum = 0;
    double steps = 0;
    for (const double gap : gaps) {
        if (gap < 3.5 * step) {
            sum += gap;
            steps += std::max(1.0, std::round(gap / step));
        }
    }
    step = sum / steps;
    // Then all of them have to lie on one line against their number.
    std::vector<double> place{0};
    for (const double gap : gaps) {
        const double whole = std::round(gap / step);
        if (whole < 1) {
            return 0;
        }
        place.push_back(place.back() + whole);
    }
    const auto n = static_cast<double>(place.size());
    const double mean_x = std::accumulate(place.begin(), place.end(), 0.0) / n;
    const double mean_y = std::accumulate(values.begin(), values.end(), 0.0) / n;
    double xx = 0;
    double xy = 0;
    for (std::size_t i = 0; i < place.size(); ++i) {
        xx += (place[i] - mean_x) * (place[i] - mean_x);
        xy += (place[i] - mean_x) * (values[i] - mean_y);
    }
    step = xy / xx;
    for (std::size_t i = 0; i < place.size(); ++i) {
        if (std::abs(values[i] - mean_y - step * (place[i] - mean_x)) > 0.3 * step) {
            return 0;
        }
    }
    return step;
}

Result<WaveFigures> analyse_wave(const Recording& recording, std::size_t channel_index,
                                 const AnalysisHints& hints) {
    if (channel_index >= recording.channels.size()) {
        return Error{ErrorCode::contradictory, "Channel",
                     worded("Channel {} is not in the recording: it has {}.", channel_index + 1,
                            recording.channels.size())};
    }
    const CaptureChannel& channel = recording.channels[channel_index];
    Prepared all = finite_samples(recording, channel);
    if (all.values.size() < 16) {
        return contradictory(
            worded("The recording holds {} readings; 16 or more are needed.", all.values.size()));
    }
    const auto [lowest, highest] = std::minmax_element(all.values.begin(), all.values.end());
    if (!(*lowest < *highest) || !(*highest - *lowest > 1e-12 * std::abs(*highest))) {
        return contradictory("The recording holds no signal: all samples are alike.");
    }
    constexpr double k_near = 1.5; // times the expected frequency, either way
    const auto start_hz =
        hints.expected_hz > 0
            ? strongest_tone_hz(all.view(), hints.expected_hz / k_near, hints.expected_hz * k_near)
            : strongest_tone_hz(all.view());
    if (!start_hz) {
        return contradictory(
            hints.expected_hz > 0
                ? worded("The recording cannot hold a tone near {:.4g} Hz: it is too short or "
                         "too slow for that. Leave the expected frequency empty.",
                         hints.expected_hz)
                : "The recording holds no tone.");
    }
    all = stretch_of(std::move(all), *start_hz, recording.timed);
    const double rate_hz = static_cast<double>(all.values.size() - 1) / all.view().span_s();
    const bool hum_fits =
        recording.timed && all.view().span_s() * 50 >= k_hum_cycles && rate_hz > k_hum_rate_hz;
    const auto period = period_of(all, *start_hz, hum_fits);
    if (!period) {
        return period.error();
    }

    const SampleView view = all.view();
    WaveFigures figures;
    figures.timed = recording.timed;
    figures.samples = view.size();
    figures.span_s =
        view.span_s() * static_cast<double>(view.size()) / static_cast<double>(view.size() - 1);
    const double frequency_hz = period->frequency_hz;
    const double frequency_doubt =
        2 * period->sigma_hz + (recording.timed ? k_time_base * frequency_hz : 0);
    figures.frequency_hz = {frequency_hz - frequency_doubt, frequency_hz,
                            frequency_hz + frequency_doubt};
    figures.cycles = figures.span_s * frequency_hz;
    const double a_cycle = static_cast<double>(view.size()) / figures.cycles;
    if (figures.cycles < 0.99) {
        return contradictory(worded("The recording holds {:.2g} of a cycle; a whole one or "
                                    "more is needed. Use a slower time base.",
                                    figures.cycles));
    }
    if (a_cycle < k_least_a_cycle) {
        return contradictory(worded("The recording holds {:.2g} samples a cycle; {:g} or more "
                                    "are needed. Sample faster, or play a lower tone.",
                                    a_cycle, k_least_a_cycle));
    }
    const auto orders = std::min(k_most_order, static_cast<std::size_t>(0.475 * a_cycle));
    const int degree = slow_degree(figures.cycles, hum_fits);
    const auto fit = fit_harmonics(view, frequency_hz, orders, degree);
    if (!fit || !(fit->amplitude(1) > 0)) {
        return contradictory("The recording holds no steady tone: its harmonics cannot be told "
                             "apart. Record two cycles or more.");
    }

    // What the harmonics leave over, by phase from the rising crossing of the fundamental.
    const double fundamental = fit->amplitude(1);
    const double lead = std::atan2(fit->harmonics[0].real(), fit->harmonics[0].imag());
    Prepared left_over{std::vector<double>(view.size()), all.times_s, all.step_s, all.resolution};
    std::vector<double> phases(view.size());
    double mean_square_u = 0;
    double mean_value = 0;
    Phasor phasor(view, frequency_hz, fit->middle_s);
    for (std::size_t i = 0; i < view.size(); ++i) {
        const double t = view.time_s(i) - fit->middle_s;
        const double u = t / fit->half_s;
        const double turns = frequency_hz * t;
        const std::complex<double> z = phasor.next();
        std::complex<double> power = 1;
        double model = fit->constant + u * (fit->linear + u * fit->square);
        for (const auto& h : fit->harmonics) {
            power = product(power, z);
            model += h.real() * power.real() + h.imag() * power.imag();
        }
        left_over.values[i] = view.values[i] - model;
        const double phase = turns + lead / k_turn;
        phases[i] = phase - std::floor(phase);
        mean_square_u += u * u;
        mean_value += view.values[i];
    }
    const auto count = static_cast<double>(view.size());
    mean_square_u /= count;
    mean_value /= count;
    const double level = fit->constant + fit->square * mean_square_u;

    double whole_power = 0;
    for (const double v : view.values) {
        whole_power += (v - mean_value) * (v - mean_value) / count;
    }
    double tone_power = 0;
    for (std::size_t k = 1; k <= orders; ++k) {
        tone_power += fit->amplitude(k) * fit->amplitude(k) / 2;
    }
    figures.tone_share = std::min(1.0, tone_power / whole_power);
    if (figures.tone_share < (hints.expected_hz > 0 ? k_least_share_expected : k_least_share)) {
        return contradictory(worded(
            "The recording holds no steady tone: the {} makes up {:.0f}\u2009% of it. Record a "
            "steady sine; music and noise cannot be read.",
            recording.timed ? worded("strongest, {:.4g}\u2009Hz,", frequency_hz) : "strongest",
            100 * figures.tone_share));
    }
    if (hum_fits) {
        figures.hum = take_hum(left_over, frequency_hz, orders);
    }

    // Bins of phase; where the sampling keeps step with the wave only a few are ever met, and then
    // each reading stands at one place in its bin, which becomes the middle.
    std::size_t bins = std::clamp<std::size_t>(view.size() / 4, 24, k_most_bins);
    double shift = 0;
    std::vector<std::size_t> held;
    std::vector<std::size_t> bin_of(view.size());
    const auto hold = [&] {
        held.assign(bins, 0);
        for (std::size_t i = 0; i < view.size(); ++i) {
            const double place = phases[i] * static_cast<double>(bins) - shift;
            const auto bin = static_cast<std::size_t>(place + static_cast<double>(bins)) % bins;
            bin_of[i] = bin;
            ++held[bin];
        }
    };
    hold();
    const auto met = static_cast<std::size_t>(
        std::count_if(held.begin(), held.end(), [](std::size_t n) { return n > 0; }));
    if (met * 10 < bins * 9) {
        bins = std::max<std::size_t>(met, 24);
    }
    std::complex<double> places = 0;
    const std::size_t stride = std::max<std::size_t>(1, phases.size() / 256);
    double asked = 0;
    for (std::size_t i = 0; i < phases.size(); i += stride) {
        places += std::polar(1.0, k_turn * phases[i] * static_cast<double>(bins));
        asked += 1;
    }
    if (std::abs(places) > 0.5 * asked) {
        const double place = std::arg(places) / k_turn; // −0.5 to 0.5, of a bin
        shift = place - (place > 0 ? 0.5 : -0.5);
    }
    hold();
    std::vector<std::size_t> begin(bins + 1, 0);
    std::partial_sum(held.begin(), held.end(), begin.begin() + 1);
    std::vector<double> by_bin(view.size());
    {
        std::vector<std::size_t> at(begin.begin(), begin.end() - 1);
        for (std::size_t i = 0; i < view.size(); ++i) {
            by_bin[at[bin_of[i]]++] = left_over.values[i];
        }
    }
    std::vector<double> bin_rest(bins, 0);
    std::vector<double> deviations;
    deviations.reserve(view.size());
    for (std::size_t b = 0; b < bins; ++b) {
        const std::span<double> here(by_bin.data() + begin[b], held[b]);
        if (here.empty()) {
            continue;
        }
        bin_rest[b] = middle_mean(here);
        const auto n = static_cast<double>(here.size());
        if (here.size() > 1) {
            const double wider = std::sqrt(n / (n - 1));
            for (const double v : here) {
                deviations.push_back(std::abs(v - bin_rest[b]) * wider);
            }
        }
    }
    for (std::size_t b = 0; b < bins; ++b) {
        if (held[b] > 0) {
            continue;
        }
        std::size_t below = 1;
        while (below < bins && held[(b + bins - below) % bins] == 0) {
            ++below;
        }
        std::size_t above = 1;
        while (above < bins && held[(b + above) % bins] == 0) {
            ++above;
        }
        const double part = static_cast<double>(below) / static_cast<double>(below + above);
        bin_rest[b] =
            bin_rest[(b + bins - below) % bins] * (1 - part) + bin_rest[(b + above) % bins] * part;
    }
    constexpr double k_normal = 1.4826; // standard deviation over median deviation, normal noise
    figures.noise = k_normal * median(deviations);
    figures.step = all.resolution;
    Doubt doubt;
    doubt.step = all.resolution;
    doubt.coarse = figures.noise < all.resolution / 3 ? all.resolution : 0;
    doubt.sample = std::max(figures.noise, all.resolution / std::sqrt(12.0));
    doubt.bin = 1.1 * doubt.sample / std::sqrt(std::max(1.0, count / static_cast<double>(bins)));

    // The averaged cycle.
    std::vector<double> cycle(bins);
    double mean = 0;
    double square = 0;
    for (std::size_t b = 0; b < bins; ++b) {
        const double phase = (static_cast<double>(b) + 0.5 + shift) / static_cast<double>(bins);
        const double angle = k_turn * phase - lead;
        double model = level;
        for (std::size_t k = 1; k <= orders; ++k) {
            const double part = angle * static_cast<double>(k);
            model += fit->harmonics[k - 1].real() * std::cos(part) +
                     fit->harmonics[k - 1].imag() * std::sin(part);
        }
        cycle[b] = model + bin_rest[b];
        mean += cycle[b] / static_cast<double>(bins);
        square += cycle[b] * cycle[b] / static_cast<double>(bins);
        figures.phase.push_back(phase);
    }
    figures.wave = cycle;
    const Ring wave(std::move(cycle), shift);
    const auto about = [](double value, double half_width) {
        return Interval{value - half_width, value, value + half_width};
    };
    const double settled = 2 * doubt.sample / std::sqrt(count) + doubt.step / 8;
    // A drift that is plainly there may be a part of a hum cycle, which has a mean of its own.
    double drift = std::sqrt(fit->linear * fit->linear / 3 + fit->square * fit->square * 4 / 45);
    if (drift > std::max(4 * settled, 1e-4 * fundamental)) {
        const double hum_angle = k_turn * 50 * fit->half_s;
        drift = recording.timed
                    ? std::hypot(fit->linear / hum_angle, 2 * fit->square / (hum_angle * hum_angle))
                    : 3 * drift;
        figures.drifts = true;
    }
    const double rms = std::sqrt(square);
    figures.mean = about(mean, settled + drift);
    figures.rms = {std::max(0.0, rms - settled), rms, rms + settled};
    const double fundamental_doubt = 2 * doubt.sample * std::sqrt(2 / count) + doubt.step / 8;
    figures.fundamental = {std::max(0.0, fundamental - fundamental_doubt), fundamental,
                           fundamental + fundamental_doubt};

    // The flanks twice: the middle found first tells better which bins are flanks.
    const Top plus_top = top_of(wave, 1);
    const Top minus_top = top_of(wave, -1);
    Flanks flanks = flanks_of(wave, plus_top.level, minus_top.level, level);
    if (flanks.found && flanks.middle() < plus_top.level && flanks.middle() > minus_top.level) {
        const Flanks again = flanks_of(wave, plus_top.level, minus_top.level, flanks.middle());
        flanks = again.found ? again : flanks;
    }
    if (flanks.found) {
        const double plus_ratio = (plus_top.level - flanks.plus_middle) / flanks.plus_amplitude();
        const double minus_ratio =
            (flanks.minus_middle - minus_top.level) / flanks.minus_amplitude();
        constexpr double k_sharp = 1.06; // a triangle's peak is at 1.2
        constexpr double k_rough = 0.04; // of the amplitude, that the flanks stray from a sine
        figures.is_sine = flanks.left_over < k_rough * flanks.amplitude() + 3 * doubt.bin &&
                          !(plus_ratio > k_sharp && minus_ratio > k_sharp);
        figures.offset =
            about(flanks.middle(), 2 * flanks.middle_factor * doubt.bin + doubt.step / 8 + drift);
        figures.rising = crossing_of(wave, flanks, doubt, 0, frequency_hz);
        figures.falling = crossing_of(wave, flanks, doubt, std::numbers::pi, frequency_hz);
    } else {
        figures.is_sine = false;
        figures.offset = figures.mean;
    }
    figures.plus = half_of(wave, flanks, doubt, 1, figures.is_sine);
    figures.minus = half_of(wave, flanks, doubt, -1, figures.is_sine);
    figures.plus.over_range = channel.over_high;
    figures.minus.over_range = channel.over_low;
    figures.plus.pinned = figures.plus.clipped &&
                          is_pinned(all, *std::max_element(view.values.begin(), view.values.end()),
                                    figures.plus.flat.value, figures.noise, 1);
    figures.minus.pinned = figures.minus.clipped &&
                           is_pinned(all, *std::min_element(view.values.begin(), view.values.end()),
                                     figures.minus.flat.value, figures.noise, -1);
    for (std::size_t b = 0; b < bins; ++b) {
        const double angle = k_turn * figures.phase[b];
        figures.residual.push_back(figures.wave[b] - mean - fundamental * std::sin(angle));
        figures.flank_sine.push_back(
            flanks.found ? flanks.middle() + flanks.amplitude() * std::sin(angle + flanks.lead())
                         : mean + fundamental * std::sin(angle));
    }

    // Distortion. The recorder's own steps make harmonics too: their whole power is the doubt.
    const double each = 2 * doubt.sample * std::sqrt(2 / count) / fundamental;
    figures.floor = each * std::sqrt(static_cast<double>(orders > 1 ? orders - 1 : 1)) +
                    doubt.step / std::sqrt(12.0) * std::numbers::sqrt2 / fundamental;
    double harmonic_power = 0;
    for (std::size_t k = 2; k <= orders; ++k) {
        const double part = fit->amplitude(k) / fundamental;
        const double around = figures.floor / 3;
        figures.harmonics.push_back(
            {static_cast<int>(k), {std::max(0.0, part - around), part, part + around}});
        harmonic_power += part * part;
    }
    const double distortion = std::sqrt(harmonic_power);
    figures.distortion = {std::max(0.0, distortion - figures.floor), distortion,
                          distortion + figures.floor};
    double rest_power = 0;
    for (const double v : left_over.values) {
        rest_power += v * v / count;
    }
    if (figures.hum) {
        rest_power += figures.hum->level.value * figures.hum->level.value;
    }
    const double all_else =
        std::sqrt(harmonic_power + 2 * rest_power / (fundamental * fundamental));
    figures.distortion_noise = {std::max(0.0, all_else - figures.floor), all_else,
                                all_else + figures.floor};

    // Each cycle's own phase against the even beat.
    if (figures.cycles >= 4 && a_cycle >= 16) {
        double sum = 0;
        double squares = 0;
        double beats = 0;
        double now = 0;
        double now_count = 0;
        std::ptrdiff_t cycle_now = -1;
        Phasor beat(view, frequency_hz, fit->middle_s);
        const std::complex<double> turned = std::polar(1.0, lead);
        const auto close = [&] {
            if (now_count > 0.75 * a_cycle) {
                const double off = now / (fundamental * now_count / 2);
                sum += off;
                squares += off * off;
                beats += 1;
            }
            now = 0;
            now_count = 0;
        };
        for (std::size_t i = 0; i < view.size(); ++i) {
            const auto here = static_cast<std::ptrdiff_t>(view.time_s(i) * frequency_hz);
            if (here != cycle_now) {
                close();
                cycle_now = here;
            }
            now += left_over.values[i] * product(beat.next(), turned).real();
            now_count += 1;
        }
        close();
        if (beats >= 3) {
            const double variance = std::max(0.0, (squares - sum * sum / beats) / (beats - 1));
            const double by_noise =
                2 * doubt.sample * doubt.sample / a_cycle / (fundamental * fundamental);
            const double omega = k_turn * frequency_hz;
            const double seen = std::sqrt(variance) / omega;
            figures.jitter_s = {0, std::sqrt(std::max(0.0, variance - by_noise)) / omega, seen};
        }
    }
    figures.burst = find_burst(left_over, phases, a_cycle, figures.cycles, doubt.step);
    return figures;
}

} // namespace railside
