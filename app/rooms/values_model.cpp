#include "app/rooms/values_model.h"

#include "app/rooms/bench_model.h"
#include "app/rooms/reading_model.h"
#include "app/rooms/suspects_model.h"
#include "core/quantity/value_code.h"

#include <fmt/format.h>

namespace railside {

namespace {

Field plain(std::string_view label, double low, double high, double usual_low, double usual_high,
            Unit unit = Unit::ratio) {
    Field field;
    field.label = label;
    field.unit = unit;
    field.low = low;
    field.high = high;
    field.usual_low = usual_low;
    field.usual_high = usual_high;
    return field;
}

/// As a person would key it again.
std::string keyed(double value) {
    return value == 0 ? std::string() : fmt::format("{:.10g}", value);
}

} // namespace

std::optional<KeypadState> make_value_keypad(const AppState& state, const Job& job,
                                             const BenchBook& book, const std::string& target) {
    if (target == "reading")
        return make_reading_keypad(state, job, book);
    if (target.starts_with("hunt/"))
        return make_hunt_keypad(target.substr(5));
    KeypadState keypad;
    keypad.target = target;
    const auto with = [&](std::string title, Field field, std::string before) {
        keypad.title = std::move(title);
        keypad.field = field;
        keypad.text = keypad.before = std::move(before);
        return keypad;
    };
    if (target == "draft/minutes")
        return with("How it is read", plain("Minutes since power-up", 0, 1e6, 0, 600),
                    state.reading.when.minutes ? keyed(*state.reading.when.minutes)
                                               : std::string());
    if (target == "job/agreed_limit")
        return with("Money", plain("Agreed limit", 0, 1e9, 1, 5000), keyed(job.sheet.agreed_limit));
    if (target == "job/hourly_rate")
        return with("Money", plain("Rate of an hour", 0, 1e9, 1, 300),
                    keyed(job.sheet.hourly_rate));
    if (target == "job/spent")
        return with("Money", plain("Spent besides", 0, 1e9, 0, 5000), keyed(job.sheet.spent));
    if (target == "cost/minutes")
        return with("Time at the bench", plain("Minutes", 0, 1e6, 1, 600), {});
    if (target.starts_with("minutes/")) {
        for (const MinutesLine& line : minutes_lines(minutes_of_bench(book)))
            if (line.name == target.substr(8))
                return with(std::string(line.label),
                            plain("Minutes", k_least_minutes, k_most_minutes, k_least_minutes, 120),
                            keyed(line.minutes));
        return std::nullopt;
    }
    if (target == "cost/each")
        return with("A part on the bill", plain("Price of one", 0, 1e9, 0, 500),
                    state.cost ? state.cost->each_text : std::string());
    if (target == "cost/count") {
        Field field = plain("How many", 1, 99999, 1, 50);
        field.spread = Spread::count;
        return with("A part on the bill", field,
                    state.cost ? fmt::format("{}", state.cost->count) : std::string());
    }
    if (target.starts_with("wanting/")) {
        const std::string rest = target.substr(8);
        const auto cut = rest.find('/');
        if (cut == std::string::npos)
            return std::nullopt;
        for (const WantingRecord& one : job.wanting) {
            if (one.source.entry != rest.substr(0, cut))
                continue;
            if (rest.substr(cut + 1) == "parts")
                return with(one.title, plain("Parts, together", 0, 1e9, 0, 5000), keyed(one.parts));
            return with(one.title, plain("Minutes of work", 0, 1e6, 1, 600), keyed(one.minutes));
        }
        return std::nullopt;
    }
    if (target.starts_with("instrument/")) {
        const std::string rest = target.substr(11);
        const auto cut = rest.find('/');
        if (cut == std::string::npos)
            return std::nullopt;
        const std::string member = rest.substr(cut + 1);
        const auto field = instrument_field(member);
        const Instrument* found = book.instrument(rest.substr(0, cut));
        if (!field || found == nullptr)
            return std::nullopt;
        Instrument copy = *found;
        const double* now = instrument_figure(copy, member);
        if (now == nullptr)
            return std::nullopt;
        // Percent is typed as such and held as a fraction.
        return with(copy.name, *field, keyed(field->unit == Unit::percent ? *now * 100 : *now));
    }
    if (target == "draftstep/low" || target == "draftstep/high") {
        if (!state.list_draft || state.list_draft->step < 0 ||
            state.list_draft->step >= static_cast<int>(state.list_draft->list.steps.size()))
            return std::nullopt;
        const ListStep& step =
            state.list_draft->list.steps[static_cast<std::size_t>(state.list_draft->step)];
        const bool low = target == "draftstep/low";
        return with(step.text, plain(low ? "At least" : "At most", -1e9, 1e9, -1e9, 1e9, step.unit),
                    low ? step.low_text : step.high_text);
    }
    return std::nullopt;
}

} // namespace railside
