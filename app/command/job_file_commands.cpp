// `export`, `import`, `backup`, `restore` and `search`: what goes in and out of a bench as a whole.
#include "app/command/benches.h"
#include "app/command/commands.h"
#include "app/command/text_layout.h"
#include "core/quantity/refusal.h"
#include "core/store/backup.h"

#include <fmt/format.h>

#include <algorithm>

namespace railside {

namespace fs = std::filesystem;

namespace {

constexpr std::size_t k_most_found = 50;

/// The bench the options name, which must be there: none of these commands makes one.
Result<BenchInUse> present_bench(const Options& options) {
    const auto folder = bench_folder(options);
    if (!folder)
        return folder.error();
    if (!holds_bench(*folder))
        return Error{ErrorCode::not_found, "--bench",
                     fmt::format("There is no bench in {}.", folder->string())};
    return BenchInUse::open(*folder);
}

/// "1 photo", "4 photos"
std::string counted(int count, std::string_view one, std::string_view many) {
    return fmt::format("{} {}", count, count == 1 ? one : many);
}

void warn_missing(std::ostream& out, int missing, std::string_view where) {
    if (missing > 0)
        out << fmt::format("! {} {} {}.\n",
                           counted(missing, "photo or recording", "photos or recordings"),
                           missing == 1 ? "is" : "are", where);
}

Result<Done> export_job(const Options& options, std::ostream& out) {
    auto held = present_bench(options);
    if (!held)
        return held.error();
    const auto job = job_named(held->bench(), options.text_or("JOB", ""));
    if (!job)
        return job.error();
    const fs::path file = options.text_or("--out", "");
    const auto report = held->bench().export_job(*job, file);
    if (!report)
        return report.error();
    out << fmt::format("{}: {}, {}. Read back and checked.\n", file.string(),
                       counted(report->entries, "entry", "entries"),
                       counted(report->files, "photo or recording", "photos and recordings"));
    warn_missing(out, report->missing, "gone from this bench and not in the file");
    if (report->left_out > 0)
        out << fmt::format("! {} damaged on this disk and left out.\n",
                           counted(report->left_out, "entry is", "entries are"));
    return Done{};
}

Result<Done> import_job(const Options& options, std::ostream& out) {
    const auto folder = bench_folder(options);
    if (!folder)
        return folder.error();
    auto held = BenchInUse::open(*folder); // a new bench may begin with a job from another
    if (!held)
        return held.error();
    const auto report = held->bench().import_job(options.text_or("FILE", ""));
    if (!report)
        return report.error();
    out << fmt::format("Job {}: {} in the file, {} new here.\n", report->job,
                       counted(report->entries, "entry", "entries"), report->new_entries);
    warn_missing(out, report->missing, "neither in the file nor on this bench");
    return Done{};
}

void print_backup(const BackupReport& report, std::string_view where, std::ostream& out) {
    out << fmt::format(
        "{}: {}, {}, {} ({} copied now). Read back and checked.\n", where,
        counted(report.jobs, "job", "jobs"), counted(report.entries, "entry", "entries"),
        counted(report.files, "photo or recording", "photos and recordings"), report.copied);
    warn_missing(out, report.missing, "gone or damaged and not in it");
}

Result<Done> back_up(const Options& options, std::ostream& out) {
    auto held = present_bench(options);
    if (!held)
        return held.error();
    const fs::path to = options.text_or("--out", "");
    const auto report = held->bench().backup(to);
    if (!report)
        return report.error();
    print_backup(*report, to.string(), out);
    return Done{};
}

Result<Done> restore(const Options& options, std::ostream& out) {
    const auto folder = bench_folder(options);
    if (!folder)
        return folder.error();
    const auto report = restore_backup(options.text_or("FOLDER", ""), *folder);
    if (!report)
        return report.error();
    // It is a bench when it opens as one.
    if (const auto held = BenchInUse::open(*folder); !held)
        return held.error();
    print_backup(*report, folder->string(), out);
    return Done{};
}

Result<Done> search(const Options& options, std::ostream& out) {
    auto held = present_bench(options);
    if (!held)
        return held.error();
    std::string words;
    for (const std::string& word : options.texts("WORDS"))
        words += (words.empty() ? "" : " ") + word;
    const auto found = held->bench().search(words, k_most_found);
    if (!found)
        return found.error();
    if (found->empty())
        out << fmt::format("No job has {}.\n", railside::quoted(words));
    for (const JobFound& one : *found) {
        const Sheet& sheet = one.job.sheet;
        std::string unit = sheet.maker;
        if (!sheet.model.empty())
            unit += (unit.empty() ? "" : " ") + sheet.model;
        out << fmt::format("{}  {}{}\n", one.job.job, unit.empty() ? "no unit named" : unit,
                           one.job.standing == Standing::struck ? " (struck)" : "");
        out << wrapped_text(one.excerpt, std::string(one.job.job.size() + 2, ' '));
    }
    if (found->size() == k_most_found)
        out << fmt::format("Only the first {} are shown; another word narrows it.\n", k_most_found);
    return Done{};
}

OptionSpec out_option(std::string value, std::string help) {
    OptionSpec option{"--out", std::move(value), std::move(help), ""};
    return option;
}

/// parse_options leaves options with dashes to the command.
Command needing(CommandSpec spec, std::string name,
                Result<Done> (*run)(const Options&, std::ostream&)) {
    return {
        std::move(spec),
        [name = std::move(name), run](const Options& options, std::ostream& out) -> Result<Done> {
            if (options.text_or(name, "").empty())
                return Error{ErrorCode::missing, name,
                             fmt::format("{} is missing: name where it is to go.", name)};
            return run(options, out);
        }};
}

} // namespace

Command export_command() {
    CommandSpec spec;
    spec.name = "export";
    spec.summary = "Writes one job with its photos and recordings as a job file";
    spec.usage = "JOB --out FILE [--bench FOLDER]";
    spec.about = "A job file (.railjob) carries a job to another machine and is that job's own "
                 "backup. It is read back and checked before it gets its name; a job file of that "
                 "name is replaced, another file is left alone.\n\n"
                 "Photos go with it byte for byte, with all that the camera wrote into them.";
    spec.example = "railside export demo --out hall.railjob";
    spec.options = {{"JOB", "JOB", "The job.", "demo, or an id that \"railside jobs\" lists"},
                    out_option("FILE", "The job file."),
                    bench_option()};
    return needing(std::move(spec), "--out", export_job);
}

Command import_command() {
    CommandSpec spec;
    spec.name = "import";
    spec.summary = "Takes a job file in; a job that is here already becomes the union of both";
    spec.usage = "FILE [--bench FOLDER]";
    spec.about = "Nothing of a file that is damaged or was tampered with is taken in. Taking the "
                 "same file in twice changes nothing.";
    spec.example = "railside import hall.railjob";
    spec.options = {{"FILE", "FILE", "The job file.", ""}, bench_option()};
    return {std::move(spec), import_job};
}

Command backup_command() {
    CommandSpec spec;
    spec.name = "backup";
    spec.summary = "Copies the whole bench to a folder";
    spec.usage = "--out FOLDER [--bench FOLDER]";
    spec.about = "The folder must be new, empty, or an earlier backup of the same bench: then only "
                 "what is new is copied. Everything is read back and checked. \"railside restore\" "
                 "brings it back.";
    spec.example = "railside backup --out /media/stick/bench";
    spec.options = {out_option("FOLDER", "The folder of the backup, best on another disk."),
                    bench_option()};
    return needing(std::move(spec), "--out", back_up);
}

Command restore_command() {
    CommandSpec spec;
    spec.name = "restore";
    spec.summary = "Makes a bench of a backup, in an empty folder";
    spec.usage = "FOLDER --bench FOLDER";
    spec.about = "The backup is checked first and left as it is. The bench's folder must be empty "
                 "or not there yet; what is on a bench is never overwritten.";
    spec.example = "railside restore /media/stick/bench --bench bench";
    spec.options = {{"FOLDER", "FOLDER", "The folder of the backup.", ""}, bench_option()};
    return {std::move(spec), restore};
}

Command search_command() {
    CommandSpec spec;
    spec.name = "search";
    spec.summary = "Finds jobs by unit, complaint, position, type, note or verdict";
    spec.usage = "WORDS [--bench FOLDER]";
    spec.about = "Shows the jobs in which every word stands, each as the beginning of a word, best "
                 "first. What is struck is not found.";
    spec.example = "railside search 2SC5200 hum";
    OptionSpec words{"WORDS", "WORDS", "What to look for.", ""};
    words.often = Often::many;
    spec.options = {std::move(words), bench_option()};
    return {std::move(spec), search};
}

} // namespace railside
