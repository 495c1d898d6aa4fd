#include "app/ui/keypad_model.h"

#include "core/quantity/value_code.h"
#include "support/catch.h"

#include <algorithm>

using namespace railside;

namespace {

KeypadState volts() {
    KeypadState state;
    state.field.label = "Reading";
    state.field.unit = Unit::volt;
    state.field.low = 0;
    state.field.high = 5;
    state.field.usual_low = 1e-3;
    state.field.usual_high = 0.1;
    state.field.spread = Spread::meter;
    return state;
}

void type(KeypadState& state, std::string_view keys) {
    for (const char c : keys)
        press_key(state, std::string(1, c));
}

} // namespace

TEST_CASE("keypad: what is typed is spoken back and can be set", "[app][ui]") {
    KeypadState state = volts();
    type(state, "12.0m");
    const KeypadShown shown = make_keypad(state);
    CHECK(shown.typed == "12.0");
    CHECK(shown.suffix == "m");
    CHECK(shown.spoken.find("12.0 millivolt") == 0);
    CHECK(shown.tone == KeypadTone::usual);
    CHECK(shown.set_label == "Set 12.0\u2009mV");
}

TEST_CASE("keypad: a key that cannot follow changes nothing and says why", "[app][ui]") {
    KeypadState state = volts();
    type(state, "1.2");
    press_key(state, ".");
    CHECK(state.text == "1.2");
    CHECK(!state.refused.empty());
    CHECK(make_keypad(state).message == state.refused);
    // The next key that does something takes the message away.
    press_key(state, "5");
    CHECK(state.text == "1.25");
    CHECK(state.refused.empty());
}

TEST_CASE("keypad: the sign is refused where a value is never negative", "[app][ui]") {
    KeypadState state = volts();
    type(state, "12");
    press_key(state, "sign");
    CHECK(state.text == "12");
    CHECK(state.refused.find("Reading") == 0);
    state.field.low = -5;
    press_key(state, "sign");
    CHECK(state.text == "-12");
    press_key(state, "sign");
    CHECK(state.text == "12");
}

TEST_CASE("keypad: out of range is refused with the range, unusual wants holding", "[app][ui]") {
    KeypadState state = volts();
    type(state, "960");
    KeypadShown shown = make_keypad(state);
    CHECK(shown.tone == KeypadTone::refused);
    CHECK(shown.message.find("Reading") != std::string::npos);
    CHECK(shown.message.find("960") != std::string::npos);
    CHECK(shown.message.find("5") != std::string::npos);

    press_key(state, "clear");
    type(state, "960m");
    shown = make_keypad(state);
    CHECK(shown.tone == KeypadTone::unusual);
    CHECK(shown.set_label.find("Hold to set") == 0);
    CHECK(!shown.message.empty());
}

TEST_CASE("keypad: a value far from the other channel's is unusual, with the ratio", "[app][ui]") {
    KeypadState state = volts();
    state.compare = 0.0114;
    state.compare_name = "the right channel's 11.4 mV";
    type(state, "96m");
    const KeypadShown shown = make_keypad(state);
    CHECK(shown.tone == KeypadTone::unusual);
    // 96 / 11.4 = 8.42
    CHECK(shown.message == "unusual: 8.4 times the right channel's 11.4 mV");
}

TEST_CASE("keypad: the first key replaces what stood there, erasing edits it", "[app][ui]") {
    KeypadState state = volts();
    state.text = "96.0m";
    press_key(state, "7");
    CHECK(state.text == "7");

    state = volts();
    state.text = "96.0m";
    press_key(state, "erase");
    CHECK(state.text == "96.0");
    press_key(state, "m");
    CHECK(state.text == "96.0m");
}

TEST_CASE("keypad: only prefixes that make sense are offered, ohms have R", "[app][ui]") {
    KeypadState state = volts();
    const auto has = [](const KeypadShown& shown, std::string_view key) {
        return std::any_of(shown.prefixes.begin(), shown.prefixes.end(),
                           [&](const KeypadKey& k) { return k.key == key; });
    };
    CHECK(has(make_keypad(state), "m"));
    CHECK(!has(make_keypad(state), "k"));
    state.field.unit = Unit::ohm;
    state.field.low = 0.01;
    state.field.high = 1e6;
    state.field.usual_low = 0.1;
    state.field.usual_high = 1e5;
    state.field.spread = Spread::tolerance;
    state.text.clear();
    CHECK(has(make_keypad(state), "R"));
    CHECK(has(make_keypad(state), "k"));
    type(state, "0R22");
    CHECK(make_keypad(state).spoken.find("0.22") == 0);
}

TEST_CASE("keypad: a hardware keyboard types the same", "[app][ui]") {
    KeypadState state = volts();
    type_text(state, "12 mV");
    CHECK(state.text == "12 mV");
    CHECK(make_keypad(state).tone == KeypadTone::usual);
    state = volts();
    type_text(state, "12µ");
    const auto value = parse_value(state.text, Unit::volt, "Reading");
    REQUIRE(value.ok());
    CHECK(near(value->value, 12e-6, 1e-15));
}

TEST_CASE("keypad: every beginning the keys allow ends in a value or says why, for every key "
          "sequence of four",
          "[app][ui]") {
    static constexpr std::string_view k_keys[] = {"1", "0", ".", "m", "u", "sign", "erase"};
    int set = 0;
    for (const auto a : k_keys)
        for (const auto b : k_keys)
            for (const auto c : k_keys)
                for (const auto d : k_keys) {
                    KeypadState state = volts();
                    state.field.low = -5;
                    for (const auto key : {a, b, c, d})
                        press_key(state, key);
                    const KeypadShown shown = make_keypad(state);
                    const bool usable =
                        shown.tone == KeypadTone::usual || shown.tone == KeypadTone::unusual;
                    // What may be set is exactly what reads as an input.
                    REQUIRE(usable == read_input(state.field, state.text).ok());
                    if (shown.tone == KeypadTone::refused || shown.tone == KeypadTone::unusual)
                        REQUIRE(!shown.message.empty());
                    set += usable ? 1 : 0;
                }
    CHECK(set > 100);
}

TEST_CASE("keypad: OL is one reading, by a quick key or by its letters, where a field takes it",
          "[app][ui]") {
    KeypadState state = volts();
    state.field.takes_open = true;
    press_key(state, "o");
    CHECK(state.text == "OL");
    press_key(state, "L");
    CHECK(state.text == "OL");
    const KeypadShown shown = make_keypad(state);
    CHECK(shown.typed == "OL");
    CHECK(shown.suffix.empty());
    CHECK(shown.tone == KeypadTone::usual);
    CHECK(shown.set_label == "Set OL");
    CHECK(shown.spoken.find("no reading") == 0);
    // A digit begins a value of its own; erasing takes all of it.
    press_key(state, "6");
    CHECK(state.text == "6");
    replace_text(state, "OL");
    press_key(state, "erase");
    CHECK(state.text.empty());
    // In the middle of a value the letter is no OL.
    type(state, "12");
    press_key(state, "O");
    CHECK(state.text == "12");
    CHECK(!state.refused.empty());
    KeypadState other = volts();
    press_key(other, "O");
    CHECK(other.text.empty());
}
