// `open`: the program in a window.
#include "app/command/benches.h"
#include "app/command/commands.h"
#include "app/command/screens.h"
#include "app/hosts/show_file.h"

#include <fmt/format.h>

namespace railside {

namespace {

constexpr double k_least_density = 2;
constexpr double k_most_density = 40;

const std::vector<std::string>& window_keys() {
    static const std::vector<std::string> k_keys{"sdl2", "glfw"};
    return k_keys;
}

Result<Done> open_window(const Options& options, std::ostream&) {
    WindowOptions window;
    const auto kind = pick_word(options, "--window", window_keys(), "sdl2");
    if (!kind)
        return kind.error();
    if (const auto text = options.text("--size")) {
        const auto size = parse_pixel_size(*text);
        if (!size)
            return Error{size.error().code, "--size",
                         fmt::format("--size: {}", size.error().message)};
        window.width_px = size->width;
        window.height_px = size->height;
    }
    const auto density =
        number_option(options, "--density", k_least_density, k_most_density, "pixels a millimetre");
    if (!density)
        return density.error();
    window.px_per_mm = static_cast<float>(density->value_or(0));
    window.full_screen = options.has("--full-screen");

    const auto folder = bench_folder(options);
    if (!folder)
        return folder.error();
    auto held = BenchInUse::open(*folder);
    if (!held)
        return held.error();
    ProgramSurroundings around = surroundings_with(system_clock);
    around.camera = open_camera;
    around.show_file = show_file;
    RailsideProgram program(held->bench(), std::move(around));
    if (const auto name = options.text("--job")) {
        const auto job = job_named(held->bench(), *name);
        if (!job)
            return job.error();
        program.refresh();
        if (auto opened = program.open_job(*job); !opened)
            return opened.error();
    }
    return *kind == "glfw" ? run_glfw(program, window) : run_sdl2(program, window);
}

} // namespace

Command open_command() {
    CommandSpec spec;
    spec.name = "open";
    spec.summary = "Opens the program on the shelf, or on a job; also what plain \"railside\" does";
    spec.usage = "[--job demo|ID] [options]";
    spec.about = "Opens a window on the bench. With --job demo the demo job is put on the bench if "
                 "it is not there yet.";
    spec.example = "railside open --job demo";
    spec.options = {
        {"--job", "JOB", "The job to open at its sheet.",
         "demo, or an id that \"railside jobs\" lists"},
        bench_option(),
        {"--window", "KIND", "The library that owns the window. Not given: sdl2.",
         words_list(window_keys())},
        {"--size", "WxH", "Size of the window in pixels. Not given: what the display offers.", ""},
        {"--full-screen", "", "Takes the whole display.", ""},
        {"--density", "PIXELS",
         "Pixels a millimetre of the display, where it does not tell the truth.", "2 to 40"},
    };
    return {std::move(spec), open_window};
}

} // namespace railside
