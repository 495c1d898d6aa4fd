#include "core/capture/sine_fit.h"

#include "core/capture/signals.h"
#include "support/catch.h"

#include <rapidcheck.h>

#include <algorithm>
#include <cmath>
#include <complex>
#include <random>
#include <vector>

using namespace railside;

namespace {

constexpr double k_turn = signals::k_turn;

struct Made {
    std::vector<double> values;
    std::vector<double> times_s;
    double step_s = 1e-5;
    [[nodiscard]] SampleView view() const { return {values, times_s, step_s}; }
};

/// 1 + 0.3·u + Σ a_k·cos(k·(ωt + 0.4)), a = 2, 0.5, 0.1; t from the first sample, u over the
/// record.
Made made(double frequency_hz, std::size_t count, bool uneven) {
    Made result;
    std::mt19937 random(7);
    std::uniform_real_distribution<double> part(-0.45, 0.45);
    const double span_s = 1e-5 * static_cast<double>(count - 1);
    for (std::size_t i = 0; i < count; ++i) {
        double t = 1e-5 * static_cast<double>(i);
        if (uneven && i > 0 && i + 1 < count) {
            t += 1e-5 * part(random);
        }
        if (uneven) {
            result.times_s.push_back(t);
        }
        const double angle = k_turn * frequency_hz * t + 0.4;
        result.values.push_back(1 + 0.3 * (2 * t / span_s - 1) + 2 * std::cos(angle) +
                                0.5 * std::cos(2 * angle) + 0.1 * std::cos(3 * angle));
    }
    return result;
}

} // namespace

TEST_CASE("sine fit: harmonics come back exactly, evenly sampled or not, whole cycles or not",
          "[core][capture]") {
    for (const bool uneven : {false, true}) {
        for (const double frequency_hz : {987.6, 1000.0, 1234.5}) {
            const Made samples = made(frequency_hz, 373, uneven); // 3.7 to 4.6 cycles
            const auto fit = fit_harmonics(samples.view(), frequency_hz, 5, 1);
            REQUIRE(fit.has_value());
            INFO(uneven << ' ' << frequency_hz);
            CHECK(near(fit->constant, 1, 1e-9));
            CHECK(near(fit->linear, 0.3, 1e-9));
            CHECK(near(fit->amplitude(1), 2, 1e-9));
            CHECK(near(fit->amplitude(2), 0.5, 1e-9));
            CHECK(near(fit->amplitude(3), 0.1, 1e-9));
            CHECK(fit->amplitude(4) < 1e-9);
            CHECK(fit->amplitude(5) < 1e-9);
            // Phase in the middle of the record.
            const double middle = k_turn * frequency_hz * fit->middle_s + 0.4;
            CHECK(near_abs(fit->harmonics[0].real(), 2 * std::cos(middle), 1e-9));
            CHECK(near_abs(fit->harmonics[0].imag(), -2 * std::sin(middle), 1e-9));
        }
    }
}

TEST_CASE("sine fit: over whole cycles it is the discrete Fourier sum", "[core][capture]") {
    // A square wave, 8 cycles of 50 samples: least squares and the plain sum agree there.
    std::vector<double> values;
    for (int i = 0; i < 400; ++i) {
        values.push_back(i % 50 < 25 ? 1 : -1);
    }
    const SampleView view{values, {}, 1};
    const auto fit = fit_harmonics(view, 1 / 50.0, 10, 0);
    REQUIRE(fit.has_value());
    for (std::size_t k = 1; k <= 10; ++k) {
        std::complex<double> sum = 0;
        for (std::size_t i = 0; i < values.size(); ++i) {
            sum += values[i] * std::polar(1.0, -k_turn * static_cast<double>(k * i) / 50);
        }
        CHECK(near_abs(fit->amplitude(k), 2 * std::abs(sum) / 400, 1e-12));
    }
}

TEST_CASE("sine fit: the frequency comes back from a start a quarter of a cycle off",
          "[core][capture]") {
    for (const bool uneven : {false, true}) {
        const Made samples = made(1000, 411, uneven);
        const double span_s = samples.view().span_s();
        for (const double off : {-0.25, -0.1, 0.0, 0.1, 0.25}) {
            const auto fit = fit_frequency(samples.view(), 1000 + off / span_s, 3, 1);
            REQUIRE(fit.has_value());
            CHECK(near(fit->frequency_hz, 1000, 1e-8));
            CHECK(fit->left_over < 1e-6);
        }
    }
}

