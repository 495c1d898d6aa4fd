#include "core/handover/pdf_writer.h"

#include "core/handover/pdf_file.h"
#include "core/handover/pdf_type.h"
#include "core/handover/unicode.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace railside {

namespace {

// Points, 1/72 inch.
constexpr double k_side = 57;   // 20 mm
constexpr double k_top = 62;    // to the text, under the running head
constexpr double k_bottom = 62; // to the text, over the foot
constexpr double k_gutter = 11;
constexpr double k_leading = 1.4; // of the size
constexpr double k_body = 9.6;
constexpr double k_cell = 8.8;
constexpr double k_small = 7.4;
constexpr std::size_t k_many_photos = 12; // more than these stand three abreast

struct Colour {
    double red = 0;
    double green = 0;
    double blue = 0;
};
constexpr Colour k_ink = {0.09, 0.10, 0.12};
constexpr Colour k_soft = {0.34, 0.37, 0.41};
constexpr Colour k_line = {0.80, 0.82, 0.85};
constexpr Colour k_inside = {0.07, 0.44, 0.29};
constexpr Colour k_edge = {0.54, 0.35, 0.0};
constexpr Colour k_outside = {0.70, 0.15, 0.12};
constexpr Colour k_mark = {0.83, 0.22, 0.05};
constexpr Colour k_white = {1, 1, 1};

Colour verdict_colour(VerdictState state) {
    switch (state) {
    case VerdictState::in_window:
        return k_inside;
    case VerdictState::at_the_edge:
        return k_edge;
    case VerdictState::outside:
        return k_outside;
    case VerdictState::undecided:
        break;
    }
    return k_soft;
}

std::string fill(const Colour& colour) {
    return fmt::format("{:.2f} {:.2f} {:.2f} rg\n", colour.red, colour.green, colour.blue);
}
std::string stroke(const Colour& colour, double width) {
    return fmt::format("{:.2f} {:.2f} {:.2f} RG {:.2f} w\n", colour.red, colour.green, colour.blue,
                       width);
}

/// Four curves; the distance of their handles makes them a circle to 0.03 %.
std::string ellipse(double x, double y, double rx, double ry) {
    constexpr double k = 0.5523;
    return fmt::format("{:.2f} {:.2f} m {:.2f} {:.2f} {:.2f} {:.2f} {:.2f} {:.2f} c {:.2f} {:.2f} "
                       "{:.2f} {:.2f} {:.2f} {:.2f} c {:.2f} {:.2f} {:.2f} {:.2f} {:.2f} {:.2f} c "
                       "{:.2f} {:.2f} {:.2f} {:.2f} {:.2f} {:.2f} c h\n",
                       x + rx, y, x + rx, y + k * ry, x + k * rx, y + ry, x, y + ry, x - k * rx,
                       y + ry, x - rx, y + k * ry, x - rx, y, x - rx, y - k * ry, x - k * rx,
                       y - ry, x, y - ry, x + k * rx, y - ry, x + rx, y - k * ry, x + rx, y);
}

struct Page {
    std::string content;
    std::vector<int> images;
};

struct Bookmark {
    std::string text;
    std::size_t page = 0;
    double y = 0;
};

/// One line of a cell.
struct CellLine {
    std::u32string text;
    double size = k_cell;
    Weight weight = Weight::regular;
    bool soft = false;
    std::optional<VerdictState> verdict = std::nullopt;
};

class PdfWriting {
  public:
    PdfWriting(const Document& document, Paper paper, PdfType type, const ReportOutlets& outlets)
        : document_(document), outlets_(outlets), type_(std::move(type)), file_(outlets.sink),
          width_(paper == Paper::a4 ? 595.28 : 612), height_(paper == Paper::a4 ? 841.89 : 792) {}

