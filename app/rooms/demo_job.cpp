#include "app/rooms/demo_job.h"

#include "app/rooms/builtin_lists.h"
#include "app/rooms/demo_pictures.h"
#include "core/quantity/value_code.h"
#include "core/suspects/usual.h"
#include "core/working/json.h"
#include "core/working/working.h"

#include "assets.h"

#include <fmt/format.h>

#include <array>
#include <map>
#include <optional>
#include <span>
#include <utility>

namespace railside {

using Json = nlohmann::json;

namespace {

constexpr int k_picture_width = 1200;
constexpr MeterAccuracy k_usual_meter = {0.005, 3};
constexpr double k_most_minutes = 100'000;

/// The chance part of an entry's id: fixed, so that the demo is the same job everywhere.
std::array<std::uint8_t, 10> fixed_chance(std::size_t number) {
    return {0x5A,
            0x26,
            0x0D,
            0xE3,
            0x07,
            0x0B,
            0x91,
            0x4C,
            std::uint8_t(number >> 8),
            std::uint8_t(number & 255)};
}

std::string text_of(const Json& object, const char* name) {
    const auto it = object.find(name);
    return it != object.end() && it->is_string() ? it->get<std::string>() : std::string();
}

class Maker {
  public:
    Maker(std::int64_t begun_ms, const KeepPicture& keep, const KeepRecording& keep_recording)
        : begun_ms_(begun_ms), keep_(&keep), keep_recording_(&keep_recording) {}

    Result<std::vector<Entry>> make(const Json& file) {
        bench_ = text_of(file, "bench");
        const auto drafts = file.is_object() ? file.find("entries") : file.end();
        if (drafts == file.end() || !drafts->is_array()) {
            return Error{ErrorCode::damaged, "demo job", "The demo job holds no array of entries."};
        }
        for (const Json& draft : *drafts) {
            if (Result<Done> taken = take(draft); !taken.ok()) {
                return taken.error();
            }
        }
        return std::move(entries_);
    }

  private:
    [[nodiscard]] Error refuse(std::string_view what) const {
        return Error{ErrorCode::damaged, "demo job",
                     fmt::format("Entry {} of the demo job: {}", entries_.size() + 1, what)};
    }

