// Fuzz target: the parts table, finding types in it, the drawer, and judging whatever came of them.
#include "core/device/drawer.h"
#include "core/device/parts.h"
#include "core/device/stand_in.h"

#include <cstddef>
#include <cstdint>
#include <cstdlib>
#include <string_view>

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
    using namespace railside;
    const std::string_view text(reinterpret_cast<const char*>(data), size);
    const auto table = read_parts_table(text, "fuzz.tsv");
    const auto drawer = read_drawer(text);
    if (drawer) {
        const auto again = read_drawer(print_drawer(*drawer));
        if (!again || !(*again == *drawer)) {
            std::abort(); // what was printed does not read back
        }
    }
    (void)find_part(builtin_parts(), text.substr(0, 64));
    if (!table) {
        return 0;
    }
    for (const Part& part : table->parts) {
        if (part.type.empty() || part.source.empty()) {
            std::abort(); // a row without what is needed was taken
        }
    }
    for (const Part& original : table->parts) {
        for (const Role role : {Role::output, Role::driver, Role::limiter, Role::other}) {
            Position position;
            position.role = role;
            position.polarity = original.polarity;
            position.rail_v = 40;
            position.load_ohm = 8;
            position.original = &original;
            (void)rank_parts(position, *table, drawer ? *drawer : Drawer{});
        }
        break;
    }
    return 0;
}
