// Every control of every room on every reference screen: wide enough for a finger, whole in its
// text, apart from the others, in reach.

#include "robot/robot.h"
#include "support/catch.h"
#include "support/temp_folder.h"

#include "app/command/screens.h"
#include "app/rooms/apart_model.h"
#include "core/job/book.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <functional>
#include <map>
#include <set>

using namespace railside;

namespace {

constexpr float k_least_mm = 9.0f;

struct Finding {
    std::string screen, view, control, what;
};

class Audit {
  public:
    void look(Robot& robot, std::string_view screen, std::string_view view) {
        const auto controls = robot.program().controls().controls();
        const float mm = robot.host().screen().px_per_mm;
        const int top = robot.program().controls().top_layer();
        std::set<std::string> names;
        for (const Control& control : controls) {
            const auto add = [&](std::string what) {
                findings.push_back(
                    {std::string(screen), std::string(view), control.name, std::move(what)});
            };
            if (!names.insert(control.name).second)
                add("stands twice");
            if (control.fit == TextFit::clipped)
                add("text is clipped: " + control.label);
            if (control.layer != top || control.role == ControlRole::figure)
                continue;
            ++looked;
            const float w = control.rect.width() / mm;
            const float h = control.rect.height() / mm;
            if (w < k_least_mm - 0.05f || h < k_least_mm - 0.05f)
                add(fmt::format("is {:.1f} x {:.1f} mm", w, h));
            if (control.label.empty() && control.name.find("erase") == std::string::npos &&
                control.name.find("close") == std::string::npos)
                add("has no label");
            if (control.rect.x0 < -0.5f ||
                control.rect.x1 > static_cast<float>(robot.host().screen().width_px) + 0.5f)
                add("lies off the screen at the side");
            bool scrolls = false;
            for (const ScrollArea& area : robot.program().ui().scroll_areas())
                if (area.layer == top && control.rect.mid_x() >= area.rect.x0 &&
                    control.rect.mid_x() <= area.rect.x1) {
                    const float from = area.rect.y0 - area.offset;
                    if (control.rect.y0 >= from - 1 &&
                        control.rect.y1 <= from + std::max(area.content, area.rect.height()) + 1)
                        scrolls = true;
                }
            const bool whole = control.visible.height() >= control.rect.height() - 0.5f;
            if (!whole && !scrolls)
                add("cannot be brought into view");
            for (const Control& other : controls) {
                if (&other == &control || other.layer != top || other.role == ControlRole::figure)
                    continue;
                const Rect both = control.visible.cross(other.visible);
                if (!both.empty() && both.width() > 1 && both.height() > 1)
                    add("overlaps " + other.name);
            }
        }
    }

    /// Each pair of colours in which a text was drawn, and one such text.
    void look_at_inks(std::string_view view, const std::vector<InkUse>& inks) {
        for (const InkUse& use : inks) {
            std::string pair = fmt::format("{}/{}", static_cast<int>(use.ink), is_figure(use));
            for (const InkGround& ground : use.grounds)
                pair += fmt::format(" {}*{:.2f}", static_cast<int>(ground.ink), ground.alpha);
            if (pairs.emplace(pair, use).second)
                where[pair] = std::string(view);
        }
    }

    /// What is read as the answer or typed as a value.
    static bool is_figure(const InkUse& use) {
        return (use.face == Face::headline || use.face == Face::value) && use.ink != Ink::soft;
    }

