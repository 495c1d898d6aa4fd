// Every room and every working on every reference screen, small, on one sheet: a row for each view,
// a column for each screen, so that a person can look at all of it in a minute.
#pragma once

#include "app/command/picture.h"

#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace railside {

/// A view and how a finger gets there from the one before it. A tap that begins with '?' is left
/// out where there is no such control.
struct SheetView {
    std::string name;
    std::vector<std::string> taps;
};
/// Rooms, workings, the keypad, the bench, the shelf, in the order they are drawn.
[[nodiscard]] std::vector<SheetView> sheet_views();

/// The views one after another on one screen, at full size. `wanted` gives job, screen, hand,
/// theme and clock. Errors: as draw_picture.
[[nodiscard]] Result<std::vector<Picture>> draw_views(Bench& bench, const PictureWanted& wanted,
                                                      std::span<const SheetView> views);

/// A picture made smaller by whole-pixel averages until it fits; never larger.
[[nodiscard]] Picture shrunk(const Picture& picture, int width, int height);

/// The whole sheet. Screens and size of `wanted` are passed over. Errors: as draw_picture.
[[nodiscard]] Result<Picture> draw_contact_sheet(Bench& bench, const PictureWanted& wanted);

} // namespace railside
