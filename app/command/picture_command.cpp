// `picture`: one room as a PNG.
#include "app/command/benches.h"
#include "app/command/commands.h"
#include "app/command/contact_sheet.h"
#include "app/command/picture.h"
#include "app/command/screens.h"
#include "app/rooms/demo_job.h"
#include "core/working/working.h"

#include <fmt/format.h>

#include <array>

namespace railside {

namespace {

constexpr std::array k_rooms{RoomId::shelf, RoomId::sheet,    RoomId::workings, RoomId::photos,
                             RoomId::steps, RoomId::handover, RoomId::suspects};
constexpr std::array k_themes{ThemeKind::dark, ThemeKind::light, ThemeKind::contrast};
constexpr std::array k_besides{Beside::photos, Beside::steps, Beside::kept};
constexpr double k_least_mm = 0.01;
constexpr double k_most_mm = 4;

template <class Values, class Key> std::vector<std::string> keys_of(const Values& values, Key key) {
    std::vector<std::string> keys;
    keys.reserve(values.size());
    for (const auto& value : values)
        keys.emplace_back(key(value));
    return keys;
}

std::vector<std::string> room_keys() { return keys_of(k_rooms, room_key); }
std::vector<std::string> theme_keys() { return keys_of(k_themes, theme_key); }
std::vector<std::string> beside_keys() { return keys_of(k_besides, beside_key); }
std::vector<std::string> working_keys() {
    return keys_of(catalogue(), [](const Working& working) { return working.key; });
}
const std::vector<std::string>& hand_keys() {
    static const std::vector<std::string> k_keys{"left", "right"};
    return k_keys;
}

CommandSpec picture_spec() {
    CommandSpec spec;
    spec.name = "picture";
    spec.summary = "Draws a room of the program as a PNG, without a window";
    spec.usage = "[--all] --out FILE [options]";
    spec.about = "Draws what a screen of that size would show. With --job demo and no --bench the "
                 "demo job stands on a bench of its own, made for "
                 "the picture.";
    spec.example = "railside picture --job demo --room steps --screen 800x480 --out steps.png";
    std::string screens;
    for (const ReferenceScreen& screen : reference_screens())
        screens += fmt::format(", {}", screen.name);
    spec.options = {
        {"--out", "FILE", "The PNG to write.", ""},
        {"--screen", "WxH[@D]", "Size in the screen's own units, and pixels in one of them.",
         fmt::format("1280x800, 390x844@3 and the like{}. Not given: tablet-landscape", screens)},
        {"--mm-per-unit", "MM",
         "How wide a unit is. Not given: as on the screen made in that size, else about 0.17 mm.",
         ""},
        {"--room", "ROOM", "The room. Not given: the shelf, or with a job its sheet.",
         words_list(room_keys())},
        {"--job", "JOB", "The job on the screen.", "demo, or an id that \"railside jobs\" lists"},
        bench_option(),
        {"--working", "KEY", "The working on the screen.", words_list(working_keys())},
        {"--channel", "CHANNEL", "The channel it is for.", words_list(hand_keys())},
        {"--beside", "WHAT",
         "What stands beside the room; on a small screen, in the drawer pulled up.",
         words_list(beside_keys())},
        {"--hand", "HAND", "The hand that holds. Not given: as set on the bench.",
         words_list(hand_keys())},
        {"--theme", "THEME", "The colours. Not given: as set on the bench.",
         words_list(theme_keys())},
        {"--all", "", "Every room and every working on every reference screen, on one sheet.", ""},
        {"--tap", "NAME ...",
         "Controls to tap first, one after another, by name (workings/field/reading opens the "
         "keypad). What a tap keeps is kept on the bench.",
         "", "Options", Often::many},
    };
    return spec;
}

template <class Value, class Values, class Key>
Result<std::optional<Value>> pick(const Options& options, std::string_view name,
                                  const Values& values, Key key) {
    if (!options.has(name))
        return std::optional<Value>();
    const auto word = pick_word(options, name, keys_of(values, key), "");
    if (!word)
        return word.error();
    for (const auto& value : values)
        if (key(value) == *word)
            return std::optional<Value>(value);
    return std::optional<Value>();
}

/// Everything but the job and the clock, which need the bench.
Result<PictureWanted> read_wanted(const Options& options) {
    PictureWanted wanted;
    const auto mm = number_option(options, "--mm-per-unit", k_least_mm, k_most_mm, "mm");
    if (!mm)
        return mm.error();
    const auto screen = parse_screen(options.text_or("--screen", "tablet-landscape"), *mm);
    if (!screen)
        return screen.error();
    wanted.screen = *screen;

    const auto working = pick_word(options, "--working", working_keys(), "");
    const auto channel =
        pick<Channel>(options, "--channel", std::array{Channel::left, Channel::right}, channel_key);
    const auto beside = pick<Beside>(options, "--beside", k_besides, beside_key);
    const auto theme = pick<ThemeKind>(options, "--theme", k_themes, theme_key);
    const auto hand =
        pick<Hand>(options, "--hand", std::array{Hand::left, Hand::right},
                   [](Hand h) { return std::string_view(h == Hand::left ? "left" : "right"); });
    const auto room = pick<RoomId>(options, "--room", k_rooms, room_key);
    for (const Error* refused :
         {working ? nullptr : &working.error(), channel ? nullptr : &channel.error(),
          beside ? nullptr : &beside.error(), theme ? nullptr : &theme.error(),
          hand ? nullptr : &hand.error(), room ? nullptr : &room.error()})
        if (refused != nullptr)
            return *refused;
    wanted.working = *working;
    wanted.channel = *channel;
    wanted.beside = *beside;
    wanted.theme = *theme;
    wanted.hand = *hand;
    wanted.room = room->value_or(!options.has("--job")      ? RoomId::shelf
                                 : options.has("--working") ? RoomId::workings
                                                            : RoomId::sheet);
    for (const std::string_view of_job : {"--working", "--channel", "--beside"})
        if (options.has(of_job) && !options.has("--job"))
            return Error{
                ErrorCode::missing, "--job",
                fmt::format(
                    "{} belongs to a job: give --job demo, or an id that \"railside jobs\" lists.",
                    of_job)};
    if (wanted.room != RoomId::shelf && !options.has("--job"))
        return Error{
            ErrorCode::missing, "--job",
            fmt::format(
                "--room {} shows a job: give --job demo, or an id that \"railside jobs\" lists.",
                room_key(wanted.room))};
    const auto taps = options.texts("--tap");
    wanted.taps.assign(taps.begin(), taps.end());
    return wanted;
}

Result<BenchInUse> bench_for(const Options& options) {
    if (options.has("--bench")) {
        const auto folder = bench_folder(options);
        if (!folder)
            return folder.error();
        if (!holds_bench(*folder) && options.text_or("--job", "") != "demo")
            return Error{ErrorCode::not_found, "--bench",
                         fmt::format("--bench: there is no bench in {}.", folder->string())};
        return BenchInUse::open(*folder);
    }
    if (options.text_or("--job", "") == "demo")
        return BenchInUse::temporary();
    const auto folder = default_bench_folder();
    if (!folder)
        return folder.error();
    // Looking at a bench does not make one.
    return holds_bench(*folder) ? BenchInUse::open(*folder) : BenchInUse::temporary();
}

/// What says one view does not go with all of them.
Result<Done> check_all(const Options& options) {
    if (!options.has("--job"))
        return Error{ErrorCode::missing, "--job",
                     "--all shows a job: give --job demo, or an id that \"railside jobs\" lists."};
    for (const std::string_view one :
         {"--screen", "--mm-per-unit", "--room", "--working", "--channel", "--beside", "--tap"})
        if (options.has(one))
            return Error{ErrorCode::contradictory, "--all",
                         fmt::format("--all draws every screen and every room: {} does not go with "
                                     "it. Accepted beside it: --job, --bench, --hand, --theme.",
                                     one)};
    return Done{};
}

Result<Done> picture(const Options& options, std::ostream& out) {
    const std::string file = options.text_or("--out", "");
    if (file.empty())
        return Error{ErrorCode::missing, "--out",
                     "--out is needed. Accepted: the name of the PNG file to write."};
    std::error_code error;
    const std::filesystem::path folder = std::filesystem::path(file).parent_path();
    if (!folder.empty() && !std::filesystem::is_directory(folder, error))
        return Error{ErrorCode::not_found, "--out",
                     fmt::format("--out: there is no folder {}.", folder.string())};
    if (options.has("--all"))
        if (const auto allowed = check_all(options); !allowed)
            return allowed.error();
    auto wanted = read_wanted(options);
    if (!wanted)
        return wanted.error();
    auto held = bench_for(options);
    if (!held)
        return held.error();
    Bench& bench = held->bench();
    wanted->clock = system_clock();
    if (const auto name = options.text("--job")) {
        const auto job = job_named(bench, *name);
        if (!job)
            return job.error();
        wanted->job = *job;
        if (held->is_temporary()) {
            const auto clock = clock_after(bench, *job);
            if (!clock)
                return clock.error();
            wanted->clock = *clock;
        }
    }
    const auto drawn =
        options.has("--all") ? draw_contact_sheet(bench, *wanted) : draw_picture(bench, *wanted);
    if (!drawn)
        return drawn.error();
    if (auto written = write_picture(*drawn, file); !written)
        return written.error();
    out << fmt::format("{}: {} by {} pixels\n", file, drawn->width, drawn->height);
    return Done{};
}

} // namespace

Command picture_command() { return {picture_spec(), picture}; }

} // namespace railside
