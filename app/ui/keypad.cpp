#include "app/ui/keypad.h"

#include "app/ui/icons.h"

#include <algorithm>
#include <cmath>

namespace railside {

namespace {

// A finger that drags the value steps it once each so far.
constexpr float k_step_mm = 4;
constexpr float k_quick_mm = 10;     // height of a quick value
constexpr float k_least_key_mm = 10; // of a phone

/// Keys that step the value, one above the other; returns the steps wanted.
int draw_steps(Ui& ui, Rect place, const KeypadShown& shown) {
    int steps = 0;
    const bool dead = shown.steps.empty();
    const std::string_view labels[] = {"↑", "↓"};
    const std::string_view names[] = {"keypad/step/up", "keypad/step/down"};
    for (int i = 0; i < 2; ++i)
        if (ui.button(names[i], place.row(i, 2, ui.mm(1)), labels[i],
                      {.role = ControlRole::key,
                       .dead = dead,
                       .grip = Grip::repeat,
                       .face = Face::value,
                       .value = shown.steps}))
            steps += i == 0 ? 1 : -1;
    return steps;
}

/// Whole steps a finger has gone over since the drag began, given out as it goes.
int dragged_steps(Ui& ui, Rect place, std::string_view value) {
    const Dragged drag =
        ui.drag_area("keypad/drag", place, "drag to step", ControlRole::slider, value);
    const float step = ui.mm(k_step_mm);
    if (drag.way.empty())
        return 0;
    const auto whole = [&](float x) { return static_cast<int>(std::floor((x - place.x0) / step)); };
    return whole(drag.x) - whole(drag.x - drag.dx);
}

void draw_typed(Ui& ui, Rect box, const KeypadState& state, const KeypadShown& shown) {
    ui.fill(box, Ink::pane, 1.5f);
    Rect inner = box.inset(ui.mm(2), ui.mm(1));
    const float note = ui.theme().pitch(Face::note);
    const Rect line = {inner.x0, inner.y0, inner.x1, inner.y1 - note - ui.mm(0.5f)};
    const bool old = state.fresh;
    const Face face = ui.text_width(state.text, Face::headline) > line.width() - ui.mm(4)
                          ? Face::value
                          : Face::headline;
    const float typed_width = ui.text_width(shown.typed, face);
    const float suffix_width = ui.text_width(shown.suffix, face);
    ui.text({line.x0, line.y0, line.x0 + typed_width, line.y1}, shown.typed, face,
            old ? Ink::soft : Ink::ink);
    ui.text({line.x0 + typed_width + ui.mm(1), line.y0, line.x1, line.y1}, shown.suffix, face,
            Ink::soft);
    float caret =
        line.x0 + typed_width + (shown.suffix.empty() ? 0 : ui.mm(1) + suffix_width) + ui.mm(0.8f);
    if (old)
        caret = line.x0 - ui.mm(0.8f);
    ui.fill({caret, line.y0 + ui.mm(0.5f), caret + ui.mm(0.4f), line.y1 - ui.mm(0.5f)}, Ink::ink);
    const Rect below{inner.x0, inner.y1 - note, inner.x1, inner.y1};
    TextFit fit = TextFit::fits;
    if (ui.text_width(shown.spoken, Face::note) <= below.width())
        fit = ui.text(below, shown.spoken, Face::note, Ink::soft);
    else
        ui.text_cut(below, shown.spoken, Face::note, Ink::soft);
    ui.figure("keypad/typed", box, "typed", state.text, fit);
    ui.figure("keypad/spoken", below, "understood", shown.spoken);
}

/// The message, scrolled where the place is too low for all of it.
void draw_said(Ui& ui, Rect place, const KeypadShown& shown) {
    const Ink ink = shown.tone == KeypadTone::unusual   ? Ink::edge
                    : shown.tone == KeypadTone::refused ? Ink::outside
                                                        : Ink::ink;
    const float mark = ui.mm(2.6f);
    const float left = place.x0 + mark + ui.mm(1.5f);
    const Rect content = ui.begin_scroll("keypad/said", place);
    draw_mark(
        ui,
        shown.tone == KeypadTone::unusual   ? Mark::half
        : shown.tone == KeypadTone::refused ? Mark::cross
                                            : Mark::ring,
        {place.x0, content.y0 + ui.mm(0.3f), place.x0 + mark, content.y0 + ui.mm(0.3f) + mark},
        ink);
    const float height =
        ui.wrapped(left, content.y0, place.x1 - ui.mm(1) - left, shown.message, Face::note, ink);
    ui.figure("keypad/message", {place.x0, content.y0, place.x1, content.y0 + height}, "message",
              shown.message);
    ui.end_scroll(content.y0 + height);
}

} // namespace

KeypadAnswer draw_keypad(Ui& ui, Rect area, Hand hand, const KeypadState& state,
                         const KeypadShown& shown) {
    KeypadAnswer answer;
    ui.begin_layer(Ui::Cover::clear);
    ui.fill(area, Ink::ground);
    const float gap = ui.mm(1);
    const float edge = ui.mm(1.4f);
    Rect body = area.inset(edge);
    const bool wide = area.width() > area.height();
    const float note = ui.theme().pitch(Face::note);
    const float typed_height =
        std::max(ui.mm(19.2f), ui.theme().pitch(Face::headline) + note + ui.mm(3));
    const float answer_height = ui.theme().pitch(Face::strong);

    // Wide: the value at one side, the keys under the working hand. Tall: the value above, the keys
    // at the thumb.
    Rect keys;
    Rect told;
    if (wide) {
        const float key_width = std::clamp(body.width() * 0.5f, ui.mm(50), ui.mm(110));
        keys = hand == Hand::right ? body.cut_right(key_width, ui.mm(3))
                                   : body.cut_left(key_width, ui.mm(3));
        const float most = ui.mm(95);
        if (keys.height() > most) {
            keys.y0 = keys.y1 - most;
        }
        told = body;
        if (told.height() > most)
            told.y0 = told.y1 - most;
    } else {
        // Room for what may come up while keys are pressed (answer, message) is there before, for
        // keys do not move under the finger.
        const float above = note + ui.theme().pitch(Face::body) + ui.mm(1) + typed_height +
                            ui.mm(1.2f) + answer_height + ui.mm(0.8f) + 2 * note +
                            (state.quick.empty() ? 0 : k_quick_mm + 1) * ui.mm(1);
        const float most_keys = std::min(body.height() * 0.62f, ui.mm(95));
        const float least_keys = std::min(5 * ui.mm(k_least_key_mm) + 4 * gap, most_keys);
        keys = body.cut_bottom(std::clamp(body.height() - ui.mm(3) - above, least_keys, most_keys),
                               ui.mm(3));
        told = body;
        const float most = ui.mm(80);
        if (told.height() > most)
            told.y0 = told.y1 - most;
    }

    // What is being keyed.
    ui.text_cut(told.cut_top(note), state.title, Face::note, Ink::soft);
    const float name_height = ui.theme().pitch(Face::body);
    Rect name = told.cut_top(name_height, ui.mm(1));
    const float symbol_room =
        state.field.symbol.empty() ? 0 : ui.symbol_width(state.field.symbol, Face::body) + ui.mm(2);
    const float label_width =
        std::min(ui.text_width(state.field.label, Face::body), name.width() - symbol_room);
    ui.text_cut({name.x0, name.y0, name.x0 + label_width + 1, name.y1}, state.field.label,
                Face::body, Ink::ink);
    ui.symbol(name.x0 + label_width + ui.mm(2),
              name.y0 + (name_height - ui.theme().font(Face::body)->FontSize) / 2,
              state.field.symbol, Face::body, Ink::soft);
    Rect typed = told.cut_top(typed_height, ui.mm(1.2f));
    answer.steps += draw_steps(ui, typed.cut_right(ui.mm(10), ui.mm(1)), shown);
    draw_typed(ui, typed, state, shown);
    answer.steps += dragged_steps(ui, typed, state.text);

    // What the working makes of it, where it does not stand in view beside.
    if (!shown.answer.empty()) {
        const Rect line = told.cut_top(answer_height, ui.mm(0.8f));
        const float mark = ui.mm(2.6f);
        draw_mark(ui, verdict_mark(shown.answer_state),
                  {line.x0, line.mid_y() - mark / 2, line.x0 + mark, line.mid_y() + mark / 2},
                  verdict_ink(shown.answer_state));
        ui.text_cut({line.x0 + mark + ui.mm(1.5f), line.y0, line.x1, line.y1}, shown.answer,
                    Face::body, verdict_ink(shown.answer_state));
        ui.figure("keypad/answer", line, "answer", shown.answer);
    }
    // Quick values at the foot, where there is room, the message between.
    const float least_said = shown.message.empty() ? 0 : note;
    if (!state.quick.empty() && told.height() >= ui.mm(k_quick_mm + 1) + least_said) {
        const int all = static_cast<int>(std::min<std::size_t>(state.quick.size(), 6));
        const int rows = told.height() > ui.mm(40) && all > 3 ? 2 : 1;
        const int n = rows == 2 ? (all + 1) / 2 : std::min(all, 3);
        const Rect foot = told.cut_bottom(ui.mm(k_quick_mm) * static_cast<float>(rows) +
                                              ui.mm(1) * static_cast<float>(rows - 1),
                                          ui.mm(1));
        for (int i = 0; i < std::min(all, n * rows); ++i) {
            const QuickValue& quick = state.quick[static_cast<std::size_t>(i)];
            const char index[] = {static_cast<char>('1' + i), 0};
            const bool chosen = !state.compared.empty() && state.compared == quick.text;
            if (ui.button(Name("keypad/quick/", index),
                          foot.row(i / n, rows, ui.mm(1)).column(i % n, n, ui.mm(2)), quick.label,
                          {.look = chosen ? Look::selected : Look::plain,
                           .selected = chosen,
                           .face = Face::note}))
                answer.quick = &quick;
        }
    }
    if (!shown.message.empty()) {
        draw_said(ui, told, shown);
    } else if (!state.field.help.empty() &&
               ui.wrapped_height(told.width(), state.field.help, Face::note) <= told.height()) {
        ui.wrapped(told.x0, told.y0, told.width(), state.field.help, Face::note, Ink::soft);
    }

    // Five rows: digits with prefixes beside them, then leave and set.
    const Rect actions = keys.cut_bottom((keys.height() - 4 * gap) / 5, gap);
    const int columns = 4;
    for (int row = 0; row < 4; ++row) {
        const Rect line = keys.row(row, 4, gap);
        for (int column = 0; column < 3; ++column) {
            const KeypadKey& key =
                shown.digits[static_cast<std::size_t>(row) * 3 + static_cast<std::size_t>(column)];
            if (ui.button(Name("keypad/", key.key), line.column(column, columns, gap), key.label,
                          {.role = ControlRole::key, .dead = !key.live, .face = Face::value}))
                answer.key = key.key;
        }
        // The last column: erase at the top, then the prefixes, largest first.
        const Rect place = line.column(3, columns, gap);
        if (row == 0) {
            const Touched touched = ui.button("keypad/erase", place, "",
                                              {.role = ControlRole::key, .grip = Grip::repeat});
            draw_icon(ui, Icon::erase, place, Ink::ink);
            if (touched)
                answer.key = "erase";
        } else if (static_cast<std::size_t>(row) <= shown.prefixes.size()) {
            const KeypadKey& key = shown.prefixes[static_cast<std::size_t>(row - 1)];
            if (ui.button(Name("keypad/", key.key), place, key.label,
                          {.look = Look::special,
                           .role = ControlRole::key,
                           .dead = !key.live,
                           .face = Face::value}))
                answer.key = key.key;
        } else if (row == 3 && shown.prefixes.size() < 3) {
            if (ui.button("keypad/clear", place, "C",
                          {.role = ControlRole::key, .face = Face::value}))
                answer.key = "clear";
        } else {
            ui.fill(place, Ink::pane, 1.5f);
        }
    }
    if (ui.button(
            "keypad/leave",
            {actions.x0, actions.y0, actions.x0 + actions.width() * 0.38f - gap / 2, actions.y1},
            "Leave"))
        answer.outcome = KeypadOutcome::leave;
    const bool usable = shown.tone == KeypadTone::usual || shown.tone == KeypadTone::unusual;
    const Touched set = ui.button(
        "keypad/set",
        {actions.x0 + actions.width() * 0.38f + gap / 2, actions.y0, actions.x1, actions.y1},
        shown.set_label,
        {.look = Look::primary,
         .dead = !usable,
         .value = shown.tone == KeypadTone::unusual ? "hold" : ""});
    if (usable && ((set.tapped && shown.tone == KeypadTone::usual) || set.held))
        answer.outcome = KeypadOutcome::set;
    ui.end_layer();
    return answer;
}

} // namespace railside
