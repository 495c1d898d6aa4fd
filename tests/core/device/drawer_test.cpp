#include "core/device/drawer.h"

#include "support/catch.h"

#include <rapidcheck.h>

#include <string>

using namespace railside;

namespace {

Drawer read(const std::string& text) {
    auto drawer = read_drawer(text);
    INFO((drawer.ok() ? "" : drawer.error().message));
    REQUIRE(drawer.ok());
    return std::move(drawer).value();
}

const Part& part(std::string_view type) { return *find_part(builtin_parts(), type)->part; }

} // namespace

TEST_CASE("drawer: the worked example reads as it is meant", "[core][device]") {
    const Drawer drawer = read("# box by the window\nMJL3281A x 4; shelf 3\r\n\n"
                               "BC547B \u00d7 30; tin\n2SC5200-O\n  TIP 35C X 2\n");
    REQUIRE(drawer.size() == 4);
    CHECK(drawer[0] == DrawerLine{"MJL3281A", 4, "shelf 3"});
    CHECK(drawer[1] == DrawerLine{"BC547B", 30, "tin"});
    CHECK(drawer[2] == DrawerLine{"2SC5200-O", 1, ""});
    CHECK(drawer[3] == DrawerLine{"TIP 35C", 2, ""});
}

TEST_CASE("drawer: an x inside a type is part of it", "[core][device]") {
    const Drawer drawer = read("BDX53C x 3\nBDX53\n");
    CHECK(drawer[0] == DrawerLine{"BDX53C", 3, ""});
    CHECK(drawer[1] == DrawerLine{"BDX53", 1, ""});
}

TEST_CASE("drawer: a line that does not fit is refused by its number", "[core][device]") {
    struct Row {
        const char* line;
        const char* said;
    };
    const Row rows[] = {
        {"x 4", "is no type number"},
        {"; shelf", "is no type number"},
        {"resistors x 4", "is no type number"},
        {"MJ15003 x", "the count \"\" of MJ15003"},
        {"MJ15003 x four", "the count \"four\""},
        {"MJ15003 x -1", "the count \"-1\""},
        {"MJ15003 x 1.5", "the count \"1.5\""},
        {"MJ15003 x 100000", "0 to 99999"},
        {"MJ15003; \xFF", "the place"},
        {"MJ15003; the third shelf from the left under the window", "at most 40 letters"},
        {"MJ15003 \x01", "is no type number"},
    };
    for (const Row& row : rows) {
        const auto drawer = read_drawer(std::string("MJ15003 x 1\n") + row.line);
        INFO(row.line);
        REQUIRE_FALSE(drawer.ok());
        INFO(drawer.error().message);
        CHECK(drawer.error().message.starts_with("Drawer, line 2: "));
        CHECK(drawer.error().message.find(row.said) != std::string::npos);
    }
    std::string many;
    for (int i = 0; i < 2001; ++i) {
        many += "2N" + std::to_string(i) + "\n";
    }
    CHECK_FALSE(read_drawer(many).ok());
}

TEST_CASE("drawer: the same type in the same place is one line", "[core][device]") {
    const Drawer drawer = read("2SC5200 x 2; box\nC5200 x 3; box\n2SC5200; tin\n");
    REQUIRE(drawer.size() == 2);
    CHECK(drawer[0] == DrawerLine{"2SC5200", 5, "box"});
    CHECK(drawer[1].place == "tin");
}

TEST_CASE("drawer: two drawers become one", "[core][device]") {
    const Drawer merged = merge_drawers(read("MJ15003 x 2; a\nBD139 x 1\n"),
                                        read("mj15003 x 3; a\nMJ15003 x 1; b\nBD140 x 4\n"));
    CHECK(print_drawer(merged) == "MJ15003 x 5; a\nBD139 x 1\nMJ15003 x 1; b\nBD140 x 4\n");
    CHECK(print_drawer(merge_drawers(read("2N1 x 99999"), read("2N1 x 5"))) == "2N1 x 99999\n");
}

TEST_CASE("drawer: printed and read again it is the same", "[core][device]") {
    CHECK(rc::check([] {
        Drawer drawer;
        const int n = *rc::gen::inRange(0, 6);
        for (int i = 0; i < n; ++i) {
            DrawerLine line;
            line.type = *rc::gen::element<std::string>("MJL", "2SC", "BDX", "TIP ") +
                        std::to_string(*rc::gen::inRange(100, 9999));
            line.count = *rc::gen::inRange(0, 100000);
            line.place = *rc::gen::element<std::string>("", "shelf 3", "boîte; 4", "x 5");
            drawer = merge_drawers(drawer, {line});
        }
        const auto back = read_drawer(print_drawer(drawer));
        RC_ASSERT(back.ok());
        RC_ASSERT(*back == drawer);
    }));
    CHECK(rc::check([] {
        const auto any = read_drawer(*rc::gen::string<std::string>());
        if (!any) {
            RC_ASSERT(any.error().message.ends_with('.'));
        }
    }));
}

TEST_CASE("drawer: stock of a part counts its groups and not its look-alikes", "[core][device]") {
    const Drawer drawer = read("2SA1943-O x 4; shelf 3\nA1943 x 2\n2SD1047P x 9\nBC547B x 30\n"
                               "2SC5200 x 0\n");
    const Stock big = stock_of(drawer, builtin_parts(), part("2SA1943"), std::nullopt);
    CHECK(big.count == 6);
    CHECK(big.where == "4 in shelf 3, 2");
    CHECK(stock_of(drawer, builtin_parts(), part("2SC5200"), std::nullopt).count == 0);
    // 2SD1047P is another part than the 2SD1047 (Sanyo: 120 W against 100 W).
    CHECK(stock_of(drawer, builtin_parts(), part("2SD1047"), std::nullopt).count == 0);
    CHECK(stock_of(drawer, builtin_parts(), part("BC547"), GainGroup{"B", 200, 450}).count == 30);
    CHECK(stock_of(drawer, builtin_parts(), part("BC547"), GainGroup{"C", 420, 800}).count == 0);
}
