#include "app/rooms/panels.h"

#include "app/ui/icons.h"

#include <algorithm>

namespace railside {

namespace {

Ink tone_ink(Tone tone) {
    switch (tone) {
    case Tone::plain:
        return Ink::ink;
    case Tone::soft:
        return Ink::soft;
    case Tone::good:
        return Ink::inside;
    case Tone::edge:
        return Ink::edge;
    case Tone::bad:
        return Ink::outside;
    }
    return Ink::ink;
}

/// How many buttons of these stand in one row of that width without clipping a label.
int columns_for(const Ui& ui, const std::vector<PageButton>& buttons, float width) {
    float widest = ui.mm(9);
    for (const PageButton& button : buttons)
        widest = std::max(widest, ui.text_width(button.label, Face::note) + ui.mm(3));
    const float gap = ui.mm(2);
    const int fit = std::max(1, static_cast<int>((width + gap) / (widest + gap)));
    const int n = std::max(1, static_cast<int>(buttons.size()));
    const int rows = (n + std::min(fit, n) - 1) / std::min(fit, n);
    // Evenly filled rows look calmer than one full and one nearly empty.
    return (n + rows - 1) / rows;
}

float buttons_height(const Ui& ui, const std::vector<PageButton>& buttons, float width) {
    const int n = static_cast<int>(buttons.size());
    const int columns = columns_for(ui, buttons, width);
    const int rows = (n + columns - 1) / columns;
    return static_cast<float>(rows) * ui.mm(9.5f) + static_cast<float>(rows - 1) * ui.mm(2);
}

void draw_buttons(Ui& ui, Rect place, const std::string& page,
                  const std::vector<PageButton>& buttons, float height, Intents& out) {
    const int n = static_cast<int>(buttons.size());
    const int columns = columns_for(ui, buttons, place.width());
    for (int i = 0; i < n; ++i) {
        const PageButton& button = buttons[static_cast<std::size_t>(i)];
        const int line_number = i / columns;
        const float y = place.y0 + static_cast<float>(line_number) * (height + ui.mm(2));
        const Rect line{place.x0, y, place.x1, y + height};
        const bool word = button.kind == ButtonKind::chosen || button.kind == ButtonKind::choice;
        const Look look = button.kind == ButtonKind::primary  ? Look::primary
                          : button.kind == ButtonKind::danger ? Look::danger
                          : button.kind == ButtonKind::chosen ? Look::selected
                                                              : Look::plain;
        if (ui.button(Name(page, "/", button.name), line.column(i % columns, columns, ui.mm(2)),
                      button.label,
                      {.look = look,
                       .role = word ? ControlRole::choice : ControlRole::button,
                       .selected = button.kind == ButtonKind::chosen,
                       .face = button.kind == ButtonKind::primary && height > ui.mm(12)
                                   ? Face::strong
                                   : Face::note}))
            out.push_back(button.does);
    }
}

/// What a touch on a field or line does.
void enrol_row(Ui& ui, Rect line, const std::string& page, const PageRow& row, Intents& out) {
    if (!row.does)
        return;
    const bool field = row.kind == RowKind::field;
    if (ui.area(Name(page, "/", row.name), line, row.label,
                {.role = field ? ControlRole::field : ControlRole::button,
                 .selected = row.opened,
                 .value = row.struck ? std::string_view("struck") : std::string_view(row.value)}))
        out.push_back(*row.does);
}

float draw_field(Ui& ui, float x0, float x1, float y, const std::string& page, const PageRow& row,
                 Intents& out) {
    const float arrow = row.does ? ui.mm(4) : 0;
    const float width = x1 - x0 - arrow;
    const std::string_view value = row.value.empty() ? std::string_view("—") : row.value;
    const float label = ui.text_width(row.label, Face::note);
    const bool one_line =
        label + ui.text_width(value, Face::body) + ui.mm(3) <= width && row.more.empty();
    const float note = ui.theme().pitch(Face::note);
    float height = ui.mm(9);
    float text = 0;
    if (!one_line) {
        text = ui.wrapped_height(width, value, Face::body);
        height = std::max(height, note + text + ui.mm(2));
        if (!row.more.empty())
            height += ui.wrapped_height(width, row.more, Face::note);
    }
    const Rect line{x0, y, x1, y + height};
    const Name name(page, "/", row.name);
    if (row.does && ui.pressed(name))
        ui.fill(line, Ink::raised, 1.0f);
    if (row.does) {
        enrol_row(ui, line, page, row, out);
        draw_icon(ui, Icon::forward, {x1 - ui.mm(3), line.y0, x1, line.y1}, Ink::soft, 2.6f);
    }
    const Ink ink = row.value.empty() ? Ink::soft : tone_ink(row.tone);
    if (one_line) {
        ui.text(line, row.label, Face::note, Ink::soft);
        ui.text({x0, line.y0, x1 - arrow, line.y1}, value, Face::body, ink, Align::right);
    } else {
        float ty = y + ui.mm(1);
        ui.text_cut({x0, ty, x1 - arrow, ty + note}, row.label, Face::note, Ink::soft);
        ty += note;
        ty += ui.wrapped(x0, ty, width, value, Face::body, ink);
        if (!row.more.empty())
            ui.wrapped(x0, ty, width, row.more, Face::note, Ink::soft);
    }
    ui.rule(x0, x1, line.y1);
    return height;
}

float draw_line(Ui& ui, float x0, float x1, float y, const std::string& page, const PageRow& row,
                Intents& out) {
    const float body = ui.theme().pitch(Face::body);
    const float right = row.value.empty() ? 0 : ui.text_width(row.value, Face::note) + ui.mm(2);
    const float arrow = row.does ? ui.mm(4) : 0;
    const float width = x1 - x0 - arrow;
    // A long value goes below its name.
    const bool beside = right <= width * 0.5f;
    const float label_width = beside ? width - right : width;
    const float label = ui.wrapped_height(label_width, row.label, Face::strong);
    float height = label + (beside ? 0 : ui.wrapped_height(width, row.value, Face::note));
    if (!row.more.empty())
        height += ui.wrapped_height(width, row.more, Face::note);
    if (!row.note.empty())
        height += ui.wrapped_height(width, row.note, Face::note);
    height = std::max(height + ui.mm(2.4f), row.does ? ui.mm(9.2f) : 0);
    const Rect line{x0, y, x1, y + height};
    const Name name(page, "/", row.name);
    if (row.opened || (row.does && ui.pressed(name)))
        ui.fill(line, Ink::raised, 1.0f, 0.6f);
    if (row.does) {
        enrol_row(ui, line, page, row, out);
        draw_icon(ui, row.opened ? Icon::drawer_up : Icon::forward,
                  {x1 - ui.mm(3), line.y0, x1, line.y1}, Ink::soft, 2.6f);
    }
    float ty = y + ui.mm(1.2f);
    ui.wrapped(x0, ty, label_width, row.label, Face::strong, row.struck ? Ink::soft : Ink::ink);
    if (row.struck) {
        const float mid = ty + ui.theme().font(Face::strong)->FontSize * 0.55f;
        ui.fill({x0, mid, x0 + std::min(label_width, ui.text_width(row.label, Face::strong)),
                 mid + ui.mm(0.3f)},
                Ink::soft);
    }
    if (beside)
        ui.text({x0, ty, x0 + width, ty + body}, row.value, Face::note, tone_ink(row.tone),
                Align::right);
    ty += label;
    if (!beside)
        ty += ui.wrapped(x0, ty, width, row.value, Face::note, tone_ink(row.tone));
    if (!row.more.empty())
        ty += ui.wrapped(x0, ty, width, row.more, Face::note, Ink::soft);
    if (!row.note.empty())
        ui.wrapped(x0, ty, width, row.note, Face::note, tone_ink(row.note_tone));
    ui.rule(x0, x1, line.y1);
    return height;
}

float draw_sides(Ui& ui, float x0, float x1, float y, const PageRow& row) {
    const Rect line{x0, y, x1, y + 1000};
    const Rect a = line.column(0, 3, ui.mm(2));
    const Rect b = line.column(1, 3, ui.mm(2));
    const Rect c = line.column(2, 3, ui.mm(2));
    const float label =
        ui.wrapped(a.x0, y + ui.mm(0.6f), a.width(), row.label, Face::note, Ink::soft);
    const Ink ink = tone_ink(row.tone);
    const float left = ui.wrapped(b.x0, y + ui.mm(0.6f), b.width(), row.value, Face::note, ink);
    const float right = ui.wrapped(c.x0, y + ui.mm(0.6f), c.width(), row.other, Face::note, ink);
    const float height = std::max({label, left, right}) + ui.mm(1.4f);
    ui.rule(x0, x1, y + height);
    return height;
}

float draw_pictures(Ui& ui, float x0, float x1, float y, const std::string& page,
                    const PageRow& row, const ShotSource& shots, Rect seen, Intents& out) {
    const float gap = ui.mm(2);
    const int per_row = std::max(2, static_cast<int>((x1 - x0 + gap) / ui.mm(24)));
    const float cell =
        (x1 - x0 - gap * static_cast<float>(per_row - 1)) / static_cast<float>(per_row);
    const float height = cell * 0.75f;
    int i = 0;
    float top = y;
    for (const PagePicture& picture : row.pictures) {
        if (i == per_row) {
            i = 0;
            top += height + gap;
        }
        const float x = x0 + static_cast<float>(i++) * (cell + gap);
        const Rect box{x, top, x + cell, top + height};
        if (box.y1 > seen.y0 && box.y0 < seen.y1)
            draw_thumb(ui, box, shots(picture.hash, 256));
        if (ui.area(Name(page, "/", picture.name), box,
                    picture.caption.empty() ? std::string_view("photo") : picture.caption, {}))
            out.push_back(picture.does);
    }
    return top + height - y + ui.mm(1.5f);
}

float draw_gauge(Ui& ui, float x0, float x1, float y, const std::string& page, const PageRow& row,
                 Intents& out) {
    const float body = ui.theme().pitch(Face::body);
    const float height = std::max(ui.mm(9), body + ui.mm(4));
    const Rect line{x0, y, x1, y + height};
    if (row.does) {
        const Name name(page, "/", row.name);
        if (ui.pressed(name))
            ui.fill(line, Ink::raised, 1.0f);
        if (ui.area(name, line, row.label, {.value = row.value}))
            out.push_back(*row.does);
    }
    ui.text({x0, y + ui.mm(0.5f), x1, y + ui.mm(0.5f) + body}, row.label, Face::note, Ink::soft);
    ui.text({x0, y + ui.mm(0.5f), x1, y + ui.mm(0.5f) + body}, row.value, Face::body,
            tone_ink(row.tone), Align::right);
    const Rect bar{x0, line.y1 - ui.mm(2.4f), x1, line.y1 - ui.mm(0.8f)};
    ui.fill(bar, Ink::raised, 0.8f);
    ui.fill({bar.x0, bar.y0, bar.x0 + bar.width() * std::clamp(row.part, 0.0f, 1.0f), bar.y1},
            row.tone == Tone::plain ? Ink::soft : tone_ink(row.tone), 0.8f);
    return height + ui.mm(1);
}

/// A line of 50 mm with its tens; a drag changes the size of everything.
float draw_ruler(Ui& ui, float x0, float x1, float y, const std::string& page, const PageRow& row,
                 Intents& out) {
    const float words = ui.wrapped(x0, y + ui.mm(0.6f), x1 - x0, row.label, Face::note, Ink::soft);
    const float top = y + words + ui.mm(1.6f);
    const Rect line{x0, top, x1, top + ui.mm(11)};
    const Name name(page, "/", row.name);
    ui.fill(line, ui.pressed(name) ? Ink::raised : Ink::ground, 1);
    const float long_mm = 50 * row.part;
    const float from = x0 + ui.mm(2);
    const float to = from + ui.mm(long_mm);
    ui.fill({from, line.y0 + ui.mm(1.5f), to, line.y0 + ui.mm(2)}, Ink::ink);
    for (int tens = 0; tens <= 5; ++tens) {
        const float x = from + (to - from) * static_cast<float>(tens) / 5;
        const float deep = tens % 5 == 0 ? 4.5f : 3;
        ui.fill({x - ui.mm(0.15f), line.y0 + ui.mm(1.5f), x + ui.mm(0.15f), line.y0 + ui.mm(deep)},
                Ink::ink);
    }
    const float note = ui.theme().pitch(Face::note);
    ui.text({from, line.y1 - note - ui.mm(0.5f), to, line.y1}, "0", Face::note, Ink::soft);
    ui.text({from, line.y1 - note - ui.mm(0.5f), to, line.y1}, "50 mm", Face::note, Ink::soft,
            Align::right);
    ui.text({x0, line.y0, x1 - ui.mm(1), line.y1}, row.value, Face::note, Ink::ink, Align::right);
    const Dragged drag = ui.drag_area(name, line, row.label, ControlRole::slider, row.value);
    if (drag.moved() || drag.ended)
        out.push_back(intent::SizeScreen{std::max(0.5f, 1 + drag.dx / std::max(1.0f, to - from)),
                                         drag.ended});
    return words + ui.mm(14);
}

float draw_row(Ui& ui, float x0, float x1, float y, const std::string& page, const PageRow& row,
               const ShotSource& shots, Rect seen, Intents& out) {
    switch (row.kind) {
    case RowKind::heading: {
        const float note = ui.theme().pitch(Face::note);
        ui.text_cut({x0, y + ui.mm(1.6f), x1, y + ui.mm(1.6f) + note}, row.label, Face::note,
                    Ink::soft);
        return note + ui.mm(2.4f);
    }
    case RowKind::words: {
        const float height =
            ui.wrapped(x0, y + ui.mm(0.6f), x1 - x0, row.value, Face::note, tone_ink(row.tone));
        return height + ui.mm(1.2f);
    }
    case RowKind::caution:
        return draw_caution(ui, x0, y + ui.mm(0.5f), x1 - x0, row.value) + ui.mm(1.5f);
    case RowKind::field:
        return draw_field(ui, x0, x1, y, page, row, out) + ui.mm(0.4f);
    case RowKind::line:
        return draw_line(ui, x0, x1, y, page, row, out) + ui.mm(0.4f);
    case RowKind::buttons:
        draw_buttons(ui, {x0, y + ui.mm(1), x1, y}, page, row.buttons, ui.mm(9.5f), out);
        return buttons_height(ui, row.buttons, x1 - x0) + ui.mm(2.5f);
    case RowKind::sides:
        return draw_sides(ui, x0, x1, y, row);
    case RowKind::pictures:
        return draw_pictures(ui, x0, x1, y, page, row, shots, seen, out);
    case RowKind::gauge:
        return draw_gauge(ui, x0, x1, y, page, row, out);
    case RowKind::ruler:
        return draw_ruler(ui, x0, x1, y, page, row, out);
    }
    return 0;
}

/// Draws a row, or, where it is out of sight and its height is known, only says that it is there.
float show_row(Ui& ui, float x0, float x1, float y, const std::string& page, const PageRow& row,
               const ShotSource& shots, Rect seen, Intents& out) {
    const bool plain = row.kind == RowKind::field || row.kind == RowKind::line ||
                       row.kind == RowKind::words || row.kind == RowKind::sides ||
                       row.kind == RowKind::heading;
    const float pitch = ui.theme().pitch(Face::note);
    const bool known = row.drawn.width == x1 - x0 && row.drawn.pitch == pitch;
    const bool out_of_sight = y + row.drawn.height < seen.y0 || y > seen.y1;
    if (plain && known && out_of_sight) {
        enrol_row(ui, {x0, y, x1, y + row.drawn.height - ui.mm(0.4f)}, page, row, out);
        return row.drawn.height;
    }
    const float height = draw_row(ui, x0, x1, y, page, row, shots, seen, out);
    row.drawn = {x1 - x0, pitch, height};
    return height;
}

} // namespace

void draw_head(Ui& ui, Rect place, const Page& page, Intents& out) {
    draw_buttons(ui, place, page.name, page.head, place.height(), out);
}

void draw_page(Ui& ui, Rect body, const Page& page, const ShotSource& shots, Intents& out) {
    if (!page.foot.empty()) {
        const bool low = body.height() < ui.mm(60);
        const float key = ui.mm(low ? 10 : 14);
        const int columns = columns_for(ui, page.foot, body.width());
        const int rows = (static_cast<int>(page.foot.size()) + columns - 1) / columns;
        const Rect foot = body.cut_bottom(
            static_cast<float>(rows) * key + static_cast<float>(rows - 1) * ui.mm(2), ui.mm(1.5f));
        draw_buttons(ui, foot, page.name, page.foot, key, out);
    }
    if (page.back || !page.title.empty()) {
        Rect top = body.cut_top(ui.mm(9.2f), ui.mm(0.8f));
        if (page.back) {
            const Rect back = top.cut_left(ui.mm(11), ui.mm(1.5f));
            const Name name(page.name, "/back");
            ui.fill(back, ui.pressed(name) ? Ink::line : Ink::raised, 1.5f);
            if (ui.area(name, back, "back", {}))
                out.push_back(*page.back);
            draw_icon(ui, Icon::back, back, Ink::ink, 4.5f);
        }
        if (ui.text_width(page.title, Face::strong) <= top.width())
            ui.text(top, page.title, Face::strong, Ink::ink);
        else
            ui.text_cut(top, page.title, Face::body, Ink::ink);
    }
    const Rect content = ui.begin_scroll(page.name, body);
    const float x1 = body.x1 - ui.mm(1.5f);
    float y = content.y0;
    for (const PageRow& row : page.rows) {
        if (!page.follow.empty() && row.name == page.follow)
            ui.scroll_to(page.name, std::max(0.0f, y - content.y0 - ui.mm(12)));
        y += show_row(ui, body.x0, x1, y, page.name, row, shots, body, out);
    }
    ui.end_scroll(y + ui.mm(2));
}

} // namespace railside
