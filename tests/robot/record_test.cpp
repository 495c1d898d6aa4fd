// The job record by touch: positions, readings, photos and what is drawn on them, what came off,
// money, the lists and instruments of the bench, search, copies.

#include "robot/robot.h"
#include "support/catch.h"
#include "support/temp_folder.h"

#include "app/command/screens.h"
#include "app/rooms/apart_model.h"
#include "core/job/money.h"

#include <algorithm>
#include <chrono>
#include <thread>

using namespace railside;

namespace {

Screen small_screen() { return screen_of(reference_screens().front()); }

/// Width of the photo on the screen, pixels.
double whole_width(Robot& hand) {
    const Rect at = hand.need("photos/picture").rect;
    const PhotosShown& shown = hand.program().shown().photos;
    const PhotoThumb& thumb = shown.thumbs[static_cast<std::size_t>(shown.current)];
    return std::min(static_cast<double>(at.width()),
                    static_cast<double>(at.height()) * thumb.width / thumb.height);
}

class OpenBench {
  public:
    explicit OpenBench(const Screen& screen = small_screen())
        : robot_(std::make_unique<Robot>(folder_ / "bench", screen)), screen_(screen) {
        const auto id = load_painted_demo_job(robot_->bench());
        REQUIRE(id.ok());
        id_ = *id;
        REQUIRE(robot_->program().open_job(id_).ok());
        robot_->host().settle();
    }

    Robot& hand() { return *robot_; }
    [[nodiscard]] const Job& job() const { return *robot_->program().job(); }
    [[nodiscard]] const std::filesystem::path folder() const { return folder_.path(); }

    void write(std::string_view words) {
        robot_->host().text(words);
        robot_->host().settle();
        robot_->tap("text/set");
    }

    /// The program ended and begun again on the same bench, the job open.
    void start_again() {
        robot_.reset();
        robot_ = std::make_unique<Robot>(folder_ / "bench", screen_);
        REQUIRE(robot_->program().open_job(id_).ok());
        robot_->host().settle();
    }

    [[nodiscard]] const PositionRecord& position(std::string_view designator) const {
        for (const PositionRecord& one : job().positions)
            if (one.designator == designator)
                return one;
        throw std::runtime_error("no position " + std::string(designator));
    }

    void open_position(std::string_view designator) {
        robot_->tap("rail/sheet");
        robot_->tap("sheet/part/positions");
        robot_->tap("sheet/positions/position/" + position(designator).source.entry);
    }

    void open_bench(const std::string& part) {
        robot_->tap("header/job");
        robot_->tap("shelf/bench");
        robot_->tap("bench/part/" + part);
    }

  private:
    TempFolder folder_;
    std::unique_ptr<Robot> robot_;
    Screen screen_;
    std::string id_;
};

} // namespace

TEST_CASE("record: a position is added with two touches and its designator", "[robot][record]") {
    for (const ReferenceScreen& screen : reference_screens()) {
        INFO(screen.name);
        OpenBench bench(screen_of(screen));
        Robot& hand = bench.hand();
        hand.tap("rail/sheet");
        hand.tap("sheet/part/positions");
        const auto before = bench.job().positions.size();
        hand.tap("sheet/positions/add");
        bench.write("Q216");
        REQUIRE(bench.job().positions.size() == before + 1);
        CHECK(bench.position("Q216").state == "untested");
        // It is open at once: its state is one touch away.
        hand.tap("position/state/suspect");
        CHECK(bench.position("Q216").state == "suspect");
        hand.tap("position/fitted");
        bench.write("2SD1047");
        CHECK(bench.position("Q216").fitted_type == "2SD1047");
        hand.tap("position/fitted_by/earlier shop");
        CHECK(bench.position("Q216").fitted_by == "earlier shop");
        hand.tap("position/role");
        hand.tap("picker/output");
        CHECK(bench.position("Q216").role == "output");
        // Keyed in once more it is the same one, not a second.
        hand.tap("position/back");
        hand.tap("sheet/positions/add");
        bench.write("Q216");
        CHECK(bench.job().positions.size() == before + 1);
        CHECK(hand.find("position/state/suspect") != nullptr);
        bench.start_again();
        CHECK(bench.position("Q216").fitted_type == "2SD1047");
    }
}

