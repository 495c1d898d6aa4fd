// A job: what its entries add up to. Folding is pure; the same entries in any order give the same
// job (they are sorted by id).
#pragma once

#include "core/job/entry.h"
#include "core/job/list.h"
#include "core/job/reading.h"
#include "core/quantity/amount.h"

#include <optional>
#include <span>
#include <string>
#include <vector>

namespace railside {

enum class Channel {
    none,  // not bound to one
    left,  //
    right, //
};
[[nodiscard]] std::string_view channel_key(Channel channel);   // "", "left", "right"
[[nodiscard]] std::string_view channel_label(Channel channel); // "", "left", "right"
[[nodiscard]] std::optional<Channel> channel_from_key(std::string_view key);

enum class Half {
    none,  // both, neither, or not known
    plus,  // towards the + rail
    minus, //
};
[[nodiscard]] std::string_view half_key(Half half);   // "", "plus", "minus"
[[nodiscard]] std::string_view half_label(Half half); // "", "+", "−"
[[nodiscard]] std::optional<Half> half_from_key(std::string_view key);

enum class Standing {
    valid,  //
    struck, // retracted; stays visible in the history
};

/// What every folded record carries of its entry.
struct Source {
    std::string entry; // id of the entry that made it
    std::int64_t time_ms = 0;
    Standing standing = Standing::valid;
};

/// Where a job stands.
enum class JobState {
    waiting,             // taken in, not begun; also a sheet that says nothing
    on_the_bench,        //
    waiting_for_parts,   //
    waiting_for_client,  // an answer about money or use is asked for
    ready,               // done, not fetched yet
    handed_back,         //
    returned_unrepaired, //
    other,               // a word of the person's own
};
/// The word in the sheet and on the screen: "on the bench". Empty for `other`.
[[nodiscard]] std::string_view job_state_word(JobState state);
/// All but `other`, in the order a job goes through them.
[[nodiscard]] std::span<const JobState> all_job_states();
[[nodiscard]] JobState job_state_from_word(std::string_view word);
/// Whether the unit has left the bench's care, so that the shelf may put it last.
[[nodiscard]] bool is_closed(JobState state);

/// The front page. Money in whole and hundredths of the currency, as a decimal number.
struct Sheet {
    std::string maker;
    std::string model;
    std::string serial;
    std::string year;
    std::string complaint;
    std::string accessories; // what came with it
    std::string condition;   // as received: dents, missing screws
    std::string state;       // "on the bench", ... (job_state_from_word)
    std::string currency;
    double agreed_limit = 0; // 0: none agreed
    double spent = 0;        // typed in as one sum, beside the costs
    double hourly_rate = 0;  // 0: none
    // what the job knows of the unit, for the workings' fields: field key -> text as typed ("rail"
    // -> "40")
    std::vector<std::pair<std::string, std::string>> known;
};

struct PositionRecord {
    Source source;
    std::string designator; // "Q214"
    Channel channel = Channel::none;
    std::string role; // core/device role key
    std::string printed_type;
    std::string fitted_type;
    std::string fitted_by; // "maker", "earlier shop", "this bench"
    std::string state;     // "untested", "good", "suspect", "bad", "replaced"
    std::string note;
    Half half = Half::none;
    std::string sister; // entry id of the same position in the other channel, or empty
};

struct ReadingRecord {
    Source source;
    std::string what; // "idle volts across R_E"
    Channel channel = Channel::none;
    std::string position; // entry id of the position, or empty
    std::string field;    // the working's field it answers ("reading"), or empty
    Amount amount;
    std::string text;       // as typed
    std::string conditions; // what the person adds to `when`
    std::string instrument; // its name
    ReadingKind kind = ReadingKind::other;
    Conditions when;
    std::string instrument_id = {}; // its entry in the bench's book (book.h), or empty
};

struct KeptWorking {
    Source source;
    std::string working; // catalogue key
    Channel channel = Channel::none;
    nlohmann::json record;              // the working's JSON without its curves
    std::string replaces;               // id of the kept one it follows, or empty
    std::vector<std::string> uses = {}; // entry ids of the readings it was worked out from
};

enum class PhotoStage { as_received, earlier_work, taken_off, fitted, finished };
[[nodiscard]] std::string_view photo_stage_key(PhotoStage stage);
[[nodiscard]] std::string_view photo_stage_label(PhotoStage stage);
[[nodiscard]] std::optional<PhotoStage> photo_stage_from_key(std::string_view key);

struct PhotoRecord {
    Source source;
    std::string hash; // SHA-256 of the original's bytes, hex: its name in the vault
    std::string type; // "jpeg" or "png"
    int width = 0;    // upright, after orientation
    int height = 0;
    std::int64_t bytes = 0;
    PhotoStage stage = PhotoStage::as_received;
    std::string caption;
    std::string position; // entry id or empty
    Channel channel = Channel::none;
};

enum class MarkShape {
    ring,  // two points: opposite corners of the box the ring fills
    arrow, // two points: tail, tip
    line,  // two points or more, in order
    note,  // one point, where the text stands
};
[[nodiscard]] std::string_view mark_shape_key(MarkShape shape);
[[nodiscard]] std::optional<MarkShape> mark_shape_from_key(std::string_view key);

/// A place on a photo: fractions of its width and height, upright, from the upper left.
struct MarkPoint {
    double x = 0; // 0 to 1
    double y = 0;

