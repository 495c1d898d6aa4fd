// What the keypad knows while a value is typed: which keys may follow, the value as understood, and
// what is wrong or unusual. Pure; drawn by keypad.h.
#pragma once

#include "core/working/working.h"

#include <memory>
#include <string>
#include <string_view>
#include <vector>

namespace railside {

/// A value that was used before for this field; one tap types it.
struct QuickValue {
    std::string label; // "right 11.4 mV"
    std::string text;  // "11.4m"
};

/// The field being keyed and what has been typed so far.
struct KeypadState {
    std::string target; // what the value is for; comes back with it ("workings/reading")
    std::string title;  // "Idle current · left"
    Field field;        // label, unit, range
    std::shared_ptr<const std::string> own_label; // holds field.label where no catalogue does
    std::string text;                             // typed so far
    std::string before;                           // what stood there
    std::vector<QuickValue> quick;
    /// What the value is likely to be near, from the job: the other channel's, else the last
    /// reading, else what stood there; SI, 0: nothing is known.
    double compare = 0;
    std::string compare_name; // "the right channel's 11.4 mV"
    std::string compared;     // text of the quick value last tapped to compare with
    std::string comparison;   // what came of it; gone with the next key
    std::string refused;      // why the last key did nothing; gone with the next one that does
    bool fresh = true;        // the first key replaces what stood there
};

enum class KeypadTone {
    quiet,   // nothing to say yet
    usual,   // may be set
    unusual, // may be set, but only by holding
    refused, // cannot be set
};

struct KeypadKey {
    std::string_view key;   // "7", ".", "m", "erase", "sign"
    std::string_view label; // "7", "µ", "⌫"
    bool live = true;
};

struct KeypadShown {
    std::string typed;  // number part as typed
    std::string suffix; // its prefix letter, drawn softer
    std::string spoken; // "96.0 millivolt = 0.0960 V", or the accepted range while nothing is typed
    std::string message; // unusual or refused: the reason
    KeypadTone tone = KeypadTone::quiet;
    std::string set_label;           // "Set 96.0 mV", "Hold to set 96.0 mV"
    std::vector<KeypadKey> digits;   // 1..9, then sign, 0, point
    std::vector<KeypadKey> prefixes; // those that fit, largest first; at most four
    std::string steps;               // how a step goes: "E24", "0.1 mV"; empty: not now
    // The working's answer with the value as it stands; filled in by whoever solves it.
    std::string answer; // "52 mA · in window"
    VerdictState answer_state = VerdictState::undecided;
};

[[nodiscard]] KeypadShown make_keypad(const KeypadState& state);

/// Presses one key by its name: a digit, ".", "sign", a prefix letter ("u" for micro, "R"),
/// "erase", "clear". A key that cannot follow changes nothing but `refused`, which says why.
void press_key(KeypadState& state, std::string_view key);
/// Types a whole text (a quick value, or characters from a hardware keyboard).
void type_text(KeypadState& state, std::string_view utf8);
void replace_text(KeypadState& state, std::string_view text);
/// A quick value tapped. Before anything is typed it is taken; beside a typed value the first tap
/// compares the two in words, and a second one takes it.
void press_quick(KeypadState& state, std::string_view text);

enum class StepWay { up, down };
/// One step from the value as it stands: resistors go along E24 (E96 where the part is of 1 % or
/// the value is of E96 alone), whole numbers by one, everything else by its last digit. What would
/// leave the accepted range changes nothing but `refused`.
void step_value(KeypadState& state, StepWay way);

} // namespace railside
