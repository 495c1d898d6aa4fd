// Writing words without a keyboard: our own letters, laid out so that every key is wide enough for
// a thumb.

#include "app/rooms/panels.h"
#include "app/ui/icons.h"

#include <algorithm>
#include <array>

namespace railside {

namespace {

using Rows = std::span<const std::string_view>;

// Wide screens: the order typists know. Narrow ones: the alphabet in six columns, every key wide
// enough.
constexpr std::array<std::string_view, 3> k_wide = {"qwertyuiop", "asdfghjkl", "zxcvbnm"};
constexpr std::array<std::string_view, 5> k_narrow = {"abcdef", "ghijkl", "mnopqr", "stuvwx",
                                                      "yz.,-'"};
constexpr std::array<std::string_view, 3> k_wide_figures = {"1234567890", "+-/%&()=:", ".,;?!'#"};
constexpr std::array<std::string_view, 5> k_narrow_figures = {"123456", "7890.,",
                                                              "+-/%&:", "()=;?!", "'#*@<>"};

} // namespace

namespace {

/// The host lays a field of the system's own over "text/line"; the system's letters are below.
void draw_outside_entry(Ui& ui, Rect body, const TextEntry& entry, Intents& out) {
    const float title = ui.theme().pitch(Face::note);
    ui.text_cut(body.cut_top(title, ui.mm(0.8f)), entry.title, Face::note, Ink::soft);
    const Rect line = body.cut_top(ui.mm(11), ui.mm(2));
    ui.fill(line, Ink::raised, 1.5f);
    ui.area("text/line", line, entry.title, {.role = ControlRole::text, .value = entry.text});
    Rect actions = body.cut_top(ui.mm(14), 0);
    const Rect leave = actions.cut_left(actions.width() * 0.36f, ui.mm(2));
    if (ui.button("text/leave", leave, "Leave"))
        out.push_back(intent::LeaveText{});
    const bool dead = !may_be_set(entry);
    if (ui.button("text/set", actions, "Write it down", {.look = Look::primary, .dead = dead}) &&
        !dead)
        out.push_back(intent::SetText{});
}

} // namespace

void draw_text_entry(Ui& ui, Rect screen, AppState& state, Intents& out) {
    TextEntry& entry = *state.text;
    ui.begin_layer();
    ui.fill(screen, Ink::ground);
    Rect body = screen.inset(ui.mm(1.4f));
    if (state.outside) {
        draw_outside_entry(ui, body, entry, out);
        ui.end_layer();
        return;
    }
    const bool wide = body.width() >= ui.mm(104);
    const bool low = body.height() < ui.mm(70);
    const float gap = ui.mm(low ? 0.6f : 1.0f);
    const Rows rows = wide ? (entry.figures ? Rows(k_wide_figures) : Rows(k_wide))
                           : (entry.figures ? Rows(k_narrow_figures) : Rows(k_narrow));
    const int count = static_cast<int>(rows.size());
    const float key_height =
        std::min(ui.mm(11), (body.height() - ui.mm(22)) / static_cast<float>(count + 2) - gap);

    const float title = ui.theme().pitch(Face::note);
    Rect actions = body.cut_bottom(std::max(ui.mm(9), key_height), gap);
    Rect space = body.cut_bottom(std::max(ui.mm(9), key_height), gap);
    const float block = static_cast<float>(count) * (std::max(ui.mm(9), key_height) + gap) - gap;
    const Rect keys = body.cut_bottom(block, ui.mm(low ? 0.8f : 1.5f));
    ui.text_cut(body.cut_top(title, ui.mm(low ? 0.3f : 0.8f)), entry.title, Face::note, Ink::soft);
    const Rect line{body.x0, body.y0, body.x1, std::min(body.y1, body.y0 + ui.mm(10))};
    if (ui.edit_text("text/line", line, entry.text, entry.pending, entry.title))
        out.push_back(intent::ChangeText{});

    const std::size_t columns = wide ? 10 : 6;
    for (int r = 0; r < count; ++r) {
        const std::string_view letters = rows[static_cast<std::size_t>(r)];
        Rect row = keys.row(r, count, gap);
        const float key_width =
            (row.width() - gap * static_cast<float>(columns - 1)) / static_cast<float>(columns);
        row.cut_left(static_cast<float>(columns - letters.size()) * (key_width + gap) / 2);
        for (const char c : letters) {
            std::array<char, 2> shown{c, 0};
            if (entry.capitals && c >= 'a' && c <= 'z')
                shown[0] = static_cast<char>(c - 'a' + 'A');
            const Rect key = row.cut_left(key_width, gap);
            const std::array<char, 2> plain{c, 0};
            if (ui.button(Name("text/", plain.data()), key, shown.data(),
                          {.role = ControlRole::key}))
                out.push_back(intent::PressLetter{std::string(shown.data())});
        }
    }
    const float small = std::max(ui.mm(12), space.width() * 0.18f);
    if (ui.button("text/shift", space.cut_left(small, gap), "ABC",
                  {.look = entry.capitals ? Look::selected : Look::special,
                   .role = ControlRole::key,
                   .selected = entry.capitals,
                   .face = Face::note}))
        out.push_back(intent::PressLetter{"shift"});
    if (ui.button("text/figures", space.cut_left(small, gap), "123",
                  {.look = entry.figures ? Look::selected : Look::special,
                   .role = ControlRole::key,
                   .selected = entry.figures,
                   .face = Face::note}))
        out.push_back(intent::PressLetter{"figures"});
    const Rect erase = space.cut_right(small, gap);
    if (ui.button("text/erase", erase, "", {.role = ControlRole::key, .grip = Grip::repeat}))
        out.push_back(intent::PressLetter{"erase"});
    draw_icon(ui, Icon::erase, erase, Ink::ink);
    if (ui.button("text/space", space, "space", {.role = ControlRole::key, .face = Face::note}))
        out.push_back(intent::PressLetter{" "});
    const Rect leave = actions.cut_left(actions.width() * 0.36f, ui.mm(2));
    if (ui.button("text/leave", leave, "Leave"))
        out.push_back(intent::LeaveText{});
    const bool dead = !may_be_set(entry);
    if (ui.button("text/set", actions, "Write it down", {.look = Look::primary, .dead = dead}) &&
        !dead)
        out.push_back(intent::SetText{});
    ui.end_layer();
}

} // namespace railside
