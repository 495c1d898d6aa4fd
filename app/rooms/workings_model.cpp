#include "app/rooms/workings_model.h"

#include "app/rooms/typed_text.h"
#include "core/device/parts.h"
#include "core/quantity/value_code.h"
#include "core/words/words.h"
#include "core/working/json.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace railside {

namespace {

Channel other(Channel channel) {
    return channel == Channel::left    ? Channel::right
           : channel == Channel::right ? Channel::left
                                       : Channel::none;
}

const ReadingRecord* last_reading(const Job& job, const Field& field, Channel channel) {
    const ReadingRecord* found = nullptr;
    for (const ReadingRecord& reading : job.readings)
        if (reading.source.standing == Standing::valid && reading.field == field.key &&
            reading.channel == channel)
            found = &reading;
    return found;
}

/// The latest one of that channel, or of none in particular.
const RecordingRecord* last_recording(const Job& job, Channel channel) {
    const RecordingRecord* found = nullptr;
    for (const RecordingRecord& recording : job.recordings)
        if (recording.source.standing == Standing::valid &&
            (recording.channel == channel || recording.channel == Channel::none))
            found = &recording;
    return found;
}

std::string title(const Working& working, Channel channel) {
    if (channel == Channel::none)
        return std::string(working.name);
    return worded("{} · {}", working.name, channel_label(channel));
}

/// As typed where that says it whole, else printed.
std::string shown_value(const Field& field, const Input& input) {
    if (is_open(field, input.amount))
        return "OL";
    const auto parsed = parse_value(input.text, field.unit, field.label);
    if (parsed && parsed->value == input.amount.value)
        return typed_text(input.text, field.unit);
    return print_short(input.amount.value, field.unit, 4);
}

/// The interval's half width in the same prefix as the value beside it: "±0.78 mV".
std::string half_text(double half, double value, Unit unit) {
    const Prefix* fitting = nullptr;
    for (const Prefix& prefix : unit_info(unit).prefixes)
        if (fitting == nullptr || std::fabs(value) >= std::pow(10.0, prefix.exponent) * 0.9999)
            fitting = &prefix;
    // Ohms from 0.1 up are written without a prefix.
    if (unit == Unit::ohm && std::fabs(value) >= 0.1 && std::fabs(value) < 1000)
        return fmt::format("±{:.2g}\u2009Ω", half);
    return fmt::format("±{:.2g}\u2009{}{}", half / std::pow(10.0, fitting->exponent),
                       fitting->letter, unit_info(unit).symbol);
}

std::string shown_spread(const Field& field, const Amount& amount) {
    if (field.spread == Spread::exact || amount.high == amount.low)
        return {};
    const double half = std::fmax(amount.high - amount.value, amount.value - amount.low);
    if (field.spread == Spread::tolerance && amount.value != 0)
        return "±" + print_short(half / std::fabs(amount.value), Unit::percent, 2);
    return half_text(half, amount.value, field.unit);
}

std::string origin_text(Origin from, const std::string& note) {
    switch (from) {
    case Origin::typed:
        return "keyed";
    case Origin::measured:
        return note.empty() ? "reading" : worded("read {}", note);
    case Origin::job:
        return note.empty() ? "from the sheet" : note;
    case Origin::by_default:
        return "usual value";
    case Origin::table:
        return "from the table";
    }
    return {};
}

void fill_answer(WorkingsShown& shown, const AppState& state, const Outcome& outcome) {
    shown.answered = true;
    if (!outcome.figures.empty()) {
        const Figure& head = outcome.figures.front();
        shown.headline = figure_text(head.amount);
        shown.headline_label = head.label;
        shown.headline_symbol = head.symbol;
    }
    shown.headline_note = outcome.headline_note;
    shown.state = outcome.verdict.state;
    shown.word = outcome.verdict.word;
    shown.reason = outcome.verdict.reason;
    shown.cautions = outcome.cautions;
    for (const std::string& caution : outcome.cautions)
        shown.caution.append(shown.caution.empty() ? "" : "\n").append(words(caution));
    shown.notes = outcome.notes;
    for (std::size_t i = 1; i < outcome.figures.size(); ++i) {
        const Figure& figure = outcome.figures[i];
        const Amount& a = figure.amount;
        shown.figures.push_back(
            {figure.key, figure.label, figure.symbol, figure_text(a),
             a.low == a.high ? std::string() : print_range(a.low, a.high, a.unit, 3)});
    }
    for (const OutcomeTable& table : outcome.tables) {
        WorkingsShown::Table shown_table{table.key, table.title, {}};
        for (const auto& cells : table.rows) {
            WorkingsShown::TableRow row{cells.empty() ? std::string() : cells.front(), {}};
            for (std::size_t i = 1; i < cells.size(); ++i)
                if (!cells[i].empty())
                    row.lines += worded("{}{}: {}", row.lines.empty() ? "" : "\n", table.columns[i],
                                        cells[i]);
            shown_table.rows.push_back(std::move(row));
        }
        shown.tables.push_back(std::move(shown_table));
    }
    shown.plots = make_plots(outcome, state.plots);
}

} // namespace

