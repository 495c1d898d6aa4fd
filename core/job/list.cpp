#include "core/job/list.h"

#include "core/job/utf8.h"
#include "core/quantity/value_code.h"

#include <fmt/format.h>

#include <algorithm>
#include <optional>

namespace railside {

namespace {

constexpr std::size_t k_most_list_bytes = 200'000;
constexpr std::size_t k_most_steps = 500;
constexpr std::size_t k_key_length = 40;

std::string_view trimmed(std::string_view text) {
    const std::size_t first = text.find_first_not_of(" \t");
    if (first == std::string_view::npos)
        return {};
    return text.substr(first, text.find_last_not_of(" \t") - first + 1);
}

bool is_key(std::string_view text) {
    return !text.empty() && text.size() <= k_key_length &&
           text.find_first_not_of("abcdefghijklmnopqrstuvwxyz0123456789_") ==
               std::string_view::npos;
}

/// "Reservoirs below 5 V, measured" -> "reservoirs_below_5_v_measured"; empty when nothing of it is
/// a letter or digit.
std::string key_of(std::string_view text) {
    std::string key;
    for (const char c : text) {
        const char small = c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c;
        if ((small >= 'a' && small <= 'z') || (small >= '0' && small <= '9'))
            key += small;
        else if (!key.empty() && key.back() != '_')
            key += '_';
        if (key.size() == k_key_length)
            break;
    }
    while (!key.empty() && key.back() == '_')
        key.pop_back();
    return key;
}

/// One file being read, line by line; the first refusal ends it.
class Reader {
  public:
    explicit Reader(std::string_view file_name) : file_name_(file_name) {}

    Result<StepList> read(std::string_view text) {
        if (text.size() > k_most_list_bytes)
            return whole(fmt::format("holds {} bytes; a list has at most {}", text.size(),
                                     k_most_list_bytes));
        if (text.starts_with("\xEF\xBB\xBF"))
            text.remove_prefix(3);
        while (!text.empty() && !error_) {
            const std::size_t end = text.find('\n');
            std::string_view line = text.substr(0, end);
            text.remove_prefix(end == std::string_view::npos ? text.size() : end + 1);
            ++number_;
            if (line.ends_with('\r'))
                line.remove_suffix(1);
            take(line);
        }
        if (!error_)
            finish_step();
        if (error_)
            return *error_;
        if (list_.name.empty())
            return whole(
                "gives the list no name; a line \"name: ...\" was expected before the first step");
        if (list_.steps.empty())
            return whole("holds no step; at least one line \"- ...\" was expected");
        if (list_.key.empty())
            list_.key = stem();
        if (list_.key.empty())
            return whole(
                "gives the list no key and its name holds none; a line \"key: ...\" was expected");
        return list_;
    }

  private:
    [[nodiscard]] Error whole(std::string_view what) const {
        return Error{ErrorCode::bad_text, file_name_, fmt::format("{} {}.", file_name_, what)};
    }

    void refuse(std::size_t line, std::string_view expected) {
        if (!error_)
            error_ = Error{ErrorCode::bad_text, file_name_,
                           fmt::format("{}, line {}: {}.", file_name_, line, expected)};
    }

    [[nodiscard]] std::string stem() const {
        std::string_view name = file_name_;
        if (const std::size_t slash = name.find_last_of("/\\"); slash != std::string_view::npos)
            name.remove_prefix(slash + 1);
        return key_of(name.substr(0, name.find('.')));
    }

    void take(std::string_view line) {
        if (!is_utf8(line))
            return refuse(number_, "the text is not UTF-8");
        if (std::any_of(line.begin(), line.end(),
                        [](char c) { return static_cast<unsigned char>(c) < 0x20 && c != '\t'; }))
            return refuse(number_, "it holds a control character; plain text was expected");
        const std::string_view inside = trimmed(line);
        if (inside.empty() || inside[0] == '#')
            return;
        const bool indented = line[0] == ' ' || line[0] == '\t';
        if (!indented && line[0] == '-')
            begin_step(trimmed(line.substr(1)));
        else if (!indented)
            take_head(inside);
        else if (!step_)
            refuse(number_, "an indented line belongs to a step, and no step stands above it; \"- "
                            "...\" was expected");
        else
            take_member(inside);
    }

