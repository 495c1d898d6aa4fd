#include "core/job/book.h"

#include "support/catch.h"

#include <rapidcheck.h>

#include <random>

using namespace railside;
using Json = nlohmann::json;

namespace {

/// Entries of a bench's book with ids that rise one by one.
class Book {
  public:
    std::string add(EntryKind kind, Json body) {
        Entry entry;
        entry.time_ms = time_++;
        entry.id = make_entry_id(entry.time_ms, {1, 2, 3, 4, 5, 6, 7, 8, 9, 10}, "");
        entry.job = k_bench_book;
        entry.bench = "bench";
        entry.kind = kind;
        entry.body = std::move(body);
        const Result<Done> sound = check_entry(entry);
        INFO((sound.ok() ? "" : sound.error().message));
        REQUIRE(sound.ok());
        entries_.push_back(entry);
        return entry.id;
    }
    std::string strike(std::string_view id, Standing standing = Standing::struck) {
        return add(EntryKind::strike, strike_body(id, standing));
    }
    [[nodiscard]] BenchBook fold() const { return fold_book(entries_); }
    std::vector<Entry>& entries() { return entries_; }

  private:
    std::int64_t time_ = 1'700'000'000'000;
    std::vector<Entry> entries_;
};

Json lamp(const char* name, double power_w) {
    return {{"type", "lamp"}, {"name", name}, {"power_w", power_w}, {"volts_v", 230}};
}

std::string told(const BenchBook& book) {
    Json all;
    for (const Instrument& one : book.instruments)
        all["instruments"].push_back(
            {one.source.entry, static_cast<int>(one.source.standing), instrument_body(one)});
    for (const BookList& one : book.lists)
        all["lists"].push_back({one.source.entry, one.text});
    all["drawer"] = book.drawer;
    all["struck"] = book.struck;
    return all.dump();
}

} // namespace

TEST_CASE("book: an empty one has the starting instruments, each sound and of its kind",
          "[core][job]") {
    const BenchBook book = fold_book({});
    REQUIRE(book.instruments.size() == starting_entries().size());
    CHECK(book.entries.empty());
    for (const Entry& entry : starting_entries())
        CHECK(check_entry(entry).ok());
    int lamps = 0;
    for (const Instrument& one : book.instruments) {
        CHECK(one.source.standing == Standing::valid);
        CHECK(one.type != InstrumentType::other);
        lamps += one.type == InstrumentType::lamp ? 1 : 0;
    }
    CHECK(lamps == 3);
    const Instrument& meter = book.instruments.front();
    CHECK(meter.type == InstrumentType::meter);
    CHECK(meter.accuracy_for(ReadingKind::volts) == MeterAccuracy{0.005, 3});
    CHECK(meter.accuracy_for(ReadingKind::ohms) == MeterAccuracy{0.008, 3});
    CHECK_FALSE(meter.accuracy_for(ReadingKind::other).has_value());
    const Instrument& ohms = book.instruments[1];
    CHECK(ohms.battery_v == 3);
    REQUIRE(ohms.ranges.size() == 4);
    CHECK(ohms.ranges[0] == OhmRange{"×1", 20, 0});
    CHECK(ohms.ranges[3].battery_v == 12);
}

TEST_CASE("book: millivolts and peak volts fall back on what the meter states for volts",
          "[core][job]") {
    Instrument meter;
    meter.accuracy = {{ReadingKind::volts, {0.01, 2}}};
    CHECK(meter.accuracy_for(ReadingKind::millivolts) == MeterAccuracy{0.01, 2});
    CHECK(meter.accuracy_for(ReadingKind::peak_volts) == MeterAccuracy{0.01, 2});
    CHECK_FALSE(meter.accuracy_for(ReadingKind::ohms).has_value());
}

TEST_CASE("book: a starting instrument is changed and struck like a written one", "[core][job]") {
    Book book;
    const std::string id = starting_entries()[3].id;
    Instrument changed = *book.fold().instrument(id);
    changed.name = "Lamp 42 W halogen";
    changed.power_w = 42;
    const std::string change = book.add(EntryKind::instrument, instrument_change(id, changed));
    CHECK(book.fold().instrument(id)->power_w == 42);
    CHECK(book.fold().instruments.size() == starting_entries().size());
    book.strike(id);
    CHECK(book.fold().instrument(id)->source.standing == Standing::struck);
    CHECK(book.fold().instrument(id)->name == "Lamp 42 W halogen"); // readings still name it
    book.strike(id, Standing::valid);
    book.strike(change);
    CHECK(book.fold().instrument(id)->power_w == 40);
    CHECK(book.fold().instrument(id)->source.standing == Standing::valid);
}

TEST_CASE("book: an instrument of one's own has its entry's id, and a change of it keeps that",
          "[core][job]") {
    Book book;
    const std::string id = book.add(EntryKind::instrument, lamp("Heat lamp", 150));
    book.add(
        EntryKind::instrument,
        {{"of", id}, {"type", "lamp"}, {"name", "Heat lamp"}, {"power_w", 175}, {"volts_v", 230}});
    const BenchBook folded = book.fold();
    CHECK(folded.instruments.back().source.entry == id);
    CHECK(folded.instruments.back().power_w == 175);
    // A change of one that is not there changes nothing.
    book.add(EntryKind::instrument, {{"of", folded.entries.back().id},
                                     {"type", "lamp"},
                                     {"name", "x"},
                                     {"power_w", 1},
                                     {"volts_v", 1}});
    CHECK(book.fold().instruments.size() == starting_entries().size() + 1);
}

