#include "core/handover/report.h"

#include "core/device/role.h"
#include "core/handover/join.h"
#include "core/job/json_text.h"
#include "core/job/sisters.h"
#include "core/job/teardown.h"
#include "core/quantity/value_code.h"
#include "core/words/words.h"

#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <set>

namespace railside {

using Json = nlohmann::json;

namespace {

constexpr int k_digits = 4;

std::string spaced(std::string text) {
    std::replace(text.begin(), text.end(), '_', ' ');
    return text;
}

std::string role_words(const std::string& key) {
    const std::optional<Role> role = role_from_key(key);
    if (!role)
        return spaced(key);
    return *role == Role::other ? std::string() : std::string(role_info(*role).label);
}

template <class Records> const auto* by_entry(const Records& records, std::string_view entry) {
    const auto it = std::find_if(records.begin(), records.end(),
                                 [&](const auto& one) { return one.source.entry == entry; });
    return it == records.end() ? nullptr : &*it;
}

bool is_valid(const Source& source) { return source.standing == Standing::valid; }

bool is_struck(const Job& job, const std::string& entry) {
    return std::binary_search(job.struck.begin(), job.struck.end(), entry);
}

/// Valid entries of that kind, oldest first.
std::vector<const Entry*> valid_entries(const Job& job, EntryKind kind) {
    std::vector<const Entry*> found;
    for (const Entry& entry : job.entries)
        if (entry.kind == kind && !is_struck(job, entry.id) && check_entry(entry).ok())
            found.push_back(&entry);
    return found;
}

std::string interval_text(const Amount& amount) {
    if (amount.low == amount.value && amount.high == amount.value)
        return {};
    return print_range(amount.low, amount.high, amount.unit);
}

/// The digits that were typed, where they were.
std::string reading_value(const ReadingRecord& reading) {
    if (const Result<ParsedValue> typed =
            parse_value(reading.text, reading.amount.unit, reading.what);
        typed.ok() && typed->value == reading.amount.value)
        return print_value(typed->value, reading.amount.unit, std::clamp(typed->digits, 1, 15));
    return print_short(reading.amount.value, reading.amount.unit, k_digits);
}

std::optional<Amount> amount_of(const Json& json) {
    if (!json.is_object())
        return std::nullopt;
    for (const char* name : {"value", "low", "high"})
        if (const auto it = json.find(name); it == json.end() || !it->is_number())
            return std::nullopt;
    const std::optional<Unit> unit = unit_from_key(text_member(json, "unit"));
    if (!unit)
        return std::nullopt;
    return Amount{json["value"].get<double>(), json["low"].get<double>(),
                  json["high"].get<double>(), *unit};
}

void judge(ReportValue& value, const Json& record) {
    const auto verdict = record.is_object() ? record.find("verdict") : record.end();
    if (verdict == record.end())
        return;
    value.verdict = verdict_from_key(text_member(*verdict, "state"));
    value.verdict_word = text_member(*verdict, "word");
    value.reason = text_member(*verdict, "reason");
}

std::vector<std::string> texts_of(const Json& record, const char* name) {
    std::vector<std::string> texts;
    const auto it = record.is_object() ? record.find(name) : record.end();
    if (it == record.end() || !it->is_array())
        return texts;
    for (const Json& one : *it)
        if (one.is_string())
            texts.push_back(one.get<std::string>());
    return texts;
}

/// Adds without a second of the same words.
void say(std::vector<Said>& to, const std::string& text, const std::vector<std::string>& entries) {
    const auto same =
        std::find_if(to.begin(), to.end(), [&](const Said& one) { return one.text == text; });
    if (same == to.end())
        to.push_back({text, entries});
    else
        same->entries.insert(same->entries.end(), entries.begin(), entries.end());
}

class Making {
  public:
    Making(const Job& job, const BenchBook& book, Report& report)
        : job_(job), book_(book), report_(report) {}

    void make() {
        sheet();
        positions();
        for (const ReadingRecord& reading : job_.readings)
            if (is_valid(reading.source))
                reading_line(reading);
        readings();
        proofs();
        lists();
        money();
        off();
        wanting();
        workings();
        cautions();
        not_tested();
        photos();
        for (const NoteRecord& note : job_.notes)
            if (is_valid(note.source))
                report_.notes.push_back({note.text, {note.source.entry}});
        recordings();
        for (const Entry& entry : job_.entries)
            report_.history.push_back({entry.time_ms, entry.bench, history_text(job_, entry),
                                       is_struck(job_, entry.id), entry.id});
    }

