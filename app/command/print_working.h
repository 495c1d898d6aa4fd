// A working's fields, inputs and answer as plain text.
#pragma once

#include "core/working/working.h"

#include <string>
#include <string_view>

namespace railside {

/// "--emitter-resistor"
[[nodiscard]] std::string option_of(const Field& field);

/// "0R22, ±5 %": what stands when nothing is given; empty for none.
[[nodiscard]] std::string default_text(const Field& field);

/// The whole answer: inputs with their intervals and where they came from, headline, verdict, the
/// other figures, notes and cautions. `inputs` are those the working used, defaults among them.
/// `title` stands over it.
[[nodiscard]] std::string outcome_text(const Working& working, const Inputs& inputs,
                                       const Outcome& outcome, std::string_view title);

} // namespace railside
