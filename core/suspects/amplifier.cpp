#include "core/suspects/amplifier.h"

#include "core/device/model_card.h"
#include "core/device/spice_text.h"
#include "core/quantity/refusal.h"
#include "core/words/words.h"

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include <algorithm>
#include <cmath>

namespace railside {

namespace {

using Json = nlohmann::json;

bool says(std::string_view role, std::string_view words) {
    return role.find(words) != std::string_view::npos;
}

Role device_of(std::string_view role) {
    if (says(role, "pre-driver") || says(role, "predriver"))
        return Role::pre_driver;
    if (says(role, "driver"))
        return Role::driver;
    if (says(role, "output"))
        return Role::output;
    if (says(role, "clamp"))
        return Role::other;
    if (says(role, "limiter"))
        return Role::limiter;
    if (says(role, "spreader") || says(role, "bias"))
        return Role::bias_spreader;
    if (says(role, "input pair"))
        return Role::input_pair;
    if (says(role, "voltage amplifier") || says(role, "tail") || says(role, "source") ||
        says(role, "cascode"))
        return Role::voltage_amplifier;
    return Role::other;
}

std::optional<ElementKind> kind_of(const ElementPart& part) {
    if (std::holds_alternative<Bipolar>(part))
        return ElementKind::transistor;
    if (std::holds_alternative<Diode>(part))
        return ElementKind::diode;
    if (std::holds_alternative<Resistor>(part))
        return ElementKind::resistor;
    if (std::holds_alternative<Capacitor>(part))
        return ElementKind::capacitor;
    return std::nullopt;
}

/// Preferred end-to-end values of trim pots in one decade.
constexpr std::array k_pot_values{1.0, 2.0, 2.2, 2.5, 4.7, 5.0, 10.0};

/// The nearest pot value and how far it is, as a ratio of 1 or more.
std::pair<double, double> nearest_pot(double ohm) {
    const double decade = std::pow(10, std::floor(std::log10(ohm)));
    std::pair<double, double> best{ohm, 1e9};
    for (const double value : k_pot_values) {
        const double off = std::exp(std::abs(std::log(ohm / (value * decade))));
        if (off < best.second)
            best = {value * decade, off};
    }
    return best;
}

/// The track of a variable resistor standing at `ohm`: by its position where that is known, else
/// the least usual pot of 1.5 times.
double track_of(double ohm, std::optional<double> position) {
    if (position && *position > 0.01 && *position < 0.99) {
        const auto down = nearest_pot(ohm / *position);
        const auto up = nearest_pot(ohm / (1 - *position));
        return down.second < up.second ? down.first : up.first;
    }
    double track = ohm * 1.5;
    for (int i = 0; i < 40 && nearest_pot(track).first < ohm * 1.5; ++i)
        track *= 1.1;
    return nearest_pot(track).first;
}

std::optional<double> trim_position(std::string_view text) {
    constexpr std::string_view k_words = "trim position";
    const auto at = text.find(k_words);
    if (at == std::string_view::npos)
        return std::nullopt;
    std::string_view rest = text.substr(at + k_words.size());
    rest = rest.substr(0, rest.find('\n'));
    const auto from = rest.find_first_of("0123456789.");
    if (from == std::string_view::npos)
        return std::nullopt;
    rest = rest.substr(from);
    return spice_number(rest.substr(0, rest.find_first_not_of("0123456789.e-")));
}

class Reader {
  public:
    Reader(const Circuit& circuit, std::string_view file) : file_(file) {
        amplifier_.circuit = circuit;
    }

    Result<Amplifier> read(const Json& said, std::string_view netlist_text) {
        if (auto done = numbers(said); !done)
            return done.error();
        if (auto done = positions(said); !done)
            return done.error();
        if (auto done = rails(); !done)
            return done.error();
        if (auto done = output(); !done)
            return done.error();
        load();
        drop_what_is_no_suspect();
        places();
        feedback_gain(said);
        trim(said, netlist_text);
        return std::move(amplifier_);
    }

  private:
    std::string file_;
    Amplifier amplifier_;

    Error refuse(ErrorCode code, std::string_view member, const std::string& sentence) const {
        return refusal(code, fmt::format("{}: {}", printable(file_), member), sentence);
    }

