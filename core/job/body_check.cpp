#include "core/job/body_check.h"

#include "core/job/job.h"
#include "core/job/list.h"
#include "core/words/words.h"

#include <fmt/format.h>

#include <algorithm>
#include <set>

namespace railside {

using Json = nlohmann::json;

namespace {

constexpr std::size_t k_text_bytes = 20'000;
constexpr std::size_t k_long_text_bytes = 200'000; // a list, a drawer, a table of minutes
constexpr double k_most_money = 1e9;
constexpr double k_most_minutes = 1e6;
constexpr double k_most_value = 1e15; // parse_value's own bound
constexpr std::int64_t k_most_count = 99'999;
constexpr std::int64_t k_most_bytes = 64'000'000; // of one file in the vault
constexpr std::size_t k_most_points = 500;
constexpr std::size_t k_most_uses = 1000;

bool is_hash(const std::string& text) {
    return text.size() == 64 && text.find_first_not_of("0123456789abcdef") == std::string::npos;
}

/// How a wrong value is shown in the refusal.
std::string shown(const Json& value) {
    std::string text = value.dump(-1, ' ', false, Json::error_handler_t::replace);
    if (text.size() > 60) {
        std::size_t cut = 57;
        while (cut > 0 && (static_cast<unsigned char>(text[cut]) & 0xC0U) == 0x80U)
            --cut;
        text = text.substr(0, cut) + "...";
    }
    return text;
}

enum class Presence { required, optional };

/// Checks members of one object and keeps the first thing that is wrong.
class Members {
  public:
    Members(std::string_view whose, const Json& object) : whose_(whose), object_(&object) {}

    void text(const char* name, Presence presence = Presence::optional,
              std::size_t most = k_text_bytes) {
        const Json* value = find(name, presence, "a text");
        if (value == nullptr)
            return;
        if (!value->is_string())
            wrong(name, "a text", *value);
        else if (value->get_ref<const std::string&>().size() > most)
            wrong(name, worded("a text of at most {} bytes", most), *value);
        else if (presence == Presence::required && value->get_ref<const std::string&>().empty())
            wrong(name, "a text that is not empty", *value);
    }

    void id(const char* name, Presence presence = Presence::optional) {
        const Json* value = find(name, presence, "the id of an entry");
        if (value != nullptr &&
            !(value->is_string() && is_entry_id(value->get_ref<const std::string&>())))
            wrong(name, "the id of an entry", *value);
    }

    void number(const char* name, double low, double high, Presence presence = Presence::optional) {
        const std::string form = worded("a number from {} to {}", low, high);
        const Json* value = find(name, presence, form);
        if (value != nullptr &&
            !(value->is_number() && value->get<double>() >= low && value->get<double>() <= high))
            wrong(name, form, *value);
    }

    void whole(const char* name, std::int64_t low, std::int64_t high,
               Presence presence = Presence::required) {
        const std::string form = worded("a whole number from {} to {}", low, high);
        const Json* value = find(name, presence, form);
        if (value == nullptr)
            return;
        // An unsigned value past the signed range would wrap to a negative one and so be refused as
        // well.
        if (!value->is_number_integer() || value->get<std::int64_t>() < low ||
            value->get<std::int64_t>() > high)
            wrong(name, form, *value);
    }

    void flag(const char* name) {
        const Json* value = find(name, Presence::optional, "true or false");
        if (value != nullptr && !value->is_boolean())
            wrong(name, "true or false", *value);
    }

    /// One of a few words; `known` says whether it is one.
    template <class Known>
    void word(const char* name, std::string_view form, Known known,
              Presence presence = Presence::optional) {
        const Json* value = find(name, presence, form);
        if (value != nullptr &&
            !(value->is_string() && known(value->get_ref<const std::string&>())))
            wrong(name, form, *value);
    }

    void channel() {
        word("channel", R"("left" or "right", or absent)",
             [](const std::string& key) { return channel_from_key(key).has_value(); });
    }

    void half() {
        word("half", R"("plus" or "minus", or absent)",
             [](const std::string& key) { return half_from_key(key).has_value(); });
    }

    void hash() { word("hash", "a SHA-256 in 64 hexadecimal digits", is_hash, Presence::required); }

