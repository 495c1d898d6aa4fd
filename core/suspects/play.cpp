#include "core/suspects/play.h"

#include "core/device/gain.h"
#include "core/device/model_card.h"
#include "core/device/spice_text.h"
#include "core/quantity/refusal.h"
#include "core/words/words.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace railside {

namespace {

constexpr double k_leak_a = 1e-4; // from 20 V through 1 k
constexpr double k_changed = 0.1; // of the marked value
constexpr double k_low_gain = 1.0 / 3;

bool says(std::string_view text, std::string_view words) {
    return text.find(words) != std::string_view::npos;
}

/// The cells of one line; quotes may hold commas, "" is a quote. `at` moves behind the line.
std::vector<std::string> cells(std::string_view text, std::size_t& at, bool& closed) {
    std::vector<std::string> row(1);
    bool quoted_cell = false;
    closed = true;
    for (; at < text.size(); ++at) {
        const char c = text[at];
        if (quoted_cell) {
            if (c == '"' && at + 1 < text.size() && text[at + 1] == '"') {
                row.back() += '"';
                ++at;
            } else if (c == '"') {
                quoted_cell = false;
            } else {
                row.back() += c;
            }
        } else if (c == '"') {
            quoted_cell = true;
        } else if (c == ',') {
            row.emplace_back();
        } else if (c == '\n') {
            ++at;
            return row;
        } else if (c != '\r') {
            row.back() += c;
        }
    }
    closed = !quoted_cell;
    return row;
}

bool has_word(std::string_view symptom, std::string_view word) {
    while (!symptom.empty()) {
        const auto end = std::min(symptom.find('+'), symptom.size());
        if (symptom.substr(0, end).starts_with(word))
            return true;
        symptom.remove_prefix(std::min(end + 1, symptom.size()));
    }
    return false;
}

} // namespace

std::string_view AnswerRow::text(std::string_view column) const {
    const auto at = cells.find(column);
    return at == cells.end() ? std::string_view() : std::string_view(at->second);
}

std::optional<double> AnswerRow::number(std::string_view column) const {
    return spice_number(text(column));
}

Result<std::vector<AnswerRow>> read_answers(std::string_view text, std::string_view source) {
    std::vector<AnswerRow> rows;
    std::vector<std::string> heading;
    std::size_t at = 0;
    int line = 0;
    while (at < text.size()) {
        ++line;
        bool closed = true;
        const auto row = cells(text, at, closed);
        if (!closed)
            return refusal(ErrorCode::bad_text, spice_place(source, line),
                           "a quote is not closed. Accepted: comma-separated values.");
        if (row.size() == 1 && row[0].empty())
            continue;
        if (heading.empty()) {
            heading = row;
            if (std::find(heading.begin(), heading.end(), "id") == heading.end())
                return refusal(ErrorCode::missing, spice_place(source, line),
                               "there is no column id. Accepted: a heading line that names the "
                               "columns, id among them.");
            continue;
        }
        if (row.size() > heading.size())
            return refusal(ErrorCode::bad_text, spice_place(source, line),
                           worded("has {} cells. Accepted: at most {}, as the heading has.",
                                  row.size(), heading.size()));
        AnswerRow answer;
        answer.line = line;
        for (std::size_t i = 0; i < row.size(); ++i)
            if (!row[i].empty())
                answer.cells.emplace(heading[i], row[i]);
        rows.push_back(std::move(answer));
    }
    if (heading.empty())
        return refusal(ErrorCode::missing, source,
                       "is empty. Accepted: a heading line and a row for each unit.");
    return rows;
}

