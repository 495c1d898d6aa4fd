// A part of one's own, from a SPICE card.
#include "core/device/gain.h"
#include "core/device/model_card.h"
#include "core/device/parts.h"
#include "core/quantity/refusal.h"
#include "core/quantity/value_code.h"
#include "core/words/words.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>

namespace railside {

namespace {

constexpr double k_card_gain_v = 5; // collector-base, where data sheets state gains
constexpr double k_small_a = 0.01;  // where the gain of a card without a rating is told
constexpr double k_sheet_c = 25;

char small(char c) { return c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c; }

std::string small_letters(std::string_view text) {
    std::string result(text);
    std::transform(result.begin(), result.end(), result.begin(), small);
    return result;
}

bool in_a_word(char c) { return (c >= 'a' && c <= 'z') || (c >= '0' && c <= '9') || c == '_'; }

/// Where "key=value" (or "key: value", as a comment has it) stands in a text of small letters.
struct Assignment {
    std::size_t begin = 0; // of the key
    std::size_t value = 0; // of the value
    std::size_t end = 0;   // after it
};

std::optional<Assignment> find_assignment(std::string_view text, std::string_view key,
                                          std::size_t from) {
    for (std::size_t at = text.find(key, from); at != std::string_view::npos;
         at = text.find(key, at + 1)) {
        if (at > 0 && in_a_word(text[at - 1])) {
            continue;
        }
        const std::size_t sign = text.find_first_not_of(" \t", at + key.size());
        if (sign == std::string_view::npos || (text[sign] != '=' && text[sign] != ':')) {
            continue;
        }
        const std::size_t value = text.find_first_not_of(" \t", sign + 1);
        if (value == std::string_view::npos) {
            continue;
        }
        const std::size_t end = text.find_first_of(" \t\r\n(),;", value);
        return Assignment{at, value, end == std::string_view::npos ? text.size() : end};
    }
    return std::nullopt;
}

/// From the beginning of that line (counted from 1) to the next card or the end.
std::string_view card_region(std::string_view text, std::string_view lowered, int line) {
    std::size_t begin = 0;
    for (int i = 1; i < line; ++i) {
        const std::size_t end = lowered.find('\n', begin);
        if (end == std::string_view::npos) {
            return {};
        }
        begin = end + 1;
    }
    const std::size_t first = lowered.find(".model", begin);
    const std::size_t next =
        first == std::string_view::npos ? first : lowered.find(".model", first + 1);
    return text.substr(begin, next == std::string_view::npos ? next : next - begin);
}

GainShape shape_of(const BipolarModel& model) {
    GainShape shape;
    shape.saturation_a = model.saturation_a;
    shape.ideal_gain = model.forward_gain;
    shape.leak_saturation_a = model.emitter_leak_a;
    shape.leak_emission = model.emitter_leak_emission;
    shape.knee_a = model.forward_knee_a;
    shape.early_v = model.forward_early_v;
    shape.temperature_power = model.gain_power;
    return shape;
}

} // namespace

bool looks_like_card(std::string_view text) {
    return small_letters(text).find(".model") != std::string::npos;
}

Result<Part> part_from_card(std::string_view text, std::string_view source) {
    constexpr std::array<std::string_view, 3> k_keys{"vceo", "icrating", "mfg"};
    // The ratings some libraries add are no constants of the model: the reader of cards gets the
    // text without them.
    std::string lowered = small_letters(text);
    std::string bare(text);
    for (const std::string_view key : k_keys) {
        std::size_t from = 0;
        while (const auto held = find_assignment(lowered, key, from)) {
            std::fill(bare.begin() + static_cast<std::ptrdiff_t>(held->begin),
                      bare.begin() + static_cast<std::ptrdiff_t>(held->end), ' ');
            from = held->end;
        }
    }
    auto card = read_bipolar_card(bare, source);
    if (!card) {
        return card.error();
    }
    const auto* model = std::get_if<BipolarModel>(&card->constants);
    if (model == nullptr) {
        return refusal(ErrorCode::not_found, source, "holds no card of a transistor.");
    }
    Part part;
    part.type = card->name;
    part.polarity = model->polarity;
    part.from_card = true;
    const std::string region(card_region(text, lowered, card->line));
    const std::string region_lowered = small_letters(region);
    std::string maker;
    if (const auto held = find_assignment(region_lowered, "mfg", 0)) {
        maker = printable(std::string_view(region).substr(held->value, held->end - held->value));
    }
    struct Rating {
        std::string_view key;
        Unit unit;
        double high;
        std::optional<double>* to;
    };
    for (const Rating& rating : {Rating{"vceo", Unit::volt, 2000, &part.ceo_v},
                                 Rating{"icrating", Unit::ampere, 200, &part.collector_a}}) {
        const auto held = find_assignment(region_lowered, rating.key, 0);
        if (!held) {
            continue;
        }
        const std::string_view value =
            std::string_view(region).substr(held->value, held->end - held->value);
        const std::optional<double> number = spice_number(value);
        if (!number || !(*number > 0 && *number <= rating.high)) {
            return Error{ErrorCode::out_of_range, printable(source),
                         worded("{}, card {}: {} {} is not accepted. Accepted: above 0, to {}.",
                                printable(source), printable(card->name), rating.key, quoted(value),
                                print_short(rating.high, rating.unit))};
        }
        *rating.to = *number;
    }
    part.card_gain_a = part.collector_a ? *part.collector_a / 10 : k_small_a;
    part.card_gain = gain_at(shape_of(*model), part.card_gain_a, k_card_gain_v, k_sheet_c);
    part.source = worded("SPICE card {} of {}{}", printable(card->name), printable(source),
                         maker.empty() ? "" : worded(", mfg {}", maker));
    return part;
}

} // namespace railside
