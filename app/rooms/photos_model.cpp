#include "app/rooms/photos_model.h"

#include "app/rooms/positions_model.h"
#include "core/words/words.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace railside {

namespace {

constexpr std::size_t k_most_points = 200;

bool valid(const Source& source) { return source.standing == Standing::valid; }

std::string mark_words(const Job& job, const MarkRecord& mark) {
    std::string words = mark.text;
    for (const PositionRecord& position : job.positions)
        if (valid(position.source) && position.source.entry == mark.position)
            words += fmt::format("{}{}", words.empty() ? "" : " · ", position_words(position));
    return words;
}

std::string shape_words(MarkShape shape) {
    switch (shape) {
    case MarkShape::ring:
        return "Ring";
    case MarkShape::arrow:
        return "Arrow";
    case MarkShape::line:
        return "Line";
    case MarkShape::note:
        return "Note";
    }
    return {};
}

const PhotoRecord* find_photo(const Job& job, std::string_view entry) {
    for (const PhotoRecord& photo : job.photos)
        if (photo.source.entry == entry && valid(photo.source))
            return &photo;
    return nullptr;
}

Page mark_page(const Job& job, const MarkRecord& mark) {
    Page page;
    page.name = "mark";
    page.title = shape_words(mark.shape);
    page.back = intent::OpenMark{};
    page.rows.push_back(text_row("text", "What it shows", mark.text,
                                 fmt::format("mark/{}/text", mark.source.entry)));
    page.rows.push_back(
        word_row("position", "It points at",
                 pick_position(job, fmt::format("mark/{}/position", mark.source.entry),
                               "Which position does it point at?", mark.position)));
    page.rows.push_back(buttons_row({{"strike", "Strike this mark",
                                      intent::StrikeMark{mark.source.entry}, ButtonKind::danger}}));
    return page;
}

Page about_page(const AppState& state, const Job& job, const PhotoRecord& photo) {
    for (const MarkRecord& mark : job.marks)
        if (mark.source.entry == state.mark && valid(mark.source))
            return mark_page(job, mark);
    Page page;
    page.name = "about";
    page.title = "About this photo";
    page.back = intent::AboutPhoto{false};
    const std::string target = fmt::format("photo/{}/", photo.source.entry);
    page.rows.push_back(text_row("caption", "Caption", photo.caption, target + "caption"));
    page.rows.push_back(heading_row("It shows the unit"));
    std::vector<std::pair<std::string, std::string>> stages;
    for (const PhotoStage stage : {PhotoStage::as_received, PhotoStage::earlier_work,
                                   PhotoStage::taken_off, PhotoStage::fitted, PhotoStage::finished})
        stages.emplace_back(photo_stage_key(stage), photo_stage_label(stage));
    page.rows.push_back(
        words_to_choose("stage", target + "stage", photo_stage_key(photo.stage), stages));
    page.rows.push_back(
        words_to_choose("channel", target + "channel", channel_key(photo.channel),
                        {{"left", "left"}, {"right", "right"}, {"", "no channel"}}));
    page.rows.push_back(word_row(
        "position", "Position",
        pick_position(job, target + "position", "Which position does it show?", photo.position)));
    page.rows.push_back(heading_row("Before and after"));
    bool paired = false;
    for (const PairRecord& pair : job.pairs) {
        if (!valid(pair.source) ||
            (pair.before != photo.source.entry && pair.after != photo.source.entry))
            continue;
        const bool is_before = pair.before == photo.source.entry;
        const PhotoRecord* other = find_photo(job, is_before ? pair.after : pair.before);
        if (other == nullptr)
            continue;
        paired = true;
        PageRow pictures;
        pictures.kind = RowKind::pictures;
        pictures.pictures.push_back({"pair/" + other->source.entry, other->hash, other->caption,
                                     intent::ShowPhoto{other->source.entry, true}});
        page.rows.push_back(words_row(is_before ? "This is the one before; after:"
                                                : "This is the one after; before:"));
        page.rows.push_back(std::move(pictures));
        page.rows.push_back(
            buttons_row({{"unpair/" + pair.source.entry, "Part these two",
                          intent::StrikeEntry{pair.source.entry, Standing::struck}}}));
    }
    if (!paired)
        page.rows.push_back(buttons_row({{"pair", "This is a “before”: choose the “after”",
                                          intent::StartPair{photo.source.entry}}}));
    bool first = true;
    for (const MarkRecord& mark : job.marks) {
        if (mark.photo != photo.source.entry || !valid(mark.source))
            continue;
        if (first)
            page.rows.push_back(heading_row("Marks on it"));
        first = false;
        PageRow row;
        row.kind = RowKind::line;
        row.name = "mark/" + mark.source.entry;
        row.label = shape_words(mark.shape);
        row.more = mark_words(job, mark);
        row.does = intent::OpenMark{mark.source.entry};
        page.rows.push_back(std::move(row));
    }
    page.rows.push_back(heading_row("The picture"));
    page.rows.push_back(
        words_row(worded("{} × {} pixels, {:.1f} MB, kept byte for byte.", photo.width,
                         photo.height, static_cast<double>(photo.bytes) / 1e6)));
    page.rows.push_back(buttons_row(
        {{"copy", "Write a copy out", intent::ChooseFileFor{FileWanted::photo_copy_folder}},
         {"strike", "Strike this photo", intent::StrikeEntry{photo.source.entry, Standing::struck},
          ButtonKind::danger}}));
    return page;
}

double distance(MarkPoint a, MarkPoint b, double aspect) {
    return std::hypot(a.x - b.x, (a.y - b.y) * aspect);
}

double distance_to_line(MarkPoint at, MarkPoint a, MarkPoint b, double aspect) {
    const double dx = b.x - a.x;
    const double dy = (b.y - a.y) * aspect;
    const double length = dx * dx + dy * dy;
    double t = 0;
    if (length > 0)
        t = std::clamp(((at.x - a.x) * dx + (at.y - a.y) * aspect * dy) / length, 0.0, 1.0);
    return distance(at, {a.x + t * (b.x - a.x), a.y + t * (b.y - a.y)}, aspect);
}

double distance_to(const MarkShown& mark, MarkPoint at, double aspect) {
    double nearest = 1e9;
    if (mark.points.empty())
        return nearest;
    if (mark.shape == MarkShape::ring && mark.points.size() > 1) {
        // Round the ellipse, and anywhere inside a small one.
        const MarkPoint a = mark.points[0];
        const MarkPoint b = mark.points[1];
        for (int i = 0; i < 48; ++i) {
            const double angle = i * 2 * 3.14159265358979323846 / 48;
            nearest =
                std::min(nearest, distance(at,
                                           {(a.x + b.x) / 2 + (b.x - a.x) / 2 * std::cos(angle),
                                            (a.y + b.y) / 2 + (b.y - a.y) / 2 * std::sin(angle)},
                                           aspect));
        }
        return nearest;
    }
    nearest = distance(at, mark.points.front(), aspect);
    for (std::size_t i = 1; i < mark.points.size(); ++i)
        nearest =
            std::min(nearest, distance_to_line(at, mark.points[i - 1], mark.points[i], aspect));
    return nearest;
}

void add_pair(PhotosShown& shown, const Job& job, const PhotoRecord& photo) {
    for (const PairRecord& pair : job.pairs) {
        if (!valid(pair.source))
            continue;
        const bool before = pair.before == photo.source.entry;
        if (!before && pair.after != photo.source.entry)
            continue;
        if (const PhotoRecord* other = find_photo(job, before ? pair.after : pair.before)) {
            shown.pair = other->hash;
            shown.pair_entry = other->source.entry;
            shown.pair_label = before ? "after" : "before";
        }
    }
}

std::string badge(const Job& job, const PhotoRecord& photo) {
    int marks = 0;
    for (const MarkRecord& mark : job.marks)
        marks += valid(mark.source) && mark.photo == photo.source.entry ? 1 : 0;
    bool paired = false;
    for (const PairRecord& pair : job.pairs)
        paired = paired || (valid(pair.source) && (pair.before == photo.source.entry ||
                                                   pair.after == photo.source.entry));
    std::string said;
    if (marks > 0)
        said = marks == 1 ? std::string(words("1 mark")) : worded("{} marks", marks);
    if (paired)
        said += words(said.empty() ? "paired" : ", paired");
    return said;
}

} // namespace

