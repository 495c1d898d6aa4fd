#include "core/quantity/value_code.h"

#include "core/quantity/ascii.h"
#include "core/quantity/decimal.h"
#include "core/quantity/refusal.h"
#include "core/words/words.h"

#include <algorithm>
#include <array>
#include <cstddef>
#include <cstdint>
#include <optional>
#include <span>
#include <utility>

namespace railside {
namespace {

constexpr std::string_view k_thin_space = "\u2009";
constexpr std::string_view k_minus = "\u2212";

constexpr double k_limit = 1e15;  // |value| stays below
constexpr int k_most_digits = 15; // DBL_DIG: so many decimal digits always survive
constexpr std::size_t k_most_decimals = 40;

// ---------------------------------------------------------------------------------------------------------------------
// What can be written

struct Spelling {
    std::string_view text;
    int exponent = 0;
};

// µ is U+00B5 or U+03BC, whichever the keyboard sends.
constexpr std::array<Spelling, 10> k_prefix_spellings = {{
    {"", 0},
    {"p", -12},
    {"n", -9},
    {"u", -6},
    {"\u00b5", -6},
    {"\u03bc", -6},
    {"m", -3},
    {"k", 3},
    {"K", 3},
    {"M", 6},
}};

// Letters that stand for the decimal mark, IEC 60062.
constexpr std::array<Spelling, 6> k_ohm_letters = {
    {{"R", 0}, {"r", 0}, {"k", 3}, {"K", 3}, {"M", 6}, {"L", -3}}};
constexpr std::array<Spelling, 6> k_farad_letters = {
    {{"p", -12}, {"n", -9}, {"u", -6}, {"\u00b5", -6}, {"\u03bc", -6}, {"m", -3}}};
// Of those, the ones that may also end a value and are no SI prefix: "470R", "50L".
constexpr std::array<Spelling, 3> k_ohm_endings = {{{"R", 0}, {"r", 0}, {"L", -3}}};

constexpr std::array<std::string_view, 1> k_percent_names = {"%"};
constexpr std::array<std::string_view, 2> k_volt_names = {"V", "v"};
constexpr std::array<std::string_view, 2> k_ampere_names = {"A", "a"};
constexpr std::array<std::string_view, 6> k_ohm_names = {"\u03a9", "\u2126", "ohm",
                                                         "ohms",   "Ohm",    "Ohms"};
constexpr std::array<std::string_view, 2> k_watt_names = {"W", "w"};
constexpr std::array<std::string_view, 3> k_celsius_names = {"\u00b0C", "C", "degC"};
constexpr std::array<std::string_view, 1> k_kelvin_names = {"K"};
constexpr std::array<std::string_view, 1> k_second_names = {"s"};
constexpr std::array<std::string_view, 2> k_hertz_names = {"Hz", "hz"};
constexpr std::array<std::string_view, 1> k_farad_names = {"F"};
constexpr std::array<std::string_view, 1> k_kelvin_per_watt_names = {"K/W"};
constexpr std::array<std::string_view, 2> k_degree_names = {"\u00b0", "deg"};

std::span<const std::string_view> unit_names(Unit unit) {
    switch (unit) {
    case Unit::ratio:
        return {};
    case Unit::percent:
        return k_percent_names;
    case Unit::volt:
        return k_volt_names;
    case Unit::ampere:
        return k_ampere_names;
    case Unit::ohm:
        return k_ohm_names;
    case Unit::watt:
        return k_watt_names;
    case Unit::celsius:
        return k_celsius_names;
    case Unit::kelvin:
        return k_kelvin_names;
    case Unit::second:
        return k_second_names;
    case Unit::hertz:
        return k_hertz_names;
    case Unit::farad:
        return k_farad_names;
    case Unit::kelvin_per_watt:
        return k_kelvin_per_watt_names;
    case Unit::degree:
        return k_degree_names;
    }
    return {};
}

constexpr std::array<Unit, 12> k_named_units = {
    Unit::percent, Unit::volt,    Unit::ampere,          Unit::ohm,
    Unit::watt,    Unit::celsius, Unit::kelvin,          Unit::second,
    Unit::hertz,   Unit::farad,   Unit::kelvin_per_watt, Unit::degree,
};

std::span<const Spelling> code_letters(Unit unit) {
    switch (unit) {
    case Unit::ohm:
        return k_ohm_letters;
    case Unit::farad:
        return k_farad_letters;
    default:
        return {};
    }
}

bool takes_prefix(Unit unit, int exponent) {
    const auto prefixes = unit_info(unit).prefixes;
    return std::any_of(prefixes.begin(), prefixes.end(),
                       [&](const Prefix& p) { return p.exponent == exponent; });
}

const Prefix& prefix_of(int exponent) {
    const auto prefixes = all_prefixes();
    return *std::find_if(prefixes.begin(), prefixes.end(),
                         [&](const Prefix& p) { return p.exponent == exponent; });
}

/// The power of ten between what is typed and the SI value, apart from the prefix.
int unit_exponent(Unit unit) { return unit == Unit::percent ? -2 : 0; }

// ---------------------------------------------------------------------------------------------------------------------
// Pieces of text

std::string_view take_digits(std::string_view& rest) {
    std::size_t n = 0;
    while (n < rest.size() && is_digit(rest[n])) {
        ++n;
    }
    const auto taken = rest.substr(0, n);
    rest.remove_prefix(n);
    return taken;
}

bool take(std::string_view& rest, std::string_view token) {
    if (!rest.starts_with(token)) {
        return false;
    }
    rest.remove_prefix(token.size());
    return true;
}

/// Whether `rest` is the start of a token and no more, so that further bytes may complete it.
bool is_part_of(std::string_view rest, std::string_view token) {
    return !rest.empty() && rest.size() < token.size() && token.starts_with(rest);
}

// Besides the keyboard's own, the spaces printed between a number and its unit, so that what is
// copied reads back.
constexpr std::array<std::string_view, 5> k_spaces = {" ", "\t", "\u00a0", "\u2009", "\u202f"};

void take_spaces(std::string_view& rest) {
    while (std::any_of(k_spaces.begin(), k_spaces.end(),
                       [&](std::string_view s) { return take(rest, s); })) {
    }
}

bool is_part_of_space(std::string_view rest) {
    return std::any_of(k_spaces.begin(), k_spaces.end(),
                       [&](std::string_view s) { return is_part_of(rest, s); });
}

// ---------------------------------------------------------------------------------------------------------------------
// Sentences

/// "µ, m or k"; "" when the unit takes none.
std::string prefix_list(Unit unit) {
    std::array<std::string_view, 7> letters{};
    std::size_t n = 0;
    for (const Prefix& p : unit_info(unit).prefixes) {
        if (!p.letter.empty()) {
            letters[n++] = p.letter;
        }
    }
    std::string result;
    for (std::size_t i = 0; i < n; ++i) {
        if (i > 0 && i + 1 == n) {
            return worded("{} or {}", result, letters[i]);
        }
        result += i == 0 ? "" : ", ";
        result += letters[i];
    }
    return result;
}

std::string with_symbol(std::string_view number, std::string_view prefix, Unit unit) {
    std::string result(number);
    const auto symbol = unit_info(unit).symbol;
    if (!(prefix.empty() && symbol.empty()) && unit != Unit::degree) {
        result += k_thin_space;
    }
    result += prefix;
    result += symbol;
    return result;
}

/// What the field takes, to follow "write": "volts as 12, 12m or 12 mV".
std::string accepted(Unit unit) {
    switch (unit) {
    case Unit::ratio:
        return worded("a plain number such as 4 or 1.5");
    case Unit::percent:
        return worded("percent as 5 or {}", with_symbol("5", "", unit));
    case Unit::volt:
        return worded("volts as 35, 12.5m or {}", with_symbol("12.5", "m", unit));
    case Unit::ampere:
        return worded("amperes as 1.2, 45m or {}", with_symbol("45", "m", unit));
    case Unit::ohm:
        return worded("ohms as 0R22, 4k7, 470 or {}", with_symbol("4.7", "k", unit));
    case Unit::watt:
        return worded("watts as 70, 250m or {}", with_symbol("250", "m", unit));
    case Unit::celsius:
        return worded("degrees Celsius as 62 or {}", with_symbol("62", "", unit));
    case Unit::kelvin:
        return worded("kelvin as 15 or {}", with_symbol("15", "", unit));
    case Unit::second:
        return worded("seconds as 2, 20m or {}", with_symbol("20", "m", unit));
    case Unit::hertz:
        return worded("hertz as 50, 1k or {}", with_symbol("1", "k", unit));
    case Unit::farad:
        return worded("farads as 4n7, 100n, 3u3 or {}", with_symbol("4.7", "n", unit));
    case Unit::kelvin_per_watt:
        return worded("kelvin per watt as 0.7 or {}", with_symbol("0.7", "", unit));
    case Unit::degree:
        return worded("degrees as 45 or {}", with_symbol("45", "", unit));
    }
    return {};
}

/// "volt (V)", "a plain number"
std::string unit_named(Unit unit) {
    const UnitInfo& info = unit_info(unit);
    if (info.word.empty()) {
        return worded("a plain number");
    }
    return fmt::format("{} ({})", words(info.word), info.symbol);
}

// ---------------------------------------------------------------------------------------------------------------------
// The scanner

enum class Stage {
    complete,  // a value
    beginning, // not yet a value, but more characters can make it one
    refused,   // nothing that follows can make it a value
};

struct Scan {
    Stage stage = Stage::refused;
    std::string reason; // for what is not complete: what follows the quoted text in the refusal
    std::string form;   // what to write instead; empty for the general form

