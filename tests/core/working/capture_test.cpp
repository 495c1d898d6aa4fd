#include "core/working/json.h"
#include "core/working/working.h"

#include "core/capture/demo_recording.h"
#include "core/capture/signals.h"
#include "support/catch.h"

#include <nlohmann/json.hpp>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <stdexcept>
#include <string>

using namespace railside;
using signals::Wave;

namespace {

const Working& capture() { return *find_working("capture"); }

using Texts = std::vector<std::pair<std::string, std::string>>;

Inputs typed(const std::string& bytes, const Texts& texts) {
    Inputs inputs;
    auto recording = read_input(*find_field(capture(), "recording"), "right.csv");
    REQUIRE(recording.ok());
    recording->data = std::make_shared<const std::string>(bytes);
    inputs.emplace("recording", *std::move(recording));
    for (const auto& [key, text] : texts) {
        auto input = read_input(*find_field(capture(), key), text);
        INFO(key << " " << text);
        REQUIRE(input.ok());
        inputs.insert_or_assign(key, *std::move(input));
    }
    return inputs;
}

Outcome answer(const std::string& bytes, const Texts& texts = {}) {
    auto outcome = run_working(capture(), typed(bytes, texts));
    INFO((outcome.ok() ? std::string() : outcome.error().message));
    REQUIRE(outcome.ok());
    return *std::move(outcome);
}

const Amount& figure(const Outcome& outcome, const std::string& key) {
    for (const Figure& each : outcome.figures) {
        if (each.key == key) {
            return each.amount;
        }
    }
    throw std::runtime_error("no figure " + key);
}

bool has_figure(const Outcome& outcome, const std::string& key) {
    for (const Figure& each : outcome.figures) {
        if (each.key == key) {
            return true;
        }
    }
    return false;
}

bool mentions(const std::vector<std::string>& sentences, const std::string& part) {
    for (const std::string& sentence : sentences) {
        if (sentence.find(part) != std::string::npos) {
            return true;
        }
    }
    return false;
}

bool holds(const std::string& text, const std::string& part) {
    return text.find(part) != std::string::npos;
}

bool holds(const Amount& amount, double truth) {
    return amount.low <= truth && truth <= amount.high;
}

const Curve* curve(const Outcome& outcome, const std::string& key) {
    for (const Curve& each : outcome.curves) {
        if (each.key == key) {
            return &each;
        }
    }
    return nullptr;
}

/// Eight bits over 40 V, noise of half a step.
std::string scope_csv(Wave wave) {
    wave.step = 0.2;
    wave.noise = 0.1;
    return signals::csv_of(wave);
}

} // namespace

TEST_CASE("capture working: a clean sine of 20 V into 8 ohm is 25 W", "[core][working]") {
    Wave wave;
    wave.count = 5000;
    const Outcome outcome = answer(scope_csv(wave));
    CHECK(outcome.figures.front().key == "power");
    CHECK(near(figure(outcome, "power").value, 25, 0.01)); // 20²/2/8
    // 3 % of voltage either way are 6 % of power.
    CHECK(near(figure(outcome, "power").low, 25 * 0.97 * 0.97, 0.01));
    CHECK(near(figure(outcome, "power").high, 25 * 1.03 * 1.03, 0.01));
    CHECK(near(figure(outcome, "frequency").value, 1000, 1e-3));
    CHECK(near(figure(outcome, "period").value, 1e-3, 1e-3));
    CHECK(near(figure(outcome, "peak_plus").value, 20, 0.01));
    CHECK(near(figure(outcome, "peak_minus").value, -20, 0.01));
    CHECK(holds(figure(outcome, "asymmetry"), 0));
    CHECK(figure(outcome, "flat_plus").value == 0);
    CHECK(near(figure(outcome, "rms").value, 20 / std::numbers::sqrt2, 0.005));
    CHECK(outcome.verdict.state == VerdictState::in_window);
    CHECK(outcome.verdict.word == "clean");
    CHECK(holds(outcome.verdict.reason, "the least this recording can show"));
    CHECK(mentions(outcome.notes, "its steps are 200\u2009mV"));
    CHECK(mentions(outcome.notes, "read it with a meter")); // ±0.6 V say nothing of 50 mV
    CHECK(mentions(outcome.notes, "would not show"));       // a notch, in eight bits
    CHECK(mentions(outcome.cautions, "ground clip"));
    CHECK(holds(outcome.headline_note, "1.00\u2009kHz"));
}

