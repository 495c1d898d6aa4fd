#include "app/rooms/help_model.h"

namespace railside {

namespace {

constexpr Shortcut k_shortcuts[] = {
    {'s', ShortcutAction::sheet, "Sheet"},
    {'w', ShortcutAction::workings, "Workings"},
    {'p', ShortcutAction::photos, "Photos"},
    {'u', ShortcutAction::suspects, "Suspects"},
    {'t', ShortcutAction::steps, "Steps"},
    {'h', ShortcutAction::handover, "Handover"},
    {'j', ShortcutAction::shelf, "Shelf, all jobs"},
    {'b', ShortcutAction::companion, "What stands beside"},
    {'c', ShortcutAction::other_channel, "The other channel"},
    {'o', ShortcutAction::other_workings, "Other workings"},
    {'k', ShortcutAction::keep, "Keep the working"},
    {'n', ShortcutAction::new_job, "New job"},
    {'/', ShortcutAction::search, "Search the shelf"},
};

PageRow key_row(std::string key, std::string_view does) {
    PageRow row;
    row.kind = RowKind::field;
    row.label = does;
    row.value = std::move(key);
    return row;
}

} // namespace

std::span<const Shortcut> shortcuts() { return k_shortcuts; }

Page make_help_page() {
    Page page;
    page.name = "help";
    page.title = "Keys";
    page.back = intent::ShowHelp{false};
    page.rows.push_back(heading_row("Anywhere"));
    page.rows.push_back(key_row("Tab, arrows", "To the next control and back"));
    page.rows.push_back(key_row("Enter", "Touches the control in the ring"));
    page.rows.push_back(key_row("Esc", "One level back"));
    page.rows.push_back(key_row("Page up, down", "Scrolls"));
    page.rows.push_back(key_row("F1 or ?", "This page"));
    page.rows.push_back(heading_row("Go to"));
    for (const Shortcut& one : shortcuts())
        page.rows.push_back(key_row(std::string(1, one.letter), one.label));
    page.rows.push_back(heading_row("Values"));
    page.rows.push_back(key_row("0 to 9", "Keys in the field in the ring"));
    page.rows.push_back(key_row("12m, 0R22, 4k7, 12 mV", "What the keypad understands"));
    page.rows.push_back(key_row("↑ ↓", "Next value up or down"));
    page.rows.push_back(key_row("Enter", "Sets it; once more where it is unusual"));
    page.rows.push_back(key_row("Esc", "Leaves it as it was"));
    return page;
}

} // namespace railside
