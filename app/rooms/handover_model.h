// The handover: what is missing before the unit can be handed back, the closing words, the photos
// and the work still wanting that the report tells of, the report as it reads, and its files.
#pragma once

#include "app/rooms/page.h"
#include "core/handover/pdf_writer.h"

namespace railside {

/// What the room shows beside the job.
struct HandoverFacts {
    Report report;
    std::string bench; // who hands it back
    Paper paper = Paper::a4;
    std::string writing; // name of the file on its way to the disk; empty: none
    int done = 0;        // of its parts
    int of = 0;
    bool stopping = false;
    std::string open_label; // of the button that shows the file written last; empty: none can
};

/// The part in state.handover_part.
[[nodiscard]] Page make_handover(const AppState& state, const Job& job, const HandoverFacts& facts);

/// A report as rows, for its preview.
[[nodiscard]] std::vector<PageRow> preview_rows(const Document& document);

} // namespace railside
