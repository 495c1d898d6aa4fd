#include "core/job/list.h"

#include "support/catch.h"

#include <rapidcheck.h>

using namespace railside;

namespace {

const char* const k_first_power = "# shipped list\n"
                                  "name: First power on the series lamp\n"
                                  "intro: Nothing connected to the outputs.\n"
                                  "\n"
                                  "- Reservoirs below 5 V, measured\n"
                                  "  reading: volt 0 to 5\n"
                                  "  caution: A charged reservoir bites.\n"
                                  "  bars\n"
                                  "- Lamp settles\n"
                                  "  key: lamp\n"
                                  "  hint: Watch it for ten seconds: bright means stop.\n"
                                  "  choices: dark, dim, bright!\n"
                                  "- Offset\n"
                                  "  reading: volt \xE2\x88\x92"
                                  "50m to 50m\n"
                                  "- Picture of the board\n"
                                  "  photo\n"
                                  "- Cover on\n";

StepList read(const std::string& text) {
    Result<StepList> list = parse_list(text, "first_power.txt");
    INFO((list.ok() ? "" : list.error().message));
    REQUIRE(list.ok());
    return std::move(list).value();
}

std::string refusal(const std::string& text) {
    const Result<StepList> list = parse_list(text, "lists/first_power.txt");
    if (list.ok())
        return "";
    CHECK(list.error().code == ErrorCode::bad_text);
    CHECK(list.error().field == "lists/first_power.txt");
    return list.error().message;
}

/// Whether the list with these lines for its one step is refused at `line` (the step itself is line
/// 2) with these words.
void refuses(const std::string& lines, int line, const std::string& words) {
    const std::string message = refusal("name: X\n- Step\n" + lines);
    INFO(lines << "\n-> " << message);
    CHECK(message.find("lists/first_power.txt, line " + std::to_string(line) + ": ") == 0);
    CHECK(message.find(words) != std::string::npos);
}

} // namespace

TEST_CASE("list: the worked example reads as it is meant", "[core][job]") {
    const StepList list = read(k_first_power);
    CHECK(list.key == "first_power");
    CHECK(list.name == "First power on the series lamp");
    CHECK(list.intro == "Nothing connected to the outputs.");
    REQUIRE(list.steps.size() == 5);

    const ListStep& reservoirs = list.steps[0];
    CHECK(reservoirs.key == "reservoirs_below_5_v_measured");
    CHECK(reservoirs.text == "Reservoirs below 5 V, measured");
    CHECK(reservoirs.caution == "A charged reservoir bites.");
    CHECK(reservoirs.kind == StepKind::reading);
    CHECK(reservoirs.unit == Unit::volt);
    CHECK(reservoirs.low == 0.0);
    CHECK(reservoirs.high == 5.0);
    CHECK(reservoirs.bars);

    const ListStep& lamp = list.steps[1];
    CHECK(lamp.key == "lamp");
    CHECK(lamp.hint == "Watch it for ten seconds: bright means stop.");
    CHECK(lamp.kind == StepKind::choice);
    REQUIRE(lamp.choices.size() == 3);
    CHECK(lamp.choices[0].word == "dark");
    CHECK_FALSE(lamp.choices[0].stops);
    CHECK(lamp.choices[2].word == "bright");
    CHECK(lamp.choices[2].stops);
    CHECK_FALSE(lamp.bars);

    const ListStep& offset = list.steps[2];
    CHECK(offset.low == -0.05);
    CHECK(offset.high == 0.05);
    CHECK(offset.low_text == "\xE2\x88\x92"
                             "50m");
    CHECK(offset.high_text == "50m");
    CHECK(list.steps[3].kind == StepKind::photo);
    CHECK(list.steps[4].kind == StepKind::tick);
}

TEST_CASE(
    "list: line ends of any system, a byte order mark, tabs and no last line end are accepted",
    "[core][job]") {
    const StepList list = read("\xEF\xBB\xBFname: X\r\n\r\n- Step\r\n\tbars");
    CHECK(list.name == "X");
    REQUIRE(list.steps.size() == 1);
    CHECK(list.steps[0].bars);
}

TEST_CASE("list: lines that begin with # are comments, at any depth", "[core][job]") {
    CHECK(read("# one\nname: X\n- Step\n  # two\n  bars\n").steps[0].bars);
}

