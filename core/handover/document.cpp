#include "core/handover/document.h"

#include "core/handover/join.h"
#include "core/words/words.h"
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace railside {

namespace {

std::string minutes_words(double minutes) {
    const auto whole = std::llround(minutes);
    if (whole < 60)
        return worded("{} min", whole);
    return whole % 60 == 0 ? fmt::format("{} h", whole / 60)
                           : worded("{} h {} min", whole / 60, whole % 60);
}

/// A word of the trade and what it means; printed where the word stands in the text.
struct Term {
    std::string_view word; // as it is looked for, in small letters
    std::string_view name;
    std::string_view meaning;
};
constexpr Term k_terms[] = {
    {"idle current", "Idle current",
     "The current that flows in the output parts with nothing playing. Too little and quiet "
     "passages sound rough; too much and the unit runs hot."},
    {"bias spreader", "Bias spreader", "The part that sets the idle current and keeps it steady."},
    {"trim pot", "Trim pot", "A small screwdriver adjustment on the board."},
    {"emitter resistor", "Emitter resistor",
     "A small resistor that every output part works through; the volts across it tell the idle "
     "current."},
    {"driver", "Driver", "A transistor that feeds the output parts."},
    {"output", "Output part", "A power transistor that feeds the loudspeaker."},
    {"limiter", "Limiter",
     "A guard that holds the output back when the loudspeakers ask for too much."},
    {"clean power", "Clean power",
     "The most that comes out before the tops of the sound are cut off."},
    {"offset", "Offset",
     "A steady voltage on the loudspeaker terminals; it should be close to nought."},
    {"rail", "Rail", "The supply voltage inside, one above and one below zero."},
    {"half", "+ half, − half",
     "The output is pushed by one set of parts and pulled by another; both should do alike."},
    {"insulat", "Insulation", "What keeps live parts apart from metal that can be touched."},
    {"–", "Values with a range",
     "Every instrument is a little uncertain. \"95.2–96.8 mV\" means: the true value lies there."},
    {"mv", "mV, mA", "Thousandths of a volt, thousandths of an ampere."},
    {"ω", "Ω, ohm", "The unit of resistance; also what a loudspeaker is rated in."},
};

std::string lower(std::string_view text) {
    std::string small;
    small.reserve(text.size());
    for (std::size_t i = 0; i < text.size(); ++i) {
        const char c = text[i];
        if (c >= 'A' && c <= 'Z')
            small += static_cast<char>(c - 'A' + 'a');
        else if (c == '\xCE' && i + 1 < text.size() && text[i + 1] == '\xA9') { // Ω to ω
            small += "ω";
            ++i;
        } else
            small += c;
    }
    return small;
}

bool is_letter(char c) { return c >= 'a' && c <= 'z'; }

/// At the beginning of a word; a word of two letters as a whole word.
bool stands_in(std::string_view text, std::string_view word) {
    for (std::size_t at = text.find(word); at != std::string_view::npos;
         at = text.find(word, at + 1)) {
        const bool begins = at == 0 || !is_letter(text[at - 1]) || !is_letter(word[0]);
        const std::size_t end = at + word.size();
        const bool ends = word.size() > 2 || end >= text.size() || !is_letter(text[end]);
        if (begins && ends)
            return true;
    }
    return false;
}

class Setting {
  public:
    Setting(const Report& report, Audience audience)
        : report_(report), audience_(audience), client_(audience == Audience::client) {}

    Document set() {
        document_.audience = audience_;
        document_.kind = client_ ? "Report at handover" : "Bench report";
        document_.title = report_.unit;
        document_.date = day(report_.facts.made_ms);
        document_.head = report_.unit;
        join(document_.head,
             report_.sheet.serial.empty() ? std::string() : worded("no. {}", report_.sheet.serial),
             " · ");
        document_.foot = report_.facts.bench;
        join(document_.foot, worded("job {}", report_.job), " · ");
        unit();
        in_short();
        found();
        done();
        measured();
        proved();
        money();
        wanting();
        cautions();
        skipped();
        not_tested();
        passed();
        photos();
        if (client_)
            glossary();
        else
            bench_pages();
        closing_caution();
        return std::move(document_);
    }

  private:
    [[nodiscard]] std::string day(std::int64_t time_ms) const {
        return long_date(time_ms, report_.facts.utc_offset_minutes);
    }
    [[nodiscard]] std::string moment(std::int64_t time_ms) const {
        return date_and_time(time_ms, report_.facts.utc_offset_minutes);
    }
    [[nodiscard]] std::string sum(double amount) const {
        return print_money(amount, report_.money.currency);
    }

    /// With hundredths always, so that sums stand under one another.
    [[nodiscard]] std::string column_sum(double amount) const {
        std::string text = print_money(amount, {});
        if (text.find('.') == std::string::npos)
            text += ".00";
        join(text, report_.money.currency, " ");
        return text;
    }

    Block& add(BlockKind kind, std::string text = {}, std::vector<std::string> entries = {}) {
        Block& block = document_.blocks.emplace_back();
        block.kind = kind;
        block.text = std::move(text);
        block.entries = std::move(entries);
        return block;
    }
    void heading(std::string text, int level = 1) {
        add(BlockKind::heading, std::move(text)).level = level;
    }
    static void row(Table& table, std::vector<Cell> cells, std::vector<std::string> entries = {},
                    RowLook look = RowLook::plain) {
        table.rows.push_back({std::move(cells), look, std::move(entries)});
    }
    static void fact(Table& table, std::string label, std::string value,
                     const std::vector<std::string>& entries) {
        if (!value.empty())
            row(table, {{std::move(label)}, {std::move(value)}}, entries);
    }
    void bullets(const std::vector<Said>& all) {
        Block& block = add(BlockKind::bullets);
        block.table.columns = {{}};
        for (const Said& one : all)
            row(block.table, {{one.text}}, one.entries);
    }

    void unit() {
        const Sheet& sheet = report_.sheet;
        Block& facts = add(BlockKind::facts);
        facts.table.columns = {{"", 1}, {"", 3}};
        const auto& from = report_.sheet_entries;
        fact(facts.table, "Unit", report_.unit, from);
        fact(facts.table, "Serial number", sheet.serial, from);
        fact(facts.table, "Year", sheet.year, from);
        fact(facts.table, "Came with it", sheet.accessories, from);
        fact(facts.table, "As received", sheet.condition, from);
        fact(facts.table, "Taken in", day(report_.taken_in_ms), from);
        fact(facts.table, "Where it stands", sheet.state, from);
        if (!sheet.complaint.empty()) {
            heading(client_ ? "What you told us" : "Complaint, in the client's words");
            add(BlockKind::quote, sheet.complaint, from);
        }
    }

    void in_short() {
        const ClosingRecord& closing = report_.closing;
        if (!closing.words.empty()) {
            heading(client_ ? "In short" : "Closing words");
            add(BlockKind::words, closing.words, closing.entries);
        }
        if (closing.cause.empty() && closing.cure.empty())
            return;
        if (closing.words.empty())
            heading("In short");
        Block& facts = add(BlockKind::facts);
        facts.table.columns = {{"", 1}, {"", 3}};
        if (!client_)
            fact(facts.table, "Symptom",
                 closing.symptom.empty() ? report_.sheet.complaint : closing.symptom,
                 closing.entries);
        fact(facts.table, "Cause", closing.cause, closing.entries);
        fact(facts.table, "Cure", closing.cure, closing.entries);
    }

    [[nodiscard]] static std::string state_words(const std::string& state) {
        return state.empty() ? "not said" : state;
    }

    void found() {
        heading("What was found");
        const auto odd = std::count_if(report_.positions.begin(), report_.positions.end(),
                                       [](const ReportPosition& one) { return one.odd; });
        if (odd == 0) {
            add(BlockKind::words, report_.positions.empty()
                                      ? "No part was written down as looked at one by one."
                                      : "No part was found odd among those looked at.");
        } else {
            Block& block = add(BlockKind::table);
            block.table.columns = {{"Where", 1.5},
                                   {client_ ? "Should be" : "Printed", 1.1},
                                   {"Was fitted", 1.1},
                                   {"Fitted by", 1.1},
                                   {"Found", 2.6}};
            for (const ReportPosition& one : report_.positions) {
                if (!one.odd)
                    continue;
                std::string found = one.found.state.empty() || one.found.state == "untested"
                                        ? std::string()
                                        : one.found.state;
                join(found, one.found.note, ": ");
                row(block.table,
                    {{one.name, one.role},
                     {one.found.printed_type},
                     {one.found.fitted_type},
                     {one.found.fitted_by},
                     {found}},
                    one.entries);
            }
        }
        const auto good = std::count_if(
            report_.positions.begin(), report_.positions.end(),
            [](const ReportPosition& one) { return !one.odd && one.now.state == "good"; });
        if (good > 0) {
            Block& note = add(BlockKind::note);
            note.text = "Tested good besides: ";
            std::string names;
            for (const ReportPosition& one : report_.positions)
                if (!one.odd && one.now.state == "good") {
                    join(names, one.name);
                    note.entries.insert(note.entries.end(), one.entries.begin(), one.entries.end());
                }
            note.text += names + ".";
        }
    }

    void done() {
        heading("What was done");
        bool any = false;
        Block work;
        work.kind = BlockKind::table;
        work.table.columns = {{"Where", 1.5}, {"Was", 1.3}, {"Is now", 1.3}, {"Remark", 3.2}};
        for (const ReportPosition& one : report_.positions) {
            if (!one.mended)
                continue;
            std::string remark = one.now.state;
            if (one.now.note != one.found.note)
                join(remark, one.now.note, ": ");
            row(work.table,
                {{one.name, one.role}, {one.found.fitted_type}, {one.now.fitted_type}, {remark}},
                one.entries);
        }
        if (!work.table.rows.empty()) {
            document_.blocks.push_back(std::move(work));
            any = true;
        }
        std::vector<Said> settled;
        for (const ReportWanting& one : report_.settled)
            if (one.record.state == WantingState::done)
                settled.push_back({worded("{} (was wanting)", one.record.title), one.entries});
        for (const ReportList& list : report_.lists) {
            if (list.done + list.skipped == 0)
                continue;
            std::string text =
                worded("{}: {} of {} steps done", list.name, list.done, list.steps.size());
            if (list.skipped > 0)
                text += worded(", {} skipped", list.skipped);
            Said said{text + ".", {list.entry}};
            for (const ReportStep& step : list.steps)
                if (step.state != StepState::open)
                    said.entries.insert(said.entries.end(), step.entries.begin(),
                                        step.entries.end());
            settled.push_back(std::move(said));
        }
        if (!settled.empty()) {
            bullets(settled);
            any = true;
        }
        if (!report_.off.empty() && !client_) {
            heading("Taken off and put back", 2);
            bullets(report_.off);
            any = true;
        } else if (!report_.off.empty()) {
            Said said{report_.still_off.empty()
                          ? "Everything that was taken off is back in its place."
                          : "Not everything that was taken off is back: see the cautions.",
                      {}};
            for (const Said& one : report_.off)
                said.entries.insert(said.entries.end(), one.entries.begin(), one.entries.end());
            add(BlockKind::words, said.text, said.entries);
            any = true;
        }
        if (!any)
            add(BlockKind::words, "Nothing was replaced or worked through.");
    }

    [[nodiscard]] Cell reading_cell(const ReportValue& value) const {
        Cell cell;
        cell.text = value.value;
        if (value.empty()) {
            cell.note = "not measured";
            return cell;
        }
        cell.note = value.interval;
        cell.verdict = value.verdict;
        join(cell.note, verdict_words(value, audience_), "; ");
        join(cell.note, value.circumstances, "; ");
        if (!client_)
            join(cell.note, value.instrument, "; ");
        return cell;
    }

    void measured() {
        heading("Readings, before and after");
        if (report_.readings.empty()) {
            add(BlockKind::words, "Nothing was measured.");
            return;
        }
        const auto entries_of = [](std::initializer_list<const ReportValue*> values) {
            std::vector<std::string> entries;
            for (const ReportValue* value : values)
                entries.insert(entries.end(), value->entries.begin(), value->entries.end());
            return entries;
        };
        Block sides;
        sides.kind = BlockKind::table;
        sides.table.columns = {{"What", 1.7},
                               {"Left, before", 1.4},
                               {"Left, after", 1.2},
                               {"Right, before", 1.4},
                               {"Right, after", 1.2}};
        Block whole;
        whole.kind = BlockKind::table;
        whole.table.columns = {{"What", 2}, {"Before", 2}, {"After", 2}};
        for (const ReadingRow& one : report_.readings) {
            if (one.is_whole())
                row(whole.table,
                    {{one.what}, reading_cell(one.whole.before), reading_cell(one.whole.after)},
                    entries_of({&one.whole.before, &one.whole.after}));
            const bool has_left = !one.left.before.empty() || !one.left.after.empty();
            const bool has_right = !one.right.before.empty() || !one.right.after.empty();
            if (has_left || has_right) {
                const auto cell = [&](const ReportValue& value, bool has) {
                    return has ? reading_cell(value) : Cell{"–"};
                };
                row(sides.table,
                    {{one.what},
                     cell(one.left.before, has_left),
                     cell(one.left.after, has_left),
                     cell(one.right.before, has_right),
                     cell(one.right.after, has_right)},
                    entries_of(
                        {&one.left.before, &one.left.after, &one.right.before, &one.right.after}));
            }
        }
        for (Block* block : {&sides, &whole})
            if (!block->table.rows.empty())
                document_.blocks.push_back(std::move(*block));
    }

    void proved() {
        heading("Proved at the end");
        Block& block = add(BlockKind::table);
        block.table.columns = {{"What", 2.2}, {"Result", 1.8}, {"Judged", 3}};
        for (const Proof& proof : report_.proofs) {
            std::string what = proof.what;
            join(what, channel_label(proof.channel));
            if (proof.when != ProofWhen::after) {
                Cell judged;
                if (proof.when == ProofWhen::before)
                    judged.text = worded("Before the repair only: {}{}.", proof.value.value,
                                         proof.value.interval.empty()
                                             ? std::string()
                                             : fmt::format(" ({})", proof.value.interval));
                row(block.table, {{what}, {"not measured"}, judged}, proof.value.entries);
                continue;
            }
            Cell judged{verdict_words(proof.value, audience_), {}, proof.value.verdict};
            if (!client_ || proof.key.starts_with("symmetry"))
                judged.note = proof.value.reason;
            row(block.table, {{what}, {proof.value.value, proof.value.interval}, judged},
                proof.value.entries);
        }
    }

    void money() {
        const Money& money = report_.money;
        heading("Parts, time and money");
        if (!report_.costs.empty() || money.other > 0) {
            Block& block = add(BlockKind::table);
            block.table.columns = {
                {"What", 3.4}, {"Count", 1.4, CellAlign::right}, {"Amount", 1.2, CellAlign::right}};
            for (const ReportCost& cost : report_.costs)
                row(block.table, {{cost.what}, {cost.count}, {column_sum(cost.amount)}},
                    {cost.entry});
            if (money.other > 0)
                row(block.table,
                    {{report_.costs.empty() ? "Spent so far, as one sum" : "Besides, as one sum"},
                     {},
                     {column_sum(money.other)}},
                    report_.sheet_entries);
            row(block.table, {{"Together"}, {}, {column_sum(money.total)}}, {}, RowLook::total);
            if (money.limit > 0) {
                row(block.table, {{"Agreed limit"}, {}, {column_sum(money.limit)}},
                    report_.sheet_entries);
                row(block.table, {{money.left < 0 ? "Past the limit by" : "Left of the limit"},
                                  {},
                                  {column_sum(money.left < 0 ? -money.left : money.left)}});
            }
        } else {
            add(BlockKind::words,
                money.limit > 0
                    ? worded("Nothing is spent yet of the agreed limit of {}.", sum(money.limit))
                    : std::string("Neither costs nor an agreed limit are written down."),
                money.limit > 0 ? report_.sheet_entries : std::vector<std::string>());
        }
        if (money.minutes_without_rate > 0)
            add(BlockKind::note, worded("{} of work are not in the sum: no hourly rate was agreed.",
                                        minutes_words(money.minutes_without_rate)));
    }

    [[nodiscard]] std::string rank_words(WantingRank rank) const {
        switch (rank) {
        case WantingRank::safety:
            return client_ ? "For safety: someone may be hurt" : "Safety";
        case WantingRank::reliability:
            return client_ ? "So that it lasts: it will fail, or take other parts with it"
                           : "Reliability";
        case WantingRank::sound:
            return client_ ? "For the sound: it works, and could be better" : "Sound";
        }
        return {};
    }

    void wanting() {
        heading("Still wanting");
        const Money& money = report_.money;
        if (report_.wanting.empty()) {
            add(BlockKind::words, "Nothing more is written down as wanting.");
        } else {
            if (money.limit > 0) {
                const std::string left = sum(std::max(money.left, 0.0));
                add(BlockKind::words,
                    client_ ? worded("You choose. {} of the agreed limit are left; the last "
                                     "column adds up from the top, most urgent first.",
                                     left)
                            : worded("{} of the agreed limit are left.", left));
            } else if (client_)
                add(BlockKind::words,
                    "You choose. The last column adds up from the top, most urgent first.");
            Block& block = add(BlockKind::table);
            block.table.columns = {{"What and why", 3.6},
                                   {"Parts", 0.9, CellAlign::right},
                                   {"Time", 1, CellAlign::right},
                                   {"Estimate", 1, CellAlign::right},
                                   {"Adding up", 1.3, CellAlign::right}};
            std::optional<WantingRank> rank;
            for (const ReportWanting& one : report_.wanting) {
                const WantingRecord& record = one.record;
                if (rank != record.rank)
                    row(block.table, {{rank_words(record.rank)}}, one.entries, RowLook::group);
                rank = record.rank;
                Cell up{column_sum(one.running)};
                if (!one.priced)
                    up = {"open", "no hourly rate"};
                else if (money.limit > 0)
                    up.note = one.within ? "within the limit" : "past the limit";
                row(block.table,
                    {{record.title, record.why},
                     {column_sum(record.parts)},
                     {minutes_words(record.minutes)},
                     {one.priced ? column_sum(one.estimate) : "open"},
                     up},
                    one.entries);
            }
        }
        std::vector<Said> declined;
        for (const ReportWanting& one : report_.settled)
            if (one.record.state == WantingState::declined) {
                std::string text = one.record.title;
                if (!one.record.why.empty())
                    text += fmt::format(" ({})", one.record.why);
                declined.push_back({std::move(text), one.entries});
            }
        if (!declined.empty()) {
            heading(client_ ? "You decided against" : "Declined by the client", 2);
            bullets(declined);
        }
    }

    void cautions() {
        std::vector<Said> all = report_.cautions;
        for (const ReportWanting& one : report_.wanting)
            if (one.record.rank == WantingRank::safety)
                all.push_back(
                    {worded("For safety, still open: {}.", one.record.title), one.entries});
        for (const ReportWanting& one : report_.settled)
            if (one.record.rank == WantingRank::safety &&
                one.record.state == WantingState::declined)
                all.push_back({worded("For safety, declined: {}.", one.record.title), one.entries});
        if (all.empty())
            return;
        heading("Cautions");
        for (Said& one : all)
            add(BlockKind::caution, std::move(one.text), std::move(one.entries));
    }

    void skipped() {
        std::vector<Said> all;
        for (const ReportList& list : report_.lists)
            for (const ReportStep& step : list.steps)
                if (step.state == StepState::skipped)
                    all.push_back({fmt::format("{} ({}): {}", step.text, list.name, step.answer),
                                   step.entries});
        if (all.empty())
            return;
        heading("Steps skipped, and why");
        bullets(all);
    }

    void not_tested() {
        if (report_.not_tested.empty())
            return;
        heading("What was not tested");
        bullets(report_.not_tested);
    }

    void passed() {
        std::vector<Said> all;
        for (const Missing& one : report_.missing)
            if (!one.reason.empty())
                all.push_back({worded("{} Handed back all the same: {}", one.sentence, one.reason),
                               report_.closing.entries});
        if (all.empty())
            return;
        heading("Handed back although");
        bullets(all);
    }

    void bench_pages() {
        if (!report_.notes.empty()) {
            heading("Notes");
            bullets(report_.notes);
        }
        if (!report_.positions.empty()) {
            heading("All positions");
            Block& block = add(BlockKind::table);
            block.table.columns = {{"Where", 1.5},     {"Printed", 1.2}, {"Fitted", 1.2},
                                   {"Fitted by", 1.1}, {"State", 1},     {"Note", 2.6}};
            for (const ReportPosition& one : report_.positions)
                row(block.table,
                    {{one.name, one.role},
                     {one.now.printed_type},
                     {one.now.fitted_type},
                     {one.now.fitted_by},
                     {state_words(one.now.state)},
                     {one.now.note}},
                    one.entries);
        }
        if (!report_.all_readings.empty()) {
            heading("All readings");
            Block& block = add(BlockKind::table);
            block.table.columns = {{"When", 1.3}, {"What", 2.2}, {"Value", 1.4}, {"How", 2.6}};
            for (const ReportReading& one : report_.all_readings) {
                std::string how = one.value.circumstances;
                join(how, one.value.instrument, "; ");
                Cell cell{how, verdict_words(one.value, audience_), one.value.verdict};
                join(cell.note, one.value.reason, ": ");
                row(block.table,
                    {{moment(one.time_ms)},
                     {one.what, one.where},
                     {one.value.value, one.value.interval},
                     cell},
                    one.value.entries);
            }
        }
        if (!report_.recordings.empty()) {
            heading("Recordings kept with the job");
            bullets(report_.recordings);
        }
        if (!report_.lists.empty()) {
            heading("Lists worked through");
            for (const ReportList& list : report_.lists) {
                Block& block = add(BlockKind::table);
                block.table.columns = {{list.name, 3.6}, {"State", 0.9}, {"Answer", 2.6}};
                for (const ReportStep& step : list.steps)
                    row(block.table,
                        {{step.text},
                         {step.state == StepState::done      ? "done"
                          : step.state == StepState::skipped ? "skipped"
                                                             : "open"},
                         {step.answer, step.why_open}},
                        step.entries);
            }
        }
        if (!report_.workings.empty()) {
            heading("Workings kept");
            for (const ReportWorking& one : report_.workings)
                working(one);
        }
        heading("History");
        add(BlockKind::note, "Every entry of the journal in its order. Struck ones were taken back "
                             "and count for nothing above.");
        Block& block = add(BlockKind::table);
        block.table.columns = {{"When", 1.5}, {"Entry", 5.2}};
        for (const HistoryLine& line : report_.history)
            row(block.table, {{moment(line.time_ms)}, {line.text, line.struck ? "struck" : ""}},
                {line.entry}, line.struck ? RowLook::struck : RowLook::plain);
    }

    void working(const ReportWorking& one) {
        heading(one.name, 2);
        std::string line = moment(one.time_ms);
        join(line, one.note, " · ");
        join(line, one.equations, " · ");
        add(BlockKind::note, line, one.entries);
        if (one.verdict || !one.reason.empty()) {
            Block& verdict = add(BlockKind::table);
            verdict.table.columns = {{"Verdict", 1.2}, {"Reason", 4}};
            row(verdict.table, {{one.verdict_word, {}, one.verdict}, {one.reason}}, one.entries);
        }
        const auto lines = [&](std::string_view title, std::string_view third,
                               const std::vector<std::array<std::string, 3>>& all) {
            if (all.empty())
                return;
            Block& block = add(BlockKind::table);
            block.table.columns = {{std::string(title), 2.4},
                                   {"Value", 2, CellAlign::right},
                                   {std::string(third), 1.6}};
            for (const auto& each : all)
                row(block.table, {{each[0]}, {each[1]}, {each[2]}}, one.entries);
        };
        lines("Given", "From", one.inputs);
        lines("Result", "Between", one.results);
        std::vector<Said> said;
        for (const std::string& note : one.notes)
            said.push_back({note, one.entries});
        if (!said.empty())
            bullets(said);
        for (const std::string& caution : one.cautions)
            add(BlockKind::caution, caution, one.entries);
    }

    void photos() {
        if (report_.photos.empty())
            return;
        heading("Photos");
        document_.blocks.back().is_aside = true;
        add(BlockKind::photos).photos = report_.photos;
    }

    void glossary() {
        const std::string text = lower(outline(document_));
        Block block;
        block.kind = BlockKind::facts;
        block.table.columns = {{"", 1}, {"", 3}};
        for (const Term& term : k_terms)
            if (stands_in(text, term.word))
                row(block.table, {{std::string(term.name)}, {std::string(term.meaning)}});
        if (block.table.rows.empty())
            return;
        heading("Words of the trade");
        document_.blocks.back().is_aside = true;
        block.is_aside = true;
        document_.blocks.push_back(std::move(block));
    }

    void closing_caution() {
        add(BlockKind::note,
            "Mains and stored charge inside this unit can kill. It is to be opened only by someone "
            "trained for it, under the rules that hold where it is used.");
    }

    const Report& report_;
    Audience audience_;
    bool client_;
    Document document_;
};

} // namespace

std::string_view audience_key(Audience audience) {
    return audience == Audience::client ? "client" : "bench";
}
std::optional<Audience> audience_from_key(std::string_view key) {
    for (const Audience audience : {Audience::client, Audience::bench})
        if (audience_key(audience) == key)
            return audience;
    return std::nullopt;
}

std::string verdict_words(const ReportValue& value, Audience audience) {
    if (!value.verdict)
        return value.verdict_word;
    if (audience == Audience::bench && !value.verdict_word.empty())
        return value.verdict_word;
    switch (*value.verdict) {
    case VerdictState::in_window:
        return "as it should be";
    case VerdictState::at_the_edge:
        return "at the edge of what it should be";
    case VerdictState::outside:
        return "not as it should be";
    case VerdictState::undecided:
        return "not judged";
    }
    return {};
}

Document make_document(const Report& report, Audience audience) {
    Document document = Setting(report, audience).set();
    // Headings, labels and whole sentences as the program speaks now; what somebody said stays.
    const auto speak = [](std::string& text) {
        if (const std::string_view spoken = words(text); spoken != text)
            text = std::string(spoken);
    };
    for (std::string* text : {&document.kind, &document.title, &document.head, &document.foot})
        speak(*text);
    for (Block& block : document.blocks) {
        if (block.kind == BlockKind::quote)
            continue;
        speak(block.text);
        for (Column& column : block.table.columns)
            speak(column.title);
        for (Row& row : block.table.rows)
            for (Cell& cell : row.cells) {
                speak(cell.text);
                speak(cell.note);
            }
    }
    return document;
}

std::string outline(const Document& document) {
    std::string text = fmt::format("{} | {} | {}\n", document.kind, document.title, document.date);
    for (const Block& block : document.blocks) {
        if (block.kind == BlockKind::heading)
            text += fmt::format("\n{} {}\n", block.level == 1 ? "#" : "##", block.text);
        else if (block.kind == BlockKind::quote)
            text += fmt::format("> {}\n", block.text);
        else if (block.kind == BlockKind::caution)
            text += fmt::format("! {}\n", block.text);
        else if (!block.text.empty())
            text += block.text + "\n";
        if (block.kind == BlockKind::table) {
            std::string head;
            for (const Column& column : block.table.columns)
                head.append(head.empty() ? "" : " | ").append(column.title);
            text += fmt::format("[{}]\n", head);
        }
        for (const Row& row : block.table.rows) {
            std::string line;
            for (const Cell& cell : row.cells) {
                line += line.empty() ? (block.kind == BlockKind::bullets ? "- " : "") : " | ";
                line += cell.text;
                if (!cell.note.empty())
                    line += fmt::format(" <{}>", cell.note);
            }
            if (row.look == RowLook::struck)
                line.insert(0, "~");
            text += line + "\n";
        }
        for (const ReportPhoto& photo : block.photos) {
            text += worded("photo: {}", photo.caption);
            if (!photo.pair.empty())
                text += fmt::format(" ({})", photo.pair);
            for (std::size_t i = 0; i < photo.legend.size(); ++i)
                text += fmt::format(" {}: {}", i + 1, photo.legend[i]);
            text += "\n";
        }
    }
    return text;
}

} // namespace railside