    Result<Done> write() {
        of_ = report_steps(document_);
        if (!tell(0))
            return report_stopped();
        catalog_ = file_.reserve();
        pages_number_ = file_.reserve();
        pages_.emplace_back();
        y_ = height_ - k_top;
        title();
        for (const Block& block : document_.blocks) {
            if (!file_.state().ok())
                return file_.state();
            if (!put(block))
                return report_stopped();
        }
        missing_characters();
        finish();
        if (!file_.state().ok())
            return file_.state();
        return tell(of_) ? Result<Done>(Done{}) : Result<Done>(report_stopped());
    }

  private:
    [[nodiscard]] bool tell(int done) const {
        return !outlets_.progress || outlets_.progress(done, of_);
    }
    [[nodiscard]] double inner() const { return width_ - 2 * k_side; }
    [[nodiscard]] double page_room() const { return height_ - k_top - k_bottom; }
    [[nodiscard]] double left_on_page() const { return y_ - k_bottom; }
    [[nodiscard]] bool at_top() const { return y_ > height_ - k_top - 1; }
    std::string& out() { return pages_.back().content; }

    void new_page() {
        pages_.emplace_back();
        y_ = height_ - k_top;
    }
    void need(double height) {
        if (left_on_page() < height && !at_top())
            new_page();
    }
    void gap(double height) {
        if (!at_top())
            y_ -= height;
    }

    void rule(double x, double right, double y, const Colour& colour, double width) {
        out() += stroke(colour, width) +
                 fmt::format("{:.2f} {:.2f} m {:.2f} {:.2f} l S\n", x, y, right, y);
    }

    void line(std::u32string_view text, double size, Weight weight, const Colour& colour, double x,
              double y) {
        out() += fill(colour) + type_.show(text, size, weight, x, y);
    }

    /// Lines from the left margin and `indent`; goes on over pages.
    void paragraph(std::string_view text, double size, Weight weight, const Colour& colour,
                   double indent, double width) {
        const double step = size * k_leading;
        for (const std::u32string& one : type_.lines(text, size, weight, width)) {
            need(step);
            y_ -= step;
            line(one, size, weight, colour, k_side + indent, y_ + size * 0.32);
        }
    }

    void title() {
        line(characters_of(document_.kind), k_body, Weight::regular, k_soft, k_side, y_ - 2);
        const std::u32string date = characters_of(document_.date);
        line(date, k_body, Weight::regular, k_soft,
             width_ - k_side - type_.width(date, k_body, Weight::regular), y_ - 2);
        y_ -= 12;
        paragraph(document_.title, 23, Weight::bold, k_ink, 0, inner());
        y_ -= 9;
        rule(k_side, width_ - k_side, y_, k_ink, 1.1);
        y_ -= 12;
    }

    /// False: stopped.
    bool put(const Block& block) {
        switch (block.kind) {
        case BlockKind::heading:
            heading(block);
            break;
        case BlockKind::words:
            paragraph(block.text, k_body, Weight::regular, k_ink, 0, std::min(inner(), 430.0));
            gap(5);
            break;
        case BlockKind::quote:
            quote(block);
            break;
        case BlockKind::note:
            paragraph(block.text, k_small + 0.6, Weight::regular, k_soft, 0, inner());
            gap(5);
            break;
        case BlockKind::caution:
            caution(block);
            break;
        case BlockKind::facts:
            facts(block.table);
            break;
        case BlockKind::bullets:
            bullets(block.table);
            break;
        case BlockKind::table:
            table(block.table);
            break;
        case BlockKind::photos:
            return photos(block.photos);
        }
        return true;
    }

    void heading(const Block& block) {
        const bool first = block.level == 1;
        const double size = first ? 13 : 10;
        gap(first ? 19 : 9);
        need(first ? 96 : 70);
        if (first)
            bookmarks_.push_back({block.text, pages_.size() - 1, y_});
        paragraph(block.text, size, Weight::bold, k_ink, 0, inner());
        y_ -= first ? 5 : 2;
    }