PhotosShown make_photos(const AppState& state, const Job& job) {
    PhotosShown shown;
    shown.stage = state.stage;
    std::vector<const PhotoRecord*> photos;
    for (const PhotoRecord& photo : job.photos) {
        if (photo.source.standing == Standing::struck)
            continue;
        if (photo.source.entry == state.photo)
            shown.current = static_cast<int>(shown.thumbs.size());
        shown.thumbs.push_back({photo.source.entry, photo.hash,
                                std::string(photo_stage_label(photo.stage)), photo.caption,
                                photo.width, photo.height, badge(job, photo)});
        photos.push_back(&photo);
    }
    if (!state.pair_before.empty())
        shown.prompt = "Touch the photo that shows the same thing afterwards.";
    if (shown.thumbs.empty()) {
        shown.empty = "No photos yet. Touch Camera or From file, or drop a picture on the window.";
        return shown;
    }
    if (shown.current < 0)
        shown.current = static_cast<int>(shown.thumbs.size()) - 1;
    const auto i = static_cast<std::size_t>(shown.current);
    shown.title = worded("{} · {} of {}", shown.thumbs[i].stage, i + 1, shown.thumbs.size());
    shown.caption = shown.thumbs[i].caption;
    if (i > 0)
        shown.previous = shown.thumbs[i - 1].entry;
    if (i + 1 < shown.thumbs.size())
        shown.next = shown.thumbs[i + 1].entry;
    const PhotoRecord& photo = *photos[i];
    for (const MarkRecord& mark : job.marks)
        if (mark.photo == photo.source.entry && valid(mark.source))
            shown.marks.push_back({mark.source.entry, mark.shape, mark.points,
                                   mark_words(job, mark), mark.source.entry == state.mark});
    shown.may_undo = !shown.marks.empty();
    if (state.mark_tool && !state.mark_points.empty())
        shown.marks.push_back({{}, *state.mark_tool, state.mark_points, {}, true});
    add_pair(shown, job, photo);
    if (state.mark_tool)
        switch (*state.mark_tool) {
        case MarkShape::ring:
            shown.prompt = "Draw across what the ring is to go round.";
            break;
        case MarkShape::arrow:
            shown.prompt = "Draw from the tail to the tip.";
            break;
        case MarkShape::line:
            shown.prompt = "Draw along it.";
            break;
        case MarkShape::note:
            shown.prompt = "Touch the place the note is about.";
            break;
        }
    shown.about = about_page(state, job, photo);
    return shown;
}

