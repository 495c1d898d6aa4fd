// The command line: every working, the pictures and the program itself, as one function that a test
// can call.
//
// Exit status: 0 done, 1 the system said no (a busy bench, no display, a full disk), 2 the command
// was not understood or a value not accepted; then one sentence a line says on `err` which option,
// which value and what is accepted.
#pragma once

#include <ostream>
#include <span>
#include <string_view>

namespace railside {

/// Runs one command. `args` are those after the program's name; the answer goes to `out` as UTF-8,
/// refusals to `err`.
[[nodiscard]] int run_command(std::span<const std::string_view> args, std::ostream& out,
                              std::ostream& err);

} // namespace railside