    void quote(const Block& block) {
        const double step = k_body * k_leading;
        for (const std::u32string& one :
             type_.lines(block.text, k_body, Weight::regular, std::min(inner() - 14, 430.0))) {
            need(step);
            out() += stroke(k_line, 1.6) + fmt::format("{:.2f} {:.2f} m {:.2f} {:.2f} l S\n",
                                                       k_side + 1, y_, k_side + 1, y_ - step);
            y_ -= step;
            line(one, k_body, Weight::regular, k_ink, k_side + 14, y_ + k_body * 0.36);
        }
        gap(6);
    }

    void caution(const Block& block) {
        need(k_body * k_leading);
        const double x = k_side + 5;
        const double y = y_ - 9.8;
        out() += stroke(k_edge, 0.9) +
                 fmt::format("{:.2f} {:.2f} m {:.2f} {:.2f} l {:.2f} {:.2f} l h S\n", x - 4.6,
                             y - 0.4, x + 4.6, y - 0.4, x, y + 7.8) +
                 fmt::format("{:.2f} {:.2f} m {:.2f} {:.2f} l S {:.2f} {:.2f} m {:.2f} {:.2f} l "
                             "S\n",
                             x, y + 5, x, y + 2.4, x, y + 1.5, x, y + 0.7);
        paragraph(block.text, k_body, Weight::regular, k_ink, 16, std::min(inner() - 16, 430.0));
        gap(4);
    }

    void facts(const Table& table) {
        const double label = inner() * 0.24;
        for (const Row& row : table.rows) {
            if (row.cells.size() != 2)
                continue;
            const auto names =
                type_.lines(row.cells[0].text, k_cell, Weight::regular, label - k_gutter);
            const auto values =
                type_.lines(row.cells[1].text, k_cell, Weight::regular, inner() - label);
            const double step = k_cell * k_leading;
            const std::size_t most = std::max(names.size(), values.size());
            need(std::min(step * static_cast<double>(most), page_room()));
            for (std::size_t i = 0; i < most; ++i) {
                need(step);
                y_ -= step;
                if (i < names.size())
                    line(names[i], k_cell, Weight::regular, k_soft, k_side, y_ + 3);
                if (i < values.size())
                    line(values[i], k_cell, Weight::regular, k_ink, k_side + label, y_ + 3);
            }
            gap(1.5);
        }
        gap(4);
    }

    void bullets(const Table& table) {
        for (const Row& row : table.rows) {
            if (row.cells.empty())
                continue;
            need(k_body * k_leading);
            out() += fill(k_soft) + ellipse(k_side + 3, y_ - 8.2, 1.2, 1.2) + "f\n";
            paragraph(row.cells[0].text, k_cell + 0.3, Weight::regular, k_ink, 12,
                      std::min(inner() - 12, 440.0));
            gap(2);
        }
        gap(4);
    }

    struct Span {
        double x = 0;
        double width = 0;
        CellAlign align = CellAlign::left;
    };
    [[nodiscard]] std::vector<Span> spans(const Table& table) const {
        double shares = 0;
        for (const Column& column : table.columns)
            shares += column.share;
        std::vector<Span> all;
        all.reserve(table.columns.size());
        double x = k_side;
        for (const Column& column : table.columns) {
            const double wide = inner() * column.share / shares;
            const bool last = all.size() + 1 == table.columns.size();
            all.push_back({x, last ? wide : wide - k_gutter, column.align});
            x += wide;
        }
        return all;
    }

    [[nodiscard]] double head_height(const Table& table, const std::vector<Span>& spans) const {
        std::size_t most = 1;
        for (std::size_t i = 0; i < spans.size(); ++i)
            most = std::max(
                most,
                type_.lines(table.columns[i].title, k_small, Weight::bold, spans[i].width).size());
        return static_cast<double>(most) * k_small * k_leading + 6;
    }

