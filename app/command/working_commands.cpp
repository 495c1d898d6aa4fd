// The workings as commands. Everything said about a working is read from its declaration.
#include "app/command/commands.h"
#include "app/command/print_working.h"
#include "app/command/text_layout.h"
#include "core/device/model_card.h"
#include "core/quantity/value_code.h"
#include "core/store/disk.h"
#include "core/working/json.h"

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <memory>

namespace railside {

namespace {

constexpr std::string_view k_accuracy = "--accuracy";
constexpr std::string_view k_models = "--models";
constexpr std::size_t k_most_models_bytes = 4'000'000;
// What read_input takes when none is given (core/working/working.h).
constexpr MeterAccuracy k_usual_accuracy{0.005, 3};

std::string to_text(const nlohmann::json& json) {
    return json.dump(2, ' ', false, nlohmann::json::error_handler_t::replace) + '\n';
}

bool has_meter_fields(const Working& working) {
    return std::any_of(working.fields.begin(), working.fields.end(),
                       [](const Field& field) { return field.spread == Spread::meter; });
}

bool has_device_fields(const Working& working) {
    return std::any_of(working.fields.begin(), working.fields.end(),
                       [](const Field& field) { return field.kind == FieldKind::device; });
}

bool must_be_given(const Field& field) {
    return field.need == Need::required && field.by_default.empty();
}

/// Only there beside another choice.
bool depends(const Field& field) { return !field.when.field.empty(); }

/// Needed with the choices as they stand by default; beside others run_working says what is.
bool needed_at_once(const Working& working, const Field& field) {
    return must_be_given(field) && applies(field, with_defaults(working, {}));
}

/// "Only with --slope ground|own_rail."
std::string condition_of(const Working& working, const Field& field) {
    if (!depends(field))
        return {};
    std::string words(field.when.words);
    std::replace(words.begin(), words.end(), ' ', '|');
    return fmt::format(" Only with {} {}.", option_of(*find_field(working, field.when.field)),
                       words);
}

std::string group_of(const Working& working, const Field& field) {
    return must_be_given(field) && !needed_at_once(working, field) ? "Needed with another choice"
           : must_be_given(field)                                  ? "Needed"
           : field.need == Need::required                          ? "Usual value when not given"
                                                                   : "Sharpens the answer";
}

/// "Emitter resistor, R_E, in ohm."
std::string naming(const Field& field) {
    std::string text(field.label);
    if (!field.symbol.empty())
        text += fmt::format(", {}", field.symbol);
    if (field.kind == FieldKind::amount && field.unit != Unit::ratio)
        text += fmt::format(", in {}", field.unit == Unit::celsius ? "degrees Celsius"
                                                                   : unit_info(field.unit).word);
    return text + '.';
}

std::string choice_keys(const Field& field) {
    std::string keys;
    for (const Choice& choice : field.choices)
        keys += fmt::format("{}{}", keys.empty() ? "" : "|", choice.key);
    return keys;
}

std::string accepted_of(const Field& field) {
    const std::string usual = default_text(field);
    return usual.empty() ? accepted_form(field)
                         : fmt::format("{}. Not given: {}", accepted_form(field), usual);
}

/// What stands for an option's value in the help.
std::string placeholder(const Field& field) {
    switch (field.kind) {
    case FieldKind::choice:
        return choice_keys(field);
    case FieldKind::recording:
        return "FILE";
    case FieldKind::amount:
    case FieldKind::text:
    case FieldKind::device:
        break;
    }
    return "TEXT";
}

/// A value as it might be typed, from the middle of what is usual.
std::string example_value(const Field& field) {
    if (field.kind == FieldKind::recording)
        return "right.csv";
    if (!field.by_default.empty() || field.kind != FieldKind::amount)
        return field.kind == FieldKind::choice && field.by_default.empty()
                   ? std::string(field.choices.front().key)
                   : std::string(field.by_default);
    const bool usual = field.usual_low < field.usual_high;
    const double low = usual ? field.usual_low : field.low;
    const double high = usual ? field.usual_high : field.high;
    const double middle = low > 0 ? std::sqrt(low * high) : (low + high) / 2;
    std::string text = print_short(middle, field.unit, 1);
    for (const std::string_view taken :
         {"\u2009", "\u03a9"}) // the thin space, and the ohm sign that is hard to type
        if (const auto at = text.find(taken); at != std::string::npos)
            text.erase(at, taken.size());
    return text;
}

/// Text with quotes where a shell wants them.
std::string for_shell(const std::string& text) {
    return text.find_first_of(" |&;()<>") == std::string::npos ? text : '"' + text + '"';
}

std::string example_of(const Working& working) {
    std::string text = fmt::format("railside {}", working.key);
    for (const Field& field : working.fields)
        if (needed_at_once(working, field))
            text += fmt::format(" {} {}", option_of(field), for_shell(example_value(field)));
    return text;
}

CommandSpec spec_of(const Working& working) {
    CommandSpec spec;
    spec.name = working.key;
    spec.summary = fmt::format("{}. {}", working.name, working.question);
    for (const Field& field : working.fields)
        if (needed_at_once(working, field))
            spec.usage += fmt::format("{} {} ", option_of(field),
                                      field.kind == FieldKind::recording ? "FILE" : "TEXT");
    spec.usage += "[options]";
    spec.about = fmt::format("{}. {}\n\n"
                             "Values are typed as at the bench: 12mV, \"12.0 mV\", 0R22, 4k7, 8. A "
                             "value may carry its own tolerance: \"0R22 5%\", \"96 mV "
                             "\u00b10.8 mV\".",
                             working.name, working.question);
    spec.example = example_of(working);
    for (const std::string_view group : {"Needed", "Needed with another choice",
                                         "Usual value when not given", "Sharpens the answer"})
        for (const Field& field : working.fields)
            if (group_of(working, field) == group)
                spec.options.push_back({option_of(field), placeholder(field),
                                        fmt::format("{} {}{}", naming(field), field.help,
                                                    condition_of(working, field)),
                                        accepted_of(field), group_of(working, field)});
    if (has_meter_fields(working))
        spec.options.push_back(
            {std::string(k_accuracy), "TEXT",
             "The meter's accuracy as its sheet states it, for every reading given here.",
             fmt::format("a text such as \"{0}\". Not given: {0}",
                         print_accuracy(k_usual_accuracy)),
             "Other"});
    if (has_device_fields(working))
        spec.options.push_back(
            {std::string(k_models), "FILE",
             "SPICE .model cards. A device option that names one of them means that card.",
             "a text file of .model cards, up to 4 MB", "Other"});
    spec.options.push_back({std::string(k_json_option), "",
                            "Prints the answer as JSON, with its curves, in SI base units.", "",
                            "Other"});
    return spec;
}

/// A recording's bytes beside its name without the folders; the text stays as typed.
Result<Input> with_bytes(Input input) {
    const std::filesystem::path file(input.word);
    auto bytes = read_whole(file, k_most_recording_bytes);
    if (!bytes)
        return bytes.error();
    input.word = file.filename().string();
    input.data = std::make_shared<const std::string>(reinterpret_cast<const char*>(bytes->data()),
                                                     bytes->size());
    return input;
}

/// The cards of --models; none when it is not given.
Result<ModelCards> models_of(const Options& options) {
    const auto name = options.text(k_models);
    if (!name)
        return ModelCards{};
    const std::filesystem::path file{std::string(*name)};
    const auto bytes = read_whole(file, k_most_models_bytes);
    if (!bytes)
        return bytes.error();
    return read_model_cards({reinterpret_cast<const char*>(bytes->data()), bytes->size()},
                            file.filename().string());
}

/// A device's text with the card it names in its place, so that the answer stands without the file.
std::string with_card(const ModelCards& models, std::string_view text) {
    const ModelCard* card = find_card(models.cards, text);
    const auto* bipolar = card != nullptr ? std::get_if<BipolarModel>(&card->constants) : nullptr;
    return bipolar != nullptr ? print_card(card->name, *bipolar) : std::string(text);
}

/// The inputs as given; every refusal is a line of the error.
Result<Inputs> read_inputs(const Working& working, const Options& options) {
    std::optional<Error> refused;
    const auto refuse = [&refused](std::string_view option, const Error& error) {
        std::string line = fmt::format("{}: {}", option, error.message);
        if (refused)
            refused->message += '\n' + line;
        else
            refused = Error{error.code, std::string(option), std::move(line)};
    };
    std::optional<MeterAccuracy> accuracy;
    if (const auto text = options.text(k_accuracy)) {
        if (const auto read = parse_accuracy(*text, "Accuracy"))
            accuracy = *read;
        else
            refuse(k_accuracy, read.error());
    }
    const auto models = models_of(options);
    if (!models)
        refuse(k_models, models.error());
    Inputs inputs;
    for (const Field& field : working.fields) {
        const std::string option = option_of(field);
        std::optional<std::string> text;
        if (const auto typed = options.text(option))
            text = field.kind == FieldKind::device && models ? with_card(*models, *typed)
                                                             : std::string(*typed);
        if (!text) {
            if (must_be_given(field) && !depends(field))
                refuse(option, {ErrorCode::missing,
                                {},
                                fmt::format("{} is needed. Accepted: {}.", field.label,
                                            accepted_form(field))});
            continue;
        }
        auto input = read_input(field, *text, accuracy);
        if (input && field.kind == FieldKind::recording)
            input = with_bytes(std::move(input).value());
        if (input)
            inputs.emplace(field.key, std::move(input).value());
        else
            refuse(option, input.error());
    }
    if (refused)
        return *refused;
    return inputs;
}

Result<Done> answer(const Working& working, const Options& options, std::ostream& out) {
    auto given = read_inputs(working, options);
    if (!given)
        return given.error();
    const Inputs inputs = with_defaults(working, std::move(given).value());
    const auto outcome = run_working(working, inputs);
    if (!outcome)
        return outcome.error();
    if (options.has(k_json_option))
        out << to_text(working_to_json(working, inputs, *outcome));
    else
        out << outcome_text(working, inputs, *outcome, working.name);
    return Done{};
}

Result<Done> list_workings(const Options& options, std::ostream& out) {
    if (options.has(k_json_option)) {
        out << to_text(catalogue_to_json());
        return Done{};
    }
    bool first = true;
    for (const Working& working : catalogue()) {
        out << (first ? "" : "\n")
            << wrapped_text(fmt::format("{}. {}", working.name, working.question),
                            fmt::format("{}  ", working.key));
        first = false;
        for (const Field& field : working.fields) {
            out << fmt::format("  {}\n", option_of(field));
            out << wrapped_text(fmt::format("{} {}", naming(field), field.help), "      ");
            out << wrapped_text(fmt::format("{}. Accepted: {}.",
                                            must_be_given(field)           ? "Needed"
                                            : field.need == Need::required ? "Has a usual value"
                                                                           : "Not needed",
                                            accepted_of(field)),
                                "      ");
        }
    }
    return Done{};
}

} // namespace

std::vector<Command> working_commands() {
    std::vector<Command> commands;
    for (const Working& working : catalogue())
        commands.push_back(
            {spec_of(working), [&working](const Options& options, std::ostream& out) {
                 return answer(working, options, out);
             }});
    return commands;
}

Command workings_command() {
    CommandSpec spec;
    spec.name = "workings";
    spec.summary = "Lists the workings with everything they take";
    spec.usage = "[--json]";
    spec.about = "Prints every working with its fields: what each is, its unit, what is accepted, "
                 "what stands when it is not given.";
    spec.options.push_back({std::string(k_json_option), "",
                            "Prints the catalogue as JSON, numbers in SI base units.", ""});
    return {std::move(spec), list_workings};
}

} // namespace railside
