// `demo`: the demo job's workings in words and its rooms as pictures.
#include "app/command/benches.h"
#include "app/command/commands.h"
#include "app/command/picture.h"
#include "app/command/print_working.h"
#include "app/command/screens.h"
#include "app/command/text_layout.h"
#include "app/rooms/workings_model.h"
#include "core/store/disk.h"
#include "core/working/json.h"

#include <fmt/format.h>

#include <array>

namespace railside {

namespace {

constexpr std::string_view k_folder = "railside-pictures";
constexpr std::array k_rooms{RoomId::shelf,  RoomId::sheet, RoomId::workings,
                             RoomId::photos, RoomId::steps, RoomId::handover};

std::string headed(std::string_view title) {
    return fmt::format("{}\n{}\n\n", title, std::string(text_columns(title), '='));
}

std::string title_of(const Working& working, Channel channel) {
    return channel == Channel::none
               ? std::string(working.name)
               : fmt::format("{}, {} channel", working.name, channel_label(channel));
}

/// A kept working is worked out again from its kept inputs, which gives its figures in their order.
Result<std::string> kept_text(const KeptWorking& kept, const Clock& clock) {
    const Working* working = find_working(kept.working);
    if (working == nullptr || !kept.record.contains("inputs"))
        return Error{ErrorCode::damaged, "demo job",
                     fmt::format("A kept working ({}) is not one of this program.", kept.working)};
    const auto inputs = inputs_from_json(*working, kept.record.at("inputs"));
    if (!inputs)
        return inputs.error();
    const auto outcome = run_working(*working, *inputs);
    if (!outcome)
        return outcome.error();
    return outcome_text(*working, *inputs, *outcome,
                        fmt::format("{}, kept {}", title_of(*working, kept.channel),
                                    time_text(kept.source.time_ms, clock)));
}

std::string answer_text(const Job& job, const Working& working, Channel channel,
                        const Clock& clock) {
    const std::string title = title_of(working, channel);
    const GatheredInputs gathered = gather_inputs(job, working, channel, clock);
    if (!gathered.refused.empty())
        return wrapped_text(fmt::format("{}: {}", title, gathered.refused.front().second.message),
                            "");
    const Inputs inputs = with_defaults(working, gathered.inputs);
    const auto outcome = run_working(working, inputs);
    if (!outcome)
        return wrapped_text(fmt::format("{}: no answer yet. {}", title, outcome.error().message),
                            "");
    return outcome_text(working, inputs, *outcome, title);
}

Result<Done> print_words(const Job& job, const Clock& clock, std::ostream& out) {
    out << headed(fmt::format("The demo job: {} {}", job.sheet.maker, job.sheet.model));
    out << wrapped_text(job.sheet.complaint, "");
    out << '\n' << headed("Kept with the job");
    for (const KeptWorking& kept : job.kept) {
        if (kept.source.standing != Standing::valid)
            continue;
        const auto text = kept_text(kept, clock);
        if (!text)
            return text.error();
        out << *text << '\n';
    }
    out << headed("Worked out from the job as it stands");
    for (const Working& working : catalogue())
        for (const Channel channel : {Channel::left, Channel::right})
            out << answer_text(job, working, channel, clock) << '\n';
    return Done{};
}

Result<Done> draw_rooms(Bench& bench, const Job& job, const Clock& clock,
                        const std::filesystem::path& folder, std::ostream& out) {
    if (auto made = make_folder(folder); !made)
        return made.error();
    out << headed("Pictures");
    for (const ReferenceScreen& screen : reference_screens())
        for (const RoomId room : k_rooms) {
            PictureWanted wanted;
            wanted.screen = screen_of(screen);
            wanted.clock = clock;
            wanted.room = room;
            wanted.job = job.id;
            const auto drawn = draw_picture(bench, wanted);
            if (!drawn)
                return drawn.error();
            const std::filesystem::path file =
                folder / fmt::format("{}-{}.png", room_key(room), screen.name);
            if (auto written = write_picture(*drawn, file); !written)
                return written.error();
            out << fmt::format("{}: {} by {} pixels\n", file.string(), drawn->width, drawn->height)
                << std::flush;
        }
    return Done{};
}

Result<Done> demo(const Options& options, std::ostream& out) {
    auto held = BenchInUse::temporary();
    if (!held)
        return held.error();
    Bench& bench = held->bench();
    const auto id = job_named(bench, "demo");
    if (!id)
        return id.error();
    const auto job = bench.job(*id);
    const auto clock = clock_after(bench, *id);
    if (!job || !clock)
        return !job ? job.error() : clock.error();
    if (auto printed = print_words(*job, *clock, out); !printed)
        return printed.error();
    return draw_rooms(bench, *job, *clock, options.text_or("--out", k_folder), out);
}

} // namespace

Command demo_command() {
    CommandSpec spec;
    spec.name = "demo";
    spec.summary = "Shows the demo job: its workings in words, its rooms as pictures";
    spec.usage = "[--out FOLDER]";
    spec.about =
        "Makes a bench of its own with the demo job on it, prints the workings kept with "
        "the job and every working's answer for both channels, "
        "and draws its rooms on every reference screen, but not Suspects, which weighs for a "
        "minute first. The bench is removed afterwards; "
        "yours is not touched.";
    spec.options = {
        {"--out", "FOLDER",
         fmt::format("Where the pictures go; made when it is not there. Not given: {}.", k_folder),
         ""}};
    return {std::move(spec), demo};
}

} // namespace railside
