// The Photos room: the job's pictures by stage, one of them large with what was drawn on it, and
// what can be said about it.
#pragma once

#include "app/rooms/page.h"

namespace railside {

struct PhotoThumb {
    std::string entry;
    std::string hash;
    std::string stage;
    std::string caption;
    int width = 0, height = 0;
    std::string badge; // "2 marks", "before and after"; empty for none
};

/// Something drawn on the photo shown.
struct MarkShown {
    std::string entry; // empty: still under the finger
    MarkShape shape = MarkShape::ring;
    std::vector<MarkPoint> points;
    std::string text; // its words and the position it points at
    bool opened = false;
};

struct PhotosShown {
    std::vector<PhotoThumb> thumbs; // oldest first
    std::string empty;
    int current = -1;  // index of the one shown large
    std::string title; // "Earlier work · 3 of 7"
    std::string caption;
    std::string previous; // entry ids for stepping; empty at the ends
    std::string next;
    PhotoStage stage = PhotoStage::as_received; // of the next import
    std::vector<MarkShown> marks;
    std::string pair;       // hash of the other one of a before-and-after pair; empty: none
    std::string pair_label; // "before", "after": what the other one is
    std::string pair_entry;
    Page about;
    std::string prompt;  // what to do with a finger now, or which photo is wanted
    std::string waiting; // "Take in 3 from the watched folder"; empty: none wait
    bool may_undo = false;
};
[[nodiscard]] PhotosShown make_photos(const AppState& state, const Job& job);

/// The mark whose outline lies nearest to a place on the photo, within `reach` (a fraction of the
/// photo's width; `aspect` is its height over its width); empty when none does.
[[nodiscard]] std::string mark_near(std::span<const MarkShown> marks, MarkPoint at, double reach,
                                    double aspect);

/// What a finger at `at` makes of the points drawn so far: two ends of a ring or an arrow, a line
/// that follows it, the place of a note.
void extend_mark(std::vector<MarkPoint>& points, MarkShape shape, MarkPoint at);
/// Whether that is a mark and not a touch by mistake.
[[nodiscard]] bool is_mark(MarkShape shape, std::span<const MarkPoint> points);

/// What lies in a folder that could be taken in, by name; folders first. Filled by apply, which
/// reads the folder.
struct FileRow {
    std::string path;
    std::string name;
    std::string size; // "2.3 MB"; empty for folders
    bool folder = false;
};
struct FilesShown {
    std::string folder;
    std::string parent;  // empty at the top
    std::string purpose; // "Choose a picture to take in"
    std::string use;     // label of the button that uses the folder itself; empty: a file is wanted
    std::vector<FileRow> rows;
    std::string empty;
    bool pictures = true; // whether what is wanted are photos, which have a stage
};

} // namespace railside