  private:
    void sheet() {
        report_.job = job_.id;
        report_.sheet = job_.sheet;
        report_.taken_in_ms = job_.begun_ms;
        report_.unit = job_.sheet.maker;
        join(report_.unit, job_.sheet.model, " ");
        if (report_.unit.empty())
            report_.unit = "Unit without a name";
        for (const Entry* entry : valid_entries(job_, EntryKind::job))
            report_.sheet_entries.push_back(entry->id);
        report_.closing = job_.closing;
    }

    /// Walks the changes of every position, so that it is known as it was found.
    void positions() {
        const std::vector<const Entry*> changes = valid_entries(job_, EntryKind::position);
        for (const PositionRecord& now : job_.positions) {
            if (!is_valid(now.source))
                continue;
            ReportPosition position;
            position.now = now;
            position.found = now;
            position.found.state.clear();
            position.found.fitted_type.clear();
            position.found.fitted_by.clear();
            position.found.note.clear();
            position.name = position_name(now);
            position.role = role_words(now.role);
            for (const Entry* entry : changes) {
                const Json& body = entry->body;
                if (entry->id < now.source.entry ||
                    text_member(body, "designator") != now.designator ||
                    channel_from_key(text_member(body, "channel")).value_or(Channel::none) !=
                        now.channel)
                    continue;
                position.entries.push_back(entry->id);
                const bool mends = (text_member(body, "fitted_by") == "this bench" &&
                                    position.found.fitted_by != "this bench") ||
                                   text_member(body, "state") == "replaced";
                if (mends)
                    repairs_.emplace_back(now.channel, entry->id);
                position.mended = position.mended || mends;
                if (position.mended)
                    continue;
                for (const auto& member : {std::pair("state", &PositionRecord::state),
                                           std::pair("fitted_type", &PositionRecord::fitted_type),
                                           std::pair("fitted_by", &PositionRecord::fitted_by),
                                           std::pair("note", &PositionRecord::note)})
                    if (body.contains(member.first))
                        position.found.*member.second = text_member(body, member.first);
            }
            const PositionRecord& found = position.found;
            position.earlier = found.fitted_by == "earlier shop";
            position.odd = position.earlier || found.state == "bad" || found.state == "suspect" ||
                           (!found.printed_type.empty() && !found.fitted_type.empty() &&
                            found.printed_type != found.fitted_type);
            report_.positions.push_back(std::move(position));
        }
    }

    [[nodiscard]] std::string last_repair_of(Channel channel) const {
        std::string last;
        for (const auto& repair : repairs_)
            if ((channel == Channel::none || repair.first == Channel::none ||
                 repair.first == channel) &&
                repair.second > last)
                last = repair.second;
        return last;
    }

    [[nodiscard]] std::string lamp_name(const Conditions& when) const {
        const Instrument* lamp = when.lamp.empty() ? nullptr : book_.instrument(when.lamp);
        return lamp == nullptr ? std::string() : lamp->name;
    }

    ReportValue value_of(const ReadingRecord& reading) const {
        ReportValue value;
        value.value = reading_value(reading);
        value.interval = interval_text(reading.amount);
        value.circumstances = print_conditions(reading.when);
        join(value.circumstances, lamp_name(reading.when));
        join(value.circumstances, reading.conditions);
        value.instrument = reading.instrument;
        value.entries = {reading.source.entry};
        if (const KeptWorking* kept = judged_by(reading)) {
            judge(value, kept->record);
            value.entries.push_back(kept->source.entry);
        }
        return value;
    }

    /// Whether that working was worked out from this reading.
    [[nodiscard]] static bool rests_on(const KeptWorking& kept, const ReadingRecord& reading) {
        if (kept.source.entry < reading.source.entry)
            return false;
        if (!kept.uses.empty())
            return std::find(kept.uses.begin(), kept.uses.end(), reading.source.entry) !=
                   kept.uses.end();
        // Kept before uses were written: the field it answers, measured, as typed.
        if (reading.field.empty() || kept.channel != reading.channel)
            return false;
        const auto inputs =
            kept.record.is_object() ? kept.record.find("inputs") : kept.record.end();
        if (inputs == kept.record.end() || !inputs->is_object())
            return false;
        const auto input = inputs->find(reading.field);
        return input != inputs->end() && text_member(*input, "from") == "measured" &&
               text_member(*input, "text") == reading.text;
    }

    /// The last kept working that was worked out from this reading.
    [[nodiscard]] const KeptWorking* judged_by(const ReadingRecord& reading) const {
        for (auto it = job_.kept.rbegin(); it != job_.kept.rend(); ++it)
            if (is_valid(it->source) && rests_on(*it, reading))
                return &*it;
        return nullptr;
    }

    /// The entry that says when it was measured: the last reading it rests on, where there is one.
    [[nodiscard]] const std::string& measured_at(const KeptWorking& kept) const {
        for (auto it = job_.readings.rbegin(); it != job_.readings.rend(); ++it)
            if (is_valid(it->source) && rests_on(kept, *it))
                return it->source.entry;
        return kept.source.entry;
    }

