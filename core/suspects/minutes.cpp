#include "core/suspects/minutes.h"

#include "core/device/model_card.h"
#include "core/device/spice_text.h"
#include "core/quantity/refusal.h"

#include <fmt/format.h>

#include <algorithm>
#include <utility>
#include <vector>

namespace railside {

namespace {

constexpr double k_least = 0.05;
constexpr double k_most = 600;

/// Every entry by its name.
std::vector<std::pair<std::string, double*>> entries(Minutes& minutes) {
    std::vector<std::pair<std::string, double*>> all;
    for (const Setup setup :
         {Setup::off, Setup::limited, Setup::idle, Setup::trim, Setup::loaded, Setup::held}) {
        const auto at = static_cast<std::size_t>(setup);
        all.emplace_back(fmt::format("into_{}", setup_key(setup)), &minutes.into[at]);
        if (setup != Setup::off)
            all.emplace_back(fmt::format("reading_{}", setup_key(setup)), &minutes.reading[at]);
    }
    all.emplace_back("pull_output", &minutes.output);
    all.emplace_back("pull_driver", &minutes.driver);
    all.emplace_back("pull_small_transistor", &minutes.small_transistor);
    all.emplace_back("lift_one_lead", &minutes.two_leads);
    all.emplace_back("lift_pot", &minutes.pot);
    all.emplace_back("check_fuse", &minutes.fuse);
    return all;
}

} // namespace

Result<Minutes> read_minutes(std::string_view text, std::string_view source) {
    Minutes minutes;
    const auto all = entries(minutes);
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
        for (const auto& [name, value] : all)
            if (name == words[0])
                entry = value;
        if (entry == nullptr || words.size() != 2) {
            std::vector<std::string> names;
            names.reserve(all.size());
            for (const auto& [name, value] : all)
                names.push_back(name);
            return refusal(ErrorCode::bad_text, place,
                           fmt::format("{} is not accepted. Accepted: a name and its minutes; "
                                       "names are {}.",
                                       railside::quoted(rest), spice_list(names)));
        }
        const auto value = spice_number(words[1]);
        if (!value || *value < k_least || *value > k_most)
            return refusal(ErrorCode::out_of_range, place,
                           fmt::format("{} {} is not accepted. Accepted: {:g} to {:g} minutes.",
                                       words[0], railside::quoted(words[1]), k_least, k_most));
        *entry = *value;
    }
    return minutes;
}

std::string minutes_text(const Minutes& minutes) {
    Minutes copy = minutes;
    std::string text;
    for (const auto& [name, value] : entries(copy))
        text += fmt::format("{} {:g}\n", name, *value);
    return text;
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
