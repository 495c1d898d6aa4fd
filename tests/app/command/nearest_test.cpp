#include "app/command/nearest.h"

#include "support/catch.h"

#include <array>
#include <tuple>

using namespace railside;

TEST_CASE("nearest: letters apart count what was put in, taken out, changed or swapped",
          "[app][command]") {
    using Row = std::tuple<const char*, const char*, int>;
    const auto row = GENERATE(table<const char*, const char*, int>({
        Row{"", "", 0}, Row{"", "abc", 3}, Row{"idle", "idle", 0},
        Row{"idel", "idle", 1},      // neighbours swapped
        Row{"iddle", "idle", 1},     // one too many
        Row{"ide", "idle", 1},       // one missing
        Row{"idol", "idle", 2},      // two changed
        Row{"kitten", "sitting", 3}, // the textbook pair (Levenshtein distance 3)
        Row{"ca", "abc", 3},         // optimal string alignment, not the unrestricted distance (2)
    }));
    CHECK(letters_apart(std::get<0>(row), std::get<1>(row)) == std::get<2>(row));
    CHECK(letters_apart(std::get<1>(row), std::get<0>(row)) == std::get<2>(row));
}

TEST_CASE("nearest: a slip finds its name and nonsense finds none", "[app][command]") {
    const std::array<std::string, 4> names{"--reading", "--rail", "--emitter-resistor", "--json"};
    CHECK(nearest_name("--raeding", names) == "--reading");
    CHECK(nearest_name("--emiter-resistr", names) == "--emitter-resistor");
    CHECK(nearest_name("--emit", names) == "--emitter-resistor"); // the beginning is enough
    CHECK(nearest_name("zzzzzz", names).empty());
    CHECK(nearest_name("", names).empty());
    CHECK(nearest_name(std::string(100'000, 'x'), names).empty());
}