TEST_CASE("record: the same position in the other channel stands beside it, differences flagged",
          "[robot][record]") {
    OpenBench bench;
    bench.open_position("VR201");
    const Page& page = bench.hand().program().shown().sheet.page;
    const auto row_of = [&](std::string_view label) {
        return std::find_if(page.rows.begin(), page.rows.end(), [&](const PageRow& one) {
            return one.kind == RowKind::sides && one.label.starts_with(label);
        });
    };
    const auto fitted = row_of("fitted type");
    REQUIRE(fitted != page.rows.end());
    CHECK(fitted->value == "1k, ten-turn");
    CHECK(fitted->other == "1k");
    CHECK(fitted->label == "fitted type ≠");
    CHECK(fitted->tone == Tone::bad);
    const auto printed = row_of("printed type");
    REQUIRE(printed != page.rows.end());
    CHECK(printed->label == "printed type");
    CHECK(printed->tone == Tone::plain);
    // The way to it is one touch.
    CHECK(bench.hand().value("position/sister").find("VR301") != std::string::npos);
}

TEST_CASE("record: a reading at a position carries kind, conditions, instrument and interval",
          "[robot][record]") {
    OpenBench bench;
    Robot& hand = bench.hand();
    bench.open_position("Q214");
    hand.tap("position/read");
    hand.tap("reading/kind/gain");
    hand.tap("reading/power/off");
    hand.tap("reading/warmth/cold");
    hand.tap("reading/key");
    hand.key_in("104");
    hand.tap("keypad/set");
    const ReadingRecord& read = bench.job().readings.back();
    CHECK(read.kind == ReadingKind::gain);
    CHECK(read.position == bench.position("Q214").source.entry);
    CHECK(read.channel == Channel::left);
    CHECK(read.when.power == Power::off);
    CHECK(read.when.warmth == Warmth::cold);
    CHECK(!read.instrument.empty());
    CHECK(!read.instrument_id.empty());
    CHECK(read.amount.value == 104);
    CHECK(read.amount.low < 104);
    CHECK(read.amount.high > 104);
    // It stands on the position's page, with its interval and how it was taken.
    CHECK(hand.find("keypad/set") == nullptr);
    const Page& page = hand.program().shown().sheet.page;
    const bool there = std::any_of(page.rows.begin(), page.rows.end(), [](const PageRow& row) {
        return row.label == "104" && row.more.find("off") != std::string::npos &&
               row.more.find("cold") != std::string::npos;
    });
    CHECK(there);
}

