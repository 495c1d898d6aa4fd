// One line of the journal: what happened, to which job, when, on which bench. Entries are never
// changed; a strike is another entry. The grammar of every kind's body is in journal.md beside this
// file.
#pragma once

#include "core/result.h"

#include <nlohmann/json.hpp>

#include <array>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

namespace railside {

enum class EntryKind {
    job, // the sheet: unit, complaint, agreed limit, ...; later ones change the fields they name
    position,  // a place in the circuit: designator, channel, role, printed type, fitted type,
               // fitted by, state
    reading,   // one measured value
    working,   // a kept working
    photo,     // a picture in the vault, its stage and caption
    list,      // a list taken up for this job, with its steps as they were then
    tick,      // a step done, skipped with a reason, or taken back
    note,      // free text
    strike,    // retracts an entry, or brings it back
    cost,      // money spent: a part, or minutes of work
    taken_off, // something removed in teardown: what, where, how many
    put_back,  // how many of a taken-off item went back
    mark,      // a ring, arrow, line or note on a photo
    pair,      // two photos of the same thing, before and after
    recording, // a capture of a scope or sound card, kept in the vault
    wanting,   // what still wants doing, with its estimate
    closing,   // the closing words, what the report shows, what is overridden, cause and cure
    circuit,   // which amplifier this is: its netlist, with what each position is there for
    finding,   // what was found and is no measured value: a symptom, a part tested
    // Of the bench itself, not of a job (book.h):
    instrument, // a meter, ohmmeter, gain tester or lamp this bench owns
    drawer,     // its stock of parts, as text
    minutes,    // how long its tests take, as text
    list_text,  // a list of steps as this bench wants it, as text
    unknown,    // a later version's: kept, carried along, never written here
};
[[nodiscard]] std::string_view entry_kind_key(EntryKind kind); // "unknown" for that one
/// Empty for a key of no kind known here, also for "unknown".
[[nodiscard]] std::optional<EntryKind> entry_kind_from_key(std::string_view key);

struct Entry {
    std::string id;           // 26 characters, sorts by time of making, unique everywhere
    std::string job;          // id of the job's first entry
    std::int64_t time_ms = 0; // milliseconds since 1970-01-01 UTC, as the bench's clock had it
    std::string bench;        // which bench wrote it
    EntryKind kind = EntryKind::note;
    nlohmann::json body = nlohmann::json::object();
    std::string kind_text = {}; // the kind as written in the journal; only with EntryKind::unknown

    friend bool operator==(const Entry&, const Entry&) = default;
};

/// 26 characters of Crockford base 32: 48 bits of time, 80 of chance. `previous` is the last id
/// made by this bench: the result always sorts after it, also when the clock stood still or went
/// back. time_ms 0 to 2^48-1.
[[nodiscard]] std::string make_entry_id(std::int64_t time_ms,
                                        const std::array<std::uint8_t, 10>& chance,
                                        std::string_view previous);
[[nodiscard]] bool is_entry_id(std::string_view text);
/// Whether the time in an entry's id lies past the year 6429, where no clock that is right will be.
[[nodiscard]] bool is_far_ahead(std::string_view entry_id);

/// What stands in `job` of the entries that are the bench's own: its book (book.h). No job has it.
inline constexpr std::string_view k_bench_book = "00000000000000000000000000";
/// Whether entries of that kind may stand in the bench's book, and whether in a job.
[[nodiscard]] bool belongs_in_book(EntryKind kind);
[[nodiscard]] bool belongs_in_job(EntryKind kind);

/// The kind as the journal writes it: kind_text for unknown ones.
[[nodiscard]] std::string_view written_kind(const Entry& entry);

/// Whether it can stand in a journal at all: ids, time and bench well formed, the body a JSON
/// object of UTF-8 text and finite numbers, at most 1 MB and 32 levels deep. Nothing about what the
/// kind wants; entries of later versions pass.
[[nodiscard]] Result<Done> check_form(const Entry& entry);

/// check_form, and whether the body fits its kind (journal.md): names the kind, the member and what
/// it must be. Members not known here are kept and not refused, so that a later version's entries
/// survive; an unknown kind passes.
[[nodiscard]] Result<Done> check_entry(const Entry& entry);

} // namespace railside
