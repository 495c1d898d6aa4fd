// What a job has cost: parts and minutes against the limit agreed with the client.
#pragma once

#include "app/rooms/page.h"
#include "core/job/money.h"

namespace railside {

/// The bar and the warning, for the sheet's first page and the header.
[[nodiscard]] PageRow money_gauge(const Money& money);
[[nodiscard]] Page make_money(const AppState& state, const Job& job, const Clock& clock);

} // namespace railside
