#include "app/command/contact_sheet.h"

#include "app/command/screens.h"
#include "app/ui/theme.h"
#include "core/working/working.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>

namespace railside {

namespace {

constexpr int k_cell_width = 420;
constexpr int k_cell_height = 300;
constexpr int k_gap = 14;
constexpr int k_words = 34; // above each row
constexpr float k_words_px_per_mm = 6;

struct SheetPicture {
    const Picture* picture = nullptr;
    int x = 0;
    int y = 0;
};
struct SheetWords {
    std::string text;
    int x = 0;
    int y = 0;
};

/// Small pictures and words on one surface, drawn once.
class SheetProgram : public Program {
  public:
    SheetProgram(std::vector<SheetPicture> cells, std::vector<SheetWords> words, ThemeKind kind)
        : cells_(std::move(cells)), words_(std::move(words)) {
        theme_.set_kind(kind);
    }
    void start(Textures& textures) override {
        ids_.reserve(cells_.size());
        for (const SheetPicture& cell : cells_)
            ids_.push_back(textures.make(
                {cell.picture->width, cell.picture->height, cell.picture->rgba.data()}));
    }
    bool resize(const Screen& screen) override {
        theme_.build_fonts(screen.px_per_mm, 1);
        screen_ = screen;
        return true;
    }
    void textures_lost() override {}
    void touch(const Touch&) override {}
    void wheel(float, float, float) override {}
    void key(Key) override {}
    void text(std::string_view) override {}
    void drop_file(std::string_view) override {}
    void frame(double) override {
        ImDrawList& list = *ImGui::GetBackgroundDrawList();
        list.AddRectFilled(
            ImVec2(0, 0),
            ImVec2(static_cast<float>(screen_.width_px), static_cast<float>(screen_.height_px)),
            theme_.colour(Ink::line));
        for (std::size_t i = 0; i < cells_.size(); ++i) {
            const SheetPicture& cell = cells_[i];
            const ImVec2 at(static_cast<float>(cell.x), static_cast<float>(cell.y));
            list.AddImage(ids_[i], at,
                          ImVec2(at.x + static_cast<float>(cell.picture->width),
                                 at.y + static_cast<float>(cell.picture->height)));
        }
        const ImFont* font = theme_.font(Face::body);
        for (const SheetWords& words : words_)
            list.AddText(font, font->FontSize,
                         ImVec2(static_cast<float>(words.x), static_cast<float>(words.y)),
                         theme_.colour(Ink::ink), words.text.c_str());
    }
    [[nodiscard]] double wake_in(double) const override {
        return std::numeric_limits<double>::infinity();
    }
    [[nodiscard]] bool done() const override { return false; }
    [[nodiscard]] bool wants_text() const override { return false; }