    std::vector<Finding> findings;
    int looked = 0;
    std::map<std::string, InkUse> pairs;
    std::map<std::string, std::string> where;
};

/// The colour that stands there at last: each ground over the one below it.
unsigned blended(ThemeKind kind, const std::vector<InkGround>& grounds) {
    double rgb[3] = {0, 0, 0};
    for (const InkGround& ground : grounds) {
        const unsigned over = theme_rgb(kind, ground.ink);
        for (int i = 0; i < 3; ++i) {
            const double byte = over >> (16 - 8 * i) & 255;
            rgb[i] += (byte - rgb[i]) * std::min(1.0f, ground.alpha);
        }
    }
    unsigned out = 0;
    for (const double byte : rgb)
        out = out << 8 | static_cast<unsigned>(std::lround(byte));
    return out;
}

struct View {
    std::string_view name;
    std::function<void(Robot&)> reach;
};

void positions(Robot& r) {
    r.tap("rail/sheet");
    r.tap("sheet/part/positions");
}

void position(Robot& r) {
    positions(r);
    for (const PositionRecord& one : r.program().job()->positions)
        if (one.fitted_type != one.printed_type) {
            r.tap("sheet/positions/position/" + one.source.entry);
            return;
        }
    throw std::runtime_error("the demo job has no position with another type fitted");
}

void apart(Robot& r) {
    r.tap("rail/steps");
    r.tap("steps/lists");
    r.tap("steps/apart");
}

void photo(Robot& r) {
    r.tap("rail/photos");
    r.tap("photos/thumb/" + r.program().job()->photos[2].source.entry);
}

void handover(Robot& r, std::string_view part) {
    r.tap("rail/sheet");
    if (r.find("sheet/part/unit") != nullptr)
        r.tap("sheet/part/unit");
    r.tap("sheet/handover");
    r.tap("handover/part/" + std::string(part));
}

void bench(Robot& r, std::string_view part) {
    r.tap("header/job");
    r.tap("shelf/bench");
    r.tap("bench/part/" + std::string(part));
}

/// A hand and the size of the text, percent.
struct Pass {
    Hand hand;
    int text;
};

const std::vector<View>& views() {
    static const std::vector<View> k_views = {
        {"sheet", [](Robot& r) { r.tap("rail/sheet"); }},
        {"sheet, history opened",
         [](Robot& r) {
             r.tap("rail/sheet");
             if (r.find("sheet/part/history") != nullptr)
                 r.tap("sheet/part/history");
             r.tap("sheet/history/" + r.program().job()->entries[5].id);
         }},
        {"idle", [](Robot& r) { r.tap("rail/workings"); }},
        {"gain",
         [](Robot& r) {
             r.tap("rail/workings");
             r.tap("workings/others");
             r.tap("workings/offer/gain");
         }},
        {"stand-in",
         [](Robot& r) {
             r.tap("rail/workings");
             r.tap("workings/others");
             r.tap("workings/offer/standin");
         }},
        {"gain, picking",
         [](Robot& r) {
             r.tap("rail/workings");
             r.tap("workings/others");
             r.tap("workings/offer/gain");
             r.tap("workings/field/role");
         }},
        {"heat",
         [](Robot& r) {
             r.tap("rail/workings");
             r.tap("workings/others");
             r.tap("workings/offer/heat");
         }},
        {"leak",
         [](Robot& r) {
             r.tap("rail/workings");
             r.tap("workings/others");
             r.tap("workings/offer/leak");
         }},
        {"leak, keypad with OL",
         [](Robot& r) {
             r.tap("rail/workings");
             r.tap("workings/others");
             r.tap("workings/offer/leak");
             r.tap("workings/field/ce_volt");
             r.tap("keypad/quick/1");
         }},
        {"lamp",
         [](Robot& r) {
             r.tap("rail/workings");
             r.tap("workings/others");
             r.tap("workings/offer/lamp");
         }},
        {"lamp, picking",
         [](Robot& r) {
             r.tap("rail/workings");
             r.tap("workings/others");
             r.tap("workings/offer/lamp");
             r.tap("workings/field/seen");
         }},
        {"limiter",
         [](Robot& r) {
             r.tap("rail/workings");
             r.tap("workings/others");
             r.tap("workings/offer/limiter");
         }},
        {"clip",
         [](Robot& r) {
             r.tap("rail/workings");
             r.tap("workings/others");
             r.tap("workings/offer/clip");
         }},
        {"spreader",
         [](Robot& r) {
             r.tap("rail/workings");
             r.tap("workings/others");
             r.tap("workings/offer/spreader");
         }},
        {"capture",
         [](Robot& r) {
             r.tap("rail/workings");
             r.tap("workings/others");
             r.tap("workings/offer/capture");
         }},
        {"working offers",
         [](Robot& r) {
             r.tap("rail/workings");
             r.tap("workings/others");
         }},
        {"keypad, volts",
         [](Robot& r) {
             r.tap("rail/workings");
             r.tap("workings/field/reading");
             r.key_in("96m");
         }},
        {"keypad, ohms",
         [](Robot& r) {
             r.tap("rail/workings");
             r.tap("workings/field/emitter_resistor");
         }},
        {"photos", [](Robot& r) { r.tap("rail/photos"); }},
        {"photo large",
         [](Robot& r) {
             r.tap("rail/photos");
             r.tap("photos/thumb/" + r.program().job()->photos[2].source.entry);
         }},
        {"files",
         [](Robot& r) {
             r.tap("rail/photos");
             r.tap("photos/import");
         }},
        {"steps", [](Robot& r) { r.tap("rail/steps"); }},
        {"steps, skipping",
         [](Robot& r) {
             r.tap("rail/steps");
             for (const StepRow& row : r.program().shown().steps.rows)
                 if (row.look == StepLook::live) {
                     const std::string key = row.key;
                     r.tap("steps/skip/" + key);
                     break;
                 }
         }},
        {"lists",
         [](Robot& r) {
             r.tap("rail/steps");
             r.tap("steps/lists");
         }},
        {"writing",
         [](Robot& r) {
             r.tap("rail/sheet");
             r.tap("sheet/note");
         }},
        {"writing figures",
         [](Robot& r) {
             r.tap("rail/sheet");
             r.tap("sheet/note");
             r.tap("text/figures");
         }},
        {"beside steps",
         [](Robot& r) {
             r.tap("rail/workings");
             for (const std::string_view opener : {"beside/open", "beside/handle"})
                 if (r.find(opener) != nullptr)
                     r.tap(opener);
             r.tap("beside/steps");
         }},
        {"beside kept",
         [](Robot& r) {
             r.tap("rail/workings");
             for (const std::string_view opener : {"beside/open", "beside/handle"})
                 if (r.find(opener) != nullptr)
                     r.tap(opener);
             r.tap("beside/kept");
         }},
        {"beside photos",
         [](Robot& r) {
             r.tap("rail/workings");
             for (const std::string_view opener : {"beside/open", "beside/handle"})
                 if (r.find(opener) != nullptr)
                     r.tap(opener);
             r.tap("beside/photos");
         }},
        {"shelf", [](Robot& r) { r.tap("header/job"); }},
        {"shelf, found",
         [](Robot& r) {
             r.tap("header/job");
             r.tap("shelf/search");
             r.host().text("2SC");
             r.host().settle();
             r.tap("text/set");
         }},
        {"positions", [](Robot& r) { positions(r); }},
        {"position", [](Robot& r) { position(r); }},
        {"position, picking a role",
         [](Robot& r) {
             position(r);
             r.tap("position/role");
         }},
        {"position, new",
         [](Robot& r) {
             positions(r);
             r.tap("sheet/positions/add");
         }},
        {"reading",
         [](Robot& r) {
             position(r);
             r.tap("position/read");
         }},
        {"reading, keypad",
         [](Robot& r) {
             position(r);
             r.tap("position/read");
             r.tap("reading/key");
         }},
        {"money",
         [](Robot& r) {
             r.tap("rail/sheet");
             r.tap("sheet/part/money");
         }},
        {"cost",
         [](Robot& r) {
             r.tap("rail/sheet");
             r.tap("sheet/part/money");
             r.tap("money/add");
         }},
        {"apart", [](Robot& r) { apart(r); }},
        {"apart, one opened",
         [](Robot& r) {
             apart(r);
             r.tap("apart/line/" + apart_lines(*r.program().job()).front().items.front().item);
         }},
        {"photo, drawing a ring",
         [](Robot& r) {
             photo(r);
             r.tap("photos/draw");
         }},
        {"photo, about",
         [](Robot& r) {
             photo(r);
             r.tap("photos/about");
         }},
        {"photo, a mark",
         [](Robot& r) {
             photo(r);
             r.tap("photos/about");
             for (const MarkRecord& mark : r.program().job()->marks)
                 if (r.find("about/mark/" + mark.source.entry) != nullptr) {
                     r.tap("about/mark/" + mark.source.entry);
                     break;
                 }
         }},
        {"camera",
         [](Robot& r) {
             r.tap("rail/photos");
             r.tap("photos/camera");
         }},
        {"handover, missing", [](Robot& r) { handover(r, "missing"); }},
        {"handover, one missing",
         [](Robot& r) {
             handover(r, "missing");
             r.tap("handover/missing/item/words");
         }},
        {"handover, words", [](Robot& r) { handover(r, "words"); }},
        {"handover, photos", [](Robot& r) { handover(r, "photos"); }},
        {"handover, wanting", [](Robot& r) { handover(r, "wanting"); }},
        {"handover, one wanting",
         [](Robot& r) {
             handover(r, "wanting");
             r.tap("handover/wanting/item/" + r.program().job()->wanting.front().source.entry);
         }},
        {"handover, preview", [](Robot& r) { handover(r, "preview"); }},
        {"handover, write", [](Robot& r) { handover(r, "write"); }},
        {"suspects, after the cure", [](Robot& r) { r.tap("rail/suspects"); }},
        {"suspects, one opened",
         [](Robot& r) {
             r.tap("rail/suspects");
             r.tap("suspects/next/suspect/VR201");
         }},
        {"suspects, evidence",
         [](Robot& r) {
             r.tap("rail/suspects");
             r.tap("suspects/part/evidence");
         }},
        {"suspects, channels",
         [](Robot& r) {
             r.tap("rail/suspects");
             r.tap("suspects/part/channels");
         }},
        {"suspects, next test",
         [](Robot& r) {
             r.tap("rail/suspects");
             r.tap("suspects/next/channel/right");
             // A reading after the cure begins anew.
             if (r.find("suspects/next/again/loaded/clip_plus") != nullptr) {
                 r.tap("suspects/next/again/loaded/clip_plus");
                 r.key_in("33");
                 r.tap("keypad/set");
             }
             (void)r.need("suspects/next/reading");
         }},
        {"suspects, no circuit",
         [](Robot& r) {
             r.tap("header/job");
             r.tap("shelf/new");
             r.host().text("Another unit");
             r.host().settle();
             r.tap("text/set");
             r.tap("text/leave");
             r.tap("rail/suspects");
             (void)r.need("suspects/next/usual");
         }},
        {"instruments", [](Robot& r) { bench(r, "instruments"); }},
        {"instrument, each",
         [](Robot& r) {
             bench(r, "instruments");
             r.tap("bench/instruments/" + fold_book({}).instruments.front().source.entry);
         }},
        {"instrument, ohmmeter",
         [](Robot& r) {
             bench(r, "instruments");
             for (const Instrument& one : fold_book({}).instruments)
                 if (one.type == InstrumentType::ohmmeter) {
                     r.tap("bench/instruments/" + one.source.entry);
                     break;
                 }
         }},
        {"drawer", [](Robot& r) { bench(r, "drawer"); }},
        {"lists of the bench", [](Robot& r) { bench(r, "lists"); }},
        {"list changed",
         [](Robot& r) {
             bench(r, "lists");
             r.tap("bench/lists/list/first_power");
         }},
        {"step changed",
         [](Robot& r) {
             bench(r, "lists");
             r.tap("bench/lists/list/first_power");
             r.tap("draft/step/0");
         }},
        {"copies", [](Robot& r) { bench(r, "copies"); }},
        {"folder for a backup",
         [](Robot& r) {
             bench(r, "copies");
             r.tap("bench/copies/backup");
         }},
        {"screen", [](Robot& r) { bench(r, "screen"); }},
        {"keys",
         [](Robot& r) {
             r.tap("rail/workings");
             r.host().key(Key::help);
             r.host().settle();
         }},
        {"keypad, unusual",
         [](Robot& r) {
             r.tap("rail/workings");
             r.tap("workings/field/reading");
             r.key_in("1m");
         }},
        {"keypad, comparing",
         [](Robot& r) {
             r.tap("rail/workings");
             r.tap("workings/field/reading");
             r.key_in("12m");
             r.tap("keypad/quick/1");
         }},
        {"plot, read at the finger",
         [](Robot& r) {
             r.tap("rail/workings");
             r.tap("workings/plot");
         }},
        {"bars, read at the finger",
         [](Robot& r) {
             r.tap("rail/workings");
             r.tap("workings/others");
             r.tap("workings/offer/gain");
             r.tap("workings/plot");
         }},
    };
    return k_views;
}

} // namespace

