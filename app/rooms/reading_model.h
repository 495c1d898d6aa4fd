// How a reading is taken and keyed: its kind, the instrument, the conditions; and how one is shown.
#pragma once

#include "app/rooms/page.h"
#include "core/job/book.h"
#include "core/working/working.h"

namespace railside {

/// The kinds offered, "other" left out: what they are read in is known.
[[nodiscard]] std::vector<ReadingKind> offered_reading_kinds();

/// What may be keyed for that kind: unit, range, usual range. Ranges are wider than any amplifier
/// of this trade needs, so that a slip of the decimal point is asked about and not refused.
[[nodiscard]] Field reading_field(ReadingKind kind);

/// The instrument the draft names, or else the first valid one of the bench that serves its kind;
/// null when there is none.
[[nodiscard]] const Instrument* instrument_for(const ReadingDraft& draft, const BenchBook& book);
/// Whether an instrument of that type can give a reading of that kind.
[[nodiscard]] bool serves(const Instrument& instrument, ReadingKind kind);

/// What the instrument states for that kind; none where it says nothing.
[[nodiscard]] std::optional<MeterAccuracy> accuracy_of(const ReadingDraft& draft,
                                                       const BenchBook& book);

/// "Bench meter, on the lamp, warm": how the next reading is taken, in one line.
[[nodiscard]] std::string reading_way(const ReadingDraft& draft, const BenchBook& book);

/// The page that asks how a reading is taken. With state.reading_to_key its foot opens the keypad.
[[nodiscard]] Page make_reading_page(const AppState& state, const Job& job, const BenchBook& book);

/// The keypad for the next reading; its quick keys are the sister's and the last one of the same.
[[nodiscard]] KeypadState make_reading_keypad(const AppState& state, const Job& job,
                                              const BenchBook& book);

/// The record of what was keyed. `input` comes from read_input of reading_field.
[[nodiscard]] ReadingRecord reading_from(const AppState& state, const Job& job,
                                         const BenchBook& book, const Input& input,
                                         const std::string& text);

/// One reading on a page: what, value with its interval, conditions.
[[nodiscard]] PageRow reading_line(const Job& job, const ReadingRecord& reading,
                                   const Clock& clock);

} // namespace railside
