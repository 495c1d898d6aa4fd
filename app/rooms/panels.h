// The drawing of each room, and of the same panels beside another room. Every function takes what
// is to be shown and a place, draws, and adds what was asked for to the intents.
#pragma once

#include "app/hosts/host.h"
#include "app/rooms/header_model.h"
#include "app/rooms/intent.h"
#include "app/rooms/page.h"
#include "app/rooms/photos_model.h"
#include "app/rooms/sheet_model.h"
#include "app/rooms/shelf_model.h"
#include "app/rooms/steps_model.h"
#include "app/rooms/workings_model.h"
#include "app/ui/icons.h"
#include "app/ui/keypad.h"
#include "app/ui/ui.h"

#include <functional>

namespace railside {

/// A picture on the device, or none yet.
struct Shot {
    ImTextureID texture{};
    int width = 0;
    int height = 0;
};
/// The live picture of the camera, as a hash that no photo has.
inline constexpr std::string_view k_live_shot = "live";
/// Looks up a photo's texture by hash at about this size in pixels; asks for it when it is not
/// there yet.
using ShotSource = std::function<Shot(const std::string& hash, int longest_px)>;

void draw_shelf(Ui& ui, Rect place, const ShelfShown& shown, const AppState& state, Intents& out);
void draw_sheet(Ui& ui, Rect place, const SheetShown& shown, const AppState& state,
                const ShotSource& shots, Intents& out);
void draw_bench(Ui& ui, Rect place, const Page& page, const AppState& state,
                const ShotSource& shots, Intents& out);
void draw_handover(Ui& ui, Rect place, const Page& page, const AppState& state,
                   const ShotSource& shots, Intents& out);
void draw_suspects(Ui& ui, Rect place, const Page& page, const AppState& state,
                   const ShotSource& shots, Intents& out);
/// What stays above a page, in one row of at least 9 mm.
void draw_head(Ui& ui, Rect place, const Page& page, Intents& out);
/// A page in a place of its own; draws no ground and no head.
void draw_page(Ui& ui, Rect body, const Page& page, const ShotSource& shots, Intents& out);
/// A thumbnail that fills its place, cut at the sides.
void draw_thumb(Ui& ui, Rect place, const Shot& shot);
void draw_workings(Ui& ui, Rect place, const WorkingsShown& shown, const AppState& state,
                   Intents& out);
void draw_photos(Ui& ui, Rect place, const PhotosShown& shown, const AppState& state,
                 const ShotSource& shots, Intents& out);
void draw_files(Ui& ui, Rect place, const FilesShown& files, const PhotosShown& shown,
                Intents& out);
void draw_steps(Ui& ui, Rect place, const StepsShown& shown, std::string_view prefix, Intents& out);
/// What was taken off, in place of the lists where that is open.
void draw_apart(Ui& ui, Rect place, const Page& page, const ShotSource& shots, Intents& out);

/// Panels beside a room.
void draw_photos_beside(Ui& ui, Rect place, const PhotosShown& shown, const AppState& state,
                        const ShotSource& shots, Intents& out);
void draw_kept_beside(Ui& ui, Rect place, std::span<const KeptLine> kept, Intents& out);

/// `plot`: which of the working's pictures it is.
void draw_plot(Ui& ui, Rect place, const PlotShown& shown, std::size_t plot, Intents& out);
void draw_text_entry(Ui& ui, Rect screen, AppState& state, Intents& out);

[[nodiscard]] Icon room_icon(RoomId room);

/// How wide a verdict is drawn.
[[nodiscard]] float verdict_width(const Ui& ui, std::string_view word, Face face);
/// The word, shape and colour of a verdict, as a pill; returns its width.
float draw_verdict(Ui& ui, float x, float y, VerdictState state, std::string_view word, Face face);

/// A caution in its frame; returns the height.
float draw_caution(Ui& ui, float x, float y, float width, std::string_view text);
[[nodiscard]] float caution_height(const Ui& ui, float width, std::string_view text);

} // namespace railside
