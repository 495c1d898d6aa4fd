#include "core/job/utf8.h"

#include <cstddef>
#include <cstdint>

namespace railside {

bool is_utf8(std::string_view text) {
    for (std::size_t i = 0; i < text.size();) {
        const auto lead = static_cast<unsigned char>(text[i]);
        if (lead < 0x80) {
            ++i;
            continue;
        }
        const std::size_t more = lead >= 0xF0 ? 3 : lead >= 0xE0 ? 2 : 1;
        if (lead < 0xC2 || lead > 0xF4 || text.size() - i <= more)
            return false;
        std::uint32_t point = lead & (0x3FU >> more);
        for (std::size_t k = 1; k <= more; ++k) {
            const auto next = static_cast<unsigned char>(text[i + k]);
            if ((next & 0xC0U) != 0x80U)
                return false;
            point = point << 6U | (next & 0x3FU);
        }
        const bool overlong = (more == 2 && point < 0x800) || (more == 3 && point < 0x10000);
        const bool surrogate = point >= 0xD800 && point <= 0xDFFF;
        if (overlong || surrogate || point > 0x10FFFF)
            return false;
        i += more + 1;
    }
    return true;
}

} // namespace railside
