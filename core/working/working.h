// A working: one calculation of the bench, declared once. The form, the keypad, the command line,
// JSON, the stored entry and the report all read this declaration; nothing about a working is
// written anywhere else.
#pragma once

#include "core/quantity/amount.h"
#include "core/quantity/unit.h"
#include "core/result.h"

#include <cstddef>
#include <map>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace railside {

enum class FieldKind {
    amount,    // a value with unit and interval
    choice,    // one of a few words
    text,      // free text
    device,    // a transistor: a type number of the parts table, or the text of a SPICE .model card
    recording, // a file of samples: the word is its name, the bytes are in Input::data
};

/// The longest text a device field takes, bytes: several times any model card.
inline constexpr std::size_t k_most_device_bytes = 4096;
/// The largest file a recording field takes, bytes.
inline constexpr std::size_t k_most_recording_bytes = 64'000'000;

enum class Need {
    required, // the working cannot answer without it
    optional, // it answers without it, with what that costs said in the result
};

/// One of the words a choice field takes.
struct Choice {
    std::string_view key;   // "one" in JSON, commands
    std::string_view label; // "one resistor" on the screen
};

/// How the interval of an amount comes to be when only a value is given.
enum class Spread {
    exact,     // targets, nominal values: no interval unless the text gives one
    count,     // a whole number; never an interval
    tolerance, // value·(1 ± default_spread), a fraction; parts
    meter,     // the instrument's accuracy; readings
};

/// A field that is asked for only while a choice field of the same working stands at certain words.
struct Condition {
    std::string_view field = {}; // the choice field's key; empty: always asked for
    std::string_view words = {}; // its words, parted by spaces
};

/// One input. Numbers in SI base units.
struct Field {
    std::string_view key = {};    // "emitter_resistor"; the option is --emitter-resistor
    std::string_view label = {};  // "Emitter resistor"
    std::string_view symbol = {}; // "R_E": letter, underscore, subscript (set as one); or empty
    std::string_view help = {};   // one sentence: what it is and where to find it
    FieldKind kind = FieldKind::amount;
    Need need = Need::required;
    Unit unit = Unit::ratio;
    double low = 0;                   // accepted range, both ends accepted
    double high = 0;                  //
    double usual_low = 0;             // outside this the keypad calls it unusual and asks once more
    double usual_high = 0;            //
    std::string_view by_default = {}; // the text a fresh form starts with ("0R22"); empty for none
    Spread spread = Spread::exact;
    double default_spread = 0; // Spread::tolerance: fraction
    std::span<const Choice> choices = {};
    Condition when = {};     // an input given while it does not hold is kept, and not used
    bool takes_open = false; // amounts: takes "OL" as well, which stands for `high`, exactly
};

/// Where an input came from; shown beside it and stored.
enum class Origin {
    typed,      // keyed in
    measured,   // a reading of this job
    job,        // known from the job (rails, resistors, pairs)
    by_default, // the field's own default
    table,      // the parts table or a model card
};
[[nodiscard]] std::string_view origin_key(Origin origin);
[[nodiscard]] std::optional<Origin> origin_from_key(std::string_view key);

/// The value given for a field. `text` is exactly what was typed and is never lost.
struct Input {
    Amount amount;    // amount fields
    std::string word; // choice: the key; text: the text; device: type number or card; recording:
                      // the file's name
    std::string text; // as typed
    Origin from = Origin::typed;
    std::shared_ptr<const std::string> data = nullptr; // recording: the file's bytes
};
using Inputs = std::map<std::string, Input, std::less<>>; // by field key; absent = not given

enum class VerdictState {
    in_window,   // the whole interval lies inside
    at_the_edge, // the interval straddles a limit
    outside,     // the whole interval lies outside
    undecided,   // nothing to judge against, or not enough known
};
[[nodiscard]] std::string_view verdict_key(VerdictState state);
[[nodiscard]] std::optional<VerdictState> verdict_from_key(std::string_view key);

struct Verdict {
    VerdictState state = VerdictState::undecided;
    std::string word;   // "outside, high": at most three words, for the badge
    std::string reason; // one sentence with figures
};

/// One computed figure.
struct Figure {
    std::string key;    // "idle_current"
    std::string label;  // "Idle current, each device"
    std::string symbol; // "I_q"
    Amount amount;
};