std::string known_key(const Working& working, const Field& field, Channel channel) {
    return fmt::format("{}.{}.{}", working.key,
                       channel == Channel::none ? "unit" : channel_key(channel), field.key);
}

namespace {

/// Of an instrument: which type has the figure for a field of a working, and the figure.
struct Settles {
    std::string_view working, field;
    InstrumentType type;
    double (*figure)(const Instrument&);
};
constexpr Settles k_settles[] = {
    {"gain", "test_current", InstrumentType::gain_tester,
     [](const Instrument& one) { return one.test_a; }},
    {"leak", "test_current", InstrumentType::meter,
     [](const Instrument& one) { return one.test_a; }},
    {"leak", "open_limit", InstrumentType::meter, [](const Instrument& one) { return one.open_v; }},
    {"leak", "battery", InstrumentType::ohmmeter,
     [](const Instrument& one) { return one.battery_v; }},
    {"leak", "mid_scale", InstrumentType::ohmmeter,
     [](const Instrument& one) {
         return one.ranges.empty() ? 0.0 : one.ranges.front().mid_scale_ohm;
     }},
};

/// As it would be typed: 0.001 A is "1m".
std::string typed_figure(double value) {
    return value < 0.1 ? fmt::format("{:g}m", value * 1000) : fmt::format("{:g}", value);
}

/// The entry that said last what is known under that name.
std::string known_from(const Job& job, std::string_view name) {
    for (auto it = job.entries.rbegin(); it != job.entries.rend(); ++it) {
        if (it->kind != EntryKind::job ||
            std::binary_search(job.struck.begin(), job.struck.end(), it->id))
            continue;
        const auto known = it->body.find("known");
        if (known != it->body.end() && known->is_object() && known->contains(std::string(name)))
            return it->id;
    }
    return {};
}

std::optional<FieldStand> settled_by_instrument(const OwnInstruments& own, const Working& working,
                                                const Field& field) {
    if (own.book == nullptr)
        return std::nullopt;
    for (const Settles& settles : k_settles) {
        if (settles.working != working.key || settles.field != field.key)
            continue;
        const Instrument* found = nullptr;
        for (const Instrument& one : own.book->instruments)
            if (one.source.standing == Standing::valid && one.type == settles.type &&
                settles.figure(one) > 0 && (found == nullptr || one.source.entry == own.chosen))
                found = &one;
        if (found != nullptr)
            return FieldStand{typed_figure(settles.figure(*found)), Origin::job, found->name, {}};
    }
    return std::nullopt;
}

} // namespace

