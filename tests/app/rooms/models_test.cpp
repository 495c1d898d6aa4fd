#include "app/rooms/header_model.h"
#include "app/rooms/layout.h"
#include "app/rooms/state.h"
#include "app/rooms/typed_text.h"

#include "support/catch.h"

using namespace railside;

TEST_CASE("state: a time shows as the hour today, the day this year, the year before",
          "[app][rooms]") {
    // 2026-03-12 14:32 UTC
    const std::int64_t then = 1773325920000;
    CHECK(time_text(then, {then + 3600000, 0}) == "14:32");
    CHECK(time_text(then, {then + 3600000, 60}) == "15:32");
    CHECK(time_text(then, {then + 30 * 86400000LL, 0}) == "12 Mar");
    CHECK(time_text(then, {then + 400 * 86400000LL, 0}) == "12 Mar 2026");
}

TEST_CASE("typed text: stays as it was written, with its unit", "[app][rooms]") {
    CHECK(typed_text("0.8", Unit::volt) == "0.8\u2009V");
    CHECK(typed_text("-5", Unit::volt) == "−5\u2009V");
    CHECK(typed_text("12m", Unit::volt) == "12\u2009mV");
    CHECK(typed_text("0R22", Unit::ohm) == "0.22\u2009Ω");
    CHECK(typed_text("nonsense", Unit::volt) == "nonsense");
}

TEST_CASE("header: money warns from 80 %", "[app][rooms]") {
    Job job;
    job.sheet.model = "SA-260";
    job.sheet.agreed_limit = 140;
    job.sheet.spent = 86;
    HeaderShown shown = make_header({}, job, {});
    CHECK(shown.money == "86 of 140");
    CHECK(!shown.money_high);
    job.sheet.spent = 112;
    CHECK(make_header({}, job, {}).money_high);
    job.sheet.agreed_limit = 0;
    CHECK(make_header({}, job, {}).money.empty());
}

TEST_CASE("layout: parts of the screen never overlap and fill it sensibly on every shape",
          "[app][rooms]") {
    struct Shape {
        float width, height, px_per_mm;
        BesideForm form;
    };
    for (const Shape& shape :
         {Shape{800, 480, 7.34f, BesideForm::drawer}, Shape{1024, 600, 6.67f, BesideForm::drawer},
          Shape{1280, 800, 5.88f, BesideForm::column}, Shape{800, 1280, 5.88f, BesideForm::below},
          Shape{1170, 2532, 18.07f, BesideForm::drawer}, Shape{1600, 1000, 4, BesideForm::column}})
        for (const Hand hand : {Hand::right, Hand::left}) {
            INFO(shape.width << "x" << shape.height);
            const Rect screen{0, 0, shape.width, shape.height};
            const Layout layout = make_layout(screen, shape.px_per_mm, hand, true, false);
            CHECK(layout.form == shape.form);
            const Rect parts[] = {layout.header, layout.rail,   layout.room,
                                  layout.beside, layout.handle, layout.strip};
            for (const Rect& a : parts) {
                if (a.empty())
                    continue;
                CHECK(a == a.cross(screen));
                for (const Rect& b : parts)
                    if (&a != &b && !b.empty())
                        CHECK(a.cross(b).empty());
            }
            CHECK(layout.room.width() >= 55 * shape.px_per_mm);
            CHECK(layout.room.height() >= 50 * shape.px_per_mm);
            if (shape.width > shape.height)
                CHECK((hand == Hand::right) == (layout.rail.mid_x() > screen.mid_x()));
            else
                CHECK(layout.rail.y1 == screen.y1);
        }
}

TEST_CASE("layout: the border between room and companion moves, and both stay usable",
          "[app][rooms]") {
    const Rect wide{0, 0, 1280, 800};
    const Rect tall{0, 0, 800, 1280};
    constexpr float px_per_mm = 5.88f;
    const auto of = [&](const Rect& screen, float split) {
        return make_layout(screen, px_per_mm, Hand::right, true, false, split);
    };
    CHECK(of(wide, 0).room == of(wide, k_wide_split).room);
    CHECK(of(tall, 0).room == of(tall, k_tall_split).room);
    CHECK(of(wide, 0.6f).room.width() > of(wide, 0).room.width());
    for (const float split : {0.01f, 0.2f, 0.5f, 0.8f, 0.99f}) {
        CHECK(of(wide, split).room.width() >= 74 * px_per_mm);
        CHECK(of(wide, split).beside.width() >= 74 * px_per_mm);
        CHECK(of(tall, split).room.height() >= 68 * px_per_mm);
        CHECK(of(tall, split).beside.height() >= 68 * px_per_mm);
        CHECK(of(wide, split).room.cross(of(wide, split).beside).empty());
    }
}
