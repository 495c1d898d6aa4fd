#include "app/rooms/state.h"

#include "core/words/words.h"
#include <fmt/format.h>

#include <array>
#include <chrono>

namespace railside {

std::string_view room_key(RoomId room) {
    switch (room) {
    case RoomId::shelf:
        return "shelf";
    case RoomId::bench:
        return "bench";
    case RoomId::sheet:
        return "sheet";
    case RoomId::workings:
        return "workings";
    case RoomId::photos:
        return "photos";
    case RoomId::steps:
        return "steps";
    case RoomId::handover:
        return "handover";
    case RoomId::suspects:
        return "suspects";
    }
    return "";
}

std::string_view room_label(RoomId room) {
    switch (room) {
    case RoomId::shelf:
        return "Shelf";
    case RoomId::bench:
        return "Bench";
    case RoomId::sheet:
        return "Sheet";
    case RoomId::workings:
        return "Workings";
    case RoomId::photos:
        return "Photos";
    case RoomId::steps:
        return "Steps";
    case RoomId::handover:
        return "Handover";
    case RoomId::suspects:
        return "Suspects";
    }
    return "";
}

std::optional<RoomId> room_from_key(std::string_view key) {
    for (const RoomId room : {RoomId::shelf, RoomId::bench, RoomId::sheet, RoomId::workings,
                              RoomId::photos, RoomId::steps, RoomId::handover, RoomId::suspects})
        if (room_key(room) == key)
            return room;
    return std::nullopt;
}

std::string_view beside_key(Beside beside) {
    switch (beside) {
    case Beside::photos:
        return "photos";
    case Beside::steps:
        return "steps";
    case Beside::kept:
        return "kept";
    }
    return "";
}

std::string_view beside_label(Beside beside) {
    switch (beside) {
    case Beside::photos:
        return "Photos";
    case Beside::steps:
        return "Steps";
    case Beside::kept:
        return "Kept";
    }
    return "";
}

std::string_view sheet_part_key(SheetPart part) {
    switch (part) {
    case SheetPart::unit:
        return "unit";
    case SheetPart::positions:
        return "positions";
    case SheetPart::money:
        return "money";
    case SheetPart::history:
        return "history";
    }
    return "";
}

std::string_view sheet_part_label(SheetPart part) {
    switch (part) {
    case SheetPart::unit:
        return "Unit";
    case SheetPart::positions:
        return "Positions";
    case SheetPart::money:
        return "Money";
    case SheetPart::history:
        return "Time line";
    }
    return "";
}

std::string_view suspects_part_key(SuspectsPart part) {
    switch (part) {
    case SuspectsPart::next:
        return "next";
    case SuspectsPart::evidence:
        return "evidence";
    case SuspectsPart::channels:
        return "channels";
    }
    return "";
}

std::string_view suspects_part_label(SuspectsPart part) {
    switch (part) {
    case SuspectsPart::next:
        return "Next test";
    case SuspectsPart::evidence:
        return "Evidence";
    case SuspectsPart::channels:
        return "Channels";
    }
    return "";
}

std::string_view handover_part_key(HandoverPart part) {
    switch (part) {
    case HandoverPart::missing:
        return "missing";
    case HandoverPart::words:
        return "words";
    case HandoverPart::photos:
        return "photos";
    case HandoverPart::wanting:
        return "wanting";
    case HandoverPart::preview:
        return "preview";
    case HandoverPart::write:
        return "write";
    }
    return "";
}

std::string_view handover_part_label(HandoverPart part) {
    switch (part) {
    case HandoverPart::missing:
        return "Missing";
    case HandoverPart::words:
        return "Words";
    case HandoverPart::photos:
        return "Photos";
    case HandoverPart::wanting:
        return "Wanting";
    case HandoverPart::preview:
        return "Preview";
    case HandoverPart::write:
        return "Write";
    }
    return "";
}

std::string_view bench_part_key(BenchPart part) {
    switch (part) {
    case BenchPart::instruments:
        return "instruments";
    case BenchPart::drawer:
        return "drawer";
    case BenchPart::lists:
        return "lists";
    case BenchPart::copies:
        return "copies";
    case BenchPart::screen:
        return "screen";
    }
    return "";
}

std::string_view bench_part_label(BenchPart part) {
    switch (part) {
    case BenchPart::instruments:
        return "Meters";
    case BenchPart::drawer:
        return "Drawer";
    case BenchPart::lists:
        return "Lists";
    case BenchPart::copies:
        return "Copies";
    case BenchPart::screen:
        return "Screen";
    }
    return "";
}

std::string_view history_filter_key(HistoryFilter filter) {
    switch (filter) {
    case HistoryFilter::all:
        return "all";
    case HistoryFilter::readings:
        return "readings";
    case HistoryFilter::photos:
        return "photos";
    case HistoryFilter::steps:
        return "steps";
    case HistoryFilter::workings:
        return "workings";
    case HistoryFilter::changes:
        return "changes";
    }
    return "";
}

std::string_view history_filter_label(HistoryFilter filter) {
    switch (filter) {
    case HistoryFilter::all:
        return "All";
    case HistoryFilter::readings:
        return "Readings";
    case HistoryFilter::photos:
        return "Photos";
    case HistoryFilter::steps:
        return "Steps";
    case HistoryFilter::workings:
        return "Workings";
    case HistoryFilter::changes:
        return "Changes";
    }
    return "";
}

bool may_be_set(const TextEntry& entry) {
    // What begins something needs words; a member may be emptied.
    static constexpr std::string_view k_wants_words[] = {
        "new/", "note", "skip/", "apart/what", "drawer/new", "override/", "wanting/new"};
    if (!entry.text.empty() || !entry.pending.empty())
        return true;
    for (const std::string_view start : k_wants_words)
        if (entry.target.starts_with(start))
            return false;
    return true;
}

std::string time_text(std::int64_t time_ms, const Clock& clock) {
    using namespace std::chrono;
    static constexpr std::array<const char*, 12> k_months = {
        "Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"};
    const auto local = [&](std::int64_t ms) {
        return sys_time<milliseconds>(milliseconds(ms) + minutes(clock.utc_offset_minutes));
    };
    const auto then = local(time_ms);
    const auto then_day = floor<days>(then);
    const auto today = floor<days>(local(clock.now_ms));
    const year_month_day date(then_day);
    if (then_day == today) {
        const hh_mm_ss time(floor<minutes>(then - then_day));
        return fmt::format("{:02}:{:02}", time.hours().count(), time.minutes().count());
    }
    const std::string day = fmt::format("{} {}", static_cast<unsigned>(date.day()),
                                        words(k_months[static_cast<unsigned>(date.month()) - 1]));
    if (date.year() == year_month_day(today).year())
        return day;
    return fmt::format("{} {}", day, static_cast<int>(date.year()));
}

std::string date_text(std::int64_t time_ms, const Clock& clock) {
    using namespace std::chrono;
    const auto local =
        sys_time<milliseconds>(milliseconds(time_ms) + minutes(clock.utc_offset_minutes));
    const year_month_day date(floor<days>(local));
    return fmt::format("{:04}-{:02}-{:02}", static_cast<int>(date.year()),
                       static_cast<unsigned>(date.month()), static_cast<unsigned>(date.day()));
}

} // namespace railside