std::optional<FieldStand> field_stand(const Job& job, const Working& working, const Field& field,
                                      Channel channel, const Clock& clock,
                                      const OwnInstruments& own) {
    if (field.spread == Spread::meter)
        if (const ReadingRecord* reading = last_reading(job, field, channel))
            return FieldStand{reading->text, Origin::measured,
                              time_text(reading->source.time_ms, clock), reading->source.entry,
                              reading->amount};
    if (field.kind == FieldKind::recording) {
        const RecordingRecord* recording = last_recording(job, channel);
        if (recording == nullptr)
            return std::nullopt;
        return FieldStand{recording->name, Origin::measured,
                          time_text(recording->source.time_ms, clock), recording->source.entry};
    }
    if (auto set = job.known(known_key(working, field, channel)))
        return FieldStand{
            *set, Origin::typed, {}, known_from(job, known_key(working, field, channel))};
    if (auto known = job.known(field.key))
        return FieldStand{*known, Origin::job, {}, known_from(job, field.key)};
    if (const KeptWorking* kept = job.last_kept(working.key, channel);
        kept != nullptr && kept->record.contains("inputs")) {
        // What the last kept one stood on.
        const nlohmann::json& inputs = kept->record["inputs"];
        if (const auto it = inputs.find(std::string(field.key)); it != inputs.end()) {
            const bool word = field.kind != FieldKind::amount;
            const auto text = it->find(word ? "word" : "text");
            const bool usual = it->value("from", "") == origin_key(Origin::by_default);
            if (!usual && text != it->end() && text->is_string() &&
                !text->get<std::string>().empty())
                return FieldStand{text->get<std::string>(), Origin::job,
                                  worded("kept {}", time_text(kept->source.time_ms, clock)),
                                  kept->source.entry};
        }
    }
    if (auto settled = settled_by_instrument(own, working, field))
        return settled;
    if (!field.by_default.empty())
        return FieldStand{std::string(field.by_default), Origin::by_default, {}, {}};
    return std::nullopt;
}

GatheredInputs gather_inputs(const Job& job, const Working& working, Channel channel,
                             const Clock& clock, const KeypadState* typing,
                             const RecordingSource& recordings, const OwnInstruments& own) {
    GatheredInputs gathered;
    for (const Field& field : working.fields) {
        auto stand = field_stand(job, working, field, channel, clock, own);
        // What is being keyed is tried out as soon as it is a value that would be accepted.
        if (typing != nullptr && typing->target == fmt::format("field/{}", field.key) &&
            read_input(field, typing->text))
            stand = FieldStand{typing->text, Origin::typed, {}, {}};
        if (!stand || stand->text.empty())
            continue;
        auto input = read_input(field, stand->text);
        if (!input) {
            gathered.refused.emplace_back(std::string(field.key), input.error());
            continue;
        }
        input->from = stand->from;
        // A reading keeps the interval of the instrument it was taken with.
        if (stand->amount && stand->amount->unit == field.unit && !is_open(field, input->amount))
            input->amount = *stand->amount;
        if (stand->from == Origin::measured && !stand->entry.empty())
            gathered.readings.push_back(stand->entry);
        if (field.kind == FieldKind::recording && recordings)
            if (const RecordingRecord* recording = last_recording(job, channel))
                input->data = recordings(recording->hash);
        gathered.inputs.emplace(std::string(field.key), std::move(*input));
    }
    // What belongs to another choice waits until that choice comes back.
    for (const Field& field : working.fields)
        if (!applies(field, gathered.inputs)) {
            if (const auto stand = field_stand(job, working, field, channel, clock, own))
                std::erase(gathered.readings, stand->entry);
            gathered.inputs.erase(std::string(field.key));
            std::erase_if(gathered.refused,
                          [&field](const auto& refused) { return refused.first == field.key; });
        }
    return gathered;
}

