#include "core/circuit/netlist.h"

#include "core/circuit/parameters.h"
#include "core/device/model_card.h"
#include "core/device/spice_text.h"
#include "core/quantity/refusal.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <deque>
#include <set>

namespace railside {

namespace {

constexpr int k_most_nesting = 16;
constexpr std::size_t k_most_text = 8U << 20U;
constexpr std::size_t k_most_elements = 10'000;
constexpr double k_least_ohm = 1e-3; // what 0 ohm is taken as, the usual way of circuit simulators
constexpr double k_lowest_c = -200;
constexpr double k_highest_c = 400;
constexpr double k_endless_s = 1e30;

constexpr std::array<std::string_view, 31> k_passed_over = {
    ".op",    ".dc",       ".ac",       ".tran",    ".noise",    ".tf",      ".pz",       ".sens",
    ".disto", ".four",     ".fourier",  ".meas",    ".measure",  ".print",   ".plot",     ".probe",
    ".save",  ".width",    ".step",     ".wave",    ".backanno", ".title",   ".options",  ".option",
    ".opt",   ".savebias", ".loadbias", ".csparam", ".endl",     ".protect", ".unprotect"};

/// A line with where it stands.
struct Line {
    std::string text;
    std::string place; // "a.cir, line 5"
    std::string source;
    int line = 0;
};

struct Subcircuit {
    std::string name;
    std::string place;
    std::vector<std::string> nodes; // lower case
    std::vector<std::pair<std::string, std::string>> defaults;
    std::vector<Line> lines;
};

/// The cards that lines of one level see, and those that could not be read.
struct Models {
    const Models* outer = nullptr;
    std::vector<ModelCard> cards;
    std::map<std::string, Error> damaged; // lower case

    [[nodiscard]] const ModelCard* find(std::string_view name) const {
        const ModelCard* card = find_card(cards, name);
        return card == nullptr && outer != nullptr && !damaged.contains(spice_lower(name))
                   ? outer->find(name)
                   : card;
    }
    [[nodiscard]] const Error* damage(std::string_view name) const {
        const auto held = damaged.find(spice_lower(name));
        return held != damaged.end() ? &held->second
               : outer == nullptr    ? nullptr
                                     : outer->damage(name);
    }
};

/// What names mean on one level: the netlist itself, or one call of a subcircuit.
struct Scope {
    std::string prefix;                                    // "x1." within the call X1
    std::map<std::string, std::string, std::less<>> nodes; // the subcircuit's own names to outer
    const Parameters* parameters = nullptr;
    const Models* models = nullptr;
    int depth = 0;
};

/// Names that are known only when all lines are read.
struct Pending {
    ElementId element = -1;
    std::vector<FormulaInput> inputs; // as called outside any subcircuit
    std::string place;
    std::string name;
};

std::string_view cut_blanks(std::string_view text) {
    while (!text.empty() && (text.front() == ' ' || text.front() == '\t')) {
        text.remove_prefix(1);
    }
    while (!text.empty() && (text.back() == ' ' || text.back() == '\t')) {
        text.remove_suffix(1);
    }
    return text;
}

/// A line's text after its first word.
std::string_view rest_of(std::string_view text) {
    return cut_blanks(text.substr(std::min(text.find_first_of(" \t"), text.size())));
}

std::string_view without_quotes(std::string_view text) {
    if (text.size() >= 2 && (text.front() == '"' || text.front() == '\'') &&
        text.back() == text.front()) {
        return text.substr(1, text.size() - 2);
    }
    return text;
}

/// A word such as 1M, which many mean as a megohm.
bool looks_like_mega(std::string_view word) {
    const auto letter = word.find_first_not_of("0123456789.+-");
    return letter != std::string_view::npos && letter > 0 && word[letter] == 'M' &&
           !spice_equal(word.substr(letter, 3), "meg") &&
           !spice_equal(word.substr(letter, 3), "mil");
}

std::string number_text(double value) {
    std::string text = fmt::format("{:g}", value);
    return text.starts_with('-') ? "\u2212" + text.substr(1) : text;
}

// ---------------------------------------------------------------------------------------------
// One element's line.

/// Words of an element's line with a place to read on from.
struct Words {
    std::vector<std::string> words;
    std::size_t at = 0;

    [[nodiscard]] bool more() const { return at < words.size(); }
    /// The word `ahead` of the next one; empty beyond the end.
    [[nodiscard]] std::string_view peek(std::size_t ahead = 0) const {
        return at + ahead < words.size() ? std::string_view(words[at + ahead]) : std::string_view();
    }
    [[nodiscard]] bool named() const { return peek(1) == "="; } // "name = ..."
};

/// Reads the lines of one level into the circuit.
class Reader {
  public:
    Reader(const IncludeReader& include, const NetlistSettings& settings)
        : include_(include), settings_(settings) {}

    [[nodiscard]] Result<Netlist> read(std::string_view text, std::string_view source);

  private:
    // Gathering lines.
    [[nodiscard]] Result<Done> gather(std::string_view text, std::string_view source,
                                      int first_line, int depth);
    [[nodiscard]] Result<Done> gather_included(const Line& line, int depth);
    [[nodiscard]] Result<Done> gather_line(Line line, int depth);
    [[nodiscard]] Result<Done> open_subcircuit(const Line& line);
    [[nodiscard]] Result<Done> define_parameters(const Line& line, Parameters& parameters);
    [[nodiscard]] Result<Done> read_temperature();
    [[nodiscard]] Result<Done> read_model(const Line& line, const Parameters& parameters,
                                          Models& models);
    void take_title(std::string_view line, std::string_view source);

    // Lines of a level.
    [[nodiscard]] Result<Done> read_level(std::span<const Line> lines, Parameters& parameters,
                                          Models& models, Scope& scope);
    [[nodiscard]] Result<Done> read_element(const Line& line, const Scope& scope);
    [[nodiscard]] Result<Done> read_call(const Line& line, const Scope& scope);
    [[nodiscard]] Result<Done> read_guesses(const Line& line, const Scope& scope);

