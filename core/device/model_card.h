// Reading SPICE .model cards of diodes and bipolar transistors.
//
// Grammar, as in every SPICE: `.model NAME TYPE(PARAMETER=VALUE ...)`, brackets optional, lines
// beginning with + continue the one before, * begins a comment line, ; or $ the rest of a line;
// letters in either case; scale factors f p n u m k meg g t and mil after a number, units after
// them ignored. TYPE is npn, pnp or d; cards of other types are passed over and named.
#pragma once

#include "core/device/semiconductor.h"
#include "core/device/spice_text.h"
#include "core/result.h"

#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

namespace railside {

/// One card that was read.
struct ModelCard {
    std::string name; // as written
    std::variant<BipolarModel, DiodeModel> constants;
    std::vector<std::string> ignored; // parameters of charge, noise and the like, not used here
    int line = 0;                     // where it stood, from 1
};

/// What a text of cards held.
struct ModelCards {
    std::vector<ModelCard> cards;
    std::vector<std::string> notes; // what was passed over and why, a sentence each
};

/// Reads every .model card of `text` (at most 4 MB); lines that are not cards are passed over.
/// `source` names the text in refusals ("models.lib"). Errors: bad_text or out_of_range, naming the
/// line, the card, the parameter, its value and the accepted range.
[[nodiscard]] Result<ModelCards> read_model_cards(std::string_view text, std::string_view source);

/// Reads one line that begins with .model. Nothing when it is of a type that is not used here; then
/// a sentence is added to `notes`. Errors as above.
[[nodiscard]] Result<std::optional<ModelCard>>
read_model_line(const SpiceLine& line, std::string_view source, std::vector<std::string>& notes);

/// The card of that name, letters in either case; the last one when there are several.
[[nodiscard]] const ModelCard* find_card(std::span<const ModelCard> cards, std::string_view name);

/// The transistor card a text holds: the first one, or the one called `name`. Errors as above, and
/// not_found.
[[nodiscard]] Result<ModelCard> read_bipolar_card(std::string_view text, std::string_view source,
                                                  std::string_view name = {});

/// A SPICE number: "4.7k", "100meg", "22u", "1e-12", "10pF". Empty when it is not one, or not
/// finite. The nearest double up to 19 significant digits; those after them are dropped.
[[nodiscard]] std::optional<double> spice_number(std::string_view text);

/// The card as SPICE text, one line, full precision; read_bipolar_card gives the same constants
/// back.
[[nodiscard]] std::string print_card(std::string_view name, const BipolarModel& model);

} // namespace railside
