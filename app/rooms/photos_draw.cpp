#include "app/rooms/panels.h"
#include "app/ui/icons.h"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace railside {

namespace {

constexpr PhotoStage k_stages[] = {PhotoStage::as_received, PhotoStage::earlier_work,
                                   PhotoStage::taken_off, PhotoStage::fitted, PhotoStage::finished};

/// Lines that are seen on any picture: light on a dark edge.
void draw_stroke(Ui& ui, const std::vector<ImVec2>& points, bool closed, bool opened) {
    const float width = ui.mm(opened ? 0.9f : 0.6f);
    const int flags = closed ? ImDrawFlags_Closed : 0;
    ui.list().AddPolyline(points.data(), static_cast<int>(points.size()), IM_COL32(0, 0, 0, 200),
                          flags, width + ui.mm(0.6f));
    ui.list().AddPolyline(points.data(), static_cast<int>(points.size()),
                          opened ? IM_COL32(255, 255, 255, 255) : IM_COL32(255, 214, 64, 255),
                          flags, width);
}

/// What was drawn on a photo; `whole` is where the photo lies.
void draw_marks(Ui& ui, Rect whole, std::span<const MarkShown> marks) {
    static thread_local std::vector<ImVec2> points;
    const auto at = [&](const MarkPoint& p) {
        return ImVec2{whole.x0 + static_cast<float>(p.x) * whole.width(),
                      whole.y0 + static_cast<float>(p.y) * whole.height()};
    };
    for (const MarkShown& mark : marks) {
        if (mark.points.empty())
            continue;
        points.clear();
        ImVec2 words = at(mark.points.front());
        switch (mark.shape) {
        case MarkShape::ring: {
            if (mark.points.size() < 2)
                continue;
            const ImVec2 a = at(mark.points[0]);
            const ImVec2 b = at(mark.points[1]);
            constexpr int n = 40;
            for (int i = 0; i < n; ++i) {
                const float angle = static_cast<float>(i) * 2 * std::numbers::pi_v<float> / n;
                points.push_back({(a.x + b.x) / 2 + (b.x - a.x) / 2 * std::cos(angle),
                                  (a.y + b.y) / 2 + (b.y - a.y) / 2 * std::sin(angle)});
            }
            draw_stroke(ui, points, true, mark.opened);
            words = {std::min(a.x, b.x), std::max(a.y, b.y)};
            break;
        }
        case MarkShape::arrow: {
            if (mark.points.size() < 2)
                continue;
            const ImVec2 a = at(mark.points[0]);
            const ImVec2 b = at(mark.points[1]);
            points.push_back(a);
            points.push_back(b);
            draw_stroke(ui, points, false, mark.opened);
            const float angle = std::atan2(b.y - a.y, b.x - a.x);
            const float head = ui.mm(3.2f);
            points.clear();
            for (const float turn : {2.6f, 0.0f, -2.6f})
                points.push_back(turn == 0.0f ? b
                                              : ImVec2{b.x + head * std::cos(angle + turn),
                                                       b.y + head * std::sin(angle + turn)});
            draw_stroke(ui, points, false, mark.opened);
            break;
        }
        case MarkShape::line:
            for (const MarkPoint& p : mark.points)
                points.push_back(at(p));
            if (points.size() > 1)
                draw_stroke(ui, points, false, mark.opened);
            break;
        case MarkShape::note:
            ui.list().AddCircleFilled(words, ui.mm(1.5f), IM_COL32(0, 0, 0, 220));
            ui.list().AddCircleFilled(words, ui.mm(1.0f), IM_COL32(255, 214, 64, 255));
            words.x += ui.mm(2);
            words.y -= ui.mm(2);
            break;
        }
        if (mark.text.empty())
            continue;
        const float width = std::min(ui.text_width(mark.text, Face::note) + ui.mm(2), ui.mm(60));
        const float pitch = ui.theme().pitch(Face::note);
        // At the edge of the photo the words stand further in.
        const float x = std::max(whole.x0, std::min(words.x, whole.x1 - width));
        const Rect box{x, words.y + ui.mm(0.6f), x + width, words.y + ui.mm(0.6f) + pitch};
        ui.list().AddRectFilled({box.x0, box.y0}, {box.x1, box.y1}, IM_COL32(0, 0, 0, 190),
                                ui.mm(0.8f));
        ui.text_cut(box.inset(ui.mm(1), 0), mark.text, Face::note, Ink::on_photo);
    }
}

/// The picture in its place, whole at zoom 1, moved by the look, with what was drawn on it.
/// Returns where the whole of it lies.
Rect draw_picture(Ui& ui, Rect place, const Shot& shot, const PhotoLook& look,
                  std::span<const MarkShown> marks = {}) {
    ui.fill(place, Ink::ground, 1.0f);
    if (!shot.texture || shot.width <= 0 || shot.height <= 0) {
        ui.text(place, "…", Face::body, Ink::soft, Align::middle);
        return place;
    }
    const float fit = std::min(place.width() / static_cast<float>(shot.width),
                               place.height() / static_cast<float>(shot.height));
    const float w = static_cast<float>(shot.width) * fit * look.zoom;
    const float h = static_cast<float>(shot.height) * fit * look.zoom;
    const float x = place.mid_x() + look.pan_x * place.width() - w / 2;
    const float y = place.mid_y() + look.pan_y * place.height() - h / 2;
    ui.list().PushClipRect({place.x0, place.y0}, {place.x1, place.y1}, true);
    ui.list().AddImage(shot.texture, {x, y}, {x + w, y + h});
    draw_marks(ui, {x, y, x + w, y + h}, marks);
    ui.list().PopClipRect();
    return {x, y, x + w, y + h};
}

} // namespace

