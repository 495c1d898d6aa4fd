// The hunt beside a fixed order, over the amplifiers of a folder of recorded faults: hit rates,
// tests and minutes, from the schematic's values alone (generic devices).
//
//   hunt_bench FOLDER [--cross]
//
// FOLDER holds amps.json, faults.csv and netlists/. Amplifiers without rows get simulated ones:
// each of their faults once, with the netlist's own cards. --cross leaves one amplifier out at a
// time: the width of all accuracies and the broad tail are chosen on the others, and what that does
// to the one left out stands beside the settings as they are. Without such a folder it says so and
// is done.
#include "core/circuit/netlist.h"
#include "core/suspects/play.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstring>
#include <filesystem>
#include <fstream>
#include <map>
#include <sstream>

using namespace railside;

namespace {

std::string text_of(const std::filesystem::path& file) {
    std::ifstream stream(file, std::ios::binary);
    std::ostringstream text;
    text << stream.rdbuf();
    return text.str();
}

struct Case {
    std::string name;
    std::vector<AnswerRow> rows;
    std::vector<Hunt> hunt; // one
    bool simulated = false;
};

std::vector<AnswerRow> simulated_rows(const Amplifier& amplifier) {
    std::vector<AnswerRow> rows;
    const auto healthy = simulate(amplifier, Fault{}, 0.5);
    if (!healthy)
        return rows;
    rows.push_back(answer_row(amplifier, Fault{}, 0.5, *healthy, *healthy, "S0"));
    int turn = 0;
    for (const Fault& fault : all_faults(amplifier)) {
        if (fault.position < 0)
            continue;
        const double severity = 0.25 + 0.25 * (turn++ % 3);
        if (const auto readings = simulate(amplifier, fault, severity))
            rows.push_back(answer_row(amplifier, fault, severity, *readings, *healthy,
                                      fmt::format("S{}", rows.size())));
    }
    return rows;
}

struct Score {
    int shows = 0;
    int first = 0;
    int in_three = 0;
    double tests = 0;
    double minutes = 0;
    double fixed_tests = 0;
    double fixed_minutes = 0;
    double surprise = 0; // bits: −log2 of what the true position got
};

Score score(const Hunt& hunt, const std::vector<AnswerRow>& rows, std::size_t stride) {
    Score sum;
    for (std::size_t i = 0; i < rows.size(); i += stride) {
        const Played played = play(hunt, rows[i], &rows.front());
        if (!played.shows || played.places.empty())
            continue;
        ++sum.shows;
        sum.first += played.truth_rank == 1 ? 1 : 0;
        sum.in_three += played.truth_rank >= 1 && played.truth_rank <= 3 ? 1 : 0;
        sum.tests += played.isolated ? played.isolated_tests
                                     : static_cast<int>(played.steps.size()) + played.fixed_tests;
        sum.minutes +=
            played.isolated ? played.isolated_minutes : played.minutes + played.fixed_minutes;
        sum.fixed_tests += played.fixed_tests;
        sum.fixed_minutes += played.fixed_minutes;
        double got = 0;
        for (const Suspect& suspect : played.ranking)
            for (const std::string& place : played.places)
                got += suspect.name == place ? suspect.probability : 0;
        sum.surprise -= std::log2(std::max(got, 1e-9));
    }
    return sum;
}

void print(std::string_view name, std::string_view rows, const Score& s) {
    const double n = std::max(s.shows, 1);
    fmt::print("{:10} {:26} {:5} {:7.1f} {:7.1f} {:7.1f} {:7.1f} {:7.1f} {:7.1f} {:6.0f}\n", name,
               rows, s.shows, 100 * s.first / n, 100 * s.in_three / n, s.tests / n, s.minutes / n,
               s.fixed_tests / n, s.fixed_minutes / n,
               s.fixed_minutes > 0 ? 100 * s.minutes / s.fixed_minutes : 0);
    std::fflush(stdout);
}

void heading() {
    fmt::print("{:10} {:26} {:>5} {:>7} {:>7} {:>7} {:>7} {:>7} {:>7} {:>6}\n", "amplifier", "rows",
               "show", "top 1", "top 3", "tests", "min", "f.tests", "f.min", "%");
}

void cross(std::vector<Case>& cases) {
    struct Setting {
        double width;
        double tail;
    };
    const std::vector<Setting> settings{{1, 0.03}, {0.7, 0.03}, {1.4, 0.03}, {1, 0.01}, {1, 0.1}};
    std::vector<std::vector<Score>> scores; // by setting, then amplifier
    for (const Setting& setting : settings) {
        scores.emplace_back();
        for (Case& one : cases) {
            HuntOptions options = one.hunt.front().options();
            options.width = setting.width;
            options.tail = setting.tail;
            options.from_outside_only = true;
            scores.back().push_back(score(one.hunt.front().with(options), one.rows, 4));
        }
    }
    fmt::print(
        "\nOne amplifier left out, every fourth row, from outside alone: bits of surprise per "
        "row and hits\n");
    for (std::size_t out = 0; out < cases.size(); ++out) {
        std::size_t best = 0;
        double least = 1e99;
        for (std::size_t k = 0; k < settings.size(); ++k) {
            double sum = 0;
            for (std::size_t a = 0; a < cases.size(); ++a)
                if (a != out)
                    sum += scores[k][a].surprise / std::max(scores[k][a].shows, 1);
            if (sum < least) {
                least = sum;
                best = k;
            }
        }
        const Score& as_is = scores[0][out];
        const Score& chosen = scores[best][out];
        const double n = std::max(as_is.shows, 1);
        fmt::print("{:10} chosen on the others: width {} tail {}: {:.2f} bit, first {:.1f} %, "
                   "three {:.1f} %; as it is: {:.2f} bit, {:.1f} %, {:.1f} %\n",
                   cases[out].name, settings[best].width, settings[best].tail, chosen.surprise / n,
                   100 * chosen.first / n, 100 * chosen.in_three / n, as_is.surprise / n,
                   100 * as_is.first / n, 100 * as_is.in_three / n);
    }
}

} // namespace

