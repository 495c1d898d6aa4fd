// Photos, what is drawn on them, and the files and folders they come from.

#include "app/rooms/apply.h"

#include "app/rooms/photos_model.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace railside {

void RailsideProgram::Apply::operator()(const intent::ShowPhoto& show) {
    if (!state.pair_before.empty() && show.large) {
        // The other half of a pair was asked for.
        PairRecord pair;
        pair.before = state.pair_before;
        pair.after = show.entry;
        if (pair.before == pair.after) {
            program.say(AppState::MessageTone::refused,
                        "That is the same photo. Touch another one, or Leave it.");
            return;
        }
        if (!program.append(EntryKind::pair, pair_body(pair)))
            return;
        state.pair_before.clear();
        program.say(AppState::MessageTone::kept, "The two are a pair: before and after.");
    }
    if (state.photo != show.entry) {
        state.photo_look = {};
        state.mark.clear();
        state.mark_points.clear();
    }
    state.photo = show.entry;
    if (show.large) {
        state.room = RoomId::photos;
        state.photo_large = true;
        state.about_photo = false;
        state.drawer_open = false;
    }
}

void RailsideProgram::Apply::operator()(const intent::ClosePhoto&) {
    state.photo_large = false;
    state.about_photo = false;
    state.mark_tool.reset();
    state.mark_points.clear();
    state.photo_look = {};
    state.pair_before.clear();
}

void RailsideProgram::Apply::operator()(const intent::LookPhoto& look) {
    PhotoLook& now = state.photo_look;
    const float zoom = std::clamp(now.zoom * look.zoom_by, 1.0f, 12.0f);
    // Zooming keeps the middle of the pane where it is.
    const float grown = zoom / now.zoom;
    now.pan_x = now.pan_x * grown + look.pan_x;
    now.pan_y = now.pan_y * grown + look.pan_y;
    now.zoom = zoom;
    const float most = (zoom - 1) / 2;
    now.pan_x = std::clamp(now.pan_x, -most, most);
    now.pan_y = std::clamp(now.pan_y, -most, most);
}

void RailsideProgram::Apply::operator()(const intent::AboutPhoto& about) {
    state.about_photo = about.shown;
    state.mark.clear();
    state.mark_tool.reset();
    state.mark_points.clear();
}

void RailsideProgram::Apply::operator()(const intent::PickMark& pick) {
    state.mark_tool = pick.shape;
    state.mark_points.clear();
}

void RailsideProgram::Apply::operator()(const intent::DrawMark& draw) {
    if (!state.mark_tool)
        return;
    using Part = intent::DrawMark::Part;
    if (draw.part == Part::first || draw.part == Part::whole)
        state.mark_points.clear();
    extend_mark(state.mark_points, *state.mark_tool, draw.at);
    if (draw.part == Part::first || draw.part == Part::next)
        return;
    if (!is_mark(*state.mark_tool, state.mark_points))
        state.mark_points.clear();
    else if (*state.mark_tool == MarkShape::note)
        // A note without words is none: they are asked for first.
        state.text = TextEntry{"mark/new", "The note", {}, true, false};
    else
        (void)program.keep_mark({});
}

void RailsideProgram::Apply::operator()(const intent::TouchPhoto& touch) {
    const std::string mark =
        mark_near(program.shown_.photos.marks, touch.at, touch.reach, touch.aspect);
    if (!mark.empty())
        (*this)(intent::OpenMark{mark});
}

void RailsideProgram::Apply::operator()(const intent::UndoMark&) {
    state.mark_points.clear();
    for (auto it = program.shown_.photos.marks.rbegin(); it != program.shown_.photos.marks.rend();
         ++it)
        if (!it->entry.empty()) {
            (void)program.append(EntryKind::strike, strike_body(it->entry, Standing::struck));
            return;
        }
}

void RailsideProgram::Apply::operator()(const intent::LeavePair&) { state.pair_before.clear(); }

void RailsideProgram::Apply::operator()(const intent::OpenMark& open) {
    state.mark = open.entry;
    state.about_photo = true;
}

void RailsideProgram::Apply::operator()(const intent::StrikeMark& strike) {
    if (program.append(EntryKind::strike, strike_body(strike.entry, Standing::struck)))
        state.mark.clear();
}

