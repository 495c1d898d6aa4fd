#include "core/job/book.h"

#include "core/job/json_text.h"
#include "core/job/list.h"

#include <algorithm>
#include <set>
#include <tuple>

namespace railside {

using Json = nlohmann::json;

namespace {

struct TypeName {
    InstrumentType type;
    std::string_view key;
    std::string_view label;
};
constexpr TypeName k_types[] = {
    {InstrumentType::meter, "meter", "meter"},
    {InstrumentType::ohmmeter, "ohmmeter", "series ohmmeter"},
    {InstrumentType::gain_tester, "gain_tester", "gain tester"},
    {InstrumentType::lamp, "lamp", "series lamp"},
    {InstrumentType::other, "other", "other"},
};

constexpr std::pair<const char*, double Instrument::*> k_numbers[] = {
    {"test_a", &Instrument::test_a},       {"open_v", &Instrument::open_v},
    {"battery_v", &Instrument::battery_v}, {"arc_error", &Instrument::arc_error},
    {"power_w", &Instrument::power_w},     {"volts_v", &Instrument::volts_v},
};

/// The body has passed check_entry.
Instrument instrument_of(const Json& body) {
    Instrument made;
    made.type = instrument_type_from_key(text_member(body, "type"));
    made.name = text_member(body, "name");
    made.note = text_member(body, "note");
    for (const auto& number : k_numbers)
        made.*number.second = body.value(number.first, 0.0);
    if (const auto accuracy = body.find("accuracy"); accuracy != body.end())
        for (const ReadingKindInfo& info : all_reading_kinds())
            if (const auto stated = accuracy->find(std::string(info.key));
                stated != accuracy->end())
                made.accuracy.emplace_back(
                    info.kind, parse_accuracy(stated->get<std::string>(), "accuracy").value());
    if (const auto ranges = body.find("ranges"); ranges != body.end())
        for (const Json& range : *ranges)
            made.ranges.push_back({text_member(range, "name"), range["mid_scale_ohm"].get<double>(),
                                   range.value("battery_v", 0.0)});
    return made;
}

std::vector<Entry> make_starting_entries() {
    const Json bodies[] = {
        // A common 6000-count meter of its class; the diode test drives about 1 mA and shows up to
        // 3 V.
        {{"type", "meter"},
         {"name", "Meter"},
         {"accuracy",
          {{"volts", "±0.5 % + 3 counts"},
           {"millivolts", "±0.5 % + 3 counts"},
           {"peak_volts", "±3 %"},
           {"ohms", "±0.8 % + 3 counts"},
           {"diode_test", "±1 % + 3 counts"},
           {"current", "±1 % + 3 counts"},
           {"leakage", "±1 % + 3 counts"},
           {"gain", "±5 %"},
           {"temperature", "±1 % + 2 counts"}}},
         {"test_a", 0.001},
         {"open_v", 3.0},
         {"note", "An ordinary one to begin with: enter the figures of your own."}},
        // A moving coil with 1.5 V for the low ranges and a further 9 V for the highest; 20 Ω in
        // the middle of the lowest scale is the usual one.
        {{"type", "ohmmeter"},
         {"name", "Series ohmmeter"},
         {"battery_v", 3.0},
         {"arc_error", 0.03},
         {"ranges",
          {{{"name", "×1"}, {"mid_scale_ohm", 20.0}},
           {{"name", "×10"}, {"mid_scale_ohm", 200.0}},
           {{"name", "×1k"}, {"mid_scale_ohm", 20e3}},
           {{"name", "×10k"}, {"mid_scale_ohm", 200e3}, {"battery_v", 12.0}}}},
         {"note", "Mid-scale is the figure in the middle of the arc, times the range."}},
        {{"type", "gain_tester"},
         {"name", "Gain tester"},
         {"test_a", 0.001},
         {"note", "The collector current it tests at: see its sheet."}},
        {{"type", "lamp"}, {"name", "Lamp 40 W"}, {"power_w", 40}, {"volts_v", 230}},
        {{"type", "lamp"}, {"name", "Lamp 60 W"}, {"power_w", 60}, {"volts_v", 230}},
        {{"type", "lamp"}, {"name", "Lamp 100 W"}, {"power_w", 100}, {"volts_v", 230}},
    };
    std::vector<Entry> entries;
    std::uint8_t number = 1;
    for (const Json& body : bodies) {
        Entry entry;
        entry.id = make_entry_id(0, {0, 0, 0, 0, 0, 0, 0, 0, 0, number++}, "");
        entry.job = k_bench_book;
        entry.bench = "railside";
        entry.kind = EntryKind::instrument;
        entry.body = body;
        entries.push_back(std::move(entry));
    }
    return entries;
}

} // namespace

std::string_view instrument_type_key(InstrumentType type) {
    for (const TypeName& name : k_types)
        if (name.type == type)
            return name.key;
    return {};
}
std::string_view instrument_type_label(InstrumentType type) {
    for (const TypeName& name : k_types)
        if (name.type == type)
            return name.label;
    return {};
}
InstrumentType instrument_type_from_key(std::string_view key) {
    for (const TypeName& name : k_types)
        if (name.key == key)
            return name.type;
    return InstrumentType::other;
}

std::optional<MeterAccuracy> Instrument::accuracy_for(ReadingKind kind) const {
    const auto stated = [this](ReadingKind wanted) -> std::optional<MeterAccuracy> {
        for (const auto& one : accuracy)
            if (one.first == wanted)
                return one.second;
        return std::nullopt;
    };
    if (std::optional<MeterAccuracy> own = stated(kind))
        return own;
    if (kind == ReadingKind::millivolts || kind == ReadingKind::peak_volts)
        return stated(ReadingKind::volts);
    return std::nullopt;
}

const Instrument* BenchBook::instrument(std::string_view id) const {
    const auto it = std::find_if(instruments.begin(), instruments.end(),
                                 [&](const Instrument& one) { return one.source.entry == id; });
    return it == instruments.end() ? nullptr : &*it;
}
const BookList* BenchBook::list(std::string_view key) const {
    const auto it = std::find_if(lists.begin(), lists.end(),
                                 [&](const BookList& one) { return one.list.key == key; });
    return it == lists.end() ? nullptr : &*it;
}

std::span<const Entry> starting_entries() {
    static const std::vector<Entry> entries = make_starting_entries();
    return entries;
}

BenchBook fold_book(std::span<const Entry> entries) {
    BenchBook book;
    for (const Entry& entry : entries)
        if (entry.job == k_bench_book)
            book.entries.push_back(entry);
    std::sort(book.entries.begin(), book.entries.end(), [](const Entry& a, const Entry& b) {
        const auto told = [](const Entry& entry) {
            return std::make_tuple(written_kind(entry),
                                   entry.body.dump(-1, ' ', false, Json::error_handler_t::replace),
                                   entry.time_ms, entry.bench);
        };
        return a.id != b.id ? a.id < b.id : told(a) < told(b);
    });
    const auto same_id = [](const Entry& a, const Entry& b) { return a.id == b.id; };
    book.entries.erase(std::unique(book.entries.begin(), book.entries.end(), same_id),
                       book.entries.end());

    std::vector<Entry> all(starting_entries().begin(), starting_entries().end());
    all.insert(all.end(), book.entries.begin(), book.entries.end());
    std::stable_sort(all.begin(), all.end(),
                     [](const Entry& a, const Entry& b) { return a.id < b.id; });
    book.struck = struck_entries(all);
    const std::set<std::string, std::less<>> struck(book.struck.begin(), book.struck.end());
    for (const Entry& entry : all) {
        if (!belongs_in_book(entry.kind) || !check_entry(entry).ok())
            continue;
        const bool is_struck = struck.contains(entry.id);
        const Source source{entry.id, entry.time_ms,
                            is_struck ? Standing::struck : Standing::valid};
        switch (entry.kind) {
        case EntryKind::instrument: {
            const std::string of = text_member(entry.body, "of");
            if (of.empty()) {
                book.instruments.push_back(instrument_of(entry.body));
                book.instruments.back().source = source;
                break;
            }
            const auto it =
                std::find_if(book.instruments.begin(), book.instruments.end(),
                             [&](const Instrument& one) { return one.source.entry == of; });
            if (is_struck || it == book.instruments.end())
                break;
            const Source first = it->source;
            *it = instrument_of(entry.body);
            it->source = first;
            break;
        }
        case EntryKind::drawer:
            if (!is_struck)
                book.drawer = text_member(entry.body, "text");
            break;
        case EntryKind::minutes:
            if (!is_struck)
                book.minutes = text_member(entry.body, "text");
            break;
        case EntryKind::list_text: {
            if (is_struck)
                break;
            const std::string key = text_member(entry.body, "key");
            std::erase_if(book.lists, [&](const BookList& one) { return one.list.key == key; });
            const std::string text = text_member(entry.body, "text");
            if (text.empty())
                break;
            BookList list{source, parse_list(text, key).value(), text};
            list.list.key = key;
            book.lists.push_back(std::move(list));
            break;
        }
        default:
            break;
        }
    }
    return book;
}

Json instrument_body(const Instrument& instrument) {
    Json body = {{"type", instrument_type_key(instrument.type)}, {"name", instrument.name}};
    if (!instrument.note.empty())
        body["note"] = instrument.note;
    for (const auto& number : k_numbers)
        if (instrument.*number.second != 0)
            body[number.first] = instrument.*number.second;
    for (const auto& stated : instrument.accuracy)
        body["accuracy"][std::string(reading_kind_info(stated.first).key)] =
            print_accuracy(stated.second);
    for (const OhmRange& range : instrument.ranges) {
        Json one = {{"name", range.name}, {"mid_scale_ohm", range.mid_scale_ohm}};
        if (range.battery_v != 0)
            one["battery_v"] = range.battery_v;
        body["ranges"].push_back(std::move(one));
    }
    return body;
}

Json instrument_change(std::string_view id, const Instrument& instrument) {
    Json body = instrument_body(instrument);
    body["of"] = id;
    return body;
}

Json drawer_body(std::string_view text) { return {{"text", text}}; }

Json minutes_body(std::string_view text) { return {{"text", text}}; }

Json list_text_body(std::string_view key, std::string_view text) {
    return {{"key", key}, {"text", text}};
}

} // namespace railside
