#include "core/working/entries.h"
#include "core/working/working.h"

#include <array>
#include <utility>

namespace railside {

namespace {

template <class Value, std::size_t N>
std::string_view key_of(const std::array<std::pair<Value, std::string_view>, N>& keys,
                        Value value) {
    for (const auto& [held, key] : keys) {
        if (held == value) {
            return key;
        }
    }
    return {};
}

template <class Value, std::size_t N>
std::optional<Value> value_of(const std::array<std::pair<Value, std::string_view>, N>& keys,
                              std::string_view key) {
    for (const auto& [value, held] : keys) {
        if (held == key) {
            return value;
        }
    }
    return std::nullopt;
}

using Name = std::string_view;

constexpr std::array k_origins{
    std::pair{Origin::typed, Name{"typed"}}, std::pair{Origin::measured, Name{"measured"}},
    std::pair{Origin::job, Name{"job"}},     std::pair{Origin::by_default, Name{"default"}},
    std::pair{Origin::table, Name{"table"}},
};

constexpr std::array k_verdicts{
    std::pair{VerdictState::in_window, Name{"in_window"}},
    std::pair{VerdictState::at_the_edge, Name{"at_the_edge"}},
    std::pair{VerdictState::outside, Name{"outside"}},
    std::pair{VerdictState::undecided, Name{"undecided"}},
};

constexpr std::array k_curve_roles{
    std::pair{CurveRole::as_found, Name{"as_found"}}, std::pair{CurveRole::target, Name{"target"}},
    std::pair{CurveRole::optimum, Name{"optimum"}},   std::pair{CurveRole::plus, Name{"plus"}},
    std::pair{CurveRole::minus, Name{"minus"}},       std::pair{CurveRole::limit, Name{"limit"}},
    std::pair{CurveRole::window, Name{"window"}},     std::pair{CurveRole::point, Name{"point"}},
};

} // namespace

std::span<const Working> catalogue() {
    static const std::array k_workings{idle_working(),    gain_working(),     heat_working(),
                                       limiter_working(), clip_working(),     leak_working(),
                                       standin_working(), spreader_working(), lamp_working(),
                                       capture_working()};
    return k_workings;
}

const Working* find_working(std::string_view key) {
    for (const Working& working : catalogue()) {
        if (working.key == key) {
            return &working;
        }
    }
    return nullptr;
}

const Field* find_field(const Working& working, std::string_view key) {
    for (const Field& field : working.fields) {
        if (field.key == key) {
            return &field;
        }
    }
    return nullptr;
}

std::string_view origin_key(Origin origin) { return key_of(k_origins, origin); }
std::optional<Origin> origin_from_key(std::string_view key) { return value_of(k_origins, key); }

std::string_view verdict_key(VerdictState state) { return key_of(k_verdicts, state); }
std::optional<VerdictState> verdict_from_key(std::string_view key) {
    return value_of(k_verdicts, key);
}

std::string_view curve_role_key(CurveRole role) { return key_of(k_curve_roles, role); }

} // namespace railside
