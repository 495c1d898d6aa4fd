#include "app/rooms/bench_model.h"

#include "core/device/drawer.h"
#include "core/quantity/value_code.h"
#include "core/words/words.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>

namespace railside {

namespace {

std::string figure(double value, Unit unit) {
    return value == 0 ? std::string() : print_short(value, unit, 4);
}

std::string summary(const Instrument& instrument) {
    switch (instrument.type) {
    case InstrumentType::meter: {
        const auto volts = instrument.accuracy_for(ReadingKind::volts);
        return volts ? worded("volts {}", print_accuracy(*volts)) : "no accuracy stated";
    }
    case InstrumentType::ohmmeter: {
        std::string words =
            worded("{} battery; mid-scale", print_short(instrument.battery_v, Unit::volt, 3));
        for (std::size_t i = 0; i < instrument.ranges.size(); ++i)
            words += (i == 0 ? " " : ", ") +
                     print_short(instrument.ranges[i].mid_scale_ohm, Unit::ohm, 3);
        return words;
    }
    case InstrumentType::gain_tester:
        return worded("tests at {}", print_short(instrument.test_a, Unit::ampere, 3));
    case InstrumentType::lamp:
        return worded("{} at {}", print_short(instrument.power_w, Unit::watt, 3),
                      print_short(instrument.volts_v, Unit::volt, 3));
    case InstrumentType::other:
        break;
    }
    return instrument.note;
}

Page all_instruments(const BenchBook& book) {
    Page page;
    page.name = "bench/instruments";
    page.rows.push_back(words_row("What this bench reads with. A reading takes its interval from "
                                  "the instrument it names."));
    for (const InstrumentType type :
         {InstrumentType::meter, InstrumentType::ohmmeter, InstrumentType::gain_tester,
          InstrumentType::lamp, InstrumentType::other}) {
        for (const Instrument& instrument : book.instruments) {
            if (instrument.type != type)
                continue;
            PageRow row;
            row.kind = RowKind::line;
            row.name = instrument.source.entry;
            row.label = instrument.name;
            row.value = instrument_type_label(type);
            row.tone = Tone::soft;
            row.more = summary(instrument);
            row.struck = instrument.source.standing == Standing::struck;
            row.does = intent::OpenInstrument{instrument.source.entry};
            page.rows.push_back(std::move(row));
        }
    }
    page.rows.push_back(heading_row("Add one"));
    std::vector<PageButton> add;
    for (const InstrumentType type :
         {InstrumentType::meter, InstrumentType::ohmmeter, InstrumentType::gain_tester,
          InstrumentType::lamp, InstrumentType::other})
        add.push_back({fmt::format("add/{}", instrument_type_key(type)),
                       worded("+ {}", instrument_type_label(type)), intent::AddInstrument{type}});
    page.rows.push_back(buttons_row(std::move(add)));
    return page;
}

Page one_instrument(const Instrument& instrument) {
    Page page;
    page.name = "instrument";
    page.title = instrument.name;
    page.back = intent::OpenInstrument{};
    const std::string target = fmt::format("instrument/{}/", instrument.source.entry);
    page.rows.push_back(text_row("name", "Name", instrument.name, target + "name"));
    const auto value = [&](std::string_view member, std::string label, double now, Unit unit) {
        page.rows.push_back(value_row(std::string(member), std::move(label), figure(now, unit),
                                      fmt::format("{}{}", target, member)));
    };
    switch (instrument.type) {
    case InstrumentType::meter:
        value("test_a", "Diode test drives", instrument.test_a, Unit::ampere);
        value("open_v", "Diode test shows at most", instrument.open_v, Unit::volt);
        page.rows.push_back(heading_row("Accuracy, as its sheet states it"));
        for (const ReadingKindInfo& info : all_reading_kinds()) {
            if (!info.unit)
                continue;
            std::string stated;
            for (const auto& [kind, accuracy] : instrument.accuracy)
                if (kind == info.kind)
                    stated = print_accuracy(accuracy);
            page.rows.push_back(text_row(fmt::format("accuracy/{}", info.key),
                                         std::string(info.label), stated,
                                         fmt::format("{}accuracy/{}", target, info.key)));
        }
        break;
    case InstrumentType::ohmmeter:
        value("battery_v", "Its battery", instrument.battery_v, Unit::volt);
        value("arc_error", "The needle may be off by", instrument.arc_error, Unit::percent);
        for (std::size_t i = 0; i < instrument.ranges.size(); ++i) {
            const OhmRange& range = instrument.ranges[i];
            page.rows.push_back(heading_row(worded("Range {}", range.name)));
            value(fmt::format("range/{}/mid_scale_ohm", i), "Middle of the arc",
                  range.mid_scale_ohm, Unit::ohm);
            value(fmt::format("range/{}/battery_v", i), "Its own battery", range.battery_v,
                  Unit::volt);
        }
        page.rows.push_back(buttons_row(
            {{"range/add", "+ range",
              intent::EditText{target + "new_range", "What stands on the switch", {}}}}));
        break;
    case InstrumentType::gain_tester:
        value("test_a", "Collector current it tests at", instrument.test_a, Unit::ampere);
        break;
    case InstrumentType::lamp:
        value("power_w", "Power printed on it", instrument.power_w, Unit::watt);
        value("volts_v", "Voltage printed on it", instrument.volts_v, Unit::volt);
        page.rows.push_back(
            caution_row("A series lamp carries mains. Holder, flex and switch follow "
                        "local code, and a lamp gets hot enough to burn."));
        break;
    case InstrumentType::other:
        break;
    }
    page.rows.push_back(text_row("note", "Note", instrument.note, target + "note"));
    const bool struck = instrument.source.standing == Standing::struck;
    page.rows.push_back(
        buttons_row({{"strike", struck ? "This bench has it again" : "This bench has it no longer",
                      intent::StrikeInstrument{instrument.source.entry,
                                               struck ? Standing::valid : Standing::struck},
                      struck ? ButtonKind::plain : ButtonKind::danger}}));
    return page;
}

Page make_drawer(const BenchBook& book) {
    Page page;
    page.name = "bench/drawer";
    page.rows.push_back(words_row("The parts in stock, one line each: type, how many, where. The "
                                  "stand-in working looks here first."));
    const Result<Drawer> drawer = read_drawer(book.drawer);
    if (!drawer) {
        page.rows.push_back(words_row(drawer.error().message, Tone::bad));
    } else {
        for (std::size_t i = 0; i < drawer->size(); ++i) {
            const DrawerLine& line = (*drawer)[i];
            PageRow row;
            row.kind = RowKind::line;
            row.name = fmt::format("line/{}", i);
            row.label = line.type;
            row.value = line.count == 0 ? "none left" : fmt::format("{}", line.count);
            row.tone = line.count == 0 ? Tone::edge : Tone::plain;
            row.more = line.place;
            std::string text = print_drawer({line});
            while (!text.empty() && text.back() == '\n')
                text.pop_back();
            row.does =
                intent::EditText{fmt::format("drawer/{}", i),
                                 "Type x how many; where. Nothing at all takes it out", text};
            page.rows.push_back(std::move(row));
        }
        if (drawer->empty())
            page.rows.push_back(words_row("The drawer is empty."));
    }
    page.foot.push_back(
        {"add", "Add a part",
         intent::EditText{"drawer/new", "Type x how many; where: MJL3281A x 4; shelf 3", {}},
         ButtonKind::primary});
    return page;
}

Page draft_step(const ListDraft& draft) {
    const ListStep& step = draft.list.steps[static_cast<std::size_t>(draft.step)];
    Page page;
    page.name = "draft/step";
    page.title = worded("Step {} of {}", draft.step + 1, draft.list.steps.size());
    page.back = intent::OpenDraftStep{-1};
    page.rows.push_back(text_row("text", "What to do", step.text, "draftstep/text"));
    page.rows.push_back(
        text_row("hint", "More, while it is the next one", step.hint, "draftstep/hint"));
    page.rows.push_back(
        text_row("caution", "What can hurt here", step.caution, "draftstep/caution"));
    page.rows.push_back(heading_row("It wants"));
    const std::string_view kind = step.kind == StepKind::tick     ? "tick"
                                  : step.kind == StepKind::photo  ? "photo"
                                  : step.kind == StepKind::choice ? "choice"
                                                                  : "reading";
    page.rows.push_back(words_to_choose("kind", "draftstep/kind", kind,
                                        {{"tick", "a tick"},
                                         {"reading", "a reading"},
                                         {"choice", "one of words"},
                                         {"photo", "a photo"}}));
    if (step.kind == StepKind::reading) {
        PickList units{"draftstep/unit", "Read in", std::string(unit_info(step.unit).key), {}};
        for (const Unit unit : {Unit::volt, Unit::ampere, Unit::ohm, Unit::watt, Unit::celsius,
                                Unit::hertz, Unit::percent, Unit::ratio})
            units.words.emplace_back(unit_info(unit).key, unit_info(unit).word);
        page.rows.push_back(word_row("unit", "Read in", std::move(units)));
        page.rows.push_back(value_row("low", "At least", step.low_text, "draftstep/low"));
        page.rows.push_back(value_row("high", "At most", step.high_text, "draftstep/high"));
    }
    if (step.kind == StepKind::choice) {
        std::string words;
        for (const StepChoice& choice : step.choices)
            words += fmt::format("{}{}{}", words.empty() ? "" : ", ", choice.word,
                                 choice.stops ? "!" : "");
        page.rows.push_back(
            text_row("choices", "The words; ! means stop", words, "draftstep/choices"));
    }
    page.rows.push_back(
        words_to_choose("bars", "draftstep/bars", step.bars ? "yes" : "no",
                        {{"yes", "the next ones wait for it"}, {"no", "they do not wait"}}));
    page.rows.push_back(heading_row("In the list"));
    page.rows.push_back(buttons_row(
        {{"up", "Earlier", intent::MoveDraftStep{draft.step, intent::DraftMove::up}},
         {"down", "Later", intent::MoveDraftStep{draft.step, intent::DraftMove::down}},
         {"after", "Add one after it",
          intent::MoveDraftStep{draft.step, intent::DraftMove::add_after}},
         {"remove", "Take it out", intent::MoveDraftStep{draft.step, intent::DraftMove::remove},
          ButtonKind::danger}}));
    return page;
}

Page draft_list(const ListDraft& draft) {
    Page page;
    page.name = "draft";
    page.title = draft.list.name;
    page.back = intent::EditList{};
    if (draft.changed)
        page.rows.push_back(words_row("Changed, not kept yet.", Tone::edge));
    page.rows.push_back(text_row("name", "Name", draft.list.name, "draftlist/name"));
    page.rows.push_back(
        text_row("intro", "What to know before", draft.list.intro, "draftlist/intro"));
    page.rows.push_back(heading_row("Steps"));
    for (std::size_t i = 0; i < draft.list.steps.size(); ++i) {
        const ListStep& step = draft.list.steps[i];
        PageRow row;
        row.kind = RowKind::line;
        row.name = fmt::format("step/{}", i);
        row.label = step.text.empty() ? "(nothing written)" : step.text;
        row.more = step.kind == StepKind::reading
                       ? worded("reading, {} to {} {}", step.low_text, step.high_text,
                                unit_info(step.unit).symbol)
                   : step.kind == StepKind::choice ? "one of words"
                   : step.kind == StepKind::photo  ? "photo"
                                                   : "";
        if (step.bars)
            row.more += row.more.empty() ? "bars the next ones" : " · bars the next ones";
        if (!step.caution.empty())
            row.note = step.caution;
        row.does = intent::OpenDraftStep{static_cast<int>(i)};
        page.rows.push_back(std::move(row));
    }
    page.rows.push_back(
        buttons_row({{"add", "Add a step at the end",
                      intent::MoveDraftStep{static_cast<int>(draft.list.steps.size()) - 1,
                                            intent::DraftMove::add_after}}}));
    page.rows.push_back(words_row("A job that has taken the list up keeps it as it was then."));
    page.foot.push_back({"keep", "Keep it so", intent::KeepList{}, ButtonKind::primary});
    return page;
}

Page make_lists(const BenchBook& book, std::span<const StepList> delivered) {
    Page page;
    page.name = "bench/lists";
    page.rows.push_back(words_row("Each list is this bench's to change: leave out what never "
                                  "applies, add what it learned the hard way."));
    for (const StepList& list : delivered) {
        const BookList* own = book.list(list.key);
        PageRow row;
        row.kind = RowKind::line;
        row.name = "list/" + list.key;
        row.label = own ? own->list.name : list.name;
        row.value = worded("{} steps", own ? own->list.steps.size() : list.steps.size());
        row.tone = Tone::soft;
        if (own)
            row.note = "changed by this bench";
        row.note_tone = Tone::soft;
        row.does = intent::EditList{list.key};
        page.rows.push_back(std::move(row));
        if (own)
            page.rows.push_back(buttons_row(
                {{"delivered/" + list.key, "As it came, again", intent::DeliveredList{list.key}}}));
    }
    page.rows.push_back(heading_row("Minutes of a test"));
    page.rows.push_back(words_row("How long each takes at this bench. The hunt proposes what tells "
                                  "most for its minutes."));
    const Minutes delivered_minutes;
    const auto delivered_lines = minutes_lines(delivered_minutes);
    const auto lines = minutes_lines(minutes_of_bench(book));
    for (std::size_t i = 0; i < lines.size(); ++i) {
        PageRow row = value_row("minutes/" + lines[i].name, std::string(lines[i].label),
                                worded("{:g} min", lines[i].minutes), "minutes/" + lines[i].name);
        if (lines[i].minutes != delivered_lines[i].minutes) {
            row.note = worded("it came as {:g} min", delivered_lines[i].minutes);
            row.note_tone = Tone::soft;
        }
        page.rows.push_back(std::move(row));
    }
    return page;
}

Page make_copies(const BenchFacts& facts) {
    Page page;
    page.name = "bench/copies";
    if (!facts.safety.empty()) {
        page.rows.push_back(heading_row("This bench is kept by the browser, on this device"));
        page.rows.push_back(words_row(facts.safety, Tone::plain));
        page.rows.push_back(
            words_row("The screen says so only when an entry is on the disk. A device can still be "
                      "lost: write the jobs as job files now and then, and keep them elsewhere."));
        page.rows.push_back(buttons_row(
            {{"backup", "Write every job as a job file",
              intent::ChooseFileFor{FileWanted::backup_folder}, ButtonKind::primary},
             {"import", "Take in a job file", intent::ChooseFileFor{FileWanted::job_file}}}));
        page.rows.push_back(
            words_row("What belongs to the bench and to no job (the drawer, prices, "
                      "minutes) is not in them.",
                      Tone::soft));
        return page;
    }
    page.rows.push_back(heading_row("This bench lies in"));
    page.rows.push_back(words_row(facts.folder, Tone::plain));
    page.rows.push_back(
        words_row("Every entry is on the disk before the screen says so. A disk can "
                  "still die: copy the bench to another one now and then."));
    page.rows.push_back(buttons_row(
        {{"backup", "Back up the whole bench", intent::ChooseFileFor{FileWanted::backup_folder},
          ButtonKind::primary},
         {"import", "Take in a job file", intent::ChooseFileFor{FileWanted::job_file}}}));
    page.rows.push_back(heading_row("Folder watched for photos"));
    page.rows.push_back(words_row(facts.watched.empty()
                                      ? "None. Watch the folder where a camera's card or a phone's "
                                        "copies appear: new pictures then come to the open job by "
                                        "themselves."
                                      : facts.watched,
                                  facts.watched.empty() ? Tone::soft : Tone::plain));
    if (!facts.watch_state.empty())
        page.rows.push_back(words_row(facts.watch_state));
    std::vector<PageButton> watch;
    watch.push_back({"watch", facts.watched.empty() ? "Watch a folder" : "Watch another one",
                     intent::ChooseFileFor{FileWanted::watched_folder}});
    if (!facts.watched.empty())
        watch.push_back({"unwatch", "Watch none", intent::StopWatching{}});
    page.rows.push_back(buttons_row(std::move(watch)));
    return page;
}

Page make_screen(const BenchFacts& facts) {
    Page page;
    page.name = "bench/screen";
    page.rows.push_back(heading_row("The rail of rooms stands at"));
    page.rows.push_back(buttons_row({{"hand", facts.hand, intent::SwitchHand{}}}));
    page.rows.push_back(heading_row("Colours"));
    page.rows.push_back(buttons_row({{"theme", facts.theme, intent::SwitchTheme{}}}));
    page.rows.push_back(heading_row("Size of the text"));
    std::vector<PageButton> texts;
    for (const int percent : {100, 110, 120, 130})
        texts.push_back({fmt::format("text/{}", percent), fmt::format("{} %", percent),
                         intent::SizeText{percent},
                         percent == facts.text_percent ? ButtonKind::chosen : ButtonKind::choice});
    page.rows.push_back(buttons_row(std::move(texts)));
    page.rows.push_back(heading_row("Size of everything"));
    PageRow ruler;
    ruler.kind = RowKind::ruler;
    ruler.name = "ruler";
    ruler.label = "Hold a ruler to the screen and drag until this line is 50 mm long";
    const float draft = facts.size_draft > 0 ? facts.size_draft : 1;
    ruler.value = fmt::format("{:.0f} %", facts.size * draft * 100);
    ruler.part = draft;
    page.rows.push_back(std::move(ruler));
    page.rows.push_back(buttons_row({{"size/smaller", "smaller", intent::SizeScreen{0.96f, true}},
                                     {"size/larger", "larger", intent::SizeScreen{1.04f, true}},
                                     {"size/usual", "as the screen says", intent::UsualSize{}}}));
    page.rows.push_back(heading_row("Keyboard"));
    page.rows.push_back(buttons_row({{"keys", "The keys of a keyboard", intent::ShowHelp{true}}}));
    return page;
}

std::optional<std::pair<std::size_t, std::string_view>> range_member(std::string_view member) {
    if (!member.starts_with("range/"))
        return std::nullopt;
    member.remove_prefix(6);
    const auto cut = member.find('/');
    if (cut == std::string_view::npos || cut == 0 || cut > 2)
        return std::nullopt;
    std::size_t number = 0;
    for (const char c : member.substr(0, cut)) {
        if (c < '0' || c > '9')
            return std::nullopt;
        number = number * 10 + static_cast<std::size_t>(c - '0');
    }
    return std::pair{number, member.substr(cut + 1)};
}

} // namespace

std::optional<Field> instrument_field(std::string_view member) {
    Field field;
    const auto range = [&](std::string_view label, Unit unit, double low, double high,
                           double usual_low, double usual_high) {
        field.label = label;
        field.unit = unit;
        field.low = low;
        field.high = high;
        field.usual_low = usual_low;
        field.usual_high = usual_high;
        return field;
    };
    const auto of_range = range_member(member);
    const std::string_view name = of_range ? of_range->second : member;
    if (of_range && name == "mid_scale_ohm")
        return range("Middle of the arc", Unit::ohm, 0.1, 1e8, 1, 1e6);
    if (name == "battery_v")
        return range("Battery", Unit::volt, of_range ? 0 : 0.5, 100, 1, 25);
    if (of_range)
        return std::nullopt;
    if (name == "test_a")
        return range("Test current", Unit::ampere, 1e-7, 1, 1e-5, 0.02);
    if (name == "open_v")
        return range("Shown at most", Unit::volt, 0.5, 20, 1.5, 4);
    if (name == "arc_error")
        return range("Needle off by", Unit::percent, 0, 0.2, 0, 0.05);
    if (name == "power_w")
        return range("Power", Unit::watt, 1, 2000, 15, 500);
    if (name == "volts_v")
        return range("Voltage", Unit::volt, 10, 260, 100, 250);
    return std::nullopt;
}

double* instrument_figure(Instrument& instrument, std::string_view member) {
    if (const auto of_range = range_member(member)) {
        if (of_range->first >= instrument.ranges.size())
            return nullptr;
        OhmRange& range = instrument.ranges[of_range->first];
        return of_range->second == "mid_scale_ohm" ? &range.mid_scale_ohm
               : of_range->second == "battery_v"   ? &range.battery_v
                                                   : nullptr;
    }
    static constexpr std::array<std::pair<std::string_view, double Instrument::*>, 6> k_figures = {{
        {"test_a", &Instrument::test_a},
        {"open_v", &Instrument::open_v},
        {"battery_v", &Instrument::battery_v},
        {"arc_error", &Instrument::arc_error},
        {"power_w", &Instrument::power_w},
        {"volts_v", &Instrument::volts_v},
    }};
    for (const auto& [name, at] : k_figures)
        if (name == member)
            return &(instrument.*at);
    return nullptr;
}

Instrument new_instrument(InstrumentType type) {
    for (const Entry& entry : starting_entries()) {
        const BenchBook book = fold_book({});
        if (const Instrument* first = book.instrument(entry.id); first && first->type == type) {
            Instrument made = *first;
            made.source = {};
            made.name = "New " + std::string(instrument_type_label(type));
            made.note.clear();
            return made;
        }
    }
    Instrument made;
    made.type = type;
    made.name = "New instrument";
    return made;
}

Minutes minutes_of_bench(const BenchBook& book) {
    const auto own = read_minutes(book.minutes, "minutes");
    return own ? *own : Minutes{};
}

StepList list_of_bench(const BenchBook& book, std::span<const StepList> delivered,
                       std::string_view key) {
    if (const BookList* own = book.list(key))
        return own->list;
    for (const StepList& list : delivered)
        if (list.key == key)
            return list;
    return {};
}

Page make_bench(const AppState& state, const BenchBook& book, std::span<const StepList> delivered,
                const BenchFacts& facts) {
    switch (state.bench_part) {
    case BenchPart::instruments:
        if (const Instrument* instrument = book.instrument(state.instrument))
            return one_instrument(*instrument);
        return all_instruments(book);
    case BenchPart::drawer:
        return make_drawer(book);
    case BenchPart::lists:
        if (state.list_draft) {
            const bool open =
                state.list_draft->step >= 0 &&
                state.list_draft->step < static_cast<int>(state.list_draft->list.steps.size());
            return open ? draft_step(*state.list_draft) : draft_list(*state.list_draft);
        }
        return make_lists(book, delivered);
    case BenchPart::copies:
        return make_copies(facts);
    case BenchPart::screen:
        return make_screen(facts);
    }
    return {};
}

} // namespace railside
