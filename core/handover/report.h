// What the report of a job says, made of its journal alone: found, done, measured before and after,
// proved, still wanting, not tested. Nothing here rests on anything but the entries named beside
// it; what the journal does not hold is said to be not measured. How it reads on paper is in
// document.h.
#pragma once

#include "core/handover/missing.h"
#include "core/job/book.h"
#include "core/job/job.h"
#include "core/job/money.h"
#include "core/working/working.h"

#include <array>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace railside {

/// What the journal does not know.
struct ReportFacts {
    std::int64_t made_ms = 0;   // when the report is made
    int utc_offset_minutes = 0; // −1440 to 1440
    std::string bench = {};     // who hands it back, for the foot; may be empty
};

/// A sentence and the entries it rests on (none where it says that something is missing).
struct Said {
    std::string text;
    std::vector<std::string> entries;
};

/// One place in the circuit, as it was found and as it is now.
struct ReportPosition {
    PositionRecord found; // before this bench changed anything there
    PositionRecord now;
    std::string name;     // "Q214 left"
    std::string role;     // "output", "" when not said
    bool earlier = false; // fitted by an earlier shop when found
    bool odd = false;     // earlier, another type than printed, or bad or suspect when found
    bool mended = false;  // changed by this bench
    std::vector<std::string> entries;
};

/// One figure with what belongs to it.
struct ReportValue {
    std::string value;    // "96.0 mV"
    std::string interval; // "95.2–96.8 mV"; empty when exact
    std::string circumstances;
    std::string instrument;
    std::optional<VerdictState> verdict;
    std::string verdict_word;
    std::string reason;
    std::vector<std::string> entries; // the reading, the working that judged it

    [[nodiscard]] bool empty() const { return value.empty(); }
};

/// The same thing read in both channels, before and after the repair.
struct ReadingRow {
    std::string what; // "Idle volts across R231/R331"
    struct Side {
        ReportValue before;
        ReportValue after;
    };
    Side left;
    Side right;
    Side whole; // bound to no channel

    [[nodiscard]] Side& side(Channel channel) {
        return channel == Channel::left ? left : channel == Channel::right ? right : whole;
    }
    [[nodiscard]] bool is_whole() const { return !whole.before.empty() || !whole.after.empty(); }
};

enum class ProofWhen {
    after,  // since the last repair that touches it, or nothing was repaired
    before, // only before it: as found, nothing proved
    never,  // not measured
};

/// Something that a handover must show, proved or not.
struct Proof {
    std::string key;  // "idle", "power", "halves", "symmetry/idle", "symmetry/power"
    std::string what; // "Idle current, each device"
    Channel channel = Channel::none;
    ProofWhen when = ProofWhen::never;
    ReportValue value;
};

struct ReportStep {
    std::string text;
    StepState state = StepState::open;
    std::string answer; // with its window where there is one; the reason when skipped
    std::string why_open;
    std::int64_t time_ms = 0;
    std::vector<std::string> entries;
};

struct ReportList {
    std::string name;
    int done = 0; // skipped ones not counted
    int skipped = 0;
    std::vector<ReportStep> steps;
    std::string entry;
};

struct ReportCost {
    std::string what;
    std::string count; // "2 × 3.40", "45 min"
    double amount = 0;
    std::string entry;
};

/// Work still wanting, in the order of its rank and then as it was written.
struct ReportWanting {
    WantingRecord record;
    double estimate = 0; // parts, and minutes at the sheet's rate
    bool priced = true;  // false: it needs time and the sheet has no rate
    double running = 0;  // the estimates down to and with this one
    bool within = false; // the running sum is within what is left of the limit
    std::vector<std::string> entries;
};

/// A mark with the number that stands beside it on the photo; 0: it says nothing.
struct ReportMark {
    MarkRecord mark;
    int number = 0;
};

struct ReportPhoto {
    PhotoRecord photo;
    std::string caption; // stage where it has none
    std::string pair;    // "before" or "after" of a pair, or empty
    std::vector<ReportMark> marks;
    std::vector<std::string> legend; // one for each number from 1
    std::vector<std::string> entries;
};

/// A kept working as it was: inputs and results in the words of the catalogue.
struct ReportWorking {
    std::string name; // "Idle current, left"
    std::string equations;
    std::string note; // "superseded", "struck"
    std::int64_t time_ms = 0;
    std::vector<std::array<std::string, 3>> inputs;  // label, value, where from
    std::vector<std::array<std::string, 3>> results; // label, value, interval
    std::optional<VerdictState> verdict;
    std::string verdict_word;
    std::string reason;
    std::vector<std::string> notes;
    std::vector<std::string> cautions;
    std::vector<std::string> entries;
};

struct ReportReading {
    std::int64_t time_ms = 0;
    std::string what;
    std::string where; // "R231 left"
    ReportValue value;
};

struct HistoryLine {
    std::int64_t time_ms = 0;
    std::string bench;
    std::string text;
    bool struck = false;
    std::string entry;
};

struct Report {
    ReportFacts facts;
    std::string job;
    std::string unit; // "Orrinvale SA-260"; "Unit" when the sheet names none
    Sheet sheet;
    std::int64_t taken_in_ms = 0;
    std::vector<std::string> sheet_entries;
    std::vector<ReportPosition> positions;
    std::vector<ReadingRow> readings;
    std::vector<Proof> proofs;
    std::vector<ReportList> lists;
    Money money;
    std::vector<ReportCost> costs;
    std::vector<Said> off; // taken off and put back, one line each
    std::vector<Said> still_off;
    std::vector<ReportWanting> wanting; // open
    std::vector<ReportWanting> settled; // done or declined
    std::vector<Said> cautions;         // of the workings and of what is open
    std::vector<Said> not_tested;
    std::vector<Said> notes;
    std::vector<Said> recordings;
    std::vector<ReportPhoto> photos; // those chosen, in their order; all when none were chosen
    ClosingRecord closing;
    std::vector<Missing> missing; // before it can be handed back
    std::vector<ReportWorking> workings;
    std::vector<ReportReading> all_readings;
    std::vector<HistoryLine> history;
};

/// Pure: the same journal and facts give the same report.
[[nodiscard]] Report make_report(const Job& job, const BenchBook& book, const ReportFacts& facts);

/// "Q214 left"
[[nodiscard]] std::string position_name(const PositionRecord& position);

/// What one entry says, in a line: "Reading: idle volts across R231, left, 96.0 mV".
[[nodiscard]] std::string history_text(const Job& job, const Entry& entry);

/// "12 March 2025", "12 March 2025, 14:05"
[[nodiscard]] std::string long_date(std::int64_t time_ms, int utc_offset_minutes);
[[nodiscard]] std::string date_and_time(std::int64_t time_ms, int utc_offset_minutes);

} // namespace railside
