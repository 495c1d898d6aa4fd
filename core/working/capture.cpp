// Scope capture: from a recorded sine to power, clipping per half, the crossover notch, offset and
// distortion.
//
// The files are read by core/capture/recording.h, the wave by core/capture/analysis.h. Powers: P =
// V_rms²/R_L of the wave as it is, and min(V+, |V−|)²/(2·R_L) for the sine that would just not clip
// (IEC 60268-3 rates at a stated distortion, not at visible clipping). Asymmetry: (V+ + V−)/((V+ −
// V−)/2), the sign that of the larger half.
#include "core/capture/analysis.h"
#include "core/quantity/interval.h"
#include "core/quantity/value_code.h"
#include "core/words/words.h"
#include "core/working/entries.h"
#include "core/working/inputs.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

namespace railside {

namespace {

constexpr std::array k_channels{
    Choice{"1", "first"},
    Choice{"2", "second"},
    Choice{"3", "third"},
    Choice{"4", "fourth"},
};

constexpr std::array k_fields{
    Field{.key = "recording",
          .label = "Recording",
          .help =
              "A steady sine at the output, two cycles or more, saved by the scope as CSV or by "
              "a sound card as WAV.",
          .kind = FieldKind::recording},
    Field{.key = "channel",
          .label = "Channel of the file",
          .help = "Which trace of the recording, counted without the time column.",
          .kind = FieldKind::choice,
          .by_default = "1",
          .choices = k_channels},
    Field{.key = "full_scale",
          .label = "Full scale",
          .symbol = "V_FS",
          .help =
              "Volts at the output that make full scale in the recording, for a WAV; without it "
              "only ratios can be told.",
          .need = Need::optional,
          .unit = Unit::volt,
          .low = 0.001,
          .high = 1000,
          .usual_low = 0.1,
          .usual_high = 200},
    Field{.key = "probe",
          .label = "Probe factor",
          .help =
              "What the volts in the file must be multiplied by: 10 for a 10 to 1 probe that the "
              "scope was not told about.",
          .unit = Unit::ratio,
          .low = 0.01,
          .high = 1000,
          .usual_low = 1,
          .usual_high = 100,
          .by_default = "1"},
    Field{.key = "vertical_accuracy",
          .label = "Vertical accuracy",
          .help = "The scope's own, from its sheet, with the probe's; it widens every voltage.",
          .unit = Unit::percent,
          .low = 0,
          .high = 0.5,
          .usual_low = 0.001,
          .usual_high = 0.1,
          .by_default = "3 %"},
    Field{.key = "load",
          .label = "Load",
          .symbol = "R_L",
          .help = "Resistance of the dummy load or loudspeaker that was connected.",
          .unit = Unit::ohm,
          .low = 1,
          .high = 64,
          .usual_low = 2,
          .usual_high = 16,
          .by_default = "8"},
    Field{.key = "frequency",
          .label = "Expected frequency",
          .symbol = "f",
          .help = "What the generator was set to; picks the tone where hum or noise is strong, and "
                  "gives the time where the file does not.",
          .need = Need::optional,
          .unit = Unit::hertz,
          .low = 1,
          .high = 1e6,
          .usual_low = 20,
          .usual_high = 20000},
    Field{.key = "rail",
          .label = "Rail",
          .symbol = "V_CC",
          .help =
              "Supply of one side to ground while the tone plays; tells whether a half stops at "
              "its rail or before.",
          .need = Need::optional,
          .unit = Unit::volt,
          .low = 5,
          .high = 200,
          .usual_low = 15,
          .usual_high = 100,
          .spread = Spread::tolerance,
          .default_spread = 0.02},
};

constexpr double k_notch_limit = 0.1;       // shortfall of the slope that is called a notch
constexpr double k_offset_limit_v = 0.05;   // that is called an offset
constexpr double k_even_limit = 0.04;       // asymmetry that is called one
constexpr double k_distortion_limit = 0.01; // plain to see on a scope; a sound stage is far below
// An emitter-follower stage loses about 3.4 V at 4.5 A, a compound one less: a half that stops
// further from its rail than this is stopped by something else.
constexpr double k_rail_loss_v = 5;
constexpr double k_rail_loss_part = 0.15;
constexpr std::size_t k_full_scale_codes =
    3; // at the ends of a WAV's range, to be taken for clipping

/// The figures in the units of the answer.
struct Read {
    WaveFigures wave;
    bool volts = true;   // false: fractions of the recorder's full scale
    Interval scale;      // the recording's unit in that of the answer
    double accuracy = 0; // fraction
    Interval load_ohm;
    double period_s = 0; // 0: the time base is not known
    const Amount* rail = nullptr;

