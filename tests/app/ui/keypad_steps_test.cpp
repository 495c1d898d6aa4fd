// Steps, quick values that compare, and the factor in what is unusual.

#include "app/ui/keypad_model.h"

#include "support/catch.h"

using namespace railside;

namespace {

KeypadState resistor(double tolerance = 0.05) {
    KeypadState state;
    state.field.label = "Emitter resistor";
    state.field.unit = Unit::ohm;
    state.field.low = 0.01;
    state.field.high = 10;
    state.field.usual_low = 0.1;
    state.field.usual_high = 1;
    state.field.spread = Spread::tolerance;
    state.field.default_spread = tolerance;
    return state;
}

KeypadState volts() {
    KeypadState state;
    state.field.label = "Reading";
    state.field.unit = Unit::volt;
    state.field.low = -5;
    state.field.high = 5;
    state.field.usual_low = -0.1;
    state.field.usual_high = 0.1;
    state.field.spread = Spread::meter;
    return state;
}

std::string stepped(KeypadState state, std::string_view text, StepWay way) {
    replace_text(state, text);
    step_value(state, way);
    return state.refused.empty() ? state.text : "refused: " + state.refused;
}

} // namespace

TEST_CASE("keypad: a resistor steps along E24, and along E96 where it is of it", "[app][ui]") {
    CHECK(stepped(resistor(), "0R22", StepWay::up) == "0R24");
    CHECK(stepped(resistor(), "0R22", StepWay::down) == "0R2");
    CHECK(stepped(resistor(), "910m", StepWay::up) == "1R0");
    CHECK(stepped(resistor(0.01), "0R22", StepWay::up) == "0R221");
    CHECK(stepped(resistor(), "2R74", StepWay::up) == "2R8");
    KeypadState state = resistor();
    replace_text(state, "2R2");
    CHECK(make_keypad(state).steps == "E24");
    replace_text(state, "2R74");
    CHECK(make_keypad(state).steps == "E96");
}

TEST_CASE("keypad: everything else steps by its last digit and keeps its form", "[app][ui]") {
    CHECK(stepped(volts(), "12.0m", StepWay::up) == "12.1m");
    CHECK(stepped(volts(), "12.0m", StepWay::down) == "11.9m");
    CHECK(stepped(volts(), "99.9m", StepWay::up) == "100.0m");
    CHECK(stepped(volts(), "0.0m", StepWay::down) == "-0.1m");
    CHECK(stepped(volts(), "-0.1m", StepWay::up) == "0.0m");
    CHECK(stepped(volts(), "\u22120.2m", StepWay::up) == "-0.1m");
    CHECK(stepped(volts(), "12 mV", StepWay::up) == "13 mV");
    CHECK(stepped(volts(), "12\u00b5", StepWay::up) == "13\u00b5");
    // A resistor that was read steps by its digit: a meter shows no series.
    KeypadState read = resistor();
    read.field.spread = Spread::meter;
    CHECK(stepped(read, "4R7", StepWay::up) == "4R8");
}

TEST_CASE("keypad: a step out of the range, or from nothing, says why", "[app][ui]") {
    CHECK(stepped(resistor(), "10", StepWay::up).find("refused: Emitter resistor") == 0);
    CHECK(stepped(resistor(), "0R01", StepWay::down).find("0.01") != std::string::npos);
    CHECK(stepped(volts(), "", StepWay::up).find("refused: There is nothing") == 0);
    KeypadState state = volts();
    state.field.takes_open = true;
    CHECK(stepped(state, "OL", StepWay::up).find("refused: OL has no next") == 0);
    // The refusal stands on the screen, and the value stands as it was.
    state = resistor();
    replace_text(state, "10");
    step_value(state, StepWay::up);
    CHECK(state.text == "10");
    CHECK(make_keypad(state).message == state.refused);
}

TEST_CASE("keypad: a quick value compares with what is typed; a second tap takes it", "[app][ui]") {
    KeypadState state = volts();
    state.text = state.before = "20.0m";
    state.quick.push_back({"right 11.4 mV", "11.4m"});
    // Nothing typed yet: it is taken at once.
    press_quick(state, "11.4m");
    CHECK(state.text == "11.4m");
    replace_text(state, "96.0m");
    press_quick(state, "11.4m");
    CHECK(state.text == "96.0m");
    // 96 / 11.4 = 8.42; 96 - 11.4 = 84.6
    const std::string said = make_keypad(state).message;
    CHECK(said.find("8.42 times") != std::string::npos);
    CHECK(said.find("84.6\u2009mV more") != std::string::npos);
    press_quick(state, "11.4m");
    CHECK(state.text == "11.4m");
    CHECK(make_keypad(state).message.empty());
    // Any key takes the comparison away.
    replace_text(state, "96.0m");
    press_quick(state, "11.4m");
    press_key(state, "erase");
    CHECK(state.comparison.empty());
    press_quick(state, "11.4m");
    CHECK(state.text == "96.0");
}

TEST_CASE("keypad: what is unusual by its field names the factor", "[app][ui]") {
    KeypadState state = volts();
    replace_text(state, "960m");
    // 960 / 100 = 9.6
    CHECK(make_keypad(state).message.find("9.6 times 100\u2009mV") != std::string::npos);
    state = resistor();
    replace_text(state, "0R022");
    CHECK(make_keypad(state).message.find("only 0.22 of 0.1") != std::string::npos);
}