    friend bool operator==(const MarkPoint&, const MarkPoint&) = default;
};

struct MarkRecord {
    Source source;
    std::string photo; // entry id
    MarkShape shape = MarkShape::ring;
    std::vector<MarkPoint> points;
    std::string text;
    std::string position; // entry id or empty
};

/// Two photos of the same thing.
struct PairRecord {
    Source source;
    std::string before; // entry id of a photo
    std::string after;
    std::string text;
};

/// A capture kept in the vault, any bytes.
struct RecordingRecord {
    Source source;
    std::string hash; // SHA-256 of its bytes, hex: its name in the vault
    std::string name; // the file's name as it was; never used as a path
    std::int64_t bytes = 0;
    Channel channel = Channel::none;
    std::string what; // "output, 8 Ω, just clipping"
    Conditions when;
    std::string conditions;
    std::string position;      // entry id or empty
    std::string instrument_id; // or empty
};

enum class CostType { part, work };

/// What a job cost, one line. A job's totals: money.h.
struct CostRecord {
    Source source;
    CostType type = CostType::part;
    std::string what;
    int count = 1;              // part
    double each = 0;            // part: price of one
    double minutes = 0;         // work
    std::optional<double> rate; // work: per hour; none: the sheet's
    std::string position;       // entry id or empty
};

/// Something removed in teardown. What is still off: teardown.h.
struct TakenOffRecord {
    Source source;
    std::string what;  // "mica washer"
    std::string where; // "Q214, under the tab"
    int count = 1;
    std::string photo; // entry id or empty
    Channel channel = Channel::none;
    std::string position; // entry id or empty
    std::string note;
};

struct PutBackRecord {
    Source source;
    std::string item; // entry id of what was taken off
    int count = 1;
    std::string note; // "new one, old one in the bag"
};

/// What leaving it undone puts at stake; the worst first.
enum class WantingRank {
    safety,      // someone may be hurt, or the house
    reliability, // it will fail, or take other parts with it
    sound,       // it works, and could be better
};
[[nodiscard]] std::string_view wanting_rank_key(WantingRank rank); // "safety"
[[nodiscard]] std::optional<WantingRank> wanting_rank_from_key(std::string_view key);

enum class WantingState {
    open,     // for the client to choose
    done,     //
    declined, // the client does not want it done
};
[[nodiscard]] std::string_view wanting_state_key(WantingState state); // "open"
[[nodiscard]] std::optional<WantingState> wanting_state_from_key(std::string_view key);

/// Work that is still wanting, as the client is asked about it.
struct WantingRecord {
    Source source;     // `entry` is its id, whatever changed it later
    std::string title; // "Replace the mains reservoir"
    std::string why;
    WantingRank rank = WantingRank::sound;
    double parts = 0;   // money
    double minutes = 0; // of work, at the sheet's rate
    WantingState state = WantingState::open;
    std::string position;       // entry id or empty
    std::string described = {}; // the entry that describes it now
};

/// What is said at handing back: all valid closing entries, the later ones over the earlier.
struct ClosingRecord {
    std::string words;
    /// Entry ids in the order the report shows them; nothing: not chosen yet, all are shown.
    std::optional<std::vector<std::string>> photos;
    /// What bars handing back and is let pass: its key (core/handover/missing.h), the reason.
    std::vector<std::pair<std::string, std::string>> overrides;
    // The line of fault knowledge for later jobs.
    std::string unit;    // empty: the sheet's
    std::string symptom; // empty: the sheet's complaint
    std::string cause;
    std::string cure;
    std::vector<std::string> entries = {}; // the ids it was folded from
};

/// Which amplifier the unit is, the same for each channel. The last valid one counts.
struct CircuitRecord {
    Source source;
    std::string name;      // "complementary followers, from this job's values"
    std::string netlist;   // SPICE text that stands by itself (core/circuit/netlist.md)
    std::string positions; // JSON (core/suspects/hunt.md)
    /// What the board calls an element: "left/q9" -> "Q214".
    std::vector<std::pair<std::string, std::string>> names = {};
};

/// What was found and is no measured value. What it is about is a key of the hunt
/// (core/suspects/hunt.h): "complaint/hot", "part/Q9", "reading/idle/v_re1".
struct FindingRecord {
    Source source;
    std::string about;
    std::string answer; // one of finding_answers()
    Channel channel = Channel::none;
    Half half = Half::none; // of a complaint
};
/// "yes" and "no" of a complaint; of a part "good", "bad" (not said how), "shorted", "leaky",
/// "open", "low_gain", "changed"; of anything "unknown": it could not be had.
[[nodiscard]] std::span<const std::string_view> finding_answers();

struct NoteRecord {
    Source source;
    std::string text;
};

enum class StepState { open, done, skipped };

struct StepRecord {
    ListStep step;
    StepState state = StepState::open;
    std::string answer; // the choice taken, the reading as typed, the reason for skipping
    std::int64_t time_ms = 0;
    std::string tick;      // id of the entry that decided, or empty
    std::string why_open;  // the sentence that says why an answer did not tick the step, or empty
    std::string barred_by; // text of the step that bars this one, or empty
    std::string refused_tick = {}; // id of the last tick, made while the step was barred, that does
                                   // not count; or empty
};

struct ListRecord {
    Source source;
    std::string key;  // "first_power"
    std::string name; // "First power on the series lamp"
    std::string intro;
    std::vector<StepRecord> steps;
    [[nodiscard]] int done() const; // done or skipped
};

struct Job {
    std::string id;
    std::int64_t begun_ms = 0;
    std::int64_t touched_ms = 0; // time of the latest entry
    Standing standing =
        Standing::valid; // struck with its first entry: off the shelf, its sheet still readable
    Sheet sheet;
    std::vector<PositionRecord> positions;
    std::vector<ReadingRecord> readings;
    std::vector<KeptWorking> kept; // oldest first
    std::vector<PhotoRecord> photos;
    std::vector<NoteRecord> notes;
    std::vector<ListRecord> lists;
    std::vector<MarkRecord> marks;
    std::vector<PairRecord> pairs;
    std::vector<RecordingRecord> recordings;
    std::vector<CostRecord> costs;
    std::vector<TakenOffRecord> taken_off; // as they came off
    std::vector<PutBackRecord> put_back;
    std::vector<WantingRecord> wanting;
    ClosingRecord closing;
    std::vector<CircuitRecord> circuits;
    std::vector<FindingRecord> findings;
    std::vector<Entry> entries;      // all, sorted by id: the history
    std::vector<std::string> struck; // ids struck now