TEST_CASE("record: readings take interval and conditions from the instrument chosen",
          "[robot][record]") {
    OpenBench bench;
    Robot& hand = bench.hand();
    // Two meters, a coarse and a fine one.
    bench.open_bench("instruments");
    const auto meters = [&] {
        std::vector<Instrument> found;
        const auto book = hand.bench().book();
        REQUIRE(book.ok());
        for (const Instrument& one : book->instruments)
            if (one.type == InstrumentType::meter && one.source.standing == Standing::valid)
                found.push_back(one);
        return found;
    };
    const auto before = meters().size();
    hand.tap("bench/instruments/add/meter");
    hand.tap("instrument/name");
    bench.write("Coarse meter");
    hand.tap("instrument/accuracy/volts");
    bench.write("3 %");
    REQUIRE(meters().size() == before + 1);
    const Instrument coarse = meters().back();
    CHECK(coarse.name == "Coarse meter");
    REQUIRE(coarse.accuracy_for(ReadingKind::volts).has_value());
    CHECK(coarse.accuracy_for(ReadingKind::volts)->of_reading == 0.03);

    REQUIRE(hand.program().open_job(bench.job().id).ok());
    hand.host().settle();
    const auto read_with = [&](const std::string& instrument) {
        bench.open_position("Q214");
        hand.tap("position/read");
        hand.tap("reading/kind/volts");
        hand.tap("reading/instrument");
        hand.tap("picker/" + instrument);
        hand.tap("reading/key");
        hand.key_in("10.00");
        hand.tap("keypad/set");
        return bench.job().readings.back();
    };
    const ReadingRecord wide = read_with(coarse.source.entry);
    CHECK(wide.instrument == "Coarse meter");
    CHECK(wide.amount.low <= 9.7);
    CHECK(wide.amount.high >= 10.3);
    const ReadingRecord narrow = read_with(meters().front().source.entry);
    CHECK(narrow.amount.high - narrow.amount.low < wide.amount.high - wide.amount.low);
    // What the meter's accuracy is, a refused text says what it must be and changes nothing.
    bench.open_bench("instruments");
    hand.tap("bench/instruments/" + coarse.source.entry);
    hand.tap("instrument/accuracy/volts");
    hand.host().text("often");
    hand.host().settle();
    hand.tap("text/set");
    CHECK(hand.program().state().message_tone == AppState::MessageTone::refused);
    CHECK(hand.program().state().text.has_value());
    CHECK(meters().back().accuracy_for(ReadingKind::volts)->of_reading == 0.03);
}

TEST_CASE("record: money is warned of at 80 % and at 100 % of the agreed limit",
          "[robot][record]") {
    OpenBench bench;
    Robot& hand = bench.hand();
    const Money at_first = money_of(bench.job());
    CHECK(at_first.state == MoneyState::within);
    hand.tap("rail/sheet");
    hand.tap("sheet/part/money");
    const auto caution = [&] {
        for (const PageRow& row : hand.program().shown().sheet.page.rows)
            if (row.kind == RowKind::caution)
                return row.value;
        return std::string();
    };
    CHECK(caution().empty());
    // 30 an hour: another hour makes 116 of 140, 83 %.
    hand.tap("money/minutes/60");
    CHECK(money_of(bench.job()).total == at_first.total + 30);
    CHECK(money_of(bench.job()).state == MoneyState::near);
    INFO(caution());
    CHECK(caution().find("82") == 0); // 116 of 140, downwards
    hand.tap("money/add");
    bench.write("2SC5200");
    hand.tap("cost/each");
    hand.key_in("12.50");
    hand.tap("keypad/set");
    hand.tap("cost/count");
    hand.key_in("2");
    hand.tap("keypad/set");
    hand.tap("cost/keep");
    CHECK(bench.job().costs.back().count == 2);
    CHECK(bench.job().costs.back().each == 12.5);
    CHECK(money_of(bench.job()).state == MoneyState::reached);
    CHECK(!caution().empty());
    // A line is struck, and the sum follows.
    const std::string line = bench.job().costs.back().source.entry;
    hand.tap("money/line/" + line);
    hand.tap("money/strike/" + line);
    CHECK(money_of(bench.job()).state == MoneyState::near);
}

