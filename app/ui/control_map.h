// Every control on the screen, enrolled each frame: what it is called, what it does, where it lies.
// Touches are answered from it, the robot taps by name through it, the audit measures it, and a
// screen reader's mirror can be made from it.
#pragma once

#include "app/ui/rect.h"
#include "app/ui/touch.h"

#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace railside {

enum class ControlRole {
    button, // does something
    tab,    // one of a few views; selected or not
    tick,   // a step's box; selected when done
    field,  // a value; tapping opens the keypad
    key,    // a key of the keypad or of the letters
    choice, // one of a few words; selected or not
    photo,  // a picture that can be moved and zoomed
    plot,   // a plot with a cursor
    slider, // a value that a drag changes
    text,   // a line being edited
    figure, // shown, not touched: headline, verdict, a note (no size rule)
};
[[nodiscard]] std::string_view control_role_key(ControlRole role);

enum class Answering {
    live, // answers
    dead, // does not answer now; a tap says why
};

enum class TextFit {
    fits,    //
    clipped, // the text is cut off: a fault the audit finds
};

struct Control {
    std::string name; // "keypad/1", unique on a frame
    ControlRole role = ControlRole::button;
    std::string label;
    std::string value;
    Answering standing = Answering::live;
    bool selected = false;
    bool focused = false; // the keyboard's ring is on it
    Rect rect;            // whole
    Rect visible;         // the part not scrolled away; empty when none is
    Grip grip = Grip::scroll;
    int layer = 0;
    TextFit fit = TextFit::fits;
};

/// A scrolling part of the screen.
struct ScrollArea {
    std::string name;
    Rect rect;
    int layer = 0;
    float offset = 0;  // px scrolled down
    float content = 0; // px of content
    [[nodiscard]] float most() const {
        return content > rect.height() ? content - rect.height() : 0;
    }
};

class ControlMap {
  public:
    void begin_frame();
    /// The returned control is filled in by the caller; good until the next enrol.
    Control& enrol(std::string_view name, ControlRole role, int layer);
    /// The one enrolled last; only when there is one.
    [[nodiscard]] Control& last() { return controls_[count_ - 1]; }

    /// Controls above `layer` only answer while a layer is open.
    void raise_layer(int layer) { top_layer_ = layer > top_layer_ ? layer : top_layer_; }

    [[nodiscard]] std::span<const Control> controls() const { return {controls_.data(), count_}; }
    [[nodiscard]] const Control* find(std::string_view name) const;
    /// The control a finger there touches: topmost layer, last drawn, visible part. Figures are
    /// passed over.
    [[nodiscard]] const Control* at(float x, float y) const;
    [[nodiscard]] int top_layer() const { return top_layer_; }

  private:
    std::vector<Control> controls_; // strings keep their capacity from frame to frame
    std::size_t count_ = 0;
    int top_layer_ = 0;
};

} // namespace railside
