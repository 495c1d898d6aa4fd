// Files and folders the person points at: pictures, recordings, job files.

#include "app/rooms/program.h"

#include "app/rooms/handover_files.h"
#include "core/store/disk.h"
#include "core/store/photo_out.h"
#include "core/words/words.h"

#include <fmt/format.h>

#include <algorithm>
#include <fstream>
#include <system_error>

namespace railside {

namespace {

constexpr std::uintmax_t k_largest_file = 64u << 20;

std::string lower(std::string text) {
    std::transform(text.begin(), text.end(), text.begin(), [](unsigned char c) {
        return c >= 'A' && c <= 'Z' ? static_cast<char>(c + 32) : static_cast<char>(c);
    });
    return text;
}

bool looks_like_picture(const std::filesystem::path& path) {
    const std::string end = lower(path.extension().string());
    return end == ".jpg" || end == ".jpeg" || end == ".png";
}

bool wanted_file(const std::filesystem::path& path, FileWanted wanted) {
    switch (wanted) {
    case FileWanted::picture:
        return looks_like_picture(path);
    case FileWanted::recording:
        return looks_like_recording(path);
    case FileWanted::job_file:
        return looks_like_job_file(path);
    case FileWanted::circuit:
        return looks_like_netlist(path);
    case FileWanted::export_folder:
    case FileWanted::backup_folder:
    case FileWanted::watched_folder:
    case FileWanted::photo_copy_folder:
    case FileWanted::report_folder:
        return false;
    }
    return false;
}

std::string size_text(std::uintmax_t bytes) {
    if (bytes >= 1000000)
        return worded("{:.1f} MB", static_cast<double>(bytes) / 1e6);
    return worded("{} kB", (bytes + 999) / 1000);
}

/// What is looked for, and what to say where there is none.
struct Purpose {
    std::string purpose;
    std::string use; // label of the button that uses the folder itself
    std::string none;
};
Purpose purpose_of(FileWanted wanted) {
    switch (wanted) {
    case FileWanted::picture:
        return {"Choose a picture", {}, "No pictures (JPEG or PNG) in this folder."};
    case FileWanted::recording:
        return {"Choose a recording", {}, "No recordings (CSV or WAV) in this folder."};
    case FileWanted::job_file:
        return {"Choose a job file to take in", {}, "No job files (.railjob) in this folder."};
    case FileWanted::circuit:
        return {"Choose a netlist (.cir); its positions (.json) lie beside it",
                {},
                "No netlists (.cir) in this folder."};
    case FileWanted::export_folder:
        return {"Where to write the job file", "Write it here", "No folders in here."};
    case FileWanted::backup_folder:
        return {"Where the backup goes: an empty folder, or the one of an earlier backup",
                "Back up here", "No folders in here."};
    case FileWanted::watched_folder:
        return {"Where new pictures appear", "Watch this folder", "No folders in here."};
    case FileWanted::photo_copy_folder:
        return {"Where to write a copy of the photo, without the place where it was taken",
                "Write it here", "No folders in here."};
    case FileWanted::report_folder:
        return {"Where to write the report", "Write it here", "No folders in here."};
    }
    return {};
}

Result<std::vector<std::byte>> read_import(const std::filesystem::path& path,
                                           std::string_view kind) {
    std::error_code error;
    const auto size = std::filesystem::file_size(path, error);
    const std::string name = path.filename().string();
    if (error)
        return Error{ErrorCode::not_found, std::string(kind),
                     worded("{} cannot be read: {}.", name, error.message())};
    if (size > k_largest_file)
        return Error{ErrorCode::out_of_range, std::string(kind),
                     worded("{} is {}; a {} may have up to 64 MB.", name, size_text(size), kind)};
    std::vector<std::byte> bytes(static_cast<std::size_t>(size));
    std::ifstream file(path, std::ios::binary);
    file.read(reinterpret_cast<char*>(bytes.data()), static_cast<std::streamsize>(bytes.size()));
    if (!file || file.gcount() != static_cast<std::streamsize>(bytes.size()))
        return Error{ErrorCode::damaged, std::string(kind),
                     worded("{} could not be read to its end.", name)};
    return bytes;
}

} // namespace

bool looks_like_recording(const std::filesystem::path& path) {
    const std::string end = lower(path.extension().string());
    return end == ".csv" || end == ".txt" || end == ".wav";
}

bool looks_like_netlist(const std::filesystem::path& path) {
    return lower(path.extension().string()) == ".cir";
}

bool looks_like_job_file(const std::filesystem::path& path) {
    return lower(path.extension().string()) == ".railjob";
}

void RailsideProgram::put_away(const std::string& name, Worker::Work work) {
    ++putting_away_;
    worker_->must(name, [this, work = std::move(work)]() -> Worker::Delivery {
        return [this, done = work()] {
            putting_away_ = std::max(0, putting_away_ - 1);
            done();
            frames_left_ = std::max(frames_left_, 2);
        };
    });
    tell_lost();
}

void RailsideProgram::with_files(const std::vector<std::string>& hashes, std::function<void()> then,
                                 Outside::Bring what) {
    if (surroundings_.outside == nullptr) {
        then();
        return;
    }
    surroundings_.outside->bring(hashes, what,
                                 [this, then = std::move(then)](const Result<Done>& there) {
                                     if (!there)
                                         say(AppState::MessageTone::refused, there.error().message);
                                     else
                                         then();
                                     frames_left_ = std::max(frames_left_, 2);
                                 });
}

namespace {

std::vector<std::string> files_of(const Job& job) {
    std::vector<std::string> hashes;
    hashes.reserve(job.photos.size() + job.recordings.size());
    for (const PhotoRecord& photo : job.photos)
        hashes.push_back(photo.hash);
    for (const RecordingRecord& recording : job.recordings)
        hashes.push_back(recording.hash);
    return hashes;
}

} // namespace

std::vector<std::string> RailsideProgram::files_of_job() const { return files_of(job_); }

void RailsideProgram::hand_out(const std::filesystem::path& file) {
    if (surroundings_.outside != nullptr)
        surroundings_.outside->give(file.string());
}

void RailsideProgram::import_recording(const std::filesystem::path& path) {
    RecordingRecord recording;
    recording.name = path.filename().string();
    recording.channel = state_.channel;
    const auto bytes = read_import(path, "recording");
    if (!bytes) {
        say(AppState::MessageTone::refused, bytes.error().message);
        return;
    }
    const auto entry = bench_.add_recording(job_.id, *bytes, recording);
    if (!entry) {
        say(AppState::MessageTone::refused,
            fmt::format("{}: {}", recording.name, entry.error().message));
        return;
    }
    state_.choosing_file = false;
    reload_job();
    say(AppState::MessageTone::kept,
        worded("{} is kept with the {} channel.", recording.name, channel_label(state_.channel)));
}

void RailsideProgram::import_picture(std::function<Result<Bytes>()> read, const std::string& name) {
    PhotoRecord photo;
    photo.stage = state_.stage;
    // Taken from a position's page, it is a photo of that position.
    for (const PositionRecord& position : job_.positions)
        if (position.source.entry == state_.photo_position) {
            photo.position = state_.photo_position;
            photo.channel = position.channel;
        }
    put_away(name,
             [this, name, photo, job = job_.id, read = std::move(read)]() -> Worker::Delivery {
                 const Result<Bytes> bytes = read();
                 if (!bytes) {
                     return [this, why = bytes.error().message] {
                         say(AppState::MessageTone::refused, why);
                     };
                 }
                 const Result<Entry> entry = bench_.add_photo(job, *bytes, photo);
                 if (!entry) {
                     return [this, why = fmt::format("{}: {}", name, entry.error().message)] {
                         say(AppState::MessageTone::refused, why);
                     };
                 }
                 return [this, name, job, id = entry->id, stage = photo.stage] {
                     if (job_.id == job) {
                         state_.photo = id;
                         state_.photo_look = {};
                         reload_job();
                     }
                     say(AppState::MessageTone::kept,
                         worded("{} is kept with {} job, as: {}.", name,
                                job_.id == job ? "this" : "its", photo_stage_label(stage)));
                 };
             });
}

void RailsideProgram::import_file(const std::filesystem::path& path) {
    state_.choosing_file = false;
    import_picture([path] { return read_import(path, "photo"); }, path.filename().string());
}

void RailsideProgram::take_waiting() {
    for (const std::filesystem::path& path : waiting_)
        import_picture([path] { return read_import(path, "photo"); }, path.filename().string());
    waiting_.clear();
}

void RailsideProgram::import_job_file(const std::filesystem::path& path) {
    const auto report = bench_.import_job(path);
    if (!report) {
        say(AppState::MessageTone::refused, report.error().message);
        return;
    }
    state_.choosing_file = false;
    if (const auto opened = open_job(report->job); !opened) {
        say(AppState::MessageTone::refused, opened.error().message);
        return;
    }
    std::string words = report->new_entries == 0 ? std::string("Everything in it was here already.")
                                                 : worded("{} of its {} entries are new here.",
                                                          report->new_entries, report->entries);
    if (report->missing > 0)
        words += worded(" {} of its photos or recordings are in neither place.", report->missing);
    say(AppState::MessageTone::kept, std::move(words));
}

void RailsideProgram::read_folder(const std::filesystem::path& folder) {
    FilesShown files;
    const Purpose purpose = purpose_of(state_.file_wanted);
    files.pictures = state_.file_wanted == FileWanted::picture;
    files.purpose = purpose.purpose;
    files.use = purpose.use;
    std::error_code error;
    const std::filesystem::path whole = std::filesystem::absolute(folder, error);
    files.folder = whole.string();
    if (whole.has_parent_path() && whole.parent_path() != whole)
        files.parent = whole.parent_path().string();
    std::filesystem::directory_iterator it(
        whole, std::filesystem::directory_options::skip_permission_denied, error);
    if (error) {
        files.empty = worded("This folder cannot be read: {}.", error.message());
    } else {
        for (const auto end = std::filesystem::directory_iterator(); it != end;
             it.increment(error)) {
            if (error)
                break;
            const auto& path = it->path();
            std::error_code ignored;
            const bool is_folder = it->is_directory(ignored);
            const std::string name = path.filename().string();
            if (name.empty() || name.front() == '.')
                continue;
            if (is_folder)
                files.rows.push_back({path.string(), name, {}, true});
            else if (wanted_file(path, state_.file_wanted))
                files.rows.push_back(
                    {path.string(), name, size_text(it->file_size(ignored)), false});
        }
        std::sort(files.rows.begin(), files.rows.end(), [](const FileRow& a, const FileRow& b) {
            return a.folder != b.folder ? a.folder : lower(a.name) < lower(b.name);
        });
        if (files.rows.empty())
            files.empty = purpose.none;
    }
    state_.folder = files.folder;
    shown_.files = std::move(files);
}

namespace {

/// Letters, figures and a few marks only, at most 40, so that any disk takes it as a file's name.
std::string plain_name(std::string_view words, std::string_view otherwise) {
    std::string name;
    for (const char c : words) {
        const bool plain = (c >= '0' && c <= '9') || (c >= 'a' && c <= 'z') ||
                           (c >= 'A' && c <= 'Z') || c == '-' || c == '_';
        if (plain)
            name += c;
        else if (!name.empty() && name.back() != ' ')
            name += ' ';
        if (name.size() == 40)
            break;
    }
    while (!name.empty() && name.back() == ' ')
        name.pop_back();
    return name.empty() ? std::string(otherwise) : name;
}

/// A name that nothing in the folder has yet: "Front 2.jpg".
std::filesystem::path free_name(const std::filesystem::path& folder, const std::string& name,
                                std::string_view ending) {
    std::filesystem::path file = folder / (name + std::string(ending));
    std::error_code ignored;
    for (int i = 2; std::filesystem::exists(file, ignored) && i < 10'000; ++i)
        file = folder / fmt::format("{} {}{}", name, i, ending);
    return file;
}

} // namespace

void RailsideProgram::export_job(const std::filesystem::path& folder) {
    state_.choosing_file = false;
    const Clock clock = surroundings_.clock();
    const std::filesystem::path file =
        folder / fmt::format("{} {}.railjob", plain_name(job_.sheet.model, "job"),
                             date_text(clock.now_ms, clock));
    put_away(file.filename().string(), [this, file, job = job_.id]() -> Worker::Delivery {
        const auto report = bench_.export_job(job, file);
        if (!report)
            return
                [this, why = report.error().message] { say(AppState::MessageTone::refused, why); };
        std::string words = worded("{} holds {} entries and {} photos and recordings.",
                                   file.filename().string(), report->entries, report->files);
        if (report->missing > 0)
            words += worded(" {} are gone from this bench and not in it.", report->missing);
        return [this, words, file] {
            say(AppState::MessageTone::kept, words);
            hand_out(file);
        };
    });
}

void RailsideProgram::write_handover(const std::filesystem::path& folder) {
    state_.choosing_file = false;
    if (writing_)
        return;
    const Clock clock = surroundings_.clock();
    const ReportWanted wanted{state_.report_form, state_.audience, settings_.paper, clock,
                              settings_.bench_name};
    const std::string name =
        fmt::format("{} {}{}", plain_name(job_.sheet.model, "unit"), date_text(clock.now_ms, clock),
                    state_.audience == Audience::bench ? " bench" : " report");
    const std::filesystem::path file = free_name(folder, name, report_form_ending(wanted.form));
    auto writing = std::make_shared<Writing>();
    writing->name = file.filename().string();
    writing_ = writing;
    put_away(writing->name,
             [this, file, wanted, writing, wake = wake_,
              what = std::make_shared<const std::pair<Job, BenchBook>>(
                  job_, book_)]() -> Worker::Delivery {
                 const auto progress = [&](int done, int of) {
                     writing->done = done;
                     writing->of = of;
                     if (wake)
                         wake();
                     return !writing->stop;
                 };
                 const auto written =
                     write_report(bench_, what->first, what->second, wanted, file, progress);
                 if (!written)
                     return [this, why = written.error().message] {
                         writing_.reset();
                         say(AppState::MessageTone::refused, why);
                     };
                 return [this, file, job = what->first.id] {
                     writing_.reset();
                     if (job_.id == job)
                         state_.report_written = file.string();
                     say(AppState::MessageTone::kept,
                         worded("{} is written.", file.filename().string()));
                     hand_out(file);
                 };
             });
}

void RailsideProgram::backup(const std::filesystem::path& folder) {
    put_away("backup", [this, folder]() -> Worker::Delivery {
        const auto report = bench_.backup(folder);
        if (!report)
            return
                [this, why = report.error().message] { say(AppState::MessageTone::refused, why); };
        std::string words = worded("Backed up: {} jobs, {} photos and recordings, {} of them new.",
                                   report->jobs, report->files, report->copied);
        if (report->missing > 0)
            words += worded(" {} are gone from this bench and not in it.", report->missing);
        return [this, words] {
            state_.choosing_file = false;
            say(AppState::MessageTone::kept, words);
        };
    });
}

namespace {

/// The jobs still to be written, and what has come of the others.
struct AllJobs {
    std::vector<JobSummary> jobs;
    std::size_t next = 0;
    int entries = 0;
    int files = 0;
    int missing = 0;
    std::vector<std::string> failed; // sentences

