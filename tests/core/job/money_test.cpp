#include "core/job/money.h"

#include "writer.h"

#include <rapidcheck.h>

using namespace railside;
using Json = nlohmann::json;

namespace {

Json part(int count, double each) {
    return {{"type", "part"}, {"what", "part"}, {"count", count}, {"each", each}};
}
Json work(double minutes) { return {{"type", "work"}, {"what", "work"}, {"minutes", minutes}}; }

} // namespace

TEST_CASE("money: the state changes at 80 and at 100 percent of the limit, to the hundredth",
          "[core][job]") {
    CHECK(money_state(0, 140) == MoneyState::within);
    CHECK(money_state(111.99, 140) == MoneyState::within);
    CHECK(money_state(112, 140) == MoneyState::near); // 0.8 · 140
    CHECK(money_state(139.99, 140) == MoneyState::near);
    CHECK(money_state(140, 140) == MoneyState::reached);
    CHECK(money_state(1000, 140) == MoneyState::reached);
    CHECK(money_state(1000, 0) == MoneyState::no_limit);
    // 0.8 · 0.7 is 0.56 exactly, although 0.8 * 0.7 in doubles is 0.5599999999999999 and
    // 0.1 + 0.46 is 0.56 with an error of its own.
    CHECK(money_state(0.1 + 0.46, 0.7) == MoneyState::near);
    CHECK(money_state(0.55, 0.7) == MoneyState::within);
}

TEST_CASE("money: parts and minutes add up against the agreed limit", "[core][job]") {
    Writer writer;
    writer.add(EntryKind::job,
               {{"agreed_limit", 140}, {"currency", "EUR"}, {"hourly_rate", 48}, {"spent", 4.2}});
    writer.add(EntryKind::cost, part(3, 0.85)); // 2.55
    const std::string dear = writer.add(EntryKind::cost, part(1, 90));
    writer.add(EntryKind::cost, work(50)); // 40.00
    Money money = money_of(writer.fold());
    CHECK(money.parts == 92.55);
    CHECK(money.work == 40);
    CHECK(money.minutes == 50);
    CHECK(money.other == 4.2);
    CHECK(money.total == 136.75);
    CHECK(money.left == 3.25);
    CHECK(money.state == MoneyState::near);
    CHECK(money.currency == "EUR");
    // 136.75 / 140 = 97.68 %
    CHECK(money_warning(money) ==
          "97\u2009% of the agreed limit is spent: 136.75 of 140\u2009EUR.");
    writer.strike(dear);
    money = money_of(writer.fold());
    CHECK(money.total == 46.75);
    CHECK(money.state == MoneyState::within);
    CHECK(money_warning(money).empty());
    writer.add(EntryKind::cost, part(1, 104.75));
    money = money_of(writer.fold());
    CHECK(money.left == -11.5);
    CHECK(money_warning(money) ==
          "The agreed limit of 140\u2009EUR is reached (151.50\u2009EUR). Ask the client before "
          "going on.");
}

TEST_CASE("money: work takes its own rate before the sheet's, and says when there is none",
          "[core][job]") {
    Writer writer;
    writer.add(EntryKind::cost, {{"type", "work"}, {"what", "a"}, {"minutes", 90}, {"rate", 60}});
    writer.add(EntryKind::cost, work(25));
    Money money = money_of(writer.fold());
    CHECK(money.work == 90);
    CHECK(money.minutes == 115);
    CHECK(money.minutes_without_rate == 25);
    CHECK(money.state == MoneyState::no_limit);
    CHECK(money_warning(money) ==
          "25\u2009min of work are not counted: the sheet has no hourly rate.");
    writer.add(EntryKind::job, {{"hourly_rate", 12}});
    money = money_of(writer.fold());
    CHECK(money.work == 95);
    CHECK(money.minutes_without_rate == 0);
}

TEST_CASE("money: sums of hundredths stay whole hundredths", "[core][job]") {
    CHECK(rc::check("against whole numbers", [] {
        Writer writer;
        std::int64_t expected = 0;
        for (int n = *rc::gen::inRange(0, 30); n > 0; --n) {
            const auto count = *rc::gen::inRange<std::int64_t>(1, 50);
            const auto each = *rc::gen::inRange<std::int64_t>(0, 100'000);
            writer.add(EntryKind::cost,
                       part(static_cast<int>(count), static_cast<double>(each) / 100));
            expected += count * each;
        }
        const Money money = money_of(writer.fold());
        RC_ASSERT(money.parts == static_cast<double>(expected) / 100);
        RC_ASSERT(money.total == money.parts);
    }));
}

TEST_CASE("money: an amount is printed with its currency and only the hundredths it has",
          "[core][job]") {
    CHECK(print_money(140, "EUR") == "140\u2009EUR");
    CHECK(print_money(118.5, "EUR") == "118.50\u2009EUR");
    CHECK(print_money(0, "") == "0");
    CHECK(print_money(-3.25, "") == "\u22123.25");
}
