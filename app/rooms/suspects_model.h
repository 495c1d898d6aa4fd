// What could it be, and what to check next: the ranked positions of a channel with their reasons,
// the next test as a card, what is known, and both channels beside each other.
#pragma once

#include "app/rooms/page.h"
#include "app/rooms/state.h"
#include "core/suspects/job_hunt.h"

#include <optional>
#include <string>
#include <vector>

namespace railside {

/// How far the table of a channel's circuit has come.
struct TableState {
    int done = 0; // faults
    int of = 0;
    std::string failed; // why there is none, or empty
};

/// What the hunt makes of one channel.
struct ChannelHunt {
    bool ready = false; // the rest is filled in but for `table`
    TableState table;
    JobFacts facts;
    std::vector<Suspect> ranking;
    std::vector<std::string> roles; // by the amplifier's positions: "limiter divider resistor, +"
    std::vector<ElementKind> kinds; // likewise
    std::vector<std::string> elements; // likewise, the netlist's names
    std::optional<Proposal> next;
    HuntStanding standing;
    std::vector<std::string> reasons;    // for and against the suspect that is opened
    std::string proof;                   // of the suspect that is opened
    std::vector<std::string> after_cure; // what each cured part explains, a sentence each
};

struct SuspectsFacts {
    std::string circuit;      // its name; empty: the job does not say yet
    std::string why_no_usual; // what the usual circuit still wants to know; empty: nothing
    ChannelHunt left;
    ChannelHunt right;
};

/// Weighs a job's channel. `table` was worked out of the job's circuit; `opened` is the board's
/// name of a suspect, or empty. Tens of milliseconds.
[[nodiscard]] ChannelHunt weigh_channel(const Hunt& table, const Job& job, Channel channel,
                                        const std::string& opened);

/// The part in state.suspects_part, of state.channel.
[[nodiscard]] Page make_suspects(const AppState& state, const Job& job, const SuspectsFacts& facts);

/// The keypad for a reading that the hunt asks for ("idle/v_re1"); nothing when there is no such.
[[nodiscard]] std::optional<KeypadState> make_hunt_keypad(const std::string& probe_key);
/// The reading as it is written: `draft` says with what it is read, `input` and `text` what.
[[nodiscard]] ReadingRecord hunt_reading(const AppState& state, const Job& job,
                                         const BenchBook& book, const std::string& probe_key,
                                         const Input& input, const std::string& text);
/// What kind of reading that probe is, for the instrument's accuracy.
[[nodiscard]] ReadingKind hunt_reading_kind(const std::string& probe_key);

} // namespace railside