    void reading_line(const ReadingRecord& reading) {
        ReportReading line;
        line.time_ms = reading.source.time_ms;
        line.what = reading.what;
        const PositionRecord* at = by_entry(job_.positions, reading.position);
        line.where = at != nullptr && is_valid(at->source)
                         ? position_name(*at)
                         : std::string(channel_label(reading.channel));
        line.value = value_of(reading);
        report_.all_readings.push_back(std::move(line));
    }

    /// The words without what names the channel or the position, so that both sides meet in a row.
    struct Sameness {
        std::string key;
        std::string label;
    };
    [[nodiscard]] Sameness sameness(const ReadingRecord& reading) const {
        const PositionRecord* at = by_entry(job_.positions, reading.position);
        if (at != nullptr && !is_valid(at->source))
            at = nullptr;
        const Sister sister =
            at != nullptr && at->channel != Channel::none ? sister_of(job_, *at) : Sister();
        std::string pair;
        std::string names;
        if (at != nullptr) {
            pair = at->source.entry;
            names = at->designator;
            if (sister.position != nullptr) {
                pair = std::min(pair, sister.position->source.entry);
                const PositionRecord& left = at->channel == Channel::left ? *at : *sister.position;
                const PositionRecord& right = at->channel == Channel::left ? *sister.position : *at;
                names = left.designator == right.designator
                            ? left.designator
                            : left.designator + "/" + right.designator;
            }
        }
        Sameness same;
        std::string word;
        const auto finish = [&] {
            if (word.empty())
                return;
            const bool channel =
                reading.channel != Channel::none && word == channel_label(reading.channel);
            const bool place = at != nullptr && word == at->designator;
            if (!channel) {
                join(same.key, place ? "#" : word, " ");
                join(same.label, place ? names : word, " ");
            }
            word.clear();
        };
        for (const char c : reading.what) {
            if (c == ' ' || c == ',') {
                finish();
                if (c == ',') {
                    same.key += ',';
                    same.label += ',';
                }
            } else {
                word += c;
            }
        }
        finish();
        if (!same.label.empty() && same.label.back() == ',')
            same.label.pop_back();
        for (char& c : same.key)
            c = c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c;
        same.key += fmt::format("|{}|{}", unit_info(reading.amount.unit).key, pair);
        return same;
    }

    void readings() {
        std::map<std::string, std::size_t> rows;
        // row and channel -> its readings, oldest first
        std::map<std::pair<std::size_t, Channel>, std::vector<const ReadingRecord*>> taken;
        for (const ReadingRecord& reading : job_.readings) {
            if (!is_valid(reading.source))
                continue;
            const Sameness same = sameness(reading);
            const std::string key = same.key + (reading.channel == Channel::none ? "|whole" : "");
            const auto [it, is_new] = rows.emplace(key, report_.readings.size());
            if (is_new)
                report_.readings.emplace_back().what = same.label;
            taken[{it->second, reading.channel}].push_back(&reading);
        }
        for (const auto& [where, all] : taken) {
            const std::string repair = last_repair_of(where.second);
            ReadingRow::Side& side = report_.readings[where.first].side(where.second);
            const ReadingRecord& first = *all.front();
            const ReadingRecord& last = *all.back();
            if (repair.empty() || first.source.entry < repair)
                side.before = value_of(first);
            if (repair.empty() ? all.size() > 1 : last.source.entry > repair)
                side.after = value_of(last);
        }
    }

    [[nodiscard]] const KeptWorking* last_with(std::string_view figure, Channel channel,
                                               std::initializer_list<const char*> workings) const {
        for (auto it = job_.kept.rbegin(); it != job_.kept.rend(); ++it)
            if (is_valid(it->source) && it->channel == channel &&
                std::find(workings.begin(), workings.end(), it->working) != workings.end() &&
                result_of(*it, figure))
                return &*it;
        return nullptr;
    }

    [[nodiscard]] static std::optional<Amount> result_of(const KeptWorking& kept,
                                                         std::string_view figure) {
        const auto results =
            kept.record.is_object() ? kept.record.find("results") : kept.record.end();
        if (results == kept.record.end() || !results->is_object())
            return std::nullopt;
        const auto it = results->find(std::string(figure));
        return it == results->end() ? std::nullopt : amount_of(*it);
    }

    void prove(std::string key, std::string what, Channel channel, std::string_view figure,
               std::initializer_list<const char*> workings) {
        Proof proof;
        proof.key = std::move(key);
        proof.what = std::move(what);
        proof.channel = channel;
        if (const KeptWorking* kept = last_with(figure, channel, workings)) {
            const Amount amount = result_of(*kept, figure).value_or(Amount());
            proof.when =
                measured_at(*kept) > last_repair_of(channel) ? ProofWhen::after : ProofWhen::before;
            proof.value.value = figure_text(amount);
            proof.value.interval = interval_text(amount);
            judge(proof.value, kept->record);
            proof.value.entries = {kept->source.entry};
        }
        report_.proofs.push_back(std::move(proof));
    }

