// The Photos room: the job's pictures by stage, and one of them large.
#pragma once

#include "app/rooms/state.h"

namespace railside {

struct PhotoThumb {
    std::string entry;
    std::string hash;
    std::string stage;
    std::string caption;
    int width = 0, height = 0;
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
};
[[nodiscard]] PhotosShown make_photos(const AppState& state, const Job& job);

/// What lies in a folder that could be imported, by name; folders first. Filled by apply, which
/// reads the folder.
struct FileRow {
    std::string path;
    std::string name;
    std::string size; // "2.3 MB"; empty for folders
    bool folder = false;
};
struct FilesShown {
    std::string folder;
    std::string parent; // empty at the top
    std::vector<FileRow> rows;
    std::string empty;
    bool pictures = true; // false: recordings are being looked for
};

} // namespace railside
