#include "app/command/text_layout.h"

#include <algorithm>

namespace railside {

std::size_t text_columns(std::string_view text) {
    // Bytes that carry on a character are not counted.
    return static_cast<std::size_t>(std::count_if(text.begin(), text.end(), [](char c) {
        return (static_cast<unsigned char>(c) & 0xC0U) != 0x80U;
    }));
}

std::string wrapped_text(std::string_view text, std::string_view first, std::size_t columns) {
    const std::size_t indent = text_columns(first);
    std::string result(first);
    std::size_t used = indent;
    bool fresh = true;
    while (!text.empty()) {
        const std::size_t end = std::min(text.find(' '), text.size());
        const std::string_view word = text.substr(0, end);
        text.remove_prefix(std::min(end + 1, text.size()));
        if (word.empty())
            continue;
        const std::size_t width = text_columns(word);
        if (!fresh && used + 1 + width > columns) {
            result += '\n';
            result.append(indent, ' ');
            used = indent;
            fresh = true;
        }
        if (!fresh) {
            result += ' ';
            ++used;
        }
        result += word;
        used += width;
        fresh = false;
    }
    while (result.ends_with(' '))
        result.pop_back();
    result += '\n';
    return result;
}

std::string TextTable::text(std::size_t indent, std::size_t columns) const {
    std::vector<std::size_t> widths;
    for (const auto& row : rows_) {
        widths.resize(std::max(widths.size(), row.size()));
        for (std::size_t i = 0; i < row.size(); ++i)
            widths[i] = std::max(widths[i], text_columns(row[i]));
    }
    std::string result;
    for (const auto& row : rows_) {
        std::string before(indent, ' ');
        for (std::size_t i = 0; i + 1 < row.size(); ++i) {
            if (widths[i] == 0)
                continue; // a column that is empty in every row takes no room
            before += row[i];
            before.append(widths[i] - text_columns(row[i]) + 2, ' ');
        }
        result += row.empty() ? "\n" : wrapped_text(row.back(), before, columns);
    }
    return result;
}

} // namespace railside