TEST_CASE("book: the bodies made here lead back to the instruments", "[core][job]") {
    for (const Instrument& one : fold_book({}).instruments) {
        Book book;
        const std::string id = book.add(EntryKind::instrument, instrument_body(one));
        const BenchBook folded = book.fold();
        CHECK(instrument_body(*folded.instrument(id)) == instrument_body(one));
        CHECK(folded.instrument(id)->ranges == one.ranges);
        CHECK(folded.instrument(id)->accuracy == one.accuracy);
    }
}

TEST_CASE("book: the last drawer that is not struck counts", "[core][job]") {
    Book book;
    CHECK(book.fold().drawer.empty());
    book.add(EntryKind::drawer, drawer_body("BD139 x 4\n"));
    const std::string second = book.add(EntryKind::drawer, drawer_body("BD139 x 3\n"));
    CHECK(book.fold().drawer == "BD139 x 3\n");
    book.strike(second);
    CHECK(book.fold().drawer == "BD139 x 4\n");
}

TEST_CASE("book: the last table of minutes that is not struck counts", "[core][job]") {
    Book book;
    CHECK(book.fold().minutes.empty());
    book.add(EntryKind::minutes, minutes_body("pull_output 20\n"));
    const std::string second = book.add(EntryKind::minutes, minutes_body("pull_output 5\n"));
    CHECK(book.fold().minutes == "pull_output 5\n");
    book.strike(second);
    CHECK(book.fold().minutes == "pull_output 20\n");
}

TEST_CASE("book: an edited list stands in for the one of its key until it is emptied",
          "[core][job]") {
    Book book;
    book.add(EntryKind::list_text, list_text_body("intake", "name: Mine\n- Look\n"));
    const std::string second = book.add(
        EntryKind::list_text, list_text_body("intake", "name: Mine too\nkey: x\n- Look\n"));
    BenchBook folded = book.fold();
    REQUIRE(folded.list("intake") != nullptr);
    CHECK(folded.list("intake")->list.name == "Mine too");
    CHECK(folded.list("intake")->list.key == "intake"); // the entry's key, not the text's
    CHECK(folded.lists.size() == 1);
    book.strike(second);
    CHECK(book.fold().list("intake")->list.name == "Mine");
    book.add(EntryKind::list_text, list_text_body("intake", ""));
    CHECK(book.fold().list("intake") == nullptr);
}

TEST_CASE("book: entries of jobs and of kinds that do not belong are passed over", "[core][job]") {
    Book book;
    const std::string before = told(book.fold());
    Entry theirs;
    theirs.id = make_entry_id(1'800'000'000'000, {}, "");
    theirs.job = theirs.id;
    theirs.bench = "bench";
    theirs.kind = EntryKind::drawer;
    theirs.body = {{"text", "BD139"}};
    book.entries().push_back(theirs);
    book.add(EntryKind::position, {{"designator", "Q1"}});
    CHECK(told(book.fold()) == before);
}

TEST_CASE("book: the same entries in any order, and twice over, give the same book",
          "[core][job]") {
    CHECK(rc::check("order does not matter", [] {
        Book book;
        std::vector<std::string> ids;
        for (const Entry& entry : starting_entries())
            ids.push_back(entry.id);
        for (int n = *rc::gen::inRange(1, 20); n > 0; --n) {
            const auto some = [&] { return ids[*rc::gen::inRange<std::size_t>(0, ids.size())]; };
            switch (*rc::gen::inRange(0, 5)) {
            case 0:
                ids.push_back(
                    book.add(EntryKind::instrument, lamp("L", *rc::gen::inRange(1, 200))));
                break;
            case 1: {
                Json change = lamp("M", *rc::gen::inRange(1, 200));
                change["of"] = some();
                ids.push_back(book.add(EntryKind::instrument, change));
                break;
            }
            case 2:
                ids.push_back(
                    book.add(EntryKind::drawer, drawer_body(*rc::gen::element("a1", "b2"))));
                break;
            case 3:
                ids.push_back(book.add(
                    EntryKind::list_text,
                    list_text_body(*rc::gen::element("a", "b"),
                                   *rc::gen::element("", "name: X\n- Y\n", "name: Z\n- Y\n"))));
                break;
            default:
                ids.push_back(
                    book.strike(some(), *rc::gen::element(Standing::struck, Standing::valid)));
            }
        }
        std::vector<Entry> entries = book.entries();
        const std::string once = told(fold_book(entries));
        entries.insert(entries.end(), book.entries().begin(), book.entries().end());
        std::mt19937 order(*rc::gen::arbitrary<std::uint32_t>());
        std::shuffle(entries.begin(), entries.end(), order);
        RC_ASSERT(told(fold_book(entries)) == once);
    }));
}
