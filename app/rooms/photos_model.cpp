#include "app/rooms/photos_model.h"

#include <fmt/format.h>

namespace railside {

PhotosShown make_photos(const AppState& state, const Job& job) {
    PhotosShown shown;
    shown.stage = state.stage;
    for (const PhotoRecord& photo : job.photos) {
        if (photo.source.standing == Standing::struck)
            continue;
        if (photo.source.entry == state.photo)
            shown.current = static_cast<int>(shown.thumbs.size());
        shown.thumbs.push_back({photo.source.entry, photo.hash,
                                std::string(photo_stage_label(photo.stage)), photo.caption,
                                photo.width, photo.height});
    }
    if (shown.thumbs.empty()) {
        shown.empty = "No photos yet. Drop a picture on the window, or touch From file.";
        return shown;
    }
    if (shown.current < 0)
        shown.current = static_cast<int>(shown.thumbs.size()) - 1;
    const auto i = static_cast<std::size_t>(shown.current);
    shown.title = fmt::format("{} · {} of {}", shown.thumbs[i].stage, i + 1, shown.thumbs.size());
    shown.caption = shown.thumbs[i].caption;
    if (i > 0)
        shown.previous = shown.thumbs[i - 1].entry;
    if (i + 1 < shown.thumbs.size())
        shown.next = shown.thumbs[i + 1].entry;
    return shown;
}

} // namespace railside
