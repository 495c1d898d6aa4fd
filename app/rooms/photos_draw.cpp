#include "app/rooms/panels.h"
#include "app/ui/icons.h"

#include <algorithm>

namespace railside {

namespace {

constexpr PhotoStage k_stages[] = {PhotoStage::as_received, PhotoStage::earlier_work,
                                   PhotoStage::taken_off, PhotoStage::fitted, PhotoStage::finished};

/// The picture in its place, whole at zoom 1, moved by the look.
void draw_picture(Ui& ui, Rect place, const Shot& shot, const PhotoLook& look) {
    ui.fill(place, Ink::ground, 1.0f);
    if (!shot.texture || shot.width <= 0 || shot.height <= 0) {
        ui.text(place, "…", Face::body, Ink::soft, Align::middle);
        return;
    }
    const float fit = std::min(place.width() / static_cast<float>(shot.width),
                               place.height() / static_cast<float>(shot.height));
    const float w = static_cast<float>(shot.width) * fit * look.zoom;
    const float h = static_cast<float>(shot.height) * fit * look.zoom;
    const float x = place.mid_x() + look.pan_x * place.width() - w / 2;
    const float y = place.mid_y() + look.pan_y * place.height() - h / 2;
    ui.list().PushClipRect({place.x0, place.y0}, {place.x1, place.y1}, true);
    ui.list().AddImage(shot.texture, {x, y}, {x + w, y + h});
    ui.list().PopClipRect();
}

/// A thumbnail that fills its place, cut at the sides.
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

void draw_large(Ui& ui, Rect place, const PhotosShown& shown, const AppState& state,
                const ShotSource& shots, Intents& out) {
    const PhotoThumb& thumb = shown.thumbs[static_cast<std::size_t>(shown.current)];
    Rect body = place.inset(ui.mm(1.5f));
    const Rect actions = body.cut_bottom(ui.mm(10), ui.mm(1.2f));
    const bool narrow = body.width() < ui.mm(80);
    const int n = narrow ? 5 : 6;
    int i = 0;
    if (ui.button("photos/grid", actions.column(i++, n, ui.mm(1.5f)), "All", {.face = Face::note}))
        out.push_back(intent::ClosePhoto{});
    if (ui.button("photos/previous", actions.column(i++, n, ui.mm(1.5f)), narrow ? "‹" : "Before",
                  {.dead = shown.previous.empty(), .face = Face::note}) &&
        !shown.previous.empty())
        out.push_back(intent::ShowPhoto{shown.previous, true});
    if (ui.button("photos/next", actions.column(i++, n, ui.mm(1.5f)), narrow ? "›" : "After",
                  {.dead = shown.next.empty(), .face = Face::note}) &&
        !shown.next.empty())
        out.push_back(intent::ShowPhoto{shown.next, true});
    if (!narrow && ui.button("photos/fit", actions.column(i++, n, ui.mm(1.5f)), "Whole",
                             {.dead = state.photo_look.zoom == 1, .face = Face::note}))
        out.push_back(intent::FitPhoto{});
    if (ui.button("photos/smaller", actions.column(i++, n, ui.mm(1.5f)), "−",
                  {.dead = state.photo_look.zoom <= 1}))
        out.push_back(intent::LookPhoto{1 / 1.5f, 0, 0});
    if (ui.button("photos/larger", actions.column(i++, n, ui.mm(1.5f)), "+",
                  {.dead = state.photo_look.zoom >= 12}))
        out.push_back(intent::LookPhoto{1.5f, 0, 0});

    const float caption =
        shown.caption.empty()
            ? 0
            : ui.wrapped_height(body.width(), shown.caption, Face::note) + ui.mm(0.5f);
    Rect foot = body.cut_bottom(ui.theme().pitch(Face::note) + caption, ui.mm(1));
    ui.text(foot.cut_top(ui.theme().pitch(Face::note)), shown.title, Face::note, Ink::soft);
    ui.wrapped(foot.x0, foot.y0, foot.width(), shown.caption, Face::note, Ink::ink);

    draw_picture(ui, body, shots(thumb.hash, 1600), state.photo_look);
    const Dragged drag = ui.drag_area("photos/picture", body, shown.caption, ControlRole::photo);
    if (drag.active && (drag.dx != 0 || drag.dy != 0 || drag.scale != 1))
        out.push_back(
            intent::LookPhoto{drag.scale, drag.dx / body.width(), drag.dy / body.height()});
}

} // namespace

void draw_photos(Ui& ui, Rect place, const PhotosShown& shown, const AppState& state,
                 const ShotSource& shots, Intents& out) {
    ui.fill(place, Ink::pane, 1.5f);
    if (state.photo_large && shown.current >= 0) {
        draw_large(ui, place, shown, state, shots, out);
        return;
    }
    Rect body = place.inset(ui.mm(2.2f), ui.mm(1.6f));
    const bool low = place.height() < ui.mm(75);
    const int columns = body.width() > ui.mm(84) ? 5 : 3;
    Rect actions = body.cut_bottom(ui.mm(low ? 10 : 14), ui.mm(1.5f));
    if (ui.button("photos/import", actions, "From file", {.look = Look::primary}))
        out.push_back(intent::ChooseFile{});
    const float note = ui.theme().pitch(Face::note);
    ui.text_cut(body.cut_top(note, ui.mm(0.6f)), "The next photo shows the unit", Face::note,
                Ink::soft);
    draw_stages(ui, body.cut_top(columns == 5 ? ui.mm(10) : ui.mm(22), ui.mm(2)), shown.stage,
                columns, out);

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
        const float caption = ui.wrapped_height(
            cell, thumb.caption.empty() ? thumb.stage : thumb.caption, Face::note);
        const Rect whole{x, y, x + cell, picture.y1 + ui.mm(0.6f) + caption};
        // Pictures out of sight are not asked for.
        if (picture.y1 > body.y0 && picture.y0 < body.y1)
            draw_thumb(ui, picture, shots(thumb.hash, 256));
        const Name name("photos/thumb/", thumb.entry);
        if (ui.pressed(name))
            ui.outline(picture, Ink::ink, 1.0f, 0.5f);
        if (ui.area(name, whole, thumb.caption, {.value = thumb.stage}))
            out.push_back(intent::ShowPhoto{thumb.entry, true});
        ui.wrapped(x, picture.y1 + ui.mm(0.6f), cell,
                   thumb.caption.empty() ? thumb.stage : thumb.caption, Face::note, Ink::soft);
        row_height = std::max(row_height, whole.height());
    }
    ui.end_scroll(y + row_height + ui.mm(2));
}

