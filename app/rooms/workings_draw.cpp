#include "app/rooms/panels.h"
#include "app/ui/icons.h"

#include <algorithm>

namespace railside {

namespace {

float row_height(const Ui& ui, const FieldRow& row, float width);

/// How a field lies in its width.
enum class RowForm {
    words,   // a few words as buttons, below the label
    beside,  // label at the left, value at the right
    stacked, // the value is too long for that: label above it
};

std::string_view shown_of(const FieldRow& row) {
    for (const auto& [key, label] : row.words)
        if (key == row.word)
            return label;
    return row.value.empty() ? (row.required ? "key in" : "–") : std::string_view(row.value);
}

RowForm row_form(const Ui& ui, const FieldRow& row, float width) {
    const int n = static_cast<int>(row.words.size());
    if (row.is_choice && n <= 3) {
        const float room = (width - ui.mm(2) * static_cast<float>(n - 1)) / static_cast<float>(n);
        const bool fits = std::all_of(row.words.begin(), row.words.end(), [&](const auto& word) {
            return ui.text_width(word.second, Face::note) <= room - ui.mm(2);
        });
        if (fits)
            return RowForm::words;
    }
    const bool plain = row.is_choice || row.value.empty();
    const float value = ui.text_width(shown_of(row), plain ? Face::body : Face::value);
    const float symbol =
        row.symbol.empty() ? 0 : ui.symbol_width(row.symbol, Face::note) + ui.mm(1.5f);
    // Half the label on each of two lines is as far as it may be squeezed.
    const float least = ui.text_width(row.label, Face::note) * 0.6f + symbol;
    return value + ui.mm(2) + least > width ? RowForm::stacked : RowForm::beside;
}

/// One value with the entry it came from; a touch opens that.
float draw_source(Ui& ui, float x0, float x1, float y, const WorkingsShown::SourceRow& source,
                  Intents& out) {
    const float note = ui.theme().pitch(Face::note);
    const float height = std::max(ui.mm(9.2f), 2 * note + ui.mm(1));
    const Rect line{x0, y, x1, y + height};
    const Name name("workings/source/", source.key);
    if (ui.pressed(name))
        ui.fill(line, Ink::raised, 1.0f);
    if (ui.area(name, line, source.label, {.value = source.origin}))
        out.push_back(intent::OpenSource{source.entry});
    const float right = x1 - ui.mm(5);
    const float top = line.mid_y() - note;
    const float value = ui.text_width(source.value, Face::note);
    const float room = std::max(0.0f, right - x0 - value - ui.mm(2));
    ui.text_cut({x0, top, x0 + room, top + note}, source.label, Face::note, Ink::soft);
    if (value <= right - x0)
        ui.text({x0, top, right, top + note}, source.value, Face::note, Ink::ink, Align::right);
    else
        ui.text_cut({x0, top, right, top + note}, source.value, Face::note, Ink::ink);
    ui.text_cut({x0, top + note, right, top + 2 * note}, source.origin, Face::note, Ink::soft);
    draw_icon(ui, Icon::forward, {x1 - ui.mm(3), line.y0, x1, line.y1}, Ink::soft, 2.6f);
    ui.rule(x0, x1, line.y1);
    return height;
}

/// One field: label and where the value came from at the left, the value at the right; the whole
/// row is the target.
float draw_row(Ui& ui, float x0, float x1, float y, const FieldRow& row, Intents& out) {
    const float height = row_height(ui, row, x1 - x0);
    Rect place{x0, y, x1, y + height};
    const Name name("workings/field/", row.key);
    const RowForm form = row_form(ui, row, x1 - x0);
    if (form == RowForm::words) {
        const Rect labels = place.cut_top(ui.theme().pitch(Face::note) + ui.mm(0.8f));
        ui.text_cut(labels, row.label, Face::note, Ink::soft);
        const int n = static_cast<int>(row.words.size());
        const Rect buttons{place.x0, place.y0, place.x1, place.y0 + ui.mm(9)};
        for (int i = 0; i < n; ++i) {
            const auto& [key, label] = row.words[static_cast<std::size_t>(i)];
            const bool chosen = key == row.word;
            if (ui.button(Name(name, "/", key), buttons.column(i, n, ui.mm(2)), label,
                          {.look = chosen ? Look::selected : Look::plain,
                           .role = ControlRole::choice,
                           .selected = chosen,
                           .face = Face::note}))
                out.push_back(intent::SetWord{"field/" + row.key, key});
        }
        return height;
    }
    if (ui.pressed(name))
        ui.fill(place, Ink::raised, 1.0f);
    const std::string_view shown = shown_of(row);
    const Face face = row.is_choice || row.value.empty() ? Face::body : Face::value;
    const float value_width = ui.text_width(shown, face);
    const float spread_width =
        row.spread.empty() ? 0 : ui.text_width(row.spread, Face::note) + ui.mm(1.5f);
    const float body = ui.theme().pitch(Face::body);
    const float note = ui.theme().pitch(Face::note);

    const Touched touched =
        ui.area(name, place, row.label,
                {.role = row.is_choice ? ControlRole::choice : ControlRole::field, .value = shown});
    if (form == RowForm::stacked) {
        const float top = place.y0 + ui.mm(0.7f);
        ui.text_cut({place.x0, top, place.x1, top + note}, row.label, Face::note, Ink::soft);
        if (!row.refusal.empty())
            ui.text_cut({place.x0, top + note, place.x1, top + note + body}, row.refusal,
                        Face::note, Ink::outside);
        else
            ui.text_cut({place.x0, top + note, place.x1, top + note + body}, shown,
                        ui.text_width(shown, Face::body) <= place.width() ? Face::body : Face::note,
                        row.value.empty() ? (row.required ? Ink::edge : Ink::soft) : Ink::ink);
        if (touched)
            out.push_back(intent::OpenField{row.key});
        ui.rule(x0, x1, place.y1);
        return height;
    }
    const float right_room = std::max(value_width, spread_width) + ui.mm(2);
    const float left_room = place.width() - right_room;
    const float symbol =
        row.symbol.empty() ? 0 : ui.symbol_width(row.symbol, Face::note) + ui.mm(1.5f);
    Face label_face = Face::body;
    if (ui.text_width(row.label, Face::body) + symbol > left_room)
        label_face = Face::note;
    const bool two_lines =
        label_face == Face::note && ui.text_width(row.label, Face::note) + symbol > left_room;
    const bool has_origin = !row.origin.empty() || !row.refusal.empty();
    const float label_pitch = label_face == Face::body ? body : note;
    float top = place.mid_y() - (label_pitch + (has_origin && !two_lines ? note : 0)) / 2;
    if (two_lines) {
        const float h = ui.wrapped_height(left_room, row.label, Face::note);
        ui.wrapped(place.x0, place.mid_y() - h / 2, left_room, row.label, Face::note, Ink::soft);
    } else {
        ui.note_fit(ui.text({place.x0, top, place.x0 + left_room, top + label_pitch}, row.label,
                            label_face, Ink::soft));
        if (!row.symbol.empty())
            ui.symbol(place.x0 + ui.text_width(row.label, label_face) + ui.mm(1.5f),
                      top + (label_pitch - ui.theme().font(Face::note)->FontSize) * 0.75f,
                      row.symbol, Face::note, Ink::soft);
        if (has_origin)
            ui.text_cut(
                {place.x0, top + label_pitch, place.x0 + left_room, top + label_pitch + note},
                row.refusal.empty() ? row.origin : row.refusal, Face::note,
                row.refusal.empty() ? Ink::soft : Ink::outside);
    }
    Rect values{place.x1 - right_room, place.y0, place.x1, place.y1};
    if (!row.spread.empty()) {
        const float both = body + note;
        values.y0 = place.mid_y() - both / 2;
        ui.text({values.x0, values.y0 + body, values.x1, values.y0 + both}, row.spread, Face::note,
                Ink::soft, Align::right);
        values.y1 = values.y0 + body;
    }
    ui.text(values, shown, face,
            row.value.empty() ? (row.required ? Ink::edge : Ink::soft) : Ink::ink, Align::right);
    if (touched)
        out.push_back(intent::OpenField{row.key});
    ui.rule(x0, x1, place.y1);
    return height;
}

float row_height(const Ui& ui, const FieldRow& row, float width) {
    if (row_form(ui, row, width) == RowForm::words)
        return ui.theme().pitch(Face::note) + ui.mm(11);
    return std::max(ui.mm(9.4f),
                    ui.theme().pitch(Face::body) + ui.theme().pitch(Face::note) + ui.mm(1));
}

/// Headline, range, verdict, reason, cautions.
float draw_answer(Ui& ui, float x0, float x1, float y, const WorkingsShown& shown) {
    const float top = y;
    const float width = x1 - x0;
    if (!shown.answered) {
        const float h = ui.wrapped(x0, y + ui.mm(1), width, shown.missing, Face::body, Ink::edge);
        ui.figure("workings/missing", {x0, y, x1, y + h}, "missing", shown.missing);
        return h + ui.mm(3);
    }
    const float head = ui.theme().font(Face::headline)->FontSize;
    const float head_width = std::min(width, ui.text_width(shown.headline, Face::headline));
    ui.figure("workings/headline", {x0, y, x0 + head_width, y + head}, shown.headline_label,
              shown.headline,
              ui.text({x0, y, x1, y + head}, shown.headline, Face::headline, Ink::ink));
    // The range stands beside the figure where there is room, else below it.
    const float beside = width - head_width - ui.mm(3);
    const float label_pitch = ui.theme().pitch(Face::note);
    if (ui.text_width(shown.headline_note, Face::note) <= beside) {
        ui.text({x0 + head_width + ui.mm(3), y + head - label_pitch - ui.mm(1.2f), x1,
                 y + head - ui.mm(1.2f)},
                shown.headline_note, Face::note, Ink::soft);
        y += head + ui.mm(0.5f);
    } else {
        y += head;
        y += ui.wrapped(x0, y, width, shown.headline_note, Face::note, Ink::soft) + ui.mm(1);
    }
    const Face loud =
        verdict_width(ui, shown.word, Face::strong) <= width ? Face::strong : Face::note;
    const float pill_height = ui.theme().pitch(loud) + ui.mm(2.2f);
    const float pill = draw_verdict(ui, x0, y, shown.state, shown.word, loud);
    ui.figure("workings/verdict", {x0, y, x0 + pill, y + pill_height}, "verdict", shown.word,
              pill > width + 1 ? TextFit::clipped : TextFit::fits);
    const float reason_room = width - pill - ui.mm(2.5f);
    if (reason_room > ui.mm(42)) {
        const float h =
            ui.wrapped(x0 + pill + ui.mm(2.5f), y, reason_room, shown.reason, Face::note, Ink::ink);
        y += std::max(h, pill_height) + ui.mm(1.5f);
    } else {
        y += pill_height + ui.mm(1.2f);
        y += ui.wrapped(x0, y, width, shown.reason, Face::note, Ink::ink) + ui.mm(1.5f);
    }
    if (!shown.cautions.empty())
        y += draw_caution(ui, x0, y, width, shown.caution) + ui.mm(1.5f);
    return y - top;
}

float draw_rest(Ui& ui, float x0, float x1, float y, const WorkingsShown& shown, Intents& out) {
    const float top = y;
    const float note = ui.theme().pitch(Face::note);
    bool any = false;
    for (const FieldRow& row : shown.rows)
        any = any || !row.leads;
    if (any) {
        y += ui.mm(1.5f);
        ui.text({x0, y, x1, y + note}, "More values", Face::note, Ink::soft);
        y += note + ui.mm(0.5f);
        for (const FieldRow& row : shown.rows)
            if (!row.leads)
                y += draw_row(ui, x0, x1, y, row, out);
    }
    if (shown.answered && !shown.figures.empty()) {
        y += ui.mm(3);
        ui.text({x0, y, x1, y + note}, "What follows from it", Face::note, Ink::soft);
        y += note + ui.mm(1);
        for (const auto& figure : shown.figures) {
            const float value = ui.text_width(figure.value, Face::body);
            const float label_room = x1 - x0 - value - ui.mm(2);
            const float h = std::max(ui.theme().pitch(Face::body),
                                     ui.wrapped_height(label_room, figure.label, Face::note));
            ui.wrapped(x0, y + ui.mm(0.6f), label_room, figure.label, Face::note, Ink::soft);
            ui.text({x0, y, x1, y + ui.theme().pitch(Face::body)}, figure.value, Face::body,
                    Ink::ink, Align::right);
            ui.figure(Name("workings/figure/", figure.key), {x0, y, x1, y + h}, figure.label,
                      figure.value);
            y += h;
            if (!figure.range.empty()) {
                ui.text({x0, y, x1, y + note}, figure.range, Face::note, Ink::soft, Align::right);
                y += note;
            }
            y += ui.mm(0.8f);
        }
    }
    if (shown.answered)
        for (const auto& table : shown.tables) {
            y += ui.mm(2.5f);
            ui.text_cut({x0, y, x1, y + note}, table.title, Face::note, Ink::soft);
            y += note + ui.mm(1);
            for (const auto& row : table.rows) {
                const float from = y;
                y += ui.wrapped(x0, y, x1 - x0, row.head, Face::body, Ink::ink);
                y += ui.wrapped(x0 + ui.mm(2), y, x1 - x0 - ui.mm(2), row.lines, Face::note,
                                Ink::soft);
                ui.figure(Name("workings/table/", table.key, "/", row.head), {x0, from, x1, y},
                          row.head, row.lines);
                y += ui.mm(1);
                ui.rule(x0, x1, y);
                y += ui.mm(1);
            }
        }
    if (shown.answered && !shown.notes.empty()) {
        y += ui.mm(2);
        for (const std::string& text : shown.notes)
            y += ui.wrapped(x0, y, x1 - x0, text, Face::note, Ink::soft) + ui.mm(1.2f);
    }
    if (!shown.sources.empty()) {
        y += ui.mm(2.5f);
        ui.text({x0, y, x1, y + note}, "Where the values came from", Face::note, Ink::soft);
        y += note + ui.mm(0.5f);
        for (const auto& source : shown.sources)
            y += draw_source(ui, x0, x1, y, source, out);
    }
    return y - top;
}

void draw_offers(Ui& ui, Rect place, const WorkingsShown& shown, Intents& out) {
    Rect body = place.inset(ui.mm(2.5f), ui.mm(2));
    ui.text(body.cut_top(ui.theme().pitch(Face::strong), ui.mm(1.5f)), "Workings", Face::strong,
            Ink::ink);
    const Rect content = ui.begin_scroll("workings/offers", body);
    float y = content.y0;
    for (const auto& offer : shown.offers) {
        const float width = body.width() - ui.mm(6);
        const float question = ui.wrapped_height(width, offer.question, Face::note);
        const float last =
            offer.last.empty() ? 0 : ui.wrapped_height(width, offer.last, Face::note) + ui.mm(0.5f);
        const float height = ui.theme().pitch(Face::strong) + question + last + ui.mm(4);
        const Rect card{body.x0, y, body.x1 - ui.mm(1.5f), y + height};
        const Name name("workings/offer/", offer.key);
        ui.fill(card, ui.pressed(name) ? Ink::line : Ink::raised, 1.5f);
        if (ui.area(name, card, offer.name, {}))
            out.push_back(intent::PickWorking{offer.key});
        float ty = y + ui.mm(2);
        ui.text({card.x0 + ui.mm(2.5f), ty, card.x1, ty + ui.theme().pitch(Face::strong)},
                offer.name, Face::strong, Ink::ink);
        ty += ui.theme().pitch(Face::strong);
        ty += ui.wrapped(card.x0 + ui.mm(2.5f), ty, width, offer.question, Face::note, Ink::soft) +
              ui.mm(0.5f);
        if (!offer.last.empty())
            ui.wrapped(card.x0 + ui.mm(2.5f), ty, width, offer.last, Face::note, Ink::ink);
        y += height + ui.mm(2);
    }
    ui.end_scroll(y);
}

/// How the readings of this form are taken; a touch changes it. Returns the height used.
float draw_read_with(Ui& ui, float x0, float x1, float y, const WorkingsShown& shown,
                     Intents& out) {
    if (shown.read_with.empty())
        return 0;
    const float text = ui.wrapped_height(x1 - x0 - ui.mm(26), shown.read_with, Face::note);
    const Rect line{x0, y, x1, y + std::max(ui.mm(9.2f), text + ui.mm(2))};
    if (ui.pressed("workings/read_with"))
        ui.fill(line, Ink::raised, 1.0f);
    if (ui.area("workings/read_with", line, "Read with", {.value = shown.read_with}))
        out.push_back(intent::OpenReading{{}, false});
    ui.text(line, "Read with", Face::note, Ink::soft);
    ui.wrapped(x0 + ui.mm(20), line.mid_y() - text / 2, x1 - x0 - ui.mm(26), shown.read_with,
               Face::note, Ink::ink);
    draw_icon(ui, Icon::forward, {x1 - ui.mm(3), line.y0, x1, line.y1}, Ink::soft, 2.6f);
    return line.height() + ui.mm(0.5f);
}

void draw_channels(Ui& ui, Rect place, const AppState& state, Intents& out) {
    const bool words = place.width() >= ui.mm(34);
    const Channel channels[] = {Channel::left, Channel::right};
    for (int i = 0; i < 2; ++i) {
        const bool chosen = state.channel == channels[i];
        const std::string_view label = i == 0 ? (words ? "Left" : "L") : (words ? "Right" : "R");
        if (ui.button(Name("workings/channel/", channel_key(channels[i])),
                      place.column(i, 2, ui.mm(2)), label,
                      {.look = chosen ? Look::selected : Look::plain,
                       .role = ControlRole::tab,
                       .selected = chosen}))
            out.push_back(intent::PickChannel{channels[i]});
    }
}

} // namespace

void draw_workings(Ui& ui, Rect place, const WorkingsShown& shown, const AppState& state,
                   Intents& out) {
    ui.fill(place, Ink::pane, 1.5f);
    if (state.choosing_working) {
        draw_offers(ui, place, shown, out);
        return;
    }
    Rect body = place.inset(ui.mm(2.2f), ui.mm(1.6f));
    const bool low = place.height() < ui.mm(75) && place.width() > ui.mm(80);

    Rect actions = body.cut_bottom(low ? ui.mm(10) : ui.mm(14), ui.mm(1.5f));
    if (low) {
        // A low screen has no line to spare for the title: the channels stand among the actions.
        if (ui.button("workings/others", actions.cut_left(actions.width() * 0.24f, ui.mm(2)),
                      "Other workings", {.face = Face::note}))
            out.push_back(intent::ChooseWorking{});
        draw_channels(ui, actions.cut_left(ui.mm(21), ui.mm(2)), state, out);
    } else {
        Rect top = body.cut_top(ui.mm(9.2f), ui.mm(1));
        draw_channels(ui, top.cut_right(top.width() > ui.mm(85) ? ui.mm(36) : ui.mm(21), ui.mm(2)),
                      state, out);
        ui.text_cut(top, shown.name, Face::strong, Ink::ink);
        if (ui.button("workings/others", actions.cut_left(actions.width() * 0.36f, ui.mm(2)),
                      "Other workings"))
            out.push_back(intent::ChooseWorking{});
    }
    if (ui.button("workings/keep", actions,
                  shown.kept_already ? std::string_view("Kept")
                                     : std::string_view(shown.keep_label),
                  {.look = Look::primary, .dead = !shown.answered || shown.kept_already}))
        out.push_back(intent::KeepWorking{});

    if (low) {
        // A low screen: what is keyed at one side, the answer always in view at the other.
        const float gap = ui.mm(3);
        const Rect keyed = body.column(0, 2, gap);
        const Rect answer = body.column(1, 2, gap);
        {
            const Rect content = ui.begin_scroll("workings/form", keyed);
            float y = content.y0;
            const float note = ui.theme().pitch(Face::note);
            ui.text_cut({keyed.x0, y, keyed.x1, y + note}, shown.name, Face::note, Ink::soft);
            y += note;
            for (const FieldRow& row : shown.rows)
                if (row.leads)
                    y += draw_row(ui, keyed.x0, keyed.x1 - ui.mm(1.2f), y, row, out);
            y += draw_read_with(ui, keyed.x0, keyed.x1 - ui.mm(1.2f), y, shown, out);
            y += draw_rest(ui, keyed.x0, keyed.x1 - ui.mm(1.2f), y, shown, out);
            ui.end_scroll(y + ui.mm(1));
        }
        const Rect content = ui.begin_scroll("workings/answer", answer);
        float y = content.y0;
        y += draw_answer(ui, answer.x0, answer.x1 - ui.mm(1.2f), y, shown);
        for (std::size_t i = 0; shown.answered && i < shown.plots.size(); ++i) {
            const float height = ui.mm(34);
            draw_plot(ui, {answer.x0, y, answer.x1 - ui.mm(1.2f), y + height}, shown.plots[i], i,
                      out);
            y += height + ui.mm(1.5f);
        }
        ui.end_scroll(y);
        return;
    }
    const Rect content = ui.begin_scroll("workings/form", body);
    const float x1 = body.x1 - ui.mm(1.2f);
    float y = content.y0;
    for (const FieldRow& row : shown.rows)
        if (row.leads)
            y += draw_row(ui, body.x0, x1, y, row, out);
    y += ui.mm(1.5f);
    y += draw_answer(ui, body.x0, x1, y, shown);
    for (std::size_t i = 0; shown.answered && i < shown.plots.size(); ++i) {
        // As tall as the place left in view where that is enough to read, so that it need not be
        // scrolled for.
        const float wanted = std::clamp((x1 - body.x0) * 0.42f, ui.mm(34), ui.mm(60));
        const float left_in_view = body.y1 - (y - content.y0 + body.y0) - ui.mm(1);
        const float height =
            i == 0 && left_in_view >= ui.mm(25) ? std::min(wanted, left_in_view) : wanted;
        draw_plot(ui, {body.x0, y, x1, y + height}, shown.plots[i], i, out);
        y += height + ui.mm(1.5f);
    }
    y += draw_read_with(ui, body.x0, x1, y, shown, out);
    y += draw_rest(ui, body.x0, x1, y, shown, out);
    ui.end_scroll(y + ui.mm(2));
}

} // namespace railside