    Result<Done> number(const Json& said, const char* member, double low, double high,
                        std::optional<double>& into) {
        if (!said.contains(member))
            return Done{};
        const Json& value = said[member];
        if (!value.is_number() || !(value.get<double>() >= low) || !(value.get<double>() <= high))
            return refuse(ErrorCode::out_of_range, member,
                          worded("{} is not accepted. Accepted: a number from {:g} to {:g}.",
                                 railside::quoted(value.dump()), low, high));
        into = value.get<double>();
        return Done{};
    }

    Result<Done> numbers(const Json& said) {
        std::optional<double> service_mv;
        std::optional<double> fuse_a;
        if (auto done = number(said, "service_v_re_mV", 0.01, 5000, service_mv); !done)
            return done.error();
        if (auto done = number(said, "fuse_A", 0.01, 1000, fuse_a); !done)
            return done.error();
        if (service_mv)
            amplifier_.service_v = *service_mv * 1e-3;
        amplifier_.fuse_a = fuse_a.value_or(amplifier_.fuse_a);
        return Done{};
    }

    Result<Done> positions(const Json& said) {
        const auto& circuit = amplifier_.circuit;
        if (!said.contains("positions") || !said["positions"].is_object())
            return refuse(ErrorCode::missing, "positions",
                          "is missing. Accepted: an object of position names, each with its role.");
        for (const auto& [name, about] : said["positions"].items()) {
            const auto id = circuit.find(name);
            if (!id)
                return refuse(
                    ErrorCode::not_found, name,
                    "the netlist has no such element. Accepted: the name of an element in it.");
            const auto kind = kind_of(circuit.element(*id).part);
            if (!kind)
                return refuse(ErrorCode::refused, name,
                              "is not a part that is looked at. Accepted: a transistor, diode, "
                              "resistor or capacitor.");
            if (!about.is_object() || !about.contains("role") || !about["role"].is_string())
                return refuse(ErrorCode::missing, name,
                              "has no role. Accepted: an object with \"role\" in words.");
            SuspectPosition position;
            position.name = circuit.element(*id).name;
            position.role = spice_lower(about["role"].get<std::string>());
            position.kind = *kind;
            position.element = *id;
            if (about.contains("half")) {
                if (about["half"] == "+" || about["half"] == "plus")
                    position.half = SuspectHalf::plus;
                else if (about["half"] == "-" || about["half"] == "minus")
                    position.half = SuspectHalf::minus;
                else
                    return refuse(ErrorCode::bad_text, name,
                                  worded("half {} is not accepted. Accepted: \"+\", \"-\".",
                                         railside::quoted(about["half"].dump())));
            }
            amplifier_.positions.push_back(std::move(position));
        }
        const auto listed = amplifier_.positions.size();
        for (ElementId id = 0; id < static_cast<ElementId>(circuit.elements().size()); ++id) {
            const auto kind = kind_of(circuit.element(id).part);
            const auto held = std::find_if(
                amplifier_.positions.begin(),
                amplifier_.positions.begin() + static_cast<std::ptrdiff_t>(listed),
                [id](const SuspectPosition& position) { return position.element == id; });
            if (!kind || held != amplifier_.positions.begin() + static_cast<std::ptrdiff_t>(listed))
                continue;
            SuspectPosition position;
            position.name = circuit.element(id).name;
            position.role = "part";
            position.kind = *kind;
            position.element = id;
            amplifier_.positions.push_back(std::move(position));
        }
        // In the netlist's order, so that "first" and "second" mean what the schematic means.
        std::sort(amplifier_.positions.begin(), amplifier_.positions.end(),
                  [](const auto& a, const auto& b) { return a.element < b.element; });
        for (SuspectPosition& position : amplifier_.positions) {
            position.device = device_of(position.role);
            if (position.kind == ElementKind::transistor && says(position.role, "limiter"))
                amplifier_.has_limiter = true;
        }
        return Done{};
    }

    Result<Done> rails() {
        const auto& circuit = amplifier_.circuit;
        double most = 3; // no rail is less
        double least = -3;
        for (ElementId id = 0; id < static_cast<ElementId>(circuit.elements().size()); ++id) {
            const auto* source = std::get_if<VoltageSource>(&circuit.element(id).part);
            if (source == nullptr || (source->plus != 0 && source->minus != 0))
                continue;
            const double volts = source->minus == 0 ? source->value.dc : -source->value.dc;
            if (volts > most) {
                most = volts;
                amplifier_.rail_plus = id;
            } else if (volts < least) {
                least = volts;
                amplifier_.rail_minus = id;
            }
        }
        if (amplifier_.rail_plus < 0 || amplifier_.rail_minus < 0)
            return refuse(ErrorCode::missing, "rails",
                          "the netlist has no pair of rails. Accepted: a voltage source above 3 V "
                          "and one below −3 V against ground.");
        amplifier_.rail_v = std::min(most, -least);
        amplifier_.rail_plus_node = behind_fuse(live_end(amplifier_.rail_plus), SuspectHalf::plus);
        amplifier_.rail_minus_node =
            behind_fuse(live_end(amplifier_.rail_minus), SuspectHalf::minus);
        return Done{};
    }

