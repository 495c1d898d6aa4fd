#include "app/rooms/reading_model.h"

#include "app/rooms/typed_text.h"
#include "core/job/sisters.h"
#include "core/quantity/value_code.h"
#include "core/words/words.h"

#include <fmt/format.h>

#include <algorithm>

namespace railside {

namespace {

const PositionRecord* position_of(const Job& job, std::string_view entry) {
    for (const PositionRecord& position : job.positions)
        if (position.source.entry == entry)
            return &position;
    return nullptr;
}

std::string capital(std::string_view word) {
    std::string text(word);
    if (!text.empty() && text.front() >= 'a' && text.front() <= 'z')
        text.front() = static_cast<char>(text.front() - 'a' + 'A');
    return text;
}

std::string shown_value(const ReadingRecord& reading) {
    if (reading.text == "OL")
        return "OL";
    return reading.text.empty() ? print_short(reading.amount.value, reading.amount.unit, 4)
                                : typed_text(reading.text, reading.amount.unit);
}

/// The latest valid reading of that kind and those words at a position.
const ReadingRecord* last_at(const Job& job, std::string_view position, ReadingKind kind,
                             std::string_view what) {
    const ReadingRecord* found = nullptr;
    for (const ReadingRecord& reading : job.readings)
        if (reading.source.standing == Standing::valid && reading.position == position &&
            reading.kind == kind && (what.empty() || reading.what == what))
            found = &reading;
    return found;
}

std::string reading_words(const ReadingDraft& draft) {
    const std::string kind = capital(reading_kind_info(draft.kind).label);
    return draft.what.empty() ? kind : worded("{}, {}", kind, draft.what);
}

} // namespace

std::vector<ReadingKind> offered_reading_kinds() {
    std::vector<ReadingKind> kinds;
    for (const ReadingKindInfo& info : all_reading_kinds())
        if (info.unit)
            kinds.push_back(info.kind);
    return kinds;
}

Field reading_field(ReadingKind kind) {
    const ReadingKindInfo& info = reading_kind_info(kind);
    Field field;
    field.label = info.label;
    field.unit = info.unit.value_or(Unit::volt);
    field.spread = Spread::meter;
    const auto range = [&field](double low, double high, double usual_low, double usual_high) {
        field.low = low;
        field.high = high;
        field.usual_low = usual_low;
        field.usual_high = usual_high;
    };
    switch (kind) {
    case ReadingKind::volts:
        range(-1000, 1000, -150, 260);
        break;
    case ReadingKind::millivolts:
        range(-10, 10, -0.5, 0.5);
        break;
    case ReadingKind::ohms:
        range(0, 1e9, 0, 1e7);
        field.takes_open = true;
        break;
    case ReadingKind::diode_test:
        range(0, 10, 0.1, 3);
        field.takes_open = true;
        break;
    case ReadingKind::gain:
        range(0, 1e5, 10, 1000);
        break;
    case ReadingKind::leakage:
        range(0, 1, 0, 0.01);
        break;
    case ReadingKind::temperature:
        range(-40, 400, 5, 150);
        break;
    case ReadingKind::peak_volts:
        range(-1000, 1000, -150, 150);
        break;
    case ReadingKind::current:
        range(-100, 100, -15, 15);
        break;
    case ReadingKind::other:
        range(-1e9, 1e9, -1e6, 1e6);
        break;
    }
    return field;
}

bool serves(const Instrument& instrument, ReadingKind kind) {
    switch (instrument.type) {
    case InstrumentType::meter:
        return kind != ReadingKind::gain || instrument.accuracy_for(kind).has_value();
    case InstrumentType::ohmmeter:
        return kind == ReadingKind::ohms || kind == ReadingKind::leakage;
    case InstrumentType::gain_tester:
        return kind == ReadingKind::gain || kind == ReadingKind::leakage;
    case InstrumentType::lamp:
        return false;
    case InstrumentType::other:
        return true;
    }
    return false;
}

const Instrument* instrument_for(const ReadingDraft& draft, const BenchBook& book) {
    if (const Instrument* named = book.instrument(draft.instrument);
        named != nullptr && named->source.standing == Standing::valid && serves(*named, draft.kind))
        return named;
    const Instrument* found = nullptr;
    for (const Instrument& instrument : book.instruments) {
        if (instrument.source.standing != Standing::valid || !serves(instrument, draft.kind))
            continue;
        // A gain tester before a meter's hFE socket; else in the bench's own order.
        if (found == nullptr ||
            (draft.kind == ReadingKind::gain && instrument.type == InstrumentType::gain_tester &&
             found->type != InstrumentType::gain_tester))
            found = &instrument;
    }
    return found;
}

std::optional<MeterAccuracy> accuracy_of(const ReadingDraft& draft, const BenchBook& book) {
    const Instrument* instrument = instrument_for(draft, book);
    return instrument ? instrument->accuracy_for(draft.kind) : std::nullopt;
}

std::string reading_way(const ReadingDraft& draft, const BenchBook& book) {
    const Instrument* instrument = instrument_for(draft, book);
    std::string way = instrument ? instrument->name : "no instrument named";
    if (const std::string when = print_conditions(draft.when); !when.empty())
        way += ", " + when;
    return way;
}

Page make_reading_page(const AppState& state, const Job& job, const BenchBook& book) {
    const ReadingDraft& draft = state.reading;
    Page page;
    page.name = "reading";
    page.back = intent::LeaveReading{};
    const PositionRecord* position = position_of(job, draft.position);
    page.title = !state.reading_to_key ? "How it is read"
                 : position            ? worded("Reading at {}", position->designator)
                                       : "Reading";
    std::vector<std::pair<std::string, std::string>> words;
    // Short, so that all of them are seen at once: "millivolts", not "... across a resistor".
    for (const ReadingKind kind : offered_reading_kinds()) {
        const std::string_view label = reading_kind_info(kind).label;
        words.emplace_back(reading_kind_info(kind).key, label.substr(0, label.find(" across")));
    }
    if (state.reading_to_key) {
        page.rows.push_back(
            words_to_choose("kind", "draft/kind", reading_kind_info(draft.kind).key, words));
        if (position == nullptr) {
            page.rows.push_back(
                words_to_choose("channel", "draft/channel", channel_key(state.channel),
                                {{"left", "left"}, {"right", "right"}, {"", "neither"}}));
        }
        page.rows.push_back(text_row("what", "Which pins or points", draft.what, "draft/what"));
    }
    page.rows.push_back(heading_row("The unit is"));
    page.rows.push_back(words_to_choose(
        "power", "draft/power", power_key(draft.when.power),
        {{"", "not said"}, {"off", "off"}, {"lamp", "on the lamp"}, {"mains", "on full mains"}}));
    if (draft.when.power == Power::off)
        page.rows.push_back(
            caution_row("Off means plug out and every reservoir below 5 V, measured."));
    page.rows.push_back(words_to_choose("warmth", "draft/warmth", warmth_key(draft.when.warmth),
                                        {{"", "not said"}, {"cold", "cold"}, {"warm", "warm"}}));
    page.rows.push_back(
        value_row("minutes", "Minutes since power-up",
                  draft.when.minutes ? fmt::format("{:g}", *draft.when.minutes) : std::string(),
                  "draft/minutes"));
    page.rows.push_back(heading_row("Read with"));
    PickList pick{"draft/instrument", "Read with", {}, {}};
    const Instrument* now = instrument_for(draft, book);
    for (const Instrument& instrument : book.instruments)
        if (instrument.source.standing == Standing::valid && serves(instrument, draft.kind))
            pick.words.emplace_back(instrument.source.entry, instrument.name);
    if (now != nullptr)
        pick.word = now->source.entry;
    const bool none = pick.words.empty();
    page.rows.push_back(word_row("instrument", "Instrument", std::move(pick)));
    if (none) {
        page.rows.back().value = "none";
        page.rows.back().does.reset();
        page.rows.push_back(words_row("No instrument of this bench reads that. Describe one on the "
                                      "shelf, under Bench.",
                                      Tone::edge));
    } else if (const auto accuracy = accuracy_of(draft, book)) {
        page.rows.back().more = print_accuracy(*accuracy);
    } else {
        page.rows.push_back(
            words_row("It states no accuracy for this; ±0.5 % + 3 counts is taken."));
    }
    page.rows.push_back(
        text_row("conditions", "Anything else", draft.conditions, "draft/conditions"));
    if (state.reading_to_key)
        page.foot.push_back(
            {"key", "Key in the value", intent::KeyIn{"reading"}, ButtonKind::primary});
    else
        page.foot.push_back({"done", "That is how", intent::LeaveReading{}, ButtonKind::primary});
    return page;
}

KeypadState make_reading_keypad(const AppState& state, const Job& job, const BenchBook& book) {
    const ReadingDraft& draft = state.reading;
    KeypadState keypad;
    keypad.target = "reading";
    const PositionRecord* position = position_of(job, draft.position);
    const Channel channel = position ? position->channel : state.channel;
    keypad.title = position ? position->designator : "Reading";
    if (channel != Channel::none)
        keypad.title += worded(" · {}", channel_label(channel));
    keypad.title += " · " + reading_way(draft, book);
    keypad.field = reading_field(draft.kind);
    keypad.own_label = std::make_shared<const std::string>(reading_words(draft));
    keypad.field.label = *keypad.own_label;
    if (keypad.field.takes_open)
        keypad.quick.push_back({"OL, open", "OL"});
    if (position == nullptr)
        return keypad;
    const std::string what = reading_words(draft);
    const Sister sister = sister_of(job, *position);
    if (sister.position != nullptr)
        if (const ReadingRecord* across =
                last_at(job, sister.position->source.entry, draft.kind, what)) {
            keypad.quick.push_back(
                {fmt::format("{} {}", sister.position->designator, shown_value(*across)),
                 across->text});
            if (across->text != "OL") {
                keypad.compare = across->amount.value;
                keypad.compare_name =
                    fmt::format("{}'s {}", sister.position->designator, shown_value(*across));
            }
        }
    if (const ReadingRecord* before = last_at(job, draft.position, draft.kind, what)) {
        keypad.quick.push_back({worded("last {}", shown_value(*before)), before->text});
        if (keypad.compare == 0 && before->text != "OL") {
            keypad.compare = before->amount.value;
            keypad.compare_name = worded("the last reading, {}", shown_value(*before));
        }
    }
    return keypad;
}

ReadingRecord reading_from(const AppState& state, const Job& job, const BenchBook& book,
                           const Input& input, const std::string& text) {
    const ReadingDraft& draft = state.reading;
    ReadingRecord reading;
    const PositionRecord* position = position_of(job, draft.position);
    reading.what = reading_words(draft);
    reading.channel = position ? position->channel : state.channel;
    reading.position = position ? draft.position : std::string();
    reading.amount = input.amount;
    reading.text = text;
    reading.kind = draft.kind;
    reading.when = draft.when;
    reading.conditions = draft.conditions;
    if (const Instrument* instrument = instrument_for(draft, book)) {
        reading.instrument = instrument->name;
        reading.instrument_id = instrument->source.entry;
    }
    return reading;
}

PageRow reading_line(const Job& job, const ReadingRecord& reading, const Clock& clock) {
    PageRow row;
    row.kind = RowKind::line;
    row.name = "reading/" + reading.source.entry;
    row.label = shown_value(reading);
    const Amount& a = reading.amount;
    row.value = time_text(reading.source.time_ms, clock);
    row.tone = Tone::soft;
    row.more = reading.what;
    const PositionRecord* position = position_of(job, reading.position);
    if (position == nullptr && reading.channel != Channel::none)
        row.more += worded(", {}", channel_label(reading.channel));
    if (a.low != a.high && reading.text != "OL")
        row.more += fmt::format(" · {}", print_range(a.low, a.high, a.unit, 4));
    const std::string when = print_conditions(reading.when);
    for (const std::string& part : {reading.instrument, when, reading.conditions})
        if (!part.empty())
            row.more += " · " + part;
    row.struck = reading.source.standing == Standing::struck;
    return row;
}

} // namespace railside
