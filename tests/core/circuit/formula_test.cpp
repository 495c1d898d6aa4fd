#include "core/circuit/formula.h"

#include "support/catch.h"

#include <rapidcheck.h>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <string>
#include <vector>

using namespace railside;

namespace {

struct Evaluated {
    double value = 0;
    std::vector<double> slopes;
};

Formula parsed(std::string_view text) {
    auto formula = Formula::parse(text);
    if (!formula) {
        FAIL(formula.error().message);
    }
    return std::move(formula).value();
}

Evaluated evaluated(const Formula& formula, const std::vector<double>& at) {
    Evaluated result;
    result.slopes.resize(formula.inputs().size());
    result.value = formula.evaluate(at, result.slopes);
    return result;
}

double value_of(std::string_view text, const std::vector<double>& at = {}) {
    return evaluated(parsed(text), at).value;
}

/// Central difference with one Richardson step: error about h^4.
double difference(const Formula& formula, std::vector<double> at, std::size_t input) {
    const double h = 1e-3 * std::max(1.0, std::abs(at[input]));
    const auto slope = [&](double step) {
        std::vector<double> moved = at;
        moved[input] = at[input] + step;
        const double up = evaluated(formula, moved).value;
        moved[input] = at[input] - step;
        return (up - evaluated(formula, moved).value) / (2 * step);
    };
    return (4 * slope(h / 2) - slope(h)) / 3;
}

} // namespace

TEST_CASE("formula: arithmetic follows the usual precedence", "[core][circuit]") {
    // Worked by hand.
    CHECK(value_of("1+2*3") == 7);
    CHECK(value_of("(1+2)*3") == 9);
    CHECK(value_of("2-3-4") == -5);
    CHECK(value_of("16/4/2") == 2);
    CHECK(value_of("-2^2") == -4);
    CHECK(value_of("2^3^2") == 512);
    CHECK(value_of("2**3") == 8);
    CHECK(value_of("2*3**2") == 18);
    CHECK(value_of("2^-1") == 0.5);
    CHECK(value_of("--3") == 3);
    CHECK(value_of("+3 - +2") == 1);
    CHECK(value_of("2 * - 3") == -6);
    CHECK(value_of("4.7k + 1e-3*2meg") == 6700);
    CHECK(value_of("pi") == std::numbers::pi);
    CHECK(value_of("1e-3") == 1e-3);
    CHECK(value_of("1e3-1") == 999);
    CHECK(value_of("1-1e3") == -999);
}

TEST_CASE("formula: functions", "[core][circuit]") {
    CHECK(value_of("abs(-3)") == 3);
    CHECK(value_of("sqrt(16)") == 4);
    CHECK(value_of("EXP(1)") == std::exp(1.0));
    CHECK(value_of("ln(8)") == std::log(8.0));
    CHECK(value_of("log(8)") == std::log(8.0));
    CHECK(value_of("log10(1000)") == Approx(3));
    CHECK(value_of("sin(1)") == std::sin(1.0));
    CHECK(value_of("cos(1)") == std::cos(1.0));
    CHECK(value_of("tan(1)") == std::tan(1.0));
    CHECK(value_of("atan(1)*4") == Approx(std::numbers::pi));
    CHECK(value_of("sinh(1)") == std::sinh(1.0));
    CHECK(value_of("cosh(1)") == std::cosh(1.0));
    CHECK(value_of("tanh(1)") == std::tanh(1.0));
    CHECK(value_of("min(3, 2)") == 2);
    CHECK(value_of("max(3, 2)") == 3);
    // |x|^y, as circuit simulators do.
    CHECK(value_of("pow(-2, 3)") == 8);
    CHECK(value_of("pow(4, 0.5)") == 2);
}

TEST_CASE("formula: each different input stands once, in the order it is met", "[core][circuit]") {
    const Formula formula = parsed("v(a, B)*i(Vs) + V(A,b) - v(c) + i(vs)");
    REQUIRE(formula.inputs().size() == 3);
    using Kind = FormulaInput::Kind;
    CHECK(formula.inputs()[0] == FormulaInput{Kind::volts, "a", "B"});
    CHECK(formula.inputs()[1] == FormulaInput{Kind::current, "Vs", "0"});
    CHECK(formula.inputs()[2] == FormulaInput{Kind::volts, "c", "0"});
    const Evaluated result = evaluated(formula, {2, 3, 5});
    CHECK(result.value == 2 * 3 + 2 - 5 + 3);
    CHECK(result.slopes == std::vector<double>{3 + 1, 2 + 1, -1});
}

