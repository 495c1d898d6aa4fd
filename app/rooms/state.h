// What the person is looking at: everything the rooms need besides the job itself. Plain values;
// changed only by apply (program.cpp).
#pragma once

#include "app/ui/keypad_model.h"
#include "core/job/job.h"

#include <map>
#include <optional>
#include <string>
#include <string_view>

namespace railside {

enum class RoomId { shelf, sheet, workings, photos, steps };
[[nodiscard]] std::string_view room_key(RoomId room);   // "sheet"
[[nodiscard]] std::string_view room_label(RoomId room); // "Sheet"
[[nodiscard]] std::optional<RoomId> room_from_key(std::string_view key);

/// What stands beside the room on a wide screen, or in the drawer on a narrow one.
enum class Beside { photos, steps, kept };
[[nodiscard]] std::string_view beside_key(Beside beside);
[[nodiscard]] std::string_view beside_label(Beside beside);

/// How a photo is being looked at. Panned by fractions of the pane; zoom 1 shows it whole.
struct PhotoLook {
    float zoom = 1;
    float pan_x = 0;
    float pan_y = 0;
};

/// Where the bench's clock stands, for showing times.
struct Clock {
    std::int64_t now_ms = 0;
    int utc_offset_minutes = 0;
};
/// "14:32" on the same day, "24 Nov" in the same year, "24 Nov 2025" before.
[[nodiscard]] std::string time_text(std::int64_t time_ms, const Clock& clock);

/// A text being typed: what for, and what stands there.
struct TextEntry {
    std::string target; // "job/model", "job/complaint", "photo/caption/<id>",
                        // "step/reason/<list>/<step>", "note"
    std::string title;
    std::string text;
    bool capitals = true;
    bool figures = false;     // the letters show digits and marks
    std::string pending = {}; // typed on our own letters, not yet in the text
};

/// Whether what stands there can be set: anything but nothing, and a working's field may be
/// emptied.
[[nodiscard]] inline bool may_be_set(const TextEntry& entry) {
    return !entry.text.empty() || entry.target.starts_with("field/");
}

struct AppState {
    RoomId room = RoomId::shelf;
    Beside beside = Beside::photos;
    bool drawer_open = false;
    std::string working = "idle";
    bool choosing_working = false;
    std::string picking; // a choice field whose words are being offered; empty: none
    Channel channel = Channel::left;
    float plot_cursor = -1; // fraction of the plot's width; below 0: none

    std::string photo; // entry id of the photo shown large; empty: the latest
    PhotoLook photo_look;
    bool photo_large = false;                   // Photos room: one picture instead of the grid
    PhotoStage stage = PhotoStage::as_received; // what the next import is
    bool choosing_file = false;
    bool file_is_recording = false; // the file wanted is a capture for the working, not a picture
    std::string folder;             // where the file list stands

    std::string list;          // entry id of the open list; empty: the choice of lists
    std::string expanded_step; // a step opened by hand; empty: the live one
    bool follow_step = false;  // the live step wants to come into view
    bool skipping = false;     // asking for the reason to skip the open step

    std::string history_entry; // entry opened by a long press in the history

    std::optional<KeypadState> keypad;
    std::optional<TextEntry> text;
    std::string message; // one sentence at the foot: what was refused, what was kept
    enum class MessageTone { none, kept, refused } message_tone = MessageTone::none;
};

} // namespace railside