    [[nodiscard]] Node live_end(ElementId source) const {
        const auto& part = std::get<VoltageSource>(amplifier_.circuit.element(source).part);
        return part.minus == 0 ? part.plus : part.minus;
    }

    [[nodiscard]] Node behind_fuse(Node rail, SuspectHalf) const {
        for (const SuspectPosition& position : amplifier_.positions)
            if (const auto* r = resistor(position); r != nullptr && says(position.role, "fuse")) {
                if (r->a == rail)
                    return r->b;
                if (r->b == rail)
                    return r->a;
            }
        return rail;
    }

    [[nodiscard]] const Resistor* resistor(const SuspectPosition& position) const {
        return std::get_if<Resistor>(&amplifier_.circuit.element(position.element).part);
    }
    [[nodiscard]] const Bipolar* bipolar(const SuspectPosition& position) const {
        return std::get_if<Bipolar>(&amplifier_.circuit.element(position.element).part);
    }

    [[nodiscard]] std::vector<const SuspectPosition*>
    with_role(std::string_view words, SuspectHalf half = SuspectHalf::both) const {
        std::vector<const SuspectPosition*> found;
        for (const SuspectPosition& position : amplifier_.positions)
            if (says(position.role, words) && (half == SuspectHalf::both || position.half == half))
                found.push_back(&position);
        return found;
    }
    /// Exactly that role, of a part of that kind.
    [[nodiscard]] const SuspectPosition* first(std::string_view role, ElementKind kind,
                                               SuspectHalf half = SuspectHalf::both) const {
        for (const SuspectPosition& position : amplifier_.positions)
            if (position.role == role && position.kind == kind &&
                (half == SuspectHalf::both || position.half == half))
                return &position;
        return nullptr;
    }

    Result<Done> output() {
        if (const auto node = amplifier_.circuit.find_node("out")) {
            amplifier_.out = *node;
            return Done{};
        }
        const auto* plus = first("emitter resistor", ElementKind::resistor, SuspectHalf::plus);
        const auto* minus = first("emitter resistor", ElementKind::resistor, SuspectHalf::minus);
        if (plus != nullptr && minus != nullptr) {
            const Resistor& a = *resistor(*plus);
            const Resistor& b = *resistor(*minus);
            for (const Node node : {a.a, a.b})
                if (node == b.a || node == b.b)
                    amplifier_.out = node;
        }
        if (amplifier_.out == 0)
            return refuse(ErrorCode::missing, "output",
                          "which node is the output is not clear. Accepted: a node called out, or "
                          "an emitter resistor of each half that meet there.");
        return Done{};
    }

    /// The elements that end at a node.
    [[nodiscard]] std::vector<ElementId> at_node(Node node) const {
        std::vector<ElementId> found;
        const auto& circuit = amplifier_.circuit;
        for (ElementId id = 0; id < static_cast<ElementId>(circuit.elements().size()); ++id) {
            const auto touches = std::visit(
                [node](const auto& part) {
                    using Part = std::decay_t<decltype(part)>;
                    if constexpr (std::is_same_v<Part, Bipolar>)
                        return part.collector == node || part.base == node || part.emitter == node;
                    else if constexpr (std::is_same_v<Part, Diode>)
                        return part.anode == node || part.cathode == node;
                    else if constexpr (std::is_same_v<Part, Resistor> ||
                                       std::is_same_v<Part, Capacitor> ||
                                       std::is_same_v<Part, Inductor>)
                        return part.a == node || part.b == node;
                    else
                        return part.plus == node || part.minus == node;
                },
                circuit.element(id).part);
            if (touches)
                found.push_back(id);
        }
        return found;
    }

    std::vector<ElementId> load_chain_;

