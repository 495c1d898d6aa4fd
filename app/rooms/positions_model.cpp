#include "app/rooms/positions_model.h"

#include "app/rooms/reading_model.h"
#include "core/device/role.h"
#include "core/job/sisters.h"
#include "core/words/words.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>

namespace railside {

namespace {

constexpr std::array<std::string_view, 5> k_states = {"untested", "good", "suspect", "bad",
                                                      "replaced"};
constexpr std::array<std::string_view, 3> k_fitters = {"maker", "earlier shop", "this bench"};

Tone state_tone(std::string_view state) {
    if (state == "bad" || state == "suspect")
        return Tone::bad;
    if (state == "good")
        return Tone::good;
    if (state == "replaced")
        return Tone::edge;
    return Tone::soft;
}

bool valid(const PositionRecord& position) { return position.source.standing == Standing::valid; }

std::string by_words(SisterBy by) {
    switch (by) {
    case SisterBy::named:
        return "named";
    case SisterBy::place:
        return "the only one of its role there";
    case SisterBy::designator:
        return "a guess, by its designator";
    }
    return {};
}

/// The line that a difference to the other channel makes below a position.
std::string difference_words(const Job& job, const PositionRecord& position) {
    const Sister sister = sister_of(job, position);
    if (sister.position == nullptr)
        return {};
    std::string words;
    for (const SisterDifference& one : sister_differences(job, position, *sister.position))
        words += worded("{}{} there {}", words.empty() ? "" : "; ", one.what, one.theirs);
    return words.empty() ? words : fmt::format("{}: {}", sister.position->designator, words);
}

Page all_positions(const AppState& state, const Job& job, const Clock& clock) {
    Page page;
    page.name = "sheet/positions";
    const auto add = [&](Channel channel, std::string_view title) {
        bool first = true;
        for (const PositionRecord& position : job.positions) {
            if (!valid(position) || position.channel != channel)
                continue;
            if (first)
                page.rows.push_back(heading_row(std::string(title)));
            first = false;
            PageRow row;
            row.kind = RowKind::line;
            row.name = "position/" + position.source.entry;
            row.label = position.designator;
            if (const std::string role = role_words(position); !role.empty())
                row.label += ", " + role;
            row.value = position.state;
            row.tone = state_tone(position.state);
            row.more = type_words(position);
            row.note = difference_words(job, position);
            if (row.note.empty())
                row.note = position.note;
            if (row.note == position.note)
                row.note_tone = Tone::soft;
            row.does = intent::OpenPosition{position.source.entry};
            page.rows.push_back(std::move(row));
        }
    };
    add(Channel::left, "Left channel");
    add(Channel::right, "Right channel");
    add(Channel::none, "Of no channel");
    if (page.rows.empty())
        page.rows.push_back(words_row("No positions yet. Touch Add a position and key in what is "
                                      "printed beside the part on the board."));
    bool free = false;
    for (const ReadingRecord& reading : job.readings)
        free = free || (reading.source.standing == Standing::valid && reading.position.empty() &&
                        reading.field.empty());
    if (free) {
        page.rows.push_back(heading_row("Readings at no position"));
        for (auto it = job.readings.rbegin(); it != job.readings.rend(); ++it)
            if (it->source.standing == Standing::valid && it->position.empty() && it->field.empty())
                page.rows.push_back(reading_line(job, *it, clock));
    }
    page.foot.push_back(
        {"add",
         worded("Add a position{}", state.channel == Channel::none
                                        ? std::string()
                                        : worded(", {}", channel_label(state.channel))),
         intent::AddPosition{}, ButtonKind::primary});
    page.foot.push_back({"reading", "A reading", intent::OpenReading{{}, true}});
    page.rows.insert(page.rows.begin(),
                     words_to_choose("channel", "draft/channel", channel_key(state.channel),
                                     {{"left", "left"}, {"right", "right"}, {"", "no channel"}}));
    return page;
}

void add_sister(Page& page, const Job& job, const PositionRecord& position) {
    const Sister sister = sister_of(job, position);
    PickList pick{fmt::format("position/{}/sister", position.source.entry),
                  worded("The same as {} in the other channel", position.designator),
                  position.sister,
                  {{"", "found by role and designator"}}};
    for (const PositionRecord& other : job.positions)
        if (valid(other) && other.channel != position.channel && other.channel != Channel::none)
            pick.words.emplace_back(other.source.entry,
                                    position_words(other) + ", " + role_words(other));
    if (position.channel == Channel::none || pick.words.size() < 2)
        return;
    if (sister.position == nullptr) {
        page.rows.push_back(heading_row("In the other channel"));
        PageRow row = word_row("sister", "The same one", std::move(pick));
        row.value = "not found";
        page.rows.push_back(std::move(row));
        return;
    }
    page.rows.push_back(heading_row("Beside the other channel"));
    PageRow row = word_row("sister", "The same one", std::move(pick));
    row.value = position_words(*sister.position);
    row.more = by_words(sister.by);
    page.rows.push_back(std::move(row));
    const auto differences = sister_differences(job, position, *sister.position);
    const auto sides = [&](std::string what, std::string mine, std::string theirs) {
        PageRow line;
        line.kind = RowKind::sides;
        const auto found =
            std::find_if(differences.begin(), differences.end(),
                         [&](const SisterDifference& one) { return one.what == what; });
        if (found != differences.end()) {
            line.tone = Tone::bad;
            what += " ≠";
        }
        line.label = std::move(what);
        line.value = mine.empty() ? "—" : std::move(mine);
        line.other = theirs.empty() ? "—" : std::move(theirs);
        page.rows.push_back(std::move(line));
    };
    const PositionRecord& there = *sister.position;
    sides("", position_words(position), position_words(there));
    page.rows.back().label.clear();
    page.rows.back().tone = Tone::soft;
    sides("printed type", position.printed_type, there.printed_type);
    sides("fitted type", position.fitted_type, there.fitted_type);
    sides("state", position.state, there.state);
    for (const SisterDifference& one : differences)
        if (one.what != "printed type" && one.what != "fitted type" && one.what != "state")
            sides(one.what, one.mine, one.theirs);
    if (differences.empty())
        page.rows.push_back(words_row("Nothing known differs.", Tone::good));
}

Page one_position(const Job& job, const PositionRecord& position, const Clock& clock) {
    Page page;
    page.name = "position";
    page.title = position_words(position);
    if (position.channel != Channel::none)
        page.title += words(" channel");
    page.back = intent::OpenPosition{};
    const std::string target = fmt::format("position/{}/", position.source.entry);
    std::vector<std::pair<std::string, std::string>> states;
    states.reserve(std::size(k_states));
    for (const std::string_view state : k_states)
        states.emplace_back(state, state);
    page.rows.push_back(words_to_choose(
        "state", target + "state", position.state.empty() ? "untested" : position.state, states));
    PickList role{target + "role", worded("What {} does", position.designator), position.role, {}};
    for (const RoleInfo& info : all_roles())
        role.words.emplace_back(info.key, info.label);
    page.rows.push_back(word_row("role", "Role", std::move(role)));
    page.rows.push_back(
        words_to_choose("half", target + "half", half_key(position.half),
                        {{"plus", "+ half"}, {"minus", "− half"}, {"", "no half"}}));
    page.rows.push_back(
        text_row("printed", "Printed type", position.printed_type, target + "printed_type"));
    page.rows.push_back(
        text_row("fitted", "Fitted type", position.fitted_type, target + "fitted_type"));
    if (!position.fitted_type.empty() && !position.printed_type.empty() &&
        position.fitted_type != position.printed_type)
        page.rows.back().tone = Tone::edge;
    std::vector<std::pair<std::string, std::string>> fitters;
    fitters.reserve(std::size(k_fitters));
    for (const std::string_view who : k_fitters)
        fitters.emplace_back(who, who);
    page.rows.push_back(heading_row("Fitted by"));
    page.rows.push_back(
        words_to_choose("fitted_by", target + "fitted_by", position.fitted_by, fitters));
    page.rows.push_back(text_row("note", "Note", position.note, target + "note"));
    add_sister(page, job, position);
    bool first = true;
    for (auto it = job.readings.rbegin(); it != job.readings.rend(); ++it) {
        if (it->position != position.source.entry || it->source.standing != Standing::valid)
            continue;
        if (first)
            page.rows.push_back(heading_row("Readings, newest first"));
        first = false;
        page.rows.push_back(reading_line(job, *it, clock));
    }
    PageRow pictures;
    pictures.kind = RowKind::pictures;
    for (const PhotoRecord& photo : job.photos) {
        if (photo.source.standing != Standing::valid)
            continue;
        bool shows = photo.position == position.source.entry;
        for (const MarkRecord& mark : job.marks)
            shows = shows ||
                    (mark.source.standing == Standing::valid && mark.photo == photo.source.entry &&
                     mark.position == position.source.entry);
        if (shows)
            pictures.pictures.push_back({"photo/" + photo.source.entry, photo.hash, photo.caption,
                                         intent::ShowPhoto{photo.source.entry, true}});
    }
    if (!pictures.pictures.empty()) {
        page.rows.push_back(heading_row("Photos"));
        page.rows.push_back(std::move(pictures));
    }
    page.rows.push_back(buttons_row(
        {{"strike", "Strike this position",
          intent::StrikeEntry{position.source.entry, Standing::struck}, ButtonKind::danger}}));
    page.foot.push_back({"read", "A reading", intent::OpenReading{position.source.entry, true},
                         ButtonKind::primary});
    page.foot.push_back({"picture", "A photo", intent::ChooseFile{}});
    return page;
}

} // namespace

std::string role_words(const PositionRecord& position) {
    std::string words;
    if (const auto role = role_from_key(position.role); role && *role != Role::other)
        words = role_info(*role).label;
    else if (!position.role.empty() && !role)
        words = position.role;
    std::replace(words.begin(), words.end(), '_', ' ');
    if (position.half != Half::none)
        words += worded("{}{}", words.empty() ? "" : " ", half_label(position.half));
    return words;
}

std::string type_words(const PositionRecord& position) {
    if (position.fitted_type.empty())
        return position.printed_type.empty() ? std::string()
                                             : worded("printed {}", position.printed_type);
    std::string fitted = position.fitted_type;
    if (!position.fitted_by.empty())
        fitted += ", " + position.fitted_by;
    if (position.printed_type.empty())
        return worded("fitted {}", fitted);
    if (position.printed_type == position.fitted_type)
        return fitted;
    return worded("printed {} · fitted {}", position.printed_type, fitted);
}

std::string position_words(const PositionRecord& position) {
    return position.channel == Channel::none
               ? position.designator
               : worded("{} {}", position.designator, channel_label(position.channel));
}

Page make_positions(const AppState& state, const Job& job, const Clock& clock) {
    for (const PositionRecord& position : job.positions)
        if (position.source.entry == state.position && valid(position))
            return one_position(job, position, clock);
    return all_positions(state, job, clock);
}

PickList pick_position(const Job& job, std::string target, std::string title, std::string now) {
    PickList pick{std::move(target), std::move(title), std::move(now), {{"", "none"}}};
    for (const PositionRecord& position : job.positions)
        if (valid(position))
            pick.words.emplace_back(position.source.entry, position_words(position));
    return pick;
}

} // namespace railside
