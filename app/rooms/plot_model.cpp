#include "app/rooms/plot_model.h"

#include "core/quantity/value_code.h"

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
    return scale.unit.empty() ? axis.label : fmt::format("{}, {}", axis.label, scale.unit);
}

/// y of a curve at x, by its points (x rising); nothing outside.
bool value_at(const Curve& curve, double x, double& y) {
    const auto& xs = curve.x.values;
    if (xs.size() < 2 || xs.size() != curve.y.values.size() || x < xs.front() || x > xs.back())
        return false;
    const auto it = std::lower_bound(xs.begin(), xs.end(), x);
    const auto i = static_cast<std::size_t>(std::max<std::ptrdiff_t>(1, it - xs.begin()));
    const double t = xs[i] == xs[i - 1] ? 0 : (x - xs[i - 1]) / (xs[i] - xs[i - 1]);
    y = curve.y.values[i - 1] + t * (curve.y.values[i] - curve.y.values[i - 1]);
    return true;
}

/// Curves on other axes than the first are not of this picture.
bool same_axes(const Curve& curve, const Curve& first) {
    return curve.x.unit == first.x.unit && curve.y.unit == first.y.unit &&
           curve.x.label == first.x.label && curve.y.label == first.y.label;
}

void make_lines(PlotShown& shown, const Outcome& outcome, float cursor) {
    Range xr;
    Range yr;
    std::vector<const Curve*> drawn;
    for (const Curve& curve : outcome.curves) {
        if (same_axes(curve, outcome.curves.front())) {
            drawn.push_back(&curve);
            xr.take(curve.x.values);
            yr.take(curve.y.values);
        }
    }
    if (!(xr.low < xr.high) || !(yr.low <= yr.high)) {
        shown.kind = PlotKind::none;
        return;
    }
    const double margin = std::max((yr.high - yr.low) * 0.08, std::fabs(yr.high) * 1e-3 + 1e-12);
    yr.low -= margin;
    yr.high += margin;
    const AxisScale xs = axis_scale(outcome.curves.front().x.unit, xr);
    const AxisScale ys = axis_scale(outcome.curves.front().y.unit, yr);
    shown.x_title = axis_title(outcome.curves.front().x, xs);
    shown.y_title = axis_title(outcome.curves.front().y, ys);
    shown.x_ticks = make_ticks(xr, xs, 6);
    shown.y_ticks = make_ticks(yr, ys, 4);
    if (xr.low < 0 && xr.high > 0)
        shown.zero = xr.part(0);
    for (const Curve* curve : drawn) {
        PlotLine line{curve->role, curve->label, {}, {}};
        const std::size_t n = std::min(curve->x.values.size(), curve->y.values.size());
        for (std::size_t i = 0; i < n; ++i) {
            line.x.push_back(xr.part(curve->x.values[i]));
            line.y.push_back(yr.part(curve->y.values[i]));
        }
        shown.lines.push_back(std::move(line));
    }
    if (cursor >= 0 && cursor <= 1) {
        shown.cursor = cursor;
        const double x = xr.low + cursor * (xr.high - xr.low);
        shown.readout = fmt::format(
            "{} {}", tick_text(x * xs.factor, std::max(1e-3, (xr.high - xr.low) * xs.factor / 200)),
            xs.unit);
        for (const Curve* curve : drawn)
            if (double y = 0; value_at(*curve, x, y))
                shown.readout +=
                    fmt::format(" · {} {}", curve->label, print_short(y, curve->y.unit, 4));
    }
}

void make_bars(PlotShown& shown, const Outcome& outcome) {
    Range xr;
    for (const Curve& curve : outcome.curves)
        xr.take(curve.x.values);
    if (!(xr.low <= xr.high)) {
        shown.kind = PlotKind::none;
        return;
    }
    xr.low = std::min(0.0, xr.low);
    xr.high = xr.high + std::max((xr.high - xr.low) * 0.08, 1e-9);
    const Unit unit = outcome.curves.front().x.unit;
    const AxisScale xs = axis_scale(unit, xr);
    shown.x_title = axis_title(outcome.curves.front().x, xs);
    shown.x_ticks = make_ticks(xr, xs, 6);
    for (const Curve& curve : outcome.curves) {
        if (curve.x.values.empty())
            continue;
        const auto [low, high] = std::minmax_element(curve.x.values.begin(), curve.x.values.end());
        PlotBar bar{curve.label, curve.role, xr.part(*low), xr.part(*high), {}};
        bar.value = *low == *high ? print_short(*low, unit, 3) : print_range(*low, *high, unit, 3);
        shown.bars.push_back(std::move(bar));
    }
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

PlotShown make_plot(const Outcome& outcome, float cursor) {
    PlotShown shown;
    shown.kind = outcome.curves.empty() ? PlotKind::none : outcome.plot;
    if (shown.kind == PlotKind::lines)
        make_lines(shown, outcome, cursor);
    else if (shown.kind == PlotKind::bars)
        make_bars(shown, outcome);
    return shown;
}

} // namespace railside
