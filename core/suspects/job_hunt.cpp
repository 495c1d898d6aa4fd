#include "core/suspects/job_hunt.h"

#include "core/circuit/netlist.h"
#include "core/device/role.h"
#include "core/device/spice_text.h"
#include "core/job/json_text.h"
#include "core/quantity/amount.h"
#include "core/quantity/refusal.h"
#include "core/quantity/value_code.h"
#include "core/words/words.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace railside {

namespace {

constexpr double k_changed = 0.1;  // of a resistor's marking: as confirming_words() has it
constexpr double k_open_ohm = 1e6; // a small resistor that reads more is open
constexpr std::string_view k_hunt = "hunt/";

std::optional<double> channel_load(const Job& job, Channel channel) {
    const auto text = job.known(fmt::format("clip.{}.load", channel_key(channel)));
    if (!text)
        return std::nullopt;
    const auto parsed = parse_value(*text, Unit::ohm, "load");
    if (!parsed || !(parsed->value >= 0.5 && parsed->value <= 1000))
        return std::nullopt;
    return parsed->value;
}

bool holds(std::string_view text, std::string_view word) {
    return spice_lower(text).find(word) != std::string::npos;
}

/// The role of a job's position in the circuit's words.
std::string circuit_role(const PositionRecord& position) {
    const auto role = role_from_key(position.role);
    if (!role || *role == Role::other)
        return {};
    std::string words(role_info(*role).label);
    std::replace(words.begin(), words.end(), '_', ' ');
    return words;
}

bool same_half(SuspectHalf a, Half b) {
    return (a == SuspectHalf::both && b == Half::none) ||
           (a == SuspectHalf::plus && b == Half::plus) ||
           (a == SuspectHalf::minus && b == Half::minus);
}

bool valid(const Source& source) { return source.standing == Standing::valid; }

const PositionRecord* position_of(const Job& job, std::string_view entry) {
    for (const PositionRecord& position : job.positions)
        if (position.source.entry == entry)
            return &position;
    return nullptr;
}

/// A position as it stood before the entry `until`; nothing when it was not there yet.
class Then {
  public:
    Then(const Job& job, const PositionRecord& position, std::string_view until) {
        for (const Entry& entry : job.entries) {
            if (entry.id >= until)
                break;
            if (entry.kind != EntryKind::position || struck(job, entry.id) ||
                text_member(entry.body, "designator") != position.designator ||
                channel_from_key(text_member(entry.body, "channel")) != position.channel)
                continue;
            take(entry.body, "state", state);
            take(entry.body, "fitted_type", fitted);
            take(entry.body, "printed_type", printed);
            take(entry.body, "fitted_by", fitted_by);
            if (entry.body.contains("state"))
                said = entry.id;
        }
    }
    static bool struck(const Job& job, const std::string& id) {
        return std::find(job.struck.begin(), job.struck.end(), id) != job.struck.end();
    }

    std::string state;
    std::string fitted;
    std::string printed;
    std::string fitted_by;
    std::string said; // the entry that said the state

  private:
    static void take(const nlohmann::json& body, const char* member, std::string& into) {
        if (body.contains(member))
            into = text_member(body, member);
    }
};

class Gathering {
  public:
    Gathering(const Job& job, Channel channel, const Amplifier& amplifier)
        : job_(&job), channel_(channel), amplifier_(&amplifier),
          names_(position_names(job, channel, amplifier)) {}

    JobFacts facts() {
        findings();
        readings();
        std::stable_sort(facts_.items.begin(), facts_.items.end(),
                         [](const JobEvidence& a, const JobEvidence& b) {
                             return a.evidence.id < b.evidence.id;
                         });
        eras();
        parts();
        return std::move(facts_);
    }

  private:
    [[nodiscard]] bool of_channel(Channel channel) const {
        return channel == channel_ || channel == Channel::none;
    }

    /// Index into the amplifier's positions by the board's name or the netlist's; −1: none.
    [[nodiscard]] int index_of(std::string_view name) const {
        for (std::size_t i = 0; i < names_.size(); ++i)
            if (names_[i] == name || spice_equal(amplifier_->positions[i].name, name))
                return static_cast<int>(i);
        return -1;
    }
    [[nodiscard]] std::string netlist_name(int at) const {
        return at < 0 ? std::string() : amplifier_->positions[static_cast<std::size_t>(at)].name;
    }