std::string mark_near(std::span<const MarkShown> marks, MarkPoint at, double reach, double aspect) {
    std::string found;
    double nearest = reach;
    for (const MarkShown& mark : marks) {
        const double away = distance_to(mark, at, aspect);
        if (!mark.entry.empty() && away <= nearest) {
            nearest = away;
            found = mark.entry;
        }
    }
    return found;
}

void extend_mark(std::vector<MarkPoint>& points, MarkShape shape, MarkPoint at) {
    at.x = std::clamp(at.x, 0.0, 1.0);
    at.y = std::clamp(at.y, 0.0, 1.0);
    switch (shape) {
    case MarkShape::note:
        points.assign(1, at);
        return;
    case MarkShape::ring:
    case MarkShape::arrow:
        if (points.size() < 2)
            points.push_back(at);
        else
            points[1] = at;
        return;
    case MarkShape::line:
        // Close points say nothing; a long line is thinned rather than cut off.
        if (!points.empty() && distance(points.back(), at, 1) < 0.004)
            return;
        if (points.size() >= k_most_points) {
            std::vector<MarkPoint> thin;
            thin.reserve(points.size() / 2 + 1);
            for (std::size_t i = 0; i < points.size(); i += 2)
                thin.push_back(points[i]);
            points = std::move(thin);
        }
        points.push_back(at);
        return;
    }
}

bool is_mark(MarkShape shape, std::span<const MarkPoint> points) {
    if (shape == MarkShape::note)
        return points.size() == 1;
    if (points.size() < 2)
        return false;
    double length = 0;
    for (std::size_t i = 1; i < points.size(); ++i)
        length += distance(points[i - 1], points[i], 1);
    return length >= 0.015;
}

} // namespace railside
