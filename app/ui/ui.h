// The drawing hand of every room: text, controls, scrolling parts and layers, all enrolled in the
// control map.
//
// Rooms get rectangles and cut them up; ImGui supplies the draw lists, the fonts and the editing of
// free text. Touches are answered from the control map of the frame before, so that what was seen
// is what is hit.
#pragma once

#include "app/ui/control_map.h"
#include "app/ui/name.h"
#include "app/ui/rect.h"
#include "app/ui/theme.h"
#include "app/ui/touch.h"

#include <imgui.h>

#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace railside {

enum class Align { left, middle, right };

/// How a button looks.
enum class Look {
    plain,    // raised shade
    primary,  // the one action of the screen
    quiet,    // no ground until pressed
    special,  // prefix keys
    danger,   // an answer that means stop
    selected, // chosen tab or choice
};

struct ButtonSpec {
    Look look = Look::plain;
    ControlRole role = ControlRole::button;
    bool dead = false; // drawn dim; tapping still reports, so that the reason can be shown
    bool selected = false;
    Grip grip = Grip::scroll;
    Face face = Face::body;
    std::string_view value = {}; // for the map: what a reader hears after the label
};

/// What happened to a control since the last frame.
struct Touched {
    bool tapped = false;
    bool held = false; // long press
    explicit operator bool() const { return tapped; }
};

/// What a drag or pinch did to a control that keeps its drags, since the last frame.
struct Dragged {
    bool active = false;
    float dx = 0, dy = 0, scale = 1;
    float x = 0, y = 0; // where the finger is
    bool tapped = false;
    bool twice = false;   // tapped a second time in the same place, soon after
    bool pinched = false; // two fingers moved it
    bool begun = false;   // the drag began since the last frame
    bool ended = false;   // the finger left after a drag
    /// Where the finger was since the last frame, in order; from where it was put down when begun.
    std::span<const ImVec2> way = {};

    [[nodiscard]] bool moved() const { return dx != 0 || dy != 0 || scale != 1; }
};

/// A ground that a text was drawn over.
struct InkGround {
    Ink ink = Ink::ground;
    float alpha = 1;
};
/// A text as it was drawn: in which colour, over which grounds, the lowest first; the first is
/// opaque.
struct InkUse {
    std::string text;
    Ink ink = Ink::ink;
    Face face = Face::body;
    std::vector<InkGround> grounds;
};

class Ui {
  public:
    /// While a list is given, every text drawn is written to it with what lies behind it. For the
    /// audit; null ends it. Texts over pictures have the grounds below the picture.
    void watch_inks(std::vector<InkUse>* into) { inks_ = into; }

    Theme& theme() { return theme_; }
    [[nodiscard]] const Theme& theme() const { return theme_; }
    [[nodiscard]] float mm(float millimetres) const { return theme_.mm(millimetres); }
    [[nodiscard]] const ControlMap& controls() const { return map_; }

    /// Hosts' events.
    void touch(const Touch& touch);
    void wheel(float x, float y, float notches);
    /// Keyboard: moves the ring, taps what it is on.
    enum class Step { next, previous };
    void move_focus(Step step);
    void tap_focus();
    void clear_focus() { focus_.clear(); }
    [[nodiscard]] std::string_view focus() const { return focus_; }
    /// Taps a control by name as a finger would, at the next frame. For shortcuts.
    void tap_name(std::string_view name);

    void begin_frame(Rect screen, double now_s);
    /// True when something still moves.
    void end_frame();
    [[nodiscard]] double wake_in(double now_s) const;

    // Layers: what is drawn between these covers what came before and takes all touches.
    enum class Cover {
        dim,   // what lies below is darkened
        clear, // what lies below stays readable
    };
    void begin_layer(Cover cover = Cover::dim);
    void end_layer();

    // Scrolling. Draw into the returned rectangle (its top moves); tell end_scroll how far down the
    // content went.
    Rect begin_scroll(std::string_view name, Rect area);
    void end_scroll(float content_bottom);
    void scroll_to(std::string_view name, float offset);
    [[nodiscard]] std::span<const ScrollArea> scroll_areas() const {
        return {areas_.data(), areas_.size()};
    }

    // Shapes.
    void fill(Rect rect, Ink ink, float radius_mm = 0, float alpha = 1);
    void outline(Rect rect, Ink ink, float radius_mm, float width_mm, bool dashed = false);
    void rule(float x0, float x1, float y); // a thin line
    [[nodiscard]] ImDrawList& list() { return *list_; }