int main(int count, char** words) {
    if (count < 2 || !std::filesystem::exists(std::filesystem::path(words[1]) / "faults.csv")) {
        fmt::print("hunt_bench: no folder with amps.json, faults.csv and netlists/; skipped.\n");
        return 0;
    }
    const std::filesystem::path folder = words[1];
    const std::string positions = text_of(folder / "amps.json");
    const auto recorded = read_answers(text_of(folder / "faults.csv"), "faults.csv");
    if (!recorded) {
        fmt::print("{}\n", recorded.error().message);
        return 1;
    }
    heading();
    std::vector<Case> cases;
    for (const char* name : {"a_ef2", "b2_dual", "c_quasi", "f_lowp"}) {
        const auto file = folder / "netlists" / (std::string(name) + ".cir");
        if (!std::filesystem::exists(file))
            continue;
        const std::string text = text_of(file);
        const auto netlist = read_netlist(text, file.string(), [&](std::string_view included) {
            return Result<std::string>(text_of(folder / "netlists" / included));
        });
        if (!netlist) {
            fmt::print("{}\n", netlist.error().message);
            return 1;
        }
        const auto amplifier =
            read_amplifier(netlist->circuit, std::string(name) + ".cir", text, positions, "amps");
        if (!amplifier) {
            fmt::print("{}\n", amplifier.error().message);
            return 1;
        }
        Case one;
        one.name = name;
        for (const AnswerRow& row : *recorded)
            if (row.text("amp") == name)
                one.rows.push_back(row);
        one.simulated = one.rows.empty();
        if (one.simulated)
            one.rows = simulated_rows(*amplifier);
        HuntOptions options;
        options.predictions.generic = true;
        auto hunt = Hunt::create(*amplifier, options);
        if (!hunt) {
            fmt::print("{}\n", hunt.error().message);
            return 1;
        }
        one.hunt.push_back(std::move(hunt).value());
        const char* kind = one.simulated ? "simulated here" : "recorded";
        print(name, kind, score(one.hunt.front(), one.rows, 1));
        HuntOptions outside = options;
        outside.from_outside_only = true;
        print(name, fmt::format("{}, from outside", kind),
              score(one.hunt.front().with(outside), one.rows, 1));
        cases.push_back(std::move(one));
    }
    if (count > 2 && std::strcmp(words[2], "--cross") == 0)
        cross(cases);
    return 0;
}