    /// "word: rest" in two; the second is empty when there is no colon.
    static std::pair<std::string_view, std::optional<std::string_view>>
    split(std::string_view line) {
        const std::size_t colon = line.find(':');
        if (colon == std::string_view::npos)
            return {line, std::nullopt};
        return {trimmed(line.substr(0, colon)), trimmed(line.substr(colon + 1))};
    }

    bool once(std::string_view word, std::vector<std::string>& seen) {
        if (std::find(seen.begin(), seen.end(), word) != seen.end()) {
            refuse(number_, fmt::format("\"{}\" was given already", word));
            return false;
        }
        seen.emplace_back(word);
        return true;
    }

    void take_head(std::string_view line) {
        const auto [word, rest] = split(line);
        if (step_)
            return refuse(
                number_,
                fmt::format(
                    "\"- ...\" for a step, or an indented line for the step above, was expected; "
                    "this is \"{:.40}\"",
                    word));
        if (!rest || (word != "name" && word != "intro" && word != "key"))
            return refuse(number_,
                          "\"name: ...\", \"intro: ...\", \"key: ...\" or \"- ...\" was expected");
        if (rest->empty())
            return refuse(number_, fmt::format("a text was expected after \"{}:\"", word));
        if (!once(word, head_seen_))
            return;
        if (word == "name")
            list_.name = *rest;
        else if (word == "intro")
            list_.intro = *rest;
        else if (is_key(*rest))
            list_.key = *rest;
        else
            refuse(number_, k_key_form);
    }

    void begin_step(std::string_view text) {
        finish_step();
        if (text.empty())
            return refuse(number_, "the step's text was expected after \"-\"");
        if (list_.steps.size() == k_most_steps)
            return refuse(number_, fmt::format("this is step {}; a list has at most {}",
                                               k_most_steps + 1, k_most_steps));
        step_.emplace();
        step_->text = text;
        step_line_ = number_;
        seen_.clear();
    }

    void finish_step() {
        if (!step_)
            return;
        if (step_->key.empty())
            step_->key = key_of(step_->text);
        if (step_->key.empty())
            return refuse(step_line_, "no key can be made of the step's text; an indented line "
                                      "\"key: ...\" was expected");
        for (const ListStep& other : list_.steps)
            if (other.key == step_->key)
                return refuse(
                    step_line_,
                    fmt::format("another step has the key \"{}\" already; an indented line "
                                "\"key: ...\" with another one was expected",
                                step_->key));
        list_.steps.push_back(std::move(*step_));
        step_.reset();
    }

    void take_member(std::string_view line) {
        const auto [word, rest] = split(line);
        if (word == "photo" || word == "bars") {
            if (rest)
                return refuse(number_, fmt::format("nothing was expected after \"{}\"", word));
            if (!once(word, seen_))
                return;
            if (word == "bars")
                step_->bars = true;
            else
                become(StepKind::photo);
            return;
        }
        if (word != "hint" && word != "caution" && word != "key" && word != "choices" &&
            word != "reading")
            return refuse(
                number_,
                fmt::format("\"hint: ...\", \"caution: ...\", \"choices: ...\", \"reading: ...\", "
                            "\"key: ...\", \"photo\" or \"bars\" was expected; this is \"{:.40}\"",
                            word));
        if (!rest || rest->empty())
            return refuse(
                number_,
                fmt::format("\"{}: ...\" was expected, with something after the colon", word));
        if (!once(word, seen_))
            return;
        if (word == "hint")
            step_->hint = *rest;
        else if (word == "caution")
            step_->caution = *rest;
        else if (word == "choices")
            take_choices(*rest);
        else if (word == "reading")
            take_reading(*rest);
        else if (is_key(*rest))
            step_->key = *rest;
        else
            refuse(number_, k_key_form);
    }

    void become(StepKind kind) {
        if (step_->kind != StepKind::tick)
            return refuse(number_, "a step asks for one thing only: choices, a reading or a photo");
        step_->kind = kind;
    }