TEST_CASE("list: a list's key is its file's name unless it gives one", "[core][job]") {
    CHECK(read("name: X\n- Step\n").key == "first_power");
    CHECK(read("name: X\nkey: other\n- Step\n").key == "other");
    CHECK(refusal("name: X\nkey: Not One\n- Step\n").find("line 2: a key was expected") !=
          std::string::npos);
}

TEST_CASE("list: a step's key is made of its text unless it gives one", "[core][job]") {
    CHECK(read("name: X\n- Ohm check, +/- rails!\n").steps[0].key == "ohm_check_rails");
    CHECK(read("name: X\n- " + std::string(100, 'a') + "\n").steps[0].key == std::string(40, 'a'));
    refuses("- Step\n", 3, "another step has the key \"step\"");
    CHECK(read("name: X\n- Step\n- Step\n  key: again\n").steps[1].key == "again");
    CHECK(refusal("name: X\n- \xCE\xA9\n").find("line 2: no key can be made") != std::string::npos);
}

TEST_CASE("list: a refusal names the file, the line and what was expected there", "[core][job]") {
    CHECK(refusal("nme: X\n")
              .find("lists/first_power.txt, line 1: \"name: ...\", \"intro: ...\", \"key: ...\" or "
                    "\"- ...\" "
                    "was expected") == 0);
    CHECK(refusal("  bars\n").find("line 1: an indented line belongs to a step") !=
          std::string::npos);
    CHECK(refusal("name:\n").find("line 1: a text was expected after \"name:\"") !=
          std::string::npos);
    CHECK(refusal("name: X\nname: Y\n").find("line 2: \"name\" was given already") !=
          std::string::npos);
    CHECK(refusal("- Step\n").find("gives the list no name") != std::string::npos);
    CHECK(refusal("name: X\n").find("holds no step") != std::string::npos);
    CHECK(refusal("").find("no name") != std::string::npos);
    CHECK(refusal("name: X\n-\n").find("line 2: the step's text was expected") !=
          std::string::npos);
    CHECK(refusal("name: X\n- Step\nintro: late\n").find("line 3: \"- ...\" for a step") !=
          std::string::npos);
    CHECK(refusal("name: \xFF\n").find("line 1: the text is not UTF-8") != std::string::npos);
    CHECK(refusal("name: a\x01z\n").find("line 1: it holds a control character") !=
          std::string::npos);
    refuses("  colour: red\n", 3, "was expected; this is \"colour\"");
    refuses("  hint:\n", 3, "\"hint: ...\" was expected");
    refuses("  hint: a\n  hint: b\n", 4, "\"hint\" was given already");
    refuses("  bars: yes\n", 3, "nothing was expected after \"bars\"");
    refuses("  key: \xC3\x84\n", 3, "a key was expected");
}

TEST_CASE("list: a step asks for one thing only", "[core][job]") {
    refuses("  photo\n  choices: a, b\n", 4, "one thing only");
    refuses("  choices: a, b\n  reading: volt 0 to 5\n", 4, "one thing only");
    refuses("  reading: volt 0 to 5\n  photo\n", 4, "one thing only");
}

TEST_CASE("list: choices are two words or more, all different, one of them without a stop",
          "[core][job]") {
    refuses("  choices: dark\n", 3, "at least two choices");
    refuses("  choices: dark,, dim\n", 3, "words with commas");
    refuses("  choices: dark, !\n", 3, "words with commas");
    refuses("  choices: dark, dim, dark!\n", 3, "\"dark\" was given already");
    refuses("  choices: dim!, bright!\n", 3, "can never be done");
}

TEST_CASE("list: a window is a unit's key and two values in that order", "[core][job]") {
    refuses("  reading: volt\n", 3, "a unit and a window were expected");
    refuses("  reading: volt 5\n", 3, "a unit and a window were expected");
    refuses("  reading: furlong 1 to 5\n", 3, "\"furlong\" is not a unit");
    refuses("  reading: volt 5 to 1\n", 3, "the lower end 5 lies above the upper end 1");
    refuses("  reading: volt many to 1\n", 3, "many");
    refuses("  reading: volt 1 to few\n", 3, "few");
    const ListStep step = read("name: X\n- Step\n  reading: ohm 4k7 to 10 kohm\n").steps[0];
    CHECK(step.low == 4700.0);
    CHECK(step.high == 10000.0);
}

