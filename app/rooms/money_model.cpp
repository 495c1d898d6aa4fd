#include "app/rooms/money_model.h"
#include "core/words/words.h"

#include <fmt/format.h>

#include <cmath>

namespace railside {

namespace {

Tone money_tone(MoneyState state) {
    switch (state) {
    case MoneyState::no_limit:
    case MoneyState::within:
        return Tone::plain;
    case MoneyState::near:
        return Tone::edge;
    case MoneyState::reached:
        return Tone::bad;
    }
    return Tone::plain;
}

std::string minutes_text(double minutes) {
    const long long whole = std::llround(minutes);
    if (whole < 60)
        return worded("{} min", whole);
    return whole % 60 == 0 ? fmt::format("{} h", whole / 60)
                           : worded("{} h {} min", whole / 60, whole % 60);
}

Page cost_page(const CostDraft& draft, const Sheet& sheet) {
    Page page;
    page.name = "cost";
    page.title = "A part on the bill";
    page.back = intent::LeaveCost{};
    page.rows.push_back(text_row("what", "What part", draft.what, "cost/what"));
    page.rows.push_back(
        value_row("each", "Price of one",
                  draft.each_text.empty() ? std::string() : print_money(draft.each, sheet.currency),
                  "cost/each"));
    page.rows.push_back(
        value_row("count", "How many", fmt::format("{}", draft.count), "cost/count"));
    if (!draft.each_text.empty())
        page.rows.push_back(words_row(
            worded("Together {}", print_money(draft.each * draft.count, sheet.currency))));
    if (draft.what.empty() || draft.each_text.empty())
        page.rows.push_back(words_row("Say what part it is and what one costs (0 for one from the "
                                      "drawer that is not charged)."));
    else
        page.foot.push_back({"keep", "Write it down", intent::KeepCost{}, ButtonKind::primary});
    return page;
}

} // namespace

PageRow money_gauge(const Money& money) {
    PageRow row;
    row.kind = RowKind::gauge;
    row.name = "money";
    row.label = money.limit > 0 ? "Spent of the agreed limit" : "Spent; no limit agreed";
    row.value = money.limit > 0 ? worded("{} of {}", print_money(money.total, {}),
                                         print_money(money.limit, money.currency))
                                : print_money(money.total, money.currency);
    row.part = money.limit > 0 ? static_cast<float>(money.total / money.limit) : 0;
    row.tone = money_tone(money.state);
    row.does = intent::ShowSheet{SheetPart::money};
    return row;
}

Page make_money(const AppState& state, const Job& job, const Clock& clock) {
    if (state.cost)
        return cost_page(*state.cost, job.sheet);
    const Money money = money_of(job);
    Page page;
    page.name = "money";
    page.rows.push_back(money_gauge(money));
    page.rows.back().does.reset();
    if (const std::string warning = money_warning(money); !warning.empty()) {
        PageRow row;
        row.kind = RowKind::caution;
        row.value = warning;
        page.rows.push_back(std::move(row));
    }
    page.rows.push_back(heading_row("Time at the bench, one touch"));
    std::vector<PageButton> minutes;
    for (const int one : {5, 10, 15, 30, 60})
        minutes.push_back({fmt::format("minutes/{}", one), "+ " + minutes_text(one),
                           intent::AddMinutes{static_cast<double>(one)}});
    minutes.push_back({"minutes/other", "+ other", intent::KeyIn{"cost/minutes"}});
    page.rows.push_back(buttons_row(std::move(minutes)));
    page.rows.push_back(heading_row("Agreed with the client"));
    page.rows.push_back(value_row("limit", "Agreed limit",
                                  job.sheet.agreed_limit > 0
                                      ? print_money(job.sheet.agreed_limit, job.sheet.currency)
                                      : std::string(),
                                  "job/agreed_limit"));
    page.rows.push_back(text_row("currency", "Currency", job.sheet.currency, "job/currency"));
    page.rows.push_back(value_row("rate", "Rate of an hour",
                                  job.sheet.hourly_rate > 0
                                      ? print_money(job.sheet.hourly_rate, job.sheet.currency)
                                      : std::string(),
                                  "job/hourly_rate"));
    page.rows.push_back(value_row(
        "spent", "Spent besides, as one sum",
        job.sheet.spent > 0 ? print_money(job.sheet.spent, job.sheet.currency) : std::string(),
        "job/spent"));
    page.rows.push_back(heading_row("What it was spent on"));
    const auto sum = [&](std::string label, std::string value) {
        PageRow row;
        row.kind = RowKind::field;
        row.label = std::move(label);
        row.value = std::move(value);
        page.rows.push_back(std::move(row));
    };
    sum("Parts", print_money(money.parts, money.currency));
    sum(worded("Work, {}", minutes_text(money.minutes)), print_money(money.work, money.currency));
    bool any = false;
    for (auto it = job.costs.rbegin(); it != job.costs.rend(); ++it) {
        const CostRecord& cost = *it;
        PageRow row;
        row.kind = RowKind::line;
        row.name = "line/" + cost.source.entry;
        row.label = cost.what;
        row.value = print_money(cost_amount(cost, job.sheet.hourly_rate), job.sheet.currency);
        row.struck = cost.source.standing == Standing::struck;
        row.more = cost.type == CostType::part
                       ? fmt::format("{} × {} · {}", cost.count,
                                     print_money(cost.each, job.sheet.currency),
                                     time_text(cost.source.time_ms, clock))
                       : fmt::format("{} · {}", minutes_text(cost.minutes),
                                     time_text(cost.source.time_ms, clock));
        row.opened = state.history_entry == cost.source.entry;
        row.does = intent::OpenHistory{row.opened ? std::string() : cost.source.entry};
        const bool opened = row.opened;
        const bool struck = row.struck;
        page.rows.push_back(std::move(row));
        if (opened)
            page.rows.push_back(buttons_row(
                {{"strike/" + cost.source.entry, struck ? "Bring it back" : "Strike this line",
                  intent::StrikeEntry{cost.source.entry,
                                      struck ? Standing::valid : Standing::struck},
                  struck ? ButtonKind::plain : ButtonKind::danger}}));
        any = true;
    }
    if (!any)
        page.rows.push_back(words_row("Nothing yet."));
    page.foot.push_back({"add", "Add a part", intent::AddCost{}, ButtonKind::primary});
    return page;
}

} // namespace railside
