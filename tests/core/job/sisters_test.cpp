#include "core/job/sisters.h"

#include "writer.h"

using namespace railside;
using Json = nlohmann::json;

namespace {

std::string position(Writer& writer, const char* designator, const char* channel, const char* role,
                     Json more = Json::object()) {
    more["channel"] = channel;
    more["role"] = role;
    return writer.position(designator, std::move(more));
}

/// The designator of the sister, or empty.
std::string sister(const Job& job, const std::string& designator, SisterBy* by = nullptr) {
    for (const PositionRecord& one : job.positions)
        if (one.designator == designator && one.source.standing == Standing::valid) {
            const Sister found = sister_of(job, one);
            if (by != nullptr)
                *by = found.by;
            return found.position == nullptr ? "" : found.position->designator;
        }
    return "no such position";
}

const PositionRecord& at(const Job& job, const std::string& designator) {
    for (const PositionRecord& one : job.positions)
        if (one.designator == designator)
            return one;
    throw std::out_of_range(designator);
}

void read(Writer& writer, const std::string& position, double value, double within,
          const char* power = "lamp") {
    writer.add(EntryKind::reading, {{"what", "idle volts"},
                                    {"kind", "millivolts"},
                                    {"position", position},
                                    {"when", {{"power", power}}},
                                    {"amount",
                                     {{"value", value},
                                      {"low", value - within},
                                      {"high", value + within},
                                      {"unit", "volt"}}}});
}

} // namespace

TEST_CASE("sisters: one of a role and half in each channel are sisters, whatever their numbers",
          "[core][job]") {
    Writer writer;
    position(writer, "Q7", "left", "output", {{"half", "plus"}});
    position(writer, "Q8", "left", "output", {{"half", "minus"}});
    position(writer, "Q41", "right", "output", {{"half", "plus"}});
    position(writer, "Q38", "right", "output", {{"half", "minus"}});
    const Job job = writer.fold();
    SisterBy by = SisterBy::named;
    CHECK(sister(job, "Q7", &by) == "Q41");
    CHECK(by == SisterBy::place);
    CHECK(sister(job, "Q8") == "Q38");
    CHECK(sister(job, "Q38") == "Q8");
}

TEST_CASE("sisters: a named sister comes before any guess, from either side", "[core][job]") {
    Writer writer;
    const std::string a = position(writer, "Q214", "left", "output");
    position(writer, "Q314", "right", "output");
    position(writer, "Q399", "right", "output", {{"sister", a}});
    Job job = writer.fold();
    SisterBy by = SisterBy::place;
    CHECK(sister(job, "Q214", &by) == "Q399");
    CHECK(by == SisterBy::named);
    CHECK(sister(job, "Q399") == "Q214");
    // A later entry of the position takes the name away; then the designator decides.
    position(writer, "Q399", "right", "output", {{"sister", ""}});
    CHECK(sister(writer.fold(), "Q214") == "Q314");
}

TEST_CASE("sisters: of several the same last two figures decide, and that is said to be a guess",
          "[core][job]") {
    Writer writer;
    for (const char* left : {"Q214", "Q215"})
        position(writer, left, "left", "output");
    for (const char* right : {"Q314", "Q315"})
        position(writer, right, "right", "output");
    SisterBy by = SisterBy::place;
    CHECK(sister(writer.fold(), "Q214", &by) == "Q314");
    CHECK(by == SisterBy::designator);
    // Two that could be: none is.
    position(writer, "Q414", "right", "output");
    CHECK(sister(writer.fold(), "Q214").empty());
}

TEST_CASE("sisters: no channel, no role, or only one side filled gives none", "[core][job]") {
    Writer writer;
    writer.position("Q1", {{"role", "output"}});
    position(writer, "R214", "left", "other");
    position(writer, "R314", "right", "other");
    position(writer, "Q3", "left", "driver", {{"half", "plus"}});
    position(writer, "Q4", "right", "driver", {{"half", "minus"}});
    const Job job = writer.fold();
    CHECK(sister(job, "Q1").empty());
    CHECK(sister(job, "R214").empty());
    CHECK(sister(job, "Q3").empty());
}

TEST_CASE("sisters: a struck position is nobody's sister", "[core][job]") {
    Writer writer;
    position(writer, "Q7", "left", "limiter");
    const std::string there = position(writer, "Q41", "right", "limiter");
    CHECK(sister(writer.fold(), "Q7") == "Q41");
    writer.strike(there);
    CHECK(sister(writer.fold(), "Q7").empty());
}

TEST_CASE("sisters: other types, a doubtful state and readings that do not meet are flagged",
          "[core][job]") {
    Writer writer;
    const std::string a =
        position(writer, "R231", "left", "emitter_resistor",
                 {{"printed_type", "0R22"}, {"fitted_type", "0R47"}, {"state", "bad"}});
    const std::string b =
        position(writer, "R331", "right", "emitter_resistor",
                 {{"printed_type", "0R22"}, {"fitted_type", "0R22"}, {"state", "good"}});
    read(writer, a, 0.096, 0.001);
    read(writer, b, 0.012, 0.001);
    Job job = writer.fold();
    std::vector<SisterDifference> differences =
        sister_differences(job, at(job, "R231"), at(job, "R331"));
    REQUIRE(differences.size() == 3);
    CHECK(differences[0].what == "fitted type");
    CHECK(differences[0].mine == "0R47");
    CHECK(differences[0].theirs == "0R22");
    CHECK(differences[1].what == "state");
    CHECK(differences[2].what == "idle volts");
    CHECK(differences[2].mine == "96\u2009mV");
    CHECK(differences[2].theirs == "12\u2009mV");
    // The latest of each counts, and only under the same conditions.
    read(writer, a, 0.0125, 0.001);
    job = writer.fold();
    CHECK(sister_differences(job, at(job, "R231"), at(job, "R331")).size() == 2);
    read(writer, a, 0.5, 0.001, "mains");
    job = writer.fold();
    CHECK(sister_differences(job, at(job, "R231"), at(job, "R331")).size() == 2);
}

TEST_CASE("sisters: what is not known on one side is no difference", "[core][job]") {
    Writer writer;
    position(writer, "Q7", "left", "driver", {{"fitted_type", "2SC2238"}, {"state", "untested"}});
    position(writer, "Q9", "right", "driver", {{"state", "good"}});
    const Job job = writer.fold();
    CHECK(sister_differences(job, at(job, "Q7"), at(job, "Q9")).empty());
}