    /// Whether both channels agree, of the same figure.
    void compare(std::string key, std::string what, std::string_view figure,
                 std::initializer_list<const char*> workings) {
        Proof proof;
        proof.key = std::move(key);
        proof.what = std::move(what);
        const KeptWorking* left = last_with(figure, Channel::left, workings);
        const KeptWorking* right = last_with(figure, Channel::right, workings);
        if (left != nullptr && right != nullptr) {
            const Amount a = result_of(*left, figure).value_or(Amount());
            const Amount b = result_of(*right, figure).value_or(Amount());
            proof.when = measured_at(*left) > last_repair_of(Channel::left) &&
                                 measured_at(*right) > last_repair_of(Channel::right)
                             ? ProofWhen::after
                             : ProofWhen::before;
            const bool meet = a.low <= b.high && b.low <= a.high;
            proof.value.value = worded("{} left, {} right", figure_text(a), figure_text(b));
            proof.value.reason = meet ? "Alike within the accuracy of the readings."
                                      : "Further apart than the accuracy of the readings.";
            proof.value.verdict = meet ? VerdictState::in_window : VerdictState::outside;
            proof.value.verdict_word = meet ? "alike" : "not alike";
            proof.value.entries = {left->source.entry, right->source.entry};
        }
        report_.proofs.push_back(std::move(proof));
    }

    void proofs() {
        // A unit whose record names no channel has one proof of each.
        const auto has_channel = [](const auto& records) {
            return std::any_of(records.begin(), records.end(), [](const auto& one) {
                return is_valid(one.source) && one.channel != Channel::none;
            });
        };
        const bool stereo =
            has_channel(job_.positions) || has_channel(job_.readings) || has_channel(job_.kept);
        std::vector<Channel> channels = {Channel::none};
        if (stereo)
            channels = {Channel::left, Channel::right};
        for (const Channel channel : channels)
            prove("idle", "Idle current, each device", channel, "idle_current", {"idle"});
        for (const Channel channel : channels)
            prove("power", "Clean power", channel, "clean_power", {"clip", "capture"});
        for (const Channel channel : channels)
            prove("halves", "+ half against − half, apart by", channel, "asymmetry",
                  {"clip", "capture"});
        if (stereo) {
            compare("symmetry/idle", "Idle current, left against right", "idle_current", {"idle"});
            compare("symmetry/power", "Clean power, left against right", "clean_power",
                    {"clip", "capture"});
        }
    }

    void lists() {
        for (const ListRecord& list : job_.lists) {
            if (!is_valid(list.source))
                continue;
            ReportList shown;
            shown.name = list.name;
            shown.entry = list.source.entry;
            for (const StepRecord& step : list.steps) {
                ReportStep line;
                line.text = step.step.text;
                line.state = step.state;
                line.answer = step.answer;
                if (step.step.kind == StepKind::reading) {
                    if (const Result<ParsedValue> read =
                            parse_value(step.answer, step.step.unit, step.step.text);
                        read.ok() && step.state != StepState::skipped)
                        line.answer = print_value(read->value, step.step.unit,
                                                  std::clamp(read->digits, 1, 15));
                    if (!line.answer.empty() && step.state != StepState::skipped)
                        line.answer += worded(" (accepted {} to {})",
                                              print_short(step.step.low, step.step.unit),
                                              print_short(step.step.high, step.step.unit));
                }
                line.why_open = step.why_open;
                line.time_ms = step.time_ms;
                line.entries = {list.source.entry};
                if (!step.tick.empty())
                    line.entries.push_back(step.tick);
                shown.done += step.state == StepState::done ? 1 : 0;
                shown.skipped += step.state == StepState::skipped ? 1 : 0;
                shown.steps.push_back(std::move(line));
            }
            report_.lists.push_back(std::move(shown));
        }
    }

    void money() {
        report_.money = money_of(job_);
        for (const CostRecord& cost : job_.costs) {
            if (!is_valid(cost.source))
                continue;
            report_.costs.push_back(
                {cost.what,
                 cost.type == CostType::part
                     ? fmt::format("{} × {}", cost.count, print_money(cost.each, {}))
                     : worded("{} min", print_short(cost.minutes, Unit::ratio, 6)),
                 cost_amount(cost, job_.sheet.hourly_rate), cost.source.entry});
        }
    }

