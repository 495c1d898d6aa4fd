#include "app/rooms/frame_draw.h"

#include "app/ui/icons.h"

#include <algorithm>

namespace railside {

namespace {

void draw_rail(Ui& ui, Rect place, bool upright, RoomId now, Intents& out) {
    static constexpr RoomId k_rooms[] = {RoomId::sheet, RoomId::workings, RoomId::photos,
                                         RoomId::suspects, RoomId::steps};
    ui.fill(place, Ink::rail);
    constexpr int n = 5;
    for (int i = 0; i < n; ++i) {
        const RoomId room = k_rooms[i];
        const Rect cell = upright ? place.row(i, n, 0) : place.column(i, n, 0);
        const Name name("rail/", room_key(room));
        // The handover is reached by the sheet.
        const bool chosen = room == now || (room == RoomId::sheet && now == RoomId::handover);
        if (chosen || ui.pressed(name))
            ui.fill(cell.inset(ui.mm(0.6f)), chosen ? Ink::pane : Ink::raised, 1.5f);
        const Ink ink = chosen ? Ink::ink : Ink::soft;
        const float note = ui.theme().pitch(Face::note);
        const float icon = ui.mm(6);
        const float top = cell.mid_y() - (icon + note) / 2;
        draw_icon(ui, room_icon(room), {cell.x0, top, cell.x1, top + icon}, ink, 6);
        const bool touched =
            ui.area(name, cell, room_label(room), {.role = ControlRole::tab, .selected = chosen})
                .tapped;
        ui.note_fit(ui.text({cell.x0, top + icon, cell.x1, top + icon + note}, room_label(room),
                            Face::note, ink, Align::middle));
        if (touched)
            out.push_back(intent::GoRoom{room});
    }
}

/// A kept result in one line; cut from the right when the place is short.
void draw_kept_line(Ui& ui, Rect place, const KeptLine& kept, Face face) {
    float x = place.x0;
    const auto part = [&](std::string_view text, Face f, Ink ink) {
        if (x >= place.x1 - ui.mm(4) || text.empty())
            return;
        ui.text_cut({x, place.y0, place.x1, place.y1}, text, f, ink);
        x += std::min(ui.text_width(text, f), place.x1 - x) + ui.mm(2);
    };
    part(kept.time, Face::note, Ink::soft);
    part(kept.name, Face::note, Ink::soft);
    part(kept.figures, face, Ink::ink);
    if (x < place.x1 - ui.mm(8)) {
        const float mark = ui.mm(2.4f);
        draw_mark(ui, verdict_mark(kept.state),
                  {x, place.mid_y() - mark / 2, x + mark, place.mid_y() + mark / 2},
                  verdict_ink(kept.state));
        x += mark + ui.mm(1.2f);
        part(kept.word, Face::note, verdict_ink(kept.state));
    }
}

void draw_header(Ui& ui, Rect place, const Layout& layout, const Shown& shown,
                 const AppState& state, Intents& out) {
    ui.fill(place, Ink::rail);
    Rect body = place.inset(ui.mm(1.4f), 0);
    if (!shown.in_job) {
        if (state.room != RoomId::bench) {
            ui.text(body, "Shelf", Face::strong, Ink::ink);
            return;
        }
        const float arrow = ui.mm(5);
        Rect name = body.cut_left(
            std::max(ui.mm(9), ui.text_width("Bench", Face::strong) + arrow + ui.mm(2)), ui.mm(2));
        if (ui.pressed("header/shelf"))
            ui.fill(name, Ink::raised, 1.5f);
        if (ui.area("header/shelf", name, "Bench", {.value = "back to the shelf"}))
            out.push_back(intent::GoRoom{RoomId::shelf});
        draw_icon(ui, Icon::back, {name.x0, name.y0, name.x0 + arrow, name.y1}, Ink::soft, 4);
        name.x0 += arrow;
        ui.text(name, "Bench", Face::strong, Ink::ink);
        return;
    }
    // Too low a screen for a drawer handle: the header opens the companion.
    if (layout.form == BesideForm::drawer && layout.handle.empty() && !state.drawer_open) {
        const Rect opener = body.cut_right(ui.mm(20), ui.mm(2));
        const std::string_view label =
            state.beside == Beside::photos  ? std::string_view(shown.header.photos_label)
            : state.beside == Beside::steps ? std::string_view(shown.header.steps_label)
                                            : std::string_view(shown.header.kept_label);
        if (ui.button("beside/open", opener.inset(0, ui.mm(0.2f)), label, {.face = Face::note}))
            out.push_back(intent::ToggleDrawer{});
    }
    const std::string_view word = shown.header.saving ? "saving" : "saved";
    const float saved = ui.text_width(word, Face::note) + ui.mm(4);
    Rect mark = body.cut_right(saved, ui.mm(3));
    if (!shown.header.saving)
        draw_mark(ui, Mark::tick,
                  {mark.x0, mark.mid_y() - ui.mm(1.2f), mark.x0 + ui.mm(2.4f),
                   mark.mid_y() + ui.mm(1.2f)},
                  Ink::inside);
    ui.text(mark, word, Face::note, shown.header.saving ? Ink::edge : Ink::inside, Align::right);
    ui.figure("header/saved", mark, "saved", word);

    const bool roomy = body.width() > ui.mm(100);
    if (roomy && shown.header.money_part >= 0) {
        Rect money =
            body.cut_right(ui.text_width(shown.header.money, Face::note) + ui.mm(22), ui.mm(4));
        const Rect bar{money.x1 - ui.mm(20), money.mid_y() - ui.mm(0.9f), money.x1,
                       money.mid_y() + ui.mm(0.9f)};
        ui.fill(bar, Ink::raised, 0.9f);
        ui.fill({bar.x0, bar.y0, bar.x0 + bar.width() * shown.header.money_part, bar.y1},
                shown.header.money_high ? Ink::edge : Ink::soft, 0.9f);
        ui.text(money, shown.header.money, Face::note, Ink::soft);
    }
    // The job's name leads back to the shelf.
    const std::string_view title = body.width() > ui.mm(85)
                                       ? std::string_view(shown.header.title)
                                       : std::string_view(shown.header.short_title);
    const float back = ui.mm(5);
    const float title_width =
        std::min(ui.text_width(title, Face::strong) + back + ui.mm(2), body.width());
    Rect name = body.cut_left(std::max(ui.mm(9), title_width), ui.mm(2));
    if (ui.pressed("header/job"))
        ui.fill(name, Ink::raised, 1.5f);
    if (ui.area("header/job", name, title, {.value = "back to the shelf"}))
        out.push_back(intent::GoRoom{RoomId::shelf});
    draw_icon(ui, Icon::back, {name.x0, name.y0, name.x0 + back, name.y1}, Ink::soft, 4);
    name.x0 += back;
    ui.text_cut(name, title, Face::strong, Ink::ink);
    if (body.width() < ui.mm(8))
        return;
    if (layout.form == BesideForm::drawer && layout.handle.empty() && shown.header.has_kept) {
        KeptLine line = shown.header.kept;
        line.time.clear();
        line.name.clear();
        draw_kept_line(ui, body, line, Face::note);
    } else
        ui.text_cut(body, shown.header.complaint, Face::note, Ink::soft);
}

/// The grip that moves the border between the room and its companion.
void draw_split(Ui& ui, Rect grip, const Layout& layout, Intents& out) {
    const bool wide = layout.form == BesideForm::column;
    ui.fill(grip, ui.pressed("beside/split") ? Ink::line : Ink::raised, 1.5f);
    for (const float side : {-1.0f, 1.0f}) {
        const float away = side * ui.mm(1);
        const float half = ui.mm(2.6f);
        const float thick = ui.mm(0.35f);
        if (wide)
            ui.fill({grip.mid_x() + away - thick, grip.mid_y() - half, grip.mid_x() + away + thick,
                     grip.mid_y() + half},
                    Ink::soft);
        else
            ui.fill({grip.mid_x() - half, grip.mid_y() + away - thick, grip.mid_x() + half,
                     grip.mid_y() + away + thick},
                    Ink::soft);
    }
    const Dragged drag = ui.drag_area("beside/split", grip, "drag the border", ControlRole::slider);
    const float whole =
        wide ? layout.beside.x1 - layout.room.x0 : layout.beside.y1 - layout.room.y0;
    const float by = (wide ? drag.dx : drag.dy) / std::max(1.0f, whole);
    if (drag.moved() || drag.ended)
        out.push_back(intent::MoveSplit{by, drag.ended});
}

/// A drawer without a handle carries its way out among the tabs.
void draw_beside(Ui& ui, Rect place, const Shown& shown, const AppState& state,
                 const ShotSource& shots, const Layout& layout, Intents& out) {
    Rect body = place;
    Rect tabs = body.cut_top(ui.mm(9.6f), ui.mm(1.4f));
    const bool close = layout.form == BesideForm::drawer && layout.handle.empty();
    if (layout.form == BesideForm::column || layout.form == BesideForm::below)
        draw_split(ui, tabs.cut_left(ui.mm(9.6f), ui.mm(2)), layout, out);
    if (close) {
        const Rect out_of = tabs.cut_right(ui.mm(12), ui.mm(2));
        if (ui.button("beside/close", out_of, ""))
            out.push_back(intent::ToggleDrawer{});
        draw_icon(ui, Icon::drawer_down, out_of, Ink::ink, 4.5f);
    }
    const std::pair<Beside, std::string_view> choices[] = {
        {Beside::photos, shown.header.photos_label},
        {Beside::steps, shown.header.steps_label},
        {Beside::kept, shown.header.kept_label}};
    // What the room itself shows does not stand beside it again.
    const auto same = [&](Beside beside) {
        return (beside == Beside::photos && state.room == RoomId::photos) ||
               (beside == Beside::steps && state.room == RoomId::steps);
    };
    Beside now = state.beside;
    if (same(now))
        now = now == Beside::photos ? Beside::steps : Beside::photos;
    int n = 0;
    for (const auto& choice : choices)
        n += same(choice.first) ? 0 : 1;
    int i = 0;
    for (const auto& [beside, label] : choices) {
        if (same(beside))
            continue;
        const bool chosen = now == beside;
        if (ui.button(Name("beside/", beside_key(beside)), tabs.column(i++, n, ui.mm(2)), label,
                      {.look = chosen ? Look::selected : Look::plain,
                       .role = ControlRole::tab,
                       .selected = chosen,
                       .face = Face::note}))
            out.push_back(intent::ShowBeside{beside});
    }
    switch (now) {
    case Beside::photos:
        draw_photos_beside(ui, body, shown.photos, state, shots, out);
        break;
    case Beside::steps:
        if (state.apart)
            draw_apart(ui, body, shown.apart, shots, out);
        else
            draw_steps(ui, body, shown.steps, "beside/steps", out);
        break;
    case Beside::kept:
        draw_kept_beside(ui, body, shown.kept, out);
        break;
    }
}

void draw_room(Ui& ui, Rect place, const Shown& shown, const AppState& state,
               const ShotSource& shots, Intents& out) {
    if (state.choosing_file) {
        draw_files(ui, place, shown.files, shown.photos, out);
        return;
    }
    switch (state.room) {
    case RoomId::shelf:
        draw_shelf(ui, place, shown.shelf, state, out);
        break;
    case RoomId::bench:
        draw_bench(ui, place, shown.bench, state, shots, out);
        break;
    case RoomId::sheet:
        draw_sheet(ui, place, shown.sheet, state, shots, out);
        break;
    case RoomId::workings:
        draw_workings(ui, place, shown.workings, state, out);
        break;
    case RoomId::photos:
        draw_photos(ui, place, shown.photos, state, shots, out);
        break;
    case RoomId::steps:
        if (state.apart)
            draw_apart(ui, place, shown.apart, shots, out);
        else
            draw_steps(ui, place, shown.steps, "steps", out);
        break;
    case RoomId::handover:
        draw_handover(ui, place, shown.handover, state, shots, out);
        break;
    case RoomId::suspects:
        draw_suspects(ui, place, shown.suspects, state, shots, out);
        break;
    }
}

/// What was kept or refused, over the head of the screen, never over the rail. One that tells of
/// something kept lets touches through to what lies below; each touch takes it away.
void draw_message(Ui& ui, Rect screen, const AppState& state, Intents& out) {
    if (state.message.empty())
        return;
    const float width = std::min(screen.width() - ui.mm(4), ui.mm(120));
    const float text = ui.wrapped_height(width - ui.mm(14), state.message, Face::note);
    const float height = std::max(ui.mm(10), text + ui.mm(4));
    const Rect box{screen.mid_x() - width / 2, screen.y0 + ui.mm(1), screen.mid_x() + width / 2,
                   screen.y0 + ui.mm(1) + height};
    const bool refused = state.message_tone == AppState::MessageTone::refused;
    ui.fill(box, Ink::raised, 1.5f);
    ui.outline(box, refused ? Ink::outside : Ink::inside, 1.5f, 0.4f);
    const float mark = ui.mm(3.4f);
    draw_mark(ui, refused ? Mark::cross : Mark::tick,
              {box.x0 + ui.mm(3), box.mid_y() - mark / 2, box.x0 + ui.mm(3) + mark,
               box.mid_y() + mark / 2},
              refused ? Ink::outside : Ink::inside);
    ui.wrapped(box.x0 + ui.mm(9), box.mid_y() - text / 2, width - ui.mm(14), state.message,
               Face::note, Ink::ink);
    if (!refused)
        ui.figure("message", box, "message", state.message);
    else if (ui.area("message", box, state.message, {}))
        out.push_back(intent::DismissMessage{});
}

/// A page over whatever room asked for it.
void draw_over(Ui& ui, Rect screen, const Page& page, const ShotSource& shots, Intents& out) {
    ui.begin_layer();
    const float width = std::min(screen.width(), ui.mm(130));
    const Rect box{screen.mid_x() - width / 2, screen.y0, screen.mid_x() + width / 2, screen.y1};
    ui.fill(box, Ink::pane, 1.5f);
    draw_page(ui, box.inset(ui.mm(2.5f), ui.mm(2)), page, shots, out);
    ui.end_layer();
}

void draw_picker(Ui& ui, Rect screen, const PickList& pick, Intents& out) {
    ui.begin_layer();
    const float width = std::min(screen.width() - ui.mm(6), ui.mm(110));
    const int n = static_cast<int>(pick.words.size());
    float widest = 0;
    for (const auto& [word, label] : pick.words)
        widest = std::max(widest, ui.text_width(label, Face::note));
    const int columns = widest + ui.mm(4) <= (width - ui.mm(9)) / 2 ? 2 : 1;
    const int rows = (n + columns - 1) / columns;
    const float key = ui.mm(9.5f);
    const float gap = ui.mm(1.5f);
    const float note = ui.theme().pitch(Face::note);
    const float wanted = note + static_cast<float>(rows + 1) * (key + gap) + ui.mm(6);
    const float height = std::min(screen.height() - ui.mm(4), wanted);
    const Rect box{screen.mid_x() - width / 2, screen.mid_y() - height / 2,
                   screen.mid_x() + width / 2, screen.mid_y() + height / 2};
    ui.fill(box, Ink::pane, 1.5f);
    Rect body = box.inset(ui.mm(2.5f), ui.mm(2));
    ui.text_cut(body.cut_top(note, ui.mm(1)), pick.title, Face::note, Ink::soft);
    const Rect leave = body.cut_bottom(key, gap);
    if (ui.button("picker/leave", leave, "Leave"))
        out.push_back(intent::LeavePicking{});
    const Rect content = ui.begin_scroll("picker", body);
    for (int i = 0; i < n; ++i) {
        const auto& [word, label] = pick.words[static_cast<std::size_t>(i)];
        const int row_of = i / columns;
        const float y = content.y0 + static_cast<float>(row_of) * (key + gap);
        const Rect line{body.x0, y, body.x1 - ui.mm(1.5f), y + key};
        const bool chosen = word == pick.word;
        const std::string_view name = word.empty() ? std::string_view("none") : word;
        const Rect place = line.column(i % columns, columns, ui.mm(2));
        const bool fits = ui.text_width(label, Face::note) <= place.width() - ui.mm(2);
        const Touched touched =
            ui.button(Name("picker/", name), place, fits ? std::string_view(label) : "",
                      {.look = chosen ? Look::selected : Look::plain,
                       .role = ControlRole::choice,
                       .selected = chosen,
                       .face = Face::note,
                       .value = fits ? std::string_view() : std::string_view(label)});
        if (!fits)
            ui.text_cut(place.inset(ui.mm(1), 0), label, Face::note, Ink::ink);
        if (touched)
            out.push_back(intent::SetWord{pick.target, word});
    }
    ui.end_scroll(content.y0 + static_cast<float>(rows) * (key + gap));
    ui.end_layer();
}

} // namespace

void draw_frame(Ui& ui, Rect screen, Hand hand, const Shown& shown, AppState& state,
                const ShotSource& shots, Intents& out) {
    const Layout layout = make_layout(screen, ui.theme().px_per_mm(), hand, shown.in_job,
                                      state.drawer_open, state.split);
    draw_header(ui, layout.header, layout, shown, state, out);
    draw_room(ui, layout.room, shown, state, shots, out);
    if (!layout.rail.empty())
        draw_rail(ui, layout.rail, layout.rail_upright, state.room, out);
    if (!layout.strip.empty()) {
        Rect line = layout.strip.inset(ui.mm(3), 0);
        if (shown.header.has_kept) {
            ui.text(line.cut_left(ui.text_width("Kept", Face::note), ui.mm(2)), "Kept", Face::note,
                    Ink::soft);
            draw_kept_line(ui, line, shown.header.kept, Face::note);
        } else {
            ui.text(line, "Nothing kept yet", Face::note, Ink::soft);
        }
    }
    if (layout.form == BesideForm::column || layout.form == BesideForm::below) {
        draw_beside(ui, layout.beside, shown, state, shots, layout, out);
    } else if (layout.form == BesideForm::drawer) {
        const bool open = state.drawer_open;
        if (open) {
            ui.begin_layer();
            ui.fill(layout.handle.empty() ? layout.beside
                                          : Rect{layout.handle.x0, layout.handle.y0,
                                                 layout.beside.x1, layout.beside.y1},
                    Ink::ground, 2);
        }
        if (!layout.handle.empty()) {
            if (ui.area("beside/handle", layout.handle, open ? "close" : "open",
                        {.value = beside_key(state.beside)}))
                out.push_back(intent::ToggleDrawer{});
            Rect body = layout.handle;
            ui.fill(body, ui.pressed("beside/handle") ? Ink::line : Ink::raised, 2);
            const float grip = ui.mm(10);
            ui.fill({body.mid_x() - grip / 2, body.y0 + ui.mm(1), body.mid_x() + grip / 2,
                     body.y0 + ui.mm(1.7f)},
                    Ink::line, 0.4f);
            body = body.inset(ui.mm(2.5f), 0);
            body.y0 += ui.mm(2);
            const Rect arrow = body.cut_right(ui.mm(6));
            draw_icon(ui, open ? Icon::drawer_down : Icon::drawer_up, arrow, Ink::soft, 4.5f);
            if (shown.header.has_kept) {
                KeptLine line = shown.header.kept;
                line.time.clear();
                if (body.width() < ui.mm(80))
                    line.name.clear();
                draw_kept_line(ui, body, line, Face::strong);
            } else {
                ui.text(body, beside_label(state.beside), Face::note, Ink::soft);
            }
        }
        if (open) {
            draw_beside(ui, layout.beside.inset(ui.mm(1.4f), ui.mm(1)), shown, state, shots, layout,
                        out);
            ui.end_layer();
        }
    }
    if (state.reading_open && !state.pick && !state.keypad && !state.text)
        draw_over(ui, screen, shown.reading, shots, out);
    if (state.pick)
        draw_picker(ui, screen, *state.pick, out);
    if (state.keypad) {
        const KeypadAnswer answer =
            draw_keypad(ui, layout.keypad, hand, *state.keypad, shown.keypad);
        if (!answer.key.empty())
            out.push_back(intent::PressKey{std::string(answer.key)});
        if (answer.steps != 0)
            out.push_back(intent::StepValue{answer.steps});
        if (answer.quick != nullptr)
            out.push_back(intent::TypeQuick{answer.quick->text});
        if (answer.outcome == KeypadOutcome::set)
            out.push_back(intent::SetValue{});
        else if (answer.outcome == KeypadOutcome::leave)
            out.push_back(intent::LeaveKeypad{});
    }
    if (state.text)
        draw_text_entry(ui, screen, state, out);
    if (state.help)
        draw_over(ui, screen, shown.help, shots, out);
    Rect clear = screen;
    if (layout.rail.height() > layout.rail.width())
        (layout.rail.mid_x() > screen.mid_x() ? clear.x1 : clear.x0) =
            layout.rail.mid_x() > screen.mid_x() ? layout.rail.x0 : layout.rail.x1;
    draw_message(ui, clear, state, out);
}

} // namespace railside
