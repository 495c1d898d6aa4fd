#include "app/command/options.h"

#include "app/command/nearest.h"
#include "app/command/text_layout.h"
#include "core/quantity/refusal.h"
#include "core/quantity/value_code.h"

#include <CLI/CLI.hpp>
#include <fmt/format.h>

#include <algorithm>

namespace railside {

namespace {

bool is_word(const OptionSpec& option) { return !option.name.starts_with('-'); }

Error unknown(const CommandSpec& command, std::string_view word) {
    if (!word.starts_with('-')) {
        std::string takes;
        for (const OptionSpec& option : command.options)
            if (is_word(option))
                takes += fmt::format("one {} and ", option.name);
        return {ErrorCode::bad_text, std::string(word),
                fmt::format("{} stands alone; \"{}\" takes {}{}options. See railside {} --help.",
                            railside::quoted(word), command.name, takes,
                            takes.empty() ? "only " : "", command.name)};
    }
    const std::string_view name = word.substr(0, word.find('='));
    std::vector<std::string> names{"--help"};
    for (const OptionSpec& option : command.options)
        if (!is_word(option))
            names.push_back(option.name);
    const std::string near = nearest_name(name, names);
    return {ErrorCode::bad_text, std::string(name),
            fmt::format("There is no option {}{}. See railside {} --help.", railside::quoted(name),
                        near.empty() ? "" : fmt::format(" (did you mean {}?)", near),
                        command.name)};
}

Error no_value(const OptionSpec& option) {
    if (option.values > 1)
        return {ErrorCode::missing, option.name,
                fmt::format("{} needs {} values: {}.", option.name, option.values, option.value)};
    return {ErrorCode::missing, option.name,
            fmt::format("{} needs a value{}.", option.name,
                        option.accepted.empty() ? fmt::format(": {}", option.value)
                                                : fmt::format(". Accepted: {}", option.accepted))};
}

const OptionSpec* find_option(const CommandSpec& command, std::string_view name) {
    const auto found =
        std::find_if(command.options.begin(), command.options.end(),
                     [name](const OptionSpec& option) { return option.name == name; });
    return found == command.options.end() ? nullptr : &*found;
}

/// What the parser did not see as a mistake, but a person would.
Result<Done> check_values(const CommandSpec& command, const OptionSpec& option,
                          const std::vector<std::string>& values, std::size_t given) {
    if (option.value.empty()) {
        if (values.size() != 1 || values.front() != "true")
            return Error{ErrorCode::bad_text, option.name,
                         fmt::format("{} takes no value and stands once.", option.name)};
        return Done{};
    }
    if (option.often == Often::once && given > 1)
        return Error{ErrorCode::bad_text, option.name,
                     fmt::format("{} is given {} times: once is accepted.", option.name, given)};
    for (const std::string& value : values)
        if (value.starts_with("--") &&
            (value == "--help" ||
             find_option(command, value.substr(0, value.find('='))) != nullptr))
            return Error{ErrorCode::missing, option.name,
                         fmt::format("{} needs a value, and {} is an option.", option.name,
                                     railside::quoted(value))};
    return Done{};
}

} // namespace

std::optional<std::string> Options::text(std::string_view name) const {
    const auto held = values_.find(name);
    if (held == values_.end() || held->second.empty())
        return std::nullopt;
    return held->second.front();
}

std::string Options::text_or(std::string_view name, std::string_view otherwise) const {
    return text(name).value_or(std::string(otherwise));
}

std::span<const std::string> Options::texts(std::string_view name) const {
    const auto held = values_.find(name);
    return held == values_.end() ? std::span<const std::string>()
                                 : std::span<const std::string>(held->second);
}

Result<Options> parse_options(const CommandSpec& command, std::span<const std::string_view> args) {
    for (const std::string_view arg : args) // "--reading=" would take the next option for its value
        if (const OptionSpec* option =
                arg.ends_with('=') ? find_option(command, arg.substr(0, arg.size() - 1)) : nullptr)
            return no_value(*option);

    CLI::App app;
    app.set_help_flag();
    app.allow_extras();
    std::vector<std::pair<const OptionSpec*, CLI::Option*>> declared;
    for (const OptionSpec& option : command.options) {
        CLI::Option* made =
            option.value.empty() ? app.add_flag(option.name) : app.add_option(option.name);
        if (option.often == Often::many)
            made->allow_extra_args();
        if (option.values > 1)
            made->type_size(option.values);
        made->multi_option_policy(CLI::MultiOptionPolicy::TakeAll);
        declared.emplace_back(&option, made);
    }
    std::vector<std::string> words(args.rbegin(),
                                   args.rend()); // the parser takes them from the back
    try {
        app.parse(std::move(words));
    } catch (const CLI::ArgumentMismatch&) {
        // Only the last option that takes values can lack one.
        for (auto arg = args.rbegin(); arg != args.rend(); ++arg)
            if (const OptionSpec* option = find_option(command, arg->substr(0, arg->find('=')));
                option != nullptr && !option->value.empty())
                return no_value(*option);
        return Error{
            ErrorCode::bad_text, command.name,
            fmt::format("The options are not understood. See railside {} --help.", command.name)};
    } catch (const CLI::Error& error) {
        return Error{ErrorCode::bad_text, command.name,
                     fmt::format("The options are not understood ({}). See railside {} --help.",
                                 error.what(), command.name)};
    }
    if (const auto left = app.remaining(); !left.empty())
        return unknown(command, left.front());

    Options options;
    for (const auto& one : declared) {
        const OptionSpec& option = *one.first;
        if (one.second->count() == 0) {
            if (is_word(option) && option.often != Often::maybe)
                return Error{ErrorCode::missing, option.name,
                             fmt::format("{} is missing. {} See railside {} --help.", option.name,
                                         option.help, command.name)};
            continue;
        }
        std::vector<std::string> values = one.second->results();
        if (auto sound = check_values(command, option, values,
                                      values.size() / static_cast<std::size_t>(option.values));
            !sound)
            return sound.error();
        options.add(option.name, std::move(values));
    }
    return options;
}

std::string help_text(const CommandSpec& command) {
    std::string text = wrapped_text(command.usage, fmt::format("railside {} ", command.name));
    std::string_view rest = command.about;
    while (!rest.empty()) {
        const auto end = std::min(rest.find("\n\n"), rest.size());
        text += '\n';
        text += wrapped_text(rest.substr(0, end), "");
        rest.remove_prefix(std::min(end + 2, rest.size()));
    }
    if (!command.example.empty())
        text += fmt::format("\nExample: {}\n", command.example);
    std::vector<std::string> groups;
    for (const OptionSpec& option : command.options)
        if (std::find(groups.begin(), groups.end(), option.group) == groups.end())
            groups.push_back(option.group);
    const std::string indent(8, ' ');
    for (const std::string& group : groups) {
        text += fmt::format("\n{}\n", group);
        for (const OptionSpec& option : command.options) {
            if (option.group != group)
                continue;
            text += is_word(option) ? fmt::format("  {}\n", option.name)
                                    : fmt::format("  {}{}{}\n", option.name,
                                                  option.value.empty() ? "" : " ", option.value);
            text += wrapped_text(option.help, indent);
            if (!option.accepted.empty())
                text += wrapped_text(fmt::format("Accepted: {}.", option.accepted), indent);
        }
    }
    return text;
}

std::string words_list(std::span<const std::string> words) {
    std::string list;
    for (std::size_t i = 0; i < words.size(); ++i)
        list += fmt::format("{}{}", i == 0 ? "" : i + 1 == words.size() ? " or " : ", ", words[i]);
    return list;
}

Result<std::string> pick_word(const Options& options, std::string_view name,
                              std::span<const std::string> words, std::string_view otherwise) {
    const auto text = options.text(name);
    if (!text)
        return std::string(otherwise);
    if (std::find(words.begin(), words.end(), *text) != words.end())
        return *text;
    const std::string near = nearest_name(*text, words);
    return Error{ErrorCode::out_of_range, std::string(name),
                 fmt::format("{} {} is not accepted{}. Accepted: {}.", name,
                             railside::quoted(*text),
                             near.empty() ? "" : fmt::format(" (did you mean {}?)", near),
                             words_list(words))};
}

Result<std::optional<double>> number_option(const Options& options, std::string_view name,
                                            double low, double high, std::string_view unit) {
    const auto text = options.text(name);
    if (!text)
        return std::optional<double>();
    const auto number = parse_plain_number(*text, name);
    if (!number || !(*number >= low && *number <= high))
        return Error{number ? ErrorCode::out_of_range : ErrorCode::bad_text, std::string(name),
                     fmt::format("{} {} is not accepted. Accepted: a number, {:g} to {:g} {}.",
                                 name, railside::quoted(*text), low, high, unit)};
    return std::optional<double>(*number);
}

} // namespace railside
