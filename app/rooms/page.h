// A page: rows of words, values, buttons and pictures, put together by a model and drawn by
// page_draw.cpp. Most of the sheet, the bench and what can be said about a photo are pages, so that
// they look and answer alike.
#pragma once

#include "app/rooms/intent.h"

#include <optional>
#include <string>
#include <vector>

namespace railside {

/// What a word on a page says by its colour, beside saying it.
enum class Tone {
    plain, //
    soft,  // notes
    good,  //
    edge,  // wants attention
    bad,   //
};

enum class ButtonKind {
    plain,   //
    primary, // the one action of the page
    danger,  //
    chosen,  // one of several words, the one that stands
    choice,  // one of several words
};

struct PageButton {
    std::string name; // of its control, after the page's name
    std::string label;
    Intent does;
    ButtonKind kind = ButtonKind::plain;
};

struct PagePicture {
    std::string name;
    std::string hash;
    std::string caption;
    Intent does;
};

enum class RowKind {
    heading,  // label
    words,    // value, wrapped, in its tone
    caution,  // value, in the frame of a caution
    field,    // label and value; a tap changes it
    line,     // label large, value at the right, more and note below
    buttons,  // as many in a row as fit
    sides,    // label, then one value for each channel
    pictures, // thumbnails side by side
    gauge,    // label, value and a bar filled to `part`
    ruler,    // a line of 50 mm times `part`, dragged to size the screen
};

struct PageRow {
    RowKind kind = RowKind::words;
    std::string name; // of its control, after the page's name; empty: not touched
    std::string label;
    std::string value; // sides: of the left
    std::string other; // sides: of the right
    std::string more;
    std::string note;
    Tone tone = Tone::plain; // of the value; of a line: of what stands at the right
    Tone note_tone = Tone::edge;
    bool struck = false;
    bool opened = false;
    float part = 0; // gauge: 0 to 1
    std::optional<Intent> does;
    std::vector<PageButton> buttons;
    std::vector<PagePicture> pictures;
    /// How high page_draw.cpp last drew it, at which width and in which text: a long page need not
    /// measure what is out of sight again. A page is made anew whenever it changes.
    struct Drawn {
        float width = -1, pitch = 0, height = 0;
    };
    mutable Drawn drawn = {};
};

struct Page {
    std::string name; // of its scrolling part, and before every control's
    std::string title;
    std::optional<Intent> back; // one level up
    std::vector<PageRow> rows;
    std::vector<PageButton> head; // stays in view; drawn by draw_head
    std::vector<PageButton> foot; // stays in view
    std::string follow;           // name of the row that wants to come into view, or empty
};

// Rows in one call each.
[[nodiscard]] PageRow heading_row(std::string label);
[[nodiscard]] PageRow words_row(std::string value, Tone tone = Tone::soft);
[[nodiscard]] PageRow caution_row(std::string value);
[[nodiscard]] PageRow buttons_row(std::vector<PageButton> buttons);
/// A text that a tap lets one write anew: control `name`, TextEntry target `target`.
[[nodiscard]] PageRow text_row(std::string name, std::string label, std::string value,
                               std::string target);
/// A value that a tap opens the keypad for.
[[nodiscard]] PageRow value_row(std::string name, std::string label, std::string value,
                                std::string target);
/// A word that a tap offers others for.
[[nodiscard]] PageRow word_row(std::string name, std::string label, PickList pick);
/// One button for each word, the one that stands chosen; each sets `target`.
[[nodiscard]] PageRow
words_to_choose(std::string_view name, const std::string& target, std::string_view now,
                const std::vector<std::pair<std::string, std::string>>& words);

} // namespace railside