    // Elements.
    [[nodiscard]] Result<ElementPart> read_resistor(Words& words, const Line& line,
                                                    const Scope& scope);
    [[nodiscard]] Result<ElementPart> read_capacitor(Words& words, const Line& line,
                                                     const Scope& scope);
    [[nodiscard]] Result<ElementPart> read_inductor(Words& words, const Line& line,
                                                    const Scope& scope);
    [[nodiscard]] Result<ElementPart> read_source(Words& words, const Line& line,
                                                  const Scope& scope, bool voltage);
    [[nodiscard]] Result<ElementPart> read_controlled(Words& words, const Line& line,
                                                      const Scope& scope);
    [[nodiscard]] Result<ElementPart> read_formula(std::string_view expression,
                                                   ControlledSource source, const Line& line,
                                                   const Scope& scope);
    [[nodiscard]] Result<ElementPart> read_diode(Words& words, const Line& line,
                                                 const Scope& scope);
    [[nodiscard]] Result<ElementPart> read_bipolar(Words& words, const Line& line,
                                                   const Scope& scope);

    [[nodiscard]] Result<Node> read_node(Words& words, const Line& line, const Scope& scope);
    [[nodiscard]] Result<std::array<Node, 2>> read_nodes(Words& words, const Line& line,
                                                         const Scope& scope);
    [[nodiscard]] Result<double> read_value(Words& words, const Line& line, const Scope& scope,
                                            std::string_view what);
    [[nodiscard]] Result<std::map<std::string, double>>
    read_options(Words& words, const Line& line, const Scope& scope,
                 std::span<const std::string_view> accepted);
    [[nodiscard]] Result<Waveform> read_waveform(Words& words, const Line& line,
                                                 const Scope& scope);
    [[nodiscard]] Result<std::vector<double>> read_arguments(Words& words, const Line& line,
                                                             const Scope& scope);
    struct Device {
        double area = 1;
        std::optional<double> junction;
    };
    [[nodiscard]] Result<Device> read_device(Words& words, const Line& line, const Scope& scope);

    // Ends.
    [[nodiscard]] Result<Done> join_inputs();
    [[nodiscard]] Result<Done> take_settings();

    [[nodiscard]] std::string outer_node(std::string_view name, const Scope& scope) const;
    [[nodiscard]] double resistance(double ohm, std::string_view name, std::string_view place);
    void note(std::string_view place, std::string_view sentence) {
        netlist_.notes.push_back(fmt::format("{}: {}", place, sentence));
    }
    [[nodiscard]] static Error refuse(const Line& line, std::string_view sentence,
                                      ErrorCode code = ErrorCode::bad_text) {
        const auto words = spice_words(line.text);
        return {code, words.empty() ? line.place : printable(words.front()),
                fmt::format("{}: {}", line.place, sentence)};
    }
    [[nodiscard]] static Error at_line(const Line& line, const Error& error) {
        return {error.code, error.field, fmt::format("{}: {}", line.place, error.message)};
    }