    JobEvidence& add(const std::string& entry, std::string words, Standing standing) {
        JobEvidence item;
        item.evidence.id = entry;
        item.evidence.struck = standing == Standing::struck;
        item.words = std::move(words);
        facts_.items.push_back(std::move(item));
        return facts_.items.back();
    }

    void findings() {
        for (const FindingRecord& finding : job_->findings) {
            if (!of_channel(finding.channel))
                continue;
            const auto slash = finding.about.find('/');
            const std::string head = finding.about.substr(0, slash);
            const std::string rest = finding.about.substr(slash + 1);
            JobEvidence& item = add(finding.source.entry, {}, finding.source.standing);
            if (head == "complaint")
                complaint(item, finding, rest);
            else if (head == "part")
                part(item, finding, rest);
            else if (const int probe = find_probe(rest); probe >= 0) {
                item.words = worded("{}: could not be had",
                                    all_probes()[static_cast<std::size_t>(probe)].what);
                item.evidence.key = rest;
            } else {
                item.words = rest;
                item.why_not = "It is no place that this hunt reads.";
            }
        }
    }

    void complaint(JobEvidence& item, const FindingRecord& finding, const std::string& word) {
        std::string key = word == "early_clip" ? "breaks_up"
                          : word == "notch"    ? "rough"
                          : word == "dead"     ? "weak"
                                               : word;
        if (key == "breaks_up" && finding.half != Half::none)
            key += finding.half == Half::plus ? "_plus" : "_minus";
        const auto known = complaint_from_key(key);
        item.words = known ? std::string(complaint_words(*known)) : word;
        if (finding.answer != "yes")
            item.words += finding.answer == "no" ? ": no" : ": not known";
        if (!known)
            item.why_not = "The circuit at rest and at 1 kHz says nothing about it.";
        else if (finding.answer != "yes" && finding.answer != "no")
            item.why_not = "It is not known.";
        if (!item.why_not.empty())
            return;
        item.evidence.key = "complaint/" + key;
        item.evidence.value = finding.answer == "yes" ? 1 : 0;
    }

    void part(JobEvidence& item, const FindingRecord& finding, const std::string& name) {
        const int at = index_of(name);
        std::string answer = finding.answer;
        std::replace(answer.begin(), answer.end(), '_', ' ');
        if (at < 0) {
            item.words = worded("{} tested: {}", name, answer);
            item.why_not = "The circuit has no such part.";
            return;
        }
        item.position = netlist_name(at);
        const std::string& board = names_[static_cast<std::size_t>(at)];
        item.words = worded("{} out of circuit: {}", board,
                            answer == "unknown" ? "could not be told" : answer);
        item.evidence.key = "part/" + board;
        item.evidence.part = part_state_from_key(finding.answer);
    }

    void readings() {
        for (const ReadingRecord& reading : job_->readings) {
            const PositionRecord* position =
                reading.position.empty() ? nullptr : position_of(*job_, reading.position);
            if (position != nullptr ? position->channel != channel_ : !of_channel(reading.channel))
                continue;
            const std::string value = print_short(reading.amount.value, reading.amount.unit, 4);
            JobEvidence& item =
                add(reading.source.entry,
                    fmt::format("{}: {}", reading.what.empty() ? worded("a reading") : reading.what,
                                value),
                    reading.source.standing);
            if (reading.field.starts_with(k_hunt)) {
                const std::string key = reading.field.substr(k_hunt.size());
                if (find_probe(key) < 0)
                    item.why_not = "It is no place that this hunt reads.";
                else
                    weigh(item, key,
                          reading.amount.value * (reading.amount.unit == Unit::percent ? 100 : 1));
            } else if (position != nullptr) {
                at_position(item, reading, *position);
            } else {
                anywhere(item, reading);
            }
        }
    }

    static void weigh(JobEvidence& item, const std::string& key, double value) {
        item.evidence.key = key;
        item.evidence.value = value;
    }

