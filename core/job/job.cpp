#include "core/job/job.h"

#include "core/job/json_text.h"
#include "core/quantity/value_code.h"
#include "core/words/words.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <map>
#include <set>
#include <utility>

namespace railside {

using Json = nlohmann::json;

namespace {

struct StageName {
    PhotoStage stage;
    std::string_view key;
    std::string_view label;
};
constexpr StageName k_stages[] = {
    {PhotoStage::as_received, "as_received", "as received"},
    {PhotoStage::earlier_work, "earlier_work", "earlier work"},
    {PhotoStage::taken_off, "taken_off", "taken off"},
    {PhotoStage::fitted, "fitted", "fitted"},
    {PhotoStage::finished, "finished", "finished"},
};

constexpr std::pair<StepKind, std::string_view> k_step_kinds[] = {
    {StepKind::tick, "tick"},
    {StepKind::choice, "choice"},
    {StepKind::reading, "reading"},
    {StepKind::photo, "photo"},
};

constexpr std::pair<MarkShape, std::string_view> k_mark_shapes[] = {
    {MarkShape::ring, "ring"},
    {MarkShape::arrow, "arrow"},
    {MarkShape::line, "line"},
    {MarkShape::note, "note"},
};

constexpr std::pair<WantingRank, std::string_view> k_wanting_ranks[] = {
    {WantingRank::safety, "safety"},
    {WantingRank::reliability, "reliability"},
    {WantingRank::sound, "sound"},
};

constexpr std::pair<WantingState, std::string_view> k_wanting_states[] = {
    {WantingState::open, "open"},
    {WantingState::done, "done"},
    {WantingState::declined, "declined"},
};

constexpr std::pair<const char*, std::string ClosingRecord::*> k_closing_texts[] = {
    {"words", &ClosingRecord::words},     {"unit", &ClosingRecord::unit},
    {"symptom", &ClosingRecord::symptom}, {"cause", &ClosingRecord::cause},
    {"cure", &ClosingRecord::cure},
};

constexpr std::pair<JobState, std::string_view> k_job_states[] = {
    {JobState::waiting, "waiting"},
    {JobState::on_the_bench, "on the bench"},
    {JobState::waiting_for_parts, "waiting for parts"},
    {JobState::waiting_for_client, "waiting for the client"},
    {JobState::ready, "ready"},
    {JobState::handed_back, "handed back"},
    {JobState::returned_unrepaired, "returned unrepaired"},
};
constexpr JobState k_states_in_order[] = {
    JobState::waiting,
    JobState::on_the_bench,
    JobState::waiting_for_parts,
    JobState::waiting_for_client,
    JobState::ready,
    JobState::handed_back,
    JobState::returned_unrepaired,
};

constexpr std::pair<StepState, std::string_view> k_step_states[] = {
    {StepState::open, "open"},
    {StepState::done, "done"},
    {StepState::skipped, "skipped"},
};

constexpr std::pair<const char*, std::string Sheet::*> k_sheet_texts[] = {
    {"maker", &Sheet::maker},         {"model", &Sheet::model},
    {"serial", &Sheet::serial},       {"complaint", &Sheet::complaint},
    {"state", &Sheet::state},         {"currency", &Sheet::currency},
    {"year", &Sheet::year},           {"accessories", &Sheet::accessories},
    {"condition", &Sheet::condition},
};
constexpr std::pair<const char*, double Sheet::*> k_sheet_numbers[] = {
    {"agreed_limit", &Sheet::agreed_limit},
    {"spent", &Sheet::spent},
    {"hourly_rate", &Sheet::hourly_rate},
};
constexpr std::pair<const char*, std::string PositionRecord::*> k_position_texts[] = {
    {"role", &PositionRecord::role},
    {"printed_type", &PositionRecord::printed_type},
    {"fitted_type", &PositionRecord::fitted_type},
    {"fitted_by", &PositionRecord::fitted_by},
    {"state", &PositionRecord::state},
    {"note", &PositionRecord::note},
};

// What check_entry has passed has the right types; absent members read as empty.
Channel channel_of(const Json& body) {
    return channel_from_key(text_member(body, "channel")).value_or(Channel::none);
}

Half half_of(const Json& body) {
    return half_from_key(text_member(body, "half")).value_or(Half::none);
}

Conditions when_of(const Json& body) {
    Conditions when;
    const auto it = body.find("when");
    if (it == body.end())
        return when;
    when.power = power_from_key(text_member(*it, "power")).value_or(Power::unsaid);
    when.lamp = text_member(*it, "lamp");
    when.warmth = warmth_from_key(text_member(*it, "warmth")).value_or(Warmth::unsaid);
    if (const auto minutes = it->find("minutes"); minutes != it->end())
        when.minutes = minutes->get<double>();
    return when;
}

void put(Json& body, const char* name, const std::string& text) {
    if (!text.empty())
        body[name] = text;
}
void put(Json& body, Channel channel) {
    if (channel != Channel::none)
        body["channel"] = channel_key(channel);
}

void put(Json& body, const Conditions& when) {
    Json inside = Json::object();
    put(inside, "power", std::string(power_key(when.power)));
    put(inside, "lamp", when.lamp);
    put(inside, "warmth", std::string(warmth_key(when.warmth)));
    if (when.minutes)
        inside["minutes"] = *when.minutes;
    if (!inside.empty())
        body["when"] = std::move(inside);
}

template <class Enum, std::size_t N>
Enum from_table(const std::pair<Enum, std::string_view> (&table)[N], const std::string& key) {
    for (const auto& known : table)
        if (known.second == key)
            return known.first;
    return table[0].first;
}
template <class Enum, std::size_t N>
std::string_view to_table(const std::pair<Enum, std::string_view> (&table)[N], Enum value) {
    for (const auto& known : table)
        if (known.first == value)
            return known.second;
    return table[0].second;
}

Json step_body(const ListStep& step) {
    Json body = {
        {"key", step.key}, {"text", step.text}, {"kind", to_table(k_step_kinds, step.kind)}};
    put(body, "hint", step.hint);
    put(body, "caution", step.caution);
    if (step.kind == StepKind::choice) {
        body["choices"] = Json::array();
        for (const StepChoice& choice : step.choices) {
            Json one = {{"word", choice.word}};
            if (choice.stops)
                one["stops"] = true;
            body["choices"].push_back(std::move(one));
        }
    }
    if (step.kind == StepKind::reading) {
        body["unit"] = unit_info(step.unit).key;
        body["low"] = step.low;
        body["high"] = step.high;
        put(body, "low_text", step.low_text);
        put(body, "high_text", step.high_text);
    }
    if (step.bars)
        body["bars"] = true;
    return body;
}

ListStep step_of(const Json& body) {
    ListStep step;
    step.key = text_member(body, "key");
    step.text = text_member(body, "text");
    step.hint = text_member(body, "hint");
    step.caution = text_member(body, "caution");
    step.kind = from_table(k_step_kinds, text_member(body, "kind"));
    step.bars = body.value("bars", false);
    if (step.kind == StepKind::choice)
        for (const Json& choice : body["choices"])
            step.choices.push_back({text_member(choice, "word"), choice.value("stops", false)});
    if (step.kind == StepKind::reading) {
        step.unit = unit_from_key(text_member(body, "unit")).value_or(Unit::ratio);
        step.low = body["low"].get<double>();
        step.high = body["high"].get<double>();
        step.low_text = text_member(body, "low_text");
        step.high_text = text_member(body, "high_text");
    }
    return step;
}

/// An answer that the step does not take leaves it open, with the reason.
void answer_step(StepRecord& record, const Entry& tick) {
    record.state = from_table(k_step_states, text_member(tick.body, "state"));
    record.answer = text_member(tick.body, "answer");
    record.time_ms = tick.time_ms;
    record.tick = tick.id;
    record.why_open.clear();
    record.refused_tick.clear();
    if (record.state != StepState::done)
        return;
    const ListStep& step = record.step;
    if (step.kind == StepKind::choice) {
        const auto choice =
            std::find_if(step.choices.begin(), step.choices.end(),
                         [&](const StepChoice& one) { return one.word == record.answer; });
        if (choice == step.choices.end())
            record.why_open = worded("\"{}\" is not one of this step's choices.", record.answer);
        else if (choice->stops)
            record.why_open =
                worded("\"{}\" means stop: the steps after this one wait.", record.answer);
    }
    if (step.kind == StepKind::reading) {
        const Result<ParsedValue> read = parse_value(record.answer, step.unit, step.text);
        if (!read.ok())
            record.why_open = read.error().message;
        else if (!(read->value >= step.low && read->value <= step.high))
            record.why_open =
                worded("{} lies outside {} to {}.", print_short(read->value, step.unit, 15),
                       print_short(step.low, step.unit), print_short(step.high, step.unit));
    }
    if (!record.why_open.empty())
        record.state = StepState::open;
}

bool bars_others(const StepRecord& record) {
    if (record.state != StepState::open)
        return false;
    if (record.step.bars)
        return true;
    return std::any_of(
        record.step.choices.begin(), record.step.choices.end(),
        [&](const StepChoice& choice) { return choice.stops && choice.word == record.answer; });
}

/// The ids struck now. A strike sorts after what it strikes, so going from the last strike to the
/// first, each strike's own standing is known when its turn comes, and the first word heard about
/// an entry is the last one spoken.
std::set<std::string, std::less<>> struck_ids(const std::vector<const Entry*>& valid_entries) {
    std::map<std::string, bool, std::less<>> struck;
    for (auto it = valid_entries.rbegin(); it != valid_entries.rend(); ++it) {
        const Entry& strike = **it;
        if (strike.kind != EntryKind::strike)
            continue;
        if (const auto own = struck.find(strike.id); own != struck.end() && own->second)
            continue;
        const std::string target = text_member(strike.body, "entry");
        if (target < strike.id)
            struck.emplace(target, text_member(strike.body, "standing") == "struck");
    }
    std::set<std::string, std::less<>> ids;
    for (const Entry* entry : valid_entries)
        if (const auto it = struck.find(entry->id); it != struck.end() && it->second)
            ids.insert(entry->id);
    return ids;
}

class Folding {
  public:
    Folding(Job& job, std::set<std::string, std::less<>> struck)
        : job_(job), struck_(std::move(struck)) {}

