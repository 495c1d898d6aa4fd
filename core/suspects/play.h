// A hunt played against recorded answers, as a benchmark and an exercise: the client's word, then
// each test in turn answered from one row, until the hunt stops by itself.
//
// The form of the answers is in core/suspects/hunt.md. A test whose answer the row lacks counts its
// minutes and tells nothing. A part out of circuit is answered from the row's part_ columns when it
// is the row's part, and reads good when it is another, for a row is one single fault; without a
// part column it tells nothing.
#pragma once

#include "core/suspects/hunt.h"

#include <map>
#include <string>
#include <string_view>
#include <vector>

namespace railside {

struct AnswerRow {
    std::map<std::string, std::string, std::less<>> cells; // by column; empty cells left out
    int line = 0;

    [[nodiscard]] std::string_view text(std::string_view column) const;
    [[nodiscard]] std::optional<double> number(std::string_view column) const;
};

/// CSV with a heading line; quotes as usual. Errors: bad_text, missing (no id column), naming the
/// line.
[[nodiscard]] Result<std::vector<AnswerRow>> read_answers(std::string_view text,
                                                          std::string_view source);

/// A row that a simulated bench would have written. `id` and truth from the fault.
[[nodiscard]] AnswerRow answer_row(const Amplifier& amplifier, const Fault& fault, double severity,
                                   const ProbeReadings& readings, const ProbeReadings& healthy,
                                   std::string_view id);

/// The client's word: all complaints, told or expressly not.
[[nodiscard]] std::vector<Evidence> complaints_of(const AnswerRow& row);
/// What the part_ columns say.
[[nodiscard]] std::optional<PartState> part_state_of(const AnswerRow& row,
                                                     const SuspectPosition& position);
/// The row's answer to a test.
[[nodiscard]] Evidence recorded_answer(const Hunt& hunt, const AnswerRow& row,
                                       const Proposal& proposal);

struct PlayedStep {
    Proposal proposal;
    Evidence answer;
    double minutes = 0; // so far
};

struct Played {
    std::string id;
    std::string truth;               // position, or empty
    std::vector<std::string> places; // positions that count as it
    std::vector<PlayedStep> steps;
    std::vector<Evidence> evidence;
    double minutes = 0;
    std::vector<Suspect> ranking;
    int truth_rank = 0;    // 1: first; 0: not among the positions, or nothing is wrong
    bool isolated = false; // the true position was out of circuit
    int isolated_tests = 0;
    double isolated_minutes = 0;
    bool shows = false; // anywhere outside
    int fixed_tests = 0;
    double fixed_minutes = 0;
};

/// Which positions a row's truth means: its part; for a wrong diode count the whole string.
[[nodiscard]] std::vector<std::string> places_of(const Amplifier& amplifier, const AnswerRow& row);

/// Whether a row differs anywhere outside from `healthy` (may be absent): a symptom, or a reading
/// more than two of its standard deviations away.
[[nodiscard]] bool shows_anywhere(const AnswerRow& row, const AnswerRow* healthy);

/// At most `most_tests`.
[[nodiscard]] Played play(const Hunt& hunt, const AnswerRow& row, const AnswerRow* healthy,
                          int most_tests = 60);

/// The fixed order: fuses, outputs, drivers, limiters, spreader, voltage amplifier, input, the
/// rest, each out of circuit until the faulty one is met. Indices into positions.
[[nodiscard]] std::vector<int> fixed_order(const Amplifier& amplifier);

} // namespace railside
