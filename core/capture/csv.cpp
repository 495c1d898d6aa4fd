#include "core/capture/csv.h"

#include "core/quantity/decimal.h"
#include "core/quantity/refusal.h"
#include "core/words/words.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdint>
#include <limits>
#include <optional>
#include <utility>

namespace railside {

namespace {

constexpr double k_no_reading = std::numeric_limits<double>::quiet_NaN();
constexpr double k_infinite = std::numeric_limits<double>::infinity();
// SCPI-99, 7.2.1: 9.9E37 stands for infinity and 9.91E37 for not a number.
constexpr double k_scpi_infinite = 9.9e37;
constexpr double k_scpi_no_reading = 9.91e37;
constexpr int k_kept_digits = 15;          // below 2^53, so that one division rounds right
constexpr int k_exact_power = 22;          // 10^22 is the last power of ten a double holds exactly
constexpr std::size_t k_probe_lines = 64;  // looked at in the middle to learn the dialect
constexpr std::size_t k_most_columns = 64; // of a line; those beyond are not looked at
constexpr std::size_t k_most_numbers = 2 * k_most_channels + 1; // columns of numbers that are read
constexpr std::size_t k_most_header = 2000; // lines before the samples that are searched
constexpr std::size_t k_restart_rows = 8;   // fewer rows before a line of text are part of the head
constexpr std::size_t k_most_line_bytes = 100'000;

// ---------------------------------------------------------------------------------- text

std::string_view trimmed(std::string_view text) {
    constexpr std::string_view k_spaces = " \t\f\v";
    const auto first = text.find_first_not_of(k_spaces);
    return first == std::string_view::npos
               ? std::string_view{}
               : text.substr(first, text.find_last_not_of(k_spaces) - first + 1);
}

std::string lowered(std::string_view text) {
    std::string result(text);
    for (char& c : result) {
        c = c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c;
    }
    return result;
}

/// Small letters, with the micro sign in each of its codings as "u".
std::string unit_letters(std::string_view text) {
    std::string result;
    for (std::size_t i = 0; i < text.size(); ++i) {
        const std::string_view rest = text.substr(i);
        if (rest.starts_with("\u00b5") || rest.starts_with("\u03bc")) {
            result += 'u';
            ++i;
        } else {
            result += rest.front() == '\xb5' ? 'u' : rest.front();
        }
    }
    return result;
}

void append_utf8(std::string& text, std::uint32_t code) {
    if (code < 0x80) {
        text += static_cast<char>(code);
    } else if (code < 0x800) {
        text += static_cast<char>(0xc0U | code >> 6U);
        text += static_cast<char>(0x80U | (code & 0x3fU));
    } else {
        text += static_cast<char>(0xe0U | code >> 12U);
        text += static_cast<char>(0x80U | (code >> 6U & 0x3fU));
        text += static_cast<char>(0x80U | (code & 0x3fU));
    }
}

/// UTF-16 without its mark. What lies beyond the basic plane only ever stands in a name: it becomes
/// two question marks.
std::string from_utf16(std::string_view bytes, std::size_t high_byte) {
    std::string text;
    text.reserve(bytes.size() / 2);
    for (std::size_t i = 0; i + 1 < bytes.size(); i += 2) {
        const auto code =
            static_cast<std::uint32_t>(static_cast<unsigned char>(bytes[i + high_byte]) << 8U |
                                       static_cast<unsigned char>(bytes[i + 1 - high_byte]));
        append_utf8(text, code >= 0xd800 && code < 0xe000 ? '?' : code);
    }
    return text;
}

/// The lines of a text, whichever way they end.
class Lines {
  public:
    Lines(std::string_view text, std::size_t begin, std::size_t number)
        : text_(text), at_(begin), number_(number) {}

    [[nodiscard]] bool next(std::string_view& line) {
        if (at_ >= text_.size()) {
            return false;
        }
        const auto end = std::min(text_.find_first_of("\r\n", at_), text_.size());
        line = text_.substr(at_, end - at_);
        at_ = end + (text_.substr(end).starts_with("\r\n") ? 2 : 1);
        ++number_;
        return true;
    }
    [[nodiscard]] std::size_t number() const { return number_; } // of the last line, from 1
    [[nodiscard]] std::size_t at() const { return at_; }