    void head(const Table& table, const std::vector<Span>& spans) {
        const double height = head_height(table, spans);
        const double step = k_small * k_leading;
        for (std::size_t i = 0; i < spans.size(); ++i) {
            const auto titles =
                type_.lines(table.columns[i].title, k_small, Weight::bold, spans[i].width);
            // Titles stand on the line under them.
            double y = y_ - height + 6 + step * static_cast<double>(titles.size() - 1);
            for (const std::u32string& one : titles) {
                const double wide = type_.width(one, k_small, Weight::bold);
                line(one, k_small, Weight::bold, k_soft,
                     spans[i].align == CellAlign::right ? spans[i].x + spans[i].width - wide
                                                        : spans[i].x,
                     y);
                y -= step;
            }
        }
        y_ -= height;
        rule(k_side, width_ - k_side, y_, k_ink, 0.7);
    }

    [[nodiscard]] std::vector<CellLine> cell_lines(const Cell& cell, double width,
                                                   Weight weight) const {
        std::vector<CellLine> all;
        if (!cell.text.empty()) {
            const double room = cell.verdict ? width - 10 : width;
            for (std::u32string& one : type_.lines(cell.text, k_cell, weight, room)) {
                all.push_back({std::move(one), k_cell, weight, false});
                if (all.size() == 1)
                    all.back().verdict = cell.verdict;
            }
        }
        if (!cell.note.empty())
            for (std::u32string& one : type_.lines(cell.note, k_small, Weight::regular, width))
                all.push_back({std::move(one), k_small, Weight::regular, true});
        return all;
    }

    static double height_of(const std::vector<CellLine>& lines) {
        double height = 0;
        for (const CellLine& one : lines)
            height += one.size * k_leading;
        return height;
    }

    void verdict_shape(VerdictState state, double x, double y) {
        const Colour colour = verdict_colour(state);
        const double r = 2.9;
        switch (state) {
        case VerdictState::in_window:
            out() += fill(colour) + ellipse(x, y, r, r) + "f\n";
            break;
        case VerdictState::at_the_edge:
            out() += stroke(colour, 0.8) + ellipse(x, y, r - 0.3, r - 0.3) + "S\n" + fill(colour) +
                     fmt::format("q {:.2f} {:.2f} {:.2f} {:.2f} re W n\n", x, y - r, r, 2 * r) +
                     ellipse(x, y, r, r) + "f Q\n";
            break;
        case VerdictState::outside:
            out() += stroke(colour, 1.3) +
                     fmt::format("{:.2f} {:.2f} m {:.2f} {:.2f} l {:.2f} {:.2f} m {:.2f} {:.2f} l "
                                 "S\n",
                                 x - r + 0.4, y - r + 0.4, x + r - 0.4, y + r - 0.4, x - r + 0.4,
                                 y + r - 0.4, x + r - 0.4, y - r + 0.4);
            break;
        case VerdictState::undecided:
            out() += stroke(colour, 0.8) + ellipse(x, y, r - 0.3, r - 0.3) + "S\n";
            break;
        }
    }

    void cell_line(const CellLine& one, const Span& span, double y, bool struck) {
        const double wide = type_.width(one.text, one.size, one.weight);
        const double shape = one.verdict ? 10 : 0;
        const double x =
            span.align == CellAlign::right ? span.x + span.width - wide : span.x + shape;
        if (one.verdict)
            verdict_shape(*one.verdict, x - 6.6, y + one.size * 0.34);
        line(one.text, one.size, one.weight, one.soft || struck ? k_soft : k_ink, x, y);
        if (struck && !one.soft)
            rule(x, x + wide, y + one.size * 0.32, k_soft, 0.6);
    }

