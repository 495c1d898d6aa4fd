#include "app/rooms/builtin_lists.h"

#include "assets.h"
#include "support/catch.h"

#include <algorithm>
#include <set>
#include <string>

using namespace railside;

namespace {

std::size_t letters(std::string_view text) {
    return std::size_t(
        std::count_if(text.begin(), text.end(), [](char c) { return (c & 0xC0) != 0x80; }));
}

} // namespace

TEST_CASE("built-in lists: every file of assets/lists parses and is offered once",
          "[app][rooms][lists]") {
    std::set<std::string> keys;
    for (const StepList& list : builtin_lists()) {
        keys.insert(list.key);
    }
    CHECK(keys.size() == builtin_lists().size());
    std::size_t files = 0;
    for (const Asset& asset : assets()) {
        if (!asset.path.starts_with("lists/")) {
            continue;
        }
        ++files;
        INFO(asset.path);
        const Result<StepList> list = parse_list(asset.bytes, asset.path);
        INFO((list.ok() ? std::string() : list.error().message));
        REQUIRE(list.ok());
        CHECK(find_builtin_list(list->key) != nullptr);
    }
    CHECK(files == 8);
    CHECK(builtin_lists().size() == files);
}

TEST_CASE("built-in lists: lines are short enough for a small screen", "[app][rooms][lists]") {
    // a step 60 letters, what hangs on it 160: two and four lines at 2.8 mm on the 5-inch screen
    for (const StepList& list : builtin_lists()) {
        INFO(list.key);
        CHECK(letters(list.name) <= 40);
        CHECK(letters(list.intro) <= 160);
        CHECK_FALSE(list.intro.empty());
        for (const ListStep& step : list.steps) {
            INFO(step.text);
            CHECK(letters(step.text) <= 60);
            CHECK(letters(step.hint) <= 160);
            CHECK(letters(step.caution) <= 160);
            CHECK(step.text.back() != '.');
            CHECK((step.hint.empty() || step.hint.back() == '.' || step.hint.back() == '?'));
            CHECK((step.caution.empty() || step.caution.back() == '.'));
        }
    }
}

TEST_CASE("built-in lists: what deals with mains, charge, ceramics, heat or a scope's ground "
          "carries its caution",
          "[app][rooms][lists]") {
    const auto cautions = [](std::string_view key) {
        std::string all;
        const StepList* list = find_builtin_list(key);
        REQUIRE(list != nullptr);
        for (const ListStep& step : list->steps) {
            all += step.caution + "\n";
        }
        return all;
    };
    const auto warns = [&](std::string_view key, std::string_view word) {
        INFO(key << ": " << word);
        CHECK(cautions(key).find(word) != std::string::npos);
    };
    for (const std::string_view key : {"earlier_work", "before_power", "reassembly"}) {
        warns(key, "licensed"); // local law comes first wherever the mains side is worked on
        warns(key, "beryllia");
    }
    for (const std::string_view key : {"earlier_work", "before_power", "first_power"}) {
        warns(key, "Never short them with a screwdriver");
    }
    for (const std::string_view key : {"first_power", "idle_current"}) {
        warns(key, "Mains parts");
    }
    warns("first_power", "The lamp limits current; it does not isolate. Mains parts stay live.");
    warns("before_power", "No speaker until the offset is measured");
    warns("full_power", "mains earth");
    warns("full_power", "Sinks reach 70 °C");
    warns("intake", "not plugged in");
    warns("handing_back", "500 V");
}

TEST_CASE(
    "built-in lists: wherever reservoirs are measured the window is 5 V either way and it bars",
    "[app][rooms][lists]") {
    int found = 0;
    for (const StepList& list : builtin_lists()) {
        for (const ListStep& step : list.steps) {
            if (step.key == "reservoirs") {
                ++found;
                INFO(list.key);
                CHECK(step.kind == StepKind::reading);
                CHECK(step.unit == Unit::volt);
                CHECK(step.low == -5);
                CHECK(step.high == 5);
                CHECK(step.bars);
                CHECK_FALSE(step.caution.empty());
            }
        }
    }
    CHECK(found == 4);
}

TEST_CASE("first power: eleven steps, the lamp decides and nothing passes a bright one",
          "[app][rooms][lists]") {
    const StepList* list = find_builtin_list("first_power");
    REQUIRE(list != nullptr);
    REQUIRE(list->steps.size() == 11);
    const auto glow = std::find_if(list->steps.begin(), list->steps.end(),
                                   [](const ListStep& step) { return step.key == "glow"; });
    REQUIRE(glow != list->steps.end());
    CHECK(glow->kind == StepKind::choice);
    REQUIRE(glow->choices.size() == 3);
    CHECK_FALSE(glow->choices[0].stops);
    CHECK_FALSE(glow->choices[1].stops);
    CHECK(glow->choices[2].word == "bright");
    CHECK(glow->choices[2].stops);
    CHECK(glow->bars);
    // washers, lamp and trim come before the lamp is lit, offset and idle after
    CHECK(glow - list->steps.begin() == 4);
    for (const ListStep& step : list->steps) {
        if (step.key.starts_with("offset_")) {
            CHECK(step.low == Approx(-0.05));
            CHECK(step.high == Approx(0.05));
        }
    }
}

TEST_CASE("assets: a path that is not there finds nothing", "[app][rooms][lists]") {
    CHECK(find_asset("lists/none.txt") == nullptr);
    CHECK(find_asset("demo/job.json") != nullptr);
    CHECK(find_builtin_list("none") == nullptr);
}