void draw_thumb(Ui& ui, Rect place, const Shot& shot) {
    ui.fill(place, Ink::raised, 1.0f);
    if (!shot.texture || shot.width <= 0 || shot.height <= 0)
        return;
    const float picture = static_cast<float>(shot.width) / static_cast<float>(shot.height);
    const float frame = place.width() / std::max(1.0f, place.height());
    float u = 0;
    float v = 0;
    if (picture > frame)
        u = (1 - frame / picture) / 2;
    else
        v = (1 - picture / frame) / 2;
    ui.list().AddImageRounded(shot.texture, {place.x0, place.y0}, {place.x1, place.y1}, {u, v},
                              {1 - u, 1 - v}, IM_COL32_WHITE, ui.mm(1));
}

namespace {

/// Room for a label in two lines on each.
float stages_height(const Ui& ui, int columns) {
    const int rows = (5 + columns - 1) / columns;
    const float row = std::max(ui.mm(10), 2 * ui.theme().font(Face::note)->FontSize + ui.mm(1));
    return static_cast<float>(rows) * row + static_cast<float>(rows - 1) * ui.mm(2);
}

void draw_stages(Ui& ui, Rect place, PhotoStage now, int columns, Intents& out) {
    const int rows = (5 + columns - 1) / columns;
    for (int i = 0; i < 5; ++i) {
        const PhotoStage stage = k_stages[i];
        const Rect at =
            place.row(i / columns, rows, ui.mm(2)).column(i % columns, columns, ui.mm(2));
        if (ui.button(Name("photos/stage/", photo_stage_key(stage)), at, photo_stage_label(stage),
                      {.look = stage == now ? Look::selected : Look::plain,
                       .role = ControlRole::choice,
                       .selected = stage == now,
                       .face = Face::note}))
            out.push_back(intent::PickStage{stage});
    }
}

/// The tools for drawing on the photo, in place of the row for looking at it.
void draw_tools(Ui& ui, Rect actions, const PhotosShown& shown, const AppState& state,
                Intents& out) {
    static constexpr std::pair<MarkShape, std::string_view> k_tools[] = {
        {MarkShape::ring, "Ring"},
        {MarkShape::arrow, "Arrow"},
        {MarkShape::line, "Line"},
        {MarkShape::note, "Note"}};
    // Two rows of three where six do not stand side by side.
    const int columns = actions.height() > ui.mm(15) ? 3 : 6;
    int i = 0;
    const auto next = [&] {
        const Rect place = actions.row(i / columns, 6 / columns, ui.mm(1.5f))
                               .column(i % columns, columns, ui.mm(1.5f));
        ++i;
        return place;
    };
    for (const auto& [shape, label] : k_tools) {
        const bool chosen = state.mark_tool == shape;
        if (ui.button(Name("photos/tool/", mark_shape_key(shape)), next(), label,
                      {.look = chosen ? Look::selected : Look::plain,
                       .role = ControlRole::choice,
                       .selected = chosen,
                       .face = Face::note}) &&
            !chosen)
            out.push_back(intent::PickMark{shape});
    }
    if (ui.button("photos/undo", next(), "Undo", {.dead = !shown.may_undo, .face = Face::note}) &&
        shown.may_undo)
        out.push_back(intent::UndoMark{});
    if (ui.button("photos/drawn", next(), "Done", {.look = Look::primary, .face = Face::note}))
        out.push_back(intent::PickMark{std::nullopt});
}

void draw_large(Ui& ui, Rect place, const PhotosShown& shown, const AppState& state,
                const ShotSource& shots, Intents& out) {
    const PhotoThumb& thumb = shown.thumbs[static_cast<std::size_t>(shown.current)];
    Rect body = place.inset(ui.mm(1.5f));
    const bool narrow = body.width() < ui.mm(80);
    const Rect actions =
        body.cut_bottom(ui.mm(narrow && state.mark_tool ? 20.5f : 10), ui.mm(1.2f));
    if (state.mark_tool) {
        draw_tools(ui, actions, shown, state, out);
    } else {
        const int n = narrow ? 5 : 7;
        int i = 0;
        if (ui.button("photos/grid", actions.column(i++, n, ui.mm(1.5f)), "All",
                      {.face = Face::note}))
            out.push_back(intent::ClosePhoto{});
        if (ui.button("photos/previous", actions.column(i++, n, ui.mm(1.5f)),
                      narrow ? "‹" : "Before",
                      {.dead = shown.previous.empty(), .face = Face::note}) &&
            !shown.previous.empty())
            out.push_back(intent::ShowPhoto{shown.previous, true});
        if (ui.button("photos/next", actions.column(i++, n, ui.mm(1.5f)), narrow ? "›" : "After",
                      {.dead = shown.next.empty(), .face = Face::note}) &&
            !shown.next.empty())
            out.push_back(intent::ShowPhoto{shown.next, true});
        if (!narrow) {
            if (ui.button("photos/smaller", actions.column(i++, n, ui.mm(1.5f)), "−",
                          {.dead = state.photo_look.zoom <= 1}))
                out.push_back(intent::LookPhoto{1 / 1.5f, 0, 0});
            if (ui.button("photos/larger", actions.column(i++, n, ui.mm(1.5f)), "+",
                          {.dead = state.photo_look.zoom >= 12}))
                out.push_back(intent::LookPhoto{1.5f, 0, 0});
        }
        if (ui.button("photos/draw", actions.column(i++, n, ui.mm(1.5f)), "Mark",
                      {.face = Face::note}))
            out.push_back(intent::PickMark{MarkShape::ring});
        if (ui.button("photos/about", actions.column(i++, n, ui.mm(1.5f)), "About",
                      {.face = Face::note}))
            out.push_back(intent::AboutPhoto{true});
    }

    const std::string_view words =
        state.mark_tool ? std::string_view(shown.prompt) : std::string_view(shown.caption);
    const float caption =
        words.empty() ? 0 : ui.wrapped_height(body.width(), words, Face::note) + ui.mm(0.5f);
    Rect foot = body.cut_bottom(ui.theme().pitch(Face::note) + caption, ui.mm(1));
    ui.text_cut(foot.cut_top(ui.theme().pitch(Face::note)), shown.title, Face::note, Ink::soft);
    ui.wrapped(foot.x0, foot.y0, foot.width(), words, Face::note,
               state.mark_tool ? Ink::edge : Ink::ink);

    // A pair stands side by side, or one above the other.
    Rect here = body;
    if (!shown.pair.empty() && !state.mark_tool) {
        const bool wide = body.width() > body.height();
        here = wide ? body.column(0, 2, ui.mm(1.5f)) : body.row(0, 2, ui.mm(1.5f));
        const Rect there = wide ? body.column(1, 2, ui.mm(1.5f)) : body.row(1, 2, ui.mm(1.5f));
        draw_picture(ui, there, shots(shown.pair, 1600), {});
        if (ui.area("photos/pair", there, shown.pair_label, {}))
            out.push_back(intent::ShowPhoto{shown.pair_entry, true});
        const float width = ui.text_width(shown.pair_label, Face::note) + ui.mm(2);
        const Rect label{there.x0, there.y0, there.x0 + width,
                         there.y0 + ui.theme().pitch(Face::note)};
        ui.list().AddRectFilled({label.x0, label.y0}, {label.x1, label.y1}, IM_COL32(0, 0, 0, 190));
        ui.text(label.inset(ui.mm(1), 0), shown.pair_label, Face::note, Ink::on_photo);
    }
    const Rect whole =
        draw_picture(ui, here, shots(thumb.hash, 1600), state.photo_look, shown.marks);
    const Dragged drag = ui.drag_area("photos/picture", here, shown.caption, ControlRole::photo);
    const auto on_photo = [&](float x, float y) {
        return MarkPoint{static_cast<double>((x - whole.x0) / std::max(1.0f, whole.width())),
                         static_cast<double>((y - whole.y0) / std::max(1.0f, whole.height()))};
    };
    if (drag.scale != 1) {
        out.push_back(
            intent::LookPhoto{drag.scale, drag.dx / here.width(), drag.dy / here.height()});
    } else if (state.mark_tool) {
        using Part = intent::DrawMark::Part;
        for (std::size_t i = 0; i < drag.way.size(); ++i)
            out.push_back(intent::DrawMark{drag.begun && i == 0 ? Part::first : Part::next,
                                           on_photo(drag.way[i].x, drag.way[i].y)});
        if (drag.ended || drag.tapped)
            out.push_back(
                intent::DrawMark{drag.tapped ? Part::whole : Part::last, on_photo(drag.x, drag.y)});
    } else if (drag.moved()) {
        out.push_back(intent::LookPhoto{1, drag.dx / here.width(), drag.dy / here.height()});
    } else if (drag.tapped) {
        out.push_back(intent::TouchPhoto{on_photo(drag.x, drag.y),
                                         static_cast<double>(ui.mm(5) / whole.width()),
                                         static_cast<double>(whole.height() / whole.width())});
    }
}

/// What can be said about the photo, the photo beside it where there is room.
void draw_about(Ui& ui, Rect place, const PhotosShown& shown, const ShotSource& shots,
                Intents& out) {
    const PhotoThumb& thumb = shown.thumbs[static_cast<std::size_t>(shown.current)];
    Rect body = place.inset(ui.mm(2.2f), ui.mm(1.6f));
    const bool wide = body.width() > body.height() * 1.3f && body.width() > ui.mm(75);
    const Rect picture = wide ? body.cut_right(body.width() * 0.42f, ui.mm(2))
                              : body.cut_top(body.height() * 0.3f, ui.mm(1.5f));
    draw_picture(ui, picture, shots(thumb.hash, 1600), {}, shown.marks);
    if (ui.area("about/picture", picture, "the photo", {}))
        out.push_back(intent::AboutPhoto{false});
    draw_page(ui, body, shown.about, shots, out);
}

/// The live picture and a shutter as large as a thumb.
void draw_camera(Ui& ui, Rect place, const AppState& state, const ShotSource& shots, Intents& out) {
    Rect body = place.inset(ui.mm(1.5f));
    const bool wide = body.width() > body.height();
    Rect side =
        wide ? body.cut_right(ui.mm(24), ui.mm(1.5f)) : body.cut_bottom(ui.mm(24), ui.mm(1.5f));
    const Shot live = shots(std::string(k_live_shot), 0);
    if (live.texture)
        draw_picture(ui, body, live, {});
    else
        ui.fill(body, Ink::ground, 1.0f);
    if (!state.camera_sentence.empty())
        ui.wrapped(body.x0 + ui.mm(3), body.y0 + ui.mm(3), body.width() - ui.mm(6),
                   state.camera_sentence, Face::body, Ink::ink);
    ui.figure("camera/state", body, "camera", state.camera_sentence);
    const Rect leave = wide ? side.cut_bottom(ui.mm(10), ui.mm(1.5f))
                            : side.cut_left(side.width() * 0.24f, ui.mm(1.5f));
    if (ui.button("camera/leave", leave, "Leave", {.face = Face::note}))
        out.push_back(intent::OpenCamera{false});
    const Rect file = wide ? side.cut_top(ui.mm(10), ui.mm(1.5f))
                           : side.cut_right(side.width() * 0.32f, ui.mm(1.5f));
    if (ui.button("camera/file", file, "From file", {.face = Face::note}))
        out.push_back(intent::ChooseFile{});
    // Without a live picture a browser may still have the system's own camera.
    const bool dead = !live.texture && !state.outside;
    if (ui.button("camera/shutter", side, live.texture || dead ? "Take it" : "System's camera",
                  {.look = Look::primary, .dead = dead}) &&
        !dead)
        out.push_back(intent::Shutter{});
}

} // namespace

