#include "core/circuit/formula.h"

#include "core/device/model_card.h"
#include "core/device/spice_text.h"
#include "core/quantity/ascii.h"
#include "core/quantity/refusal.h"
#include "core/words/words.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <optional>
#include <utility>

namespace railside {

namespace {

constexpr std::size_t k_most_inputs = 64;
constexpr std::size_t k_most_operations = 512;
constexpr int k_most_held = 32; // values waiting at once, which bounds evaluate()'s memory
constexpr int k_most_nesting = 64;

enum Code : int {
    k_number,
    k_input,
    k_add,
    k_subtract,
    k_multiply,
    k_divide,
    k_power,
    k_minimum,
    k_maximum,
    k_negate,
    k_abs,
    k_sqrt,
    k_exp,
    k_ln,
    k_log10,
    k_sin,
    k_cos,
    k_tan,
    k_atan,
    k_sinh,
    k_cosh,
    k_tanh,
};

bool takes_two(int code) { return code >= k_add && code <= k_maximum; }

struct Function {
    std::string_view name;
    Code code = k_abs;
};
constexpr std::array<Function, 16> k_functions = {{{"abs", k_abs},
                                                   {"sqrt", k_sqrt},
                                                   {"exp", k_exp},
                                                   {"ln", k_ln},
                                                   {"log", k_ln},
                                                   {"log10", k_log10},
                                                   {"sin", k_sin},
                                                   {"cos", k_cos},
                                                   {"tan", k_tan},
                                                   {"atan", k_atan},
                                                   {"sinh", k_sinh},
                                                   {"cosh", k_cosh},
                                                   {"tanh", k_tanh},
                                                   {"min", k_minimum},
                                                   {"max", k_maximum},
                                                   {"pow", k_power}}};

bool is_name_char(char c) {
    return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || is_digit(c) || c == '_';
}
bool is_blank(char c) { return c == ' ' || c == '\t'; }

/// One operation of a formula as the parser makes it.
struct Step {
    int code = 0;
    int input = 0;
    double number = 0;
};

/// Recursive descent; a refusal stops it and stays.
class Parser {
  public:
    explicit Parser(std::string_view text) : text_(text) {}

    [[nodiscard]] bool parse() {
        if (!sum()) {
            return false;
        }
        skip_blanks();
        return at_ == text_.size() || expected("an operator or the end");
    }

    [[nodiscard]] Error refusal_of() const {
        return refusal(ErrorCode::bad_text, "Expression",
                       worded("{} is not understood{}: expected {}.", quoted(text_),
                              at_ < text_.size() ? worded(" at {}", quoted(text_.substr(at_)))
                                                 : std::string(" at its end"),
                              expected_));
    }

    std::vector<FormulaInput> inputs;
    std::vector<Step> steps;

  private:
    bool expected(std::string what) {
        if (expected_.empty()) {
            expected_ = std::move(what);
        }
        return false;
    }

    void skip_blanks() {
        while (at_ < text_.size() && is_blank(text_[at_])) {
            ++at_;
        }
    }

    bool take(char mark) {
        skip_blanks();
        if (at_ < text_.size() && text_[at_] == mark) {
            ++at_;
            return true;
        }
        return false;
    }

    bool want(char mark) { return take(mark) || expected(fmt::format("\"{}\"", mark)); }

    bool add(Step step) {
        if (steps.size() == k_most_operations) {
            return expected("at most 512 operations");
        }
        held_ += step.code == k_number || step.code == k_input ? 1 : takes_two(step.code) ? -1 : 0;
        if (held_ > k_most_held) {
            return expected("fewer operations waiting for each other");
        }
        steps.push_back(step);
        return true;
    }

    bool sum() {
        if (!product()) {
            return false;
        }
        while (true) {
            const Code code = take('+') ? k_add : take('-') ? k_subtract : k_number;
            if (code == k_number) {
                return true;
            }
            if (!product() || !add({code})) {
                return false;
            }
        }
    }

    bool product() {
        if (!sign()) {
            return false;
        }
        while (true) {
            skip_blanks();
            if (text_.substr(at_, 2) == "**") {
                return true; // a power, taken where powers are
            }
            const Code code = take('*') ? k_multiply : take('/') ? k_divide : k_number;
            if (code == k_number) {
                return true;
            }
            if (!sign() || !add({code})) {
                return false;
            }
        }
    }

    bool sign() {
        const Nesting nesting(*this);
        if (!nesting.fits) {
            return false;
        }
        if (take('-')) {
            return sign() && add({k_negate});
        }
        return take('+') ? sign() : power();
    }

