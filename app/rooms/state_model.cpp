#include "app/rooms/state.h"

#include <fmt/format.h>

#include <array>
#include <chrono>

namespace railside {

std::string_view room_key(RoomId room) {
    switch (room) {
    case RoomId::shelf:
        return "shelf";
    case RoomId::sheet:
        return "sheet";
    case RoomId::workings:
        return "workings";
    case RoomId::photos:
        return "photos";
    case RoomId::steps:
        return "steps";
    }
    return "";
}

std::string_view room_label(RoomId room) {
    switch (room) {
    case RoomId::shelf:
        return "Shelf";
    case RoomId::sheet:
        return "Sheet";
    case RoomId::workings:
        return "Workings";
    case RoomId::photos:
        return "Photos";
    case RoomId::steps:
        return "Steps";
    }
    return "";
}

std::optional<RoomId> room_from_key(std::string_view key) {
    for (const RoomId room :
         {RoomId::shelf, RoomId::sheet, RoomId::workings, RoomId::photos, RoomId::steps})
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
                                        k_months[static_cast<unsigned>(date.month()) - 1]);
    if (date.year() == year_month_day(today).year())
        return day;
    return fmt::format("{} {}", day, static_cast<int>(date.year()));
}

} // namespace railside
