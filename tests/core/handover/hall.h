// A small job of two channels for the report's tests: every kind of entry once or more, each with
// words of its own by which it is found again.
#pragma once

#include "core/handover/report.h"
#include "core/store/image.h"

#include "../job/writer.h"

#include <string>
#include <utility>
#include <vector>

namespace hall {

using Json = nlohmann::json;
using namespace railside;

inline Json amount(double value, double off, const char* unit) {
    return {{"value", value}, {"low", value - off}, {"high", value + off}, {"unit", unit}};
}

inline Json idle_record(double amperes, const char* state, const char* word) {
    return {{"working", "idle"},
            {"inputs",
             {{"reading",
               {{"value", 0.0115},
                {"low", 0.0114},
                {"high", 0.0116},
                {"unit", "volt"},
                {"text", "11.5m"},
                {"from", "measured"}}}}},
            {"results", {{"idle_current", amount(amperes, 0.004, "ampere")}}},
            {"headline", "idle_current"},
            {"verdict", {{"state", state}, {"word", word}, {"reason", "against the target"}}},
            {"cautions", {"The sink is live."}},
            {"notes", {"Generic device."}}};
}

/// The entry of each word that the report must lose when it is struck.
struct Told {
    std::string entry;
    std::string word;
};

struct Hall {
    Writer writer;
    std::vector<Told> told;
    std::string photo;
    std::string list;
    std::string vr201;
    std::string reading_after;

    Hall() {
        writer.add(EntryKind::job, {{"model", "SA-260"},
                                    {"serial", "26-0417"},
                                    {"complaint", "too hot to touch"},
                                    {"agreed_limit", 140},
                                    {"hourly_rate", 48},
                                    {"currency", "EUR"}});
        list =
            writer.add(EntryKind::list,
                       {{"key", "handing_back"},
                        {"name", "Handing it back"},
                        {"steps",
                         {{{"key", "music"}, {"text", "Half an hour of music"}, {"kind", "tick"}},
                          {{"key", "earth"},
                           {"text", "Earth pin to chassis"},
                           {"kind", "reading"},
                           {"unit", "ohm"},
                           {"low", 0},
                           {"high", 0.5},
                           {"bars", true}},
                          {{"key", "load"}, {"text", "What it may drive"}, {"kind", "tick"}}}}});
        vr201 = tell(EntryKind::position,
                     {{"designator", "VR201"},
                      {"channel", "left"},
                      {"role", "trim_pot"},
                      {"printed_type", "1k"},
                      {"fitted_type", "1k square"},
                      {"fitted_by", "earlier shop"},
                      {"state", "bad"},
                      {"note", "wiper open"}},
                     "wiper open");
        writer.position("R231",
                        {{"channel", "left"}, {"role", "emitter_resistor"}, {"state", "good"}});
        const std::string r231 = writer.entries().back().id;
        writer.position(
            "R331", {{"channel", "right"}, {"role", "emitter_resistor"}, {"state", "untested"}});
        const std::string r331 = writer.entries().back().id;
        photo = tell(EntryKind::photo,
                     {{"hash", std::string(64, 'a')},
                      {"type", "jpeg"},
                      {"width", 400},
                      {"height", 300},
                      {"bytes", 9},
                      {"stage", "earlier_work"},
                      {"caption", "wire over a land"}},
                     "wire over a land");
        tell(EntryKind::mark,
             {{"photo", photo},
              {"shape", "ring"},
              {"points", {{0.2, 0.2}, {0.6, 0.7}}},
              {"text", "bare wire"}},
             "bare wire");
        reading("Idle volts across R231", "left", "96.0m", 0.096, r231, "as received");
        reading("Idle volts across R331", "right", "11.4m", 0.0114, r331, "cold");
        tell(EntryKind::position,
             {{"designator", "VR201"},
              {"channel", "left"},
              {"fitted_type", "1k ten-turn"},
              {"fitted_by", "this bench"},
              {"state", "replaced"}},
             "1k ten-turn");
        reading("Idle volts across R231", "left", "11.5m", 0.0115, r231, "settled");
        reading_after = writer.entries().back().id;
        tell(EntryKind::working,
             {{"working", "idle"},
              {"channel", "left"},
              {"uses", {reading_after}},
              {"record", idle_record(0.0523, "in_window", "in window")}},
             "52.3");
        tell(EntryKind::cost,
             {{"type", "part"}, {"what", "trim pot, ten-turn"}, {"count", 1}, {"each", 3.2}},
             "trim pot, ten-turn");
        tell(EntryKind::cost, {{"type", "work"}, {"what", "bench work"}, {"minutes", 90}},
             "bench work");
        const std::string screws =
            tell(EntryKind::taken_off, {{"what", "lid screw"}, {"count", 6}, {"where", "lid"}},
                 "lid screw");
        tell(EntryKind::put_back, {{"item", screws}, {"count", 4}, {"note", "two were lost"}},
             "two were lost");
        tell(EntryKind::tick,
             {{"list", list},
              {"step", "music"},
              {"state", "skipped"},
              {"answer", "no speaker here"}},
             "no speaker here");
        tell(EntryKind::wanting,
             {{"title", "Sleeve the bridge"},
              {"rank", "safety"},
              {"parts", 2.5},
              {"minutes", 15},
              {"why", "it lies bare"}},
             "Sleeve the bridge");
        tell(EntryKind::wanting,
             {{"title", "Trim pot VR301"}, {"rank", "sound"}, {"parts", 40}, {"minutes", 20}},
             "Trim pot VR301");
        tell(
            EntryKind::wanting,
            {{"title", "Matched outputs"}, {"rank", "reliability"}, {"parts", 18}, {"minutes", 30}},
            "Matched outputs");
        tell(EntryKind::wanting, {{"title", "New feet"}, {"rank", "sound"}, {"state", "declined"}},
             "New feet");
        tell(EntryKind::note, {{"text", "the hall has 4 Ω on the right"}}, "the hall has 4");
        tell(EntryKind::recording,
             {{"hash", std::string(64, 'b')},
              {"name", "r.csv"},
              {"bytes", 9},
              {"what", "output at 1 kHz"}},
             "output at 1 kHz");
        tell(EntryKind::closing,
             {{"words", "Both sides play again."},
              {"cause", "the wiper was open"},
              {"cure", "a ten-turn pot"},
              {"overrides", {{"limit", "never"}, {"pieces_off", "ordered"}}}},
             "Both sides play again.");
    }

    std::string tell(EntryKind kind, Json body, std::string word) {
        told.push_back({writer.add(kind, std::move(body)), std::move(word)});
        return told.back().entry;
    }
    void reading(const char* what, const char* channel, const char* text, double value,
                 const std::string& position, const char* conditions) {
        tell(EntryKind::reading,
             {{"what", what},
              {"channel", channel},
              {"text", text},
              {"position", position},
              {"field", "reading"},
              {"instrument", "bench meter"},
              {"conditions", conditions},
              {"amount", amount(value, 0.0002, "volt")}},
             conditions);
    }

    [[nodiscard]] Report report() const { return report_of(writer.fold()); }
    [[nodiscard]] static Report report_of(const Job& job) {
        return make_report(job, fold_book({}), {1'700'000'000'000, 60, "Bench by the river"});
    }
};

/// A grey JPEG of that size.
inline std::vector<std::byte> jpeg(int width, int height) {
    Picture picture{width, height, {}};
    picture.rgba.assign(static_cast<std::size_t>(width) * static_cast<std::size_t>(height) * 4,
                        150);
    return encode_jpeg(picture, 80).value();
}

} // namespace hall
