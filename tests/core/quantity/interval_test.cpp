#include "core/quantity/interval.h"

#include "support/catch.h"

#include <rapidcheck.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <string>

using namespace railside;

namespace {

constexpr double k_infinity = std::numeric_limits<double>::infinity();
constexpr double k_nan = std::numeric_limits<double>::quiet_NaN();

bool in_order(const Interval& i) { return i.low <= i.value && i.value <= i.high; }

double draw_number(double low, double high) {
    return low + (high - low) * static_cast<double>(*rc::gen::inRange(0, 1'000'001)) / 1e6;
}

Interval draw_interval() {
    const double value = draw_number(-50, 50) * std::pow(10.0, *rc::gen::inRange(-4, 5));
    const double below = std::abs(value) * draw_number(0, 2);
    const double above = std::abs(value) * draw_number(0, 2);
    return {value - below, value, value + above};
}

double draw_within(const Interval& i) {
    return std::clamp(draw_number(i.low, i.high), i.low, i.high);
}

} // namespace

TEST_CASE("interval: an amount goes in and comes out", "[core][quantity]") {
    const Amount amount = with_tolerance(0.22, 0.05, Unit::ohm);
    CHECK(to_amount(Interval::from(amount), Unit::ohm) == amount);
    CHECK(Interval::exact(3) == Interval{3, 3, 3});
    CHECK(Interval::from(Amount::exact(3, Unit::volt)) == Interval::exact(3));
}

TEST_CASE("interval: the four operations take the extremes of the ends", "[core][quantity]") {
    // Worked by hand.
    const Interval a{1, 2, 3};
    const Interval b{-4, 5, 6};
    CHECK(-a == Interval{-3, -2, -1});
    CHECK(a + b == Interval{-3, 7, 9});
    CHECK(a - b == Interval{-5, -3, 7});
    CHECK(a * b == Interval{-12, 10, 18});
    CHECK(b * b == Interval{-24, 25, 36});
    CHECK(a * -2.0 == Interval{-6, -4, -2});
    CHECK(0.5 * a == Interval{0.5, 1, 1.5});
    const auto quotient = b / a;
    REQUIRE(quotient.ok());
    CHECK(*quotient == Interval{-4, 2.5, 6});
    const auto by_negative = a / Interval{-4, -2, -1};
    REQUIRE(by_negative.ok());
    CHECK(*by_negative == Interval{-3, -1, -0.25});
}

TEST_CASE("interval: dividing by what may be zero is refused", "[core][quantity]") {
    for (const Interval& divisor : {Interval{-1, 0.5, 1}, Interval{0, 1, 2}, Interval{-2, -1, 0},
                                    Interval::exact(0), Interval::exact(k_nan)}) {
        const auto quotient = Interval{1, 2, 3} / divisor;
        REQUIRE_FALSE(quotient.ok());
        CHECK(quotient.error().code == ErrorCode::contradictory);
        CHECK(quotient.error().message.find("zero") != std::string::npos);
    }
}

TEST_CASE("interval: monotone takes rising and falling arguments and any number of them",
          "[core][quantity]") {
    CHECK(monotone([](double x) { return -x; }, Interval{1, 2, 3}) == Interval{-3, -2, -1});
    CHECK(monotone([](double x) { return x * x; }, Interval{1, 2, 3}) == Interval{1, 4, 9});
    // Idle current per device, V/R: rises with V, falls with R.
    const auto amps = monotone([](double v, double r) { return v / r; },
                               Interval{0.018, 0.02, 0.022}, Interval{0.2, 0.25, 0.4});
    CHECK(amps == Interval{0.018 / 0.4, 0.02 / 0.25, 0.022 / 0.2});
    const auto three = monotone([](double a, double b, double c) { return a - b + c; },
                                Interval{1, 2, 3}, Interval{1, 2, 3}, Interval{10, 20, 30});
    CHECK(three == Interval{8, 20, 32});
}

TEST_CASE("interval: a NaN is never hidden", "[core][quantity]") {
    const Interval root = monotone([](double x) { return std::sqrt(x); }, Interval{-1, 1, 4});
    CHECK(std::isnan(root.low));
    CHECK(std::isnan(root.value));
    CHECK(std::isnan(root.high));
    CHECK(std::isnan((Interval{0, 1, 2} * Interval{1, 2, k_infinity}).low));
    CHECK(std::isnan((Interval{0, k_nan, 2} + Interval::exact(1)).high));
}

