#include "core/handover/unicode.h"
#include "core/handover/writer.h"

#include <fmt/format.h>

#include <algorithm>

namespace railside {

namespace {

std::size_t room_of(std::string_view text) {
    const std::u32string all = characters_of(text);
    return static_cast<std::size_t>(std::count_if(all.begin(), all.end(), takes_room));
}

/// Thin and unbreakable spaces are only typesetting; a message gets ordinary ones.
std::string plain(std::string_view text) {
    std::u32string all = characters_of(text);
    for (char32_t& c : all)
        if (c == 0x2009 || c == 0x202F || c == 0x00A0 || c == '\t' || c == '\r')
            c = ' ';
    return utf8_of(all);
}

class Lines {
  public:
    explicit Lines(std::size_t columns) : columns_(std::clamp<std::size_t>(columns, 20, 200)) {}

    void blank() {
        if (!text_.empty() && !text_.ends_with("\n\n"))
            text_ += '\n';
    }
    void line(const std::string& text) { text_ += text + '\n'; }

    /// Wrapped at spaces; `first` leads the first line, `indent` the others.
    void wrap(const std::string& raw, const std::string& first, const std::string& indent) {
        std::string text = plain(raw);
        std::string lead = first;
        std::size_t begin = 0;
        while (begin <= text.size()) {
            const std::size_t end = std::min(text.find('\n', begin), text.size());
            paragraph(text.substr(begin, end - begin), lead, indent);
            lead = indent;
            begin = end + 1;
        }
    }

    /// "what ......... 12.00"
    void dotted(const std::string& what, const std::string& value) {
        const std::string left = plain(what);
        const std::string right = plain(value);
        const std::size_t used = room_of(left) + room_of(right) + 2;
        if (used + 3 > columns_) {
            wrap(left, "", "  ");
            line(std::string(columns_ - std::min(columns_, room_of(right)), ' ') + right);
            return;
        }
        line(left + ' ' + std::string(columns_ - used, '.') + ' ' + right);
    }

    [[nodiscard]] std::size_t columns() const { return columns_; }
    [[nodiscard]] std::string take() {
        while (text_.ends_with("\n\n"))
            text_.pop_back();
        return std::move(text_);
    }

  private:
    void paragraph(const std::string& text, const std::string& first, const std::string& indent) {
        std::string row = first;
        std::size_t used = room_of(first);
        bool empty = true;
        std::size_t at = 0;
        while (at < text.size()) {
            const std::size_t begin = text.find_first_not_of(' ', at);
            if (begin == std::string::npos)
                break;
            const std::size_t end = std::min(text.find(' ', begin), text.size());
            std::string word = text.substr(begin, end - begin);
            at = end;
            if (!empty && used + 1 + room_of(word) > columns_) {
                line(row);
                row = indent;
                used = room_of(indent);
                empty = true;
            }
            // A word longer than the line is cut.
            while (used + room_of(word) > columns_) {
                const std::u32string all = characters_of(word);
                const std::size_t fits = std::max<std::size_t>(columns_ - used, 1);
                line(row + utf8_of(all.substr(0, fits)));
                word = utf8_of(all.substr(fits));
                row = indent;
                used = room_of(indent);
            }
            if (!empty) {
                row += ' ';
                ++used;
            }
            row += word;
            used += room_of(word);
            empty = false;
        }
        line(row);
    }

    std::size_t columns_;
    std::string text_;
};

std::string cell_text(const Cell& cell) {
    if (cell.note.empty())
        return cell.text;
    return cell.text.empty() ? cell.note : cell.text + " (" + cell.note + ")";
}

void put_table(Lines& lines, const Table& table) {
    const bool sums = table.columns.size() <= 3 && table.columns.back().align == CellAlign::right;
    for (const Row& row : table.rows) {
        if (row.cells.empty())
            continue;
        if (row.look == RowLook::group) {
            lines.blank();
            lines.wrap(row.cells.front().text + ":", "", "");
            continue;
        }
        if (sums) {
            std::string what = cell_text(row.cells.front());
            for (std::size_t i = 1; i + 1 < row.cells.size(); ++i)
                if (const std::string more = cell_text(row.cells[i]); !more.empty())
                    what.append(", ").append(more);
            if (row.look == RowLook::total)
                lines.line(std::string(lines.columns(), '-'));
            lines.dotted(what, cell_text(row.cells.back()));
            continue;
        }
        std::string lead = row.look == RowLook::struck ? "- (struck) " : "- ";
        lines.wrap(cell_text(row.cells.front()), lead, "  ");
        for (std::size_t i = 1; i < row.cells.size() && i < table.columns.size(); ++i) {
            const std::string text = cell_text(row.cells[i]);
            if (text.empty() || text == "–")
                continue;
            const std::string& title = table.columns[i].title;
            lines.wrap(title.empty() ? text : fmt::format("{}: {}", title, text), "    ", "      ");
        }
    }
}

} // namespace

std::string write_text(const Document& document, std::size_t columns) {
    Lines lines(columns);
    lines.wrap(document.title, "", "");
    lines.wrap(document.kind + ", " + document.date, "", "");
    lines.line(std::string(lines.columns(), '='));
    std::size_t photos = 0;
    for (const Block& block : document.blocks) {
        photos += block.photos.size();
        if (block.is_aside)
            continue;
        switch (block.kind) {
        case BlockKind::heading: {
            lines.blank();
            std::string text = plain(block.text);
            if (block.level == 1)
                for (char& c : text)
                    c = c >= 'a' && c <= 'z' ? static_cast<char>(c - 'a' + 'A') : c;
            lines.wrap(text, "", "");
            break;
        }
        case BlockKind::quote:
            lines.wrap("\"" + block.text + "\"", "  ", "  ");
            break;
        case BlockKind::caution:
            lines.wrap(block.text, "! ", "  ");
            break;
        case BlockKind::note:
        case BlockKind::words:
            lines.wrap(block.text, "", "");
            break;
        case BlockKind::facts:
            for (const Row& row : block.table.rows)
                if (row.cells.size() == 2)
                    lines.wrap(row.cells[0].text + ": " + row.cells[1].text, "", "  ");
            break;
        case BlockKind::bullets:
            for (const Row& row : block.table.rows)
                lines.wrap(cell_text(row.cells.front()), "- ", "  ");
            break;
        case BlockKind::table:
            put_table(lines, block.table);
            break;
        case BlockKind::photos:
            break;
        }
    }
    lines.blank();
    if (photos > 0)
        lines.wrap(photos == 1 ? "One photo is in the full report."
                               : std::to_string(photos) + " photos are in the full report.",
                   "", "");
    if (!document.foot.empty())
        lines.wrap(document.foot, "", "");
    return lines.take();
}

} // namespace railside
