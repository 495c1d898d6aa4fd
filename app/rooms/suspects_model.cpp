#include "app/rooms/suspects_model.h"

#include "app/rooms/reading_model.h"
#include "core/quantity/value_code.h"
#include "core/words/words.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <utility>

namespace railside {

namespace {

constexpr std::size_t k_most_suspects = 6;
constexpr double k_least_shown = 0.005;

std::string percent(double share) {
    if (share > 0.995)
        return worded("over 99 %");
    return share < 0.005 ? worded("under 1 %") : fmt::format("{:.0f} %", share * 100);
}

std::string_view half_sign(SuspectHalf half) {
    return half == SuspectHalf::plus ? ", +" : half == SuspectHalf::minus ? ", \u2212" : "";
}

const ChannelHunt& shown_of(const AppState& state, const SuspectsFacts& facts) {
    return state.channel == Channel::right ? facts.right : facts.left;
}

std::vector<PageButton> channel_buttons(Channel now) {
    return words_to_choose("channel", "draft/channel",
                           channel_key(now == Channel::none ? Channel::left : now),
                           {{"left", "left"}, {"right", "right"}})
        .buttons;
}

struct Said {
    const char* key;
    Half half;
    const char* label;
};
constexpr std::array k_said{Said{"hot", Half::none, "hot at idle"},
                            Said{"breaks_up", Half::none, "breaks up"},
                            Said{"breaks_up", Half::plus, "breaks up, +"},
                            Said{"breaks_up", Half::minus, "breaks up, \u2212"},
                            Said{"rough", Half::none, "rough, a notch"},
                            Said{"weak", Half::none, "weak"},
                            Said{"dead", Half::none, "dead"},
                            Said{"distorted", Half::none, "distorted"},
                            Said{"dc", Half::none, "DC at output"},
                            Said{"blows_fuse", Half::none, "blows fuse"},
                            Said{"hum", Half::none, "hum"}};

const FindingRecord* said_of(const Job& job, Channel channel, const Said& said) {
    const std::string about = std::string("complaint/") + said.key;
    for (auto it = job.findings.rbegin(); it != job.findings.rend(); ++it)
        if (it->source.standing == Standing::valid && it->about == about &&
            it->channel == channel && it->half == said.half)
            return it->answer == "yes" ? &*it : nullptr;
    return nullptr;
}

PageRow complaints_row(const AppState& state, const Job& job) {
    const Channel channel = state.channel == Channel::right ? Channel::right : Channel::left;
    std::vector<PageButton> buttons;
    buttons.reserve(k_said.size());
    for (const Said& said : k_said) {
        const FindingRecord* told = said_of(job, channel, said);
        std::string name = std::string("complaint/") + said.key;
        if (said.half != Half::none)
            name += "_" + std::string(half_key(said.half));
        PageButton button{std::move(name), said.label, intent::DismissMessage{},
                          told != nullptr ? ButtonKind::chosen : ButtonKind::choice};
        if (told != nullptr)
            button.does = intent::StrikeEntry{told->source.entry, Standing::struck};
        else
            button.does = intent::SayFound{std::string("complaint/") + said.key, "yes", said.half};
        buttons.push_back(std::move(button));
    }
    return buttons_row(std::move(buttons));
}

void no_circuit(Page& page, const SuspectsFacts& facts) {
    page.rows.push_back(heading_row("Which amplifier is it?"));
    page.rows.push_back(words_row(
        "The hunt works every single fault of the circuit out, so it must know the circuit. The "
        "usual one (complementary followers, a spreader, limiters) is made of what this job knows: "
        "rails, emitter resistors, pairs, spreader and limiter values. Or a netlist from a file, "
        "with its positions beside it.",
        Tone::plain));
    if (!facts.why_no_usual.empty())
        page.rows.push_back(words_row(facts.why_no_usual, Tone::edge));
    page.foot.push_back({"usual", "The usual circuit", intent::TakeUsualCircuit{},
                         facts.why_no_usual.empty() ? ButtonKind::primary : ButtonKind::plain});
    page.foot.push_back(
        {"file", "From a file", intent::ChooseFileFor{FileWanted::circuit}, ButtonKind::plain});
}

void not_ready(Page& page, const ChannelHunt& hunt) {
    if (!hunt.table.failed.empty()) {
        page.rows.push_back(caution_row(hunt.table.failed));
        page.rows.push_back(
            words_row("Strike the circuit in the history, or take up another one."));
        page.rows.push_back(
            buttons_row({{"file", "From a file", intent::ChooseFileFor{FileWanted::circuit}}}));
        return;
    }
    PageRow row;
    row.kind = RowKind::gauge;
    row.name = "progress";
    row.label = "Working the circuit out with every fault";
    row.value = hunt.table.of > 0 ? worded("{} of {}", hunt.table.done, hunt.table.of) : "begun";
    row.part = hunt.table.of > 0
                   ? static_cast<float>(hunt.table.done) / static_cast<float>(hunt.table.of)
                   : 0;
    page.rows.push_back(std::move(row));
    page.rows.push_back(words_row("Once for this circuit. The rest of the bench goes on meanwhile: "
                                  "say what the client says."));
}

std::string caution_of(Setup setup) {
    switch (setup) {
    case Setup::off:
        return "Plug out, reservoirs below 1 V, before a part is touched.";
    case Setup::limited:
        return "The primary is at mains, the rails stay charged: clip on before power, one hand.";
    case Setup::idle:
    case Setup::trim:
        return "Full mains, rails live: clip on before power, one hand, the other on the switch.";
    case Setup::loaded:
    case Setup::held:
        return "Full mains under load: the dummy load and the sinks get hot, no loudspeaker.";
    }
    return {};
}

std::vector<PageButton> part_answers(ElementKind kind, const std::string& element) {
    std::vector<std::pair<const char*, const char*>> answers{{"good", "good"}};
    switch (kind) {
    case ElementKind::transistor:
        answers.insert(answers.end(), {{"shorted", "shorted"},
                                       {"leaky", "leaky"},
                                       {"open", "open"},
                                       {"low_gain", "low gain"}});
        break;
    case ElementKind::resistor:
        answers.insert(answers.end(), {{"open", "open"}, {"changed", "changed"}});
        break;
    case ElementKind::diode:
    case ElementKind::capacitor:
        answers.insert(answers.end(), {{"shorted", "shorted"}, {"open", "open"}});
        break;
    }
    answers.emplace_back("unknown", "can't tell");
    std::vector<PageButton> buttons;
    buttons.reserve(answers.size());
    for (const auto& [answer, label] : answers)
        buttons.push_back({std::string("answer/") + answer, label,
                           intent::SayFound{"part/" + element, answer, Half::none}});
    return buttons;
}

void next_card(Page& page, const ChannelHunt& hunt) {
    const Proposal& next = *hunt.next;
    PageRow card;
    card.kind = RowKind::line;
    card.label = worded("Next: {}", next.what);
    card.value = worded("{:g} min", next.minutes);
    card.more = next.where;
    card.note = next.why;
    card.note_tone = Tone::plain;
    page.rows.push_back(std::move(card));
    page.rows.push_back(caution_row(caution_of(next.setup)));
    for (const TestOutcome& outcome : next.outcomes) {
        PageRow row;
        row.kind = RowKind::sides;
        row.label = outcome.shows;
        row.value = percent(outcome.probability);
        row.other = outcome.means;
        page.rows.push_back(std::move(row));
    }
    if (next.position >= 0) {
        const auto at = static_cast<std::size_t>(next.position);
        page.rows.push_back(buttons_row(part_answers(hunt.kinds[at], hunt.elements[at])));
        return;
    }
    page.foot.push_back(
        {"reading", "Key in the reading", intent::KeyIn{"hunt/" + next.key}, ButtonKind::primary});
    page.foot.push_back({"not_had", "Cannot be had",
                         intent::SayFound{"reading/" + next.key, "unknown", Half::none}});
}

void over(Page& page, const ChannelHunt& hunt) {
    const HuntStanding& standing = hunt.standing;
    if (standing.stop == HuntStop::confirmed)
        page.rows.push_back(words_row("It is proved: replace it, then read again.", Tone::good));
    else if (!standing.confirm.empty())
        page.rows.push_back(words_row(worded("Proof: {}.", standing.confirm), Tone::plain));
    if (!standing.also_fits.empty()) {
        std::string words = "What else fits: ";
        for (std::size_t i = 0; i < standing.also_fits.size(); ++i)
            words += (i > 0 ? "; " : "") + standing.also_fits[i];
        page.rows.push_back(words_row(words + "."));
    }
}

/// What was replaced after all this was read: does it explain it, and is it so still?
void after_cure(Page& page, const ChannelHunt& hunt) {
    std::string names;
    for (const std::string& name : hunt.facts.cured)
        names += (names.empty() ? "" : ", ") + name;
    page.rows.push_back(heading_row(worded("Replaced since: {}", names)));
    for (const std::string& sentence : hunt.after_cure)
        page.rows.push_back(words_row(sentence, Tone::plain));
    page.rows.push_back(words_row("Read again to see that it is cured:"));
    std::vector<std::string> seen;
    for (const JobEvidence& item : hunt.facts.items) {
        const int probe = find_probe(item.evidence.key);
        if (probe < 0 || item.evidence.struck || !item.evidence.value ||
            std::find(seen.begin(), seen.end(), item.evidence.key) != seen.end())
            continue;
        seen.push_back(item.evidence.key);
        page.rows.push_back(
            value_row("again/" + item.evidence.key,
                      std::string(all_probes()[static_cast<std::size_t>(probe)].what),
                      item.words.substr(item.words.rfind(": ") + 2), "hunt/" + item.evidence.key));
    }
}

void suspects_rows(Page& page, const AppState& state, const ChannelHunt& hunt) {
    page.rows.push_back(heading_row("What could it be"));
    std::size_t count = 0;
    for (const Suspect& suspect : hunt.ranking) {
        if (count == k_most_suspects || suspect.probability < k_least_shown)
            break;
        ++count;
        PageRow row;
        row.kind = RowKind::gauge;
        row.name = "suspect/" + suspect.name;
        row.label = suspect.name;
        if (suspect.position >= 0)
            row.label += worded(", {}", fault_words(suspect.kind));
        row.value = percent(suspect.probability);
        row.part = static_cast<float>(suspect.probability);
        row.tone = count == 1 ? Tone::edge : Tone::plain;
        const bool opened = state.suspect == suspect.name;
        row.does = intent::OpenSuspect{opened ? std::string() : suspect.name};
        page.rows.push_back(std::move(row));
        if (!opened)
            continue;
        if (suspect.position >= 0)
            page.rows.push_back(
                words_row(hunt.roles[static_cast<std::size_t>(suspect.position)], Tone::plain));
        for (const std::string& reason : hunt.reasons)
            page.rows.push_back(words_row("\u2022 " + reason));
        if (hunt.reasons.empty())
            page.rows.push_back(words_row("Nothing that was read speaks of it."));
        if (!hunt.proof.empty())
            page.rows.push_back(words_row(worded("Proof: {}.", hunt.proof), Tone::plain));
    }
    page.rows.push_back(words_row("Touch one for what speaks for and against it."));
}

Page next_page(const AppState& state, const Job& job, const SuspectsFacts& facts) {
    const ChannelHunt& hunt = shown_of(state, facts);
    Page page;
    page.name = "suspects/next";
    page.head = channel_buttons(state.channel);
    if (facts.circuit.empty()) {
        no_circuit(page, facts);
        return page;
    }
    const bool known =
        std::any_of(hunt.facts.items.begin(), hunt.facts.items.end(), [](const JobEvidence& item) {
            return item.why_not.empty() && !item.evidence.struck &&
                   !item.evidence.key.starts_with("mark/");
        });
    if (!hunt.ready || !known) {
        if (!hunt.ready)
            not_ready(page, hunt);
        page.rows.push_back(heading_row("What the client says of this channel"));
        if (hunt.ready)
            page.rows.push_back(
                words_row("No complaint yet: touch what is wrong with it.", Tone::plain));
        page.rows.push_back(complaints_row(state, job));
        if (!hunt.ready)
            return page;
    }
    if (!hunt.facts.cured.empty()) {
        page.rows.push_back(words_row(hunt.standing.sentence, Tone::plain));
        after_cure(page, hunt);
    } else {
        if (known)
            page.rows.push_back(words_row(hunt.standing.sentence, Tone::plain));
        if (hunt.next)
            next_card(page, hunt);
        else
            over(page, hunt);
    }
    for (const std::string& one : hunt.standing.unexplained)
        page.rows.push_back(words_row(worded("Not explained: {}.", one), Tone::edge));
    suspects_rows(page, state, hunt);
    return page;
}

Page evidence_page(const AppState& state, const Job& job, const SuspectsFacts& facts) {
    const ChannelHunt& hunt = shown_of(state, facts);
    Page page;
    page.name = "suspects/evidence";
    page.head = channel_buttons(state.channel);
    page.rows.push_back(heading_row("What the client says of this channel"));
    page.rows.push_back(complaints_row(state, job));
    page.rows.push_back(heading_row("What is known"));
    if (!hunt.facts.since.empty())
        page.rows.push_back(words_row(
            worded("{} was replaced: what was read before it is not weighed.", hunt.facts.since)));
    const auto is_position = [&](const std::string& entry) {
        return std::any_of(job.entries.begin(), job.entries.end(), [&](const Entry& one) {
            return one.id == entry && one.kind == EntryKind::position;
        });
    };
    int number = 0;
    for (const JobEvidence& item : hunt.facts.items) {
        PageRow row;
        row.kind = RowKind::line;
        row.name = fmt::format("item/{}", ++number);
        row.label = item.words;
        row.struck = item.evidence.struck;
        row.more = item.evidence.struck ? std::string() : item.why_not;
        row.tone = Tone::soft;
        if (is_position(item.evidence.id)) {
            std::string opened;
            for (const PositionRecord& position : job.positions)
                for (const Entry& entry : job.entries)
                    if (entry.id == item.evidence.id &&
                        entry.body.value("designator", "") == position.designator)
                        opened = position.source.entry;
            row.value = "position";
            row.does = intent::OpenPosition{opened};
        } else {
            row.value = item.evidence.struck ? "bring back" : "strike";
            row.does = intent::StrikeEntry{
                item.evidence.id, item.evidence.struck ? Standing::valid : Standing::struck};
        }
        page.rows.push_back(std::move(row));
    }
    if (hunt.facts.items.empty())
        page.rows.push_back(words_row(
            hunt.ready ? "Nothing yet. Readings at emitter resistors and outputs, parts tested and "
                         "what the client says come in here."
                       : "It is listed once the circuit is worked out."));
    if (!facts.circuit.empty()) {
        page.rows.push_back(heading_row("The circuit"));
        page.rows.push_back(words_row(facts.circuit, Tone::plain));
        page.rows.push_back(words_row(
            "Another one takes its place; what is known stays, as far as it speaks of that one. "
            "How long tests take at this bench is keyed on the shelf under Bench, Lists."));
        page.rows.push_back(
            buttons_row({{"usual", "The usual circuit", intent::TakeUsualCircuit{}},
                         {"file", "From a file", intent::ChooseFileFor{FileWanted::circuit}}}));
    }
    return page;
}

/// A value of that key that counts, in words, or a dash.
std::string value_of(const ChannelHunt& hunt, const std::string& key) {
    std::string found = "\u2014";
    for (const JobEvidence& item : hunt.facts.items) {
        if (item.evidence.key != key || item.evidence.struck)
            continue;
        const int probe = find_probe(key);
        if (probe < 0)
            found = item.evidence.value.value_or(0) > 0.5 ? "yes" : "no";
        else if (!item.evidence.value)
            found = "not to be had";
        else
            found = item.words.substr(item.words.rfind(": ") + 2);
    }
    return found;
}

Page channels_page(const SuspectsFacts& facts) {
    Page page;
    page.name = "suspects/channels";
    const auto sides = [&](std::string label, std::string left, std::string right) {
        PageRow row;
        row.kind = RowKind::sides;
        row.label = std::move(label);
        row.value = std::move(left);
        row.other = std::move(right);
        page.rows.push_back(std::move(row));
    };
    sides("", "left", "right");
    page.rows.back().tone = Tone::soft;
    const auto leader = [](const ChannelHunt& hunt) {
        if (!hunt.ready || hunt.ranking.empty())
            return std::string("not worked out");
        const Suspect& first = hunt.ranking.front();
        return first.position < 0 ? worded("{} {}", first.name, percent(first.probability))
                                  : worded("{}, {} {}", first.name, fault_words(first.kind),
                                           percent(first.probability));
    };
    sides("likeliest", leader(facts.left), leader(facts.right));
    std::vector<std::string> keys;
    for (const ChannelHunt* hunt : {&facts.left, &facts.right})
        for (const JobEvidence& item : hunt->facts.items)
            if (!item.evidence.struck &&
                (find_probe(item.evidence.key) >= 0 ||
                 item.evidence.key.starts_with("complaint/")) &&
                std::find(keys.begin(), keys.end(), item.evidence.key) == keys.end())
                keys.push_back(item.evidence.key);
    for (const std::string& key : keys) {
        const int probe = find_probe(key);
        std::string label;
        if (probe >= 0) {
            const ProbeSpec& spec = all_probes()[static_cast<std::size_t>(probe)];
            label = worded("{}, {}", spec.what, setup_key(spec.setup));
        } else if (const auto complaint = complaint_from_key(key.substr(10))) {
            label = complaint_words(*complaint);
        }
        std::string left = value_of(facts.left, key);
        std::string right = value_of(facts.right, key);
        sides(std::move(label), std::move(left), std::move(right));
    }
    if (keys.empty())
        page.rows.push_back(words_row("Nothing that speaks of either channel yet. A channel that "
                                      "is well is the other one's measure: read both."));
    return page;
}

const ProbeSpec* spec_of(const std::string& key) {
    const int probe = find_probe(key);
    return probe < 0 ? nullptr : &all_probes()[static_cast<std::size_t>(probe)];
}

Unit unit_of(const ProbeSpec& spec) {
    return spec.unit == "V"   ? Unit::volt
           : spec.unit == "A" ? Unit::ampere
           : spec.unit == "%" ? Unit::percent
                              : Unit::ratio;
}

} // namespace

ChannelHunt weigh_channel(const Hunt& table, const Job& job, Channel channel,
                          const std::string& opened) {
    ChannelHunt made;
    made.ready = true;
    const Amplifier& plain = table.amplifier();
    const Hunt hunt = table.named(position_names(job, channel, plain));
    made.facts = job_facts(job, channel, plain);
    const std::vector<Evidence> evidence = made.facts.evidence();
    made.ranking = hunt.rank(evidence);
    for (const SuspectPosition& position : hunt.amplifier().positions) {
        made.roles.push_back(position.role + std::string(half_sign(position.half)));
        made.kinds.push_back(position.kind);
        made.elements.push_back(plain.circuit.element(position.element).name);
    }
    if (made.facts.cured.empty())
        made.next = hunt.next_test(evidence);
    made.standing = hunt.standing(evidence);
    if (!opened.empty()) {
        made.reasons = hunt.explain(opened, evidence);
        for (const Suspect& suspect : made.ranking)
            if (suspect.name == opened && suspect.position >= 0)
                made.proof = confirming_words(
                    hunt.amplifier().positions[static_cast<std::size_t>(suspect.position)],
                    suspect.kind);
    }
    for (const std::string& name : made.facts.cured) {
        if (hunt.amplifier().find(name) == nullptr) {
            made.after_cure.push_back(
                worded("{}: the circuit does not tell which part that is.", name));
            continue;
        }
        std::vector<std::string> left;
        for (const std::size_t at : hunt.unexplained(name, evidence))
            for (const JobEvidence& item : made.facts.items)
                if (item.evidence.key == evidence[at].key && !item.evidence.struck &&
                    item.evidence.value == evidence[at].value)
                    left.push_back(item.words);
        if (left.empty()) {
            made.after_cure.push_back(worded("{} explains all that was read before.", name));
            continue;
        }
        std::string words = worded("{} alone does not explain: ", name);
        for (std::size_t i = 0; i < left.size(); ++i)
            words += (i > 0 ? "; " : "") + left[i];
        made.after_cure.push_back(words + ".");
    }
    return made;
}

Page make_suspects(const AppState& state, const Job& job, const SuspectsFacts& facts) {
    switch (state.suspects_part) {
    case SuspectsPart::next:
        return next_page(state, job, facts);
    case SuspectsPart::evidence:
        return evidence_page(state, job, facts);
    case SuspectsPart::channels:
        return channels_page(facts);
    }
    return {};
}

std::optional<KeypadState> make_hunt_keypad(const std::string& probe_key) {
    const ProbeSpec* spec = spec_of(probe_key);
    if (spec == nullptr)
        return std::nullopt;
    KeypadState keypad;
    keypad.target = "hunt/" + probe_key;
    keypad.title = std::string(setup_words(spec->setup));
    keypad.field.label = spec->what;
    keypad.field.unit = unit_of(*spec);
    const bool signs = keypad.field.unit == Unit::volt;
    keypad.field.high = keypad.field.unit == Unit::ampere ? 100 : 1000;
    keypad.field.low = signs ? -keypad.field.high : 0;
    keypad.field.usual_high = keypad.field.unit == Unit::ampere ? 20 : 200;
    keypad.field.usual_low = signs ? -keypad.field.usual_high : 0;
    return keypad;
}

ReadingKind hunt_reading_kind(const std::string& probe_key) {
    const ProbeSpec* spec = spec_of(probe_key);
    if (spec == nullptr)
        return ReadingKind::other;
    if (probe_key.starts_with("loaded/clip"))
        return ReadingKind::peak_volts;
    if (unit_of(*spec) == Unit::ampere)
        return ReadingKind::current;
    if (unit_of(*spec) != Unit::volt)
        return ReadingKind::other;
    return spec->floor < 0.01 ? ReadingKind::millivolts : ReadingKind::volts;
}

ReadingRecord hunt_reading(const AppState& state, const Job& job, const BenchBook& book,
                           const std::string& probe_key, const Input& input,
                           const std::string& text) {
    AppState as_read = state;
    as_read.reading.position.clear();
    as_read.reading.kind = hunt_reading_kind(probe_key);
    if (as_read.channel == Channel::none)
        as_read.channel = Channel::left;
    ReadingRecord reading = reading_from(as_read, job, book, input, text);
    const ProbeSpec& spec = *spec_of(probe_key);
    reading.what = std::string(spec.what);
    reading.field = hunt_field(probe_key);
    reading.conditions = std::string(setup_words(spec.setup));
    reading.when.power = spec.setup == Setup::limited ? Power::lamp : Power::mains;
    return reading;
}

} // namespace railside
