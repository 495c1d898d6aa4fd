// Stand-in: which transistors can take a position, with every margin.
//
// The position's needs, the comparison and the ranking are core/device/stand_in.h; the parts are
// those of the table that travels inside the program (core/device/parts.h), or a SPICE card.
#include "core/device/drawer.h"
#include "core/device/parts.h"
#include "core/device/role.h"
#include "core/device/stand_in.h"
#include "core/quantity/refusal.h"
#include "core/quantity/value_code.h"
#include "core/words/words.h"
#include "core/working/entries.h"
#include "core/working/inputs.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <memory>

namespace railside {

namespace {

constexpr std::array k_roles{
    Choice{"output", "output"},
    Choice{"driver", "driver"},
    Choice{"pre_driver", "pre-driver"},
    Choice{"limiter", "limiter"},
    Choice{"bias_spreader", "bias spreader"},
    Choice{"voltage_amplifier", "voltage amplifier"},
    Choice{"input_pair", "input pair"},
    Choice{"other", "other"},
};

constexpr std::array k_polarities{
    Choice{"as_original", "as the original"},
    Choice{"npn", "NPN"},
    Choice{"pnp", "PNP"},
};

constexpr std::string_view k_loaded_roles = "output driver pre_driver";

constexpr std::array k_fields{
    Field{.key = "original",
          .label = "Original",
          .help = "The type the maker fitted, as printed on it, or a SPICE .model card of it; "
                  "without it nothing is compared with it.",
          .kind = FieldKind::device,
          .need = Need::optional},
    Field{.key = "role",
          .label = "Role",
          .help = "What the transistor does in the circuit; it decides what the part has to stand.",
          .kind = FieldKind::choice,
          .by_default = "output",
          .choices = k_roles},
    Field{.key = "polarity",
          .label = "Polarity",
          .help = "Given apart only where the original is not known or was the wrong part.",
          .kind = FieldKind::choice,
          .by_default = "as_original",
          .choices = k_polarities},
    Field{.key = "rail",
          .label = "Rail",
          .symbol = "V_CC",
          .help = "Supply of one side to ground, with nothing playing.",
          .unit = Unit::volt,
          .low = 5,
          .high = 200,
          .usual_low = 15,
          .usual_high = 100,
          .spread = Spread::tolerance,
          .default_spread = 0.02},
    Field{.key = "load",
          .label = "Load",
          .symbol = "R_L",
          .help = "Least nominal resistance of loudspeaker the unit is meant for.",
          .unit = Unit::ohm,
          .low = 1,
          .high = 64,
          .usual_low = 2,
          .usual_high = 16,
          .by_default = "8",
          .when = {"role", k_loaded_roles}},
    Field{.key = "pairs",
          .label = "Pairs",
          .symbol = "n",
          .help = "Output devices in parallel in each half of this channel.",
          .unit = Unit::ratio,
          .low = 1,
          .high = 12,
          .usual_low = 1,
          .usual_high = 6,
          .by_default = "1",
          .spread = Spread::count,
          .when = {"role", k_loaded_roles}},
    Field{.key = "package",
          .label = "Body needed",
          .help = "The package that must fit, such as TO-3 or TO-220; without it the original's.",
          .kind = FieldKind::text,
          .need = Need::optional},
    Field{.key = "drawer",
          .label = "Drawer",
          .help = "What this bench has in stock, as \"MJL3281A x 4; shelf 3\": one kind a line, or "
                  "with | between them.",
          .kind = FieldKind::text,
          .need = Need::optional},
    Field{.key = "candidate",
          .label = "Candidate",
          .help = "One type to judge, or a SPICE .model card of it; without it the whole table is "
                  "ranked.",
          .kind = FieldKind::device,
          .need = Need::optional},
};

constexpr std::size_t k_ranked = 8;  // rows of the ranking
constexpr std::size_t k_in_full = 4; // candidates with all their margins
constexpr double k_plot_most = 10;   // a bar goes no further than this many times the need

/// A device field's text as a part: of the table, or of one's own card.
struct Device {
    std::unique_ptr<Part> own; // holds a card's part
    const Part* part = nullptr;
    std::optional<GainGroup> group;
    std::string text; // as typed, fit for a sentence
    std::string note; // what has to be said about how it was read
};

Result<Device> device_of(const Input& input, std::string_view label, const PartsTable& table) {
    Device device;
    if (looks_like_card(input.word)) {
        auto part = part_from_card(input.word, label);
        if (!part) {
            return part.error();
        }
        device.own = std::make_unique<Part>(std::move(part).value());
        device.part = device.own.get();
        device.text = printable(device.part->type);
        device.own->type = device.text;
        device.note = worded("{} {} is read from a SPICE card: gain is the typical one, and "
                             "what the card calls Vceo is often the collector-base rating.",
                             label, device.text);
        return device;
    }
    device.text = printable(input.word);
    const auto found = find_part(table, input.word);
    if (!found) {
        device.note = worded("{} {} is not in the parts table: nothing is known of it here.", label,
                             quoted(input.word));
        return device;
    }
    device.part = found->part;
    device.group = found->group;
    if (!found->rest_is_known) {
        device.note = worded("{} {} is read as {}; what \"{}\" after it means is not known "
                             "here: it can be another voltage, body or lead order.",
                             label, quoted(input.word), found->part->type, found->rest);
    }
    return device;
}

/// Everything a position and its candidates are judged with.
struct Setting {
    const PartsTable& table;
    Position position;
    Drawer drawer;
    Device original;
    std::optional<Device> candidate;
};

std::string_view lead_words(LeadOrder leads) {
    switch (leads) {
    case LeadOrder::same:
        return "same";
    case LeadOrder::mirrored:
        return "mirrored";
    case LeadOrder::different:
        return "different";
    case LeadOrder::unknown:
        break;
    }
    return "not known";
}

std::string times(double ratio) { return worded("{} times", print_value(ratio, Unit::ratio, 3)); }

std::string small_first(std::string_view label) {
    std::string text(words(label));
    if (!text.empty() && text[0] >= 'A' && text[0] <= 'Z') {
        text[0] = static_cast<char>(text[0] - 'A' + 'a');
    }
    return text;
}

/// "collector current (1.2 times)"; empty when no figure is known.
std::string smallest_text(const Candidate& candidate) {
    if (!candidate.smallest) {
        return {};
    }
    return worded("{}, {}", small_first(parameter_label(candidate.smallest->parameter)),
                  times(*candidate.smallest->ratio));
}

std::string short_list_of(const Candidate& candidate, MarginState state) {
    std::string list;
    for (const Margin& margin : candidate.margins) {
        if (margin.state == state) {
            list += worded("{}{}", list.empty() ? "" : ", ", parameter_short(margin.parameter));
        }
    }
    return list;
}

std::string list_of(const Candidate& candidate, MarginState state) {
    std::string list;
    for (const Margin& margin : candidate.margins) {
        if (margin.state == state) {
            list += worded("{}{}", list.empty() ? "" : ", ",
                           small_first(parameter_label(margin.parameter)));
        }
    }
    return list;
}

std::string name_of(const Candidate& candidate) {
    return candidate.group ? worded("{}, group {}", candidate.part->type, candidate.group->mark)
                           : candidate.part->type;
}

Verdict verdict_on(const Candidate& candidate) {
    const std::string name = name_of(candidate);
    if (candidate.fails > 0) {
        const auto worst =
            std::find_if(candidate.margins.begin(), candidate.margins.end(),
                         [](const Margin& margin) { return margin.state == MarginState::fail; });
        return {VerdictState::outside, "does not fit",
                worded("{} falls short in {}: {} needed is {}, it has {}.", name,
                       list_of(candidate, MarginState::fail),
                       small_first(parameter_label(worst->parameter)), worst->needed, worst->has)};
    }
    if (candidate.unknowns > 0) {
        return {VerdictState::undecided, "not enough known",
                worded("Nothing is against {}, but not known: {}.", name,
                       list_of(candidate, MarginState::unknown))};
    }
    if (candidate.tights > 0) {
        return {
            VerdictState::at_the_edge, "at the edge",
            worded("{} can do it with care: {}.", name, list_of(candidate, MarginState::tight))};
    }
    if (candidate.smallest && *candidate.smallest->ratio < 1) {
        return {VerdictState::in_window, "fits",
                worded("{} fits; in {} of what is wanted, it has no less than the original.", name,
                       smallest_text(candidate))};
    }
    return {
        VerdictState::in_window, "fits",
        worded("{} meets every need; its smallest margin is {}.", name, smallest_text(candidate))};
}

OutcomeTable margins_table(const Candidate& candidate, std::size_t number) {
    OutcomeTable table;
    table.key = fmt::format("candidate_{}", number);
    const Part& part = *candidate.part;
    table.title = worded(
        "{}, {}, leads {}{}", name_of(candidate),
        part.package.empty() ? "body not known" : part.package, leads_text(part),
        candidate.stock.count > 0 ? worded("; in the drawer: {}", candidate.stock.where) : "");
    table.columns = {"Parameter", "Needed", "Has", "Times", "Result", "Remark"};
    for (const Margin& margin : candidate.margins) {
        table.rows.push_back({std::string(parameter_label(margin.parameter)), margin.needed,
                              margin.has,
                              margin.ratio ? print_value(*margin.ratio, Unit::ratio, 3) : "",
                              std::string(margin_key(margin.state)), margin.reason});
    }
    return table;
}

OutcomeTable ranking_table(const std::vector<Candidate>& shown) {
    OutcomeTable table;
    table.key = "ranking";
    table.title = "Candidates, best first";
    table.columns = {"", "Type", "Drawer", "Leads", "Complement", "Smallest", "Against it"};
    for (std::size_t i = 0; i < shown.size(); ++i) {
        const Candidate& candidate = shown[i];
        std::string against;
        for (const auto& [state, word] :
             {std::pair{MarginState::fail, "fails"}, std::pair{MarginState::tight, "tight"},
              std::pair{MarginState::unknown, "not known"}}) {
            if (const std::string list = short_list_of(candidate, state); !list.empty()) {
                against += fmt::format("{}{}: {}", against.empty() ? "" : "; ", word, list);
            }
        }
        std::string complement = candidate.part->complement;
        if (candidate.complement_stock.count > 0) {
            complement += fmt::format(" ({})", candidate.complement_stock.count);
        }
        table.rows.push_back(
            {fmt::format("{}", i + 1), candidate.part->type,
             candidate.stock.count > 0 ? fmt::format("{}", candidate.stock.count) : std::string(),
             std::string(lead_words(candidate.leads)),
             complement.empty() ? "not known" : complement,
             candidate.smallest ? worded("{} {}", parameter_short(candidate.smallest->parameter),
                                         print_value(*candidate.smallest->ratio, Unit::ratio, 2))
                                : std::string(),
             against.empty() ? "nothing" : against});
    }
    return table;
}

/// A row a candidate: from its least to its greatest ratio, and the need at 1.
void draw_ratios(Outcome& outcome, const std::vector<Candidate>& shown) {
    double row = 0;
    const auto add = [&](std::string key, std::string label, CurveRole role,
                         std::vector<double> ratios) {
        std::vector<double> rows(ratios.size(), row);
        outcome.curves.push_back({std::move(key),
                                  std::move(label),
                                  role,
                                  {"Has over needed", Unit::ratio, std::move(ratios)},
                                  {"", Unit::ratio, std::move(rows)}});
    };
    for (std::size_t i = 0; i < shown.size(); ++i) {
        double least = k_plot_most;
        double most = 0;
        for (const Margin& margin : shown[i].margins) {
            if (margin.ratio) {
                least = std::min(least, std::min(*margin.ratio, k_plot_most));
                most = std::max(most, std::min(*margin.ratio, k_plot_most));
            }
        }
        if (most <= 0) {
            continue;
        }
        add(fmt::format("margins_{}", i + 1), shown[i].part->type, CurveRole::window,
            {least, most});
        row += 1;
    }
    if (row > 0) {
        add("needed", "needed", CurveRole::limit, {1});
    }
    outcome.plot = outcome.curves.empty() ? PlotKind::none : PlotKind::bars;
}

void add_needs(Outcome& outcome, const Needs& needs) {
    const auto add = [&outcome](std::string key, Parameter parameter,
                                const std::optional<FigureNeed>& need, Unit unit) {
        if (need) {
            outcome.figures.push_back({std::move(key),
                                       worded("{} needed", parameter_label(parameter)),
                                       std::string(parameter_symbol(parameter)),
                                       {need->wanted, need->bare, need->wanted, unit}});
        }
    };
    add("need_ceo", Parameter::ceo, needs.ceo_v, Unit::volt);
    add("need_collector", Parameter::collector, needs.collector_a, Unit::ampere);
    add("need_power", Parameter::power, needs.power_w, Unit::watt);
    add("need_gain", Parameter::gain, needs.gain, Unit::ratio);
    add("need_transit", Parameter::transit, needs.transit_hz, Unit::hertz);
}

void add_figure(Outcome& outcome, std::string key, std::string label, double value) {
    outcome.figures.push_back(
        {std::move(key), std::move(label), "", Amount::exact(value, Unit::ratio)});
}

void add_once(std::vector<std::string>& sentences, std::string sentence) {
    if (std::find(sentences.begin(), sentences.end(), sentence) == sentences.end()) {
        sentences.push_back(std::move(sentence));
    }
}

/// What the table warns of for a type.
void add_traps(std::vector<std::string>& sentences, const PartsTable& table, const Part& part) {
    for (const std::string& key : part.notes) {
        add_once(sentences, fmt::format("{}: {}", part.type, note_of(table, key)));
    }
}

void add_general_cautions(Outcome& outcome, const Setting& setting, const Part* best) {
    const Role role = setting.position.role;
    if (role != Role::output && role != Role::driver) {
        return;
    }
    outcome.cautions.emplace_back(
        "New insulators and fresh compound, then measure collector to sink before power: a bare "
        "mounting face is the collector.");
    const auto old_can = [](const Part* part) {
        return part == nullptr || mount_of(part->package) == Mount::to3 ||
               mount_of(part->package) == Mount::to3_small || mount_of(part->package) == Mount::can;
    };
    if (old_can(setting.position.original) || old_can(best)) {
        outcome.cautions.emplace_back(
            "Some old metal power packages and white ceramic washers hold beryllia: never file, "
            "break, grind or burn one.");
    }
}

/// The notes that stand under every answer.
void add_notes(Outcome& outcome, const Setting& setting, const Candidate* best) {
    auto& notes = outcome.notes;
    notes.emplace_back("Check the maker's data sheet of the very part in hand before fitting: this "
                       "table tells what published sheets say, and makers differ.");
    for (const Device* device :
         {&setting.original, setting.candidate ? &*setting.candidate : nullptr}) {
        if (device != nullptr && !device->note.empty()) {
            notes.push_back(device->note);
        }
    }
    if (const Part* original = setting.position.original) {
        if (original->from_card) {
            notes.push_back(worded("Original: {}.", original->source));
        } else {
            add_traps(notes, setting.table, *original);
            const Stock own = stock_of(setting.drawer, setting.table, *original, std::nullopt);
            if (own.count > 0) {
                notes.push_back(
                    worded("The original type itself is in the drawer: {}.", own.where));
            }
        }
        const Candidate itself =
            judge_part(setting.position, *original, setting.position.original_group, setting.table,
                       setting.drawer);
        if (const std::string short_in = list_of(itself, MarginState::fail); itself.fails > 0) {
            notes.push_back(worded("The original itself falls short in {}: check rails, load "
                                   "and whether it is what the maker fitted.",
                                   short_in));
        }
    }
    if (best != nullptr) {
        for (std::string& sentence : together_with(setting.position, *best)) {
            notes.push_back(std::move(sentence));
        }
        if (!best->part->source.empty()) {
            notes.push_back(worded("{} rests on: {}.", best->part->type, best->part->source));
        }
    }
    notes.emplace_back(
        "Reserve: mains 10\u2009% high, impedance down to 80\u2009% of nominal, 45\u00b0 "
        "of phase, 2\u2009V of catch diodes; case 75\u2009\u00b0C.");
}

void judge_one(Outcome& outcome, const Setting& setting) {
    const Device& device = *setting.candidate;
    if (device.part == nullptr) {
        add_figure(outcome, "figures_known", "Figures known of the candidate", 0);
        add_needs(outcome, needs_of(setting.position));
        outcome.headline_note = worded("{} is not in the parts table", device.text);
        outcome.verdict = {VerdictState::undecided, "not known",
                           worded("{} is not in the parts table; read its data sheet, or give "
                                  "its SPICE card.",
                                  quoted(device.text))};
        add_general_cautions(outcome, setting, nullptr);
        add_notes(outcome, setting, nullptr);
        return;
    }
    const Candidate candidate =
        judge_part(setting.position, *device.part, device.group, setting.table, setting.drawer);
    if (candidate.smallest) {
        add_figure(outcome, "smallest_margin", "Smallest margin, has over needed",
                   *candidate.smallest->ratio);
    }
    add_figure(outcome, "parameters_failing", "Parameters that fail", candidate.fails);
    add_figure(outcome, "parameters_tight", "Parameters that are tight", candidate.tights);
    add_figure(outcome, "parameters_unknown", "Parameters not known", candidate.unknowns);
    add_needs(outcome, needs_of(setting.position));
    outcome.headline_note =
        candidate.smallest ? worded("{}: {}", name_of(candidate),
                                    small_first(parameter_label(candidate.smallest->parameter)))
                           : worded("{}: none of its figures is known", name_of(candidate));
    outcome.verdict = verdict_on(candidate);
    outcome.tables.push_back(margins_table(candidate, 1));
    draw_ratios(outcome, {candidate});
    for (const std::string& warning : candidate.warnings) {
        outcome.cautions.push_back(warning);
    }
    add_traps(outcome.cautions, setting.table, *candidate.part);
    add_general_cautions(outcome, setting, candidate.part);
    add_notes(outcome, setting, &candidate);
}

void rank_all(Outcome& outcome, const Setting& setting) {
    std::vector<Candidate> ranked;
    if (setting.position.polarity) {
        ranked = rank_parts(setting.position, setting.table, setting.drawer);
    }
    const auto passing = std::count_if(ranked.begin(), ranked.end(),
                                       [](const Candidate& each) { return each.passes(); });
    const auto open = std::count_if(ranked.begin(), ranked.end(), [](const Candidate& each) {
        return each.fails == 0 && !each.passes();
    });
    add_figure(outcome, "candidates_passing", "Candidates that pass", static_cast<double>(passing));
    add_figure(outcome, "candidates_open", "Others with nothing against them",
               static_cast<double>(open));
    std::vector<Candidate> shown(
        ranked.begin(),
        ranked.begin() + static_cast<std::ptrdiff_t>(std::min(k_ranked, ranked.size())));
    while (!shown.empty() && shown.back().fails > 0 && shown.size() > 1) {
        shown.pop_back();
    }
    if (!shown.empty() && shown.front().smallest) {
        add_figure(outcome, "best_margin",
                   worded("Smallest margin of {}", shown.front().part->type),
                   *shown.front().smallest->ratio);
    }
    add_needs(outcome, needs_of(setting.position));
    if (!setting.position.polarity) {
        outcome.headline_note = "polarity not known";
        outcome.verdict = {VerdictState::undecided, "not enough known",
                           "Neither the original nor a polarity is known; give one of them."};
    } else if (shown.empty()) {
        outcome.headline_note = "no part of that polarity and kind in the table";
        outcome.verdict = {VerdictState::undecided, "none known",
                           "The parts table holds no other part of that polarity and kind."};
    } else {
        const Candidate& best = shown.front();
        outcome.headline_note =
            worded("best {}{}{}", best.part->type,
                   best.smallest ? worded(", smallest margin {}", smallest_text(best)) : "",
                   best.stock.count > 0 ? worded("; in the drawer: {}", best.stock.where) : "");
        outcome.verdict = verdict_on(best);
        if (best.fails > 0) {
            outcome.verdict.word = "none fits";
            outcome.verdict.reason =
                worded("No part of the table fits; the nearest: {}", outcome.verdict.reason);
        }
    }
    if (!shown.empty()) {
        outcome.tables.push_back(ranking_table(shown));
    }
    const std::size_t full = std::min(k_in_full, shown.size());
    for (std::size_t i = 0; i < full; ++i) {
        outcome.tables.push_back(margins_table(shown[i], i + 1));
    }
    draw_ratios(outcome, {shown.begin(), shown.begin() + static_cast<std::ptrdiff_t>(full)});
    for (std::size_t i = 0; i < full; ++i) {
        for (const std::string& warning : shown[i].warnings) {
            add_once(outcome.cautions, warning);
        }
    }
    const Candidate* best = shown.empty() ? nullptr : &shown.front();
    add_general_cautions(outcome, setting, best == nullptr ? nullptr : best->part);
    add_notes(outcome, setting, best);
    for (std::size_t i = 0; i < full; ++i) {
        add_traps(outcome.notes, setting.table, *shown[i].part);
    }
}

Result<Outcome> compute(const Inputs& inputs) {
    Setting setting{builtin_parts(), {}, {}, {}, std::nullopt};
    Position& position = setting.position;
    position.role = role_from_key(given(inputs, "role").word).value_or(Role::other);
    // The worse end of what rails and load can be.
    position.rail_v = amount_of(inputs, "rail").high;
    const Amount* load = amount_if_given(inputs, "load");
    const Amount* pairs = amount_if_given(inputs, "pairs");
    position.load_ohm = load != nullptr ? load->low : 8;
    position.pairs = pairs != nullptr ? pairs->value : 1;

    if (const auto original = inputs.find("original"); original != inputs.end()) {
        auto device = device_of(original->second, "Original", setting.table);
        if (!device) {
            return device.error();
        }
        setting.original = std::move(device).value();
        position.original = setting.original.part;
        position.original_group = setting.original.group;
    }
    position.polarity = polarity_from_key(given(inputs, "polarity").word);
    if (!position.polarity && position.original != nullptr) {
        position.polarity = position.original->polarity;
    }
    if (const auto package = inputs.find("package"); package != inputs.end()) {
        position.package = printable(package->second.word);
    }
    if (const auto candidate = inputs.find("candidate"); candidate != inputs.end()) {
        auto device = device_of(candidate->second, "Candidate", setting.table);
        if (!device) {
            return device.error();
        }
        setting.candidate = std::move(device).value();
    }

    Outcome outcome;
    std::string drawer_trouble;
    if (const auto drawer = inputs.find("drawer"); drawer != inputs.end()) {
        std::string text = drawer->second.word;
        std::replace(text.begin(), text.end(), '|', '\n');
        auto read = read_drawer(text);
        if (read) {
            setting.drawer = std::move(read).value();
        } else {
            drawer_trouble = worded("{} The drawer was not looked at.", read.error().message);
        }
    }
    if (setting.candidate) {
        judge_one(outcome, setting);
    } else {
        rank_all(outcome, setting);
    }
    if (!drawer_trouble.empty()) {
        outcome.notes.insert(outcome.notes.begin(), drawer_trouble);
    }
    return outcome;
}

} // namespace

Working standin_working() {
    return {"standin",
            "Stand-in",
            "Which transistor can take this one's place?",
            k_fields,
            compute,
            "Limits of the data sheet against the circuit's need, derated by temperature"};
}

} // namespace railside
