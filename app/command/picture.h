// A room drawn into memory, as a window of that size would show it.
#pragma once

#include "app/hosts/host.h"
#include "app/rooms/program.h"
#include "core/result.h"
#include "core/store/bench.h"
#include "core/store/image.h"

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

namespace railside {

struct PictureWanted {
    Screen screen;
    Clock clock;
    RoomId room = RoomId::shelf;
    std::string job;                // id; empty: the shelf
    std::optional<Hand> hand;       // nothing: as set on the bench
    std::optional<ThemeKind> theme; //
    std::string working;            // catalogue key; empty: the first
    std::optional<Channel> channel;
    std::optional<Beside> beside;  // on a narrow screen its drawer is pulled up
    std::vector<std::string> taps; // controls tapped one after another, by name
};

/// Errors: not_found when a control to tap is not on the screen (names the nearest); what the bench
/// or the drawing refuses. Taps are real: what they keep is kept on the bench.
[[nodiscard]] Result<Picture> draw_picture(Bench& bench, const PictureWanted& wanted);

/// As PNG, whole or not at all. Errors: failed, naming the file.
[[nodiscard]] Result<Done> write_picture(const Picture& picture, const std::filesystem::path& file);

} // namespace railside