    /// The conditions of a reading or recording (reading.h).
    void when() {
        const Json* value = object("when", Presence::optional);
        if (value == nullptr)
            return;
        Members inside(whose_, *value);
        inside.word("power", R"("off", "lamp" or "mains")",
                    [](const std::string& key) { return power_from_key(key).has_value(); });
        inside.id("lamp");
        inside.word("warmth", R"("cold" or "warm")",
                    [](const std::string& key) { return warmth_from_key(key).has_value(); });
        inside.number("minutes", 0, k_most_minutes);
        take(inside.result());
    }

    void ids(const char* name) {
        const Json* value = array(name, Presence::optional);
        if (value == nullptr)
            return;
        const std::string form = worded("at most {} ids of entries", k_most_uses);
        if (value->size() > k_most_uses)
            wrong(name, form, *value);
        for (const Json& one : *value)
            if (!one.is_string() || !is_entry_id(one.get_ref<const std::string&>()))
                return wrong(name, form, one);
    }

    /// An object whose members are texts.
    void texts(const char* name) {
        const Json* value = object(name, Presence::optional);
        if (value == nullptr)
            return;
        for (const Json& one : *value)
            if (!one.is_string() || one.get_ref<const std::string&>().size() > k_text_bytes)
                wrong(name, worded("texts of at most {} bytes", k_text_bytes), one);
    }

    /// The member as an object, or null when it is absent or wrong.
    const Json* object(const char* name, Presence presence) {
        const Json* value = find(name, presence, "an object");
        if (value != nullptr && !value->is_object()) {
            wrong(name, "an object", *value);
            return nullptr;
        }
        return value;
    }

    const Json* array(const char* name, Presence presence) {
        const Json* value = find(name, presence, "an array");
        if (value != nullptr && !value->is_array()) {
            wrong(name, "an array", *value);
            return nullptr;
        }
        return value;
    }

    void wrong(std::string_view name, std::string_view form, const Json& found) {
        refuse(name,
               worded("{} needs \"{}\" to be {}; it is {}.", whose_, name, form, shown(found)));
    }
    void refuse(std::string_view name, std::string message) {
        if (!error_)
            error_ = Error{ErrorCode::bad_text, std::string(name), std::move(message)};
    }
    [[nodiscard]] bool clean() const { return !error_.has_value(); }
    [[nodiscard]] Result<Done> result() const {
        return error_ ? Result<Done>(*error_) : Result<Done>(Done{});
    }
    void take(const Result<Done>& other) {
        if (!other.ok() && !error_)
            error_ = other.error();
    }

  private:
    const Json* find(const char* name, Presence presence, std::string_view form) {
        const auto it = object_->find(name);
        if (it != object_->end())
            return &*it;
        if (presence == Presence::required)
            refuse(name, worded("{} needs \"{}\" to be {}; it is absent.", whose_, name, form));
        return nullptr;
    }

