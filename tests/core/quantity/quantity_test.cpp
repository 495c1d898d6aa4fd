#include "core/quantity/quantity.h"

#include "support/catch.h"

#include <limits>
#include <type_traits>

using namespace railside;

namespace {

template <class A, class B>
concept Addable = requires(A a, B b) {
    a + b;
};
template <class A, class B>
concept Subtractable = requires(A a, B b) {
    a - b;
};
template <class A, class B>
concept Comparable = requires(A a, B b) {
    a < b;
};
template <class A>
concept Negatable = requires(A a) {
    -a;
};

// SI brochure, 9th edition, table 4: Ω = V/A, W = V·A, F = C/V = A·s/V, Hz = 1/s.
static_assert(std::is_same_v<decltype(Volt() / Ohm()), Ampere>);
static_assert(std::is_same_v<decltype(Volt() / Ampere()), Ohm>);
static_assert(std::is_same_v<decltype(Ampere() * Ohm()), Volt>);
static_assert(std::is_same_v<decltype(Volt() * Ampere()), Watt>);
static_assert(std::is_same_v<decltype(Volt() * Volt() / Ohm()), Watt>);
static_assert(std::is_same_v<decltype(Ampere() * Ampere() * Ohm()), Watt>);
static_assert(std::is_same_v<decltype(Ampere() * Second() / Volt()), Farad>);
static_assert(std::is_same_v<decltype(Ohm() * Farad()), Second>);
static_assert(std::is_same_v<decltype(1.0 / Second()), Hertz>);
static_assert(std::is_same_v<decltype(Hertz() * Second()), Ratio>);
static_assert(std::is_same_v<decltype(Volt() / Volt()), Ratio>);
static_assert(std::is_same_v<decltype(KelvinDifference() / Watt()), KelvinPerWatt>);
static_assert(std::is_same_v<decltype(Watt() * KelvinPerWatt()), KelvinDifference>);
static_assert(std::is_same_v<decltype(Ratio() * Volt()), Volt>);
static_assert(std::is_same_v<decltype(2.0 * Volt()), Volt>);
static_assert(std::is_same_v<decltype(Celsius(1) - Celsius(0)), KelvinDifference>);
static_assert(std::is_same_v<decltype(Celsius(1) + KelvinDifference()), Celsius>);

static_assert(Addable<Volt, Volt>);
static_assert(!Addable<Volt, Ampere>);
static_assert(!Addable<Volt, double>);
static_assert(!Addable<Ratio, double>);
static_assert(!Subtractable<Ohm, Watt>);
static_assert(Comparable<Ohm, Ohm>);
static_assert(!Comparable<Ohm, Volt>);
static_assert(!Addable<Celsius, Celsius>);
static_assert(!Addable<Celsius, Volt>);
static_assert(!Subtractable<KelvinDifference, Celsius>);
static_assert(!Negatable<Celsius>);
static_assert(!std::is_convertible_v<double, Volt>);
static_assert(!std::is_convertible_v<Volt, double>);
static_assert(!std::is_convertible_v<Ratio, double>);
static_assert(!std::is_convertible_v<KelvinDifference, Celsius>);
static_assert(!std::is_constructible_v<Volt, Ampere>);
static_assert(sizeof(Watt) == sizeof(double));

// All of it works at compile time.
static_assert((0.022_V / 0.22_ohm).si() == 0.022 / 0.22);
static_assert(3_V + 2_V == 5_V);

} // namespace

TEST_CASE("quantity: sums, products and quotients are those of the doubles", "[core][quantity]") {
    CHECK((35_V - 2_V).si() == 33.0);
    CHECK((-(5_V)).si() == -5.0);
    CHECK((2.0 * 3_A).si() == 6.0);
    CHECK((3_A * 2.0).si() == 6.0);
    CHECK((3_A / 2.0).si() == 1.5);
    CHECK((1.0 / 0.02_s).si() == 1.0 / 0.02);
    CHECK((40_V * 0.1_A).si() == 40 * 0.1);
    CHECK((8_ohm / 4_ohm).si() == 2.0);
    Volt sum = 1_V;
    sum += 2_V;
    sum -= 0.5_V;
    CHECK(sum == 2.5_V);
    CHECK(Volt().si() == 0.0);
    CHECK(1_V < 2_V);
    CHECK(2_W >= 2_W);
}

TEST_CASE("quantity: literals stand for SI values", "[core][quantity]") {
    CHECK(12_mV == Volt(0.012));
    CHECK(12.5_mV == Volt(0.0125));
    CHECK(100_mA == Ampere(0.1));
    CHECK(45.5_mA == Ampere(0.0455));
    CHECK(1.5_V == Volt(1.5));
    CHECK(2_A == Ampere(2));
    CHECK(0.1_A == Ampere(0.1));
    CHECK(8_ohm == Ohm(8));
    CHECK(0.22_ohm == Ohm(0.22));
    CHECK(70_W == Watt(70));
    CHECK(0.5_W == Watt(0.5));
    CHECK(10_K == KelvinDifference(10));
    CHECK(2.5_K == KelvinDifference(2.5));
    CHECK(3_s == Second(3));
    CHECK(0.02_s == Second(0.02));
    CHECK(50_Hz == Hertz(50));
    CHECK(0.5_Hz == Hertz(0.5));
    CHECK(1_F == Farad(1));
    CHECK(0.0047_F == Farad(0.0047));
}

TEST_CASE("quantity: a temperature is a point, differences move it", "[core][quantity]") {
    CHECK((Celsius(62) - Celsius(20)).si() == 42.0);
    CHECK((Celsius(20) + 42_K).degrees() == 62.0);
    CHECK((42_K + Celsius(20)).degrees() == 62.0);
    CHECK((Celsius(62) - 42_K).degrees() == 20.0);
    CHECK(Celsius(25).kelvin() == 25 + 273.15); // SI brochure, 2.3.1: 0 °C = 273.15 K exactly
    CHECK(Celsius(-273.15).kelvin() == 0.0);
    CHECK(Celsius(20) < Celsius(21));
    CHECK(Celsius(20) == Celsius(20));
    // Junction over sink: 20 W through 0.7 K/W from 60 °C.
    const Celsius junction = Celsius(60) + 20_W * KelvinPerWatt(0.7);
    CHECK(near(junction.degrees(), 74.0, 1e-14));
}

TEST_CASE("quantity: nothing is colder than absolute zero", "[core][quantity]") {
    REQUIRE(Celsius::create(-273.15).ok());
    REQUIRE(Celsius::create(25).ok());
    CHECK(Celsius::create(25)->degrees() == 25.0);
    for (const double bad : {-273.16, -1e9, std::numeric_limits<double>::quiet_NaN()}) {
        const auto refused = Celsius::create(bad);
        REQUIRE_FALSE(refused.ok());
        CHECK(refused.error().code == ErrorCode::out_of_range);
        CHECK(refused.error().message.find("\u2212273.15\u2009\u00b0C") != std::string::npos);
    }
}
