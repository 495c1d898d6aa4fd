#include "app/rooms/panels.h"
#include "app/ui/icons.h"

#include <algorithm>
#include <array>

namespace railside {

namespace {

/// Tabs at the top of the body, in as few rows as hold their words.
template <class Part, std::size_t N, class Show>
void draw_tabs(Ui& ui, Rect& body, std::string_view prefix, const std::array<Part, N>& parts,
               Part now, std::string_view (*key)(Part), std::string_view (*label)(Part),
               Intents& out, const Show& show) {
    const float gap = ui.mm(1.6f);
    const auto wanted = [&](Part part) {
        return std::max(ui.text_width(label(part), Face::note) + ui.mm(2.6f), ui.mm(9));
    };
    const auto fits = [&](std::size_t in_row) {
        for (std::size_t first = 0; first < N; first += in_row) {
            float row = -gap;
            for (std::size_t i = first; i < std::min(N, first + in_row); ++i)
                row += wanted(parts[i]) + gap;
            if (row > body.width())
                return false;
        }
        return true;
    };
    std::size_t in_row = N;
    for (std::size_t rows = 2; rows <= N && !fits(in_row); ++rows)
        in_row = (N + rows - 1) / rows;
    for (std::size_t first = 0; first < N; first += in_row) {
        Rect row = body.cut_top(ui.mm(9.5f), ui.mm(1.2f));
        const std::size_t end = std::min(N, first + in_row);
        // Each as wide as its word asks for, and what is left shared out.
        float spare = row.width() - gap * static_cast<float>(end - first - 1);
        for (std::size_t i = first; i < end; ++i)
            spare -= wanted(parts[i]);
        spare /= static_cast<float>(end - first);
        for (std::size_t i = first; i < end; ++i) {
            const Part part = parts[i];
            const bool chosen = part == now;
            if (ui.button(Name(prefix, key(part)), row.cut_left(wanted(part) + spare, gap),
                          label(part),
                          {.look = chosen ? Look::selected : Look::plain,
                           .role = ControlRole::tab,
                           .selected = chosen,
                           .face = Face::note}))
                out.push_back(show(part));
        }
    }
}

constexpr std::array<SuspectsPart, 3> k_suspects_parts = {
    SuspectsPart::next, SuspectsPart::evidence, SuspectsPart::channels};
constexpr std::array<SheetPart, 4> k_sheet_parts = {SheetPart::unit, SheetPart::positions,
                                                    SheetPart::money, SheetPart::history};
constexpr std::array<SheetPart, 3> k_wide_parts = {SheetPart::unit, SheetPart::positions,
                                                   SheetPart::money};
constexpr std::array<HandoverPart, 6> k_handover_parts = {
    HandoverPart::missing, HandoverPart::words,   HandoverPart::photos,
    HandoverPart::wanting, HandoverPart::preview, HandoverPart::write};
constexpr std::array<BenchPart, 5> k_bench_parts = {BenchPart::instruments, BenchPart::drawer,
                                                    BenchPart::lists, BenchPart::copies,
                                                    BenchPart::screen};

} // namespace

void draw_sheet(Ui& ui, Rect place, const SheetShown& shown, const AppState& state,
                const ShotSource& shots, Intents& out) {
    ui.fill(place, Ink::pane, 1.5f);
    Rect body = place.inset(ui.mm(2.2f), ui.mm(1.6f));
    const auto show = [](SheetPart part) -> Intent { return intent::ShowSheet{part}; };
    if (body.width() > ui.mm(130)) {
        // Wide enough for the page and the time line side by side.
        Rect left = body.column(0, 2, ui.mm(5));
        const Rect right = body.column(1, 2, ui.mm(5));
        const SheetPart now =
            state.sheet_part == SheetPart::history ? SheetPart::unit : state.sheet_part;
        draw_tabs(ui, left, "sheet/part/", k_wide_parts, now, sheet_part_key, sheet_part_label, out,
                  show);
        draw_page(ui, left, shown.page, shots, out);
        draw_page(ui, right, shown.history, shots, out);
        return;
    }
    const bool one = !state.position.empty() || state.cost;
    if (!one || body.height() > ui.mm(75))
        draw_tabs(ui, body, "sheet/part/", k_sheet_parts, state.sheet_part, sheet_part_key,
                  sheet_part_label, out, show);
    draw_page(ui, body, state.sheet_part == SheetPart::history ? shown.history : shown.page, shots,
              out);
}

void draw_bench(Ui& ui, Rect place, const Page& page, const AppState& state,
                const ShotSource& shots, Intents& out) {
    ui.fill(place, Ink::pane, 1.5f);
    Rect body = place.inset(ui.mm(2.2f), ui.mm(1.6f));
    const bool one = !state.instrument.empty() || state.list_draft;
    if (!one || body.height() > ui.mm(75))
        draw_tabs(ui, body, "bench/part/", k_bench_parts, state.bench_part, bench_part_key,
                  bench_part_label, out,
                  [](BenchPart part) -> Intent { return intent::ShowBench{part}; });
    // A page of words is read more easily when it is not as wide as the whole screen.
    if (body.width() > ui.mm(150)) {
        const float spare = (body.width() - ui.mm(150)) / 2;
        body.x0 += spare;
        body.x1 -= spare;
    }
    draw_page(ui, body, page, shots, out);
}

void draw_handover(Ui& ui, Rect place, const Page& page, const AppState& state,
                   const ShotSource& shots, Intents& out) {
    ui.fill(place, Ink::pane, 1.5f);
    Rect body = place.inset(ui.mm(2.2f), ui.mm(1.6f));
    if (!page.back || body.height() > ui.mm(75)) {
        // A low screen goes back by the rail.
        if (!page.back && body.height() > ui.mm(75)) {
            Rect top = body.cut_top(ui.mm(9.2f), ui.mm(1.2f));
            const Rect back = top.cut_left(ui.mm(11), ui.mm(1.5f));
            ui.fill(back, ui.pressed("handover/back") ? Ink::line : Ink::raised, 1.5f);
            if (ui.area("handover/back", back, "back to the sheet", {}))
                out.push_back(intent::GoRoom{RoomId::sheet});
            draw_icon(ui, Icon::back, back, Ink::ink, 4.5f);
            ui.text_cut(top, room_label(RoomId::handover), Face::strong, Ink::ink);
        }
        draw_tabs(ui, body, "handover/part/", k_handover_parts, state.handover_part,
                  handover_part_key, handover_part_label, out,
                  [](HandoverPart part) -> Intent { return intent::ShowHandover{part}; });
    }
    draw_page(ui, body, page, shots, out);
}

void draw_suspects(Ui& ui, Rect place, const Page& page, const AppState& state,
                   const ShotSource& shots, Intents& out) {
    ui.fill(place, Ink::pane, 1.5f);
    Rect body = place.inset(ui.mm(2.2f), ui.mm(1.6f));
    // On a low screen the channels stand beside the parts.
    const bool beside = !page.head.empty() && body.height() < ui.mm(75) && body.width() > ui.mm(84);
    Rect tabs = body;
    const Rect head = beside ? tabs.cut_right(ui.mm(30), ui.mm(3)) : Rect{};
    draw_tabs(ui, tabs, "suspects/part/", k_suspects_parts, state.suspects_part, suspects_part_key,
              suspects_part_label, out,
              [](SuspectsPart part) -> Intent { return intent::ShowSuspects{part}; });
    const float row = ui.mm(9.5f);
    if (beside)
        draw_head(ui, {head.x0, head.y0, head.x1, head.y0 + row}, page, out);
    body.y0 = tabs.y0;
    if (!beside && !page.head.empty())
        draw_head(ui, body.cut_top(row, ui.mm(1.2f)), page, out);
    draw_page(ui, body, page, shots, out);
}

namespace {

/// What the program is, before its first job: an icon, a word and a sentence each.
float draw_first(Ui& ui, Rect place, std::span<const FirstLine> lines) {
    const int columns = place.width() > ui.mm(90) ? 2 : 1;
    const float strong = ui.theme().pitch(Face::strong);
    const float icon = ui.mm(8);
    const float gap = ui.mm(3);
    const float width =
        (place.width() - gap * static_cast<float>(columns - 1)) / static_cast<float>(columns);
    float y = place.y0;
    float tallest = 0;
    int column = 0;
    for (const FirstLine& line : lines) {
        const float x = place.x0 + static_cast<float>(column) * (width + gap);
        const float words = ui.wrapped_height(width - icon - gap, line.words, Face::note);
        const float height = strong + words + ui.mm(1.5f);
        draw_icon(ui, room_icon(line.room), {x, y, x + icon, y + strong + words}, Ink::soft, 6);
        ui.text_cut({x + icon + gap, y, x + width, y + strong}, line.head, Face::strong, Ink::ink);
        ui.wrapped(x + icon + gap, y + strong, width - icon - gap, line.words, Face::note,
                   Ink::soft);
        ui.figure(Name("shelf/first/", room_key(line.room)), {x, y, x + width, y + height},
                  line.head, line.words);
        tallest = std::max(tallest, height);
        if (++column == columns) {
            column = 0;
            y += tallest + ui.mm(1);
            tallest = 0;
        }
    }
    return y + tallest - place.y0;
}

} // namespace

void draw_shelf(Ui& ui, Rect place, const ShelfShown& shown, const AppState& state, Intents& out) {
    Rect body = place;
    const Rect actions = body.cut_bottom(ui.mm(14), ui.mm(1.5f));
    Rect line = actions;
    const float small = std::min(ui.mm(28), line.width() * 0.28f);
    const Rect search = line.cut_left(small, ui.mm(2));
    const Rect bench = line.cut_left(small, ui.mm(2));
    if (ui.button("shelf/search", search, state.search.empty() ? "Search" : "Search again",
                  {.face = Face::note}))
        out.push_back(intent::Search{});
    if (ui.button("shelf/bench", bench, "Bench", {.face = Face::note}))
        out.push_back(intent::ShowBench{state.bench_part});
    if (ui.button("shelf/new", line, "New job", {.look = Look::primary}))
        out.push_back(intent::NewJob{});
    if (!shown.heading.empty()) {
        Rect top = body.cut_top(ui.mm(9.5f), ui.mm(1));
        const Rect all = top.cut_right(ui.mm(22), ui.mm(2));
        if (ui.button("shelf/all", all, "All jobs", {.face = Face::note}))
            out.push_back(intent::ClearSearch{});
        ui.text_cut(top, shown.heading, Face::body, Ink::ink);
    }

    const int columns = body.width() > ui.mm(150) ? 2 : 1;
    const Rect content = ui.begin_scroll("shelf/jobs", body);
    const float width = body.width() - ui.mm(1.5f);
    const float gap = ui.mm(2);
    const float card_width =
        (width - gap * static_cast<float>(columns - 1)) / static_cast<float>(columns);
    const float pad = ui.mm(3);
    float y = content.y0;
    float row_height = 0;
    int column = 0;
    if (!shown.empty.empty())
        y += ui.wrapped(body.x0 + pad, y + ui.mm(1.5f), width - 2 * pad, shown.empty, Face::body,
                        Ink::soft) +
             ui.mm(3.5f);
    if (!shown.first.empty())
        y += draw_first(ui, {body.x0 + pad, y, body.x0 + width - pad, y}, shown.first);
    if (shown.demo) {
        const Rect demo{body.x0 + pad, y + ui.mm(2),
                        body.x0 + pad + std::min(ui.mm(60), width - 2 * pad), y + ui.mm(12)};
        if (ui.button("shelf/demo", demo, "Look at the demo job"))
            out.push_back(intent::OpenJob{std::string(intent::k_demo)});
        y = demo.y1 + ui.mm(2);
    }
    for (const ShelfCard& card : shown.cards) {
        const float x0 = body.x0 + static_cast<float>(column) * (card_width + gap);
        const float inner = card_width - 2 * pad;
        const float note = ui.theme().pitch(Face::note);
        const float complaint = ui.wrapped_height(inner, card.complaint, Face::note);
        const float counts = ui.wrapped_height(inner, card.counts, Face::note);
        const float height =
            ui.theme().pitch(Face::strong) + complaint + note + counts + 2 * pad + ui.mm(1.5f);
        const Rect box{x0, y, x0 + card_width, y + height};
        const Name name("shelf/job/", card.job);
        ui.fill(box, ui.pressed(name) ? Ink::raised : Ink::pane, 1.5f);
        if (ui.area(name, box, card.title, {.value = card.complaint}))
            out.push_back(intent::OpenJob{card.job});
        const float touched = ui.text_width(card.touched, Face::note);
        float ty = y + pad;
        ui.text({x0, ty, box.x1 - pad, ty + ui.theme().pitch(Face::strong)}, card.touched,
                Face::note, Ink::soft, Align::right);
        ui.text_cut(
            {x0 + pad, ty, box.x1 - pad - touched - ui.mm(2), ty + ui.theme().pitch(Face::strong)},
            card.title, Face::strong, Ink::ink);
        ty += ui.theme().pitch(Face::strong);
        ty += ui.wrapped(x0 + pad, ty, inner, card.complaint, Face::note, Ink::soft) + ui.mm(1);
        ui.text_cut({x0 + pad, ty, box.x1 - pad, ty + note}, card.state, Face::note,
                    card.closed ? Ink::soft : Ink::ink);
        if (!card.money.empty())
            ui.text({x0 + pad, ty, box.x1 - pad, ty + note}, card.money, Face::note,
                    card.money_state == MoneyState::reached ? Ink::outside
                    : card.money_state == MoneyState::near  ? Ink::edge
                                                            : Ink::ink,
                    Align::right);
        ty += note;
        ui.wrapped(x0 + pad, ty, inner, card.counts, Face::note, Ink::soft);
        row_height = std::max(row_height, height);
        if (++column == columns) {
            column = 0;
            y += row_height + gap;
            row_height = 0;
        }
    }
    ui.end_scroll(y + row_height);
}

} // namespace railside