    [[nodiscard]] static std::string setup_of(const ReadingRecord& reading) {
        if (reading.when.power == Power::lamp)
            return "limited/";
        return reading.when.power == Power::mains ? "idle/" : std::string();
    }

    void at_position(JobEvidence& item, const ReadingRecord& reading,
                     const PositionRecord& position) {
        const int at = index_of(position.designator);
        if (at < 0) {
            item.why_not =
                worded("The circuit does not tell which part {} is.", position.designator);
            return;
        }
        item.position = netlist_name(at);
        const SuspectPosition& suspect = amplifier_->positions[static_cast<std::size_t>(at)];
        if (reading.amount.unit == Unit::ohm)
            ohms(item, reading, position, suspect);
        else if (reading.amount.unit == Unit::volt)
            volts(item, reading, position, suspect);
        else
            item.why_not = "It is of a kind that this hunt does not weigh.";
    }

    /// Parallel paths only ever make a resistor read less.
    void ohms(JobEvidence& item, const ReadingRecord& reading, const PositionRecord& position,
              const SuspectPosition& suspect) {
        const auto* resistor =
            std::get_if<Resistor>(&amplifier_->circuit.element(suspect.element).part);
        if (resistor == nullptr || suspect.role.find("trim") != std::string::npos) {
            item.why_not = "Ohms say what a fixed resistor is; say of this part what it tested as.";
            return;
        }
        double nominal = resistor->ohm;
        const Then then(*job_, position, reading.source.entry);
        if (const auto printed = parse_value(then.printed, Unit::ohm, "printed type"))
            nominal = printed->value;
        const double share = reading.amount.value / nominal;
        const bool alone = holds(reading.conditions, "out of circuit") ||
                           holds(reading.what, "lifted") || holds(reading.conditions, "lifted");
        if (reading.when.power != Power::off && reading.when.power != Power::unsaid) {
            item.why_not = "Ohms are read with the plug out.";
            return;
        }
        if (share < 1 - k_changed && !alone) {
            item.why_not = "Less than its marking in circuit: other paths may lie beside it.";
            return;
        }
        item.evidence.key =
            "part/" + names_[static_cast<std::size_t>(index_of(position.designator))];
        item.evidence.part = reading.amount.value > k_open_ohm  ? PartState::open
                             : std::abs(share - 1) <= k_changed ? PartState::good
                                                                : PartState::changed;
    }

    void volts(JobEvidence& item, const ReadingRecord& reading, const PositionRecord& position,
               const SuspectPosition& suspect) {
        const std::string setup = setup_of(reading);
        if (setup.empty()) {
            item.why_not = "It does not say whether the lamp or full mains fed the unit.";
            return;
        }
        const ElementPart& part = amplifier_->circuit.element(suspect.element).part;
        if (suspect.role == "emitter resistor") {
            const auto& resistor = std::get<Resistor>(part);
            for (std::size_t i = 0; i < amplifier_->emitter.size(); ++i) {
                const auto& place = amplifier_->emitter[i];
                if (!place || !((place->plus == resistor.a && place->minus == resistor.b) ||
                                (place->plus == resistor.b && place->minus == resistor.a)))
                    continue;
                if (setup == "limited/" && i >= 2)
                    break;
                double value = reading.amount.value;
                const Then then(*job_, position, reading.source.entry);
                const auto printed = parse_value(then.printed, Unit::ohm, "printed type");
                const auto fitted = parse_value(then.fitted, Unit::ohm, "fitted type");
                if (printed && fitted && fitted->value > 0 && printed->value > 0 &&
                    std::abs(fitted->value / printed->value - 1) > k_changed) {
                    value *= printed->value / fitted->value;
                    item.words += worded(", taken as {} across {}",
                                         print_short(value, Unit::volt, 3), then.printed);
                }
                weigh(item, setup + "v_re" + std::to_string(i + 1), value);
                return;
            }
        } else if (suspect.role == "bias spreader") {
            weigh(item, setup + "spreader", reading.amount.value);
            return;
        }
        item.why_not = "This hunt does not weigh volts there.";
    }

