#include "core/quantity/value_code.h"
#include "core/words/words.h"

#include "support/catch.h"

#include <rapidcheck.h>

#include <algorithm>
#include <array>
#include <bit>
#include <clocale>
#include <cmath>
#include <cstdint>
#include <cstdlib>
#include <limits>
#include <locale>
#include <string>
#include <vector>

using namespace railside;

namespace {

constexpr int k_unit_count = 13;
constexpr double k_infinity = std::numeric_limits<double>::infinity();
constexpr double k_nan = std::numeric_limits<double>::quiet_NaN();

std::vector<Unit> all_units() {
    std::vector<Unit> units;
    units.reserve(k_unit_count);
    for (int i = 0; i < k_unit_count; ++i) {
        units.push_back(static_cast<Unit>(i));
    }
    return units;
}

// The second way to a double: the C library, in the "C" locale the tests run in.
double c_read(std::int64_t digits, int exponent) {
    return std::strtod((std::to_string(digits) + "e" + std::to_string(exponent)).c_str(), nullptr);
}

/// IEC 60063, series E96: 100·10^(i/96), rounded to three digits.
std::array<int, 96> e96() {
    std::array<int, 96> series{};
    for (int i = 0; i < 96; ++i) {
        series[static_cast<std::size_t>(i)] =
            static_cast<int>(std::lround(100 * std::pow(10.0, i / 96.0)));
    }
    return series;
}

std::string refusal_of(std::string_view text, Unit unit) {
    const auto parsed = parse_value(text, unit, "Field");
    return parsed.ok() ? std::string() : parsed.error().message;
}

bool holds(const std::string& text, const std::string& part) {
    return text.find(part) != std::string::npos;
}

/// Digits as a person may type them: at most `most` significant ones, a mark anywhere.
std::string draw_typed_number(int most) {
    std::string digits(static_cast<std::size_t>(*rc::gen::inRange(1, most + 1)), '0');
    for (char& c : digits) {
        c = static_cast<char>('0' + *rc::gen::inRange(0, 10));
    }
    const auto mark = static_cast<std::size_t>(*rc::gen::inRange(0, 2 * most));
    if (mark < digits.size()) {
        digits.insert(mark, 1, *rc::gen::element('.', ','));
    }
    return digits;
}

const std::vector<std::string>& pieces() {
    static const std::vector<std::string> k_pieces = {
        "0",      "1",   "5",      "00",     "500",    ".",      ",",       "-",      "+",
        "\u2212", " ",   "p",      "n",      "u",      "\u00b5", "\u03bc",  "m",      "k",
        "K",      "M",   "R",      "r",      "L",      "V",      "A",       "F",      "W",
        "s",      "Hz",  "\u03a9", "\u2126", "ohm",    "C",      "\u00b0C", "\u00b0", "%",
        "K/W",    "deg", "e",      "\u2009", "\u00a0", "\xc2",   "\xff"};
    return k_pieces;
}

} // namespace