    bool negative = false;
    std::string_view whole;    // digits before the mark
    std::string_view fraction; // digits after it
    char mark = '\0';          // '.' or ',' as typed
    bool coded = false;        // a letter stood in the place of the mark
    std::uint64_t significand = 0;
    int digits = 1;   // significant digits typed
    int exponent = 0; // typed number = significand · 10^exponent
    int prefix = 0;   // power of ten
    double value = 0; // SI
    double step = 0;  // SI
};

Scan stopped(Stage stage, std::string reason, std::string form = {}) {
    Scan scan;
    scan.stage = stage;
    scan.reason = std::move(reason);
    scan.form = std::move(form);
    return scan;
}

/// Fills in significand, digits and exponent. False when there are more digits than a double holds.
bool weigh(Scan& scan) {
    int significant = 0;
    for (const std::string_view part : {scan.whole, scan.fraction}) {
        for (const char c : part) {
            if (significant > 0 || c != '0') {
                if (++significant > k_most_digits) {
                    return false;
                }
                scan.significand = scan.significand * 10 + static_cast<std::uint64_t>(c - '0');
            }
        }
    }
    // Nought has no significant digit; its decimals say how finely it was read.
    const int decimals = static_cast<int>(scan.fraction.size());
    scan.digits = significant > 0 ? significant : std::min(1 + decimals, k_most_digits);
    scan.exponent = -decimals;
    return true;
}

struct Suffix {
    std::size_t size = 0; // bytes of the longest prefix and name that is there in full; 0 for none
    int exponent = 0;     // of its prefix
    bool begun = false;   // all that is there is the start of one that is longer
};

void try_suffix(Suffix& best, std::string_view rest, const Spelling& prefix,
                std::string_view name) {
    const auto head = rest.substr(0, prefix.text.size());
    const auto tail = rest.substr(head.size(), name.size());
    if (!prefix.text.starts_with(head) || !name.starts_with(tail)) {
        return;
    }
    const auto size = prefix.text.size() + name.size();
    if (head.size() + tail.size() < size) {
        best.begun = true; // the text ends inside this one
    } else if (size > best.size) {
        best.size = size;
        best.exponent = prefix.exponent;
    }
}

enum class Prefixes {
    of_the_unit,
    all,
    none,
};
enum class Endings {
    letters, // "470R", "50L" as well
    names,
};

Suffix match_suffix(std::string_view rest, Unit unit, Prefixes prefixes, Endings endings) {
    Suffix best;
    for (const Spelling& prefix : k_prefix_spellings) {
        const bool usable =
            prefix.exponent == 0 || prefixes == Prefixes::all ||
            (prefixes == Prefixes::of_the_unit && takes_prefix(unit, prefix.exponent));
        if (!usable) {
            continue;
        }
        try_suffix(best, rest, prefix, "");
        for (const std::string_view name : unit_names(unit)) {
            try_suffix(best, rest, prefix, name);
        }
    }
    if (unit == Unit::ohm && endings == Endings::letters) {
        for (const Spelling& ending : k_ohm_endings) {
            try_suffix(best, rest, ending, "");
        }
    }
    return best;
}

/// The number so far with a mark, as it should have been written.
std::string plain_number(const Scan& scan, std::string_view more_digits = {}) {
    std::string result(scan.negative ? "-" : "");
    result += scan.whole.empty() ? "0" : scan.whole;
    if (!scan.fraction.empty() || !more_digits.empty()) {
        result += '.';
        result += scan.fraction;
        result += more_digits;
    }
    return result;
}

const Spelling* find_prefix(std::string_view text) {
    const auto* const found =
        std::find_if(k_prefix_spellings.begin(), k_prefix_spellings.end(),
                     [&](const Spelling& p) { return !p.text.empty() && p.text == text; });
    return found == k_prefix_spellings.end() ? nullptr : found;
}

/// The unit other than this field's that the text names, with any prefix.
std::optional<Unit> other_unit_named(std::string_view text, Unit unit) {
    if (find_prefix(text) != nullptr) {
        // A prefix alone is no unit; K is both, and where no kilo is taken a temperature is meant.
        return text == "K" && unit != Unit::kelvin && !takes_prefix(unit, 3)
                   ? std::optional(Unit::kelvin)
                   : std::nullopt;
    }
    for (const Unit other : k_named_units) {
        if (other != unit &&
            match_suffix(text, other, Prefixes::all, Endings::letters).size == text.size()) {
            return other;
        }
    }
    return std::nullopt;
}

/// 4m7, 5V6 where this field has no such code: says so, with the form to write.
std::optional<Scan> explain_code(const Scan& scan, std::string_view letters,
                                 std::string_view decimals, Unit unit) {
    const Spelling* const prefix = find_prefix(letters);
    const bool is_mark =
        letters == "R" || letters == "r" ||
        match_suffix(letters, unit, Prefixes::none, Endings::letters).size == letters.size();
    if (decimals.empty() || !scan.fraction.empty() || (prefix == nullptr && !is_mark)) {
        return std::nullopt;
    }
    std::string form;
    if (prefix == nullptr) {
        form = plain_number(scan, decimals);
    } else if (takes_prefix(unit, prefix->exponent)) {
        form = plain_number(scan, decimals) + std::string(letters);
    }
    const std::string letter(letters);
    return stopped(
        Stage::refused,
        unit == Unit::ohm
            ? worded("has {} in the place of the decimal mark, where ohms take R, k, M or L",
                     letter)
        : unit == Unit::farad
            ? worded("has {} in the place of the decimal mark, where farads take p, n, u or m",
                     letter)
            : worded(
                  "has {} in the place of the decimal mark, which is read for ohms and farads only",
                  letter),
        std::move(form));
}

/// Why what follows a number is no prefix or unit of this field. `rest` is not empty.
Scan explain_suffix(const Scan& scan, std::string_view rest, Unit unit) {
    const auto refused = [](std::string reason) {
        return stopped(Stage::refused, std::move(reason));
    };
    if (rest[0] == '.' || rest[0] == ',') {
        return refused(worded("has more than one decimal mark"));
    }
    if (is_digit(rest[0])) {
        return refused(worded("has a space between its digits"));
    }
    if (rest[0] == 'e' || rest[0] == 'E') {
        return refused(worded("uses an exponent, which is not read here"));
    }
    std::string_view after = rest;
    while (!after.empty() && !is_digit(after[0])) {
        after.remove_prefix(1);
    }
    const std::string_view letters = rest.substr(0, rest.size() - after.size());
    if (auto code = explain_code(scan, letters, take_digits(after), unit)) {
        return *std::move(code);
    }
    const std::string_view word = rest.substr(0, rest.find_last_not_of(" \t") + 1);
    if (const auto other = other_unit_named(word, unit)) {
        return refused(
            worded("is in {}, but this field takes {}", unit_named(*other), unit_named(unit)));
    }
    if (scan.coded) {
        return refused(worded("goes on with {} after a value that is complete", quoted(rest)));
    }
    const Suffix any = match_suffix(rest, unit, Prefixes::all, Endings::names);
    if (any.size != 0 && !takes_prefix(unit, any.exponent)) {
        const Prefix& prefix = prefix_of(any.exponent);
        const std::string list = prefix_list(unit);
        return refused(worded("has the prefix {} ({}), but this field takes {}", prefix.letter,
                              prefix.word, list.empty() ? worded("no prefix") : list));
    }
    const std::size_t used = match_suffix(rest, unit, Prefixes::of_the_unit, Endings::letters).size;
    if (used != 0) {
        return refused(worded("goes on with {} after {}", quoted(rest.substr(used)),
                              quoted(rest.substr(0, used))));
    }
    return refused(
        worded("ends in {}, which is neither a prefix nor a unit of this field", quoted(rest)));
}

/// 1,500 as typed: a comma before exactly three digits, one to three before it, no leading nought.
bool could_be_thousands(char mark, const Scan& scan) {
    return mark == ',' && scan.fraction.size() == 3 && !scan.whole.empty() &&
           scan.whole.size() <= 3 && scan.whole[0] != '0';
}

std::string without_trailing_noughts(std::string number) {
    number.resize(number.find_last_not_of('0') + 1);
    if (number.back() == '.') {
        number.pop_back();
    }
    return number;
}

Scan explain_thousands(Stage stage, const Scan& scan, std::string_view suffix, Unit unit) {
    const std::string with_point = plain_number(scan);
    const std::string small = without_trailing_noughts(with_point);
    std::string large(scan.negative ? "-" : "");
    large.append(scan.whole).append(scan.fraction);
    const bool in_kilo = suffix.empty() && takes_prefix(unit, 3);
    const std::string for_large = in_kilo ? small + "k" : large + std::string(suffix);
    return stopped(stage, worded("could mean {} or {}", large, small),
                   worded("{} for {}, or {} for {}", for_large, large,
                          with_point + std::string(suffix), small));
}

/// Reads sign and digits, and of a letter code its letter, up to the last digit. Returns what stops
/// it, if anything does.
std::optional<Scan> scan_number(Scan& scan, std::string_view& rest, Unit unit) {
    if (take(rest, "-") || take(rest, k_minus)) {
        scan.negative = true;
    } else if (is_part_of(rest, k_minus)) {
        return stopped(Stage::beginning, worded("has no digit"));
    } else {
        take(rest, "+");
    }
    scan.whole = take_digits(rest);
    if (!rest.empty() && (rest[0] == '.' || rest[0] == ',')) {
        scan.mark = rest[0];
        rest.remove_prefix(1);
        scan.fraction = take_digits(rest);
        if (scan.fraction.empty()) {
            if (!rest.empty() && (rest[0] == '.' || rest[0] == ',')) {
                return stopped(Stage::refused, worded("has more than one decimal mark"));
            }
            return stopped(rest.empty() ? Stage::beginning : Stage::refused,
                           worded("has no digit after the decimal mark"));
        }
        return std::nullopt;
    }
    const auto letters = code_letters(unit);
    for (const Spelling& letter : letters) {
        std::string_view after = rest;
        if (take(after, letter.text) && !after.empty() && is_digit(after[0])) {
            scan.fraction = take_digits(after);
            scan.prefix = letter.exponent;
            scan.coded = true;
            rest = after;
            return std::nullopt;
        }
    }
    if (!scan.whole.empty()) {
        return std::nullopt;
    }
    const bool begun =
        rest.empty() || std::any_of(letters.begin(), letters.end(), [&](const Spelling& letter) {
            return letter.text == rest || is_part_of(rest, letter.text);
        });
    return stopped(begun ? Stage::beginning : Stage::refused, worded("has no digit to begin with"));
}

Scan scan_value(const std::string_view text, Unit unit) {
    std::string_view rest = text;
    take_spaces(rest);
    if (rest.empty() || is_part_of_space(rest)) {
        return stopped(Stage::beginning, worded("is empty"));
    }
    Scan scan;
    if (auto stop = scan_number(scan, rest, unit)) {
        return *std::move(stop);
    }
    if (!weigh(scan)) {
        return stopped(Stage::refused,
                       worded("has more than {} significant digits, more than are kept without "
                              "rounding",
                              k_most_digits),
                       worded("fewer digits"));
    }
    if (scan.fraction.size() > k_most_decimals) {
        return stopped(Stage::refused, worded("has more than {} decimals", k_most_decimals),
                       worded("fewer decimals or a smaller prefix"));
    }

    scan.stage = Stage::complete;
    const bool ends_in_digit = rest.empty();
    std::string_view suffix_text;
    take_spaces(rest);
    if (!rest.empty() && !is_part_of_space(rest)) {
        const Suffix suffix =
            scan.coded ? match_suffix(rest, unit, Prefixes::none, Endings::names)
                       : match_suffix(rest, unit, Prefixes::of_the_unit, Endings::letters);
        std::string_view after = rest.substr(suffix.size);
        if (suffix.size != 0) {
            take_spaces(after);
        }
        if (suffix.size != 0 && (after.empty() || is_part_of_space(after))) {
            suffix_text = rest.substr(0, suffix.size);
            scan.prefix += suffix.exponent;
            rest = after;
        } else if (suffix.begun) {
            suffix_text = rest;
        } else {
            return explain_suffix(scan, rest, unit);
        }
    }
    if (!rest.empty()) {
        scan.stage = Stage::beginning;
        scan.reason = worded("ends in the middle of its unit");
    }
    if (could_be_thousands(scan.mark, scan)) {
        return explain_thousands(ends_in_digit ? Stage::beginning : Stage::refused, scan,
                                 suffix_text, unit);
    }

    const int exponent = scan.exponent + scan.prefix + unit_exponent(unit);
    scan.value = nearest_double(scan.significand, exponent);
    scan.step = nearest_double(1, exponent);
    if (scan.value >= k_limit) {
        return stopped(Stage::refused, worded("is too large to be a value of this field"));
    }
    scan.value = scan.negative && scan.significand != 0 ? -scan.value : scan.value;
    return scan;
}

Error refuse(const Scan& scan, std::string_view text, Unit unit, std::string_view field) {
    std::string_view rest = text;
    take_spaces(rest);
    const std::string form = scan.form.empty() ? accepted(unit) : scan.form;
    return refusal(ErrorCode::bad_text, field,
                   rest.empty() ? worded("nothing is typed yet; write {}.", form)
                                : worded("{} {}; write {}.", quoted(text), scan.reason, form));
}

} // namespace

Result<ParsedValue> parse_value(std::string_view text, Unit unit, std::string_view field) {
    const Scan scan = scan_value(text, unit);
    if (scan.stage != Stage::complete) {
        return refuse(scan, text, unit, field);
    }
    return ParsedValue{scan.value, scan.step, scan.digits, std::string(text)};
}

Result<Done> check_beginning(std::string_view text, Unit unit, std::string_view field) {
    const Scan scan = scan_value(text, unit);
    if (scan.stage == Stage::refused) {
        return refuse(scan, text, unit, field);
    }
    return Done{};
}

std::string spoken_value(const ParsedValue& parsed, Unit unit) {
    const Scan scan = scan_value(parsed.text, unit);
    if (scan.stage != Stage::complete) {
        return print_value(parsed.value, unit, parsed.digits);
    }
    const UnitInfo& info = unit_info(unit);
    const std::string sign(scan.negative && scan.significand != 0 ? k_minus : "");

    Decimal number;
    number.digits = std::to_string(scan.significand);
    if (scan.significand == 0) {
        number.digits.resize(static_cast<std::size_t>(scan.digits), '0');
    } else {
        number.exponent = scan.exponent + scan.digits - 1;
    }
    std::string result = sign + positional(number, 0, Grouping::sentence);
    if (info.word.empty()) {
        return result;
    }
    result += ' ';
    if (scan.prefix == 0) {
        return result.append(words(info.word));
    }
    const bool is_ohm =
        unit == Unit::ohm; // "milli-ohm": two vowels would meet in half of its prefixes
    result.append(words(prefix_of(scan.prefix).word))
        .append(is_ohm ? "-" : "")
        .append(words(info.word))
        .append(" = ");
    if (scan.significand == 0) {
        number.digits = "0";
    }
    result += sign + positional(number, scan.prefix, Grouping::sentence);
    return result.append(is_ohm ? " " : k_thin_space)
        .append(is_ohm ? words(info.word) : info.symbol);
}

} // namespace railside