TEST_CASE("record: what came off with one touch stands in the way of power until it is back",
          "[robot][record]") {
    OpenBench bench;
    Robot& hand = bench.hand();
    hand.tap("rail/steps");
    hand.tap("steps/lists");
    hand.tap("steps/apart");
    const auto before = bench.job().taken_off.size();
    hand.tap("apart/where");
    bench.write("Q314 on the sink");
    hand.tap("apart/thing/insulating washer");
    hand.tap("apart/thing/insulating washer");
    hand.tap("apart/thing/screw");
    REQUIRE(bench.job().taken_off.size() == before + 3);
    CHECK(bench.job().taken_off.back().where == "Q314 on the sink");
    const auto lines = apart_lines(bench.job());
    // Backwards, with counts.
    CHECK(lines.at(0).items.front().what == "screw");
    CHECK(lines.at(1).items.front().what == "insulating washer");
    CHECK(lines.at(1).still() == 2);
    hand.tap("apart/line/" + lines[1].items.front().item);
    hand.tap("apart/one");
    CHECK(apart_lines(bench.job())[1].still() == 1);
    // First power shows what is still off, in a bar that leads here.
    hand.tap("apart/back");
    for (const ListRecord& list : bench.job().lists)
        if (list.key == "first_power")
            hand.tap("steps/list/" + list.source.entry);
    REQUIRE(hand.find("steps/still_off") != nullptr);
    INFO(hand.need("steps/still_off").label);
    CHECK(hand.need("steps/still_off").label.find("insulating washer") != std::string::npos);
    hand.tap("steps/still_off");
    for (const auto& line : apart_lines(bench.job())) {
        if (line.still() == 0)
            continue;
        if (hand.program().state().apart_line != line.items.front().item)
            hand.tap("apart/line/" + line.items.front().item);
        hand.tap("apart/all");
    }
    CHECK(apart_lines(bench.job()).at(1).still() == 0);
    hand.tap("apart/back");
    for (const ListRecord& list : bench.job().lists)
        if (list.key == "first_power" && hand.find("steps/list/" + list.source.entry) != nullptr)
            hand.tap("steps/list/" + list.source.entry);
    CHECK(hand.find("steps/still_off") == nullptr);
}

TEST_CASE("record: a finger draws a ring, an arrow, a line and a note on a photo",
          "[robot][record]") {
    for (const ReferenceScreen& screen : reference_screens()) {
        INFO(screen.name);
        OpenBench bench(screen_of(screen));
        Robot& hand = bench.hand();
        hand.tap("rail/photos");
        const std::string photo = bench.job().photos[1].source.entry;
        hand.tap("photos/thumb/" + photo);
        hand.tap("photos/draw");
        const auto marks = [&] {
            std::vector<MarkRecord> found;
            for (const MarkRecord& mark : bench.job().marks)
                if (mark.photo == photo && mark.source.standing == Standing::valid)
                    found.push_back(mark);
            return found;
        };
        REQUIRE(marks().empty());
        const Rect at = hand.need("photos/picture").rect;
        const auto across = [&](float x0, float y0, float x1, float y1) {
            hand.drag(at.mid_x() + x0 * at.width(), at.mid_y() + y0 * at.height(),
                      at.mid_x() + x1 * at.width(), at.mid_y() + y1 * at.height());
        };
        across(-0.1f, -0.1f, 0.1f, 0.1f);
        hand.tap("photos/tool/arrow");
        across(0.15f, 0.15f, 0.0f, 0.0f);
        hand.tap("photos/tool/line");
        across(-0.15f, 0.1f, 0.15f, 0.1f);
        REQUIRE(marks().size() == 3);
        CHECK(marks()[0].shape == MarkShape::ring);
        REQUIRE(marks()[0].points.size() == 2);
        // From where the finger was put down to where it was lifted.
        CHECK(std::abs((marks()[0].points[1].x - marks()[0].points[0].x) * whole_width(hand) -
                       0.2 * static_cast<double>(at.width())) < 3);
        CHECK(marks()[1].shape == MarkShape::arrow);
        CHECK(marks()[1].points[0].x > marks()[1].points[1].x);
        CHECK(marks()[2].shape == MarkShape::line);
        CHECK(marks()[2].points.size() > 2);
        // The picture did not move under the finger.
        CHECK(hand.program().state().photo_look.pan_x == 0);
        hand.tap("photos/undo");
        CHECK(marks().size() == 2);
        hand.tap("photos/tool/note");
        hand.tap("photos/picture");
        bench.write("flux left here");
        REQUIRE(marks().size() == 3);
        CHECK(marks().back().text == "flux left here");
        CHECK(std::abs(marks().back().points[0].x - 0.5) < 0.02);
        // A mark is linked to a position.
        if (hand.find("photos/drawn") != nullptr)
            hand.tap("photos/drawn");
        if (hand.find("photos/about") != nullptr)
            hand.tap("photos/about");
        const std::string ring = marks()[0].source.entry;
        hand.tap("about/mark/" + ring);
        hand.tap("mark/position");
        hand.tap("picker/" + bench.position("R231").source.entry);
        bool linked = false;
        for (const MarkRecord& mark : marks())
            linked = linked || mark.position == bench.position("R231").source.entry;
        CHECK(linked);
    }
}