    /// At no position: told by its words.
    static void anywhere(JobEvidence& item, const ReadingRecord& reading) {
        const std::string setup = setup_of(reading);
        const double value = reading.amount.value;
        if (reading.kind == ReadingKind::peak_volts) {
            if (holds(reading.what, "not yet") || holds(reading.conditions, "not yet") ||
                holds(reading.conditions, "not clip"))
                item.why_not = "It does not clip there: a bound only.";
            else
                weigh(item, value >= 0 ? "loaded/clip_plus" : "loaded/clip_minus", value);
            return;
        }
        std::string place;
        if (reading.amount.unit == Unit::volt && holds(reading.what, "offset"))
            place = "offset";
        else if (reading.amount.unit == Unit::volt && holds(reading.what, "spreader"))
            place = "spreader";
        else if (reading.amount.unit == Unit::ampere && holds(reading.what, "rail"))
            place = holds(reading.what, "+")                                    ? "i_plus"
                    : holds(reading.what, "\u2212") || holds(reading.what, "-") ? "i_minus"
                                                                                : "";
        if (place.empty())
            item.why_not = "It does not say a place that this hunt reads.";
        else if (setup.empty())
            item.why_not = "It does not say whether the lamp or full mains fed the unit.";
        else
            weigh(item, setup + place, place[0] == 'i' ? std::abs(value) : value);
    }

    /// Replacing a part begins a new time: what was read before speaks of the old one.
    void eras() {
        std::string last;
        for (const JobEvidence& item : facts_.items)
            if (item.why_not.empty() && !item.evidence.struck &&
                !item.evidence.key.starts_with("part/"))
                last = std::max(last, item.evidence.id);
        std::string begin;
        for (const Entry& entry : job_->entries) {
            if (entry.kind != EntryKind::position || Then::struck(*job_, entry.id) ||
                text_member(entry.body, "state") != "replaced" ||
                channel_from_key(text_member(entry.body, "channel")) != channel_)
                continue;
            const int at = index_of(text_member(entry.body, "designator"));
            const std::string name = at < 0 ? text_member(entry.body, "designator")
                                            : names_[static_cast<std::size_t>(at)];
            if (entry.id < last) {
                begin = entry.id;
                facts_.since = name;
            } else {
                if (end_.empty())
                    end_ = entry.id;
                facts_.cured.push_back(name);
            }
        }
        for (JobEvidence& item : facts_.items)
            if (item.evidence.id < begin && item.why_not.empty())
                item.why_not = worded("From before {} was replaced.", facts_.since);
            else if (!end_.empty() && item.evidence.id > end_ && item.why_not.empty())
                item.why_not = "Tested after the cure.";
        for (JobEvidence& item : facts_.items)
            if (!item.why_not.empty())
                item.evidence.key.clear();
    }

    /// What positions say of themselves: states, and what an earlier shop fitted.
    void parts() {
        const std::string until = end_.empty() ? std::string("Z") : end_;
        for (const PositionRecord& position : job_->positions) {
            const int at = index_of(position.designator);
            if (!valid(position.source) || position.channel != channel_ || at < 0)
                continue;
            const std::string& name = names_[static_cast<std::size_t>(at)];
            const Then then(*job_, position, until);
            const std::string key = "part/" + name;
            const bool tested =
                std::any_of(facts_.items.begin(), facts_.items.end(), [&](const JobEvidence& one) {
                    return one.evidence.key == key && !one.evidence.struck;
                });
            if (!tested &&
                (then.state == "good" || then.state == "bad" || then.state == "replaced")) {
                JobEvidence& item =
                    add(then.said, worded("{} is {}", name, then.state), Standing::valid);
                item.position = netlist_name(at);
                item.evidence.key = key;
                item.evidence.part = then.state == "bad" ? PartState::bad : PartState::good;
            }
            if (then.fitted_by == "earlier shop" || marked(position)) {
                JobEvidence& item =
                    add(position.source.entry,
                        worded("{} was fitted by an earlier shop: likelier, no proof", name),
                        Standing::valid);
                item.position = netlist_name(at);
                item.evidence.key = "mark/" + name;
            }
        }
    }