    void table(const Table& table) {
        if (table.columns.empty() || table.rows.empty())
            return;
        const std::vector<Span> columns = spans(table);
        constexpr double pad = 3.4;
        need(head_height(table, columns) + 40);
        head(table, columns);
        bool first = true;
        for (std::size_t r = 0; r < table.rows.size(); ++r) {
            const Row& row = table.rows[r];
            const bool is_group = row.look == RowLook::group;
            const Weight weight =
                is_group || row.look == RowLook::total ? Weight::bold : Weight::regular;
            std::vector<std::vector<CellLine>> cells;
            double height = 0;
            for (std::size_t i = 0; i < row.cells.size() && i < columns.size(); ++i) {
                cells.push_back(
                    cell_lines(row.cells[i], is_group ? inner() : columns[i].width, weight));
                height = std::max(height, height_of(cells.back()));
            }
            height += 2 * pad + (is_group ? 4 : 0);
            // A group stays with the row it leads.
            const double wanted = is_group ? height + 34 : height;
            if (wanted > left_on_page() && wanted <= page_room() - 30) {
                new_page();
                head(table, columns);
                first = true;
            }
            if (row.look == RowLook::total)
                rule(k_side, width_ - k_side, y_, k_ink, 0.7);
            else if (!first && !is_group)
                rule(k_side, width_ - k_side, y_, k_line, 0.45);
            first = is_group;
            y_ -= pad + (is_group ? 4 : 0);
            rows_lines(table, columns, cells, row.look == RowLook::struck);
            y_ -= pad;
        }
        rule(k_side, width_ - k_side, y_, k_line, 0.45);
        gap(9);
    }

    /// The lines of a row side by side, over as many pages as they need.
    void rows_lines(const Table& table, const std::vector<Span>& columns,
                    const std::vector<std::vector<CellLine>>& cells, bool struck) {
        std::vector<std::size_t> next(cells.size(), 0);
        while (true) {
            double lowest = y_;
            bool more = false;
            for (std::size_t i = 0; i < cells.size(); ++i) {
                double y = y_;
                while (next[i] < cells[i].size()) {
                    const CellLine& one = cells[i][next[i]];
                    const double step = one.size * k_leading;
                    if (y - step < k_bottom - 4 && !at_top()) {
                        more = true;
                        break;
                    }
                    y -= step;
                    cell_line(one, columns[i], y + one.size * 0.34, struck);
                    ++next[i];
                }
                lowest = std::min(lowest, y);
            }
            y_ = lowest;
            if (!more)
                return;
            new_page();
            head(table, columns);
            y_ -= 3.4;
        }
    }

    struct Placed {
        int image = 0; // its object; 0: there is none
        double width = 0;
        double height = 0;
        std::string why; // there is none
        std::vector<std::u32string> caption;
        std::vector<std::u32string> legend;
        const ReportPhoto* photo = nullptr;
    };

    bool photos(const std::vector<ReportPhoto>& all) {
        const std::size_t abreast = all.size() > k_many_photos ? 3 : 2;
        const double between = 16;
        const double wide =
            (inner() - between * static_cast<double>(abreast - 1)) / static_cast<double>(abreast);
        for (std::size_t i = 0; i < all.size(); i += abreast) {
            std::vector<Placed> row;
            double picture_height = 0;
            double caption_height = 0;
            for (std::size_t k = i; k < std::min(i + abreast, all.size()); ++k) {
                if (!tell(done_))
                    return false;
                row.push_back(take(all[k], wide, abreast == 2 ? 1000 : 700));
                ++done_;
                picture_height = std::max(picture_height, row.back().height);
                caption_height = std::max(
                    caption_height,
                    static_cast<double>(row.back().caption.size()) * 8.2 * k_leading +
                        static_cast<double>(row.back().legend.size()) * k_small * k_leading);
            }
            need(picture_height + caption_height + 10);
            double x = k_side;
            for (const Placed& one : row) {
                place(one, x, y_ - picture_height, wide);
                x += wide + between;
            }
            y_ -= picture_height + caption_height + 10;
            gap(10);
        }
        return true;
    }

