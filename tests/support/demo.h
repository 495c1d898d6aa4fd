// The demo job for many tests of one program: its pictures are painted once.
#pragma once

#include "app/rooms/demo_job.h"
#include "app/rooms/demo_pictures.h"
#include "core/store/bench.h"

#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <utility>

inline railside::Result<std::string> load_painted_demo_job(railside::Bench& bench) {
    static std::map<std::pair<std::string, int>, std::optional<railside::Picture>> painted;
    return railside::load_demo_job(
        bench, railside::k_demo_begun_ms, [](std::string_view name, int width) {
            const auto [at, added] = painted.try_emplace({std::string(name), width});
            if (added)
                at->second = railside::demo_picture(name, width);
            return at->second;
        });
}
