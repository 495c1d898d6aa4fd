// The drawer: the parts this bench has in stock, as text a person keeps.
//
// Grammar, one kind of part a line:
//   drawer = line*
//   line   = TYPE [("x" | "×") COUNT] [";" PLACE] | "#" text | ""
//   TYPE   = letters and figures with spaces or - between them, at least one figure, to 40 letters
//   COUNT  = 0 to 99999; not given: 1
//   PLACE  = any text to 40 letters
// Example: "MJL3281A x 4; shelf 3". The same type in the same place twice is one line with the
// counts added. A type need not be in the parts table. Lines end in LF or CRLF; at most 2000 lines.
#pragma once

#include "core/device/parts.h"
#include "core/result.h"

#include <string>
#include <string_view>
#include <vector>

namespace railside {

/// One kind of part in one place.
struct DrawerLine {
    std::string type; // as written: "2SC5200-O"
    int count = 1;    // 0: none left
    std::string place;

    friend bool operator==(const DrawerLine&, const DrawerLine&) = default;
};
using Drawer = std::vector<DrawerLine>;

/// Reads a drawer. Errors (bad_text, out_of_range) name the line and what was expected; nothing is
/// guessed and nothing of a refused text is taken.
[[nodiscard]] Result<Drawer> read_drawer(std::string_view text);

/// As text that read_drawer reads back alike, one line each: "MJL3281A x 4; shelf 3\n".
[[nodiscard]] std::string print_drawer(const Drawer& drawer);

/// Both together: counts of the same type in the same place are added, the order is that of `a`,
/// then what only `b` has. Counts stop at 99999.
[[nodiscard]] Drawer merge_drawers(const Drawer& a, const Drawer& b);

/// What the drawer holds of a type.
struct Stock {
    int count = 0;
    std::string where; // "4 in shelf 3, 2 in box B"; empty when there is none
};
/// A line counts when its text finds that part in the table, or names the same type; with a group
/// only lines of that group do.
[[nodiscard]] Stock stock_of(const Drawer& drawer, const PartsTable& table, const Part& part,
                             const std::optional<GainGroup>& group);

} // namespace railside
