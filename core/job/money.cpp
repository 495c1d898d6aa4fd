#include "core/job/money.h"

#include "core/quantity/value_code.h"
#include "core/words/words.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace railside {

namespace {

double hundredths(double amount) { return std::round(amount * 100); }
double to_hundredths(double amount) { return hundredths(amount) / 100; }

} // namespace

MoneyState money_state(double total, double limit) {
    const double most = hundredths(limit);
    if (most <= 0)
        return MoneyState::no_limit;
    const double spent = hundredths(total);
    if (spent >= most)
        return MoneyState::reached;
    return spent * 5 >= most * 4 ? MoneyState::near : MoneyState::within;
}

double cost_amount(const CostRecord& cost, double sheet_rate) {
    if (cost.type == CostType::part)
        return to_hundredths(cost.count * cost.each);
    return to_hundredths(cost.minutes * cost.rate.value_or(sheet_rate) / 60);
}

Money money_of(const Job& job) {
    Money money;
    money.limit = job.sheet.agreed_limit;
    money.currency = job.sheet.currency;
    money.other = to_hundredths(job.sheet.spent);
    for (const CostRecord& cost : job.costs) {
        if (cost.source.standing != Standing::valid)
            continue;
        const double amount = cost_amount(cost, job.sheet.hourly_rate);
        if (cost.type == CostType::part) {
            money.parts += amount;
            continue;
        }
        money.work += amount;
        money.minutes += cost.minutes;
        if (!cost.rate && job.sheet.hourly_rate <= 0)
            money.minutes_without_rate += cost.minutes;
    }
    money.parts = to_hundredths(money.parts);
    money.work = to_hundredths(money.work);
    money.total = to_hundredths(money.parts + money.work + money.other);
    money.state = money_state(money.total, money.limit);
    money.left = money.state == MoneyState::no_limit ? 0 : to_hundredths(money.limit - money.total);
    return money;
}

std::string print_money(double amount, const std::string& currency) {
    const double whole = hundredths(std::abs(amount));
    const bool even = std::fmod(whole, 100) == 0;
    std::string text = amount < 0 && whole > 0 ? "\u2212" : "";
    text += even ? fmt::format("{:.0f}", whole / 100) : fmt::format("{:.2f}", whole / 100);
    return currency.empty() ? text : fmt::format("{}\u2009{}", text, currency);
}

std::string money_warning(const Money& money) {
    std::string text;
    if (money.state == MoneyState::near) {
        // Downwards, so that 99.6 % is not told as 100 %.
        const double percent = std::floor(hundredths(money.total) * 100 / hundredths(money.limit));
        text = worded("{:.0f}\u2009% of the agreed limit is spent: {} of {}.", percent,
                      print_money(money.total, ""), print_money(money.limit, money.currency));
    } else if (money.state == MoneyState::reached) {
        text = worded("The agreed limit of {} is reached ({}). Ask the client before going on.",
                      print_money(money.limit, money.currency),
                      print_money(money.total, money.currency));
    }
    if (money.minutes_without_rate > 0)
        text += worded("{}{}\u2009min of work are not counted: the sheet has no hourly rate.",
                       text.empty() ? "" : " ",
                       print_short(money.minutes_without_rate, Unit::ratio, 6));
    return text;
}

} // namespace railside