    /// Binds closer than a sign before it, and from the right: −a^b^c is −(a^(b^c)).
    bool power() {
        if (!atom()) {
            return false;
        }
        skip_blanks();
        if (text_.substr(at_, 2) == "**") {
            at_ += 2;
        } else if (!take('^')) {
            return true;
        }
        return sign() && add({k_power});
    }

    bool atom() {
        skip_blanks();
        if (at_ == text_.size()) {
            return expected("a number, v(...), i(...), a function or \"(\"");
        }
        if (take('(')) {
            return sum() && want(')');
        }
        if (is_digit(text_[at_]) || text_[at_] == '.') {
            return number();
        }
        return name();
    }

    bool number() {
        std::size_t end = at_;
        while (end < text_.size() &&
               (is_name_char(text_[end]) || text_[end] == '.' ||
                static_cast<unsigned char>(text_[end]) >= 0x80 || is_exponent_sign(end))) {
            ++end;
        }
        const auto value = spice_number(text_.substr(at_, end - at_));
        if (!value) {
            return expected("a number such as 4.7k or 1e-12");
        }
        at_ = end;
        return add({k_number, 0, *value});
    }

    /// The sign in "1e-12".
    [[nodiscard]] bool is_exponent_sign(std::size_t at) const {
        return (text_[at] == '-' || text_[at] == '+') && at >= at_ + 2 && at + 1 < text_.size() &&
               is_digit(text_[at + 1]) && (text_[at - 1] == 'e' || text_[at - 1] == 'E') &&
               (is_digit(text_[at - 2]) || text_[at - 2] == '.');
    }

    bool name() {
        std::size_t end = at_;
        while (end < text_.size() && is_name_char(text_[end])) {
            ++end;
        }
        const std::string word = spice_lower(text_.substr(at_, end - at_));
        if (word == "pi") {
            at_ = end;
            return add({k_number, 0, std::numbers::pi});
        }
        std::size_t after = end;
        while (after < text_.size() && is_blank(text_[after])) {
            ++after;
        }
        const bool call = !word.empty() && after < text_.size() && text_[after] == '(';
        if (call && (word == "v" || word == "i")) {
            at_ = after + 1;
            return input(word == "v");
        }
        const auto function = std::find_if(k_functions.begin(), k_functions.end(),
                                           [&](const Function& one) { return one.name == word; });
        if (!call || function == k_functions.end()) {
            return expected("a number, v(...), i(...), pi, \"(\" or one of the functions abs sqrt "
                            "exp ln log log10 sin cos tan atan sinh cosh tanh min max pow");
        }
        at_ = after + 1;
        if (!sum()) {
            return false;
        }
        if (takes_two(function->code) && !(want(',') && sum())) {
            return false;
        }
        return want(')') && add({function->code});
    }

    /// A node's or source's name up to the next comma or bracket.
    std::optional<std::string> operand() {
        skip_blanks();
        std::size_t end = at_;
        while (end < text_.size() && text_[end] != ',' && text_[end] != '(' && text_[end] != ')' &&
               !is_blank(text_[end])) {
            ++end;
        }
        if (end == at_) {
            expected("a name");
            return std::nullopt;
        }
        std::string name(text_.substr(at_, end - at_));
        at_ = end;
        return name;
    }

    bool input(bool volts) {
        FormulaInput read;
        read.kind = volts ? FormulaInput::Kind::volts : FormulaInput::Kind::current;
        auto first = operand();
        if (!first) {
            return false;
        }
        read.first = *std::move(first);
        if (volts && take(',')) {
            auto second = operand();
            if (!second) {
                return false;
            }
            read.second = *std::move(second);
        }
        if (!want(')')) {
            return false;
        }
        auto held = std::find_if(inputs.begin(), inputs.end(), [&](const FormulaInput& other) {
            return other.kind == read.kind && spice_equal(other.first, read.first) &&
                   spice_equal(other.second, read.second);
        });
        const auto index = static_cast<int>(held - inputs.begin());
        if (held == inputs.end()) {
            if (inputs.size() == k_most_inputs) {
                return expected("at most 64 different v(...) and i(...)");
            }
            inputs.push_back(std::move(read));
        }
        return add({k_input, index, 0});
    }

    /// Counts brackets and signs within each other, so that no text exhausts the machine's stack.
    struct Nesting {
        explicit Nesting(Parser& parser)
            : fits(++parser.nesting_ <= k_most_nesting ||
                   parser.expected("fewer brackets within brackets")),
              parser_(parser) {}
        Nesting(const Nesting&) = delete;
        Nesting& operator=(const Nesting&) = delete;
        ~Nesting() { --parser_.nesting_; }
        bool fits;

      private:
        Parser& parser_;
    };