/// What a curve or a mark stands for; the plot gives each its look.
enum class CurveRole {
    as_found, // computed from this reading
    target,   // at the service target
    optimum,  // the best possible
    plus,     // the + half
    minus,    // the − half
    limit,    // a bound
    window,   // a band: two points per curve, low and high
    point,    // single marks
};
[[nodiscard]] std::string_view curve_role_key(CurveRole role);

struct Axis {
    std::string label; // "Output"
    Unit unit = Unit::ratio;
    std::vector<double> values;
};

struct Curve {
    std::string key;   // "as_found"
    std::string label; // "as found, 96 mV"
    CurveRole role = CurveRole::as_found;
    Axis x;
    Axis y;
};

/// How the curves want to be drawn.
enum class PlotKind {
    none,
    lines, // y over x, one line per curve; curves on other axes than the first's are not drawn
    bars,  // horizontal windows over x (y is the row), with points on them
};

/// Rows of words beside the figures: what a list of candidates or of steps needs.
struct OutcomeTable {
    std::string key;   // "ranking"
    std::string title; // "Candidates, best first"
    std::vector<std::string> columns;
    std::vector<std::vector<std::string>> rows; // each as long as columns
};

/// The answer. The first figure is the headline.
struct Outcome {
    std::vector<Figure> figures;
    std::string headline_note; // beside the headline: "411–464 mA each, 1 pair"
    Verdict verdict;
    std::vector<std::string> cautions; // what can hurt here
    std::vector<std::string>
        notes; // what was assumed, which device constants were used, what to do next
    PlotKind plot = PlotKind::none;
    std::vector<Curve> curves;
    std::vector<OutcomeTable> tables = {}; // a key names one table
};

/// One entry of the catalogue.
struct Working {
    std::string_view key;      // "idle": command, JSON, stored entry
    std::string_view name;     // "Idle current"
    std::string_view question; // "How much current flows with nothing playing?"
    std::span<const Field> fields;
    Result<Outcome> (*compute)(
        const Inputs& inputs);       // pure; inputs already checked against the fields
    std::string_view equations = {}; // what it rests on, by name: "Ohm's law across R_E"
};

/// Every working, in the order they are offered.
[[nodiscard]] std::span<const Working> catalogue();
[[nodiscard]] const Working* find_working(std::string_view key);
[[nodiscard]] const Field* find_field(const Working& working, std::string_view key);

/// A figure as it is shown: three digits, a plain count without decimals ("0", "12").
[[nodiscard]] std::string figure_text(const Amount& amount);

/// Reads one typed text into an input of that field: value, interval from the field's spread (for
/// meter fields `accuracy`, or MeterAccuracy{0.005, 3} when none is given), or a choice's word. A
/// text may carry its own tolerance: "0R22 ±5 %", "0R22 5%", "96 mV ±0.8 mV". Errors: bad_text,
/// out_of_range (names label, value and accepted range). A recording's text is the file's name;
/// whoever can open files adds the bytes as Input::data.
[[nodiscard]] Result<Input> read_input(const Field& field, std::string_view text,
                                       std::optional<MeterAccuracy> accuracy = std::nullopt);

/// Whether a field is asked for among these inputs (with_defaults already applied).
[[nodiscard]] bool applies(const Field& field, const Inputs& inputs);

/// Whether an amount is the "OL" of a field that takes one.
[[nodiscard]] inline bool is_open(const Field& field, const Amount& amount) {
    return field.takes_open && amount.value >= field.high;
}

/// "0.01 to 10 Ω", or the choices: the accepted form of a field, for refusals, help and the keypad.
[[nodiscard]] std::string accepted_form(const Field& field);

/// Whether an input may stand in that field, wherever it came from: its unit, a finite ordered
/// interval, the range, a whole number for a count, one of the words for a choice, the size of a
/// device's text and of a recording. A recording passes without its bytes, as a kept entry has it;
/// run_working refuses that. Errors name the label, the value and what is accepted.
[[nodiscard]] Result<Done> check_input(const Field& field, const Input& input);

/// What the keypad asks once more about, as a sentence; empty for a usual value.
[[nodiscard]] std::string unusual_reason(const Field& field, double value);

/// Checks that required fields are there and all are in range, fills in defaults, then computes. A
/// recording that is only a name is refused as not here (missing). No NaN or infinity ever leaves:
/// such a result is an Error of code contradictory.
[[nodiscard]] Result<Outcome> run_working(const Working& working, const Inputs& inputs);

/// The inputs run_working would use: given ones plus defaults for those that are absent and apply.
[[nodiscard]] Inputs with_defaults(const Working& working, Inputs inputs);

} // namespace railside
