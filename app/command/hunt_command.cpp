// `hunt`: the hunt for a fault played against recorded answers.
#include "app/command/commands.h"
#include "app/command/small_file.h"
#include "app/command/text_layout.h"
#include "core/circuit/netlist.h"
#include "core/quantity/refusal.h"
#include "core/suspects/play.h"

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include <algorithm>
#include <chrono>
#include <filesystem>

namespace railside {

namespace {

constexpr std::string_view k_circuit = "--circuit";
constexpr std::string_view k_positions = "--positions";
constexpr std::string_view k_answers = "--answers";
constexpr std::string_view k_row = "--row";
constexpr std::string_view k_all = "--all";
constexpr std::string_view k_generic = "--generic";
constexpr std::string_view k_minutes = "--minutes";
constexpr std::string_view k_outside = "--outside";
constexpr std::string_view k_samples = "--samples";
constexpr std::size_t k_listed = 5; // suspects of a ranking that are printed

using Json = nlohmann::json;

struct Given {
    Amplifier amplifier;
    std::string name; // of the amplifier: the netlist's file without its ending
    std::vector<AnswerRow> rows;
    HuntOptions options;
};

Result<Given> read_given(const Options& options) {
    Given given;
    for (const std::string_view needed : {k_circuit, k_positions, k_answers})
        if (!options.has(needed))
            return Error{ErrorCode::missing, std::string(needed),
                         fmt::format("{} FILE is missing. Accepted: --circuit F.cir --positions "
                                     "F.json --answers F.csv with --row ID or --all.",
                                     needed)};
    if (options.has(k_row) == options.has(k_all))
        return Error{options.has(k_row) ? ErrorCode::contradictory : ErrorCode::missing,
                     std::string(k_row), "one of --row ID and --all is accepted."};

    const std::filesystem::path netlist_file = options.text_or(k_circuit, "");
    const auto netlist_text = small_text_file(netlist_file, k_circuit, netlist_file.string());
    if (!netlist_text)
        return netlist_text.error();
    const std::string netlist_name = netlist_file.filename().string();
    const auto netlist =
        read_netlist(*netlist_text, netlist_name, [&netlist_file](std::string_view included) {
            return small_text_file(netlist_file.parent_path() / included, included, included);
        });
    if (!netlist)
        return netlist.error();
    const std::string positions_file = options.text_or(k_positions, "");
    const auto positions_text = small_text_file(positions_file, k_positions, positions_file);
    if (!positions_text)
        return positions_text.error();
    auto amplifier = read_amplifier(netlist->circuit, netlist_name, *netlist_text, *positions_text,
                                    std::filesystem::path(positions_file).filename().string());
    if (!amplifier)
        return amplifier.error();
    given.amplifier = std::move(amplifier).value();
    given.name = netlist_file.stem().string();

    const std::string answers_file = options.text_or(k_answers, "");
    const auto answers_text = small_text_file(answers_file, k_answers, answers_file);
    if (!answers_text)
        return answers_text.error();
    auto rows =
        read_answers(*answers_text, std::filesystem::path(answers_file).filename().string());
    if (!rows)
        return rows.error();
    given.rows = std::move(rows).value();
    // A file of several amplifiers names each row's own.
    const bool named = std::any_of(given.rows.begin(), given.rows.end(), [&](const AnswerRow& row) {
        return row.text("amp") == given.name;
    });
    if (named)
        given.rows.erase(
            std::remove_if(given.rows.begin(), given.rows.end(),
                           [&](const AnswerRow& row) { return row.text("amp") != given.name; }),
            given.rows.end());
    if (const auto file = options.text(k_minutes)) {
        const auto text = small_text_file(*file, k_minutes, *file);
        if (!text)
            return text.error();
        const auto minutes = read_minutes(*text, std::filesystem::path(*file).filename().string());
        if (!minutes)
            return minutes.error();
        given.options.minutes = *minutes;
    }
    const auto samples = number_option(options, k_samples, 2, 64, "");
    if (!samples)
        return samples.error();
    if (*samples)
        given.options.predictions.samples = static_cast<int>(**samples);
    given.options.predictions.generic = options.has(k_generic);
    given.options.from_outside_only = options.has(k_outside);
    return given;
}

const AnswerRow* healthy_row(const std::vector<AnswerRow>& rows) {
    const auto found = std::find_if(rows.begin(), rows.end(), [](const AnswerRow& row) {
        return row.text("fault_class") == "healthy";
    });
    return found == rows.end() ? nullptr : &*found;
}

std::string answer_words(const Evidence& evidence) {
    if (evidence.part)
        return std::string(part_state_key(*evidence.part));
    if (!evidence.value)
        return "no answer";
    const int probe = find_probe(evidence.key);
    return fmt::format("{:.4g} {}", *evidence.value,
                       probe < 0 ? "" : all_probes()[static_cast<std::size_t>(probe)].unit);
}

Json step_json(const PlayedStep& step) {
    Json outcomes = Json::array();
    for (const TestOutcome& outcome : step.proposal.outcomes)
        outcomes.push_back({{"shows", outcome.shows},
                            {"probability", outcome.probability},
                            {"means", outcome.means}});
    Json answer;
    if (step.answer.part)
        answer = part_state_key(*step.answer.part);
    else if (step.answer.value)
        answer = *step.answer.value;
    return {{"test", step.proposal.key},
            {"what", step.proposal.what},
            {"where", step.proposal.where},
            {"setup", setup_key(step.proposal.setup)},
            {"minutes", step.proposal.minutes},
            {"bits", step.proposal.bits},
            {"why", step.proposal.why},
            {"outcomes", outcomes},
            {"answer", answer},
            {"minutes_so_far", step.minutes}};
}

Json ranking_json(const std::vector<Suspect>& ranking) {
    Json list = Json::array();
    for (const Suspect& suspect : ranking) {
        Json one{{"position", suspect.name},
                 {"probability", suspect.probability},
                 {"fault", fault_key(suspect.kind)},
                 {"fault_probability", suspect.kind_probability}};
        if (suspect.severity_value)
            one["severity"] = *suspect.severity_value;
        list.push_back(std::move(one));
    }
    return list;
}

Json played_json(const Hunt& hunt, const Played& played) {
    Json steps = Json::array();
    for (const PlayedStep& step : played.steps)
        steps.push_back(step_json(step));
    const HuntStanding standing = hunt.standing(played.evidence);
    Json complaints = Json::array();
    for (const Evidence& item : played.evidence)
        if (item.key.starts_with("complaint/") && item.value && *item.value > 0.5)
            complaints.push_back(item.key.substr(std::string_view("complaint/").size()));
    return {{"row", played.id},
            {"complaints", complaints},
            {"tests", steps},
            {"minutes", played.minutes},
            {"ranking", ranking_json(played.ranking)},
            {"standing",
             {{"sentence", standing.sentence},
              {"confirm", standing.confirm},
              {"also_fits", standing.also_fits},
              {"only_out_of_circuit", standing.only_out_of_circuit},
              {"unexplained", standing.unexplained}}},
            {"truth", played.truth},
            {"truth_rank", played.truth_rank},
            {"shows", played.shows},
            {"isolated", played.isolated},
            {"isolated_tests", played.isolated_tests},
            {"isolated_minutes", played.isolated_minutes},
            {"fixed_order", {{"tests", played.fixed_tests}, {"minutes", played.fixed_minutes}}}};
}

void print_played(const Hunt& hunt, const Played& played, std::ostream& out) {
    std::string complaints;
    for (const Evidence& item : played.evidence)
        if (item.key.starts_with("complaint/") && item.value && *item.value > 0.5)
            if (const auto complaint = complaint_from_key(std::string_view(item.key).substr(10)))
                complaints += fmt::format("{}{}", complaints.empty() ? "" : ", ",
                                          complaint_words(*complaint));
    out << fmt::format("Row {}. The client says: {}.\n\n", played.id,
                       complaints.empty() ? "nothing" : complaints);
    int number = 0;
    for (const PlayedStep& step : played.steps) {
        out << wrapped_text(fmt::format("{}. {}, {} ({:g} min): {}.", ++number, step.proposal.what,
                                        step.proposal.where, step.proposal.minutes,
                                        answer_words(step.answer)),
                            "");
        out << wrapped_text(step.proposal.why, "   ");
        for (const TestOutcome& outcome : step.proposal.outcomes)
            out << wrapped_text(fmt::format("{}: {}", outcome.shows, outcome.means), "     ");
    }
    out << fmt::format("\n{} tests, {:g} min. Ranking:\n", played.steps.size(), played.minutes);
    TextTable table;
    for (std::size_t i = 0; i < std::min(k_listed, played.ranking.size()); ++i) {
        const Suspect& suspect = played.ranking[i];
        table.add({suspect.name, std::string(fault_words(suspect.kind)),
                   fmt::format("{:.1f} %", suspect.probability * 100)});
    }
    out << table.text(2);
    const HuntStanding standing = hunt.standing(played.evidence);
    out << "\n" << wrapped_text(standing.sentence, "");
    if (!standing.confirm.empty())
        out << wrapped_text("To confirm: " + standing.confirm + ".", "");
    for (const std::string& other : standing.also_fits)
        out << wrapped_text("Also fits: " + other + ".", "");
    for (const std::string& left : standing.unexplained)
        out << wrapped_text("Not explained by it: " + left + ".", "");
}

/// The rows of a benchmark added up.
struct Summary {
    int rows = 0;
    int shows = 0;
    int first = 0;
    int in_three = 0;
    int isolated = 0;
    double tests = 0;
    double minutes = 0;
    double fixed_tests = 0;
    double fixed_minutes = 0;
    double slowest_s = 0;

