#include "app/rooms/builtin_lists.h"

#include "assets.h"

#include <array>
#include <cassert>
#include <utility>

namespace railside {

namespace {

constexpr std::array<std::string_view, 8> k_order = {
    "lists/intake.txt",       "lists/earlier_work.txt", "lists/reassembly.txt",
    "lists/before_power.txt", "lists/first_power.txt",  "lists/idle_current.txt",
    "lists/full_power.txt",   "lists/handing_back.txt",
};

std::vector<StepList> read_lists() {
    std::vector<StepList> lists;
    for (const std::string_view path : k_order) {
        const Asset* asset = find_asset(path);
        assert(asset != nullptr);
        if (asset == nullptr) {
            continue;
        }
        Result<StepList> list = parse_list(asset->bytes, path);
        assert(list.ok()); // a test reads every one of them
        if (list.ok()) {
            lists.push_back(std::move(list).value());
        }
    }
    return lists;
}

} // namespace

std::span<const StepList> builtin_lists() {
    static const std::vector<StepList> k_lists = read_lists();
    return k_lists;
}

const StepList* find_builtin_list(std::string_view key) {
    for (const StepList& list : builtin_lists()) {
        if (list.key == key) {
            return &list;
        }
    }
    return nullptr;
}

} // namespace railside