TEST_CASE("capture working: the demo recording clips on + first, well below its rail",
          "[core][working]") {
    const Outcome outcome = answer(demo_recording::csv(), {{"load", "4"}, {"rail", "40"}});
    CHECK(outcome.verdict.state == VerdictState::outside);
    CHECK(outcome.verdict.word == "clips, + first");
    CHECK(holds(outcome.verdict.reason, "drive or limiter stops it, not the rail"));
    CHECK(holds(outcome.verdict.reason, "the − half reaches −33"));
    CHECK(near(figure(outcome, "peak_plus").value, 21.8, 0.01));
    CHECK(near(figure(outcome, "shortfall_plus").value, 40 - 21.8, 0.02));
    CHECK(near(figure(outcome, "shortfall_minus").value, 7, 0.05));
    CHECK(near(figure(outcome, "intended_plus").value, 33, 0.03));
    CHECK(near(figure(outcome, "clean_power").value, 21.8 * 21.8 / 8, 0.02));
    // By a plain sum over the generator's own wave.
    double square = 0;
    for (int i = 0; i < 10'000; ++i) {
        const double v = demo_recording::volts_at(i * 1e-7);
        square += v * v / 10'000;
    }
    CHECK(near(figure(outcome, "power").value, square / 4, 0.01));
    CHECK(curve(outcome, "clip_plus") != nullptr);
    CHECK(curve(outcome, "clip_minus") == nullptr);
    CHECK(curve(outcome, "rail_minus")->y.values == std::vector<double>{-40, -40});
}

TEST_CASE("capture working: words of the verdict", "[core][working]") {
    struct Row {
        const char* what;
        Wave wave;
        VerdictState state;
        const char* word;
    };
    std::vector<Row> table;
    const auto row = [&table](const char* what, VerdictState state, const char* word, auto change) {
        Wave wave;
        wave.count = 2500;
        change(wave);
        table.push_back({what, wave, state, word});
    };
    constexpr auto k_out = VerdictState::outside;
    row("+ clips", k_out, "clips, + first", [](Wave& w) { w.clip_plus = 15; });
    row("− clips", k_out, "clips, − first", [](Wave& w) { w.clip_minus = -15; });
    row("both, + lower", k_out, "clips, + first", [](Wave& w) {
        w.clip_plus = 15;
        w.clip_minus = -17;
    });
    row("both alike", k_out, "clips, both halves", [](Wave& w) {
        w.clip_plus = 17;
        w.clip_minus = -17;
    });
    row("begins", VerdictState::at_the_edge, "begins clipping, +",
        [](Wave& w) { w.clip_plus = 19.75; });
    row("notch", k_out, "crossover notch", [](Wave& w) { w.dead_zone = 1; });
    row("offset", k_out, "offset", [](Wave& w) { w.offset = 2; });
    row("bent", k_out, "distorted", [](Wave& w) { w.harmonics = {0.02}; });
    row("clean", VerdictState::in_window, "clean", [](Wave&) {});
    for (const Row& each : table) {
        const Outcome outcome = answer(scope_csv(each.wave));
        INFO(each.what << ": " << outcome.verdict.reason);
        CHECK(outcome.verdict.state == each.state);
        CHECK(outcome.verdict.word == each.word);
        CHECK(outcome.verdict.reason.ends_with('.'));
    }
}