TEST_CASE("parse_value: accepted texts give the nearest double, the last digit's step and the "
          "digit count",
          "[core][quantity]") {
    struct Row {
        const char* text;
        Unit unit;
        double value;
        double step;
        int digits;
    };
    // Letter codes: IEC 60062; prefixes: SI brochure, table 7. Values are the
    // compiler's own reading.
    const Row rows[] = {
        {"12", Unit::volt, 12, 1, 2},
        {"12.0", Unit::volt, 12, 0.1, 3},
        {"12,0", Unit::volt, 12, 0.1, 3},
        {"-12", Unit::volt, -12, 1, 2},
        {"\u221212", Unit::volt, -12, 1, 2},
        {"+12", Unit::volt, 12, 1, 2},
        {".5", Unit::volt, 0.5, 0.1, 1},
        {"007", Unit::volt, 7, 1, 1},
        {"12m", Unit::volt, 0.012, 0.001, 2},
        {"12mV", Unit::volt, 0.012, 0.001, 2},
        {"12 mV", Unit::volt, 0.012, 0.001, 2},
        {"12 mv", Unit::volt, 0.012, 0.001, 2},
        {"12.0\u2009mV", Unit::volt, 0.012, 0.0001, 3},
        {"12\u00a0mV", Unit::volt, 0.012, 0.001, 2},
        {"  12 m  ", Unit::volt, 0.012, 0.001, 2},
        {"96.0 m", Unit::volt, 0.096, 0.0001, 3},
        {"1u", Unit::volt, 1e-6, 1e-6, 1},
        {"1\u00b5", Unit::volt, 1e-6, 1e-6, 1},
        {"1\u03bcV", Unit::volt, 1e-6, 1e-6, 1},
        {"1k", Unit::volt, 1000, 1000, 1},
        {"1K", Unit::volt, 1000, 1000, 1},
        {"0,500", Unit::volt, 0.5, 0.001, 3},
        {"0,500m", Unit::volt, 0.0005, 1e-6, 3},
        {"1.500", Unit::volt, 1.5, 0.001, 4},
        {"1,50", Unit::volt, 1.5, 0.01, 3},
        {"1,5000", Unit::volt, 1.5, 0.0001, 5},
        {"1234,500", Unit::volt, 1234.5, 0.001, 7},
        {",500", Unit::volt, 0.5, 0.001, 3},
        {"0", Unit::volt, 0, 1, 1},
        {"0.00", Unit::volt, 0, 0.01, 3},
        {"-0", Unit::volt, 0, 1, 1},
        {"45 mA", Unit::ampere, 0.045, 0.001, 2},
        {"2.5a", Unit::ampere, 2.5, 0.1, 2},
        {"100p", Unit::ampere, 1e-10, 1e-12, 3},
        {"4.7 kohm", Unit::ohm, 4700, 100, 2},
        {"4.7 k\u03a9", Unit::ohm, 4700, 100, 2},
        {"4.7k\u2126", Unit::ohm, 4700, 100, 2},
        {"4.7 ohms", Unit::ohm, 4.7, 0.1, 2},
        {"4k7", Unit::ohm, 4700, 100, 2},
        {"4K7", Unit::ohm, 4700, 100, 2},
        {"4k7 ohm", Unit::ohm, 4700, 100, 2},
        {"4k70", Unit::ohm, 4700, 10, 3},
        {"R22", Unit::ohm, 0.22, 0.01, 2},
        {"0R22", Unit::ohm, 0.22, 0.01, 2},
        {"0r22", Unit::ohm, 0.22, 0.01, 2},
        {"22R", Unit::ohm, 22, 1, 2},
        {"22 R", Unit::ohm, 22, 1, 2},
        {"2R2", Unit::ohm, 2.2, 0.1, 2},
        {"470R", Unit::ohm, 470, 1, 3},
        {"4.7R", Unit::ohm, 4.7, 0.1, 2},
        {"1M0", Unit::ohm, 1e6, 1e5, 2},
        {"1M", Unit::ohm, 1e6, 1e6, 1},
        {"K47", Unit::ohm, 470, 10, 2},
        {"0L22", Unit::ohm, 0.00022, 1e-5, 2},
        {"L22", Unit::ohm, 0.00022, 1e-5, 2},
        {"50L", Unit::ohm, 0.05, 0.001, 2},
        {"220m", Unit::ohm, 0.22, 0.001, 3},
        {"-4k7", Unit::ohm, -4700, 100, 2},
        {"4n7", Unit::farad, 4.7e-9, 1e-10, 2},
        {"3u3", Unit::farad, 3.3e-6, 1e-7, 2},
        {"3\u00b53", Unit::farad, 3.3e-6, 1e-7, 2},
        {"3\u03bc3F", Unit::farad, 3.3e-6, 1e-7, 2},
        {"4m7", Unit::farad, 4.7e-3, 1e-4, 2},
        {"p33", Unit::farad, 0.33e-12, 1e-14, 2},
        {"10p", Unit::farad, 10e-12, 1e-12, 2},
        {"100 nF", Unit::farad, 100e-9, 1e-9, 3},
        {"1000u", Unit::farad, 1e-3, 1e-6, 4},
        {"70", Unit::watt, 70, 1, 2},
        {"250 mW", Unit::watt, 0.25, 0.001, 3},
        {"62", Unit::celsius, 62, 1, 2},
        {"62 \u00b0C", Unit::celsius, 62, 1, 2},
        {"62C", Unit::celsius, 62, 1, 2},
        {"62 degC", Unit::celsius, 62, 1, 2},
        {"-10.5 \u00b0C", Unit::celsius, -10.5, 0.1, 3},
        {"15 K", Unit::kelvin, 15, 1, 2},
        {"15K", Unit::kelvin, 15, 1, 2},
        {"20ms", Unit::second, 0.02, 0.001, 2},
        {"5 s", Unit::second, 5, 1, 1},
        {"1kHz", Unit::hertz, 1000, 1000, 1},
        {"1 khz", Unit::hertz, 1000, 1000, 1},
        {"50 Hz", Unit::hertz, 50, 1, 2},
        {"0.7 K/W", Unit::kelvin_per_watt, 0.7, 0.1, 1},
        {"0.7", Unit::kelvin_per_watt, 0.7, 0.1, 1},
        {"45\u00b0", Unit::degree, 45, 1, 2},
        {"45 deg", Unit::degree, 45, 1, 2},
        {"5", Unit::percent, 0.05, 0.01, 1},
        {"5 %", Unit::percent, 0.05, 0.01, 1},
        {"5%", Unit::percent, 0.05, 0.01, 1},
        {"0.1", Unit::percent, 0.001, 0.001, 1},
        {"7", Unit::percent, 0.07, 0.01,
         1}, // 7·0.01 and 7 "percent" by multiplication would miss by one bit
        {"1.5", Unit::ratio, 1.5, 0.1, 2},
        {"123456789012345", Unit::ratio, 123456789012345, 1, 15},
        {"0.0000000000000000000000000000000000000001", Unit::ratio, 1e-40, 1e-40, 1},
        {"999999999.999999M", Unit::ohm, 999999999.999999e6, 1, 15},
    };
    for (const Row& row : rows) {
        CAPTURE(row.text);
        const auto parsed = parse_value(row.text, row.unit, "Field");
        REQUIRE(parsed.ok());
        CHECK(parsed->value == row.value);
        CHECK_FALSE((parsed->value == 0 && std::signbit(parsed->value)));
        CHECK(parsed->step == row.step);
        CHECK(parsed->digits == row.digits);
        CHECK(parsed->text == row.text);
        CHECK(check_beginning(row.text, row.unit, "Field").ok());
    }
}

