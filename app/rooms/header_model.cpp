#include "app/rooms/header_model.h"

#include "core/job/json_text.h"
#include "core/job/money.h"
#include "core/quantity/value_code.h"
#include "core/words/words.h"

#include <fmt/format.h>

#include <algorithm>

namespace railside {

namespace {

/// A stored amount {"value", "unit"} printed short.
std::string printed(const nlohmann::json& amount) {
    if (!amount.is_object() || !amount.contains("value") || !amount["value"].is_number())
        return {};
    const auto unit = unit_from_key(text_member(amount, "unit"));
    return print_value(amount["value"].get<double>(), unit.value_or(Unit::ratio), 3);
}

} // namespace

KeptLine make_kept_line(const KeptWorking& kept, const Clock& clock) {
    KeptLine line;
    line.entry = kept.source.entry;
    line.time = time_text(kept.source.time_ms, clock);
    const Working* working = find_working(kept.working);
    line.name = working ? std::string(working->name) : kept.working;
    if (kept.channel != Channel::none)
        line.name += worded(" · {}", channel_label(kept.channel));
    const nlohmann::json& record = kept.record;
    std::string from;
    // The measured field is what the person remembers the working by.
    if (working && record.contains("inputs"))
        for (const Field& field : working->fields)
            if (from.empty() && (field.spread == Spread::meter || field.key == "measured") &&
                record["inputs"].contains(std::string(field.key))) {
                const nlohmann::json& input = record["inputs"][std::string(field.key)];
                const std::string text = text_member(input, "text");
                const auto parsed = text.empty() ? Result<ParsedValue>(Error{})
                                                 : parse_value(text, field.unit, field.label);
                from = parsed ? print_value(parsed->value, field.unit, std::max(1, parsed->digits))
                              : printed(input);
            }
    std::string to;
    if (const std::string key = text_member(record, "headline");
        !key.empty() && record.contains("results") && record["results"].contains(key))
        to = printed(record["results"][key]);
    line.figures = from.empty() ? to : to.empty() ? from : from + " → " + to;
    if (record.contains("verdict")) {
        line.state = verdict_from_key(text_member(record["verdict"], "state"))
                         .value_or(VerdictState::undecided);
        line.word = text_member(record["verdict"], "word");
    }
    return line;
}

const ListRecord* open_list(const AppState& state, const Job& job) {
    for (const ListRecord& list : job.lists)
        if (list.source.entry == state.list && list.source.standing == Standing::valid)
            return &list;
    const ListRecord* latest = nullptr;
    for (const ListRecord& list : job.lists)
        if (list.source.standing == Standing::valid &&
            (latest == nullptr || list.done() < static_cast<int>(list.steps.size())))
            latest = &list;
    return latest;
}

HeaderShown make_header(const AppState& state, const Job& job, const Clock& clock) {
    HeaderShown shown;
    const Sheet& sheet = job.sheet;
    shown.title = sheet.maker.empty()   ? sheet.model
                  : sheet.model.empty() ? sheet.maker
                                        : sheet.maker + " " + sheet.model;
    if (shown.title.empty())
        shown.title = "Unnamed unit";
    shown.short_title = sheet.model.empty() ? shown.title : sheet.model;
    shown.complaint = sheet.complaint;
    if (const Money money = money_of(job); money.limit > 0) {
        shown.money = worded("{} of {}", print_money(money.total, {}),
                             print_money(money.limit, money.currency));
        shown.money_part = static_cast<float>(std::clamp(money.total / money.limit, 0.0, 1.0));
        shown.money_high = money.state == MoneyState::near || money.state == MoneyState::reached;
    }
    if (const KeptWorking* kept = job.last_kept()) {
        shown.has_kept = true;
        shown.kept = make_kept_line(*kept, clock);
    }
    const auto valid = [](const auto& records) {
        return std::count_if(records.begin(), records.end(),
                             [](const auto& r) { return r.source.standing == Standing::valid; });
    };
    shown.photos_label = worded("Photos {}", valid(job.photos));
    shown.kept_label = worded("Kept {}", valid(job.kept));
    const ListRecord* list = open_list(state, job);
    shown.steps_label = list ? worded("Steps {} of {}", list->done(), list->steps.size()) : "Steps";
    return shown;
}

} // namespace railside
