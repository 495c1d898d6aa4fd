// What a job has cost so far, against the limit agreed with the client.
//
// total = sum of the sheet's own sum, parts (count × price) and work (minutes × rate / 60), each
// line rounded to hundredths of the currency, halves away from nought. The limit is never a price:
// it is what may be spent before the client is asked again.
#pragma once

#include "core/job/job.h"

#include <string>

namespace railside {

enum class MoneyState {
    no_limit, // none was agreed
    within,   // under 80 % of the limit
    near,     // from 80 %
    reached,  // from 100 %
};
/// By hundredths, so that 80 % of a limit is met exactly. Amounts 0 to 1e14; a limit of 0: none.
[[nodiscard]] MoneyState money_state(double total, double limit);

/// Valid lines only; amounts in the sheet's currency.
struct Money {
    double parts = 0;
    double work = 0;
    double other = 0; // the sheet's `spent`
    double total = 0;
    double limit = 0; // 0: none agreed
    double left = 0;  // limit − total; below 0 when past it
    double minutes = 0;
    double minutes_without_rate = 0; // worked, but neither the line nor the sheet names a rate
    std::string currency;
    MoneyState state = MoneyState::no_limit;
};
[[nodiscard]] Money money_of(const Job& job);

/// One cost as an amount of money; 0 for work without a rate.
[[nodiscard]] double cost_amount(const CostRecord& cost, double sheet_rate);

/// "118.50 EUR", "118 EUR" where there are no hundredths.
[[nodiscard]] std::string print_money(double amount, const std::string& currency);

/// What to tell the technician: "84 % of the agreed limit is spent: 118 of 140 EUR." from 80 %,
/// "The agreed limit of 140 EUR is reached (151.50 EUR). Ask the client before going on." from
/// 100 %; empty under that. Work without a rate is named as well, also under it.
[[nodiscard]] std::string money_warning(const Money& money);

} // namespace railside