    void take_choices(std::string_view text) {
        become(StepKind::choice);
        bool goes_on = false;
        while (true) {
            const std::size_t comma = text.find(',');
            StepChoice choice;
            std::string_view word = trimmed(text.substr(0, comma));
            if (word.ends_with('!')) {
                choice.stops = true;
                word = trimmed(word.substr(0, word.size() - 1));
            }
            choice.word = word;
            if (word.empty())
                return refuse(
                    number_,
                    "words with commas between them were expected, as in \"dark, dim, bright!\"");
            for (const StepChoice& other : step_->choices)
                if (other.word == choice.word)
                    return refuse(number_,
                                  fmt::format("the choice \"{}\" was given already", choice.word));
            goes_on = goes_on || !choice.stops;
            step_->choices.push_back(std::move(choice));
            if (comma == std::string_view::npos)
                break;
            text.remove_prefix(comma + 1);
        }
        if (step_->choices.size() < 2)
            return refuse(number_, "at least two choices were expected");
        if (!goes_on)
            refuse(number_, "at least one choice without \"!\" was expected: otherwise the step "
                            "can never be done");
    }

    void take_reading(std::string_view text) {
        become(StepKind::reading);
        const std::string_view form =
            "a unit and a window were expected, as in \"reading: volt \u2212"
            "50m to 50m\"";
        const std::size_t space = text.find_first_of(" \t");
        const std::size_t to = text.find(" to ");
        if (space == std::string_view::npos || to == std::string_view::npos || to < space)
            return refuse(number_, form);
        const std::string_view unit_key = text.substr(0, space);
        const std::optional<Unit> unit = unit_from_key(unit_key);
        if (!unit)
            return refuse(number_, fmt::format("\"{:.40}\" is not a unit; {}", unit_key, form));
        step_->unit = *unit;
        step_->low_text = trimmed(text.substr(space, to - space));
        step_->high_text = trimmed(text.substr(to + 4));
        const Result<ParsedValue> low = parse_value(step_->low_text, *unit, "lower end");
        if (!low.ok())
            return refuse(number_, without_stop(low.error().message));
        const Result<ParsedValue> high = parse_value(step_->high_text, *unit, "upper end");
        if (!high.ok())
            return refuse(number_, without_stop(high.error().message));
        step_->low = low->value;
        step_->high = high->value;
        if (step_->low > step_->high)
            refuse(number_, fmt::format("the lower end {} lies above the upper end {}",
                                        step_->low_text, step_->high_text));
    }

    static std::string_view without_stop(std::string_view sentence) {
        return sentence.ends_with('.') ? sentence.substr(0, sentence.size() - 1) : sentence;
    }

    static constexpr std::string_view k_key_form =
        "a key was expected: at most 40 of the letters a to z, digits and \"_\"";

    std::string file_name_;
    std::size_t number_ = 0;
    std::size_t step_line_ = 0;
    StepList list_;
    std::optional<ListStep> step_;
    std::vector<std::string> head_seen_;
    std::vector<std::string> seen_;
    std::optional<Error> error_;
};

} // namespace

Result<StepList> parse_list(std::string_view text, std::string_view file_name) {
    return Reader(file_name).read(text);
}

std::string list_key_of(std::string_view text) { return key_of(text); }

std::string print_list(const StepList& list) {
    std::string text;
    const auto add = [&text](std::string_view before, std::string_view words) {
        text += before;
        // One line each: what the grammar ends a text with becomes a space, and none stands twice.
        bool space = true;
        std::string line;
        for (const char c : words) {
            const bool blank = c == '\n' || c == '\r' || c == '\t' || c == ' ';
            if (!blank)
                line += c;
            else if (!space)
                line += ' ';
            space = blank;
        }
        while (!line.empty() && line.back() == ' ')
            line.pop_back();
        text += line;
        text += '\n';
    };
    add("name: ", list.name);
    add("key: ", list.key);
    if (!list.intro.empty())
        add("intro: ", list.intro);
    for (const ListStep& step : list.steps) {
        add("\n- ", step.text);
        add("  key: ", step.key);
        if (!step.hint.empty())
            add("  hint: ", step.hint);
        if (!step.caution.empty())
            add("  caution: ", step.caution);
        switch (step.kind) {
        case StepKind::tick:
            break;
        case StepKind::photo:
            text += "  photo\n";
            break;
        case StepKind::choice: {
            std::string words;
            for (const StepChoice& choice : step.choices)
                words += fmt::format("{}{}{}", words.empty() ? "" : ", ", choice.word,
                                     choice.stops ? "!" : "");
            add("  choices: ", words);
            break;
        }
        case StepKind::reading:
            add("  reading: ", fmt::format("{} {} to {}", unit_info(step.unit).key, step.low_text,
                                           step.high_text));
            break;
        }
        if (step.bars)
            text += "  bars\n";
    }
    return text;
}

} // namespace railside