TEST_CASE("record: two photos become before and after, and are parted again", "[robot][record]") {
    OpenBench bench;
    Robot& hand = bench.hand();
    const auto pairs = [&] {
        return std::count_if(
            bench.job().pairs.begin(), bench.job().pairs.end(),
            [](const PairRecord& one) { return one.source.standing == Standing::valid; });
    };
    const auto before = pairs();
    hand.tap("rail/photos");
    hand.tap("photos/thumb/" + bench.job().photos[0].source.entry);
    hand.tap("photos/about");
    hand.tap("about/pair");
    hand.tap("photos/thumb/" + bench.job().photos[1].source.entry);
    REQUIRE(pairs() == before + 1);
    const PairRecord made = bench.job().pairs.back();
    CHECK(made.before == bench.job().photos[0].source.entry);
    CHECK(made.after == bench.job().photos[1].source.entry);
    CHECK(hand.find("photos/pair") != nullptr);
    hand.tap("photos/about");
    hand.tap("about/unpair/" + made.source.entry);
    CHECK(pairs() == before);
}

TEST_CASE("record: caption, stage and position of a photo are changed, its marks stay",
          "[robot][record]") {
    OpenBench bench;
    Robot& hand = bench.hand();
    std::string hash;
    for (const MarkRecord& mark : bench.job().marks)
        for (const PhotoRecord& photo : bench.job().photos)
            if (photo.source.entry == mark.photo)
                hash = photo.hash;
    REQUIRE(!hash.empty());
    const auto photo = [&]() -> const PhotoRecord& {
        const PhotoRecord* found = nullptr;
        for (const PhotoRecord& one : bench.job().photos)
            if (one.hash == hash && one.source.standing == Standing::valid)
                found = &one;
        if (found == nullptr)
            throw std::runtime_error("the photo is gone");
        return *found;
    };
    hand.tap("rail/photos");
    hand.tap("photos/thumb/" + photo().source.entry);
    hand.tap("photos/about");
    hand.tap("about/caption");
    bench.write("!");
    CHECK(photo().caption.back() == '!');
    hand.tap("about/stage/finished");
    CHECK(photo().stage == PhotoStage::finished);
    hand.tap("about/position");
    hand.tap("picker/" + bench.position("Q207").source.entry);
    CHECK(photo().position == bench.position("Q207").source.entry);
    // The marks went along, and the page is still open on the same photo.
    bool any = false;
    for (const PageRow& row : hand.program().shown().photos.about.rows)
        any = any || row.name.starts_with("mark/");
    CHECK(any);
    CHECK(hand.program().shown().photos.marks.size() == 1);
}

TEST_CASE("record: a list is changed for this bench, and the delivered one brought back",
          "[robot][record]") {
    OpenBench bench;
    Robot& hand = bench.hand();
    const auto first_step = [&] {
        hand.tap("rail/steps");
        hand.tap("steps/lists");
        hand.tap("steps/list/full_power");
        const ListRecord& list = bench.job().lists.back();
        return std::pair{list.steps.front().step.text, list.steps.size()};
    };
    bench.open_bench("lists");
    hand.tap("bench/lists/list/full_power");
    hand.tap("draft/step/0");
    hand.tap("draft/step/text");
    bench.write(", twice");
    hand.tap("draft/step/after");
    hand.tap("draft/step/text");
    bench.write("Smell the air");
    hand.tap("draft/step/back");
    hand.tap("draft/keep");
    REQUIRE(hand.bench().book().ok());
    CHECK(hand.bench().book()->list("full_power") != nullptr);
    // A new job takes up the changed one.
    REQUIRE(hand.program().open_job(bench.job().id).ok());
    hand.host().settle();
    const auto [text, size] = first_step();
    CHECK(text.ends_with(", twice"));
    CHECK(bench.job().lists.back().steps[1].step.text == "Smell the air");
    bench.open_bench("lists");
    hand.tap("bench/lists/delivered/full_power");
    CHECK((hand.bench().book()->list("full_power") == nullptr ||
           hand.bench().book()->list("full_power")->list.steps.size() == size - 1));
}