void draw_photos(Ui& ui, Rect place, const PhotosShown& shown, const AppState& state,
                 const ShotSource& shots, Intents& out) {
    ui.fill(place, Ink::pane, 1.5f);
    if (state.camera_open) {
        draw_camera(ui, place, state, shots, out);
        return;
    }
    if (state.photo_large && state.about_photo && shown.current >= 0) {
        draw_about(ui, place, shown, shots, out);
        return;
    }
    if (state.photo_large && shown.current >= 0) {
        draw_large(ui, place, shown, state, shots, out);
        return;
    }
    Rect body = place.inset(ui.mm(2.2f), ui.mm(1.6f));
    const bool low = place.height() < ui.mm(75);
    const int columns = body.width() > ui.mm(84) ? 5 : 3;
    Rect actions = body.cut_bottom(ui.mm(low ? 10 : 14), ui.mm(1.5f));
    const float note = ui.theme().pitch(Face::note);
    if (!shown.prompt.empty()) {
        Rect line = body.cut_top(ui.mm(9.5f), ui.mm(1));
        if (ui.button("photos/nopair", line.cut_right(ui.mm(18), ui.mm(2)), "Leave it",
                      {.face = Face::note}))
            out.push_back(intent::LeavePair{});
        ui.wrapped(line.x0, line.y0 + ui.mm(0.5f), line.width(), shown.prompt, Face::note,
                   Ink::edge);
    }
    if (!shown.waiting.empty() &&
        ui.button("photos/waiting", body.cut_top(ui.mm(9.5f), ui.mm(1.2f)), shown.waiting,
                  {.face = Face::note}))
        out.push_back(intent::TakeWaiting{});
    if (ui.button("photos/camera", actions.cut_left(actions.width() * 0.5f - ui.mm(1), ui.mm(2)),
                  "Camera", {.look = Look::primary}))
        out.push_back(intent::OpenCamera{true});
    if (ui.button("photos/import", actions, "From file"))
        out.push_back(intent::ChooseFile{});
    ui.text_cut(body.cut_top(note, ui.mm(0.6f)), "The next photo shows the unit", Face::note,
                Ink::soft);
    draw_stages(ui, body.cut_top(stages_height(ui, columns), ui.mm(2)), shown.stage, columns, out);

    const Rect content = ui.begin_scroll("photos/all", body);
    float y = content.y0;
    if (!shown.empty.empty())
        y += ui.wrapped(body.x0, y + ui.mm(2), body.width(), shown.empty, Face::body, Ink::soft);
    const float width = body.width() - ui.mm(1.5f);
    const float gap = ui.mm(2);
    const int per_row = std::max(2, static_cast<int>(width / ui.mm(36)));
    const float cell =
        (width - gap * static_cast<float>(per_row - 1)) / static_cast<float>(per_row);
    float row_height = 0;
    for (std::size_t i = 0; i < shown.thumbs.size(); ++i) {
        const PhotoThumb& thumb = shown.thumbs[i];
        const int column = static_cast<int>(i) % per_row;
        if (column == 0 && i > 0) {
            y += row_height + gap;
            row_height = 0;
        }
        const float x = body.x0 + static_cast<float>(column) * (cell + gap);
        const Rect picture{x, y, x + cell, y + cell * 0.7f};
        const std::string_view words =
            thumb.caption.empty() ? std::string_view(thumb.stage) : std::string_view(thumb.caption);
        const float caption = ui.wrapped_height(cell, words, Face::note);
        const Rect whole{x, y, x + cell, picture.y1 + ui.mm(0.6f) + caption};
        // Pictures out of sight are not asked for.
        if (picture.y1 > body.y0 && picture.y0 < body.y1)
            draw_thumb(ui, picture, shots(thumb.hash, 256));
        if (!thumb.badge.empty()) {
            const float width = ui.text_width(thumb.badge, Face::note) + ui.mm(2);
            const Rect badge{picture.x0, picture.y1 - note, picture.x0 + width, picture.y1};
            ui.list().AddRectFilled({badge.x0, badge.y0}, {badge.x1, badge.y1},
                                    IM_COL32(0, 0, 0, 190), ui.mm(0.8f));
            ui.text_cut(badge.inset(ui.mm(1), 0), thumb.badge, Face::note, Ink::on_photo);
        }
        const Name name("photos/thumb/", thumb.entry);
        if (ui.pressed(name))
            ui.outline(picture, Ink::ink, 1.0f, 0.5f);
        if (ui.area(name, whole, thumb.caption, {.value = thumb.stage}))
            out.push_back(intent::ShowPhoto{thumb.entry, true});
        ui.wrapped(x, picture.y1 + ui.mm(0.6f), cell, words, Face::note, Ink::soft);
        row_height = std::max(row_height, whole.height());
    }
    ui.end_scroll(y + row_height + ui.mm(2));
}

