// A working's curves made ready to draw: everything in fractions of the plot's frame, ticks with
// their labels.
#pragma once

#include "core/working/working.h"

#include <span>
#include <string>
#include <vector>

namespace railside {

struct PlotTick {
    float at = 0; // 0 left/bottom .. 1 right/top
    std::string label;
};

struct PlotLine {
    CurveRole role = CurveRole::as_found;
    std::string label;
    std::vector<float> x; // 0..1
    std::vector<float> y;
};

/// A row of a bar plot: windows and points on one horizontal line.
struct PlotBar {
    std::string label;
    CurveRole role = CurveRole::window;
    float low = 0; // 0..1; for a point or a limit both are the same
    float high = 0;
    std::string value; // "55 to 160", and at the cursor how far it is: "55 to 160 · 12 higher"
};

/// How one plot is looked at.
struct PlotView {
    float cursor = -1; // fraction of what is in view; below 0: none
    float from = 0;    // what is in view of the whole width, fractions
    float to = 1;

    [[nodiscard]] bool zoomed() const { return from > 0 || to < 1; }
};
/// A working has at most so many pictures; further ones are looked at whole.
inline constexpr std::size_t k_most_plots = 4;

/// Zooms by `by` (above 1: closer) about `at` and moves by `pan`, both fractions of what is in
/// view; never beyond the whole, never closer than a fiftieth of it.
[[nodiscard]] PlotView zoomed(PlotView view, float at, float by, float pan);

/// What a curve says at the cursor.
struct PlotReading {
    CurveRole role = CurveRole::as_found;
    std::string text; // "as found 0.962"
};

struct PlotShown {
    PlotKind kind = PlotKind::none;
    bool zoomed = false;
    std::string x_title; // "Output, V"
    std::string y_title;
    std::vector<PlotTick> x_ticks;
    std::vector<PlotTick> y_ticks;
    std::vector<PlotLine> lines;
    std::vector<PlotBar> bars;
    float zero = -1;     // where x is 0, when inside: left of it is the − half, right the + half
    float cursor = -1;   // fraction of the width
    std::string readout; // what the curves say at the cursor, in one line
    std::string at;      // where it stands: "4.2 V"
    std::vector<PlotReading> readings;
};

/// The first picture of an outcome: the curves that share the first one's axes. `cursor` below 0
/// for none.
[[nodiscard]] PlotShown make_plot(const Outcome& outcome, float cursor);
/// All of them, one for each pair of axes, in the order of the curves. `views` that are missing
/// look at the whole.
[[nodiscard]] std::vector<PlotShown> make_plots(const Outcome& outcome,
                                                std::span<const PlotView> views);

/// Round steps (1, 2, 5 times a power of ten) that cut low..high into `about` parts; low < high.
[[nodiscard]] std::vector<double> round_ticks(double low, double high, int about);

} // namespace railside
