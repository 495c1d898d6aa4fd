#include "core/quantity/e_series.h"

#include <array>
#include <cmath>
#include <span>

namespace railside {

namespace {

constexpr std::array k_e24 = {100, 110, 120, 130, 150, 160, 180, 200, 220, 240, 270, 300,
                              330, 360, 390, 430, 470, 510, 560, 620, 680, 750, 820, 910};
constexpr double k_same = 1e-6;

const std::array<int, 96>& e96() {
    static const std::array<int, 96> k_e96 = [] {
        std::array<int, 96> values{};
        for (std::size_t i = 0; i < values.size(); ++i)
            values[i] =
                static_cast<int>(std::lround(100 * std::pow(10.0, static_cast<double>(i) / 96)));
        return values;
    }();
    return k_e96;
}

/// Hundredths of a decade's first value.
std::span<const int> steps_of(ESeries series) {
    return series == ESeries::e96 ? std::span<const int>(e96()) : std::span<const int>(k_e24);
}

bool usable(double value) { return value >= 1e-12 && value <= 1e12; }

/// step·10^exponent/100 as the double nearest to it: small powers of ten are exact, and so is a
/// whole number, so that one rounding is made.
double scaled(int step, int exponent) {
    const int power = exponent - 2;
    return power < 0 ? step / std::pow(10.0, -power) : step * std::pow(10.0, power);
}

enum class Way { up, down };

double neighbour(double value, ESeries series, Way way) {
    if (!usable(value))
        return value;
    const int decade = static_cast<int>(std::floor(std::log10(value)));
    const std::span<const int> steps = steps_of(series);
    double found = value;
    for (int exponent = decade - 1; exponent <= decade + 1; ++exponent)
        for (const int step : steps) {
            const double at = scaled(step, exponent);
            if (way == Way::up && at > value * (1 + k_same))
                return at;
            if (way == Way::down && at < value * (1 - k_same))
                found = at;
        }
    return found;
}

} // namespace

std::string_view e_series_name(ESeries series) { return series == ESeries::e96 ? "E96" : "E24"; }

bool in_series(double value, ESeries series) {
    if (!usable(value))
        return false;
    const int decade = static_cast<int>(std::floor(std::log10(value)));
    for (int exponent = decade - 1; exponent <= decade + 1; ++exponent)
        for (const int step : steps_of(series))
            if (std::fabs(scaled(step, exponent) - value) <= k_same * value)
                return true;
    return false;
}

double next_in_series(double value, ESeries series) { return neighbour(value, series, Way::up); }

double previous_in_series(double value, ESeries series) {
    return neighbour(value, series, Way::down);
}

} // namespace railside