void draw_files(Ui& ui, Rect place, const FilesShown& files, const PhotosShown& shown,
                Intents& out) {
    ui.fill(place, Ink::pane, 1.5f);
    Rect body = place.inset(ui.mm(2.2f), ui.mm(1.6f));
    Rect actions = body.cut_bottom(ui.mm(10), ui.mm(1.5f));
    const int n = files.use.empty() ? 2 : 3;
    if (ui.button("files/leave", actions.column(0, n, ui.mm(2)), "Leave", {.face = Face::note}))
        out.push_back(intent::LeaveFiles{});
    if (n == 3 && ui.button("files/use", actions.column(2, n, ui.mm(2)), files.use,
                            {.look = Look::primary, .face = Face::note}))
        out.push_back(intent::UseFolder{});
    if (ui.button("files/up", actions.column(1, n, ui.mm(2)), "Folder above",
                  {.dead = files.parent.empty(), .face = Face::note}) &&
        !files.parent.empty())
        out.push_back(intent::OpenFolder{files.parent});
    const float note = ui.theme().pitch(Face::note);
    const float purpose = ui.wrapped_height(body.width(), files.purpose, Face::note);
    ui.wrapped(body.x0, body.y0, body.width(), files.purpose, Face::note, Ink::ink);
    body.cut_top(purpose, ui.mm(0.5f));
    ui.text_cut(body.cut_top(note, ui.mm(0.5f)), files.folder, Face::note, Ink::soft);
    const int columns = body.width() > ui.mm(84) ? 5 : 3;
    if (files.pictures)
        draw_stages(ui, body.cut_top(stages_height(ui, columns), ui.mm(2)), shown.stage, columns,
                    out);
    const Rect content = ui.begin_scroll("files/list", body);
    float y = content.y0;
    if (!files.empty.empty())
        y += ui.wrapped(body.x0, y, body.width(), files.empty, Face::body, Ink::soft) + ui.mm(2);
    for (const FileRow& row : files.rows) {
        const Rect line{body.x0, y, body.x1 - ui.mm(1.5f), y + ui.mm(9.5f)};
        const Name name("files/", row.name);
        if (ui.pressed(name))
            ui.fill(line, Ink::raised, 1.0f);
        if (ui.area(name, line, row.name, {.value = row.size})) {
            if (row.folder)
                out.push_back(intent::OpenFolder{row.path});
            else
                out.push_back(intent::ImportFile{row.path});
        }
        const Rect icon{line.x0, line.y0, line.x0 + ui.mm(7), line.y1};
        draw_icon(ui, row.folder ? Icon::folder : Icon::photos, icon, Ink::soft);
        const float size = ui.text_width(row.size, Face::note);
        ui.text_cut({icon.x1 + ui.mm(2), line.y0, line.x1 - size - ui.mm(2), line.y1}, row.name,
                    Face::body, Ink::ink);
        ui.text(line, row.size, Face::note, Ink::soft, Align::right);
        ui.rule(line.x0, line.x1, line.y1);
        y += line.height() + ui.mm(0.5f);
    }
    ui.end_scroll(y);
}

