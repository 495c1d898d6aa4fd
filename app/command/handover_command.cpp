// `handover`: a job's report as a file.
#include "app/command/benches.h"
#include "app/command/commands.h"
#include "app/rooms/handover_files.h"
#include "core/quantity/refusal.h"

#include <fmt/format.h>

#include <array>

namespace railside {

namespace {

constexpr std::array k_audiences{Audience::client, Audience::bench};
constexpr std::array k_papers{Paper::a4, Paper::letter};

template <class Values, class Key> std::vector<std::string> keys_of(const Values& values, Key key) {
    std::vector<std::string> keys;
    keys.reserve(values.size());
    for (const auto& value : values)
        keys.emplace_back(key(value));
    return keys;
}

Result<ReportWanted> read_wanted(const Options& options) {
    ReportWanted wanted;
    const std::string file = options.text_or("--out", "");
    if (file.empty())
        return Error{ErrorCode::missing, "--out",
                     "--out is needed. Accepted: a file name that ends in .pdf, .html or .txt."};
    const auto form = report_form_of(file);
    if (!form)
        return Error{ErrorCode::out_of_range, "--out",
                     fmt::format("--out {}: the ending says what is written. Accepted: a file name "
                                 "that ends in .pdf, .html or .txt.",
                                 railside::quoted(file))};
    wanted.form = *form;
    const auto audience = pick_word(options, "--for", keys_of(k_audiences, audience_key), "client");
    if (!audience)
        return audience.error();
    const auto paper = pick_word(options, "--paper", keys_of(k_papers, paper_key), "a4");
    if (!paper)
        return paper.error();
    if (options.has("--paper") && wanted.form != ReportForm::pdf)
        return Error{ErrorCode::contradictory, "--paper",
                     fmt::format("--paper {} belongs to a PDF, and --out {} is none.", *paper,
                                 railside::quoted(file))};
    wanted.audience = audience_from_key(*audience).value_or(Audience::client);
    wanted.paper = paper_from_key(*paper).value_or(Paper::a4);
    return wanted;
}

/// As with pictures: the demo job needs no bench, and asking makes none.
Result<BenchInUse> bench_for(const Options& options, std::string_view job) {
    if (job == "demo" && !options.has("--bench"))
        return BenchInUse::temporary();
    const auto folder = bench_folder(options);
    if (!folder)
        return folder.error();
    if (!holds_bench(*folder))
        return Error{ErrorCode::not_found, "--bench",
                     fmt::format("There is no bench in {}.", folder->string())};
    return BenchInUse::open(*folder);
}

Result<Done> hand_over(const Options& options, std::ostream& out) {
    const auto name = options.text("--job");
    if (!name || name->empty())
        return Error{ErrorCode::missing, "--job",
                     "--job is needed. Accepted: demo, or an id that \"railside jobs\" lists."};
    auto wanted = read_wanted(options);
    if (!wanted)
        return wanted.error();
    const std::filesystem::path file = options.text_or("--out", "");
    std::error_code error;
    if (!file.parent_path().empty() && !std::filesystem::is_directory(file.parent_path(), error))
        return Error{ErrorCode::not_found, "--out",
                     fmt::format("--out: there is no folder {}.", file.parent_path().string())};
    auto held = bench_for(options, *name);
    if (!held)
        return held.error();
    Bench& bench = held->bench();
    const auto id = job_named(bench, *name);
    if (!id)
        return id.error();
    const auto job = bench.job(*id);
    if (!job)
        return job.error();
    const auto book = bench.book();
    if (!book)
        return book.error();
    wanted->clock = system_clock();
    if (held->is_temporary()) {
        const auto clock = clock_after(bench, *id);
        if (!clock)
            return clock.error();
        wanted->clock = *clock;
    }
    if (const auto done = write_report(bench, *job, *book, *wanted, file); !done)
        return done.error();
    out << fmt::format("{}: for the {}\n", file.string(), audience_key(wanted->audience));
    for (const Missing& one : missing(*job))
        if (one.reason.empty())
            out << fmt::format("! Before it is handed back: {}\n", one.sentence);
    return Done{};
}

} // namespace

Command handover_command() {
    CommandSpec spec;
    spec.name = "handover";
    spec.summary = "Writes a job's report as PDF, HTML or plain text";
    spec.usage = "--job JOB --out FILE [options]";
    spec.about = "The report says what the job's journal says and nothing else; what is missing "
                 "before the unit can be handed back is listed. With --job demo and no --bench the "
                 "demo job stands on a bench of its own, made for the report.";
    spec.example = "railside handover --job demo --out report.pdf";
    spec.options = {
        {"--job", "JOB", "The job.", "demo, or an id that \"railside jobs\" lists"},
        {"--out", "FILE", "The file to write; its ending says as what.",
         "a file name that ends in .pdf, .html or .txt"},
        {"--for", "READER",
         "Who reads it: the client gets plain words, the bench all readings, workings and the "
         "history. Not given: client.",
         words_list(keys_of(k_audiences, audience_key))},
        {"--paper", "PAPER", "The paper of a PDF. Not given: a4.",
         words_list(keys_of(k_papers, paper_key))},
        bench_option(),
    };
    return {std::move(spec), hand_over};
}

} // namespace railside
