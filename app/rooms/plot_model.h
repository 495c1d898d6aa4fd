// A working's curves made ready to draw: everything in fractions of the plot's frame, ticks with
// their labels.
#pragma once

#include "core/working/working.h"

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
    std::string value; // "55 to 160"
};

struct PlotShown {
    PlotKind kind = PlotKind::none;
    std::string x_title; // "Output, V"
    std::string y_title;
    std::vector<PlotTick> x_ticks;
    std::vector<PlotTick> y_ticks;
    std::vector<PlotLine> lines;
    std::vector<PlotBar> bars;
    float zero = -1;     // where x is 0, when inside: left of it is the − half, right the + half
    float cursor = -1;   // fraction of the width
    std::string readout; // what the curves say at the cursor
};

/// `cursor` below 0 for none.
[[nodiscard]] PlotShown make_plot(const Outcome& outcome, float cursor);

/// Round steps (1, 2, 5 times a power of ten) that cut low..high into `about` parts; low < high.
[[nodiscard]] std::vector<double> round_ticks(double low, double high, int about);

} // namespace railside
