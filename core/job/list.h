// A list of steps, read from a plain text file of assets/lists; the form is in list.md beside this
// file.
#pragma once

#include "core/quantity/unit.h"
#include "core/result.h"

#include <string>
#include <string_view>
#include <vector>

namespace railside {

enum class StepKind {
    tick,    // done or not
    choice,  // one of a few words; some of them mean stop
    reading, // a value that must lie in a window
    photo,   // asks for a picture
};

/// One answer of a choice step.
struct StepChoice {
    std::string word;   // "dark"
    bool stops = false; // this answer does not tick the step: it bars what follows
};

struct ListStep {
    std::string key;     // unique in its list
    std::string text;    // "Reservoirs below 5 V, measured"
    std::string hint;    // more, shown while it is the live step
    std::string caution; // what can hurt here
    StepKind kind = StepKind::tick;
    std::vector<StepChoice> choices;
    Unit unit = Unit::ratio; // reading steps
    double low = 0;          // window, SI
    double high = 0;
    std::string low_text; // as written in the list
    std::string high_text;
    bool bars = false; // the steps after it wait for it
};

struct StepList {
    std::string key;
    std::string name;
    std::string intro;
    std::vector<ListStep> steps;
};

/// Reads a list file. Errors name the line and what was expected there.
[[nodiscard]] Result<StepList> parse_list(std::string_view text, std::string_view file_name);

/// As a list file that parse_list reads back alike. Line ends inside texts become spaces. The steps
/// need be none that parse_list accepts: what it refuses is said there.
[[nodiscard]] std::string print_list(const StepList& list);

/// A key made of a text as the file's grammar makes one: "Cover on" gives "cover_on".
[[nodiscard]] std::string list_key_of(std::string_view text);

} // namespace railside