  private:
    std::string_view text_;
    std::size_t at_;
    std::size_t number_;
};

// ---------------------------------------------------------------------------------- cells

/// How the cells of a line are told apart and how a number is written.
struct Dialect {
    char separator = ','; // ' ' for any run of blanks, 0 for one cell a line
    char decimal = '.';
};

/// Cells of one line, without quotes and blanks; no allocation once it has grown.
class Cells {
  public:
    void split(std::string_view line, char separator) {
        count_ = 0;
        if (separator == 0) {
            add(trimmed(line));
            return;
        }
        if (separator == ' ') {
            line = trimmed(line);
        }
        std::size_t at = 0;
        while (at <= line.size() && count_ < k_most_columns) {
            at = separator == ' ' ? std::min(line.find_first_not_of(" \t", at), line.size()) : at;
            const auto first = line.find_first_not_of(separator == '\t' ? " " : " \t", at);
            const auto close = first != std::string_view::npos && line[first] == '"'
                                   ? line.find('"', first + 1)
                                   : std::string_view::npos;
            const std::size_t end =
                find_end(line, close == std::string_view::npos ? at : close, separator);
            const bool quoted = close != std::string_view::npos &&
                                trimmed(line.substr(close + 1, end - close - 1)).empty();
            add(trimmed(quoted ? line.substr(first + 1, close - first - 1)
                               : line.substr(at, end - at)));
            at = end + 1;
        }
    }
    [[nodiscard]] std::size_t size() const { return count_; }
    /// Empty beyond the last.
    [[nodiscard]] std::string_view operator[](std::size_t i) const {
        return i < count_ ? cells_[i] : std::string_view{};
    }

  private:
    static std::size_t find_end(std::string_view line, std::size_t at, char separator) {
        return std::min(separator == ' ' ? line.find_first_of(" \t", at) : line.find(separator, at),
                        line.size());
    }
    void add(std::string_view cell) { cells_[count_++] = cell; }