TEST_CASE("capture working: unlike halves without clipping are asymmetric", "[core][working]") {
    // The + half 15 % smaller all the way down; the mean is taken out, as a coupling capacitor
    // does.
    Wave wave;
    wave.count = 2500;
    Recording recording;
    std::string text = "Time (s),CH1 (V)\n";
    const auto samples = signals::samples_of(wave);
    const double mean = (0.85 - 1) * 20 / std::numbers::pi;
    for (std::size_t i = 0; i < samples.size(); ++i) {
        const double v = (samples[i] > 0 ? 0.85 : 1) * samples[i] - mean;
        text += fmt::format("{:.6e},{:.2f}\n", static_cast<double>(i) / wave.rate_hz, v);
    }
    const Outcome outcome = answer(text, {{"vertical_accuracy", "5 %"}});
    CHECK(outcome.verdict.word == "asymmetric");
    CHECK(near(figure(outcome, "asymmetry").value, (17 - mean - 20 - mean) / 18.5, 0.02));
}

TEST_CASE("capture working: the rail tells a stop at the rail from one before it",
          "[core][working]") {
    Wave wave;
    wave.amplitude = 42;
    wave.clip_plus = 36.7;
    wave.clip_minus = -36.6;
    wave.step = 0.4;
    wave.count = 2500;
    const Outcome at = answer(signals::csv_of(wave), {{"rail", "40"}});
    CHECK(holds(at.verdict.reason, "below its rail as it should be"));
    CHECK(near(figure(at, "clean_power").value, 36.6 * 36.6 / 16, 0.02));
    wave.clip_plus = 25;
    const Outcome before = answer(signals::csv_of(wave), {{"rail", "40"}});
    CHECK(before.verdict.word == "clips, + first");
    CHECK(holds(before.verdict.reason, "not the rail"));
}

TEST_CASE("capture working: a WAV gives ratios, and volts once its full scale is known",
          "[core][working]") {
    Wave wave;
    wave.rate_hz = 48'000;
    wave.count = 48'000;
    wave.amplitude = 0.5;
    wave.harmonics = {0.02};
    const std::string wav = signals::wav_of(signals::samples_of(wave), wave.rate_hz);
    const Outcome bare = answer(wav);
    CHECK(bare.figures.front().key == "distortion");
    CHECK(near(bare.figures.front().amount.value, 0.02, 0.01));
    CHECK_FALSE(has_figure(bare, "power"));
    CHECK(figure(bare, "peak_plus").unit == Unit::ratio);
    CHECK(mentions(bare.notes, "No full scale given"));
    CHECK(mentions(bare.notes, "Feedback hides"));
    CHECK(mentions(bare.cautions, "sound card"));
    const Outcome scaled = answer(wav, {{"full_scale", "40 V"}, {"vertical_accuracy", "1 %"}});
    CHECK(near(figure(scaled, "power").value, 20 * 20 / 16.0, 0.01)); // 0.5 of 40 V
    CHECK(figure(scaled, "peak_plus").unit == Unit::volt);
    CHECK(scaled.verdict.word == "distorted");
    // At the ends of its range the sound card itself clips.
    wave.amplitude = 1.3;
    const Outcome over = answer(signals::wav_of(signals::samples_of(wave), wave.rate_hz));
    CHECK(over.verdict.state == VerdictState::undecided);
    CHECK(over.verdict.word == "off the range");
}

TEST_CASE("capture working: overload in a scope's file decides nothing", "[core][working]") {
    Wave wave;
    const auto samples = signals::samples_of(wave);
    std::string text = "Time (s),CH1 (V)\n";
    for (std::size_t i = 0; i < samples.size(); ++i) {
        text += fmt::format("{:.6e},{}\n", static_cast<double>(i) / wave.rate_hz,
                            samples[i] > 16 ? "OL" : fmt::format("{:.2f}", samples[i]));
    }
    const Outcome outcome = answer(text);
    CHECK(outcome.verdict.state == VerdictState::undecided);
    CHECK(outcome.verdict.word == "off the range");
    CHECK(holds(outcome.verdict.reason, "on the + side"));
}