    /// Writes the picture and keeps its size only.
    Placed take(const ReportPhoto& photo, double wide, int longest) {
        Placed placed;
        placed.photo = &photo;
        placed.width = wide;
        placed.height = wide * 0.75;
        std::string caption = photo.caption;
        if (!photo.pair.empty())
            caption = caption.empty() ? photo.pair : photo.pair + ": " + caption;
        placed.caption = type_.lines(caption, 8.2, Weight::regular, wide);
        for (std::size_t i = 0; i < photo.legend.size(); ++i)
            for (std::u32string& one : type_.lines(fmt::format("{}  {}", i + 1, photo.legend[i]),
                                                   k_small, Weight::regular, wide))
                placed.legend.push_back(std::move(one));
        const Result<BareJpeg> picture = picture_of(photo, longest);
        if (!picture.ok()) {
            placed.why = picture.error().message;
            return placed;
        }
        const double aspect = double(picture->height) / picture->width;
        placed.height = wide * aspect;
        if (const double most = wide * 1.1; placed.height > most) {
            placed.height = most;
            placed.width = most / aspect;
        }
        const std::string_view bytes(reinterpret_cast<const char*>(picture->bytes.data()),
                                     picture->bytes.size());
        placed.image = file_.stream(
            fmt::format("/Type /XObject /Subtype /Image /Width {} /Height {} /ColorSpace /{} "
                        "/BitsPerComponent 8 /Filter /DCTDecode",
                        picture->width, picture->height,
                        picture->components == 1 ? "DeviceGray" : "DeviceRGB"),
            bytes, PdfFile::Packing::as_is);
        return placed;
    }

    [[nodiscard]] Result<BareJpeg> picture_of(const ReportPhoto& photo, int longest) const {
        if (!outlets_.picture)
            return Error{ErrorCode::missing, "photo", "No pictures were given to the report."};
        const Result<std::vector<std::byte>> bytes = outlets_.picture(photo.photo, longest);
        return bytes.ok() ? bare_jpeg(*bytes) : Result<BareJpeg>(bytes.error());
    }

    void place(const Placed& one, double x, double bottom, double wide) {
        if (one.image != 0) {
            pages_.back().images.push_back(one.image);
            out() += fmt::format("q {:.2f} 0 0 {:.2f} {:.2f} {:.2f} cm /I{} Do Q\n", one.width,
                                 one.height, x, bottom, one.image);
            for (const ReportMark& mark : one.photo->marks)
                draw_mark(mark, x, bottom, one.width, one.height);
        } else {
            out() += stroke(k_line, 0.45) + fmt::format("{:.2f} {:.2f} {:.2f} {:.2f} re S\n", x,
                                                        bottom, one.width, one.height);
            double y = bottom + one.height - 16;
            for (const std::u32string& each : type_.lines("This photo cannot be shown. " + one.why,
                                                          k_small, Weight::regular, wide - 16)) {
                line(each, k_small, Weight::regular, k_soft, x + 8, y);
                y -= k_small * k_leading;
            }
        }
        double y = bottom - 11;
        for (const std::u32string& each : one.caption) {
            line(each, 8.2, Weight::regular, k_ink, x, y);
            y -= 8.2 * k_leading;
        }
        for (const std::u32string& each : one.legend) {
            line(each, k_small, Weight::regular, k_soft, x, y);
            y -= k_small * k_leading;
        }
    }

