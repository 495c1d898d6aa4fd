#include "core/words/words.h"

#include <algorithm>
#include <cctype>
#include <optional>
#include <vector>

namespace railside {

namespace {

constexpr std::size_t k_most_bytes = 4'000'000;

std::shared_ptr<const Catalogue>& spoken() {
    static std::shared_ptr<const Catalogue> catalogue;
    return catalogue;
}

/// The places of a sentence by number: "{1:.2f} {0}" has places 1 and 0.
struct Places {
    std::vector<std::string> form; // by number: ":.2f"
    std::size_t used = 0;
};

/// None where the braces are not those of a sentence fmt takes.
std::optional<Places> places_of(std::string_view text) {
    Places places;
    bool numbered = false;
    bool counted = false;
    for (std::size_t i = 0; i < text.size(); ++i) {
        if (text[i] != '{' && text[i] != '}')
            continue;
        if (i + 1 < text.size() && text[i + 1] == text[i]) {
            ++i;
            continue;
        }
        if (text[i] == '}')
            return std::nullopt;
        std::size_t end = i + 1;
        for (int depth = 1; depth > 0; ++end) {
            if (end >= text.size())
                return std::nullopt;
            depth += text[end] == '{' ? 1 : text[end] == '}' ? -1 : 0;
        }
        const std::string_view inside = text.substr(i + 1, end - i - 2);
        std::size_t digits = 0;
        std::size_t number = 0;
        while (digits < inside.size() &&
               std::isdigit(static_cast<unsigned char>(inside[digits])) != 0 && digits < 3)
            number = number * 10 + static_cast<std::size_t>(inside[digits++] - '0');
        (digits > 0 ? numbered : counted) = true;
        if (digits == 0)
            number = places.form.size();
        const std::string_view form = inside.substr(digits);
        if (!form.empty() && form.front() != ':')
            return std::nullopt;
        if (places.form.size() <= number)
            places.form.resize(number + 1, "?");
        if (places.form[number] != "?" && places.form[number] != form)
            return std::nullopt;
        places.form[number] = form;
        ++places.used;
        i = end - 1;
    }
    if (numbered && counted)
        return std::nullopt;
    return places;
}

/// Whether the other sentence can be given what this one is given.
bool same_places(std::string_view english, std::string_view other) {
    const auto mine = places_of(english);
    if (!mine || std::find(mine->form.begin(), mine->form.end(), "?") != mine->form.end())
        return true; // is no sentence with places: never given to fmt
    const auto theirs = places_of(other);
    return theirs && theirs->form == mine->form;
}

/// What stands between the quotation marks of a line, its escapes undone.
std::optional<std::string> quoted(std::string_view line) {
    while (!line.empty() && (line.back() == ' ' || line.back() == '\t' || line.back() == '\r'))
        line.remove_suffix(1);
    if (line.size() < 2 || line.front() != '"' || line.back() != '"')
        return std::nullopt;
    line = line.substr(1, line.size() - 2);
    std::string text;
    for (std::size_t i = 0; i < line.size(); ++i) {
        if (line[i] == '"')
            return std::nullopt;
        if (line[i] != '\\') {
            text += line[i];
            continue;
        }
        if (++i == line.size())
            return std::nullopt;
        switch (line[i]) {
        case 'n':
            text += '\n';
            break;
        case 't':
            text += '\t';
            break;
        case '"':
        case '\\':
            text += line[i];
            break;
        default:
            return std::nullopt;
        }
    }
    return text;
}

} // namespace

Result<Catalogue> Catalogue::read(std::string_view po, std::string_view file_name) {
    const auto refuse = [&](int line, std::string_view why) {
        return Error{ErrorCode::bad_text, std::string(file_name),
                     fmt::format("{} is not taken, line {}: {}. English stays. Accepted: a gettext "
                                 "PO file in UTF-8, each translation with the {{}} places of its "
                                 "English.",
                                 file_name, line, why)};
    };
    if (po.size() > k_most_bytes)
        return refuse(1, "it is larger than 4 MB");
    Catalogue catalogue;
    std::string english;
    std::string other;
    std::string* into = nullptr;
    bool fuzzy = false;
    bool plural = false;
    int line = 0;
    int begun = 0;
    std::optional<Error> wrong;
    const auto finish = [&] {
        if (into != nullptr && !english.empty() && !other.empty() && !fuzzy && !plural) {
            if (!same_places(english, other) && !wrong)
                wrong = refuse(begun, "the {} places are not those of its English");
            catalogue.words_[english] = other;
        }
        english.clear();
        other.clear();
        into = nullptr;
        fuzzy = plural = false;
    };
    bool translated = false; // msgstr of this entry was seen
    while (!po.empty()) {
        const std::size_t end = std::min(po.find('\n'), po.size());
        std::string_view text = po.substr(0, end);
        po.remove_prefix(std::min(po.size(), end + 1));
        ++line;
        if (text.ends_with('\r'))
            text.remove_suffix(1);
        if (text.find_first_not_of(" \t") == std::string_view::npos)
            continue;
        if (text.starts_with("#")) {
            if (translated)
                finish(), translated = false;
            if (text.starts_with("#,") && text.find("fuzzy") != std::string_view::npos)
                fuzzy = true;
            continue;
        }
        const auto begins = [&text](std::string_view word) {
            if (!text.starts_with(word))
                return false;
            text.remove_prefix(word.size());
            text.remove_prefix(std::min(text.size(), text.find_first_not_of(' ')));
            return true;
        };
        if (begins("msgctxt ")) {
            if (translated)
                finish(), translated = false;
            into = nullptr;
            continue;
        }
        if (begins("msgid_plural ")) {
            plural = true;
            into = nullptr;
            continue;
        }
        if (begins("msgid ")) {
            if (translated) {
                finish();
                translated = false;
            }
            into = &english;
            begun = line;
        } else if (begins("msgstr ")) {
            into = &other;
            translated = true;
        } else if (begins("msgstr[")) {
            plural = translated = true;
            into = nullptr;
            continue;
        } else if (!text.starts_with("\"")) {
            return refuse(line, "that is no line of a PO file");
        }
        const auto piece = quoted(text);
        if (!piece)
            return refuse(line, "that is no text between quotation marks");
        if (into != nullptr)
            *into += *piece;
    }
    if (translated)
        finish();
    if (wrong)
        return *wrong;
    return catalogue;
}

std::string_view Catalogue::find(std::string_view english) const {
    const auto at = words_.find(english);
    return at == words_.end() ? english : std::string_view(at->second);
}

void set_catalogue(std::shared_ptr<const Catalogue> catalogue) { spoken() = std::move(catalogue); }

std::string_view words(std::string_view english) {
    const Catalogue* catalogue = spoken().get();
    return catalogue == nullptr || english.empty() ? english : catalogue->find(english);
}

} // namespace railside
