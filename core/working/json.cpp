#include "core/working/json.h"

#include "core/quantity/value_code.h"
#include "core/words/words.h"

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include <cmath>

namespace railside {

namespace {

using Json = nlohmann::json;

Json input_to_json(const Field& field, const Input& input) {
    Json json = Json::object();
    if (field.kind == FieldKind::amount) {
        json["value"] = input.amount.value;
        json["low"] = input.amount.low;
        json["high"] = input.amount.high;
        json["unit"] = unit_info(input.amount.unit).key;
    } else {
        json["word"] = input.word;
    }
    if (field.kind == FieldKind::recording && input.data != nullptr) {
        json["bytes"] = input.data->size();
    }
    json["text"] = input.text;
    json["from"] = origin_key(input.from);
    return json;
}

Error refuse(const Field& field, ErrorCode code, std::string_view why) {
    return {code, std::string(field.label), worded("{}: {}.", field.label, why)};
}

/// The string of a member, or empty when it is absent; anything but a string is refused.
Result<std::string> text_member(const Field& field, const Json& json, const char* key) {
    const auto member = json.find(key);
    if (member == json.end()) {
        return std::string();
    }
    if (!member->is_string()) {
        return refuse(field, ErrorCode::bad_text, worded("\"{}\" is not a text", key));
    }
    return member->get<std::string>();
}

Result<double> number_member(const Field& field, const Json& json, const char* key) {
    const auto member = json.find(key);
    if (member == json.end() || !member->is_number()) {
        return refuse(field, ErrorCode::bad_text, worded("\"{}\" is missing or not a number", key));
    }
    return member->get<double>();
}

/// The interval of a bare value: the field's own tolerance, or an ordinary meter's with three
/// digits shown.
Amount usual_interval(const Field& field, double value) {
    switch (field.spread) {
    case Spread::tolerance:
        return with_tolerance(value, field.default_spread, field.unit);
    case Spread::meter: {
        const double step =
            value == 0 ? 0 : std::pow(10, std::floor(std::log10(std::abs(value))) - 2);
        return with_accuracy(value, step, MeterAccuracy{0.005, 3}, field.unit);
    }
    case Spread::exact:
    case Spread::count:
        break;
    }
    return Amount::exact(value, field.unit);
}

Result<Input> amount_from_json(const Field& field, const Json& json) {
    Input input;
    const auto value = number_member(field, json, "value");
    if (!value) {
        return value.error();
    }
    const auto unit_key = text_member(field, json, "unit");
    if (!unit_key) {
        return unit_key.error();
    }
    const auto unit = unit_key->empty() ? std::optional(field.unit) : unit_from_key(*unit_key);
    if (!unit) {
        return refuse(field, ErrorCode::bad_text,
                      worded("the unit \"{}\" is not known", *unit_key));
    }
    input.amount = usual_interval(field, *value);
    input.amount.unit = *unit;
    if (json.contains("low") || json.contains("high")) {
        const auto low = number_member(field, json, "low");
        if (!low) {
            return low.error();
        }
        const auto high = number_member(field, json, "high");
        if (!high) {
            return high.error();
        }
        input.amount.low = *low;
        input.amount.high = *high;
    }
    return input;
}

Result<Input> input_from_json(const Field& field, const Json& json) {
    if (json.is_string()) {
        return read_input(field, json.get<std::string>());
    }
    if (!json.is_object()) {
        return refuse(field, ErrorCode::bad_text,
                      "neither a text nor an object with value, low, high, unit, text and from");
    }
    for (const auto& [key, member] : json.items()) {
        const bool of_amount = key == "value" || key == "low" || key == "high" || key == "unit";
        const bool known = key == "text" || key == "from" ||
                           (field.kind == FieldKind::amount ? of_amount : key == "word") ||
                           (field.kind == FieldKind::recording && key == "bytes");
        if (!known) {
            return refuse(field, ErrorCode::not_found,
                          worded("an input has no member \"{}\"", key));
        }
    }
    Input input;
    if (field.kind == FieldKind::amount) {
        auto amount = amount_from_json(field, json);
        if (!amount) {
            return amount.error();
        }
        input = *std::move(amount);
    } else {
        const auto word = text_member(field, json, "word");
        if (!word) {
            return word.error();
        }
        input.word = *word;
    }
    if (const auto bytes = json.find("bytes");
        bytes != json.end() && !bytes->is_number_unsigned()) {
        return refuse(field, ErrorCode::bad_text, "\"bytes\" is not a whole number");
    }
    const auto text = text_member(field, json, "text");
    if (!text) {
        return text.error();
    }
    input.text = *text;
    const auto from = text_member(field, json, "from");
    if (!from) {
        return from.error();
    }
    if (!from->empty()) {
        const auto origin = origin_from_key(*from);
        if (!origin) {
            return refuse(field, ErrorCode::bad_text,
                          worded("the origin \"{}\" is not known", *from));
        }
        input.from = *origin;
    }
    if (auto checked = check_input(field, input); !checked) {
        return checked.error();
    }
    if (!json.contains("text")) {
        input.text = field.kind == FieldKind::amount ? print_exact(input.amount.value, field.unit)
                                                     : input.word;
    }
    return input;
}

Json axis_to_json(const Axis& axis) {
    return {{"label", axis.label}, {"unit", unit_info(axis.unit).key}, {"values", axis.values}};
}

std::string_view kind_key(FieldKind kind) {
    switch (kind) {
    case FieldKind::amount:
        return "amount";
    case FieldKind::choice:
        return "choice";
    case FieldKind::device:
        return "device";
    case FieldKind::recording:
        return "recording";
    case FieldKind::text:
        break;
    }
    return "text";
}

std::string_view spread_key(Spread spread) {
    switch (spread) {
    case Spread::exact:
        return "exact";
    case Spread::count:
        return "count";
    case Spread::tolerance:
        return "tolerance";
    case Spread::meter:
        break;
    }
    return "meter";
}

Json field_to_json(const Field& field) {
    Json json{{"key", field.key},
              {"label", field.label},
              {"symbol", field.symbol},
              {"help", field.help},
              {"kind", kind_key(field.kind)},
              {"need", field.need == Need::required ? "required" : "optional"},
              {"accepted", accepted_form(field)}};
    if (!field.by_default.empty()) {
        json["default"] = field.by_default;
    }
    if (field.kind == FieldKind::amount) {
        json["unit"] = unit_info(field.unit).key;
        json["low"] = field.low;
        json["high"] = field.high;
        json["usual_low"] = field.usual_low;
        json["usual_high"] = field.usual_high;
        json["spread"] = spread_key(field.spread);
        if (field.spread == Spread::tolerance) {
            json["default_spread"] = field.default_spread;
        }
        if (field.takes_open) {
            json["takes_open"] = true;
        }
    }
    if (!field.when.field.empty()) {
        json["when"] = {{"field", field.when.field}, {"words", field.when.words}};
    }
    if (field.kind == FieldKind::choice) {
        Json choices = Json::array();
        for (const Choice& choice : field.choices) {
            choices.push_back({{"key", choice.key}, {"label", choice.label}});
        }
        json["choices"] = std::move(choices);
    }
    return json;
}

} // namespace

Json inputs_to_json(const Working& working, const Inputs& inputs) {
    Json json = Json::object();
    for (const Field& field : working.fields) {
        if (const auto held = inputs.find(field.key); held != inputs.end()) {
            json[std::string(field.key)] = input_to_json(field, held->second);
        }
    }
    return json;
}

Result<Inputs> inputs_from_json(const Working& working, const Json& json) {
    if (!json.is_object()) {
        return Error{ErrorCode::bad_text, "inputs",
                     worded("The inputs of \"{}\" are not an object of fields.", working.name)};
    }
    Inputs inputs;
    for (const auto& [key, value] : json.items()) {
        const Field* field = find_field(working, key);
        if (field == nullptr) {
            std::string known;
            for (const Field& other : working.fields) {
                known += known.empty() ? "" : ", ";
                known += other.key;
            }
            return Error{
                ErrorCode::not_found, key,
                worded("\"{}\" has no field \"{}\". Its fields: {}.", working.name, key, known)};
        }
        auto input = input_from_json(*field, value);
        if (!input) {
            return input.error();
        }
        inputs.emplace(key, *std::move(input));
    }
    return inputs;
}

Json working_to_json(const Working& working, const Inputs& inputs, const Outcome& outcome) {
    Json results = Json::object();
    for (const Figure& figure : outcome.figures) {
        const Amount& amount = figure.amount;
        results[figure.key] = {{"value", amount.value},
                               {"low", amount.low},
                               {"high", amount.high},
                               {"unit", unit_info(amount.unit).key},
                               {"label", figure.label}};
    }
    Json curves = Json::object();
    for (const Curve& curve : outcome.curves) {
        curves[curve.key] = {{"label", curve.label},
                             {"role", curve_role_key(curve.role)},
                             {"x", axis_to_json(curve.x)},
                             {"y", axis_to_json(curve.y)}};
    }
    Json tables = Json::object();
    for (const OutcomeTable& table : outcome.tables) {
        tables[table.key] = {
            {"title", table.title}, {"columns", table.columns}, {"rows", table.rows}};
    }
    return {{"working", working.key},
            {"inputs", inputs_to_json(working, inputs)},
            {"results", std::move(results)},
            {"headline", outcome.figures.empty() ? std::string() : outcome.figures.front().key},
            {"headline_note", outcome.headline_note},
            {"verdict",
             {{"state", verdict_key(outcome.verdict.state)},
              {"word", outcome.verdict.word},
              {"reason", outcome.verdict.reason}}},
            {"cautions", outcome.cautions},
            {"notes", outcome.notes},
            {"curves", std::move(curves)},
            {"tables", std::move(tables)}};
}

Json catalogue_to_json() {
    Json workings = Json::array();
    for (const Working& working : catalogue()) {
        Json fields = Json::array();
        for (const Field& field : working.fields) {
            fields.push_back(field_to_json(field));
        }
        workings.push_back({{"working", working.key},
                            {"name", working.name},
                            {"question", working.question},
                            {"fields", std::move(fields)}});
    }
    return workings;
}

} // namespace railside
