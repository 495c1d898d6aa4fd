#include "core/device/parts.h"

#include "core/quantity/ascii.h"
#include "core/quantity/refusal.h"
#include "core/quantity/value_code.h"
#include "core/words/words.h"
#include "parts_table.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <functional>
#include <utility>

namespace railside {

namespace {

constexpr std::size_t k_most_bytes = 1'000'000;
constexpr std::size_t k_longest_text = 400;
constexpr std::size_t k_longest_type = 24;

char upper(char c) { return c >= 'a' && c <= 'z' ? static_cast<char>(c - 'a' + 'A') : c; }
/// Letters and figures alone, letters large.
std::string plain_key(std::string_view text) {
    std::string key;
    for (const char raw : text) {
        const char c = upper(raw);
        if (is_digit(c) || (c >= 'A' && c <= 'Z')) {
            key += c;
        }
    }
    return key;
}

/// The type as registered: a Japanese body leaves out "2S", or prints "S".
std::string registered_key(std::string key) {
    const auto is_japanese = [](std::string_view rest) {
        return rest.size() >= 3 && rest[0] >= 'A' && rest[0] <= 'D' && is_digit(rest[1]) &&
               is_digit(rest[2]);
    };
    if (is_japanese(key)) {
        return "2S" + key;
    }
    if (key.size() > 1 && key[0] == 'S' && is_japanese(std::string_view(key).substr(1))) {
        return "2" + key;
    }
    return key;
}

std::string_view trimmed(std::string_view text) {
    const std::size_t first = text.find_first_not_of(' ');
    if (first == std::string_view::npos) {
        return {};
    }
    return text.substr(first, text.find_last_not_of(' ') - first + 1);
}

std::vector<std::string_view> split(std::string_view text, char at) {
    std::vector<std::string_view> pieces;
    while (true) {
        const std::size_t end = text.find(at);
        pieces.push_back(trimmed(text.substr(0, end)));
        if (end == std::string_view::npos) {
            return pieces;
        }
        text.remove_prefix(end + 1);
    }
}

/// The words between spaces.
std::vector<std::string_view> words_of(std::string_view text) {
    std::vector<std::string_view> words = split(text, ' ');
    words.erase(std::remove(words.begin(), words.end(), std::string_view{}), words.end());
    return words;
}

/// Why a cell does not fit, or nothing.
using Trouble = std::optional<std::string>;

template <class Value, std::size_t N>
Trouble take_word(std::string_view cell,
                  const std::array<std::pair<std::string_view, Value>, N>& words, Value& to) {
    std::string known;
    for (const auto& [word, value] : words) {
        if (word == cell) {
            to = value;
            return std::nullopt;
        }
        known += fmt::format("{}{}", known.empty() ? "" : ", ", word);
    }
    return worded("is none of {}", known);
}

Trouble take_number(std::string_view cell, Unit unit, double low, double high, double& to) {
    const Result<ParsedValue> read = parse_value(cell, unit, "");
    if (!read) {
        return worded("is not a value; {} to {} is accepted", print_short(low, unit),
                      print_short(high, unit));
    }
    if (!(read->value >= low && read->value <= high)) {
        return worded("lies outside {} to {}", print_short(low, unit), print_short(high, unit));
    }
    to = read->value;
    return std::nullopt;
}

Trouble take_text(std::string_view cell, std::size_t longest, std::string& to) {
    if (cell.size() > longest) {
        return worded("is longer than {} letters", longest);
    }
    to = cell;
    return std::nullopt;
}

Trouble take_type(std::string_view cell, std::string& to) {
    const std::string key = plain_key(cell);
    if (key.size() < 2 || std::none_of(key.begin(), key.end(), is_digit)) {
        return "is no type number: letters and figures were expected";
    }
    return take_text(cell, k_longest_type, to);
}

constexpr std::array<std::pair<std::string_view, PartKind>, 3> k_kinds{{
    {"single", PartKind::single},
    {"darlington", PartKind::darlington},
    {"base_resistors", PartKind::base_resistors},
}};
constexpr std::array<std::pair<std::string_view, Polarity>, 2> k_polarities{{
    {"npn", Polarity::npn},
    {"pnp", Polarity::pnp},
}};
constexpr std::array<std::pair<std::string_view, Material>, 2> k_materials{{
    {"si", Material::silicon},
    {"ge", Material::germanium},
}};
constexpr std::array<std::pair<std::string_view, PowerAt>, 3> k_power_at{{
    {"case25", PowerAt::case_25},
    {"ambient25", PowerAt::ambient_25},
    {"mount70", PowerAt::mount_70},
}};
constexpr std::array<std::pair<std::string_view, Stated>, 2> k_stated{{
    {"min", Stated::minimum},
    {"typ", Stated::typical},
}};
constexpr std::array<std::pair<std::string_view, Insulation>, 3> k_insulated{{
    {"no", Insulation::no},
    {"yes", Insulation::yes},
    {"unknown", Insulation::unknown},
}};

Trouble take_groups(std::string_view cell, std::vector<GainGroup>& to) {
    for (const std::string_view word : words_of(cell)) {
        const std::size_t colon = word.find(':');
        const std::size_t dash = colon == std::string_view::npos ? colon : word.find('-', colon);
        if (colon == std::string_view::npos || colon == 0 || dash == std::string_view::npos) {
            return "is not of the form MARK:LOW-HIGH";
        }
        GainGroup group{std::string(word.substr(0, colon)), 0, 0};
        if (plain_key(group.mark).empty()) {
            return "names a group without a letter or figure";
        }
        for (const auto& [text, number] :
             {std::pair{word.substr(colon + 1, dash - colon - 1), &group.low},
              std::pair{word.substr(dash + 1), &group.high}}) {
            if (Trouble trouble = take_number(text, Unit::ratio, 1, 100'000, *number)) {
                return trouble;
            }
        }
        if (group.low > group.high) {
            return worded("has group {} the wrong way round", group.mark);
        }
        for (const GainGroup& other : to) {
            if (plain_key(other.mark) == plain_key(group.mark)) {
                return worded("has group {} twice", group.mark);
            }
        }
        to.push_back(std::move(group));
    }
    return std::nullopt;
}

Trouble take_safe(std::string_view cell, std::vector<SafePoint>& to) {
    for (const std::string_view word : words_of(cell)) {
        const std::size_t colon = word.find(':');
        if (colon == std::string_view::npos) {
            return "is not of the form VOLTS:AMPERES";
        }
        SafePoint point;
        if (Trouble trouble =
                take_number(word.substr(0, colon), Unit::volt, 1, 2000, point.volts)) {
            return trouble;
        }
        if (Trouble trouble =
                take_number(word.substr(colon + 1), Unit::ampere, 1e-4, 200, point.amperes)) {
            return trouble;
        }
        if (!to.empty() && !(point.volts > to.back().volts && point.amperes < to.back().amperes)) {
            return "does not rise in volts and fall in amperes";
        }
        to.push_back(point);
    }
    return std::nullopt;
}

Trouble take_leads(std::string_view cell, std::string& to) {
    std::string sorted(cell);
    std::sort(sorted.begin(), sorted.end());
    if (sorted != "BCE" && sorted != "BE") {
        return "is not B, C and E in their order, nor BE or EB with the case as collector";
    }
    to = cell;
    return std::nullopt;
}

Trouble take_number(std::string_view cell, Unit unit, double low, double high,
                    std::optional<double>& to) {
    double value = 0;
    if (Trouble trouble = take_number(cell, unit, low, high, value)) {
        return trouble;
    }
    to = value;
    return std::nullopt;
}

Trouble take_words(std::string_view cell, std::vector<std::string>& to) {
    for (const std::string_view word : words_of(cell)) {
        to.emplace_back(word);
    }
    return std::nullopt;
}

/// One column: how its cell goes into a part. Never called with an empty cell.
struct Column {
    std::string_view name;
    Trouble (*take)(std::string_view cell, Part& part);
};

constexpr std::array k_columns{
    Column{"type", [](std::string_view c, Part& p) { return take_type(c, p.type); }},
    Column{"polarity",
           [](std::string_view c, Part& p) { return take_word(c, k_polarities, p.polarity); }},
    Column{"material",
           [](std::string_view c, Part& p) { return take_word(c, k_materials, p.material); }},
    Column{"kind", [](std::string_view c, Part& p) { return take_word(c, k_kinds, p.kind); }},
    Column{"v_ceo", [](std::string_view c,
                       Part& p) { return take_number(c, Unit::volt, 1, 2000, p.ceo_v); }},
    Column{"v_cbo", [](std::string_view c,
                       Part& p) { return take_number(c, Unit::volt, 1, 2500, p.cbo_v); }},
    Column{"v_ebo", [](std::string_view c,
                       Part& p) { return take_number(c, Unit::volt, 0.2, 100, p.ebo_v); }},
    Column{"i_c", [](std::string_view c,
                     Part& p) { return take_number(c, Unit::ampere, 1e-3, 200, p.collector_a); }},
    Column{"p_d", [](std::string_view c,
                     Part& p) { return take_number(c, Unit::watt, 0.01, 1000, p.power_w); }},
    Column{"p_at",
           [](std::string_view c, Part& p) { return take_word(c, k_power_at, p.power_at); }},
    Column{"hfe_min", [](std::string_view c,
                         Part& p) { return take_number(c, Unit::ratio, 1, 100'000, p.gain_low); }},
    Column{"hfe_max", [](std::string_view c,
                         Part& p) { return take_number(c, Unit::ratio, 1, 100'000, p.gain_high); }},
    Column{"hfe_at", [](std::string_view c,
                        Part& p) { return take_number(c, Unit::ampere, 1e-6, 100, p.gain_a); }},
    Column{"hfe_v", [](std::string_view c,
                       Part& p) { return take_number(c, Unit::volt, 0.1, 100, p.gain_ce_v); }},
    Column{"groups", [](std::string_view c, Part& p) { return take_groups(c, p.groups); }},
    Column{"f_t", [](std::string_view c,
                     Part& p) { return take_number(c, Unit::hertz, 1e4, 2e10, p.transit_hz); }},
    Column{"f_t_is",
           [](std::string_view c, Part& p) { return take_word(c, k_stated, p.transit_is); }},
    Column{"c_ob", [](std::string_view c,
                      Part& p) { return take_number(c, Unit::farad, 1e-13, 2e-8, p.output_f); }},
    Column{"t_j", [](std::string_view c,
                     Part& p) { return take_number(c, Unit::celsius, 50, 250, p.junction_c); }},
    Column{"r_thjc",
           [](std::string_view c, Part& p) {
               return take_number(c, Unit::kelvin_per_watt, 0.05, 500, p.case_k_per_w);
           }},
    Column{"safe_area", [](std::string_view c, Part& p) { return take_safe(c, p.safe); }},
    Column{"package",
           [](std::string_view c, Part& p) { return take_text(c, k_longest_type, p.package); }},
    Column{"leads", [](std::string_view c, Part& p) { return take_leads(c, p.leads); }},
    Column{"insulated",
           [](std::string_view c, Part& p) { return take_word(c, k_insulated, p.insulated); }},
    Column{"complement", [](std::string_view c, Part& p) { return take_type(c, p.complement); }},
    Column{"notes", [](std::string_view c, Part& p) { return take_words(c, p.notes); }},
    Column{"source",
           [](std::string_view c, Part& p) { return take_text(c, k_longest_text, p.source); }},
};

const Column* column_called(std::string_view name) {
    const auto found = std::find_if(k_columns.begin(), k_columns.end(),
                                    [name](const Column& column) { return column.name == name; });
    return found == k_columns.end() ? nullptr : &*found;
}

/// What cannot hold together in one part: the column and why.
std::optional<std::pair<std::string_view, std::string>> contradiction_in(const Part& part) {
    if (part.ceo_v && part.cbo_v && *part.cbo_v < *part.ceo_v) {
        return std::pair{std::string_view("v_cbo"),
                         worded("is less than v_ceo {}: a junction with the base open never "
                                "holds more than with the emitter open",
                                print_short(*part.ceo_v, Unit::volt))};
    }
    if (part.gain_low && part.gain_high && *part.gain_low > *part.gain_high) {
        return std::pair{std::string_view("hfe_max"), std::string("is less than hfe_min")};
    }
    if (!part.safe.empty() && part.ceo_v && part.safe.back().volts > *part.ceo_v) {
        return std::pair{std::string_view("safe_area"), std::string("goes past v_ceo")};
    }
    return std::nullopt;
}

class Reader {
  public:
    explicit Reader(std::string_view source) : source_(printable(source)) {}

    Result<PartsTable> read(std::string_view text) {
        if (text.size() > k_most_bytes) {
            return whole(
                worded("holds {} bytes; a parts table has at most {}", text.size(), k_most_bytes));
        }
        if (text.starts_with("\xEF\xBB\xBF")) {
            text.remove_prefix(3);
        }
        for (; !text.empty() && !error_; ++number_) {
            const std::size_t end = text.find('\n');
            std::string_view line = text.substr(0, end);
            text.remove_prefix(end == std::string_view::npos ? text.size() : end + 1);
            if (line.ends_with('\r')) {
                line.remove_suffix(1);
            }
            take(line);
        }
        if (error_) {
            return *error_;
        }
        if (heading_.empty()) {
            return whole("has no heading; a line of column names was expected");
        }
        check_notes();
        return std::move(table_);
    }

  private:
    [[nodiscard]] Error whole(std::string_view what) const {
        return Error{ErrorCode::bad_text, source_, fmt::format("{} {}.", source_, what)};
    }

    void leave_out(std::size_t line, std::string_view why) {
        table_.left_out.push_back(worded("{}, line {}: {}.", source_, line, why));
    }

    void take(std::string_view line) {
        if (trimmed(line).empty() || line.front() == '#') {
            return;
        }
        if (std::any_of(line.begin(), line.end(), [](char c) {
                return (static_cast<unsigned char>(c) < 0x20 && c != '\t') ||
                       static_cast<unsigned char>(c) > 0x7e;
            })) {
            if (heading_.empty()) {
                error_ = whole("is not plain ASCII text with tabs");
            } else {
                leave_out(number_, "it holds a character outside plain ASCII; left out");
            }
            return;
        }
        const std::vector<std::string_view> cells = split(line, '\t');
        if (cells.front() == "note") {
            take_note(cells);
        } else if (heading_.empty()) {
            take_heading(cells);
        } else {
            take_row(cells);
        }
    }

    void take_note(const std::vector<std::string_view>& cells) {
        if (cells.size() != 3 || cells[1].empty() || cells[2].empty() ||
            cells[2].size() > k_longest_text) {
            leave_out(number_, "a note is a key and a sentence of at most 400 letters; left out");
        } else if (!table_.notes.emplace(cells[1], cells[2]).second) {
            leave_out(number_, worded("the note {} was given already; left out", cells[1]));
        }
    }

    void take_heading(const std::vector<std::string_view>& cells) {
        for (const std::string_view name : cells) {
            if (std::count(cells.begin(), cells.end(), name) > 1) {
                error_ = whole(worded("names the column {} twice", quoted(name)));
                return;
            }
            heading_.push_back(column_called(name));
            if (heading_.back() == nullptr) {
                leave_out(number_,
                          worded("the column {} is not known here; passed over", quoted(name)));
            }
        }
        for (const std::string_view name : {"type", "polarity", "source"}) {
            if (std::find(cells.begin(), cells.end(), name) == cells.end()) {
                error_ = whole(worded("has no column {}", quoted(name)));
                return;
            }
        }
    }

    void take_row(const std::vector<std::string_view>& cells) {
        const auto refuse = [&](std::string_view column, std::string_view cell,
                                std::string_view why) {
            leave_out(number_, worded("{} {} {}; left out", column, quoted(cell), why));
        };
        if (cells.size() > heading_.size()) {
            return leave_out(number_, worded("it has {} cells under {} columns; left out",
                                             cells.size(), heading_.size()));
        }
        Part part;
        for (std::size_t i = 0; i < heading_.size(); ++i) {
            const std::string_view cell = i < cells.size() ? cells[i] : std::string_view{};
            const Column* column = heading_[i];
            if (column == nullptr) {
                continue;
            }
            if (cell.empty()) {
                if (column->name == "type" || column->name == "polarity" ||
                    column->name == "source") {
                    return refuse(column->name, cell, "is empty, and it is needed");
                }
                continue;
            }
            if (const Trouble trouble = column->take(cell, part)) {
                return refuse(column->name, cell, *trouble);
            }
        }
        if (const auto clash = contradiction_in(part)) {
            const auto place = std::find_if(heading_.begin(), heading_.end(), [&](const Column* c) {
                return c != nullptr && c->name == clash->first;
            });
            return refuse(clash->first, cells[static_cast<std::size_t>(place - heading_.begin())],
                          clash->second);
        }
        for (const Part& other : table_.parts) {
            if (same_type(other.type, part.type)) {
                return refuse("type", part.type, "was given already");
            }
        }
        lines_.push_back(number_);
        table_.parts.push_back(std::move(part));
    }

    /// A warning that is not there would be a warning nobody gets.
    void check_notes() {
        std::vector<Part> kept;
        for (std::size_t i = 0; i < table_.parts.size(); ++i) {
            const std::vector<std::string>& keys = table_.parts[i].notes;
            const auto lost =
                std::find_if(keys.begin(), keys.end(), [this](const std::string& key) {
                    return !table_.notes.contains(key);
                });
            if (lost == keys.end()) {
                kept.push_back(std::move(table_.parts[i]));
            } else {
                leave_out(lines_[i],
                          worded("notes {} names no note of this table; left out", quoted(*lost)));
            }
        }
        table_.parts = std::move(kept);
    }

    std::string source_;
    std::size_t number_ = 1;
    std::vector<const Column*> heading_; // null: a column not known here
    std::vector<std::size_t> lines_;     // of table_.parts
    PartsTable table_;
    std::optional<Error> error_;
};

/// Letters after a type that say how it was packed or soldered, never what it is.
constexpr std::array<std::string_view, 24> k_packing{
    "",    "G",     "TA",   "TU",  "TF", "TFR", "TAR", "BU",  "T1",   "T1G", "RL",     "RLRA",
    "RL1", "RLRAG", "RL1G", "TIN", "Q",  "S1",  "F",   "S1F", "S1ES", "ES",  "PBFREE", "LEADFREE"};

bool is_packing(std::string_view rest) {
    return std::find(k_packing.begin(), k_packing.end(), rest) != k_packing.end();
}

/// How the text goes on after this part's type; nothing when it is another type.
std::optional<FoundPart> reading_of(const Part& part, std::string_view key) {
    const std::string type = registered_key(plain_key(part.type));
    if (!key.starts_with(type)) {
        return std::nullopt;
    }
    std::string_view rest = key.substr(type.size());
    FoundPart found{&part, std::nullopt, {}, true};
    std::size_t longest = 0;
    for (const GainGroup& group : part.groups) {
        const std::string mark = plain_key(group.mark);
        if (rest.starts_with(mark) && mark.size() > longest) {
            // "BC32716" is group 16; "BC327160" is no type at all.
            if (is_digit(mark.back()) && rest.size() > mark.size() && is_digit(rest[mark.size()])) {
                continue;
            }
            longest = mark.size();
            found.group = group;
        }
    }
    rest.remove_prefix(longest);
    if (!rest.empty() && is_digit(rest.front()) && !found.group) {
        return std::nullopt;
    }
    found.rest = rest;
    found.rest_is_known = is_packing(rest);
    return found;
}

} // namespace

std::string_view part_kind_key(PartKind kind) {
    for (const auto& [key, held] : k_kinds) {
        if (held == kind) {
            return key;
        }
    }
    return {};
}

std::optional<PartKind> part_kind_from_key(std::string_view key) {
    for (const auto& [held, kind] : k_kinds) {
        if (held == key) {
            return kind;
        }
    }
    return std::nullopt;
}

Result<PartsTable> read_parts_table(std::string_view text, std::string_view source) {
    return Reader(source).read(text);
}

const PartsTable& builtin_parts() {
    static const PartsTable k_table = [] {
        auto table = read_parts_table(
            {reinterpret_cast<const char*>(k_parts_table), k_parts_table_size}, "parts table");
        return table ? *std::move(table) : PartsTable{}; // a test reads it without a word left out
    }();
    return k_table;
}

std::string_view note_of(const PartsTable& table, std::string_view key) {
    const auto held = table.notes.find(key);
    return held == table.notes.end() ? std::string_view{} : std::string_view(held->second);
}

std::optional<FoundPart> find_part(const PartsTable& table, std::string_view text) {
    if (text.size() > 10 * k_longest_type) {
        return std::nullopt;
    }
    const std::string typed = plain_key(text);
    const std::string key = registered_key(typed);
    std::optional<FoundPart> best;
    std::size_t longest = 0;
    for (const Part& part : table.parts) {
        const std::size_t length = plain_key(part.type).size();
        for (const std::string_view form : {std::string_view(key), std::string_view(typed)}) {
            if (length > longest) {
                if (auto found = reading_of(part, form)) {
                    best = std::move(found);
                    longest = length;
                }
            }
        }
    }
    return best;
}

bool same_type(std::string_view a, std::string_view b) {
    const std::string key = registered_key(plain_key(a));
    return !key.empty() && key == registered_key(plain_key(b));
}

GainWindow gain_window(const Part& part, const std::optional<GainGroup>& group) {
    if (group) {
        return {group->low, group->high};
    }
    return {part.gain_low, part.gain_high};
}

LeadOrder compare_leads(const Part& a, const Part& b) {
    if (a.leads.empty() || b.leads.empty()) {
        return LeadOrder::unknown;
    }
    const bool can_a = mount_of(a.package) == Mount::can;
    const bool can_b = mount_of(b.package) == Mount::can;
    if (can_a != can_b) { // a ring of leads and a row of them
        return LeadOrder::different;
    }
    if (a.leads == b.leads) {
        return LeadOrder::same;
    }
    return std::equal(a.leads.begin(), a.leads.end(), b.leads.rbegin(), b.leads.rend())
               ? LeadOrder::mirrored
               : LeadOrder::different;
}

std::string leads_text(const Part& part) {
    if (part.leads.empty()) {
        return "not known";
    }
    std::string text;
    for (const char lead : part.leads) {
        text += fmt::format("{}{}", text.empty() ? "" : " ", lead);
    }
    if (part.leads.size() == 2) {
        text += ", case C";
    } else if (mount_of(part.package) == Mount::can) {
        text += ", leads towards you, clockwise from the tab";
    }
    return text;
}

bool same_package(std::string_view a, std::string_view b) {
    const std::string key = plain_key(a);
    return !key.empty() && key == plain_key(b);
}

Mount mount_of(std::string_view package) {
    const std::string key = plain_key(package);
    const auto begins = [&key](std::initializer_list<std::string_view> heads) {
        return std::any_of(heads.begin(), heads.end(),
                           [&key](std::string_view head) { return key.starts_with(head); });
    };
    if (key == "TO3" || begins({"TO204"})) {
        return Mount::to3;
    }
    if (key == "TO66") {
        return Mount::to3_small;
    }
    if (begins({"TO264", "TO3PL", "TO3PBL"})) {
        return Mount::large;
    }
    if (begins({"TO247", "TO218", "TO3P", "SOT93", "MT100"})) {
        return Mount::plate;
    }
    if (begins({"MT200"})) {
        return Mount::multi;
    }
    if (begins({"TO220", "FM20", "SC67", "MT25"})) {
        return Mount::to220;
    }
    if (begins({"TO126", "TO225", "SOT32"})) {
        return Mount::to126;
    }
    if (begins({"TO92", "TO226", "SOT54"})) {
        return Mount::to92;
    }
    if (key == "TO39" || key == "TO18" || key == "TO5") {
        return Mount::can;
    }
    if (begins({"SOT23", "SOT223", "SOT323", "SOT89", "TO252"})) {
        return Mount::surface;
    }
    return Mount::unknown;
}

} // namespace railside