    void draw_mark(const ReportMark& one, double x, double bottom, double wide, double high) {
        const MarkRecord& mark = one.mark;
        if (mark.points.empty())
            return;
        const auto px = [&](std::size_t i) { return x + mark.points[i].x * wide; };
        const auto py = [&](std::size_t i) { return bottom + (1 - mark.points[i].y) * high; };
        double at_x = px(0);
        double at_y = py(0);
        std::string path;
        if (mark.shape == MarkShape::ring && mark.points.size() > 1) {
            path = ellipse((px(0) + px(1)) / 2, (py(0) + py(1)) / 2, std::abs(px(1) - px(0)) / 2,
                           std::abs(py(1) - py(0)) / 2);
            at_x = std::max(px(0), px(1));
            at_y = std::max(py(0), py(1));
        } else if (mark.shape == MarkShape::arrow && mark.points.size() > 1) {
            const double dx = px(1) - px(0);
            const double dy = py(1) - py(0);
            const double length = std::max(std::hypot(dx, dy), 0.1);
            const double ux = dx / length * 8;
            const double uy = dy / length * 8;
            path = fmt::format("{:.2f} {:.2f} m {:.2f} {:.2f} l {:.2f} {:.2f} m {:.2f} {:.2f} l "
                               "{:.2f} {:.2f} l\n",
                               px(0), py(0), px(1), py(1), px(1) - ux - uy * 0.6,
                               py(1) - uy + ux * 0.6, px(1), py(1), px(1) - ux + uy * 0.6,
                               py(1) - uy - ux * 0.6);
        } else if (mark.shape == MarkShape::line) {
            for (std::size_t i = 0; i < mark.points.size(); ++i)
                path += fmt::format("{:.2f} {:.2f} {}\n", px(i), py(i), i == 0 ? "m" : "l");
        }
        // Light under colour, so that it stands out on any photo.
        if (!path.empty())
            out() += "1 J 1 j\n" + stroke(k_white, 3.2) + path + "S\n" + stroke(k_mark, 1.7) +
                     path + "S\n0 J 0 j\n";
        if (one.number <= 0)
            return;
        at_x = std::clamp(at_x, x + 7, x + wide - 7);
        at_y = std::clamp(at_y, bottom + 7, bottom + high - 7);
        out() += fill(k_ink) + stroke(k_white, 1) + ellipse(at_x, at_y, 6, 6) + "B\n";
        const std::u32string number = characters_of(std::to_string(one.number));
        line(number, 7.6, Weight::bold, k_white, at_x - type_.width(number, 7.6, Weight::bold) / 2,
             at_y - 2.7);
    }

    void missing_characters() {
        const std::set<char32_t> missing = type_.missing();
        if (missing.empty())
            return;
        std::string text = "Characters that the fonts of this report do not have stand as "
                           "\xEF\xBF\xBD. They are:";
        for (const char32_t c : missing)
            text += fmt::format(" U+{:04X}", static_cast<unsigned>(c));
        gap(6);
        paragraph(text + ".", k_small, Weight::regular, k_soft, 0, inner());
    }

    void margins(std::size_t page) {
        std::string& content = pages_[page].content;
        const auto put_line = [&](std::string_view text, double y, bool right) {
            // One line: what is too long is cut.
            std::u32string one =
                type_.lines(text, k_small, Weight::regular, inner() * 0.78).front();
            const double x =
                right ? width_ - k_side - type_.width(one, k_small, Weight::regular) : k_side;
            content += fill(k_soft) + type_.show(one, k_small, Weight::regular, x, y);
        };
        if (page > 0) {
            put_line(document_.head, height_ - 38, false);
            put_line(document_.kind, height_ - 38, true);
        }
        content += stroke(k_line, 0.45) + fmt::format("{:.2f} {:.2f} m {:.2f} {:.2f} l S\n", k_side,
                                                      46.0, width_ - k_side, 46.0);
        put_line(document_.foot, 34, false);
        put_line(fmt::format("{} of {}", page + 1, pages_.size()), 34, true);
    }

