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

TEST_CASE("plot: two fingers bring a part closer, and what lay under them stays there",
          "[app][rooms]") {
    PlotView view = zoomed({}, 0.25f, 2, 0);
    CHECK(near(view.to - view.from, 0.5, 1e-5));
    CHECK(near(view.from + 0.25f * (view.to - view.from), 0.25, 1e-5));
    view = zoomed(view, 0.5f, 1, 0.2f); // moved to the right: what is left comes into view
    CHECK(near_abs(view.from, 0.025, 1e-5));
    view = zoomed(view, 0.5f, 1, 5);
    CHECK(view.from == 0);
    for (int i = 0; i < 20; ++i)
        view = zoomed(view, 0.9f, 3, 0);
    CHECK(near(view.to - view.from, 0.02, 1e-3));
    for (int i = 0; i < 20; ++i)
        view = zoomed(view, 0.1f, 0.3f, 0);
    CHECK(!view.zoomed());
}

TEST_CASE("plot: what is in view sets ticks and height", "[app][rooms]") {
    Outcome outcome;
    outcome.plot = PlotKind::lines;
    outcome.curves.push_back({"a",
                              "as found",
                              CurveRole::as_found,
                              {"Output", Unit::volt, {0, 10, 20}},
                              {"Gain", Unit::ratio, {0, 1, 100}}});
    PlotView view;
    view.to = 0.5f;
    view.cursor = 0.5f;
    const auto plots = make_plots(outcome, std::span(&view, 1));
    REQUIRE(plots.size() == 1);
    CHECK(plots[0].zoomed);
    // 0 to 10 V is in view, where the curve goes from 0 to 1.
    CHECK(plots[0].x_ticks.back().label == "10");
    CHECK(plots[0].y_ticks.back().label == "1.0");
    CHECK(plots[0].at == "5.00 V");
    REQUIRE(plots[0].readings.size() == 1);
    CHECK(plots[0].readings[0].text == "as found 0.5");
}

TEST_CASE("plot: curves on other axes are pictures of their own, and one that comes back is read "
          "twice",
          "[app][rooms]") {
    Outcome outcome;
    outcome.plot = PlotKind::lines;
    const Axis level{"Peak output", Unit::volt, {0, 20}};
    outcome.curves.push_back(
        {"heat", "heat", CurveRole::as_found, level, {"Heat", Unit::watt, {3, 19}}});
    outcome.curves.push_back({"line",
                              "load line",
                              CurveRole::as_found,
                              {"V_CE", Unit::volt, {0, 40, 0}},
                              {"I_C", Unit::ampere, {1, 2, 5}}});
    const PlotView views[] = {{}, {0.5f}};
    const auto plots = make_plots(outcome, views);
    REQUIRE(plots.size() == 2);
    CHECK(plots[0].y_title == "Heat, W");
    CHECK(plots[1].y_title == "I_C, A");
    CHECK(plots[0].readings.empty());
    // At 20 V: 1.5 A on the way out, 3.5 A on the way back.
    REQUIRE(plots[1].readings.size() == 1);
    CHECK(plots[1].readings[0].text == "load line 1.5\u2009A and 3.5\u2009A");
}

TEST_CASE("plot: bars are read at the finger and brought closer as curves are", "[app][rooms]") {
    Outcome outcome;
    outcome.plot = PlotKind::bars;
    outcome.curves.push_back(
        {"window", "allowed", CurveRole::window, {"Gain", Unit::ratio, {40, 100}}, {}});
    outcome.curves.push_back({"read", "read", CurveRole::point, {"Gain", Unit::ratio, {30}}, {}});
    const PlotView whole[] = {{0.5f}};
    const auto plots = make_plots(outcome, whole);
    REQUIRE(plots.size() == 1);
    REQUIRE(plots[0].bars.size() == 2);
    // From 0 to 108: 54 is inside the window, 24 above what was read.
    CHECK(plots[0].at == "54.0");
    REQUIRE(plots[0].readings.size() == 2);
    CHECK(plots[0].readings[0].text == "allowed: here");
    CHECK(plots[0].readings[1].text == "read: 24 lower");
    const PlotView left[] = {{0.1f}};
    CHECK(make_plots(outcome, left)[0].readings[0].text == "allowed: 29.2 higher");

    const PlotView half[] = {{-1, 0, 0.5f}};
    const auto closer = make_plots(outcome, half);
    CHECK(closer[0].zoomed);
    CHECK(near(closer[0].bars[1].low, 2 * plots[0].bars[1].low, 1e-5));
    CHECK(closer[0].bars[0].high > 1); // beyond what is in view
}
