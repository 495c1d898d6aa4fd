#include "app/rooms/apart_model.h"
#include "core/words/words.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>

namespace railside {

namespace {

// What comes off an amplifier, commonest first.
constexpr std::array<std::string_view, 12> k_things = {"screw",
                                                       "nut",
                                                       "washer",
                                                       "insulating washer",
                                                       "insulating bush",
                                                       "transistor",
                                                       "connector",
                                                       "wire",
                                                       "fuse",
                                                       "board",
                                                       "heat sink",
                                                       "cover"};

const PhotoRecord* photo_of(const Job& job, std::string_view entry) {
    for (const PhotoRecord& photo : job.photos)
        if (photo.source.entry == entry && photo.source.standing == Standing::valid)
            return &photo;
    return nullptr;
}

} // namespace

int ApartLine::off() const {
    int n = 0;
    for (const ReassemblyLine& item : items)
        n += item.off;
    return n;
}

int ApartLine::still() const {
    int n = 0;
    for (const ReassemblyLine& item : items)
        n += item.still;
    return n;
}

std::vector<ApartLine> apart_lines(const Job& job) {
    std::vector<ApartLine> lines;
    for (ReassemblyLine& item : reassembly_list(job)) {
        const bool same = !lines.empty() && lines.back().items.front().what == item.what &&
                          lines.back().items.front().where == item.where &&
                          lines.back().items.front().channel == item.channel;
        if (!same)
            lines.emplace_back();
        lines.back().items.push_back(std::move(item));
    }
    return lines;
}

bool wants_all_back(std::string_view list_key) {
    return list_key == "before_power" || list_key == "first_power" || list_key == "full_power" ||
           list_key == "idle_current" || list_key == "handing_back" || list_key == "reassembly";
}

Page make_apart(const AppState& state, const Job& job) {
    Page page;
    page.name = "apart";
    page.title = "Taken off";
    page.back = intent::ShowApart{false};
    const std::vector<ApartLine> lines = apart_lines(job);
    const std::string still = still_off_sentence(reassembly_list(job));
    if (!still.empty())
        page.rows.push_back(words_row(still, Tone::edge));
    else if (!lines.empty())
        page.rows.push_back(words_row("Everything is back.", Tone::good));
    page.rows.push_back(words_to_choose("channel", "draft/channel", channel_key(state.channel),
                                        {{"left", "left"}, {"right", "right"}, {"", "neither"}}));
    page.rows.push_back(text_row("where", "From where", state.apart_where, "apart/where"));
    std::vector<PageButton> things;
    things.reserve(k_things.size() + 1);
    for (const std::string_view thing : k_things)
        things.push_back({fmt::format("thing/{}", thing), worded("+ {}", thing),
                          intent::TakeOff{std::string(thing)}});
    things.push_back(
        {"thing/other", "+ other", intent::EditText{"apart/what", "What came off", {}}});
    page.rows.push_back(buttons_row(std::move(things)));
    if (lines.empty()) {
        page.rows.push_back(words_row("One touch for each piece as it comes off. Putting together "
                                      "goes through them backwards, with counts, so that no "
                                      "insulator and no screw is left over. The photo shown last "
                                      "goes with it."));
        return page;
    }
    page.rows.push_back(heading_row("To put back, in this order"));
    for (const ApartLine& line : lines) {
        const ReassemblyLine& first = line.items.front();
        const int left = line.still();
        PageRow row;
        row.kind = RowKind::line;
        row.name = "line/" + first.item;
        row.label = line.off() > 1 ? fmt::format("{} × {}", line.off(), first.what) : first.what;
        row.value = left == 0 ? "back" : left == line.off() ? "off" : worded("{} still off", left);
        row.tone = left == 0 ? Tone::good : Tone::edge;
        row.more = first.where;
        if (first.channel != Channel::none)
            row.more += worded("{}{}", row.more.empty() ? "" : ", ", channel_label(first.channel));
        for (const ReassemblyLine& item : line.items)
            if (item.over > 0)
                row.note = worded("{} more went back than came off: count again.", item.over);
        row.opened = state.apart_line == first.item;
        row.does = intent::OpenApart{row.opened ? std::string() : first.item};
        const bool opened = row.opened;
        page.rows.push_back(std::move(row));
        if (!opened)
            continue;
        std::vector<PageButton> buttons;
        if (left > 0) {
            buttons.push_back({"all", left == 1 ? "It is back" : worded("All {} are back", left),
                               intent::PutBack{first.item, left}, ButtonKind::primary});
            if (left > 1)
                buttons.push_back({"one", "One is back", intent::PutBack{first.item, 1}});
        }
        buttons.push_back({"more", "One more came off", intent::TakeOff{first.what}});
        buttons.push_back({"strike", "Strike this",
                           intent::StrikeEntry{first.item, Standing::struck}, ButtonKind::danger});
        page.rows.push_back(buttons_row(std::move(buttons)));
        PageRow pictures;
        pictures.kind = RowKind::pictures;
        for (const ReassemblyLine& item : line.items)
            if (const PhotoRecord* photo = photo_of(job, item.photo)) {
                const std::string name = "photo/" + photo->source.entry;
                if (std::none_of(pictures.pictures.begin(), pictures.pictures.end(),
                                 [&](const PagePicture& other) { return other.name == name; }))
                    pictures.pictures.push_back({name, photo->hash, photo->caption,
                                                 intent::ShowPhoto{photo->source.entry, true}});
            }
        if (!pictures.pictures.empty())
            page.rows.push_back(std::move(pictures));
    }
    return page;
}

} // namespace railside
