#include "core/suspects/minutes.h"

#include "core/device/model_card.h"
#include "core/device/spice_text.h"
#include "core/quantity/refusal.h"
#include "core/words/words.h"

#include <fmt/format.h>

#include <algorithm>
#include <utility>
#include <vector>

namespace railside {

namespace {

struct Line {
    std::string name;
    std::string_view label;
    double* minutes;
};

struct SetupLabels {
    Setup setup;
    std::string_view into;
    std::string_view reading;
};
constexpr SetupLabels k_setups[] = {
    {Setup::off, "Switch off and let the reservoirs empty", {}},
    {Setup::limited, "Onto current-limited rails", "A reading on current-limited rails"},
    {Setup::idle, "To idle on full rails", "A reading at idle"},
    {Setup::trim, "To the trim at both ends", "A reading at both ends of the trim"},
    {Setup::loaded, "Signal and load put on", "A reading into the load"},
    {Setup::held, "Output held, input overdriven", "A reading with the output held"},
};

/// Every line by its name.
std::vector<Line> lines(Minutes& minutes) {
    std::vector<Line> all;
    for (const SetupLabels& one : k_setups) {
        const auto at = static_cast<std::size_t>(one.setup);
        all.push_back({fmt::format("into_{}", setup_key(one.setup)), one.into, &minutes.into[at]});
        if (!one.reading.empty())
            all.push_back({fmt::format("reading_{}", setup_key(one.setup)), one.reading,
                           &minutes.reading[at]});
    }
    all.push_back({"pull_output", "An output transistor out, tested and back", &minutes.output});
    all.push_back({"pull_driver", "A driver out, tested and back", &minutes.driver});
    all.push_back({"pull_small_transistor", "A small transistor out, tested and back",
                   &minutes.small_transistor});
    all.push_back({"lift_one_lead", "One lead of a part lifted and back", &minutes.two_leads});
    all.push_back({"lift_pot", "A trim pot out, tested and back", &minutes.pot});
    all.push_back({"check_fuse", "A fuse tested", &minutes.fuse});
    return all;
}

} // namespace

Result<Minutes> read_minutes(std::string_view text, std::string_view source) {
    Minutes minutes;
    const auto all = lines(minutes);
    int line = 0;
    while (!text.empty()) {
        ++line;
        const auto end = std::min(text.find('\n'), text.size());
        std::string_view rest = text.substr(0, end);
        text.remove_prefix(std::min(end + 1, text.size()));
        rest = rest.substr(0, rest.find('#'));
        const auto words = spice_words(rest);
        if (words.empty())
            continue;
        const std::string place = spice_place(source, line);
        double* entry = nullptr;
        for (const Line& one : all)
            if (one.name == words[0])
                entry = one.minutes;
        if (entry == nullptr || words.size() != 2) {
            std::vector<std::string> names;
            names.reserve(all.size());
            for (const Line& one : all)
                names.push_back(one.name);
            return refusal(ErrorCode::bad_text, place,
                           worded("{} is not accepted. Accepted: a name and its minutes; "
                                  "names are {}.",
                                  railside::quoted(rest), spice_list(names)));
        }
        const auto value = spice_number(words[1]);
        if (!value || *value < k_least_minutes || *value > k_most_minutes)
            return refusal(ErrorCode::out_of_range, place,
                           worded("{} {} is not accepted. Accepted: {:g} to {:g} minutes.",
                                  words[0], railside::quoted(words[1]), k_least_minutes,
                                  k_most_minutes));
        *entry = *value;
    }
    return minutes;
}

std::string minutes_text(const Minutes& minutes) {
    std::string text;
    for (const MinutesLine& one : minutes_lines(minutes))
        text += fmt::format("{} {:g}\n", one.name, one.minutes);
    return text;
}

std::vector<MinutesLine> minutes_lines(const Minutes& minutes) {
    Minutes copy = minutes;
    std::vector<MinutesLine> all;
    for (Line& one : lines(copy))
        all.push_back({std::move(one.name), one.label, *one.minutes});
    return all;
}

Result<Minutes> with_line(Minutes minutes, std::string_view name, double value) {
    for (const Line& one : lines(minutes)) {
        if (one.name != name)
            continue;
        if (!(value >= k_least_minutes && value <= k_most_minutes))
            return refusal(ErrorCode::out_of_range, std::string(name),
                           worded("{:g} is not accepted. Accepted: {:g} to {:g} minutes.", value,
                                  k_least_minutes, k_most_minutes));
        *one.minutes = value;
        return minutes;
    }
    return refusal(ErrorCode::not_found, std::string(name), "is no line of the table of minutes.");
}

double pull_minutes(const Minutes& minutes, const SuspectPosition& position) {
    switch (position.kind) {
    case ElementKind::transistor:
        if (position.device == Role::output)
            return minutes.output;
        if (position.device == Role::driver || position.device == Role::pre_driver)
            return minutes.driver;
        return minutes.small_transistor;
    case ElementKind::diode:
    case ElementKind::capacitor:
        return minutes.two_leads;
    case ElementKind::resistor:
        break;
    }
    if (position.role.find("fuse") != std::string::npos)
        return minutes.fuse;
    if (position.role.find("trim pot") != std::string::npos)
        return minutes.pot;
    return minutes.two_leads;
}

} // namespace railside