    void add(const Played& played) {
        ++rows;
        if (!played.shows || played.places.empty())
            return;
        ++shows;
        first += played.truth_rank == 1 ? 1 : 0;
        in_three += played.truth_rank >= 1 && played.truth_rank <= 3 ? 1 : 0;
        isolated += played.isolated ? 1 : 0;
        // A hunt that ends elsewhere is charged all its minutes and the fixed order after them.
        tests += played.isolated ? played.isolated_tests
                                 : static_cast<double>(played.steps.size()) + played.fixed_tests;
        minutes +=
            played.isolated ? played.isolated_minutes : played.minutes + played.fixed_minutes;
        fixed_tests += played.fixed_tests;
        fixed_minutes += played.fixed_minutes;
    }
    [[nodiscard]] double share(int count) const {
        return shows > 0 ? static_cast<double>(count) / shows : 0;
    }
    [[nodiscard]] double mean(double sum) const { return shows > 0 ? sum / shows : 0; }
};

double seconds_since(std::chrono::steady_clock::time_point begin) {
    return std::chrono::duration<double>(std::chrono::steady_clock::now() - begin).count();
}

Json summary_json(const Summary& summary) {
    return {
        {"rows", summary.rows},
        {"shows", summary.shows},
        {"top_1", summary.share(summary.first)},
        {"top_3", summary.share(summary.in_three)},
        {"isolated", summary.share(summary.isolated)},
        {"tests", summary.mean(summary.tests)},
        {"minutes", summary.mean(summary.minutes)},
        {"fixed_order",
         {{"tests", summary.mean(summary.fixed_tests)},
          {"minutes", summary.mean(summary.fixed_minutes)}}},
        {"minutes_share", summary.fixed_minutes > 0 ? summary.minutes / summary.fixed_minutes : 0},
        {"slowest_proposal_s", summary.slowest_s}};
}

void print_summary(const Summary& summary, std::ostream& out) {
    out << fmt::format("\n{} rows, {} of them faults that show anywhere outside. Of these:\n"
                       "  first in the ranking      {:.1f} %\n"
                       "  among the first three     {:.1f} %\n"
                       "  isolated                  {:.1f} %\n"
                       "  until isolated            {:.1f} tests, {:.1f} min\n"
                       "  fixed order               {:.1f} tests, {:.1f} min\n"
                       "  minutes, of fixed order's {:.0f} %\n"
                       "  slowest proposal          {:.0f} ms\n",
                       summary.rows, summary.shows, summary.share(summary.first) * 100,
                       summary.share(summary.in_three) * 100, summary.share(summary.isolated) * 100,
                       summary.mean(summary.tests), summary.mean(summary.minutes),
                       summary.mean(summary.fixed_tests), summary.mean(summary.fixed_minutes),
                       summary.fixed_minutes > 0 ? 100 * summary.minutes / summary.fixed_minutes
                                                 : 0,
                       summary.slowest_s * 1e3);
}

Result<Done> run_hunt(const Options& options, std::ostream& out) {
    const auto given = read_given(options);
    if (!given)
        return given.error();
    const auto wanted = options.text(k_row);
    const AnswerRow* healthy = healthy_row(given->rows);
    std::vector<const AnswerRow*> rows;
    for (const AnswerRow& row : given->rows)
        if (!wanted || row.text("id") == *wanted)
            rows.push_back(&row);
    if (rows.empty())
        return Error{ErrorCode::not_found, std::string(k_row),
                     fmt::format("--row {}: there is no such row for {}. Accepted: the id of a row "
                                 "of the answers.",
                                 railside::quoted(wanted.value_or("")), given->name)};
    const auto begin = std::chrono::steady_clock::now();
    const auto hunt = Hunt::create(given->amplifier, given->options);
    if (!hunt)
        return hunt.error();
    const double table_s = seconds_since(begin);

    Summary summary;
    Json list = Json::array();
    TextTable table;
    table.add({"row", "position", "rank", "tests", "min", "fixed", "first of the ranking"});
    for (const AnswerRow* row : rows) {
        const Played played = play(*hunt, *row, healthy);
        // The last state of a hunt has the most to weigh.
        const auto asked = std::chrono::steady_clock::now();
        (void)hunt->next_test(played.evidence);
        std::vector<Evidence> early(played.evidence.begin(),
                                    played.evidence.begin() +
                                        static_cast<std::ptrdiff_t>(played.evidence.size() / 2));
        (void)hunt->next_test(early);
        summary.slowest_s = std::max(summary.slowest_s, seconds_since(asked) / 2);
        summary.add(played);
        if (options.has(k_json_option)) {
            list.push_back(played_json(*hunt, played));
        } else if (wanted) {
            print_played(*hunt, played, out);
        } else {
            const Suspect& first = played.ranking.front();
            table.add(
                {played.id, played.truth.empty() ? "\u2013" : played.truth,
                 played.truth_rank == 0 ? "\u2013" : fmt::format("{}", played.truth_rank),
                 fmt::format("{}", played.isolated ? played.isolated_tests
                                                   : static_cast<int>(played.steps.size())),
                 fmt::format("{:g}", played.isolated ? played.isolated_minutes : played.minutes),
                 fmt::format("{:g}", played.fixed_minutes),
                 fmt::format("{}, {} ({:.0f} %){}", first.name, fault_words(first.kind),
                             first.probability * 100, played.shows ? "" : "; shows nowhere")});
        }
    }
    if (options.has(k_json_option)) {
        Json answer{{"amplifier", given->name},
                    {"generic", given->options.predictions.generic},
                    {"circuits_worked_out", hunt->predictions().circuits},
                    {"table_s", table_s},
                    {"hunts", list}};
        if (!wanted)
            answer["summary"] = summary_json(summary);
        out << answer.dump(1) << '\n';
    } else if (!wanted) {
        out << fmt::format("{}: {} amplifiers with and without faults worked out in {:.1f} s.\n\n",
                           given->name, hunt->predictions().circuits, table_s)
            << table.text(0);
        print_summary(summary, out);
    }
    return Done{};
}

} // namespace

Command hunt_command() {
    CommandSpec spec;
    spec.name = "hunt";
    spec.summary = "The hunt for a fault, played against recorded answers";
    spec.usage = "--circuit F.cir --positions F.json --answers F.csv (--row ID | --all) [options]";
    spec.about =
        "Works the amplifier out healthy and with every fault, in every condition a technician "
        "measures in, then begins with what the client says and proposes one test after the other: "
        "the one that tells most about the place for its minutes, and is safe at this point. Each "
        "test is answered from the row; an answer the row lacks counts its minutes and tells "
        "nothing. Ends with a name, its probability, and what would prove it.\n\n"
        "With --all: how often the true position comes first or among the first three, and the "
        "tests and minutes until it is out of circuit, beside a fixed order (outputs, drivers, "
        "limiters, spreader, voltage amplifier, input) with the same table of minutes. The forms "
        "of the files and what is counted: core/suspects/hunt.md.";
    spec.example = "railside hunt --circuit amp.cir --positions amp.json --answers faults.csv "
                   "--row A07 --generic";
    spec.options = {
        {std::string(k_circuit), "FILE", "The amplifier as a SPICE netlist.", ""},
        {std::string(k_positions), "FILE", "What each position is there for, as JSON.", ""},
        {std::string(k_answers), "FILE", "Recorded answers, as CSV: a row for each unit.", ""},
        {std::string(k_row), "ID", "Plays one row and prints every test.", ""},
        {std::string(k_all), "", "Plays every row and adds them up.", ""},
        {std::string(k_generic), "",
         "Puts the program's own generic device of the position's role in place of every .model "
         "card.",
         ""},
        {std::string(k_minutes), "FILE", "This bench's table of minutes.", ""},
        {std::string(k_outside), "",
         "Nothing is taken out of circuit: what can be told from "
         "outside alone.",
         ""},
        {std::string(k_samples), "COUNT", "Draws of the device constants.", "2 to 64"},
        {std::string(k_json_option), "", "Prints the answer as JSON, in SI base units.", ""},
    };
    return {std::move(spec), run_hunt};
}

} // namespace railside
