#include "app/command/nearest.h"

#include <algorithm>
#include <vector>

namespace railside {

int letters_apart(std::string_view a, std::string_view b) {
    const std::size_t columns = b.size() + 1;
    std::vector<int> before(columns);
    std::vector<int> last(columns);
    std::vector<int> now(columns);
    for (std::size_t j = 0; j < columns; ++j)
        last[j] = static_cast<int>(j);
    for (std::size_t i = 1; i <= a.size(); ++i) {
        now[0] = static_cast<int>(i);
        for (std::size_t j = 1; j <= b.size(); ++j) {
            const int changed = last[j - 1] + (a[i - 1] == b[j - 1] ? 0 : 1);
            now[j] = std::min({changed, last[j] + 1, now[j - 1] + 1});
            if (i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1])
                now[j] = std::min(now[j], before[j - 2] + 1);
        }
        std::swap(before, last);
        std::swap(last, now);
    }
    return last[b.size()];
}

std::string nearest_name(std::string_view word, std::span<const std::string> names) {
    constexpr std::size_t k_longest = 64; // nobody mistypes a name into more
    if (word.empty() || word.size() > k_longest)
        return {};
    const std::string* best = nullptr;
    int least = std::max(2, static_cast<int>(word.size() / 3)) + 1;
    for (const std::string& name : names) {
        const int apart = letters_apart(word, name);
        if (apart < least) {
            least = apart;
            best = &name;
        }
    }
    if (best == nullptr) {
        const auto begun =
            std::find_if(names.begin(), names.end(),
                         [word](const std::string& name) { return name.starts_with(word); });
        best = begun == names.end() ? nullptr : &*begun;
    }
    return best == nullptr ? std::string() : *best;
}

} // namespace railside