    /// From the output to ground through nothing but resistors and inductors, no branch between.
    void load() {
        for (const ElementId begin : at_node(amplifier_.out)) {
            std::vector<ElementId> chain;
            ElementId at = begin;
            Node node = amplifier_.out;
            while (true) {
                const ElementPart& part = amplifier_.circuit.element(at).part;
                const auto* r = std::get_if<Resistor>(&part);
                const auto* l = std::get_if<Inductor>(&part);
                if (r == nullptr && l == nullptr)
                    break;
                chain.push_back(at);
                const Node a = r != nullptr ? r->a : l->a;
                const Node b = r != nullptr ? r->b : l->b;
                node = a == node ? b : a;
                if (node == 0)
                    break;
                const auto there = at_node(node);
                if (there.size() != 2 || chain.size() > 6)
                    break;
                at = there[0] == at ? there[1] : there[0];
            }
            if (node != 0 || chain.empty())
                continue;
            load_chain_ = chain;
            for (const ElementId id : chain)
                if (std::holds_alternative<Resistor>(amplifier_.circuit.element(id).part))
                    amplifier_.load = id;
            if (amplifier_.load >= 0)
                return;
        }
    }

    void drop_what_is_no_suspect() {
        auto& positions = amplifier_.positions;
        positions.erase(std::remove_if(positions.begin(), positions.end(),
                                       [this](const SuspectPosition& position) {
                                           return std::find(load_chain_.begin(), load_chain_.end(),
                                                            position.element) != load_chain_.end();
                                       }),
                        positions.end());
    }

    [[nodiscard]] std::optional<MeterPlace> across(const SuspectPosition* position) const {
        if (position == nullptr || resistor(*position) == nullptr)
            return std::nullopt;
        return MeterPlace{resistor(*position)->a, resistor(*position)->b};
    }
    static std::optional<MeterPlace> to_ground(std::optional<Node> node) {
        return node ? std::optional<MeterPlace>({*node, 0}) : std::nullopt;
    }

    void emitters() {
        for (const SuspectHalf half : {SuspectHalf::plus, SuspectHalf::minus}) {
            std::size_t at = half == SuspectHalf::plus ? 0 : 1;
            for (const SuspectPosition* position : with_role("emitter resistor", half)) {
                if (position->role != "emitter resistor" || at > 3)
                    continue;
                auto place = across(position);
                // Positive where current flows from the + rail to the − rail.
                if (place &&
                    (half == SuspectHalf::plus ? place->minus : place->plus) != amplifier_.out)
                    std::swap(place->plus, place->minus);
                amplifier_.emitter[at] = place;
                at += 2;
            }
        }
    }

    [[nodiscard]] std::optional<Node> base_node(const char* name, SuspectHalf half) const {
        if (const auto node = amplifier_.circuit.find_node(name))
            return node;
        for (const char* role : {"pre-driver", "driver"})
            if (const auto* position = first(role, ElementKind::transistor, half))
                return bipolar(*position)->base;
        return std::nullopt;
    }

    void places() {
        emitters();
        const auto plus = base_node("bp", SuspectHalf::plus);
        const auto minus = base_node("bn", SuspectHalf::minus);
        amplifier_.base_plus = to_ground(plus);
        amplifier_.base_minus = to_ground(minus);
        if (plus && minus)
            amplifier_.spreader = MeterPlace{*plus, *minus};
        amplifier_.feed = across(first("load source emitter resistor", ElementKind::resistor));
        if (!amplifier_.feed)
            for (const SuspectPosition* position : with_role("bootstrap resistor"))
                if (const auto* r = resistor(*position))
                    if (!amplifier_.feed || (plus && (r->a == *plus || r->b == *plus)))
                        amplifier_.feed = across(position);
        for (const char* role : {"tail source resistor", "tail resistor"})
            if (!amplifier_.tail)
                amplifier_.tail = across(first(role, ElementKind::resistor));
        for (std::optional<MeterPlace>* place : {&amplifier_.feed, &amplifier_.tail})
            if (*place && (*place)->minus == amplifier_.rail_plus_node)
                std::swap((*place)->plus, (*place)->minus);
        if (const auto* position = first("voltage amplifier", ElementKind::transistor)) {
            const Bipolar& part = *bipolar(*position);
            amplifier_.amplifier_base = part.model.polarity == Polarity::npn
                                            ? MeterPlace{part.base, amplifier_.rail_minus_node}
                                            : MeterPlace{amplifier_.rail_plus_node, part.base};
        }
        const auto* driver_plus = first("driver", ElementKind::transistor, SuspectHalf::plus);
        const auto* driver_minus = first("driver", ElementKind::transistor, SuspectHalf::minus);
        if (driver_plus != nullptr && driver_minus != nullptr)
            amplifier_.driver_emitters =
                MeterPlace{bipolar(*driver_plus)->emitter, bipolar(*driver_minus)->emitter};
    }

