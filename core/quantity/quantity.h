// Strong types for the quantities of the trade, with arithmetic that checks dimensions at compile
// time.
//
// A quantity is a double in SI units whose type carries the exponents of volt, ampere, kelvin and
// second; the other units follow (ohm = V/A, watt = V·A, farad = A·s/V, hertz = 1/s, K/W =
// K/(V·A)). A temperature in degrees Celsius is a point, not a quantity: points subtract to a
// kelvin difference, and only differences add. Source: SI brochure, 9th edition (2019), table 4 and
// section 2.3.1 (degree Celsius, 0 °C = 273.15 K).
#pragma once

#include "core/result.h"

#include <cassert>
#include <compare>

namespace railside {

template <int V, int A, int K, int S> class Quantity {
  public:
    constexpr Quantity() = default;
    /// `si` in the SI unit of this dimension.
    constexpr explicit Quantity(double si) : si_(si) {}
    [[nodiscard]] constexpr double si() const { return si_; }

    friend constexpr bool operator==(Quantity, Quantity) = default;
    // NOLINTNEXTLINE(modernize-use-nullptr): clang-tidy 14 takes the comparison's 0 for a pointer
    friend constexpr auto operator<=>(Quantity, Quantity) = default;

    constexpr Quantity operator-() const { return Quantity(-si_); }
    constexpr Quantity& operator+=(Quantity other) { return *this = *this + other; }
    constexpr Quantity& operator-=(Quantity other) { return *this = *this - other; }
    friend constexpr Quantity operator+(Quantity a, Quantity b) { return Quantity(a.si_ + b.si_); }
    friend constexpr Quantity operator-(Quantity a, Quantity b) { return Quantity(a.si_ - b.si_); }
    friend constexpr Quantity operator*(double f, Quantity q) { return Quantity(f * q.si_); }
    friend constexpr Quantity operator*(Quantity q, double f) { return Quantity(f * q.si_); }
    friend constexpr Quantity operator/(Quantity q, double f) { return Quantity(q.si_ / f); }
    friend constexpr Quantity<-V, -A, -K, -S> operator/(double f, Quantity q) {
        return Quantity<-V, -A, -K, -S>(f / q.si_);
    }

  private:
    double si_ = 0;
};

template <int V1, int A1, int K1, int S1, int V2, int A2, int K2, int S2>
constexpr Quantity<V1 + V2, A1 + A2, K1 + K2, S1 + S2> operator*(Quantity<V1, A1, K1, S1> a,
                                                                 Quantity<V2, A2, K2, S2> b) {
    return Quantity<V1 + V2, A1 + A2, K1 + K2, S1 + S2>(a.si() * b.si());
}

template <int V1, int A1, int K1, int S1, int V2, int A2, int K2, int S2>
constexpr Quantity<V1 - V2, A1 - A2, K1 - K2, S1 - S2> operator/(Quantity<V1, A1, K1, S1> a,
                                                                 Quantity<V2, A2, K2, S2> b) {
    return Quantity<V1 - V2, A1 - A2, K1 - K2, S1 - S2>(a.si() / b.si());
}

using Ratio = Quantity<0, 0, 0, 0>; // a plain number; si() is the way out
using Volt = Quantity<1, 0, 0, 0>;
using Ampere = Quantity<0, 1, 0, 0>;
using KelvinDifference = Quantity<0, 0, 1, 0>;
using Second = Quantity<0, 0, 0, 1>;
using Ohm = Quantity<1, -1, 0, 0>;
using Watt = Quantity<1, 1, 0, 0>;
using Hertz = Quantity<0, 0, 0, -1>;
using Farad = Quantity<-1, 1, 0, 1>;
using KelvinPerWatt = Quantity<-1, -1, 1, 0>;

/// A temperature, −273.15 °C or higher.
class Celsius {
  public:
    static constexpr double k_zero_k = 273.15;      // 0 °C in kelvin, exact by definition
    static constexpr double k_lowest_c = -k_zero_k; // absolute zero in °C

