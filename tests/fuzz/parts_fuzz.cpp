// Fuzz target: the parts table, finding types in it, the drawer, and judging whatever came of them.
#include "check.h"
#include "core/device/drawer.h"
#include "core/device/parts.h"
#include "core/device/stand_in.h"

#include <cstddef>
#include <cstdint>
#include <string_view>

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
    using namespace railside;
    const std::string_view text(reinterpret_cast<const char*>(data), size);
    const auto table = read_parts_table(text, "fuzz.tsv");
    const auto drawer = read_drawer(text);
    if (drawer) {
        const auto again = read_drawer(print_drawer(*drawer));
        must_hold(again && *again == *drawer, "what was printed reads back");
    }
    (void)find_part(builtin_parts(), text.substr(0, 64));
    if (!table) {
        must_hold(table.error().message.ends_with('.'), "a refusal is a sentence");
        return 0;
    }
    for (const Part& part : table->parts) {
        must_hold(!part.type.empty() && !part.source.empty(), "a row has what is needed");
    }
    if (table->parts.empty()) {
        return 0;
    }
    for (const Role role : {Role::output, Role::driver, Role::limiter, Role::other}) {
        Position position;
        position.role = role;
        position.original = &table->parts.front();
        position.polarity = position.original->polarity;
        position.rail_v = 40;
        position.load_ohm = 8;
        const auto ranked = rank_parts(position, *table, drawer ? *drawer : Drawer{});
        must_hold(ranked.size() < table->parts.size(), "the original is no candidate");
    }
    return 0;
}