    void off() {
        for (const ReassemblyLine& line : reassembly_list(job_)) {
            std::string text = fmt::format("{} × {}", line.off, line.what);
            if (!line.where.empty())
                text += fmt::format(" ({})", line.where);
            std::vector<std::string> entries = {line.item};
            for (const PutBackRecord& back : job_.put_back)
                if (is_valid(back.source) && back.item == line.item) {
                    entries.push_back(back.source.entry);
                    join(text, back.note, "; ");
                }
            if (line.still > 0)
                report_.still_off.push_back(
                    {fmt::format("{} × {}{}", line.still, line.what,
                                 line.where.empty() ? "" : fmt::format(" ({})", line.where)),
                     entries});
            text += line.still == 0 ? ": back" : worded(": {} still off", line.still);
            if (line.over > 0)
                text += worded(", {} more back than came off", line.over);
            report_.off.push_back({std::move(text), std::move(entries)});
        }
    }

    void wanting() {
        std::vector<WantingRecord> all;
        for (const WantingRecord& one : job_.wanting)
            if (is_valid(one.source))
                all.push_back(one);
        std::stable_sort(
            all.begin(), all.end(),
            [](const WantingRecord& a, const WantingRecord& b) { return a.rank < b.rank; });
        double running = 0;
        for (WantingRecord& one : all) {
            ReportWanting line;
            CostRecord work;
            work.type = CostType::work;
            work.minutes = one.minutes;
            line.estimate = one.parts + cost_amount(work, job_.sheet.hourly_rate);
            line.priced = one.minutes <= 0 || job_.sheet.hourly_rate > 0;
            line.entries = {one.source.entry};
            if (one.described != one.source.entry)
                line.entries.push_back(one.described);
            const bool open = one.state == WantingState::open;
            if (open) {
                running += line.estimate;
                line.running = running;
                line.within =
                    report_.money.limit > 0 && line.priced && running <= report_.money.left + 0.005;
            }
            line.record = std::move(one);
            (open ? report_.wanting : report_.settled).push_back(std::move(line));
        }
    }

    void workings() {
        std::set<std::string> replaced;
        for (const KeptWorking& kept : job_.kept)
            if (is_valid(kept.source))
                replaced.insert(kept.replaces);
        for (const KeptWorking& kept : job_.kept) {
            if (!is_valid(kept.source))
                continue;
            const Working* known = find_working(kept.working);
            ReportWorking shown;
            shown.name = known != nullptr ? std::string(known->name) : kept.working;
            join(shown.name, channel_label(kept.channel));
            shown.equations = known != nullptr ? std::string(known->equations) : std::string();
            shown.note =
                replaced.contains(kept.source.entry) ? "a later one stands in its place" : "";
            shown.time_ms = kept.source.time_ms;
            shown.entries = {kept.source.entry};
            const Json& record = kept.record;
            if (record.is_object()) {
                if (const auto inputs = record.find("inputs");
                    inputs != record.end() && inputs->is_object()) {
                    // In the order of the form, then what this version does not know.
                    if (known != nullptr)
                        for (const Field& field : known->fields)
                            if (const auto it = inputs->find(std::string(field.key));
                                it != inputs->end())
                                shown.inputs.push_back(input_line(known, it.key(), it.value()));
                    for (auto it = inputs->begin(); it != inputs->end(); ++it)
                        if (known == nullptr || find_field(*known, it.key()) == nullptr)
                            shown.inputs.push_back(input_line(known, it.key(), it.value()));
                }
                if (const auto results = record.find("results");
                    results != record.end() && results->is_object()) {
                    const std::string headline = text_member(record, "headline");
                    for (auto it = results->begin(); it != results->end(); ++it)
                        if (const std::optional<Amount> amount = amount_of(*it)) {
                            std::string label = text_member(*it, "label");
                            if (label.empty())
                                label = spaced(it.key());
                            std::array<std::string, 3> line = {
                                std::move(label), figure_text(*amount), interval_text(*amount)};
                            if (it.key() == headline)
                                shown.results.insert(shown.results.begin(), std::move(line));
                            else
                                shown.results.push_back(std::move(line));
                        }
                }
            }
            ReportValue judged;
            judge(judged, record);
            shown.verdict = judged.verdict;
            shown.verdict_word = judged.verdict_word;
            shown.reason = judged.reason;
            shown.notes = texts_of(record, "notes");
            shown.cautions = texts_of(record, "cautions");
            report_.workings.push_back(std::move(shown));
        }
    }