    // Text. One line; too long a text is cut with an ellipsis only where `may_cut`, else the fit
    // says clipped. Where text is set larger than usual, one that is too long shrinks to its place,
    // though never below the usual size.
    TextFit text(Rect rect, std::string_view text, Face face, Ink ink, Align align = Align::left);
    /// As text(), but an ellipsis is meant to stand where it ends (a title that is whole
    /// elsewhere).
    void text_cut(Rect rect, std::string_view text, Face face, Ink ink);
    /// Wraps at spaces and line ends only (a thin space or a decimal point holds a value together);
    /// returns the height used.
    float wrapped(float x, float y, float width, std::string_view text, Face face, Ink ink);
    [[nodiscard]] float wrapped_height(float width, std::string_view text, Face face) const;
    [[nodiscard]] float text_width(std::string_view text, Face face) const;
    /// "R_E" as R with a small E below the line; returns its width.
    float symbol(float x, float baseline_top, std::string_view symbol, Face face, Ink ink);
    [[nodiscard]] float symbol_width(std::string_view symbol, Face face) const;

    // Controls.
    Touched button(std::string_view name, Rect rect, std::string_view label,
                   const ButtonSpec& spec = {});
    /// A control that draws itself: enrols and reports.
    Touched area(std::string_view name, Rect rect, std::string_view label, const ButtonSpec& spec);
    /// `value` is what a reader hears after the label.
    Dragged drag_area(std::string_view name, Rect rect, std::string_view label, ControlRole role,
                      std::string_view value = {});
    /// Something shown that the map should know (verdict, headline): no touch.
    void figure(std::string_view name, Rect rect, std::string_view label, std::string_view value,
                TextFit fit = TextFit::fits);
    /// The fit of what was just drawn on the last enrolled control.
    void note_fit(TextFit fit);
    [[nodiscard]] bool pressed(std::string_view name) const {
        return !pressed_.empty() && pressed_ == name;
    }
    [[nodiscard]] bool has_focus(std::string_view name) const {
        return !focus_.empty() && focus_ == name;
    }

    /// Free text by ImGui's own editor, in `rect`. `pending` holds what our own letters typed since
    /// the last frame ('\b' erases); it goes in at the caret and is cleared. Returns true when the
    /// text changed.
    bool edit_text(std::string_view name, Rect rect, std::string& text, std::string& pending,
                   std::string_view label);
    [[nodiscard]] bool wants_text() const { return wants_text_; }

  private:
    struct Tap {
        std::string name;
        bool tapped = false;
        bool held = false;
    };
    void use_gestures();
    /// The part under that point that can scroll, topmost first; null when there is none.
    ScrollArea* area_at(float x, float y);
    /// Whether it moved anything.
    bool scroll_by(float x, float y, float dy);
    Control& enrol(std::string_view name, ControlRole role, Rect rect, std::string_view label);
    Touched touched(std::string_view name);
    [[nodiscard]] std::string_view take_line(std::string_view& rest, float width, Face face) const;
    void focus_ring(Rect rect, float radius_mm);

    Theme theme_;
    ControlMap map_;
    TouchReader reader_;
    ImDrawList* list_ = nullptr;
    Rect screen_;
    double now_s_ = 0;

    std::string pressed_;
    std::string focus_;
    std::vector<Tap> taps_; // for this frame
    std::size_t tap_count_ = 0;
    std::string dragging_;
    Dragged drag_;
    std::vector<ImVec2> way_;
    std::string wanted_; // tap by name
    struct LastTap {
        double time_s = -10;
        float x = 0, y = 0;
    };
    LastTap last_tap_;

    struct Filled {
        Rect rect;
        InkGround ground;
    };
    void note_ink(float x, float y, float width, float height, std::string_view text, Face face,
                  Ink ink);
    std::vector<InkUse>* inks_ = nullptr;
    std::vector<Filled> filled_; // while inks are watched, in the order of drawing

    int layer_ = 0;
    std::vector<Rect> clips_;
    std::vector<ScrollArea> areas_;    // of the last whole frame
    std::vector<ScrollArea> building_; // of this one; names keep their capacity
    std::size_t building_count_ = 0;
    std::vector<std::size_t> open_areas_;
    struct Offset {
        std::string name;
        float offset = 0;
    };
    std::vector<Offset> offsets_;
    bool wants_text_ = false;
};

} // namespace railside
