#include "core/job/teardown.h"
#include "core/words/words.h"

#include <fmt/format.h>

#include <algorithm>
#include <limits>
#include <numeric>

namespace railside {

namespace {

constexpr int k_named = 3;

int added(int a, int b) {
    return a > std::numeric_limits<int>::max() - b ? std::numeric_limits<int>::max() : a + b;
}

} // namespace

std::vector<ReassemblyLine> reassembly_list(const Job& job) {
    std::vector<ReassemblyLine> lines;
    for (auto it = job.taken_off.rbegin(); it != job.taken_off.rend(); ++it) {
        if (it->source.standing != Standing::valid)
            continue;
        ReassemblyLine line;
        line.item = it->source.entry;
        line.what = it->what;
        line.where = it->where;
        line.photo = it->photo;
        line.position = it->position;
        line.channel = it->channel;
        line.off = it->count;
        for (const PutBackRecord& back : job.put_back)
            if (back.source.standing == Standing::valid && back.item == line.item)
                line.back = added(line.back, back.count);
        line.still = std::max(line.off - line.back, 0);
        line.over = std::max(line.back - line.off, 0);
        lines.push_back(std::move(line));
    }
    return lines;
}

int pieces_still_off(const std::vector<ReassemblyLine>& lines) {
    return std::accumulate(lines.begin(), lines.end(), 0, [](int sum, const ReassemblyLine& line) {
        return added(sum, line.still);
    });
}

std::string still_off_sentence(const std::vector<ReassemblyLine>& lines) {
    const int pieces = pieces_still_off(lines);
    if (pieces == 0)
        return {};
    std::string text =
        pieces == 1 ? "1 piece is not back yet:" : worded("{} pieces are not back yet:", pieces);
    int named = 0;
    int more = 0;
    for (const ReassemblyLine& line : lines) {
        if (line.still == 0)
            continue;
        if (named == k_named) {
            more = added(more, line.still);
            continue;
        }
        text += fmt::format("{} {} {}{}", named == 0 ? "" : ",", line.still, line.what,
                            line.where.empty() ? "" : fmt::format(" ({})", line.where));
        ++named;
    }
    if (more > 0)
        text += worded(" and {} more", more);
    return text + ".";
}

} // namespace railside