    const IncludeReader& include_;
    const NetlistSettings& settings_;
    Netlist netlist_;
    std::vector<Line> lines_;
    std::deque<Subcircuit> subcircuits_;
    std::map<std::string, const Subcircuit*, std::less<>> subcircuit_names_;
    std::vector<Subcircuit*> open_;
    Parameters parameters_;
    Models models_;
    std::set<std::string, std::less<>> globals_;
    std::optional<Line> temperature_;
    std::vector<Pending> pending_;
    std::vector<FormulaInput> inputs_; // of the element being read
    std::size_t text_bytes_ = 0;
    std::size_t calls_ = 0;
    int control_from_ = 0; // line of an open .control
};

// ---------------------------------------------------------------------------------------------
// Gathering lines.

void Reader::take_title(std::string_view line, std::string_view source) {
    const bool comment = cut_blanks(line).starts_with('*');
    std::string_view title = cut_blanks(line);
    while (title.starts_with('*')) {
        title = cut_blanks(title.substr(1));
    }
    netlist_.title = std::string(title);
    constexpr std::string_view k_letters = "rclvidqefghbx";
    const auto words = spice_words(title);
    if (!comment && words.size() >= 4 && words[0].size() <= 8 &&
        k_letters.find(spice_lower(words[0])[0]) != std::string_view::npos &&
        spice_number(words[3])) {
        note(spice_place(source, 1),
             fmt::format("the first line is the title, though {} looks like an element.",
                         quoted(title)));
    }
}

Result<Done> Reader::gather(std::string_view text, std::string_view source, int first_line,
                            int depth) {
    text_bytes_ += text.size();
    if (text_bytes_ > k_most_text) {
        return Error{ErrorCode::out_of_range, printable(source),
                     fmt::format("{}: the netlist and what it includes have more than 8 MB. "
                                 "Accepted: at most 8 MB together.",
                                 printable(source))};
    }
    const std::size_t opened = open_.size();
    control_from_ = 0;
    for (SpiceLine& read : spice_lines(text, first_line)) {
        Line line{std::move(read.text), spice_place(source, read.line), std::string(source),
                  read.line};
        const auto words = spice_words(line.text);
        const std::string first = words.empty() ? std::string() : spice_lower(words.front());
        if (control_from_ != 0) {
            if (first == ".endc") {
                note(
                    spice_place(source, control_from_),
                    fmt::format("the commands of .control to line {} are passed over.", line.line));
                control_from_ = 0;
            }
            continue;
        }
        if (first == ".control") {
            control_from_ = line.line;
        } else if (first == ".end") {
            break;
        } else if (auto done = gather_line(std::move(line), depth); !done) {
            return done.error();
        }
    }
    if (control_from_ != 0) {
        note(spice_place(source, control_from_),
             "the commands of .control, which has no .endc, are passed over to the end.");
        control_from_ = 0;
    }
    if (open_.size() > opened) {
        return Error{ErrorCode::bad_text, ".subckt",
                     fmt::format("{}: the .subckt {} has no .ends.", open_.back()->place,
                                 quoted(open_.back()->name))};
    }
    return Done{};
}

Result<Done> Reader::gather_line(Line line, int depth) {
    const auto words = spice_words(line.text);
    const std::string first = words.empty() ? std::string() : spice_lower(words.front());
    if (first == ".include" || first == ".inc" || first == ".lib") {
        return gather_included(line, depth);
    }
    if (first == ".subckt" || first == ".macro") {
        return open_subcircuit(line);
    }
    if (first == ".ends" || first == ".eom") {
        if (open_.empty()) {
            return refuse(line, ".ends stands without a .subckt before it.");
        }
        open_.pop_back();
        return Done{};
    }
    if (!open_.empty()) {
        open_.back()->lines.push_back(std::move(line));
        return Done{};
    }
    if (first == ".param" || first == ".params") {
        return define_parameters(line, parameters_);
    }
    if (first == ".global") {
        for (const std::string& name : std::span(words).subspan(1)) {
            globals_.insert(spice_lower(name));
        }
        return Done{};
    }
    if (first == ".temp") {
        temperature_ = std::move(line);
        return Done{};
    }
    if (first == ".options" || first == ".option" || first == ".opt") {
        for (const auto& [name, value] : assignments(rest_of(line.text))) {
            if (spice_equal(name, "temp")) {
                temperature_ = line;
                temperature_->text = ".temp " + value;
            }
        }
    }
    lines_.push_back(std::move(line));
    return Done{};
}

Result<Done> Reader::gather_included(const Line& line, int depth) {
    const std::string_view file = rest_of(line.text);
    const std::string name(without_quotes(file));
    if (name.empty()) {
        return refuse(line, "an include needs the name of a file.");
    }
    if (spice_equal(line.text.substr(0, 4), ".lib") && without_quotes(file) == file &&
        file.find_first_of(" \t") != std::string_view::npos) {
        return refuse(line,
                      "a section of a library is not taken. Accepted: .lib with the name of a "
                      "file, in quotes where it holds a blank.");
    }
    if (depth >= k_most_nesting) {
        return refuse(line, "includes nest too deep. Accepted: at most 16 within each other.");
    }
    const auto text = include_ ? include_(name)
                               : Result<std::string>(Error{ErrorCode::not_found, name,
                                                           "no files can be included here."});
    if (!text) {
        return at_line(line, text.error());
    }
    return gather(*text, name, 1, depth + 1);
}

Result<Done> Reader::open_subcircuit(const Line& line) {
    const auto words = spice_words(line.text);
    if (words.size() < 2) {
        return refuse(line, "a .subckt needs a name and nodes.");
    }
    Subcircuit made;
    made.name = words[1];
    made.place = line.place;
    std::size_t at = 2;
    while (at < words.size() && words[at] != "=" && !spice_equal(words[at], "params:") &&
           (at + 1 >= words.size() || words[at + 1] != "=")) {
        made.nodes.push_back(spice_lower(words[at]));
        ++at;
    }
    for (auto& [name, value] : assignments(rest_of(line.text))) {
        if (name.empty()) {
            continue; // the name and the nodes
        }
        made.defaults.emplace_back(std::move(name), std::move(value));
    }
    subcircuits_.push_back(std::move(made));
    open_.push_back(&subcircuits_.back());
    subcircuit_names_[spice_lower(words[1])] = open_.back();
    return Done{};
}

Result<Done> Reader::define_parameters(const Line& line, Parameters& parameters) {
    const auto pairs = assignments(rest_of(line.text));
    for (const auto& [name, value] : pairs) {
        const bool letter_first = !name.empty() && !(name[0] >= '0' && name[0] <= '9');
        if (!letter_first || value.empty()) {
            return refuse(line,
                          fmt::format("{} is not understood. Accepted: .param NAME=VALUE, the "
                                      "name beginning with a letter, the value a number or an "
                                      "expression.",
                                      quoted(line.text)));
        }
        parameters.define(name, value, line.place);
    }
    return Done{};
}

Result<Done> Reader::read_temperature() {
    double celsius = k_card_c;
    if (temperature_) {
        const auto words = spice_words(temperature_->text);
        const auto value =
            parameters_.number(words.size() > 1 ? std::string_view(words[1]) : std::string_view());
        if (!value) {
            return at_line(*temperature_, value.error());
        }
        if (!*value || **value < k_lowest_c || **value > k_highest_c) {
            return refuse(*temperature_,
                          fmt::format("the temperature is {}. Accepted: a number, \u2212200 to 400 "
                                      "\u00b0C.",
                                      quoted(rest_of(temperature_->text))),
                          ErrorCode::out_of_range);
        }
        celsius = **value;
    }
    for (const auto& setting : settings_) {
        if (!spice_equal(setting.first, "temperature")) {
            continue;
        }
        celsius = setting.second;
        if (!(celsius >= k_lowest_c && celsius <= k_highest_c)) {
            return Error{ErrorCode::out_of_range, "temperature",
                         fmt::format("temperature: {} \u00b0C is not accepted. Accepted: "
                                     "\u2212200 to 400 \u00b0C.",
                                     number_text(celsius))};
        }
    }
    netlist_.circuit.temperature_c = celsius;
    parameters_.fix("temper", celsius);
    return Done{};
}

Result<Done> Reader::read_model(const Line& line, const Parameters& parameters, Models& models) {
    SpiceLine card{{}, line.line};
    // Expressions become numbers, so that the card holds nothing else.
    for (std::size_t at = 0; at < line.text.size();) {
        const char c = line.text[at];
        const auto close = c == '{'    ? line.text.find('}', at + 1)
                           : c == '\'' ? line.text.find('\'', at + 1)
                                       : std::string::npos;
        if (close == std::string::npos) {
            card.text += c;
            ++at;
            continue;
        }
        const auto value =
            parameters.evaluate(std::string_view(line.text).substr(at + 1, close - at - 1));
        if (!value) {
            return at_line(line, value.error());
        }
        card.text += fmt::format("{}", *value);
        at = close + 1;
    }
    auto read = read_model_line(card, line.source, netlist_.notes);
    if (!read) {
        const auto words = spice_words(card.text);
        if (words.size() < 3) {
            return read.error();
        }
        // A library may hold a card that is wrong and not used here.
        models.damaged.insert_or_assign(spice_lower(words[1]), read.error());
        return Done{};
    }
    if (*read) {
        models.damaged.erase(spice_lower((*read)->name));
        models.cards.push_back(std::move(**read));
    }
    return Done{};
}

// ---------------------------------------------------------------------------------------------
// Lines of a level.

Result<Done> Reader::read_level(std::span<const Line> lines, Parameters& parameters, Models& models,
                                Scope& scope) {
    // Cards and parameters may stand after what uses them.
    for (const Line& line : lines) {
        if (spice_lower(line.text.substr(0, 6)) == ".param") {
            if (auto done = define_parameters(line, parameters); !done) {
                return done.error();
            }
        }
    }
    if (auto done = parameters.check(); !done) {
        return done.error();
    }
    const auto first_word = [](const Line& line) {
        const auto words = spice_words(line.text);
        return words.empty() ? std::string() : spice_lower(words.front());
    };
    for (const Line& line : lines) {
        if (first_word(line) == ".model") {
            if (auto done = read_model(line, parameters, models); !done) {
                return done.error();
            }
        }
    }
    for (const Line& line : lines) {
        const std::string first = first_word(line);
        if (first == ".model" || first == ".param" || first == ".params") {
            continue;
        }
        if (first == ".nodeset" || first == ".ic") {
            if (auto done = read_guesses(line, scope); !done) {
                return done.error();
            }
            continue;
        }
        if (std::find(k_passed_over.begin(), k_passed_over.end(), first) != k_passed_over.end()) {
            if (first != ".title" && first != ".backanno" && first != ".endl") {
                note(line.place, fmt::format("{} is passed over.", first));
            }
            continue;
        }
        if (auto done = read_element(line, scope); !done) {
            return done.error();
        }
    }
    return Done{};
}

Result<Done> Reader::read_guesses(const Line& line, const Scope& scope) {
    Words words{spice_words(line.text), 1};
    while (words.more()) {
        if (!spice_equal(words.peek(), "v") || words.peek(2) != "=") {
            return refuse(line, fmt::format("{} is not understood. Accepted: v(NODE)=VOLTS.",
                                            quoted(rest_of(line.text))));
        }
        const auto node = netlist_.circuit.node(outer_node(words.peek(1), scope));
        words.at += 3;
        const auto volts = read_value(words, line, scope, "the volts of a node");
        if (!volts) {
            return volts.error();
        }
        if (node != 0) {
            netlist_.circuit.first_guess[node] = *volts;
        }
    }
    if (spice_equal(line.text.substr(0, 3), ".ic")) {
        note(line.place, ".ic is taken as where the operating point begins, as .nodeset is.");
    }
    return Done{};
}

std::string Reader::outer_node(std::string_view name, const Scope& scope) const {
    std::string key = spice_lower(name);
    if (key == "0" || key == "gnd" || globals_.contains(key)) {
        return key;
    }
    if (const auto outside = scope.nodes.find(key); outside != scope.nodes.end()) {
        return outside->second;
    }
    return scope.prefix + key;
}

Result<Done> Reader::read_element(const Line& line, const Scope& scope) {
    Words words{spice_words(line.text), 0};
    if (words.words.empty()) {
        return refuse(line, fmt::format("{} is not understood.", quoted(line.text)));
    }
    const std::string name = words.words.front();
    words.at = 1;
    inputs_.clear();
    Result<ElementPart> part = ElementPart();
    switch (spice_lower(name)[0]) {
    case 'r':
        part = read_resistor(words, line, scope);
        break;
    case 'c':
        part = read_capacitor(words, line, scope);
        break;
    case 'l':
        part = read_inductor(words, line, scope);
        break;
    case 'v':
        part = read_source(words, line, scope, true);
        break;
    case 'i':
        part = read_source(words, line, scope, false);
        break;
    case 'e':
    case 'f':
    case 'g':
    case 'h':
    case 'b':
        part = read_controlled(words, line, scope);
        break;
    case 'd':
        part = read_diode(words, line, scope);
        break;
    case 'q':
        part = read_bipolar(words, line, scope);
        break;
    case 'x':
        return read_call(line, scope);
    case '+':
        return refuse(line, "the + continues nothing.");
    default:
        return refuse(line,
                      name.front() == '.'
                          ? fmt::format("{} is not taken here. Accepted: .model .include .lib "
                                        ".subckt .param .nodeset .ic .temp .global .end.",
                                        quoted(name))
                          : fmt::format("{} is no element that is taken. Accepted: R C L V I D Q E "
                                        "F G H B X.",
                                        quoted(name)));
    }
    if (!part) {
        return part.error();
    }
    if (words.more()) {
        return refuse(line, fmt::format("in {} the word {} is not understood.", quoted(name),
                                        quoted(words.peek())));
    }
    std::string full = scope.prefix + name;
    if (netlist_.circuit.find(full)) {
        return refuse(
            line, fmt::format("there are two elements {}; a name may stand once.", quoted(full)));
    }
    if (netlist_.circuit.elements().size() >= k_most_elements) {
        return refuse(line, "there are too many elements. Accepted: at most 10 000.",
                      ErrorCode::out_of_range);
    }
    const ElementId id = netlist_.circuit.add(full, std::move(part).value());
    if (!inputs_.empty()) {
        pending_.push_back({id, std::move(inputs_), line.place, std::move(full)});
        inputs_.clear();
    }
    return Done{};
}

Result<Done> Reader::read_call(const Line& line, const Scope& scope) {
    const auto words = spice_words(line.text);
    std::size_t named = 1; // where name=value begins
    while (named < words.size() && !spice_equal(words[named], "params:") &&
           !(named + 1 < words.size() && words[named + 1] == "=")) {
        ++named;
    }
    if (named < 3) {
        return refuse(line, "a call of a subcircuit needs nodes and its name.");
    }
    const std::string& name = words[named - 1];
    const auto found = subcircuit_names_.find(spice_lower(name));
    if (found == subcircuit_names_.end()) {
        return refuse(line, fmt::format("there is no .subckt {}.", quoted(name)),
                      ErrorCode::not_found);
    }
    const Subcircuit& subcircuit = *found->second;
    if (named - 2 != subcircuit.nodes.size()) {
        return refuse(line, fmt::format("{} nodes are given; the .subckt {} has {}.", named - 2,
                                        quoted(name), subcircuit.nodes.size()));
    }
    if (scope.depth >= k_most_nesting || ++calls_ > k_most_elements) {
        return refuse(line,
                      "subcircuits nest too deep, or there are too many. Accepted: at most 16 "
                      "within each other and 10 000 in all.",
                      ErrorCode::out_of_range);
    }
    Scope inner;
    inner.prefix = scope.prefix + words[0] + '.';
    inner.depth = scope.depth + 1;
    for (std::size_t i = 0; i < subcircuit.nodes.size(); ++i) {
        inner.nodes[subcircuit.nodes[i]] = outer_node(words[i + 1], scope);
    }
    Parameters parameters(scope.parameters);
    for (const auto& [key, value] : assignments(rest_of(line.text))) {
        if (key.empty()) {
            continue; // nodes and name
        }
        const auto worked_out = scope.parameters->evaluate(bare_expression(value));
        if (!worked_out) {
            return at_line(line, worked_out.error());
        }
        parameters.fix(key, *worked_out);
    }
    for (const auto& [key, value] : subcircuit.defaults) {
        parameters.define(key, value, subcircuit.place);
    }
    Models models;
    models.outer = scope.models;
    inner.parameters = &parameters;
    inner.models = &models;
    return read_level(subcircuit.lines, parameters, models, inner);
}

// ---------------------------------------------------------------------------------------------
// Elements.

Result<Node> Reader::read_node(Words& words, const Line& line, const Scope& scope) {
    if (!words.more() || words.peek() == "=") {
        return refuse(line, fmt::format("{} lacks a node.", quoted(words.words.front())));
    }
    return netlist_.circuit.node(outer_node(words.words[words.at++], scope));
}

Result<std::array<Node, 2>> Reader::read_nodes(Words& words, const Line& line, const Scope& scope) {
    const auto first = read_node(words, line, scope);
    if (!first) {
        return first.error();
    }
    const auto second = read_node(words, line, scope);
    if (!second) {
        return second.error();
    }
    return std::array<Node, 2>{*first, *second};
}

Result<double> Reader::read_value(Words& words, const Line& line, const Scope& scope,
                                  std::string_view what) {
    const auto bad = [&](std::string_view accepted) {
        return refuse(line, words.more() ? fmt::format("{} of {} is {}. Accepted: {}.", what,
                                                       quoted(words.words.front()),
                                                       quoted(words.peek()), accepted)
                                         : fmt::format("{} of {} is missing. Accepted: {}.", what,
                                                       quoted(words.words.front()), accepted));
    };
    const auto value = scope.parameters->number(words.peek());
    if (!value) {
        return at_line(line, value.error());
    }
    if (!*value) {
        return bad("a number such as 4.7k, 100meg or 22u, or an expression in {}");
    }
    ++words.at;
    return **value;
}

Result<std::map<std::string, double>>
Reader::read_options(Words& words, const Line& line, const Scope& scope,
                     std::span<const std::string_view> accepted) {
    std::map<std::string, double> options;
    while (words.named()) {
        const std::string name = spice_lower(words.peek());
        if (std::find(accepted.begin(), accepted.end(), name) == accepted.end()) {
            std::string list;
            for (const std::string_view one : accepted) {
                list += fmt::format("{}{}", list.empty() ? "" : " ", one);
            }
            return refuse(line, fmt::format("{} takes no {}. Accepted: {}.",
                                            quoted(words.words.front()), quoted(name), list));
        }
        words.at += 2;
        const auto value = read_value(words, line, scope, fmt::format("the {}", name));
        if (!value) {
            return value.error();
        }
        options[name] = *value;
        // Lists such as ic=0.6,5 and tc=0.001,0: only the first is looked at.
        while ((name == "tc" || name == "ic") && words.more() && !words.named() &&
               spice_number(words.peek())) {
            ++words.at;
        }
    }
    return options;
}

double Reader::resistance(double ohm, std::string_view name, std::string_view place) {
    if (ohm == 0) {
        note(place, fmt::format("{} has 0 ohm; 1 milliohm is taken.", printable(name)));
        return k_least_ohm;
    }
    return ohm;
}

Result<ElementPart> Reader::read_resistor(Words& words, const Line& line, const Scope& scope) {
    const auto nodes = read_nodes(words, line, scope);
    if (!nodes) {
        return nodes.error();
    }
    std::optional<double> ohm;
    const std::string& name = words.words.front();
    const auto warn_of_milli = [&](std::string_view word) {
        if (looks_like_mega(word)) {
            note(line.place, fmt::format("{} of {} is milliohms, as M is milli in SPICE; a megohm "
                                         "is 1MEG.",
                                         printable(word), printable(name)));
        }
    };
    if (!words.named()) {
        const std::string word(words.peek());
        const auto value = read_value(words, line, scope, "the resistance");
        if (!value) {
            return value.error();
        }
        warn_of_milli(word);
        ohm = *value;
    } else if (spice_equal(words.peek(), "r") || spice_equal(words.peek(), "resistance")) {
        warn_of_milli(words.peek(2));
    }
    constexpr std::array<std::string_view, 11> k_accepted = {
        "r", "resistance", "m", "scale", "tc", "tc1", "tc2", "temp", "dtemp", "noisy", "noise"};
    const auto options = read_options(words, line, scope, k_accepted);
    if (!options) {
        return options.error();
    }
    double multiple = 1;
    bool warm = false;
    for (const auto& [option, value] : *options) {
        if (option == "r" || option == "resistance") {
            ohm = value;
        } else if (option == "m") {
            multiple /= value;
        } else if (option == "scale") {
            multiple *= value;
        } else if (option.starts_with("tc")) {
            warm = warm || value != 0;
        }
    }
    if (warm) {
        note(line.place,
             fmt::format("{} keeps its resistance at every temperature.", printable(name)));
    }
    if (!ohm) {
        return refuse(line, fmt::format("{} lacks its resistance.", quoted(name)));
    }
    const double value = resistance(*ohm, scope.prefix + name, line.place) * multiple;
    if (!std::isfinite(value) || value == 0) {
        return refuse(line,
                      fmt::format("the resistance of {} is {}. Accepted: a finite number of "
                                  "ohms, m and scale not 0.",
                                  quoted(name), number_text(value)),
                      ErrorCode::out_of_range);
    }
    return ElementPart(Resistor{(*nodes)[0], (*nodes)[1], value});
}

namespace {

/// Value and start of a capacitor or an inductor.
struct Store {
    std::optional<double> value;
    std::optional<double> start;
    double multiple = 1;
};

Store store_of(std::optional<double> value, const std::map<std::string, double>& options,
               std::string_view letter, std::string_view word) {
    Store store{value, std::nullopt, 1};
    for (const auto& [name, number] : options) {
        if (name == letter || name == word) {
            store.value = number;
        } else if (name == "ic") {
            store.start = number;
        } else if (name == "m") {
            store.multiple = number;
        }
    }
    return store;
}

} // namespace

Result<ElementPart> Reader::read_capacitor(Words& words, const Line& line, const Scope& scope) {
    const auto nodes = read_nodes(words, line, scope);
    if (!nodes) {
        return nodes.error();
    }
    std::optional<double> farad;
    if (!words.named()) {
        const auto value = read_value(words, line, scope, "the capacitance");
        if (!value) {
            return value.error();
        }
        farad = *value;
    }
    constexpr std::array<std::string_view, 9> k_accepted = {
        "c", "capacitance", "ic", "m", "tc", "tc1", "tc2", "temp", "dtemp"};
    const auto options = read_options(words, line, scope, k_accepted);
    if (!options) {
        return options.error();
    }
    const Store store = store_of(farad, *options, "c", "capacitance");
    const double value = store.value.value_or(-1) * store.multiple;
    if (!(value >= 0 && std::isfinite(value))) {
        return refuse(line,
                      fmt::format("the capacitance of {} is {}. Accepted: 0 F or more.",
                                  quoted(words.words.front()),
                                  store.value ? number_text(value) : "missing"),
                      ErrorCode::out_of_range);
    }
    return ElementPart(Capacitor{(*nodes)[0], (*nodes)[1], value, store.start});
}

Result<ElementPart> Reader::read_inductor(Words& words, const Line& line, const Scope& scope) {
    const auto nodes = read_nodes(words, line, scope);
    if (!nodes) {
        return nodes.error();
    }
    std::optional<double> henry;
    if (!words.named()) {
        const auto value = read_value(words, line, scope, "the inductance");
        if (!value) {
            return value.error();
        }
        henry = *value;
    }
    constexpr std::array<std::string_view, 9> k_accepted = {
        "l", "inductance", "ic", "m", "tc", "tc1", "tc2", "temp", "dtemp"};
    const auto options = read_options(words, line, scope, k_accepted);
    if (!options) {
        return options.error();
    }
    const Store store = store_of(henry, *options, "l", "inductance");
    const double value = store.value.value_or(-1) / store.multiple;
    if (!(value >= 0 && std::isfinite(value))) {
        return refuse(line,
                      fmt::format("the inductance of {} is {}. Accepted: 0 H or more.",
                                  quoted(words.words.front()),
                                  store.value ? number_text(value) : "missing"),
                      ErrorCode::out_of_range);
    }
    return ElementPart(Inductor{(*nodes)[0], (*nodes)[1], value, store.start});
}

Result<std::vector<double>> Reader::read_arguments(Words& words, const Line& line,
                                                   const Scope& scope) {
    std::vector<double> arguments;
    while (words.more() && !words.named()) {
        const auto value = scope.parameters->number(words.peek());
        if (!value) {
            return at_line(line, value.error());
        }
        if (!*value) {
            break;
        }
        arguments.push_back(**value);
        ++words.at;
    }
    return arguments;
}

namespace {

/// The shape of those arguments, or what is accepted instead.
struct Shape {
    decltype(Waveform::shape) shape;
    std::string accepted; // not empty: refused
};

Shape sine_of(const std::vector<double>& a) {
    if (a.size() < 3 || a.size() > 6) {
        return {{}, "sin(OFFSET AMPLITUDE HERTZ [DELAY [DAMPING [DEGREES]]])"};
    }
    const auto at = [&a](std::size_t i) { return i < a.size() ? a[i] : 0; };
    return {Waveform::Sine{a[0], a[1], a[2], at(3), at(4), at(5)}, {}};
}

Shape pulse_of(const std::vector<double>& a) {
    const auto at = [&a](std::size_t i, double otherwise) {
        return i < a.size() ? a[i] : otherwise;
    };
    const Waveform::Pulse pulse{at(0, 0), at(1, 0),           at(2, 0), at(3, 0),
                                at(4, 0), at(5, k_endless_s), at(6, 0)};
    if (a.size() < 2 || a.size() > 7 || pulse.delay_s < 0 || pulse.rise_s < 0 || pulse.fall_s < 0 ||
        pulse.width_s < 0 || pulse.period_s < 0) {
        return {{}, "pulse(LOW HIGH [DELAY [RISE [FALL [WIDTH [PERIOD]]]]]), no time below 0"};
    }
    return {pulse, {}};
}

Shape points_of(const std::vector<double>& a) {
    Waveform::Points points;
    bool rising = !a.empty() && a.size() % 2 == 0;
    for (std::size_t i = 0; i + 1 < a.size(); i += 2) {
        rising = rising && (i == 0 || a[i] > a[i - 2]);
        points.at.emplace_back(a[i], a[i + 1]);
    }
    if (!rising) {
        return {{}, "pwl(TIME VALUE TIME VALUE ...) with rising times"};
    }
    return {std::move(points), {}};
}

} // namespace

Result<Waveform> Reader::read_waveform(Words& words, const Line& line, const Scope& scope) {
    Waveform wave;
    bool has_dc = false;
    while (words.more()) {
        const std::string word = spice_lower(words.peek());
        if (word == "dc") {
            words.at += words.peek(1) == "=" ? 2 : 1;
        }
        if (word == "sin" || word == "pulse" || word == "pwl") {
            ++words.at;
            const auto arguments = read_arguments(words, line, scope);
            if (!arguments) {
                return arguments.error();
            }
            Shape shape = word == "sin"     ? sine_of(*arguments)
                          : word == "pulse" ? pulse_of(*arguments)
                                            : points_of(*arguments);
            if (!shape.accepted.empty()) {
                return refuse(line,
                              fmt::format("the shape {} of {} has the wrong values. Accepted: "
                                          "{}.",
                                          word, quoted(words.words.front()), shape.accepted));
            }
            wave.shape = std::move(shape.shape);
        } else if (word == "ac") {
            ++words.at;
            if (const auto ignored = read_arguments(words, line, scope); !ignored) {
                return ignored.error();
            }
        } else if (word == "dc" || !has_dc) {
            const auto value = read_value(words, line, scope, "the value");
            if (!value) {
                return refuse(line,
                              fmt::format("the value of {} is not understood at {}. Accepted: a "
                                          "number, dc, ac, sin(...), pulse(...) or pwl(...).",
                                          quoted(words.words.front()), quoted(words.peek())));
            }
            wave.dc = *value;
            has_dc = true;
        } else {
            break;
        }
    }
    if (const auto* pulse = std::get_if<Waveform::Pulse>(&wave.shape);
        pulse != nullptr && !has_dc) {
        wave.dc = pulse->low; // a rise that takes no time comes after the operating point
    } else if (!has_dc) {
        wave.dc = wave.at(0);
    }
    return wave;
}

Result<ElementPart> Reader::read_source(Words& words, const Line& line, const Scope& scope,
                                        bool voltage) {
    const auto nodes = read_nodes(words, line, scope);
    if (!nodes) {
        return nodes.error();
    }
    auto wave = read_waveform(words, line, scope);
    if (!wave) {
        return wave.error();
    }
    if (voltage) {
        return ElementPart(VoltageSource{(*nodes)[0], (*nodes)[1], std::move(wave).value()});
    }
    return ElementPart(CurrentSource{(*nodes)[0], (*nodes)[1], std::move(wave).value()});
}

Result<ElementPart> Reader::read_formula(std::string_view expression, ControlledSource source,
                                         const Line& line, const Scope& scope) {
    const auto text = scope.parameters->substituted(bare_expression(expression));
    if (!text) {
        return at_line(line, text.error());
    }
    auto formula = Formula::parse(*text);
    if (!formula) {
        return at_line(line, formula.error());
    }
    for (FormulaInput input : formula->inputs()) {
        if (input.kind == FormulaInput::Kind::volts) {
            input.first = outer_node(input.first, scope);
            input.second = outer_node(input.second, scope);
        } else {
            input.first = scope.prefix + input.first;
        }
        inputs_.push_back(std::move(input));
    }
    source.formula = std::move(formula).value();
    return ElementPart(std::move(source));
}

Result<ElementPart> Reader::read_controlled(Words& words, const Line& line, const Scope& scope) {
    const auto nodes = read_nodes(words, line, scope);
    if (!nodes) {
        return nodes.error();
    }
    const std::string& name = words.words.front();
    const char letter = spice_lower(name)[0];
    ControlledSource source;
    source.plus = (*nodes)[0];
    source.minus = (*nodes)[1];
    source.what = letter == 'e' || letter == 'h' ? ControlledSource::What::voltage
                                                 : ControlledSource::What::current;
    const std::string word = spice_lower(words.peek());
    const bool of_e = letter == 'e' && (word == "value" || word == "vol");
    const bool of_g = letter == 'g' && (word == "value" || word == "cur");
    if (letter == 'b' || of_e || of_g) {
        if (letter == 'b') {
            if ((word != "v" && word != "i") || !words.named()) {
                return refuse(line, fmt::format("{} lacks what it is. Accepted: v=EXPRESSION or "
                                                "i=EXPRESSION.",
                                                quoted(name)));
            }
            source.what =
                word == "v" ? ControlledSource::What::voltage : ControlledSource::What::current;
        }
        const auto mark = line.text.find_first_of("={'");
        const std::size_t from = mark == std::string::npos ? line.text.size()
                                 : line.text[mark] == '='  ? mark + 1
                                                           : mark;
        words.at = words.words.size();
        return read_formula(std::string_view(line.text).substr(from), std::move(source), line,
                            scope);
    }
    if (letter == 'e' || letter == 'g') {
        if (words.words.size() != 6) {
            return refuse(line,
                          fmt::format("{} is not understood. Accepted: {} OUT+ OUT\u2212 IN+ "
                                      "IN\u2212 GAIN, or value={{EXPRESSION}} after the first "
                                      "two nodes.",
                                      quoted(line.text), printable(name)));
        }
        const auto inputs = read_nodes(words, line, scope);
        if (!inputs) {
            return inputs.error();
        }
        source.inputs.push_back({ControlInput::Kind::volts, (*inputs)[0], (*inputs)[1], -1});
    } else {
        if (words.words.size() != 5) {
            return refuse(line, fmt::format("{} is not understood. Accepted: {} OUT+ OUT\u2212 "
                                            "SOURCE GAIN, the source one whose current is known "
                                            "(V, L, E, H).",
                                            quoted(line.text), printable(name)));
        }
        inputs_.push_back(
            {FormulaInput::Kind::current, scope.prefix + words.words[words.at++], ""});
    }
    const auto gain = read_value(words, line, scope, "the gain");
    if (!gain) {
        return gain.error();
    }
    source.slopes.push_back(*gain);
    return ElementPart(std::move(source));
}

Result<Reader::Device> Reader::read_device(Words& words, const Line& line, const Scope& scope) {
    Device device;
    const std::string& name = words.words.front();
    constexpr std::array<std::string_view, 5> k_accepted = {"area", "m", "temp", "dtemp", "ic"};
    double multiple = 1;
    bool has_area = false;
    while (words.more()) {
        if (words.named()) {
            const auto options = read_options(words, line, scope, k_accepted);
            if (!options) {
                return options.error();
            }
            for (const auto& [option, value] : *options) {
                if (option == "area") {
                    device.area = value;
                } else if (option == "m") {
                    multiple = value;
                } else if (option == "temp") {
                    device.junction = value;
                } else if (option == "dtemp") {
                    device.junction = netlist_.circuit.temperature_c + value;
                }
            }
        } else if (spice_equal(words.peek(), "off")) {
            ++words.at;
        } else if (!has_area) {
            const auto area = read_value(words, line, scope, "the area");
            if (!area) {
                return area.error();
            }
            device.area = *area;
            has_area = true;
        } else {
            break;
        }
    }
    device.area *= multiple;
    if (!(device.area > 0 && device.area <= 1e6)) {
        return refuse(line,
                      fmt::format("the area of {}, times m, is {}. Accepted: above 0, to "
                                  "1 000 000.",
                                  quoted(name), number_text(device.area)),
                      ErrorCode::out_of_range);
    }
    if (device.junction && !(*device.junction >= k_lowest_c && *device.junction <= k_highest_c)) {
        return refuse(line,
                      fmt::format("the junction of {} has {} \u00b0C. Accepted: \u2212200 to "
                                  "400 \u00b0C.",
                                  quoted(name), number_text(*device.junction)),
                      ErrorCode::out_of_range);
    }
    return device;
}

Result<ElementPart> Reader::read_diode(Words& words, const Line& line, const Scope& scope) {
    const auto nodes = read_nodes(words, line, scope);
    if (!nodes) {
        return nodes.error();
    }
    const std::string model(words.peek());
    if (const Error* damage = scope.models->damage(model)) {
        return *damage;
    }
    const ModelCard* card = scope.models->find(model);
    const auto* constants = card == nullptr ? nullptr : std::get_if<DiodeModel>(&card->constants);
    if (constants == nullptr) {
        return refuse(line,
                      fmt::format("{} needs the card of a diode, and there is none called {}. "
                                  "Accepted: .model NAME d(...).",
                                  quoted(words.words.front()), quoted(model)),
                      ErrorCode::not_found);
    }
    ++words.at;
    const auto device = read_device(words, line, scope);
    if (!device) {
        return device.error();
    }
    return ElementPart(Diode{(*nodes)[0], (*nodes)[1], *constants, device->area, device->junction});
}

Result<ElementPart> Reader::read_bipolar(Words& words, const Line& line, const Scope& scope) {
    const auto nodes = read_nodes(words, line, scope);
    if (!nodes) {
        return nodes.error();
    }
    const auto emitter = read_node(words, line, scope);
    if (!emitter) {
        return emitter.error();
    }
    const auto known = [&](std::string_view name) {
        return scope.models->find(name) != nullptr || scope.models->damage(name) != nullptr;
    };
    const std::string& name = words.words.front();
    if (!known(words.peek()) && known(words.peek(1))) {
        note(line.place, fmt::format("the substrate node {} of {} is passed over.",
                                     printable(words.peek()), printable(name)));
        ++words.at;
    }
    const std::string model(words.peek());
    if (const Error* damage = scope.models->damage(model)) {
        return *damage;
    }
    const ModelCard* card = scope.models->find(model);
    const auto* constants = card == nullptr ? nullptr : std::get_if<BipolarModel>(&card->constants);
    if (constants == nullptr) {
        return refuse(line,
                      fmt::format("{} needs the card of a transistor, and there is none "
                                  "called {}. Accepted: .model NAME npn(...) or pnp(...).",
                                  quoted(name), quoted(model)),
                      ErrorCode::not_found);
    }
    ++words.at;
    const auto device = read_device(words, line, scope);
    if (!device) {
        return device.error();
    }
    return ElementPart(
        Bipolar{(*nodes)[0], (*nodes)[1], *emitter, *constants, device->area, device->junction});
}

// ---------------------------------------------------------------------------------------------
// What is known only at the end.

namespace {

/// Whether an element's current is an unknown of its own.
bool has_current(const ElementPart& part) {
    const auto* controlled = std::get_if<ControlledSource>(&part);
    return std::holds_alternative<VoltageSource>(part) || std::holds_alternative<Inductor>(part) ||
           (controlled != nullptr && controlled->what == ControlledSource::What::voltage);
}

} // namespace

Result<Done> Reader::join_inputs() {
    Circuit& circuit = netlist_.circuit;
    for (const Pending& one : pending_) {
        auto* source = std::get_if<ControlledSource>(&circuit.element(one.element).part);
        for (const FormulaInput& input : one.inputs) {
            ControlInput joined;
            if (input.kind == FormulaInput::Kind::volts) {
                const auto plus = circuit.find_node(input.first);
                const auto minus = circuit.find_node(input.second);
                if (!plus || !minus) {
                    return Error{ErrorCode::not_found, one.name,
                                 fmt::format("{}: {} looks at the node {}, which no element joins.",
                                             one.place, quoted(one.name),
                                             quoted(plus ? input.second : input.first))};
                }
                joined.plus = *plus;
                joined.minus = *minus;
            } else {
                joined.kind = ControlInput::Kind::current;
                const auto element = circuit.find(input.first);
                if (!element || !has_current(circuit.element(*element).part)) {
                    return Error{
                        ErrorCode::not_found, one.name,
                        fmt::format("{}: {} looks at the current of {}. Accepted: the name "
                                    "of a voltage source, an inductor, or a controlled "
                                    "voltage source.",
                                    one.place, quoted(one.name), quoted(input.first))};
                }
                joined.element = *element;
            }
            source->inputs.push_back(joined);
        }
    }
    return Done{};
}

Result<Done> Reader::take_settings() {
    for (const auto& [name, value] : settings_) {
        if (spice_equal(name, "temperature")) {
            continue;
        }
        const auto element = netlist_.circuit.find(name);
        if (parameters_.holds(name) && !spice_equal(name, "temper")) {
            continue; // fixed before anything was read
        }
        if (!element) {
            return Error{
                ErrorCode::not_found, printable(name),
                fmt::format("{} is neither an element nor a .param of the netlist.", quoted(name))};
        }
        const bool is_resistor =
            std::holds_alternative<Resistor>(netlist_.circuit.element(*element).part);
        const double taken = is_resistor ? resistance(value, name, "setting") : value;
        if (auto done = netlist_.circuit.set_value(name, taken); !done) {
            return done.error();
        }
    }
    return Done{};
}

Result<Netlist> Reader::read(std::string_view text, std::string_view source) {
    if (text.starts_with("\xef\xbb\xbf")) {
        text.remove_prefix(3); // a byte order mark
    }
    const std::size_t end = std::min(text.find_first_of("\r\n"), text.size());
    take_title(text.substr(0, end), source);
    const std::size_t line_end = text.substr(end, 2) == "\r\n" ? 2 : 1;
    if (auto done = gather(text.substr(std::min(end + line_end, text.size())), source, 2, 0);
        !done) {
        return done.error();
    }
    for (const auto& [name, value] : settings_) {
        if (!std::isfinite(value)) {
            return Error{ErrorCode::out_of_range, printable(name),
                         fmt::format("{} is not a finite number.", quoted(name))};
        }
        if (parameters_.holds(name)) {
            parameters_.fix(name, value);
        }
    }
    if (auto done = read_temperature(); !done) {
        return done.error();
    }
    Scope scope;
    scope.parameters = &parameters_;
    scope.models = &models_;
    if (auto done = read_level(lines_, parameters_, models_, scope); !done) {
        return done.error();
    }
    if (netlist_.circuit.elements().empty()) {
        return Error{ErrorCode::bad_text, printable(source),
                     fmt::format("{} holds no element. Accepted: a title in the first line, then a "
                                 "line for each element.",
                                 printable(source))};
    }
    if (auto done = join_inputs(); !done) {
        return done.error();
    }
    if (auto done = take_settings(); !done) {
        return done.error();
    }
    for (const auto& [name, error] : models_.damaged) {
        netlist_.notes.push_back("not used: " + error.message);
    }
    return std::move(netlist_);
}

} // namespace

Result<Netlist> read_netlist(std::string_view text, std::string_view source,
                             const IncludeReader& include, const NetlistSettings& settings) {
    return Reader(include, settings).read(text, source);
}

} // namespace railside
