// `generate`: a bench full of made-up jobs and tiny drawn photos, to measure the program by.
#include "app/command/benches.h"
#include "app/command/commands.h"

#include <fmt/format.h>

#include <array>
#include <cmath>
#include <random>

namespace railside {

using Json = nlohmann::json;

namespace {

constexpr double k_most_jobs = 20'000;
constexpr double k_most_photos = 200'000;
constexpr std::int64_t k_first_ms = 1'577'836'800'000; // 2020-01-01
constexpr std::int64_t k_between_jobs_ms = 6 * 3600 * 1000;
constexpr std::size_t k_entries_at_once = 4000;
constexpr int k_photo_width = 96;
constexpr int k_photo_height = 64;

constexpr std::array k_makers = {"Orrinvale", "Feldmark", "Tarnhow", "Quillby", "Nordhaven"};
constexpr std::array k_units = {"SA-260", "SA-120", "HB-45", "KV-110", "OR-70", "TK-8"};
constexpr std::array k_sides = {"Left", "Right", "Both sides", "The left side", "The right side"};
constexpr std::array k_faults = {"crackles when warm",     "hums with nothing connected",
                                 "cuts out after an hour", "is too hot to touch",
                                 "breaks up on loud bass", "stays silent",
                                 "pops when switched off", "blows its fuse at once",
                                 "whistles faintly",       "plays quieter than before",
                                 "smells burnt",           "drifts to one side"};
constexpr std::array k_roles = {"output",        "driver",           "limiter",
                                "bias_spreader", "emitter_resistor", "trim_pot"};
constexpr std::array k_types = {"2SC5200", "2SA1943", "MJL3281A", "MJL1302A", "BD139",
                                "BD140",   "2SC1815", "2SA1015",  "0R22",     "1k"};
constexpr std::array k_states = {"untested", "good", "suspect", "bad", "replaced"};
constexpr std::array k_notes = {"Dry joint at the relay, resoldered.",
                                "Reservoirs measured, both within a tenth of the print.",
                                "Client told about the speaker cable.",
                                "Trim turned to least before first power.",
                                "One washer cracked, replaced.",
                                "Odd solder on the right output pair."};
constexpr std::array k_photo_stages = {PhotoStage::as_received, PhotoStage::earlier_work,
                                       PhotoStage::taken_off, PhotoStage::fitted,
                                       PhotoStage::finished};

/// Everything hangs on one seed, so that two benches of one size are alike.
class Maker {
  public:
    explicit Maker(std::uint32_t seed) : chance_(seed) {}

    template <class Words> auto one_of(const Words& words) {
        return words[chance_() % words.size()];
    }
    int number(int below) {
        return static_cast<int>(chance_() % static_cast<std::uint32_t>(below));
    }

