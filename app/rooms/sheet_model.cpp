#include "app/rooms/sheet_model.h"

#include "app/rooms/money_model.h"
#include "app/rooms/positions_model.h"
#include "app/rooms/typed_text.h"
#include "core/job/json_text.h"
#include "core/quantity/value_code.h"
#include "core/words/words.h"

#include <fmt/format.h>

#include <algorithm>

namespace railside {

namespace {

std::string money_member(const nlohmann::json& body, const char* key) {
    std::string words(key);
    std::replace(words.begin(), words.end(), '_', ' ');
    if (body.is_object())
        if (const auto it = body.find(key); it != body.end() && it->is_number())
            return fmt::format("{} {}", words, print_money(it->get<double>(), {}));
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

std::string position_name(const Job& job, std::string_view entry) {
    const PositionRecord* position = by_entry(job.positions, entry);
    return position ? position_words(*position) : std::string();
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
            row.more = text_member(body, "complaint");
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
            row.more = joined({text_member(body, "state"), text_member(body, "maker"),
                               text_member(body, "model"), text_member(body, "serial"),
                               text_member(body, "year"), text_member(body, "complaint"),
                               text_member(body, "accessories"), text_member(body, "condition"),
                               money_member(body, "agreed_limit"),
                               money_member(body, "hourly_rate"), money_member(body, "spent")});
        }
        break;
    case EntryKind::position:
        row.what = joined({"Position", text_member(body, "designator"),
                           text_member(body, "channel"), text_member(body, "state")});
        row.more = joined(
            {body.contains("printed_type") ? worded("printed {}", text_member(body, "printed_type"))
                                           : std::string(),
             body.contains("fitted_type") ? worded("fitted {}", text_member(body, "fitted_type"))
                                          : std::string(),
             text_member(body, "fitted_by"), text_member(body, "note")});
        break;
    case EntryKind::reading:
        if (const ReadingRecord* reading = by_entry(job.readings, entry.id)) {
            const std::string value =
                reading->text.empty() ? print_short(reading->amount.value, reading->amount.unit, 4)
                                      : typed_text(reading->text, reading->amount.unit);
            const std::string at = position_name(job, reading->position);
            row.what =
                joined({reading->what.empty() ? "Reading" : reading->what,
                        at.empty() ? std::string(channel_label(reading->channel)) : at, value});
            row.more =
                joined({reading->instrument, print_conditions(reading->when), reading->conditions});
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
    case EntryKind::mark:
        row.what = joined({"Marked on a photo", text_member(body, "shape")});
        row.more =
            joined({text_member(body, "text"), position_name(job, text_member(body, "position"))});
        break;
    case EntryKind::pair:
        row.what = "Two photos paired, before and after";
        row.more = text_member(body, "text");
        break;
    case EntryKind::recording:
        row.what = joined({"Recording", text_member(body, "channel"), text_member(body, "name")});
        row.more = text_member(body, "what");
        break;
    case EntryKind::cost:
        if (const CostRecord* cost = by_entry(job.costs, entry.id))
            row.what = joined({cost->type == CostType::part ? "Part" : "Time", cost->what,
                               cost->type == CostType::part
                                   ? fmt::format("{} × {}", cost->count,
                                                 print_money(cost->each, job.sheet.currency))
                                   : worded("{:g} min", cost->minutes)});
        else
            row.what = "Cost";
        break;
    case EntryKind::taken_off:
        if (const TakenOffRecord* item = by_entry(job.taken_off, entry.id))
            row.what =
                joined({"Taken off", fmt::format("{} × {}", item->count, item->what), item->where});
        else
            row.what = "Taken off";
        row.more = text_member(body, "note");
        break;
    case EntryKind::put_back:
        row.what = "Put back";
        if (const PutBackRecord* back = by_entry(job.put_back, entry.id))
            for (const TakenOffRecord& item : job.taken_off)
                if (item.source.entry == back->item)
                    row.what = joined(
                        {"Put back", fmt::format("{} × {}", back->count, item.what), item.where});
        row.more = text_member(body, "note");
        break;
    case EntryKind::wanting:
        row.what = joined({"Still wanting", text_member(body, "title"), text_member(body, "rank"),
                           text_member(body, "state")});
        row.more = joined({text_member(body, "why"), money_member(body, "parts")});
        break;
    case EntryKind::closing:
        row.what = "Closing words";
        row.more = joined(
            {text_member(body, "words"), text_member(body, "cause"), text_member(body, "cure")});
        break;
    case EntryKind::list:
        row.what = joined({"List taken up", text_member(body, "name")});
        break;
    case EntryKind::tick: {
        const std::string state = text_member(body, "state");
        row.what = joined({state == "skipped" ? "Skipped"
                           : state == "open"  ? "Taken back"
                                              : "Done",
                           step_text(job, text_member(body, "list"), text_member(body, "step"))});
        row.more = text_member(body, "answer");
        break;
    }
    case EntryKind::circuit:
        row.what = joined({"Circuit", text_member(body, "name")});
        break;
    case EntryKind::finding: {
        std::string about = text_member(body, "about");
        std::replace(about.begin(), about.end(), '_', ' ');
        std::replace(about.begin(), about.end(), '/', ' ');
        std::string answer = text_member(body, "answer");
        std::replace(answer.begin(), answer.end(), '_', ' ');
        row.what = joined({"Found", about, text_member(body, "channel"), answer});
        break;
    }
    case EntryKind::note:
        row.what = "Note";
        row.more = text_member(body, "text");
        break;
    case EntryKind::strike: {
        const std::string target = text_member(body, "entry");
        row.can_strike = false;
        row.what = text_member(body, "standing") == "valid" ? "Brought back" : "Struck";
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

namespace {

bool passes(HistoryFilter filter, EntryKind kind) {
    switch (filter) {
    case HistoryFilter::all:
        return true;
    case HistoryFilter::readings:
        return kind == EntryKind::reading || kind == EntryKind::recording;
    case HistoryFilter::photos:
        return kind == EntryKind::photo || kind == EntryKind::mark || kind == EntryKind::pair;
    case HistoryFilter::steps:
        return kind == EntryKind::list || kind == EntryKind::tick;
    case HistoryFilter::workings:
        return kind == EntryKind::working;
    case HistoryFilter::changes:
        return kind == EntryKind::job || kind == EntryKind::position || kind == EntryKind::cost ||
               kind == EntryKind::taken_off || kind == EntryKind::put_back ||
               kind == EntryKind::note || kind == EntryKind::wanting ||
               kind == EntryKind::closing || kind == EntryKind::circuit ||
               kind == EntryKind::finding;
    }
    return true;
}

std::string seen_words(const JobSeen& seen) {
    std::string words = seen.by == SeenBy::symptom ? "A like complaint" : "The same unit";
    if (seen.by == SeenBy::unit_and_symptom)
        words += railside::words(" and a like complaint");
    if (!seen.words.empty()) {
        words += ":";
        for (std::size_t i = 0; i < seen.words.size() && i < 5; ++i)
            words += (i == 0 ? " " : ", ") + seen.words[i];
    }
    return words;
}

Page make_unit(const Job& job, std::span<const JobSeen> seen, const Clock& clock) {
    const Sheet& sheet = job.sheet;
    Page page;
    page.name = "sheet";
    if (job.standing == Standing::struck)
        page.rows.push_back(
            words_row("This job was taken off the shelf. It stays readable here.", Tone::edge));
    PickList state{"job/state",
                   "Where the job stands",
                   sheet.state.empty() ? std::string(job_state_word(JobState::waiting))
                                       : sheet.state,
                   {}};
    for (const JobState one : all_job_states())
        state.words.emplace_back(job_state_word(one), job_state_word(one));
    page.rows.push_back(word_row("state", "The job is", std::move(state)));
    page.rows.push_back(text_row("complaint", "The client says", sheet.complaint, "job/complaint"));
    const Money money = money_of(job);
    page.rows.push_back(money_gauge(money));
    if (const std::string warning = money_warning(money); !warning.empty())
        page.rows.push_back(caution_row(warning));
    if (!seen.empty()) {
        page.rows.push_back(heading_row("Seen before"));
        for (const JobSeen& one : seen) {
            PageRow row;
            row.kind = RowKind::line;
            row.name = "seen/" + one.job.job;
            const Sheet& there = one.job.sheet;
            row.label = there.maker.empty() ? there.model : there.maker + " " + there.model;
            row.value = time_text(one.job.touched_ms, clock);
            row.tone = Tone::soft;
            row.more = seen_words(one);
            for (const std::string& cause : one.causes)
                row.note += (row.note.empty() ? "Found then: " : "; ") + cause;
            row.does = intent::OpenJob{one.job.job};
            page.rows.push_back(std::move(row));
        }
    }
    page.rows.push_back(heading_row("The unit"));
    page.rows.push_back(text_row("maker", "Maker", sheet.maker, "job/maker"));
    page.rows.push_back(text_row("model", "Model", sheet.model, "job/model"));
    page.rows.push_back(text_row("serial", "Serial number", sheet.serial, "job/serial"));
    page.rows.push_back(text_row("year", "Year", sheet.year, "job/year"));
    page.rows.push_back(
        text_row("accessories", "What came with it", sheet.accessories, "job/accessories"));
    page.rows.push_back(
        text_row("condition", "Condition as received", sheet.condition, "job/condition"));
    page.rows.push_back(heading_row("This job"));
    page.rows.push_back(buttons_row(
        {{"export", "Write a job file", intent::ExportJob{}},
         job.standing == Standing::valid
             ? PageButton{"off", "Take it off the shelf",
                          intent::StrikeEntry{job.id, Standing::struck}, ButtonKind::danger}
             : PageButton{"off", "Back on the shelf",
                          intent::StrikeEntry{job.id, Standing::valid}}}));
    page.foot.push_back({"note", "Write a note", intent::EditText{"note", "Note", {}}});
    page.foot.push_back({"handover", "Hand it back", intent::GoRoom{RoomId::handover}});
    return page;
}

} // namespace

Page make_history(const AppState& state, const Job& job, const Clock& clock) {
    Page page;
    page.name = "sheet/history";
    if (state.follow_history)
        page.follow = state.history_entry;
    std::vector<PageButton> filters;
    for (const HistoryFilter filter :
         {HistoryFilter::all, HistoryFilter::readings, HistoryFilter::photos, HistoryFilter::steps,
          HistoryFilter::workings, HistoryFilter::changes})
        filters.push_back(
            {fmt::format("filter/{}", history_filter_key(filter)),
             std::string(history_filter_label(filter)), intent::FilterHistory{filter},
             filter == state.history_filter ? ButtonKind::chosen : ButtonKind::choice});
    page.rows.push_back(buttons_row(std::move(filters)));
    bool any = false;
    for (auto it = job.entries.rbegin(); it != job.entries.rend(); ++it) {
        EntryKind kind = it->kind;
        // A strike is of the kind of what it strikes.
        if (kind == EntryKind::strike)
            for (const Entry& entry : job.entries)
                if (entry.id == text_member(it->body, "entry"))
                    kind = entry.kind;
        if (!passes(state.history_filter, kind))
            continue;
        any = true;
        const HistoryRow entry = make_history_row(job, *it, clock);
        PageRow row;
        row.kind = RowKind::line;
        row.name = entry.entry;
        row.label = entry.what;
        row.value = entry.time;
        row.tone = Tone::soft;
        row.more = entry.more;
        row.struck = entry.struck;
        row.opened = state.history_entry == entry.entry;
        row.does = intent::OpenHistory{row.opened ? std::string() : entry.entry};
        const bool opened = row.opened;
        page.rows.push_back(std::move(row));
        if (!opened)
            continue;
        std::vector<PageButton> buttons;
        if (kind == EntryKind::position)
            for (const PositionRecord& position : job.positions)
                if (position.source.standing == Standing::valid &&
                    position.designator == text_member(it->body, "designator") &&
                    channel_key(position.channel) == text_member(it->body, "channel"))
                    buttons.push_back(
                        {"see", "Open the position", intent::OpenPosition{position.source.entry}});
        if (kind == EntryKind::photo && !entry.struck && it->kind == EntryKind::photo)
            buttons.push_back({"see", "Open the photo", intent::ShowPhoto{entry.entry, true}});
        if (entry.can_strike)
            buttons.push_back({"strike/" + entry.entry,
                               entry.struck ? "Bring it back" : "Strike this entry",
                               intent::StrikeEntry{entry.entry, entry.struck ? Standing::valid
                                                                             : Standing::struck},
                               entry.struck ? ButtonKind::plain : ButtonKind::danger});
        if (buttons.empty())
            page.rows.push_back(words_row("This entry cannot be struck."));
        else
            page.rows.push_back(buttons_row(std::move(buttons)));
    }
    if (!any)
        page.rows.push_back(words_row("Nothing of this kind yet."));
    return page;
}

SheetShown make_sheet(const AppState& state, const Job& job, const BenchBook&,
                      std::span<const JobSeen> seen, const Clock& clock) {
    SheetShown shown;
    shown.history = make_history(state, job, clock);
    switch (state.sheet_part) {
    case SheetPart::unit:
    case SheetPart::history:
        shown.page = make_unit(job, seen, clock);
        break;
    case SheetPart::positions:
        shown.page = make_positions(state, job, clock);
        break;
    case SheetPart::money:
        shown.page = make_money(state, job, clock);
        break;
    }
    return shown;
}

} // namespace railside
