// .model cards: any text.
#include "check.h"
#include "core/device/model_card.h"

#include <cstdint>
#include <string_view>

using namespace railside;

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
    const std::string_view text(reinterpret_cast<const char*>(data), size);
    const auto cards = read_model_cards(text, "fuzz");
    if (!cards) {
        must_hold(!cards.error().message.empty(), "a refusal says something");
        return 0;
    }
    for (const ModelCard& card : cards->cards) {
        must_hold(find_card(cards->cards, card.name) != nullptr, "a card is found by its name");
        if (const auto* model = std::get_if<BipolarModel>(&card.constants)) {
            must_hold(model->saturation_a > 0 && model->forward_gain > 0, "constants are possible");
            const auto again = read_bipolar_card(print_card(card.name, *model), "printed");
            must_hold(again.ok() && std::get<BipolarModel>(again->constants) == *model,
                      "what is printed reads back");
        } else {
            must_hold(std::get<DiodeModel>(card.constants).saturation_a > 0,
                      "constants are possible");
        }
    }
    return 0;
}