void draw_photos_beside(Ui& ui, Rect place, const PhotosShown& shown, const AppState& state,
                        const ShotSource& shots, Intents& out) {
    ui.fill(place, Ink::pane, 1.5f);
    Rect body = place.inset(ui.mm(1.6f));
    if (shown.thumbs.empty()) {
        ui.wrapped(body.x0 + ui.mm(1), body.y0 + ui.mm(1), body.width() - ui.mm(2), shown.empty,
                   Face::body, Ink::soft);
        return;
    }
    const PhotoThumb& thumb = shown.thumbs[static_cast<std::size_t>(shown.current)];
    // Four thumbnails round the current one, then the way to more.
    // They stand below the picture, or beside it where the place is low.
    const bool low = body.width() > body.height() * 1.4f;
    const int slots = low ? std::max(2, static_cast<int>(body.height() / ui.mm(11.5f)))
                          : std::max(3, std::min(6, static_cast<int>(body.width() / ui.mm(18))));
    const Rect row =
        low ? body.cut_right(ui.mm(18), ui.mm(1.5f)) : body.cut_bottom(ui.mm(13), ui.mm(1.5f));
    const auto slot = [&](int i) {
        return low ? row.row(i, slots, ui.mm(2)) : row.column(i, slots, ui.mm(2));
    };
    const int n = static_cast<int>(shown.thumbs.size());
    const int shown_thumbs = std::min(n, slots - 1);
    const int first =
        std::clamp(shown.current - shown_thumbs / 2, 0, std::max(0, n - shown_thumbs));
    for (int i = 0; i < shown_thumbs; ++i) {
        const PhotoThumb& other =
            shown.thumbs[static_cast<std::size_t>(first) + static_cast<std::size_t>(i)];
        const Rect cell = slot(i);
        draw_thumb(ui, cell, shots(other.hash, 256));
        if (first + i == shown.current)
            ui.outline(cell.inset(-ui.mm(0.2f)), Ink::ink, 1.0f, 0.5f);
        if (ui.area(Name("beside/photos/thumb/", other.entry), cell, other.caption,
                    {.selected = first + i == shown.current, .value = other.stage}))
            out.push_back(intent::ShowPhoto{other.entry, false});
    }
    if (ui.button("beside/photos/more", slot(slots - 1), "+ Photo",
                  {.look = Look::plain, .face = Face::note}))
        out.push_back(intent::ChooseFile{});
    const std::string_view words =
        shown.caption.empty() ? std::string_view(shown.title) : std::string_view(shown.caption);
    const float caption = std::min(ui.wrapped_height(body.width(), words, Face::note),
                                   ui.theme().pitch(Face::note) * 2);
    const Rect foot = body.cut_bottom(caption, ui.mm(1));
    ui.wrapped(foot.x0, foot.y0, foot.width(), words, Face::note, Ink::soft);
    draw_picture(ui, body, shots(thumb.hash, 1600), state.photo_look, shown.marks);
    const Dragged drag =
        ui.drag_area("beside/photos/picture", body, shown.caption, ControlRole::photo);
    if (drag.tapped)
        out.push_back(intent::ShowPhoto{thumb.entry, true});
    else if (drag.moved())
        out.push_back(
            intent::LookPhoto{drag.scale, drag.dx / body.width(), drag.dy / body.height()});
}

