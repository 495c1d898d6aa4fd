#include "app/rooms/panels.h"
#include "app/ui/icons.h"

#include <algorithm>

namespace railside {

namespace {

float heading(Ui& ui, float x0, float x1, float y, std::string_view text) {
    const float pitch = ui.theme().pitch(Face::note);
    ui.text({x0, y, x1, y + pitch}, text, Face::note, Ink::soft);
    return pitch + ui.mm(0.8f);
}

Ink state_ink(std::string_view state) {
    if (state == "bad" || state == "suspect")
        return Ink::outside;
    if (state == "good")
        return Ink::inside;
    if (state == "replaced")
        return Ink::edge;
    return Ink::soft;
}

float draw_position(Ui& ui, float x0, float x1, float y, const PositionRow& row) {
    const float body = ui.theme().pitch(Face::body);
    const float state = ui.text_width(row.state, Face::note);
    ui.text_cut({x0, y, x1 - state - ui.mm(2), y + body}, row.designator, Face::strong, Ink::ink);
    const float after = x0 + ui.text_width(row.designator, Face::strong) + ui.mm(2);
    ui.text_cut({after, y, x1 - state - ui.mm(2), y + body},
                row.channel.empty() ? row.role : row.role + ", " + row.channel, Face::note,
                Ink::soft);
    ui.text({x0, y, x1, y + body}, row.state, Face::note, state_ink(row.state), Align::right);
    float used = body;
    used +=
        ui.wrapped(x0, y + used, x1 - x0, row.types, Face::note, row.odd ? Ink::edge : Ink::soft);
    if (!row.note.empty())
        used += ui.wrapped(x0, y + used, x1 - x0, row.note, Face::note, Ink::soft);
    used += ui.mm(1.2f);
    ui.rule(x0, x1, y + used);
    return used + ui.mm(0.8f);
}

float draw_history_row(Ui& ui, float x0, float x1, float y, const HistoryRow& row, bool opened,
                       Intents& out) {
    const float time_width = ui.mm(15);
    const float text_x = x0 + time_width;
    const float width = x1 - text_x;
    const float what = ui.wrapped_height(width, row.what, Face::note);
    const float more = row.more.empty() ? 0 : ui.wrapped_height(width, row.more, Face::note);
    float height = std::max(ui.mm(9), what + more + ui.mm(2.4f));
    const Rect line{x0, y, x1, y + height};
    const Name name("sheet/history/", row.entry);
    if (opened || ui.pressed(name))
        ui.fill(line, Ink::raised, 1.0f, 0.6f);
    const Touched touched = ui.area(name, line, row.what, {.value = row.struck ? "struck" : ""});
    if (touched.held || touched.tapped)
        out.push_back(intent::OpenHistory{opened ? std::string() : row.entry});
    const float top = line.mid_y() - (what + more) / 2;
    ui.text({x0, top, text_x, top + ui.theme().pitch(Face::note)}, row.time, Face::note, Ink::soft);
    ui.wrapped(text_x, top, width, row.what, Face::note, row.struck ? Ink::soft : Ink::ink);
    if (row.struck) {
        const float mid = top + ui.theme().font(Face::note)->FontSize * 0.55f;
        ui.fill({text_x, mid, text_x + std::min(width, ui.text_width(row.what, Face::note)),
                 mid + ui.mm(0.3f)},
                Ink::soft);
    }
    if (!row.more.empty())
        ui.wrapped(text_x, top + what, width, row.more, Face::note, Ink::soft);
    if (opened && row.can_strike) {
        const Rect button{text_x, y + height + ui.mm(0.5f), x1, y + height + ui.mm(10)};
        const Name strike("sheet/strike/", row.entry);
        if (ui.button(strike, button, row.struck ? "Bring it back" : "Strike this entry",
                      {.look = row.struck ? Look::plain : Look::danger, .face = Face::note}))
            out.push_back(
                intent::StrikeEntry{row.entry, row.struck ? Standing::valid : Standing::struck});
        height += ui.mm(11);
    }
    ui.rule(x0, x1, y + height);
    return height;
}

float draw_front(Ui& ui, float x0, float x1, float y, const SheetShown& shown, Intents& out) {
    const float top = y;
    const float width = x1 - x0;
    y += ui.wrapped(x0, y, width, shown.header.title, Face::value, Ink::ink);
    if (!shown.serial.empty())
        y += ui.wrapped(x0, y, width, "Serial " + shown.serial, Face::note, Ink::soft);
    if (!shown.state.empty())
        y += ui.wrapped(x0, y, width, shown.state, Face::note, Ink::soft);
    y += ui.mm(1.5f);
    y += heading(ui, x0, x1, y, "The client says");
    y += ui.wrapped(x0, y, width,
                    shown.header.complaint.empty() ? "Nothing written down yet."
                                                   : shown.header.complaint,
                    Face::body, Ink::ink) +
         ui.mm(2);
    if (shown.header.money_part >= 0) {
        y += heading(ui, x0, x1, y, "Spent of the agreed limit");
        const float pitch = ui.theme().pitch(Face::body);
        const float money = ui.text_width(shown.header.money, Face::body) + ui.mm(3);
        ui.text({x0, y, x1, y + pitch}, shown.header.money, Face::body,
                shown.header.money_high ? Ink::edge : Ink::ink);
        const Rect bar{x0 + money, y + pitch / 2 - ui.mm(0.8f), x1, y + pitch / 2 + ui.mm(0.8f)};
        ui.fill(bar, Ink::raised, 0.8f);
        ui.fill({bar.x0, bar.y0, bar.x0 + bar.width() * shown.header.money_part, bar.y1},
                shown.header.money_high ? Ink::edge : Ink::soft, 0.8f);
        y += pitch + ui.mm(2);
    }
    const Rect buttons{x0, y, x1, y + ui.mm(9.5f)};
    if (ui.button("sheet/complaint", buttons.column(0, 2, ui.mm(2)), "Change complaint",
                  {.face = Face::note}))
        out.push_back(intent::EditText{"job/complaint", "The complaint, in the client's words",
                                       shown.header.complaint});
    if (ui.button("sheet/note", buttons.column(1, 2, ui.mm(2)), "Write a note",
                  {.face = Face::note}))
        out.push_back(intent::EditText{"note", "Note", {}});
    y += ui.mm(12);
    return y - top;
}

} // namespace

void draw_sheet(Ui& ui, Rect place, const SheetShown& shown, Intents& out) {
    ui.fill(place, Ink::pane, 1.5f);
    const Rect body = place.inset(ui.mm(2.5f), ui.mm(1.6f));
    const auto positions = [&](float x0, float x1, float y) {
        const float top = y;
        if (!shown.positions.empty()) {
            y += heading(ui, x0, x1, y, "Positions");
            for (const PositionRow& row : shown.positions)
                y += draw_position(ui, x0, x1, y, row);
            y += ui.mm(2);
        }
        return y - top;
    };
    const auto history = [&](float x0, float x1, float y) {
        const float top = y;
        y += heading(ui, x0, x1, y, "What happened, newest first");
        for (const HistoryRow& row : shown.history)
            y += draw_history_row(ui, x0, x1, y, row, row.entry == shown.opened, out);
        return y - top;
    };
    if (body.width() > ui.mm(130)) {
        // Wide enough for the page and its history side by side.
        const Rect left = body.column(0, 2, ui.mm(5));
        const Rect right = body.column(1, 2, ui.mm(5));
        Rect content = ui.begin_scroll("sheet/front", left);
        float y = content.y0;
        y += draw_front(ui, left.x0, left.x1 - ui.mm(1.5f), y, shown, out);
        y += positions(left.x0, left.x1 - ui.mm(1.5f), y);
        ui.end_scroll(y);
        content = ui.begin_scroll("sheet/history", right);
        y = content.y0;
        y += history(right.x0, right.x1 - ui.mm(1.5f), y);
        ui.end_scroll(y);
        return;
    }
    const Rect content = ui.begin_scroll("sheet/all", body);
    const float x1 = body.x1 - ui.mm(1.5f);
    float y = content.y0;
    y += draw_front(ui, body.x0, x1, y, shown, out);
    y += positions(body.x0, x1, y);
    y += history(body.x0, x1, y);
    ui.end_scroll(y + ui.mm(2));
}

void draw_shelf(Ui& ui, Rect place, const ShelfShown& shown, Intents& out) {
    Rect body = place;
    const Rect actions = body.cut_bottom(ui.mm(14), ui.mm(1.5f));
    Rect line = actions;
    const float small = std::min(ui.mm(26), line.width() * 0.26f);
    const Rect hand = line.cut_left(small, ui.mm(2));
    const Rect theme = line.cut_left(small, ui.mm(2));
    if (ui.button("shelf/hand", hand, "Other hand", {.face = Face::note}))
        out.push_back(intent::SwitchHand{});
    if (ui.button("shelf/theme", theme, "Colours", {.face = Face::note}))
        out.push_back(intent::SwitchTheme{});
    if (ui.button("shelf/new", line, "New job", {.look = Look::primary}))
        out.push_back(intent::NewJob{});

    const int columns = body.width() > ui.mm(150) ? 2 : 1;
    const Rect content = ui.begin_scroll("shelf/jobs", body);
    const float width = body.width() - ui.mm(1.5f);
    const float gap = ui.mm(2);
    const float card_width =
        (width - gap * static_cast<float>(columns - 1)) / static_cast<float>(columns);
    const float pad = ui.mm(3);
    float y = content.y0;
    float row_height = 0;
    int column = 0;
    if (!shown.empty.empty())
        y += ui.wrapped(body.x0 + pad, y + ui.mm(4), width - 2 * pad, shown.empty, Face::body,
                        Ink::soft) +
             ui.mm(4);
    for (const ShelfCard& card : shown.cards) {
        const float x0 = body.x0 + static_cast<float>(column) * (card_width + gap);
        const float inner = card_width - 2 * pad;
        const float note = ui.theme().pitch(Face::note);
        const float complaint = ui.wrapped_height(inner, card.complaint, Face::note);
        const float height =
            ui.theme().pitch(Face::strong) + complaint + note * 2 + 2 * pad + ui.mm(1.5f);
        const Rect box{x0, y, x0 + card_width, y + height};
        const Name name("shelf/job/", card.job);
        ui.fill(box, ui.pressed(name) ? Ink::raised : Ink::pane, 1.5f);
        if (ui.area(name, box, card.title, {.value = card.complaint}))
            out.push_back(intent::OpenJob{card.job});
        const float touched = ui.text_width(card.touched, Face::note);
        float ty = y + pad;
        ui.text({x0, ty, box.x1 - pad, ty + ui.theme().pitch(Face::strong)}, card.touched,
                Face::note, Ink::soft, Align::right);
        ui.text_cut(
            {x0 + pad, ty, box.x1 - pad - touched - ui.mm(2), ty + ui.theme().pitch(Face::strong)},
            card.title, Face::strong, Ink::ink);
        ty += ui.theme().pitch(Face::strong);
        ty += ui.wrapped(x0 + pad, ty, inner, card.complaint, Face::note, Ink::soft) + ui.mm(1);
        ui.text_cut({x0 + pad, ty, box.x1 - pad, ty + note}, card.state, Face::note, Ink::ink);
        if (!card.money.empty())
            ui.text({x0 + pad, ty, box.x1 - pad, ty + note}, card.money, Face::note, Ink::ink,
                    Align::right);
        ty += note;
        ui.text_cut({x0 + pad, ty, box.x1 - pad, ty + note}, card.counts, Face::note, Ink::soft);
        row_height = std::max(row_height, height);
        if (++column == columns) {
            column = 0;
            y += row_height + gap;
            row_height = 0;
        }
    }
    ui.end_scroll(y + row_height);
}

} // namespace railside
