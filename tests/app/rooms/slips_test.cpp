// Slips of the finger on the keypad: every value that could be meant, keyed with one slip, and what
// share of those that land ten times out goes by unnoticed. Measured over every amount field of
// every working with the demo job's own values, beside a plain keypad that takes what can be read
// and passes over keys that cannot follow. Where the demo job knows nothing yet, the field is keyed
// as it is at the bench: for the left channel first, with nothing to compare with, and then for the
// right one, whose value lies within a third or so of the left's.
//
// After Thimbleby and Cairns 2010 (J. R. Soc. Interface 7:1429): a slip is one keystroke dropped,
// doubled, swapped with the next, or hit beside; out by ten is nine times or more either way.
#include "app/rooms/workings_model.h"
#include "core/quantity/value_code.h"
#include "core/store/bench.h"
#include "support/catch.h"
#include "support/demo.h"
#include "support/temp_folder.h"

#include <fmt/format.h>

#include <array>
#include <cmath>
#include <map>

using namespace railside;

namespace {

using Keys = std::vector<std::string>;

/// A text as its keys; micro is the key "u".
Keys keys_of(std::string_view text) {
    Keys keys;
    for (const char c : text)
        keys.emplace_back(1, c == '-' ? '-' : c);
    return keys;
}

/// The keys that touch this one on the keypad as it is drawn.
std::vector<std::string> beside(const KeypadShown& shown, const std::string& key) {
    std::vector<std::vector<std::string>> grid(4);
    for (std::size_t row = 0; row < 4; ++row) {
        for (std::size_t column = 0; column < 3; ++column)
            grid[row].emplace_back(shown.digits[row * 3 + column].key);
        grid[row].emplace_back(row == 0                       ? "erase"
                               : row <= shown.prefixes.size() ? shown.prefixes[row - 1].key
                               : row == 3                     ? "clear"
                                                              : "");
    }
    std::vector<std::string> near;
    for (std::size_t row = 0; row < 4; ++row)
        for (std::size_t column = 0; column < 4; ++column) {
            if (grid[row][column] != key)
                continue;
            const auto add = [&](std::size_t r, std::size_t c) {
                if (r < 4 && c < 4 && !grid[r][c].empty())
                    near.push_back(grid[r][c]);
            };
            add(row - 1, column);
            add(row + 1, column);
            add(row, column - 1);
            add(row, column + 1);
        }
    return near;
}

struct Slip {
    std::string kind;
    Keys keys;
};

std::vector<Slip> slips_of(const Keys& keys, const KeypadShown& shown) {
    std::vector<Slip> slips;
    for (std::size_t i = 0; i < keys.size(); ++i) {
        Keys dropped = keys;
        dropped.erase(dropped.begin() + static_cast<std::ptrdiff_t>(i));
        slips.push_back({"drop", dropped});
        Keys doubled = keys;
        doubled.insert(doubled.begin() + static_cast<std::ptrdiff_t>(i), keys[i]);
        slips.push_back({"double", doubled});
        if (i + 1 < keys.size() && keys[i] != keys[i + 1]) {
            Keys swapped = keys;
            std::swap(swapped[i], swapped[i + 1]);
            slips.push_back({"transpose", swapped});
        }
        for (const std::string& near : beside(shown, keys[i])) {
            Keys other = keys;
            other[i] = near;
            slips.push_back({"neighbour", other});
        }
    }
    return slips;
}

/// What a plain keypad reads; nothing when it reads nothing.
std::optional<double> plainly(const Field& field, const Keys& keys) {
    KeypadState state;
    state.field = field;
    state.field.low = -1e14;
    for (const std::string& key : keys)
        press_key(state, key == "-" ? "sign" : key);
    const auto value = parse_value(state.text, field.unit, field.label);
    if (!value)
        return std::nullopt;
    return value->value;
}

/// Whether our keypad lets it be set by a tap, without a word.
bool unnoticed(KeypadState state, const Keys& keys) {
    for (const std::string& key : keys) {
        press_key(state, key == "-" ? "sign" : key);
        if (!state.refused.empty())
            return false;
    }
    return make_keypad(state).tone == KeypadTone::usual;
}

/// The job once this field of the left channel has been keyed.
Job with_left(const Job& job, const Working& working, const Field& field, const std::string& text) {
    Job after = job;
    if (field.spread == Spread::meter) {
        ReadingRecord reading;
        reading.field = field.key;
        reading.channel = Channel::left;
        reading.text = text;
        reading.amount = read_input(field, text).value().amount;
        after.readings.push_back(std::move(reading));
    } else {
        after.sheet.known.emplace_back(known_key(working, field, Channel::left), text);
    }
    return after;
}

/// Texts a person may mean in this field: near what the job expects, else over the usual band.
std::vector<std::string> meant(const KeypadState& keypad) {
    const Field& field = keypad.field;
    std::vector<double> values;
    if (keypad.compare != 0) {
        for (const double part : {0.71, 0.83, 0.94, 1.0, 1.06, 1.19, 1.37})
            values.push_back(keypad.compare * part);
    } else {
        const double high = field.usual_high;
        const double low = field.usual_low > 0 ? field.usual_low : high / 1000;
        if (!(high > 0) || !(low < high))
            return {};
        constexpr int k_many = 12;
        for (int i = 0; i < k_many; ++i)
            values.push_back(low * std::pow(high / low, (i + 0.5) / k_many));
    }
    std::vector<std::string> texts;
    for (const double value : values)
        for (const int digits : {2, 3}) {
            const double scale =
                std::pow(10.0, digits - 1 - std::floor(std::log10(std::fabs(value))));
            const double rounded = std::round(value * scale) / scale;
            const double whole = field.spread == Spread::count ? std::round(value) : rounded;
            std::string exact = field.unit == Unit::ohm ? print_code(whole, field.unit)
                                                        : print_exact(whole, field.unit);
            if (read_input(field, exact))
                texts.push_back(std::move(exact));
        }
    return texts;
}

struct Count {
    double plain = 0; // out by ten and taken by a plain keypad
    double ours = 0;  // of those, taken by ours without a word
};

} // namespace