    [[nodiscard]] Unit unit() const { return volts ? Unit::volt : Unit::ratio; }
    /// A level against zero.
    [[nodiscard]] Interval level(const Interval& of) const { return of * scale; }
    /// One that an error of the scope's own zero moves: a part of what it spans.
    [[nodiscard]] Interval zero_level(const Interval& of) const {
        const double span =
            std::max(std::abs(wave.plus.peak.value), std::abs(wave.minus.peak.value));
        const double doubt = accuracy * span * scale.value;
        const Interval here = of * scale.value;
        return {here.low - doubt, here.value, here.high + doubt};
    }
    [[nodiscard]] std::string text(double value) const { return print_value(value, unit(), 3); }
    [[nodiscard]] std::string text(const Interval& range) const {
        return print_range(range.low, range.high, unit(), 3);
    }
};

std::string percent(double part, int digits = 2) {
    return print_value(part, Unit::percent, digits);
}

const HalfWave& half_of(const WaveFigures& wave, int sign) {
    return sign > 0 ? wave.plus : wave.minus;
}
std::string_view sign_of(int sign) { return sign > 0 ? "+" : "\u2212"; }

Interval magnitude(const Interval& level) { return level.value < 0 ? -level : level; }

/// How far a half stays from its rail.
Interval shortfall(const Read& read, int sign) {
    const Interval peak = magnitude(read.level(half_of(read.wave, sign).peak));
    return Interval::from(*read.rail) - peak;
}

enum class Stop { rail, before, unknown };

Stop stop_of(const Read& read, int sign) {
    if (read.rail == nullptr || !read.volts) {
        return Stop::unknown;
    }
    const double most = std::max(k_rail_loss_v, k_rail_loss_part * read.rail->value);
    const Interval missing = shortfall(read, sign);
    return missing.low > most ? Stop::before : missing.high <= most ? Stop::rail : Stop::unknown;
}

/// ", 4.1 V below its rail": what the rail says of a clipped half.
std::string rail_words(const Read& read, int sign) {
    if (read.rail == nullptr || !read.volts) {
        return {};
    }
    const Interval missing = shortfall(read, sign);
    if (missing.value < 0) {
        return ", above the rail as given";
    }
    switch (stop_of(read, sign)) {
    case Stop::rail:
        return worded(", {} below its rail as it should be", read.text(missing.value));
    case Stop::before:
        return worded(", {} below its rail: drive or limiter stops it, not the rail",
                      read.text(missing.value));
    case Stop::unknown:
        break;
    }
    return worded(", {} below its rail", read.text(missing.value));
}

std::string half_words(const Read& read, int sign) {
    const HalfWave& half = half_of(read.wave, sign);
    const std::string level = read.text(read.level(half.peak).value);
    return half.clipped || half.maybe_clipped
               ? worded("the {} half is flat for {} of the cycle at {}", sign_of(sign),
                        percent(half.flat.value), level)
               : worded("the {} half reaches {} unclipped", sign_of(sign), level);
}

Interval asymmetry_of(const Read& read) {
    const Interval plus = read.wave.plus.peak;
    const Interval minus = read.wave.minus.peak;
    const double span = (plus.value - minus.value) / 2;
    const double doubt = ((plus.high - plus.low) + (minus.high - minus.low)) / 2 / span;
    const double value = (plus.value + minus.value) / span;
    return {value - doubt, value, value + doubt};
}

/// Which half clips at the lower level: 1, −1, or 0 when they cannot be told apart.
int first_to_clip(const Read& read) {
    const WaveFigures& wave = read.wave;
    if (wave.plus.clipped != wave.minus.clipped) {
        return wave.plus.clipped ? 1 : -1;
    }
    const Interval even = asymmetry_of(read);
    return even.low > 0 ? -1 : even.high < 0 ? 1 : 0;
}

std::string sentence(std::string text) {
    if (!text.empty() && text.front() >= 'a' && text.front() <= 'z') {
        text.front() = static_cast<char>(text.front() - 'a' + 'A');
    }
    return text + '.';
}

/// One thing that is wrong with the wave, or might be. The gravest is the verdict.
struct Finding {
    VerdictState state = VerdictState::outside;
    std::string word;
    std::string reason;
};

void find_clipping(const Read& read, std::vector<Finding>& findings) {
    const WaveFigures& wave = read.wave;
    const bool clipped = wave.plus.clipped || wave.minus.clipped;
    if (clipped) {
        const int first = first_to_clip(read);
        if (first == 0) {
            findings.push_back({VerdictState::outside, "clips, both halves",
                                sentence(worded("{}{}; {}{}; the two cannot be told apart",
                                                half_words(read, 1), rail_words(read, 1),
                                                half_words(read, -1), rail_words(read, -1)))});
            return;
        }
        findings.push_back(
            {VerdictState::outside, worded("clips, {} first", sign_of(first)),
             sentence(fmt::format("{}{}; {}", half_words(read, first), rail_words(read, first),
                                  half_words(read, -first)))});
        return;
    }
    for (const int sign : {1, -1}) {
        if (half_of(wave, sign).maybe_clipped) {
            findings.push_back(
                {VerdictState::at_the_edge, worded("begins clipping, {}", sign_of(sign)),
                 sentence(worded(
                     "the {} top is flatter than a sine's, by {} at {}; a little "
                     "more level decides",
                     sign_of(sign),
                     percent(1 - std::cos(half_of(wave, sign).flat.value * std::numbers::pi)),
                     read.text(read.level(half_of(wave, sign).peak).value)))});
            return;
        }
    }
}

const Crossing& deeper(const WaveFigures& wave) {
    return wave.rising.depth.value >= wave.falling.depth.value ? wave.rising : wave.falling;
}

std::string width_words(const Read& read, const Crossing& crossing) {
    const double cycle = crossing.width_s * read.wave.frequency_hz.value;
    return read.period_s > 0 ? print_value(cycle * read.period_s, Unit::second, 2)
                             : worded("{} of the cycle", percent(cycle));
}

void find_notch(const Read& read, std::vector<Finding>& findings) {
    const Crossing& crossing = deeper(read.wave);
    if (!(crossing.depth.high > k_notch_limit) || !(crossing.depth.low > 0) ||
        crossing.width_s <= 0) {
        return;
    }
    const bool certain = crossing.depth.low > k_notch_limit;
    findings.push_back(
        {certain ? VerdictState::outside : VerdictState::at_the_edge,
         certain ? "crossover notch" : "at the edge, notch",
         sentence(worded("at the crossing the slope falls short by {} for {}: the stage is "
                         "under-biased; set the idle current",
                         percent(crossing.depth.value), width_words(read, crossing)))});
}

void find_offset(const Read& read, std::vector<Finding>& findings, Outcome& outcome) {
    if (!read.volts) {
        return;
    }
    const Interval offset = read.zero_level(read.wave.offset);
    if (offset.low > k_offset_limit_v || offset.high < -k_offset_limit_v) {
        findings.push_back(
            {VerdictState::outside, "offset",
             sentence(worded("the sine stands {} off zero, more than {} and "
                             "more than the scope's own error",
                             read.text(offset.value), read.text(k_offset_limit_v)))});
    } else if (offset.low < -k_offset_limit_v || offset.high > k_offset_limit_v) {
        outcome.notes.push_back(worded("This recording tells the offset to ±{} only: read it "
                                       "with a meter, with nothing playing.",
                                       print_value(width(offset) / 2, Unit::volt, 2)));
    }
}

void find_rest(const Read& read, std::vector<Finding>& findings) {
    const WaveFigures& wave = read.wave;
    const Interval even = asymmetry_of(read);
    if (even.low > k_even_limit || even.high < -k_even_limit) {
        findings.push_back({VerdictState::outside, "asymmetric",
                            sentence(worded("{} above and {} below zero, {} apart",
                                            read.text(read.level(wave.plus.peak).value),
                                            read.text(read.level(wave.minus.peak).value),
                                            percent(std::abs(even.value))))});
    }
    if (wave.distortion.high > k_distortion_limit && wave.distortion.value > wave.floor) {
        const bool certain = wave.distortion.low > k_distortion_limit;
        findings.push_back(
            {certain ? VerdictState::outside : VerdictState::at_the_edge,
             certain ? "distorted" : "at the edge, THD",
             sentence(
                 worded("THD is {}, {} is the limit of what passes for clean here",
                        print_range(wave.distortion.low, wave.distortion.high, Unit::percent, 2),
                        percent(k_distortion_limit)))});
    }
}

/// What makes the recording itself no witness.
std::optional<Finding> find_doubt(const Read& read, std::size_t least_over) {
    const WaveFigures& wave = read.wave;
    for (const int sign : {1, -1}) {
        if (half_of(wave, sign).over_range >= least_over) {
            return Finding{
                VerdictState::undecided, "off the range",
                sentence(worded("{} readings lie beyond the recorder's range on the {} side: the "
                                "flat top may be its own; record with more volts to the division",
                                half_of(wave, sign).over_range, sign_of(sign)))};
        }
    }
    if (!wave.is_sine) {
        return Finding{VerdictState::undecided, "not a sine",
                       sentence("the flanks are not those of a sine, so clipping and notch cannot "
                                "be told; feed a clean sine")};
    }
    return std::nullopt;
}

std::string clean_words(const WaveFigures& wave) {
    const bool seen = wave.distortion.value > wave.floor;
    return sentence(
        worded("both tops are round, no notch at the crossing, THD {}",
               seen ? percent(wave.distortion.value)
                    : worded("below {}, the least this recording can show", percent(wave.floor))));
}

std::string_view place_words(double phase) {
    constexpr std::array<std::string_view, 8> k_places{
        "the rising crossing",  "the rising flank, + half",
        "the + peak",           "the falling flank, + half",
        "the falling crossing", "the falling flank, \u2212 half",
        "the \u2212 peak",      "the rising flank, \u2212 half"};
    return k_places[static_cast<std::size_t>(std::floor(phase * 8 + 0.5)) % 8];
}

void add_notes(const Read& read, Outcome& outcome) {
    const WaveFigures& wave = read.wave;
    auto& notes = outcome.notes;
    if (wave.burst) {
        notes.push_back(worded(
            "Looks like parasitic oscillation near {}{}: check that the Zobel network and the "
            "compensation are whole, and look again with a short ground lead.",
            place_words(wave.burst->phase),
            wave.timed ? worded(", about {}", print_value(wave.burst->frequency_hz, Unit::hertz, 1))
                       : std::string()));
    }
    for (const int sign : {1, -1}) {
        if (half_of(wave, sign).pinned) {
            notes.push_back(worded("The {} top is one single step of the recorder although it "
                                   "shows noise elsewhere: make sure that the trace does not "
                                   "leave the screen.",
                                   sign_of(sign)));
        }
    }
    if (wave.floor > 0.0005) {
        notes.push_back(
            worded("THD below {} is below what this recording can show{}.", percent(wave.floor),
                   wave.step > 0 ? worded(": its steps are {}",
                                          print_value(wave.step * read.scale.value, read.unit(), 2))
                                 : std::string()));
    }
    if (wave.drifts) {
        notes.emplace_back("Something slower than the recording moves the wave, most likely hum: "
                           "offset and hum need 30\u2009ms or more to be told apart.");
    }
    if (wave.cycles < 2) {
        notes.push_back(
            worded("Only {:.2g} cycles: two or more make every figure surer.", wave.cycles));
    }
    if (deeper(wave).depth.high > k_notch_limit && deeper(wave).depth.low <= 0) {
        notes.push_back(worded("A notch of up to {} would not show: lower the level and fill "
                               "the screen again.",
                               percent(deeper(wave).depth.high)));
    } else if (wave.is_sine && deeper(wave).depth.high <= k_notch_limit) {
        notes.emplace_back("Feedback hides a shallow notch: the volts across the emitter resistors "
                           "tell the bias, not the wave.");
    }
}

Curve line(std::string key, std::string label, CurveRole role, const Read& read,
           const std::vector<double>& values) {
    const bool timed = read.period_s > 0;
    Curve curve{
        std::move(key),
        std::move(label),
        role,
        {timed ? "Time in the cycle" : "Part of the cycle", timed ? Unit::second : Unit::ratio, {}},
        {"Output", read.unit(), {}}};
    for (const double phase : read.wave.phase) {
        curve.x.values.push_back(timed ? phase * read.period_s : phase);
    }
    for (const double value : values) {
        curve.y.values.push_back(value * read.scale.value);
    }
    return curve;
}

Curve level_line(std::string key, std::string label, CurveRole role, const Read& read,
                 double level) {
    Curve curve = line(std::move(key), std::move(label), role, read, {});
    curve.x.values = {curve.x.values.front(), curve.x.values.back()};
    curve.y.values = {level, level};
    return curve;
}

void add_curves(const Read& read, Outcome& outcome) {
    const WaveFigures& wave = read.wave;
    outcome.plot = PlotKind::lines;
    auto& curves = outcome.curves;
    curves.push_back(line("as_found", "one cycle, averaged", CurveRole::as_found, read, wave.wave));
    curves.push_back(line("sine", "sine of the flanks", CurveRole::optimum, read, wave.flank_sine));
    curves.push_back(
        line("residual", "what is not the sine", CurveRole::target, read, wave.residual));
    for (const int sign : {1, -1}) {
        const HalfWave& half = half_of(wave, sign);
        if (half.clipped) {
            const double level = read.level(half.peak).value;
            curves.push_back(level_line(sign > 0 ? "clip_plus" : "clip_minus",
                                        worded("{} clips, {}", sign_of(sign), read.text(level)),
                                        sign > 0 ? CurveRole::plus : CurveRole::minus, read,
                                        level));
        }
        if (read.rail != nullptr && read.volts) {
            curves.push_back(level_line(sign > 0 ? "rail_plus" : "rail_minus",
                                        worded("{} rail", sign_of(sign)), CurveRole::limit, read,
                                        sign * read.rail->value));
        }
    }
}

void add_figures(const Read& read, Outcome& outcome) {
    const WaveFigures& wave = read.wave;
    const auto add = [&outcome](std::string key, std::string label, std::string symbol,
                                const Interval& interval, Unit unit) {
        outcome.figures.push_back(
            {std::move(key), std::move(label), std::move(symbol), to_amount(interval, unit)});
    };
    const auto power = [&read](const Interval& squared) {
        return monotone([](double v2, double ohm) { return v2 / ohm; }, squared, read.load_ohm);
    };
    const Interval rms = read.level(wave.rms);
    if (read.volts) {
        add("power", "Power into the load", "P",
            power({rms.low * rms.low, rms.value * rms.value, rms.high * rms.high}), Unit::watt);
    }
    add("distortion", "THD, harmonics 2 to 10", "THD", wave.distortion, Unit::percent);
    if (read.period_s > 0) {
        const Interval& f = wave.frequency_hz;
        const double factor = 1 / (read.period_s * f.value);
        add("frequency", "Frequency", "f", f * factor, Unit::hertz);
        add("period", "Period", "T", {1 / (f.high * factor), read.period_s, 1 / (f.low * factor)},
            Unit::second);
    }
    add("peak_plus", "Peak, + half", "V+", read.level(wave.plus.peak), read.unit());
    add("peak_minus", "Peak, \u2212 half", "V\u2212", read.level(wave.minus.peak), read.unit());
    add("asymmetry", "Asymmetry", "", asymmetry_of(read), Unit::percent);
    add("flat_plus", "Flat top, + half, of the cycle", "", wave.plus.flat, Unit::percent);
    add("flat_minus", "Flat top, \u2212 half, of the cycle", "", wave.minus.flat, Unit::percent);
    if (wave.plus.clipped || wave.minus.clipped) {
        if (wave.plus.clipped) {
            add("intended_plus", "+ peak without clipping", "", read.level(wave.plus.intended),
                read.unit());
        }
        if (wave.minus.clipped) {
            add("intended_minus", "\u2212 peak without clipping", "",
                read.level(wave.minus.intended), read.unit());
        }
        if (read.volts) {
            const Interval plus = magnitude(read.level(wave.plus.peak));
            const Interval minus = magnitude(read.level(wave.minus.peak));
            const Interval& least = plus.value < minus.value ? plus : minus;
            const Interval clear{std::max(0.0, least.low), least.value, least.high};
            add("clean_power", "Power of the largest clean sine", "P_max",
                power({clear.low * clear.low / 2, clear.value * clear.value / 2,
                       clear.high * clear.high / 2}),
                Unit::watt);
        }
    }
    if (read.rail != nullptr && read.volts) {
        add("shortfall_plus", "+ peak below its rail", "", shortfall(read, 1), Unit::volt);
        add("shortfall_minus", "\u2212 peak below its rail", "", shortfall(read, -1), Unit::volt);
    }
    add("notch_depth", "Notch at the crossing", "", deeper(wave).depth, Unit::percent);
    if (read.period_s > 0 && deeper(wave).width_s > 0) {
        add("notch_width", "Width of the notch", "",
            Interval::exact(deeper(wave).width_s * wave.frequency_hz.value * read.period_s),
            Unit::second);
    }
    add("offset", "Offset of the sine", "", read.zero_level(wave.offset), read.unit());
    add("mean", "Mean over the cycle", "", read.zero_level(wave.mean), read.unit());
    add("rms", "RMS", "V_rms", rms, read.unit());
    add("distortion_noise", "THD with noise and hum", "THD+N", wave.distortion_noise,
        Unit::percent);
    for (const Harmonic& harmonic : wave.harmonics) {
        add(fmt::format("harmonic_{}", harmonic.order), worded("Harmonic {}", harmonic.order), "",
            harmonic.part, Unit::percent);
    }
    if (wave.hum) {
        add("hum",
            worded("Hum, {:g} and {:g}\u2009Hz, RMS", wave.hum->line_hz, 2 * wave.hum->line_hz), "",
            magnitude(read.level(wave.hum->level)), read.unit());
    }
    add("noise", "Noise, RMS", "", Interval::exact(wave.noise * read.scale.value), read.unit());
    if (read.period_s > 0 && wave.jitter_s.high > 0) {
        const double factor = read.period_s * wave.frequency_hz.value;
        add("jitter", "Jitter of the period, RMS", "", wave.jitter_s * factor, Unit::second);
    }
}

Result<Outcome> compute(const Inputs& inputs) {
    const Input& file = given(inputs, "recording");
    const auto recording = read_recording(*file.data, file.word);
    if (!recording) {
        return recording.error();
    }
    const Amount* expected = amount_if_given(inputs, "frequency");
    const Amount* full_scale = amount_if_given(inputs, "full_scale");
    const auto channel = static_cast<std::size_t>(given(inputs, "channel").word.front() - '1');
    AnalysisHints hints;
    hints.expected_hz = expected != nullptr && recording->timed ? expected->value : 0;
    auto wave = analyse_wave(*recording, channel, hints);
    if (!wave) {
        return wave.error();
    }
    Outcome outcome;
    outcome.notes = recording->notes;

    Read read;
    read.wave = *std::move(wave);
    read.load_ohm = Interval::from(amount_of(inputs, "load"));
    read.accuracy = amount_of(inputs, "vertical_accuracy").value;
    read.rail = amount_if_given(inputs, "rail");
    read.scale = Interval::from(amount_of(inputs, "probe")) *
                 Interval{1 - read.accuracy, 1, 1 + read.accuracy};
    switch (recording->scale) {
    case SampleScale::volt:
        if (full_scale != nullptr) {
            outcome.notes.emplace_back("The file is in volts; the full scale given was not used.");
        }
        break;
    case SampleScale::full_scale:
        read.volts = full_scale != nullptr;
        if (full_scale == nullptr) {
            outcome.notes.emplace_back("No full scale given: levels are fractions of the "
                                       "recorder's full scale, and there is no power.");
        }
        break;
    case SampleScale::unsaid:
        outcome.notes.emplace_back(full_scale != nullptr
                                       ? "The numbers have no unit: taken as fractions of the full "
                                         "scale given."
                                       : "The numbers have no unit: taken as volts.");
        break;
    }
    if (recording->scale != SampleScale::volt && full_scale != nullptr) {
        read.scale = read.scale * Interval::from(*full_scale);
    }
    if (recording->timed) {
        read.period_s = 1 / read.wave.frequency_hz.value;
    } else if (expected != nullptr) {
        read.period_s = 1 / expected->value;
        outcome.notes.emplace_back("The file does not say how fast it was sampled: the frequency "
                                   "is the expected one.");
    } else {
        outcome.notes.emplace_back("The file does not say how fast it was sampled: give the "
                                   "expected frequency for times.");
    }
    if (hints.expected_hz > 0 &&
        std::abs(read.wave.frequency_hz.value / hints.expected_hz - 1) > 0.05) {
        outcome.notes.push_back(worded("The tone is at {}, not at {} as expected.",
                                       print_value(read.wave.frequency_hz.value, Unit::hertz, 3),
                                       print_value(hints.expected_hz, Unit::hertz, 3)));
    }

    add_figures(read, outcome);
    std::vector<Finding> findings;
    const auto doubt =
        find_doubt(read, recording->scale == SampleScale::full_scale ? k_full_scale_codes : 1);
    if (doubt) {
        findings.push_back(*doubt);
    } else {
        find_clipping(read, findings);
        find_notch(read, findings);
        find_offset(read, findings, outcome);
        const bool clips = read.wave.plus.clipped || read.wave.minus.clipped;
        if (!clips) { // which makes all of these by itself
            find_rest(read, findings);
        }
    }
    // What is certain goes before what is not; of two alike the one that explains more.
    std::stable_sort(findings.begin(), findings.end(), [](const Finding& a, const Finding& b) {
        return a.state != VerdictState::at_the_edge && b.state == VerdictState::at_the_edge;
    });
    if (findings.empty()) {
        findings.push_back({VerdictState::in_window, "clean", clean_words(read.wave)});
    }
    outcome.verdict = {findings.front().state, findings.front().word, findings.front().reason};
    for (std::size_t i = 1; i < findings.size(); ++i) {
        outcome.notes.push_back(findings[i].reason);
    }
    add_notes(read, outcome);
    outcome.cautions.emplace_back(
        "The scope's ground clip is earth: on a bridged or floating output it is a short. Use two "
        "probes and take the difference, or a differential probe; never lift the scope's earth.");
    if (recording->scale == SampleScale::full_scale) {
        outcome.cautions.emplace_back("A sound card takes a volt or two: divide the output down, "
                                      "and mind that its ground is the computer's.");
    }
    outcome.headline_note =
        read.period_s > 0
            ? worded("{} and {} peak at {}", read.text(read.level(read.wave.plus.peak).value),
                     read.text(read.level(read.wave.minus.peak).value),
                     print_value(1 / read.period_s, Unit::hertz, 3))
            : worded("{} and {} peak", read.text(read.level(read.wave.plus.peak).value),
                     read.text(read.level(read.wave.minus.peak).value));
    add_curves(read, outcome);
    return outcome;
}

} // namespace

Working capture_working() {
    return {"capture", "Scope capture", "What does the recorded wave say?",
            k_fields,  compute,         "Least-squares fit of a sine and its harmonics"};
}

} // namespace railside
