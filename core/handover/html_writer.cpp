#include "core/handover/base64.h"
#include "core/handover/unicode.h"
#include "core/handover/writer.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace railside {

namespace {

constexpr int k_longest = 1000; // pixels of a photo's longer side

constexpr std::string_view k_style = R"(
:root{--ink:#16191d;--soft:#565d66;--line:#c9ced4;--in:#12704a;--edge:#8a5a00;--out:#b3261e}
*{box-sizing:border-box}
html{-webkit-text-size-adjust:100%}
body{margin:0;background:#fff;color:var(--ink);font:16px/1.5 B612,"Segoe UI",Roboto,"DejaVu Sans",system-ui,sans-serif;font-variant-numeric:tabular-nums}
main{max-width:52rem;margin:0 auto;padding:2.5rem 1.25rem 3rem}
header{border-bottom:2px solid var(--ink);padding-bottom:1rem;margin-bottom:1.5rem;display:flex;flex-wrap:wrap;gap:.25rem 2rem;align-items:baseline;justify-content:space-between}
header p{margin:0;color:var(--soft)}
header .kind{flex-basis:100%}
h1{font-size:1.9rem;line-height:1.2;margin:0}
h2{font-size:1.2rem;line-height:1.3;margin:2.4rem 0 .6rem}
h3{font-size:1rem;margin:1.5rem 0 .4rem}
p{margin:0 0 .7rem;max-width:42rem;overflow-wrap:anywhere;white-space:pre-line}
blockquote{margin:0 0 .7rem;padding-left:1rem;border-left:2px solid var(--line);max-width:42rem;white-space:pre-line;overflow-wrap:anywhere}
.note{color:var(--soft);font-size:.875rem}
.caution{padding-left:1.6rem;position:relative}
.caution svg{position:absolute;left:0;top:.25rem}
ul{margin:0 0 .7rem;padding-left:1.2rem;max-width:44rem}
li{margin-bottom:.3rem;overflow-wrap:anywhere}
table{border-collapse:collapse;width:100%;margin:0 0 1rem;font-size:.92rem}
th,td{text-align:left;vertical-align:top;padding:.45rem .9rem .45rem 0;border-bottom:1px solid var(--line);font-weight:400;overflow-wrap:anywhere}
th:last-child,td:last-child{padding-right:0}
thead th{color:var(--soft);font-size:.8rem;border-bottom:1px solid var(--ink);vertical-align:bottom}
tbody th{font-weight:400}
.r{text-align:right;white-space:nowrap}
small{display:block;color:var(--soft);font-size:.8rem;line-height:1.4}
.total th,.total td{font-weight:700;border-top:1px solid var(--ink)}
.group th{font-weight:700;padding-top:1rem}
.struck th,.struck td{text-decoration:line-through;color:var(--soft)}
.facts th{width:26%;color:var(--soft)}
.facts th,.facts td{border:0;padding-top:.15rem;padding-bottom:.15rem}
td svg,.caution svg{width:.75em;height:.75em;margin-right:.4em}
.v0{color:var(--in)}.v1{color:var(--edge)}.v2{color:var(--out)}.v3{color:var(--soft)}
.photos{display:grid;grid-template-columns:repeat(2,1fr);gap:1.5rem}
figure{margin:0;break-inside:avoid}
.frame{position:relative;background:#f1f2f4}
.frame img{display:block;width:100%;height:auto}
.frame svg{position:absolute;inset:0;width:100%;height:100%}
.gone{padding:2rem 1rem;color:var(--soft);border:1px solid var(--line)}
figcaption{font-size:.875rem;margin-top:.4rem}
figcaption ol{margin:.2rem 0 0;padding-left:1.3rem;color:var(--soft)}
footer{margin-top:2.5rem;padding-top:.7rem;border-top:1px solid var(--line);color:var(--soft);font-size:.8rem;overflow-wrap:anywhere}
@media (max-width:40rem){
main{padding:1.25rem 1rem 2rem}
h1{font-size:1.5rem}
.photos{grid-template-columns:1fr}
.rows thead{position:absolute;width:1px;height:1px;overflow:hidden;clip-path:inset(50%)}
.rows,.rows tbody,.rows tr,.rows th,.rows td{display:block;width:100%}
.rows tr{border-bottom:1px solid var(--line);padding:.6rem 0}
.rows th,.rows td{border:0;padding:.1rem 0}
.rows tbody th{font-weight:700}
.rows td[data-label]{display:grid;grid-template-columns:7.5rem 1fr;gap:.6rem;text-align:left;white-space:normal}
.rows td[data-label]::before{content:attr(data-label);color:var(--soft);font-size:.8rem;padding-top:.1rem}
.rows td:empty,.rows .none{display:none}
.facts th{width:34%}
}
@media print{
@page{margin:18mm 20mm}
body{font-size:10.5pt}
main{max-width:none;padding:0}
h2,h3{break-after:avoid}
tr,figure,.caution{break-inside:avoid}
thead{display:table-header-group}
}
)";

std::string escaped(std::string_view text) {
    std::string safe;
    safe.reserve(text.size());
    for (const char c : text) {
        switch (c) {
        case '&':
            safe += "&amp;";
            break;
        case '<':
            safe += "&lt;";
            break;
        case '>':
            safe += "&gt;";
            break;
        case '"':
            safe += "&quot;";
            break;
        case '\'':
            safe += "&#39;";
            break;
        default:
            if (static_cast<unsigned char>(c) >= 0x20 || c == '\n')
                safe += c == '\x7F' ? ' ' : c;
            else
                safe += ' ';
        }
    }
    return safe;
}

/// The shapes of the screen: disc, half disc, cross, ring.
std::string verdict_shape(VerdictState state) {
    const auto number = static_cast<int>(state);
    std::string_view shape;
    switch (state) {
    case VerdictState::in_window:
        shape = R"(<circle cx="8" cy="8" r="6.5" fill="currentColor"/>)";
        break;
    case VerdictState::at_the_edge:
        shape =
            R"(<circle cx="8" cy="8" r="6" fill="none" stroke="currentColor" stroke-width="1.6"/>)"
            R"(<path d="M8 2a6 6 0 0 1 0 12z" fill="currentColor"/>)";
        break;
    case VerdictState::outside:
        shape =
            R"(<path d="M2.5 2.5l11 11m0-11l-11 11" stroke="currentColor" stroke-width="2.6"/>)";
        break;
    case VerdictState::undecided:
        shape =
            R"(<circle cx="8" cy="8" r="6" fill="none" stroke="currentColor" stroke-width="1.6"/>)";
        break;
    }
    return fmt::format(R"(<svg class="v{}" viewBox="0 0 16 16" aria-hidden="true">{}</svg>)",
                       number, shape);
}

std::string cell_inside(const Cell& cell) {
    std::string text;
    if (cell.verdict)
        text += verdict_shape(*cell.verdict);
    text += escaped(cell.text);
    if (!cell.note.empty())
        text += fmt::format("<small>{}</small>", escaped(cell.note));
    return text;
}

std::string table_html(const Block& block) {
    const Table& table = block.table;
    const bool is_facts = block.kind == BlockKind::facts;
    std::string html = is_facts ? "<table class=\"facts\">\n" : "<table class=\"rows\">\n";
    if (!is_facts) {
        html += "<thead><tr>";
        for (const Column& column : table.columns)
            html += fmt::format("<th scope=\"col\"{}>{}</th>",
                                column.align == CellAlign::right ? " class=\"r\"" : "",
                                escaped(column.title));
        html += "</tr></thead>\n";
    }
    html += "<tbody>\n";
    for (const Row& row : table.rows) {
        switch (row.look) {
        case RowLook::plain:
            html += "<tr>";
            break;
        case RowLook::total:
            html += "<tr class=\"total\">";
            break;
        case RowLook::struck:
            html += "<tr class=\"struck\">";
            break;
        case RowLook::group:
            html += fmt::format("<tr class=\"group\"><th scope=\"colgroup\" colspan=\"{}\">{}</th>"
                                "</tr>\n",
                                table.columns.size(),
                                row.cells.empty() ? std::string() : cell_inside(row.cells[0]));
            continue;
        }
        for (std::size_t i = 0; i < row.cells.size(); ++i) {
            const Column column = i < table.columns.size() ? table.columns[i] : Column{};
            if (i == 0) {
                html += fmt::format("<th scope=\"row\" dir=\"auto\">{}</th>",
                                    cell_inside(row.cells[i]));
                continue;
            }
            std::string classes = column.align == CellAlign::right ? "r" : "";
            if (row.cells[i].text.empty() && row.cells[i].note.empty())
                classes += classes.empty() ? "none" : " none";
            html += "<td";
            if (!classes.empty())
                html += fmt::format(" class=\"{}\"", classes);
            if (!is_facts && !column.title.empty())
                html += fmt::format(" data-label=\"{}\"", escaped(column.title));
            html += fmt::format("><div dir=\"auto\">{}</div></td>", cell_inside(row.cells[i]));
        }
        html += "</tr>\n";
    }
    return html + "</tbody></table>\n";
}

/// Marks over a photo of that size: white under ink, so that they stand out on light and dark.
std::string marks_svg(const ReportPhoto& photo) {
    if (photo.marks.empty())
        return {};
    const double w = 1000;
    const double h = photo.photo.width > 0 ? 1000.0 * photo.photo.height / photo.photo.width : 750;
    std::string shapes;
    std::string labels;
    for (const ReportMark& one : photo.marks) {
        const MarkRecord& mark = one.mark;
        if (mark.points.empty())
            continue;
        const auto x = [&](std::size_t i) { return mark.points[i].x * w; };
        const auto y = [&](std::size_t i) { return mark.points[i].y * h; };
        const std::size_t last = mark.points.size() - 1;
        double at_x = x(0);
        double at_y = y(0);
        switch (mark.shape) {
        case MarkShape::ring:
            if (last < 1)
                continue;
            shapes += fmt::format("<ellipse cx=\"{:.1f}\" cy=\"{:.1f}\" rx=\"{:.1f}\" "
                                  "ry=\"{:.1f}\"/>",
                                  (x(0) + x(1)) / 2, (y(0) + y(1)) / 2, std::abs(x(1) - x(0)) / 2,
                                  std::abs(y(1) - y(0)) / 2);
            at_x = std::max(x(0), x(1));
            at_y = std::min(y(0), y(1));
            break;
        case MarkShape::arrow: {
            if (last < 1)
                continue;
            const double dx = x(1) - x(0);
            const double dy = y(1) - y(0);
            const double length = std::max(std::hypot(dx, dy), 1.0);
            const double ux = dx / length * 34;
            const double uy = dy / length * 34;
            shapes += fmt::format(
                "<path d=\"M{:.1f} {:.1f}L{:.1f} {:.1f}M{:.1f} {:.1f}L{:.1f} {:.1f}L{:.1f} "
                "{:.1f}\"/>",
                x(0), y(0), x(1), y(1), x(1) - ux - uy * 0.6, y(1) - uy + ux * 0.6, x(1), y(1),
                x(1) - ux + uy * 0.6, y(1) - uy - ux * 0.6);
            break;
        }
        case MarkShape::line: {
            std::string points;
            for (std::size_t i = 0; i <= last; ++i)
                points += fmt::format("{}{:.1f},{:.1f}", i == 0 ? "" : " ", x(i), y(i));
            shapes += fmt::format("<polyline points=\"{}\"/>", points);
            break;
        }
        case MarkShape::note:
            break;
        }
        if (one.number > 0)
            labels += fmt::format(
                "<circle cx=\"{0:.1f}\" cy=\"{1:.1f}\" r=\"26\" fill=\"#16191d\" stroke=\"#fff\" "
                "stroke-width=\"4\"/><text x=\"{0:.1f}\" y=\"{2:.1f}\" fill=\"#fff\" "
                "font-size=\"32\" text-anchor=\"middle\">{3}</text>",
                std::clamp(at_x, 28.0, w - 28), std::clamp(at_y, 28.0, std::max(h - 28, 28.0)),
                std::clamp(at_y, 28.0, std::max(h - 28, 28.0)) + 11, one.number);
    }
    return fmt::format("<svg viewBox=\"0 0 {:.0f} {:.0f}\" preserveAspectRatio=\"none\" "
                       "aria-hidden=\"true\"><g fill=\"none\" stroke=\"#fff\" "
                       "stroke-width=\"13\">{}</g><g fill=\"none\" stroke=\"#d4380d\" "
                       "stroke-width=\"7\">{}</g>{}</svg>",
                       w, h, shapes, shapes, labels);
}

class HtmlWriting {
  public:
    HtmlWriting(const Document& document, const ReportOutlets& outlets)
        : document_(document), outlets_(outlets) {}

    Result<Done> write() {
        const int of = report_steps(document_);
        if (!tell(0, of))
            return report_stopped();
        std::string html = fmt::format(
            "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\"/>\n"
            "<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\"/>\n"
            "<title>{0} – {1}</title>\n<style>{2}</style>\n</head>\n<body>\n<main>\n"
            "<header><p class=\"kind\">{1}</p><h1 dir=\"auto\">{0}</h1><p>{3}</p></header>\n",
            escaped(document_.title), escaped(document_.kind), k_style, escaped(document_.date));
        for (const Block& block : document_.blocks) {
            if (block.kind == BlockKind::photos) {
                if (Result<Done> put = outlets_.sink(html); !put.ok())
                    return put;
                html.clear();
                if (Result<Done> put = photos(block, of); !put.ok())
                    return put;
                continue;
            }
            html += block_html(block);
        }
        html += fmt::format("<footer>{}</footer>\n</main>\n</body>\n</html>\n",
                            escaped(document_.foot));
        if (Result<Done> put = outlets_.sink(html); !put.ok())
            return put;
        return tell(of, of) ? Result<Done>(Done{}) : Result<Done>(report_stopped());
    }

  private:
    [[nodiscard]] bool tell(int done, int of) const {
        return !outlets_.progress || outlets_.progress(done, of);
    }

    static std::string block_html(const Block& block) {
        switch (block.kind) {
        case BlockKind::heading:
            return fmt::format("<h{0}>{1}</h{0}>\n", block.level == 1 ? 2 : 3, escaped(block.text));
        case BlockKind::words:
            return fmt::format("<p dir=\"auto\">{}</p>\n", escaped(block.text));
        case BlockKind::quote:
            return fmt::format("<blockquote dir=\"auto\">{}</blockquote>\n", escaped(block.text));
        case BlockKind::note:
            return fmt::format("<p class=\"note\" dir=\"auto\">{}</p>\n", escaped(block.text));
        case BlockKind::caution:
            return fmt::format(
                "<p class=\"caution\" dir=\"auto\"><svg class=\"v1\" viewBox=\"0 0 16 16\" "
                "aria-hidden=\"true\"><path d=\"M8 1.5L15 14H1z\" fill=\"none\" "
                "stroke=\"currentColor\" stroke-width=\"1.6\"/><path d=\"M8 6v4m0 1.4v1\" "
                "stroke=\"currentColor\" stroke-width=\"1.6\"/></svg>{}</p>\n",
                escaped(block.text));
        case BlockKind::bullets: {
            std::string html = "<ul>\n";
            for (const Row& row : block.table.rows)
                if (!row.cells.empty())
                    html += fmt::format("<li dir=\"auto\">{}</li>\n", cell_inside(row.cells[0]));
            return html + "</ul>\n";
        }
        case BlockKind::facts:
        case BlockKind::table:
            return table_html(block);
        case BlockKind::photos:
            break;
        }
        return {};
    }

    Result<Done> photos(const Block& block, int of) {
        if (Result<Done> put = outlets_.sink("<div class=\"photos\">\n"); !put.ok())
            return put;
        for (const ReportPhoto& photo : block.photos) {
            if (!tell(done_, of))
                return report_stopped();
            if (Result<Done> put = figure(photo); !put.ok())
                return put;
            ++done_;
        }
        return outlets_.sink("</div>\n");
    }

    Result<Done> figure(const ReportPhoto& photo) {
        std::string caption = photo.caption;
        if (!photo.pair.empty())
            caption = caption.empty() ? photo.pair : photo.pair + ": " + caption;
        std::string html = "<figure>";
        if (const Result<BareJpeg> picture = picture_of(photo); picture.ok())
            html += fmt::format("<div class=\"frame\"><img width=\"{}\" height=\"{}\" alt=\"{}\" "
                                "src=\"data:image/jpeg;base64,{}\"/>{}</div>",
                                picture->width, picture->height, escaped(caption),
                                base64(picture->bytes), marks_svg(photo));
        else
            html += fmt::format("<div class=\"gone\">This photo cannot be shown. {}</div>",
                                escaped(picture.error().message));
        html += fmt::format("<figcaption dir=\"auto\">{}", escaped(caption));
        if (!photo.legend.empty()) {
            html += "<ol>";
            for (const std::string& line : photo.legend)
                html += fmt::format("<li>{}</li>", escaped(line));
            html += "</ol>";
        }
        html += "</figcaption></figure>\n";
        return outlets_.sink(html);
    }

    [[nodiscard]] Result<BareJpeg> picture_of(const ReportPhoto& photo) const {
        if (!outlets_.picture)
            return Error{ErrorCode::missing, "photo", "No pictures were given to the report."};
        const Result<std::vector<std::byte>> bytes = outlets_.picture(photo.photo, k_longest);
        return bytes.ok() ? bare_jpeg(*bytes) : Result<BareJpeg>(bytes.error());
    }

    const Document& document_;
    const ReportOutlets& outlets_;
    int done_ = 0;
};

} // namespace

std::string base64(std::span<const std::byte> bytes) {
    constexpr std::string_view k_letters =
        "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    std::string text;
    text.reserve((bytes.size() + 2) / 3 * 4);
    for (std::size_t i = 0; i < bytes.size(); i += 3) {
        const std::size_t here = std::min<std::size_t>(bytes.size() - i, 3);
        unsigned bits = 0;
        for (std::size_t k = 0; k < 3; ++k)
            bits = bits << 8U | (k < here ? std::to_integer<unsigned>(bytes[i + k]) : 0U);
        for (std::size_t k = 0; k < 4; ++k)
            text += k <= here ? k_letters[bits >> (18 - 6 * k) & 63U] : '=';
    }
    return text;
}

Result<Done> write_html(const Document& document, const ReportOutlets& outlets) {
    return HtmlWriting(document, outlets).write();
}

} // namespace railside
