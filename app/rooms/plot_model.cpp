#include "app/rooms/plot_model.h"

#include "core/quantity/value_code.h"
#include "core/words/words.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>

namespace railside {

namespace {

struct Range {
    double low = std::numeric_limits<double>::infinity();
    double high = -std::numeric_limits<double>::infinity();
    void take(const std::vector<double>& values) {
        for (const double v : values) {
            low = std::min(low, v);
            high = std::max(high, v);
        }
    }
    [[nodiscard]] float part(double v) const {
        return static_cast<float>((v - low) / (high - low));
    }
};

/// One prefix for a whole axis, so that its ticks are plain numbers.
struct AxisScale {
    double factor = 1;
    std::string unit; // "mV"
};

AxisScale axis_scale(Unit unit, const Range& range) {
    const UnitInfo& info = unit_info(unit);
    AxisScale scale{1, std::string(info.symbol)};
    if (unit == Unit::percent)
        return {100, "%"};
    const double largest = std::max(std::fabs(range.low), std::fabs(range.high));
    for (const Prefix& prefix : info.prefixes) {
        const double value = std::pow(10.0, prefix.exponent);
        if (largest >= value * 0.9999) {
            scale.factor = 1 / value;
            scale.unit = std::string(prefix.letter) + std::string(info.symbol);
        }
    }
    return scale;
}

std::string tick_text(double value, double step) {
    const int decimals = std::max(0, static_cast<int>(std::ceil(-std::log10(step) - 1e-9)));
    std::string text =
        fmt::format("{:.{}f}", std::fabs(value) < step * 1e-6 ? 0.0 : value, decimals);
    if (text.front() == '-')
        text.replace(0, 1, "−");
    return text;
}

std::vector<PlotTick> make_ticks(const Range& range, const AxisScale& scale, int about) {
    std::vector<PlotTick> ticks;
    const std::vector<double> at =
        round_ticks(range.low * scale.factor, range.high * scale.factor, about);
    const double step = at.size() > 1 ? at[1] - at[0] : 1;
    ticks.reserve(at.size());
    for (const double v : at)
        ticks.push_back({range.part(v / scale.factor), tick_text(v, step)});
    return ticks;
}

std::string axis_title(const Axis& axis, const AxisScale& scale) {
    const std::string_view label = words(axis.label);
    return scale.unit.empty() ? std::string(label) : worded("{}, {}", label, scale.unit);
}

/// y of a curve at x, where its points cross it: two values at most, for a curve that comes back.
int values_at(const Curve& curve, double x, double (&found)[2]) {
    const auto& xs = curve.x.values;
    int n = 0;
    for (std::size_t i = 1; i < std::min(xs.size(), curve.y.values.size()) && n < 2; ++i) {
        const double a = xs[i - 1];
        const double b = xs[i];
        // A point that two pieces share belongs to the first of them.
        const bool inside = (a <= x && x <= b) || (b <= x && x <= a);
        if (!inside || (i > 1 && x == a))
            continue;
        const double t = a == b ? 0 : (x - a) / (b - a);
        found[n++] = curve.y.values[i - 1] + t * (curve.y.values[i] - curve.y.values[i - 1]);
    }
    return n;
}

bool same_axes(const Curve& curve, const Curve& first) {
    return curve.x.unit == first.x.unit && curve.y.unit == first.y.unit &&
           curve.x.label == first.x.label && curve.y.label == first.y.label;
}

using Curves = std::vector<const Curve*>;

/// The part of the height that the curves use between two places of the width.
Range height_between(const Curves& curves, double low, double high) {
    Range yr;
    for (const Curve* curve : curves) {
        const std::size_t n = std::min(curve->x.values.size(), curve->y.values.size());
        for (std::size_t i = 0; i < n; ++i)
            if (curve->x.values[i] >= low && curve->x.values[i] <= high)
                yr.take({curve->y.values[i]});
        for (const double edge : {low, high}) {
            double found[2];
            for (int k = values_at(*curve, edge, found); k > 0; --k)
                yr.take({found[k - 1]});
        }
    }
    return yr;
}

/// Puts the cursor there and says where that is, in the axis's own unit.
double place_cursor(PlotShown& shown, const Range& xr, const AxisScale& xs, float cursor) {
    shown.cursor = cursor;
    const double x = xr.low + cursor * (xr.high - xr.low);
    shown.at = tick_text(x * xs.factor, std::max(1e-3, (xr.high - xr.low) * xs.factor / 200));
    if (!xs.unit.empty())
        shown.at += " " + xs.unit;
    shown.readout = shown.at;
    return x;
}

void read_cursor(PlotShown& shown, const Curves& curves, const Range& xr, const AxisScale& xs,
                 float cursor) {
    const double x = place_cursor(shown, xr, xs, cursor);
    for (const Curve* curve : curves) {
        double found[2];
        const int n = values_at(*curve, x, found);
        if (n == 0)
            continue;
        PlotReading reading{curve->role, curve->label};
        reading.text += " " + print_short(found[0], curve->y.unit, 4);
        if (n == 2 && std::fabs(found[1] - found[0]) > 1e-3 * std::fabs(found[0]))
            reading.text =
                worded("{} and {}", reading.text, print_short(found[1], curve->y.unit, 4));
        shown.readout += " · " + reading.text;
        shown.readings.push_back(std::move(reading));
    }
}

PlotShown make_lines(const Curves& curves, const PlotView& view) {
    PlotShown shown;
    Range xr;
    for (const Curve* curve : curves)
        xr.take(curve->x.values);
    if (!(xr.low < xr.high))
        return shown;
    const double width = xr.high - xr.low;
    xr = {xr.low + view.from * width, xr.low + view.to * width};
    Range yr = height_between(curves, xr.low, xr.high);
    if (!(yr.low <= yr.high))
        return shown;
    shown.kind = PlotKind::lines;
    shown.zoomed = view.zoomed();
    const double margin = std::max((yr.high - yr.low) * 0.08, std::fabs(yr.high) * 1e-3 + 1e-12);
    yr.low -= margin;
    yr.high += margin;
    const Curve& first = *curves.front();
    const AxisScale xs = axis_scale(first.x.unit, xr);
    const AxisScale ys = axis_scale(first.y.unit, yr);
    shown.x_title = axis_title(first.x, xs);
    shown.y_title = axis_title(first.y, ys);
    shown.x_ticks = make_ticks(xr, xs, 6);
    shown.y_ticks = make_ticks(yr, ys, 4);
    if (xr.low < 0 && xr.high > 0)
        shown.zero = xr.part(0);
    for (const Curve* curve : curves) {
        PlotLine line{curve->role, curve->label, {}, {}};
        const std::size_t n = std::min(curve->x.values.size(), curve->y.values.size());
        line.x.reserve(n);
        line.y.reserve(n);
        for (std::size_t i = 0; i < n; ++i) {
            line.x.push_back(xr.part(curve->x.values[i]));
            line.y.push_back(yr.part(curve->y.values[i]));
        }
        shown.lines.push_back(std::move(line));
    }
    if (view.cursor >= 0 && view.cursor <= 1)
        read_cursor(shown, curves, xr, xs, view.cursor);
    return shown;
}

/// How far a bar is from there.
std::string way_to(double low, double high, double x, Unit unit) {
    if (x < low)
        return worded("{} higher", print_short(low - x, unit, 3));
    if (x > high)
        return worded("{} lower", print_short(x - high, unit, 3));
    return "here";
}

PlotShown make_bars(const Outcome& outcome, const PlotView& view) {
    PlotShown shown;
    Range xr;
    for (const Curve& curve : outcome.curves)
        xr.take(curve.x.values);
    if (!(xr.low <= xr.high))
        return shown;
    shown.kind = PlotKind::bars;
    xr.low = std::min(0.0, xr.low);
    xr.high = xr.high + std::max((xr.high - xr.low) * 0.08, 1e-9);
    const double width = xr.high - xr.low;
    xr = {xr.low + view.from * width, xr.low + view.to * width};
    shown.zoomed = view.zoomed();
    const Unit unit = outcome.curves.front().x.unit;
    const AxisScale xs = axis_scale(unit, xr);
    shown.x_title = axis_title(outcome.curves.front().x, xs);
    shown.x_ticks = make_ticks(xr, xs, 6);
    const bool read = view.cursor >= 0 && view.cursor <= 1;
    const double at = read ? place_cursor(shown, xr, xs, view.cursor) : 0;
    for (const Curve& curve : outcome.curves) {
        if (curve.x.values.empty())
            continue;
        const auto [low, high] = std::minmax_element(curve.x.values.begin(), curve.x.values.end());
        PlotBar bar{curve.label, curve.role, xr.part(*low), xr.part(*high), {}};
        bar.value = *low == *high ? print_short(*low, unit, 3) : print_range(*low, *high, unit, 3);
        if (read) {
            const std::string way = way_to(*low, *high, at, unit);
            bar.value += " · " + way;
            shown.readings.push_back({curve.role, worded("{}: {}", curve.label, way)});
            shown.readout += " · " + shown.readings.back().text;
        }
        shown.bars.push_back(std::move(bar));
    }
    return shown;
}

} // namespace

std::vector<double> round_ticks(double low, double high, int about) {
    std::vector<double> ticks;
    const double raw = (high - low) / std::max(1, about);
    if (!(raw > 0) || !std::isfinite(raw))
        return ticks;
    const double decade = std::pow(10.0, std::floor(std::log10(raw)));
    const double lead = raw / decade;
    const double step = decade * (lead <= 1 ? 1 : lead <= 2 ? 2 : lead <= 5 ? 5 : 10);
    for (double v = std::ceil(low / step - 1e-9); v <= high / step + 1e-9; v += 1)
        ticks.push_back(v * step);
    return ticks;
}

PlotView zoomed(PlotView view, float at, float by, float pan) {
    constexpr float k_closest = 0.02f;
    const float width = view.to - view.from;
    const float fresh = std::clamp(width / std::max(by, 0.01f), k_closest, 1.0f);
    // What lay under the middle of the fingers stays there.
    const float middle = view.from + at * width;
    view.from = std::clamp(middle - at * fresh - pan * fresh, 0.0f, 1.0f - fresh);
    view.to = view.from + fresh;
    if (view.to > 0.999f && view.from < 0.001f)
        view.from = 0, view.to = 1;
    return view;
}

std::vector<PlotShown> make_plots(const Outcome& outcome, std::span<const PlotView> views) {
    std::vector<PlotShown> plots;
    if (outcome.curves.empty() || outcome.plot == PlotKind::none)
        return plots;
    if (outcome.plot == PlotKind::bars) {
        if (PlotShown bars = make_bars(outcome, views.empty() ? PlotView{} : views[0]);
            bars.kind != PlotKind::none)
            plots.push_back(std::move(bars));
        return plots;
    }
    std::vector<Curves> groups;
    for (const Curve& curve : outcome.curves) {
        const auto found = std::find_if(groups.begin(), groups.end(), [&](const Curves& group) {
            return same_axes(curve, *group.front());
        });
        if (found != groups.end())
            found->push_back(&curve);
        else
            groups.push_back({&curve});
    }
    for (std::size_t i = 0; i < groups.size(); ++i)
        if (PlotShown shown = make_lines(groups[i], i < views.size() ? views[i] : PlotView{});
            shown.kind != PlotKind::none)
            plots.push_back(std::move(shown));
    return plots;
}

PlotShown make_plot(const Outcome& outcome, float cursor) {
    const PlotView view{cursor};
    std::vector<PlotShown> plots = make_plots(outcome, std::span(&view, 1));
    return plots.empty() ? PlotShown{} : std::move(plots.front());
}

} // namespace railside