    void fold(const std::vector<const Entry*>& entries) {
        for (const Entry* entry : entries)
            if (entry->kind != EntryKind::tick)
                take(*entry);
        // After all lists are there: a tick binds by id, wherever it sorts.
        for (const Entry* entry : entries)
            if (entry->kind == EntryKind::tick && !is_struck(*entry))
                tick(*entry);
        for (ListRecord& list : job_.lists)
            bar(list);
        bind_positions(job_.readings);
        bind_positions(job_.photos);
        bind_positions(job_.marks);
        bind_positions(job_.recordings);
        bind_positions(job_.costs);
        bind_positions(job_.taken_off);
        bind_positions(job_.wanting);
        for (PositionRecord& position : job_.positions)
            position.sister = same_position(position.sister);
        for (MarkRecord& mark : job_.marks)
            mark.photo = same_photo(mark.photo);
        for (PairRecord& pair : job_.pairs) {
            pair.before = same_photo(pair.before);
            pair.after = same_photo(pair.after);
        }
        for (TakenOffRecord& item : job_.taken_off)
            item.photo = same_photo(item.photo);
        if (job_.closing.photos)
            for (std::string& photo : *job_.closing.photos)
                photo = same_photo(photo);
        std::sort(job_.sheet.known.begin(), job_.sheet.known.end());
        job_.struck.assign(struck_.begin(), struck_.end());
    }