    std::string_view text_;
    std::size_t at_ = 0;
    int nesting_ = 0;
    int held_ = 0;
    std::string expected_;
};

/// A function of one value, and its derivative.
std::pair<double, double> one_value(int code, double x) {
    switch (code) {
    case k_negate:
        return {-x, -1};
    case k_abs:
        return {std::abs(x), x > 0 ? 1 : x < 0 ? -1 : 0};
    case k_sqrt: {
        const double root = std::sqrt(x);
        return {root, 0.5 / root};
    }
    case k_exp: {
        const double power = std::exp(x);
        return {power, power};
    }
    case k_ln:
        return {std::log(x), 1 / x};
    case k_log10:
        return {std::log10(x), 1 / (x * std::numbers::ln10)};
    case k_sin:
        return {std::sin(x), std::cos(x)};
    case k_cos:
        return {std::cos(x), -std::sin(x)};
    case k_tan: {
        const double tangent = std::tan(x);
        return {tangent, 1 + tangent * tangent};
    }
    case k_atan:
        return {std::atan(x), 1 / (1 + x * x)};
    case k_sinh:
        return {std::sinh(x), std::cosh(x)};
    case k_cosh:
        return {std::cosh(x), std::sinh(x)};
    default: {
        const double tangent = std::tanh(x);
        return {tangent, 1 - tangent * tangent};
    }
    }
}

/// A function of two values and its two derivatives.
struct TwoValues {
    double value = 0;
    double by_first = 0;
    double by_second = 0;
};

TwoValues two_values(int code, double x, double y) {
    switch (code) {
    case k_add:
        return {x + y, 1, 1};
    case k_subtract:
        return {x - y, 1, -1};
    case k_multiply:
        return {x * y, y, x};
    case k_divide:
        return {x / y, 1 / y, -x / (y * y)};
    case k_minimum:
        return x <= y ? TwoValues{x, 1, 0} : TwoValues{y, 0, 1};
    case k_maximum:
        return x >= y ? TwoValues{x, 1, 0} : TwoValues{y, 0, 1};
    default: {
        const double size = std::abs(x);
        const double value = std::pow(size, y);
        const double sign = x > 0 ? 1 : x < 0 ? -1 : 0;
        return {value, sign == 0 || y == 0 ? 0 : sign * y * std::pow(size, y - 1),
                size == 0 ? 0 : value * std::log(size)};
    }
    }
}

} // namespace

Result<Formula> Formula::parse(std::string_view text) {
    Parser parser(text);
    if (!parser.parse()) {
        return parser.refusal_of();
    }
    Formula formula;
    formula.inputs_ = std::move(parser.inputs);
    formula.program_.reserve(parser.steps.size());
    for (const Step& step : parser.steps) {
        formula.program_.push_back({step.code, step.input, step.number});
    }
    return formula;
}

double Formula::evaluate(std::span<const double> values, std::span<double> slopes) const {
    const std::size_t inputs = inputs_.size();
    // Left as they are: every one is written before it is read.
    std::array<double, k_most_held> held;                                   // NOLINT
    std::array<std::array<double, k_most_inputs>, k_most_held> held_slopes; // NOLINT
    std::size_t top = 0;
    for (const Operation& operation : program_) {
        if (operation.code == k_number || operation.code == k_input) {
            std::fill_n(held_slopes[top].begin(), inputs, 0.0);
            held[top] = operation.number;
            if (operation.code == k_input) {
                const auto input = static_cast<std::size_t>(operation.input);
                held[top] = values[input];
                held_slopes[top][input] = 1;
            }
            ++top;
        } else if (takes_two(operation.code)) {
            const TwoValues two = two_values(operation.code, held[top - 2], held[top - 1]);
            auto& first = held_slopes[top - 2];
            const auto& second = held_slopes[top - 1];
            for (std::size_t i = 0; i < inputs; ++i) {
                // What does not depend on an input stays so where the derivative is infinite.
                first[i] = (first[i] == 0 ? 0 : two.by_first * first[i]) +
                           (second[i] == 0 ? 0 : two.by_second * second[i]);
            }
            held[top - 2] = two.value;
            --top;
        } else {
            const auto [value, slope] = one_value(operation.code, held[top - 1]);
            held[top - 1] = value;
            for (std::size_t i = 0; i < inputs; ++i) {
                double& one = held_slopes[top - 1][i];
                one = one == 0 ? 0 : slope * one;
            }
        }
    }
    if (top == 0) {
        std::fill(slopes.begin(), slopes.end(), 0.0);
        return 0;
    }
    std::copy_n(held_slopes[0].begin(), std::min(inputs, slopes.size()), slopes.begin());
    return held[0];
}

} // namespace railside
