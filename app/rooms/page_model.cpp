#include "app/rooms/page.h"

#include <fmt/format.h>

#include <utility>

namespace railside {

PageRow heading_row(std::string label) {
    PageRow row;
    row.kind = RowKind::heading;
    row.label = std::move(label);
    return row;
}

PageRow words_row(std::string value, Tone tone) {
    PageRow row;
    row.kind = RowKind::words;
    row.value = std::move(value);
    row.tone = tone;
    return row;
}

PageRow caution_row(std::string value) {
    PageRow row;
    row.kind = RowKind::caution;
    row.value = std::move(value);
    return row;
}

PageRow buttons_row(std::vector<PageButton> buttons) {
    PageRow row;
    row.kind = RowKind::buttons;
    row.buttons = std::move(buttons);
    return row;
}

PageRow text_row(std::string name, std::string label, std::string value, std::string target) {
    PageRow row;
    row.kind = RowKind::field;
    row.name = std::move(name);
    row.does = intent::EditText{std::move(target), label, value};
    row.label = std::move(label);
    row.value = std::move(value);
    return row;
}

PageRow value_row(std::string name, std::string label, std::string value, std::string target) {
    PageRow row;
    row.kind = RowKind::field;
    row.name = std::move(name);
    row.does = intent::KeyIn{std::move(target)};
    row.label = std::move(label);
    row.value = std::move(value);
    return row;
}

PageRow word_row(std::string name, std::string label, PickList pick) {
    PageRow row;
    row.kind = RowKind::field;
    row.name = std::move(name);
    row.label = std::move(label);
    for (const auto& [word, shown] : pick.words)
        if (word == pick.word)
            row.value = shown;
    if (row.value.empty())
        row.value = pick.word;
    row.does = intent::ChooseWord{std::move(pick)};
    return row;
}

PageRow words_to_choose(std::string_view name, const std::string& target, std::string_view now,
                        const std::vector<std::pair<std::string, std::string>>& words) {
    std::vector<PageButton> buttons;
    buttons.reserve(words.size());
    for (const auto& [word, label] : words)
        buttons.push_back({fmt::format("{}/{}", name, word.empty() ? "none" : word), label,
                           intent::SetWord{target, word},
                           word == now ? ButtonKind::chosen : ButtonKind::choice});
    return buttons_row(std::move(buttons));
}

} // namespace railside
