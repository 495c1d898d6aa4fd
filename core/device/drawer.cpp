#include "core/device/drawer.h"

#include "core/quantity/ascii.h"
#include "core/quantity/refusal.h"
#include "core/words/words.h"

#include <fmt/format.h>

#include <algorithm>

namespace railside {

namespace {

constexpr std::size_t k_most_lines = 2000;
constexpr int k_most = 99'999;
constexpr std::string_view k_times = "\u00d7";

bool is_letter(char c) { return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z'); }

std::string_view trimmed(std::string_view text) {
    const std::size_t first = text.find_first_not_of(" \t");
    if (first == std::string_view::npos) {
        return {};
    }
    return text.substr(first, text.find_last_not_of(" \t") - first + 1);
}

Error refuse(ErrorCode code, std::size_t line, std::string_view why) {
    return {code, "Drawer", worded("Drawer, line {}: {}.", line, why)};
}

/// "MJL3281A x 4" parted at its x; the second is empty when there is none. The x of a type
/// ("BDX53") stands between letters and figures without a space.
struct TypeAndCount {
    std::string_view type;
    std::string_view count;
    bool times = false;
};

TypeAndCount part_at_times(std::string_view text) {
    if (const std::size_t at = text.rfind(k_times); at != std::string_view::npos) {
        return {trimmed(text.substr(0, at)), trimmed(text.substr(at + k_times.size())), true};
    }
    const auto is_space = [text](std::size_t at) { return text[at] == ' ' || text[at] == '\t'; };
    for (std::size_t at = text.size(); at-- > 0;) {
        if ((text[at] == 'x' || text[at] == 'X') && (at == 0 || is_space(at - 1)) &&
            (at + 1 == text.size() || is_space(at + 1) || is_digit(text[at + 1]))) {
            return {trimmed(text.substr(0, at)), trimmed(text.substr(at + 1)), true};
        }
    }
    return {text, {}, false};
}

bool is_type(std::string_view text) {
    return !text.empty() && text.size() <= 40 &&
           std::all_of(text.begin(), text.end(),
                       [](char c) {
                           return is_digit(c) || is_letter(c) || c == ' ' || c == '-' || c == '/' ||
                                  c == '(' || c == ')';
                       }) &&
           std::any_of(text.begin(), text.end(), is_digit) &&
           std::any_of(text.begin(), text.end(), is_letter);
}

void add(Drawer& drawer, DrawerLine line) {
    const auto held = std::find_if(drawer.begin(), drawer.end(), [&line](const DrawerLine& other) {
        return same_type(other.type, line.type) && other.place == line.place;
    });
    if (held == drawer.end()) {
        drawer.push_back(std::move(line));
    } else {
        held->count = std::min(held->count + line.count, k_most);
    }
}

} // namespace

Result<Drawer> read_drawer(std::string_view text) {
    Drawer drawer;
    for (std::size_t number = 1; !text.empty(); ++number) {
        if (number > k_most_lines) {
            return refuse(ErrorCode::out_of_range, number,
                          worded("a drawer has at most {} lines", k_most_lines));
        }
        const std::size_t end = text.find('\n');
        std::string_view whole = text.substr(0, end);
        text.remove_prefix(end == std::string_view::npos ? text.size() : end + 1);
        if (whole.ends_with('\r')) {
            whole.remove_suffix(1);
        }
        const std::string_view inside = trimmed(whole);
        if (inside.empty() || inside.front() == '#') {
            continue;
        }
        const std::size_t semicolon = inside.find(';');
        DrawerLine line;
        if (semicolon != std::string_view::npos) {
            const std::string_view place = trimmed(inside.substr(semicolon + 1));
            if (printable(place) != place) {
                return refuse(
                    ErrorCode::bad_text, number,
                    worded("the place {} is not text of at most 40 letters", quoted(place)));
            }
            line.place = place;
        }
        const TypeAndCount parts = part_at_times(trimmed(inside.substr(0, semicolon)));
        if (!is_type(parts.type)) {
            return refuse(ErrorCode::bad_text, number,
                          worded("{} is no type number; a line such as \"MJL3281A x 4; shelf "
                                 "3\" was expected",
                                 quoted(parts.type)));
        }
        line.type = parts.type;
        if (parts.times) {
            if (parts.count.empty() || parts.count.size() > 5 ||
                !std::all_of(parts.count.begin(), parts.count.end(), is_digit)) {
                return refuse(ErrorCode::out_of_range, number,
                              worded("the count {} of {} is no whole number, 0 to {}",
                                     quoted(parts.count), line.type, k_most));
            }
            line.count = 0;
            for (const char c : parts.count) {
                line.count = 10 * line.count + (c - '0');
            }
        }
        add(drawer, std::move(line));
    }
    return drawer;
}

std::string print_drawer(const Drawer& drawer) {
    std::string text;
    for (const DrawerLine& line : drawer) {
        text += fmt::format("{} x {}{}{}\n", line.type, line.count, line.place.empty() ? "" : "; ",
                            line.place);
    }
    return text;
}

Drawer merge_drawers(const Drawer& a, const Drawer& b) {
    Drawer merged;
    for (const Drawer* drawer : {&a, &b}) {
        for (const DrawerLine& line : *drawer) {
            add(merged, line);
        }
    }
    return merged;
}

Stock stock_of(const Drawer& drawer, const PartsTable& table, const Part& part,
               const std::optional<GainGroup>& group) {
    Stock stock;
    for (const DrawerLine& line : drawer) {
        bool counts = !group && same_type(line.type, part.type);
        if (const auto found = find_part(table, line.type); found && found->part == &part) {
            // Letters that may mean another voltage make it another part.
            counts = found->rest_is_known && (!group || found->group == group);
        }
        if (!counts || line.count == 0) {
            continue;
        }
        stock.count = std::min(stock.count + line.count, k_most);
        stock.where += fmt::format("{}{}{}{}", stock.where.empty() ? "" : ", ", line.count,
                                   line.place.empty() ? "" : " in ", line.place);
    }
    return stock;
}

} // namespace railside
