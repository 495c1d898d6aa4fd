#include "app/ui/touch.h"

#include <algorithm>
#include <cmath>
#include <limits>

namespace railside {

namespace {

// A finger that moves away at once means to scroll; one that has rested may roll a little further
// before it counts as moved.
constexpr float k_scroll_slop_mm = 1.6F;
constexpr float k_rest_slop_mm = 2.5F;
constexpr double k_rest_s = 0.15;
constexpr float k_drag_slop_mm = 0.8F;
constexpr double k_hold_s = 0.5;

constexpr double k_repeat_first_s = 0.45;
constexpr double k_repeat_next_s = 0.08;
// Further than this the finger has slid off the key (keys are 12 mm), which is how a person stops
// it.
constexpr float k_repeat_slip_mm = 9.0F;

constexpr double k_velocity_window_s = 0.1;
// Two reports of one moment say nothing about speed: never divide by less than this.
constexpr double k_velocity_least_s = 0.008;
constexpr double k_fling_tau_s = 0.33;
constexpr float k_fling_start_mm_s = 8.0F;
constexpr float k_fling_end_mm_s = 3.3F;
constexpr float k_fling_most_mm_s = 2500.0F;

// Fingers that touch each other have no direction to pinch along: scale from at least this
// distance.
constexpr float k_pinch_least_mm = 2.0F;

constexpr double k_never = std::numeric_limits<double>::infinity();

// No screen is wider than this many pixels: what lies beyond is a driver's mistake.
constexpr float k_most_px = 1e6F;

bool usable(const Touch& touch) {
    return std::abs(touch.x_px) <= k_most_px && std::abs(touch.y_px) <= k_most_px &&
           std::isfinite(touch.time_s);
}

} // namespace

void TouchReader::set_density(float px_per_mm) {
    if (std::isfinite(px_per_mm)) {
        px_per_mm_ = std::clamp(px_per_mm, 1.0F, 100.0F);
    }
}

bool TouchReader::held() const { return !fingers_.empty(); }

void TouchReader::emit(GestureKind kind, float x, float y, float dx, float dy, float scale) {
    gestures_.push_back({kind, x, y, dx, dy, scale});
}

void TouchReader::feed(const Touch& touch, Grip grip) {
    if (!usable(touch)) {
        return;
    }
    // What fell due before this touch comes before it, however seldom tick is called.
    tick(touch.time_s);
    const auto known = std::find_if(fingers_.begin(), fingers_.end(), [&](const Finger& finger) {
        return finger.id == touch.finger;
    });
    if (touch.phase == TouchPhase::begin) {
        if (known != fingers_.end()) {
            // Its end was lost: what it was doing is undone, not done.
            lift(static_cast<std::size_t>(known - fingers_.begin()), touch, Lift::cancelled);
        }
        begin(touch, grip);
        return;
    }
    if (known == fingers_.end()) {
        return;
    }
    const auto index = static_cast<std::size_t>(known - fingers_.begin());
    if (touch.phase != TouchPhase::cancel) {
        move(index, touch); // a finger may leave further on than it was last reported
    }
    if (touch.phase == TouchPhase::end) {
        lift(index, touch, Lift::done);
    } else if (touch.phase == TouchPhase::cancel) {
        lift(index, touch, Lift::cancelled);
    }
}

void TouchReader::begin(const Touch& touch, Grip grip) {
    fingers_.push_back(
        {touch.finger, touch.x_px, touch.y_px, touch.x_px, touch.y_px, touch.time_s});
    if (fingers_.size() > 1) {
        if (fingers_.size() == 2 && state_ != State::spent) {
            close_first();
            state_ = State::pinching;
        }
        return;
    }
    grip_ = grip;
    samples_.clear();
    remember(touch);
    caught_ = flinging_;
    flinging_ = false;
    state_ = State::pressed;
    if (caught_) {
        return; // stops what was running, presses nothing
    }
    emit(GestureKind::press, touch.x_px, touch.y_px);
    open_ = true;
    if (grip == Grip::repeat) {
        state_ = State::repeating;
        next_repeat_s_ = touch.time_s + k_repeat_first_s;
        emit(GestureKind::repeat, touch.x_px, touch.y_px);
    }
}

void TouchReader::move(std::size_t index, const Touch& touch) {
    Finger& finger = fingers_[index];
    const float dx = touch.x_px - finger.x;
    const float dy = touch.y_px - finger.y;
    if (state_ == State::pinching && index < 2) {
        pinch(index, touch);
        return;
    }
    finger.x = touch.x_px;
    finger.y = touch.y_px;
    if (index != 0) {
        return;
    }
    remember(touch);
    const float from_start_x = touch.x_px - finger.start_x;
    const float from_start_y = touch.y_px - finger.start_y;
    const float away_mm = std::hypot(from_start_x, from_start_y) / px_per_mm_;

    switch (state_) {
    case State::pressed:
        if (grip_ == Grip::drag) {
            if (away_mm > k_drag_slop_mm) {
                state_ = State::dragging;
                open_ = true;
                emit(GestureKind::drag_begin, finger.start_x, finger.start_y);
                emit(GestureKind::drag, touch.x_px, touch.y_px, from_start_x, from_start_y);
            }
        } else if (away_mm >
                   (touch.time_s - finger.start_s < k_rest_s ? k_scroll_slop_mm : k_rest_slop_mm)) {
            close_first();
            state_ = State::scrolling;
            // The whole way, so that the ground stays under the finger.
            emit(GestureKind::scroll, finger.start_x, finger.start_y, from_start_x, from_start_y);
        }
        break;
    case State::scrolling:
        if (dx != 0 || dy != 0) {
            emit(GestureKind::scroll, finger.start_x, finger.start_y, dx, dy);
        }
        break;
    case State::dragging:
        if (dx != 0 || dy != 0) {
            emit(GestureKind::drag, touch.x_px, touch.y_px, dx, dy);
        }
        break;
    case State::repeating:
        if (away_mm > k_repeat_slip_mm) {
            close_first();
            state_ = State::spent;
        }
        break;
    case State::idle:
    case State::holding:
    case State::pinching:
    case State::spent:
        break;
    }
}

void TouchReader::pinch(std::size_t index, const Touch& touch) {
    const auto middle = [&](float Finger::*axis) {
        return (fingers_[0].*axis + fingers_[1].*axis) / 2;
    };
    const auto apart = [&] {
        return std::max(std::hypot(fingers_[0].x - fingers_[1].x, fingers_[0].y - fingers_[1].y),
                        k_pinch_least_mm * px_per_mm_);
    };
    const float old_x = middle(&Finger::x);
    const float old_y = middle(&Finger::y);
    const float old_apart = apart();
    fingers_[index].x = touch.x_px;
    fingers_[index].y = touch.y_px;
    const float x = middle(&Finger::x);
    const float y = middle(&Finger::y);
    const float scale = apart() / old_apart;
    if (x != old_x || y != old_y || scale != 1) {
        emit(GestureKind::pinch, x, y, x - old_x, y - old_y, scale);
    }
}

void TouchReader::lift(std::size_t index, const Touch& touch, Lift how) {
    const Finger finger = fingers_[index];
    fingers_.erase(fingers_.begin() + static_cast<std::ptrdiff_t>(index));
    if (state_ == State::pinching && index < 2) {
        state_ = State::spent;
    } else if (index == 0 && state_ != State::pinching && state_ != State::spent) {
        if (how == Lift::done) {
            switch (state_) {
            case State::pressed:
                if (open_) {
                    emit(GestureKind::tap, finger.start_x, finger.start_y);
                    open_ = false;
                }
                break;
            case State::dragging:
                emit(GestureKind::drag_end, finger.x, finger.y);
                open_ = false;
                break;
            case State::scrolling:
                if (grip_ != Grip::still)
                    start_fling(finger, touch.time_s);
                break;
            case State::holding:
            case State::repeating:
            case State::idle:
            case State::pinching:
            case State::spent:
                break;
            }
        }
        if (open_) {
            emit(GestureKind::release, finger.x, finger.y);
            open_ = false;
        }
        state_ = State::spent;
    }
    if (fingers_.empty()) {
        state_ = State::idle;
    }
}

void TouchReader::close_first() {
    if (open_) {
        emit(GestureKind::release, fingers_.front().x, fingers_.front().y);
        open_ = false;
    }
}

void TouchReader::remember(const Touch& touch) {
    const auto old = std::find_if(samples_.begin(), samples_.end(), [&](const Sample& sample) {
        return sample.time_s >= touch.time_s - k_velocity_window_s;
    });
    samples_.erase(samples_.begin(), old);
    samples_.push_back({touch.time_s, touch.x_px, touch.y_px});
}

void TouchReader::start_fling(const Finger& finger, double now_s) {
    const auto first = std::find_if(samples_.begin(), samples_.end(), [&](const Sample& sample) {
        return sample.time_s >= now_s - k_velocity_window_s;
    });
    if (first == samples_.end()) {
        return; // rested before it left
    }
    const double span_s = std::max(now_s - first->time_s, k_velocity_least_s);
    const auto vx = static_cast<float>((finger.x - first->x) / span_s);
    const auto vy = static_cast<float>((finger.y - first->y) / span_s);
    const float speed = std::hypot(vx, vy);
    if (!(speed > k_fling_start_mm_s * px_per_mm_)) {
        return;
    }
    const float cut = std::min(1.0F, k_fling_most_mm_s * px_per_mm_ / speed);
    velocity_x_ = vx * cut;
    velocity_y_ = vy * cut;
    fling_x_ = finger.start_x;
    fling_y_ = finger.start_y;
    fling_s_ = now_s;
    flinging_ = true;
}

void TouchReader::tick(double now_s) {
    if (!std::isfinite(now_s)) {
        return;
    }
    if (flinging_) {
        // v = v0·exp(−t/τ), so the way gone is (v0 − v)·τ: the same at any frame rate.
        const double speed = std::hypot(velocity_x_, velocity_y_);
        const double slow = static_cast<double>(k_fling_end_mm_s) * px_per_mm_;
        const double left_s = speed > slow ? k_fling_tau_s * std::log(speed / slow) : 0;
        const double step_s = std::clamp(now_s - fling_s_, 0.0, left_s);
        const double kept = std::exp(-step_s / k_fling_tau_s);
        if (step_s > 0) {
            const double way_s = k_fling_tau_s * (1 - kept);
            emit(GestureKind::fling, fling_x_, fling_y_, static_cast<float>(velocity_x_ * way_s),
                 static_cast<float>(velocity_y_ * way_s));
        }
        if (now_s - fling_s_ >= left_s) {
            flinging_ = false;
        } else if (step_s > 0) {
            velocity_x_ = static_cast<float>(velocity_x_ * kept);
            velocity_y_ = static_cast<float>(velocity_y_ * kept);
            fling_s_ = now_s;
        }
    }
    if (state_ == State::pressed && open_ && now_s >= fingers_.front().start_s + k_hold_s) {
        state_ = State::holding;
        emit(GestureKind::hold, fingers_.front().start_x, fingers_.front().start_y);
    }
    if (state_ == State::repeating && now_s >= next_repeat_s_) {
        // One for each tick: a frame that took long must not delete a whole line.
        emit(GestureKind::repeat, fingers_.front().start_x, fingers_.front().start_y);
        next_repeat_s_ += k_repeat_next_s;
        if (next_repeat_s_ <= now_s) {
            next_repeat_s_ = now_s + k_repeat_next_s;
        }
    }
}

void TouchReader::forget(std::size_t count) {
    const std::size_t many = std::min(count, gestures_.size());
    gestures_.erase(gestures_.begin(), gestures_.begin() + static_cast<std::ptrdiff_t>(many));
}

double TouchReader::wake_in(double now_s) const {
    if (flinging_) {
        return 0;
    }
    if (state_ == State::pressed && open_) {
        return std::max(0.0, fingers_.front().start_s + k_hold_s - now_s);
    }
    if (state_ == State::repeating) {
        return std::max(0.0, next_repeat_s_ - now_s);
    }
    return k_never;
}

} // namespace railside
