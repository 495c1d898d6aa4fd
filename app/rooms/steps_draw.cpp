#include "app/rooms/panels.h"
#include "app/ui/icons.h"

#include <algorithm>

namespace railside {

namespace {

void draw_progress(Ui& ui, Rect place, float part) {
    ui.fill(place, Ink::raised, 0.6f);
    if (part > 0)
        ui.fill({place.x0, place.y0, place.x0 + place.width() * part, place.y1}, Ink::inside, 0.6f);
}

/// The box of a step: 7 mm drawn, 9 mm to hit.
void draw_box(Ui& ui, Rect hit, const StepRow& row) {
    const float size = ui.mm(6);
    const Rect box{hit.mid_x() - size / 2, hit.mid_y() - size / 2, hit.mid_x() + size / 2,
                   hit.mid_y() + size / 2};
    switch (row.look) {
    case StepLook::done:
        ui.fill(box, Ink::inside, 1.2f);
        draw_mark(ui, Mark::tick, box.inset(ui.mm(1.2f)), Ink::on_verdict);
        break;
    case StepLook::skipped:
        ui.outline(box, Ink::edge, 1.2f, 0.45f);
        ui.fill({box.x0 + ui.mm(1.5f), box.mid_y() - ui.mm(0.3f), box.x1 - ui.mm(1.5f),
                 box.mid_y() + ui.mm(0.3f)},
                Ink::edge);
        break;
    case StepLook::live:
    case StepLook::open:
        ui.outline(box, Ink::ink, 1.2f, 0.45f);
        break;
    case StepLook::barred:
        ui.outline(box, Ink::line, 1.2f, 0.35f, true);
        break;
    }
}

struct Answers {
    const StepRow& row;
    std::string_view prefix;
    bool skipping;
    std::span<const std::string> reasons;
    bool roomy = false; // words and Skip in one line
};

float answers_height(const Ui& ui, const Answers& answers) {
    const StepRow& row = answers.row;
    if (row.look == StepLook::barred)
        return 0;
    if (row.look == StepLook::done || row.look == StepLook::skipped)
        return ui.mm(11);
    if (answers.skipping)
        return static_cast<float>(answers.reasons.size() + 1) * ui.mm(10.5f) + ui.mm(1);
    return ui.mm(11) + (row.kind == StepKind::choice && !answers.roomy ? ui.mm(11) : 0);
}

void draw_answers(Ui& ui, Rect place, const Answers& answers, Intents& out) {
    const StepRow& row = answers.row;
    const std::string_view prefix = answers.prefix;
    if (row.look == StepLook::barred)
        return;
    const float height = ui.mm(9.5f);
    if (row.look == StepLook::done || row.look == StepLook::skipped) {
        if (ui.button(Name(prefix, "/takeback/", row.key), place.cut_top(height), "Take this back"))
            out.push_back(intent::UntickStep{row.key});
        return;
    }
    if (answers.skipping) {
        for (const std::string& reason : answers.reasons)
            if (ui.button(Name(prefix, "/reason/", reason), place.cut_top(height, ui.mm(1)), reason,
                          {.face = Face::note}))
                out.push_back(intent::SkipStep{row.key, reason});
        if (ui.button(Name(prefix, "/reason/other"), place.cut_top(height), "Another reason …",
                      {.face = Face::note}))
            out.push_back(intent::EditText{"skip/" + row.key, "Why is it skipped?", {}});
        return;
    }
    if (row.kind == StepKind::choice) {
        Rect line = answers.roomy
                        ? Rect{place.x0, place.y0,
                               place.x1 - std::max(ui.mm(16), place.width() * 0.2f) - ui.mm(2),
                               place.y0 + height}
                        : place.cut_top(height, ui.mm(1.5f));
        const int n = static_cast<int>(row.choices.size());
        for (int i = 0; i < n; ++i) {
            const StepChoice& choice = row.choices[static_cast<std::size_t>(i)];
            if (ui.button(Name(prefix, "/answer/", row.key, "/", choice.word),
                          line.column(i, n, ui.mm(2)), choice.word,
                          {.look = choice.stops ? Look::danger : Look::plain,
                           .role = ControlRole::choice}))
                out.push_back(intent::TickStep{row.key, choice.word});
        }
    }
    Rect line = place.cut_top(height);
    const Rect skip = line.cut_right(
        std::max(ui.mm(16), line.width() * (answers.roomy ? 0.2f : 0.28f)), ui.mm(2));
    if (ui.button(Name(prefix, "/skip/", row.key), skip, "Skip",
                  {.look = Look::plain, .face = Face::note}))
        out.push_back(intent::AskSkip{row.key});
    switch (row.kind) {
    case StepKind::tick:
        if (ui.button(Name(prefix, "/done/", row.key), line, "Done", {.look = Look::primary}))
            out.push_back(intent::TickStep{row.key, {}});
        break;
    case StepKind::reading:
        if (ui.button(Name(prefix, "/read/", row.key), line, "Key in the reading",
                      {.look = Look::primary}))
            out.push_back(intent::AskReading{row.key});
        break;
    case StepKind::photo: {
        const Rect a = line.column(0, 2, ui.mm(2));
        const Rect b = line.column(1, 2, ui.mm(2));
        if (ui.button(Name(prefix, "/photo/", row.key), a, "Add photo"))
            out.push_back(intent::ChooseFile{});
        if (ui.button(Name(prefix, "/done/", row.key), b, "Done", {.look = Look::primary}))
            out.push_back(intent::TickStep{row.key, {}});
        break;
    }
    case StepKind::choice:
        break;
    }
}

float draw_step(Ui& ui, float x0, float x1, float y, const StepRow& row, const StepsShown& shown,
                std::string_view prefix, Intents& out) {
    const float box_width = ui.mm(10);
    const float pad = row.opened ? ui.mm(1.5f) : 0;
    const float text_x = x0 + pad + box_width + ui.mm(1);
    const float width = x1 - pad - text_x;
    const float note_gap = ui.mm(0.6f);
    const float text = ui.wrapped_height(width, row.text, Face::body);
    const float answer =
        row.answer.empty() ? 0 : ui.wrapped_height(width, row.answer, Face::note) + note_gap;
    const float refused =
        row.refused.empty() ? 0 : ui.wrapped_height(width, row.refused, Face::note) + note_gap;
    float detail = 0;
    const float full = x1 - x0 - 2 * pad;
    const Answers answers{row, prefix, shown.skipping && row.opened, shown.reasons,
                          full > ui.mm(75)};
    if (row.opened) {
        if (!row.hint.empty())
            detail += ui.wrapped_height(full - ui.mm(3), row.hint, Face::note) + ui.mm(1);
        if (!row.window.empty())
            detail += ui.theme().pitch(Face::note) + ui.mm(1);
        if (!row.caution.empty())
            detail += caution_height(ui, full, row.caution) + ui.mm(1.5f);
        detail += answers_height(ui, answers);
    }
    const float head = std::max(ui.mm(9.2f), text + answer + refused + ui.mm(2));
    const float height = head + detail + 2 * pad;
    if (row.opened)
        ui.fill({x0, y, x1, y + height - ui.mm(0.5f)}, Ink::raised, 1.5f, 0.5f);

    // The box answers by itself only where a tick is all there is to say.
    const Rect hit{x0 + pad, y + pad, x0 + pad + box_width, y + pad + std::max(ui.mm(9), head)};
    const Rect line{text_x, y + pad, x1 - pad, y + pad + head};
    const Name box_name(prefix, "/tick/", row.key);
    const bool done = row.look == StepLook::done || row.look == StepLook::skipped;
    if (ui.area(box_name, hit, row.text,
                {.role = ControlRole::tick,
                 .dead = row.look == StepLook::barred,
                 .selected = done,
                 .value = row.answer})) {
        if (row.look == StepLook::barred || done || row.kind != StepKind::tick)
            out.push_back(intent::ExpandStep{row.key});
        else
            out.push_back(intent::TickStep{row.key, {}});
    }
    draw_box(ui, {hit.x0, hit.y0, hit.x1, hit.y0 + ui.mm(9)}, row);
    if (ui.area(Name(prefix, "/step/", row.key), line, row.text, {}))
        out.push_back(intent::ExpandStep{row.key});
    float ty = y + pad + (head - text - answer - refused) / 2;
    if (row.opened)
        ty = y + pad + ui.mm(1.6f);
    const bool bright = row.look == StepLook::live || row.look == StepLook::open;
    ty += ui.wrapped(text_x, ty, width, row.text, Face::body, bright ? Ink::ink : Ink::soft);
    if (!row.answer.empty())
        ty += ui.wrapped(text_x, ty + note_gap, width, row.answer, Face::note,
                         row.look == StepLook::skipped ? Ink::edge : Ink::soft) +
              note_gap;
    if (!row.refused.empty())
        ui.wrapped(text_x, ty + note_gap, width, row.refused, Face::note, Ink::outside);
    if (row.opened) {
        float dy = y + pad + head;
        if (!row.hint.empty())
            dy += ui.wrapped(x0 + pad + ui.mm(1.5f), dy, full - ui.mm(3), row.hint, Face::note,
                             Ink::soft) +
                  ui.mm(1);
        if (!row.window.empty()) {
            ui.text({x0 + pad + ui.mm(1.5f), dy, x1, dy + ui.theme().pitch(Face::note)}, row.window,
                    Face::note, Ink::ink);
            dy += ui.theme().pitch(Face::note) + ui.mm(1);
        }
        if (!row.caution.empty())
            dy += draw_caution(ui, x0 + pad, dy, full, row.caution) + ui.mm(1.5f);
        draw_answers(ui, {x0 + pad, dy, x1 - pad, y + height}, answers, out);
    } else {
        ui.rule(x0, x1, y + height);
    }
    return height;
}

void draw_lists(Ui& ui, Rect place, const StepsShown& shown, std::string_view prefix,
                Intents& out) {
    Rect body = place.inset(ui.mm(2.2f), ui.mm(1.6f));
    ui.text(body.cut_top(ui.theme().pitch(Face::strong), ui.mm(1.5f)), "Lists", Face::strong,
            Ink::ink);
    const Rect content = ui.begin_scroll(Name(prefix, "/lists"), body);
    const float x1 = body.x1 - ui.mm(1.5f);
    float y = content.y0;
    bool offered = false;
    {
        const Rect card{body.x0, y, x1, y + ui.mm(11)};
        const Name name(prefix, "/apart");
        ui.fill(card, ui.pressed(name) ? Ink::line : Ink::raised, 1.5f);
        if (ui.area(name, card, "Taken off, put back", {.value = shown.apart}))
            out.push_back(intent::ShowApart{true});
        ui.text({card.x0 + ui.mm(2.5f), card.y0, card.x1, card.y1}, "Taken off, put back",
                Face::body, Ink::ink);
        ui.text({card.x0, card.y0, card.x1 - ui.mm(2.5f), card.y1}, shown.apart, Face::note,
                shown.apart_left ? Ink::edge : Ink::soft, Align::right);
        y += ui.mm(13);
    }
    for (const ListCard& list : shown.lists) {
        if (list.entry.empty() && !offered) {
            offered = true;
            y += ui.mm(1);
            ui.text({body.x0, y, x1, y + ui.theme().pitch(Face::note)}, "To take up", Face::note,
                    Ink::soft);
            y += ui.theme().pitch(Face::note) + ui.mm(1);
        }
        const float count = ui.text_width(list.progress, Face::note) + ui.mm(5);
        const float name_width = x1 - body.x0 - count - ui.mm(3);
        const float text = ui.wrapped_height(name_width, list.name, Face::body);
        const float height = std::max(ui.mm(11), text + ui.mm(4));
        const Rect card{body.x0, y, x1, y + height};
        const Name name(prefix, "/list/", list.entry.empty() ? list.key : list.entry);
        ui.fill(card, ui.pressed(name) ? Ink::line : Ink::raised, 1.5f);
        if (ui.area(name, card, list.name, {.value = list.progress})) {
            if (list.entry.empty())
                out.push_back(intent::TakeUpList{list.key});
            else
                out.push_back(intent::OpenList{list.entry});
        }
        ui.wrapped(card.x0 + ui.mm(2.5f), card.mid_y() - text / 2, name_width, list.name,
                   Face::body, list.finished ? Ink::soft : Ink::ink);
        ui.text({card.x0, card.y0, card.x1 - ui.mm(2.5f), card.y1}, list.progress, Face::note,
                list.finished ? Ink::inside : Ink::soft, Align::right);
        if (!list.entry.empty())
            draw_progress(ui,
                          {card.x0 + ui.mm(2.5f), card.y1 - ui.mm(1.4f), card.x1 - ui.mm(2.5f),
                           card.y1 - ui.mm(0.8f)},
                          list.part);
        y += height + ui.mm(2);
    }
    ui.end_scroll(y);
}

} // namespace

void draw_steps(Ui& ui, Rect place, const StepsShown& shown, std::string_view prefix,
                Intents& out) {
    ui.fill(place, Ink::pane, 1.5f);
    if (!shown.has_list) {
        draw_lists(ui, place, shown, prefix, out);
        return;
    }
    Rect body = place.inset(ui.mm(2.2f), ui.mm(1.6f));
    Rect top = body.cut_top(ui.mm(9.2f), ui.mm(1));
    const Rect lists = top.cut_right(ui.mm(16), ui.mm(2));
    if (ui.button(Name(prefix, "/lists"), lists, "Lists", {.face = Face::note}))
        out.push_back(intent::CloseList{});
    const Rect count = top.cut_right(ui.text_width(shown.progress, Face::note), ui.mm(2));
    ui.text(count, shown.progress, Face::note, Ink::soft, Align::right);
    if (ui.text_width(shown.name, Face::strong) <= top.width())
        ui.text(top, shown.name, Face::strong, Ink::ink);
    else
        ui.wrapped(top.x0, top.mid_y() - ui.wrapped_height(top.width(), shown.name, Face::note) / 2,
                   top.width(), shown.name, Face::note, Ink::ink);
    draw_progress(ui, body.cut_top(ui.mm(0.9f), ui.mm(1)), shown.part);
    if (!shown.still_off.empty()) {
        // What is not back yet stands over every step that puts power on.
        const float text =
            ui.wrapped_height(body.width() - ui.mm(12), shown.still_off, Face::note) + ui.mm(2.4f);
        const Rect bar = body.cut_top(std::max(ui.mm(9.2f), text), ui.mm(1));
        const Name name(prefix, "/still_off");
        ui.fill(bar, ui.pressed(name) ? Ink::line : Ink::raised, 1.2f);
        ui.outline(bar, Ink::edge, 1.2f, 0.4f);
        if (ui.area(name, bar, shown.still_off, {}))
            out.push_back(intent::ShowApart{true});
        draw_icon(ui, Icon::warning, {bar.x0, bar.y0, bar.x0 + ui.mm(7), bar.y1}, Ink::edge, 4.2f);
        draw_icon(ui, Icon::forward, {bar.x1 - ui.mm(4), bar.y0, bar.x1 - ui.mm(1), bar.y1},
                  Ink::soft, 2.6f);
        ui.wrapped(bar.x0 + ui.mm(7), bar.y0 + ui.mm(1.2f), bar.width() - ui.mm(12),
                   shown.still_off, Face::note, Ink::edge);
    }
    const Rect content = ui.begin_scroll(Name(prefix, "/steps/", shown.entry), body);
    const float x1 = body.x1 - ui.mm(1.2f);
    float y = content.y0;
    if (!shown.intro.empty())
        y += ui.wrapped(body.x0, y, x1 - body.x0, shown.intro, Face::note, Ink::soft) + ui.mm(1.5f);
    for (const StepRow& row : shown.rows) {
        const float height = draw_step(ui, body.x0, x1, y, row, shown, prefix, out) + ui.mm(0.6f);
        // The live step comes into view when it becomes the live one.
        if (shown.follow && row.opened && y + height > body.y1)
            ui.scroll_to(Name(prefix, "/steps/", shown.entry),
                         y - content.y0 - std::max(0.0f, body.height() - height - ui.mm(12)));
        y += height;
    }
    ui.end_scroll(y + ui.mm(2));
}

void draw_apart(Ui& ui, Rect place, const Page& page, const ShotSource& shots, Intents& out) {
    ui.fill(place, Ink::pane, 1.5f);
    draw_page(ui, place.inset(ui.mm(2.2f), ui.mm(1.6f)), page, shots, out);
}

} // namespace railside
