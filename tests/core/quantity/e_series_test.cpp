#include "core/quantity/e_series.h"

#include "core/quantity/value_code.h"
#include "support/catch.h"

#include <cmath>

using namespace railside;

TEST_CASE("e_series: up and down walk a decade and come back, whatever the decade",
          "[core][quantity]") {
    const auto walk = [](ESeries series, int members) {
        for (double start : {1e-3, 0.1, 1.0, 1e4, 1e6}) {
            double value = start;
            for (int i = 0; i < members; ++i) {
                REQUIRE(in_series(value, series));
                const double next = next_in_series(value, series);
                REQUIRE(next > value);
                REQUIRE(near(previous_in_series(next, series), value, 1e-12));
                value = next;
            }
            CHECK(near(value, start * 10, 1e-12));
        }
    };
    walk(ESeries::e24, 24);
    walk(ESeries::e96, 96);
}

TEST_CASE("e_series: known neighbours (IEC 60063)", "[core][quantity]") {
    CHECK(next_in_series(0.22, ESeries::e24) == 0.24);
    CHECK(previous_in_series(0.22, ESeries::e24) == 0.2);
    CHECK(next_in_series(9.1, ESeries::e24) == 10.0);
    CHECK(previous_in_series(1e3, ESeries::e24) == 910.0);
    CHECK(next_in_series(100, ESeries::e96) == 102.0);
    CHECK(next_in_series(4.75e3, ESeries::e96) == 4.87e3);
    CHECK(in_series(2.74e3, ESeries::e96));
    CHECK(!in_series(2.74e3, ESeries::e24));
    // From between two of them, the nearer one that way.
    CHECK(next_in_series(0.23, ESeries::e24) == 0.24);
    CHECK(previous_in_series(0.23, ESeries::e24) == 0.22);
    CHECK(next_in_series(0, ESeries::e24) == 0);
    CHECK(std::isnan(next_in_series(std::nan(""), ESeries::e24)));
}

TEST_CASE("e_series: every value prints as a code that reads back the same", "[core][quantity]") {
    for (const ESeries series : {ESeries::e24, ESeries::e96})
        for (double value = 0.01; value < 1e7; value = next_in_series(value, series)) {
            const std::string code = print_code(value, Unit::ohm);
            const auto back = parse_value(code, Unit::ohm, "R");
            INFO(code);
            REQUIRE(back.ok());
            REQUIRE(back->value == value);
        }
}