    static std::array<std::string, 3> input_line(const Working* known, const std::string& key,
                                                 const Json& input) {
        const Field* field = known != nullptr ? find_field(*known, key) : nullptr;
        std::array<std::string, 3> line;
        line[0] = field != nullptr ? std::string(field->label) : spaced(key);
        const std::string from = text_member(input, "from");
        line[2] = from == "by_default" ? "default" : from == "table" ? "parts table" : from;
        if (const std::optional<Amount> amount = amount_of(input)) {
            line[1] = print_short(amount->value, amount->unit, k_digits);
            if (const std::string interval = interval_text(*amount); !interval.empty())
                line[1] += fmt::format(" ({})", interval);
            return line;
        }
        line[1] = text_member(input, "word");
        if (field != nullptr)
            for (const Choice& choice : field->choices)
                if (choice.key == line[1])
                    line[1] = choice.label;
        if (const auto end = line[1].find('\n'); end != std::string::npos)
            line[1] = line[1].substr(0, end) + " …"; // a model card
        return line;
    }

    void cautions() {
        if (!report_.still_off.empty()) {
            Said said;
            said.text = still_off_sentence(reassembly_list(job_));
            for (const Said& one : report_.still_off)
                said.entries.insert(said.entries.end(), one.entries.begin(), one.entries.end());
            report_.cautions.push_back(std::move(said));
        }
        for (const ListRecord& list : job_.lists)
            if (is_valid(list.source))
                for (const StepRecord& step : list.steps)
                    if (step.state == StepState::open && !step.why_open.empty()) {
                        std::vector<std::string> entries = {list.source.entry};
                        for (const std::string& tick : {step.tick, step.refused_tick})
                            if (!tick.empty())
                                entries.push_back(tick);
                        say(report_.cautions, fmt::format("{}: {}", step.step.text, step.why_open),
                            entries);
                    }
        for (const ReportPosition& position : report_.positions)
            if (position.now.state == "bad" || position.now.state == "suspect")
                say(report_.cautions, worded("{} is still {}.", position.name, position.now.state),
                    position.entries);
    }

    void not_tested() {
        Said untested;
        for (const ReportPosition& position : report_.positions)
            if (position.now.state == "untested" || position.now.state.empty()) {
                join(untested.text, position.name);
                untested.entries.insert(untested.entries.end(), position.entries.begin(),
                                        position.entries.end());
            }
        if (!untested.text.empty()) {
            untested.text = worded("Not tested one by one: {}.", untested.text);
            report_.not_tested.push_back(std::move(untested));
        }
        for (const ReportList& list : report_.lists) {
            Said open{{}, {list.entry}};
            for (const ReportStep& step : list.steps)
                if (step.state == StepState::open)
                    join(open.text, step.text, "; ");
            if (!open.text.empty()) {
                open.text = worded("{}, not done: {}.", list.name, open.text);
                report_.not_tested.push_back(std::move(open));
            }
        }
        for (const Proof& proof : report_.proofs) {
            if (proof.when == ProofWhen::after)
                continue;
            std::string what = proof.what;
            if (proof.key == "halves")
                what = "+ half against − half";
            join(what, channel_label(proof.channel));
            report_.not_tested.push_back(
                {worded("{}: not measured{}.", what,
                        proof.when == ProofWhen::before ? " after the repair" : ""),
                 {}});
        }
    }

    void photos() {
        std::vector<const PhotoRecord*> chosen;
        if (job_.closing.photos) {
            for (const std::string& id : *job_.closing.photos)
                if (const PhotoRecord* photo = by_entry(job_.photos, id);
                    photo != nullptr && is_valid(photo->source) &&
                    std::find(chosen.begin(), chosen.end(), photo) == chosen.end())
                    chosen.push_back(photo);
        } else {
            for (const PhotoRecord& photo : job_.photos)
                if (is_valid(photo.source))
                    chosen.push_back(&photo);
        }
        for (const PhotoRecord* photo : chosen) {
            ReportPhoto shown;
            shown.photo = *photo;
            shown.caption = photo->caption;
            shown.entries = {photo->source.entry};
            for (const PairRecord& pair : job_.pairs) {
                if (!is_valid(pair.source))
                    continue;
                if (pair.before == photo->source.entry || pair.after == photo->source.entry) {
                    shown.pair = pair.before == photo->source.entry ? "before" : "after";
                    shown.entries.push_back(pair.source.entry);
                    join(shown.caption, pair.text, "; ");
                }
            }
            for (const MarkRecord& mark : job_.marks) {
                if (!is_valid(mark.source) || mark.photo != photo->source.entry)
                    continue;
                std::string text;
                if (const PositionRecord* at = by_entry(job_.positions, mark.position);
                    at != nullptr && is_valid(at->source))
                    text = position_name(*at);
                join(text, mark.text, ": ");
                ReportMark one{mark, 0};
                if (!text.empty()) {
                    shown.legend.push_back(std::move(text));
                    one.number = static_cast<int>(shown.legend.size());
                }
                shown.marks.push_back(std::move(one));
                shown.entries.push_back(mark.source.entry);
            }
            report_.photos.push_back(std::move(shown));
        }
    }

