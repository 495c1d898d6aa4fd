// The parts table: what the published data sheets say of bipolar transistors that audio amplifiers
// use, read from text (the form is in parts.md beside this file), and how a type is found in it by
// what is printed on a body.
//
// A figure that no source gave is not there: it is unknown, never nought and never a pass. SI
// units; a pnp's volts and amperes are given without their sign.
#pragma once

#include "core/device/role.h"
#include "core/result.h"

#include <cstddef>
#include <map>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace railside {

enum class PartKind {
    single,         // one transistor
    darlington,     // two, usually with base-emitter resistors inside
    base_resistors, // a transistor with resistors at its base: a gain test means nothing
};
[[nodiscard]] std::string_view part_kind_key(PartKind kind);
[[nodiscard]] std::optional<PartKind> part_kind_from_key(std::string_view key);

enum class Material { silicon, germanium };

/// Where the rated dissipation holds.
enum class PowerAt {
    case_25,    // case held at 25 °C
    ambient_25, // in free air at 25 °C
    mount_70,   // mounting base held at 70 °C
};

/// Whether a transition frequency is the least or the usual one.
enum class Stated { minimum, typical };

/// Whether the mounting face is insulated from the collector.
enum class Insulation { unknown, no, yes };

/// One gain group of a type: what the letter (or number) after the type promises.
struct GainGroup {
    std::string mark; // "O", "GR", "-16"
    double low = 0;
    double high = 0; // at least low

    friend bool operator==(const GainGroup&, const GainGroup&) = default;
};

/// One point of the direct-current safe area: the least current the sheet allows at that voltage.
struct SafePoint {
    double volts = 0;
    double amperes = 0;

    friend bool operator==(const SafePoint&, const SafePoint&) = default;
};

/// One type. Empty optionals and texts are unknown.
struct Part {
    std::string type; // as registered: "2SC5200"
    Polarity polarity = Polarity::npn;
    Material material = Material::silicon;
    PartKind kind = PartKind::single;
    std::optional<double> ceo_v;       // collector-emitter, base open
    std::optional<double> cbo_v;       // collector-base, emitter open
    std::optional<double> ebo_v;       // emitter-base, collector open
    std::optional<double> collector_a; // direct current
    std::optional<double> power_w;     // at power_at
    PowerAt power_at = PowerAt::case_25;
    std::optional<double> gain_low;  // at gain_a
    std::optional<double> gain_high; // at gain_a
    std::optional<double> gain_a;
    std::optional<double> gain_ce_v;
    std::vector<GainGroup> groups;
    std::optional<double> transit_hz; // f_T
    Stated transit_is = Stated::typical;
    std::optional<double> output_f;     // C_ob
    std::optional<double> junction_c;   // greatest junction temperature
    std::optional<double> case_k_per_w; // junction to case
    std::vector<SafePoint> safe;        // rising volts
    std::string package;                // "TO-264"
    std::string leads;                  // "BCE": marking towards you, leads down, left to right
    Insulation insulated = Insulation::unknown;
    std::string complement;         // its opposite number
    std::vector<std::string> notes; // keys of PartsTable::notes
    std::string source;             // what the figures rest on

    // From a SPICE card, not from a sheet.
    bool from_card = false;          // ceo_v is then a field that often holds V_CBO
    std::optional<double> card_gain; // at card_gain_a, 25 °C, of the card's typical device
    double card_gain_a = 0;
};

/// A table as read.
struct PartsTable {
    std::vector<Part> parts;
    std::map<std::string, std::string, std::less<>> notes; // what to tell the technician, by key
    std::vector<std::string> left_out;                     // rows that were not taken, and why
};

/// Reads a table (parts.md); at most 1 MB. `source` names the text in sentences. A row that does
/// not fit is left out whole, with a sentence that names its line, the column, the value and what
/// is accepted. Errors (bad_text): too long, not UTF-8, no heading, a heading without the columns
/// type, polarity and source, or with one twice.
[[nodiscard]] Result<PartsTable> read_parts_table(std::string_view text, std::string_view source);

/// The table that travels inside the program.
[[nodiscard]] const PartsTable& builtin_parts();

/// The sentence of a note's key; empty for one that is not there.
[[nodiscard]] std::string_view note_of(const PartsTable& table, std::string_view key);

/// A type found by what somebody typed or read off a body.
struct FoundPart {
    const Part* part = nullptr;
    std::optional<GainGroup> group; // when the text carries one of the type's groups
    std::string rest;               // what follows the type and is no gain group ("G", "TA")
    bool rest_is_known = true;      // false: it may mean another voltage or lead order
};

/// Letters in either case; spaces, dashes and brackets between them mean nothing: "mj 15003g". The
/// 2S that Japanese bodies leave out may be missing ("C5200"). What follows the type may be a gain
/// group of it ("BC547B", "BC327-25"), or lead-free and packing letters. A further figure is
/// another type: "2N30556" is not the 2N3055.
[[nodiscard]] std::optional<FoundPart> find_part(const PartsTable& table, std::string_view text);

/// The same type, whichever way each is written: letters and digits alone count, the 2S of a
/// Japanese body may be missing.
[[nodiscard]] bool same_type(std::string_view a, std::string_view b);

/// The least and greatest gain: of the group when there is one, else of the type.
struct GainWindow {
    std::optional<double> low;
    std::optional<double> high;
};
[[nodiscard]] GainWindow gain_window(const Part& part, const std::optional<GainGroup>& group);

/// A part of one's own from the text of a SPICE .model card (core/device/model_card.h): polarity
/// and gain from its constants, ratings from Vceo=, Icrating= and mfg= where the library adds them.
/// All else is unknown. Errors: those of read_bipolar_card; out_of_range for a rating that is none.
[[nodiscard]] Result<Part> part_from_card(std::string_view text, std::string_view source);

/// Whether a text is a SPICE card rather than a type.
[[nodiscard]] bool looks_like_card(std::string_view text);

/// How the lead orders of two parts stand to each other.
enum class LeadOrder {
    unknown,   // one of them is
    same,      // one for one
    mirrored,  // the same from the other end
    different, // neither
};
[[nodiscard]] LeadOrder compare_leads(const Part& a, const Part& b);

/// "B C E", "B E, case C"; "not known" for an empty one.
[[nodiscard]] std::string leads_text(const Part& part);

/// Bodies that go onto the same fixing.
enum class Mount {
    unknown,
    to3,       // two screws, case is the collector
    to3_small, // TO-66
    large,     // TO-264, TO-3P(L): one screw, wide
    plate,     // TO-247, TO-218, TO-3P: one screw
    multi,     // MT-200: two screws, flat
    to220,     // one screw, 10 mm wide, bare or molded
    to126,     // one screw, 8 mm wide
    to92,      // none, three leads in a line
    can,       // TO-39, TO-18
    surface,   // soldered flat
};
[[nodiscard]] Mount mount_of(std::string_view package);

/// "TO3P" and "to-3p" are the same body.
[[nodiscard]] bool same_package(std::string_view a, std::string_view b);

} // namespace railside