void draw_files(Ui& ui, Rect place, const FilesShown& files, const PhotosShown& shown,
                Intents& out) {
    ui.fill(place, Ink::pane, 1.5f);
    Rect body = place.inset(ui.mm(2.2f), ui.mm(1.6f));
    Rect actions = body.cut_bottom(ui.mm(10), ui.mm(1.5f));
    if (ui.button("files/leave", actions.column(0, 2, ui.mm(2)), "Leave"))
        out.push_back(intent::LeaveFiles{});
    if (ui.button("files/up", actions.column(1, 2, ui.mm(2)), "Folder above",
                  {.dead = files.parent.empty()}) &&
        !files.parent.empty())
        out.push_back(intent::OpenFolder{files.parent});
    const float note = ui.theme().pitch(Face::note);
    ui.text_cut(body.cut_top(note, ui.mm(0.5f)), files.folder, Face::note, Ink::soft);
    const int columns = body.width() > ui.mm(84) ? 5 : 3;
    if (files.pictures)
        draw_stages(ui, body.cut_top(columns == 5 ? ui.mm(10) : ui.mm(22), ui.mm(2)), shown.stage,
                    columns, out);
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
    draw_picture(ui, body, shots(thumb.hash, 1600), state.photo_look);
    const Dragged drag =
        ui.drag_area("beside/photos/picture", body, shown.caption, ControlRole::photo);
    if (drag.tapped)
        out.push_back(intent::ShowPhoto{thumb.entry, true});
    else if (drag.active && (drag.dx != 0 || drag.dy != 0 || drag.scale != 1))
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
