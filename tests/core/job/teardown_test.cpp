#include "core/job/teardown.h"

#include "writer.h"

#include <rapidcheck.h>

#include <algorithm>
#include <map>

using namespace railside;
using Json = nlohmann::json;

namespace {

std::string take_off(Writer& writer, const char* what, int count, const char* where = "") {
    return writer.add(EntryKind::taken_off, {{"what", what}, {"count", count}, {"where", where}});
}
std::string put_back(Writer& writer, const std::string& item, int count) {
    return writer.add(EntryKind::put_back, {{"item", item}, {"count", count}});
}

} // namespace

TEST_CASE("teardown: what came off last goes back first, with counts", "[core][job]") {
    Writer writer;
    const std::string lid = take_off(writer, "lid screw", 6, "lid");
    const std::string washer = take_off(writer, "mica washer", 4, "Q214");
    const std::string bracket = take_off(writer, "bracket", 1);
    std::vector<ReassemblyLine> lines = reassembly_list(writer.fold());
    REQUIRE(lines.size() == 3);
    CHECK(lines[0].item == bracket);
    CHECK(lines[1].item == washer);
    CHECK(lines[1].where == "Q214");
    CHECK(lines[2].item == lid);
    CHECK(pieces_still_off(lines) == 11);
    CHECK(still_off_sentence(lines) ==
          "11 pieces are not back yet: 1 bracket, 4 mica washer (Q214), 6 lid screw (lid).");
    put_back(writer, washer, 3);
    put_back(writer, lid, 6);
    put_back(writer, bracket, 1);
    lines = reassembly_list(writer.fold());
    CHECK(lines[1].off == 4);
    CHECK(lines[1].back == 3);
    CHECK(lines[1].still == 1);
    CHECK(still_off_sentence(lines) == "1 piece is not back yet: 1 mica washer (Q214).");
    put_back(writer, washer, 1);
    CHECK(still_off_sentence(reassembly_list(writer.fold())).empty());
}

TEST_CASE("teardown: more back than came off is shown, not hidden in the sum", "[core][job]") {
    Writer writer;
    const std::string screw = take_off(writer, "screw", 2);
    take_off(writer, "washer", 1);
    put_back(writer, screw, 3);
    const std::vector<ReassemblyLine> lines = reassembly_list(writer.fold());
    CHECK(lines[1].over == 1);
    CHECK(lines[1].still == 0);
    CHECK(pieces_still_off(lines) == 1);
}

TEST_CASE("teardown: struck items and struck put-backs do not count", "[core][job]") {
    Writer writer;
    const std::string screw = take_off(writer, "screw", 2);
    const std::string washer = take_off(writer, "washer", 1);
    const std::string back = put_back(writer, screw, 2);
    writer.strike(back);
    writer.strike(washer);
    const std::vector<ReassemblyLine> lines = reassembly_list(writer.fold());
    REQUIRE(lines.size() == 1);
    CHECK(lines[0].still == 2);
}

TEST_CASE("teardown: the sentence names three kinds and counts the rest", "[core][job]") {
    Writer writer;
    for (const char* what : {"a", "b", "c", "d", "e"})
        take_off(writer, what, 2);
    CHECK(still_off_sentence(reassembly_list(writer.fold())) ==
          "10 pieces are not back yet: 2 e, 2 d, 2 c and 4 more.");
}

TEST_CASE("teardown: counts agree with a slow count of the entries", "[core][job]") {
    CHECK(rc::check("off less back", [] {
        Writer writer;
        std::map<std::string, int> still;
        for (int n = *rc::gen::inRange(1, 6); n > 0; --n) {
            const int count = *rc::gen::inRange(1, 9);
            still[take_off(writer, "x", count)] = count;
        }
        int expected = 0;
        for (auto& one : still) {
            for (int n = *rc::gen::inRange(0, 4); n > 0; --n) {
                const int count = *rc::gen::inRange(1, 5);
                put_back(writer, one.first, count);
                one.second -= count;
            }
            expected += std::max(one.second, 0);
        }
        RC_ASSERT(pieces_still_off(reassembly_list(writer.fold())) == expected);
    }));
}