TEST_CASE("record: the drawer takes parts and refuses what it cannot read", "[robot][record]") {
    OpenBench bench;
    Robot& hand = bench.hand();
    bench.open_bench("drawer");
    hand.tap("bench/drawer/add");
    bench.write("2SC5200 x 4; shelf 3");
    REQUIRE(hand.bench().book().ok());
    CHECK(hand.bench().book()->drawer.find("2SC5200") != std::string::npos);
    hand.tap("bench/drawer/add");
    hand.host().text("2SC5200 x many");
    hand.host().settle();
    hand.tap("text/set");
    CHECK(hand.program().state().message_tone == AppState::MessageTone::refused);
    CHECK(hand.bench().book()->drawer.find("many") == std::string::npos);
    CHECK(hand.program().state().text.has_value());
}

TEST_CASE("record: the shelf is searched over everything that was written", "[robot][record]") {
    OpenBench bench;
    Robot& hand = bench.hand();
    hand.tap("header/job");
    hand.tap("shelf/new");
    bench.write("Kettle 9");
    bench.write("Hums when the kiln is on");
    REQUIRE(bench.job().sheet.model == "Kettle 9");
    hand.tap("header/job");
    CHECK(hand.program().shown().shelf.cards.size() == 2);
    hand.tap("shelf/search");
    bench.write("kiln");
    REQUIRE(hand.program().shown().shelf.cards.size() == 1);
    CHECK(hand.program().shown().shelf.cards[0].title.find("Kettle 9") != std::string::npos);
    hand.tap("shelf/search");
    hand.tap("text/leave");
    hand.tap("shelf/all");
    CHECK(hand.program().shown().shelf.cards.size() == 2);
    // An earlier job of the same unit is told of.
    hand.tap("shelf/new");
    bench.write("SA-260");
    bench.write("Breaks up on loud bass");
    bool seen = false;
    for (const PageRow& row : hand.program().shown().sheet.page.rows)
        seen = seen || row.value.find("SA-260") != std::string::npos ||
               row.label.find("SA-260") != std::string::npos;
    CHECK(seen);
}

TEST_CASE("record: a job goes out as a file by touch and comes into another bench as it was",
          "[robot][record]") {
    OpenBench bench;
    Robot& hand = bench.hand();
    hand.tap("rail/sheet");
    hand.tap("sheet/export");
    hand.tap("files/use");
    CHECK(hand.program().state().message_tone == AppState::MessageTone::kept);
    std::filesystem::path file;
    for (const auto& entry : std::filesystem::directory_iterator(bench.folder() / "bench"))
        if (entry.path().extension() == ".railjob")
            file = entry.path();
    REQUIRE(!file.empty());
    const auto entries = bench.job().entries;

    const TempFolder other;
    Robot second(other / "bench", small_screen());
    second.host().drop_file(file.string());
    second.host().settle();
    // It is open at once.
    REQUIRE(second.program().job() != nullptr);
    CHECK(second.program().job()->entries == entries);
    for (const PhotoRecord& photo : second.program().job()->photos)
        CHECK(second.bench().photo_bytes(photo.hash).ok());
    // Once more changes nothing.
    second.tap("header/job");
    second.host().drop_file(file.string());
    second.host().settle();
    CHECK(second.program().job()->entries == entries);
    second.tap("header/job");
    CHECK(second.program().shown().shelf.cards.size() == 1);
}