void draw_kept_beside(Ui& ui, Rect place, std::span<const KeptLine> kept, Intents& out) {
    ui.fill(place, Ink::pane, 1.5f);
    const Rect body = place.inset(ui.mm(2.2f), ui.mm(1.6f));
    const Rect content = ui.begin_scroll("beside/kept", body);
    float y = content.y0;
    const float x1 = body.x1 - ui.mm(1.2f);
    if (kept.empty())
        y += ui.wrapped(body.x0, y, body.width(),
                        "Nothing kept yet. A working kept with the job stands here.", Face::body,
                        Ink::soft);
    for (const KeptLine& line : kept) {
        const float note = ui.theme().pitch(Face::note);
        const float strong = ui.theme().pitch(Face::strong);
        const float height = note + strong + note + ui.mm(3);
        const Rect row{body.x0, y, x1, y + height};
        if (ui.area(Name("beside/kept/", line.entry), row, line.name, {.value = line.figures}))
            out.push_back(intent::GoRoom{RoomId::workings});
        float ty = y + ui.mm(1);
        ui.text_cut({body.x0, ty, x1 - ui.mm(16), ty + note}, line.name, Face::note, Ink::soft);
        ui.text({body.x0, ty, x1, ty + note}, line.time, Face::note, Ink::soft, Align::right);
        ty += note;
        ui.text_cut({body.x0, ty, x1, ty + strong}, line.figures, Face::strong, Ink::ink);
        ty += strong;
        const float mark = ui.mm(2.4f);
        const Ink ink = verdict_ink(line.state);
        draw_mark(ui, verdict_mark(line.state),
                  {body.x0, ty + (note - mark) / 2, body.x0 + mark, ty + (note + mark) / 2}, ink);
        ui.text_cut({body.x0 + mark + ui.mm(1.5f), ty, x1, ty + note}, line.word, Face::note, ink);
        ui.rule(body.x0, x1, row.y1);
        y += height + ui.mm(0.5f);
    }
    ui.end_scroll(y);
}

} // namespace railside
