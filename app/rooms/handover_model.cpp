#include "app/rooms/handover_model.h"

#include "app/rooms/money_model.h"
#include "core/words/words.h"

#include <fmt/format.h>

#include <algorithm>
#include <utility>

namespace railside {

namespace {

std::string mend_label(const Missing& one) {
    switch (one.where) {
    case MendIn::sheet:
        return "Go to the sheet";
    case MendIn::positions:
        return "Go to the position";
    case MendIn::money:
        return "Go to the money";
    case MendIn::photos:
        return "Go to the photos";
    case MendIn::steps:
        return "Go to the list";
    case MendIn::apart:
        return "Go to what is off";
    case MendIn::workings:
        return "Go to the working";
    case MendIn::handover:
        return one.what.empty() ? "Write it" : "See what is wanting";
    }
    return {};
}

std::string rank_label(WantingRank rank) {
    switch (rank) {
    case WantingRank::safety:
        return "Safety";
    case WantingRank::reliability:
        return "Reliability";
    case WantingRank::sound:
        return "Sound";
    }
    return {};
}

bool is_back(const Job& job) {
    return job_state_from_word(job.sheet.state) == JobState::handed_back;
}

Page missing_page(const AppState& state, const Job& job, const Report& report) {
    Page page;
    page.name = "handover/missing";
    const auto barring = std::count_if(report.missing.begin(), report.missing.end(),
                                       [](const Missing& one) { return one.reason.empty(); });
    if (is_back(job))
        page.rows.push_back(words_row("The unit is handed back.", Tone::good));
    if (barring > 0)
        page.rows.push_back(caution_row(worded(
            "{} {} handing it back. Mend each, or let it pass with a reason, which the report "
            "then says.",
            barring, barring == 1 ? "thing bars" : "things bar")));
    else if (report.missing.empty())
        page.rows.push_back(words_row("Nothing is missing.", Tone::good));
    else
        page.rows.push_back(words_row("Nothing bars any more: the rest is let pass.", Tone::good));
    for (const Missing& one : report.missing) {
        PageRow row;
        row.kind = RowKind::line;
        row.name = "item/" + one.key;
        row.label = one.sentence;
        row.value = one.reason.empty() ? "bars" : "let pass";
        row.tone = one.reason.empty() ? Tone::bad : Tone::edge;
        if (!one.reason.empty())
            row.more = worded("Let pass: {}", one.reason);
        row.opened = state.missing_item == one.key;
        row.does = intent::OpenMissing{row.opened ? std::string() : one.key};
        const bool opened = row.opened;
        page.rows.push_back(std::move(row));
        if (!opened)
            continue;
        std::vector<PageButton> buttons{{"mend", mend_label(one), intent::Mend{one}}};
        buttons.push_back({"pass", one.reason.empty() ? "Let it pass" : "Another reason",
                           intent::EditText{"override/" + one.key,
                                            "Why it is let pass: the report says so", one.reason}});
        if (!one.reason.empty())
            buttons.push_back(
                {"bar", "It bars again", intent::SetWord{"override/" + one.key, std::string()}});
        page.rows.push_back(buttons_row(std::move(buttons)));
    }
    if (!is_back(job))
        page.foot.push_back({"hand_back", "Hand it back", intent::HandBack{},
                             barring == 0 ? ButtonKind::primary : ButtonKind::plain});
    return page;
}

Page words_page(const Job& job) {
    const ClosingRecord& closing = job.closing;
    Page page;
    page.name = "handover/words";
    page.rows.push_back(text_row("words", "Closing words", closing.words, "closing/words"));
    page.rows.push_back(heading_row("For later jobs: what they find as seen before"));
    page.rows.push_back(text_row("cause", "The cause", closing.cause, "closing/cause"));
    page.rows.push_back(text_row("cure", "The cure", closing.cure, "closing/cure"));
    const auto otherwise = [&](const std::string& name, std::string label,
                               const std::string& written, const std::string& sheet) {
        PageRow row = text_row(name, std::move(label), written, "closing/" + name);
        if (written.empty() && !sheet.empty())
            row.more = worded("As on the sheet: {}", sheet);
        page.rows.push_back(std::move(row));
    };
    otherwise("symptom", "The symptom", closing.symptom, job.sheet.complaint);
    otherwise("unit", "The unit", closing.unit,
              job.sheet.maker.empty() ? job.sheet.model : job.sheet.maker + " " + job.sheet.model);
    return page;
}

std::string photo_words(const PhotoRecord& photo) {
    return photo.caption.empty() ? std::string(photo_stage_label(photo.stage)) : photo.caption;
}

Page photos_page(const Job& job, const Report& report) {
    Page page;
    page.name = "handover/photos";
    const auto row_of = [](bool shown) {
        PageRow row;
        row.kind = RowKind::pictures;
        row.name = shown ? "in" : "out";
        return row;
    };
    const auto add = [](PageRow& row, const PhotoRecord& photo, bool shown) {
        row.pictures.push_back({"photo/" + photo.source.entry, photo.hash, photo_words(photo),
                                intent::ChooseReportPhoto{photo.source.entry, !shown}});
    };
    PageRow in = row_of(true);
    PageRow out = row_of(false);
    in.pictures.reserve(report.photos.size());
    for (const ReportPhoto& one : report.photos)
        add(in, one.photo, true);
    out.pictures.reserve(job.photos.size());
    for (const PhotoRecord& photo : job.photos)
        if (photo.source.standing == Standing::valid &&
            std::none_of(report.photos.begin(), report.photos.end(), [&](const ReportPhoto& one) {
                return one.photo.source.entry == photo.source.entry;
            }))
            add(out, photo, false);
    page.rows.push_back(heading_row(worded("In the report: {}", in.pictures.size())));
    page.rows.push_back(in.pictures.empty() ? words_row("None. A touch on one below takes it in.")
                                            : words_row("In this order. A touch leaves one out."));
    if (!in.pictures.empty())
        page.rows.push_back(std::move(in));
    if (!out.pictures.empty()) {
        page.rows.push_back(heading_row(worded("Left out: {}", out.pictures.size())));
        page.rows.push_back(words_row("A touch takes one in, as the last."));
        page.rows.push_back(std::move(out));
    }
    return page;
}

Page one_wanting(const WantingRecord& wanting, const Job& job) {
    Page page;
    page.name = "wanting";
    page.title = "Still wanting";
    page.back = intent::OpenWanting{};
    const std::string target = fmt::format("wanting/{}/", wanting.source.entry);
    page.rows.push_back(text_row("title", "What is wanting", wanting.title, target + "title"));
    page.rows.push_back(text_row("why", "Why", wanting.why, target + "why"));
    page.rows.push_back(heading_row("What is at stake"));
    std::vector<std::pair<std::string, std::string>> ranks;
    for (const WantingRank rank :
         {WantingRank::safety, WantingRank::reliability, WantingRank::sound})
        ranks.emplace_back(wanting_rank_key(rank), rank_label(rank));
    page.rows.push_back(
        words_to_choose("rank", target + "rank", wanting_rank_key(wanting.rank), ranks));
    page.rows.push_back(value_row("parts", "Parts",
                                  wanting.parts > 0 ? print_money(wanting.parts, job.sheet.currency)
                                                    : std::string(),
                                  target + "parts"));
    page.rows.push_back(
        value_row("minutes", "Work",
                  wanting.minutes > 0 ? worded("{:g} min", wanting.minutes) : std::string(),
                  target + "minutes"));
    PickList positions{target + "position", "Which position it is about", wanting.position, {}};
    positions.words.emplace_back("", "none in particular");
    for (const PositionRecord& position : job.positions)
        if (position.source.standing == Standing::valid)
            positions.words.emplace_back(position.source.entry, position_name(position));
    page.rows.push_back(word_row("position", "Position", std::move(positions)));
    page.rows.push_back(heading_row("Where it stands"));
    page.rows.push_back(words_to_choose(
        "state", target + "state", wanting_state_key(wanting.state),
        {{"open", "Open"}, {"done", "Done"}, {"declined", "Declined by the client"}}));
    page.rows.push_back(buttons_row(
        {{"strike", "Strike it", intent::StrikeEntry{wanting.source.entry, Standing::struck},
          ButtonKind::danger}}));
    return page;
}

PageRow wanting_row(const ReportWanting& one, const std::string& currency) {
    PageRow row;
    row.kind = RowKind::line;
    row.name = "item/" + one.record.source.entry;
    row.label = one.record.title;
    row.value = one.priced ? print_money(one.estimate, currency) : "no hourly rate";
    row.tone = one.priced ? Tone::plain : Tone::edge;
    row.more = rank_label(one.record.rank);
    if (!one.record.why.empty())
        row.more += " · " + one.record.why;
    row.does = intent::OpenWanting{one.record.source.entry};
    return row;
}

Page wanting_page(const AppState& state, const Job& job, const Report& report) {
    for (const WantingRecord& one : job.wanting)
        if (one.source.entry == state.wanting && one.source.standing == Standing::valid)
            return one_wanting(one, job);
    const Money& money = report.money;
    Page page;
    page.name = "handover/wanting";
    page.rows.push_back(money_gauge(money));
    if (money.limit > 0)
        page.rows.push_back(words_row(
            money.left >= 0
                ? worded("{} are left of the limit.", print_money(money.left, money.currency))
                : worded("The limit is passed by {}.", print_money(-money.left, money.currency))));
    for (const ReportWanting& one : report.wanting) {
        PageRow row = wanting_row(one, money.currency);
        if (one.priced) {
            row.note = worded("With those above {}", print_money(one.running, money.currency));
            if (money.limit > 0)
                row.note += one.within ? ", within what is left" : ", past what is left";
            row.note_tone = money.limit <= 0 ? Tone::soft : one.within ? Tone::good : Tone::edge;
        }
        page.rows.push_back(std::move(row));
    }
    if (report.wanting.empty())
        page.rows.push_back(words_row("Nothing is wanting."));
    if (!report.settled.empty())
        page.rows.push_back(heading_row("Settled"));
    for (const ReportWanting& one : report.settled) {
        PageRow row = wanting_row(one, money.currency);
        row.value = wanting_state_key(one.record.state);
        row.tone = Tone::soft;
        page.rows.push_back(std::move(row));
    }
    page.foot.push_back({"add", "Add what is wanting", intent::AddWanting{}, ButtonKind::primary});
    return page;
}

PageRow audience_row(Audience now) {
    return words_to_choose("audience", "report/audience", audience_key(now),
                           {{std::string(audience_key(Audience::client)), "For the client"},
                            {std::string(audience_key(Audience::bench)), "For the bench"}});
}

Page preview_page(const AppState& state, const Report& report) {
    Page page;
    page.name = "handover/preview";
    page.rows.push_back(audience_row(state.audience));
    std::vector<PageRow> rows = preview_rows(make_document(report, state.audience));
    page.rows.insert(page.rows.end(), std::make_move_iterator(rows.begin()),
                     std::make_move_iterator(rows.end()));
    return page;
}

Page write_page(const AppState& state, const HandoverFacts& facts) {
    Page page;
    page.name = "handover/write";
    if (!facts.writing.empty()) {
        PageRow row;
        row.kind = RowKind::gauge;
        row.name = "progress";
        row.label = facts.stopping ? "Stopping" : "Writing";
        row.value = facts.of > 0 ? worded("{} of {}", facts.done, facts.of) : "begun";
        row.part = facts.of > 0 ? static_cast<float>(facts.done) / static_cast<float>(facts.of) : 0;
        page.rows.push_back(std::move(row));
        page.rows.push_back(words_row(facts.writing));
        if (!facts.stopping)
            page.rows.push_back(
                buttons_row({{"stop", "Stop", intent::StopReport{}, ButtonKind::danger}}));
        return page;
    }
    if (!can_hand_back(facts.report.missing))
        page.rows.push_back(caution_row("Something still bars handing it back; the report says "
                                        "what was not done."));
    page.rows.push_back(heading_row("Who reads it"));
    page.rows.push_back(audience_row(state.audience));
    page.rows.push_back(heading_row("Paper, for the PDF"));
    page.rows.push_back(words_to_choose("paper", "report/paper", paper_key(facts.paper),
                                        {{std::string(paper_key(Paper::a4)), "A4"},
                                         {std::string(paper_key(Paper::letter)), "Letter"}}));
    page.rows.push_back(text_row("bench", "Who hands it back", facts.bench, "report/bench"));
    page.foot = {{"pdf", "PDF", intent::WriteReport{ReportForm::pdf}},
                 {"html", "Web page", intent::WriteReport{ReportForm::html}},
                 {"text", "Text", intent::WriteReport{ReportForm::text}}};
    if (!state.report_written.empty()) {
        page.rows.push_back(words_row(worded("Written last: {}", state.report_written)));
        if (!facts.open_label.empty())
            page.rows.push_back(buttons_row({{"open", facts.open_label, intent::OpenReport{}}}));
    }
    return page;
}

std::string cell_words(const Cell& cell) {
    if (cell.note.empty())
        return cell.text;
    return cell.text.empty() ? cell.note : fmt::format("{} ({})", cell.text, cell.note);
}

/// A table's row as a line: its first cell large, the others below it with their columns' names.
PageRow table_row(const Table& table, const Row& row) {
    PageRow line;
    line.kind = RowKind::line;
    line.struck = row.look == RowLook::struck;
    for (std::size_t i = 0; i < row.cells.size(); ++i) {
        const std::string words = cell_words(row.cells[i]);
        if (i == 0) {
            line.label = words;
            continue;
        }
        if (words.empty())
            continue;
        if (!line.more.empty())
            line.more += " · ";
        if (i < table.columns.size() && !table.columns[i].title.empty())
            line.more += table.columns[i].title + ": ";
        line.more += words;
    }
    if (line.label.empty())
        std::swap(line.label, line.more);
    return line;
}

void add_table(std::vector<PageRow>& rows, const Block& block) {
    for (const Row& row : block.table.rows) {
        if (row.cells.empty())
            continue;
        if (row.look == RowLook::group) {
            rows.push_back(heading_row(cell_words(row.cells.front())));
        } else if (block.kind == BlockKind::bullets) {
            rows.push_back(words_row("• " + cell_words(row.cells.front()), Tone::plain));
        } else if (block.kind == BlockKind::facts && row.cells.size() > 1) {
            PageRow field;
            field.kind = RowKind::field;
            field.label = row.cells[0].text;
            field.value = row.cells[1].text;
            field.more = row.cells[1].note;
            rows.push_back(std::move(field));
        } else {
            rows.push_back(table_row(block.table, row));
        }
    }
}

void add_photo(std::vector<PageRow>& rows, const ReportPhoto& one) {
    PageRow row;
    row.kind = RowKind::pictures;
    row.pictures.push_back({"photo/" + one.photo.source.entry, one.photo.hash, one.caption,
                            intent::ShowPhoto{one.photo.source.entry, true}});
    rows.push_back(std::move(row));
    std::string words = one.caption;
    if (!one.pair.empty())
        words += fmt::format(" ({})", one.pair);
    for (std::size_t i = 0; i < one.legend.size(); ++i)
        words += fmt::format("\n{}  {}", i + 1, one.legend[i]);
    rows.push_back(words_row(std::move(words)));
}

} // namespace

std::vector<PageRow> preview_rows(const Document& document) {
    std::vector<PageRow> rows;
    rows.reserve(document.blocks.size() * 3 + 3);
    const auto large = [&](std::string label, std::string more) {
        PageRow row;
        row.kind = RowKind::line;
        row.label = std::move(label);
        row.more = std::move(more);
        rows.push_back(std::move(row));
    };
    large(document.title, document.kind + ", " + document.date);
    for (const Block& block : document.blocks) {
        switch (block.kind) {
        case BlockKind::heading:
            if (block.level > 1)
                rows.push_back(heading_row(block.text));
            else
                large(block.text, {});
            break;
        case BlockKind::words:
            rows.push_back(words_row(block.text, Tone::plain));
            break;
        case BlockKind::quote:
            rows.push_back(words_row("\"" + block.text + "\"", Tone::plain));
            break;
        case BlockKind::note:
            rows.push_back(words_row(block.text));
            break;
        case BlockKind::caution:
            rows.push_back(caution_row(block.text));
            break;
        case BlockKind::facts:
        case BlockKind::bullets:
        case BlockKind::table:
            add_table(rows, block);
            break;
        case BlockKind::photos:
            for (const ReportPhoto& one : block.photos)
                add_photo(rows, one);
            break;
        }
    }
    return rows;
}

Page make_handover(const AppState& state, const Job& job, const HandoverFacts& facts) {
    switch (state.handover_part) {
    case HandoverPart::missing:
        return missing_page(state, job, facts.report);
    case HandoverPart::words:
        return words_page(job);
    case HandoverPart::photos:
        return photos_page(job, facts.report);
    case HandoverPart::wanting:
        return wanting_page(state, job, facts.report);
    case HandoverPart::preview:
        return preview_page(state, facts.report);
    case HandoverPart::write:
        return write_page(state, facts);
    }
    return {};
}

} // namespace railside
