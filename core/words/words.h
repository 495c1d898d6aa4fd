// What the program says, ready for other languages. English stands in the code, where it is said;
// assets/words/railside.pot lists it all (app/setup/words.sh makes the list). A catalogue, a
// gettext PO file, puts other words in its place.
#pragma once

#include "core/result.h"

#include <fmt/format.h>

#include <memory>
#include <string>
#include <string_view>
#include <type_traits>
#include <unordered_map>

namespace railside {

/// Other words for the English ones.
class Catalogue {
  public:
    /// From the text of a PO file in UTF-8, at most 4 MB; entries that are fuzzy, plural or not
    /// translated are passed over. Refused with the line: what is no PO, and an entry whose {}
    /// places are not those of its English (they may be put in another order by number, "{1} {0}").
    [[nodiscard]] static Result<Catalogue> read(std::string_view po, std::string_view file_name);

    /// The words for these, or `english` itself.
    [[nodiscard]] std::string_view find(std::string_view english) const;
    [[nodiscard]] std::size_t size() const { return words_.size(); }

  private:
    struct Hash {
        using is_transparent = void;
        std::size_t operator()(std::string_view text) const {
            return std::hash<std::string_view>()(text);
        }
    };
    std::unordered_map<std::string, std::string, Hash, std::equal_to<>> words_;
};

/// From here on the program speaks by this; null: English. Before anything is shown, for what was
/// given out by words() lives in it.
void set_catalogue(std::shared_ptr<const Catalogue> catalogue);

/// These words as the program speaks now. What no catalogue knows (a name, a figure, a note
/// somebody typed) comes back as it is. Allocates nothing.
[[nodiscard]] std::string_view words(std::string_view english);

namespace words_detail {
/// Words put into a sentence are looked up as well; what was put together before is not.
template <class T> decltype(auto) shown(const T& part) {
    if constexpr (std::is_convertible_v<const T&, std::string_view> &&
                  !std::is_same_v<T, std::string>)
        return words(std::string_view(part));
    else
        return (part);
}
} // namespace words_detail

/// As fmt::format, in the words the program speaks now.
template <class... T>
[[nodiscard]] std::string worded(fmt::format_string<T...> english, T&&... parts) {
    const fmt::string_view text = english;
    const std::string_view spoken = words({text.data(), text.size()});
    const auto put_in = [spoken](const auto&... part) {
        return fmt::vformat(fmt::string_view(spoken.data(), spoken.size()),
                            fmt::make_format_args(part...));
    };
    return put_in(words_detail::shown(parts)...);
}

} // namespace railside
