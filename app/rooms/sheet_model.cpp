#include "app/rooms/sheet_model.h"

#include "app/rooms/typed_text.h"
#include "core/quantity/value_code.h"

#include <fmt/format.h>

#include <algorithm>

namespace railside {

namespace {

std::string member(const nlohmann::json& body, const char* key) {
    if (body.is_object())
        if (const auto it = body.find(key); it != body.end() && it->is_string())
            return it->get<std::string>();
    return {};
}

std::string joined(std::initializer_list<std::string> parts) {
    std::string text;
    for (const std::string& part : parts) {
        if (part.empty())
            continue;
        if (!text.empty())
            text += " · ";
        text += part;
    }
    return text;
}

template <class Records> const auto* by_entry(const Records& records, std::string_view entry) {
    const auto it = std::find_if(records.begin(), records.end(),
                                 [&](const auto& r) { return r.source.entry == entry; });
    return it == records.end() ? nullptr : &*it;
}

std::string step_text(const Job& job, std::string_view list, std::string_view step) {
    for (const ListRecord& record : job.lists)
        if (record.source.entry == list)
            for (const StepRecord& s : record.steps)
                if (s.step.key == step)
                    return s.step.text;
    return std::string(step);
}

} // namespace

HistoryRow make_history_row(const Job& job, const Entry& entry, const Clock& clock) {
    HistoryRow row;
    row.entry = entry.id;
    row.time = time_text(entry.time_ms, clock);
    row.struck = std::find(job.struck.begin(), job.struck.end(), entry.id) != job.struck.end();
    const nlohmann::json& body = entry.body;
    switch (entry.kind) {
    case EntryKind::job:
        row.can_strike = entry.id != job.id;
        if (entry.id == job.id) {
            row.what = "Taken in";
            row.more = member(body, "complaint");
        } else if (body.contains("known") && body["known"].is_object() && !body["known"].empty()) {
            const auto first = body["known"].begin();
            std::string key = first.key();
            if (const auto dot = key.rfind('.'); dot != std::string::npos)
                key = key.substr(dot + 1);
            std::replace(key.begin(), key.end(), '_', ' ');
            row.what = joined(
                {"Keyed", key,
                 first.value().is_string() ? first.value().get<std::string>() : std::string()});
        } else {
            row.what = "Sheet changed";
            row.more =
                joined({member(body, "state"), member(body, "model"), member(body, "complaint")});
        }
        break;
    case EntryKind::position:
        row.what = joined({"Position", member(body, "designator"), member(body, "channel"),
                           member(body, "state")});
        row.more = member(body, "note");
        break;
    case EntryKind::reading:
        if (const ReadingRecord* reading = by_entry(job.readings, entry.id)) {
            const std::string value =
                reading->text.empty() ? print_short(reading->amount.value, reading->amount.unit, 4)
                                      : typed_text(reading->text, reading->amount.unit);
            row.what = joined({reading->what.empty() ? "Reading" : reading->what,
                               std::string(channel_label(reading->channel)), value});
            row.more = reading->conditions;
        } else {
            row.what = "Reading";
        }
        break;
    case EntryKind::working:
        if (const KeptWorking* kept = by_entry(job.kept, entry.id)) {
            const KeptLine line = make_kept_line(*kept, clock);
            row.what = joined({line.name, line.figures});
            row.more = line.word;
        } else {
            row.what = "Working";
        }
        break;
    case EntryKind::photo:
        if (const PhotoRecord* photo = by_entry(job.photos, entry.id)) {
            row.what = joined({"Photo", std::string(photo_stage_label(photo->stage))});
            row.more = photo->caption;
        } else {
            row.what = "Photo";
        }
        break;
    case EntryKind::list:
        row.what = joined({"List taken up", member(body, "name")});
        break;
    case EntryKind::tick: {
        const std::string state = member(body, "state");
        row.what = joined({state == "skipped" ? "Skipped"
                           : state == "open"  ? "Taken back"
                                              : "Done",
                           step_text(job, member(body, "list"), member(body, "step"))});
        row.more = member(body, "answer");
        break;
    }
    case EntryKind::note:
        row.what = "Note";
        row.more = member(body, "text");
        break;
    case EntryKind::strike: {
        const std::string target = member(body, "entry");
        row.can_strike = false;
        row.what = member(body, "standing") == "valid" ? "Brought back" : "Struck";
        for (const Entry& other : job.entries)
            if (other.id == target && other.kind != EntryKind::strike)
                row.more = make_history_row(job, other, clock).what;
        break;
    }
    default:
        row.what = "Entry of a newer version";
        break;
    }
    return row;
}

SheetShown make_sheet(const AppState& state, const Job& job, const Clock& clock) {
    SheetShown shown;
    shown.header = make_header(state, job, clock);
    shown.serial = job.sheet.serial;
    shown.state = job.sheet.state;
    shown.opened = state.history_entry;
    for (const PositionRecord& position : job.positions) {
        if (position.source.standing == Standing::struck)
            continue;
        PositionRow row;
        row.designator = position.designator;
        row.role = position.role;
        std::replace(row.role.begin(), row.role.end(), '_', ' ');
        row.channel = channel_label(position.channel);
        row.odd = !position.fitted_type.empty() && !position.printed_type.empty() &&
                  position.fitted_type != position.printed_type;
        row.types = row.odd
                        ? fmt::format("printed {} · fitted {}{}", position.printed_type,
                                      position.fitted_type,
                                      position.fitted_by.empty() ? "" : ", " + position.fitted_by)
                    : position.fitted_type.empty() ? position.printed_type
                                                   : position.fitted_type;
        row.state = position.state;
        row.note = position.note;
        shown.positions.push_back(std::move(row));
    }
    for (auto it = job.entries.rbegin(); it != job.entries.rend(); ++it)
        shown.history.push_back(make_history_row(job, *it, clock));
    return shown;
}

} // namespace railside
