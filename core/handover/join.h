// Building a line out of pieces, some of which may be empty.
#pragma once

#include <string>
#include <string_view>

namespace railside {

/// Puts `more` after what `to` holds, with `by` between the two; does nothing where there is no
/// more.
inline void join(std::string& to, std::string_view more, std::string_view by = ", ") {
    if (more.empty())
        return;
    if (!to.empty())
        to += by;
    to += more;
}

} // namespace railside
