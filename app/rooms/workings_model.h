// The Workings room: one working's form filled from the job, its answer, its plot.
#pragma once

#include "app/rooms/header_model.h"
#include "app/rooms/plot_model.h"
#include "app/rooms/state.h"
#include "core/job/book.h"

#include <functional>
#include <memory>

namespace railside {

struct FieldRow {
    std::string key;
    std::string label;
    std::string symbol;
    std::string value;  // "0.22 Ω"; empty when not given
    std::string spread; // "±5 %"
    std::string origin; // "keyed", "reading 14:32", "from the sheet", "usual"
    bool is_choice = false;
    bool required = false;
    std::vector<std::pair<std::string, std::string>> words; // choices: key, label
    std::string word;                                       // the chosen key
    std::string refusal;
    bool leads = false; // stands above the answer; the others follow below
};

struct WorkingsShown {
    std::string key;
    std::string name;
    std::string question;
    std::vector<FieldRow> rows;

    bool answered = false;
    std::string missing;        // what is still wanted, or why there is no answer
    std::string headline;       // "436 mA"
    std::string headline_label; // "Idle current, each device"
    std::string headline_symbol;
    std::string headline_note;
    VerdictState state = VerdictState::undecided;
    std::string word;
    std::string reason;
    std::vector<std::string> cautions;
    std::string caution; // all of them, as one text
    std::vector<std::string> notes;
    struct FigureRow {
        std::string key, label, symbol, value, range;
    };
    std::vector<FigureRow> figures; // all but the headline
    struct TableRow {
        std::string head;  // the first cell
        std::string lines; // the other cells with their columns' names, one a line
    };
    struct Table {
        std::string key, title;
        std::vector<TableRow> rows;
    };
    std::vector<Table> tables;
    struct SourceRow {
        std::string key, label, value, origin;
        std::string entry; // of the job, that the value came from
    };
    std::vector<SourceRow> sources; // of the values that came from an entry
    std::vector<PlotShown> plots;   // the first says most
    std::string keep_label;         // "Keep with left channel"
    bool kept_already = false;      // the last kept one of this channel has the same inputs
    std::string read_with;          // how its readings are taken; empty where it asks for none

    struct Offer {
        std::string key, name, question;
        std::string last; // last kept result in this job, or empty
    };
    std::vector<Offer> offers; // the catalogue
};

/// The text a field stands at for this channel: set at the bench in this job, the latest reading,
/// known of the unit, or the default.
struct FieldStand {
    std::string text;
    Origin from = Origin::by_default;
    std::string note;                            // "14:32" for a reading
    std::string entry;                           // of the job, that it came from; may be empty
    std::optional<Amount> amount = std::nullopt; // of a reading: with its instrument's interval
};
/// The bench's instruments and the one that is chosen: what they settle (a gain tester's current,
/// an ohmmeter's battery and mid-scale, a meter's diode test) stands before a field's default.
struct OwnInstruments {
    const BenchBook* book = nullptr; // null: none are known
    std::string_view chosen = {};    // id; else the first of its type
};
[[nodiscard]] std::optional<FieldStand> field_stand(const Job& job, const Working& working,
                                                    const Field& field, Channel channel,
                                                    const Clock& clock,
                                                    const OwnInstruments& own = {});

/// All inputs that can be had from the job; refusals by field key. `typing`: a value on the keypad
/// that stands in for its field while it would be accepted.
struct GatheredInputs {
    Inputs inputs;
    std::vector<std::pair<std::string, Error>> refused;
    std::vector<std::string> readings; // entries of the readings and recordings among them
};
/// The bytes of a recording by its hash; null when the vault has them no longer.
using RecordingSource = std::function<std::shared_ptr<const std::string>(const std::string& hash)>;

[[nodiscard]] GatheredInputs gather_inputs(const Job& job, const Working& working, Channel channel,
                                           const Clock& clock, const KeypadState* typing = nullptr,
                                           const RecordingSource& recordings = {},
                                           const OwnInstruments& own = {});

[[nodiscard]] WorkingsShown make_workings(const AppState& state, const Job& job, const Clock& clock,
                                          const RecordingSource& recordings = {},
                                          const BenchBook* book = nullptr);

/// The keypad opened on a field of the working on the screen.
[[nodiscard]] KeypadState make_field_keypad(const AppState& state, const Job& job,
                                            const Working& working, const Field& field,
                                            const Clock& clock, const BenchBook* book = nullptr);

/// Where a set value is remembered in the sheet: "idle.left.emitter_resistor".
[[nodiscard]] std::string known_key(const Working& working, const Field& field, Channel channel);

} // namespace railside