    void feedback_gain(const Json& said) {
        const auto* series = first("feedback resistor", ElementKind::resistor);
        const auto* shunt = first("feedback shunt resistor", ElementKind::resistor);
        if (series != nullptr && shunt != nullptr)
            amplifier_.gain = 1 + resistor(*series)->ohm / resistor(*shunt)->ohm;
        if (said.contains("gain") && said["gain"].is_number() && said["gain"] > 1)
            amplifier_.gain = said["gain"].get<double>();
        // The signal's source is the one that is no rail and stands at 0.
        const auto& circuit = amplifier_.circuit;
        for (ElementId id = 0; id < static_cast<ElementId>(circuit.elements().size()); ++id) {
            const auto* source = std::get_if<VoltageSource>(&circuit.element(id).part);
            if (source == nullptr || id == amplifier_.rail_plus || id == amplifier_.rail_minus)
                continue;
            const bool named = spice_lower(circuit.element(id).name) == "vin";
            if (amplifier_.input < 0 || named)
                amplifier_.input = id;
            if (named)
                break;
        }
    }

    void trim(const Json& said, std::string_view netlist_text) {
        const SuspectPosition* whole = nullptr;
        const SuspectPosition* upper = nullptr;
        const SuspectPosition* lower = nullptr;
        for (const SuspectPosition* position : with_role("trim pot")) {
            if (resistor(*position) == nullptr)
                continue;
            if (says(position->role, "upper"))
                upper = position;
            else if (says(position->role, "lower"))
                lower = position;
            else if (!says(position->role, "wiper"))
                whole = position;
        }
        BiasTrim trim;
        if (upper != nullptr && lower != nullptr) {
            trim.upper = upper->element;
            trim.lower = lower->element;
            trim.track_ohm = resistor(*upper)->ohm + resistor(*lower)->ohm;
        } else if (whole != nullptr) {
            trim.lower = whole->element;
            trim.track_ohm = track_of(resistor(*whole)->ohm, trim_position(netlist_text));
        } else {
            return;
        }
        if (said.contains("trim_ohm") && said["trim_ohm"].is_number() && said["trim_ohm"] > 0)
            trim.track_ohm = said["trim_ohm"].get<double>();
        amplifier_.trim = trim;
    }
};

/// The member that tells of this netlist.
Result<Json> pick(const Json& all, std::string_view netlist_name, std::string_view file) {
    if (all.contains("positions"))
        return all;
    std::string_view stem = netlist_name;
    if (const auto slash = stem.rfind('/'); slash != std::string_view::npos)
        stem = stem.substr(slash + 1);
    const std::string_view base = stem;
    if (const auto dot = stem.rfind('.'); dot != std::string_view::npos)
        stem = stem.substr(0, dot);
    for (const auto& [name, about] : all.items()) {
        if (!about.is_object())
            continue;
        if (name == stem)
            return about;
        if (about.contains("netlist") && about["netlist"].is_string()) {
            const auto netlist = about["netlist"].get<std::string>();
            if (netlist == base || netlist.ends_with("/" + std::string(base)))
                return about;
        }
    }
    if (all.size() == 1 && all.begin()->is_object())
        return *all.begin();
    return refusal(ErrorCode::not_found, printable(file),
                   worded("has no amplifier called {}. Accepted: an object with "
                          "\"positions\", or one such object for each netlist by its name.",
                          railside::quoted(stem)));
}

} // namespace

const SuspectPosition* Amplifier::find(std::string_view name) const {
    for (const SuspectPosition& position : positions)
        if (spice_equal(position.name, name))
            return &position;
    return nullptr;
}

Result<Amplifier> read_amplifier(const Circuit& circuit, std::string_view netlist_name,
                                 std::string_view netlist_text, std::string_view positions_text,
                                 std::string_view positions_name) {
    const Json all = Json::parse(positions_text, nullptr, false);
    if (!all.is_object())
        return refusal(ErrorCode::bad_text, printable(positions_name),
                       "is not a JSON object. Accepted: the form of core/suspects/hunt.md.");
    const auto said = pick(all, netlist_name, positions_name);
    if (!said)
        return said.error();
    return Reader(circuit, positions_name).read(*said, netlist_text);
}

} // namespace railside
