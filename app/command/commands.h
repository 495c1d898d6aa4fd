// The commands: each declares what it takes and does it.
#pragma once

#include "app/command/options.h"
#include "core/result.h"

#include <functional>
#include <ostream>
#include <vector>

namespace railside {

/// A command writes its answer to the stream; an Error's message may have several lines, one for
/// each thing refused.
struct Command {
    CommandSpec spec;
    std::function<Result<Done>(const Options& options, std::ostream& out)> run;
};

[[nodiscard]] std::vector<Command> working_commands(); // one for each working of the catalogue
[[nodiscard]] Command workings_command();
[[nodiscard]] Command circuit_command();
[[nodiscard]] Command hunt_command();
[[nodiscard]] Command open_command();
[[nodiscard]] Command picture_command();
[[nodiscard]] Command demo_command();
[[nodiscard]] Command jobs_command();
[[nodiscard]] Command lists_command();
[[nodiscard]] Command search_command();
[[nodiscard]] Command export_command();
[[nodiscard]] Command import_command();
[[nodiscard]] Command backup_command();
[[nodiscard]] Command restore_command();
[[nodiscard]] Command handover_command();
[[nodiscard]] Command generate_command();
[[nodiscard]] Command parts_command();

/// All of them, in the order the help lists them.
[[nodiscard]] std::vector<Command> all_commands();

} // namespace railside
