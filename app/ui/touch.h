// Fingers in, gestures out: one recogniser for all hosts, a pure function of time-stamped touches.
//
// A tap is a tap; a drag scrolls wherever it begins unless what lies under the finger keeps drags
// for itself; a finger held still is a long press; two fingers pinch and never click. Distances in
// millimetres, so that it feels the same on every screen.
#pragma once

#include <cstddef>
#include <cstdint>
#include <span>
#include <vector>

namespace railside {

enum class TouchPhase { begin, move, end, cancel };

struct Touch {
    TouchPhase phase = TouchPhase::begin;
    std::int64_t finger = 0;
    float x_px = 0;
    float y_px = 0;
    double time_s = 0; // monotonic
};

/// What lies under a finger when it goes down; the recogniser asks once per touch.
enum class Grip {
    scroll, // drags scroll (buttons, fields, bare ground)
    drag,   // drags belong to the control (plot cursor, photo, slider)
    repeat, // pressed at once, repeats while held (backspace)
    still,  // as scroll where nothing scrolls: a drag has no momentum
};

/// Every press is closed by exactly one tap, release or drag_end; a scroll is preceded by the
/// release. A drag that was cancelled (by the system or by a second finger) closes with release,
/// not drag_end: what it began is not to be kept. A touch that stops momentum presses nothing, but
/// may scroll or drag.
enum class GestureKind {
    press,      // a finger went down here: show it pressed
    release,    // no longer pressed, nothing done
    tap,        // went down and up in place
    hold,       // held still for the long-press time: once
    repeat,     // Grip::repeat: at once and then again while held
    scroll,     // dx, dy since the last one; x, y where the finger first went down
    fling,      // momentum: as scroll, after the finger left
    drag_begin, // Grip::drag
    drag,       // dx, dy since the last; x, y where the finger is
    drag_end,   //
    pinch,      // x, y the middle; dx, dy its movement; scale since the last
};

struct Gesture {
    GestureKind kind = GestureKind::tap;
    float x_px = 0;
    float y_px = 0;
    float dx_px = 0;
    float dy_px = 0;
    float scale = 1;
};

class TouchReader {
  public:
    /// Thresholds scale with it; 1 to 100.
    void set_density(float px_per_mm);

    /// `grip` is what lies under the finger, used for TouchPhase::begin only.
    void feed(const Touch& touch, Grip grip);
    /// Time passes: long press, repeats, momentum.
    void tick(double now_s);
    /// Ends momentum: what it moved can move no further.
    void stop() { flinging_ = false; }
    /// Seconds from now_s until tick is wanted again; infinity when nothing is under way.
    [[nodiscard]] double wake_in(double now_s) const;

    /// What has been recognised since the last clear(), in order. No allocation once its capacity
    /// has settled.
    [[nodiscard]] std::span<const Gesture> gestures() const { return gestures_; }
    void clear() { gestures_.clear(); }
    /// Forgets the first `count` of them.
    void forget(std::size_t count);

    /// A finger is down.
    [[nodiscard]] bool held() const;

  private:
    struct Finger {
        std::int64_t id = 0;
        float start_x = 0, start_y = 0, x = 0, y = 0;
        double start_s = 0;
    };
    struct Sample {
        double time_s = 0;
        float x = 0, y = 0;
    };
    enum class State { idle, pressed, scrolling, dragging, holding, repeating, pinching, spent };
    enum class Lift { done, cancelled };

    void begin(const Touch& touch, Grip grip);
    void move(std::size_t index, const Touch& touch);
    void pinch(std::size_t index, const Touch& touch);
    void lift(std::size_t index, const Touch& touch, Lift how);
    void close_first();
    void remember(const Touch& touch);
    void start_fling(const Finger& finger, double now_s);
    void emit(GestureKind kind, float x, float y, float dx = 0, float dy = 0, float scale = 1);

    std::vector<Gesture> gestures_;
    std::vector<Finger> fingers_; // in the order they went down
    std::vector<Sample> samples_; // of the first finger, the last 100 ms
    State state_ = State::idle;
    Grip grip_ = Grip::scroll;
    float px_per_mm_ = 6;
    float velocity_x_ = 0, velocity_y_ = 0;
    float fling_x_ = 0, fling_y_ = 0;
    double fling_s_ = 0;
    double next_repeat_s_ = 0;
    bool flinging_ = false;
    bool open_ = false;   // a press or drag was given out and not yet closed
    bool caught_ = false; // this touch stopped momentum
};

} // namespace railside
