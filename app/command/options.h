// What a command takes, declared once: its help is printed and its arguments are read from the same
// declaration.
#pragma once

#include "core/result.h"

#include <map>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace railside {

enum class Often {
    once,  // a second one is refused
    many,  // may be repeated, and takes several values
    each,  // may be repeated, its values standing after it each time
    maybe, // a word that may be left off
};

/// One option, or, without dashes before its name, a word the command needs ("FILE").
struct OptionSpec {
    std::string name;     // "--screen"
    std::string value;    // what stands for its value in the help ("FOLDER"); empty: it takes none
    std::string help;     // one or two sentences
    std::string accepted; // "0 to 5 V"; empty when the help says it all
    std::string group = "Options";
    Often often = Often::once;
    int values = 1; // how many stand after it ("FROM TO": 2)
};

/// One command.
struct CommandSpec {
    std::string name;    // "picture"
    std::string summary; // for the list of commands, no full stop
    std::string usage;   // what follows the name ("--out FILE [options]")
    std::string about;   // paragraphs, parted by an empty line
    std::string example; // a whole command line; may be empty
    std::vector<OptionSpec> options;
};

/// The options given to a command.
class Options {
  public:
    [[nodiscard]] bool has(std::string_view name) const { return values_.contains(name); }
    /// The value, or nothing when it was not given.
    [[nodiscard]] std::optional<std::string> text(std::string_view name) const;
    [[nodiscard]] std::string text_or(std::string_view name, std::string_view otherwise) const;
    [[nodiscard]] std::span<const std::string> texts(std::string_view name) const;

    void add(std::string_view name, std::vector<std::string> values) {
        values_[std::string(name)] = std::move(values);
    }

  private:
    std::map<std::string, std::vector<std::string>, std::less<>> values_;
};

/// Reads `args` (those after the command's name); an option's value may follow it or an equals
/// sign, and may begin with a minus. Errors (bad_text, missing): an option that is not there (with
/// the nearest one), a value or a needed word that is missing or not wanted, an option given twice.
[[nodiscard]] Result<Options> parse_options(const CommandSpec& command,
                                            std::span<const std::string_view> args);

/// The option of every command whose answer is a table: print it as JSON instead.
inline constexpr std::string_view k_json_option = "--json";

/// Usage, what it is about and every option with its help.
[[nodiscard]] std::string help_text(const CommandSpec& command);

/// Which of `words` the option names; `otherwise` when it was not given. Errors: out_of_range,
/// naming the option, the value and the words.
[[nodiscard]] Result<std::string> pick_word(const Options& options, std::string_view name,
                                            std::span<const std::string> words,
                                            std::string_view otherwise);

/// A plain number within low..high, or nothing when the option was not given. Errors name the
/// option, the value and the range.
[[nodiscard]] Result<std::optional<double>> number_option(const Options& options,
                                                          std::string_view name, double low,
                                                          double high, std::string_view unit);

/// "a, b or c"
[[nodiscard]] std::string words_list(std::span<const std::string> words);

} // namespace railside