TEST_CASE("parse_value: refusals name the field, the text, the reason and the form",
          "[core][quantity]") {
    struct Row {
        const char* text;
        Unit unit;
        const char* reason;
        const char* form;
    };
    const Row rows[] = {
        {"", Unit::volt, "nothing is typed", "volts as"},
        {"   ", Unit::volt, "nothing is typed", "volts as"},
        {"-", Unit::volt, "no digit", "volts as"},
        {"m", Unit::volt, "no digit", "volts as"},
        {"k", Unit::ohm, "no digit", "ohms as"},
        {"V", Unit::volt, "no digit", "volts as"},
        {".", Unit::volt, "no digit after the decimal mark", "volts as"},
        {"5.", Unit::volt, "no digit after the decimal mark", "volts as"},
        {"5.m", Unit::volt, "no digit after the decimal mark", "volts as"},
        {"--5", Unit::volt, "no digit", "volts as"},
        {"- 5", Unit::volt, "no digit", "volts as"},
        {"4k7k", Unit::ohm, "goes on with \"k\"", "ohms as"},
        {"4k7R", Unit::ohm, "goes on with \"R\"", "ohms as"},
        {"4k7k3", Unit::ohm, "goes on with \"k3\"", "ohms as"},
        {"4.7.1", Unit::ohm, "more than one decimal mark", "ohms as"},
        {"4..7", Unit::ohm, "more than one decimal mark", "ohms as"},
        {"4,7.1", Unit::volt, "more than one decimal mark", "volts as"},
        {"4k7.2", Unit::ohm, "more than one decimal mark", "ohms as"},
        {"4.7k2", Unit::ohm, "goes on with \"2\"", "ohms as"},
        {"1e999", Unit::ohm, "exponent", "ohms as"},
        {"1e3", Unit::volt, "exponent", "volts as"},
        {"1E-3", Unit::volt, "exponent", "volts as"},
        {"12 ohm", Unit::volt, "is in ohm (\u03a9), but this field takes volt (V)", "volts as"},
        {"12R", Unit::volt, "is in ohm (\u03a9)", "volts as"},
        {"12 mA", Unit::volt, "is in ampere (A), but this field takes volt (V)", "volts as"},
        {"12 kV", Unit::ampere, "is in volt (V)", "amperes as"},
        {"12 V", Unit::ratio, "is in volt (V), but this field takes a plain number",
         "a plain number"},
        {"12 K", Unit::celsius, "is in kelvin (K), but this field takes degrees Celsius (\u00b0C)",
         "degrees Celsius"},
        {"62 \u00b0", Unit::celsius, "ends in the middle of its unit", "degrees Celsius"},
        {"5 %", Unit::ohm, "is in percent (%)", "ohms as"},
        {"4k7 V", Unit::ohm, "is in volt (V)", "ohms as"},
        {"12k", Unit::celsius, "prefix k (kilo), but this field takes no prefix",
         "62\u2009\u00b0C"},
        {"12M", Unit::volt, "prefix M (mega), but this field takes \u00b5, m or k", "volts as"},
        {"12 MV", Unit::volt, "prefix M (mega)", "volts as"},
        {"12k", Unit::ampere, "prefix k (kilo), but this field takes p, n, \u00b5 or m",
         "amperes as"},
        {"4m7", Unit::volt, "m in the place of the decimal mark", "write 4.7m."},
        {"4k7", Unit::volt, "k in the place of the decimal mark", "write 4.7k."},
        {"-4m7", Unit::volt, "m in the place of the decimal mark", "write -4.7m."},
        {"4R7", Unit::volt, "R in the place of the decimal mark", "write 4.7."},
        {"5V6", Unit::volt, "V in the place of the decimal mark", "write 5.6."},
        {"4M7", Unit::volt, "M in the place of the decimal mark", "volts as"},
        {"4m7", Unit::ohm, "m in the place of the decimal mark", "write 4.7m."},
        {"4k7", Unit::farad, "k in the place of the decimal mark", "farads as"},
        {"12 milli", Unit::volt, "goes on with \"illi\" after \"m\"", "volts as"},
        {"12 m V", Unit::volt, "goes on with \" V\" after \"m\"", "volts as"},
        {"12 mVV", Unit::volt, "goes on with \"V\" after \"mV\"", "volts as"},
        {"1 200", Unit::volt, "space between its digits", "volts as"},
        {"12 x", Unit::volt, "ends in \"x\"", "volts as"},
        {"abc", Unit::volt, "no digit", "volts as"},
        {"0x10", Unit::volt, "ends in \"x10\"", "volts as"},
        {"nan", Unit::volt, "no digit", "volts as"},
        {"inf", Unit::ratio, "no digit", "a plain number"},
        {"5 K/", Unit::kelvin_per_watt, "middle of its unit", "kelvin per watt"},
        {"1,500", Unit::ohm, "could mean 1500 or 1.5", "write 1.5k for 1500, or 1.500 for 1.5."},
        {"1,500", Unit::celsius, "could mean 1500 or 1.5",
         "write 1500 for 1500, or 1.500 for 1.5."},
        {"-12,340", Unit::volt, "could mean -12340 or -12.34",
         "write -12.34k for -12340, or -12.340 for -12.34."},
        {"100,000", Unit::volt, "could mean 100000 or 100",
         "write 100k for 100000, or 100.000 for 100."},
        {"1,500m", Unit::volt, "could mean 1500 or 1.5",
         "write 1500m for 1500, or 1.500m for 1.5."},
        {"1,500 mV", Unit::volt, "could mean 1500 or 1.5", "1500mV"},
        {"1,500,000", Unit::volt, "more than one decimal mark", "volts as"},
        {"1234567890123456", Unit::ratio, "more than 15 significant digits", "fewer digits"},
        {"0.1234567890123456", Unit::volt, "without rounding", "fewer digits"},
        {"1.000000000000000", Unit::volt, "more than 15 significant digits", "fewer digits"},
        {"0.00000000000000000000000000000000000000001", Unit::volt, "more than 40 decimals",
         "fewer decimals"},
        {"999999999999999k", Unit::volt, "too large", "volts as"},
        {"1000000000M", Unit::ohm, "too large", "ohms as"},
        {"\xff", Unit::volt, "\"\ufffd\" has no digit", "volts as"},
        {"5\xff", Unit::volt, "ends in \"\ufffd\"", "volts as"},
        {"5\n", Unit::volt, "ends in \"\ufffd\"", "volts as"},
    };
    for (const Row& row : rows) {
        CAPTURE(row.text, row.reason, row.form);
        const auto parsed = parse_value(row.text, row.unit, "Field");
        REQUIRE_FALSE(parsed.ok());
        const Error& error = parsed.error();
        CAPTURE(error.message);
        CHECK(error.code == ErrorCode::bad_text);
        CHECK(error.field == "Field");
        CHECK(error.message.starts_with("Field: "));
        CHECK(error.message.back() == '.');
        CHECK(holds(error.message, row.reason));
        CHECK(holds(error.message, row.form));
    }
    CHECK(refusal_of("12k", Unit::celsius) ==
          "Field: \"12k\" has the prefix k (kilo), but this field takes no prefix; write degrees "
          "Celsius as 62 or "
          "62\u2009\u00b0C.");
    CHECK(parse_value("x", Unit::ratio, "").error().message ==
          "\"x\" has no digit to begin with; write a plain number such as 4 or 1.5.");
}

