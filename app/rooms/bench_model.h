// The bench's own room: its instruments, its drawer, its lists, its copies, its screen.
#pragma once

#include "app/rooms/page.h"
#include "app/ui/hand.h"
#include "core/job/book.h"
#include "core/suspects/minutes.h"
#include "core/working/working.h"

#include <span>

namespace railside {

/// What the room says besides the book.
struct BenchFacts {
    std::string folder;      // where the bench lies
    std::string watched;     // the folder watched for photos; empty: none
    std::string safety;      // not files of its own: how safe the bench is there; else empty
    std::string watch_state; // one sentence about it
    std::string hand;        // "right hand"
    std::string theme;       // "dark"
    float size = 1;          // of everything, to what the display says
    float size_draft = 0;    // what a finger is dragging it to, to `size`; 0: none
    int text_percent = 100;
};

[[nodiscard]] Page make_bench(const AppState& state, const BenchBook& book,
                              std::span<const StepList> delivered, const BenchFacts& facts);

/// A figure of an instrument that is keyed: test_a, open_v, battery_v, arc_error, power_w, volts_v,
/// or of its ranges: range/<number>/mid_scale_ohm, range/<number>/battery_v.
[[nodiscard]] std::optional<Field> instrument_field(std::string_view member);
/// Where that figure stands; null when there is none.
[[nodiscard]] double* instrument_figure(Instrument& instrument, std::string_view member);

/// A new instrument of that type with the figures of an ordinary one.
[[nodiscard]] Instrument new_instrument(InstrumentType type);

/// How long tests take here: as keyed, or as it came.
[[nodiscard]] Minutes minutes_of_bench(const BenchBook& book);

/// The list as this bench has it, or as it came.
[[nodiscard]] StepList list_of_bench(const BenchBook& book, std::span<const StepList> delivered,
                                     std::string_view key);

} // namespace railside
