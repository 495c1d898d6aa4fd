#include "core/job/entry.h"

#include "core/job/job.h"
#include "core/job/utf8.h"
#include "support/catch.h"

#include <rapidcheck.h>

#include <limits>
#include <set>

using namespace railside;
using Json = nlohmann::json;

namespace {

constexpr std::array<std::uint8_t, 10> k_no_chance = {};
constexpr std::array<std::uint8_t, 10> k_all_chance = {255, 255, 255, 255, 255,
                                                       255, 255, 255, 255, 255};
constexpr std::int64_t k_last_time = (std::int64_t{1} << 48) - 1;
const std::string k_hash(64, 'a');

std::string id(int n) {
    return make_entry_id(1'700'000'000'000 + n, {1, 2, 3, 4, 5, 6, 7, 8, 9, 10}, "");
}

Entry entry(EntryKind kind, Json body) {
    Entry made;
    made.id = id(1);
    made.job = id(0);
    made.time_ms = 1'700'000'000'001;
    made.bench = "bench";
    made.kind = kind;
    made.body = std::move(body);
    return made;
}

/// The refusal's message; empty when it is accepted.
std::string refused(EntryKind kind, const Json& body) {
    const Result<Done> result = check_entry(entry(kind, body));
    if (result.ok())
        return "";
    CHECK(result.error().code == ErrorCode::bad_text);
    return result.error().message;
}

bool says(const std::string& message, const std::string& part) {
    return message.find(part) != std::string::npos;
}

const Json k_reading = {
    {"what", "idle volts"},
    {"amount", {{"value", 0.012}, {"low", 0.0119}, {"high", 0.0121}, {"unit", "volt"}}}};
const Json k_photo = {{"hash", k_hash}, {"type", "jpeg"}, {"width", 40},
                      {"height", 30},   {"bytes", 1000},  {"stage", "fitted"}};
const Json k_list = {{"key", "first_power"},
                     {"name", "First power"},
                     {"steps",
                      {{{"key", "a"}, {"text", "Look"}, {"kind", "tick"}},
                       {{"key", "b"},
                        {"text", "Glow"},
                        {"kind", "choice"},
                        {"choices", {{{"word", "dark"}}, {{"word", "bright"}, {"stops", true}}}}},
                       {{"key", "c"},
                        {"text", "Offset"},
                        {"kind", "reading"},
                        {"unit", "volt"},
                        {"low", -0.05},
                        {"high", 0.05}}}}};

Json with(Json body, const char* name, Json value) {
    body[name] = std::move(value);
    return body;
}
Json without(Json body, const char* name) {
    body.erase(name);
    return body;
}

} // namespace

TEST_CASE("entry: an id is 26 letters of Crockford's base 32, ten of time and sixteen of chance",
          "[core][job]") {
    // Time: 1 700 000 000 000 ms is 1HF7YAT00 in base 32 of the alphabet 0-9 A-Z without I, L, O,
    // U, worked out by repeated division by hand: 1700000000000 = 1·32^8 + 17·32^7 + 15·32^6 +
    // 7·32^5 + 30·32^4 + 10·32^3 + 26·32^2 + 0·32 + 0.
    CHECK(make_entry_id(1'700'000'000'000, k_no_chance, "") == "01HF7YAT000000000000000000");
    CHECK(make_entry_id(0, k_all_chance, "") == "0000000000ZZZZZZZZZZZZZZZZ");
    CHECK(make_entry_id(k_last_time, k_all_chance, "") == "7ZZZZZZZZZZZZZZZZZZZZZZZZZ");
    // 0x01 in the last byte of chance is the last letter.
    CHECK(make_entry_id(0, {0, 0, 0, 0, 0, 0, 0, 0, 0, 1}, "").back() == '1');
    // 0xF8 in the first byte: its upper five bits are the first letter of chance.
    CHECK(make_entry_id(0, {0xF8, 0, 0, 0, 0, 0, 0, 0, 0, 0}, "") == "0000000000Z000000000000000");
}

TEST_CASE("entry: only 26 letters of the alphabet that begin with 0 to 7 are an id",
          "[core][job]") {
    CHECK(is_entry_id("01HF7YAT000000000000000000"));
    CHECK(is_entry_id("7ZZZZZZZZZZZZZZZZZZZZZZZZZ"));
    for (const char* text :
         {"", "01HF7YAT00000000000000000", "01HF7YAT0000000000000000000",
          "8ZZZZZZZZZZZZZZZZZZZZZZZZZ", "01hf7yat000000000000000000", "01HF7YAT00000000000000000I",
          "01HF7YAT00000000000000000L", "01HF7YAT00000000000000000O", "01HF7YAT00000000000000000U",
          "01HF7YAT0000000000000000 0"})
        CHECK_FALSE(is_entry_id(text));
}