TEST_CASE("sine fit: the stated doubt of the frequency holds its error", "[core][capture]") {
    // 200 noisy records: the error over the stated deviation has to be about one, rms.
    signals::Wave wave;
    wave.amplitude = 1;
    wave.noise = 0.1;
    wave.count = 700;
    double squares = 0;
    for (unsigned seed = 1; seed <= 200; ++seed) {
        wave.seed = seed;
        wave.phase = 0.03 * seed;
        const auto samples = signals::samples_of(wave);
        const auto fit = fit_frequency({samples, {}, 1 / wave.rate_hz}, 1000, 1, 0);
        REQUIRE(fit.has_value());
        const double error = (fit->frequency_hz - 1000) / fit->sigma_hz;
        squares += error * error / 200;
    }
    CHECK(std::sqrt(squares) > 0.85); // 0.05 is the deviation of this figure itself
    CHECK(std::sqrt(squares) < 1.15);
}

TEST_CASE("sine fit: too few samples or cycles give nothing", "[core][capture]") {
    const Made few = made(1000, 12, false);
    CHECK_FALSE(fit_harmonics(few.view(), 1000, 10, 0));
    CHECK_FALSE(fit_frequency(few.view(), 1000, 10, 0));
    const std::vector<double> flat(100, 1.0);
    CHECK_FALSE(strongest_tone_hz({flat, {}, 1}));
    CHECK_FALSE(strongest_tone_hz(few.view(), 1, 2)); // no such tone fits in the record
}

TEST_CASE("sine fit: the strongest tone is found from a handful of cycles to thousands",
          "[core][capture]") {
    struct Row {
        double rate_hz;
        std::size_t count;
        double frequency_hz;
    };
    const Row table[] = {
        {250e3, 500, 1000},     // two cycles
        {250e3, 330, 1000},     // 1.3
        {1e9, 1'000'000, 2000}, // two, far more samples than a spectrum takes
        {48e3, 480'000, 997},   // ten thousand
        {44.1e3, 200'000, 50},  {250e3, 10'000, 20'000}, {1e6, 5000, 90'000},
    };
    for (const Row& row : table) {
        INFO(row.frequency_hz << " in " << row.count);
        signals::Wave wave;
        wave.rate_hz = row.rate_hz;
        wave.count = row.count;
        wave.frequency_hz = row.frequency_hz;
        wave.noise = 0.5;
        wave.offset = 3;
        const auto samples = signals::samples_of(wave);
        const SampleView view{samples, {}, 1 / row.rate_hz};
        const auto tone = strongest_tone_hz(view);
        REQUIRE(tone.has_value());
        const double cycles_off =
            std::abs(*tone - row.frequency_hz) * std::min(view.span_s(), 4096 / row.rate_hz);
        CHECK(cycles_off < 0.35);
    }
}

TEST_CASE("sine fit: a tone is looked for where it is expected", "[core][capture]") {
    signals::Wave wave;
    wave.rate_hz = 48e3;
    wave.count = 48'000;
    wave.amplitude = 1;
    wave.hum = 20; // far stronger
    const auto samples = signals::samples_of(wave);
    const SampleView view{samples, {}, 1 / wave.rate_hz};
    CHECK(near_abs(*strongest_tone_hz(view), 50, 2));
    CHECK(near_abs(*strongest_tone_hz(view, 700, 1400), 1000, 4));
}

TEST_CASE("normal matrix: solves and inverts as the plain sum does", "[core][capture]") {
    CHECK(rc::check("random columns", [] {
        const auto size = static_cast<std::size_t>(*rc::gen::inRange(1, 7));
        std::vector<std::vector<double>> rows(20, std::vector<double>(size));
        for (auto& row : rows) {
            for (double& cell : row) {
                cell = *rc::gen::inRange(-1000, 1001) / 100.0;
            }
        }
        std::vector<double> x(size);
        for (double& value : x) {
            value = *rc::gen::inRange(-1000, 1001) / 100.0;
        }
        NormalMatrix normal(size);
        std::vector<double> right(size, 0);
        for (const auto& row : rows) {
            double y = 0;
            for (std::size_t a = 0; a < size; ++a) {
                y += row[a] * x[a];
            }
            for (std::size_t a = 0; a < size; ++a) {
                right[a] += row[a] * y;
                for (std::size_t b = 0; b < size; ++b) {
                    normal.at(a, b) += row[a] * row[b];
                }
            }
        }
        const std::vector<double> forward = right;
        if (!normal.factor()) {
            return; // columns that are not independent
        }
        const double form = normal.inverse_form(forward); // yAx against A⁻¹ is x·Ax
        double expected = 0;
        for (std::size_t a = 0; a < size; ++a) {
            expected += forward[a] * x[a];
        }
        normal.solve(right);
        for (std::size_t a = 0; a < size; ++a) {
            RC_ASSERT(near_abs(right[a], x[a], 1e-5));
        }
        RC_ASSERT(near_abs(form, expected, 1e-6 * (1 + std::abs(expected))));
    }));
}
