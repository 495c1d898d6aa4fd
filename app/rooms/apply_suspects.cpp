// The hunt: what is found, which circuit it is, and the tables worked out behind the screen.

#include "app/rooms/apply.h"
#include "app/rooms/bench_model.h"
#include "app/rooms/suspects_model.h"
#include "core/circuit/netlist.h"
#include "core/suspects/usual.h"
#include "core/words/words.h"

#include <fmt/format.h>

#include <algorithm>
#include <fstream>
#include <sstream>
#include <utility>

namespace railside {

namespace {

constexpr std::size_t k_longest_text = 200'000; // journal.md

Channel hunted(const AppState& state) {
    return state.channel == Channel::right ? Channel::right : Channel::left;
}

Result<std::string> file_text(const std::filesystem::path& path) {
    std::ifstream file(path, std::ios::binary);
    std::ostringstream text;
    text << file.rdbuf();
    if (!file)
        return Error{ErrorCode::not_found, "circuit",
                     worded("{} cannot be read.", path.filename().string())};
    if (text.str().size() > k_longest_text)
        return Error{ErrorCode::out_of_range, "circuit",
                     worded("{} has {} bytes; a circuit's text may have up to {}.",
                            path.filename().string(), text.str().size(), k_longest_text)};
    return text.str();
}

/// The netlist with the files it includes in their places, for a job's circuit stands by itself.
Result<std::string> standing_by_itself(const std::filesystem::path& path, int depth = 0) {
    constexpr int k_deepest = 8;
    auto text = file_text(path);
    if (!text || depth > k_deepest)
        return text;
    std::istringstream lines(*text);
    std::string all;
    for (std::string line; std::getline(lines, line);) {
        std::istringstream words(line);
        std::string command;
        std::string name;
        words >> command >> name;
        std::transform(command.begin(), command.end(), command.begin(), [](unsigned char c) {
            return static_cast<char>(c >= 'A' && c <= 'Z' ? c + 32 : c);
        });
        if (command != ".include" && command != ".inc") {
            if (depth == 0 || command != ".end")
                all += line + "\n";
            continue;
        }
        name.erase(
            std::remove_if(name.begin(), name.end(), [](char c) { return c == '"' || c == '\''; }),
            name.end());
        const auto inner = standing_by_itself(path.parent_path() / name, depth + 1);
        if (!inner)
            return inner.error();
        all += *inner;
    }
    return all;
}

} // namespace

RailsideProgram::~RailsideProgram() {
    for (auto& [key, table] : tables_->tables)
        table->stop = true;
}

HuntTable& RailsideProgram::table_for(const std::string& key, Channel channel) {
    std::shared_ptr<HuntTable>& table = tables_->tables[key];
    if (table)
        return *table;
    table = std::make_shared<HuntTable>();
    auto amplifier = job_amplifier(job_, channel);
    if (!amplifier) {
        table->failed = amplifier.error().message;
        return *table;
    }
    HuntOptions options;
    options.predictions.generic = true;
    if (surroundings_.work_at_once) {
        // Nobody waits for such a table: the same touches make the same screens, sooner.
        options.predictions.samples = 1;
        options.predictions.severity_steps = 3;
        options.predictions.most_steps = 4;
    }
    options.predictions.progress = [table, wake = wake_](int done, int of) {
        const bool tell = of > 0 && done * 20 / of != table->done * 20 / of;
        table->of = of;
        table->done = done;
        if (tell && wake)
            wake();
        return !table->stop;
    };
    hunter_->ask("table/" + key,
                 [table, options, amplifier = std::make_shared<Amplifier>(std::move(*amplifier))] {
                     auto hunt = Hunt::create(*amplifier, options);
                     std::shared_ptr<const Hunt> made =
                         hunt ? std::make_shared<const Hunt>(std::move(*hunt)) : nullptr;
                     return [table, made, why = hunt ? std::string() : hunt.error().message] {
                         table->hunt = made;
                         table->failed = why;
                     };
                 });
    for (const Worker::Lost& lost : hunter_->take_lost())
        table->failed = lost.reason;
    return *table;
}

void RailsideProgram::refresh_suspects() {
    SuspectsFacts facts;
    const CircuitRecord* circuit = job_.circuit();
    if (circuit == nullptr) {
        if (const auto values = usual_values(job_); !values)
            facts.why_no_usual = values.error().message;
        shown_.suspects = make_suspects(state_, job_, facts);
        return;
    }
    facts.circuit = circuit->name;
    for (const Channel channel : {Channel::left, Channel::right}) {
        ChannelHunt& shown = channel == Channel::left ? facts.left : facts.right;
        const std::string key = table_key(job_, channel);
        const HuntTable& table = table_for(key, channel);
        if (!table.hunt) {
            shown.table = {table.done, table.of, table.failed};
            continue;
        }
        // Weighing takes tens of milliseconds: anew only when something changed.
        const std::string weighed = fmt::format(
            "{} {} {} {} {}", job_.entries.size(), job_.entries.back().id,
            hunted(state_) == channel ? state_.suspect : std::string(), key, book_.minutes);
        WeighedChannel& held = weighed_[channel == Channel::left ? 0 : 1];
        if (held.key != weighed) {
            HuntOptions options = table.hunt->options();
            options.minutes = minutes_of_bench(book_);
            held.hunt = std::make_shared<const ChannelHunt>(
                weigh_channel(table.hunt->with(options), job_, channel,
                              hunted(state_) == channel ? state_.suspect : std::string()));
            held.key = weighed;
        }
        shown = *held.hunt;
    }
    shown_.suspects = make_suspects(state_, job_, facts);
}

void RailsideProgram::take_circuit(const CircuitRecord& circuit) {
    Job with = job_;
    with.circuits.push_back(circuit);
    for (const Channel channel : {Channel::left, Channel::right})
        if (const auto amplifier = job_amplifier(with, channel); !amplifier) {
            say(AppState::MessageTone::refused, amplifier.error().message);
            return;
        }
    if (append(EntryKind::circuit, circuit_body(circuit)))
        say(AppState::MessageTone::kept, worded("The circuit is kept: {}.", circuit.name));
}

void RailsideProgram::import_circuit(const std::filesystem::path& path) {
    state_.choosing_file = false;
    std::filesystem::path positions = path;
    positions.replace_extension(".json");
    const auto netlist = standing_by_itself(path);
    const auto said = netlist ? file_text(positions) : netlist;
    if (!netlist || !said) {
        say(AppState::MessageTone::refused,
            !netlist ? netlist.error().message
                     : worded("{} What each position is there for stands in it, beside the "
                              "netlist.",
                              said.error().message));
        return;
    }
    CircuitRecord circuit;
    circuit.name = path.filename().string();
    circuit.netlist = *netlist;
    circuit.positions = *said;
    take_circuit(circuit);
}

void RailsideProgram::Apply::operator()(const intent::ShowSuspects& show) {
    state.room = RoomId::suspects;
    state.suspects_part = show.part;
    state.suspect.clear();
}

void RailsideProgram::Apply::operator()(const intent::OpenSuspect& open) {
    state.suspect = open.name;
}

void RailsideProgram::Apply::operator()(const intent::TakeUsualCircuit&) {
    const auto values = usual_values(job);
    if (!values)
        program.say(AppState::MessageTone::refused, values.error().message);
    else
        program.take_circuit(usual_circuit(*values));
}

void RailsideProgram::Apply::operator()(const intent::SayFound& said) {
    FindingRecord finding;
    finding.about = said.about;
    finding.answer = said.answer;
    finding.channel = hunted(state);
    finding.half = said.half;
    std::vector<Bench::Draft> drafts{{EntryKind::finding, finding_body(finding)}};
    // A part of the job's own is then known as good or bad.
    const auto amplifier = job_amplifier(job, finding.channel);
    if (said.about.starts_with("part/") && said.answer != "unknown" && amplifier.ok()) {
        const auto names = position_names(job, finding.channel, *amplifier);
        for (std::size_t i = 0; i < names.size(); ++i)
            for (const PositionRecord& position : job.positions)
                if ("part/" + amplifier->positions[i].name == said.about &&
                    position.designator == names[i] && position.channel == finding.channel &&
                    position.source.standing == Standing::valid) {
                    PositionRecord after = position;
                    after.state = said.answer == "good" ? "good" : "bad";
                    if (after.state != position.state)
                        drafts.push_back({EntryKind::position, position_change(position, after)});
                }
    }
    (void)program.append_all(std::move(drafts));
}

} // namespace railside
