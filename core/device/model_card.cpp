#include "core/device/model_card.h"

#include "core/quantity/ascii.h"
#include "core/quantity/decimal.h"
#include "core/quantity/refusal.h"
#include "core/words/words.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdint>

namespace railside {

namespace {

constexpr std::size_t k_most_text = 4U << 20U;
constexpr std::uint64_t k_most_digits = 1'000'000'000'000'000'000; // one more digit still fits
constexpr int k_most_exponent = 9999;

bool is_letter(char c) { return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z'); }

/// What is accepted of a parameter.
enum class Lower {
    above,    // more than low
    from,     // low or more
    infinite, // more than 0, and 0 stands for infinite
};

template <class Model> struct Parameter {
    std::string_view name;
    std::string_view other_name; // as some programs write it; may be empty
    std::string_view third_name;
    double Model::*member = nullptr;
    Lower lower = Lower::from;
    double low = 0;
    double high = 0;
};

constexpr double k_huge = 1e30;
constexpr double k_most_ohm = 1e9;
constexpr double k_most_leak_a = 1;

using B = BipolarModel;
constexpr std::array k_bipolar = {
    Parameter<B>{"IS", "", "", &B::saturation_a, Lower::above, 0, 1},
    Parameter<B>{"BF", "", "", &B::forward_gain, Lower::above, 0, 1e6},
    Parameter<B>{"NF", "", "", &B::forward_emission, Lower::from, 0.1, 20},
    Parameter<B>{"VAF", "VA", "VBF", &B::forward_early_v, Lower::infinite, 0, k_huge},
    Parameter<B>{"IKF", "IK", "JBF", &B::forward_knee_a, Lower::infinite, 0, k_huge},
    Parameter<B>{"NKF", "NK", "", &B::knee_power, Lower::above, 0, 2},
    Parameter<B>{"ISE", "JLE", "", &B::emitter_leak_a, Lower::from, 0, k_most_leak_a},
    Parameter<B>{"NE", "NLE", "", &B::emitter_leak_emission, Lower::from, 0.1, 20},
    Parameter<B>{"BR", "", "", &B::reverse_gain, Lower::above, 0, 1e6},
    Parameter<B>{"NR", "", "", &B::reverse_emission, Lower::from, 0.1, 20},
    Parameter<B>{"VAR", "VB", "VBR", &B::reverse_early_v, Lower::infinite, 0, k_huge},
    Parameter<B>{"IKR", "JBR", "", &B::reverse_knee_a, Lower::infinite, 0, k_huge},
    Parameter<B>{"ISC", "JLC", "", &B::collector_leak_a, Lower::from, 0, k_most_leak_a},
    Parameter<B>{"NC", "NLC", "", &B::collector_leak_emission, Lower::from, 0.1, 20},
    Parameter<B>{"RB", "", "", &B::base_ohm, Lower::from, 0, k_most_ohm},
    Parameter<B>{"IRB", "JRB", "IOB", &B::base_fall_a, Lower::infinite, 0, k_huge},
    Parameter<B>{"RBM", "", "", &B::base_least_ohm, Lower::from, 0, k_most_ohm},
    Parameter<B>{"RE", "", "", &B::emitter_ohm, Lower::from, 0, k_most_ohm},
    Parameter<B>{"RC", "", "", &B::collector_ohm, Lower::from, 0, k_most_ohm},
    Parameter<B>{"XTB", "TB", "TCB", &B::gain_power, Lower::from, -50, 50},
    Parameter<B>{"EG", "", "", &B::gap_ev, Lower::from, 0.1, 5},
    Parameter<B>{"XTI", "PT", "", &B::saturation_power, Lower::from, -100, 100},
    Parameter<B>{"TNOM", "TREF", "T_MEASURED", &B::card_c, Lower::from, -200, 400},
};

using D = DiodeModel;
constexpr std::array k_diode = {
    Parameter<D>{"IS", "JS", "", &D::saturation_a, Lower::above, 0, 1},
    Parameter<D>{"N", "", "", &D::emission, Lower::from, 0.001, 1000},
    Parameter<D>{"RS", "", "", &D::series_ohm, Lower::from, 0, k_most_ohm},
    Parameter<D>{"EG", "", "", &D::gap_ev, Lower::from, 0.1, 5},
    Parameter<D>{"XTI", "PT", "", &D::saturation_power, Lower::from, -100, 100},
    Parameter<D>{"BV", "VB", "VRB", &D::breakdown_v, Lower::infinite, 0, k_huge},
    Parameter<D>{"IBV", "IB", "", &D::breakdown_a, Lower::above, 0, 1e6},
    Parameter<D>{"NBV", "NZ", "", &D::breakdown_emission, Lower::from, 0.001, 1000},
    Parameter<D>{"IKF", "IK", "", &D::knee_a, Lower::infinite, 0, k_huge},
    Parameter<D>{"ISR", "", "", &D::recombination_a, Lower::from, 0, 1},
    Parameter<D>{"NR", "", "", &D::recombination_emission, Lower::from, 0.001, 1000},
    Parameter<D>{"TNOM", "TREF", "T_MEASURED", &D::card_c, Lower::from, -200, 400},
};

std::string limit_text(double limit) {
    std::string text = fmt::format("{:g}", limit);
    return limit < 0 ? "\u2212" + text.substr(1) : text;
}

std::string accepted_of(Lower lower, double low, double high) {
    switch (lower) {
    case Lower::above:
        return worded("a number above {}, to {}", limit_text(low), limit_text(high));
    case Lower::from:
        return worded("a number, {} to {}", limit_text(low), limit_text(high));
    case Lower::infinite:
        break;
    }
    return worded("a number above 0, to {}, or 0 for no such effect", limit_text(high));
}

/// One `PARAMETER=VALUE`.
struct Setting {
    std::string name;  // as written
    std::string value; // empty: there was none
};

/// The settings after the type's name. A word without = stands with no value.
std::vector<Setting> settings_of(const std::vector<std::string>& words, std::size_t from) {
    std::vector<Setting> settings;
    for (std::size_t i = from; i < words.size();) {
        if (words[i] == "=") {
            ++i;
            continue;
        }
        Setting setting{words[i], {}};
        if (i + 1 < words.size() && words[i + 1] == "=") {
            if (i + 2 < words.size() && words[i + 2] != "=") {
                setting.value = words[i + 2];
            }
            i += 3;
        } else {
            ++i;
        }
        settings.push_back(std::move(setting));
    }
    return settings;
}

/// A card being read: where it stands and what it is called.
struct Reading {
    std::string place;
    std::string name;

    [[nodiscard]] Error refuse(ErrorCode code, std::string_view parameter, std::string_view value,
                               std::string_view accepted) const {
        return {code, std::string(parameter),
                worded("{}: in the card {} the parameter {} {}. Accepted: {}.", place, quoted(name),
                       printable(parameter),
                       value.empty() ? "has no value" : worded("is {}", quoted(value)), accepted)};
    }
};

/// Reads one value; 0 comes back as infinite where it stands for that.
Result<double> read_value(const Reading& reading, const Setting& setting, Lower lower, double low,
                          double high) {
    const auto refuse = [&](ErrorCode code) {
        return reading.refuse(code, setting.name, setting.value, accepted_of(lower, low, high));
    };
    const auto value = spice_number(setting.value);
    if (!value) {
        return refuse(ErrorCode::bad_text);
    }
    if (lower == Lower::infinite && *value == 0) {
        return BipolarModel::k_never;
    }
    const bool high_enough = lower == Lower::from ? *value >= low : *value > low;
    if (!high_enough || *value > high) {
        return refuse(ErrorCode::out_of_range);
    }
    return *value;
}

/// Takes up one setting; false when it is none of the model's parameters.
template <class Model, std::size_t N>
Result<bool> take_setting(const Reading& reading, const std::array<Parameter<Model>, N>& parameters,
                          const Setting& setting, Model& model) {
    const auto known = std::find_if(parameters.begin(), parameters.end(), [&](const auto& one) {
        return spice_equal(setting.name, one.name) || spice_equal(setting.name, one.other_name) ||
               spice_equal(setting.name, one.third_name);
    });
    if (known == parameters.end()) {
        return false;
    }
    const auto value = read_value(reading, setting, known->lower, known->low, known->high);
    if (!value) {
        return value.error();
    }
    model.*(known->member) = *value;
    return true;
}

/// Reads C2 or C4, a leak as a multiple of IS, which may stand after it; empty when it is neither.
Result<std::optional<double>> read_leak_factor(const Reading& reading, const Setting& setting) {
    if (!spice_equal(setting.name, "C2") && !spice_equal(setting.name, "C4")) {
        return std::optional<double>();
    }
    const auto value = read_value(reading, setting, Lower::from, 0, 1e9);
    if (!value) {
        return value.error();
    }
    return std::optional<double>(*value);
}

Result<BipolarModel> read_bipolar(const Reading& reading, const std::vector<Setting>& settings,
                                  Polarity polarity, std::vector<std::string>& ignored) {
    BipolarModel model;
    model.polarity = polarity;
    std::vector<std::pair<Setting, double>> factors;
    for (const Setting& setting : settings) {
        const auto taken = take_setting(reading, k_bipolar, setting, model);
        if (!taken) {
            return taken.error();
        }
        if (*taken) {
            continue;
        }
        const auto factor = read_leak_factor(reading, setting);
        if (!factor) {
            return factor.error();
        }
        if (*factor) {
            factors.emplace_back(setting, **factor);
        } else {
            ignored.push_back(setting.name);
        }
    }
    for (const auto& [setting, factor] : factors) {
        const double leak_a = factor * model.saturation_a;
        if (leak_a > k_most_leak_a) {
            return reading.refuse(ErrorCode::out_of_range, setting.name, setting.value,
                                  "a multiple of IS that is at most 1 A");
        }
        (spice_equal(setting.name, "C2") ? model.emitter_leak_a : model.collector_leak_a) = leak_a;
    }
    return model;
}

Result<DiodeModel> read_diode(const Reading& reading, const std::vector<Setting>& settings,
                              std::vector<std::string>& ignored) {
    DiodeModel model;
    for (const Setting& setting : settings) {
        const auto taken = take_setting(reading, k_diode, setting, model);
        if (!taken) {
            return taken.error();
        }
        if (!*taken) {
            ignored.push_back(setting.name);
        }
    }
    return model;
}

/// Whether the card asks for the equations used here: level 1, or 3 of a diode, which adds only
/// charge.
bool is_usual_level(const std::vector<Setting>& settings, bool diode) {
    return std::all_of(settings.begin(), settings.end(), [diode](const Setting& setting) {
        if (!spice_equal(setting.name, "level")) {
            return true;
        }
        const auto level = spice_number(setting.value);
        return level && (*level == 1 || (diode && *level == 3));
    });
}

bool begins_card(const SpiceLine& line) {
    constexpr std::string_view k_model = ".model";
    const std::string_view text = line.text;
    return spice_equal(text.substr(0, k_model.size()), k_model) &&
           (text.size() == k_model.size() || text[k_model.size()] == ' ' ||
            text[k_model.size()] == '\t');
}

int scale_of(std::string_view letters) {
    struct Scale {
        std::string_view letters;
        int power = 0;
    };
    // "meg" before "m": the longer one first.
    constexpr std::array<Scale, 13> k_scales = {{{"meg", 6},
                                                 {"t", 12},
                                                 {"g", 9},
                                                 {"k", 3},
                                                 {"m", -3},
                                                 {"u", -6},
                                                 {"\u00b5", -6},
                                                 {"\u03bc", -6},
                                                 {"\xb5", -6}, // the micro sign in Latin 1
                                                 {"n", -9},
                                                 {"p", -12},
                                                 {"f", -15},
                                                 {"", 0}}};
    return std::find_if(
               k_scales.begin(), k_scales.end(),
               [letters](const Scale& scale) { return letters.starts_with(scale.letters); })
        ->power;
}

/// The exponent at the start of `rest` ("e-3"), taken off it; 0 when there is none.
int take_exponent(std::string_view& rest) {
    if (rest.empty() || (rest[0] != 'e' && rest[0] != 'E' && rest[0] != 'd' && rest[0] != 'D')) {
        return 0;
    }
    std::size_t at = 1;
    const bool negative = at < rest.size() && rest[at] == '-';
    if (at < rest.size() && (rest[at] == '-' || rest[at] == '+')) {
        ++at;
    }
    if (at >= rest.size() || !is_digit(rest[at])) {
        return 0; // a unit
    }
    int exponent = 0;
    for (; at < rest.size() && is_digit(rest[at]); ++at) {
        exponent = std::min(exponent * 10 + (rest[at] - '0'), k_most_exponent);
    }
    rest.remove_prefix(at);
    return negative ? -exponent : exponent;
}

std::string setting_text(std::string_view name, double value) {
    return std::isfinite(value) ? fmt::format(" {}={}", name, value) : std::string();
}

} // namespace

std::optional<double> spice_number(std::string_view text) {
    bool negative = false;
    if (!text.empty() && (text.front() == '-' || text.front() == '+')) {
        negative = text.front() == '-';
        text.remove_prefix(1);
    }
    std::uint64_t digits = 0;
    int power = 0;
    bool any = false;
    bool after_mark = false;
    while (!text.empty() && (is_digit(text.front()) || (text.front() == '.' && !after_mark))) {
        const char c = text.front();
        text.remove_prefix(1);
        if (c == '.') {
            after_mark = true;
            continue;
        }
        any = true;
        if (digits < k_most_digits) {
            digits = digits * 10 + static_cast<std::uint64_t>(c - '0');
            power -= after_mark ? 1 : 0;
        } else {
            power += after_mark ? 0 : 1;
        }
    }
    if (!any) {
        return std::nullopt;
    }
    power += take_exponent(text);
    const bool only_letters = std::all_of(text.begin(), text.end(), [](char c) {
        return is_letter(c) || static_cast<unsigned char>(c) >= 0x80;
    });
    if (!only_letters) {
        return std::nullopt;
    }
    const std::string letters = spice_lower(text);
    double value = 0;
    if (letters.starts_with("mil")) {
        value = nearest_double(digits, power - 7) * 254; // a thousandth of an inch, m
    } else {
        value = nearest_double(digits, power + scale_of(letters));
    }
    if (!std::isfinite(value)) {
        return std::nullopt;
    }
    return negative ? -value : value;
}

Result<std::optional<ModelCard>> read_model_line(const SpiceLine& line, std::string_view source,
                                                 std::vector<std::string>& notes) {
    const std::vector<std::string> words = spice_words(line.text);
    const std::string place = spice_place(source, line.line);
    if (words.size() < 3 || words[1] == "=" || words[2] == "=") {
        return Error{ErrorCode::bad_text, ".model",
                     fmt::format("{}: {} is not a card. Accepted: .model NAME TYPE(PARAMETER=VALUE "
                                 "...) with the type npn, pnp or d.",
                                 place, quoted(line.text))};
    }
    const Reading reading{place, words[1]};
    const std::vector<Setting> settings = settings_of(words, 3);
    const bool npn = spice_equal(words[2], "npn");
    const bool diode = spice_equal(words[2], "d");
    if (!npn && !diode && !spice_equal(words[2], "pnp")) {
        notes.push_back(worded("{}: the card {} is of the type {}; npn, pnp and d are used.", place,
                               quoted(words[1]), quoted(words[2])));
        return std::optional<ModelCard>();
    }
    if (!is_usual_level(settings, diode)) {
        notes.push_back(worded("{}: the card {} is of another level than 1, so it is not "
                               "used.",
                               place, quoted(words[1])));
        return std::optional<ModelCard>();
    }
    ModelCard card;
    card.name = words[1];
    card.line = line.line;
    if (diode) {
        const auto model = read_diode(reading, settings, card.ignored);
        if (!model) {
            return model.error();
        }
        card.constants = *model;
    } else {
        const auto model =
            read_bipolar(reading, settings, npn ? Polarity::npn : Polarity::pnp, card.ignored);
        if (!model) {
            return model.error();
        }
        card.constants = *model;
    }
    return std::optional<ModelCard>(std::move(card));
}

Result<ModelCards> read_model_cards(std::string_view text, std::string_view source) {
    if (text.size() > k_most_text) {
        return Error{
            ErrorCode::out_of_range, printable(source),
            worded("{} has {} bytes. Accepted: at most 4 MB.", printable(source), text.size())};
    }
    ModelCards held;
    for (const SpiceLine& line : spice_lines(text)) {
        if (!begins_card(line)) {
            continue;
        }
        auto card = read_model_line(line, source, held.notes);
        if (!card) {
            return card.error();
        }
        if (*card) {
            held.cards.push_back(std::move(**card));
        }
    }
    return held;
}

const ModelCard* find_card(std::span<const ModelCard> cards, std::string_view name) {
    const auto last = std::find_if(cards.rbegin(), cards.rend(), [name](const ModelCard& card) {
        return spice_equal(card.name, name);
    });
    return last == cards.rend() ? nullptr : &*last;
}

Result<ModelCard> read_bipolar_card(std::string_view text, std::string_view source,
                                    std::string_view name) {
    const auto held = read_model_cards(text, source);
    if (!held) {
        return held.error();
    }
    const ModelCard* found = nullptr;
    for (const ModelCard& card : held->cards) {
        const bool wanted = name.empty() ? found == nullptr : spice_equal(card.name, name);
        if (wanted && std::holds_alternative<BipolarModel>(card.constants)) {
            found = &card;
        }
    }
    if (found != nullptr) {
        return *found;
    }
    std::string why = name.empty() ? worded("{} holds no card of a transistor.", printable(source))
                                   : worded("{} holds no transistor's card called {}.",
                                            printable(source), quoted(name));
    why += " Accepted: .model NAME npn(...) or .model NAME pnp(...).";
    if (!held->notes.empty()) {
        why += ' ' + held->notes.front();
    }
    return Error{ErrorCode::not_found, name.empty() ? printable(source) : printable(name),
                 std::move(why)};
}

std::string print_card(std::string_view name, const BipolarModel& model) {
    std::string text = ".model ";
    for (const char c : name.empty() ? std::string_view("q") : name) {
        const bool plain = is_letter(c) || is_digit(c) || static_cast<unsigned char>(c) >= 0x80 ||
                           c == '-' || c == '_' || c == '.' || c == '+';
        text += plain ? c : '_';
    }
    text += fmt::format(" {}(", polarity_key(model.polarity));
    std::string list;
    for (const auto& parameter : k_bipolar) {
        const double value = model.*(parameter.member);
        if (parameter.member == &BipolarModel::base_least_ohm && value < 0) {
            continue; // as RB: a card without RBM
        }
        list += setting_text(parameter.name, value);
    }
    text += list.substr(std::min<std::size_t>(1, list.size()));
    return text + ')';
}

} // namespace railside
