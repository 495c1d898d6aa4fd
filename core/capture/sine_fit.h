// Least-squares fits of sines to samples, evenly spaced or not.
//
// Model: y(t) = c0 + c1·u + c2·u² + Σ_k (a_k·cos kωt + b_k·sin kωt), u = t/(T/2), t from the middle
// of the record. With ω known it is linear (the three-parameter fit of IEEE Std 1057, with the
// harmonics beside the sine); with ω sought it is solved by Gauss-Newton steps in which δω is one
// unknown more (its four-parameter fit). The slow terms take up what is slower than the record:
// hum and drift of which only a part of a cycle is there. No spacing is asked for, so nothing is
// resampled. Valid from one cycle in the record up to half the sampling rate.
#pragma once

#include <cmath>
#include <complex>
#include <cstddef>
#include <numbers>
#include <optional>
#include <span>
#include <vector>

namespace railside {

/// Samples with their times. The values are finite, two or more; times rise.
struct SampleView {
    std::span<const double> values;
    std::span<const double> times_s; // empty when evenly spaced
    double step_s = 1;               // where they are

    [[nodiscard]] std::size_t size() const { return values.size(); }
    /// From the first sample.
    [[nodiscard]] double time_s(std::size_t i) const {
        return times_s.empty() ? step_s * static_cast<double>(i) : times_s[i] - times_s.front();
    }
    [[nodiscard]] double span_s() const { return time_s(size() - 1); }
};

/// Without the care for infinities that operator* takes.
[[nodiscard]] inline std::complex<double> product(std::complex<double> a, std::complex<double> b) {
    return {a.real() * b.real() - a.imag() * b.imag(), a.real() * b.imag() + a.imag() * b.real()};
}

/// e^(2πj·(begin + i·step)) for i = 0, 1, 2, ..., angles in turns: one multiplication each, set
/// afresh often enough that rounding does not add up.
class Rotor {
  public:
    Rotor(double begin, double step) : begin_(begin), step_(step), turn_(at(step)) {}
    [[nodiscard]] std::complex<double> next() {
        constexpr std::size_t k_fresh = 256;
        now_ = count_ % k_fresh == 0 ? at(begin_ + static_cast<double>(count_) * step_)
                                     : product(now_, turn_);
        ++count_;
        return now_;
    }

  private:
    static std::complex<double> at(double turns) {
        const double angle = 2 * std::numbers::pi * (turns - std::floor(turns));
        return {std::cos(angle), std::sin(angle)};
    }
    double begin_;
    double step_;
    std::complex<double> turn_;
    std::complex<double> now_;
    std::size_t count_ = 0;
};

/// e^(jωt) at every sample in turn, t from `middle_s`.
class Phasor {
  public:
    Phasor(const SampleView& view, double frequency_hz, double middle_s)
        : view_(view), frequency_hz_(frequency_hz), middle_s_(middle_s),
          rotor_(-frequency_hz * middle_s, frequency_hz * view.step_s) {}
    [[nodiscard]] std::complex<double> next() {
        if (view_.times_s.empty()) {
            return rotor_.next();
        }
        return Rotor(frequency_hz_ * (view_.time_s(at_++) - middle_s_), 0).next();
    }

  private:
    SampleView view_;
    double frequency_hz_;
    double middle_s_;
    Rotor rotor_;
    std::size_t at_ = 0;
};

/// A fitted sum of harmonics.
struct HarmonicFit {
    double frequency_hz = 0;
    double middle_s = 0; // where t is 0, from the first sample
    double half_s = 1;   // T/2
    double constant = 0; // c0
    double linear = 0;   // c1
    double square = 0;   // c2
    // Of harmonic k at [k - 1]: real part the cosine's factor, imaginary part the sine's.
    std::vector<std::complex<double>> harmonics;

    /// Half of peak to peak of harmonic `order`, from 1.
    [[nodiscard]] double amplitude(std::size_t order) const {
        return std::abs(harmonics[order - 1]);
    }
};

/// The harmonics 1 to `orders` of `frequency_hz` by least squares, with slow terms to `degree` (0
/// to 2). Nothing when the samples do not settle them (too few, or too few cycles).
[[nodiscard]] std::optional<HarmonicFit> fit_harmonics(const SampleView& view, double frequency_hz,
                                                       std::size_t orders, int degree);

/// The frequency at which `orders` harmonics fit best, and how sure it is.
struct FrequencyFit {
    double frequency_hz = 0;
    double sigma_hz = 0;  // standard deviation, from what the fit leaves over
    double left_over = 0; // rms of that
};

/// Starts at `frequency_hz`, which has to be right within a third of a cycle over the record.
/// Nothing when it runs away from there.
[[nodiscard]] std::optional<FrequencyFit> fit_frequency(const SampleView& view, double frequency_hz,
                                                        std::size_t orders, int degree);

/// The frequency of the strongest tone, right within a fraction of a cycle over the record: the
/// highest peak of a Hann-windowed spectrum, taken in the shortest stretch that holds enough
/// cycles. Where `from_hz` < `to_hz` only tones between them count. Nothing for samples that are
/// all alike and where no tone lies in that range. Uneven samples are drawn onto an even grid for
/// this alone.
[[nodiscard]] std::optional<double> strongest_tone_hz(const SampleView& view, double from_hz = 0,
                                                      double to_hz = 0);

/// A square matrix by rows, symmetric and positive definite, factored for solving (Cholesky).
class NormalMatrix {
  public:
    explicit NormalMatrix(std::size_t size) : size_(size), cells_(size * size, 0) {}
    [[nodiscard]] double& at(std::size_t row, std::size_t column) {
        return cells_[row * size_ + column];
    }
    [[nodiscard]] std::size_t size() const { return size_; }
    /// Of the lower triangle. False when the columns are not independent.
    [[nodiscard]] bool factor();
    /// In place; after factor().
    void solve(std::span<double> right_hand) const;
    /// w·inverse·w; after factor().
    [[nodiscard]] double inverse_form(std::span<const double> w) const;

  private:
    std::size_t size_;
    std::vector<double> cells_;
};

} // namespace railside
