// What a bench's screen remembers beside the bench.

#include "app/rooms/program.h"
#include "core/words/words.h"

#include <fmt/format.h>

#include <algorithm>
#include <fstream>

namespace railside {

namespace {

Settings::JobBeside beside_from(const nlohmann::json& json) {
    Settings::JobBeside one;
    for (const Beside shows : {Beside::photos, Beside::steps, Beside::kept})
        if (json.contains("shows") && json["shows"] == std::string(beside_key(shows)))
            one.shows = shows;
    if (json.contains("split") && json["split"].is_number()) {
        const float split = json["split"].get<float>();
        one.split = split > 0 ? std::clamp(split, 0.2f, 0.8f) : 0;
    }
    return one;
}

} // namespace

Settings load_settings(const std::filesystem::path& bench_folder) {
    Settings settings;
    std::ifstream file(bench_folder / "settings.json");
    if (!file)
        return settings;
    const nlohmann::json json = nlohmann::json::parse(file, nullptr, false);
    if (!json.is_object())
        return settings;
    if (json.contains("hand") && json["hand"] == "left")
        settings.hand = Hand::left;
    if (json.contains("theme") && json["theme"].is_string())
        for (const ThemeKind kind : {ThemeKind::dark, ThemeKind::light, ThemeKind::contrast})
            if (json["theme"] == std::string(theme_key(kind)))
                settings.theme = kind;
    if (json.contains("size") && json["size"].is_number())
        settings.size = std::clamp(json["size"].get<float>(), 0.6f, 1.6f);
    if (json.contains("text") && json["text"].is_number_integer())
        settings.text_percent = std::clamp(json["text"].get<int>(), 100, 130);
    if (json.contains("beside") && json["beside"].is_object())
        for (const auto& [job, one] : json["beside"].items())
            if (one.is_object())
                settings.beside[job] = beside_from(one);
    if (json.contains("watched") && json["watched"].is_string())
        settings.watched = json["watched"].get<std::string>();
    if (json.contains("bench_name") && json["bench_name"].is_string())
        settings.bench_name = json["bench_name"].get<std::string>();
    if (json.contains("paper") && json["paper"].is_string())
        settings.paper = paper_from_key(json["paper"].get<std::string>()).value_or(Paper::a4);
    return settings;
}

Result<Done> save_settings(const std::filesystem::path& bench_folder, const Settings& settings) {
    nlohmann::json beside = nlohmann::json::object();
    for (const auto& [job, one] : settings.beside)
        beside[job] = {{"shows", std::string(beside_key(one.shows))}, {"split", one.split}};
    const nlohmann::json json = {{"hand", settings.hand == Hand::left ? "left" : "right"},
                                 {"theme", std::string(theme_key(settings.theme))},
                                 {"size", settings.size},
                                 {"text", settings.text_percent},
                                 {"beside", std::move(beside)},
                                 {"watched", settings.watched},
                                 {"bench_name", settings.bench_name},
                                 {"paper", std::string(paper_key(settings.paper))}};
    const std::filesystem::path target = bench_folder / "settings.json";
    const std::filesystem::path fresh = bench_folder / "settings.json.new";
    {
        std::ofstream file(fresh, std::ios::trunc);
        file << json.dump(1) << '\n';
        if (!file.flush())
            return Error{ErrorCode::failed, "settings",
                         "The settings could not be written beside the bench; they hold until "
                         "Railside is closed."};
    }
    std::error_code error;
    std::filesystem::rename(fresh, target, error);
    if (error)
        return Error{
            ErrorCode::failed, "settings",
            worded("The settings could not be written beside the bench: {}.", error.message())};
    return Done{};
}

} // namespace railside
