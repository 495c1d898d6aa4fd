// Pieces that several rooms draw: verdicts, cautions, plots.

#include "app/rooms/panels.h"
#include "app/ui/icons.h"

#include <algorithm>
#include <cmath>

namespace railside {

Icon room_icon(RoomId room) {
    switch (room) {
    case RoomId::shelf:
        return Icon::shelf;
    case RoomId::bench:
        return Icon::bench;
    case RoomId::sheet:
        return Icon::sheet;
    case RoomId::workings:
        return Icon::workings;
    case RoomId::photos:
        return Icon::photos;
    case RoomId::steps:
        return Icon::steps;
    case RoomId::handover:
        return Icon::sheet;
    case RoomId::suspects:
        return Icon::suspects;
    }
    return Icon::sheet;
}

namespace {

Ink curve_ink(CurveRole role) {
    switch (role) {
    case CurveRole::as_found:
        return Ink::ink;
    case CurveRole::target:
        return Ink::inside;
    case CurveRole::optimum:
        return Ink::soft;
    case CurveRole::plus:
        return Ink::plus;
    case CurveRole::minus:
        return Ink::minus;
    case CurveRole::limit:
        return Ink::outside;
    case CurveRole::window:
        return Ink::inside;
    case CurveRole::point:
        return Ink::ink;
    }
    return Ink::ink;
}

/// A polyline in a pattern of its own, so that curves differ without colour.
void stroke(Ui& ui, const std::vector<ImVec2>& points, CurveRole role) {
    const ImU32 colour = ui.theme().colour(curve_ink(role));
    const float width = std::max(
        1.5f, ui.mm(role == CurveRole::optimum || role == CurveRole::target ? 0.4f : 0.6f));
    float on = 0;
    float off = 0;
    if (role == CurveRole::target) {
        on = ui.mm(1.6f);
        off = ui.mm(1.0f);
    } else if (role == CurveRole::optimum) {
        on = ui.mm(0.5f);
        off = ui.mm(0.9f);
    }
    if (on == 0) {
        ui.list().AddPolyline(points.data(), static_cast<int>(points.size()), colour, 0, width);
        return;
    }
    bool drawing = true;
    float left = on;
    for (std::size_t i = 1; i < points.size(); ++i) {
        ImVec2 a = points[i - 1];
        const ImVec2 b = points[i];
        float length = std::hypot(b.x - a.x, b.y - a.y);
        while (length > 0) {
            const float step = std::min(left, length);
            const ImVec2 to{a.x + (b.x - a.x) * step / length, a.y + (b.y - a.y) * step / length};
            if (drawing)
                ui.list().AddLine(a, to, colour, width);
            a = to;
            length -= step;
            left -= step;
            if (left <= 0) {
                drawing = !drawing;
                left = drawing ? on : off;
            }
        }
    }
}

void draw_lines(Ui& ui, Rect frame, const PlotShown& shown) {
    static thread_local std::vector<ImVec2> points;
    ui.list().PushClipRect({frame.x0, frame.y0}, {frame.x1, frame.y1}, true);
    // What is drawn first lies below: the optimum, the target, then what was found.
    for (const CurveRole role :
         {CurveRole::optimum, CurveRole::target, CurveRole::limit, CurveRole::window,
          CurveRole::minus, CurveRole::plus, CurveRole::as_found}) {
        for (const PlotLine& line : shown.lines) {
            if (line.role != role)
                continue;
            points.clear();
            for (std::size_t i = 0; i < line.x.size(); ++i)
                points.push_back(
                    {frame.x0 + line.x[i] * frame.width(), frame.y1 - line.y[i] * frame.height()});
            stroke(ui, points, role);
        }
    }
    for (const PlotLine& line : shown.lines)
        for (std::size_t i = 0; line.role == CurveRole::point && i < line.x.size(); ++i)
            ui.list().AddCircleFilled(
                {frame.x0 + line.x[i] * frame.width(), frame.y1 - line.y[i] * frame.height()},
                ui.mm(1), ui.theme().colour(curve_ink(line.role)));
    ui.list().PopClipRect();
}

void draw_bars(Ui& ui, Rect frame, const PlotShown& shown) {
    const int n = static_cast<int>(shown.bars.size());
    for (int i = 0; i < n; ++i) {
        const PlotBar& bar = shown.bars[static_cast<std::size_t>(i)];
        Rect row = frame.row(i, std::max(n, 1), ui.mm(1));
        const Rect words = row.cut_top(ui.theme().pitch(Face::note));
        const float value_width = ui.text_width(bar.value, Face::note);
        ui.text_cut({words.x0, words.y0, words.x1 - value_width - ui.mm(2), words.y1}, bar.label,
                    Face::note, Ink::soft);
        ui.text(words, bar.value, Face::note, Ink::ink, Align::right);
        const float x0 = frame.x0 + bar.low * frame.width();
        const float x1 = frame.x0 + bar.high * frame.width();
        const float y = row.mid_y();
        const float half = std::min(row.height() / 2, ui.mm(1.6f));
        ui.fill({frame.x0, y - ui.mm(0.1f), frame.x1, y + ui.mm(0.1f)}, Ink::faint);
        const float edge = shown.zoomed ? 0 : ui.mm(1.6f);
        ui.list().PushClipRect({frame.x0 - edge, frame.y0}, {frame.x1 + edge, frame.y1}, true);
        if (x1 - x0 > ui.mm(1))
            ui.fill({x0, y - half, x1, y + half}, curve_ink(bar.role), 0.6f,
                    bar.role == CurveRole::window ? 0.55f : 0.9f);
        else if (bar.role == CurveRole::limit || bar.role == CurveRole::target)
            ui.fill({x0 - ui.mm(0.35f), y - half, x0 + ui.mm(0.35f), y + half},
                    curve_ink(bar.role));
        else
            ui.list().AddCircleFilled({(x0 + x1) / 2, y}, half,
                                      ui.theme().colour(curve_ink(bar.role)));
        ui.list().PopClipRect();
    }
}

/// What the axis up is, then what each line is, in the line's own look; as many rows as `most`
/// allows. Returns the rows used.
int legend(Ui& ui, Rect place, const PlotShown& shown, int most) {
    const float note = ui.theme().pitch(Face::note);
    const float gap = ui.mm(3);
    const float sample = ui.mm(5.4f);
    float x = place.x0;
    float y = place.y0;
    int rows = 1;
    static thread_local std::vector<ImVec2> points;
    ui.text_cut({x, y, place.x1, y + note}, shown.y_title, Face::note, Ink::soft);
    x += ui.text_width(shown.y_title, Face::note) + gap;
    for (const PlotLine& line : shown.lines) {
        const float width = sample + ui.text_width(line.label, Face::note);
        if (x > place.x0 && x + width > place.x1) {
            if (rows == most)
                break;
            ++rows;
            x = place.x0;
            y += note;
        }
        points.clear();
        points.push_back({x, y + note / 2});
        points.push_back({x + ui.mm(4.6f), y + note / 2});
        if (line.role == CurveRole::point)
            ui.list().AddCircleFilled({x + ui.mm(2.3f), y + note / 2}, ui.mm(1),
                                      ui.theme().colour(curve_ink(line.role)));
        else
            stroke(ui, points, line.role);
        ui.text_cut({x + sample, y, place.x1, y + note}, line.label, Face::note,
                    curve_ink(line.role));
        x += width + gap;
    }
    return rows;
}

/// The values under the finger, at the side it is not.
void draw_readout(Ui& ui, Rect frame, const PlotShown& shown) {
    const float note = ui.theme().pitch(Face::note);
    float width = ui.text_width(shown.at, Face::strong);
    for (const PlotReading& reading : shown.readings)
        width = std::max(width, ui.text_width(reading.text, Face::note));
    width = std::min(width + ui.mm(2), frame.width() * 0.8f);
    const float body = ui.theme().pitch(Face::body);
    const float height = std::min(
        frame.height(), body + note * static_cast<float>(shown.readings.size()) + ui.mm(1));
    const float x0 = shown.cursor > 0.5f ? frame.x0 + ui.mm(1) : frame.x1 - ui.mm(1) - width;
    const Rect box{x0, frame.y0 + ui.mm(0.5f), x0 + width, frame.y0 + ui.mm(0.5f) + height};
    ui.fill(box, Ink::ground, 1, 0.92f);
    float y = box.y0 + ui.mm(0.5f);
    ui.text_cut({box.x0 + ui.mm(1), y, box.x1, y + body}, shown.at, Face::strong, Ink::ink);
    y += body;
    for (const PlotReading& reading : shown.readings) {
        if (y + note > box.y1 + 1)
            break;
        ui.text_cut({box.x0 + ui.mm(1), y, box.x1, y + note}, reading.text, Face::note,
                    curve_ink(reading.role));
        y += note;
    }
}

} // namespace

float verdict_width(const Ui& ui, std::string_view word, Face face) {
    return ui.text_width(word, face) + ui.theme().font(face)->FontSize * 0.55f + ui.mm(5.5f);
}

float draw_verdict(Ui& ui, float x, float y, VerdictState state, std::string_view word, Face face) {
    const float height = ui.theme().pitch(face) + ui.mm(2.2f);
    const float mark = ui.theme().font(face)->FontSize * 0.55f;
    const float width = verdict_width(ui, word, face);
    const Rect pill{x, y, x + width, y + height};
    ui.fill(pill, verdict_ink(state), height / 2 / ui.mm(1));
    const Rect place{x + ui.mm(2.2f), pill.mid_y() - mark / 2, x + ui.mm(2.2f) + mark,
                     pill.mid_y() + mark / 2};
    // On the coloured ground shape and word are drawn in the ground's dark.
    draw_mark(ui, verdict_mark(state), place, Ink::on_verdict);
    ui.text({place.x1 + ui.mm(1.3f), pill.y0, pill.x1, pill.y1}, word, face, Ink::on_verdict);
    return width;
}

float caution_height(const Ui& ui, float width, std::string_view text) {
    const float icon = ui.mm(4.5f);
    return ui.wrapped_height(width - icon - ui.mm(5), text, Face::note) + ui.mm(3);
}

float draw_caution(Ui& ui, float x, float y, float width, std::string_view text) {
    const float height = caution_height(ui, width, text);
    const float icon = ui.mm(4.5f);
    const Rect box{x, y, x + width, y + height};
    ui.outline(box, Ink::edge, 1.5f, 0.35f);
    // Beside the first line, so that it is seen before the rest scrolls in.
    const float top = y + ui.mm(1.5f) + (ui.theme().font(Face::note)->FontSize - icon) / 2;
    draw_icon(ui, Icon::warning, {x + ui.mm(1.5f), top, x + ui.mm(1.5f) + icon, top + icon},
              Ink::edge, 4.2f);
    ui.wrapped(x + icon + ui.mm(3), y + ui.mm(1.5f), width - icon - ui.mm(5), text, Face::note,
               Ink::edge);
    return height;
}

void draw_plot(Ui& ui, Rect place, const PlotShown& shown, std::size_t plot, Intents& out) {
    if (shown.kind == PlotKind::none)
        return;
    const char number[] = {'/', static_cast<char>('1' + plot), 0};
    const Name name("workings/plot", plot == 0 ? "" : number);
    const float note = ui.theme().pitch(Face::note);
    float left = 0;
    for (const PlotTick& tick : shown.y_ticks)
        left = std::max(left, ui.text_width(tick.label, Face::note));
    if (shown.zoomed) {
        // Two fingers brought it closer; one brings it back, by this or by a double tap.
        Rect side = place.cut_right(ui.mm(10), ui.mm(1));
        if (ui.button(Name(name, "/whole"), side.cut_top(ui.mm(9.2f)), "All", {.face = Face::note}))
            out.push_back(intent::WholePlot{plot});
    }
    Rect frame = place;
    const bool lines = shown.kind == PlotKind::lines;
    if (lines) {
        frame.cut_left(left + ui.mm(1.5f));
        const int most = place.height() > ui.mm(50) ? 3 : place.height() > ui.mm(30) ? 2 : 1;
        const int rows = legend(ui, place, shown, most);
        frame.cut_top(note * static_cast<float>(rows), ui.mm(0.5f));
    }
    Rect foot = frame.cut_bottom(note, ui.mm(0.5f));
    frame.x1 -= ui.mm(1);

    // Halves in their colours, faint.
    if (shown.zero > 0) {
        const float zero = frame.x0 + shown.zero * frame.width();
        ui.fill({frame.x0, frame.y0, zero, frame.y1}, Ink::minus, 0, 0.07f);
        ui.fill({zero, frame.y0, frame.x1, frame.y1}, Ink::plus, 0, 0.07f);
        ui.text({frame.x0 + ui.mm(1), frame.y0, zero, frame.y0 + note}, "−", Face::note,
                Ink::minus);
        ui.text({zero, frame.y0, frame.x1 - ui.mm(1), frame.y0 + note}, "+", Face::note, Ink::plus,
                Align::right);
    }
    const float hair = std::max(1.0f, ui.mm(0.12f));
    for (const PlotTick& tick : shown.y_ticks) {
        const float y = frame.y1 - tick.at * frame.height();
        ui.fill({frame.x0, y - hair / 2, frame.x1, y + hair / 2}, Ink::faint);
        ui.text({place.x0, y - note / 2, frame.x0 - ui.mm(1), y + note / 2}, tick.label, Face::note,
                Ink::soft, Align::right);
    }
    float last_right = -1e9f;
    const float title_width = ui.text_width(shown.x_title, Face::note);
    for (const PlotTick& tick : shown.x_ticks) {
        const float x = frame.x0 + tick.at * frame.width();
        ui.fill({x - hair / 2, frame.y0, x + hair / 2, frame.y1}, Ink::faint);
        const float half = ui.text_width(tick.label, Face::note) / 2;
        if (x - half < last_right + ui.mm(1) || x + half > foot.x1 - title_width - ui.mm(2) ||
            x - half < place.x0)
            continue;
        ui.text({x - half, foot.y0, x + half + 1, foot.y1}, tick.label, Face::note, Ink::soft);
        last_right = x + half;
    }
    ui.text(foot, shown.x_title, Face::note, Ink::soft, Align::right);

    if (lines)
        draw_lines(ui, frame, shown);
    else
        draw_bars(ui, frame, shown);
    if (shown.cursor >= 0) {
        const float x = frame.x0 + shown.cursor * frame.width();
        ui.fill({x - hair, frame.y0, x + hair, frame.y1}, Ink::ink);
        if (lines) {
            draw_readout(ui, frame, shown);
        } else {
            // Each bar says itself how far it is; below stands where the finger is.
            const float half = ui.text_width(shown.at, Face::strong) / 2 + ui.mm(1);
            const float mid =
                std::clamp(x, place.x0 + half, std::max(place.x0 + half, foot.x1 - half));
            ui.fill({mid - half, foot.y0, mid + half, foot.y1}, Ink::pane);
            ui.text({mid - half, foot.y0, mid + half, foot.y1}, shown.at, Face::strong, Ink::ink,
                    Align::middle);
        }
    }
    const Dragged drag = ui.drag_area(name, frame, "plot", ControlRole::plot, shown.readout);
    const float width = std::max(1.0f, frame.width());
    const float at = std::clamp((drag.x - frame.x0) / width, 0.0f, 1.0f);
    if (drag.twice)
        out.push_back(intent::WholePlot{plot});
    else if (drag.pinched)
        out.push_back(intent::ZoomPlot{plot, at, drag.scale, drag.dx / width});
    else if (drag.tapped || drag.moved())
        out.push_back(intent::MovePlotCursor{plot, at});
}

} // namespace railside
