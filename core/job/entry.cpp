#include "core/job/entry.h"

#include "core/job/body_check.h"
#include "core/job/utf8.h"
#include "core/words/words.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <utility>

namespace railside {

using Json = nlohmann::json;

namespace {

constexpr std::pair<EntryKind, std::string_view> k_kinds[] = {
    {EntryKind::job, "job"},
    {EntryKind::position, "position"},
    {EntryKind::reading, "reading"},
    {EntryKind::working, "working"},
    {EntryKind::photo, "photo"},
    {EntryKind::list, "list"},
    {EntryKind::tick, "tick"},
    {EntryKind::note, "note"},
    {EntryKind::strike, "strike"},
    {EntryKind::cost, "cost"},
    {EntryKind::taken_off, "taken_off"},
    {EntryKind::put_back, "put_back"},
    {EntryKind::mark, "mark"},
    {EntryKind::pair, "pair"},
    {EntryKind::recording, "recording"},
    {EntryKind::wanting, "wanting"},
    {EntryKind::closing, "closing"},
    {EntryKind::circuit, "circuit"},
    {EntryKind::finding, "finding"},
    {EntryKind::instrument, "instrument"},
    {EntryKind::drawer, "drawer"},
    {EntryKind::minutes, "minutes"},
    {EntryKind::list_text, "list_text"},
};

constexpr std::string_view k_base32 =
    "0123456789ABCDEFGHJKMNPQRSTVWXYZ"; // Crockford's: no I, L, O, U
constexpr std::size_t k_id_length = 26;
constexpr std::size_t k_time_length = 10;
constexpr std::int64_t k_last_time = (std::int64_t{1} << 48) - 1;

constexpr std::size_t k_body_bytes = 1'000'000;
constexpr int k_body_depth = 32;

std::int64_t id_time(std::string_view id) {
    std::int64_t time = 0;
    for (const char c : id.substr(0, k_time_length))
        time = time * 32 + static_cast<std::int64_t>(k_base32.find(c));
    return time;
}

/// What is wrong with the body whatever its kind, or empty.
std::string unsound(const Json& value, int depth) {
    if (depth > k_body_depth)
        return worded("is nested deeper than {} levels", k_body_depth);
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

bool belongs_in_book(EntryKind kind) {
    switch (kind) {
    case EntryKind::instrument:
    case EntryKind::drawer:
    case EntryKind::minutes:
    case EntryKind::list_text:
    case EntryKind::note:
    case EntryKind::strike:
        return true;
    default:
        return false;
    }
}

bool belongs_in_job(EntryKind kind) {
    switch (kind) {
    case EntryKind::instrument:
    case EntryKind::drawer:
    case EntryKind::minutes:
    case EntryKind::list_text:
        return false;
    default:
        return true;
    }
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

bool is_far_ahead(std::string_view entry_id) { return !entry_id.empty() && entry_id[0] >= '4'; }

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
            worded("An entry's id is 26 letters and digits of base 32; \"{:.40}\" is not one.",
                   is_utf8(entry.id) ? entry.id : "?"));
    if (!is_entry_id(entry.job))
        return refuse("job", worded("Entry {} names a job that is not an entry's id.", entry.id));
    if (entry.time_ms < 0 || entry.time_ms > k_last_time)
        return refuse("time", worded("Entry {} has a time of {} ms; accepted is 0 to {}.", entry.id,
                                     entry.time_ms, k_last_time));
    if (entry.bench.empty() || entry.bench.size() > 100 || !is_utf8(entry.bench))
        return refuse(
            "bench", worded("Entry {} must name its bench with 1 to 100 bytes of text.", entry.id));
    const std::string_view kind = written_kind(entry);
    if (kind.empty() || kind.size() > 100 || !is_utf8(kind))
        return refuse("kind",
                      worded("Entry {} must name its kind with 1 to 100 bytes of text.", entry.id));
    if (!entry.body.is_object())
        return refuse("body", worded("The body of entry {} must be an object.", entry.id));
    if (const std::string wrong = unsound(entry.body, 1); !wrong.empty())
        return refuse("body", worded("The body of entry {} {}.", entry.id, wrong));
    if (const std::size_t bytes = entry.body.dump().size(); bytes > k_body_bytes)
        return refuse("body", worded("The body of entry {} has {} bytes; at most {} are accepted.",
                                     entry.id, bytes, k_body_bytes));
    return Done{};
}

Result<Done> check_entry(const Entry& entry) {
    if (Result<Done> form = check_form(entry); !form.ok())
        return form;
    return check_body(entry.kind, entry.body);
}

} // namespace railside
