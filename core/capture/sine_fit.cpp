#include "core/capture/sine_fit.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <numeric>
#include <utility>

namespace railside {

namespace {

using Complex = std::complex<double>;
constexpr double k_full_turn = 2 * std::numbers::pi;

double half_of(const SampleView& view) { return std::max(view.span_s() / 2, 1e-300); }

} // namespace

// ------------------------------------------------------------------------------ normal equations

bool NormalMatrix::factor() {
    // Columns of a fit that are not independent leave a pivot of rounding alone.
    constexpr double k_least_pivot = 1e-11;
    for (std::size_t i = 0; i < size_; ++i) {
        for (std::size_t j = 0; j <= i; ++j) {
            double sum = cells_[i * size_ + j];
            const double whole = sum;
            for (std::size_t k = 0; k < j; ++k) {
                sum -= cells_[i * size_ + k] * cells_[j * size_ + k];
            }
            if (i != j) {
                cells_[i * size_ + j] = sum / cells_[j * size_ + j];
            } else if (sum > k_least_pivot * whole) {
                cells_[i * size_ + i] = std::sqrt(sum);
            } else {
                return false;
            }
        }
    }
    return true;
}

void NormalMatrix::solve(std::span<double> right_hand) const {
    for (std::size_t i = 0; i < size_; ++i) {
        for (std::size_t k = 0; k < i; ++k) {
            right_hand[i] -= cells_[i * size_ + k] * right_hand[k];
        }
        right_hand[i] /= cells_[i * size_ + i];
    }
    for (std::size_t i = size_; i-- > 0;) {
        for (std::size_t k = i + 1; k < size_; ++k) {
            right_hand[i] -= cells_[k * size_ + i] * right_hand[k];
        }
        right_hand[i] /= cells_[i * size_ + i];
    }
}

double NormalMatrix::inverse_form(std::span<const double> w) const {
    std::vector<double> x(w.begin(), w.end());
    solve(x);
    return std::inner_product(w.begin(), w.end(), x.begin(), 0.0);
}

// ------------------------------------------------------------------------------ harmonics

std::optional<HarmonicFit> fit_harmonics(const SampleView& view, double frequency_hz,
                                         std::size_t orders, int degree) {
    const std::size_t slow = static_cast<std::size_t>(degree) + 1;
    const std::size_t unknowns = slow + 2 * orders;
    if (view.size() < unknowns + 1) {
        return std::nullopt;
    }
    HarmonicFit fit;
    fit.frequency_hz = frequency_hz;
    fit.half_s = half_of(view);
    fit.middle_s = view.span_s() / 2;

    // Products of harmonics are sines of sums and differences of their orders, so that the sums of
    // z^m, u·z^m, u²·z^m and y·z^m, z = e^(jωt), make up the whole matrix.
    std::vector<Complex> plain(2 * orders + 1);
    std::array<std::vector<Complex>, 3> with_slow;
    for (auto& sums : with_slow) {
        sums.resize(orders + 1);
    }
    std::vector<Complex> with_value(orders + 1);
    std::array<double, 5> slow_power{};
    std::array<double, 3> slow_value{};
    const auto accumulate = [&](Complex z, double u, double y) {
        Complex power = 1;
        plain[0] += 1.0;
        with_value[0] += y;
        for (std::size_t m = 1; m <= orders; ++m) {
            power = product(power, z);
            plain[m] += power;
            with_value[m] += y * power;
            if (degree >= 1) {
                with_slow[1][m] += u * power;
                with_slow[2][m] += u * u * power;
            }
        }
        for (std::size_t m = orders + 1; m <= 2 * orders; ++m) {
            power = product(power, z);
            plain[m] += power;
        }
        double u_power = 1;
        for (std::size_t p = 0; p < slow_power.size(); ++p) {
            slow_power[p] += u_power;
            if (p < slow_value.size()) {
                slow_value[p] += u_power * y;
            }
            u_power *= u;
        }
    };
    Phasor phasor(view, frequency_hz, fit.middle_s);
    for (std::size_t i = 0; i < view.size(); ++i) {
        accumulate(phasor.next(), (view.time_s(i) - fit.middle_s) / fit.half_s, view.values[i]);
    }
    with_slow[0].assign(plain.begin(), plain.begin() + static_cast<std::ptrdiff_t>(orders) + 1);

    NormalMatrix normal(unknowns);
    std::vector<double> x(unknowns);
    for (std::size_t i = 0; i < slow; ++i) {
        x[i] = slow_value[i];
        for (std::size_t j = 0; j <= i; ++j) {
            normal.at(i, j) = slow_power[i + j];
        }
    }
    for (std::size_t k = 1; k <= orders; ++k) {
        const std::size_t row = slow + 2 * (k - 1);
        x[row] = with_value[k].real();
        x[row + 1] = with_value[k].imag();
        for (std::size_t j = 0; j < slow; ++j) {
            normal.at(row, j) = with_slow[j][k].real();
            normal.at(row + 1, j) = with_slow[j][k].imag();
        }
        for (std::size_t m = 1; m <= k; ++m) {
            const std::size_t column = slow + 2 * (m - 1);
            const Complex sum = plain[k + m];
            const Complex difference = plain[k - m];
            normal.at(row, column) = (difference.real() + sum.real()) / 2;         // cos·cos
            normal.at(row + 1, column + 1) = (difference.real() - sum.real()) / 2; // sin·sin
            normal.at(row + 1, column) = (sum.imag() + difference.imag()) / 2;     // sin k, cos m
            if (m < k) {
                normal.at(row, column + 1) = (sum.imag() - difference.imag()) / 2; // cos k, sin m
            }
        }
    }
    if (!normal.factor()) {
        return std::nullopt;
    }
    normal.solve(x);
    fit.constant = x[0];
    fit.linear = degree >= 1 ? x[1] : 0;
    fit.square = degree >= 2 ? x[2] : 0;
    for (std::size_t k = 0; k < orders; ++k) {
        fit.harmonics.emplace_back(x[slow + 2 * k], x[slow + 2 * k + 1]);
    }
    return fit;
}

std::optional<FrequencyFit> fit_frequency(const SampleView& view, double frequency_hz,
                                          std::size_t orders, int degree) {
    constexpr int k_most_steps = 12;
    const double span_s = view.span_s();
    const double half_s = half_of(view);
    const double middle_s = span_s / 2;
    const std::size_t slow = static_cast<std::size_t>(degree) + 1;
    const std::size_t unknowns = slow + 2 * orders + 1;
    if (view.size() < unknowns + 1) {
        return std::nullopt;
    }
    double at_hz = frequency_hz;
    std::vector<double> row(unknowns);
    for (int step = 0; step < k_most_steps; ++step) {
        const auto now = fit_harmonics(view, at_hz, orders, degree);
        if (!now) {
            return std::nullopt;
        }
        // The residual against all unknowns, with the slope in ω as the last.
        NormalMatrix normal(unknowns);
        std::vector<double> x(unknowns, 0);
        double left_over = 0;
        Phasor phasor(view, at_hz, middle_s);
        for (std::size_t i = 0; i < view.size(); ++i) {
            const Complex z = phasor.next();
            const double t = view.time_s(i) - middle_s;
            const double u = t / half_s;
            row[0] = 1;
            for (std::size_t p = 1; p < slow; ++p) {
                row[p] = row[p - 1] * u;
            }
            double model = now->constant + u * (now->linear + u * now->square);
            double slope = 0;
            Complex power = 1;
            for (std::size_t k = 0; k < orders; ++k) {
                power = product(power, z);
                row[slow + 2 * k] = power.real();
                row[slow + 2 * k + 1] = power.imag();
                const Complex h = now->harmonics[k];
                model += h.real() * power.real() + h.imag() * power.imag();
                slope += static_cast<double>(k + 1) *
                         (h.imag() * power.real() - h.real() * power.imag());
            }
            row.back() = u * slope; // by ω·half_s, which keeps all columns of one size
            const double residual = view.values[i] - model;
            left_over += residual * residual;
            for (std::size_t a = 0; a < unknowns; ++a) {
                x[a] += row[a] * residual;
                for (std::size_t b = 0; b <= a; ++b) {
                    normal.at(a, b) += row[a] * row[b];
                }
            }
        }
        if (!normal.factor()) {
            return std::nullopt;
        }
        normal.solve(x);
        const double most_hz = 0.25 / span_s;
        const double change_hz = std::clamp(x.back() / half_s / k_full_turn, -most_hz, most_hz);
        at_hz += change_hz;
        if (!(std::abs(at_hz - frequency_hz) < 1.5 / span_s) || !(at_hz > 0)) {
            return std::nullopt;
        }
        if (std::abs(change_hz) < 1e-7 / span_s || step + 1 == k_most_steps) {
            std::vector<double> unit(unknowns, 0);
            unit.back() = 1;
            const auto free = static_cast<double>(view.size() - unknowns);
            const double variance = left_over / free * normal.inverse_form(unit);
            return FrequencyFit{at_hz, std::sqrt(variance) / half_s / k_full_turn,
                                std::sqrt(left_over / static_cast<double>(view.size()))};
        }
    }
    return std::nullopt;
}

// ------------------------------------------------------------------------------ spectrum

namespace {

constexpr std::size_t k_block = 4096;   // samples of one spectrum
constexpr std::size_t k_coarser = 4;    // the next stretch is this many times longer
constexpr double k_enough_cycles = 6;   // in a stretch, for its peak to be taken at once
constexpr double k_enough_power = 0.25; // of the whole record's, likewise
constexpr double k_least_cycles = 0.8;  // below this there is no telling

/// Radix 2, in place; the size is a power of two. (J. W. Cooley, J. W. Tukey, An Algorithm for the
/// Machine Calculation of Complex Fourier Series, Math. Comp. 19, 1965.)
void transform(std::vector<Complex>& data) {
    const std::size_t size = data.size();
    for (std::size_t i = 1, j = 0; i < size; ++i) {
        std::size_t bit = size >> 1U;
        for (; (j & bit) != 0; bit >>= 1U) {
            j ^= bit;
        }
        j ^= bit;
        if (i < j) {
            std::swap(data[i], data[j]);
        }
    }
    std::vector<Complex> roots(size / 2);
    Rotor rotor(0, -1 / static_cast<double>(size));
    for (Complex& root : roots) {
        root = rotor.next();
    }
    for (std::size_t length = 2; length <= size; length *= 2) {
        const std::size_t stride = size / length;
        for (std::size_t begin = 0; begin < size; begin += length) {
            for (std::size_t k = 0; k < length / 2; ++k) {
                const Complex odd = product(data[begin + k + length / 2], roots[k * stride]);
                data[begin + k + length / 2] = data[begin + k] - odd;
                data[begin + k] += odd;
            }
        }
    }
}

struct Peak {
    double frequency_hz = 0;
    double power = 0;  // of a sine of that height
    double cycles = 0; // in the stretch
};

std::optional<Peak> highest_peak(std::span<const double> values, double step_s, double from_hz,
                                 double to_hz) {
    const std::size_t count = values.size();
    std::size_t size = 16;
    while (size < count) {
        size *= 2;
    }
    size *= 2; // bins of half a cycle show the peak between two whole ones
    const double mean =
        std::accumulate(values.begin(), values.end(), 0.0) / static_cast<double>(count);
    std::vector<Complex> data(size);
    double window_sum = 0;
    Rotor rotor(0.5 / static_cast<double>(count), 1 / static_cast<double>(count));
    for (std::size_t i = 0; i < count; ++i) {
        const double window = 0.5 - 0.5 * rotor.next().real();
        window_sum += window;
        data[i] = (values[i] - mean) * window;
    }
    transform(data);
    const double bin_hz = 1 / (step_s * static_cast<double>(size));
    const double stretch_s = step_s * static_cast<double>(count);
    std::size_t best = 0;
    double best_power = 0;
    for (std::size_t k = 1; k < size / 2; ++k) {
        const double frequency_hz = bin_hz * static_cast<double>(k);
        if (frequency_hz * stretch_s < k_least_cycles ||
            (from_hz < to_hz && (frequency_hz < from_hz || frequency_hz > to_hz))) {
            continue;
        }
        const double power = std::norm(data[k]);
        if (power > best_power) {
            best = k;
            best_power = power;
        }
    }
    if (best == 0) {
        return std::nullopt;
    }
    // A parabola through the logarithms of three bins.
    double shift = 0;
    const double below = std::norm(data[best - 1]);
    const double above = std::norm(data[best + 1]);
    if (below > 0 && above > 0 && below < best_power && above < best_power) {
        const double left = std::log(below / best_power);
        const double right = std::log(above / best_power);
        shift = 0.5 * (left - right) / (left + right);
    }
    const double frequency_hz = bin_hz * (static_cast<double>(best) + shift);
    const double amplitude = 2 * std::sqrt(best_power) / window_sum;
    return Peak{frequency_hz, amplitude * amplitude / 2, frequency_hz * stretch_s};
}

} // namespace

std::optional<double> strongest_tone_hz(const SampleView& view, double from_hz, double to_hz) {
    std::vector<double> even;
    std::span<const double> values = view.values;
    double step_s = view.step_s;
    if (!view.times_s.empty()) {
        const std::size_t count = std::min(view.size(), k_block);
        step_s = view.span_s() / static_cast<double>(count - 1);
        std::size_t at = 0;
        for (std::size_t i = 0; i < count; ++i) {
            const double t = step_s * static_cast<double>(i);
            while (at + 2 < view.size() && view.time_s(at + 1) < t) {
                ++at;
            }
            const double begin = view.time_s(at);
            const double part = std::clamp((t - begin) / (view.time_s(at + 1) - begin), 0.0, 1.0);
            even.push_back(view.values[at] + part * (view.values[at + 1] - view.values[at]));
        }
        values = even;
    }
    const auto count = static_cast<double>(values.size());
    const double mean = std::accumulate(values.begin(), values.end(), 0.0) / count;
    double whole_power = 0;
    for (const double v : values) {
        whole_power += (v - mean) * (v - mean) / count;
    }
    if (!(whole_power > 0)) {
        return std::nullopt;
    }
    // Longer and longer stretches from the middle, each brought down to a block by taking means.
    for (std::size_t take = 1;; take *= k_coarser) {
        const bool all = take * k_block >= values.size();
        const std::size_t group = all ? (values.size() + k_block - 1) / k_block : take;
        const std::size_t block = std::min(values.size() / group, k_block);
        const std::size_t first = (values.size() - block * group) / 2;
        std::vector<double> means(block);
        for (std::size_t i = 0; i < block; ++i) {
            const auto part = values.subspan(first + i * group, group);
            means[i] = std::accumulate(part.begin(), part.end(), 0.0) / static_cast<double>(group);
        }
        const auto peak = highest_peak(means, step_s * static_cast<double>(group), from_hz, to_hz);
        const bool enough = peak && peak->cycles >= k_enough_cycles &&
                            (from_hz < to_hz || peak->power >= k_enough_power * whole_power);
        if (enough || (all && peak)) {
            return peak->frequency_hz;
        }
        if (all) {
            return std::nullopt;
        }
    }
}

} // namespace railside