    void recordings() {
        for (const RecordingRecord& recording : job_.recordings) {
            if (!is_valid(recording.source))
                continue;
            std::string text = recording.what.empty() ? recording.name : recording.what;
            join(text, channel_label(recording.channel));
            join(text, print_conditions(recording.when));
            join(text, recording.conditions);
            report_.recordings.push_back({std::move(text), {recording.source.entry}});
        }
    }

    const Job& job_;
    const BenchBook& book_;
    Report& report_;
    std::vector<std::pair<Channel, std::string>> repairs_;
};

struct Civil {
    std::int64_t year = 1970;
    unsigned month = 1;
    unsigned day = 1;
    unsigned minute = 0; // of the day
};

/// Howard Hinnant, "chrono-Compatible Low-Level Date Algorithms", civil_from_days.
Civil civil_of(std::int64_t time_ms, int utc_offset_minutes) {
    std::int64_t minutes = time_ms / 60'000 - (time_ms % 60'000 < 0 ? 1 : 0) + utc_offset_minutes;
    std::int64_t days = minutes / 1440;
    minutes %= 1440;
    if (minutes < 0) {
        minutes += 1440;
        --days;
    }
    days += 719468;
    const std::int64_t era = (days >= 0 ? days : days - 146096) / 146097;
    const auto of_era = static_cast<unsigned>(days - era * 146097);
    const unsigned year = (of_era - of_era / 1460 + of_era / 36524 - of_era / 146096) / 365;
    const unsigned of_year = of_era - (365 * year + year / 4 - year / 100);
    const unsigned shifted = (5 * of_year + 2) / 153;
    Civil civil;
    civil.day = of_year - (153 * shifted + 2) / 5 + 1;
    civil.month = shifted < 10 ? shifted + 3 : shifted - 9;
    civil.year = static_cast<std::int64_t>(year) + era * 400 + (civil.month <= 2 ? 1 : 0);
    civil.minute = static_cast<unsigned>(minutes);
    return civil;
}

constexpr std::array<std::string_view, 12> k_months = {
    "January", "February", "March",     "April",   "May",      "June",
    "July",    "August",   "September", "October", "November", "December"};

} // namespace

std::string long_date(std::int64_t time_ms, int utc_offset_minutes) {
    const Civil civil = civil_of(time_ms, utc_offset_minutes);
    return fmt::format("{} {} {}", civil.day, words(k_months[civil.month - 1]), civil.year);
}

std::string date_and_time(std::int64_t time_ms, int utc_offset_minutes) {
    const Civil civil = civil_of(time_ms, utc_offset_minutes);
    return fmt::format("{} {} {}, {:02}:{:02}", civil.day, words(k_months[civil.month - 1]),
                       civil.year, civil.minute / 60, civil.minute % 60);
}

std::string position_name(const PositionRecord& position) {
    std::string name = position.designator;
    join(name, channel_label(position.channel), " ");
    return name;
}