WorkingsShown make_workings(const AppState& state, const Job& job, const Clock& clock,
                            const RecordingSource& recordings, const BenchBook* book) {
    WorkingsShown shown;
    for (const Working& offer : catalogue()) {
        WorkingsShown::Offer row{
            std::string(offer.key), std::string(offer.name), std::string(offer.question), {}};
        const KeptWorking* latest = nullptr;
        for (const KeptWorking& kept : job.kept)
            if (kept.source.standing == Standing::valid && kept.working == offer.key)
                latest = &kept;
        if (latest) {
            const KeptLine line = make_kept_line(*latest, clock);
            row.last = worded("{} {} · {}", line.time, line.figures, words(line.word));
        }
        shown.offers.push_back(std::move(row));
    }
    const Working* working = find_working(state.working);
    if (working == nullptr) {
        shown.missing = "Choose a working.";
        return shown;
    }
    shown.key = working->key;
    shown.name = working->name;
    shown.question = working->question;
    const OwnInstruments own{book, state.reading.instrument};
    const GatheredInputs gathered =
        gather_inputs(job, *working, state.channel, clock, state.keypad ? &*state.keypad : nullptr,
                      recordings, own);
    for (const Field& field : working->fields) {
        if (!applies(field, gathered.inputs))
            continue;
        FieldRow row;
        row.key = field.key;
        row.label = field.label;
        row.symbol = field.symbol;
        row.required = field.need == Need::required;
        row.is_choice = field.kind == FieldKind::choice;
        for (const Choice& choice : field.choices)
            row.words.emplace_back(choice.key, choice.label);
        if (const auto it = gathered.inputs.find(field.key); it != gathered.inputs.end()) {
            const Input& input = it->second;
            if (field.kind == FieldKind::amount) {
                row.value = shown_value(field, input);
                row.spread = shown_spread(field, input.amount);
            } else {
                row.word = input.word;
                row.value = field.kind == FieldKind::device && looks_like_card(input.word)
                                ? "SPICE card"
                                : input.word;
            }
            const auto stand = field_stand(job, *working, field, state.channel, clock, own);
            row.origin = origin_text(input.from, stand ? stand->note : std::string());
            if (stand && !stand->entry.empty())
                shown.sources.push_back({row.key, row.label, row.value, row.origin, stand->entry});
        }
        for (const auto& [key, error] : gathered.refused)
            if (key == field.key)
                row.refusal = error.message;
        if (row.required && row.value.empty() && row.refusal.empty() && shown.missing.empty())
            shown.missing = worded("Key in: {}.", field.label);
        if (!row.refusal.empty() && shown.missing.empty())
            shown.missing = row.refusal;
        shown.rows.push_back(std::move(row));
    }
    if (shown.missing.empty()) {
        if (const auto outcome = run_working(*working, gathered.inputs))
            fill_answer(shown, state, *outcome);
        else
            shown.missing = outcome.error().message;
    }
    // What says which readings there are leads, then what was read, the first part it was read
    // across, what has no usual value, and the target: few enough for the answer to stay in view. A
    // refused field always leads.
    const auto decides = [working](std::string_view key) {
        return std::any_of(working->fields.begin(), working->fields.end(),
                           [key](const Field& field) {
                               return field.when.field == key && field.spread == Spread::meter;
                           });
    };
    bool part = false;
    for (FieldRow& row : shown.rows) {
        const Field& field = *find_field(*working, row.key);
        const bool from_sheet = row.origin == origin_text(Origin::job, {});
        bool leads = decides(field.key) || field.spread == Spread::meter || field.key == "target" ||
                     (field.need == Need::required && field.by_default.empty() && !from_sheet);
        if (!leads && !part && field.spread == Spread::tolerance && field.need == Need::required)
            leads = part = true;
        row.leads = leads || !row.refusal.empty();
    }
    std::stable_sort(shown.rows.begin(), shown.rows.end(),
                     [&](const FieldRow& a, const FieldRow& b) {
                         const auto rank = [&](const FieldRow& row) {
                             const Field* field = find_field(*working, row.key);
                             return !row.leads                                ? 3
                                    : decides(row.key)                        ? 0
                                    : field && field->spread == Spread::meter ? 1
                                                                              : 2;
                         };
                         return rank(a) < rank(b);
                     });
    shown.keep_label = state.channel == Channel::none
                           ? "Keep with this job"
                           : worded("Keep with {} channel", channel_label(state.channel));
    if (const KeptWorking* last = job.last_kept(working->key, state.channel);
        last && last->record.contains("inputs"))
        shown.kept_already = last->record["inputs"] ==
                             inputs_to_json(*working, with_defaults(*working, gathered.inputs));
    return shown;
}

namespace {

/// What a value that stood there is called when another is compared with it.
std::string stand_name(const FieldStand& stand) {
    if (stand.from == Origin::measured)
        return "the last reading,";
    return stand.from == Origin::typed ? "the earlier" : "the job's";
}

/// What this field was keyed to earlier in this job, or kept with, latest first.
std::vector<std::string> keyed_before(const Job& job, const Working& working, const Field& field,
                                      Channel channel) {
    std::vector<std::string> texts;
    const std::string key = known_key(working, field, channel);
    for (auto it = job.entries.rbegin(); it != job.entries.rend(); ++it) {
        if (it->kind != EntryKind::job || !it->body.contains("known") ||
            std::binary_search(job.struck.begin(), job.struck.end(), it->id))
            continue;
        const nlohmann::json& known = it->body["known"];
        if (const auto found = known.find(key); found != known.end() && found->is_string())
            texts.push_back(found->get<std::string>());
    }
    for (auto it = job.kept.rbegin(); it != job.kept.rend(); ++it) {
        if (it->working != working.key || it->channel != channel ||
            it->source.standing != Standing::valid || !it->record.contains("inputs"))
            continue;
        const nlohmann::json& inputs = it->record["inputs"];
        const auto found = inputs.find(std::string(field.key));
        if (found != inputs.end() && found->contains("text") && (*found)["text"].is_string())
            texts.push_back((*found)["text"].get<std::string>());
    }
    return texts;
}

} // namespace