  private:
    [[nodiscard]] bool is_struck(const Entry& entry) const { return struck_.contains(entry.id); }

    [[nodiscard]] Source source(const Entry& entry) const {
        return {entry.id, entry.time_ms, is_struck(entry) ? Standing::struck : Standing::valid};
    }

    void take(const Entry& entry) {
        const Json& body = entry.body;
        switch (entry.kind) {
        case EntryKind::job:
            // The first entry is the job itself: struck, it takes the job off the shelf but leaves
            // its sheet readable.
            if (entry.id == job_.id && is_struck(entry))
                job_.standing = Standing::struck;
            if (entry.id == job_.id || !is_struck(entry))
                sheet(body);
            break;
        case EntryKind::position:
            position(entry);
            break;
        case EntryKind::reading: {
            const Json& amount = body["amount"];
            ReadingRecord record;
            record.source = source(entry);
            record.what = text_member(body, "what");
            record.channel = channel_of(body);
            record.position = text_member(body, "position");
            record.field = text_member(body, "field");
            record.amount = {amount["value"].get<double>(), amount["low"].get<double>(),
                             amount["high"].get<double>(),
                             unit_from_key(text_member(amount, "unit")).value_or(Unit::ratio)};
            record.text = text_member(body, "text");
            record.conditions = text_member(body, "conditions");
            record.instrument = text_member(body, "instrument");
            record.kind = reading_kind_from_key(text_member(body, "kind"));
            record.when = when_of(body);
            record.instrument_id = text_member(body, "instrument_id");
            job_.readings.push_back(std::move(record));
            break;
        }
        case EntryKind::working:
            job_.kept.push_back({source(entry), text_member(body, "working"), channel_of(body),
                                 body["record"], text_member(body, "replaces"),
                                 body.value("uses", std::vector<std::string>())});
            break;
        case EntryKind::photo: {
            PhotoRecord record;
            record.source = source(entry);
            record.hash = text_member(body, "hash");
            record.type = text_member(body, "type");
            record.width = body["width"].get<int>();
            record.height = body["height"].get<int>();
            record.bytes = body["bytes"].get<std::int64_t>();
            record.stage =
                photo_stage_from_key(text_member(body, "stage")).value_or(PhotoStage::as_received);
            record.caption = text_member(body, "caption");
            record.position = text_member(body, "position");
            record.channel = channel_of(body);
            job_.photos.push_back(std::move(record));
            break;
        }
        case EntryKind::note:
            job_.notes.push_back({source(entry), text_member(body, "text")});
            break;
        case EntryKind::list: {
            ListRecord record;
            record.source = source(entry);
            record.key = text_member(body, "key");
            record.name = text_member(body, "name");
            record.intro = text_member(body, "intro");
            for (const Json& step : body["steps"]) {
                StepRecord one;
                one.step = step_of(step);
                record.steps.push_back(std::move(one));
            }
            job_.lists.push_back(std::move(record));
            break;
        }
        case EntryKind::mark: {
            MarkRecord record;
            record.source = source(entry);
            record.photo = text_member(body, "photo");
            record.shape = from_table(k_mark_shapes, text_member(body, "shape"));
            for (const Json& point : body["points"])
                record.points.push_back({point[0].get<double>(), point[1].get<double>()});
            record.text = text_member(body, "text");
            record.position = text_member(body, "position");
            job_.marks.push_back(std::move(record));
            break;
        }
        case EntryKind::pair:
            job_.pairs.push_back({source(entry), text_member(body, "before"),
                                  text_member(body, "after"), text_member(body, "text")});
            break;
        case EntryKind::recording: {
            RecordingRecord record;
            record.source = source(entry);
            record.hash = text_member(body, "hash");
            record.name = text_member(body, "name");
            record.bytes = body["bytes"].get<std::int64_t>();
            record.channel = channel_of(body);
            record.what = text_member(body, "what");
            record.when = when_of(body);
            record.conditions = text_member(body, "conditions");
            record.position = text_member(body, "position");
            record.instrument_id = text_member(body, "instrument_id");
            job_.recordings.push_back(std::move(record));
            break;
        }
        case EntryKind::cost: {
            CostRecord record;
            record.source = source(entry);
            record.type = text_member(body, "type") == "work" ? CostType::work : CostType::part;
            record.what = text_member(body, "what");
            record.position = text_member(body, "position");
            if (record.type == CostType::part) {
                record.count = body["count"].get<int>();
                record.each = body["each"].get<double>();
            } else {
                record.minutes = body["minutes"].get<double>();
                if (const auto rate = body.find("rate"); rate != body.end())
                    record.rate = rate->get<double>();
            }
            job_.costs.push_back(std::move(record));
            break;
        }
        case EntryKind::taken_off: {
            TakenOffRecord record;
            record.source = source(entry);
            record.what = text_member(body, "what");
            record.where = text_member(body, "where");
            record.count = body.value("count", 1);
            record.photo = text_member(body, "photo");
            record.channel = channel_of(body);
            record.position = text_member(body, "position");
            record.note = text_member(body, "note");
            job_.taken_off.push_back(std::move(record));
            break;
        }
        case EntryKind::put_back:
            job_.put_back.push_back({source(entry), text_member(body, "item"),
                                     body.value("count", 1), text_member(body, "note")});
            break;
        case EntryKind::wanting:
            wanting(entry);
            break;
        case EntryKind::circuit: {
            CircuitRecord record{source(entry), text_member(body, "name"),
                                 text_member(body, "netlist"), text_member(body, "positions")};
            if (const auto names = body.find("names"); names != body.end())
                for (const auto& [element, name] : names->items())
                    record.names.emplace_back(element, name.get<std::string>());
            job_.circuits.push_back(std::move(record));
            break;
        }
        case EntryKind::finding:
            job_.findings.push_back(
                {source(entry), text_member(body, "about"), text_member(body, "answer"),
                 channel_of(body), half_from_key(text_member(body, "half")).value_or(Half::none)});
            break;
        case EntryKind::closing:
            if (!is_struck(entry))
                closing(entry);
            break;
        case EntryKind::tick:
        case EntryKind::strike:
        case EntryKind::instrument:
        case EntryKind::drawer:
        case EntryKind::minutes:
        case EntryKind::list_text:
        case EntryKind::unknown:
            break;
        }
    }

