// `parts`: a type's row of the parts table, its traps and its source; without a type the whole
// table in short.
#include "app/command/commands.h"
#include "app/command/nearest.h"
#include "app/command/text_layout.h"
#include "core/device/parts.h"
#include "core/quantity/refusal.h"
#include "core/quantity/value_code.h"

#include <fmt/format.h>
#include <nlohmann/json.hpp>

namespace railside {

namespace {

using Json = nlohmann::json;

constexpr std::string_view k_type = "TYPE";
constexpr int k_digits = 4;

std::string value_or_unknown(const std::optional<double>& value, Unit unit) {
    return value ? print_short(*value, unit, k_digits) : "not known";
}

std::string_view power_words(PowerAt at) {
    switch (at) {
    case PowerAt::case_25:
        return "case at 25\u2009\u00b0C";
    case PowerAt::ambient_25:
        return "in air at 25\u2009\u00b0C";
    case PowerAt::mount_70:
        break;
    }
    return "mounting base at 70\u2009\u00b0C";
}

std::string_view insulation_words(Insulation insulated) {
    switch (insulated) {
    case Insulation::no:
        return "the collector";
    case Insulation::yes:
        return "insulated";
    case Insulation::unknown:
        break;
    }
    return "not known";
}

std::string kind_words(const Part& part) {
    return fmt::format("{}, {}, {}", polarity_key(part.polarity),
                       part.material == Material::silicon ? "silicon" : "germanium",
                       part.kind == PartKind::single       ? "single"
                       : part.kind == PartKind::darlington ? "Darlington"
                                                           : "with base resistors");
}

std::string gain_range(double low, double high) {
    return print_range(low, high, Unit::ratio, high < 1000 ? 3 : k_digits);
}

std::string gain_words(const Part& part) {
    if (!part.gain_low && !part.gain_high)
        return "not known";
    std::string text =
        part.gain_low && part.gain_high ? gain_range(*part.gain_low, *part.gain_high)
        : part.gain_low ? fmt::format("{} or more", print_short(*part.gain_low, Unit::ratio, 4))
                        : fmt::format("{} or less", print_short(*part.gain_high, Unit::ratio, 4));
    if (part.gain_a)
        text += fmt::format(" at {}", print_short(*part.gain_a, Unit::ampere));
    if (part.gain_ce_v)
        text += fmt::format(", {}", print_short(*part.gain_ce_v, Unit::volt));
    return text;
}

std::string group_words(const Part& part) {
    std::string text;
    for (const GainGroup& group : part.groups)
        text += fmt::format("{}{} {}", text.empty() ? "" : "; ", group.mark,
                            gain_range(group.low, group.high));
    return text.empty() ? "not known" : text;
}

std::string safe_words(const Part& part) {
    std::string text;
    for (const SafePoint& point : part.safe)
        text += fmt::format("{}{} at {}", text.empty() ? "" : "; ",
                            print_short(point.amperes, Unit::ampere),
                            print_short(point.volts, Unit::volt));
    return text.empty() ? "not known" : text;
}

std::string part_text(const FoundPart& found) {
    const Part& part = *found.part;
    std::string text = fmt::format("{}  {}\n", part.type, kind_words(part));
    TextTable table;
    const auto row = [&table](std::string_view what, std::string_view symbol, std::string value) {
        table.add({std::string(what), std::string(symbol), std::move(value)});
    };
    row("Collector-emitter", "V_CEO", value_or_unknown(part.ceo_v, Unit::volt));
    row("Collector-base", "V_CBO", value_or_unknown(part.cbo_v, Unit::volt));
    row("Emitter-base", "V_EBO", value_or_unknown(part.ebo_v, Unit::volt));
    row("Collector current", "I_C", value_or_unknown(part.collector_a, Unit::ampere));
    row("Dissipation", "P_D",
        part.power_w ? fmt::format("{}, {}", print_short(*part.power_w, Unit::watt, k_digits),
                                   power_words(part.power_at))
                     : "not known");
    row("Second breakdown", "", safe_words(part));
    row("Gain", "h_FE", gain_words(part));
    row("Gain groups", "", group_words(part));
    row("Speed", "f_T",
        part.transit_hz
            ? fmt::format("{}, {}", print_short(*part.transit_hz, Unit::hertz, k_digits),
                          part.transit_is == Stated::minimum ? "minimum" : "typical")
            : "not known");
    row("Output capacitance", "C_ob", value_or_unknown(part.output_f, Unit::farad));
    row("Junction, most", "T_j", value_or_unknown(part.junction_c, Unit::celsius));
    row("Junction to case", "R_thJC", value_or_unknown(part.case_k_per_w, Unit::kelvin_per_watt));
    row("Body", "", part.package.empty() ? "not known" : part.package);
    row("Leads", "", leads_text(part));
    row("Mounting face", "", std::string(insulation_words(part.insulated)));
    row("Complement", "", part.complement.empty() ? "not known" : part.complement);
    text += table.text(2);
    if (found.group)
        text += wrapped_text(fmt::format("Group {}: gain {}.", found.group->mark,
                                         gain_range(found.group->low, found.group->high)),
                             "  - ");
    if (!found.rest_is_known)
        text += wrapped_text(fmt::format("What \"{}\" after {} means is not known here: it can be "
                                         "another voltage, body or lead order.",
                                         found.rest, part.type),
                             "  ! Caution: ");
    for (const std::string& key : part.notes)
        text += wrapped_text(note_of(builtin_parts(), key), "  ! Caution: ");
    text += wrapped_text(fmt::format("Rests on: {}.", part.source), "  ");
    text += wrapped_text("Check the maker's data sheet before fitting.", "  ");
    return text;
}

Json json_of(const std::optional<double>& value) { return value ? Json(*value) : Json(nullptr); }

Json part_json(const Part& part) {
    Json groups = Json::object();
    for (const GainGroup& group : part.groups)
        groups[group.mark] = {group.low, group.high};
    Json safe = Json::array();
    for (const SafePoint& point : part.safe)
        safe.push_back({{"volt", point.volts}, {"ampere", point.amperes}});
    Json traps = Json::array();
    for (const std::string& key : part.notes)
        traps.push_back(note_of(builtin_parts(), key));
    const auto text = [](const std::string& held) {
        return held.empty() ? Json(nullptr) : Json(held);
    };
    return {{"type", part.type},
            {"polarity", polarity_key(part.polarity)},
            {"material", part.material == Material::silicon ? "silicon" : "germanium"},
            {"kind", part_kind_key(part.kind)},
            {"v_ceo", json_of(part.ceo_v)},
            {"v_cbo", json_of(part.cbo_v)},
            {"v_ebo", json_of(part.ebo_v)},
            {"i_c", json_of(part.collector_a)},
            {"p_d", json_of(part.power_w)},
            {"p_at", part.power_w ? Json(part.power_at == PowerAt::case_25      ? "case25"
                                         : part.power_at == PowerAt::ambient_25 ? "ambient25"
                                                                                : "mount70")
                                  : Json(nullptr)},
            {"hfe_min", json_of(part.gain_low)},
            {"hfe_max", json_of(part.gain_high)},
            {"hfe_at", json_of(part.gain_a)},
            {"hfe_v", json_of(part.gain_ce_v)},
            {"groups", std::move(groups)},
            {"f_t", json_of(part.transit_hz)},
            {"f_t_is", part.transit_hz ? Json(part.transit_is == Stated::minimum ? "min" : "typ")
                                       : Json(nullptr)},
            {"c_ob", json_of(part.output_f)},
            {"t_j", json_of(part.junction_c)},
            {"r_thjc", json_of(part.case_k_per_w)},
            {"safe_area", std::move(safe)},
            {"package", text(part.package)},
            {"leads", text(part.leads)},
            {"insulated", part.insulated == Insulation::yes  ? Json(true)
                          : part.insulated == Insulation::no ? Json(false)
                                                             : Json(nullptr)},
            {"complement", text(part.complement)},
            {"traps", std::move(traps)},
            {"source", part.source}};
}

Result<Done> show_type(std::string_view typed, const Options& options, std::ostream& out) {
    const PartsTable& table = builtin_parts();
    const auto found = find_part(table, typed);
    if (!found) {
        std::vector<std::string> types;
        for (const Part& part : table.parts)
            types.push_back(part.type);
        const std::string near = nearest_name(typed, types);
        return Error{ErrorCode::not_found, std::string(k_type),
                     fmt::format("{} is not in the parts table of {} types{}. See railside parts.",
                                 quoted(typed), types.size(),
                                 near.empty() ? "" : fmt::format(" (did you mean {}?)", near))};
    }
    if (!options.has(k_json_option)) {
        out << part_text(*found);
        return Done{};
    }
    Json json = part_json(*found->part);
    if (found->group)
        json["group"] = found->group->mark;
    if (!found->rest_is_known)
        json["unknown_suffix"] = found->rest;
    out << json.dump(2, ' ', false, Json::error_handler_t::replace) << '\n';
    return Done{};
}

Result<Done> show_parts(const Options& options, std::ostream& out) {
    if (const auto typed = options.text(k_type))
        return show_type(*typed, options, out);
    const PartsTable& table = builtin_parts();
    if (options.has(k_json_option)) {
        Json all = Json::array();
        for (const Part& part : table.parts)
            all.push_back(part_json(part));
        out << all.dump(2, ' ', false, Json::error_handler_t::replace) << '\n';
        return Done{};
    }
    TextTable rows;
    rows.add({"Type", "", "V_CEO", "I_C", "P_D", "Body", "Leads", "Complement"});
    for (const Part& part : table.parts)
        rows.add({part.type, std::string(polarity_key(part.polarity)),
                  part.ceo_v ? print_short(*part.ceo_v, Unit::volt) : "",
                  part.collector_a ? print_short(*part.collector_a, Unit::ampere) : "",
                  part.power_w ? print_short(*part.power_w, Unit::watt) : "", part.package,
                  part.leads, part.complement});
    out << rows.text(0)
        << fmt::format("{} types. \"railside parts TYPE\" tells all of one, with its traps.\n",
                       table.parts.size());
    return Done{};
}

} // namespace

Command parts_command() {
    CommandSpec spec;
    spec.name = "parts";
    spec.summary = "Lists the parts table, or tells one type with its traps and source";
    spec.usage = "[TYPE] [--json]";
    spec.about =
        "The table holds what published data sheets say of transistors in audio amplifiers. What "
        "no source gave is not known, and counts as not known wherever a part is judged.";
    spec.example = "railside parts 2SC5200";
    spec.options.push_back({std::string(k_type), std::string(k_type),
                            "What is printed on the body, in any form: \"c5200\", BC547B, "
                            "MJ15003G. Without it the whole "
                            "table is listed.",
                            "", "Words", Often::maybe});
    spec.options.push_back({std::string(k_json_option), "",
                            "Prints JSON, numbers in SI base units, null for unknown.", ""});
    return {std::move(spec), show_parts};
}

} // namespace railside
