#include "app/rooms/plot_model.h"

#include "support/catch.h"

using namespace railside;

TEST_CASE("plot: ticks are round and lie inside", "[app][rooms]") {
    CHECK(round_ticks(0, 10, 5) == std::vector<double>{0, 2, 4, 6, 8, 10});
    CHECK(round_ticks(-15, 15, 6) == std::vector<double>{-15, -10, -5, 0, 5, 10, 15});
    CHECK(round_ticks(1, 1, 5).empty());
    const auto ticks = round_ticks(0.951, 0.983, 4);
    REQUIRE(ticks.size() >= 3);
    CHECK(near(ticks.front(), 0.96, 1e-9));
}

TEST_CASE("plot: curves lie in the frame and the cursor reads them", "[app][rooms]") {
    Outcome outcome;
    outcome.plot = PlotKind::lines;
    outcome.curves.push_back({"a",
                              "as found",
                              CurveRole::as_found,
                              {"Output", Unit::volt, {-2, 0, 2}},
                              {"Gain", Unit::ratio, {0.9, 0.95, 0.9}}});
    const PlotShown shown = make_plot(outcome, 0.5f);
    REQUIRE(shown.lines.size() == 1);
    for (const float y : shown.lines[0].y)
        CHECK((y > 0 && y < 1));
    CHECK(near(shown.zero, 0.5, 1e-6));
    CHECK(shown.x_title == "Output, V");
    CHECK(shown.readout.find("0.95") != std::string::npos);
    CHECK(make_plot(outcome, -1).readout.empty());
    outcome.curves.clear();
    CHECK(make_plot(outcome, -1).kind == PlotKind::none);
}

TEST_CASE("plot: curves on other axes than the first are left out", "[app][rooms]") {
    Outcome outcome;
    outcome.plot = PlotKind::lines;
    const Axis level{"Peak output", Unit::volt, {0, 20}};
    outcome.curves.push_back(
        {"heat", "heat", CurveRole::as_found, level, {"Heat", Unit::watt, {3, 19}}});
    outcome.curves.push_back({"junction",
                              "junction",
                              CurveRole::as_found,
                              level,
                              {"Temperature", Unit::celsius, {40, 90}}});
    outcome.curves.push_back(
        {"allowed", "allowed", CurveRole::limit, level, {"Heat", Unit::watt, {90, 60}}});
    const PlotShown shown = make_plot(outcome, 0.5f);
    REQUIRE(shown.lines.size() == 2);
    CHECK(shown.lines[1].label == "allowed");
    CHECK(shown.y_title == "Heat, W");
    CHECK(shown.readout.find("junction") == std::string::npos);
    CHECK(shown.readout.find("75") != std::string::npos); // halfway from 90 to 60
}