    void wanting(const Entry& entry) {
        const Json& body = entry.body;
        WantingRecord record;
        record.source = source(entry);
        record.title = text_member(body, "title");
        record.why = text_member(body, "why");
        record.rank = from_table(k_wanting_ranks, text_member(body, "rank"));
        record.parts = body.value("parts", 0.0);
        record.minutes = body.value("minutes", 0.0);
        record.state = from_table(k_wanting_states, text_member(body, "state"));
        record.position = text_member(body, "position");
        record.described = entry.id;
        const std::string of = text_member(body, "of");
        if (of.empty()) {
            job_.wanting.push_back(std::move(record));
            return;
        }
        const auto first =
            std::find_if(job_.wanting.begin(), job_.wanting.end(),
                         [&](const WantingRecord& one) { return one.source.entry == of; });
        if (first == job_.wanting.end() || is_struck(entry))
            return; // of nothing here, or a withdrawn change
        record.source = first->source;
        *first = std::move(record);
    }

    void closing(const Entry& entry) {
        const Json& body = entry.body;
        ClosingRecord& all = job_.closing;
        all.entries.push_back(entry.id);
        for (const auto& member : k_closing_texts)
            if (body.contains(member.first))
                all.*member.second = text_member(body, member.first);
        if (const auto photos = body.find("photos"); photos != body.end())
            all.photos = photos->get<std::vector<std::string>>();
        const auto overrides = body.find("overrides");
        if (overrides == body.end())
            return;
        for (auto it = overrides->begin(); it != overrides->end(); ++it) {
            std::erase_if(all.overrides, [&](const auto& one) { return one.first == it.key(); });
            if (!it->get_ref<const std::string&>().empty())
                all.overrides.emplace_back(it.key(), it->get<std::string>());
        }
    }