AnswerRow answer_row(const Amplifier& amplifier, const Fault& fault, double severity,
                     const ProbeReadings& readings, const ProbeReadings& healthy,
                     std::string_view id) {
    AnswerRow row;
    const auto put = [&](std::string_view column, const std::string& value) {
        if (!value.empty())
            row.cells[std::string(column)] = value;
    };
    put("id", std::string(id));
    put("fault_class", fault.position < 0 ? "healthy" : std::string(fault_key(fault.kind)));
    const auto probes = all_probes();
    for (std::size_t p = 0; p < probes.size(); ++p)
        if (!std::isnan(readings[p]))
            put(probes[p].column, fmt::format("{:.6g}", readings[p] / probes[p].scale));
    // The client's word, by the thresholds of hunt.md.
    const auto at = [](const ProbeReadings& from, std::string_view key) {
        return from[static_cast<std::size_t>(find_probe(key))];
    };
    std::string symptom;
    const auto tell = [&](bool is, std::string_view word) {
        if (is)
            symptom += fmt::format("{}{}", symptom.empty() ? "" : "+", word);
    };
    const double amps = std::max(at(readings, "idle/i_plus"), at(readings, "idle/i_minus"));
    const double offset = at(readings, "idle/offset");
    if (amps > amplifier.fuse_a) {
        tell(true, "fuse_blows");
    } else if (std::abs(offset) > 3) {
        tell(true, "dc_at_output");
    } else {
        tell(std::abs(offset - at(healthy, "idle/offset")) > 0.05, "offset_high");
        const double bias = std::max(at(readings, "idle/v_re1"), at(readings, "idle/v_re2")) /
                            at(healthy, "idle/v_re1");
        tell(bias > 5, "over_bias");
        tell(bias < 0.2, "under_bias");
        tell(at(readings, "loaded/clip_plus") < 0.96 * at(healthy, "loaded/clip_plus"),
             "early_clip_pos");
        tell(at(readings, "loaded/clip_minus") > 0.96 * at(healthy, "loaded/clip_minus"),
             "early_clip_neg");
        tell(std::abs(at(readings, "loaded/gain") / at(healthy, "loaded/gain") - 1) > 0.05,
             "gain_wrong");
        tell(at(readings, "loaded/distortion") >
                 std::max(0.15, 3 * at(healthy, "loaded/distortion")),
             "distorted");
        tell(at(readings, "loaded/notch") > 10, "crossover_notch");
        for (const char* key : {"held/plus_0", "held/minus_0", "held/plus_20", "held/minus_20"}) {
            tell(at(readings, key) < 0.8 * at(healthy, key), "limits_early");
            tell(at(readings, key) > 1.25 * at(healthy, key), "limit_missing");
        }
    }
    put("symptom", symptom.empty() ? "none" : symptom);
    if (fault.position < 0)
        return row;
    const SuspectPosition& position = amplifier.positions[static_cast<std::size_t>(fault.position)];
    put("part", position.name);
    const ElementPart& part = amplifier.circuit.element(position.element).part;
    const double value = has_severity(fault.kind) ? severity_value(fault.kind, severity) : 0;
    switch (part_state_of(fault.kind)) {
    case PartState::shorted:
        put(position.kind == ElementKind::transistor ? "part_hfe" : "part_v_ce_diode_V",
            position.kind == ElementKind::transistor ? "short" : "0");
        break;
    case PartState::leaky:
        put("part_hfe", "100");
        put("part_i_ce_20V_mA", fmt::format("{:.4g}", 20 / (1000 + value) * 1e3));
        break;
    case PartState::open:
        if (position.kind == ElementKind::transistor) {
            put("part_hfe", "none");
            put("part_v_be_V", fault.kind == FaultKind::open_collector ? "0.7" : "OL");
            put("part_v_bc_V", fault.kind == FaultKind::open_emitter ? "0.7" : "OL");
        } else {
            put("part_ohm", "OL");
        }
        break;
    case PartState::low_gain:
        put("part_hfe", fmt::format("{:.4g}", std::get<Bipolar>(part).model.forward_gain * value));
        put("part_i_ce_20V_mA", "0");
        break;
    case PartState::changed:
        if (const auto* r = std::get_if<Resistor>(&part))
            put("part_ohm", fmt::format("{:.6g}", r->ohm * value));
        break;
    case PartState::bad:
    case PartState::good:
        break;
    }
    return row;
}