    std::string whose_;
    const Json* object_;
    std::optional<Error> error_;
};

bool is_unit(const std::string& key) { return unit_from_key(key).has_value(); }

Result<Done> check_amount(const Json& amount) {
    Members members("An entry's amount", amount);
    for (const char* name : {"value", "low", "high"})
        members.number(name, -k_most_value, k_most_value, Presence::required);
    members.word("unit", "the key of a unit", is_unit, Presence::required);
    if (members.clean()) {
        const auto value = amount["value"].get<double>();
        if (amount["low"].get<double>() > value || value > amount["high"].get<double>())
            members.wrong("value", "between \"low\" and \"high\"", amount["value"]);
    }
    return members.result();
}

Result<Done> check_step(const Json& step) {
    Members members("A list's step", step);
    members.text("key", Presence::required);
    members.text("text", Presence::required);
    members.text("hint");
    members.text("caution");
    members.flag("bars");
    members.word(
        "kind", R"("tick", "choice", "reading" or "photo")",
        [](const std::string& key) {
            return key == "tick" || key == "choice" || key == "reading" || key == "photo";
        },
        Presence::required);
    if (!members.clean())
        return members.result();
    const auto& kind = step["kind"].get_ref<const std::string&>();
    if (kind == "choice") {
        if (const Json* choices = members.array("choices", Presence::required)) {
            if (choices->empty())
                members.wrong("choices", "a list of words", *choices);
            for (const Json& choice : *choices) {
                if (!choice.is_object()) {
                    members.wrong("choices", "an array of objects", *choices);
                    break;
                }
                Members one("A step's choice", choice);
                one.text("word", Presence::required);
                one.flag("stops");
                members.take(one.result());
            }
        }
    }
    if (kind == "reading") {
        members.word("unit", "the key of a unit", is_unit, Presence::required);
        members.number("low", -k_most_value, k_most_value, Presence::required);
        members.number("high", -k_most_value, k_most_value, Presence::required);
        members.text("low_text");
        members.text("high_text");
        if (members.clean() && step["low"].get<double>() > step["high"].get<double>())
            members.wrong("low", "at most \"high\"", step["low"]);
    }
    return members.result();
}

void check_list(Members& members) {
    members.text("key", Presence::required);
    members.text("name", Presence::required);
    members.text("intro");
    const Json* steps = members.array("steps", Presence::required);
    if (steps == nullptr)
        return;
    if (steps->empty())
        members.wrong("steps", "at least one step", *steps);
    std::set<std::string> keys;
    for (const Json& step : *steps) {
        if (!step.is_object()) {
            members.wrong("steps", "an array of objects", *steps);
            return;
        }
        members.take(check_step(step));
        if (!members.clean())
            return;
        if (!keys.insert(step["key"].get<std::string>()).second)
            members.wrong("key", "different in every step of a list", step["key"]);
    }
}

/// How many points each shape of a mark has.
struct Shape {
    MarkShape shape;
    std::size_t least;
    std::size_t most;
};
constexpr Shape k_shapes[] = {
    {MarkShape::ring, 2, 2},
    {MarkShape::arrow, 2, 2},
    {MarkShape::line, 2, k_most_points},
    {MarkShape::note, 1, 1},
};

void check_mark(Members& members, const Json& body) {
    members.id("photo", Presence::required);
    members.word(
        "shape", R"("ring", "arrow", "line" or "note")",
        [](const std::string& key) { return mark_shape_from_key(key).has_value(); },
        Presence::required);
    members.text("text");
    members.id("position");
    const Json* points = members.array("points", Presence::required);
    if (points == nullptr || !members.clean())
        return;
    const std::string form = "points [x, y] with both from 0 to 1";
    for (const Json& point : *points) {
        const bool sound =
            point.is_array() && point.size() == 2 &&
            std::all_of(point.begin(), point.end(), [](const Json& part) {
                return part.is_number() && part.get<double>() >= 0 && part.get<double>() <= 1;
            });
        if (!sound)
            return members.wrong("points", form, point);
    }
    const MarkShape shape =
        mark_shape_from_key(body["shape"].get_ref<const std::string&>()).value_or(MarkShape::note);
    for (const Shape& known : k_shapes)
        if (known.shape == shape && (points->size() < known.least || points->size() > known.most))
            members.wrong("points",
                          known.least == known.most
                              ? worded("{} for that shape", known.least)
                              : worded("{} to {} for that shape", known.least, known.most),
                          static_cast<std::int64_t>(points->size()));
    if (shape == MarkShape::note && body.value("text", std::string()).empty())
        members.refuse("text", "A note on a photo needs its text.");
}

void check_cost(Members& members, const Json& body) {
    members.word(
        "type", R"("part" or "work")",
        [](const std::string& key) { return key == "part" || key == "work"; }, Presence::required);
    members.text("what", Presence::required);
    members.id("position");
    if (!members.clean())
        return;
    if (body["type"] == "part") {
        members.whole("count", 1, k_most_count);
        members.number("each", 0, k_most_money, Presence::required);
    } else {
        members.number("minutes", 0, k_most_minutes, Presence::required);
        members.number("rate", 0, k_most_money);
    }
}

void check_instrument(Members& members, const Json& body) {
    members.id("of");
    members.text("name", Presence::required);
    members.text("type", Presence::required);
    members.text("note");
    if (const Json* accuracy = members.object("accuracy", Presence::optional))
        for (const Json& one : *accuracy)
            if (!one.is_string() ||
                !parse_accuracy(one.get_ref<const std::string&>(), "accuracy").ok())
                members.wrong("accuracy", "texts such as \"±0.5 % + 3 counts\"", one);
    members.number("test_a", 1e-9, 100);
    members.number("open_v", 0.1, 100);
    members.number("battery_v", 0.1, 1000);
    members.number("arc_error", 0, 0.2);
    members.number("power_w", 1, 10'000);
    members.number("volts_v", 1, 1000);
    if (const Json* ranges = members.array("ranges", Presence::optional))
        for (const Json& range : *ranges) {
            if (!range.is_object())
                return members.wrong("ranges", "an array of objects", *ranges);
            Members one("An instrument's range", range);
            one.text("name", Presence::required);
            one.number("mid_scale_ohm", 1e-3, 1e9, Presence::required);
            one.number("battery_v", 0.1, 1000);
            members.take(one.result());
        }
    if (!members.clean())
        return;
    // What makes an instrument of its type usable.
    const auto& type = body["type"].get_ref<const std::string&>();
    if (type == "ohmmeter") {
        members.number("battery_v", 0.1, 1000, Presence::required);
        const Json* ranges = members.array("ranges", Presence::required);
        if (ranges != nullptr && ranges->empty())
            members.wrong("ranges", "at least one range", *ranges);
    } else if (type == "gain_tester") {
        members.number("test_a", 1e-9, 100, Presence::required);
    } else if (type == "lamp") {
        members.number("power_w", 1, 10'000, Presence::required);
        members.number("volts_v", 1, 1000, Presence::required);
    }
}

void check_finding(Members& members) {
    members.word(
        "about", R"(a text that begins with "complaint/", "part/" or "reading/")",
        [](const std::string& about) {
            for (const std::string_view head : {"complaint/", "part/", "reading/"})
                if (about.starts_with(head))
                    return about.size() > head.size() && about.size() <= k_text_bytes;
            return false;
        },
        Presence::required);
    members.word(
        "answer",
        R"("yes", "no", "good", "bad", "shorted", "leaky", "open", "low_gain", "changed" or "unknown")",
        [](const std::string& answer) {
            const auto answers = finding_answers();
            return std::find(answers.begin(), answers.end(), answer) != answers.end();
        },
        Presence::required);
    members.channel();
    members.half();
}

void check_list_text(Members& members, const Json& body) {
    members.text("key", Presence::required);
    members.text("text", Presence::optional, k_long_text_bytes);
    if (!members.clean())
        return;
    const std::string text = body.value("text", std::string());
    if (text.empty())
        return; // the list that comes with the program again
    if (const Result<StepList> list = parse_list(text, body["key"].get_ref<const std::string&>());
        !list.ok())
        members.refuse("text", list.error().message);
}

} // namespace

Result<Done> check_body(EntryKind kind, const Json& body) {
    if (!body.is_object())
        return Error{ErrorCode::bad_text, "body", "An entry's body must be an object."};
    Members members(worded("An entry of kind \"{}\"", entry_kind_key(kind)), body);
    switch (kind) {
    case EntryKind::job:
        for (const char* name : {"maker", "model", "serial", "year", "complaint", "accessories",
                                 "condition", "state", "currency"})
            members.text(name);
        members.number("agreed_limit", 0, k_most_money);
        members.number("spent", 0, k_most_money);
        members.number("hourly_rate", 0, k_most_money);
        members.texts("known");
        break;
    case EntryKind::position:
        members.text("designator", Presence::required);
        members.channel();
        for (const char* name :
             {"role", "printed_type", "fitted_type", "fitted_by", "state", "note"})
            members.text(name);
        members.half();
        // Empty takes it away again.
        members.word("sister", "the id of an entry, or empty",
                     [](const std::string& text) { return text.empty() || is_entry_id(text); });
        break;
    case EntryKind::reading:
        members.text("what", Presence::required);
        members.channel();
        members.id("position");
        for (const char* name : {"field", "text", "conditions", "instrument", "kind"})
            members.text(name);
        members.when();
        members.id("instrument_id");
        if (const Json* amount = members.object("amount", Presence::required))
            members.take(check_amount(*amount));
        break;
    case EntryKind::working:
        members.text("working", Presence::required);
        members.channel();
        static_cast<void>(members.object("record", Presence::required));
        members.id("replaces");
        members.ids("uses");
        break;
    case EntryKind::photo:
        members.hash();
        members.word(
            "type", R"("jpeg" or "png")",
            [](const std::string& key) { return key == "jpeg" || key == "png"; },
            Presence::required);
        members.whole("width", 1, 16384);
        members.whole("height", 1, 16384);
        members.whole("bytes", 1, k_most_bytes);
        members.word(
            "stage", "the key of a photo stage",
            [](const std::string& key) { return photo_stage_from_key(key).has_value(); },
            Presence::required);
        members.text("caption");
        members.id("position");
        members.channel();
        break;
    case EntryKind::list:
        check_list(members);
        break;
    case EntryKind::tick:
        members.id("list", Presence::required);
        members.text("step", Presence::required);
        members.word(
            "state", R"("open", "done" or "skipped")",
            [](const std::string& key) {
                return key == "open" || key == "done" || key == "skipped";
            },
            Presence::required);
        members.text("answer");
        if (members.clean() && body["state"] == "skipped" &&
            body.value("answer", std::string()).empty())
            members.refuse("answer", "Skipping a step needs a reason.");
        break;
    case EntryKind::note:
        members.text("text", Presence::required);
        break;
    case EntryKind::strike:
        members.id("entry", Presence::required);
        members.word(
            "standing", R"("struck" or "valid")",
            [](const std::string& key) { return key == "struck" || key == "valid"; },
            Presence::required);
        break;
    case EntryKind::cost:
        check_cost(members, body);
        break;
    case EntryKind::taken_off:
        members.text("what", Presence::required);
        members.text("where");
        members.text("note");
        members.whole("count", 1, k_most_count, Presence::optional);
        members.id("photo");
        members.id("position");
        members.channel();
        break;
    case EntryKind::put_back:
        members.id("item", Presence::required);
        members.whole("count", 1, k_most_count, Presence::optional);
        members.text("note");
        break;
    case EntryKind::mark:
        check_mark(members, body);
        break;
    case EntryKind::pair:
        members.id("before", Presence::required);
        members.id("after", Presence::required);
        members.text("text");
        if (members.clean() && body["before"] == body["after"])
            members.refuse("after", "A pair needs two different photos.");
        break;
    case EntryKind::recording:
        members.hash();
        members.text("name", Presence::required);
        members.whole("bytes", 1, k_most_bytes);
        members.text("what");
        members.text("conditions");
        members.when();
        members.id("position");
        members.id("instrument_id");
        members.channel();
        break;
    case EntryKind::wanting:
        members.text("title", Presence::required);
        members.text("why");
        members.word(
            "rank", R"("safety", "reliability" or "sound")",
            [](const std::string& key) { return wanting_rank_from_key(key).has_value(); },
            Presence::required);
        members.number("parts", 0, k_most_money);
        members.number("minutes", 0, k_most_minutes);
        members.word("state", R"("open", "done" or "declined")", [](const std::string& key) {
            return wanting_state_from_key(key).has_value();
        });
        members.id("position");
        members.id("of");
        break;
    case EntryKind::closing:
        for (const char* name : {"words", "unit", "symptom", "cause", "cure"})
            members.text(name);
        members.ids("photos");
        members.texts("overrides");
        break;
    case EntryKind::circuit:
        members.text("name", Presence::required);
        members.text("netlist", Presence::required, k_long_text_bytes);
        members.text("positions", Presence::required, k_long_text_bytes);
        members.texts("names");
        break;
    case EntryKind::finding:
        check_finding(members);
        break;
    case EntryKind::instrument:
        check_instrument(members, body);
        break;
    case EntryKind::drawer:
    case EntryKind::minutes:
        members.text("text", Presence::optional, k_long_text_bytes);
        break;
    case EntryKind::list_text:
        check_list_text(members, body);
        break;
    case EntryKind::unknown:
        break;
    }
    return members.result();
}

} // namespace railside
