#include "app/ui/ui.h"

#include "core/words/words.h"

#include <misc/cpp/imgui_stdlib.h>

#include <algorithm>
#include <cmath>
#include <limits>

namespace railside {

namespace {

// A second tap counts when it comes so soon and so near: fingers land some millimetres apart.
constexpr double k_twice_s = 0.4;
constexpr float k_twice_mm = 6;

ImVec2 at(float x, float y) { return {x, y}; }

// A rounded rectangle whose edge is dashed, walked along its four sides; corners are left as gaps.
void dashed_outline(ImDrawList& list, Rect r, ImU32 colour, float width, float dash) {
    const auto line = [&](float x0, float y0, float x1, float y1) {
        const float length = std::hypot(x1 - x0, y1 - y0);
        const int n = std::max(1, static_cast<int>(length / (2 * dash)));
        const float step = length / static_cast<float>(n);
        for (int i = 0; i < n; ++i) {
            const float a = (static_cast<float>(i) * step + step * 0.25f) / length;
            const float b = (static_cast<float>(i) * step + step * 0.75f) / length;
            list.AddLine(at(x0 + (x1 - x0) * a, y0 + (y1 - y0) * a),
                         at(x0 + (x1 - x0) * b, y0 + (y1 - y0) * b), colour, width);
        }
    };
    line(r.x0, r.y0, r.x1, r.y0);
    line(r.x1, r.y0, r.x1, r.y1);
    line(r.x1, r.y1, r.x0, r.y1);
    line(r.x0, r.y1, r.x0, r.y0);
}

/// Takes away the last character, however many bytes it has.
void erase_last(std::string& text) {
    while (!text.empty() && (static_cast<unsigned char>(text.back()) & 0xc0) == 0x80)
        text.pop_back();
    if (!text.empty())
        text.pop_back();
}

/// While ImGui edits, it owns the text: our own letters go in through its callback.
int type_pending(ImGuiInputTextCallbackData* data) {
    std::string& pending = *static_cast<std::string*>(data->UserData);
    for (const char c : pending) {
        data->ClearSelection();
        if (c != '\b') {
            data->InsertChars(data->CursorPos, &c, &c + 1);
            continue;
        }
        int from = data->CursorPos;
        while (from > 0 && (static_cast<unsigned char>(data->Buf[from - 1]) & 0xc0) == 0x80)
            --from;
        from = std::max(0, from - 1);
        if (from < data->CursorPos)
            data->DeleteChars(from, data->CursorPos - from);
    }
    pending.clear();
    return 0;
}

const char* end_of(std::string_view text) { return text.data() + text.size(); }

} // namespace

void Ui::touch(const Touch& touch) {
    reader_.set_density(theme_.px_per_mm());
    Grip grip = Grip::scroll;
    if (touch.phase == TouchPhase::begin) {
        focus_.clear();
        if (const Control* control = map_.at(touch.x_px, touch.y_px))
            grip = control->grip;
        // Momentum that moves nothing would swallow the next tap.
        if (grip == Grip::scroll && area_at(touch.x_px, touch.y_px) == nullptr)
            grip = Grip::still;
    }
    reader_.feed(touch, grip);
    ImGuiIO& io = ImGui::GetIO();
    if (touch.phase == TouchPhase::begin || touch.phase == TouchPhase::move)
        io.AddMousePosEvent(touch.x_px, touch.y_px);
}

void Ui::wheel(float x, float y, float notches) { scroll_by(x, y, notches * mm(12)); }

void Ui::move_focus(Step step) {
    const auto all = map_.controls();
    const int n = static_cast<int>(all.size());
    int from = -1;
    for (int i = 0; i < n; ++i)
        if (all[static_cast<std::size_t>(i)].name == focus_)
            from = i;
    const int d = step == Step::next ? 1 : -1;
    if (from < 0)
        from = step == Step::next ? -1 : n;
    for (int k = 1; k <= n; ++k) {
        const int i = ((from + d * k) % n + n) % n;
        const Control& control = all[static_cast<std::size_t>(i)];
        if (control.layer != map_.top_layer() || control.role == ControlRole::figure)
            continue;
        focus_ = control.name;
        // Bring it into view.
        for (const ScrollArea& area : areas_) {
            if (area.layer != control.layer || control.rect.mid_x() < area.rect.x0 ||
                control.rect.mid_x() > area.rect.x1)
                continue;
            if (!control.visible.empty() && control.visible.height() >= control.rect.height() - 1)
                continue;
            const float middle = control.rect.mid_y() - area.rect.mid_y();
            if (area.most() > 0)
                scroll_to(area.name, std::clamp(area.offset + middle, 0.0f, area.most()));
        }
        return;
    }
}

void Ui::tap_focus() {
    if (!focus_.empty())
        tap_name(focus_);
}

void Ui::tap_name(std::string_view name) { wanted_.assign(name); }

ScrollArea* Ui::area_at(float x, float y) {
    for (auto it = areas_.rbegin(); it != areas_.rend(); ++it)
        if (it->layer == map_.top_layer() && it->rect.holds(x, y) && it->most() > 0)
            return &*it;
    return nullptr;
}

bool Ui::scroll_by(float x, float y, float dy) {
    ScrollArea* area = area_at(x, y);
    if (area == nullptr)
        return false;
    // What is shown lies on whole pixels; the way of the finger adds up exactly.
    for (const Offset& kept : offsets_)
        if (kept.name == area->name && std::fabs(kept.offset - area->offset) < 1)
            area->offset = kept.offset;
    const float before = area->offset;
    area->offset = std::clamp(before - dy, 0.0f, area->most());
    scroll_to(area->name, area->offset);
    return area->offset != before;
}

void Ui::scroll_to(std::string_view name, float offset) {
    for (Offset& kept : offsets_)
        if (kept.name == name) {
            kept.offset = offset;
            return;
        }
    offsets_.push_back({std::string(name), offset});
}

void Ui::use_gestures() {
    tap_count_ = 0;
    drag_ = {};
    way_.clear();
    ImGuiIO& io = ImGui::GetIO();
    const auto add_tap = [&](std::string_view name, bool tapped, bool held) {
        if (tap_count_ == taps_.size())
            taps_.emplace_back();
        Tap& tap = taps_[tap_count_++];
        tap.name.assign(name);
        tap.tapped = tapped;
        tap.held = held;
    };
    // One answer a frame: what a slow frame kept waiting is answered in the next ones, in order. A
    // key that is held repeats no oftener than frames come, and not after it was let go.
    std::size_t used = 0;
    bool answered = false;
    for (const Gesture& gesture : reader_.gestures()) {
        if (answered && gesture.kind != GestureKind::repeat)
            break;
        ++used;
        answered = gesture.kind == GestureKind::tap || gesture.kind == GestureKind::hold ||
                   gesture.kind == GestureKind::repeat || gesture.kind == GestureKind::drag_end;
        const Control* control = map_.at(gesture.x_px, gesture.y_px);
        switch (gesture.kind) {
        case GestureKind::press:
            pressed_.assign(control ? std::string_view(control->name) : std::string_view());
            break;
        case GestureKind::release:
            pressed_.clear();
            break;
        case GestureKind::tap:
            pressed_.clear();
            if (control) {
                add_tap(control->name, true, false);
                if (control->role == ControlRole::plot || control->role == ControlRole::photo) {
                    dragging_ = control->name;
                    drag_.tapped = true;
                    drag_.twice = now_s_ - last_tap_.time_s < k_twice_s &&
                                  std::hypot(gesture.x_px - last_tap_.x,
                                             gesture.y_px - last_tap_.y) < mm(k_twice_mm);
                    last_tap_ = {drag_.twice ? now_s_ - k_twice_s : now_s_, gesture.x_px,
                                 gesture.y_px};
                    drag_.x = gesture.x_px;
                    drag_.y = gesture.y_px;
                }
            }
            // ImGui's own editor places its caret by these; nothing else listens to them.
            io.AddMousePosEvent(gesture.x_px, gesture.y_px);
            io.AddMouseButtonEvent(0, true);
            io.AddMouseButtonEvent(0, false);
            break;
        case GestureKind::hold:
            pressed_.clear();
            if (control)
                add_tap(control->name, false, true);
            break;
        case GestureKind::repeat:
            if (control)
                add_tap(control->name, true, false);
            break;
        case GestureKind::scroll:
            pressed_.clear();
            scroll_by(gesture.x_px, gesture.y_px, gesture.dy_px);
            break;
        case GestureKind::fling:
            pressed_.clear();
            if (!scroll_by(gesture.x_px, gesture.y_px, gesture.dy_px))
                reader_.stop();
            break;
        case GestureKind::drag_begin:
            pressed_.clear();
            dragging_.assign(control ? std::string_view(control->name) : std::string_view());
            drag_.active = drag_.begun = true;
            drag_.x = gesture.x_px;
            drag_.y = gesture.y_px;
            way_.assign(1, at(gesture.x_px, gesture.y_px));
            break;
        case GestureKind::drag:
            drag_.active = true;
            way_.push_back(at(gesture.x_px, gesture.y_px));
            drag_.dx += gesture.dx_px;
            drag_.dy += gesture.dy_px;
            drag_.x = gesture.x_px;
            drag_.y = gesture.y_px;
            break;
        case GestureKind::drag_end:
            drag_.active = false;
            drag_.ended = true;
            drag_.x = gesture.x_px;
            drag_.y = gesture.y_px;
            break;
        case GestureKind::pinch:
            if (control &&
                (control->role == ControlRole::photo || control->role == ControlRole::plot))
                dragging_ = control->name;
            drag_.active = drag_.pinched = true;
            drag_.dx += gesture.dx_px;
            drag_.dy += gesture.dy_px;
            drag_.scale *= gesture.scale;
            drag_.x = gesture.x_px;
            drag_.y = gesture.y_px;
            break;
        }
    }
    drag_.way = way_;
    reader_.forget(used);
    if (!wanted_.empty()) {
        add_tap(wanted_, true, false);
        wanted_.clear();
    }
}

void Ui::begin_frame(Rect screen, double now_s) {
    screen_ = screen;
    now_s_ = now_s;
    reader_.tick(now_s);
    use_gestures();
    map_.begin_frame();
    building_count_ = 0;
    open_areas_.clear();
    clips_.clear();
    clips_.push_back(screen);
    layer_ = 0;
    wants_text_ = false;
    filled_.clear();
    if (inks_ != nullptr)
        inks_->clear();

    ImGui::SetNextWindowPos(at(screen.x0, screen.y0));
    ImGui::SetNextWindowSize(at(screen.width(), screen.height()));
    ImGui::PushStyleVar(ImGuiStyleVar_WindowPadding, at(0, 0));
    ImGui::PushStyleVar(ImGuiStyleVar_WindowBorderSize, 0.0f);
    ImGui::PushStyleVar(ImGuiStyleVar_WindowRounding, 0.0f);
    ImGui::PushStyleVar(ImGuiStyleVar_WindowMinSize, at(1, 1));
    ImGui::Begin("bench", nullptr,
                 ImGuiWindowFlags_NoDecoration | ImGuiWindowFlags_NoMove |
                     ImGuiWindowFlags_NoBackground | ImGuiWindowFlags_NoNav |
                     ImGuiWindowFlags_NoSavedSettings | ImGuiWindowFlags_NoScrollWithMouse |
                     ImGuiWindowFlags_NoBringToFrontOnFocus);
    list_ = ImGui::GetWindowDrawList();
    fill(screen, Ink::ground);
}

void Ui::end_frame() {
    ImGui::End();
    ImGui::PopStyleVar(4);
    areas_.resize(building_count_);
    for (std::size_t i = 0; i < building_count_; ++i) {
        areas_[i].name.assign(building_[i].name);
        areas_[i].rect = building_[i].rect;
        areas_[i].layer = building_[i].layer;
        areas_[i].offset = building_[i].offset;
        areas_[i].content = building_[i].content;
    }
}

double Ui::wake_in(double now_s) const {
    if (!reader_.gestures().empty() || !wanted_.empty())
        return 0;
    return reader_.wake_in(now_s);
}

void Ui::begin_layer(Cover cover) {
    ++layer_;
    map_.raise_layer(layer_);
    if (cover == Cover::dim)
        list_->AddRectFilled(at(screen_.x0, screen_.y0), at(screen_.x1, screen_.y1),
                             IM_COL32(0, 0, 0, 150));
}

void Ui::end_layer() {
    // The map keeps the layer up: what lies below stays out of reach for this frame.
    --layer_;
}

Rect Ui::begin_scroll(std::string_view name, Rect area) {
    float offset = 0;
    for (const Offset& kept : offsets_)
        if (kept.name == name)
            offset = kept.offset;
    // Last frame's content bounds it, so that a shorter page does not stay scrolled past its end.
    for (const ScrollArea& last : areas_)
        if (last.name == name)
            offset = std::clamp(offset, 0.0f, std::max(0.0f, last.content - area.height()));
    offset = std::round(offset);
    if (building_count_ == building_.size())
        building_.emplace_back();
    ScrollArea& building = building_[building_count_++];
    building.name.assign(name);
    building.rect = area;
    building.layer = layer_;
    building.offset = offset;
    building.content = 0;
    open_areas_.push_back(building_count_ - 1);
    clips_.push_back(clips_.back().cross(area));
    list_->PushClipRect(at(area.x0, area.y0), at(area.x1, area.y1), true);
    return {area.x0, area.y0 - offset, area.x1, area.y0 - offset + 100000.0f};
}

void Ui::end_scroll(float content_bottom) {
    ScrollArea& area = building_[open_areas_.back()];
    area.content = content_bottom - (area.rect.y0 - area.offset);
    list_->PopClipRect();
    clips_.pop_back();
    open_areas_.pop_back();
    if (area.content > area.rect.height() + 1) {
        const float track = area.rect.height() - mm(2);
        const float size = std::max(mm(6), track * area.rect.height() / area.content);
        const float top =
            area.rect.y0 + mm(1) +
            (track - size) *
                (area.most() > 0 ? std::clamp(area.offset / area.most(), 0.0f, 1.0f) : 0);
        fill({area.rect.x1 - mm(0.7f), top, area.rect.x1, top + size}, Ink::line, 0.35f);
    }
}

void Ui::note_ink(float x, float y, float width, float height, std::string_view text, Face face,
                  Ink ink) {
    const Rect seen = Rect{x, y, x + width, y + height}.cross(clips_.back());
    if (seen.empty())
        return;
    InkUse use{std::string(text), ink, face, {}};
    for (const Filled& one : filled_) {
        if (!one.rect.holds(seen.mid_x(), seen.mid_y()))
            continue;
        if (one.ground.alpha >= 1)
            use.grounds.clear();
        use.grounds.push_back(one.ground);
    }
    inks_->push_back(std::move(use));
}

void Ui::fill(Rect rect, Ink ink, float radius_mm, float alpha) {
    if (inks_ != nullptr && !clips_.empty())
        filled_.push_back({rect.cross(clips_.back()), {ink, alpha}});
    list_->AddRectFilled(at(rect.x0, rect.y0), at(rect.x1, rect.y1), theme_.colour(ink, alpha),
                         mm(radius_mm));
}

void Ui::outline(Rect rect, Ink ink, float radius_mm, float width_mm, bool dashed) {
    const float width = std::max(1.0f, mm(width_mm));
    const Rect r = rect.inset(width / 2);
    if (dashed)
        dashed_outline(*list_, r, theme_.colour(ink), width, mm(0.9f));
    else
        list_->AddRect(at(r.x0, r.y0), at(r.x1, r.y1), theme_.colour(ink), mm(radius_mm), 0, width);
}

void Ui::rule(float x0, float x1, float y) {
    list_->AddRectFilled(at(x0, std::round(y)),
                         at(x1, std::round(y) + std::max(1.0f, std::round(mm(0.15f)))),
                         theme_.colour(Ink::faint));
}

float Ui::text_width(std::string_view english, Face face) const {
    const std::string_view text = words(english);
    const ImFont* font = theme_.font(face);
    return font
        ->CalcTextSizeA(font->FontSize, std::numeric_limits<float>::max(), 0, text.data(),
                        end_of(text))
        .x;
}

TextFit Ui::text(Rect rect, std::string_view english, Face face, Ink ink, Align align) {
    const std::string_view text = words(english);
    if (text.empty())
        return TextFit::fits;
    ImFont* font = theme_.font(face);
    float size = font->FontSize;
    float width = text_width(text, face);
    if (width > rect.width() && theme_.text_scale() > 1) {
        size = std::max(std::ceil(size / theme_.text_scale()),
                        std::floor(size * std::max(0.0f, rect.width()) / width));
        width = font->CalcTextSizeA(size, std::numeric_limits<float>::max(), 0, text.data(),
                                    end_of(text))
                    .x;
    }
    float x = rect.x0;
    if (align == Align::middle)
        x = rect.mid_x() - width / 2;
    else if (align == Align::right)
        x = rect.x1 - width;
    const float y = rect.mid_y() - size / 2;
    if (inks_ != nullptr)
        note_ink(x, y, width, size, text, face, ink);
    list_->AddText(font, size, at(std::round(x), std::round(y)), theme_.colour(ink), text.data(),
                   end_of(text));
    return width > rect.width() + 0.5f ? TextFit::clipped : TextFit::fits;
}

void Ui::text_cut(Rect rect, std::string_view english, Face face, Ink ink) {
    const std::string_view text = words(english);
    if (text_width(text, face) <= rect.width()) {
        this->text(rect, text, face, ink);
        return;
    }
    ImFont* font = theme_.font(face);
    const float dots = text_width("…", face);
    const char* rest = nullptr;
    const float used = font->CalcTextSizeA(font->FontSize, std::max(0.0f, rect.width() - dots), 0,
                                           text.data(), end_of(text), &rest)
                           .x;
    if (rest == nullptr || rest < text.data())
        rest = text.data();
    const std::string_view kept = text.substr(0, static_cast<std::size_t>(rest - text.data()));
    this->text(rect, kept, face, ink);
    this->text({rect.x0 + used, rect.y0, rect.x1, rect.y1}, "…", face, ink);
}

std::string_view Ui::take_line(std::string_view& rest, float width, Face face) const {
    const float space = text_width(" ", face);
    float used = 0;
    std::size_t taken = 0; // of the line, up to the last word that fits
    std::size_t at = 0;
    while (at <= rest.size()) {
        const std::size_t end = std::min(rest.find_first_of(" \n", at), rest.size());
        used += (at > 0 ? space : 0) + text_width(rest.substr(at, end - at), face);
        if (used > width && taken > 0)
            break;
        if (used > width) {
            // A word wider than the place is cut where it ends.
            const ImFont* font = theme_.font(face);
            const char* stop = nullptr;
            (void)font->CalcTextSizeA(font->FontSize, width, 0, rest.data(), rest.data() + end,
                                      &stop);
            const std::size_t fits =
                stop != nullptr ? static_cast<std::size_t>(stop - rest.data()) : 0;
            const std::string_view line = rest.substr(0, std::max<std::size_t>(fits, 1));
            rest.remove_prefix(line.size());
            return line;
        }
        taken = end;
        if (end == rest.size() || rest[end] == '\n')
            break;
        at = end + 1;
    }
    const std::string_view line = rest.substr(0, taken);
    rest.remove_prefix(std::min(rest.size(), taken + 1));
    return line;
}

float Ui::wrapped_height(float width, std::string_view english, Face face) const {
    std::string_view text = words(english);
    float height = 0;
    while (!text.empty()) {
        (void)take_line(text, std::max(1.0f, width), face);
        height += theme_.font(face)->FontSize;
    }
    return height;
}

float Ui::wrapped(float x, float y, float width, std::string_view english, Face face, Ink ink) {
    std::string_view text = words(english);
    ImFont* font = theme_.font(face);
    float height = 0;
    while (!text.empty()) {
        const std::string_view line = take_line(text, std::max(1.0f, width), face);
        if (inks_ != nullptr && !line.empty())
            note_ink(x, y + height, text_width(line, face), font->FontSize, line, face, ink);
        if (!line.empty())
            list_->AddText(font, font->FontSize, at(std::round(x), std::round(y + height)),
                           theme_.colour(ink), line.data(), end_of(line));
        height += font->FontSize;
    }
    return height;
}

float Ui::symbol_width(std::string_view symbol, Face face) const {
    const std::size_t under = symbol.find('_');
    if (under == std::string_view::npos)
        return text_width(symbol, face);
    const ImFont* font = theme_.font(face);
    const std::string_view sub = symbol.substr(under + 1);
    return text_width(symbol.substr(0, under), face) +
           font->CalcTextSizeA(font->FontSize * 0.72f, std::numeric_limits<float>::max(), 0,
                               sub.data(), end_of(sub))
               .x;
}

float Ui::symbol(float x, float top, std::string_view symbol, Face face, Ink ink) {
    if (symbol.empty())
        return 0;
    ImFont* font = theme_.font(face);
    const std::size_t under = symbol.find('_');
    const std::string_view letter = symbol.substr(0, under);
    list_->AddText(font, font->FontSize, at(std::round(x), std::round(top)), theme_.colour(ink),
                   letter.data(), end_of(letter));
    if (under != std::string_view::npos) {
        const std::string_view sub = symbol.substr(under + 1);
        const float size = std::round(font->FontSize * 0.72f);
        list_->AddText(
            font, size,
            at(std::round(x + text_width(letter, face)), std::round(top + font->FontSize * 0.40f)),
            theme_.colour(ink), sub.data(), end_of(sub));
    }
    return symbol_width(symbol, face);
}

Control& Ui::enrol(std::string_view name, ControlRole role, Rect rect, std::string_view label) {
    Control& control = map_.enrol(name, role, layer_);
    control.rect = rect;
    control.visible = rect.cross(clips_.back());
    control.label.assign(words(label));
    control.focused = has_focus(name);
    return control;
}

Touched Ui::touched(std::string_view name) {
    Touched result;
    for (std::size_t i = 0; i < tap_count_; ++i)
        if (taps_[i].name == name) {
            result.tapped = result.tapped || taps_[i].tapped;
            result.held = result.held || taps_[i].held;
        }
    return result;
}

void Ui::note_fit(TextFit fit) {
    if (fit == TextFit::clipped && !map_.controls().empty())
        map_.last().fit = fit;
}

void Ui::focus_ring(Rect rect, float radius_mm) {
    outline(rect.inset(-mm(0.4f)), Ink::ink, radius_mm + 0.4f, 0.5f);
}

Touched Ui::area(std::string_view name, Rect rect, std::string_view label, const ButtonSpec& spec) {
    Control& control = enrol(name, spec.role, rect, label);
    control.value.assign(spec.value);
    control.standing = spec.dead ? Answering::dead : Answering::live;
    control.selected = spec.selected;
    control.grip = spec.grip;
    if (has_focus(name))
        focus_ring(rect, 1.5f);
    return touched(name);
}

Dragged Ui::drag_area(std::string_view name, Rect rect, std::string_view label, ControlRole role,
                      std::string_view value) {
    Control& control = enrol(name, role, rect, label);
    control.value.assign(value);
    control.grip = Grip::drag;
    if (has_focus(name))
        focus_ring(rect, 1.5f);
    if (dragging_ == name)
        return drag_;
    return {};
}

void Ui::figure(std::string_view name, Rect rect, std::string_view label, std::string_view value,
                TextFit fit) {
    Control& control = enrol(name, ControlRole::figure, rect, label);
    control.value.assign(value);
    control.fit = fit;
}

Touched Ui::button(std::string_view name, Rect rect, std::string_view english,
                   const ButtonSpec& spec) {
    const std::string_view label = words(english);
    const bool down = pressed(name);
    Ink ground = Ink::raised;
    Ink ink = Ink::ink;
    float radius = 1.5f;
    switch (spec.look) {
    case Look::plain:
        break;
    case Look::primary:
        ground = Ink::primary;
        ink = Ink::on_primary;
        break;
    case Look::quiet:
        ground = Ink::pane;
        break;
    case Look::special:
        ground = Ink::special;
        break;
    case Look::danger:
        ink = Ink::outside;
        break;
    case Look::selected:
        ground = Ink::primary;
        ink = Ink::on_primary;
        break;
    }
    if (spec.dead) {
        ink = Ink::soft;
        outline(rect, Ink::faint, radius, 0.2f);
    } else if (spec.look != Look::quiet || down) {
        fill(rect, down ? Ink::line : ground, radius);
    }
    const Touched result = area(name, rect, label, spec);

    // One line where it fits, else two, else the note face; only then is it clipped.
    const Rect inner = rect.inset(mm(1.2f), 0);
    const bool bold =
        spec.face == Face::body && (spec.look == Look::primary || spec.look == Look::selected);
    const Face face = bold ? Face::strong : spec.face;
    if (text_width(label, face) <= inner.width()) {
        text(inner, label, face, ink, Align::middle);
        return result;
    }
    for (const Face smaller : {face, Face::note}) {
        const std::size_t space = label.rfind(' ', label.size() * 2 / 3);
        if (text_width(label, smaller) <= inner.width()) {
            text(inner, label, smaller, ink, Align::middle);
            return result;
        }
        if (space != std::string_view::npos) {
            const std::string_view first = label.substr(0, space);
            const std::string_view second = label.substr(space + 1);
            const float pitch = theme_.font(smaller)->FontSize;
            // In the last resort text set larger than usual shrinks to its place.
            const float most = inner.width() * (smaller == Face::note ? theme_.text_scale() : 1.0f);
            if (text_width(first, smaller) <= most && text_width(second, smaller) <= most &&
                2 * pitch <= rect.height() - mm(0.9f)) {
                text({inner.x0, rect.mid_y() - pitch, inner.x1, rect.mid_y()}, first, smaller, ink,
                     Align::middle);
                text({inner.x0, rect.mid_y(), inner.x1, rect.mid_y() + pitch}, second, smaller, ink,
                     Align::middle);
                return result;
            }
        }
    }
    note_fit(text(inner, label, Face::note, ink, Align::middle));
    return result;
}

bool Ui::edit_text(std::string_view name, Rect rect, std::string& text, std::string& pending,
                   std::string_view label) {
    Control& control = enrol(name, ControlRole::text, rect, label);
    control.value.assign(text);
    fill(rect, Ink::raised, 1.5f);
    ImFont* font = theme_.font(Face::body);
    ImGui::PushFont(font);
    ImGui::PushStyleColor(ImGuiCol_FrameBg, IM_COL32(0, 0, 0, 0));
    ImGui::PushStyleColor(ImGuiCol_Text, theme_.colour(Ink::ink));
    ImGui::PushStyleVar(ImGuiStyleVar_FramePadding,
                        at(mm(2), std::max(0.0f, (rect.height() - font->FontSize) / 2)));
    ImGui::SetCursorScreenPos(at(rect.x0, rect.y0));
    // Another text is another field to ImGui, which else would go on with the one before.
    ImGui::PushID(label.data(), end_of(label));
    ImGui::SetNextItemWidth(rect.width());
    if (ImGui::IsWindowAppearing() || !ImGui::IsAnyItemActive())
        ImGui::SetKeyboardFocusHere();
    bool changed = ImGui::InputText("##text", &text, ImGuiInputTextFlags_CallbackAlways,
                                    type_pending, &pending);
    if (!pending.empty() && !ImGui::IsItemActive()) {
        // No caret to type at: the letters go to the end.
        for (const char c : pending)
            if (c != '\b')
                text += c;
            else
                erase_last(text);
        pending.clear();
        changed = true;
    }
    wants_text_ = ImGui::IsItemActive();
    ImGui::PopID();
    ImGui::PopStyleVar();
    ImGui::PopStyleColor(2);
    ImGui::PopFont();
    return changed;
}

} // namespace railside