    /// A photo of earlier work, or a mark on one, points at it.
    [[nodiscard]] bool marked(const PositionRecord& position) const {
        const auto earlier = [&](const PhotoRecord& photo) {
            return valid(photo.source) && photo.stage == PhotoStage::earlier_work;
        };
        for (const PhotoRecord& photo : job_->photos) {
            if (!earlier(photo))
                continue;
            if (photo.position == position.source.entry)
                return true;
            for (const MarkRecord& mark : job_->marks)
                if (valid(mark.source) && mark.photo == photo.source.entry &&
                    mark.position == position.source.entry)
                    return true;
        }
        return false;
    }

    const Job* job_;
    Channel channel_;
    const Amplifier* amplifier_;
    std::vector<std::string> names_;
    JobFacts facts_;
    std::string end_; // the first entry that replaced something after the last evidence
};

} // namespace

Result<Amplifier> job_amplifier(const Job& job, Channel channel) {
    const CircuitRecord* record = job.circuit();
    if (record == nullptr)
        return refusal(ErrorCode::missing, "circuit",
                       "this job does not say yet which amplifier it is.");
    const auto netlist = read_netlist(record->netlist, record->name, [](std::string_view name) {
        return Result<std::string>(
            refusal(ErrorCode::not_found, printable(name),
                    "a job's circuit stands by itself and includes no files."));
    });
    if (!netlist)
        return netlist.error();
    auto amplifier = read_amplifier(netlist->circuit, record->name, record->netlist,
                                    record->positions, record->name);
    if (const auto load = channel_load(job, channel);
        amplifier.ok() && load && amplifier->load >= 0)
        std::get<Resistor>(amplifier->circuit.element(amplifier->load).part).ohm = *load;
    return amplifier;
}

std::string table_key(const Job& job, Channel channel) {
    const CircuitRecord* record = job.circuit();
    if (record == nullptr)
        return {};
    const auto load = channel_load(job, channel);
    return fmt::format("{}\n{}\n{}", record->netlist, record->positions,
                       load ? fmt::format("{:g}", *load) : "rated");
}

std::vector<std::string> position_names(const Job& job, Channel channel,
                                        const Amplifier& amplifier) {
    const CircuitRecord* record = job.circuit();
    std::vector<std::string> names;
    names.reserve(amplifier.positions.size());
    for (const SuspectPosition& suspect : amplifier.positions) {
        std::string name;
        if (record != nullptr)
            for (const std::string_view head : {channel_key(channel), std::string_view()})
                for (const auto& [element, board] : record->names)
                    if (name.empty() &&
                        spice_equal(element, fmt::format("{}/{}", head, suspect.name)))
                        name = board;
        // The only one there, and the only one here.
        const PositionRecord* only = nullptr;
        int there = 0;
        for (const PositionRecord& position : job.positions)
            if (valid(position.source) && position.channel == channel &&
                circuit_role(position) == suspect.role && same_half(suspect.half, position.half)) {
                only = &position;
                ++there;
            }
        const auto here =
            std::count_if(amplifier.positions.begin(), amplifier.positions.end(),
                          [&](const SuspectPosition& other) {
                              return other.role == suspect.role && other.half == suspect.half;
                          });
        if (name.empty() && there == 1 && here == 1)
            name = only->designator;
        if (name.empty()) {
            name = suspect.name;
            std::transform(name.begin(), name.end(), name.begin(), [](char c) {
                return c >= 'a' && c <= 'z' ? static_cast<char>(c - 'a' + 'A') : c;
            });
        }
        names.push_back(std::move(name));
    }
    return names;
}

std::vector<Evidence> JobFacts::evidence() const {
    std::vector<Evidence> all;
    for (const JobEvidence& item : items)
        if (item.why_not.empty() && !item.evidence.struck)
            all.push_back(item.evidence);
    return all;
}

JobFacts job_facts(const Job& job, Channel channel, const Amplifier& amplifier) {
    return Gathering(job, channel, amplifier).facts();
}

std::string element_name(const Job& job, Channel channel, const Amplifier& amplifier,
                         std::string_view name) {
    const auto names = position_names(job, channel, amplifier);
    for (std::size_t i = 0; i < names.size(); ++i)
        if (names[i] == name)
            return amplifier.circuit.element(amplifier.positions[i].element).name;
    return std::string(name);
}

std::string hunt_field(std::string_view probe_key) {
    return std::string(k_hunt) + std::string(probe_key);
}

} // namespace railside