TEST_CASE("parse_value: an embedded zero byte is refused like any other", "[core][quantity]") {
    CHECK_FALSE(parse_value(std::string_view("5\0", 2), Unit::volt, "").ok());
    CHECK_FALSE(parse_value(std::string_view("\0", 1), Unit::volt, "").ok());
}

TEST_CASE("check_beginning: a key is dead as soon as it cannot lead to a value",
          "[core][quantity]") {
    struct Row {
        const char* text;
        Unit unit;
    };
    for (const Row& row : std::initializer_list<Row>{{"", Unit::volt},
                                                     {"-", Unit::volt},
                                                     {"\u2212", Unit::volt},
                                                     {"\xe2\x88", Unit::volt},
                                                     {"0", Unit::volt},
                                                     {"12.", Unit::volt},
                                                     {".", Unit::volt},
                                                     {"12 ", Unit::volt},
                                                     {"12 m", Unit::volt},
                                                     {"1,5", Unit::volt},
                                                     {"1,500", Unit::volt},
                                                     {"R", Unit::ohm},
                                                     {"k", Unit::ohm},
                                                     {"4k", Unit::ohm},
                                                     {"4L", Unit::ohm},
                                                     {"12 o", Unit::ohm},
                                                     {"12 oh", Unit::ohm},
                                                     {"12 k\xce", Unit::ohm},
                                                     {"n", Unit::farad},
                                                     {"\xc2", Unit::farad},
                                                     {"5 \xc2", Unit::volt},
                                                     {"5 d", Unit::celsius},
                                                     {"5 K/", Unit::kelvin_per_watt},
                                                     {"5 K", Unit::kelvin_per_watt},
                                                     {"0.000", Unit::volt}}) {
        CAPTURE(row.text);
        CHECK(check_beginning(row.text, row.unit, "Field").ok());
    }
    for (const Row& row : std::initializer_list<Row>{{"k", Unit::volt},
                                                     {"R", Unit::volt},
                                                     {"4.7.", Unit::volt},
                                                     {"4k7.", Unit::ohm},
                                                     {"4k7k", Unit::ohm},
                                                     {"1e", Unit::volt},
                                                     {"--", Unit::volt},
                                                     {"1,500m", Unit::volt},
                                                     {"1,500 ", Unit::volt},
                                                     {"12k", Unit::celsius},
                                                     {"12M", Unit::volt},
                                                     {"12 A", Unit::volt},
                                                     {"..", Unit::volt},
                                                     {".m", Unit::volt},
                                                     {"-m", Unit::volt},
                                                     {"1234567890123456", Unit::volt},
                                                     {"999999999999999k", Unit::volt},
                                                     {"\xff", Unit::volt}}) {
        CAPTURE(row.text);
        const auto checked = check_beginning(row.text, row.unit, "Field");
        REQUIRE_FALSE(checked.ok());
        CHECK(checked.error().code == ErrorCode::bad_text);
        CHECK(checked.error().message.starts_with("Field: "));
    }
}

TEST_CASE("check_beginning: agrees with parse_value about everything short", "[core][quantity]") {
    // Everything that can follow in one go: the tails of every token, alone or with a digit after
    // them.
    std::vector<std::string> tails = {""};
    for (const std::string& piece : pieces()) {
        for (std::size_t from = 0; from < piece.size(); ++from) {
            tails.push_back(piece.substr(from));
        }
    }
    for (const char* token : {"ohms", "degC", "hz"}) {
        for (std::size_t from = 0; from < std::string(token).size(); ++from) {
            tails.push_back(std::string(token).substr(from));
        }
    }
    const auto can_become_value = [&](const std::string& text, Unit unit) {
        for (const std::string& tail : tails) {
            if (parse_value(text + tail, unit, "").ok() ||
                parse_value(text + tail + "1", unit, "").ok()) {
                return true;
            }
        }
        return false;
    };
    int beginnings = 0;
    int refused = 0;
    for (const Unit unit : {Unit::volt, Unit::ohm, Unit::farad, Unit::kelvin_per_watt}) {
        for (const std::string& a : pieces()) {
            for (const std::string& b : pieces()) {
                for (const std::string& c :
                     {std::string(), std::string("1"), std::string("m"), std::string(" "),
                      std::string("."), std::string("R"), std::string("\xc2")}) {
                    std::string text = a;
                    text += b;
                    text += c;
                    const bool is_beginning = check_beginning(text, unit, "").ok();
                    (is_beginning ? beginnings : refused) += 1;
                    if (is_beginning != can_become_value(text, unit)) {
                        CAPTURE(text, unit_info(unit).key, is_beginning);
                        FAIL_CHECK("check_beginning and parse_value disagree");
                    }
                }
            }
        }
    }
    CHECK(beginnings > 1000);
    CHECK(refused > 1000);
}

