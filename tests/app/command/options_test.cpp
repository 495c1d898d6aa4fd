#include "app/command/options.h"

#include "support/catch.h"

#include <string>
#include <string_view>
#include <vector>

using namespace railside;

namespace {

CommandSpec spec() {
    CommandSpec spec;
    spec.name = "try";
    spec.summary = "Tries";
    spec.usage = "[options]";
    spec.about = "First paragraph.\n\nSecond paragraph.";
    spec.options = {
        {"--reading", "TEXT", "What the meter shows.", "0 to 5 V"},
        {"--rail", "TEXT", "The supply.", ""},
        {"--json", "", "As JSON.", ""},
        {"--tap", "NAME", "Taps.", "", "Others", Often::many},
    };
    return spec;
}

Result<Options> parse(const std::vector<std::string_view>& args) {
    return parse_options(spec(), args);
}

} // namespace

TEST_CASE("options: a value follows its name or an equals sign, whatever it begins with",
          "[app][command]") {
    for (const auto& args : std::vector<std::vector<std::string_view>>{
             {"--reading", "-12mV", "--json"}, {"--reading=-12mV", "--json"}}) {
        const auto options = parse(args);
        REQUIRE(options.ok());
        CHECK(options->text("--reading") == "-12mV");
        CHECK(options->has("--json"));
        CHECK_FALSE(options->has("--rail"));
        CHECK(options->text_or("--rail", "40") == "40");
    }
    for (const std::string_view value :
         {"\u221212 mV", "[1,2]", "a=b", "%", "/x", "-", "{}", "\"12\"", "12\u2009mV \u00b11 %"}) {
        const auto options = parse({"--reading", value});
        INFO(value);
        REQUIRE(options.ok());
        CHECK(options->text("--reading") == value);
    }
}

TEST_CASE("options: one that may be repeated keeps the order", "[app][command]") {
    const auto options = parse({"--tap", "a", "b", "--json", "--tap", "c"});
    REQUIRE(options.ok());
    const auto taps = options->texts("--tap");
    CHECK(std::vector<std::string>(taps.begin(), taps.end()) ==
          std::vector<std::string>{"a", "b", "c"});
    CHECK(options->texts("--rail").empty());
}

TEST_CASE("options: a needed word, several values and repetition", "[app][command]") {
    CommandSpec spec;
    spec.name = "work";
    spec.options = {
        {"FILE", "FILE", "What to read.", ""},
        {"--set", "NAME=VALUE", "Sets.", "", "Options", Often::each},
        {"--sweep", "NAME FROM TO", "Sweeps.", "", "Options", Often::once, 3},
        {"--json", "", "As JSON.", ""},
    };
    const auto read = [&spec](const std::vector<std::string_view>& args) {
        return parse_options(spec, args);
    };
    for (const auto& args : std::vector<std::vector<std::string_view>>{
             {"--set", "a=1", "x.cir", "--set=b=2", "--sweep", "v", "-1", "-.5", "--json"},
             {"x.cir", "--sweep", "v", "-1", "-.5", "--set", "a=1", "--set", "b=2", "--json"},
             {"--json", "--set", "a=1", "--set", "b=2", "--sweep", "v", "-1", "-.5", "x.cir"}}) {
        const auto options = read(args);
        REQUIRE(options.ok());
        CHECK(options->text("FILE") == "x.cir");
        const auto set = options->texts("--set");
        CHECK(std::vector<std::string>(set.begin(), set.end()) ==
              std::vector<std::string>{"a=1", "b=2"});
        const auto sweep = options->texts("--sweep");
        CHECK(std::vector<std::string>(sweep.begin(), sweep.end()) ==
              std::vector<std::string>{"v", "-1", "-.5"});
        CHECK(options->has("--json"));
    }
    struct Row {
        std::vector<std::string_view> args;
        std::string_view field;
        std::string_view message;
    };
    for (const Row& row : std::vector<Row>{
             {{"--json"}, "FILE", "FILE is missing. What to read."},
             {{"x.cir", "y.cir"}, "y.cir", "takes one FILE and options"},
             {{"x.cir", "--sweep", "v", "1"}, "--sweep", "--sweep needs 3 values: NAME FROM TO."},
             {{"x.cir", "--sweep"}, "--sweep", "needs 3 values"},
             {{"x.cir", "--sweep", "v", "1", "--json"}, "--sweep", "\"--json\" is an option"},
             {{"x.cir", "--sweep", "v", "1", "2", "--sweep", "v", "1", "2"},
              "--sweep",
              "given 2 times"},
             {{"x.cir", "--set"}, "--set", "needs a value"},
             {{"x.cir", "--FILE"}, "--FILE", "There is no option"}}) {
        const auto options = read(row.args);
        INFO(row.message);
        REQUIRE_FALSE(options.ok());
        CHECK(options.error().field == row.field);
        CHECK(options.error().message.find(row.message) != std::string::npos);
    }
    CHECK(help_text(spec).find("\n  FILE\n        What to read.\n  --set NAME=VALUE\n") !=
          std::string::npos);
}