TEST_CASE("formula: derivatives agree with differences", "[core][circuit]") {
    // Tolerance: the difference's own error, about h^4 and rounding over h.
    const std::vector<std::string> texts = {
        "v(a)+v(b)",
        "v(a)-2*v(b)",
        "v(a)*v(b)*v(a)",
        "v(a)/(1+v(b)*v(b))",
        "v(a)^3 - v(b)^2",
        "pow(v(a), 1.21)",
        "pow(1.5, v(a)*v(b))",
        "pow(v(a)*v(a)+1, v(b))",
        "sqrt(1+v(a)*v(a))",
        "exp(v(a)/3)*ln(2+v(b)^2)",
        "log10(3+sin(v(a)))",
        "sin(v(a))*cos(v(b))",
        "tan(v(a)/5)",
        "atan(v(a)*v(b))",
        "sinh(v(a)/2)+cosh(v(b)/2)",
        "tanh(v(a)-v(b))",
        "abs(v(a)+20)",
        "min(v(a), v(b)+40)",
        "max(v(a), v(b)+40)",
        "-v(a)*i(vs)",
        "i(vs)/(881.666667*pow((v(a)+3)/2750.0,1.21))",
    };
    for (const std::string& text : texts) {
        const Formula formula = parsed(text);
        for (const std::vector<double>& start :
             {std::vector<double>{0.7, -1.3, 0.2}, {2.5, 1.1, -0.4}, {-1.9, 2.2, 3.0}}) {
            const std::vector<double> at(start.begin(),
                                         start.begin() +
                                             static_cast<std::ptrdiff_t>(formula.inputs().size()));
            const Evaluated result = evaluated(formula, at);
            for (std::size_t i = 0; i < at.size(); ++i) {
                INFO(text << " input " << i << " at " << at[i]);
                const double expected = difference(formula, at, i);
                CHECK(std::abs(result.slopes[i] - expected) <=
                      1e-8 * std::max(1.0, std::abs(expected)));
            }
        }
    }
}

TEST_CASE("formula: the lamp's filament as the example circuit writes it", "[core][circuit]") {
    const Formula formula =
        parsed("v(a,b)*v(a,b)/(881.666667*pow(v(t)/2750.0,1.21))-1.04925727e-12*"
               "(pow(v(t),4)-pow(300.0,4))");
    REQUIRE(formula.inputs().size() == 2);
    // At 2750 K and 230 V it takes 60 W and gives off 60 W: the balance is nothing, within the
    // digits of the constants.
    const Evaluated hot = evaluated(formula, {230, 2750});
    CHECK(near_abs(hot.value, 0, 1e-4));
    CHECK(near(hot.slopes[0], 2 * 60 / 230.0, 1e-6));
}

TEST_CASE("formula: what does not depend on an input keeps a slope of 0 where another is infinite",
          "[core][circuit]") {
    const Formula formula = parsed("sqrt(v(a)) + v(b)");
    const Evaluated result = evaluated(formula, {0, 5});
    CHECK(result.value == 5);
    CHECK(std::isinf(result.slopes[0]));
    CHECK(result.slopes[1] == 1);
    CHECK(std::isnan(value_of("ln(0-1)")));
    CHECK(std::isinf(value_of("1/0")));
}

TEST_CASE("formula: what is not understood is refused, with where and what was expected",
          "[core][circuit]") {
    struct Row {
        std::string_view text;
        std::string_view part;
    };
    for (const Row& row : {Row{"", "at its end: expected a number"},
                           {"1+", "at its end: expected a number"},
                           {"(1", "expected \")\""},
                           {"1)", "at \")\": expected an operator or the end"},
                           {"v()", "expected a name"},
                           {"v(a,)", "expected a name"},
                           {"v(a,b,c)", "expected \")\""},
                           {"v a", "functions"},
                           {"foo(1)", "at \"foo(1)\": expected a number"},
                           {"time", "functions"},
                           {"4k7", "a number such as 4.7k"},
                           {"min(1)", "expected \",\""},
                           {"sin(1,2)", "expected \")\""},
                           {"1 2", "expected an operator"},
                           {"2*", "at its end"},
                           {"@", "expected"}}) {
        INFO(row.text);
        const auto formula = Formula::parse(row.text);
        REQUIRE_FALSE(formula.ok());
        CHECK(formula.error().code == ErrorCode::bad_text);
        INFO(formula.error().message);
        CHECK(formula.error().message.find(row.part) != std::string::npos);
    }
}

TEST_CASE("formula: size has limits, and is worked out right up to them", "[core][circuit]") {
    std::string sum = "v(n0)";
    for (int i = 1; i < 64; ++i) {
        sum += "+v(n" + std::to_string(i) + ")";
    }
    const std::vector<double> ones(64, 1.0);
    const Evaluated result = evaluated(parsed(sum), ones);
    CHECK(result.value == 64);
    CHECK(result.slopes == ones);
    CHECK_FALSE(Formula::parse(sum + "+v(more)").ok());

    std::string long_sum = "1";
    for (int i = 0; i < 255; ++i) {
        long_sum += "+1";
    }
    CHECK(value_of(long_sum) == 256);
    CHECK_FALSE(Formula::parse(long_sum + "+1").ok());

    CHECK(value_of(std::string(20, '(') + "1" + std::string(20, ')')) == 1);
    CHECK_FALSE(Formula::parse(std::string(100'000, '(')).ok());
    CHECK_FALSE(Formula::parse(std::string(100'000, '-')).ok());
    std::string waiting = "1";
    for (int i = 0; i < 40; ++i) {
        waiting = "2*(1+" + waiting + ")";
    }
    CHECK_FALSE(Formula::parse(waiting).ok());
}

TEST_CASE("formula: any text is refused or evaluated", "[core][circuit]") {
    CHECK(rc::check("bytes", [] {
        const auto bytes = *rc::gen::container<std::string>(
            rc::gen::elementOf(std::string("v(a,b)i()+-*/^ 12.e,pow sin min abs ln")));
        const auto formula = Formula::parse(bytes);
        if (formula) {
            const std::vector<double> at(formula->inputs().size(), 0.5);
            evaluated(*formula, at);
        } else {
            RC_ASSERT(!formula.error().message.empty());
        }
    }));
}
