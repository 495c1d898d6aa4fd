// What the person is looking at: everything the rooms need besides the job itself. Plain values;
// changed only by apply (program.cpp).
#pragma once

#include "app/rooms/plot_model.h"
#include "app/ui/keypad_model.h"
#include "core/handover/document.h"
#include "core/handover/pdf_writer.h"
#include "core/job/job.h"

#include <array>
#include <map>
#include <optional>
#include <string>
#include <string_view>

namespace railside {

enum class RoomId { shelf, bench, sheet, workings, photos, steps, handover, suspects };
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
/// "2026-11-24"
[[nodiscard]] std::string date_text(std::int64_t time_ms, const Clock& clock);

/// What of the sheet is on the screen.
enum class SheetPart {
    unit,      // the unit, the complaint, where the job stands
    positions, // the places in the circuit, and one of them opened
    money,     // parts and minutes against the agreed limit
    history,   // everything that happened, newest first
};
[[nodiscard]] std::string_view sheet_part_key(SheetPart part);
[[nodiscard]] std::string_view sheet_part_label(SheetPart part);

/// What of the handover is on the screen.
enum class HandoverPart {
    missing, // what bars handing back
    words,   // what is said at the end, and for later jobs
    photos,  // those the report shows
    wanting, // what still wants doing
    preview, // the report as it reads now
    write,   // files to give away
};
[[nodiscard]] std::string_view handover_part_key(HandoverPart part);
[[nodiscard]] std::string_view handover_part_label(HandoverPart part);

/// What of the hunt is on the screen.
enum class SuspectsPart {
    next,     // the next test, and what it could be
    evidence, // what the client says and what is known, to strike
    channels, // both channels beside each other
};
[[nodiscard]] std::string_view suspects_part_key(SuspectsPart part);
[[nodiscard]] std::string_view suspects_part_label(SuspectsPart part);

enum class ReportForm { pdf, html, text };

/// What of the bench's own room is on the screen.
enum class BenchPart {
    instruments, //
    drawer,      // the parts in stock
    lists,       // the lists of steps, as this bench wants them
    copies,      // backups, job files, the watched folder
    screen,      // hand and colours
};
[[nodiscard]] std::string_view bench_part_key(BenchPart part);
[[nodiscard]] std::string_view bench_part_label(BenchPart part);

/// Which entries the time line shows.
enum class HistoryFilter {
    all,
    readings, // and recordings
    photos,   // with their marks and pairs
    steps,    // lists and ticks
    workings,
    changes, // the sheet, positions, costs, what came off, notes
};
[[nodiscard]] std::string_view history_filter_key(HistoryFilter filter);
[[nodiscard]] std::string_view history_filter_label(HistoryFilter filter);

/// How the next reading is taken; stays from one to the next.
struct ReadingDraft {
    std::string position; // entry id, or empty
    ReadingKind kind = ReadingKind::volts;
    Conditions when;
    std::string instrument; // id in the bench's book; empty: the first that fits
    std::string what;       // which pins or points, for the next one only
    std::string conditions; // in the person's own words
};

/// A part being put on the bill.
struct CostDraft {
    std::string what;
    int count = 1;
    double each = 0;
    std::string each_text; // as typed
};

/// A list of steps being changed; written as a whole when it is set.
struct ListDraft {
    StepList list;
    int step = -1; // the one opened; -1: the list itself
    bool changed = false;
};

/// Words offered to choose one from.
struct PickList {
    std::string target; // as TextEntry::target
    std::string title;
    std::string word;                                       // the one that stands now
    std::vector<std::pair<std::string, std::string>> words; // word, label
};

/// What a file or a folder is looked for.
enum class FileWanted {
    picture,
    recording,     // for the working on the screen
    job_file,      // to take in
    export_folder, // where to write this job's file
    backup_folder,
    watched_folder,
    photo_copy_folder, // where to write the photo that is open
    report_folder,     // where to write the report
    circuit,           // a netlist, for the hunt
};

/// A text being typed: what for, and what stands there.
struct TextEntry {
    std::string target; // "job/model", "position/<id>/note", "skip/<step>", "note"
    std::string title;
    std::string text;
    bool capitals = true;
    bool figures = false;     // the letters show digits and marks
    std::string pending = {}; // typed on our own letters, not yet in the text
};

/// Whether what stands there can be set: anything but nothing, and a working's field may be
/// emptied.
[[nodiscard]] bool may_be_set(const TextEntry& entry);

struct AppState {
    RoomId room = RoomId::shelf;
    Beside beside = Beside::photos;
    bool drawer_open = false;
    float split = 0;      // the room's share beside its companion; 0: the usual
    float size_draft = 0; // the size a finger is dragging the ruler to, to the one that stands
    bool help = false;    // the keys of a keyboard, over the room
    std::string working = "idle";
    bool choosing_working = false;
    std::optional<PickList> pick;
    Channel channel = Channel::left;
    std::array<PlotView, k_most_plots> plots; // how the working's pictures are looked at

