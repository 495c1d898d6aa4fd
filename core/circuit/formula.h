// The expression of a behavioural source: arithmetic over node volts and branch currents, evaluated
// with its derivatives.
//
// Grammar: numbers with SPICE scale factors, + − * / ^ (and **), unary − +, brackets, v(a), v(a,b),
// i(source), the functions abs sqrt exp ln log (base e) log10 sin cos tan atan sinh cosh tanh min
// max pow(x,y), the constant pi. pow takes |x| to the power y, as circuit simulators do.
// Derivatives by forward accumulation (Griewank & Walther, Evaluating Derivatives, SIAM 2008).
#pragma once

#include "core/result.h"

#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace railside {

/// What an expression reads: the volts between two nodes, or the current of a named source.
struct FormulaInput {
    enum class Kind {
        volts,  // v(first,second); second "0" when there is one name
        current // i(first): first is the name of a voltage source or inductor
    };
    Kind kind = Kind::volts;
    std::string first;
    std::string second = "0";

    friend bool operator==(const FormulaInput&, const FormulaInput&) = default;
};

class Formula {
  public:
    /// Reads an expression. At most 64 inputs and 512 operations. Errors: bad_text, naming the text
    /// and what was expected where.
    [[nodiscard]] static Result<Formula> parse(std::string_view text);

    /// Each different input once, in the order evaluate() takes them.
    [[nodiscard]] std::span<const FormulaInput> inputs() const { return inputs_; }

    /// The value at those inputs; `slopes` (as long as the inputs) receives the derivatives. Never
    /// allocates. May give infinities or NaN where the expression has no value.
    double evaluate(std::span<const double> values, std::span<double> slopes) const;

  private:
    struct Operation {
        int code = 0;
        int input = 0;
        double number = 0;
    };
    std::vector<FormulaInput> inputs_;
    std::vector<Operation> program_; // postfix
};

} // namespace railside