TEST_CASE("record: the whole bench is backed up by touch while it runs", "[robot][record]") {
    OpenBench bench;
    Robot& hand = bench.hand();
    std::filesystem::create_directory(bench.folder() / "copy");
    bench.open_bench("copies");
    hand.tap("bench/copies/backup");
    hand.tap("files/up");
    hand.tap("files/use");
    // The folder the bench itself lies in is no place for its copy.
    CHECK(hand.program().state().message_tone == AppState::MessageTone::refused);
    hand.tap("files/copy");
    hand.tap("files/use");
    INFO(hand.program().state().message);
    CHECK(hand.program().state().message_tone == AppState::MessageTone::kept);
    const auto copy = Bench::open(bench.folder() / "copy", system_surroundings());
    REQUIRE(copy.ok());
    const auto job = (*copy)->job(bench.job().id);
    REQUIRE(job.ok());
    CHECK(job->entries == bench.job().entries);
}

TEST_CASE("record: the history shows every kind of entry and is filtered", "[robot][record]") {
    OpenBench bench;
    Robot& hand = bench.hand();
    hand.tap("rail/sheet");
    hand.tap("sheet/part/history");
    const auto rows = [&] { return hand.program().shown().sheet.history.rows.size(); };
    const auto all = rows();
    CHECK(all > 40);
    hand.tap("sheet/history/filter/photos");
    CHECK(rows() < all);
    CHECK(rows() > 3);
}

TEST_CASE(
    "record: a working takes its test current, battery and lamps from the bench's instruments",
    "[robot][record]") {
    OpenBench bench;
    Robot& hand = bench.hand();
    bench.open_bench("instruments");
    const BenchBook book = fold_book({});
    for (const Instrument& one : book.instruments)
        if (one.type == InstrumentType::gain_tester) {
            hand.tap("bench/instruments/" + one.source.entry);
            break;
        }
    hand.tap("instrument/test_a");
    hand.tap("keypad/clear");
    hand.key_in("3m");
    hand.tap("keypad/set");
    REQUIRE(hand.program().open_job(bench.job().id).ok());
    hand.host().settle();
    hand.program().state().channel = Channel::none; // nothing kept for it yet
    hand.tap("rail/workings");
    const auto open = [&](const std::string& working) {
        hand.tap("workings/others");
        hand.tap("workings/offer/" + working);
    };
    const auto row = [&](std::string_view key) {
        for (const FieldRow& one : hand.program().shown().workings.rows)
            if (one.key == key)
                return one;
        return FieldRow{};
    };
    open("gain");
    CHECK(row("test_current").value.find("3") == 0);
    CHECK(row("test_current").origin.find("Gain tester") != std::string::npos);
    open("lamp");
    hand.tap("workings/field/lamp_power");
    bool offered = false;
    for (const auto& quick : hand.program().state().keypad->quick)
        offered = offered || (quick.label == "Lamp 100 W" && quick.text == "100");
    CHECK(offered);
}

TEST_CASE("record: one touch leads from a working to where each of its values came from",
          "[robot][record]") {
    const TempFolder folder;
    Robot robot(folder / "bench", screen_of(reference_screens().front()));
    const auto demo = load_painted_demo_job(robot.bench());
    REQUIRE(demo.ok());
    REQUIRE(robot.program().open_job(*demo).ok());
    robot.host().settle();
    robot.tap("rail/workings");
    const auto sources = robot.program().shown().workings.sources;
    REQUIRE(sources.size() >= 2);
    for (const auto& source : sources) {
        INFO(source.label);
        const auto& entries = robot.program().job()->entries;
        REQUIRE(std::any_of(entries.begin(), entries.end(),
                            [&](const Entry& one) { return one.id == source.entry; }));
        robot.tap("workings/source/" + source.key);
        CHECK(robot.program().state().room == RoomId::sheet);
        CHECK(robot.program().state().history_entry == source.entry);
        // In view without a search.
        CHECK_FALSE(robot.need("sheet/history/" + source.entry).visible.empty());
        robot.tap("rail/workings");
    }
}