    std::string photo; // entry id of the photo shown large; empty: the latest
    PhotoLook photo_look;
    bool photo_large = false;                   // Photos room: one picture instead of the grid
    PhotoStage stage = PhotoStage::as_received; // what the next import is
    bool about_photo = false;                   // its caption, position, marks, in place of it
    std::optional<MarkShape> mark_tool;         // a finger on the photo draws one of these
    std::vector<MarkPoint> mark_points;         // what it has drawn so far
    std::string mark;                           // entry of the mark that is opened
    std::string pair_before;                    // photo whose "after" is being chosen
    std::string photo_position;                 // position the next photo is of; empty: none
    std::string camera_sentence;                // why there is no live picture; empty: there is one
    bool camera_open = false;                   // the live picture in place of the photos
    bool choosing_file = false;
    FileWanted file_wanted = FileWanted::picture;
    std::string folder; // where the file list stands

    std::string list;            // entry id of the open list; empty: the choice of lists
    std::string expanded_step;   // a step opened by hand; empty: the live one
    bool follow_step = false;    // the live step wants to come into view
    bool follow_history = false; // the opened entry does
    bool skipping = false;       // asking for the reason to skip the open step

    bool apart = false;      // Steps room: what was taken off, in place of the lists
    std::string apart_where; // where the next thing comes off
    std::string apart_line;  // the one opened: id of its first item

    SheetPart sheet_part = SheetPart::unit;
    std::string position; // the one opened; empty: all of them
    ReadingDraft reading;
    bool reading_open = false;   // how the next reading is taken, over the room
    bool reading_to_key = false; // a value is keyed from there
    std::optional<CostDraft> cost;
    HistoryFilter history_filter = HistoryFilter::all;
    std::string history_entry; // the entry opened in the history

    HandoverPart handover_part = HandoverPart::missing;
    std::string missing_item; // key of what is missing, opened
    std::string wanting;      // entry of the wanting that is opened; empty: all of them
    Audience audience = Audience::client;
    ReportForm report_form = ReportForm::pdf; // the one a folder is looked for
    std::string report_written;               // the file written last

    SuspectsPart suspects_part = SuspectsPart::next;
    std::string suspect; // the one opened, by its name on the board

    std::string search; // words looked for on the shelf; empty: all jobs

    BenchPart bench_part = BenchPart::instruments;
    std::string instrument; // the one opened
    std::optional<ListDraft> list_draft;

    std::optional<KeypadState> keypad;
    std::optional<TextEntry> text;
    bool outside = false; // files, texts and the camera's way round are the host's to ask for
    std::string message;  // one sentence at the foot: what was refused, what was kept
    enum class MessageTone { none, kept, refused } message_tone = MessageTone::none;
};

} // namespace railside