    [[nodiscard]] const KeptWorking* last_kept() const; // latest valid, or null
    [[nodiscard]] const KeptWorking* last_kept(std::string_view working, Channel channel) const;
    [[nodiscard]] const CircuitRecord* circuit() const; // latest valid, or null
    [[nodiscard]] std::optional<std::string> known(std::string_view field) const; // sheet.known
};

/// The ids struck now, by the rule of journal.md, among entries of one job (or the bench's book)
/// sorted by id; those that check_entry refuses are passed over. Sorted.
[[nodiscard]] std::vector<std::string> struck_entries(std::span<const Entry> sorted);

/// Folds entries of one job (others are ignored) into it. Entries that check_entry refuses stay in
/// `entries` and change nothing else. A job entry must be among them, else not_found.
[[nodiscard]] Result<Job> fold_job(std::string_view job, std::span<const Entry> entries);

/// The bodies, ready for the journal. Empty members are left out.
[[nodiscard]] nlohmann::json sheet_body(const Sheet& sheet);
[[nodiscard]] nlohmann::json position_body(const PositionRecord& position);
/// A later entry's body, naming only what differs, so that changes made on two benches to different
/// members both stay.
[[nodiscard]] nlohmann::json sheet_change(const Sheet& before, const Sheet& after);
/// `after` keeps the designator and channel of `before`: these two are the position's identity.
[[nodiscard]] nlohmann::json position_change(const PositionRecord& before,
                                             const PositionRecord& after);
[[nodiscard]] nlohmann::json reading_body(const ReadingRecord& reading);
[[nodiscard]] nlohmann::json photo_body(const PhotoRecord& photo);
[[nodiscard]] nlohmann::json kept_body(const KeptWorking& kept);
[[nodiscard]] nlohmann::json mark_body(const MarkRecord& mark);
[[nodiscard]] nlohmann::json pair_body(const PairRecord& pair);
[[nodiscard]] nlohmann::json recording_body(const RecordingRecord& recording);
[[nodiscard]] nlohmann::json cost_body(const CostRecord& cost);
[[nodiscard]] nlohmann::json taken_off_body(const TakenOffRecord& item);
[[nodiscard]] nlohmann::json put_back_body(const PutBackRecord& back);
[[nodiscard]] nlohmann::json wanting_body(const WantingRecord& wanting);
/// The body that changes the wanting of that id: as wanting_body, naming it.
[[nodiscard]] nlohmann::json wanting_change(std::string_view id, const WantingRecord& wanting);
/// Names only what differs; an override that is gone is named with an empty reason.
[[nodiscard]] nlohmann::json closing_change(const ClosingRecord& before,
                                            const ClosingRecord& after);
[[nodiscard]] nlohmann::json circuit_body(const CircuitRecord& circuit);
[[nodiscard]] nlohmann::json finding_body(const FindingRecord& finding);
[[nodiscard]] nlohmann::json list_body(const StepList& list);
/// `answer`: reading as typed, choice, or the reason for skipping (then required).
[[nodiscard]] nlohmann::json tick_body(std::string_view list_entry, std::string_view step,
                                       StepState state, std::string_view answer);
[[nodiscard]] nlohmann::json strike_body(std::string_view entry, Standing standing);

} // namespace railside
