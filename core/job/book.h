// The bench's book: what this bench owns and how it likes to work, apart from any job. Instruments,
// the drawer and edited lists are entries like all others whose `job` is k_bench_book; the fold is
// pure. The grammar of their bodies is in journal.md beside this file.
#pragma once

#include "core/job/job.h"
#include "core/quantity/amount.h"

#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace railside {

enum class InstrumentType {
    meter,       // a multimeter: accuracy for each kind of reading, its diode test
    ohmmeter,    // a moving coil behind a battery: mid-scale of each range
    gain_tester, // reads h_FE at one base or collector current
    lamp,        // a series lamp
    other,       // anything else, and what entries of other versions say
};
[[nodiscard]] std::string_view instrument_type_key(InstrumentType type);
[[nodiscard]] std::string_view instrument_type_label(InstrumentType type); // "series ohmmeter"
[[nodiscard]] InstrumentType instrument_type_from_key(std::string_view key);

/// One range of a series ohmmeter.
struct OhmRange {
    std::string name;         // "×1k"
    double mid_scale_ohm = 0; // above 0
    double battery_v = 0;     // 0: the instrument's own

    friend bool operator==(const OhmRange&, const OhmRange&) = default;
};

struct Instrument {
    Source source; // `entry` is the instrument's id, whatever changed it later
    InstrumentType type = InstrumentType::other;
    std::string name;
    std::string note;
    std::vector<std::pair<ReadingKind, MeterAccuracy>> accuracy; // meter
    double test_a = 0;    // meter: current of its diode test; gain tester: collector current
    double open_v = 0;    // meter: what its diode test shows at most
    double battery_v = 0; // ohmmeter
    double arc_error = 0; // ohmmeter: fraction of the arc the needle may be off
    std::vector<OhmRange> ranges; // ohmmeter
    double power_w = 0;           // lamp, as printed on it
    double volts_v = 0;           // lamp, as printed on it

    /// What it states for that kind of reading; millivolts and peak volts fall back on volts.
    [[nodiscard]] std::optional<MeterAccuracy> accuracy_for(ReadingKind kind) const;
};

/// A list of steps as this bench wants it, in place of the one of that key that comes with the
/// program.
struct BookList {
    Source source;
    StepList list;
    std::string text; // as written
};

struct BenchBook {
    std::vector<Instrument> instruments; // valid and struck, in order of their ids
    std::string drawer;                  // the grammar of core/device/drawer.h; not checked here
    std::string minutes;                 // that of core/suspects/minutes.h; not checked here
    std::vector<BookList> lists;         // at most one of each key
    std::vector<Entry> entries;          // all that were written, sorted by id
    std::vector<std::string> struck;

    [[nodiscard]] const Instrument* instrument(std::string_view id) const; // also a struck one
    [[nodiscard]] const BookList* list(std::string_view key) const;
};

/// What every bench owns to begin with, so that the first reading has an instrument to name: a
/// common meter, a series ohmmeter, a gain tester and three lamps. They are never written; their
/// ids are the same on every bench and sort before all others, so they are changed and struck like
/// written ones. Figures are of ordinary instruments of their class, meant to be replaced.
[[nodiscard]] std::span<const Entry> starting_entries();

/// Folds the bench's entries (others are ignored), in any order, upon starting_entries().
[[nodiscard]] BenchBook fold_book(std::span<const Entry> entries);

[[nodiscard]] nlohmann::json instrument_body(const Instrument& instrument);
/// The body that changes that instrument: as instrument_body, naming it.
[[nodiscard]] nlohmann::json instrument_change(std::string_view id, const Instrument& instrument);
[[nodiscard]] nlohmann::json drawer_body(std::string_view text);
[[nodiscard]] nlohmann::json minutes_body(std::string_view text);
/// Empty `text`: the list that comes with the program again.
[[nodiscard]] nlohmann::json list_text_body(std::string_view key, std::string_view text);

} // namespace railside