namespace {

void audit_all(const std::vector<Pass>& passes, int least_looked) {
    const TempFolder folder;
    // With RAILSIDE_PICTURES naming a folder, what was looked at is written there too.
    const char* pictures = std::getenv("RAILSIDE_PICTURES");
    Audit audit;
    REQUIRE(reference_screens().size() == 6);
    for (const ReferenceScreen& screen : reference_screens()) {
#ifdef RAILSIDE_SANITIZED
        // Ten times slower: the rooms' code is the same on all, so the narrowest and the first do.
        if (screen.name != "phone" && screen.name != reference_screens().front().name)
            continue;
#endif
        // One bench a screen; its left-handed layout too.
        Robot robot(folder / std::string(screen.name), screen_of(screen));
        const auto id = load_painted_demo_job(robot.bench());
        REQUIRE(id.ok());
        for (const auto& [hand, text] : passes) {
            robot.program().settings().hand = hand;
            robot.program().apply(intent::SizeText{text});
            std::vector<InkUse> inks;
            for (const View& view : views()) {
                REQUIRE(robot.program().open_job(*id).ok());
                robot.host().settle();
                const std::string name =
                    text == 100 ? std::string(view.name) : fmt::format("{} {} %", view.name, text);
                INFO(screen.name << ", " << name);
                REQUIRE_NOTHROW(view.reach(robot));
                audit.look(robot, screen.name, name);
                if (hand == Hand::right && text == 100) {
                    // Once more, to see in which colours it is drawn.
                    robot.program().watch_inks(&inks);
                    robot.host().wheel(0, 0, 0);
                    robot.host().settle();
                    robot.program().watch_inks(nullptr);
                    audit.look_at_inks(name, inks);
                }
                if (pictures != nullptr && hand == Hand::right)
                    robot.write_picture(std::filesystem::path(pictures) /
                                        fmt::format("{} {}.png", screen.name, name));
            }
        }
    }
    // Colours do not move anything: each pair is checked in every theme.
    for (const auto& [pair, use] : audit.pairs)
        for (const ThemeKind kind : {ThemeKind::dark, ThemeKind::light, ThemeKind::contrast}) {
            // Words on a photo have black of three quarters under them: over white that is
            // 0x414141.
            const unsigned ground =
                use.ink == Ink::on_photo ? 0x414141U : blended(kind, use.grounds);
            const double ratio = contrast_ratio(theme_rgb(kind, use.ink), ground);
            const double least = Audit::is_figure(use) ? 7.0 : 4.5;
            if (ratio < least)
                audit.findings.push_back({std::string(theme_key(kind)), audit.where[pair], use.text,
                                          fmt::format("has a contrast of {:.2f}:1", ratio)});
        }
    std::string table;
    for (const Finding& finding : audit.findings)
        table += fmt::format("{:<18} {:<22} {:<44} {}\n", finding.screen, finding.view,
                             finding.control, finding.what);
    fmt::print("audit: {} controls and {} pairs of colours looked at, {} findings\n", audit.looked,
               audit.pairs.size(), audit.findings.size());
    INFO(table);
    CHECK(audit.looked > least_looked);
    CHECK(audit.findings.empty());
}

} // namespace

