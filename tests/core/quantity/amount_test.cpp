#include "core/quantity/amount.h"

#include "support/catch.h"

#include <rapidcheck.h>

#include <cmath>
#include <string>

using namespace railside;

TEST_CASE("amount: a tolerance spreads evenly and keeps its order for negative values",
          "[core][quantity]") {
    const Amount resistor = with_tolerance(0.22, 0.05, Unit::ohm);
    CHECK(resistor.value == 0.22);
    CHECK(near(resistor.low, 0.209, 1e-15));
    CHECK(near(resistor.high, 0.231, 1e-15));
    CHECK(resistor.unit == Unit::ohm);
    const Amount rail = with_tolerance(-40, 0.1, Unit::volt);
    CHECK(near(rail.low, -44, 1e-15));
    CHECK(near(rail.high, -36, 1e-15));
    CHECK(with_tolerance(-40, 0, Unit::volt) == Amount::exact(-40, Unit::volt));
}

TEST_CASE("amount: a meter's accuracy is its share of the reading plus its counts",
          "[core][quantity]") {
    // 12.0 mV on a range that shows 0.1 mV, sheet ±(0.5 % + 3 counts): 0.06 mV + 0.3 mV = 0.36 mV.
    const Amount reading = with_accuracy(0.012, 0.0001, {0.005, 3}, Unit::volt);
    CHECK(reading.value == 0.012);
    CHECK(near(reading.low, 0.01164, 1e-14));
    CHECK(near(reading.high, 0.01236, 1e-14));
    CHECK(reading.unit == Unit::volt);
    const Amount negative = with_accuracy(-0.012, 0.0001, {0.005, 3}, Unit::volt);
    CHECK(near(negative.low, -0.01236, 1e-14));
    CHECK(near(negative.high, -0.01164, 1e-14));
    CHECK(with_accuracy(5, 0, {0, 3}, Unit::volt) == Amount::exact(5, Unit::volt));
    CHECK(rc::check("low <= value <= high", [] {
        const double value = static_cast<double>(*rc::gen::arbitrary<int>()) * 1e-6;
        const double share = static_cast<double>(*rc::gen::inRange(0, 1001)) / 1000;
        const Amount spread = with_accuracy(value, 1e-4, {share, 3}, Unit::volt);
        RC_ASSERT(spread.low <= spread.value && spread.value <= spread.high);
        RC_ASSERT(near(spread.high - spread.low, 2 * (std::abs(value) * share + 3e-4), 1e-9));
        const Amount part = with_tolerance(value, share, Unit::ohm);
        RC_ASSERT(part.low <= part.value && part.value <= part.high);
    }));
}

TEST_CASE("accuracy: the ways a meter's sheet writes it", "[core][quantity]") {
    struct Row {
        const char* text;
        double of_reading;
        double counts;
    };
    const Row rows[] = {
        {"\u00b10.5 % + 3 counts", 0.005, 3},
        {"\u00b10.5\u2009% + 3 counts", 0.005, 3},
        {"0.5%+3", 0.005, 3},
        {"0,5 % + 3", 0.005, 3},
        {"+/-0.5% + 3 dgt", 0.005, 3},
        {"+-0.5% + 3 digits", 0.005, 3},
        {"0.5 % rdg + 3 dgt", 0.005, 3},
        {"0.5 % of reading + 1 digit", 0.005, 1},
        {"1 %", 0.01, 0},
        {"3 counts", 0, 3},
        {"1 count", 0, 1},
        {" 2 counts + 0.05 % ", 0.0005, 2},
        {"0 %", 0, 0},
        {"100 %", 1, 0},
        {"1000000 counts", 0, 1e6},
        {"0.8 % + 0.5 counts", 0.008, 0.5},
    };
    for (const Row& row : rows) {
        CAPTURE(row.text);
        const auto accuracy = parse_accuracy(row.text, "Accuracy");
        REQUIRE(accuracy.ok());
        CHECK(accuracy->of_reading == row.of_reading);
        CHECK(accuracy->counts == row.counts);
    }
}

TEST_CASE("accuracy: anything else is refused with the field, the text and the form",
          "[core][quantity]") {
    for (const char* text : {"", "\u00b1", "3", "+", "%", "counts", "0.5 % +", "0.5 % + 3 + 2",
                             "1 % + 1 %", "3 counts + 2", "-1 %", "0.5 % + 3 mV", "0.5.1 %",
                             "1,500 counts", "5 counts of reading", "\xff"}) {
        CAPTURE(text);
        const auto accuracy = parse_accuracy(text, "Accuracy");
        REQUIRE_FALSE(accuracy.ok());
        CHECK(accuracy.error().code == ErrorCode::bad_text);
        CHECK(accuracy.error().field == "Accuracy");
        CHECK(accuracy.error().message.starts_with("Accuracy: "));
        CHECK(accuracy.error().message.find("; write ") != std::string::npos);
    }
    for (const char* text : {"101 %", "1000001 counts", "1 % + 2000000"}) {
        CAPTURE(text);
        const auto accuracy = parse_accuracy(text, "Accuracy");
        REQUIRE_FALSE(accuracy.ok());
        CHECK(accuracy.error().code == ErrorCode::out_of_range);
    }
}

TEST_CASE("accuracy: it is printed as sheets print it and reads back", "[core][quantity]") {
    CHECK(print_accuracy({0.005, 3}) == "\u00b10.5\u2009% + 3 counts");
    CHECK(print_accuracy({0.005, 1}) == "\u00b10.5\u2009% + 1 count");
    CHECK(print_accuracy({0.01, 0}) == "\u00b11\u2009%");
    CHECK(print_accuracy({0, 3}) == "\u00b13 counts");
    CHECK(print_accuracy({0, 0}) == "\u00b10\u2009%");
    CHECK(rc::check("parse(print(x)) == x", [] {
        const MeterAccuracy accuracy{*rc::gen::inRange(0, 100001) / 1e5,
                                     *rc::gen::inRange(0, 10000) / 10.0};
        const auto again = parse_accuracy(print_accuracy(accuracy), "");
        RC_ASSERT(again.ok());
        RC_ASSERT(*again == accuracy);
    }));
}