void RailsideProgram::Apply::operator()(const intent::StartPair& start) {
    state.pair_before = start.before;
    state.photo_large = false;
    state.about_photo = false;
}

void RailsideProgram::Apply::operator()(const intent::PickStage& pick) { state.stage = pick.stage; }

void RailsideProgram::Apply::operator()(const intent::ChooseFile&) {
    state.photo_position = state.room == RoomId::sheet ? state.position : std::string();
    choose_file(FileWanted::picture);
}

void RailsideProgram::Apply::operator()(const intent::ChooseFileFor& choose) {
    choose_file(choose.wanted);
}

/// Where the person's files are not the program's to look through.
void RailsideProgram::Apply::ask_outside(FileWanted wanted) {
    Outside& outside = *program.surroundings_.outside;
    const std::filesystem::path outbox(outside.outbox());
    switch (wanted) {
    case FileWanted::picture:
        outside.ask_files(Outside::Ask::pictures);
        break;
    case FileWanted::recording:
        outside.ask_files(Outside::Ask::recording);
        break;
    case FileWanted::job_file:
        outside.ask_files(Outside::Ask::job_file);
        break;
    case FileWanted::export_folder:
        program.with_files(program.files_of_job(),
                           [&program = program, outbox] { program.export_job(outbox); });
        break;
    case FileWanted::photo_copy_folder:
        program.with_files(program.files_of_job(),
                           [&program = program, outbox] { program.write_photo_copy(outbox); });
        break;
    case FileWanted::report_folder:
        program.with_files(
            program.files_of_job(),
            [&program = program, outbox] { program.write_handover(outbox); },
            Outside::Bring::pictures);
        break;
    case FileWanted::backup_folder:
        program.hand_out_all_jobs(outbox);
        break;
    case FileWanted::watched_folder:
        program.say(AppState::MessageTone::refused,
                    "A browser gives no folder for that. Take pictures in from the camera or from "
                    "files.");
        break;
    case FileWanted::circuit:
        outside.ask_files(Outside::Ask::circuit);
        break;
    }
}

void RailsideProgram::Apply::choose_file(FileWanted wanted) {
    if (program.surroundings_.outside != nullptr) {
        state.drawer_open = false;
        state.file_wanted = wanted;
        ask_outside(wanted);
        return;
    }
    state.choosing_file = true;
    state.file_wanted = wanted;
    state.drawer_open = false;
    program.read_folder(state.folder.empty() ? program.surroundings_.start_folder : state.folder);
}

void RailsideProgram::Apply::operator()(const intent::UseFolder&) {
    const std::filesystem::path folder(state.folder);
    switch (state.file_wanted) {
    case FileWanted::export_folder:
        program.export_job(folder);
        break;
    case FileWanted::backup_folder:
        program.backup(folder);
        break;
    case FileWanted::watched_folder:
        program.settings_.watched = folder.string();
        save();
        program.watch();
        state.choosing_file = false;
        break;
    case FileWanted::photo_copy_folder:
        program.write_photo_copy(folder);
        break;
    case FileWanted::report_folder:
        program.write_handover(folder);
        break;
    case FileWanted::picture:
    case FileWanted::recording:
    case FileWanted::job_file:
    case FileWanted::circuit:
        break;
    }
}

void RailsideProgram::Apply::operator()(const intent::LeaveFiles&) { state.choosing_file = false; }

void RailsideProgram::Apply::operator()(const intent::OpenFolder& open) {
    program.read_folder(open.folder);
}

void RailsideProgram::Apply::operator()(const intent::ImportFile& import) {
    switch (state.file_wanted) {
    case FileWanted::recording:
        program.import_recording(import.path);
        break;
    case FileWanted::job_file:
        program.import_job_file(import.path);
        break;
    case FileWanted::circuit:
        program.import_circuit(import.path);
        break;
    case FileWanted::picture:
        program.import_file(import.path);
        break;
    case FileWanted::export_folder:
    case FileWanted::backup_folder:
    case FileWanted::watched_folder:
    case FileWanted::photo_copy_folder:
    case FileWanted::report_folder:
        break;
    }
}

} // namespace railside
