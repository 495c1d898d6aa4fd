// A report set out for one of its two readers: headings, paragraphs, tables and photos in order,
// which the writers (text, HTML, PDF) and the preview put on their paper alike. The client reads
// plain words with a glossary; the bench reads everything.
#pragma once

#include "core/handover/report.h"

#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace railside {

enum class Audience {
    client, // what was wrong, what was done, what it cost, what to decide
    bench,  // all readings, workings and the history, for the next technician
};
[[nodiscard]] std::string_view audience_key(Audience audience);
[[nodiscard]] std::optional<Audience> audience_from_key(std::string_view key);

enum class BlockKind {
    heading, // text, level 1 or 2
    words,   // text: a paragraph
    quote,   // text: someone's own words
    note,    // text: small and soft
    caution, // text: what can hurt
    facts,   // table of two columns without a head: label, value
    bullets, // table of one column without a head
    table,   // table
    photos,  // photos
};

enum class CellAlign { left, right };

struct Column {
    std::string title;
    double share = 1; // of the width
    CellAlign align = CellAlign::left;
};

struct Cell {
    std::string text = {};
    std::string note = {};                              // under it, smaller
    std::optional<VerdictState> verdict = std::nullopt; // a shape before the text
};

enum class RowLook {
    plain,
    total,  // a sum: a stronger line above, bold
    group,  // one cell over the whole width: what the rows below have in common
    struck, // retracted: struck through
};

struct Row {
    std::vector<Cell> cells;
    RowLook look = RowLook::plain;
    std::vector<std::string> entries = {}; // what it rests on
};

struct Table {
    std::vector<Column> columns;
    std::vector<Row> rows;
};

struct Block {
    BlockKind kind = BlockKind::words;
    int level = 1;
    std::string text = {};
    Table table = {};
    std::vector<ReportPhoto> photos = {};
    std::vector<std::string> entries = {};
    bool is_aside = false; // a message leaves it out
};

struct Document {
    Audience audience = Audience::client;
    std::string kind;  // "Report at handover"
    std::string title; // the unit
    std::string date;  // "12 March 2025"
    std::string head;  // running head of the pages
    std::string foot;  // running foot
    std::vector<Block> blocks;
};

[[nodiscard]] Document make_document(const Report& report, Audience audience);

/// "as it should be", "outside, high": the verdict's word for that reader.
[[nodiscard]] std::string verdict_words(const ReportValue& value, Audience audience);

/// Its text alone, one line for each block and row, for tests and for comparing two of them.
[[nodiscard]] std::string outline(const Document& document);

} // namespace railside