TEST_CASE("interval: hull, contains and width", "[core][quantity]") {
    CHECK(hull({1, 2, 3}, {5, 6, 7}) == Interval{1, 2, 7});
    CHECK(hull({1, 2, 30}, {0, 6, 7}) == Interval{0, 2, 30});
    CHECK(contains({1, 2, 3}, 1));
    CHECK(contains({1, 2, 3}, 3));
    CHECK_FALSE(contains({1, 2, 3}, 3.0001));
    CHECK_FALSE(contains({1, 2, 3}, 0.9999));
    CHECK_FALSE(contains({1, 2, 3}, k_nan));
    CHECK(width({1, 2, 4}) == 3.0);
}

TEST_CASE("interval: what straddles a limit is at that edge, never inside", "[core][quantity]") {
    struct Row {
        Interval interval;
        Placement placement = Placement::inside;
    };
    // Against the window 10 to 20.
    const Row rows[] = {
        {{1, 2, 3}, Placement::below},
        {{1, 2, 9.999}, Placement::below},
        {{9, 9.5, 10}, Placement::at_low_edge}, // touching from outside
        {{9, 11, 12}, Placement::at_low_edge},
        {{10, 11, 12}, Placement::inside}, // limits are accepted
        {{10, 15, 20}, Placement::inside},
        {{10, 10, 10}, Placement::inside},
        {{18, 20, 20}, Placement::inside},
        {{18, 19, 20.001}, Placement::at_high_edge},
        {{20, 20.5, 21}, Placement::at_high_edge},
        {{20.001, 21, 22}, Placement::above},
        {{5, 12, 25}, Placement::at_low_edge}, // both: the nearer one
        {{5, 19, 25}, Placement::at_high_edge},
        {{5, 24, 25}, Placement::at_high_edge},
        {{5, 15, 25}, Placement::at_low_edge},
    };
    for (const Row& row : rows) {
        CAPTURE(row.interval.low, row.interval.value, row.interval.high);
        CHECK(place(row.interval, 10, 20) == row.placement);
    }
    CHECK(place({1, 2, 3}, -k_infinity, 2.5) == Placement::at_high_edge);
    CHECK(place({1, 2, 3}, -k_infinity, 5) == Placement::inside);
    CHECK(place({1, 2, 3}, 2.5, k_infinity) == Placement::at_low_edge);
    CHECK(place(Interval::exact(k_nan), 10, 20) != Placement::inside);
}

TEST_CASE("interval: every result of points inside lies in the result of the intervals",
          "[core][quantity]") {
    CHECK(rc::check("the four operations", [] {
        const Interval a = draw_interval();
        const Interval b = draw_interval();
        const double x = draw_within(a);
        const double y = draw_within(b);
        RC_ASSERT(in_order(a + b));
        RC_ASSERT(in_order(a - b));
        RC_ASSERT(in_order(a * b));
        RC_ASSERT(contains(a + b, x + y));
        RC_ASSERT(contains(a - b, x - y));
        RC_ASSERT(contains(a * b, x * y));
        const auto quotient = a / b;
        RC_ASSERT(quotient.ok() == !contains(b, 0));
        if (quotient.ok()) {
            RC_ASSERT(in_order(*quotient));
            RC_ASSERT(contains(*quotient, x / y));
        }
        RC_ASSERT(contains(hull(a, b), x));
        RC_ASSERT(contains(hull(a, b), y));
    }));
    CHECK(rc::check("a monotone function", [] {
        const Interval a = draw_interval();
        const double x = draw_within(a);
        const auto f = [](double u) { return -std::atan(u) - u * u * u; };
        const Interval result = monotone(f, a);
        RC_ASSERT(in_order(result));
        RC_ASSERT(contains(result, f(x)));
    }));
    CHECK(rc::check("placement agrees with its points", [] {
        const Interval a = draw_interval();
        const Interval window = draw_interval();
        const double x = draw_within(a);
        const Placement placement = place(a, window.low, window.high);
        RC_ASSERT(placement != Placement::inside || contains(window, x));
        RC_ASSERT(placement != Placement::below || x < window.low);
        RC_ASSERT(placement != Placement::above || x > window.high);
        if (placement == Placement::at_low_edge) {
            RC_ASSERT(a.low < window.low && a.high >= window.low);
        }
        if (placement == Placement::at_high_edge) {
            RC_ASSERT(a.high > window.high && a.low <= window.high);
        }
    }));
}