TEST_CASE("keypad: few slips of the finger that land ten times out go by unnoticed",
          "[app][rooms][slips]") {
    const TempFolder folder;
    auto bench = Bench::open(folder / "bench", system_surroundings());
    REQUIRE(bench.ok());
    const auto id = load_painted_demo_job(**bench);
    REQUIRE(id.ok());
    const auto job = (*bench)->job(*id);
    REQUIRE(job.ok());
    const Clock clock{system_surroundings().now_ms(), 0};

    std::map<std::string, Count> counts;
    int strings = 0;
    int fields = 0;
    const auto key_all = [&](const KeypadState& keypad, const std::string& knowing) {
        const Field& field = keypad.field;
        KeypadState empty = keypad;
        press_key(empty, "clear");
        const KeypadShown shown = make_keypad(empty);
        for (const std::string& text : meant(keypad)) {
            const Keys keys = keys_of(text);
            const auto value = plainly(field, keys);
            REQUIRE(value.has_value());
            ++strings;
            for (const Slip& slip : slips_of(keys, shown)) {
                const auto slipped = plainly(field, slip.keys);
                if (!slipped || *slipped == 0 || *value == 0)
                    continue;
                const double ratio = std::fabs(*slipped / *value);
                if (ratio < 9 && ratio > 1.0 / 9)
                    continue;
                const double past = unnoticed(keypad, slip.keys) ? 1 : 0;
                for (const std::string& row : {slip.kind, knowing, std::string("all")}) {
                    counts[row].plain += 1;
                    counts[row].ours += past;
                }
            }
        }
    };
    for (const Working& working : catalogue())
        for (const Field& field : working.fields) {
            if (field.kind != FieldKind::amount || field.unit == Unit::celsius)
                continue; // degrees have no factor
            ++fields;
            AppState left;
            left.working = working.key;
            left.channel = Channel::left;
            AppState right = left;
            right.channel = Channel::right;
            const KeypadState first = make_field_keypad(left, *job, working, field, clock);
            key_all(first, first.compare != 0 ? "known to the job" : "first of two channels");
            if (first.compare != 0) {
                key_all(make_field_keypad(right, *job, working, field, clock), "known to the job");
                continue;
            }
            const std::vector<std::string> lefts = meant(first);
            if (lefts.empty())
                continue;
            const Job after = with_left(*job, working, field, lefts[lefts.size() / 2]);
            const KeypadState second = make_field_keypad(right, after, working, field, clock);
            REQUIRE(second.compare != 0);
            key_all(second, "second of two channels");
        }
    fmt::print("slips ten times out, over {} fields and {} values:\n", fields, strings);
    for (const auto& [row, count] : counts)
        fmt::print("  {:<24} {:>6.0f} by a plain keypad, {:>5.0f} by ours: {:.3f}\n", row,
                   count.plain, count.ours, count.ours / count.plain);
    REQUIRE(counts["all"].plain > 5000);
    CHECK(counts["all"].ours <= 0.2 * counts["all"].plain);
    for (const char* row : {"known to the job", "second of two channels"}) {
        REQUIRE(counts[row].plain > 500);
        CHECK(counts[row].ours <= 0.05 * counts[row].plain);
    }
}
