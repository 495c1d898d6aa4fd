// A hand for the tests: opens a bench without a window and touches controls by their names in the
// control map.
#pragma once

#include "app/hosts/host.h"
#include "app/rooms/builtin_lists.h"
#include "app/rooms/program.h"
#include "core/store/bench.h"
#include "core/store/image.h"
#include "support/demo.h"

#include <cmath>
#include <filesystem>
#include <fstream>
#include <functional>
#include <memory>
#include <stdexcept>
#include <string>
#include <string_view>

/// Throws std::runtime_error with the reason: a test that asks for what is not there fails with it.
class Robot {
  public:
    /// `changed` may give the program a camera or a thread of its own; without it everything is
    /// done at once, and there is no camera.
    Robot(const std::filesystem::path& folder, const railside::Screen& screen,
          const std::function<void(railside::ProgramSurroundings&)>& changed = {})
        : screen_(screen) {
        auto bench = railside::Bench::open(folder, railside::system_surroundings());
        if (!bench)
            throw std::runtime_error(bench.error().message);
        bench_ = std::move(*bench);
        railside::ProgramSurroundings around;
        around.clock = [] { return railside::Clock{railside::system_surroundings().now_ms(), 0}; };
        for (const railside::StepList& list : railside::builtin_lists())
            around.lists.push_back(list);
        around.start_folder = folder.string();
        around.work_at_once = true;
        around.tables = tables();
        if (changed)
            changed(around);
        program_ = std::make_unique<railside::RailsideProgram>(*bench_, std::move(around));
        auto host = railside::Headless::create(*program_, screen);
        if (!host)
            throw std::runtime_error(host.error().message);
        host_ = std::move(*host);
        host_->settle();
    }

    /// One set of the hunt's tables for all tests of a program: each takes seconds.
    static const std::shared_ptr<railside::HuntTables>& tables() {
        static const auto k_tables = std::make_shared<railside::HuntTables>();
        return k_tables;
    }

    railside::RailsideProgram& program() { return *program_; }
    railside::Headless& host() { return *host_; }
    railside::Bench& bench() { return *bench_; }

    [[nodiscard]] const railside::Control* find(std::string_view name) const {
        return program_->controls().find(name);
    }

    [[nodiscard]] const railside::Control& need(std::string_view name) const {
        const railside::Control* control = find(name);
        if (control == nullptr) {
            std::string all;
            for (const auto& other : program_->controls().controls())
                all += "\n  " + other.name;
            throw std::runtime_error("there is no control " + std::string(name) +
                                     "; there are:" + all);
        }
        return *control;
    }

    /// A finger goes down and up on the middle of the control, after scrolling it into view as a
    /// finger would.
    void tap(std::string_view name) {
        bring_into_view(name);
        const railside::Control& control = need(name);
        const float x = control.visible.mid_x();
        const float y = control.visible.mid_y();
        host_->touch(railside::TouchPhase::begin, 1, x, y);
        host_->pass_time(0.06);
        host_->touch(railside::TouchPhase::end, 1, x, y);
        host_->settle();
    }

    void hold(std::string_view name, double seconds = 0.9) {
        bring_into_view(name);
        const railside::Control& control = need(name);
        const float x = control.visible.mid_x();
        const float y = control.visible.mid_y();
        host_->touch(railside::TouchPhase::begin, 1, x, y);
        host_->pass_time(seconds);
        host_->touch(railside::TouchPhase::end, 1, x, y);
        host_->settle();
    }

    void drag(float x0, float y0, float x1, float y1, int steps = 12) {
        host_->touch(railside::TouchPhase::begin, 1, x0, y0);
        for (int i = 1; i <= steps; ++i) {
            host_->pass_time(0.016);
            const float t = static_cast<float>(i) / static_cast<float>(steps);
            host_->touch(railside::TouchPhase::move, 1, x0 + (x1 - x0) * t, y0 + (y1 - y0) * t);
        }
        // Held still before it leaves: no momentum.
        host_->pass_time(0.25);
        host_->touch(railside::TouchPhase::end, 1, x1, y1);
        host_->settle();
    }

    /// Keys a value by its keys: "12m" taps 1, 2, m.
    void key_in(std::string_view keys) {
        for (const char c : keys)
            tap("keypad/" + std::string(1, c));
    }

    [[nodiscard]] std::string value(std::string_view name) const { return need(name).value; }

    void write_picture(const std::filesystem::path& path) {
        const std::string pixels = host_->pixels();
        railside::Picture picture;
        picture.width = host_->screen().width_px;
        picture.height = host_->screen().height_px;
        picture.rgba.assign(pixels.begin(), pixels.end());
        const auto png = railside::encode_png(picture);
        if (!png)
            throw std::runtime_error(png.error().message);
        std::ofstream file(path, std::ios::binary);
        file.write(reinterpret_cast<const char*>(png->data()),
                   static_cast<std::streamsize>(png->size()));
    }

  private:
    void bring_into_view(std::string_view name) {
        for (int tries = 0; tries < 60; ++tries) {
            const railside::Control& control = need(name);
            if (!control.visible.empty() &&
                control.visible.height() >= control.rect.height() * 0.8f)
                return;
            bool moved = false;
            for (const railside::ScrollArea& area : program_->ui().scroll_areas()) {
                const float x = control.rect.mid_x();
                if (area.layer != control.layer || x < area.rect.x0 || x > area.rect.x1 ||
                    area.most() <= 0)
                    continue;
                const float away = control.rect.mid_y() - area.rect.mid_y();
                const float reach = area.rect.height() * 0.35f;
                float step = away > reach ? reach : away < -reach ? -reach : away;
                // A finger that moves less is taken for a tap.
                const float least = host_->screen().px_per_mm * 5;
                if (std::abs(step) < least)
                    step = std::copysign(least * 1.6f, step);
                drag(area.rect.mid_x(), area.rect.mid_y() + step / 2, area.rect.mid_x(),
                     area.rect.mid_y() - step / 2);
                moved = true;
                break;
            }
            if (!moved)
                return;
        }
    }

    railside::Screen screen_;
    std::unique_ptr<railside::Bench> bench_;
    std::unique_ptr<railside::RailsideProgram> program_;
    std::unique_ptr<railside::Headless> host_;
};
