// Whether an entry's body fits its kind; the grammar is in journal.md beside this file.
#pragma once

#include "core/job/entry.h"

namespace railside {

/// Errors (bad_text) name the kind, the member and what it must be. Members not known here and
/// kinds not known here pass. The body must have passed check_form.
[[nodiscard]] Result<Done> check_body(EntryKind kind, const nlohmann::json& body);

} // namespace railside