    /// Begins a job: its clock, and its first entry.
    void begin(std::int64_t time_ms) {
        time_ms_ = time_ms;
        job_.clear();
    }
    Entry entry(EntryKind kind, Json body) {
        std::array<std::uint8_t, 10> bits = {};
        for (std::uint8_t& byte : bits)
            byte = static_cast<std::uint8_t>(chance_());
        time_ms_ += 1000 + number(240'000);
        Entry made;
        made.time_ms = time_ms_;
        made.id = make_entry_id(time_ms_, bits, job_.empty() ? "" : last_);
        last_ = made.id;
        if (job_.empty())
            job_ = made.id;
        made.job = job_;
        made.bench = "generated";
        made.kind = kind;
        made.body = std::move(body);
        return made;
    }

  private:
    std::mt19937 chance_;
    std::int64_t time_ms_ = 0;
    std::string job_;
    std::string last_;
};

/// Stripes whose colours and widths spell the number, so that no two are alike.
Picture numbered_picture(int number) {
    Picture picture{k_photo_width, k_photo_height, {}};
    picture.rgba.reserve(static_cast<std::size_t>(k_photo_width) * k_photo_height * 4);
    for (int y = 0; y < k_photo_height; ++y)
        for (int x = 0; x < k_photo_width; ++x) {
            // Blocks of eight, the size JPEG keeps apart: twelve across, a bit of the number each.
            const int column = x / 8;
            const bool lit =
                y / 8 < 4 ? (number >> column & 1) != 0 : (number >> 12 >> column & 1) != 0;
            picture.rgba.push_back(static_cast<std::uint8_t>(lit ? 220 : 40));
            picture.rgba.push_back(static_cast<std::uint8_t>(90 + number % 100));
            picture.rgba.push_back(static_cast<std::uint8_t>(y * 3));
            picture.rgba.push_back(255);
        }
    return picture;
}

Json reading(Maker& make) {
    ReadingRecord record;
    record.what = "idle volts across R_E";
    record.kind = ReadingKind::millivolts;
    record.channel = make.number(2) == 0 ? Channel::left : Channel::right;
    const double volt = 0.001 * (1 + make.number(100));
    record.amount = {volt, volt * 0.99, volt * 1.01, Unit::volt};
    record.text = fmt::format("{}m", std::lround(volt * 1000));
    record.when.power = Power::lamp;
    return reading_body(record);
}

/// One job of some twenty entries, without its photos.
std::vector<Entry> make_job(Maker& make, int number) {
    std::vector<Entry> entries;
    const auto add = [&](EntryKind kind, Json body) {
        entries.push_back(make.entry(kind, std::move(body)));
    };
    make.begin(k_first_ms + number * k_between_jobs_ms);
    Sheet sheet;
    sheet.maker = make.one_of(k_makers);
    sheet.model = make.one_of(k_units);
    sheet.serial = fmt::format("{:05}", make.number(100'000));
    sheet.complaint = fmt::format("{} {} and {}.", make.one_of(k_sides), make.one_of(k_faults),
                                  make.one_of(k_faults));
    sheet.state = job_state_word(make.one_of(all_job_states()));
    sheet.currency = "EUR";
    sheet.agreed_limit = 20.0 * (3 + make.number(10));
    sheet.hourly_rate = 48;
    add(EntryKind::job, sheet_body(sheet));
    for (int i = 0; i < 6; ++i) {
        PositionRecord position;
        position.designator = fmt::format("Q{}", 200 + make.number(200));
        position.channel = make.number(2) == 0 ? Channel::left : Channel::right;
        position.role = make.one_of(k_roles);
        position.printed_type = make.one_of(k_types);
        position.fitted_type = make.one_of(k_types);
        position.state = make.one_of(k_states);
        add(EntryKind::position, position_body(position));
    }
    for (int i = 0; i < 5; ++i)
        add(EntryKind::reading, reading(make));
    for (int i = 0; i < 4; ++i)
        add(EntryKind::note, {{"text", make.one_of(k_notes)}});
    add(EntryKind::cost,
        {{"type", "part"}, {"what", make.one_of(k_types)}, {"count", 2}, {"each", 3.2}});
    add(EntryKind::cost,
        {{"type", "work"}, {"what", "looking"}, {"minutes", 15 + make.number(100)}});
    return entries;
}

Result<Done> generate(const Options& options, std::ostream& out) {
    const auto jobs = number_option(options, "--jobs", 1, k_most_jobs, "");
    if (!jobs)
        return jobs.error();
    const auto photos = number_option(options, "--photos", 0, k_most_photos, "");
    if (!photos)
        return photos.error();
    const int job_count = static_cast<int>(jobs->value_or(1000));
    const int photo_count = static_cast<int>(photos->value_or(20'000));
    const auto folder = options.text("--bench");
    if (!folder || folder->empty())
        return Error{
            ErrorCode::missing, "--bench",
            "--bench is missing: made-up jobs are never put on a bench that is not named."};
    auto held = BenchInUse::open(*folder);
    if (!held)
        return held.error();
    const auto here = held->bench().jobs();
    if (!here)
        return here.error();
    if (!here->empty())
        return Error{ErrorCode::refused, "--bench",
                     fmt::format("The bench in {} has jobs already; made-up ones are not put among "
                                 "them. Name an empty folder.",
                                 *folder)};
    Maker make(20'200'101);
    std::vector<Entry> entries;
    const auto write = [&]() -> Result<Done> {
        const auto merged = held->bench().merge(entries);
        entries.clear();
        return merged ? Result<Done>(Done{}) : Result<Done>(merged.error());
    };
    int photo = 0;
    for (int number = 0; number < job_count; ++number) {
        for (Entry& entry : make_job(make, number))
            entries.push_back(std::move(entry));
        // Shared out evenly, to the last one.
        const auto due = static_cast<int>(std::int64_t{photo_count} * (number + 1) / job_count);
        for (; photo < due; ++photo) {
            PhotoRecord record;
            record.stage = make.one_of(k_photo_stages);
            record.caption = fmt::format("Drawn photo {}", photo);
            const auto kept = held->bench().keep_drawing(numbered_picture(photo), record);
            if (!kept)
                return kept.error();
            entries.push_back(make.entry(EntryKind::photo, photo_body(*kept)));
        }
        if (entries.size() >= k_entries_at_once)
            if (auto written = write(); !written)
                return written;
    }
    if (auto written = write(); !written)
        return written;
    out << fmt::format("{}: {} made-up jobs with {} drawn photos.\n", *folder, job_count,
                       photo_count);
    return Done{};
}

} // namespace

Command generate_command() {
    CommandSpec spec;
    spec.name = "generate";
    spec.summary = "Fills an empty bench with made-up jobs, to measure the program by";
    spec.usage = "--bench FOLDER [--jobs N] [--photos N]";
    spec.about = "Makes jobs of some twenty entries each and tiny drawn photos (96 x 64 JPEGs, no "
                 "two alike), the same ones every time. They are for benchmarks and try-outs: "
                 "nothing in them was ever measured. The bench must have no jobs yet.";
    spec.example = "railside generate --bench big --jobs 1000 --photos 20000";
    spec.options = {
        {"--jobs", "N", "How many jobs. Not given: 1000.", "1 to 20000"},
        {"--photos", "N", "How many photos, over all jobs. Not given: 20000.", "0 to 200000"},
        {"--bench", "FOLDER", "The folder of the bench; it must be named.", ""}};
    return {std::move(spec), generate};
}

} // namespace railside