    [[nodiscard]] std::string account() const {
        std::string text =
            worded("{} of {} jobs are written, with {} entries and {} photos and recordings.",
                   jobs.size() - failed.size(), jobs.size(), entries, files);
        if (missing > 0)
            text += worded(" {} are gone from this bench and not in them.", missing);
        if (!failed.empty())
            text += worded(" Not written: {}", failed.front());
        return text;
    }
};

} // namespace

void RailsideProgram::hand_out_all_jobs(const std::filesystem::path& outbox) {
    auto jobs = bench_.jobs();
    if (!jobs || jobs->empty()) {
        say(AppState::MessageTone::refused,
            jobs ? "There is no job on this bench yet." : jobs.error().message);
        return;
    }
    auto all = std::make_shared<AllJobs>();
    all->jobs = std::move(*jobs);
    // The photos of one job at a time: all of them together may be more than the page may hold.
    const auto write_next = std::make_shared<std::function<void()>>();
    *write_next = [this, outbox, all, again = std::weak_ptr(write_next)] {
        const std::shared_ptr<std::function<void()>> next = again.lock();
        if (all->next == all->jobs.size() || !next) {
            say(all->failed.empty() ? AppState::MessageTone::kept : AppState::MessageTone::refused,
                all->account());
            frames_left_ = std::max(frames_left_, 2);
            return;
        }
        const JobSummary& summary = all->jobs[all->next++];
        const std::string name = plain_name(summary.sheet.model, "job");
        const auto job = bench_.job(summary.job);
        if (!job) {
            all->failed.push_back(fmt::format("{}: {}", name, job.error().message));
            (*next)();
            return;
        }
        with_files(files_of(*job), [this, all, next, outbox, name, id = summary.job] {
            const std::filesystem::path file = free_name(outbox, name, ".railjob");
            if (const auto report = bench_.export_job(id, file); !report) {
                all->failed.push_back(fmt::format("{}: {}", name, report.error().message));
            } else {
                all->entries += report->entries;
                all->files += report->files;
                all->missing += report->missing;
                hand_out(file);
            }
            (*next)();
        });
    };
    (*write_next)();
}

void RailsideProgram::write_photo_copy(const std::filesystem::path& folder) {
    state_.choosing_file = false;
    for (const PhotoRecord& photo : job_.photos) {
        if (photo.source.entry != state_.photo)
            continue;
        const std::string name = plain_name(photo.caption, photo_stage_label(photo.stage));
        const std::filesystem::path file =
            free_name(folder, name, photo.type == "png" ? ".png" : ".jpg");
        put_away(name, [this, file, hash = photo.hash]() -> Worker::Delivery {
            const auto refuse = [this](std::string why) -> Worker::Delivery {
                return [this, why = std::move(why)] { say(AppState::MessageTone::refused, why); };
            };
            const auto bytes = bench_.photo_bytes(hash);
            if (!bytes)
                return refuse(bytes.error().message);
            const auto clean = strip_location(
                {reinterpret_cast<const char*>(bytes->data()), bytes->size()}, "This photo");
            if (!clean)
                return refuse(clean.error().message);
            const auto written = write_whole(file, file.string() + ".part",
                                             std::as_bytes(std::span(*clean)), Keeping::durable);
            if (!written)
                return refuse(written.error().message);
            return [this, file] {
                say(AppState::MessageTone::kept,
                    worded("{} is written, without the place where it was taken.",
                           file.filename().string()));
                hand_out(file);
            };
        });
        return;
    }
}

} // namespace railside