TEST_CASE("check_beginning: every beginning of a value passes, byte by byte", "[core][quantity]") {
    int values = 0;
    CHECK(rc::check("beginnings of values", [&values] {
        const Unit unit = static_cast<Unit>(*rc::gen::inRange(0, k_unit_count));
        std::string text =
            *rc::gen::element<std::string>("", "", "-", "+", "\u2212", " ", "\u2009-");
        text += draw_typed_number(15);
        const int more = *rc::gen::inRange(0, 4);
        for (int i = 0; i < more; ++i) {
            text += *rc::gen::elementOf(pieces());
        }
        const auto symbol = unit_info(unit).symbol;
        text += *rc::gen::element<std::string>("", " ");
        text += *rc::gen::element<std::string>("", std::string(symbol));
        if (parse_value(text, unit, "").ok()) {
            ++values;
            for (std::size_t n = 0; n <= text.size(); ++n) {
                RC_ASSERT(check_beginning(std::string_view(text).substr(0, n), unit, "").ok());
            }
        }
    }));
    CHECK(values > 5);
}

TEST_CASE("parse_value: no bytes whatever make it throw, and messages stay well-formed",
          "[core][quantity]") {
    const auto try_all = [](const std::string& text) {
        for (const Unit unit : all_units()) {
            const auto parsed = parse_value(text, unit, text);
            const auto begun = check_beginning(text, unit, text);
            RC_ASSERT(!parsed.ok() || begun.ok());
            if (!parsed.ok()) {
                RC_ASSERT(parsed.error().message.find('\n') == std::string::npos);
                RC_ASSERT(parsed.error().message.find('\xff') == std::string::npos);
            } else {
                RC_ASSERT(std::abs(parsed->value) < 1e15);
                RC_ASSERT(parsed->digits >= 1 && parsed->digits <= 15);
                RC_ASSERT(parsed->step > 0);
                static_cast<void>(spoken_value(*parsed, unit));
            }
        }
        static_cast<void>(parse_plain_number(text, text));
        static_cast<void>(parse_accuracy(text, text));
    };
    CHECK(rc::check("random bytes", [&] {
        const auto bytes = *rc::gen::arbitrary<std::vector<std::uint8_t>>();
        try_all(std::string(bytes.begin(), bytes.end()));
    }));
    CHECK(rc::check("random pieces", [&] {
        std::string text;
        for (const std::string& piece :
             *rc::gen::container<std::vector<std::string>>(rc::gen::elementOf(pieces()))) {
            text += piece;
        }
        try_all(text);
    }));
}

TEST_CASE("parse_value: all that is typed is the nearest double", "[core][quantity]") {
    CHECK(rc::check("against the C library", [] {
        const std::string number = draw_typed_number(15);
        const auto parsed = parse_value(number + "u", Unit::farad, "");
        if (parsed.ok()) {
            std::string plain = number;
            std::replace(plain.begin(), plain.end(), ',', '.');
            RC_ASSERT(parsed->value == std::strtod((plain + "e-6").c_str(), nullptr));
        }
    }));
}

TEST_CASE("print_exact: reads back identically over the whole range of every unit",
          "[core][quantity]") {
    CHECK(print_exact(0.01205, Unit::volt) == "12.05m");
    CHECK(print_exact(4700, Unit::ohm) == "4.7k");
    CHECK(print_exact(-0.022, Unit::ratio) == "-0.022");
    CHECK(print_exact(-0.022, Unit::volt) == "-22m");
    CHECK(print_exact(0.22, Unit::ohm) == "0.22");
    CHECK(print_exact(0.05, Unit::percent) == "5");
    CHECK(print_exact(0.07, Unit::percent) == "7");
    CHECK(print_exact(3.3e-6, Unit::farad) == "3.3u");
    CHECK(print_exact(-0.0, Unit::volt) == "0");
    CHECK(print_exact(12345.678, Unit::celsius) == "12345.678");
    CHECK(print_exact(0.1 + 0.2, Unit::ratio) ==
          "0.30000000000000004"); // 17 digits: shown, though not typed so
    CHECK(print_exact(k_nan, Unit::volt) == "not a number");
    CHECK(print_exact(-k_infinity, Unit::volt) == "-infinite");
    for (const Unit unit : all_units()) {
        CAPTURE(unit_info(unit).key);
        CHECK(rc::check("parse(print_exact(x)) == x", [unit] {
            const int count = *rc::gen::inRange(1, 16);
            const auto limit = static_cast<std::int64_t>(std::pow(10.0, count));
            const auto digits = *rc::gen::inRange<std::int64_t>(-limit + 1, limit);
            // From 1e-25 up to the limit of 1e15 (1e13 for a percentage, which is shown a
            // hundredfold).
            const int top = (unit == Unit::percent ? 13 : 15) - count;
            const double value = c_read(digits, *rc::gen::inRange(-25, top + 1));
            const std::string text = print_exact(value, unit);
            for (const char c : text) {
                RC_ASSERT(static_cast<unsigned char>(c) < 0x80);
            }
            const auto parsed = parse_value(text, unit, "");
            RC_ASSERT(parsed.ok());
            RC_ASSERT(parsed->value == value);
        }));
    }
}

TEST_CASE("print: E96 over thirteen decades survives every way of writing it", "[core][quantity]") {
    const auto series = e96();
    CHECK(series[0] == 100);
    CHECK(series[1] == 102);
    CHECK(series[95] == 976);
    const auto check = [&](Unit unit, int lowest) {
        for (int decade = lowest; decade < lowest + 13; ++decade) {
            for (const int step : series) {
                const double value = c_read(step, decade - 2);
                for (const std::string& text :
                     {print_code(value, unit), print_value(value, unit, 3),
                      print_short(value, unit), print_exact(value, unit),
                      print_value(value, unit, 15)}) {
                    const auto parsed = parse_value(text, unit, "");
                    if (!parsed.ok() || parsed->value != value) {
                        CAPTURE(text, step, decade);
                        FAIL_CHECK("does not read back");
                    } else if (text == print_value(value, unit, 3)) {
                        if (print_value(parsed->value, unit, parsed->digits) != text ||
                            parsed->digits != 3) {
                            CAPTURE(text);
                            FAIL_CHECK("is not printed as it was typed");
                        }
                    }
                }
            }
        }
    };
    check(Unit::ohm, -4);
    check(Unit::farad, -12);
    check(Unit::ampere, -12);
    check(Unit::volt, -7);
}

