// `circuit`: a SPICE netlist worked out, as an operating point, a sweep or a transient.
#include "app/command/commands.h"
#include "app/command/small_file.h"
#include "app/command/text_layout.h"
#include "core/circuit/netlist.h"
#include "core/circuit/solver.h"
#include "core/device/model_card.h"
#include "core/device/spice_text.h"
#include "core/quantity/refusal.h"
#include "core/quantity/value_code.h"

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include <algorithm>
#include <cmath>
#include <filesystem>

namespace railside {

namespace {

constexpr std::string_view k_file = "FILE";
constexpr std::string_view k_set = "--set";
constexpr std::string_view k_temperature = "--temperature";
constexpr std::string_view k_sweep = "--sweep";
constexpr std::string_view k_transient = "--transient";
constexpr std::string_view k_uic = "--uic";
constexpr std::string_view k_temperature_name = "temperature";

constexpr double k_lowest_c = -200;
constexpr double k_highest_c = 400;
constexpr int k_most_steps = 10'000;
constexpr double k_most_rows = 100'000;
constexpr int k_answer_digits = 5;

using Json = nlohmann::json;

// ---------------------------------------------------------------------------------------------
// What is given.

/// What is asked of the netlist, read from the options.
struct Asked {
    std::filesystem::path file;
    NetlistSettings settings;
    struct Sweep {
        std::string name;
        double from = 0;
        double to = 0;
        int steps = 1;
    };
    std::optional<Sweep> sweep;
    std::optional<TransientOptions> transient;
};

Error not_accepted(std::string_view option, std::string_view value, std::string_view accepted) {
    return {ErrorCode::out_of_range, std::string(option),
            fmt::format("{} {} is not accepted. Accepted: {}.", option, railside::quoted(value),
                        accepted)};
}

/// A number as netlists write it, or as the bench does (4k7).
std::optional<double> number_of(std::string_view text) {
    if (const auto number = spice_number(text))
        return number;
    if (const auto bench = parse_value(text, Unit::ohm, ""))
        return bench->value;
    return std::nullopt;
}

Result<std::filesystem::path> netlist_file(const Options& options) {
    const std::filesystem::path file = options.text_or(k_file, "");
    std::error_code error;
    if (!std::filesystem::is_regular_file(file, error))
        return Error{ErrorCode::not_found, std::string(k_file),
                     fmt::format("FILE: there is no file {}.", railside::quoted(file.string()))};
    return file;
}

Result<NetlistSettings> read_settings(const Options& options) {
    NetlistSettings settings;
    for (const std::string& text : options.texts(k_set)) {
        const auto mark = text.find('=');
        const auto value = mark == std::string::npos || mark == 0
                               ? std::nullopt
                               : number_of(std::string_view(text).substr(mark + 1));
        if (!value)
            return not_accepted(k_set, text,
                                "NAME=VALUE, the name of an element or a .param and a number such "
                                "as 4.7k, 100meg or 22u");
        if (!settings.emplace(spice_lower(text.substr(0, mark)), *value).second)
            return not_accepted(k_set, text, "each name once");
    }
    const auto celsius = number_option(options, k_temperature, k_lowest_c, k_highest_c, "\u00b0C");
    if (!celsius)
        return celsius.error();
    if (*celsius)
        settings.insert_or_assign(std::string(k_temperature_name), **celsius);
    return settings;
}

Result<std::optional<Asked::Sweep>> read_sweep(const Options& options) {
    const auto words = options.texts(k_sweep);
    if (words.empty())
        return std::optional<Asked::Sweep>();
    const auto from = number_of(words[1]);
    const auto to = number_of(words[2]);
    const auto steps = spice_number(words[3]);
    if (!from || !to)
        return not_accepted(k_sweep, from ? words[2] : words[1],
                            "numbers such as 4.7k for FROM and TO");
    if (!steps || *steps != std::floor(*steps) || *steps < 1 || *steps > k_most_steps)
        return not_accepted(k_sweep, words[3], "a whole number of steps, 1 to 10000");
    if (spice_equal(words[0], k_temperature_name))
        for (const double celsius : {*from, *to})
            if (!(celsius >= k_lowest_c && celsius <= k_highest_c))
                return not_accepted(k_sweep, celsius == *from ? words[1] : words[2],
                                    "temperatures, \u2212200 to 400 \u00b0C");
    return std::optional<Asked::Sweep>({words[0], *from, *to, static_cast<int>(*steps)});
}

Result<std::optional<TransientOptions>> read_transient(const Options& options) {
    const auto words = options.texts(k_transient);
    if (words.empty()) {
        if (options.has(k_uic))
            return Error{ErrorCode::missing, std::string(k_transient),
                         "--uic says how a transient begins: --transient STEP STOP is missing."};
        return std::optional<TransientOptions>();
    }
    TransientOptions transient;
    const auto step = spice_number(words[0]);
    const auto stop = spice_number(words[1]);
    if (!step || !(*step > 0))
        return not_accepted(k_transient, words[0], "a step above 0 s, such as 20u");
    if (!stop || !(*stop >= *step) || *stop > *step * k_most_rows)
        return not_accepted(k_transient, words[1], "an end of 1 to 100000 steps, such as 10m");
    transient.step_s = *step;
    transient.stop_s = *stop;
    transient.start = options.has(k_uic) ? TransientOptions::Start::given
                                         : TransientOptions::Start::operating_point;
    return std::optional<TransientOptions>(transient);
}

Result<Asked> read_asked(const Options& options) {
    Asked asked;
    const auto file = netlist_file(options);
    if (!file)
        return file.error();
    asked.file = *file;
    auto settings = read_settings(options);
    if (!settings)
        return settings.error();
    asked.settings = std::move(settings).value();
    auto sweep = read_sweep(options);
    if (!sweep)
        return sweep.error();
    asked.sweep = std::move(sweep).value();
    const auto transient = read_transient(options);
    if (!transient)
        return transient.error();
    asked.transient = *transient;
    if (asked.sweep && asked.transient)
        return Error{ErrorCode::contradictory, std::string(k_sweep),
                     "--sweep and --transient stand together: one of them is accepted."};
    return asked;
}

Result<Netlist> netlist_of(const Asked& asked, const NetlistSettings& settings) {
    const std::string name = asked.file.filename().string();
    const auto text = small_text_file(asked.file, "", name);
    if (!text)
        return text.error();
    const std::filesystem::path folder = asked.file.parent_path();
    return read_netlist(
        *text, name,
        [&folder](std::string_view included) {
            return small_text_file(folder / included, "", included);
        },
        settings);
}

// ---------------------------------------------------------------------------------------------
// What is worked out.

/// Where the value that is swept lives.
struct Swept {
    Unit unit = Unit::ratio;
    std::optional<ElementId> element; // absent: temperature or a .param, for which all is read anew
    bool resistor = false;
};

Swept swept_in(const Circuit& circuit, std::string_view name) {
    if (const auto id = circuit.find(name)) {
        const ElementPart& part = circuit.element(*id).part;
        if (std::holds_alternative<Resistor>(part))
            return {Unit::ohm, id, true};
        if (std::holds_alternative<VoltageSource>(part))
            return {Unit::volt, id, false};
        if (std::holds_alternative<CurrentSource>(part))
            return {Unit::ampere, id, false};
    }
    return {spice_equal(name, k_temperature_name) ? Unit::celsius : Unit::ratio, std::nullopt,
            false};
}

Error at_value(std::string_view name, double value, const Error& error) {
    return {error.code, std::string(k_sweep),
            fmt::format("{} at {:g}: {}", printable(name), value, error.message)};
}

/// One solved state for each value.
struct SweepAnswer {
    Netlist netlist; // as at the first value
    Swept swept;
    std::vector<double> values;
    std::vector<OperatingPoint> points;
};

Result<SweepAnswer> sweep(const Asked& asked) {
    const Asked::Sweep& wanted = *asked.sweep;
    SweepAnswer answer;
    for (int i = 0; i <= wanted.steps; ++i)
        answer.values.push_back(i == wanted.steps
                                    ? wanted.to
                                    : wanted.from + (wanted.to - wanted.from) * i / wanted.steps);
    std::optional<Solver> solver;
    for (const double value : answer.values) {
        OperatingPoint point;
        if (!solver || !answer.swept.element) {
            NetlistSettings settings = asked.settings;
            settings.insert_or_assign(spice_lower(wanted.name), value);
            auto netlist = netlist_of(asked, settings);
            if (!netlist)
                return at_value(wanted.name, value, netlist.error());
            if (!solver) {
                answer.netlist = std::move(netlist).value();
                answer.swept = swept_in(answer.netlist.circuit, wanted.name);
                solver.emplace(answer.netlist.circuit);
            } else {
                solver->take(netlist->circuit);
            }
        } else {
            solver->set_value(*answer.swept.element,
                              answer.swept.resistor && value == 0 ? 1e-3 : value);
        }
        // From scratch only once, so that a circuit with two states keeps to the one it is in.
        const auto done = answer.points.empty() ? solver->solve(point) : solver->resolve(point);
        if (!done)
            return at_value(wanted.name, value, done.error());
        answer.points.push_back(std::move(point));
    }
    return answer;
}

// ---------------------------------------------------------------------------------------------
// What is printed.

std::string_view way_key(SolveReport::Way way) {
    switch (way) {
    case SolveReport::Way::newton:
        return "newton";
    case SolveReport::Way::gmin_steps:
        return "gmin_steps";
    case SolveReport::Way::source_steps:
        return "source_steps";
    case SolveReport::Way::pseudo_transient:
        break;
    }
    return "pseudo_transient";
}

std::string_view way_words(SolveReport::Way way) {
    switch (way) {
    case SolveReport::Way::newton:
        return "plain Newton";
    case SolveReport::Way::gmin_steps:
        return "taking conductances across the junctions away in steps";
    case SolveReport::Way::source_steps:
        return "bringing the sources up in steps";
    case SolveReport::Way::pseudo_transient:
        break;
    }
    return "letting the nodes settle";
}

/// What is left of rounding is nothing.
std::string shown(double value, Unit unit) {
    const double nothing = unit == Unit::ampere ? 1e-15 : 1e-9;
    return print_short(std::abs(value) < nothing ? 0 : value, unit, k_answer_digits);
}

std::string volts(double value) { return shown(value, Unit::volt); }
std::string amperes(double value) { return shown(value, Unit::ampere); }
std::string watts(double value) { return shown(value, Unit::watt); }

std::string node_name(const Circuit& circuit, Node node) {
    return printable(circuit.node_name(node));
}

std::string notes_text(const Netlist& netlist) {
    std::string text = netlist.notes.empty() ? "" : "\nNotes\n";
    for (const std::string& note : netlist.notes)
        text += wrapped_text(note, "  ");
    return text;
}

/// Word by word, as what can be printed is cut short.
std::string title_text(const Netlist& netlist) {
    std::string text;
    std::string_view rest = netlist.title;
    while (!rest.empty()) {
        const auto end = std::min(rest.find(' '), rest.size());
        text += fmt::format("{}{}", text.empty() ? "" : " ", printable(rest.substr(0, end)));
        rest.remove_prefix(std::min(end + 1, rest.size()));
    }
    return text.empty() ? "(no title)" : text;
}

/// Both ends of an element that has two.
std::optional<std::pair<Node, Node>> ends_of(const ElementPart& part) {
    struct Visitor {
        using Ends = std::optional<std::pair<Node, Node>>;
        Ends operator()(const Resistor& r) const { return {{r.a, r.b}}; }
        Ends operator()(const Capacitor& c) const { return {{c.a, c.b}}; }
        Ends operator()(const Inductor& l) const { return {{l.a, l.b}}; }
        Ends operator()(const VoltageSource& v) const { return {{v.plus, v.minus}}; }
        Ends operator()(const CurrentSource& i) const { return {{i.plus, i.minus}}; }
        Ends operator()(const ControlledSource& s) const { return {{s.plus, s.minus}}; }
        Ends operator()(const Diode& d) const { return {{d.anode, d.cathode}}; }
        Ends operator()(const Bipolar&) const { return std::nullopt; }
    };
    return std::visit(Visitor(), part);
}

std::string point_text(const Netlist& netlist, const OperatingPoint& point) {
    const Circuit& circuit = netlist.circuit;
    std::string text = wrapped_text(title_text(netlist), "");
    text += fmt::format("Operating point at {}, found by {} ({} steps)\n",
                        print_short(circuit.temperature_c, Unit::celsius, 6),
                        way_words(point.report.way), point.report.iterations);
    TextTable nodes;
    nodes.add({"Node", "Volts to ground"});
    for (Node node = 1; node < circuit.node_count(); ++node)
        nodes.add({node_name(circuit, node), volts(point.volts(node))});
    text += '\n' + nodes.text(0);

    TextTable transistors;
    transistors.add({"Transistor", "Collector", "Base", "Emitter", "V_BE", "V_CE", "Power"});
    TextTable others;
    others.add({"Element", "Current", "Volts", "Power"});
    bool any_transistor = false;
    bool any_other = false;
    ElementId id = 0;
    for (const Element& element : circuit.elements()) {
        const ElementState& state = point.element(id++);
        if (const auto* q = std::get_if<Bipolar>(&element.part)) {
            any_transistor = true;
            transistors.add({printable(element.name), amperes(state.current_a),
                             amperes(state.base_a), amperes(state.emitter_a),
                             volts(point.volts(q->base, q->emitter)),
                             volts(point.volts(q->collector, q->emitter)), watts(state.power_w)});
        } else if (const auto ends = ends_of(element.part)) {
            any_other = true;
            others.add({printable(element.name), amperes(state.current_a),
                        volts(point.volts(ends->first, ends->second)), watts(state.power_w)});
        }
    }
    if (any_transistor)
        text += '\n' + transistors.text(0);
    if (any_other)
        text += '\n' + others.text(0);
    return text + notes_text(netlist);
}

Json point_json(const Netlist& netlist, const OperatingPoint& point) {
    const Circuit& circuit = netlist.circuit;
    Json nodes = Json::object();
    for (Node node = 1; node < circuit.node_count(); ++node)
        nodes[std::string(circuit.node_name(node))] = point.volts(node);
    Json elements = Json::object();
    ElementId id = 0;
    for (const Element& element : circuit.elements()) {
        const ElementState& state = point.element(id++);
        Json one{{"current", state.current_a}, {"power", state.power_w}};
        if (std::holds_alternative<Bipolar>(element.part)) {
            one["base_current"] = state.base_a;
            one["emitter_current"] = state.emitter_a;
        }
        elements[element.name] = std::move(one);
    }
    return {{"title", netlist.title},
            {"temperature_c", circuit.temperature_c},
            {"way", way_key(point.report.way)},
            {"iterations", point.report.iterations},
            {"nodes", std::move(nodes)},
            {"elements", std::move(elements)},
            {"notes", netlist.notes}};
}

/// A heading and its values, one below the other.
using Column = std::pair<std::string, std::vector<std::string>>;

/// Columns side by side, the first one repeated where they need another block to fit the page.
std::string blocks(const Column& first, const std::vector<Column>& columns) {
    const auto width = [](const Column& column) {
        std::size_t widest = text_columns(column.first);
        for (const std::string& cell : column.second)
            widest = std::max(widest, text_columns(cell));
        return widest + 2;
    };
    std::string text;
    for (std::size_t from = 0; from < columns.size();) {
        std::size_t used = width(first);
        std::size_t to = from;
        while (to < columns.size() && (to == from || used + width(columns[to]) <= k_line_columns))
            used += width(columns[to++]);
        TextTable table;
        for (std::size_t row = 0; row <= first.second.size(); ++row) {
            std::vector<std::string> cells{row == 0 ? first.first : first.second[row - 1]};
            for (std::size_t i = from; i < to; ++i)
                cells.push_back(row == 0 ? columns[i].first : columns[i].second[row - 1]);
            table.add(std::move(cells));
        }
        text += '\n' + table.text(0);
        from = to;
    }
    return text;
}

std::string sweep_text(const Asked& asked, const SweepAnswer& answer) {
    const Circuit& circuit = answer.netlist.circuit;
    Column swept{printable(asked.sweep->name), {}};
    for (const double value : answer.values)
        swept.second.push_back(shown(value, answer.swept.unit));
    std::vector<Column> columns;
    for (Node node = 1; node < circuit.node_count(); ++node) {
        Column column{node_name(circuit, node), {}};
        for (const OperatingPoint& point : answer.points)
            column.second.push_back(volts(point.volts(node)));
        columns.push_back(std::move(column));
    }
    std::string text = wrapped_text(title_text(answer.netlist), "");
    text += fmt::format("Volts of every node over {}\n", printable(asked.sweep->name));
    return text + blocks(swept, columns) + notes_text(answer.netlist);
}

Json sweep_json(const Asked& asked, const SweepAnswer& answer) {
    const Circuit& circuit = answer.netlist.circuit;
    Json nodes = Json::object();
    for (Node node = 1; node < circuit.node_count(); ++node) {
        Json volts = Json::array();
        for (const OperatingPoint& point : answer.points)
            volts.push_back(point.volts(node));
        nodes[std::string(circuit.node_name(node))] = std::move(volts);
    }
    Json elements = Json::object();
    ElementId id = 0;
    for (const Element& element : circuit.elements()) {
        Json one{{"current", Json::array()}, {"power", Json::array()}};
        const bool transistor = std::holds_alternative<Bipolar>(element.part);
        for (const OperatingPoint& point : answer.points) {
            const ElementState& state = point.element(id);
            one["current"].push_back(state.current_a);
            one["power"].push_back(state.power_w);
            if (transistor) {
                one["base_current"].push_back(state.base_a);
                one["emitter_current"].push_back(state.emitter_a);
            }
        }
        elements[element.name] = std::move(one);
        ++id;
    }
    return {{"title", answer.netlist.title},
            {"temperature_c", circuit.temperature_c},
            {"sweep",
             {{"source", asked.sweep->name},
              {"unit", unit_info(answer.swept.unit).key},
              {"values", answer.values}}},
            {"nodes", std::move(nodes)},
            {"elements", std::move(elements)},
            {"notes", answer.netlist.notes}};
}

/// Elements whose current a transient keeps: sources and inductors.
std::vector<ElementId> with_current(const Circuit& circuit) {
    std::vector<ElementId> found;
    ElementId id = 0;
    for (const Element& element : circuit.elements()) {
        if (std::holds_alternative<VoltageSource>(element.part) ||
            std::holds_alternative<Inductor>(element.part))
            found.push_back(id);
        ++id;
    }
    return found;
}

/// Between the times that were worked out, a straight line.
double at_time(const std::vector<double>& times, const std::vector<double>& values, double time_s) {
    const auto after = std::lower_bound(times.begin(), times.end(), time_s) - times.begin();
    const auto i = static_cast<std::size_t>(after);
    if (i == 0)
        return values.front();
    if (i == times.size())
        return values.back();
    const double part = (time_s - times[i - 1]) / (times[i] - times[i - 1]);
    return values[i - 1] + (values[i] - values[i - 1]) * part;
}

std::string transient_text(const Netlist& netlist, const TransientOptions& options,
                           const Transient& answer) {
    std::vector<double> times;
    const auto rows = static_cast<int>(std::floor(options.stop_s / options.step_s + 1e-9));
    for (int i = 0; i <= rows; ++i)
        times.push_back(options.step_s * i);
    Column time{"Time", {}};
    for (const double t : times)
        time.second.push_back(print_short(t, Unit::second, k_answer_digits));
    std::vector<Column> columns;
    for (std::size_t n = 0; n < answer.nodes.size(); ++n) {
        Column column{node_name(netlist.circuit, answer.nodes[n]), {}};
        for (const double t : times)
            column.second.push_back(volts(at_time(answer.time_s, answer.node_v[n], t)));
        columns.push_back(std::move(column));
    }
    std::string text = wrapped_text(title_text(netlist), "");
    text += "Volts of every node over time\n";
    return text + blocks(time, columns) + notes_text(netlist);
}

Json transient_json(const Netlist& netlist, const Transient& answer) {
    Json nodes = Json::object();
    for (std::size_t n = 0; n < answer.nodes.size(); ++n)
        nodes[std::string(netlist.circuit.node_name(answer.nodes[n]))] = answer.node_v[n];
    Json elements = Json::object();
    for (std::size_t n = 0; n < answer.elements.size(); ++n) {
        Json current = Json::array();
        for (const ElementState& state : answer.element_states[n])
            current.push_back(state.current_a);
        elements[netlist.circuit.element(answer.elements[n]).name] = {
            {"current", std::move(current)}};
    }
    return {{"title", netlist.title},
            {"temperature_c", netlist.circuit.temperature_c},
            {"transient", {{"unit", "second"}, {"values", answer.time_s}}},
            {"nodes", std::move(nodes)},
            {"elements", std::move(elements)},
            {"notes", netlist.notes}};
}

std::string json_text(const Json& json) {
    return json.dump(2, ' ', false, Json::error_handler_t::replace) + '\n';
}

Result<Done> run_circuit(const Options& options, std::ostream& out) {
    const auto asked = read_asked(options);
    if (!asked)
        return asked.error();
    const bool json = options.has(k_json_option);
    if (asked->sweep) {
        const auto answer = sweep(*asked);
        if (!answer)
            return answer.error();
        out << (json ? json_text(sweep_json(*asked, *answer)) : sweep_text(*asked, *answer));
        return Done{};
    }
    const auto netlist = netlist_of(*asked, asked->settings);
    if (!netlist)
        return netlist.error();
    if (asked->transient) {
        std::vector<Node> nodes;
        for (Node node = 1; node < netlist->circuit.node_count(); ++node)
            nodes.push_back(node);
        Solver solver(netlist->circuit);
        const auto answer =
            solver.transient(*asked->transient, nodes, with_current(netlist->circuit));
        if (!answer)
            return answer.error();
        out << (json ? json_text(transient_json(*netlist, *answer))
                     : transient_text(*netlist, *asked->transient, *answer));
        return Done{};
    }
    const auto point = operating_point(netlist->circuit);
    if (!point)
        return point.error();
    out << (json ? json_text(point_json(*netlist, *point)) : point_text(*netlist, *point));
    return Done{};
}

} // namespace

Command circuit_command() {
    CommandSpec spec;
    spec.name = "circuit";
    spec.summary = "Works out a circuit from a SPICE netlist: volts, currents and power";
    spec.usage = "FILE [--set NAME=VALUE]... [--temperature C] [--sweep NAME FROM TO STEPS | "
                 "--transient STEP STOP [--uic]] [--json]";
    spec.about = "Reads a SPICE netlist and prints its operating point: the volts of every node, "
                 "every current, V_BE and power. Resistors, capacitors, inductors, sources, diodes "
                 "and bipolar transistors are taken; .control and analysis commands are passed "
                 "over with a note.\n\n"
                 "Numbers are those of netlists: 4.7k, 22u, 1MEG for a megohm (1M is a "
                 "milliohm).";
    spec.example = "railside circuit amplifier.cir --set rl=100k --sweep vpos 4 40 9";
    spec.options = {
        {std::string(k_file), "FILE",
         "The netlist. Files it includes are looked for in its own folder.", ""},
        {std::string(k_set), "NAME=VALUE",
         "Sets the value of a resistor, capacitor, inductor, independent source or .param. May be "
         "repeated.",
         "", "Options", Often::each},
        {std::string(k_temperature), "C", "Temperature of the circuit, in degrees Celsius.",
         "\u2212200 to 400 \u00b0C. Not given: the netlist's own, or 27 \u00b0C"},
        {std::string(k_sweep), "NAME FROM TO STEPS",
         "Works the circuit out over a range of one source, resistor or .param, or of temperature, "
         "in so many equal steps.",
         "1 to 10000 steps", "Options", Often::once, 4},
        {std::string(k_transient), "STEP STOP",
         "Follows the circuit in time from its operating point, for so many seconds, with rows a "
         "step apart. Charge is held in capacitors and inductors, not in junctions.",
         "a stop of 1 to 100000 steps", "Options", Often::once, 2},
        {std::string(k_uic), "",
         "The transient starts from what capacitors and inductors state (ic=), the rest at 0.", ""},
        {std::string(k_json_option), "", "Prints the answer as JSON, in SI base units.", ""},
    };
    return {std::move(spec), run_circuit};
}

} // namespace railside