    void finish() {
        for (std::size_t i = 0; i < pages_.size(); ++i)
            margins(i);
        const std::string fonts = type_.write(file_);
        std::vector<int> numbers;
        std::string kids;
        for (Page& page : pages_) {
            const int content = file_.stream("", page.content, PdfFile::Packing::pack);
            std::string images;
            for (const int image : page.images)
                images += fmt::format(" /I{0} {0} 0 R", image);
            numbers.push_back(file_.object(fmt::format(
                "<< /Type /Page /Parent {} 0 R /MediaBox [0 0 {:.2f} {:.2f}] /Contents {} 0 R "
                "/Resources << {} /XObject <<{} >> >> >>",
                pages_number_, width_, height_, content, fonts, images)));
            kids += fmt::format("{} 0 R ", numbers.back());
            page.content = {};
        }
        file_.object(pages_number_,
                     fmt::format("<< /Type /Pages /Kids [{}] /Count {} >>", kids, numbers.size()));
        const int outlines = outline(numbers);
        file_.object(catalog_,
                     fmt::format("<< /Type /Catalog /Pages {} 0 R /Lang (en) /ViewerPreferences << "
                                 "/DisplayDocTitle true >>{} >>",
                                 pages_number_,
                                 outlines == 0 ? std::string()
                                               : fmt::format(" /Outlines {} 0 R", outlines)));
        const int info = file_.object(fmt::format(
            "<< /Title {} /Producer (Railside) >>",
            pdf_text(document_.title + " – " + document_.kind + ", " + document_.date)));
        file_.finish(catalog_, info);
    }

    int outline(const std::vector<int>& pages) {
        if (bookmarks_.empty())
            return 0;
        const int root = file_.reserve();
        std::vector<int> numbers;
        numbers.reserve(bookmarks_.size());
        for (std::size_t i = 0; i < bookmarks_.size(); ++i)
            numbers.push_back(file_.reserve());
        for (std::size_t i = 0; i < bookmarks_.size(); ++i) {
            const Bookmark& one = bookmarks_[i];
            std::string body = fmt::format("<< /Title {} /Parent {} 0 R /Dest [{} 0 R /XYZ null "
                                           "{:.2f} null]",
                                           pdf_text(one.text), root, pages[one.page], one.y + 8);
            if (i > 0)
                body += fmt::format(" /Prev {} 0 R", numbers[i - 1]);
            if (i + 1 < numbers.size())
                body += fmt::format(" /Next {} 0 R", numbers[i + 1]);
            file_.object(numbers[i], body + " >>");
        }
        file_.object(root, fmt::format("<< /Type /Outlines /First {} 0 R /Last {} 0 R /Count {} >>",
                                       numbers.front(), numbers.back(), numbers.size()));
        return root;
    }

    const Document& document_;
    const ReportOutlets& outlets_;
    PdfType type_;
    PdfFile file_;
    double width_;
    double height_;
    double y_ = 0;
    int of_ = 1;
    int done_ = 0;
    int catalog_ = 0;
    int pages_number_ = 0;
    std::vector<Page> pages_;
    std::vector<Bookmark> bookmarks_;
};

} // namespace

std::string_view paper_key(Paper paper) { return paper == Paper::a4 ? "a4" : "letter"; }
std::optional<Paper> paper_from_key(std::string_view key) {
    for (const Paper paper : {Paper::a4, Paper::letter})
        if (paper_key(paper) == key)
            return paper;
    return std::nullopt;
}

Result<Done> write_pdf(const Document& document, Paper paper, const ReportFonts& fonts,
                       const ReportOutlets& outlets) {
    Result<FontFace> regular = FontFace::read(fonts.regular, "B612");
    Result<FontFace> bold = FontFace::read(fonts.bold, "B612-Bold");
    Result<FontFace> fallback = FontFace::read(fonts.fallback, "DejaVuSans");
    for (const Result<FontFace>* face : {&regular, &bold, &fallback})
        if (!face->ok())
            return face->error();
    return PdfWriting(document, paper,
                      PdfType(std::move(regular).value(), std::move(bold).value(),
                              std::move(fallback).value()),
                      outlets)
        .write();
}

} // namespace railside
