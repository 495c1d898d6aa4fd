#include "core/store/search.h"

#include "core/job/utf8.h"

#include <fmt/format.h>

#include <algorithm>

namespace railside {

using Json = nlohmann::json;

namespace {

constexpr std::size_t k_most_piece = 20'000;
constexpr std::size_t k_most_words = 12;
constexpr std::size_t k_most_word = 60;
constexpr std::size_t k_least_telling = 4;

bool is_word_byte(char c) {
    return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') ||
           static_cast<unsigned char>(c) >= 0x80;
}

void add(std::string& to, std::string_view piece) {
    if (piece.empty())
        return;
    piece = piece.substr(0, k_most_piece);
    to += piece;
    to += '\n';
}

void add(std::string& to, const Json& body, std::initializer_list<const char*> members) {
    for (const char* member : members)
        if (const auto it = body.find(member); it != body.end() && it->is_string())
            add(to, it->get_ref<const std::string&>());
}

/// Common words of the language, and words that every complaint of this trade has.
constexpr std::string_view k_common[] = {
    "about",  "after",   "again",    "also",      "always",    "amplifier", "anything", "been",
    "before", "channel", "channels", "client",    "could",     "does",      "doing",    "down",
    "each",   "every",   "from",     "have",      "having",    "into",      "just",     "left",
    "like",   "made",    "makes",    "more",      "most",      "much",      "nothing",  "once",
    "only",   "other",   "over",     "right",     "same",      "says",      "side",     "sides",
    "since",  "some",    "someone",  "something", "sometimes", "somewhat",  "sound",    "sounds",
    "still",  "such",    "than",     "that",      "their",     "them",      "then",     "there",
    "they",   "this",    "unit",     "until",     "very",      "want",      "wants",    "well",
    "went",   "were",    "what",     "when",      "where",     "which",     "while",    "will",
    "with",   "without", "would",    "your",
};

static_assert(std::is_sorted(std::begin(k_common), std::end(k_common)));

/// Words at spaces; what has neither letter nor figure is passed over.
std::vector<std::string> words_of(std::string_view text) {
    std::vector<std::string> words;
    while (!text.empty() && words.size() < k_most_words) {
        const std::size_t begin = text.find_first_not_of(" \t\r\n");
        if (begin == std::string_view::npos)
            break;
        const std::size_t end = std::min(text.find_first_of(" \t\r\n", begin), text.size());
        const std::string_view word = text.substr(begin, end - begin);
        text.remove_prefix(end);
        if (word.size() <= k_most_word && is_utf8(word) &&
            word.find('\0') == std::string_view::npos &&
            std::any_of(word.begin(), word.end(), is_word_byte))
            words.emplace_back(word);
    }
    return words;
}

} // namespace

void add_search_text(SearchText& text, const Entry& entry) {
    if (!check_entry(entry).ok())
        return;
    const Json& body = entry.body;
    const auto column = [&](SearchColumn which) -> std::string& {
        return text[static_cast<std::size_t>(which)];
    };
    std::string& words = column(SearchColumn::words);
    switch (entry.kind) {
    case EntryKind::job:
        add(column(SearchColumn::unit), body, {"maker", "model", "serial", "year"});
        add(column(SearchColumn::complaint), body, {"complaint"});
        add(words, body, {"accessories", "condition"});
        break;
    case EntryKind::position:
        add(column(SearchColumn::positions), body,
            {"designator", "printed_type", "fitted_type", "fitted_by", "role", "state", "note"});
        break;
    case EntryKind::reading:
        add(words, body, {"what", "conditions"});
        break;
    case EntryKind::working:
        if (const auto verdict = body["record"].find("verdict");
            verdict != body["record"].end() && verdict->is_object())
            add(column(SearchColumn::verdicts), *verdict, {"state", "reason"});
        break;
    case EntryKind::photo:
        add(words, body, {"caption"});
        break;
    case EntryKind::mark:
    case EntryKind::pair:
    case EntryKind::note:
        add(words, body, {"text"});
        break;
    case EntryKind::recording:
        add(words, body, {"what", "name", "conditions"});
        break;
    case EntryKind::cost:
        add(words, body, {"what"});
        break;
    case EntryKind::taken_off:
        add(words, body, {"what", "where", "note"});
        break;
    case EntryKind::put_back:
        add(words, body, {"note"});
        break;
    case EntryKind::tick:
        if (body["state"] == "skipped") // the reason
            add(words, body, {"answer"});
        break;
    case EntryKind::wanting:
        add(words, body, {"title", "why"});
        break;
    case EntryKind::closing:
        add(column(SearchColumn::unit), body, {"unit"});
        add(column(SearchColumn::complaint), body, {"symptom"});
        add(words, body, {"cause", "cure", "words"});
        break;
    case EntryKind::circuit:
    case EntryKind::finding:
    case EntryKind::list:
    case EntryKind::strike:
    case EntryKind::instrument:
    case EntryKind::drawer:
    case EntryKind::minutes:
    case EntryKind::list_text:
    case EntryKind::unknown:
        break;
    }
}

std::string quoted_phrase(std::string_view words) {
    std::string phrase = "\"";
    for (const char c : words) {
        if (c == '"')
            phrase += '"';
        phrase += c == '\0' ? ' ' : c;
    }
    return phrase + "\"";
}

std::string search_query(std::string_view words) {
    std::string query;
    for (const std::string& word : words_of(words))
        query += fmt::format("{}{} *", query.empty() ? "" : " AND ", quoted_phrase(word));
    return query;
}

std::vector<std::string> telling_words(std::string_view text) {
    std::vector<std::string> words;
    std::string word;
    const auto finish = [&] {
        if (word.size() >= k_least_telling && is_utf8(word) &&
            !std::binary_search(std::begin(k_common), std::end(k_common), word) &&
            std::find(words.begin(), words.end(), word) == words.end())
            words.push_back(word);
        word.clear();
    };
    for (const char c : text) {
        if (is_word_byte(c))
            word += c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c;
        else
            finish();
    }
    finish();
    return words;
}

std::vector<std::string> causes_found(const Job& job, std::size_t most) {
    std::vector<std::string> causes;
    const ClosingRecord& closing = job.closing;
    if (most > 0 && !closing.cause.empty())
        causes.push_back(closing.cure.empty()
                             ? closing.cause
                             : fmt::format("{}; cured: {}", closing.cause, closing.cure));
    for (const PositionRecord& position : job.positions) {
        if (position.source.standing != Standing::valid ||
            (position.state != "bad" && position.state != "replaced"))
            continue;
        if (causes.size() == most)
            break;
        std::string role = position.role;
        std::replace(role.begin(), role.end(), '_', ' ');
        causes.push_back(fmt::format("{}{}{}, {}", position.designator,
                                     position.channel == Channel::none
                                         ? std::string()
                                         : fmt::format(" {}", channel_label(position.channel)),
                                     role.empty() ? std::string() : ", " + role, position.state));
    }
    return causes;
}

} // namespace railside