TEST_CASE("entry: an id always sorts after the previous one, whatever the clock and chance do",
          "[core][job]") {
    CHECK(rc::check("sorts after", [] {
        std::string previous;
        for (int i = 0; i < 20; ++i) {
            const auto time = *rc::gen::inRange<std::int64_t>(-5, 50);
            const auto chance = *rc::gen::arbitrary<std::array<std::uint8_t, 10>>();
            const std::string next = make_entry_id(time, chance, previous);
            RC_ASSERT(is_entry_id(next));
            RC_ASSERT(next > previous);
            previous = next;
        }
    }));
    SECTION("also at the end of time") {
        std::string previous =
            make_entry_id(k_last_time, {255, 255, 255, 255, 255, 255, 255, 255, 255, 253}, "");
        for (int i = 0; i < 2; ++i) {
            const std::string next = make_entry_id(0, k_no_chance, previous);
            CHECK(is_entry_id(next));
            CHECK(next > previous);
            previous = next;
        }
        CHECK(previous == "7ZZZZZZZZZZZZZZZZZZZZZZZZZ");
    }
}

TEST_CASE("entry: two benches that know the same last id make different next ones", "[core][job]") {
    const std::string last = make_entry_id(1'000'000, k_all_chance, "");
    CHECK(make_entry_id(500, {1}, last) != make_entry_id(500, {2}, last));
}

TEST_CASE("entry: every kind has a key, and the key leads back to it", "[core][job]") {
    std::set<std::string_view> keys;
    for (const EntryKind kind :
         {EntryKind::job,     EntryKind::position,   EntryKind::reading,   EntryKind::working,
          EntryKind::photo,   EntryKind::list,       EntryKind::tick,      EntryKind::note,
          EntryKind::strike,  EntryKind::cost,       EntryKind::taken_off, EntryKind::put_back,
          EntryKind::mark,    EntryKind::pair,       EntryKind::recording, EntryKind::wanting,
          EntryKind::closing, EntryKind::instrument, EntryKind::drawer,    EntryKind::list_text,
          EntryKind::circuit, EntryKind::finding,    EntryKind::minutes}) {
        keys.insert(entry_kind_key(kind));
        CHECK(entry_kind_from_key(entry_kind_key(kind)) == kind);
    }
    CHECK(keys.size() == 23);
    CHECK(keys.size() == static_cast<std::size_t>(EntryKind::unknown));
    CHECK_FALSE(entry_kind_from_key("unknown").has_value());
    CHECK_FALSE(entry_kind_from_key("").has_value());
}

TEST_CASE("entry: an entry of a kind not known here is accepted as it is", "[core][job]") {
    Entry later = entry(EntryKind::unknown, {{"torque", 3}});
    later.kind_text = "torque";
    CHECK(check_entry(later).ok());
    CHECK(written_kind(later) == "torque");
    later.kind_text = "";
    CHECK_FALSE(check_entry(later).ok());
}

TEST_CASE("entry: members not known here are accepted", "[core][job]") {
    CHECK(refused(EntryKind::note, {{"text", "hello"}, {"colour", {{"deep", {1, 2, 3}}}}}) == "");
    CHECK(refused(EntryKind::reading, with(k_reading, "probe", "x10")) == "");
    CHECK(refused(EntryKind::photo, with(k_photo, "marks", Json::array({1}))) == "");
}

TEST_CASE("entry: ids, time and bench must be well formed", "[core][job]") {
    Entry good = entry(EntryKind::note, {{"text", "x"}});
    REQUIRE(check_entry(good).ok());
    const auto field_of = [](const Entry& bad) {
        const Result<Done> result = check_form(bad);
        return result.ok() ? std::string() : result.error().field;
    };
    Entry bad = good;
    bad.id = "short";
    CHECK(field_of(bad) == "id");
    bad = good;
    bad.job = "";
    CHECK(field_of(bad) == "job");
    bad = good;
    bad.time_ms = -1;
    CHECK(field_of(bad) == "time");
    bad.time_ms = k_last_time + 1;
    CHECK(field_of(bad) == "time");
    bad = good;
    bad.bench = "";
    CHECK(field_of(bad) == "bench");
    bad.bench = "\xFF";
    CHECK(field_of(bad) == "bench");
}