  private:
    std::vector<SheetPicture> cells_;
    std::vector<SheetWords> words_;
    std::vector<ImTextureID> ids_;
    Theme theme_;
    Screen screen_;
};

Result<Picture> put_together(std::vector<SheetPicture> cells, std::vector<SheetWords> words,
                             ThemeKind kind, int width, int height) {
    SheetProgram program(std::move(cells), std::move(words), kind);
    auto made = Headless::create(program, {width, height, k_words_px_per_mm});
    if (!made)
        return made.error();
    (*made)->settle(4);
    const std::string pixels = (*made)->pixels();
    return Picture{width, height, {pixels.begin(), pixels.end()}};
}

} // namespace

std::vector<SheetView> sheet_views() {
    std::vector<SheetView> views = {
        {"Sheet", {"rail/sheet"}},
        {"Positions", {"sheet/part/positions"}},
        {"Money", {"sheet/part/money"}},
        {"History", {"?sheet/part/history"}},
    };
    for (const Working& working : catalogue())
        views.push_back(
            {std::string(working.name),
             {"rail/workings", "workings/others", fmt::format("workings/offer/{}", working.key)}});
    views.push_back({"All workings", {"workings/others"}});
    views.push_back(
        {"Keypad",
         {"workings/offer/idle", "workings/field/reading", "keypad/9", "keypad/6", "keypad/m"}});
    views.push_back({"Beside", {"keypad/leave", "?beside/open", "?beside/handle", "beside/kept"}});
    views.push_back({"Photos", {"?beside/close", "?beside/handle", "rail/photos"}});
    views.push_back({"Steps", {"rail/steps"}});
    views.push_back({"Suspects", {"rail/suspects"}});
    views.push_back({"Handover", {"rail/sheet", "?sheet/part/unit", "sheet/handover"}});
    views.push_back({"Shelf", {"header/job"}});
    views.push_back({"Bench", {"shelf/bench"}});
    views.push_back({"Screen", {"bench/part/screen"}});
    return views;
}

Picture shrunk(const Picture& picture, int width, int height) {
    const double scale = std::max({1.0, static_cast<double>(picture.width) / width,
                                   static_cast<double>(picture.height) / height});
    Picture small;
    small.width = std::max(1, static_cast<int>(picture.width / scale));
    small.height = std::max(1, static_cast<int>(picture.height / scale));
    small.rgba.resize(static_cast<std::size_t>(small.width) *
                      static_cast<std::size_t>(small.height) * 4);
    const auto edge = [scale](int at, int most) {
        return std::min(most, static_cast<int>(std::lround(at * scale)));
    };
    for (int y = 0; y < small.height; ++y)
        for (int x = 0; x < small.width; ++x) {
            const int x0 = edge(x, picture.width - 1);
            const int y0 = edge(y, picture.height - 1);
            const int x1 = std::max(x0 + 1, edge(x + 1, picture.width));
            const int y1 = std::max(y0 + 1, edge(y + 1, picture.height));
            unsigned sum[4] = {0, 0, 0, 0};
            for (int sy = y0; sy < y1; ++sy)
                for (int sx = x0; sx < x1; ++sx)
                    for (std::size_t i = 0; i < 4; ++i)
                        sum[i] += picture.rgba[(static_cast<std::size_t>(sy) *
                                                    static_cast<std::size_t>(picture.width) +
                                                static_cast<std::size_t>(sx)) *
                                                   4 +
                                               i];
            const auto many = static_cast<unsigned>((x1 - x0) * (y1 - y0));
            for (std::size_t i = 0; i < 4; ++i)
                small.rgba[(static_cast<std::size_t>(y) * static_cast<std::size_t>(small.width) +
                            static_cast<std::size_t>(x)) *
                               4 +
                           i] = static_cast<std::uint8_t>((sum[i] + many / 2) / many);
        }
    return small;
}

Result<Picture> draw_contact_sheet(Bench& bench, const PictureWanted& wanted) {
    const std::vector<SheetView> views = sheet_views();
    const auto screens = reference_screens();
    std::vector<std::vector<Picture>> columns;
    columns.reserve(screens.size());
    std::vector<SheetWords> words;
    std::vector<SheetPicture> cells;
    int x = k_gap;
    for (const ReferenceScreen& screen : screens) {
        PictureWanted one = wanted;
        one.screen = screen_of(screen);
        auto drawn = draw_views(bench, one, views);
        if (!drawn)
            return drawn.error();
        for (Picture& picture : *drawn)
            picture = shrunk(picture, k_cell_width, k_cell_height);
        columns.push_back(std::move(*drawn));
        words.push_back({fmt::format("{}", screen.name), x, k_gap / 2});
        for (std::size_t row = 0; row < views.size(); ++row)
            cells.push_back(
                {&columns.back()[row], x,
                 k_words + static_cast<int>(row) * (k_cell_height + k_words) + k_words});
        x += std::max(columns.back().front().width, 170) + k_gap;
    }
    for (std::size_t row = 0; row < views.size(); ++row)
        words.push_back({views[row].name, k_gap,
                         k_words + static_cast<int>(row) * (k_cell_height + k_words) + 4});
    const int height = k_words + static_cast<int>(views.size()) * (k_cell_height + k_words) + k_gap;
    return put_together(std::move(cells), std::move(words), wanted.theme.value_or(ThemeKind::dark),
                        x, height);
}

} // namespace railside
