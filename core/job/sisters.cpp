#include "core/job/sisters.h"

#include "core/quantity/value_code.h"

#include <algorithm>

namespace railside {

namespace {

bool is_valid(const PositionRecord& position) {
    return position.source.standing == Standing::valid;
}

Channel other_channel(Channel channel) {
    return channel == Channel::left    ? Channel::right
           : channel == Channel::right ? Channel::left
                                       : Channel::none;
}

bool same_place(const PositionRecord& a, const PositionRecord& b) {
    return a.role == b.role && a.half == b.half;
}

bool is_figure(char c) { return c >= '0' && c <= '9'; }

/// "Q214a" -> "Q" and "14a": the letters before the first figure, and what stands from the last two
/// figures on.
std::pair<std::string, std::string> parted(const std::string& designator) {
    const auto first = std::find_if(designator.begin(), designator.end(), is_figure);
    const auto end = std::find_if_not(first, designator.end(), is_figure);
    const auto from = end - std::min<std::ptrdiff_t>(2, end - first);
    return {std::string(designator.begin(), first), std::string(from, designator.end())};
}

const ReadingRecord* latest(const Job& job, const PositionRecord& position,
                            const ReadingRecord& like) {
    for (auto it = job.readings.rbegin(); it != job.readings.rend(); ++it)
        if (it->source.standing == Standing::valid && it->position == position.source.entry &&
            it->kind == like.kind && it->what == like.what && it->when.power == like.when.power &&
            it->when.warmth == like.when.warmth && it->conditions == like.conditions &&
            it->amount.unit == like.amount.unit)
            return &*it;
    return nullptr;
}

std::string shown(const ReadingRecord& reading) {
    return print_short(reading.amount.value, reading.amount.unit, 4);
}

bool is_doubtful(const std::string& state) { return state == "bad" || state == "suspect"; }

} // namespace

Sister sister_of(const Job& job, const PositionRecord& position) {
    if (!is_valid(position) || position.channel == Channel::none)
        return {};
    const Channel there = other_channel(position.channel);
    for (const PositionRecord& one : job.positions)
        if (is_valid(one) && one.channel == there && one.source.entry == position.sister)
            return {&one, SisterBy::named};
    for (const PositionRecord& one : job.positions)
        if (is_valid(one) && one.channel == there && one.sister == position.source.entry)
            return {&one, SisterBy::named};
    if (position.role.empty() || position.role == "other")
        return {};
    std::vector<const PositionRecord*> candidates;
    std::size_t here = 0; // of that place on this side, this one included
    std::size_t here_alike = 0;
    const auto own = parted(position.designator);
    for (const PositionRecord& one : job.positions) {
        // One that names its sister is spoken for.
        if (!is_valid(one) || !same_place(one, position) || !one.sister.empty())
            continue;
        if (one.channel == there)
            candidates.push_back(&one);
        if (one.channel == position.channel) {
            ++here;
            here_alike += parted(one.designator) == own ? 1 : 0;
        }
    }
    if (candidates.size() == 1 && here == 1)
        return {candidates.front(), SisterBy::place};
    const auto is_alike = [&](const PositionRecord* one) { return parted(one->designator) == own; };
    if (here_alike == 1 && !own.second.empty() &&
        std::count_if(candidates.begin(), candidates.end(), is_alike) == 1)
        return {*std::find_if(candidates.begin(), candidates.end(), is_alike),
                SisterBy::designator};
    return {};
}

std::vector<SisterDifference> sister_differences(const Job& job, const PositionRecord& mine,
                                                 const PositionRecord& theirs) {
    std::vector<SisterDifference> differences;
    const auto compare = [&](const char* what, const std::string& a, const std::string& b) {
        if (!a.empty() && !b.empty() && a != b)
            differences.push_back({what, a, b});
    };
    compare("printed type", mine.printed_type, theirs.printed_type);
    compare("fitted type", mine.fitted_type, theirs.fitted_type);
    if (is_doubtful(mine.state) != is_doubtful(theirs.state))
        differences.push_back({"state", mine.state, theirs.state});
    for (const ReadingRecord& reading : job.readings) {
        if (latest(job, mine, reading) != &reading)
            continue;
        const ReadingRecord* other = latest(job, theirs, reading);
        if (other != nullptr &&
            (reading.amount.high < other->amount.low || reading.amount.low > other->amount.high))
            differences.push_back({reading.what, shown(reading), shown(*other)});
    }
    return differences;
}

} // namespace railside