TEST_CASE("print_value: prefix, exact digits, thin space and true minus", "[core][quantity]") {
    struct Row {
        double value;
        Unit unit;
        int digits;
        const char* text;
    };
    const Row rows[] = {
        {0.0120, Unit::volt, 3, "12.0\u2009mV"},
        {-0.0120, Unit::volt, 3, "\u221212.0\u2009mV"},
        {0.436, Unit::ampere, 3, "436\u2009mA"},
        {0.436, Unit::ampere, 2, "440\u2009mA"}, // the last nought only holds its place
        {1500, Unit::ohm, 2, "1.5\u2009k\u03a9"},
        {1500, Unit::ohm, 1, "2\u2009k\u03a9"}, // a tie, to even
        {2500, Unit::ohm, 1, "2\u2009k\u03a9"},
        {0.22, Unit::ohm, 2, "0.22\u2009\u03a9"},
        {0.1, Unit::ohm, 2, "0.10\u2009\u03a9"},
        {0.0996, Unit::ohm, 2, "0.10\u2009\u03a9"}, // rounds into the range shown without prefix
        {0.05, Unit::ohm, 2, "50\u2009m\u03a9"},
        {0.00022, Unit::ohm, 2, "0.22\u2009m\u03a9"},
        {470, Unit::ohm, 3, "470\u2009\u03a9"},
        {2.2e9, Unit::ohm, 2, "2200\u2009M\u03a9"},
        {2.2e10, Unit::ohm, 2, "22\u2009000\u2009M\u03a9"},
        {17.4, Unit::watt, 3, "17.4\u2009W"},
        {999.96, Unit::hertz, 3, "1.00\u2009kHz"},
        {999.4, Unit::hertz, 3, "999\u2009Hz"},
        {0.99999, Unit::volt, 3, "1.00\u2009V"},
        {0.00099999, Unit::volt, 3, "1.00\u2009mV"},
        {1e-9, Unit::volt, 2, "0.0010\u2009\u00b5V"},
        {1500, Unit::ampere, 3, "1500\u2009A"},
        {3.3e-6, Unit::farad, 2, "3.3\u2009\u00b5F"},
        {62, Unit::celsius, 2, "62\u2009\u00b0C"},
        {-10.5, Unit::celsius, 3, "\u221210.5\u2009\u00b0C"},
        {0.0123, Unit::celsius, 3, "0.0123\u2009\u00b0C"},
        {15, Unit::kelvin, 3, "15.0\u2009K"},
        {45, Unit::degree, 2, "45\u00b0"},
        {0.05, Unit::percent, 1, "5\u2009%"},
        {0.07, Unit::percent, 3, "7.00\u2009%"},
        {1.5, Unit::percent, 3, "150\u2009%"},
        {0.7, Unit::kelvin_per_watt, 1, "0.7\u2009K/W"},
        {0.02, Unit::second, 2, "20\u2009ms"},
        {1234, Unit::ratio, 4, "1234"},
        {12345, Unit::ratio, 5, "12\u2009345"},
        {12345, Unit::ratio, 3, "12\u2009300"},
        {1234567.5, Unit::ratio, 8, "1\u2009234\u2009567.5"},
        {0, Unit::volt, 3, "0.00\u2009V"},
        {-0.0, Unit::volt, 1, "0\u2009V"},
        {0, Unit::percent, 2, "0.0\u2009%"},
        {0.1, Unit::ratio, 15, "0.100000000000000"},
        {0.1, Unit::ratio, 99, "0.100000000000000"}, // kept to 15
        {0.16, Unit::ratio, 0, "0.2"},               // at least one
        {k_nan, Unit::volt, 3, "not a number"},
        {k_infinity, Unit::volt, 3, "infinite"},
        {-k_infinity, Unit::volt, 3, "\u2212infinite"},
    };
    for (const Row& row : rows) {
        CAPTURE(row.value, row.digits);
        CHECK(print_value(row.value, row.unit, row.digits) == row.text);
    }
}

TEST_CASE("print_short: only the digits that carry", "[core][quantity]") {
    CHECK(print_short(0.012, Unit::volt) == "12\u2009mV");
    CHECK(print_short(0.01205, Unit::volt, 4) == "12.05\u2009mV");
    CHECK(print_short(0.01205, Unit::volt, 3) == "12\u2009mV"); // to even: 12.0, then dropped
    CHECK(print_short(4700, Unit::ohm) == "4.7\u2009k\u03a9");
    CHECK(print_short(470, Unit::ohm) == "470\u2009\u03a9");
    CHECK(print_short(0.5, Unit::percent) == "50\u2009%");
    CHECK(print_short(0, Unit::volt) == "0\u2009V");
    CHECK(print_short(999.96, Unit::hertz) == "1\u2009kHz");
    CHECK(print_short(-62, Unit::celsius) == "\u221262\u2009\u00b0C");
    CHECK(print_short(20000, Unit::ratio) == "20\u2009000");
    CHECK(print_short(k_nan, Unit::volt) == "not a number");
}

