#include "app/command/screens.h"

#include "core/quantity/refusal.h"
#include "core/quantity/value_code.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

namespace railside {

namespace {

constexpr double k_mm_per_inch = 25.4;
constexpr double k_least_px = 160;
constexpr double k_most_px = 8192;
// What fonts can be built for (app/ui/theme.h).
constexpr double k_least_px_per_mm = 2;
constexpr double k_most_px_per_mm = 40;
constexpr double k_least_scale = 0.5;
constexpr double k_most_scale = 8;

/// Millimetres a unit of a screen of that diagonal, square pixels.
double of_diagonal(double inches, double width, double height) {
    return inches * k_mm_per_inch / std::hypot(width, height);
}

Error bad_screen(std::string_view text) {
    return Error{ErrorCode::bad_text, "--screen",
                 fmt::format("{} is not a screen. Accepted: WIDTHxHEIGHT, with @DENSITY when a "
                             "unit has more than one pixel (390x844@3), or one "
                             "of {}.",
                             railside::quoted(text), [] {
                                 std::string names;
                                 for (const ReferenceScreen& screen : reference_screens())
                                     names += fmt::format("{}{}", names.empty() ? "" : ", ",
                                                          screen.name);
                                 return names;
                             }())};
}

/// "1280x800" in its two numbers.
std::optional<std::pair<double, double>> two_numbers(std::string_view text) {
    for (const std::string_view mark : {"x", "X", "\u00d7"}) {
        const auto at = text.find(mark);
        if (at == std::string_view::npos)
            continue;
        const auto width = parse_plain_number(text.substr(0, at), "width");
        const auto height = parse_plain_number(text.substr(at + mark.size()), "height");
        if (!width || !height)
            return std::nullopt;
        return std::pair(*width, *height);
    }
    return std::nullopt;
}

bool whole(double value) { return value == std::floor(value); }

Result<PixelSize> pixel_size(double width, double height) {
    if (!(width >= k_least_px && width <= k_most_px && height >= k_least_px && height <= k_most_px))
        return Error{ErrorCode::out_of_range, "size",
                     fmt::format("A surface of {:.0f} by {:.0f} pixels is not accepted. Accepted: "
                                 "{:.0f} to {:.0f} pixels a side.",
                                 width, height, k_least_px, k_most_px)};
    return PixelSize{static_cast<int>(width), static_cast<int>(height)};
}

} // namespace

std::span<const ReferenceScreen> reference_screens() {
    static const std::array k_screens{
        ReferenceScreen{"panel-5in", 800, 480, 1, of_diagonal(5, 800, 480)},
        ReferenceScreen{"panel-7in", 1024, 600, 1, of_diagonal(7, 1024, 600)},
        ReferenceScreen{"phone", 390, 844, 3, 0.166},
        ReferenceScreen{"tablet-landscape", 1280, 800, 1, of_diagonal(10.1, 1280, 800)},
        ReferenceScreen{"tablet-portrait", 800, 1280, 1, of_diagonal(10.1, 800, 1280)},
        ReferenceScreen{"desktop", 1600, 1000, 1, 0.25},
    };
    return k_screens;
}

Screen screen_of(const ReferenceScreen& screen) {
    return {static_cast<int>(std::lround(screen.width * screen.density)),
            static_cast<int>(std::lround(screen.height * screen.density)),
            static_cast<float>(screen.density / screen.mm_per_unit)};
}

Result<PixelSize> parse_pixel_size(std::string_view text) {
    const auto numbers = two_numbers(text);
    if (!numbers || !whole(numbers->first) || !whole(numbers->second))
        return Error{
            ErrorCode::bad_text, "size",
            fmt::format("{} is not a size. Accepted: WIDTHxHEIGHT in pixels, such as 1280x800.",
                        railside::quoted(text))};
    return pixel_size(numbers->first, numbers->second);
}

Result<Screen> parse_screen(std::string_view text, std::optional<double> mm_per_unit) {
    ReferenceScreen wanted;
    const auto screens = reference_screens();
    const auto named =
        std::find_if(screens.begin(), screens.end(),
                     [text](const ReferenceScreen& screen) { return screen.name == text; });
    if (named != screens.end()) {
        wanted = *named;
    } else {
        const auto at = text.find('@');
        const auto numbers = two_numbers(text.substr(0, at));
        if (!numbers || !whole(numbers->first) || !whole(numbers->second))
            return bad_screen(text);
        if (at != std::string_view::npos) {
            const auto density = parse_plain_number(text.substr(at + 1), "density");
            if (!density)
                return bad_screen(text);
            if (!(*density >= k_least_scale && *density <= k_most_scale))
                return Error{
                    ErrorCode::out_of_range, "--screen",
                    fmt::format(
                        "A density of {:g} pixels a unit is not accepted. Accepted: {:g} to {:g}.",
                        *density, k_least_scale, k_most_scale)};
            wanted.density = *density;
        }
        const auto size = pixel_size(std::round(numbers->first * wanted.density),
                                     std::round(numbers->second * wanted.density));
        if (!size)
            return size.error();
        wanted.width = static_cast<int>(numbers->first);
        wanted.height = static_cast<int>(numbers->second);
        const auto same =
            std::find_if(screens.begin(), screens.end(), [&wanted](const ReferenceScreen& screen) {
                return screen.width == wanted.width && screen.height == wanted.height;
            });
        wanted.mm_per_unit = same != screens.end() ? same->mm_per_unit
                             : wanted.density > 1  ? 0.166
                                                   : 0.17;
    }
    if (mm_per_unit)
        wanted.mm_per_unit = *mm_per_unit;
    const double least_mm = wanted.density / k_most_px_per_mm;
    const double most_mm = wanted.density / k_least_px_per_mm;
    if (!(wanted.mm_per_unit >= least_mm && wanted.mm_per_unit <= most_mm))
        return Error{
            ErrorCode::out_of_range, "--mm-per-unit",
            fmt::format(
                "{:g} mm a unit is not accepted. Accepted at this density: {:g} to {:g} mm.",
                wanted.mm_per_unit, least_mm, most_mm)};
    return screen_of(wanted);
}

} // namespace railside
