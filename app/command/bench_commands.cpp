// `jobs` and `lists`: what the bench holds, and the lists that come with the program.
#include "app/command/benches.h"
#include "app/command/commands.h"
#include "app/command/text_layout.h"
#include "app/rooms/builtin_lists.h"
#include "app/rooms/shelf_model.h"
#include "core/quantity/value_code.h"

#include <fmt/format.h>

namespace railside {

namespace {

Result<Done> list_jobs(const Options& options, std::ostream& out) {
    const auto folder = bench_folder(options);
    if (!folder)
        return folder.error();
    if (!holds_bench(*folder)) { // listing does not make a bench
        if (options.has("--bench"))
            return Error{ErrorCode::not_found, "--bench",
                         fmt::format("--bench: there is no bench in {}.", folder->string())};
        out << "No jobs yet.\n";
        return Done{};
    }
    auto held = BenchInUse::open(*folder);
    if (!held)
        return held.error();
    const auto jobs = held->bench().jobs();
    if (!jobs)
        return jobs.error();
    const ShelfShown shelf = make_shelf(*jobs, system_clock());
    if (shelf.cards.empty())
        out << "No jobs yet.\n";
    for (const ShelfCard& card : shelf.cards) {
        out << fmt::format("{}  {}\n", card.job, card.title);
        const std::string indent(card.job.size() + 2, ' ');
        if (!card.complaint.empty())
            out << wrapped_text(card.complaint, indent);
        out << wrapped_text(fmt::format("{}, touched {}, {}{}{}", card.state, card.touched,
                                        card.counts, card.money.empty() ? "" : ", ", card.money),
                            indent);
    }
    return Done{};
}

std::string step_notes(const ListStep& step) {
    std::string text;
    const auto add = [&text](const std::string& part) {
        text += (text.empty() ? "" : "; ") + part;
    };
    switch (step.kind) {
    case StepKind::tick:
        break;
    case StepKind::choice: {
        std::string words;
        for (const StepChoice& choice : step.choices)
            words += fmt::format("{}{}{}", words.empty() ? "" : ", ", choice.word,
                                 choice.stops ? " (stop)" : "");
        add(words);
        break;
    }
    case StepKind::reading:
        add(fmt::format("a reading, {} to {}", print_short(step.low, step.unit),
                        print_short(step.high, step.unit)));
        break;
    case StepKind::photo:
        add("a photo");
        break;
    }
    if (step.bars)
        add("bars what follows");
    return text;
}

Result<Done> print_lists(const Options&, std::ostream& out) {
    bool first = true;
    for (const StepList& list : builtin_lists()) {
        out << (first ? "" : "\n") << fmt::format("{}  {}\n", list.key, list.name);
        first = false;
        if (!list.intro.empty())
            out << wrapped_text(list.intro, "  ");
        int number = 0;
        for (const ListStep& step : list.steps) {
            const std::string notes = step_notes(step);
            out << wrapped_text(notes.empty() ? step.text
                                              : fmt::format("{} [{}]", step.text, notes),
                                fmt::format("  {:2}  ", ++number));
            if (!step.caution.empty())
                out << wrapped_text(step.caution, "      ! Caution: ");
        }
    }
    return Done{};
}

} // namespace

Command jobs_command() {
    CommandSpec spec;
    spec.name = "jobs";
    spec.summary = "Lists the jobs of the bench, the one touched last first";
    spec.usage = "[--bench FOLDER]";
    spec.about = "Prints each job's id, unit, complaint and how far it is.";
    spec.options = {bench_option()};
    return {std::move(spec), list_jobs};
}

Command lists_command() {
    CommandSpec spec;
    spec.name = "lists";
    spec.summary = "Prints the lists of steps that come with the program";
    spec.about = "Prints every list in the order a job needs them, with what each step asks for.";
    return {std::move(spec), print_lists};
}

} // namespace railside