TEST_CASE("capture working: probe factor, channel and expected frequency", "[core][working]") {
    Wave wave;
    wave.amplitude = 2;
    wave.hum = 3;
    wave.count = 25'000;
    const auto samples = signals::samples_of(wave);
    std::string text = "Time (s),CH1 (V),CH2 (V)\n";
    for (std::size_t i = 0; i < samples.size(); ++i) {
        text += fmt::format("{:.6e},{:.4f},{:.4f}\n", static_cast<double>(i) / wave.rate_hz,
                            samples[i], samples[i] / 2);
    }
    const Outcome outcome = answer(text, {{"probe", "10"}, {"frequency", "1 kHz"}});
    CHECK(near(figure(outcome, "peak_plus").value, 20, 0.01));
    CHECK(near(figure(outcome, "frequency").value, 1000, 1e-3));
    CHECK(near(figure(outcome, "hum").value, 30 / std::numbers::sqrt2, 0.01));
    const Outcome second =
        answer(text, {{"probe", "10"}, {"frequency", "1 kHz"}, {"channel", "2"}});
    CHECK(near(figure(second, "peak_plus").value, 10, 0.01));
    const auto third = run_working(capture(), typed(text, {{"channel", "3"}}));
    REQUIRE_FALSE(third.ok());
    CHECK(third.error().message == "Channel 3 is not in the recording: it has 2.");
}

TEST_CASE("capture working: a file without a time base takes the expected frequency",
          "[core][working]") {
    Wave wave;
    std::string text = "CH1 (V)\n";
    for (const double v : signals::samples_of(wave)) {
        text += fmt::format("{:.3f}\n", v);
    }
    const Outcome bare = answer(text);
    CHECK_FALSE(has_figure(bare, "frequency"));
    CHECK(mentions(bare.notes, "give the expected frequency"));
    CHECK(curve(bare, "as_found")->x.unit == Unit::ratio);
    const Outcome timed = answer(text, {{"frequency", "440"}});
    CHECK(near(figure(timed, "frequency").value, 440, 1e-6));
    CHECK(near(curve(timed, "as_found")->x.values.back(), 1 / 440.0, 0.02));
}

TEST_CASE("capture working: what cannot be read is refused with the file's name",
          "[core][working]") {
    const auto refused = run_working(capture(), typed("Dear technician,\n", {}));
    REQUIRE_FALSE(refused.ok());
    CHECK(refused.error().message.starts_with("right.csv: line 1"));
    const auto empty = run_working(capture(), typed("", {}));
    REQUIRE_FALSE(empty.ok());
    CHECK(empty.error().message.starts_with("right.csv: the file is empty"));
    Inputs kept = typed("0,1\n", {});
    kept.at("recording").data = nullptr;
    CHECK(run_working(capture(), kept).error().code == ErrorCode::missing);
}

TEST_CASE("capture working: the curves are the wave, the sine of its flanks and the rest",
          "[core][working]") {
    Wave wave;
    wave.clip_plus = 15;
    wave.count = 5000;
    const Outcome outcome = answer(scope_csv(wave));
    CHECK(outcome.plot == PlotKind::lines);
    const Curve& found = *curve(outcome, "as_found");
    const Curve& sine = *curve(outcome, "sine");
    const Curve& rest = *curve(outcome, "residual");
    REQUIRE(found.x.values == sine.x.values);
    REQUIRE(found.x.values == rest.x.values);
    for (std::size_t i = 0; i < found.x.values.size(); ++i) {
        const double angle = signals::k_turn * found.x.values[i] * 1000;
        CHECK(near_abs(found.y.values[i], std::min(15.0, 20 * std::sin(angle)), 0.25));
        CHECK(near_abs(sine.y.values[i], 20 * std::sin(angle), 0.35));
    }
    CHECK(curve(outcome, "clip_plus")->role == CurveRole::plus);
}

TEST_CASE("capture working: its kept form holds the name, not the samples", "[core][working]") {
    const Inputs inputs = typed(demo_recording::csv(), {{"load", "4"}});
    const auto json = inputs_to_json(capture(), inputs);
    CHECK(json.at("recording").at("word") == "right.csv");
    CHECK(json.at("recording").at("bytes") == demo_recording::csv().size());
    CHECK(json.dump().size() < 500);
}