TEST_CASE("print_code: the letter stands for the mark", "[core][quantity]") {
    struct Row {
        double value;
        Unit unit;
        const char* text;
    };
    // IEC 60062.
    const Row rows[] = {
        {0.22, Unit::ohm, "0R22"},       {4700, Unit::ohm, "4k7"},
        {470, Unit::ohm, "470R"},        {1e6, Unit::ohm, "1M0"},
        {47000, Unit::ohm, "47k"},       {1000, Unit::ohm, "1k0"},
        {1, Unit::ohm, "1R0"},           {0.047, Unit::ohm, "0R047"},
        {0.01, Unit::ohm, "0R01"},       {0.005, Unit::ohm, "5L0"},
        {0.00022, Unit::ohm, "0L22"},    {0, Unit::ohm, "0R"},
        {1.5e9, Unit::ohm, "1500M"},     {4.99e3, Unit::ohm, "4k99"},
        {-4700, Unit::ohm, "\u22124k7"}, {4.7e-9, Unit::farad, "4n7"},
        {10e-12, Unit::farad, "10p"},    {3.3e-6, Unit::farad, "3u3"},
        {100e-9, Unit::farad, "100n"},   {1e-6, Unit::farad, "1u0"},
        {4.7e-3, Unit::farad, "4m7"},    {0.5e-12, Unit::farad, "0p5"},
        {0, Unit::farad, "0p"},          {0.012, Unit::volt, "12m"},
    };
    for (const Row& row : rows) {
        CAPTURE(row.text);
        CHECK(print_code(row.value, row.unit) == row.text);
        const auto parsed = parse_value(row.text, row.unit, "");
        REQUIRE(parsed.ok());
        CHECK(parsed->value == row.value);
    }
}

TEST_CASE("print_range: both ends in one prefix, to the same place", "[core][quantity]") {
    CHECK(print_range(0.411, 0.464, Unit::ampere) == "411\u2013464\u2009mA");
    CHECK(print_range(0.0411, 0.464, Unit::ampere) == "41\u2013464\u2009mA");
    CHECK(print_range(0.9, 1.2, Unit::ampere) == "0.90\u20131.20\u2009A");
    CHECK(print_range(0.9, 1.2, Unit::ampere, 2) == "0.9\u20131.2\u2009A");
    CHECK(print_range(990, 999.96, Unit::hertz) == "0.99\u20131.00\u2009kHz");
    CHECK(print_range(0.209, 0.231, Unit::ohm) == "0.209\u20130.231\u2009\u03a9");
    CHECK(print_range(0, 0.012, Unit::volt) == "0.0\u201312.0\u2009mV");
    CHECK(print_range(-0.012, 0.012, Unit::volt, 2) == "\u221212 to 12\u2009mV");
    CHECK(print_range(-40, -36, Unit::volt, 2) == "\u221240 to \u221236\u2009V");
    CHECK(print_range(40, 62, Unit::celsius, 2) == "40\u201362\u2009\u00b0C");
    CHECK(print_range(0.04, 0.06, Unit::percent, 1) == "4\u20136\u2009%");
    CHECK(print_range(30, 60, Unit::degree, 2) == "30\u201360\u00b0");
    CHECK(print_range(0.4111, 0.4112, Unit::ampere) == "411\u2009mA");
    CHECK(print_range(0, 0, Unit::volt, 2) == "0.0\u2009V");
    CHECK(print_range(12345, 23456, Unit::ratio) == "12\u2009300\u201323\u2009500");
    CHECK(print_range(1, k_infinity, Unit::volt, 2) == "1.0\u2009V to infinite");
}

TEST_CASE("spoken_value: the number as typed in words, then the SI value", "[core][quantity]") {
    struct Row {
        const char* text;
        Unit unit;
        const char* spoken;
    };
    const Row rows[] = {
        {"96.0 m", Unit::volt, "96.0 millivolt = 0.0960\u2009V"},
        {"12m", Unit::volt, "12 millivolt = 0.012\u2009V"},
        {"12 mV", Unit::volt, "12 millivolt = 0.012\u2009V"},
        {"11", Unit::volt, "11 volt"},
        {"4k7", Unit::ohm, "4.7 kilo-ohm = 4\u2009700 ohm"},
        {"4,7k", Unit::ohm, "4.7 kilo-ohm = 4\u2009700 ohm"},
        {"1M0", Unit::ohm, "1.0 mega-ohm = 1\u2009000\u2009000 ohm"},
        {"R22", Unit::ohm, "0.22 ohm"},
        {"470R", Unit::ohm, "470 ohm"},
        {"220m", Unit::ohm, "220 milli-ohm = 0.220 ohm"},
        {"0L22", Unit::ohm, "0.22 milli-ohm = 0.000\u200922 ohm"},
        {"3u3", Unit::farad, "3.3 microfarad = 0.000\u2009003\u20093\u2009F"},
        {".5", Unit::volt, "0.5 volt"},
        {"007", Unit::volt, "7 volt"},
        {"-5m", Unit::volt, "\u22125 millivolt = \u22120.005\u2009V"},
        {"0m", Unit::volt, "0 millivolt = 0\u2009V"},
        {"0.00", Unit::volt, "0.00 volt"},
        {"-0", Unit::volt, "0 volt"},
        {"12000m", Unit::volt, "12\u2009000 millivolt = 12.000\u2009V"},
        {"5", Unit::percent, "5 percent"},
        {"62", Unit::celsius, "62 degrees Celsius"},
        {"45", Unit::degree, "45 degrees"},
        {"0.7", Unit::kelvin_per_watt, "0.7 kelvin per watt"},
        {"1.5", Unit::ratio, "1.5"},
        {"20m", Unit::second, "20 millisecond = 0.020\u2009s"},
    };
    for (const Row& row : rows) {
        CAPTURE(row.text);
        const auto parsed = parse_value(row.text, row.unit, "");
        REQUIRE(parsed.ok());
        CHECK(spoken_value(*parsed, row.unit) == row.spoken);
    }
    // A value that nobody typed is printed.
    CHECK(spoken_value(ParsedValue{0.012, 0.001, 2, ""}, Unit::volt) == "12\u2009mV");
}

