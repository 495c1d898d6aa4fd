// Reading and printing values the way the trade writes them: SI prefixes and IEC 60062 letter
// codes.
//
// Accepted: digits with at most one decimal mark ('.' or ','), an optional sign (+, - or −), an
// optional SI prefix (p n u µ μ m k K M, those of unit_info(unit).prefixes) and an optional unit
// ("12 mV", "12m", "1u", "4.7 kohm", "5 %" for percent fields), or for ohms and farads a letter in
// the place of the mark ("4k7", "R22", "0R22", "4K7", "1M0", "22R", "0L22" = 0.22 milliohm, "3u3").
// Space may stand between number and prefix. A comma is a decimal mark; what could be a thousands
// group ("1,500": three digits after the comma, one to three before it, no leading nought) is
// refused with a hint. 'm' is always milli and 'M' always mega. No exponent form, no digit left out
// after the mark. At most 15 significant digits and 40 decimals, so that nothing is ever rounded:
// every accepted text is the double nearest to what was typed. No locale takes part.
// Sources: IEC 60062 (letter codes); SI brochure, 9th edition, table 7 (prefixes) and section 5.4
// (how values are written).
#pragma once

#include "core/quantity/amount.h"
#include "core/quantity/unit.h"
#include "core/result.h"

#include <string>
#include <string_view>

namespace railside {

/// A value as understood from a text.
struct ParsedValue {
    double value = 0; // SI base units (percent: the fraction)
    double step = 0;  // the value of the last digit typed, SI ("12.0m" -> 0.0001)
    int digits = 1;   // significant digits typed ("12.0" -> 3, "0R22" -> 2; nought: "0.00" -> 3)
    std::string text; // exactly what was typed
};

/// Reads one value. `field` is the label used in the refusal. Errors: bad_text (names the text, the
/// reason and the accepted form). No range is checked here beyond |value| < 1e15.
[[nodiscard]] Result<ParsedValue> parse_value(std::string_view text, Unit unit,
                                              std::string_view field);

/// Whether a text is on the way to being one (typing "4k" before "4k7"); a keypad blocks a key
/// that makes it neither valid nor a beginning. Exact byte by byte: half a character passes where
/// the whole one would. "1,500" passes, for "1,5000" is a value. The refusal says why.
[[nodiscard]] Result<Done> check_beginning(std::string_view text, Unit unit,
                                           std::string_view field);

/// As spoken back while typing: "12 millivolt = 0.012 V", "4.7 kilo-ohm = 4 700 ohm"; for no prefix
/// "11 volt". The digits are those typed; thin spaces part threes and stand before a symbol, an
/// ordinary space before a word. Falls back to print_value when parsed.text is no value.
[[nodiscard]] std::string spoken_value(const ParsedValue& parsed, Unit unit);

/// "12.0 mV": engineering prefix that fits the unit, exactly `digits` significant digits (1 to 15;
/// trailing zeros kept), thin space (U+2009), true minus sign (U+2212). Half to even on the decimal
/// expansion of the double; the prefix is chosen after rounding. Ohms from 0.1 to below 1000 take
/// no prefix. Beyond the unit's prefixes digits are filled with zeros ("440 mA" for 0.436 A to two
/// digits) and five or more before the mark are parted into threes ("12 345"). What is not finite
/// is printed as "not a number" or "infinite".
[[nodiscard]] std::string print_value(double value, Unit unit, int digits);

/// Like print_value, with just the digits that carry (trailing zeros dropped), at most `digits`.
[[nodiscard]] std::string print_short(double value, Unit unit, int digits = 3);

/// Every digit needed to read the same double back, prefix form, ASCII only ("12.05m", "4.7k",
/// "-0.022"): parse_value gives the identical double for every value with at most 15 significant
/// digits (one that needs 16 or 17, as a computed one may, is refused when typed).
/// Magnitudes from 1e-25 to below 1e15, percentages to 1e13.
[[nodiscard]] std::string print_exact(double value, Unit unit);

/// "0R22", "4k7", "470R", "1M0": IEC 60062 letter code, for ohms and farads, all digits kept. R is
/// used down to "0R01", then L ("5L0" = 5 milliohm). Other units: print_exact.
[[nodiscard]] std::string print_code(double value, Unit unit);

/// "411–464 mA": both ends in one prefix, `digits` significant digits for the larger end, both
/// to the same place; "−12 to 12 mV" where an end is negative, one number where both print alike.
[[nodiscard]] std::string print_range(double low, double high, Unit unit, int digits = 3);

/// A number from a file or a program (JSON-free text): [-]digits[.digits][e[-]digits] ('+' and
/// 'E' as well), locale-free, at most 17 significant digits, zeros at either end not counted; not
/// for what people type. Nearest double; too small is zero. Errors: bad_text, out_of_range.
[[nodiscard]] Result<double> parse_plain_number(std::string_view text, std::string_view field);

} // namespace railside
