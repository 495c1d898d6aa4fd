#include "core/circuit/parameters.h"

#include "support/catch.h"

#include <string>

using namespace railside;

namespace {

bool holds(std::string_view text, std::string_view part) {
    return text.find(part) != std::string_view::npos;
}

} // namespace

TEST_CASE("parameters: they may lean on each other in any order", "[core][circuit]") {
    Parameters parameters;
    parameters.define("Total", "{half*2 + 1k}", "line 1");
    parameters.define("HALF", "'quarter*2'", "line 2");
    parameters.define("quarter", "0.25", "line 3");
    CHECK(*parameters.value("total") == 1001);
    CHECK(*parameters.evaluate("max(total, 3)") == 1001);
    CHECK(**parameters.number("{total+1}") == 1002);
    CHECK(**parameters.number("total") == 1001);
    CHECK(**parameters.number("4.7k") == 4700);
    CHECK_FALSE(parameters.number("nothing")->has_value());
    CHECK(parameters.check().ok());
}

TEST_CASE("parameters: a value fixed from outside wins, the last definition counts",
          "[core][circuit]") {
    Parameters parameters;
    parameters.fix("a", 7);
    parameters.define("a", "1", "line 1");
    parameters.define("b", "1", "line 2");
    parameters.define("B", "a*2", "line 3");
    CHECK(*parameters.value("a") == 7);
    CHECK(*parameters.value("b") == 14);

    Parameters inner(&parameters);
    inner.define("a", "b+1", "line 4");
    CHECK(*inner.value("a") == 15);
    CHECK(inner.holds("b"));
    CHECK_FALSE(parameters.holds("c"));
}

TEST_CASE("parameters: names of nodes and sources are left alone", "[core][circuit]") {
    Parameters parameters;
    parameters.fix("a", -2);
    parameters.fix("e3", 5);
    CHECK(*parameters.substituted("a*v(a,a)+i(a)*a2 - 1e3 + 1.e3*sin (a)") ==
          "(-2)*v(a,a)+i(a)*a2 - 1e3 + 1.e3*sin ((-2))");
    CHECK(*parameters.substituted("v(open") == "v(open");
}

TEST_CASE("parameters: circles, depth and values that are not finite are refused",
          "[core][circuit]") {
    Parameters parameters;
    parameters.define("a", "b", "line 1");
    parameters.define("b", "a+1", "line 2");
    const auto circle = parameters.value("a");
    REQUIRE_FALSE(circle.ok());
    CHECK(circle.error().code == ErrorCode::contradictory);
    CHECK(holds(circle.error().message, "\"a\" leans on itself"));

    Parameters chain;
    for (int i = 0; i < 100; ++i) {
        chain.define("p" + std::to_string(i), "p" + std::to_string(i + 1), "line");
    }
    chain.define("p100", "3", "line");
    CHECK(holds(chain.value("p0").error().message, "too many others"));
    CHECK(*chain.value("p90") == 3);

    CHECK(parameters.evaluate("1/0").error().code == ErrorCode::out_of_range);
    CHECK(parameters.evaluate("v(x)").error().code == ErrorCode::bad_text);
    CHECK(parameters.value("none").error().code == ErrorCode::not_found);
    parameters.define("c", "1+", "line 9");
    CHECK(holds(parameters.value("c").error().message, "line 9: Expression"));
    CHECK_FALSE(parameters.check().ok());
}

TEST_CASE("parameters: a line is parted at its equals signs", "[core][circuit]") {
    using Pairs = std::vector<std::pair<std::string, std::string>>;
    CHECK(assignments("a=1 b = {2*(a + 1)}, c='x=y' d=2 * (b+1)") ==
          Pairs{{"a", "1"}, {"b", "2*(a + 1)"}, {"c", "x=y"}, {"d", "2 * (b+1)"}});
    CHECK(assignments("in out params: g=3") == Pairs{{"", "in out params:"}, {"g", "3"}});
    CHECK(assignments("a=") == Pairs{{"a", ""}});
    CHECK(assignments("=1") == Pairs{{"", "1"}});
    CHECK(assignments("  ").empty());
    CHECK(bare_expression(" { a+b } ") == "a+b");
    CHECK(bare_expression("{a}+{b}") == "{a}+{b}");
    CHECK(bare_expression("'") == "'");
}