    std::array<std::string_view, k_most_columns> cells_{};
    std::size_t count_ = 0;
};

/// A number at the beginning of a cell, and what follows it.
struct Number {
    double value = 0;
    double step = 0; // of its last digit
    std::string_view rest;
};

double scaled(std::uint64_t digits, int exponent) {
    double value = 0;
    if (exponent >= -k_exact_power && exponent <= k_exact_power) {
        value = nearest_double(digits, exponent);
    } else {
        value = static_cast<double>(digits) * std::pow(10.0, exponent);
    }
    return value;
}

std::optional<Number> number_in(std::string_view cell, char decimal) {
    const char* at = cell.data();
    const char* const end = at + cell.size();
    const auto is_digit = [end](const char* p) { return p < end && *p >= '0' && *p <= '9'; };
    bool negative = false;
    if (at < end && (*at == '-' || *at == '+')) {
        negative = *at++ == '-';
    } else if (cell.starts_with("\u2212")) {
        negative = true;
        at += std::string_view("\u2212").size();
    }
    std::uint64_t digits = 0;
    int kept = 0;
    int exponent = 0;
    bool any = false;
    bool after_mark = false;
    for (;; ++at) {
        if (is_digit(at)) {
            any = true;
            if (kept < k_kept_digits) {
                digits = digits * 10 + static_cast<std::uint64_t>(*at - '0');
                kept += digits > 0 ? 1 : 0;
                exponent -= after_mark ? 1 : 0;
            } else {
                exponent += after_mark ? 0 : 1;
            }
        } else if (at < end && *at == decimal && !after_mark && (any || is_digit(at + 1)) &&
                   (decimal == '.' || is_digit(at + 1))) {
            after_mark = true;
        } else {
            break;
        }
    }
    if (!any) {
        return std::nullopt;
    }
    if (at < end && (*at == 'e' || *at == 'E')) {
        const char* power = at + 1;
        const bool minus = power < end && *power == '-';
        power += power < end && (*power == '-' || *power == '+') ? 1 : 0;
        if (is_digit(power)) {
            int given = 0;
            for (; is_digit(power); ++power) {
                given = std::min(given * 10 + (*power - '0'), 1000);
            }
            exponent += minus ? -given : given;
            at = power;
        }
    }
    const double size = scaled(digits, exponent);
    return Number{negative ? -size : size, scaled(1, exponent),
                  trimmed({at, static_cast<std::size_t>(end - at)})};
}

/// Words that stand where a number would.
std::optional<double> word_value(std::string_view cell) {
    if (cell.size() > 16) {
        return std::nullopt;
    }
    static constexpr std::array<std::string_view, 16> k_none{
        "nan", "-nan", "n/a",       "na",        "null",    "none", "-",    "--",
        "---", "----", "no signal", "no_signal", "invalid", "?",    "#n/a", "no reading"};
    static constexpr std::array<std::string_view, 16> k_over{
        "inf",   "infinity",   "+infinity", "ol",      "+ol",  "over", "overrange", "overload",
        "+over", "over range", "ovr",       "clipped", "clip", "+inf", "\u221e",    "+overrange"};
    static constexpr std::array<std::string_view, 8> k_under{
        "-inf", "-infinity", "-ol", "-over", "-\u221e", "-overrange", "under", "underrange"};
    const std::string word = lowered(cell);
    const auto is_in = [&word](const auto& words) {
        return std::find(words.begin(), words.end(), word) != words.end();
    };
    if (is_in(k_over)) {
        return k_infinite;
    }
    if (is_in(k_under)) {
        return -k_infinite;
    }
    if (is_in(k_none) || word.find_first_not_of('*') == std::string::npos) {
        return k_no_reading;
    }
    return std::nullopt;
}

// ---------------------------------------------------------------------------------- units

/// What a line of the head can give: the time between samples, or how many there are in a second.
enum class StepWord { none, interval, rate };

enum class UnitKind { time, volt, rate, other };

struct CellUnit {
    UnitKind kind = UnitKind::other;
    double factor = 1;
};

/// The unit a text is, if it is one.
std::optional<CellUnit> unit_of(std::string_view text) {
    struct Known {
        std::string_view text;
        UnitKind kind;
        double factor;
    };
    static constexpr std::array k_known{
        Known{"s", UnitKind::time, 1},       Known{"sec", UnitKind::time, 1},
        Known{"secs", UnitKind::time, 1},    Known{"second", UnitKind::time, 1},
        Known{"seconds", UnitKind::time, 1}, Known{"ms", UnitKind::time, 1e-3},
        Known{"msec", UnitKind::time, 1e-3}, Known{"us", UnitKind::time, 1e-6},
        Known{"usec", UnitKind::time, 1e-6}, Known{"ns", UnitKind::time, 1e-9},
        Known{"nsec", UnitKind::time, 1e-9}, Known{"ps", UnitKind::time, 1e-12},
        Known{"v", UnitKind::volt, 1},       Known{"volt", UnitKind::volt, 1},
        Known{"volts", UnitKind::volt, 1},   Known{"kv", UnitKind::volt, 1e3},
        Known{"mv", UnitKind::volt, 1e-3},   Known{"millivolt", UnitKind::volt, 1e-3},
        Known{"uv", UnitKind::volt, 1e-6},   Known{"hz", UnitKind::rate, 1},
        Known{"khz", UnitKind::rate, 1e3},   Known{"mhz", UnitKind::rate, 1e6},
        Known{"ghz", UnitKind::rate, 1e9},   Known{"sa/s", UnitKind::rate, 1},
        Known{"ksa/s", UnitKind::rate, 1e3}, Known{"msa/s", UnitKind::rate, 1e6},
        Known{"gsa/s", UnitKind::rate, 1e9}, Known{"s/s", UnitKind::rate, 1},
        Known{"ks/s", UnitKind::rate, 1e3},  Known{"ms/s", UnitKind::rate, 1e6},
        Known{"gs/s", UnitKind::rate, 1e9},  Known{"a", UnitKind::other, 1},
        Known{"ampere", UnitKind::other, 1}, Known{"ma", UnitKind::other, 1},
        Known{"w", UnitKind::other, 1},      Known{"db", UnitKind::other, 1},
        Known{"dbv", UnitKind::other, 1},    Known{"dbm", UnitKind::other, 1},
    };
    const std::string unit = lowered(unit_letters(trimmed(text)));
    for (const Known& known : k_known) {
        if (known.text == unit) {
            return CellUnit{known.kind, known.factor};
        }
    }
    return std::nullopt;
}

/// A prefix that stands alone behind a number: "250k". For a rate m is mega, else milli.
std::optional<double> lone_prefix(std::string_view text, StepWord word) {
    const std::string letter = unit_letters(text);
    if (letter == "k" || letter == "K") {
        return 1e3;
    }
    if (letter == "M" || letter == "m") {
        return word == StepWord::rate ? 1e6 : 1e-3;
    }
    if (letter == "u") {
        return 1e-6;
    }
    return letter == "n" ? std::optional(1e-9) : std::nullopt;
}

/// The unit a heading names: "ms", "Time (ms)", "CH1 [mV]", "in s", "C1 in V", "volts/V".
std::optional<CellUnit> unit_in_heading(std::string_view heading) {
    if (const auto whole = unit_of(heading); whole && lowered(heading) != "a") {
        return whole;
    }
    for (const std::string_view ends : {"()", "[]", "{}"}) {
        const auto close = heading.rfind(ends[1]);
        const auto open = close == std::string_view::npos ? close : heading.rfind(ends[0], close);
        if (open != std::string_view::npos) {
            if (const auto inner = unit_of(heading.substr(open + 1, close - open - 1))) {
                return inner;
            }
        }
    }
    // "Channel A" is no current.
    const auto last = heading.find_last_of(" /,_:");
    const auto unit =
        last == std::string_view::npos ? std::nullopt : unit_of(heading.substr(last + 1));
    return unit && unit->kind != UnitKind::other ? unit : std::nullopt;
}

bool names_time(std::string_view heading) {
    const std::string word = lowered(heading);
    return word.starts_with("time") || word == "t" || word.starts_with("zeit") ||
           word.starts_with("temps") || word.starts_with("tiempo") || word.starts_with("tempo");
}

bool names_index(std::string_view heading) {
    const std::string word = lowered(heading);
    for (const std::string_view known : {"sequence", "index", "sample", "samples", "no.", "no", "n",
                                         "point", "points", "#", "nr", "nr."}) {
        if (word == known) {
            return true;
        }
    }
    return false;
}

/// What a heading or a key of the head says about the time between samples.
StepWord step_word(std::string_view text) {
    std::string word;
    for (const char c : lowered(text)) {
        word += (c >= 'a' && c <= 'z') ? std::string(1, c) : std::string();
    }
    const auto starts = [&word](std::string_view begin) { return word.starts_with(begin); };
    if (starts("samplerate") || starts("samplingrate") || starts("samplefrequency") ||
        starts("samplingfrequency") || word == "fs" || word == "rate" ||
        starts("samplespersecond")) {
        return StepWord::rate;
    }
    if (starts("sampleinterval") || starts("samplinginterval") || starts("sampleperiod") ||
        starts("samplingperiod") || starts("sampletime") || starts("samplestep") ||
        starts("xincrement") || starts("xincr") || word == "increment" || word == "dt" ||
        starts("deltat") || starts("timestep") || starts("timeincrement") ||
        starts("timeinterval") || word == "hresolution" || starts("horizontalinterval") ||
        word == "interval") {
        return StepWord::interval;
    }
    return StepWord::none;
}

// ---------------------------------------------------------------------------------- reading

/// One column of numbers.
struct Column {
    std::size_t at = 0; // place in the line, from 0
    std::string name;
    std::optional<CellUnit> unit;
};

class Table {
  public:
    Table(std::string_view text, std::string_view name) : text_(text), name_(name) {}

