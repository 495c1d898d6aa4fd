// The named numbers of a netlist (.param and those a subcircuit is called with) and the arithmetic
// over them in {...} and '...'.
//
// An expression is one of core/circuit/formula.h, in which a parameter's name stands for its value.
// Parameters may lean on each other in any order, at most 64 deep, not in a circle.
#pragma once

#include "core/result.h"

#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace railside {

class Parameters {
  public:
    /// Names not held here are looked for in `outer`, which outlives this.
    explicit Parameters(const Parameters* outer = nullptr) : outer_(outer) {}

    /// `place` says where it stands, for refusals. The last definition counts.
    void define(std::string_view name, std::string_view expression, std::string_view place);
    /// A value that no definition changes.
    void fix(std::string_view name, double value);

    [[nodiscard]] bool holds(std::string_view name) const;
    /// Errors: not_found, and those of the expression with its place.
    [[nodiscard]] Result<double> value(std::string_view name) const;

    /// `expression` with each parameter's name replaced by its value in brackets. Names of nodes
    /// and sources in v(...) and i(...) stay as they are.
    [[nodiscard]] Result<std::string> substituted(std::string_view expression) const;
    /// The value of an expression without v(...) and i(...).
    [[nodiscard]] Result<double> evaluate(std::string_view expression) const;
    /// The value of one word of a netlist: a SPICE number, {...}, '...', or a parameter's name;
    /// nothing when it is none of them.
    [[nodiscard]] Result<std::optional<double>> number(std::string_view word) const;

    /// Every definition worked out in its order. Errors as of value().
    [[nodiscard]] Result<Done> check() const;

  private:
    struct Held {
        std::string expression;
        std::string place;
        std::optional<double> value;
        bool fixed = false;
        bool busy = false; // being worked out: a circle when met again
    };
    [[nodiscard]] Result<double> value(std::string_view name, int depth) const;
    [[nodiscard]] Result<std::string> substituted(std::string_view expression, int depth) const;
    [[nodiscard]] Result<double> evaluate(std::string_view expression, int depth) const;

    const Parameters* outer_ = nullptr;
    mutable std::map<std::string, Held, std::less<>> held_; // lower case; values worked out once
    std::vector<std::string> order_;
};

/// The `name = expression` pairs of a line, the expression reaching to the next name. A pair
/// without a name, or without an expression, has an empty one.
[[nodiscard]] std::vector<std::pair<std::string, std::string>> assignments(std::string_view text);

/// Without the {...} or '...' around all of it, and without blanks at its ends.
[[nodiscard]] std::string_view bare_expression(std::string_view text);

} // namespace railside