TEST_CASE("parse_plain_number: numbers of files, nearest double", "[core][quantity]") {
    struct Row {
        const char* text;
        double value;
    };
    const Row rows[] = {
        {"0", 0},
        {"-0", -0.0},
        {"12.5", 12.5},
        {"-12.5", -12.5},
        {"+12.5", 12.5},
        {"1e3", 1000},
        {"1E+03", 1000},
        {"1.25e-3", 1.25e-3},
        {"-1.2000000000000000e-03", -1.2e-3},
        {"0.10000000000000001", 0.1},
        {"0.100000000000000000000000", 0.1}, // noughts at the end do not count
        {"100000000000000000000", 1e20},
        {"0.30000000000000004", 0.30000000000000004},
        {"1.7976931348623157e308", std::numeric_limits<double>::max()},
        {"5e-324", std::numeric_limits<double>::denorm_min()},
        {"1e-999999999999", 0},
        {"0e999999999999", 0},
        {"00012", 12},
        {"0.00000000000000000000000000000000000000000000000001", 1e-50},
        {"10203040506070809", 10203040506070809.0},
    };
    for (const Row& row : rows) {
        CAPTURE(row.text);
        const auto parsed = parse_plain_number(row.text, "file");
        REQUIRE(parsed.ok());
        CHECK(*parsed == row.value);
    }
    for (const char* text : {"",
                             "-",
                             "+",
                             ".",
                             ".5",
                             "5.",
                             "1,5",
                             "1e",
                             "1e-",
                             "e5",
                             "1.5.2",
                             " 1",
                             "1 ",
                             "0x10",
                             "nan",
                             "inf",
                             "-infinity",
                             "1k",
                             "--1",
                             "\xff",
                             "123456789012345678",
                             "0.123456789012345678"}) {
        CAPTURE(text);
        const auto parsed = parse_plain_number(text, "file");
        REQUIRE_FALSE(parsed.ok());
        CHECK(parsed.error().code == ErrorCode::bad_text);
        CHECK(parsed.error().message.starts_with("file: "));
    }
    const auto huge = parse_plain_number("1e309", "file");
    REQUIRE_FALSE(huge.ok());
    CHECK(huge.error().code == ErrorCode::out_of_range);
    CHECK(parse_plain_number("123456789012345678", "").error().message ==
          "\"123456789012345678\" has more than 17 significant digits; a plain number is written "
          "as -12.5 or 1.25e-3.");
    CHECK(rc::check("17 digits of any double read back", [] {
        const auto value = std::bit_cast<double>(*rc::gen::arbitrary<std::uint64_t>());
        if (std::isfinite(value)) {
            std::array<char, 64> text{};
            std::snprintf(text.data(), text.size(), "%.16e", value);
            const auto parsed = parse_plain_number(text.data(), "");
            RC_ASSERT(parsed.ok());
            RC_ASSERT(std::bit_cast<std::uint64_t>(*parsed) == std::bit_cast<std::uint64_t>(value));
        }
    }));
}

TEST_CASE("value codes: no locale changes what is read or printed", "[core][quantity]") {
    struct CommaMark : std::numpunct<char> {
        char do_decimal_point() const override { return ','; }
        char do_thousands_sep() const override { return '.'; }
        std::string do_grouping() const override { return "\3"; }
    };
    const auto all = [] {
        std::string text = print_value(1234.5, Unit::volt, 5) + print_short(0.0125, Unit::volt) +
                           print_exact(12345.678, Unit::ratio) + print_code(4700, Unit::ohm) +
                           print_range(1.5, 2.5, Unit::volt) + print_accuracy({0.005, 2.5});
        const auto typed = parse_value("12.5", Unit::volt, "");
        const auto plain = parse_plain_number("12.5", "");
        REQUIRE(typed.ok());
        REQUIRE(plain.ok());
        CHECK(typed->value == 12.5);
        CHECK(*plain == 12.5);
        CHECK_FALSE(parse_plain_number("12,5", "").ok());
        return text + spoken_value(*typed, Unit::volt);
    };
    const std::string before = all();
    const std::string c_locale = std::setlocale(LC_ALL, nullptr);

    const std::locale old = std::locale::global(std::locale(std::locale::classic(), new CommaMark));
    CHECK(all() == before);
    std::locale::global(old);

    // Where one is installed, the C library's own.
    for (const char* name : {"de_DE.UTF-8", "de_DE.utf8", "fr_FR.UTF-8", "nl_NL.UTF-8", "de_DE"}) {
        if (std::setlocale(LC_ALL, name) != nullptr) {
            CHECK(std::string(std::localeconv()->decimal_point) == ",");
            CHECK(all() == before);
            break;
        }
    }
    std::setlocale(LC_ALL, c_locale.c_str());
}

TEST_CASE("parse_value: a refusal and what is understood are in the words that are spoken",
          "[core][quantity]") {
    auto catalogue = Catalogue::read("msgid \"{} {}; write {}.\"\n"
                                     "msgstr \"{} {}; schreib {}.\"\n"
                                     "msgid \"has more than one decimal mark\"\n"
                                     "msgstr \"hat mehr als ein Komma\"\n"
                                     "msgid \"volts as 35, 12.5m or {}\"\n"
                                     "msgstr \"Volt wie 35, 12.5m oder {}\"\n"
                                     "msgid \"kilo\"\n"
                                     "msgstr \"Kilo\"\n",
                                     "words.po");
    REQUIRE(catalogue.ok());
    const auto ohms = parse_value("4k7", Unit::ohm, "");
    REQUIRE(ohms.ok());
    set_catalogue(std::make_shared<const Catalogue>(std::move(catalogue).value()));
    const auto refused = parse_value("1.2.3", Unit::volt, "");
    const std::string spoken = spoken_value(*ohms, Unit::ohm);
    set_catalogue(nullptr);
    REQUIRE_FALSE(refused.ok());
    CHECK(refused.error().message ==
          "\"1.2.3\" hat mehr als ein Komma; schreib Volt wie 35, 12.5m oder 12.5\u2009mV.");
    CHECK(spoken.find("Kilo-ohm") != std::string::npos);
}
