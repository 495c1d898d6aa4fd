#include "app/command/command.h"

#include "app/command/commands.h"
#include "app/rooms/builtin_lists.h"
#include "run_program.h"

#include <filesystem>
#include <set>
#include <string>

using namespace railside;
using namespace railside::testing;

TEST_CASE("command: help names every command, examples and exit statuses", "[app][command]") {
    const Ran ran = run({"--help"});
    CHECK(ran.status == 0);
    CHECK(ran.err.empty());
    for (const Command& command : all_commands()) {
        CHECK(holds(ran.out, "\n  " + command.spec.name + ' '));
        const Ran own = run({command.spec.name, "--help"});
        CHECK(own.status == 0);
        CHECK(holds(own.out, "railside " + command.spec.name));
        for (const OptionSpec& option : command.spec.options) {
            CHECK(holds(own.out, option.name));
        }
        CHECK(run({"help", command.spec.name}).out == own.out);
    }
    for (const char* part : {"Examples", "railside open --job demo", "railside idle --reading",
                             "railside picture", "Exit status", "  0  ", "  1  ", "  2  "}) {
        INFO(part);
        CHECK(holds(ran.out, part));
    }
    CHECK(run({"help"}).out == ran.out);
    CHECK(run({"-h"}).out == ran.out);
    CHECK(run_program({"--help"}).out == ran.out);
}

TEST_CASE("command: no two commands have one name", "[app][command]") {
    std::set<std::string> names{"help"};
    for (const Command& command : all_commands()) {
        CHECK(names.insert(command.spec.name).second);
    }
}

TEST_CASE("command: the version is printed", "[app][command]") {
    const Ran ran = run_program({"--version"});
    CHECK(ran.status == 0);
    REQUIRE(ran.out.starts_with("railside "));
    CHECK(ran.out.find_first_not_of("0123456789.", 9) == ran.out.size() - 1);
    CHECK(ran.out.ends_with('\n'));
}

TEST_CASE("command: what is no command is refused with the nearest one", "[app][command]") {
    const Ran ran = run_program({"idel", "--reading", "12mV"});
    CHECK(ran.status == 2);
    CHECK(ran.out.empty());
    CHECK(holds(ran.err, "There is no command \"idel\" (did you mean idle?)"));
    CHECK(holds(ran.err, "workings"));
    CHECK(run({""}).status == 2);
    CHECK(run({"--job", "demo"}).status == 2);
    CHECK(run({"--version", "now"}).status == 2);
    CHECK(run({"help", "idel"}).status == 2);
    CHECK(holds(run({"pictur\x1b[31m\n"}).err, "\ufffd")); // nothing typed steers the terminal
}

TEST_CASE("command: an answer that cannot be written is a failure", "[app][command]") {
    if (!std::filesystem::exists("/dev/full")) {
        WARN("this system has no /dev/full");
        return;
    }
    const Ran ran = run_program({"workings"}, "/dev/full");
    CHECK(ran.status == 1);
    CHECK(holds(ran.err, "could not be written"));
}

TEST_CASE("command: lists prints every step of the lists that come with the program",
          "[app][command]") {
    const Ran ran = run({"lists"});
    CHECK(ran.status == 0);
    CHECK(holds(ran.out, "first_power  "));
    for (const StepList& list : builtin_lists()) {
        CHECK(holds(ran.out, list.key + "  " + list.name + '\n'));
        for (std::size_t i = 0; i < list.steps.size(); ++i) {
            const std::string& text = list.steps[i].text; // the line may break after its first word
            INFO(text);
            CHECK(holds(ran.out, std::to_string(i + 1) + "  " + text.substr(0, text.find(' '))));
        }
    }
    CHECK(run({"lists", "--all"}).status == 2);
}