TEST_CASE("audit: every control of every room is wide enough, whole and in reach on every "
          "reference screen",
          "[robot][audit]") {
#ifdef RAILSIDE_SANITIZED
    // The left hand's layouts are looked at without sanitizers only.
    audit_all({{Hand::right, 100}}, 2000);
#else
    audit_all({{Hand::right, 100}, {Hand::left, 100}}, 6000);
#endif
}

#ifndef RAILSIDE_SANITIZED // where it would take as long again
TEST_CASE("audit: the same with text of 130 %", "[robot][audit][audit130]") {
    audit_all({{Hand::right, 130}}, 3000);
}
#endif

TEST_CASE("audit: colours keep the contrast of the design in every theme", "[robot][audit]") {
    for (const ThemeKind kind : {ThemeKind::dark, ThemeKind::light, ThemeKind::contrast}) {
        INFO(theme_key(kind));
        for (const Ink ground : {Ink::ground, Ink::pane, Ink::raised}) {
            // Figures 7:1, the rest 4.5:1 (design: contrast; computed after WCAG 2 from the actual
            // colours).
            CHECK(contrast_ratio(theme_rgb(kind, Ink::ink), theme_rgb(kind, ground)) >= 7.0);
            for (const Ink ink :
                 {Ink::soft, Ink::plus, Ink::minus, Ink::inside, Ink::edge, Ink::outside}) {
                INFO(static_cast<int>(ink) << " on " << static_cast<int>(ground));
                CHECK(contrast_ratio(theme_rgb(kind, ink), theme_rgb(kind, ground)) >= 4.5);
            }
        }
        CHECK(contrast_ratio(theme_rgb(kind, Ink::on_primary), theme_rgb(kind, Ink::primary)) >=
              7.0);
        CHECK(contrast_ratio(theme_rgb(kind, Ink::ink), theme_rgb(kind, Ink::special)) >= 7.0);
        CHECK(contrast_ratio(theme_rgb(kind, Ink::ink), theme_rgb(kind, Ink::rail)) >= 7.0);
        CHECK(contrast_ratio(theme_rgb(kind, Ink::soft), theme_rgb(kind, Ink::rail)) >= 4.5);
        for (const Ink verdict : {Ink::inside, Ink::edge, Ink::outside, Ink::soft})
            CHECK(contrast_ratio(theme_rgb(kind, Ink::on_verdict), theme_rgb(kind, verdict)) >=
                  4.5);
        CHECK(contrast_ratio(theme_rgb(kind, Ink::line), theme_rgb(kind, Ink::pane)) >= 3.0);
    }
}