    template <class Records> void bind_positions(Records& records) {
        for (auto& record : records)
            record.position = same_position(record.position);
    }

    /// A photo's entry is struck and written anew to change its caption or stage: what pointed at
    /// the old entry means the picture, so it follows to the latest valid entry of the same bytes.
    [[nodiscard]] std::string same_photo(const std::string& id) const {
        const auto here =
            std::find_if(job_.photos.begin(), job_.photos.end(),
                         [&](const PhotoRecord& one) { return one.source.entry == id; });
        if (here == job_.photos.end() || here->source.standing == Standing::valid)
            return id;
        for (auto it = job_.photos.rbegin(); it != job_.photos.rend(); ++it)
            if (it->hash == here->hash && it->source.standing == Standing::valid)
                return it->source.entry;
        return id;
    }

    void sheet(const Json& body) {
        for (const auto& member : k_sheet_texts)
            if (body.contains(member.first))
                job_.sheet.*member.second = text_member(body, member.first);
        for (const auto& member : k_sheet_numbers)
            if (body.contains(member.first))
                job_.sheet.*member.second = body[member.first].get<double>();
        const auto known = body.find("known");
        if (known == body.end())
            return;
        for (auto it = known->begin(); it != known->end(); ++it) {
            auto& all = job_.sheet.known;
            const auto here = std::find_if(
                all.begin(), all.end(), [&](const auto& pair) { return pair.first == it.key(); });
            const std::string text = it->get<std::string>();
            if (here == all.end() && !text.empty())
                all.emplace_back(it.key(), text);
            else if (here != all.end() && text.empty())
                all.erase(here);
            else if (here != all.end())
                here->second = text;
        }
    }

    void position(const Entry& entry) {
        const std::string designator = text_member(entry.body, "designator");
        const Channel channel = channel_of(entry.body);
        const auto here = std::find_if(
            job_.positions.begin(), job_.positions.end(), [&](const PositionRecord& one) {
                return one.source.standing == Standing::valid && one.designator == designator &&
                       one.channel == channel;
            });
        PositionRecord* record = here == job_.positions.end() ? nullptr : &*here;
        if (record != nullptr && is_struck(entry))
            return; // a withdrawn change; the history has it
        if (record == nullptr) {
            record = &job_.positions.emplace_back();
            record->source = source(entry);
            record->designator = designator;
            record->channel = channel;
        }
        first_of_position_[entry.id] = record->source.entry;
        for (const auto& member : k_position_texts)
            if (entry.body.contains(member.first))
                record->*member.second = text_member(entry.body, member.first);
        if (entry.body.contains("half"))
            record->half = half_of(entry.body);
        if (entry.body.contains("sister"))
            record->sister = text_member(entry.body, "sister");
    }

    [[nodiscard]] std::string same_position(const std::string& id) const {
        const auto it = first_of_position_.find(id);
        return it == first_of_position_.end() ? id : it->second;
    }

    void tick(const Entry& entry) {
        const std::string list_id = text_member(entry.body, "list");
        const std::string key = text_member(entry.body, "step");
        for (ListRecord& list : job_.lists) {
            if (list.source.entry != list_id)
                continue;
            const StepRecord* barring = nullptr;
            for (StepRecord& step : list.steps) {
                if (step.step.key == key) {
                    if (barring != nullptr && text_member(entry.body, "state") == "done")
                        refuse_tick(step, entry, *barring);
                    else
                        answer_step(step, entry);
                } else if (barring == nullptr && bars_others(step)) {
                    barring = &step;
                }
            }
        }
    }

    /// A tick made while an earlier step barred it does not count, now or later: what the barring
    /// step guards was not yet seen to.
    static void refuse_tick(StepRecord& step, const Entry& entry, const StepRecord& barring) {
        step.refused_tick = entry.id;
        if (step.state == StepState::open)
            step.why_open = worded("It was ticked while \"{}\" was still open, which bars it: "
                                   "that tick does not count.",
                                   barring.step.text);
    }