    Result<Recording> read();

  private:
    [[nodiscard]] Error refuse(ErrorCode code, const std::string& sentence) const {
        return refusal(code, name_, sentence);
    }
    /// The value of a cell that holds a number, alone or with a unit behind it, or a word for one.
    [[nodiscard]] std::optional<double> value_of(std::string_view cell) const;
    [[nodiscard]] bool find_dialect();
    [[nodiscard]] Error no_numbers();
    void find_columns(std::size_t begin);
    void note_step(std::string_view key, std::string_view value, std::string_view unit);
    [[nodiscard]] Result<Done> read_rows();
    [[nodiscard]] char head_separator(std::string_view line) const;
    [[nodiscard]] std::vector<std::string> bracketed(std::string_view line) const;
    void read_head();
    [[nodiscard]] Result<Done> pick_time();
    [[nodiscard]] Result<Done> read_times(Recording& recording);
    [[nodiscard]] bool rises(const std::vector<double>& values) const;

    std::string_view text_;
    std::string_view name_;
    Dialect dialect_;
    std::vector<Column> columns_;
    std::vector<std::vector<double>> values_;                    // by column of numbers
    std::vector<std::size_t> lines_;                             // of the first rows, for refusals
    std::vector<std::pair<std::size_t, std::string_view>> head_; // lines that may explain something
    double time_digit_ = 0; // the coarsest last digit of the leading column
    std::size_t first_line_ = 0;
    std::size_t restart_ = 0;           // the last line of text below a few rows of numbers
    std::optional<std::size_t> time_;   // which of columns_
    std::optional<double> step_s_;      // from the head
    std::optional<CellUnit> side_volt_; // "Vertical units" beside the samples
    std::optional<CellUnit> side_time_; // "Horizontal units"
    std::vector<std::string> notes_;
    Cells cells_;
};

std::optional<double> Table::value_of(std::string_view cell) const {
    const auto number = number_in(cell, dialect_.decimal);
    if (!number) {
        return cell.empty() ? std::optional(k_no_reading) : word_value(cell);
    }
    double value = number->value;
    if (!number->rest.empty()) {
        const auto unit = unit_of(number->rest);
        if (!unit || (unit->kind != UnitKind::time && unit->kind != UnitKind::volt)) {
            return std::nullopt;
        }
        value *= unit->factor;
    }
    if (std::abs(value) >= k_scpi_infinite * 0.9999) {
        return std::abs(value) >= k_scpi_no_reading * 0.9999 ? k_no_reading
                                                             : std::copysign(k_infinite, value);
    }
    return value;
}

/// How many cells of the line hold numbers; nothing when one holds something else.
std::optional<std::size_t> numbers_in(const Cells& cells, const auto& value_of) {
    std::size_t count = 0;
    for (std::size_t i = 0; i < cells.size(); ++i) {
        if (cells[i].empty()) {
            continue;
        }
        const auto value = value_of(cells[i]);
        if (!value) {
            return std::nullopt;
        }
        count += std::isfinite(*value) ? 1 : 0;
    }
    return count;
}

/// From the middle of the file, where there are only samples: the dialect in which most lines are
/// all numbers.
bool Table::find_dialect() {
    std::size_t begin = text_.size() / 2;
    const auto to_line = [this](std::size_t at) {
        const auto end = text_.find_first_of("\r\n", at);
        return end == std::string_view::npos ? text_.size() : end + 1;
    };
    // Short files are looked at whole, in case half of them is head.
    begin = text_.size() < 4000 ? 0 : to_line(begin);
    std::size_t best = 0;
    Dialect found;
    for (const char decimal : {'.', ','}) {
        for (const char separator : {'\t', ';', ',', '|', ' ', '\0'}) {
            dialect_ = {separator, decimal};
            Lines lines(text_, begin, 0);
            std::size_t fitting = 0;
            std::string_view line;
            const std::size_t most = begin == 0 ? 10 * k_probe_lines : k_probe_lines;
            for (std::size_t i = 0; i < most && lines.next(line); ++i) {
                if (line.size() > k_most_line_bytes) {
                    return false;
                }
                cells_.split(line, separator);
                const auto numbers =
                    numbers_in(cells_, [this](std::string_view cell) { return value_of(cell); });
                fitting += numbers && *numbers > 0 ? 1 : 0;
            }
            if (fitting > best) {
                best = fitting;
                found = dialect_;
            }
        }
    }
    dialect_ = found;
    if (best == 0) {
        return false;
    }
    find_columns(begin);
    return !columns_.empty();
}

/// Names the first cell in the middle of the file that is no number, told apart by whichever
/// separator there is most of.
Error Table::no_numbers() {
    std::size_t most = 0;
    dialect_ = {0, '.'};
    for (const char separator : {'\t', ';', ',', '|'}) {
        const auto count =
            static_cast<std::size_t>(std::count(text_.begin(), text_.end(), separator));
        if (count > most) {
            most = count;
            dialect_.separator = separator;
        }
    }
    std::size_t last = 1;
    std::size_t column = 1;
    std::string_view found;
    Lines lines(text_, 0, 0);
    std::string_view line;
    while (lines.next(line) && (found.empty() || lines.at() < text_.size() / 2)) {
        cells_.split(line.substr(0, k_most_line_bytes), dialect_.separator);
        for (std::size_t c = 0; c < cells_.size(); ++c) {
            if (!cells_[c].empty() && !value_of(cells_[c])) {
                last = lines.number();
                column = c + 1;
                found = cells_[c];
                break;
            }
        }
    }
    return refuse(ErrorCode::bad_text,
                  worded("line {}, column {}: {} is not a number; rows of a time and one or "
                         "two voltages were expected.",
                         last, column, quoted(found)));
}

/// The columns that hold numbers in nearly all of those lines.
void Table::find_columns(std::size_t begin) {
    std::array<std::size_t, k_most_columns> filled{};
    std::size_t rows = 0;
    bool whole_pairs = dialect_.separator == ',' && dialect_.decimal == '.';
    bool zeros_lead = false;
    std::vector<double> first;
    Lines lines(text_, begin, 0);
    std::string_view line;
    const std::size_t most = begin == 0 ? 10 * k_probe_lines : k_probe_lines;
    for (std::size_t i = 0; i < most && lines.next(line); ++i) {
        cells_.split(line, dialect_.separator);
        const auto numbers =
            numbers_in(cells_, [this](std::string_view cell) { return value_of(cell); });
        if (!numbers || *numbers == 0) {
            continue;
        }
        ++rows;
        for (std::size_t c = 0; c < cells_.size(); ++c) {
            filled[c] += cells_[c].empty() ? 0 : 1;
        }
        const bool pair = cells_.size() == 2 && !cells_[0].empty() && !cells_[1].empty() &&
                          cells_[1].find_first_not_of("0123456789") == std::string_view::npos &&
                          cells_[0].find_first_not_of("+-0123456789") == std::string_view::npos &&
                          line.find(' ') == std::string_view::npos &&
                          line.find('"') == std::string_view::npos;
        whole_pairs = whole_pairs && pair;
        zeros_lead = zeros_lead || (cells_[1].size() > 1 && cells_[1].front() == '0');
        first.push_back(value_of(cells_[0]).value_or(k_no_reading));
    }
    // "1,25" a line is one number with a decimal comma, unless the first part counts up.
    if (whole_pairs && (zeros_lead || !rises(first))) {
        dialect_ = {0, ','};
        columns_ = {Column{}};
        return;
    }
    columns_.clear();
    for (std::size_t c = 0; c < k_most_columns; ++c) {
        if (filled[c] * 2 > rows && columns_.size() < k_most_numbers) {
            columns_.push_back({c, {}, {}});
        }
    }
}

bool Table::rises(const std::vector<double>& values) const {
    for (std::size_t i = 1; i < values.size(); ++i) {
        if (!(values[i] > values[i - 1])) {
            return false;
        }
    }
    return values.size() > 1;
}

Result<Done> Table::read_rows() {
    values_.assign(columns_.size(), {});
    const std::size_t most_rows = k_most_samples / columns_.size();
    std::optional<Error> stray; // a line that is no row, forgiven when no row follows
    std::array<double, k_most_columns> row{};
    Lines lines(text_, 0, 0);
    std::string_view line;
    while (lines.next(line)) {
        if (trimmed(line).empty()) {
            continue;
        }
        if (line.size() > k_most_line_bytes) {
            return refuse(ErrorCode::bad_text,
                          worded("line {} has {} characters; a line of samples was expected.",
                                 lines.number(), line.size()));
        }
        cells_.split(line, dialect_.separator);
        std::size_t bad = columns_.size();
        bool any = !values_.front().empty(); // the first row has a number in it,
        bool complete = true;                // and no cell of it is empty
        for (std::size_t c = 0; c < columns_.size() && bad == columns_.size(); ++c) {
            const auto value = value_of(cells_[columns_[c].at]);
            if (!value) {
                bad = c;
            } else {
                row[c] = *value;
                any = any || std::isfinite(*value);
                complete = complete && !cells_[columns_[c].at].empty();
            }
        }
        const bool is_row = bad == columns_.size() && any && (complete || !values_.front().empty());
        if (lines_.size() < k_most_header) {
            head_.emplace_back(is_row ? values_.front().size() : 0, line);
            lines_.push_back(lines.number());
        }
        if (is_row && stray) {
            return *stray;
        }
        if (is_row) {
            if (values_.front().empty()) {
                first_line_ = lines.number();
            }
            if (values_.front().size() >= most_rows) {
                notes_.push_back(worded("Only the first {} samples were read.", most_rows));
                break;
            }
            if (const auto leading = number_in(cells_[columns_.front().at], dialect_.decimal)) {
                time_digit_ = std::max(time_digit_, leading->step);
            }
            for (std::size_t c = 0; c < columns_.size(); ++c) {
                values_[c].push_back(row[c]);
            }
        } else if (values_.front().size() < k_restart_rows) {
            // Numbers in the head of the file; the samples begin further down.
            if (!values_.front().empty()) {
                restart_ = lines.number();
            }
            for (auto& column : values_) {
                column.clear();
            }
            time_digit_ = 0;
        } else if (!stray) {
            const std::string_view cell = cells_[columns_[std::min(bad, columns_.size() - 1)].at];
            stray =
                refuse(ErrorCode::bad_text,
                       worded("line {}, column {}: {} is not a number; a sample was expected.",
                              lines.number(), columns_[std::min(bad, columns_.size() - 1)].at + 1,
                              cell.empty() ? quoted(line) : quoted(cell)));
        }
    }
    if (restart_ > 0) {
        notes_.push_back(worded("The samples begin below line {}; numbers above it were taken "
                                "as the head of the file.",
                                restart_));
    }
    if (stray) {
        notes_.emplace_back("Text after the samples was left out.");
    }
    if (values_.front().size() < 2) {
        return refuse(ErrorCode::refused, worded("it holds {} samples; two or more were expected.",
                                                 values_.front().size()));
    }
    return Done{};
}

void Table::note_step(std::string_view key, std::string_view value, std::string_view unit) {
    const std::string plain = lowered(key);
    if (plain.starts_with("vertical unit")) {
        side_volt_ = unit_of(value);
    } else if (plain.starts_with("horizontal unit")) {
        side_time_ = unit_of(value);
    }
    const StepWord word = step_word(key);
    if (word == StepWord::none || step_s_) {
        return;
    }
    const auto number = number_in(value, dialect_.decimal);
    if (!number || !(number->value > 0) || !(number->value < 1e12)) {
        return;
    }
    auto known = unit_of(number->rest);
    const auto prefix = number->rest.empty() ? std::nullopt : lone_prefix(number->rest, word);
    if (!number->rest.empty() && !known && !prefix) {
        return;
    }
    known = known || prefix ? known : unit_of(unit);
    known = known || prefix ? known : unit_in_heading(key);
    const bool usable = known && (known->kind == UnitKind::time || known->kind == UnitKind::rate);
    const double size = number->value * prefix.value_or(usable ? known->factor : 1);
    // A unit decides over the word: "interval: 250 kHz" is a rate.
    const bool rate = usable ? known->kind == UnitKind::rate : word == StepWord::rate;
    step_s_ = rate ? 1 / size : size;
}

/// A single column of numbers does not tell what parts the cells above it.
char Table::head_separator(std::string_view line) const {
    if (columns_.size() > 1) {
        return dialect_.separator;
    }
    for (const char separator : {'\t', ';', ',', '|'}) {
        if (line.find(separator) != std::string_view::npos) {
            return separator;
        }
    }
    return 0;
}

/// Where blanks part the cells, headings have blanks of their own: the units in brackets, if there
/// is one for each column of numbers.
std::vector<std::string> Table::bracketed(std::string_view line) const {
    std::vector<std::string> units;
    for (auto open = line.find_first_of("(["); open != std::string_view::npos;
         open = line.find_first_of("([", open + 1)) {
        const auto close = line.find_first_of(")]", open);
        if (close != std::string_view::npos) {
            units.emplace_back(line.substr(open + 1, close - open - 1));
        }
    }
    std::vector<std::string> row;
    if (units.size() == columns_.size()) {
        for (std::size_t c = 0; c < columns_.size(); ++c) {
            row.resize(columns_[c].at + 1);
            row.back() = units[c];
        }
    }
    return row;
}

/// Headings, units and the time between samples from the lines above the samples (and beside them:
/// some scopes write the head in columns of its own).
void Table::read_head() {
    std::vector<std::vector<std::string>> head; // cells of the lines before the first row
    std::vector<bool> is_number(k_most_columns, false);
    for (const Column& column : columns_) {
        is_number[column.at] = true;
    }
    for (std::size_t i = 0; i < head_.size(); ++i) {
        const std::string_view line = head_[i].second;
        const bool before = lines_[i] < first_line_;
        cells_.split(line, before ? head_separator(line) : dialect_.separator);
        std::vector<std::string> row;
        for (std::size_t c = 0; c < cells_.size(); ++c) {
            row.emplace_back(before || !is_number[c] ? cells_[c] : std::string_view{});
        }
        for (std::size_t c = 0; c + 1 < row.size(); ++c) {
            note_step(row[c], row[c + 1], c + 2 < row.size() ? row[c + 2] : std::string{});
        }
        // "key: value" or "key = value" in one cell, also behind a comment sign.
        for (const std::string& cell : row) {
            const auto mark = cell.find_first_of(":=");
            if (mark != std::string::npos) {
                note_step(trimmed(std::string_view(cell).substr(0, mark)),
                          trimmed(std::string_view(cell).substr(mark + 1)), {});
            }
        }
        if (before && dialect_.separator != 0) {
            const auto mark = line.find_first_of(":=");
            if (mark != std::string_view::npos && row.size() > 1) {
                note_step(trimmed(line.substr(0, mark)), trimmed(line.substr(mark + 1)), {});
            }
        }
        // A heading with its value in the line below it, in the same column.
        if (!head.empty()) {
            for (std::size_t c = 0; c < std::min(row.size(), head.back().size()); ++c) {
                note_step(head.back()[c], row[c], {});
            }
        }
        if (before && dialect_.separator == ' ' && row.size() != columns_.size()) {
            row = bracketed(line);
        }
        if (before) {
            head.push_back(std::move(row));
        } else if (!head.empty() && lines_[i] > first_line_ + 100) {
            break;
        }
    }
    // The nearest heading above a column names it; the nearest unit above it is its unit.
    for (Column& column : columns_) {
        for (auto row = head.rbegin(); row != head.rend() && row - head.rbegin() < 4; ++row) {
            if (column.at >= row->size() || (*row)[column.at].empty()) {
                continue;
            }
            std::string_view heading = (*row)[column.at];
            heading = heading.front() == '#' ? trimmed(heading.substr(1)) : heading;
            if (number_in(heading, dialect_.decimal) || step_word(heading) != StepWord::none) {
                continue;
            }
            if (!column.unit) {
                column.unit = unit_in_heading(heading);
            }
            if (!unit_of(heading)) {
                column.name = heading;
                break;
            }
        }
    }
}

Result<Done> Table::pick_time() {
    for (std::size_t c = 0; c < columns_.size() && !time_; ++c) {
        if (columns_[c].unit && columns_[c].unit->kind == UnitKind::time) {
            time_ = c;
        }
    }
    for (std::size_t c = 0; c < columns_.size() && !time_; ++c) {
        if (names_time(columns_[c].name) &&
            !(columns_[c].unit && columns_[c].unit->kind == UnitKind::volt)) {
            time_ = c;
        }
    }
    const bool leading_free =
        !columns_.front().unit || columns_.front().unit->kind != UnitKind::volt;
    if (!time_ && columns_.size() > 1 && leading_free &&
        (names_index(columns_.front().name) || rises(values_.front()))) {
        time_ = 0;
    }
    if (!time_ && columns_.size() > 2) {
        return refuse(ErrorCode::bad_text,
                      worded("{} columns of numbers from line {} on, and none is headed as "
                             "time or rises in column {}; a time column was expected.",
                             columns_.size(), first_line_, columns_.front().at + 1));
    }
    if (time_ && columns_.size() == 1) {
        return refuse(ErrorCode::bad_text,
                      worded("column {} is headed as time and there is no other column of "
                             "numbers; samples were expected.",
                             columns_.front().at + 1));
    }
    return Done{};
}

/// Even spacing where the times allow it within their last digit, else the times themselves.
Result<Done> Table::read_times(Recording& recording) {
    if (!time_) {
        recording.timed = step_s_.has_value();
        recording.step_s = step_s_.value_or(1);
        return Done{};
    }
    Column& column = columns_[*time_];
    if (!column.unit && side_time_ && side_time_->kind == UnitKind::time) {
        column.unit = side_time_;
    }
    std::vector<double>& times = values_[*time_];
    const bool has_unit = column.unit && column.unit->kind == UnitKind::time;
    const auto count = static_cast<double>(times.size() - 1);
    bool whole_steps = true;
    for (std::size_t i = 0; i < times.size(); ++i) {
        if (!std::isfinite(times[i])) {
            return refuse(ErrorCode::bad_text, worded("column {}, sample {}: a time was expected.",
                                                      column.at + 1, i + 1));
        }
        whole_steps = whole_steps && times[i] - times[0] == static_cast<double>(i);
    }
    if (whole_steps && !has_unit && !names_time(column.name)) {
        recording.timed = step_s_.has_value();
        recording.step_s = step_s_.value_or(1);
        return Done{};
    }
    const double factor = has_unit ? column.unit->factor : 1;
    const double step = (times.back() - times.front()) / count;
    double worst = 0;
    std::size_t backward = 0;
    for (std::size_t i = 1; i < times.size(); ++i) {
        worst = std::max(worst, std::abs(times[i] - times.front() - step * static_cast<double>(i)));
        if (times[i] <= times[i - 1] && backward == 0) {
            backward = i;
        }
    }
    const double digit = *time_ == 0 ? time_digit_ : 0;
    // Spaced evenly as far as the digits of the times can show, or with less jitter than matters.
    const bool even = step > 0 && (worst <= 1.01 * digit || worst <= 1e-3 * step);
    if (!even && backward > 0) {
        return refuse(ErrorCode::bad_text,
                      worded("column {}, sample {} (line {} or below): the time {} does not "
                             "come after {}; rising times were expected.",
                             column.at + 1, backward + 1, first_line_ + backward, times[backward],
                             times[backward - 1]));
    }
    if (!(step * factor > 1e-15) || !(step * factor < 1e6)) {
        return refuse(ErrorCode::bad_text,
                      worded("column {}: samples {:.3g}\u2009s apart are not from a scope; a "
                             "time column was expected.",
                             column.at + 1, step * factor));
    }
    recording.step_s = step * factor;
    recording.start_s = times.front() * factor;
    if (!has_unit) {
        recording.notes.emplace_back("The time column has no unit: taken as seconds.");
    }
    if (!even) {
        recording.times_s = std::move(times);
        for (double& time : recording.times_s) {
            time *= factor;
        }
        recording.notes.emplace_back("The samples are not evenly spaced; each was taken at its own "
                                     "time.");
    }
    return Done{};
}

Result<Recording> Table::read() {
    if (!find_dialect()) {
        return no_numbers();
    }
    if (auto rows = read_rows(); !rows) {
        return rows.error();
    }
    read_head();
    if (auto picked = pick_time(); !picked) {
        return picked.error();
    }
    Recording recording;
    if (auto times = read_times(recording); !times) {
        return times.error();
    }
    bool volts = true;
    std::size_t left_out = 0;
    for (std::size_t c = 0; c < columns_.size(); ++c) {
        if (!columns_[c].unit && side_volt_ && side_volt_->kind == UnitKind::volt) {
            columns_[c].unit = side_volt_;
        }
    }
    for (std::size_t c = 0; c < columns_.size(); ++c) {
        const Column& column = columns_[c];
        if (time_ && (c == *time_ || (names_time(column.name) && c > *time_))) {
            continue; // a second time column repeats the first
        }
        if (recording.channels.size() == k_most_channels) {
            ++left_out;
            continue;
        }
        if (column.unit && column.unit->kind != UnitKind::volt) {
            return refuse(ErrorCode::bad_text,
                          worded("column {} ({}) is not in volts; V, mV or no unit at all was "
                                 "expected.",
                                 column.at + 1, quoted(column.name)));
        }
        volts = volts && column.unit;
        CaptureChannel channel;
        channel.name = column.name.empty() ? fmt::format("{}", recording.channels.size() + 1)
                                           : printable(column.name);
        channel.samples = std::move(values_[c]);
        const double factor = column.unit ? column.unit->factor : 1;
        std::size_t readings = 0;
        double before = 0; // an overload without a sign is on the side the wave was on
        for (double& sample : channel.samples) {
            if (std::isfinite(sample)) {
                sample *= factor;
                before = sample;
                ++readings;
            } else if (std::isinf(sample)) {
                const bool low = sample < 0 || before < 0;
                channel.over_high += low ? 0 : 1;
                channel.over_low += low ? 1 : 0;
                sample = k_no_reading;
            }
        }
        if (readings > 0) {
            recording.channels.push_back(std::move(channel));
        }
    }
    if (recording.channels.empty()) {
        return refuse(ErrorCode::refused, "no column of it holds readings; samples were expected.");
    }
    if (left_out > 0) {
        notes_.push_back(worded("Only the first {} channels were read.", k_most_channels));
    }
    recording.scale = volts ? SampleScale::volt : SampleScale::unsaid;
    recording.notes.insert(recording.notes.end(), notes_.begin(), notes_.end());
    return recording;
}

} // namespace

Result<Recording> read_csv(std::string_view bytes, std::string_view name) {
    std::string converted;
    std::string_view text = bytes;
    if (bytes.starts_with("\xef\xbb\xbf")) {
        text.remove_prefix(3);
    } else if (bytes.starts_with("\xff\xfe") || bytes.starts_with("\xfe\xff")) {
        converted = from_utf16(bytes.substr(2), bytes.front() == '\xff' ? 1 : 0);
        text = converted;
    }
    if (text.find('\0') != std::string_view::npos) {
        return refusal(ErrorCode::refused, name,
                       "this is not a text file. Accepted: the samples, saved as CSV or WAV.");
    }
    return Table(text, name).read();
}

} // namespace railside