std::vector<Evidence> complaints_of(const AnswerRow& row) {
    const std::string_view symptom = row.text("symptom");
    std::vector<Evidence> told;
    if (symptom.empty())
        return told;
    const auto tell = [&](Complaint complaint, bool is) {
        told.push_back({"", fmt::format("complaint/{}", complaint_key(complaint)), is ? 1.0 : 0.0,
                        std::nullopt, false});
    };
    tell(Complaint::blows_fuse, has_word(symptom, "fuse_blows"));
    tell(Complaint::dc, has_word(symptom, "dc_at_output"));
    tell(Complaint::hot, has_word(symptom, "over_bias"));
    tell(Complaint::breaks_up,
         has_word(symptom, "early_clip") || has_word(symptom, "limits_early"));
    tell(Complaint::rough, has_word(symptom, "crossover_notch"));
    tell(Complaint::weak, has_word(symptom, "gain_wrong"));
    tell(Complaint::distorted, has_word(symptom, "distorted"));
    if (has_word(symptom, "hum"))
        tell(Complaint::hum, true);
    return told;
}

std::optional<PartState> part_state_of(const AnswerRow& row, const SuspectPosition& position) {
    const std::string_view gain = row.text("part_hfe");
    const std::string_view ohm = row.text("part_ohm");
    if (gain == "short")
        return PartState::shorted;
    if (gain == "none" || row.text("part_v_be_V") == "OL" || row.text("part_v_bc_V") == "OL" ||
        ohm.starts_with("OL"))
        return PartState::open;
    if (const auto leak = row.number("part_i_ce_20V_mA"); leak && *leak * 1e-3 > k_leak_a)
        return PartState::leaky;
    if (const auto hfe = row.number("part_hfe")) {
        const double usual = generic_device(position.device).shape.ideal_gain;
        return *hfe < usual * k_low_gain ? PartState::low_gain : PartState::good;
    }
    const std::string_view drop = row.text("part_v_ce_diode_V");
    if (position.kind == ElementKind::diode) {
        for (const char* column : {"part_v_be_V", "part_v_bc_V", "part_v_ce_diode_V"}) {
            if (row.text(column) == "OL")
                return PartState::open;
            if (const auto volts = row.number(column))
                return *volts < 0.1 ? PartState::shorted : PartState::good;
        }
    }
    if (drop == "OL")
        return PartState::open;
    return std::nullopt;
}

namespace {

std::optional<PartState> resistor_state(const AnswerRow& row, const Amplifier& amplifier,
                                        const SuspectPosition& position) {
    const auto ohm = row.number("part_ohm");
    if (!ohm)
        return std::nullopt;
    const ElementPart& part = amplifier.circuit.element(position.element).part;
    if (std::holds_alternative<Capacitor>(part))
        return *ohm < 10 ? PartState::shorted : PartState::good;
    const auto* r = std::get_if<Resistor>(&part);
    if (r == nullptr)
        return *ohm < 10 ? PartState::shorted : PartState::good;
    const bool trim = says(position.role, "trim pot");
    if (trim)
        return PartState::changed; // a pot's value in between says nothing by itself
    return std::abs(*ohm / r->ohm - 1) > k_changed ? PartState::changed : PartState::good;
}

} // namespace

std::vector<std::string> places_of(const Amplifier& amplifier, const AnswerRow& row) {
    std::vector<std::string> places;
    const std::string_view part = row.text("part");
    if (row.text("fault_class") == "bias_diode_count" ||
        row.text("fault_class") == fault_key(FaultKind::one_too_many)) {
        for (const SuspectPosition& position : amplifier.positions)
            if (position.kind == ElementKind::diode && says(position.role, "bias"))
                places.push_back(position.name);
    }
    if (places.empty() && amplifier.find(part) != nullptr)
        places.push_back(amplifier.find(part)->name);
    return places;
}

Evidence recorded_answer(const Hunt& hunt, const AnswerRow& row, const Proposal& proposal) {
    Evidence evidence{"", proposal.key, std::nullopt, std::nullopt, false};
    if (proposal.probe >= 0) {
        const ProbeSpec& probe = all_probes()[static_cast<std::size_t>(proposal.probe)];
        if (const auto value = row.number(probe.column))
            evidence.value =
                probe.setup == Setup::held ? std::abs(*value) * probe.scale : *value * probe.scale;
        return evidence;
    }
    const Amplifier& amplifier = hunt.amplifier();
    const SuspectPosition& position =
        amplifier.positions[static_cast<std::size_t>(proposal.position)];
    if (row.text("fault_class") == "healthy") {
        evidence.part = PartState::good;
        return evidence;
    }
    const std::string_view truth = row.text("part");
    if (truth.empty())
        return evidence;
    const auto places = places_of(amplifier, row);
    if (std::find(places.begin(), places.end(), position.name) == places.end()) {
        evidence.part = PartState::good;
        return evidence;
    }
    evidence.part = part_state_of(row, position);
    if (!evidence.part)
        evidence.part = resistor_state(row, amplifier, position);
    return evidence;
}

