#include "app/command/command.h"

#include "app/command/commands.h"
#include "app/command/nearest.h"
#include "app/command/text_layout.h"
#include "core/quantity/refusal.h"

#include <fmt/format.h>

#include <algorithm>

namespace railside {

namespace {

constexpr std::string_view k_version = RAILSIDE_VERSION;

int exit_status(ErrorCode code) {
    switch (code) {
    case ErrorCode::busy:
    case ErrorCode::damaged:
    case ErrorCode::failed:
        return 1;
    case ErrorCode::bad_text:
    case ErrorCode::out_of_range:
    case ErrorCode::missing:
    case ErrorCode::contradictory:
    case ErrorCode::not_found:
    case ErrorCode::refused:
        return 2;
    }
    return 1;
}

/// Each line of the message, led by who says it.
int refuse(std::string_view who, const Error& error, std::ostream& err) {
    std::string_view rest = error.message;
    while (!rest.empty()) {
        const auto end = std::min(rest.find('\n'), rest.size());
        err << who << ": " << rest.substr(0, end) << '\n';
        rest.remove_prefix(std::min(end + 1, rest.size()));
    }
    return exit_status(error.code);
}

const Command* find_command(const std::vector<Command>& commands, std::string_view name) {
    const auto found =
        std::find_if(commands.begin(), commands.end(),
                     [name](const Command& command) { return command.spec.name == name; });
    return found == commands.end() ? nullptr : &*found;
}

std::string sentence(const std::string& text) { return text.ends_with('?') ? text : text + '.'; }

std::string first_help(const std::vector<Command>& commands) {
    const std::size_t workings = working_commands().size();
    TextTable calculations;
    TextTable others;
    for (std::size_t i = 0; i < commands.size(); ++i)
        (i < workings ? calculations : others)
            .add({commands[i].spec.name, sentence(commands[i].spec.summary)});
    others.add({"help", "This page, or with a command its own: \"railside help jobs\" is "
                        "\"railside jobs --help\"."});

    std::string text = "railside [COMMAND] [options]\n\n";
    text += wrapped_text("Railside is kept beside the bench while an audio power amplifier is "
                         "repaired: jobs, photos, lists of steps, and workings that "
                         "turn what the meter shows into a verdict. It needs no network. Without a "
                         "command it opens its window.",
                         "");
    text += "\nWorkings\n" + calculations.text(2) + "\nOther commands\n" + others.text(2);
    text += "\nExamples\n";
    for (const std::string_view name : {commands.front().spec.name.c_str(), "picture", "open"})
        if (const Command* command = find_command(commands, name))
            text += fmt::format("  {}\n", command->spec.example);
    text += "\nExit status\n"
            "  0  done\n"
            "  1  the system said no: a busy bench, no display, a full disk\n"
            "  2  the command was not understood, or a value not accepted; what is accepted is\n"
            "     said on standard error\n";
    text += "\n\"railside COMMAND --help\" tells what a command takes. \"railside --version\" "
            "prints the\nversion.\n";
    return text;
}

Error unknown_command(const std::vector<Command>& commands, std::string_view name) {
    if (name.starts_with('-'))
        return {ErrorCode::bad_text, std::string(name),
                fmt::format("{} stands where a command is expected. See railside --help.",
                            railside::quoted(name))};
    std::vector<std::string> names{"help"};
    std::string list;
    for (const Command& command : commands) {
        names.push_back(command.spec.name);
        list += fmt::format("{}{}", list.empty() ? "" : ", ", command.spec.name);
    }
    const std::string near = nearest_name(name, names);
    return {ErrorCode::bad_text, std::string(name),
            fmt::format("There is no command {}{}. Commands: {}.", railside::quoted(name),
                        near.empty() ? "" : fmt::format(" (did you mean {}?)", near), list)};
}

int run(const std::vector<Command>& commands, std::span<const std::string_view> args,
        std::ostream& out, std::ostream& err) {
    std::string_view name = args.empty() ? "open" : args.front();
    std::span<const std::string_view> rest = args.empty() ? args : args.subspan(1);
    bool help = false;
    if (name == "--version" && rest.empty()) {
        out << "railside " << k_version << '\n';
        return 0;
    }
    if (name == "help" || name == "--help" || name == "-h") {
        if (rest.empty()) {
            out << first_help(commands);
            return 0;
        }
        help = true;
        name = rest.front();
        rest = rest.subspan(1);
    }
    const Command* command = find_command(commands, name);
    if (command == nullptr)
        return refuse("railside", unknown_command(commands, name), err);
    if (help || std::find(rest.begin(), rest.end(), "--help") != rest.end() ||
        std::find(rest.begin(), rest.end(), "-h") != rest.end()) {
        out << help_text(command->spec);
        return 0;
    }
    const std::string who = fmt::format("railside {}", command->spec.name);
    const auto options = parse_options(command->spec, rest);
    if (!options)
        return refuse(who, options.error(), err);
    if (const auto done = command->run(*options, out); !done)
        return refuse(who, done.error(), err);
    return 0;
}

} // namespace

std::vector<Command> all_commands() {
    std::vector<Command> commands = working_commands();
    for (auto make : {workings_command, circuit_command, hunt_command, open_command,
                      picture_command, demo_command, jobs_command, handover_command, search_command,
                      export_command, import_command, backup_command, restore_command,
                      generate_command, lists_command, parts_command})
        commands.push_back(make());
    return commands;
}

int run_command(std::span<const std::string_view> args, std::ostream& out, std::ostream& err) {
    const int status = run(all_commands(), args, out, err);
    if (!out.flush()) {
        err << "railside: the answer could not be written; is the disk full?\n";
        return status == 0 ? 1 : status;
    }
    return status;
}

} // namespace railside
