#include "app/command/picture.h"

#include "app/command/benches.h"
#include "app/command/contact_sheet.h"
#include "app/command/nearest.h"
#include "app/rooms/layout.h"
#include "core/quantity/refusal.h"
#include "core/store/disk.h"

#include <fmt/format.h>

#include <algorithm>

namespace railside {

namespace {

constexpr int k_most_frames = 2000; // photos arrive one a frame
constexpr int k_most_scrolls = 400;
constexpr double k_press_s = 0.08;

Error no_control(const RailsideProgram& program, const std::string& name) {
    std::vector<std::string> names;
    for (const Control& control : program.controls().controls())
        if (control.role != ControlRole::figure)
            names.push_back(control.name);
    const std::string near = nearest_name(name, names);
    return {ErrorCode::not_found, "--tap",
            fmt::format("--tap {}: there is no such control on this screen{}. There are: {}.",
                        railside::quoted(name),
                        near.empty() ? "" : fmt::format(" (did you mean {}?)", near),
                        fmt::join(names, ", "))};
}

/// Whether a finger finds it: its middle is not scrolled away.
bool in_sight(const Control& control) {
    return control.visible.width() > 0 && control.visible.height() > control.rect.height() / 2;
}

/// Scrolls the part of the screen that a control lies in until it is seen.
void bring_into_sight(Headless& host, const RailsideProgram& program, const std::string& name) {
    for (int i = 0; i < k_most_scrolls; ++i) {
        const Control* control = program.controls().find(name);
        if (control == nullptr || in_sight(*control))
            return;
        const auto areas = program.ui().scroll_areas();
        const auto area = std::find_if(areas.begin(), areas.end(), [control](const ScrollArea& a) {
            return a.layer == control->layer && control->rect.mid_x() >= a.rect.x0 &&
                   control->rect.mid_x() <= a.rect.x1;
        });
        if (area == areas.end())
            return;
        const float notches = control->rect.mid_y() > area->rect.mid_y() ? -0.5f : 0.5f;
        host.wheel(area->rect.mid_x(), area->rect.mid_y(), notches);
        host.settle(k_most_frames);
    }
}

Result<Done> tap(Headless& host, const RailsideProgram& program, const std::string& name) {
    if (program.controls().find(name) == nullptr)
        return no_control(program, name);
    bring_into_sight(host, program, name);
    const Control* control = program.controls().find(name);
    if (control == nullptr || !in_sight(*control))
        return Error{
            ErrorCode::not_found, "--tap",
            fmt::format("--tap {}: the control cannot be brought into sight on this screen.",
                        railside::quoted(name))};
    const float x = control->visible.mid_x();
    const float y = control->visible.mid_y();
    host.touch(TouchPhase::begin, 1, x, y);
    host.pass_time(k_press_s);
    host.touch(TouchPhase::end, 1, x, y);
    host.settle(k_most_frames);
    return Done{};
}

/// Goes where the picture is to be taken, as a finger would.
void go_there(RailsideProgram& program, const PictureWanted& wanted) {
    if (!wanted.working.empty())
        program.apply(intent::PickWorking{wanted.working});
    if (wanted.channel)
        program.apply(intent::PickChannel{*wanted.channel});
    program.apply(intent::GoRoom{wanted.room});
    if (wanted.beside) {
        program.apply(intent::ShowBeside{*wanted.beside});
        const Rect all{0, 0, static_cast<float>(wanted.screen.width_px),
                       static_cast<float>(wanted.screen.height_px)};
        if (make_layout(all, wanted.screen.px_per_mm, program.settings().hand, true, false).form ==
            BesideForm::drawer)
            program.apply(intent::ToggleDrawer{});
    }
    program.refresh();
}

} // namespace

Result<Picture> draw_picture(Bench& bench, const PictureWanted& wanted) {
    ProgramSurroundings around = surroundings_with([clock = wanted.clock] { return clock; });
    around.work_at_once = true;
    around.keep_settings = false;
    RailsideProgram program(bench, std::move(around));
    program.settings().hand = wanted.hand.value_or(program.settings().hand);
    program.settings().theme = wanted.theme.value_or(program.settings().theme);
    if (!wanted.job.empty()) {
        if (auto opened = program.open_job(wanted.job); !opened)
            return opened.error();
        go_there(program, wanted);
    }
    auto made = Headless::create(program, wanted.screen);
    if (!made)
        return made.error();
    Headless& host = **made;
    host.settle(k_most_frames);
    for (const std::string& name : wanted.taps)
        if (auto tapped = tap(host, program, name); !tapped)
            return tapped.error();
    const std::string pixels = host.pixels();
    return Picture{wanted.screen.width_px, wanted.screen.height_px, {pixels.begin(), pixels.end()}};
}

Result<std::vector<Picture>> draw_views(Bench& bench, const PictureWanted& wanted,
                                        std::span<const SheetView> views) {
    ProgramSurroundings around = surroundings_with([clock = wanted.clock] { return clock; });
    around.work_at_once = true;
    around.keep_settings = false;
    RailsideProgram program(bench, std::move(around));
    program.settings().hand = wanted.hand.value_or(program.settings().hand);
    program.settings().theme = wanted.theme.value_or(program.settings().theme);
    if (auto opened = program.open_job(wanted.job); !opened)
        return opened.error();
    auto made = Headless::create(program, wanted.screen);
    if (!made)
        return made.error();
    Headless& host = **made;
    host.settle(k_most_frames);
    std::vector<Picture> pictures;
    pictures.reserve(views.size());
    for (const SheetView& view : views) {
        for (std::string_view name : view.taps) {
            const bool may_lack = name.starts_with('?');
            name.remove_prefix(may_lack ? 1 : 0);
            if (may_lack && program.controls().find(name) == nullptr)
                continue;
            if (auto tapped = tap(host, program, std::string(name)); !tapped)
                return tapped.error();
        }
        const std::string pixels = host.pixels();
        pictures.push_back(
            {wanted.screen.width_px, wanted.screen.height_px, {pixels.begin(), pixels.end()}});
    }
    return pictures;
}

Result<Done> write_picture(const Picture& picture, const std::filesystem::path& file) {
    const auto bytes = encode_png(picture);
    if (!bytes)
        return bytes.error();
    std::filesystem::path draft = file;
    draft += ".part";
    return write_whole(file, draft, *bytes, Keeping::loose);
}

} // namespace railside
