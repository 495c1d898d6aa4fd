// A working with its inputs and answer as JSON, the one form the command line prints, entries keep
// and tests read.
//
// {"working": key, "inputs": {field: {"value", "low", "high", "unit", "text", "from"} or {"word",
// "text", "from"}; of a recording the name as "word" and the size as "bytes", never the samples},
//  "results": {figure: {"value", "low", "high", "unit", "label"}}, "headline": figure key,
//  "headline_note", "verdict": {"state", "word", "reason"}, "cautions": [...], "notes": [...],
//  "curves": {curve: {"label", "role", "x": {"label", "unit", "values"}, "y": {...}}},
//  "tables": {table: {"title", "columns": [...], "rows": [[...], ...]}}}
// Values are SI base units in full double precision.
#pragma once

#include "core/working/working.h"

#include <nlohmann/json_fwd.hpp>

namespace railside {

[[nodiscard]] nlohmann::json working_to_json(const Working& working, const Inputs& inputs,
                                             const Outcome& outcome);
[[nodiscard]] nlohmann::json inputs_to_json(const Working& working, const Inputs& inputs);

/// Reads inputs back, checking each against its field. Unknown fields are refused by name. A
/// recording comes back as its name alone (Input::data null), which run_working refuses as not
/// here.
[[nodiscard]] Result<Inputs> inputs_from_json(const Working& working, const nlohmann::json& json);

/// The catalogue itself as JSON: every working with its fields, units, ranges, defaults and help.
[[nodiscard]] nlohmann::json catalogue_to_json();

} // namespace railside
