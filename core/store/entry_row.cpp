#include "core/store/entry_row.h"

#include <optional>

namespace railside {

Entry read_entry(const Statement& row) {
    Entry entry;
    entry.id = row.text(0);
    entry.job = row.text(1);
    entry.time_ms = row.integer(2);
    entry.bench = row.text(3);
    const std::string_view kind = row.text(4);
    if (const std::optional<EntryKind> known = entry_kind_from_key(kind)) {
        entry.kind = *known;
    } else {
        entry.kind = EntryKind::unknown;
        entry.kind_text = kind;
    }
    entry.body = nlohmann::json::parse(row.text(5), nullptr, false);
    if (entry.body.is_discarded())
        entry.body = nullptr;
    return entry;
}

void bind_entry(Statement& statement, const Entry& entry, const std::string& body) {
    statement.bind(0, entry.id);
    statement.bind(1, entry.job);
    statement.bind(2, entry.time_ms);
    statement.bind(3, entry.bench);
    statement.bind(4, written_kind(entry));
    statement.bind(5, body);
}

} // namespace railside