std::string history_text(const Job& job, const Entry& entry) {
    const Json& body = entry.body;
    std::string text;
    const auto named = [&](std::string_view word, std::initializer_list<const char*> members) {
        text = word;
        std::string rest;
        for (const char* member : members)
            join(rest, text_member(body, member), " · ");
        if (!rest.empty())
            text += ": " + rest;
    };
    const auto money_in = [&](const char* member) {
        if (const auto it = body.find(member); it != body.end() && it->is_number())
            join(text,
                 fmt::format("{} {}", spaced(member),
                             print_money(it->get<double>(), job.sheet.currency)),
                 " · ");
    };
    if (!check_entry(entry).ok())
        return worded("An entry of kind \"{}\" that does not fit its kind", written_kind(entry));
    switch (entry.kind) {
    case EntryKind::job:
        named(entry.id == job.id ? "Taken in" : "Sheet",
              {"maker", "model", "serial", "year", "complaint", "accessories", "condition", "state",
               "currency"});
        for (const char* member : {"agreed_limit", "hourly_rate", "spent"})
            money_in(member);
        if (const auto known = body.find("known"); known != body.end())
            for (auto it = known->begin(); it != known->end(); ++it)
                join(text, fmt::format("{} {}", spaced(it.key()), it->get<std::string>()), " · ");
        break;
    case EntryKind::position:
        named("Position", {"designator", "channel", "half"});
        for (const std::string& word :
             {role_words(text_member(body, "role")), text_member(body, "state")})
            join(text, word, " · ");
        if (body.contains("printed_type"))
            join(text, worded("printed {}", text_member(body, "printed_type")), " · ");
        if (body.contains("fitted_type"))
            join(text, worded("fitted {}", text_member(body, "fitted_type")), " · ");
        join(text, text_member(body, "fitted_by"), " by ");
        join(text, text_member(body, "note"), " · ");
        break;
    case EntryKind::reading:
        named("Reading", {"what", "channel"});
        if (const std::optional<Amount> amount = amount_of(body["amount"])) {
            join(text, print_short(amount->value, amount->unit, k_digits), " · ");
            if (const std::string interval = interval_text(*amount); !interval.empty())
                text += fmt::format(" ({})", interval);
        }
        for (const char* member : {"conditions", "instrument"})
            join(text, text_member(body, member), " · ");
        break;
    case EntryKind::working: {
        const Working* known = find_working(text_member(body, "working"));
        text = worded("Working: {}",
                      known != nullptr ? std::string(known->name) : text_member(body, "working"));
        join(text, text_member(body, "channel"), " · ");
        ReportValue judged;
        judge(judged, body["record"]);
        join(text, judged.verdict_word, " · ");
        break;
    }
    case EntryKind::photo:
        text = "Photo";
        if (const auto stage = photo_stage_from_key(text_member(body, "stage")))
            text += fmt::format(": {}", photo_stage_label(*stage));
        for (const char* member : {"caption", "channel"})
            join(text, text_member(body, member), " · ");
        break;
    case EntryKind::mark:
        named("Mark on a photo", {"shape", "text"});
        break;
    case EntryKind::pair:
        named("Two photos paired", {"text"});
        break;
    case EntryKind::recording:
        named("Recording", {"name", "channel", "what", "conditions"});
        break;
    case EntryKind::cost:
        named(text_member(body, "type") == "work" ? "Time" : "Part", {"what"});
        if (const CostRecord* cost = by_entry(job.costs, entry.id))
            join(text,
                 cost->type == CostType::part
                     ? fmt::format("{} × {}", cost->count, print_money(cost->each, {}))
                     : worded("{} min", print_short(cost->minutes, Unit::ratio, 6)),
                 " · ");
        break;
    case EntryKind::taken_off:
        text = worded("Taken off: {} × {}", body.value("count", 1), text_member(body, "what"));
        for (const char* member : {"where", "note"})
            join(text, text_member(body, member), " · ");
        break;
    case EntryKind::put_back: {
        const TakenOffRecord* item = by_entry(job.taken_off, text_member(body, "item"));
        text = worded("Put back: {} × {}", body.value("count", 1),
                      item != nullptr ? item->what : "something not here");
        join(text, text_member(body, "note"), " · ");
        break;
    }
    case EntryKind::wanting:
        named("Still wanting", {"title", "rank", "state", "why"});
        money_in("parts");
        if (const auto it = body.find("minutes"); it != body.end())
            join(text, worded("{} min", print_short(it->get<double>(), Unit::ratio, 6)), " · ");
        break;
    case EntryKind::closing:
        named("Closing", {"words", "unit", "symptom", "cause", "cure"});
        if (const auto it = body.find("photos"); it != body.end())
            join(text, worded("{} photos chosen", it->size()), " · ");
        if (const auto it = body.find("overrides"); it != body.end())
            for (auto one = it->begin(); one != it->end(); ++one)
                join(text, worded("{} let pass: {}", one.key(), one->get<std::string>()), " · ");
        break;
    case EntryKind::list:
        named("List taken up", {"name"});
        break;
    case EntryKind::tick: {
        std::string step = text_member(body, "step");
        if (const ListRecord* list = by_entry(job.lists, text_member(body, "list")))
            for (const StepRecord& one : list->steps)
                if (one.step.key == step) {
                    step = one.step.text;
                    break;
                }
        text = worded("Step {}: {}", text_member(body, "state"), step);
        join(text, text_member(body, "answer"), " · ");
        break;
    }
    case EntryKind::circuit:
        named("Circuit", {"name"});
        break;
    case EntryKind::finding:
        text = worded("Found: {}", text_member(body, "about"));
        join(text, text_member(body, "channel"), " · ");
        join(text, text_member(body, "answer"), " · ");
        break;
    case EntryKind::note:
        named("Note", {"text"});
        break;
    case EntryKind::strike: {
        text = text_member(body, "standing") == "struck" ? "Struck" : "Brought back";
        for (const Entry& other : job.entries)
            if (other.id == text_member(body, "entry") && other.kind != EntryKind::strike)
                text += ": " + history_text(job, other);
        break;
    }
    case EntryKind::instrument:
    case EntryKind::drawer:
    case EntryKind::minutes:
    case EntryKind::list_text:
    case EntryKind::unknown:
        text = worded("An entry of a later version: {}", written_kind(entry));
        break;
    }
    return text;
}

Report make_report(const Job& job, const BenchBook& book, const ReportFacts& facts) {
    Report report;
    report.facts = facts;
    Making(job, book, report).make();
    report.missing = missing(job, report);
    return report;
}

} // namespace railside
