#include "core/job/entry.h"

#include "core/job/job.h"
#include "core/job/utf8.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <set>
#include <utility>

namespace railside {

using Json = nlohmann::json;

namespace {

constexpr std::pair<EntryKind, std::string_view> k_kinds[] = {
    {EntryKind::job, "job"},         {EntryKind::position, "position"},
    {EntryKind::reading, "reading"}, {EntryKind::working, "working"},
    {EntryKind::photo, "photo"},     {EntryKind::list, "list"},
    {EntryKind::tick, "tick"},       {EntryKind::note, "note"},
    {EntryKind::strike, "strike"},
};

constexpr std::string_view k_base32 =
    "0123456789ABCDEFGHJKMNPQRSTVWXYZ"; // Crockford's: no I, L, O, U
constexpr std::size_t k_id_length = 26;
constexpr std::size_t k_time_length = 10;
constexpr std::int64_t k_last_time = (std::int64_t{1} << 48) - 1;

constexpr std::size_t k_text_bytes = 20'000;
constexpr std::size_t k_body_bytes = 1'000'000;
constexpr int k_body_depth = 32;
constexpr double k_most_money = 1e9;
constexpr double k_most_value = 1e15; // parse_value's own bound

std::int64_t id_time(std::string_view id) {
    std::int64_t time = 0;
    for (const char c : id.substr(0, k_time_length))
        time = time * 32 + static_cast<std::int64_t>(k_base32.find(c));
    return time;
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

/// What is wrong with the body whatever its kind, or empty.
std::string unsound(const Json& value, int depth) {
    if (depth > k_body_depth)
        return fmt::format("is nested deeper than {} levels", k_body_depth);
    switch (value.type()) {
    case Json::value_t::string:
        return is_utf8(value.get_ref<const std::string&>()) ? "" : "holds text that is not UTF-8";
    case Json::value_t::number_float:
        return std::isfinite(value.get<double>()) ? "" : "holds a number that is not finite";
    case Json::value_t::array:
        for (const Json& item : value)
            if (std::string wrong = unsound(item, depth + 1); !wrong.empty())
                return wrong;
        return "";
    case Json::value_t::object:
        for (auto it = value.begin(); it != value.end(); ++it) {
            if (!is_utf8(it.key()))
                return "holds a member name that is not UTF-8";
            if (std::string wrong = unsound(it.value(), depth + 1); !wrong.empty())
                return wrong;
        }
        return "";
    case Json::value_t::binary:
    case Json::value_t::discarded:
        return "holds a value that JSON does not have";
    default:
        return "";
    }
}

enum class Presence { required, optional };

/// Checks members of one object and keeps the first thing that is wrong.
class Members {
  public:
    Members(std::string_view whose, const Json& object) : whose_(whose), object_(&object) {}

    void text(const char* name, Presence presence = Presence::optional) {
        const Json* value = find(name, presence, "a text");
        if (value == nullptr)
            return;
        if (!value->is_string())
            wrong(name, "a text", *value);
        else if (value->get_ref<const std::string&>().size() > k_text_bytes)
            wrong(name, fmt::format("a text of at most {} bytes", k_text_bytes), *value);
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
        const std::string form = fmt::format("a number from {} to {}", low, high);
        const Json* value = find(name, presence, form);
        if (value != nullptr &&
            !(value->is_number() && value->get<double>() >= low && value->get<double>() <= high))
            wrong(name, form, *value);
    }

    void whole(const char* name, std::int64_t low, std::int64_t high) {
        const std::string form = fmt::format("a whole number from {} to {}", low, high);
        const Json* value = find(name, Presence::required, form);
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
        refuse(name, fmt::format("{} needs \"{}\" to be {}; it is {}.", whose_, name, form,
                                 shown(found)));
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
            refuse(name,
                   fmt::format("{} needs \"{}\" to be {}; it is absent.", whose_, name, form));
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

bool is_hash(const std::string& text) {
    return text.size() == 64 && text.find_first_not_of("0123456789abcdef") == std::string::npos;
}

} // namespace

std::string_view entry_kind_key(EntryKind kind) {
    for (const auto& known : k_kinds)
        if (known.first == kind)
            return known.second;
    return "unknown";
}

std::optional<EntryKind> entry_kind_from_key(std::string_view key) {
    for (const auto& known : k_kinds)
        if (known.second == key)
            return known.first;
    return std::nullopt;
}

std::string_view written_kind(const Entry& entry) {
    return entry.kind == EntryKind::unknown ? std::string_view(entry.kind_text)
                                            : entry_kind_key(entry.kind);
}

bool is_entry_id(std::string_view text) {
    // 26 letters of 5 bits hold 130: the first one only goes to 7.
    return text.size() == k_id_length &&
           text.find_first_not_of(k_base32) == std::string_view::npos && text[0] <= '7';
}

std::string make_entry_id(std::int64_t time_ms, const std::array<std::uint8_t, 10>& chance,
                          std::string_view previous) {
    std::int64_t time = std::clamp<std::int64_t>(time_ms, 0, k_last_time);
    std::array<std::uint8_t, 10> bits = chance;
    if (is_entry_id(previous) && time <= id_time(previous)) {
        // The next millisecond with fresh chance, rather than the previous id plus one: two benches
        // that both know the same last id must not make the same next one.
        time = id_time(previous) + 1;
        if (time > k_last_time) {
            time = k_last_time;
            const auto value = [](char c) { return static_cast<unsigned>(k_base32.find(c)); };
            for (std::size_t i = 0; i < 2; ++i) { // 8 letters are 5 bytes
                std::uint64_t five = 0;
                for (std::size_t k = 0; k < 8; ++k)
                    five = five << 5U | value(previous[k_time_length + i * 8 + k]);
                for (std::size_t k = 0; k < 5; ++k)
                    bits[i * 5 + k] = static_cast<std::uint8_t>(five >> (8U * (4 - k)));
            }
            for (std::size_t i = bits.size(); i-- > 0;)
                if (++bits[i] != 0)
                    break;
        }
    }
    std::string id(k_id_length, '0');
    for (std::size_t i = k_time_length; i-- > 0; time /= 32)
        id[i] = k_base32[static_cast<std::size_t>(time % 32)];
    for (std::size_t i = 0; i < 2; ++i) {
        std::uint64_t five = 0;
        for (std::size_t k = 0; k < 5; ++k)
            five = five << 8U | bits[i * 5 + k];
        for (std::size_t k = 8; k-- > 0; five >>= 5U)
            id[k_time_length + i * 8 + k] = k_base32[five & 31U];
    }
    return id;
}

Result<Done> check_form(const Entry& entry) {
    const auto refuse = [](std::string_view field, std::string message) {
        return Error{ErrorCode::bad_text, std::string(field), std::move(message)};
    };
    if (!is_entry_id(entry.id))
        return refuse(
            "id",
            fmt::format("An entry's id is 26 letters and digits of base 32; \"{:.40}\" is not one.",
                        is_utf8(entry.id) ? entry.id : "?"));
    if (!is_entry_id(entry.job))
        return refuse("job",
                      fmt::format("Entry {} names a job that is not an entry's id.", entry.id));
    if (entry.time_ms < 0 || entry.time_ms > k_last_time)
        return refuse("time", fmt::format("Entry {} has a time of {} ms; accepted is 0 to {}.",
                                          entry.id, entry.time_ms, k_last_time));
    if (entry.bench.empty() || entry.bench.size() > 100 || !is_utf8(entry.bench))
        return refuse(
            "bench",
            fmt::format("Entry {} must name its bench with 1 to 100 bytes of text.", entry.id));
    const std::string_view kind = written_kind(entry);
    if (kind.empty() || kind.size() > 100 || !is_utf8(kind))
        return refuse(
            "kind",
            fmt::format("Entry {} must name its kind with 1 to 100 bytes of text.", entry.id));
    if (!entry.body.is_object())
        return refuse("body", fmt::format("The body of entry {} must be an object.", entry.id));
    if (const std::string wrong = unsound(entry.body, 1); !wrong.empty())
        return refuse("body", fmt::format("The body of entry {} {}.", entry.id, wrong));
    if (const std::size_t bytes = entry.body.dump().size(); bytes > k_body_bytes)
        return refuse("body",
                      fmt::format("The body of entry {} has {} bytes; at most {} are accepted.",
                                  entry.id, bytes, k_body_bytes));
    return Done{};
}

Result<Done> check_entry(const Entry& entry) {
    if (Result<Done> form = check_form(entry); !form.ok())
        return form;
    const Json& body = entry.body;
    Members members(fmt::format("An entry of kind \"{}\"", written_kind(entry)), body);
    switch (entry.kind) {
    case EntryKind::job:
        for (const char* name : {"maker", "model", "serial", "complaint", "state", "currency"})
            members.text(name);
        members.number("agreed_limit", 0, k_most_money);
        members.number("spent", 0, k_most_money);
        if (const Json* known = members.object("known", Presence::optional)) {
            for (const Json& value : *known)
                if (!value.is_string() || value.get_ref<const std::string&>().size() > k_text_bytes)
                    members.wrong("known", fmt::format("texts of at most {} bytes", k_text_bytes),
                                  value);
        }
        break;
    case EntryKind::position:
        members.text("designator", Presence::required);
        members.channel();
        for (const char* name :
             {"role", "printed_type", "fitted_type", "fitted_by", "state", "note"})
            members.text(name);
        break;
    case EntryKind::reading:
        members.text("what", Presence::required);
        members.channel();
        members.id("position");
        for (const char* name : {"field", "text", "conditions", "instrument"})
            members.text(name);
        if (const Json* amount = members.object("amount", Presence::required))
            members.take(check_amount(*amount));
        break;
    case EntryKind::working:
        members.text("working", Presence::required);
        members.channel();
        static_cast<void>(members.object("record", Presence::required));
        members.id("replaces");
        break;
    case EntryKind::photo:
        members.word("hash", "a SHA-256 in 64 hexadecimal digits", is_hash, Presence::required);
        members.word(
            "type", R"("jpeg" or "png")",
            [](const std::string& key) { return key == "jpeg" || key == "png"; },
            Presence::required);
        members.whole("width", 1, 16384);
        members.whole("height", 1, 16384);
        members.whole("bytes", 1, 64'000'000);
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
    case EntryKind::unknown:
        break;
    }
    return members.result();
}

} // namespace railside
