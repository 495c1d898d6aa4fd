// The parallel pairs of a stage taken for one pair of devices as large as all of them together:
// exact while the pairs are alike, and several times faster to solve.
#pragma once

#include "core/stage/stage_circuit.h"

namespace railside {

/// `count` devices in parallel as one. `count` 1 or more.
[[nodiscard]] BipolarModel merged_devices(const BipolarModel& model, int count);

/// The stage with one pair in place of its pairs. Readings and spread stay; currents and heat of
/// one output device become those of all of a half.
[[nodiscard]] StageValues merged_pairs(const StageValues& values);

} // namespace railside