TEST_CASE("list: 200 000 bytes and 500 steps are the most", "[core][job]") {
    CHECK(refusal("name: X\n" + std::string(200'000, '#')).find("at most 200000") !=
          std::string::npos);
    std::string many = "name: X\n";
    for (int i = 0; i < 500; ++i)
        many += "- Step " + std::to_string(i) + "\n";
    CHECK(read(many).steps.size() == 500);
    CHECK(refusal(many + "- One more\n").find("a list has at most 500") != std::string::npos);
}

TEST_CASE("list: any bytes give a list or a refusal", "[core][job]") {
    const std::string whole = k_first_power;
    CHECK(rc::check("mutations of the worked example", [&] {
        std::string text = whole;
        for (int n = *rc::gen::inRange(1, 8); n > 0; --n) {
            const auto at = *rc::gen::inRange<std::size_t>(0, text.size());
            switch (*rc::gen::inRange(0, 3)) {
            case 0:
                text[at] = *rc::gen::arbitrary<char>();
                break;
            case 1:
                text.erase(at, *rc::gen::inRange<std::size_t>(1, 20));
                break;
            default:
                text.insert(at, *rc::gen::elementOf(std::vector<std::string>{
                                    "\n", "- ", ":", "!", ",", " to ", "  ", "\r"}));
            }
            if (text.empty())
                break;
        }
        const Result<StepList> list = parse_list(text, "x.txt");
        if (!list.ok())
            RC_ASSERT(list.error().message.starts_with("x.txt"));
        else
            RC_ASSERT(!list->steps.empty());
    }));
}

namespace {

bool alike(const StepList& a, const StepList& b) {
    if (a.key != b.key || a.name != b.name || a.intro != b.intro ||
        a.steps.size() != b.steps.size())
        return false;
    for (std::size_t i = 0; i < a.steps.size(); ++i) {
        const ListStep& x = a.steps[i];
        const ListStep& y = b.steps[i];
        if (x.key != y.key || x.text != y.text || x.hint != y.hint || x.caution != y.caution ||
            x.kind != y.kind || x.bars != y.bars || x.choices.size() != y.choices.size() ||
            x.unit != y.unit || x.low != y.low || x.high != y.high)
            return false;
        for (std::size_t c = 0; c < x.choices.size(); ++c)
            if (x.choices[c].word != y.choices[c].word || x.choices[c].stops != y.choices[c].stops)
                return false;
    }
    return true;
}

} // namespace

TEST_CASE("list: printed and read back it is the same list", "[job][list]") {
    CHECK(rc::check("print then parse", [] {
        static const std::vector<std::string> words = {"Rails alike", "Offset, left: small",
                                                       "Lamp dark - or dim", "Ω below 0R5", "ä b"};
        const auto word = [&] { return *rc::gen::elementOf(words); };
        StepList list;
        list.key = "first_power";
        list.name = word();
        list.intro = *rc::gen::arbitrary<bool>() ? word() : std::string();
        const int n = *rc::gen::inRange(1, 7);
        for (int i = 0; i < n; ++i) {
            ListStep step;
            step.text = word();
            step.key = list_key_of(step.text) + "_" + std::to_string(i);
            step.hint = *rc::gen::arbitrary<bool>() ? word() : std::string();
            step.caution = *rc::gen::arbitrary<bool>() ? word() : std::string();
            step.bars = *rc::gen::arbitrary<bool>();
            step.kind = static_cast<StepKind>(*rc::gen::inRange(0, 4));
            if (step.kind == StepKind::choice) {
                step.choices.push_back({"dark", false});
                step.choices.push_back({"bright", *rc::gen::arbitrary<bool>()});
            }
            if (step.kind == StepKind::reading) {
                step.unit = *rc::gen::element(Unit::volt, Unit::ohm, Unit::celsius);
                step.low = *rc::gen::inRange(0, 5);
                step.high = step.low + *rc::gen::inRange(1, 90);
                step.low_text = std::to_string(static_cast<int>(step.low));
                step.high_text = std::to_string(static_cast<int>(step.high));
            }
            list.steps.push_back(std::move(step));
        }
        const std::string printed = print_list(list);
        const Result<StepList> again = parse_list(printed, "first_power.txt");
        if (!again.ok())
            RC_FAIL(again.error().message + "\n" + printed);
        RC_ASSERT(alike(list, *again));
    }));
    const StepList delivered = read(k_first_power);
    CHECK(alike(delivered, read(print_list(delivered))));
}
