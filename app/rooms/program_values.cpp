// Setting what was keyed, written or chosen. A target is words parted by "/": what it is of, whose,
// and which member. Everything that must last becomes an entry.

#include "app/rooms/apart_model.h"
#include "app/rooms/bench_model.h"
#include "app/rooms/program.h"
#include "app/rooms/reading_model.h"
#include "app/rooms/suspects_model.h"
#include "core/device/drawer.h"
#include "core/quantity/value_code.h"
#include "core/words/words.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <utility>

namespace railside {

namespace {

struct TwoParts {
    std::string first, rest;
};
TwoParts cut(const std::string& text) {
    const auto at = text.find('/');
    return at == std::string::npos ? TwoParts{text, {}}
                                   : TwoParts{text.substr(0, at), text.substr(at + 1)};
}

std::string trimmed(std::string text) {
    const auto blank = [](char c) { return c == ' ' || c == '\n' || c == '\t' || c == '\r'; };
    while (!text.empty() && blank(text.back()))
        text.pop_back();
    std::size_t first = 0;
    while (first < text.size() && blank(text[first]))
        ++first;
    return text.substr(first);
}

/// What a working's reading is a reading of, told by its unit and how small it usually is.
ReadingKind kind_of(const Field& field) {
    switch (field.unit) {
    case Unit::volt:
        return field.usual_high > 0 && field.usual_high <= 1 ? ReadingKind::millivolts
                                                             : ReadingKind::volts;
    case Unit::ampere:
        return field.usual_high > 0 && field.usual_high < 0.1 ? ReadingKind::leakage
                                                              : ReadingKind::current;
    case Unit::ohm:
        return ReadingKind::ohms;
    case Unit::celsius:
        return ReadingKind::temperature;
    case Unit::ratio:
        return ReadingKind::gain;
    default:
        return ReadingKind::other;
    }
}

const WantingRecord* wanting_of(const Job& job, std::string_view entry) {
    for (const WantingRecord& one : job.wanting)
        if (one.source.entry == entry && one.source.standing == Standing::valid)
            return &one;
    return nullptr;
}

ListStep* draft_step(AppState& state) {
    if (!state.list_draft || state.list_draft->step < 0 ||
        state.list_draft->step >= static_cast<int>(state.list_draft->list.steps.size()))
        return nullptr;
    return &state.list_draft->list.steps[static_cast<std::size_t>(state.list_draft->step)];
}

} // namespace

void RailsideProgram::set_value() {
    KeypadState& keypad = *state_.keypad;
    if (const auto input = read_input(keypad.field, keypad.text); !input) {
        keypad.refused = input.error().message;
        return;
    }
    if (set_keyed(keypad)) {
        state_.keypad.reset();
        for (PlotView& view : state_.plots)
            view.cursor = -1;
    }
}

bool RailsideProgram::set_keyed(const KeypadState& keypad) {
    const TwoParts target = cut(keypad.target);
    const std::string& text = keypad.text;
    const auto accuracy = [&](ReadingKind kind) {
        ReadingDraft draft = state_.reading;
        draft.kind = kind;
        return accuracy_of(draft, book_);
    };
    if (target.first == "field") {
        const Working* working = find_working(state_.working);
        const Field* field = working ? find_field(*working, target.rest) : nullptr;
        if (field == nullptr)
            return false;
        if (field->spread != Spread::meter)
            return append(EntryKind::job,
                          {{"known", {{known_key(*working, *field, state_.channel), text}}}});
        const ReadingKind kind = kind_of(*field);
        const auto input = read_input(*field, text, accuracy(kind));
        AppState as_read = state_;
        as_read.reading.kind = kind;
        as_read.reading.position.clear();
        ReadingRecord reading = reading_from(as_read, job_, book_, *input, text);
        reading.what = field->label;
        reading.field = field->key;
        return append(EntryKind::reading, reading_body(reading));
    }
    if (target.first == "step") {
        const TwoParts list = cut(target.rest);
        if (!append(EntryKind::tick, tick_body(list.first, list.rest, StepState::done, text)))
            return false;
        state_.expanded_step.clear();
        state_.follow_step = true;
        return true;
    }
    if (target.first == "hunt") {
        const auto input = read_input(keypad.field, text, accuracy(hunt_reading_kind(target.rest)));
        return append(EntryKind::reading,
                      reading_body(hunt_reading(state_, job_, book_, target.rest, *input, text)));
    }
    if (target.first == "reading") {
        const auto input =
            read_input(reading_field(state_.reading.kind), text, accuracy(state_.reading.kind));
        const ReadingRecord reading = reading_from(state_, job_, book_, *input, text);
        if (!append(EntryKind::reading, reading_body(reading)))
            return false;
        say(AppState::MessageTone::kept,
            worded("{} is kept, {}.", reading.what,
                   print_range(reading.amount.low, reading.amount.high, reading.amount.unit, 4)));
        state_.reading.what.clear();
        state_.reading_open = false;
        return true;
    }
    const auto input = read_input(keypad.field, text);
    const double value = input->amount.value;
    if (keypad.target == "draft/minutes") {
        state_.reading.when.minutes = value;
        return true;
    }
    if (target.first == "job")
        return append(EntryKind::job, {{target.rest, value}});
    if (keypad.target == "cost/minutes") {
        CostRecord cost;
        cost.type = CostType::work;
        cost.what = "Work at the bench";
        cost.minutes = value;
        return append(EntryKind::cost, cost_body(cost));
    }
    if (target.first == "minutes") {
        const auto changed = with_line(minutes_of_bench(book_), target.rest, value);
        return changed.ok() &&
               append_book(EntryKind::minutes, minutes_body(minutes_text(*changed)));
    }
    if (target.first == "cost" && state_.cost) {
        if (target.rest == "count") {
            state_.cost->count = static_cast<int>(value);
        } else {
            state_.cost->each = value;
            state_.cost->each_text = text;
        }
        return true;
    }
    if (target.first == "wanting") {
        const TwoParts of = cut(target.rest);
        const WantingRecord* found = wanting_of(job_, of.first);
        if (found == nullptr)
            return false;
        WantingRecord changed = *found;
        (of.rest == "parts" ? changed.parts : changed.minutes) = value;
        return append(EntryKind::wanting, wanting_change(of.first, changed));
    }
    if (target.first == "instrument") {
        const TwoParts of = cut(target.rest);
        const Instrument* found = book_.instrument(of.first);
        if (found == nullptr)
            return false;
        Instrument changed = *found;
        double* figure = instrument_figure(changed, of.rest);
        if (figure == nullptr)
            return false;
        *figure = value;
        return append_book(EntryKind::instrument, instrument_change(of.first, changed));
    }
    if (target.first == "draftstep") {
        ListStep* step = draft_step(state_);
        if (step == nullptr)
            return false;
        (target.rest == "low" ? step->low : step->high) = value;
        (target.rest == "low" ? step->low_text : step->high_text) = text;
        state_.list_draft->changed = true;
        return true;
    }
    return false;
}

void RailsideProgram::set_text() {
    const std::string target = state_.text->target;
    const std::string text = trimmed(state_.text->text);
    if (!may_be_set({target, {}, text, false, false}))
        return;
    // What is begun by it may ask for the next text at once; a refused one stays as it was written.
    const TextEntry before = *state_.text;
    state_.text.reset();
    if (!set_member(target, text))
        state_.text = before;
}

bool RailsideProgram::set_member(const std::string& target, const std::string& text) {
    const TwoParts parts = cut(target);
    if (target == "new/model")
        return begin_job(text);
    if (target == "new/position")
        return begin_position(text);
    if (target == "note")
        return append(EntryKind::note, {{"text", text}});
    if (target == "search") {
        state_.search = text;
        return true;
    }
    if (parts.first == "field")
        return set_field(parts.rest, text);
    if (parts.first == "job")
        return set_job_member(parts.rest, text);
    if (parts.first == "position")
        return set_position_member(parts.rest, text);
    if (parts.first == "photo")
        return set_photo_member(parts.rest, text);
    if (parts.first == "mark")
        return set_mark_member(parts.rest, text);
    if (parts.first == "draft")
        return set_draft_member(parts.rest, text);
    if (parts.first == "instrument")
        return set_instrument_member(parts.rest, text);
    if (parts.first == "closing" || parts.first == "override")
        return set_closing(parts.first == "override", parts.rest, text);
    if (parts.first == "wanting")
        return set_wanting_member(parts.rest, text);
    if (parts.first == "report")
        return set_report_member(parts.rest, text);
    if (parts.first == "drawer")
        return set_drawer_line(parts.rest, text);
    if (parts.first == "draftstep" || parts.first == "draftlist")
        return set_list_member(target, text);
    if (target == "cost/what" && state_.cost) {
        state_.cost->what = text;
        return true;
    }
    if (target == "apart/where") {
        state_.apart_where = text;
        return true;
    }
    if (target == "apart/what")
        return take_off(text);
    if (parts.first == "skip") {
        const ListRecord* list = open_list(state_, job_);
        if (list == nullptr || !append(EntryKind::tick, tick_body(list->source.entry, parts.rest,
                                                                  StepState::skipped, text)))
            return false;
        state_.skipping = false;
        state_.expanded_step.clear();
        return true;
    }
    return false;
}

bool RailsideProgram::begin_job(const std::string& model) {
    Sheet sheet;
    sheet.model = model;
    sheet.state = "on the bench";
    auto made = bench_.append({}, EntryKind::job, sheet_body(sheet));
    if (!made) {
        say(AppState::MessageTone::refused, made.error().message);
        return false;
    }
    const std::string id = made->job;
    if (const auto opened = open_job(id); !opened) {
        say(AppState::MessageTone::refused, opened.error().message);
        return false;
    }
    state_.text =
        TextEntry{"job/complaint", "The complaint, in the client's words", {}, true, false};
    return true;
}

bool RailsideProgram::begin_position(const std::string& designator) {
    for (const PositionRecord& position : job_.positions)
        if (position.designator == designator && position.channel == state_.channel &&
            position.source.standing == Standing::valid) {
            // Already there: that is the one that is meant.
            state_.position = position.source.entry;
            return true;
        }
    PositionRecord position;
    position.designator = designator;
    position.channel = state_.channel;
    position.state = "untested";
    if (!append(EntryKind::position, position_body(position)))
        return false;
    for (const PositionRecord& made : job_.positions)
        if (made.designator == designator && made.channel == state_.channel &&
            made.source.standing == Standing::valid)
            state_.position = made.source.entry;
    return true;
}

bool RailsideProgram::set_job_member(const std::string& member, const std::string& text) {
    static constexpr std::array<std::string_view, 9> k_texts = {
        "maker",       "model",     "serial", "year",    "complaint",
        "accessories", "condition", "state",  "currency"};
    if (std::find(k_texts.begin(), k_texts.end(), member) == k_texts.end())
        return false;
    if (member == "state" && job_state_from_word(text) == JobState::handed_back &&
        !can_hand_back(missing(job_))) {
        state_.pick.reset();
        say(AppState::MessageTone::refused,
            "Something bars handing it back. Under \"Hand it back\" it is mended, or let pass with "
            "a reason.");
        return false;
    }
    return append(EntryKind::job, {{member, text}});
}

bool RailsideProgram::set_closing(bool pass, const std::string& which, const std::string& text) {
    ClosingRecord after = job_.closing;
    if (pass) {
        std::erase_if(after.overrides, [&](const auto& one) { return one.first == which; });
        if (!text.empty())
            after.overrides.emplace_back(which, text);
    } else if (which == "words") {
        after.words = text;
    } else if (which == "unit") {
        after.unit = text;
    } else if (which == "symptom") {
        after.symptom = text;
    } else if (which == "cause") {
        after.cause = text;
    } else if (which == "cure") {
        after.cure = text;
    } else {
        return false;
    }
    if (!append(EntryKind::closing, closing_change(job_.closing, after)))
        return false;
    state_.missing_item.clear();
    return true;
}

bool RailsideProgram::set_wanting_member(const std::string& rest, const std::string& text) {
    if (rest == "new") {
        WantingRecord wanting;
        wanting.title = text;
        wanting.rank = WantingRank::reliability;
        const auto written = append_all({{EntryKind::wanting, wanting_body(wanting)}});
        if (!written)
            return false;
        state_.wanting = written->back().id;
        return true;
    }
    const TwoParts of = cut(rest);
    const WantingRecord* found = wanting_of(job_, of.first);
    if (found == nullptr)
        return false;
    WantingRecord after = *found;
    if (of.rest == "title") {
        if (text.empty()) {
            say(AppState::MessageTone::refused, "It needs words; the old ones stay.");
            return false;
        }
        after.title = text;
    } else if (of.rest == "why") {
        after.why = text;
    } else if (of.rest == "position") {
        after.position = text;
    } else if (of.rest == "rank") {
        after.rank = wanting_rank_from_key(text).value_or(found->rank);
    } else if (of.rest == "state") {
        after.state = wanting_state_from_key(text).value_or(found->state);
    } else {
        return false;
    }
    return append(EntryKind::wanting, wanting_change(of.first, after));
}

bool RailsideProgram::set_report_member(const std::string& member, const std::string& text) {
    if (member == "audience") {
        state_.audience = audience_from_key(text).value_or(state_.audience);
        return true;
    }
    if (member == "paper")
        settings_.paper = paper_from_key(text).value_or(settings_.paper);
    else if (member == "bench")
        settings_.bench_name = text;
    else
        return false;
    if (!surroundings_.keep_settings)
        return true;
    if (const auto saved = save_settings(bench_.folder(), settings_); !saved)
        say(AppState::MessageTone::refused, saved.error().message);
    return true;
}

bool RailsideProgram::set_position_member(const std::string& rest, const std::string& text) {
    const TwoParts of = cut(rest);
    for (const PositionRecord& position : job_.positions) {
        if (position.source.entry != of.first)
            continue;
        PositionRecord after = position;
        if (of.rest == "role")
            after.role = text;
        else if (of.rest == "printed_type")
            after.printed_type = text;
        else if (of.rest == "fitted_type")
            after.fitted_type = text;
        else if (of.rest == "fitted_by")
            // The one that stands, touched again, is taken back.
            after.fitted_by = after.fitted_by == text ? std::string() : text;
        else if (of.rest == "state")
            after.state = text;
        else if (of.rest == "note")
            after.note = text;
        else if (of.rest == "half")
            after.half = half_from_key(text).value_or(Half::none);
        else if (of.rest == "sister")
            after.sister = text;
        else
            return false;
        const nlohmann::json body = position_change(position, after);
        return append(EntryKind::position, body);
    }
    return false;
}

bool RailsideProgram::set_photo_member(const std::string& rest, const std::string& text) {
    const TwoParts of = cut(rest);
    for (const PhotoRecord& photo : job_.photos) {
        if (photo.source.entry != of.first)
            continue;
        PhotoRecord after = photo;
        if (of.rest == "caption")
            after.caption = text;
        else if (of.rest == "stage")
            after.stage = photo_stage_from_key(text).value_or(photo.stage);
        else if (of.rest == "position")
            after.position = text;
        else if (of.rest == "channel")
            after.channel = channel_from_key(text).value_or(Channel::none);
        else
            return false;
        // A photo is described once: what changes is said by another entry of the same picture.
        const std::string now = photo.source.entry;
        const std::optional<std::vector<std::string>> chosen = job_.closing.photos;
        const auto written = append_all({{EntryKind::strike, strike_body(now, Standing::struck)},
                                         {EntryKind::photo, photo_body(after)}});
        if (!written)
            return false;
        if (state_.photo.empty() || state_.photo == now)
            state_.photo = written->back().id;
        if (state_.pair_before == now)
            state_.pair_before = written->back().id;
        // The report shows it as before.
        if (chosen && std::find(chosen->begin(), chosen->end(), now) != chosen->end()) {
            ClosingRecord closing = job_.closing;
            closing.photos = chosen;
            std::replace(closing.photos->begin(), closing.photos->end(), now, written->back().id);
            return append(EntryKind::closing, closing_change(job_.closing, closing));
        }
        return true;
    }
    return false;
}

bool RailsideProgram::keep_mark(const std::string& text) {
    const auto& thumbs = shown_.photos.thumbs;
    const int current = shown_.photos.current;
    if (!state_.mark_tool || current < 0 || current >= static_cast<int>(thumbs.size()))
        return false;
    MarkRecord mark;
    mark.shape = *state_.mark_tool;
    mark.points = std::exchange(state_.mark_points, {});
    mark.photo = thumbs[static_cast<std::size_t>(current)].entry;
    mark.text = text;
    return append(EntryKind::mark, mark_body(mark));
}

bool RailsideProgram::set_mark_member(const std::string& rest, const std::string& text) {
    if (rest == "new")
        return keep_mark(text);
    const TwoParts of = cut(rest);
    for (const MarkRecord& mark : job_.marks) {
        if (mark.source.entry != of.first)
            continue;
        MarkRecord after = mark;
        if (of.rest == "text")
            after.text = text;
        else if (of.rest == "position")
            after.position = text;
        else
            return false;
        const auto written =
            append_all({{EntryKind::strike, strike_body(mark.source.entry, Standing::struck)},
                        {EntryKind::mark, mark_body(after)}});
        if (!written)
            return false;
        state_.mark = written->back().id;
        return true;
    }
    return false;
}

bool RailsideProgram::set_draft_member(const std::string& member, const std::string& text) {
    ReadingDraft& draft = state_.reading;
    if (member == "kind")
        draft.kind = reading_kind_from_key(text);
    else if (member == "channel")
        state_.channel = channel_from_key(text).value_or(Channel::none);
    else if (member == "power")
        draft.when.power = power_from_key(text).value_or(Power::unsaid);
    else if (member == "warmth")
        draft.when.warmth = warmth_from_key(text).value_or(Warmth::unsaid);
    else if (member == "instrument")
        draft.instrument = text;
    else if (member == "what")
        draft.what = text;
    else if (member == "conditions")
        draft.conditions = text;
    else
        return false;
    return true;
}

bool RailsideProgram::set_instrument_member(const std::string& rest, const std::string& text) {
    const TwoParts of = cut(rest);
    const Instrument* found = book_.instrument(of.first);
    if (found == nullptr)
        return false;
    Instrument changed = *found;
    const TwoParts member = cut(of.rest);
    if (of.rest == "name") {
        if (text.empty()) {
            say(AppState::MessageTone::refused, "An instrument needs a name; its old one stays.");
            return false;
        }
        changed.name = text;
    } else if (of.rest == "note") {
        changed.note = text;
    } else if (of.rest == "new_range") {
        if (text.empty())
            return false;
        changed.ranges.push_back(
            {text, changed.ranges.empty() ? 20.0 : changed.ranges.back().mid_scale_ohm * 10, 0});
    } else if (member.first == "accuracy") {
        const ReadingKind kind = reading_kind_from_key(member.rest);
        std::erase_if(changed.accuracy, [kind](const auto& one) { return one.first == kind; });
        if (!text.empty()) {
            const auto accuracy = parse_accuracy(text, reading_kind_info(kind).label);
            if (!accuracy) {
                say(AppState::MessageTone::refused, accuracy.error().message);
                return false;
            }
            changed.accuracy.emplace_back(kind, *accuracy);
        }
    } else {
        return false;
    }
    return append_book(EntryKind::instrument, instrument_change(of.first, changed));
}

bool RailsideProgram::set_drawer_line(const std::string& which, const std::string& text) {
    const Result<Drawer> drawer = read_drawer(book_.drawer);
    if (!drawer) {
        say(AppState::MessageTone::refused, drawer.error().message);
        return false;
    }
    Drawer changed = *drawer;
    const Result<Drawer> line = read_drawer(text);
    if (!line) {
        say(AppState::MessageTone::refused, line.error().message);
        return false;
    }
    if (which == "new") {
        changed = merge_drawers(changed, *line);
    } else {
        const auto number = parse_value(which, Unit::ratio, "line");
        const auto at = number ? static_cast<std::size_t>(number->value) : changed.size();
        if (at >= changed.size() || line->size() > 1)
            return false;
        if (line->empty())
            changed.erase(changed.begin() + static_cast<std::ptrdiff_t>(at));
        else
            changed[at] = line->front();
    }
    return append_book(EntryKind::drawer, drawer_body(print_drawer(changed)));
}

bool RailsideProgram::set_list_member(const std::string& target, const std::string& text) {
    if (!state_.list_draft)
        return false;
    ListDraft& draft = *state_.list_draft;
    ListStep* step = draft_step(state_);
    const TwoParts parts = cut(target);
    if (parts.first == "draftlist") {
        (parts.rest == "name" ? draft.list.name : draft.list.intro) = text;
    } else if (step == nullptr) { // NOLINT(bugprone-branch-clone): two reasons, one answer
        return false;
    } else if (parts.rest == "text") {
        step->text = text;
    } else if (parts.rest == "hint") {
        step->hint = text;
    } else if (parts.rest == "caution") {
        step->caution = text;
    } else if (parts.rest == "bars") {
        step->bars = text == "yes";
    } else if (parts.rest == "unit") {
        step->unit = unit_from_key(text).value_or(step->unit);
    } else if (parts.rest == "kind") {
        step->kind = text == "photo"     ? StepKind::photo
                     : text == "choice"  ? StepKind::choice
                     : text == "reading" ? StepKind::reading
                                         : StepKind::tick;
        if (step->kind == StepKind::choice && step->choices.size() < 2)
            step->choices = {{"yes", false}, {"no", true}};
        if (step->kind == StepKind::reading && step->low_text.empty()) {
            step->unit = Unit::volt;
            step->low_text = "0";
            step->high_text = "1";
        }
    } else if (parts.rest == "choices") {
        std::vector<StepChoice> choices;
        std::size_t at = 0;
        while (at <= text.size()) {
            const std::size_t end = std::min(text.find(',', at), text.size());
            std::string word = trimmed(text.substr(at, end - at));
            const bool stops = !word.empty() && word.back() == '!';
            if (stops)
                word = trimmed(word.substr(0, word.size() - 1));
            if (!word.empty())
                choices.push_back({word, stops});
            at = end + 1;
        }
        step->choices = std::move(choices);
    } else {
        return false;
    }
    draft.changed = true;
    return true;
}

bool RailsideProgram::set_field(std::string_view key, const std::string& word) {
    const Working* working = find_working(state_.working);
    const Field* field = working ? find_field(*working, key) : nullptr;
    if (field == nullptr)
        return false;
    // Emptied: the field is as if it had never been given.
    if (!word.empty())
        if (const auto input = read_input(*field, word); !input) {
            say(AppState::MessageTone::refused, input.error().message);
            return false;
        }
    return append(EntryKind::job,
                  {{"known", {{known_key(*working, *field, state_.channel), word}}}});
}

bool RailsideProgram::take_off(const std::string& what) {
    TakenOffRecord item;
    item.what = what;
    item.where = state_.apart_where;
    item.channel = state_.channel;
    // The photo taken of it, if one was: the latest that shows something taken off or as it came.
    if (!state_.photo.empty())
        item.photo = state_.photo;
    if (!append(EntryKind::taken_off, taken_off_body(item)))
        return false;
    const auto lines = apart_lines(job_);
    if (!lines.empty())
        state_.apart_line = lines.front().items.front().item;
    return true;
}

} // namespace railside