    /// `temperature_c` in °C, k_lowest_c or higher; for what comes from outside use create().
    constexpr explicit Celsius(double temperature_c) : temperature_c_(temperature_c) {
        assert(!(temperature_c < k_lowest_c));
    }

    /// Errors: out_of_range below absolute zero and for what is no number.
    [[nodiscard]] static Result<Celsius> create(double temperature_c) {
        if (!(temperature_c >= k_lowest_c)) {
            return Error{
                ErrorCode::out_of_range, "temperature",
                "A temperature has to be \u2212273.15\u2009\u00b0C (absolute zero) or higher."};
        }
        return Celsius(temperature_c);
    }

    /// °C
    [[nodiscard]] constexpr double degrees() const { return temperature_c_; }
    /// Absolute temperature, K.
    [[nodiscard]] constexpr double kelvin() const { return temperature_c_ + k_zero_k; }

    friend constexpr bool operator==(Celsius, Celsius) = default;
    // NOLINTNEXTLINE(modernize-use-nullptr): clang-tidy 14 takes the comparison's 0 for a pointer
    friend constexpr auto operator<=>(Celsius, Celsius) = default;

    friend constexpr KelvinDifference operator-(Celsius a, Celsius b) {
        return KelvinDifference(a.temperature_c_ - b.temperature_c_);
    }
    friend constexpr Celsius operator+(Celsius at, KelvinDifference rise) {
        return Celsius(at.temperature_c_ + rise.si());
    }
    friend constexpr Celsius operator+(KelvinDifference rise, Celsius at) { return at + rise; }
    friend constexpr Celsius operator-(Celsius at, KelvinDifference fall) {
        return Celsius(at.temperature_c_ - fall.si());
    }

  private:
    double temperature_c_;
};

inline namespace literals {

constexpr Volt operator""_V(long double x) { return Volt(static_cast<double>(x)); }
constexpr Volt operator""_V(unsigned long long x) { return Volt(static_cast<double>(x)); }
constexpr Volt operator""_mV(long double x) { return Volt(static_cast<double>(x) / 1000); }
constexpr Volt operator""_mV(unsigned long long x) { return Volt(static_cast<double>(x) / 1000); }
constexpr Ampere operator""_A(long double x) { return Ampere(static_cast<double>(x)); }
constexpr Ampere operator""_A(unsigned long long x) { return Ampere(static_cast<double>(x)); }
constexpr Ampere operator""_mA(long double x) { return Ampere(static_cast<double>(x) / 1000); }
constexpr Ampere operator""_mA(unsigned long long x) {
    return Ampere(static_cast<double>(x) / 1000);
}
constexpr Ohm operator""_ohm(long double x) { return Ohm(static_cast<double>(x)); }
constexpr Ohm operator""_ohm(unsigned long long x) { return Ohm(static_cast<double>(x)); }
constexpr Watt operator""_W(long double x) { return Watt(static_cast<double>(x)); }
constexpr Watt operator""_W(unsigned long long x) { return Watt(static_cast<double>(x)); }
constexpr KelvinDifference operator""_K(long double x) {
    return KelvinDifference(static_cast<double>(x));
}
constexpr KelvinDifference operator""_K(unsigned long long x) {
    return KelvinDifference(static_cast<double>(x));
}
constexpr Second operator""_s(long double x) { return Second(static_cast<double>(x)); }
constexpr Second operator""_s(unsigned long long x) { return Second(static_cast<double>(x)); }
constexpr Hertz operator""_Hz(long double x) { return Hertz(static_cast<double>(x)); }
constexpr Hertz operator""_Hz(unsigned long long x) { return Hertz(static_cast<double>(x)); }
constexpr Farad operator""_F(long double x) { return Farad(static_cast<double>(x)); }
constexpr Farad operator""_F(unsigned long long x) { return Farad(static_cast<double>(x)); }

} // namespace literals
} // namespace railside