bool shows_anywhere(const AnswerRow& row, const AnswerRow* healthy) {
    if (row.text("fault_class") == "healthy")
        return false;
    if (!row.text("symptom").empty() && row.text("symptom") != "none")
        return true;
    if (healthy == nullptr)
        return false;
    constexpr double k_far = 2;
    for (const ProbeSpec& probe : all_probes()) {
        const auto here = row.number(probe.column);
        const auto there = healthy->number(probe.column);
        if (here && there &&
            std::abs(compared(probe, *here * probe.scale) - compared(probe, *there * probe.scale)) >
                k_far * probe.relative)
            return true;
    }
    return false;
}

std::vector<int> fixed_order(const Amplifier& amplifier) {
    const auto group = [](const SuspectPosition& position) {
        const std::string& role = position.role;
        if (says(role, "fuse"))
            return 0;
        if (says(role, "output") || role == "emitter resistor")
            return 1;
        if (says(role, "driver"))
            return 2;
        if (says(role, "limiter"))
            return 3;
        if (says(role, "spreader") || says(role, "bias") || says(role, "trim"))
            return 4;
        if (says(role, "voltage amplifier") || says(role, "load source") ||
            says(role, "bootstrap") || says(role, "reference") || says(role, "compensation"))
            return 5;
        if (says(role, "input") || says(role, "tail") || says(role, "feedback"))
            return 6;
        return 7;
    };
    std::vector<int> order;
    order.reserve(amplifier.positions.size());
    for (std::size_t i = 0; i < amplifier.positions.size(); ++i)
        order.push_back(static_cast<int>(i));
    std::stable_sort(order.begin(), order.end(), [&](int a, int b) {
        const SuspectPosition& left = amplifier.positions[static_cast<std::size_t>(a)];
        const SuspectPosition& right = amplifier.positions[static_cast<std::size_t>(b)];
        if (group(left) != group(right))
            return group(left) < group(right);
        // Transistors before what stands round them.
        return left.kind < right.kind;
    });
    return order;
}

Played play(const Hunt& hunt, const AnswerRow& row, const AnswerRow* healthy, int most_tests) {
    Played played;
    const Amplifier& amplifier = hunt.amplifier();
    played.id = std::string(row.text("id"));
    played.truth = std::string(row.text("part"));
    played.places = places_of(amplifier, row);
    played.shows = shows_anywhere(row, healthy);
    const auto is_it = [&](const std::string& name) {
        return std::find(played.places.begin(), played.places.end(), name) != played.places.end();
    };
    played.evidence = complaints_of(row);
    for (int turn = 0; turn < most_tests; ++turn) {
        auto proposal = hunt.next_test(played.evidence);
        if (!proposal)
            break;
        Evidence said = recorded_answer(hunt, row, *proposal);
        played.minutes += proposal->minutes;
        if (proposal->position >= 0 && !played.isolated &&
            is_it(amplifier.positions[static_cast<std::size_t>(proposal->position)].name)) {
            played.isolated = true;
            played.isolated_minutes = played.minutes;
            played.isolated_tests = turn + 1;
        }
        played.evidence.push_back(said);
        played.steps.push_back({std::move(*proposal), std::move(said), played.minutes});
    }
    played.ranking = hunt.rank(played.evidence);
    int place = 0;
    for (const Suspect& suspect : played.ranking) {
        ++place;
        if (suspect.position >= 0 && is_it(suspect.name)) {
            played.truth_rank = place;
            break;
        }
    }
    played.fixed_minutes = hunt.options().minutes.into[static_cast<std::size_t>(Setup::off)];
    for (const int at : fixed_order(amplifier)) {
        const SuspectPosition& position = amplifier.positions[static_cast<std::size_t>(at)];
        played.fixed_minutes += pull_minutes(hunt.options().minutes, position);
        ++played.fixed_tests;
        if (is_it(position.name))
            break;
    }
    return played;
}

} // namespace railside