TEST_CASE("options: what is not understood is refused by name", "[app][command]") {
    struct Row {
        std::vector<std::string_view> args;
        std::string_view field;
        std::string_view message;
    };
    const std::vector<Row> rows{
        {{"--raeding", "5"}, "--raeding", "did you mean --reading?"},
        {{"--raeding=5"}, "--raeding", "did you mean --reading?"},
        {{"--nonsense-word"}, "--nonsense-word", "There is no option"},
        {{"-x"}, "-x", "There is no option"},
        {{"stray"}, "stray", "stands alone"},
        {{"--json", "stray"}, "stray", "stands alone"},
        {{"--reading"}, "--reading", "needs a value. Accepted: 0 to 5 V."},
        {{"--reading="}, "--reading", "needs a value. Accepted: 0 to 5 V."},
        {{"--reading=", "--json"}, "--reading", "needs a value"},
        {{"--reading", "--json"}, "--reading", "\"--json\" is an option"},
        {{"--reading", "--rail=40"}, "--reading", "is an option"},
        {{"--json=yes"}, "--json", "takes no value"},
        {{"--json", "--json"}, "--json", "stands once"},
        {{"--rail", "1", "--rail", "2"}, "--rail", "given 2 times"},
    };
    for (const Row& row : rows) {
        INFO(row.args.front());
        const auto options = parse(row.args);
        REQUIRE_FALSE(options.ok());
        CHECK(options.error().field == row.field);
        CHECK(options.error().message.find(row.message) != std::string::npos);
    }
}

TEST_CASE("options: help shows the groups, every option and what it accepts", "[app][command]") {
    CHECK(help_text(spec()) == "railside try [options]\n"
                               "\nFirst paragraph.\n"
                               "\nSecond paragraph.\n"
                               "\nOptions\n"
                               "  --reading TEXT\n"
                               "        What the meter shows.\n"
                               "        Accepted: 0 to 5 V.\n"
                               "  --rail TEXT\n"
                               "        The supply.\n"
                               "  --json\n"
                               "        As JSON.\n"
                               "\nOthers\n"
                               "  --tap NAME\n"
                               "        Taps.\n");
}

TEST_CASE("options: words and numbers are held to what is accepted", "[app][command]") {
    const std::vector<std::string> words{"left", "right"};
    Options options;
    options.add("--hand", {"lefft"});
    options.add("--channel", {"right"});
    options.add("--mm", {"0.2"});
    options.add("--bad", {"wide"});
    options.add("--far", {"7"});
    const auto refused = pick_word(options, "--hand", words, "right");
    REQUIRE_FALSE(refused.ok());
    CHECK(refused.error().message ==
          "--hand \"lefft\" is not accepted (did you mean left?). Accepted: left or right.");
    CHECK(pick_word(options, "--channel", words, "left").value() == "right");
    CHECK(pick_word(options, "--none", words, "left").value() == "left");

    CHECK(number_option(options, "--mm", 0.1, 1, "mm").value() == 0.2);
    CHECK_FALSE(number_option(options, "--none", 0.1, 1, "mm").value().has_value());
    CHECK(number_option(options, "--far", 0.1, 1, "mm").error().code == ErrorCode::out_of_range);
    CHECK(number_option(options, "--bad", 0.1, 1, "mm").error().message ==
          "--bad \"wide\" is not accepted. Accepted: a number, 0.1 to 1 mm.");
}