    static void bar(ListRecord& list) {
        const StepRecord* barring = nullptr;
        for (StepRecord& step : list.steps) {
            if (barring != nullptr)
                step.barred_by = barring->step.text;
            else if (bars_others(step))
                barring = &step;
        }
    }

    Job& job_;
    std::set<std::string, std::less<>> struck_;
    std::map<std::string, std::string, std::less<>> first_of_position_;
};

} // namespace

std::string_view channel_key(Channel channel) {
    return channel == Channel::left ? "left" : channel == Channel::right ? "right" : "";
}
std::string_view channel_label(Channel channel) { return channel_key(channel); }
std::optional<Channel> channel_from_key(std::string_view key) {
    for (const Channel channel : {Channel::none, Channel::left, Channel::right})
        if (channel_key(channel) == key)
            return channel;
    return std::nullopt;
}

std::string_view half_key(Half half) {
    return half == Half::plus ? "plus" : half == Half::minus ? "minus" : "";
}
std::string_view half_label(Half half) {
    return half == Half::plus ? "+" : half == Half::minus ? "\u2212" : "";
}
std::optional<Half> half_from_key(std::string_view key) {
    for (const Half half : {Half::none, Half::plus, Half::minus})
        if (half_key(half) == key)
            return half;
    return std::nullopt;
}

std::string_view job_state_word(JobState state) {
    for (const auto& known : k_job_states)
        if (known.first == state)
            return known.second;
    return {};
}
std::span<const JobState> all_job_states() { return k_states_in_order; }
JobState job_state_from_word(std::string_view word) {
    if (word.empty())
        return JobState::waiting;
    for (const auto& known : k_job_states)
        if (known.second == word)
            return known.first;
    return JobState::other;
}
bool is_closed(JobState state) {
    return state == JobState::handed_back || state == JobState::returned_unrepaired;
}

std::span<const std::string_view> finding_answers() {
    static constexpr std::array<std::string_view, 10> k_answers{
        "yes", "no", "good", "bad", "shorted", "leaky", "open", "low_gain", "changed", "unknown"};
    return k_answers;
}

std::string_view wanting_rank_key(WantingRank rank) { return to_table(k_wanting_ranks, rank); }
std::optional<WantingRank> wanting_rank_from_key(std::string_view key) {
    for (const auto& known : k_wanting_ranks)
        if (known.second == key)
            return known.first;
    return std::nullopt;
}

std::string_view wanting_state_key(WantingState state) { return to_table(k_wanting_states, state); }
std::optional<WantingState> wanting_state_from_key(std::string_view key) {
    for (const auto& known : k_wanting_states)
        if (known.second == key)
            return known.first;
    return std::nullopt;
}

std::string_view mark_shape_key(MarkShape shape) { return to_table(k_mark_shapes, shape); }
std::optional<MarkShape> mark_shape_from_key(std::string_view key) {
    for (const auto& known : k_mark_shapes)
        if (known.second == key)
            return known.first;
    return std::nullopt;
}

std::string_view photo_stage_key(PhotoStage stage) {
    for (const StageName& name : k_stages)
        if (name.stage == stage)
            return name.key;
    return {};
}
std::string_view photo_stage_label(PhotoStage stage) {
    for (const StageName& name : k_stages)
        if (name.stage == stage)
            return name.label;
    return {};
}
std::optional<PhotoStage> photo_stage_from_key(std::string_view key) {
    for (const StageName& name : k_stages)
        if (name.key == key)
            return name.stage;
    return std::nullopt;
}

int ListRecord::done() const {
    return static_cast<int>(std::count_if(steps.begin(), steps.end(), [](const StepRecord& step) {
        return step.state != StepState::open;
    }));
}

const CircuitRecord* Job::circuit() const {
    for (auto it = circuits.rbegin(); it != circuits.rend(); ++it)
        if (it->source.standing == Standing::valid)
            return &*it;
    return nullptr;
}

const KeptWorking* Job::last_kept() const {
    for (auto it = kept.rbegin(); it != kept.rend(); ++it)
        if (it->source.standing == Standing::valid)
            return &*it;
    return nullptr;
}

const KeptWorking* Job::last_kept(std::string_view working, Channel channel) const {
    for (auto it = kept.rbegin(); it != kept.rend(); ++it)
        if (it->source.standing == Standing::valid && it->working == working &&
            it->channel == channel)
            return &*it;
    return nullptr;
}

std::optional<std::string> Job::known(std::string_view field) const {
    for (const auto& pair : sheet.known)
        if (pair.first == field)
            return pair.second;
    return std::nullopt;
}

Result<Job> fold_job(std::string_view job, std::span<const Entry> entries) {
    std::vector<const Entry*> mine;
    for (const Entry& entry : entries)
        if (entry.job == job)
            mine.push_back(&entry);
    // Two entries of one id are one entry; should they differ, the choice must not hang on the
    // order they came in.
    std::sort(mine.begin(), mine.end(), [](const Entry* a, const Entry* b) {
        if (a->id != b->id)
            return a->id < b->id;
        const auto text = [](const Entry* entry) {
            return entry->body.dump(-1, ' ', false, Json::error_handler_t::replace);
        };
        return a != b && std::make_tuple(written_kind(*a), text(a), a->time_ms, a->bench) <
                             std::make_tuple(written_kind(*b), text(b), b->time_ms, b->bench);
    });
    mine.erase(std::unique(mine.begin(), mine.end(),
                           [](const Entry* a, const Entry* b) { return a->id == b->id; }),
               mine.end());

    std::vector<const Entry*> valid;
    bool begun = false;
    for (const Entry* entry : mine) {
        if (!check_entry(*entry).ok())
            continue;
        valid.push_back(entry);
        begun = begun || entry->kind == EntryKind::job;
    }
    if (!begun)
        return Error{ErrorCode::not_found, "job", worded("There is no job {} here.", job)};

    Job folded;
    folded.id = job;
    folded.begun_ms = mine.front()->time_ms;
    folded.touched_ms = mine.back()->time_ms;
    Folding(folded, struck_ids(valid)).fold(valid);
    folded.entries.reserve(mine.size());
    for (const Entry* entry : mine)
        folded.entries.push_back(*entry);
    return folded;
}

std::vector<std::string> struck_entries(std::span<const Entry> sorted) {
    std::vector<const Entry*> sound;
    for (const Entry& entry : sorted)
        if (check_entry(entry).ok())
            sound.push_back(&entry);
    const auto struck = struck_ids(sound);
    return {struck.begin(), struck.end()};
}

Json sheet_change(const Sheet& before, const Sheet& after) {
    Json body = Json::object();
    for (const auto& member : k_sheet_texts)
        if (before.*member.second != after.*member.second)
            body[member.first] = after.*member.second;
    for (const auto& member : k_sheet_numbers)
        if (before.*member.second != after.*member.second)
            body[member.first] = after.*member.second;
    std::map<std::string, std::string> was(before.known.begin(), before.known.end());
    for (const auto& pair : after.known) {
        const auto it = was.find(pair.first);
        if (it == was.end() || it->second != pair.second)
            body["known"][pair.first] = pair.second;
        if (it != was.end())
            was.erase(it);
    }
    for (const auto& gone : was)
        body["known"][gone.first] = "";
    return body;
}

Json sheet_body(const Sheet& sheet) { return sheet_change({}, sheet); }

Json position_change(const PositionRecord& before, const PositionRecord& after) {
    Json body = {{"designator", before.designator}};
    put(body, before.channel);
    for (const auto& member : k_position_texts)
        if (before.*member.second != after.*member.second)
            body[member.first] = after.*member.second;
    if (before.half != after.half)
        body["half"] = half_key(after.half);
    if (before.sister != after.sister)
        body["sister"] = after.sister;
    return body;
}

Json position_body(const PositionRecord& position) {
    PositionRecord empty;
    empty.designator = position.designator;
    empty.channel = position.channel;
    return position_change(empty, position);
}

Json reading_body(const ReadingRecord& reading) {
    Json body = {{"what", reading.what},
                 {"amount",
                  {{"value", reading.amount.value},
                   {"low", reading.amount.low},
                   {"high", reading.amount.high},
                   {"unit", unit_info(reading.amount.unit).key}}}};
    put(body, reading.channel);
    put(body, "position", reading.position);
    put(body, "field", reading.field);
    put(body, "text", reading.text);
    put(body, "conditions", reading.conditions);
    put(body, "instrument", reading.instrument);
    if (reading.kind != ReadingKind::other)
        body["kind"] = reading_kind_info(reading.kind).key;
    put(body, reading.when);
    put(body, "instrument_id", reading.instrument_id);
    return body;
}

Json mark_body(const MarkRecord& mark) {
    Json body = {
        {"photo", mark.photo}, {"shape", mark_shape_key(mark.shape)}, {"points", Json::array()}};
    for (const MarkPoint& point : mark.points)
        body["points"].push_back(Json::array({point.x, point.y}));
    put(body, "text", mark.text);
    put(body, "position", mark.position);
    return body;
}

Json pair_body(const PairRecord& pair) {
    Json body = {{"before", pair.before}, {"after", pair.after}};
    put(body, "text", pair.text);
    return body;
}

Json recording_body(const RecordingRecord& recording) {
    Json body = {{"hash", recording.hash}, {"name", recording.name}, {"bytes", recording.bytes}};
    put(body, recording.channel);
    put(body, "what", recording.what);
    put(body, recording.when);
    put(body, "conditions", recording.conditions);
    put(body, "position", recording.position);
    put(body, "instrument_id", recording.instrument_id);
    return body;
}

Json cost_body(const CostRecord& cost) {
    Json body = {{"what", cost.what}};
    if (cost.type == CostType::part) {
        body["type"] = "part";
        body["count"] = cost.count;
        body["each"] = cost.each;
    } else {
        body["type"] = "work";
        body["minutes"] = cost.minutes;
        if (cost.rate)
            body["rate"] = *cost.rate;
    }
    put(body, "position", cost.position);
    return body;
}

Json taken_off_body(const TakenOffRecord& item) {
    Json body = {{"what", item.what}, {"count", item.count}};
    put(body, "where", item.where);
    put(body, "photo", item.photo);
    put(body, item.channel);
    put(body, "position", item.position);
    put(body, "note", item.note);
    return body;
}

Json put_back_body(const PutBackRecord& back) {
    Json body = {{"item", back.item}, {"count", back.count}};
    put(body, "note", back.note);
    return body;
}

Json wanting_body(const WantingRecord& wanting) {
    Json body = {{"title", wanting.title}, {"rank", wanting_rank_key(wanting.rank)}};
    put(body, "why", wanting.why);
    if (wanting.parts != 0)
        body["parts"] = wanting.parts;
    if (wanting.minutes != 0)
        body["minutes"] = wanting.minutes;
    if (wanting.state != WantingState::open)
        body["state"] = wanting_state_key(wanting.state);
    put(body, "position", wanting.position);
    return body;
}

Json wanting_change(std::string_view id, const WantingRecord& wanting) {
    Json body = wanting_body(wanting);
    body["of"] = id;
    return body;
}

Json circuit_body(const CircuitRecord& circuit) {
    Json body = {
        {"name", circuit.name}, {"netlist", circuit.netlist}, {"positions", circuit.positions}};
    for (const auto& [element, name] : circuit.names)
        body["names"][element] = name;
    return body;
}

Json finding_body(const FindingRecord& finding) {
    Json body = {{"about", finding.about}, {"answer", finding.answer}};
    put(body, "channel", std::string(channel_key(finding.channel)));
    put(body, "half", std::string(half_key(finding.half)));
    return body;
}

Json closing_change(const ClosingRecord& before, const ClosingRecord& after) {
    Json body = Json::object();
    for (const auto& member : k_closing_texts)
        if (before.*member.second != after.*member.second)
            body[member.first] = after.*member.second;
    if (after.photos && before.photos != after.photos)
        body["photos"] = *after.photos;
    std::map<std::string, std::string> was(before.overrides.begin(), before.overrides.end());
    for (const auto& one : after.overrides) {
        const auto it = was.find(one.first);
        if (it == was.end() || it->second != one.second)
            body["overrides"][one.first] = one.second;
        if (it != was.end())
            was.erase(it);
    }
    for (const auto& gone : was)
        body["overrides"][gone.first] = "";
    return body;
}

Json photo_body(const PhotoRecord& photo) {
    Json body = {{"hash", photo.hash},   {"type", photo.type},
                 {"width", photo.width}, {"height", photo.height},
                 {"bytes", photo.bytes}, {"stage", photo_stage_key(photo.stage)}};
    put(body, "caption", photo.caption);
    put(body, "position", photo.position);
    put(body, photo.channel);
    return body;
}

Json kept_body(const KeptWorking& kept) {
    Json body = {{"working", kept.working}, {"record", kept.record}};
    if (body["record"].is_object())
        body["record"].erase("curves");
    put(body, kept.channel);
    put(body, "replaces", kept.replaces);
    if (!kept.uses.empty())
        body["uses"] = kept.uses;
    return body;
}

Json list_body(const StepList& list) {
    Json body = {{"key", list.key}, {"name", list.name}, {"steps", Json::array()}};
    put(body, "intro", list.intro);
    for (const ListStep& step : list.steps)
        body["steps"].push_back(step_body(step));
    return body;
}

Json tick_body(std::string_view list_entry, std::string_view step, StepState state,
               std::string_view answer) {
    Json body = {{"list", list_entry}, {"step", step}, {"state", to_table(k_step_states, state)}};
    put(body, "answer", std::string(answer));
    return body;
}

Json strike_body(std::string_view entry, Standing standing) {
    return {{"entry", entry}, {"standing", standing == Standing::struck ? "struck" : "valid"}};
}

} // namespace railside
