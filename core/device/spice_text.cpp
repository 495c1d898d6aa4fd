#include "core/device/spice_text.h"

#include "core/quantity/refusal.h"
#include "core/words/words.h"

#include <fmt/format.h>

#include <algorithm>

namespace railside {

namespace {

bool is_blank(char c) { return c == ' ' || c == '\t' || c == '\f' || c == '\v' || c == '\0'; }

bool parts_words(char c) { return is_blank(c) || c == ',' || c == '(' || c == ')'; }

char small(char c) { return c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c; }

std::string_view without_comment(std::string_view line) {
    for (std::size_t i = 0; i < line.size(); ++i) {
        const bool begins_word = i == 0 || parts_words(line[i - 1]);
        if (line[i] == ';' || (begins_word && (line[i] == '$' || line.substr(i, 2) == "//"))) {
            return line.substr(0, i);
        }
    }
    return line;
}

std::string_view trimmed(std::string_view text) {
    while (!text.empty() && is_blank(text.front())) {
        text.remove_prefix(1);
    }
    while (!text.empty() && is_blank(text.back())) {
        text.remove_suffix(1);
    }
    return text;
}

/// Just after the word that begins at `from`.
std::size_t end_of_word(std::string_view text, std::size_t from) {
    if (text[from] == '=') {
        return from + 1;
    }
    if (text[from] == '\'') {
        const auto close = text.find('\'', from + 1);
        return close == std::string_view::npos ? text.size() : close + 1;
    }
    if (text[from] == '{') {
        int depth = 0;
        for (std::size_t i = from; i < text.size(); ++i) {
            depth += text[i] == '{' ? 1 : text[i] == '}' ? -1 : 0;
            if (depth == 0) {
                return i + 1;
            }
        }
        return text.size();
    }
    std::size_t end = from;
    while (end < text.size() && !parts_words(text[end]) && text[end] != '=' && text[end] != '{' &&
           text[end] != '\'') {
        ++end;
    }
    return end;
}

} // namespace

std::vector<SpiceLine> spice_lines(std::string_view text, int first_line) {
    std::vector<SpiceLine> lines;
    for (int number = first_line; !text.empty(); ++number) {
        const std::size_t end = std::min(text.find_first_of("\r\n"), text.size());
        std::string_view line = trimmed(text.substr(0, end));
        const bool two_marks = text.substr(end, 2) == "\r\n";
        text.remove_prefix(std::min(end + (two_marks ? 2 : 1), text.size()));
        if (line.empty() || line.front() == '*') {
            continue;
        }
        line = trimmed(without_comment(line));
        if (line.empty()) {
            continue;
        }
        if (line.front() == '+' && !lines.empty()) {
            line.remove_prefix(1);
            lines.back().text += ' ';
            lines.back().text += line;
        } else {
            lines.push_back({std::string(line), number});
        }
    }
    return lines;
}

std::vector<std::string> spice_words(std::string_view text) {
    std::vector<std::string> words;
    for (std::size_t at = 0; at < text.size();) {
        if (parts_words(text[at])) {
            ++at;
            continue;
        }
        const std::size_t end = end_of_word(text, at);
        words.emplace_back(text.substr(at, end - at));
        at = end;
    }
    return words;
}

std::string spice_lower(std::string_view text) {
    std::string result(text);
    std::transform(result.begin(), result.end(), result.begin(), small);
    return result;
}

bool spice_equal(std::string_view a, std::string_view b) {
    return std::equal(a.begin(), a.end(), b.begin(), b.end(),
                      [](char one, char other) { return small(one) == small(other); });
}

std::string spice_place(std::string_view source, int line) {
    return worded("{}, line {}", printable(source), line);
}

std::string spice_list(std::span<const std::string> words) {
    std::string list;
    for (std::size_t i = 0; i < words.size(); ++i) {
        list += i == 0 ? "" : i + 1 == words.size() ? " and " : ", ";
        list += words[i];
    }
    return list;
}

} // namespace railside