    Result<Done> take(const Json& draft) {
        const std::optional<EntryKind> kind = entry_kind_from_key(text_of(draft, "kind"));
        const auto minutes = draft.is_object() ? draft.find("minutes") : draft.end();
        if (!kind || minutes == draft.end() || !minutes->is_number() ||
            minutes->get<double>() < minutes_ || minutes->get<double>() > k_most_minutes) {
            return refuse("it needs a \"kind\" of the journal and \"minutes\" that do not fall.");
        }
        minutes_ = minutes->get<double>();
        Result<Json> body = body_of(*kind, draft);
        if (!body.ok()) {
            return body.error();
        }
        Entry entry;
        entry.time_ms = begun_ms_ + std::int64_t(minutes_ * 60'000);
        entry.id = make_entry_id(entry.time_ms, fixed_chance(entries_.size()),
                                 entries_.empty() ? "" : entries_.back().id);
        entry.job = entries_.empty() ? entry.id : entries_.front().id;
        entry.bench = bench_;
        entry.kind = *kind;
        entry.body = std::move(body).value();
        if (const Result<Done> sound = check_entry(entry); !sound.ok()) {
            return refuse(sound.error().message);
        }
        const std::string name =
            *kind == EntryKind::list ? text_of(draft, "list") : text_of(draft, "name");
        if (!name.empty()) {
            named_[name] = entry.id;
        }
        entries_.push_back(std::move(entry));
        return Done{};
    }

    Result<Json> body_of(EntryKind kind, const Json& draft) {
        const auto given = draft.find("body");
        Json body = given != draft.end() ? *given : Json::object();
        if (Result<Done> named = name_ids(body); !named.ok()) {
            return named.error();
        }
        switch (kind) {
        case EntryKind::reading:
            return reading(draft, body);
        case EntryKind::photo:
            return photo(draft, body);
        case EntryKind::list: {
            const StepList* list = find_builtin_list(text_of(draft, "list"));
            return list != nullptr ? Result<Json>(list_body(*list))
                                   : refuse("there is no built-in list of that key.");
        }
        case EntryKind::tick: {
            const auto list = named_.find(text_of(draft, "list"));
            if (list == named_.end()) {
                return refuse("its list has not been taken up.");
            }
            const std::string why = text_of(draft, "skipped");
            return tick_body(list->second, text_of(draft, "step"),
                             why.empty() ? StepState::done : StepState::skipped,
                             why.empty() ? text_of(draft, "answer") : why);
        }
        case EntryKind::working:
            return working(draft);
        case EntryKind::wanting: {
            const Result<std::string> at = position(draft);
            if (!at.ok())
                return at.error();
            Json wanting = body;
            if (!at->empty())
                wanting["position"] = *at;
            return wanting;
        }
        case EntryKind::recording:
            return recording(draft, body);
        case EntryKind::circuit:
            return circuit(body);
        default:
            return body;
        }
    }

    /// Puts ids where the body says "@name".
    [[nodiscard]] Result<Done> name_ids(Json& body) const {
        for (Json& value : body) {
            if (!value.is_string() || !value.get_ref<const std::string&>().starts_with('@')) {
                continue;
            }
            const std::string name = value.get_ref<const std::string&>().substr(1);
            const auto it = named_.find(name);
            if (it == named_.end()) {
                return refuse(fmt::format("no entry before it is named \"{}\".", name));
            }
            value = it->second;
        }
        return Done{};
    }

    /// The id of the position the draft names, empty when it names none.
    Result<std::string> position(const Json& draft) const {
        const std::string name = text_of(draft, "position");
        const auto it = named_.find(name);
        if (!name.empty() && it == named_.end()) {
            return refuse(fmt::format("no entry before it is named \"{}\".", name));
        }
        return name.empty() ? std::string() : it->second;
    }

    Result<Json> reading(const Json& draft, const Json& body) {
        ReadingRecord record;
        record.what = text_of(body, "what");
        record.channel = channel_from_key(text_of(body, "channel")).value_or(Channel::none);
        record.field = text_of(body, "field");
        record.text = text_of(body, "text");
        record.conditions = text_of(body, "conditions");
        record.instrument = text_of(body, "instrument");
        const Result<std::string> at = position(draft);
        const std::optional<Unit> unit = unit_from_key(text_of(body, "unit"));
        if (!at.ok() || !unit) {
            return at.ok() ? refuse("its unit is not one.") : at.error();
        }
        record.position = *at;
        const Result<ParsedValue> parsed = parse_value(record.text, *unit, record.what);
        if (!parsed.ok()) {
            return refuse(parsed.error().message);
        }
        MeterAccuracy accuracy = k_usual_meter;
        if (const std::string stated = text_of(draft, "accuracy"); !stated.empty()) {
            const Result<MeterAccuracy> read = parse_accuracy(stated, "accuracy");
            if (!read.ok()) {
                return refuse(read.error().message);
            }
            accuracy = *read;
        }
        record.amount = with_accuracy(parsed->value, parsed->step, accuracy, *unit);
        Json made = reading_body(record);
        for (const char* member : {"kind", "when"}) {
            if (const auto it = body.find(member); it != body.end()) {
                made[member] = *it;
            }
        }
        return made;
    }

    Result<Json> photo(const Json& draft, const Json& body) {
        const std::optional<PhotoStage> stage = photo_stage_from_key(text_of(body, "stage"));
        const Result<std::string> at = position(draft);
        if (!at.ok() || !stage) {
            return at.ok() ? refuse("its stage is not one.") : at.error();
        }
        PhotoRecord record;
        record.stage = *stage;
        record.caption = text_of(body, "caption");
        record.channel = channel_from_key(text_of(body, "channel")).value_or(Channel::none);
        record.position = *at;
        const Result<PhotoRecord> kept = (*keep_)(text_of(draft, "picture"), std::move(record));
        return kept.ok() ? Result<Json>(photo_body(*kept)) : kept.error();
    }

    Result<Json> recording(const Json& draft, const Json& body) {
        RecordingRecord record;
        record.name = text_of(draft, "file");
        record.what = text_of(body, "what");
        record.channel = channel_from_key(text_of(body, "channel")).value_or(Channel::none);
        const Result<RecordingRecord> kept = (*keep_recording_)(std::move(record));
        return kept.ok() ? Result<Json>(recording_body(*kept)) : kept.error();
    }

    /// The usual one with what the job knows so far, and the names the board has.
    Result<Json> circuit(const Json& body) {
        const Result<Job> job = fold_job(entries_.empty() ? "" : entries_.front().id, entries_);
        if (!job.ok()) {
            return job.error();
        }
        const Result<UsualValues> values = usual_values(*job);
        if (!values.ok()) {
            return refuse(values.error().message);
        }
        Json made = circuit_body(usual_circuit(*values));
        made.update(body);
        return made;
    }

    Result<Json> working(const Json& draft) {
        const Working* working = find_working(text_of(draft, "working"));
        const auto given = draft.find("inputs");
        if (working == nullptr || given == draft.end() || !given->is_object()) {
            return refuse("it needs a \"working\" of the catalogue and its \"inputs\".");
        }
        Inputs inputs;
        for (auto it = given->begin(); it != given->end(); ++it) {
            const Field* field = find_field(*working, it.key());
            if (field == nullptr) {
                return refuse(fmt::format("{} has no field \"{}\".", working->name, it.key()));
            }
            Result<Input> input = read_input(*field, text_of(it.value(), "text"));
            if (!input.ok()) {
                return refuse(input.error().message);
            }
            input->from = origin_from_key(text_of(it.value(), "from")).value_or(Origin::typed);
            inputs[it.key()] = std::move(input).value();
        }
        inputs = with_defaults(*working, std::move(inputs));
        const Result<Outcome> outcome = run_working(*working, inputs);
        if (!outcome.ok()) {
            return refuse(outcome.error().message);
        }
        KeptWorking kept;
        kept.working = working->key;
        kept.channel = channel_from_key(text_of(draft, "channel")).value_or(Channel::none);
        kept.record = working_to_json(*working, inputs, *outcome);
        return kept_body(kept);
    }

    std::int64_t begun_ms_ = 0;
    const KeepPicture* keep_;
    const KeepRecording* keep_recording_;
    std::string bench_;
    double minutes_ = 0;
    std::vector<Entry> entries_;
    std::map<std::string, std::string> named_;
};

} // namespace

Result<std::vector<Entry>> demo_entries(std::string_view text, std::int64_t begun_ms,
                                        const KeepPicture& keep,
                                        const KeepRecording& keep_recording) {
    const Json file = Json::parse(text, nullptr, false);
    if (file.is_discarded()) {
        return Error{ErrorCode::damaged, "demo job", "The demo job is not JSON."};
    }
    return Maker(begun_ms, keep, keep_recording).make(file);
}

Result<std::string> load_demo_job(Bench& bench, std::int64_t begun_ms, const PaintPicture& paint) {
    const std::string id = make_entry_id(begun_ms, fixed_chance(0), "");
    const Result<std::vector<JobSummary>> here = bench.jobs();
    if (!here.ok()) {
        return here.error();
    }
    for (const JobSummary& job : *here) {
        // the first ten characters are the time
        if (job.job.size() == id.size() && job.job.substr(10) == id.substr(10)) {
            return job.job;
        }
    }
    const Asset* file = find_asset("demo/job.json");
    if (file == nullptr) {
        return Error{ErrorCode::not_found, "demo job",
                     "This program was built without its demo job."};
    }
    const KeepPicture keep = [&](std::string_view name, PhotoRecord photo) -> Result<PhotoRecord> {
        const std::optional<Picture> picture =
            paint ? paint(name, k_picture_width) : demo_picture(name, k_picture_width);
        if (!picture) {
            return Error{ErrorCode::not_found, "demo job",
                         fmt::format("There is no drawing named \"{}\".", name)};
        }
        return bench.keep_drawing(*picture, std::move(photo));
    };
    const KeepRecording keep_recording =
        [&bench](RecordingRecord recording) -> Result<RecordingRecord> {
        const Asset* held = find_asset("demo/" + recording.name);
        if (held == nullptr) {
            return Error{ErrorCode::not_found, "demo job",
                         fmt::format("There is no recording named \"{}\".", recording.name)};
        }
        return bench.keep_recording(std::as_bytes(std::span(held->bytes)), std::move(recording));
    };
    const Result<std::vector<Entry>> entries =
        demo_entries(file->bytes, begun_ms, keep, keep_recording);
    if (!entries.ok()) {
        return entries.error();
    }
    const Result<int> added = bench.merge(*entries);
    if (!added.ok()) {
        return added.error();
    }
    return id;
}

} // namespace railside