TEST_CASE("entry: the body is an object of UTF-8 text and finite numbers", "[core][job]") {
    CHECK(says(refused(EntryKind::note, Json::array()), "must be an object"));
    CHECK(says(refused(EntryKind::note, nullptr), "must be an object"));
    CHECK(says(refused(EntryKind::note, {{"text", "\xC3("}}), "not UTF-8"));
    CHECK(says(refused(EntryKind::note, {{"text", "x"}, {"\xFF", 1}}), "not UTF-8"));
    CHECK(says(
        refused(EntryKind::note,
                {{"text", "x"}, {"more", {{"deep", std::numeric_limits<double>::quiet_NaN()}}}}),
        "not finite"));
    CHECK(says(refused(EntryKind::note,
                       {{"text", "x"}, {"more", {1.0, std::numeric_limits<double>::infinity()}}}),
               "not finite"));
    CHECK(says(refused(EntryKind::note, {{"text", "x"}, {"raw", Json::binary({1, 2})}}),
               "JSON does not have"));
}

TEST_CASE("entry: the body is at most 1 MB and 32 levels deep", "[core][job]") {
    Json deep = 1;
    for (int i = 0; i < 31; ++i)
        deep = Json::array({deep});
    // The body itself is the first level.
    CHECK(refused(EntryKind::note, {{"text", "x"}, {"deep", deep[0]}}) == "");
    CHECK(says(refused(EntryKind::note, {{"text", "x"}, {"deep", deep}}), "32 levels"));
    CHECK(refused(EntryKind::note, {{"text", "x"}, {"large", std::string(999'900, 'a')}}) == "");
    CHECK(says(refused(EntryKind::note, {{"text", "x"}, {"large", std::string(1'000'000, 'a')}}),
               "at most 1000000"));
}

TEST_CASE("entry: a sheet names only what it changes, texts, money and what is known of the unit",
          "[core][job]") {
    CHECK(refused(EntryKind::job, Json::object()) == "");
    CHECK(refused(EntryKind::job, {{"maker", "Orrinvale"},
                                   {"agreed_limit", 140},
                                   {"spent", 12.5},
                                   {"known", {{"rail", "40"}}}}) == "");
    CHECK(says(refused(EntryKind::job, {{"maker", 5}}), "\"maker\" to be a text; it is 5"));
    CHECK(says(refused(EntryKind::job, {{"agreed_limit", -1}}), "agreed_limit"));
    CHECK(says(refused(EntryKind::job, {{"spent", "much"}}), "a number from 0"));
    CHECK(says(refused(EntryKind::job, {{"known", {{"rail", 40}}}}), "known"));
    CHECK(says(refused(EntryKind::job, {{"known", "x"}}), "an object"));
    CHECK(says(refused(EntryKind::job, {{"complaint", std::string(20'001, 'a')}}),
               "at most 20000 bytes"));
}

TEST_CASE("entry: a position needs its designator", "[core][job]") {
    CHECK(refused(EntryKind::position,
                  {{"designator", "Q214"}, {"channel", "left"}, {"state", "suspect"}}) == "");
    CHECK(says(refused(EntryKind::position, Json::object()),
               "\"designator\" to be a text; it is absent"));
    CHECK(says(refused(EntryKind::position, {{"designator", ""}}), "not empty"));
    CHECK(says(refused(EntryKind::position, {{"designator", "Q1"}, {"channel", "middle"}}),
               "\"middle\""));
}

TEST_CASE("entry: a reading needs what it is of and an amount whose ends hold its value",
          "[core][job]") {
    CHECK(refused(EntryKind::reading, k_reading) == "");
    CHECK(says(refused(EntryKind::reading, without(k_reading, "what")), "\"what\""));
    CHECK(says(refused(EntryKind::reading, without(k_reading, "amount")), "\"amount\""));
    Json bad = k_reading;
    bad["amount"]["unit"] = "furlong";
    CHECK(says(refused(EntryKind::reading, bad), "\"furlong\""));
    bad = k_reading;
    bad["amount"]["low"] = 0.0125;
    CHECK(says(refused(EntryKind::reading, bad), "between"));
    bad = k_reading;
    bad["amount"].erase("high");
    CHECK(says(refused(EntryKind::reading, bad), "\"high\""));
    CHECK(says(refused(EntryKind::reading, with(k_reading, "position", "Q214")), "id of an entry"));
}

TEST_CASE("entry: a kept working needs its name and its record", "[core][job]") {
    CHECK(refused(EntryKind::working, {{"working", "idle"}, {"record", Json::object()}}) == "");
    CHECK(refused(EntryKind::working,
                  {{"working", "idle"}, {"record", Json::object()}, {"replaces", id(1)}}) == "");
    CHECK(says(refused(EntryKind::working, {{"working", "idle"}}), "\"record\""));
    CHECK(says(refused(EntryKind::working, {{"working", "idle"}, {"record", 3}}), "an object"));
    CHECK(says(refused(EntryKind::working, {{"record", Json::object()}}), "\"working\""));
}

TEST_CASE("entry: a photo needs hash, type, sides, size and stage", "[core][job]") {
    CHECK(refused(EntryKind::photo, k_photo) == "");
    for (const char* name : {"hash", "type", "width", "height", "bytes", "stage"}) {
        INFO(name);
        CHECK(says(refused(EntryKind::photo, without(k_photo, name)), name));
    }
    CHECK(says(refused(EntryKind::photo, with(k_photo, "hash", std::string(64, 'A'))), "SHA-256"));
    CHECK(says(refused(EntryKind::photo, with(k_photo, "hash", "../../etc/passwd")), "SHA-256"));
    CHECK(says(refused(EntryKind::photo, with(k_photo, "type", "gif")), "\"gif\""));
    CHECK(says(refused(EntryKind::photo, with(k_photo, "width", 0)), "1 to 16384"));
    CHECK(says(refused(EntryKind::photo, with(k_photo, "width", 12.5)), "a whole number"));
    CHECK(says(refused(EntryKind::photo, with(k_photo, "bytes", 64'000'001)), "64000000"));
    CHECK(says(refused(EntryKind::photo,
                       with(k_photo, "bytes", std::numeric_limits<std::uint64_t>::max())),
               "bytes"));
    CHECK(says(refused(EntryKind::photo, with(k_photo, "stage", "lost")), "\"lost\""));
}

TEST_CASE("entry: a list needs steps, each with its own key, text and kind", "[core][job]") {
    CHECK(refused(EntryKind::list, k_list) == "");
    CHECK(
        says(refused(EntryKind::list, with(k_list, "steps", Json::array())), "at least one step"));
    CHECK(says(refused(EntryKind::list, with(k_list, "steps", {1})), "an array of objects"));
    Json bad = k_list;
    bad["steps"][1]["key"] = "a";
    CHECK(says(refused(EntryKind::list, bad), "different in every step"));
    bad = k_list;
    bad["steps"][0]["kind"] = "dance";
    CHECK(says(refused(EntryKind::list, bad), "\"dance\""));
    bad = k_list;
    bad["steps"][1].erase("choices");
    CHECK(says(refused(EntryKind::list, bad), "\"choices\""));
    bad = k_list;
    bad["steps"][1]["choices"][0] = "dark";
    CHECK(says(refused(EntryKind::list, bad), "\"choices\""));
    bad = k_list;
    bad["steps"][2]["low"] = 0.06;
    CHECK(says(refused(EntryKind::list, bad), "at most \"high\""));
    bad = k_list;
    bad["steps"][2]["bars"] = "yes";
    CHECK(says(refused(EntryKind::list, bad), "true or false"));
}

TEST_CASE("entry: a tick names list, step and state, and a reason when it skips", "[core][job]") {
    const auto tick = [](const char* state) {
        return Json{{"list", id(1)}, {"step", "a"}, {"state", state}};
    };
    CHECK(refused(EntryKind::tick, tick("done")) == "");
    CHECK(refused(EntryKind::tick, tick("open")) == "");
    CHECK(says(refused(EntryKind::tick, tick("skipped")), "needs a reason"));
    CHECK(refused(EntryKind::tick, with(tick("skipped"), "answer", "no lamp here")) == "");
    CHECK(says(refused(EntryKind::tick, tick("half")), "\"half\""));
    CHECK(says(refused(EntryKind::tick, with(tick("done"), "list", "first_power")),
               "id of an entry"));
    CHECK(says(refused(EntryKind::tick, with(tick("skipped"), "answer", 3)),
               "\"answer\" to be a text"));
}

TEST_CASE("entry: a note needs its text, a strike its entry and standing", "[core][job]") {
    CHECK(says(refused(EntryKind::note, Json::object()), "\"text\""));
    CHECK(says(refused(EntryKind::note, {{"text", ""}}), "not empty"));
    CHECK(refused(EntryKind::strike, strike_body(id(1), Standing::struck)) == "");
    CHECK(refused(EntryKind::strike, strike_body(id(1), Standing::valid)) == "");
    CHECK(says(refused(EntryKind::strike, {{"entry", id(1)}}), "\"standing\""));
    CHECK(says(refused(EntryKind::strike, {{"entry", id(1)}, {"standing", "gone"}}), "\"gone\""));
}

TEST_CASE("entry: a sheet's year, accessories and condition are texts, its rate is money",
          "[core][job]") {
    CHECK(refused(EntryKind::job, {{"year", "about 1981"},
                                   {"accessories", "lead, remote"},
                                   {"condition", "dented"},
                                   {"hourly_rate", 48.5}}) == "");
    for (const char* name : {"year", "accessories", "condition"})
        CHECK(says(refused(EntryKind::job, {{name, 1981}}), "to be a text"));
    CHECK(says(refused(EntryKind::job, {{"hourly_rate", -1}}), "hourly_rate"));
}

TEST_CASE("entry: a position's half is plus or minus, its sister an entry", "[core][job]") {
    const Json good = {{"designator", "Q1"}};
    CHECK(refused(EntryKind::position, with(good, "half", "plus")) == "");
    CHECK(refused(EntryKind::position, with(good, "half", "")) == "");
    CHECK(says(refused(EntryKind::position, with(good, "half", "upper")), "\"upper\""));
    CHECK(refused(EntryKind::position, with(good, "sister", id(3))) == "");
    CHECK(refused(EntryKind::position, with(good, "sister", "")) == "");
    CHECK(says(refused(EntryKind::position, with(good, "sister", "Q2")), "id of an entry"));
}

TEST_CASE("entry: a reading's conditions are words and minutes, its kind may be a later one",
          "[core][job]") {
    CHECK(refused(EntryKind::reading, with(k_reading, "kind", "volts")) == "");
    CHECK(refused(EntryKind::reading, with(k_reading, "kind", "torque")) == "");
    CHECK(says(refused(EntryKind::reading, with(k_reading, "kind", 3)), "a text"));
    const auto when = [](Json inside) { return with(k_reading, "when", std::move(inside)); };
    CHECK(refused(EntryKind::reading, when({{"power", "lamp"},
                                            {"lamp", id(4)},
                                            {"warmth", "warm"},
                                            {"minutes", 12.5},
                                            {"weather", "fair"}})) == "");
    CHECK(says(refused(EntryKind::reading, when("warm")), "an object"));
    CHECK(says(refused(EntryKind::reading, when({{"power", "half"}})), "\"half\""));
    CHECK(says(refused(EntryKind::reading, when({{"warmth", "tepid"}})), "\"tepid\""));
    CHECK(says(refused(EntryKind::reading, when({{"minutes", -1}})), "0 to"));
    CHECK(says(refused(EntryKind::reading, when({{"lamp", "60 W"}})), "id of an entry"));
    CHECK(refused(EntryKind::reading, with(k_reading, "instrument_id", id(4))) == "");
    CHECK(says(refused(EntryKind::reading, with(k_reading, "instrument_id", "meter")),
               "id of an entry"));
}

TEST_CASE("entry: a kept working names the readings it used", "[core][job]") {
    const Json kept = {{"working", "idle"}, {"record", Json::object()}};
    CHECK(refused(EntryKind::working, with(kept, "uses", Json::array())) == "");
    CHECK(refused(EntryKind::working, with(kept, "uses", {id(1), id(2)})) == "");
    CHECK(says(refused(EntryKind::working, with(kept, "uses", {"reading"})), "ids of entries"));
    CHECK(says(refused(EntryKind::working, with(kept, "uses", id(1))), "an array"));
    CHECK(says(refused(EntryKind::working,
                       with(kept, "uses", Json(std::vector<std::string>(1001, id(1))))),
               "at most 1000"));
}

TEST_CASE("entry: a part has count and price, work has minutes", "[core][job]") {
    const Json part = {{"type", "part"}, {"what", "BD139"}, {"count", 2}, {"each", 0.85}};
    const Json work = {{"type", "work"}, {"what", "looking"}, {"minutes", 30}};
    CHECK(refused(EntryKind::cost, part) == "");
    CHECK(refused(EntryKind::cost, work) == "");
    CHECK(refused(EntryKind::cost, with(work, "rate", 48)) == "");
    for (const char* name : {"type", "what", "count", "each"})
        CHECK(says(refused(EntryKind::cost, without(part, name)), name));
    CHECK(says(refused(EntryKind::cost, without(work, "minutes")), "minutes"));
    CHECK(says(refused(EntryKind::cost, with(part, "count", 0)), "1 to 99999"));
    CHECK(says(refused(EntryKind::cost, with(part, "each", -1)), "each"));
    CHECK(says(refused(EntryKind::cost, with(work, "minutes", -5)), "minutes"));
    CHECK(says(refused(EntryKind::cost, with(part, "type", "luck")), "\"luck\""));
}

TEST_CASE("entry: a taken-off item says what, a put-back which item", "[core][job]") {
    CHECK(refused(EntryKind::taken_off, {{"what", "screw"}}) == "");
    CHECK(refused(EntryKind::taken_off, {{"what", "screw"},
                                         {"where", "sink"},
                                         {"count", 4},
                                         {"photo", id(2)},
                                         {"position", id(3)},
                                         {"channel", "left"}}) == "");
    CHECK(says(refused(EntryKind::taken_off, {{"where", "sink"}}), "\"what\""));
    CHECK(says(refused(EntryKind::taken_off, {{"what", "screw"}, {"count", 0}}), "1 to 99999"));
    CHECK(says(refused(EntryKind::taken_off, {{"what", "screw"}, {"photo", "x.jpg"}}),
               "id of an entry"));
    CHECK(refused(EntryKind::put_back, {{"item", id(2)}}) == "");
    CHECK(says(refused(EntryKind::put_back, {{"count", 2}}), "\"item\""));
    CHECK(says(refused(EntryKind::put_back, {{"item", id(2)}, {"count", 1.5}}), "whole number"));
}

TEST_CASE("entry: a mark's points lie on the photo and are as many as its shape needs",
          "[core][job]") {
    const auto mark = [](const char* shape, Json points) {
        return Json{
            {"photo", id(2)}, {"shape", shape}, {"points", std::move(points)}, {"text", "x"}};
    };
    const Json two = {{0, 0}, {1, 1}};
    const Json one = Json::array({Json::array({0.5, 0.5})});
    CHECK(refused(EntryKind::mark, mark("ring", two)) == "");
    CHECK(refused(EntryKind::mark, mark("arrow", two)) == "");
    CHECK(refused(EntryKind::mark, mark("line", {{0, 0}, {0.5, 0.2}, {1, 1}})) == "");
    CHECK(refused(EntryKind::mark, mark("note", one)) == "");
    CHECK(says(refused(EntryKind::mark, mark("ring", one)), "2 for that shape"));
    CHECK(says(refused(EntryKind::mark, mark("line", one)), "2 to 500"));
    CHECK(says(refused(EntryKind::mark, mark("note", two)), "1 for that shape"));
    CHECK(says(refused(EntryKind::mark, mark("ring", {{0, 0}, {1.01, 1}})), "from 0 to 1"));
    CHECK(says(refused(EntryKind::mark, mark("ring", {{0, 0}, {1}})), "from 0 to 1"));
    CHECK(says(refused(EntryKind::mark, mark("ring", {0, 1})), "from 0 to 1"));
    CHECK(says(refused(EntryKind::mark, mark("cloud", two)), "\"cloud\""));
    CHECK(says(refused(EntryKind::mark, without(mark("note", one), "text")), "needs its text"));
    CHECK(says(refused(EntryKind::mark, without(mark("ring", two), "photo")), "\"photo\""));
}

TEST_CASE("entry: a pair names two different photos", "[core][job]") {
    CHECK(refused(EntryKind::pair, {{"before", id(1)}, {"after", id(2)}}) == "");
    CHECK(says(refused(EntryKind::pair, {{"before", id(1)}, {"after", id(1)}}), "two different"));
    CHECK(says(refused(EntryKind::pair, {{"before", id(1)}}), "\"after\""));
}

TEST_CASE("entry: a recording needs hash, name and size", "[core][job]") {
    const Json good = {{"hash", k_hash}, {"name", "left.csv"}, {"bytes", 10}};
    CHECK(refused(EntryKind::recording, good) == "");
    for (const char* name : {"hash", "name", "bytes"})
        CHECK(says(refused(EntryKind::recording, without(good, name)), name));
    CHECK(says(refused(EntryKind::recording, with(good, "hash", "../../x")), "SHA-256"));
    CHECK(says(refused(EntryKind::recording, with(good, "bytes", 64'000'001)), "64000000"));
    CHECK(says(refused(EntryKind::recording, with(good, "bytes", 0)), "1 to"));
}

TEST_CASE("entry: an instrument has what its type is used for", "[core][job]") {
    const Json meter = {{"type", "meter"}, {"name", "M"}, {"accuracy", {{"volts", "±0.5 % + 3"}}}};
    CHECK(refused(EntryKind::instrument, meter) == "");
    CHECK(refused(EntryKind::instrument, with(meter, "type", "abacus")) == "");
    CHECK(says(refused(EntryKind::instrument, with(meter, "accuracy", {{"volts", "good"}})),
               "accuracy"));
    CHECK(says(refused(EntryKind::instrument, without(meter, "name")), "\"name\""));
    const Json ohms = {{"type", "ohmmeter"},
                       {"name", "O"},
                       {"battery_v", 3},
                       {"ranges", {{{"name", "x1"}, {"mid_scale_ohm", 20}}}}};
    CHECK(refused(EntryKind::instrument, ohms) == "");
    CHECK(says(refused(EntryKind::instrument, without(ohms, "battery_v")), "battery_v"));
    CHECK(says(refused(EntryKind::instrument, with(ohms, "ranges", Json::array())),
               "at least one range"));
    CHECK(says(refused(EntryKind::instrument, with(ohms, "ranges", {{{"name", "x1"}}})),
               "mid_scale_ohm"));
    CHECK(says(refused(EntryKind::instrument, with(ohms, "ranges", {5})), "array of objects"));
    CHECK(says(refused(EntryKind::instrument, {{"type", "gain_tester"}, {"name", "G"}}), "test_a"));
    CHECK(says(refused(EntryKind::instrument, {{"type", "lamp"}, {"name", "L"}, {"power_w", 60}}),
               "volts_v"));
}

TEST_CASE("entry: an edited list must read as one, an empty one brings the program's back",
          "[core][job]") {
    const Json list = {{"key", "intake"}, {"text", "name: Mine\n- Look\n"}};
    CHECK(refused(EntryKind::list_text, list) == "");
    CHECK(refused(EntryKind::list_text, without(list, "text")) == "");
    CHECK(says(refused(EntryKind::list_text, without(list, "key")), "\"key\""));
    CHECK(says(refused(EntryKind::list_text, with(list, "text", "name: Mine\n")), "no step"));
    CHECK(refused(EntryKind::drawer, {{"text", "BD139 x 4; shelf 3\n"}}) == "");
    CHECK(refused(EntryKind::drawer, {{"text", std::string(200'000, 'a')}}) == "");
    CHECK(says(refused(EntryKind::drawer, {{"text", std::string(200'001, 'a')}}), "200000"));
    CHECK(refused(EntryKind::minutes, {{"text", "pull_output 20\n"}}) == "");
    CHECK(says(refused(EntryKind::minutes, {{"text", std::string(200'001, 'a')}}), "200000"));
}

TEST_CASE("entry: each kind belongs in jobs, in the bench's book, or in both", "[core][job]") {
    CHECK(is_entry_id(k_bench_book));
    for (const EntryKind kind :
         {EntryKind::instrument, EntryKind::drawer, EntryKind::minutes, EntryKind::list_text}) {
        CHECK(belongs_in_book(kind));
        CHECK_FALSE(belongs_in_job(kind));
    }
    CHECK(belongs_in_book(EntryKind::strike));
    CHECK(belongs_in_job(EntryKind::strike));
    CHECK_FALSE(belongs_in_book(EntryKind::job));
    CHECK(belongs_in_job(EntryKind::unknown));
}

TEST_CASE("entry: check_entry takes any JSON without falling over", "[core][job]") {
    // A small random JSON generator whose objects use the members the grammar knows, so that wrong
    // types meet every check.
    static const char* const names[] = {
        "text",    "designator", "channel",   "amount", "value",   "low",   "high",
        "unit",    "hash",       "type",      "width",  "steps",   "key",   "kind",
        "choices", "word",       "stops",     "list",   "step",    "state", "answer",
        "entry",   "standing",   "known",     "record", "working", "what",  "name",
        "photo",   "shape",      "points",    "before", "after",   "bytes", "count",
        "each",    "minutes",    "item",      "when",   "power",   "uses",  "half",
        "ranges",  "accuracy",   "battery_v", "of",     "test_a",  "rate",  "mid_scale_ohm"};
    struct Make {
        static Json any(int depth) {
            switch (*rc::gen::inRange(0, depth > 0 ? 8 : 6)) {
            case 0:
                return nullptr;
            case 1:
                return *rc::gen::arbitrary<bool>();
            case 2:
                return *rc::gen::arbitrary<std::int64_t>();
            case 3:
                return *rc::gen::arbitrary<double>();
            case 4:
                return *rc::gen::elementOf(std::vector<std::string>{"", "left", "reading", "choice",
                                                                    "done", "volt", "Q1"});
            case 5:
                return *rc::gen::arbitrary<std::string>();
            case 6: {
                Json array = Json::array();
                for (int n = *rc::gen::inRange(0, 3); n > 0; --n)
                    array.push_back(any(depth - 1));
                return array;
            }
            default: {
                Json object = Json::object();
                for (int n = *rc::gen::inRange(0, 5); n > 0; --n)
                    object[names[*rc::gen::inRange<std::size_t>(0, std::size(names))]] =
                        any(depth - 1);
                return object;
            }
            }
        }
    };
    CHECK(rc::check("no exception, and what passes can be folded", [] {
        std::vector<Entry> entries = {entry(EntryKind::job, Json::object())};
        entries[0].id = entries[0].job;
        for (int kind = 0; kind <= static_cast<int>(EntryKind::unknown); ++kind) {
            Entry one = entry(static_cast<EntryKind>(kind), Make::any(4));
            one.id = id(kind + 1);
            static_cast<void>(check_entry(one));
            entries.push_back(one);
        }
        RC_ASSERT(fold_job(entries[0].job, entries).ok());
    }));
}

TEST_CASE("entry: a wanting needs its title and one of the ranks", "[core][job]") {
    const Json wanting = {{"title", "Reservoirs"}, {"rank", "reliability"}};
    CHECK(refused(EntryKind::wanting, wanting) == "");
    CHECK(refused(EntryKind::wanting, with(with(wanting, "parts", 34.5), "minutes", 40)) == "");
    for (const char* state : {"open", "done", "declined"})
        CHECK(refused(EntryKind::wanting, with(wanting, "state", state)) == "");
    for (const char* name : {"title", "rank"})
        CHECK(says(refused(EntryKind::wanting, without(wanting, name)), name));
    CHECK(says(refused(EntryKind::wanting, with(wanting, "title", "")), "not empty"));
    CHECK(says(refused(EntryKind::wanting, with(wanting, "rank", "looks")), "\"looks\""));
    CHECK(says(refused(EntryKind::wanting, with(wanting, "state", "later")), "\"declined\""));
    CHECK(says(refused(EntryKind::wanting, with(wanting, "parts", -1)), "0 to"));
    CHECK(says(refused(EntryKind::wanting, with(wanting, "minutes", 2e6)), "minutes"));
    CHECK(says(refused(EntryKind::wanting, with(wanting, "of", "x")), "of"));
    CHECK(says(refused(EntryKind::wanting, with(wanting, "position", "x")), "position"));
}

TEST_CASE("entry: a circuit holds its name, its netlist and what each position is there for",
          "[core][job]") {
    const Json circuit = {{"name", "n"}, {"netlist", "t\n.end"}, {"positions", "{}"}};
    CHECK(refused(EntryKind::circuit, circuit) == "");
    CHECK(refused(EntryKind::circuit, with(circuit, "names", {{"left/q9", "Q214"}})) == "");
    for (const char* name : {"name", "netlist", "positions"}) {
        CHECK(says(refused(EntryKind::circuit, without(circuit, name)), name));
        CHECK(says(refused(EntryKind::circuit, with(circuit, name, "")), name));
    }
    CHECK(says(refused(EntryKind::circuit, with(circuit, "netlist", std::string(200'001, 'a'))),
               "200000 bytes"));
    CHECK(says(refused(EntryKind::circuit, with(circuit, "names", {{"left/q9", 3}})), "names"));
}

TEST_CASE("entry: a finding says what it is about and one of the answers", "[core][job]") {
    const Json finding = {{"about", "complaint/hot"}, {"answer", "yes"}};
    CHECK(refused(EntryKind::finding, finding) == "");
    CHECK(refused(EntryKind::finding, with(with(finding, "channel", "left"), "half", "plus")) ==
          "");
    for (const char* about : {"", "complaint/", "part", "hot", "other/x"})
        CHECK(says(refused(EntryKind::finding, with(finding, "about", about)), "about"));
    for (const char* answer : {"", "perhaps"})
        CHECK(says(refused(EntryKind::finding, with(finding, "answer", answer)), "unknown"));
    CHECK(says(refused(EntryKind::finding, with(finding, "half", "upper")), "half"));
    CHECK(says(refused(EntryKind::finding, with(finding, "channel", "both")), "channel"));
    CHECK(says(refused(EntryKind::finding, without(finding, "about")), "about"));
    CHECK(says(refused(EntryKind::finding, without(finding, "answer")), "answer"));
}

TEST_CASE("entry: a closing holds texts, ids of photos and reasons", "[core][job]") {
    CHECK(refused(EntryKind::closing, Json::object()) == "");
    CHECK(refused(EntryKind::closing, {{"words", "w"},
                                       {"photos", {"01HF7YAT000000000000000000"}},
                                       {"overrides", {{"unit", "no plate on it"}}}}) == "");
    for (const char* name : {"words", "unit", "symptom", "cause", "cure"})
        CHECK(says(refused(EntryKind::closing, {{name, 3}}), name));
    CHECK(says(refused(EntryKind::closing, {{"photos", {"x"}}}), "ids of entries"));
    CHECK(says(refused(EntryKind::closing, {{"overrides", {{"unit", 3}}}}), "overrides"));
    CHECK(says(refused(EntryKind::closing, {{"overrides", "all"}}), "an object"));
}

TEST_CASE("utf8: well-formed text is told from everything else", "[core][job]") {
    // RFC 3629, section 4: the bounds of every row of its table, and just outside them.
    for (const char* good :
         {"", "plain", "\xC2\x80", "\xDF\xBF", "\xE0\xA0\x80", "\xED\x9F\xBF", "\xEE\x80\x80",
          "\xEF\xBF\xBF", "\xF0\x90\x80\x80", "\xF4\x8F\xBF\xBF"})
        CHECK(is_utf8(good));
    for (const char* bad :
         {"\x80", "\xBF", "\xC0\x80", "\xC1\xBF", "\xC2", "\xC2\x41", "\xE0\x9F\xBF",
          "\xED\xA0\x80", "\xED\xBF\xBF", "\xE2\x82", "\xF0\x8F\xBF\xBF", "\xF4\x90\x80\x80",
          "\xF5\x80\x80\x80", "\xFF", "\xF0\x90\x80"})
        CHECK_FALSE(is_utf8(bad));
}