KeypadState make_field_keypad(const AppState& state, const Job& job, const Working& working,
                              const Field& field, const Clock& clock, const BenchBook* book) {
    KeypadState keypad;
    keypad.target = fmt::format("field/{}", field.key);
    keypad.title = title(working, state.channel);
    keypad.field = field;
    const auto stand =
        field_stand(job, working, field, state.channel, clock, {book, state.reading.instrument});
    if (stand) {
        keypad.text = stand->text;
        keypad.before = stand->text;
    }
    const Channel beside = other(state.channel);
    if (beside != Channel::none) {
        const auto across = field_stand(job, working, field, beside, clock);
        if (across && across->from != Origin::by_default && across->from != Origin::job) {
            if (const auto value = parse_value(across->text, field.unit, field.label)) {
                const std::string printed =
                    print_value(value->value, field.unit, std::max(1, value->digits));
                keypad.quick.push_back(
                    {worded("{} {}", channel_label(beside), printed), across->text});
                if (!(field.takes_open && across->text == "OL")) {
                    keypad.compare = value->value;
                    keypad.compare_name =
                        worded("the {} channel's {}", channel_label(beside), printed);
                }
            }
        }
    }
    // Where the other channel says nothing, what stood here tells slips from values.
    if (keypad.compare == 0 && stand && stand->from != Origin::by_default)
        if (const auto value = parse_value(stand->text, field.unit, field.label)) {
            const std::string printed =
                print_value(value->value, field.unit, std::max(1, value->digits));
            keypad.compare = value->value;
            keypad.compare_name = worded("{} {}", stand_name(*stand), printed);
        }
    // Earlier values of this field and channel, latest first.
    int more = 0;
    for (auto it = job.readings.rbegin(); it != job.readings.rend() && more < 2; ++it) {
        if (it->source.standing != Standing::valid || it->field != field.key ||
            it->channel != state.channel || it->text == keypad.text)
            continue;
        if (const auto value = parse_value(it->text, field.unit, field.label)) {
            keypad.quick.push_back({worded("last {}", print_value(value->value, field.unit,
                                                                  std::max(1, value->digits))),
                                    it->text});
            ++more;
        }
    }
    for (const std::string& text : keyed_before(job, working, field, state.channel)) {
        const bool known = text == keypad.text ||
                           std::any_of(keypad.quick.begin(), keypad.quick.end(),
                                       [&text](const QuickValue& one) { return one.text == text; });
        if (const auto value = parse_value(text, field.unit, field.label);
            value && !known && keypad.quick.size() < 5)
            keypad.quick.push_back({worded("earlier {}", print_value(value->value, field.unit,
                                                                     std::max(1, value->digits))),
                                    text});
    }
    // The lamps on the shelf are one tap each.
    if (book != nullptr && working.key == "lamp" && field.key == "lamp_power")
        for (const Instrument& lamp : book->instruments)
            if (lamp.source.standing == Standing::valid && lamp.type == InstrumentType::lamp &&
                keypad.quick.size() < 6)
                keypad.quick.push_back({lamp.name, typed_figure(lamp.power_w)});
    // In reach of one tap, for it is the commonest reading there is.
    if (field.takes_open)
        keypad.quick.insert(keypad.quick.begin(), {"OL, open", "OL"});
    if (!field.by_default.empty() && keypad.quick.size() < 3 && keypad.text != field.by_default)
        if (const auto value = parse_value(field.by_default, field.unit, field.label))
            keypad.quick.push_back({worded("usual {}", print_value(value->value, field.unit,
                                                                   std::max(1, value->digits))),
                                    std::string(field.by_default)});
    return keypad;
}

} // namespace railside
