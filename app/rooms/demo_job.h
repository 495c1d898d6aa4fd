// The demo job: a fictional amplifier half-way through its repair, made of the entries in
// assets/demo/job.json.
//
// job.json is an object: "bench" (the name its entries carry) and "entries", an array in the order
// they happened. Each has "minutes" since the job began, never falling, "kind"
// (core/job/journal.md) and what that kind needs:
//   job, position, note, cost, mark, pair, taken_off, put_back, wanting: "body", as in the journal
//   finding: "body"; circuit: "body" with what differs from the usual one of the job's values
//   reading: "body", with "text" as typed and "unit" instead of an amount; "accuracy" of the meter
//     where it is not 0.5 % + 3 counts
//   photo: "picture" (demo_pictures.h) and "body" with stage, caption and channel
//   list: "list", the key of a built-in list; the entry holds its steps as they are now
//   tick: "list", "step", and "answer" or "skipped" with the reason
//   working: "working", "channel", "inputs": field -> {"text", "from"}; computed when the job is
//     made
// "name" gives an entry a name that a later one's "position" or "list", or "@name" as a member of
// its body, may refer to (a list's name is its key).
#pragma once

#include "core/job/entry.h"
#include "core/job/job.h"
#include "core/result.h"
#include "core/store/bench.h"

#include <cstdint>
#include <functional>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace railside {

/// 2025-03-12 09:05 UTC: when the demo job came in unless the caller says otherwise.
inline constexpr std::int64_t k_demo_begun_ms = 1741770300000;

/// Puts the picture of that name (demo_pictures.h) where photos are kept and returns `photo` with
/// hash, type and size filled in.
using KeepPicture = std::function<Result<PhotoRecord>(std::string_view picture, PhotoRecord photo)>;
/// Puts the recording whose name the record has (a file under assets/demo) where recordings are
/// kept and returns it with hash and size filled in.
using KeepRecording = std::function<Result<RecordingRecord>(RecordingRecord recording)>;

/// The entries described by `text` (job.json): the same text and time always give the same ids.
/// Errors: damaged, naming the entry by its number from 1; what `keep` refuses.
[[nodiscard]] Result<std::vector<Entry>> demo_entries(std::string_view text, std::int64_t begun_ms,
                                                      const KeepPicture& keep,
                                                      const KeepRecording& keep_recording);

/// The picture of that name, `width` pixels wide; nothing when there is none.
using PaintPicture = std::function<std::optional<Picture>(std::string_view name, int width)>;

/// Puts the demo job on the bench, pictures first, and returns its id. When a demo job is there
/// already, begun whenever, it returns that one's id and changes nothing. `paint` gives the
/// pictures, demo_picture() unless said otherwise. Errors: what the bench refuses (disk full, ...);
/// then no entry was written.
[[nodiscard]] Result<std::string> load_demo_job(Bench& bench,
                                                std::int64_t begun_ms = k_demo_begun_ms,
                                                const PaintPicture& paint = {});

} // namespace railside
