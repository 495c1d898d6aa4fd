// The fields of a limiter's network, declared once for every working that has limiters, and the way
// from the inputs to the networks of both halves with their doubts.
#pragma once

#include "core/working/stage_fields.h"
#include "core/working/working.h"

#include <array>
#include <string_view>

namespace railside {

namespace limiter_field {

inline constexpr std::array k_slopes{
    Choice{"none", "not fitted"},       Choice{"ground_diode", "ground, through a diode"},
    Choice{"ground", "ground"},         Choice{"own", "the half's own rail"},
    Choice{"far", "the opposite rail"},
};
inline constexpr std::array k_alike{
    Choice{"same", "both the same"},
    Choice{"own", "− half has its own"},
};

/// At the sense end of the network.
constexpr Field resistor(std::string_view key, std::string_view label, std::string_view symbol,
                         std::string_view help, Need need, Condition when = {}) {
    return {.key = key,
            .label = label,
            .symbol = symbol,
            .help = help,
            .need = need,
            .unit = Unit::ohm,
            .low = 10,
            .high = 1e5,
            .usual_low = 47,
            .usual_high = 10e3,
            .spread = Spread::tolerance,
            .default_spread = 0.05,
            .when = when};
}
/// To ground or a rail.
constexpr Field slope_resistor(std::string_view key, std::string_view label,
                               std::string_view symbol, std::string_view help, Need need,
                               Condition when) {
    Field field = resistor(key, label, symbol, help, need, when);
    field.low = 220;
    field.high = 1e7;
    field.usual_low = 2.2e3;
    field.usual_high = 1e6;
    return field;
}
constexpr Field slope(std::string_view key, std::string_view label, std::string_view help,
                      Condition when = {}) {
    return {.key = key,
            .label = label,
            .help = help,
            .kind = FieldKind::choice,
            .by_default = "none",
            .choices = k_slopes,
            .when = when};
}

inline constexpr std::string_view k_sense_help =
    "From the limiter's base to the emitter resistor's far end; as fitted.";
inline constexpr std::string_view k_divider_help =
    "From the limiter's base to the output; empty where there is none. As fitted.";
inline constexpr std::string_view k_slope_help =
    "Where a further resistor from the limiter's base returns.";
inline constexpr std::string_view k_slope_resistor_help =
    "The resistor from the limiter's base to there; as fitted.";

inline constexpr Field k_sense =
    resistor("sense_resistor", "Sense resistor", "R_1", k_sense_help, Need::required);
inline constexpr Field k_divider =
    resistor("divider_resistor", "Divider resistor", "R_2", k_divider_help, Need::optional);
inline constexpr Field k_slope = slope("slope", "Slope resistor to", k_slope_help);
inline constexpr Field k_slope_resistor =
    slope_resistor("slope_resistor", "Slope resistor", "R_3", k_slope_resistor_help, Need::required,
                   {"slope", "ground_diode ground own far"});
inline constexpr Field k_second_slope =
    slope("second_slope", "Second slope to",
          "Where a second one returns; dual-slope limiters have "
          "one to ground and one to their own rail.");
inline constexpr Field k_second_slope_resistor =
    slope_resistor("second_slope_resistor", "Second slope resistor", "R_4", k_slope_resistor_help,
                   Need::required, {"second_slope", "ground_diode ground own far"});
inline constexpr Field k_alike_field{.key = "halves",
                                     .label = "Halves",
                                     .help = "Whether the resistors of the − half are the same as "
                                             "those above.",
                                     .kind = FieldKind::choice,
                                     .by_default = "same",
                                     .choices = k_alike};
inline constexpr Condition k_own{"halves", "own"};
inline constexpr Field k_sense_minus =
    resistor("sense_minus", "Sense resistor, − half", "R_1", k_sense_help, Need::optional, k_own);
inline constexpr Field k_divider_minus = resistor("divider_minus", "Divider resistor, − half",
                                                  "R_2", k_divider_help, Need::optional, k_own);
inline constexpr Field k_slope_minus = resistor("slope_minus", "Slope resistor, − half", "R_3",
                                                k_slope_resistor_help, Need::optional, k_own);
inline constexpr Field k_second_slope_minus =
    slope_resistor("second_slope_minus", "Second slope resistor, − half", "R_4",
                   k_slope_resistor_help, Need::optional, k_own);

} // namespace limiter_field

/// Sets something in the typical stage and in every end of its doubts.
template <class Set> void everywhere(StageGiven& given, Set&& set) {
    set(given.values);
    for (StageGiven::Ends& ends : given.doubts) {
        set(ends.low);
        set(ends.high);
    }
}

/// Puts the networks of both halves into the stage, and their resistors among its doubts, those of
/// one place together in both halves when they are the same. Errors: contradictory when both slope
/// resistors go to ground and only one through a diode.
[[nodiscard]] Result<Done> add_limiters(StageGiven& given, const Inputs& inputs);

/// The doubt about the limiter transistors: base-emitter volts and gain. `inputs` for their types.
/// Errors: those of device_constants.
[[nodiscard]] Result<Done> add_limiter_devices(StageGiven& given, const Inputs& inputs);

} // namespace railside
